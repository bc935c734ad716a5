//! The extras of a plan as text: what is done beside operating switches and reading at ways.

use indexmap::IndexMap;

use super::coverage::{circuit_title, ends};
use super::layout::{Page, count};
use super::plan::{by_length, operations, place, reading};
use super::untestable::why_untestable;
use crate::network::PairId;
use crate::plan::{Extra, ExtraKind, Extras, Plan, RemedyStep, Round, Untestable};

/// The extras, after the rounds of the plan proper.
pub(in crate::cli) fn write(page: &mut Page, plan: &Plan<'_>) {
    let Some(extras) = plan.extras() else { return };
    summary(page, plan, extras);
    for (number, extra) in extras.used.iter().enumerate() {
        self::extra(page, plan, number + 1, extra);
    }
    if !extras.put_back.is_empty() {
        page.heading("Extras: put back what they moved");
        operations(page, plan.network().installation(), &extras.put_back);
    }
}

fn summary(page: &mut Page, plan: &Plan<'_>, extras: &Extras) {
    page.heading("Extras");
    let sorts: Vec<&str> = plan
        .request()
        .allow
        .iter()
        .map(|sort| match sort {
            ExtraKind::Lamps => "a lamp, load or coil left in",
            ExtraKind::Points => "the instrument taken to a point",
            ExtraKind::Links => "a temporary link at a point",
        })
        .collect();
    page.paragraph(0, 2, &format!("Allowed for what can't be tested otherwise: {}.", sorts.join("; ")));
    if plan.untestable().is_empty() {
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
            count(extras.rounds(), "round"),
            count(extras.operations(), "switch operation"),
            count(extras.readings(), "reading")
        ),
    );
    page.paragraph(
        0,
        2,
        &if extras.is_least {
            "Fewest extras, proven: each one of these sorts was tried.".to_owned()
        } else {
            format!("Not proven to be the fewest extras; at least {} needed.", extras.at_least)
        },
    );
}

fn extra(page: &mut Page, plan: &Plan<'_>, number: usize, extra: &Extra) {
    let network = plan.network();
    let installation = network.installation();
    let point = installation.point(extra.point);
    let kind = installation.kind(point.kind()).name();
    let thing = format!("{} {kind}{}", point.id(), place(installation, extra.point));
    let title = match &extra.step {
        RemedyStep::LeaveFitted { bridge } => format!("{bridge} left in"),
        RemedyStep::TakeInstrumentTo { point } => format!("the instrument at {point}"),
        RemedyStep::Link { terminals: [one, other], .. } => format!("a link from {one} to {other}"),
    };
    page.heading(&format!("Extra {number}: {title}"));
    let mut reasons: IndexMap<Untestable, Vec<PairId>> = IndexMap::new();
    for row in &extra.reasons {
        reasons.entry(row.why).or_default().push(row.pair);
    }
    for (why, pairs) in reasons {
        let names: Vec<String> = by_length(network, pairs.into_iter())
            .into_iter()
            .map(|(id, cores)| format!("{} ({}) {}", installation.length(id).id(), ends(network, id), cores.join(", ")))
            .collect();
        page.after(0, "", 2, &format!("For {}: else {}.", names.join("; "), why_untestable(why)));
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
        self::round(page, plan, extra, round);
    }
    let after = match &extra.step {
        RemedyStep::LeaveFitted { .. } => format!("Take {} out again.", point.id()),
        RemedyStep::TakeInstrumentTo { .. } => "Let it discharge, take the leads off, and close it again.".to_owned(),
        RemedyStep::Link { terminals: [one, other], .. } => {
            format!("Let it discharge. Take the link from {one} to {other} OUT again, and look that it is out.")
        }
    };
    page.after(2, "[ ] ", 4, &after);
}

fn round(page: &mut Page, plan: &Plan<'_>, extra: &Extra, round: &Round) {
    let network = plan.network();
    let installation = network.installation();
    operations(page, installation, &round.operations);
    let mut at = None;
    for planned in &round.readings {
        let circuit = installation.circuit(planned.circuit);
        let here = match (&extra.step, circuit.way()) {
            (RemedyStep::TakeInstrumentTo { point }, _) => format!("At {point}: {}", circuit_title(circuit)),
            (_, Some(way)) => format!("At way {}: {}", installation.way_name(way), circuit_title(circuit)),
            (_, None) => circuit_title(circuit),
        };
        if at.as_ref() != Some(&here) {
            page.paragraph(0, 2, &here);
            at = Some(here);
        }
        reading(page, network, planned, true);
    }
}
