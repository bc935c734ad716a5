//! The readings of a record, each judged by what is asked of what it was taken at.

use serde::{Deserialize, Serialize};

use super::demand::{Asked, Demand};
use super::resistance::Resistance;
use super::verdict::{Assessment, ReadingReason, ReadingVerdict};
use crate::coverage::ReadingCoverage;
use crate::model::{Installation, Reading, Volts};
use crate::network::{Column, Neither, Network, column};

/// One reading, judged.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct JudgedReading {
    /// The pass, counted from 1.
    pub pass: usize,
    /// The reading in the pass, counted from 1.
    pub reading: usize,
    /// The circuit that it is put down under.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub circuit: Option<String>,
    /// The board that it is put down under.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub board: Option<String>,
    /// What one lead touches, what the other touches.
    pub between: [String; 2],
    /// The test voltage, as recorded.
    pub volts: Option<Volts>,
    /// The value to the letter, as recorded.
    pub megohms: Option<String>,
    /// Which of the two figures it belongs to; none where it belongs to neither, and `neither` says why.
    pub column: Option<Column>,
    /// Why it belongs to neither figure.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub neither: Option<Neither>,
    /// What is asked at the voltage that it was taken at; none where that voltage won't do.
    pub asked: Option<Asked>,
    /// How it stands to that.
    pub verdict: ReadingVerdict,
    /// Why it is to be investigated, or can't be judged.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<ReadingReason>,
}

impl JudgedReading {
    /// Pass and number, as a judgement names a reading.
    pub fn name(&self) -> [usize; 2] {
        [self.pass, self.reading]
    }
}

/// A reading and what is found of it.
pub(super) struct Judged<'t> {
    /// Pass and number in it, from 1.
    pub(super) name: [usize; 2],
    pub(super) recorded: &'t Reading,
    pub(super) column: Result<Column, Neither>,
    /// What is asked at its voltage; none where that won't do.
    asked: Option<Asked>,
    /// Whether what is left in may join its leads: then the insulation may be better than what it showed.
    pub(super) has_left_in: bool,
    pub(super) assessment: Assessment,
}

impl<'t> Judged<'t> {
    pub(super) fn new(
        network: &Network,
        recorded: &'t Reading,
        outcome: &ReadingCoverage,
        demand: &Demand<'_>,
    ) -> Judged<'t> {
        Judged {
            name: [outcome.pass, outcome.reading],
            recorded,
            column: column(network, recorded.leads()),
            asked: demand.asked_at(recorded.volts()).ok(),
            has_left_in: !outcome.left_in.is_empty(),
            assessment: demand.judge(recorded, outcome.void),
        }
    }

    /// What the instrument says of the resistance, however it was read.
    pub(super) fn shown(&self) -> Option<Resistance> {
        self.recorded.megohms().map(Resistance::of)
    }

    /// What the value says of the resistance; none where the reading is void, at a wrong voltage or without a value.
    pub(super) fn resistance(&self) -> Option<Resistance> {
        self.shown().filter(|_| self.assessment.is_of_value())
    }

    /// Whether it says anything of a column: it is in it, or in neither.
    pub(super) fn bears_on(&self, column: Column) -> bool {
        self.column.is_err() || self.column == Ok(column)
    }

    pub(super) fn answer(self, installation: &Installation) -> JudgedReading {
        let [circuit, board] = self.recorded.at().names(installation);
        let [pass, reading] = self.name;
        JudgedReading {
            pass,
            reading,
            circuit,
            board,
            between: self.recorded.leads().each_ref().map(|lead| lead.text().to_owned()),
            volts: self.recorded.volts(),
            megohms: self.recorded.written().map(|written| written.into_owned()),
            column: self.column.ok(),
            neither: self.column.err(),
            asked: self.asked,
            verdict: self.assessment.verdict,
            why: self.assessment.why,
        }
    }
}
