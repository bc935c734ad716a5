//! From numbers of the search to pairs, switches and positions by name, for certificates.

use crate::model::{DeviceRef, PointId};
use crate::network::{DeviceIndex, Network, PairId};
use crate::plan::problem::option::{Fleet, OptionKind};
use crate::plan::proof::certificate::{Apart, Required, Stands};
use crate::plan::proof::exclusion::Told;

/// Names what a search numbers.
pub(in crate::plan) struct Naming<'p> {
    pub(in crate::plan) network: &'p Network,
    pub(in crate::plan) fleet: &'p Fleet,
}

impl Naming<'_> {
    /// Whether the number is a pair group's, and not that of what is wished for a switch.
    pub(in crate::plan) fn is_pair(&self, group: u32) -> bool {
        (group as usize) < self.network.group_count()
    }

    /// The first pair of a group.
    pub(in crate::plan) fn pair(&self, group: u32) -> PairId {
        self.network.group_pairs(group).next().expect("a group is made for a pair")
    }

    pub(in crate::plan) fn required(&self, group: u32, start: &[(DeviceIndex, u16)]) -> Required {
        let started = start.iter().map(|&(device, position)| {
            let name = self.network.position_name(device, position).to_owned();
            (self.network.devices()[device as usize].reference, name)
        });
        Required { pair: self.pair(group), started: started.collect() }
    }

    /// The points of devices that are operated.
    pub(in crate::plan) fn points(&self, devices: impl IntoIterator<Item = DeviceIndex>) -> Vec<PointId> {
        let mut points: Vec<PointId> = devices.into_iter().map(|device| self.point(device)).collect();
        points.sort_unstable();
        points
    }

    fn point(&self, device: DeviceIndex) -> PointId {
        match self.network.devices()[device as usize].reference {
            DeviceRef::Point(point) => point,
            _ => unreachable!("only devices at points are operated"),
        }
    }

    fn stands(&self, device: DeviceIndex, option: u16) -> Stands {
        match self.fleet.kind(device) {
            OptionKind::Toggled { .. } if option == 0 => Stands::AsFound,
            OptionKind::Toggled { .. } => Stands::Other,
            _ if self.fleet.one_way_option(device) == Some(option) => Stands::AsFound,
            _ => Stands::At(self.network.position_name(device, option).to_owned()),
        }
    }

    /// `devices` are those that the numbers of switches stand for.
    pub(in crate::plan) fn apart(&self, told: &Told, devices: &[DeviceIndex]) -> Apart {
        let way = |way: &Vec<u16>| {
            told.switches.iter().zip(way).map(|(&switch, &option)| self.stands(devices[switch], option)).collect()
        };
        Apart {
            of: told.of.clone(),
            switches: told.switches.iter().map(|&switch| self.point(devices[switch])).collect(),
            needs: told.needs.iter().map(|ways| ways.iter().map(way).collect()).collect(),
        }
    }
}
