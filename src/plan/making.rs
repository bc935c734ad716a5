//! How a plan is made: what is still to be tested, the clusters, their schedule, the readings of each round.

use rustc_hash::FxHashMap;

use crate::coverage::Tested;
use crate::model::{DeviceRef, Installation, LocationId, PointId, Stop, TestSet};
use crate::network::{DeviceIndex, Need, Network};
use crate::plan::if_known::{IfKnown, with_known_start};
use crate::plan::observer::{Observer, Unwatched, Watch};
use crate::plan::planner::{Operation, Plan, PlannedReading, Round, UntestablePair};
use crate::plan::problem::cluster::{self, Shape};
use crate::plan::problem::option::{Fleet, OptionKind};
use crate::plan::problem::requirement::{Element, Outlook, gather};
use crate::plan::problem::setup::Setup;
use crate::plan::problem::switches::{Demand, Demands, Unworked, WhyUnworked, not_operated};
use crate::plan::proof::certificate::{WhyNoFewerOperations, WhyNoFewerWalks};
use crate::plan::proof::naming::Naming;
use crate::plan::proof::proving::Proving;
use crate::plan::request::{Afterwards, LeadJoining, Priority, Request, SwitchWork};
use crate::plan::schedule::compose::schedule;
use crate::plan::schedule::joining::Joining;
use crate::plan::schedule::nearest::{Nearness, WalkLengths};
use crate::plan::schedule::selection::{Taken, Trial, select_readings};
use crate::plan::schedule::tour::Distances;
use crate::plan::solve::large::SatProblems;
use crate::plan::untestable::extra::extras;
use crate::plan::untestable::opening;
use crate::reading::{CandidateReading, Configuration, DeviceState};

impl<'n> Plan<'n> {
    /// Plans what is still to be done after a test set (or from ready, with none): fewest walks, then fewest operations,
    /// then fewest stops.
    ///
    /// Clusters of devices that bear on one another are searched by listing their settings, to 65,536 (16 devices of two
    /// positions), and beyond by a SAT solver. Exact unless a search runs out of its budget of steps; then the plan is
    /// sound, its bounds are proven, and it says that it is not known to be the least. A plan from unknown positions holds whatever they were. The stops of
    /// a round are in the order of the shortest walk, and of plans that are equal in all that the nearer is chosen.
    ///
    /// Time: linear in the network and the readings that could be taken, plus for each cluster of s settings and r
    /// requirements O(s r) to list them, and a set-cover search and an A* search, both exponential at worst and
    /// bounded in nodes; space O(s r / 64) words a cluster. For each larger cluster of e contacts and bridges that r
    /// requirements in k readings depend on, a formula of O(w (k e + r)) clauses for w walks, and for unknown positions as
    /// many times more as starts are looked at; asking it is exponential at worst and bounded in steps. Sources: set
    /// cover as integer search (Balas and Ho 1980, in kind), A* (Hart, Nilsson and Raphael 1968), test generation as
    /// satisfiability (Larrabee 1992), answer sets by SAT solvers (Lin and Zhao 2004), counterexample-guided refinement
    /// (Clarke, Grumberg, Jha, Lu and Veith 2003; Janota, Klieber, Marques-Silva and Clarke 2016), totalizers (Bailleux
    /// and Boufkhad 2003).
    ///
    /// # Panics
    ///
    /// Where the test set was checked against another installation: its ids mean nothing in this one.
    pub fn of(network: &'n Network, test_set: Option<&TestSet>, need: Need) -> Plan<'n> {
        Plan::with(network, test_set, &need.into(), &mut Unwatched)
    }

    /// Plans what is still to be done, as [`Plan::of`], by these request, and tells an observer how it comes along.
    ///
    /// An observer may stop it; the plan is then the best so far, sound, with bounds that are proven.
    ///
    /// # Panics
    ///
    /// As [`Plan::of`].
    pub fn with(
        network: &'n Network,
        test_set: Option<&TestSet>,
        request: &Request,
        observer: &mut dyn Observer,
    ) -> Plan<'n> {
        let watch = &mut Watch::new(observer);
        let nothing = TestSet::default();
        let test_set = test_set.unwrap_or(&nothing);
        let (mut plan, unknown) = Plan::made(network, test_set, request, watch);
        if let Some((points, known)) = with_known_start(network, test_set, unknown) {
            watch.compare();
            let (known, _) = Plan::made(network, &known, request, watch);
            plan.stopped = watch.is_stopped();
            if !plan.stopped {
                let (totals, optimal, untestable) = (known.totals(), known.optimal(), known.untestable.len());
                plan.if_known = Some(IfKnown { points, totals, optimal, untestable });
            }
        }
        plan
    }

