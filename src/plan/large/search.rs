//! The fewest walks, then operations, then stops of a cluster too large to list.
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

use super::super::observer::{Stage, Watch};
use super::super::wishes::{Afterwards, First, Wishes};
use super::Cost;
use super::formula::{Answer, Budget};
use super::problem::{Problem, Start};
use super::rounds::Rounds;
use super::starts::{Counterexample, Starts};

/// What each of these may spend: what can be tested at all, which exclude one another, the fewest walks, the fewest
/// operations and stops.
const BUDGET: u64 = 8_000_000;

/// Rounds that the solver is asked about at most.
const MOST_ROUNDS: usize = 250;

/// Questions asked to find elements that exclude one another.
const MOST_COMPARED: usize = 30_000;

/// Starts that one target may take before it is left unplanned: every unknown switch on its way may double them.
const MOST_STARTS_EACH: usize = 40;

/// Starts of unknown devices that are gone through to see whether nothing tests a target for any of them.
const MOST_STARTS: usize = 256;

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

/// What is known after the search of walks.
pub(super) struct Walks {
    /// The options after each walk.
    pub(super) settings: Vec<Vec<u16>>,
    pub(super) at_least: usize,
    /// Elements no two of which are tested in one setting.
    pub(super) exclusive: Vec<usize>,
}

/// What is known after the search of operations.
pub(super) struct Operations {
    /// The options after each walk.
    pub(super) settings: Vec<Vec<u16>>,
    pub(super) cost: Cost,
    pub(super) at_least: Cost,
    /// Whether both counts are known to be the least, in the order of the wishes.
    pub(super) is_least: bool,
}

pub(super) struct Search<'p> {
    pub(super) problem: &'p Problem,
    pub(super) rounds: Rounds<'p>,
    /// Targets that are to be tested.
    pub(super) live: Vec<u32>,
    never: Vec<Never>,
    /// For each element: the elements that some setting tests with it.
    together: Vec<FixedBitSet>,
}

