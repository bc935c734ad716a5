//! The order of the stops of a round: the shortest way from the board past all of them and back.

use petgraph::algo::dijkstra;
use petgraph::graph::{NodeIndex, UnGraph};
use petgraph::visit::EdgeRef;
use rustc_hash::{FxHashMap, FxHashSet};

use super::planner::{Operation, Stop};
use super::tree_walk::{self, Micrometres, Span, TreeWalk};
use crate::model::{Installation, LocationId, Metres};

/// Up to this many locations the shortest tour is found; beyond, a good one.
const MOST_EXACT: usize = 12;
/// Above this many the distances of all to all are not made: they grow with the square.
const MOST_COMPARED: usize = 400;

/// How far a round walks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tour {
    /// From the board past all stops and back.
    pub metres: Metres,
    /// Whether no order of the stops is shorter: proven up to 12 locations, and where the passages make no loop.
    pub is_shortest: bool,
}

/// Walking distances between locations.
pub(super) struct Distances<'i> {
    installation: &'i Installation,
    graph: UnGraph<(), f64>,
}

impl<'i> Distances<'i> {
    pub(super) fn new(installation: &'i Installation) -> Distances<'i> {
        let mut graph = UnGraph::default();
        for _ in 0..installation.locations.len() {
            graph.add_node(());
        }
        for passage in installation.passages() {
            let [a, b] = passage.between().map(|location| NodeIndex::new(location.index()));
            graph.add_edge(a, b, passage.metres().0);
        }
        Distances { installation, graph }
    }

    fn location(&self, operation: &Operation) -> Option<LocationId> {
        match operation.stop {
            Stop::Location(location) => Some(location),
            Stop::Plate(_) | Stop::Point(_) => self.installation.point(operation.point).location(),
        }
    }

    /// Puts operations in the order of the shortest walk from a board's location and back, stops together.
    ///
    /// None, and nothing is changed, where a stop has no location or the passages do not lead to one. Time
    /// O(2^n n²) for n ≤ 12 locations (Held and Karp 1962); beyond that along the passages where they make no loop (see
    /// `tree_walk`); else nearest neighbour improved by reversals, O(n²) a sweep, and for hundreds of locations along a
    /// tree of passages again.
    pub(super) fn order(&self, home: Option<LocationId>, operations: &mut [Operation]) -> Option<Tour> {
        let mut places = vec![home?];
        let mut known: FxHashSet<LocationId> = places.iter().copied().collect();
        for operation in operations.iter() {
            let place = self.location(operation)?;
            if known.insert(place) {
                places.push(place);
            }
        }
        if places.len() > MOST_EXACT + 1 {
            let walk = self.along_a_tree(&places)?;
            if walk.is_shortest || places.len() > MOST_COMPARED {
                return Some(self.put_along(&walk, operations));
            }
        }
        let mut between = vec![vec![0.0; places.len()]; places.len()];
        for (row, &from) in places.iter().enumerate() {
            let reached = dijkstra(&self.graph, NodeIndex::new(from.index()), None, |edge| *edge.weight());
            for (column, &to) in places.iter().enumerate() {
                between[row][column] = *reached.get(&NodeIndex::new(to.index()))?;
            }
        }
        let is_shortest = places.len() <= MOST_EXACT + 1;
        let order = if is_shortest { shortest_tour(&between) } else { good_tour(&between) };
        let mut metres = 0.0;
        let mut at = 0;
        for &place in order.iter().chain([&0]) {
            metres += between[at][place];
            at = place;
        }
        let rank = |operation: &Operation| {
            let place = self.location(operation).and_then(|place| places.iter().position(|&known| known == place));
            order.iter().position(|&visited| Some(visited) == place)
        };
        // Stable: stops of one location, and operations of one stop, stay in the order of the file.
        operations.sort_by_cached_key(rank);
        Some(Tour { metres: Metres((metres * 1e6).round() / 1e6), is_shortest })
    }

    fn along_a_tree(&self, places: &[LocationId]) -> Option<TreeWalk> {
        let passages: Vec<Span> = self
            .graph
            .edge_references()
            .map(|edge| ([edge.source().index(), edge.target().index()], (edge.weight() * 1e6).round() as Micrometres))
            .collect();
        let places: Vec<usize> = places.iter().map(|place| place.index()).collect();
        tree_walk::walk(self.graph.node_count(), &passages, &places)
    }

    fn put_along(&self, walk: &TreeWalk, operations: &mut [Operation]) -> Tour {
        let rank: FxHashMap<usize, usize> =
            walk.order.iter().enumerate().map(|(number, &place)| (place, number)).collect();
        operations.sort_by_cached_key(|operation| self.location(operation).map(|place| rank[&place.index()]));
        Tour { metres: Metres(walk.length as f64 / 1e6), is_shortest: walk.is_shortest }
    }
}

/// The shortest tour from place 0 through all others and back: the others in order.
fn shortest_tour(between: &[Vec<f64>]) -> Vec<usize> {
    let others = between.len() - 1;
    if others == 0 {
        return Vec::new();
    }
    // best[set][last]: the shortest way from 0 through the set that ends at `last`, and the place before.
    let mut best = vec![vec![(f64::INFINITY, 0usize); others]; 1 << others];
    for last in 0..others {
        best[1 << last][last] = (between[0][last + 1], last);
    }
    for set in 1..1usize << others {
        for last in (0..others).filter(|last| set >> last & 1 == 1) {
            let so_far = best[set][last].0;
            for next in (0..others).filter(|next| set >> next & 1 == 0) {
                let total = so_far + between[last + 1][next + 1];
                let cell = &mut best[set | 1 << next][next];
                if total < cell.0 {
                    *cell = (total, last);
                }
            }
        }
    }
    let all = (1 << others) - 1;
    let back = |last: &usize| best[all][*last].0 + between[*last + 1][0];
    let mut last = (0..others).min_by(|a, b| back(a).total_cmp(&back(b))).unwrap_or(0);
    let mut set = all;
    let mut order = Vec::with_capacity(others);
    while set != 0 {
        order.push(last + 1);
        let before = best[set][last].1;
        set &= !(1 << last);
        last = before;
    }
    order.reverse();
    order
}

/// A good tour: the nearest next, then stretches reversed while that shortens it.
fn good_tour(between: &[Vec<f64>]) -> Vec<usize> {
    let mut left: Vec<usize> = (1..between.len()).collect();
    let mut order = Vec::with_capacity(left.len());
    let mut at = 0;
    while !left.is_empty() {
        let nearest = (0..left.len())
            .min_by(|&a, &b| between[at][left[a]].total_cmp(&between[at][left[b]]))
            .expect("something is left");
        at = left.remove(nearest);
        order.push(at);
    }
    let place =
        |order: &[usize], number: usize| if number == 0 || number > order.len() { 0 } else { order[number - 1] };
    let mut better = true;
    while better {
        better = false;
        for first in 1..order.len() {
            for last in first + 1..=order.len() {
                let (before, after) = (place(&order, first - 1), place(&order, last + 1));
                let (a, b) = (place(&order, first), place(&order, last));
                let now = between[before][a] + between[b][after];
                let turned = between[before][b] + between[a][after];
                if turned + 1e-9 < now {
                    order[first - 1..last].reverse();
                    better = true;
                }
            }
        }
    }
    order
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Places on a line, at these metres; the tour out and back is twice the farthest, whatever the order in between.
    #[test]
    fn a_tour_along_a_corridor_is_twice_its_length() {
        let at = [0.0, 7.0, 2.0, 9.0, 4.0, 1.0];
        let between: Vec<Vec<f64>> = at.iter().map(|a: &f64| at.iter().map(|b| (a - b).abs()).collect()).collect();
        for order in [shortest_tour(&between), good_tour(&between)] {
            let mut sorted = order.clone();
            sorted.sort_unstable();
            assert_eq!(sorted, [1, 2, 3, 4, 5]);
            let mut walked = 0.0;
            let mut here = 0;
            for &next in order.iter().chain([&0]) {
                walked += between[here][next];
                here = next;
            }
            assert_eq!(walked, 18.0);
        }
    }

    /// The shortest tour against every order tried, on distances from a small generator.
    #[test]
    fn no_order_is_shorter() {
        let mut seed = 7u32;
        let mut next = || {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            f64::from(seed >> 24) + 1.0
        };
        for _ in 0..20 {
            let count = 6;
            let drawn: Vec<f64> = (0..count * count).map(|_| next()).collect();
            let cell = |a: usize, b: usize| if a == b { 0.0 } else { drawn[a.min(b) * count + a.max(b)] };
            let between: Vec<Vec<f64>> = (0..count).map(|a| (0..count).map(|b| cell(a, b)).collect()).collect();
            let length = |order: &[usize]| {
                let mut here = 0;
                order.iter().chain([&0]).map(|&next| between[std::mem::replace(&mut here, next)][next]).sum::<f64>()
            };
            let found = length(&shortest_tour(&between));
            let mut orders = vec![Vec::new()];
            for _ in 1..count {
                orders = orders
                    .into_iter()
                    .flat_map(|order: Vec<usize>| {
                        (1..count)
                            .filter(|next| !order.contains(next))
                            .map(|next| [order.as_slice(), &[next]].concat())
                            .collect::<Vec<_>>()
                    })
                    .collect();
            }
            let least = orders.iter().map(|order| length(order)).fold(f64::INFINITY, f64::min);
            assert!((found - least).abs() < 1e-9, "{found} {least}");
        }
    }
}
