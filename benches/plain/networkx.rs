//! The plain graph put to networkx, by `readings.py`.

use std::process::Command;

use serde::{Deserialize, Serialize};

use super::{PlainGraph, PlainTests, Tested};

/// What networkx says, and how long it took for that, in seconds.
#[derive(Deserialize)]
pub struct Answer {
    pub version: String,
    /// From lists in memory to graphs.
    pub building: f64,
    /// From graphs to pairs tested.
    pub answering: f64,
    pub tested: Vec<Tested>,
}

/// Asks once, in a process of its own.
pub fn ask(graph: &PlainGraph, tests: &PlainTests) -> Answer {
    #[derive(Serialize)]
    struct Case<'c> {
        graph: &'c PlainGraph,
        tests: &'c PlainTests,
    }
    let path = std::env::temp_dir().join(format!("lengthwise-readings-{}.json", std::process::id()));
    let case = serde_json::to_vec(&Case { graph, tests }).expect("a graph is data");
    std::fs::write(&path, case).expect("the temporary directory can be written to");
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/benches/plain/readings.py");
    let output = Command::new("python3").arg(script).arg(&path).output();
    std::fs::remove_file(&path).expect("the temporary file was written");
    let output = match output {
        Ok(output) if output.status.success() => output,
        Ok(output) => panic!(
            "NOT COMPARED: python3 with networkx is needed to compare with networkx:\n{}",
            String::from_utf8_lossy(&output.stderr)
        ),
        Err(error) => panic!("NOT COMPARED: python3 with networkx is needed to compare with networkx: {error}"),
    };
    serde_json::from_slice(&output.stdout).expect("the script writes JSON")
}
