//! Circuits that no way feeds are read at their source.

use lengthwise::prepare::{Action, Preparation};
use lengthwise::{Input, Network, read_test_set};
use serde_json::{Value, json};

use crate::asked::Asked;
use crate::{engine, oracle};

/// A transformer in the hall, its low side a circuit of its own: a switch and a lamp.
fn file(system: &str, links: Value) -> Value {
    json!({
        "format": 1,
        "installation": { "name": "Display", "nominal_voltage": 230, "earthing": "TN-S" },
        "location": [{ "id": "hall" }, { "id": "stage" }],
        "board": [{ "id": "DB1", "origin": true, "location": "hall", "way": [{ "id": "1", "device": "mcb" }] }],
        "circuit": [{ "id": "C1", "way": "DB1/1" }, { "id": "C2", "system": system, "nominal_voltage": 12 }],
        "point": [
            { "id": "T1", "kind": "transformer", "circuit": "C1", "location": "stage", "links": links },
            { "id": "S1", "kind": "one-way", "circuit": "C2", "location": "stage", "stands": "on" },
            { "id": "E1", "kind": "luminaire", "circuit": "C2", "location": "stage" },
        ],
        "length": [
            { "id": "W1", "circuit": "C1", "from": "DB1/1", "to": "T1", "metres": 5,
              "cores": { "brown": ["L", "L"], "blue": ["N", "N"], "cpc": ["E", "E"] } },
            { "id": "W2", "circuit": "C2", "from": "T1", "to": "S1", "metres": 4, "cores": { "red": ["V1", "COM"] } },
            { "id": "W3", "circuit": "C2", "from": "S1", "to": "E1", "metres": 4, "cores": { "red": ["L1", "L"] } },
            { "id": "W4", "circuit": "C2", "from": "T1", "to": "E1", "metres": 4, "cores": { "black": ["V2", "N"], "white": ["V1", "-"] } },
        ],
    })
}

fn read_at_source(installation: &Value, asked: &Asked) -> Vec<(String, String, f64)> {
    let plan = engine::plan_asked(installation, None, asked);
    let rounds = plan["rounds"].as_array().expect("a list");
    let readings = rounds.iter().flat_map(|round| round["readings"].as_array().expect("a list"));
    let of_source = readings.filter(|reading| reading["circuit"] == "C2").map(|reading| {
        let between: Vec<&str> = reading["between"].as_array().expect("two").iter().filter_map(Value::as_str).collect();
        let at = reading["at"].as_str().expect("it is taken at a source").to_owned();
        (at, between.join(" to "), reading["volts"].as_f64().expect("a voltage"))
    });
    of_source.collect()
}

/// SELV: both terminals joined to earth, and to each other, at 250 V. PELV with V2 earthed at the source: V1 alone, and what is
/// earthed is on no lead.
#[test]
fn a_plan_reads_a_circuit_without_a_way_at_its_source() {
    let reading = |between: &str| ("T1".to_owned(), between.to_owned(), 250.0);
    let standard = Asked::of("standard");
    let selv = read_at_source(&file("selv", json!([])), &standard);
    assert_eq!(selv, [reading("V1+V2 to E"), reading("V1 to V2")]);
    assert_eq!(read_at_source(&file("pelv", json!([["V2", "E"]])), &standard), [reading("V1 to E")]);
    assert_eq!(read_at_source(&file("selv", json!([])), &Asked::of("earth")), [reading("V1+V2 to E")]);
}

/// No instrument goes into a locked room.
#[test]
fn nothing_is_read_at_a_source_in_a_locked_room() {
    let asked = Asked { without: vec!["stage".to_owned()], ..Asked::of("standard") };
    assert_eq!(read_at_source(&file("selv", json!([])), &asked), []);
    let asked = Asked { leave: vec!["S1".to_owned()], ..Asked::of("standard") };
    assert_eq!(read_at_source(&file("selv", json!([])), &asked).len(), 2);
}

