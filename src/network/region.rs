//! What one reading can reach: the bodies that its leads hold always, and the groups of devices that decide the rest.
//!
//! With the leads on, the copper splits into the bodies joined to lead A whatever the variable devices do (`A0`), the
//! same for lead B (`B0`), and what lies beyond variable contacts. Outside `A0` and `B0` the graph falls apart into
//! **groups** that share neither a body nor a device; since everything in `A0` is on the lead in any case, what one
//! group's devices do is no matter to another group. So each group is worked out on its own, over the positions of
//! its own devices only, 64 combinations to a machine word. A reading is void where some group joins the leads.
//!
//! Design not taken: one table over all devices that a reading can reach. It is simpler and exact, but a neutral bar
//! with forty switched neutrals on it would need 2^40 rows where forty groups of two rows do.

use fixedbitset::FixedBitSet;
use petgraph::unionfind::UnionFind;
use petgraph::visit::EdgeRef;

use super::condition::Digit;
use super::graph::{Body, DeviceIndex, Edge, Network};
use super::group::{Group, Sorting};
use super::standing::{Stand, Standing};
use crate::model::{Conducts, Lead};

/// One of the two leads.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) enum Side {
    A,
    B,
}

impl Side {
    pub(crate) fn other(self) -> Side {
        match self {
            Side::A => Side::B,
            Side::B => Side::A,
        }
    }
}

/// The bodies that the two leads touch.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub(crate) struct LeadBodies(pub(crate) [Vec<Body>; 2]);

impl LeadBodies {
    pub(crate) fn of(network: &Network, leads: &[Lead; 2]) -> LeadBodies {
        LeadBodies([0, 1].map(|lead: usize| {
            let mut bodies: Vec<Body> = leads[lead].touches().iter().map(|&terminal| network.body(terminal)).collect();
            bodies.sort_unstable();
            bodies.dedup();
            bodies
        }))
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Conduct {
    /// Always, by the fixed devices and fitted bridges.
    Sure,
    /// While the variable device stands in one of these positions.
    In {
        device: DeviceIndex,
        closed_in: u64,
    },
    Maybe,
}

/// A body outside `A0` and `B0`, by its number in [`Region::bodies`]; the leads themselves come first.
pub(super) const LEAD_A: u32 = 0;
pub(super) const LEAD_B: u32 = 1;

/// What counts as joined.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Counts {
    /// What conducts whatever the variable devices do.
    Sure,
    /// That, and what conducts for sure in some position of them.
    InSomePosition,
    /// That, and what may conduct.
    Perhaps,
}

#[derive(Clone, Debug)]
pub(super) struct LocalEdge {
    pub(super) ends: [u32; 2],
    pub(super) conduct: Conduct,
}

/// What one reading can reach.
#[derive(Clone, Debug, Default)]
pub(crate) struct Region {
    /// The leads are joined for sure in any case.
    pub(crate) always_bridged: bool,
    /// The leads are joined perhaps in any case.
    pub(crate) always_doubtful: bool,
    /// The bodies always joined to each lead.
    pub(crate) held: [Vec<Body>; 2],
    /// Bodies beyond, numbered from 2 in `nodes`.
    pub(crate) bodies: Vec<Body>,
    pub(super) edges: Vec<LocalEdge>,
    /// Groups by what conducts for sure: they decide which bodies are reached.
    pub(crate) groups: Vec<Group>,
    /// For each of `bodies`, its group.
    pub(crate) group_of: Vec<u32>,
    /// Groups by all that may conduct, those only that touch both leads: they decide whether the reading is void.
    pub(crate) void_groups: Vec<Group>,
    /// The devices of each group in turn, each with its number of positions; ascending in a group.
    pub(super) group_digits: Vec<Digit>,
    /// The nodes of each group in turn; ascending in a group.
    pub(super) group_nodes: Vec<u32>,
    pub(super) group_edges: Vec<u32>,
}

impl Region {
    fn clear(&mut self) {
        let Region { always_bridged, always_doubtful, held, bodies, edges, .. } = self;
        (*always_bridged, *always_doubtful) = (false, false);
        held.iter_mut().for_each(Vec::clear);
        bodies.clear();
        edges.clear();
        self.clear_groups();
    }
}

/// Explores regions; holds marks that are used again from reading to reading.
pub(crate) struct Scout {
    /// For each body: the stamp of the exploration that saw it, and what it saw.
    seen: Vec<(u32, u32)>,
    /// For each device: the stamp of the exploration that met it, and its number among the nodes.
    pub(super) numbered: Vec<(u32, u32)>,
    pub(super) stamp: u32,
    /// Lists to use again.
    spare: Region,
    pub(super) sorting: Sorting,
}

const IN_A: u32 = u32::MAX;
const IN_B: u32 = u32::MAX - 1;

impl Scout {
    pub(crate) fn new(network: &Network) -> Scout {
        Scout {
            seen: vec![(0, 0); network.body_count()],
            numbered: vec![(0, 0); network.devices.len()],
            stamp: 0,
            spare: Region::default(),
            sorting: Sorting::default(),
        }
    }

    fn mark(&self, body: Body) -> Option<u32> {
        let (stamp, mark) = self.seen[body as usize];
        (stamp == self.stamp).then_some(mark)
    }

    /// Where the last exploration met a body: held by a lead, or its number in [`Region::bodies`].
    pub(crate) fn place(&self, body: Body) -> Option<Result<Side, u32>> {
        Some(match self.mark(body)? {
            IN_A => Ok(Side::A),
            IN_B => Ok(Side::B),
            node => Err(node - 2),
        })
    }

