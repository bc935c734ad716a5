//! A plan as data for other programs: what `plan --json` prints.

use serde::{Deserialize, Serialize};

use crate::model::{Metres, Volts};
use crate::network::PairId;
use crate::plan::planner::{Operation, Plan, PlannedReading, Round};
use crate::plan::problem::requirement::Untestable;
use crate::plan::problem::switches::{Unworked, WhyUnworked};
use crate::plan::proof::report::{OperationsProofReport, ProofReport};
use crate::plan::request::ExtraKind;
use crate::plan::untestable::extra::{Extra, Extras};
use crate::plan::untestable::remedy::{Remedy, RemedyStep};

/// A plan as data.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct PlanReport {
    pub format: u32,
    pub rounds: Vec<RoundReport>,
    pub totals: TotalsReport,
    pub bounds: BoundsReport,
    pub optimal: OptimalReport,
    pub why_no_fewer_walks: ProofReport,
    pub why_no_fewer_operations: OperationsProofReport,
    pub untestable: Vec<UntestableReport>,
    /// Required pairs that are neither planned for nor shown to be untestable, since too many devices bear on them.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub not_planned: Vec<[String; 3]>,
    /// Where each switch is to be worked: what can't be had of that.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub switches: Option<Vec<UnworkedReport>>,
    /// What the plan would come to if the switches that nobody knows the position of stood in their first positions.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub if_known: Option<IfKnownReport>,
    /// The extras for pairs that can't be tested otherwise, where a sort is allowed.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub extras: Option<ExtrasReport>,
    /// The search was stopped before its end, and this is the best plan found so far.
    #[serde(skip_serializing_if = "std::ops::Not::not", default)]
    pub stopped: bool,
}

/// A plan for known positions, to compare with.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct IfKnownReport {
    /// The switches that are taken to have stood in their first positions.
    pub points: Vec<String>,
    pub totals: TotalsReport,
    pub optimal: OptimalReport,
    /// How many required pairs could not be tested then.
    pub untestable: usize,
}

/// One round.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct RoundReport {
    pub operations: Vec<OperationReport>,
    pub readings: Vec<PlannedReadingReport>,
    /// How far the walk is, where passages tell.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub walk: Option<WalkReport>,
    /// Where leads may be joined otherwise: whether no fewer readings do what this round adds, proven.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub fewest_readings: Option<bool>,
}

/// How far a walk is, from the board past all stops and back.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct WalkReport {
    pub metres: Metres,
    /// No order of its stops is shorter than this, proven; none where that is not known.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub at_least: Option<Metres>,
    /// Whether no order of its stops is shorter.
    pub shortest: bool,
}

/// One operation; `unknown` to `other` where nobody knows how a two-position device stands.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct OperationReport {
    pub device: String,
    pub from: String,
    pub to: String,
    /// The stop at which it is worked.
    pub stop: String,
}

/// One reading with the required pairs that it completes, as [length, core, core].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct PlannedReadingReport {
    pub circuit: String,
    pub between: [String; 2],
    pub volts: Volts,
    pub adds: Vec<[String; 3]>,
    /// Where each switch is to be worked: the positions, [device, position], that it completes.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub positions: Vec<[String; 2]>,
}

/// The totals of a plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct TotalsReport {
    pub walks: usize,
    pub operations: usize,
    pub stops: usize,
    pub readings: usize,
}

/// Proven lower bounds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct BoundsReport {
    pub walks: usize,
    pub operations: usize,
    pub stops: usize,
}

/// What is proven to be the least: operations among plans of as few walks, stops among those of as few operations; the
/// other way round where stops come first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct OptimalReport {
    pub walks: bool,
    pub operations: bool,
    pub stops: bool,
    /// Among plans of as few walks, operations and stops; none where no passages are given.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub metres: Option<bool>,
    /// Among plans of as few walks; none where leads are joined as usual.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub readings: Option<bool>,
}

/// A pair that no setting tests.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct UntestableReport {
    pub length: String,
    pub cores: [String; 2],
    pub why: Untestable,
    /// The locked rooms and the switches left alone, `location:L` and `point:ID`, without which it could be tested.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub opens_with: Vec<String>,
    /// What would change that, found by trying it.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub remedy: Option<Remedy>,
}

/// What a plan does beside operating switches and reading at ways.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct ExtrasReport {
    pub allowed: Vec<ExtraKind>,
    pub totals: ExtraTotalsReport,
    /// No fewer extras do, proven.
    pub at_least: usize,
    /// Whether the number of extras is proven to be the least.
    pub optimal: bool,
    pub used: Vec<ExtraReport>,
    /// What puts the switches back that the rounds of extras moved, where everything is to be left as it was found.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub put_back: Vec<OperationReport>,
    /// Untestable pairs, [length, core, core], that no single extra tried makes testable.
    pub left: Vec<[String; 3]>,
}

/// The totals of the extras; those of the plan do not hold them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct ExtraTotalsReport {
    pub extras: usize,
    pub rounds: usize,
    pub operations: usize,
    pub readings: usize,
}

/// One extra: what to do, which pairs it is for, and what is done while it is in place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct ExtraReport {
    #[serde(flatten)]
    pub step: RemedyStep,
    #[serde(rename = "for")]
    pub reasons: Vec<ReasonReport>,
    pub rounds: Vec<RoundReport>,
}

/// A pair that an extra is used for, and why no reading of the plan itself tests it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct ReasonReport {
    pub length: String,
    pub cores: [String; 2],
    pub why: Untestable,
}

