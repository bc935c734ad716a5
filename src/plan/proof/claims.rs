//! Proven lower bounds of a whole plan, and what of it meets them.

use crate::model::Metres;
use crate::plan::answer::{Bounds, Optimal, Totals};
use crate::plan::problem::remaining::Remaining;
use crate::plan::request::{Afterwards, Priority, Request};
use crate::plan::schedule::compose::Schedule;
use crate::plan::schedule::nearest::Nearness;
use crate::plan::schedule::rounds::PlannedRounds;
use crate::plan::schedule::tour::search::Micrometres;

/// What is proven of a plan's figures.
pub(in crate::plan) struct ProvenFigures {
    pub(in crate::plan) bounds: Bounds,
    /// Of readings nothing is claimed yet: that depends on what is not planned.
    pub(in crate::plan) optimal: Optimal,
    /// Of the walks, one that puts back what was operated for readings, where that is asked for.
    pub(in crate::plan) last_walk: usize,
}

/// `all_planned`: nothing is left out for being too large.
pub(in crate::plan) fn claims(
    remaining: &Remaining<'_>,
    schedule: &Schedule,
    planned: &PlannedRounds,
    request: &Request,
    all_planned: bool,
) -> ProvenFigures {
    let totals = Totals::of(&planned.rounds);
    // What was not looked at can only add to what is needed.
    let left = usize::from(planned.left_at_start.is_some());
    // What is operated for a reading is put back in a walk of its own.
    let last_walk = usize::from(request.afterwards == Afterwards::AsFound && schedule.walks_at_least.max(left) > 0);
    let walks_at_least = (left + last_walk).max(schedule.walks_at_least);
    let operations_at_least = (schedule.at_least.operations as usize).max(walks_at_least);
    let stops_at_least = (schedule.at_least.stops as usize).max(walks_at_least);
    let walks = all_planned && totals.walks == walks_at_least;
    let (operations, stops) = match request.priority {
        Priority::Operations => {
            let operations = walks && totals.operations == operations_at_least;
            (operations, operations && schedule.is_searched && schedule.shares_best)
        }
        Priority::Stops => {
            let stops = walks && totals.stops == stops_at_least;
            let is_least =
                schedule.is_searched && schedule.is_apart && totals.operations == schedule.operations as usize;
            (stops && (is_least || totals.operations == operations_at_least), stops)
        }
    };
    let has_passages = !remaining.setup.network.installation().passages().is_empty();
    let metres = has_passages.then(|| match schedule.nearness {
        Nearness::Proven(least) => stops && operations && walked(planned) == Some(least),
        // Where nothing is operated there is nothing to walk.
        Nearness::Unknown => walks && totals.walks == 0,
    });
    let bounds = Bounds { walks: walks_at_least, operations: operations_at_least, stops: stops_at_least };
    ProvenFigures { bounds, optimal: Optimal { walks, operations, stops, metres, readings: None }, last_walk }
}

/// All walks together, where each is in a shortest order.
fn walked(planned: &PlannedRounds) -> Option<Micrometres> {
    let micrometres = |metres: Metres| (metres.0 * 1e6).round() as Micrometres;
    let walked = planned.rounds.iter().map(|round| match round.walk {
        Some(walk) => walk.shortest.then(|| micrometres(walk.metres)),
        None => round.operations.is_empty().then_some(0),
    });
    walked.sum()
}
