//! About how long the work of a plan takes: nothing is chosen by it.

use crate::model::LocationId;
use crate::network::Network;
use crate::plan::answer::{Estimate, Operation, Pace, Plan, Round};
use crate::plan::request::{People, Request};
use crate::plan::schedule::tour::distances::Distances;
use crate::plan::start::PlanStart;

impl Pace {
    fn of(&self, metres: f64, operations: usize, readings: usize) -> f64 {
        metres / self.metres_a_minute * 60.0
            + operations as f64 * self.operation_seconds
            + readings as f64 * self.reading_seconds
    }
}

/// Two people, of whom one walks on while the other reads. Nothing is operated before that is read.
struct Meeting<'n> {
    network: &'n Network,
    /// Where the last round ended, and the seconds that its readings take; none for one person.
    last: Option<(Option<LocationId>, f64)>,
}

impl<'n> Meeting<'n> {
    fn of(network: &'n Network, plan: &Plan) -> Meeting<'n> {
        Meeting { network, last: (plan.people == People::Two).then_some((None, 0.0)) }
    }

    /// The metres of a round's walk that are walked while the round before is read: to its first operation at most.
    fn walked_meanwhile(&mut self, round: &Round, pace: &Pace) -> f64 {
        let Some((from, seconds)) = self.last else { return 0.0 };
        let installation = self.network.installation();
        let place = |operation: Option<&Operation>| {
            installation.point(installation.point_by_id(&operation?.device)?).location()
        };
        let to = place(round.operations.first());
        let leg = from.zip(to).and_then(|(from, to)| Distances::new(installation).between(&[from, to]));
        let leg = leg.map_or(0.0, |between| between[0][1] as f64 / 1e6);
        let here = place(round.operations.last()).or(from);
        self.last = Some((here, round.readings.len() as f64 * pace.reading_seconds));
        if round.walk.is_some() { leg.min(seconds / 60.0 * pace.metres_a_minute) } else { 0.0 }
    }
}

impl Estimate {
    /// Estimates the work of a plan, by the request and the start that it was made for. Time linear in the plan, and that
    /// of [`PlanStart::rooms`].
    ///
    /// ```
    /// use lengthwise::plan::{Estimate, Pace, PlanStart, Request};
    /// use lengthwise::{Input, Need, Network, Plan, read_installation};
    ///
    /// let network = Network::of(read_installation(Input::toml(&std::fs::read("examples/landing.toml")?))?);
    /// let (request, plan) = (Request::from(Need::Standard), Plan::of(&network, None, Need::Standard)?);
    /// let start = PlanStart::of(&network, None, &request)?;
    /// let mut pace = Pace::default();
    /// let usual = Estimate::of(&network, &request, &start, &plan, pace);
    /// pace.reading_seconds *= 2.0;
    /// assert!(Estimate::of(&network, &request, &start, &plan, pace).minutes > usual.minutes);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn of(network: &Network, request: &Request, start: &PlanStart, plan: &Plan, pace: Pace) -> Estimate {
        let minutes = |seconds: f64| (seconds / 60.0).ceil() as u64;
        let extras = plan.extras.as_ref().map(|extras| extras.totals);
        let (rooms, walk) = start.rooms(network, request);
        let out = start.obstacles.iter().filter(|row| row.removable).count();
        let has_work = !plan.rounds.is_empty() || extras.is_some_and(|totals| totals.extras > 0);
        let mut walks_left_out = has_work && walk.is_none() && !rooms.is_empty();
        let out_minutes = match has_work {
            true => {
                let metres = walk.map_or(0.0, |walk| 2.0 * walk.metres.0);
                minutes(pace.of(metres, 0, 0) + out as f64 * pace.out_seconds)
            }
            false => 0,
        };
        let mut meeting = Meeting::of(network, plan);
        let of_round = |round: &Round| {
            let is_read_elsewhere = round.readings.iter().any(|row| row.stop.is_some());
            let has_stops = !round.operations.is_empty() || is_read_elsewhere;
            walks_left_out |= round.walk.is_none() && has_stops || plan.people == People::Two && is_read_elsewhere;
            let metres = round.walk.map_or(0.0, |walk| walk.metres.0) - meeting.walked_meanwhile(round, &pace);
            minutes(pace.of(metres, round.operations.len(), round.readings.len()))
        };
        let round_minutes: Vec<u64> = plan.rounds.iter().map(of_round).collect();
        let extra_minutes = extras.map_or(0, |totals| {
            minutes(pace.of(0.0, totals.operations, totals.readings) + totals.extras as f64 * pace.out_seconds)
        });
        let parts = round_minutes.iter().copied().chain([out_minutes, extra_minutes]);
        let minutes = parts.fold(0, u64::saturating_add);
        Estimate { pace, minutes, out_minutes, round_minutes, extra_minutes, walks_left_out }
    }
}
