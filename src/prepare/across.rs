//! What lies across the leads of a reading.

use fixedbitset::FixedBitSet;
use rustc_hash::FxHashMap;

use crate::model::BridgeRef;
use crate::network::{Body, Edge, Network};
use crate::reading::LeadBodies;

/// Which contacts of points a path may go over.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Contacts {
    /// Those that any position closes which their device can be in: so something may be named where no one setting
    /// makes it so.
    InAnyPosition,
    /// Those that every position closes which their device can be in: so what is named no setting cuts off.
    InEveryPosition,
}

/// The holders of bridges that lie across two leads by themselves, ascending: on a path from the one lead to the other
/// that touches no copper twice, over contacts of points, elements of the holder, and what stays in whatever is done.
/// The devices of boards stay off.
///
/// Design not taken: whatever joins a body that the one lead reaches to one that the other reaches. Both reach the same
/// copper where something stays in between them, and then everything beside that is named too.
///
/// Time O(h × m) for h holders that are reached and m edges that the leads reach.
pub(super) fn holders_across(network: &Network, leads: &LeadBodies, contacts: Contacts) -> Vec<usize> {
    let [one, other] = &leads.touched;
    if one.iter().any(|body| other.contains(body)) {
        return Vec::new();
    }
    // From the side with fewer edges; earth has most of an installation on it.
    let edges = |lead| <[Body]>::iter(lead).flat_map(|&body| network.edges_at(body));
    let fewer = edges(one).zip(edges(other)).count();
    let [from, to] = if edges(one).nth(fewer).is_none() { [one, other] } else { [other, one] };
    let reached = reached(network, [from, to], contacts, None);
    let mut holders: Vec<usize> = reached
        .iter()
        .flat_map(|&body| network.edges_at(body))
        .filter_map(|(_, edge)| match edge {
            Edge::Bridge { bridge, .. } => Some(bridge as usize),
            Edge::Contact(_) => None,
        })
        .collect();
    holders.sort_unstable();
    holders.dedup();
    holders.retain(|&holder| {
        let between = Between::of(network, [from, to], contacts, holder);
        network.bridges()[holder].elements.iter().any(|element| between.is_passed(element.bodies))
    });
    holders
}

/// Copper that can be joined to the one lead without passing through the other, the lead itself first.
fn reached(network: &Network, [from, to]: [&[Body]; 2], contacts: Contacts, holder: Option<usize>) -> Vec<Body> {
    let passes = |edge, far: Body| !to.contains(&far) && passes(network, edge, contacts, holder);
    network.reach(from.iter().copied(), passes).bodies().to_vec()
}

/// The copper that paths from the one lead to the other go over, none of it twice.
///
/// Let the two leads be joined by an edge of their own: a path goes over another edge where both are on one cycle, so
/// where both are in one block (biconnected component; Hopcroft and Tarjan 1973).
struct Between {
    /// Both leads first, each as one; then what is reached.
    nodes: FxHashMap<Body, usize>,
    in_block: FixedBitSet,
}

impl Between {
    fn of(network: &Network, [from, to]: [&[Body]; 2], contacts: Contacts, holder: usize) -> Between {
        let order = reached(network, [from, to], contacts, Some(holder));
        let mut nodes: FxHashMap<Body, usize> = FxHashMap::default();
        for (node, lead) in [from, to].into_iter().enumerate() {
            nodes.extend(lead.iter().map(|&body| (body, node)));
        }
        let mut next: Vec<Vec<usize>> = vec![vec![1], vec![0]];
        for &body in &order {
            nodes.entry(body).or_insert_with(|| {
                next.push(Vec::new());
                next.len() - 1
            });
        }
        for &body in &order {
            for (far, edge) in network.edges_at(body) {
                if !passes(network, edge, contacts, Some(holder)) {
                    continue;
                }
                let [one, other] = [nodes[&body], nodes[&far]];
                if one != other {
                    next[one].push(other);
                    // What is reached has this edge from its own side too.
                    if other == 1 {
                        next[1].push(one);
                    }
                }
            }
        }
        Between { nodes, in_block: block_of_first_edge(&next) }
    }

