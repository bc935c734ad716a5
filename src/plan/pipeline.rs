//! From a question to a plan: what is still to be tested, how in the fewest walks, which readings, what is proven of
//! that, and what no reading tests.

use rustc_hash::FxHashSet;

use crate::model::{DeviceRef, OtherInstallation, Stands, TestSet};
use crate::network::{Need, Network, PairId};
use crate::observer::{Observer, Stage, Unwatched, Watch};
use crate::plan::answer::{IfKnown, OtherPeople, Plan, Totals, UntestablePair, Unworked};
use crate::plan::naming::Naming;
use crate::plan::problem::remaining::Remaining;
use crate::plan::problem::switches::WhyUnworked;
use crate::plan::proof::claims::claims;
use crate::plan::proof::proving::Proving;
use crate::plan::request::{LeadJoining, People, Request, SwitchWork};
use crate::plan::schedule::readings::selection::Untested;
use crate::plan::schedule::rounds::PlannedRounds;
use crate::plan::schedule::solution::Solution;
use crate::plan::schedule::tour::distances::Distances;
use crate::plan::solve::large::SatProblems;
use crate::plan::untestable::extra::{ExtraSetup, extras};
use crate::plan::untestable::opening::opens;
use crate::plan::untestable::why::{PairReason, reasons};
use crate::reading::Configuration;

impl Plan {
    /// Plans what is still to be done after a test set (or from ready, with none): fewest walks, then fewest
    /// operations, then fewest stops.
    ///
    /// Clusters of devices that bear on one another are searched by listing their settings, to 65,536 (16 devices of
    /// two positions), and beyond by a SAT solver. Exact unless a search runs out of its budget of steps; then the plan
    /// is sound, its bounds are proven, and it says that it is not known to be the least. A plan from unknown positions
    /// holds whatever they were. The stops of a round are in the order of the shortest walk, and of plans that are
    /// equal in all that the nearer is chosen.
    ///
    /// Time: linear in the network and the readings that could be taken, plus for each cluster of s settings and r
    /// requirements O(s r) to list them, and a set-cover search and an A* search, both exponential at worst and
    /// bounded in nodes; space O(s r / 64) words a cluster. For each larger cluster of e contacts and bridges that r
    /// requirements in k readings depend on, a formula of O(w (k e + r)) clauses for w walks, and for unknown positions
    /// as many times more as starts are looked at; asking it is exponential at worst and bounded in steps. Sources: set
    /// cover as integer search (Balas and Ho 1980, in kind), A* (Hart, Nilsson and Raphael 1968), test generation as
    /// satisfiability (Larrabee 1992), answer sets by SAT solvers (Lin and Zhao 2004), counterexample-guided refinement
    /// (Clarke, Grumberg, Jha, Lu and Veith 2003; Janota, Klieber, Marques-Silva and Clarke 2016), totalizers (Bailleux
    /// and Boufkhad 2003).
    ///
    /// # Errors
    ///
    /// Where the test set was checked against another installation: its ids mean nothing in this one.
    pub fn of(network: &Network, test_set: Option<&TestSet>, need: Need) -> Result<Plan, OtherInstallation> {
        Plan::with(network, test_set, &need.into(), &mut Unwatched)
    }

    /// Plans what is still to be done, as [`Plan::of`], as the request asks, and tells an observer how it comes along.
    ///
    /// An observer may stop it; the plan is then the best so far, sound, with bounds that are proven.
    ///
    /// # Errors
    ///
    /// As [`Plan::of`].
    pub fn with(
        network: &Network,
        test_set: Option<&TestSet>,
        request: &Request,
        observer: &mut dyn Observer,
    ) -> Result<Plan, OtherInstallation> {
        planned(network, test_set, request, false, observer)
    }

    /// The same with what two people come to where the request is for one, and one where it is for two
    /// ([`Plan::others`]); left out where an observer stopped it.
    ///
    /// The rounds are searched for twice; what is still to be done is worked out once.
    ///
    /// # Errors
    ///
    /// As [`Plan::of`].
    pub fn with_others(
        network: &Network,
        test_set: Option<&TestSet>,
        request: &Request,
        observer: &mut dyn Observer,
    ) -> Result<Plan, OtherInstallation> {
        planned(network, test_set, request, true, observer)
    }
}

