//! A ruleset: which test voltage and which least value are asked of a circuit, with the source of every value.

use serde::{Deserialize, Serialize};

use crate::model::{Circuit, Installation, Megohms, System, Volts};

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
    /// What it gives.
    #[serde(flatten)]
    pub value: RowValue,
    /// Where that is from.
    #[serde(flatten)]
    pub source: Source,
}

impl Row {
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
/// anything else. The nominal voltage is compared as the installation file gives it, line to neutral.
///
/// # Examples
///
/// ```
/// use lengthwise::model::{Megohms, System, Volts};
/// use lengthwise::{Input, Standard, read_installation};
/// use lengthwise::rules::RowValue;
///
/// let ruleset = Standard::Bs7671.ruleset();
/// let row = ruleset.row(System::Lv, Volts(230.0));
/// assert_eq!(row.value, RowValue::Given { volts: Volts(500.0), megohms: Megohms(1.0) });
/// assert_eq!((row.source.source.as_str(), row.source.from_memory), ("BS 7671, Table 64", false));
///
/// // What to test a circuit at: what can't be disconnected in it, as its `relief` says, takes no harm from that.
/// let landing = read_installation(Input::toml(&std::fs::read("examples/landing.toml")?))?;
/// for (_, circuit) in landing.circuits() {
///     assert_eq!(ruleset.test_voltage(circuit), Some(Volts(500.0)));
///     assert_eq!(ruleset.relief_of(circuit), None);
/// }
/// # Ok::<(), Box<dyn std::error::Error>>(())
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

    /// The row for a system at a nominal voltage. Time linear in the rows.
    pub fn row(&self, system: System, nominal: Volts) -> &Row {
        let row = self.rows.iter().find(|row| row.is_for(system, nominal));
        row.expect("exactly one row is for any system and voltage")
    }

    /// The row for a circuit.
    pub fn row_of(&self, circuit: &Circuit) -> &Row {
        self.row(circuit.system(), circuit.nominal_voltage())
    }

    /// The row for a board as a whole: low voltage at the installation's nominal voltage.
    pub fn row_of_boards(&self, installation: &Installation) -> &Row {
        self.row(System::Lv, installation.nominal_voltage())
    }

    /// The relief that a circuit may be tested by: where its file declares that something can't be disconnected, and
    /// the relief's voltage is the lower one.
    pub fn relief_of(&self, circuit: &Circuit) -> Option<&Relief> {
        circuit.relief()?;
        let RowValue::Given { volts, .. } = self.row_of(circuit).value else { return None };
        self.relief.as_ref().filter(|relief| relief.volts < volts)
    }

    /// The test voltage to use on a circuit: the relief's where the circuit may be tested by it, for what can't be
    /// disconnected takes no harm from that one; else the row's. None where the ruleset has no value.
    pub fn test_voltage(&self, circuit: &Circuit) -> Option<Volts> {
        match (&self.row_of(circuit).value, self.relief_of(circuit)) {
            (RowValue::NotGiven { .. }, _) => None,
            (RowValue::Given { .. }, Some(relief)) => Some(relief.volts),
            (RowValue::Given { volts, .. }, None) => Some(*volts),
        }
    }
}
