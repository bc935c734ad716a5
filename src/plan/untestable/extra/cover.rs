//! The fewest extras that make every pair testable which any of them does: a set cover, searched to its end where the
//! budget lets it.

use std::collections::BTreeMap;

use fixedbitset::FixedBitSet;
use petgraph::unionfind::UnionFind;

use crate::observer::Watch;
use crate::plan::limits::PlanLimits;

/// What one extra more costs against trouble, which is less than this in all.
const ONE: u64 = 1 << 32;

/// A cover, and what is known of it.
#[derive(Debug)]
pub(super) struct ExtraCover {
    /// Numbers of columns, ascending.
    pub(super) chosen: Vec<usize>,
    /// No fewer columns do.
    pub(super) at_least: usize,
    /// Proven to be the fewest; of covers as small, one of least trouble.
    pub(super) is_least: bool,
}

/// Covers these rows by the fewest columns, each with the rows that it covers and its trouble; each row must be in one.
///
/// Exact unless the budget of nodes is spent. The bound is a set of rows no two of which are in one column. Time
/// exponential at worst, bounded by the budget; source: set cover as integer search (Balas and Ho 1980, in kind).
pub(super) fn fewest(
    columns: &[(&FixedBitSet, u32)],
    rows: &FixedBitSet,
    limits: &PlanLimits,
    watch: &mut Watch<'_>,
) -> ExtraCover {
    let columns = undominated(columns, limits.extras_compared);
    // Rows that are in the same columns are one; what shares no column falls apart.
    let mut distinct: BTreeMap<Vec<usize>, ()> = BTreeMap::new();
    for row in rows.ones() {
        let of_row: Vec<usize> = (0..columns.len()).filter(|&column| columns[column].rows.contains(row)).collect();
        distinct.insert(of_row, ());
    }
    let rows: Vec<Vec<usize>> = distinct.into_keys().collect();
    let mut joined: UnionFind<usize> = UnionFind::new(columns.len());
    for row in &rows {
        row.windows(2).for_each(|two| {
            joined.union(two[0], two[1]);
        });
    }
    let mut parts: BTreeMap<usize, Vec<&[usize]>> = BTreeMap::new();
    for row in &rows {
        parts.entry(joined.find(row[0])).or_default().push(row);
    }
    let mut cover = ExtraCover { chosen: Vec::new(), at_least: 0, is_least: true };
    for rows in parts.into_values() {
        let mut search = ExtraCoverSearch {
            rows: &rows,
            columns: &columns,
            nodes: 0,
            most: limits.extra_nodes,
            best: None,
            chosen: Vec::new(),
        };
        let open: Vec<usize> = (0..rows.len()).collect();
        let bound = search.bound(&open);
        search.go_on(&open, 0, watch);
        let (cost, chosen) = search.best.expect("the first branch ends in a cover");
        let finished = search.nodes <= limits.extra_nodes && !watch.is_stopped();
        cover.is_least &= finished || cost == bound;
        cover.at_least += if finished { chosen.len() } else { (bound / ONE) as usize };
        cover.chosen.extend(chosen.iter().map(|&column| columns[column].number));
    }
    cover.chosen.sort_unstable();
    cover
}

struct CoverColumn<'c> {
    number: usize,
    rows: &'c FixedBitSet,
    cost: u64,
}

/// Without columns that another covers at no greater cost.
fn undominated<'c>(columns: &[(&'c FixedBitSet, u32)], most_compared: usize) -> Vec<CoverColumn<'c>> {
    let mut order: Vec<CoverColumn<'c>> = columns
        .iter()
        .enumerate()
        .map(|(number, &(rows, trouble))| CoverColumn { number, rows, cost: ONE + u64::from(trouble) })
        .collect();
    order.sort_by_key(|column| (column.cost, std::cmp::Reverse(column.rows.count_ones(..)), column.number));
    let mut kept: Vec<CoverColumn<'c>> = Vec::new();
    for column in order {
        let is_covered = kept.iter().take(most_compared).any(|other| column.rows.is_subset(other.rows));
        if !is_covered {
            kept.push(column);
        }
    }
    kept
}

struct ExtraCoverSearch<'s> {
    /// For each row, its columns.
    rows: &'s [&'s [usize]],
    columns: &'s [CoverColumn<'s>],
    nodes: usize,
    most: usize,
    best: Option<(u64, Vec<usize>)>,
    chosen: Vec<usize>,
}

