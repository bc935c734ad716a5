//! Which readings to take in each round, and what each adds.

use std::cmp::Reverse;
use std::collections::BinaryHeap;
use std::sync::Arc;

use fixedbitset::FixedBitSet;
use rustc_hash::{FxHashMap, FxHashSet};

use crate::coverage::Tested;
use crate::model::{CircuitId, DeviceRef, PointId, Reading};
use crate::network::{CountsFor, DeviceIndex, Lists, Need, Network};
use crate::observer::{Stage, Watch};
use crate::plan::problem::remaining::Remaining;
use crate::plan::problem::setup::Setup;
use crate::plan::problem::switches::{Demands, SwitchDemand};
use crate::plan::request::LeadJoining;
use crate::plan::schedule::operations::carry_out;
use crate::plan::schedule::readings::chosen::ChosenReading;
use crate::plan::schedule::readings::joining::Joining;
use crate::reading::{CandidateReading, Diagram, Digit, Probe, Probed, TableLimits};

/// A round before its readings are chosen: what is operated, and the readings that could be taken.
pub(in crate::plan) struct Trial {
    pub(in crate::plan) changes: Vec<(DeviceIndex, u16)>,
    pub(in crate::plan) candidates: Vec<u32>,
    /// Readings at sources that could be taken too, and are taken in other rounds.
    pub(in crate::plan) set_aside: Vec<u32>,
}

/// What a reading tests: each pair group, or what is asked of switches, with the starts for which it does (none: all).
pub(in crate::plan) type Tests = Vec<(u32, Option<Arc<Diagram>>)>;

/// What a reading tests as things stand, of the pairs for which it counts.
pub(in crate::plan) fn tests_of(
    network: &Network,
    probed: &Probed<'_>,
    counts: &CountsFor,
    demands: &Demands,
) -> Tests {
    let mut tests = probed.tests();
    tests.retain(|test| counts.has(network, test.0));
    if !demands.is_empty() {
        let number = |device: DeviceIndex, position: u16| demands.number(device, position);
        let positions = probed.positions_under_test(|device, position| number(device, position).is_some());
        tests.extend(positions.into_iter().filter_map(|row| Some((number(row.0, row.1)?, row.2))));
    }
    tests
}

/// A reading that could be taken in a round.
#[derive(Clone)]
pub(in crate::plan) struct RoundReading {
    pub(in crate::plan) circuit: CircuitId,
    /// The source at which it is taken; none at a way.
    pub(in crate::plan) at: Option<PointId>,
    pub(in crate::plan) reading: Reading,
    pub(in crate::plan) tests: Tests,
}

/// A reading to take.
pub(in crate::plan) struct SelectedReading {
    pub(in crate::plan) reading: RoundReading,
    /// What it completes, of pair groups and of what is asked of switches.
    pub(in crate::plan) completes: Vec<u32>,
    /// What it tests for some starts and does not complete: others count on it.
    pub(in crate::plan) part_of: Vec<u32>,
}

/// The readings of one round.
pub(in crate::plan) struct SelectedRound {
    pub(in crate::plan) readings: Vec<ChosenReading>,
    /// Where leads may be joined otherwise: no fewer readings do what the round adds, proven.
    pub(in crate::plan) is_fewest: Option<bool>,
    /// What was untested before it, and its readings, where they are taken at several sources: they may be taken in
    /// another order.
    before: Option<(Untested, Vec<RoundReading>)>,
}

impl SelectedRound {
    pub(in crate::plan) fn without_readings(is_fewest: Option<bool>) -> SelectedRound {
        SelectedRound { readings: Vec::new(), is_fewest, before: None }
    }

    /// Takes the readings in the order of a rank of their sources, those at ways first, and tells anew what each adds;
    /// those that add nothing then are left out.
    pub(in crate::plan) fn order(&mut self, remaining: &Remaining<'_>, rank: impl Fn(PointId) -> usize) {
        let Some((before, readings)) = &mut self.before else { return };
        readings.sort_by_key(|reading| reading.at.map(&rank));
        let taken = before.clone().take(readings.clone());
        *readings = taken.iter().map(|taken| taken.reading.clone()).collect();
        let Remaining { setup, coverage, demands, .. } = remaining;
        let planned = |taken| planned(setup.network, coverage.need, demands, taken);
        self.readings = taken.into_iter().map(planned).collect();
    }
}

