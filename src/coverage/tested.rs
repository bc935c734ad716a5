//! The working tables of coverage: which pair groups and positions a test set tests, by which readings, from which
//! starts.

use fixedbitset::FixedBitSet;
use rustc_hash::FxHashMap;

use super::ReadingCoverage;
use super::outcome::{ForStarts, ReadingOutcome};
use super::shared::ReadingLists;
use crate::model::TestSet;
use crate::network::{DeviceIndex, Lists, Need, Network, PairId};
use crate::observer::{Stage, Watch};
use crate::reading::{Configuration, Diagram, LeadBodies, Probe, Replay, TableLimits};

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
    groups_partly: FxHashMap<u32, Diagram>,
    /// By [`Network::position_number`].
    positions: FixedBitSet,
    /// For positions that are under test for some starts only: for which.
    positions_partly: FxHashMap<u32, Diagram>,
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
        let mut probe = Probe::new(network);
        let mut outcome = ReadingOutcome::default();
        let reading_count = test_set.reading_count();
        let mut number = 0;
        while let Some((pass, standing)) = replay.next_pass() {
            number += 1;
            for (reading_number, reading) in (1..).zip(pass.readings()) {
                watch.at(Stage::TestSet, survey.readings.len(), reading_count);
                if watch.is_stopped() {
                    break;
                }
                let leads = LeadBodies::of(network, reading);
                let probed = probe.read_for_starts(network, standing, &leads);
                outcome.look_whether_void(network, standing, &leads, &probed);
                if counts(number, reading_number) {
                    outcome.look_at_rest(network, &probed, |position| !survey.is_under_test(position));
                    outcome.look_at_copper(network, standing, &leads, &mut probe, |_| ());
                }
                survey.enter([number, reading_number], &outcome);
            }
        }
        survey.finish(replay.into_configuration())
    }

    /// What readings test that were looked at before, by their passes and numbers, in order; everything stands so
    /// `after` the last pass.
    pub(super) fn by_outcomes<'o>(
        network: &'n Network,
        need: Need,
        outcomes: impl Iterator<Item = ([usize; 2], &'o ReadingOutcome)>,
        after: Configuration,
    ) -> Tested<'n> {
        let mut survey = Survey::new(network, need);
        outcomes.for_each(|(place, outcome)| survey.enter(place, outcome));
        survey.finish(after)
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
        self.network.requires(self.need, pair)
    }

    /// The required pairs that are not tested, in order.
    pub(crate) fn missed(&self) -> impl Iterator<Item = PairId> + '_ {
        self.network.pairs().filter(|&pair| self.is_required(pair) && !self.is_tested(pair))
    }

    /// The readings that test a pair in some combination of unknown starts, as a number of a list.
    pub(crate) fn list_of_testers(&self, pair: PairId, lists: &mut ReadingLists) -> usize {
        let group = self.group(pair);
        lists.number(group, || {
            let rows = self.testers.of(group).map(|tester| &self.readings[tester.reading as usize]);
            rows.map(|row| [row.pass, row.reading]).collect()
        })
    }

    /// The readings that test a pair in some combination of unknown starts, by their place in `readings`, and whether
    /// each does so in every one.
    pub(crate) fn testers(&self, pair: PairId) -> impl Iterator<Item = (usize, bool)> {
        self.testers.of(self.group(pair)).map(|tester| {
            let alone = tester.when.as_ref().is_none_or(|when| when.is_always());
            (tester.reading as usize, alone)
        })
    }

    /// Whether some of these readings, given by their places in ascending order, test a pair between them whatever the
    /// start.
    pub(crate) fn is_tested_by(&self, pair: PairId, readings: &[usize]) -> bool {
        let group = self.group(pair);
        let testers = readings.iter().filter_map(|&reading| self.testers.by(group, reading as u32));
        for_starts(testers.map(|tester| &tester.when), &self.network.limits().tables).is_none()
    }

    pub(crate) fn is_group_tested(&self, group: u32) -> bool {
        self.groups.contains(group as usize)
    }

    /// Whether a pair of a group must be tested and is not.
    pub(crate) fn is_group_missed(&self, group: u32) -> bool {
        !self.is_group_tested(group) && self.network.required_pairs(self.need, group).next().is_some()
    }

    /// For which starts a pair group is tested, where that is some but not all.
    pub(crate) fn partly_tested(&self, group: u32) -> Option<&Diagram> {
        self.groups_partly.get(&group)
    }

    /// Whether the position with this [`Network::position_number`] is under test.
    pub(crate) fn is_position_tested(&self, number: u32) -> bool {
        self.positions.contains(number as usize)
    }

    /// For which starts a position is under test, where that is some but not all.
    pub(crate) fn partly_under_test(&self, device: DeviceIndex, position: u16) -> Option<&Diagram> {
        self.positions_partly.get(&self.network.position_number(device, position))
    }
}