/// The plan of both halves, by the oracle, and carried out: what it leaves is what it called untestable.
#[test]
fn a_plan_at_a_source_does_what_it_says() {
    for (system, links) in [("selv", json!([])), ("pelv", json!([["V2", "E"]])), ("felv", json!([]))] {
        for need in engine::NEEDS {
            let installation = file(system, links.clone());
            let plan = engine::plan_asked(&installation, None, &Asked::of(need));
            let expected = oracle::plan(&installation, None, &Asked::of(need)).expect("it is small");
            assert_eq!(plan["untestable"].as_array().map(Vec::len), expected["untestable"].as_array().map(Vec::len));
            let passes: Vec<Value> = plan["rounds"]
                .as_array()
                .expect("a list")
                .iter()
                .map(|round| {
                    let set: serde_json::Map<String, Value> = round["operations"]
                        .as_array()
                        .expect("a list")
                        .iter()
                        .map(|row| (row["device"].as_str().expect("a name").to_owned(), row["to"].clone()))
                        .collect();
                    let keys = ["circuit", "between", "volts"];
                    let readings = round["readings"].as_array().expect("a list").iter();
                    let readings: Vec<Value> = readings
                        .map(|row| keys.iter().map(|&key| (key.to_owned(), row[key].clone())).collect())
                        .collect();
                    json!({ "set": set, "reading": readings })
                })
                .collect();
            let tests = json!({ "format": 1, "pass": passes });
            let missed = |report: Value| {
                let pairs = report["pairs"].as_array().expect("a list").iter();
                pairs.filter(|pair| pair["required"] == true && pair["tested"] == false).count()
            };
            let untestable = plan["untestable"].as_array().map(Vec::len);
            assert_eq!(Some(missed(engine::cover(&installation, &tests, need))), untestable);
            assert_eq!(Some(missed(oracle::cover(&installation, &tests, need))), untestable);
        }
    }
}

/// Short names are those of the one source; of two their full names are written, and each has its readings.
#[test]
fn short_names_are_those_of_the_one_source() {
    let mut two = file("selv", json!([]));
    let second = json!({ "id": "T2", "kind": "transformer", "circuit": "C1", "location": "stage" });
    two["point"].as_array_mut().expect("a list").push(second);
    two["length"]
        .as_array_mut()
        .expect("a list")
        .push(json!({ "id": "W5", "circuit": "C2", "from": "T2", "to": "E1", "metres": 4,
        "cores": { "red": ["V1", "L"], "black": ["V2", "N"] } }));
    let says = |installation: &Value, between: [&str; 2]| {
        let tests = json!({ "format": 1, "pass": [{ "reading": [{ "circuit": "C2", "between": between }] }] });
        let read = read_test_set(Input::json(&tests.to_string()), &engine::from_value(installation));
        read.map_err(|errors| errors.errors()[0].to_string())
    };
    assert!(says(&file("selv", json!([])), ["V1+V2", "E"]).is_ok());
    let unknown = says(&file("selv", json!([])), ["L", "E"]).expect_err("it has no such terminal");
    assert!(unknown.contains('L'), "{unknown}");
    let several = says(&two, ["V1", "E"]).expect_err("which V1?");
    assert!(several.contains("several sources"), "{several}");
    assert!(says(&two, ["T2.V1", "MET"]).is_ok());
    let network = Network::of(engine::from_value(&two));
    let report = network.report();
    let circuit = report.circuits.iter().find(|row| row.circuit == "C2").expect("it is there");
    let planned: Vec<String> = circuit.plan_readings.iter().map(|between| between.join(" to ")).collect();
    assert_eq!(planned, ["T1.V1+T1.V2 to T1.E", "T1.V1 to T1.V2", "T2.V1+T2.V2 to MET", "T2.V1 to T2.V2"]);
    // A circuit that is on no source has no readings of its own.
    let mut none = file("selv", json!([]));
    none["length"].as_array_mut().expect("a list").truncate(1);
    assert!(says(&none, ["V1", "E"]).expect_err("it has no source").contains("no way"));
}

/// A preparation takes the instrument there, for the same readings.
#[test]
fn a_preparation_reads_at_the_source_too() {
    let preparation = Preparation::of(&Network::of(engine::from_value(&file("selv", json!([])))));
    let steps = preparation.circuits[1].steps.iter();
    let said: Vec<String> = steps
        .filter_map(|step| match &step.action {
            Action::TakeInstrumentTo { point, .. } => Some(format!("to {point}")),
            Action::Read { between, .. } => Some(between.join(" to ")),
            _ => None,
        })
        .collect();
    assert_eq!(said, ["to T1", "V1+V2 to E", "V1 to V2"]);
}
