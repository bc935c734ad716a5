//! The step or stop of a run that something was made from.

use std::fmt;

use serde::Serialize;

/// A step or a stop of a circuit's run, as a person counts them.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct RunPart {
    /// The circuit.
    pub circuit: String,
    /// The step of its run, from 1.
    pub step: usize,
    /// The key of the stop; none where it is the whole step.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub part: Option<&'static str>,
    /// Which of the list, from 1; none where the key has one stop.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub number: Option<usize>,
    /// The point that it comes to.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub point: Option<String>,
    /// The length that leads to that.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub length: Option<String>,
}

impl RunPart {
    /// A step, by its place in the list.
    pub(in crate::model) fn step(circuit: String, step: usize) -> Self {
        RunPart { circuit, step: step + 1, part: None, number: None, point: None, length: None }
    }

    /// A stop, by its places in the lists.
    pub(in crate::model) fn stop(circuit: String, step: usize, part: &'static str, entry: Option<usize>) -> Self {
        RunPart { part: Some(part), number: entry.map(|entry| entry + 1), ..RunPart::step(circuit, step) }
    }

    /// With what it comes to.
    pub(in crate::model) fn of(self, point: String, length: String) -> Self {
        RunPart { point: Some(point), length: Some(length), ..self }
    }
}

impl fmt::Display for RunPart {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "circuit {}, step {}", self.circuit, self.step)?;
        match (self.part, self.number) {
            (Some(part), Some(number)) => {
                let one = match part {
                    "switches" => "switch",
                    "lights" => "light",
                    "sockets" => "socket",
                    "alarms" => "alarm",
                    part => part,
                };
                write!(f, ", {} {one}", ordinal(number))?;
            }
            (Some(part), None) => write!(f, ", {part}")?,
            (None, _) => {}
        }
        match (&self.point, &self.length) {
            (Some(point), Some(length)) => write!(f, " ({point}, leg {length})"),
            _ => Ok(()),
        }
    }
}

fn ordinal(number: usize) -> String {
    const WORDS: [&str; 12] = [
        "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth", "eleventh",
        "twelfth",
    ];
    let ending = match (number % 100, number % 10) {
        (11..=13, _) => "th",
        (_, 1) => "st",
        (_, 2) => "nd",
        (_, 3) => "rd",
        _ => "th",
    };
    WORDS.get(number - 1).map_or_else(|| format!("{number}{ending}"), |&word| word.to_owned())
}
