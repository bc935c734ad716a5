//! The plan: rounds of operations and readings, with bounds and what can't be tested.

use rustc_hash::FxHashMap;

use super::cluster::{self, Cluster};
use super::compose::{Schedule, schedule};
use super::option::{Fleet, OptionKind};
use super::readings::{Candidate, candidates};
use super::requirement::{Outlook, Untestable, gather};
use super::selection::{Trial, select_readings};
use super::tour::{Distances, Tour};
use crate::coverage::Coverage;
use crate::model::{CircuitId, DeviceRef, Installation, LocationId, PlateId, PointId, Reading, TestSet, Volts};
use crate::network::{DeviceIndex, Need, Network, PairId, Stand, Standing};

/// One operation: one device taken from one position to another, however many steps apart they are.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Operation {
    /// The point whose switch is worked.
    pub point: PointId,
    /// The position it leaves; none where nobody knows.
    pub from: Option<String>,
    /// The position it goes to; none: to the other of two, whichever it stood in.
    pub to: Option<String>,
    /// The stop at which it is worked.
    pub stop: Stop,
}

/// Where a walk stops to operate switches: a plate, or else a location, or else the point itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Stop {
    /// The switches of one plate.
    Plate(PlateId),
    /// Switches without a plate in one location.
    Location(LocationId),
    /// A point with neither.
    Point(PointId),
}

impl Stop {
    /// The stop at which a point is worked.
    pub fn of(installation: &Installation, point: PointId) -> Stop {
        let row = installation.point(point);
        match (row.plate(), row.location()) {
            (Some(plate), _) => Stop::Plate(plate),
            (None, Some(location)) => Stop::Location(location),
            (None, None) => Stop::Point(point),
        }
    }

    /// The stop's name: `plate:P`, `location:L` or `point:ID`.
    pub fn name(self, installation: &Installation) -> String {
        match self {
            Stop::Plate(plate) => format!("plate:{}", installation.plate(plate)),
            Stop::Location(location) => format!("location:{}", installation.location(location).id()),
            Stop::Point(point) => format!("point:{}", installation.point(point).id()),
        }
    }
}

/// One reading of a plan.
#[derive(Clone, Debug, PartialEq)]
pub struct PlannedReading {
    /// The circuit at whose way it is taken.
    pub circuit: CircuitId,
    /// The leads and the test voltage.
    pub reading: Reading,
    /// The test voltage, d.c.
    pub volts: Volts,
    /// The required pairs that it completes.
    pub adds: Vec<PairId>,
}

/// One setting of the switches and the readings taken in it.
#[derive(Clone, Debug, PartialEq)]
pub struct Round {
    /// What to operate first; nothing in a round taken as things stand.
    pub operations: Vec<Operation>,
    /// The readings to take.
    pub readings: Vec<PlannedReading>,
    /// How far it is past all stops, from the board whose ways are read (the origin, where it is more than one) and
    /// back; none where nothing is operated, or the passages do not tell.
    pub tour: Option<Tour>,
}

/// A required pair that no setting tests by the readings of a plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct UntestablePair {
    /// The pair.
    pub pair: PairId,
    /// The first reason that holds.
    pub why: Untestable,
}

/// How a bound on walks is known.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum WhyNoFewerWalks {
    /// Nothing is left to operate for.
    NothingToOperate,
    /// This pair is not tested as things stand, by any reading, but is once something is operated.
    LeftAtStart(PairId),
    /// Each of these pairs needs a walk of its own: no two of them are tested in one setting.
    ExcludeOneAnother(Vec<PairId>),
    /// Fewer settings were searched to the end.
    SearchExhausted,
    /// It is a bound only; the search was not finished.
    NotProven,
}

/// A plan of what is still to be done.
#[derive(Debug)]
#[must_use]
pub struct Plan<'n> {
    pub(super) network: &'n Network<'n>,
    pub(super) need: Need,
    pub(super) rounds: Vec<Round>,
    pub(super) untestable: Vec<UntestablePair>,
    pub(super) not_planned: Vec<PairId>,
    pub(super) walks_at_least: usize,
    pub(super) operations_at_least: usize,
    pub(super) walks_optimal: bool,
    pub(super) operations_optimal: bool,
    pub(super) stops_optimal: bool,
    pub(super) why_no_fewer_walks: WhyNoFewerWalks,
    pub(super) start: Standing,
}

