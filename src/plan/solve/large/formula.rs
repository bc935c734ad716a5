//! Copper and contacts as a propositional formula, and the solver that answers it.
//!
//! **Reached** is the hard half. "If this holds, then that body is joined to the lead" must not let two bodies hold
//! each other up with no way to the lead: so each body that is claimed names an edge that holds it up, the far end of
//! that edge is claimed in turn, and no two bodies hold up each other. Longer circles are ruled out one by one when a
//! model has one (a clause for the circle): in wiring most circles need a device to stand in two positions at once, so
//! hardly any turn up. This is how answer-set programs are solved (Clark's completion with loop formulas added when
//! they are violated; Lin and Zhao 2004). **Not joined** is the easy half: a set that holds one lead, holds with a body
//! all that is joined to it, and does not hold the other lead.
//!
//! Design not taken: a number for each body that counts edges from the lead. It needs no circles ruled out, but is
//! larger by the square of the longest way. Nor a clause for every cut: a chain of n intermediate switches has 2^n.
//!
//! Solver: BatSat (a MiniSat in Rust, incremental, with assumptions and cores). Chosen since it is pure Rust, brings no
//! clock and no files, compiles for the browser (`wasm32-unknown-unknown`, tried), and asks at every decision whether to
//! stop, so that a budget can be a count of steps.

use std::cell::Cell;

pub(super) use batsat::Lit;
use batsat::{SolverInterface, lbool};
use rustc_hash::FxHashMap;

use crate::observer::Watch;
use crate::reading::{Conduct, Side, Subgraph, SubgraphEnd};

/// What is known of something without asking: it holds, it does not, or a literal tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Truth {
    True,
    False,
    Is(Lit),
}

/// What a solver answered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Answer {
    Yes,
    No,
    /// The budget is spent, or the observer said to stop.
    GaveUp,
}

/// What may still be spent on asking: a clause or a decision of the solver costs one; a question, and each conflict
/// that the solver meets, one for every hundred variables. A count, not a time, so that answers are repeatable.
#[derive(Clone, Copy, Debug)]
pub(super) struct Budget(pub(super) u64);

impl Budget {
    /// Spends a part of what is left at the most: one by `parts`.
    pub(super) fn part<T>(&mut self, parts: u64, spend: impl FnOnce(&mut Budget) -> T) -> T {
        let mut part = Budget(self.0 / parts);
        let before = part.0;
        let answer = spend(&mut part);
        self.0 -= before - part.0;
        answer
    }
}

/// Stops the solver when so much is spent, so that the observer can be asked in between.
#[derive(Debug, Default)]
pub(super) struct Steps {
    left: Cell<u64>,
    price_of_conflict: u64,
}

impl batsat::Callbacks for Steps {
    fn stop(&self) -> bool {
        let left = self.left.get();
        self.left.set(left.saturating_sub(1));
        left == 0
    }

    fn on_new_clause(&mut self, _: &[Lit], kind: batsat::ClauseKind) {
        if kind == batsat::ClauseKind::Learnt {
            self.left.set(self.left.get().saturating_sub(self.price_of_conflict));
        }
    }
}

/// One of several alternatives, each with a literal; exactly one holds.
#[derive(Clone, Debug)]
pub(super) struct OptionLits {
    lits: Vec<Lit>,
    /// Literals for sets of alternatives, made when asked for.
    sets: FxHashMap<u128, Lit>,
}

impl OptionLits {
    pub(super) fn lit(&self, alternative: u16) -> Lit {
        self.lits[usize::from(alternative)]
    }

    pub(super) fn count(&self) -> u16 {
        self.lits.len() as u16
    }
}

/// Claims that bodies of a part are joined to a lead, with what holds them up.
#[derive(Debug)]
struct Claims {
    /// For each body: it is claimed.
    claimed: Vec<Lit>,
    /// (from, to, literal): the claim of `to` rests on that of `from`.
    rests: Vec<(u32, u32, Lit)>,
}

/// The edges of a part as they lie from a lead, which is none; the other lead is one more than the last body.
pub(super) fn edges_from(part: &Subgraph, side: Side) -> impl Iterator<Item = ([Option<u32>; 2], Conduct)> {
    let node = move |end: SubgraphEnd| match end {
        SubgraphEnd::Node(node) => Some(node),
        SubgraphEnd::Lead(lead) if lead == side => None,
        SubgraphEnd::Lead(_) => Some(part.node_count),
    };
    part.edges.iter().map(move |&(ends, when)| (ends.map(node), when))
}

/// A formula with its solver.
pub(super) struct Formula {
    solver: batsat::Solver<Steps>,
    claims: Vec<Claims>,
    /// Clauses since the last question, not paid for yet.
    unpaid: u64,
    #[cfg(test)]
    second: super::confirm::Second,
}

/// Claims about one part: for each body, whether it is claimed to be joined to the lead.
#[derive(Clone, Debug)]
pub(super) struct Joined(Vec<Lit>);

impl Joined {
    pub(super) fn of(&self, node: u32) -> Lit {
        self.0[node as usize]
    }
}

