//! The network itself, and the numbers that stand for its parts.

use std::sync::Arc;

use petgraph::graph::{EdgeIndex, NodeIndex, UnGraph};
use petgraph::visit::EdgeRef;
use rustc_hash::{FxHashMap, FxHashSet};
use serde::{Deserialize, Serialize};

use super::lists::Lists;
use super::terminals::TerminalNumbers;
use super::version::Version;
use crate::limits::Limits;
use crate::model::{
    BridgeRef, CircuitId, Conducts, DeviceRef, Installation, LengthId, Line, PointId, Stands, TerminalRef, Volts,
};
use crate::rules::Ruleset;

/// Copper that is joined for good: the unit that readings reach or miss as one.
pub(crate) type Body = u32;

/// The number of a device in [`Network::devices`].
pub(crate) type DeviceIndex = u32;

/// The number of a holder of bridges in [`Network::bridges`].
pub(crate) type BridgeIndex = u32;

/// What a core is in service: a supply conductor that it is joined to, or copper of its own that equipment serves.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum Role {
    /// A line conductor, taken at the origin's incoming side.
    Line(Line),
    /// The neutral, taken at the origin's incoming side.
    Neutral,
    /// The protective conductor, taken at the main earthing terminal.
    Earth,
    /// A terminal that is a source of its own (a transformer's secondary).
    Source(TerminalRef),
    /// Joined to the supply only through equipment: the first terminal of a bridge on that copper.
    Served(TerminalRef),
}

impl Role {
    /// The role's name: `L`, `N`, `E`, `ID.V1` for a source of its own, or `ID.IC` for what equipment serves.
    pub fn name(self, installation: &Installation) -> String {
        match self {
            Role::Line(line) => line.name().to_owned(),
            Role::Neutral => "N".to_owned(),
            Role::Earth => "E".to_owned(),
            Role::Source(terminal) | Role::Served(terminal) => installation.terminal_name(terminal),
        }
    }
}

/// What a pair of cores is, and so which `Need` asks for its test.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum PairClass {
    /// Either core has no role: never required.
    Spare,
    /// At least one has the role of the protective conductor, and they are not both that alone.
    ToEarth,
    /// Live conductors of different roles, or of the same several.
    BetweenLive,
    /// Live conductors of the same single role.
    SamePolarity,
}

/// The number of a pair, in the order of lengths and cores.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PairId(pub(crate) u32);

impl PairId {
    pub(crate) fn index(self) -> usize {
        self.0 as usize
    }
}

/// Stands for the main earthing terminal where a pair names a core's number.
pub(super) const EARTH_CORE: u16 = u16::MAX;

#[derive(Clone, Copy, Debug)]
pub(super) struct PairRow {
    pub(crate) length: LengthId,
    /// Numbers of the cores in the length; [`EARTH_CORE`] for the main earthing terminal.
    pub(crate) cores: [u16; 2],
    pub(crate) class: PairClass,
    /// The pairs that are one to every reading.
    pub(crate) group: u32,
}

/// The pair group of two bodies, the lower first, and of what is asked of their circuits, by its number in
/// [`Network::alike`].
pub(super) type GroupsBetween = FxHashMap<([Body; 2], u32), u32>;

/// All pairs whose cores are the same two bodies, of lengths of circuits that are tested alike.
#[derive(Clone, Copy, Debug)]
pub(super) struct PairGroup {
    pub(crate) bodies: [Body; 2],
    /// The number of what is asked of their circuits, in [`Network::alike`].
    pub(super) alike: u32,
}

#[derive(Clone, Debug)]
pub(crate) struct Device {
    pub(crate) reference: DeviceRef,
    pub(crate) positions: u16,
    /// The number of its first position, where those of all devices are counted on.
    pub(super) first_position: u32,
    pub(crate) ready: Stands,
    /// Bit p: position p closes some contact.
    pub(crate) closes: u64,
    pub(crate) operable: bool,
    /// Whether it can be seen in which position it stands.
    pub(crate) visible: bool,
}

