//! Leads joined otherwise, so that fewer readings do what a round adds.
//!
//! Readings at the ways of one board that ask for one test voltage can be taken together: a lead may touch any of their
//! terminals. Copper that is joined perhaps (by electronics, or a switch that nobody knows the position of) must be on
//! one lead or on none, or the reading is void: such copper is one **node**. A pair to test is an edge between two
//! nodes, and the least number of readings is that of the bits which number the colours of a colouring
//! ([`crate::plan::schedule::readings::colouring`]).
//!
//! What a round adds is kept, and each pair is kept to the board and voltage that it was read at; so the least is that
//! for what the round adds, not for the whole plan. Readings that test something for some positions of an unknown
//! switch only, or that put positions under test, are kept as they are.

use std::collections::BTreeMap;

use rustc_hash::{FxHashMap, FxHashSet};

use crate::model::{BoardId, CircuitId, Conductor, Lead, Reading, ReadingAt, TerminalRef, Volts, WayId};
use crate::network::{Body, CountsFor, Network};
use crate::plan::problem::setup::Setup;
use crate::plan::problem::switches::Demands;
use crate::plan::schedule::readings::colouring::fewest_bits;
use crate::plan::schedule::readings::selection::{RoundReading, SelectedReading, Untested, tests_of};
use crate::reading::{Configuration, DeviceState, LeadBodies, Probe};

/// A round's readings, and whether no fewer do what they add, proven.
pub(in crate::plan) struct JoinedReadings {
    pub(in crate::plan) readings: Vec<RoundReading>,
    pub(in crate::plan) is_least: bool,
}

/// The ways that can be read together: those of one board for one test voltage.
struct WaysTogether {
    board: BoardId,
    volts: Option<Volts>,
    counts: CountsFor,
    circuits: Vec<(CircuitId, WayId)>,
    /// The terminals of the ways that leads may touch, in the order of circuits.
    terminals: Vec<(TerminalRef, WayId)>,
}

/// Joins leads in the rounds of a plan.
pub(in crate::plan) struct Joining<'j, 'n> {
    setup: &'j Setup<'n>,
    ways: Vec<WaysTogether>,
    probe: Probe,
    demands: &'j Demands,
}

/// What is joined to what as things stand.
struct JoinedCopper<'c> {
    configuration: &'c Configuration,
    /// For each body, a number that it shares with what is joined to it for sure.
    sure: Vec<u32>,
    /// The same with what is joined perhaps: the node.
    may: Vec<u32>,
}

impl<'j, 'n> Joining<'j, 'n> {
    pub(in crate::plan) fn new(setup: &'j Setup<'n>, demands: &'j Demands) -> Joining<'j, 'n> {
        let installation = setup.network.installation();
        let mut ways: Vec<WaysTogether> = Vec::new();
        // The candidates of a circuit come one after the other.
        for candidate in setup.candidates.chunk_by(|a, b| a.circuit == b.circuit).map(|readings| &readings[0]) {
            // What is read at a source is never joined with others.
            let Some(id) = installation.circuit(candidate.circuit).way() else { continue };
            let (board, volts) = (id.board(), candidate.reading.volts());
            let number = ways.iter().position(|row| row.board == board && row.volts == volts).unwrap_or_else(|| {
                let counts = candidate.counts.clone();
                ways.push(WaysTogether { board, volts, counts, circuits: Vec::new(), terminals: Vec::new() });
                ways.len() - 1
            });
            ways[number].circuits.push((candidate.circuit, id));
            ways[number].terminals.extend(terminals(setup.network, id).into_iter().map(|terminal| (terminal, id)));
        }
        Joining { setup, ways, probe: Probe::new(setup.network), demands }
    }

