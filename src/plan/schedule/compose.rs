//! From clusters to walks: one schedule in which every cluster does its part.

use std::collections::BTreeMap;

use crate::network::DeviceIndex;
use crate::observer::{Stage, Watch};
use crate::plan::limits::PlanLimits;
use crate::plan::problem::cluster::{Cluster, Clusters, sharing_stops};
use crate::plan::request::{Afterwards, People, Request};
use crate::plan::schedule::nearest::{Nearness, SharingPart, SharingWay, WalkLengths, nearest};
use crate::plan::schedule::one_way::OneWay;
use crate::plan::solve::engine::{ClusterPlan, ClusterWay, Cost, Engine, Engines};
use crate::plan::solve::listing::ListingEngine;

/// What all clusters do together.
pub(in crate::plan) struct Schedule {
    pub(in crate::plan) walks: Vec<ScheduledWalk>,
    pub(in crate::plan) walks_at_least: usize,
    /// No plan of as many walks has fewer operations, none fewer stops.
    pub(in crate::plan) at_least: Cost,
    /// Operations of the clusters' plans.
    pub(in crate::plan) operations: u32,
    /// Whether each cluster's plan is known to be the least by itself.
    pub(in crate::plan) is_searched: bool,
    /// The stops of the clusters, by those that have stops in common.
    pub(in crate::plan) by_part: Vec<PartStops>,
    /// No plan of as many walks has fewer stops of clusters, where those that share stops were searched as one.
    pub(in crate::plan) stops_together: u32,
    /// Whether no two clusters have a stop in common.
    pub(in crate::plan) is_apart: bool,
    /// Whether no stops can be shared better among plans of equally few operations.
    pub(in crate::plan) shares_best: bool,
    pub(in crate::plan) nearness: Nearness,
    /// For each cluster, the fewest walks that there must be, and the fewest operations.
    pub(in crate::plan) of_clusters: Vec<(usize, usize)>,
    /// For two people: the one way past all operations.
    pub(in crate::plan) one_way: Option<OneWay>,
}

/// Clusters that have stops in common, directly or by others: where they are worked.
pub(in crate::plan) struct PartStops {
    /// Their stops.
    pub(in crate::plan) stops: Vec<u32>,
    /// Visits to these that there are at least in a plan of as many walks.
    pub(in crate::plan) at_least: u32,
    /// Visits to these in the plan.
    pub(in crate::plan) visits: u32,
}

/// What is done in one walk.
#[derive(Default)]
pub(in crate::plan) struct ScheduledWalk {
    /// The devices operated with their new options.
    pub(in crate::plan) changes: Vec<(DeviceIndex, u16)>,
    /// The pair groups of the clusters that have a device among them.
    pub(in crate::plan) groups: Vec<u32>,
}

