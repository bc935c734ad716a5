//! What a reading does in one state: whether it is void, what it tests, which device positions it puts under test.
//!
//! This is the one place that says so. Coverage asks for what is, whichever positions unknown devices are in; planning
//! asks for what would be, over the positions of devices that can be chosen too. Every answer is a [`Condition`] over
//! the free devices, or that too many of these bear on it for a table.

use std::borrow::Cow;
use std::cell::OnceCell;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::condition::{Condition, Digit, combinations};
use super::configuration::{Configuration, DeviceState, FreeDevices};
use super::diagram::Diagram;
use super::explore::Explorer;
use super::leads::{LeadBodies, Side};
use super::limits::TableLimits;
use super::region::{DeviceGroup, Region};
use super::subgraph::{BodyPlace, Subgraph};
use super::tables::{LeadTables, Voids};
use crate::network::{Body, DeviceIndex, Network};

/// Devices, and where each stands.
type Witness = Vec<(DeviceIndex, u16)>;

/// Why a reading tests nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Void {
    /// The leads are joined for sure: the instrument reads a circuit, not insulation.
    Bridged,
    /// The leads may be joined: electronics would be exposed to the test voltage, or be read instead of the insulation.
    Doubtful,
    /// The leads are not found to be joined, but too many unknown positions bear on that to work it out: they may be.
    NotRuledOut,
}

/// That a reading is void, in some combination of the positions of free devices.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct VoidReading {
    pub(crate) void: Void,
    /// How free devices stand where it is: those only on which that depends.
    pub(crate) witness: Vec<(DeviceIndex, u16)>,
}

/// For which combinations of the positions of free devices something holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum When {
    Always,
    In(Condition),
    /// Too many devices bear on it for a table; of positions that nobody knows there is a diagram.
    Large(Diagram),
    /// Too many devices bear on it.
    TooLarge,
}

impl When {
    /// By its table; where that is too large, by its diagram, as far as there is one.
    fn told(table: Option<Condition>, diagram: impl FnOnce() -> Option<Diagram>) -> When {
        match table.ok_or_else(diagram) {
            Ok(table) if table.is_always() => When::Always,
            Ok(table) => When::In(table),
            Err(Some(diagram)) if diagram.is_always() => When::Always,
            Err(Some(diagram)) => When::Large(diagram),
            Err(None) => When::TooLarge,
        }
    }
}

/// Marks and lists that are used again from reading to reading: a test set has thousands.
#[derive(Clone)]
pub(crate) struct Probe {
    explorer: Explorer,
}

impl Probe {
    /// For readings of this network, or of a copy of it with a link in. Time and space linear in its bodies and
    /// devices.
    pub(crate) fn new(network: &Network) -> Probe {
        Probe { explorer: Explorer::new(network) }
    }

    /// Looks at a reading between these leads while everything stands so. Time and space linear in what it can reach.
    pub(crate) fn read<'p>(
        &'p mut self,
        network: &'p Network,
        state: &'p Configuration,
        free: FreeDevices<'p>,
        leads: &LeadBodies,
    ) -> Probed<'p> {
        let (tables, diagrams) = (Vec::new(), Vec::new());
        let limits = network.limits().tables.clone();
        Probed { network, state, free, explorer: &mut self.explorer, tables, diagrams, limits }.between(leads)
    }

    /// The same for every start of what nobody knows, with no table of more than a word: what more unknown devices
    /// decide is told by diagrams, which have fewer nodes than such a table has rows.
    pub(crate) fn read_for_starts<'p>(
        &'p mut self,
        network: &'p Network,
        state: &'p Configuration,
        leads: &LeadBodies,
    ) -> Probed<'p> {
        let mut probed = self.read(network, state, FreeDevices::Unknown, leads);
        probed.limits.combinations = probed.limits.combinations.min(u64::BITS as usize);
        probed
    }
}

