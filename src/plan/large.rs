//! Clusters too large to list: a sound plan by local search, with bounds that are proven but may not be met.
//!
//! Every setting tried is worked out in full, so what the plan claims to test is tested; but settings are found by
//! climbing (operate what gains most; where nothing does, open the way to a core that is still missed), so there may
//! be shorter plans.

use rustc_hash::{FxHashMap, FxHashSet};

use super::cluster::{LargeCluster, start_combination};
use super::making::carry_out;
use super::observer::{Stage, Watch};
use super::option::Fleet;
use super::readings::Candidate;
use super::selection::{Progress, adds, note};
use crate::coverage::{LeadSurvey, find_path};
use crate::model::Conducts;
use crate::network::{Body, Condition, DeviceIndex, Edge, Network, Stand, Standing};

/// Rounds that a climb may take before it gives up.
const MOST_ROUNDS: usize = 64;

/// What was found for all large clusters together.
#[derive(Default)]
pub(super) struct Large {
    /// For each walk, the devices operated with their new options.
    pub(super) settings: Vec<Vec<(DeviceIndex, u16)>>,
    /// The readings that bear on them.
    pub(super) candidates: Vec<u32>,
    /// Pair groups no two of which are tested in one setting.
    pub(super) exclusive: Vec<u32>,
    /// Operations on devices of large clusters alone, of which no other cluster has any.
    pub(super) operations_at_least: usize,
}

struct Climb<'p> {
    network: &'p Network<'p>,
    fleet: &'p Fleet,
    candidates: &'p [Candidate],
    numbers: Vec<u32>,
    devices: Vec<DeviceIndex>,
    wanted: FxHashSet<u32>,
    survey: LeadSurvey<'p>,
}

type Options = FxHashMap<DeviceIndex, u16>;

/// Plans walks for clusters too large to list, and for groups on which too many devices bear.
///
/// `base` is what the other clusters operate in each walk: what those walks do for these groups as well is used, and
/// no device of theirs is operated in them.
pub(super) fn walks<'p>(
    network: &'p Network<'p>,
    start: &Standing,
    fleet: &'p Fleet,
    candidates: &'p [Candidate],
    clusters: &[LargeCluster],
    too_large: &[u32],
    base: &[Vec<(DeviceIndex, u16)>],
    watch: &mut Watch<'_>,
) -> Large {
    let mut groups: Vec<u32> = clusters.iter().flat_map(|cluster| &cluster.groups).chain(too_large).copied().collect();
    groups.sort_unstable();
    if groups.is_empty() {
        return Large::default();
    }
    let mut climb = Climb {
        network,
        fleet,
        candidates,
        numbers: Vec::new(),
        devices: Vec::new(),
        wanted: groups.iter().copied().collect(),
        survey: LeadSurvey::new(network),
    };
    climb.find_devices(start, &groups);
    let mut progress: FxHashMap<u32, Progress> = FxHashMap::default();
    let mut standing = start.clone();
    let mut options: Options = climb.devices.iter().map(|&device| (device, fleet.start(device))).collect();
    let taken: Vec<DeviceIndex> = base.iter().flatten().map(|change| change.0).collect();
    let all_devices = climb.devices.clone();
    climb.take(&standing, &mut progress);
    let mut settings: Vec<Vec<(DeviceIndex, u16)>> = Vec::new();
    let mut given_up: Vec<u32> = Vec::new();
    while settings.len() < MOST_ROUNDS.max(base.len()) {
        watch.at(Stage::LargeClusters, settings.len(), MOST_ROUNDS);
        if !watch.goes_on() {
            break;
        }
        let shared = base.get(settings.len());
        climb.devices.clone_from(&all_devices);
        if let Some(changes) = shared {
            carry_out(fleet, &mut standing, changes);
            options.extend(changes.iter().copied());
            climb.devices.retain(|device| !taken.contains(device));
        }
        let target = groups
            .iter()
            .copied()
            .find(|group| !matches!(progress.get(group), Some(Progress::All)) && !given_up.contains(group));
        let changes = match target {
            None if shared.is_none() => break,
            None => Some(Vec::new()),
            Some(target) => climb
                .best_climb(&standing, &options, &progress)
                .or_else(|| climb.open_a_way(&standing, &options, &progress, target, clusters)),
        };
        let changes = match (changes, target) {
            (Some(changes), _) => changes,
            (None, _) if shared.is_some() => Vec::new(),
            (None, target) => {
                given_up.extend(target);
                continue;
            }
        };
        carry_out(fleet, &mut standing, &changes);
        options.extend(changes.iter().copied());
        climb.take(&standing, &mut progress);
        settings.push(changes);
    }
    climb.devices = all_devices;
    climb.shorten(start, base, &mut settings, &progress);

    let bounding = || clusters.iter().filter(|cluster| cluster.all_known);
    let exclusive_of: Vec<Vec<u32>> = bounding().map(|cluster| exclusive(&cluster.requirements)).collect();
    let operations_at_least = bounding()
        .zip(&exclusive_of)
        .map(|(cluster, exclusive)| {
            let farthest = cluster.requirements.iter().filter_map(|(_, condition)| {
                nearest(fleet, condition, start_combination(fleet, condition)).map(|found| found.1)
            });
            exclusive.len().max(farthest.max().unwrap_or(0))
        })
        .sum();
    Large {
        settings,
        candidates: climb.numbers,
        exclusive: exclusive_of.into_iter().max_by_key(Vec::len).unwrap_or_default(),
        operations_at_least,
    }
}

