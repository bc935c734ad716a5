//! What is still to be tested, as conditions over the options of the devices that a walk may operate.
//!
//! A **requirement** is one pair for one combination of unknown starting positions; it holds in some settings and not
//! in others. A plan must bring about, for every requirement, a setting in which it holds.

use std::num::NonZeroU32;
use std::rc::Rc;

use fixedbitset::FixedBitSet;
use rustc_hash::FxHashMap;

use crate::coverage::Tested;
use crate::model::Stop;
use crate::network::{DeviceIndex, Lists, Network};
use crate::observer::{Stage, Watch};
use crate::plan::problem::choices::DeviceChoices;
use crate::plan::problem::setup::Setup;
use crate::plan::problem::stops::ReadAt;
use crate::plan::problem::switches::{Demands, SwitchDemand};
use crate::plan::problem::testers::{PairForStart, PairTester, Tables, settings_of};
use crate::plan::request::SearchBy;
use crate::reading::{CandidateReading, Condition, Configuration, Digit, FreeDevices, Probe, When};

/// What is known of a pair group that needs a test.
pub(in crate::plan) enum WhenTested {
    /// Tested in every setting that a plan can meet, so at the start too.
    Always,
    /// Tested in some settings: those for each combination of unknown starts.
    Sometimes(Vec<PairForStart>),
    /// Tested in no setting, whatever is operated; of what is asked of a switch: whether void readings would do.
    Never { is_met_if_void: bool },
    /// Too many devices bear on it for a table: these, with their options.
    TooLarge(Vec<Digit>),
    /// Gathering was stopped before it was known.
    Open,
}

pub(in crate::plan) struct Requirements {
    /// The pair groups that need a test and have none, in order, with what is known of them.
    pub(in crate::plan) groups: Vec<(u32, WhenTested)>,
    /// For each pair group that some reading tests in some settings only: the candidate readings that may test it.
    pub(in crate::plan) readings: Lists,
    /// For each group, where the readings are that may test it; empty where there is none at a source.
    pub(in crate::plan) read_at: Vec<ReadAt>,
}

/// Testers by pair group: each knows the one entered before it for the same group.
struct Testers {
    last: Vec<Option<NonZeroU32>>,
    entries: Vec<(PairTester, Option<NonZeroU32>)>,
}

impl Testers {
    fn new(group_count: usize) -> Testers {
        Testers { last: vec![None; group_count], entries: Vec::new() }
    }

    /// The testers of a group, the last entered first.
    fn of_group(&self, group: u32) -> impl Iterator<Item = &PairTester> {
        let mut next = self.last[group as usize];
        std::iter::from_fn(move || {
            let (tester, before) = &self.entries[next?.get() as usize - 1];
            next = *before;
            Some(tester)
        })
    }

    /// Enters a tester, unless the group has one that is the same.
    fn enter(&mut self, group: u32, tester: PairTester) {
        if self.of_group(group).any(|known| known.opposite == tester.opposite && known.void == tester.void) {
            return;
        }
        let last = &mut self.last[group as usize];
        self.entries.push((tester, *last));
        *last = NonZeroU32::new(self.entries.len() as u32);
    }
}

/// Gathers, from every candidate reading, what it can do for the pairs that need a test.
struct Gathering<'p> {
    network: &'p Network,
    configuration: &'p Configuration,
    choices: &'p DeviceChoices,
    needed: FixedBitSet,
    /// Groups that need a test and are not known to be tested in every setting: the others need no table.
    open: FixedBitSet,
    testers: Testers,
    /// Groups with readings that may test them.
    readings: Vec<(u32, u32)>,
    /// Groups that a reading at a source tests in every setting: they are looked at further, for where else they are
    /// tested.
    always: FixedBitSet,
    /// As in [`Requirements::read_at`].
    read_at: Vec<ReadAt>,
    /// What is asked of switches; numbered on from the groups.
    demands: &'p Demands,
    /// Demands that some reading, void or not, could meet.
    met_if_void: FixedBitSet,
    /// Groups on which too many devices bear in some reading: the devices.
    too_large: FxHashMap<u32, Vec<Digit>>,
    /// Gathering was stopped before all readings were looked at.
    stopped: bool,
    search: SearchBy,
}

