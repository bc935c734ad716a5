//! What is asked of one circuit or board, and how one reading stands to it.

use serde::{Deserialize, Serialize};

use super::readings::Judged;
use super::resistance::{Against, Resistance};
use super::verdict::{Assessment, ReadingReason, ReadingVerdict};
use crate::model::{Circuit, CircuitId, Installation, Megohms, Reading, System, Volts, Work};
use crate::reading::Void;
use crate::rules::{Row, RowValue, Ruleset};

/// A test voltage, and the least value at it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Asked {
    /// The test voltage, d.c.
    pub volts: Volts,
    /// The least insulation resistance accepted.
    pub megohms: Megohms,
}

/// All that is asked of one circuit or board.
#[derive(Clone, Debug)]
pub(super) struct Demand<'r> {
    /// Why the ruleset asks nothing, where it does not.
    pub(super) asked: Result<Asked, String>,
    /// What will do too, where something can't be disconnected.
    pub(super) relief: Option<Asked>,
    ruleset: &'r Ruleset,
    work: Work,
}

impl<'r> Demand<'r> {
    pub(super) fn of_circuit(ruleset: &'r Ruleset, installation: &Installation, circuit: &Circuit) -> Demand<'r> {
        let relief = ruleset.relief_of(circuit).map(|relief| Asked { volts: relief.volts, megohms: relief.megohms });
        Demand { asked: asked(ruleset.row_of(circuit)), relief, ruleset, work: installation.work() }
    }

    /// What is asked of a board with these circuits: low voltage at the installation's nominal voltage; but where the
    /// circuits are all SELV, or all PELV, and one row is for all of them, that row.
    pub(super) fn of_board(ruleset: &'r Ruleset, installation: &Installation, circuits: &[CircuitId]) -> Demand<'r> {
        let mut rows = circuits.iter().map(|&id| installation.circuit(id));
        let row = rows.next().filter(|first| matches!(first.system(), System::Selv | System::Pelv)).and_then(|first| {
            let row = ruleset.row_of(first);
            rows.all(|other| other.system() == first.system() && std::ptr::eq(ruleset.row_of(other), row))
                .then_some(row)
        });
        let row = row.unwrap_or_else(|| ruleset.row_of_boards(installation));
        Demand { asked: asked(row), relief: None, ruleset, work: installation.work() }
    }

    /// Whether two demands of one judgement ask for the same.
    pub(super) fn is_same(&self, other: &Demand<'_>) -> bool {
        (&self.asked, self.relief) == (&other.asked, other.relief)
    }

    /// What is asked at the voltage at which a reading was taken, or why that voltage won't do.
    pub(super) fn asked_at(&self, taken: Option<Volts>) -> Result<Asked, ReadingReason> {
        let asked = self.asked.clone().map_err(|no_value| ReadingReason::NoRule { no_value })?;
        let taken = taken.ok_or(ReadingReason::NoVolts)?;
        if let Some(row) = [Some(asked), self.relief].into_iter().flatten().find(|row| row.volts == taken) {
            return Ok(row);
        }
        Err(if taken < asked.volts {
            let is_relief = self.ruleset.relief().is_some_and(|relief| relief.volts == taken);
            ReadingReason::VoltsTooLow { taken, asked: asked.volts, is_relief }
        } else {
            ReadingReason::VoltsTooHigh { taken, asked: asked.volts }
        })
    }

    /// How a reading stands to it.
    pub(super) fn judge(&self, reading: &Reading, void: Option<Void>) -> Assessment {
        let shown = match (void, reading.megohms()) {
            (Some(void), _) => return ReadingReason::Void { void }.into(),
            (None, None) => return ReadingReason::NoValue.into(),
            (None, Some(shown)) => Resistance::of(shown),
        };
        self.asked_at(reading.volts()).map_or_else(Assessment::from, |asked| self.judge_value(asked, shown))
    }

    /// How a reading that is put down under something else stands to it; none where it says nothing here.
    pub(super) fn judge_elsewhere(&self, reading: &Judged<'_>) -> Option<Assessment> {
        let shown = reading.shown().filter(|_| !reading.assessment.is_void())?;
        match (self.asked_at(reading.recorded.volts()), &self.asked) {
            (Ok(asked), _) => Some(self.judge_value(asked, shown)),
            // At another voltage a fine value says nothing here, and what it is put down under says so. A low one is
            // low at any.
            (Err(why), Ok(asked)) if shown.against(asked.megohms) != Against::AtLeast => Some(why.into()),
            (Err(_), _) => None,
        }
    }

    /// Whether a sound reading is below what is asked at its voltage; or where that won't do, below what is asked at
    /// the right one: then it is too low at any.
    pub(super) fn is_too_low(&self, reading: &Judged<'_>) -> bool {
        let asked = self.asked_at(reading.recorded.volts()).ok().or(self.asked.as_ref().ok().copied());
        match (reading.shown(), asked) {
            (Some(shown), Some(asked)) if !reading.assessment.is_void() => {
                shown.against(asked.megohms) == Against::Below
            }
            _ => false,
        }
    }

    /// Judges a value that was read at the right voltage.
    fn judge_value(&self, asked: Asked, resistance: Resistance) -> Assessment {
        let megohms = asked.megohms;
        match resistance.against(megohms) {
            Against::Below => return ReadingVerdict::Fail.into(),
            Against::NotDecided if resistance.lower().0 > 0.0 => {
                return ReadingReason::RangeEndsBelowLimit { megohms }.into();
            }
            Against::NotDecided => return ReadingReason::RangeBeginsAboveLimit { megohms }.into(),
            Against::AtLeast => {}
        }
        let below = self.ruleset.investigate_below().map(|threshold| threshold.megohms);
        let expected = self.ruleset.expected_above_when_new().map(|threshold| threshold.megohms);
        match (below, expected.filter(|_| self.work == Work::New)) {
            (Some(megohms), _) if resistance.against(megohms) != Against::AtLeast => {
                ReadingReason::Below { megohms }.into()
            }
            (_, Some(megohms)) if !resistance.is_more_than(megohms) => {
                ReadingReason::NotExpectedWhenNew { megohms }.into()
            }
            _ => ReadingVerdict::Pass.into(),
        }
    }
}

fn asked(row: &Row) -> Result<Asked, String> {
    match &row.value {
        RowValue::Given { volts, megohms } => Ok(Asked { volts: *volts, megohms: *megohms }),
        RowValue::NotGiven { no_value } => Err(no_value.clone()),
    }
}
