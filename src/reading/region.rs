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

use std::ops::Range;

use super::condition::Digit;
use super::configuration::Conduct;
use crate::network::Body;

/// A body outside `A0` and `B0`, by its number in [`Region::bodies`]; the leads themselves come first.
pub(super) const LEAD_A: u32 = 0;
pub(super) const LEAD_B: u32 = 1;

#[derive(Clone, Debug)]
pub(super) struct LocalEdge {
    pub(super) ends: [u32; 2],
    pub(super) conduct: Conduct,
}

/// Some devices and bodies that bear on one another in a reading.
#[derive(Clone, Debug)]
pub(super) struct DeviceGroup {
    /// The devices, in [`Region::group_digits`].
    pub(super) digits: Range<u32>,
    /// Its bodies, in [`Region::group_nodes`].
    pub(super) nodes: Range<u32>,
    /// Its edges, in [`Region::group_edges`].
    pub(super) edges: Range<u32>,
    pub(super) touches: [bool; 2],
}

impl DeviceGroup {
    /// Whether its devices decide anything about a lead: some joins to a lead go through them.
    pub(super) fn decides(&self) -> bool {
        !self.digits.is_empty() && self.touches != [false, false]
    }
}

/// The part of a list that belongs to one group.
pub(super) fn part<'l, T>(list: &'l [T], range: &Range<u32>) -> &'l [T] {
    &list[range.start as usize..range.end as usize]
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
    pub(super) fn clear(&mut self) {
        let Region { is_bridged, is_doubtful, held, bodies, edges, .. } = self;
        (*is_bridged, *is_doubtful) = (false, false);
        held.iter_mut().for_each(Vec::clear);
        bodies.clear();
        edges.clear();
        self.clear_groups();
    }

    fn clear_groups(&mut self) {
        self.groups.clear();
        self.void_groups.clear();
        self.group_of.clear();
        self.group_digits.clear();
        self.group_nodes.clear();
        self.group_edges.clear();
    }

    /// The devices of a group, ascending.
    pub(super) fn digits(&self, group: &DeviceGroup) -> &[Digit] {
        part(&self.group_digits, &group.digits)
    }

    pub(super) fn nodes_of(&self, group: &DeviceGroup) -> &[u32] {
        part(&self.group_nodes, &group.nodes)
    }

    pub(super) fn edges_of(&self, group: &DeviceGroup) -> impl Iterator<Item = &LocalEdge> {
        part(&self.group_edges, &group.edges).iter().map(|&edge| &self.edges[edge as usize])
    }
}
