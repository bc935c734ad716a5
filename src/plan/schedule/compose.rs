//! From clusters to walks: one schedule in which every cluster does its part.

use std::collections::BTreeMap;

use rustc_hash::FxHashMap;

use crate::plan::limits::PlanLimits;
use crate::plan::observer::{Stage, Watch};
use crate::plan::problem::cluster::Cluster;
use crate::plan::request::{Afterwards, Request};
use crate::plan::schedule::nearest::{Nearness, Part, WalkLengths, Way, nearest};
use crate::plan::solve::settings_search::{FewestSettings, SettingsSearch};
use crate::plan::solve::walk_search::{Cost, Found, Profile, WalkPlan, WalkSearch};
use petgraph::unionfind::UnionFind;

/// For each walk, the setting of each cluster after it (none: it sits the walk out).
pub(in crate::plan) struct Schedule {
    /// `settings[cluster][walk]`.
    pub(in crate::plan) settings: Vec<Vec<Option<usize>>>,
    pub(in crate::plan) walks: usize,
    pub(in crate::plan) walks_at_least: usize,
    /// No plan of as many walks has fewer operations.
    pub(in crate::plan) operations_at_least: usize,
    /// No plan of as many walks has fewer stops; only where stops come first.
    pub(in crate::plan) stops_at_least: usize,
    /// Whether every search was finished, so that what comes second is the least as well, cluster by cluster.
    pub(in crate::plan) finished: bool,
    /// What the clusters' plans come to.
    pub(in crate::plan) operations: usize,
    pub(in crate::plan) stops_proven: bool,
    pub(in crate::plan) nearness: Nearness,
    /// For each cluster, the fewest settings that there must be, and the fewest operations.
    pub(in crate::plan) at_least: Vec<(usize, usize)>,
}

/// Schedules the clusters in the fewest walks, then by the request.
///
/// `at_least` is how many walks there are in any case, not counting one to put everything back. Where stops come first,
/// clusters must not share any: see [`cluster::merge`](crate::plan::problem::cluster::merge).
pub(in crate::plan) fn schedule(
    clusters: &[Cluster],
    request: &Request,
    at_least: usize,
    limits: &PlanLimits,
    lengths: Option<&mut WalkLengths<'_, '_>>,
    watch: &mut Watch<'_>,
) -> Schedule {
    let mut fewest: Vec<FewestSettings> = Vec::with_capacity(clusters.len());
    for (number, cluster) in clusters.iter().enumerate() {
        watch.at(Stage::Walks, number, clusters.len());
        fewest.push(SettingsSearch::new(cluster, limits).run(watch));
    }
    // The last setting read is never the start, which meets nothing: to put everything back is a walk of its own.
    let is_put_back = request.afterwards == Afterwards::AsFound;
    let last = usize::from(is_put_back && (!clusters.is_empty() || at_least > 0));
    let mut walks = fewest.iter().map(|found| found.settings.len()).max().unwrap_or(0).max(at_least) + last;
    let last_of_these = usize::from(is_put_back && !clusters.is_empty());
    let mut walks_at_least = fewest.iter().map(|found| found.at_least).max().unwrap_or(0) + last_of_these;
    // Only unknown selectors, which can't be put back as found, can make an order of the settings impossible; each
    // walk more is tried in turn. There is an order once every requirement may have a walk of its own.
    let mut allowed = walks;
    let mut searches: Vec<WalkSearch<'_>> =
        clusters.iter().map(|cluster| WalkSearch::new(cluster, request, limits)).collect();
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
                Found::GaveUp { at_least } => {
                    plans.push(in_some_order(&clusters[index], &fewest[index], request, at_least));
                }
            }
        }
        break;
    }
    walks = walks.max(plans.iter().map(|plan| plan.settings.len()).max().unwrap_or(0));
    let sum = |part: fn(&WalkPlan) -> u32| plans.iter().map(|plan| part(plan) as usize).sum();
    let shared = share_stops(clusters, &plans, &mut searches, walks, limits, lengths, watch);
    let of_each = fewest.iter().zip(&plans);
    let at_least = of_each.map(|(found, plan)| (found.at_least, plan.at_least.operations as usize)).collect();
    Schedule {
        settings: shared.settings,
        walks,
        walks_at_least,
        operations_at_least: sum(|plan| plan.at_least.operations),
        stops_at_least: if shared.apart {
            sum(|plan| plan.at_least.stops)
        } else {
            plans.iter().map(|plan| plan.at_least.stops as usize).max().unwrap_or(0)
        },
        finished: plans.iter().all(|plan| plan.proven),
        operations: sum(|plan| plan.cost.operations),
        stops_proven: shared.proven,
        nearness: shared.nearness,
        at_least,
    }
}

