//! Why a pair is not tested: as data, which text and JSON render.

use std::cell::OnceCell;

use rustc_hash::FxHashMap;
use serde::{Deserialize, Serialize};

use super::shared::{OpenContact, SharedReasons};
use super::tested::Tested;
use super::void::directed;
use crate::model::{DeviceRef, TerminalRef};
use crate::network::{Body, Edge, PairCore, PairId, PathStep, PathsTo};
use crate::reading::DeviceState;

/// Why a pair is not tested.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "reason", rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Missed {
    /// No sound reading had this core on a lead.
    NotReached {
        /// The core, or `earth`.
        core: String,
        /// The first of the [contacts that stand open](Missed::cut_off_at), after the last pass, between the
        /// core and the nearest way or source; none where none need be closed (its circuit was not read), or where no
        /// contacts could reach it.
        cut_off_at: Option<usize>,
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

impl Missed {
    /// The contacts that cut the core off, from the core outwards; none where that is not the reason. `shared` is that
    /// of the answer that this is in.
    pub fn cut_off_at<'s>(&self, shared: &'s SharedReasons) -> impl Iterator<Item = &'s OpenContact> {
        shared.contacts_from(if let Missed::NotReached { cut_off_at, .. } = self { *cut_off_at } else { None })
    }
}

/// Tells why pairs are missed; what is found of one body is kept for other pairs that end on it.
pub(crate) struct WhyMissed<'t> {
    tested: &'t Tested<'t>,
    /// The bodies that earth leads touch at the boards: one, where all is joined.
    earth: Vec<Body>,
    /// The paths to the nearest live lead, and those to earth; found when they are first asked for.
    paths: [OnceCell<PathsTo>; 2],
    /// For each body beyond an open contact the first of those that cut it off.
    cut_off_at: [FxHashMap<Body, Option<usize>>; 2],
    open_contacts: Vec<OpenContact>,
}

impl<'t> WhyMissed<'t> {
    pub(crate) fn by(tested: &'t Tested<'t>) -> WhyMissed<'t> {
        let network = tested.network;
        let bars = network.installation().boards().map(|(board, _)| TerminalRef::EarthBar { board });
        let mut earth: Vec<Body> = bars.chain([TerminalRef::MainEarth]).map(|bar| network.body(bar)).collect();
        earth.sort_unstable();
        earth.dedup();
        WhyMissed {
            tested,
            earth,
            paths: Default::default(),
            cut_off_at: Default::default(),
            open_contacts: Vec::new(),
        }
    }

    /// Why a pair is not tested; none where it is.
    ///
    /// Time and space linear in the network for all pairs together.
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
                true => Missed::NotReached { core, cut_off_at: None, reachable: true, only_void },
                false => Missed::NoReadingToEarth { core },
            };
        }
        // What can only be joined to earth has no live lead to be put on.
        let goal = [0, 1].into_iter().find(|&goal| self.paths(goal).reaches(body));
        let cut_off_at = goal.and_then(|goal| self.first_open(goal, body));
        Missed::NotReached { core, reachable: goal.is_some(), cut_off_at, only_void }
    }

    /// The shortest paths to live leads, or to earth.
    fn paths(&self, goal: usize) -> &PathsTo {
        self.paths[goal].get_or_init(|| {
            let network = self.tested.network;
            let cost = |edge| self.cost(edge);
            match goal {
                0 => network.paths_to((0..network.body_count() as Body).filter(|&body| network.is_lead(body)), cost),
                _ => network.paths_to(self.earth.iter().copied(), cost),
            }
        })
    }

    /// Whether a path can go over an edge, and whether it must be closed for it.
    fn cost(&self, edge: Edge) -> Option<bool> {
        let (network, after) = (self.tested.network, &self.tested.after);
        match edge {
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
        }
    }

    /// The first open contact on the path from a body.
    fn first_open(&mut self, goal: usize, body: Body) -> Option<usize> {
        let mut before = Vec::new();
        let mut at = body;
        let mut then = loop {
            if let Some(&known) = self.cut_off_at[goal].get(&at) {
                break known;
            }
            let Some(step) = self.paths(goal).step(at) else { break None };
            before.push(step);
            at = step.2;
        };
        for step in before.into_iter().rev() {
            if let (Edge::Contact(number), Some(true)) = (step.1, self.cost(step.1)) {
                self.open_contacts.push(self.open_contact(number, step, then));
                then = Some(self.open_contacts.len() - 1);
            }
            self.cut_off_at[goal].insert(step.0, then);
        }
        then
    }

    fn open_contact(&self, number: u32, step: PathStep, then: Option<usize>) -> OpenContact {
        let network = self.tested.network;
        let contact = &network.contacts()[number as usize];
        let position_name = |position| network.position_name(contact.device, position).to_owned();
        let positions = 0..network.devices()[contact.device as usize].positions;
        OpenContact {
            device: network.device_name(contact.device),
            between: directed(network, step),
            stands: match self.tested.after.device(contact.device) {
                DeviceState::At(position) => position_name(position),
                DeviceState::Unknown(_) => "unknown".to_owned(),
            },
            closed_in: positions.filter(|&position| contact.is_closed_in(position)).map(position_name).collect(),
            then,
        }
    }

    /// The contacts that were named.
    pub(crate) fn into_open_contacts(self) -> Vec<OpenContact> {
        self.open_contacts
    }
}
