//! A cluster too large to list: its devices, the readings that bear on it as graphs, and what they must test.

use std::collections::BTreeSet;

use rustc_hash::{FxHashMap, FxHashSet};

use super::formula::{Formula, OptionLits, Truth, edges_from};
use crate::network::{Body, DeviceIndex};
use crate::plan::problem::choices::OptionKind;
use crate::plan::problem::cluster::{ClusterDevice, LargeCluster};
use crate::plan::problem::remaining::Remaining;
use crate::plan::problem::setup::Setup;
use crate::plan::problem::switches::SwitchDemand;
use crate::reading::{
    BodyPlace, Conduct, DeviceState, Diagram, Digit, FreeDevices, Probe, Probed, Side, Subgraph, TableLimits,
};

/// A device that nobody knows the start of.
#[derive(Clone, Copy, Debug)]
pub(super) struct Unknown {
    pub(super) device: DeviceIndex,
    pub(super) positions: u16,
}

/// Where each unknown device started, in the order of [`Problem::unknown`].
pub(super) type Start = Vec<u16>;

/// One reading: what decides what it reaches, and when it is void.
#[derive(Clone, Debug)]
pub(super) struct ProblemReading {
    pub(super) parts: Vec<Subgraph>,
    pub(super) voids: Vec<Subgraph>,
}

/// Where a reading has a body.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) enum Spot {
    Held(Side),
    Node { part: u32, node: u32 },
}

/// What may test a target.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) enum TargetTester {
    /// A reading, where it has two bodies on opposite leads.
    Opposite { reading: u32, spots: [Spot; 2] },
    /// A reading, where it has a body on either lead while a device stands in a position.
    UnderTest { reading: u32, spot: Spot, device: DeviceIndex, position: u16 },
    /// No reading: a member has one of these options (bit o: option o).
    Moved { member: u32, options: u128 },
}

impl TargetTester {
    /// The reading; none where none is asked for.
    pub(super) fn reading(&self) -> Option<u32> {
        match *self {
            TargetTester::Opposite { reading, .. } | TargetTester::UnderTest { reading, .. } => Some(reading),
            TargetTester::Moved { .. } => None,
        }
    }

    /// The ways to have the bodies on leads.
    pub(super) fn placements(&self) -> Vec<Vec<(Spot, Side)>> {
        match *self {
            TargetTester::Opposite { spots: [x, y], .. } => {
                vec![vec![(x, Side::A), (y, Side::B)], vec![(x, Side::B), (y, Side::A)]]
            }
            TargetTester::UnderTest { spot, .. } => vec![vec![(spot, Side::A)], vec![(spot, Side::B)]],
            TargetTester::Moved { .. } => vec![Vec::new()],
        }
    }
}

/// Pair groups that the same readings test in the same settings; or what is asked of a switch.
#[derive(Clone, Debug)]
pub(super) struct Target {
    /// The first tells which of the two they are.
    pub(super) groups: Vec<u32>,
    pub(super) testers: Vec<TargetTester>,
    /// For which starts it is tested already.
    pub(super) done_for: Option<Diagram>,
    /// For a position to come under test: a reading that is void in any case may come to it.
    pub(super) is_reached_if_void: bool,
}

#[derive(Debug)]
pub(super) struct Problem {
    /// The devices that the plan may operate.
    pub(super) members: Vec<ClusterDevice>,
    pub(super) unknown: Vec<Unknown>,
    pub(super) readings: Vec<ProblemReading>,
    pub(super) targets: Vec<Target>,
    /// Targets from this number on are no pairs, but what is asked of switches.
    pair_count: usize,
    /// For each device of a part: its place in `members`.
    member_of: FxHashMap<DeviceIndex, u32>,
    unknown_of: FxHashMap<DeviceIndex, u32>,
    kinds: FxHashMap<DeviceIndex, OptionKind>,
    /// Devices that the plan could operate but need not: where they stand.
    at: FxHashMap<DeviceIndex, u16>,
    pub(super) tables: TableLimits,
}

