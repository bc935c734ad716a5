//! The installation.

use std::fmt;
use std::sync::OnceLock;

use rustc_hash::FxHashMap;

use super::by_id::ById;
use super::stamp::Stamp;
use crate::model::{
    AllowDraft, Board, BoardId, Circuit, CircuitId, CircuitSource, Earthing, End, Group, GroupId, Kind, KindId, Length,
    LengthId, Location, LocationId, Passage, Phases, PlateId, Point, PointId, TerminalRef, Volts, Way, WayId, Work,
};

/// An installation, checked and immutable.
///
/// Made by [`InstallationDraft::build`](crate::model::InstallationDraft::build) or by the readers in [`crate::input`].
#[derive(Clone, Debug)]
pub struct Installation {
    pub(crate) stamp: Stamp,
    pub(crate) name: String,
    pub(crate) nominal_voltage: Volts,
    pub(crate) phases: Phases,
    pub(crate) earthing: Option<Earthing>,
    pub(crate) work: Work,
    pub(crate) locations: Vec<Location>,
    pub(crate) passages: Vec<Passage>,
    pub(crate) plates: Vec<String>,
    pub(crate) kinds: Vec<Kind>,
    pub(crate) boards: Vec<Board>,
    pub(crate) circuits: Vec<Circuit>,
    pub(crate) points: Vec<Point>,
    pub(crate) lengths: Vec<Length>,
    /// Warnings that are not to be given.
    pub(crate) allowed: Vec<AllowDraft>,
    /// Made when first something is looked up by its id.
    pub(crate) by_id: OnceLock<ById>,
    /// For each circuit its sources, made when they are first asked for.
    pub(crate) sources: OnceLock<Vec<Vec<CircuitSource>>>,
}

impl Installation {
    /// An installation of which nothing is known, for looking over what is checked against one.
    pub(crate) fn unknown() -> Installation {
        Installation {
            stamp: Stamp::new(),
            name: String::new(),
            nominal_voltage: Volts(0.0),
            phases: Phases::One,
            earthing: None,
            work: Work::New,
            locations: Vec::new(),
            passages: Vec::new(),
            plates: Vec::new(),
            kinds: Vec::new(),
            boards: Vec::new(),
            circuits: Vec::new(),
            points: Vec::new(),
            lengths: Vec::new(),
            allowed: Vec::new(),
            by_id: OnceLock::new(),
            sources: OnceLock::new(),
        }
    }

    /// The installation's name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Nominal voltage, line to neutral.
    pub fn nominal_voltage(&self) -> Volts {
        self.nominal_voltage
    }

    /// One or three phases.
    pub fn phases(&self) -> Phases {
        self.phases
    }

    /// The type of system earthing, where it is known. Nothing that is asked of a test depends on it.
    pub fn earthing(&self) -> Option<Earthing> {
        self.earthing
    }

    /// New or existing.
    pub fn work(&self) -> Work {
        self.work
    }

    /// A location.
    pub fn location(&self, id: LocationId) -> &Location {
        &self.locations[id.index()]
    }

    /// The locations, in the order of the file.
    pub fn locations(&self) -> impl ExactSizeIterator<Item = (LocationId, &Location)> {
        self.locations.iter().enumerate().map(|(i, location)| (LocationId(i as u32), location))
    }

    /// Walking distances.
    pub fn passages(&self) -> &[Passage] {
        &self.passages
    }

    /// A plate's name.
    pub fn plate(&self, id: PlateId) -> &str {
        &self.plates[id.index()]
    }

    /// A kind of point.
    pub fn kind(&self, id: KindId) -> &Kind {
        &self.kinds[id.index()]
    }

    /// A board.
    pub fn board(&self, id: BoardId) -> &Board {
        &self.boards[id.index()]
    }

    /// The boards, in the order of the file.
    pub fn boards(&self) -> impl ExactSizeIterator<Item = (BoardId, &Board)> {
        self.boards.iter().enumerate().map(|(i, board)| (BoardId(i as u32), board))
    }

