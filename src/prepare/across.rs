//! What lies across the leads of a reading.

use petgraph::algo::ford_fulkerson;
use petgraph::graph::{DiGraph, NodeIndex};
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
/// Time O(h × m) for h holders and m edges that the leads reach.
pub(super) fn holders_across(network: &Network, leads: &LeadBodies, contacts: Contacts) -> Vec<usize> {
    let [one, other] = &leads.touched;
    if one.iter().any(|body| other.contains(body)) {
        return Vec::new();
    }
    // From the side with fewer edges; earth has most of an installation on it.
    let edges = |bodies: &[Body]| bodies.iter().map(|&body| network.edges_at(body).count()).sum::<usize>();
    let [from, to] = if edges(one) <= edges(other) { [one, other] } else { [other, one] };
    let reached = Reached::of(network, [from, to], contacts, None);
    let mut holders: Vec<usize> = reached
        .order
        .iter()
        .chain(from)
        .flat_map(|&body| network.edges_at(body))
        .filter_map(|(_, edge)| match edge {
            Edge::Bridge { bridge, .. } => Some(bridge as usize),
            Edge::Contact(_) => None,
        })
        .collect();
    holders.sort_unstable();
    holders.dedup();
    holders.retain(|&holder| Reached::of(network, [from, to], contacts, Some(holder)).goes_over(network, holder));
    holders
}

/// Copper that can be joined to the one lead without passing through the other.
struct Reached {
    graph: DiGraph<(), u32>,
    /// For each body a node by which it is entered.
    nodes: FxHashMap<Body, NodeIndex>,
    /// The bodies that are on no lead.
    order: Vec<Body>,
    end: NodeIndex,
}

impl Reached {
    /// The graph has two nodes for each body on no lead, with an arc that only one path can take, and one for each
    /// lead; from any two bodies it is asked for paths to the two leads that share no body.
    fn of(network: &Network, [from, to]: [&[Body]; 2], contacts: Contacts, holder: Option<usize>) -> Reached {
        let mut graph = DiGraph::new();
        let end = graph.add_node(());
        let mut nodes = FxHashMap::default();
        for lead in [from, to] {
            let node = graph.add_node(());
            graph.add_edge(node, end, 1);
            nodes.extend(lead.iter().map(|&body| (body, node)));
        }
        let reach = network
            .reach(from.iter().copied(), |edge, far| !to.contains(&far) && passes(network, edge, contacts, holder));
        let order: Vec<Body> = reach.bodies().iter().copied().filter(|body| !from.contains(body)).collect();
        let mut leaves = Vec::with_capacity(order.len());
        for &body in &order {
            let [enters, goes_on] = [graph.add_node(()), graph.add_node(())];
            graph.add_edge(enters, goes_on, 1);
            nodes.insert(body, enters);
            leaves.push(goes_on);
        }
        for (&body, leaves) in order.iter().zip(leaves) {
            for (next, edge) in network.edges_at(body) {
                if passes(network, edge, contacts, holder) {
                    graph.add_edge(leaves, nodes[&next], 1);
                }
            }
        }
        Reached { graph, nodes, order, end }
    }

    /// Whether a path from lead to lead goes over an element of the holder: from the element's two ends two paths go to
    /// the two leads, and share no body (Menger's theorem).
    fn goes_over(mut self, network: &Network, holder: usize) -> bool {
        network.bridges()[holder].elements.iter().any(|element| {
            let [Some(&one), Some(&other)] = element.bodies.map(|body| self.nodes.get(&body)) else { return false };
            if one == other {
                return false;
            }
            let start = self.graph.add_node(());
            self.graph.add_edge(start, one, 1);
            self.graph.add_edge(start, other, 1);
            ford_fulkerson(&self.graph, start, self.end).0 == 2
        })
    }
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
