//! The fewest settings in which every requirement of a cluster holds: a set-cover search that finishes.
//!
//! Settings are columns, requirements rows. Rows that another row implies are gone already; here, columns that another
//! column contains are dropped at each branching, branching is on the row with the fewest columns, rows that exclude
//! one another (hold in no common setting) give a lower bound, and sets of rows known to need more settings than are
//! left are remembered. The search is exact unless it runs out of its budget of nodes, and says so.

use std::cell::OnceCell;

use fixedbitset::FixedBitSet;
use rustc_hash::{FxHashMap, FxHashSet};

use crate::observer::Watch;
use crate::plan::limits::PlanLimits;
use crate::plan::problem::cluster::Cluster;

/// The fewest settings, as far as known.
#[derive(Clone, Debug)]
pub(in crate::plan) struct FewestSettings {
    /// No fewer settings do.
    pub(in crate::plan) at_least: usize,
    /// Settings that do, in no order.
    pub(in crate::plan) settings: Vec<usize>,
}

pub(in crate::plan) struct SettingsSearch<'c> {
    cluster: &'c Cluster,
    limits: &'c PlanLimits,
    /// Bit j of row i: requirements i and j hold in no common setting.
    excludes: Vec<FixedBitSet>,
    /// Made when it is needed.
    alike: OnceCell<Vec<(usize, FixedBitSet)>>,
    /// Nodes that may still be visited before the proof is given up.
    nodes_left: usize,
    /// Sets of requirements that so many settings are known not to meet.
    failed: FxHashSet<(FixedBitSet, usize)>,
}

