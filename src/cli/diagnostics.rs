//! Errors in files.
use crate::input::InputErrors;
pub(super) fn render(errors: &InputErrors) -> String {
    format!("{errors}\n")
}
