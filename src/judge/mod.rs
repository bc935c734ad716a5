//! Whether what the instrument showed is good enough: readings, circuits and boards judged by a ruleset.
//!
//! A fine value says nothing of a core that was on no lead, and a reading on every core says nothing if its value is low
//! or its voltage was wrong. So both are asked at once: a circuit passes only where every required pair is tested by
//! good readings, and every reading of it is good.
//!
//! Values are judged as they were written: not corrected for temperature or length, and a bound (`>999`) stays a bound.
//! Why something is not judgeable, or not tested, is told as data.

mod boards;
mod column;
mod copper;
mod demand;
mod judgement;
mod report;
mod resistance;
mod share;

pub use boards::{BoardJudgement, Combined};
pub use column::{Column, Neither, column};
pub use demand::{Asked, Investigate, NotJudgeable, ReadingVerdict};
pub use judgement::{
    CircuitJudgement, Figure, JudgedReading, Judgement, NotProven, ReadElsewhere, Verdict, WhyElsewhere,
};
pub use report::{
    AgainstName, BoardJudgementReport, CircuitJudgementReport, CombinedReport, FigureReport, JudgedReadingReport,
    JudgementReport, NotProvenReport, ReadElsewhereReport, ReadingVerdictName, WhyJudged, WhyNotProven, WhyReading,
};
pub use resistance::{Against, Resistance};
