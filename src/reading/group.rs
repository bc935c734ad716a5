//! The groups of devices that decide what a reading reaches, and their tables: 64 combinations to a machine word.

use std::ops::Range;

use petgraph::unionfind::UnionFind;

use super::condition::{Condition, Digit, count};
use super::configuration::Conduct;
use super::leads::Side;
use super::probe::Probe;
use super::region::{LEAD_A, LEAD_B, LocalEdge, Region};
use crate::network::{DeviceIndex, Network};

/// Some devices and bodies that bear on one another in a reading.
#[derive(Clone, Debug)]
pub(super) struct DeviceGroup {
    /// The devices, in [`Region::group_digits`].
    digits: Range<u32>,
    /// Its bodies, in [`Region::group_nodes`].
    nodes: Range<u32>,
    /// Its edges, in [`Region::group_edges`].
    edges: Range<u32>,
    touches: [bool; 2],
}

impl DeviceGroup {
    /// Whether its devices decide anything about a lead: some joins to a lead go through them.
    pub(super) fn decides(&self) -> bool {
        !self.digits.is_empty() && self.touches != [false, false]
    }
}

/// The part of a list that belongs to one group.
fn part<'l, T>(list: &'l [T], range: &Range<u32>) -> &'l [T] {
    &list[range.start as usize..range.end as usize]
}

/// In which combinations a group joins the leads.
#[derive(Clone, Debug)]
pub(crate) struct Voids {
    /// Joined for sure.
    pub(crate) bridged: Condition,
    /// Joined for sure or perhaps.
    pub(crate) void: Condition,
}

/// Which bodies each combination of a group's devices joins to each lead.
pub(super) struct LeadTables {
    /// Words for lead A and lead B; none where the group does not touch the lead.
    sides: [Option<BitRows>; 2],
    nodes: Vec<u32>,
    digits: Vec<Digit>,
}

impl LeadTables {
    /// When the body with this number in [`Region::bodies`] is joined to the lead.
    pub(super) fn condition(&self, body: u32, side: Side) -> Condition {
        match &self.sides[side as usize] {
            Some(table) => {
                let place = self.nodes.binary_search(&(body + 2)).expect("the body is of this group");
                Condition { digits: self.digits.clone(), bits: table.row(place).to_vec() }
            }
            None => Condition::never(self.digits.clone()),
        }
    }
}

/// Rows of as many words each.
struct BitRows {
    width: usize,
    bits: Vec<u64>,
}

impl BitRows {
    fn row(&self, number: usize) -> &[u64] {
        &self.bits[number * self.width..(number + 1) * self.width]
    }
}

/// Stands for no device, no group.
const NONE: u32 = u32::MAX;

/// Lists that are used while groups are found.
#[derive(Default)]
pub(super) struct Sorting {
    /// For each edge, its device's number among the nodes.
    device_of: Vec<u32>,
    group_of_label: Vec<u32>,
    group_of_edge: Vec<u32>,
    digits: Vec<Digit>,
}

