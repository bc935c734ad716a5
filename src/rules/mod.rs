//! What the standards ask: the test voltage of a circuit, and the cautions.

mod cautions;
mod voltage;

pub use cautions::CAUTIONS;
pub use voltage::test_voltage;
