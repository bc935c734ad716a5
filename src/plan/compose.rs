//! From clusters to walks: one schedule in which every cluster does its part.

use rustc_hash::FxHashMap;

use super::cluster::Cluster;
use super::observer::{Stage, Watch};
use super::settings_search::{FewestSettings, SettingsSearch};
use super::walk_search::{Found, Profile, WalkPlan, WalkSearch};
use petgraph::unionfind::UnionFind;

/// For each walk, the setting of each cluster after it (none: it sits the walk out).
pub(super) struct Schedule {
    /// `settings[cluster][walk]`.
    pub(super) settings: Vec<Vec<Option<usize>>>,
    pub(super) walks: usize,
    pub(super) walks_at_least: usize,
    pub(super) operations_at_least: usize,
    pub(super) stops_proven: bool,
    /// For the cluster that needs the most walks, requirements no two of which hold in one setting.
    pub(super) exclusive: Option<(usize, Vec<usize>)>,
}

/// Schedules the clusters in the fewest walks, then operations, then stops.
///
/// `at_least` is how many walks there are in any case.
pub(super) fn schedule(clusters: &[Cluster], at_least: usize, watch: &mut Watch<'_>) -> Schedule {
    let mut fewest: Vec<FewestSettings> = Vec::with_capacity(clusters.len());
    for (number, cluster) in clusters.iter().enumerate() {
        watch.at(Stage::Walks, number, clusters.len());
        fewest.push(SettingsSearch::new(cluster).run(watch));
    }
    let mut walks = fewest.iter().map(|found| found.settings.len()).max().unwrap_or(0).max(at_least);
    let mut walks_at_least = fewest.iter().map(|found| found.at_least).max().unwrap_or(0);
    // Only unknown selectors, which can't be put back as found, can make an order of the settings impossible; each
    // walk more is tried in turn. There is an order once every requirement may have a walk of its own.
    let mut allowed = walks;
    let mut searches: Vec<WalkSearch<'_>> = clusters.iter().map(WalkSearch::new).collect();
    let mut plans: Vec<WalkPlan>;
    'walks: loop {
        plans = Vec::with_capacity(clusters.len());
        for (index, search) in searches.iter_mut().enumerate() {
            watch.at(Stage::Operations, index, clusters.len());
            match search.run(allowed, watch) {
                Found::Plan(plan) => plans.push(plan),
                Found::Impossible => {
                    allowed += 1;
                    walks_at_least = allowed;
                    continue 'walks;
                }
                Found::GaveUp { operations_at_least } => {
                    plans.push(in_some_order(&clusters[index], &fewest[index], operations_at_least));
                }
            }
        }
        break;
    }
    walks = walks.max(plans.iter().map(|plan| plan.settings.len()).max().unwrap_or(0));
    let operations_at_least = plans.iter().map(|plan| plan.operations_at_least).sum();
    let (settings, stops_proven) = share_stops(clusters, &plans, &mut searches, walks, watch);
    let exclusive = fewest
        .into_iter()
        .map(|found| found.exclusive)
        .enumerate()
        .max_by_key(|(index, rows)| (rows.len(), std::cmp::Reverse(*index)));
    Schedule { settings, walks, walks_at_least, operations_at_least, stops_proven, exclusive }
}

/// The settings found, each next the nearest, with every operation undone that is not needed.
fn in_some_order(cluster: &Cluster, fewest: &FewestSettings, operations_at_least: usize) -> WalkPlan {
    let distance = |a: usize, b: usize| {
        (0..cluster.devices.len()).filter(|&device| cluster.option(a, device) != cluster.option(b, device)).count()
    };
    let as_found = |setting: usize| {
        (0..cluster.devices.len())
            .filter(|&device| cluster.devices[device].one_way == Some(cluster.option(setting, device)))
            .count()
    };
    let mut left = fewest.settings.clone();
    let mut settings = Vec::with_capacity(left.len());
    let mut at = cluster.start;
    while !left.is_empty() {
        let next = (0..left.len())
            .min_by_key(|&index| (std::cmp::Reverse(as_found(left[index])), distance(at, left[index]), left[index]))
            .expect("something is left");
        at = left.remove(next);
        settings.push(at);
    }
    // Keep each device where it was wherever that loses nothing.
    let meets_all = |settings: &[usize]| {
        (0..cluster.requirements.len()).all(|row| settings.iter().any(|&setting| cluster.holds(row, setting)))
    };
    let mut better = true;
    while better {
        better = false;
        for walk in 0..settings.len() {
            for device in 0..cluster.devices.len() {
                let before = if walk == 0 { cluster.start } else { settings[walk - 1] };
                let option = cluster.option(before, device);
                if option == cluster.option(settings[walk], device) {
                    continue;
                }
                let mut tried = settings.clone();
                tried[walk] = cluster.with_option(tried[walk], device, option);
                let cost = |settings: &[usize]| {
                    settings.iter().fold((0, cluster.start), |(sum, at), &s| (sum + distance(at, s), s)).0
                };
                if cost(&tried) < cost(&settings) && meets_all(&tried) {
                    settings = tried;
                    better = true;
                }
            }
        }
    }
    let mut operations = 0;
    let mut at = cluster.start;
    settings.retain(|&setting| {
        let changed = distance(at, setting);
        operations += changed;
        at = setting;
        changed > 0
    });
    WalkPlan { settings, operations, operations_at_least, stops_proven: false }
}

