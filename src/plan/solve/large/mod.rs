//! Clusters of devices with too many settings to list: the fewest walks, operations and stops by asking a solver.

mod formula;
mod operations;
mod order;
mod problem;
mod proof;
mod reason;
mod rounds;
mod search;
mod starts;
mod walks;

use crate::network::DeviceIndex;
use crate::network::Lists;
use crate::plan::observer::Watch;
use crate::plan::problem::cluster::LargeCluster;
use crate::plan::problem::requirement::Untestable;
use crate::plan::problem::setup::Setup;
use crate::plan::proof::certificate::{Core, Exclusion, OperationsPart};
use crate::plan::proof::naming::Naming;
use crate::plan::request::Request;
use crate::reading::{Condition, Probe};
use problem::Problem;
use search::{Never, Search};
use walks::Walks;

/// The large clusters of a plan, taken apart for the solver.
pub(in crate::plan) struct Large<'p> {
    setup: &'p Setup<'p>,
    problems: Vec<Problem>,
}

/// The large clusters with the fewest walks found for each.
pub(in crate::plan) struct LargeWalks<'p> {
    large: &'p Large<'p>,
    searches: Vec<(Search<'p>, Walks)>,
    /// Walks of the plans found.
    pub(in crate::plan) walks: usize,
    pub(in crate::plan) walks_at_least: usize,
    /// Pair groups that nothing tests, each with the reason.
    pub(in crate::plan) untestable: Vec<(u32, Untestable)>,
}

/// What the large clusters do in each walk.
#[derive(Default)]
pub(in crate::plan) struct LargePlan {
    /// For each walk, the devices operated with their new options.
    pub(in crate::plan) changes: Vec<Vec<(DeviceIndex, u16)>>,
    /// For each walk, the readings that bear on what is operated.
    pub(in crate::plan) candidates: Vec<Vec<u32>>,
    /// For each round, that at the start first: what is known of readings beyond what tables tell.
    pub(in crate::plan) shares: Vec<Vec<KnownShare>>,
    pub(in crate::plan) cost: Cost,
    /// No plan of as many walks has fewer operations, or, where stops come first, stops.
    pub(in crate::plan) at_least: Cost,
    /// For each cluster, the operations of `at_least`.
    pub(in crate::plan) operations: Vec<usize>,
    /// The most stops that one cluster takes at least: clusters may share stops, so theirs don't add up.
    pub(in crate::plan) stops_of_one: usize,
    /// Whether both are known to be the least, in the order of the request.
    pub(in crate::plan) is_least: bool,
}

/// What a plan costs besides walks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(in crate::plan) struct Cost {
    pub(in crate::plan) operations: usize,
    pub(in crate::plan) stops: usize,
}

/// A reading that tests a pair group for some starts, where other readings of the plan do for the others.
#[derive(Clone, Copy, Debug)]
pub(in crate::plan) struct KnownShare {
    pub(in crate::plan) candidate: u32,
    pub(in crate::plan) group: u32,
    /// With it the group is tested for every start.
    pub(in crate::plan) is_last: bool,
}

impl<'p> Large<'p> {
    pub(in crate::plan) fn new(
        setup: &'p Setup<'p>,
        clusters: &[LargeCluster],
        readings_of: &Lists,
        done_for: impl Fn(u32) -> Option<Condition>,
    ) -> Large<'p> {
        let mut probe = Probe::new(setup.network);
        let problems =
            clusters.iter().map(|cluster| Problem::new(setup, &mut probe, cluster, readings_of, &done_for)).collect();
        Large { setup, problems }
    }

    /// The fewest walks of each cluster, and what nothing tests.
    pub(in crate::plan) fn fewest_walks(&'p self, watch: &mut Watch<'_>) -> LargeWalks<'p> {
        let mut found =
            LargeWalks { large: self, searches: Vec::new(), walks: 0, walks_at_least: 0, untestable: Vec::new() };
        let mut nevers: Vec<(u32, &Problem, Never)> = Vec::new();
        for problem in &self.problems {
            let mut search = Search::new(problem, self.setup.limits());
            let (walks, never) = match search.fewest_walks(watch) {
                Ok((walks, never)) => (Some(walks), never),
                Err(never) => (None, never),
            };
            for never in never {
                let groups = &problem.targets[never.target as usize].groups;
                nevers.extend(groups.iter().map(|&group| (group, problem, never.clone())));
            }
            let Some(walks) = walks else { continue };
            found.walks = found.walks.max(walks.settings.len());
            found.walks_at_least = found.walks_at_least.max(walks.at_least);
            found.searches.push((search, walks));
        }
        found.untestable = reason::reasons(self.setup, &nevers, watch);
        found
    }
}

