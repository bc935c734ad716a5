//! The installation as people know it: boards, ways, circuits, points and lengths, checked and immutable.

use std::fmt;

use serde::{Serialize, Serializer};

use super::{Metres, Volts};

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident;)*) => {$(
        $(#[$doc])*
        ///
        /// Issued only by the builder; its order is the order of the file.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(pub(crate) u32);

        impl $name {
            pub(crate) fn index(self) -> usize {
                self.0 as usize
            }
        }
    )*};
}

ids! {
    /// A location of an [`Installation`].
    LocationId;
    /// A plate: switches on one plate are one stop on a walk.
    PlateId;
    /// A board of an [`Installation`].
    BoardId;
    /// A circuit of an [`Installation`].
    CircuitId;
    /// A kind of point: built in, or declared by the installation.
    KindId;
    /// A point (an accessory, a load or a junction) of an [`Installation`].
    PointId;
    /// A length of cable of an [`Installation`].
    LengthId;
}

/// One way of one board.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct WayId {
    pub(crate) board: BoardId,
    pub(crate) way: u32,
}

/// One group of ways behind one residual-current device, with a neutral bar of its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct GroupId {
    pub(crate) board: BoardId,
    pub(crate) group: u32,
}

impl WayId {
    /// The board that the way belongs to.
    pub fn board(self) -> BoardId {
        self.board
    }
}

impl GroupId {
    /// The board that the group belongs to.
    pub fn board(self) -> BoardId {
        self.board
    }
}

/// How many phases the supply has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Phases {
    /// One line conductor, `L`.
    One,
    /// Three line conductors, `L1`, `L2` and `L3`.
    Three,
}

impl Phases {
    /// The line conductors, in order.
    pub fn lines(self) -> &'static [Line] {
        match self {
            Phases::One => &[Line::L],
            Phases::Three => &[Line::L1, Line::L2, Line::L3],
        }
    }
}

/// A line conductor of the supply.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Line {
    /// The only line of a single-phase installation.
    L,
    /// The first line of a three-phase installation.
    L1,
    /// The second line.
    L2,
    /// The third line.
    L3,
}

impl Line {
    /// The name that files use: `L`, `L1`, `L2` or `L3`.
    pub fn name(self) -> &'static str {
        match self {
            Line::L => "L",
            Line::L1 => "L1",
            Line::L2 => "L2",
            Line::L3 => "L3",
        }
    }
}

/// A conductor at a board: a line, the neutral or the protective conductor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Conductor {
    /// A line conductor.
    Line(Line),
    /// The neutral conductor, `N`.
    Neutral,
    /// The protective conductor, `E`.
    Earth,
}

impl Conductor {
    /// The terminal name that files use: a line's name, `N` or `E`.
    pub fn name(self) -> &'static str {
        match self {
            Conductor::Line(line) => line.name(),
            Conductor::Neutral => "N",
            Conductor::Earth => "E",
        }
    }
}

/// The type of system earthing (IEC 60364-1).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Earthing {
    /// Separate neutral and protective conductors throughout.
    TnS,
    /// Combined in the supply, separate in the installation.
    TnCS,
    /// Earthed at an electrode of the installation's own.
    Tt,
    /// The source isolated from earth, or earthed through an impedance.
    It,
}

impl Earthing {
    /// The name that files use.
    pub fn name(self) -> &'static str {
        match self {
            Earthing::TnS => "TN-S",
            Earthing::TnCS => "TN-C-S",
            Earthing::Tt => "TT",
            Earthing::It => "IT",
        }
    }
}

/// Whether the installation is new or existing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Work {
    /// A new installation or an addition.
    New,
    /// An installation that has been in service.
    Existing,
}

impl Work {
    /// The name that files use.
    pub fn name(self) -> &'static str {
        match self {
            Work::New => "new",
            Work::Existing => "existing",
        }
    }
}

