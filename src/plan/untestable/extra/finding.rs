//! Which single extras make which pairs testable: each one is tried on the network.

use std::collections::{BTreeMap, BTreeSet};

use fixedbitset::FixedBitSet;
use rustc_hash::{FxHashMap, FxHashSet};

use crate::model::{BridgeRef, Conducts, PointId, TerminalRef};
use crate::network::{Body, BridgeIndex, Network};
use crate::plan::observer::{Stage, Watch};
use crate::plan::problem::setup::Setup;
use crate::plan::request::{ExtraKind, Request};
use crate::plan::untestable::remedy::RemedyStep;
use crate::reading::{Condition, Conduct, Configuration, FreeDevices, LeadBodies, Probe};

/// An extra.
#[derive(Clone, Debug)]
pub(super) enum Step {
    Fitted(PointId, BridgeIndex),
    At(PointId),
    Linked(PointId, [TerminalRef; 2]),
}

impl Step {
    pub(super) fn named(&self, network: &Network) -> RemedyStep {
        let installation = network.installation();
        let id = |point: PointId| installation.point(point).id().to_owned();
        match *self {
            Step::Fitted(point, _) => RemedyStep::LeaveFitted { bridge: id(point) },
            Step::At(point) => RemedyStep::TakeInstrumentTo { point: id(point) },
            Step::Linked(point, terminals) => {
                let terminals = terminals.map(|terminal| installation.terminal_name(terminal));
                RemedyStep::Link { point: id(point), terminals }
            }
        }
    }
}

/// Where a reading is taken while an extra is in place.
#[derive(Clone, Copy, Debug)]
pub(super) enum Taken {
    /// At a way: the number of the plan's candidate.
    Way(u32),
    /// At the point, between two terminals.
    Point([TerminalRef; 2]),
}

/// A reading that tests something then.
#[derive(Debug)]
pub(super) struct Sounded {
    pub(super) taken: Taken,
    pub(super) leads: LeadBodies,
    /// For each target: how the devices must stand.
    pub(super) tests: Vec<(usize, Condition)>,
}

/// An extra that makes something testable.
#[derive(Debug)]
pub(super) struct Possible {
    pub(super) step: Step,
    pub(super) readings: Vec<Sounded>,
    /// The targets that it makes testable.
    pub(super) covers: FixedBitSet,
}

/// A network with one extra in place. Only a link needs a copy of the network.
pub(super) struct Changed<'c> {
    network: &'c Network,
    linked: Option<Network>,
    pub(super) standing: Configuration,
}

impl<'c> Changed<'c> {
    pub(super) fn new(network: &'c Network, standing: &Configuration) -> Changed<'c> {
        Changed { network, linked: None, standing: standing.clone() }
    }

    pub(super) fn put_in(&mut self, step: &Step) {
        match *step {
            Step::Fitted(_, bridge) => self.standing.set_fitted(bridge, true),
            Step::At(_) => {}
            Step::Linked(_, terminals) => {
                let bodies = terminals.map(|terminal| self.network.body(terminal));
                self.linked.get_or_insert_with(|| self.network.clone()).put_link_in(bodies);
            }
        }
    }

    fn take_out(&mut self, step: &Step) {
        match *step {
            Step::Fitted(_, bridge) => self.standing.set_fitted(bridge, false),
            Step::At(_) => {}
            Step::Linked(..) => self.linked.as_mut().expect("it was put in").take_link_out(),
        }
    }

    pub(super) fn network(&self) -> &Network {
        self.linked.as_ref().unwrap_or(self.network)
    }
}

/// Tries extras.
///
/// What could be joined to what for sure, whatever the devices do, are **pieces**. A reading with an extra can test a
/// pair only if each core is in the piece of another lead, with the extra's own pieces counted as one; and a pair that is
/// untestable without it has a core in one of these. All others need not be tried.
pub(super) struct Search<'s, 'n> {
    setup: &'s Setup<'n>,
    /// The pair groups to make testable: the targets, by their places in this list.
    pub(super) groups: Vec<u32>,
    /// For each body.
    pieces: Vec<u32>,
    /// The pieces of each target's two bodies, the lower first.
    wanted: BTreeSet<[u32; 2]>,
    /// For each piece, the candidates with a lead on it.
    touching: FxHashMap<u32, Vec<u32>>,
    probe: Probe,
    /// False once something could not be worked out.
    pub(super) is_complete: bool,
}

impl<'s, 'n> Search<'s, 'n> {
    pub(super) fn new(setup: &'s Setup<'n>, groups: Vec<u32>) -> Search<'s, 'n> {
        let network = setup.network;
        let free = FreeDevices::These(&setup.fleet.variable);
        let pieces = network.pieces(|edge| {
            matches!(setup.start.conduct(network, free, edge), Some(Conduct::Sure | Conduct::In { .. }))
        });
        let piece = |body: Body| pieces[body as usize];
        let wanted = groups.iter().map(|&group| sorted(network.group_bodies(group).map(piece))).collect();
        let mut touching: FxHashMap<u32, Vec<u32>> = FxHashMap::default();
        for (number, candidate) in setup.candidates.iter().enumerate() {
            for &body in candidate.leads.0.iter().flatten() {
                let list = touching.entry(piece(body)).or_default();
                if list.last() != Some(&(number as u32)) {
                    list.push(number as u32);
                }
            }
        }
        Search { setup, groups, wanted, touching, probe: Probe::new(network), is_complete: true, pieces }
    }

