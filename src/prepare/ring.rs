//! Which circuits are rings.

use indexmap::IndexSet;
use petgraph::unionfind::UnionFind;
use rustc_hash::FxHashSet;

use super::surroundings::Surroundings;
use crate::model::{CircuitId, Conductor, End, TerminalRef};

impl Surroundings<'_> {
    /// Whether the line conductor of the circuit leaves its way and comes back to it. A neutral that goes another way
    /// makes no ring.
    pub(super) fn is_ring(&self, id: CircuitId) -> bool {
        let installation = self.installation();
        let Some(way) = installation.circuit(id).way() else { return false };
        let Some(&line) = installation.way(way).poles().first() else { return false };
        let line = self.network.body(TerminalRef::Way { way, conductor: Conductor::Line(line) });
        let lengths = &self.lengths_of[id.index()];
        let mut ends: IndexSet<End> = IndexSet::from([End::Way(way)]);
        let mut joined: UnionFind<usize> = UnionFind::new(1 + 2 * lengths.len());
        let mut legs = Vec::new();
        for length in lengths {
            let carries_line = length.cores().iter().any(|core| match core.ends() {
                [Some(a), Some(_)] => self.network.body(a) == line,
                _ => false,
            });
            match length.ends().map(|end| ends.insert_full(end).0) {
                _ if !carries_line => {}
                [0, 0] => return true,
                [0, leg] | [leg, 0] => legs.push(leg),
                [a, b] => {
                    joined.union(a, b);
                }
            }
        }
        // A leg that is reached from another one closes a ring.
        let mut reached = FxHashSet::default();
        legs.into_iter().any(|leg| !reached.insert(joined.find(leg)))
    }
}
