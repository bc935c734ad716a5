//! An installation as it is written down.

use indexmap::IndexMap;
use serde::de::{Error, Unexpected};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use crate::model::{
    Conducts, DeviceDraft, Earthing, GroupDevice, Lamp, Load, Metres, Phases, StepDraft, System, Third, Volts,
    WarningCode, Work,
};

/// The version of the format, always written as `1`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct FormatOne;

impl Serialize for FormatOne {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_u64(1)
    }
}

impl<'de> Deserialize<'de> for FormatOne {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<FormatOne, D::Error> {
        match u64::deserialize(deserializer)? {
            1 => Ok(FormatOne),
            other => Err(D::Error::invalid_value(Unexpected::Unsigned(other), &"1, the only version there is")),
        }
    }
}

/// An installation file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct InstallationDraft {
    /// The format's version.
    pub format: FormatOne,
    /// What holds for the whole installation.
    pub installation: GeneralDraft,
    /// Where things are.
    #[serde(rename = "location", skip_serializing_if = "Vec::is_empty", default)]
    pub locations: Vec<LocationDraft>,
    /// Walking distances.
    #[serde(rename = "passage", skip_serializing_if = "Vec::is_empty", default)]
    pub passages: Vec<PassageDraft>,
    /// The boards.
    #[serde(rename = "board", skip_serializing_if = "Vec::is_empty", default)]
    pub boards: Vec<BoardDraft>,
    /// The circuits.
    #[serde(rename = "circuit", skip_serializing_if = "Vec::is_empty", default)]
    pub circuits: Vec<CircuitDraft>,
    /// The points.
    #[serde(rename = "point", skip_serializing_if = "Vec::is_empty", default)]
    pub points: Vec<PointDraft>,
    /// The lengths of cable.
    #[serde(rename = "length", skip_serializing_if = "Vec::is_empty", default)]
    pub lengths: Vec<LengthDraft>,
    /// Kinds of point that the file declares.
    #[serde(rename = "kind", skip_serializing_if = "Vec::is_empty", default)]
    pub kinds: Vec<KindDraft>,
    /// Warnings that are not to be given.
    #[serde(rename = "allow", skip_serializing_if = "Vec::is_empty", default)]
    pub allowed: Vec<AllowDraft>,
}

impl InstallationDraft {
    /// A draft without boards, circuits, points and lengths as yet.
    pub fn new(name: impl Into<String>, nominal_voltage: Volts) -> Self {
        InstallationDraft {
            format: FormatOne,
            installation: GeneralDraft::new(name, nominal_voltage),
            locations: Vec::new(),
            passages: Vec::new(),
            boards: Vec::new(),
            circuits: Vec::new(),
            points: Vec::new(),
            lengths: Vec::new(),
            kinds: Vec::new(),
            allowed: Vec::new(),
        }
    }
}

/// An `allow`: a warning that is known and meant.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct AllowDraft {
    /// What the warning is of.
    pub code: WarningCode,
    /// Its places, as the warning names them, in any order.
    pub at: Vec<String>,
    /// Why it is right so.
    pub because: String,
}

/// The table `installation`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct GeneralDraft {
    /// The installation's name.
    pub name: String,
    /// Line to neutral.
    pub nominal_voltage: Volts,
    /// One phase where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub phases: Option<Phases>,
    /// The type of system earthing, where it is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub earthing: Option<Earthing>,
    /// New where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub work: Option<Work>,
    /// What the third core between switches does in runs whose steps don't say it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub third: Option<Third>,
}

impl GeneralDraft {
    /// With everything else as it is where not given.
    pub fn new(name: impl Into<String>, nominal_voltage: Volts) -> Self {
        GeneralDraft { name: name.into(), nominal_voltage, phases: None, earthing: None, work: None, third: None }
    }
}

/// A `location`.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct LocationDraft {
    /// Unique among locations.
    pub id: String,
    /// The name for people.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
}

/// A `passage`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct PassageDraft {
    /// Two locations.
    pub between: [String; 2],
    /// The walking distance.
    pub metres: Metres,
}

/// A `board`.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct BoardDraft {
    /// Unique among boards, points and declared kinds.
    pub id: String,
    /// A location.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub location: Option<String>,
    /// True where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub main_switch: Option<bool>,
    /// False where not given; true on exactly one board.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub origin: Option<bool>,
    /// Ways behind one residual-current device each.
    #[serde(rename = "group", skip_serializing_if = "Vec::is_empty", default)]
    pub groups: Vec<GroupDraft>,
    /// The ways.
    #[serde(rename = "way", skip_serializing_if = "Vec::is_empty", default)]
    pub ways: Vec<WayDraft>,
}

/// A `board.group`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct GroupDraft {
    /// Unique on its board.
    pub id: String,
    /// The device; there is only one sort.
    pub device: GroupDevice,
    /// True where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub electronic: Option<bool>,
}

/// A `board.way`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct WayDraft {
    /// Unique on its board.
    pub id: String,
    /// The device.
    pub device: DeviceDraft,
    /// Rated current in ampere.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rating: Option<f64>,
    /// The line conductors that it carries; the installation's first line where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub poles: Option<Vec<String>>,
    /// A group of this board.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub group: Option<String>,
    /// True where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub neutral: Option<bool>,
    /// Only on an rcbo; true where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub switches_neutral: Option<bool>,
    /// Only on an rcbo; false where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub functional_earth: Option<bool>,
}

