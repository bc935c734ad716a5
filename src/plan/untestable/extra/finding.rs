//! Which single extras make which pairs testable: each one is tried on the network.

use std::collections::{BTreeMap, BTreeSet};

use fixedbitset::FixedBitSet;
use rustc_hash::{FxHashMap, FxHashSet};

use crate::model::{PointId, TerminalRef};
use crate::network::{Body, BridgeIndex};
use crate::observer::{Stage, Watch};
use crate::plan::problem::setup::Setup;
use crate::plan::request::{ExtraKind, Request};
use crate::plan::untestable::trial::{ExtraStep, ExtraTrial, TakenAt, terminals_of};
use crate::reading::{Condition, Conduct, FreeDevices};

/// A reading that tests something while an extra is in place.
#[derive(Debug)]
pub(super) struct ExtraReading {
    pub(super) at: TakenAt,
    /// For each target: how the devices must stand.
    pub(super) tests: Vec<(usize, Condition)>,
}

/// An extra that makes something testable.
#[derive(Debug)]
pub(super) struct UsefulExtra {
    pub(super) step: ExtraStep,
    pub(super) readings: Vec<ExtraReading>,
    /// The targets that it makes testable.
    pub(super) covers: FixedBitSet,
}

/// Tries extras.
///
/// What could be joined to what for sure, whatever the devices do, are **pieces**. A reading with an extra can test a
/// pair only if each core is in the piece of another lead, with the extra's own pieces counted as one; and a pair that
/// is untestable without it has a core in one of these (but where a link is taken out). All others need not be tried.
pub(super) struct ExtraSearch<'s, 'n> {
    setup: &'s Setup<'n>,
    /// The pair groups to make testable: the targets, by their places in this list.
    pub(super) groups: Vec<u32>,
    /// For each body.
    pieces: Vec<u32>,
    /// The pieces of each target's two bodies, the lower first.
    wanted: BTreeSet<[u32; 2]>,
    /// For each piece, the candidates with a lead on it.
    touching: FxHashMap<u32, Vec<u32>>,
    /// False once something could not be worked out.
    pub(super) is_complete: bool,
}

impl<'s, 'n> ExtraSearch<'s, 'n> {
    pub(super) fn new(setup: &'s Setup<'n>, groups: Vec<u32>) -> ExtraSearch<'s, 'n> {
        let network = setup.network;
        let free = FreeDevices::These(&setup.choices.variable);
        let pieces = network.pieces(|edge| {
            matches!(setup.start.conduct(network, free, edge), Some(Conduct::Sure | Conduct::In { .. }))
        });
        let piece = |body: Body| pieces[body as usize];
        let wanted = groups.iter().map(|&group| sorted(network.group_bodies(group).map(piece))).collect();
        let mut touching: FxHashMap<u32, Vec<u32>> = FxHashMap::default();
        for (number, candidate) in setup.candidates.iter().enumerate() {
            for &body in candidate.leads.touched.iter().flatten() {
                let list = touching.entry(piece(body)).or_default();
                if list.last() != Some(&(number as u32)) {
                    list.push(number as u32);
                }
            }
        }
        ExtraSearch { setup, groups, wanted, touching, is_complete: true, pieces }
    }

    /// The extras of the sorts that are allowed which make at least one target testable: lamps, then points, then
    /// links, each sort in the file's order.
    pub(super) fn useful(&mut self, request: &Request, watch: &mut Watch<'_>) -> Vec<UsefulExtra> {
        let mut steps = Vec::new();
        for sort in &request.allow {
            match sort {
                ExtraKind::Lamps => steps.extend(self.lamps(request)),
                ExtraKind::Points => steps.extend(self.points(request).map(ExtraStep::At)),
                ExtraKind::Links => steps.extend(self.links(request)),
            }
        }
        let mut trial = ExtraTrial::new(self.setup, &self.setup.start);
        let mut useful = Vec::new();
        for (number, &step) in steps.iter().enumerate() {
            watch.at(Stage::Extras, number, steps.len());
            if watch.is_stopped() {
                self.is_complete = false;
                break;
            }
            let readings = self.readings(step);
            if readings.is_empty() {
                continue;
            }
            let readings: Vec<ExtraReading> =
                trial.with(step, |trial| readings.into_iter().filter_map(|at| self.reading(trial, at)).collect());
            let mut covers = FixedBitSet::with_capacity(self.groups.len());
            covers.extend(readings.iter().flat_map(|reading| &reading.tests).map(|test| test.0));
            if !covers.is_clear() {
                useful.push(UsefulExtra { step, readings, covers });
            }
        }
        useful
    }

