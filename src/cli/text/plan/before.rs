//! What comes before the first reading of a plan.

use super::super::layout::Page;
use super::super::rooms::{Outgoing, Rooms};
use super::sheet::Sheet;
use crate::model::{BridgeRef, Circuit, CircuitId, Conducts, Installation, LocationId, PointId};
use crate::network::Obstacle;
use crate::plan::SwitchPosition;

/// Steps that are numbered as they are written.
struct Numbered<'p> {
    page: &'p mut Page,
    last: usize,
}

impl Numbered<'_> {
    fn step(&mut self, text: &str) {
        self.last += 1;
        self.page.after(0, &format!("{}. ", self.last), 3, text);
    }
}

pub(super) fn write(page: &mut Page, sheet: &Sheet<'_>) {
    page.heading("Before the first reading");
    let mut steps = Numbered { page, last: 0 };
    let boards: Vec<String> = sheet
        .installation
        .boards()
        .map(|(_, board)| {
            let how = if sheet.request.without.iter().any(|&room| board.location() == Some(room)) {
                "its room is locked: at its supply, and lock that off"
            } else if board.has_main_switch() {
                "main switch"
            } else {
                "no main switch: at its supply, and disconnect its incoming neutral, which nothing else opens"
            };
            format!("{} ({how})", board.id())
        })
        .collect();
    steps.step(&format!(
        "Isolate, lock off and prove dead: {}. If a board can't be locked off and proved dead, stop. Switch off every \
         way and every RCD of each board; they stay off. Earthing conductors and bonding stay connected.",
        boards.join(", ")
    ));
    steps.step("Continuity of protective conductors (bonding included), ring final circuits and polarity come first.");
    go_round(&mut steps, sheet);
    left_in(steps.page, sheet);
    steps.step("Screw covers and accessories back as far as can be: pinched cables show only then.");
    steps.step("Prove the leads: joined together the instrument reads 0.00 MΩ; so for each lead of a joined pair.");
    steps.step(
        "Each reading is taken on the load side of the way that is named: L, N and E are its own, and + joins them on \
         one lead.",
    );
    steps.step("Release the button before a lead is moved, so that the circuit discharges.");
}

/// One round through the rooms: what comes out, is linked and looked at in each.
fn go_round(steps: &mut Numbered<'_>, sheet: &Sheet<'_>) {
    let (installation, start) = (sheet.installation, sheet.start);
    let mut rooms = Rooms::of(sheet.network, start, sheet.request);
    let room_of = |location: Option<LocationId>| location.map(|location| installation.location(location).name());
    for row in start.obstacles.iter().filter(|row| row.removable) {
        let room = room_of(row.holder.location(installation));
        let (name, kind) = (row.name(installation), kind_of(installation, row.holder));
        rooms.take_out(room, &Outgoing { name: &name, kind, is_electronic: row.conducts == Conducts::Maybe });
        for link in &row.links {
            rooms.link(room, link);
        }
    }
    for (id, point) in installation.points().filter(|(id, _)| !sheet.is_locked(*id)) {
        for link in &point.links {
            let terminals: Vec<&str> =
                link.iter().map(|&terminal| installation.point_terminal_name(id, terminal)).collect();
            rooms.joined(room_of(point.location()), point.id(), &terminals);
        }
    }
    let mut locked = Vec::new();
    for (id, position) in &start.positions {
        let point = sheet.point(id);
        let known = Some(position.name()).filter(|_| *position != SwitchPosition::Unknown);
        match known {
            Some(position) if sheet.is_locked(point) => locked.push(format!("{id} {position}")),
            _ if sheet.is_locked(point) => {}
            known => rooms.stands(room_of(installation.point(point).location()), id, known.as_deref()),
        }
    }
    if !rooms.is_empty() {
        steps.last += 1;
        rooms.write(steps.page, &format!("{}. ", steps.last));
    }
    if !locked.is_empty() {
        steps.page.after(3, "", 2, &format!("In locked rooms, taken to stand so: {}.", locked.join(", ")));
    }
}

/// What stays in, and what that means for the readings.
fn left_in(page: &mut Page, sheet: &Sheet<'_>) {
    let installation = sheet.installation;
    let stays = sheet.start.obstacles.iter().filter(|row| !row.removable);
    let stays = stays.filter(|row| !matches!(row.holder, BridgeRef::Group(_)));
    let (locked, stays): (Vec<&Obstacle>, Vec<&Obstacle>) =
        stays.partition(|row| sheet.request.is_holder_locked(installation, row.holder));
    let mut list = |text: &str, rows: &[&Obstacle]| {
        if !rows.is_empty() {
            let rows: Vec<String> = rows.iter().map(|row| what_it_is(installation, row)).collect();
            page.after(3, "", 2, &format!("{text} {}.", rows.join("; ")));
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

fn kind_of(installation: &Installation, holder: BridgeRef) -> &str {
    match holder {
        BridgeRef::Point(point) => installation.kind(installation.point(point).kind()).name(),
        BridgeRef::Way(_) => "rcbo",
        BridgeRef::Group(_) => "rcd",
    }
}

fn what_it_is(installation: &Installation, row: &Obstacle) -> String {
    let place = match row.holder {
        BridgeRef::Point(point) => place(installation, point),
        BridgeRef::Way(_) | BridgeRef::Group(_) => String::new(),
    };
    format!("{} {}{place}", row.name(installation), kind_of(installation, row.holder))
}

/// Where a point is, to be put behind its name.
pub(super) fn place(installation: &Installation, point: PointId) -> String {
    match installation.point(point).location() {
        Some(location) => format!(" in {}", installation.location(location).name()),
        None => String::new(),
    }
}
