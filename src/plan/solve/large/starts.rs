//! Whether a plan holds for every start of the devices that nobody knows: a start for which it does not, or none.
//!
//! With the settings given only the starts are left, and what these decide is told by diagrams, as for a test set.

use rustc_hash::FxHashMap;

use super::problem::{Problem, Spot, Start, TargetTester};
use crate::observer::Watch;
use crate::reading::{Condition, Diagram, Digit, Side, Subgraph};

/// Something that a plan does not do for some start.
#[derive(Clone, Debug)]
pub(super) enum Counterexample {
    /// A reading is void.
    Void { reading: u32, start: Start },
    /// A target is tested by no reading that is never void.
    Missed { target: u32, start: Start },
}

/// Settings in turn, with the starts free.
pub(super) struct Starts<'p> {
    problem: &'p Problem,
    settings: &'p [Vec<u16>],
    /// For (setting, reading, part, side): for which starts bodies are joined to the lead.
    joined: FxHashMap<(usize, u32, u32, Side), Option<Vec<Diagram>>>,
    usable: FxHashMap<(usize, u32), Result<(), Start>>,
    /// Starts that are tried before others are looked for: the fewer there are in all, the smaller the formula of a
    /// plan.
    tried_first: Vec<Start>,
}

impl<'p> Starts<'p> {
    pub(super) fn new(problem: &'p Problem, settings: &'p [Vec<u16>], tried_first: &[Start]) -> Starts<'p> {
        let (joined, usable) = (FxHashMap::default(), FxHashMap::default());
        Starts { problem, settings, joined, usable, tried_first: tried_first.to_vec() }
    }

    /// A start for which something holds, or does not; none where there is none.
    fn example(&self, when: &Diagram, holds: bool) -> Option<Start> {
        let unknown = &self.problem.unknown;
        let mut digits: Vec<Digit> = unknown.iter().map(|row| (row.device, row.positions)).collect();
        digits.sort_unstable();
        let example = when.example(holds, &digits)?;
        let started = |device| example.iter().find(|row| row.0 == device).map_or(0, |row| row.1);
        Some(unknown.iter().map(|row| started(row.device)).collect())
    }

    /// For which starts the bodies of a part are joined to a lead in a setting, and last the other lead. None: not known.
    fn joined_in(&self, setting: usize, part: &Subgraph, side: Side) -> Option<Vec<Diagram>> {
        let options = &self.settings[setting];
        part.joined(side, true, |device, digit| self.problem.stands(device, options, digit), &self.problem.tables)
    }

    /// Whether a reading is sound for every start; else a start for which it is void. None: not known.
    pub(super) fn usable(&mut self, setting: usize, reading: u32) -> Option<Result<(), Start>> {
        if let Some(known) = self.usable.get(&(setting, reading)) {
            return Some(known.clone());
        }
        let problem = self.problem;
        let mut answer = Ok(());
        for part in &problem.readings[reading as usize].voids {
            let void = self.joined_in(setting, part, Side::A)?.pop()?;
            if let Some(start) = self.example(&void, true) {
                answer = Err(start);
                break;
            }
        }
        self.usable.insert((setting, reading), answer.clone());
        Some(answer)
    }

    fn on_lead(&mut self, setting: usize, tester: &TargetTester, spot: Spot, side: Side) -> Option<Diagram> {
        let (reading, part, node) = match (spot, tester.reading()) {
            (Spot::Held(held), _) if held == side => return Some(Diagram::always()),
            (Spot::Held(_), _) | (_, None) => return Some(Diagram::never()),
            (Spot::Node { part, node }, Some(reading)) => (reading, part, node),
        };
        let key = (setting, reading, part, side);
        if !self.joined.contains_key(&key) {
            let row = &self.problem.readings[reading as usize].parts[part as usize];
            let joined = self.joined_in(setting, row, side);
            self.joined.insert(key, joined);
        }
        self.joined[&key].as_ref().map(|joined| joined[node as usize].clone())
    }

    /// For which starts a device stands as a tester asks besides.
    fn stands_as_asked(&self, setting: usize, tester: &TargetTester) -> Option<Diagram> {
        let (problem, options) = (self.problem, &self.settings[setting]);
        let fixed = |holds: bool| if holds { Diagram::always() } else { Diagram::never() };
        Some(match *tester {
            TargetTester::Opposite { .. } => Diagram::always(),
            TargetTester::Moved { member, options: asked } => fixed(asked >> options[member as usize] & 1 == 1),
            TargetTester::UnderTest { device, position, .. } => {
                let stands = |start: u16| problem.stands(device, options, start) == position;
                match problem.unknown.iter().find(|row| row.device == device) {
                    None => fixed(stands(0)),
                    Some(row) => {
                        let mut when = Condition::never(vec![(device, row.positions)]);
                        (0..row.positions)
                            .filter(|&start| stands(start))
                            .for_each(|start| when.set(usize::from(start)));
                        Diagram::of(&when, &problem.tables)?
                    }
                }
            }
        })
    }

    /// For which starts a tester has its bodies on leads and its device as asked. None: not known.
    fn is_met(&mut self, setting: usize, tester: &TargetTester) -> Option<Diagram> {
        let tables = &self.problem.tables;
        let asked = self.stands_as_asked(setting, tester)?;
        let mut met = Diagram::never();
        for placed in tester.placements() {
            let mut all = asked.clone();
            for (spot, side) in placed {
                all = all.and(&self.on_lead(setting, tester, spot, side)?, tables)?;
            }
            met = met.or(&all, tables)?;
        }
        Some(met)
    }

    /// Whether the settings in turn test every one of these targets for every start; else, for each that is not, a
    /// start, and for readings that might help, starts for which they are void. None: not known.
    pub(super) fn counterexamples(&mut self, targets: &[u32], watch: &mut Watch<'_>) -> Option<Vec<Counterexample>> {
        let problem = self.problem;
        let mut found = Vec::new();
        for &target in targets {
            if !watch.goes_on_after_long() {
                return None;
            }
            let row = &problem.targets[target as usize];
            let mut voids = Vec::new();
            let mut sound: Vec<(usize, &TargetTester)> = Vec::new();
            for setting in 0..self.settings.len() {
                for tester in &row.testers {
                    let Some(reading) = tester.reading() else {
                        sound.push((setting, tester));
                        continue;
                    };
                    match self.usable(setting, reading)? {
                        Ok(()) => sound.push((setting, tester)),
                        Err(start) => voids.push(Counterexample::Void { reading, start }),
                    }
                }
            }
            let is_missed = |start: &&Start| {
                let is_met = |&(setting, tester): &(usize, &TargetTester)| {
                    problem.is_met(tester, &self.settings[setting], start)
                };
                !problem.is_done_for(target, start) && !sound.iter().any(is_met)
            };
            let start = match self.tried_first.iter().find(is_missed) {
                Some(start) => start.clone(),
                None => {
                    let Some(start) = self.missed(target, &sound)? else { continue };
                    self.tried_first.push(start.clone());
                    start
                }
            };
            found.push(Counterexample::Missed { target, start });
            found.extend(voids);
        }
        Some(found)
    }

    /// A start for which none of these readings, sound for every start, tests a target that is not tested already. None:
    /// not known.
    fn missed(&mut self, target: u32, sound: &[(usize, &TargetTester)]) -> Option<Option<Start>> {
        let problem = self.problem;
        let mut tested = problem.targets[target as usize].done_for.clone().unwrap_or_else(Diagram::never);
        for &(setting, tester) in sound {
            if tested.is_always() {
                break;
            }
            tested = tested.or(&self.is_met(setting, tester)?, &problem.tables)?;
        }
        Some(self.example(&tested, false))
    }
}
