//! Exploring what one reading can reach, and sorting it into groups of devices.

use petgraph::unionfind::UnionFind;

use super::condition::Digit;
use super::configuration::{Conduct, Configuration, FreeDevices};
use super::leads::{LeadBodies, Side};
use super::live::LiveEdges;
use super::region::{DeviceGroup, LEAD_A, LEAD_B, LocalEdge, Region, part};
use crate::network::{Body, Edge, Network};

const IN_A: u32 = u32::MAX;
const IN_B: u32 = u32::MAX - 1;
/// Stands for no device, no group.
const NONE: u32 = u32::MAX;

/// Tells of the edges at a body that may conduct.
type LiveAt<'l> = dyn FnMut(Body, &mut dyn FnMut(Body, Conduct, Edge)) + 'l;

/// Lists that are used while groups are found.
#[derive(Clone, Default)]
struct Sorting {
    /// For each edge, its device's number among the nodes.
    device_of: Vec<u32>,
    group_of_label: Vec<u32>,
    group_of_edge: Vec<u32>,
    digits: Vec<Digit>,
}

/// Marks and lists that are used again from reading to reading: a test set has thousands.
#[derive(Clone)]
pub(super) struct Explorer {
    /// For each body: the stamp of the exploration that saw it, and what it saw.
    seen: Vec<(u32, u32)>,
    /// For each device: the stamp of the exploration that met it, and its number among the nodes.
    numbered: Vec<(u32, u32)>,
    stamp: u32,
    /// What was reached last.
    pub(super) region: Region,
    sorting: Sorting,
    live: LiveEdges,
}

impl Explorer {
    /// For readings of this network, or of a copy of it with a link in. Time and space linear in its bodies and
    /// devices.
    pub(super) fn new(network: &Network) -> Explorer {
        Explorer {
            seen: vec![(0, 0); network.body_count()],
            numbered: vec![(0, 0); network.devices().len()],
            stamp: 0,
            region: Region::default(),
            sorting: Sorting::default(),
            live: LiveEdges::new(network),
        }
    }

    fn mark(&self, body: Body) -> Option<u32> {
        let (stamp, mark) = self.seen[body as usize];
        (stamp == self.stamp).then_some(mark)
    }

    fn set_mark(&mut self, body: Body, mark: u32) {
        self.seen[body as usize] = (self.stamp, mark);
    }

    /// Where the reading has a body: held by a lead, or its number in [`Region::bodies`]; none where it does not come
    /// to it.
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
        let mut live = std::mem::take(&mut self.live);
        region.clear();
        for (side, mark) in [(0usize, IN_A), (1, IN_B)] {
            let held = &mut region.held[side];
            let mut enter = |explorer: &mut Explorer, held: &mut Vec<Body>, body: Body| match explorer.mark(body) {
                Some(seen) => region.is_bridged |= seen != mark,
                None => {
                    explorer.set_mark(body, mark);
                    held.push(body);
                }
            };
            for &body in &leads.touched[side] {
                enter(self, held, body);
            }
            let mut next = 0;
            while next < held.len() {
                live.at(network, state, free, held[next], |other, conduct, _| {
                    if conduct == Conduct::Sure {
                        enter(self, held, other);
                    }
                });
                next += 1;
            }
        }
        if !region.is_bridged {
            let mut live_at =
                |body, tell: &mut dyn FnMut(Body, Conduct, Edge)| live.at(network, state, free, body, tell);
            self.explore_beyond(&mut live_at, leads, &mut region);
            self.find_groups(network, &mut region);
        }
        self.region = region;
        self.live = live;
    }

    /// The number of a body that is beyond the leads, new where it was not met before.
    fn number(&mut self, region: &mut Region, body: Body) -> u32 {
        region.bodies.push(body);
        let node = region.bodies.len() as u32 + 1;
        self.set_mark(body, node);
        node
    }

    fn explore_beyond(&mut self, live_at: &mut LiveAt<'_>, leads: &LeadBodies, region: &mut Region) {
        for side in 0..2 {
            for place in 0..region.held[side].len() {
                live_at(region.held[side][place], &mut |other, conduct, edge| {
                    if !leads.may_void(edge) {
                        return;
                    }
                    let node = match self.mark(other) {
                        Some(IN_A) => LEAD_A,
                        Some(IN_B) => LEAD_B,
                        Some(node) => node,
                        None => self.number(region, other),
                    };
                    // An edge from a lead back to itself changes nothing; one between the leads is listed from A.
                    if node == side as u32 || (side == 1 && node == LEAD_A) {
                        return;
                    }
                    region.is_doubtful |= node == LEAD_B && conduct == Conduct::Maybe;
                    region.edges.push(LocalEdge { ends: [side as u32, node], conduct });
                });
            }
        }
        let mut next = 0;
        while next < region.bodies.len() {
            let node = next as u32 + 2;
            live_at(region.bodies[next], &mut |other, conduct, edge| {
                let far = match self.mark(other) {
                    _ if !leads.may_void(edge) => return,
                    Some(IN_A | IN_B) => return,
                    Some(far) => far,
                    None => self.number(region, other),
                };
                if far > node {
                    region.edges.push(LocalEdge { ends: [node, far], conduct });
                }
            });
            next += 1;
        }
    }

    fn find_groups(&mut self, network: &Network, region: &mut Region) {
        let nodes = region.bodies.len() + 2;
        // Devices are nodes too, numbered after the bodies.
        let mut total = nodes as u32;
        let mut has_maybe = false;
        self.sorting.device_of.clear();
        for edge in &region.edges {
            self.sorting.device_of.push(match edge.conduct {
                Conduct::In { device, .. } => {
                    let (stamp, number) = &mut self.numbered[device as usize];
                    if *stamp != self.stamp {
                        (*stamp, *number) = (self.stamp, total);
                        total += 1;
                    }
                    *number
                }
                Conduct::Maybe => {
                    has_maybe = true;
                    NONE
                }
                Conduct::Sure => NONE,
            });
        }
        let mut joined: UnionFind<u32> = UnionFind::new(total as usize);
        let join = |joined: &mut UnionFind<u32>, edge: &LocalEdge, device: u32| {
            // The leads hold groups apart: an edge at a lead joins its device only to its far end.
            let [a, b] = edge.ends;
            let mut first = NONE;
            for end in [a, b, device] {
                if end > LEAD_B && end != NONE {
                    if first == NONE {
                        first = end;
                    } else {
                        joined.union(first, end);
                    }
                }
            }
        };
        for (edge, &device) in region.edges.iter().zip(&self.sorting.device_of) {
            if edge.conduct != Conduct::Maybe {
                join(&mut joined, edge, device);
            }
        }
        let touches_both = |group: &DeviceGroup| group.touches == [true, true];
        if has_maybe {
            let mut may = joined.clone();
            for (edge, &device) in region.edges.iter().zip(&self.sorting.device_of) {
                if edge.conduct == Conduct::Maybe {
                    join(&mut may, edge, device);
                }
            }
            // The groups by what conducts for sure come last: what is entered of bodies is theirs.
            let mut void_groups = std::mem::take(&mut region.void_groups);
            region.collect_groups(network, &may.into_labeling(), &mut self.sorting, true, &mut void_groups);
            void_groups.retain(touches_both);
            region.void_groups = void_groups;
        }
        let mut groups = std::mem::take(&mut region.groups);
        region.collect_groups(network, &joined.into_labeling(), &mut self.sorting, false, &mut groups);
        if !has_maybe {
            region.void_groups.extend(groups.iter().filter(|group| touches_both(group)).cloned());
        }
        region.groups = groups;
    }
}

