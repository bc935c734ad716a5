//! What is asked of each switch: that it is operated, and that each of its positions comes under test.
//!
//! These are further requirements beside those of pairs. They are numbered on from the pair groups, so that clusters
//! and searches, which only pass numbers on, need not tell one from the other.

use rustc_hash::FxHashMap;
use serde::{Deserialize, Serialize};

use crate::coverage::Tested;
use crate::model::{DeviceRef, PointId, TestSet};
use crate::network::{Body, DeviceIndex, Network};
use crate::plan::problem::choices::{DeviceChoices, OptionKind};
use crate::plan::request::{Request, SwitchWork};
use crate::reading::{Condition, Configuration, DeviceState, Digit, Replay};

/// One thing asked of a switch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::plan) enum SwitchDemand {
    /// The position, which closes a contact, comes under test.
    UnderTest { device: DeviceIndex, position: u16 },
    /// It is operated, or stands once in a position that closes nothing: no reading is asked for.
    Moved { device: DeviceIndex, to: To },
}

impl SwitchDemand {
    /// The device with its positions.
    pub(in crate::plan) fn digit(self, network: &Network) -> Digit {
        let (SwitchDemand::UnderTest { device, .. } | SwitchDemand::Moved { device, .. }) = self;
        (device, network.devices()[device as usize].positions)
    }
}

/// Where a switch is to be moved.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::plan) enum To {
    /// To this option.
    Option(u16),
    /// To any but the one it starts with.
    AnyOther,
}

impl To {
    /// Whether a device with this option is there.
    pub(in crate::plan) fn is_met(self, option: u16, choices: &DeviceChoices, device: DeviceIndex) -> bool {
        match self {
            To::Option(to) => option == to,
            To::AnyOther => option != choices.start(device),
        }
    }
}

/// What is asked of all switches.
pub(in crate::plan) struct Demands {
    /// The number of the first.
    first: u32,
    rows: Vec<SwitchDemand>,
    /// For each device and position that is to come under test, its number.
    number_of: FxHashMap<(DeviceIndex, u16), u32>,
    /// For each of these, the bodies that the position joins.
    joined: FxHashMap<u32, Vec<Body>>,
}

impl Demands {
    /// Nothing is asked for.
    pub(in crate::plan) fn none(network: &Network) -> Demands {
        let (rows, number_of, joined) = (Vec::new(), FxHashMap::default(), FxHashMap::default());
        Demands { first: network.group_count() as u32, rows, number_of, joined }
    }

    /// What the request asks for and the test set has not done yet.
    pub(in crate::plan) fn new(
        network: &Network,
        coverage: &Tested<'_>,
        test_set: &TestSet,
        choices: &DeviceChoices,
        request: &Request,
    ) -> Demands {
        let first = network.group_count() as u32;
        let mut demands = Demands::none(network);
        if request.switches == SwitchWork::AsNeeded {
            return demands;
        }
        let mut replay = Replay::of(network, test_set);
        let mut course = vec![replay.configuration().clone()];
        while let Some((_, configuration)) = replay.next_pass() {
            course.push(configuration.clone());
        }
        for (index, device) in network.devices().iter().enumerate() {
            let number = index as DeviceIndex;
            if choices.options(number).is_none() {
                continue;
            }
            // For each position that it may have started in: where it has stood.
            let stood: Vec<Vec<u16>> = (0..device.positions)
                .map(|start| {
                    course.iter().map(|configuration| configuration.position_from(network, number, start)).collect()
                })
                .collect();
            for position in 0..device.positions {
                if device.closes >> position & 1 == 1 {
                    if !coverage.is_position_tested(network.position_number(number, position)) {
                        let id = first + demands.rows.len() as u32;
                        demands.number_of.insert((number, position), id);
                        demands.rows.push(SwitchDemand::UnderTest { device: number, position });
                    }
                    continue;
                }
                let missing = (0..device.positions).filter(|&start| !stood[usize::from(start)].contains(&position));
                let mut to: Vec<u16> = match choices.kind(number) {
                    OptionKind::Turned { moved, positions } => {
                        missing.map(|start| (position + 2 * positions - start - moved) % positions).collect()
                    }
                    _ => missing.map(|_| position).collect(),
                };
                to.dedup();
                let moved = to.into_iter().map(|option| SwitchDemand::Moved { device: number, to: To::Option(option) });
                demands.rows.extend(moved);
            }
            if !stood.iter().all(|stood| stood.windows(2).any(|two| two[0] != two[1])) {
                demands.rows.push(SwitchDemand::Moved { device: number, to: To::AnyOther });
            }
        }
        for contact in network.contacts() {
            let positions = 0..network.devices()[contact.device as usize].positions;
            for position in positions.filter(|&position| contact.is_closed_in(position)) {
                if let Some(number) = demands.number(contact.device, position) {
                    demands.joined.entry(number).or_default().extend(contact.bodies);
                }
            }
        }
        demands
    }

