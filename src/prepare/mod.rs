//! What to isolate, take out, switch and prove before the readings of each circuit, from the graph.

mod across;
mod isolation;
mod preparation;
mod step;

pub use preparation::{CircuitPreparation, Preparation};
pub use step::{
    Action, Caution, IsolateAt, JoinedBy, LeadsProved, Obstacle, Operated, Step, TestBefore, WhyIsolated, WhyOff,
};
