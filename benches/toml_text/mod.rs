//! Generated drafts as the TOML that a person would write: a table for each thing, the cores of a length on one line.

use std::fmt::Write;

use lengthwise::model::{InstallationDraft, TestSetDraft};

/// Texts of the drafts hold nothing that TOML would escape.
fn quoted(text: &str) -> String {
    assert!(!text.contains(['"', '\\']) && !text.contains(char::is_control));
    format!("\"{text}\"")
}

fn list<'t>(texts: impl IntoIterator<Item = &'t String>) -> String {
    format!("[{}]", texts.into_iter().map(|text| quoted(text)).collect::<Vec<_>>().join(", "))
}

struct Page(String);

impl Page {
    fn table(&mut self, name: &str) {
        writeln!(self.0, "\n[[{name}]]").expect("text grows");
    }

    fn line(&mut self, key: &str, value: impl std::fmt::Display) {
        writeln!(self.0, "{key} = {value}").expect("text grows");
    }

    fn text(&mut self, key: &str, value: &str) {
        self.line(key, quoted(value));
    }

    fn text_if_any(&mut self, key: &str, value: &Option<String>) {
        if let Some(value) = value {
            self.text(key, value);
        }
    }
}

/// The keys that the generator uses.
pub fn installation_text(draft: &InstallationDraft) -> String {
    let mut page = Page("format = 1\n\n[installation]\n".to_owned());
    page.text("name", &draft.installation.name);
    page.line("nominal_voltage", draft.installation.nominal_voltage.0);
    page.line("phases", draft.installation.phases.map_or(1, |phases| phases.lines().len()));
    for location in &draft.locations {
        page.table("location");
        page.text("id", &location.id);
        page.text_if_any("name", &location.name);
    }
    for passage in &draft.passages {
        page.table("passage");
        page.line("between", list(&passage.between));
        page.line("metres", format_args!("{:.1}", passage.metres.0));
    }
    for board in &draft.boards {
        page.table("board");
        page.text("id", &board.id);
        page.text_if_any("location", &board.location);
        if let Some(origin) = board.origin {
            page.line("origin", origin);
        }
        for group in &board.groups {
            page.table("board.group");
            page.text("id", &group.id);
            page.text("device", "rcd");
        }
        for way in &board.ways {
            page.table("board.way");
            page.text("id", &way.id);
            page.text("device", way.device.name());
            if let Some(rating) = way.rating {
                page.line("rating", rating);
            }
            if let Some(poles) = &way.poles {
                page.line("poles", list(poles));
            }
            page.text_if_any("group", &way.group);
        }
    }
    for circuit in &draft.circuits {
        page.table("circuit");
        page.text("id", &circuit.id);
        page.text_if_any("name", &circuit.name);
        page.text_if_any("way", &circuit.way);
    }
    for point in &draft.points {
        page.table("point");
        page.text("id", &point.id);
        page.text("kind", &point.kind);
        page.text_if_any("circuit", &point.circuit);
        page.text_if_any("location", &point.location);
        page.text_if_any("plate", &point.plate);
        if !point.terminals.is_empty() {
            page.line("terminals", list(&point.terminals));
        }
        page.text_if_any("lamp", &point.lamp.map(|lamp| lamp.name().to_owned()));
        for (key, value) in [("removable", point.removable), ("operable", point.operable)] {
            if let Some(value) = value {
                page.line(key, value);
            }
        }
        page.text_if_any("stands", &point.stands);
    }
    for length in &draft.lengths {
        page.table("length");
        page.text("id", &length.id);
        page.text_if_any("circuit", &length.circuit);
        page.text("from", &length.from);
        page.text("to", &length.to);
        page.text_if_any("cable", &length.cable);
        page.line("metres", format_args!("{:.1}", length.metres.0));
        let cores: Vec<String> = length.cores.iter().map(|(name, ends)| format!("{name} = {}", list(ends))).collect();
        page.line("cores", format_args!("{{ {} }}", cores.join(", ")));
    }
    page.0
}

/// The keys that the generator uses.
pub fn test_set_text(draft: &TestSetDraft) -> String {
    let mut page = Page("format = 1\n".to_owned());
    for pass in &draft.passes {
        page.table("pass");
        if !pass.operate.is_empty() {
            page.line("operate", list(&pass.operate));
        }
        for reading in &pass.readings {
            page.table("pass.reading");
            page.text_if_any("circuit", &reading.circuit);
            page.line("between", list(&reading.between));
            if let Some(volts) = reading.volts {
                page.line("volts", volts.0);
            }
        }
    }
    page.0
}
