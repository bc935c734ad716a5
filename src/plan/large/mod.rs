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

use super::cluster::LargeCluster;
use super::lists::Lists;
use super::naming::Naming;
use super::observer::Watch;
use super::proof::{Core, Exclusion, OperationsPart};
use super::requirement::Untestable;
use super::setup::Setup;
use super::wishes::Wishes;
use crate::network::{Condition, DeviceIndex, Scout};
use problem::Problem;
use search::{Never, Search};
use walks::Walks;

/// The large clusters of a plan, taken apart for the solver.
pub(super) struct Large<'p> {
    setup: &'p Setup<'p>,
    problems: Vec<Problem>,
}

/// The large clusters with the fewest walks found for each.
pub(super) struct LargeWalks<'p> {
    large: &'p Large<'p>,
    searches: Vec<(Search<'p>, Walks)>,
    /// Walks of the plans found.
    pub(super) walks: usize,
    pub(super) walks_at_least: usize,
    /// Pair groups that nothing tests, each with the reason.
    pub(super) untestable: Vec<(u32, Untestable)>,
}

/// What the large clusters do in each walk.
#[derive(Default)]
pub(super) struct LargePlan {
    /// For each walk, the devices operated with their new options.
    pub(super) changes: Vec<Vec<(DeviceIndex, u16)>>,
    /// For each walk, the readings that bear on what is operated.
    pub(super) candidates: Vec<Vec<u32>>,
    /// For each round, that at the start first: what is known of readings beyond what tables tell.
    pub(super) shares: Vec<Vec<KnownShare>>,
    pub(super) cost: Cost,
    /// No plan of as many walks has fewer operations, or, where stops come first, stops.
    pub(super) at_least: Cost,
    /// For each cluster, the operations of `at_least`.
    pub(super) operations: Vec<usize>,
    /// The most stops that one cluster takes at least: clusters may share stops, so theirs don't add up.
    pub(super) stops_of_one: usize,
    /// Whether both are known to be the least, in the order of the wishes.
    pub(super) is_least: bool,
}

/// What a plan costs besides walks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Cost {
    pub(super) operations: usize,
    pub(super) stops: usize,
}

/// A reading that tests a pair group for some starts, where other readings of the plan do for the others.
#[derive(Clone, Copy, Debug)]
pub(super) struct KnownShare {
    pub(super) candidate: u32,
    pub(super) group: u32,
    /// With it the group is tested for every start.
    pub(super) is_last: bool,
}

impl<'p> Large<'p> {
    pub(super) fn new(
        setup: &'p Setup<'p>,
        clusters: &[LargeCluster],
        readings_of: &Lists,
        done_for: impl Fn(u32) -> Option<Condition>,
    ) -> Large<'p> {
        let mut scout = Scout::new(setup.network);
        let problems =
            clusters.iter().map(|cluster| Problem::new(setup, &mut scout, cluster, readings_of, &done_for)).collect();
        Large { setup, problems }
    }

    /// The fewest walks of each cluster, and what nothing tests.
    pub(super) fn fewest_walks(&'p self, watch: &mut Watch<'_>) -> LargeWalks<'p> {
        let mut found =
            LargeWalks { large: self, searches: Vec::new(), walks: 0, walks_at_least: 0, untestable: Vec::new() };
        let mut nevers: Vec<(u32, &Problem, Never)> = Vec::new();
        for problem in &self.problems {
            let mut search = Search::new(problem);
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
    /// The fewest operations and stops, in the order of the wishes, within a number of walks that is not below
    /// [`LargeWalks::walks`]; where everything is put back, the last of them is for that.
    pub(super) fn plan(&mut self, walks: usize, wishes: &Wishes, watch: &mut Watch<'_>) -> LargePlan {
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
            let operations = search.fewest_operations(found, walks, wishes, watch);
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
    pub(super) fn exclusive_count(&self) -> usize {
        self.searches.iter().map(|(_, found)| found.exclusive.len()).max().unwrap_or(0)
    }

    /// The certificate that these exclude one another.
    pub(super) fn exclusion(&mut self, naming: &Naming<'_>, watch: &mut Watch<'_>) -> Option<Exclusion> {
        let most = self.exclusive_count();
        let (search, found) = self.searches.iter_mut().find(|(_, found)| found.exclusive.len() == most)?;
        Some(search.exclusion(&found.exclusive, naming, watch))
    }

    /// Pairs that can't be tested in so many walks.
    pub(super) fn core_of_walks(&mut self, walks: usize, naming: &Naming<'_>, watch: &mut Watch<'_>) -> Option<Core> {
        let (search, _) = self.searches.iter_mut().find(|(_, found)| found.at_least > walks)?;
        search.core_of_walks(walks, naming, watch)
    }

    /// Why each cluster needs as many operations as it does in `plan`, within a number of walks.
    pub(super) fn operations(
        &mut self,
        plan: &LargePlan,
        walks: usize,
        wishes: &Wishes,
        naming: &Naming<'_>,
        watch: &mut Watch<'_>,
    ) -> Vec<OperationsPart> {
        let searches = self.searches.iter_mut().zip(&plan.operations);
        searches
            .filter_map(|((search, _), &operations)| search.operations_part(operations, walks, wishes, naming, watch))
            .collect()
    }
}
