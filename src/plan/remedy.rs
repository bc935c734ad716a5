//! What would make an untestable pair testable, found by trying it.

use serde::{Deserialize, Serialize};

use super::option::Fleet;
use super::planner::{Plan, UntestablePair};
use super::readings::planned_readings;
use crate::model::{Conducts, End, TerminalRef, Volts};
use crate::network::{
    Condition, DeviceIndex, LeadBodies, Network, Opposite, PairCore, PairId, Region, Scout, Sighting, Standing,
};

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
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
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

impl Plan<'_> {
    /// What would make an untestable pair testable: each change is tried on the network, in the order of least trouble
    /// (a lamp left in, the instrument taken to a point, a temporary link), and the first that works is given. None
    /// where none of those tried does.
    ///
    /// Time: a few readings of the pair's own circuit for each change tried.
    pub fn remedy(&self, untestable: UntestablePair) -> Option<Remedy> {
        let mut trial = Bench {
            network: self.network,
            fleet: Fleet::new(self.network, &self.start),
            scout: Scout::new(self.network),
            group: self.network.pairs[untestable.pair.index()].group,
        };
        trial
            .leave_fitted(&self.start, untestable.pair)
            .or_else(|| trial.take_instrument(&self.start, untestable.pair))
            .or_else(|| trial.link(&self.start, untestable.pair))
    }
}

struct Bench<'n> {
    network: &'n Network<'n>,
    fleet: Fleet,
    scout: Scout,
    group: u32,
}

impl Bench<'_> {
    /// Positions in which a reading between these leads tests the pair, if there are any.
    fn tests(&mut self, standing: &Standing, leads: &LeadBodies) -> Option<Vec<[String; 2]>> {
        let network = self.network;
        let region = self.scout.explore(network, standing, &self.fleet.variable, leads);
        if region.always_bridged || region.always_doubtful {
            return None;
        }
        let as_numbered = |_: DeviceIndex, position: u16| position;
        let mut void = Condition::never(Vec::new());
        for group in &region.void_groups {
            if !Region::is_tractable(group) {
                return None;
            }
            void = void.or(&region.voids(group, &as_numbered).void.essential())?;
        }
        let mut when = None;
        let group = self.group;
        Sighting::new(&region, as_numbered).opposite_groups(
            network,
            &self.scout,
            |wanted| wanted == group,
            |_, opposite| match opposite {
                Opposite::Always => when = Some(Condition::always()),
                Opposite::When(condition) => when = Some(condition),
                Opposite::TooLarge => {}
            },
        );
        let sound = when?.and_not(&void)?.essential();
        // Only known devices can be told how to stand, so unknown ones must not matter.
        if sound.digits.iter().any(|digit| self.fleet.is_unknown(digit.0)) {
            return None;
        }
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

    fn own_readings(&self, pair: PairId) -> Vec<(LeadBodies, [String; 2])> {
        let installation = self.network.installation();
        let circuit = installation.length(self.network.pair_length(pair)).circuit();
        planned_readings(installation, circuit)
            .into_iter()
            .map(|reading| {
                let leads = LeadBodies::of(self.network, reading.leads());
                (leads, reading.leads().clone().map(|lead| lead.text().to_owned()))
            })
            .collect()
    }

    fn leave_fitted(&mut self, start: &Standing, pair: PairId) -> Option<Remedy> {
        let network = self.network;
        let readings = self.own_readings(pair);
        for bridge in self.bridges_near(pair) {
            let row = &network.bridges[bridge as usize];
            if !row.removable || row.elements.iter().any(|element| element.conducts == Conducts::Maybe) {
                continue;
            }
            let mut standing = start.clone();
            standing.fitted.insert(bridge as usize);
            for (leads, between) in &readings {
                if let Some(with) = self.tests(&standing, leads) {
                    let step = RemedyStep::LeaveFitted { bridge: row.reference.name(network.installation()) };
                    return Some(Remedy { step, between: between.clone(), volts: self.volts(pair), with });
                }
            }
        }
        None
    }

    /// Bridges within reach of the pair's cores through contacts, nearest first.
    fn bridges_near(&self, pair: PairId) -> Vec<u32> {
        let network = self.network;
        let mut bridges: Vec<u32> = Vec::new();
        let earth = network.body(TerminalRef::MainEarth);
        let mut queue: std::collections::VecDeque<u32> =
            network.groups[network.pairs[pair.index()].group as usize].bodies.into_iter().collect();
        let mut seen: rustc_hash::FxHashSet<u32> = queue.iter().copied().collect();
        while let Some(body) = queue.pop_front() {
            if body == earth || bridges.len() >= MOST_BRIDGES {
                continue;
            }
            for (far, edge) in network.edges_at(body) {
                if let crate::network::Edge::Bridge { bridge, .. } = edge
                    && !bridges.contains(&bridge)
                {
                    bridges.push(bridge);
                } else if seen.insert(far) {
                    queue.push_back(far);
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

    fn take_instrument(&mut self, start: &Standing, pair: PairId) -> Option<Remedy> {
        let installation = self.network.installation();
        for (point, terminals) in self.points_of(pair) {
            let leads = LeadBodies(terminals.map(|terminal| vec![self.network.body(terminal)]));
            if let Some(with) = self.tests(start, &leads) {
                let step = RemedyStep::TakeInstrumentTo { point: installation.point(point).id().to_owned() };
                let between = terminals.map(|terminal| installation.terminal_name(terminal));
                return Some(Remedy { step, between, volts: self.volts(pair), with });
            }
        }
        None
    }

    /// A link from a core to a terminal of the same point that is on a lead in any case.
    fn link(&mut self, start: &Standing, pair: PairId) -> Option<Remedy> {
        let network = self.network;
        let installation = network.installation();
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
                    for (leads, between) in &readings {
                        let region = self.scout.explore(network, start, &self.fleet.variable, leads);
                        let Some(side) = region.held.iter().position(|held| held.contains(&there)) else { continue };
                        // What is linked to a lead is on it.
                        let mut linked = leads.clone();
                        linked.0[side].push(here);
                        if let Some(with) = self.tests(start, &linked) {
                            let step = RemedyStep::Link {
                                point: row.id().to_owned(),
                                terminals: [core, other].map(|terminal| installation.terminal_name(terminal)),
                            };
                            return Some(Remedy { step, between: between.clone(), volts: self.volts(pair), with });
                        }
                    }
                }
            }
        }
        None
    }
}
