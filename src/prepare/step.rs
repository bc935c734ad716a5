//! The steps of a preparation, as data.

use serde::{Deserialize, Serialize};

use crate::model::Volts;
use crate::rules::{Relief, WithEquipment};

/// One step, with what can hurt someone in it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Step {
    /// What is done.
    #[serde(flatten)]
    pub action: Action,
    /// What can hurt someone, or be damaged; none where the cautions at the head say all.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub caution: Option<Caution>,
}

impl From<Action> for Step {
    fn from(action: Action) -> Step {
        Step { action, caution: None }
    }
}

impl Action {
    /// The step, with what can hurt someone in it.
    pub(super) fn with(self, caution: impl Into<Option<Caution>>) -> Step {
        Step { action: self, caution: caution.into() }
    }
}

/// What is done, or left as it is. Things are named as in files.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "do", rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Action {
    /// Switch off and lock off.
    Isolate {
        /// The board.
        board: String,
        /// Where.
        at: IsolateAt,
        /// Why this one.
        why: WhyIsolated,
    },
    /// Switch off and lock off at the source: the file does not say what feeds it.
    IsolateSource {
        /// The point that is the source; none where the file names no source of the circuit either.
        point: Option<String>,
        /// Where it is.
        #[serde(skip_serializing_if = "Option::is_none")]
        location: Option<String>,
    },
    /// What is opened for this circuit is opened for others too, or much can feed it: all that is listed for it under
    /// [`Preparation::opened`](super::Preparation::opened) is isolated and stays off.
    IsolateFor {
        /// What is opened, `plate:P` or `point:ID`.
        opened: String,
    },
    /// Prove it dead.
    ProveDead,
    /// A test that comes first.
    TestBefore {
        /// Which.
        test: TestBefore,
    },
    /// A device stays as it is: off, or released.
    KeepOff {
        /// The device.
        device: String,
        /// Why.
        why: WhyOff,
    },
    /// A lamp, a load or electronics is taken out or disconnected.
    TakeOut(InTheWay),
    /// A lamp, a load or electronics can't be taken out.
    LeaveIn(InTheWay),
    /// Terminals of a point are joined for good in the file: they must be so in fact, or what is behind them is on no
    /// lead.
    Joined {
        /// The point.
        point: String,
        /// The terminals.
        terminals: Vec<String>,
        /// Where it is.
        #[serde(skip_serializing_if = "Option::is_none")]
        location: Option<String>,
    },
    /// A link for the test is put in, in the place of what is out and passes.
    Link {
        /// The point.
        point: String,
        /// The two terminals that it joins.
        terminals: [String; 2],
        /// Where it is.
        #[serde(skip_serializing_if = "Option::is_none")]
        location: Option<String>,
    },
    /// A link that was put in for the test comes out again.
    TakeLinkOut {
        /// The point.
        point: String,
        /// The two terminals that it joins.
        terminals: [String; 2],
        /// Where it is.
        #[serde(skip_serializing_if = "Option::is_none")]
        location: Option<String>,
    },
    /// A switch is on: it stands in the only position that joins anything.
    SwitchOn {
        /// The point.
        point: String,
        /// The position.
        position: String,
        /// Where it is.
        #[serde(skip_serializing_if = "Option::is_none")]
        location: Option<String>,
    },
    /// A switch stands in some position that does not reach all.
    Stands {
        /// The point.
        point: String,
        /// The position; none where nobody knows.
        position: Option<String>,
        /// Where it is.
        #[serde(skip_serializing_if = "Option::is_none")]
        location: Option<String>,
        /// Who operates it, and when.
        operated: Operated,
    },
    /// Where the neutral is touched.
    NeutralAt {
        /// The way's neutral terminal, `DB1/3.N`.
        terminal: String,
        /// The bar that it is joined to for good; none where the way's own device opens the neutral.
        bar: Option<String>,
        /// The circuits with their neutrals on the same copper, this among them, as a number of
        /// [`Preparation::shared_neutrals`](super::Preparation::shared_neutrals): each reading with the neutral on a
        /// lead holds theirs too. None where there is no other.
        shared: Option<usize>,
    },
    /// Covers and accessories are screwed back as far as can be.
    CoversOn,
    /// The leads are proved: joined together, the instrument reads 0.00.
    ProveLeads {
        /// Whether each lead of a joined pair is proved by itself.
        leads: LeadsProved,
    },
    /// A reading.
    Read {
        /// What one lead touches, what the other touches.
        between: [String; 2],
        /// The test voltage, d.c.; none where the ruleset has none.
        volts: Option<Volts>,
        /// What can lie across its leads and stays in: it must not be taken with the switches so that it does.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        not_while_fitted: Vec<String>,
        /// What of that lies across its leads however the switches stand: such a reading is void whatever is done.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        never_cut_off: Vec<String>,
        /// What lies across its leads and stays in, but does not make it void: the circuit's relief leaves it.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        left_in: Vec<String>,
        /// What the ruleset says of a reading with electronics connected, where the circuit declares that and all that
        /// is never cut off or is left in is electronics.
        #[serde(skip_serializing_if = "Option::is_none")]
        relief: Option<Relief>,
    },
    /// It is an extra-low voltage circuit that must be separate from others: that is a test of its own, at the values of
    /// the ruleset's notes, and no reading here does it.
    TestSeparation,
    /// The circuit has no way: the instrument is taken to its source.
    TakeInstrumentTo {
        /// The point.
        point: String,
        /// Where it is.
        #[serde(skip_serializing_if = "Option::is_none")]
        location: Option<String>,
    },
    /// The button is released, and the circuit discharged, before a lead is moved.
    ReleaseAndDischarge,
    /// Equipment is connected again: each circuit, its live conductors joined, is read to earth once more.
    ReadConnected(WithEquipment),
    /// Everything is put back, and proved to work.
    PutBack,
}

