//! Why a plan needs no fewer walks and operations, in words.

use super::super::layout::{Page, count};
use super::sheet::pair_name;
use crate::plan::{
    Afterwards, Exclusion, OperationsPart, People, Plan, PositionConflict, StartPositions, SwitchPosition,
    UnsatisfiableCore, WhyNoFewerOperations, WhyNoFewerWalks, WhyOperations,
};

/// More lines of one proof are not printed; the JSON has them all.
const MOST_LINES: usize = 12;

/// Why there are no fewer walks; of a plan that is proven to have the fewest.
pub(super) fn walks(page: &mut Page, plan: &Plan) {
    match &plan.why_no_fewer_walks {
        WhyNoFewerWalks::NothingToOperate => page.paragraph(0, 2, "No walk is needed."),
        WhyNoFewerWalks::LeftAtStart { pair } => page.paragraph(
            0,
            2,
            &format!("Fewest walks, proven: no reading tests {} as the switches stand.", pair_name(pair)),
        ),
        WhyNoFewerWalks::ExcludeOneAnother(exclusion) => {
            let pairs = count(exclusion.pairs.len(), "pair");
            let said =
                format!("Fewest walks, proven: no two of these {pairs} are tested in one setting of the switches");
            if !exclusion.because.is_empty() && exclusion.is_explained() {
                page.paragraph(0, 2, &format!("{said}:"));
                lines(page, because(exclusion));
            } else {
                page.paragraph(0, 2, &format!("{said}: {}.", names(exclusion).join("; ")));
            }
        }
        WhyNoFewerWalks::SearchExhausted { core } => {
            page.paragraph(0, 2, "Fewest walks, proven: every way with fewer was searched.");
            if let Some(core) = core {
                page.paragraph(0, 2, &format!("Already these can't be done with fewer: {}.", of_core(core)));
            }
        }
        WhyNoFewerWalks::NotProven => {}
    }
}

/// Why there are no fewer operations; of a plan that is proven to have the fewest.
pub(super) fn operations(page: &mut Page, plan: &Plan, afterwards: Afterwards) {
    match &plan.why_no_fewer_operations {
        // That one is needed is said of the walk.
        WhyNoFewerOperations::InParts { parts } if plan.totals.operations > 1 => {
            let (ones, others): (Vec<&OperationsPart>, Vec<&OperationsPart>) =
                parts.iter().partition(|row| one_of(row).is_some());
            let needed: Vec<String> = ones.iter().filter_map(|row| one_of(row)).take(MOST_LINES).collect();
            if !needed.is_empty() {
                let more = ones.len() - needed.len();
                let more = if more > 0 { format!("; and {more} more") } else { String::new() };
                let starts = |row: &&OperationsPart| matches!(&row.why, WhyOperations::Nearest { start, .. } if !start.is_empty());
                let one = if ones.iter().any(starts) { "For some of the ways they may have stood, one" } else { "One" };
                page.after(0, "- ", 2, &format!("{one} is needed at {}{more}.", needed.join("; ")));
            }
            lines(page, others.into_iter().map(|row| part(row, plan.people, afterwards)).collect());
        }
        WhyNoFewerOperations::AWalkEach if plan.totals.operations > 1 => {
            let each = match plan.people {
                People::Two => "No fewer settings do, and each takes an operation.",
                _ => "Each walk has an operation, and there are no fewer walks.",
            };
            page.paragraph(0, 2, each);
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

/// Why pairs exclude one another: a line for each pair where one conflict has them all, else one for each conflict.
fn because(exclusion: &Exclusion) -> Vec<String> {
    let pairs = names(exclusion);
    let needs = |row: &PositionConflict| -> Vec<String> {
        let way = |way: &Vec<SwitchPosition>| {
            row.devices.iter().zip(way).map(|(id, at)| stands(id, at)).collect::<Vec<_>>().join(" and ")
        };
        let need = |(&of, ways): (&usize, &Vec<Vec<SwitchPosition>>)| {
            let ways: Vec<String> = ways.iter().map(way).collect();
            format!("{} needs {}", pairs[of], ways.join(", or "))
        };
        row.of.iter().zip(&row.needs).map(need).collect()
    };
    match &exclusion.because[..] {
        [only] if only.of.len() > 2 => needs(only).into_iter().map(|line| format!("{line}.")).collect(),
        rows => rows.iter().map(|row| format!("{}.", needs(row).join("; "))).collect(),
    }
}

fn stands(id: &str, at: &SwitchPosition) -> String {
    match at {
        SwitchPosition::AsFound => format!("{id} as found"),
        SwitchPosition::Other => format!("{id} turned"),
        SwitchPosition::Next(1) => format!("{id} one position on"),
        SwitchPosition::Next(steps) => format!("{id} {steps} positions on"),
        _ => format!("{id} in {}", at.name()),
    }
}

/// The switches of which a pair needs one operated, and the pair.
fn one_of(part: &OperationsPart) -> Option<String> {
    let WhyOperations::Nearest { pair, .. } = &part.why else { return None };
    (part.operations == 1).then(|| format!("{} (for {})", part.devices.join(" or "), pair_name(pair)))
}

fn part(part: &OperationsPart, people: People, afterwards: Afterwards) -> String {
    let back = if afterwards == Afterwards::AsFound { ", there and back" } else { "" };
    let operations = format!("{} at {}{back}", count(part.operations, "operation"), listed(&part.devices));
    match &part.why {
        WhyOperations::Nearest { pair, start } => {
            let name = required(pair, Some(start));
            match (part.operations, &part.devices[..]) {
                (1, [only]) => format!("{name} needs {only} operated."),
                (1, devices) => format!("{name} needs one of {} operated.", listed(devices)),
                _ => format!("{name} needs {operations}."),
            }
        }
        WhyOperations::ExcludeOneAnother(exclusion) => {
            let each = if people == People::Two { "a setting" } else { "a walk" };
            format!("{operations}: {each} each for {}.", names(exclusion).join("; "))
        }
        WhyOperations::SearchExhausted { core: Some(core) } => {
            format!("{operations}: all plans with fewer were searched, for {}.", of_core(core))
        }
        WhyOperations::SearchExhausted { core: None } => format!("{operations}: all plans with fewer were searched."),
    }
}

/// The switches, or how many they are.
fn listed(switches: &[String]) -> String {
    if switches.len() > MOST_LINES { format!("{} switches", switches.len()) } else { switches.join(", ") }
}

fn names(exclusion: &Exclusion) -> Vec<String> {
    let numbered = exclusion.pairs.iter().enumerate();
    numbered.map(|(number, pair)| required(pair, exclusion.starts.get(number))).collect()
}

fn of_core(core: &UnsatisfiableCore) -> String {
    let first = core.pairs.iter().enumerate().take(MOST_LINES);
    let names: Vec<String> = first.map(|(number, pair)| required(pair, core.starts.get(number))).collect();
    let rest = core.pairs.len() - names.len();
    let names = names.join("; ");
    if rest > 0 { format!("{names}; and {rest} more") } else { names }
}

/// A pair, with the start that it is meant for.
fn required(pair: &[String; 3], start: Option<&StartPositions>) -> String {
    let name = pair_name(pair);
    let started: Vec<String> =
        start.into_iter().flatten().map(|(device, position)| format!("{device} was in {position}")).collect();
    if started.is_empty() { name } else { format!("{name} (if {} at first)", started.join(" and ")) }
}