/// What decides where a device stands.
#[derive(Clone, Copy, Debug)]
pub(super) enum Decides {
    /// Its option alone.
    Option { member: u32 },
    /// Its start alone, with this option.
    Start { option: u16 },
    /// Its option and its start.
    Both { member: u32, unknown: u32 },
    /// It stands here.
    Fixed(u16),
}

/// A reading as it is being taken apart.
pub(super) struct Exploring {
    reading: ProblemReading,
    part_of: FxHashMap<u32, u32>,
}

impl Exploring {
    pub(super) fn new(probed: &Probed<'_>) -> Exploring {
        let voids = probed.void_subgraphs().collect();
        Exploring { reading: ProblemReading { parts: Vec::new(), voids }, part_of: FxHashMap::default() }
    }

    /// Where the reading has a body; none where it does not come to it.
    pub(super) fn spot(&mut self, probed: &Probed<'_>, body: Body) -> Option<Spot> {
        Some(match probed.place(body)? {
            BodyPlace::Held(side) => Spot::Held(side),
            BodyPlace::In { group, node } => {
                let parts = &mut self.reading.parts;
                let part = *self.part_of.entry(group).or_insert_with(|| {
                    parts.push(probed.subgraph(group));
                    parts.len() as u32 - 1
                });
                Spot::Node { part, node }
            }
        })
    }

    /// The reading as a tester of a pair, where it comes to both bodies.
    fn opposite(&mut self, probed: &Probed<'_>, bodies: [Body; 2], reading: u32) -> Option<TargetTester> {
        let [Some(x), Some(y)] = bodies.map(|body| self.spot(probed, body)) else { return None };
        let mut spots = [x, y];
        spots.sort_unstable();
        Some(TargetTester::Opposite { reading, spots })
    }

    /// The reading as a tester of a position, by each contact that the position closes and it comes to.
    fn closed_on_leads(
        &mut self,
        probed: &Probed<'_>,
        demand: SwitchDemand,
        joined: &[Body],
        reading: u32,
    ) -> Vec<TargetTester> {
        let SwitchDemand::UnderTest { device, position } = demand else { return Vec::new() };
        let spots: BTreeSet<Spot> = joined.iter().filter_map(|&body| self.spot(probed, body)).collect();
        spots.into_iter().map(|spot| TargetTester::UnderTest { reading, spot, device, position }).collect()
    }

    pub(super) fn finish(self) -> ProblemReading {
        self.reading
    }
}

