//! What one reading does in one state of the installation: whether it is void, what it tests, which positions it puts
//! under test. And what is asked of readings before that: how everything stands, and which readings can be taken where.

mod condition;
mod configuration;
mod diagram;
mod explore;
mod leads;
mod limits;
mod live;
mod planned;
mod probe;
mod region;
mod report;
mod subgraph;
mod tables;

pub use limits::TableLimits;
pub use probe::Void;
pub use report::{
    BridgeReport, CircuitReport, ContactReport, CoreReport, DeviceReport, InstallationReport, NetworkReport,
    PairReport, SourceReport,
};

pub(crate) use condition::{Condition, Digit, combinations};
pub(crate) use configuration::{Conduct, Configuration, DeviceState, Electronics, FreeDevices, Replay};
pub(crate) use diagram::{Case, Diagram};
pub(crate) use leads::{LeadBodies, Side};
pub(crate) use planned::{CandidateReading, candidates, candidates_of};
pub(crate) use probe::{Probe, Probed, VoidReading, When};
pub(crate) use subgraph::{BodyPlace, Subgraph, SubgraphEnd};
