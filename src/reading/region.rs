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

use super::condition::Digit;
use super::configuration::{Conduct, Configuration, FreeDevices};
use super::group::DeviceGroup;
use super::leads::{LeadBodies, Side};
use super::probe::Probe;
use crate::network::{Body, Network};

/// A body outside `A0` and `B0`, by its number in [`Region::bodies`]; the leads themselves come first.
pub(super) const LEAD_A: u32 = 0;
pub(super) const LEAD_B: u32 = 1;

#[derive(Clone, Debug)]
pub(super) struct LocalEdge {
    pub(super) ends: [u32; 2],
    pub(super) conduct: Conduct,
}

/// What one reading can reach.
#[derive(Clone, Debug, Default)]
pub(super) struct Region {
    /// The leads are joined for sure in any case; then nothing beyond them is explored.
    pub(super) is_bridged: bool,
    /// The leads are joined perhaps in any case.
    pub(super) is_doubtful: bool,
    /// The bodies always joined to each lead.
    pub(super) held: [Vec<Body>; 2],
    /// Bodies beyond, numbered from 2 in `nodes`.
    pub(super) bodies: Vec<Body>,
    pub(super) edges: Vec<LocalEdge>,
    /// Groups by what conducts for sure: they decide which bodies are reached.
    pub(super) groups: Vec<DeviceGroup>,
    /// For each of `bodies`, its group.
    pub(super) group_of: Vec<u32>,
    /// Groups by all that may conduct, those only that touch both leads: they decide whether the reading is void.
    pub(super) void_groups: Vec<DeviceGroup>,
    /// The devices of each group in turn, each with its number of positions; ascending in a group.
    pub(super) group_digits: Vec<Digit>,
    /// The nodes of each group in turn; ascending in a group.
    pub(super) group_nodes: Vec<u32>,
    pub(super) group_edges: Vec<u32>,
}

impl Region {
    fn clear(&mut self) {
        let Region { is_bridged, is_doubtful, held, bodies, edges, .. } = self;
        (*is_bridged, *is_doubtful) = (false, false);
        held.iter_mut().for_each(Vec::clear);
        bodies.clear();
        edges.clear();
        self.clear_groups();
    }
}

const IN_A: u32 = u32::MAX;
const IN_B: u32 = u32::MAX - 1;

impl Probe {
    fn mark(&self, body: Body) -> Option<u32> {
        let (stamp, mark) = self.seen[body as usize];
        (stamp == self.stamp).then_some(mark)
    }

    fn set_mark(&mut self, body: Body, mark: u32) {
        self.seen[body as usize] = (self.stamp, mark);
    }

    /// Where the reading has a body: held by a lead, or its number in [`Region::bodies`]; none where it does not come to it.
    pub(super) fn spot(&self, body: Body) -> Option<Result<Side, u32>> {
        Some(match self.mark(body)? {
            IN_A => Ok(Side::A),
            IN_B => Ok(Side::B),
            node => Err(node - 2),
        })
    }

    /// Explores what a reading between these leads can reach. Time and space linear in what is reached.
    pub(super) fn explore(
        &mut self,
        network: &Network,
        state: &Configuration,
        free: FreeDevices<'_>,
        leads: &LeadBodies,
    ) {
        self.stamp += 1;
        let mut region = std::mem::take(&mut self.region);
        region.clear();
        for (side, mark) in [(0usize, IN_A), (1, IN_B)] {
            let held = &mut region.held[side];
            let mut enter = |probe: &mut Probe, held: &mut Vec<Body>, body: Body| match probe.mark(body) {
                Some(seen) => region.is_bridged |= seen != mark,
                None => {
                    probe.set_mark(body, mark);
                    held.push(body);
                }
            };
            for &body in &leads.0[side] {
                enter(self, held, body);
            }
            let mut next = 0;
            while next < held.len() {
                for (other, edge) in network.edges_at(held[next]) {
                    if state.conduct(network, free, edge) == Some(Conduct::Sure) {
                        enter(self, held, other);
                    }
                }
                next += 1;
            }
        }
        if !region.is_bridged {
            self.explore_beyond(network, state, free, &mut region);
            self.find_groups(network, &mut region);
        }
        self.region = region;
    }

    /// The number of a body that is beyond the leads, new where it was not met before.
    fn number(&mut self, region: &mut Region, body: Body) -> u32 {
        region.bodies.push(body);
        let node = region.bodies.len() as u32 + 1;
        self.set_mark(body, node);
        node
    }

    fn explore_beyond(&mut self, network: &Network, state: &Configuration, free: FreeDevices<'_>, region: &mut Region) {
        for side in 0..2 {
            for place in 0..region.held[side].len() {
                for (other, edge) in network.edges_at(region.held[side][place]) {
                    let Some(conduct) = state.conduct(network, free, edge) else { continue };
                    let node = match self.mark(other) {
                        Some(IN_A) => LEAD_A,
                        Some(IN_B) => LEAD_B,
                        Some(node) => node,
                        None => self.number(region, other),
                    };
                    // An edge from a lead back to itself changes nothing; one between the leads is listed from A.
                    if node == side as u32 || (side == 1 && node == LEAD_A) {
                        continue;
                    }
                    region.is_doubtful |= node == LEAD_B && conduct == Conduct::Maybe;
                    region.edges.push(LocalEdge { ends: [side as u32, node], conduct });
                }
            }
        }
        let mut next = 0;
        while next < region.bodies.len() {
            let node = next as u32 + 2;
            for (other, edge) in network.edges_at(region.bodies[next]) {
                let Some(conduct) = state.conduct(network, free, edge) else { continue };
                let far = match self.mark(other) {
                    Some(IN_A | IN_B) => continue,
                    Some(far) => far,
                    None => self.number(region, other),
                };
                if far > node {
                    region.edges.push(LocalEdge { ends: [node, far], conduct });
                }
            }
            next += 1;
        }
    }
}
