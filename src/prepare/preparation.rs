//! What has to be done before, around and after the readings of each circuit, from the graph.

use rustc_hash::{FxHashMap, FxHashSet};
use serde::Serialize;

use super::across::{Contacts, holders_across};
use super::step::{Action, Caution, JoinedBy, LeadsProved, Obstacle, Operated, Step, TestBefore, WhyOff};
use crate::model::{
    BridgeRef, CircuitId, Conductor, Conducts, End, Installation, Length, PlateId, PointId, Stands, TerminalRef,
    Variant, WayDevice, WayId,
};
use crate::network::{Body, Feeding, Network, Role};
use crate::plan::obstacles;
use crate::reading::{LeadBodies, planned_readings};
use crate::rules::{CAUTIONS, Ruleset};

/// The preparation of all circuits, and what is the same for each of them.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[must_use]
pub struct Preparation {
    /// The format's version.
    pub format: u32,
    /// The id of the ruleset that the test voltages are from.
    pub ruleset: String,
    /// What to know first.
    pub cautions: Vec<String>,
    /// What comes for each circuit once it is isolated.
    pub before: Vec<Step>,
    /// What comes for each circuit right before its readings.
    pub before_readings: Vec<Step>,
    /// What is the circuits' own, in the order of the file.
    pub circuits: Vec<CircuitPreparation>,
    /// What comes last, once for each circuit.
    pub after: Vec<Step>,
}

/// What is one circuit's own.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CircuitPreparation {
    /// The circuit.
    pub circuit: String,
    /// The steps, in order.
    pub steps: Vec<Step>,
}

pub(super) fn step(action: Action) -> Step {
    Step { action, caution: None }
}

pub(super) fn careful(action: Action, caution: Caution) -> Step {
    Step { action, caution: Some(caution) }
}

impl Preparation {
    /// Works out the preparation of every circuit, for readings at the ways with the devices of boards off: those that a
    /// plan takes.
    ///
    /// What lies across a reading is found with every switch of the points in any of its positions, so that it is named
    /// whichever way they are worked, and with what can't be taken out. It may be named where no one setting makes it so.
    /// What bridges the leads only together with something else that comes out is listed with its circuit, without a
    /// reading.
    ///
    /// Time O(circuits × the part of the network that a reading reaches); space linear in what is listed.
    ///
    /// Source: common practice; test voltages by the ruleset. Line and neutral may be joined for the test to earth: BS
    /// 7671:2018 reg. 643.3.1; what may be damaged is disconnected: reg. 643.3.3.
    pub fn of(network: &Network, ruleset: &Ruleset) -> Preparation {
        let surroundings = Surroundings::of(network, ruleset);
        Preparation {
            format: 1,
            ruleset: ruleset.id().to_owned(),
            cautions: CAUTIONS.iter().map(|&caution| caution.to_owned()).collect(),
            before: vec![
                careful(Action::ProveDead, Caution::LiveParts),
                step(Action::TestBefore { test: TestBefore::ProtectiveContinuity }),
                step(Action::TestBefore { test: TestBefore::Polarity }),
            ],
            before_readings: vec![
                step(Action::CoversOn),
                step(Action::ProveLeads { leads: LeadsProved::Joined }),
                step(Action::ProveLeads { leads: LeadsProved::EachOfAJoinedPair }),
            ],
            circuits: network
                .installation()
                .circuits()
                .map(|(id, circuit)| CircuitPreparation {
                    circuit: circuit.id().to_owned(),
                    steps: surroundings.steps(id),
                })
                .collect(),
            after: vec![careful(Action::ReleaseAndDischarge, Caution::StaysCharged), step(Action::PutBack)],
        }
    }
}

