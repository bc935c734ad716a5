//! The graph: terminals, cores, contacts, bridges, roles and pairs.
//!
//! Everything joined for good (cores, links, bars, earth) is first contracted into **bodies** of copper; contacts and
//! bridges are the edges between bodies. Most installations have far fewer bodies than terminals, since every earth
//! terminal is one body and so is every neutral on one bar, and no reading ever walks through them again.
//! petgraph stays private in here.

mod build;
mod condition;
mod graph;
mod group;
mod pairs;
mod part;
mod region;
mod report;
mod sighting;
mod standing;

pub use graph::{Network, PairClass, PairId, Role};
pub use pairs::{Need, PairCore};
pub use report::{
    BridgeReport, CircuitReport, ContactReport, CoreReport, DeviceReport, InstallationReport, NetworkReport,
    PairReport, SourceReport,
};

pub(crate) use condition::{Condition, Digit, combinations};
pub(crate) use graph::{Body, BridgeIndex, DeviceIndex, Edge, Lists};
pub(crate) use part::{Part, PartEdge, PartEnd, Place};
pub(crate) use region::{Counts, LeadBodies, Region, Scout, Side};
pub(crate) use sighting::{Opposite, Sighting, as_numbered};
pub(crate) use standing::{Stand, Standing};