impl ExtraCoverSearch<'_> {
    /// What rows cost at the least: those no two of which are in one column.
    fn bound(&self, open: &[usize]) -> u64 {
        let mut order = open.to_vec();
        order.sort_by_key(|&row| (self.rows[row].len(), row));
        let mut met = FixedBitSet::with_capacity(self.columns.len());
        let mut bound = 0;
        for row in order {
            if self.rows[row].iter().any(|&column| met.contains(column)) {
                continue;
            }
            met.extend(self.rows[row].iter().copied());
            bound += self.rows[row].iter().map(|&column| self.columns[column].cost).min().unwrap_or(0);
        }
        bound
    }

    fn go_on(&mut self, open: &[usize], cost: u64, watch: &mut Watch<'_>) {
        self.nodes += 1;
        let is_spent = self.best.is_some() && (self.nodes > self.most || !watch.goes_on());
        if is_spent {
            return;
        }
        let Some(&row) = open.iter().min_by_key(|&&row| (self.rows[row].len(), row)) else {
            if self.best.as_ref().is_none_or(|best| cost < best.0) {
                self.best = Some((cost, self.chosen.clone()));
            }
            return;
        };
        if self.best.as_ref().is_some_and(|best| cost + self.bound(open) >= best.0) {
            return;
        }
        let gain = |column: usize| open.iter().filter(|&&row| self.rows[row].contains(&column)).count();
        let mut order: Vec<(std::cmp::Reverse<usize>, u64, usize)> = self.rows[row]
            .iter()
            .map(|&column| (std::cmp::Reverse(gain(column)), self.columns[column].cost, column))
            .collect();
        order.sort_unstable();
        for (_, added, column) in order {
            let left: Vec<usize> = open.iter().copied().filter(|&row| !self.rows[row].contains(&column)).collect();
            self.chosen.push(column);
            self.go_on(&left, cost + added, watch);
            self.chosen.pop();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::observer::Unwatched;

    fn set(rows: &[usize]) -> FixedBitSet {
        let mut set = FixedBitSet::with_capacity(16);
        set.extend(rows.iter().copied());
        set
    }

    fn covered(columns: &[(Vec<usize>, u32)], count: usize, limits: &PlanLimits) -> ExtraCover {
        let sets: Vec<FixedBitSet> = columns.iter().map(|column| set(&column.0)).collect();
        let columns: Vec<(&FixedBitSet, u32)> = sets.iter().zip(columns).map(|(set, column)| (set, column.1)).collect();
        fewest(&columns, &set(&(0..count).collect::<Vec<_>>()), limits, &mut Watch::new(&mut Unwatched))
    }

    fn least(columns: &[(Vec<usize>, u32)], count: usize) -> ExtraCover {
        covered(columns, count, &PlanLimits::default())
    }

    #[test]
    fn two_do_where_the_greedy_choice_takes_three() {
        // The textbook's trap: the largest set first leaves two more to take.
        let cover = least(&[(vec![0, 1, 2, 3], 0), (vec![0, 1, 4], 0), (vec![2, 3, 5], 0)], 6);
        assert_eq!((cover.chosen, cover.at_least, cover.is_least), (vec![1, 2], 2, true));
    }

    #[test]
    fn fewer_come_before_less_trouble_and_less_trouble_before_the_order() {
        let cover = least(&[(vec![0], 0), (vec![1], 0), (vec![0, 1], 2), (vec![0, 1], 1)], 2);
        assert_eq!(cover.chosen, vec![3]);
    }

    #[test]
    fn fewest_as_by_trying_every_choice() {
        // Pseudo-random columns over 6 rows: every one of the 2^11 choices is tried.
        let mut seed = 7u64;
        let mut beyond = 0;
        for _ in 0..300 {
            let mut columns: Vec<(Vec<usize>, u32)> = (0..8)
                .map(|_| {
                    seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                    let bits = (seed >> 33) & (seed >> 41);
                    ((0..6).filter(|row| bits >> row & 1 == 1).collect(), (seed >> 60) as u32 % 3)
                })
                .collect();
            columns.extend([vec![0, 1], vec![2, 3], vec![4, 5]].map(|rows| (rows, 2)));
            let value = |choice: u32| -> Option<(usize, u32)> {
                let chosen = (0..11).filter(|column| choice >> column & 1 == 1);
                let all: Vec<&(Vec<usize>, u32)> = chosen.map(|column| &columns[column]).collect();
                let covered = (0..6).all(|row| all.iter().any(|column| column.0.contains(&row)));
                covered.then(|| (all.len(), all.iter().map(|column| column.1).sum()))
            };
            let best = (0..1 << 11).filter_map(value).min().unwrap();
            let cover = least(&columns, 6);
            let choice = cover.chosen.iter().map(|column| 1 << column).sum();
            assert!(cover.is_least && cover.at_least == best.0);
            assert_eq!(value(choice), Some(best), "{columns:?}");

            // Past a limit: still a cover, no bound above the least, and none called the least that is not.
            for (extra_nodes, extras_compared) in [(0, 0), (1, 2), (5, 1)] {
                let limits = PlanLimits { extra_nodes, extras_compared, ..PlanLimits::default() };
                let cover = covered(&columns, 6, &limits);
                let found = value(cover.chosen.iter().map(|column| 1 << column).sum()).expect("all rows are covered");
                assert!(cover.at_least <= best.0 && (!cover.is_least || found == best), "{columns:?}");
                beyond += usize::from(found != best);
            }
        }
        assert!(beyond > 20, "only {beyond} covers were not the least: then this tests little of limits");
    }
}
