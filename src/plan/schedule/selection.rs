//! Which readings to take in each round, and what each adds.

use fixedbitset::FixedBitSet;
use rustc_hash::{FxHashMap, FxHashSet};

use crate::coverage::Tested;
use crate::model::DeviceRef;
use crate::network::{DeviceIndex, Lists, Network, PairId};
use crate::plan::observer::{Stage, Watch};
use crate::plan::problem::setup::Setup;
use crate::plan::problem::switches::{Demand, Demands};
use crate::plan::schedule::operations::carry_out;
use crate::plan::solve::engine::KnownShare;
use crate::reading::{CandidateReading, Condition, FreeDevices, Probe, TableLimits};

/// A round on trial: what is operated, and the readings that could be taken.
pub(in crate::plan) struct Trial {
    pub(in crate::plan) changes: Vec<(DeviceIndex, u16)>,
    pub(in crate::plan) candidates: Vec<u32>,
    /// What is known of readings beyond what tables tell.
    pub(in crate::plan) shares: Vec<KnownShare>,
}

/// A reading to take.
pub(in crate::plan) struct Taken {
    /// The candidate's number.
    pub(in crate::plan) number: u32,
    /// The pairs that it completes.
    pub(in crate::plan) pairs: Vec<PairId>,
    /// The positions, asked to come under test, that it completes.
    pub(in crate::plan) positions: Vec<(DeviceIndex, u16)>,
}

pub(in crate::plan) struct Selection {
    /// For each trial, the readings to take.
    pub(in crate::plan) readings: Vec<Vec<Taken>>,
    /// Groups tested by the test set and the plan together.
    pub(in crate::plan) tested: FixedBitSet,
    /// A group that the plan tests but the first trial, which takes every reading as things stand, does not.
    pub(in crate::plan) left_at_start: Option<u32>,
}

/// For which starts a group is tested so far: all, or those of a condition.
pub(in crate::plan) enum Progress {
    All,
    Partly(Condition),
}

/// What each reading of a trial does: for each group, for which starts it tests it (none: for all).
type Tests = Vec<(u32, Option<Condition>)>;

