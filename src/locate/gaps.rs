//! Gaps: what lies side by side, by the two bodies of copper that it lies between.

use fixedbitset::FixedBitSet;
use rustc_hash::{FxHashMap, FxHashSet};
use serde::{Deserialize, Serialize};

use crate::model::{BoardId, Conductor, End, GroupId, LengthId, PointId, TerminalRef, Volts, WayDevice, WayId};
use crate::network::{Body, Lists, Network, PairCore, Reach, Role};

/// The number of a gap: counted from 0, those of lengths first, in the order of the file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct GapId(pub(crate) u32);

impl GapId {
    pub(super) fn index(self) -> usize {
        self.0 as usize
    }
}

/// One place where the two bodies of a gap lie side by side, with one core or terminal of each; there may be more.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum SideBySide {
    /// Two cores of a length, or one and the main earthing terminal.
    Length { length: LengthId, cores: [PairCore; 2] },
    /// Two terminals of a point.
    Point { point: PointId, terminals: [TerminalRef; 2] },
    /// Two terminals of a way, on its load side or its supply side.
    Way { way: WayId, terminals: [TerminalRef; 2] },
    /// Two bars of a board.
    Board { board: BoardId, terminals: [TerminalRef; 2] },
}

impl SideBySide {
    pub(super) fn length(&self) -> Option<LengthId> {
        match self {
            SideBySide::Length { length, .. } => Some(*length),
            _ => None,
        }
    }
}

/// All gaps of a network.
#[derive(Debug)]
pub(super) struct GapTable {
    /// The lower body first.
    pub(super) bodies: Vec<[Body; 2]>,
    pub(super) members: Vec<Vec<SideBySide>>,
    /// Metres of the lengths of each gap.
    pub(super) metres: Vec<f64>,
    /// The least and the greatest test voltage that the places of each gap ask for: its lengths by their circuits;
    /// where it has none, points and ways by theirs and bars by the board. (So what is between the terminals of a
    /// transformer's low side asks for what its cable does.) None where the ruleset has no value for any.
    pub(super) volts: Vec<Option<[Volts; 2]>>,
    /// The same of each board's bars.
    pub(super) board_volts: FxHashMap<BoardId, [Volts; 2]>,
    /// The bodies of places that have too many gaps to make: not all that lies beside them is in this table.
    crowded: FixedBitSet,
    at: Lists,
}

impl GapTable {
    /// The gaps of a network. Terminals that nothing is joined to are left out, unless a reading `touched` them.
    ///
    /// Leaving them out loses nothing: leakage from one terminal of an accessory over such a terminal to a third acts
    /// like leakage between the first and the third (star to mesh), and that gap is there.
    ///
    /// Time and space linear in the cores and terminals, and in the pairs of cores and the pairs of bodies at each
    /// accessory up to the limit.
    pub(super) fn of(network: &Network, touched: &FixedBitSet) -> GapTable {
        let mut gaps = GapGathering {
            bodies: Vec::new(),
            members: Vec::new(),
            number: FxHashMap::default(),
            left: network.limits().locate.gaps_made,
            crowded: FixedBitSet::with_capacity(network.body_count()),
        };
        gaps.add_lengths(network);
        gaps.add_points(network, touched);
        gaps.add_boards(network);
        let GapGathering { bodies, members, crowded, .. } = gaps;
        let metres = members.iter().map(|members| metres(network, lengths(members))).collect();
        let board_volts = network.voltages_of_boards();
        let volts = asked(network, &members, &board_volts);
        let at = by_body(network, &bodies);
        GapTable { bodies, members, metres, volts, board_volts, crowded, at }
    }

    /// Gaps between these bodies and nothing else, for tests.
    #[cfg(test)]
    pub(super) fn between(network: &Network, bodies: Vec<[Body; 2]>) -> GapTable {
        let (count, at) = (bodies.len(), by_body(network, &bodies));
        let volts = vec![None; count];
        GapTable {
            bodies,
            members: vec![Vec::new(); count],
            metres: vec![0.0; count],
            volts,
            board_volts: FxHashMap::default(),
            crowded: FixedBitSet::with_capacity(network.body_count()),
            at,
        }
    }

    pub(super) fn count(&self) -> usize {
        self.bodies.len()
    }

    /// The gaps that a body is a side of.
    pub(super) fn at(&self, body: Body) -> &[u32] {
        self.at.at(body)
    }

    /// Whether copper has gaps that are not in this table, of a place with too many.
    pub(super) fn is_crowded(&self, body: Body) -> bool {
        self.crowded.contains(body as usize)
    }

    /// How many gaps there are at what is reached.
    pub(super) fn count_at(&self, reach: &Reach) -> usize {
        reach.bodies().iter().map(|&body| self.at(body).len()).sum()
    }

    /// The body of a gap that is not this one.
    pub(super) fn far(&self, gap: u32, body: Body) -> Body {
        let [a, b] = self.bodies[gap as usize];
        if a == body { b } else { a }
    }