/// A switch that is not operated, or a position of it that does not come under test.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct UnworkedReport {
    pub device: String,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub position: Option<String>,
    pub why: WhyUnworked,
}

impl Plan<'_> {
    pub(in crate::plan) fn pair_names(&self, pair: PairId) -> [String; 3] {
        let length = self.network.installation().length(self.network.pair_length(pair)).id().to_owned();
        let [a, b] = self.network.pair_core_names(pair).map(str::to_owned);
        [length, a, b]
    }

    /// The totals.
    pub fn totals(&self) -> TotalsReport {
        TotalsReport {
            walks: self.walks(),
            operations: self.operations(),
            stops: self.stops(),
            readings: self.readings(),
        }
    }

    /// Proven lower bounds.
    pub fn bounds(&self) -> BoundsReport {
        BoundsReport { walks: self.walks_at_least, operations: self.operations_at_least, stops: self.stops_at_least }
    }

    /// What is proven to be the least.
    pub fn optimal(&self) -> OptimalReport {
        OptimalReport {
            walks: self.walks_optimal,
            operations: self.operations_optimal,
            stops: self.stops_optimal,
            metres: self.metres_optimal,
            readings: self.are_readings_fewest(),
        }
    }

    fn operation_report(&self, operation: &Operation) -> OperationReport {
        let installation = self.network.installation();
        OperationReport {
            device: installation.point(operation.point).id().to_owned(),
            from: operation.from.clone().unwrap_or_else(|| "unknown".to_owned()),
            to: operation.to.clone().unwrap_or_else(|| "other".to_owned()),
            stop: operation.stop.name(installation),
        }
    }

    fn reading_report(&self, planned: &PlannedReading) -> PlannedReadingReport {
        let installation = self.network.installation();
        let positions = planned.positions.iter();
        PlannedReadingReport {
            circuit: installation.circuit(planned.circuit).id().to_owned(),
            between: planned.reading.leads().clone().map(|lead| lead.text().to_owned()),
            volts: planned.volts,
            adds: planned.adds.iter().map(|&pair| self.pair_names(pair)).collect(),
            positions: positions
                .map(|(point, position)| [installation.point(*point).id().to_owned(), position.clone()])
                .collect(),
        }
    }

    fn round_report(&self, round: &Round) -> RoundReport {
        RoundReport {
            operations: round.operations.iter().map(|operation| self.operation_report(operation)).collect(),
            readings: round.readings.iter().map(|planned| self.reading_report(planned)).collect(),
            walk: round.tour.map(|tour| WalkReport {
                metres: tour.metres,
                at_least: tour.is_shortest.then_some(tour.metres),
                shortest: tour.is_shortest,
            }),
            fewest_readings: round.fewest_readings,
        }
    }

    fn extras_report(&self, extras: &Extras) -> ExtrasReport {
        let extra_report = |extra: &Extra| ExtraReport {
            step: extra.step.clone(),
            reasons: extra
                .reasons
                .iter()
                .map(|row| {
                    let [length, a, b] = self.pair_names(row.pair);
                    ReasonReport { length, cores: [a, b], why: row.why }
                })
                .collect(),
            rounds: extra.rounds.iter().map(|round| self.round_report(round)).collect(),
        };
        ExtrasReport {
            allowed: self.request.allow.iter().copied().collect(),
            totals: ExtraTotalsReport {
                extras: extras.used.len(),
                rounds: extras.rounds(),
                operations: extras.operations(),
                readings: extras.readings(),
            },
            at_least: extras.at_least,
            optimal: extras.is_least,
            used: extras.used.iter().map(extra_report).collect(),
            put_back: extras.put_back.iter().map(|operation| self.operation_report(operation)).collect(),
            left: extras.left.iter().map(|&pair| self.pair_names(pair)).collect(),
        }
    }

    /// The plan as data. Time and space linear in it, plus what trying remedies takes.
    pub fn report(&self) -> PlanReport {
        let installation = self.network.installation();
        let names = |pairs: &[PairId]| pairs.iter().map(|&pair| self.pair_names(pair)).collect::<Vec<_>>();
        let rounds = self.rounds.iter().map(|round| self.round_report(round)).collect();
        PlanReport {
            format: 1,
            rounds,
            totals: self.totals(),
            bounds: self.bounds(),
            optimal: self.optimal(),
            why_no_fewer_walks: self.proof_of_walks(),
            why_no_fewer_operations: self.proof_of_operations(),
            untestable: self
                .remedies()
                .map(|(row, remedy)| {
                    let [length, a, b] = self.pair_names(row.pair);
                    let opens_with = self.opens_with(row).iter().map(|limit| limit.name(installation)).collect();
                    UntestableReport { length, cores: [a, b], why: row.why, opens_with, remedy }
                })
                .collect(),
            not_planned: names(&self.not_planned),
            switches: self.unworked().map(|rows| {
                let row = |row: &Unworked| UnworkedReport {
                    device: installation.point(row.point).id().to_owned(),
                    position: row.position.clone(),
                    why: row.why,
                };
                rows.iter().map(row).collect()
            }),
            if_known: self.if_known.as_ref().map(|known| IfKnownReport {
                points: known.points.iter().map(|&point| installation.point(point).id().to_owned()).collect(),
                totals: known.totals,
                optimal: known.optimal,
                untestable: known.untestable,
            }),
            extras: self.extras().map(|extras| self.extras_report(extras)),
            stopped: self.stopped,
        }
    }
}
