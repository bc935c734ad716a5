//! Which lengths of cable have tests missed, how many metres is that, and where are the missed cores cut off?

use std::error::Error;

use lengthwise::{Coverage, Input, Need, Network, PairCoverage, read_installation, read_test_set};

fn main() -> Result<(), Box<dyn Error>> {
    let installation = read_installation(Input::toml(include_bytes!("../demo/skerry-light.toml")))?;
    let tests = read_test_set(Input::toml(include_bytes!("../demo/as-usual.toml")), &installation)?;
    let network = Network::of(installation.clone());
    let coverage = Coverage::of(&network, &tests, Need::Standard)?;

    let summary = coverage.summary;
    println!("{} of {} needed pairs of cores are tested.", summary.tested, summary.required);
    let mut cut_off_at: Vec<&str> = Vec::new();
    for (_, length) in installation.lengths() {
        let missed: Vec<&PairCoverage> = coverage.pairs_of(length.id()).filter(|pair| pair.is_missed()).collect();
        if missed.is_empty() {
            continue;
        }
        for pair in &missed {
            let contacts = pair.missed.iter().flat_map(|missed| missed.cut_off_at(&coverage.shared));
            cut_off_at.extend(contacts.map(|contact| contact.device.as_str()));
        }
        let names: Vec<String> = missed.iter().map(|pair| pair.cores.join("-")).collect();
        println!("{:<5} {:>5} m  {}", length.id(), length.metres().0, names.join(", "));
    }
    let left = summary.metres_required.0 - summary.metres_tested.0;
    println!("{left:.1} m of {:.1} m are left.", summary.metres_required.0);
    cut_off_at.sort_unstable();
    cut_off_at.dedup();
    println!("The missed cores are cut off at {}.", cut_off_at.join(", "));
    Ok(())
}