fn planned(
    network: &Network,
    test_set: Option<&TestSet>,
    request: &Request,
    with_others: bool,
    observer: &mut dyn Observer,
) -> Result<Plan, OtherInstallation> {
    let watch = &mut Watch::new(observer);
    let nothing = TestSet::default();
    let test_set = test_set.unwrap_or(&nothing);
    test_set.check_for(network.installation())?;
    let searched = &request.as_searched();
    let remaining = Remaining::new(network, test_set, searched, watch);
    let (mut plan, left) = proven_plan(&remaining, searched, watch);
    left.explain(&mut plan, &remaining, test_set, searched, watch);
    compare_if_known(&mut plan, &remaining, test_set, searched, watch);
    if with_others && !plan.stopped {
        let people = if request.people == People::One { People::Two } else { People::One };
        let others = &request.clone().with_people(people).as_searched();
        let watch = &mut Watch::new(observer);
        // What is still to be done is the same, but for clusters that are merged for the sake of stops.
        let plan_of_others = if others.priority == searched.priority {
            proven_plan(&remaining, others, watch).0
        } else {
            proven_plan(&Remaining::new(network, test_set, others, watch), others, watch).0
        };
        let metres = plan_of_others.metres();
        let Plan { totals, optimal, .. } = plan_of_others;
        plan.others = (!watch.is_stopped()).then_some(OtherPeople { people, totals, optimal, metres });
    }
    Ok(plan)
}

/// What a plan leaves: how devices stand after it, what it tests for some starts only, and the needed pairs that nothing
/// tests.
struct Left {
    configuration: Configuration,
    untested: Untested,
    untestable: Vec<PairId>,
}

/// The rounds with what is proven of them; what is untestable is not told yet.
fn proven_plan(remaining: &Remaining<'_>, request: &Request, watch: &mut Watch<'_>) -> (Plan, Left) {
    let setup = &remaining.setup;
    let network = setup.network;
    let naming = Naming { network, choices: &setup.choices };
    let problems = SatProblems::new(remaining);
    let distances = Distances::new(network.installation());
    let mut solution = Solution::find(remaining, &problems, &distances, request, watch);
    let planned = PlannedRounds::of(remaining, &solution.schedule, &distances, request, watch);
    let (untestable, not_planned) = untested(remaining, &solution, &planned);
    let switches = (request.switches == SwitchWork::Each).then(|| unworked(remaining, &solution, &planned, request));
    let is_planned = |row: &Unworked| row.why != WhyUnworked::NotPlanned;
    let all_planned = not_planned.is_empty() && switches.iter().flatten().all(is_planned);
    let claims = claims(remaining, &solution.schedule, &planned, request, all_planned);
    let totals = Totals::of(&planned.rounds, request.people);
    let mut proving = Proving { solution: &mut solution, naming, watch };
    let why_no_fewer_walks = proving.walks(&claims, totals, planned.left_at_start);
    let why_no_fewer_operations = proving.operations(&claims, totals);
    let usual_readings = (request.joining == LeadJoining::Fewest).then_some(planned.usual_readings);
    let mut optimal = claims.optimal;
    optimal.readings = usual_readings.map(|_| {
        let are_least = planned.rounds.iter().all(|round| round.fewest_readings == Some(true));
        are_least && planned.rounds.len() <= 1 && totals.walks == 0 && not_planned.is_empty()
    });
    let plan = Plan {
        format: 1,
        totals,
        bounds: claims.bounds,
        optimal,
        why_no_fewer_walks,
        why_no_fewer_operations,
        untestable: Vec::new(),
        not_planned: naming.pairs(&not_planned),
        without_role: network.core_names(network.cores_without_role()),
        switches,
        if_known: None,
        extras: None,
        stopped: false,
        people: request.people,
        others: None,
        estimate: None,
        usual_readings,
        rounds: planned.rounds,
    };
    (plan, Left { configuration: planned.configuration, untested: planned.untested, untestable })
}