    /// A way.
    pub fn way(&self, id: WayId) -> &Way {
        &self.board(id.board).ways[id.way as usize]
    }

    /// A group.
    pub fn group(&self, id: GroupId) -> &Group {
        &self.board(id.board).groups[id.group as usize]
    }

    /// A circuit.
    pub fn circuit(&self, id: CircuitId) -> &Circuit {
        &self.circuits[id.index()]
    }

    /// The circuits of ways.
    pub(crate) fn circuits_of_ways(&self) -> FxHashMap<WayId, CircuitId> {
        self.circuits().filter_map(|(id, circuit)| Some((circuit.way()?, id))).collect()
    }

    /// The circuits, in the order of the file.
    pub fn circuits(&self) -> impl ExactSizeIterator<Item = (CircuitId, &Circuit)> {
        self.circuits.iter().enumerate().map(|(i, circuit)| (CircuitId(i as u32), circuit))
    }

    /// A point.
    pub fn point(&self, id: PointId) -> &Point {
        &self.points[id.index()]
    }

    /// The points, in the order of the file.
    pub fn points(&self) -> impl ExactSizeIterator<Item = (PointId, &Point)> {
        self.points.iter().enumerate().map(|(i, point)| (PointId(i as u32), point))
    }

    /// A length.
    pub fn length(&self, id: LengthId) -> &Length {
        &self.lengths[id.index()]
    }

    /// The lengths, in the order of the file.
    pub fn lengths(&self) -> impl ExactSizeIterator<Item = (LengthId, &Length)> {
        self.lengths.iter().enumerate().map(|(i, length)| (LengthId(i as u32), length))
    }

    /// The name of a point's terminal.
    pub(crate) fn point_terminal_name(&self, point: PointId, terminal: u16) -> &str {
        let point = self.point(point);
        let own = &self.kind(point.kind).terminals;
        let number = usize::from(terminal);
        own.get(number).unwrap_or_else(|| &point.extra_terminals[number - own.len()])
    }

    /// The full name of a way, `BOARD/WAY`.
    pub fn way_name(&self, id: WayId) -> String {
        format!("{}/{}", self.board(id.board).id, self.way(id).id)
    }

    /// The name of what a length ends at.
    pub fn end_name(&self, end: End) -> String {
        match end {
            End::Way(way) => self.way_name(way),
            End::Incoming(board) => format!("{}.in", self.board(board).id),
            End::Point(point) => self.point(point).id.clone(),
        }
    }

    /// Where a length's end is; none where the file does not say.
    pub fn end_location(&self, end: End) -> Option<LocationId> {
        match end {
            End::Way(way) => self.board(way.board).location(),
            End::Incoming(board) => self.board(board).location(),
            End::Point(point) => self.point(point).location(),
        }
    }

    /// The full name of a terminal.
    pub fn terminal_name(&self, terminal: TerminalRef) -> String {
        let mut name = String::new();
        self.write_terminal_name(terminal, &mut name).expect("writing to a string succeeds");
        name
    }

    fn write_terminal_name(&self, terminal: TerminalRef, out: &mut impl fmt::Write) -> fmt::Result {
        match terminal {
            TerminalRef::Point { point, terminal } => {
                write!(out, "{}.{}", self.point(point).id, self.point_terminal_name(point, terminal))
            }
            TerminalRef::Way { way, conductor } => {
                write!(out, "{}/{}.{}", self.board(way.board).id, self.way(way).id, conductor.name())
            }
            TerminalRef::Incoming { board, conductor } => {
                write!(out, "{}.in.{}", self.board(board).id, conductor.name())
            }
            TerminalRef::Bus { board, conductor } => {
                write!(out, "{}.bus.{}", self.board(board).id, conductor.name())
            }
            TerminalRef::Group { group, conductor } => {
                write!(out, "{}.{}.{}", self.board(group.board).id, self.group(group).id, conductor.name())
            }
            TerminalRef::EarthBar { board } => write!(out, "{}.E", self.board(board).id),
            TerminalRef::MainEarth => out.write_str("MET"),
        }
    }
}