    fn reading(&mut self, trial: &mut ExtraTrial<'_>, at: TakenAt) -> Option<ExtraReading> {
        let target = |group: u32| self.groups.binary_search(&group);
        let found = trial.tests_by_setting(&at.leads(self.setup), |group| target(group).is_ok());
        let tests: Vec<(usize, Condition)> =
            found.tests.into_iter().filter_map(|(group, when)| Some((target(group).ok()?, when))).collect();
        self.is_complete &= found.is_complete;
        (!tests.is_empty()).then_some(ExtraReading { at, tests })
    }

    fn piece(&self, terminal: TerminalRef) -> u32 {
        self.pieces[self.setup.network.body(terminal) as usize]
    }

    fn lamps(&self, request: &Request) -> impl Iterator<Item = ExtraStep> {
        let bridges = 0..self.setup.network.bridges().len() as BridgeIndex;
        bridges.filter_map(|bridge| ExtraStep::lamp(self.setup, request, bridge))
    }

    /// The points that are not locked.
    fn points(&self, request: &Request) -> impl Iterator<Item = PointId> {
        let installation = self.setup.network.installation();
        installation.points().map(|(point, _)| point).filter(|&point| !request.is_locked(installation, point))
    }

    /// Links that can be taken out, then links between two terminals of one point. Where two points have the same copper
    /// at theirs, the first will do.
    fn links(&self, request: &Request) -> Vec<ExtraStep> {
        let network = self.setup.network;
        let of_targets: FxHashSet<u32> = self.wanted.iter().flatten().copied().collect();
        let mut seen: FxHashSet<[Body; 2]> = FxHashSet::default();
        let bridges = 0..network.bridges().len() as BridgeIndex;
        let mut steps: Vec<ExtraStep> =
            bridges.filter_map(|bridge| ExtraStep::unlinked(self.setup, request, bridge)).collect();
        for point in self.points(request) {
            for two in in_twos(&terminals_of(network, point)) {
                let is_wanted = two.iter().any(|&terminal| of_targets.contains(&self.piece(terminal)));
                if is_wanted && seen.insert(sorted(two.map(|terminal| network.body(terminal)))) {
                    steps.push(ExtraStep::Linked(point, two));
                }
            }
        }
        steps
    }

    /// The readings that could test a target with this extra.
    fn readings(&self, step: ExtraStep) -> Vec<TakenAt> {
        let network = self.setup.network;
        match step {
            ExtraStep::At(point) => {
                let mut terminals = terminals_of(network, point);
                let earth = network.body(TerminalRef::MainEarth);
                if terminals.iter().all(|&terminal| network.body(terminal) != earth) {
                    terminals.push(TerminalRef::MainEarth);
                }
                let two = in_twos(&terminals);
                let is_wanted =
                    |two: &[TerminalRef; 2]| self.wanted.contains(&sorted(two.map(|terminal| self.piece(terminal))));
                two.filter(is_wanted).map(TakenAt::Point).collect()
            }
            ExtraStep::Fitted(_, bridge) => {
                let elements = network.bridges()[bridge as usize].elements.iter();
                self.readings_at_ways(elements.map(|element| element.bodies))
            }
            ExtraStep::Unlinked(..) => {
                // It may have led to what lies across the leads from anywhere.
                let could_test = |number: &u32| {
                    let [one, other] = &self.setup.candidates[*number as usize].leads.touched;
                    let pieces = one.iter().flat_map(|&one| other.iter().map(move |&other| [one, other]));
                    let mut pieces = pieces.map(|bodies| sorted(bodies.map(|body| self.pieces[body as usize])));
                    pieces.any(|pieces| self.wanted.contains(&pieces))
                };
                (0..self.setup.candidates.len() as u32).filter(could_test).map(TakenAt::Way).collect()
            }
            ExtraStep::Linked(_, terminals) => {
                self.readings_at_ways(std::iter::once(terminals.map(|terminal| network.body(terminal))))
            }
        }
    }

    fn readings_at_ways(&self, joined: impl Iterator<Item = [Body; 2]>) -> Vec<TakenAt> {
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
            let leads = &self.setup.candidates[*number as usize].leads.touched;
            let is_on =
                |lead: usize, piece: u32| leads[lead].iter().any(|&body| now(self.pieces[body as usize]) == piece);
            wanted.iter().any(|&[a, b]| (is_on(0, a) && is_on(1, b)) || (is_on(0, b) && is_on(1, a)))
        };
        numbers.into_iter().filter(could_test).map(TakenAt::Way).collect()
    }
}

fn sorted(mut two: [u32; 2]) -> [u32; 2] {
    two.sort_unstable();
    two
}

fn in_twos(terminals: &[TerminalRef]) -> impl Iterator<Item = [TerminalRef; 2]> {
    let others = |(number, &one): (usize, &TerminalRef)| terminals[number + 1..].iter().map(move |&other| [one, other]);
    terminals.iter().enumerate().flat_map(others)
}
