//! What a plan leaves untested, and what would change that, as text.

use std::collections::HashSet;

use indexmap::IndexMap;

use super::super::layout::Page;
use super::sheet::{Sheet, by_cores_with_ends};
use crate::plan::{ExtraKind, Remedy, RemedyStep, Untestable, UntestablePair};

/// What the plan leaves untested, each with what would change that.
pub(super) fn write(page: &mut Page, sheet: &Sheet<'_>) {
    let plan = sheet.plan;
    let mut left: Vec<&UntestablePair> = plan.untestable.iter().collect();
    if let Some(extras) = &plan.extras {
        let is_left: HashSet<[&str; 3]> = extras.left.iter().map(|pair| pair.each_ref().map(String::as_str)).collect();
        left.retain(|row| is_left.contains(&row.pair()));
    }
    if left.is_empty() {
        if plan.not_planned.is_empty() {
            let extras = if plan.untestable.is_empty() { "" } else { ", those of the extras too" };
            page.gap();
            page.paragraph(
                0,
                2,
                &format!(
                    "If every reading is taken as planned{extras}, nothing is missed: every needed pair of every length is \
                     tested."
                ),
            );
        }
        return;
    }
    let all_tried = plan.extras.as_ref().is_some_and(|extras| extras.allowed == ExtraKind::ALL);
    page.heading(if all_tried { "What can't be tested" } else { "What this plan does not test" });
    page.paragraph(0, 2, "No setting of the switches tests these by readings at the ways:");
    if plan.extras.is_some() {
        let which = if all_tried { "" } else { " of those allowed" };
        page.paragraph(0, 2, &format!("Nor was an extra found{which} that does. They are NOT tested."));
    }
    // One entry for each reason and step: the same lamp left in, or the instrument at the same point.
    type Reason<'p> = (String, &'p [String], Option<&'p RemedyStep>);
    let mut reasons: IndexMap<Reason<'_>, (Vec<&Remedy>, Vec<[&str; 3]>)> = IndexMap::new();
    for row in left {
        let key = (why_untestable(row), &row.opens_with[..], row.remedy.as_ref().map(|remedy| &remedy.step));
        let (remedies, pairs) = reasons.entry(key).or_default();
        pairs.push(row.pair());
        if let Some(remedy) = &row.remedy
            && !remedies.contains(&remedy)
        {
            remedies.push(remedy);
        }
    }
    for ((why, opens_with, _), (remedies, pairs)) in reasons {
        page.after(0, "- ", 2, &format!("{}: {}.", by_cores_with_ends(sheet, pairs), why));
        if !opens_with.is_empty() {
            let lifted: Vec<String> = opens_with.iter().map(|name| lifted(sheet, name)).collect();
            page.paragraph(4, 2, &format!("Can be tested with {}.", lifted.join(" and ")));
        }
        if remedies.is_empty() && opens_with.is_empty() {
            page.paragraph(4, 2, "No single change that was tried makes it testable.");
        } else if !remedies.is_empty() {
            page.paragraph(4, 2, &remedies_in_words(&remedies));
        }
    }
}

/// Why no reading of the plan tests a pair.
pub(super) fn why_untestable(pair: &UntestablePair) -> String {
    let why = match pair.why {
        Untestable::NeverReached => "no lead can be joined to one of the cores",
        Untestable::UnknownPosition => {
            let stand = if pair.devices.len() == 1 { "stands" } else { "stand" };
            return format!("how {} {stand} would have to be known for it", pair.devices.join(" and "));
        }
        Untestable::SameLead => "no reading has the two cores on opposite leads",
        Untestable::AlwaysBridged => "every reading that has the two cores on opposite leads is void",
        Untestable::OtherVoltage => "no reading at the voltage that its circuit asks for tests it",
    };
    why.to_owned()
}

/// The readings that one step makes possible.
fn remedies_in_words(remedies: &[&Remedy]) -> String {
    let readings: Vec<String> = remedies
        .iter()
        .map(|remedy| {
            let [a, b] = &remedy.between;
            let volts = remedy.volts.map_or_else(String::new, |volts| format!(" at {} V d.c", volts.0));
            let mut text = format!("{a} to {b}{volts}");
            if !remedy.with.is_empty() {
                let stands: Vec<String> =
                    remedy.with.iter().map(|[device, position]| format!("{device} in {position}")).collect();
                text.push_str(&format!(". with {}", stands.join(", ")));
            }
            text
        })
        .collect();
    let readings = readings.join(".; ");
    match &remedies[0].step {
        RemedyStep::LeaveFitted { bridge } => {
            format!("Would be tested with {bridge} left fitted: read {readings}.")
        }
        RemedyStep::TakeInstrumentTo { point } => {
            format!("Would be tested with the instrument taken to {point}: read {readings}.")
        }
        RemedyStep::TakeLinkOut { point } => {
            format!("Would be tested with the link at {point} out: read {readings}.")
        }
        RemedyStep::TakeOff { point } => format!("Would be tested with {point} taken off: read {readings}."),
        RemedyStep::FindOut { .. } | RemedyStep::Together { .. } => format!("Would be tested: read {readings}."),
        RemedyStep::Link { point, terminals: [x, y] } => format!(
            "Would be tested with a temporary link at {point} from {x} to {y}: read {readings}. Take the link out again."
        ),
    }
}

/// What is lifted so that a pair can be tested: a room that is open, a switch that is operated.
fn lifted(sheet: &Sheet<'_>, restriction: &str) -> String {
    match restriction.split_once(':') {
        Some(("location", id)) => {
            let named = sheet.installation.location_by_id(id).map(|room| sheet.installation.location(room).name());
            format!("{} open", named.unwrap_or(id))
        }
        Some((_, id)) => format!("{id} operated"),
        None => "what can't be put back as found operated all the same".to_owned(),
    }
}
