//! The fewest operations, then the fewest stops, of a cluster within a number of walks.
//!
//! A* over (setting, requirements met, walks done, last device operated in this walk). A move operates one device; the
//! devices are sorted by stop and each walk operates them in that order, so that a new stop is known from the last
//! device alone and no walk is tried in two orders. Taking the readings ends a walk and costs nothing. The estimate of
//! what is still to do sums, over open requirements that depend on no common device, how many operations the nearest
//! setting is away in which each holds; and counts the open requirements that exclude one another, each of which needs
//! a walk of its own with a stop at least. These are lower bounds, so the first goal met is the least (Hart, Nilsson and Raphael 1968).

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use fixedbitset::FixedBitSet;
use rustc_hash::FxHashMap;

use super::cluster::Cluster;
use super::observer::Watch;
use super::settings_search::SettingsSearch;

/// Requirements that a search may look at, over all nodes it opens, before it gives up the proof. A count, not a time,
/// so that answers are repeatable.
const BUDGET: usize = 12_000_000;

/// More walks than this are not searched: their number has to fit the state.
const MOST_WALKS: usize = 250;

/// A cluster's part of a plan: the setting at the end of each of its walks.
#[derive(Clone, Debug)]
pub(super) struct WalkPlan {
    pub(super) settings: Vec<usize>,
    pub(super) operations: usize,
    /// No plan within as many walks has fewer operations.
    pub(super) operations_at_least: usize,
    /// No plan within as many walks and with as few operations has fewer stops.
    pub(super) stops_proven: bool,
}

/// What a search found.
pub(super) enum Found {
    Plan(WalkPlan),
    /// No order of that many walks does it.
    Impossible,
    /// The budget ran out; no plan has fewer operations than this.
    GaveUp {
        operations_at_least: usize,
    },
}

const NOT_YET: u8 = u8::MAX;

#[derive(Clone, Copy, PartialEq, Eq, Hash)]
struct State {
    setting: u32,
    met: u32,
    walks: u8,
    last: u8,
}

pub(super) struct WalkSearch<'c> {
    cluster: &'c Cluster,
    exclusion: SettingsSearch<'c>,
    /// For each requirement, for each setting, how many operations away it holds.
    away: Vec<Vec<u8>>,
    /// Sets of requirements met, numbered.
    sets: Vec<FixedBitSet>,
    number_of: FxHashMap<FixedBitSet, u32>,
    met_in: FxHashMap<usize, FixedBitSet>,
    /// For each numbered set: open requirements no two of which hold in one setting.
    exclusive: FxHashMap<u32, Vec<usize>>,
}