impl<'n> Plan<'n> {
    /// Plans what is still to be done after a test set (or from ready, with none): fewest walks, then fewest operations,
    /// then fewest stops.
    ///
    /// Exact for clusters of devices that bear on one another to 65,536 settings (16 devices of two positions), unless a
    /// search runs out of its budget of nodes; then, and beyond that size, the plan is sound, its bounds are proven, and
    /// it says that it is not known to be the least. A plan from unknown positions holds whatever they were. The stops of
    /// a round are in the order of the shortest walk; among plans of equally few stops the nearer is not sought yet.
    ///
    /// Time: linear in the network and the readings that could be taken, plus for each cluster of s settings and r
    /// requirements O(s r) to list them, and a set-cover search and an A* search, both exponential at worst and
    /// bounded in nodes. Space O(s r / 64) words a cluster. Sources: set cover as integer search (Balas and Ho 1980,
    /// in kind), A* (Hart, Nilsson and Raphael 1968).
    ///
    /// # Panics
    ///
    /// Where the test set was checked against another installation: its ids mean nothing in this one.
    pub fn of(network: &'n Network<'n>, test_set: Option<&TestSet>, need: Need) -> Plan<'n> {
        let nothing = TestSet::default();
        let test_set = test_set.unwrap_or(&nothing);
        let coverage = Coverage::of(network, test_set, need);
        let start = coverage.after.for_planning(network);
        let fleet = Fleet::new(network, &start);
        let candidates = candidates(network);
        let requirements = gather(network, &start, &fleet, &candidates, &coverage, need);

        let mut sometimes = Vec::new();
        let mut untestable_groups = FxHashMap::default();
        let mut too_large = Vec::new();
        for (group, outlook) in requirements.groups {
            match outlook {
                Outlook::Always => {}
                Outlook::Sometimes { elements, all_known } => sometimes.push((group, elements, all_known)),
                Outlook::Never(why) => {
                    untestable_groups.insert(group, why);
                }
                Outlook::TooLarge => too_large.push(group),
            }
        }
        let stops = Stops::new(network);
        let clusters = cluster::form(&fleet, |device| stops.of(device), sometimes);
        let schedule = schedule(&clusters.small);
        let mut walks: Vec<Vec<(DeviceIndex, u16)>> = vec![Vec::new(); schedule.walks];
        for (cluster, settings) in clusters.small.iter().zip(&schedule.settings) {
            for (walk, setting) in settings.iter().enumerate() {
                if let Some(setting) = *setting {
                    walks[walk].extend(cluster_changes(cluster, settings, walk, setting));
                }
            }
        }
        let large = super::large::walks(network, &start, &fleet, &candidates, &clusters.large, &too_large, &walks);
        walks.resize(walks.len().max(large.settings.len()), Vec::new());

        let mut trials = vec![Trial { changes: Vec::new(), candidates: (0..candidates.len() as u32).collect() }];
        let mut standing = start.clone();
        for (walk, mut changes) in walks.into_iter().enumerate() {
            let moving = clusters
                .small
                .iter()
                .zip(&schedule.settings)
                .filter(|(_, settings)| settings.get(walk).is_some_and(Option::is_some));
            let mut numbers: Vec<u32> = moving
                .flat_map(|(cluster, _)| &cluster.groups)
                .filter_map(|group| requirements.readings.get(group))
                .flatten()
                .chain(&large.candidates)
                .copied()
                .collect();
            numbers.sort_unstable();
            numbers.dedup();
            changes.extend(large.settings.get(walk).into_iter().flatten());
            changes.sort_unstable();
            trials.push(Trial { changes, candidates: numbers });
        }

