//! The fewest walks, operations and stops of a cluster, by one of two engines behind [`Engine`].
//!
//! [`ListingEngine`](listing::ListingEngine) lists the settings of a cluster, up to 65,536, and searches over their
//! numbers. The engine in [`large`] asks a SAT solver, for clusters of any size. Two, for what neither does alone:
//!
//! - Only the listing engine gives all ways of equally few operations (`equal_ways`), by which clusters come to share
//!   stops, and plans to be compared by metres; and it plans what is asked for each switch, beside pairs.
//! - Only the SAT engine has no bound on size.
//! - Where both do, neither is always the faster: `benches/cluster.rs` gives the ratio of the two for each shape.
//!
//! What both need exists once: orders of settings ([`order`]), costs and ways ([`engine`]), the composing of
//! clusters (`schedule::compose`), the certificates of conflicts (`proof`).

pub(in crate::plan) mod engine;
pub(in crate::plan) mod large;
pub(in crate::plan) mod listing;
pub(in crate::plan) mod order;
pub(in crate::plan) mod settings_search;
pub(in crate::plan) mod walk_search;
