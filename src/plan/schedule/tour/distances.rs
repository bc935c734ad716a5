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
/// Longer than any walk, and yet a dozen of it can be added up.
const NO_WALK: Micrometres = Micrometres::MAX / 64;

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

    /// Puts operations in the order of a walk from a board's location and back, stops together, and then the sources
    /// that are read at: a reading is taken when all stands as it is to.
    ///
    /// None, and nothing is changed, where a stop has no location or the passages do not lead to one. Passages count to
    /// the micrometre. Exact to 12 locations; of more a good order.
    pub(in crate::plan) fn order(
        &self,
        home: Option<LocationId>,
        operations: &mut [(PointId, Operation)],
        sources: &mut [PointId],
        limits: &PlanLimits,
        watch: &mut Watch<'_>,
    ) -> Option<WalkLength> {
        let home = home?;
        let location = |point: PointId| self.installation.point(point).location();
        let worked = places(home, operations.iter().map(|row| location(row.0)))?;
        let read = places(home, sources.iter().map(|&point| location(point)))?;
        let (order, length, shortest) = self.walk_in_two(home, &worked, &read, limits, watch)?;
        let rank = |places: &[LocationId], offset: usize, point: PointId| {
            let number = places.iter().position(|&place| Some(place) == location(point));
            // At home operations come before setting out, and readings after coming back.
            let at_home = if offset == 0 { 0 } else { order.len() + 1 };
            number.map_or(at_home, |number| order[number + offset] + 1)
        };
        // Stable: stops of one location, and operations of one stop, stay in the order of the file.
        operations.sort_by_cached_key(|(point, _)| rank(&worked, 0, *point));
        sources.sort_by_cached_key(|&point| rank(&read, worked.len(), point));
        let metres = Metres(length as f64 / 1e6);
        Some(WalkLength { metres, at_least: shortest.then_some(metres), shortest })
    }

    /// The walk from home past places, then past others, and back: for each place its number in the order, how long it
    /// is, and whether it is proven the shortest.
    fn walk_in_two(
        &self,
        home: LocationId,
        worked: &[LocationId],
        read: &[LocationId],
        limits: &PlanLimits,
        watch: &mut Watch<'_>,
    ) -> Option<(Vec<usize>, Micrometres, bool)> {
        let count = worked.len() + read.len();
        let all: Vec<LocationId> = [&[home], worked, read].concat();
        let (found, shortest) = if read.is_empty() || worked.is_empty() {
            self.walk(&all, limits, watch)?
        } else if count <= limits.exact_stops {
            let mut between = self.between(&all)?;
            let is_read = |number: usize| number > worked.len();
            for (from, row) in between.iter_mut().enumerate() {
                for (to, length) in row.iter_mut().enumerate() {
                    let is_back = is_read(from) && !is_read(to) && to > 0;
                    let skips = (from == 0 && is_read(to)) || (to == 0 && from > 0 && !is_read(from));
                    if is_back || skips {
                        *length = NO_WALK;
                    }
                }
            }
            (shortest_tour(&between), true)
        } else {
            let [first, then] = [worked, read].map(|places| self.walk(&[&[home], places].concat(), limits, watch));
            let (first, then) = (first?.0.order, then?.0.order);
            let order: Vec<usize> = first.into_iter().chain(then.into_iter().map(|at| at + worked.len())).collect();
            let stops: Vec<LocationId> = [0].iter().chain(&order).chain([&0]).map(|&at| all[at]).collect();
            let legs = stops.windows(2).map(|leg| Some(self.between(leg)?[0][1]));
            (FoundTour { length: legs.sum::<Option<Micrometres>>()?, order }, false)
        };
        let mut number = vec![0; count];
        for (rank, &place) in found.order.iter().enumerate() {
            number[place - 1] = rank;
        }
        Some((number, found.length, shortest))
    }
}

/// The distinct places, without home; none where one is not known.
fn places(home: LocationId, places: impl Iterator<Item = Option<LocationId>>) -> Option<Vec<LocationId>> {
    let mut distinct: Vec<LocationId> = Vec::new();
    for place in places {
        let place = place?;
        if place != home && !distinct.contains(&place) {
            distinct.push(place);
        }
    }
    Some(distinct)
}
