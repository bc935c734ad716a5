//! Proven lower bounds of a whole plan, and what of it meets them.

use crate::model::Stop;
use crate::plan::answer::{Bounds, Optimal, Totals, WalkLength};
use crate::plan::problem::remaining::Remaining;
use crate::plan::request::{Afterwards, Priority, Request};
use crate::plan::schedule::compose::{PartStops, Schedule};
use crate::plan::schedule::nearest::Nearness;
use crate::plan::schedule::one_way::OneWay;
use crate::plan::schedule::rounds::PlannedRounds;
use crate::plan::schedule::tour::home::only_home;
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
    let totals = Totals::of(&planned.rounds, request.people);
    // What was not looked at can only add to what is needed.
    let left = usize::from(planned.left_at_start.is_some());
    // What is operated for a reading is put back in a walk of its own.
    let last_walk = usize::from(request.afterwards == Afterwards::AsFound && schedule.walks_at_least.max(left) > 0);
    let walks_at_least = (left + last_walk).max(schedule.walks_at_least);
    if let Some(way) = &schedule.one_way {
        return claims_of_two(remaining, schedule, way, planned, totals, (walks_at_least, last_walk), all_planned);
    }
    let sources = SourceStops { remaining, schedule };
    // What is left out may ask for more walks, and in more walks fewer operations and stops may do.
    let for_these_walks = |least: usize| if all_planned { least } else { 0 };
    let operations_at_least = for_these_walks(schedule.at_least.operations as usize).max(walks_at_least);
    let stops_at_least = for_these_walks(sources.at_least(|part| part.at_least)).max(walks_at_least);
    let reads_at_sources = planned.rounds.iter().flat_map(|round| &round.readings).any(|reading| reading.at.is_some());
    let walks = all_planned && totals.walks == walks_at_least;
    let (operations, stops) = match request.priority {
        Priority::Operations => {
            let operations = walks && totals.operations == operations_at_least;
            // Of plans of as few operations none visits the stops of the clusters less often.
            let is_least = !reads_at_sources || totals.stops == sources.at_least(|part| part.visits);
            (operations, operations && schedule.is_searched && schedule.shares_best && is_least)
        }
        Priority::Stops => {
            let stops = walks && totals.stops == stops_at_least;
            let is_least = schedule.is_searched
                && schedule.is_apart
                && !reads_at_sources
                && totals.operations == schedule.operations as usize;
            (stops && (is_least || totals.operations == operations_at_least), stops)
        }
    };
    let has_passages = !remaining.setup.network.installation().passages().is_empty();
    let metres = has_passages.then(|| match schedule.nearness {
        // Where every stop is one that every plan makes, the shortest walk past them is the least.
        _ if reads_at_sources => {
            let home = only_home(remaining.setup.network.installation(), &remaining.setup.candidates);
            walks
                && stops
                && totals.walks == 0
                && home.is_some()
                && sources.are_all(totals.stops)
                && walked(planned).is_some()
        }
        Nearness::Proven(least) => stops && operations && walked(planned) == Some(least),
        // Where nothing is operated there is nothing to walk.
        Nearness::Unknown => walks && totals.walks == 0,
    });
    let bounds = Bounds { walks: walks_at_least, operations: operations_at_least, stops: stops_at_least };
    ProvenFigures { bounds, optimal: Optimal { walks, operations, stops, metres, readings: None }, last_walk }
}

/// For two people, of whom one goes round: walks settle nothing, and are told by themselves.
fn claims_of_two(
    remaining: &Remaining<'_>,
    schedule: &Schedule,
    way: &OneWay,
    planned: &PlannedRounds,
    totals: Totals,
    (walks_at_least, last_walk): (usize, usize),
    all_planned: bool,
) -> ProvenFigures {
    // Each walk has an operation, and there are no fewer walks.
    let of_clusters = if all_planned { schedule.at_least.operations as usize } else { 0 };
    let operations_at_least = of_clusters.max(walks_at_least);
    let operations = all_planned && totals.operations == operations_at_least;
    let walked: Micrometres = planned.rounds.iter().filter_map(|round| round.walk).map(micrometres).sum();
    let is_least = operations
        && way.is_least
        && totals.operations == schedule.operations as usize
        && totals.stops == way.stops as usize;
    let has_passages = !remaining.setup.network.installation().passages().is_empty();
    let metres = has_passages.then(|| is_least && (totals.operations == 0 || way.length == Some(walked)));
    let stops = is_least && metres.is_none_or(|are_least| are_least || way.length.is_none());
    let stops_at_least =
        if stops && way.length.is_none() { totals.stops } else { usize::from(operations_at_least > 0) };
    let bounds = Bounds { walks: walks_at_least, operations: operations_at_least, stops: stops_at_least };
    let walks = all_planned && totals.walks == walks_at_least;
    ProvenFigures { bounds, optimal: Optimal { walks, operations, stops, metres, readings: None }, last_walk }
}

/// Stops of clusters together with those where sources are read at.
struct SourceStops<'c, 'n> {
    remaining: &'c Remaining<'n>,
    schedule: &'c Schedule,
}

impl SourceStops<'_, '_> {
    /// How many stops there are at least, where clusters that share stops make so many there.
    ///
    /// A visit may be for both a switch and a source, so at the stops of such clusters the greater number counts; other
    /// stops come on top of that.
    fn at_least(&self, of_part: impl Fn(&PartStops) -> u32) -> usize {
        let Remaining { stops, least_visits, .. } = self.remaining;
        let read = |is_one: &dyn Fn(u32) -> bool| -> u32 {
            least_visits.iter().filter(|row| is_one(stops.number(row.0))).map(|row| row.1).sum()
        };
        let parts = &self.schedule.by_part;
        let of_parts =
            parts.iter().map(|part| of_part(part).max(read(&|stop| part.stops.contains(&stop)))).sum::<u32>();
        let elsewhere = read(&|stop| parts.iter().all(|part| !part.stops.contains(&stop)));
        (of_parts.max(self.schedule.stops_together) + elsewhere) as usize
    }

    /// Whether so many stops are just those that must be read at, and it is known where each is: the points of a plate
    /// may be anywhere.
    fn are_all(&self, stops: usize) -> bool {
        let least_visits = &self.remaining.least_visits;
        least_visits.len() == stops && least_visits.iter().all(|row| !matches!(row.0, Stop::Plate(_)))
    }
}

/// All walks together, where each is in a shortest order.
fn walked(planned: &PlannedRounds) -> Option<Micrometres> {
    let walked = planned.rounds.iter().map(|round| match round.walk {
        Some(walk) => walk.shortest.then(|| micrometres(walk)),
        None => (round.stops() == 0).then_some(0),
    });
    walked.sum()
}

fn micrometres(walk: WalkLength) -> Micrometres {
    (walk.metres.0 * 1e6).round() as Micrometres
}
