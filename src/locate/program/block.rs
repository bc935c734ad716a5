//! The linear programs of one block, and what their multipliers prove.
//!
//! A block has unknown leakages g ≥ 0 (one for each **column**: gaps that the same sums hold, taken together), sums of
//! them that are at most something (`ups`) and sums that are at least something (`downs`). For multipliers u, v ≥ 0 of
//! these, every g that keeps them has
//!
//! ```text
//! Σ v·least − Σ u·most ≤ Σ over columns of (Σ v of its downs − Σ u of its ups) · g
//! ```
//!
//! so that any choice of multipliers proves something about g (weak duality), and the best choice is itself a linear
//! program: the dual. It is the dual that is given to the solver. What it answers is clipped to u, v ≥ 0 and added up
//! again here, rounded to the safe side; where a column comes out a little short or over, that is made good with the
//! bound that a single sum gives for that column. So a solver that errs can make a bound weaker, never wrong.
//!
//! That a bound is the best, and that faults do explain the readings, is shown the other way round: by leakages
//! ([`leakages`](super::leakages)).
//!
//! Solver: microlp, a simplex written in Rust. A simplex ends at a vertex, and the vertices of these programs have
//! small rational multipliers, so that what they prove is exact but for the last bits. Not taken: an interior-point
//! solver (clarabel), whose multipliers need repair in most columns; a solver with a C or C++ library to build.

use microlp::{ComparisonOp, OptimizationDirection, Problem, Solution, Variable};

/// Multipliers below this are taken for nought: the solver keeps constraints to 1e-7 only.
const NOUGHT: f64 = 1e-9;

/// A certificate counts only if it is off by more than this part of the sums in it.
const CLEAR: f64 = 1e-9;

/// What the solver claims beyond this part of the sums, and its multipliers don't prove, is left open. Multipliers that
/// show a contradiction are scaled until those of the sums at least come to 1, so a claim far below the least of these
/// is nought.
const CLAIMED: f64 = 1e-6;

/// How often multipliers are made smaller for rounding's sake.
const SHRINKS: usize = 3;

/// A sum of columns and its bound, in µS.
#[derive(Clone, Debug)]
pub(in crate::locate) struct Sum {
    /// Ascending.
    pub(in crate::locate) columns: Vec<u32>,
    pub(in crate::locate) bound: f64,
    /// The reading that it comes from, by its place in the block's list.
    pub(in crate::locate) reading: u32,
}

/// Columns and sums that bear on one another.
#[derive(Clone, Debug)]
pub(in crate::locate) struct Block {
    pub(in crate::locate) column_count: usize,
    /// At most; bounds are finite.
    pub(in crate::locate) ups: Vec<Sum>,
    /// At least; bounds are above nought.
    pub(in crate::locate) downs: Vec<Sum>,
    /// For each column the least bound of a single sum at most; infinite where there is none.
    single: Vec<f64>,
}

/// What columns may leak without being faulty.
pub(in crate::locate) struct Healthy<'a> {
    /// For each column, in µS.
    pub(in crate::locate) allowance: &'a [f64],
    /// What all together may leak beyond, in each sum, in µS.
    pub(in crate::locate) threshold: f64,
    /// The columns that may leak anything.
    pub(in crate::locate) faulty: &'a [u32],
}

/// What multipliers that show that no leakages keep all sums are about.
#[derive(Debug)]
pub(in crate::locate) struct Certificate {
    /// The readings whose sums have part in it, ascending.
    pub(in crate::locate) readings: Vec<u32>,
    /// The columns whose healthy leakage has part in it, ascending: one of them must be faulty.
    pub(in crate::locate) columns: Vec<u32>,
}

/// The solver came to no end, or claims what its multipliers don't prove: nothing is known either way.
pub(in crate::locate) struct NotSolved;

/// The least or the greatest that a column can leak.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::locate) enum Extreme {
    Least,
    Greatest,
}

