//! Tests were broken off half-way. Where do I go next, what do I operate there, and which readings do I take then?

use std::error::Error;

use lengthwise::plan::SwitchPosition;
use lengthwise::{Input, Need, Network, Plan, read_installation, read_test_set, rules};

fn main() -> Result<(), Box<dyn Error>> {
    let installation = read_installation(Input::toml(include_bytes!("../demo/skerry-light.toml")))?;
    let tests = read_test_set(Input::toml(include_bytes!("../demo/as-usual.toml")), &installation)?;
    let network = Network::of(installation.clone());
    let plan = Plan::of(&network, Some(&tests), Need::Standard)?;

    let totals = plan.totals;
    let fewest = if plan.optimal.walks { ", and none has fewer" } else { "; fewer may do" };
    println!("{} walks are left in this plan{fewest}.", totals.walks);
    let Some(walk) = plan.rounds.iter().find(|round| !round.operations.is_empty()) else {
        println!("Nothing is left to operate.");
        return Ok(());
    };
    println!("The next walk:");
    for operation in &walk.operations {
        let point = installation.point_by_id(&operation.device).map(|point| installation.point(point));
        let location = point.and_then(|point| point.location());
        let place = location.map_or("somewhere", |location| installation.location(location).name());
        // A position that nobody knows is left by operating the switch once.
        let to = if operation.to == SwitchPosition::Other { "its other position".into() } else { operation.to.name() };
        println!("  {place}: {} to {to}", operation.device);
    }
    println!("Then {} readings, among them:", walk.readings.len());
    for planned in walk.readings.iter().take(4) {
        let [one, other] = &planned.between;
        let circuit = &planned.circuit;
        let volts = planned.volts.expect("the default ruleset has a value for every circuit").0;
        println!(
            "  {circuit}: {one} to {other} at {volts} V d.c.; pairs of cores that it adds: {}",
            planned.adds.len()
        );
    }
    for caution in rules::CAUTIONS {
        println!("! {caution}");
    }
    Ok(())
}
