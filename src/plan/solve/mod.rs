//! The fewest walks, operations and stops of a cluster, by one of two engines behind [`Engine`].
//!
//! [`ListingEngine`](listing::ListingEngine) lists the settings of a cluster, up to 65,536, and searches over their
//! numbers. The engine in [`large`] asks a SAT solver, for clusters of any size. Two, for what neither does alone:
//!
//! - Only the listing engine gives all ways of equally few operations (`equal_ways`), by which clusters come to share
//!   stops, and plans to be compared by metres. To do without it, the SAT engine would have to enumerate those ways.
//! - On small clusters listing is several times the faster, and most clusters are small: `benches/cluster.rs` gives the
//!   ratio of the two for each shape. Settings double with each device, so that the lead is lost in large ones.
//! - Only the SAT engine has no bound on size.
//!
//! What both need exists once: orders of settings ([`order`]), costs and ways ([`engine`]), the composing of
//! clusters (`schedule::compose`), the certificates of conflicts (`proof`).

mod away;
pub(in crate::plan) mod engine;
pub(in crate::plan) mod large;
pub(in crate::plan) mod listing;
pub(in crate::plan) mod order;
pub(in crate::plan) mod settings_search;
pub(in crate::plan) mod walk_search;