impl Extreme {
    /// The sign of the sums at most in the program whose multipliers prove it.
    fn sign(self) -> f64 {
        match self {
            Extreme::Least => -1.0,
            Extreme::Greatest => 1.0,
        }
    }
}

/// Multipliers of the sums of a block, whatever the solver answered: finite, and nought or more.
#[derive(Clone, Debug, Default)]
struct Multipliers {
    ups: Vec<f64>,
    /// Each with its place among the sums at least; others are nought.
    downs: Vec<(u32, f64)>,
}

impl Multipliers {
    fn clipped(ups: impl IntoIterator<Item = f64>, downs: impl IntoIterator<Item = (u32, f64)>) -> Multipliers {
        Multipliers {
            ups: ups.into_iter().map(clipped).collect(),
            downs: downs.into_iter().map(|(down, value)| (down, clipped(value))).collect(),
        }
    }

    fn shrink(&mut self, part: f64) {
        self.ups.iter_mut().chain(self.downs.iter_mut().map(|entry| &mut entry.1)).for_each(|value| *value *= part);
    }
}

fn clipped(value: f64) -> f64 {
    if value > NOUGHT && value.is_finite() { value } else { 0.0 }
}

/// A number and the most by which it may be off from rounding.
#[derive(Clone, Copy, Default)]
struct Careful {
    value: f64,
    magnitude: f64,
    terms: u32,
}

impl Careful {
    fn add(&mut self, multiplier: f64, value: f64) {
        let term = multiplier * value;
        self.value += term;
        self.magnitude += term.abs();
        self.terms += 1;
    }

    fn slack(self) -> f64 {
        (f64::from(self.terms) + 4.0) * f64::EPSILON * self.magnitude
    }

    /// No more than it is; what overflowed may be anything.
    fn at_least(self) -> f64 {
        let value = self.value - self.slack();
        if value.is_nan() { f64::NEG_INFINITY } else { value }
    }

    /// No less than it is.
    fn at_most(self) -> f64 {
        let value = self.value + self.slack();
        if value.is_nan() { f64::INFINITY } else { value }
    }
}

impl Block {
    pub(in crate::locate) fn new(column_count: usize, ups: Vec<Sum>, downs: Vec<Sum>) -> Block {
        let mut single = vec![f64::INFINITY; column_count];
        for sum in &ups {
            for &column in &sum.columns {
                single[column as usize] = single[column as usize].min(sum.bound);
            }
        }
        Block { column_count, ups, downs, single }
    }

    /// The same columns with the sums of some readings only.
    pub(in crate::locate) fn of_readings(&self, is_kept: impl Fn(u32) -> bool) -> Block {
        let part = |sums: &[Sum]| sums.iter().filter(|sum| is_kept(sum.reading)).cloned().collect();
        Block::new(self.column_count, part(&self.ups), part(&self.downs))
    }

    /// How large a program is, as columns times sums.
    pub(in crate::locate) fn size(&self) -> usize {
        self.column_count * (self.ups.len() + self.downs.len())
    }

    /// A bound on what a column can leak, in µS. The greatest is that of its least sum, infinite where there is none;
    /// the least that of one sum at least and single sums for the others in it.
    pub(in crate::locate) fn by_one_sum(&self, column: u32, extreme: Extreme) -> f64 {
        if extreme == Extreme::Greatest {
            return self.single[column as usize];
        }
        let mut least = 0.0f64;
        for sum in self.downs.iter().filter(|sum| sum.columns.binary_search(&column).is_ok()) {
            let mut rest = Careful::default();
            rest.add(1.0, sum.bound);
            for &other in sum.columns.iter().filter(|&&other| other != column) {
                rest.add(-1.0, self.single[other as usize]);
            }
            least = least.max(rest.at_least());
        }
        least
    }

