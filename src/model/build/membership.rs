//! Which circuit points and lengths belong to, where the file leaves that to the wiring.

use std::collections::VecDeque;

use rustc_hash::FxHashMap;

use super::faults::Lookup;
use super::{Builder, cut, entry};
use crate::model::fault::{ModelFault, Named};
use crate::model::{CircuitId, DocumentPath, End, Length, PointId, TerminalRef, WayId};

/// What a point or a length says of its circuit.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Membership {
    /// The circuit that it names.
    Named(CircuitId),
    /// Nothing: the wiring tells.
    Open,
    /// It names one that is not known, which is reported.
    Broken,
}

/// A point or a length.
#[derive(Clone, Copy, PartialEq, Eq)]
enum PointOrLength {
    Point(usize),
    Length(usize),
}

impl PointOrLength {
    fn path(self) -> DocumentPath {
        match self {
            PointOrLength::Point(number) => entry("point", number),
            PointOrLength::Length(number) => entry("length", number),
        }
    }
}

impl Builder<'_> {
    /// What a point or a length says of its circuit.
    pub(super) fn read_membership(&mut self, name: Option<&str>, path: impl Fn() -> DocumentPath) -> Membership {
        match name {
            None => Membership::Open,
            Some(name) => self.find_circuit(name, path).map_or(Membership::Broken, Membership::Named),
        }
    }

    /// Gives every point and length its circuit.
    ///
    /// Lengths and the points at their ends form parts, cut at ways, boards and transformers, which go with their
    /// primary. All of a part are of the one circuit that is named in it, by a member or by a way at an end.
    pub(super) fn read_memberships(&mut self) {
        if self.memberships.contains(&Membership::Open) {
            let wiring = Wiring::of(self);
            let mut is_seen = vec![false; self.memberships.len()];
            for first in 0..is_seen.len() {
                if !is_seen[first] {
                    let part = wiring.around(first, &mut is_seen);
                    self.read_part(&wiring, &part);
                }
            }
        }
        let points = self.points.iter_mut().map(|point| &mut point.circuit);
        let members = points.chain(self.lengths.iter_mut().map(|length| &mut length.circuit));
        for (circuit, membership) in members.zip(&self.memberships) {
            if let Membership::Named(named) = *membership {
                *circuit = named;
            }
        }
    }

    fn read_part(&mut self, wiring: &Wiring, part: &[usize]) {
        let is_open = |&&member: &&usize| wiring.memberships[member] == Membership::Open;
        let Some(&open) = part.iter().find(is_open) else { return };
        let mut circuits: Vec<CircuitId> = part.iter().flat_map(|&member| wiring.names(member)).collect();
        circuits.sort_unstable();
        circuits.dedup();
        if let [circuit] = circuits[..] {
            part.iter().filter(is_open).for_each(|&member| self.memberships[member] = Membership::Named(circuit));
            return;
        }
        let (what, id) = self.named(wiring.member(open));
        let fault = if circuits.is_empty() {
            // What is broken may have been what leads to a circuit.
            if !wiring.is_certain {
                return;
            }
            ModelFault::NoCircuit { what, id }
        } else {
            let (at, at_id) = self.named(wiring.member(wiring.meeting(part)));
            let names = circuits.iter().map(|circuit| self.circuits[circuit.index()].id.clone());
            ModelFault::CircuitsMeet { what, id, circuits: names.take(MOST_NAMED).collect(), at, at_id }
        };
        self.faults.push(wiring.member(open).path(), fault);
    }

    fn named(&self, member: PointOrLength) -> (Named, String) {
        match member {
            PointOrLength::Point(number) => (Named::Point, cut(&self.draft.points[number].id)),
            PointOrLength::Length(number) => (Named::Length, cut(&self.draft.lengths[number].id)),
        }
    }
}

/// How many of the circuits that meet in a part are named.
const MOST_NAMED: usize = 6;

/// Points and lengths as nodes, points first, with what joins them.
struct Wiring {
    point_count: usize,
    memberships: Vec<Membership>,
    /// The circuits of the ways that a length ends at.
    fed: Vec<Vec<CircuitId>>,
    neighbours: Vec<Vec<usize>>,
    /// Whether all is known that could lead to a circuit.
    is_certain: bool,
}

