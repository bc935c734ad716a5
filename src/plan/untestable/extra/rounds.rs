//! What is done while an extra is in place: in few rounds, each from where the one before left the switches.

use std::cmp::Reverse;
use std::collections::BTreeMap;
use std::sync::Arc;

use fixedbitset::FixedBitSet;

use super::ExtraSetup;
use super::finding::{ExtraCase, UsefulExtra};
use super::joining::joined_at_points;
use crate::model::{CircuitId, Lead, Reading, ReadingAt, Volts};
use crate::network::{DeviceIndex, PairId};
use crate::plan::answer::{FoundPosition, PlannedReading, Round};
use crate::plan::naming::Naming;
use crate::plan::problem::choices::DeviceChoices;
use crate::plan::schedule::operations::{carry_out, operations};
use crate::plan::schedule::readings::chosen::ChosenReading;
use crate::plan::schedule::readings::selection::{Tests, Untested};
use crate::plan::untestable::trial::{ExtraTrial, Pins, TakenAt, changes, circuit_of, fit};
use crate::reading::{Condition, Configuration, DeviceState, Diagram, FreeDevices};

/// What is done with an extra in place.
pub(super) struct DoneWith {
    pub(super) rounds: Vec<Round>,
    /// Where a position is found out: what is done in each case.
    pub(super) found: Vec<FoundPosition>,
    /// The targets that it completes.
    pub(super) tested: FixedBitSet,
}

/// A reading that could be taken in a round: where, for which circuit and voltage, and the groups that it tests.
#[derive(Clone)]
pub(super) struct RoundOption {
    pub(super) at: TakenAt,
    pub(super) circuit: CircuitId,
    pub(super) volts: Option<Volts>,
    pub(super) tests: Tests,
}

/// Rounds for these targets, from where the plan and the extras before left the switches: each target is found tested
/// by readings in the extra's own network, for every start.
pub(super) fn done_with(
    extras: &ExtraSetup<'_, '_>,
    extra: &UsefulExtra,
    targets: &FixedBitSet,
    configuration: &mut Configuration,
    untested: &mut Untested,
) -> DoneWith {
    let network = extras.setup.network;
    let open_before: Vec<usize> =
        (0..extras.groups.len()).filter(|&target| untested.is_open(extras.groups[target])).collect();
    let mut done =
        DoneWith { rounds: Vec::new(), found: Vec::new(), tested: FixedBitSet::with_capacity(targets.len()) };
    done.tested.extend(open_before);
    for case in &extra.cases {
        let choices = &*extras.choices_of(&extra.steps, case.found);
        let found = case.found.and_then(|position| extras.found_out(&extra.steps, position));
        let mut base = configuration.clone();
        let mut known = found.as_ref().map(|found| {
            base.set_device(found.device, DeviceState::At(found.position));
            untested.given((found.device, network.devices()[found.device as usize].positions), found.start)
        });
        let open = known.as_mut().unwrap_or(untested);
        let mut trial = ExtraTrial::new(network, configuration);
        let rounds = trial.with(&extra.steps, case.found, |trial| {
            let is_put_back = found.is_some();
            CaseRounds { extras, case, targets, choices, untested: open, trial, base: &mut base }.plan(is_put_back)
        });
        let is_left = |target: &usize| open.is_open(extras.groups[*target]);
        (0..targets.len()).filter(is_left).for_each(|target| done.tested.set(target, false));
        match found {
            Some(found) => {
                let position = network.position_name(found.device, found.position).to_owned();
                done.found.push(FoundPosition { position, rounds });
            }
            None => (done.rounds, *configuration) = (rounds, base),
        }
    }
    for target in done.tested.ones() {
        untested.enter(extras.groups[target], None);
    }
    done
}

/// The rounds of one case.
struct CaseRounds<'r, 's, 'n> {
    extras: &'r ExtraSetup<'s, 'n>,
    case: &'r ExtraCase,
    targets: &'r FixedBitSet,
    choices: &'r DeviceChoices,
    untested: &'r mut Untested,
    trial: &'r mut ExtraTrial<'s>,
    /// How devices stand after the last round.
    base: &'r mut Configuration,
}

