//! The fewest operations, then the fewest stops, of a cluster within a number of walks.
//!
//! A* over (setting, requirements met, walks done, last device operated in this walk). A move operates one device; the
//! devices are sorted by stop and each walk operates them in that order, so that a new stop is known from the last
//! device alone and no walk is tried in two orders. Taking the readings ends a walk and costs nothing. The estimate of
//! what is still to do sums, over open requirements that depend on no common device, how many operations the nearest
//! setting is away in which each holds; and counts the open requirements that exclude one another, each of which needs
//! a walk of its own with a stop at least. These are lower bounds, so the first goal met is the least (Hart, Nilsson
//! and Raphael 1968).

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use fixedbitset::FixedBitSet;
use rustc_hash::FxHashMap;

use crate::observer::Watch;
use crate::plan::limits::PlanLimits;
use crate::plan::problem::cluster::Cluster;
use crate::plan::request::{Afterwards, People, Priority, Request};
use crate::plan::solve::away::{disjoint, distances, stop_distances};
use crate::plan::solve::engine::{ClusterStep, ClusterWay, Cost, StepOrders};
use crate::plan::solve::settings_search::SettingsSearch;

/// A plan found: the setting at the end of each walk.
#[derive(Clone, Debug)]
pub(in crate::plan) struct WalkPlan {
    pub(in crate::plan) settings: Vec<usize>,
    pub(in crate::plan) cost: Cost,
    /// No plan within as many walks costs less, each for itself.
    pub(in crate::plan) at_least: Cost,
}

/// What a search found.
pub(in crate::plan) enum FoundWalks {
    Plan(WalkPlan),
    /// No order of that many walks does it.
    Impossible,
    /// The budget ran out; no plan costs less than this, each for itself.
    GaveUp {
        at_least: Cost,
    },
}

const NOT_YET: u8 = u8::MAX;

#[derive(Clone, Copy, PartialEq, Eq, Hash)]
struct WalkState {
    setting: u32,
    met: u32,
    walks: u16,
    last: u8,
}

pub(in crate::plan) struct WalkSearch<'c> {
    cluster: &'c Cluster,
    exclusion: SettingsSearch<'c>,
    first: Priority,
    /// Whether everything is put back in the end.
    returns: bool,
    /// What a walk counts: nothing, for two people.
    walk: u16,
    /// For each requirement, for each setting, how many operations away it holds; there and back, where everything is
    /// put back.
    away: Vec<Vec<u8>>,
    /// The same in stops; only where that is searched for first, or everything is put back.
    stops_away: Vec<Vec<u8>>,
    /// For each requirement, bit s: it depends on a device at the cluster's stop number s.
    stops_of: Vec<u64>,
    /// For each device, the number of its stop among the cluster's stops.
    stop_numbers: Vec<u8>,
    /// Sets of requirements met, numbered.
    sets: Vec<FixedBitSet>,
    number_of: FxHashMap<FixedBitSet, u32>,
    met_in: FxHashMap<usize, FixedBitSet>,
    /// For each numbered set: open requirements no two of which hold in one setting.
    exclusive: FxHashMap<u32, Vec<usize>>,
    limits: &'c PlanLimits,
    /// Requirements that the search may look at, over all nodes it opens, before it gives up the proof.
    budget: usize,
    spent: usize,
}

