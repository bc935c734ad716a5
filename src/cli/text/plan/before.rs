//! What comes before the first reading of a plan.

use indexmap::IndexMap;

use super::super::coverage::circuit_title;
use super::super::layout::Page;
use super::sheet::Sheet;
use crate::model::{BridgeRef, Circuit, CircuitId, Conducts, Installation, PointId};
use crate::network::Obstacle;
use crate::plan::SwitchPosition;

pub(super) fn write(page: &mut Page, sheet: &Sheet<'_>) {
    page.heading("Before the first reading");
    let boards: Vec<String> = sheet
        .installation
        .boards()
        .map(|(_, board)| {
            let how = if sheet.request.without.iter().any(|&room| board.location() == Some(room)) {
                "its room is locked: at its supply, and lock that off"
            } else if board.has_main_switch() {
                "main switch"
            } else {
                "no main switch: at its supply"
            };
            format!("{} ({how})", board.id())
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
    obstacles(page, sheet);
    links(page, sheet);
    joined(page, sheet.installation);
    page.after(0, "4. ", 3, "Screw covers and accessories back as far as can be: pinched cables show only then.");
    page.after(
        0,
        "5. ",
        3,
        "Prove the leads: joined together the instrument reads 0.00 MΩ; so for each lead of a joined pair.",
    );
    page.after(0, "6. ", 3, "Release the button before a lead is moved, so that the circuit discharges.");
    positions(page, sheet);
}

fn obstacles(page: &mut Page, sheet: &Sheet<'_>) {
    let installation = sheet.installation;
    let rows = sheet.start.obstacles.iter();
    let (out, stays): (Vec<&Obstacle>, Vec<&Obstacle>) = rows.partition(|row| row.removable);
    let mut circuits: IndexMap<String, Vec<&Obstacle>> = IndexMap::new();
    for &row in &out {
        let title = row.circuit.map_or_else(|| "Boards".to_owned(), |id| circuit_title(installation.circuit(id)));
        circuits.entry(title).or_default().push(row);
    }
    for (circuit, rows) in circuits {
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
    let stays = stays.into_iter().filter(|row| !matches!(row.holder, BridgeRef::Group(_)));
    let (locked, stays): (Vec<&Obstacle>, Vec<&Obstacle>) =
        stays.partition(|row| sheet.request.is_holder_locked(installation, row.holder));
    let mut list = |text: &str, rows: &[&Obstacle]| {
        if !rows.is_empty() {
            page.after(3, "", 2, text);
        }
        for row in rows {
            page.after(5, "- ", 2, &what_it_is(installation, row));
        }
    };
    let relieved: Vec<(CircuitId, &Circuit)> =
        installation.circuits().filter(|&(id, _)| sheet.network.relief_of(id).is_some()).collect();
    let leaves = |holder: BridgeRef| {
        let mut leaving = relieved.iter().filter_map(|(_, circuit)| circuit.relief());
        leaving.any(|relief| relief.leaves().iter().any(|&point| holder == BridgeRef::Point(point)))
    };
    let (left_in, stays): (Vec<&Obstacle>, Vec<&Obstacle>) = stays.into_iter().partition(|row| leaves(row.holder));
    list(
        "These are left in, as the `relief` of a circuit says: its readings below are taken with them in, at the lower \
         voltage given there:",
        &left_in,
    );
    list("These can't be taken out; no reading below puts the test voltage across them:", &stays);
    list(
        "These are locked in, and taken to be fitted; no reading below puts the test voltage across them. If one is \
         out, name it in the test set, and plan again:",
        &locked,
    );
}

/// Links in the place of what is out and passes: the plan counts on them.
fn links(page: &mut Page, sheet: &Sheet<'_>) {
    let rows = || sheet.start.obstacles.iter().flat_map(|row| row.links.iter().map(move |link| (row, link)));
    if rows().next().is_some() {
        page.after(3, "", 2, "Link for the test, in the place of what is out; the plan counts on it:");
    }
    for (row, link) in rows() {
        let place = match row.holder {
            BridgeRef::Point(point) => place(sheet.installation, point),
            BridgeRef::Way(_) | BridgeRef::Group(_) => String::new(),
        };
        page.after(5, "[ ] ", 4, &format!("{}{place}", link.join(" to ")));
    }
}

/// What the file says is joined for good: the plan counts on it.
fn joined(page: &mut Page, installation: &Installation) {
    let linked: Vec<_> = installation.points().filter(|(_, point)| !point.links.is_empty()).collect();
    if linked.is_empty() {
        return;
    }
    page.after(3, "", 2, "See that these are joined for good, as the file says:");
    for (id, point) in linked {
        for link in &point.links {
            let name = |&terminal: &u16| installation.point_terminal_name(id, terminal);
            let terminals = link.iter().map(name).collect::<Vec<_>>().join(" and ");
            page.after(5, "[ ] ", 4, &format!("{}{}: {terminals}", point.id(), place(installation, id)));
        }
    }
}

/// How the switches stand where the plan starts.
fn positions(page: &mut Page, sheet: &Sheet<'_>) {
    let known: Vec<String> = sheet
        .start
        .positions
        .iter()
        .filter(|(_, position)| *position != SwitchPosition::Unknown)
        .map(|(id, position)| format!("{id} {}", position.name()))
        .collect();
    let unknown: Vec<&str> = sheet.start.unknown().collect();
    if !known.is_empty() {
        let text = format!("The plan starts from these positions; check them: {}.", known.join(", "));
        page.after(0, "7. ", 3, &text);
    }
    if !unknown.is_empty() {
        let number = if known.is_empty() { "7. " } else { "8. " };
        let text = format!("Nobody need know how these stand; the plan holds in any case: {}.", unknown.join(", "));
        page.after(0, number, 3, &text);
    }
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
pub(super) fn place(installation: &Installation, point: PointId) -> String {
    match installation.point(point).location() {
        Some(location) => format!(" in {}", installation.location(location).name()),
        None => String::new(),
    }
}
