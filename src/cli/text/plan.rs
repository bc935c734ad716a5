//! A plan as the text that is carried through the building.

use std::collections::BTreeMap;

use indexmap::IndexMap;

use super::coverage::{cautions, circuit_title, need_in_words, without_role};
use super::extras;
use super::layout::{Page, count, metres};
use super::proof;
use super::untestable;
use crate::model::{BridgeRef, Conducts, Installation, LengthId, LocationId, PointId};
use crate::network::{Network, PairId};
use crate::plan::{Afterwards, Obstacle, Operation, Plan, PlannedReading, Priority, Round, SwitchWork, WhyUnworked};
use crate::rules::test_voltage;

/// The text of `plan`.
pub(in crate::cli) fn render(network: &Network, plan: &Plan<'_>) -> String {
    let mut page = Page::default();
    page.heading(&format!("{}: plan of insulation-resistance tests", network.installation().name()));
    cautions(&mut page);
    summary(&mut page, plan);
    preparation(&mut page, network, plan);
    for (number, round) in plan.rounds().iter().enumerate() {
        self::round(&mut page, network, number + 1, round);
    }
    extras::write(&mut page, plan);
    after(&mut page, plan);
    untestable::write(&mut page, network, plan);
    unworked(&mut page, plan);
    without_role(&mut page, network);
    if !plan.not_planned().is_empty() {
        page.heading("Not planned");
        let why = if plan.was_stopped() {
            "The search was stopped before this plan reached these pairs, or showed that nothing can. They are NOT tested \
             by it; more time may plan for them:"
        } else {
            "Too many devices bear on these pairs for this plan to reach them or to show that nothing can. They are NOT \
             tested by it:"
        };
        page.paragraph(0, 2, why);
        let pairs: Vec<String> = plan.not_planned().iter().map(|&pair| pair_name(network, pair)).collect();
        page.paragraph(0, 2, &format!("{}.", pairs.join(", ")));
        let installation = network.installation();
        let unknown = unknown_of(installation, &plan.starts_at());
        if !unknown.is_empty() {
            page.paragraph(
                0,
                2,
                &format!(
                    "Note how these switches stand, name it in the test set, and plan again: {}.",
                    unknown.join(", ")
                ),
            );
        }
    }
    page.into_text()
}

fn summary(page: &mut Page, plan: &Plan<'_>) {
    page.heading("In short");
    page.paragraph(0, 2, &format!("Needed: {}.", need_in_words(plan.need())));
    request(page, plan);
    let report = plan.totals();
    if report.readings == 0 && !plan.not_planned().is_empty() {
        page.paragraph(0, 2, "No reading is planned, and not everything is done: see what is not planned.");
    } else if report.readings == 0 {
        page.paragraph(0, 2, "No reading adds anything: nothing that can be tested is left.");
    } else {
        page.paragraph(
            0,
            2,
            &format!(
                "{}, {}, {}, {}.",
                count(report.walks, "walk"),
                count(report.operations, "switch operation"),
                count(report.stops, "stop"),
                count(report.readings, "reading")
            ),
        );
    }
    if plan.was_stopped() {
        page.paragraph(
            0,
            2,
            "The search was stopped before its end, so this is the best plan found so far. What is not called proven may \
             be done with less.",
        );
    }
    let optimal = plan.optimal();
    let bounds = plan.bounds();
    if optimal.walks {
        proof::walks(page, plan);
    } else if bounds.walks == 0 {
        page.paragraph(0, 2, "Not proven to be the fewest walks.");
    } else {
        let bound = count(bounds.walks, "walk");
        page.paragraph(0, 2, &format!("Not proven to be the fewest walks; at least {bound} needed."));
    }
    if optimal.walks && report.walks > 0 && plan.request().afterwards == Afterwards::AsFound {
        page.paragraph(0, 2, "One of the walks puts everything back.");
    }
    if report.operations > 0 {
        if plan.request().priority == Priority::Stops {
            page.paragraph(
                0,
                2,
                &if optimal.stops {
                    "Fewest stops in as many walks, proven.".to_owned()
                } else {
                    format!("Not proven to be the fewest stops; at least {} needed.", bounds.stops)
                },
            );
        }
        page.paragraph(
            0,
            2,
            &match (optimal.operations, plan.request().priority) {
                (true, Priority::Operations) => "Fewest operations in as many walks, proven.".to_owned(),
                (true, Priority::Stops) => "Fewest operations in as many walks and stops, proven.".to_owned(),
                (false, _) => {
                    format!("Not proven to be the fewest operations; at least {} needed.", bounds.operations)
                }
            },
        );
        proof::operations(page, plan);
    }
    fewest_readings(page, plan);
    if_known(page, plan);
}

