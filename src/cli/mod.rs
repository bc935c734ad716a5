//! The `lengthwise` command: arguments, exit status and text for a terminal, over the library's public API.

mod arguments;
mod coverage_text;
pub mod diagnostics;
mod extras_text;
mod judge_csv;
mod judge_text;
mod layout;
mod locate_text;
mod plan_text;
mod prepare_text;
mod proof_text;
mod rules_text;
mod run;
mod untestable_text;
mod watching;

pub use run::run;
