//! What is done while an extra is in place: in few rounds, each from where the one before left the switches.

use std::collections::BTreeMap;

use fixedbitset::FixedBitSet;

use super::finding::{Changed, Possible, Sounded, Taken};
use crate::model::{CircuitId, Lead, Reading, ReadingAt, Volts};
use crate::network::{DeviceIndex, Need, PairId};
use crate::plan::answer::{PlannedReading, Round};
use crate::plan::naming::Naming;
use crate::plan::problem::setup::Setup;
use crate::plan::schedule::chosen::ChosenReading;
use crate::plan::schedule::operations::operations;
use crate::reading::{Condition, Configuration, DeviceState, FreeDevices, Probe};

/// Settings that are tried for one round: the first of this many pairs left, each with what goes with it.
const MOST_TRIED: usize = 16;

pub(super) struct Rounds<'r, 'n> {
    setup: &'r Setup<'n>,
    need: Need,
    groups: &'r [u32],
    extra: &'r Possible,
}

/// Where devices must stand.
type Pins = BTreeMap<DeviceIndex, u16>;

/// A reading on trial: which of the extra's, at which circuit and voltage, and the targets that it tests.
struct Tried<'t> {
    reading: &'t Sounded,
    circuit: CircuitId,
    volts: Volts,
    tests: Vec<usize>,
}

impl<'r, 'n> Rounds<'r, 'n> {
    pub(super) fn new(setup: &'r Setup<'n>, need: Need, groups: &'r [u32], extra: &'r Possible) -> Rounds<'r, 'n> {
        Rounds { setup, need, groups, extra }
    }

    /// Rounds for these targets, with the targets that they test: each is found tested in its round, by the extra's own
    /// network, whatever electronics and unknown devices do.
    pub(super) fn plan(&self, targets: FixedBitSet, standing: &mut Configuration) -> (Vec<Round>, FixedBitSet) {
        let network = self.setup.network;
        let mut tested = FixedBitSet::with_capacity(targets.len());
        let mut left = targets;
        let mut rounds = Vec::new();
        while !left.is_clear() {
            let Some(pins) = self.setting(&left, standing) else { break };
            let changes: Vec<(DeviceIndex, u16)> = pins.into_iter().collect();
            let operations = operations(network, &self.setup.fleet, standing, &changes);
            let (readings, done) = self.readings(&left, standing);
            if done.is_clear() {
                break;
            }
            left.difference_with(&done);
            tested.union_with(&done);
            let operations = operations.into_iter().map(|(_, operation)| operation).collect();
            rounds.push(Round { operations, readings, walk: None, fewest_readings: None });
        }
        (rounds, tested)
    }

    /// A setting in which some of the targets left are tested: the most found, then with the fewest changes.
    fn setting(&self, left: &FixedBitSet, standing: &Configuration) -> Option<Pins> {
        let tests = |target: usize| {
            let readings = self.extra.readings.iter();
            readings.flat_map(|reading| &reading.tests).filter(move |test| test.0 == target).map(|test| &test.1)
        };
        let seeds = left.ones().take(MOST_TRIED).flat_map(tests);
        let found = seeds.filter_map(|seed| {
            let mut pins = fit(seed, &Pins::new(), standing)?;
            let mut count = 0;
            for target in left.ones() {
                let best = tests(target).filter_map(|when| fit(when, &pins, standing));
                if let Some(more) = best.min_by_key(|pins| changes(pins, standing)) {
                    pins = more;
                    count += 1;
                }
            }
            Some((count, pins))
        });
        found.min_by_key(|(count, pins)| (std::cmp::Reverse(*count), changes(pins, standing))).map(|(_, pins)| pins)
    }