impl<'c> SettingsSearch<'c> {
    pub(in crate::plan) fn new(cluster: &'c Cluster, limits: &'c PlanLimits) -> SettingsSearch<'c> {
        let count = cluster.requirements.len();
        let mut excludes = vec![FixedBitSet::with_capacity(count); count];
        for a in 0..count {
            for b in a + 1..count {
                let (x, y) = (&cluster.requirements[a].holds, &cluster.requirements[b].holds);
                if x.iter().zip(y).all(|(x, y)| x & y == 0) {
                    excludes[a].insert(b);
                    excludes[b].insert(a);
                }
            }
        }
        SettingsSearch {
            cluster,
            limits,
            excludes,
            alike: OnceCell::new(),
            nodes_left: limits.cover_nodes,
            failed: FxHashSet::default(),
        }
    }

    /// Requirements of `open` no two of which hold in one setting, greedily many.
    pub(in crate::plan) fn exclusive(&self, open: &FixedBitSet) -> Vec<usize> {
        let mut best = Vec::new();
        // Greedy from each of the first few rows; the best of those.
        for first in open.ones().take(8) {
            let mut clique = vec![first];
            let mut left = self.excludes[first].clone();
            left.intersect_with(open);
            while let Some(next) =
                left.ones().max_by_key(|&row| (self.excludes[row].intersection_count(&left), std::cmp::Reverse(row)))
            {
                clique.push(next);
                left.intersect_with(&self.excludes[next]);
            }
            if clique.len() > best.len() {
                best = clique;
            }
        }
        best
    }

    pub(in crate::plan) fn run(mut self, watch: &mut Watch<'_>) -> FewestSettings {
        let mut all = FixedBitSet::with_capacity(self.cluster.requirements.len());
        all.insert_range(..);
        let exclusive = self.exclusive(&all);
        let greedy = self.greedy(&all);
        let mut at_least = exclusive.len().max(1);
        while at_least < greedy.len() {
            match self.within(&all, at_least, watch) {
                None => break,
                Some(Some(settings)) => return FewestSettings { at_least, settings },
                Some(None) => at_least += 1,
            }
        }
        FewestSettings { at_least, settings: greedy }
    }

    fn greedy(&self, all: &FixedBitSet) -> Vec<usize> {
        let mut open = all.clone();
        let mut settings = Vec::new();
        while let Some(row) = self.scarcest(&open) {
            let columns = self.columns(row, &open);
            let (setting, met) =
                columns.into_iter().max_by_key(|(_, met)| met.count_ones(..)).expect("every requirement can hold");
            open.difference_with(&met);
            settings.push(setting);
        }
        settings
    }

    fn scarcest(&self, open: &FixedBitSet) -> Option<usize> {
        // Rows are sorted by how many settings they hold in.
        open.ones().next()
    }

    /// The settings in which a requirement holds, with the open requirements that each meets; only those that no other
    /// contains, in the order of settings.
    fn columns(&self, row: usize, open: &FixedBitSet) -> Vec<(usize, FixedBitSet)> {
        let mut first_with: FxHashMap<FixedBitSet, usize> = FxHashMap::default();
        for (setting, met) in self.alike().iter().filter(|(_, met)| met.contains(row)) {
            // The first of these settings comes first.
            first_with.entry(met & open).or_insert(*setting);
        }
        let mut columns: Vec<(usize, FixedBitSet)> = first_with.into_iter().map(|(met, s)| (s, met)).collect();
        columns.sort_by_key(|(setting, met)| (std::cmp::Reverse(met.count_ones(..)), *setting));
        if columns.len() <= self.limits.compared_settings {
            let mut kept: Vec<(usize, FixedBitSet)> = Vec::with_capacity(columns.len());
            for column in columns {
                if !kept.iter().any(|large| column.1.is_subset(&large.1)) {
                    kept.push(column);
                }
            }
            return kept;
        }
        columns
    }

    /// A setting in which all open requirements hold.
    fn one_setting(&self, open: &FixedBitSet) -> Option<usize> {
        self.alike().iter().find(|(_, met)| open.is_subset(met)).map(|(setting, _)| *setting)
    }

    /// The settings that meet different requirements, each the first of those that meet the same, in order.
    fn alike(&self) -> &[(usize, FixedBitSet)] {
        self.alike.get_or_init(|| self.cluster.settings_by_met())
    }

    /// At most `count` settings that meet all open requirements: Some(None) where none do, None where the budget of all
    /// that was asked is spent.
    pub(in crate::plan) fn within(
        &mut self,
        open: &FixedBitSet,
        count: usize,
        watch: &mut Watch<'_>,
    ) -> Option<Option<Vec<usize>>> {
        let Some(row) = self.scarcest(open) else { return Some(Some(Vec::new())) };
        if count == 0 {
            return Some(None);
        }
        if self.nodes_left == 0 || !watch.goes_on() {
            return None;
        }
        self.nodes_left -= 1;
        if count == 1 {
            return Some(self.one_setting(open).map(|setting| vec![setting]));
        }
        if self.exclusive(open).len() > count || self.failed.contains(&(open.clone(), count)) {
            return Some(None);
        }
        for (setting, met) in self.columns(row, open) {
            let mut rest = open.clone();
            rest.difference_with(&met);
            if let Some(mut settings) = self.within(&rest, count - 1, watch)? {
                settings.push(setting);
                return Some(Some(settings));
            }
        }
        self.failed.insert((open.clone(), count));
        Some(None)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::observer::Unwatched;
    use crate::plan::problem::cluster::Requirement;

    /// Points of the affine space of so many dimensions over three elements, and its lines: the triples whose sum is
    /// nought. A point is a setting, a line a requirement.
    fn steiner(dimensions: u32) -> Cluster {
        let points = 3usize.pow(dimensions);
        let digit = |point: usize, place: u32| point / 3usize.pow(place) % 3;
        let mut requirements = Vec::new();
        for a in 0..points {
            for b in a + 1..points {
                let c: usize =
                    (0..dimensions).map(|place| (6 - digit(a, place) - digit(b, place)) % 3 * 3usize.pow(place)).sum();
                if c > b {
                    let holds = vec![1u64 << a | 1 << b | 1 << c];
                    requirements.push(Requirement { holds, devices: 0, group: 0, start: Vec::new() });
                }
            }
        }
        Cluster { devices: Vec::new(), settings: points, start: 0, requirements, groups: Vec::new() }
    }

    /// The set-covering problem stn9 of the Steiner triples on 9 points (12 triples, of which there is one system
    /// only), with a least cover of 5: Fulkerson, Nemhauser and Trotter, Two computationally difficult set covering
    /// problems that arise in computing the 1-width of incidence matrices of Steiner triple systems, 1974.
    #[test]
    fn the_published_cover_of_9_steiner_triples_is_found() {
        let cluster = steiner(2);
        assert_eq!(cluster.requirements.len(), 12);
        let found = SettingsSearch::new(&cluster, &PlanLimits::default()).run(&mut Watch::new(&mut Unwatched));
        assert_eq!((found.settings.len(), found.at_least), (5, 5));
        assert!((0..12).all(|row| found.settings.iter().any(|&setting| cluster.holds(row, setting))));
    }

    /// The problem on 27 points (117 triples), with a least cover of 18 by the same paper: whether the search ends
    /// within its budget or not, its bound and its cover lie on either side.
    #[test]
    fn the_published_cover_of_27_steiner_triples_lies_between_bound_and_cover() {
        let cluster = steiner(3);
        assert_eq!(cluster.requirements.len(), 117);
        let found = SettingsSearch::new(&cluster, &PlanLimits::default()).run(&mut Watch::new(&mut Unwatched));
        assert!((9..=18).contains(&found.at_least), "{}", found.at_least);
        assert!((18..=20).contains(&found.settings.len()), "{}", found.settings.len());
        assert!((0..117).all(|row| found.settings.iter().any(|&setting| cluster.holds(row, setting))));
    }
}
