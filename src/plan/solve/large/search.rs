//! The search for a plan of a cluster too large to list: the fewest walks (`walks`), then operations and stops
//! (`operations`).
//!
//! Elements (a target for one start) must be tested in the first r rounds; r grows until the solver finds settings. For
//! devices of unknown position the plan must do for every start: a plan for the starts looked at so far is checked
//! against all of them, and a start for which it fails is looked at from then on (counterexample-guided refinement,
//! Clarke and others 2003; for quantified formulas Janota and others 2016). That ends, since no start comes twice.
//!
//! Lower bounds: elements of which no two are tested in one setting need a walk each; and where the solver says that r
//! rounds do not do for the starts looked at, they do not do for all.

use fixedbitset::FixedBitSet;
use rustsat::types::Lit;

use super::formula::{Answer, Budget};
use super::problem::{Problem, Start};
use super::rounds::Rounds;
use super::starts::{Counterexample, Starts};
use crate::plan::limits::PlanLimits;
use crate::plan::observer::Watch;

/// A target that nothing tests for some start.
#[derive(Clone, Debug)]
pub(super) struct Never {
    pub(super) target: u32,
    /// A start for which nothing does; or, where that is every one, all of them. Empty where they are too many to tell.
    pub(super) starts: Vec<Start>,
}

/// A reading that tests a target for some starts, where other readings do for the others.
#[derive(Clone, Copy, Debug)]
pub(super) struct Share {
    /// Nought is how things stand at the start.
    pub(super) setting: usize,
    pub(super) reading: u32,
    pub(super) target: u32,
    /// With it the target is tested for every start.
    pub(super) is_last: bool,
}

pub(super) struct Search<'p> {
    pub(super) problem: &'p Problem,
    pub(super) limits: &'p PlanLimits,
    pub(super) rounds: Rounds<'p>,
    /// Targets that are to be tested.
    pub(super) live: Vec<u32>,
    pub(super) never: Vec<Never>,
    /// For each element: the elements that some setting tests with it.
    pub(super) together: Vec<FixedBitSet>,
}

