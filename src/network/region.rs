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
use rustc_hash::FxHashMap;

use super::condition::{Condition, Digit, combinations};
use super::graph::{Body, DeviceIndex, Edge, Network};
use super::standing::{Stand, Standing};
use crate::model::{Conducts, Lead};

/// One of the two leads.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
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
    pub(crate) fn of(network: &Network<'_>, leads: &[Lead; 2]) -> LeadBodies {
        LeadBodies([0, 1].map(|lead: usize| {
            let mut bodies: Vec<Body> = leads[lead].touches().iter().map(|&terminal| network.body(terminal)).collect();
            bodies.sort_unstable();
            bodies.dedup();
            bodies
        }))
    }
}

/// In which combinations a group joins the leads.
#[derive(Clone, Debug)]
pub(crate) struct Voids {
    /// Joined for sure.
    pub(crate) bridged: Condition,
    /// Joined for sure or perhaps.
    pub(crate) void: Condition,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Conduct {
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
const LEAD_A: u32 = 0;
const LEAD_B: u32 = 1;

#[derive(Clone, Debug)]
struct LocalEdge {
    ends: [u32; 2],
    conduct: Conduct,
}

/// Some devices and bodies that bear on one another in a reading.
#[derive(Clone, Debug)]
pub(crate) struct Group {
    /// The devices, each with its number of positions, ascending.
    pub(crate) digits: Vec<Digit>,
    nodes: Vec<u32>,
    edges: Vec<u32>,
    touches: [bool; 2],
}

impl Group {
    /// Whether its devices decide anything about a lead: some joins to a lead go through them.
    pub(crate) fn decides(&self) -> bool {
        !self.digits.is_empty() && self.touches != [false, false]
    }
}

/// What one reading can reach.
#[derive(Clone, Debug)]
pub(crate) struct Region {
    /// The leads are joined for sure in any case.
    pub(crate) always_bridged: bool,
    /// The leads are joined perhaps in any case.
    pub(crate) always_doubtful: bool,
    /// The bodies always joined to each lead.
    pub(crate) held: [Vec<Body>; 2],
    /// Bodies beyond, numbered from 2 in `nodes`.
    pub(crate) bodies: Vec<Body>,
    edges: Vec<LocalEdge>,
    /// Groups by what conducts for sure: they decide which bodies are reached.
    pub(crate) groups: Vec<Group>,
    /// For each of `bodies`, its group.
    pub(crate) group_of: Vec<u32>,
    /// Groups by all that may conduct, those only that touch both leads: they decide whether the reading is void.
    pub(crate) void_groups: Vec<Group>,
}

/// Which bodies each combination of a group's devices joins to each lead.
pub(crate) struct Reach {
    /// For each node of the group, in order: words for lead A and lead B.
    words: [Vec<Vec<u64>>; 2],
    nodes: Vec<u32>,
    digits: Vec<Digit>,
}

impl Reach {
    /// When the body with this number in [`Region::bodies`] is joined to the lead.
    pub(crate) fn condition(&self, body: u32, side: Side) -> Condition {
        let place = self.nodes.binary_search(&(body + 2)).expect("the body is of this group");
        Condition { digits: self.digits.clone(), bits: self.words[side as usize][place].clone() }
    }
}

/// Explores regions; holds marks that are used again from reading to reading.
pub(crate) struct Scout {
    /// For each body: the stamp of the exploration that saw it, and what it saw.
    seen: Vec<(u32, u32)>,
    stamp: u32,
}

const IN_A: u32 = u32::MAX;
const IN_B: u32 = u32::MAX - 1;

impl Scout {
    pub(crate) fn new(network: &Network<'_>) -> Scout {
        Scout { seen: vec![(0, 0); network.body_count()], stamp: 0 }
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

    fn conduct(network: &Network<'_>, standing: &Standing, variable: &FixedBitSet, edge: Edge) -> Option<Conduct> {
        match edge {
            Edge::Contact(number) => {
                let contact = &network.contacts[number as usize];
                let positions = network.devices[contact.device as usize].positions;
                let all = if positions == 64 { !0 } else { (1u64 << positions) - 1 };
                if contact.closed_in == all {
                    Some(Conduct::Sure)
                } else if variable.contains(contact.device as usize) {
                    (contact.closed_in != 0)
                        .then_some(Conduct::In { device: contact.device, closed_in: contact.closed_in })
                } else {
                    match standing.device(contact.device) {
                        Stand::At(position) => (contact.closed_in >> position & 1 == 1).then_some(Conduct::Sure),
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
        network: &Network<'_>,
        standing: &Standing,
        variable: &FixedBitSet,
        leads: &LeadBodies,
    ) -> Region {
        self.stamp += 1;
        let mut region = Region {
            always_bridged: false,
            always_doubtful: false,
            held: [Vec::new(), Vec::new()],
            bodies: Vec::new(),
            edges: Vec::new(),
            groups: Vec::new(),
            group_of: Vec::new(),
            void_groups: Vec::new(),
        };
        for (side, mark) in [(0usize, IN_A), (1, IN_B)] {
            let mut held = Vec::new();
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
        region.find_groups(network);
        region
    }

    fn explore_beyond(
        &mut self,
        network: &Network<'_>,
        standing: &Standing,
        variable: &FixedBitSet,
        region: &mut Region,
    ) {
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

impl Region {
    fn find_groups(&mut self, network: &Network<'_>) {
        let nodes = self.bodies.len() + 2;
        let mut number_of_device: FxHashMap<DeviceIndex, u32> = FxHashMap::default();
        for edge in &self.edges {
            if let Conduct::In { device, .. } = edge.conduct {
                let next = (nodes + number_of_device.len()) as u32;
                number_of_device.entry(device).or_insert(next);
            }
        }
        let total = nodes + number_of_device.len();
        let join = |with_maybe: bool| {
            let mut joined: UnionFind<u32> = UnionFind::new(total);
            for edge in &self.edges {
                let [a, b] = edge.ends;
                // The leads hold groups apart: an edge at a lead joins its device only to its far end.
                let device = match edge.conduct {
                    Conduct::In { device, .. } => Some(number_of_device[&device]),
                    Conduct::Maybe if !with_maybe => continue,
                    _ => None,
                };
                let ends = [a, b].into_iter().filter(|&end| end > LEAD_B).chain(device);
                let mut first = None;
                for end in ends {
                    match first {
                        None => first = Some(end),
                        Some(first) => {
                            joined.union(first, end);
                        }
                    }
                }
            }
            joined.into_labeling()
        };
        let collect = |labels: &[u32], with_maybe: bool| {
            let mut group_of_label: FxHashMap<u32, usize> = FxHashMap::default();
            let mut groups: Vec<Group> = Vec::new();
            let mut group = |label: u32, groups: &mut Vec<Group>| {
                *group_of_label.entry(label).or_insert_with(|| {
                    groups.push(Group {
                        digits: Vec::new(),
                        nodes: Vec::new(),
                        edges: Vec::new(),
                        touches: [false, false],
                    });
                    groups.len() - 1
                })
            };
            let mut group_of = Vec::with_capacity(self.bodies.len());
            for node in 2..nodes as u32 {
                let number = group(labels[node as usize], &mut groups);
                groups[number].nodes.push(node);
                group_of.push(number as u32);
            }
            for (number, edge) in self.edges.iter().enumerate() {
                let anchor = match edge.conduct {
                    Conduct::In { device, .. } => number_of_device[&device],
                    Conduct::Maybe if !with_maybe => continue,
                    _ => match edge.ends.into_iter().find(|&end| end > LEAD_B) {
                        Some(end) => end,
                        // A bridge straight from lead to lead: void in any case, of no group.
                        None => continue,
                    },
                };
                let index = group(labels[anchor as usize], &mut groups);
                let group = &mut groups[index];
                group.edges.push(number as u32);
                for end in edge.ends {
                    if end <= LEAD_B {
                        group.touches[end as usize] = true;
                    }
                }
                if let Conduct::In { device, .. } = edge.conduct {
                    group.digits.push((device, network.devices[device as usize].positions));
                }
            }
            for group in &mut groups {
                group.digits.sort_unstable();
                group.digits.dedup();
            }
            (groups, group_of)
        };
        let (groups, group_of) = collect(&join(false), false);
        let (void_groups, _) = collect(&join(true), true);
        self.groups = groups;
        self.group_of = group_of;
        self.void_groups = void_groups.into_iter().filter(|group| group.touches == [true, true]).collect();
    }

    /// Whether the positions of the group's devices are few enough for a table.
    pub(crate) fn is_tractable(group: &Group) -> bool {
        combinations(&group.digits).is_some()
    }

    /// Which bodies each combination joins to each lead. The group must be tractable.
    ///
    /// `position` tells where a device stands for a digit of the combination.
    pub(crate) fn reach(&self, group: &Group, position: &impl Fn(DeviceIndex, u16) -> u16) -> Reach {
        let sides = [LEAD_A, LEAD_B].map(|lead| {
            if group.touches[lead as usize] {
                self.propagate(group, lead, false, position)
            } else {
                let words = combinations(&group.digits).unwrap_or(0).div_ceil(64);
                vec![vec![0; words]; group.nodes.len()]
            }
        });
        Reach { words: sides, nodes: group.nodes.clone(), digits: group.digits.clone() }
    }

    /// In which combinations a group that touches both leads joins them. The group must be tractable.
    pub(crate) fn voids(&self, group: &Group, position: &impl Fn(DeviceIndex, u16) -> u16) -> Voids {
        let condition = |bits: Vec<u64>| Condition { digits: group.digits.clone(), bits };
        let last = group.nodes.len();
        let mut sure = self.propagate(group, LEAD_A, false, position);
        let mut may = self.propagate(group, LEAD_A, true, position);
        Voids { bridged: condition(sure.swap_remove(last)), void: condition(may.swap_remove(last)) }
    }

    /// Words of reach from a lead for each node of the group, then for the other lead.
    fn propagate(
        &self,
        group: &Group,
        from: u32,
        with_maybe: bool,
        position: &impl Fn(DeviceIndex, u16) -> u16,
    ) -> Vec<Vec<u64>> {
        let count = combinations(&group.digits).expect("the group is tractable");
        let words = count.div_ceil(64);
        let other = group.nodes.len();
        let start = other + 1;
        let place = |node: u32| {
            if node == from {
                start
            } else if node <= LEAD_B {
                other
            } else {
                group.nodes.binary_search(&node).expect("an edge of the group ends in the group")
            }
        };
        // Adjacency: for each place, (far place, number of the edge in the group).
        let mut adjacent: Vec<Vec<(usize, usize)>> = vec![Vec::new(); other + 2];
        let mut kinds = Vec::with_capacity(group.edges.len());
        for &number in &group.edges {
            let edge = &self.edges[number as usize];
            if edge.conduct == Conduct::Maybe && !with_maybe {
                continue;
            }
            let [a, b] = edge.ends.map(place);
            adjacent[a].push((b, kinds.len()));
            adjacent[b].push((a, kinds.len()));
            kinds.push(edge.conduct);
        }
        let mut reached = vec![vec![0u64; words]; other + 1];
        let mut masks = vec![0u64; kinds.len()];
        let mut now = vec![0u64; other + 2];
        let mut queue: Vec<usize> = Vec::new();
        for word in 0..words {
            let lanes = (count - word * 64).min(64);
            let all = if lanes == 64 { !0 } else { (1u64 << lanes) - 1 };
            for (mask, conduct) in masks.iter_mut().zip(&kinds) {
                *mask = match *conduct {
                    Conduct::Sure | Conduct::Maybe => all,
                    Conduct::In { device, closed_in } => {
                        let at = group.digits.iter().position(|digit| digit.0 == device);
                        let at = at.expect("a device of the group has a digit");
                        let stride: usize = group.digits[..at].iter().map(|digit| usize::from(digit.1)).product();
                        lane_mask(word * 64, lanes, stride, group.digits[at].1, |digit| {
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
                for &(far, edge) in &adjacent[at] {
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
            for (node, words) in reached.iter_mut().enumerate() {
                words[word] = now[node];
            }
        }
        reached
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
