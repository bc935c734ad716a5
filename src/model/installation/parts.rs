//! What an installation is made of: locations, circuits, points and lengths, and what ends and cores are joined to.

use crate::model::{
    BoardId, CircuitId, Conductor, GroupId, KindId, LocationId, Metres, PlateId, PointId, System, Volts, WayId,
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
    pub(crate) relief: Option<CircuitRelief>,
}

/// That equipment in a circuit can't be disconnected.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CircuitRelief {
    pub(crate) because: String,
    pub(crate) leaves: Vec<PointId>,
}

impl CircuitRelief {
    /// Why, in the words of the file.
    pub fn because(&self) -> &str {
        &self.because
    }

    /// The points that are left in, in the order of the file: their electronics voids no reading at the relief's voltage.
    pub fn leaves(&self) -> &[PointId] {
        &self.leaves
    }
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

    /// Nominal voltage, line to neutral; of a circuit without a way that of its source.
    pub fn nominal_voltage(&self) -> Volts {
        self.nominal_voltage
    }

    /// The system that the circuit belongs to.
    pub fn system(&self) -> System {
        self.system
    }

    /// That equipment in it can't be disconnected: a reading at the lower test voltage of a ruleset's relief then
    /// counts too. None where nobody has declared it.
    pub fn relief(&self) -> Option<&CircuitRelief> {
        self.relief.as_ref()
    }
}

/// A point: an accessory, a load or a junction.
#[derive(Clone, Debug)]
pub struct Point {
    pub(crate) id: String,
    pub(crate) name: Option<String>,
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
    /// Never taken off.
    pub(crate) fixed: bool,
    /// `kind.operable` and the point's own override together; false where the kind has no positions.
    pub(crate) operable: bool,
    /// `kind.visible` and the point's own override together.
    pub(crate) visible: bool,
    /// How it is found.
    pub(crate) stands: Stands,
}

impl Point {
    /// The point's id.
    pub fn id(&self) -> &str {
        &self.id
    }

    /// The name for people; none where none was given.
    pub fn name(&self) -> Option<&str> {
        self.name.as_deref()
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

    /// Whether it is never taken off: nobody parts it from its cores for a test.
    pub fn is_fixed(&self) -> bool {
        self.fixed
    }

    /// Whether its switch can be operated by hand.
    pub fn is_operable(&self) -> bool {
        self.operable
    }

    /// Whether it can be seen in which position its switch stands. Where it can't, nobody knows how it was found unless
    /// a file says so.
    pub fn is_visible(&self) -> bool {
        self.visible
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
#[non_exhaustive]
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
#[non_exhaustive]
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

/// A source of a circuit that no way feeds: where its readings are taken.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct CircuitSource {
    /// The point.
    pub point: PointId,
    /// Its terminals `V1` and `V2`, without those that are joined to the main earthing terminal for good (PELV).
    pub live: Vec<TerminalRef>,
    /// Its earth terminal, where that is joined to the main earthing terminal for good; else that one, by a long lead.
    pub earth: TerminalRef,
}