/// What it costs that nobody knows how some switches stand.
fn if_known(page: &mut Page, plan: &Plan<'_>) {
    let Some(known) = plan.if_known() else { return };
    let totals = plan.totals();
    let installation = plan.network().installation();
    let names: Vec<&str> = known.points.iter().map(|&point| installation.point(point).id()).collect();
    let all_planned = plan.not_planned().is_empty() && plan.untestable().len() == known.untestable;
    let is_known_least = known.optimal.walks && known.optimal.operations;
    let same = (totals.walks, totals.operations) == (known.totals.walks, known.totals.operations);
    let figures =
        format!("{}, {}", count(known.totals.walks, "walk"), count(known.totals.operations, "switch operation"));
    let names = names.join(", ");
    page.paragraph(
        0,
        2,
        &match (same && all_planned, is_known_least) {
            (true, _) => format!(
                "The plan holds however {names} stood. Known to stand in their first positions they would take as much: \
                 {figures}."
            ),
            (false, true) => format!(
                "The plan holds however {names} stood. Known to stand in their first positions they would take {figures}, \
                 and no less: look how they stand, and plan again."
            ),
            (false, false) => format!(
                "The plan holds however {names} stood. Known to stand in their first positions they would take {figures} or \
                 less: look how they stand, and plan again."
            ),
        },
    );
}

/// What is known of the number of readings, where leads may be joined otherwise.
fn fewest_readings(page: &mut Page, plan: &Plan<'_>) {
    let Some(are_fewest) = plan.are_readings_fewest() else { return };
    let open: Vec<String> = plan
        .rounds()
        .iter()
        .enumerate()
        .filter(|(_, round)| round.fewest_readings == Some(false))
        .map(|(number, _)| (number + 1).to_string())
        .collect();
    let text = if plan.readings() == 0 {
        return;
    } else if are_fewest {
        "Fewest readings in as many walks, proven.".to_owned()
    } else if open.is_empty() {
        "Fewest readings for what each round adds, proven round by round; not for the whole plan.".to_owned()
    } else {
        format!("Fewest readings for what each round adds, proven but for: round {}.", open.join(", round "))
    };
    page.paragraph(0, 2, &text);
}

/// What was asked for besides.
fn request(page: &mut Page, plan: &Plan<'_>) {
    let installation = plan.network().installation();
    let request = plan.request();
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
        page.paragraph(0, 2, "The last round puts every switch back as it was found.");
        let stuck: Vec<&str> = plan.not_put_back().map(|point| installation.point(point).id()).collect();
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
    if let Some(usual) = plan.usual_readings() {
        page.paragraph(
            0,
            2,
            &format!(
                "Leads are joined otherwise where that makes readings fewer: {} instead of {usual}. What is given up: a low \
                 reading says less about where, circuits read together read low together, and the record has no figure of \
                 its own for each of them. After a low one, take the usual readings way by way.",
                plan.readings()
            ),
        );
    }
    if request.priority == Priority::Stops {
        page.paragraph(0, 2, "Fewest stops come before fewest operations.");
    }
}