impl Formula {
    pub(super) fn new() -> Formula {
        Formula {
            solver: batsat::Solver::default(),
            claims: Vec::new(),
            unpaid: 0,
            #[cfg(test)]
            second: super::confirm::Second::default(),
        }
    }

    pub(super) fn lit(&mut self) -> Lit {
        Lit::new(self.solver.new_var_default(), true)
    }

    pub(super) fn clause(&mut self, lits: impl IntoIterator<Item = Lit>) {
        let mut lits: Vec<Lit> = lits.into_iter().collect();
        #[cfg(test)]
        self.second.clause(&lits);
        self.unpaid += 1;
        // The answer, whether the formula can still hold, comes when it is asked.
        self.solver.add_clause_reuse(&mut lits);
    }

    /// A clause that the second solver is not told of: a fault of the first.
    #[cfg(test)]
    pub(super) fn clause_of_the_first(&mut self, lits: impl IntoIterator<Item = Lit>) {
        self.solver.add_clause_reuse(&mut lits.into_iter().collect());
    }

    pub(super) fn choice(&mut self, count: u16) -> OptionLits {
        let lits: Vec<Lit> = match count {
            2 => {
                let second = self.lit();
                vec![!second, second]
            }
            _ => {
                let lits: Vec<Lit> = (0..count).map(|_| self.lit()).collect();
                self.clause(lits.iter().copied());
                for (number, &one) in lits.iter().enumerate() {
                    for &other in &lits[number + 1..] {
                        self.clause([!one, !other]);
                    }
                }
                lits
            }
        };
        OptionLits { lits, sets: FxHashMap::default() }
    }

    /// Whether one of a set of alternatives (bit a: alternative a) is chosen.
    pub(super) fn among(&mut self, choice: &mut OptionLits, set: u128) -> Truth {
        let count = choice.lits.len();
        let all = (1u128 << count) - 1;
        let set = set & all;
        let rest = all & !set;
        if set == 0 {
            Truth::False
        } else if rest == 0 {
            Truth::True
        } else if set.count_ones() == 1 {
            Truth::Is(choice.lits[set.trailing_zeros() as usize])
        } else if rest.count_ones() == 1 {
            Truth::Is(!choice.lits[rest.trailing_zeros() as usize])
        } else if let Some(&known) = choice.sets.get(&set) {
            Truth::Is(known)
        } else {
            let any = self.lit();
            let lits: Vec<Lit> = (0..count).filter(|&at| set >> at & 1 == 1).map(|at| choice.lits[at]).collect();
            for &lit in &lits {
                self.clause([!lit, any]);
            }
            self.clause(lits.into_iter().chain([!any]));
            choice.sets.insert(set, any);
            Truth::Is(any)
        }
    }

    /// Literals that hold only where a part's bodies are joined for sure to a lead, once circles are ruled out.
    ///
    /// `closed` tells when a contact is closed; `perhaps` counts what may conduct as conducting. An edge to the other
    /// lead leads nowhere. The last literal, one more than there are bodies, is of the other lead itself.
    pub(super) fn joined(
        &mut self,
        part: &Subgraph,
        side: Side,
        mut closed: impl FnMut(&mut Formula, Conduct) -> Truth,
    ) -> Joined {
        let other = part.node_count;
        let claimed: Vec<Lit> = (0..=part.node_count).map(|_| self.lit()).collect();
        let mut held_up: Vec<Option<Vec<Lit>>> = vec![Some(Vec::new()); claimed.len()];
        let mut rests: Vec<(u32, u32, Lit)> = Vec::new();
        for (ends, when) in edges_from(part, side) {
            let value = closed(self, when);
            if value == Truth::False {
                continue;
            }
            match ends {
                [None, None] => {}
                [None, Some(far)] | [Some(far), None] => match value {
                    Truth::True => held_up[far as usize] = None,
                    Truth::Is(lit) => {
                        if let Some(list) = &mut held_up[far as usize] {
                            list.push(lit);
                        }
                    }
                    Truth::False => {}
                },
                [Some(a), Some(b)] if a == b => {}
                [Some(a), Some(b)] => {
                    let mut both = Vec::new();
                    for (from, to) in [(a, b), (b, a)] {
                        if from == other {
                            continue;
                        }
                        let rest = self.lit();
                        self.clause([!rest, claimed[from as usize]]);
                        if let Truth::Is(lit) = value {
                            self.clause([!rest, lit]);
                        }
                        if let Some(list) = &mut held_up[to as usize] {
                            list.push(rest);
                        }
                        rests.push((from, to, rest));
                        both.push(rest);
                    }
                    if let [one, back] = both[..] {
                        self.clause([!one, !back]);
                    }
                }
            }
        }
        for (node, list) in held_up.into_iter().enumerate() {
            if let Some(list) = list {
                self.clause(list.into_iter().chain([!claimed[node]]));
            }
        }
        self.claims.push(Claims { claimed: claimed.clone(), rests });
        Joined(claimed)
    }