impl Region {
    /// Sorts bodies, edges and devices into groups by their labels; groups come in the order in which they are first
    /// met, bodies first. Enters the group of each body.
    fn collect_groups(
        &mut self,
        network: &Network,
        labels: &[u32],
        sorting: &mut Sorting,
        with_maybe: bool,
        groups: &mut Vec<DeviceGroup>,
    ) {
        let Sorting { device_of, group_of_label, group_of_edge, digits } = sorting;
        group_of_label.clear();
        group_of_label.resize(labels.len(), NONE);
        let mut number = |label: u32, groups: &mut Vec<DeviceGroup>| {
            let number = &mut group_of_label[label as usize];
            if *number == NONE {
                *number = groups.len() as u32;
                groups.push(DeviceGroup { digits: 0..0, nodes: 0..0, edges: 0..0, touches: [false, false] });
            }
            *number
        };
        self.group_of.clear();
        self.group_of.extend(labels[2..self.bodies.len() + 2].iter().map(|&label| number(label, groups)));
        group_of_edge.clear();
        for (edge, &device) in self.edges.iter().zip(&*device_of) {
            let anchor = match edge.conduct {
                Conduct::In { .. } => Some(device),
                Conduct::Maybe if !with_maybe => None,
                // A bridge straight from lead to lead: void in any case, of no group.
                _ => edge.ends.into_iter().find(|&end| end > LEAD_B),
            };
            group_of_edge.push(anchor.map_or(NONE, |anchor| number(labels[anchor as usize], groups)));
        }
        // Counted first, so that each group's nodes and edges lie together.
        for &group in &self.group_of {
            groups[group as usize].nodes.end += 1;
        }
        for (&group, edge) in group_of_edge.iter().zip(&self.edges) {
            if group != NONE {
                let group = &mut groups[group as usize];
                group.edges.end += 1;
                for end in edge.ends {
                    if end <= LEAD_B {
                        group.touches[end as usize] = true;
                    }
                }
            }
        }
        let (mut next_node, mut next_edge) = (self.group_nodes.len() as u32, self.group_edges.len() as u32);
        for group in groups.iter_mut() {
            for (range, next) in [(&mut group.nodes, &mut next_node), (&mut group.edges, &mut next_edge)] {
                let count = range.end;
                *range = *next..*next;
                *next += count;
            }
        }
        self.group_nodes.resize(next_node as usize, 0);
        self.group_edges.resize(next_edge as usize, 0);
        for (node, &group) in (2u32..).zip(&self.group_of) {
            let end = &mut groups[group as usize].nodes.end;
            self.group_nodes[*end as usize] = node;
            *end += 1;
        }
        for (edge, &group) in (0u32..).zip(&*group_of_edge) {
            if group != NONE {
                let end = &mut groups[group as usize].edges.end;
                self.group_edges[*end as usize] = edge;
                *end += 1;
            }
        }
        for group in groups {
            digits.clear();
            for &edge in part(&self.group_edges, &group.edges) {
                if let Conduct::In { device, .. } = self.edges[edge as usize].conduct {
                    digits.push((device, network.devices()[device as usize].positions));
                }
            }
            digits.sort_unstable();
            digits.dedup();
            let first = self.group_digits.len() as u32;
            self.group_digits.extend_from_slice(digits);
            group.digits = first..self.group_digits.len() as u32;
        }
    }
}
