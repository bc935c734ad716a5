//! What makes each load work, as text.

use super::layout::{Page, Tone};
use crate::model::Installation;
use crate::wiring::{Decided, DeviceAt, LoadWorks, Working, Works};

/// The text of `works`.
pub(in crate::cli) fn render(page: &mut Page, installation: &Installation, works: &Works) {
    page.heading(&format!("{}: what makes each load work", installation.name()));
    page.paragraph(
        0,
        2,
        "With the supply on and every device of a board on, read off the file. It tells whether the file says what is on \
         the wall, and nothing of insulation.",
    );
    if works.loads.is_empty() {
        page.paragraph(0, 2, "There are no loads here.");
    }
    for (id, circuit) in installation.circuits() {
        let of_circuit = |load: &&LoadWorks| {
            installation.point_by_id(&load.point).is_some_and(|point| installation.point(point).circuit() == id)
        };
        let loads: Vec<&LoadWorks> = works.loads.iter().filter(of_circuit).collect();
        if loads.is_empty() {
            continue;
        }
        page.heading(&match circuit.name() {
            name if name == circuit.id() => name.to_owned(),
            name => format!("{} {name}", circuit.id()),
        });
        let told = |load: &LoadWorks, number| (load.what(), load.words(circuit.id(), number));
        for alike in loads.chunk_by(|one, other| told(one, Number::One) == told(other, Number::One)) {
            let names: Vec<&str> = alike.iter().map(|load| load.point.as_str()).collect();
            let (what, words) = told(alike[0], if names.len() == 1 { Number::One } else { Number::Several });
            let tone = match alike[0].works {
                Working::Never | Working::NotWorkedOut => Tone::Doubtful,
                Working::Always | Working::Depends => Tone::Plain,
            };
            page.toned(tone, 0, "- ", 2, &format!("{} ({what}): {words}", names.join(", ")));
        }
    }
}

/// Whether one load is spoken of or several.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Number {
    One,
    Several,
}

impl Number {
    fn of<'w>(self, one: &'w str, several: &'w str) -> &'w str {
        if self == Number::One { one } else { several }
    }
}

impl LoadWorks {
    /// What it is: its kind, and which of several loads of a point.
    fn what(&self) -> String {
        match self.between.each_ref().map(String::as_str) {
            ["L" | "Lfront", "N"] | ["A1", "A2"] => self.kind.clone(),
            [one, other] => format!("{}, {one} to {other}", self.kind),
        }
    }

    fn words(&self, circuit: &str, number: Number) -> String {
        let works = number.of("works", "work");
        let mut words = match self.works {
            Working::Always => format!("always {works}"),
            Working::Never => format!("never {works}, wherever the switches stand"),
            Working::NotWorkedOut => "too much bears on it to work out when it works".to_owned(),
            Working::Depends => self.depends(number),
        };
        if !self.through.is_empty() {
            let lets = if self.through.len() == 1 { "lets" } else { "let" };
            words += &format!(", as {} {lets} {}", listed(&self.through), number.of("it", "them"));
        }
        // A line to the neutral of its own circuit, or the two ends of its source, is what one expects.
        let is_usual = match &self.conductors[..] {
            [line, other] => (line.starts_with('L') && other == "N") || line.contains('.'),
            others => others.is_empty(),
        };
        if !is_usual {
            words += &format!("; between {}", listed(&self.conductors));
        }
        if self.circuits.iter().any(|fed_by| fed_by != circuit) {
            words += &format!("; fed by {}", listed(&self.circuits));
        }
        words
    }

    /// On what it depends.
    fn depends(&self, number: Number) -> String {
        let Decided { while_all, turned_by, cases } = &self.decided;
        let (works, them) = (number.of("works", "work"), number.of("it", "them"));
        let at = |at: &DeviceAt| {
            let own =
                if at.device == self.point { number.of("its own switch", "their own switch") } else { &at.device };
            in_words(own, &at.positions)
        };
        let all = |all: &Vec<DeviceAt>| listed(&all.iter().map(at).collect::<Vec<_>>());
        let rest = if let [only] = &turned_by[..] {
            format!("{only} turns {them}")
        } else if !turned_by.is_empty() {
            let others = if turned_by.len() == 2 { "the other does" } else { "the others do" };
            format!("{} each turn {them}, whatever {others}", listed(turned_by))
        } else if !cases.is_empty() {
            format!("{works} while {}", cases.iter().map(all).collect::<Vec<_>>().join("; or while "))
        } else {
            let is_other = |device: &&String| while_all.iter().all(|at| at.device != **device);
            let others: Vec<String> = self.devices.iter().filter(is_other).cloned().collect();
            if others.is_empty() {
                return format!("{works} while {}", all(while_all));
            }
            format!("{works} in more cases than can be listed, by {}", listed(&others))
        };
        if while_all.is_empty() { rest } else { format!("while {}: {rest}", all(while_all)) }
    }
}

/// A device in one of some positions.
fn in_words(device: &str, positions: &[String]) -> String {
    match positions.iter().map(String::as_str).collect::<Vec<_>>()[..] {
        [only @ ("on" | "off" | "released" | "straight" | "crossed")] => format!("{device} is {only}"),
        ["held-in"] => format!("{device} is held in"),
        _ => format!("{device} is in position {}", positions.join(" or ")),
    }
}

/// `A`, `A and B`, `A, B and C`.
fn listed(names: &[String]) -> String {
    match names.split_last() {
        Some((last, [])) => last.clone(),
        Some((last, first)) => format!("{} and {last}", first.join(", ")),
        None => String::new(),
    }
}
