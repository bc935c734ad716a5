//! Whether what the instrument showed is good enough: readings, circuits and boards judged by a ruleset.
//!
//! A fine value says nothing of a core that was on no lead, and a reading on every core says nothing if its value is
//! low or its voltage was wrong. So both are asked at once: a circuit passes only where every required pair is tested
//! by good readings, and every reading of it is good.
//!
//! Values are judged as they were written: not corrected for temperature or length, and a bound (`>999`) stays a bound.
//! Why something is not judgeable, or not tested, is told as data.

mod boards;
mod circuits;
mod connected;
mod copper;
mod demand;
mod elsewhere;
mod judgement;
mod proven;
mod readings;
mod resistance;
mod share;
mod verdict;

pub use crate::network::{Column, Neither, column};
pub use boards::{BoardJudgement, Combined};
pub use circuits::{CircuitJudgement, Figure, ReadElsewhere, WhyElsewhere};
pub use connected::JudgedConnected;
pub use demand::Asked;
pub use judgement::Judgement;
pub use proven::{NotProven, WhyNotProven};
pub use readings::JudgedReading;
pub use resistance::{Against, Resistance};
pub use verdict::{ReadingReason, ReadingVerdict, Verdict};
