//! The linear programs of a block: what they prove of its leakages, and leakages that show a bound to be the best.

mod block;
mod leakages;

pub(super) use block::{Block, Extreme, Healthy, NotSolved, Sum};
pub(super) use leakages::{is_at_least, is_at_most};
