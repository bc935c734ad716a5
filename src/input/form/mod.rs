//! Texts of files made of others: passes put behind those of a test set, values put into it, all else to the letter; an
//! installation with its runs expanded.

mod append;
mod expand;
mod fill;

pub use append::{append_passes, empty_test_set};
pub use expand::expand_runs;
pub use fill::{FillError, fill_values};
