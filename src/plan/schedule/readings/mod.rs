//! The readings of each round: which to take, and leads joined otherwise where that makes them fewer.

pub(in crate::plan) mod chosen;
pub(in crate::plan) mod colouring;
pub(in crate::plan) mod joining;
pub(in crate::plan) mod selection;
