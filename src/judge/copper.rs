//! Which readings can hold leakage in common: those that reach common copper.

use std::cell::RefCell;

use fixedbitset::FixedBitSet;
use petgraph::unionfind::UnionFind;
use rustc_hash::FxHashMap;

use super::readings::Judged;
use crate::model::{BoardId, CircuitId, Conductor, GroupId, TerminalRef, TestSet, WayId};
use crate::network::{self, Body, Edge, Network, Role};
use crate::reading::{Configuration, Replay};

/// The copper that is not earth, in **neighbourhoods**: what is joined for good, or lies side by side in a length or at
/// a point. Between two of them current can leak only over earth, or at a board.
struct Neighbourhoods {
    /// For each body; none for earth.
    of_body: Vec<Option<u32>>,
    /// The contacts and bridges between two of them.
    links: Vec<([u32; 2], Edge)>,
    /// For each, the circuits whose cores are in it.
    circuits: Vec<Vec<CircuitId>>,
    /// For each, the boards whose terminals are in it.
    boards: Vec<Vec<BoardId>>,
}

impl Neighbourhoods {
    fn of(network: &Network) -> Neighbourhoods {
        let installation = network.installation();
        let mut is_earth = FixedBitSet::with_capacity(network.body_count());
        for body in 0..network.body_count() as Body {
            is_earth.set(body as usize, matches!(network.body_roles(body), [Role::Earth]));
        }
        let bars = installation.boards().map(|(board, _)| TerminalRef::EarthBar { board });
        for terminal in bars.chain([TerminalRef::MainEarth]) {
            is_earth.set(network.body(terminal) as usize, network::is_earth(network, terminal));
        }
        let mut joined: UnionFind<u32> = UnionFind::new(network.body_count());
        let mut join = |bodies: &mut dyn Iterator<Item = Body>| {
            let mut live = bodies.filter(|&body| !is_earth.contains(body as usize));
            let Some(first) = live.next() else { return };
            for body in live {
                joined.union(first, body);
            }
        };
        for (id, length) in installation.lengths() {
            join(&mut (0..length.cores().len() as u16).map(|core| network.core_body(id, core)));
        }
        for (point, row) in installation.points() {
            let count = installation.kind(row.kind()).terminals.len() + row.extra_terminals.len();
            join(&mut (0..count as u16).map(|terminal| network.body(TerminalRef::Point { point, terminal })));
        }
        let mut numbers: FxHashMap<u32, u32> = FxHashMap::default();
        let of_body: Vec<Option<u32>> = (0..network.body_count() as u32)
            .map(|body| {
                let next = numbers.len() as u32;
                (!is_earth.contains(body as usize)).then(|| *numbers.entry(joined.find(body)).or_insert(next))
            })
            .collect();
        let between = |bodies: [Body; 2]| match bodies.map(|body| of_body[body as usize]) {
            [Some(one), Some(other)] if one != other => Some([one, other]),
            _ => None,
        };
        let mut links = Vec::new();
        for (number, contact) in network.contacts().iter().enumerate() {
            links.extend(between(contact.bodies).map(|ends| (ends, Edge::Contact(number as u32))));
        }
        for (bodies, edge) in (0u32..).zip(network.bridges()).flat_map(|(number, bridge)| bridge.edges(number)) {
            links.extend(between(bodies).map(|ends| (ends, edge)));
        }
        let mut circuits = vec![Vec::new(); numbers.len()];
        for (id, length) in installation.lengths() {
            for core in 0..length.cores().len() as u16 {
                if let Some(number) = of_body[network.core_body(id, core) as usize] {
                    circuits[number as usize].push(length.circuit());
                }
            }
        }
        let mut boards = vec![Vec::new(); numbers.len()];
        for (board, row) in installation.boards() {
            let of_ways = (0..row.ways().len() as u32).map(|way| WayId { board, way }).flat_map(|way| {
                let poles = installation.way(way).poles().iter().map(|&line| Conductor::Line(line));
                let neutral = installation.way(way).has_neutral().then_some(Conductor::Neutral);
                poles.chain(neutral).map(move |conductor| TerminalRef::Way { way, conductor })
            });
            let bars = installation.phases().live().flat_map(|conductor| {
                let groups = (0..row.groups().len() as u32).map(|group| GroupId { board, group });
                let of_groups = groups.map(move |group| TerminalRef::Group { group, conductor });
                [TerminalRef::Incoming { board, conductor }, TerminalRef::Bus { board, conductor }]
                    .into_iter()
                    .chain(of_groups)
            });
            for terminal in of_ways.chain(bars) {
                if let Some(number) = of_body[network.body(terminal) as usize] {
                    boards[number as usize].push(board);
                }
            }
        }
        circuits.iter_mut().for_each(|list: &mut Vec<CircuitId>| {
            list.sort_unstable();
            list.dedup();
        });
        boards.iter_mut().for_each(|list: &mut Vec<BoardId>| list.dedup());
        Neighbourhoods { of_body, links, circuits, boards }
    }

    /// For each neighbourhood one of those that it is joined to, or may be, as everything stands: the same for all of
    /// them.
    fn joined_in(&self, network: &Network, standing: &Configuration) -> Vec<u32> {
        let mut joined: UnionFind<u32> = UnionFind::new(self.circuits.len());
        for &([one, other], edge) in &self.links {
            if standing.may_conduct(network, edge) {
                joined.union(one, other);
            }
        }
        joined.into_labeling()
    }
}

