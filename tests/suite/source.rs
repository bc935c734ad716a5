//! Circuits that no way feeds are read at their source.

use lengthwise::prepare::{Action, Preparation};
use lengthwise::{Assumptions, Findings, Input, Judgement, Need, Network, read_test_set};
use proptest::strategy::{Strategy, ValueTree};
use proptest::test_runner::TestRunner;
use serde_json::{Value, json};

use crate::asked::Asked;
use crate::laws::reads_at_sources;
use crate::strategy::planning_clusters;
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

fn stops_and_metres(plan: &Value) -> (u64, Option<f64>) {
    let rounds = plan["rounds"].as_array().expect("a list");
    let metres: Vec<f64> = rounds.iter().filter_map(|round| round["walk"]["metres"].as_f64()).collect();
    (plan["totals"]["stops"].as_u64().expect("a count"), metres.into_iter().reduce(|all, one| all + one))
}

/// From the hall to the stage and back, 5 m each way, though nothing is operated; and where the board stands there too.
#[test]
fn a_source_that_is_read_at_is_a_stop_of_its_round() {
    let mut installation = file("selv", json!([]));
    installation["passage"] = json!([{ "between": ["hall", "stage"], "metres": 5 }]);
    let plan = engine::plan(&installation, None, "standard");
    assert_eq!(stops_and_metres(&plan), (1, Some(10.0)));
    assert_eq!([&plan["bounds"]["stops"], &plan["totals"]["walks"]], [1, 0]);
    assert_eq!(plan["optimal"], json!({ "walks": true, "operations": true, "stops": true, "metres": true }));
    let readings = plan["rounds"][0]["readings"].as_array().expect("a list");
    let stops: Vec<&Value> = readings.iter().map(|reading| &reading["stop"]).collect();
    assert_eq!(stops, [&Value::Null, &Value::Null, &json!("location:stage"), &json!("location:stage")]);
    installation["board"][0]["location"] = "stage".into();
    assert_eq!(stops_and_metres(&engine::plan(&installation, None, "standard")), (1, Some(0.0)));
    installation["point"][0]["plate"] = "wall".into();
    let plan = engine::plan(&installation, None, "standard");
    assert_eq!(plan["rounds"][0]["readings"][2]["stop"], "plate:wall");
}

/// All is read where the switch is worked, in one stop: what could have been read as things stood waits for that.
#[test]
fn a_source_is_read_where_something_is_operated_anyway() {
    let mut installation = file("selv", json!([]));
    installation["point"][1]["stands"] = "off".into();
    let plan = engine::plan(&installation, None, "standard");
    assert_eq!([&plan["totals"]["walks"], &plan["totals"]["operations"], &plan["totals"]["stops"]], [1, 1, 1]);
    assert_eq!(plan["optimal"]["stops"], true);
    let at: Vec<usize> = plan["rounds"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|round| round["readings"].as_array().expect("a list").iter().filter(|row| row["at"] == "T1").count())
        .collect();
    assert_eq!(at, [0, 2]);
}