    /// The readings to take as things stand, few that together test what all would, and what that is.
    fn readings(&self, left: &FixedBitSet, standing: &Configuration) -> (Vec<PlannedReading>, FixedBitSet) {
        let mut changed = Changed::new(self.setup.network, standing);
        changed.put_in(&self.extra.step);
        let mut probe = Probe::new(changed.network());
        let mut tried: Vec<Tried<'_>> = Vec::new();
        for reading in &self.extra.readings {
            if !reading.tests.iter().any(|test| left.contains(test.0)) {
                continue;
            }
            let mut by_volts: BTreeMap<u64, Tried<'_>> = BTreeMap::new();
            let probed = probe.read(changed.network(), &changed.standing, FreeDevices::Unknown, &reading.leads);
            for (group, when) in probed.tests() {
                let Ok(target) = self.groups.binary_search(&group) else { continue };
                if when.is_some() || !left.contains(target) {
                    continue;
                }
                let (circuit, volts) = self.asked(reading, group);
                let entry = by_volts.entry(volts.0.to_bits());
                entry.or_insert_with(|| Tried { reading, circuit, volts, tests: Vec::new() }).tests.push(target);
            }
            tried.extend(by_volts.into_values());
        }
        let mut done = FixedBitSet::with_capacity(left.len());
        let mut readings = Vec::new();
        loop {
            let gain = |tried: &Tried<'_>| tried.tests.iter().filter(|&&target| !done.contains(target)).count();
            let best = tried.iter().min_by_key(|tried| std::cmp::Reverse(gain(tried)));
            let Some(best) = best.filter(|tried| gain(tried) > 0) else { break };
            let mut new: Vec<usize> = best.tests.iter().copied().filter(|&target| !done.contains(target)).collect();
            new.sort_unstable();
            let mut adds: Vec<PairId> = new.iter().flat_map(|&target| self.pairs(self.groups[target])).collect();
            adds.sort_unstable();
            readings.push(self.planned(best, adds));
            done.extend(new);
        }
        (readings, done)
    }

    /// The needed pairs of a group.
    fn pairs(&self, group: u32) -> impl Iterator<Item = PairId> + '_ {
        let network = self.setup.network;
        network.group_pairs(group).filter(move |&pair| self.need.requires(network.pair_class(pair)))
    }

    /// The circuit that a reading is for, and the test voltage: at a point, of the length of the first pair.
    fn asked(&self, reading: &Sounded, group: u32) -> (CircuitId, Volts) {
        match reading.taken {
            Taken::Way(number) => {
                let candidate = &self.setup.candidates[number as usize];
                (candidate.circuit, candidate.volts)
            }
            Taken::Point(_) => {
                let network = self.setup.network;
                let pair = self.pairs(group).next().expect("a target has a needed pair");
                let circuit = network.installation().length(network.pair_length(pair)).circuit();
                (circuit, crate::rules::test_voltage(network.installation().circuit(circuit)))
            }
        }
    }

    fn planned(&self, tried: &Tried<'_>, adds: Vec<PairId>) -> PlannedReading {
        let &Tried { reading, circuit, volts, .. } = tried;
        let reading = match reading.taken {
            Taken::Way(number) => self.setup.candidates[number as usize].reading.clone(),
            Taken::Point(terminals) => {
                let installation = self.setup.network.installation();
                let lead = |terminal| Lead { text: installation.terminal_name(terminal), touches: vec![terminal] };
                let at = ReadingAt::Circuit(circuit);
                Reading { at, leads: terminals.map(lead), volts: Some(volts), megohms: None, written: None }
            }
        };
        let naming = Naming { network: self.setup.network, fleet: &self.setup.fleet };
        naming.reading(&ChosenReading { circuit, reading, volts, adds, positions: Vec::new() })
    }
}

/// These pins and more, so that a condition holds, by the fewest changes; none where no combination does.
fn fit(when: &Condition, pins: &Pins, standing: &Configuration) -> Option<Pins> {
    let combinations = (0..when.count()).filter(|&combination| when.get(combination));
    let fitting = combinations.map(|combination| when.positions(combination)).filter(|positions| {
        positions.iter().all(|(device, position)| pins.get(device).is_none_or(|pinned| pinned == position))
    });
    let all = fitting.map(|positions| {
        let mut pins = pins.clone();
        pins.extend(positions);
        pins
    });
    all.min_by_key(|pins| changes(pins, standing))
}

fn changes(pins: &Pins, standing: &Configuration) -> usize {
    pins.iter().filter(|&(&device, &position)| standing.device(device) != DeviceState::At(position)).count()
}