    /// The extras of the sorts that are allowed which make at least one target testable: lamps, then points, then links,
    /// each sort in the file's order.
    pub(super) fn possible(&mut self, request: &Request, watch: &mut Watch<'_>) -> Vec<Possible> {
        let mut steps = Vec::new();
        for sort in &request.allow {
            match sort {
                ExtraKind::Lamps => steps.extend(self.lamps(request)),
                ExtraKind::Points => steps.extend(self.points(request)),
                ExtraKind::Links => steps.extend(self.links(request)),
            }
        }
        let mut changed = Changed::new(self.setup.network, &self.setup.start);
        let mut possible = Vec::new();
        for (number, step) in steps.iter().enumerate() {
            watch.at(Stage::Extras, number, steps.len());
            if watch.is_stopped() {
                self.is_complete = false;
                break;
            }
            let readings = self.readings(step);
            if readings.is_empty() {
                continue;
            }
            changed.put_in(step);
            let readings: Vec<Sounded> =
                readings.into_iter().filter_map(|(taken, leads)| self.sounded(&changed, taken, leads)).collect();
            changed.take_out(step);
            let mut covers = FixedBitSet::with_capacity(self.groups.len());
            covers.extend(readings.iter().flat_map(|reading| &reading.tests).map(|test| test.0));
            if !covers.is_clear() {
                possible.push(Possible { step: step.clone(), readings, covers });
            }
        }
        possible
    }

    fn sounded(&mut self, changed: &Changed<'_>, taken: Taken, leads: LeadBodies) -> Option<Sounded> {
        let Search { groups, probe, is_complete, setup, .. } = self;
        let is_target = |group: u32| groups.binary_search(&group).is_ok();
        let free = FreeDevices::These(&setup.fleet.variable);
        let found = probe.read(changed.network(), &changed.standing, free, &leads).tests_by_setting(is_target);
        *is_complete &= found.is_complete;
        let target = |group: u32| groups.binary_search(&group).expect("only targets are told");
        let tests: Vec<(usize, Condition)> =
            found.tests.into_iter().map(|(group, when)| (target(group), when)).collect();
        (!tests.is_empty()).then_some(Sounded { taken, leads, tests })
    }

    fn piece(&self, terminal: TerminalRef) -> u32 {
        self.pieces[self.setup.network.body(terminal) as usize]
    }

    /// Lamps, loads and coils that are out and could be left in: those that conduct for sure. What may conduct joins
    /// nothing for sure, so it makes nothing testable.
    fn lamps(&self, request: &Request) -> Vec<Step> {
        let network = self.setup.network;
        let mut steps = Vec::new();
        for (number, bridge) in network.bridges().iter().enumerate() {
            let BridgeRef::Point(point) = bridge.reference else { continue };
            let is_sure = bridge.elements.iter().all(|element| element.conducts == Conducts::Sure);
            let is_out = !self.setup.start.is_fitted(number as BridgeIndex);
            if is_sure && is_out && bridge.removable && !request.is_locked(network.installation(), point) {
                steps.push(Step::Fitted(point, number as BridgeIndex));
            }
        }
        steps
    }

    fn points(&self, request: &Request) -> Vec<Step> {
        let installation = self.setup.network.installation();
        let open =
            installation.points().map(|(point, _)| point).filter(|&point| !request.is_locked(installation, point));
        open.map(Step::At).collect()
    }

