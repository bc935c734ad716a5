//! The stops at which devices are worked and sources read, numbered.

use rustc_hash::FxHashMap;

use crate::model::{DeviceRef, LocationId, Stop};
use crate::network::{DeviceIndex, Network};

/// The numbers of the stops of devices and of points where there is a source.
pub(in crate::plan) struct Stops {
    of_device: Vec<u32>,
    numbers: FxHashMap<Stop, u32>,
}

impl Stops {
    pub(in crate::plan) fn new(network: &Network) -> Stops {
        let installation = network.installation();
        let mut stops = Stops { of_device: Vec::with_capacity(network.devices().len()), numbers: FxHashMap::default() };
        for device in network.devices() {
            let number = match device.reference {
                DeviceRef::Point(point) => stops.enter(Stop::of(installation, point)),
                _ => u32::MAX,
            };
            stops.of_device.push(number);
        }
        for (point, row) in installation.points() {
            if !installation.kind(row.kind()).sources.is_empty() {
                stops.enter(Stop::of(installation, point));
            }
        }
        stops
    }

    fn enter(&mut self, stop: Stop) -> u32 {
        let next = self.numbers.len() as u32;
        *self.numbers.entry(stop).or_insert(next)
    }

    pub(in crate::plan) fn of(&self, device: DeviceIndex) -> u32 {
        self.of_device[device as usize]
    }

    /// The number of a stop where there is a device or a source.
    pub(in crate::plan) fn number(&self, stop: Stop) -> u32 {
        self.numbers[&stop]
    }

    /// Where each stop of a device is; none where its points are in several locations or in none.
    pub(in crate::plan) fn places(&self, network: &Network) -> Vec<Option<LocationId>> {
        let mut places: Vec<Option<Option<LocationId>>> = vec![None; self.numbers.len()];
        for (device, &stop) in network.devices().iter().zip(&self.of_device) {
            if let DeviceRef::Point(point) = device.reference {
                let place = network.installation().point(point).location();
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

/// Where the readings are taken that may test a pair group, or put a position under test.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(in crate::plan) enum ReadAt {
    /// No such reading is known yet.
    #[default]
    Nowhere,
    /// All at sources of this stop.
    Only(Stop),
    /// Some at a way, or at sources of several stops.
    Several,
}

impl ReadAt {
    /// Also at a source of this stop; none: at a way.
    pub(in crate::plan) fn and(self, stop: Option<Stop>) -> ReadAt {
        match (self, stop) {
            (ReadAt::Nowhere, Some(stop)) => ReadAt::Only(stop),
            (ReadAt::Only(known), Some(stop)) if known == stop => self,
            _ => ReadAt::Several,
        }
    }
}