impl Device {
    /// Whether it is at a point, not at a board.
    pub(crate) fn is_at_point(&self) -> bool {
        matches!(self.reference, DeviceRef::Point(_))
    }

    /// Bit p: it can be in position p. That is any, unless nobody can operate it and it is known to stand in another.
    pub(crate) fn can_take(&self) -> u64 {
        match self.ready {
            Stands::At(position) if !self.operable => 1 << position,
            _ => !0 >> (64 - self.positions),
        }
    }
}

/// One pair of terminals that some positions of a device join: at least one, so that it can be closed unless its device
/// is stuck in another.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Contact {
    pub(crate) device: DeviceIndex,
    pub(crate) between: [TerminalRef; 2],
    pub(crate) bodies: [Body; 2],
    /// Bit p: closed in position p.
    pub(crate) closed_in: u64,
    /// Closed in every position of its device.
    pub(crate) always_closed: bool,
}

impl Contact {
    /// Whether it is closed while its device stands in this position.
    pub(crate) fn is_closed_in(&self, position: u16) -> bool {
        self.closed_in >> position & 1 == 1
    }
}

#[derive(Clone, Debug)]
pub(crate) struct Bridge {
    pub(crate) reference: BridgeRef,
    pub(crate) removable: bool,
    pub(crate) elements: Vec<BridgeElement>,
}

impl Bridge {
    /// Whether a link can be put in its place: it comes out, and an element passes.
    pub(crate) fn can_be_linked(&self) -> bool {
        self.removable && self.elements.iter().any(|element| element.passes)
    }

    /// Its elements as edges.
    pub(crate) fn edges(&self, bridge: BridgeIndex) -> impl Iterator<Item = ([Body; 2], Edge)> + '_ {
        (0u32..).zip(&self.elements).map(move |(element, row)| {
            (row.bodies, Edge::Bridge { bridge, element, conducts: row.conducts, passes: row.passes })
        })
    }
}

#[derive(Clone, Copy, Debug)]
pub(crate) struct BridgeElement {
    pub(crate) between: [TerminalRef; 2],
    pub(crate) bodies: [Body; 2],
    pub(crate) conducts: Conducts,
    /// In service, what it joins is one conductor, switched by electronics.
    pub(crate) passes: bool,
}

/// What an edge between two bodies is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Edge {
    /// A contact, by its number in [`Network::contacts`].
    Contact(u32),
    /// An element of a bridge, with its number in the bridge's list.
    Bridge { bridge: BridgeIndex, element: u32, conducts: Conducts, passes: bool },
}

