//! A trainer: how the switches stand, one reading taken at the board; which strappers has it missed? The answer comes
//! from the graph, so that any wiring can be asked about.
//!
//! A number as argument chooses another exercise: `cargo run --example switching_exercise -- 2`.

use std::error::Error;

use lengthwise::model::{PassDraft, PointId, ReadingDraft, StartDraft};
use lengthwise::{Coverage, Input, Need, Network, Plan, TestSetDraft, read_installation};

const STAIR: &str = r#"
format = 1
installation = { name = "Three switches on a stair", nominal_voltage = 230, earthing = "TN-S" }
board = [{ id = "DB1", origin = true, way = [{ id = "1", device = "mcb", rating = 6 }] }]
circuit = [{ id = "C1", way = "DB1/1" }]
point = [
    { id = "S1", kind = "two-way", circuit = "C1", terminals = ["N"] },
    { id = "S2", kind = "intermediate", circuit = "C1", terminals = ["N"] },
    { id = "S3", kind = "two-way", circuit = "C1", terminals = ["N"] },
    { id = "E1", kind = "luminaire", circuit = "C1" },
]

[[length]]
id = "feed"
circuit = "C1"
from = "DB1/1"
to = "S1"
metres = 8
cores = { brown = ["L", "COM"], blue = ["N", "N"], cpc = ["E", "E"] }

[[length]]
id = "flight-1"
circuit = "C1"
from = "S1"
to = "S2"
metres = 6
cores = { brown = ["L1", "A1"], black = ["L2", "A2"], grey = ["N", "N"], cpc = ["E", "E"] }

[[length]]
id = "flight-2"
circuit = "C1"
from = "S2"
to = "S3"
metres = 6
cores = { brown = ["B1", "L1"], black = ["B2", "L2"], grey = ["N", "N"], cpc = ["E", "E"] }

[[length]]
id = "lamp-drop"
circuit = "C1"
from = "S3"
to = "E1"
metres = 2
cores = { brown = ["COM", "L"], blue = ["N", "N"], cpc = ["E", "E"] }
"#;

fn main() -> Result<(), Box<dyn Error>> {
    let exercise: usize = std::env::args().nth(1).map_or(Ok(5), |number| number.parse())?;
    let installation = read_installation(Input::toml(STAIR))?;
    let network = Network::of(installation.clone());

    // The number of the exercise, in mixed radix, is how the switches stand.
    let switches: Vec<(PointId, Vec<&str>)> = installation
        .points()
        .filter(|(_, point)| point.is_operable())
        .map(|(id, point)| (id, installation.kind(point.kind()).positions().collect()))
        .collect();
    let mut rest = exercise;
    let mut start = Vec::new();
    for (id, positions) in &switches {
        start.push((installation.point(*id).id(), positions[rest % positions.len()]));
        rest /= positions.len();
    }
    let stands: Vec<String> = start.iter().map(|(switch, position)| format!("{switch} in {position}")).collect();
    println!("Exercise {exercise}. The switches stand: {}.", stands.join(", "));
    println!("One reading is taken at the board: line and neutral joined, to earth. Which cores has it missed?");

    let reading = ReadingDraft {
        circuit: Some("C1".to_owned()),
        between: ["L+N".to_owned(), "E".to_owned()],
        ..ReadingDraft::default()
    };
    let draft = TestSetDraft {
        start: start
            .iter()
            .map(|&(switch, position)| (switch.to_owned(), StartDraft(vec![position.to_owned()])))
            .collect(),
        passes: vec![PassDraft { readings: vec![reading], ..PassDraft::default() }],
        ..TestSetDraft::default()
    };
    let tests = draft.build(&installation)?;
    let coverage = Coverage::of(&network, &tests, Need::Earth)?;
    let missed: Vec<String> = coverage.missed().map(|pair| format!("{} in {}", pair.cores[0], pair.length)).collect();
    println!("Answer: {}.", missed.join("; "));

    let plan = Plan::of(&network, Some(&tests), Need::Earth)?;
    let operations: Vec<String> = plan
        .rounds
        .iter()
        .flat_map(|round| &round.operations)
        .map(|operation| format!("{} to {}", operation.device, operation.to.name()))
        .collect();
    println!("To reach them, operate {}, and read again.", operations.join(", then "));
    Ok(())
}
