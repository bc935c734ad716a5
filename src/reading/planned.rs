//! The readings that a plan may use on a circuit.

use super::leads::LeadBodies;
use crate::model::{CircuitId, Conductor, Installation, Lead, Line, PointId, Reading, ReadingAt, TerminalRef, WayId};
use crate::network::{CountsFor, Network};

/// A reading that a plan may use.
#[derive(Clone, Debug)]
pub(crate) struct CandidateReading {
    pub(crate) circuit: CircuitId,
    /// Of a circuit without a way: the source at which it is taken.
    pub(crate) at: Option<PointId>,
    pub(crate) reading: Reading,
    pub(crate) leads: LeadBodies,
    /// For which pairs it counts.
    pub(crate) counts: CountsFor,
}

/// All readings that a plan may use, in the order of circuits.
pub(crate) fn candidates(network: &Network) -> Vec<CandidateReading> {
    network.installation().circuits().flat_map(|(circuit, _)| candidates_of(network, circuit)).collect()
}

/// The readings of a plan on one circuit: all live conductors joined to earth, each line to each other line, all lines
/// joined to neutral, at its way; where it has none, at each of its sources. None where it has no source either.
///
/// Source: BS 7671:2018 reg. 643.3.1 (between live conductors, and between live conductors and the protective
/// conductor; line and neutral may be joined for the latter).
pub(crate) fn candidates_of(network: &Network, circuit: CircuitId) -> Vec<CandidateReading> {
    let leads = match network.installation().circuit(circuit).way() {
        Some(way) => at_way(network.installation(), way).into_iter().map(|leads| (None, leads)).collect(),
        None => at_sources(network.installation(), circuit),
    };
    let volts = network.test_voltage(circuit);
    let counts = network.counts_at(volts);
    let candidate = |(at, leads)| {
        let reading = Reading { at: ReadingAt::Circuit(circuit), leads, volts, megohms: None, written: None };
        CandidateReading { circuit, at, leads: LeadBodies::of(network, &reading), reading, counts: counts.clone() }
    };
    leads.into_iter().map(candidate).collect()
}

fn lead(touched: &[(String, TerminalRef)]) -> Lead {
    Lead {
        text: touched.iter().map(|entry| entry.0.as_str()).collect::<Vec<_>>().join("+"),
        touches: touched.iter().map(|entry| entry.1).collect(),
    }
}

fn at_way(installation: &Installation, id: WayId) -> Vec<[Lead; 2]> {
    let way = installation.way(id);
    let at = |conductor| TerminalRef::Way { way: id, conductor };
    // On a way with one pole `L` is that pole.
    let line_name = |line: Line| if way.poles().len() == 1 { "L" } else { line.name() };
    let lines = way.poles().iter().map(|&line| (line_name(line).to_owned(), at(Conductor::Line(line))));
    let lines: Vec<(String, TerminalRef)> = lines.collect();
    let neutral = way.has_neutral().then(|| ("N".to_owned(), at(Conductor::Neutral)));
    let live: Vec<_> = lines.iter().cloned().chain(neutral.clone()).collect();
    let mut leads = vec![[lead(&live), lead(&[("E".to_owned(), at(Conductor::Earth))])]];
    for (number, one) in lines.iter().enumerate() {
        leads.extend(lines[number + 1..].iter().map(|other| [one, other].map(|line| lead(std::slice::from_ref(line)))));
    }
    leads.extend(neutral.map(|neutral| [lead(&lines), lead(&[neutral])]));
    leads
}

/// By short names where there is one source.
fn at_sources(installation: &Installation, circuit: CircuitId) -> Vec<(Option<PointId>, [Lead; 2])> {
    let sources = installation.sources_of(circuit);
    let mut leads = Vec::new();
    for source in sources {
        let name = |terminal| source.name(installation, terminal, sources.len());
        let live: Vec<(String, TerminalRef)> = source.live.iter().map(|&terminal| (name(terminal), terminal)).collect();
        if !live.is_empty() {
            leads.push((Some(source.point), [lead(&live), lead(&[(name(source.earth), source.earth)])]));
        }
        if let [one, other] = &live[..] {
            leads.push((Some(source.point), [one, other].map(|terminal| lead(std::slice::from_ref(terminal)))));
        }
    }
    leads
}