/// Schedules the clusters in the fewest walks, then as the request says; `solved` are the engines of those that are not
/// listed.
pub(in crate::plan) fn schedule<'e>(
    clusters: &'e Clusters,
    solved: Engines<'e>,
    request: &'e Request,
    limits: &'e PlanLimits,
    lengths: Option<&mut WalkLengths<'_, '_>>,
    watch: &mut Watch<'_>,
) -> (Engines<'e>, Schedule) {
    let of_solved = Fewest::of(&solved);
    let mut listed = engines(clusters.merged.as_ref().unwrap_or(&clusters.listed), request, limits, watch);
    let mut fewest = of_solved.and(Fewest::of(&listed));
    let mut plans = fewest.plans(&mut listed, request, watch);
    let mut stops_together = 0u32;
    let is_merged = clusters.merged.as_ref().is_some_and(|merged| merged.len() < clusters.listed.len());
    if is_merged && plans.iter().any(|plan| !plan.is_least) {
        // Together they are too much to search: each for itself, with the bounds of both.
        stops_together = components(&listed).iter().map(|members| most_stops(members, &plans)).sum();
        listed = engines(&clusters.listed, request, limits, watch);
        fewest = of_solved.and(Fewest::of(&listed));
        plans = fewest.plans(&mut listed, request, watch);
    }
    let mut engines = listed;
    engines.extend(solved);
    let rest = fewest.plans(&mut engines[plans.len()..], request, watch);
    plans.extend(rest);

    let walks = plans.iter().map(|plan| plan.way.changes.len()).max().unwrap_or(0);
    let components = components(&engines);
    let is_apart = components.len() == engines.len();
    let operations = |of: fn(&ClusterPlan) -> Cost| plans.iter().map(|plan| of(plan).operations).sum::<u32>();
    let mut by_part: Vec<PartStops> = Vec::with_capacity(components.len());
    for members in &components {
        let mut stops: Vec<u32> =
            members.iter().flat_map(|&member| engines[member].devices()).map(|device| device.stop).collect();
        stops.sort_unstable();
        stops.dedup();
        by_part.push(PartStops { stops, at_least: most_stops(members, &plans), visits: 0 });
    }
    let stops = by_part.iter().map(|part| part.at_least).sum();
    let at_least = Cost { operations: operations(|plan| plan.at_least), stops: stops_together.max(stops) };
    let operations = operations(|plan| plan.way.cost());
    let is_searched = plans.iter().all(|plan| plan.is_least);
    let of_clusters = engines.iter().zip(&plans);
    let of_clusters =
        of_clusters.map(|(engine, plan)| (engine.fewest_walks().at_least, plan.at_least.operations as usize)).collect();
    let (one_way, shared, scheduled) = match request.people {
        People::Two => {
            let (one_way, rounds) = OneWay::of(&mut engines, &plans, lengths, limits, watch);
            (Some(one_way), Shared::as_found(&plans), rounds)
        }
        People::One => {
            let mut sharing = Sharing { engines: &mut engines, plans: &plans, walks, limits };
            let shared = sharing.of(components.clone(), lengths, watch);
            let scheduled = walk_by_walk(&engines, &shared.ways, walks);
            (None, shared, scheduled)
        }
    };
    for (part, members) in by_part.iter_mut().zip(components) {
        let mut visits: Vec<(u16, u32)> =
            members.iter().flat_map(|&member| &shared.ways[member].visits).copied().collect();
        visits.sort_unstable();
        visits.dedup();
        part.visits = visits.len() as u32;
    }
    let schedule = Schedule {
        walks: scheduled,
        walks_at_least: fewest.at_least + fewest.last(request),
        at_least,
        operations,
        is_searched,
        by_part,
        stops_together,
        is_apart,
        shares_best: shared.is_best,
        nearness: shared.nearness,
        of_clusters,
        one_way,
    };
    (engines, schedule)
}

/// What clusters do in each walk, all together.
fn walk_by_walk(engines: &Engines<'_>, ways: &[ClusterWay], walks: usize) -> Vec<ScheduledWalk> {
    let mut scheduled: Vec<ScheduledWalk> = (0..walks).map(|_| ScheduledWalk::default()).collect();
    for (engine, way) in engines.iter().zip(ways) {
        for (walk, changes) in scheduled.iter_mut().zip(&way.changes).filter(|(_, changes)| !changes.is_empty()) {
            walk.changes.extend(changes);
            walk.groups.extend(engine.groups());
        }
    }
    for walk in &mut scheduled {
        walk.changes.sort_unstable();
    }
    scheduled
}

fn engines<'e>(
    clusters: &'e [Cluster],
    request: &'e Request,
    limits: &'e PlanLimits,
    watch: &mut Watch<'_>,
) -> Engines<'e> {
    let mut engines: Engines<'e> = Vec::with_capacity(clusters.len());
    for (number, cluster) in clusters.iter().enumerate() {
        watch.at(Stage::Walks, number, clusters.len());
        engines.push(Box::new(ListingEngine::new(cluster, request, limits, watch)));
    }
    engines
}

