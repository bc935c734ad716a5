//! A preparation as the text that is carried along: in the order of the work, each thing once.

use indexmap::{IndexMap, IndexSet};

use super::coverage::circuit_title;
use super::layout::{Page, volts_in_words};
use super::rooms::{Outgoing, Rooms};
use crate::model::{Circuit, Installation};
use crate::network::{Need, Network};
use crate::plan::{PlanStart, Request};
use crate::prepare::{
    Action, Caution, CircuitPreparation, InTheWay, IsolateAt, LeadsProved, Operated, Preparation, Step, TestBefore,
    WhyOff,
};
use crate::rules::{Relief, Source, WithEquipment};

/// The text of `prepare`.
pub(in crate::cli) fn render(page: &mut Page, network: &Network, preparation: &Preparation) {
    let installation = network.installation();
    page.heading(&format!("{}: preparation of insulation-resistance tests", installation.name()));
    for caution in &preparation.cautions {
        page.after(0, "! ", 2, caution);
    }
    let mut sheet = WorkOrder { page, installation, preparation, cautioned: Vec::new() };
    sheet.isolation();
    sheet.building(network);
    sheet.page.heading("Right before the readings");
    sheet.steps(&preparation.before_readings);
    sheet.readings();
    sheet.page.heading("After each reading and at last");
    sheet.links_out();
    sheet.steps(&preparation.after);
}

struct WorkOrder<'s> {
    page: &'s mut Page,
    installation: &'s Installation,
    preparation: &'s Preparation,
    /// Cautions that stand already: each is said where it first holds.
    cautioned: Vec<Caution>,
}

impl<'s> WorkOrder<'s> {
    fn caution(&mut self, caution: Option<Caution>) {
        if let Some(caution) = caution.filter(|caution| !self.cautioned.contains(caution)) {
            self.page.after(0, "! ", 2, caution.text());
            self.cautioned.push(caution);
        }
    }

    fn steps(&mut self, steps: &[Step]) {
        for step in steps {
            self.caution(step.caution);
            self.page.after(0, "[ ] ", 4, &in_words(&step.action));
        }
    }

