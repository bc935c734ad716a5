//! The plan as data: what `plan --json` prints, and what texts and pages render.

use std::borrow::Cow;

use serde::{Deserialize, Serialize};

use crate::model::{Metres, Volts};
use crate::plan::problem::switches::WhyUnworked;
use crate::plan::proof::certificate::{WhyNoFewerOperations, WhyNoFewerWalks};
use crate::plan::request::{ExtraKind, People};
use crate::plan::untestable::why::Untestable;

/// What is still to be done: rounds of operations and readings, with bounds, proofs, extras and what can't be tested.
///
/// Things carry their names of the installation; a pair is [length, core, core].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[must_use]
#[non_exhaustive]
pub struct Plan {
    /// The format of the data: 1.
    pub format: u32,
    /// The rounds, in order. A walk is a round with operations.
    pub rounds: Vec<Round>,
    /// What the rounds come to.
    pub totals: Totals,
    /// Proven lower bounds of that.
    pub bounds: Bounds,
    /// What of it is proven to be the least.
    pub optimal: Optimal,
    /// How the bound on walks is known.
    pub why_no_fewer_walks: WhyNoFewerWalks,
    /// How the bound on operations is known.
    pub why_no_fewer_operations: WhyNoFewerOperations,
    /// Required pairs, not yet tested, that no setting tests by the readings of a plan.
    pub untestable: Vec<UntestablePair>,
    /// Required pairs that are neither tested by this plan nor shown to be untestable: too many devices bear on them.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub not_planned: Vec<[String; 3]>,
    /// Cores that are connected at both ends but have no role, so that no test of them is asked for: [length, core].
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub without_role: Vec<[String; 2]>,
    /// Where each switch is to be worked: those that are not operated, and positions that do not come under test.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub switches: Option<Vec<Unworked>>,
    /// What the plan would come to if the switches that nobody knows the position of were known to have stood in their
    /// first positions: what not knowing costs. None where all are known, or the search was stopped.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub if_known: Option<IfKnown>,
    /// The extras for pairs that no reading at a way tests, where a kind of them is allowed.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub extras: Option<Extras>,
    /// The search was stopped before its end, and this is the best plan found so far.
    #[serde(skip_serializing_if = "std::ops::Not::not", default)]
    pub stopped: bool,
    /// Where leads may be joined otherwise: how many readings there would be if they were joined as usual.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub usual_readings: Option<usize>,
    /// How many do the work. For two, what a walk is does not count: see [`People::Two`].
    #[serde(skip_serializing_if = "is_one", default)]
    pub people: People,
    /// What as many people as the plan is not for would need, where somebody asked ([`Plan::with_others`]).
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub others: Option<OtherPeople>,
    /// About how long the work takes, where somebody asked ([`Estimate::of`]). It is no part of how the plan was chosen.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub estimate: Option<Estimate>,
}

/// Whether one person does the work.
fn is_one(people: &People) -> bool {
    *people == People::One
}

/// What a plan for one person, or for two, comes to: to compare with one for two, or for one.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct OtherPeople {
    /// How many they are.
    pub people: People,
    /// What their plan comes to.
    pub totals: Totals,
    /// What of that is proven to be the least.
    pub optimal: Optimal,
    /// How far they walk in the rounds; none where the passages do not tell.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub metres: Option<Metres>,
}

/// How long things take a person. Each is to be set by who knows better; the defaults are common practice, from memory.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Pace {
    /// Metres walked in a minute, stairs and doors included; above 0.
    pub metres_a_minute: f64,
    /// Seconds for a reading: leads moved, the value read and written down, the circuit discharged.
    pub reading_seconds: f64,
    /// Seconds to operate a switch.
    pub operation_seconds: f64,
    /// Seconds to take out a lamp, or disconnect a load, and to put it back.
    pub out_seconds: f64,
}