/// What is looked up for each circuit.
pub(super) struct Surroundings<'n> {
    pub(super) network: &'n Network,
    pub(super) feeding: Feeding<'n>,
    ruleset: &'n Ruleset,
    /// Beside each holder of bridges: what a plan says of it.
    obstacles: Vec<crate::plan::Obstacle>,
    obstacles_of: FxHashMap<CircuitId, Vec<usize>>,
    pub(super) points_of: Vec<Vec<PointId>>,
    pub(super) points_on: FxHashMap<PlateId, Vec<PointId>>,
    pub(super) lengths_of: Vec<Vec<&'n Length>>,
    /// The circuits whose ways have their neutral on a body.
    neutrals: FxHashMap<Body, Vec<CircuitId>>,
}

impl<'n> Surroundings<'n> {
    fn of(network: &'n Network, ruleset: &'n Ruleset) -> Surroundings<'n> {
        let installation = network.installation();
        let obstacles = obstacles(network);
        let mut obstacles_of: FxHashMap<CircuitId, Vec<usize>> = FxHashMap::default();
        for (number, row) in obstacles.iter().enumerate() {
            if let Some(circuit) = row.circuit {
                obstacles_of.entry(circuit).or_default().push(number);
            }
        }
        let mut points_of = vec![Vec::new(); installation.circuits().len()];
        let mut points_on: FxHashMap<PlateId, Vec<PointId>> = FxHashMap::default();
        for (id, point) in installation.points() {
            points_of[point.circuit().index()].push(id);
            if let Some(plate) = point.plate() {
                points_on.entry(plate).or_default().push(id);
            }
        }
        let mut lengths_of = vec![Vec::new(); installation.circuits().len()];
        for (_, length) in installation.lengths() {
            lengths_of[length.circuit().index()].push(length);
        }
        let mut neutrals: FxHashMap<Body, Vec<CircuitId>> = FxHashMap::default();
        for (id, circuit) in installation.circuits() {
            if let Some(way) = circuit.way().filter(|&way| installation.way(way).has_neutral()) {
                neutrals.entry(network.body(neutral_of(way))).or_default().push(id);
            }
        }
        let feeding = Feeding::of(network);
        Surroundings { network, feeding, ruleset, obstacles, obstacles_of, points_of, points_on, lengths_of, neutrals }
    }

    pub(super) fn installation(&self) -> &'n Installation {
        self.network.installation()
    }

    fn steps(&self, id: CircuitId) -> Vec<Step> {
        let circuit = self.installation().circuit(id);
        let mut steps = Vec::new();
        let sources = if circuit.way().is_none() { self.sources_of(id) } else { Vec::new() };
        let readings = match circuit.way() {
            Some(_) => self.readings_at_way(id),
            None => self.readings_at_source(&sources),
        };
        // What lies across each reading, by the number of the holder.
        let mut across: FxHashMap<usize, Vec<usize>> = FxHashMap::default();
        for (number, reading) in readings.iter().enumerate() {
            for holder in holders_across(self.network, &reading.leads, Contacts::InAnyPosition) {
                across.entry(holder).or_default().push(number);
            }
        }
        let own = self.obstacles_of.get(&id).map_or(&[][..], Vec::as_slice);
        let mut others: Vec<usize> = across.keys().copied().filter(|number| !own.contains(number)).collect();
        others.sort_unstable();
        let listed = others.iter().map(|&number| self.obstacles[number].holder);
        let opened: Vec<BridgeRef> = listed.chain(sources.iter().map(|&(point, _)| BridgeRef::Point(point))).collect();
        self.isolate(id, &opened, &mut steps);
        if self.is_ring(id) {
            steps.push(step(Action::TestBefore { test: TestBefore::RingContinuity }));
        }
        let mut stays = Vec::new();
        for &number in own.iter().chain(&others) {
            let row = &self.obstacles[number];
            let names: Vec<[String; 2]> = across
                .get(&number)
                .map(|numbers| numbers.iter().map(|&reading| readings[reading].between.clone()).collect())
                .unwrap_or_default();
            let obstacle = self.obstacle(number, id, names);
            let is_electronic = row.conducts == Conducts::Maybe;
            if row.removable {
                let caution = is_electronic.then_some(Caution::DamagesElectronics);
                steps.push(Step { action: Action::TakeOut(obstacle), caution });
            } else {
                stays.push(number);
                let caution = is_electronic.then_some(Caution::StaysInTheWay);
                steps.push(Step { action: Action::LeaveIn(obstacle), caution });
            }
        }
        let links_out = self.links(id, &mut steps);
        self.switches(id, &mut steps);
        if let Some(way) = circuit.way() {
            steps.extend(self.neutral(way, id));
        }
        let volts = self.ruleset.test_voltage(circuit);
        let mut points: Vec<PointId> = sources.iter().map(|&(point, _)| point).collect();
        points.dedup();
        for point in points {
            let location = self.location(point);
            let point = self.installation().point(point).id().to_owned();
            steps.push(step(Action::TakeInstrumentTo { point, location }));
        }
        for (number, OwnReading { between, leads }) in readings.into_iter().enumerate() {
            let lies_across = |holder: &&usize| across.get(*holder).is_some_and(|numbers| numbers.contains(&number));
            let in_the_way: Vec<usize> = stays.iter().filter(lies_across).copied().collect();
            let mut always = if in_the_way.is_empty() {
                Vec::new()
            } else {
                holders_across(self.network, &leads, Contacts::InEveryPosition)
            };
            always.retain(|holder| in_the_way.contains(holder));
            let names = |numbers: &[usize]| -> Vec<String> {
                numbers.iter().map(|&holder| self.obstacles[holder].name(self.installation())).collect()
            };
            // What conducts for sure is read, whatever the voltage.
            let is_electronics = always.iter().all(|&holder| self.obstacles[holder].conducts == Conducts::Maybe);
            let relief =
                (!always.is_empty() && is_electronics).then(|| self.ruleset.relief_of(circuit).cloned()).flatten();
            let action = Action::Read {
                between,
                volts,
                not_while_fitted: names(&in_the_way),
                never_cut_off: names(&always),
                relief,
            };
            steps.push(careful(action, Caution::TestVoltage));
        }
        steps.extend(links_out);
        steps
    }

    /// Whether the line conductor of the circuit leaves its way and comes back to it. A neutral that goes another way makes
    /// no ring.
    fn is_ring(&self, id: CircuitId) -> bool {
        let installation = self.installation();
        let Some(way) = installation.circuit(id).way() else { return false };
        let Some(&line) = installation.way(way).poles().first() else { return false };
        let line = self.network.body(TerminalRef::Way { way, conductor: Conductor::Line(line) });
        let mut beside: FxHashMap<End, Vec<End>> = FxHashMap::default();
        let mut legs = Vec::new();
        for length in &self.lengths_of[id.index()] {
            let carries_line = length.cores().iter().any(|core| match core.ends() {
                [Some(a), Some(_)] => self.network.body(a) == line,
                _ => false,
            });
            if !carries_line {
                continue;
            }
            let [a, b] = length.ends();
            match (a == End::Way(way), b == End::Way(way)) {
                (true, true) => return true,
                (true, false) => legs.push(b),
                (false, true) => legs.push(a),
                (false, false) => {
                    beside.entry(a).or_default().push(b);
                    beside.entry(b).or_default().push(a);
                }
            }
        }
        // A leg that is reached from another one closes a ring.
        let mut seen: FxHashSet<End> = FxHashSet::default();
        for leg in legs {
            if !seen.insert(leg) {
                return true;
            }
            let mut waiting = vec![leg];
            while let Some(end) = waiting.pop() {
                for &next in beside.get(&end).into_iter().flatten() {
                    if seen.insert(next) {
                        waiting.push(next);
                    }
                }
            }
        }
        false
    }

    fn obstacle(&self, number: usize, circuit: CircuitId, across: Vec<[String; 2]>) -> Obstacle {
        let installation = self.installation();
        let row = &self.obstacles[number];
        let (kind, location) = match row.holder {
            BridgeRef::Point(point) => {
                (installation.kind(installation.point(point).kind()).name().to_owned(), self.location(point))
            }
            BridgeRef::Way(_) => ("rcbo".to_owned(), None),
            BridgeRef::Group(_) => ("rcd".to_owned(), None),
        };
        let roles = self.network.bridges()[number].elements.iter().map(|element| {
            element.between.map(|terminal| {
                self.network.roles_at(terminal).iter().map(|role| role.name(installation)).collect::<Vec<String>>()
            })
        });
        Obstacle {
            what: row.name(installation),
            kind,
            of_circuit: row.circuit.filter(|&of| of != circuit).map(|of| installation.circuit(of).id().to_owned()),
            location,
            conducts: row.conducts.name().to_owned(),
            between: row.between.clone(),
            roles: roles.collect(),
            across,
        }
    }

    pub(super) fn location(&self, point: PointId) -> Option<String> {
        let location = self.installation().point(point).location()?;
        Some(self.installation().location(location).name().to_owned())
    }

    /// What the file says is joined for good; what comes last is handed back: links that were for the test.
    fn links(&self, id: CircuitId, steps: &mut Vec<Step>) -> Vec<Step> {
        let installation = self.installation();
        let mut out = Vec::new();
        for &id in &self.points_of[id.index()] {
            let row = installation.point(id);
            let kind = installation.kind(row.kind());
            let electronics = kind.bridges.iter().filter(|bridge| bridge.conducts == Conducts::Maybe);
            let ends: FxHashSet<u16> = electronics.flat_map(|bridge| bridge.between).collect();
            for link in &row.links {
                let terminals: Vec<String> =
                    link.iter().map(|&terminal| installation.point_terminal_name(id, terminal).to_owned()).collect();
                let (point, location) = (row.id().to_owned(), self.location(id));
                let stands_in =
                    row.is_removable() && link.iter().filter(|terminal| ends.contains(terminal)).count() > 1;
                let by = if stands_in { JoinedBy::TestLink } else { JoinedBy::AsWired };
                if stands_in {
                    let (point, terminals, location) = (point.clone(), terminals.clone(), location.clone());
                    out.push(step(Action::TakeLinkOut { point, terminals, location }));
                }
                steps.push(step(Action::Joined { point, terminals, location, by }));
            }
        }
        out
    }

    fn switches(&self, id: CircuitId, steps: &mut Vec<Step>) {
        let installation = self.installation();
        let (mut on, mut other) = (Vec::new(), Vec::new());
        for &id in &self.points_of[id.index()] {
            let point = installation.point(id);
            let kind = installation.kind(point.kind());
            let name = point.id().to_owned();
            if kind.positions.is_empty() {
                continue;
            }
            if let (Variant::Manual(_), false) = (kind.variant(), point.is_operable()) {
                other.push(careful(Action::KeepOff { device: name, why: WhyOff::NotWorkedByHand }, Caution::Armature));
                continue;
            }
            let closing = kind.positions.iter().filter(|position| !position.joins.is_empty()).count();
            let (stands, location) = (point.stands, self.location(id));
            match stands {
                Stands::At(number) if closing == 1 && !kind.positions[usize::from(number)].joins.is_empty() => {
                    let position = kind.positions[usize::from(number)].name.clone();
                    on.push(step(Action::SwitchOn { point: name, position, location }));
                }
                stands => {
                    let operated = match stands {
                        _ if !point.is_operable() => Operated::ByNobody,
                        Stands::At(_) if closing == 1 => Operated::ClosedAsPlanned,
                        _ => Operated::AsPlanned,
                    };
                    let position = match stands {
                        Stands::At(number) => Some(kind.positions[usize::from(number)].name.clone()),
                        Stands::Unknown => None,
                    };
                    let caution = matches!(kind.variant(), Variant::Manual(_)).then_some(Caution::Armature);
                    other.push(Step { action: Action::Stands { point: name, position, location, operated }, caution });
                }
            }
        }
        steps.append(&mut on);
        steps.append(&mut other);
    }

    fn neutral(&self, way: WayId, circuit: CircuitId) -> Option<Step> {
        let installation = self.installation();
        let row = installation.way(way);
        if !row.has_neutral() {
            return None;
        }
        let terminal = neutral_of(way);
        let opens_neutral = matches!(row.device(), WayDevice::Rcbo { switches_neutral: true, .. });
        let bar = (!opens_neutral).then(|| match row.group {
            Some(group) => TerminalRef::Group {
                group: crate::model::GroupId { board: way.board(), group },
                conductor: Conductor::Neutral,
            },
            None => TerminalRef::Bus { board: way.board(), conductor: Conductor::Neutral },
        });
        let shared = self.neutrals.get(&self.network.body(terminal)).into_iter().flatten();
        let shared_with: Vec<String> = shared
            .filter(|&&other| other != circuit)
            .map(|&other| installation.circuit(other).id().to_owned())
            .collect();
        let caution = (!shared_with.is_empty()).then_some(Caution::OtherCircuits);
        let (terminal, bar) = (installation.terminal_name(terminal), bar.map(|bar| installation.terminal_name(bar)));
        Some(Step { action: Action::NeutralAt { terminal, bar, shared_with }, caution })
    }

    /// The sources that a circuit without a way hangs on: their points and terminals.
    fn sources_of(&self, id: CircuitId) -> Vec<(PointId, TerminalRef)> {
        let mut sources = Vec::new();
        for length in &self.lengths_of[id.index()] {
            for terminal in length.cores().iter().flat_map(|core| core.ends()).flatten() {
                for &role in self.network.roles_at(terminal) {
                    if let Role::Source(terminal @ TerminalRef::Point { point, .. }) = role
                        && !sources.contains(&(point, terminal))
                    {
                        sources.push((point, terminal));
                    }
                }
            }
        }
        sources.sort_unstable();
        sources
    }

    fn readings_at_way(&self, id: CircuitId) -> Vec<OwnReading> {
        let readings = planned_readings(self.installation(), id);
        let own = readings.iter().map(|reading| OwnReading {
            between: reading.leads().each_ref().map(|lead| lead.text().to_owned()),
            leads: LeadBodies::of(self.network, reading.leads()),
        });
        own.collect()
    }

    /// At a source of its own: all its terminals joined to earth, and each to each other.
    fn readings_at_source(&self, sources: &[(PointId, TerminalRef)]) -> Vec<OwnReading> {
        if sources.is_empty() {
            return Vec::new();
        }
        let name = |terminal| self.installation().terminal_name(terminal);
        let body = |terminal| self.network.body(terminal);
        let all: Vec<TerminalRef> = sources.iter().map(|&(_, terminal)| terminal).collect();
        let mut readings = vec![OwnReading {
            between: [all.iter().map(|&terminal| name(terminal)).collect::<Vec<_>>().join("+"), "MET".to_owned()],
            leads: LeadBodies([
                all.iter().map(|&terminal| body(terminal)).collect(),
                vec![body(TerminalRef::MainEarth)],
            ]),
        }];
        for (number, &one) in all.iter().enumerate() {
            readings.extend(all[number + 1..].iter().map(|&other| OwnReading {
                between: [name(one), name(other)],
                leads: LeadBodies([vec![body(one)], vec![body(other)]]),
            }));
        }
        readings
    }
}

/// A reading of the circuit: how it is written, and the copper that it touches.
struct OwnReading {
    between: [String; 2],
    leads: LeadBodies,
}

fn neutral_of(way: WayId) -> TerminalRef {
    TerminalRef::Way { way, conductor: Conductor::Neutral }
}