impl Problem {
    /// Explores the readings that may test the groups of a cluster, and put positions under test.
    pub(super) fn new(remaining: &Remaining<'_>, probe: &mut Probe, cluster: &LargeCluster) -> Problem {
        let Remaining { setup, coverage, demands, readings: readings_of, .. } = remaining;
        let Setup { network, start: configuration, choices, candidates } = setup;
        let groups = &cluster.groups;
        let mut groups_of: FxHashMap<u32, Vec<u32>> = FxHashMap::default();
        for &group in groups {
            for &number in readings_of.at(group) {
                groups_of.entry(number).or_default().push(group);
            }
        }
        let mut numbers: Vec<u32> = groups_of.keys().copied().collect();
        numbers.sort_unstable();
        let mut readings: Vec<ProblemReading> = Vec::new();
        let mut testers: FxHashMap<u32, Vec<TargetTester>> = FxHashMap::default();
        let mut reached_if_void: FxHashSet<u32> = FxHashSet::default();
        for number in numbers {
            let leads = &candidates[number as usize].leads;
            let probed = probe.read(network, configuration, FreeDevices::These(&choices.variable), leads);
            if !probed.is_joined() {
                let mut exploring = Exploring::new(&probed);
                let mut tests_any = false;
                for &group in &groups_of[&number] {
                    let reading = readings.len() as u32;
                    let found = match demands.get(group) {
                        Some(demand) => exploring.closed_on_leads(&probed, demand, demands.joined(group), reading),
                        None => exploring.opposite(&probed, network.group_bodies(group), reading).into_iter().collect(),
                    };
                    tests_any |= !found.is_empty();
                    testers.entry(group).or_default().extend(found);
                }
                if tests_any {
                    readings.push(exploring.finish());
                }
            } else if !probed.is_bridged() {
                let comes = |group: u32| demands.joined(group).iter().any(|&body| probed.place(body).is_some());
                reached_if_void.extend(groups_of[&number].iter().copied().filter(|&group| comes(group)));
            }
        }
        let mut targets: Vec<Target> = Vec::new();
        // A pair that nothing tests is no target with something asked of a switch that nothing meets.
        let mut known: FxHashMap<(bool, Vec<TargetTester>, Option<Diagram>), usize> = FxHashMap::default();
        for &group in groups {
            let demand = demands.get(group);
            let done_for = match demand {
                Some(SwitchDemand::UnderTest { device, position }) => coverage.partly_under_test(device, position),
                Some(SwitchDemand::Moved { .. }) => None,
                None => coverage.partly_tested(group),
            };
            let mut testers = testers.remove(&group).unwrap_or_default();
            if let Some(SwitchDemand::Moved { device, to }) = demand {
                let member = cluster.devices.iter().position(|row| row.device == device);
                let member = member.expect("a switch that is to be moved is in its cluster");
                let options = (0..cluster.devices[member].options).filter(|&option| to.is_met(option, choices, device));
                let options = options.fold(0, |all, option| all | 1 << option);
                testers.push(TargetTester::Moved { member: member as u32, options });
            }
            let key = (demand.is_some(), testers, done_for.cloned());
            match known.get(&key) {
                Some(&target) => targets[target].groups.push(group),
                None => {
                    known.insert(key.clone(), targets.len());
                    let is_reached_if_void = reached_if_void.contains(&group);
                    let (_, testers, done_for) = key;
                    targets.push(Target { groups: vec![group], testers, done_for, is_reached_if_void });
                }
            }
        }
        Problem::of_readings(setup, cluster.devices.clone(), readings, targets)
    }

    /// `members` are the devices that the plan may operate, in the order in which a walk works them.
    pub(super) fn of_readings(
        setup: &Setup<'_>,
        members: Vec<ClusterDevice>,
        readings: Vec<ProblemReading>,
        targets: Vec<Target>,
    ) -> Problem {
        let Setup { network, start: configuration, choices, .. } = setup;
        let tables = network.limits().tables.clone();
        let member_of = members.iter().enumerate().map(|(at, member)| (member.device, at as u32)).collect();
        let parts = readings.iter().flat_map(|reading| reading.parts.iter().chain(&reading.voids));
        let asked = targets.iter().flat_map(|target| &target.testers).filter_map(|tester| match *tester {
            TargetTester::UnderTest { device, .. } => Some((device, network.devices()[device as usize].positions)),
            _ => None,
        });
        let mut met: Vec<Digit> = parts.flat_map(|part| &part.digits).copied().chain(asked).collect();
        met.sort_unstable();
        met.dedup();
        let mut unknown: Vec<Unknown> = Vec::new();
        let mut kinds = FxHashMap::default();
        let mut at = FxHashMap::default();
        for (device, positions) in met {
            kinds.insert(device, choices.kind(device));
            match configuration.device(device) {
                DeviceState::At(position) => {
                    at.insert(device, position);
                }
                DeviceState::Unknown(_) => unknown.push(Unknown { device, positions }),
            }
        }
        let unknown_of = unknown.iter().enumerate().map(|(at, row)| (row.device, at as u32)).collect();
        // A device may be known by now whose start was not when earlier readings were taken.
        for (device, positions) in
            targets.iter().filter_map(|target| target.done_for.as_ref()).flat_map(Diagram::devices)
        {
            if unknown.iter().all(|row| row.device != device) {
                unknown.push(Unknown { device, positions });
            }
        }
        let pair_count = targets.iter().filter(|target| (target.groups[0] as usize) < network.group_count()).count();
        Problem { members, unknown, readings, targets, pair_count, member_of, unknown_of, kinds, at, tables }
    }