/// Hall, landing, loft and tower lie in a row, 1 m from one to the next. A switch is worked in the tower, and then the way
/// back passes the loft before the landing; the other order would be 2 m farther.
#[test]
fn sources_are_read_in_the_order_of_the_walk_after_all_is_operated() {
    let length = |id: &str, circuit: &str, from: &str, to: &str, cores: Value| json!({ "id": id, "circuit": circuit, "from": from, "to": to, "metres": 2, "cores": cores });
    let installation = json!({
        "format": 1,
        "installation": { "name": "Tower", "nominal_voltage": 230 },
        "location": [{ "id": "hall" }, { "id": "landing" }, { "id": "loft" }, { "id": "tower" }],
        "passage": [
            { "between": ["hall", "landing"], "metres": 1 }, { "between": ["landing", "loft"], "metres": 1 },
            { "between": ["loft", "tower"], "metres": 1 },
        ],
        "board": [{ "id": "DB1", "origin": true, "location": "hall", "way": [{ "id": "1", "device": "mcb" }] }],
        "circuit": [
            { "id": "C1", "way": "DB1/1" }, { "id": "C2", "system": "selv", "nominal_voltage": 12 },
            { "id": "C3", "system": "selv", "nominal_voltage": 12 },
        ],
        "point": [
            { "id": "T1", "kind": "transformer", "circuit": "C1", "location": "landing" },
            { "id": "T2", "kind": "transformer", "circuit": "C1", "location": "loft" },
            { "id": "S1", "kind": "double-pole", "circuit": "C2", "location": "tower", "stands": "off" },
            { "id": "S2", "kind": "double-pole", "circuit": "C3", "location": "tower", "stands": "off" },
            { "id": "E1", "kind": "luminaire", "circuit": "C2", "location": "tower" },
            { "id": "E2", "kind": "luminaire", "circuit": "C3", "location": "tower" },
        ],
        "length": [
            length("W1", "C1", "DB1/1", "T1", json!({ "brown": ["L", "L"], "blue": ["N", "N"], "cpc": ["E", "E"] })),
            length("W2", "C1", "T1", "T2", json!({ "brown": ["L", "L"], "blue": ["N", "N"], "cpc": ["E", "E"] })),
            length("W3", "C2", "T1", "S1", json!({ "red": ["V1", "Lin"], "black": ["V2", "Nin"] })),
            length("W4", "C3", "T2", "S2", json!({ "red": ["V1", "Lin"], "black": ["V2", "Nin"] })),
            length("W5", "C2", "S1", "E1", json!({ "red": ["Lout", "L"], "black": ["Nout", "N"] })),
            length("W6", "C3", "S2", "E2", json!({ "red": ["Lout", "L"], "black": ["Nout", "N"] })),
        ],
    });
    let plan = engine::plan(&installation, None, "standard");
    assert_eq!([&plan["totals"]["walks"], &plan["totals"]["operations"], &plan["totals"]["stops"]], [1, 2, 3]);
    assert_eq!(plan["optimal"]["stops"], true);
    let round = &plan["rounds"][1];
    let at: Vec<&str> =
        round["readings"].as_array().expect("a list").iter().filter_map(|row| row["at"].as_str()).collect();
    assert_eq!(at, ["T2", "T2", "T1", "T1"]);
    assert_eq!(round["walk"]["metres"].as_f64(), Some(6.0));
    assert_eq!(
        oracle::plan(&installation, None, &Asked::of("standard")).expect("it is small")["micrometres"],
        6_000_000
    );
}

/// The pairs that are tested, as library and oracle say alike.
fn tested(installation: &Value, passes: Value) -> Vec<String> {
    let tests = json!({ "format": 1, "pass": passes });
    let names = |report: Value| -> Vec<String> {
        let pairs = report["pairs"].as_array().expect("a list").iter().filter(|pair| pair["tested"] == true);
        pairs.map(|pair| format!("{} {}", pair["length"].as_str().expect("a name"), pair["cores"])).collect()
    };
    let tested = names(engine::cover(installation, &tests, "standard"));
    assert_eq!(tested, names(oracle::cover(installation, &tests, "standard")));
    tested
}

/// Which readings are void, as library and oracle say alike.
fn voids(installation: &Value, passes: Value) -> Vec<Value> {
    let tests = json!({ "format": 1, "pass": passes });
    let voids = |report: Value| -> Vec<Value> {
        report["readings"].as_array().expect("a list").iter().map(|reading| reading["void"].clone()).collect()
    };
    let found = voids(engine::cover(installation, &tests, "standard"));
    assert_eq!(found, voids(oracle::cover(installation, &tests, "standard")));
    found
}