/// The fewest walks of several clusters together; those that put everything back are not counted.
#[derive(Clone, Copy)]
struct Fewest {
    walks: usize,
    /// Raised above what single clusters need where no order of so many walks does.
    at_least: usize,
}

impl Fewest {
    fn of(engines: &Engines<'_>) -> Fewest {
        let all = engines.iter().map(|engine| engine.fewest_walks());
        all.fold(Fewest { walks: 0, at_least: 0 }, |fewest, one| {
            fewest.and(Fewest { walks: one.walks, at_least: one.at_least })
        })
    }

    fn and(self, other: Fewest) -> Fewest {
        Fewest { walks: self.walks.max(other.walks), at_least: self.at_least.max(other.at_least) }
    }

    /// The last setting read is never the start, which meets nothing: to put everything back is a walk of its own.
    fn last(&self, request: &Request) -> usize {
        usize::from(request.afterwards == Afterwards::AsFound && self.at_least > 0)
    }

    /// A plan of each engine in as many walks, where everything is put back with one more. More walks are taken where
    /// no order of so many does.
    fn plans(
        &mut self,
        engines: &mut [Box<dyn Engine + '_>],
        request: &Request,
        watch: &mut Watch<'_>,
    ) -> Vec<ClusterPlan> {
        'walks: loop {
            let mut plans = Vec::with_capacity(engines.len());
            let count = engines.len();
            for (number, engine) in engines.iter_mut().enumerate() {
                watch.at(Stage::Operations, number, count);
                match engine.plan(self.walks + self.last(request), watch) {
                    Some(plan) => plans.push(plan),
                    // Only unknown selectors, which can't be put back as found, can make an order of the settings
                    // impossible. There is one once every requirement may have a walk of its own.
                    None => {
                        self.walks += 1;
                        self.at_least = self.walks;
                        continue 'walks;
                    }
                }
            }
            return plans;
        }
    }
}

/// Which clusters have stops in common.
fn components(engines: &Engines<'_>) -> Vec<Vec<usize>> {
    sharing_stops(engines.iter().map(|engine| engine.devices()))
}

/// The most stops that one of these clusters takes at least: they may share stops, so theirs don't add up.
fn most_stops(members: &[usize], plans: &[ClusterPlan]) -> u32 {
    members.iter().map(|&member| plans[member].at_least.stops).max().unwrap_or(0)
}

/// What sharing stops came to.
struct Shared {
    /// For each cluster.
    ways: Vec<ClusterWay>,
    is_best: bool,
    nearness: Nearness,
}

impl Shared {
    fn as_found(plans: &[ClusterPlan]) -> Shared {
        let ways = plans.iter().map(|plan| plan.way.clone()).collect();
        Shared { ways, is_best: false, nearness: Nearness::Unknown }
    }
}

/// Places each cluster's operations in walks so that clusters visit the same stops in the same walks; of the ways that
/// are equal in that, the nearest.
struct Sharing<'s, 'e> {
    engines: &'s mut Engines<'e>,
    plans: &'s [ClusterPlan],
    walks: usize,
    limits: &'s PlanLimits,
}

