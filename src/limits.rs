//! Sizes, budgets and thresholds, in one value that a caller may set.
//!
//! Budgets are counts of work, never times, so that a slow machine gives the same answer as a fast one. What a question
//! claims past a limit is less, never more; the tests run the same laws at tiny limits.

use crate::model::InputLimits;

/// Sizes, budgets and thresholds of all questions. [`Network::with_limits`](crate::Network::with_limits) sets those of
/// what is asked of a network, [`Input::within`](crate::Input::within) those of reading a text.
#[derive(Clone, Debug, Default, PartialEq)]
#[non_exhaustive]
pub struct Limits {
    /// Of reading files.
    pub input: InputLimits,
    /// Of finding where insulation leaks.
    #[cfg(feature = "locate")]
    pub locate: crate::locate::LocateLimits,
    /// Of planning.
    #[cfg(feature = "plan")]
    pub plan: crate::plan::PlanLimits,
    /// How large the tables of readings may get.
    pub tables: crate::reading::TableLimits,
}
