//! The fewest walks of a cluster too large to list.

use fixedbitset::FixedBitSet;

use super::formula::{Answer, Budget, Lit};
use super::order::Ordering;
use super::problem::Start;
use super::search::Search;
use super::starts::{Counterexample, Starts};
use crate::observer::{Stage, Watch};
use crate::plan::solve::engine::ClusterWay;
use crate::plan::solve::order::near_order;

/// The part of a budget that asking for one more element of a setting may spend.
const EXTENSION: u64 = 64;

/// What is known after the search of walks.
pub(super) struct Walks {
    /// The options after each walk.
    pub(super) settings: Vec<Vec<u16>>,
    pub(super) at_least: usize,
    /// Elements no two of which are tested in one setting.
    pub(super) exclusive: Vec<usize>,
}

impl Search<'_> {
    /// The fewest walks, and what nothing tests; only the latter where no plan was found.
    pub(super) fn fewest_walks(&mut self, watch: &mut Watch<'_>) -> Result<(Walks, Vec<u32>), Vec<u32>> {
        let budget = &mut self.budget();
        match self.prepare(budget, watch) {
            Some(()) => {}
            None => return Err(std::mem::take(&mut self.never)),
        }
        loop {
            let known = self.never.len();
            let mut walks = self.walks_of_live(watch);
            if let Some(walks) = &mut walks
                && let Some(settings) = self.in_near_order(&walks.settings, watch)
            {
                walks.settings = settings;
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

    /// As many settings or fewer that test the same, in an order with fewer operations, where one is found.
    fn in_near_order(&mut self, settings: &[Vec<u16>], watch: &mut Watch<'_>) -> Option<Vec<Vec<u16>>> {
        let mut open: FixedBitSet = self.live_elements().into_iter().collect();
        open.grow(self.rounds.elements().len());
        let budget = &mut self.budget();
        let order = near_order(&mut Ordering { search: self, budget, watch }, settings, &open)?;
        let members = &self.problem.members;
        let before = ClusterWay::through(members, settings.iter().map(|options| Some(&options[..]))).cost().operations;
        let is_better = order.meets_all && order.settings.len() <= settings.len() && order.operations < before as usize;
        (is_better && self.holds(&order.settings, budget, watch) == Some(true)).then_some(order.settings)
    }

    /// The fewest walks for what is to be tested as far as known; none where no plan was found, or where something was
    /// found that nothing tests.
    fn walks_of_live(&mut self, watch: &mut Watch<'_>) -> Option<Walks> {
        let exclusive = self.exclusive(&mut self.budget(), watch);
        let found = match &self.single {
            Some(single) => Some(vec![single.clone()]),
            None => self.greedy(watch),
        };
        let in_any_order = self.problem.members.iter().all(|member| member.one_way.is_none());
        let budget = &mut self.budget();
        let mut count = exclusive.len();
        let known = self.never.len();
        let most = usize::from(self.limits.walks);
        while count <= most && !self.live.is_empty() {
            if let Some(settings) = found.clone().filter(|settings| settings.len() <= count) {
                return Some(Walks { at_least: count, settings, exclusive });
            }
            watch.at(Stage::LargeClusters, count, most);
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
            let found = Starts::new(problem, &at_start, self.rounds.starts()).counterexamples(&self.live, watch)?;
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
                self.add_element(target, start.clone());
            }
        }
        self.single = self.after_one_operation();
        if let Some(single) = self.single.clone() {
            // Then there is no question left for the solver.
            self.note_together(&single);
        }
        for element in 0..self.rounds.elements().len() {
            if !self.is_feasible(element, budget, watch)? {
                let target = self.rounds.elements()[element].target;
                self.never.push(target);
                self.live.retain(|&live| live != target);
            }
        }
        Some(())
    }

    /// The first setting one operation from the start that tests all that is to be tested, where all positions are
    /// known.
    fn after_one_operation(&self) -> Option<Vec<u16>> {
        let start = self.problem.start_options();
        let members = self.problem.members.iter().enumerate();
        let mut neighbours = members.flat_map(|(member, row)| (0..row.options).map(move |option| (member, option)));
        neighbours.find_map(|(member, option)| {
            let mut options = start.clone();
            options[member] = option;
            let tests_all = self.live.iter().all(|&target| self.problem.is_tested(target, &options, &[]));
            (tests_all && !self.live.is_empty()).then_some(options)
        })
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
                    if asked > self.limits.compared_requirements {
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
        let mut seen = Vec::new();
        for &target in &self.live {
            let is_tested = match self.is_known() {
                true => all.iter().any(|options| problem.is_tested(target, options, &[])),
                false => Starts::new(problem, &all, self.rounds.starts())
                    .counterexamples(&[target], watch)
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
        // What must be asked has a budget of its own.
        let (budget, mut extending) = (&mut self.budget(), self.budget());
        // For each setting, the start first: the elements that it tests, as far as they were known.
        let mut tested: Vec<Vec<bool>> = vec![self.tested_by(&self.problem.start_options())?];
        loop {
            self.leave_out_what_takes_most();
            for (number, row) in tested.iter_mut().enumerate() {
                if row.len() < self.rounds.elements().len() {
                    let options = if number == 0 { self.problem.start_options() } else { settings[number - 1].clone() };
                    *row = self.tested_by(&options)?;
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
            if settings.len() >= usize::from(self.limits.walks) {
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
            let mut row = self.tested_by(&best)?;
            for &element in &open[1..] {
                with.push(self.rounds.tested(element, 0));
                if row.get(element) == Some(&true) {
                    continue;
                }
                // One that is hard to tell must not cost what others need: it can wait for another setting.
                match extending.part(EXTENSION, |part| self.rounds.ask(&with, part, watch)) {
                    Answer::Yes => {
                        best = self.rounds.settings(1).remove(0);
                        row = self.tested_by(&best)?;
                    }
                    _ => {
                        with.pop();
                    }
                }
            }
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
        let most = self.limits.starts_of_pair;
        self.live.retain(|&target| count[target as usize] <= most);
    }
}

fn longer<T>(one: Vec<T>, other: Vec<T>) -> Vec<T> {
    if other.len() > one.len() { other } else { one }
}