fn preparation(page: &mut Page, network: &Network, plan: &Plan<'_>) {
    let installation = network.installation();
    page.heading("Before the first reading");
    let boards: Vec<String> = installation
        .boards()
        .map(|(_, board)| {
            if plan.request().without.iter().any(|&room| board.location() == Some(room)) {
                format!("{} (its room is locked: at its supply, and lock that off)", board.id())
            } else if board.has_main_switch() {
                format!("{} (main switch)", board.id())
            } else {
                format!("{} (no main switch: at its supply)", board.id())
            }
        })
        .collect();
    page.after(
        0,
        "1. ",
        3,
        &format!(
            "Isolate, lock off and prove dead: {}. If a board can't be locked off and proved dead, stop. Switch off every \
             way and every RCD of each board; they stay off. Each reading is taken on the load side of its way.",
            boards.join(", ")
        ),
    );
    page.after(
        0,
        "2. ",
        3,
        "Continuity of protective conductors (bonding included), ring final circuits and polarity come first.",
    );
    page.after(0, "3. ", 3, "Take out, or disconnect by the maker's instructions:");
    let (out, stays): (Vec<Obstacle>, Vec<Obstacle>) = plan.obstacles().into_iter().partition(|row| row.removable);
    for (circuit, rows) in by_circuit(installation, &out) {
        page.paragraph(3, 2, &circuit);
        for conducts in [Conducts::Sure, Conducts::Maybe] {
            let names: Vec<String> =
                rows.iter().filter(|row| row.conducts == conducts).map(|row| what_it_is(installation, row)).collect();
            if !names.is_empty() {
                let why = match conducts {
                    Conducts::Sure => "would be read instead of the insulation",
                    Conducts::Maybe => "electronics: may be damaged, or be read instead",
                };
                page.after(5, "[ ] ", 4, &format!("{} ({why})", names.join(", ")));
            }
        }
    }
    if out.is_empty() {
        page.paragraph(3, 2, "nothing");
    }
    let stays: Vec<Obstacle> = stays.into_iter().filter(|row| !matches!(row.holder, BridgeRef::Group(_))).collect();
    let (locked, stays): (Vec<Obstacle>, Vec<Obstacle>) =
        stays.into_iter().partition(|row| row.is_locked_in(installation, plan.request()));
    if !stays.is_empty() {
        page.after(3, "", 2, "These can't be taken out; no reading below puts the test voltage across them:");
        for row in &stays {
            page.after(5, "- ", 2, &what_it_is(installation, row));
        }
    }
    if !locked.is_empty() {
        page.after(
            3,
            "",
            2,
            "These are locked in, and taken to be fitted; no reading below puts the test voltage across them. If one is \
             out, name it in the test set, and plan again:",
        );
        for row in &locked {
            page.after(5, "- ", 2, &what_it_is(installation, row));
        }
    }
    joined(page, installation);
    page.after(0, "4. ", 3, "Screw covers and accessories back as far as can be: pinched cables show only then.");
    page.after(
        0,
        "5. ",
        3,
        "Prove the leads: joined together the instrument reads 0.00 MΩ; so for each lead of a joined pair.",
    );
    page.after(0, "6. ", 3, "Release the button before a lead is moved, so that the circuit discharges.");
    let stands = plan.starts_at();
    if !stands.is_empty() {
        let known: Vec<String> = stands
            .iter()
            .filter_map(|(point, position)| position.map(|at| format!("{} {at}", installation.point(*point).id())))
            .collect();
        let unknown = unknown_of(installation, &stands);
        if !known.is_empty() {
            page.after(
                0,
                "7. ",
                3,
                &format!("The plan starts from these positions; check them: {}.", known.join(", ")),
            );
        }
        if !unknown.is_empty() {
            page.after(
                0,
                if known.is_empty() { "7. " } else { "8. " },
                3,
                &format!("Nobody need know how these stand; the plan holds in any case: {}.", unknown.join(", ")),
            );
        }
    }
}

/// What the file says is joined for good: the plan counts on it.
fn joined(page: &mut Page, installation: &Installation) {
    let linked: Vec<_> = installation.points().filter(|(_, point)| !point.links.is_empty()).collect();
    if linked.is_empty() {
        return;
    }
    page.after(
        3,
        "",
        2,
        "See that these are joined, as the file says, by a link for the test where the device itself is out:",
    );
    for (id, point) in linked {
        let name = |&terminal: &u16| installation.point_terminal_name(id, terminal);
        for link in &point.links {
            let terminals: Vec<&str> = link.iter().map(name).collect();
            page.after(
                5,
                "[ ] ",
                4,
                &format!("{}{}: {}", point.id(), place(installation, id), terminals.join(" and ")),
            );
        }
    }
}

/// The points that nobody knows the position of.
fn unknown_of<'i>(installation: &'i Installation, stands: &[(PointId, Option<&str>)]) -> Vec<&'i str> {
    let unknown = stands.iter().filter(|(_, position)| position.is_none());
    unknown.map(|(point, _)| installation.point(*point).id()).collect()
}

