//! The rounds of a plan: what is operated, what is read, and in which order.

use fixedbitset::FixedBitSet;

use crate::model::{LocationId, Metres, PointId, Stop};
use crate::network::DeviceIndex;
use crate::observer::Watch;
use crate::plan::answer::{Operation, Round, WalkLength};
use crate::plan::naming::Naming;
use crate::plan::problem::remaining::Remaining;
use crate::plan::request::{Afterwards, LeadJoining, Request, SwitchWork};
use crate::plan::schedule::compose::Schedule;
use crate::plan::schedule::operations::{last_of_each, moved, operations, operations_in_order};
use crate::plan::schedule::readings::selection::{SelectedRound, Selection, Trial, Untested, select_readings};
use crate::plan::schedule::readings::visits::keep_fewest_visits;
use crate::plan::schedule::tour::distances::Distances;
use crate::plan::schedule::tour::home::{home, only_home, start_of_way};
use crate::plan::schedule::tour::search::Micrometres;
use crate::reading::Configuration;

/// The rounds, and what they leave.
pub(in crate::plan) struct PlannedRounds {
    pub(in crate::plan) rounds: Vec<Round>,
    /// How devices stand after the last.
    pub(in crate::plan) configuration: Configuration,
    /// Pair groups tested by the test set and the rounds together, and what is asked of switches that the rounds do.
    pub(in crate::plan) tested: FixedBitSet,
    /// What they leave.
    pub(in crate::plan) untested: Untested,
    /// A pair group that the rounds test but every reading as things stand does not.
    pub(in crate::plan) left_at_start: Option<u32>,
    /// How many readings there would be if leads were joined as usual.
    pub(in crate::plan) usual_readings: usize,
}

impl PlannedRounds {
    /// The rounds that do what the clusters do in each walk, with the fewest readings found.
    pub(in crate::plan) fn of(
        remaining: &Remaining<'_>,
        schedule: &Schedule,
        distances: &Distances<'_>,
        request: &Request,
        watch: &mut Watch<'_>,
    ) -> PlannedRounds {
        let setup = &remaining.setup;
        let mut trials = trials(remaining, schedule);
        keep_fewest_visits(remaining, &mut trials, request);
        let selection = select_readings(remaining, &trials, request.joining, watch);
        let mut going = Going {
            remaining,
            distances,
            configuration: setup.start.clone(),
            pending: Vec::new(),
            last_home: only_home(setup.network.installation(), &setup.candidates),
            is_joined: request.joining == LeadJoining::Fewest,
            one_way: schedule.one_way.is_some(),
            here: start_of_way(setup.network.installation(), &setup.candidates)
                .filter(|_| schedule.one_way.as_ref().is_some_and(|way| way.length.is_some())),
            rounds: Vec::new(),
        };
        for (trial, selected) in trials.iter().zip(selection.rounds) {
            going.operate_later(&trial.changes);
            // What is operated for no reading is left to the round that reads next, unless it is asked for itself.
            let is_asked_for = request.switches == SwitchWork::Each && !trial.changes.is_empty();
            if !selected.readings.is_empty() || is_asked_for {
                going.add(selected, watch);
            }
        }
        if request.afterwards == Afterwards::AsFound {
            going.put_back(watch);
        }
        let Going { rounds, configuration, .. } = going;
        let Selection { usual_count: usual_readings, tested, untested, left_at_start, .. } = selection;
        PlannedRounds { rounds, configuration, tested, untested, left_at_start, usual_readings }
    }
}

/// The rounds on trial: as things stand, then each walk with all readings that bear on what it operates.
fn trials(remaining: &Remaining<'_>, schedule: &Schedule) -> Vec<Trial> {
    let all = (0..remaining.setup.candidates.len() as u32).collect();
    let mut trials = vec![Trial { changes: Vec::new(), candidates: all, set_aside: Vec::new() }];
    for walk in &schedule.walks {
        let readings = walk.groups.iter().flat_map(|&group| remaining.readings.at(group));
        let mut candidates: Vec<u32> = readings.copied().collect();
        candidates.sort_unstable();
        candidates.dedup();
        trials.push(Trial { changes: walk.changes.clone(), candidates, set_aside: Vec::new() });
    }
    trials
}

