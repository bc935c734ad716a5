//! The readings that a plan may use on a circuit.

use super::leads::LeadBodies;
use crate::model::{CircuitId, Conductor, Installation, Lead, Line, Reading, ReadingAt, TerminalRef, WayId};
use crate::network::Network;

/// The readings of a plan on one circuit: all live conductors joined to earth, each line to each other line, all lines
/// joined to neutral, at its way; where it has none, at each of its sources. None where it has no source either.
///
/// Source: BS 7671:2018 reg. 643.3.1 (between live conductors, and between live conductors and the protective
/// conductor; line and neutral may be joined for the latter).
pub(crate) fn planned_readings(network: &Network, id: CircuitId) -> Vec<Reading> {
    let leads = match network.installation().circuit(id).way() {
        Some(way) => at_way(network.installation(), way),
        None => at_sources(network.installation(), id),
    };
    let volts = network.test_voltage(id);
    let reading = |leads| Reading { at: ReadingAt::Circuit(id), leads, volts, megohms: None, written: None };
    leads.into_iter().map(reading).collect()
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
        leads.extend(lines[number + 1..].iter().map(|other| [lead(&[one.clone()]), lead(&[other.clone()])]));
    }
    leads.extend(neutral.map(|neutral| [lead(&lines), lead(&[neutral])]));
    leads
}

/// By short names where there is one source.
fn at_sources(installation: &Installation, id: CircuitId) -> Vec<[Lead; 2]> {
    let sources = installation.sources_of(id);
    let mut leads = Vec::new();
    for source in sources {
        let full = |terminal| installation.terminal_name(terminal);
        let short = |name: String| name.rsplit('.').next().unwrap_or_default().to_owned();
        let name = |terminal| if sources.len() == 1 { short(full(terminal)) } else { full(terminal) };
        let live: Vec<(String, TerminalRef)> = source.live.iter().map(|&terminal| (name(terminal), terminal)).collect();
        let earth = if sources.len() == 1 { "E".to_owned() } else { full(source.earth) };
        if !live.is_empty() {
            leads.push([lead(&live), lead(&[(earth, source.earth)])]);
        }
        if let [one, other] = &live[..] {
            leads.push([one, other].map(|terminal| lead(&[terminal.clone()])));
        }
    }
    leads
}

/// A reading that a plan may use.
#[derive(Clone, Debug)]
pub(crate) struct CandidateReading {
    pub(crate) circuit: CircuitId,
    pub(crate) reading: Reading,
    pub(crate) leads: LeadBodies,
}

/// All readings that a plan may use, in the order of circuits.
pub(crate) fn candidates(network: &Network) -> Vec<CandidateReading> {
    let circuits = network.installation().circuits();
    let readings = circuits.flat_map(|(circuit, _)| {
        let readings = planned_readings(network, circuit).into_iter();
        readings.map(move |reading| CandidateReading { circuit, leads: LeadBodies::of(network, &reading), reading })
    });
    readings.collect()
}
