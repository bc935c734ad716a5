//! The extras of a plan as text: what is done beside operating switches and reading at ways.

use indexmap::IndexMap;

use super::super::coverage::circuit_title;
use super::super::layout::{Page, count};
use super::before::place;
use super::rounds::{Adds, at_source, operations, readings};
use super::sheet::{Sheet, by_cores_with_ends};
use super::untestable::why_untestable;
use crate::plan::{Extra, ExtraKind, Extras, RemedyStep, Round};

/// The extras, after the rounds of the plan proper.
pub(super) fn write(page: &mut Page, sheet: &Sheet<'_>) {
    let Some(extras) = &sheet.plan.extras else { return };
    if sheet.plan.untestable.is_empty() {
        return;
    }
    summary(page, extras);
    for (number, extra) in extras.used.iter().enumerate() {
        self::extra(page, sheet, number + 1, extra);
    }
    if !extras.put_back.is_empty() {
        page.heading("Extras: put back what they moved");
        operations(page, sheet, &extras.put_back);
    }
}

fn summary(page: &mut Page, extras: &Extras) {
    page.heading("Extras");
    if extras.allowed != ExtraKind::ALL {
        let kinds: Vec<&str> = extras.allowed.iter().map(|&kind| kind_in_words(kind)).collect();
        page.paragraph(0, 2, &format!("Allowed for what no reading at a way tests: {}.", kinds.join("; ")));
    }
    if extras.used.is_empty() {
        page.paragraph(0, 2, "None was found that tests anything more.");
        return;
    }
    let pairs = extras.used.iter().map(|extra| extra.reasons.len()).sum();
    page.paragraph(
        0,
        2,
        &format!(
            "{} for {} that no reading at a way tests: {}, {}, {}; not counted above.",
            count(extras.totals.extras, "extra"),
            count(pairs, "pair"),
            count(extras.totals.rounds, "round"),
            count(extras.totals.operations, "switch operation"),
            count(extras.totals.readings, "reading")
        ),
    );
    page.paragraph(
        0,
        2,
        &if extras.optimal {
            "Fewest extras, proven: each one was tried.".to_owned()
        } else {
            format!("Not proven to be the fewest extras; at least {} needed.", extras.at_least)
        },
    );
}

fn kind_in_words(kind: ExtraKind) -> &'static str {
    match kind {
        ExtraKind::Lamps => "a lamp, load or coil left in",
        ExtraKind::Points => "the instrument taken to a point",
        ExtraKind::FindOut => "finding out how a switch stands",
        ExtraKind::Links => "a temporary link at a point",
        ExtraKind::Accessories => "an accessory taken off",
    }
}

fn extra(page: &mut Page, sheet: &Sheet<'_>, number: usize, extra: &Extra) {
    page.heading(&format!("Extra {number}: {}", title(&extra.step)));
    let mut reasons: IndexMap<String, Vec<[&str; 3]>> = IndexMap::new();
    for row in &extra.reasons {
        reasons.entry(why_untestable(row)).or_default().push(row.pair());
    }
    for (why, pairs) in reasons {
        let pairs = by_cores_with_ends(sheet, pairs);
        page.after(0, "", 2, &format!("For {pairs}: else {why}."));
    }
    put_in_place(page, sheet, &extra.step);
    let adds = Adds::KnownOf(extra.reasons.len());
    self::rounds(page, sheet, &extra.rounds, adds);
    for found in &extra.found {
        page.paragraph(0, 2, &format!("If it stands in {}:", found.position));
        if found.rounds.is_empty() {
            page.paragraph(2, 2, "Nothing is left to read.");
        }
        self::rounds(page, sheet, &found.rounds, adds);
    }
    undo(page, &extra.step);
}

fn title(step: &RemedyStep) -> String {
    match step {
        RemedyStep::LeaveFitted { bridge } => format!("{bridge} left in"),
        RemedyStep::TakeInstrumentTo { point } => format!("the instrument at {point}"),
        RemedyStep::FindOut { point } => format!("how {point} stands"),
        RemedyStep::TakeLinkOut { point } => format!("the link at {point} out"),
        RemedyStep::Link { terminals: [one, other], .. } => format!("a link from {one} to {other}"),
        RemedyStep::TakeOff { point } => format!("{point} taken off"),
        RemedyStep::Together { together } => together.iter().map(title).collect::<Vec<_>>().join(", and "),
    }
}

