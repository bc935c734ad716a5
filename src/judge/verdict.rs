//! What becomes of a reading, and of what it was taken at.

use serde::{Deserialize, Serialize};

use crate::model::{Megohms, Volts};
use crate::reading::Void;

/// What becomes of a circuit, a board or a whole record; the worst comes last.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Verdict {
    /// Every required pair was tested by a good reading, and every reading is good.
    Pass,
    /// The same, but some reading is lower than healthy insulation is expected to be, or a connected core has no role.
    Investigate,
    /// Nothing fails, but something is not tested, or can't be judged.
    NotComplete,
    /// Something is below what is asked.
    Fail,
}

impl From<ReadingVerdict> for Verdict {
    /// What a reading makes of that whose reading it is.
    fn from(reading: ReadingVerdict) -> Verdict {
        match reading {
            ReadingVerdict::Pass => Verdict::Pass,
            ReadingVerdict::Investigate => Verdict::Investigate,
            ReadingVerdict::NotJudgeable => Verdict::NotComplete,
            ReadingVerdict::Fail => Verdict::Fail,
        }
    }
}

/// How a reading stands to what is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum ReadingVerdict {
    /// It is at least what is asked.
    Pass,
    /// It is at least what is asked, and less than is expected of healthy insulation.
    Investigate,
    /// It is below what is asked.
    Fail,
    /// It says nothing of whether the insulation is good enough.
    NotJudgeable,
}

/// Why an accepted reading is to be investigated, or why a reading can't be judged.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "reason", rename_all = "kebab-case")]
#[non_exhaustive]
pub enum ReadingReason {
    /// To investigate: it is not, for sure, at least this.
    Below {
        /// The threshold.
        megohms: Megohms,
    },
    /// To investigate: the work is new, and it is not, for sure, above this.
    NotExpectedWhenNew {
        /// The threshold.
        megohms: Megohms,
    },
    /// Not judgeable: its leads are joined, or may be.
    Void {
        /// Which.
        void: Void,
    },
    /// Not judgeable: no value was recorded.
    NoValue,
    /// Not judgeable: no test voltage was recorded.
    NoVolts,
    /// Not judgeable: the ruleset has no value for this circuit.
    NoRule {
        /// Why, in the words of the ruleset.
        no_value: String,
    },
    /// Not judgeable: the test voltage was lower than what is asked.
    VoltsTooLow {
        /// As recorded.
        taken: Volts,
        /// As the ruleset asks.
        asked: Volts,
        /// Whether it is the voltage of the ruleset's relief, which this circuit does not declare.
        is_relief: bool,
        /// Whether the value is below what is asked all the same: it is too low at any voltage.
        #[serde(skip_serializing_if = "std::ops::Not::not", default)]
        is_low: bool,
    },
    /// Not judgeable: the test voltage was higher than what is asked.
    VoltsTooHigh {
        /// As recorded.
        taken: Volts,
        /// As the ruleset asks.
        asked: Volts,
    },
    /// Not judgeable: the instrument read over its range, and its range ends below the least value.
    RangeEndsBelowLimit {
        /// The least value.
        megohms: Megohms,
    },
    /// Not judgeable: the instrument read under its range, and its range begins above the least value.
    RangeBeginsAboveLimit {
        /// The least value.
        megohms: Megohms,
    },
}

/// How a reading stands to one demand, and why.
#[derive(Clone, Debug)]
pub(super) struct Assessment {
    pub(super) verdict: ReadingVerdict,
    pub(super) why: Option<ReadingReason>,
}

impl From<ReadingVerdict> for Assessment {
    fn from(verdict: ReadingVerdict) -> Assessment {
        Assessment { verdict, why: None }
    }
}

impl From<ReadingReason> for Assessment {
    fn from(why: ReadingReason) -> Assessment {
        let verdict = match why {
            ReadingReason::Below { .. } | ReadingReason::NotExpectedWhenNew { .. } => ReadingVerdict::Investigate,
            _ => ReadingVerdict::NotJudgeable,
        };
        Assessment { verdict, why: Some(why) }
    }
}

impl Assessment {
    /// Whether it is about the value, which was read soundly and at a right voltage.
    pub(super) fn is_of_value(&self) -> bool {
        use ReadingReason::{RangeBeginsAboveLimit, RangeEndsBelowLimit};
        self.verdict != ReadingVerdict::NotJudgeable
            || matches!(self.why, Some(RangeEndsBelowLimit { .. } | RangeBeginsAboveLimit { .. }))
    }

    /// Whether the leads of the reading were joined, or may have been.
    pub(super) fn is_void(&self) -> bool {
        matches!(self.why, Some(ReadingReason::Void { .. }))
    }

    /// Whether it shows that the insulation between the leads is at least what is asked.
    pub(super) fn is_good(&self) -> bool {
        matches!(self.verdict, ReadingVerdict::Pass | ReadingVerdict::Investigate)
    }
}