    /// What decides where a device of a part stands.
    pub(super) fn decides(&self, device: DeviceIndex) -> Decides {
        match (self.member_of.get(&device), self.unknown_of.get(&device)) {
            (Some(&member), None) => Decides::Option { member },
            (Some(&member), Some(&unknown)) => Decides::Both { member, unknown },
            (None, Some(&unknown)) => Decides::Start {
                option: match self.kinds[&device] {
                    OptionKind::AsFound { .. } => self.unknown[unknown as usize].positions,
                    _ => 0,
                },
            },
            (None, None) => Decides::Fixed(self.at[&device]),
        }
    }

    /// Where a device stands that started there and has that option.
    pub(super) fn position(&self, device: DeviceIndex, option: u16, started: u16) -> u16 {
        match self.kinds[&device] {
            OptionKind::Known => option,
            kind => kind.position(option, started, self.unknown[self.unknown_of[&device] as usize].positions),
        }
    }

    /// When a contact is closed, for a start: `choices` has an entry for each member. A bridge counts as conducting.
    pub(super) fn closed(
        &self,
        choices: &mut [OptionLits],
        start: &[u16],
        formula: &mut Formula,
        edge: Conduct,
    ) -> Truth {
        let Conduct::In { device, closed_in } = edge else { return Truth::True };
        let is_closed = |option: u16, started: u16| closed_in >> self.position(device, option, started) & 1 == 1;
        let (member, started) = match self.decides(device) {
            Decides::Option { member } => (member, 0),
            Decides::Both { member, unknown } => (member, start[unknown as usize]),
            Decides::Start { .. } | Decides::Fixed(_) => {
                let is_closed = closed_in >> self.stands_from(device, &[], start) & 1 == 1;
                return if is_closed { Truth::True } else { Truth::False };
            }
        };
        let choice = &mut choices[member as usize];
        let set = (0..choice.count()).filter(|&at| is_closed(at, started)).fold(0u128, |set, at| set | 1 << at);
        formula.among(choice, set)
    }

    /// What a tester asks of a device besides, for a start.
    pub(super) fn stands_as_asked(
        &self,
        choices: &mut [OptionLits],
        start: &[u16],
        formula: &mut Formula,
        tester: &TargetTester,
    ) -> Truth {
        match *tester {
            TargetTester::Opposite { .. } => Truth::True,
            TargetTester::UnderTest { device, position, .. } => {
                self.closed(choices, start, formula, Conduct::In { device, closed_in: 1 << position })
            }
            TargetTester::Moved { member, options } => formula.among(&mut choices[member as usize], options),
        }
    }

    /// The options that the plan starts with.
    pub(super) fn start_options(&self) -> Vec<u16> {
        self.members.iter().map(|member| member.start).collect()
    }

    /// Where a device stands, by the options and where it started (any position, where that is known).
    pub(super) fn stands(&self, device: DeviceIndex, options: &[u16], started: u16) -> u16 {
        match self.decides(device) {
            Decides::Option { member } | Decides::Both { member, .. } => {
                self.position(device, options[member as usize], started)
            }
            Decides::Start { option, .. } => self.position(device, option, started),
            Decides::Fixed(position) => position,
        }
    }

    /// The same by all starts.
    fn stands_from(&self, device: DeviceIndex, options: &[u16], start: &[u16]) -> u16 {
        let started = self.unknown_of.get(&device).map_or(0, |&unknown| start[unknown as usize]);
        self.stands(device, options, started)
    }

    /// The bodies of a part that are joined to a lead, and last the other lead, in one setting.
    fn reached(&self, part: &Subgraph, side: Side, options: &[u16], start: &[u16]) -> Vec<bool> {
        let other = part.node_count as usize;
        let mut near: Vec<Vec<usize>> = vec![Vec::new(); other + 2];
        for (ends, when) in edges_from(part, side) {
            let closed = match when {
                Conduct::Sure | Conduct::Maybe => true,
                Conduct::In { device, closed_in } => closed_in >> self.stands_from(device, options, start) & 1 == 1,
            };
            if closed {
                let [a, b] = ends.map(|end| end.map_or(other + 1, |node| node as usize));
                near[a].push(b);
                near[b].push(a);
            }
        }
        let mut reached = vec![false; other + 2];
        let mut queue = vec![other + 1];
        reached[other + 1] = true;
        while let Some(at) = queue.pop() {
            for &far in &near[at] {
                if !std::mem::replace(&mut reached[far], true) && far != other {
                    queue.push(far);
                }
            }
        }
        reached.truncate(other + 1);
        reached
    }