/// Selects, round by round, readings that add something: a circuit's own readings before those of its neighbours on
/// one neutral bar, those that add most first; then drops those that the others made needless.
pub(in crate::plan) fn select_readings(
    setup: &Setup<'_>,
    coverage: &Tested<'_>,
    trials: &[Trial],
    demands: &Demands,
    watch: &mut Watch<'_>,
) -> Selection {
    let Setup { network, start, fleet, candidates } = setup;
    let need = coverage.need;
    let group_count = network.group_count();
    let all_count = group_count + demands.count();
    let mut needed = FixedBitSet::with_capacity(all_count);
    let mut progress: FxHashMap<u32, Progress> = FxHashMap::default();
    for number in 0..network.group_count() as u32 {
        let is_required = |pair| need.requires(network.pair_class(pair));
        if coverage.is_group_tested(number) || !network.group_pairs(number).any(is_required) {
            continue;
        }
        needed.insert(number as usize);
        if let Some(when) = coverage.partly_tested(number) {
            progress.insert(number, Progress::Partly(when.clone()));
        }
    }
    for number in group_count as u32..all_count as u32 {
        if let Some(Demand::UnderTest { device, position }) = demands.get(number) {
            needed.insert(number as usize);
            if let Some(when) = coverage.partly_under_test(device, position) {
                progress.insert(number, Progress::Partly(when.clone()));
            }
        }
    }
    let mut standing = start.clone();
    let mut readings = Vec::with_capacity(trials.len());
    let limits = &network.limits().tables;
    let mut probe = Probe::new(network);
    let mut done_at_start: Option<FixedBitSet> = None;
    for (number, trial) in trials.iter().enumerate() {
        watch.at(Stage::Rounds, number, trials.len());
        carry_out(fleet, &mut standing, &trial.changes);
        let mut tests: Vec<(u32, Tests)> = Vec::new();
        for &number in &trial.candidates {
            let leads = &candidates[number as usize].leads;
            let probed = probe.read(network, &standing, FreeDevices::Unknown, leads);
            let mut found = probed.tests();
            if !demands.is_empty() {
                let number = |device: DeviceIndex, position: u16| demands.number(device, position);
                let positions = probed.positions_under_test(|device, position| number(device, position).is_some());
                found.extend(positions.into_iter().filter_map(|row| Some((number(row.0, row.1)?, row.2))));
            }
            found.retain(|(group, when)| {
                needed.contains(*group as usize) && adds(progress.get(group), when.as_ref(), limits)
            });
            if !found.is_empty() {
                tests.push((number, found));
            }
        }
        let wanted = |group: u32, progress: &FxHashMap<u32, Progress>| {
            needed.contains(group as usize) && !matches!(progress.get(&group), Some(Progress::All))
        };
        let mut shares: Vec<KnownShare> =
            trial.shares.iter().copied().filter(|share| wanted(share.group, &progress)).collect();
        let mut chosen: Vec<(u32, Tests)> = choose(network, candidates, demands, &tests)
            .into_iter()
            .map(|index| std::mem::take(&mut tests[index]))
            .collect();
        for share in &shares {
            if !chosen.iter().any(|(number, _)| *number == share.candidate) {
                chosen.push((share.candidate, Tests::new()));
            }
        }
        chosen.sort_by_key(|(number, _)| *number);
        let mut taken = Vec::new();
        for (number, tests) in &chosen {
            let mut completed = Vec::new();
            shares.retain(|share| {
                let is_here = share.is_last && share.candidate == *number;
                if is_here && note(&mut progress, share.group, None, limits) {
                    completed.push(share.group);
                }
                !is_here
            });
            for (group, when) in tests {
                if note(&mut progress, *group, when.as_ref(), limits) {
                    completed.push(*group);
                }
            }
            let positions = completed
                .iter()
                .filter_map(|&number| match demands.get(number) {
                    Some(Demand::UnderTest { device, position }) => Some((device, position)),
                    _ => None,
                })
                .collect();
            let mut pairs: Vec<PairId> = completed
                .iter()
                .filter(|&&group| demands.get(group).is_none())
                .flat_map(|&group| network.group_pairs(group))
                .filter(|&pair| need.requires(network.pair_class(pair)))
                .collect();
            pairs.sort_unstable();
            taken.push(Taken { number: *number, pairs, positions });
        }
        readings.push(taken);
        done_at_start.get_or_insert_with(|| {
            let mut done = FixedBitSet::with_capacity(all_count);
            done.extend(
                progress
                    .iter()
                    .filter(|(_, progress)| matches!(progress, Progress::All))
                    .map(|(&group, _)| group as usize),
            );
            done
        });
    }
    let mut tested = FixedBitSet::with_capacity(all_count);
    for group in 0..all_count {
        let now = matches!(progress.get(&(group as u32)), Some(Progress::All));
        tested.set(group, now || (group < group_count && coverage.is_group_tested(group as u32)));
    }
    let left_at_start = done_at_start.and_then(|done| {
        let left = |group: &usize| *group < group_count && needed.contains(*group) && !done.contains(*group);
        tested.ones().find(left).map(|group| group as u32)
    });
    Selection { readings, tested, left_at_start }
}

/// Whether a reading adds something to what is tested so far.
pub(in crate::plan) fn adds(progress: Option<&Progress>, when: Option<&Condition>, limits: &TableLimits) -> bool {
    match (progress, when) {
        (Some(Progress::All), _) => false,
        (None, _) | (Some(Progress::Partly(_)), None) => true,
        (Some(Progress::Partly(so_far)), Some(when)) => {
            when.and_not(so_far, limits).is_some_and(|more| !more.is_never())
        }
    }
}

/// Enters a reading; tells whether it completes the group.
pub(in crate::plan) fn note(
    progress: &mut FxHashMap<u32, Progress>,
    group: u32,
    when: Option<&Condition>,
    limits: &TableLimits,
) -> bool {
    let before = progress.remove(&group);
    if matches!(before, Some(Progress::All)) {
        progress.insert(group, Progress::All);
        return false;
    }
    let after = match (before, when) {
        (_, None) => None,
        (Some(Progress::Partly(so_far)), Some(when)) => Some(so_far.or(when, limits).unwrap_or(so_far)),
        (_, Some(when)) => Some(when.clone()),
    };
    match after {
        Some(condition) if !condition.is_always() => {
            progress.insert(group, Progress::Partly(condition));
            false
        }
        _ => {
            progress.insert(group, Progress::All);
            true
        }
    }
}

