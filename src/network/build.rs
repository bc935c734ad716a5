//! From an installation to its network.

use std::sync::Arc;

use fixedbitset::FixedBitSet;
use petgraph::graph::{NodeIndex, UnGraph};
use petgraph::unionfind::UnionFind;
use rustc_hash::FxHashSet;

use super::asked::{asked_alike, nominal_voltages};
use super::graph::{BoardDevices, Body, Bridge, BridgeElement, Contact, Device, Edge, Network, Role};
use super::lists::Lists;
use super::pairs::{list_pairs, role_sets};
use super::terminals::TerminalNumbers;
use super::version::Version;
use crate::input::Standard;
use crate::model::{
    BoardId, BridgeRef, Conductor, Conducts, DeviceRef, GroupId, Installation, KindBridge, LengthId, PointId, Stands,
    TerminalRef, WayDevice, WayId,
};

impl Network {
    /// Builds the network of an installation, which it owns from then on.
    ///
    /// Time O((t + c) α(t)) and space O(t + c), for t terminals and c cores, contacts and bridges.
    pub fn of(installation: impl Into<Arc<Installation>>) -> Network {
        let installation = installation.into();
        let numbers = TerminalNumbers::new(&installation);
        let mut parts = Parts::new(&installation);
        parts.add_boards();
        parts.add_points();
        let Parts {
            joins, devices, contacts, bridges, board_devices, device_of_point, bridge_of_point, sources, ..
        } = parts;

        // Cores with both ends on nothing are bodies of their own, numbered after the terminals.
        let mut free_cores = 0;
        for length in &installation.lengths {
            free_cores += length.cores.iter().filter(|core| core.ends == [None, None]).count() as u32;
        }
        let mut copper: UnionFind<u32> = UnionFind::new((numbers.count + free_cores) as usize);
        for group in &joins {
            for pair in group.windows(2) {
                copper.union(numbers.of(pair[0]), numbers.of(pair[1]));
            }
        }
        let mut next_free = numbers.count;
        let mut first_core = Vec::with_capacity(installation.lengths.len() + 1);
        let mut core_terminal = Vec::new();
        for length in &installation.lengths {
            first_core.push(core_terminal.len() as u32);
            for core in &length.cores {
                let ends = core.ends.map(|end| end.map(|terminal| numbers.of(terminal)));
                core_terminal.push(match ends {
                    [Some(from), Some(to)] => {
                        copper.union(from, to);
                        from
                    }
                    [Some(end), None] | [None, Some(end)] => end,
                    [None, None] => {
                        next_free += 1;
                        next_free - 1
                    }
                });
            }
        }
        first_core.push(core_terminal.len() as u32);

        let labels = copper.into_labeling();
        let mut body_of_label = vec![u32::MAX; labels.len()];
        let mut body_count = 0;
        let mut body_of = Vec::with_capacity(labels.len());
        for label in labels {
            let body = &mut body_of_label[label as usize];
            if *body == u32::MAX {
                *body = body_count;
                body_count += 1;
            }
            body_of.push(*body);
        }
        let core_bodies: Vec<u32> = core_terminal.iter().map(|&terminal| body_of[terminal as usize]).collect();
        let body = |terminal: TerminalRef| body_of[numbers.of(terminal) as usize];

        let mut graph = UnGraph::with_capacity(body_count as usize, contacts.len());
        for _ in 0..body_count {
            graph.add_node(());
        }
        let mut contacts = contacts;
        for (number, contact) in contacts.iter_mut().enumerate() {
            contact.bodies = contact.between.map(body);
            if contact.bodies[0] != contact.bodies[1] {
                let [a, b] = contact.bodies.map(|body| NodeIndex::new(body as usize));
                graph.add_edge(a, b, Edge::Contact(number as u32));
            }
        }
        let mut bridges = bridges;
        for (number, bridge) in (0u32..).zip(&mut bridges) {
            bridge.elements.iter_mut().for_each(|row| row.bodies = row.between.map(body));
            for (bodies, edge) in bridge.edges(number).filter(|(bodies, _)| bodies[0] != bodies[1]) {
                let [a, b] = bodies.map(|body| NodeIndex::new(body as usize));
                graph.add_edge(a, b, edge);
            }
        }
        let contacts_at = Lists::new(
            body_count as usize,
            contacts.iter().enumerate().flat_map(|(number, contact)| {
                let [a, b] = contact.bodies;
                [Some((a, number as u32)), (a != b).then_some((b, number as u32))].into_iter().flatten()
            }),
        );

        let (role_sets, body_roles) = role_sets(body_count, &contacts, &bridges, &sources, body);
        let roles_of = |body: Body| role_sets[body_roles[body as usize] as usize].as_slice();
        let core_roles =
            |length: LengthId, core: usize| roles_of(core_bodies[first_core[length.index()] as usize + core]);
        let nominal_voltages = nominal_voltages(&installation, core_roles);
        let (alike, alike_of) = asked_alike(&installation, &nominal_voltages);
        let main_earth = body(TerminalRef::MainEarth);
        let (pairs, groups, group_between) =
            list_pairs(&installation, &first_core, &core_bodies, roles_of, main_earth, &alike_of);
        let pairs_in = Lists::new(groups.len(), (0u32..).zip(&pairs).map(|(number, pair)| (pair.group, number)));
        let groups_at = Lists::new(
            body_count as usize,
            (0u32..).zip(&groups).flat_map(|(number, group)| group.bodies.map(|body| (body, number))),
        );

        let mut network = Network {
            installation,
            limits: Arc::default(),
            ruleset: Arc::new(Standard::default().ruleset().clone()),
            nominal_voltages,
            alike,
            to_earth_only: FxHashSet::default(),
            numbers,
            body_of,
            body_count,
            first_core,
            core_bodies,
            body_roles,
            role_sets,
            sources,
            joins,
            devices,
            contacts,
            bridges,
            device_of_point,
            bridge_of_point,
            board_devices,
            graph,
            version: Version::new(),
            contacts_at,
            pairs,
            groups,
            group_between,
            pairs_in,
            groups_at,
            lead_bodies: FixedBitSet::new(),
        };
        network.lead_bodies = network.find_lead_bodies();
        network.to_earth_only = network.find_to_earth_only();
        network
    }
}