/// An installation as a graph of copper, contacts and bridges.
///
/// Built once by [`Network::of`] in time and space linear in the installation (up to the inverse Ackermann factor of
/// the union-find that contracts permanent joins); immutable. It owns the installation.
///
/// ```
/// use lengthwise::{Input, Need, Network, read_installation};
///
/// let installation = read_installation(Input::toml(&std::fs::read("examples/landing.toml")?))?;
/// let network = Network::of(installation);
/// // The pairs of cores that must be tested, by name.
/// let required = network.pairs().filter(|&pair| Need::Standard.requires(network.pair_class(pair)));
/// let names = required.map(|pair| {
///     let length = network.installation().length(network.pair_length(pair));
///     format!("{} {}", length.id(), network.pair_core_names(pair).join("-"))
/// });
/// assert_eq!(names.take(3).collect::<Vec<_>>(), ["W1 brown-blue", "W1 brown-cpc", "W1 blue-cpc"]);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug)]
pub struct Network {
    pub(super) installation: Arc<Installation>,
    pub(super) limits: Arc<Limits>,
    pub(super) ruleset: Arc<Ruleset>,
    /// For each circuit the greatest between two live conductors.
    pub(super) nominal_voltages: Vec<Volts>,
    /// Circuits of which the ruleset asks nothing between live conductors.
    pub(super) to_earth_only: FxHashSet<CircuitId>,
    /// The first of all circuits of which any ruleset asks the same.
    pub(super) alike: Vec<CircuitId>,
    pub(super) numbers: TerminalNumbers,
    /// Terminal number to body.
    pub(super) body_of: Vec<Body>,
    pub(super) body_count: u32,
    /// For each length, where its cores begin in `core_bodies`.
    pub(super) first_core: Vec<u32>,
    pub(super) core_bodies: Vec<Body>,
    /// For each body; numbers into `role_sets`.
    pub(super) body_roles: Vec<u32>,
    pub(super) role_sets: Vec<Vec<Role>>,
    pub(super) sources: Vec<(Role, TerminalRef)>,
    /// Permanent joins other than cores, in a settled order.
    pub(super) joins: Vec<Vec<TerminalRef>>,
    pub(super) devices: Vec<Device>,
    pub(super) contacts: Vec<Contact>,
    pub(super) bridges: Vec<Bridge>,
    pub(super) device_of_point: Vec<Option<DeviceIndex>>,
    pub(super) bridge_of_point: Vec<Option<BridgeIndex>>,
    pub(super) board_devices: BoardDevices,
    pub(super) graph: UnGraph<(), Edge>,
    /// Of the edges.
    pub(super) version: Version,
    /// For each body, the contacts with a terminal on it (those with both ends on one body too).
    pub(super) contacts_at: Lists,
    pub(super) pairs: Vec<PairRow>,
    pub(super) groups: Vec<PairGroup>,
    pub(super) group_between: GroupsBetween,
    /// For each pair group, its pairs.
    pub(super) pairs_in: Lists,
    /// For each body, the pair groups that it is in.
    pub(super) groups_at: Lists,
    /// The bodies that the live leads of circuits touch.
    pub(super) lead_bodies: fixedbitset::FixedBitSet,
}

/// Numbers of the devices and bridges of boards.
#[derive(Clone, Debug, Default)]
pub(super) struct BoardDevices {
    pub(crate) main: Vec<Option<DeviceIndex>>,
    pub(crate) groups: Vec<Vec<(DeviceIndex, Option<BridgeIndex>)>>,
    pub(crate) ways: Vec<Vec<(DeviceIndex, Option<BridgeIndex>)>>,
}

impl Network {
    /// The installation that this is the network of.
    pub fn installation(&self) -> &Installation {
        &self.installation
    }

    /// The installation, to be kept beside what is worked out from it.
    pub fn shared_installation(&self) -> Arc<Installation> {
        Arc::clone(&self.installation)
    }