        let selection = select_readings(network, &coverage, &fleet, &start, &candidates, &trials, need);
        let mut rounds = Vec::new();
        let mut pending: Vec<(DeviceIndex, u16)> = Vec::new();
        let distances = Distances::new(network.installation());
        for (trial, readings) in trials.iter().zip(selection.readings) {
            pending.retain(|change| trial.changes.iter().all(|later| later.0 != change.0));
            pending.extend(&trial.changes);
            // What is operated for no reading is left to the round that reads next.
            if readings.is_empty() {
                continue;
            }
            let mut operations = operations(network, &fleet, &mut standing, &std::mem::take(&mut pending));
            let readings: Vec<PlannedReading> = readings
                .into_iter()
                .map(|(number, adds)| {
                    let Candidate { circuit, reading, volts, .. } = &candidates[number as usize];
                    PlannedReading { circuit: *circuit, reading: reading.clone(), volts: *volts, adds }
                })
                .collect();
            let tour = if operations.is_empty() {
                None
            } else {
                distances.order(home(network.installation(), &readings), &mut operations)
            };
            rounds.push(Round { operations, readings, tour });
        }

        let mut untestable = Vec::new();
        let mut not_planned = Vec::new();
        for pair in coverage.missed() {
            let group = network.pairs[pair.index()].group;
            match untestable_groups.get(&group) {
                Some(&why) => untestable.push(UntestablePair { pair, why }),
                None if !selection.tested.contains(group as usize) => not_planned.push(pair),
                None => {}
            }
        }
        let walks = rounds.iter().filter(|round| !round.operations.is_empty()).count();
        let operation_count: usize = rounds.iter().map(|round| round.operations.len()).sum();
        // Tables that lack a reading can only overstate what is needed: they bound nothing.
        let tables_complete = clusters.small.iter().all(|cluster| cluster.all_known);
        let mut walks_at_least = large.exclusive.len().max(usize::from(selection.left_at_start.is_some()));
        let mut operations_at_least = large.operations_at_least;
        if tables_complete {
            walks_at_least = walks_at_least.max(schedule.walks_at_least);
            operations_at_least += schedule.operations_at_least;
        }
        let operations_at_least = operations_at_least.max(walks_at_least);
        let walks_optimal = not_planned.is_empty() && walks == walks_at_least;
        let operations_optimal = walks_optimal && operation_count == operations_at_least;
        let why_no_fewer_walks = if walks_optimal {
            let pair = |group: u32| network.group_pairs(group).next().expect("a group is made for a pair");
            match (walks, selection.left_at_start) {
                (0, _) => WhyNoFewerWalks::NothingToOperate,
                (1, Some(group)) => WhyNoFewerWalks::LeftAtStart(pair(group)),
                _ => match exclude_one_another(&clusters.small, &schedule, large.exclusive) {
                    groups if groups.len() >= walks => {
                        WhyNoFewerWalks::ExcludeOneAnother(groups.into_iter().map(pair).collect())
                    }
                    _ => WhyNoFewerWalks::SearchExhausted,
                },
            }
        } else {
            WhyNoFewerWalks::NotProven
        };
        Plan {
            network,
            need,
            walks_optimal,
            operations_optimal,
            stops_optimal: operations_optimal && tables_complete && schedule.stops_proven && large.settings.is_empty(),
            rounds,
            untestable,
            not_planned,
            walks_at_least,
            operations_at_least,
            why_no_fewer_walks,
            start,
        }
    }

    /// The network that was planned for.
    pub fn network(&self) -> &'n Network<'n> {
        self.network
    }

    /// The rounds, in order. A walk is a round with operations.
    pub fn rounds(&self) -> &[Round] {
        &self.rounds
    }

    /// Required pairs, not yet tested, that no setting tests by these readings.
    pub fn untestable(&self) -> &[UntestablePair] {
        &self.untestable
    }

    /// Required pairs that are neither tested by this plan nor shown to be untestable: too many devices bear on them.
    pub fn not_planned(&self) -> &[PairId] {
        &self.not_planned
    }

    /// How the bound on walks is known.
    pub fn why_no_fewer_walks(&self) -> &WhyNoFewerWalks {
        &self.why_no_fewer_walks
    }

    /// The level of need that was planned for.
    pub fn need(&self) -> Need {
        self.need
    }

    /// Rounds with at least one operation.
    pub fn walks(&self) -> usize {
        self.rounds.iter().filter(|round| !round.operations.is_empty()).count()
    }

    /// Operations of all rounds.
    pub fn operations(&self) -> usize {
        self.rounds.iter().map(|round| round.operations.len()).sum()
    }

    /// Stops visited, counted anew in each round.
    pub fn stops(&self) -> usize {
        self.rounds
            .iter()
            .map(|round| {
                let mut stops: Vec<Stop> = round.operations.iter().map(|operation| operation.stop).collect();
                stops.sort_unstable();
                stops.dedup();
                stops.len()
            })
            .sum()
    }

    /// Readings of all rounds.
    pub fn readings(&self) -> usize {
        self.rounds.iter().map(|round| round.readings.len()).sum()
    }

    /// How points stand where the plan starts: name and position (none: unknown), those only that can be operated.
    pub fn starts_at(&self) -> Vec<(PointId, Option<&'n str>)> {
        let network = self.network;
        let mut stands = Vec::new();
        for (number, device) in network.devices.iter().enumerate() {
            if let (DeviceRef::Point(point), true) = (device.reference, device.operable) {
                let device = number as DeviceIndex;
                stands.push((
                    point,
                    match self.start.device(device) {
                        Stand::At(position) => Some(network.position_name(device, position)),
                        Stand::Moved(_) => None,
                    },
                ));
            }
        }
        stands
    }
}

