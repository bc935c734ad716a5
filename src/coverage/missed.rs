//! Why a pair is not tested: as data, which text and JSON render.

use serde::{Deserialize, Serialize};

use super::tested::Tested;
use super::void::{directed, find_path};
use crate::network::{Body, Edge, PairCore, PairId};
use crate::reading::DeviceState;

/// A contact that stands open between a core and the nearest lead.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct OpenContact {
    /// The device.
    pub device: String,
    /// Its terminals, from the core outwards.
    pub between: [String; 2],
    /// Where it stands after the last pass; `unknown` where nobody knows.
    pub stands: String,
    /// The positions that close this contact.
    pub closed_in: Vec<String>,
}

/// Why a pair is not tested.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "reason", rename_all = "kebab-case")]
pub enum Missed {
    /// No sound reading had this core on a lead.
    NotReached {
        /// The core, or `earth`.
        core: String,
        /// The contacts that stand open, after the last pass, between the core and the nearest way; empty where none
        /// need be closed (its circuit was not read), or where no contacts could reach it.
        cut_off_at: Vec<OpenContact>,
        /// Whether some position of the devices would join the core to a way at all.
        reachable: bool,
        /// Whether a void reading had it on a lead.
        only_void: bool,
    },
    /// A reading had the cores on opposite leads, but it was void, as was every other that had.
    OnlyVoid {
        /// The first such reading, as [pass, reading].
        reading: [usize; 2],
    },
    /// Both cores were on leads, but never on the two leads of one reading.
    NeverOpposite,
    /// Tested for some of the unknown starting positions, not for all.
    DependsOnStart {
        /// Starting positions for which no reading tests it.
        example: Vec<(String, String)>,
    },
}

impl Tested<'_> {
    /// Why a pair is not tested; none where it is.
    ///
    /// Time linear in the part of the network around the pair's cores.
    pub(crate) fn why_missed(&self, pair: PairId) -> Option<Missed> {
        if self.is_tested(pair) {
            return None;
        }
        let network = self.network;
        let group = network.pair_group(pair);
        if let Some(when) = self.partly_tested(group) {
            let missing = (0..when.count()).find(|&combination| !when.get(combination))?;
            let example = when
                .positions(missing)
                .into_iter()
                .map(|(device, position)| {
                    (network.device_name(device), network.position_name(device, position).to_owned())
                })
                .collect();
            return Some(Missed::DependsOnStart { example });
        }
        if let Some(&reading) = self.only_void.get(&group) {
            let outcome = &self.readings[reading as usize];
            return Some(Missed::OnlyVoid { reading: [outcome.pass, outcome.reading] });
        }
        let names = network.pair_core_names(pair);
        for (core, name) in network.pair_cores(pair).into_iter().zip(names) {
            let PairCore::Core(core) = core else { continue };
            let body = network.core_body(network.pair_length(pair), core as u16);
            if self.reached.contains(body as usize) {
                continue;
            }
            let path = self.way_to_a_lead(body);
            return Some(Missed::NotReached {
                core: name.to_owned(),
                reachable: path.is_some(),
                cut_off_at: path.unwrap_or_default(),
                only_void: self.reached_void.contains(body as usize),
            });
        }
        Some(Missed::NeverOpposite)
    }

    /// The open contacts on the way from a body to the nearest live terminal of a circuit's way.
    fn way_to_a_lead(&self, body: Body) -> Option<Vec<OpenContact>> {
        let network = self.network;
        let is_lead = |body: Body| network.is_lead(body);
        let cost = |edge: Edge| match edge {
            Edge::Contact(number) => {
                let contact = &network.contacts()[number as usize];
                let device = &network.devices()[contact.device as usize];
                // The devices of boards stay as they are: a lead is put on their load side instead.
                let free = device.operable && matches!(device.reference, crate::model::DeviceRef::Point(_));
                match self.after.device(contact.device) {
                    DeviceState::At(position) if contact.is_closed_in(position) => Some(false),
                    DeviceState::At(_) => (free && contact.closed_in != 0).then_some(true),
                    DeviceState::Unknown(_) => (contact.closed_in != 0).then_some(true),
                }
            }
            Edge::Bridge { bridge, conducts, .. } => {
                (self.after.is_fitted(bridge) && conducts == crate::model::Conducts::Sure).then_some(false)
            }
        };
        let steps = find_path(network, &[body], cost, is_lead)?;
        let open = steps.into_iter().filter(|step| cost(step.1) == Some(true)).map(|step| {
            let Edge::Contact(number) = step.1 else { unreachable!("only contacts cost") };
            let contact = &network.contacts()[number as usize];
            let positions = network.devices()[contact.device as usize].positions;
            OpenContact {
                device: network.device_name(contact.device),
                between: directed(network, step),
                stands: match self.after.device(contact.device) {
                    DeviceState::At(position) => network.position_name(contact.device, position).to_owned(),
                    DeviceState::Unknown(_) => "unknown".to_owned(),
                },
                closed_in: (0..positions)
                    .filter(|&position| contact.is_closed_in(position))
                    .map(|position| network.position_name(contact.device, position).to_owned())
                    .collect(),
            }
        });
        Some(open.collect())
    }
}