impl<'p> Gathering<'p> {
    fn new(
        setup: &'p Setup<'p>,
        demands: &'p Demands,
        is_needed: impl Fn(u32) -> bool,
        search: SearchBy,
    ) -> Gathering<'p> {
        let Setup { network, start: configuration, choices, .. } = setup;
        let group_count = network.group_count();
        let count = group_count + demands.count();
        let mut needed = FixedBitSet::with_capacity(count);
        for group in 0..group_count {
            needed.set(group, is_needed(group as u32));
        }
        for number in group_count..count {
            needed.set(number, matches!(demands.get(number as u32), Some(SwitchDemand::UnderTest { .. })));
        }
        Gathering {
            network,
            configuration,
            choices,
            open: needed.clone(),
            needed,
            testers: Testers::new(count),
            readings: Vec::new(),
            always: FixedBitSet::with_capacity(count),
            read_at: if setup.reads_at_sources() { vec![ReadAt::default(); count] } else { Vec::new() },
            demands,
            met_if_void: FixedBitSet::with_capacity(count),
            too_large: FxHashMap::default(),
            stopped: false,
            search,
        }
    }

    /// `stop`: where the reading is taken at a source.
    fn add(&mut self, probe: &mut Probe, number: u32, candidate: &CandidateReading, stop: Option<Stop>) {
        let free = FreeDevices::These(&self.choices.variable);
        let probed = probe.read(self.network, self.configuration, free, &candidate.leads);
        if probed.is_bridged() {
            return;
        }
        let mut void = Vec::new();
        let mut void_unknown = false;
        for voids in probed.voids() {
            let Some(voids) = voids else {
                void_unknown = true;
                continue;
            };
            if !voids.void.is_never() {
                void.push(voids.void.essential());
            }
        }
        let void = Rc::new(void);
        let sound_for_sure = void.is_empty() && !void_unknown;
        let never_sound = void.iter().any(Condition::is_always);

        let (network, search) = (self.network, self.search);
        let Gathering { demands, met_if_void, open, testers, readings, read_at, too_large, .. } = self;
        let mut always = Vec::new();
        let mut tell = |group: u32, when: When| {
            let index = group as usize;
            if let (Some(read_at), false) = (read_at.get_mut(index), never_sound) {
                *read_at = read_at.and(stop);
            }
            if sound_for_sure && when == When::Always {
                always.push(index);
                return;
            }
            let when = match when {
                _ if void_unknown || search == SearchBy::Solver => None,
                When::Always => Some(Condition::always()),
                When::In(when) => Some(when),
                When::Large(_) | When::TooLarge => None,
            };
            let Some(when) = when else {
                let devices = too_large.entry(group).or_default();
                match demands.get(group) {
                    Some(demand) => {
                        devices.push(demand.digit(network));
                        devices.extend(probed.deciding(demands.joined(group)));
                    }
                    None => devices.extend(probed.deciding(&network.group_bodies(group))),
                }
                readings.push((group, number));
                return;
            };
            if demands.get(group).is_some() {
                met_if_void.insert(index);
            }
            if !never_sound {
                readings.push((group, number));
                testers.enter(group, PairTester { opposite: when.essential(), void: Rc::clone(&void) });
            }
        };
        let is_wanted = |group: u32| open.contains(group as usize) && candidate.counts.has(network, group);
        probed.opposite(is_wanted, &mut tell);
        if !demands.is_empty() {
            let wanted = |device: DeviceIndex, position: u16| demands.number(device, position).is_some();
            probed.closed_on_leads(wanted, |device, position, when| {
                tell(demands.number(device, position).expect("only what is wanted is told"), when);
            });
        }
        for index in always {
            if stop.is_some() {
                self.always.insert(index);
            } else {
                self.open.remove(index);
            }
        }
    }

    /// Draws the conclusion for each pair group that needs a test.
    fn conclude(self, coverage: &Tested<'_>, watch: &mut Watch<'_>) -> Requirements {
        let needed = self.needed.ones().map(|group| group as u32);
        let groups = needed.map(|group| (group, self.when_tested(group, coverage, watch))).collect();
        Requirements {
            groups,
            readings: Lists::new(self.network.group_count() + self.demands.count(), self.readings.iter().copied()),
            read_at: self.read_at,
        }
    }

    fn when_tested(&self, group: u32, coverage: &Tested<'_>, watch: &mut Watch<'_>) -> WhenTested {
        let index = group as usize;
        if !self.open.contains(index) || self.always.contains(index) {
            return WhenTested::Always;
        }
        if self.stopped || !watch.goes_on() {
            return WhenTested::Open;
        }
        let tested_for = match self.demands.get(group) {
            Some(SwitchDemand::UnderTest { device, position }) => coverage.partly_under_test(device, position),
            _ => coverage.partly_tested(group),
        };
        let limits = &self.network.limits().tables;
        let known = tested_for.map_or(Some(None), |tested_for| tested_for.table(limits).map(Some));
        let tested_for = known.as_ref().and_then(Option::as_ref);
        let mut testers: Vec<&PairTester> = self.testers.of_group(group).collect();
        testers.reverse();
        let tables = if self.too_large.contains_key(&group) || known.is_none() {
            None
        } else if testers.is_empty() {
            Some(Tables { elements: Vec::new(), are_all_met: false })
        } else {
            settings_of(self.network.limits(), self.choices, &testers, tested_for, watch)
        };
        if watch.is_stopped() {
            return WhenTested::Open;
        }
        let Some(tables) = tables else { return WhenTested::TooLarge(self.devices(group, &testers)) };
        match tables.are_all_met {
            true => WhenTested::Sometimes(tables.elements),
            false => WhenTested::Never { is_met_if_void: self.met_if_void.contains(index) },
        }
    }

    /// The devices that bear on a pair and can be operated, with their options.
    fn devices(&self, group: u32, testers: &[&PairTester]) -> Vec<Digit> {
        let of_tester = |tester: &&PairTester| -> Vec<Digit> { tester.digits() };
        let all = self.too_large.get(&group).into_iter().flatten().copied();
        let mut devices: Vec<Digit> = all
            .chain(testers.iter().flat_map(of_tester))
            .filter_map(|(device, _)| Some((device, self.choices.options(device)?)))
            .collect();
        devices.sort_unstable();
        devices.dedup();
        devices
    }
}

/// Gathers what every candidate reading can do.
pub(in crate::plan) fn gather(
    setup: &Setup<'_>,
    coverage: &Tested<'_>,
    demands: &Demands,
    search: SearchBy,
    watch: &mut Watch<'_>,
) -> Requirements {
    let Setup { network, candidates, .. } = setup;
    let mut probe = Probe::new(network);
    let mut gathering = Gathering::new(setup, demands, |group| coverage.is_group_missed(group), search);
    for (number, candidate) in candidates.iter().enumerate() {
        watch.at(Stage::Readings, number, candidates.len());
        if !watch.goes_on() {
            // What the readings that are left would test is not known.
            gathering.stopped = true;
            break;
        }
        let stop = candidate.at.map(|point| Stop::of(network.installation(), point));
        gathering.add(&mut probe, number as u32, candidate, stop);
    }
    gathering.conclude(coverage, watch)
}
