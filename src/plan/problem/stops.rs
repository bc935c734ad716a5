//! The stops at which devices are worked, numbered.

use rustc_hash::FxHashMap;

use crate::model::{DeviceRef, LocationId, Stop};
use crate::network::{DeviceIndex, Network};

/// The number of each device's stop.
pub(in crate::plan) struct Stops {
    of_device: Vec<u32>,
}

impl Stops {
    pub(in crate::plan) fn new(network: &Network) -> Stops {
        let installation = network.installation();
        let mut numbers: FxHashMap<Stop, u32> = FxHashMap::default();
        let of_device = network
            .devices()
            .iter()
            .map(|device| match device.reference {
                DeviceRef::Point(point) => {
                    let next = numbers.len() as u32;
                    *numbers.entry(Stop::of(installation, point)).or_insert(next)
                }
                _ => u32::MAX,
            })
            .collect();
        Stops { of_device }
    }

    pub(in crate::plan) fn of(&self, device: DeviceIndex) -> u32 {
        self.of_device[device as usize]
    }

    /// Where each stop is; none where its points are in several locations or in none.
    pub(in crate::plan) fn places(&self, network: &Network) -> Vec<Option<LocationId>> {
        let mut places: Vec<Option<Option<LocationId>>> = Vec::new();
        for (device, &stop) in network.devices().iter().zip(&self.of_device) {
            if let DeviceRef::Point(point) = device.reference {
                let place = network.installation().point(point).location();
                places.resize(places.len().max(stop as usize + 1), None);
                let known = &mut places[stop as usize];
                *known = Some(match known {
                    Some(known) if *known != place => None,
                    _ => place,
                });
            }
        }
        places.into_iter().map(Option::flatten).collect()
    }
}