/// The groups that are tested whatever the start, in order.
fn done(progress: &FxHashMap<u32, Progress>) -> Vec<u32> {
    let mut done: Vec<u32> =
        progress.iter().filter(|(_, progress)| matches!(progress, Progress::All)).map(|(&group, _)| group).collect();
    done.sort_unstable();
    done
}

/// The groups of conditions, greedily picked, that exclude one another.
fn exclusive(requirements: &[(u32, Condition)]) -> Vec<u32> {
    /// Comparing all with all is quadratic.
    const MOST_COMPARED: usize = 400;
    let excludes = |a: &Condition, b: &Condition| a.and(b).is_some_and(|both| both.is_never());
    let mut best: Vec<&(u32, Condition)> = Vec::new();
    for first in requirements.iter().take(8) {
        let mut picked = vec![first];
        for row in requirements.iter().take(MOST_COMPARED) {
            if picked.iter().all(|known| excludes(&known.1, &row.1)) {
                picked.push(row);
            }
        }
        if picked.len() > best.len() {
            best = picked;
        }
    }
    best.into_iter().map(|row| row.0).collect()
}

/// The combination nearest to `from` in which a condition holds, and how many devices differ.
fn nearest(fleet: &Fleet, condition: &Condition, from: usize) -> Option<(usize, usize)> {
    let here = condition.positions(from);
    (0..condition.count())
        .filter(|&combination| condition.get(combination))
        .filter(|&combination| {
            // An unknown device can't be put back as found.
            condition
                .positions(combination)
                .iter()
                .zip(&here)
                .all(|(there, here)| there.1 == here.1 || fleet.one_way_option(there.0) != Some(there.1))
        })
        .map(|combination| {
            let there = condition.positions(combination);
            (combination, there.iter().zip(&here).filter(|(a, b)| a != b).count())
        })
        .min_by_key(|&(combination, distance)| (distance, combination))
}

