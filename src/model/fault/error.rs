//! What can be wrong with an installation or a test set, as facts.

use std::fmt;

use strum::IntoStaticStr;

use super::names::{NameFault, Named, list};
use super::part::RunPart;
use super::run::RunFault;
use crate::model::{DocumentPath, System};

/// All that is wrong with a draft, in the order in which it was found; never empty.
///
/// Beyond [`InputLimits::errors`](crate::model::InputLimits::errors) the rest are only counted, in a last
/// [`ModelFault::AndMore`]. As text it is a line for each, with its place in the draft.
///
/// # Examples
///
/// ```
/// use lengthwise::InstallationDraft;
/// use lengthwise::model::{ModelFault, Volts};
///
/// let draft = InstallationDraft::new("Pump house", Volts(-230.0));
/// let errors = draft.build().unwrap_err();
/// assert_eq!(errors.to_string(), "\
/// installation.nominal_voltage: `nominal_voltage` is -230, not a finite number above zero
/// no board is the origin");
/// for error in &errors {
///     let ModelFault::NotPositive { quantity, value } = error.fault else { continue };
///     assert_eq!((quantity.key(), value), ("nominal_voltage", -230.0));
///     assert_eq!(error.mend(), "give the nominal voltage in volts, above 0");
/// }
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct ModelErrors {
    pub(in crate::model) errors: Vec<ModelError>,
}

impl ModelErrors {
    /// The errors.
    pub fn errors(&self) -> &[ModelError] {
        &self.errors
    }
}

impl fmt::Display for ModelErrors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (number, ModelError { path, from, fault, .. }) in self.errors.iter().enumerate() {
            let end = if number == 0 { "" } else { "\n" };
            let colon = if path.segments().is_empty() { "" } else { ": " };
            write!(f, "{end}{path}{colon}{fault}")?;
            if let Some(part) = from {
                write!(f, ": {part}")?;
            }
        }
        Ok(())
    }
}

impl std::error::Error for ModelErrors {}

impl IntoIterator for ModelErrors {
    type Item = ModelError;
    type IntoIter = std::vec::IntoIter<ModelError>;

    fn into_iter(self) -> Self::IntoIter {
        self.errors.into_iter()
    }
}

impl<'e> IntoIterator for &'e ModelErrors {
    type Item = &'e ModelError;
    type IntoIter = std::slice::Iter<'e, ModelError>;

    fn into_iter(self) -> Self::IntoIter {
        self.errors.iter()
    }
}

/// One error in a draft: what is wrong, and where.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("{fault}")]
#[non_exhaustive]
pub struct ModelError {
    /// Where in the document.
    pub path: DocumentPath,
    /// The other place that the error is about, where there is one: the first of two that may not be the same.
    pub other: Option<DocumentPath>,
    /// The step or stop of a run that it is in, or in what that came to.
    pub from: Option<Box<RunPart>>,
    /// What is wrong.
    pub fault: ModelFault,
}

impl ModelError {
    /// What to do next.
    pub fn mend(&self) -> String {
        self.fault.mend()
    }
}

/// A quantity that a file gives.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Quantity {
    /// `mm2`.
    CableSize,
    /// `metres`.
    Metres,
    /// `nominal_voltage`.
    NominalVoltage,
    /// `rating`.
    Rating,
    /// `volts`.
    TestVoltage,
}

impl Quantity {
    /// The key that gives it.
    pub fn key(self) -> &'static str {
        match self {
            Quantity::CableSize => "mm2",
            Quantity::Metres => "metres",
            Quantity::NominalVoltage => "nominal_voltage",
            Quantity::Rating => "rating",
            Quantity::TestVoltage => "volts",
        }
    }
}

/// Why a device cannot be operated.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum NotOperable {
    /// The point says `operable = false`.
    Held,
    /// A contactor without `manual = true`.
    ContactorNotManual,
}

