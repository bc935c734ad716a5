//! Which extras make which pairs testable: each one is tried on the network.

use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

use fixedbitset::FixedBitSet;
use rustc_hash::{FxHashMap, FxHashSet};

use super::ExtraSetup;
use crate::model::{BridgeRef, DeviceRef, PointId, TerminalRef};
use crate::network::{Body, BridgeIndex, DeviceIndex, Edge, Network};
use crate::observer::{Stage, Watch};
use crate::plan::problem::choices::DeviceChoices;
use crate::plan::problem::testers::{PairTester, settings_of};
use crate::plan::untestable::trial::{ExtraStep, ExtraTrial, TakenAt, terminals_of};
use crate::reading::{Condition, Conduct, DeviceState, FreeDevices, When};

/// A reading that tests something while extras are in place.
#[derive(Debug)]
pub(super) struct ExtraReading {
    pub(super) at: TakenAt,
    /// The targets that it tests in some setting, for some start.
    pub(super) targets: Vec<usize>,
}

/// What can be done with extras in place, in one case of what is found out.
#[derive(Debug)]
pub(super) struct ExtraCase {
    /// The position in which a device is found that nobody knew of.
    pub(super) found: Option<u16>,
    pub(super) readings: Vec<ExtraReading>,
    /// For each target, settings over options: a target is tested where each of its rows held once.
    pub(super) needs: Vec<(usize, Condition)>,
}

/// An extra, or two together, that make something testable.
#[derive(Debug)]
pub(super) struct UsefulExtra {
    pub(super) steps: Vec<ExtraStep>,
    /// One, or one for each position of a device that is found out.
    pub(super) cases: Vec<ExtraCase>,
    /// The targets that it makes testable.
    pub(super) covers: FixedBitSet,
}

impl UsefulExtra {
    pub(super) fn trouble(&self, network: &Network) -> u32 {
        self.steps.iter().map(|step| step.trouble(network)).sum()
    }
}

/// Tries extras.
///
/// What could be joined to what for sure, whatever the devices do, are **pieces**. A reading with an extra can test a
/// pair only if each core is in the piece of another lead, with what the extra joins counted as one piece. All others
/// need not be tried.
pub(super) struct ExtraSearch<'s, 'n> {
    extras: &'s ExtraSetup<'s, 'n>,
    /// For each body.
    pieces: Vec<u32>,
    /// The pieces of each target's two bodies, the lower first.
    wanted: BTreeSet<[u32; 2]>,
    /// For each piece, those that it is one of.
    wanted_of: FxHashMap<u32, Vec<[u32; 2]>>,
    /// For each piece, the candidates with a lead on it.
    touching: FxHashMap<u32, Vec<u32>>,
    /// For each point, the candidates that what it holds bears on, and those for the same pairs; made when it is asked
    /// for.
    bearing: Option<FxHashMap<PointId, Vec<u32>>>,
    /// Readings that may still be tried.
    readings_left: usize,
    /// False once something could not be worked out.
    pub(super) is_complete: bool,
}

impl<'s, 'n> ExtraSearch<'s, 'n> {
    pub(super) fn new(extras: &'s ExtraSetup<'s, 'n>) -> ExtraSearch<'s, 'n> {
        let network = extras.setup.network;
        let free = FreeDevices::These(&extras.choices.variable);
        let pieces = network.pieces(|edge| {
            matches!(extras.start.conduct(network, free, edge), Some(Conduct::Sure | Conduct::In { .. }))
        });
        let mut touching: FxHashMap<u32, Vec<u32>> = FxHashMap::default();
        for (number, candidate) in extras.setup.candidates.iter().enumerate() {
            for &body in candidate.leads.touched.iter().flatten() {
                let list = touching.entry(pieces[body as usize]).or_default();
                if list.last() != Some(&(number as u32)) {
                    list.push(number as u32);
                }
            }
        }
        let readings_left = network.limits().plan.extra_readings;
        let mut search = ExtraSearch {
            extras,
            pieces,
            wanted: BTreeSet::new(),
            wanted_of: FxHashMap::default(),
            touching,
            bearing: None,
            readings_left,
            is_complete: true,
        };
        search.want(0..extras.groups.len());
        search
    }

