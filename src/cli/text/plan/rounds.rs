//! The rounds of a plan: operations and readings as steps.

use super::super::coverage::circuit_title;
use super::super::layout::{Page, count, metres};
use super::sheet::{OF_ANOTHER, Sheet, by_length};
use crate::model::{Circuit, PointId};
use crate::plan::{Operation, PlannedReading, Round, SwitchPosition};

pub(super) fn round(page: &mut Page, sheet: &Sheet<'_>, number: usize, round: &Round) {
    if round.operations.is_empty() {
        page.heading(&format!("Round {number}: as things stand"));
    } else {
        let what = if round.readings.is_empty() { "; no reading" } else { "" };
        page.heading(&format!("Round {number}: {}{what}", count(round.operations.len(), "operation")));
    }
    if let Some(walk) = round.walk {
        let order = if walk.shortest { "in this order, the shortest" } else { "in this order" };
        page.paragraph(0, 2, &format!("From the board past these stops and back: {}, {order}.", metres(walk.metres.0)));
    }
    operations(page, sheet, &round.operations);
    readings(page, sheet, &round.readings, !round.operations.is_empty(), |circuit, planned| match circuit.way() {
        Some(way) if is_in_full(planned) => {
            format!("At board {}, its ways together:", sheet.installation.board(way.board()).id())
        }
        Some(way) => format!("At way {}: {}", sheet.installation.way_name(way), circuit_title(circuit)),
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

/// Readings as steps, each under where it is taken.
pub(super) fn readings(
    page: &mut Page,
    sheet: &Sheet<'_>,
    readings: &[PlannedReading],
    in_full: bool,
    place: impl Fn(&Circuit, &PlannedReading) -> String,
) {
    let mut at = None;
    for planned in readings {
        let here = place(sheet.circuit(&planned.circuit), planned);
        if at.as_ref() != Some(&here) {
            page.paragraph(0, 2, &here);
            at = Some(here);
        }
        reading(page, sheet, planned, in_full);
    }
}

/// Operations as steps, stop by stop.
pub(super) fn operations(page: &mut Page, sheet: &Sheet<'_>, operations: &[Operation]) {
    let installation = sheet.installation;
    let mut stop = None;
    for operation in operations {
        let id = &operation.device;
        let point = sheet.point(id);
        if stop != Some(&operation.stop) {
            page.paragraph(0, 2, &format!("Go to {}.", stop_in_words(sheet, point)));
            stop = Some(&operation.stop);
        }
        let step = match (&operation.from, &operation.to) {
            (_, SwitchPosition::Other) => "operate it once, however it stands".to_owned(),
            (_, SwitchPosition::Next(1)) => "one position on, however it stands".to_owned(),
            (_, SwitchPosition::Next(steps)) => format!("{steps} positions on, however it stands"),
            (SwitchPosition::Unknown, to) => format!("to {}, however it stands", to.name()),
            (from, to) => format!("from {} to {}", from.name(), to.name()),
        };
        let name = installation.point(point).name().map_or_else(String::new, |name| format!(" ({name})"));
        let step = format!("{id}{name}: {step}");
        page.after(2, "[ ] ", 4, &step);
        if installation.kind(installation.point(point).kind()).name() == "contactor" {
            page.after(
                6,
                "! ",
                2,
                "Work its armature by its own latch or a wedge, before the reading. Nobody's hand stays in it.",
            );
        }
    }
}

fn stop_in_words(sheet: &Sheet<'_>, point: PointId) -> String {
    let installation = sheet.installation;
    let point = installation.point(point);
    let place = point.location().map(|location| installation.location(location).name());
    match (point.plate().map(|plate| installation.plate(plate)), place) {
        (Some(plate), Some(place)) => format!("{place}, plate {plate}"),
        (Some(plate), None) => format!("plate {plate}"),
        (None, Some(place)) => place.to_owned(),
        (None, None) => point.id().to_owned(),
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

/// A reading as a step, with what it adds.
fn reading(page: &mut Page, sheet: &Sheet<'_>, planned: &PlannedReading, in_full: bool) {
    let volts = match planned.volts {
        Some(volts) => format!("{} V d.c.", volts.0),
        None => "a voltage that the ruleset does not name".to_owned(),
    };
    let [a, b] = &planned.between;
    let what = if is_in_full(planned) { String::new() } else { format!("{a} to {b} at ") };
    let [one, other] = [a, b].map(|lead| touched(sheet, planned, lead));
    page.after(2, "[ ] ", 4, &format!("{what}{volts}: one lead on {one}, the other on {other}  ______\u{a0}MΩ"));
    if !planned.adds.is_empty() {
        page.paragraph(6, 2, &format!("adds {}", pairs_in_words(&planned.adds, in_full)));
    }
    if planned.adds.is_empty() && planned.positions.is_empty() {
        let what = match planned.part_of.as_slice() {
            [] => "positions of switches".to_owned(),
            pairs => pairs_in_words(pairs, in_full),
        };
        page.paragraph(6, 2, &format!("for {what}, which later readings complete however the switches stood"));
    }
    if !planned.positions.is_empty() {
        let positions: Vec<String> = planned.positions.iter().map(|row| row.join(" ")).collect();
        page.paragraph(6, 2, &format!("puts under test {}", positions.join(", ")));
    }
    let asks_for_less = |id: &&str| {
        let asked = sheet.network.test_voltage(sheet.circuit_of_length(id));
        asked.zip(planned.volts).is_some_and(|(asked, taken)| asked < taken)
    };
    let mut low: Vec<&str> = planned.adds.iter().map(|pair| pair[0].as_str()).filter(asks_for_less).collect();
    low.dedup();
    if !low.is_empty() {
        page.after(
            6,
            "! ",
            2,
            &format!(
                "This puts {volts} on lengths of circuits that ask for less: {}. Extra-low voltage must be separate \
                 from this circuit: look for a crossed connection before the reading.",
                low.join(", ")
            ),
        );
    }
}

/// Pairs in full, the cores length by length; else how many.
fn pairs_in_words(pairs: &[[String; 3]], in_full: bool) -> String {
    let lengths = by_length(pairs.iter().map(|pair| pair.each_ref().map(String::as_str)));
    if in_full {
        lengths.iter().map(|(id, names)| format!("{id} {}", names.join(", "))).collect::<Vec<_>>().join("; ")
    } else {
        format!("{} in {}", count(pairs.len(), "pair"), count(lengths.len(), "length"))
    }
}
