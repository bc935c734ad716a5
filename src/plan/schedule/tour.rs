//! The order of the stops of a round: the shortest way from the board past all of them and back.

use petgraph::algo::dijkstra;
use petgraph::graph::{NodeIndex, UnGraph};
use petgraph::visit::EdgeRef;
use rustc_hash::{FxHashMap, FxHashSet};

use crate::model::{Installation, LocationId, Metres};
use crate::plan::observer::Watch;
use crate::plan::planner::{Operation, Stop};
use crate::plan::schedule::tour_search::{FoundTour, MOST_EXACT, Micrometres, tour};
use crate::plan::schedule::tree_walk::{self, Span, TreeWalk};

/// A passage longer than this, in metres, is no walk: it is left out, and sums of the others stay exact.
const LONGEST_PASSAGE: f64 = 1e9;

/// Above this many the distances of all to all are not made: they grow with the square.
const MOST_COMPARED: usize = 400;

/// How far a round walks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tour {
    /// From the board past all stops and back.
    pub metres: Metres,
    /// No order of the stops is shorter than this: proven. Up to 12 locations it is the way itself.
    pub at_least: Metres,
    /// Whether no order of the stops is shorter.
    pub is_shortest: bool,
}

impl Tour {
    pub(in crate::plan) fn micrometres(&self) -> Micrometres {
        (self.metres.0 * 1e6).round() as Micrometres
    }
}

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
    pub(in crate::plan) fn between(&self, places: &[LocationId]) -> Option<Vec<Vec<Micrometres>>> {
        let mut between = vec![vec![0; places.len()]; places.len()];
        for (row, &from) in places.iter().enumerate() {
            let reached = dijkstra(&self.graph, NodeIndex::new(from.index()), None, |edge| *edge.weight());
            for (column, &to) in places.iter().enumerate() {
                between[row][column] = *reached.get(&NodeIndex::new(to.index()))?;
            }
        }
        Some(between)
    }

    fn location(&self, operation: &Operation) -> Option<LocationId> {
        match operation.stop {
            Stop::Location(location) => Some(location),
            Stop::Plate(_) | Stop::Point(_) => self.installation.point(operation.point).location(),
        }
    }

    /// Puts operations in the order of the shortest walk from a board's location and back, stops together.
    ///
    /// None, and nothing is changed, where a stop has no location or the passages do not lead to one. Passages count
    /// to the micrometre. Exact to 12 locations, and to any number where
    /// the passages make no loop (see `tree_walk`); beyond that a good order, with a bound (see `tour_search`); for hundreds
    /// of locations along a tree of passages, with a bound that is seldom met.
    pub(in crate::plan) fn order(
        &self,
        home: Option<LocationId>,
        operations: &mut [Operation],
        watch: &mut Watch<'_>,
    ) -> Option<Tour> {
        let mut places = vec![home?];
        let mut known: FxHashSet<LocationId> = places.iter().copied().collect();
        for operation in operations.iter() {
            let place = self.location(operation)?;
            if known.insert(place) {
                places.push(place);
            }
        }
        let along = if places.len() > MOST_EXACT + 1 { Some(self.along_a_tree(&places)?) } else { None };
        let found = match along {
            Some(walk) if walk.is_shortest => FoundTour { at_least: walk.length, ..self.of_tree(&walk, &places) },
            Some(walk) if places.len() > MOST_COMPARED => self.of_tree(&walk, &places),
            _ => tour(&self.between(&places)?, watch),
        };
        let mut rank: FxHashMap<LocationId, usize> = FxHashMap::default();
        for (number, &visited) in found.order.iter().enumerate() {
            rank.insert(places[visited], number + 1);
        }
        // Stable: stops of one location, and operations of one stop, stay in the order of the file.
        operations.sort_by_cached_key(|operation| self.location(operation).and_then(|place| rank.get(&place).copied()));
        let metres = |length: Micrometres| Metres(length as f64 / 1e6);
        Some(Tour {
            metres: metres(found.length),
            at_least: metres(found.at_least),
            is_shortest: found.at_least == found.length,
        })
    }

    fn along_a_tree(&self, places: &[LocationId]) -> Option<TreeWalk> {
        let passages: Vec<Span> = self
            .graph
            .edge_references()
            .map(|edge| ([edge.source().index(), edge.target().index()], *edge.weight()))
            .collect();
        let places: Vec<usize> = places.iter().map(|place| place.index()).collect();
        tree_walk::walk(self.graph.node_count(), &passages, &places)
    }

    /// A walk along a tree as a tour of the places; no walk is shorter than out to the farthest and back.
    fn of_tree(&self, walk: &TreeWalk, places: &[LocationId]) -> FoundTour {
        let number: FxHashMap<usize, usize> =
            places.iter().enumerate().map(|(number, place)| (place.index(), number)).collect();
        let home = NodeIndex::new(places[0].index());
        let reached = dijkstra(&self.graph, home, None, |edge| *edge.weight());
        let farthest = places.iter().filter_map(|place| reached.get(&NodeIndex::new(place.index()))).max();
        FoundTour {
            order: walk.order.iter().map(|place| number[place]).filter(|&number| number != 0).collect(),
            length: walk.length,
            at_least: 2 * farthest.copied().unwrap_or(0),
        }
    }
}