    /// Looks for what makes these targets testable.
    pub(super) fn want(&mut self, targets: impl Iterator<Item = usize>) {
        let network = self.extras.setup.network;
        let pieces = |group: u32| sorted(network.group_bodies(group).map(|body| self.pieces[body as usize]));
        self.wanted = targets.map(|target| pieces(self.extras.groups[target])).collect();
        self.wanted_of.clear();
        for &pieces in &self.wanted {
            pieces.into_iter().for_each(|piece| self.wanted_of.entry(piece).or_default().push(pieces));
        }
        self.bearing = None;
    }

    /// The single extras that make at least one target testable, in the order of their sorts, each in the file's order.
    pub(super) fn singles(&mut self, watch: &mut Watch<'_>) -> Vec<UsefulExtra> {
        let steps = self.steps();
        let mut trial = self.extras.trial();
        let mut useful = Vec::new();
        for (number, &step) in steps.iter().enumerate() {
            watch.at(Stage::Extras, number, steps.len());
            if !self.goes_on(watch) {
                break;
            }
            let readings = self.readings(step);
            useful.extend(self.tried(&mut trial, vec![step], readings, watch));
        }
        useful
    }

    /// Two extras together that make at least one of these targets testable, which no single one does: two links, a link
    /// and a lamp, an accessory off and the instrument elsewhere, or two accessories off.
    pub(super) fn twos(&mut self, targets: &FixedBitSet, watch: &mut Watch<'_>) -> Vec<UsefulExtra> {
        self.want(targets.ones());
        let mut trial = self.extras.trial();
        let mut twos = self.two_joining();
        twos.extend(self.two_with_one_off(&mut trial));
        let most = self.extras.setup.limits().extra_twos;
        self.is_complete &= twos.len() <= most;
        let mut useful = Vec::new();
        for two in twos.into_iter().take(most) {
            if !self.goes_on(watch) {
                break;
            }
            let readings = match two {
                [ExtraStep::Off(_), ExtraStep::At(point)] => self.readings_at(point),
                [ExtraStep::Off(one), ExtraStep::Off(other)] => {
                    let mut at_ways = [one, other].map(|point| self.borne_on(point)).concat();
                    at_ways.sort_unstable();
                    at_ways.dedup();
                    let at_points = [one, other].map(|point| self.readings_at(point)).concat();
                    at_ways.into_iter().map(TakenAt::Way).chain(at_points).collect()
                }
                [one, other] => self.readings_at_ways(self.joins(one).into_iter().chain(self.joins(other))),
            };
            useful.extend(self.tried(&mut trial, two.to_vec(), readings, watch));
        }
        useful
    }

    /// An accessory off and the instrument elsewhere, or two off, where what these hold bears on one reading.
    fn two_with_one_off(&mut self, trial: &mut ExtraTrial<'s>) -> Vec<[ExtraStep; 2]> {
        let ExtraSetup { setup, request, choices, .. } = self.extras;
        let can_be_off = |point: PointId| ExtraStep::off(setup, request, point).is_some();
        let mut both_off: BTreeSet<[PointId; 2]> = BTreeSet::new();
        let mut twos = Vec::new();
        let mut points_of: BTreeMap<u32, BTreeSet<PointId>> = BTreeMap::new();
        for point in self.points().filter(|&point| can_be_off(point)).collect::<Vec<_>>() {
            for number in self.borne_on(point) {
                points_of.entry(number).or_default().insert(point);
            }
        }
        let most = setup.limits().extra_twos;
        for points in points_of.into_values() {
            if both_off.len() > most {
                break;
            }
            let points: Vec<PointId> = points.into_iter().collect();
            both_off.extend(in_twos(&points));
        }
        for point in self.points().collect::<Vec<_>>() {
            let mut holders = BTreeSet::new();
            for at in self.readings_at(point) {
                let probed = trial.read(FreeDevices::These(&choices.variable), &at.leads(setup));
                holders.extend(probed.touched().flat_map(|body| points_at(setup.network, body)));
            }
            for holder in holders.into_iter().filter(|&holder| holder != point && can_be_off(holder)) {
                twos.push([ExtraStep::Off(holder), ExtraStep::At(point)]);
                if can_be_off(point) {
                    both_off.insert([holder.min(point), holder.max(point)]);
                }
            }
        }
        twos.extend(both_off.into_iter().map(|two| two.map(ExtraStep::Off)));
        twos
    }

