//! The readings that might be taken next: at ways, sources and boards as things stand and after operations, and at points.

use super::super::gaps::{GapId, GapTable, SideBySide, at_end};
use crate::model::{
    BoardId, CircuitId, Conductor, DeviceRef, End, GroupId, Lead, LengthId, PointId, ReadingAt, Stop, TerminalRef,
    WayId,
};
use crate::network::{Body, DeviceIndex, Edge, Network, Reach};
use crate::reading::{Configuration, DeviceState};

/// What is operated, each device to a position.
pub(super) type Operations = Vec<(DeviceIndex, u16)>;

/// A reading that might be taken.
#[derive(Clone, Debug)]
pub(super) struct Candidate {
    /// What is operated before it.
    pub(super) operations: Operations,
    pub(super) at: ReadingAt,
    pub(super) leads: [Lead; 2],
    pub(super) instrument: Instrument,
}

/// Where the instrument is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Instrument {
    Board,
    /// Taken to the source of a circuit without a way.
    Source(PointId),
    /// Taken to a point.
    Point(PointId),
}

impl Candidate {
    /// What it costs beside the reading: stops of the walk, and operations.
    pub(super) fn cost(&self, network: &Network) -> [usize; 2] {
        let operated =
            self.operations.iter().filter_map(|&(device, _)| match network.devices()[device as usize].reference {
                DeviceRef::Point(point) => Some(point),
                _ => None,
            });
        let mut stops: Vec<Stop> = operated.map(|point| Stop::of(network.installation(), point)).collect();
        stops.sort_unstable();
        stops.dedup();
        // Where the instrument is taken something is opened too.
        [stops.len() + usize::from(self.instrument != Instrument::Board), self.operations.len()]
    }
}

/// Where suspects can be read.
pub(super) struct Places<'a> {
    network: &'a Network,
    /// Terminals and copper that stay live with the main switch off: what feeds a board from outside the file.
    live: Vec<(TerminalRef, Option<Body>)>,
    readings: Vec<Candidate>,
    devices: Vec<DeviceIndex>,
}