impl CaseRounds<'_, '_, '_> {
    /// The rounds; where it is asked for, a last one puts back what they moved.
    fn plan(mut self, is_put_back: bool) -> Vec<Round> {
        let choices = self.choices;
        let mut needs: Vec<(usize, &Condition)> =
            self.case.needs.iter().filter(|need| self.targets.contains(need.0)).map(|need| (need.0, &need.1)).collect();
        let mut rounds = Vec::new();
        let (mut pending, mut before) = (Pins::new(), Pins::new());
        loop {
            needs.retain(|need| self.untested.is_open(self.extras.groups[need.0]));
            let Some(pins) = self.setting(&needs) else { break };
            carry_out(choices, &mut self.trial.configuration, &Vec::from_iter(pins.clone()));
            pending.extend(pins);
            let configuration = &self.trial.configuration;
            needs.retain(|(_, holds)| {
                !holds.get(holds.number(|device| choices.option(configuration, device).expect("it has an option")))
            });
            let readings = self.readings();
            if readings.is_empty() {
                continue;
            }
            let changes = Vec::from_iter(std::mem::take(&mut pending));
            for &(device, _) in &changes {
                let option = choices.option(self.base, device).expect("it has an option");
                before.entry(device).or_insert(option);
            }
            rounds.push(self.round(&changes, readings));
        }
        if is_put_back {
            let round = self.round(&Vec::from_iter(before), Vec::new());
            rounds.extend(Some(round).filter(|round| !round.operations.is_empty()));
        }
        rounds
    }

    fn round(&mut self, changes: &[(DeviceIndex, u16)], readings: Vec<PlannedReading>) -> Round {
        let operations = operations(self.extras.setup.network, self.choices, self.base, changes);
        let operations = operations.into_iter().map(|(_, operation)| operation).collect();
        Round { operations, readings, walk: None, fewest_readings: None }
    }

    /// A setting that some need asks for: that which meets most of those found, then with the fewest changes.
    fn setting(&self, needs: &[(usize, &Condition)]) -> Option<Pins> {
        let most = self.extras.setup.limits().extra_settings.max(1);
        let configuration = &self.trial.configuration;
        let found = needs.iter().take(most).filter_map(|(_, seed)| {
            let mut pins = fit(seed, &Pins::new(), self.choices, configuration)?;
            let mut count = 0;
            for (_, holds) in needs {
                if let Some(more) = fit(holds, &pins, self.choices, configuration) {
                    pins = more;
                    count += 1;
                }
            }
            Some((count, pins))
        });
        let cost = |pins: &Pins| changes(pins, self.choices, configuration);
        found.min_by_key(|(count, pins)| (Reverse(*count), cost(pins))).map(|(_, pins)| pins)
    }

    /// The readings to take as things stand, few that together test what all would.
    fn readings(&mut self) -> Vec<PlannedReading> {
        let mut options: Vec<RoundOption> = Vec::new();
        for reading in &self.case.readings {
            if !reading.targets.iter().any(|&target| self.untested.is_open(self.extras.groups[target])) {
                continue;
            }
            let leads = reading.at.leads(self.extras.setup);
            let mut by_volts: BTreeMap<Option<u64>, RoundOption> = BTreeMap::new();
            for test in self.trial.read(FreeDevices::Unknown, &leads).tests() {
                let is_target =
                    self.extras.target(test.0).is_some() && reading.at.counts_for(self.extras.setup, test.0);
                if is_target && self.untested.gains(test.0, test.1.as_deref()) {
                    let (circuit, volts) = self.asked(&reading.at, test.0);
                    let option = by_volts.entry(volts.map(|volts| volts.0.to_bits()));
                    let at = || RoundOption { at: reading.at.clone(), circuit, volts, tests: Tests::new() };
                    option.or_insert_with(at).tests.push(test);
                }
            }
            options.extend(by_volts.into_values());
        }
        let mut untested = self.untested.clone();
        let mut chosen = Vec::new();
        loop {
            let gain = |option: &RoundOption| {
                let gains = |test: &&(u32, Option<Arc<Diagram>>)| {
                    self.is_wanted(test.0) && untested.gains(test.0, test.1.as_deref())
                };
                option.tests.iter().filter(gains).count()
            };
            let best = options.iter().min_by_key(|option| Reverse(gain(option)));
            let Some(best) = best.filter(|option| gain(option) > 0).cloned() else { break };
            best.tests.iter().for_each(|(group, when)| {
                untested.enter(*group, when.as_deref());
            });
            chosen.push(best);
        }
        let (extras, network) = (self.extras, self.extras.setup.network);
        let asks = |group: u32| {
            extras.target(group)?;
            let pair = network.required_pairs(extras.request.need, group).next()?;
            Some(circuit_of(network, pair).1)
        };
        let joined = joined_at_points(extras.setup, self.trial, chosen, asks);
        joined.into_iter().filter_map(|option| self.taken(option)).collect()
    }

    fn is_wanted(&self, group: u32) -> bool {
        self.extras.target(group).is_some_and(|target| self.targets.contains(target))
    }

    /// A reading with what it adds; none where that is nothing that is asked for. What it tests of other targets counts
    /// too.
    fn taken(&mut self, option: RoundOption) -> Option<PlannedReading> {
        let gains = |test: &(u32, Option<Arc<Diagram>>)| {
            self.is_wanted(test.0) && self.untested.gains(test.0, test.1.as_deref())
        };
        if !option.tests.iter().any(gains) {
            return None;
        }
        let (mut completes, mut part_of) = (Vec::new(), Vec::new());
        for (group, when) in &option.tests {
            if self.untested.gains(*group, when.as_deref()) {
                if self.untested.enter(*group, when.as_deref()) {
                    completes.extend(self.pairs(*group));
                } else if self.is_wanted(*group) {
                    part_of.extend(self.pairs(*group));
                }
            }
        }
        if !completes.is_empty() {
            part_of.clear();
        }
        completes.sort_unstable();
        part_of.sort_unstable();
        Some(self.planned(option, completes, part_of))
    }

    /// The needed pairs of a group.
    fn pairs(&self, group: u32) -> impl Iterator<Item = PairId> {
        self.extras.setup.network.required_pairs(self.extras.request.need, group)
    }

    /// The circuit that a reading is for, and the test voltage: at a point, of the length of the first pair.
    fn asked(&self, at: &TakenAt, group: u32) -> (CircuitId, Option<Volts>) {
        match at {
            TakenAt::Way(number) => {
                let candidate = &self.extras.setup.candidates[*number as usize];
                (candidate.circuit, candidate.reading.volts())
            }
            TakenAt::Point(_) => {
                circuit_of(self.extras.setup.network, self.pairs(group).next().expect("a target has a needed pair"))
            }
        }
    }

    fn planned(&self, option: RoundOption, adds: Vec<PairId>, part_of: Vec<PairId>) -> PlannedReading {
        let setup = self.extras.setup;
        let RoundOption { at, circuit, volts, .. } = option;
        let (at, reading) = match at {
            TakenAt::Way(number) => {
                let candidate = &setup.candidates[number as usize];
                (candidate.at, candidate.reading.clone())
            }
            TakenAt::Point(terminals) => {
                let leads = terminals.map(|touches| {
                    let names = touches.iter().map(|&terminal| setup.network.installation().terminal_name(terminal));
                    Lead { text: names.collect::<Vec<_>>().join("+"), touches }
                });
                (None, Reading { at: ReadingAt::Circuit(circuit), leads, volts, megohms: None, written: None })
            }
        };
        let naming = Naming { network: setup.network, choices: self.choices };
        naming.reading(&ChosenReading { circuit, at, reading, adds, positions: Vec::new(), part_of })
    }
}
