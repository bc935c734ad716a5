//! Several rounds as one formula: which options each round has, what it tests, what is operated in it and where.

use rustc_hash::FxHashMap;

use super::count::Count;
use super::formula::{Answer, Budget, Formula, Joined, Lit, OptionLits, Truth};
use super::problem::{Problem, Spot, Start, TargetTester};
use crate::observer::Watch;
use crate::reading::{Side, Subgraph};

/// One target for one start.
#[derive(Clone, Debug)]
pub(super) struct Element {
    pub(super) target: u32,
    pub(super) start: u32,
    /// For each round: it is tested there.
    tested: Vec<Lit>,
}

/// One round: a setting after some operations.
struct SolverRound {
    choices: Vec<OptionLits>,
    /// For each reading that can be void: that it is not, for the starts looked at.
    usable: FxHashMap<u32, Lit>,
    /// For (reading, part, side, start): what is joined.
    joined: FxHashMap<(u32, u32, bool, u32), Joined>,
    /// For each member: it is operated before this round.
    operated: Vec<Lit>,
    /// For each stop of a member: it is visited before this round.
    visited: Vec<Lit>,
}

pub(super) struct Rounds<'p> {
    problem: &'p Problem,
    formula: Formula,
    rounds: Vec<SolverRound>,
    elements: Vec<Element>,
    starts: Vec<Start>,
    /// For each reading, the starts for which it must not be void.
    void_starts: Vec<Vec<u32>>,
    /// For each target: it must be tested.
    wanted: Vec<Lit>,
    /// For each number of rounds: what is wanted must be tested in as many.
    within: Vec<Option<Lit>>,
}

