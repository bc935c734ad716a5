//! Clusters of devices with too many settings to list: the fewest walks, operations and stops by asking a solver.

#[cfg(test)]
mod confirm;
mod count;
mod formula;
mod operations;
mod order;
mod problem;
mod proof;
mod rounds;
mod search;
mod starts;
mod walks;

use crate::observer::Watch;
use crate::plan::naming::Naming;
use crate::plan::problem::cluster::ClusterDevice;
use crate::plan::problem::remaining::Remaining;
use crate::plan::problem::setup::Setup;
use crate::plan::problem::switches::WhyUnworked;
use crate::plan::proof::certificate::{Exclusion, OperationsPart, UnsatisfiableCore};
use crate::plan::request::{People, Request};
use crate::plan::solve::engine::{ClusterPlan, ClusterWay, Cost, Engine, Engines, FewestWalks};
use crate::reading::Probe;
use problem::Problem;
use search::Search;
use walks::Walks;

/// The clusters of a plan that are not listed, taken apart for the solver.
pub(in crate::plan) struct SatProblems<'p> {
    setup: &'p Setup<'p>,
    problems: Vec<Problem>,
}

/// The engines of these clusters, as far as a plan was found.
pub(in crate::plan) struct SatEngines<'p> {
    pub(in crate::plan) engines: Engines<'p>,
    /// Pair groups that nothing tests.
    pub(in crate::plan) untestable: Vec<u32>,
    /// Demands that nothing meets, each with the reason.
    pub(in crate::plan) unmet: Vec<(u32, WhyUnworked)>,
}

impl<'p> SatProblems<'p> {
    pub(in crate::plan) fn new(remaining: &'p Remaining<'_>) -> SatProblems<'p> {
        let setup = &remaining.setup;
        let mut probe = Probe::new(setup.network);
        let clusters = remaining.clusters.large.iter();
        SatProblems { setup, problems: clusters.map(|cluster| Problem::new(remaining, &mut probe, cluster)).collect() }
    }

    /// The fewest walks of each cluster, and what nothing tests.
    pub(in crate::plan) fn fewest_walks(&'p self, request: &'p Request, watch: &mut Watch<'_>) -> SatEngines<'p> {
        let mut engines: Engines<'p> = Vec::new();
        let mut untestable = Vec::new();
        let mut unmet = Vec::new();
        for problem in &self.problems {
            let mut search = Search::new(problem, self.setup.limits());
            let (walks, never) = match search.fewest_walks(watch) {
                Ok((walks, never)) => (Some(walks), never),
                Err(never) => (None, never),
            };
            for target in never {
                let groups = &problem.targets[target as usize].groups;
                if problem.is_pair(target) {
                    untestable.extend(groups);
                } else {
                    let why = WhyUnworked::never(search.is_met_if_void(target, watch));
                    unmet.extend(groups.iter().map(|&group| (group, why)));
                }
            }
            if let Some(walks) = walks {
                engines.push(Box::new(SatEngine { search, walks, request }));
            }
        }
        SatEngines { engines, untestable, unmet }
    }
}

/// A cluster with the fewest walks found.
struct SatEngine<'p> {
    search: Search<'p>,
    walks: Walks,
    request: &'p Request,
}

impl Engine for SatEngine<'_> {
    fn devices(&self) -> &[ClusterDevice] {
        &self.search.problem.members
    }

    fn groups(&self) -> Vec<u32> {
        self.search.problem.targets.iter().flat_map(|target| &target.groups).copied().collect()
    }

    fn fewest_walks(&self) -> FewestWalks {
        FewestWalks { walks: self.walks.settings.len(), at_least: self.walks.at_least }
    }

    fn plan(&mut self, walks: usize, watch: &mut Watch<'_>) -> Option<ClusterPlan> {
        let SatEngine { search, walks: found, request } = self;
        let within = search.fewest_operations(found, walks, request, watch);
        let operations = within.way.cost().operations as usize;
        if request.people == People::One || operations <= walks {
            return Some(within);
        }
        // A plan of fewer operations has no more walks than these: what is proven of so many is proven of any number.
        let most = usize::from(search.limits.walks);
        if operations > most {
            let at_least = Cost { operations: found.at_least as u32, stops: 0 };
            return Some(ClusterPlan { at_least, is_least: false, ..within });
        }
        let any = search.fewest_operations(found, operations, request, watch);
        let is_fewer = any.way.cost().operations < within.way.cost().operations;
        let way = if is_fewer { any.way } else { within.way };
        Some(ClusterPlan { is_least: any.at_least.operations == way.cost().operations, way, at_least: any.at_least })
    }

    fn equal_ways(&mut self, _: usize, _: &ClusterPlan, _: &mut Watch<'_>) -> Option<Vec<ClusterWay>> {
        None
    }

    fn exclusion(&mut self, least: usize, naming: &Naming<'_>, watch: &mut Watch<'_>) -> Option<Exclusion> {
        let SatEngine { search, walks, .. } = self;
        let is_pair = |element: &usize| search.problem.is_pair(search.rounds.elements()[*element].target);
        let pairs: Vec<usize> = walks.exclusive.iter().copied().filter(is_pair).collect();
        (pairs.len() >= least).then(|| search.exclusion(&pairs, naming, watch))
    }

    fn core_of_walks(&mut self, walks: usize, naming: &Naming<'_>, watch: &mut Watch<'_>) -> Option<UnsatisfiableCore> {
        self.search.core_of_walks(walks, naming, watch)
    }

    fn operations_parts(
        &mut self,
        operations: usize,
        walks: usize,
        naming: &Naming<'_>,
        watch: &mut Watch<'_>,
    ) -> Vec<OperationsPart> {
        self.search.operations_part(operations, walks, self.request, naming, watch).into_iter().collect()
    }
}