    /// The best bound on what a column can leak, in µS, as far as the solver finds it: it is proven in any case.
    pub(in crate::locate) fn bound(&self, column: u32, extreme: Extreme) -> f64 {
        let single = self.by_one_sum(column, extreme);
        if single.is_infinite() {
            return single;
        }
        let multipliers = self.multipliers(column, extreme);
        let proven = multipliers.and_then(|multipliers| self.proven(column, extreme, multipliers));
        match (proven, extreme) {
            (None, _) => single,
            (Some(proven), Extreme::Least) => proven.max(single),
            (Some(proven), Extreme::Greatest) => proven.max(0.0).min(single),
        }
    }

    /// The multipliers that the solver takes for the best.
    fn multipliers(&self, column: u32, extreme: Extreme) -> Option<Multipliers> {
        let sign = extreme.sign();
        let (direction, comparison) = match extreme {
            Extreme::Least => (OptimizationDirection::Maximize, ComparisonOp::Le),
            Extreme::Greatest => (OptimizationDirection::Minimize, ComparisonOp::Ge),
        };
        let downs = self.telling_downs(|other| other == column || self.single[other as usize].is_finite());
        let mut problem = Problem::new(direction);
        let u: Vec<Variable> = self.ups.iter().map(|sum| any(&mut problem, sign * sum.bound)).collect();
        let v: Vec<Variable> =
            downs.iter().map(|&down| any(&mut problem, -sign * self.downs[down as usize].bound)).collect();
        for (number, terms) in self.terms(&u, &downs, &v, sign).into_iter().enumerate() {
            if !terms.is_empty() {
                problem.add_constraint(terms, comparison, wanted(number, column));
            }
        }
        let solution = solved(&problem)?;
        let value = |variable: &Variable| solution.var_value(*variable);
        Some(Multipliers::clipped(u.iter().map(value), downs.into_iter().zip(v.iter().map(value))))
    }

    /// What multipliers prove of a column; none where they prove nothing.
    fn proven(&self, column: u32, extreme: Extreme, mut multipliers: Multipliers) -> Option<f64> {
        let sign = extreme.sign();
        if extreme == Extreme::Least {
            // Smaller multipliers in proportion prove as well: so the column itself never counts more than once.
            let counted = |multipliers: &Multipliers| -self.balances(multipliers)[column as usize].at_least();
            for _ in 0..SHRINKS {
                let counted = counted(&multipliers);
                if counted > 1.0 {
                    multipliers.shrink((1.0 - 4.0 * f64::EPSILON) / counted);
                }
            }
            if counted(&multipliers) > 1.0 {
                return None;
            }
        }
        let mut proven = self.total(sign, &multipliers);
        for (number, balance) in self.balances(&multipliers).into_iter().enumerate() {
            // By how much the column counts too little towards the greatest, or too much towards the least.
            let off = sign * wanted(number, column) - balance.at_least();
            if off > 0.0 && !(extreme == Extreme::Least && number == column as usize) {
                if self.single[number].is_infinite() {
                    return None;
                }
                proven.add(sign * off, self.single[number]);
            }
        }
        Some(match extreme {
            Extreme::Least => proven.at_least(),
            Extreme::Greatest => proven.at_most(),
        })
    }

