//! Kinds of point.

use crate::model::{Conducts, Lamp, Load};

/// What a point's `lamp`, `load` or `manual` key makes of a built-in kind.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[non_exhaustive]
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
    /// Whether it can be seen in which position it stands.
    pub(crate) visible: bool,
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
    /// In service, what it joins is one conductor, switched by electronics.
    pub(crate) passes: bool,
    /// In service it uses what it is between: a lamp, an element, a coil.
    pub(crate) is_load: bool,
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

    /// Whether a coil works its contacts in service.
    pub(crate) fn is_coil_operated(&self) -> bool {
        !self.declared && self.name == "contactor"
    }

    /// The terminals of an outlet that something may be plugged into.
    pub(crate) fn outlet(&self) -> Option<[u16; 2]> {
        let line = match self.name.as_str() {
            "socket" => "L",
            "switched-socket" => "Lfront",
            _ => return None,
        };
        let number =
            |name: &str| self.terminals.iter().position(|terminal| terminal == name).map(|number| number as u16);
        Some([number(line)?, number("N")?]).filter(|_| !self.declared)
    }

    /// Whether anything in it is not plain copper: a lamp, an element, a coil, electronics.
    pub fn has_bridges(&self) -> bool {
        !self.bridges.is_empty()
    }
}
