//! Before I press the button: would this reading test anything, or are its two leads joined, and by what?

use std::error::Error;

use lengthwise::model::{PassDraft, ReadingDraft};
use lengthwise::{Coverage, Input, Installation, Need, Network, TestSetDraft, Void, read_installation};

/// What a reading between these leads at this circuit's way would be, with these fitted that are usually out.
fn judge(network: &Network, circuit: &str, between: [&str; 2], fitted: &[&str]) -> Result<String, Box<dyn Error>> {
    let installation: &Installation = network.installation();
    let reading = ReadingDraft {
        circuit: Some(circuit.to_owned()),
        between: between.map(str::to_owned),
        ..ReadingDraft::default()
    };
    let refit = fitted.iter().map(|&name| name.to_owned()).collect();
    let draft = TestSetDraft {
        passes: vec![PassDraft { refit, readings: vec![reading], ..PassDraft::default() }],
        ..TestSetDraft::default()
    };
    // As text all errors, a line each; a form would show each at its field.
    let tests = draft.build(installation)?;
    let coverage = Coverage::of(network, &tests, Need::Standard)?;
    let outcome = &coverage.readings[0];
    let mut path: Vec<&str> = outcome.path.iter().map(|link| link.through.as_str()).collect();
    path.dedup();
    Ok(match outcome.void {
        None => {
            let tested = coverage.pairs.iter().filter(|pair| pair.tested).count();
            format!("sound; it tests {tested} pairs of cores")
        }
        Some(Void::Bridged) => format!("void: its leads are joined through {}", path.join(", ")),
        Some(Void::Doubtful) => format!("void, and may do damage: electronics in its way, through {}", path.join(", ")),
        Some(_) => "void: it can't be ruled out that its leads are joined".to_owned(),
    })
}

fn main() -> Result<(), Box<dyn Error>> {
    let installation = read_installation(Input::toml(include_bytes!("../demo/skerry-light.toml")))?;
    let network = Network::of(installation.clone());
    println!("C2, line to neutral: {}", judge(&network, "C2", ["L", "N"], &[])?);
    println!("C2, line to neutral, a lamp left in: {}", judge(&network, "C2", ["L", "N"], &["E201"])?);
    println!("C2, joined, to earth, the lamp left in: {}", judge(&network, "C2", ["L+N", "E"], &["E201"])?);
    println!("C10, line to neutral: {}", judge(&network, "C10", ["L", "N"], &[])?);
    println!("C4, line to neutral, the towel rail left in: {}", judge(&network, "C4", ["L", "N"], &["H401"])?);
    match judge(&network, "C4", ["L", "M"], &[]) {
        Ok(answer) => println!("C4, line to M: {answer}"),
        Err(error) => println!("C4, line to M: not a reading: {error}"),
    }
    Ok(())
}