impl<'p> Search<'p> {
    pub(super) fn new(problem: &'p Problem, limits: &'p PlanLimits) -> Search<'p> {
        let mut rounds = Rounds::new(problem);
        rounds.grow(1);
        let live = (0..problem.targets.len() as u32).collect();
        Search { problem, limits, rounds, live, never: Vec::new(), together: Vec::new() }
    }

    /// What each question may spend: what can be tested at all, what excludes what, the fewest walks, the fewest operations
    /// and stops.
    pub(super) fn budget(&self) -> Budget {
        Budget(self.limits.solver_steps)
    }

    pub(super) fn element_count(&self) -> usize {
        self.rounds.elements().len()
    }

    /// The elements of what is to be tested.
    pub(super) fn live_elements(&self) -> Vec<usize> {
        let is_live = |element: &usize| self.live.contains(&self.rounds.elements()[*element].target);
        (0..self.element_count()).filter(is_live).collect()
    }

    pub(super) fn tested_at_first(&self, element: usize) -> Lit {
        self.rounds.tested(element, 0)
    }

    pub(super) fn option_at_first(&self, member: usize, option: u16) -> Lit {
        self.rounds.option(0, member, option)
    }

    pub(super) fn first_setting(&self) -> Vec<u16> {
        self.rounds.settings(1).remove(0)
    }

    pub(super) fn is_known(&self) -> bool {
        self.problem.unknown.is_empty()
    }

    /// Whether a setting tests an element, with the readings that are not void for any start.
    pub(super) fn tests(&self, element: usize, options: &[u16]) -> bool {
        let start = self.rounds.start_of(element);
        self.problem.is_tested(self.rounds.elements()[element].target, options, start)
    }

    /// Adds what a plan does not do, for the starts that were found. Tells whether anything is left to look for.
    pub(super) fn add(&mut self, found: Vec<Counterexample>, budget: &mut Budget, watch: &mut Watch<'_>) -> Option<()> {
        let mut missed = Vec::new();
        for example in found {
            match example {
                Counterexample::Void { reading, start } => self.rounds.add_void_start(reading, start),
                Counterexample::Missed { target, start } => missed.push((target, start)),
            }
        }
        for (target, start) in missed {
            let element = self.rounds.add_element(target, start.clone());
            self.together.resize_with(self.rounds.elements().len(), FixedBitSet::new);
            if !self.is_feasible(element, budget, watch)? {
                self.live.retain(|&live| live != target);
                let starts = self.starts_without(target, start, budget, watch)?;
                self.never.push(Never { target, starts });
            }
        }
        Some(())
    }

    /// The starts for which nothing tests a target, where that is every one for which it is not tested already; else
    /// only the one that is known; none where they are too many.
    fn starts_without(
        &mut self,
        target: u32,
        known: Start,
        budget: &mut Budget,
        watch: &mut Watch<'_>,
    ) -> Option<Vec<Start>> {
        let problem = self.problem;
        let counts: Vec<usize> = problem.unknown.iter().map(|row| usize::from(row.positions)).collect();
        let all = counts.iter().try_fold(1usize, |all, count| all.checked_mul(*count));
        let Some(all) = all.filter(|&all| all <= self.limits.starts_of_reason) else {
            return Some(Vec::new());
        };
        let mut without = Vec::new();
        for number in 0..all {
            let mut rest = number;
            let start: Start = counts
                .iter()
                .map(|count| {
                    let position = rest % count;
                    rest /= count;
                    position as u16
                })
                .collect();
            if problem.is_done_for(target, &start) {
                continue;
            }
            let element = self.rounds.add_element(target, start.clone());
            self.together.resize_with(self.rounds.elements().len(), FixedBitSet::new);
            if self.is_feasible(element, budget, watch)? {
                return Some(vec![known]);
            }
            without.push(start);
        }
        Some(without)
    }

    /// Whether some setting tests an element, sound for every start. None: not known.
    pub(super) fn is_feasible(&mut self, element: usize, budget: &mut Budget, watch: &mut Watch<'_>) -> Option<bool> {
        if self.together[element].contains(element) {
            return Some(true);
        }
        loop {
            let tested = self.rounds.tested(element, 0);
            match self.rounds.ask(&[tested], budget, watch) {
                Answer::GaveUp => return None,
                Answer::No => return Some(false),
                Answer::Yes => {}
            }
            let settings = self.rounds.settings(1);
            if self.is_known() {
                self.note_together(&settings[0]);
                assert!(self.tests(element, &settings[0]), "the formula and the graph say the same");
                return Some(true);
            }
            // Only the readings of the model were kept sound, and only for the starts looked at.
            let target = self.rounds.elements()[element].target;
            let start = self.rounds.start_of(element).clone();
            let mut starts = Starts::new(self.problem, &settings, &[]);
            let mut is_tested = false;
            let mut refined = false;
            for tester in &self.problem.targets[target as usize].testers {
                if !self.problem.is_opposite(tester, &settings[0], &start) {
                    continue;
                }
                match starts.usable(0, tester.reading, budget, watch)? {
                    Ok(()) => is_tested = true,
                    Err(void) => {
                        self.rounds.add_void_start(tester.reading, void);
                        refined = true;
                    }
                }
            }
            if is_tested {
                return Some(true);
            }
            debug_assert!(refined, "a model that tests nothing has a void reading");
            if !refined {
                return None;
            }
        }
    }

    pub(super) fn note_together(&mut self, options: &[u16]) {
        let count = self.rounds.elements().len();
        self.together.resize_with(count, FixedBitSet::new);
        let tested: Vec<usize> = (0..count).filter(|&element| self.tests(element, options)).collect();
        for &element in &tested {
            self.together[element].grow(count);
            self.together[element].extend(tested.iter().copied());
        }
    }

    /// Settings in turn with the one that the plan starts with before them.
    pub(super) fn with_start(&self, settings: &[Vec<u16>]) -> Vec<Vec<u16>> {
        let mut all = vec![self.problem.start_options()];
        all.extend(settings.iter().cloned());
        all
    }

    /// Whether settings in turn test all that is to be tested for every start; where they do not, what they miss is
    /// added. None: not known.
    pub(super) fn holds(&mut self, settings: &[Vec<u16>], budget: &mut Budget, watch: &mut Watch<'_>) -> Option<bool> {
        if self.is_known() {
            return Some(true);
        }
        let all = self.with_start(settings);
        let problem = self.problem;
        let found = Starts::new(problem, &all, self.rounds.starts()).counterexamples(&self.live, budget, watch)?;
        let holds = found.is_empty();
        self.add(found, budget, watch)?;
        Some(holds)
    }

    /// What a plan of so many walks that tests all that is to be tested must do.
    pub(super) fn with(&mut self, walks: usize) -> Vec<Lit> {
        self.with_targets(&self.live.clone(), walks)
    }

    pub(super) fn with_targets(&mut self, targets: &[u32], walks: usize) -> Vec<Lit> {
        let within = self.rounds.within(walks);
        targets.iter().map(|&target| self.rounds.wanted(target)).chain([within]).collect()
    }

    /// For each element, whether a setting tests it with a reading that is sound for every start. Readings that are not
    /// are looked at with a start for which they are void from then on.
    pub(super) fn tested_by(
        &mut self,
        options: &[u16],
        budget: &mut Budget,
        watch: &mut Watch<'_>,
    ) -> Option<Vec<bool>> {
        let count = self.rounds.elements().len();
        if self.is_known() {
            return Some((0..count).map(|element| self.tests(element, options)).collect());
        }
        let problem = self.problem;
        let settings = [options.to_vec()];
        let mut starts = Starts::new(problem, &settings, &[]);
        let mut tested = vec![false; count];
        let mut voids: Vec<(u32, Start)> = Vec::new();
        for (element, is_tested) in tested.iter_mut().enumerate() {
            let start = self.rounds.start_of(element);
            for tester in &problem.targets[self.rounds.elements()[element].target as usize].testers {
                if !problem.is_opposite(tester, options, start) {
                    continue;
                }
                match starts.usable(0, tester.reading, budget, watch)? {
                    Ok(()) => {
                        *is_tested = true;
                        break;
                    }
                    Err(void) => voids.push((tester.reading, void)),
                }
            }
        }
        for (reading, start) in voids {
            self.rounds.add_void_start(reading, start);
        }
        Some(tested)
    }

    /// Where too many unknown devices bear on a target for a table, which readings test it together: for each of the
    /// settings, the start first, readings with their targets; and the setting that completes each target.
    pub(super) fn shares(&self, settings: &[Vec<u16>], watch: &mut Watch<'_>) -> Vec<Share> {
        let problem = self.problem;
        let targets: Vec<u32> =
            self.live.iter().copied().filter(|&target| !problem.has_table_of_starts(target)).collect();
        if targets.is_empty() {
            return Vec::new();
        }
        let all = self.with_start(settings);
        let mut starts = Starts::new(problem, &all, &[]);
        let budget = &mut self.budget();
        let mut shares = Vec::new();
        'targets: for target in targets {
            let mut of_target: Vec<Share> = Vec::new();
            for setting in 0..all.len() {
                if setting > 0 && all[setting] == all[setting - 1] {
                    continue;
                }
                for tester in &problem.targets[target as usize].testers {
                    // Where that can't be told, nothing is claimed.
                    let Some(sound) = starts.usable(setting, tester.reading, budget, watch) else { continue 'targets };
                    if sound.is_ok() && starts.may_be_opposite(setting, tester, budget, watch) {
                        of_target.push(Share { setting, reading: tester.reading, target, is_last: false });
                    }
                }
            }
            if let Some(last) = of_target.last_mut() {
                last.is_last = true;
            }
            shares.extend(of_target);
        }
        shares
    }
}