    /// What a link or a lamp joins.
    fn joins(&self, step: ExtraStep) -> Vec<[Body; 2]> {
        let network = self.extras.setup.network;
        match step {
            ExtraStep::Fitted(_, bridge) => {
                network.bridges()[bridge as usize].elements.iter().map(|element| element.bodies).collect()
            }
            ExtraStep::Linked(_, terminals) => vec![terminals.map(|terminal| network.body(terminal))],
            _ => Vec::new(),
        }
    }

    /// A link and another, or a lamp, where one has to do with a target, and the other too or with what that one joins.
    fn two_joining(&self) -> Vec<[ExtraStep; 2]> {
        let ExtraSetup { setup, request, .. } = self.extras;
        let of_targets: BTreeSet<u32> = self.wanted.iter().flatten().copied().collect();
        let mut all = self.links(|_| true);
        let link_count = all.len();
        all.extend(
            (0..setup.network.bridges().len() as BridgeIndex).filter_map(|at| ExtraStep::lamp(setup, request, at)),
        );
        let pieces = |step: &ExtraStep| -> BTreeSet<u32> {
            self.joins(*step).into_iter().flatten().map(|body| self.pieces[body as usize]).collect()
        };
        let pieces: Vec<BTreeSet<u32>> = all.iter().map(pieces).collect();
        let mut with_piece: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
        for (number, pieces) in pieces.iter().enumerate() {
            pieces.iter().for_each(|&piece| with_piece.entry(piece).or_default().push(number));
        }
        let near = |pieces: &BTreeSet<u32>| -> BTreeSet<usize> {
            pieces.iter().filter_map(|piece| with_piece.get(piece)).flatten().copied().collect()
        };
        let firsts = near(&of_targets);
        let mut twos = BTreeSet::new();
        let most = setup.limits().extra_twos;
        for &first in &firsts {
            if twos.len() > most {
                break;
            }
            let others = firsts.union(&near(&pieces[first])).copied().collect::<Vec<_>>();
            let others = others.into_iter().filter(|&other| other != first && first.min(other) < link_count);
            twos.extend(others.map(|other| [first.min(other), first.max(other)]));
        }
        twos.into_iter().map(|two| two.map(|number| all[number])).collect()
    }

    fn goes_on(&mut self, watch: &Watch<'_>) -> bool {
        self.is_complete &= self.readings_left > 0 && !watch.is_stopped();
        self.readings_left > 0 && !watch.is_stopped()
    }

    /// What these readings do with extras in place; none where they make nothing testable.
    fn tried(
        &mut self,
        trial: &mut ExtraTrial<'s>,
        steps: Vec<ExtraStep>,
        readings: Vec<TakenAt>,
        watch: &mut Watch<'_>,
    ) -> Option<UsefulExtra> {
        if readings.is_empty() {
            return None;
        }
        let mut covers: Option<FixedBitSet> = None;
        let mut cases = Vec::new();
        for found in self.extras.cases_of(&steps) {
            let (case, covered) =
                trial.with(&steps, found, |trial| self.case(trial, &steps, found, readings.clone(), watch));
            match &mut covers {
                Some(covers) => covers.intersect_with(&covered),
                None => covers = Some(covered),
            }
            if covers.as_ref().is_some_and(FixedBitSet::is_clear) {
                return None;
            }
            cases.push(case);
        }
        Some(UsefulExtra { steps, cases, covers: covers? })
    }

