//! Leakages that keep the sums of a block: what shows that a bound is the best, and that faults do explain the
//! readings.
//!
//! The solver proposes them, and each sum is checked here. So a solver that errs can leave something unshown, never
//! show what is not so.

use microlp::{ComparisonOp, OptimizationDirection, Problem, Variable};

use super::block::{Block, Extreme, Healthy, Sum, any, solved, wanted};

/// Leakages keep a sum that they break by no more than this part of it, or so many µS: rounding.
const KEPT: f64 = 1e-12;

/// A leakage comes to a bound from which it is off by no more than this part, or so many µS.
const MET: f64 = 5e-10;

/// What rounding may make of a figure.
fn slack(part: f64, figure: f64) -> f64 {
    part * figure.max(1.0)
}

/// Whether a sum is at most a figure, but for rounding.
pub(in crate::locate) fn is_at_most(sum: f64, figure: f64) -> bool {
    sum <= figure + slack(KEPT, figure)
}

/// Whether a sum is at least a figure, but for rounding.
pub(in crate::locate) fn is_at_least(sum: f64, figure: f64) -> bool {
    sum >= figure - slack(KEPT, figure)
}

impl Extreme {
    /// Whether a leakage comes to this bound.
    pub(in crate::locate) fn is_met(self, leakage: f64, bound: f64) -> bool {
        match self {
            Extreme::Least => leakage <= bound + slack(MET, bound),
            Extreme::Greatest => leakage >= bound - slack(MET, bound),
        }
    }
}

impl Block {
    /// Leakages that keep all sums, of which the solver takes this column's for an extreme; none where they don't keep
    /// them.
    pub(in crate::locate) fn leakages(&self, column: u32, extreme: Extreme) -> Option<Vec<f64>> {
        let mut problem = Problem::new(match extreme {
            Extreme::Least => OptimizationDirection::Minimize,
            Extreme::Greatest => OptimizationDirection::Maximize,
        });
        let columns: Vec<Vec<Variable>> =
            (0..self.column_count).map(|number| vec![any(&mut problem, wanted(number, column))]).collect();
        self.constrain(&mut problem, &columns);
        let leakages = leakages(&problem, &columns)?;
        self.is_kept_by(&leakages).then_some(leakages)
    }

    /// Leakages that keep all sums with no fault but in the faulty columns; none where the solver finds none, or what
    /// it finds is not such.
    pub(in crate::locate) fn explained(&self, healthy: &Healthy<'_>) -> Option<Vec<f64>> {
        let mut in_downs = vec![false; self.column_count];
        self.downs.iter().flat_map(|sum| &sum.columns).for_each(|&column| in_downs[column as usize] = true);
        let mut problem = Problem::new(OptimizationDirection::Minimize);
        // What a column leaks as healthy cable, and what it leaks beyond.
        let columns: Vec<Vec<Variable>> = (0u32..)
            .zip(&in_downs)
            .map(|(column, &is_in_downs)| {
                if healthy.faulty.contains(&column) || !is_in_downs {
                    return vec![any(&mut problem, 0.0)];
                }
                let most = [healthy.allowance[column as usize], healthy.threshold];
                most.map(|most| problem.add_var(0.0, (0.0, most))).to_vec()
            })
            .collect();
        self.constrain(&mut problem, &columns);
        for sum in &self.downs {
            let beyond = sum.columns.iter().filter_map(|&column| columns[column as usize].get(1));
            let terms: Vec<_> = beyond.map(|&variable| (variable, 1.0)).collect();
            problem.add_constraint(terms, ComparisonOp::Le, healthy.threshold);
        }
        let leakages = leakages(&problem, &columns)?;
        self.is_explained_by(healthy, &leakages).then_some(leakages)
    }

    fn constrain(&self, problem: &mut Problem, columns: &[Vec<Variable>]) {
        for (sums, comparison) in [(&self.ups, ComparisonOp::Le), (&self.downs, ComparisonOp::Ge)] {
            for sum in sums {
                let variables = sum.columns.iter().flat_map(|&column| &columns[column as usize]);
                problem.add_constraint(
                    variables.map(|&variable| (variable, 1.0)).collect::<Vec<_>>(),
                    comparison,
                    sum.bound,
                );
            }
        }
    }

