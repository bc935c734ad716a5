//! What would make an untestable pair testable, found by trying it.

use std::rc::Rc;

use rustc_hash::FxHashMap;
use serde::{Deserialize, Serialize};

use crate::model::{BridgeRef, CircuitId, Conducts, End, Reading, ReadingAt, TerminalRef, Volts};
use crate::network::{Body, BridgeIndex, Edge, Network, PairCore, PairId, Reach};
use crate::plan::problem::option::Fleet;
use crate::plan::problem::setup::Setup;
use crate::plan::request::Request;
use crate::reading::{Configuration, FreeDevices, LeadBodies, Probe, Side, planned_readings};

/// A change after which some reading tests a pair, and how devices must stand for it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Remedy {
    /// What to do.
    #[serde(flatten)]
    pub step: RemedyStep,
    /// The leads of the reading that tests the pair then.
    pub between: [String; 2],
    /// The test voltage, d.c., for the circuit of the pair's length.
    pub volts: Volts,
    /// How devices must stand for it, as [device, position]; those only on which it depends.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub with: Vec<[String; 2]>,
}

/// What makes a pair testable.
#[derive(Clone, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(tag = "do", rename_all = "kebab-case")]
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
    /// Put a temporary link between two terminals of a point, and take it out again afterwards.
    Link {
        /// The point.
        point: String,
        /// The terminals to link.
        terminals: [String; 2],
    },
}

/// Bridges tried for one pair at the most: those nearest to its cores.
const MOST_BRIDGES: usize = 12;

/// For each untestable pair, what would make it testable: each change is tried on the network, in the order of least
/// trouble (a lamp left in, the instrument taken to a point, a temporary link), and the first that works is given. None
/// where none of those tried does.
///
/// Time: linear in the devices once, then a few readings of the pair's own circuit for each change tried; what is tried
/// for one pair is not tried again for another between the same copper.
pub(in crate::plan) fn remedies(
    setup: &Setup<'_>,
    request: &Request,
    pairs: impl Iterator<Item = PairId>,
) -> Vec<Option<Remedy>> {
    let mut bench = Bench::new(setup, request);
    pairs.map(|pair| bench.remedy(pair)).collect()
}

/// Where changes are tried.
struct Bench<'p> {
    network: &'p Network,
    request: &'p Request,
    fleet: &'p Fleet,
    probe: Probe,
    /// How things stand at the start; a bridge on trial is fitted for as long as it is.
    standing: Configuration,
    /// The pair group on trial.
    group: u32,
    /// The readings of the circuit last on trial.
    own: Option<(CircuitId, Rc<[OwnReading]>)>,
    /// What was tried: the group, the bridge fitted, the leads.
    tried: FxHashMap<(u32, Option<BridgeIndex>, LeadBodies), Option<Positions>>,
}

/// How devices must stand, as [device, position].
type Positions = Vec<[String; 2]>;

/// A planned reading of the pair's own circuit, as things stand at the start.
struct OwnReading {
    leads: LeadBodies,
    between: [String; 2],
    /// The bodies always joined to each lead.
    held: [Vec<Body>; 2],
    /// Void in every setting. A bridge fitted or a link put in joins more, never less: it stays void.
    always_void: bool,
}

impl OwnReading {
    /// Whether more joints could make the reading test a pair between these bodies: not where it is void in any case,
    /// and not where both are on one lead in any case.
    fn may_come_to_test(&self, bodies: [Body; 2]) -> bool {
        !self.always_void && !self.held.iter().any(|held| bodies.iter().all(|body| held.contains(body)))
    }
}

