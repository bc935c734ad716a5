//! Clusters put together: the rounds, their readings, and the way from stop to stop.

pub(in crate::plan) mod chosen;
pub(in crate::plan) mod colouring;
pub(in crate::plan) mod compose;
pub(in crate::plan) mod home;
pub(in crate::plan) mod joining;
pub(in crate::plan) mod nearest;
pub(in crate::plan) mod operations;
pub(in crate::plan) mod rounds;
pub(in crate::plan) mod selection;
pub(in crate::plan) mod solution;
pub(in crate::plan) mod tour;
pub(in crate::plan) mod tour_search;
pub(in crate::plan) mod tree_walk;
