//! A reading is low. Where can the fault be, which reading do I take next, and what does each outcome mean?

use std::error::Error;

use lengthwise::locate::{Findings, Member, Next, WhyNothing};
use lengthwise::{Assumptions, Input, Network, read_installation, read_test_set, rules};

fn main() -> Result<(), Box<dyn Error>> {
    let installation = read_installation(Input::toml(include_bytes!("../demo/skerry-light.toml")))?;
    let network = Network::of(installation.clone());
    // The record of a session, after each of its readings.
    let records: [(&str, &[u8]); 4] = [
        ("fault-1.toml", include_bytes!("../demo/fault-1.toml")),
        ("fault-1-2.toml", include_bytes!("../demo/fault-1-2.toml")),
        ("fault-1-3.toml", include_bytes!("../demo/fault-1-3.toml")),
        ("fault-1-4.toml", include_bytes!("../demo/fault-1-4.toml")),
    ];
    for (name, record) in records {
        let tests = read_test_set(Input::file(name, record), &installation)?;
        let findings = Findings::of(&network, &tests, Assumptions::default())?;
        let exactly = if findings.faults.exact { "" } else { "at least " };
        println!("{name}: it takes {exactly}{} faults to explain the readings.", findings.faults.at_least);
        match &findings.next {
            Next::Read(reading) => {
                for set in &reading.set {
                    println!("  set {} to {}", set.device, set.to);
                }
                println!("  read {} to {}", reading.between[0], reading.between[1]);
                for (than, outcome) in [("more", &reading.if_more), ("less", &reading.if_less)] {
                    let lengths = findings.lengths_of(&outcome.suspects);
                    println!("    {than} than {} MΩ leaves {lengths:?}", outcome.megohms);
                }
            }
            Next::Part(parting) => {
                println!("  no reading splits {:?}: part the copper by hand", findings.lengths_of(&[parting.gap]));
            }
            Next::Nothing { why: WhyNothing::Found, gaps } => {
                println!("  one length is left: {:?}", findings.lengths_of(gaps));
                for member in gaps.iter().filter_map(|&gap| findings.gap(gap)).flat_map(|gap| &gap.members) {
                    if let Member::Accessory { at, .. } = member {
                        println!("    look at {at}, where it ends");
                    }
                }
            }
            Next::Nothing { why, .. } => println!("  nothing to read: {why:?}"),
            _ => {}
        }
    }
    for caution in rules::CAUTIONS {
        println!("! {caution}");
    }
    Ok(())
}
