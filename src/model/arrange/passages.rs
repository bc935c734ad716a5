//! How far it is from location to location, by the passages of a draft.

use std::cell::Cell;

use petgraph::algo::dijkstra;
use petgraph::graphmap::UnGraphMap;
use petgraph::visit::EdgeFiltered;
use rustc_hash::FxHashMap;

use crate::model::{InputLimits, InstallationDraft, Metres};

/// A passage longer than this, in metres, is left out, so that sums of the others stay exact.
const LONGEST: f64 = 1e9;

/// The passages, in millimetres, and the shortest ways that were asked for.
pub(super) struct Passages<'d> {
    graph: UnGraphMap<&'d str, u64>,
    ways: FxHashMap<[&'d str; 2], Option<Metres>>,
    /// How many passages may still be looked at.
    budget: usize,
}

impl<'d> Passages<'d> {
    /// Those that can be walked; what is wrong with others is reported where they are read.
    pub(super) fn of(draft: &'d InstallationDraft, limits: &InputLimits) -> Self {
        let mut graph = UnGraphMap::new();
        for passage in draft.passages.iter().filter(|passage| passage.metres.0 > 0.0 && passage.metres.0 <= LONGEST) {
            let [one, other] = passage.between.each_ref().map(String::as_str);
            let millimetres = (passage.metres.0 * 1e3).round() as u64;
            let shorter = graph.edge_weight(one, other).map_or(millimetres, |&known: &u64| known.min(millimetres));
            graph.add_edge(one, other, shorter);
        }
        Passages { graph, ways: FxHashMap::default(), budget: limits.passages_searched }
    }

    /// The shortest way between two locations; none where it is one, where the passages do not join them, or where the
    /// budget is spent.
    pub(super) fn between(&mut self, from: &'d str, to: &'d str) -> Option<Metres> {
        if let Some(&known) = self.ways.get(&[from, to]) {
            return known;
        }
        if from == to || !self.graph.contains_node(from) || !self.graph.contains_node(to) {
            return None;
        }
        let left = Cell::new(self.budget);
        let within = EdgeFiltered::from_fn(&self.graph, |_| {
            left.set(left.get().saturating_sub(1));
            left.get() > 0
        });
        let reached = dijkstra(&within, from, Some(to), |(_, _, &millimetres)| millimetres);
        self.budget = left.get();
        // A search that was cut short may have missed a shorter way.
        let way = reached.get(to).filter(|&&millimetres| self.budget > 0 && millimetres > 0);
        let way = way.map(|&millimetres| Metres(millimetres as f64 / 1e3));
        self.ways.insert([from, to], way);
        way
    }
}