/// Places each cluster's operations in walks so that clusters visit the same stops in the same walks.
fn share_stops(
    clusters: &[Cluster],
    plans: &[WalkPlan],
    searches: &mut [WalkSearch<'_>],
    walks: usize,
    watch: &mut Watch<'_>,
) -> (Vec<Vec<Option<usize>>>, bool) {
    let mut settings: Vec<Vec<Option<usize>>> = plans
        .iter()
        .map(|plan| {
            let mut settings: Vec<Option<usize>> = plan.settings.iter().copied().map(Some).collect();
            settings.resize(walks, None);
            settings
        })
        .collect();
    let mut proven = plans.iter().all(|plan| plan.stops_proven);
    let mut with_stop: FxHashMap<u32, usize> = FxHashMap::default();
    let mut joined: UnionFind<usize> = UnionFind::new(clusters.len());
    for (index, cluster) in clusters.iter().enumerate() {
        for device in &cluster.devices {
            let first = *with_stop.entry(device.stop).or_insert(index);
            joined.union(first, index);
        }
    }
    let mut members: std::collections::BTreeMap<usize, Vec<usize>> = std::collections::BTreeMap::new();
    for index in 0..clusters.len() {
        members.entry(joined.find(index)).or_default().push(index);
    }
    for cluster_indices in members.into_values().filter(|members| members.len() > 1) {
        let mut choices: Vec<(usize, Vec<Profile>)> = Vec::new();
        for index in cluster_indices {
            let plan = &plans[index];
            let listed = if plan.operations_at_least == plan.operations {
                searches[index].profiles(walks, plan.operations, watch)
            } else {
                None
            };
            let profiles = listed.unwrap_or_else(|| {
                proven = false;
                vec![as_planned(&clusters[index], &settings[index])]
            });
            choices.push((index, profiles));
        }
        choices.sort_by_key(|(index, profiles)| (profiles.len(), *index));
        let mut choosing = Choosing { choices: &choices, best: None, nodes: 0 };
        choosing.choose(0, &mut Vec::new(), &mut Vec::new());
        proven &= choosing.nodes <= Choosing::MOST_NODES;
        let (_, chosen) = choosing.best.expect("the first branch always ends");
        for ((index, profiles), choice) in choices.iter().zip(chosen) {
            settings[*index].clone_from(&profiles[choice].settings);
        }
    }
    (settings, proven)
}

fn as_planned(cluster: &Cluster, settings: &[Option<usize>]) -> Profile {
    let mut visits = Vec::new();
    let mut at = cluster.start;
    for (walk, &setting) in settings.iter().enumerate() {
        let Some(setting) = setting else { continue };
        for (device, row) in cluster.devices.iter().enumerate() {
            if cluster.option(at, device) != cluster.option(setting, device) {
                visits.push((walk as u8, row.stop));
            }
        }
        at = setting;
    }
    visits.sort_unstable();
    visits.dedup();
    Profile { visits, settings: settings.to_vec() }
}

/// Chooses a profile for each cluster so that the visits of all together are fewest: branch and bound.
struct Choosing<'p> {
    choices: &'p [(usize, Vec<Profile>)],
    best: Option<(usize, Vec<usize>)>,
    nodes: usize,
}

impl Choosing<'_> {
    const MOST_NODES: usize = 200_000;

    fn choose(&mut self, at: usize, visits: &mut Vec<(u8, u32)>, chosen: &mut Vec<usize>) {
        let Some((_, profiles)) = self.choices.get(at) else {
            if self.best.as_ref().is_none_or(|(best, _)| visits.len() < *best) {
                self.best = Some((visits.len(), chosen.clone()));
            }
            return;
        };
        self.nodes += 1;
        if self.nodes > Choosing::MOST_NODES && self.best.is_some() {
            return;
        }
        let added = |profile: &Profile| profile.visits.iter().filter(|visit| !visits.contains(visit)).count();
        // The cluster left that must add the most gives a lower bound on what is still to add.
        let still = self.choices[at..]
            .iter()
            .map(|(_, profiles)| profiles.iter().map(added).min().unwrap_or(0))
            .max()
            .unwrap_or(0);
        if self.best.as_ref().is_some_and(|(best, _)| visits.len() + still >= *best) {
            return;
        }
        let mut order: Vec<(usize, usize)> =
            profiles.iter().enumerate().map(|(number, profile)| (added(profile), number)).collect();
        order.sort_unstable();
        for (_, number) in order {
            let before = visits.len();
            for visit in &profiles[number].visits {
                if !visits.contains(visit) {
                    visits.push(*visit);
                }
            }
            chosen.push(number);
            self.choose(at + 1, visits, chosen);
            chosen.pop();
            visits.truncate(before);
        }
    }
}
