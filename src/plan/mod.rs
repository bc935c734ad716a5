//! The fewest switch operations still needed, round by round, with bounds and proofs.

mod cluster;
mod cluster_proof;
mod colouring;
mod compose;
mod exclusion;
mod extra;
mod if_known;
mod joining;
mod large;
mod lists;
mod making;
mod naming;
mod nearest;
mod observer;
mod opening;
mod option;
mod planner;
mod preparation;
mod proof;
mod proof_report;
mod proving;
mod readings;
mod remedy;
mod report;
mod requirement;
mod selection;
mod settings_search;
mod setup;
mod sounding;
mod switches;
mod tour;
mod tour_search;
mod tree_walk;
mod walk_search;
mod wishes;

pub use extra::{Extra, Extras};
pub use if_known::IfKnown;
pub use observer::{Observer, Progress, Stage, Unwatched};
pub use planner::{Operation, Plan, PlannedReading, Round, Stop, UntestablePair};
pub use preparation::{Obstacle, obstacles};
pub use proof::{
    Apart, Core, Exclusion, OperationsPart, Required, Stands, WhyNoFewerOperations, WhyNoFewerWalks, WhyOperations,
};
pub use proof_report::{
    ApartReport, CoreReport, ExclusionReport, OperationsPartReport, OperationsProofReport, PartProofReport, ProofReport,
};
pub(crate) use readings::planned_readings;
pub use remedy::{Remedy, RemedyStep};
pub use report::{
    BoundsReport, ExtraReport, ExtraTotalsReport, ExtrasReport, IfKnownReport, OperationReport, OptimalReport,
    PlanReport, PlannedReadingReport, ReasonReport, RoundReport, TotalsReport, UntestableReport, UnworkedReport,
    WalkReport,
};
pub use requirement::Untestable;
pub use switches::{Unworked, WhyUnworked};
pub use tour::Tour;
pub use wishes::{Afterwards, ExtraSort, First, Limit, Readings, SearchBy, Switches, WishFault, Wishes};