impl Network {
    /// The bodies that the live leads of circuits touch.
    fn find_lead_bodies(&self) -> FixedBitSet {
        let installation = self.installation();
        let mut bodies = FixedBitSet::with_capacity(self.body_count());
        for (id, circuit) in installation.circuits() {
            let Some(way) = circuit.way() else {
                let live = installation.sources_of(id).iter().flat_map(|source| &source.live);
                bodies.extend(live.map(|&terminal| self.body(terminal) as usize));
                continue;
            };
            let row = installation.way(way);
            let lines = row.poles().iter().map(|&line| Conductor::Line(line));
            for conductor in lines.chain(row.has_neutral().then_some(Conductor::Neutral)) {
                bodies.insert(self.body(TerminalRef::Way { way, conductor }) as usize);
            }
        }
        bodies
    }
}

/// Collects joins, devices, contacts and bridges, in the order of the file.
struct Parts<'a> {
    installation: &'a Installation,
    joins: Vec<Vec<TerminalRef>>,
    devices: Vec<Device>,
    contacts: Vec<Contact>,
    bridges: Vec<Bridge>,
    board_devices: BoardDevices,
    device_of_point: Vec<Option<u32>>,
    bridge_of_point: Vec<Option<u32>>,
    sources: Vec<(Role, TerminalRef)>,
}