    /// Makes a plan, and tells the points that it may operate and that nobody knows the position of.
    fn made(
        network: &'n Network,
        test_set: &TestSet,
        request: &Request,
        watch: &mut Watch<'_>,
    ) -> (Plan<'n>, Vec<PointId>) {
        let need = request.need;
        let limits = &network.limits().plan;
        let coverage = Tested::by(network, test_set, need);
        let setup = Setup::new(network, &coverage, test_set, request);
        let Setup { start, fleet, candidates, .. } = &setup;
        let naming = Naming { network, fleet };
        let demands = Demands::new(network, &coverage, test_set, fleet, request);
        let requirements = gather(&setup, &coverage, &demands, request.search, watch);

        let mut sometimes = Vec::new();
        let mut untestable_groups = FxHashMap::default();
        let mut unworked = Vec::new();
        for (group, outlook) in requirements.groups {
            match outlook {
                Outlook::Always => {}
                Outlook::Sometimes(tables) => sometimes.push((group, Shape::Tables(tables))),
                Outlook::Never(why) if demands.get(group).is_some() => unworked.push((group, WhyUnworked::from(why))),
                Outlook::TooLarge(_) | Outlook::Open if demands.get(group).is_some() => {
                    unworked.push((group, WhyUnworked::NotPlanned));
                }
                Outlook::Never(why) => {
                    untestable_groups.insert(group, why);
                }
                Outlook::TooLarge(devices) => sometimes.push((group, Shape::Devices(devices))),
                Outlook::Open => {}
            }
        }
        let moves = demands.moves(fleet).into_iter();
        sometimes
            .extend(moves.map(|(number, holds)| (number, Shape::Tables(vec![Element { holds, start: Vec::new() }]))));
        let stops = Stops::new(network);
        let first_demand = network.group_count() as u32;
        let clusters = cluster::form(fleet, |device| stops.of(device), first_demand, sometimes, request);
        let done_for = |group: u32| coverage.partly_tested(group).cloned();
        let problems = SatProblems::new(&setup, &clusters.large, &requirements.readings, done_for);
        let solved = problems.fewest_walks(request, watch);
        untestable_groups.extend(solved.untestable);
        let distances = Distances::new(network.installation());
        let mut lengths = walk_lengths(network, &distances, candidates, &stops);
        let (mut engines, schedule) = schedule(&clusters, solved.engines, request, limits, lengths.as_mut(), watch);

        let mut trials = vec![Trial {
            changes: Vec::new(),
            candidates: (0..candidates.len() as u32).collect(),
            shares: schedule.shares_at_start.clone(),
        }];
        let mut standing = start.clone();
        for walk in &schedule.walks {
            let groups = walk.groups.iter();
            let mut numbers: Vec<u32> = groups.flat_map(|&group| requirements.readings.at(group)).copied().collect();
            numbers.sort_unstable();
            numbers.dedup();
            let mut changes = walk.changes.clone();
            changes.sort_unstable();
            trials.push(Trial { changes, candidates: numbers, shares: walk.shares.clone() });
        }

        let selection = select_readings(&setup, &coverage, &trials, &demands, watch);
        let mut joining = (request.joining == LeadJoining::Fewest).then(|| Joining::new(&setup));
        let mut usual_readings = 0;
        let mut rounds = Vec::new();
        let mut pending: Vec<(DeviceIndex, u16)> = Vec::new();
        // A round without a reading is walked from where the one before was, or else the next would be.
        let mut last_home = only_home(network.installation(), candidates);
        for (trial, readings) in trials.iter().zip(selection.readings) {
            pending.retain(|change| trial.changes.iter().all(|later| later.0 != change.0));
            pending.extend(&trial.changes);
            // What is operated for no reading is left to the round that reads next, unless it is wished for itself.
            let is_wished = request.switches == SwitchWork::Each && !trial.changes.is_empty();
            if readings.is_empty() && !is_wished {
                continue;
            }
            let mut operations = operations(network, fleet, &mut standing, &std::mem::take(&mut pending));
            let readings: Vec<PlannedReading> = readings
                .into_iter()
                .map(|Taken { number, pairs: adds, positions }| {
                    let positions = positions.into_iter().map(|at| position_of(network, at)).collect();
                    let CandidateReading { circuit, reading, volts, .. } = &candidates[number as usize];
                    PlannedReading { circuit: *circuit, reading: reading.clone(), volts: *volts, adds, positions }
                })
                .collect();
            if operations.is_empty() && readings.is_empty() {
                continue;
            }
            usual_readings += readings.len();
            let (readings, fewest_readings) = match &mut joining {
                None => (readings, None),
                Some(joining) => {
                    let joined = joining.join(&standing, readings);
                    (joined.readings, Some(joined.is_least))
                }
            };
            let home = home(network.installation(), &readings);
            let home = home.or(last_home);
            let tour = if operations.is_empty() { None } else { distances.order(home, &mut operations, limits, watch) };
            last_home = home.or(last_home);
            rounds.push(Round { operations, readings, tour, fewest_readings });
        }
        if request.afterwards == Afterwards::AsFound {
            let moved = moved(fleet, &standing);
            let mut operations = operations(network, fleet, &mut standing, &moved);
            if !operations.is_empty() {
                let tour = distances.order(last_home, &mut operations, limits, watch);
                let fewest_readings = joining.is_some().then_some(true);
                rounds.push(Round { operations, readings: Vec::new(), tour, fewest_readings });
            }
        }

        let mut closed: Vec<u32> = untestable_groups.keys().copied().collect();
        closed.sort_unstable();
        let opens = opening::opens(network, &coverage, test_set, request, &closed, watch);
        let mut untestable = Vec::new();
        let mut not_planned = Vec::new();
        for pair in coverage.missed() {
            let group = network.pair_group(pair);
            match untestable_groups.get(&group) {
                Some(&why) => untestable.push(UntestablePair { pair, why }),
                None if !selection.tested.contains(group as usize) => not_planned.push(pair),
                None => {}
            }
        }
        let extras = (!request.allow.is_empty()).then(|| extras(&setup, request, &untestable, &mut standing, watch));
        let switches = (request.switches == SwitchWork::Each).then(|| {
            let planned = clusters.large.iter().flat_map(|cluster| &cluster.unplanned_demands);
            unworked.extend(planned.map(|&number| (number, WhyUnworked::NotPlanned)));
            let mut rows = not_operated(network, start, fleet, request);
            rows.extend(unworked.iter().map(|&(number, why)| match demands.get(number) {
                Some(Demand::UnderTest { device, position }) => {
                    let (point, position) = position_of(network, (device, position));
                    Unworked { point, position: Some(position), why }
                }
                Some(Demand::Moved { device, .. }) => {
                    Unworked { point: position_of(network, (device, 0)).0, position: None, why }
                }
                None => unreachable!("only demands are listed"),
            }));
            rows.sort_by_key(|row| row.point);
            rows.dedup();
            rows
        });
        let walks = rounds.iter().filter(|round| !round.operations.is_empty()).count();
        let operation_count: usize = rounds.iter().map(|round| round.operations.len()).sum();
        // What was not looked at can only add to what is needed.
        let mut walks_at_least = usize::from(selection.left_at_start.is_some());
        // What is operated for a reading is put back in a walk of its own.
        let last =
            usize::from(request.afterwards == Afterwards::AsFound && schedule.walks_at_least.max(walks_at_least) > 0);
        walks_at_least = (walks_at_least + last).max(schedule.walks_at_least);
        let operations_at_least = (schedule.at_least.operations as usize).max(walks_at_least);
        let stops_at_least = (schedule.at_least.stops as usize).max(walks_at_least);
        let all_planned = not_planned.is_empty()
            && switches.iter().flatten().all(|row: &Unworked| row.why != WhyUnworked::NotPlanned);
        let walks_optimal = all_planned && walks == walks_at_least;
        let stop_count: usize = rounds.iter().map(Round::stops).sum();
        let (operations_optimal, stops_optimal) = match request.priority {
            Priority::Operations => {
                let operations = walks_optimal && operation_count == operations_at_least;
                (operations, operations && schedule.is_searched && schedule.shares_best)
            }
            Priority::Stops => {
                let stops = walks_optimal && stop_count == stops_at_least;
                let is_least =
                    schedule.is_searched && schedule.is_apart && operation_count == schedule.operations as usize;
                (stops && (is_least || operation_count == operations_at_least), stops)
            }
        };
        let metres_optimal = (!network.installation().passages().is_empty()).then(|| {
            let walked = |round: &Round| match round.tour {
                Some(tour) if tour.is_shortest => Some(tour.micrometres()),
                Some(_) => None,
                None => round.operations.is_empty().then_some(0),
            };
            let all: Option<i64> = rounds.iter().map(walked).sum();
            match schedule.nearness {
                Nearness::Proven(least) => stops_optimal && operations_optimal && all == Some(least),
                // Where nothing is operated there is nothing to walk.
                Nearness::Unknown => walks_optimal && walks == 0,
            }
        });
        let mut proving = Proving { engines: &mut engines, schedule: &schedule, naming: &naming, watch };
        let why_no_fewer_walks = match (walks_optimal, walks.saturating_sub(last), selection.left_at_start) {
            (false, _, _) => WhyNoFewerWalks::NotProven,
            (true, 0, _) => WhyNoFewerWalks::NothingToOperate,
            (true, 1, Some(group)) => WhyNoFewerWalks::LeftAtStart(naming.pair(group)),
            (true, read, _) => proving.walks(read),
        };
        let why_no_fewer_operations = match (operations_optimal, operation_count) {
            (false, _) => WhyNoFewerOperations::NotProven,
            (true, 0) => WhyNoFewerOperations::NothingToOperate,
            (true, _) => proving.operations(operation_count, walks),
        };
        let unknown = fleet.unknown_points(network);
        let plan = Plan {
            network,
            request: request.clone(),
            opens,
            walks_optimal,
            operations_optimal,
            stops_optimal,
            switches,
            extras,
            usual_readings: joining.is_some().then_some(usual_readings),
            metres_optimal,
            stops_at_least,
            rounds,
            untestable,
            not_planned,
            walks_at_least,
            operations_at_least,
            why_no_fewer_walks,
            why_no_fewer_operations,
            stopped: watch.is_stopped(),
            if_known: None,
            start: setup.start.clone(),
        };
        (plan, unknown)
    }
}