    fn case(
        &mut self,
        trial: &mut ExtraTrial<'s>,
        steps: &[ExtraStep],
        found: Option<u16>,
        readings: Vec<TakenAt>,
        watch: &mut Watch<'_>,
    ) -> (ExtraCase, FixedBitSet) {
        let extras = self.extras;
        let limits = extras.setup.network.limits();
        let choices = extras.choices_of(steps, found);
        let mut testers: BTreeMap<usize, Vec<PairTester>> = BTreeMap::new();
        let mut case = ExtraCase { found, readings: Vec::new(), needs: Vec::new() };
        for at in readings {
            self.readings_left = self.readings_left.saturating_sub(1);
            let targets = self.testers(trial, &choices, &at, &mut testers);
            if !targets.is_empty() {
                case.readings.push(ExtraReading { at, targets });
            }
        }
        let mut covered = FixedBitSet::with_capacity(extras.groups.len());
        if found.is_some() {
            let tested = |&target: &usize| extras.tested_for(steps, found, target).is_some_and(|when| when.is_always());
            covered.extend((0..extras.groups.len()).filter(tested));
        }
        for (target, testers) in testers {
            if covered.contains(target) {
                continue;
            }
            let testers: Vec<&PairTester> = testers.iter().collect();
            let tested_for = extras.tested_for(steps, found, target);
            match settings_of(limits, &choices, &testers, tested_for.as_ref(), watch) {
                Some(tables) if tables.are_all_met => {
                    covered.insert(target);
                    case.needs.extend(tables.elements.into_iter().map(|element| (target, element.holds)));
                }
                Some(_) => {}
                None => self.is_complete = false,
            }
        }
        (case, covered)
    }

    /// Enters what a reading does for targets; tells which.
    fn testers(
        &mut self,
        trial: &mut ExtraTrial<'s>,
        choices: &DeviceChoices,
        at: &TakenAt,
        testers: &mut BTreeMap<usize, Vec<PairTester>>,
    ) -> Vec<usize> {
        let extras = self.extras;
        let probed = trial.read(FreeDevices::These(&choices.variable), &at.leads(extras.setup));
        let mut void = Vec::new();
        for voids in probed.voids() {
            match voids {
                Some(voids) if voids.void.is_always() => return Vec::new(),
                Some(voids) if voids.void.is_never() => {}
                Some(voids) => void.push(voids.void.essential()),
                None => {
                    self.is_complete = false;
                    return Vec::new();
                }
            }
        }
        let void = Rc::new(void);
        let mut targets = Vec::new();
        let is_complete = &mut self.is_complete;
        probed.opposite(
            |group| extras.target(group).is_some() && at.counts_for(extras.setup, group),
            |group, when| {
                let target = extras.target(group).expect("only targets are told");
                let opposite = match when {
                    When::Always => Condition::always(),
                    When::In(when) => when.essential(),
                    When::Large(_) | When::TooLarge => {
                        *is_complete = false;
                        return;
                    }
                };
                targets.push(target);
                testers.entry(target).or_default().push(PairTester { opposite, void: Rc::clone(&void) });
            },
        );
        targets
    }

    fn piece(&self, terminal: TerminalRef) -> u32 {
        self.pieces[self.extras.setup.network.body(terminal) as usize]
    }

