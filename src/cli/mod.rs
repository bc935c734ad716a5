//! The `lengthwise` command: arguments, exit status and text for a terminal, over the library's public API.

mod arguments;
mod check;
pub mod diagnostics;
mod explain;
mod files;
mod form_csv;
mod judge_csv;
mod output;
mod run;
mod terminal;
mod text;
mod watching;

pub use run::run;
