//! What no reading of a plan tests: why, which limits keep it so, what would change it.

pub(in crate::plan) mod extra;
pub(in crate::plan) mod opening;
mod trial;
pub(in crate::plan) mod why;
