//! Circuit-graph analysis for insulation-resistance testing.

pub mod model;
