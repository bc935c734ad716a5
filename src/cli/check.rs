//! The command `check`.

use super::arguments::Files;
use super::text;
use super::text::coverage::core_list;
use super::text::judge::some_readings;
use super::text::layout::{Page, Tone, count, metres};
use crate::model::{Installation, Pass, TestSet};
use crate::session::Noticed;
use crate::wiring::Warning;

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
