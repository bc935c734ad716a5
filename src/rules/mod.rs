//! What the standards ask: test voltages and least values as rulesets, each value with its source; and the cautions.
//!
//! The rulesets in the package ([`Standard`]) are data files, read by the same reader as files of a person's own
//! ([`read_ruleset`](crate::input::read_ruleset)).

mod built_in;
mod cautions;
mod not_corrected;
mod ruleset;
mod voltage;

pub use built_in::Standard;
pub use cautions::CAUTIONS;
pub use not_corrected::NOT_CORRECTED;
pub use ruleset::{Note, Relief, Row, RowValue, Ruleset, Source, Threshold};
pub(crate) use voltage::board_test_voltage;
pub use voltage::test_voltage;
