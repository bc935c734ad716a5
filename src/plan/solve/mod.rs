//! The fewest walks, operations and stops of a cluster.

pub(in crate::plan) mod large;
pub(in crate::plan) mod settings_search;
pub(in crate::plan) mod walk_search;
