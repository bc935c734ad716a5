//! Which pairs a test set tests, and why a reading is void or a pair is missed.

mod cover;
mod explain;
mod report;

pub(crate) use cover::LeadSurvey;
pub use cover::{Coverage, ReadingOutcome, Void};
pub use explain::{Link, Missed, OpenContact};
pub use report::{CoverageReport, PairCoverageReport, PositionReport, ReadingReport, Summary};
