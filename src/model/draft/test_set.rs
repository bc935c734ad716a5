//! A test set as it is written down.

use indexmap::IndexMap;
use serde::{Deserialize, Serialize, Serializer};

use super::installation::FormatOne;
use crate::model::{Indication, Megohms, Volts};

/// A test set file.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct TestSetDraft {
    /// The format's version.
    pub format: FormatOne,
    /// How things stand before the first pass, by the name of the device or of what holds the bridges.
    #[serde(skip_serializing_if = "IndexMap::is_empty", default)]
    pub start: IndexMap<String, StartDraft>,
    /// The passes, in order.
    #[serde(rename = "pass", skip_serializing_if = "Vec::is_empty", default)]
    pub passes: Vec<PassDraft>,
    /// The readings after equipment was connected, in order.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub connected: Vec<ConnectedDraft>,
}

/// How one thing stands before the first pass: at most one position and one of `fitted` and `removed`.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(from = "OneOrMany")]
pub struct StartDraft(pub Vec<String>);

/// One word, or a list of them.
#[derive(Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(untagged)]
enum OneOrMany {
    One(String),
    Many(Vec<String>),
}

impl From<OneOrMany> for StartDraft {
    fn from(words: OneOrMany) -> StartDraft {
        StartDraft(match words {
            OneOrMany::One(word) => vec![word],
            OneOrMany::Many(words) => words,
        })
    }
}

impl Serialize for StartDraft {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self.0.as_slice() {
            [word] => serializer.serialize_str(word),
            words => serializer.collect_seq(words),
        }
    }
}

/// A `pass`.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct PassDraft {
    /// Devices that go to their next position.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub operate: Vec<String>,
    /// Devices that go to a named position.
    #[serde(skip_serializing_if = "IndexMap::is_empty", default)]
    pub set: IndexMap<String, String>,
    /// What is taken out.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub remove: Vec<String>,
    /// What is out, and a link put in the place of each of its bridges that passes.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub link: Vec<String>,
    /// What is put back.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub refit: Vec<String>,
    /// The readings taken.
    #[serde(rename = "reading", skip_serializing_if = "Vec::is_empty", default)]
    pub readings: Vec<ReadingDraft>,
}

/// A `pass.reading`.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct ReadingDraft {
    /// The circuit whose way the leads touch; or a board.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub circuit: Option<String>,
    /// The board whose busbar the leads touch; or a circuit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub board: Option<String>,
    /// What one lead touches, and what the other touches.
    pub between: [String; 2],
    /// The test voltage, d.c.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub volts: Option<Volts>,
    /// What the instrument showed.
    #[serde(skip_serializing_if = "Option::is_none", default, with = "indication")]
    #[cfg_attr(feature = "schema", schemars(with = "Option<Indication>"))]
    pub megohms: Option<Indication>,
    /// `megohms` to the letter, where it was read from a file: `250.0`, `>999`.
    #[serde(skip)]
    pub written: Option<String>,
}

/// A `connected`: a reading after equipment was connected, of live conductors joined, to earth.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct ConnectedDraft {
    /// The circuit whose way the leads touch; or a board.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub circuit: Option<String>,
    /// The board whose busbar the leads touch; or a circuit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub board: Option<String>,
    /// The test voltage, d.c.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub volts: Option<Volts>,
    /// What the instrument showed.
    #[serde(skip_serializing_if = "Option::is_none", default, with = "indication")]
    #[cfg_attr(feature = "schema", schemars(with = "Option<Indication>"))]
    pub megohms: Option<Indication>,
    /// `megohms` to the letter, where it was read from a file: `250.0`, `>999`.
    #[serde(skip)]
    pub written: Option<String>,
}

/// A value is written as a number and a bound as text, `">999"`.
mod indication {
    use serde::de::Error;
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    use super::{Indication, Megohms};

    #[derive(Serialize, Deserialize)]
    #[serde(untagged)]
    enum Written {
        Value(f64),
        Bound(String),
    }

    pub(super) fn serialize<S: Serializer>(megohms: &Option<Indication>, serializer: S) -> Result<S::Ok, S::Error> {
        let written = megohms.map(|megohms| match megohms {
            Indication::Value(Megohms(value)) => Written::Value(value),
            bound => Written::Bound(bound.to_string()),
        });
        written.serialize(serializer)
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<Indication>, D::Error> {
        Ok(Some(match Written::deserialize(deserializer)? {
            Written::Value(value) => Indication::Value(Megohms(value)),
            Written::Bound(text) => Indication::of_text(&text)
                .ok_or_else(|| D::Error::custom(format!("{text:?} is no bound such as \">999\" or \"<0.01\"")))?,
        }))
    }
}
