//! Circuit-graph analysis for insulation-resistance testing.

#[cfg(feature = "cli")]
pub mod cli;
pub mod coverage;
pub mod input;
pub mod model;
pub mod network;
pub mod plan;
pub mod rules;
