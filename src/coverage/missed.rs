//! Why a pair is not tested: as data, which text and JSON render.

use rustc_hash::FxHashMap;
use serde::{Deserialize, Serialize};

use super::tested::Tested;
use super::void::directed;
use crate::model::{DeviceRef, TerminalRef};
use crate::network::{Body, Edge, PairCore, PairId};
use crate::reading::DeviceState;

/// A contact that stands open between a core and the nearest lead.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
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
#[non_exhaustive]
pub enum Missed {
    /// No sound reading had this core on a lead.
    NotReached {
        /// The core, or `earth`.
        core: String,
        /// The contacts that stand open, after the last pass, between the core and the nearest way or source; empty where
        /// none need be closed (its circuit was not read), or where no contacts could reach it.
        cut_off_at: Vec<OpenContact>,
        /// Whether some position of the devices would join the core to a way, or to the source of a circuit without one.
        reachable: bool,
        /// Whether a void reading had it on a lead.
        only_void: bool,
    },
    /// The core is joined to the earth of a board, and no reading, not even a void one, had that on a lead.
    NoReadingToEarth {
        /// The core, or `earth`.
        core: String,
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
    /// An observer stopped the work before it was known.
    Stopped,
}

/// Tells why pairs are missed; what is found of one body is kept for other pairs that end on it.
pub(crate) struct WhyMissed<'t> {
    tested: &'t Tested<'t>,
    /// The bodies that earth leads touch at the boards: one, where all is joined.
    earth: Vec<Body>,
    cut_off_at: FxHashMap<Body, Option<Vec<OpenContact>>>,
}

impl<'t> WhyMissed<'t> {
    pub(crate) fn by(tested: &'t Tested<'t>) -> WhyMissed<'t> {
        let network = tested.network;
        let bars = network.installation().boards().map(|(board, _)| TerminalRef::EarthBar { board });
        let mut earth: Vec<Body> = bars.chain([TerminalRef::MainEarth]).map(|bar| network.body(bar)).collect();
        earth.sort_unstable();
        earth.dedup();
        WhyMissed { tested, earth, cut_off_at: FxHashMap::default() }
    }

    /// Why a pair is not tested; none where it is.
    ///
    /// Time linear in the part of the network around the pair's cores.
    pub(crate) fn of(&mut self, pair: PairId) -> Option<Missed> {
        let tested = self.tested;
        if tested.is_tested(pair) {
            return None;
        }
        let network = tested.network;
        let group = network.pair_group(pair);
        if let Some(when) = tested.partly_tested(group) {
            let missing = when.example(false, &when.devices())?;
            let name =
                |(device, position)| (network.device_name(device), network.position_name(device, position).to_owned());
            return Some(Missed::DependsOnStart { example: missing.into_iter().map(name).collect() });
        }
        if let Some(&reading) = tested.only_void.get(&group) {
            let outcome = &tested.readings[reading as usize];
            return Some(Missed::OnlyVoid { reading: [outcome.pass, outcome.reading] });
        }
        let bodies = network.pair_cores(pair).map(|core| match core {
            PairCore::Core(core) => network.core_body(network.pair_length(pair), core as u16),
            PairCore::Earth => network.body(TerminalRef::MainEarth),
        });
        let names = network.pair_core_names(pair);
        let not_reached = bodies.into_iter().zip(names).find(|&(body, _)| !tested.reached.contains(body as usize));
        Some(match not_reached {
            Some((body, name)) => self.not_reached(body, name.to_owned()),
            None => Missed::NeverOpposite,
        })
    }

    fn not_reached(&mut self, body: Body, core: String) -> Missed {
        let only_void = self.tested.reached_void.contains(body as usize);
        if self.earth.contains(&body) {
            return match only_void {
                true => Missed::NotReached { core, cut_off_at: Vec::new(), reachable: true, only_void },
                false => Missed::NoReadingToEarth { core },
            };
        }
        if !self.cut_off_at.contains_key(&body) {
            // What can only be joined to earth has no live lead to be put on.
            let live = self.contacts_to(body, |body| self.tested.network.is_lead(body));
            let path = live.or_else(|| self.contacts_to(body, |body| self.earth.contains(&body)));
            self.cut_off_at.insert(body, path);
        }
        let path = self.cut_off_at[&body].clone();
        Missed::NotReached { core, reachable: path.is_some(), cut_off_at: path.unwrap_or_default(), only_void }
    }

    /// The open contacts on the path from a body to the nearest lead.
    fn contacts_to(&self, body: Body, is_lead: impl Fn(Body) -> bool) -> Option<Vec<OpenContact>> {
        let (network, after) = (self.tested.network, &self.tested.after);
        let cost = |edge: Edge| match edge {
            Edge::Contact(number) => {
                let contact = &network.contacts()[number as usize];
                let device = &network.devices()[contact.device as usize];
                // The devices of boards stay as they are: a lead is put on their load side instead.
                let free = device.operable && matches!(device.reference, DeviceRef::Point(_));
                match after.device(contact.device) {
                    DeviceState::At(position) if contact.is_closed_in(position) => Some(false),
                    DeviceState::At(_) => free.then_some(true),
                    DeviceState::Unknown(_) => Some(true),
                }
            }
            Edge::Bridge { .. } => after.conducts(network, edge).then_some(false),
        };
        let steps = network.path(&[body], cost, is_lead)?;
        let open = steps.into_iter().filter(|step| cost(step.1) == Some(true)).map(|step| {
            let Edge::Contact(number) = step.1 else { unreachable!("only contacts cost") };
            let contact = &network.contacts()[number as usize];
            let position_name = |position| network.position_name(contact.device, position).to_owned();
            let positions = 0..network.devices()[contact.device as usize].positions;
            OpenContact {
                device: network.device_name(contact.device),
                between: directed(network, step),
                stands: match after.device(contact.device) {
                    DeviceState::At(position) => position_name(position),
                    DeviceState::Unknown(_) => "unknown".to_owned(),
                },
                closed_in: positions.filter(|&position| contact.is_closed_in(position)).map(position_name).collect(),
            }
        });
        Some(open.collect())
    }
}
