//! What copper is reached from where, over the edges that a question lets pass.

use petgraph::unionfind::UnionFind;
use petgraph::visit::EdgeRef;
use rustc_hash::FxHashSet;

use super::graph::{Body, Edge, Network};

/// Bodies in the order in which they are met, each once; and how many of them were walked on from.
#[derive(Clone, Debug, Default)]
pub(crate) struct Reach {
    bodies: Vec<Body>,
    seen: FxHashSet<Body>,
    next: usize,
}

impl Reach {
    /// Begins with some bodies.
    pub(crate) fn from(bodies: impl IntoIterator<Item = Body>) -> Reach {
        let mut reach = Reach::default();
        bodies.into_iter().for_each(|body| {
            reach.enter(body);
        });
        reach
    }

    /// Adds a body; whether it is new.
    pub(crate) fn enter(&mut self, body: Body) -> bool {
        let is_new = self.seen.insert(body);
        if is_new {
            self.bodies.push(body);
        }
        is_new
    }

    /// The next body to walk on from, first met first.
    pub(crate) fn step(&mut self) -> Option<Body> {
        let body = *self.bodies.get(self.next)?;
        self.next += 1;
        Some(body)
    }

    pub(crate) fn bodies(&self) -> &[Body] {
        &self.bodies
    }

    pub(crate) fn contains(&self, body: Body) -> bool {
        self.seen.contains(&body)
    }
}

impl Network {
    /// All that is joined to some bodies over edges that pass. Time and space linear in what is reached.
    pub(crate) fn reach(&self, from: impl IntoIterator<Item = Body>, passes: impl Fn(Edge) -> bool) -> Reach {
        let mut reach = Reach::from(from);
        while let Some(body) = reach.step() {
            for (far, edge) in self.edges_at(body) {
                if passes(edge) {
                    reach.enter(far);
                }
            }
        }
        reach
    }

    /// For each body a number that it shares with all that is joined to it over edges that pass. Time and space linear in
    /// the network.
    pub(crate) fn pieces(&self, passes: impl Fn(Edge) -> bool) -> Vec<u32> {
        let mut pieces: UnionFind<u32> = UnionFind::new(self.body_count());
        for edge in self.graph.edge_references() {
            if passes(*edge.weight()) {
                pieces.union(edge.source().index() as u32, edge.target().index() as u32);
            }
        }
        pieces.into_labeling()
    }
}
