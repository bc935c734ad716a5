//! One extra in place, and what readings test then. Remedies and extras try the same things; they try them here.

use std::collections::BTreeMap;

use crate::model::{BridgeRef, BridgeState, CircuitId, Conducts, PointId, TerminalRef, Volts};
use crate::network::{BridgeIndex, DeviceIndex, Network, PairId};
use crate::plan::problem::choices::DeviceChoices;
use crate::plan::problem::setup::Setup;
use crate::plan::request::Request;
use crate::plan::untestable::remedy::RemedyStep;
use crate::reading::{Condition, Configuration, DeviceState, FreeDevices, LeadBodies, Probe, SettingTests};

/// An extra: what can be done beside operating switches and reading at ways.
#[derive(Clone, Copy, Debug)]
pub(super) enum ExtraStep {
    Fitted(PointId, BridgeIndex),
    At(PointId),
    /// A link that stands in the place of something that is out is taken out too.
    Unlinked(PointId, BridgeIndex),
    Linked(PointId, [TerminalRef; 2]),
}

impl ExtraStep {
    /// A lamp, load or coil that is out and could be left in: one that conducts for sure. What may conduct joins
    /// nothing for sure, so it makes nothing testable; and in a locked room everything stays as it is.
    pub(super) fn lamp(setup: &Setup<'_>, request: &Request, bridge: BridgeIndex) -> Option<ExtraStep> {
        let network = setup.network;
        let row = &network.bridges()[bridge as usize];
        let BridgeRef::Point(point) = row.reference else { return None };
        let is_sure = row.elements.iter().all(|element| element.conducts == Conducts::Sure);
        let is_out = setup.start.bridge(bridge) != BridgeState::Fitted;
        let is_open = !request.is_locked(network.installation(), point);
        (is_sure && is_out && row.removable && is_open).then_some(ExtraStep::Fitted(point, bridge))
    }

    /// A link of the preparation: what it leads to may lie across the leads.
    pub(super) fn unlinked(setup: &Setup<'_>, request: &Request, bridge: BridgeIndex) -> Option<ExtraStep> {
        let network = setup.network;
        let BridgeRef::Point(point) = network.bridges()[bridge as usize].reference else { return None };
        let is_open = !request.is_locked(network.installation(), point);
        let is_linked = setup.start.bridge(bridge) == BridgeState::Linked;
        (is_linked && is_open).then_some(ExtraStep::Unlinked(point, bridge))
    }

    pub(super) fn named(self, network: &Network) -> RemedyStep {
        let installation = network.installation();
        let id = |point: PointId| installation.point(point).id().to_owned();
        match self {
            ExtraStep::Fitted(point, _) => RemedyStep::LeaveFitted { bridge: id(point) },
            ExtraStep::At(point) => RemedyStep::TakeInstrumentTo { point: id(point) },
            ExtraStep::Unlinked(point, _) => RemedyStep::TakeLinkOut { point: id(point) },
            ExtraStep::Linked(point, terminals) => {
                let terminals = terminals.map(|terminal| installation.terminal_name(terminal));
                RemedyStep::Link { point: id(point), terminals }
            }
        }
    }

    /// How much trouble it is: a lamp least, a link put in most, and one to earth more than others.
    pub(super) fn trouble(self, network: &Network) -> u32 {
        match self {
            ExtraStep::Fitted(..) => 0,
            ExtraStep::At(_) | ExtraStep::Unlinked(..) => 1,
            ExtraStep::Linked(_, terminals) => {
                let earth = network.body(TerminalRef::MainEarth);
                2 + u32::from(terminals.iter().any(|&terminal| network.body(terminal) == earth))
            }
        }
    }
}

/// The terminals of a point, one for each body.
pub(super) fn terminals_of(network: &Network, point: PointId) -> Vec<TerminalRef> {
    let row = network.installation().point(point);
    let count = network.installation().kind(row.kind()).terminals.len() + row.extra_terminals.len();
    let mut terminals: Vec<TerminalRef> = Vec::new();
    for terminal in (0..count as u16).map(|terminal| TerminalRef::Point { point, terminal }) {
        if terminals.iter().all(|&other| network.body(other) != network.body(terminal)) {
            terminals.push(terminal);
        }
    }
    terminals
}

/// Where a reading is taken while an extra is in place.
#[derive(Clone, Copy, Debug)]
pub(super) enum TakenAt {
    /// At a way: the number of the plan's candidate.
    Way(u32),
    /// At the point, between two terminals.
    Point([TerminalRef; 2]),
}

