//! Tables of the groups of devices that decide what a reading reaches: 64 combinations to a machine word.

use std::collections::VecDeque;

use super::condition::{Condition, Digit, count};
use super::configuration::Conduct;
use super::leads::Side;
use super::region::{DeviceGroup, LEAD_A, LEAD_B, Region, part};
use crate::network::DeviceIndex;

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

impl Region {
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
        let total = count(digits);
        let width = total.div_ceil(64);
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
            // The digit of the edge's device: its stride, and how many positions it has.
            let (stride, radix) = match edge.conduct {
                Conduct::In { device, .. } => {
                    let at = digits.binary_search_by_key(&device, |digit| digit.0);
                    let at = at.expect("a device of the group has a digit");
                    (count(&digits[..at]), digits[at].1)
                }
                Conduct::Sure | Conduct::Maybe => (1, 1),
            };
            edges.push((places, edge.conduct, stride, radix));
        }
        for place in 0..other + 2 {
            ends[place + 1] += ends[place];
        }
        let mut adjacent = vec![(0usize, 0usize); edges.len() * 2];
        for (number, &([a, b], ..)) in edges.iter().enumerate() {
            for (near, far) in [(a, b), (b, a)] {
                adjacent[ends[near]] = (far, number);
                ends[near] += 1;
            }
        }
        let list = |place: usize| if place == 0 { 0..ends[0] } else { ends[place - 1]..ends[place] };
        let mut reached = vec![0u64; (other + 1) * width];
        let mut masks = vec![0u64; edges.len()];
        let mut now = vec![0u64; other + 2];
        // First in, first out, each place once: what is reached of it by then goes on together.
        let mut queue: VecDeque<usize> = VecDeque::new();
        let mut is_queued = vec![false; other + 2];
        for word in 0..width {
            let lanes = (total - word * 64).min(64);
            let all = if lanes == 64 { !0 } else { (1u64 << lanes) - 1 };
            for (mask, &(_, conduct, stride, radix)) in masks.iter_mut().zip(&edges) {
                match conduct {
                    Conduct::Sure | Conduct::Maybe => *mask = all,
                    // The last word's is this one's too.
                    Conduct::In { .. } if word > 0 && lanes == 64 && 64 % (stride * usize::from(radix)) == 0 => {}
                    Conduct::In { device, closed_in } => {
                        let is_closed = |digit| closed_in >> position(device, digit) & 1 == 1;
                        *mask = lane_mask(word * 64, lanes, stride, radix, is_closed);
                    }
                }
            }
            now.fill(0);
            now[start] = all;
            queue.push_back(start);
            while let Some(at) = queue.pop_front() {
                is_queued[at] = false;
                let here = now[at];
                for &(far, edge) in &adjacent[list(at)] {
                    let added = here & masks[edge] & !now[far];
                    if added != 0 {
                        now[far] |= added;
                        // Through the other lead nothing is learnt: there the reading is void.
                        if far != other && !std::mem::replace(&mut is_queued[far], true) {
                            queue.push_back(far);
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
