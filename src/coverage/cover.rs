//! The coverage of a test set.

use fixedbitset::FixedBitSet;
use rustc_hash::FxHashMap;
use serde::{Deserialize, Serialize};

use super::explain::{Link, void_path};
use crate::model::{LengthId, Pass, Reading, TestSet};
use crate::network::{
    Condition, DeviceIndex, LeadBodies, Lists, Need, Network, Opposite, PairId, Region, Scout, Sighting, Stand,
    Standing,
};

/// Why a reading tests nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Void {
    /// The leads are joined for sure: the instrument reads a circuit, not insulation.
    Bridged,
    /// The leads may be joined: electronics would be exposed to the test voltage, or be read instead of the insulation.
    Doubtful,
}

/// What became of one reading.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ReadingOutcome {
    /// The pass, counted from 1.
    pub pass: usize,
    /// The reading in the pass, counted from 1.
    pub reading: usize,
    /// Why it is void; none where it is sound.
    pub void: Option<Void>,
    /// What joins the leads, from the first to the second; empty where the reading is sound, and where the leads
    /// touch the same copper.
    pub path: Vec<Link>,
}

/// What a test set covers.
///
/// "Tested" is claimed only where it holds whatever electronics do and however unknown devices stood at the start.
#[derive(Debug)]
#[must_use]
pub struct Coverage<'n> {
    pub(super) network: &'n Network,
    pub(super) need: Need,
    pub(super) readings: Vec<ReadingOutcome>,
    /// For each pair group: the readings that test it, in some combination.
    pub(super) testers: Testers,
    pub(super) tested: FixedBitSet,
    /// For each pair group that is not tested for every start but for some: for which.
    pub(super) partly: FxHashMap<u32, Condition>,
    pub(super) first_position: Vec<u32>,
    pub(super) position_tested: FixedBitSet,
    /// For positions that are under test for some starts only: for which.
    pub(super) position_partly: FxHashMap<u32, Condition>,
    /// Bodies that some sound reading, or only some void reading, had on a lead in some combination.
    pub(super) reached: FixedBitSet,
    pub(super) reached_void: FixedBitSet,
    /// For each pair group that a void reading had on opposite leads in some combination: the first such reading.
    pub(super) only_void: FxHashMap<u32, u32>,
    /// How things stand after the last pass.
    pub(crate) after: Standing,
}

/// A reading by the place of its outcome in the list of readings, and for which starts it tests.
#[derive(Clone, Debug)]
pub(super) struct Tester {
    pub(super) reading: u32,
    /// None: whatever the start.
    pub(super) when: Option<Box<Condition>>,
}

impl<'n> Coverage<'n> {
    /// Works out what a test set covers.
    ///
    /// Exact where at most 65,536 combinations of unknown starting positions (16 devices of two) bear on one pair;
    /// beyond that it may claim less, never more.
    ///
    /// Time O(Σ over readings of what the reading reaches), times one more for every 64 combinations of the unknown
    /// devices that bear on one another; space linear in the network and in what is tested.
    ///
    /// # Panics
    ///
    /// Where the test set was checked against another installation: its ids mean nothing in this one.
    pub fn of(network: &'n Network, test_set: &TestSet, need: Need) -> Coverage<'n> {
        Coverage::counting(network, test_set, need, |_, _| true)
    }

    /// Works out what a test set covers by some of its readings: those for whose pass and number in it, both counted from
    /// 1, `counts` is true. Every pass is carried out and every reading is listed; one that does not count tests nothing
    /// and reaches nothing, and its `void` says what it would say otherwise.
    ///
    /// Costs and panics as [`Coverage::of`].
    pub fn counting(
        network: &'n Network,
        test_set: &TestSet,
        need: Need,
        mut counts: impl FnMut(usize, usize) -> bool,
    ) -> Coverage<'n> {
        assert!(test_set.is_for(network.installation()), "the test set was checked against another installation");
        let mut standing = Standing::before(network, test_set);
        let mut survey = Survey::new(network, need);
        for (number, pass) in test_set.passes().iter().enumerate() {
            standing.carry_out(network, pass);
            survey.take_pass(&standing, number + 1, pass, &mut counts);
        }
        survey.finish(standing)
    }