impl<'p> Search<'p> {
    pub(super) fn new(problem: &'p Problem) -> Search<'p> {
        let mut rounds = Rounds::new(problem);
        rounds.grow(1);
        let live = (0..problem.targets.len() as u32).collect();
        Search { problem, rounds, live, never: Vec::new(), together: Vec::new() }
    }

    pub(super) fn problem(&self) -> &'p Problem {
        self.problem
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

    pub(super) fn ask(&mut self, with: &[Lit], budget: &mut Budget, watch: &mut Watch<'_>) -> Answer {
        self.rounds.ask(with, budget, watch)
    }

    pub(super) fn in_the_way(&mut self) -> Vec<Lit> {
        self.rounds.core()
    }

    pub(super) fn first_setting(&self) -> Vec<u16> {
        self.rounds.settings(1).remove(0)
    }

    pub(super) fn operations_of(&self, settings: &[Vec<u16>]) -> usize {
        self.cost(settings, false).operations
    }

    fn is_known(&self) -> bool {
        self.problem.unknown.is_empty()
    }

    /// Whether a setting tests an element, with the readings that are not void for any start.
    fn tests(&self, element: usize, options: &[u16]) -> bool {
        let start = self.rounds.start_of(element);
        self.problem.is_tested(self.rounds.elements()[element].target, options, start)
    }

    /// Adds what a plan does not do, for the starts that were found. Tells whether anything is left to look for.
    fn add(&mut self, found: Vec<Counterexample>, budget: &mut Budget, watch: &mut Watch<'_>) -> Option<()> {
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
        let Some(all) =
            counts.iter().try_fold(1usize, |all, count| all.checked_mul(*count)).filter(|&all| all <= MOST_STARTS)
        else {
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
    fn is_feasible(&mut self, element: usize, budget: &mut Budget, watch: &mut Watch<'_>) -> Option<bool> {
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

    fn note_together(&mut self, options: &[u16]) {
        let count = self.rounds.elements().len();
        self.together.resize_with(count, FixedBitSet::new);
        let tested: Vec<usize> = (0..count).filter(|&element| self.tests(element, options)).collect();
        for &element in &tested {
            self.together[element].grow(count);
            self.together[element].extend(tested.iter().copied());
        }
    }

    /// Elements no two of which are tested in one setting.
    fn exclusive(&mut self, budget: &mut Budget, watch: &mut Watch<'_>) -> Vec<usize> {
        let live = self.live_elements();
        let mut order = live.clone();
        order.sort_by_key(|&element| (self.together[element].count_ones(..), element));
        let mut asked = 0;
        let mut best: Vec<usize> = Vec::new();
        for &first in order.iter().take(4) {
            let mut picked = vec![first];
            for &element in &order {
                let mut fits = !picked.contains(&element);
                for &other in &picked {
                    if !fits {
                        break;
                    }
                    if self.together[element].contains(other) || self.together[other].contains(element) {
                        fits = false;
                        break;
                    }
                    asked += 1;
                    if asked > MOST_COMPARED {
                        return longer(best, picked);
                    }
                    let both = [self.rounds.tested(element, 0), self.rounds.tested(other, 0)];
                    match self.rounds.ask(&both, budget, watch) {
                        Answer::No => {}
                        Answer::Yes => {
                            let options = self.rounds.settings(1).remove(0);
                            self.note_together(&options);
                            self.together[element].grow(live.len().max(other + 1));
                            self.together[element].insert(other);
                            fits = false;
                        }
                        Answer::GaveUp => return longer(best, picked),
                    }
                }
                if fits {
                    picked.push(element);
                }
            }
            best = longer(best, picked);
        }
        best
    }

    /// Settings in turn with the one that the plan starts with before them.
    fn with_start(&self, settings: &[Vec<u16>]) -> Vec<Vec<u16>> {
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

    fn with(&mut self, count: usize) -> Vec<Lit> {
        let within = self.rounds.within(count);
        self.live.iter().map(|&target| self.rounds.wanted(target)).chain([within]).collect()
    }

    /// The fewest walks, and what nothing tests; only the latter where no plan was found.
    pub(super) fn fewest_walks(&mut self, watch: &mut Watch<'_>) -> Result<(Walks, Vec<Never>), Vec<Never>> {
        let budget = &mut Budget(BUDGET);
        match self.prepare(budget, watch) {
            Some(()) => {}
            None => return Err(std::mem::take(&mut self.never)),
        }
        loop {
            let known = self.never.len();
            let mut walks = self.walks_of_live(watch);
            if let Some(walks) = &mut walks {
                let settings = std::mem::take(&mut walks.settings);
                walks.settings = self.in_near_order(settings, &mut Budget(BUDGET), watch);
            }
            // What was found on the way to be tested by nothing asks for no walk: the bounds counted it.
            if self.never.len() == known {
                let never = std::mem::take(&mut self.never);
                return match walks {
                    Some(walks) => Ok((walks, never)),
                    None => Err(never),
                };
            }
        }
    }

    /// The fewest walks for what is to be tested as far as known; none where no plan was found, or where something was
    /// found that nothing tests.
    fn walks_of_live(&mut self, watch: &mut Watch<'_>) -> Option<Walks> {
        let exclusive = self.exclusive(&mut Budget(BUDGET), watch);
        let found = self.greedy(watch);
        let in_any_order = self.problem.members.iter().all(|member| member.one_way.is_none());
        let budget = &mut Budget(BUDGET);
        let mut count = exclusive.len();
        let known = self.never.len();
        while count <= MOST_ROUNDS && !self.live.is_empty() {
            if let Some(settings) = found.clone().filter(|settings| settings.len() <= count) {
                return Some(Walks { at_least: count, settings, exclusive });
            }
            watch.at(Stage::LargeClusters, count, MOST_ROUNDS);
            let mut with = self.with(count);
            if in_any_order {
                // Rounds that can be put in any order: each element that needs one of its own is given one.
                with.extend(exclusive.iter().enumerate().map(|(round, &element)| self.rounds.tested(element, round)));
            }
            match self.rounds.ask(&with, budget, watch) {
                Answer::No => count += 1,
                Answer::GaveUp => {
                    let settings = found?;
                    return Some(Walks { at_least: count, settings, exclusive });
                }
                Answer::Yes => {
                    let settings = self.rounds.settings(count);
                    let holds = self.holds(&settings, budget, watch)?;
                    if self.never.len() > known {
                        return None;
                    }
                    if holds {
                        return Some(Walks { at_least: count, settings, exclusive });
                    }
                }
            }
        }
        if self.live.is_empty() {
            return Some(Walks { at_least: 0, settings: Vec::new(), exclusive: Vec::new() });
        }
        found.map(|settings| Walks { at_least: count, settings, exclusive })
    }

    /// Finds the elements to start with, and the targets that nothing tests.
    fn prepare(&mut self, budget: &mut Budget, watch: &mut Watch<'_>) -> Option<()> {
        let problem = self.problem;
        let at_start = vec![problem.start_options()];
        if !self.is_known() {
            let found =
                Starts::new(problem, &at_start, self.rounds.starts()).counterexamples(&self.live, budget, watch)?;
            let missed = |target: u32| {
                found
                    .iter()
                    .any(|row| matches!(row, Counterexample::Missed { target: missed, .. } if *missed == target))
            };
            let live: Vec<u32> = self.live.iter().copied().filter(|&target| missed(target)).collect();
            self.live = live;
            return self.add(found, budget, watch);
        }
        let targets = std::mem::take(&mut self.live);
        let start: Start = Vec::new();
        for target in targets {
            if !problem.is_tested(target, &at_start[0], &start) {
                self.live.push(target);
                self.rounds.add_element(target, start.clone());
            }
        }
        self.together.resize_with(self.rounds.elements().len(), FixedBitSet::new);
        for element in 0..self.rounds.elements().len() {
            if !self.is_feasible(element, budget, watch)? {
                let target = self.rounds.elements()[element].target;
                self.never.push(Never { target, starts: vec![start.clone()] });
                self.live.retain(|&live| live != target);
            }
        }
        Some(())
    }

    /// A plan found setting by setting, each testing what it can of what is left; not known to be short. What would
    /// take too many starts or rounds is left out of what is to be tested.
    fn greedy(&mut self, watch: &mut Watch<'_>) -> Option<Vec<Vec<u16>>> {
        let mut settings: Vec<Vec<u16>> = Vec::new();
        if self.greedy_settings(&mut settings, watch).is_some() {
            return Some(settings);
        }
        // What the settings found so far are not seen to test is left out.
        let problem = self.problem;
        let all = self.with_start(&settings);
        let budget = &mut Budget(BUDGET);
        let mut seen = Vec::new();
        for &target in &self.live {
            let is_tested = match self.is_known() {
                true => all.iter().any(|options| problem.is_tested(target, options, &[])),
                // Each by a formula of its own, so that one that is hard leaves something for the next.
                false => Starts::new(problem, &all, self.rounds.starts())
                    .counterexamples(&[target], &mut Budget(budget.0 / 16), watch)
                    .is_some_and(|found| found.is_empty()),
            };
            if is_tested {
                seen.push(target);
            }
        }
        self.live = seen;
        Some(settings)
    }

    fn greedy_settings(&mut self, settings: &mut Vec<Vec<u16>>, watch: &mut Watch<'_>) -> Option<()> {
        let budget = &mut Budget(BUDGET);
        // For each setting, the start first: the elements that it tests, as far as they were known.
        let mut tested: Vec<Vec<bool>> = vec![self.tested_by(&self.problem.start_options(), budget, watch)?];
        loop {
            self.leave_out_what_takes_most();
            for (number, row) in tested.iter_mut().enumerate() {
                if row.len() < self.rounds.elements().len() {
                    let options = if number == 0 { self.problem.start_options() } else { settings[number - 1].clone() };
                    *row = self.tested_by(&options, budget, watch)?;
                }
            }
            let mut open = self.live_elements();
            open.retain(|&element| !tested.iter().any(|row| row[element]));
            let Some(&first) = open.first() else {
                if self.holds(settings, budget, watch)? {
                    return Some(());
                }
                continue;
            };
            if settings.len() >= MOST_ROUNDS {
                let target = self.rounds.elements()[first].target;
                self.live.retain(|&live| live != target);
                continue;
            }
            // An unknown device is not left as found, so that the settings may come in any order.
            let mut with: Vec<Lit> = self.rounds.none_as_found();
            with.push(self.rounds.tested(first, 0));
            if self.rounds.ask(&with, budget, watch) != Answer::Yes {
                let target = self.rounds.elements()[first].target;
                self.live.retain(|&live| live != target);
                continue;
            }
            let mut best = self.rounds.settings(1).remove(0);
            for &element in &open[1..] {
                with.push(self.rounds.tested(element, 0));
                if self.is_known() && self.tests(element, &best) {
                    continue;
                }
                match self.rounds.ask(&with, budget, watch) {
                    Answer::Yes => best = self.rounds.settings(1).remove(0),
                    _ => {
                        with.pop();
                    }
                }
            }
            let row = self.tested_by(&best, budget, watch)?;
            if !row[first] {
                // A reading of the model is void for a start that was not looked at; it is from now on.
                continue;
            }
            tested.push(row);
            settings.push(best);
        }
    }

    /// Leaves out targets that take more starts than are looked at.
    fn leave_out_what_takes_most(&mut self) {
        let mut count = vec![0usize; self.problem.targets.len()];
        for element in self.rounds.elements() {
            count[element.target as usize] += 1;
        }
        self.live.retain(|&target| count[target as usize] <= MOST_STARTS_EACH);
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

    /// The fewest operations and stops within a number of walks, in the order of the wishes; where everything is put
    /// back, the last walk is for that and its operations count.
    pub(super) fn fewest_operations(
        &mut self,
        found: &Walks,
        walks: usize,
        wishes: &Wishes,
        watch: &mut Watch<'_>,
    ) -> Operations {
        let budget = &mut Budget(BUDGET);
        let is_put_back = wishes.afterwards == Afterwards::AsFound && walks > 0;
        let read = walks - usize::from(is_put_back);
        // Each walk has an operation at a stop, and so has the one that puts everything back.
        let fewest = found.at_least + usize::from(is_put_back && found.at_least > 0);
        let mut best = found.settings.clone();
        let last = best.last().cloned().unwrap_or_else(|| self.problem.start_options());
        best.resize(read, last);
        self.rounds.grow(walks);
        let mut fixed: Vec<Lit> = if is_put_back { self.rounds.as_at_start(walks - 1) } else { Vec::new() };
        let order = match wishes.first {
            First::Operations => [Counted::Operations, Counted::Stops],
            First::Stops => [Counted::Stops, Counted::Operations],
        };
        let mut proven = 0;
        for what in order {
            let mut count = match what {
                Counted::Operations => self.rounds.operations(walks),
                Counted::Stops => self.rounds.stops(walks),
            };
            let mut least = what.of(self.cost(&best, is_put_back));
            let mut is_proven = least == fewest;
            while !is_proven {
                match self.within_bound(read, &mut count, least - 1, &fixed, budget, watch) {
                    Some(Some(settings)) => {
                        best = settings;
                        least = what.of(self.cost(&best, is_put_back));
                        is_proven = least == fewest;
                    }
                    Some(None) => is_proven = true,
                    None => break,
                }
            }
            if !is_proven {
                break;
            }
            proven += 1;
            if least > 0 {
                fixed.extend(self.rounds.at_most(&mut count, least));
            }
        }
        let cost = self.cost(&best, is_put_back);
        let mut at_least = Cost { operations: fewest, stops: fewest };
        if proven > 0 {
            match wishes.first {
                First::Operations => at_least.operations = cost.operations,
                // Each stop has an operation.
                First::Stops => at_least = Cost { operations: cost.stops, stops: cost.stops },
            }
        }
        Operations { settings: best, cost, at_least, is_least: proven == order.len() }
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
        let budget = &mut Budget(BUDGET);
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

    /// A plan in which at most `most` of what is counted hold: Some(None) where there is none, None where not known.
    fn within_bound(
        &mut self,
        walks: usize,
        count: &mut super::rounds::Count,
        most: usize,
        fixed: &[Lit],
        budget: &mut Budget,
        watch: &mut Watch<'_>,
    ) -> Option<Option<Vec<Vec<u16>>>> {
        loop {
            let mut with = self.with(walks);
            with.extend(self.rounds.at_most(count, most));
            with.extend(fixed);
            match self.rounds.ask(&with, budget, watch) {
                Answer::No => return Some(None),
                Answer::GaveUp => return None,
                Answer::Yes => {
                    let settings = self.rounds.settings(walks);
                    if self.holds(&settings, budget, watch)? {
                        return Some(Some(settings));
                    }
                }
            }
        }
    }

    /// What settings in turn cost.
    fn cost(&self, settings: &[Vec<u16>], is_put_back: bool) -> Cost {
        let mut all = self.with_start(settings);
        if is_put_back {
            all.push(self.problem.start_options());
        }
        let mut cost = Cost::default();
        for pair in all.windows(2) {
            let mut stops: Vec<u32> = Vec::new();
            for (member, row) in self.problem.members.iter().enumerate() {
                if pair[0][member] != pair[1][member] {
                    cost.operations += 1;
                    stops.push(row.stop);
                }
            }
            stops.sort_unstable();
            stops.dedup();
            cost.stops += stops.len();
        }
        cost
    }
}

fn longer<T>(one: Vec<T>, other: Vec<T>) -> Vec<T> {
    if other.len() > one.len() { other } else { one }
}

#[derive(Clone, Copy)]
enum Counted {
    Operations,
    Stops,
}

impl Counted {
    fn of(self, cost: Cost) -> usize {
        match self {
            Counted::Operations => cost.operations,
            Counted::Stops => cost.stops,
        }
    }
}