impl Wiring {
    fn of(builder: &Builder<'_>) -> Wiring {
        let point_count = builder.points.len();
        let draft = builder.draft;
        let ways: FxHashMap<WayId, CircuitId> = builder
            .circuits
            .iter()
            .enumerate()
            .filter_map(|(number, circuit)| Some((circuit.way?, CircuitId(number as u32))))
            .collect();
        let mut wiring = Wiring {
            point_count,
            memberships: builder.memberships.clone(),
            fed: vec![Vec::new(); builder.lengths.len()],
            neighbours: vec![Vec::new(); builder.memberships.len()],
            is_certain: !builder.memberships.contains(&Membership::Broken)
                && builder
                    .circuits
                    .iter()
                    .zip(&draft.circuits)
                    .all(|(read, row)| read.way.is_some() || row.way.is_none())
                && draft.points.iter().all(|row| builder.point_index.get(&row.id.as_str()) != Lookup::Broken),
        };
        for (number, length) in builder.lengths.iter().enumerate() {
            let node = point_count + number;
            for (side, end) in builder.length_ends[number].into_iter().enumerate() {
                match end {
                    None => wiring.is_certain = false,
                    Some(End::Incoming(_)) => {}
                    Some(End::Way(way)) => wiring.fed[number].extend(ways.get(&way)),
                    Some(End::Point(point)) => {
                        if !is_of_secondary(builder, length, side, point) {
                            wiring.neighbours[node].push(point.index());
                            wiring.neighbours[point.index()].push(node);
                        }
                    }
                }
            }
        }
        wiring
    }

    fn member(&self, node: usize) -> PointOrLength {
        node.checked_sub(self.point_count).map_or(PointOrLength::Point(node), PointOrLength::Length)
    }

    /// The circuits that a member names, by itself or by the ways at its ends.
    fn names(&self, node: usize) -> impl Iterator<Item = CircuitId> {
        let own = match self.memberships[node] {
            Membership::Named(circuit) => Some(circuit),
            _ => None,
        };
        let fed = node.checked_sub(self.point_count).map_or(&[][..], |length| &self.fed[length]);
        own.into_iter().chain(fed.iter().copied())
    }

    /// All that hangs together with a member, in the order in which it is reached.
    fn around(&self, first: usize, is_seen: &mut [bool]) -> Vec<usize> {
        is_seen[first] = true;
        let mut part = vec![first];
        let mut next = 0;
        while let Some(&node) = part.get(next) {
            next += 1;
            for &neighbour in &self.neighbours[node] {
                if !std::mem::replace(&mut is_seen[neighbour], true) {
                    part.push(neighbour);
                }
            }
        }
        part.sort_unstable();
        part
    }

    /// A member of a part where two of the circuits that it names meet, half way between what names them.
    fn meeting(&self, part: &[usize]) -> usize {
        let mut reached: FxHashMap<usize, CircuitId> = FxHashMap::default();
        let mut queue = VecDeque::new();
        for &node in part {
            for circuit in self.names(node) {
                match reached.insert(node, circuit) {
                    Some(other) if other != circuit => return node,
                    Some(_) => {}
                    None => queue.push_back(node),
                }
            }
        }
        while let Some(node) = queue.pop_front() {
            let circuit = reached[&node];
            for &neighbour in &self.neighbours[node] {
                match reached.get(&neighbour) {
                    Some(&other) if other != circuit => return node.min(neighbour),
                    Some(_) => {}
                    None => {
                        reached.insert(neighbour, circuit);
                        queue.push_back(neighbour);
                    }
                }
            }
        }
        unreachable!("two circuits are named in one part, and what hangs together is reached from both")
    }
}

/// Whether a length is at one of its ends joined to the secondary of a transformer, and not to its primary.
fn is_of_secondary(builder: &Builder<'_>, length: &Length, side: usize, point: PointId) -> bool {
    let Some(kind) = builder.point_states[point.index()].kind.map(|kind| &builder.kinds[kind.index()]) else {
        return false;
    };
    let terminals = || {
        length.cores.iter().filter_map(move |core| match core.ends[side] {
            Some(TerminalRef::Point { terminal, .. }) => Some(terminal),
            _ => None,
        })
    };
    let is_primary = |terminal: u16| {
        let name = kind.terminals.get(usize::from(terminal)).filter(|name| *name != "E");
        name.is_some() && !kind.sources.contains(&terminal)
    };
    terminals().any(|terminal| kind.sources.contains(&terminal)) && !terminals().any(is_primary)
}
