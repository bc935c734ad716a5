//! Clusters put together: the rounds, their readings, and the way from stop to stop.

pub(in crate::plan) mod compose;
pub(in crate::plan) mod nearest;
pub(in crate::plan) mod one_way;
pub(in crate::plan) mod operations;
pub(in crate::plan) mod readings;
pub(in crate::plan) mod rounds;
pub(in crate::plan) mod solution;
pub(in crate::plan) mod tour;
