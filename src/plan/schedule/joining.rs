//! Leads joined otherwise, so that fewer readings do what a round adds.
//!
//! Readings at the ways of one board that ask for one test voltage can be taken together: a lead may touch any of their
//! terminals. Copper that is joined perhaps (by electronics, or a switch that nobody knows the position of) must be on one
//! lead or on none, or the reading is void: such copper is one **node**. A pair to test is an edge between two nodes, and
//! the least number of readings is that of the bits which tell the colours of a colouring apart ([`crate::plan::schedule::colouring`]).
//!
//! What a round adds is kept, and each pair is kept to the board and voltage that it was read at; so the least is that
//! for what the round adds, not for the whole plan. Readings that test something for some positions of an unknown switch
//! only, or that put positions under test, are kept as they are.

use std::collections::BTreeMap;

use rustc_hash::FxHashMap;

use crate::model::{BoardId, CircuitId, Conductor, Lead, Reading, ReadingAt, TerminalRef, Volts, WayId};
use crate::network::{Body, Network, PairId};
use crate::plan::problem::setup::Setup;
use crate::plan::schedule::chosen::ChosenReading;
use crate::plan::schedule::colouring::fewest_bits;
use crate::reading::{Configuration, DeviceState, FreeDevices, LeadBodies, Probe};

/// More nodes than this and readings are left as they are.
const MOST_NODES: usize = 2_000;

/// A round's readings, and whether no fewer do what they add, proven.
pub(in crate::plan) struct Joined {
    pub(in crate::plan) readings: Vec<ChosenReading>,
    pub(in crate::plan) is_least: bool,
}

/// The ways that can be read together: those of one board for one test voltage.
struct Stand {
    board: BoardId,
    volts: Volts,
    circuits: Vec<(CircuitId, WayId)>,
    /// The terminals of the ways, in the order of circuits.
    terminals: Vec<(TerminalRef, WayId)>,
}

/// Joins leads in the rounds of a plan.
pub(in crate::plan) struct Joining<'j, 'n> {
    setup: &'j Setup<'n>,
    stands: Vec<Stand>,
    probe: Probe,
}

/// What is joined to what as things stand.
struct Copper {
    /// For each body, a number that it shares with what is joined to it for sure.
    sure: Vec<u32>,
    /// The same with what is joined perhaps.
    may: Vec<u32>,
}

impl<'j, 'n> Joining<'j, 'n> {
    pub(in crate::plan) fn new(setup: &'j Setup<'n>) -> Joining<'j, 'n> {
        let installation = setup.network.installation();
        let mut stands: Vec<Stand> = Vec::new();
        let mut seen = None;
        for candidate in &setup.candidates {
            // The candidates of a circuit come one after the other.
            if seen.replace(candidate.circuit) == Some(candidate.circuit) {
                continue;
            }
            let id = installation.circuit(candidate.circuit).way().expect("a planned reading is taken at a way");
            let is_here = |stand: &Stand| stand.board == id.board() && stand.volts == candidate.volts;
            let number = stands.iter().position(is_here).unwrap_or_else(|| {
                let (board, volts) = (id.board(), candidate.volts);
                stands.push(Stand { board, volts, circuits: Vec::new(), terminals: Vec::new() });
                stands.len() - 1
            });
            stands[number].circuits.push((candidate.circuit, id));
            stands[number].terminals.extend(terminals(setup.network, id).into_iter().map(|terminal| (terminal, id)));
        }
        Joining { setup, stands, probe: Probe::new(setup.network) }
    }