    fn circuits(&self) -> impl Iterator<Item = (&'s CircuitPreparation, &'s Circuit)> + use<'s> {
        self.preparation.circuits.iter().zip(self.installation.circuits().map(|(_, circuit)| circuit))
    }

    fn all(&self) -> impl Iterator<Item = &'s Step> + use<'s> {
        // What is listed once for several circuits is behind `IsolateFor`.
        let of_circuits = self.preparation.circuits.iter().flat_map(|row| &row.steps);
        of_circuits.chain(self.preparation.opened.iter().flat_map(|row| &row.steps))
    }

    /// Every board once, and what stays off.
    fn isolation(&mut self) {
        self.page.heading("Isolate and prove dead");
        let mut isolated: IndexSet<String> = IndexSet::new();
        // Of contactors, and of the devices of boards.
        let mut stay: IndexMap<bool, IndexSet<&str>> = IndexMap::new();
        for step in self.all() {
            match &step.action {
                Action::Isolate { .. } | Action::IsolateSource { .. } => {
                    let text = in_words(&step.action);
                    if isolated.insert(text.clone()) {
                        self.caution(step.caution);
                        self.page.after(0, "[ ] ", 4, &text);
                    }
                }
                Action::KeepOff { device, why } => {
                    stay.entry(*why != WhyOff::NotWorkedByHand).or_default().insert(device);
                }
                _ => {}
            }
        }
        if let Some(devices) = stay.swap_remove(&false) {
            let devices = devices.into_iter().collect::<Vec<_>>().join(", ");
            let text = format!(
                "Released, and not worked by hand: {devices}. What lies beyond is reached by no lead at a way."
            );
            self.page.after(0, " -  ", 4, &text);
        }
        if let Some(devices) = stay.swap_remove(&true) {
            let text = format!(
                "Off, and stay off: {}. Readings are taken on the load side of a way: the rest of the board, its \
                 electronics and what it feeds are on no lead then, and feed nothing that is opened.",
                self.of_boards(devices)
            );
            self.page.after(0, "[ ] ", 4, &text);
        }
        self.page.after(
            0,
            " -  ",
            4,
            "Earthing conductors and bonding stay connected. Where no switch opens the incoming neutral, disconnect it: a \
             reading of neutral to earth would show the supply's own link.",
        );
        self.steps(&self.preparation.before);
        let is_ring = |step: &Step| matches!(step.action, Action::TestBefore { test: TestBefore::RingContinuity });
        let rings = self.circuits().filter(|(row, _)| row.steps.iter().any(is_ring));
        let rings: Vec<&str> = rings.map(|(row, _)| row.circuit.as_str()).collect();
        if !rings.is_empty() {
            let text = format!(
                "Test continuity of rings, whose lengths leave the way and come back to it: {}.",
                rings.join(", ")
            );
            self.page.after(0, "[ ] ", 4, &text);
        }
    }

    /// Devices of boards; a board of which all are there by its name.
    fn of_boards(&self, mut devices: IndexSet<&str>) -> String {
        let mut names: Vec<String> = Vec::new();
        for (_, board) in self.installation.boards() {
            let id = board.id();
            let main = board.has_main_switch().then(|| format!("{id}.main"));
            let groups = board.groups().iter().map(|group| format!("{id}.{}", group.id()));
            let ways = board.ways().iter().map(|way| format!("{id}/{}", way.id()));
            let all: IndexSet<String> = main.into_iter().chain(groups).chain(ways).collect();
            if all.iter().all(|device| devices.contains(&device[..])) {
                devices.retain(|device| !all.contains(*device));
                names.push(format!("all of {id}"));
            }
        }
        names.extend(devices.into_iter().map(str::to_owned));
        names.join(", ")
    }

    /// What is done and looked at, room by room.
    fn building(&mut self, network: &Network) {
        self.page.heading("Through the building");
        // A plan goes through the same rooms.
        let request = Request::from(Need::Standard);
        let start = PlanStart::of(network, None, &request).expect("there is no test set");
        let mut rooms = Rooms::of(network, &start, &request);
        let mut left_in: IndexSet<String> = IndexSet::new();
        let mut cautions: IndexSet<Caution> = IndexSet::new();
        let mut is_operated = false;
        for step in self.all() {
            let mut is_here = true;
            match &step.action {
                Action::TakeOut(thing) => {
                    let is_electronic = thing.conducts == "maybe";
                    let out = Outgoing { name: &thing.what, kind: &thing.kind, is_electronic };
                    rooms.take_out(self.room_of(thing), &out);
                }
                Action::LeaveIn(thing) => {
                    left_in.insert(what(thing));
                }
                Action::Joined { point, terminals, location } => {
                    let terminals: Vec<&str> = terminals.iter().map(String::as_str).collect();
                    rooms.joined(location.as_deref(), point, &terminals);
                }
                Action::Link { terminals, location, .. } => rooms.link(location.as_deref(), terminals),
                Action::SwitchOn { point, position, location } => {
                    rooms.stands(location.as_deref(), point, Some(position));
                }
                Action::Stands { point, position, location, operated: Operated::ByNobody } => {
                    let how = position.as_deref().unwrap_or("nobody knows how it stands");
                    rooms.stays(location.as_deref(), format!("{point} ({how}), so what is beyond is reached only so"));
                }
                Action::Stands { point, position, location, .. } => {
                    is_operated |= position.is_some();
                    rooms.stands(location.as_deref(), point, position.as_deref());
                }
                _ => is_here = false,
            }
            cautions.extend(step.caution.filter(|_| is_here));
        }
        for caution in cautions {
            self.caution(Some(caution));
        }
        if rooms.is_empty() {
            self.page.paragraph(0, 0, "Nothing comes out, and there is nothing to look at.");
        } else {
            rooms.write(self.page, "");
        }
        if !left_in.is_empty() {
            let left_in = left_in.into_iter().collect::<Vec<_>>().join("; ");
            self.page.after(0, " -  ", 4, &format!("These can't be taken out: {left_in}."));
        }
        if is_operated {
            self.page.after(0, " -  ", 4, "`plan` names what is operated, and when.");
        }
    }

    /// Where something is: what belongs to a board, at the board.
    fn room_of<'t>(&'t self, thing: &'t InTheWay) -> Option<&'t str> {
        let of_board = || {
            let board = thing.what.split(['/', '.']).next()?;
            let (_, board) = self.installation.boards().find(|(_, row)| row.id() == board)?;
            board.location().map(|location| self.installation.location(location).name())
        };
        if matches!(thing.kind.as_str(), "rcbo" | "rcd") { of_board() } else { thing.location.as_deref() }
    }

    /// The readings, circuit by circuit, and which circuits share copper with them.
    fn readings(&mut self) {
        self.page.heading("The readings, as things stand");
        let mut bars: IndexMap<&str, Vec<&str>> = IndexMap::new();
        for (row, _) in self.circuits() {
            for step in &row.steps {
                if let Action::NeutralAt { bar: Some(bar), .. } = &step.action {
                    bars.entry(bar).or_default().push(&row.circuit);
                    self.caution(step.caution);
                }
            }
        }
        for (bar, circuits) in bars {
            let text = if circuits.len() == 1 {
                format!("{bar} has the neutral of {} alone.", circuits[0])
            } else {
                format!("{bar} has the neutrals of {}: each reading with one on a lead holds all.", circuits.join(", "))
            };
            self.page.after(0, " -  ", 4, &text);
        }
        self.caution(Some(Caution::TestVoltage));
        for (row, circuit) in self.circuits() {
            let mut title = circuit_title(circuit);
            if let Some(way) = circuit.way() {
                title = format!("{}: {title}", self.installation.way_name(way));
            }
            let volts = row.steps.iter().find_map(|step| match &step.action {
                Action::Read { volts, .. } => Some(volts_in_words(*volts)),
                _ => None,
            });
            let Some(volts) = volts else {
                self.page.paragraph(0, 2, &format!("{title}: no reading; it has neither a way nor a source."));
                continue;
            };
            let taken_to = row.steps.iter().filter_map(|step| match &step.action {
                Action::TakeInstrumentTo { point, location } => Some(format!("; at {point}{}", at(location))),
                _ => None,
            });
            let taken_to: String = taken_to.collect();
            self.page.paragraph(0, 2, &format!("{title}{taken_to}; {volts}"));
            let reads: Vec<String> = row.steps.iter().filter_map(|step| read_in_words(&step.action)).collect();
            if !reads.is_empty() {
                self.page.after(2, "", 4, &reads.join("  "));
            }
            for step in &row.steps {
                match &step.action {
                    Action::Read { between: [a, b], never_cut_off, relief, .. } if !never_cut_off.is_empty() => {
                        let text = never_judged(&format!("{a} to {b}"), &never_cut_off.join(", "), relief.as_ref());
                        self.page.after(2, " -  ", 4, &text);
                    }
                    Action::TestSeparation => self.page.after(
                        2,
                        " -  ",
                        4,
                        "Its separation from other circuits is a test of its own, and none of these readings: see the notes \
                         in `rules`.",
                    ),
                    _ => {}
                }
            }
        }
    }

    fn links_out(&mut self) {
        let out: IndexSet<String> = self
            .all()
            .filter(|step| matches!(step.action, Action::TakeLinkOut { .. }))
            .map(|step| in_words(&step.action))
            .collect();
        for text in out {
            self.page.after(0, "[ ] ", 4, &text);
        }
    }
}