    /// The readings of one round, joined as far as that makes them fewer; `after` is what they leave untested. Those of
    /// which others count on what they test for some starts stay as they are.
    ///
    /// Time: a colouring for each board and voltage read at, bounded in nodes.
    pub(in crate::plan) fn join(
        &mut self,
        configuration: &Configuration,
        readings: Vec<SelectedReading>,
        after: &Untested,
    ) -> JoinedReadings {
        let network = self.setup.network;
        let copper = JoinedCopper {
            configuration,
            sure: network.pieces(|edge| configuration.conducts(network, edge)),
            may: network.pieces(|edge| configuration.may_conduct(network, edge)),
        };
        let mut is_least = true;
        // For each board and voltage, the readings that can be replaced, and what they complete.
        let mut replaceable: BTreeMap<usize, (Vec<RoundReading>, Vec<u32>)> = BTreeMap::new();
        let mut joined: Vec<(usize, RoundReading)> = Vec::new();
        for SelectedReading { reading, completes, part_of } in readings {
            let Some(at) = self.ways_of(reading.circuit) else {
                is_least = false;
                joined.push((self.ways.len(), reading));
                continue;
            };
            let is_whole =
                |group: &u32| (*group as usize) < network.group_count() && reading.tests.contains(&(*group, None));
            if part_of.is_empty() && completes.iter().all(is_whole) {
                let (readings, groups) = replaceable.entry(at).or_default();
                readings.push(reading);
                groups.extend(completes);
            } else {
                is_least = false;
                joined.push((at, reading));
            }
        }
        for (at, (readings, groups)) in replaceable {
            let edges = self.edges(&groups, &copper);
            is_least &= (0..self.ways.len()).all(|other| other == at || !self.could_part_one(other, &edges, &copper));
            let (fewer, is_fewest) = self.fewest(&copper, at, &groups, &edges, readings.len(), after);
            is_least &= is_fewest;
            joined.extend(fewer.unwrap_or(readings).into_iter().map(|reading| (at, reading)));
        }
        joined.sort_by_key(|(at, reading)| (*at, reading.circuit));
        JoinedReadings { readings: joined.into_iter().map(|(_, reading)| reading).collect(), is_least }
    }

    /// None of a circuit that is read at its source.
    fn ways_of(&self, circuit: CircuitId) -> Option<usize> {
        let is_here = |ways: &WaysTogether| ways.circuits.iter().any(|row| row.0 == circuit);
        self.ways.iter().position(is_here)
    }

    /// The pieces of sure copper that each group lies between.
    fn edges(&self, groups: &[u32], copper: &JoinedCopper<'_>) -> Vec<[u32; 2]> {
        let bodies = |&group: &u32| self.setup.network.group_bodies(group);
        let mut edges: Vec<[u32; 2]> = groups.iter().map(|group| bodies(group).map(|body| copper.sure(body))).collect();
        edges.iter_mut().for_each(|edge| edge.sort_unstable());
        edges.sort_unstable();
        edges.dedup();
        edges
    }

    /// The node of each piece of sure copper that a terminal of these ways is on.
    fn nodes(&self, at: usize, copper: &JoinedCopper<'_>) -> FxHashMap<u32, u32> {
        let bodies = self.ways[at].terminals.iter().map(|row| self.setup.network.body(row.0));
        bodies.map(|body| (copper.sure(body), copper.may(body))).collect()
    }

    /// Whether one of these pairs could be read at another board or voltage as well: then the least there is not known.
    fn could_part_one(&self, at: usize, edges: &[[u32; 2]], copper: &JoinedCopper<'_>) -> bool {
        let nodes = self.nodes(at, copper);
        edges.iter().any(|[a, b]| matches!((nodes.get(a), nodes.get(b)), (Some(x), Some(y)) if x != y))
    }