/// A reading by its place in the list of readings, and for which starts it tests.
#[derive(Debug)]
struct ReadingTest {
    reading: u32,
    when: ForStarts,
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

/// Gathers what readings do, in order.
struct Survey<'n> {
    network: &'n Network,
    need: Need,
    readings: Vec<ReadingCoverage>,
    testers: Vec<ReadingTest>,
    /// For each of `testers`, the pair group that it tests.
    tested_groups: Vec<u32>,
    positions: FixedBitSet,
    /// For positions that no reading puts under test for every start.
    position_when: FxHashMap<u32, Vec<ForStarts>>,
    reached: FixedBitSet,
    reached_void: FixedBitSet,
    only_void: FxHashMap<u32, u32>,
}

impl<'n> Survey<'n> {
    fn new(network: &'n Network, need: Need) -> Survey<'n> {
        Survey {
            network,
            need,
            readings: Vec::new(),
            testers: Vec::new(),
            tested_groups: Vec::new(),
            positions: FixedBitSet::with_capacity(network.position_count()),
            position_when: FxHashMap::default(),
            reached: FixedBitSet::with_capacity(network.body_count()),
            reached_void: FixedBitSet::with_capacity(network.body_count()),
            only_void: FxHashMap::default(),
        }
    }

    /// Whether a position is under test for every start by what was entered.
    fn is_under_test(&self, position: u32) -> bool {
        self.positions.contains(position as usize)
    }

    fn enter(&mut self, place: [usize; 2], outcome: &ReadingOutcome) {
        let index = self.readings.len() as u32;
        self.readings.push(outcome.row(place));
        let is_void = outcome.void.is_some();
        let reached = if is_void { &mut self.reached_void } else { &mut self.reached };
        reached.extend(outcome.reached.iter().map(|&body| body as usize));
        for (group, when) in &outcome.opposite {
            if is_void {
                self.only_void.entry(*group).or_insert(index);
            } else {
                self.testers.push(ReadingTest { reading: index, when: when.clone() });
                self.tested_groups.push(*group);
            }
        }
        for (position, when) in &outcome.under_test {
            if when.is_none() {
                self.positions.insert(*position as usize);
            } else if !self.is_under_test(*position) {
                let list = self.position_when.entry(*position).or_default();
                if !list.contains(when) {
                    list.push(when.clone());
                }
            }
        }
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
            match for_starts(testers.of(group).map(|tester| &tester.when), tables) {
                None => groups.insert(group as usize),
                Some(some) => drop(groups_partly.insert(group, some)),
            }
        }
        let mut positions = self.positions;
        let mut positions_partly = FxHashMap::default();
        for (&position, when) in &self.position_when {
            if positions.contains(position as usize) {
                continue;
            }
            match for_starts(when.iter(), tables) {
                None => positions.insert(position as usize),
                Some(some) => drop(positions_partly.insert(position, some)),
            }
        }
        Tested {
            network: self.network,
            need: self.need,
            readings: self.readings,
            testers,
            groups,
            groups_partly,
            positions,
            positions_partly,
            reached: self.reached,
            reached_void: self.reached_void,
            only_void: self.only_void,
            after: standing,
        }
    }
}

/// For which starts any of these holds; none where one does for every start, or all do between them.
pub(super) fn for_starts<'w>(whens: impl Iterator<Item = &'w ForStarts>, limits: &TableLimits) -> Option<Diagram> {
    let whens: Option<Vec<&Diagram>> = whens.map(|when| when.as_deref()).collect();
    Some(Diagram::union(whens?, limits)).filter(|all| !all.is_always())
}
