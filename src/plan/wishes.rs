//! What a plan is asked for.

use crate::network::Need;

/// What a plan is asked for. [`Wishes::default`] is what the command asks for without any option.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[non_exhaustive]
pub struct Wishes {
    /// Which pairs need a test.
    pub need: Need,
}

impl From<Need> for Wishes {
    fn from(need: Need) -> Wishes {
        Wishes { need, ..Wishes::default() }
    }
}