/// Two transformers on the same two cores. With one winding left in, nothing between `V1` and `V2` is tested at the other;
/// in a locked room it is left in, and then no plan reads that.
#[test]
fn a_winding_in_parallel_that_stays_in_voids_what_it_lies_across() {
    let mut installation = file("selv", json!([]));
    let second = json!({ "id": "T2", "kind": "transformer", "circuit": "C1", "location": "hall" });
    installation["point"].as_array_mut().expect("a list").push(second);
    let length = json!({ "id": "W5", "circuit": "C2", "from": "T1", "to": "T2", "metres": 4,
        "cores": { "red": ["V1", "V1"], "black": ["V2", "V2"] } });
    installation["length"].as_array_mut().expect("a list").push(length);
    let passes = json!([{ "reading": [{ "circuit": "C2", "between": ["T1.V1", "T1.V2"] }] },
        { "refit": ["T2"], "reading": [{ "circuit": "C2", "between": ["T1.V1", "T1.V2"] },
                                       { "circuit": "C2", "between": ["T1.V1+T1.V2", "MET"] }] }]);
    assert_eq!(voids(&installation, passes), [Value::Null, json!("bridged"), Value::Null]);
    // Either source would do: one is visited, not both.
    let plan = engine::plan(&installation, None, "standard");
    assert_eq!(plan["totals"]["stops"], 1);
    let asked = Asked { without: vec!["hall".to_owned()], ..Asked::of("standard") };
    let read = read_at_source(&installation, &asked);
    assert_eq!(read, [("T1".to_owned(), "T1.V1+T1.V2 to T1.E".to_owned(), 250.0)]);
}