/// Chooses readings that together do for every group what all would; in the order of candidates.
fn choose(network: &Network, candidates: &[CandidateReading], demands: &Demands, tests: &[(u32, Tests)]) -> Vec<usize> {
    // What is asked for: each group with each distinct condition. A reading of the group's own circuit that does as
    // much as another's is asked for instead of it.
    let own = |group: u32, number: u32| {
        let circuit = candidates[number as usize].circuit;
        if let Some(Demand::UnderTest { device, .. } | Demand::Moved { device, .. }) = demands.get(group) {
            return matches!(network.devices()[device as usize].reference,
                DeviceRef::Point(point) if network.installation().point(point).circuit() == circuit);
        }
        network
            .group_pairs(group)
            .any(|pair| network.installation().length(network.pair_length(pair)).circuit() == circuit)
    };
    let mut entries: Vec<(u32, usize, &Option<Condition>)> = Vec::new();
    for (index, (_, rows)) in tests.iter().enumerate() {
        entries.extend(rows.iter().map(|(group, when)| (*group, index, when)));
    }
    // Stable: the readings of a group stay in order.
    entries.sort_by_key(|entry| entry.0);
    // For each demand, the readings that meet it.
    let mut demand_count = 0;
    let mut met_by: Vec<(u32, u32)> = Vec::new();
    let mut demand = |readings: &mut dyn Iterator<Item = usize>| {
        met_by.extend(readings.map(|index| (demand_count, index as u32)));
        demand_count += 1;
    };
    for entries in entries.chunk_by(|a, b| a.0 == b.0) {
        let group = entries[0].0;
        let full = || entries.iter().filter(|entry| entry.2.is_none()).map(|entry| entry.1);
        if full().next().is_none() {
            let mut seen: FxHashSet<&Condition> = FxHashSet::default();
            for when in entries.iter().filter_map(|entry| entry.2.as_ref()) {
                if seen.insert(when) {
                    let same = entries.iter().filter(|other| other.2.as_ref() == Some(when));
                    demand(&mut same.map(|other| other.1));
                }
            }
        } else if full().nth(1).is_none() {
            demand(&mut full());
        } else {
            let own_ones: Vec<usize> = full().filter(|&index| own(group, tests[index].0)).collect();
            if own_ones.is_empty() { demand(&mut full()) } else { demand(&mut own_ones.into_iter()) }
        }
    }
    let met_by_reading: Vec<(u32, u32)> = met_by.iter().map(|&(demand, reading)| (reading, demand)).collect();
    let meets = Lists::new(tests.len(), met_by_reading.iter().copied());
    let demands = Lists::new(demand_count as usize, met_by.iter().copied());
    let mut open = vec![true; demand_count as usize];
    let mut gain: Vec<usize> = meets.iter().map(<[u32]>::len).collect();
    let mut queue: std::collections::BinaryHeap<(usize, std::cmp::Reverse<usize>)> =
        gain.iter().enumerate().map(|(index, &gain)| (gain, std::cmp::Reverse(index))).collect();
    let mut chosen = Vec::new();
    while let Some((was, std::cmp::Reverse(index))) = queue.pop() {
        if gain[index] == 0 {
            continue;
        }
        if gain[index] != was {
            queue.push((gain[index], std::cmp::Reverse(index)));
            continue;
        }
        chosen.push(index);
        for &demand in meets.at(index as u32) {
            if std::mem::take(&mut open[demand as usize]) {
                for &reading in demands.at(demand) {
                    gain[reading as usize] -= 1;
                }
            }
        }
    }
    // Drop, first chosen first, what the others do as well.
    let mut times = vec![0usize; demand_count as usize];
    for &index in &chosen {
        for &demand in meets.at(index as u32) {
            times[demand as usize] += 1;
        }
    }
    let mut kept: Vec<usize> = Vec::with_capacity(chosen.len());
    for &index in &chosen {
        if meets.at(index as u32).iter().all(|&demand| times[demand as usize] > 1) {
            for &demand in meets.at(index as u32) {
                times[demand as usize] -= 1;
            }
        } else {
            kept.push(index);
        }
    }
    kept.sort_unstable();
    kept
}
