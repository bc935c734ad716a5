//! How everything stands at one moment, device positions and fitted bridges, and how a test set takes it from one
//! moment to the next.

use fixedbitset::FixedBitSet;

use crate::model::{BridgeState, Conducts, DeviceRef, Pass, Stands, TestSet};
use crate::network::{Bridge, BridgeIndex, Device, DeviceIndex, Edge, Network, Version};

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

/// What is taken of electronics that switch a conductor in service.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Electronics {
    Open,
    Closed,
}

/// The state of every device and bridge.
#[derive(Clone, Debug)]
pub(crate) struct Configuration {
    states: States,
    /// Of these states, as long as they stay so.
    version: Version,
}

impl PartialEq for Configuration {
    fn eq(&self, other: &Configuration) -> bool {
        self.states == other.states
    }
}

#[derive(Clone, Debug, PartialEq)]
struct States {
    devices: Vec<DeviceState>,
    bridges: Vec<BridgeState>,
    /// The devices of accessories that are taken off: none of their contacts is there.
    taken_off: Vec<DeviceIndex>,
}

impl Configuration {
    /// Everything ready: devices as they stand, removable bridges removed.
    fn ready(network: &Network) -> Configuration {
        let devices = network.devices().iter().map(|device| device.ready.into()).collect();
        let ready = |bridge: &Bridge| if bridge.removable { BridgeState::Removed } else { BridgeState::Fitted };
        let bridges = network.bridges().iter().map(ready).collect();
        Configuration { states: States { devices, bridges, taken_off: Vec::new() }, version: Version::new() }
    }

    /// The same for all that has the same version.
    pub(crate) fn version(&self) -> Version {
        self.version
    }

    /// The states, to be changed: there is no other way.
    fn change(&mut self) -> &mut States {
        self.version = Version::new();
        &mut self.states
    }

    /// In service: the devices of boards on; those of points in any position, what can't be operated as it stands and
    /// a contactor either way; and of what bridges hold nothing conducts, or only what is one conductor through
    /// electronics, where these are taken for closed contacts.
    pub(crate) fn in_service(network: &Network, electronics: Electronics) -> Configuration {
        let stands = |device: &Device| match device.reference {
            DeviceRef::Point(point) => {
                let installation = network.installation();
                let is_coil_operated = installation.kind(installation.point(point).kind).is_coil_operated();
                if device.operable || is_coil_operated { DeviceState::Unknown(0) } else { device.ready.into() }
            }
            // Their positions are `off` and `on`.
            _ => DeviceState::At(1),
        };
        let bridge = match electronics {
            Electronics::Open => BridgeState::Removed,
            Electronics::Closed => BridgeState::Linked,
        };
        let devices = network.devices().iter().map(stands).collect();
        let bridges = vec![bridge; network.bridges().len()];
        Configuration { states: States { devices, bridges, taken_off: Vec::new() }, version: Version::new() }
    }

    /// How things stand before a test set's first pass.
    pub(crate) fn before(network: &Network, test_set: &TestSet) -> Configuration {
        let mut state = Configuration::ready(network);
        for &(device, stands) in &test_set.start_positions {
            state.set_device(network.device(device), stands.into());
        }
        for &(bridge, is_so) in &test_set.start_bridges {
            state.set_bridge(network.bridge(bridge), is_so);
        }
        state
    }

    /// Carries out a pass's operations: operate, set, remove, link, refit.
    pub(crate) fn carry_out(&mut self, network: &Network, pass: &Pass) {
        for &device in &pass.operate {
            let device = network.device(device);
            let positions = network.devices()[device as usize].positions;
            let moved = match self.device(device) {
                DeviceState::At(position) => DeviceState::At((position + 1) % positions),
                DeviceState::Unknown(steps) => DeviceState::Unknown((steps + 1) % positions),
            };
            self.set_device(device, moved);
        }
        for &(device, position) in &pass.set {
            self.set_device(network.device(device), DeviceState::At(position));
        }
        let states = [
            (&pass.remove, BridgeState::Removed),
            (&pass.link, BridgeState::Linked),
            (&pass.refit, BridgeState::Fitted),
        ];
        for (bridges, state) in states {
            bridges.iter().for_each(|&bridge| self.set_bridge(network.bridge(bridge), state));
        }
    }

    /// What further readings are taken from: points as they are, the devices of boards off, removable bridges out, and
    /// links where they are.
    pub(crate) fn for_planning(&self, network: &Network) -> Configuration {
        let mut planned = Configuration::ready(network);
        let states = planned.change();
        let linked = |row: &(&mut BridgeState, &BridgeState)| *row.1 == BridgeState::Linked;
        for (state, is_so) in states.bridges.iter_mut().zip(&self.states.bridges).filter(linked) {
            *state = *is_so;
        }
        for (number, device) in network.devices().iter().enumerate() {
            if matches!(device.reference, DeviceRef::Point(_)) {
                states.devices[number] = self.states.devices[number];
            }
        }
        planned
    }

    /// The same with copper alone: contacts, and links for the test, but nothing that a bridge holds.
    pub(crate) fn copper(&self) -> Configuration {
        let mut copper = self.clone();
        copper
            .change()
            .bridges
            .iter_mut()
            .filter(|state| **state == BridgeState::Fitted)
            .for_each(|state| *state = BridgeState::Removed);
        copper
    }

    pub(crate) fn device(&self, device: DeviceIndex) -> DeviceState {
        self.states.devices[device as usize]
    }

    pub(crate) fn set_device(&mut self, device: DeviceIndex, to: DeviceState) {
        self.change().devices[device as usize] = to;
    }

    pub(crate) fn bridge(&self, bridge: BridgeIndex) -> BridgeState {
        self.states.bridges[bridge as usize]
    }

    pub(crate) fn set_bridge(&mut self, bridge: BridgeIndex, to: BridgeState) {
        self.change().bridges[bridge as usize] = to;
    }

    /// Takes off the device of an accessory.
    pub(crate) fn take_off(&mut self, device: DeviceIndex) {
        self.change().taken_off.push(device);
    }

    /// Puts it back as it was.
    pub(crate) fn put_back(&mut self, device: DeviceIndex) {
        self.change().taken_off.retain(|&off| off != device);
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
                if self.states.taken_off.contains(&contact.device) {
                    return None;
                }
                if contact.always_closed {
                    return Some(Conduct::Sure);
                }
                match self.device(contact.device) {
                    DeviceState::At(position) if !free.includes(contact.device) => {
                        contact.is_closed_in(position).then_some(Conduct::Sure)
                    }
                    _ => Some(Conduct::In { device: contact.device, closed_in: contact.closed_in }),
                }
            }
            Edge::Bridge { bridge, conducts, passes, .. } => match (self.bridge(bridge), conducts) {
                (BridgeState::Fitted, Conducts::Sure) => Some(Conduct::Sure),
                (BridgeState::Fitted, Conducts::Maybe) => Some(Conduct::Maybe),
                (BridgeState::Linked, _) => passes.then_some(Conduct::Sure),
                (BridgeState::Removed, _) => None,
            },
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