    /// Shows that no leakages keep all sums, where that is so and can be shown.
    ///
    /// None says that there are such leakages, as far as the solver can be believed.
    ///
    /// With `healthy`, all columns but the faulty ones must also keep to what they may leak.
    pub(in crate::locate) fn contradiction(
        &self,
        healthy: Option<&Healthy<'_>>,
    ) -> Result<Option<Certificate>, NotSolved> {
        // A column that nothing bounds makes its sums say nothing.
        let downs =
            self.telling_downs(|column| !is_faulty(healthy, column) || self.single[column as usize].is_finite());
        if downs.is_empty() {
            return Ok(None);
        }
        let mut problem = Problem::new(OptimizationDirection::Maximize);
        let u: Vec<Variable> = self.ups.iter().map(|sum| any(&mut problem, -sum.bound)).collect();
        let v: Vec<Variable> =
            downs.iter().map(|&down| problem.add_var(self.downs[down as usize].bound, (0.0, 1.0))).collect();
        // What all together may leak beyond the healthy: one multiplier for each sum at least.
        let t: Vec<Variable> = match healthy {
            Some(healthy) => downs.iter().map(|_| any(&mut problem, -healthy.threshold)).collect(),
            None => Vec::new(),
        };
        let beyond = self.terms(&[], &downs, &t, 1.0);
        let mut c: Vec<Option<Variable>> = vec![None; self.column_count];
        for (number, mut terms) in self.terms(&u, &downs, &v, -1.0).into_iter().enumerate() {
            if terms.is_empty() {
                continue;
            }
            if let (Some(healthy), false) = (healthy, is_faulty(healthy, number as u32)) {
                let own = any(&mut problem, -healthy.allowance[number]);
                c[number] = Some(own);
                terms.push((own, -1.0));
                let shared = beyond[number].iter().copied().chain([(own, 1.0)]);
                problem.add_constraint(shared.collect::<Vec<_>>(), ComparisonOp::Le, 0.0);
            }
            problem.add_constraint(terms, ComparisonOp::Le, 0.0);
        }
        problem.add_constraint(v.iter().map(|&v| (v, 1.0)).collect::<Vec<_>>(), ComparisonOp::Le, 1.0);
        let solution = solved(&problem).ok_or(NotSolved)?;
        let value = |variable: Variable| solution.var_value(variable);
        let of_downs = |variables: Vec<Variable>| downs.iter().copied().zip(variables.into_iter().map(value));
        let answer = SolverAnswer {
            sums: Multipliers::clipped(u.into_iter().map(value), of_downs(v)),
            threshold: Multipliers::clipped([], of_downs(t)),
            allowances: c.into_iter().map(|own| own.map_or(0.0, |own| clipped(value(own)))).collect(),
        };
        let least = downs.iter().map(|&down| self.downs[down as usize].bound).fold(f64::INFINITY, f64::min);
        match self.shown(healthy, &answer) {
            Ok(certificate) => Ok(Some(certificate)),
            Err(magnitude) if magnitude.is_finite() && solution.objective() <= CLAIMED * magnitude.max(least) => {
                Ok(None)
            }
            Err(_) => Err(NotSolved),
        }
    }

    /// What an answer shows; where it shows nothing, how much was added up.
    fn shown(&self, healthy: Option<&Healthy<'_>>, answer: &SolverAnswer) -> Result<Certificate, f64> {
        let mut proven = self.total(-1.0, &answer.sums);
        for &(_, multiplier) in &answer.threshold.downs {
            proven.add(-multiplier, healthy.map_or(0.0, |healthy| healthy.threshold));
        }
        let mut columns = Vec::new();
        let beyond = self.balances(&answer.threshold);
        for (number, balance) in self.balances(&answer.sums).into_iter().enumerate() {
            let mut over = -balance.at_least();
            if let (Some(healthy), false) = (healthy, is_faulty(healthy, number as u32)) {
                // Whatever is over counts at what the column may leak: its allowance, and its share of the threshold
                // as far as the multipliers have that.
                let own = answer.allowances[number].max(over).max(0.0);
                if own > 0.0 {
                    proven.add(-own, healthy.allowance[number]);
                    let shared = (-beyond[number].at_most()).max(0.0);
                    if own > shared {
                        proven.add(-(own - shared), healthy.threshold);
                    }
                    columns.push(number as u32);
                }
                over -= own;
            }
            if over > 0.0 {
                if self.single[number].is_infinite() {
                    return Err(proven.magnitude);
                }
                proven.add(-over, self.single[number]);
            }
        }
        let is_shown = proven.at_least() > CLEAR * proven.magnitude;
        if !is_shown {
            return Err(proven.magnitude);
        }
        let Multipliers { ups, downs } = &answer.sums;
        let downs = downs.iter().filter(|entry| entry.1 > 0.0).map(|entry| self.downs[entry.0 as usize].reading);
        let ups = self.ups.iter().zip(ups).filter(|entry| *entry.1 > 0.0).map(|(sum, _)| sum.reading);
        let mut readings: Vec<u32> = downs.chain(ups).collect();
        readings.sort_unstable();
        readings.dedup();
        Ok(Certificate { readings, columns })
    }

