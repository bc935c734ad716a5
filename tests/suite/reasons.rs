//! Why pairs are missed and readings are void: reasons known by looking at the circuit.

use serde_json::{Value, json};

use crate::engine;
use crate::small;

/// What `cover` says of readings between these leads at the circuit C1.
fn cover(installation: &Value, between: &[[&str; 2]]) -> Value {
    let readings: Vec<Value> = between.iter().map(|leads| json!({ "circuit": "C1", "between": leads })).collect();
    engine::cover(installation, &json!({ "format": 1, "pass": [{ "reading": readings }] }), "standard")
}

/// The reason why the pair of these cores is missed; null where it is tested.
fn missed<'r>(report: &'r Value, length: &str, cores: [&str; 2]) -> &'r Value {
    &small::pair(report, length, cores)["missed"]
}

#[test]
fn a_protective_core_is_missed_for_want_of_a_reading_to_earth() {
    let installation = small::fixture("two-way").installation;
    let report = cover(&installation, &[["L", "N"]]);
    let no_reading = json!({ "reason": "no-reading-to-earth", "core": "cpc" });
    assert_eq!(missed(&report, "W1", ["brown", "cpc"]), &no_reading);
    assert_eq!(missed(&report, "W1", ["blue", "cpc"]), &no_reading);
    // The other strapper is cut off whatever the other lead is on.
    assert_eq!(missed(&report, "W2", ["black", "cpc"])["reason"], "not-reached");
    assert_eq!(missed(&report, "W2", ["black", "cpc"])["core"], "black");
    let report = cover(&installation, &[["L", "N"], ["L", "E"]]);
    assert_eq!(missed(&report, "W1", ["brown", "cpc"]), &Value::Null);
    assert_eq!(missed(&report, "W1", ["blue", "cpc"]), &json!({ "reason": "never-opposite" }));
}

/// A length without a protective core is tested to the main earthing terminal.
#[test]
fn a_length_without_a_protective_core_is_missed_for_want_of_a_reading_to_earth() {
    let mut installation = small::fixture("two-way").installation;
    let cores = installation["length"][0]["cores"].as_object_mut().expect("W1 has cores");
    cores.remove("cpc").expect("W1 has a protective core");
    let report = cover(&installation, &[["L", "N"]]);
    let no_reading = json!({ "reason": "no-reading-to-earth", "core": "earth" });
    assert_eq!(missed(&report, "W1", ["brown", "earth"]), &no_reading);
}

/// The line of a second circuit is on the earth terminal of a socket, so that the only reading to earth is void.
#[test]
fn only_void_readings_may_have_been_to_earth() {
    let mut installation = small::fixture("two-way").installation;
    let mut push = |list: &str, row: Value| installation[list].as_array_mut().expect("a list").push(row);
    push("circuit", json!({ "id": "C2", "way": "DB1/2" }));
    push("point", json!({ "id": "X1", "kind": "socket", "circuit": "C2" }));
    let cores = json!({ "brown": ["L", "E"], "blue": ["N", "N"], "cpc": ["E", "E"] });
    push("length", json!({ "id": "W9", "circuit": "C2", "from": "DB1/2", "to": "X1", "metres": 4.0, "cores": cores }));
    installation["board"][0]["way"].as_array_mut().expect("ways").push(json!({ "id": "2", "device": "mcb" }));
    let readings = json!([{ "circuit": "C1", "between": ["L", "N"] }, { "circuit": "C2", "between": ["L", "E"] }]);
    let report = engine::cover(&installation, &json!({ "format": 1, "pass": [{ "reading": readings }] }), "standard");
    assert_eq!([&report["readings"][0]["void"], &report["readings"][1]["void"]], [&Value::Null, &json!("bridged")]);
    assert_eq!(
        missed(&report, "W1", ["brown", "cpc"]),
        &json!({ "reason": "not-reached", "core": "cpc", "cut_off_at": [], "reachable": true, "only_void": true })
    );
}

/// Line to neutral through so many switches one behind another that nobody knows the positions of.
fn through_unknown_switches(count: usize) -> Value {
    let cores = |from: &str, to: &str| json!({ "brown": [from, to], "blue": ["N", "N"], "cpc": ["E", "E"] });
    let mut points: Vec<Value> = Vec::new();
    let mut lengths: Vec<Value> = Vec::new();
    let mut length = |from: &str, to: &str, cores: Value| {
        let id = format!("W{}", lengths.len());
        lengths.push(json!({ "id": id, "circuit": "C1", "from": from, "to": to, "metres": 2.0, "cores": cores }));
    };
    let mut feed = ("DB1/1".to_owned(), "L");
    for number in 0..count {
        let id = format!("S{number}");
        points.push(json!({ "id": id, "kind": "one-way", "circuit": "C1", "terminals": ["N"], "stands": "unknown" }));
        length(&feed.0, &id, cores(feed.1, "COM"));
        feed = (id, "L1");
    }
    points.push(json!({ "id": "J", "kind": "junction", "circuit": "C1", "terminals": ["N"] }));
    length(&feed.0, "J", cores(feed.1, "N"));
    json!({
        "format": 1,
        "installation": { "name": "Joined behind switches", "nominal_voltage": 230, "earthing": "TN-S" },
        "board": [{ "id": "DB1", "origin": true, "way": [{ "id": "1", "device": "mcb" }] }],
        "circuit": [{ "id": "C1", "way": "DB1/1" }],
        "point": points,
        "length": lengths,
    })
}

#[test]
fn what_joins_the_leads_through_any_number_of_unknown_switches_is_told() {
    for count in [16, 17, 60] {
        let reading = cover(&through_unknown_switches(count), &[["L", "N"]])["readings"][0].clone();
        assert_eq!(reading["void"], "bridged");
        assert_eq!(reading["path"].as_array().expect("a path").len(), count, "all closed: {reading}");
    }
}