    pub(in crate::plan) fn count(&self) -> usize {
        self.rows.len()
    }

    /// The demand with this number; none where the number is a pair group's.
    pub(in crate::plan) fn get(&self, number: u32) -> Option<SwitchDemand> {
        Some(self.rows[number.checked_sub(self.first)? as usize])
    }

    /// The number of the demand that a position comes under test.
    pub(in crate::plan) fn number(&self, device: DeviceIndex, position: u16) -> Option<u32> {
        self.number_of.get(&(device, position)).copied()
    }

    /// The bodies that the position joins which is to come under test.
    pub(in crate::plan) fn joined(&self, number: u32) -> &[Body] {
        self.joined.get(&number).map_or(&[], Vec::as_slice)
    }

    /// The numbers of those that are met by these changes of options alone.
    pub(in crate::plan) fn met_by_moves<'d>(
        &'d self,
        choices: &'d DeviceChoices,
        changes: &'d [(DeviceIndex, u16)],
    ) -> impl Iterator<Item = u32> + 'd {
        let is_met = move |demand: &SwitchDemand| match *demand {
            SwitchDemand::Moved { device, to } => {
                changes.iter().any(|&(moved, option)| moved == device && to.is_met(option, choices, device))
            }
            SwitchDemand::UnderTest { .. } => false,
        };
        (self.first..).zip(&self.rows).filter(move |(_, demand)| is_met(demand)).map(|(number, _)| number)
    }

    /// The numbers of all.
    pub(in crate::plan) fn numbers(&self) -> std::ops::Range<u32> {
        self.first..self.first + self.rows.len() as u32
    }

    pub(in crate::plan) fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// Those that ask for an operation alone, as conditions over options.
    pub(in crate::plan) fn moves(&self, choices: &DeviceChoices) -> Vec<(u32, Condition)> {
        let rows = self.rows.iter().zip(self.first..);
        rows.filter_map(|(&demand, number)| match demand {
            SwitchDemand::Moved { device, to } => {
                let count = choices.options(device)?;
                let mut holds = Condition::never(vec![(device, count)]);
                let wanted = (0..count).filter(|&option| to.is_met(option, choices, device));
                wanted.for_each(|option| holds.set(usize::from(option)));
                Some((number, holds))
            }
            SwitchDemand::UnderTest { .. } => None,
        })
        .collect()
    }
}

/// Why a switch is not operated, or a position of it not under test.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum WhyUnworked {
    /// Nobody can operate it.
    NotOperable,
    /// Its room is locked.
    Locked,
    /// It is to be left alone.
    LeftAlone,
    /// Nobody could put it back as it was found.
    NotPutBack,
    /// No lead can be joined to a contact that the position closes.
    NeverReached,
    /// Some reading can, but every such reading is void.
    OnlyVoid,
    /// Too many devices bear on it.
    NotPlanned,
}

impl WhyUnworked {
    /// Of a position that no reading puts under test.
    pub(in crate::plan) fn never(is_met_if_void: bool) -> WhyUnworked {
        if is_met_if_void { WhyUnworked::OnlyVoid } else { WhyUnworked::NeverReached }
    }
}

/// The switches that nobody can operate, each with the first reason that holds.
pub(in crate::plan) fn not_operated(
    network: &Network,
    start: &Configuration,
    choices: &DeviceChoices,
    request: &Request,
) -> Vec<(PointId, WhyUnworked)> {
    let installation = network.installation();
    let mut rows = Vec::new();
    for (index, device) in network.devices().iter().enumerate() {
        let DeviceRef::Point(point) = device.reference else { continue };
        if device.positions < 2 || choices.options(index as DeviceIndex).is_some() {
            continue;
        }
        let why = if !device.operable {
            WhyUnworked::NotOperable
        } else if request.is_locked(installation, point) {
            WhyUnworked::Locked
        } else if request.leave.contains(&point) {
            WhyUnworked::LeftAlone
        } else {
            debug_assert!(matches!(start.device(index as DeviceIndex), DeviceState::Unknown(_)), "else it is free");
            WhyUnworked::NotPutBack
        };
        rows.push((point, why));
    }
    rows
}
