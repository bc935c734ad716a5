//! Questions and answers as texts, for a program that has no types of Rust: a page in a browser, a worker behind a pipe.
//!
//! A [`Session`] holds an installation, is told test sets of it as they are entered, and answers with what the command
//! prints with `--json`. The command gets from texts to answers by the same steps.

mod boxes;
mod check;
mod held;
mod names;
mod planned;
mod question;
mod visible;

pub use boxes::{terminations_at, works_at};
pub use check::{CheckReport, FileError, Noticed};
pub use held::{Entered, OptionReport, Refusal, Reply, RulesReport, Session, Status};
pub use names::{NamedBoard, NamedCircuit, NamedLocation, NamedPoint, Names};
pub use planned::{OptionError, PlanOptions, Planned, PlannedPasses};
pub use question::{Give, RulesText, SessionQuestion, SourceText};
pub use visible::{cell, write_json};
