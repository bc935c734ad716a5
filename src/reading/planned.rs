//! The readings that a plan may use on a circuit.

use super::leads::LeadBodies;
use crate::model::{CircuitId, Conductor, Lead, Reading, ReadingAt, TerminalRef};
use crate::network::Network;

/// The readings of a plan on one circuit: all live conductors joined to earth, each line to each other line, all lines
/// joined to neutral. None where the circuit has no way.
///
/// Source: BS 7671:2018 reg. 643.3.1 (between live conductors, and between live conductors and the protective
/// conductor; line and neutral may be joined for the latter).
pub(crate) fn planned_readings(network: &Network, id: CircuitId) -> Vec<Reading> {
    let installation = network.installation();
    let Some(way_id) = installation.circuit(id).way() else { return Vec::new() };
    let way = installation.way(way_id);
    let volts = network.test_voltage(id);
    let at = |conductor| TerminalRef::Way { way: way_id, conductor };
    // On a way with one pole `L` is that pole.
    let line_name = |line: crate::model::Line| if way.poles().len() == 1 { "L" } else { line.name() };
    let lines: Vec<(&str, TerminalRef)> =
        way.poles().iter().map(|&line| (line_name(line), at(Conductor::Line(line)))).collect();
    let neutral = way.has_neutral().then(|| ("N", at(Conductor::Neutral)));
    let lead = |touched: &[(&str, TerminalRef)]| Lead {
        text: touched.iter().map(|entry| entry.0).collect::<Vec<_>>().join("+"),
        touches: touched.iter().map(|entry| entry.1).collect(),
    };
    let reading = |leads: [Lead; 2]| Reading { at: ReadingAt::Circuit(id), leads, volts, megohms: None, written: None };
    let live: Vec<_> = lines.iter().copied().chain(neutral).collect();
    let mut readings = vec![reading([lead(&live), lead(&[("E", at(Conductor::Earth))])])];
    for (number, &one) in lines.iter().enumerate() {
        for &other in &lines[number + 1..] {
            readings.push(reading([lead(&[one]), lead(&[other])]));
        }
    }
    if let Some(neutral) = neutral {
        readings.push(reading([lead(&lines), lead(&[neutral])]));
    }
    readings
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