/// Carries out changes of options on a standing.
pub(in crate::plan) fn carry_out(fleet: &Fleet, standing: &mut Configuration, changes: &[(DeviceIndex, u16)]) {
    for &(device, option) in changes {
        let state = match fleet.kind(device) {
            OptionKind::Known | OptionKind::AsFound { .. } => DeviceState::At(option),
            OptionKind::Toggled { moved } => DeviceState::Unknown((moved + option) % 2),
            OptionKind::Stuck { .. } => unreachable!("only free devices are operated"),
        };
        standing.set_device(device, state);
    }
}

/// The operations that change options, stop by stop, carried out on the standing.
pub(in crate::plan) fn operations(
    network: &Network,
    fleet: &Fleet,
    standing: &mut Configuration,
    changes: &[(DeviceIndex, u16)],
) -> Vec<Operation> {
    let installation = network.installation();
    let mut operations: Vec<Operation> = Vec::with_capacity(changes.len());
    for &(device, option) in changes {
        let DeviceRef::Point(point) = network.devices()[device as usize].reference else {
            unreachable!("only devices at points are operated")
        };
        let from = match standing.device(device) {
            DeviceState::At(position) if position == option => continue,
            DeviceState::At(position) => Some(network.position_name(device, position).to_owned()),
            DeviceState::Unknown(_) if fleet.stands_so(standing, device, option) => continue,
            DeviceState::Unknown(_) => None,
        };
        let to = match fleet.kind(device) {
            OptionKind::Toggled { .. } => None,
            _ => Some(network.position_name(device, option).to_owned()),
        };
        operations.push(Operation { point, from, to, stop: Stop::of(installation, point) });
    }
    carry_out(fleet, standing, changes);
    // Stop by stop, each stop where its first device comes in the file.
    let mut first: FxHashMap<Stop, PointId> = FxHashMap::default();
    for operation in &operations {
        let entry = first.entry(operation.stop).or_insert(operation.point);
        *entry = operation.point.min(*entry);
    }
    operations.sort_by_key(|operation| (first[&operation.stop], operation.point));
    operations
}

