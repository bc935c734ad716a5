//! The command `check`.

use serde::Serialize;

use super::arguments::Files;
use super::files::{read, with_or_without_tests};
use super::text;
use super::text::coverage::core_list;
use super::text::layout::{Page, count, metres};
use crate::input::{Input, InputError, InputErrors, Purpose};
use crate::input::{look_over_test_set, read_installation, read_test_set};
use crate::model::Installation;
use crate::network::Network;

/// The text of `check`, of files in which nothing is wrong.
pub(super) fn text(files: &Files) -> Result<String, String> {
    let (installation, tests) = with_or_without_tests(files)?;
    let mut page = Page::default();
    let total: f64 = installation.lengths().map(|(_, length)| length.metres().0).sum();
    page.paragraph(
        0,
        2,
        &format!(
            "{}: no errors; {}, {}, {}, {}, {}",
            files.installation.display(),
            count(installation.boards().len(), "board"),
            count(installation.circuits().len(), "circuit"),
            count(installation.points().len(), "point"),
            count(installation.lengths().len(), "length"),
            metres(total),
        ),
    );
    if let (Some(path), Some(tests)) = (&files.test_set, tests) {
        let readings = tests.passes().iter().map(|pass| pass.readings().len()).sum();
        let passes = match tests.passes().len() {
            1 => "1 pass".to_owned(),
            passes => format!("{passes} passes"),
        };
        page.paragraph(0, 2, &format!("{}: no errors; {passes}, {}", path.display(), count(readings, "reading")));
    }
    let cores = CoresWithoutRole::of(installation);
    text::coverage::without_role(&mut page, &cores.without_role);
    if !cores.spare.is_empty() {
        page.heading("Spare");
        let text = format!("Cores that have no role and end nowhere: {}.", core_list(&cores.spare));
        page.paragraph(0, 2, &text);
    }
    Ok(page.into_text())
}

/// The cores for which no test is asked, as [length, core].
#[derive(Default, Serialize)]
struct CoresWithoutRole {
    /// Connected at both ends.
    without_role: Vec<[String; 2]>,
    /// Not connected at both ends.
    spare: Vec<[String; 2]>,
}

impl CoresWithoutRole {
    fn of(installation: Installation) -> CoresWithoutRole {
        let network = Network::of(installation);
        CoresWithoutRole {
            without_role: network.core_names(network.cores_without_role()),
            spare: network.core_names(network.spare_cores()),
        }
    }
}

/// What `check --json` prints; no paths, so that the same files give the same bytes wherever they lie.
#[derive(Serialize)]
pub(super) struct CheckReport {
    format: u32,
    installation: Vec<ErrorReport>,
    /// Null where there is no test set, or where the installation has errors and none was found in the test set by
    /// itself.
    test_set: Option<Vec<ErrorReport>>,
    /// Of an installation without errors.
    #[serde(flatten)]
    cores: Option<CoresWithoutRole>,
}

impl CheckReport {
    pub(super) fn of(files: &Files) -> Result<CheckReport, String> {
        let bytes = read(&files.installation)?;
        let tests = match &files.test_set {
            Some(path) => Some((path.to_string_lossy(), read(path)?)),
            None => None,
        };
        let installation = read_installation(Input::file(&files.installation.to_string_lossy(), &bytes));
        let test_set = tests.and_then(|(name, bytes)| match &installation {
            Ok(installation) => {
                let errors = read_test_set(Input::file(&name, &bytes), installation).err();
                Some(errors.as_ref().map(error_reports).unwrap_or_default())
            }
            Err(_) => {
                look_over_test_set(Input::file(&name, &bytes), Purpose::Coverage).err().as_ref().map(error_reports)
            }
        });
        let (cores, installation) = match installation {
            Ok(installation) => (Some(CoresWithoutRole::of(installation)), Vec::new()),
            Err(errors) => (None, error_reports(&errors)),
        };
        Ok(CheckReport { format: 1, installation, test_set, cores })
    }

    pub(super) fn is_right(&self) -> bool {
        self.installation.is_empty() && self.test_set.as_ref().is_none_or(Vec::is_empty)
    }
}

#[derive(Serialize)]
struct ErrorReport {
    line: Option<usize>,
    column: Option<usize>,
    error: String,
    mend: String,
}

fn error_reports(errors: &InputErrors) -> Vec<ErrorReport> {
    let report = |error: &InputError| ErrorReport {
        line: error.place.map(|place| place.line),
        column: error.place.map(|place| place.column),
        error: error.to_string(),
        mend: error.mend(),
    };
    errors.errors().iter().map(report).collect()
}