    /// Fewer readings than `count` that test these groups, where there are any, and whether no fewer do.
    fn fewest(
        &mut self,
        copper: &JoinedCopper<'_>,
        at: usize,
        groups: &[u32],
        edges: &[[u32; 2]],
        count: usize,
        after: &Untested,
    ) -> (Option<Vec<RoundReading>>, bool) {
        let network = self.setup.network;
        let limits = &network.limits().plan;
        let node_of = self.nodes(at, copper);
        let mut nodes: Vec<u32> = Vec::new();
        for &(terminal, _) in &self.ways[at].terminals {
            let body = network.body(terminal);
            let is_met = edges.iter().flatten().any(|&piece| piece == copper.sure(body));
            if is_met && !nodes.contains(&copper.may(body)) {
                nodes.push(copper.may(body));
            }
        }
        if nodes.len() > limits.joined_nodes {
            return (None, false);
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
                _ => return (None, false),
            }
        }
        parted.sort_unstable();
        parted.dedup();
        let colouring = fewest_bits(nodes.len(), &parted, limits.colouring_steps);
        let bits = colouring.bits as usize;
        // Contacts of a switch that nobody knows the position of may be counted as closed which are never closed at
        // once: what is joined then is put on one lead without need.
        let is_certain = network.contacts().iter().all(|contact| {
            matches!(copper.configuration.device(contact.device), DeviceState::At(_))
                || !contact.bodies.iter().any(|&body| nodes.contains(&copper.may(body)))
        });
        let is_least = colouring.is_least && is_certain;
        if bits >= count {
            return (None, is_least && bits == count);
        }
        let earth = copper.may(network.body(TerminalRef::MainEarth));
        let codes = codes(&colouring.colours, nodes.iter().position(|&node| node == earth), bits);
        let mut readings = Vec::with_capacity(bits);
        let mut open: FxHashSet<u32> = groups.iter().copied().collect();
        for sides in without_needless(&codes, &parted, bits) {
            let on = |side: usize| -> Vec<u32> {
                let is_on = |&piece: &u32| number(piece).is_some_and(|node| sides[node] == Some(side));
                let mut pieces: Vec<u32> = edges.iter().flatten().copied().filter(is_on).collect();
                pieces.sort_unstable();
                pieces.dedup();
                pieces
            };
            let (circuit, reading) = self.reading(at, [on(0), on(1)], copper);
            let leads = LeadBodies::of(network, &reading);
            let probed = self.probe.read_for_starts(network, copper.configuration, &leads);
            let tests = tests_of(network, &probed, &self.ways[at].counts, self.demands);
            let open_before = open.len();
            tests.iter().filter(|test| test.1.is_none()).for_each(|test| {
                open.remove(&test.0);
            });
            // What joined leads test and usual ones don't would be called untestable, or planned for again.
            if open.len() == open_before || tests.iter().any(|(group, when)| after.gains(*group, when.as_deref())) {
                return (None, false);
            }
            readings.push(RoundReading { circuit, at: None, reading, tests });
        }
        // Every group is found tested by coverage, or the readings stay as they were.
        if open.is_empty() { (Some(readings), is_least) } else { (None, false) }
    }

    /// The reading with these pieces on its leads: at one way by short names where they are all there.
    fn reading(&self, at: usize, pieces: [Vec<u32>; 2], copper: &JoinedCopper<'_>) -> (CircuitId, Reading) {
        let network = self.setup.network;
        let installation = network.installation();
        let ways = &self.ways[at];
        let piece = |terminal: TerminalRef| copper.sure(network.body(terminal));
        let is_whole = |way: WayId| {
            let has =
                |&wanted: &u32| ways.terminals.iter().any(|&(terminal, of)| of == way && piece(terminal) == wanted);
            pieces.iter().flatten().all(has)
        };
        let one_way = ways.circuits.iter().find(|row| is_whole(row.1));
        let lead = |pieces: &[u32]| {
            let mut left = pieces.to_vec();
            let mut touches = Vec::new();
            for &(terminal, way) in &ways.terminals {
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
            Lead { text: touches.iter().map(name).collect::<Vec<_>>().join("+"), touches }
        };
        let leads = pieces.each_ref().map(|pieces| lead(pieces));
        let is_touched = |way: WayId| {
            let mut touched = leads.iter().flat_map(|lead| lead.touches());
            touched.any(|terminal| matches!(terminal, TerminalRef::Way { way: of, .. } if *of == way))
        };
        let touched = || ways.circuits.iter().find(|row| is_touched(row.1)).expect("the leads touch terminals of ways");
        let circuit = one_way.unwrap_or_else(touched).0;
        let at = ReadingAt::Circuit(circuit);
        (circuit, Reading { at, leads, volts: ways.volts, megohms: None, written: None })
    }
}

impl JoinedCopper<'_> {
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

/// A code for each node, nodes of one colour the same: earth's has the top bit alone, so that the first reading is live
/// to earth where that can be; the others in order.
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
