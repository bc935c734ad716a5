//! What all clusters do, in the fewest walks and then by the request.

use crate::observer::Watch;
use crate::plan::problem::remaining::Remaining;
use crate::plan::problem::switches::WhyUnworked;
use crate::plan::request::{People, Request};
use crate::plan::schedule::compose::{Schedule, schedule};
use crate::plan::schedule::nearest::WalkLengths;
use crate::plan::schedule::tour::distances::Distances;
use crate::plan::schedule::tour::home::{only_home, start_of_way};
use crate::plan::solve::engine::Engines;
use crate::plan::solve::large::SatProblems;

/// What every cluster does in each walk, and the engines that found it.
pub(in crate::plan) struct Solution<'e> {
    pub(in crate::plan) engines: Engines<'e>,
    pub(in crate::plan) schedule: Schedule,
    /// The pair groups that no setting tests, as a solver found.
    pub(in crate::plan) untestable: Vec<u32>,
    /// Demands that nothing meets, as a solver found.
    pub(in crate::plan) unmet: Vec<(u32, WhyUnworked)>,
}

impl<'e> Solution<'e> {
    pub(in crate::plan) fn find(
        remaining: &'e Remaining<'_>,
        problems: &'e SatProblems<'e>,
        distances: &Distances<'_>,
        request: &'e Request,
        watch: &mut Watch<'_>,
    ) -> Solution<'e> {
        let solved = problems.fewest_walks(request, watch);
        let mut lengths = walk_lengths(remaining, distances, request.people);
        let limits = remaining.setup.limits();
        let (engines, schedule) =
            schedule(&remaining.clusters, solved.engines, request, limits, lengths.as_mut(), watch);
        Solution { engines, schedule, untestable: solved.untestable, unmet: solved.unmet }
    }
}

/// How long walks are, where passages are given and every round starts from the same place.
fn walk_lengths<'d, 'i>(
    remaining: &Remaining<'d>,
    distances: &'d Distances<'i>,
    people: People,
) -> Option<WalkLengths<'d, 'i>> {
    let network = remaining.setup.network;
    let installation = network.installation();
    if installation.passages().is_empty() {
        return None;
    }
    let home = if people == People::Two { start_of_way } else { only_home };
    let home = home(installation, &remaining.setup.candidates)?;
    Some(WalkLengths::new(distances, home, remaining.stops.places(network), remaining.setup.limits()))
}