/// What a cluster changes in one walk.
fn cluster_changes(
    cluster: &Cluster,
    settings: &[Option<usize>],
    walk: usize,
    setting: usize,
) -> Vec<(DeviceIndex, u16)> {
    let before = settings[..walk].iter().rev().find_map(|setting| *setting).unwrap_or(cluster.start);
    (0..cluster.devices.len())
        .filter(|&device| cluster.option(before, device) != cluster.option(setting, device))
        .map(|device| (cluster.devices[device].device, cluster.option(setting, device)))
        .collect()
}

/// Carries out changes of options on a standing.
pub(super) fn carry_out(fleet: &Fleet, standing: &mut Standing, changes: &[(DeviceIndex, u16)]) {
    for &(device, option) in changes {
        standing.devices[device as usize] = match fleet.kind(device) {
            OptionKind::Known | OptionKind::AsFound { .. } => Stand::At(option),
            OptionKind::Toggled { moved } => Stand::Moved((moved + option) % 2),
            OptionKind::Stuck { .. } => unreachable!("only free devices are operated"),
        };
    }
}

fn operations(
    network: &Network<'_>,
    fleet: &Fleet,
    standing: &mut Standing,
    changes: &[(DeviceIndex, u16)],
) -> Vec<Operation> {
    let installation = network.installation();
    let mut operations: Vec<Operation> = Vec::with_capacity(changes.len());
    for &(device, option) in changes {
        let DeviceRef::Point(point) = network.devices[device as usize].reference else {
            unreachable!("only devices at points are operated")
        };
        let from = match standing.device(device) {
            Stand::At(position) if position == option => continue,
            Stand::At(position) => Some(network.position_name(device, position).to_owned()),
            Stand::Moved(_) if fleet.stands_so(standing, device, option) => continue,
            Stand::Moved(_) => None,
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

/// The most pair groups known no two of which are tested in one setting.
fn exclude_one_another(clusters: &[Cluster], schedule: &Schedule, of_large: Vec<u32>) -> Vec<u32> {
    let of_small: Vec<u32> = schedule
        .exclusive
        .iter()
        .flat_map(|(cluster, rows)| rows.iter().map(|&row| clusters[*cluster].requirements[row].group))
        .collect();
    if of_small.len() >= of_large.len() { of_small } else { of_large }
}

/// Numbers the stops of a walk.
struct Stops {
    of_device: Vec<u32>,
}

impl Stops {
    fn new(network: &Network<'_>) -> Stops {
        let installation = network.installation();
        let mut numbers: FxHashMap<Stop, u32> = FxHashMap::default();
        let of_device = network
            .devices
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
}