/// The rounds so far, and how things stand after them.
struct Going<'r, 'n> {
    remaining: &'r Remaining<'n>,
    distances: &'r Distances<'r>,
    configuration: Configuration,
    /// Changes that are left to the next round.
    pending: Vec<(DeviceIndex, u16)>,
    /// Where the last round was walked from; before the first, where the only board is. A round without a reading is
    /// walked from there.
    last_home: Option<LocationId>,
    /// Leads may be joined otherwise.
    is_joined: bool,
    /// For two people: operations are in the order of one way.
    one_way: bool,
    /// And where on it, if the passages tell how far it is.
    here: Option<LocationId>,
    rounds: Vec<Round>,
}

impl Going<'_, '_> {
    fn operate_later(&mut self, changes: &[(DeviceIndex, u16)]) {
        self.pending = last_of_each(self.pending.iter().chain(changes).copied());
    }

    /// A round with these readings, and the operations left to it.
    fn add(&mut self, selected: SelectedRound, watch: &mut Watch<'_>) {
        let changes = std::mem::take(&mut self.pending);
        let operations = self.operations(&changes);
        if !operations.is_empty() || !selected.readings.is_empty() {
            self.push(operations, selected, watch);
        }
    }

    /// A last round that puts everything back as the plan found it.
    fn put_back(&mut self, watch: &mut Watch<'_>) {
        let mut changes = moved(&self.remaining.setup.choices, &self.configuration);
        let rank = |device: DeviceIndex| self.pending.iter().position(|change| change.0 == device);
        changes.sort_by_key(|change| rank(change.0).unwrap_or(usize::MAX));
        let operations = self.operations(&changes);
        if !operations.is_empty() {
            self.push(operations, SelectedRound::without_readings(self.is_joined.then_some(true)), watch);
        }
    }

    fn operations(&mut self, changes: &[(DeviceIndex, u16)]) -> Vec<(PointId, Operation)> {
        let setup = &self.remaining.setup;
        let of = if self.one_way { operations_in_order } else { operations };
        of(setup.network, &setup.choices, &mut self.configuration, changes)
    }

    /// How far it is on the one way past these operations.
    fn go_on(&mut self, operations: &[(PointId, Operation)]) -> Option<WalkLength> {
        let installation = self.remaining.setup.network.installation();
        let places = operations.iter().map(|row| installation.point(row.0).location());
        let way: Vec<LocationId> = std::iter::once(self.here).chain(places).collect::<Option<_>>()?;
        let legs = way.windows(2).map(|leg| Some(self.distances.between(leg)?[0][1]));
        let metres = Metres(legs.sum::<Option<Micrometres>>()? as f64 / 1e6);
        self.here = way.last().copied();
        (way.len() > 1).then_some(WalkLength { metres, at_least: None, shortest: false })
    }

    fn push(&mut self, mut operations: Vec<(PointId, Operation)>, mut selected: SelectedRound, watch: &mut Watch<'_>) {
        let setup = &self.remaining.setup;
        let naming = Naming { network: setup.network, choices: &setup.choices };
        self.last_home = home(setup.network.installation(), &selected.readings).or(self.last_home);
        let mut sources = self.sources(&selected);
        let walk = loop {
            let is_walked = !operations.is_empty() || !sources.is_empty();
            let home = self.last_home.filter(|_| is_walked && !self.one_way);
            let walk = self.distances.order(home, &mut operations, &mut sources, setup.limits(), watch);
            let rank = |point: PointId| sources.iter().position(|&other| other == point).unwrap_or(usize::MAX);
            selected.order(self.remaining, rank);
            // In another order a reading may add nothing, and its stop be left out.
            let left = self.sources(&selected);
            if left.len() == sources.len() {
                break walk;
            }
            sources = left;
        };
        let walk = if self.one_way { self.go_on(&operations) } else { walk };
        self.rounds.push(Round {
            operations: operations.into_iter().map(|(_, operation)| operation).collect(),
            readings: selected.readings.iter().map(|chosen| naming.reading(chosen)).collect(),
            walk,
            fewest_readings: selected.is_fewest,
        });
    }

    /// The sources that are read at, stop by stop, each stop where its first comes in the file.
    fn sources(&self, selected: &SelectedRound) -> Vec<PointId> {
        let installation = self.remaining.setup.network.installation();
        let mut sources: Vec<PointId> = selected.readings.iter().filter_map(|chosen| chosen.at).collect();
        sources.sort_unstable();
        sources.dedup();
        let stop = |point: PointId| Stop::of(installation, point);
        let all = sources.clone();
        sources.sort_by_key(|&point| (all.iter().position(|&first| stop(first) == stop(point)), point));
        sources
    }
}
