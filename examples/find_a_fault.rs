//! A reading is low. Where can the fault be, which reading do I take next, and what does each outcome mean?

use std::error::Error;

use lengthwise::locate::{GapId, Locate, Member, Next, WhyNothing};
use lengthwise::{Assumptions, Network, read_installation, read_test_set, rules};

fn main() -> Result<(), Box<dyn Error>> {
    let installation = read_installation("skerry-light.toml", include_bytes!("../demo/skerry-light.toml"))?;
    let network = Network::of(installation.clone());
    // The record of a session, after each of its readings.
    let records: [(&str, &[u8]); 4] = [
        ("fault-1.toml", include_bytes!("../demo/fault-1.toml")),
        ("fault-1-2.toml", include_bytes!("../demo/fault-1-2.toml")),
        ("fault-1-3.toml", include_bytes!("../demo/fault-1-3.toml")),
        ("fault-1-4.toml", include_bytes!("../demo/fault-1-4.toml")),
    ];
    for (name, record) in records {
        let tests = read_test_set(name, record, &installation)?;
        let locate = Locate::of(&network, &tests, Assumptions::default());
        let fewest = locate.fewest_faults();
        let exactly = if fewest.is_exact { "" } else { "at least " };
        println!("{name}: it takes {exactly}{} faults to explain the readings.", fewest.at_least);
        let lengths = |gaps: &[GapId]| -> Vec<&str> {
            locate.lengths_of(gaps).into_iter().map(|length| installation.length(length).id()).collect()
        };
        match locate.next() {
            Next::Reading(reading) => {
                for set in &reading.set {
                    println!("  set {} to {}", installation.point(set.point).id(), set.to);
                }
                let [one, other] = reading.leads.each_ref().map(|lead| lead.text());
                println!("  read {one} to {other}");
                for (than, outcome) in [("more", &reading.high), ("less", &reading.low)] {
                    println!("    {than} than {} MΩ leaves {:?}", outcome.megohms.0, lengths(&outcome.suspects));
                }
            }
            Next::Part { gap, .. } => println!("  no reading splits {:?}: part the copper by hand", lengths(&[gap])),
            Next::Nothing(WhyNothing::Found { gap }) => {
                println!("  one length is left: {:?}", lengths(&[gap]));
                for member in locate.members(gap) {
                    if let Member::Point { point, .. } = member {
                        println!("    look at {}, where it ends", installation.point(*point).id());
                    }
                }
            }
            Next::Nothing(why) => println!("  nothing to read: {why:?}"),
        }
    }
    for caution in rules::CAUTIONS {
        println!("! {caution}");
    }
    Ok(())
}
