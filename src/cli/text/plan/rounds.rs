//! The rounds of a plan: operations and readings as steps.

use super::super::coverage::circuit_title;
use super::super::layout::{Page, count, metres, volts_in_words};
use super::sheet::{OF_ANOTHER, Sheet, by_cores};
use super::summary::in_hours;
use crate::model::{Circuit, PointId};
use crate::plan::{Operation, PlannedReading, Round, SwitchPosition};

pub(super) fn round(page: &mut Page, sheet: &Sheet<'_>, number: usize, round: &Round) {
    let minutes = sheet.plan.estimate.as_ref().and_then(|estimate| estimate.round_minutes.get(number - 1));
    let about = minutes.map_or_else(String::new, |&minutes| format!("; about {}", in_hours(minutes)));
    if round.operations.is_empty() {
        page.heading(&format!("Round {number}: as things stand{about}"));
    } else {
        let what = if round.readings.is_empty() { "; no reading" } else { "" };
        page.heading(&format!("Round {number}: {}{what}{about}", count(round.operations.len(), "operation")));
    }
    if let Some(walk) = round.walk {
        let order = if walk.shortest { "in this order, the shortest" } else { "in this order" };
        page.paragraph(0, 2, &format!("From the board past these stops and back: {}, {order}.", metres(walk.metres.0)));
    }
    operations(page, sheet, &round.operations);
    of_round(page, sheet, round);
}

/// For two people: what the one does who goes round, then what the other reads. They meet at each round that is read.
pub(super) fn two_lists(page: &mut Page, sheet: &Sheet<'_>) {
    let rounds = || (1..).zip(&sheet.plan.rounds);
    let (all, totals) = (sheet.plan.rounds.len(), sheet.plan.totals);
    if totals.operations > 0 {
        page.heading(&format!("Who goes round: {}", count(totals.operations, "operation")));
        page.paragraph(
            0,
            2,
            "Keep your hands off what is under test: operate nothing from what you say on until you hear \
             that it is read.",
        );
    }
    let begins_with_reading = sheet.plan.rounds.first().is_some_and(|round| round.operations.is_empty());
    if totals.operations > 0 && begins_with_reading {
        page.after(2, "[ ] ", 4, "Wait for \"round 1 is read\".");
    }
    for (number, round) in rounds().filter(|(_, round)| !round.operations.is_empty()) {
        let way = round.walk.map_or_else(String::new, |walk| format!(", {}", metres(walk.metres.0)));
        page.paragraph(0, 2, &format!("Round {number} of {all}{way}"));
        operations(page, sheet, &round.operations);
        let say = match heard(round).filter(|_| !round.readings.is_empty()) {
            Some(heard) => format!("Say \"{heard}\", and wait for \"round {number} is read\"."),
            None if number == all => "Say \"all is done\": there is nothing to read after it.".to_owned(),
            None => "Go on: there is nothing to read here.".to_owned(),
        };
        page.after(2, "[ ] ", 4, &say);
    }
    if totals.readings > 0 {
        page.heading(&format!("Who reads: {}", count(totals.readings, "reading")));
    }
    for (number, round) in rounds().filter(|(_, round)| !round.readings.is_empty()) {
        let minutes = sheet.plan.estimate.as_ref().and_then(|estimate| estimate.round_minutes.get(number - 1));
        let about = minutes.map_or_else(String::new, |&minutes| format!("; about {}", in_hours(minutes)));
        let when = match heard(round) {
            Some(heard) => format!("when you hear \"{heard}\", read"),
            None => "as things stand, read".to_owned(),
        };
        page.paragraph(0, 2, &format!("Round {number} of {all}: {when}{about}"));
        of_round(page, sheet, round);
        let say = format!("Let it discharge, take the leads off, and say \"round {number} is read\".");
        page.after(2, "[ ] ", 4, &say);
    }
}

/// What is said when the last operation before the readings is done.
fn heard(round: &Round) -> Option<String> {
    round.operations.last().map(|operation| match &operation.to {
        SwitchPosition::At(position) => format!("{} is over to {position}", operation.device),
        _ => format!("{} is over", operation.device),
    })
}

