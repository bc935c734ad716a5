//! What a plan comes to, and what is proven of it.

use super::super::coverage::need_in_words;
use super::super::layout::{Page, count, metres};
use super::proof;
use super::sheet::Sheet;
use crate::model::{LocationId, Metres};
use crate::plan::{Afterwards, Estimate, People, Plan, Priority, SwitchWork, Totals};

pub(super) fn write(page: &mut Page, sheet: &Sheet<'_>) {
    let plan = sheet.plan;
    page.heading("In short");
    page.paragraph(0, 2, &format!("Needed: {}.", need_in_words(sheet.network, sheet.request.need)));
    request(page, sheet);
    let totals = plan.totals;
    if totals.readings == 0 && !plan.not_planned.is_empty() {
        page.paragraph(0, 2, "No reading is planned, and not everything is done: see what is not planned.");
    } else if totals.readings == 0 && !plan.untestable.is_empty() {
        page.paragraph(0, 2, "No reading at a way adds anything.");
    } else if totals.readings == 0 {
        page.paragraph(0, 2, "No reading adds anything: nothing that can be tested is left.");
    } else {
        let times = match plan.people {
            People::Two => count(plan.rounds.len(), "round"),
            _ => count(totals.walks, "walk"),
        };
        let [operations, stops, readings] =
            [(totals.operations, "switch operation"), (totals.stops, "stop"), (totals.readings, "reading")]
                .map(|(number, what)| count(number, what));
        page.paragraph(0, 2, &format!("{times}, {operations}, {stops}, {readings}."));
    }
    if plan.stopped {
        page.paragraph(
            0,
            2,
            "The search was stopped before its end, so this is the best plan found so far. What is not called proven may \
             be done with less.",
        );
    }
    if plan.people == People::One {
        walks(page, sheet);
    }
    if totals.operations > 0 {
        operations(page, sheet);
        if plan.people == People::Two {
            one_way(page, plan);
        }
    }
    others(page, sheet);
    fewest_readings(page, plan);
    if_known(page, plan);
    if let Some(estimate) = plan.estimate.as_ref().filter(|estimate| estimate.minutes > 0) {
        time(page, estimate);
    }
}

/// About how long it takes.
fn time(page: &mut Page, estimate: &Estimate) {
    let Estimate { pace, minutes, out_minutes, round_minutes, extra_minutes, walks_left_out, .. } = estimate;
    let rounds = round_minutes.iter().fold(0, |sum: u64, &minutes| sum.saturating_add(minutes));
    let parts =
        [(*out_minutes, "to take out and put back"), (rounds, "for the rounds"), (*extra_minutes, "for extras")];
    let parts = parts.into_iter().filter(|part| part.0 > 0);
    let parts: Vec<String> = parts.map(|(minutes, what)| format!("{} {what}", in_hours(minutes))).collect();
    let walks = if *walks_left_out { "; without walks of which the file does not tell how far they are" } else { "" };
    page.paragraph(
        0,
        2,
        &format!(
            "Takes about {}, an estimate: {}; at {} m a minute, {} s a reading, {} s an operation, {} s for what comes out \
             (common practice, from memory, where no option sets it){walks}.",
            in_hours(*minutes),
            parts.join(", "),
            pace.metres_a_minute,
            pace.reading_seconds,
            pace.operation_seconds,
            pace.out_seconds
        ),
    );
}

/// Minutes as a person says them.
pub(super) fn in_hours(minutes: u64) -> String {
    match (minutes / 60, minutes % 60) {
        (0, minutes) => format!("{minutes} min"),
        (hours, 0) => format!("{hours} h"),
        (hours, minutes) => format!("{hours} h {minutes} min"),
    }
}

fn walks(page: &mut Page, sheet: &Sheet<'_>) {
    let plan = sheet.plan;
    if plan.optimal.walks {
        proof::walks(page, plan);
    } else if plan.bounds.walks == 0 {
        page.paragraph(0, 2, "Not proven to be the fewest walks.");
    } else {
        let bound = count(plan.bounds.walks, "walk");
        page.paragraph(0, 2, &format!("Not proven to be the fewest walks; at least {bound} needed."));
    }
    if plan.optimal.walks && plan.totals.walks > 0 && sheet.request.afterwards == Afterwards::AsFound {
        page.paragraph(0, 2, "One of the walks puts everything back.");
    }
}

fn operations(page: &mut Page, sheet: &Sheet<'_>) {
    let plan = sheet.plan;
    let stops_first = sheet.request.priority == Priority::Stops;
    let within = match (stops_first, plan.people) {
        (_, People::Two) => "",
        (true, _) => " in as many walks and stops",
        (false, _) => " in as many walks",
    };
    let claim = |proven: bool, what: &str, within: &str, bound: usize| {
        if proven {
            format!("Fewest {what}{within}, proven.")
        } else {
            format!("Not proven to be the fewest {what}; at least {bound} needed.")
        }
    };
    if stops_first {
        page.paragraph(0, 2, &claim(plan.optimal.stops, "stops", " in as many walks", plan.bounds.stops));
    }
    page.paragraph(0, 2, &claim(plan.optimal.operations, "operations", within, plan.bounds.operations));
    proof::operations(page, plan, sheet.request.afterwards);
}

/// The way of the person who goes round.
fn one_way(page: &mut Page, plan: &Plan) {
    let (way, are_least) = match plan.metres() {
        Some(Metres(length)) => (metres(length), plan.optimal.metres == Some(true)),
        None => (
            format!("{} (the passages do not tell how far it is)", count(plan.totals.stops, "stop")),
            plan.optimal.stops,
        ),
    };
    let claim = if are_least { "none is less with as few operations, proven" } else { "not proven to be the least" };
    page.paragraph(0, 2, &format!("One way from the board past all of them, and not back: {way}; {claim}."));
}