/// A position of a device at a point, by name.
fn position_of(network: &Network, (device, position): (DeviceIndex, u16)) -> (PointId, String) {
    let DeviceRef::Point(point) = network.devices()[device as usize].reference else {
        unreachable!("only devices at points are wished for")
    };
    (point, network.position_name(device, position).to_owned())
}

/// What it takes to put everything back as the plan found it.
pub(in crate::plan) fn moved(fleet: &Fleet, standing: &Configuration) -> Vec<(DeviceIndex, u16)> {
    fleet
        .free()
        .filter(|&device| !fleet.is_at_start(standing, device))
        .map(|device| (device, fleet.start(device)))
        .collect()
}

/// How long walks are, where passages are given and every round starts from the same place.
fn walk_lengths<'d, 'i>(
    network: &'d Network,
    distances: &'d Distances<'i>,
    candidates: &[CandidateReading],
    stops: &Stops,
) -> Option<WalkLengths<'d, 'i>> {
    let installation = network.installation();
    if installation.passages().is_empty() {
        return None;
    }
    let home = only_home(installation, candidates)?;
    Some(WalkLengths::new(distances, home, stops.places(network), &network.limits().plan))
}

/// Where every round starts and ends, if that is the same place for each reading that there could be.
fn only_home(installation: &Installation, candidates: &[CandidateReading]) -> Option<LocationId> {
    let way = |candidate: &CandidateReading| installation.circuit(candidate.circuit).way();
    let mut homes = candidates.iter().filter_map(way).map(|way| installation.board(way.board()).location());
    let home = homes.next()??;
    homes.all(|other| other == Some(home)).then_some(home)
}

