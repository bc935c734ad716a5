//! Why no setting tests a pair: the first reason that holds.
//!
//! Every reason is about all settings, and about all starts for which the pair is not tested yet. So each is read off
//! decision diagrams over the positions of what can be operated and the starts of what can't: whether some combination
//! is left in which a core is on a lead, both are on opposite leads, a sound reading has them so.
//!
//! Design not taken: the reason for one start after another. There are as many starts as combinations of unknown
//! positions, and each asks the same of the same switches.

use std::rc::Rc;

use rustc_hash::FxHashMap;
use serde::{Deserialize, Serialize};

use crate::coverage::Tested;
use crate::network::{Body, DeviceIndex};
use crate::observer::Watch;
use crate::plan::problem::choices::{OptionKind, may_be_operated};
use crate::plan::problem::setup::Setup;
use crate::plan::request::Request;
use crate::reading::{DeviceState, Diagram, Probe, Probed, Side, TableLimits};

/// Why no setting tests a pair by the readings that a plan uses.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Untestable {
    /// No lead can ever be joined to one of the cores.
    NeverReached,
    /// It could be tested if it were known how some devices stand.
    UnknownPosition,
    /// No reading ever has the cores on opposite leads.
    SameLead,
    /// Some reading has, but every such reading is void.
    AlwaysBridged,
    /// Sound readings have, but at a voltage at which nothing counts for the pair's circuit.
    OtherVoltage,
}

/// The reason for one pair.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::plan) struct PairReason {
    pub(in crate::plan) why: Untestable,
    /// Of an unknown position: the devices that must be known, none of which can be left out.
    pub(in crate::plan) devices: Vec<DeviceIndex>,
}

/// What readings do for one pair. What can't be worked out is as it must be for the reason that claims least.
struct PairReadings {
    bodies: [Body; 2],
    /// For each core, when a lead is joined to it.
    reached: [Diagram; 2],
    /// When a reading, void or not, has the cores on opposite leads.
    opposite: Diagram,
    /// For each reading that may test it: when it has the cores so, and when its leads may be joined.
    testers: Vec<(Diagram, Rc<Diagram>)>,
    /// The same of readings at a voltage at which they don't count for it.
    at_other_voltage: Vec<(Diagram, Rc<Diagram>)>,
    /// For which starts it is not tested already.
    missing: Diagram,
}

