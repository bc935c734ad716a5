//! The working tables of coverage: which pair groups and positions a test set tests, by which readings, from which starts.

use fixedbitset::FixedBitSet;
use rustc_hash::FxHashMap;

use super::void::{ReadingCoverage, void_path};
use crate::model::{Reading, TestSet};
use crate::network::{DeviceIndex, Lists, Need, Network, PairId};
use crate::observer::{Stage, Watch};
use crate::reading::{Condition, Configuration, FreeDevices, LeadBodies, Probe, Replay, Side, Void, VoidReading, When};

/// What a test set tests.
#[derive(Debug)]
pub(crate) struct Tested<'n> {
    pub(super) network: &'n Network,
    pub(crate) need: Need,
    /// What became of each reading, in order.
    pub(crate) readings: Vec<ReadingCoverage>,
    /// For each pair group: the readings that test it, in some combination.
    testers: ReadingTests,
    groups: FixedBitSet,
    /// For each pair group that is not tested for every start but for some: for which.
    groups_partly: FxHashMap<u32, Condition>,
    /// The place of the first position of each device in `positions`.
    first_position: Vec<u32>,
    positions: FixedBitSet,
    /// For positions that are under test for some starts only: for which.
    positions_partly: FxHashMap<u32, Condition>,
    /// Bodies that some sound reading, or some void reading, had on a lead in some combination.
    pub(super) reached: FixedBitSet,
    pub(super) reached_void: FixedBitSet,
    /// For each pair group that a void reading had on opposite leads in some combination: the first such reading.
    pub(super) only_void: FxHashMap<u32, u32>,
    /// How things stand after the last pass.
    pub(crate) after: Configuration,
}

impl<'n> Tested<'n> {
    /// What the readings of a test set test.
    ///
    /// # Panics
    ///
    /// Where the test set was checked against another installation, which who calls has looked at.
    pub(crate) fn by(network: &'n Network, test_set: &TestSet, need: Need, watch: &mut Watch<'_>) -> Tested<'n> {
        Tested::by_some(network, test_set, need, |_, _| true, watch)
    }

    /// What some readings of a test set test: those for whose pass and number in it, both counted from 1, `counts` is
    /// true. Every pass is carried out and every reading is listed; one that does not count tests nothing and reaches
    /// nothing, and its `void` says what it would say otherwise.
    pub(crate) fn by_some(
        network: &'n Network,
        test_set: &TestSet,
        need: Need,
        mut counts: impl FnMut(usize, usize) -> bool,
        watch: &mut Watch<'_>,
    ) -> Tested<'n> {
        test_set.check_for(network.installation()).expect("looked at before");
        let mut survey = Survey::new(network, need);
        let mut replay = Replay::of(network, test_set);
        let reading_count = test_set.passes().iter().map(|pass| pass.readings().len()).sum();
        let mut number = 0;
        while let Some((pass, standing)) = replay.next_pass() {
            number += 1;
            for (reading_number, reading) in (1..).zip(pass.readings()) {
                watch.at(Stage::TestSet, survey.readings.len(), reading_count);
                if watch.is_stopped() {
                    break;
                }
                survey.take_reading(standing, [number, reading_number], reading, counts(number, reading_number));
            }
        }
        survey.finish(replay.into_configuration())
    }

    fn group(&self, pair: PairId) -> u32 {
        self.network.pair_group(pair)
    }

    /// Whether a pair is tested.
    pub(crate) fn is_tested(&self, pair: PairId) -> bool {
        self.is_group_tested(self.group(pair))
    }

    /// Whether a pair must be tested.
    pub(crate) fn is_required(&self, pair: PairId) -> bool {
        self.need.requires(self.network.pair_class(pair))
    }

    /// The required pairs that are not tested, in order.
    pub(crate) fn missed(&self) -> impl Iterator<Item = PairId> + '_ {
        self.network.pairs().filter(|&pair| self.is_required(pair) && !self.is_tested(pair))
    }

    /// The readings that test a pair (in some combination of unknown starts); empty where it is not tested.
    pub(crate) fn tested_by(&self, pair: PairId) -> impl Iterator<Item = &ReadingCoverage> {
        let group = self.group(pair);
        let testers = self.is_group_tested(group).then(|| self.testers.of(group));
        testers.into_iter().flatten().map(|tester| &self.readings[tester.reading as usize])
    }

    /// The readings that test a pair in some combination of unknown starts, by their place in `readings`, and whether
    /// each does so in every one.
    pub(crate) fn testers(&self, pair: PairId) -> impl Iterator<Item = (usize, bool)> {
        self.testers.of(self.group(pair)).map(|tester| {
            let alone = tester.when.as_ref().is_none_or(|when| when.is_always());
            (tester.reading as usize, alone)
        })
    }

    /// Whether some of these readings, given by their places in ascending order, test a pair between them whatever the start.
    pub(crate) fn is_tested_by(&self, pair: PairId, readings: &[usize]) -> bool {
        let group = self.group(pair);
        let testers = readings.iter().filter_map(|&reading| self.testers.by(group, reading as u32));
        // One that tests it whatever the start has no condition.
        let whens: Option<Vec<&Condition>> = testers.map(|tester| tester.when.as_deref()).collect();
        whens.is_none_or(|whens| Condition::union(whens, &self.network.limits().tables).is_always())
    }

    pub(crate) fn is_group_tested(&self, group: u32) -> bool {
        self.groups.contains(group as usize)
    }

    /// For which starts a pair group is tested, where that is some but not all.
    pub(crate) fn partly_tested(&self, group: u32) -> Option<&Condition> {
        self.groups_partly.get(&group)
    }

    pub(crate) fn is_position_tested(&self, device: DeviceIndex, position: u16) -> bool {
        self.positions.contains(self.slot(device, position))
    }

    /// For which starts a position is under test, where that is some but not all.
    pub(crate) fn partly_under_test(&self, device: DeviceIndex, position: u16) -> Option<&Condition> {
        self.positions_partly.get(&(self.slot(device, position) as u32))
    }

    fn slot(&self, device: DeviceIndex, position: u16) -> usize {
        self.first_position[device as usize] as usize + usize::from(position)
    }
}