/// The system that a circuit belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum System {
    /// Low voltage.
    Lv,
    /// Separated extra-low voltage.
    Selv,
    /// Protective extra-low voltage.
    Pelv,
    /// Functional extra-low voltage.
    Felv,
}

impl System {
    /// The name that files use.
    pub fn name(self) -> &'static str {
        match self {
            System::Lv => "lv",
            System::Selv => "selv",
            System::Pelv => "pelv",
            System::Felv => "felv",
        }
    }
}

/// Each is written as its name in a file.
macro_rules! written_by_name {
    ($($name:ident)*) => {$(
        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.serialize_str(self.name())
            }
        }
    )*};
}

written_by_name!(Earthing Work System Conducts Lamp Load);

impl Serialize for Phases {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_u64(match self {
            Phases::One => 1,
            Phases::Three => 3,
        })
    }
}

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

/// A distribution board.
#[derive(Clone, Debug)]
pub struct Board {
    pub(crate) id: String,
    pub(crate) location: Option<LocationId>,
    pub(crate) main_switch: bool,
    pub(crate) origin: bool,
    pub(crate) groups: Vec<Group>,
    pub(crate) ways: Vec<Way>,
}

impl Board {
    /// The board's id.
    pub fn id(&self) -> &str {
        &self.id
    }

    /// Where the board is.
    pub fn location(&self) -> Option<LocationId> {
        self.location
    }

    /// Whether a main switch stands between the incoming side and the busbar.
    pub fn has_main_switch(&self) -> bool {
        self.main_switch
    }

    /// Whether this is the board at the supply, whose earth bar is the main earthing terminal.
    pub fn is_origin(&self) -> bool {
        self.origin
    }

    /// The groups of ways behind one residual-current device each.
    pub fn groups(&self) -> &[Group] {
        &self.groups
    }

    /// The ways, in the order of the file.
    pub fn ways(&self) -> &[Way] {
        &self.ways
    }
}

/// Ways behind one residual-current device, with a neutral bar of their own.
#[derive(Clone, Debug)]
pub struct Group {
    pub(crate) id: String,
    pub(crate) electronic: bool,
}

impl Group {
    /// The group's id, unique on its board.
    pub fn id(&self) -> &str {
        &self.id
    }

    /// Whether the device holds electronics between line and neutral.
    pub fn is_electronic(&self) -> bool {
        self.electronic
    }
}

/// The device of a way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WayDevice {
    /// A miniature circuit-breaker.
    Mcb,
    /// A fuse.
    Fuse,
    /// An isolator (a switch-disconnector without protection).
    Isolator,
    /// A residual-current breaker with overcurrent protection.
    Rcbo {
        /// Whether it opens the neutral too.
        switches_neutral: bool,
        /// Whether it has a functional-earth lead.
        functional_earth: bool,
    },
}

impl WayDevice {
    /// The name that files use.
    pub fn name(self) -> &'static str {
        match self {
            WayDevice::Mcb => "mcb",
            WayDevice::Fuse => "fuse",
            WayDevice::Isolator => "isolator",
            WayDevice::Rcbo { .. } => "rcbo",
        }
    }
}

/// A way of a board: one protective device and the terminals on its load side.
#[derive(Clone, Debug)]
pub struct Way {
    pub(crate) id: String,
    pub(crate) device: WayDevice,
    pub(crate) rating: Option<f64>,
    pub(crate) poles: Vec<Line>,
    /// Index into the board's groups.
    pub(crate) group: Option<u32>,
    pub(crate) neutral: bool,
}

impl Way {
    /// The way's id, unique on its board.
    pub fn id(&self) -> &str {
        &self.id
    }

    /// The device of the way.
    pub fn device(&self) -> WayDevice {
        self.device
    }

    /// The rated current in ampere, where given.
    pub fn rating(&self) -> Option<f64> {
        self.rating
    }

    /// The line conductors that the way carries.
    pub fn poles(&self) -> &[Line] {
        &self.poles
    }

