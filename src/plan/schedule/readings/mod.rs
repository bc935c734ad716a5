//! The readings of each round: which to take, leads joined otherwise where that makes them fewer, and in which rounds
//! sources are read at.

pub(in crate::plan) mod chosen;
pub(in crate::plan) mod colouring;
pub(in crate::plan) mod joining;
pub(in crate::plan) mod selection;
pub(in crate::plan) mod visits;