    /// For each body a number that it shares with all that is joined to it, as far as that counts. Time and space linear
    /// in the network.
    pub(crate) fn pieces(network: &Network, standing: &Standing, variable: &FixedBitSet, counts: Counts) -> Vec<u32> {
        let mut pieces: UnionFind<u32> = UnionFind::new(network.body_count());
        for edge in network.graph.edge_references() {
            let counts = match Scout::conduct(network, standing, variable, *edge.weight()) {
                None => false,
                Some(Conduct::Sure) => true,
                Some(Conduct::In { .. }) => counts != Counts::Sure,
                Some(Conduct::Maybe) => counts == Counts::Perhaps,
            };
            if counts {
                pieces.union(edge.source().index() as u32, edge.target().index() as u32);
            }
        }
        pieces.into_labeling()
    }

    fn conduct(network: &Network, standing: &Standing, variable: &FixedBitSet, edge: Edge) -> Option<Conduct> {
        match edge {
            Edge::Contact(number) => {
                let contact = &network.contacts[number as usize];
                if contact.always_closed {
                    Some(Conduct::Sure)
                } else if variable.contains(contact.device as usize) {
                    (contact.closed_in != 0)
                        .then_some(Conduct::In { device: contact.device, closed_in: contact.closed_in })
                } else {
                    match standing.device(contact.device) {
                        Stand::At(position) => (contact.is_closed_in(position)).then_some(Conduct::Sure),
                        Stand::Moved(_) => unreachable!("devices that stand unknown are variable"),
                    }
                }
            }
            Edge::Bridge { bridge, conducts, .. } => standing.is_fitted(bridge).then_some(match conducts {
                Conducts::Sure => Conduct::Sure,
                Conducts::Maybe => Conduct::Maybe,
            }),
        }
    }

    /// Explores what a reading between `leads` can reach, with `variable` devices free and all else as it stands.
    ///
    /// Every device that stands unknown must be variable. Time and space linear in what is reached.
    pub(crate) fn explore(
        &mut self,
        network: &Network,
        standing: &Standing,
        variable: &FixedBitSet,
        leads: &LeadBodies,
    ) -> Region {
        self.stamp += 1;
        let mut region = std::mem::take(&mut self.spare);
        region.clear();
        for (side, mark) in [(0usize, IN_A), (1, IN_B)] {
            let mut held = std::mem::take(&mut region.held[side]);
            for &body in &leads.0[side] {
                match self.mark(body) {
                    Some(seen) if seen != mark => region.always_bridged = true,
                    Some(_) => {}
                    None => {
                        self.seen[body as usize] = (self.stamp, mark);
                        held.push(body);
                    }
                }
            }
            let mut next = 0;
            while next < held.len() {
                for (other, edge) in network.edges_at(held[next]) {
                    if Scout::conduct(network, standing, variable, edge) != Some(Conduct::Sure) {
                        continue;
                    }
                    match self.mark(other) {
                        Some(seen) if seen != mark => region.always_bridged = true,
                        Some(_) => {}
                        None => {
                            self.seen[other as usize] = (self.stamp, mark);
                            held.push(other);
                        }
                    }
                }
                next += 1;
            }
            region.held[side] = held;
        }
        if region.always_bridged {
            return region;
        }
        self.explore_beyond(network, standing, variable, &mut region);
        self.find_groups(network, &mut region);
        region
    }

    /// Takes a region back that is no longer looked at, for its lists to be used again: a test set has thousands of
    /// readings.
    pub(crate) fn give_back(&mut self, region: Region) {
        self.spare = region;
    }

    fn explore_beyond(&mut self, network: &Network, standing: &Standing, variable: &FixedBitSet, region: &mut Region) {
        for side in 0..2 {
            for &body in &region.held[side] {
                for (other, edge) in network.edges_at(body) {
                    let Some(conduct) = Scout::conduct(network, standing, variable, edge) else { continue };
                    let node = match self.mark(other) {
                        Some(IN_A) => LEAD_A,
                        Some(IN_B) => LEAD_B,
                        Some(node) => node,
                        None => {
                            region.bodies.push(other);
                            let node = region.bodies.len() as u32 + 1;
                            self.seen[other as usize] = (self.stamp, node);
                            node
                        }
                    };
                    // An edge from a lead back to itself changes nothing; one between the leads is listed from A.
                    if node == side as u32 || (side == 1 && node == LEAD_A) {
                        continue;
                    }
                    if node == LEAD_B && conduct == Conduct::Maybe {
                        region.always_doubtful = true;
                    }
                    region.edges.push(LocalEdge { ends: [side as u32, node], conduct });
                }
            }
        }
        let mut next = 0;
        while next < region.bodies.len() {
            let body = region.bodies[next];
            let node = next as u32 + 2;
            for (other, edge) in network.edges_at(body) {
                let Some(conduct) = Scout::conduct(network, standing, variable, edge) else { continue };
                let far = match self.mark(other) {
                    Some(IN_A | IN_B) => continue,
                    Some(far) => far,
                    None => {
                        region.bodies.push(other);
                        let far = region.bodies.len() as u32 + 1;
                        self.seen[other as usize] = (self.stamp, far);
                        far
                    }
                };
                if far > node {
                    region.edges.push(LocalEdge { ends: [node, far], conduct });
                }
            }
            next += 1;
        }
    }
}