impl<'p> Bench<'p> {
    fn new(setup: &'p Setup<'_>, request: &'p Request) -> Bench<'p> {
        Bench {
            network: setup.network,
            request,
            fleet: &setup.fleet,
            probe: Probe::new(setup.network),
            standing: setup.start.clone(),
            group: 0,
            own: None,
            tried: FxHashMap::default(),
        }
    }

    fn remedy(&mut self, pair: PairId) -> Option<Remedy> {
        self.group = self.network.pair_group(pair);
        self.leave_fitted(pair).or_else(|| self.take_instrument(pair)).or_else(|| self.link(pair))
    }

    /// Positions in which a reading between these leads tests the pair, with a bridge fitted that stood removed, if
    /// there are any.
    fn tests(&mut self, fitted: Option<BridgeIndex>, leads: &LeadBodies) -> Option<Positions> {
        let key = (self.group, fitted, leads.clone());
        if let Some(known) = self.tried.get(&key) {
            return known.clone();
        }
        let was_fitted = fitted.map(|bridge| self.standing.is_fitted(bridge));
        if let Some(bridge) = fitted {
            self.standing.set_fitted(bridge, true);
        }
        let found = self.try_reading(leads);
        if let (Some(bridge), Some(was_fitted)) = (fitted, was_fitted) {
            self.standing.set_fitted(bridge, was_fitted);
        }
        self.tried.insert(key, found.clone());
        found
    }

    fn try_reading(&mut self, leads: &LeadBodies) -> Option<Positions> {
        let (network, group) = (self.network, self.group);
        let probed = self.probe.read(network, &self.standing, FreeDevices::These(&self.fleet.variable), leads);
        let tests = probed.tests_by_setting(|wanted| wanted == group).tests;
        let sound = &tests.first()?.1;
        // Of the combinations that do, one that asks for the fewest changes.
        let changes = |combination: &usize| {
            let moved = sound.positions(*combination).into_iter();
            moved.filter(|&(device, position)| self.fleet.start(device) != position).count()
        };
        let best = (0..sound.count())
            .filter(|&combination| sound.get(combination))
            .min_by_key(|combination| (changes(combination), *combination))?;
        Some(
            sound
                .positions(best)
                .into_iter()
                .map(|(device, position)| {
                    [network.device_name(device), network.position_name(device, position).to_owned()]
                })
                .collect(),
        )
    }

    fn volts(&self, pair: PairId) -> Volts {
        let installation = self.network.installation();
        let circuit = installation.length(self.network.pair_length(pair)).circuit();
        crate::rules::test_voltage(installation.circuit(circuit))
    }

    fn own_readings(&mut self, pair: PairId) -> Rc<[OwnReading]> {
        let network = self.network;
        let installation = network.installation();
        let circuit = installation.length(network.pair_length(pair)).circuit();
        if let Some((of, readings)) = &self.own
            && *of == circuit
        {
            return Rc::clone(readings);
        }
        let request = self.request;
        let is_locked = |reading: &Reading| match reading.at {
            ReadingAt::Circuit(id) => {
                let way = installation.circuit(id).way();
                way.is_some_and(|way| request.is_board_locked(installation, way.board()))
            }
            ReadingAt::Board(board) => request.is_board_locked(installation, board),
        };
        let readings: Rc<[OwnReading]> = planned_readings(installation, circuit)
            .into_iter()
            .filter(|reading| !is_locked(reading))
            .map(|reading| {
                let leads = LeadBodies::of(network, reading.leads());
                let probed = self.probe.read(network, &self.standing, FreeDevices::These(&self.fleet.variable), &leads);
                let between = reading.leads().clone().map(|lead| lead.text().to_owned());
                let held = Side::BOTH.map(|side| probed.held(side).to_vec());
                OwnReading { always_void: probed.is_always_void(), held, leads, between }
            })
            .collect();
        self.own = Some((circuit, Rc::clone(&readings)));
        readings
    }

    fn bodies(&self) -> [Body; 2] {
        self.network.group_bodies(self.group)
    }

    fn leave_fitted(&mut self, pair: PairId) -> Option<Remedy> {
        let network = self.network;
        let bodies = self.bodies();
        let readings = self.own_readings(pair);
        if !readings.iter().any(|reading| reading.may_come_to_test(bodies)) {
            return None;
        }
        for bridge in self.bridges_near() {
            let row = &network.bridges()[bridge as usize];
            // In a locked room everything stays as it is.
            let stays = match row.reference {
                BridgeRef::Point(point) => self.request.is_locked(network.installation(), point),
                _ => false,
            };
            if !row.removable || stays || row.elements.iter().any(|element| element.conducts == Conducts::Maybe) {
                continue;
            }
            for reading in readings.iter().filter(|reading| reading.may_come_to_test(bodies)) {
                if let Some(with) = self.tests(Some(bridge), &reading.leads) {
                    let step = RemedyStep::LeaveFitted { bridge: row.reference.name(network.installation()) };
                    let between = reading.between.clone();
                    return Some(Remedy { step, between, volts: self.volts(pair), with });
                }
            }
        }
        None
    }

    /// Bridges within reach of the pair's cores through contacts, nearest first.
    fn bridges_near(&self) -> Vec<BridgeIndex> {
        let network = self.network;
        let mut bridges: Vec<BridgeIndex> = Vec::new();
        let earth = network.body(TerminalRef::MainEarth);
        let mut walk = Reach::from(self.bodies());
        while let Some(body) = walk.step() {
            if body == earth || bridges.len() >= MOST_BRIDGES {
                continue;
            }
            for (far, edge) in network.edges_at(body) {
                if let Edge::Bridge { bridge, .. } = edge
                    && !bridges.contains(&bridge)
                {
                    bridges.push(bridge);
                } else {
                    walk.enter(far);
                }
            }
        }
        bridges.truncate(MOST_BRIDGES);
        bridges
    }

    /// The terminals at each point that the pair's length ends at: for both sides of the pair.
    fn points_of(&self, pair: PairId) -> Vec<(crate::model::PointId, [TerminalRef; 2])> {
        let network = self.network;
        let installation = network.installation();
        let length = installation.length(network.pair_length(pair));
        let mut points = Vec::new();
        for (number, end) in length.ends().into_iter().enumerate() {
            let End::Point(point) = end else { continue };
            if self.request.is_locked(installation, point) {
                continue;
            }
            let terminals = network.pair_cores(pair).map(|core| match core {
                PairCore::Core(core) => length.cores()[core].ends()[number],
                PairCore::Earth => Some(TerminalRef::MainEarth),
            });
            if let [Some(a), Some(b)] = terminals {
                points.push((point, [a, b]));
            }
        }
        points
    }

    fn take_instrument(&mut self, pair: PairId) -> Option<Remedy> {
        let installation = self.network.installation();
        for (point, terminals) in self.points_of(pair) {
            let leads = LeadBodies(terminals.map(|terminal| vec![self.network.body(terminal)]));
            if let Some(with) = self.tests(None, &leads) {
                let step = RemedyStep::TakeInstrumentTo { point: installation.point(point).id().to_owned() };
                let between = terminals.map(|terminal| installation.terminal_name(terminal));
                return Some(Remedy { step, between, volts: self.volts(pair), with });
            }
        }
        None
    }

    /// A link from a core to a terminal of the same point that is on a lead in any case.
    fn link(&mut self, pair: PairId) -> Option<Remedy> {
        let network = self.network;
        let installation = network.installation();
        let bodies = self.bodies();
        let readings = self.own_readings(pair);
        for (point, terminals) in self.points_of(pair) {
            let row = installation.point(point);
            let count = installation.kind(row.kind()).terminals.len() + row.extra_terminals.len();
            for core in terminals {
                for number in 0..count as u16 {
                    let other = TerminalRef::Point { point, terminal: number };
                    let (here, there) = (network.body(core), network.body(other));
                    if here == there {
                        continue;
                    }
                    for reading in readings.iter().filter(|reading| reading.may_come_to_test(bodies)) {
                        let Some(side) = reading.held.iter().position(|held| held.contains(&there)) else { continue };
                        // What is linked to a lead is on it.
                        let mut linked = reading.leads.clone();
                        linked.0[side].push(here);
                        if let Some(with) = self.tests(None, &linked) {
                            let step = RemedyStep::Link {
                                point: row.id().to_owned(),
                                terminals: [core, other].map(|terminal| installation.terminal_name(terminal)),
                            };
                            let between = reading.between.clone();
                            return Some(Remedy { step, between, volts: self.volts(pair), with });
                        }
                    }
                }
            }
        }
        None
    }
}