impl Default for Pace {
    fn default() -> Pace {
        Pace { metres_a_minute: 40.0, reading_seconds: 60.0, operation_seconds: 10.0, out_seconds: 180.0 }
    }
}

/// About how long the work of a plan takes. It is compared with nothing: plans are chosen by what they count.
///
/// Isolating, proving dead, other tests and what is looked for after a low value are not in it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Estimate {
    /// What it was worked out with.
    pub pace: Pace,
    /// Minutes for all, each part rounded up.
    pub minutes: u64,
    /// Minutes to take everything out and put it back, with two walks through the rooms.
    pub out_minutes: u64,
    /// Minutes for each round.
    pub round_minutes: Vec<u64>,
    /// Minutes for the extras, without the way to them.
    pub extra_minutes: u64,
    /// The passages of the file do not tell how far it is everywhere: some walks are left out.
    pub walks_left_out: bool,
}

/// One setting of the switches and the readings taken in it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Round {
    /// What to operate first, stop by stop; nothing in a round taken as things stand.
    pub operations: Vec<Operation>,
    /// The readings to take: at ways, then at sources, stop by stop; none in a last round that puts everything back as
    /// it was found.
    pub readings: Vec<PlannedReading>,
    /// For two people: how far it is past the operations from where the round before ended, the first from the board.
    /// Else how far it is past all stops, from the board whose ways are read (the origin, where it is more than one) and
    /// back: first those where something is operated, then those where something is read; none where there are no
    /// stops, or the passages do not tell.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub walk: Option<WalkLength>,
    /// Where leads may be joined otherwise: whether it is proven that no fewer readings at the ways do, in this
    /// setting, what this round adds.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub fewest_readings: Option<bool>,
}

/// How far a walk is, from the board past all stops and back.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct WalkLength {
    /// In the order of the round's operations, then of its readings.
    pub metres: Metres,
    /// No order of the stops is shorter than this, proven; none where that is not known.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub at_least: Option<Metres>,
    /// Whether no order of the stops is shorter, proven: up to 12 locations besides the board's
    /// ([`PlanLimits::exact_stops`](crate::plan::PlanLimits::exact_stops)). Of more it is a good order.
    pub shortest: bool,
}

/// One operation: one device taken from one position to another, however many steps apart they are.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Operation {
    /// The point whose switch is worked.
    pub device: String,
    /// The position it leaves, or [`SwitchPosition::Unknown`].
    pub from: SwitchPosition,
    /// The position it goes to; [`SwitchPosition::Other`] of two, or [`SwitchPosition::Next`], where nobody
    /// knows in which it stood.
    pub to: SwitchPosition,
    /// The stop at which it is worked, as [`Stop::name`](crate::model::Stop::name) says it.
    pub stop: String,
}

/// How a switch stands, or is put. Its data is one word.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(from = "String", into = "String")]
#[non_exhaustive]
pub enum SwitchPosition {
    /// In the position of this name.
    At(String),
    /// Nobody knows how: `unknown`.
    Unknown,
    /// As the plan found it, where nobody knows how that is: `as-found`.
    AsFound,
    /// In the other of two positions than it was in: `other`.
    Other,
    /// So many positions on from where it was, of three or more of which nobody can see one from another: `next`,
    /// `next-2`.
    Next(u16),
}

/// One reading.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct PlannedReading {
    /// The circuit at whose way it is taken, or at whose source.
    pub circuit: String,
    /// The source, of a circuit without a way: the instrument is taken there.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub at: Option<String>,
    /// The stop that this makes of its round, as [`Stop::name`](crate::model::Stop::name) says it.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub stop: Option<String>,
    /// What each lead touches: conductors of the way joined by `+`, or full names of terminals.
    pub between: [String; 2],
    /// The test voltage, d.c.
    pub volts: Option<Volts>,
    /// The required pairs that it completes.
    pub adds: Vec<[String; 3]>,
    /// Where each switch is to be worked: the positions, [device, position], that it completes, so that they are under
    /// test.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub positions: Vec<[String; 2]>,
    /// Where it completes nothing: the required pairs that it tests if switches that nobody knows the position of stood
    /// in some of theirs, and that others complete.
    #[serde(rename = "for", skip_serializing_if = "Vec::is_empty", default)]
    pub part_of: Vec<[String; 3]>,
}