impl Sharing<'_, '_> {
    fn of(
        &mut self,
        components: Vec<Vec<usize>>,
        lengths: Option<&mut WalkLengths<'_, '_>>,
        watch: &mut Watch<'_>,
    ) -> Shared {
        let mut ways: Vec<ClusterWay> = self.plans.iter().map(|plan| plan.way.clone()).collect();
        let mut is_best = true;
        let mut parts: Vec<SharingPart> = Vec::new();
        for members in components {
            // Alone, a cluster is best as it was found, unless another way of its own is nearer.
            let is_alone = members.len() == 1;
            if is_alone && lengths.is_none() {
                continue;
            }
            let (mut choices, all_listed) = self.choices(members, watch);
            choices.sort_by_key(|(member, ways)| (ways.len(), *member));
            let mut search = ChoiceSearch { choices: &choices, limits: self.limits, best: None, nodes: 0, equal: None };
            let (chosen, is_finished) = search.best();
            is_best &= is_alone || all_listed && is_finished;
            if !is_alone {
                for ((member, listed), &choice) in choices.iter().zip(&chosen) {
                    ways[*member].clone_from(&listed[choice]);
                }
            }
            if lengths.is_some() {
                let (equal, all_kept) = search.equal();
                let of_members = || choices.iter().map(|(member, _)| *member);
                // What was found without a thought for metres comes first: only a nearer way takes its place.
                let found = SharingWay::of(of_members().map(|member| ways[member].clone()).collect());
                let visits_found = found.visits.clone();
                let rest = equal.into_iter().filter(|(visits, _)| *visits != visits_found).map(|(visits, chosen)| {
                    let ways = choices.iter().zip(chosen).map(|((_, ways), choice)| ways[choice].clone()).collect();
                    SharingWay { visits, ways }
                });
                let all_listed = all_listed && is_finished && all_kept;
                let clusters = of_members().collect();
                parts.push(SharingPart { clusters, ways: std::iter::once(found).chain(rest).collect(), all_listed });
            }
        }
        let mut nearness = Nearness::default();
        if let Some(lengths) = lengths {
            let nearest = nearest(&parts, self.walks, lengths, watch);
            nearness = nearest.nearness;
            for (part, &way) in parts.iter().zip(&nearest.ways) {
                for (&member, way) in part.clusters.iter().zip(&part.ways[way].ways) {
                    ways[member].clone_from(way);
                }
            }
        }
        Shared { ways, is_best, nearness }
    }

    /// For each of some clusters its ways, and whether all ways of each are listed.
    fn choices(&mut self, members: Vec<usize>, watch: &mut Watch<'_>) -> (Vec<(usize, Vec<ClusterWay>)>, bool) {
        let mut all_listed = true;
        let mut choices = Vec::with_capacity(members.len());
        for member in members {
            let plan = &self.plans[member];
            let listed = self.engines[member].equal_ways(self.walks, plan, watch);
            all_listed &= listed.is_some();
            choices.push((member, listed.unwrap_or_else(|| vec![plan.way.clone()])));
        }
        (choices, all_listed)
    }
}

/// The choices that are equal, by the (walk, stop) that they visit.
type Equal = BTreeMap<Vec<(u16, u32)>, Vec<usize>>;

/// Chooses a way for each cluster so that the visits of all together are fewest: branch and bound.
struct ChoiceSearch<'p> {
    choices: &'p [(usize, Vec<ClusterWay>)],
    limits: &'p PlanLimits,
    best: Option<(usize, Vec<usize>)>,
    nodes: usize,
    /// Where all choices that are as good as the best are wanted: those found.
    equal: Option<Equal>,
}

