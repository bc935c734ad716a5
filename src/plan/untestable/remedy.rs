//! What would make an untestable pair testable, found by trying it.

use rustc_hash::FxHashMap;
use serde::{Deserialize, Serialize};

use crate::model::{BridgeState, End, PointId, TerminalRef, Volts};
use crate::network::{Body, BridgeIndex, Edge, PairCore, PairId, Reach};
use crate::plan::problem::setup::Setup;
use crate::plan::request::Request;
use crate::plan::untestable::trial::{ExtraStep, ExtraTrial, Pins, TakenAt, circuit_of, fit, terminals_of};
use crate::reading::{Conduct, FreeDevices, LeadBodies};

/// A change after which some reading tests a pair, and how devices must stand for it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Remedy {
    /// What to do.
    #[serde(flatten)]
    pub step: RemedyStep,
    /// The leads of the reading that tests the pair then.
    pub between: [String; 2],
    /// The test voltage, d.c., for the circuit of the pair's length.
    pub volts: Option<Volts>,
    /// How devices must stand for it, as [device, position]; those only on which it depends.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub with: Vec<[String; 2]>,
}

/// What makes a pair testable.
#[derive(Clone, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(tag = "do", rename_all = "kebab-case")]
#[non_exhaustive]
pub enum RemedyStep {
    /// Leave a lamp, load or coil in that would otherwise be out.
    LeaveFitted {
        /// Its holder.
        bridge: String,
    },
    /// Take the instrument to a point and touch its terminals.
    TakeInstrumentTo {
        /// The point.
        point: String,
    },
    /// Take the link out that stands in the place of what is out at a point.
    TakeLinkOut {
        /// The point.
        point: String,
    },
    /// Put a temporary link between two terminals of a point, and take it out again afterwards.
    Link {
        /// The point.
        point: String,
        /// The terminals to link.
        terminals: [String; 2],
    },
}

/// What was tried: the group, the bridge fitted or its link taken out, the link, the leads.
type TriedRemedy = (u32, Option<(BridgeIndex, BridgeState)>, Option<[Body; 2]>, LeadBodies);

/// Tries remedies.
struct RemedySearch<'r> {
    setup: &'r Setup<'r>,
    request: &'r Request,
    trial: ExtraTrial<'r>,
    /// For each body, a number that it shares with what is joined to it whatever devices do.
    sure: Vec<u32>,
    tried: FxHashMap<TriedRemedy, Option<Pins>>,
}

/// What would make each of these untestable pairs testable: each change is tried on the network, in the order of least
/// trouble (a lamp left in, a link of the preparation out, the instrument taken to a point, a temporary link), and the
/// first that works is given. None where none of those tried does.
///
/// Time: linear in the devices once, then a few readings of the pair's own circuit for each change tried; what is tried
/// for one pair is not tried again for another between the same copper.
pub(in crate::plan) fn remedies(
    setup: &Setup<'_>,
    request: &Request,
    pairs: impl Iterator<Item = PairId>,
) -> Vec<Option<Remedy>> {
    let (network, free) = (setup.network, FreeDevices::These(&setup.choices.variable));
    let sure = network.pieces(|edge| setup.start.conduct(network, free, edge) == Some(Conduct::Sure));
    let trial = ExtraTrial::new(setup, &setup.start);
    let mut search = RemedySearch { setup, request, trial, sure, tried: FxHashMap::default() };
    pairs.map(|pair| search.remedy(pair)).collect()
}