/// What it comes to with another number of people.
fn others(page: &mut Page, sheet: &Sheet<'_>) {
    let plan = sheet.plan;
    let Some(others) = plan.others.as_ref().filter(|row| row.totals.operations + plan.totals.operations > 0) else {
        return;
    };
    let who = match others.people {
        People::Two => "Two people, of whom one goes round while the other reads (`--people 2`)",
        _ => "One person, who comes back for the readings (`--people 1`)",
    };
    // From a board in another room a walk of one person begins elsewhere than the one way of two.
    let mut rooms: Vec<_> = sheet.installation.boards().map(|(_, board)| board.location()).collect();
    rooms.dedup();
    let measured = plan.metres().zip(others.metres).filter(|_| rooms.len() == 1);
    let figures = |totals: &Totals, walked: Option<Metres>| {
        let way = match walked.filter(|_| measured.is_some()) {
            Some(Metres(length)) => format!("{} of way", metres(length)),
            None => count(totals.stops, "stop"),
        };
        format!("{} and {way}", count(totals.operations, "operation"))
    };
    let (theirs, own) = (figures(&others.totals, others.metres), figures(&plan.totals, plan.metres()));
    let compared = if theirs == own { format!("as much, {own}") } else { format!("{theirs}, instead of {own}") };
    page.paragraph(0, 2, &format!("{who}: {compared}."));
}

/// What it costs that nobody knows how some switches stand.
fn if_known(page: &mut Page, plan: &Plan) {
    let Some(known) = &plan.if_known else { return };
    let all_planned = plan.not_planned.is_empty() && plan.untestable.len() == known.untestable;
    let is_two = plan.people == People::Two;
    let compared = |totals: &Totals| (if is_two { 0 } else { totals.walks }, totals.operations);
    let same = compared(&plan.totals) == compared(&known.totals);
    let walks = if is_two { String::new() } else { format!("{}, ", count(known.totals.walks, "walk")) };
    let figures = format!("{walks}{}", count(known.totals.operations, "switch operation"));
    let cost = match (same && all_planned, (is_two || known.optimal.walks) && known.optimal.operations) {
        (true, _) => format!("as much: {figures}."),
        (false, true) => format!("{figures}, and no less: find out how they stand, and plan again."),
        (false, false) => format!("{figures} or less: find out how they stand, and plan again."),
    };
    let names = known.points.join(", ");
    page.paragraph(
        0,
        2,
        &format!(
            "The plan holds however {names} stood. Known to stand in their first positions they would take {cost}"
        ),
    );
}

/// What is known of the number of readings, where leads may be joined otherwise.
fn fewest_readings(page: &mut Page, plan: &Plan) {
    let Some(are_fewest) = plan.optimal.readings.filter(|_| plan.totals.readings > 0) else { return };
    let numbered = plan.rounds.iter().enumerate();
    let open = numbered.filter(|(_, round)| round.fewest_readings == Some(false));
    let open: Vec<String> = open.map(|(number, _)| (number + 1).to_string()).collect();
    let text = if are_fewest {
        "Fewest readings in as many walks, proven.".to_owned()
    } else if open.is_empty() {
        "Fewest readings for what each round adds, proven round by round; not for the whole plan.".to_owned()
    } else {
        format!("Fewest readings for what each round adds, proven but for: round {}.", open.join(", round "))
    };
    page.paragraph(0, 2, &text);
}

/// What was asked for besides.
fn request(page: &mut Page, sheet: &Sheet<'_>) {
    let (installation, request) = (sheet.installation, sheet.request);
    let name = |&id: &LocationId| {
        let row = installation.location(id);
        if row.name() == row.id() { row.id().to_owned() } else { format!("{} ({})", row.name(), row.id()) }
    };
    if !request.without.is_empty() {
        let rooms: Vec<String> = request.without.iter().map(name).collect();
        page.paragraph(
            0,
            2,
            &format!("Locked, so nothing is operated, read at or taken out there: {}.", rooms.join(", ")),
        );
    }
    if !request.leave.is_empty() {
        let points: Vec<&str> = request.leave.iter().map(|&point| installation.point(point).id()).collect();
        page.paragraph(0, 2, &format!("Left alone: {}.", points.join(", ")));
    }
    if request.afterwards == Afterwards::AsFound {
        let back = match sheet.plan.people {
            People::Two => "Every switch is put back as it was found, on the way or at its end.",
            _ => "The last round puts every switch back as it was found.",
        };
        page.paragraph(0, 2, back);
        let stuck = &sheet.start.not_put_back;
        if !stuck.is_empty() {
            page.paragraph(
                0,
                2,
                &format!(
                    "Not operated, since nobody knows how they stand and so how to put them back: {}. Note how they \
                     stand, name it in the test set, and plan again.",
                    stuck.join(", ")
                ),
            );
        }
    }
    if request.switches == SwitchWork::Each {
        page.paragraph(0, 2, "Each switch is operated, and each position that closes a contact put under test.");
    }
    if let Some(usual) = sheet.plan.usual_readings {
        page.paragraph(
            0,
            2,
            &format!(
                "Leads are joined otherwise where that makes readings fewer: {} instead of {usual}. What is given up: a low \
                 reading says less about where, circuits read together read low together, and the record has no figure of \
                 its own for each of them. After a low one, take the usual readings way by way.",
                sheet.plan.totals.readings
            ),
        );
    }
    if request.priority == Priority::Stops {
        page.paragraph(0, 2, "Fewest stops come before fewest operations.");
    }
}
