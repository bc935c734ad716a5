//! The form that a person fills in: passes put behind those of a test set, and values put into it, all else to the letter.

mod append;
mod fill;

pub use append::append_passes;
pub use fill::{FillError, fill_values};
