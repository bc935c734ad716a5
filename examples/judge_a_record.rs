//! Is what the instrument showed good enough, and does it say so of every core?
//!
//! ```sh
//! cargo run --example judge_a_record
//! ```

use lengthwise::judge::{Column, WhyNotProven};
use lengthwise::{Input, Judgement, Need, Network, Standard, Verdict, read_installation, read_record};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let installation = read_installation(Input::file("landing.toml", &std::fs::read("examples/landing.toml")?))?;
    let network = Network::of(installation.clone()).with_ruleset(Standard::Bs7671.ruleset().clone());

    // The usual readings, and those of the whole round.
    for name in ["landing-as-usual.toml", "landing-record.toml"] {
        let record = read_record(Input::file(name, &std::fs::read(format!("examples/{name}"))?), &installation)?;
        let judgement = Judgement::of(&network, &record, Need::Standard)?;
        for circuit in &judgement.circuits {
            let figure = |column| circuit.figure(column).map_or("none", |figure| figure.record.as_str());
            println!(
                "{name}: {} {:?}, live to live {} MΩ, live to earth {} MΩ, {} of {} pairs",
                circuit.circuit,
                circuit.verdict,
                figure(Column::LiveToLive),
                figure(Column::LiveToEarth),
                circuit.tested,
                circuit.required,
            );
            for row in judgement.missed_of(&circuit.circuit) {
                let [one, other] = &row.cores;
                match &row.why {
                    WhyNotProven::NotTested(why) => println!("  {one} to {other} is not tested: {why:?}"),
                    why => println!("  {one} to {other} is tested, but not by good readings: {why:?}"),
                }
            }
        }
        println!("{name}: {}", if judgement.verdict <= Verdict::Investigate { "complete" } else { "not complete" });
    }
    Ok(())
}
