//! The words that files choose from.

use serde::{Serialize, Serializer};

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

    /// The line conductors and the neutral, in order.
    pub(crate) fn live(self) -> impl Iterator<Item = Conductor> {
        self.lines().iter().copied().map(Conductor::Line).chain([Conductor::Neutral])
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