    /// The level of need that the coverage was asked for.
    pub fn need(&self) -> Need {
        self.need
    }

    /// What became of each reading, in order.
    pub fn readings(&self) -> &[ReadingOutcome] {
        &self.readings
    }

    /// Whether a pair is tested.
    pub fn is_tested(&self, pair: PairId) -> bool {
        self.tested.contains(self.network.pairs[pair.index()].group as usize)
    }

    /// Whether a pair must be tested.
    pub fn is_required(&self, pair: PairId) -> bool {
        self.need.requires(self.network.pair_class(pair))
    }

    /// The required pairs that are not tested, in order.
    pub fn missed(&self) -> impl Iterator<Item = PairId> + '_ {
        self.network.pairs().filter(|&pair| self.is_required(pair) && !self.is_tested(pair))
    }

    /// Whether every required pair is tested.
    pub fn is_complete(&self) -> bool {
        self.missed().next().is_none()
    }

    /// The readings that test a pair (in some combination of unknown starts); empty where it is not tested.
    pub fn tested_by(&self, pair: PairId) -> impl Iterator<Item = &ReadingOutcome> {
        let group = self.network.pairs[pair.index()].group as usize;
        let testers = self.tested.contains(group).then(|| self.testers.of(group as u32));
        testers.into_iter().flatten().map(|tester| &self.readings[tester.reading as usize])
    }

    /// The readings that test a pair in some combination of unknown starts, by their place in [`Coverage::readings`], and
    /// whether each does so in every one.
    pub(crate) fn testers(&self, pair: PairId) -> impl Iterator<Item = (usize, bool)> {
        let group = self.network.pairs[pair.index()].group;
        self.testers.of(group).map(|tester| {
            let alone = tester.when.as_ref().is_none_or(|when| when.is_always());
            (tester.reading as usize, alone)
        })
    }

    /// Whether some of these readings, given by their places in ascending order, test a pair between them whatever the start.
    pub(crate) fn is_tested_by(&self, pair: PairId, readings: &[usize]) -> bool {
        let group = self.network.pairs[pair.index()].group;
        let testers = readings.iter().filter_map(|&reading| self.testers.by(group, reading as u32));
        // One that tests it whatever the start has no condition.
        let whens: Option<Vec<&Condition>> = testers.map(|tester| tester.when.as_deref()).collect();
        whens.is_none_or(|whens| union(whens.into_iter()).is_always())
    }

    /// Every tested pair with each reading that tests it (in some combination of unknown starts). Pairs between the same
    /// copper come together, so they are not in the order of lengths.
    ///
    /// Time linear in what is told and, 64 to a machine word, in the pairs: where few readings were taken, quicker than
    /// to ask for every pair.
    pub fn tested_pairs(&self) -> impl Iterator<Item = (PairId, &ReadingOutcome)> {
        self.tested.ones().flat_map(move |group| {
            let group = group as u32;
            self.network.group_pairs(group).flat_map(move |pair| {
                self.testers.of(group).map(move |tester| (pair, &self.readings[tester.reading as usize]))
            })
        })
    }

    /// Whether every required pair of a length is tested.
    pub fn is_length_tested(&self, length: LengthId) -> bool {
        let first = self.network.pairs.partition_point(|row| row.length < length);
        self.network.pairs[first..]
            .iter()
            .take_while(|row| row.length == length)
            .all(|row| !self.need.requires(row.class) || self.tested.contains(row.group as usize))
    }

    /// For which starts a pair group is tested, where that is some but not all.
    pub(crate) fn partly_tested(&self, group: u32) -> Option<&Condition> {
        self.partly.get(&group)
    }

    pub(crate) fn is_position_tested(&self, device: DeviceIndex, position: u16) -> bool {
        let slot = self.first_position[device as usize] + u32::from(position);
        self.position_tested.contains(slot as usize)
    }

    /// For which starts a position is under test, where that is not for all.
    pub(crate) fn partly_under_test(&self, device: DeviceIndex, position: u16) -> Option<&Condition> {
        let slot = self.first_position[device as usize] + u32::from(position);
        self.position_partly.get(&slot).filter(|_| !self.position_tested.contains(slot as usize))
    }

    pub(crate) fn is_group_tested(&self, group: u32) -> bool {
        self.tested.contains(group as usize)
    }
}