    /// The readings of one round, joined as far as that makes them fewer.
    ///
    /// Time: a colouring for each board and voltage read at, bounded in nodes.
    pub(in crate::plan) fn join(&mut self, standing: &Configuration, readings: Vec<ChosenReading>) -> Joined {
        let network = self.setup.network;
        let copper = Copper {
            sure: network.pieces(|edge| standing.conducts(network, edge)),
            may: network.pieces(|edge| standing.may_conduct(network, edge)),
        };
        let mut is_least = true;
        // The readings of each stand that can be replaced, and those that can't.
        let mut of_stand: BTreeMap<usize, Vec<ChosenReading>> = BTreeMap::new();
        let mut joined: Vec<(usize, ChosenReading)> = Vec::new();
        for planned in readings {
            let at = self.stand_of(planned.circuit);
            let leads = LeadBodies::of(network, planned.reading.leads());
            let tests = self.probe.read(network, standing, FreeDevices::Unknown, &leads).tests();
            let tests: FxHashMap<u32, bool> = tests.into_iter().map(|(group, when)| (group, when.is_none())).collect();
            let is_whole = |&pair: &PairId| tests.get(&network.pair_group(pair)) == Some(&true);
            let is_plain =
                !planned.adds.is_empty() && planned.positions.is_empty() && planned.adds.iter().all(is_whole);
            if is_plain {
                of_stand.entry(at).or_default().push(planned);
            } else {
                is_least = false;
                joined.push((at, planned));
            }
        }
        for (at, readings) in of_stand {
            let adds: Vec<PairId> = readings.iter().flat_map(|planned| &planned.adds).copied().collect();
            let edges = self.edges(&adds, &copper);
            is_least &= (0..self.stands.len()).all(|other| other == at || !self.could_part_one(other, &edges, &copper));
            let fewer = self.fewest(standing, &copper, at, &adds, &edges, readings.len());
            is_least &= fewer.is_least;
            joined.extend(fewer.readings.unwrap_or(readings).into_iter().map(|planned| (at, planned)));
        }
        joined.sort_by_key(|(at, planned)| (*at, planned.circuit));
        Joined { readings: joined.into_iter().map(|(_, planned)| planned).collect(), is_least }
    }

    fn stand_of(&self, circuit: CircuitId) -> usize {
        let is_here = |stand: &Stand| stand.circuits.iter().any(|row| row.0 == circuit);
        self.stands.iter().position(is_here).expect("a plan reads at circuits of candidates")
    }

    /// The pieces of sure copper that each pair lies between.
    fn edges(&self, adds: &[PairId], copper: &Copper) -> Vec<[u32; 2]> {
        let network = self.setup.network;
        let bodies = |pair: &PairId| network.group_bodies(network.pair_group(*pair));
        let mut edges: Vec<[u32; 2]> = adds.iter().map(|pair| bodies(pair).map(|body| copper.sure(body))).collect();
        edges.iter_mut().for_each(|edge| edge.sort_unstable());
        edges.sort_unstable();
        edges.dedup();
        edges
    }

    /// Whether one of these pairs could be read at another board or voltage as well: then the least there is not known.
    fn could_part_one(&self, at: usize, edges: &[[u32; 2]], copper: &Copper) -> bool {
        let network = self.setup.network;
        let pieces: FxHashMap<u32, u32> = self.stands[at]
            .terminals
            .iter()
            .map(|row| network.body(row.0))
            .map(|body| (copper.sure(body), copper.may(body)))
            .collect();
        edges.iter().any(|[a, b]| matches!((pieces.get(a), pieces.get(b)), (Some(x), Some(y)) if x != y))
    }