/// Where a round starts and ends: at the board whose ways are read, or at the origin where it is more than one.
fn home(installation: &Installation, readings: &[PlannedReading]) -> Option<LocationId> {
    let mut boards = readings.iter().filter_map(|planned| installation.circuit(planned.circuit).way());
    let first = boards.next()?.board();
    let board = if boards.all(|way| way.board() == first) {
        installation.board(first)
    } else {
        installation.boards().map(|(_, board)| board).find(|board| board.is_origin())?
    };
    board.location()
}

/// Numbers the stops of a walk.
struct Stops {
    of_device: Vec<u32>,
}

impl Stops {
    fn new(network: &Network) -> Stops {
        let installation = network.installation();
        let mut numbers: FxHashMap<Stop, u32> = FxHashMap::default();
        let of_device = network
            .devices()
            .iter()
            .map(|device| match device.reference {
                DeviceRef::Point(point) => {
                    let next = numbers.len() as u32;
                    *numbers.entry(Stop::of(installation, point)).or_insert(next)
                }
                _ => u32::MAX,
            })
            .collect();
        Stops { of_device }
    }

    fn of(&self, device: DeviceIndex) -> u32 {
        self.of_device[device as usize]
    }

    /// Where each stop is; none where its points are in several locations or in none.
    fn places(&self, network: &Network) -> Vec<Option<LocationId>> {
        let mut places: Vec<Option<Option<LocationId>>> = Vec::new();
        for (device, &stop) in network.devices().iter().zip(&self.of_device) {
            if let DeviceRef::Point(point) = device.reference {
                let place = network.installation().point(point).location();
                places.resize(places.len().max(stop as usize + 1), None);
                let known = &mut places[stop as usize];
                *known = Some(match known {
                    Some(known) if *known != place => None,
                    _ => place,
                });
            }
        }
        places.into_iter().map(Option::flatten).collect()
    }
}
