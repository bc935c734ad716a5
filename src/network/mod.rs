//! The graph: terminals, cores, contacts, bridges, roles and pairs.
//!
//! Everything joined for good (cores, links, bars, earth) is first contracted into **bodies** of copper; contacts and
//! bridges are the edges between bodies. Most installations have far fewer bodies than terminals, since every earth
//! terminal is one body and so is every neutral on one bar, and no reading ever walks through them again.
//! petgraph stays private in here.

mod asked;
mod build;
mod column;
mod feeding;
mod graph;
mod lists;
mod obstacle;
mod pairs;
mod reach;
mod terminals;
mod version;

pub(crate) use asked::{AskedOfBoard, CountsFor};
pub use column::{Column, Neither, column};
pub(crate) use column::{is_earth, own_conductor};
pub(crate) use feeding::{FedByBoards, Feeding, Isolation};
pub(crate) use graph::{Body, Bridge, BridgeIndex, Device, DeviceIndex, Edge};
pub use graph::{Network, PairClass, PairId, Role};
pub(crate) use lists::Lists;
pub use obstacle::Obstacle;
pub use pairs::{Need, PairCore};
pub(crate) use reach::{PathStep, PathsTo, Reach};
pub(crate) use version::Version;