    /// The lengths that a gap is in.
    pub(super) fn lengths(&self, gap: GapId) -> impl Iterator<Item = LengthId> + Clone + '_ {
        lengths(&self.members[gap.index()])
    }

    /// The greatest test voltage that a gap asks for, where that is above this one.
    pub(super) fn asks_for_more(&self, gap: u32, taken: Volts) -> Option<Volts> {
        self.volts[gap as usize].map(|[_, greatest]| greatest).filter(|greatest| *greatest > taken)
    }
}

fn by_body(network: &Network, bodies: &[[Body; 2]]) -> Lists {
    let ends = bodies.iter().zip(0u32..).flat_map(|(&[a, b], number)| [(a, number), (b, number)]);
    Lists::new(network.body_count(), ends)
}

fn lengths(members: &[SideBySide]) -> impl Iterator<Item = LengthId> + Clone + '_ {
    members.iter().filter_map(SideBySide::length)
}

/// Metres of some lengths.
pub(super) fn metres(network: &Network, lengths: impl Iterator<Item = LengthId>) -> f64 {
    // Nothing comes to nought, not to minus nought as an empty sum does.
    lengths.map(|length| network.installation().length(length).metres().0).fold(0.0, |all, one| all + one)
}

fn asked(
    network: &Network,
    members: &[Vec<SideBySide>],
    board_volts: &FxHashMap<BoardId, [Volts; 2]>,
) -> Vec<Option<[Volts; 2]>> {
    let installation = network.installation();
    let of_way = installation.circuits_of_ways();
    let of_board = |board| board_volts.get(&board).copied();
    let of_circuit = |circuit| network.test_voltage(circuit).map(|volts| [volts; 2]);
    let asked = |member: &SideBySide| match *member {
        SideBySide::Length { length, .. } => of_circuit(installation.length(length).circuit()),
        SideBySide::Point { point, .. } => of_circuit(installation.point(point).circuit()),
        SideBySide::Way { way, .. } => of_way.get(&way).map_or_else(|| of_board(way.board()), |&id| of_circuit(id)),
        SideBySide::Board { board, .. } => of_board(board),
    };
    let of_gap = |members: &Vec<SideBySide>| {
        let has_lengths = lengths(members).next().is_some();
        let counted = members.iter().filter(|member| !has_lengths || member.length().is_some());
        counted.filter_map(asked).reduce(|[least, greatest], [low, high]| {
            [if low < least { low } else { least }, if high > greatest { high } else { greatest }]
        })
    };
    members.iter().map(of_gap).collect()
}

struct GapGathering {
    bodies: Vec<[Body; 2]>,
    members: Vec<Vec<SideBySide>>,
    number: FxHashMap<[Body; 2], u32>,
    /// How many more places between two bodies may be looked at.
    left: usize,
    crowded: FixedBitSet,
}

impl GapGathering {
    fn add(&mut self, bodies: [Body; 2], member: SideBySide) {
        if bodies[0] == bodies[1] {
            return;
        }
        let key = [bodies[0].min(bodies[1]), bodies[0].max(bodies[1])];
        let next = self.bodies.len() as u32;
        let number = *self.number.entry(key).or_insert(next);
        if number == next {
            self.bodies.push(key);
            self.members.push(Vec::new());
        }
        self.members[number as usize].push(member);
    }

    fn is_known(&self, bodies: [Body; 2]) -> bool {
        self.number.contains_key(&[bodies[0].min(bodies[1]), bodies[0].max(bodies[1])])
    }

    /// Whether the gaps of a place with these bodies can be made; if not they are crowded.
    fn has_room_for(&mut self, bodies: impl ExactSizeIterator<Item = Body> + Clone) -> bool {
        let count = bodies.len() * bodies.len().saturating_sub(1) / 2;
        let left = self.left.checked_sub(count);
        match left {
            Some(left) => self.left = left,
            None => bodies.for_each(|body| self.crowded.insert(body as usize)),
        }
        left.is_some()
    }

    /// Adds what lies between every two bodies among some terminals, each by the first of its terminals.
    fn add_between(
        &mut self,
        network: &Network,
        terminals: impl Iterator<Item = TerminalRef>,
        member: impl Fn([TerminalRef; 2]) -> SideBySide,
        is_wanted: impl Fn(&Self, [TerminalRef; 2], [Body; 2]) -> bool,
    ) {
        let mut seen: FxHashSet<Body> = FxHashSet::default();
        let sides = terminals.map(|terminal| (network.body(terminal), terminal));
        let firsts: Vec<(Body, TerminalRef)> = sides.filter(|side| seen.insert(side.0)).collect();
        if !self.has_room_for(firsts.iter().map(|side| side.0)) {
            return;
        }
        for (number, one) in firsts.iter().enumerate() {
            for other in &firsts[number + 1..] {
                let (terminals, bodies) = ([one.1, other.1], [one.0, other.0]);
                if is_wanted(self, terminals, bodies) {
                    self.add(bodies, member(terminals));
                }
            }
        }
    }