    /// Fewer readings than `count` for these pairs, where there are any.
    fn fewest(
        &mut self,
        standing: &Configuration,
        copper: &Copper,
        at: usize,
        adds: &[PairId],
        edges: &[[u32; 2]],
        count: usize,
    ) -> Fewer {
        let network = self.setup.network;
        let none = |is_least| Fewer { readings: None, is_least };
        // The node of each piece of sure copper that a way's terminal is on.
        let mut node_of: BTreeMap<u32, u32> = BTreeMap::new();
        for &(terminal, _) in &self.stands[at].terminals {
            let body = network.body(terminal);
            node_of.insert(copper.sure(body), copper.may(body));
        }
        let mut nodes: Vec<u32> = Vec::new();
        for &(terminal, _) in &self.stands[at].terminals {
            let body = network.body(terminal);
            let is_met = edges.iter().flatten().any(|&piece| piece == copper.sure(body));
            if is_met && !nodes.contains(&copper.may(body)) {
                nodes.push(copper.may(body));
            }
        }
        if nodes.len() > MOST_NODES {
            return none(false);
        }
        let number = |piece: u32| {
            let node = node_of.get(&piece)?;
            nodes.iter().position(|other| other == node)
        };
        let mut parted: Vec<[usize; 2]> = Vec::new();
        for &[a, b] in edges {
            match (number(a), number(b)) {
                (Some(x), Some(y)) if x != y => parted.push([x.min(y), x.max(y)]),
                // Not to be read so: it was, so this can't be; then leave things as they are.
                _ => return none(false),
            }
        }
        parted.sort_unstable();
        parted.dedup();
        let colouring = fewest_bits(nodes.len(), &parted);
        let bits = colouring.bits as usize;
        // Contacts of a switch that nobody knows the position of may be counted as closed which are never closed at
        // once: what is joined then is put on one lead without need.
        let is_certain = network.contacts().iter().all(|contact| {
            matches!(standing.device(contact.device), DeviceState::At(_))
                || !contact.bodies.iter().any(|&body| nodes.contains(&copper.may(body)))
        });
        let is_least = colouring.is_least && is_certain;
        if bits >= count {
            return none(is_least && bits == count);
        }
        let earth = copper.may(network.body(TerminalRef::MainEarth));
        let codes = codes(&colouring.colours, nodes.iter().position(|&node| node == earth), bits);
        let leads = without_needless(&codes, &parted, bits);
        let wanted: Vec<u32> = edges.iter().flatten().copied().collect();
        let mut readings = Vec::with_capacity(bits);
        let mut open: Vec<PairId> = adds.to_vec();
        for sides in &leads {
            let on = |side: usize| -> Vec<u32> {
                let mut pieces: Vec<u32> = wanted
                    .iter()
                    .copied()
                    .filter(|&piece| number(piece).is_some_and(|node| sides[node] == Some(side)))
                    .collect();
                pieces.sort_unstable();
                pieces.dedup();
                pieces
            };
            let (circuit, reading) = self.reading(at, [on(0), on(1)], copper);
            let bodies = LeadBodies::of(network, reading.leads());
            let tests = self.probe.read(network, standing, FreeDevices::Unknown, &bodies).tests();
            let done: Vec<u32> = tests.into_iter().filter(|test| test.1.is_none()).map(|test| test.0).collect();
            let is_done = |pair: &PairId| done.contains(&network.pair_group(*pair));
            let mut now: Vec<PairId> = open.iter().copied().filter(is_done).collect();
            now.sort_unstable();
            open.retain(|pair| !is_done(pair));
            let volts = self.stands[at].volts;
            readings.push(ChosenReading { circuit, reading, volts, adds: now, positions: Vec::new() });
        }
        // Every pair is found tested by coverage, or the readings stay as they were.
        if !open.is_empty() || readings.iter().any(|planned| planned.adds.is_empty()) {
            return none(false);
        }
        Fewer { readings: Some(readings), is_least }
    }

    /// The reading with these pieces on its leads: at one way by short names where they are all there.
    fn reading(&self, at: usize, pieces: [Vec<u32>; 2], copper: &Copper) -> (CircuitId, Reading) {
        let network = self.setup.network;
        let installation = network.installation();
        let stand = &self.stands[at];
        let piece = |terminal: TerminalRef| copper.sure(network.body(terminal));
        let is_whole = |way: WayId| {
            pieces
                .iter()
                .flatten()
                .all(|&wanted| stand.terminals.iter().any(|&(terminal, of)| of == way && piece(terminal) == wanted))
        };
        let one_way = stand.circuits.iter().find(|row| is_whole(row.1));
        let lead = |pieces: &[u32]| {
            let mut left = pieces.to_vec();
            let mut touches = Vec::new();
            for &(terminal, way) in &stand.terminals {
                let is_here = one_way.is_none_or(|row| row.1 == way);
                if let Some(place) = left.iter().position(|&wanted| is_here && wanted == piece(terminal)) {
                    left.swap_remove(place);
                    touches.push(terminal);
                }
            }
            let name = |&terminal: &TerminalRef| match one_way {
                Some(_) => short_name(network, terminal),
                None => installation.terminal_name(terminal),
            };
            let text = touches.iter().map(name).collect::<Vec<_>>().join("+");
            Lead { text, touches }
        };
        let leads = [lead(&pieces[0]), lead(&pieces[1])];
        let circuit = one_way.map(|row| row.0).unwrap_or_else(|| {
            let touched = |way: WayId| {
                leads
                    .iter()
                    .flat_map(|lead| lead.touches())
                    .any(|terminal| matches!(terminal, TerminalRef::Way { way: of, .. } if *of == way))
            };
            let found = stand.circuits.iter().find(|row| touched(row.1));
            found.expect("the leads touch terminals of ways").0
        });
        let at = ReadingAt::Circuit(circuit);
        (circuit, Reading { at, leads, volts: Some(stand.volts), megohms: None, written: None })
    }
}

