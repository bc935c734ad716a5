//! Text for a terminal of 80 columns, from the same answers that `--json` prints.

pub(super) mod coverage;
pub(super) mod judge;
pub(super) mod layout;
pub(super) mod locate;
pub(super) mod network;
pub(super) mod plan;
pub(super) mod prepare;
pub(super) mod rules;