/// What a plan comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Totals {
    /// Rounds with at least one operation.
    pub walks: usize,
    /// Operations of all rounds.
    pub operations: usize,
    /// Stops visited, counted anew in each round; for two people, anew where one comes to it from another.
    pub stops: usize,
    /// Readings of all rounds.
    pub readings: usize,
}

/// Proven lower bounds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Bounds {
    /// No plan has fewer walks.
    pub walks: usize,
    /// No plan of as many walks has fewer operations; for two people, no plan at all.
    pub operations: usize,
    /// No plan of as many walks has fewer stops; for two people, no plan of as few operations.
    pub stops: usize,
}

/// What is proven to be the least, each among plans of as few of what comes before it: walks, operations, stops,
/// metres; stops before operations where they come first. For two people: operations, metres, stops; and walks by
/// themselves.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Optimal {
    /// The walks.
    pub walks: bool,
    /// The operations.
    pub operations: bool,
    /// The stops.
    pub stops: bool,
    /// The metres walked, among plans of as few walks, operations and stops; none where no passages are given.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub metres: Option<bool>,
    /// The readings at the ways of one board and one test voltage each, among plans of as few walks; none where leads
    /// are joined as usual. Proven only where nothing is operated: in other settings fewer might do.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub readings: Option<bool>,
}

/// A plan for known positions, to compare with one that holds whichever they were.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct IfKnown {
    /// The switches that are taken to have stood in their first positions.
    pub points: Vec<String>,
    /// What the plan would come to.
    pub totals: Totals,
    /// What of that is proven to be the least.
    pub optimal: Optimal,
    /// How many required pairs could not be tested then.
    pub untestable: usize,
}

/// A required pair that no setting tests by the readings of a plan.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct UntestablePair {
    /// The length.
    pub length: String,
    /// Its cores.
    pub cores: [String; 2],
    /// The first reason that holds.
    pub why: Untestable,
    /// Of an unknown position: the devices that must be known for it, none of which can be left out.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub devices: Vec<String>,
    /// What the request keeps from being used (`location:L` locked, `point:ID` left alone, `restore`) without which,
    /// taken together, it could be tested: found by trying. None, and no remedy, where an extra is for it.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub opens_with: Vec<String>,
    /// What would change that, found by trying it.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub remedy: Option<Remedy>,
}

/// A change after which some reading tests a pair, and how devices must stand for it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Remedy {
    /// What to do.
    #[serde(flatten)]
    pub step: RemedyStep,
    /// The leads of the reading that tests the pair then.
    pub between: [String; 2],
    /// The test voltage, d.c., for the circuit of the pair's length.
    pub volts: Option<Volts>,
    /// How devices must stand for it, as [device, position]; those only on which it depends.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub with: Vec<[String; 2]>,
}

/// What makes a pair testable.
#[derive(Clone, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(tag = "do", rename_all = "kebab-case")]
#[non_exhaustive]
pub enum RemedyStep {
    /// Leave a lamp, load or coil in that would otherwise be out.
    LeaveFitted {
        /// Its holder.
        bridge: String,
    },
    /// Take the instrument to a point and touch its terminals.
    TakeInstrumentTo {
        /// The point.
        point: String,
    },
    /// Take the link out that stands in the place of what is out at a point.
    TakeLinkOut {
        /// The point.
        point: String,
    },
    /// Put a temporary link between two terminals of a point, and take it out again afterwards.
    Link {
        /// The point.
        point: String,
        /// The terminals to link.
        terminals: [String; 2],
    },
    /// Find out at the terminals of a switch that nobody knows the position of how it stands.
    FindOut {
        /// The point.
        point: String,
    },
    /// Take an accessory off: its cores stay in connectors, terminal by terminal.
    TakeOff {
        /// The point.
        point: String,
    },
    /// Two at once: two links, a link and a lamp, an accessory off and the instrument elsewhere, or two off.
    Together {
        /// The two.
        together: Vec<RemedyStep>,
    },
}