    fn is_kept_by(&self, leakages: &[f64]) -> bool {
        let total = |sum: &Sum| -> f64 { sum.columns.iter().map(|&column| leakages[column as usize]).sum() };
        self.ups.iter().all(|sum| is_at_most(total(sum), sum.bound))
            && self.downs.iter().all(|sum| is_at_least(total(sum), sum.bound))
    }

    /// Whether leakages keep all sums, and what is not faulty leaks no more than it may.
    fn is_explained_by(&self, healthy: &Healthy<'_>, leakages: &[f64]) -> bool {
        let beyond = |&column: &u32| {
            let is_faulty = healthy.faulty.contains(&column);
            if is_faulty { 0.0 } else { (leakages[column as usize] - healthy.allowance[column as usize]).max(0.0) }
        };
        let is_healthy = |sum: &Sum| is_at_most(sum.columns.iter().map(beyond).sum(), healthy.threshold);
        self.is_kept_by(leakages) && self.downs.iter().all(is_healthy)
    }
}

/// What the columns leak by the solver's solution, each the sum of its variables.
fn leakages(problem: &Problem, columns: &[Vec<Variable>]) -> Option<Vec<f64>> {
    let solution = solved(problem)?;
    let leakage = |variables: &Vec<Variable>| variables.iter().map(|&one| solution.var_value(one).max(0.0)).sum();
    Some(columns.iter().map(leakage).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sum(columns: Vec<u32>, bound: f64) -> Sum {
        Sum { columns, bound, reading: 0 }
    }

    /// Leakages that are off count for no extreme.
    #[test]
    fn leakages_that_break_a_sum_are_not_kept() {
        let block = Block::new(2, vec![sum(vec![0], 3.0)], vec![sum(vec![0, 1], 2.0)]);
        for (leakages, is_kept) in [
            ([3.0, 0.0], true),
            ([3.1, 0.0], false),
            ([3.0 + 1e-10, 0.0], false),
            ([1.0, 0.9], false),
            ([f64::NAN, 3.0], false),
        ] {
            assert_eq!(block.is_kept_by(&leakages), is_kept, "{leakages:?}");
        }
        assert!(Extreme::Greatest.is_met(3.0, 3.0) && !Extreme::Greatest.is_met(2.9, 3.0));
        assert!(Extreme::Least.is_met(0.0, 0.0) && !Extreme::Least.is_met(0.1, 0.0));
    }

    /// Leakages that keep all sums explain nothing where something leaks more than it may and is not called faulty.
    #[test]
    fn leakages_beyond_what_is_healthy_explain_nothing() {
        let block = Block::new(3, vec![sum(vec![0], 3.0)], vec![sum(vec![0, 1], 2.0), sum(vec![1, 2], 0.5)]);
        let explains = |faulty: &[u32], leakages: [f64; 3]| {
            let healthy = Healthy { allowance: &[0.1, 0.1, 0.1], threshold: 0.5, faulty };
            block.is_explained_by(&healthy, &leakages)
        };
        assert!(explains(&[0], [2.0, 0.1, 0.4]));
        assert!(!explains(&[], [2.0, 0.1, 0.4]), "the first is not called faulty");
        assert!(!explains(&[0], [1.5, 0.5, 0.4]), "in the last sum what is healthy comes to 0.7 beyond");
        assert!(!explains(&[0], [3.5, 0.1, 0.4]), "the first sum is broken");
        assert!(explains(&[0], [1.5, 0.5, 0.2]));
        for (faulty, is_explained) in [(vec![], false), (vec![0], true), (vec![1], true), (vec![2], false)] {
            let healthy = Healthy { allowance: &[0.1, 0.1, 0.1], threshold: 0.5, faulty: &faulty };
            assert_eq!(block.explained(&healthy).is_some(), is_explained, "{faulty:?}");
        }
    }
}