/// The readings of a round.
fn of_round(page: &mut Page, sheet: &Sheet<'_>, round: &Round) {
    let adds = if round.operations.is_empty() { Adds::Counted } else { Adds::Named };
    readings(page, sheet, &round.readings, adds, |circuit, planned| match circuit.way() {
        Some(way) if is_in_full(planned) => {
            format!("At board {}, its ways together", sheet.installation.board(way.board()).id())
        }
        Some(way) => format!("{}: {}", sheet.installation.way_name(way), circuit_title(circuit)),
        None => at_source(sheet, planned, circuit),
    });
}

/// Where a reading of a circuit without a way is taken.
pub(super) fn at_source(sheet: &Sheet<'_>, planned: &PlannedReading, circuit: &Circuit) -> String {
    match &planned.at {
        Some(id) => {
            let point = sheet.installation.point(sheet.point(id));
            let place = point.location().map(|location| sheet.installation.location(location).name());
            let place = place.map_or_else(String::new, |place| format!(" ({place})"));
            format!("Take the instrument to {id}{place}: {}", circuit_title(circuit))
        }
        None => circuit_title(circuit),
    }
}

/// How what a reading adds is told.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Adds {
    /// How many pairs.
    Counted,
    Named,
    /// Not where it is all that something was done for, which is named there.
    KnownOf(usize),
}

/// Readings as steps, each under where it is taken and at which voltage; where what they add is counted, side by side.
pub(super) fn readings(
    page: &mut Page,
    sheet: &Sheet<'_>,
    readings: &[PlannedReading],
    adds: Adds,
    place: impl Fn(&Circuit, &PlannedReading) -> String,
) {
    let mut at = None;
    let mut in_line: Vec<String> = Vec::new();
    let write = |page: &mut Page, in_line: &mut Vec<String>| {
        if !in_line.is_empty() {
            page.after(2, "", 0, &in_line.join("  "));
            in_line.clear();
        }
    };
    for planned in readings {
        let here = format!("{}; {}", place(sheet.circuit(&planned.circuit), planned), volts_in_words(planned.volts));
        if at.as_ref() != Some(&here) {
            write(page, &mut in_line);
            page.paragraph(0, 2, &here);
            at = Some(here);
        }
        let mut step = reading(sheet, planned);
        let added = added(planned, adds);
        let warning = warning(sheet, planned);
        if adds == Adds::Counted && warning.is_none() && !is_in_full(planned) {
            in_line.push(format!("[ ] {step} ({added})").replace(' ', "\u{a0}"));
        } else {
            write(page, &mut in_line);
            if !added.is_empty() {
                step.push_str(&format!("  {added}"));
            }
            page.after(2, "[ ] ", 4, &step);
            if let Some(warning) = warning {
                page.after(6, "! ", 2, &warning);
            }
        }
    }
    write(page, &mut in_line);
}

/// Operations as steps, stop by stop.
pub(super) fn operations(page: &mut Page, sheet: &Sheet<'_>, operations: &[Operation]) {
    let installation = sheet.installation;
    if operations.iter().any(|operation| matches!(operation.to, SwitchPosition::Other | SwitchPosition::Next(_))) {
        page.paragraph(0, 2, "`Once` and `on`: however it stands.");
    }
    for at_stop in operations.chunk_by(|one, other| one.stop == other.stop) {
        let steps = at_stop.iter().map(|operation| {
            let step = match (&operation.from, &operation.to) {
                (_, SwitchPosition::Other) => "once".to_owned(),
                (_, SwitchPosition::Next(1)) => "one position on".to_owned(),
                (_, SwitchPosition::Next(steps)) => format!("{steps} positions on"),
                (SwitchPosition::Unknown, to) => format!("to {}, however it stands", to.name()),
                (from, to) => format!("from {} to {}", from.name(), to.name()),
            };
            let id = &operation.device;
            let name = installation.point(sheet.point(id)).name();
            let name = name.map_or_else(String::new, |name| format!(" ({name})"));
            format!("{id}{name} {step}")
        });
        let steps: Vec<String> = steps.collect();
        let first = sheet.point(&at_stop[0].device);
        let stop = stop_in_words(sheet, first).map_or_else(String::new, |stop| format!("{stop}: "));
        page.after(2, "[ ] ", 4, &format!("{stop}{}", steps.join("; ")));
        let is_contactor = |operation: &Operation| {
            installation.kind(installation.point(sheet.point(&operation.device)).kind()).name() == "contactor"
        };
        if at_stop.iter().any(is_contactor) {
            page.after(
                6,
                "! ",
                2,
                "Work its armature by its own latch or a wedge, before the reading. Nobody's hand stays in it.",
            );
        }
    }
}

