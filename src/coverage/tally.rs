//! Which readings test what, kept while readings come and go.

use std::collections::BTreeMap;

use rustc_hash::FxHashSet;

use super::outcome::ForStarts;
use super::tested::for_starts;
use crate::reading::TableLimits;

/// The readings that test each of some numbered things: pair groups, or positions.
#[derive(Clone, Default)]
pub(super) struct Tally {
    /// By the number of the thing, the key of the reading and the place in its list: for which starts.
    entries: BTreeMap<[u32; 3], ForStarts>,
    /// What is tested for every start.
    tested: FxHashSet<u32>,
    /// Of what entries came or went.
    unsettled: Vec<u32>,
}

impl Tally {
    /// Enters what a reading tests.
    pub(super) fn enter(&mut self, key: u32, tests: &[(u32, ForStarts)]) {
        for (place, (number, when)) in (0..).zip(tests) {
            self.entries.insert([*number, key, place], when.clone());
            self.unsettled.push(*number);
        }
    }

    /// Takes back what was entered.
    pub(super) fn withdraw(&mut self, key: u32, tests: &[(u32, ForStarts)]) {
        for (place, (number, _)) in (0..).zip(tests) {
            self.entries.remove(&[*number, key, place]);
            self.unsettled.push(*number);
        }
    }

    /// What is tested now and was not when it was settled last, and the other way round, each ascending; `place` tells
    /// where a reading is in the order of all.
    pub(super) fn settle(&mut self, place: impl Fn(u32) -> [usize; 2], limits: &TableLimits) -> [Vec<u32>; 2] {
        let mut unsettled = std::mem::take(&mut self.unsettled);
        unsettled.sort_unstable();
        unsettled.dedup();
        let (mut tested, mut lost) = (Vec::new(), Vec::new());
        for number in unsettled {
            let entries = || self.entries.range([number, 0, 0]..=[number, u32::MAX, u32::MAX]);
            // A union that is too large leaves out what comes late: the order is that of the test set.
            let is_tested = entries().any(|(_, when)| when.is_none()) || {
                let mut in_order: Vec<_> = entries().map(|(&[_, key, at], when)| (place(key), at, when)).collect();
                in_order.sort_unstable_by_key(|&(place, at, _)| (place, at));
                for_starts(in_order.into_iter().map(|row| row.2), limits).is_none()
            };
            if is_tested && self.tested.insert(number) {
                tested.push(number);
            } else if !is_tested && self.tested.remove(&number) {
                lost.push(number);
            }
        }
        [tested, lost]
    }
}