    /// All single extras, those of less trouble first.
    fn steps(&self) -> Vec<ExtraStep> {
        let ExtraSetup { setup, request, start, .. } = self.extras;
        let network = setup.network;
        let bridges = 0..network.bridges().len() as BridgeIndex;
        let mut steps: Vec<ExtraStep> =
            bridges.clone().filter_map(|bridge| ExtraStep::lamp(setup, request, bridge)).collect();
        steps.extend(self.points().map(ExtraStep::At));
        steps.extend((0..network.devices().len() as DeviceIndex).filter_map(|device| {
            let DeviceRef::Point(point) = network.devices()[device as usize].reference else { return None };
            let is_unknown = matches!(start.device(device), DeviceState::Unknown(_));
            let may_be = is_unknown && request.may_operate(network.installation(), point);
            may_be.then_some(ExtraStep::FindOut(point, device))
        }));
        steps.extend(bridges.filter_map(|bridge| ExtraStep::unlinked(setup, request, bridge)));
        let of_targets: FxHashSet<u32> = self.wanted.iter().flatten().copied().collect();
        steps.extend(self.links(|piece| of_targets.contains(&piece)));
        steps.extend(self.points().filter_map(|point| ExtraStep::off(setup, request, point)));
        steps
    }

    /// The points that are not locked.
    fn points(&self) -> impl Iterator<Item = PointId> {
        let installation = self.extras.setup.network.installation();
        let request = self.extras.request;
        installation.points().map(|(point, _)| point).filter(move |&point| !request.is_locked(installation, point))
    }

    /// Links between two terminals of one point, one of them in a piece that is asked for. Where two points have the same
    /// copper at theirs, the first will do.
    fn links(&self, is_asked_for: impl Fn(u32) -> bool) -> Vec<ExtraStep> {
        let network = self.extras.setup.network;
        let mut seen: FxHashSet<[Body; 2]> = FxHashSet::default();
        let mut steps = Vec::new();
        for point in self.points() {
            for two in in_twos(&terminals_of(network, point)) {
                let is_wanted = two.iter().any(|&terminal| is_asked_for(self.piece(terminal)));
                if is_wanted && seen.insert(sorted(two.map(|terminal| network.body(terminal)))) {
                    steps.push(ExtraStep::Linked(point, two));
                }
            }
        }
        steps
    }

    /// The readings that could test a target with this extra.
    fn readings(&mut self, step: ExtraStep) -> Vec<TakenAt> {
        match step {
            ExtraStep::At(point) => self.readings_at(point),
            ExtraStep::Fitted(..) | ExtraStep::Linked(..) => self.readings_at_ways(self.joins(step).into_iter()),
            ExtraStep::FindOut(point, _) | ExtraStep::Unlinked(point, _) => {
                self.borne_on(point).into_iter().map(TakenAt::Way).collect()
            }
            ExtraStep::Off(point) => {
                let at_ways = self.borne_on(point).into_iter().map(TakenAt::Way);
                at_ways.chain(self.readings_at(point)).collect()
            }
        }
    }

    /// Those between two terminals of a point, or one and the main earthing terminal.
    fn readings_at(&self, point: PointId) -> Vec<TakenAt> {
        let network = self.extras.setup.network;
        let mut terminals = terminals_of(network, point);
        let earth = network.body(TerminalRef::MainEarth);
        if terminals.iter().all(|&terminal| network.body(terminal) != earth) {
            terminals.push(TerminalRef::MainEarth);
        }
        let is_wanted =
            |two: &[TerminalRef; 2]| self.wanted.contains(&sorted(two.map(|terminal| self.piece(terminal))));
        let two = in_twos(&terminals).filter(is_wanted);
        two.map(|two| TakenAt::Point(two.map(|terminal| vec![terminal]))).collect()
    }

