//! Whether a plan holds for every start of the devices that nobody knows: a start for which it does not, or none.

use rustc_hash::FxHashMap;

use super::formula::{Answer, Budget, Formula, Joined, Lit, OptionLits, Truth};
use super::problem::{Free, Problem, Spot, Start, TargetTester};
use crate::observer::Watch;
use crate::reading::Side;

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
    formula: Formula,
    choices: Vec<OptionLits>,
    settings: &'p [Vec<u16>],
    /// For (setting, reading, part, side).
    joined: FxHashMap<(usize, u32, u32, bool), Joined>,
    usable: FxHashMap<(usize, u32), Result<(), Start>>,
    /// Starts that are tried before others are looked for: the fewer there are in all, the smaller the formula of a
    /// plan.
    tried_first: Vec<Start>,
}

impl<'p> Starts<'p> {
    pub(super) fn new(problem: &'p Problem, settings: &'p [Vec<u16>], tried_first: &[Start]) -> Starts<'p> {
        let mut formula = Formula::new();
        let choices = problem.unknown.iter().map(|row| formula.choice(row.positions)).collect();
        Starts {
            problem,
            formula,
            choices,
            settings,
            joined: FxHashMap::default(),
            usable: FxHashMap::default(),
            tried_first: tried_first.to_vec(),
        }
    }

    fn model(&self) -> Start {
        self.choices.iter().map(|choice| self.formula.chosen(choice)).collect()
    }

    /// Whether a reading is sound for every start; else a start for which it is void. None: not known.
    pub(super) fn usable(
        &mut self,
        setting: usize,
        reading: u32,
        budget: &mut Budget,
        watch: &mut Watch<'_>,
    ) -> Option<Result<(), Start>> {
        if let Some(known) = self.usable.get(&(setting, reading)) {
            return Some(known.clone());
        }
        let problem = self.problem;
        let options = &self.settings[setting];
        let mut answer = Ok(());
        for part in &problem.readings[reading as usize].voids {
            let Starts { formula, choices, .. } = self;
            let joined = formula
                .joined(part, Side::A, |formula, edge| problem.closed(Free::Starts, choices, options, formula, edge));
            match self.formula.ask(&[joined.of(part.node_count)], budget, watch) {
                Answer::Yes => {
                    answer = Err(self.model());
                    break;
                }
                Answer::No => {}
                Answer::GaveUp => return None,
            }
        }
        self.usable.insert((setting, reading), answer.clone());
        Some(answer)
    }

    fn on_lead(&mut self, setting: usize, tester: &TargetTester, spot: Spot, side: Side) -> Truth {
        let (reading, part, node) = match (spot, tester.reading()) {
            (Spot::Held(held), _) if held == side => return Truth::True,
            (Spot::Held(_), _) | (_, None) => return Truth::False,
            (Spot::Node { part, node }, Some(reading)) => (reading, part, node),
        };
        let key = (setting, reading, part, side == Side::A);
        if !self.joined.contains_key(&key) {
            let Starts { problem, formula, choices, settings, .. } = self;
            let row = &problem.readings[reading as usize].parts[part as usize];
            let options = &settings[setting];
            let joined = formula.all_joined(row, side, None, |formula, edge| {
                problem.closed(Free::Starts, choices, options, formula, edge)
            });
            self.joined.insert(key, joined);
        }
        Truth::Is(self.joined[&key].of(node))
    }

    /// What a tester asks of a device besides.
    fn stands_as_asked(&mut self, setting: usize, tester: &TargetTester) -> Truth {
        let Starts { problem, formula, choices, settings, .. } = self;
        problem.stands_as_asked(Free::Starts, choices, &settings[setting], formula, tester)
    }

    /// Whether a tester has its bodies on leads, and its device as asked, in a setting for some start. Where that is not
    /// known: yes.
    pub(super) fn may_be_met(
        &mut self,
        setting: usize,
        tester: &TargetTester,
        budget: &mut Budget,
        watch: &mut Watch<'_>,
    ) -> bool {
        let is_met = |start: &Start| self.problem.is_met(tester, &self.settings[setting], start);
        if self.tried_first.iter().any(is_met) {
            return true;
        }
        tester.placements().into_iter().any(|placed| {
            let mut claims: Vec<Lit> = Vec::new();
            match self.stands_as_asked(setting, tester) {
                Truth::False => return false,
                Truth::True => {}
                Truth::Is(lit) => claims.push(lit),
            }
            for (spot, side) in placed {
                match (spot, tester.reading()) {
                    (Spot::Held(held), _) if held == side => {}
                    (Spot::Held(_), _) | (_, None) => return false,
                    (Spot::Node { part, node }, Some(reading)) => {
                        let Starts { problem, formula, choices, settings, .. } = &mut *self;
                        let row = &problem.readings[reading as usize].parts[part as usize];
                        let options = &settings[setting];
                        let joined = formula.joined(row, side, |formula, edge| {
                            problem.closed(Free::Starts, choices, options, formula, edge)
                        });
                        claims.push(joined.of(node));
                    }
                }
            }
            let answer = self.formula.ask(&claims, budget, watch);
            if answer == Answer::Yes {
                self.tried_first.push(self.model());
            }
            answer != Answer::No
        })
    }

    /// Whether the settings in turn test every one of these targets for every start; else, for each that is not, a
    /// start, and for readings that might help, starts for which they are void. None: not known.
    pub(super) fn counterexamples(
        &mut self,
        targets: &[u32],
        budget: &mut Budget,
        watch: &mut Watch<'_>,
    ) -> Option<Vec<Counterexample>> {
        let problem = self.problem;
        let mut found = Vec::new();
        for &target in targets {
            let row = &problem.targets[target as usize];
            let mut voids = Vec::new();
            let mut sound: Vec<(usize, &TargetTester)> = Vec::new();
            for setting in 0..self.settings.len() {
                for tester in &row.testers {
                    let Some(reading) = tester.reading() else {
                        sound.push((setting, tester));
                        continue;
                    };
                    match self.usable(setting, reading, budget, watch)? {
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
                    let selected = self.missed(target, &sound);
                    match self.formula.ask(&[selected], budget, watch) {
                        Answer::Yes => {
                            let start = self.model();
                            self.tried_first.push(start.clone());
                            start
                        }
                        Answer::No => continue,
                        Answer::GaveUp => return None,
                    }
                }
            };
            found.push(Counterexample::Missed { target, start });
            found.extend(voids);
        }
        Some(found)
    }

    /// A literal under which none of these readings, sound for every start, tests a target that is not tested already.
    fn missed(&mut self, target: u32, sound: &[(usize, &TargetTester)]) -> Lit {
        let selected = self.formula.lit();
        if let Some(done_for) = &self.problem.targets[target as usize].done_for {
            // The start leads to each node on its way through the diagram, and not to its end.
            let nodes: Vec<_> = done_for.nodes().collect();
            let led_to: Vec<Lit> = nodes.iter().map(|_| self.formula.lit()).collect();
            match led_to.last() {
                Some(&beginning) => self.formula.clause([!selected, beginning]),
                None if done_for.is_always() => self.formula.clause([!selected]),
                None => {}
            }
            for ((device, next), &here) in nodes.iter().zip(&led_to) {
                let at = self.problem.unknown.iter().position(|row| row.device == *device);
                let choice = &self.choices[at.expect("devices of a condition on starts are unknown ones")];
                for (position, next) in (0..).zip(next) {
                    let stands = choice.lit(position);
                    match *next {
                        Ok(false) => {}
                        Ok(true) => self.formula.clause([!here, !stands, !selected]),
                        Err(node) => self.formula.clause([!here, !stands, led_to[node]]),
                    }
                }
            }
        }
        for &(setting, tester) in sound {
            for placed in tester.placements() {
                let mut on = vec![self.stands_as_asked(setting, tester)];
                on.extend(placed.into_iter().map(|(spot, side)| self.on_lead(setting, tester, spot, side)));
                if on.contains(&Truth::False) {
                    continue;
                }
                let not_both = on.into_iter().filter_map(|value| match value {
                    Truth::Is(lit) => Some(!lit),
                    _ => None,
                });
                self.formula.clause(not_both.chain([!selected]));
            }
        }
        selected
    }
}
