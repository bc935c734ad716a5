//! The fewest switch operations still needed, round by round, with bounds and proofs.

mod if_known;
mod making;
mod observer;
mod planner;
mod problem;
mod proof;
mod readings;
mod report;
mod schedule;
mod solve;
mod untestable;
mod wishes;

pub use if_known::IfKnown;
pub use observer::{Observer, Progress, Stage, Unwatched};
pub use planner::{Operation, Plan, PlannedReading, Round, Stop, UntestablePair};
pub use problem::requirement::Untestable;
pub use problem::switches::{Unworked, WhyUnworked};
pub use proof::certificate::{
    Apart, Core, Exclusion, OperationsPart, Required, Stands, WhyNoFewerOperations, WhyNoFewerWalks, WhyOperations,
};
pub use proof::report::{
    ApartReport, CoreReport, ExclusionReport, OperationsPartReport, OperationsProofReport, PartProofReport, ProofReport,
};
pub(crate) use readings::planned_readings;
pub use report::{
    BoundsReport, ExtraReport, ExtraTotalsReport, ExtrasReport, IfKnownReport, OperationReport, OptimalReport,
    PlanReport, PlannedReadingReport, ReasonReport, RoundReport, TotalsReport, UntestableReport, UnworkedReport,
    WalkReport,
};
pub use schedule::tour::Tour;
pub use untestable::extra::{Extra, Extras};
pub use untestable::preparation::{Obstacle, obstacles};
pub use untestable::remedy::{Remedy, RemedyStep};
pub use wishes::{Afterwards, ExtraSort, First, Limit, Readings, SearchBy, Switches, WishFault, Wishes};
