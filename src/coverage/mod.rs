//! Which pairs a test set tests, and why a reading is void or a pair is missed.

mod answer;
mod change;
mod difference;
mod live;
mod missed;
mod one_of;
mod outcome;
mod tally;
mod tested;
mod void;

pub use answer::{Coverage, CoverageSummary, PairCoverage, PositionCoverage};
pub use change::{ChangedPair, CoverageChange, Edit, EditError};
pub use live::LiveCoverage;
pub(crate) use missed::WhyMissed;
pub use missed::{Missed, OpenContact};
pub(crate) use tested::Tested;
pub use void::{Link, ReadingCoverage};
