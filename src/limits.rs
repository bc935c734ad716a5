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

impl Limits {
    /// The same with every budget of planning and of finding where insulation leaks times a factor: above 1 more is
    /// proven and planned, and it takes longer; below 1 the other way round. Sizes that memory or a format sets stay,
    /// and so do those of files and of tables.
    ///
    /// # Examples
    ///
    /// ```
    /// let limits = lengthwise::Limits::default();
    /// let more = limits.clone().with_effort(4.0);
    /// assert_eq!(more.plan.cover_nodes, 4 * limits.plan.cover_nodes);
    /// assert_eq!(more.plan.exact_stops, limits.plan.exact_stops);
    /// ```
    #[must_use]
    #[cfg(any(feature = "plan", feature = "locate"))]
    pub fn with_effort(mut self, factor: f64) -> Limits {
        #[cfg(feature = "plan")]
        {
            self.plan = self.plan.with_effort(factor);
        }
        #[cfg(feature = "locate")]
        {
            self.locate = self.locate.with_effort(factor);
        }
        self
    }
}
