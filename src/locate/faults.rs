//! The fewest columns of a block that must be faulty for its sums to be as they are.
//!
//! Each contradiction to health names columns one of which must be faulty; taking each in turn, and of those that are
//! left again, is a search for a least hitting set, deepened one fault at a time.

use super::blocks::{GapBlock, Leakage};
use super::program::{Block, Healthy, NotSolved, Sum};
use crate::observer::Watch;

/// What is said of the faults of one block.
#[derive(Clone, Debug, Default)]
pub(super) struct FewestFaults {
    /// No fewer faults explain the readings.
    pub(super) at_least: usize,
    /// The columns of which nothing shows that they do not explain all alone: no column that does is left out.
    pub(super) alone: Vec<u32>,
    /// Columns of which one must be faulty.
    pub(super) implicated: Vec<u32>,
    /// Where it takes several: columns that the solver takes to explain all together.
    together: Vec<u32>,
}

impl FewestFaults {
    /// Searches with at most `programs` linear programs.
    pub(super) fn of(
        block: &Block,
        allowance: &[f64],
        threshold: f64,
        programs: usize,
        watch: &mut Watch<'_>,
    ) -> FewestFaults {
        let mut search = FaultSearch { block, allowance, threshold, left: programs, watch };
        let first = match search.needed(&[]) {
            Ok(Some(first)) => first,
            Ok(None) => return FewestFaults::default(),
            Err(Spent) => return FewestFaults::by_single_sums(block, allowance, threshold),
        };
        // What is left open stays on the list, or the fault could be in what the list leaves out.
        let may_explain = |column: &u32| !matches!(search.needed(&[*column]), Ok(Some(_)));
        let alone: Vec<u32> = first.iter().copied().filter(may_explain).collect();
        let (mut at_least, mut together) = (1, Vec::new());
        if alone.is_empty() {
            // What must be faulty among columns that share none asks for a fault of its own each time.
            let mut named = first.clone();
            while let Ok(Some(others)) = search.needed(&named)
                && !others.is_empty()
            {
                at_least += 1;
                named.extend(others);
            }
            // Where all were faulty nothing could be shown: so the end is reached only by a solver that errs.
            for faults in at_least.max(2)..=block.column_count + 1 {
                at_least = faults;
                if !matches!(search.explains(&mut together, &first, faults, &[]), Ok(false)) {
                    break;
                }
            }
        }
        FewestFaults { at_least, alone, implicated: first, together }
    }

    /// What leaks where, with as many faults as there must be: proof that they do explain the readings. Tries at most
    /// so many linear programs; none where none shows it.
    pub(super) fn explanation(
        &self,
        own: &GapBlock,
        allowances: &[f64],
        allowance: &[f64],
        threshold: f64,
        programs: usize,
    ) -> Option<Vec<Leakage>> {
        let choices: Vec<Vec<u32>> = match self.at_least {
            0 => vec![Vec::new()],
            1 => self.alone.iter().map(|&column| vec![column]).collect(),
            faults => Some(self.together.clone()).filter(|together| together.len() == faults).into_iter().collect(),
        };
        choices.into_iter().take(programs).find_map(|faulty| {
            let leakages = own.block.explained(&Healthy { allowance, threshold, faulty: &faulty })?;
            Some(own.share_out(&leakages, &faulty, allowances))
        })
    }

    /// What each sum at least tells of faults by itself: one of its columns must be faulty where healthy ones don't
    /// come to it. Whatever explains all alone is in each such sum.
    pub(super) fn by_single_sums(block: &Block, allowance: &[f64], threshold: f64) -> FewestFaults {
        let is_telling = |sum: &&Sum| {
            let healthy: f64 = sum.columns.iter().map(|&column| allowance[column as usize]).sum();
            // Rounded to the side of no fault.
            sum.bound > (healthy + threshold) * (1.0 + 1e-9)
        };
        let mut telling: Vec<&Sum> = block.downs.iter().filter(is_telling).collect();
        telling.sort_by_key(|sum| sum.columns.len());
        let Some(least) = telling.first() else {
            // Nothing is known: neither that there is a fault, nor of any column that it would not explain all.
            let alone = (0..block.column_count as u32).collect();
            return FewestFaults { alone, ..FewestFaults::default() };
        };
        let is_in_each = |column: &u32| telling.iter().all(|sum| sum.columns.binary_search(column).is_ok());
        let alone: Vec<u32> = least.columns.iter().copied().filter(is_in_each).collect();
        let at_least = if alone.is_empty() { 2 } else { 1 };
        FewestFaults { at_least, alone, implicated: least.columns.clone(), together: Vec::new() }
    }
}

struct FaultSearch<'b, 'o> {
    block: &'b Block,
    allowance: &'b [f64],
    threshold: f64,
    left: usize,
    watch: &'b mut Watch<'o>,
}

