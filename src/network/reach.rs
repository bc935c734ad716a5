//! What copper is reached from where, and by which path, over the edges that a question lets pass.

use std::collections::VecDeque;

use petgraph::unionfind::UnionFind;
use petgraph::visit::EdgeRef;
use rustc_hash::{FxHashMap, FxHashSet};

use super::graph::{Body, Edge, Network};

/// A step of a path: from a body, over an edge, to a body.
pub(crate) type PathStep = (Body, Edge, Body);

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

/// The paths from some bodies with the fewest costly edges, to every body that there is one to.
pub(crate) struct PathsTo {
    /// For each body that was met how many costly edges there are, and the step by which it is come to.
    best: FxHashMap<Body, (u32, Option<PathStep>)>,
}

impl PathsTo {
    pub(crate) fn reaches(&self, body: Body) -> bool {
        self.best.contains_key(&body)
    }

    /// The step from a body towards where the paths lead; none where it is there, or no path leads on.
    pub(crate) fn step(&self, body: Body) -> Option<PathStep> {
        let (before, edge, _) = self.best.get(&body)?.1?;
        Some((body, edge, before))
    }

    /// Searches from some bodies until one `is_goal`; that one.
    fn search(
        &mut self,
        network: &Network,
        from: impl IntoIterator<Item = Body>,
        cost: impl Fn(Edge) -> Option<bool>,
        is_goal: impl Fn(Body) -> bool,
    ) -> Option<Body> {
        let mut queue = VecDeque::new();
        for body in from {
            self.best.insert(body, (0, None));
            queue.push_back((0, body));
        }
        while let Some((spent, body)) = queue.pop_front() {
            if self.best[&body].0 < spent {
                continue;
            }
            if is_goal(body) {
                return Some(body);
            }
            for (far, edge) in network.edges_at(body) {
                let Some(costs) = cost(edge) else { continue };
                let total = spent + u32::from(costs);
                if self.best.get(&far).is_none_or(|&(known, _)| total < known) {
                    self.best.insert(far, (total, Some((body, edge, far))));
                    if costs { queue.push_back((total, far)) } else { queue.push_front((total, far)) }
                }
            }
        }
        None
    }
}

impl Network {
    /// The path from `from` to a body that `is_goal` with the fewest costly edges.
    ///
    /// `cost` tells of an edge whether it can be taken, and whether that costs. None where there is no path.
    /// Time and space linear in what is searched.
    pub(crate) fn path(
        &self,
        from: &[Body],
        cost: impl Fn(Edge) -> Option<bool>,
        is_goal: impl Fn(Body) -> bool,
    ) -> Option<Vec<PathStep>> {
        let mut paths = PathsTo { best: FxHashMap::default() };
        let mut at = paths.search(self, from.iter().copied(), cost, is_goal)?;
        let mut steps = Vec::new();
        while let Some(step) = paths.best[&at].1 {
            steps.push(step);
            at = step.0;
        }
        steps.reverse();
        Some(steps)
    }

    /// The paths to some bodies from all others, each with the fewest costly edges. Time and space linear in the network.
    pub(crate) fn paths_to(
        &self,
        goals: impl IntoIterator<Item = Body>,
        cost: impl Fn(Edge) -> Option<bool>,
    ) -> PathsTo {
        let mut paths = PathsTo { best: FxHashMap::default() };
        paths.search(self, goals, cost, |_| false);
        paths
    }

    /// All that is joined to some bodies over edges that pass, each asked with the body beyond. Time and space linear
    /// in what is reached.
    pub(crate) fn reach(&self, from: impl IntoIterator<Item = Body>, passes: impl Fn(Edge, Body) -> bool) -> Reach {
        let mut reach = Reach::from(from);
        while let Some(body) = reach.step() {
            for (far, edge) in self.edges_at(body) {
                if passes(edge, far) {
                    reach.enter(far);
                }
            }
        }
        reach
    }

    /// For each body a number that it shares with all that is joined to it over edges that pass. Time and space linear
    /// in the network.
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