    /// Whether a reading is void in one setting.
    pub(super) fn is_void(&self, reading: u32, options: &[u16], start: &[u16]) -> bool {
        let voids = &self.readings[reading as usize].voids;
        voids.iter().any(|part| self.reached(part, Side::A, options, start)[part.node_count as usize])
    }

    /// Whether a target is pairs, and not what is asked of a switch.
    pub(super) fn is_pair(&self, target: u32) -> bool {
        (target as usize) < self.pair_count
    }

    /// Whether a target is tested already for a start.
    pub(super) fn is_done_for(&self, target: u32, start: &[u16]) -> bool {
        self.targets[target as usize].done_for.as_ref().is_some_and(|done_for| {
            let started = |device: DeviceIndex| {
                self.unknown.iter().position(|row| row.device == device).map_or(0, |at| start[at])
            };
            done_for.get(started)
        })
    }

    /// Starts that differ in the device alone that a target asks a position of.
    pub(super) fn starts_elsewhere(&self, target: u32) -> impl Iterator<Item = Start> + '_ {
        let asked = self.targets[target as usize].testers.iter().find_map(|tester| match tester {
            TargetTester::UnderTest { device, .. } => self.unknown_of.get(device).copied(),
            _ => None,
        });
        asked.into_iter().flat_map(move |unknown| {
            (0..self.unknown[unknown as usize].positions).map(move |position| {
                let mut start = vec![0; self.unknown.len()];
                start[unknown as usize] = position;
                start
            })
        })
    }

    /// The member without which operated no reading tests a target for a start, where that is seen from what is asked
    /// of its position.
    pub(super) fn needs_moved(&self, target: u32, at_start: &[u16], start: &[u16]) -> Option<u32> {
        let needs = |tester: &TargetTester| match *tester {
            TargetTester::Opposite { .. } => None,
            TargetTester::UnderTest { device, position, .. } => {
                let member = *self.member_of.get(&device)?;
                (self.stands_from(device, at_start, start) != position).then_some(member)
            }
            TargetTester::Moved { member, options } => {
                (options >> at_start[member as usize] & 1 == 0).then_some(member)
            }
        };
        let mut members = self.targets[target as usize].testers.iter().map(needs);
        let first = members.next()??;
        (members.all(|member| member == Some(first)) && !self.is_done_for(target, start)).then_some(first)
    }

    /// Whether some reading tests a target in one setting and is not void in it.
    pub(super) fn is_tested(&self, target: u32, options: &[u16], start: &[u16]) -> bool {
        let is_void = |reading: u32| self.is_void(reading, options, start);
        self.targets[target as usize]
            .testers
            .iter()
            .any(|tester| self.is_met(tester, options, start) && !tester.reading().is_some_and(is_void))
    }

    /// Whether a tester has its bodies on leads, and its device as asked, in one setting; its reading may be void.
    pub(super) fn is_met(&self, tester: &TargetTester, options: &[u16], start: &[u16]) -> bool {
        let stands = match *tester {
            TargetTester::Opposite { .. } => true,
            TargetTester::UnderTest { device, position, .. } => self.stands_from(device, options, start) == position,
            TargetTester::Moved { member, options: asked } => asked >> options[member as usize] & 1 == 1,
        };
        let on = |spot: Spot, side: Side| match (spot, tester.reading()) {
            (Spot::Node { part, node }, Some(reading)) => {
                let part = &self.readings[reading as usize].parts[part as usize];
                self.reached(part, side, options, start)[node as usize]
            }
            (Spot::Node { .. }, None) => false,
            (Spot::Held(held), _) => held == side,
        };
        stands && tester.placements().into_iter().any(|placed| placed.into_iter().all(|(spot, side)| on(spot, side)))
    }
}