impl<'a> Places<'a> {
    /// Finds where some gaps can be read. Time linear in the copper that contacts at points join to them.
    pub(super) fn of(network: &'a Network, gaps: &GapTable, suspects: &[GapId]) -> Places<'a> {
        let (area, devices) = area(network, gaps, suspects);
        let mut places = Places { network, live: live(network), readings: Vec::new(), devices };
        places.add_ways(&area);
        places.add_boards(&area);
        for gap in suspects.iter().take(network.limits().locate.suspects_read_across) {
            places.add_own(&gaps.members[gap.index()]);
        }
        places
    }

    /// Adds a reading, unless a lead would be on what stays live.
    fn add(&mut self, at: ReadingAt, instrument: Instrument, leads: [Vec<(String, TerminalRef)>; 2]) {
        let is_live = |terminal: TerminalRef| {
            let body = self.network.body(terminal);
            self.live.iter().any(|(live, copper)| *live == terminal || *copper == Some(body))
        };
        if leads.iter().flatten().any(|entry| is_live(entry.1)) {
            return;
        }
        let leads = leads.map(|touched| Lead {
            text: touched.iter().map(|entry| entry.0.as_str()).collect::<Vec<_>>().join("+"),
            touches: touched.iter().map(|entry| entry.1).collect(),
        });
        self.readings.push(Candidate { operations: Vec::new(), at, leads, instrument });
    }

    /// Each terminal against each other one, and each against all others.
    fn add_between(&mut self, at: ReadingAt, instrument: Instrument, terminals: &[(String, TerminalRef)]) {
        let count = terminals.len();
        for one in 0..count {
            for other in one + 1..count {
                self.add(at, instrument, [vec![terminals[one].clone()], vec![terminals[other].clone()]]);
            }
        }
        if count > 2 {
            for one in (0..count).rev() {
                let mut rest = terminals.to_vec();
                let one = rest.remove(one);
                self.add(at, instrument, [rest, vec![one]]);
            }
        }
    }

    fn add_ways(&mut self, area: &Reach) {
        let network = self.network;
        let installation = network.installation();
        let mut count = 0;
        for (id, circuit) in installation.circuits() {
            let Some(way) = circuit.way() else {
                self.add_sources(area, id, &mut count);
                continue;
            };
            let row = installation.way(way);
            let at = |conductor| TerminalRef::Way { way, conductor };
            let reaches = row.poles().iter().any(|&line| area.contains(network.body(at(Conductor::Line(line)))));
            if !reaches || count == network.limits().locate.ways_tried {
                continue;
            }
            count += 1;
            let line_name = |line: crate::model::Line| if row.poles().len() == 1 { "L" } else { line.name() };
            let mut terminals: Vec<(String, TerminalRef)> =
                row.poles().iter().map(|&line| (line_name(line).to_owned(), at(Conductor::Line(line)))).collect();
            if row.has_neutral() {
                terminals.push(("N".to_owned(), at(Conductor::Neutral)));
            }
            terminals.push(("E".to_owned(), at(Conductor::Earth)));
            self.add_between(ReadingAt::Circuit(id), Instrument::Board, &terminals);
        }
    }

    /// At the sources of a circuit without a way, as a plan reads them.
    fn add_sources(&mut self, area: &Reach, circuit: CircuitId, count: &mut usize) {
        let network = self.network;
        let installation = network.installation();
        let sources = installation.sources_of(circuit);
        for source in sources {
            let reaches = source.live.iter().any(|&terminal| area.contains(network.body(terminal)));
            if !reaches || *count == network.limits().locate.ways_tried {
                continue;
            }
            *count += 1;
            let name = |terminal| source.name(installation, terminal, sources.len());
            let terminals = source.live.iter().chain([&source.earth]);
            let terminals: Vec<(String, TerminalRef)> = terminals.map(|&row| (name(row), row)).collect();
            self.add_between(ReadingAt::Circuit(circuit), Instrument::Source(source.point), &terminals);
        }
    }

    fn add_boards(&mut self, area: &Reach) {
        let network = self.network;
        let installation = network.installation();
        for (board, row) in installation.boards() {
            let live: Vec<Conductor> = installation.phases().live().collect();
            let earth = ("E".to_owned(), TerminalRef::EarthBar { board });
            let reaches = |terminals: &[(String, TerminalRef)]| {
                terminals.iter().any(|entry| area.contains(network.body(entry.1)))
            };
            let mut bars: Vec<(String, TerminalRef)> = live
                .iter()
                .map(|&conductor| (conductor.name().to_owned(), TerminalRef::Bus { board, conductor }))
                .collect();
            if reaches(&bars) {
                bars.push(earth.clone());
                self.add_between(ReadingAt::Board(board), Instrument::Board, &bars);
            }
            let named = |terminal: TerminalRef| (installation.terminal_name(terminal), terminal);
            let incoming: Vec<_> =
                live.iter().map(|&conductor| named(TerminalRef::Incoming { board, conductor })).collect();
            let groups = (0..row.groups().len() as u32).map(|group| GroupId { board, group });
            let groups = groups.map(|group| {
                live.iter().map(|&conductor| named(TerminalRef::Group { group, conductor })).collect::<Vec<_>>()
            });
            for mut bars in std::iter::once(incoming).chain(groups) {
                if reaches(&bars) {
                    bars.push(earth.clone());
                    self.add_between(ReadingAt::Board(board), Instrument::Board, &bars);
                }
            }
        }
    }

    /// A reading from one body of a gap to the other, where both have terminals.
    fn add_own(&mut self, members: &[SideBySide]) {
        let installation = self.network.installation();
        for member in members {
            let place = match *member {
                SideBySide::Length { length, cores } => [0, 1].into_iter().find_map(|end| {
                    let terminals = at_end(self.network, length, cores, end)?;
                    Some((self.reading_at(length, end)?, terminals))
                }),
                SideBySide::Point { point, terminals } => {
                    let circuit = installation.point(point).circuit();
                    Some(((ReadingAt::Circuit(circuit), Instrument::Point(point)), terminals))
                }
                SideBySide::Way { way, terminals } => {
                    Some(((ReadingAt::Board(way.board), Instrument::Board), terminals))
                }
                SideBySide::Board { board, terminals } => {
                    Some(((ReadingAt::Board(board), Instrument::Board), terminals))
                }
            };
            if let Some(((at, instrument), terminals)) = place {
                let leads = terminals.map(|terminal| vec![(installation.terminal_name(terminal), terminal)]);
                self.add(at, instrument, leads);
                return;
            }
        }
    }

    /// Where an instrument at this end of a length is.
    fn reading_at(&self, length: LengthId, end: usize) -> Option<(ReadingAt, Instrument)> {
        let length = self.network.installation().length(length);
        Some(match length.ends()[end] {
            End::Point(point) => (ReadingAt::Circuit(length.circuit()), Instrument::Point(point)),
            End::Way(WayId { board, .. }) | End::Incoming(board) => (ReadingAt::Board(board), Instrument::Board),
        })
    }

    /// How things may be set: as they stand, and by one operation.
    pub(super) fn set_by_one(&self, standing: &Configuration) -> Vec<Operations> {
        let mut settings = vec![Vec::new()];
        for &device in &self.devices {
            settings.extend(self.moves(standing, device).map(|to| vec![(device, to)]));
        }
        settings
    }

    /// How things may be set by two operations.
    pub(super) fn set_by_two(&self, standing: &Configuration) -> Vec<Operations> {
        let mut settings = Vec::new();
        let devices = &self.devices[..self.devices.len().min(self.network.limits().locate.devices_in_pairs)];
        for (number, &one) in devices.iter().enumerate() {
            for &other in &devices[number + 1..] {
                for to in self.moves(standing, one) {
                    settings.extend(self.moves(standing, other).map(|then| vec![(one, to), (other, then)]));
                }
            }
        }
        settings
    }

    /// The positions that a device can be set to by name: none where nobody knows or can see how it stands.
    fn moves(&self, standing: &Configuration, device: DeviceIndex) -> impl Iterator<Item = u16> + use<> {
        let stands = standing.device(device);
        let row = &self.network.devices()[device as usize];
        let is_named = row.visible || matches!(stands, DeviceState::At(_));
        (0..row.positions).filter(move |&to| is_named && stands != DeviceState::At(to))
    }

    /// The readings that might be taken in each setting, up to the limit.
    pub(super) fn in_settings(&self, settings: &[Operations]) -> impl ExactSizeIterator<Item = Candidate> {
        let count = settings.len().saturating_mul(self.readings.len());
        (0..count.min(self.network.limits().locate.readings_weighed)).map(move |number| {
            let operations = settings[number / self.readings.len()].clone();
            Candidate { operations, ..self.readings[number % self.readings.len()].clone() }
        })
    }
}

/// The incoming terminals of boards that no length feeds, and the copper of their lines. A neutral may be one with the
/// bar for good, which is read at ways; its incoming terminal is not.
fn live(network: &Network) -> Vec<(TerminalRef, Option<Body>)> {
    let installation = network.installation();
    let fed: Vec<BoardId> = installation
        .lengths()
        .flat_map(|(_, length)| length.ends())
        .filter_map(|end| if let End::Incoming(board) = end { Some(board) } else { None })
        .collect();
    let mut live = Vec::new();
    for (board, _) in installation.boards().filter(|(board, _)| !fed.contains(board)) {
        for conductor in installation.phases().live() {
            let terminal = TerminalRef::Incoming { board, conductor };
            live.push((terminal, (conductor != Conductor::Neutral).then(|| network.body(terminal))));
        }
    }
    live
}

/// The copper that contacts at points can join to some gaps, and the operable devices on the way, nearest first.
fn area(network: &Network, gaps: &GapTable, suspects: &[GapId]) -> (Reach, Vec<DeviceIndex>) {
    let mut area = Reach::from(suspects.iter().flat_map(|gap| gaps.bodies[gap.index()]));
    let mut devices = Vec::new();
    while let Some(body) = area.step() {
        for (far, edge) in network.edges_at(body) {
            let Edge::Contact(number) = edge else { continue };
            let contact = &network.contacts()[number as usize];
            let device = &network.devices()[contact.device as usize];
            if !device.is_at_point() {
                continue;
            }
            if device.operable
                && devices.len() < network.limits().locate.devices_operated
                && !devices.contains(&contact.device)
            {
                devices.push(contact.device);
            }
            area.enter(far);
        }
    }
    (area, devices)
}