/// The readings that test each pair group.
#[derive(Debug)]
pub(super) struct Testers {
    /// In the order of readings.
    all: Vec<Tester>,
    /// For each pair group, places in `all`, ascending.
    of_group: Lists,
}

impl Testers {
    fn of(&self, group: u32) -> impl Iterator<Item = &Tester> {
        self.of_group.at(group).iter().map(|&place| &self.all[place as usize])
    }

    /// The entry of one reading.
    fn by(&self, group: u32, reading: u32) -> Option<&Tester> {
        let places = self.of_group.at(group);
        let found = places.binary_search_by_key(&reading, |&place| self.all[place as usize].reading);
        found.ok().map(|at| &self.all[places[at] as usize])
    }
}

struct Survey<'n> {
    network: &'n Network,
    need: Need,
    unknown: FixedBitSet,
    scout: Scout,
    readings: Vec<ReadingOutcome>,
    testers: Vec<Tester>,
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
        let mut first_position = Vec::with_capacity(network.devices.len() + 1);
        let mut next = 0u32;
        for device in &network.devices {
            first_position.push(next);
            next += u32::from(device.positions);
        }
        first_position.push(next);
        Survey {
            network,
            need,
            unknown: FixedBitSet::with_capacity(network.devices.len()),
            scout: Scout::new(network),
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

    fn take_pass(
        &mut self,
        standing: &Standing,
        number: usize,
        pass: &Pass,
        counts: &mut impl FnMut(usize, usize) -> bool,
    ) {
        self.unknown = standing.unknown();
        for (reading_number, reading) in pass.readings().iter().enumerate() {
            let counts = counts(number, reading_number + 1);
            self.take_reading(standing, [number, reading_number + 1], reading, counts);
        }
    }

    fn take_reading(&mut self, standing: &Standing, [pass, number]: [usize; 2], reading: &Reading, counts: bool) {
        let network = self.network;
        let leads = LeadBodies::of(network, reading.leads());
        let region = self.scout.explore(network, standing, &self.unknown, &leads);
        let position = |device: DeviceIndex, start: u16| standing.position_from(network, device, start);
        let void = void_of(&region, &position);
        if counts {
            let reached = if void.is_some() { &mut self.reached_void } else { &mut self.reached };
            for &body in region.held.iter().flatten() {
                reached.insert(body as usize);
            }
        }
        let path = match &void {
            Some(Verdict { void, witness }) => void_path(network, standing, witness, &leads, *void),
            None => Vec::new(),
        };
        let void = void.map(|verdict| verdict.void);
        let index = self.readings.len() as u32;
        self.readings.push(ReadingOutcome { pass, reading: number, void, path });
        if !counts {
            self.scout.give_back(region);
            return;
        }
        let mut sighting = Sighting::new(&region, position);
        if void.is_some() {
            let only_void = &mut self.only_void;
            sighting.opposite_groups(
                network,
                &self.scout,
                |_| true,
                |group, when| {
                    if !matches!(when, Opposite::TooLarge) {
                        only_void.entry(group).or_insert(index);
                    }
                },
            );
            self.scout.give_back(region);
            return;
        }
        let (testers, tested_groups) = (&mut self.testers, &mut self.tested_groups);
        sighting.opposite_groups(
            network,
            &self.scout,
            |_| true,
            |group, when| {
                let when = match when {
                    Opposite::Always => None,
                    // Devices on which it does not depend would only make a union too large to work out.
                    Opposite::When(when) => Some(Box::new(when.essential())),
                    Opposite::TooLarge => return,
                };
                testers.push(Tester { reading: index, when });
                tested_groups.push(group);
            },
        );
        for (_, body) in sighting.decided() {
            self.reached.insert(body as usize);
        }
        self.take_positions(standing, &region, &mut sighting);
        self.scout.give_back(region);
    }

    /// Enters the device positions that a sound reading puts under test.
    fn take_positions(
        &mut self,
        standing: &Standing,
        region: &Region,
        sighting: &mut Sighting<'_, impl Fn(DeviceIndex, u16) -> u16>,
    ) {
        let Survey { network, first_position, position_tested, position_when, .. } = self;
        positions_reached(network, standing, region, sighting, |device, position, when| {
            let slot = first_position[device as usize] + u32::from(position);
            if position_tested.contains(slot as usize) {
                return;
            }
            match when {
                None => position_tested.insert(slot as usize),
                Some(when) => enter(position_when, slot, when),
            }
        });
    }

    fn finish(mut self, standing: Standing) -> Coverage<'n> {
        let group_count = self.network.groups.len();
        let of_group = Lists::new(group_count, self.tested_groups.iter().copied().zip(0u32..));
        let testers = Testers { all: self.testers, of_group };
        let mut tested = FixedBitSet::with_capacity(group_count);
        let mut partly = FxHashMap::default();
        for group in 0..group_count as u32 {
            if testers.of(group).next().is_none() {
                continue;
            }
            if testers.of(group).any(|tester| tester.when.is_none()) {
                tested.insert(group as usize);
                continue;
            }
            let all = union(testers.of(group).filter_map(|tester| tester.when.as_deref()));
            if all.is_always() {
                tested.insert(group as usize);
            } else {
                partly.insert(group, all);
            }
        }
        let mut position_partly = FxHashMap::default();
        for (&slot, when) in &self.position_when {
            let all = union(when.iter());
            if all.is_always() {
                self.position_tested.insert(slot as usize);
            } else {
                position_partly.insert(slot, all);
            }
        }
        Coverage {
            network: self.network,
            need: self.need,
            readings: self.readings,
            testers,
            tested,
            partly,
            first_position: self.first_position,
            position_tested: self.position_tested,
            position_partly,
            reached: self.reached,
            reached_void: self.reached_void,
            only_void: self.only_void,
            after: standing,
        }
    }
}

