//! Which pairs a test set tests, and why a reading is void or a pair is missed.

mod answer;
mod missed;
mod tested;
mod void;

pub use answer::{Coverage, CoverageSummary, PairCoverage, PositionCoverage};
pub(crate) use missed::WhyMissed;
pub use missed::{Missed, OpenContact};
pub(crate) use tested::Tested;
pub use void::{Link, ReadingCoverage};
