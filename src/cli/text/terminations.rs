//! What is under each terminal, as text.

use super::layout::Page;
use crate::model::Installation;
use crate::wiring::{BoxTerminations, CoreUnder, Terminations};

/// The text of `terminations`.
pub(in crate::cli) fn render(page: &mut Page, installation: &Installation, terminations: &Terminations) {
    for row in &terminations.boxes {
        page.heading(&heading(installation, row));
        for terminal in &row.terminals {
            let mut under: Vec<String> = terminal.cores.iter().map(CoreUnder::words).collect();
            if !terminal.linked_to.is_empty() {
                under.push(format!("a link to {}", terminal.linked_to.join(", ")));
            }
            let under = if under.is_empty() { "nothing".to_owned() } else { under.join("; ") };
            page.after(0, "- ", 2, &format!("{}: {under}", terminal.terminal));
        }
        if !row.loose.is_empty() {
            let loose: Vec<String> = row.loose.iter().map(CoreUnder::words).collect();
            page.after(0, "- ", 2, &format!("under no terminal: {}", loose.join("; ")));
        }
    }
}

fn heading(installation: &Installation, row: &BoxTerminations) -> String {
    let location = row.location.as_deref().and_then(|id| installation.location_by_id(id));
    let mut heading = format!("{}, {}", row.id, row.kind);
    if let Some(location) = location {
        heading += &format!(", {}", installation.location(location).name());
    }
    if let Some(plate) = &row.plate {
        heading += &format!(", plate {plate}");
    }
    heading
}

impl CoreUnder {
    fn words(&self) -> String {
        let to = match &self.to {
            Some(to) => format!("to {to}"),
            None => format!("to nothing at {}", self.runs_to),
        };
        format!("{} {}, {to}", self.length, self.core)
    }
}
