//! Readings that count for a circuit, and are put down under something else.

use rustc_hash::FxHashMap;

use super::proven::{Needed, Proven};
use crate::model::{CircuitId, ReadingAt, TerminalRef, TestSet};
use crate::network::{Column, Network, is_earth};

/// For each reading, in the order of the file, the circuits that it is not put down under and has a lead on: on the end
/// of a live core, or on a live terminal of the way. Ascending.
///
/// Time linear in the cores of the installation and in what leads touch.
pub(super) fn circuits_touched(network: &Network, tests: &TestSet) -> Vec<Vec<CircuitId>> {
    let installation = network.installation();
    let readings = || tests.passes().iter().flat_map(|pass| pass.readings());
    let touched = || readings().flat_map(|reading| reading.leads()).flat_map(|lead| lead.touches());
    let mut circuits_at: FxHashMap<TerminalRef, Vec<CircuitId>> =
        touched().filter(|&&terminal| !is_earth(network, terminal)).map(|&terminal| (terminal, Vec::new())).collect();
    for (_, length) in installation.lengths() {
        for terminal in length.cores().iter().flat_map(|core| core.ends()).flatten() {
            if let Some(circuits) = circuits_at.get_mut(&terminal) {
                circuits.push(length.circuit());
            }
        }
    }
    let of_way = installation.circuits_of_ways();
    for (terminal, circuits) in &mut circuits_at {
        if let TerminalRef::Way { way, .. } = terminal {
            circuits.extend(of_way.get(way));
        }
    }
    let of_reading = readings().map(|reading| {
        let touched = reading.leads().iter().flat_map(|lead| lead.touches());
        let mut circuits: Vec<CircuitId> =
            touched.filter_map(|terminal| circuits_at.get(terminal)).flatten().copied().collect();
        circuits.sort_unstable();
        circuits.dedup();
        circuits.retain(|&circuit| reading.at() != ReadingAt::Circuit(circuit));
        circuits
    });
    of_reading.collect()
}

/// The readings that make a circuit complete with no lead on it: where good readings test all its pairs of a column,
/// but those of its `own` (in ascending order) don't, every reading that tests a pair that these leave. Ascending.
pub(super) fn tests_the_rest(proven: &Proven<'_>, number: usize, needed: &Needed, own: &[usize]) -> Vec<usize> {
    let mut found: Vec<usize> = Vec::new();
    for column in Column::BOTH.into_iter().filter(|&column| !needed.is_missed[column as usize]) {
        for &pair in &needed.pairs[column as usize] {
            if !proven.by_demand[number].is_tested_by(pair, own) {
                found.extend(proven.tested.testers(pair).map(|(reading, _)| reading));
            }
        }
    }
    found.sort_unstable();
    found.dedup();
    found.retain(|reading| own.binary_search(reading).is_err());
    found
}
