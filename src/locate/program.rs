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
//! Solver: microlp, a simplex written in Rust. A simplex ends at a vertex, and the vertices of these programs have small
//! rational multipliers, so that what they prove is exact but for the last bits. Not taken: an interior-point solver
//! (clarabel), whose multipliers need repair in most columns; a solver with a C or C++ library to build.

use microlp::{ComparisonOp, OptimizationDirection, Problem, Variable};

/// Multipliers below this are taken for nought: the solver keeps constraints to 1e-7 only.
const NOUGHT: f64 = 1e-9;

/// A certificate counts only if it is off by more than this part of the sums in it.
const CLEAR: f64 = 1e-9;

/// A sum of columns and its bound, in µS.
#[derive(Clone, Debug)]
pub(super) struct Sum {
    /// Ascending.
    pub(super) columns: Vec<u32>,
    pub(super) bound: f64,
    /// The reading that it comes from, by its place in the block's list.
    pub(super) reading: u32,
}

/// Columns and sums that bear on one another.
#[derive(Clone, Debug, Default)]
pub(super) struct Block {
    pub(super) column_count: usize,
    /// At most; bounds are finite.
    pub(super) ups: Vec<Sum>,
    /// At least; bounds are above nought.
    pub(super) downs: Vec<Sum>,
    /// For each column the least bound of a single sum at most; infinite where there is none.
    pub(super) single: Vec<f64>,
}

/// What columns may leak without being faulty.
pub(super) struct Healthy<'a> {
    /// For each column, in µS.
    pub(super) allowance: &'a [f64],
    /// What all together may leak beyond, in each sum, in µS.
    pub(super) threshold: f64,
    /// The columns that may leak anything.
    pub(super) faulty: &'a [u32],
}

/// Multipliers that show that no leakages keep all sums.
pub(super) struct Certificate {
    /// The readings whose sums have part in it, ascending.
    pub(super) readings: Vec<u32>,
    /// The columns whose healthy leakage has part in it, ascending: one of them must be faulty.
    pub(super) columns: Vec<u32>,
}

/// What the solver claims beyond this part of the sums, and its multipliers don't prove, is left open. Multipliers that show
/// a contradiction are scaled until those of the sums at least come to 1, so a claim far below the least of these is nought.
const CLAIMED: f64 = 1e-6;

/// The solver came to no end, or claims what its multipliers don't prove: nothing is known either way.
pub(super) struct NotSolved;

/// A bound that is proven, and whether it is the best that follows from the sums, up to rounding.
#[derive(Clone, Copy)]
pub(super) struct Bound {
    pub(super) value: f64,
    pub(super) is_best: bool,
}

impl Bound {
    fn best(value: f64) -> Bound {
        Bound { value, is_best: true }
    }

    fn weaker(value: f64) -> Bound {
        Bound { value, is_best: false }
    }
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

    fn at_least(self) -> f64 {
        self.value - self.slack()
    }

    fn at_most(self) -> f64 {
        self.value + self.slack()
    }
}

impl Block {
    pub(super) fn new(column_count: usize, ups: Vec<Sum>, downs: Vec<Sum>) -> Block {
        let mut single = vec![f64::INFINITY; column_count];
        for sum in &ups {
            for &column in &sum.columns {
                single[column as usize] = single[column as usize].min(sum.bound);
            }
        }
        Block { column_count, ups, downs, single }
    }

    /// How large a program is, as columns times sums.
    pub(super) fn size(&self) -> usize {
        self.column_count * (self.ups.len() + self.downs.len())
    }

    /// A bound on the greatest leakage of a column from single sums; infinite where nothing bounds it.
    pub(super) fn greatest_by_one_sum(&self, column: u32) -> f64 {
        self.single[column as usize]
    }

