//! The words that files choose from.

use serde::de::{Error, Unexpected};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// A choice of words, as files write it.
pub(crate) trait Word: Copy + 'static {
    /// Each with its word, in order.
    const WORDS: &'static [&'static str];
    const ALL: &'static [Self];
}

/// Enums of which each variant is a word of files, and is written and read as that.
macro_rules! words {
    ($($(#[$about:meta])* pub enum $name:ident { $($(#[$each:meta])* $variant:ident = $word:literal,)* })*) => {$(
        $(#[$about])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name {
            $($(#[$each])* $variant,)*
        }

        impl $name {
            /// The word that files use.
            pub fn name(self) -> &'static str {
                match self {
                    $($name::$variant => $word,)*
                }
            }
        }

        impl Word for $name {
            const WORDS: &'static [&'static str] = &[$($word),*];
            const ALL: &'static [$name] = &[$($name::$variant),*];
        }

        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.serialize_str(self.name())
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<$name, D::Error> {
                match String::deserialize(deserializer)?.as_str() {
                    $($word => Ok($name::$variant),)*
                    other => Err(D::Error::unknown_variant(other, $name::WORDS)),
                }
            }
        }
    )*};
}

words! {
    /// A line conductor of the supply.
    pub enum Line {
        /// The only line of a single-phase installation.
        L = "L",
        /// The first line of a three-phase installation.
        L1 = "L1",
        /// The second line.
        L2 = "L2",
        /// The third line.
        L3 = "L3",
    }

    /// The type of system earthing (IEC 60364-1).
    #[non_exhaustive]
    pub enum Earthing {
        /// Separate neutral and protective conductors throughout.
        TnS = "TN-S",
        /// Combined in the supply, separate in the installation.
        TnCS = "TN-C-S",
        /// Earthed at an electrode of the installation's own.
        Tt = "TT",
        /// The source isolated from earth, or earthed through an impedance.
        It = "IT",
    }

    /// Whether the installation is new or existing.
    pub enum Work {
        /// A new installation or an addition.
        New = "new",
        /// An installation that has been in service.
        Existing = "existing",
    }

    /// The system that a circuit belongs to.
    pub enum System {
        /// Low voltage.
        Lv = "lv",
        /// Separated extra-low voltage.
        Selv = "selv",
        /// Protective extra-low voltage.
        Pelv = "pelv",
        /// Functional extra-low voltage.
        Felv = "felv",
    }

    /// What the third core between two switches of the same lights does, beside the two strappers.
    pub enum Third {
        /// It joins their commons: line and switched line are the strappers.
        Common = "common",
        /// It brings the last common back to where the switched line starts.
        Back = "back",
        /// It takes the neutral along, and the lights are fed from the last switch.
        Neutral = "neutral",
    }

    /// Where strappers run that don't run from switch to switch.
    pub enum Strappers {
        /// Each switch has a cable of its own to the box or rose, and they are joined there.
        Box = "box",
    }

    /// Of which circuits a ruleset asks a test between live conductors.
    #[derive(Default)]
    pub enum BetweenLive {
        /// Of all.
        #[default]
        All = "all",
        /// Of those that feed a board: mains and submains.
        Feeders = "feeders",
        /// Of none.
        None = "none",
    }

    /// Which readings a ruleset's relief is for.
    #[derive(Default)]
    pub enum ReliefReadings {
        /// All.
        #[default]
        All = "all",
        /// Those between live conductors and earth.
        ToEarth = "to-earth",
    }

    /// The device of a group.
    #[derive(Default)]
    #[non_exhaustive]
    pub enum GroupDevice {
        /// A residual-current device.
        #[default]
        Rcd = "rcd",
    }

    /// The device of a way, as the key `device` names it.
    #[non_exhaustive]
    pub enum DeviceDraft {
        /// A miniature circuit-breaker.
        Mcb = "mcb",
        /// A fuse.
        Fuse = "fuse",
        /// An isolator.
        Isolator = "isolator",
        /// A residual-current breaker with overcurrent protection.
        Rcbo = "rcbo",
    }

    /// What a warning about an installation is of.
    #[non_exhaustive]
    pub enum WarningCode {
        /// A load that works in no configuration.
        NeverWorks = "never-works",
        /// A load whose ends are fed by circuits that have none in common: a borrowed line or neutral.
        OtherCircuit = "other-circuit",
        /// A length or a point that is put down under another circuit than feeds it.
        PutDownElsewhere = "put-down-elsewhere",
        /// A load whose line terminal is on the neutral.
        Reversed = "reversed",
        /// A load for line and neutral that works between two lines.
        TwoLines = "two-lines",
        /// Two-way or intermediate switching in which a switch does not turn the load whatever the others do.
        DoesNotTurn = "does-not-turn",
        /// A switch that decides nothing: no load works otherwise for it.
        DecidesNothing = "decides-nothing",
        /// Two supply conductors that some position of the switches joins.
        SupplyJoined = "supply-joined",
        /// A core that is joined to the supply and ends nowhere.
        OpenEnd = "open-end",
        /// A protective core that is not joined to the main earthing terminal.
        EarthNotJoined = "earth-not-joined",
        /// A point that no core is connected to.
        NoCores = "no-cores",
        /// A length with another number of cores than its cable says.
        CableCores = "cable-cores",
        /// An `[[allow]]` that nothing needs.
        NothingToAllow = "nothing-to-allow",
    }

    /// Whether a bridge conducts for sure while fitted.
    pub enum Conducts {
        /// It conducts for sure: a filament lamp, an element, a coil.
        Sure = "sure",
        /// It may conduct: electronics.
        Maybe = "maybe",
    }

    /// The lamp of a luminaire.
    #[derive(Default)]
    #[non_exhaustive]
    pub enum Lamp {
        /// A filament lamp: conducts for sure.
        #[default]
        Filament = "filament",
        /// A light-emitting diode and its electronics: may conduct.
        Led = "led",
        /// A discharge lamp and its gear: may conduct.
        Discharge = "discharge",
    }

    /// The load of an appliance.
    #[derive(Default)]
    #[non_exhaustive]
    pub enum Load {
        /// An element: conducts for sure.
        #[default]
        Resistive = "resistive",
        /// Electronics: may conduct.
        Electronic = "electronic",
    }

    /// Whether a bridge is in or out.
    pub enum BridgeState {
        /// In: it conducts, or may.
        Fitted = "fitted",
        /// Out: it does not.
        Removed = "removed",
        /// Out, with a link for the test in the place of each bridge that passes.
        Linked = "linked",
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

    /// The conductors of a board's incoming side, busbar or group, in order: the protective one only where it ends
    /// there.
    pub(crate) fn conductors(self, earth: bool) -> impl Iterator<Item = Conductor> {
        self.live().chain(earth.then_some(Conductor::Earth))
    }

    /// The line conductors and the neutral, in order.
    pub(crate) fn live(self) -> impl Iterator<Item = Conductor> {
        self.lines().iter().copied().map(Conductor::Line).chain([Conductor::Neutral])
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

    /// The one of some that a name means.
    pub(crate) fn named(name: &str, mut among: impl Iterator<Item = Conductor>) -> Option<Conductor> {
        among.find(|conductor| conductor.name() == name)
    }
}

impl Word for Phases {
    const WORDS: &'static [&'static str] = &["1", "3"];
    const ALL: &'static [Phases] = &[Phases::One, Phases::Three];
}

impl Serialize for Phases {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_u64(match self {
            Phases::One => 1,
            Phases::Three => 3,
        })
    }
}

impl<'de> Deserialize<'de> for Phases {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Phases, D::Error> {
        match u64::deserialize(deserializer)? {
            1 => Ok(Phases::One),
            3 => Ok(Phases::Three),
            other => Err(D::Error::invalid_value(Unexpected::Unsigned(other), &"1 or 3")),
        }
    }
}
