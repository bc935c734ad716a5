//! A second opinion: FORMAT.md part 3 worked out the slow way, from the JSON form of the files.
//!
//! Nothing in here uses the `lengthwise` crate, so that a mistake in the engine cannot hide in its own check. Every
//! combination of the unknown positions is tried in turn, every reading is a union-find of its own, and a plan is found by
//! trying sets of settings in all their orders. It is written to be read beside FORMAT.md, whose words it uses, and
//! takes for granted that its input is valid.

use std::collections::BTreeMap;

use serde_json::{Value, json};

mod conduct;
mod cover;
mod extras;
mod kinds;
mod known;
mod leakage;
mod one_way;
mod plan;
mod proof;
mod readings;
mod wiring;
mod works;

pub use cover::{adds_for_some_start, cover, cover_by_iec};
pub use extras::{unsound_in_extras, wrong_in_extras, wrong_in_remedies};
pub use leakage::{Leak, Leaking};
pub use plan::{plan, steps_on};
pub use proof::Ground;
pub use readings::wrong_in_readings;
pub use works::{works, wrong_in_words};

/// For each core its length, its name, and what it is for; and the spare ones.
pub fn core_roles(installation: &Value) -> (Vec<Value>, Vec<[String; 2]>) {
    let wiring = wiring::Wiring::of(installation);
    let roles = wiring.roles();
    let cores = wiring.lengths.iter().flat_map(|length| length.cores.iter().map(move |core| (&length.id, core)));
    let rows = cores.map(|(length, core)| json!([length, core.name, roles.of(core.node)])).collect();
    (rows, wiring.without_role(false))
}

/// By length the test voltages that will do for its circuit.
pub fn asked_of_lengths(installation: &Value) -> BTreeMap<String, Vec<f64>> {
    wiring::Wiring::of(installation).asked_of_lengths()
}

/// The circuits that no way feeds, each with its sources.
pub fn sources(installation: &Value) -> Vec<(String, Vec<String>)> {
    let wiring = wiring::Wiring::of(installation);
    let circuits = wiring.circuits.iter().filter(|(_, way)| way.is_none());
    circuits.map(|(circuit, _)| (circuit.clone(), wiring.sources_of(circuit))).collect()
}

/// How many combinations of the unknown positions a pair of files gives rise to; both answers take that many times as long.
pub fn combinations(installation: &Value, test_set: &Value) -> usize {
    cover::combinations(&wiring::Wiring::of(installation), test_set)
}