/// A step of which there is one, or one for each place.
fn in_words(action: &Action) -> String {
    match action {
        Action::Isolate { board, at, .. } => {
            let at = match at {
                IsolateAt::MainSwitch => "at its main switch",
                IsolateAt::Supply => "at its supply, for it has no main switch",
                IsolateAt::BeforeMainSwitch => "at its supply, before its main switch",
            };
            format!("Isolate {board} {at}, and lock it off.")
        }
        Action::IsolateSource { point, location } => {
            let what = point.as_deref().unwrap_or("what feeds the circuits that have no way");
            format!(
                "Isolate {what}{} at its source, and lock that off: the file doesn't say what feeds it.",
                at(location)
            )
        }
        Action::ProveDead => {
            "Prove all of it dead, in each accessory that is opened too: every conductor to every other, and to earth."
                .to_owned()
        }
        Action::TestBefore { test: TestBefore::ProtectiveContinuity } => {
            "Test continuity of protective conductors, bonding included.".to_owned()
        }
        Action::TestBefore { test: TestBefore::Polarity } => "Test polarity.".to_owned(),
        Action::TakeLinkOut { terminals, location, .. } => {
            format!("Take the link from {} out again{}.", terminals.join(" to "), at(location))
        }
        Action::CoversOn => {
            "Screw covers and accessories back as far as can be: pinched cables show only then.".to_owned()
        }
        Action::ProveLeads { leads: LeadsProved::Joined } => {
            "Join the two leads and test: the instrument reads 0.00\u{a0}MΩ. Part them, and it reads over its range."
                .to_owned()
        }
        Action::ProveLeads { leads: LeadsProved::EachOfAJoinedPair } => {
            "Where a lead joins two conductors, prove each of its tails so: one that is broken would go unseen."
                .to_owned()
        }
        Action::ReleaseAndDischarge => {
            "Release the button before a probe is moved, so that the circuit discharges through the instrument."
                .to_owned()
        }
        Action::ReadConnected(test) => read_connected(test),
        Action::PutBack => {
            "Put back and reconnect everything, take out every link, and prove that it works.".to_owned()
        }
        // These stand room by room and circuit by circuit.
        Action::TestBefore { test: TestBefore::RingContinuity }
        | Action::KeepOff { .. }
        | Action::IsolateFor { .. }
        | Action::TakeOut(_)
        | Action::LeaveIn(_)
        | Action::SwitchOn { .. }
        | Action::Joined { .. }
        | Action::Link { .. }
        | Action::Stands { .. }
        | Action::NeutralAt { .. }
        | Action::Read { .. }
        | Action::TestSeparation
        | Action::TakeInstrumentTo { .. } => String::new(),
    }
}