/// What lies behind a switch that is off is not tested, and what is earthed at the source is on no lead.
#[test]
fn what_is_behind_an_open_switch_is_not_tested_at_the_source() {
    let installation = file("selv", json!([]));
    let reading = json!([{ "circuit": "C2", "between": ["V1+V2", "E"] }]);
    let on = tested(&installation, json!([{ "reading": reading }]));
    let off = tested(&installation, json!([{ "set": { "S1": "off" }, "reading": reading }]));
    assert!(on.contains(&r#"W3 ["red","earth"]"#.to_owned()) && !off.contains(&r#"W3 ["red","earth"]"#.to_owned()));
    // Earthed at the source: a lead on V2 is a lead on earth.
    let earthed = file("pelv", json!([["V2", "E"]]));
    let passes = json!([{ "reading": [{ "circuit": "C2", "between": ["V1+V2", "E"] }, { "circuit": "C2", "between": ["V1", "V2"] },
                                      { "circuit": "C2", "between": ["V1", "E"] }] }]);
    assert_eq!(voids(&earthed, passes.clone()), [json!("bridged"), Value::Null, Value::Null]);
    // With the winding in, V1 is joined to earth over it.
    let fitted = json!([{ "refit": ["T1"], "reading": passes[0]["reading"] }]);
    assert_eq!(voids(&earthed, fitted), [json!("bridged"), json!("bridged"), json!("bridged")]);
}

/// `E` is the source's own earth only where copper joins it to the main earthing terminal: not behind a switch, and not
/// where no protective conductor comes to it.
#[test]
fn earth_at_a_source_is_what_copper_joins_to_the_main_earthing_terminal() {
    let leads = |installation: &Value| {
        let network = Network::of(engine::from_value(installation));
        let report = network.report();
        let circuit = report.circuits.iter().find(|row| row.circuit == "C2").expect("it is there");
        circuit.leads["E"].clone()
    };
    let mut installation = file("selv", json!([]));
    assert_eq!(leads(&installation), ["T1.E"]);
    installation["length"][0]["cores"]["cpc"] = json!(["E", "-"]);
    assert_eq!(leads(&installation), ["MET"]);
    // Without an earth at the source a reading that plans use is still to the main earthing terminal.
    let passes = json!([{ "reading": [{ "circuit": "C2", "between": ["V1+V2", "E"] }] }]);
    assert!(tested(&installation, passes).contains(&r#"W2 ["red","earth"]"#.to_owned()));
}

/// Two transformers on ways of their own feed one circuit: each is read, by full names, and each is switched off first.
#[test]
fn sources_of_one_circuit_may_be_fed_by_different_circuits() {
    let mut installation = file("selv", json!([]));
    installation["board"][0]["way"] = json!([{ "id": "1", "device": "mcb" }, { "id": "2", "device": "mcb" }]);
    let circuits = installation["circuit"].as_array_mut().expect("a list");
    circuits.push(json!({ "id": "C3", "way": "DB1/2" }));
    let points = installation["point"].as_array_mut().expect("a list");
    points.push(json!({ "id": "T2", "kind": "transformer", "circuit": "C3", "location": "hall" }));
    let lengths = installation["length"].as_array_mut().expect("a list");
    lengths.push(json!({ "id": "W5", "circuit": "C3", "from": "DB1/2", "to": "T2", "metres": 5,
        "cores": { "brown": ["L", "L"], "blue": ["N", "N"], "cpc": ["E", "E"] } }));
    lengths.push(json!({ "id": "W6", "circuit": "C2", "from": "T2", "to": "E1", "metres": 4,
        "cores": { "red": ["V1", "L"], "black": ["V2", "N"] } }));
    let network = Network::of(engine::from_value(&installation));
    let preparation = serde_json::to_value(Preparation::of(&network)).expect("it is data");
    let steps = preparation["circuits"][1]["steps"].as_array().expect("a list").clone();
    let of = |what: &str| {
        steps.iter().filter(|step| step["do"] == what).map(|step| step["device"].clone()).collect::<Vec<_>>()
    };
    assert_eq!(of("take-instrument-to").len(), 2);
    let isolated = steps.iter().any(|step| step["do"] == "isolate" && step["board"] == "DB1");
    assert!(
        isolated || of("keep-off").iter().filter(|way| **way == "DB1/1" || **way == "DB1/2").count() == 2,
        "{steps:#?}"
    );
    // All of it is one piece of copper, so one source does.
    let plan = engine::plan(&installation, None, "standard");
    assert_eq!([&plan["totals"]["stops"], &plan["untestable"]], [&json!(1), &json!([])]);
}

/// 250 V and 0.5 MΩ are asked of a circuit of 12 V. To earth 0.4 MΩ fails, whatever the other reading says; 230 V lies
/// before the transformer, and is no part of it.
#[test]
fn a_record_judges_readings_at_the_source_by_their_columns() {
    let installation = file("selv", json!([]));
    let at = |to_earth: f64, volts: u32| {
        let reading = |between: [&str; 2], megohms: f64| json!({ "circuit": "C2", "between": between, "volts": volts, "megohms": megohms });
        let tests = json!({ "format": 1, "pass": [{ "reading": [reading(["V1+V2", "E"], to_earth), reading(["V1", "V2"], 80.0)] }] });
        judged(&installation, &tests)
    };
    let good = at(60.0, 250);
    let columns: Vec<&Value> = good["readings"].as_array().expect("a list").iter().map(|row| &row["column"]).collect();
    assert_eq!(columns, ["live-to-earth", "live-to-live"]);
    let circuit = &good["circuits"][1];
    assert_eq!(circuit["verdict"], "pass");
    assert_eq!([&circuit["asked"]["volts"], &circuit["asked"]["megohms"]].map(Value::as_f64), [Some(250.0), Some(0.5)]);
    assert_eq!([&circuit["live_to_earth"]["record"], &circuit["live_to_live"]["record"]], ["60.0", "80.0"]);
    assert_eq!([&circuit["required"], &circuit["tested"]], [5, 5]);
    assert_eq!(at(0.4, 250)["circuits"][1]["verdict"], "fail");
    assert_eq!(at(60.0, 500)["circuits"][1]["verdict"], "not-complete");
}

/// The red core of W3 leaks, behind the switch; both readings at the source are taken anew with it off, and one says so.
#[test]
fn the_next_reading_may_be_one_at_a_source() {
    let installation = engine::from_value(&file("selv", json!([])));
    let tests = json!({ "format": 1, "pass": [{ "reading": [
        { "circuit": "C2", "between": ["V1+V2", "E"], "volts": 250, "megohms": 0.3 } ] }] });
    let tests = engine::test_set("tests.json", tests.to_string().as_bytes(), &installation);
    let network = Network::of(installation);
    let findings = Findings::of(&network, &tests, Assumptions::default()).expect("it is of this");
    let next = serde_json::to_value(&findings).expect("it is data")["next"].clone();
    assert_eq!(
        [&next["do"], &next["circuit"], &next["at"], &next["at_point"]],
        [&json!("read"), &json!("C2"), &json!("T1"), &Value::Null]
    );
    assert_eq!(next["volts"].as_f64(), Some(250.0));
    let short = ["V1", "V2", "E", "V1+V2", "V1+E", "V2+E"];
    assert!(
        next["between"].as_array().expect("two").iter().all(|lead| short.iter().any(|name| lead == name)),
        "{next}"
    );
}

/// A circuit with neither way nor source is tested from where it is fed: by the readings of that circuit, at its voltage.
#[test]
fn a_circuit_without_way_and_source_is_tested_from_where_it_is_fed() {
    let installation = json!({
        "format": 1,
        "installation": { "name": "Bell", "nominal_voltage": 230 },
        "board": [{ "id": "DB1", "origin": true, "way": [{ "id": "1", "device": "mcb" }] }],
        "circuit": [{ "id": "C1", "way": "DB1/1" }, { "id": "C2", "system": "felv", "nominal_voltage": 24 }],
        "point": [
            { "id": "J1", "kind": "junction", "circuit": "C1" }, { "id": "E1", "kind": "luminaire", "circuit": "C2" },
        ],
        "length": [
            { "id": "W1", "circuit": "C1", "from": "DB1/1", "to": "J1", "metres": 5,
              "cores": { "brown": ["L", "a"], "blue": ["N", "b"], "cpc": ["E", "E"] } },
            { "id": "W2", "circuit": "C2", "from": "J1", "to": "E1", "metres": 4,
              "cores": { "red": ["a", "L"], "black": ["b", "N"] } },
        ],
    });
    let plan = engine::plan(&installation, None, "standard");
    assert_eq!([&plan["totals"]["stops"], &plan["untestable"]], [&json!(0), &json!([])]);
    assert!(read_at_source(&installation, &Asked::of("standard")).is_empty());
    let reading = |between: [&str; 2]| json!({ "circuit": "C1", "between": between, "volts": 500, "megohms": 90.0 });
    let tests = json!({ "format": 1, "pass": [{ "reading": [reading(["L+N", "E"]), reading(["L", "N"])] }] });
    let circuit = judged(&installation, &tests)["circuits"][1].clone();
    assert_eq!([&circuit["verdict"], &circuit["required"], &circuit["tested"]], [&json!("pass"), &json!(3), &json!(3)]);
    let elsewhere = circuit["elsewhere"].as_array().expect("a list").iter();
    assert_eq!(elsewhere.map(|row| row["why"].clone()).collect::<Vec<_>>(), ["tests-the-rest", "tests-the-rest"]);
}

fn judged(installation: &Value, tests: &Value) -> Value {
    let installation = engine::from_value(installation);
    let tests = engine::test_set("tests.json", tests.to_string().as_bytes(), &installation);
    let network = Network::of(installation);
    let judgement = Judgement::of(&network, &tests, Need::Standard).expect("it is of this");
    serde_json::to_value(judgement).expect("it is data")
}

/// What is drawn has sources, with switches before and behind them, and mostly the stops are proven to be the fewest.
#[test]
fn of_drawn_plans_at_sources_most_are_proven() {
    let mut runner = TestRunner::deterministic();
    let [mut read, mut proven, mut walked, mut in_walks] = [0; 4];
    for _ in 0..600 {
        let case = planning_clusters().new_tree(&mut runner).expect("nothing is rejected").current();
        let plan = engine::plan(&case.installation, None, "standard");
        if reads_at_sources(&plan) {
            read += 1;
            proven += usize::from(plan["optimal"]["stops"] == true);
            walked += usize::from(plan["totals"]["walks"] != 0);
            let rounds = plan["rounds"].as_array().expect("a list").iter();
            let of_walks = rounds.filter(|round| round["operations"] != json!([]));
            in_walks += usize::from(
                of_walks.flat_map(|round| round["readings"].as_array()).flatten().any(|row| !row["at"].is_null()),
            );
        }
    }
    assert!(read >= 40 && walked >= 20 && in_walks >= 15, "{read}, {walked} with walks, {in_walks} read in these");
    assert!(proven * 2 >= read, "{proven} of {read}");
}
