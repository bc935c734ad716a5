//! What can be wrong with an installation or a test set, where, and what to do about it.

mod error;
mod mend;
mod names;
mod path;
mod trade;

pub use error::{ModelError, ModelErrors, ModelFault, NotOperable, Quantity};
pub(crate) use mend::{either, list};
pub(crate) use names::Nearest;
pub use names::{NameFault, Named};
pub(super) use names::{RESERVED_CORES, RESERVED_GROUPS, RESERVED_POSITIONS, name_fault};
pub use path::{DocumentPath, Part, Segment};
pub(super) use trade::kind_of_the_trade;
