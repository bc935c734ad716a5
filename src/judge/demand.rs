//! What is asked of one circuit or board, and how one reading stands to it.

use serde::{Deserialize, Serialize};

use super::readings::Judged;
use super::resistance::{Against, Resistance};
use super::verdict::{Assessment, ReadingReason, ReadingVerdict};
use crate::model::{CircuitId, ConnectedReading, Megohms, Reading, Volts, Work};
use crate::network::{AskedOfBoard, Network};
use crate::reading::Void;
use crate::rules::Ruleset;

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
    /// Of a board: the greatest test voltage that a circuit behind it asks for, where that is above its own.
    pub(super) greatest: Option<Volts>,
    ruleset: &'r Ruleset,
    work: Work,
}

impl<'r> Demand<'r> {
    pub(super) fn of_circuit(network: &'r Network, circuit: CircuitId) -> Demand<'r> {
        let relief = network.relief_of(circuit).map(|relief| Asked { volts: relief.volts, megohms: relief.megohms });
        Demand::by_ruleset(network, network.row_of(circuit).given(), relief, None)
    }

    /// What is asked of a board with these circuits behind it.
    pub(super) fn of_board(network: &'r Network, circuits: &[CircuitId]) -> Demand<'r> {
        let AskedOfBoard { asked, greatest } = network.asked_of_board(circuits);
        let greatest = greatest.filter(|greatest| asked.is_ok_and(|(volts, _)| volts < *greatest));
        Demand::by_ruleset(network, asked, None, greatest)
    }

    /// What is asked after equipment is connected, of that of which `own` is asked before; nothing where the ruleset has
    /// no such test, or where it would be at more than `own`.
    pub(super) fn with_equipment(network: &'r Network, own: &Demand<'r>) -> Demand<'r> {
        let asked =
            own.asked.as_ref().map_err(String::as_str).and_then(|own| match network.ruleset().with_equipment() {
                Some(test) if test.volts <= own.volts => Ok((test.volts, test.megohms)),
                Some(_) => Err("the ruleset's test after equipment is connected is above the circuit's own voltage"),
                None => Err("the ruleset has no test after equipment is connected"),
            });
        Demand::by_ruleset(network, asked, None, None)
    }

    fn by_ruleset(
        network: &'r Network,
        asked: Result<(Volts, Megohms), &str>,
        relief: Option<Asked>,
        greatest: Option<Volts>,
    ) -> Demand<'r> {
        let asked = asked.map(|(volts, megohms)| Asked { volts, megohms }).map_err(str::to_owned);
        Demand { asked, relief, greatest, ruleset: network.ruleset(), work: network.installation().work() }
    }

    /// Whether two demands of one judgement ask for the same.
    pub(super) fn is_same(&self, other: &Demand<'_>) -> bool {
        (&self.asked, self.relief) == (&other.asked, other.relief)
    }

    /// What is asked at the voltage at which a reading was taken, or why that voltage won't do.
    pub(super) fn asked_at(&self, taken: Option<Volts>) -> Result<Asked, ReadingReason> {
        let asked = self.asked.clone().map_err(|no_value| ReadingReason::NoRule { no_value })?;
        let taken = taken.ok_or(ReadingReason::NoVolts)?;
        if let Some(row) = [Some(asked), self.relief].into_iter().flatten().find(|row| taken.is_output_at(row.volts)) {
            return Ok(row);
        }
        Err(if taken < asked.volts {
            let is_relief = self.ruleset.relief().is_some_and(|relief| taken.is_output_at(relief.volts));
            ReadingReason::VoltsTooLow { taken, asked: asked.volts, is_relief, is_low: false }
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
        match self.asked_at(reading.volts()) {
            Ok(asked) => self.judge_value(asked, shown),
            Err(why) => self.with_value(why, shown).into(),
        }
    }

    /// How a reading after equipment was connected stands to it: no value is expected of it beyond the least.
    pub(super) fn judge_connected(&self, reading: &ConnectedReading) -> Assessment {
        let Some(shown) = reading.megohms().map(Resistance::of) else { return ReadingReason::NoValue.into() };
        match self.asked_at(reading.volts()) {
            Ok(asked) => not_at_least(asked, shown).unwrap_or(ReadingVerdict::Pass.into()),
            Err(why) => self.with_value(why, shown).into(),
        }
    }

    /// Why a voltage won't do, and whether the value is too low all the same.
    fn with_value(&self, mut why: ReadingReason, shown: Resistance) -> ReadingReason {
        if let (ReadingReason::VoltsTooLow { is_low, .. }, Ok(asked)) = (&mut why, &self.asked) {
            *is_low = shown.against(asked.megohms) == Against::Below;
        }
        why
    }

    /// How a reading that is put down under something else stands to it; none where it says nothing here.
    pub(super) fn judge_elsewhere(&self, reading: &Judged<'_>) -> Option<Assessment> {
        let shown = reading.shown().filter(|_| !reading.assessment.is_void())?;
        match (self.asked_at(reading.recorded.volts()), &self.asked) {
            (Ok(asked), _) => Some(self.judge_value(asked, shown)),
            // At another voltage a fine value says nothing here, and what it is put down under says so. A low one is
            // low at any.
            (Err(why), Ok(asked)) if shown.against(asked.megohms) != Against::AtLeast => {
                Some(self.with_value(why, shown).into())
            }
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
        if let Some(assessment) = not_at_least(asked, resistance) {
            return assessment;
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

/// What becomes of a value that is not, for sure, at least what is asked.
fn not_at_least(asked: Asked, resistance: Resistance) -> Option<Assessment> {
    let megohms = asked.megohms;
    match resistance.against(megohms) {
        Against::Below => Some(ReadingVerdict::Fail.into()),
        Against::NotDecided if resistance.lower().0 > 0.0 => {
            Some(ReadingReason::RangeEndsBelowLimit { megohms }.into())
        }
        Against::NotDecided => Some(ReadingReason::RangeBeginsAboveLimit { megohms }.into()),
        Against::AtLeast => None,
    }
}
