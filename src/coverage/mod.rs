//! Which pairs a test set tests, and why a reading is void or a pair is missed.

mod answer;
mod change;
mod difference;
mod live;
mod missed;
mod one_of;
mod outcome;
mod shared;
mod tally;
mod tested;
mod void;

pub use answer::{Coverage, CoverageSummary, PairCoverage, PositionCoverage};
pub use change::{ChangedPair, CoverageChange, Edit, EditError};
pub use live::LiveCoverage;
pub use missed::Missed;
pub(crate) use missed::WhyMissed;
pub(crate) use shared::ReadingLists;
pub use shared::{OpenContact, SharedReasons};
pub(crate) use tested::Tested;
pub use void::{Link, ReadingCoverage};
