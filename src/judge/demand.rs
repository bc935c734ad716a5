//! What is asked of one circuit or board, and how one reading stands to it.

use serde::Serialize;

use super::resistance::{Against, Resistance};
use crate::model::{Circuit, CircuitId, Installation, Megohms, System, Volts, Work};
use crate::reading::Void;
use crate::rules::{Row, RowValue, Ruleset};

/// A test voltage, and the least value at it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Asked {
    /// The test voltage, d.c.
    pub volts: Volts,
    /// The least insulation resistance accepted.
    pub megohms: Megohms,
}

/// All that is asked of one circuit or board.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Demand {
    pub(super) asked: Result<Asked, String>,
    /// What will do too, where something can't be disconnected.
    pub(super) relief: Option<Asked>,
}

/// How a reading stands to what is asked.
#[derive(Clone, Debug, PartialEq)]
pub enum ReadingVerdict {
    /// It is at least what is asked.
    Pass,
    /// It is at least what is asked, and less than is expected of healthy insulation.
    Investigate(Investigate),
    /// It is below what is asked.
    Fail,
    /// It says nothing of whether the insulation is good enough.
    NotJudgeable(NotJudgeable),
}

impl ReadingVerdict {
    /// Whether it is about the value, which was read soundly and at a right voltage.
    pub(super) fn is_of_value(&self) -> bool {
        match self {
            ReadingVerdict::Pass | ReadingVerdict::Investigate(_) | ReadingVerdict::Fail => true,
            ReadingVerdict::NotJudgeable(why) => {
                matches!(why, NotJudgeable::RangeEndsBelowLimit { .. } | NotJudgeable::RangeBeginsAboveLimit { .. })
            }
        }
    }

    /// Whether its leads were joined, or may have been.
    pub(super) fn is_void(&self) -> bool {
        matches!(self, ReadingVerdict::NotJudgeable(NotJudgeable::Void { .. }))
    }

    /// Whether it shows that the insulation between the leads is at least what is asked.
    pub fn is_good(&self) -> bool {
        matches!(self, ReadingVerdict::Pass | ReadingVerdict::Investigate(_))
    }
}

/// Why an accepted reading is to be investigated.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(tag = "reason", rename_all = "kebab-case")]
pub enum Investigate {
    /// It is not, for sure, at least this.
    Below {
        /// The threshold.
        megohms: Megohms,
    },
    /// The work is new, and it is not, for sure, above this.
    NotExpectedWhenNew {
        /// The threshold.
        megohms: Megohms,
    },
}

/// Why a reading can't be judged.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "reason", rename_all = "kebab-case")]
#[non_exhaustive]
pub enum NotJudgeable {
    /// Its leads are joined, or may be.
    Void {
        /// Which.
        void: Void,
    },
    /// No value was recorded.
    NoValue,
    /// No test voltage was recorded.
    NoVolts,
    /// The ruleset has no value for this circuit.
    NoRule {
        /// Why, in the words of the ruleset.
        no_value: String,
    },
    /// The test voltage was lower than what is asked.
    VoltsTooLow {
        /// As recorded.
        taken: Volts,
        /// As the ruleset asks.
        asked: Volts,
        /// Whether it is the voltage of the ruleset's relief, which this circuit does not declare.
        is_relief: bool,
    },
    /// The test voltage was higher than what is asked.
    VoltsTooHigh {
        /// As recorded.
        taken: Volts,
        /// As the ruleset asks.
        asked: Volts,
    },
    /// The instrument read over its range, and its range ends below the least value.
    RangeEndsBelowLimit {
        /// The least value.
        megohms: Megohms,
    },
    /// The instrument read under its range, and its range begins above the least value.
    RangeBeginsAboveLimit {
        /// The least value.
        megohms: Megohms,
    },
}

impl Demand {
    pub(super) fn of_circuit(ruleset: &Ruleset, circuit: &Circuit) -> Demand {
        let relief = ruleset.relief_of(circuit);
        Demand {
            asked: asked(ruleset.row_of(circuit)),
            relief: relief.map(|relief| Asked { volts: relief.volts, megohms: relief.megohms }),
        }
    }

    /// What is asked of a board with these circuits: low voltage at the installation's nominal voltage; but where the
    /// circuits are all SELV, or all PELV, and one row is for all of them, that row.
    pub(super) fn of_board(ruleset: &Ruleset, installation: &Installation, circuits: &[CircuitId]) -> Demand {
        let mut rows = circuits.iter().map(|&id| installation.circuit(id));
        let row = rows.next().filter(|first| matches!(first.system(), System::Selv | System::Pelv)).and_then(|first| {
            let row = ruleset.row_of(first);
            rows.all(|other| other.system() == first.system() && std::ptr::eq(ruleset.row_of(other), row))
                .then_some(row)
        });
        Demand { asked: asked(row.unwrap_or_else(|| ruleset.row_of_boards(installation))), relief: None }
    }

    /// What is asked at the voltage at which a reading was taken, or why that voltage won't do.
    pub(super) fn asked_at(&self, ruleset: &Ruleset, taken: Option<Volts>) -> Result<Asked, NotJudgeable> {
        let asked = match &self.asked {
            Ok(asked) => *asked,
            Err(no_value) => return Err(NotJudgeable::NoRule { no_value: no_value.clone() }),
        };
        let taken = taken.ok_or(NotJudgeable::NoVolts)?;
        if let Some(row) = [Some(asked), self.relief].into_iter().flatten().find(|row| row.volts == taken) {
            return Ok(row);
        }
        Err(if taken < asked.volts {
            let is_relief = ruleset.relief().is_some_and(|relief| relief.volts == taken);
            NotJudgeable::VoltsTooLow { taken, asked: asked.volts, is_relief }
        } else {
            NotJudgeable::VoltsTooHigh { taken, asked: asked.volts }
        })
    }
}

fn asked(row: &Row) -> Result<Asked, String> {
    match &row.value {
        RowValue::Given { volts, megohms } => Ok(Asked { volts: *volts, megohms: *megohms }),
        RowValue::NotGiven { no_value } => Err(no_value.clone()),
    }
}

/// Judges a value that was read at the right voltage.
pub(super) fn judge_value(ruleset: &Ruleset, work: Work, asked: Asked, resistance: Resistance) -> ReadingVerdict {
    let megohms = asked.megohms;
    match resistance.against(megohms) {
        Against::Below => ReadingVerdict::Fail,
        Against::NotDecided if resistance.lower().0 > 0.0 => {
            ReadingVerdict::NotJudgeable(NotJudgeable::RangeEndsBelowLimit { megohms })
        }
        Against::NotDecided => ReadingVerdict::NotJudgeable(NotJudgeable::RangeBeginsAboveLimit { megohms }),
        Against::AtLeast => {
            if let Some(threshold) = ruleset.investigate_below()
                && resistance.against(threshold.megohms) != Against::AtLeast
            {
                return ReadingVerdict::Investigate(Investigate::Below { megohms: threshold.megohms });
            }
            match ruleset.expected_above_when_new() {
                Some(threshold) if work == Work::New && !resistance.is_more_than(threshold.megohms) => {
                    ReadingVerdict::Investigate(Investigate::NotExpectedWhenNew { megohms: threshold.megohms })
                }
                _ => ReadingVerdict::Pass,
            }
        }
    }
}