    /// A bound on the least leakage of a column from one sum and single bounds of the others in it.
    pub(super) fn least_by_one_sum(&self, column: u32) -> f64 {
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

    /// The sums that can bear on a bound of `column`: a sum at least with another column that nothing bounds proves
    /// nothing.
    fn telling_downs(&self, column: Option<u32>) -> Vec<u32> {
        let tells = |sum: &Sum| {
            sum.columns.iter().all(|&other| Some(other) == column || self.single[other as usize].is_finite())
        };
        (0..self.downs.len() as u32).filter(|&down| tells(&self.downs[down as usize])).collect()
    }

    /// The greatest leakage that a column can have, in µS; infinite where nothing bounds it.
    pub(super) fn greatest(&self, column: u32) -> Bound {
        let single = self.greatest_by_one_sum(column);
        if single.is_infinite() {
            return Bound::best(single);
        }
        let downs = self.telling_downs(Some(column));
        let mut problem = Problem::new(OptimizationDirection::Minimize);
        let u: Vec<Variable> = self.ups.iter().map(|sum| problem.add_var(sum.bound, (0.0, f64::INFINITY))).collect();
        let v: Vec<Variable> =
            downs.iter().map(|&down| problem.add_var(-self.downs[down as usize].bound, (0.0, f64::INFINITY))).collect();
        for (number, terms) in self.by_column(&u, &downs, &v).into_iter().enumerate() {
            let wanted = if number == column as usize { 1.0 } else { 0.0 };
            let terms: Vec<(Variable, f64)> =
                terms.into_iter().map(|(variable, is_up)| (variable, if is_up { 1.0 } else { -1.0 })).collect();
            if !terms.is_empty() {
                problem.add_constraint(terms, ComparisonOp::Ge, wanted);
            }
        }
        let Some([u, v]) = solve(&problem, &u, &v) else { return Bound::weaker(single) };
        let mut proven = Careful::default();
        for (sum, &multiplier) in self.ups.iter().zip(&u) {
            proven.add(multiplier, sum.bound);
        }
        for (&down, &multiplier) in downs.iter().zip(&v) {
            proven.add(-multiplier, self.downs[down as usize].bound);
        }
        for (number, balance) in self.balances(&u, &downs, &v).into_iter().enumerate() {
            let wanted = if number == column as usize { 1.0 } else { 0.0 };
            let short = wanted - balance.least();
            if short > 0.0 {
                let bound = self.single[number];
                if bound.is_infinite() {
                    return Bound::weaker(single);
                }
                proven.add(short, bound);
            }
        }
        Bound::best(proven.at_most().max(0.0).min(single))
    }

    /// The least leakage that a column can have, in µS.
    pub(super) fn least(&self, column: u32) -> Bound {
        let fallback = self.least_by_one_sum(column);
        let downs = self.telling_downs(Some(column));
        let mut problem = Problem::new(OptimizationDirection::Maximize);
        let u: Vec<Variable> = self.ups.iter().map(|sum| problem.add_var(-sum.bound, (0.0, f64::INFINITY))).collect();
        let v: Vec<Variable> =
            downs.iter().map(|&down| problem.add_var(self.downs[down as usize].bound, (0.0, f64::INFINITY))).collect();
        for (number, terms) in self.by_column(&u, &downs, &v).into_iter().enumerate() {
            let wanted = if number == column as usize { 1.0 } else { 0.0 };
            let terms: Vec<(Variable, f64)> =
                terms.into_iter().map(|(variable, is_up)| (variable, if is_up { -1.0 } else { 1.0 })).collect();
            if !terms.is_empty() {
                problem.add_constraint(terms, ComparisonOp::Le, wanted);
            }
        }
        let Some([mut u, mut v]) = solve(&problem, &u, &v) else { return Bound::weaker(fallback) };
        // Smaller multipliers in proportion prove as well: so the column itself never counts more than once.
        let own = -self.balances(&u, &downs, &v)[column as usize].least();
        if own > 1.0 {
            let shrink = (1.0 - 4.0 * f64::EPSILON) / own;
            u.iter_mut().chain(&mut v).for_each(|multiplier| *multiplier *= shrink);
        }
        let mut proven = Careful::default();
        for (&down, &multiplier) in downs.iter().zip(&v) {
            proven.add(multiplier, self.downs[down as usize].bound);
        }
        for (sum, &multiplier) in self.ups.iter().zip(&u) {
            proven.add(-multiplier, sum.bound);
        }
        for (number, balance) in self.balances(&u, &downs, &v).into_iter().enumerate() {
            let wanted = if number == column as usize { 1.0 } else { 0.0 };
            let over = -balance.least() - wanted;
            if over > 0.0 && number != column as usize {
                if self.single[number].is_infinite() {
                    return Bound::weaker(fallback);
                }
                proven.add(-over, self.single[number]);
            }
        }
        Bound::best(proven.at_least().max(fallback))
    }

    /// Shows that no leakages keep all sums, where that is so and can be shown.
    ///
    /// None says that there are such leakages, as far as the solver can be believed.
    ///
    /// With `healthy`, all columns but the faulty ones must also keep to what they may leak.
    pub(super) fn contradiction(&self, healthy: Option<&Healthy<'_>>) -> Result<Option<Certificate>, NotSolved> {
        let is_faulty = |column: usize| healthy.is_none_or(|healthy| healthy.faulty.contains(&(column as u32)));
        let downs: Vec<u32> = match healthy {
            None => self.telling_downs(None),
            // A faulty column that nothing bounds makes its sums say nothing.
            Some(_) => {
                let bounded = |&column: &u32| !is_faulty(column as usize) || self.single[column as usize].is_finite();
                (0..self.downs.len() as u32)
                    .filter(|&down| self.downs[down as usize].columns.iter().all(bounded))
                    .collect()
            }
        };
        if downs.is_empty() {
            return Ok(None);
        }
        let mut problem = Problem::new(OptimizationDirection::Maximize);
        let u: Vec<Variable> = self.ups.iter().map(|sum| problem.add_var(-sum.bound, (0.0, f64::INFINITY))).collect();
        let v: Vec<Variable> =
            downs.iter().map(|&down| problem.add_var(self.downs[down as usize].bound, (0.0, 1.0))).collect();
        // What all together may leak beyond the healthy: one multiplier for each sum at least.
        let t: Vec<Variable> = match healthy {
            Some(healthy) => downs.iter().map(|_| problem.add_var(-healthy.threshold, (0.0, f64::INFINITY))).collect(),
            None => Vec::new(),
        };
        let mut c: Vec<Option<Variable>> = vec![None; self.column_count];
        let beyond = healthy.map(|_| self.by_column(&[], &downs, &t));
        for (number, terms) in self.by_column(&u, &downs, &v).into_iter().enumerate() {
            if terms.is_empty() {
                continue;
            }
            let mut terms: Vec<(Variable, f64)> =
                terms.into_iter().map(|(variable, is_up)| (variable, if is_up { -1.0 } else { 1.0 })).collect();
            if let (Some(healthy), Some(beyond), false) = (healthy, &beyond, is_faulty(number)) {
                let own = problem.add_var(-healthy.allowance[number], (0.0, f64::INFINITY));
                c[number] = Some(own);
                terms.push((own, -1.0));
                let mut shared: Vec<(Variable, f64)> =
                    beyond[number].iter().map(|&(variable, _)| (variable, -1.0)).collect();
                shared.push((own, 1.0));
                problem.add_constraint(shared, ComparisonOp::Le, 0.0);
            }
            problem.add_constraint(terms, ComparisonOp::Le, 0.0);
        }
        problem.add_constraint(v.iter().map(|&v| (v, 1.0)).collect::<Vec<_>>(), ComparisonOp::Le, 1.0);
        let solution = problem.solve().ok().and_then(|outcome| outcome.into_solution().ok()).ok_or(NotSolved)?;
        let claimed = solution.objective();
        let least = downs.iter().map(|&down| self.downs[down as usize].bound).fold(f64::INFINITY, f64::min);
        let not_shown =
            |magnitude: f64| if claimed > CLAIMED * magnitude.max(least) { Err(NotSolved) } else { Ok(None) };
        let clipped = |variable: Variable| {
            let value = solution.var_value(variable);
            if value > NOUGHT { value } else { 0.0 }
        };
        let u: Vec<f64> = u.into_iter().map(clipped).collect();
        let v: Vec<f64> = v.into_iter().map(clipped).collect();
        let t: Vec<f64> = t.into_iter().map(clipped).collect();
        let mut proven = Careful::default();
        for (&down, &multiplier) in downs.iter().zip(&v) {
            proven.add(multiplier, self.downs[down as usize].bound);
        }
        for (sum, &multiplier) in self.ups.iter().zip(&u) {
            proven.add(-multiplier, sum.bound);
        }
        for &multiplier in &t {
            proven.add(-multiplier, healthy.map_or(0.0, |healthy| healthy.threshold));
        }
        let mut columns = Vec::new();
        let beyond = self.balances(&[], &downs, &t);
        for (number, balance) in self.balances(&u, &downs, &v).into_iter().enumerate() {
            let mut over = -balance.least();
            if let (Some(healthy), Some(own)) = (healthy, c[number]) {
                // Whatever is over counts at what the column may leak: its allowance, and its share of the threshold
                // as far as the multipliers have that.
                let own = clipped(own).max(over).max(0.0);
                if own > 0.0 {
                    proven.add(-own, healthy.allowance[number]);
                    let shared = (-beyond[number].greatest()).max(0.0);
                    if own > shared {
                        proven.add(-(own - shared), healthy.threshold);
                    }
                    columns.push(number as u32);
                }
                over -= own;
            }
            if over > 0.0 {
                if self.single[number].is_infinite() {
                    return not_shown(proven.magnitude);
                }
                proven.add(-over, self.single[number]);
            }
        }
        if proven.at_least() <= CLEAR * proven.magnitude {
            return not_shown(proven.magnitude);
        }
        let mut readings: Vec<u32> = Vec::new();
        readings.extend(
            downs.iter().zip(&v).filter(|entry| *entry.1 > 0.0).map(|(&down, _)| self.downs[down as usize].reading),
        );
        readings.extend(self.ups.iter().zip(&u).filter(|entry| *entry.1 > 0.0).map(|(sum, _)| sum.reading));
        readings.sort_unstable();
        readings.dedup();
        Ok(Some(Certificate { readings, columns }))
    }

    /// For each column the multipliers that bear on it, with whether of a sum at most.
    fn by_column(&self, u: &[Variable], downs: &[u32], v: &[Variable]) -> Vec<Vec<(Variable, bool)>> {
        let mut terms = vec![Vec::new(); self.column_count];
        for (sum, &variable) in self.ups.iter().zip(u) {
            for &column in &sum.columns {
                terms[column as usize].push((variable, true));
            }
        }
        for (&down, &variable) in downs.iter().zip(v) {
            for &column in &self.downs[down as usize].columns {
                terms[column as usize].push((variable, false));
            }
        }
        terms
    }

    /// For each column what the multipliers of its sums come to: those at most less those at least.
    fn balances(&self, u: &[f64], downs: &[u32], v: &[f64]) -> Vec<Balance> {
        let mut balances = vec![Balance::default(); self.column_count];
        for (sum, &multiplier) in self.ups.iter().zip(u).filter(|entry| *entry.1 > 0.0) {
            for &column in &sum.columns {
                balances[column as usize].0.add(multiplier, 1.0);
            }
        }
        for (&down, &multiplier) in downs.iter().zip(v).filter(|entry| *entry.1 > 0.0) {
            for &column in &self.downs[down as usize].columns {
                balances[column as usize].0.add(-multiplier, 1.0);
            }
        }
        balances
    }
}

/// Multipliers of sums at most less those of sums at least.
#[derive(Clone, Copy, Default)]
struct Balance(Careful);

impl Balance {
    /// The least that it can be: what is taken for short is no less than it is.
    fn least(self) -> f64 {
        self.0.at_least()
    }

    /// The greatest that it can be.
    fn greatest(self) -> f64 {
        self.0.at_most()
    }
}

/// The clipped multipliers of an optimal solution; none where the solver has none.
fn solve(problem: &Problem, u: &[Variable], v: &[Variable]) -> Option<[Vec<f64>; 2]> {
    let solution = problem.solve().ok()?.into_solution().ok()?;
    Some([u, v].map(|variables| {
        variables
            .iter()
            .map(|&variable| {
                let value = solution.var_value(variable);
                if value > NOUGHT { value } else { 0.0 }
            })
            .collect()
    }))
}
