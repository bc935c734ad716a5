//! What a plan is asked for.

use crate::network::Need;

/// What a plan is asked for. [`Wishes::default`] is what the command asks for without any option.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[non_exhaustive]
pub struct Wishes {
    /// Which pairs need a test.
    pub need: Need,
    /// How clusters of devices that bear on one another are searched.
    pub search: SearchBy,
}

/// How clusters of devices that bear on one another are searched. The answers are the same; the time is not, nor which of
/// several plans as good is given.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum SearchBy {
    /// Up to 65,536 settings by listing them, 64 to a machine word; larger clusters by asking a solver.
    #[default]
    Size,
    /// Every cluster by asking a solver. For checking one search by the other.
    Solver,
}

impl From<Need> for Wishes {
    fn from(need: Need) -> Wishes {
        Wishes { need, ..Wishes::default() }
    }
}