/// The test after equipment is connected.
pub(in crate::cli) fn read_connected(test: &WithEquipment) -> String {
    let Source { source, edition, from_memory } = &test.source;
    format!(
        "Equipment connected again, and still isolated: read each circuit at {} V d.c., its live conductors joined, to earth; \
         at least {} MΩ ({source}, {edition}{}). `connected` in the test set takes it; it tests no core.",
        test.volts.0,
        test.megohms.0,
        if *from_memory { "; FROM MEMORY" } else { "" }
    )
}

/// A reading with its box; none of one that can't be judged.
fn read_in_words(action: &Action) -> Option<String> {
    let Action::Read { between: [a, b], not_while_fitted, never_cut_off, left_in, .. } = action else {
        return None;
    };
    if !never_cut_off.is_empty() {
        return None;
    }
    let left_in = if left_in.is_empty() { String::new() } else { format!(", with {} left in", left_in.join(", ")) };
    let only = if not_while_fitted.is_empty() {
        String::new()
    } else {
        let is = if not_while_fitted.len() == 1 { "is" } else { "are" };
        format!(", but only with the switches so that {} {is} cut off", not_while_fitted.join(", "))
    };
    let text = format!("[ ] {a} to {b}{left_in}{only}: ______ MΩ");
    Some(if only.is_empty() && left_in.is_empty() { text.replace(' ', "\u{a0}") } else { text })
}

/// A reading that something lies across whatever is done.
fn never_judged(reading: &str, what: &str, relief: Option<&Relief>) -> String {
    let mut text = format!("{reading} can't be judged by this program while {what} is in: no switch cuts that off. ");
    match relief {
        Some(relief) => text.push_str(&format!(
            "{} ({}{}) allows {} V d.c., and at least {} MΩ, with it connected: where a person decides so, `leaves` in the circuit's \
             `relief` names it.",
            relief.source.source,
            relief.source.edition,
            if relief.source.from_memory { ", FROM MEMORY" } else { "" },
            relief.volts.0,
            relief.megohms.0
        )),
        None => text.push_str("It would be read instead of the insulation, or damaged: take no such reading."),
    }
    text
}

fn at(location: &Option<String>) -> String {
    location.as_ref().map(|location| format!(" in {location}")).unwrap_or_default()
}

fn what(obstacle: &InTheWay) -> String {
    format!("{} {}{}", obstacle.what, obstacle.kind, at(&obstacle.location))
}