fn by_circuit<'o>(installation: &Installation, rows: &'o [Obstacle]) -> IndexMap<String, Vec<&'o Obstacle>> {
    let mut circuits: IndexMap<String, Vec<&Obstacle>> = IndexMap::new();
    for row in rows {
        let title = row.circuit.map_or_else(|| "Boards".to_owned(), |id| circuit_title(installation.circuit(id)));
        circuits.entry(title).or_default().push(row);
    }
    circuits
}

fn what_it_is(installation: &Installation, row: &Obstacle) -> String {
    let name = row.name(installation);
    match row.holder {
        BridgeRef::Point(point) => {
            let kind = installation.kind(installation.point(point).kind()).name();
            format!("{name} {kind}{}", place(installation, point))
        }
        BridgeRef::Way(_) => format!("{name} rcbo"),
        BridgeRef::Group(_) => format!("{name} rcd"),
    }
}

/// Where a point is, to be put behind its name.
pub(in crate::cli) fn place(installation: &Installation, point: PointId) -> String {
    match installation.point(point).location() {
        Some(location) => format!(" in {}", installation.location(location).name()),
        None => String::new(),
    }
}

fn round(page: &mut Page, network: &Network, number: usize, round: &Round) {
    let installation = network.installation();
    if round.operations.is_empty() {
        page.heading(&format!("Round {number}: as things stand"));
    } else {
        let what = if round.readings.is_empty() { "; no reading" } else { "" };
        page.heading(&format!("Round {number}: {}{what}", count(round.operations.len(), "operation")));
        if let Some(tour) = round.tour {
            let order = if tour.is_shortest { "in this order, the shortest" } else { "in this order" };
            page.paragraph(
                0,
                2,
                &format!("From the board past these stops and back: {}, {order}.", metres(tour.metres.0)),
            );
        }
        operations(page, installation, &round.operations);
    }
    if round.readings.is_empty() {
        return;
    }
    let mut at = None;
    for planned in &round.readings {
        let circuit = installation.circuit(planned.circuit);
        let here = match circuit.way() {
            Some(way) if is_in_full(planned) => {
                format!("At board {}, its ways together:", installation.board(way.board()).id())
            }
            Some(way) => format!("At way {}: {}", installation.way_name(way), circuit_title(circuit)),
            None => circuit_title(circuit),
        };
        if at.as_ref() != Some(&here) {
            page.paragraph(0, 2, &here);
            at = Some(here);
        }
        reading(page, network, planned, !round.operations.is_empty());
    }
}

/// Operations as steps, stop by stop.
pub(in crate::cli) fn operations(page: &mut Page, installation: &Installation, operations: &[Operation]) {
    let mut stop = None;
    for operation in operations {
        if stop != Some(&operation.stop) {
            page.paragraph(0, 2, &format!("Go to {}.", stop_in_words(installation, operation)));
            stop = Some(&operation.stop);
        }
        let id = installation.point(operation.point).id();
        let step = match (&operation.from, &operation.to) {
            (Some(from), Some(to)) => format!("{id}: from {from} to {to}"),
            (None, Some(to)) => format!("{id}: to {to}, however it stands"),
            (_, None) => format!("{id}: operate it once, however it stands"),
        };
        page.after(2, "[ ] ", 4, &step);
        if installation.kind(installation.point(operation.point).kind()).name() == "contactor" {
            page.after(
                6,
                "! ",
                2,
                "Work its armature by its own latch or a wedge, before the reading. Nobody's hand stays in it.",
            );
        }
    }
}

fn stop_in_words(installation: &Installation, operation: &Operation) -> String {
    let point = installation.point(operation.point);
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
    planned.reading.leads().iter().any(|lead| lead.text().contains('.'))
}

