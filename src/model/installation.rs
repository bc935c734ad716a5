//! The installation as people know it: boards, ways, circuits, points and lengths, checked and immutable.

use std::fmt;
use std::sync::OnceLock;

use rustc_hash::FxHashMap;

use super::by_id::ById;
use super::stamp::Stamp;
use super::{
    Board, BoardId, CircuitId, Conductor, Earthing, Group, GroupId, Kind, KindId, LengthId, LocationId, Metres, Phases,
    PlateId, PointId, System, Volts, Way, WayId, Work,
};

/// A place in the building.
#[derive(Clone, Debug)]
pub struct Location {
    pub(crate) id: String,
    pub(crate) name: Option<String>,
}

impl Location {
    /// The location's id.
    pub fn id(&self) -> &str {
        &self.id
    }

    /// The name for people; the id where none was given.
    pub fn name(&self) -> &str {
        self.name.as_deref().unwrap_or(&self.id)
    }
}

/// The walking distance between two locations.
#[derive(Clone, Debug)]
pub struct Passage {
    pub(crate) between: [LocationId; 2],
    pub(crate) metres: Metres,
}

impl Passage {
    /// The two locations.
    pub fn between(&self) -> [LocationId; 2] {
        self.between
    }

    /// The walking distance.
    pub fn metres(&self) -> Metres {
        self.metres
    }
}

/// A circuit: what one way feeds.
#[derive(Clone, Debug)]
pub struct Circuit {
    pub(crate) id: String,
    pub(crate) name: Option<String>,
    /// None only for extra-low-voltage circuits fed by a source of their own.
    pub(crate) way: Option<WayId>,
    pub(crate) nominal_voltage: Volts,
    pub(crate) system: System,
    pub(crate) relief: Option<String>,
}

impl Circuit {
    /// The circuit's id.
    pub fn id(&self) -> &str {
        &self.id
    }

    /// The name for people; the id where none was given.
    pub fn name(&self) -> &str {
        self.name.as_deref().unwrap_or(&self.id)
    }

    /// The way that feeds it; none for an extra-low-voltage circuit fed by a source of its own.
    pub fn way(&self) -> Option<WayId> {
        self.way
    }

    /// Nominal voltage, line to neutral.
    pub fn nominal_voltage(&self) -> Volts {
        self.nominal_voltage
    }

    /// The system that the circuit belongs to.
    pub fn system(&self) -> System {
        self.system
    }

    /// Why equipment in it can't be disconnected, in the words of the file: a reading at the lower test voltage of a
    /// ruleset's relief then counts too. None where nobody has declared it.
    pub fn relief(&self) -> Option<&str> {
        self.relief.as_deref()
    }
}

/// A point: an accessory, a load or a junction.
#[derive(Clone, Debug)]
pub struct Point {
    pub(crate) id: String,
    pub(crate) kind: KindId,
    pub(crate) circuit: CircuitId,
    pub(crate) location: Option<LocationId>,
    pub(crate) plate: Option<PlateId>,
    /// Terminals beyond the kind's own; numbered after them.
    pub(crate) extra_terminals: Vec<String>,
    /// Groups of terminals (numbers) joined for good.
    pub(crate) links: Vec<Vec<u16>>,
    /// `kind.removable` and the point's own override together.
    pub(crate) removable: bool,
    /// `kind.operable` and the point's own override together; false where the kind has no positions.
    pub(crate) operable: bool,
    /// How it is found.
    pub(crate) stands: Stands,
}

impl Point {
    /// The point's id.
    pub fn id(&self) -> &str {
        &self.id
    }

    /// Its kind.
    pub fn kind(&self) -> KindId {
        self.kind
    }

    /// The circuit that it belongs to.
    pub fn circuit(&self) -> CircuitId {
        self.circuit
    }

    /// Where it is.
    pub fn location(&self) -> Option<LocationId> {
        self.location
    }

    /// The plate that it is on.
    pub fn plate(&self) -> Option<PlateId> {
        self.plate
    }

    /// Whether its bridges (lamp, load, coil, electronics) can be taken out.
    pub fn is_removable(&self) -> bool {
        self.removable
    }

    /// Whether its switch can be operated by hand.
    pub fn is_operable(&self) -> bool {
        self.operable
    }
}

/// How a device stands: a known position, or nobody knows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Stands {
    /// In this position (a number in the kind's list; 0 where it has none).
    At(u16),
    /// Nobody knows.
    Unknown,
}