impl<'p> Rounds<'p> {
    pub(super) fn new(problem: &'p Problem) -> Rounds<'p> {
        let mut formula = Formula::new();
        let wanted = problem.targets.iter().map(|_| formula.lit()).collect();
        let mut rounds = Rounds {
            problem,
            formula,
            rounds: Vec::new(),
            elements: Vec::new(),
            starts: Vec::new(),
            void_starts: vec![Vec::new(); problem.readings.len()],
            wanted,
            within: Vec::new(),
        };
        // Where everything stands known there is one start, and it is looked at from the first.
        let first = rounds.start(vec![0; problem.unknown.len()]);
        for reading in 0..problem.readings.len() {
            rounds.void_starts[reading].push(first);
        }
        rounds
    }

    pub(super) fn elements(&self) -> &[Element] {
        &self.elements
    }

    pub(super) fn start_of(&self, element: usize) -> &Start {
        &self.starts[self.elements[element].start as usize]
    }

    /// The starts looked at so far.
    pub(super) fn starts(&self) -> &[Start] {
        &self.starts
    }

    fn start(&mut self, start: Start) -> u32 {
        match self.starts.iter().position(|known| *known == start) {
            Some(known) => known as u32,
            None => {
                self.starts.push(start);
                self.starts.len() as u32 - 1
            }
        }
    }

    /// Has as many rounds.
    pub(super) fn grow(&mut self, count: usize) {
        while self.rounds.len() < count {
            self.add_round();
        }
    }

    fn add_round(&mut self) {
        let problem = self.problem;
        let mut choices = Vec::with_capacity(problem.members.len());
        let mut operated = Vec::with_capacity(problem.members.len());
        for (number, member) in problem.members.iter().enumerate() {
            let choice = self.formula.choice(member.options);
            let change = self.formula.lit();
            for option in 0..member.options {
                let stays = match self.rounds.last() {
                    Some(before) => Some(before.choices[number].lit(option)),
                    None if option == member.start => continue,
                    None => None,
                };
                self.formula.clause([Some(!choice.lit(option)), stays, Some(change)].into_iter().flatten());
                if member.one_way == Some(option) {
                    // It can't be put back as found.
                    self.formula.clause([Some(!choice.lit(option)), stays].into_iter().flatten());
                }
            }
            operated.push(change);
            choices.push(choice);
        }
        let mut stops: Vec<u32> = problem.members.iter().map(|member| member.stop).collect();
        stops.sort_unstable();
        stops.dedup();
        let visited: Vec<Lit> = stops.iter().map(|_| self.formula.lit()).collect();
        for (member, &change) in problem.members.iter().zip(&operated) {
            let stop = stops.binary_search(&member.stop).expect("every stop is listed");
            self.formula.clause([!change, visited[stop]]);
        }
        let round =
            SolverRound { choices, usable: FxHashMap::default(), joined: FxHashMap::default(), operated, visited };
        self.rounds.push(round);
        let last = self.rounds.len() - 1;
        for element in 0..self.elements.len() {
            let tested = self.tested_in(last, self.elements[element].target, self.elements[element].start);
            self.elements[element].tested.push(tested);
        }
    }

    /// That a reading is not void in a round, for the starts looked at; none where it never is.
    fn usable(&mut self, round: usize, reading: u32) -> Option<Lit> {
        if self.problem.readings[reading as usize].voids.is_empty() {
            return None;
        }
        if let Some(&known) = self.rounds[round].usable.get(&reading) {
            return Some(known);
        }
        let usable = self.formula.lit();
        self.rounds[round].usable.insert(reading, usable);
        for start in self.void_starts[reading as usize].clone() {
            self.forbid_void(round, reading, start, usable);
        }
        Some(usable)
    }

    /// Keeps a reading's leads apart in a round while `usable` holds.
    fn forbid_void(&mut self, round: usize, reading: u32, start: u32, usable: Lit) {
        let Rounds { problem, formula, rounds, starts, .. } = self;
        let choices = &mut rounds[round].choices;
        let start = &starts[start as usize];
        for part in &problem.readings[reading as usize].voids {
            let joined = formula
                .all_joined(part, Side::A, Some(usable), |formula, edge| problem.closed(choices, start, formula, edge));
            formula.clause([!joined.of(part.node_count), !usable]);
        }
    }

    /// That a reading must not be void for one start more.
    pub(super) fn add_void_start(&mut self, reading: u32, start: Start) {
        let start = self.start(start);
        if self.void_starts[reading as usize].contains(&start) {
            return;
        }
        self.void_starts[reading as usize].push(start);
        for round in 0..self.rounds.len() {
            if let Some(&usable) = self.rounds[round].usable.get(&reading) {
                self.forbid_void(round, reading, start, usable);
            }
        }
    }

    fn on_lead(&mut self, round: usize, reading: u32, spot: Spot, side: Side, start: u32) -> Truth {
        let (part, node) = match spot {
            Spot::Held(held) if held == side => return Truth::True,
            Spot::Held(_) => return Truth::False,
            Spot::Node { part, node } => (part, node),
        };
        let key = (reading, part, side == Side::A, start);
        if let Some(joined) = self.rounds[round].joined.get(&key) {
            return Truth::Is(joined.of(node));
        }
        let Rounds { problem, formula, rounds, starts, .. } = self;
        let row: &Subgraph = &problem.readings[reading as usize].parts[part as usize];
        let choices = &mut rounds[round].choices;
        let at = &starts[start as usize];
        let joined = formula.joined(row, side, |formula, edge| problem.closed(choices, at, formula, edge));
        let lit = joined.of(node);
        rounds[round].joined.insert(key, joined);
        Truth::Is(lit)
    }

    /// That a target is tested in a round, for a start.
    fn tested_in(&mut self, round: usize, target: u32, start: u32) -> Lit {
        self.some_way(round, target, start, |rounds, reading| rounds.usable(round, reading))
    }

    /// That a reading for which `allowed` holds has a target's bodies on opposite leads.
    fn some_way(
        &mut self,
        round: usize,
        target: u32,
        start: u32,
        mut allowed: impl FnMut(&mut Rounds<'p>, u32) -> Option<Lit>,
    ) -> Lit {
        let tested = self.formula.lit();
        let testers: Vec<TargetTester> = self.problem.targets[target as usize].testers.clone();
        let mut ways = vec![!tested];
        for tester in testers {
            let asked = {
                let Rounds { problem, formula, rounds, starts, .. } = self;
                let choices = &mut rounds[round].choices;
                problem.stands_as_asked(choices, &starts[start as usize], formula, &tester)
            };
            for placed in tester.placements() {
                let mut on = vec![asked];
                if let Some(reading) = tester.reading() {
                    on.extend(placed.iter().map(|&(spot, side)| self.on_lead(round, reading, spot, side, start)));
                }
                if on.contains(&Truth::False) {
                    continue;
                }
                let way = self.formula.lit();
                for value in on {
                    if let Truth::Is(lit) = value {
                        self.formula.clause([!way, lit]);
                    }
                }
                if let Some(usable) = tester.reading().and_then(|reading| allowed(self, reading)) {
                    self.formula.clause([!way, usable]);
                }
                ways.push(way);
            }
        }
        self.formula.clause(ways);
        tested
    }

    /// That some reading, void or not, does for an element in the first round.
    pub(super) fn tested_if_void(&mut self, element: usize) -> Lit {
        let Element { target, start, .. } = self.elements[element];
        self.some_way(0, target, start, |_, _| None)
    }

    /// Adds a target for a start, and tells its number.
    pub(super) fn add_element(&mut self, target: u32, start: Start) -> usize {
        let start = self.start(start);
        if let Some(known) = self.elements.iter().position(|row| row.target == target && row.start == start) {
            return known;
        }
        let tested: Vec<Lit> = (0..self.rounds.len()).map(|round| self.tested_in(round, target, start)).collect();
        self.elements.push(Element { target, start, tested });
        let number = self.elements.len() - 1;
        for count in 0..self.within.len() {
            if let Some(within) = self.within[count] {
                self.require(number, count, within);
            }
        }
        number
    }

    fn require(&mut self, element: usize, count: usize, within: Lit) {
        let row = &self.elements[element];
        let clause = row.tested[..count].iter().copied().chain([!within, !self.wanted[row.target as usize]]);
        let clause: Vec<Lit> = clause.collect();
        self.formula.clause(clause);
    }

    /// A literal that makes every wanted element be tested in the first `count` rounds.
    pub(super) fn within(&mut self, count: usize) -> Lit {
        self.grow(count);
        if self.within.len() <= count {
            self.within.resize(count + 1, None);
        }
        if let Some(known) = self.within[count] {
            return known;
        }
        let within = self.formula.lit();
        self.within[count] = Some(within);
        for element in 0..self.elements.len() {
            self.require(element, count, within);
        }
        within
    }

    pub(super) fn wanted(&self, target: u32) -> Lit {
        self.wanted[target as usize]
    }

    /// For each member, that it is not operated before a round.
    pub(super) fn unmoved(&self, round: usize) -> Vec<Lit> {
        self.rounds[round].operated.iter().map(|&operated| !operated).collect()
    }

    /// After [`Answer::No`]: those of the literals asked with that can't hold together.
    pub(super) fn core(&mut self) -> Vec<Lit> {
        self.formula.core()
    }

    /// That everything stands as at the start in a round.
    pub(super) fn as_at_start(&self, round: usize) -> Vec<Lit> {
        let members = self.problem.members.iter().zip(&self.rounds[round].choices);
        members.map(|(member, choice)| choice.lit(member.start)).collect()
    }

    /// That no unknown device stands as found in the first round.
    pub(super) fn none_as_found(&self) -> Vec<Lit> {
        let members = self.problem.members.iter().zip(&self.rounds[0].choices);
        members.filter_map(|(member, choice)| Some(!choice.lit(member.one_way?))).collect()
    }

    /// That an element is tested in a round.
    pub(super) fn tested(&self, element: usize, round: usize) -> Lit {
        self.elements[element].tested[round]
    }

    /// The operations of the first `count` rounds.
    pub(super) fn operations(&self, count: usize) -> Count {
        Count::new(self.rounds[..count].iter().flat_map(|round| &round.operated).copied())
    }

    /// The stops of the first `count` rounds.
    pub(super) fn stops(&self, count: usize) -> Count {
        Count::new(self.rounds[..count].iter().flat_map(|round| &round.visited).copied())
    }

    /// A literal that makes at most `most` of what is counted hold; none where no more than that are counted.
    pub(super) fn at_most(&mut self, count: &mut Count, most: usize) -> Option<Lit> {
        count.at_most(&mut self.formula, most)
    }

    pub(super) fn ask(&mut self, with: &[Lit], budget: &mut Budget, watch: &mut Watch<'_>) -> Answer {
        self.formula.ask(with, budget, watch)
    }

    /// That a member has an option in a round.
    pub(super) fn option(&self, round: usize, member: usize, option: u16) -> Lit {
        self.rounds[round].choices[member].lit(option)
    }

    /// After [`Answer::Yes`]: the options of each of the first `count` rounds.
    pub(super) fn settings(&self, count: usize) -> Vec<Vec<u16>> {
        self.rounds[..count]
            .iter()
            .map(|round| round.choices.iter().map(|choice| self.formula.chosen(choice)).collect())
            .collect()
    }
}
