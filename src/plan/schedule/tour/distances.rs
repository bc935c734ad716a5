//! The order of the stops of a round: the shortest way from the board past all of them and back.

use petgraph::algo::dijkstra;
use petgraph::graph::{NodeIndex, UnGraph};
use petgraph::visit::EdgeRef;
use rustc_hash::FxHashMap;

use crate::model::{Installation, LocationId, Metres, PointId};
use crate::observer::Watch;
use crate::plan::answer::{Operation, WalkLength};
use crate::plan::limits::PlanLimits;
use crate::plan::schedule::tour::search::{FoundTour, Micrometres, improved_tour, shortest_tour};
use crate::plan::schedule::tour::tree_walk::{self, WalkSpan};

/// A passage longer than this, in metres, is no walk: it is left out, and sums of the others stay exact.
const LONGEST_PASSAGE: f64 = 1e9;

/// Walking distances between locations.
pub(in crate::plan) struct Distances<'i> {
    installation: &'i Installation,
    graph: UnGraph<(), Micrometres>,
}

impl<'i> Distances<'i> {
    pub(in crate::plan) fn new(installation: &'i Installation) -> Distances<'i> {
        let mut graph = UnGraph::default();
        for _ in 0..installation.locations.len() {
            graph.add_node(());
        }
        for passage in installation.passages().iter().filter(|passage| passage.metres().0 <= LONGEST_PASSAGE) {
            let [a, b] = passage.between().map(|location| NodeIndex::new(location.index()));
            graph.add_edge(a, b, (passage.metres().0 * 1e6).round() as Micrometres);
        }
        Distances { installation, graph }
    }

    /// The shortest way between each two places; none where the passages do not lead from one to another.
    fn between(&self, places: &[LocationId]) -> Option<Vec<Vec<Micrometres>>> {
        let mut between = vec![vec![0; places.len()]; places.len()];
        for (row, &from) in places.iter().enumerate() {
            let reached = dijkstra(&self.graph, NodeIndex::new(from.index()), None, |edge| *edge.weight());
            for (column, &to) in places.iter().enumerate() {
                between[row][column] = *reached.get(&NodeIndex::new(to.index()))?;
            }
        }
        Some(between)
    }

    /// The walk from the first place past all others and back, and whether it is proven the shortest. None where the
    /// passages do not lead to each.
    pub(in crate::plan) fn walk(
        &self,
        places: &[LocationId],
        limits: &PlanLimits,
        watch: &mut Watch<'_>,
    ) -> Option<(FoundTour, bool)> {
        if places.len() <= limits.exact_stops + 1 {
            return Some((shortest_tour(&self.between(places)?), true));
        }
        let passages: Vec<WalkSpan> = self
            .graph
            .edge_references()
            .map(|edge| ([edge.source().index(), edge.target().index()], *edge.weight()))
            .collect();
        let number: FxHashMap<usize, usize> =
            places.iter().enumerate().map(|(number, place)| (place.index(), number)).collect();
        let indices: Vec<usize> = places.iter().map(|place| place.index()).collect();
        let along = tree_walk::walk(self.graph.node_count(), &passages, &indices)?;
        let order: Vec<usize> = along.order[1..].iter().map(|place| number[place]).collect();
        let found = if places.len() > limits.compared_places {
            FoundTour { order, length: along.length }
        } else {
            improved_tour(&self.between(places)?, &order, limits.tour_changes, watch)
        };
        Some((found, false))
    }

    /// Puts operations in the order of a walk from a board's location and back, stops together.
    ///
    /// None, and nothing is changed, where a stop has no location or the passages do not lead to one. Passages count to
    /// the micrometre. Exact to 12 locations; of more a good order.
    pub(in crate::plan) fn order(
        &self,
        home: Option<LocationId>,
        operations: &mut [(PointId, Operation)],
        limits: &PlanLimits,
        watch: &mut Watch<'_>,
    ) -> Option<WalkLength> {
        let mut places = vec![home?];
        let mut rank: FxHashMap<LocationId, usize> = places.iter().map(|&place| (place, 0)).collect();
        let location = |point: PointId| self.installation.point(point).location();
        for (point, _) in operations.iter() {
            let place = location(*point)?;
            if rank.insert(place, 0).is_none() {
                places.push(place);
            }
        }
        let (found, shortest) = self.walk(&places, limits, watch)?;
        for (number, &visited) in found.order.iter().enumerate() {
            rank.insert(places[visited], number + 1);
        }
        // Stable: stops of one location, and operations of one stop, stay in the order of the file.
        operations.sort_by_cached_key(|(point, _)| location(*point).map(|place| rank[&place]));
        let metres = Metres(found.length as f64 / 1e6);
        Some(WalkLength { metres, at_least: shortest.then_some(metres), shortest })
    }
}
