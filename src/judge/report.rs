//! A judgement as data for other programs: what `judge --json` prints.

use serde::Serialize;

use super::boards::{BoardJudgement, Combined};
use super::column::{Column, Neither};
use super::demand::{Asked, Investigate, NotJudgeable, ReadingVerdict};
use super::judgement::{CircuitJudgement, Figure, Judgement, NotProven, Verdict};
use super::resistance::{Against, Resistance};
use crate::coverage::Missed;
use crate::model::{CircuitId, Metres, ReadingAt, Volts};
use crate::network::{Need, PairClass};

/// A judgement, as data.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[allow(missing_docs)]
pub struct JudgementReport {
    pub format: u32,
    /// The ruleset's id.
    pub ruleset: String,
    pub need: Need,
    pub verdict: Verdict,
    pub readings: Vec<JudgedReadingReport>,
    pub circuits: Vec<CircuitJudgementReport>,
    pub boards: Vec<BoardJudgementReport>,
    /// The required pairs that are not tested by good readings.
    pub missed: Vec<NotProvenReport>,
}

/// One reading.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[allow(missing_docs)]
pub struct JudgedReadingReport {
    pub pass: usize,
    pub reading: usize,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub circuit: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub board: Option<String>,
    pub between: [String; 2],
    pub volts: Option<Volts>,
    /// To the letter, as recorded.
    pub megohms: Option<String>,
    /// Null where it belongs to neither figure; `neither` says why.
    pub column: Option<Column>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub neither: Option<Neither>,
    /// What is asked at the voltage that it was taken at; null where that voltage won't do.
    pub asked: Option<Asked>,
    pub verdict: ReadingVerdictName,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<WhyReading>,
}

/// The verdict on a reading, in one word.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
#[allow(missing_docs)]
pub enum ReadingVerdictName {
    Pass,
    Investigate,
    Fail,
    NotJudgeable,
}

impl ReadingVerdictName {
    fn of(verdict: &ReadingVerdict) -> ReadingVerdictName {
        match verdict {
            ReadingVerdict::Pass => ReadingVerdictName::Pass,
            ReadingVerdict::Investigate(_) => ReadingVerdictName::Investigate,
            ReadingVerdict::Fail => ReadingVerdictName::Fail,
            ReadingVerdict::NotJudgeable(_) => ReadingVerdictName::NotJudgeable,
        }
    }
}

/// Why a reading is to be investigated, or can't be judged.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(untagged)]
#[allow(missing_docs)]
pub enum WhyReading {
    Investigate(Investigate),
    NotJudgeable(NotJudgeable),
}

/// One circuit.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[allow(missing_docs)]
pub struct CircuitJudgementReport {
    pub circuit: String,
    pub verdict: Verdict,
    /// Null where the ruleset has no value; `no_value` says why.
    pub asked: Option<Asked>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub no_value: Option<String>,
    /// What will do too, where something can't be disconnected and the circuit says so.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub relief: Option<Asked>,
    pub metres: Metres,
    pub live_to_live: Option<FigureReport>,
    pub live_to_earth: Option<FigureReport>,
    /// Pairs that must be tested, and those of them that good readings test.
    pub required: usize,
    pub tested: usize,
    /// All its readings, as [pass, reading].
    pub readings: Vec<[usize; 2]>,
    /// Readings put down under something else that count as its own.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub elsewhere: Vec<ReadElsewhereReport>,
}

/// A reading put down under something else, judged by what is asked of this circuit.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[allow(missing_docs)]
pub struct ReadElsewhereReport {
    pub pass: usize,
    pub reading: usize,
    pub verdict: ReadingVerdictName,
}

/// One of a circuit's two figures.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FigureReport {
    /// What goes into the record.
    pub record: String,
    /// What is known of the least.
    #[serde(flatten)]
    pub resistance: Resistance,
    /// The readings that it is the least of, as [pass, reading].
    pub readings: Vec<[usize; 2]>,
}

/// One board.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[allow(missing_docs)]
pub struct BoardJudgementReport {
    pub board: String,
    pub verdict: Verdict,
    pub asked: Option<Asked>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub no_value: Option<String>,
    pub live_to_live: Option<CombinedReport>,
    pub live_to_earth: Option<CombinedReport>,
    /// The readings taken at the board itself, as [pass, reading].
    pub readings: Vec<[usize; 2]>,
    /// Those of its circuits that fail or are not complete.
    pub not_passed: Vec<String>,
}

/// All insulation of a board in one column, in parallel.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CombinedReport {
    /// What is known of it.
    #[serde(flatten)]
    pub resistance: Resistance,
    /// The circuits that have a figure.
    pub circuits: Vec<String>,
    /// The circuits that have none.
    pub without: Vec<String>,
    /// The circuits, with a figure or without, whose share is not known from below.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub incomplete: Vec<String>,
    /// How they compare with the least value for the board; null where the ruleset has no value.
    pub against: Option<AgainstName>,
}

/// A comparison with a limit, in one word.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
#[allow(missing_docs)]
pub enum AgainstName {
    AtLeast,
    Below,
    NotDecided,
}

/// One required pair that is not tested by good readings.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[allow(missing_docs)]
pub struct NotProvenReport {
    pub circuit: String,
    pub length: String,
    pub cores: [String; 2],
    pub class: PairClass,
    pub why: WhyNotProven,
}

/// Why a required pair is not tested by good readings.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(untagged)]
pub enum WhyNotProven {
    /// As `cover` says.
    NotTested(Missed),
    /// What only a judgement says.
    Judged(WhyJudged),
}

