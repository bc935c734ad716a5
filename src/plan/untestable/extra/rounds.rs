//! What is done while an extra is in place: in few rounds, each from where the one before left the switches.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use fixedbitset::FixedBitSet;

use super::finding::UsefulExtra;
use crate::model::{CircuitId, Lead, Reading, ReadingAt, Volts};
use crate::network::{DeviceIndex, Need, PairId};
use crate::plan::answer::{PlannedReading, Round};
use crate::plan::naming::Naming;
use crate::plan::problem::setup::Setup;
use crate::plan::schedule::operations::operations;
use crate::plan::schedule::readings::chosen::ChosenReading;
use crate::plan::untestable::trial::{ExtraTrial, Pins, TakenAt, changes, circuit_of, fit};
use crate::reading::Configuration;

pub(super) struct ExtraRounds<'r, 'n> {
    pub(super) setup: &'r Setup<'n>,
    pub(super) need: Need,
    pub(super) groups: &'r [u32],
    pub(super) extra: &'r UsefulExtra,
}

/// A reading that could be taken in a round: where, for which circuit and voltage, and the targets that it tests.
struct RoundOption {
    at: TakenAt,
    circuit: CircuitId,
    volts: Option<Volts>,
    tests: Vec<usize>,
}

impl ExtraRounds<'_, '_> {
    /// Rounds for these targets, with the targets that they test: each is found tested in its round, by the extra's own
    /// network, whatever electronics and unknown devices do.
    pub(super) fn plan(&self, targets: FixedBitSet, configuration: &mut Configuration) -> (Vec<Round>, FixedBitSet) {
        let network = self.setup.network;
        let mut tested = FixedBitSet::with_capacity(targets.len());
        let mut left = targets;
        let mut rounds = Vec::new();
        while !left.is_clear() {
            let Some(pins) = self.setting(&left, configuration) else { break };
            let changes: Vec<(DeviceIndex, u16)> = pins.into_iter().collect();
            let operations = operations(network, &self.setup.choices, configuration, &changes);
            let (readings, done) = self.readings(&left, configuration);
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
    fn setting(&self, left: &FixedBitSet, configuration: &Configuration) -> Option<Pins> {
        let tests = |target: usize| {
            let readings = self.extra.readings.iter();
            readings.flat_map(|reading| &reading.tests).filter(move |test| test.0 == target).map(|test| &test.1)
        };
        let most = self.setup.network.limits().plan.extra_settings.max(1);
        let seeds = left.ones().take(most).flat_map(tests);
        let found = seeds.filter_map(|seed| {
            let mut pins = fit(seed, &Pins::new(), configuration)?;
            let mut count = 0;
            for target in left.ones() {
                let best = tests(target).filter_map(|when| fit(when, &pins, configuration));
                if let Some(more) = best.min_by_key(|pins| changes(pins, configuration)) {
                    pins = more;
                    count += 1;
                }
            }
            Some((count, pins))
        });
        found.min_by_key(|(count, pins)| (Reverse(*count), changes(pins, configuration))).map(|(_, pins)| pins)
    }

    /// The readings to take as things stand, few that together test what all would, and what that is.
    fn readings(&self, left: &FixedBitSet, configuration: &Configuration) -> (Vec<PlannedReading>, FixedBitSet) {
        let readings = self.extra.readings.iter();
        let readings: Vec<TakenAt> = readings
            .filter(|reading| reading.tests.iter().any(|test| left.contains(test.0)))
            .map(|reading| reading.at)
            .collect();
        let tests: Vec<Vec<u32>> = ExtraTrial::new(self.setup, configuration)
            .with(self.extra.step, |trial| readings.iter().map(|at| trial.tests_now(&at.leads(self.setup))).collect());
        let mut options: Vec<RoundOption> = Vec::new();
        for (at, groups) in readings.into_iter().zip(tests) {
            let mut by_volts: BTreeMap<Option<u64>, RoundOption> = BTreeMap::new();
            for group in groups {
                let Ok(target) = self.groups.binary_search(&group) else { continue };
                if left.contains(target) {
                    let (circuit, volts) = self.asked(at, group);
                    let entry = by_volts.entry(volts.map(|volts| volts.0.to_bits()));
                    entry.or_insert_with(|| RoundOption { at, circuit, volts, tests: Vec::new() }).tests.push(target);
                }
            }
            options.extend(by_volts.into_values());
        }
        let mut done = FixedBitSet::with_capacity(left.len());
        let mut readings = Vec::new();
        loop {
            let gain = |option: &RoundOption| option.tests.iter().filter(|&&target| !done.contains(target)).count();
            let best = options.iter().min_by_key(|option| Reverse(gain(option)));
            let Some(best) = best.filter(|option| gain(option) > 0) else { break };
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
        self.setup.network.required_pairs(self.need, group)
    }

    /// The circuit that a reading is for, and the test voltage: at a point, of the length of the first pair.
    fn asked(&self, at: TakenAt, group: u32) -> (CircuitId, Option<Volts>) {
        match at {
            TakenAt::Way(number) => {
                let candidate = &self.setup.candidates[number as usize];
                (candidate.circuit, candidate.reading.volts())
            }
            TakenAt::Point(_) => {
                circuit_of(self.setup.network, self.pairs(group).next().expect("a target has a needed pair"))
            }
        }
    }

    fn planned(&self, option: &RoundOption, adds: Vec<PairId>) -> PlannedReading {
        let &RoundOption { at, circuit, volts, .. } = option;
        let (at, reading) = match at {
            TakenAt::Way(number) => {
                let candidate = &self.setup.candidates[number as usize];
                (candidate.at, candidate.reading.clone())
            }
            TakenAt::Point(terminals) => {
                let installation = self.setup.network.installation();
                let lead = |terminal| Lead { text: installation.terminal_name(terminal), touches: vec![terminal] };
                let at = ReadingAt::Circuit(circuit);
                (None, Reading { at, leads: terminals.map(lead), volts, megohms: None, written: None })
            }
        };
        let naming = Naming { network: self.setup.network, choices: &self.setup.choices };
        naming.reading(&ChosenReading { circuit, at, reading, adds, positions: Vec::new(), part_of: Vec::new() })
    }
}
