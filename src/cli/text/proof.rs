//! Why a plan needs no fewer walks and operations, in words.

use super::layout::{Page, count};
use super::plan::pair_name;
use crate::model::PointId;
use crate::plan::{
    Afterwards, Core, Exclusion, OperationsPart, Plan, Required, Stands, WhyNoFewerOperations, WhyNoFewerWalks,
    WhyOperations,
};

/// More lines of one proof are not printed; the JSON has them all.
const MOST_LINES: usize = 12;

/// Why there are no fewer walks; of a plan that is proven to have the fewest.
pub(in crate::cli) fn walks(page: &mut Page, plan: &Plan<'_>) {
    let name = |required: &Required| required_name(plan, required);
    match plan.why_no_fewer_walks() {
        WhyNoFewerWalks::NothingToOperate => page.paragraph(0, 2, "No walk is needed."),
        WhyNoFewerWalks::LeftAtStart(pair) => page.paragraph(
            0,
            2,
            &format!(
                "Fewest walks, proven: no reading tests {} as the switches stand.",
                pair_name(plan.network(), *pair)
            ),
        ),
        WhyNoFewerWalks::ExcludeOneAnother(exclusion) => {
            let pairs = count(exclusion.requirements.len(), "pair");
            let said =
                format!("Fewest walks, proven: no two of these {pairs} are tested in one setting of the switches");
            match &exclusion.because[..] {
                [_, ..] if exclusion.is_explained() => {
                    page.paragraph(0, 2, &format!("{said}:"));
                    lines(page, because(plan, exclusion));
                }
                _ => {
                    let pairs: Vec<String> = exclusion.requirements.iter().map(name).collect();
                    page.paragraph(0, 2, &format!("{said}: {}.", pairs.join("; ")));
                }
            }
        }
        WhyNoFewerWalks::SearchExhausted(core) => {
            page.paragraph(0, 2, "Fewest walks, proven: every way with fewer was searched.");
            if let Some(core) = core {
                page.paragraph(0, 2, &format!("Already these can't be done with fewer: {}.", of_core(plan, core)));
            }
        }
        WhyNoFewerWalks::NotProven => {}
    }
}

/// Why there are no fewer operations; of a plan that is proven to have the fewest.
pub(in crate::cli) fn operations(page: &mut Page, plan: &Plan<'_>) {
    match plan.why_no_fewer_operations() {
        // That one is needed is said of the walk.
        WhyNoFewerOperations::InParts(parts) if plan.operations() > 1 => {
            lines(page, parts.iter().map(|row| part(plan, row)).collect());
        }
        WhyNoFewerOperations::AWalkEach if plan.operations() > 1 => {
            page.paragraph(0, 2, "Each walk has an operation, and there are no fewer walks.");
        }
        _ => {}
    }
}

fn lines(page: &mut Page, lines: Vec<String>) {
    for line in lines.iter().take(MOST_LINES) {
        page.after(0, "- ", 2, line);
    }
    if lines.len() > MOST_LINES {
        page.after(0, "- ", 2, &format!("and {} more: the JSON has them all.", lines.len() - MOST_LINES));
    }
}

/// Why pairs exclude one another: a line for each pair where one switch tells all apart, else one for each reason.
fn because(plan: &Plan<'_>, exclusion: &Exclusion) -> Vec<String> {
    let needs = |row: &crate::plan::Apart| -> Vec<String> {
        let switches = ids(plan, &row.switches);
        let need = |(&of, ways): (&usize, &Vec<Vec<Stands>>)| {
            let way = |way: &Vec<Stands>| {
                let stands: Vec<String> = switches.iter().zip(way).map(|(id, at)| stands(id, at)).collect();
                stands.join(" and ")
            };
            let ways: Vec<String> = ways.iter().map(way).collect();
            format!("{} needs {}", required_name(plan, &exclusion.requirements[of]), ways.join(", or "))
        };
        row.of.iter().zip(&row.needs).map(need).collect()
    };
    match &exclusion.because[..] {
        [only] if only.of.len() > 2 => needs(only).into_iter().map(|line| format!("{line}.")).collect(),
        rows => rows.iter().map(|row| format!("{}.", needs(row).join("; "))).collect(),
    }
}

fn stands(id: &str, at: &Stands) -> String {
    match at {
        Stands::At(position) => format!("{id} in {position}"),
        Stands::AsFound => format!("{id} as found"),
        Stands::Other => format!("{id} turned"),
    }
}

fn part(plan: &Plan<'_>, part: &OperationsPart) -> String {
    let switches = ids(plan, &part.switches);
    let back = if plan.request().afterwards == Afterwards::AsFound { ", there and back" } else { "" };
    let operations = format!("{} at {}{back}", count(part.operations, "operation"), listed(&switches));
    match &part.why {
        WhyOperations::Nearest(required) => {
            let name = required_name(plan, required);
            match (part.operations, &switches[..]) {
                (1, [only]) => format!("{name} needs {only} operated."),
                (1, _) => format!("{name} needs one of {} operated.", listed(&switches)),
                _ => format!("{name} needs {operations}."),
            }
        }
        WhyOperations::ExcludeOneAnother(exclusion) => {
            let names: Vec<String> = exclusion.requirements.iter().map(|row| required_name(plan, row)).collect();
            format!("{operations}: a walk each for {}.", names.join("; "))
        }
        WhyOperations::SearchExhausted(Some(core)) => {
            format!("{operations}: all plans with fewer were searched, for {}.", of_core(plan, core))
        }
        WhyOperations::SearchExhausted(None) => format!("{operations}: all plans with fewer were searched."),
    }
}

/// The switches, or how many they are.
fn listed(switches: &[&str]) -> String {
    if switches.len() > MOST_LINES { format!("{} switches", switches.len()) } else { switches.join(", ") }
}

fn of_core(plan: &Plan<'_>, core: &Core) -> String {
    let names: Vec<String> =
        core.requirements.iter().take(MOST_LINES).map(|required| required_name(plan, required)).collect();
    let rest = core.requirements.len() - names.len();
    let names = names.join("; ");
    if rest > 0 { format!("{names}; and {rest} more") } else { names }
}

fn required_name(plan: &Plan<'_>, required: &Required) -> String {
    let name = pair_name(plan.network(), required.pair);
    let installation = plan.network().installation();
    let started: Vec<String> = required
        .started
        .iter()
        .map(|(device, position)| format!("{} was in {position}", device.name(installation)))
        .collect();
    if started.is_empty() { name } else { format!("{name} (if {} at first)", started.join(" and ")) }
}

fn ids<'n>(plan: &Plan<'n>, points: &[PointId]) -> Vec<&'n str> {
    points.iter().map(|&point| plan.network().installation().point(point).id()).collect()
}