/// Why a pair that readings test is not tested by good ones.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(tag = "reason", rename_all = "kebab-case")]
pub enum WhyJudged {
    /// None of the readings that test it counts.
    NoGoodReading {
        /// These, as [pass, reading].
        readings: Vec<[usize; 2]>,
    },
    /// The ruleset has no value for its circuit.
    NoRule,
}

impl Judgement<'_> {
    /// The judgement as data. Time and space linear in the readings and, for each pair not proven, in the part of the
    /// network around it; boards list their circuits.
    pub fn report(&self) -> JudgementReport {
        let network = self.network;
        let installation = network.installation();
        let missed = self.circuits.iter().flat_map(|row| row.missed.iter().map(move |&pair| (row.circuit, pair)));
        JudgementReport {
            format: 1,
            ruleset: self.ruleset.id().to_owned(),
            need: self.need(),
            verdict: self.verdict(),
            readings: self.reading_reports(),
            circuits: self.circuits.iter().map(|row| self.circuit_report(row)).collect(),
            boards: self.boards.iter().map(|row| self.board_report(row)).collect(),
            missed: missed
                .filter_map(|(circuit, pair)| {
                    let why = match self.why_not_proven(pair)? {
                        NotProven::NotTested(missed) => WhyNotProven::NotTested(missed),
                        NotProven::NoGoodReading(readings) => {
                            WhyNotProven::Judged(WhyJudged::NoGoodReading { readings })
                        }
                        NotProven::NoRule => WhyNotProven::Judged(WhyJudged::NoRule),
                    };
                    Some(NotProvenReport {
                        circuit: installation.circuit(circuit).id().to_owned(),
                        length: installation.length(network.pair_length(pair)).id().to_owned(),
                        cores: network.pair_core_names(pair).map(str::to_owned),
                        class: network.pair_class(pair),
                        why,
                    })
                })
                .collect(),
        }
    }

    fn reading_reports(&self) -> Vec<JudgedReadingReport> {
        let installation = self.network.installation();
        let report = |row: &super::judgement::JudgedReading<'_>| {
            let (circuit, board) = match row.recorded.at() {
                ReadingAt::Circuit(circuit) => (Some(installation.circuit(circuit).id().to_owned()), None),
                ReadingAt::Board(board) => (None, Some(installation.board(board).id().to_owned())),
            };
            let why = match &row.verdict {
                ReadingVerdict::Pass | ReadingVerdict::Fail => None,
                ReadingVerdict::Investigate(why) => Some(WhyReading::Investigate(*why)),
                ReadingVerdict::NotJudgeable(why) => Some(WhyReading::NotJudgeable(why.clone())),
            };
            JudgedReadingReport {
                pass: row.pass,
                reading: row.reading,
                circuit,
                board,
                between: row.recorded.leads().each_ref().map(|lead| lead.text().to_owned()),
                volts: row.recorded.volts(),
                megohms: row.recorded.written().map(|written| written.into_owned()),
                column: row.column.ok(),
                neither: row.column.err(),
                asked: row.asked,
                verdict: ReadingVerdictName::of(&row.verdict),
                why,
            }
        };
        self.readings.iter().map(report).collect()
    }

    fn names(&self, readings: &[usize]) -> Vec<[usize; 2]> {
        readings.iter().map(|&number| self.readings[number].name()).collect()
    }

    fn circuit_report(&self, row: &CircuitJudgement) -> CircuitJudgementReport {
        let figure = |column: Column| {
            row.figure(column).map(|figure: &Figure| FigureReport {
                record: figure.record.clone(),
                resistance: figure.resistance,
                readings: self.names(&figure.readings),
            })
        };
        CircuitJudgementReport {
            circuit: self.network.installation().circuit(row.circuit).id().to_owned(),
            verdict: row.verdict,
            asked: row.asked.as_ref().ok().copied(),
            no_value: row.asked.as_ref().err().cloned(),
            relief: row.relief,
            metres: row.metres,
            live_to_live: figure(Column::LiveToLive),
            live_to_earth: figure(Column::LiveToEarth),
            required: row.required,
            tested: row.proven(),
            readings: self.names(&row.readings),
            elsewhere: row
                .elsewhere
                .iter()
                .map(|row| {
                    let [pass, reading] = self.readings[row.reading].name();
                    ReadElsewhereReport { pass, reading, verdict: ReadingVerdictName::of(&row.verdict) }
                })
                .collect(),
        }
    }

    fn board_report(&self, row: &BoardJudgement) -> BoardJudgementReport {
        let installation = self.network.installation();
        let ids = |circuits: &[CircuitId]| -> Vec<String> {
            circuits.iter().map(|&id| installation.circuit(id).id().to_owned()).collect()
        };
        let combined = |column: Column| {
            row.combined(column).map(|combined: &Combined| CombinedReport {
                resistance: combined.resistance,
                circuits: ids(&combined.circuits),
                without: ids(&combined.without),
                incomplete: ids(&combined.incomplete),
                against: combined.against.map(|against| match against {
                    Against::AtLeast => AgainstName::AtLeast,
                    Against::Below => AgainstName::Below,
                    Against::NotDecided => AgainstName::NotDecided,
                }),
            })
        };
        BoardJudgementReport {
            board: installation.board(row.board).id().to_owned(),
            verdict: row.verdict,
            asked: row.asked.as_ref().ok().copied(),
            no_value: row.asked.as_ref().err().cloned(),
            live_to_live: combined(Column::LiveToLive),
            live_to_earth: combined(Column::LiveToEarth),
            readings: self.names(&row.readings),
            not_passed: ids(&row.not_passed),
        }
    }
}