/// One reading.
pub(crate) struct Probed<'p> {
    network: &'p Network,
    state: &'p Configuration,
    free: FreeDevices<'p>,
    explorer: &'p mut Explorer,
    /// For each of the region's groups, when its bodies are joined to each lead; made when it is asked for.
    tables: Vec<OnceCell<LeadTables>>,
    /// The same of groups with too many devices for a table: for each lead, the diagrams of the group's bodies; none
    /// where these are too large.
    diagrams: Vec<OnceCell<Option<[Vec<Diagram>; 2]>>>,
    limits: TableLimits,
}

impl<'p> Probed<'p> {
    /// Explores what it reaches between these leads.
    fn between(mut self, leads: &LeadBodies) -> Probed<'p> {
        self.explorer.explore(self.network, self.state, self.free, leads);
        self.tables.clear();
        self.tables.resize_with(self.explorer.region.groups.len(), OnceCell::new);
        self.diagrams.clear();
        self.diagrams.resize_with(self.explorer.region.groups.len(), OnceCell::new);
        self
    }

    fn limits(&self) -> &TableLimits {
        &self.limits
    }

    /// The same with diagrams of no more nodes than that.
    pub(crate) fn with_diagrams_to(mut self, nodes: usize) -> Probed<'p> {
        self.limits.diagram_nodes = self.limits.diagram_nodes.min(nodes);
        self
    }

    /// Whether it comes to all of these.
    pub(crate) fn comes_to(&self, bodies: &[Body]) -> bool {
        bodies.iter().all(|&body| self.explorer.spot(body).is_some())
    }

    /// Where a free device stands for its digit in a condition.
    fn position(&self, device: DeviceIndex, digit: u16) -> u16 {
        match self.free {
            FreeDevices::Unknown => self.state.position_from(self.network, device, digit),
            FreeDevices::These(_) => digit,
        }
    }

    fn is_small(&self, group: &DeviceGroup) -> bool {
        combinations(self.explorer.region.digits(group), self.limits()).is_some()
    }

    // Whether it is void.

    /// Whether its leads are joined for sure wherever free devices stand.
    pub(crate) fn is_bridged(&self) -> bool {
        self.explorer.region.is_bridged
    }

    /// Whether its leads are joined, for sure or perhaps, wherever free devices stand.
    pub(crate) fn is_joined(&self) -> bool {
        self.is_bridged() || self.explorer.region.is_doubtful
    }

    /// When the leads are joined, by each group of devices that could join them: void in any of these. None for a group
    /// with too many devices for a table, which counts as joining them.
    pub(crate) fn voids(&self) -> impl Iterator<Item = Option<Voids>> {
        self.voids_or_groups().map(Result::ok)
    }

    fn voids_or_groups(&self) -> impl Iterator<Item = Result<Voids, &DeviceGroup>> {
        let region = &self.explorer.region;
        let always = if region.is_bridged {
            Some(Voids { bridged: Condition::always(), void: Condition::always() })
        } else if region.is_doubtful {
            Some(Voids { bridged: Condition::never(Vec::new()), void: Condition::always() })
        } else {
            None
        };
        let of_groups = region.void_groups.iter().map(|group| {
            if !self.is_small(group) {
                return Err(group);
            }
            Ok(region.voids(group, &|device, digit| self.position(device, digit)))
        });
        always.map(Ok).into_iter().chain(of_groups)
    }

    /// That it is void in some combination: joined for sure goes before perhaps, and that before what is not known.
    /// None where it is sound in all.
    pub(crate) fn void(&self) -> Option<VoidReading> {
        let witness = |condition: &Condition| {
            let first = (0..condition.count()).find(|&combination| condition.get(combination))?;
            Some(condition.positions(first))
        };
        let (mut doubtful, mut not_ruled_out) = (None, None);
        for voids in self.voids_or_groups() {
            let joined = match voids {
                Ok(voids) => Some([witness(&voids.bridged), witness(&voids.void)]),
                Err(group) => self.large_void(group),
            };
            let Some(joined) = joined else {
                not_ruled_out = Some(VoidReading { void: Void::NotRuledOut, witness: Vec::new() });
                continue;
            };
            let [bridged, void] = joined.map(|witness| {
                let digits = witness?.into_iter();
                Some(digits.map(|(device, digit)| (device, self.position(device, digit))).collect())
            });
            if let Some(witness) = bridged {
                return Some(VoidReading { void: Void::Bridged, witness });
            }
            if doubtful.is_none() {
                doubtful = void.map(|witness| VoidReading { void: Void::Doubtful, witness });
            }
        }
        doubtful.or(not_ruled_out)
    }

    /// How the devices of a group too large for a table may stand where it joins the leads: for sure, and perhaps. None
    /// where that is not known.
    fn large_void(&self, group: &DeviceGroup) -> Option<[Option<Witness>; 2]> {
        let digits = self.explorer.region.digits(group);
        Some(self.large_joined(group)?.map(|joined| joined.example(true, digits)))
    }

    /// Where a group too large for a table joins the leads: for sure, and for sure or perhaps.
    fn large_joined(&self, group: &DeviceGroup) -> Option<[Diagram; 2]> {
        let graph = self.explorer.region.subgraph(group);
        let joined = |with_maybe: bool| self.diagrams_of(&graph, Side::A, with_maybe)?.pop();
        Some([joined(false)?, joined(true)?])
    }

    /// For which starts its leads are joined: for sure, and for sure or perhaps. None where that can't be worked out.
    pub(crate) fn joined_leads(&self) -> Option<[Diagram; 2]> {
        let limits = self.limits();
        let mut all = [Diagram::never(), Diagram::never()];
        for voids in self.voids_or_groups() {
            let of_group = match voids {
                Ok(Voids { bridged, void }) => [Diagram::of(&bridged, limits)?, Diagram::of(&void, limits)?],
                Err(group) => self.large_joined(group)?,
            };
            for (all, joined) in all.iter_mut().zip(&of_group) {
                *all = all.or(joined, limits)?;
            }
        }
        Some(all)
    }

    /// For which starts the bodies of a group are joined to a lead, the other lead last.
    fn diagrams_of(&self, graph: &Subgraph, side: Side, with_maybe: bool) -> Option<Vec<Diagram>> {
        if !matches!(self.free, FreeDevices::Unknown) {
            return None;
        }
        graph.joined(side, with_maybe, |device, digit| self.position(device, digit), self.limits())
    }

    // What it reaches.

    /// The same reading with both leads as one: what it reaches, though its leads are joined.
    pub(crate) fn with_leads_as_one(self) -> Probed<'p> {
        let leads = LeadBodies::on([self.explorer.region.held.concat(), Vec::new()]);
        self.between(&leads)
    }

    /// The bodies joined to a lead wherever free devices stand.
    pub(crate) fn held(&self, side: Side) -> &[Body] {
        &self.explorer.region.held[side as usize]
    }

    /// All bodies that it comes to: only what lies at these has a part in what it does.
    pub(crate) fn touched(&self) -> impl Iterator<Item = Body> + '_ {
        let region = &self.explorer.region;
        region.held.iter().flatten().chain(&region.bodies).copied()
    }

    /// The bodies of which free devices decide whether they are joined to a lead.
    pub(crate) fn decided(&self) -> impl Iterator<Item = Body> + '_ {
        self.decided_nodes().map(|(_, body)| body)
    }

    fn decided_nodes(&self) -> impl Iterator<Item = (u32, Body)> + '_ {
        let region = &self.explorer.region;
        let nodes = (0u32..).zip(region.bodies.iter().copied());
        nodes.filter(|&(node, _)| region.groups[region.group_of[node as usize] as usize].decides())
    }

    /// When a body is joined to a lead; none where it never is.
    pub(crate) fn joined(&self, body: Body, side: Side) -> Option<When> {
        match self.explorer.spot(body)? {
            Ok(held) => (held == side).then_some(When::Always),
            Err(node) => Some(self.node_joined_when(node, side)).filter(may_hold),
        }
    }

    fn node_joined_when(&self, node: u32, side: Side) -> When {
        When::told(self.node_joined(node, side), || self.node_joined_large(node, side))
    }

    /// For however many devices, as long as they are unknown ones.
    fn node_joined_large(&self, node: u32, side: Side) -> Option<Diagram> {
        if let Some(table) = self.node_joined(node, side) {
            return Diagram::of(&table, self.limits());
        }
        let region = &self.explorer.region;
        let number = region.group_of[node as usize] as usize;
        let made = || {
            let graph = region.subgraph(&region.groups[number]);
            Some([self.diagrams_of(&graph, Side::A, false)?, self.diagrams_of(&graph, Side::B, false)?])
        };
        let diagrams = self.diagrams[number].get_or_init(made).as_ref()?;
        let nodes = region.nodes_of(&region.groups[number]);
        let place = nodes.binary_search(&(node + 2)).expect("a body is in its group");
        Some(diagrams[side as usize][place].clone())
    }

    /// None where too many devices decide it.
    fn node_joined(&self, node: u32, side: Side) -> Option<Condition> {
        let region = &self.explorer.region;
        let number = region.group_of[node as usize] as usize;
        let group = &region.groups[number];
        self.is_small(group).then(|| {
            let made = || region.reach(group, &|device, digit| self.position(device, digit));
            self.tables[number].get_or_init(made).condition(node, side)
        })
    }

    fn node_joined_to_either(&self, node: u32) -> When {
        let limits = self.limits();
        let table = || self.node_joined(node, Side::A)?.or(&self.node_joined(node, Side::B)?, limits);
        let diagram = || self.node_joined_large(node, Side::A)?.or(&self.node_joined_large(node, Side::B)?, limits);
        When::told(table(), diagram)
    }

    /// Where the reading has a body; none where it does not come to it.
    pub(crate) fn place(&self, body: Body) -> Option<BodyPlace> {
        Some(match self.explorer.spot(body)? {
            Ok(side) => BodyPlace::Held(side),
            Err(number) => {
                let region = &self.explorer.region;
                let group = region.group_of[number as usize];
                let nodes = region.nodes_of(&region.groups[group as usize]);
                let node = nodes.binary_search(&(number + 2)).expect("a body is in its group") as u32;
                BodyPlace::In { group, node }
            }
        })
    }

    /// A group of devices and the bodies that they decide, as a graph.
    pub(crate) fn subgraph(&self, group: u32) -> Subgraph {
        self.explorer.region.subgraph(&self.explorer.region.groups[group as usize])
    }

    /// The groups of devices that could join the leads, as graphs.
    pub(crate) fn void_subgraphs(&self) -> impl Iterator<Item = Subgraph> + '_ {
        self.explorer.region.void_groups.iter().map(|group| self.explorer.region.subgraph(group))
    }

    /// The free devices that bear on where the reading has these bodies, and on whether it is void.
    pub(crate) fn deciding(&self, bodies: &[Body]) -> impl Iterator<Item = Digit> {
        let region = &self.explorer.region;
        let nodes = bodies.iter().filter_map(|&body| self.explorer.spot(body)?.err());
        let groups = nodes.map(|node| &region.groups[region.group_of[node as usize] as usize]);
        groups.chain(&region.void_groups).flat_map(|group| region.digits(group)).copied()
    }

    // What it tests.

    /// Tells, for each pair group whose cores it has on opposite leads, when; never is left out. Only groups that are
    /// `wanted` are looked at.
    ///
    /// Time linear in the groups at the lead on which fewer hang, of each body no more than the bodies that it comes to,
    /// plus the tables: the earth side of a large installation holds them all, and so does a common neutral.
    pub(crate) fn opposite(&self, wanted: impl Fn(u32) -> bool, mut tell: impl FnMut(u32, When)) {
        let network = self.network;
        let weight = |side: Side| -> usize { self.held(side).iter().map(|&body| network.groups_at(body).len()).sum() };
        let near = if weight(Side::A) <= weight(Side::B) { Side::A } else { Side::B };
        for body in self.held(near).iter().copied().chain(self.decided()) {
            for &group in &*self.groups_reached(body) {
                if !wanted(group) {
                    continue;
                }
                let [a, b] = network.group_bodies(group);
                let far_body = if a == body { b } else { a };
                // Entered from the held body, and once from the lower of two bodies beyond.
                let is_entered_here = match (self.explorer.spot(body), self.explorer.spot(far_body)) {
                    (Some(Err(_)), Some(Ok(side))) => side != near,
                    (Some(Err(_)), Some(Err(_))) => body < far_body,
                    _ => true,
                };
                if let Some(when) = is_entered_here.then(|| self.when_opposite([body, far_body])).flatten() {
                    tell(group, when);
                }
            }
        }
    }

    /// The pair groups of a body and any other that it comes to, and perhaps more of that body; ascending.
    fn groups_reached(&self, body: Body) -> Cow<'p, [u32]> {
        let groups = self.network.groups_at(body);
        let Region { held: [one, other], bodies, .. } = &self.explorer.region;
        if groups.len() <= one.len() + other.len() + bodies.len() {
            return Cow::Borrowed(groups);
        }
        let mut found: Vec<u32> = self.touched().flat_map(|far| self.network.groups_between([body, far])).collect();
        found.sort_unstable();
        Cow::Owned(found)
    }

    /// When it has two bodies on opposite leads; none where it never has.
    pub(crate) fn when_opposite(&self, bodies: [Body; 2]) -> Option<When> {
        let [here, there] = bodies.map(|body| self.explorer.spot(body));
        let when = match (here?, there?) {
            (Ok(x), Ok(y)) if x == y => return None,
            (Ok(_), Ok(_)) => When::Always,
            (Ok(side), Err(node)) | (Err(node), Ok(side)) => self.node_joined_when(node, side.other()),
            (Err(x), Err(y)) => self.nodes_opposite(x, y),
        };
        Some(when).filter(may_hold)
    }

    fn nodes_opposite(&self, x: u32, y: u32) -> When {
        let limits = self.limits();
        let table = || {
            let straight = self.node_joined(x, Side::A)?.and(&self.node_joined(y, Side::B)?, limits)?;
            let turned = self.node_joined(x, Side::B)?.and(&self.node_joined(y, Side::A)?, limits)?;
            straight.or(&turned, limits)
        };
        let diagram = || {
            let [straight, turned] = [[Side::A, Side::B], [Side::B, Side::A]]
                .map(|[here, there]| self.node_joined_large(x, here)?.and(&self.node_joined_large(y, there)?, limits));
            straight?.or(&turned?, limits)
        };
        When::told(table(), diagram)
    }

    /// Tells, for each position of a device that closes a contact on a lead, when it does, by each such contact; never
    /// is left out. Only positions that are `wanted` are looked at.
    pub(crate) fn closed_on_leads(
        &self,
        wanted: impl Fn(DeviceIndex, u16) -> bool,
        mut tell: impl FnMut(DeviceIndex, u16, When),
    ) {
        let held = Side::BOTH.into_iter().flat_map(|side| self.held(side)).map(|&body| (None, body));
        let decided = self.decided_nodes().map(|(node, body)| (Some(node), body));
        for (node, body) in held.chain(decided) {
            let table = OnceCell::new();
            let reached = |node: u32| table.get_or_init(|| self.node_joined_to_either(node));
            for &number in self.network.contacts_at(body) {
                let contact = &self.network.contacts()[number as usize];
                let device = contact.device;
                let mut tell_if_closed = |position: u16, digit: Option<Condition>| {
                    if !contact.is_closed_in(position) || !wanted(device, position) {
                        return;
                    }
                    let when = match (node, digit) {
                        (None, None) => When::Always,
                        (None, Some(digit)) => When::In(digit),
                        (Some(node), None) => reached(node).clone(),
                        (Some(node), Some(digit)) => reached(node).and(digit, self.limits()),
                    };
                    if may_hold(&when) {
                        tell(device, position, when);
                    }
                };
                match self.state.device(device) {
                    DeviceState::At(position) if !self.free.includes(device) => tell_if_closed(position, None),
                    _ => {
                        let positions = self.network.devices()[device as usize].positions;
                        for digit in 0..positions {
                            let condition = Condition::at((device, positions), digit);
                            tell_if_closed(self.position(device, digit), Some(condition));
                        }
                    }
                }
            }
        }
    }

    /// The pair groups that it tests, each with the starts for which it does (none: all). None at all where it is void
    /// for some start. What is too large to tell is left out.
    pub(crate) fn tests(&self) -> Vec<(u32, Option<Arc<Diagram>>)> {
        let mut tests = Vec::new();
        if self.void().is_none() {
            let limits = self.limits();
            self.opposite(|_| true, |group, when| tests.extend(when.for_starts(limits).map(|when| (group, when))));
        }
        tests
    }

    /// The positions that it puts under test, as [`Probed::tests`] tells pair groups. Only those that are `wanted`.
    pub(crate) fn positions_under_test(
        &self,
        wanted: impl Fn(DeviceIndex, u16) -> bool,
    ) -> Vec<(DeviceIndex, u16, Option<Arc<Diagram>>)> {
        let mut found: Vec<(DeviceIndex, u16, Vec<Diagram>)> = Vec::new();
        if self.void().is_none() {
            self.closed_on_leads(wanted, |device, position, when| {
                let Some(when) = when.diagram(self.limits()) else { return };
                match found.iter_mut().find(|row| (row.0, row.1) == (device, position)) {
                    Some(row) => row.2.push(when),
                    None => found.push((device, position, vec![when])),
                }
            });
        }
        let of_any = |whens: Vec<Diagram>| Diagram::union(&whens, self.limits());
        let rows = found.into_iter().map(|(device, position, whens)| (device, position, of_any(whens)));
        rows.map(|(device, position, when)| (device, position, (!when.is_always()).then(|| Arc::new(when)))).collect()
    }
}

