//! How many of some literals hold, bounded from above by a totalizer (Bailleux and Boufkhad 2003).

use rustc_hash::FxHashMap;

use super::formula::{Formula, Lit};

/// A tree over the literals that are counted, numbered as a heap: node n has the nodes 2n and 2n + 1 below it.
pub(super) struct Count {
    lits: Vec<Lit>,
    /// For (node, number): a literal that holds where at least so many below the node do. Made when asked for.
    at_least: FxHashMap<(usize, usize), Lit>,
}

impl Count {
    pub(super) fn new(lits: impl IntoIterator<Item = Lit>) -> Count {
        Count { lits: lits.into_iter().collect(), at_least: FxHashMap::default() }
    }

    /// A literal that makes at most `most` of what is counted hold; none where no more than that are counted.
    ///
    /// O(n m) literals and O(n m²) clauses for n counted and bounds up to m, over all calls.
    pub(super) fn at_most(&mut self, formula: &mut Formula, most: usize) -> Option<Lit> {
        (most < self.lits.len()).then(|| !self.at_least(formula, 1, 0, self.lits.len(), most + 1))
    }

    /// Where at least `number` of the literals from `first` to `end` hold, so does this. They are at least as many.
    fn at_least(&mut self, formula: &mut Formula, node: usize, first: usize, end: usize, number: usize) -> Lit {
        if end - first == 1 {
            return self.lits[first];
        }
        if let Some(&known) = self.at_least.get(&(node, number)) {
            return known;
        }
        let holds = formula.lit();
        let middle = first.midpoint(end);
        for left in 0..=number.min(middle - first) {
            let right = number - left;
            if right <= end - middle {
                let left = (left > 0).then(|| !self.at_least(formula, 2 * node, first, middle, left));
                let right = (right > 0).then(|| !self.at_least(formula, 2 * node + 1, middle, end, right));
                formula.clause([left, right, Some(holds)].into_iter().flatten());
            }
        }
        self.at_least.insert((node, number), holds);
        holds
    }
}
