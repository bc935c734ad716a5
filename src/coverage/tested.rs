//! The working tables of coverage: which pair groups and positions a test set tests, by which readings, from which starts.

use fixedbitset::FixedBitSet;
use rustc_hash::FxHashMap;

use super::answer::ReadingCoverage;
use super::void::{Void, void_path};
use crate::model::{Pass, Reading, TestSet};
use crate::network::{
    Condition, DeviceIndex, LeadBodies, Lists, Need, Network, Opposite, PairId, Region, Scout, Sighting, Stand,
    Standing,
};

/// What a test set tests.
#[derive(Debug)]
pub(crate) struct Tested<'n> {
    pub(super) network: &'n Network,
    pub(crate) need: Need,
    /// What became of each reading, in order.
    pub(crate) readings: Vec<ReadingCoverage>,
    /// For each pair group: the readings that test it, in some combination.
    testers: Testers,
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
    pub(crate) after: Standing,
}

impl<'n> Tested<'n> {
    /// What the readings of a test set test.
    ///
    /// # Panics
    ///
    /// Where the test set was checked against another installation: its ids mean nothing in this one.
    pub(crate) fn by(network: &'n Network, test_set: &TestSet, need: Need) -> Tested<'n> {
        Tested::by_some(network, test_set, need, |_, _| true)
    }

    /// What some readings of a test set test: those for whose pass and number in it, both counted from 1, `counts` is
    /// true. Every pass is carried out and every reading is listed; one that does not count tests nothing and reaches
    /// nothing, and its `void` says what it would say otherwise.
    pub(crate) fn by_some(
        network: &'n Network,
        test_set: &TestSet,
        need: Need,
        mut counts: impl FnMut(usize, usize) -> bool,
    ) -> Tested<'n> {
        assert!(test_set.is_for(network.installation()), "the test set was checked against another installation");
        let mut standing = Standing::before(network, test_set);
        let mut survey = Survey::new(network, need);
        for (number, pass) in test_set.passes().iter().enumerate() {
            standing.carry_out(network, pass);
            survey.take_pass(&standing, number + 1, pass, &mut counts);
        }
        survey.finish(standing)
    }

    fn group(&self, pair: PairId) -> u32 {
        self.network.pairs[pair.index()].group
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
        whens.is_none_or(|whens| union(whens.into_iter()).is_always())
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
struct Tester {
    reading: u32,
    /// None: whatever the start.
    when: Option<Box<Condition>>,
}

/// The readings that test each pair group.
#[derive(Debug)]
struct Testers {
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
    readings: Vec<ReadingCoverage>,
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
        self.readings.push(ReadingCoverage { pass, reading: number, void, path });
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

    fn finish(self, standing: Standing) -> Tested<'n> {
        let group_count = self.network.groups.len();
        let of_group = Lists::new(group_count, self.tested_groups.iter().copied().zip(0u32..));
        let testers = Testers { all: self.testers, of_group };
        let mut groups = FixedBitSet::with_capacity(group_count);
        let mut groups_partly = FxHashMap::default();
        for group in 0..group_count as u32 {
            if testers.of(group).next().is_none() {
                continue;
            }
            // One that tests it whatever the start has no condition.
            let whens: Option<Vec<&Condition>> = testers.of(group).map(|tester| tester.when.as_deref()).collect();
            match whens.map(|whens| union(whens.into_iter())).filter(|all| !all.is_always()) {
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
            let all = union(when.iter());
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