/// The settings found, each next the nearest, with every operation undone that is not needed.
fn in_some_order(cluster: &Cluster, fewest: &FewestSettings, request: &Request, at_least: Cost) -> WalkPlan {
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
    if request.afterwards == Afterwards::AsFound {
        settings.push(cluster.start);
    }
    let mut operations = 0;
    let mut at = cluster.start;
    settings.retain(|&setting| {
        let changed = distance(at, setting);
        operations += changed;
        at = setting;
        changed > 0
    });
    // Its stops are not counted: a plan that is not proven is not compared by them.
    let cost = Cost { operations: operations as u32, stops: 0 };
    WalkPlan { settings, cost, proven: false, at_least }
}

/// What sharing stops came to.
struct Shared {
    /// No two clusters have a stop in common.
    apart: bool,
    settings: Vec<Vec<Option<usize>>>,
    proven: bool,
    nearness: Nearness,
}

/// Places each cluster's operations in walks so that clusters visit the same stops in the same walks; of the ways that
/// are equal in that, the nearest.
fn share_stops(
    clusters: &[Cluster],
    plans: &[WalkPlan],
    searches: &mut [WalkSearch<'_>],
    walks: usize,
    limits: &PlanLimits,
    lengths: Option<&mut WalkLengths<'_, '_>>,
    watch: &mut Watch<'_>,
) -> Shared {
    let mut settings: Vec<Vec<Option<usize>>> = plans
        .iter()
        .map(|plan| {
            let mut settings: Vec<Option<usize>> = plan.settings.iter().copied().map(Some).collect();
            settings.resize(walks, None);
            settings
        })
        .collect();
    let mut proven = plans.iter().all(|plan| plan.proven);
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
    let apart = members.len() == clusters.len();
    let mut parts: Vec<Part> = Vec::new();
    for cluster_indices in members.into_values() {
        // Alone, a cluster is best as it was found, unless another way of its own is nearer.
        if cluster_indices.len() == 1 && lengths.is_none() {
            continue;
        }
        let mut choices: Vec<(usize, Vec<Profile>)> = Vec::new();
        let mut all_listed = true;
        for index in cluster_indices {
            let plan = &plans[index];
            let listed = if plan.proven { searches[index].profiles(walks, plan.cost, watch) } else { None };
            let profiles = listed.unwrap_or_else(|| {
                all_listed = false;
                vec![as_planned(&clusters[index], &settings[index])]
            });
            choices.push((index, profiles));
        }
        choices.sort_by_key(|(index, profiles)| (profiles.len(), *index));
        let alone = choices.len() == 1;
        let mut choosing = Choosing { choices: &choices, limits, best: None, nodes: 0, equal: None };
        choosing.choose(0, &mut Vec::new(), &mut Vec::new());
        let mut all_seen = all_listed && choosing.nodes <= limits.choice_nodes;
        proven &= all_seen || alone;
        let (_, chosen) = choosing.best.clone().expect("the first branch always ends");
        if lengths.is_some() {
            choosing.nodes = 0;
            choosing.equal = Some(BTreeMap::new());
            choosing.choose(0, &mut Vec::new(), &mut Vec::new());
            all_seen &= choosing.nodes <= limits.choice_nodes;
            let equal = choosing.equal.take().expect("it was put there above");
            all_seen &= equal.len() < limits.equal_choices;
            let mut ways: Vec<Way> = equal
                .into_iter()
                .map(|(visits, chosen)| Way {
                    visits,
                    settings: choices
                        .iter()
                        .zip(chosen)
                        .map(|((_, profiles), choice)| profiles[choice].settings.clone())
                        .collect(),
                })
                .collect();
            // What was found without a thought for metres comes first: only a nearer way takes its place.
            let mut found: Vec<(u8, u32)> = if alone {
                as_planned(&clusters[choices[0].0], &settings[choices[0].0]).visits
            } else {
                choices
                    .iter()
                    .zip(&chosen)
                    .flat_map(|((_, profiles), &choice)| &profiles[choice].visits)
                    .copied()
                    .collect()
            };
            found.sort_unstable();
            found.dedup();
            ways.sort_by_key(|way| way.visits != found);
            if alone && ways[0].visits == found {
                ways[0].settings = vec![settings[choices[0].0].clone()];
            }
            parts.push(Part { clusters: choices.iter().map(|choice| choice.0).collect(), ways, all_listed: all_seen });
        }
        if alone {
            continue;
        }
        for ((index, profiles), choice) in choices.iter().zip(chosen) {
            settings[*index].clone_from(&profiles[choice].settings);
        }
    }
    let nearness = match lengths {
        Some(lengths) => {
            let nearest = nearest(&parts, walks, lengths, watch);
            for (part, &way) in parts.iter().zip(&nearest.ways) {
                for (&cluster, chosen) in part.clusters.iter().zip(&part.ways[way].settings) {
                    settings[cluster].clone_from(chosen);
                }
            }
            nearest.nearness
        }
        None => Nearness::default(),
    };
    Shared { apart, settings, proven, nearness }
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

/// The choices that are equal, by the (walk, stop) that they visit.
type Equal = BTreeMap<Vec<(u8, u32)>, Vec<usize>>;

/// Chooses a profile for each cluster so that the visits of all together are fewest: branch and bound.
struct Choosing<'p> {
    choices: &'p [(usize, Vec<Profile>)],
    limits: &'p PlanLimits,
    best: Option<(usize, Vec<usize>)>,
    nodes: usize,
    /// Where all choices that are as good as the best are wanted: those found, by what they visit.
    equal: Option<Equal>,
}

impl Choosing<'_> {
    fn choose(&mut self, at: usize, visits: &mut Vec<(u8, u32)>, chosen: &mut Vec<usize>) {
        let Some((_, profiles)) = self.choices.get(at) else {
            if let Some(equal) = &mut self.equal {
                if self.best.as_ref().is_some_and(|(best, _)| visits.len() == *best) {
                    let mut key = visits.clone();
                    key.sort_unstable();
                    equal.entry(key).or_insert_with(|| chosen.clone());
                }
            } else if self.best.as_ref().is_none_or(|(best, _)| visits.len() < *best) {
                self.best = Some((visits.len(), chosen.clone()));
            }
            return;
        };
        self.nodes += 1;
        let is_full = self.equal.as_ref().is_some_and(|equal| equal.len() >= self.limits.equal_choices);
        if (self.nodes > self.limits.choice_nodes && self.best.is_some()) || is_full {
            return;
        }
        let added = |profile: &Profile| profile.visits.iter().filter(|visit| !visits.contains(visit)).count();
        // The cluster left that must add the most gives a lower bound on what is still to add.
        let still = self.choices[at..]
            .iter()
            .map(|(_, profiles)| profiles.iter().map(added).min().unwrap_or(0))
            .max()
            .unwrap_or(0);
        let slack = usize::from(self.equal.is_some());
        if self.best.as_ref().is_some_and(|(best, _)| visits.len() + still >= *best + slack) {
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