/// Why nothing tests each of these pair groups, for the starts for which it is not tested yet.
///
/// Time: two explorations for each reading that a plan may use, and diagrams of the devices that bear on these groups;
/// a few operations on these for each unknown device. Past the limit of a diagram the reason that claims least.
pub(in crate::plan) fn reasons(
    setup: &Setup<'_>,
    coverage: &Tested<'_>,
    request: &Request,
    groups: &[u32],
    watch: &mut Watch<'_>,
) -> FxHashMap<u32, PairReason> {
    if groups.is_empty() {
        return FxHashMap::default();
    }
    let Setup { network, start, choices, candidates } = setup;
    let tables = network.limits().tables.clone();
    let limits = &TableLimits { diagram_nodes: tables.diagram_nodes.min(setup.limits().reason_nodes), ..tables };
    let mut pairs: Vec<PairReadings> = groups
        .iter()
        .map(|&group| PairReadings {
            bodies: network.group_bodies(group),
            reached: [Diagram::never(), Diagram::never()],
            opposite: Diagram::never(),
            testers: Vec::new(),
            at_other_voltage: Vec::new(),
            missing: coverage.partly_tested(group).map_or_else(Diagram::always, Diagram::not),
        })
        .collect();
    // What can be operated, in any position; what can't, from any start.
    let mut standing = start.clone();
    choices.free().for_each(|device| standing.set_device(device, DeviceState::Unknown(0)));
    let copper = Some(standing.copper()).filter(|copper| *copper != standing);
    let mut probe = Probe::new(network);
    for candidate in candidates {
        if !watch.goes_on() {
            break;
        }
        let probed = probe.read_for_starts(network, &standing, &candidate.leads).with_diagrams_to(limits.diagram_nodes);
        let are_here = pairs.iter().any(|pair| probed.comes_to(&pair.bodies));
        let joined = are_here.then(|| probed.joined_leads()).flatten();
        let void = joined.as_ref().map(|[_, void]| Rc::new(void.clone()));
        for (pair, &group) in pairs.iter_mut().zip(groups) {
            let opposite = pair.enter_opposite(&probed, joined.as_ref(), limits);
            match (opposite, &void) {
                (Some(opposite), void) if !candidate.counts.has(network, group) => {
                    let void = void.clone().unwrap_or_else(|| Rc::new(Diagram::never()));
                    pair.at_other_voltage.push((opposite.unwrap_or_else(Diagram::always), void));
                }
                (Some(Some(opposite)), Some(void)) => pair.testers.push((opposite, Rc::clone(void))),
                _ => {}
            }
        }
        // Whether it is void or not, its leads reach what they reach.
        let probed = if probed.is_bridged() { probed.with_leads_as_one() } else { probed };
        pairs.iter_mut().for_each(|pair| pair.enter_reached(&probed, limits));
        if let Some(copper) = &copper {
            let probed =
                probe.read_for_starts(network, copper, &candidate.leads).with_diagrams_to(limits.diagram_nodes);
            let are_here = pairs.iter().any(|pair| probed.comes_to(&pair.bodies));
            let joined = are_here.then(|| probed.joined_leads()).flatten();
            for pair in &mut pairs {
                pair.enter_opposite(&probed, joined.as_ref(), limits);
            }
        }
    }
    let is_stopped = watch.is_stopped();
    let search = ReasonSearch { setup, request, limits };
    let reason = |pair: &PairReadings| match is_stopped {
        true => PairReason { why: Untestable::AlwaysBridged, devices: Vec::new() },
        false => search.reason(pair),
    };
    groups.iter().zip(&pairs).map(|(&group, pair)| (group, reason(pair))).collect()
}

impl PairReadings {
    /// Enters when a reading has the cores on opposite leads that are not joined, and tells it, where that is known; none
    /// where it never has.
    fn enter_opposite(
        &mut self,
        probed: &Probed<'_>,
        joined: Option<&[Diagram; 2]>,
        limits: &TableLimits,
    ) -> Option<Option<Diagram>> {
        let when = probed.when_opposite(self.bodies)?.diagram(limits);
        let apart = joined.and_then(|[for_sure, _]| when?.and_not(for_sure, limits));
        let or = |apart: &Diagram| self.opposite.or(apart, limits);
        self.opposite = apart.as_ref().and_then(or).unwrap_or_else(Diagram::always);
        apart.as_ref().is_none_or(|apart| !apart.is_never()).then_some(apart)
    }

    fn enter_reached(&mut self, probed: &Probed<'_>, limits: &TableLimits) {
        for (reached, body) in self.reached.iter_mut().zip(self.bodies) {
            if reached.is_always() {
                continue;
            }
            for when in Side::BOTH.into_iter().filter_map(|side| probed.joined(body, side)) {
                let or = |when: Diagram| reached.or(&when, limits);
                *reached = when.diagram(limits).and_then(or).unwrap_or_else(Diagram::always);
            }
        }
    }
}

/// Looks for reasons.
struct ReasonSearch<'a> {
    setup: &'a Setup<'a>,
    request: &'a Request,
    limits: &'a TableLimits,
}