/// A reading as a step, with what it adds.
pub(in crate::cli) fn reading(page: &mut Page, network: &Network, planned: &PlannedReading, in_full: bool) {
    let installation = network.installation();
    let volts = planned.volts.0;
    let lead = |number: usize| {
        let touches = planned.reading.leads()[number].touches();
        touches.iter().map(|&terminal| installation.terminal_name(terminal)).collect::<Vec<_>>().join(" and ")
    };
    let [a, b] = planned.reading.leads().each_ref().map(|lead| lead.text());
    let what = if is_in_full(planned) { String::new() } else { format!("{a} to {b} at ") };
    page.after(
        2,
        "[ ] ",
        4,
        &format!("{what}{volts} V d.c.: one lead on {}, the other on {}  ______\u{a0}MΩ", lead(0), lead(1)),
    );
    if !planned.adds.is_empty() || planned.positions.is_empty() {
        page.paragraph(6, 2, &format!("adds {}", adds(network, &planned.adds, in_full)));
    }
    if !planned.positions.is_empty() {
        let positions: Vec<String> = planned
            .positions
            .iter()
            .map(|(point, position)| format!("{} {position}", installation.point(*point).id()))
            .collect();
        page.paragraph(6, 2, &format!("puts under test {}", positions.join(", ")));
    }
    let mut low: Vec<&str> = planned
        .adds
        .iter()
        .map(|&pair| installation.length(network.pair_length(pair)))
        .filter(|length| test_voltage(installation.circuit(length.circuit())).0 < volts)
        .map(|length| length.id())
        .collect();
    low.dedup();
    if !low.is_empty() {
        page.after(
            6,
            "! ",
            2,
            &format!(
                "This puts {volts} V d.c. on lengths of circuits that ask for less: {}. Extra-low voltage must be separate \
                 from this circuit: look for a crossed connection before the reading.",
                low.join(", ")
            ),
        );
    }
}

/// What is put back.
fn after(page: &mut Page, plan: &Plan<'_>) {
    if plan.rounds().is_empty() && plan.extras().is_none_or(|extras| extras.used.is_empty()) {
        return;
    }
    page.heading("After the last reading");
    page.after(0, "[ ] ", 4, "Let every circuit discharge through the instrument, then take the leads off.");
    page.after(0, "[ ] ", 4, "Take out every temporary link, latch and wedge.");
    if plan.obstacles().iter().any(|row| row.removable) {
        page.after(
            0,
            "[ ] ",
            4,
            "Put back or reconnect everything that was taken out or disconnected, by the maker's instructions.",
        );
    }
    let switches = match plan.request().afterwards {
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

/// What a reading adds: in full, the cores length by length; else how much.
fn adds(network: &Network, pairs: &[PairId], in_full: bool) -> String {
    let installation = network.installation();
    let lengths = by_length(network, pairs.iter().copied());
    if pairs.is_empty() {
        return "what later readings complete, whichever way the switches stood".to_owned();
    }
    if in_full {
        let in_full =
            |(id, names): &(LengthId, Vec<String>)| format!("{} {}", installation.length(*id).id(), names.join(", "));
        lengths.iter().map(in_full).collect::<Vec<_>>().join("; ")
    } else {
        format!("{} in {}", count(pairs.len(), "pair"), count(lengths.len(), "length"))
    }
}

/// Pairs, in the order of lengths, with the names of their cores length by length.
pub(in crate::cli) fn by_length(
    network: &Network,
    pairs: impl Iterator<Item = PairId>,
) -> Vec<(LengthId, Vec<String>)> {
    let mut lengths: Vec<(LengthId, Vec<String>)> = Vec::new();
    for pair in pairs {
        let id = network.pair_length(pair);
        let names = network.pair_core_names(pair).join("-");
        match lengths.last_mut() {
            Some((last, list)) if *last == id => list.push(names),
            _ => lengths.push((id, vec![names])),
        }
    }
    lengths
}

pub(in crate::cli) fn pair_name(network: &Network, pair: PairId) -> String {
    let length = network.installation().length(network.pair_length(pair)).id();
    format!("{length} {}", network.pair_core_names(pair).join("-"))
}

/// Where each switch is to be worked: what can't be had of that.
fn unworked(page: &mut Page, plan: &Plan<'_>) {
    let installation = plan.network().installation();
    let Some(rows) = plan.unworked().filter(|rows| !rows.is_empty()) else { return };
    page.heading("Switches not operated, and positions not put under test");
    let mut by_reason: BTreeMap<WhyUnworked, Vec<String>> = BTreeMap::new();
    for row in rows {
        let id = installation.point(row.point).id();
        let name = row.position.as_ref().map_or_else(|| id.to_owned(), |position| format!("{id} {position}"));
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