pub(in crate::plan) struct Selection {
    /// For each trial, the readings to take.
    pub(in crate::plan) rounds: Vec<SelectedRound>,
    /// How many readings there would be with leads joined as usual.
    pub(in crate::plan) usual_count: usize,
    /// Groups tested by the test set and the plan together, and what is asked of switches that the plan does.
    pub(in crate::plan) tested: FixedBitSet,
    /// What the plan leaves.
    pub(in crate::plan) untested: Untested,
    /// A group that the plan tests but the first trial, which takes every reading as things stand, does not.
    pub(in crate::plan) left_at_start: Option<u32>,
}

/// What is still to be tested while readings are taken.
#[derive(Clone, Default)]
pub(in crate::plan) struct Untested {
    open: FixedBitSet,
    /// For which starts a group is tested so far, where for some.
    partly: FxHashMap<u32, Diagram>,
    limits: TableLimits,
}

impl Untested {
    pub(in crate::plan) fn new(network: &Network, coverage: &Tested<'_>, demands: &Demands) -> Untested {
        let group_count = network.group_count() as u32;
        let all_count = group_count + demands.count() as u32;
        let mut untested = Untested {
            open: FixedBitSet::with_capacity(all_count as usize),
            partly: FxHashMap::default(),
            limits: network.limits().tables.clone(),
        };
        for number in 0..all_count {
            let partly = match demands.get(number) {
                Some(SwitchDemand::UnderTest { device, position }) => coverage.partly_under_test(device, position),
                Some(SwitchDemand::Moved { .. }) => None,
                None if coverage.is_group_missed(number) => coverage.partly_tested(number),
                None => continue,
            };
            untested.open.insert(number as usize);
            untested.partly.extend(partly.map(|when| (number, when.clone())));
        }
        untested
    }

    pub(in crate::plan) fn is_open(&self, number: u32) -> bool {
        self.open.contains(number as usize)
    }

    /// For which starts a group that is open is tested, where that is some.
    pub(in crate::plan) fn partly(&self, number: u32) -> Option<&Diagram> {
        self.partly.get(&number)
    }

    /// The same if a device is known to have started in a position.
    pub(in crate::plan) fn given(&self, digit: Digit, start: u16) -> Untested {
        let mut given = Untested { partly: FxHashMap::default(), ..self.clone() };
        for (&number, when) in &self.partly {
            // What is too large to tell is claimed for no start.
            let Some(when) = when.given(digit, start, &self.limits) else { continue };
            if when.is_always() {
                given.open.set(number as usize, false);
            } else if !when.is_never() {
                given.partly.insert(number, when);
            }
        }
        given
    }

    /// Whether to test this for these starts adds something.
    pub(in crate::plan) fn gains(&self, number: u32, when: Option<&Diagram>) -> bool {
        self.is_open(number)
            && match (self.partly.get(&number), when) {
                (Some(so_far), Some(when)) => when.and_not(so_far, &self.limits).is_some_and(|more| !more.is_never()),
                _ => true,
            }
    }

    /// Enters that it is tested for these starts; tells whether that completes it.
    pub(in crate::plan) fn enter(&mut self, number: u32, when: Option<&Diagram>) -> bool {
        let after = match (self.partly.remove(&number), when) {
            (_, None) => None,
            (Some(so_far), Some(when)) => Some(so_far.or(when, &self.limits).unwrap_or(so_far)),
            (None, Some(when)) => Some(when.clone()),
        };
        if let Some(so_far) = after.filter(|so_far| !so_far.is_always()) {
            self.partly.insert(number, so_far);
            return false;
        }
        self.open.set(number as usize, false);
        true
    }

    /// Takes readings in this order; those that add nothing are left out.
    fn take(&mut self, readings: Vec<RoundReading>) -> Vec<SelectedReading> {
        let taken = readings.into_iter().map(|reading| {
            let (mut completes, mut part_of) = (Vec::new(), Vec::new());
            for (number, when) in &reading.tests {
                if self.gains(*number, when.as_deref()) {
                    let is_complete = self.enter(*number, when.as_deref());
                    if is_complete { &mut completes } else { &mut part_of }.push(*number);
                }
            }
            SelectedReading { reading, completes, part_of }
        });
        taken.filter(|taken| !taken.part_of.is_empty() || !taken.completes.is_empty()).collect()
    }
}