    fn add_lengths(&mut self, network: &Network) {
        let installation = network.installation();
        let main_earth = network.body(TerminalRef::MainEarth);
        for (id, length) in installation.lengths() {
            let count = length.cores().len();
            let body = |core: usize| network.core_body(id, core as u16);
            if !self.has_room_for((0..count + 1).map(|core| if core < count { body(core) } else { main_earth })) {
                continue;
            }
            for one in 0..count {
                for other in one + 1..count {
                    let cores = [PairCore::Core(one), PairCore::Core(other)];
                    self.add([body(one), body(other)], SideBySide::Length { length: id, cores });
                }
            }
            let has_earth = |core: usize| network.core_roles(id, core as u16).contains(&Role::Earth);
            if !(0..count).any(has_earth) {
                for one in 0..count {
                    let cores = [PairCore::Core(one), PairCore::Earth];
                    self.add([body(one), main_earth], SideBySide::Length { length: id, cores });
                }
            }
        }
    }

    fn add_points(&mut self, network: &Network, touched: &FixedBitSet) {
        let installation = network.installation();
        let mut has_core = FixedBitSet::with_capacity(network.body_count());
        for &body in network.core_bodies() {
            has_core.insert(body as usize);
        }
        let is_alone = |body: Body| {
            !has_core.contains(body as usize)
                && !touched.contains(body as usize)
                && network.edges_at(body).next().is_none()
                && network.contacts_at(body).is_empty()
                && body != network.body(TerminalRef::MainEarth)
        };
        for (id, point) in installation.points() {
            let count = installation.kind(point.kind()).terminals.len() + point.extra_terminals.len();
            let terminals = (0..count as u16).map(|terminal| TerminalRef::Point { point: id, terminal });
            let terminals = terminals.filter(|&terminal| !is_alone(network.body(terminal)));
            let member = |terminals| SideBySide::Point { point: id, terminals };
            self.add_between(network, terminals, member, |_, _, _| true);
        }
    }

    fn add_boards(&mut self, network: &Network) {
        let installation = network.installation();
        let live: Vec<Conductor> = installation.phases().live().collect();
        for (id, board) in installation.boards() {
            let mut bars: Vec<TerminalRef> = Vec::new();
            bars.extend(live.iter().map(|&conductor| TerminalRef::Incoming { board: id, conductor }));
            bars.extend(live.iter().map(|&conductor| TerminalRef::Bus { board: id, conductor }));
            for group in 0..board.groups().len() as u32 {
                let group = GroupId { board: id, group };
                bars.extend(live.iter().map(|&conductor| TerminalRef::Group { group, conductor }));
            }
            bars.push(TerminalRef::EarthBar { board: id });
            let member = |terminals| SideBySide::Board { board: id, terminals };
            self.add_between(network, bars.into_iter(), member, |_, _, _| true);
            for (number, row) in board.ways().iter().enumerate() {
                let way = WayId { board: id, way: number as u32 };
                let supply = |conductor| match row.group {
                    Some(group) => TerminalRef::Group { group: GroupId { board: id, group }, conductor },
                    None => TerminalRef::Bus { board: id, conductor },
                };
                let poles = row.poles().iter().map(|&line| Conductor::Line(line));
                let mut terminals: Vec<TerminalRef> =
                    poles.clone().map(|conductor| TerminalRef::Way { way, conductor }).collect();
                if row.has_neutral() {
                    terminals.push(TerminalRef::Way { way, conductor: Conductor::Neutral });
                }
                terminals.push(TerminalRef::Way { way, conductor: Conductor::Earth });
                terminals.extend(poles.map(supply));
                if matches!(row.device(), WayDevice::Rcbo { switches_neutral: true, .. }) && row.has_neutral() {
                    terminals.push(supply(Conductor::Neutral));
                }
                // The supply side is named with the board's bars, where it lies between two of them.
                let is_wanted = |gaps: &Self, terminals: [TerminalRef; 2], bodies| {
                    let of_load = terminals.iter().all(|terminal| matches!(terminal, TerminalRef::Way { .. }));
                    of_load || !gaps.is_known(bodies)
                };
                let member = |terminals| SideBySide::Way { way, terminals };
                self.add_between(network, terminals.into_iter(), member, is_wanted);
            }
        }
    }
}

/// The terminals of a length's cores at one of its ends; none where either is connected to nothing there.
pub(super) fn at_end(
    network: &Network,
    length: LengthId,
    cores: [PairCore; 2],
    end: usize,
) -> Option<[TerminalRef; 2]> {
    let length = network.installation().length(length);
    let terminal = |core| match core {
        PairCore::Core(core) => length.cores()[core].ends()[end],
        PairCore::Earth => match length.ends()[end] {
            End::Way(way) => Some(TerminalRef::Way { way, conductor: Conductor::Earth }),
            End::Incoming(board) => Some(TerminalRef::EarthBar { board }),
            End::Point(_) => Some(TerminalRef::MainEarth),
        },
    };
    Some([terminal(cores[0])?, terminal(cores[1])?])
}
