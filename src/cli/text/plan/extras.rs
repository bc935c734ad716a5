//! The extras of a plan as text: what is done beside operating switches and reading at ways.

use indexmap::IndexMap;

use super::super::coverage::circuit_title;
use super::super::layout::{Page, count};
use super::before::place;
use super::rounds::{at_source, operations, readings};
use super::sheet::{Sheet, pairs_with_ends};
use super::untestable::why_untestable;
use crate::plan::{Extra, ExtraKind, Extras, RemedyStep};

/// The extras, after the rounds of the plan proper.
pub(super) fn write(page: &mut Page, sheet: &Sheet<'_>) {
    let Some(extras) = &sheet.plan.extras else { return };
    summary(page, extras, sheet.plan.untestable.is_empty());
    for (number, extra) in extras.used.iter().enumerate() {
        self::extra(page, sheet, number + 1, extra);
    }
    if !extras.put_back.is_empty() {
        page.heading("Extras: put back what they moved");
        operations(page, sheet, &extras.put_back);
    }
}

fn summary(page: &mut Page, extras: &Extras, nothing_untestable: bool) {
    page.heading("Extras");
    let kinds: Vec<&str> = extras
        .allowed
        .iter()
        .map(|kind| match kind {
            ExtraKind::Lamps => "a lamp, load or coil left in",
            ExtraKind::Points => "the instrument taken to a point",
            ExtraKind::Links => "a temporary link at a point",
        })
        .collect();
    page.paragraph(0, 2, &format!("Allowed for what can't be tested otherwise: {}.", kinds.join("; ")));
    if nothing_untestable {
        page.paragraph(0, 2, "Nothing needs one.");
        return;
    }
    if extras.used.is_empty() {
        page.paragraph(0, 2, "No single one makes anything testable.");
        return;
    }
    let pairs = extras.used.iter().map(|extra| extra.reasons.len()).sum();
    page.paragraph(
        0,
        2,
        &format!(
            "{} for {}: {}, {}, {}; not counted above.",
            count(extras.used.len(), "extra"),
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
            "Fewest extras, proven: each one of these sorts was tried.".to_owned()
        } else {
            format!("Not proven to be the fewest extras; at least {} needed.", extras.at_least)
        },
    );
}

fn extra(page: &mut Page, sheet: &Sheet<'_>, number: usize, extra: &Extra) {
    let installation = sheet.installation;
    let (RemedyStep::LeaveFitted { bridge: id }
    | RemedyStep::TakeInstrumentTo { point: id }
    | RemedyStep::TakeLinkOut { point: id }
    | RemedyStep::Link { point: id, .. }) = &extra.step;
    let point = sheet.point(id);
    let kind = installation.kind(installation.point(point).kind()).name();
    let thing = format!("{id} {kind}{}", place(installation, point));
    let title = match &extra.step {
        RemedyStep::LeaveFitted { bridge } => format!("{bridge} left in"),
        RemedyStep::TakeInstrumentTo { point } => format!("the instrument at {point}"),
        RemedyStep::TakeLinkOut { point } => format!("the link at {point} out"),
        RemedyStep::Link { terminals: [one, other], .. } => format!("a link from {one} to {other}"),
    };
    page.heading(&format!("Extra {number}: {title}"));
    let mut reasons: IndexMap<String, Vec<[&str; 3]>> = IndexMap::new();
    for row in &extra.reasons {
        reasons.entry(why_untestable(row)).or_default().push(row.pair());
    }
    for (why, pairs) in reasons {
        let pairs = pairs_with_ends(sheet, pairs);
        page.after(0, "", 2, &format!("For {pairs}: else {why}."));
    }
    match &extra.step {
        RemedyStep::LeaveFitted { .. } => {
            page.after(2, "[ ] ", 4, &format!("Put it back in: {thing}. It conducts, and is part of the circuit now."));
        }
        RemedyStep::TakeInstrumentTo { .. } => {
            page.after(2, "[ ] ", 4, &format!("Take the instrument to {thing}, prove dead there, and open it."));
            page.after(
                6,
                "! ",
                2,
                "Conductors are in reach there and all along the circuit: nobody else is near while the test is on.",
            );
        }
        RemedyStep::TakeLinkOut { .. } => {
            page.after(2, "[ ] ", 4, &format!("At {thing}: take the link out that is in its place."));
        }
        RemedyStep::Link { terminals: [one, other], .. } => {
            page.after(
                2,
                "[ ] ",
                4,
                &format!("At {thing}, proved dead: put a link in from {one} to {other}, tagged so that it is seen."),
            );
            page.after(
                6,
                "! ",
                2,
                "A link left in joins what must be apart when the supply comes back. Write it down, and take it out \
                 before anything else.",
            );
        }
    }
    for (number, round) in extra.rounds.iter().enumerate() {
        if extra.rounds.len() > 1 {
            page.paragraph(0, 2, &format!("Setting {} of {}:", number + 1, extra.rounds.len()));
        }
        operations(page, sheet, &round.operations);
        readings(page, sheet, &round.readings, true, |circuit, planned| match (&extra.step, circuit.way()) {
            (RemedyStep::TakeInstrumentTo { point }, _) => format!("At {point}: {}", circuit_title(circuit)),
            (_, Some(way)) => format!("At way {}: {}", installation.way_name(way), circuit_title(circuit)),
            (_, None) => at_source(sheet, planned, circuit),
        });
    }
    let after = match &extra.step {
        RemedyStep::LeaveFitted { .. } => format!("Take {id} out again."),
        RemedyStep::TakeInstrumentTo { .. } => "Let it discharge, take the leads off, and close it again.".to_owned(),
        RemedyStep::TakeLinkOut { .. } => format!("Let it discharge. Put the link at {id} back in."),
        RemedyStep::Link { terminals: [one, other], .. } => {
            format!("Let it discharge. Take the link from {one} to {other} OUT again, and look that it is out.")
        }
    };
    page.after(2, "[ ] ", 4, &after);
}