impl Climb<'_> {
    /// The devices and the readings that bear on the groups.
    fn find_devices(&mut self, standing: &Standing, groups: &[u32]) {
        let mut seen: FxHashSet<Body> = FxHashSet::default();
        let mut queue: Vec<Body> =
            groups.iter().flat_map(|&group| self.network.groups[group as usize].bodies).collect();
        let mut devices: Vec<DeviceIndex> = Vec::new();
        // A body that nearly everything hangs on, such as earth, would lead to every device there is.
        while let Some(body) = queue.pop() {
            if !seen.insert(body) || self.network.groups_at.at(body).len() > 4096 {
                continue;
            }
            for (far, edge) in self.network.edges_at(body) {
                let leads_on = match edge {
                    Edge::Contact(number) => {
                        let contact = &self.network.contacts[number as usize];
                        if self.fleet.options(contact.device).is_some() {
                            devices.push(contact.device);
                        }
                        match standing.device(contact.device) {
                            Stand::At(position) => {
                                self.fleet.options(contact.device).is_some() || contact.is_closed_in(position)
                            }
                            Stand::Moved(_) => true,
                        }
                    }
                    Edge::Bridge { bridge, .. } => standing.is_fitted(bridge),
                };
                if leads_on {
                    queue.push(far);
                }
            }
        }
        devices.sort_unstable();
        devices.dedup();
        self.devices = devices;
        for (number, candidate) in self.candidates.iter().enumerate() {
            if candidate.leads.0.iter().flatten().any(|body| seen.contains(body)) {
                self.numbers.push(number as u32);
            }
        }
    }

    fn take(&mut self, standing: &Standing, progress: &mut FxHashMap<u32, Progress>) {
        let unknown = standing.unknown();
        for &number in &self.numbers {
            for (group, when) in self.survey.tests(standing, &unknown, &self.candidates[number as usize].leads) {
                if self.wanted.contains(&group) {
                    note(progress, group, when.as_ref());
                }
            }
        }
    }

    /// How many groups a setting adds something to.
    fn gain(&mut self, standing: &Standing, progress: &FxHashMap<u32, Progress>) -> usize {
        let unknown = standing.unknown();
        let mut gained: Vec<u32> = Vec::new();
        for &number in &self.numbers {
            for (group, when) in self.survey.tests(standing, &unknown, &self.candidates[number as usize].leads) {
                if self.wanted.contains(&group) && adds(progress.get(&group), when.as_ref()) {
                    gained.push(group);
                }
            }
        }
        gained.sort_unstable();
        gained.dedup();
        gained.len()
    }

    /// Operates, one after another, what gains most; none where no single operation gains.
    fn best_climb(
        &mut self,
        standing: &Standing,
        options: &Options,
        progress: &FxHashMap<u32, Progress>,
    ) -> Option<Vec<(DeviceIndex, u16)>> {
        let mut changes: Vec<(DeviceIndex, u16)> = Vec::new();
        let mut best_gain = 0;
        loop {
            let mut best = None;
            for index in 0..self.devices.len() {
                let device = self.devices[index];
                if changes.iter().any(|change| change.0 == device) {
                    continue;
                }
                for option in 0..self.fleet.options(device).unwrap_or(0) {
                    if option == options[&device] || self.fleet.one_way_option(device) == Some(option) {
                        continue;
                    }
                    let mut tried = standing.clone();
                    let mut all = changes.clone();
                    all.push((device, option));
                    carry_out(self.fleet, &mut tried, &all);
                    let gain = self.gain(&tried, progress);
                    if gain > best_gain {
                        best_gain = gain;
                        best = Some((device, option));
                    }
                }
            }
            match best {
                Some(change) => changes.push(change),
                None => break,
            }
        }
        (!changes.is_empty()).then_some(changes)
    }

    /// Operates what lies between a missed pair's cores and the leads.
    fn open_a_way(
        &mut self,
        standing: &Standing,
        options: &Options,
        progress: &FxHashMap<u32, Progress>,
        target: u32,
        clusters: &[LargeCluster],
    ) -> Option<Vec<(DeviceIndex, u16)>> {
        let mut ways: Vec<Vec<(DeviceIndex, u16)>> = Vec::new();
        for (_, condition) in
            clusters.iter().filter(|cluster| cluster.groups.contains(&target)).flat_map(|cluster| &cluster.requirements)
        {
            let option = |device| options.get(&device).copied().unwrap_or_else(|| self.fleet.start(device));
            let here = condition.number(option);
            if let Some((combination, _)) = nearest(self.fleet, condition, here) {
                ways.push(condition.positions(combination));
            }
        }
        for &number in &self.numbers {
            let [a, b] = &self.candidates[number as usize].leads.0;
            let [x, y] = self.network.groups[target as usize].bodies;
            for (x_lead, y_lead) in [(a, b), (b, a)] {
                let (Some(mut way), Some(more)) =
                    (self.positions_on_way(standing, x, x_lead), self.positions_on_way(standing, y, y_lead))
                else {
                    continue;
                };
                way.extend(more);
                way.sort_unstable();
                way.dedup();
                if way.windows(2).all(|pair| pair[0].0 != pair[1].0) {
                    ways.push(way);
                }
            }
        }
        for way in ways {
            let changes: Vec<(DeviceIndex, u16)> = way
                .into_iter()
                .filter(|(device, option)| options.get(device).is_some_and(|now| now != option))
                .collect();
            // A device that another cluster operates in these walks is not taken from it.
            if changes.is_empty() || changes.iter().any(|change| !self.devices.contains(&change.0)) {
                continue;
            }
            let mut tried = standing.clone();
            carry_out(self.fleet, &mut tried, &changes);
            if self.gain(&tried, progress) > 0 {
                return Some(changes);
            }
        }
        None
    }

    /// Positions of known devices that join a body to a lead, by the way with the fewest operations.
    fn positions_on_way(&self, standing: &Standing, from: Body, lead: &[Body]) -> Option<Vec<(DeviceIndex, u16)>> {
        let position = |number: u32| {
            let contact = &self.network.contacts[number as usize];
            match standing.device(contact.device) {
                Stand::At(now) if contact.is_closed_in(now) => Some((now, false)),
                Stand::At(_) if self.fleet.options(contact.device).is_some() && contact.closed_in != 0 => {
                    Some((contact.closed_in.trailing_zeros() as u16, true))
                }
                _ => None,
            }
        };
        let cost = |edge: Edge| match edge {
            Edge::Contact(number) => position(number).map(|found| found.1),
            Edge::Bridge { bridge, conducts, .. } => {
                (standing.is_fitted(bridge) && conducts == Conducts::Sure).then_some(false)
            }
        };
        let steps = find_path(self.network, &[from], cost, |body| lead.contains(&body))?;
        Some(
            steps
                .into_iter()
                .filter_map(|(_, edge, _)| match edge {
                    Edge::Contact(number) => {
                        let device = self.network.contacts[number as usize].device;
                        self.fleet.options(device)?;
                        position(number).map(|found| (device, found.0))
                    }
                    Edge::Bridge { .. } => None,
                })
                .collect(),
        )
    }

    /// Leaves out operations without which the same groups are tested.
    fn shorten(
        &mut self,
        start: &Standing,
        base: &[Vec<(DeviceIndex, u16)>],
        settings: &mut Vec<Vec<(DeviceIndex, u16)>>,
        progress: &FxHashMap<u32, Progress>,
    ) {
        let wanted = done(progress);
        for walk in 0..settings.len() {
            let mut change = 0;
            while change < settings[walk].len() {
                let mut tried = settings.clone();
                tried[walk].remove(change);
                let mut standing = start.clone();
                let mut reached = FxHashMap::default();
                self.take(&standing, &mut reached);
                for (number, changes) in tried.iter().enumerate() {
                    if let Some(shared) = base.get(number) {
                        carry_out(self.fleet, &mut standing, shared);
                    }
                    carry_out(self.fleet, &mut standing, changes);
                    self.take(&standing, &mut reached);
                }
                if done(&reached) == wanted {
                    *settings = tried;
                } else {
                    change += 1;
                }
            }
        }
        // What is left out can leave a later operation taking a device to where it stands already.
        let mut options: Options = self.devices.iter().map(|&device| (device, self.fleet.start(device))).collect();
        for (number, changes) in settings.iter_mut().enumerate() {
            options.extend(base.get(number).into_iter().flatten().copied());
            changes.retain(|&(device, option)| options.insert(device, option) != Some(option));
        }
        let mut number = 0;
        settings.retain(|changes| {
            number += 1;
            !changes.is_empty() || number <= base.len()
        });
    }
}