/// Where each switch is to be worked: those that are not operated, and the positions that do not come under test.
fn unworked(
    remaining: &Remaining<'_>,
    solution: &Solution<'_>,
    planned: &PlannedRounds,
    request: &Request,
) -> Vec<Unworked> {
    let mut rows = remaining.unworked.clone();
    rows.extend(&solution.unmet);
    let is_told: FxHashSet<u32> = rows.iter().map(|row| row.0).collect();
    let is_left = |number: &u32| !planned.tested.contains(*number as usize) && !is_told.contains(number);
    rows.extend(remaining.demands.numbers().filter(is_left).map(|number| (number, WhyUnworked::NotPlanned)));
    remaining.unworked_switches(&rows, request)
}

/// The needed pairs that the rounds do not test: those that nothing tests, and those that are not planned for.
fn untested(remaining: &Remaining<'_>, solution: &Solution<'_>, planned: &PlannedRounds) -> (Vec<PairId>, Vec<PairId>) {
    let group = |pair: PairId| remaining.setup.network.pair_group(pair);
    let nothing_tests: FxHashSet<u32> = remaining.untestable.iter().chain(&solution.untestable).copied().collect();
    let (untestable, others): (Vec<PairId>, Vec<PairId>) =
        remaining.coverage.missed().partition(|&pair| nothing_tests.contains(&group(pair)));
    let not_planned = others.into_iter().filter(|&pair| !planned.tested.contains(group(pair) as usize)).collect();
    (untestable, not_planned)
}

impl Left {
    /// What would change that pairs are untestable, and the extras that are used for it.
    fn explain(
        self,
        plan: &mut Plan,
        remaining: &Remaining<'_>,
        test_set: &TestSet,
        request: &Request,
        watch: &mut Watch<'_>,
    ) {
        let Remaining { setup, coverage, .. } = remaining;
        let installation = setup.network.installation();
        let group_of = |pair: PairId| setup.network.pair_group(pair);
        let mut groups: Vec<u32> = self.untestable.iter().map(|&pair| group_of(pair)).collect();
        groups.sort_unstable();
        groups.dedup();
        let opens = opens(setup.network, coverage, test_set, request, &groups, watch);
        let reasons = reasons(setup, coverage, request, &groups, watch);
        let naming = Naming { network: setup.network, choices: &setup.choices };
        for &pair in &self.untestable {
            let PairReason { why, devices } = &reasons[&group_of(pair)];
            let lifted = opens.get(&group_of(pair)).into_iter().flatten();
            plan.untestable.push(UntestablePair {
                devices: devices.iter().map(|&device| setup.network.device_name(device)).collect(),
                opens_with: lifted.map(|restriction| restriction.name(installation)).collect(),
                ..UntestablePair::new(naming.pair(pair), *why)
            });
        }
        let starting = ExtraSetup::new(setup, request, self.configuration, self.untested, &self.untestable);
        plan.extras = extras(starting, &self.untestable, &mut plan.untestable, watch);
        note_stopped(plan, watch);
    }
}

/// Plans once more as if the switches that nobody knows the position of had stood in their first position from the
/// start.
fn compare_if_known(
    plan: &mut Plan,
    remaining: &Remaining<'_>,
    test_set: &TestSet,
    request: &Request,
    watch: &mut Watch<'_>,
) {
    let network = remaining.setup.network;
    let points = remaining.setup.choices.unknown_points(network);
    if points.is_empty() {
        return;
    }
    let mut known = test_set.clone();
    known.stamp = Some(network.installation().stamp);
    for &point in &points {
        let device = DeviceRef::Point(point);
        known.start_positions.retain(|entry| entry.0 != device);
        known.start_positions.push((device, Stands::At(0)));
    }
    watch.as_part_of(Stage::IfKnown);
    let (known, left) = proven_plan(&Remaining::new(network, &known, request, watch), request, watch);
    note_stopped(plan, watch);
    if !plan.stopped {
        let points = points.into_iter().map(|point| network.installation().point(point).id().to_owned()).collect();
        let untestable = left.untestable.len();
        plan.if_known = Some(IfKnown { points, totals: known.totals, optimal: known.optimal, untestable });
    }
}

/// A plan that was stopped does not say that its readings are the fewest.
fn note_stopped(plan: &mut Plan, watch: &Watch<'_>) {
    plan.stopped = watch.is_stopped();
    plan.optimal.readings = plan.optimal.readings.map(|are_fewest| are_fewest && !plan.stopped);
}