impl FaultSearch<'_, '_> {
    /// The columns one of which must be faulty beside these; none where these explain all, as far as the solver can be
    /// believed. Errs when the budget is spent.
    fn needed(&mut self, faulty: &[u32]) -> Result<Option<Vec<u32>>, Spent> {
        self.left = self.left.checked_sub(1).filter(|_| self.watch.goes_on_after_long()).ok_or(Spent)?;
        let healthy = Healthy { allowance: self.allowance, threshold: self.threshold, faulty };
        // What the solver leaves open is said of nothing, as where the budget is spent.
        let shown = self.block.contradiction(Some(&healthy)).map_err(|NotSolved| Spent)?;
        Ok(shown.map(|certificate| certificate.columns))
    }

    /// Whether so many more columns explain all, the first of them among these and none of those that are excluded. If
    /// so they are left in `faulty`.
    fn explains(&mut self, faulty: &mut Vec<u32>, among: &[u32], faults: usize, not: &[u32]) -> Result<bool, Spent> {
        let mut excluded = not.to_vec();
        for &column in among {
            if excluded.contains(&column) {
                continue;
            }
            faulty.push(column);
            let found = match self.needed(faulty)? {
                None => true,
                Some(_) if faults == 1 => false,
                Some(next) => self.explains(faulty, &next, faults - 1, &excluded)?,
            };
            if found {
                return Ok(true);
            }
            faulty.pop();
            excluded.push(column);
        }
        Ok(false)
    }
}

/// The budget of the search is spent, an observer stopped it, or the solver left something open.
struct Spent;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::observer::Unwatched;

    #[test]
    fn what_the_search_leaves_open_stays_on_the_list() {
        // Three columns that one sum at least holds, of which the last can't have it all.
        let up = |columns: Vec<u32>, bound: f64| Sum { columns, bound, reading: 0 };
        let ups = vec![up(vec![0], 5.0), up(vec![1], 5.0), up(vec![2], 1.0)];
        let block = Block::new(3, ups, vec![Sum { columns: vec![0, 1, 2], bound: 4.0, reading: 1 }]);
        let own = GapBlock { block, columns: vec![vec![7], vec![8, 9], vec![10]], readings: vec![0, 1] };
        for (programs, alone) in [(600, vec![0, 1]), (2, vec![0, 1, 2]), (1, vec![0, 1, 2]), (0, vec![0, 1, 2])] {
            let found = FewestFaults::of(&own.block, &[0.0; 3], 0.5, programs, &mut Watch::new(&mut Unwatched));
            assert_eq!(found.at_least, 1, "{programs} programs");
            let explanation = found.explanation(&own, &[0.0; 11], &[0.0; 3], 0.5, programs);
            assert_eq!(explanation.is_some(), programs > 0, "{programs} programs");
            assert_eq!((found.alone, found.implicated.len()), (alone, 3), "{programs} programs");
        }
    }

    /// Of many columns each must be faulty by itself: that takes as many faults, and as few programs.
    #[test]
    fn faults_that_share_nothing_are_counted_at_once() {
        let sum = |column: u32, bound: f64| Sum { columns: vec![column], bound, reading: column };
        let count = 40;
        let ups = (0..count).map(|column| sum(column, 5.0)).collect();
        let block = Block::new(count as usize, ups, (0..count).map(|column| sum(column, 4.0)).collect());
        let allowance = vec![0.0; count as usize];
        let found = FewestFaults::of(&block, &allowance, 0.5, 100, &mut Watch::new(&mut Unwatched));
        assert_eq!((found.at_least, found.together.len()), (40, 40));
    }

    /// What is said to explain all and does not is no explanation, whichever way it comes to be said.
    #[test]
    fn what_does_not_explain_all_is_no_explanation() {
        let sum = |columns: Vec<u32>, bound: f64| Sum { columns, bound, reading: 0 };
        let downs = vec![sum(vec![0], 4.0), sum(vec![1], 4.0)];
        let block = Block::new(2, vec![sum(vec![0], 5.0), sum(vec![1], 5.0)], downs);
        let own = GapBlock { block, columns: vec![vec![0], vec![1]], readings: vec![0] };
        let is_exact = |at_least: usize, alone: &[u32], together: &[u32]| {
            let [alone, together] = [alone, together].map(<[u32]>::to_vec);
            let said = FewestFaults { at_least, alone, implicated: Vec::new(), together };
            said.explanation(&own, &[0.0; 2], &[0.0; 2], 0.5, 600).is_some()
        };
        assert!(!is_exact(0, &[], &[]));
        assert!(!is_exact(1, &[0, 1], &[]));
        assert!(is_exact(2, &[], &[0, 1]));
        assert!(!is_exact(2, &[], &[0]));
    }
}