/// What is wrong, with the facts of it.
#[derive(Clone, Debug, PartialEq, IntoStaticStr, thiserror::Error)]
#[cfg_attr(test, derive(strum::VariantNames))]
#[strum(serialize_all = "kebab-case")]
#[non_exhaustive]
pub enum ModelFault {
    /// An id or a name with characters or a length that are not allowed.
    #[error("the {what} {name:?} {fault}")]
    BadName {
        /// What it names.
        what: Named,
        /// As written; cut after 80 characters.
        name: String,
        /// What is wrong with it.
        fault: NameFault,
    },
    /// A name that has a meaning of its own.
    #[error("no {what} may be called `{name}`")]
    ReservedName {
        /// What it names.
        what: Named,
        /// The name.
        name: String,
        /// All names that have a meaning of their own there.
        reserved: &'static [&'static str],
    },
    /// Two of a list with the same id.
    #[error("the {what} `{id}` is there twice")]
    DuplicateId {
        /// What the id names.
        what: Named,
        /// The id.
        id: String,
    },
    /// A point, a board or a declared kind with the id of one of another sort.
    #[error("the {what} `{id}` has the id of a {other}")]
    SharedId {
        /// What the id names here.
        what: Named,
        /// What it names elsewhere.
        other: Named,
        /// The id.
        id: String,
    },
    /// A declared kind with a built-in kind's name.
    #[error("`{id}` is a built-in kind")]
    BuiltInKind {
        /// The id.
        id: String,
    },
    /// A name that nothing has.
    #[error("there is no {what} `{name}`")]
    Unknown {
        /// What it should name.
        what: Named,
        /// The name, as written.
        name: String,
        /// The nearest known name.
        nearest: Option<String>,
    },
    /// A circuit's `way` that is not of the form `BOARD/WAY`.
    #[error("`{name}` does not name a way")]
    NotAWay {
        /// As written.
        name: String,
    },
    /// A length's end of a form that no end has.
    #[error("a length cannot end at `{name}`")]
    NotAnEnd {
        /// As written.
        name: String,
        /// Whether it is a board's id.
        is_board: bool,
    },
    /// A low-voltage circuit without a way.
    #[error("this circuit has no `way`")]
    MissingWay {
        /// The circuit.
        circuit: String,
        /// Its system.
        system: System,
    },
    /// A way that feeds two circuits.
    #[error("way `{way}` feeds circuit `{first}` already")]
    WayFeedsTwo {
        /// The way.
        way: String,
        /// The circuit that it feeds already.
        first: String,
        /// The circuit that names it again.
        second: String,
    },
    /// A point or a length that names no circuit, and the wiring leads to none.
    #[error("the {what} `{id}` names no circuit, and its wiring leads to none")]
    NoCircuit {
        /// A point or a length.
        what: Named,
        /// Its id.
        id: String,
    },
    /// A point or a length that names no circuit, and the wiring leads to several.
    #[error(
        "the {what} `{id}` names no circuit, and its wiring leads to {}, which meet at {at} `{at_id}`",
        list(circuits)
    )]
    CircuitsMeet {
        /// A point or a length, the first of those that hang together and name none.
        what: Named,
        /// Its id.
        id: String,
        /// Circuits that it may be of, six at most.
        circuits: Vec<String>,
        /// What lies where two of them meet: a point or a length.
        at: Named,
        /// Its id.
        at_id: String,
    },
    /// No board is at the supply.
    #[error("no board is the origin")]
    NoOrigin {
        /// How many boards there are.
        board_count: usize,
    },
    /// A second board is at the supply.
    #[error("board `{second}` is a second origin beside `{first}`")]
    SecondOrigin {
        /// The first origin.
        first: String,
        /// The other one.
        second: String,
    },
    /// A quantity that is not a finite number above zero.
    #[error("`{key}` is {value}, not a finite number above zero", key = quantity.key())]
    NotPositive {
        /// Which quantity.
        quantity: Quantity,
        /// As given.
        value: f64,
    },
    /// A reading of nothing or less, or of no number.
    #[error("an insulation resistance cannot be {value} MΩ")]
    BadResistance {
        /// As given.
        value: f64,
    },
    /// A passage from a location to itself.
    #[error("the passage leads from `{location}` to itself")]
    PassageToItself {
        /// The location.
        location: String,
    },
    /// A pole that is no line of the installation.
    #[error("`{pole}` is no line conductor of this installation")]
    UnknownPole {
        /// As written.
        pole: String,
        /// The lines.
        lines: Vec<&'static str>,
    },
    /// A list that may not be empty.
    #[error("`{key}` is empty")]
    EmptyList {
        /// The list's key.
        key: &'static str,
    },
    /// A text that may not be empty.
    #[error("`{key}` is empty")]
    EmptyText {
        /// Its key.
        key: &'static str,
    },
    /// The same name twice in a list.
    #[error("{what} `{name}` is there twice")]
    Repeated {
        /// What it names.
        what: Named,
        /// The name.
        name: String,
    },
    /// A terminal that a point has of its kind anyway.
    #[error("`{kind}` has a terminal `{terminal}` of its own")]
    OwnTerminal {
        /// The kind.
        kind: String,
        /// The terminal.
        terminal: String,
    },
    /// More of something than can be numbered.
    #[error("`{owner}` has more than {most} {what}s")]
    TooMany {
        /// What there is too much of.
        what: Named,
        /// What has them.
        owner: String,
        /// The most that it may have.
        most: usize,
    },
    /// Errors beyond those that are listed one by one.
    #[error("{count} more errors are not listed")]
    AndMore {
        /// How many.
        count: usize,
    },
    /// A key that only an rcbo has.
    #[error("`{key}` belongs to an rcbo, and the device of way `{way}` is `{device}`")]
    OnlyRcbo {
        /// The key.
        key: &'static str,
        /// The way.
        way: String,
        /// Its device.
        device: &'static str,
    },
    /// A key that only other kinds know.
    #[error("`{key}` says nothing about a `{kind}`")]
    NotForKind {
        /// The key.
        key: &'static str,
        /// The point's kind.
        kind: String,
        /// The kinds that know it.
        kinds: &'static [&'static str],
    },
    /// `operable = true` on a point of a kind without positions.
    #[error("the kind `{kind}` has no positions and cannot be operable")]
    NothingToOperate {
        /// The point's kind.
        kind: String,
    },
    /// `removable = true` on a point of a kind without bridges.
    #[error("the kind `{kind}` holds nothing that could be removable")]
    NothingToRemove {
        /// The point's kind.
        kind: String,
    },
    /// Fewer than two terminals in a link or a join.
    #[error("an entry of `{key}` takes two terminals or more, not {found}")]
    NothingToJoin {
        /// `links` or `joins`.
        key: &'static str,
        /// How many there are.
        found: usize,
    },
    /// A terminal that is not there.
    #[error("`{owner}` has no terminal `{terminal}`")]
    UnknownTerminal {
        /// What sort of thing it was named on.
        of: Named,
        /// What it was named on.
        owner: String,
        /// As written.
        terminal: String,
        /// The nearest terminal that is there.
        nearest: Option<String>,
        /// The terminals that are there; the first dozen of many.
        known: Vec<String>,
    },
    /// A bridge between a terminal and itself.
    #[error("the bridge lies between `{terminal}` and itself")]
    BridgeToItself {
        /// The terminal.
        terminal: String,
    },
    /// `load = true` on a bridge that passes.
    #[error("the bridge passes, so that it is no load")]
    LoadThatPasses,
    /// `operable = true` on a contactor that is not manual.
    #[error("contactor `{point}` is not manual and cannot be operable")]
    ContactorNotManual {
        /// The point.
        point: String,
    },
    /// A position that a device does not have.
    #[error("`{device}` has no position `{position}`")]
    UnknownPosition {
        /// The device.
        device: String,
        /// As written.
        position: String,
        /// The positions that it has.
        known: Vec<String>,
    },
    /// A core from a terminal to the same terminal.
    #[error("core `{core}` of length `{length}` goes from terminal `{terminal}` of `{end}` to itself")]
    CoreToItself {
        /// The length.
        length: String,
        /// The core.
        core: String,
        /// What both ends are at.
        end: String,
        /// The terminal.
        terminal: String,
    },
    /// Something with no positions where a device is wanted.
    #[error("`{name}` has no positions")]
    NoPositions {
        /// Its name.
        name: String,
    },
    /// The main switch of a board that has none.
    #[error("board `{board}` has no main switch")]
    NoMainSwitch {
        /// The board.
        board: String,
    },
    /// A device that cannot be operated.
    #[error("`{device}` cannot be operated")]
    CannotOperate {
        /// The device.
        device: String,
        /// Why.
        why: NotOperable,
    },
    /// Something with no bridge where one is wanted.
    #[error("`{name}` has nothing in it to fit or remove")]
    NoBridge {
        /// Its name.
        name: String,
    },
    /// A bridge that cannot be removed.
    #[error("what is in `{name}` cannot be removed")]
    CannotRemove {
        /// What sort of thing it is in.
        of: Named,
        /// Its name.
        name: String,
    },
    /// Something in the place of which no link can be put.
    #[error("`{name}` has nothing in it that passes, so no link can be put in its place")]
    NothingToLink {
        /// Its name.
        name: String,
    },
    /// A device that cannot be operated, said to start elsewhere than it stands.
    #[error("`{device}` cannot be operated and stands at `{stands}`, not `{position}`")]
    CannotStart {
        /// The device.
        device: String,
        /// As given.
        position: String,
        /// How it stands in the installation.
        stands: String,
        /// Why it cannot be operated.
        why: NotOperable,
    },
    /// Two positions, or fitted and removed, in one start.
    #[error("`{name}` cannot start as `{first}` and as `{second}`")]
    StartTwice {
        /// The device's name.
        name: String,
        /// The first word.
        first: String,
        /// The one that clashes with it.
        second: String,
    },
    /// A start that says nothing.
    #[error("nothing is said of how `{name}` starts")]
    EmptyStart {
        /// The device's name.
        name: String,
    },
    /// A reading with neither or both of `circuit` and `board`.
    #[error("a reading is taken at a circuit or at a board, and this one names {}", if *both { "both" } else { "neither" })]
    ReadingNowhere {
        /// Whether it names both.
        both: bool,
    },
    /// A lead that touches nothing, or an empty part between two `+`.
    #[error("a lead of the reading touches nothing in {lead:?}")]
    EmptyLead {
        /// The lead as written.
        lead: String,
    },
    /// A part of a lead that is nothing at the reading's place.
    #[error("`{token}` is nothing that a lead can touch at `{at}`")]
    UnknownLead {
        /// The part as written.
        token: String,
        /// The way or the board.
        at: String,
        /// What can be touched there by a short name.
        known: Vec<String>,
    },
    /// `N` on a way from which no neutral is wired.
    #[error("way `{way}` has no neutral")]
    NoNeutral {
        /// The way.
        way: String,
    },
    /// A short name on a circuit with several sources of its own.
    #[error("circuit `{circuit}` has several sources with a terminal `{token}`")]
    SeveralSources {
        /// The circuit.
        circuit: String,
        /// The part of the lead.
        token: String,
    },
    /// A short name on a circuit without a way and without a source of its own.
    #[error("circuit `{circuit}` has no way whose `{token}` a lead could touch")]
    CircuitWithoutWay {
        /// The circuit.
        circuit: String,
        /// The part of the lead.
        token: String,
    },
    /// What is wrong with a run.
    #[error(transparent)]
    Run(#[from] RunFault),
}

impl ModelFault {
    /// Whether the fault lies in what is written at its place alone, so that nothing written or lost elsewhere can
    /// have caused it.
    pub(crate) fn is_local(&self) -> bool {
        matches!(
            self,
            ModelFault::BadName { .. }
                | ModelFault::ReservedName { .. }
                | ModelFault::BuiltInKind { .. }
                | ModelFault::NotAWay { .. }
                | ModelFault::NotPositive { .. }
                | ModelFault::BadResistance { .. }
                | ModelFault::PassageToItself { .. }
                | ModelFault::NothingToJoin { .. }
                | ModelFault::BridgeToItself { .. }
                | ModelFault::LoadThatPasses
                | ModelFault::EmptyLead { .. }
                | ModelFault::EmptyText { .. }
        )
    }
}
