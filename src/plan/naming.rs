//! From numbers of the search to pairs, switches and positions by name.

use crate::model::{DeviceRef, PointId, Stop};
use crate::network::{DeviceIndex, Network, PairId};
use crate::plan::answer::{PlannedReading, SwitchPosition};
use crate::plan::problem::choices::{DeviceChoices, OptionKind};
use crate::plan::proof::certificate::{Exclusion, PositionConflict, StartPositions, UnsatisfiableCore};
use crate::plan::proof::exclusion::SwitchConflict;
use crate::plan::schedule::readings::chosen::ChosenReading;

/// Names what a search numbers.
#[derive(Clone, Copy)]
pub(in crate::plan) struct Naming<'p> {
    pub(in crate::plan) network: &'p Network,
    pub(in crate::plan) choices: &'p DeviceChoices,
}

/// A pair group, and the starts of unknown devices that it is to be tested for; empty where that is any.
pub(in crate::plan) type RequiredGroup<'r> = (u32, &'r [(DeviceIndex, u16)]);

impl Naming<'_> {
    /// Whether the number is a pair group's, and not that of what is asked for a switch.
    pub(in crate::plan) fn is_pair(&self, group: u32) -> bool {
        (group as usize) < self.network.group_count()
    }

    /// A pair, as [length, core, core].
    pub(in crate::plan) fn pair(&self, pair: PairId) -> [String; 3] {
        let length = self.network.installation().length(self.network.pair_length(pair)).id().to_owned();
        let [a, b] = self.network.pair_core_names(pair).map(str::to_owned);
        [length, a, b]
    }

    pub(in crate::plan) fn pairs(&self, pairs: &[PairId]) -> Vec<[String; 3]> {
        pairs.iter().map(|&pair| self.pair(pair)).collect()
    }

    /// The first pair of a group.
    pub(in crate::plan) fn group(&self, group: u32) -> [String; 3] {
        self.pair(self.network.group_pairs(group).next().expect("a group is made for a pair"))
    }

    pub(in crate::plan) fn point(&self, point: PointId) -> String {
        self.network.installation().point(point).id().to_owned()
    }

    /// The points of devices that are operated, in the order of the file.
    pub(in crate::plan) fn points(&self, devices: impl IntoIterator<Item = DeviceIndex>) -> Vec<String> {
        let mut points: Vec<PointId> = devices.into_iter().map(|device| point_of(self.network, device)).collect();
        points.sort_unstable();
        points.into_iter().map(|point| self.point(point)).collect()
    }

    /// A position of a device at a point.
    pub(in crate::plan) fn position(&self, (device, position): (DeviceIndex, u16)) -> [String; 2] {
        [self.point(point_of(self.network, device)), self.network.position_name(device, position).to_owned()]
    }

    pub(in crate::plan) fn reading(&self, chosen: &ChosenReading) -> PlannedReading {
        let installation = self.network.installation();
        PlannedReading {
            circuit: installation.circuit(chosen.circuit).id().to_owned(),
            between: chosen.reading.leads().each_ref().map(|lead| lead.text().to_owned()),
            at: chosen.at.map(|point| self.point(point)),
            stop: chosen.at.map(|point| Stop::of(installation, point).name(installation)),
            volts: chosen.reading.volts(),
            adds: self.pairs(&chosen.adds),
            positions: chosen.positions.iter().map(|&at| self.position(at)).collect(),
            part_of: self.pairs(&chosen.part_of),
        }
    }

    pub(in crate::plan) fn start(&self, start: &[(DeviceIndex, u16)]) -> StartPositions {
        let name = |&(device, position): &(DeviceIndex, u16)| {
            (self.network.device_name(device), self.network.position_name(device, position).to_owned())
        };
        start.iter().map(name).collect()
    }

    /// The starts that groups are required for; nothing where none matters.
    fn starts(&self, required: &[RequiredGroup<'_>]) -> Vec<StartPositions> {
        if required.iter().all(|(_, start)| start.is_empty()) {
            return Vec::new();
        }
        required.iter().map(|(_, start)| self.start(start)).collect()
    }

    fn groups(&self, required: &[RequiredGroup<'_>]) -> Vec<[String; 3]> {
        required.iter().map(|&(group, _)| self.group(group)).collect()
    }

    pub(in crate::plan) fn core(&self, required: &[RequiredGroup<'_>], irreducible: bool) -> UnsatisfiableCore {
        UnsatisfiableCore { pairs: self.groups(required), starts: self.starts(required), irreducible }
    }

    /// `devices` are those that the conflicts number.
    pub(in crate::plan) fn exclusion(
        &self,
        required: &[RequiredGroup<'_>],
        conflicts: &[SwitchConflict],
        devices: &[DeviceIndex],
    ) -> Exclusion {
        let conflict = |row: &SwitchConflict| {
            let way = |way: &Vec<u16>| {
                let options = row.switches.iter().zip(way);
                options.map(|(&switch, &option)| self.option(devices[switch], option)).collect()
            };
            let point = |&switch: &usize| self.point(point_of(self.network, devices[switch]));
            PositionConflict {
                of: row.of.clone(),
                devices: row.switches.iter().map(point).collect(),
                needs: row.needs.iter().map(|ways| ways.iter().map(way).collect()).collect(),
            }
        };
        Exclusion {
            pairs: self.groups(required),
            starts: self.starts(required),
            because: conflicts.iter().map(conflict).collect(),
        }
    }

    fn option(&self, device: DeviceIndex, option: u16) -> SwitchPosition {
        match self.choices.kind(device) {
            OptionKind::Turned { .. } if option == 0 => SwitchPosition::AsFound,
            OptionKind::Turned { positions: 2, .. } => SwitchPosition::Other,
            OptionKind::Turned { .. } => SwitchPosition::Next(option),
            _ if self.choices.one_way_option(device) == Some(option) => SwitchPosition::AsFound,
            _ => SwitchPosition::At(self.network.position_name(device, option).to_owned()),
        }
    }
}

/// The point of a device that is operated.
pub(in crate::plan) fn point_of(network: &Network, device: DeviceIndex) -> PointId {
    match network.devices()[device as usize].reference {
        DeviceRef::Point(point) => point,
        _ => unreachable!("only devices at points are operated"),
    }
}