impl ChoiceSearch<'_> {
    /// The best choice, and whether all were looked at.
    fn best(&mut self) -> (Vec<usize>, bool) {
        self.choose(0, &mut Vec::new(), &mut Vec::new());
        let (_, chosen) = self.best.clone().expect("the first branch always ends");
        (chosen, self.nodes <= self.limits.choice_nodes)
    }

    /// After [`ChoiceSearch::best`]: the choices that are as good, and whether these are all.
    fn equal(&mut self) -> (Equal, bool) {
        self.nodes = 0;
        self.equal = Some(BTreeMap::new());
        self.choose(0, &mut Vec::new(), &mut Vec::new());
        let equal = self.equal.take().expect("it was put there above");
        let is_all = self.nodes <= self.limits.choice_nodes && equal.len() < self.limits.equal_choices;
        (equal, is_all)
    }

    fn choose(&mut self, at: usize, visits: &mut Vec<(u16, u32)>, chosen: &mut Vec<usize>) {
        let Some((_, ways)) = self.choices.get(at) else {
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
        let added = |way: &ClusterWay| way.visits.iter().filter(|visit| !visits.contains(visit)).count();
        // The cluster left that must add the most gives a lower bound on what is still to add.
        let least = self.choices[at..].iter().map(|(_, ways)| ways.iter().map(added).min().unwrap_or(0));
        let still = least.max().unwrap_or(0);
        let slack = usize::from(self.equal.is_some());
        if self.best.as_ref().is_some_and(|(best, _)| visits.len() + still >= *best + slack) {
            return;
        }
        let mut order: Vec<(usize, usize)> =
            ways.iter().enumerate().map(|(number, way)| (added(way), number)).collect();
        order.sort_unstable();
        for (_, number) in order {
            let before = visits.len();
            for visit in &ways[number].visits {
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::observer::Unwatched;
    use crate::plan::problem::cluster::{ClusterDevice, Requirement};

    /// Two selectors that nobody knows the position of; option 2 is as found, which can't be gone back to. Two settings
    /// meet all, each with the other selector as found: there is no order of them, so the bound is three walks.
    #[test]
    fn settings_that_have_no_order_raise_the_bound_on_walks() {
        let device = |number: u32, stride| ClusterDevice {
            device: number,
            options: 3,
            start: 2,
            one_way: Some(2),
            stop: number,
            stride,
        };
        let requirement = |settings: &[[usize; 2]]| Requirement {
            holds: vec![settings.iter().fold(0, |holds, [one, other]| holds | 1 << (one + 3 * other))],
            devices: 0b11,
            group: 0,
            start: Vec::new(),
        };
        let requirements = vec![requirement(&[[2, 0]]), requirement(&[[0, 2], [0, 0]]), requirement(&[[0, 2], [1, 0]])];
        let devices = vec![device(0, 1), device(1, 3)];
        let cluster = Cluster { devices, settings: 9, start: 8, requirements, groups: vec![0] };
        let clusters = Clusters { listed: vec![cluster], merged: None, large: Vec::new() };
        let (request, limits) = (Request::default(), PlanLimits::default());
        let mut observer = Unwatched;
        let watch = &mut Watch::new(&mut observer);
        let (engines, schedule) = schedule(&clusters, Vec::new(), &request, &limits, None, watch);
        assert_eq!(engines[0].fewest_walks().at_least, 2);
        assert_eq!((schedule.walks.len(), schedule.walks_at_least, schedule.operations), (3, 3, 3));
    }

    /// Two pairs, one tested with the first of three switches over or with all, the other with the first two over or with
    /// all. Alone one goes once, for three operations; of two, one operates twice and the other reads after each.
    #[test]
    fn two_people_operate_less_where_they_may_read_more_often() {
        let device = |number: u32| ClusterDevice {
            device: number,
            options: 2,
            start: 0,
            one_way: None,
            stop: number,
            stride: 1 << number,
        };
        let requirement =
            |settings: u64| Requirement { holds: vec![settings], devices: 0b111, group: 0, start: Vec::new() };
        let requirements = vec![requirement(1 << 0b001 | 1 << 0b111), requirement(1 << 0b011 | 1 << 0b111)];
        let devices = (0..3).map(device).collect();
        let cluster = Cluster { devices, settings: 8, start: 0, requirements, groups: vec![0] };
        let clusters = Clusters { listed: vec![cluster], merged: None, large: Vec::new() };
        let limits = PlanLimits::default();
        let figures = |people| {
            let request = Request::default().with_people(people);
            let mut observer = Unwatched;
            let watch = &mut Watch::new(&mut observer);
            let (_, schedule) = schedule(&clusters, Vec::new(), &request, &limits, None, watch);
            let way = schedule.one_way.map(|way| (way.stops, way.is_least));
            (schedule.walks.len(), schedule.operations, schedule.at_least.operations, way)
        };
        assert_eq!(figures(People::One), (1, 3, 3, None));
        assert_eq!(figures(People::Two), (2, 2, 2, Some((2, true))));
    }
}