impl RemedySearch<'_> {
    fn remedy(&mut self, pair: PairId) -> Option<Remedy> {
        let (setup, request, network) = (self.setup, self.request, self.setup.network);
        let bodies = self.bodies(pair);
        let (circuit, _) = circuit_of(network, pair);
        // The readings of the pair's own circuit, without those that have both cores on one lead in any case.
        let first = setup.candidates.partition_point(|candidate| candidate.circuit < circuit);
        let own: Vec<u32> = (first as u32..)
            .zip(setup.candidates[first..].iter().take_while(|candidate| candidate.circuit == circuit))
            .filter(|(_, candidate)| {
                !candidate.leads.touched.iter().any(|lead| bodies.iter().all(|&body| self.is_held(lead, body)))
            })
            .map(|(number, _)| number)
            .collect();
        let points = self.points_of(pair);
        if !own.is_empty() {
            let near = self.bridges_near(bodies);
            let lamps = near.iter().filter_map(|&bridge| ExtraStep::lamp(setup, request, bridge));
            let links = near.iter().filter_map(|&bridge| ExtraStep::unlinked(setup, request, bridge));
            for step in lamps.chain(links) {
                for &number in &own {
                    if let Some(with) = self.tests(pair, step, TakenAt::Way(number)) {
                        return Some(self.told(pair, step, TakenAt::Way(number), &with));
                    }
                }
            }
        }
        for &(point, terminals) in &points {
            let (step, at) = (ExtraStep::At(point), TakenAt::Point(terminals));
            if let Some(with) = self.tests(pair, step, at) {
                return Some(self.told(pair, step, at, &with));
            }
        }
        // A link from a core to a terminal of the same point that is on a lead in any case.
        for &(point, cores) in &points {
            let others = terminals_of(network, point);
            for core in cores {
                for &other in others.iter().filter(|&&other| network.body(other) != network.body(core)) {
                    let step = ExtraStep::Linked(point, [core, other]);
                    for &number in &own {
                        let leads = &setup.candidates[number as usize].leads.touched;
                        if !leads.iter().any(|lead| self.is_held(lead, network.body(other))) {
                            continue;
                        }
                        if let Some(with) = self.tests(pair, step, TakenAt::Way(number)) {
                            return Some(self.told(pair, step, TakenAt::Way(number), &with));
                        }
                    }
                }
            }
        }
        None
    }

    fn bodies(&self, pair: PairId) -> [Body; 2] {
        let network = self.setup.network;
        network.group_bodies(network.pair_group(pair))
    }

    /// Whether a body is on a lead in any case.
    fn is_held(&self, lead: &[Body], body: Body) -> bool {
        lead.iter().any(|&touched| self.sure[touched as usize] == self.sure[body as usize])
    }

    /// Positions in which a reading tests the pair with this in place, if there are any: the fewest changes.
    fn tests(&mut self, pair: PairId, step: ExtraStep, at: TakenAt) -> Option<Pins> {
        let RemedySearch { setup, trial, tried, .. } = self;
        let network = setup.network;
        let group = network.pair_group(pair);
        let (fitted, linked) = match step {
            ExtraStep::Fitted(_, bridge) => (Some((bridge, BridgeState::Fitted)), None),
            ExtraStep::Unlinked(_, bridge) => (Some((bridge, BridgeState::Removed)), None),
            ExtraStep::At(_) => (None, None),
            ExtraStep::Linked(_, terminals) => (None, Some(terminals.map(|terminal| network.body(terminal)))),
        };
        let leads = at.leads(setup);
        let found = tried.entry((group, fitted, linked, leads.clone())).or_insert_with(|| {
            let found = trial.with(step, |trial| trial.tests_by_setting(&leads, |wanted| wanted == group));
            found.tests.first().and_then(|(_, when)| fit(when, &Pins::new(), &setup.start))
        });
        found.clone()
    }

    fn told(&self, pair: PairId, step: ExtraStep, at: TakenAt, with: &Pins) -> Remedy {
        let network = self.setup.network;
        let installation = network.installation();
        let between = match at {
            TakenAt::Way(number) => {
                let leads = self.setup.candidates[number as usize].reading.leads();
                leads.each_ref().map(|lead| lead.text().to_owned())
            }
            TakenAt::Point(terminals) => terminals.map(|terminal| installation.terminal_name(terminal)),
        };
        let with = with.iter().map(|(&device, &position)| {
            [network.device_name(device), network.position_name(device, position).to_owned()]
        });
        Remedy { step: step.named(network), between, volts: circuit_of(network, pair).1, with: with.collect() }
    }

    /// Bridges within reach of a pair's cores through contacts and links, nearest first.
    fn bridges_near(&self, bodies: [Body; 2]) -> Vec<BridgeIndex> {
        let network = self.setup.network;
        let most = network.limits().plan.remedy_bridges;
        let mut bridges: Vec<BridgeIndex> = Vec::new();
        let earth = network.body(TerminalRef::MainEarth);
        let mut walk = Reach::from(bodies);
        while let Some(body) = walk.step() {
            if body == earth || bridges.len() >= most {
                continue;
            }
            for (far, edge) in network.edges_at(body) {
                if let Edge::Bridge { bridge, .. } = edge
                    && !bridges.contains(&bridge)
                {
                    bridges.push(bridge);
                    if self.setup.start.bridge(bridge) != BridgeState::Linked {
                        continue;
                    }
                }
                walk.enter(far);
            }
        }
        bridges.truncate(most);
        bridges
    }

    /// The terminals at each point that the pair's length ends at: for both sides of the pair.
    fn points_of(&self, pair: PairId) -> Vec<(PointId, [TerminalRef; 2])> {
        let network = self.setup.network;
        let installation = network.installation();
        let length = installation.length(network.pair_length(pair));
        let mut points = Vec::new();
        for (number, end) in length.ends().into_iter().enumerate() {
            let End::Point(point) = end else { continue };
            let terminals = network.pair_cores(pair).map(|core| match core {
                PairCore::Core(core) => length.cores()[core].ends()[number],
                PairCore::Earth => Some(TerminalRef::MainEarth),
            });
            if let ([Some(a), Some(b)], false) = (terminals, self.request.is_locked(installation, point)) {
                points.push((point, [a, b]));
            }
        }
        points
    }
}
