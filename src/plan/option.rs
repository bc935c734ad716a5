//! What a walk can do with each device.

use fixedbitset::FixedBitSet;

use crate::model::DeviceRef;
use crate::network::{DeviceIndex, Network, Stand, Standing};

/// How a device takes part in a plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum OptionKind {
    /// It stands in a known position; an option is a position.
    Known,
    /// Two positions, nobody knows which: an option is how often it has been operated, odd or even.
    Toggled { moved: u16 },
    /// Three or more positions, nobody knows which: a position named, or (the last option) left as found.
    AsFound { moved: u16 },
    /// Nobody knows where it stands and nobody can operate it: no options.
    Stuck { moved: u16 },
}

/// All devices that are free or unknown in a plan.
#[derive(Debug)]
pub(super) struct Fleet {
    /// Devices to explore as variable.
    pub(super) variable: FixedBitSet,
    /// For each device, how it takes part; none where it stands as it is known to.
    kinds: Vec<Option<OptionKind>>,
    /// For each device, its options (0: not free).
    options: Vec<u16>,
    /// For each free device, the option that the plan starts with.
    start: Vec<u16>,
}

impl Fleet {
    pub(super) fn new(network: &Network<'_>, standing: &Standing) -> Fleet {
        let count = network.devices.len();
        let mut fleet = Fleet {
            variable: FixedBitSet::with_capacity(count),
            kinds: vec![None; count],
            options: vec![0; count],
            start: vec![0; count],
        };
        for (index, device) in network.devices.iter().enumerate() {
            let number = index as DeviceIndex;
            let at_point = matches!(device.reference, DeviceRef::Point(_));
            let free = at_point && device.operable && device.positions > 1;
            let (kind, options, start) = match (standing.device(number), free) {
                (Stand::At(position), true) => (OptionKind::Known, device.positions, position),
                (Stand::At(_), false) => continue,
                (Stand::Moved(moved), true) if device.positions == 2 => (OptionKind::Toggled { moved }, 2, 0),
                (Stand::Moved(moved), true) => (OptionKind::AsFound { moved }, device.positions + 1, device.positions),
                (Stand::Moved(moved), false) => (OptionKind::Stuck { moved }, 0, 0),
            };
            fleet.variable.insert(index);
            fleet.kinds[index] = Some(kind);
            fleet.options[index] = options;
            fleet.start[index] = start;
        }
        fleet
    }

    /// How a device that is free or unknown takes part.
    pub(super) fn kind(&self, device: DeviceIndex) -> OptionKind {
        self.kinds[device as usize].expect("only devices that are free or unknown decide anything")
    }

    pub(super) fn is_unknown(&self, device: DeviceIndex) -> bool {
        self.kinds[device as usize].is_some_and(|kind| kind != OptionKind::Known)
    }

    /// How many options a device has; none where it is not free.
    pub(super) fn options(&self, device: DeviceIndex) -> Option<u16> {
        Some(self.options[device as usize]).filter(|&options| options > 0)
    }

    /// The option that the plan starts with.
    pub(super) fn start(&self, device: DeviceIndex) -> u16 {
        self.start[device as usize]
    }

    /// Whether a device of unknown position stands as an option has it.
    pub(super) fn stands_so(&self, standing: &Standing, device: DeviceIndex, option: u16) -> bool {
        match (self.kinds[device as usize], standing.device(device)) {
            (Some(OptionKind::Toggled { moved }), Stand::Moved(now)) => (moved + option) % 2 == now,
            (Some(OptionKind::AsFound { .. }), Stand::Moved(_)) => self.one_way_option(device) == Some(option),
            _ => false,
        }
    }

    /// The option that can't be gone back to once left: an unknown device as found.
    pub(super) fn one_way_option(&self, device: DeviceIndex) -> Option<u16> {
        match self.kinds[device as usize] {
            Some(OptionKind::AsFound { .. }) => Some(self.start(device)),
            _ => None,
        }
    }
}