    /// The sums at least of which all columns are such.
    fn telling_downs(&self, tells: impl Fn(u32) -> bool) -> Vec<u32> {
        let downs = 0..self.downs.len() as u32;
        downs.filter(|&down| self.downs[down as usize].columns.iter().all(|&column| tells(column))).collect()
    }

    /// For each column the multipliers that bear on it: with this sign of the sums at most, the other of those at
    /// least.
    fn terms(&self, u: &[Variable], downs: &[u32], v: &[Variable], sign: f64) -> Vec<Vec<(Variable, f64)>> {
        let mut terms = vec![Vec::new(); self.column_count];
        let ups = self.ups.iter().zip(u).map(|(sum, &variable)| (sum, (variable, sign)));
        let downs = downs.iter().zip(v).map(|(&down, &variable)| (&self.downs[down as usize], (variable, -sign)));
        for (sum, term) in ups.chain(downs) {
            sum.columns.iter().for_each(|&column| terms[column as usize].push(term));
        }
        terms
    }

    /// What the bounds of the sums come to: with this sign those at most, the other those at least; what counts for it
    /// first.
    fn total(&self, sign: f64, multipliers: &Multipliers) -> Careful {
        let mut total = Careful::default();
        let add_ups = |total: &mut Careful| {
            self.ups
                .iter()
                .zip(&multipliers.ups)
                .for_each(|(sum, &multiplier)| total.add(sign * multiplier, sum.bound));
        };
        if sign > 0.0 {
            add_ups(&mut total);
        }
        for &(down, multiplier) in &multipliers.downs {
            total.add(-sign * multiplier, self.downs[down as usize].bound);
        }
        if sign < 0.0 {
            add_ups(&mut total);
        }
        total
    }

    /// For each column what the multipliers of its sums come to: those at most less those at least.
    fn balances(&self, multipliers: &Multipliers) -> Vec<Careful> {
        let mut balances = vec![Careful::default(); self.column_count];
        let ups = self.ups.iter().zip(multipliers.ups.iter().copied());
        let downs = multipliers.downs.iter().map(|&(down, multiplier)| (&self.downs[down as usize], -multiplier));
        for (sum, multiplier) in ups.chain(downs).filter(|entry| entry.1 != 0.0) {
            sum.columns.iter().for_each(|&column| balances[column as usize].add(multiplier, 1.0));
        }
        balances
    }
}

/// The solver's answer to whether health is contradicted.
#[derive(Default)]
struct SolverAnswer {
    sums: Multipliers,
    /// Of what all together may leak beyond the healthy, in each sum at least.
    threshold: Multipliers,
    /// For each column, of what it may leak.
    allowances: Vec<f64>,
}

/// Without health to keep to, every column may leak anything.
fn is_faulty(healthy: Option<&Healthy<'_>>, column: u32) -> bool {
    healthy.is_none_or(|healthy| healthy.faulty.contains(&column))
}

pub(super) fn wanted(number: usize, column: u32) -> f64 {
    if number == column as usize { 1.0 } else { 0.0 }
}

/// A variable that is nought or more.
pub(super) fn any(problem: &mut Problem, cost: f64) -> Variable {
    problem.add_var(cost, (0.0, f64::INFINITY))
}

