//! Where things stand otherwise than they did.

use crate::model::Pass;
use crate::network::{Body, BridgeIndex, DeviceIndex, Network};
use crate::reading::Configuration;

/// Two configurations, and in what they differ.
pub(super) struct Difference<'n> {
    network: &'n Network,
    old: Configuration,
    new: Configuration,
    devices: Vec<DeviceIndex>,
    bridges: Vec<BridgeIndex>,
    /// The bodies that these lie at.
    bodies: Vec<Body>,
}

impl<'n> Difference<'n> {
    /// Time and space linear in the devices and bridges of the network.
    pub(super) fn of(network: &'n Network, old: Configuration, new: Configuration) -> Difference<'n> {
        let devices = 0..network.devices().len() as DeviceIndex;
        let bridges = 0..network.bridges().len() as BridgeIndex;
        let mut difference = Difference {
            network,
            old,
            new,
            devices: devices.collect(),
            bridges: bridges.collect(),
            bodies: Vec::new(),
        };
        difference.compare();
        difference
    }

    /// Carries a pass out on both. What was the same stays the same.
    pub(super) fn carry_out(&mut self, pass: &Pass) {
        self.old.carry_out(self.network, pass);
        self.new.carry_out(self.network, pass);
        self.compare();
    }

    fn compare(&mut self) {
        let Difference { network, old, new, devices, bridges, bodies } = self;
        devices.retain(|&device| old.device(device) != new.device(device));
        bridges.retain(|&bridge| old.bridge(bridge) != new.bridge(bridge));
        bodies.clear();
        bodies.extend(devices.iter().flat_map(|&device| network.contacts_of(device)).flat_map(|row| row.bodies));
        let elements = bridges.iter().flat_map(|&bridge| &network.bridges()[bridge as usize].elements);
        bodies.extend(elements.flat_map(|element| element.bodies));
        bodies.sort_unstable();
        bodies.dedup();
    }

    pub(super) fn is_none(&self) -> bool {
        self.devices.is_empty() && self.bridges.is_empty()
    }

    /// Whether it is at any of these bodies, which come in ascending order.
    pub(super) fn is_at(&self, touched: &[Body]) -> bool {
        self.bodies.iter().any(|body| touched.binary_search(body).is_ok())
    }
}