impl LargeWalks<'_> {
    /// The fewest operations and stops, in the order of the request, within a number of walks that is not below
    /// [`LargeWalks::walks`]; where everything is put back, the last of them is for that.
    pub(in crate::plan) fn plan(&mut self, walks: usize, request: &Request, watch: &mut Watch<'_>) -> LargePlan {
        let mut plan = LargePlan {
            changes: vec![Vec::new(); walks],
            candidates: vec![Vec::new(); walks],
            shares: vec![Vec::new(); walks + 1],
            cost: Cost::default(),
            at_least: Cost::default(),
            stops_of_one: 0,
            operations: Vec::new(),
            is_least: self.large.problems.len() == self.searches.len(),
        };
        for (search, found) in &mut self.searches {
            let operations = search.fewest_operations(found, walks, request, watch);
            for (sum, part) in [(&mut plan.cost, operations.cost), (&mut plan.at_least, operations.at_least)] {
                sum.operations += part.operations;
                sum.stops += part.stops;
            }
            plan.operations.push(operations.at_least.operations);
            plan.stops_of_one = plan.stops_of_one.max(operations.at_least.stops);
            plan.is_least &= operations.is_least;
            let problem = search.problem;
            for share in search.shares(&operations.settings, watch) {
                let candidate = problem.readings[share.reading as usize].candidate;
                let groups = &problem.targets[share.target as usize].groups;
                plan.shares[share.setting].extend(groups.iter().map(|&group| KnownShare {
                    candidate,
                    group,
                    is_last: share.is_last,
                }));
            }
            let mut before = problem.start_options();
            for (walk, after) in operations.settings.into_iter().enumerate() {
                let changed = (0..before.len()).filter(|&member| before[member] != after[member]);
                let changes: Vec<(DeviceIndex, u16)> =
                    changed.map(|member| (problem.members[member].device, after[member])).collect();
                if !changes.is_empty() {
                    plan.candidates[walk].extend(problem.readings.iter().map(|reading| reading.candidate));
                }
                plan.changes[walk].extend(changes);
                before = after;
            }
        }
        plan
    }
    /// How many pairs are known no two of which are tested in one setting, in the cluster that has the most.
    pub(in crate::plan) fn exclusive_count(&self) -> usize {
        self.searches.iter().map(|(_, found)| found.exclusive.len()).max().unwrap_or(0)
    }

    /// The certificate that these exclude one another.
    pub(in crate::plan) fn exclusion(&mut self, naming: &Naming<'_>, watch: &mut Watch<'_>) -> Option<Exclusion> {
        let most = self.exclusive_count();
        let (search, found) = self.searches.iter_mut().find(|(_, found)| found.exclusive.len() == most)?;
        Some(search.exclusion(&found.exclusive, naming, watch))
    }

    /// Pairs that can't be tested in so many walks.
    pub(in crate::plan) fn core_of_walks(
        &mut self,
        walks: usize,
        naming: &Naming<'_>,
        watch: &mut Watch<'_>,
    ) -> Option<Core> {
        let (search, _) = self.searches.iter_mut().find(|(_, found)| found.at_least > walks)?;
        search.core_of_walks(walks, naming, watch)
    }

    /// Why each cluster needs as many operations as it does in `plan`, within a number of walks.
    pub(in crate::plan) fn operations(
        &mut self,
        plan: &LargePlan,
        walks: usize,
        request: &Request,
        naming: &Naming<'_>,
        watch: &mut Watch<'_>,
    ) -> Vec<OperationsPart> {
        let searches = self.searches.iter_mut().zip(&plan.operations);
        searches
            .filter_map(|((search, _), &operations)| search.operations_part(operations, walks, request, naming, watch))
            .collect()
    }
}