/// Where a board is switched off.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum IsolateAt {
    /// At its own main switch.
    MainSwitch,
    /// At its supply: it has no main switch.
    Supply,
    /// At its supply: what is opened is joined to its incoming side, before its main switch.
    BeforeMainSwitch,
}

/// Why a board is isolated.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum WhyIsolated {
    /// The circuit is on it.
    OwnBoard,
    /// It can feed conductors in what is opened or touched for the circuit.
    FeedsWhatIsOpened,
}

/// Who operates a switch, and when.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Operated {
    /// When a plan names it.
    AsPlanned,
    /// The same; it is found open, and has one position that closes anything.
    ClosedAsPlanned,
    /// Nobody: the file says so.
    ByNobody,
}

/// A test that comes before insulation resistance (common practice).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum TestBefore {
    /// Continuity of protective conductors, bonding included.
    ProtectiveContinuity,
    /// Continuity of a ring: lengths of the circuit leave its way and come back to it.
    RingContinuity,
    /// Polarity.
    Polarity,
}

/// Why a device stays off.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum WhyOff {
    /// The reading is taken on the load side of the way.
    ReadOnLoadSide,
    /// Its electronics stay out of the reading as long as the ways behind it are off.
    Electronics,
    /// Everything else on the board stays off the leads.
    RestOfTheBoard,
    /// It is the supply of a board that this circuit feeds: what is behind it stays off the leads.
    BoardBehind,
    /// It can feed conductors in what is opened or touched for the circuit.
    FeedsWhatIsOpened,
    /// It can't be held in by hand: what lies beyond it is reached by no lead at the way.
    NotWorkedByHand,
}

/// Which leads are proved.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum LeadsProved {
    /// The two leads joined together.
    Joined,
    /// Each lead of a joined pair (line and neutral) by itself: one that is broken would be missed.
    EachOfAJoinedPair,
}

/// Something that a test current could pass through, and why it matters to this circuit.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct InTheWay {
    /// The point, or the way whose device it is.
    pub what: String,
    /// Its kind.
    pub kind: String,
    /// The circuit that it belongs to, where that is another one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub of_circuit: Option<String>,
    /// Where it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub location: Option<String>,
    /// Whether it conducts for sure, or may: electronics.
    pub conducts: String,
    /// The terminals that its elements lie between.
    pub between: Vec<[String; 2]>,
    /// The supply conductors at the two ends of each element, in service.
    pub roles: Vec<[Vec<String>; 2]>,
    /// The readings of this circuit that it lies across while the switches let it: it would be read instead of the
    /// insulation, or damaged.
    pub across: Vec<[String; 2]>,
}

/// What can hurt someone, or be damaged, in a step (common practice).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Caution {
    /// Live parts.
    LiveParts,
    /// What is before a switch that is off.
    LiveBefore,
    /// The test voltage reaches other circuits.
    OtherCircuits,
    /// The test voltage reaches what is in the way of it.
    DamagesElectronics,
    /// The same, of what can't be disconnected.
    StaysInTheWay,
    /// The test voltage is dangerous.
    TestVoltage,
    /// Cables stay charged.
    StaysCharged,
    /// An armature that springs back.
    Armature,
}

impl Caution {
    /// The caution in words.
    pub fn text(self) -> &'static str {
        match self {
            Caution::LiveParts => {
                "Live parts kill. Nothing is touched before it is proved dead with a tester that is itself proved before and \
                 after. If a board can't be locked off and proved dead, stop."
            }
            Caution::LiveBefore => {
                "What is before the point of isolation stays live, the incoming side of a main switch too. Keep it covered."
            }
            Caution::OtherCircuits => {
                "On a shared neutral bar the test voltage is on the neutrals of other circuits too: nobody touches them either."
            }
            Caution::DamagesElectronics => {
                "The test voltage may damage electronics: disconnect them by their maker's instructions, before any reading."
            }
            Caution::StaysInTheWay => {
                "The test voltage may damage electronics that can't be disconnected: take no reading across them."
            }
            Caution::TestVoltage => {
                "The test voltage is dangerous. Nobody touches conductors or accessories; everyone in the building knows."
            }
            Caution::StaysCharged => {
                "Long or large cables stay charged: wait until the instrument shows that they are discharged."
            }
            Caution::Armature => "A contactor's armature springs back: never reach in to hold it.",
        }
    }
}