    /// The same network, with other limits for what is asked of it.
    ///
    /// ```
    /// # use lengthwise::{Input, Network, read_installation};
    /// # let installation = read_installation(Input::toml(&std::fs::read("examples/landing.toml")?))?;
    /// let mut limits = lengthwise::Limits::default();
    /// limits.tables.combinations = 1 << 10;
    /// let network = Network::of(installation).with_limits(limits);
    /// assert_eq!(network.limits().tables.combinations, 1_024);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn with_limits(mut self, limits: Limits) -> Network {
        self.limits = Arc::new(limits);
        self
    }

    /// The limits of what is asked of it.
    pub fn limits(&self) -> &Limits {
        &self.limits
    }

    /// How many pairs of cores there are, spare ones included.
    pub fn pair_count(&self) -> usize {
        self.pairs.len()
    }

    /// How many bodies of permanently joined copper the installation contracts to.
    pub fn body_count(&self) -> usize {
        self.body_count as usize
    }

    /// Joins two bodies by a temporary link, as readings see it; roles and pairs stay those of the installation. A copy
    /// of the network is for this.
    pub(crate) fn put_link_in(&mut self, bodies: [Body; 2]) {
        let [one, other] = bodies;
        let number = self.contacts.len() as u32;
        let (device, between) = (DeviceIndex::MAX, [TerminalRef::MainEarth; 2]);
        self.contacts.push(Contact { device, between, bodies, closed_in: !0, always_closed: true });
        self.graph.add_edge(NodeIndex::new(one as usize), NodeIndex::new(other as usize), Edge::Contact(number));
        self.version = Version::new();
    }

    /// Takes the last link out again.
    pub(crate) fn take_link_out(&mut self) {
        self.contacts.pop();
        let last = self.graph.edge_count() - 1;
        self.graph.remove_edge(EdgeIndex::new(last));
        self.version = Version::new();
    }

    pub(crate) fn devices(&self) -> &[Device] {
        &self.devices
    }

    /// How many positions all devices have.
    pub(crate) fn position_count(&self) -> usize {
        self.devices.last().map_or(0, |last| last.first_position as usize + usize::from(last.positions))
    }

    /// The number of a position, where those of all devices are counted on.
    pub(crate) fn position_number(&self, device: DeviceIndex, position: u16) -> u32 {
        self.devices[device as usize].first_position + u32::from(position)
    }

    /// The device and the position of a number.
    pub(crate) fn position(&self, number: u32) -> (DeviceIndex, u16) {
        let device = self.devices.partition_point(|device| device.first_position <= number) - 1;
        (device as DeviceIndex, (number - self.devices[device].first_position) as u16)
    }

    /// The contacts, in the order of their devices.
    pub(crate) fn contacts(&self) -> &[Contact] {
        &self.contacts
    }

    /// The contacts of a device.
    pub(crate) fn contacts_of(&self, device: DeviceIndex) -> &[Contact] {
        let first = self.contacts.partition_point(|contact| contact.device < device);
        let count = self.contacts[first..].partition_point(|contact| contact.device == device);
        &self.contacts[first..first + count]
    }

    /// The bodies that contacts of points join.
    pub(crate) fn point_contacts(&self) -> impl Iterator<Item = [Body; 2]> + '_ {
        let at_points = self.contacts.iter().filter(|contact| self.devices[contact.device as usize].is_at_point());
        at_points.map(|contact| contact.bodies)
    }

    /// The contacts with a terminal on a body, those with both included.
    pub(crate) fn contacts_at(&self, body: Body) -> &[u32] {
        self.contacts_at.at(body)
    }

    pub(crate) fn bridges(&self) -> &[Bridge] {
        &self.bridges
    }

    /// How many pair groups there are: all pairs between the same two bodies, of circuits of which any ruleset asks the
    /// same, are one to every reading.
    pub(crate) fn group_count(&self) -> usize {
        self.groups.len()
    }

    /// The two bodies of a pair group, the lower first.
    pub(crate) fn group_bodies(&self, group: u32) -> [Body; 2] {
        self.groups[group as usize].bodies
    }

    /// What is asked of the circuits of a pair group, by a number.
    pub(super) fn asked_alike(&self, group: u32) -> u32 {
        self.groups[group as usize].alike
    }

    /// The pair groups of two bodies; none where no length has cores of both.
    pub(crate) fn groups_between(&self, [one, other]: [Body; 2]) -> impl Iterator<Item = u32> + '_ {
        let bodies = [one.min(other), one.max(other)];
        (0..self.alike.len() as u32).filter_map(move |alike| self.group_between.get(&(bodies, alike)).copied())
    }

    /// The pair groups that a body is in, ascending.
    pub(crate) fn groups_at(&self, body: Body) -> &[u32] {
        self.groups_at.at(body)
    }

    /// The group of a pair.
    pub(crate) fn pair_group(&self, pair: PairId) -> u32 {
        self.pairs[pair.index()].group
    }

    /// The pairs of a pair group, in order.
    pub(crate) fn group_pairs(&self, group: u32) -> impl Iterator<Item = PairId> + '_ {
        self.pairs_in.at(group).iter().map(|&pair| PairId(pair))
    }

    pub(crate) fn body(&self, terminal: TerminalRef) -> Body {
        self.body_of[self.numbers.of(terminal) as usize]
    }

    /// The supply conductors that a terminal is joined to in service.
    pub(crate) fn roles_at(&self, terminal: TerminalRef) -> &[Role] {
        self.body_roles(self.body(terminal))
    }

    /// The supply conductors that a body is joined to in service.
    pub(crate) fn body_roles(&self, body: Body) -> &[Role] {
        &self.role_sets[self.body_roles[body as usize] as usize]
    }

    pub(crate) fn core_body(&self, length: LengthId, core: u16) -> Body {
        self.core_bodies[self.first_core[length.index()] as usize + usize::from(core)]
    }

    /// The supply conductors that a core is joined to in service.
    pub(crate) fn core_roles(&self, length: LengthId, core: u16) -> &[Role] {
        self.body_roles(self.core_body(length, core))
    }

    pub(crate) fn device(&self, reference: DeviceRef) -> DeviceIndex {
        match reference {
            DeviceRef::Main(board) => self.board_devices.main[board.index()],
            DeviceRef::Group(group) => Some(self.board_devices.groups[group.board.index()][group.group as usize].0),
            DeviceRef::Way(way) => Some(self.board_devices.ways[way.board.index()][way.way as usize].0),
            DeviceRef::Point(point) => self.device_of_point[point.index()],
        }
        .expect("a checked test set names only things that have positions")
    }

    /// The device of a point, where it has one, and the holder of its bridges.
    pub(crate) fn of_point(&self, point: PointId) -> (Option<DeviceIndex>, Option<BridgeIndex>) {
        (self.device_of_point[point.index()], self.bridge_of_point[point.index()])
    }

    pub(crate) fn bridge(&self, reference: BridgeRef) -> BridgeIndex {
        match reference {
            BridgeRef::Group(group) => self.board_devices.groups[group.board.index()][group.group as usize].1,
            BridgeRef::Way(way) => self.board_devices.ways[way.board.index()][way.way as usize].1,
            BridgeRef::Point(point) => self.bridge_of_point[point.index()],
        }
        .expect("a checked test set names only things that have bridges")
    }

    pub(crate) fn device_name(&self, device: DeviceIndex) -> String {
        self.devices[device as usize].reference.name(&self.installation)
    }

    pub(crate) fn position_name(&self, device: DeviceIndex, position: u16) -> &str {
        self.devices[device as usize].reference.positions(&self.installation)[usize::from(position)]
    }

    /// The bodies of all cores, in the order of lengths and of cores in them.
    pub(crate) fn core_bodies(&self) -> &[Body] {
        &self.core_bodies
    }

    /// Permanent joins other than cores, in a settled order.
    pub(crate) fn joins(&self) -> &[Vec<TerminalRef>] {
        &self.joins
    }

    /// Where each supply conductor is taken.
    pub(crate) fn sources(&self) -> &[(Role, TerminalRef)] {
        &self.sources
    }

    /// Whether a body is touched by the live lead of some circuit's reading.
    pub(crate) fn is_lead(&self, body: Body) -> bool {
        self.lead_bodies.contains(body as usize)
    }

    /// Changes with every edge that comes or goes.
    pub(crate) fn version(&self) -> Version {
        self.version
    }

    /// The edges at a body, each with the body at its other side.
    pub(crate) fn edges_at(&self, body: Body) -> impl Iterator<Item = (Body, Edge)> + '_ {
        self.graph.edges(NodeIndex::new(body as usize)).map(move |edge| {
            let other = if edge.source().index() == body as usize { edge.target() } else { edge.source() };
            (other.index() as Body, *edge.weight())
        })
    }
}