    /// Whether a neutral is wired from this way.
    pub fn has_neutral(&self) -> bool {
        self.neutral
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
}

/// Whether a bridge conducts for sure while fitted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Conducts {
    /// It conducts for sure: a filament lamp, an element, a coil.
    Sure,
    /// It may conduct: electronics.
    Maybe,
}

impl Conducts {
    /// The name that files use.
    pub fn name(self) -> &'static str {
        match self {
            Conducts::Sure => "sure",
            Conducts::Maybe => "maybe",
        }
    }
}

/// The lamp of a luminaire.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Lamp {
    /// A filament lamp: conducts for sure.
    #[default]
    Filament,
    /// A light-emitting diode and its electronics: may conduct.
    Led,
    /// A discharge lamp and its gear: may conduct.
    Discharge,
}

impl Lamp {
    /// The name that files use.
    pub fn name(self) -> &'static str {
        match self {
            Lamp::Filament => "filament",
            Lamp::Led => "led",
            Lamp::Discharge => "discharge",
        }
    }
}

/// The load of an appliance.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Load {
    /// An element: conducts for sure.
    #[default]
    Resistive,
    /// Electronics: may conduct.
    Electronic,
}

impl Load {
    /// The name that files use.
    pub fn name(self) -> &'static str {
        match self {
            Load::Resistive => "resistive",
            Load::Electronic => "electronic",
        }
    }
}

/// What a point's `lamp`, `load` or `manual` key makes of a built-in kind.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Variant {
    /// The kind knows no such key.
    Plain,
    /// A luminaire with this lamp.
    Lamp(Lamp),
    /// An appliance with this load.
    Load(Load),
    /// A contactor, worked by hand or not.
    Manual(bool),
}

/// A kind of point: its terminals, what its positions join, and its bridges.
///
/// Terminals are numbered; `E` is always among them. Built-in kinds that a point's `lamp`, `load` or `manual` key
/// alters are kinds of their own here with the same name.
#[derive(Clone, Debug, PartialEq)]
pub struct Kind {
    pub(crate) name: String,
    /// Always holds `E`, last unless the kind names it itself.
    pub(crate) terminals: Vec<String>,
    pub(crate) positions: Vec<Position>,
    pub(crate) bridges: Vec<KindBridge>,
    /// Whether its bridges can be taken out.
    pub(crate) removable: bool,
    /// Whether its positions are worked by hand (a contactor's are only where it is manual).
    pub(crate) operable: bool,
    /// Terminals that are a source of their own, each a role named `POINT.TERMINAL` (a transformer's V1, V2).
    pub(crate) sources: Vec<u16>,
    /// A junction: its terminals are whatever the lengths name on it.
    pub(crate) open_terminals: bool,
    /// Declared in the file rather than built in.
    pub(crate) declared: bool,
    /// What a point's `lamp`, `load` or `manual` key made of it.
    pub(crate) variant: Variant,
}

/// A position of a device and the groups of terminals that it joins.
#[derive(Clone, Debug, PartialEq)]
pub struct Position {
    pub(crate) name: String,
    /// Each entry joins two or more terminals (numbers in the kind's list).
    pub(crate) joins: Vec<Vec<u16>>,
}

/// Something between two terminals that is not plain copper.
#[derive(Clone, Debug, PartialEq)]
pub struct KindBridge {
    pub(crate) between: [u16; 2],
    pub(crate) conducts: Conducts,
}

impl Kind {
    /// The kind's name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The names of its positions, the ready one first.
    pub fn positions(&self) -> impl ExactSizeIterator<Item = &str> {
        self.positions.iter().map(|position| position.name.as_str())
    }

    /// What a point's `lamp`, `load` or `manual` key made of it.
    pub fn variant(&self) -> Variant {
        self.variant
    }

    /// Whether anything in it is not plain copper: a lamp, an element, a coil, electronics.
    pub fn has_bridges(&self) -> bool {
        !self.bridges.is_empty()
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
}

impl Installation {
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