impl Probe {
    pub(super) fn find_groups(&mut self, network: &Network, region: &mut Region) {
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
    pub(super) fn clear_groups(&mut self) {
        self.groups.clear();
        self.void_groups.clear();
        self.group_of.clear();
        self.group_digits.clear();
        self.group_nodes.clear();
        self.group_edges.clear();
    }

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

    /// Which bodies each combination joins to each lead. They must be few enough for a table.
    ///
    /// `position` tells where a device stands for a digit of the combination.
    pub(super) fn reach(&self, group: &DeviceGroup, position: &impl Fn(DeviceIndex, u16) -> u16) -> LeadTables {
        let sides = [LEAD_A, LEAD_B]
            .map(|lead| group.touches[lead as usize].then(|| self.propagate(group, lead, false, position)));
        LeadTables { sides, nodes: part(&self.group_nodes, &group.nodes).to_vec(), digits: self.digits(group).to_vec() }
    }

    /// In which combinations a group that touches both leads joins them. They must be few enough for a table.
    pub(super) fn voids(&self, group: &DeviceGroup, position: &impl Fn(DeviceIndex, u16) -> u16) -> Voids {
        let last = group.nodes.len();
        let condition =
            |table: BitRows| Condition { digits: self.digits(group).to_vec(), bits: table.row(last).to_vec() };
        let may = self.propagate(group, LEAD_A, true, position);
        let has_maybe = part(&self.group_edges, &group.edges)
            .iter()
            .any(|&edge| self.edges[edge as usize].conduct == Conduct::Maybe);
        if has_maybe {
            let sure = self.propagate(group, LEAD_A, false, position);
            Voids { bridged: condition(sure), void: condition(may) }
        } else {
            let void = condition(may);
            Voids { bridged: void.clone(), void }
        }
    }

    /// Words of reach from a lead for each node of the group, then for the other lead.
    fn propagate(
        &self,
        group: &DeviceGroup,
        from: u32,
        with_maybe: bool,
        position: &impl Fn(DeviceIndex, u16) -> u16,
    ) -> BitRows {
        let digits = self.digits(group);
        let nodes = part(&self.group_nodes, &group.nodes);
        let count = count(digits);
        let width = count.div_ceil(64);
        let other = nodes.len();
        let start = other + 1;
        let place = |node: u32| {
            if node == from {
                start
            } else if node <= LEAD_B {
                other
            } else {
                nodes.binary_search(&node).expect("an edge of the group ends in the group")
            }
        };
        // Each edge from both its ends: for each place where its list ends, then (far place, number of the edge).
        let mut edges = Vec::with_capacity(group.edges.len());
        let mut ends = vec![0usize; other + 3];
        for &number in part(&self.group_edges, &group.edges) {
            let edge = &self.edges[number as usize];
            if edge.conduct == Conduct::Maybe && !with_maybe {
                continue;
            }
            let places = edge.ends.map(place);
            for place in places {
                ends[place + 1] += 1;
            }
            edges.push((places, edge.conduct));
        }
        for place in 0..other + 2 {
            ends[place + 1] += ends[place];
        }
        let mut adjacent = vec![(0usize, 0usize); edges.len() * 2];
        for (number, &([a, b], _)) in edges.iter().enumerate() {
            for (near, far) in [(a, b), (b, a)] {
                adjacent[ends[near]] = (far, number);
                ends[near] += 1;
            }
        }
        let list = |place: usize| if place == 0 { 0..ends[0] } else { ends[place - 1]..ends[place] };
        let mut reached = vec![0u64; (other + 1) * width];
        let mut masks = vec![0u64; edges.len()];
        let mut now = vec![0u64; other + 2];
        let mut queue: Vec<usize> = Vec::new();
        for word in 0..width {
            let lanes = (count - word * 64).min(64);
            let all = if lanes == 64 { !0 } else { (1u64 << lanes) - 1 };
            for (mask, (_, conduct)) in masks.iter_mut().zip(&edges) {
                *mask = match *conduct {
                    Conduct::Sure | Conduct::Maybe => all,
                    Conduct::In { device, closed_in } => {
                        let at = digits.binary_search_by_key(&device, |digit| digit.0);
                        let at = at.expect("a device of the group has a digit");
                        let stride: usize = digits[..at].iter().map(|digit| usize::from(digit.1)).product();
                        lane_mask(word * 64, lanes, stride, digits[at].1, |digit| {
                            closed_in >> position(device, digit) & 1 == 1
                        })
                    }
                };
            }
            now.fill(0);
            now[start] = all;
            queue.clear();
            queue.push(start);
            while let Some(at) = queue.pop() {
                let here = now[at];
                for &(far, edge) in &adjacent[list(at)] {
                    let added = here & masks[edge] & !now[far];
                    if added != 0 {
                        now[far] |= added;
                        // Through the other lead nothing is learnt: there the reading is void.
                        if far != other {
                            queue.push(far);
                        }
                    }
                }
            }
            for (node, &bits) in now[..=other].iter().enumerate() {
                reached[node * width + word] = bits;
            }
        }
        BitRows { width, bits: reached }
    }
}

/// Ones in the lanes whose digit with this stride and radix is closed.
fn lane_mask(first: usize, lanes: usize, stride: usize, radix: u16, closed: impl Fn(u16) -> bool) -> u64 {
    let radix = usize::from(radix);
    let mut mask = 0;
    let mut lane = 0;
    while lane < lanes {
        let combination = first + lane;
        let run = (stride - combination % stride).min(lanes - lane);
        if closed((combination / stride % radix) as u16) {
            let ones = if run == 64 { !0 } else { (1u64 << run) - 1 };
            mask |= ones << lane;
        }
        lane += run;
    }
    mask
}