struct Fewer {
    /// None: as they were.
    readings: Option<Vec<ChosenReading>>,
    is_least: bool,
}

impl Copper {
    fn sure(&self, body: Body) -> u32 {
        self.sure[body as usize]
    }

    fn may(&self, body: Body) -> u32 {
        self.may[body as usize]
    }
}

/// The terminals of a way that leads may touch: poles, neutral, earth.
fn terminals(network: &Network, id: WayId) -> Vec<TerminalRef> {
    let way = network.installation().way(id);
    let lines = way.poles().iter().map(|&line| Conductor::Line(line));
    let conductors = lines.chain(way.has_neutral().then_some(Conductor::Neutral)).chain([Conductor::Earth]);
    conductors.map(|conductor| TerminalRef::Way { way: id, conductor }).collect()
}

/// The name of a way's terminal in a reading at that way.
fn short_name(network: &Network, terminal: TerminalRef) -> String {
    let TerminalRef::Way { way, conductor } = terminal else { unreachable!("leads touch terminals of ways") };
    match conductor {
        // On a way with one pole `L` is that pole.
        Conductor::Line(_) if network.installation().way(way).poles().len() == 1 => "L".to_owned(),
        Conductor::Line(line) => line.name().to_owned(),
        Conductor::Neutral => "N".to_owned(),
        Conductor::Earth => "E".to_owned(),
    }
}

/// A code for each node, nodes of one colour the same: earth's has the top bit alone, so that the first reading is live to
/// earth where that can be; the others in order.
fn codes(colours: &[usize], earth: Option<usize>, bits: usize) -> Vec<usize> {
    let top = 1usize << (bits - 1);
    let mut code_of: BTreeMap<usize, usize> = BTreeMap::new();
    if let Some(earth) = earth {
        code_of.insert(colours[earth], top);
    }
    let mut free = (0..1usize << bits).filter(|&code| earth.is_none() || code != top);
    let mut code = |colour: usize| {
        *code_of.entry(colour).or_insert_with(|| free.next().expect("there are as many codes as colours"))
    };
    colours.iter().map(|&colour| code(colour)).collect()
}

/// For each reading, the side of each node; none where the others part it from all that it must be parted from.
fn without_needless(codes: &[usize], edges: &[[usize; 2]], bits: usize) -> Vec<Vec<Option<usize>>> {
    let mut leads: Vec<Vec<Option<usize>>> =
        (0..bits).rev().map(|bit| codes.iter().map(|code| Some(code >> bit & 1)).collect()).collect();
    let is_parted = |leads: &[Vec<Option<usize>>], &[a, b]: &[usize; 2]| {
        leads.iter().any(|sides| sides[a].is_some() && sides[b].is_some() && sides[a] != sides[b])
    };
    for reading in (0..bits).rev() {
        for node in 0..codes.len() {
            let side = leads[reading][node].take();
            let mut its = edges.iter().filter(|edge| edge.contains(&node));
            if !its.all(|edge| is_parted(&leads, edge)) {
                leads[reading][node] = side;
            }
        }
    }
    leads
}