/// Where a point is worked at; none where the file does not say.
fn stop_in_words(sheet: &Sheet<'_>, point: PointId) -> Option<String> {
    let installation = sheet.installation;
    let point = installation.point(point);
    let place = point.location().map(|location| installation.location(location).name());
    match (point.plate().map(|plate| installation.plate(plate)), place) {
        (Some(plate), Some(place)) => Some(format!("{place}, plate {plate}")),
        (Some(plate), None) => Some(format!("plate {plate}")),
        (None, place) => place.map(str::to_owned),
    }
}

/// Whether its leads are named by full names already.
fn is_in_full(planned: &PlannedReading) -> bool {
    planned.between.iter().any(|lead| lead.contains('.'))
}

/// What a lead touches, by full names.
fn touched(sheet: &Sheet<'_>, planned: &PlannedReading, lead: &str) -> String {
    let installation = sheet.installation;
    let circuit = installation.circuit_by_id(&planned.circuit).expect(OF_ANOTHER);
    let full = |name: &str| match (installation.circuit(circuit).way(), installation.sources_of(circuit)) {
        _ if name.contains('.') || name == "MET" => name.to_owned(),
        (Some(id), _) => {
            // On a way with one pole `L` is that pole.
            let poles = installation.way(id).poles();
            let conductor = if name == "L" { poles[0].name() } else { name };
            format!("{}.{conductor}", installation.way_name(id))
        }
        (None, [source]) => {
            let terminal = source.terminal(installation, name);
            terminal.map_or(name.to_owned(), |terminal| installation.terminal_name(terminal))
        }
        (None, _) => name.to_owned(),
    };
    lead.split('+').map(full).collect::<Vec<_>>().join(" and ")
}

/// A reading as a step. Its leads are named in full where they are no conductors of the way or source it is taken at.
fn reading(sheet: &Sheet<'_>, planned: &PlannedReading) -> String {
    let [a, b] = &planned.between;
    if is_in_full(planned) {
        let [one, other] = [a, b].map(|lead| touched(sheet, planned, lead));
        format!("one lead on {one}, the other on {other}  ______\u{a0}MΩ")
    } else {
        format!("{a} to {b}\u{a0} ______\u{a0}MΩ")
    }
}

/// What a reading is for.
fn added(planned: &PlannedReading, adds: Adds) -> String {
    let pairs_in_words = |pairs: &[[String; 3]]| match adds {
        Adds::Counted => count(pairs.len(), "pair"),
        Adds::Named | Adds::KnownOf(_) => by_cores(pairs),
    };
    let mut parts = Vec::new();
    match (adds, planned.adds.as_slice(), planned.part_of.as_slice()) {
        (Adds::KnownOf(all), pairs, _) if pairs.len() == all => {}
        (Adds::Counted, pairs @ [_, ..], _) => parts.push(pairs_in_words(pairs)),
        (_, pairs @ [_, ..], _) => parts.push(format!("adds {}", pairs_in_words(pairs))),
        (_, [], _) if !planned.positions.is_empty() => {}
        (_, [], part_of) => {
            let what = if part_of.is_empty() { "positions of switches".to_owned() } else { pairs_in_words(part_of) };
            parts.push(format!("for {what}, which later readings complete however the switches stood"));
        }
    }
    if !planned.positions.is_empty() {
        let positions: Vec<String> = planned.positions.iter().map(|row| row.join(" ")).collect();
        parts.push(format!("puts under test {}", positions.join(", ")));
    }
    parts.join("; ")
}

/// What is dangerous about a reading besides.
fn warning(sheet: &Sheet<'_>, planned: &PlannedReading) -> Option<String> {
    let asks_for_less = |id: &&str| {
        let asked = sheet.network.test_voltage(sheet.circuit_of_length(id));
        asked.zip(planned.volts).is_some_and(|(asked, taken)| asked < taken)
    };
    let mut low: Vec<&str> = planned.adds.iter().map(|pair| pair[0].as_str()).filter(asks_for_less).collect();
    low.dedup();
    (!low.is_empty()).then(|| {
        format!(
            "This puts {} on lengths of circuits that ask for less: {}. Extra-low voltage must be separate from this \
             circuit: look for a crossed connection before the reading.",
            volts_in_words(planned.volts),
            low.join(", ")
        )
    })
}
