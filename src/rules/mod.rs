//! What the standards ask: test voltages and least values as rulesets, each value with its source; and the cautions.
//!
//! A ruleset is a value. The rulesets in the package ([`Standard`](crate::Standard)) are data files, read by the same
//! reader as files of a person's own ([`read_ruleset`](crate::read_ruleset)).

mod cautions;
mod not_corrected;
mod ruleset;

pub use cautions::CAUTIONS;
pub use not_corrected::NOT_CORRECTED;
pub use ruleset::{Note, Relief, Row, RowValue, Ruleset, Source, Threshold, WithEquipment};