/// A reading by its place in the list of readings, and for which starts it tests.
#[derive(Debug)]
struct ReadingTest {
    reading: u32,
    /// None: whatever the start.
    when: Option<Box<Condition>>,
}

/// The readings that test each pair group.
#[derive(Debug)]
struct ReadingTests {
    /// In the order of readings.
    all: Vec<ReadingTest>,
    /// For each pair group, places in `all`, ascending.
    of_group: Lists,
}

impl ReadingTests {
    fn of(&self, group: u32) -> impl Iterator<Item = &ReadingTest> {
        self.of_group.at(group).iter().map(|&place| &self.all[place as usize])
    }

    /// The entry of one reading.
    fn by(&self, group: u32, reading: u32) -> Option<&ReadingTest> {
        let places = self.of_group.at(group);
        let found = places.binary_search_by_key(&reading, |&place| self.all[place as usize].reading);
        found.ok().map(|at| &self.all[places[at] as usize])
    }
}

struct Survey<'n> {
    network: &'n Network,
    need: Need,
    probe: Probe,
    readings: Vec<ReadingCoverage>,
    testers: Vec<ReadingTest>,
    /// For each of `testers`, the pair group that it tests.
    tested_groups: Vec<u32>,
    first_position: Vec<u32>,
    position_tested: FixedBitSet,
    position_when: FxHashMap<u32, Vec<Condition>>,
    reached: FixedBitSet,
    reached_void: FixedBitSet,
    only_void: FxHashMap<u32, u32>,
}

