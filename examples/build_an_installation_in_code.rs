//! My program has the installation already. How does it ask without writing a file, and what is wrong if it is refused?

use std::error::Error;

use lengthwise::model::{BoardDraft, CircuitDraft, DeviceDraft, LengthDraft, Metres, PointDraft, Volts, WayDraft};
use lengthwise::{InstallationDraft, Need, Network, Plan};

fn point(id: &str, kind: &str) -> PointDraft {
    PointDraft { id: id.to_owned(), kind: kind.to_owned(), circuit: Some("C1".to_owned()), ..PointDraft::default() }
}

fn length(id: &str, [from, to]: [&str; 2], metres: f64, cores: &[(&str, [&str; 2])]) -> LengthDraft {
    LengthDraft {
        id: id.to_owned(),
        circuit: Some("C1".to_owned()),
        from: from.to_owned(),
        to: to.to_owned(),
        cable: None,
        metres: Metres(metres),
        cores: cores.iter().map(|&(name, ends)| (name.to_owned(), ends.map(str::to_owned))).collect(),
    }
}

/// A heater behind a switched fused connection, which is found switched off.
fn draft() -> InstallationDraft {
    let mut draft = InstallationDraft::new("Net store", Volts(230.0));
    draft.boards.push(BoardDraft {
        id: "DB1".to_owned(),
        origin: Some(true),
        ways: vec![WayDraft { rating: Some(16.0), ..WayDraft::new("1", DeviceDraft::Mcb) }],
        ..BoardDraft::default()
    });
    draft.circuits.push(CircuitDraft {
        id: "C1".to_owned(),
        name: Some("Heater".to_owned()),
        way: Some("DB1/1".to_owned()),
        ..CircuitDraft::default()
    });
    draft.points.push(PointDraft { stands: Some("off".to_owned()), ..point("X1", "fused-connection") });
    draft.points.push(point("H1", "appliance"));
    draft.lengths.push(length(
        "W1",
        ["DB1/1", "X1"],
        14.0,
        &[("brown", ["L", "Lin"]), ("blue", ["N", "Nin"]), ("cpc", ["E", "E"])],
    ));
    draft.lengths.push(length(
        "W2",
        ["X1", "H1"],
        1.5,
        &[("brown", ["Lout", "L"]), ("blue", ["Nout", "N"]), ("cpc", ["E", "E"])],
    ));
    draft
}

fn main() -> Result<(), Box<dyn Error>> {
    let installation = draft().build()?;
    let network = Network::of(installation);
    let plan = Plan::of(&network, None, Need::Standard)?;
    for (number, round) in plan.rounds.iter().enumerate() {
        println!("Round {}", number + 1);
        for operation in &round.operations {
            println!("  {} to {}", operation.device, operation.to.name());
        }
        for planned in &round.readings {
            let [one, other] = &planned.between;
            println!("  read {one} to {other}; pairs of cores that it adds: {}", planned.adds.len());
        }
    }

    // A draft that is wrong is refused with every error, each with its place in the draft and what to do about it.
    let mut wrong = draft();
    wrong.points[1].kind = "aplliance".to_owned();
    wrong.lengths[0].metres = Metres(-14.0);
    for error in wrong.build().expect_err("two things are wrong") {
        println!("{}: {error}: {}", error.path, error.mend());
    }

    // The same installation as a file: it can be kept, sent on, and read by the command.
    let file = serde_json::to_string(&draft())?;
    println!("As a JSON file it has {} bytes.", file.len());
    Ok(())
}
