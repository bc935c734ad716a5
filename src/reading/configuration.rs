//! How everything stands at one moment, device positions and fitted bridges, and how a test set takes it from one
//! moment to the next.

use fixedbitset::FixedBitSet;

use crate::model::{BridgeState, Conducts, DeviceRef, Pass, Stands, TestSet};
use crate::network::{BridgeIndex, DeviceIndex, Edge, Network};

/// How one device stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum DeviceState {
    /// In this position.
    At(u16),
    /// Nobody knows where it started; it has been moved on by so many positions since.
    Unknown(u16),
}

impl From<Stands> for DeviceState {
    fn from(stands: Stands) -> DeviceState {
        match stands {
            Stands::At(position) => DeviceState::At(position),
            Stands::Unknown => DeviceState::Unknown(0),
        }
    }
}

/// The devices that may be in any position while a reading is looked at.
#[derive(Clone, Copy, Debug)]
pub(crate) enum FreeDevices<'a> {
    /// Those that nobody knows the position of. In conditions each has a digit for where it **started**.
    Unknown,
    /// Those, and these, whose position can be chosen. In conditions each has a digit for the position it is **in**.
    These(&'a FixedBitSet),
}

impl FreeDevices<'_> {
    /// Whether a device is free though its position is known.
    pub(crate) fn includes(self, device: DeviceIndex) -> bool {
        match self {
            FreeDevices::Unknown => false,
            FreeDevices::These(devices) => devices.contains(device as usize),
        }
    }
}

/// When an edge conducts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Conduct {
    /// For sure, wherever free devices stand.
    Sure,
    /// For sure while the free device stands in one of these positions.
    In { device: DeviceIndex, closed_in: u64 },
    /// Perhaps: electronics.
    Maybe,
}

/// The state of every device and bridge.
#[derive(Clone, Debug)]
pub(crate) struct Configuration {
    devices: Vec<DeviceState>,
    fitted: FixedBitSet,
}

impl Configuration {
    /// Everything ready: devices as they stand, removable bridges removed.
    fn ready(network: &Network) -> Configuration {
        let devices = network.devices().iter().map(|device| device.ready.into()).collect();
        let mut fitted = FixedBitSet::with_capacity(network.bridges().len());
        for (number, bridge) in network.bridges().iter().enumerate() {
            fitted.set(number, !bridge.removable);
        }
        Configuration { devices, fitted }
    }

    /// How things stand before a test set's first pass.
    pub(crate) fn before(network: &Network, test_set: &TestSet) -> Configuration {
        let mut state = Configuration::ready(network);
        for &(device, stands) in &test_set.start_positions {
            state.set_device(network.device(device), stands.into());
        }
        for &(bridge, fitted) in &test_set.start_bridges {
            state.set_fitted(network.bridge(bridge), fitted == BridgeState::Fitted);
        }
        state
    }

    /// Carries out a pass's operations: operate, set, remove, refit.
    pub(crate) fn carry_out(&mut self, network: &Network, pass: &Pass) {
        for &device in &pass.operate {
            let index = network.device(device) as usize;
            let positions = network.devices()[index].positions;
            self.devices[index] = match self.devices[index] {
                DeviceState::At(position) => DeviceState::At((position + 1) % positions),
                DeviceState::Unknown(steps) => DeviceState::Unknown((steps + 1) % positions),
            };
        }
        for &(device, position) in &pass.set {
            self.set_device(network.device(device), DeviceState::At(position));
        }
        for &bridge in &pass.remove {
            self.set_fitted(network.bridge(bridge), false);
        }
        for &bridge in &pass.refit {
            self.set_fitted(network.bridge(bridge), true);
        }
    }

    /// Where a plan starts: points as they are, the devices of boards off, removable bridges removed.
    pub(crate) fn for_planning(&self, network: &Network) -> Configuration {
        let mut state = Configuration::ready(network);
        for (number, device) in network.devices().iter().enumerate() {
            if matches!(device.reference, DeviceRef::Point(_)) {
                state.devices[number] = self.devices[number];
            }
        }
        state
    }

    pub(crate) fn device(&self, device: DeviceIndex) -> DeviceState {
        self.devices[device as usize]
    }

    pub(crate) fn set_device(&mut self, device: DeviceIndex, to: DeviceState) {
        self.devices[device as usize] = to;
    }

    pub(crate) fn is_fitted(&self, bridge: BridgeIndex) -> bool {
        self.fitted.contains(bridge as usize)
    }

    pub(crate) fn set_fitted(&mut self, bridge: BridgeIndex, fitted: bool) {
        self.fitted.set(bridge as usize, fitted);
    }

    /// Where a device stands if it started in this position.
    pub(crate) fn position_from(&self, network: &Network, device: DeviceIndex, start: u16) -> u16 {
        match self.device(device) {
            DeviceState::At(position) => position,
            DeviceState::Unknown(steps) => (start + steps) % network.devices()[device as usize].positions,
        }
    }

    /// When an edge conducts; none where it never does.
    pub(crate) fn conduct(&self, network: &Network, free: FreeDevices<'_>, edge: Edge) -> Option<Conduct> {
        match edge {
            Edge::Contact(number) => {
                let contact = &network.contacts()[number as usize];
                match self.device(contact.device) {
                    _ if contact.always_closed => Some(Conduct::Sure),
                    DeviceState::At(position) if !free.includes(contact.device) => {
                        contact.is_closed_in(position).then_some(Conduct::Sure)
                    }
                    _ => Some(Conduct::In { device: contact.device, closed_in: contact.closed_in }),
                }
            }
            Edge::Bridge { bridge, conducts, .. } => self.is_fitted(bridge).then_some(match conducts {
                Conducts::Sure => Conduct::Sure,
                Conducts::Maybe => Conduct::Maybe,
            }),
        }
    }

    /// Whether an edge conducts for sure, whichever position unknown devices are in.
    pub(crate) fn conducts(&self, network: &Network, edge: Edge) -> bool {
        self.conduct(network, FreeDevices::Unknown, edge) == Some(Conduct::Sure)
    }

    /// Whether an edge may conduct, in some position that unknown devices may be in.
    pub(crate) fn may_conduct(&self, network: &Network, edge: Edge) -> bool {
        self.conduct(network, FreeDevices::Unknown, edge).is_some()
    }
}

/// A test set carried out pass by pass.
pub(crate) struct Replay<'a> {
    network: &'a Network,
    passes: std::slice::Iter<'a, Pass>,
    configuration: Configuration,
}

impl<'a> Replay<'a> {
    pub(crate) fn of(network: &'a Network, test_set: &'a TestSet) -> Replay<'a> {
        Replay { network, passes: test_set.passes().iter(), configuration: Configuration::before(network, test_set) }
    }

    /// Carries out the next pass: that, and how everything stands while its readings are taken.
    pub(crate) fn next_pass(&mut self) -> Option<(&'a Pass, &Configuration)> {
        let pass = self.passes.next()?;
        self.configuration.carry_out(self.network, pass);
        Some((pass, &self.configuration))
    }

    /// How everything stands after the last pass that was carried out.
    pub(crate) fn configuration(&self) -> &Configuration {
        &self.configuration
    }

    pub(crate) fn into_configuration(self) -> Configuration {
        self.configuration
    }
}
