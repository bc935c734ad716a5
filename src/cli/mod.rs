//! The `lengthwise` command: arguments, exit status and text for a terminal, over the library's public API.

mod arguments;
pub mod diagnostics;
mod judge_csv;
mod run;
mod text;
mod watching;

pub use run::run;