/// What is done first, each caution once.
fn put_in_place(page: &mut Page, sheet: &Sheet<'_>, step: &RemedyStep) {
    let steps = match step {
        RemedyStep::Together { together } => &together[..],
        one => std::slice::from_ref(one),
    };
    let mut cautions: Vec<&str> = Vec::new();
    for step in steps {
        let (todo, caution) = done_first(sheet, step);
        page.after(2, "[ ] ", 4, &todo);
        if !caution.is_empty() && !cautions.contains(&caution) {
            page.after(6, "! ", 2, caution);
            cautions.push(caution);
        }
    }
}

/// What one step asks to be done, and the caution that goes with it.
fn done_first(sheet: &Sheet<'_>, step: &RemedyStep) -> (String, &'static str) {
    let thing = |id: &str| {
        let point = sheet.point(id);
        let kind = sheet.installation.kind(sheet.installation.point(point).kind()).name();
        format!("{id} {kind}{}", place(sheet.installation, point))
    };
    match step {
        RemedyStep::Together { together } => (together.iter().map(title).collect::<Vec<_>>().join(", and "), ""),
        RemedyStep::LeaveFitted { bridge } => {
            (format!("Put it back in: {}. It conducts, and is part of the circuit now.", thing(bridge)), "")
        }
        RemedyStep::TakeInstrumentTo { point } => (
            format!("Take the instrument to {}, prove dead there, and open it.", thing(point)),
            "Conductors are in reach there and all along the circuit: nobody else is near while the test is on.",
        ),
        RemedyStep::FindOut { point } => (
            format!(
                "Go to {}, prove dead there, and open it. Test for continuity which of its terminals it joins, and note \
                 how it stands. Leave it so, and close it.",
                thing(point)
            ),
            "",
        ),
        RemedyStep::TakeLinkOut { point } => {
            (format!("At {}: take the link out that is in its place.", thing(point)), "")
        }
        RemedyStep::Link { point, terminals: [one, other] } => (
            format!(
                "At {}, proved dead: put a link in from {one} to {other}, tagged so that it is seen.",
                thing(point)
            ),
            "A link left in joins what must be apart when the supply comes back. Write it down, and take it out before \
             anything else.",
        ),
        RemedyStep::TakeOff { point } => (
            format!(
                "Take off {}, proved dead: the cores of each terminal stay together, in a connector of their own.",
                thing(point)
            ),
            "Conductors are in reach there: nobody else is near while the test is on. Mark which terminal each \
             connector is for.",
        ),
    }
}

fn rounds(page: &mut Page, sheet: &Sheet<'_>, rounds: &[Round], adds: Adds) {
    let installation = sheet.installation;
    for (number, round) in rounds.iter().enumerate() {
        if round.readings.is_empty() {
            page.paragraph(0, 2, "Put back what was moved:");
        } else if rounds.len() > 1 {
            page.paragraph(0, 2, &format!("Setting {} of {}:", number + 1, rounds.len()));
        }
        operations(page, sheet, &round.operations);
        readings(page, sheet, &round.readings, adds, |circuit, planned| {
            let named = planned.between.iter().find_map(|lead| Some(lead.split_once('.')?.0));
            match (&planned.at, named, circuit.way()) {
                (Some(_), _, _) => at_source(sheet, planned, circuit),
                (None, Some(point), _) => format!("At {point}: {}", circuit_title(circuit)),
                (None, None, Some(way)) => format!("{}: {}", installation.way_name(way), circuit_title(circuit)),
                (None, None, None) => circuit_title(circuit),
            }
        });
    }
}

/// What is done last.
fn undo(page: &mut Page, step: &RemedyStep) {
    let todo = match step {
        RemedyStep::Together { together } => {
            together.iter().rev().for_each(|step| undo(page, step));
            return;
        }
        RemedyStep::LeaveFitted { bridge } => format!("Take {bridge} out again."),
        RemedyStep::TakeInstrumentTo { .. } => "Let it discharge, take the leads off, and close it again.".to_owned(),
        RemedyStep::FindOut { .. } => "Let it discharge.".to_owned(),
        RemedyStep::TakeLinkOut { point } => format!("Let it discharge. Put the link at {point} back in."),
        RemedyStep::Link { terminals: [one, other], .. } => {
            format!("Let it discharge. Take the link from {one} to {other} OUT again, and look that it is out.")
        }
        RemedyStep::TakeOff { point } => {
            format!("Let it discharge. Put {point} back on, the cores of each connector to their terminal.")
        }
    };
    page.after(2, "[ ] ", 4, &todo);
}