impl ReasonSearch<'_> {
    fn reason(&self, pair: &PairReadings) -> PairReason {
        let [one, other] = &pair.reached;
        let mut devices = Vec::new();
        let why = if self.is_ruled_out(&[one, other], pair) {
            Untestable::NeverReached
        } else if let Some(known) = self.to_be_known(pair) {
            devices = known;
            Untestable::UnknownPosition
        } else if self.is_ruled_out(&[&pair.opposite], pair) {
            Untestable::SameLead
        } else if self.is_sound_at_other_voltage(pair) {
            Untestable::OtherVoltage
        } else {
            Untestable::AlwaysBridged
        };
        PairReason { why, devices }
    }

    fn is_stuck(&self, device: DeviceIndex) -> bool {
        let choices = &self.setup.choices;
        choices.is_unknown(device) && matches!(choices.kind(device), OptionKind::Stuck { .. })
    }

    /// Whether for no start that is missing there are settings in which each of these holds.
    fn is_ruled_out(&self, all: &[&Diagram], pair: &PairReadings) -> bool {
        let for_starts = |diagram: &Diagram| diagram.for_some(|device| !self.is_stuck(device), self.limits);
        let left = all
            .iter()
            .try_fold(for_starts(&pair.missing), |left, diagram| Some(left?.and(&for_starts(diagram)?, self.limits)))
            .flatten();
        left.is_some_and(|left| left.is_never())
    }

    /// Whether for some start that is missing a sound reading at another voltage has the pair on opposite leads in some
    /// setting.
    fn is_sound_at_other_voltage(&self, pair: &PairReadings) -> bool {
        let is_anyhow = |device: DeviceIndex| !self.is_put(device);
        pair.at_other_voltage.iter().any(|(opposite, void)| {
            let sound = void.for_some(is_anyhow, self.limits).and_then(|void| opposite.and_not(&void, self.limits));
            sound.is_none_or(|sound| !self.is_ruled_out(&[&sound], pair))
        })
    }

    /// Whether a device is put where the plan wants it, whether or not it is known how it started.
    fn is_put(&self, device: DeviceIndex) -> bool {
        matches!(self.setup.choices.kind(device), OptionKind::Known | OptionKind::AsFound { .. })
    }

    /// The unknown devices that must be known for a pair to be tested for some start that is missing; none where that
    /// does not help. From the last on, each is left out without which the others do.
    fn to_be_known(&self, pair: &PairReadings) -> Option<Vec<DeviceIndex>> {
        let choices = &self.setup.choices;
        let bearing = pair.testers.iter().flat_map(|(opposite, void)| [opposite, &**void]);
        let unknown = bearing.flat_map(Diagram::devices).map(|digit| digit.0).filter(|&row| choices.is_unknown(row));
        let mut known: Vec<DeviceIndex> =
            unknown.chain(pair.missing.devices().into_iter().map(|digit| digit.0)).collect();
        known.sort_unstable();
        known.dedup();
        if known.is_empty() || self.is_tested_knowing(&known, pair) != Some(true) {
            return None;
        }
        for place in (0..known.len()).rev() {
            let mut fewer = known.clone();
            fewer.remove(place);
            if self.is_tested_knowing(&fewer, pair) == Some(true) {
                known = fewer;
            }
        }
        Some(known)
    }

    /// Whether, for some starts of these devices, settings test a pair for every start of the others that is missing,
    /// where it is known that these started so. None where that can't be worked out.
    fn is_tested_knowing(&self, known: &[DeviceIndex], pair: &PairReadings) -> Option<bool> {
        let ReasonSearch { setup: Setup { network, choices, .. }, request, limits } = self;
        let is_known = |device: DeviceIndex| known.binary_search(&device).is_ok();
        // Put where the plan wants it: what is known, and what is put into positions by name.
        let is_chosen =
            |device: DeviceIndex| self.is_put(device) || is_known(device) && may_be_operated(network, request, device);
        // Of what is turned on from any start, every start puts it elsewhere.
        let is_anyhow = |device: DeviceIndex| !is_known(device) && !is_chosen(device);
        let is_moved = |device: DeviceIndex| {
            is_chosen(device) || !is_known(device) && matches!(choices.kind(device), OptionKind::Turned { .. })
        };
        let mut tested = Diagram::never();
        for (opposite, void) in &pair.testers {
            let sound = opposite.and_not(&void.for_some(is_anyhow, limits)?, limits)?;
            tested = tested.or(&sound.for_some(is_moved, limits)?, limits)?;
        }
        let of_known = |diagram: &Diagram| diagram.for_some(|device| !is_known(device), limits);
        let failing = of_known(&pair.missing.and_not(&tested, limits)?)?;
        Some(!of_known(&pair.missing)?.and_not(&failing, limits)?.is_never())
    }
}
