//! The fewest switch operations still needed, round by round, with bounds and proofs.

mod answer;
mod estimate;
mod limits;
mod naming;
mod pipeline;
mod problem;
mod proof;
mod request;
mod schedule;
mod solve;
mod start;
mod to_pass;
mod untestable;

pub use answer::{
    Bounds, Estimate, Extra, ExtraTotals, Extras, FoundPosition, IfKnown, Operation, Optimal, OtherPeople, Pace, Plan,
    PlannedReading, Remedy, RemedyStep, Round, SwitchPosition, Totals, UntestablePair, Unworked, WalkLength,
};
pub use limits::PlanLimits;
pub use problem::switches::WhyUnworked;
pub use proof::certificate::{
    Exclusion, OperationsPart, PositionConflict, StartPositions, UnsatisfiableCore, WhyNoFewerOperations,
    WhyNoFewerWalks, WhyOperations,
};
pub use request::{Afterwards, ExtraKind, LeadJoining, People, Priority, Request, RequestError, SearchBy, SwitchWork};
pub use start::PlanStart;
pub use untestable::why::Untestable;