impl<'c> WalkSearch<'c> {
    pub(in crate::plan) fn new(cluster: &'c Cluster, request: &Request, limits: &'c PlanLimits) -> WalkSearch<'c> {
        let returns = request.afterwards == Afterwards::AsFound;
        let rows = 0..cluster.requirements.len();
        let away = rows.clone().map(|row| distances(cluster, row, returns)).collect();
        let mut stop_numbers: Vec<u8> = Vec::with_capacity(cluster.devices.len());
        for (number, device) in cluster.devices.iter().enumerate() {
            let before = stop_numbers.last().copied().unwrap_or(0);
            let is_new = number > 0 && cluster.devices[number - 1].stop != device.stop;
            stop_numbers.push(before + u8::from(is_new));
        }
        let stops_of = rows
            .clone()
            .map(|row| {
                let devices = cluster.requirements[row].devices;
                let numbers = stop_numbers.iter().enumerate().filter(|(device, _)| devices >> device & 1 == 1);
                numbers.fold(0u64, |mask, (_, &number)| mask | 1 << number)
            })
            .collect();
        // Where neither is asked for, the walks still to begin are estimate enough, and settle which of equal plans is
        // found.
        let stops_away = if returns || request.priority == Priority::Stops {
            rows.map(|row| stop_distances(cluster, row, returns)).collect()
        } else {
            Vec::new()
        };
        let none = FixedBitSet::with_capacity(cluster.requirements.len());
        WalkSearch {
            cluster,
            exclusion: SettingsSearch::new(cluster, limits),
            first: request.priority,
            returns,
            walk: u16::from(request.people == People::One),
            away,
            stops_away,
            stops_of,
            stop_numbers,
            number_of: FxHashMap::from_iter([(none.clone(), 0)]),
            sets: vec![none],
            met_in: FxHashMap::default(),
            exclusive: FxHashMap::default(),
            limits,
            budget: limits.operation_steps,
            spent: 0,
        }
    }

    /// The same search with so many requirements to look at.
    pub(in crate::plan) fn with_budget(self, budget: usize) -> WalkSearch<'c> {
        WalkSearch { budget, ..self }
    }

    /// Requirements that the search looked at.
    pub(in crate::plan) fn spent(&self) -> usize {
        self.spent
    }

    /// Of these requirements some that depend on no common device, greedily the farthest, each with the operations that
    /// lie between the start and the nearest setting in which it holds; there and back, where everything is put back.
    pub(in crate::plan) fn apart(&self, rows: impl Iterator<Item = usize>) -> Vec<(usize, usize)> {
        let far = rows.map(|row| (self.away[row][self.cluster.start], row)).collect();
        let (apart, _) = disjoint(far, |row| self.cluster.requirements[row].devices);
        apart.into_iter().map(|(distance, row)| (row, usize::from(distance))).collect()
    }

    /// Stops that no plan does without: those between the start and settings in which requirements hold that depend on
    /// no common stop.
    fn stops_at_least(&self) -> u32 {
        let rows = 0..self.cluster.requirements.len();
        let far = rows.map(|row| (stop_distances(self.cluster, row, self.returns)[self.cluster.start], row)).collect();
        let (apart, _) = disjoint(far, |row| self.stops_of[row]);
        apart.iter().map(|&(distance, _)| u32::from(distance)).sum()
    }

    fn number(&mut self, set: FixedBitSet) -> u32 {
        if let Some(&number) = self.number_of.get(&set) {
            return number;
        }
        let number = self.sets.len() as u32;
        self.sets.push(set.clone());
        self.number_of.insert(set, number);
        number
    }

    fn met_in(&mut self, setting: usize) -> &FixedBitSet {
        let cluster = self.cluster;
        self.met_in.entry(setting).or_insert_with(|| cluster.met_in(setting))
    }

    /// Lower bounds on the operations still to make and the stops still to visit; none where the walks do not suffice.
    fn estimate(&mut self, state: WalkState, walks: usize) -> Option<Cost> {
        let under_way = state.last != NOT_YET;
        let left = if self.walk == 0 { usize::MAX } else { walks - usize::from(state.walks) };
        let met = &self.sets[state.met as usize];
        if met.is_full() {
            if !self.returns {
                return Some(Cost::default());
            }
            let back = self.way_back(state, 0, 0);
            return (back.operations == 0 || left > 0).then_some(back);
        }
        if !self.exclusive.contains_key(&state.met) {
            let mut open = met.clone();
            open.toggle_range(..);
            let clique = self.exclusion.exclusive(&open);
            self.exclusive.insert(state.met, clique);
        }
        let clique = &self.exclusive[&state.met];
        // Where everything is put back, the last walk meets nothing: every requirement fails at the start.
        let left = left.saturating_sub(usize::from(self.returns));
        // A walk under way is still to be read, and meets one of the clique at most.
        if clique.len() > left {
            return None;
        }
        let walks_to_begin =
            (clique.len() - usize::from(under_way).min(clique.len()) + usize::from(self.returns)) as u32;
        let setting = state.setting as usize;
        if left == 0 || (left == 1 && under_way && state.last as usize + 1 == self.cluster.devices.len()) {
            // Nothing more can be operated: what is open must hold here, once read.
            if left == 0 || met.zeroes().any(|row| !self.cluster.holds(row, setting)) {
                return None;
            }
        }
        let far = met.zeroes().map(|row| (self.away[row][setting], row)).collect();
        let (rows, used) = disjoint(far, |row| self.cluster.requirements[row].devices);
        let apart = rows.iter().map(|&(distance, _)| u32::from(distance)).sum();
        // Each walk still to begin has an operation at a stop at least.
        let mut least = Cost { operations: walks_to_begin.max(apart), stops: walks_to_begin };
        if self.returns || self.first == Priority::Stops {
            let far = met.zeroes().map(|row| (self.stops_away[row][setting], row)).collect();
            let (rows, used_stops) = disjoint(far, |row| self.stops_of[row]);
            let mut stops = rows.iter().map(|&(distance, _)| u32::from(distance)).sum::<u32>();
            if self.returns {
                let back = self.way_back(state, used, used_stops);
                least.operations = walks_to_begin.max(apart + back.operations);
                stops += back.stops;
            }
            // The stop of a walk under way is counted already.
            least.stops = walks_to_begin.max(stops.saturating_sub(u32::from(under_way)));
        }
        Some(least)
    }

    /// What it takes to put back the devices and stops that are not `used`, from a setting. (Of a walk under way, the
    /// present stop may be counted: then one stop less is sure.)
    fn way_back(&self, state: WalkState, used: u64, used_stops: u64) -> Cost {
        let (setting, start) = (state.setting as usize, self.cluster.start);
        let mut operations = 0;
        let mut stops = 0u64;
        for device in 0..self.cluster.devices.len() {
            if self.cluster.option(setting, device) != self.cluster.option(start, device) {
                operations += u32::from(used >> device & 1 == 0);
                stops |= 1 << self.stop_numbers[device];
            }
        }
        let mut stops = (stops & !used_stops).count_ones();
        if used_stops == 0 && state.last != NOT_YET {
            stops = stops.saturating_sub(1);
        }
        Cost { operations, stops }
    }

    /// Whether a state between walks is the end: everything is met, and put back where that is asked for.
    fn is_end(&self, state: WalkState) -> bool {
        state.last == NOT_YET
            && self.sets[state.met as usize].is_full()
            && (!self.returns || state.setting as usize == self.cluster.start)
    }

    /// The plan within `walks` walks that costs least.
    pub(in crate::plan) fn run(&mut self, walks: usize, watch: &mut Watch<'_>) -> FoundWalks {
        let first = self.first;
        let start = WalkState { setting: self.cluster.start as u32, met: 0, walks: 0, last: NOT_YET };
        let mut best: FxHashMap<WalkState, Cost> = FxHashMap::default();
        let mut before: FxHashMap<WalkState, WalkState> = FxHashMap::default();
        let mut queue = BinaryHeap::new();
        let mut order = 0u64;
        let Some(estimate) = self.estimate(start, walks) else { return FoundWalks::Impossible };
        if walks > usize::from(self.limits.walks) {
            return FoundWalks::GaveUp { at_least: estimate };
        }
        best.insert(start, Cost::default());
        queue.push(Reverse((estimate.by(first), Reverse(0u32), 0u64, QueueEntry(start, Cost::default()))));
        self.spent = 0;
        while let Some(Reverse((total, _, _, QueueEntry(state, cost)))) = queue.pop() {
            if best[&state] != cost {
                continue;
            }
            if self.is_end(state) {
                return FoundWalks::Plan(self.plan(state, &before, cost, estimate));
            }
            self.spent += self.cluster.requirements.len();
            if self.spent > self.budget || !watch.goes_on() {
                let at_least = match first {
                    Priority::Operations => Cost { operations: total.0, ..estimate },
                    Priority::Stops => Cost { stops: total.0, ..estimate },
                };
                return FoundWalks::GaveUp { at_least };
            }
            let mut moves: Vec<(WalkState, Cost)> = Vec::new();
            if state.last != NOT_YET {
                let mut met = self.sets[state.met as usize].clone();
                met.union_with(self.met_in(state.setting as usize));
                let number = self.number(met);
                let next =
                    WalkState { setting: state.setting, met: number, walks: state.walks + self.walk, last: NOT_YET };
                // A walk whose readings add nothing can be left out, but for the one that puts everything back.
                if number != state.met || (self.returns && self.is_end(next)) {
                    moves.push((next, cost));
                }
            }
            if usize::from(state.walks) < walks {
                let from = if state.last == NOT_YET { 0 } else { usize::from(state.last) + 1 };
                for device in from..self.cluster.devices.len() {
                    let stop = self.cluster.devices[device].stop;
                    let same_stop = state.last != NOT_YET && self.cluster.devices[usize::from(state.last)].stop == stop;
                    let more = Cost { operations: 1, stops: u32::from(!same_stop) };
                    for setting in self.cluster.neighbours(state.setting as usize, device) {
                        moves
                            .push((WalkState { setting: setting as u32, last: device as u8, ..state }, cost.and(more)));
                    }
                }
            }
            for (next, cost) in moves {
                if best.get(&next).is_some_and(|known| known.by(first) <= cost.by(first)) {
                    continue;
                }
                let Some(estimate) = self.estimate(next, walks) else { continue };
                best.insert(next, cost);
                before.insert(next, state);
                order += 1;
                queue.push(Reverse((
                    cost.and(estimate).by(first),
                    Reverse(cost.by(first).0),
                    order,
                    QueueEntry(next, cost),
                )));
            }
        }
        FoundWalks::Impossible
    }

    fn plan(&self, goal: WalkState, before: &FxHashMap<WalkState, WalkState>, cost: Cost, estimate: Cost) -> WalkPlan {
        let mut settings = Vec::new();
        let mut at = goal;
        while let Some(&previous) = before.get(&at) {
            if at.last == NOT_YET {
                settings.push(at.setting as usize);
            }
            at = previous;
        }
        settings.reverse();
        // What decides between equals only could be less where the other is more.
        let at_least = match self.first {
            Priority::Operations if estimate.stops == cost.stops => cost,
            Priority::Operations => {
                Cost { operations: cost.operations, stops: estimate.stops.max(self.stops_at_least()) }
            }
            Priority::Stops => Cost { stops: cost.stops, ..estimate },
        };
        WalkPlan { settings, cost, at_least }
    }

    /// Every order of exactly the fewest operations, read after each of them, for two people. None where there are more
    /// than can be listed.
    pub(in crate::plan) fn steps(&mut self, operations: u32, watch: &mut Watch<'_>) -> Option<StepOrders> {
        let mut states = vec![WalkState { setting: self.cluster.start as u32, met: 0, walks: 0, last: NOT_YET }];
        let mut after: Vec<Vec<ClusterStep>> = Vec::new();
        let mut ends: Vec<bool> = Vec::new();
        let mut layer = 0;
        for done in 0..=operations {
            let next_layer = states.len();
            let mut numbers: FxHashMap<WalkState, usize> = FxHashMap::default();
            for number in layer..next_layer {
                let state = states[number];
                ends.push(done == operations && self.is_end(state));
                let mut steps = Vec::new();
                for device in 0..self.cluster.devices.len() {
                    if done == operations {
                        break;
                    }
                    let row = &self.cluster.devices[device];
                    for setting in self.cluster.neighbours(state.setting as usize, device).collect::<Vec<_>>() {
                        let mut met = self.sets[state.met as usize].clone();
                        met.union_with(self.met_in(setting));
                        let next = WalkState { setting: setting as u32, met: self.number(met), ..state };
                        let still = self.estimate(next, 0)?;
                        if done + 1 + still.operations > operations {
                            continue;
                        }
                        let next = *numbers.entry(next).or_insert_with(|| {
                            states.push(next);
                            states.len() - 1
                        });
                        let option = self.cluster.option(setting, device);
                        steps.push(ClusterStep { device: row.device, option, stop: row.stop, next });
                    }
                }
                after.push(steps);
                if states.len() > self.limits.sharing_nodes || !watch.goes_on() {
                    return None;
                }
            }
            layer = next_layer;
        }
        // What leads nowhere with so many is left out: the last first.
        let mut leads_on = ends;
        for number in (0..after.len()).rev() {
            after[number].retain(|step| leads_on[step.next]);
            leads_on[number] |= !after[number].is_empty();
        }
        Some(StepOrders { after, are_all: true })
    }

    /// Every way to spend exactly the fewest operations, by the (walk, stop) visited, but for those that visit the same
    /// as another and more; where stops come first, those only with the fewest stops.
    ///
    /// None where there are more than can be listed.
    pub(in crate::plan) fn equal_ways(
        &mut self,
        walks: usize,
        cost: Cost,
        watch: &mut Watch<'_>,
    ) -> Option<Vec<ClusterWay>> {
        let most = match self.first {
            Priority::Operations => Cost { stops: u32::MAX, ..cost },
            Priority::Stops => cost,
        };
        let mut listing = Listing { walks, most, ways: FxHashMap::default(), nodes: 0, watch };
        let start = WalkState { setting: self.cluster.start as u32, met: 0, walks: 0, last: NOT_YET };
        if !self.list(&mut listing, start, 0, &mut Vec::new(), &mut Vec::new()) {
            return None;
        }
        let mut ways: Vec<ListedWay> = listing.ways.into_iter().collect();
        ways.sort_by(|a, b| (a.0.len(), &a.0).cmp(&(b.0.len(), &b.0)));
        // A way whose visits contain another's is never better.
        let mut kept: Vec<ListedWay> = Vec::new();
        for way in ways {
            if !kept.iter().any(|small| small.0.iter().all(|visit| way.0.contains(visit))) {
                kept.push(way);
            }
        }
        let way = |(_, settings): (_, Vec<Option<usize>>)| {
            let options = |setting: Option<usize>| setting.map(|setting| self.cluster.options(setting));
            let settings: Vec<Option<Vec<u16>>> = settings.into_iter().map(options).collect();
            ClusterWay::through(&self.cluster.devices, settings.iter().map(Option::as_deref))
        };
        Some(kept.into_iter().map(way).collect())
    }

    fn list(
        &mut self,
        listing: &mut Listing<'_, '_>,
        state: WalkState,
        spent: u32,
        visits: &mut Vec<(u16, u32)>,
        settings: &mut Vec<Option<usize>>,
    ) -> bool {
        listing.nodes += 1;
        if listing.nodes > self.limits.sharing_nodes
            || listing.ways.len() > self.limits.sharing_ways
            || !listing.watch.goes_on()
        {
            return false;
        }
        if self.is_end(state) {
            let mut key = visits.clone();
            key.sort_unstable();
            let mut all = settings.clone();
            all.resize(listing.walks, None);
            listing.ways.entry(key).or_insert(all);
            return true;
        }
        let so_far = Cost { operations: spent, stops: visits.len() as u32 };
        let Some(least) = self.estimate(state, listing.walks).map(|more| so_far.and(more)) else { return true };
        if least.operations > listing.most.operations || least.stops > listing.most.stops {
            return true;
        }
        let mut complete = true;
        if state.last == NOT_YET {
            // Nothing of this cluster need be operated in a walk.
            if usize::from(state.walks) + 1 < listing.walks {
                settings.push(None);
                complete &= self.list(listing, WalkState { walks: state.walks + 1, ..state }, spent, visits, settings);
                settings.pop();
            }
        } else {
            let mut met = self.sets[state.met as usize].clone();
            met.union_with(self.met_in(state.setting as usize));
            let number = self.number(met);
            // A walk that completes nothing for this cluster may still be the one that another visits the same stops
            // in.
            settings.push(Some(state.setting as usize));
            let next = WalkState { met: number, walks: state.walks + 1, last: NOT_YET, ..state };
            complete &= self.list(listing, next, spent, visits, settings);
            settings.pop();
        }
        if usize::from(state.walks) < listing.walks && spent < listing.most.operations {
            let first = if state.last == NOT_YET { 0 } else { usize::from(state.last) + 1 };
            for device in first..self.cluster.devices.len() {
                let visit = (state.walks, self.cluster.devices[device].stop);
                let new = !visits.contains(&visit);
                if new {
                    visits.push(visit);
                }
                let neighbours: Vec<usize> = self.cluster.neighbours(state.setting as usize, device).collect();
                for setting in neighbours {
                    let next = WalkState { setting: setting as u32, last: device as u8, ..state };
                    complete &= self.list(listing, next, spent + 1, visits, settings);
                    if !complete {
                        return false;
                    }
                }
                if new {
                    visits.pop();
                }
            }
        }
        complete
    }
}

/// The stops of a way, each with its walk.
type Visits = Vec<(u16, u32)>;

/// A way with its settings: none in a walk that it does not move in.
type ListedWay = (Visits, Vec<Option<usize>>);

struct Listing<'w, 'o> {
    walks: usize,
    most: Cost,
    /// The setting after each walk, none where nothing is operated in it; by what is visited.
    ways: FxHashMap<Visits, Vec<Option<usize>>>,
    nodes: usize,
    watch: &'w mut Watch<'o>,
}

/// A state and the cost of the way to it, which take no part in the order of the queue.
struct QueueEntry(WalkState, Cost);

impl PartialEq for QueueEntry {
    fn eq(&self, _: &QueueEntry) -> bool {
        true
    }
}

impl Eq for QueueEntry {}

impl PartialOrd for QueueEntry {
    fn partial_cmp(&self, other: &QueueEntry) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for QueueEntry {
    fn cmp(&self, _: &QueueEntry) -> std::cmp::Ordering {
        std::cmp::Ordering::Equal
    }
}
