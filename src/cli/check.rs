//! The command `check`.

use serde::Serialize;

use super::arguments::Files;
use super::files::FileReader;
use super::text;
use super::text::coverage::core_list;
use super::text::judge::some_readings;
use super::text::layout::{Page, Tone, count, metres};
use crate::input::{InputError, InputErrors, Purpose};
use crate::input::{look_over_test_set, read_installation, read_test_set};
use crate::model::{Installation, Pass, RunPart, TestSet};
use crate::network::Network;
use crate::wiring::{Warning, warnings};

/// So many warnings at the most are shown as text.
const MOST_WARNINGS: usize = 30;

/// The text of `check`, of files in which nothing is wrong.
pub(super) fn render(
    page: &mut Page,
    files: &Files,
    installation: &Installation,
    tests: Option<TestSet>,
    noticed: &Noticed,
) {
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
        let missing = without_value(&tests);
        if !missing.is_empty() {
            page.paragraph(
                0,
                2,
                &format!("{} without a value yet: {}", count(missing.len(), "reading"), some_readings(&missing)),
            );
        }
    }
    if !noticed.warnings.is_empty() {
        page.heading("Warnings");
        page.paragraph(
            0,
            2,
            "It may be right so. What is meant can be allowed in the file: `[[allow]]`, see FORMAT.md.",
        );
    }
    for Warning { code, text, .. } in noticed.warnings.iter().take(MOST_WARNINGS) {
        page.toned(Tone::Doubtful, 0, "- ", 2, &format!("{text} [{}]", code.name()));
    }
    if let Some(more @ 1..) = noticed.warnings.len().checked_sub(MOST_WARNINGS) {
        page.paragraph(0, 2, &format!("And {}.", count(more, "further warning")));
    }
    text::coverage::without_role(page, &noticed.without_role);
    if !noticed.spare.is_empty() {
        page.heading("Spare");
        let text = format!("Cores that have no role and end nowhere: {}.", core_list(&noticed.spare));
        page.paragraph(0, 2, &text);
    }
}

/// Pass and number of each reading that has no value.
fn without_value(tests: &TestSet) -> Vec<[usize; 2]> {
    let of_pass = |(pass, row): (usize, &Pass)| -> Vec<[usize; 2]> {
        let missing = row.readings().iter().enumerate().filter(|(_, reading)| reading.megohms().is_none());
        missing.map(|(number, _)| [pass + 1, number + 1]).collect()
    };
    tests.passes().iter().enumerate().flat_map(of_pass).collect()
}

/// What is noticed in an installation without errors.
#[derive(Default, Serialize)]
pub(super) struct Noticed {
    /// Cores for which no test is asked though they are connected at both ends, as [length, core].
    without_role: Vec<[String; 2]>,
    /// The same of those that are not connected at both ends.
    spare: Vec<[String; 2]>,
    pub(super) warnings: Vec<Warning>,
}

impl Noticed {
    pub(super) fn of(network: &Network) -> Noticed {
        Noticed {
            without_role: network.core_names(network.cores_without_role()),
            spare: network.core_names(network.spare_cores()),
            warnings: warnings(network),
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
    noticed: Option<Noticed>,
}

impl CheckReport {
    pub(super) fn of(reader: &FileReader, files: &Files) -> Result<CheckReport, String> {
        let text = reader.text(&files.installation)?;
        let tests = files.test_set.as_ref().map(|path| reader.text(path)).transpose()?;
        let installation = read_installation(text.input());
        let test_set = tests.and_then(|text| match &installation {
            Ok(installation) => {
                let errors = read_test_set(text.input(), installation).err();
                Some(errors.as_ref().map(error_reports).unwrap_or_default())
            }
            Err(_) => look_over_test_set(text.input(), Purpose::Coverage).err().as_ref().map(error_reports),
        });
        let (noticed, installation) = match installation {
            Ok(installation) => (Some(Noticed::of(&Network::of(installation))), Vec::new()),
            Err(errors) => (None, error_reports(&errors)),
        };
        Ok(CheckReport { format: 1, installation, test_set, noticed })
    }

    pub(super) fn warns(&self) -> bool {
        self.noticed.as_ref().is_some_and(|noticed| !noticed.warnings.is_empty())
    }

    pub(super) fn is_right(&self) -> bool {
        self.installation.is_empty() && self.test_set.as_ref().is_none_or(Vec::is_empty)
    }
}

#[derive(Serialize)]
struct ErrorReport {
    line: Option<usize>,
    column: Option<usize>,
    code: &'static str,
    error: String,
    mend: String,
    /// The step or stop of a run that it is in, or in what that came to.
    #[serde(skip_serializing_if = "Option::is_none")]
    from: Option<RunPart>,
}

fn error_reports(errors: &InputErrors) -> Vec<ErrorReport> {
    let report = |error: &InputError| ErrorReport {
        line: error.place.map(|place| place.line),
        column: error.place.map(|place| place.column),
        code: error.code(),
        error: error.to_string(),
        mend: error.mend(),
        from: error.from.as_deref().cloned(),
    };
    errors.errors().iter().map(report).collect()
}
