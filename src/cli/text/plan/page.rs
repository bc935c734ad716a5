//! The whole page of a plan.

use std::collections::BTreeMap;

use super::super::coverage::{cautions, without_role};
use super::super::layout::Page;
use super::super::prepare::read_connected;
use super::sheet::{Sheet, pair_name};
use super::{before, extras, rounds, summary, untestable};
use crate::network::Network;
use crate::plan::{Afterwards, People, Plan, PlanStart, Request, WhyUnworked};

/// The text of `plan`.
pub(in crate::cli) fn render(page: &mut Page, network: &Network, request: &Request, start: &PlanStart, plan: &Plan) {
    let installation = network.installation();
    let sheet = &Sheet { network, installation, request, start, plan };
    page.heading(&format!("{}: plan of insulation-resistance tests", installation.name()));
    cautions(page);
    summary::write(page, sheet);
    let reads_extras = plan.extras.as_ref().is_some_and(|extras| !extras.used.is_empty());
    if !plan.rounds.is_empty() || reads_extras {
        before::write(page, sheet);
    }
    match plan.people {
        People::Two => rounds::two_lists(page, sheet),
        _ => plan.rounds.iter().enumerate().for_each(|(number, round)| rounds::round(page, sheet, number + 1, round)),
    }
    extras::write(page, sheet);
    if !plan.rounds.is_empty() || reads_extras {
        after(page, sheet);
    }
    untestable::write(page, sheet);
    unworked(page, plan);
    without_role(page, &plan.without_role);
    not_planned(page, sheet);
}

/// What is put back.
fn after(page: &mut Page, sheet: &Sheet<'_>) {
    page.heading("After the last reading");
    page.after(0, "[ ] ", 4, "Let every circuit discharge through the instrument, then take the leads off.");
    page.after(0, "[ ] ", 4, "Take out every temporary link, latch and wedge.");
    if sheet.start.obstacles.iter().any(|row| row.removable) {
        page.after(
            0,
            "[ ] ",
            4,
            "Put back or reconnect everything that was taken out or disconnected, by the maker's instructions.",
        );
    }
    if let Some(test) = sheet.network.ruleset().with_equipment() {
        page.after(0, "[ ] ", 4, &read_connected(test));
    }
    let switches = match sheet.request.afterwards {
        Afterwards::AsLeft => "Put switches back as they are wanted, and covers on.",
        Afterwards::AsFound => "Check that the switches stand as they were found, and put covers on.",
    };
    page.after(0, "[ ] ", 4, switches);
    page.after(
        0,
        "[ ] ",
        4,
        "Record the lowest reading of all rounds, live to live and live to earth, for each circuit.",
    );
}

/// Where each switch is to be worked: what can't be had of that.
fn unworked(page: &mut Page, plan: &Plan) {
    let Some(rows) = plan.switches.as_ref().filter(|rows| !rows.is_empty()) else { return };
    page.heading("Switches not operated, and positions not put under test");
    let mut by_reason: BTreeMap<WhyUnworked, Vec<String>> = BTreeMap::new();
    for row in rows {
        let position = row.position.as_ref();
        let name = position.map_or_else(|| row.device.clone(), |position| format!("{} {position}", row.device));
        by_reason.entry(row.why).or_default().push(name);
    }
    for (why, names) in by_reason {
        let why = match why {
            WhyUnworked::NotOperable => "can't be operated",
            WhyUnworked::Locked => "locked in",
            WhyUnworked::LeftAlone => "left alone",
            WhyUnworked::NotPutBack => "nobody could put it back as it was found",
            WhyUnworked::NeverReached => "no lead can be joined to a contact that closes",
            WhyUnworked::OnlyVoid => "every reading that reaches a contact that closes is void",
            _ => "not planned: too many devices bear on it",
        };
        page.after(0, "- ", 2, &format!("{}: {why}.", names.join(", ")));
    }
}

fn not_planned(page: &mut Page, sheet: &Sheet<'_>) {
    let plan = sheet.plan;
    if plan.not_planned.is_empty() {
        return;
    }
    page.heading("Not planned");
    let why = if plan.stopped {
        "The search was stopped before this plan reached these pairs, or showed that nothing can. They are NOT tested \
         by it; more time may plan for them:"
    } else {
        "Too many devices bear on these pairs for this plan to reach them or to show that nothing can. They are NOT \
         tested by it:"
    };
    page.paragraph(0, 2, why);
    let pairs: Vec<String> = plan.not_planned.iter().map(pair_name).collect();
    page.paragraph(0, 2, &format!("{}.", pairs.join(", ")));
    let unknown: Vec<&str> = sheet.start.unknown().collect();
    if !unknown.is_empty() {
        let names = unknown.join(", ");
        page.paragraph(
            0,
            2,
            &format!("Note how these switches stand, name it in the test set, and plan again: {names}."),
        );
    }
}