impl When {
    /// For which starts of devices that nobody knows: nothing inside for all of them; none where that is not known.
    pub(crate) fn for_starts(self, limits: &TableLimits) -> Option<Option<Arc<Diagram>>> {
        if self == When::Always {
            return Some(None);
        }
        let diagram = self.diagram(limits)?;
        Some((!diagram.is_always()).then(|| Arc::new(diagram)))
    }

    /// None where it is not known.
    pub(crate) fn diagram(self, limits: &TableLimits) -> Option<Diagram> {
        match self {
            When::Always => Some(Diagram::always()),
            When::In(when) => Diagram::of(&when, limits),
            When::Large(diagram) => Some(diagram),
            When::TooLarge => None,
        }
    }

    /// Where a device is in a position too.
    fn and(&self, digit: Condition, limits: &TableLimits) -> When {
        let both = |when: &Diagram| when.and(&Diagram::of(&digit, limits)?, limits);
        match self {
            When::Always => When::In(digit),
            When::In(when) => When::told(when.and(&digit, limits), || both(&Diagram::of(when, limits)?)),
            When::Large(when) => When::told(None, || both(when)),
            When::TooLarge => When::TooLarge,
        }
    }
}

fn may_hold(when: &When) -> bool {
    match when {
        When::In(condition) => !condition.is_never(),
        When::Large(diagram) => !diagram.is_never(),
        When::Always | When::TooLarge => true,
    }
}
