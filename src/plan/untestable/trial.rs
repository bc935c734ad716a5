//! Extras in place, and what readings test then. Extras are found, and done, by trying them here.

use std::collections::BTreeMap;

use crate::model::{BridgeRef, BridgeState, CircuitId, Conducts, PointId, TerminalRef, Volts};
use crate::network::{BridgeIndex, DeviceIndex, Network, PairId};
use crate::plan::answer::RemedyStep;
use crate::plan::problem::choices::DeviceChoices;
use crate::plan::problem::setup::Setup;
use crate::plan::request::{ExtraKind, Request};
use crate::reading::{Condition, Configuration, DeviceState, FreeDevices, LeadBodies, Probe, Probed};

/// An extra: what can be done beside operating switches and reading at ways.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum ExtraStep {
    Fitted(PointId, BridgeIndex),
    At(PointId),
    /// How its device stands is found at its terminals.
    FindOut(PointId, DeviceIndex),
    /// A link that stands in the place of something that is out is taken out too.
    Unlinked(PointId, BridgeIndex),
    Linked(PointId, [TerminalRef; 2]),
    /// The accessory is taken off: its contacts and bridges are not there.
    Off(PointId),
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

    /// An accessory that can be taken off, where that opens anything.
    pub(super) fn off(setup: &Setup<'_>, request: &Request, point: PointId) -> Option<ExtraStep> {
        let installation = setup.network.installation();
        let (device, bridge) = setup.network.of_point(point);
        let is_in = bridge.is_some_and(|bridge| setup.start.bridge(bridge) != BridgeState::Removed);
        let may_be = !installation.point(point).is_fixed() && request.may_operate(installation, point);
        (may_be && (device.is_some() || is_in)).then_some(ExtraStep::Off(point))
    }

    pub(super) fn sort(self) -> ExtraKind {
        match self {
            ExtraStep::Fitted(..) => ExtraKind::Lamps,
            ExtraStep::At(_) => ExtraKind::Points,
            ExtraStep::FindOut(..) => ExtraKind::FindOut,
            ExtraStep::Unlinked(..) | ExtraStep::Linked(..) => ExtraKind::Links,
            ExtraStep::Off(_) => ExtraKind::Accessories,
        }
    }

    pub(super) fn named(self, network: &Network) -> RemedyStep {
        let installation = network.installation();
        let id = |point: PointId| installation.point(point).id().to_owned();
        match self {
            ExtraStep::Fitted(point, _) => RemedyStep::LeaveFitted { bridge: id(point) },
            ExtraStep::At(point) => RemedyStep::TakeInstrumentTo { point: id(point) },
            ExtraStep::FindOut(point, _) => RemedyStep::FindOut { point: id(point) },
            ExtraStep::Unlinked(point, _) => RemedyStep::TakeLinkOut { point: id(point) },
            ExtraStep::Linked(point, terminals) => {
                let terminals = terminals.map(|terminal| installation.terminal_name(terminal));
                RemedyStep::Link { point: id(point), terminals }
            }
            ExtraStep::Off(point) => RemedyStep::TakeOff { point: id(point) },
        }
    }

    /// How much trouble it is: a lamp least, what is put in or taken off most, and a link to earth more than others.
    pub(super) fn trouble(self, network: &Network) -> u32 {
        match self {
            ExtraStep::Fitted(..) => 0,
            ExtraStep::At(_) | ExtraStep::FindOut(..) | ExtraStep::Unlinked(..) => 1,
            ExtraStep::Off(_) => 2,
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
#[derive(Clone, Debug)]
pub(super) enum TakenAt {
    /// At a way: the number of the plan's candidate.
    Way(u32),
    /// At a point, between terminals that each lead joins.
    Point([Vec<TerminalRef>; 2]),
}

impl TakenAt {
    pub(super) fn leads(&self, setup: &Setup<'_>) -> LeadBodies {
        match self {
            TakenAt::Way(number) => setup.candidates[*number as usize].leads.clone(),
            TakenAt::Point(terminals) => {
                let body = |&terminal: &TerminalRef| setup.network.body(terminal);
                LeadBodies::on(terminals.each_ref().map(|lead| lead.iter().map(body).collect()))
            }
        }
    }

    /// Whether it counts for a pair group: one at a point is taken at the voltage that the pair's circuit asks for.
    pub(super) fn counts_for(&self, setup: &Setup<'_>, group: u32) -> bool {
        match self {
            TakenAt::Way(number) => setup.candidates[*number as usize].counts.has(setup.network, group),
            TakenAt::Point(_) => true,
        }
    }
}

/// A network with extras in place for a while. Only a link needs a copy of the network.
pub(super) struct ExtraTrial<'t> {
    network: &'t Network,
    pub(super) configuration: Configuration,
    linked: Option<Network>,
    probe: Probe,
}

impl<'t> ExtraTrial<'t> {
    /// Where things stand so.
    pub(super) fn new(network: &'t Network, configuration: &Configuration) -> ExtraTrial<'t> {
        ExtraTrial { network, configuration: configuration.clone(), linked: None, probe: Probe::new(network) }
    }

    /// What is found with extras in place; they are undone again. A device that is found out stands in the position
    /// `found`.
    pub(super) fn with<R>(
        &mut self,
        steps: &[ExtraStep],
        found: Option<u16>,
        find: impl FnOnce(&mut ExtraTrial<'t>) -> R,
    ) -> R {
        let Some((&step, rest)) = steps.split_first() else { return find(self) };
        match step {
            ExtraStep::Fitted(_, bridge) => {
                self.with_bridge(Some(bridge), BridgeState::Fitted, |trial| trial.with(rest, found, find))
            }
            ExtraStep::Unlinked(_, bridge) => {
                self.with_bridge(Some(bridge), BridgeState::Removed, |trial| trial.with(rest, found, find))
            }
            ExtraStep::At(_) => self.with(rest, found, find),
            ExtraStep::FindOut(_, device) => {
                let before = self.configuration.device(device);
                self.configuration.set_device(device, found.map_or(before, DeviceState::At));
                let result = self.with(rest, found, find);
                self.configuration.set_device(device, before);
                result
            }
            ExtraStep::Linked(_, terminals) => {
                let bodies = terminals.map(|terminal| self.network.body(terminal));
                self.linked.get_or_insert_with(|| self.network.clone()).put_link_in(bodies);
                let result = self.with(rest, found, find);
                self.linked.as_mut().expect("it was put in").take_link_out();
                result
            }
            ExtraStep::Off(point) => {
                let (device, bridge) = self.network.of_point(point);
                device.into_iter().for_each(|device| self.configuration.take_off(device));
                let result = self.with_bridge(bridge, BridgeState::Removed, |trial| trial.with(rest, found, find));
                device.into_iter().for_each(|device| self.configuration.put_back(device));
                result
            }
        }
    }

    fn with_bridge<R>(
        &mut self,
        bridge: Option<BridgeIndex>,
        state: BridgeState,
        find: impl FnOnce(&mut Self) -> R,
    ) -> R {
        let before = bridge.map(|bridge| (bridge, self.configuration.bridge(bridge)));
        bridge.into_iter().for_each(|bridge| self.configuration.set_bridge(bridge, state));
        let result = find(self);
        before.into_iter().for_each(|(bridge, before)| self.configuration.set_bridge(bridge, before));
        result
    }

    /// A reading between these leads as things stand.
    pub(super) fn read<'p>(&'p mut self, free: FreeDevices<'p>, leads: &LeadBodies) -> Probed<'p> {
        let network = self.linked.as_ref().unwrap_or(self.network);
        self.probe.read(network, &self.configuration, free, leads)
    }
}

/// Where devices must stand: an option of each.
pub(super) type Pins = BTreeMap<DeviceIndex, u16>;

/// These pins and more, so that a condition over options holds, by the fewest changes; none where no combination does.
pub(super) fn fit(
    when: &Condition,
    pins: &Pins,
    choices: &DeviceChoices,
    configuration: &Configuration,
) -> Option<Pins> {
    let combinations = (0..when.count()).filter(|&combination| when.get(combination));
    let fitting = combinations.map(|combination| when.positions(combination)).filter(|positions| {
        positions.iter().all(|(device, position)| pins.get(device).is_none_or(|pinned| pinned == position))
    });
    let all = fitting.map(|positions| {
        let mut pins = pins.clone();
        pins.extend(positions);
        pins
    });
    all.min_by_key(|pins| changes(pins, choices, configuration))
}

pub(super) fn changes(pins: &Pins, choices: &DeviceChoices, configuration: &Configuration) -> usize {
    pins.iter().filter(|&(&device, &option)| choices.option(configuration, device) != Some(option)).count()
}

/// The circuit of a pair's length, and its test voltage.
pub(super) fn circuit_of(network: &Network, pair: PairId) -> (CircuitId, Option<Volts>) {
    let installation = network.installation();
    let circuit = installation.length(network.pair_length(pair)).circuit();
    (circuit, network.test_voltage(circuit))
}
