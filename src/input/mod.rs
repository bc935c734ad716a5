//! Reading installations, test sets and rulesets from TOML or JSON, with every error in a file found in one go.
//!
//! A text goes through three stages: it becomes a tree of values that know their places, the tree becomes a
//! [draft](crate::model::InstallationDraft) while keys and types are checked, and the draft is
//! [built](crate::model::InstallationDraft::build) while names and terminals are. Each stage goes on around what is
//! broken or lost, and says nothing of what only follows from it.

mod error;
mod form;
mod found;
mod installation;
mod json;
mod locate;
mod node;
mod read;
mod reader;
mod ruleset;
mod run;
#[cfg(feature = "schema")]
mod schema;
mod standard;
mod test_set;
mod text;
mod toml;

pub use error::{Document, InputError, InputErrors, InputFault, Language, Place, Type};
pub use form::{FillError, append_passes, empty_test_set, expand_runs, fill_values};
pub use read::{look_over_test_set, read_installation, read_record, read_ruleset, read_test_set};
#[cfg(feature = "schema")]
pub use schema::json_schema;
pub use standard::Standard;
pub use test_set::Purpose;
pub use text::Input;
pub use toml::Slip;
