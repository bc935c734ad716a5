//! How everything stands at one moment: device positions and fitted bridges.

use fixedbitset::FixedBitSet;

use super::graph::{BridgeIndex, DeviceIndex, Edge, Network};
use crate::model::{BridgeState, Conducts, DeviceRef, Pass, Stands, TestSet};

/// How one device stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Stand {
    /// In this position.
    At(u16),
    /// Nobody knows where it started; it has been moved on by so many positions since.
    Moved(u16),
}

/// The state of every device and bridge.
#[derive(Clone, Debug)]
pub(crate) struct Standing {
    pub(crate) devices: Vec<Stand>,
    pub(crate) fitted: FixedBitSet,
}

impl Standing {
    /// Everything ready: devices as they stand, removable bridges removed.
    pub(crate) fn ready(network: &Network) -> Standing {
        let devices = network
            .devices
            .iter()
            .map(|device| match device.ready {
                Stands::At(position) => Stand::At(position),
                Stands::Unknown => Stand::Moved(0),
            })
            .collect();
        let mut fitted = FixedBitSet::with_capacity(network.bridges.len());
        for (number, bridge) in network.bridges.iter().enumerate() {
            fitted.set(number, !bridge.removable);
        }
        Standing { devices, fitted }
    }

    /// How things stand before a test set's first pass.
    pub(crate) fn before(network: &Network, test_set: &TestSet) -> Standing {
        let mut standing = Standing::ready(network);
        for &(device, stands) in &test_set.start_positions {
            standing.devices[network.device(device) as usize] = match stands {
                Stands::At(position) => Stand::At(position),
                Stands::Unknown => Stand::Moved(0),
            };
        }
        for &(bridge, state) in &test_set.start_bridges {
            standing.fitted.set(network.bridge(bridge) as usize, state == BridgeState::Fitted);
        }
        standing
    }

    /// Carries out a pass's operations: operate, set, remove, refit.
    pub(crate) fn carry_out(&mut self, network: &Network, pass: &Pass) {
        for &device in &pass.operate {
            let index = network.device(device) as usize;
            let positions = network.devices[index].positions;
            self.devices[index] = match self.devices[index] {
                Stand::At(position) => Stand::At((position + 1) % positions),
                Stand::Moved(steps) => Stand::Moved((steps + 1) % positions),
            };
        }
        for &(device, position) in &pass.set {
            self.devices[network.device(device) as usize] = Stand::At(position);
        }
        for &bridge in &pass.remove {
            self.fitted.set(network.bridge(bridge) as usize, false);
        }
        for &bridge in &pass.refit {
            self.fitted.set(network.bridge(bridge) as usize, true);
        }
    }

    /// Where a plan starts: points as they are, the devices of boards off, removable bridges removed.
    pub(crate) fn for_planning(&self, network: &Network) -> Standing {
        let mut standing = Standing::ready(network);
        for (number, device) in network.devices.iter().enumerate() {
            if matches!(device.reference, DeviceRef::Point(_)) {
                standing.devices[number] = self.devices[number];
            }
        }
        standing
    }

    /// The devices that stand nobody knows how.
    pub(crate) fn unknown(&self) -> FixedBitSet {
        let mut unknown = FixedBitSet::with_capacity(self.devices.len());
        for (device, stand) in self.devices.iter().enumerate() {
            unknown.set(device, matches!(stand, Stand::Moved(_)));
        }
        unknown
    }

    /// Where a device stands if it started in this position.
    pub(crate) fn position_from(&self, network: &Network, device: DeviceIndex, start: u16) -> u16 {
        match self.device(device) {
            Stand::At(position) => position,
            Stand::Moved(steps) => (start + steps) % network.devices[device as usize].positions,
        }
    }

    pub(crate) fn is_fitted(&self, bridge: BridgeIndex) -> bool {
        self.fitted.contains(bridge as usize)
    }

    pub(crate) fn device(&self, device: DeviceIndex) -> Stand {
        self.devices[device as usize]
    }

    /// Whether an edge conducts for sure, whichever position unknown devices are in.
    pub(crate) fn conducts(&self, network: &Network, edge: Edge) -> bool {
        match edge {
            Edge::Contact(number) => {
                let contact = &network.contacts[number as usize];
                match self.device(contact.device) {
                    Stand::At(position) => contact.is_closed_in(position),
                    Stand::Moved(_) => contact.always_closed,
                }
            }
            Edge::Bridge { bridge, conducts, .. } => self.is_fitted(bridge) && conducts == Conducts::Sure,
        }
    }

    /// Whether an edge may conduct, in some position that unknown devices may be in.
    pub(crate) fn may_conduct(&self, network: &Network, edge: Edge) -> bool {
        match edge {
            Edge::Contact(number) => {
                let contact = &network.contacts[number as usize];
                match self.device(contact.device) {
                    Stand::At(position) => contact.is_closed_in(position),
                    Stand::Moved(_) => contact.closed_in != 0,
                }
            }
            Edge::Bridge { bridge, .. } => self.is_fitted(bridge),
        }
    }
}
