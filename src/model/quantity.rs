//! Quantities that carry their unit in the type.

use std::fmt;

use serde::{Deserialize, Serialize};

/// A length of cable or a walking distance, in metres.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(transparent)]
pub struct Metres(pub f64);

/// A voltage in volts: a nominal voltage (a.c. r.m.s., line to neutral) or a test voltage (d.c.).
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(transparent)]
pub struct Volts(pub f64);

impl Volts {
    /// Whether an instrument that is set to a test voltage may give this one: it gives at least what it is set to, and
    /// at most 1.25 times that with nothing connected (IEC 61557-2, from memory).
    pub(crate) fn is_output_at(self, setting: Volts) -> bool {
        setting.0 <= self.0 && self.is_output_to(setting)
    }

    /// Whether it is no more than such an instrument may give.
    pub(crate) fn is_output_to(self, setting: Volts) -> bool {
        self.0 <= 1.25 * setting.0
    }
}

impl Serialize for Volts {
    /// A whole number of volts is written as one: 500, not 500.0.
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        if self.0.fract() == 0.0 && self.0.abs() < 1e9 {
            serializer.serialize_i64(self.0 as i64)
        } else {
            serializer.serialize_f64(self.0)
        }
    }
}

/// An insulation resistance in megohms (MΩ).
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(transparent)]
pub struct Megohms(pub f64);

impl fmt::Display for Indication {
    /// As files write it: `250`, `>999`, `<0.01`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Indication::Value(Megohms(value)) => write!(f, "{value}"),
            Indication::MoreThan(Megohms(value)) => write!(f, ">{value}"),
            Indication::LessThan(Megohms(value)) => write!(f, "<{value}"),
        }
    }
}

/// What an instrument showed: a value, or a bound where it read outside its range.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum Indication {
    /// The instrument showed this value.
    Value(Megohms),
    /// The instrument read over its range, `">999"`: the insulation resistance is more than this.
    MoreThan(Megohms),
    /// The instrument read under its range, `"<0.01"`: the insulation resistance is less than this.
    LessThan(Megohms),
}

impl Indication {
    /// What a text gives: a plain decimal number, or a bound, `>999` or `<0.01`, which is a sign before one.
    pub(crate) fn of_text(text: &str) -> Option<Indication> {
        let (shown, number): (fn(Megohms) -> Indication, &str) = match text.split_at_checked(1)? {
            (">", number) => (Indication::MoreThan, number),
            ("<", number) => (Indication::LessThan, number),
            _ => (Indication::Value, text),
        };
        let is_plain = !number.is_empty() && number.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.');
        let value: f64 = number.parse().ok().filter(|_| is_plain)?;
        value.is_finite().then(|| shown(Megohms(value)))
    }
}