impl TakenAt {
    pub(super) fn leads(self, setup: &Setup<'_>) -> LeadBodies {
        match self {
            TakenAt::Way(number) => setup.candidates[number as usize].leads.clone(),
            TakenAt::Point(terminals) => LeadBodies::on(terminals.map(|terminal| vec![setup.network.body(terminal)])),
        }
    }
}

/// A network with one extra at a time in place. Only a link needs a copy of the network.
pub(super) struct ExtraTrial<'t> {
    network: &'t Network,
    choices: &'t DeviceChoices,
    configuration: Configuration,
    linked: Option<Network>,
    probe: Probe,
}

impl<'t> ExtraTrial<'t> {
    /// Where things stand so.
    pub(super) fn new(setup: &'t Setup<'_>, configuration: &Configuration) -> ExtraTrial<'t> {
        let (network, choices) = (setup.network, &setup.choices);
        ExtraTrial { network, choices, configuration: configuration.clone(), linked: None, probe: Probe::new(network) }
    }

    /// What is found with an extra in place; it is taken out again.
    pub(super) fn with<R>(&mut self, step: ExtraStep, find: impl FnOnce(&mut ExtraTrial<'t>) -> R) -> R {
        match step {
            ExtraStep::Fitted(_, bridge) => self.with_bridge(bridge, BridgeState::Fitted, find),
            ExtraStep::Unlinked(_, bridge) => self.with_bridge(bridge, BridgeState::Removed, find),
            ExtraStep::At(_) => find(self),
            ExtraStep::Linked(_, terminals) => {
                let bodies = terminals.map(|terminal| self.network.body(terminal));
                self.linked.get_or_insert_with(|| self.network.clone()).put_link_in(bodies);
                let found = find(self);
                self.linked.as_mut().expect("it was put in").take_link_out();
                found
            }
        }
    }

    fn with_bridge<R>(&mut self, bridge: BridgeIndex, state: BridgeState, find: impl FnOnce(&mut Self) -> R) -> R {
        let before = self.configuration.bridge(bridge);
        self.configuration.set_bridge(bridge, state);
        let found = find(self);
        self.configuration.set_bridge(bridge, before);
        found
    }

    /// The pair groups that a reading tests as things stand, whatever electronics and unknown devices do.
    pub(super) fn tests_now(&mut self, leads: &LeadBodies) -> Vec<u32> {
        let network = self.linked.as_ref().unwrap_or(self.network);
        let tests = self.probe.read(network, &self.configuration, FreeDevices::Unknown, leads).tests();
        tests.into_iter().filter(|test| test.1.is_none()).map(|test| test.0).collect()
    }

    /// What a reading tests with the plan's devices free; only groups that are `wanted` are told.
    pub(super) fn tests_by_setting(&mut self, leads: &LeadBodies, wanted: impl Fn(u32) -> bool) -> SettingTests {
        let network = self.linked.as_ref().unwrap_or(self.network);
        let free = FreeDevices::These(&self.choices.variable);
        self.probe.read(network, &self.configuration, free, leads).tests_by_setting(wanted)
    }
}

/// Where devices must stand.
pub(super) type Pins = BTreeMap<DeviceIndex, u16>;

/// These pins and more, so that a condition holds, by the fewest changes; none where no combination does.
pub(super) fn fit(when: &Condition, pins: &Pins, configuration: &Configuration) -> Option<Pins> {
    let combinations = (0..when.count()).filter(|&combination| when.get(combination));
    let fitting = combinations.map(|combination| when.positions(combination)).filter(|positions| {
        positions.iter().all(|(device, position)| pins.get(device).is_none_or(|pinned| pinned == position))
    });
    let all = fitting.map(|positions| {
        let mut pins = pins.clone();
        pins.extend(positions);
        pins
    });
    all.min_by_key(|pins| changes(pins, configuration))
}

pub(super) fn changes(pins: &Pins, configuration: &Configuration) -> usize {
    pins.iter().filter(|&(&device, &position)| configuration.device(device) != DeviceState::At(position)).count()
}

/// The circuit of a pair's length, and its test voltage.
pub(super) fn circuit_of(network: &Network, pair: PairId) -> (CircuitId, Option<Volts>) {
    let installation = network.installation();
    let circuit = installation.length(network.pair_length(pair)).circuit();
    (circuit, network.test_voltage(circuit))
}