/// Selects, round by round, readings that add something: a circuit's own readings before those of its neighbours on
/// one neutral bar, those that add most first; then drops those that the others made needless.
pub(in crate::plan) fn select_readings(
    remaining: &Remaining<'_>,
    trials: &[Trial],
    leads: LeadJoining,
    watch: &mut Watch<'_>,
) -> Selection {
    let Remaining { setup, coverage, demands, .. } = remaining;
    let Setup { network, start, choices, candidates } = setup;
    let mut joining = (leads == LeadJoining::Fewest).then(|| Joining::new(setup, demands));
    let mut untested = Untested::new(network, coverage, demands);
    let needed = untested.open.clone();
    let mut left_by_first = None;
    let mut configuration = start.clone();
    let mut rounds = Vec::with_capacity(trials.len());
    let mut usual_count = 0;
    let mut probe = Probe::new(network);
    for (number, trial) in trials.iter().enumerate() {
        watch.at(Stage::Rounds, number, trials.len());
        carry_out(choices, &mut configuration, &trial.changes);
        for met in demands.met_by_moves(choices, &trial.changes) {
            untested.enter(met, None);
        }
        let mut possible: Vec<(u32, Tests)> = Vec::new();
        for &number in &trial.candidates {
            let CandidateReading { leads, counts, .. } = &candidates[number as usize];
            let probed = probe.read_for_starts(network, &configuration, leads);
            let mut tests = tests_of(network, &probed, counts, demands);
            tests.retain(|(group, when)| untested.gains(*group, when.as_deref()));
            if !tests.is_empty() {
                possible.push((number, tests));
            }
        }
        let mut chosen: Vec<(u32, Tests)> = choose(network, candidates, demands, &possible)
            .into_iter()
            .map(|index| std::mem::take(&mut possible[index]))
            .collect();
        chosen.sort_by_key(|(number, _)| (candidates[*number as usize].at, *number));
        let chosen = chosen.into_iter().map(|(number, tests)| {
            let CandidateReading { circuit, at, reading, .. } = &candidates[number as usize];
            RoundReading { circuit: *circuit, at: *at, reading: reading.clone(), tests }
        });
        let chosen: Vec<RoundReading> = chosen.collect();
        let sources = chosen.iter().filter_map(|reading| reading.at);
        let has_order = sources.clone().any(|point| sources.clone().next() != Some(point));
        let before = (has_order || joining.is_some()).then(|| untested.clone());
        let mut taken = untested.take(chosen);
        usual_count += taken.len();
        let mut is_fewest = None;
        if let (Some(joining), Some(before)) = (&mut joining, &before) {
            let joined = joining.join(&configuration, taken, &untested);
            is_fewest = Some(joined.is_least);
            // What they add is told anew, since they come in another order.
            untested.clone_from(before);
            taken = untested.take(joined.readings);
        }
        let before = before.filter(|_| has_order);
        let before = before.map(|before| (before, taken.iter().map(|taken| taken.reading.clone()).collect()));
        let need = coverage.need;
        let readings = taken.into_iter().map(|taken| planned(network, need, demands, taken)).collect();
        rounds.push(SelectedRound { readings, is_fewest, before });
        left_by_first.get_or_insert_with(|| {
            let mut left = untested.clone();
            for &number in &trial.set_aside {
                let CandidateReading { leads, counts, .. } = &candidates[number as usize];
                let probed = probe.read_for_starts(network, &configuration, leads);
                for (group, when) in tests_of(network, &probed, counts, demands) {
                    if left.gains(group, when.as_deref()) {
                        left.enter(group, when.as_deref());
                    }
                }
            }
            left.open
        });
    }
    let group_count = network.group_count();
    let mut tested = needed;
    tested.difference_with(&untested.open);
    for group in (0..group_count).filter(|&group| coverage.is_group_tested(group as u32)) {
        tested.insert(group);
    }
    let left_at_start = left_by_first
        .and_then(|left| left.ones().find(|&group| group < group_count && !untested.open.contains(group)))
        .map(|group| group as u32);
    Selection { rounds, usual_count, tested, untested, left_at_start }
}

/// A reading with the needed pairs and the positions that it completes; where there are none, with the pairs that it
/// tests for some starts.
fn planned(network: &Network, need: Need, demands: &Demands, taken: SelectedReading) -> ChosenReading {
    let (mut adds, mut positions) = (Vec::new(), Vec::new());
    for number in taken.completes {
        match demands.get(number) {
            Some(SwitchDemand::UnderTest { device, position }) => positions.push((device, position)),
            Some(SwitchDemand::Moved { .. }) => {}
            None => adds.extend(network.required_pairs(need, number)),
        }
    }
    adds.sort_unstable();
    let mut part_of = Vec::new();
    if adds.is_empty() && positions.is_empty() {
        let groups = taken.part_of.into_iter().filter(|&number| demands.get(number).is_none());
        part_of.extend(groups.flat_map(|group| network.required_pairs(need, group)));
        part_of.sort_unstable();
    }
    let RoundReading { circuit, at, reading, .. } = taken.reading;
    ChosenReading { circuit, at, reading, adds, positions, part_of }
}