/// Tells the device positions that a sound reading puts under test, each with the starts for which it does (none: for
/// all); what is too large to tell is left out.
fn positions_reached(
    network: &Network,
    standing: &Standing,
    region: &Region,
    sighting: &mut Sighting<'_, impl Fn(DeviceIndex, u16) -> u16>,
    mut tell: impl FnMut(DeviceIndex, u16, Option<Condition>),
) {
    let held = region.held.iter().flatten().map(|&body| (body, None));
    let beyond = sighting.decided().map(|(node, body)| (body, Some(node)));
    for (body, node) in held.chain(beyond) {
        let mut when_reached: Option<Option<Condition>> = None;
        for &number in network.contacts_at.at(body) {
            let contact = &network.contacts[number as usize];
            let device = contact.device;
            match standing.device(device) {
                Stand::At(position) => {
                    if !contact.is_closed_in(position) {
                        continue;
                    }
                    match node {
                        None => tell(device, position, None),
                        Some(node) => {
                            let reached = when_reached.get_or_insert_with(|| sighting.when_either(node));
                            if let Some(reached) = reached {
                                tell(device, position, Some(reached.clone()));
                            }
                        }
                    }
                }
                Stand::Moved(_) => {
                    let positions = network.devices[device as usize].positions;
                    for start in 0..positions {
                        let position = sighting.position(device, start);
                        if !contact.is_closed_in(position) {
                            continue;
                        }
                        let mut stands = Condition::never(vec![(device, positions)]);
                        stands.set(usize::from(start));
                        let when = match node {
                            None => Some(stands),
                            Some(node) => {
                                let reached = when_reached.get_or_insert_with(|| sighting.when_either(node));
                                reached.as_ref().and_then(|reached| reached.and(&stands))
                            }
                        };
                        if let Some(when) = when {
                            tell(device, position, Some(when));
                        }
                    }
                }
            }
        }
    }
}

fn enter(when: &mut FxHashMap<u32, Vec<Condition>>, slot: u32, condition: Condition) {
    let list = when.entry(slot).or_default();
    if !list.contains(&condition) {
        list.push(condition);
    }
}