/// The solver's solution; none where it came to no end.
pub(super) fn solved(problem: &Problem) -> Option<Solution> {
    problem.solve().ok()?.into_solution().ok()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const COLUMNS: usize = 4;

    /// What a solver that errs may answer.
    fn answered() -> impl Strategy<Value = f64> {
        prop_oneof![
            4 => -3.0..3.0,
            1 => prop::sample::select(vec![
                0.0, -0.0, 1.0, 1e-8, -1e-8, 1e-300, 1e12, 1e300, f64::MAX, -f64::MAX, f64::NAN, f64::INFINITY,
                f64::NEG_INFINITY,
            ]),
        ]
    }

    /// Leakages, and a block of sums that they keep.
    fn kept() -> impl Strategy<Value = (Vec<f64>, Block)> {
        let leakage = prop_oneof![Just(0.0), 1e-4..1e-2, 0.1..50.0];
        let sum = (1u32..1 << COLUMNS, 0.0..0.5);
        let sums = || prop::collection::vec(sum.clone(), 1..5);
        (prop::collection::vec(leakage, COLUMNS), sums(), sums()).prop_map(|(leakages, ups, downs)| {
            let sum = |(columns, off): (u32, f64), side: f64| {
                let columns: Vec<u32> = (0..COLUMNS as u32).filter(|column| columns >> column & 1 == 1).collect();
                let total: f64 = columns.iter().map(|&column| leakages[column as usize]).sum();
                Sum { columns, bound: total * (1.0 + side * (off + 1e-12)), reading: 0 }
            };
            let ups = ups.into_iter().map(|row| sum(row, 1.0)).collect();
            let downs = downs.into_iter().map(|row| sum(row, -1.0)).filter(|sum| sum.bound > 0.0).collect();
            let block = Block::new(COLUMNS, ups, downs);
            (leakages, block)
        })
    }

    fn multipliers(block: &Block, answered: &[f64]) -> Multipliers {
        let downs = (0u32..).zip(answered[5..].iter().copied()).take(block.downs.len());
        Multipliers::clipped(answered[..block.ups.len()].iter().copied(), downs)
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(4096))]

        /// Whatever the solver answers: leakages that keep the sums are within the bounds, and contradict nothing.
        #[test]
        fn wrong_multipliers_prove_nothing_wrong(
            (leakages, block) in kept(), answers in prop::collection::vec(answered(), 24), faulty in 0u32..1 << COLUMNS,
        ) {
            for column in 0..COLUMNS as u32 {
                let leakage = leakages[column as usize];
                for extreme in [Extreme::Least, Extreme::Greatest] {
                    let single = block.by_one_sum(column, extreme);
                    let proven = block.proven(column, extreme, multipliers(&block, &answers));
                    for bound in [Some(single), proven, Some(block.bound(column, extreme))].into_iter().flatten() {
                        let (is_within, off) = match extreme {
                            Extreme::Least => (bound <= leakage * (1.0 + 1e-11), bound - leakage),
                            Extreme::Greatest => (bound >= leakage * (1.0 - 1e-11), leakage - bound),
                        };
                        prop_assert!(is_within, "{:?} {} of {} is off by {}", extreme, bound, leakage, off);
                    }
                }
            }
            let faulty: Vec<u32> = (0..COLUMNS as u32).filter(|column| faulty >> column & 1 == 1).collect();
            let allowance: Vec<f64> = leakages.iter().map(|leakage| leakage * 0.75).collect();
            // In no sum do the healthy leak more than this beyond it.
            let threshold = leakages.iter().map(|leakage| leakage * 0.25).sum::<f64>() * (1.0 + 1e-9);
            let healthy = Healthy { allowance: &allowance, threshold, faulty: &faulty };
            for healthy in [None, Some(&healthy)] {
                let answer = SolverAnswer {
                    sums: multipliers(&block, &answers),
                    threshold: Multipliers { ups: Vec::new(), ..multipliers(&block, &answers[10..]) },
                    allowances: answers[20..].iter().map(|&value| clipped(value)).collect(),
                };
                prop_assert!(block.shown(healthy, &answer).is_err(), "there are such leakages");
                prop_assert!(!matches!(block.contradiction(healthy), Ok(Some(_))));
            }
        }
    }

    #[test]
    fn what_overflowed_bounds_nothing() {
        let mut sum = Careful::default();
        sum.add(f64::MAX, 10.0);
        sum.add(-f64::MAX, 10.0);
        assert_eq!((sum.at_least(), sum.at_most()), (f64::NEG_INFINITY, f64::INFINITY));
    }
}