    /// Literals that hold at least where a part's bodies are joined to a lead, while `guard` holds. The last one is of
    /// the other lead.
    pub(super) fn all_joined(
        &mut self,
        part: &Subgraph,
        side: Side,
        guard: Option<Lit>,
        mut closed: impl FnMut(&mut Formula, Conduct) -> Truth,
    ) -> Joined {
        let other = part.node_count;
        let joined: Vec<Lit> = (0..=part.node_count).map(|_| self.lit()).collect();
        for (ends, when) in edges_from(part, side) {
            let value = closed(self, when);
            let unless = match value {
                Truth::False => continue,
                Truth::True => None,
                Truth::Is(lit) => Some(!lit),
            };
            let mut lead_to = |from: Option<Lit>, to: u32| {
                let clause = [Some(joined[to as usize]), from.map(|lit| !lit), unless, guard.map(|lit| !lit)];
                self.clause(clause.into_iter().flatten());
            };
            match ends {
                [None, None] => {}
                [None, Some(far)] | [Some(far), None] => lead_to(None, far),
                [Some(a), Some(b)] => {
                    if a != other {
                        lead_to(Some(joined[a as usize]), b);
                    }
                    if b != other {
                        lead_to(Some(joined[b as usize]), a);
                    }
                }
            }
        }
        Joined(joined)
    }

    /// Asks whether the formula can hold with these literals.
    pub(super) fn ask(&mut self, with: &[Lit], budget: &mut Budget, watch: &mut Watch<'_>) -> Answer {
        /// What is spent before the observer is asked.
        const SLICE: u64 = 200_000;
        let variables = u64::from(self.solver.num_vars());
        let price = 1 + variables / 100;
        budget.0 = budget.0.saturating_sub(std::mem::take(&mut self.unpaid) + price);
        // A model takes a decision for each variable that nothing decides: a slice must leave room for some.
        let slice = SLICE.max(20 * variables);
        loop {
            if budget.0 == 0 || !watch.goes_on() {
                return Answer::GaveUp;
            }
            let steps = slice.min(budget.0);
            let callbacks = self.solver.cb_mut();
            callbacks.price_of_conflict = price;
            callbacks.left.set(steps);
            let result = self.solver.solve_limited(with);
            budget.0 -= steps - self.solver.cb().left.get().min(steps);
            if result == lbool::FALSE {
                #[cfg(test)]
                {
                    let core = self.core();
                    self.second.confirm_no(&core);
                }
                return Answer::No;
            }
            if result == lbool::TRUE && !self.rule_out_circles() {
                return Answer::Yes;
            }
        }
    }

    /// After [`Answer::No`]: those of the literals asked with that can't hold together.
    pub(super) fn core(&mut self) -> Vec<Lit> {
        // The solver's core is the clause that follows: its literals are negated.
        self.solver.unsat_core().iter().map(|&lit| !lit).collect()
    }

    /// After [`Answer::Yes`]: whether a literal holds in the model.
    pub(super) fn holds(&self, lit: Lit) -> bool {
        self.solver.value_lit(lit) == lbool::TRUE
    }

    /// After [`Answer::Yes`]: the alternative that is chosen.
    pub(super) fn chosen(&self, choice: &OptionLits) -> u16 {
        (0..choice.count()).find(|&at| self.holds(choice.lit(at))).unwrap_or(0)
    }

    /// Finds claims of the model that rest on one another in a circle, and rules each circle out.
    fn rule_out_circles(&mut self) -> bool {
        let mut circles: Vec<Vec<Lit>> = Vec::new();
        for claims in &self.claims {
            let holding: Vec<(u32, u32, Lit)> =
                claims.rests.iter().copied().filter(|&(_, _, lit)| self.holds(lit)).collect();
            if holding.is_empty() {
                continue;
            }
            let mut below: Vec<Vec<(u32, Lit)>> = vec![Vec::new(); claims.claimed.len()];
            for &(from, to, lit) in &holding {
                below[to as usize].push((from, lit));
            }
            // Depth first, what each claim rests on; a claim met again while it is being looked at closes a circle.
            let mut state = vec![0u8; below.len()];
            for root in 0..below.len() {
                if state[root] != 0 {
                    continue;
                }
                let mut path: Vec<(u32, usize, Option<Lit>)> = vec![(root as u32, 0, None)];
                state[root] = 1;
                while let Some((node, next, _)) = path.last_mut() {
                    let node = *node as usize;
                    let Some(&(from, lit)) = below[node].get(*next) else {
                        state[node] = 2;
                        path.pop();
                        continue;
                    };
                    *next += 1;
                    match state[from as usize] {
                        0 => {
                            state[from as usize] = 1;
                            path.push((from, 0, Some(lit)));
                        }
                        1 => {
                            let at = path.iter().position(|step| step.0 == from).expect("it is on the path");
                            let circle = path[at + 1..].iter().filter_map(|step| step.2).chain([lit]);
                            circles.push(circle.map(|lit| !lit).collect());
                        }
                        _ => {}
                    }
                }
            }
        }
        let found = !circles.is_empty();
        for circle in circles {
            self.clause(circle);
        }
        found
    }
}