    /// Links between two terminals of one point. Where two points have the same copper at theirs, the first will do.
    fn links(&self, request: &Request) -> Vec<Step> {
        let network = self.setup.network;
        let installation = network.installation();
        let of_targets: FxHashSet<u32> = self.wanted.iter().flatten().copied().collect();
        let mut seen: FxHashSet<[Body; 2]> = FxHashSet::default();
        let mut steps = Vec::new();
        for (point, _) in installation.points() {
            if request.is_locked(installation, point) {
                continue;
            }
            let terminals = self.terminals(point);
            for (number, &one) in terminals.iter().enumerate() {
                for &other in &terminals[number + 1..] {
                    let is_wanted = [one, other].iter().any(|&terminal| of_targets.contains(&self.piece(terminal)));
                    if is_wanted && seen.insert(sorted([network.body(one), network.body(other)])) {
                        steps.push(Step::Linked(point, [one, other]));
                    }
                }
            }
        }
        steps
    }

    /// The terminals of a point, one for each body.
    fn terminals(&self, point: PointId) -> Vec<TerminalRef> {
        let network = self.setup.network;
        let row = network.installation().point(point);
        let count = network.installation().kind(row.kind()).terminals.len() + row.extra_terminals.len();
        let mut seen = Vec::new();
        let mut terminals: Vec<TerminalRef> =
            (0..count as u16).map(|terminal| TerminalRef::Point { point, terminal }).collect();
        terminals.retain(|&terminal| {
            let body = network.body(terminal);
            let is_new = !seen.contains(&body);
            seen.push(body);
            is_new
        });
        terminals
    }

    /// The readings that could test a target with this extra.
    fn readings(&self, step: &Step) -> Vec<(Taken, LeadBodies)> {
        let network = self.setup.network;
        match *step {
            Step::At(point) => {
                let mut terminals = self.terminals(point);
                let earth = network.body(TerminalRef::MainEarth);
                if terminals.iter().all(|&terminal| network.body(terminal) != earth) {
                    terminals.push(TerminalRef::MainEarth);
                }
                let mut readings = Vec::new();
                for (number, &one) in terminals.iter().enumerate() {
                    for &other in &terminals[number + 1..] {
                        if self.wanted.contains(&sorted([self.piece(one), self.piece(other)])) {
                            let leads = LeadBodies([one, other].map(|terminal| vec![network.body(terminal)]));
                            readings.push((Taken::Point([one, other]), leads));
                        }
                    }
                }
                readings
            }
            Step::Fitted(_, bridge) => {
                let elements = network.bridges()[bridge as usize].elements.iter();
                self.readings_at_ways(elements.map(|element| element.bodies))
            }
            Step::Linked(_, terminals) => {
                self.readings_at_ways(std::iter::once(terminals.map(|terminal| network.body(terminal))))
            }
        }
    }

    fn readings_at_ways(&self, joined: impl Iterator<Item = [Body; 2]>) -> Vec<(Taken, LeadBodies)> {
        // Which piece stands for each that an element or the link joins to others.
        let mut stands: BTreeMap<u32, u32> = BTreeMap::new();
        for bodies in joined {
            let pieces = bodies.map(|body| self.pieces[body as usize]);
            let [from, to] = pieces.map(|piece| *stands.get(&piece).unwrap_or(&piece));
            stands.values_mut().filter(|now| **now == from).for_each(|now| *now = to);
            pieces.into_iter().zip([to, to]).for_each(|(piece, now)| {
                stands.insert(piece, now);
            });
        }
        let now = |piece: u32| *stands.get(&piece).unwrap_or(&piece);
        let wanted: BTreeSet<[u32; 2]> = self
            .wanted
            .iter()
            .filter(|pieces| pieces.iter().any(|piece| stands.contains_key(piece)))
            .map(|pieces| pieces.map(now))
            .collect();
        let mut numbers: Vec<u32> =
            stands.keys().filter_map(|piece| self.touching.get(piece)).flatten().copied().collect();
        numbers.sort_unstable();
        numbers.dedup();
        let could_test = |number: &u32| {
            let leads = &self.setup.candidates[*number as usize].leads.0;
            let is_on =
                |lead: usize, piece: u32| leads[lead].iter().any(|&body| now(self.pieces[body as usize]) == piece);
            wanted.iter().any(|&[a, b]| (is_on(0, a) && is_on(1, b)) || (is_on(0, b) && is_on(1, a)))
        };
        numbers.retain(could_test);
        let reading = |number: u32| (Taken::Way(number), self.setup.candidates[number as usize].leads.clone());
        numbers.into_iter().map(reading).collect()
    }
}

fn sorted(mut two: [u32; 2]) -> [u32; 2] {
    two.sort_unstable();
    two
}
