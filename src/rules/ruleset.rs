//! A ruleset: which test voltage and which least value are asked of a circuit, with the source of every value.

use serde::{Deserialize, Serialize};

use crate::model::{BetweenLive, Megohms, ReliefReadings, System, Volts};

const FELV_LOOKED_UP_AT: Volts = Volts(500.0);

/// Where a value is from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Source {
    /// The document and the place in it, or "common practice".
    pub source: String,
    /// The edition of the document.
    pub edition: String,
    /// Whether the value was recalled, not read from the document; what is printed says so beside it.
    pub from_memory: bool,
}

/// What a row gives.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(untagged)]
pub enum RowValue {
    /// A test voltage and a least value.
    Given {
        /// The test voltage, d.c.
        volts: Volts,
        /// The least insulation resistance accepted; exactly this is accepted.
        megohms: Megohms,
    },
    /// The ruleset has no value here, so nothing can be judged by it.
    NotGiven {
        /// Why, in the words of the file.
        no_value: String,
    },
}

/// One row of the table of values.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Row {
    /// The systems that it is for.
    pub system: Vec<System>,
    /// It is for nominal voltages above this; from nothing where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub above: Option<Volts>,
    /// It is for nominal voltages up to and including this; without end where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub up_to: Option<Volts>,
    /// Of which of its circuits pairs between live conductors need a test, by
    /// [`Need::Ruleset`](crate::Need::Ruleset).
    pub between_live: BetweenLive,
    /// What it gives.
    #[serde(flatten)]
    pub value: RowValue,
    /// Where that is from.
    #[serde(flatten)]
    pub source: Source,
}

impl Row {
    /// The d.c. test voltage and the least value accepted at it.
    ///
    /// # Errors
    ///
    /// Why the ruleset has none, in its words.
    pub fn given(&self) -> Result<(Volts, Megohms), &str> {
        match &self.value {
            RowValue::Given { volts, megohms } => Ok((*volts, *megohms)),
            RowValue::NotGiven { no_value } => Err(no_value),
        }
    }

    fn is_for(&self, system: System, nominal: Volts) -> bool {
        self.system.contains(&system)
            && self.above.is_none_or(|above| nominal > above)
            && self.up_to.is_none_or(|up_to| nominal <= up_to)
    }
}

/// A lower test voltage for a circuit with equipment that can't be disconnected.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Relief {
    /// The lower test voltage, d.c.
    pub volts: Volts,
    /// The least value accepted at it.
    pub megohms: Megohms,
    /// Which readings may be taken at it though electronics that is left in may join their leads.
    #[serde(default)]
    pub readings: ReliefReadings,
    /// Where that is from.
    #[serde(flatten)]
    pub source: Source,
}

/// The test after equipment is connected: live conductors joined, to earth.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct WithEquipment {
    /// The test voltage, d.c.
    pub volts: Volts,
    /// The least value accepted at it.
    pub megohms: Megohms,
    /// Where that is from.
    #[serde(flatten)]
    pub source: Source,
}

/// A value at which an accepted reading still calls for a look.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Threshold {
    /// The value.
    pub megohms: Megohms,
    /// Where that is from.
    #[serde(flatten)]
    pub source: Source,
}

/// Something to know beside the values, that the program does not apply.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Note {
    /// What.
    pub text: String,
    /// Where that is from.
    #[serde(flatten)]
    pub source: Source,
}

/// Test voltages and least values, each with its source.
///
/// For any system and nominal voltage exactly one row applies: [`read_ruleset`](crate::read_ruleset) refuses
/// anything else. Which row is for a circuit, [`Network::row_of`](crate::Network::row_of) says.
///
/// # Examples
///
/// ```
/// use lengthwise::model::{Megohms, System, Volts};
/// use lengthwise::Standard;
/// use lengthwise::rules::RowValue;
///
/// let ruleset = Standard::Bs7671.ruleset();
/// let row = ruleset.row(System::Lv, Volts(230.0));
/// assert_eq!(row.value, RowValue::Given { volts: Volts(500.0), megohms: Megohms(1.0) });
/// assert_eq!((row.source.source.as_str(), row.source.from_memory), ("BS 7671, Table 64", false));
/// ```
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Ruleset {
    /// The id.
    pub(crate) id: String,
    /// The title for people.
    pub(crate) title: String,
    #[serde(rename = "row")]
    pub(crate) rows: Vec<Row>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) relief: Option<Relief>,
    #[serde(rename = "connected", skip_serializing_if = "Option::is_none")]
    pub(crate) with_equipment: Option<WithEquipment>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) investigate_below: Option<Threshold>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) expected_above_when_new: Option<Threshold>,
    #[serde(rename = "note", skip_serializing_if = "Vec::is_empty")]
    pub(crate) notes: Vec<Note>,
}

impl Ruleset {
    /// The ruleset's id.
    pub fn id(&self) -> &str {
        &self.id
    }

    /// The title for people.
    pub fn title(&self) -> &str {
        &self.title
    }

    /// The rows, in the order of the file.
    pub fn rows(&self) -> &[Row] {
        &self.rows
    }

    /// The lower test voltage for circuits with equipment that can't be disconnected, where there is one.
    pub fn relief(&self) -> Option<&Relief> {
        self.relief.as_ref()
    }

    /// The test after equipment is connected, where there is one.
    pub fn with_equipment(&self) -> Option<&WithEquipment> {
        self.with_equipment.as_ref()
    }

    /// Below this an accepted reading is investigated.
    pub fn investigate_below(&self) -> Option<&Threshold> {
        self.investigate_below.as_ref()
    }

    /// On new work a healthy reading is expected above this; one that is not is investigated.
    pub fn expected_above_when_new(&self) -> Option<&Threshold> {
        self.expected_above_when_new.as_ref()
    }

    /// What else is to be known.
    pub fn notes(&self) -> &[Note] {
        &self.notes
    }

    /// The row for a system at a nominal voltage, the greatest between two live conductors. Time linear in the rows.
    ///
    /// FELV is tested as low voltage is, so its row is that at 500 V. Source: BS 7671:2018 Table 64; IEC 60364-6:2016
    /// Table 6.1 (from memory).
    pub fn row(&self, system: System, nominal: Volts) -> &Row {
        let nominal = if system == System::Felv { FELV_LOOKED_UP_AT } else { nominal };
        let row = self.rows.iter().find(|row| row.is_for(system, nominal));
        row.expect("exactly one row is for any system and voltage")
    }
}