    /// Those at ways, where what an extra joins brings the cores of a target to opposite leads.
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
        let wanted: BTreeSet<[u32; 2]> = stands
            .keys()
            .filter_map(|piece| self.wanted_of.get(piece))
            .flatten()
            .map(|pieces| pieces.map(now))
            .collect();
        let mut numbers: BTreeSet<u32> = BTreeSet::new();
        for [a, b] in wanted {
            // From the side that fewer candidates touch: nearly all of a board's touch its neutral.
            let [on_a, on_b] = [a, b].map(|piece| {
                let joined = stands.iter().filter(|row| *row.1 == piece).map(|row| *row.0);
                let all: BTreeSet<u32> = joined.chain([piece]).collect();
                all.into_iter().filter_map(|piece| self.touching.get(&piece)).collect::<Vec<_>>()
            });
            let count = |lists: &[&Vec<u32>]| lists.iter().map(|list| list.len()).sum::<usize>();
            let near = if count(&on_a) <= count(&on_b) { on_a } else { on_b };
            numbers.extend(near.into_iter().flatten().copied().filter(|&number| {
                let leads = &self.extras.setup.candidates[number as usize].leads.touched;
                let is_on =
                    |lead: usize, piece: u32| leads[lead].iter().any(|&body| now(self.pieces[body as usize]) == piece);
                (is_on(0, a) && is_on(1, b)) || (is_on(0, b) && is_on(1, a))
            }));
        }
        numbers.into_iter().map(TakenAt::Way).collect()
    }

    /// The candidates that what a point holds bears on, and those for the same targets.
    fn borne_on(&mut self, point: PointId) -> Vec<u32> {
        if self.bearing.is_none() {
            self.bearing = Some(self.all_bearing());
        }
        self.bearing.as_ref().and_then(|bearing| bearing.get(&point)).cloned().unwrap_or_default()
    }

    fn all_bearing(&mut self) -> FxHashMap<PointId, Vec<u32>> {
        let network = self.extras.setup.network;
        let mut trial = self.extras.trial();
        // For the pieces of targets, the candidates with leads on both.
        let mut readings_for: BTreeMap<[u32; 2], Vec<u32>> = BTreeMap::new();
        let mut points: FxHashMap<PointId, BTreeSet<[u32; 2]>> = FxHashMap::default();
        for (number, candidate) in self.extras.setup.candidates.iter().enumerate() {
            let [one, other] = &candidate.leads.touched;
            let twos = one.iter().flat_map(|&one| other.iter().map(move |&other| [one, other]));
            let pieces: BTreeSet<[u32; 2]> = twos
                .map(|bodies| sorted(bodies.map(|body| self.pieces[body as usize])))
                .filter(|pieces| self.wanted.contains(pieces))
                .collect();
            if pieces.is_empty() {
                continue;
            }
            pieces.iter().for_each(|&pieces| readings_for.entry(pieces).or_default().push(number as u32));
            self.readings_left = self.readings_left.saturating_sub(1);
            let probed = trial.read(FreeDevices::These(&self.extras.choices.variable), &candidate.leads);
            for body in probed.touched() {
                for point in points_at(network, body) {
                    points.entry(point).or_default().extend(&pieces);
                }
            }
        }
        let readings = |pieces: BTreeSet<[u32; 2]>| {
            let all: BTreeSet<u32> = pieces.iter().flat_map(|pieces| &readings_for[pieces]).copied().collect();
            all.into_iter().collect()
        };
        points.into_iter().map(|(point, pieces)| (point, readings(pieces))).collect()
    }
}

/// The points with a contact or a bridge on a body.
fn points_at(network: &Network, body: Body) -> impl Iterator<Item = PointId> {
    let devices = network.contacts_at(body).iter().filter_map(|&contact| {
        let device = network.contacts()[contact as usize].device;
        let DeviceRef::Point(point) = network.devices()[device as usize].reference else { return None };
        Some(point)
    });
    let holders = network.edges_at(body).filter_map(|(_, edge)| {
        let Edge::Bridge { bridge, .. } = edge else { return None };
        let BridgeRef::Point(point) = network.bridges()[bridge as usize].reference else { return None };
        Some(point)
    });
    devices.chain(holders)
}

fn sorted(mut two: [u32; 2]) -> [u32; 2] {
    two.sort_unstable();
    two
}

fn in_twos<T: Copy>(all: &[T]) -> impl Iterator<Item = [T; 2]> {
    all.iter().enumerate().flat_map(|(number, &one)| all[number + 1..].iter().map(move |&other| [one, other]))
}
