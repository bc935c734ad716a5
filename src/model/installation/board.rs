//! Boards, their groups and their ways.

use crate::model::{Conductor, Line, LocationId};

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
#[non_exhaustive]
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

    /// The conductors of its load side: its poles, the neutral where one is wired from it, and the protective
    /// conductor.
    pub fn conductors(&self) -> impl Iterator<Item = Conductor> {
        let neutral = self.neutral.then_some(Conductor::Neutral);
        self.poles.iter().copied().map(Conductor::Line).chain(neutral).chain([Conductor::Earth])
    }
}
