//! What to isolate, take out, switch and prove before the readings of each circuit, from the graph.

mod across;
mod preparation;
mod step;

pub use preparation::{CircuitPreparation, Preparation};
pub use step::{Action, Caution, IsolateAt, LeadsProved, Obstacle, Step, TestBefore, WhyOff};
