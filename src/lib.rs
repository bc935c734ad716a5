//! Circuit-graph analysis for insulation-resistance testing.

#[cfg(feature = "cli")]
pub mod cli;
pub mod input;
pub mod model;
