//! What can be wrong with an installation or a test set, where, and what to do about it.

mod error;
mod mend;
mod names;
mod part;
mod path;
mod run;
mod trade;

pub use error::{ModelError, ModelErrors, ModelFault, NotOperable, Quantity};
pub use names::{NameFault, Named};
pub(crate) use names::{Nearest, either, list};
pub(super) use names::{RESERVED_CORES, RESERVED_GROUPS, RESERVED_POSITIONS, name_fault};
pub use part::RunPart;
pub use path::{DocumentPath, Part, Segment};
pub use run::{Looped, RunFault};
pub(super) use trade::kind_of_the_trade;
