//! Untested pairs of one length of which at most one can be tested, and nobody knows which.

use super::tested::Tested;
use crate::network::PairId;
use crate::reading::{Diagram, TableLimits};

/// A group of pairs that exclude one another: no start leaves two of them tested, and each is tested for some start.
struct ExcludingPairs<'t> {
    pairs: Vec<PairId>,
    when: Vec<&'t Diagram>,
}

impl<'t> ExcludingPairs<'t> {
    fn excludes(&self, when: &Diagram, limits: &TableLimits) -> bool {
        self.when.iter().all(|other| other.and(when, limits).is_some_and(|both| both.is_never()))
    }
}

impl Tested<'_> {
    /// The groups of required pairs of one length that exclude one another, of two pairs at least. `pairs` are the pairs
    /// of the length, in order: each goes into the first group all of whose pairs it excludes.
    pub(super) fn one_of(&self, pairs: &[PairId]) -> Vec<Vec<PairId>> {
        let limits = &self.network.limits().tables;
        let mut groups: Vec<ExcludingPairs<'_>> = Vec::new();
        for &pair in pairs.iter().filter(|&&pair| self.is_required(pair)) {
            let Some(when) = self.partly_tested(self.network.pair_group(pair)) else { continue };
            match groups.iter_mut().find(|group| group.excludes(when, limits)) {
                Some(group) => {
                    group.pairs.push(pair);
                    group.when.push(when);
                }
                None => groups.push(ExcludingPairs { pairs: vec![pair], when: vec![when] }),
            }
        }
        groups.into_iter().map(|group| group.pairs).filter(|pairs| pairs.len() > 1).collect()
    }
}
