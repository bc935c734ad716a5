//! What to isolate, take out, switch and prove before the readings of each circuit, from the graph.

mod accessories;
mod across;
mod isolation;
mod preparation;
mod readings;
mod ring;
mod step;
mod surroundings;

pub use preparation::{CircuitPreparation, OpenedPreparation, Preparation};
pub use step::{Action, Caution, InTheWay, IsolateAt, LeadsProved, Operated, Step, TestBefore, WhyIsolated, WhyOff};