/// What a plan does beside operating switches and reading at ways.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Extras {
    /// The kinds that may be used.
    pub allowed: Vec<ExtraKind>,
    /// What they come to.
    pub totals: ExtraTotals,
    /// No fewer extras do, proven.
    pub at_least: usize,
    /// Whether those used are proven to be the fewest of the kinds allowed that do for all pairs which can have one, and
    /// two for those which need two.
    pub optimal: bool,
    /// In the order in which they are done.
    pub used: Vec<Extra>,
    /// Where everything is to be left as it was found: what the rounds of extras moved is put back by this.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub put_back: Vec<Operation>,
    /// The pairs that can't be tested: untestable, and no extra tests them, nor two together.
    pub left: Vec<[String; 3]>,
}

/// What all extras come to; the totals of the plan do not hold it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct ExtraTotals {
    /// Extras used.
    pub extras: usize,
    /// Their rounds, one that puts everything back included.
    pub rounds: usize,
    /// Their operations, those that put everything back included.
    pub operations: usize,
    /// Their readings.
    pub readings: usize,
}

/// One extra: what to do, which pairs it is for, and what is done while it is in place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Extra {
    /// What to do; it is undone again after its last round.
    #[serde(flatten)]
    pub step: RemedyStep,
    /// The pairs that it is used for, each with why no reading of the plan itself can test it.
    #[serde(rename = "for")]
    pub reasons: Vec<UntestablePair>,
    /// What is done while it is in place, from how the plan and the extras before left the switches. Their readings
    /// complete all its pairs. Not proven to be the fewest rounds or operations.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub rounds: Vec<Round>,
    /// Where it is found out how a switch stands: what is done if it is found in each of its positions. Each ends with
    /// the switches as it found them.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub found: Vec<FoundPosition>,
}

/// What is done if a switch is found in a position.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct FoundPosition {
    /// The position.
    pub position: String,
    /// What is done then; a last round without readings puts back what the others moved.
    pub rounds: Vec<Round>,
}

/// A switch that is not operated, or a position of it that does not come under test.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Unworked {
    /// The point of the switch.
    pub device: String,
    /// The position; none where it is not operated at all.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub position: Option<String>,
    /// Why.
    pub why: WhyUnworked,
}

impl Plan {
    /// Rounds with at least one operation.
    pub fn walks(&self) -> usize {
        self.totals.walks
    }

    /// Operations of all rounds.
    pub fn operations(&self) -> usize {
        self.totals.operations
    }

    /// Stops visited, counted anew in each round.
    pub fn stops(&self) -> usize {
        self.totals.stops
    }

    /// Readings of all rounds.
    pub fn readings(&self) -> usize {
        self.totals.readings
    }

    /// How far it is in all rounds; none where the passages do not tell.
    #[must_use]
    pub fn metres(&self) -> Option<Metres> {
        let walked = |round: &&Round| round.stops() > 0 && (self.people == People::One || !round.operations.is_empty());
        let rounds = self.rounds.iter().filter(walked);
        let metres = rounds.map(|round| round.walk.map(|walk| walk.metres.0)).sum::<Option<f64>>();
        metres.map(Metres)
    }

    /// Whether the plan with its extras leaves no needed pair untested.
    pub fn is_complete(&self) -> bool {
        let left = self.extras.as_ref().map_or(self.untestable.len(), |extras| extras.left.len());
        left == 0 && self.not_planned.is_empty()
    }
}