/// Chooses readings that together do for every group what all would; in the order of candidates.
fn choose(
    network: &Network,
    candidates: &[CandidateReading],
    demands: &Demands,
    possible: &[(u32, Tests)],
) -> Vec<usize> {
    let installation = network.installation();
    let circuits_of = |group: u32| -> FxHashSet<CircuitId> {
        if let Some(SwitchDemand::UnderTest { device, .. } | SwitchDemand::Moved { device, .. }) = demands.get(group) {
            let DeviceRef::Point(point) = network.devices()[device as usize].reference else {
                return FxHashSet::default();
            };
            return std::iter::once(installation.point(point).circuit()).collect();
        }
        let lengths = network.group_pairs(group).map(|pair| installation.length(network.pair_length(pair)));
        lengths.map(|length| length.circuit()).collect()
    };
    let mut entries: Vec<(u32, u32, &Option<Arc<Diagram>>)> = Vec::new();
    for (index, (_, rows)) in (0u32..).zip(possible) {
        entries.extend(rows.iter().map(|(group, when)| (*group, index, when)));
    }
    // Stable: the readings of a group stay in order.
    entries.sort_by_key(|entry| entry.0);
    // What is asked for: each group, or where no reading tests it for all starts, each group with each distinct
    // condition. A reading of the group's own circuit that does as much as another's is asked for instead of it.
    let mut wanted_count = 0;
    let mut met_by: Vec<(u32, u32)> = Vec::new();
    let mut want = |readings: &mut dyn Iterator<Item = u32>| {
        met_by.extend(readings.map(|index| (wanted_count, index)));
        wanted_count += 1;
    };
    for entries in entries.chunk_by(|a, b| a.0 == b.0) {
        let full: Vec<u32> = entries.iter().filter(|entry| entry.2.is_none()).map(|entry| entry.1).collect();
        if full.is_empty() {
            let mut seen: FxHashSet<&Option<Arc<Diagram>>> = FxHashSet::default();
            for (_, _, when) in entries {
                if seen.insert(when) {
                    want(&mut entries.iter().filter(|other| other.2 == *when).map(|other| other.1));
                }
            }
            continue;
        }
        let own = if full.len() > 1 { circuits_of(entries[0].0) } else { FxHashSet::default() };
        let is_own = |index: &u32| own.contains(&candidates[possible[*index as usize].0 as usize].circuit);
        let own_ones: Vec<u32> = full.iter().copied().filter(is_own).collect();
        want(&mut if own_ones.is_empty() { full } else { own_ones }.into_iter());
    }
    let meets: Vec<(u32, u32)> = met_by.iter().map(|&(wanted, reading)| (reading, wanted)).collect();
    let (met_by, meets) =
        (Lists::new(wanted_count as usize, met_by.iter().copied()), Lists::new(possible.len(), meets.iter().copied()));
    let mut open = vec![true; wanted_count as usize];
    let mut gain: Vec<usize> = meets.iter().map(<[u32]>::len).collect();
    let mut queue: BinaryHeap<(usize, Reverse<u32>)> =
        (0u32..).zip(&gain).map(|(index, &gain)| (gain, Reverse(index))).collect();
    let mut chosen = Vec::new();
    // For each thing wanted, how many of those chosen meet it.
    let mut times = vec![0usize; wanted_count as usize];
    while let Some((was, Reverse(index))) = queue.pop() {
        let now = gain[index as usize];
        if now == 0 {
            continue;
        }
        if now != was {
            queue.push((now, Reverse(index)));
            continue;
        }
        chosen.push(index);
        for &wanted in meets.at(index) {
            times[wanted as usize] += 1;
            if std::mem::take(&mut open[wanted as usize]) {
                met_by.at(wanted).iter().for_each(|&reading| gain[reading as usize] -= 1);
            }
        }
    }
    // Drop, first chosen first, what the others do as well.
    chosen.retain(|&index| {
        let is_needless = meets.at(index).iter().all(|&wanted| times[wanted as usize] > 1);
        if is_needless {
            meets.at(index).iter().for_each(|&wanted| times[wanted as usize] -= 1);
        }
        !is_needless
    });
    chosen.sort_unstable();
    chosen.into_iter().map(|index| index as usize).collect()
}