/// The union of conditions; those that would make the table too large are left out, so that less is claimed.
fn union<'c>(conditions: impl Iterator<Item = &'c Condition>) -> Condition {
    let mut all = Condition::never(Vec::new());
    for condition in conditions {
        if let Some(more) = all.or(condition) {
            all = more;
        }
        if all.is_always() {
            break;
        }
    }
    all
}

/// That a reading is void, and where its unknown devices stand in one combination in which it is.
struct Verdict {
    void: Void,
    witness: Vec<(DeviceIndex, u16)>,
}

/// Whether a reading is void in some combination; where a group is too large to work out, that it is.
fn void_of(region: &Region, position: &impl Fn(DeviceIndex, u16) -> u16) -> Option<Verdict> {
    if region.always_bridged {
        return Some(Verdict { void: Void::Bridged, witness: Vec::new() });
    }
    let mut verdict = region.always_doubtful.then_some(Verdict { void: Void::Doubtful, witness: Vec::new() });
    let witness = |condition: &Condition| {
        let first = (0..condition.count()).find(|&combination| condition.get(combination))?;
        let starts = condition.positions(first).into_iter();
        Some(starts.map(|(device, start)| (device, position(device, start))).collect())
    };
    for group in &region.void_groups {
        if !region.is_tractable(group) {
            verdict = verdict.or(Some(Verdict { void: Void::Doubtful, witness: Vec::new() }));
            continue;
        }
        let voids = region.voids(group, position);
        if let Some(witness) = witness(&voids.bridged) {
            return Some(Verdict { void: Void::Bridged, witness });
        }
        if let (None, Some(witness)) = (&verdict, witness(&voids.void)) {
            verdict = Some(Verdict { void: Void::Doubtful, witness });
        }
    }
    verdict
}

/// Sounds single readings for a planner: what each tests as things stand.
pub(crate) struct LeadSurvey<'n> {
    network: &'n Network,
    scout: Scout,
}

impl<'n> LeadSurvey<'n> {
    pub(crate) fn new(network: &'n Network) -> LeadSurvey<'n> {
        LeadSurvey { network, scout: Scout::new(network) }
    }

    /// The pair groups that a reading tests, each with the starts for which it does (none: for all), and the positions
    /// that it puts under test, by the numbers that they are given: those without one are left out.
    ///
    /// `unknown` is [`Standing::unknown`] of the standing, found once for all readings taken in it.
    pub(crate) fn tests_and_positions(
        &mut self,
        standing: &Standing,
        unknown: &FixedBitSet,
        leads: &LeadBodies,
        number: Option<&dyn Fn(DeviceIndex, u16) -> Option<u32>>,
    ) -> Vec<(u32, Option<Condition>)> {
        let network = self.network;
        let region = self.scout.explore(network, standing, unknown, leads);
        let position = |device: DeviceIndex, start: u16| standing.position_from(network, device, start);
        if void_of(&region, &position).is_some() {
            self.scout.give_back(region);
            return Vec::new();
        }
        let mut tests = Vec::new();
        let mut sighting = Sighting::new(&region, position);
        sighting.opposite_groups(
            network,
            &self.scout,
            |_| true,
            |group, when| match when {
                Opposite::Always => tests.push((group, None)),
                Opposite::When(when) => tests.push((group, Some(when))),
                Opposite::TooLarge => {}
            },
        );
        if let Some(number) = number {
            let mut whens: FxHashMap<u32, Vec<Condition>> = FxHashMap::default();
            let mut order: Vec<u32> = Vec::new();
            positions_reached(network, standing, &region, &mut sighting, |device, position, when| {
                if let Some(number) = number(device, position) {
                    let list = whens.entry(number).or_default();
                    if list.is_empty() {
                        order.push(number);
                    }
                    list.push(when.unwrap_or_else(Condition::always));
                }
            });
            for number in order {
                let when = union(whens[&number].iter());
                tests.push((number, (!when.is_always()).then_some(when)));
            }
        }
        self.scout.give_back(region);
        tests
    }
}