impl<'c> WalkSearch<'c> {
    pub(super) fn new(cluster: &'c Cluster) -> WalkSearch<'c> {
        let away = (0..cluster.requirements.len()).map(|requirement| distances(cluster, requirement)).collect();
        let none = FixedBitSet::with_capacity(cluster.requirements.len());
        WalkSearch {
            cluster,
            exclusion: SettingsSearch::new(cluster),
            away,
            number_of: FxHashMap::from_iter([(none.clone(), 0)]),
            sets: vec![none],
            met_in: FxHashMap::default(),
            exclusive: FxHashMap::default(),
        }
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
    fn estimate(&mut self, state: State, walks: usize) -> Option<(usize, usize)> {
        let met = &self.sets[state.met as usize];
        if met.is_full() {
            return Some((0, 0));
        }
        if !self.exclusive.contains_key(&state.met) {
            let mut open = met.clone();
            open.toggle_range(..);
            let clique = self.exclusion.exclusive(&open);
            self.exclusive.insert(state.met, clique);
        }
        let clique = &self.exclusive[&state.met];
        let under_way = state.last != NOT_YET;
        let left = walks - usize::from(state.walks);
        // A walk under way is still to be read, and meets one of the clique at most.
        if clique.len() > left {
            return None;
        }
        let walks_to_begin = clique.len() - usize::from(under_way).min(clique.len());
        let setting = state.setting as usize;
        let mut far: Vec<(u8, usize)> = met.zeroes().map(|row| (self.away[row][setting], row)).collect();
        if left == 0 || (left == 1 && under_way && state.last as usize + 1 == self.cluster.devices.len()) {
            // Nothing more can be operated: what is open must hold here, once read.
            if left == 0 || far.iter().any(|&(distance, _)| distance > 0) {
                return None;
            }
        }
        far.sort_unstable_by_key(|&(distance, row)| (Reverse(distance), row));
        let mut used = 0u64;
        let mut apart = 0;
        for (distance, row) in far {
            let devices = self.cluster.requirements[row].devices;
            if devices & used == 0 {
                used |= devices;
                apart += usize::from(distance);
            }
        }
        // Each walk still to begin has an operation at a stop at least.
        Some((walks_to_begin.max(apart), walks_to_begin))
    }

    /// The fewest operations, then stops, within `walks` walks.
    pub(super) fn run(&mut self, walks: usize, watch: &mut Watch<'_>) -> Found {
        let start = State { setting: self.cluster.start as u32, met: 0, walks: 0, last: NOT_YET };
        let mut best: FxHashMap<State, (u32, u32)> = FxHashMap::default();
        let mut before: FxHashMap<State, State> = FxHashMap::default();
        let mut queue = BinaryHeap::new();
        let mut order = 0u64;
        let Some((estimate, more_stops)) = self.estimate(start, walks) else { return Found::Impossible };
        if walks > MOST_WALKS {
            return Found::GaveUp { operations_at_least: estimate };
        }
        best.insert(start, (0, 0));
        queue.push(Reverse((estimate as u32, more_stops as u32, Reverse(0u32), 0u64, Entry(start, 0u32))));
        let mut spent = 0usize;
        while let Some(Reverse((total, _, Reverse(operations), _, Entry(state, stops)))) = queue.pop() {
            if best[&state] != (operations, stops) {
                continue;
            }
            if state.last == NOT_YET && self.sets[state.met as usize].is_full() {
                return Found::Plan(self.plan(state, &before, operations));
            }
            spent += self.cluster.requirements.len();
            if spent > BUDGET || !watch.goes_on() {
                return Found::GaveUp { operations_at_least: total as usize };
            }
            let mut moves: Vec<(State, u32, u32)> = Vec::new();
            if state.last != NOT_YET {
                let mut met = self.sets[state.met as usize].clone();
                met.union_with(self.met_in(state.setting as usize));
                let number = self.number(met);
                // A walk whose readings add nothing can be left out.
                if number != state.met {
                    moves.push((
                        State { setting: state.setting, met: number, walks: state.walks + 1, last: NOT_YET },
                        operations,
                        stops,
                    ));
                }
            }
            if usize::from(state.walks) < walks {
                let first = if state.last == NOT_YET { 0 } else { usize::from(state.last) + 1 };
                for device in first..self.cluster.devices.len() {
                    let stop = self.cluster.devices[device].stop;
                    let same_stop = state.last != NOT_YET && self.cluster.devices[usize::from(state.last)].stop == stop;
                    for setting in self.cluster.neighbours(state.setting as usize, device) {
                        moves.push((
                            State { setting: setting as u32, last: device as u8, ..state },
                            operations + 1,
                            stops + u32::from(!same_stop),
                        ));
                    }
                }
            }
            for (next, operations, stops) in moves {
                if best.get(&next).is_some_and(|&known| known <= (operations, stops)) {
                    continue;
                }
                let Some((estimate, more_stops)) = self.estimate(next, walks) else { continue };
                best.insert(next, (operations, stops));
                before.insert(next, state);
                order += 1;
                let total = operations + estimate as u32;
                let stops_in_all = stops + more_stops as u32;
                queue.push(Reverse((total, stops_in_all, Reverse(operations), order, Entry(next, stops))));
            }
        }
        Found::Impossible
    }

    fn plan(&self, goal: State, before: &FxHashMap<State, State>, operations: u32) -> WalkPlan {
        let mut settings = Vec::new();
        let mut at = goal;
        while let Some(&previous) = before.get(&at) {
            if at.last == NOT_YET {
                settings.push(at.setting as usize);
            }
            at = previous;
        }
        settings.reverse();
        WalkPlan {
            settings,
            operations: operations as usize,
            operations_at_least: operations as usize,
            stops_proven: true,
        }
    }

    /// Every way to spend exactly the fewest operations, as the sets of (walk, stop) visited, with its settings.
    ///
    /// None where there are more than can be listed.
    pub(super) fn profiles(&mut self, walks: usize, operations: usize, watch: &mut Watch<'_>) -> Option<Vec<Profile>> {
        let mut listing = Listing { walks, operations, profiles: FxHashMap::default(), nodes: 0, watch };
        let start = State { setting: self.cluster.start as u32, met: 0, walks: 0, last: NOT_YET };
        let complete = self.list(&mut listing, start, 0, &mut Vec::new(), &mut Vec::new());
        if !complete {
            return None;
        }
        let mut profiles: Vec<Profile> =
            listing.profiles.into_iter().map(|(visits, settings)| Profile { visits, settings }).collect();
        profiles.sort_by(|a, b| (a.visits.len(), &a.visits).cmp(&(b.visits.len(), &b.visits)));
        // A profile whose visits contain another's is never better.
        let mut kept: Vec<Profile> = Vec::new();
        for profile in profiles {
            if !kept.iter().any(|small| small.visits.iter().all(|visit| profile.visits.contains(visit))) {
                kept.push(profile);
            }
        }
        Some(kept)
    }

    fn list(
        &mut self,
        listing: &mut Listing<'_, '_>,
        state: State,
        spent: usize,
        visits: &mut Vec<(u8, u32)>,
        settings: &mut Vec<Option<usize>>,
    ) -> bool {
        const MOST_NODES: usize = 100_000;
        const MOST_PROFILES: usize = 2_000;
        listing.nodes += 1;
        if listing.nodes > MOST_NODES || listing.profiles.len() > MOST_PROFILES || !listing.watch.goes_on() {
            return false;
        }
        if state.last == NOT_YET && self.sets[state.met as usize].is_full() {
            let mut key = visits.clone();
            key.sort_unstable();
            let mut all = settings.clone();
            all.resize(listing.walks, None);
            listing.profiles.entry(key).or_insert(all);
            return true;
        }
        let within =
            |estimate: Option<(usize, usize)>| estimate.is_some_and(|(more, _)| spent + more <= listing.operations);
        if !within(self.estimate(state, listing.walks)) {
            return true;
        }
        let mut complete = true;
        if state.last == NOT_YET {
            // This cluster may sit a walk out.
            if usize::from(state.walks) + 1 < listing.walks {
                settings.push(None);
                complete &= self.list(listing, State { walks: state.walks + 1, ..state }, spent, visits, settings);
                settings.pop();
            }
        } else {
            let mut met = self.sets[state.met as usize].clone();
            met.union_with(self.met_in(state.setting as usize));
            let number = self.number(met);
            // A walk that completes nothing for this cluster may still be the one that another visits the same stops in.
            settings.push(Some(state.setting as usize));
            let next = State { met: number, walks: state.walks + 1, last: NOT_YET, ..state };
            complete &= self.list(listing, next, spent, visits, settings);
            settings.pop();
        }
        if usize::from(state.walks) < listing.walks && spent < listing.operations {
            let first = if state.last == NOT_YET { 0 } else { usize::from(state.last) + 1 };
            for device in first..self.cluster.devices.len() {
                let visit = (state.walks, self.cluster.devices[device].stop);
                let new = !visits.contains(&visit);
                if new {
                    visits.push(visit);
                }
                let neighbours: Vec<usize> = self.cluster.neighbours(state.setting as usize, device).collect();
                for setting in neighbours {
                    let next = State { setting: setting as u32, last: device as u8, ..state };
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

/// One way of a cluster to spend the fewest operations.
#[derive(Clone, Debug)]
pub(super) struct Profile {
    /// (walk, stop) visited, ascending.
    pub(super) visits: Vec<(u8, u32)>,
    /// The setting after each walk; none where the cluster sits it out.
    pub(super) settings: Vec<Option<usize>>,
}

struct Listing<'w, 'o> {
    walks: usize,
    operations: usize,
    profiles: FxHashMap<Vec<(u8, u32)>, Vec<Option<usize>>>,
    nodes: usize,
    watch: &'w mut Watch<'o>,
}

/// A state and the stops on the way to it, which take no part in the order of the queue.
struct Entry(State, u32);

impl PartialEq for Entry {
    fn eq(&self, _: &Entry) -> bool {
        true
    }
}

impl Eq for Entry {}

impl PartialOrd for Entry {
    fn partial_cmp(&self, other: &Entry) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Entry {
    fn cmp(&self, _: &Entry) -> std::cmp::Ordering {
        std::cmp::Ordering::Equal
    }
}

/// For each setting, how many operations away the nearest setting is in which a requirement holds.
///
/// That an unknown selector can't go back to as found is passed over: the figure is a lower bound then.
fn distances(cluster: &Cluster, requirement: usize) -> Vec<u8> {
    let mut away: Vec<u8> =
        (0..cluster.settings).map(|setting| if cluster.holds(requirement, setting) { 0 } else { u8::MAX }).collect();
    // The distance counts devices, so it splits over them: one sweep for each device.
    for row in &cluster.devices {
        let options = usize::from(row.options);
        for base in 0..cluster.settings {
            if base / row.stride % options != 0 {
                continue;
            }
            let least = (0..options).map(|option| away[base + option * row.stride]).min().unwrap_or(u8::MAX);
            for option in 0..options {
                let cell = &mut away[base + option * row.stride];
                *cell = (*cell).min(least.saturating_add(1));
            }
        }
    }
    away
}
