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

use super::formula::{Answer, Budget, Lit};
use super::problem::{Problem, Start};
use super::rounds::Rounds;
use super::starts::{Counterexample, Starts};
use crate::observer::Watch;
use crate::plan::limits::PlanLimits;

pub(super) struct Search<'p> {
    pub(super) problem: &'p Problem,
    pub(super) limits: &'p PlanLimits,
    pub(super) rounds: Rounds<'p>,
    /// Targets that are to be tested.
    pub(super) live: Vec<u32>,
    /// Targets that nothing tests for some start.
    pub(super) never: Vec<u32>,
    /// For each element: the elements that some setting tests with it.
    pub(super) together: Vec<FixedBitSet>,
    /// The setting after one operation that tests all that is to be tested, where there is one.
    pub(super) single: Option<Vec<u16>>,
}

impl<'p> Search<'p> {
    pub(super) fn new(problem: &'p Problem, limits: &'p PlanLimits) -> Search<'p> {
        let mut rounds = Rounds::new(problem);
        rounds.grow(1);
        let live = (0..problem.targets.len() as u32).collect();
        Search { problem, limits, rounds, live, never: Vec::new(), together: Vec::new(), single: None }
    }

    /// What each question may spend: what can be tested at all, what excludes what, the fewest walks, the fewest
    /// operations and stops.
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
        // All are known before the solver is asked about one: a setting that tests it tests others too.
        let missed: Vec<(u32, usize)> =
            missed.into_iter().map(|(target, start)| (target, self.add_element(target, start))).collect();
        for (target, element) in missed {
            if !self.is_feasible(element, budget, watch)? {
                self.live.retain(|&live| live != target);
                self.never.push(target);
            }
        }
        Some(())
    }

    pub(super) fn add_element(&mut self, target: u32, start: Start) -> usize {
        let element = self.rounds.add_element(target, start);
        self.together.resize_with(self.element_count(), FixedBitSet::new);
        element
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
            self.note_together(&settings[0]);
            if self.together[element].contains(element) {
                return Some(true);
            }
            assert!(!self.is_known(), "the formula and the graph say the same");
            // Only the readings of the model were kept sound, and only for the starts looked at.
            let mut starts = Starts::new(self.problem, &settings, &[]);
            let mut voids = Vec::new();
            self.tests_soundly(element, &settings[0], &mut starts, &mut voids)?;
            debug_assert!(!voids.is_empty(), "a model that tests nothing has a void reading");
            if voids.is_empty() {
                return None;
            }
            self.add_voids(voids);
        }
    }

    /// Whether a reading that is void might put a position under test that no sound one does; no only where that is
    /// known.
    pub(super) fn is_met_if_void(&mut self, target: u32, watch: &mut Watch<'_>) -> bool {
        if !self.is_known() || self.problem.targets[target as usize].is_reached_if_void {
            return true;
        }
        let element = self.add_element(target, Start::new());
        let met = self.rounds.tested_if_void(element);
        let budget = &mut self.budget();
        self.rounds.ask(&[met], budget, watch) != Answer::No
    }

    /// Whether the only setting of `starts` tests an element with a reading that is sound for every start; else, for
    /// the readings that would, a start for which each is void.
    fn tests_soundly(
        &self,
        element: usize,
        options: &[u16],
        starts: &mut Starts<'_>,
        voids: &mut Vec<(u32, Start)>,
    ) -> Option<bool> {
        let start = self.rounds.start_of(element);
        let target = self.rounds.elements()[element].target;
        for tester in &self.problem.targets[target as usize].testers {
            if self.problem.is_met(tester, options, start) {
                let Some(reading) = tester.reading() else { return Some(true) };
                match starts.usable(0, reading)? {
                    Ok(()) => return Some(true),
                    Err(void) => voids.push((reading, void)),
                }
            }
        }
        Some(false)
    }

    fn add_voids(&mut self, voids: Vec<(u32, Start)>) {
        for (reading, start) in voids {
            self.rounds.add_void_start(reading, start);
        }
    }

    /// For each element, whether a setting tests it with a reading that is sound for every start; none where that is not
    /// known. `voids` takes a start for each reading that would and is void.
    fn tested_soundly(&self, options: &[u16], voids: &mut Vec<(u32, Start)>) -> Vec<Option<bool>> {
        let settings = [options.to_vec()];
        let mut starts = Starts::new(self.problem, &settings, &[]);
        let is_known = self.is_known();
        let mut is_tested = |element: usize| match is_known {
            true => Some(self.tests(element, options)),
            false => self.tests_soundly(element, options, &mut starts, voids),
        };
        (0..self.element_count()).map(&mut is_tested).collect()
    }

    /// Notes which elements a setting tests together.
    pub(super) fn note_together(&mut self, options: &[u16]) {
        let tested = self.tested_soundly(options, &mut Vec::new());
        let together: FixedBitSet = (0..tested.len()).filter(|&element| tested[element] == Some(true)).collect();
        for element in together.ones() {
            self.together[element].union_with(&together);
        }
    }

    /// The members that every plan operates: each with something to test that asks for another position than it has
    /// as at the start.
    pub(super) fn must_move(&self) -> FixedBitSet {
        let (problem, at_start) = (self.problem, self.problem.start_options());
        let live: FixedBitSet = self.live.iter().map(|&target| target as usize).collect();
        // Any start will do: what is to be tested is for all.
        let elements =
            self.rounds.elements().iter().enumerate().filter(|(_, element)| live.contains(element.target as usize));
        let known = elements.map(|(number, element)| (element.target, self.rounds.start_of(number).clone()));
        let elsewhere =
            self.live.iter().flat_map(|&target| problem.starts_elsewhere(target).map(move |start| (target, start)));
        let mut must: FixedBitSet = FixedBitSet::with_capacity(problem.members.len());
        let moved = known.chain(elsewhere).filter_map(|(target, start)| problem.needs_moved(target, &at_start, &start));
        must.extend(moved.map(|member| member as usize));
        must
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
        let found = Starts::new(problem, &all, self.rounds.starts()).counterexamples(&self.live, watch)?;
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
    pub(super) fn tested_by(&mut self, options: &[u16]) -> Option<Vec<bool>> {
        let mut voids = Vec::new();
        let tested = self.tested_soundly(options, &mut voids).into_iter().collect::<Option<_>>()?;
        self.add_voids(voids);
        Some(tested)
    }
}