impl WayDraft {
    /// A way with everything else as it is where not given.
    pub fn new(id: impl Into<String>, device: DeviceDraft) -> Self {
        WayDraft {
            id: id.into(),
            device,
            rating: None,
            poles: None,
            group: None,
            neutral: None,
            switches_neutral: None,
            functional_earth: None,
        }
    }
}

/// A `circuit`.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct CircuitDraft {
    /// Unique among circuits.
    pub id: String,
    /// The name for people.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// `BOARD/WAY`; may be left out only in an extra-low-voltage system.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub way: Option<String>,
    /// The installation's where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub nominal_voltage: Option<Volts>,
    /// Low voltage where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub system: Option<System>,
    /// Why it may be tested at the lower voltage of a ruleset's relief.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub relief: Option<ReliefDraft>,
    /// What the cables of its run measure in mm², for their free text alone.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mm2: Option<f64>,
    /// What the lights of its run are lit by; a filament lamp where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lamp: Option<Lamp>,
    /// The point that feeds its run, a transformer, where no way does.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub source: Option<String>,
    /// Whether the cables of its run have a protective conductor: yes where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub earth: Option<bool>,
    /// Its boxes in the order in which the feed goes through them; they become points and lengths when the draft is
    /// built.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub run: Vec<StepDraft>,
}

/// A circuit's `relief`: a table, or a text, which is its `because`.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(from = "WrittenRelief")]
pub struct ReliefDraft {
    /// Why equipment in it can't be disconnected.
    pub because: String,
    /// The points that are left in; they are not removable.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub leaves: Vec<String>,
}

#[derive(Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(untagged, deny_unknown_fields)]
enum WrittenRelief {
    Because(String),
    Table {
        because: String,
        #[serde(default)]
        leaves: Vec<String>,
    },
}

impl From<WrittenRelief> for ReliefDraft {
    fn from(written: WrittenRelief) -> ReliefDraft {
        match written {
            WrittenRelief::Because(because) => ReliefDraft { because, leaves: Vec::new() },
            WrittenRelief::Table { because, leaves } => ReliefDraft { because, leaves },
        }
    }
}

/// A `point`.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct PointDraft {
    /// Unique among boards, points and declared kinds.
    pub id: String,
    /// The name for people.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// A built-in kind or a declared one.
    pub kind: String,
    /// A circuit; the one that the wiring leads to where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub circuit: Option<String>,
    /// A location.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub location: Option<String>,
    /// The plate that it is on; any text, the same for all on one plate.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub plate: Option<String>,
    /// Terminals beyond the kind's own.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub terminals: Vec<String>,
    /// Groups of terminals joined for good.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub links: Vec<Vec<String>>,
    /// Only on a luminaire; a filament lamp where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lamp: Option<Lamp>,
    /// Only on an appliance; resistive where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub load: Option<Load>,
    /// Only on a contactor; false where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub manual: Option<bool>,
    /// Whether its bridges come out; the kind's own where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub removable: Option<bool>,
    /// Whether it is never taken off, not even for what no reading at a way tests; false where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fixed: Option<bool>,
    /// Whether it is worked by hand; the kind's own where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub operable: Option<bool>,
    /// Whether it can be seen in which position it stands; the kind's own where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub visible: Option<bool>,
    /// The position that it is found in, or `unknown`; where not given the kind's first, or `unknown` where it can't be
    /// seen.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stands: Option<String>,
}

/// A `length`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct LengthDraft {
    /// Unique among lengths.
    pub id: String,
    /// A circuit; the one that the wiring leads to where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub circuit: Option<String>,
    /// A way `BOARD/WAY`, a board's incoming side `BOARD.in`, or a point.
    pub from: String,
    /// The other end.
    pub to: String,
    /// Free text for people.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cable: Option<String>,
    /// How long it is.
    pub metres: Metres,
    /// By core name: the terminal at `from` and the one at `to`; `-` is an end that is connected to nothing.
    pub cores: IndexMap<String, [String; 2]>,
}

/// A `kind` that the file declares.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct KindDraft {
    /// Unique among boards, points and declared kinds; no built-in kind's name.
    pub id: String,
    /// Its terminals; `E` is added where it is not among them.
    pub terminals: Vec<String>,
    /// Its positions, the ready one first.
    #[serde(default)]
    pub positions: Vec<PositionDraft>,
    /// What in it is not plain copper.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub bridges: Vec<BridgeDraft>,
    /// Whether its bridges come out, all together; true where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub removable: Option<bool>,
    /// Whether it can be seen in which position it stands; true where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub visible: Option<bool>,
}

/// A position of a declared kind.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct PositionDraft {
    /// Unique in its kind.
    pub name: String,
    /// Groups of terminals that it joins.
    #[serde(default)]
    pub joins: Vec<Vec<String>>,
}

/// A bridge of a declared kind.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct BridgeDraft {
    /// Two terminals.
    pub between: [String; 2],
    /// Whether it conducts for sure while fitted.
    pub conducts: Conducts,
    /// Whether what it joins is one conductor in service, switched by electronics; false where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub passes: Option<bool>,
    /// Whether it is a load in service: a lamp, an element, a coil; where not given, whether it does not pass.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub load: Option<bool>,
}