/// One length of cable between two ends.
#[derive(Clone, Debug)]
pub struct Length {
    pub(crate) id: String,
    pub(crate) circuit: CircuitId,
    pub(crate) ends: [End; 2],
    pub(crate) cable: Option<String>,
    pub(crate) metres: Metres,
    pub(crate) cores: Vec<Core>,
}

impl Length {
    /// The length's id.
    pub fn id(&self) -> &str {
        &self.id
    }

    /// The circuit that it belongs to.
    pub fn circuit(&self) -> CircuitId {
        self.circuit
    }

    /// What it runs between.
    pub fn ends(&self) -> [End; 2] {
        self.ends
    }

    /// The cable, in free text for people.
    pub fn cable(&self) -> Option<&str> {
        self.cable.as_deref()
    }

    /// How long it is.
    pub fn metres(&self) -> Metres {
        self.metres
    }

    /// Its cores, in the order of the file.
    pub fn cores(&self) -> &[Core] {
        &self.cores
    }
}

/// What a length ends at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum End {
    /// A way's load side.
    Way(WayId),
    /// A board's incoming side.
    Incoming(BoardId),
    /// A point.
    Point(PointId),
}

/// One core of a length.
#[derive(Clone, Debug)]
pub struct Core {
    pub(crate) name: String,
    pub(crate) ends: [Option<TerminalRef>; 2],
}

impl Core {
    /// The core's name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The terminals at its two ends; none where an end is connected to nothing.
    pub fn ends(&self) -> [Option<TerminalRef>; 2] {
        self.ends
    }
}

/// A terminal of the installation.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum TerminalRef {
    /// A point's terminal (a number among its kind's terminals, then its extra ones).
    Point {
        /// The point.
        point: PointId,
        /// The terminal's number on it.
        terminal: u16,
    },
    /// A way's terminal on the load side, `BOARD/WAY.X`.
    Way {
        /// The way.
        way: WayId,
        /// Which conductor.
        conductor: Conductor,
    },
    /// A board's incoming side, `BOARD.in.X`.
    Incoming {
        /// The board.
        board: BoardId,
        /// Which conductor.
        conductor: Conductor,
    },
    /// A board's busbar, `BOARD.bus.X` (lines and neutral).
    Bus {
        /// The board.
        board: BoardId,
        /// Which conductor.
        conductor: Conductor,
    },
    /// The bars behind a group's device, `BOARD.GROUP.X` (lines and neutral).
    Group {
        /// The group.
        group: GroupId,
        /// Which conductor.
        conductor: Conductor,
    },
    /// A board's earth bar, `BOARD.E`.
    EarthBar {
        /// The board.
        board: BoardId,
    },
    /// The main earthing terminal, `MET`.
    MainEarth,
}

/// An installation, checked and immutable.
///
/// Made by [`InstallationDraft::build`](super::InstallationDraft::build) or by the readers in [`crate::input`].
#[derive(Clone, Debug)]
pub struct Installation {
    pub(crate) stamp: Stamp,
    pub(crate) name: String,
    pub(crate) nominal_voltage: Volts,
    pub(crate) phases: Phases,
    pub(crate) earthing: Earthing,
    pub(crate) work: Work,
    pub(crate) locations: Vec<Location>,
    pub(crate) passages: Vec<Passage>,
    pub(crate) plates: Vec<String>,
    pub(crate) kinds: Vec<Kind>,
    pub(crate) boards: Vec<Board>,
    pub(crate) circuits: Vec<Circuit>,
    pub(crate) points: Vec<Point>,
    pub(crate) lengths: Vec<Length>,
    /// Made when first something is looked up by its id.
    pub(crate) by_id: OnceLock<ById>,
}

impl Installation {
    /// An installation of which nothing is known, for looking over what is checked against one.
    pub(crate) fn unknown() -> Installation {
        Installation {
            stamp: Stamp::new(),
            name: String::new(),
            nominal_voltage: Volts(0.0),
            phases: Phases::One,
            earthing: Earthing::Tt,
            work: Work::New,
            locations: Vec::new(),
            passages: Vec::new(),
            plates: Vec::new(),
            kinds: Vec::new(),
            boards: Vec::new(),
            circuits: Vec::new(),
            points: Vec::new(),
            lengths: Vec::new(),
            by_id: OnceLock::new(),
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

    /// The type of system earthing.
    pub fn earthing(&self) -> Earthing {
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