/// What copper each reading may hold leakage of: all neighbourhoods that its leads touch, and those that are joined to
/// them, or may be, as everything stood when it was taken.
pub(super) struct Reaches {
    neighbourhoods: Neighbourhoods,
    /// Neighbourhoods that are joined in some pass.
    lists: Vec<Vec<u32>>,
    /// For each reading, numbers in `lists`.
    of_reading: Vec<Vec<u32>>,
    marks: RefCell<Marks>,
}

/// Marks that are used again from board to board: those of another stamp are from before.
#[derive(Default)]
struct Marks {
    stamp: u32,
    /// For each list, whether it is inside.
    is_inside: Vec<(u32, bool)>,
    /// For each list, and for each neighbourhood, the entry that holds it.
    of_list: Vec<(u32, usize)>,
    of_neighbourhood: Vec<(u32, usize)>,
}

/// What is marked; this now, where nothing was.
fn marked<T: Copy>(mark: &mut (u32, T), stamp: u32, now: impl FnOnce() -> T) -> T {
    if mark.0 != stamp {
        *mark = (stamp, now());
    }
    mark.1
}

impl Reaches {
    /// Time and space O(installation × passes) at worst.
    pub(super) fn of(network: &Network, tests: &TestSet, readings: &[Judged<'_>]) -> Reaches {
        let neighbourhoods = Neighbourhoods::of(network);
        let mut replay = Replay::of(network, tests);
        let (mut lists, mut of_reading) = (Vec::new(), Vec::with_capacity(readings.len()));
        let mut readings = readings.iter().peekable();
        let mut pass = 0;
        while let Some((row, standing)) = replay.next_pass() {
            pass += 1;
            if row.readings().is_empty() {
                continue;
            }
            let joined = neighbourhoods.joined_in(network, standing);
            let mut number_of: FxHashMap<u32, u32> = FxHashMap::default();
            let mut members: FxHashMap<u32, Vec<u32>> = FxHashMap::default();
            for (number, &label) in joined.iter().enumerate() {
                members.entry(label).or_default().push(number as u32);
            }
            while let Some(reading) = readings.next_if(|reading| reading.name[0] == pass) {
                let touched = reading.recorded.leads().iter().flat_map(|lead| lead.touches());
                let mut reached: Vec<u32> = touched
                    .filter_map(|&terminal| neighbourhoods.of_body[network.body(terminal) as usize])
                    .map(|number| {
                        let label = joined[number as usize];
                        *number_of.entry(label).or_insert_with(|| {
                            lists.push(members.remove(&label).expect("each label is asked for once"));
                            lists.len() as u32 - 1
                        })
                    })
                    .collect();
                reached.sort_unstable();
                reached.dedup();
                of_reading.push(reached);
            }
        }
        let marks = Marks {
            stamp: 0,
            is_inside: vec![(0, false); lists.len()],
            of_list: vec![(0, 0); lists.len()],
            of_neighbourhood: vec![(0, 0); neighbourhoods.circuits.len()],
        };
        Reaches { neighbourhoods, lists, of_reading, marks: RefCell::new(marks) }
    }

    /// Those of some readings that reach nothing but copper of these boards and circuits, in sets: two readings are in
    /// one set where they reach common copper, or where each is in one set with a third.
    ///
    /// Time linear in the copper that the readings reach.
    pub(super) fn sets(&self, readings: &[usize], boards: &[BoardId], circuits: &[CircuitId]) -> Vec<Vec<usize>> {
        let boards: FixedBitSet = boards.iter().map(|board| board.index()).collect();
        let circuits: FixedBitSet = circuits.iter().map(|circuit| circuit.index()).collect();
        let is_inside = |number: u32| {
            let Neighbourhoods { circuits: of_circuits, boards: of_boards, .. } = &self.neighbourhoods;
            of_circuits[number as usize].iter().all(|circuit| circuits.contains(circuit.index()))
                && of_boards[number as usize].iter().all(|board| boards.contains(board.index()))
        };
        let marks = &mut *self.marks.borrow_mut();
        marks.stamp += 1;
        let stamp = marks.stamp;
        let mut list_is_inside = |list: u32| {
            let inside = || self.lists[list as usize].iter().all(|&number| is_inside(number));
            marked(&mut marks.is_inside[list as usize], stamp, inside)
        };
        let inside: Vec<usize> = readings
            .iter()
            .copied()
            .filter(|&reading| self.of_reading[reading].iter().all(|&list| list_is_inside(list)))
            .collect();
        let mut joined: UnionFind<usize> = UnionFind::new(inside.len());
        for (entry, &reading) in inside.iter().enumerate() {
            for &list in &self.of_reading[reading] {
                let first = marked(&mut marks.of_list[list as usize], stamp, || entry);
                if first != entry {
                    joined.union(entry, first);
                    continue;
                }
                for &number in &self.lists[list as usize] {
                    joined.union(entry, marked(&mut marks.of_neighbourhood[number as usize], stamp, || entry));
                }
            }
        }
        let mut sets: Vec<Vec<usize>> = Vec::new();
        let mut set_of: Vec<Option<usize>> = vec![None; inside.len()];
        for (entry, &reading) in inside.iter().enumerate() {
            let set = *set_of[joined.find(entry)].get_or_insert_with(|| {
                sets.push(Vec::new());
                sets.len() - 1
            });
            sets[set].push(reading);
        }
        sets
    }
}
