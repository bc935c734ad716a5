//! What is still to be tested: where it starts, what a walk may do with each device, requirements, clusters, stops.

pub(in crate::plan) mod choices;
pub(in crate::plan) mod cluster;
pub(in crate::plan) mod remaining;
pub(in crate::plan) mod requirement;
pub(in crate::plan) mod setup;
pub(in crate::plan) mod stops;
pub(in crate::plan) mod switches;
pub(in crate::plan) mod testers;
pub(in crate::plan) mod visits;
