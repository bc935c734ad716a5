//! The way of a round from stop to stop, where passages are given.

pub(in crate::plan) mod distances;
pub(in crate::plan) mod home;
pub(in crate::plan) mod search;
pub(in crate::plan) mod tree_walk;
