//! The fewest columns of a block that must be faulty for its sums to be as they are.
//!
//! Each contradiction to health names columns one of which must be faulty; taking each in turn, and of those that are left
//! again, is a search for a least hitting set, deepened one fault at a time.

use super::program::{Block, Healthy, NotSolved, Sum};

/// How many faults it takes to explain some readings.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Explanation {
    /// No fewer faults explain the readings.
    pub(super) at_least: usize,
    /// As many faults do explain them.
    pub(super) is_exact: bool,
}

/// What is said of the faults of one block.
#[derive(Clone, Debug, Default)]
pub(super) struct FewestFaults {
    pub(super) explanation: Explanation,
    /// The columns of which nothing shows that they do not explain all alone: no column that does is left out.
    pub(super) alone: Vec<u32>,
    /// Columns of which one must be faulty.
    pub(super) implicated: Vec<u32>,
}

impl FewestFaults {
    /// Searches with at most `programs` linear programs.
    pub(super) fn of(block: &Block, allowance: &[f64], threshold: f64, programs: usize) -> FewestFaults {
        let mut search = FaultSearch { block, allowance, threshold, left: programs };
        let first = match search.needed(&[]) {
            Ok(Some(first)) => first,
            Ok(None) => {
                let explanation = Explanation { at_least: 0, is_exact: true };
                return FewestFaults { explanation, ..FewestFaults::default() };
            }
            Err(Spent) => return FewestFaults::by_single_sums(block, allowance, threshold),
        };
        let mut explanation = Explanation { at_least: 1, is_exact: false };
        let mut alone = Vec::new();
        for &column in &first {
            let needed = search.needed(&[column]);
            explanation.is_exact |= matches!(needed, Ok(None));
            // What is left open stays on the list, or the fault could be in what the list leaves out.
            if matches!(needed, Ok(None) | Err(Spent)) {
                alone.push(column);
            }
        }
        if alone.is_empty() {
            // Where all were faulty nothing could be shown: so the end is reached only by a solver that errs.
            for faults in 2..=block.column_count + 1 {
                explanation.at_least = faults;
                match search.explains(&mut Vec::new(), &first, faults, &[]) {
                    Ok(false) => {}
                    found => {
                        explanation.is_exact = found.is_ok();
                        break;
                    }
                }
            }
        }
        FewestFaults { explanation, alone, implicated: first }
    }

    /// What each sum at least tells of faults by itself: one of its columns must be faulty where healthy ones don't come to
    /// it. Whatever explains all alone is in each such sum.
    pub(super) fn by_single_sums(block: &Block, allowance: &[f64], threshold: f64) -> FewestFaults {
        let is_telling = |sum: &&Sum| {
            let healthy: f64 = sum.columns.iter().map(|&column| allowance[column as usize]).sum();
            // Rounded to the side of no fault.
            sum.bound > (healthy + threshold) * (1.0 + 1e-9)
        };
        let mut telling: Vec<&Sum> = block.downs.iter().filter(is_telling).collect();
        telling.sort_by_key(|sum| sum.columns.len());
        let Some(least) = telling.first() else { return FewestFaults::default() };
        let is_in_each = |column: &u32| telling.iter().all(|sum| sum.columns.binary_search(column).is_ok());
        let alone: Vec<u32> = least.columns.iter().copied().filter(is_in_each).collect();
        let at_least = if alone.is_empty() { 2 } else { 1 };
        let explanation = Explanation { at_least, is_exact: false };
        FewestFaults { explanation, alone, implicated: least.columns.clone() }
    }
}

struct FaultSearch<'b> {
    block: &'b Block,
    allowance: &'b [f64],
    threshold: f64,
    left: usize,
}

impl FaultSearch<'_> {
    /// The columns one of which must be faulty beside these; none where these explain all. Errs when the budget is spent.
    fn needed(&mut self, faulty: &[u32]) -> Result<Option<Vec<u32>>, Spent> {
        self.left = self.left.checked_sub(1).ok_or(Spent)?;
        let healthy = Healthy { allowance: self.allowance, threshold: self.threshold, faulty };
        // What the solver leaves open is said of nothing, as where the budget is spent.
        let shown = self.block.contradiction(Some(&healthy)).map_err(|NotSolved| Spent)?;
        Ok(shown.map(|certificate| certificate.columns))
    }

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
            faulty.pop();
            if found {
                return Ok(true);
            }
            excluded.push(column);
        }
        Ok(false)
    }
}

/// The budget of the search is spent, or the solver left something open.
struct Spent;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_the_search_leaves_open_stays_on_the_list() {
        // Three columns that one sum at least holds, of which the last can't have it all.
        let up = |columns: Vec<u32>, bound: f64| Sum { columns, bound, reading: 0 };
        let ups = vec![up(vec![0], 5.0), up(vec![1], 5.0), up(vec![2], 1.0)];
        let block = Block::new(3, ups, vec![Sum { columns: vec![0, 1, 2], bound: 4.0, reading: 1 }]);
        for (programs, is_exact, alone) in
            [(600, true, vec![0, 1]), (2, true, vec![0, 1, 2]), (1, false, vec![0, 1, 2]), (0, false, vec![0, 1, 2])]
        {
            let found = FewestFaults::of(&block, &[0.0; 3], 0.5, programs);
            assert_eq!(found.explanation, Explanation { at_least: 1, is_exact }, "{programs} programs");
            assert_eq!((found.alone, found.implicated.len()), (alone, 3), "{programs} programs");
        }
    }
}
