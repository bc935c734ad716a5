//! Why a reading is void, and what joins its leads: as data, which text and JSON render.

use serde::{Deserialize, Serialize};

use crate::model::{BridgeState, TerminalRef};
use crate::network::{DeviceIndex, Edge, Network, PathStep};
use crate::reading::{Conduct, Configuration, DeviceState, FreeDevices, LeadBodies, Void};

/// One contact or bridge on a path, with the terminals that it joins.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Link {
    /// The device, or the holder of the bridge.
    pub through: String,
    /// Its terminals, in the direction of the path.
    pub between: [String; 2],
    /// The position in which the contact is closed; none for a bridge that is fitted.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub position: Option<String>,
    /// Nobody knows whether the device stands so.
    #[serde(skip_serializing_if = "std::ops::Not::not", default)]
    pub unknown: bool,
    /// For a bridge: `sure` or `maybe`, or `linked` where a link is in its place.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub conducts: Option<String>,
}

/// What became of one reading.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct ReadingCoverage {
    /// The pass, counted from 1.
    pub pass: usize,
    /// The reading in the pass, counted from 1.
    pub reading: usize,
    /// Why it is void; none where it is sound.
    pub void: Option<Void>,
    /// What the circuit's relief leaves in that may join the leads: the reading counts all the same.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub left_in: Vec<String>,
    /// What joins the leads, from the first to the second; empty where the reading is sound, and where the leads touch
    /// the same copper.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub path: Vec<Link>,
}

/// The terminals of an edge, in the direction of a step.
pub(super) fn directed(network: &Network, (from, edge, _): PathStep) -> [String; 2] {
    let (terminals, bodies) = match edge {
        Edge::Contact(number) => {
            let contact = &network.contacts()[number as usize];
            (contact.between, contact.bodies)
        }
        Edge::Bridge { bridge, element, .. } => {
            let row = &network.bridges()[bridge as usize].elements[element as usize];
            (row.between, row.bodies)
        }
    };
    let [a, b] = terminals.map(|terminal: TerminalRef| network.installation().terminal_name(terminal));
    if bodies[0] == from { [a, b] } else { [b, a] }
}

pub(super) fn void_path(
    network: &Network,
    standing: &Configuration,
    witness: &[(DeviceIndex, u16)],
    leads: &LeadBodies,
    void: Void,
) -> Vec<Link> {
    let stands = |device: DeviceIndex| match standing.device(device) {
        DeviceState::At(position) => Some(position),
        DeviceState::Unknown(_) => witness.iter().find(|entry| entry.0 == device).map(|entry| entry.1),
    };
    let conducts = |edge: Edge| match edge {
        Edge::Contact(number) => {
            let contact = &network.contacts()[number as usize];
            stands(contact.device).is_some_and(|position| contact.is_closed_in(position)).then_some(false)
        }
        Edge::Bridge { .. } => match standing.conduct(network, FreeDevices::Unknown, edge)? {
            Conduct::Maybe => (void == Void::Doubtful && leads.may_void(edge)).then_some(true),
            Conduct::Sure | Conduct::In { .. } => Some(false),
        },
    };
    let Some(steps) = network.path(&leads.touched[0], conducts, |body| leads.touched[1].contains(&body)) else {
        return Vec::new();
    };
    steps
        .into_iter()
        .map(|step| {
            let between = directed(network, step);
            match step.1 {
                Edge::Contact(number) => {
                    let device = network.contacts()[number as usize].device;
                    let position = stands(device).map(|position| network.position_name(device, position).to_owned());
                    let unknown = matches!(standing.device(device), DeviceState::Unknown(_));
                    Link { through: network.device_name(device), between, position, unknown, conducts: None }
                }
                Edge::Bridge { bridge, conducts, .. } => Link {
                    through: network.bridges()[bridge as usize].reference.name(network.installation()),
                    between,
                    position: None,
                    unknown: false,
                    conducts: Some(match standing.bridge(bridge) {
                        BridgeState::Linked => "linked".to_owned(),
                        BridgeState::Fitted | BridgeState::Removed => conducts.name().to_owned(),
                    }),
                },
            }
        })
        .collect()
}

/// What of a relief's leaves may join the leads of a reading that is not void, in some position of unknown devices, on
/// a way with as little of it as can be.
pub(super) fn left_in(network: &Network, standing: &Configuration, leads: &LeadBodies) -> Vec<String> {
    if !leads.have_relief() {
        return Vec::new();
    }
    let joins = |edge: Edge| standing.may_conduct(network, edge).then(|| !leads.may_void(edge));
    let path = network.path(&leads.touched[0], joins, |body| leads.touched[1].contains(&body));
    let holders = path.into_iter().flatten().filter_map(|(_, edge, _)| match edge {
        Edge::Bridge { bridge, .. } if !leads.may_void(edge) => Some(bridge),
        _ => None,
    });
    let mut names: Vec<String> =
        holders.map(|bridge| network.bridges()[bridge as usize].reference.name(network.installation())).collect();
    names.dedup();
    names
}
