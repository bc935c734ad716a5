//! The fewest switch operations still needed, round by round, with bounds and proofs.

mod if_known;
mod limits;
mod making;
mod observer;
mod planner;
mod problem;
mod proof;
mod report;
mod request;
mod schedule;
mod solve;
mod untestable;

pub use if_known::IfKnown;
pub use limits::PlanLimits;
pub use observer::{Observer, Progress, Stage, Unwatched};
pub use planner::{Operation, Plan, PlannedReading, Round, UntestablePair};
pub use problem::requirement::Untestable;
pub use problem::switches::{Unworked, WhyUnworked};
pub use proof::certificate::{
    Apart, Core, Exclusion, OperationsPart, Required, Stands, WhyNoFewerOperations, WhyNoFewerWalks, WhyOperations,
};
pub use proof::report::{
    ApartReport, CoreReport, ExclusionReport, OperationsPartReport, OperationsProofReport, PartProofReport, ProofReport,
};
pub use report::{
    BoundsReport, ExtraReport, ExtraTotalsReport, ExtrasReport, IfKnownReport, OperationReport, OptimalReport,
    PlanReport, PlannedReadingReport, ReasonReport, RoundReport, TotalsReport, UntestableReport, UnworkedReport,
    WalkReport,
};
pub use request::{
    Afterwards, ExtraKind, LeadJoining, Priority, Request, RequestError, Restriction, SearchBy, SwitchWork,
};
pub use schedule::tour::Tour;
pub use untestable::extra::{Extra, Extras};
pub use untestable::preparation::{Obstacle, obstacles};
pub use untestable::remedy::{Remedy, RemedyStep};