impl<'a> Parts<'a> {
    fn new(installation: &'a Installation) -> Parts<'a> {
        Parts {
            installation,
            joins: Vec::new(),
            devices: Vec::new(),
            contacts: Vec::new(),
            bridges: Vec::new(),
            board_devices: BoardDevices::default(),
            device_of_point: Vec::with_capacity(installation.points.len()),
            bridge_of_point: Vec::with_capacity(installation.points.len()),
            sources: Vec::new(),
        }
    }

    fn board_device(&mut self, reference: DeviceRef) -> u32 {
        self.device(reference, 2, Stands::At(0), true, true)
    }

    fn device(&mut self, reference: DeviceRef, positions: u16, ready: Stands, operable: bool, visible: bool) -> u32 {
        let first_position = self.devices.last().map_or(0, |last| last.first_position + u32::from(last.positions));
        self.devices.push(Device { reference, positions, first_position, ready, closes: 0, operable, visible });
        self.devices.len() as u32 - 1
    }

    fn contact(&mut self, device: u32, between: [TerminalRef; 2], closed_in: u64) {
        let row = &mut self.devices[device as usize];
        row.closes |= closed_in;
        let always_closed = closed_in == !0 >> (64 - row.positions);
        self.contacts.push(Contact { device, between, bodies: [0, 0], closed_in, always_closed });
    }

    fn bridge(
        &mut self,
        reference: BridgeRef,
        removable: bool,
        elements: impl IntoIterator<Item = BridgeElement>,
    ) -> u32 {
        let elements = elements.into_iter().collect();
        self.bridges.push(Bridge { reference, removable, elements });
        self.bridges.len() as u32 - 1
    }

    fn add_boards(&mut self) {
        const ON: u64 = 0b10;
        let installation = self.installation;
        let mut conductors: Vec<Conductor> = installation.phases.lines().iter().copied().map(Conductor::Line).collect();
        conductors.push(Conductor::Neutral);
        for (number, board) in installation.boards.iter().enumerate() {
            let board_id = BoardId(number as u32);
            let bar = TerminalRef::EarthBar { board: board_id };
            let main = board.main_switch.then(|| self.board_device(DeviceRef::Main(board_id)));
            for &conductor in &conductors {
                let between = [
                    TerminalRef::Incoming { board: board_id, conductor },
                    TerminalRef::Bus { board: board_id, conductor },
                ];
                match main {
                    Some(device) => self.contact(device, between, ON),
                    None => self.joins.push(between.to_vec()),
                }
            }
            self.board_devices.main.push(main);
            self.joins.push(vec![TerminalRef::Incoming { board: board_id, conductor: Conductor::Earth }, bar]);
            if board.origin {
                self.joins.push(vec![bar, TerminalRef::MainEarth]);
                for &conductor in &conductors {
                    let role = match conductor {
                        Conductor::Line(line) => Role::Line(line),
                        _ => Role::Neutral,
                    };
                    self.sources.push((role, TerminalRef::Incoming { board: board_id, conductor }));
                }
                self.sources.push((Role::Earth, TerminalRef::MainEarth));
            }

            let mut group_devices = Vec::with_capacity(board.groups.len());
            for (index, group) in board.groups.iter().enumerate() {
                let id = GroupId { board: board_id, group: index as u32 };
                let device = self.board_device(DeviceRef::Group(id));
                for &conductor in &conductors {
                    let bus = TerminalRef::Bus { board: board_id, conductor };
                    self.contact(device, [bus, TerminalRef::Group { group: id, conductor }], ON);
                }
                let neutral = TerminalRef::Group { group: id, conductor: Conductor::Neutral };
                let elements = installation.phases.lines().iter().map(|&line| {
                    electronics([TerminalRef::Group { group: id, conductor: Conductor::Line(line) }, neutral])
                });
                let bridge = group.electronic.then(|| self.bridge(BridgeRef::Group(id), false, elements));
                group_devices.push((device, bridge));
            }
            self.board_devices.groups.push(group_devices);

            let mut way_devices = Vec::with_capacity(board.ways.len());
            for (index, way) in board.ways.iter().enumerate() {
                let id = WayId { board: board_id, way: index as u32 };
                let device = self.board_device(DeviceRef::Way(id));
                let fed_from = |conductor| match way.group {
                    Some(group) => TerminalRef::Group { group: GroupId { board: board_id, group }, conductor },
                    None => TerminalRef::Bus { board: board_id, conductor },
                };
                let load_side = |conductor| TerminalRef::Way { way: id, conductor };
                for &line in &way.poles {
                    let conductor = Conductor::Line(line);
                    self.contact(device, [fed_from(conductor), load_side(conductor)], ON);
                }
                if way.neutral {
                    let between = [fed_from(Conductor::Neutral), load_side(Conductor::Neutral)];
                    if matches!(way.device, WayDevice::Rcbo { switches_neutral: true, .. }) {
                        self.contact(device, between, ON);
                    } else {
                        self.joins.push(between.to_vec());
                    }
                }
                self.joins.push(vec![load_side(Conductor::Earth), bar]);
                let mut bridge = None;
                if let WayDevice::Rcbo { functional_earth, .. } = way.device {
                    let mut elements = Vec::new();
                    for &line in &way.poles {
                        let pole = load_side(Conductor::Line(line));
                        if way.neutral {
                            elements.push(electronics([pole, load_side(Conductor::Neutral)]));
                        }
                        if functional_earth {
                            elements.push(electronics([pole, load_side(Conductor::Earth)]));
                        }
                    }
                    // Without a neutral and a functional earth there is nothing for electronics to lie between.
                    bridge = (!elements.is_empty()).then(|| self.bridge(BridgeRef::Way(id), true, elements));
                }
                way_devices.push((device, bridge));
            }
            self.board_devices.ways.push(way_devices);
        }
    }

    fn add_points(&mut self) {
        let installation = self.installation;
        for (number, point) in installation.points.iter().enumerate() {
            let id = PointId(number as u32);
            let kind = installation.kind(point.kind);
            let terminal = |terminal: u16| TerminalRef::Point { point: id, terminal };
            for link in &point.links {
                self.joins.push(link.iter().copied().map(terminal).collect());
            }
            for &source in &kind.sources {
                self.sources.push((Role::Source(terminal(source)), terminal(source)));
            }
            let mut device = None;
            if !kind.positions.is_empty() {
                let positions = kind.positions.len() as u16;
                let index = self.device(DeviceRef::Point(id), positions, point.stands, point.operable, point.visible);
                device = Some(index);
                // One contact for each pair of terminals that any position joins, in order of first mention.
                let mut closed: indexmap::IndexMap<[u16; 2], u64> = indexmap::IndexMap::new();
                for (number, position) in kind.positions.iter().enumerate() {
                    for join in &position.joins {
                        for pair in join.windows(2) {
                            let between = [pair[0].min(pair[1]), pair[0].max(pair[1])];
                            *closed.entry(between).or_default() |= 1 << number;
                        }
                    }
                }
                for (between, closed_in) in closed {
                    self.contact(index, between.map(terminal), closed_in);
                }
            }
            self.device_of_point.push(device);
            let bridge =
                kind.has_bridges().then(|| {
                    let elements = kind.bridges.iter().map(|&KindBridge { between, conducts, passes, .. }| {
                        BridgeElement { between: between.map(terminal), bodies: [0, 0], conducts, passes }
                    });
                    self.bridge(BridgeRef::Point(id), point.removable, elements)
                });
            self.bridge_of_point.push(bridge);
        }
    }
}

/// What is built into a device of a board.
fn electronics(between: [TerminalRef; 2]) -> BridgeElement {
    BridgeElement { between, bodies: [0, 0], conducts: Conducts::Maybe, passes: false }
}