    /// Whether a path goes over an edge between two bodies.
    fn is_passed(&self, bodies: [Body; 2]) -> bool {
        let [Some(&one), Some(&other)] = bodies.map(|body| self.nodes.get(&body)) else { return false };
        one != other && self.in_block.contains(one) && self.in_block.contains(other)
    }
}

/// The nodes of the block that the edge from node 0 to node 1 is in, of a graph in which 1 is the first that 0 is next to.
/// Time and space linear in the graph.
fn block_of_first_edge(next: &[Vec<usize>]) -> FixedBitSet {
    const NOT_MET: usize = usize::MAX;
    let mut met = vec![NOT_MET; next.len()];
    let mut lowest = vec![NOT_MET; next.len()];
    (met[0], met[1], lowest[1]) = (0, 1, 1);
    let mut met_count = 2;
    let mut waiting = vec![1];
    // A node, the one before it, and how many of its edges were followed.
    let mut walk = vec![(1, 0, 0)];
    while let Some((node, before, followed)) = walk.last_mut() {
        let (node, before) = (*node, *before);
        if let Some(&to) = next[node].get(*followed) {
            *followed += 1;
            if met[to] == NOT_MET {
                (met[to], lowest[to]) = (met_count, met_count);
                met_count += 1;
                waiting.push(to);
                walk.push((to, node, 0));
            } else {
                lowest[node] = lowest[node].min(met[to]);
            }
            continue;
        }
        walk.pop();
        if node == 1 {
            break;
        }
        lowest[before] = lowest[before].min(lowest[node]);
        if lowest[node] >= met[before] {
            // A block of its own hangs on the node before.
            let first = waiting.iter().rposition(|&other| other == node).expect("it was met after the others there");
            waiting.truncate(first);
        }
    }
    let mut block = FixedBitSet::with_capacity(next.len());
    block.extend(waiting);
    block.insert(0);
    block
}

/// Whether a path goes over an edge: contacts of points that can close, what stays in, links in the place of what
/// passes, and the holder that is asked for.
fn passes(network: &Network, edge: Edge, contacts: Contacts, holder: Option<usize>) -> bool {
    match edge {
        Edge::Bridge { bridge, passes, .. } => {
            let row = &network.bridges()[bridge as usize];
            let is_there = passes || !row.removable;
            holder == Some(bridge as usize) || is_there && matches!(row.reference, BridgeRef::Point(_))
        }
        Edge::Contact(number) => {
            let contact = &network.contacts()[number as usize];
            let device = &network.devices()[contact.device as usize];
            let closed = contact.closed_in & device.can_take();
            device.is_at_point()
                && match contacts {
                    Contacts::InAnyPosition => closed != 0,
                    Contacts::InEveryPosition => closed == device.can_take(),
                }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Of all graphs of five nodes with an edge from 0 to 1: what is in its block is on a path from 0 to 1 that meets no
    /// node twice.
    #[test]
    fn a_block_is_what_paths_between_the_leads_meet() {
        fn meet(next: &[Vec<usize>], path: &mut Vec<usize>, met: &mut FixedBitSet) {
            let last = path[path.len() - 1];
            if last == 1 {
                met.extend(path.iter().copied());
                return;
            }
            for &to in &next[last] {
                if !path.contains(&to) {
                    path.push(to);
                    meet(next, path, met);
                    path.pop();
                }
            }
        }
        let pairs: Vec<[usize; 2]> = (0..5).flat_map(|one| (one + 1..5).map(move |other| [one, other])).collect();
        for edges in (0..1u32 << pairs.len()).filter(|edges| edges & 1 == 1) {
            let mut next = vec![Vec::new(); 5];
            for (_, &[one, other]) in pairs.iter().enumerate().filter(|(number, _)| edges >> number & 1 == 1) {
                next[one].push(other);
                next[other].push(one);
            }
            let mut met = FixedBitSet::with_capacity(5);
            meet(&next, &mut vec![0], &mut met);
            assert_eq!(block_of_first_edge(&next), met, "{next:?}");
        }
    }
}
