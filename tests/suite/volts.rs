//! At which voltage a reading of a plan counts for which pair, as `judge` counts it.

use std::collections::BTreeSet;

use lengthwise::judge::Judgement;
use lengthwise::{Need, Network};
use proptest::prelude::*;
use serde_json::{Value, json};

use crate::asked::Asked;
use crate::engine::{self, NEEDS};
use crate::laws::followed;
use crate::small;
use crate::strategy::{cases, times};

/// The pairs that are not tested by good readings when a plan is carried out from ready and every reading is good.
fn missed_when_all_is_good(installation: &Value, plan: &Value, need: &str) -> BTreeSet<String> {
    let mut done = followed(installation, &json!({ "format": 1 }), plan);
    for pass in done["pass"].as_array_mut().unwrap() {
        for reading in pass.get_mut("reading").and_then(Value::as_array_mut).into_iter().flatten() {
            reading["megohms"] = ">999".into();
        }
    }
    let network = Network::of(engine::from_value(installation));
    let tests = engine::test_set("done.json", done.to_string().as_bytes(), network.installation());
    let need: Need = serde_json::from_value(need.into()).unwrap();
    let judged = Judgement::of(&network, &tests, need).expect("it is for this installation");
    judged.missed.iter().map(|row| json!([row.length, row.cores[0], row.cores[1]]).to_string()).collect()
}

/// The pairs that a plan leaves, as it says.
fn left(plan: &Value) -> BTreeSet<String> {
    let untestable = plan["untestable"].as_array().unwrap().iter();
    let untestable = untestable.map(|row| json!([row["length"], row["cores"][0], row["cores"][1]]).to_string());
    let not_planned = plan["not_planned"].as_array().into_iter().flatten().map(Value::to_string);
    untestable.chain(not_planned).collect()
}

proptest! {
    #![proptest_config(times(200))]

    /// What a plan calls tested is counted once it is carried out and all is good.
    #[test]
    fn a_record_of_a_plan_lacks_only_what_the_plan_leaves(case in cases(), need in 0..3usize, fewest_readings: bool) {
        let asked = Asked { fewest_readings, ..Asked::of(NEEDS[need]) };
        let plan = engine::plan_asked(&case.installation, None, &asked);
        prop_assert_eq!(missed_when_all_is_good(&case.installation, &plan, NEEDS[need]), left(&plan));
    }
}

/// By hand: what C2 can't disconnect has it read at 250 V, and all copper of C3 hangs on its neutral and its line. At 250 V
/// nothing counts for C3, which asks for 500 V, so its own reading is planned beside.
#[test]
fn a_reading_at_the_voltage_of_a_relief_does_not_count_for_its_neighbours() {
    let installation = small::planned("late-adds");
    let plan = engine::plan_asked(&installation, None, &Asked::of("every-pair"));
    let readings = plan["rounds"][0]["readings"].as_array().unwrap();
    let said: Vec<Value> = readings.iter().map(|row| json!([row["circuit"], row["volts"]])).collect();
    assert_eq!(said, [json!(["C2", 250]), json!(["C3", 500])]);
    let of_circuit = |length: &Value| {
        let lengths = installation["length"].as_array().unwrap();
        lengths.iter().find(|row| row["id"] == *length).unwrap()["circuit"].clone()
    };
    for row in readings {
        let adds = row["adds"].as_array().unwrap();
        assert!(!adds.is_empty() && adds.iter().all(|pair| of_circuit(&pair[0]) == row["circuit"]), "{row}");
    }
    assert_eq!(missed_when_all_is_good(&installation, &plan, "every-pair"), left(&plan));
}