impl Round {
    /// The stops visited, to operate something or to read at a source.
    pub fn stops(&self) -> usize {
        let worked = self.operations.iter().map(|operation| operation.stop.as_str());
        let mut stops: Vec<&str> = worked.chain(self.readings.iter().filter_map(|row| row.stop.as_deref())).collect();
        stops.sort_unstable();
        stops.dedup();
        stops.len()
    }
}

impl Totals {
    pub(in crate::plan) fn of(rounds: &[Round], people: People) -> Totals {
        let stops = match people {
            People::One => rounds.iter().map(Round::stops).sum(),
            People::Two => {
                let operations = rounds.iter().flat_map(|round| &round.operations);
                let mut stops: Vec<&str> = operations.map(|operation| operation.stop.as_str()).collect();
                stops.dedup();
                stops.len()
            }
        };
        Totals {
            walks: rounds.iter().filter(|round| !round.operations.is_empty()).count(),
            operations: rounds.iter().map(|round| round.operations.len()).sum(),
            stops,
            readings: rounds.iter().map(|round| round.readings.len()).sum(),
        }
    }
}

impl RemedyStep {
    /// What is done: this alone, or both that are done at once.
    pub fn parts(&self) -> &[RemedyStep] {
        match self {
            RemedyStep::Together { together } => together,
            _ => std::slice::from_ref(self),
        }
    }
}

impl ExtraTotals {
    /// Of what is found out the most counts, whatever is found.
    pub(in crate::plan) fn of(used: &[Extra], put_back: &[Operation]) -> ExtraTotals {
        let most = |count: fn(&[Round]) -> usize| -> usize {
            let of_extra = |extra: &Extra| {
                let found = extra.found.iter().map(|found| count(&found.rounds)).max();
                count(&extra.rounds) + found.unwrap_or(0)
            };
            used.iter().map(of_extra).sum()
        };
        ExtraTotals {
            extras: used.iter().map(|extra| extra.step.parts().len()).sum(),
            rounds: most(<[Round]>::len) + usize::from(!put_back.is_empty()),
            operations: most(|rounds| rounds.iter().map(|round| round.operations.len()).sum()) + put_back.len(),
            readings: most(|rounds| rounds.iter().map(|round| round.readings.len()).sum()),
        }
    }
}

impl UntestablePair {
    pub(in crate::plan) fn new([length, a, b]: [String; 3], why: Untestable) -> UntestablePair {
        UntestablePair { length, cores: [a, b], why, devices: Vec::new(), opens_with: Vec::new(), remedy: None }
    }

    /// The pair, as [length, core, core].
    pub fn pair(&self) -> [&str; 3] {
        [&self.length, &self.cores[0], &self.cores[1]]
    }
}

impl SwitchPosition {
    /// The position's name, `unknown`, `as-found`, `other`, `next` or `next-2`.
    pub fn name(&self) -> Cow<'_, str> {
        match self {
            SwitchPosition::At(name) => name.into(),
            SwitchPosition::Unknown => "unknown".into(),
            SwitchPosition::AsFound => "as-found".into(),
            SwitchPosition::Other => "other".into(),
            SwitchPosition::Next(1) => "next".into(),
            SwitchPosition::Next(steps) => format!("next-{steps}").into(),
        }
    }
}

impl From<SwitchPosition> for String {
    fn from(position: SwitchPosition) -> String {
        position.name().into_owned()
    }
}

impl From<String> for SwitchPosition {
    fn from(name: String) -> SwitchPosition {
        match name.as_str() {
            "unknown" => SwitchPosition::Unknown,
            "as-found" => SwitchPosition::AsFound,
            "other" => SwitchPosition::Other,
            "next" => SwitchPosition::Next(1),
            // No position has a hyphen in its name.
            _ => match name.strip_prefix("next-").and_then(|steps| steps.parse().ok()) {
                Some(steps) => SwitchPosition::Next(steps),
                None => SwitchPosition::At(name),
            },
        }
    }
}
