//! Rulesets as text.

use super::layout::Page;
use crate::Standard;
use crate::model::{BetweenLive, ReliefReadings};
use crate::rules::{NOT_CORRECTED, Row, RowValue, Ruleset, Source};

/// The text of `rules`.
pub(in crate::cli) fn render(page: &mut Page, rulesets: &[&Ruleset]) {
    for ruleset in rulesets {
        let default = if ruleset.id() == Standard::default().id() { ", used where no other is named" } else { "" };
        page.heading(&format!("{}: {}{default}", ruleset.id(), ruleset.title()));
        for row in ruleset.rows() {
            page.after(0, "- ", 2, &format!("{}: {}", which(row), value(row)));
            from(page, &row.source);
        }
        if let Some(relief) = ruleset.relief() {
            page.after(
                0,
                "- ",
                2,
                &format!(
                    "where equipment can't be disconnected, and the circuit's `relief` says so: {} V d.c. will do, with at \
                     least {} MΩ{}",
                    relief.volts.0,
                    relief.megohms.0,
                    match relief.readings {
                        ReliefReadings::All => "",
                        ReliefReadings::ToEarth => "; with equipment left in, live conductors joined to earth only",
                    }
                ),
            );
            from(page, &relief.source);
        }
        if let Some(test) = ruleset.with_equipment() {
            let text = format!(
                "after equipment is connected: live conductors joined, to earth, at {} V d.c., at least {} MΩ",
                test.volts.0, test.megohms.0
            );
            page.after(0, "- ", 2, &text);
            from(page, &test.source);
        }
        if let Some(threshold) = ruleset.investigate_below() {
            page.after(0, "- ", 2, &format!("investigate what is below {} MΩ", threshold.megohms.0));
            from(page, &threshold.source);
        }
        if let Some(threshold) = ruleset.expected_above_when_new() {
            let text = format!("new work: expect more than {} MΩ, investigate what is not", threshold.megohms.0);
            page.after(0, "- ", 2, &text);
            from(page, &threshold.source);
        }
        for note in ruleset.notes() {
            page.after(0, "- ", 2, &format!("to know: {}", note.text));
            from(page, &note.source);
        }
    }
    page.heading("How they are used");
    for text in [
        "What is compared is the greatest nominal voltage between two live conductors of the circuit: of two or three lines \
         that is √3 times the voltage to neutral which the installation file gives.",
        "A reading of exactly the least value passes.",
        "A value marked FROM MEMORY was recalled, not read from the document. Check it there before you rely on it.",
        "Where your code asks for other values, write them in a ruleset of your own, and name it after `--rules`. Local \
         codes and licensed practice come first.",
    ] {
        page.after(0, "- ", 2, text);
    }
    not_corrected(page);
}

/// Why values are judged as they were written.
pub(in crate::cli) fn not_corrected(page: &mut Page) {
    for text in NOT_CORRECTED {
        page.after(0, "- ", 2, text);
    }
}

fn which(row: &Row) -> String {
    let systems: Vec<&str> = row.system.iter().map(|system| system.name()).collect();
    let systems = systems.join(", ");
    match (row.above, row.up_to) {
        (None, None) => systems,
        (Some(above), None) => format!("{systems}, above {} V", above.0),
        (None, Some(up_to)) => format!("{systems}, up to and including {} V", up_to.0),
        (Some(above), Some(up_to)) => format!("{systems}, above {} V, up to and including {} V", above.0, up_to.0),
    }
}

fn value(row: &Row) -> String {
    match &row.value {
        RowValue::Given { volts, megohms } => {
            let between_live = match row.between_live {
                BetweenLive::All => "",
                BetweenLive::Feeders => "; between live conductors only in circuits that feed a board",
                BetweenLive::None => "; not between live conductors",
            };
            format!("test at {} V d.c., at least {} MΩ{between_live}", volts.0, megohms.0)
        }
        RowValue::NotGiven { no_value } => format!("no value, so nothing is judged: {no_value}"),
    }
}

fn from(page: &mut Page, source: &Source) {
    let memory = if source.from_memory { "; FROM MEMORY, not read from the document" } else { "" };
    page.paragraph(4, 2, &format!("source: {}; edition: {}{memory}", source.source, source.edition));
}