impl<'n> Survey<'n> {
    fn new(network: &'n Network, need: Need) -> Survey<'n> {
        let mut first_position = Vec::with_capacity(network.devices().len() + 1);
        let mut next = 0u32;
        for device in network.devices() {
            first_position.push(next);
            next += u32::from(device.positions);
        }
        first_position.push(next);
        Survey {
            network,
            need,
            probe: Probe::new(network),
            readings: Vec::new(),
            testers: Vec::new(),
            tested_groups: Vec::new(),
            first_position,
            position_tested: FixedBitSet::with_capacity(next as usize),
            position_when: FxHashMap::default(),
            reached: FixedBitSet::with_capacity(network.body_count()),
            reached_void: FixedBitSet::with_capacity(network.body_count()),
            only_void: FxHashMap::default(),
        }
    }

    fn take_reading(&mut self, standing: &Configuration, [pass, number]: [usize; 2], reading: &Reading, counts: bool) {
        let network = self.network;
        let leads = LeadBodies::of(network, reading.leads());
        let probed = self.probe.read(network, standing, FreeDevices::Unknown, &leads);
        let void = probed.void();
        if counts {
            let reached = if void.is_some() { &mut self.reached_void } else { &mut self.reached };
            reached.extend(Side::BOTH.into_iter().flat_map(|side| probed.held(side)).map(|&body| body as usize));
        }
        let path = match &void {
            Some(VoidReading { void: Void::NotRuledOut, .. }) | None => Vec::new(),
            Some(VoidReading { void, witness }) => void_path(network, standing, witness, &leads, *void),
        };
        let void = void.map(|reading| reading.void);
        let index = self.readings.len() as u32;
        self.readings.push(ReadingCoverage { pass, reading: number, void, path });
        if !counts {
            return;
        }
        if void.is_some() {
            probed.opposite(
                |_| true,
                |group, when| {
                    if when != When::TooLarge {
                        self.only_void.entry(group).or_insert(index);
                    }
                },
            );
            return;
        }
        probed.opposite(
            |_| true,
            |group, when| {
                let when = match when {
                    When::Always => None,
                    // Devices on which it does not depend would only make a union too large to work out.
                    When::In(when) => Some(Box::new(when.essential())),
                    When::TooLarge => return,
                };
                self.testers.push(ReadingTest { reading: index, when });
                self.tested_groups.push(group);
            },
        );
        self.reached.extend(probed.decided().map(|body| body as usize));
        probed.closed_on_leads(
            |_, _| true,
            |device, position, when| {
                let slot = self.first_position[device as usize] + u32::from(position);
                match when {
                    _ if self.position_tested.contains(slot as usize) => {}
                    When::Always => self.position_tested.insert(slot as usize),
                    When::In(when) => enter(&mut self.position_when, slot, when),
                    When::TooLarge => {}
                }
            },
        );
    }

    fn finish(self, standing: Configuration) -> Tested<'n> {
        let tables = &self.network.limits().tables;
        let group_count = self.network.group_count();
        let of_group = Lists::new(group_count, self.tested_groups.iter().copied().zip(0u32..));
        let testers = ReadingTests { all: self.testers, of_group };
        let mut groups = FixedBitSet::with_capacity(group_count);
        let mut groups_partly = FxHashMap::default();
        for group in 0..group_count as u32 {
            if testers.of(group).next().is_none() {
                continue;
            }
            // One that tests it whatever the start has no condition.
            let whens: Option<Vec<&Condition>> = testers.of(group).map(|tester| tester.when.as_deref()).collect();
            match whens.map(|whens| Condition::union(whens, tables)).filter(|all| !all.is_always()) {
                None => groups.insert(group as usize),
                Some(all) => drop(groups_partly.insert(group, all)),
            }
        }
        let mut positions = self.position_tested;
        let mut positions_partly = FxHashMap::default();
        for (&slot, when) in &self.position_when {
            if positions.contains(slot as usize) {
                continue;
            }
            let all = Condition::union(when, tables);
            if all.is_always() {
                positions.insert(slot as usize);
            } else {
                positions_partly.insert(slot, all);
            }
        }
        Tested {
            network: self.network,
            need: self.need,
            readings: self.readings,
            testers,
            groups,
            groups_partly,
            first_position: self.first_position,
            positions,
            positions_partly,
            reached: self.reached,
            reached_void: self.reached_void,
            only_void: self.only_void,
            after: standing,
        }
    }
}

fn enter(when: &mut FxHashMap<u32, Vec<Condition>>, slot: u32, condition: Condition) {
    let list = when.entry(slot).or_default();
    if !list.contains(&condition) {
        list.push(condition);
    }
}
