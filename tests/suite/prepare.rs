//! The preparation: what is in the way of which reading, against what coverage makes of it; and what the graph says besides.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use lengthwise::coverage::Coverage;
use lengthwise::model::Installation;
use lengthwise::network::{Need, Network};
use lengthwise::prepare::{Action, InTheWay, Operated, Preparation, Step, TestBefore};
use proptest::prelude::*;
use serde_json::{Map, Value, json};

use crate::engine;
use crate::strategy::{cases, times};

fn fixtures() -> Vec<(String, Installation)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let small = std::fs::read_dir(root.join("tests/fixtures/small")).expect("the fixtures are there");
    let mut paths: Vec<_> = small.map(|entry| entry.expect("a folder can be read").path()).collect();
    paths.push(root.join("demo/skerry-light.toml"));
    paths.sort();
    let name = |path: &Path| path.file_name().expect("it has a name").to_string_lossy().into_owned();
    let files = paths.iter().map(|path| (name(path), path));
    files
        .filter(|(name, _)| name.ends_with(".toml") && !name.ends_with("tests.toml"))
        .map(|(name, path)| {
            let installation = engine::installation(&name, &std::fs::read(path).expect("the file can be read"));
            (name, installation)
        })
        .collect()
}

fn prepared(installation: &Installation) -> Preparation {
    Preparation::of(&Network::of(installation.clone()))
}

fn steps<'p>(preparation: &'p Preparation, circuit: &str) -> &'p [Step] {
    let row = preparation.circuits.iter().find(|row| row.circuit == circuit);
    &row.expect("the circuit is there").steps
}

fn obstacles(steps: &[Step]) -> Vec<(&InTheWay, bool)> {
    let found = steps.iter().filter_map(|step| match &step.action {
        Action::TakeOut(obstacle) => Some((obstacle, true)),
        Action::LeaveIn(obstacle) => Some((obstacle, false)),
        _ => None,
    });
    found.collect()
}

/// Why each of these readings is void with everything taken out but as `start` says.
fn voids(installation: &Installation, readings: &[(String, [String; 2])], start: &Map<String, Value>) -> Vec<bool> {
    let readings: Vec<Value> =
        readings.iter().map(|(circuit, between)| json!({ "circuit": circuit, "between": between })).collect();
    let tests = json!({ "format": 1, "start": start, "pass": [{ "reading": readings }] });
    let tests = engine::test_set("tests.json", tests.to_string().as_bytes(), installation);
    let network = Network::of(installation.clone());
    let coverage = Coverage::of(&network, &tests, Need::Standard).expect("it is for this installation");
    coverage.readings.iter().map(|outcome| outcome.void.is_some()).collect()
}

/// Puts one thing back in at a time: where that alone makes a reading void, as switches stand, the list of that reading's
/// circuit must say that it lies across it. A reading that the list calls void however switches stand is so as they
/// stand. Tells how many readings were made void.
fn check_list(name: &str, installation: &Installation) -> usize {
    let preparation = prepared(installation);
    let mut readings = Vec::new();
    let mut across: BTreeMap<(String, [String; 2]), BTreeSet<String>> = BTreeMap::new();
    let mut holders = BTreeSet::new();
    let mut never = Vec::new();
    // As the list asks, with links in the place of what passes.
    let mut linked = Map::new();
    for row in &preparation.circuits {
        for step in &row.steps {
            match &step.action {
                Action::Read { between, not_while_fitted, never_cut_off, .. } => {
                    readings.push((row.circuit.clone(), between.clone()));
                    never.push(!never_cut_off.is_empty());
                    assert!(
                        never_cut_off.iter().all(|holder| not_while_fitted.contains(holder)),
                        "{name}: {between:?}"
                    );
                }
                Action::Link { point, .. } => {
                    linked.insert(point.clone(), json!("linked"));
                }
                _ => {}
            }
        }
        for (obstacle, comes_out) in obstacles(&row.steps) {
            for between in &obstacle.across {
                let reading = (row.circuit.clone(), between.clone());
                across.entry(reading).or_default().insert(obstacle.what.clone());
            }
            if comes_out {
                holders.insert(obstacle.what.clone());
            }
        }
    }
    let without = voids(installation, &readings, &linked);
    for ((reading, never), void) in readings.iter().zip(never).zip(&without) {
        assert!(*void || !never, "{name}: {reading:?} is sound, whatever its list says");
    }
    let mut found = 0;
    for holder in holders {
        let mut start = linked.clone();
        start.insert(holder.clone(), json!("fitted"));
        for ((reading, with), without) in readings.iter().zip(voids(installation, &readings, &start)).zip(&without) {
            if with && !without {
                found += 1;
                let listed = across.get(reading).is_some_and(|holders| holders.contains(&holder));
                assert!(listed, "{name}: {holder} makes {reading:?} void and is not on its list");
            }
        }
    }
    found
}

/// Coverage is the judge of what makes a reading void, and knows nothing of the list.
#[test]
fn what_alone_makes_a_reading_void_is_on_the_list_of_its_circuit() {
    let found: usize = fixtures().iter().map(|(name, installation)| check_list(name, installation)).sum();
    assert!(found > 80, "{found} readings made void");
}

proptest! {
    #![proptest_config(times(256))]

    #[test]
    fn what_alone_makes_a_reading_void_is_on_the_list_whatever_the_wiring(case in cases()) {
        check_list("case", &engine::from_value(&case.installation));
    }
}

/// Everything that is not copper is on the list of its own circuit, once; what the file says stays in is never to be taken
/// out.
#[test]
fn nothing_is_forgotten_and_nothing_twice() {
    for (name, installation) in fixtures() {
        let preparation = prepared(&installation);
        let network = Network::of(installation.clone());
        for row in &preparation.circuits {
            let listed = obstacles(&row.steps);
            let names: BTreeSet<&str> = listed.iter().map(|(obstacle, _)| obstacle.what.as_str()).collect();
            assert_eq!(names.len(), listed.len(), "{name}: {}", row.circuit);
            for known in network.obstacles() {
                let is_own = known.circuit.is_some_and(|id| installation.circuit(id).id() == row.circuit);
                let holder = known.name(&installation);
                let entry = listed.iter().find(|(obstacle, _)| obstacle.what == holder);
                assert!(entry.is_some() || !is_own, "{name}: {holder} of {} is not listed", row.circuit);
                if let Some((obstacle, comes_out)) = entry {
                    assert_eq!(*comes_out, known.removable, "{name}: {holder}");
                    assert_eq!(obstacle.of_circuit.is_none(), is_own, "{name}: {holder}");
                }
            }
        }
    }
}

fn demo() -> Installation {
    engine::installation("skerry-light.toml", include_bytes!("../../demo/skerry-light.toml"))
}

#[test]
fn surge_protection_on_the_same_neutral_bar_is_in_the_way_of_other_circuits() {
    let preparation = prepared(&demo());
    let listed = obstacles(steps(&preparation, "B1"));
    let (surge, _) = listed.iter().find(|(obstacle, _)| obstacle.what == "FB401").expect("it is listed");
    assert_eq!(surge.of_circuit.as_deref(), Some("B4"));
    assert_eq!(surge.across, [["L+N".to_owned(), "E".to_owned()]]);
    // The shower's neutral is on another bar.
    assert!(obstacles(steps(&preparation, "C10")).iter().all(|(obstacle, _)| obstacle.what != "FB401"));
}

/// A neon that stays in joins line and neutral; what lies beside it, on another circuit, does not lie across the reading.
#[test]
fn what_stays_in_puts_nothing_else_across_a_reading() {
    let circuit = |number: usize, kind: &str, to: &str, from: &str, removable: bool| {
        let point = json!({ "id": to, "kind": kind, "circuit": format!("C{number}"), "removable": removable });
        let length = json!({ "id": format!("W{to}"), "circuit": format!("C{number}"), "from": from, "to": to, "metres": 5,
                             "cores": { "brown": ["L", "L"], "blue": ["N", "N"], "cpc": ["E", "E"] } });
        (point, length)
    };
    let (points, lengths): (Vec<Value>, Vec<Value>) = [
        circuit(1, "indicator", "I1", "DB1/1", false),
        circuit(2, "appliance", "H1", "DB1/2", true),
        circuit(2, "surge-protector", "Z1", "H1", false),
    ]
    .into_iter()
    .unzip();
    let installation = engine::from_value(&json!({
        "format": 1,
        "installation": { "name": "Beside", "nominal_voltage": 230, "earthing": "TN-S" },
        "board": [{ "id": "DB1", "origin": true, "way": [{ "id": "1", "device": "mcb" }, { "id": "2", "device": "mcb" }] }],
        "circuit": [{ "id": "C1", "way": "DB1/1" }, { "id": "C2", "way": "DB1/2" }],
        "point": points,
        "length": lengths,
    }));
    let preparation = prepared(&installation);
    let listed = |circuit: &str| -> Vec<(String, Vec<String>)> {
        let found = obstacles(steps(&preparation, circuit)).into_iter();
        found.map(|(row, _)| (row.what.clone(), row.across.iter().map(|names| names.join(" to ")).collect())).collect()
    };
    let (to_earth, to_neutral) = ("L+N to E".to_owned(), "L to N".to_owned());
    // Z1 is on the neutral bar, so it is in the way of C1 to earth, and H1 with it: from the bar on to the line of C2.
    let [neon, heater, surge] = [("I1", &to_neutral), ("H1", &to_earth), ("Z1", &to_earth)]
        .map(|(what, to)| (what.to_owned(), vec![to.clone()]));
    assert_eq!(listed("C1"), [neon, heater, surge]);
    assert_eq!(
        listed("C2"),
        [("H1".to_owned(), vec![to_neutral.clone()]), ("Z1".to_owned(), vec![to_earth, to_neutral])]
    );
}

#[test]
fn the_graph_tells_rings_bars_and_what_stays_off() {
    let preparation = prepared(&demo());
    let rings: Vec<&str> = preparation
        .circuits
        .iter()
        .filter(|row| {
            row.steps.iter().any(|step| step.action == Action::TestBefore { test: TestBefore::RingContinuity })
        })
        .map(|row| row.circuit.as_str())
        .collect();
    assert_eq!(rings, ["C4", "C5"]);
    let neutral = steps(&preparation, "C9").iter().find_map(|step| match &step.action {
        Action::NeutralAt { bar, shared, .. } => Some((bar.clone(), *shared)),
        _ => None,
    });
    assert_eq!(neutral, Some((None, None)), "its own device opens the neutral");
    let off: Vec<&str> = steps(&preparation, "C8")
        .iter()
        .filter_map(|step| match &step.action {
            Action::KeepOff { device, .. } => Some(device.as_str()),
            _ => None,
        })
        .collect();
    assert_eq!(off, ["DB1/8", "DB1.main", "DB2.main"], "the board behind the feeder too");
}

#[test]
fn a_reading_across_what_stays_in_says_so() {
    let preparation = prepared(&demo());
    let readings: Vec<(String, Vec<String>)> = steps(&preparation, "B1")
        .iter()
        .filter_map(|step| match &step.action {
            Action::Read { between, not_while_fitted, .. } => Some((between.join(" to "), not_while_fitted.clone())),
            _ => None,
        })
        .collect();
    let stays = vec!["EB101".to_owned(), "EB102".to_owned()];
    assert_eq!(readings, [("L+N to E".to_owned(), Vec::new()), ("L to N".to_owned(), stays)]);
}

#[test]
fn steps_that_can_hurt_carry_their_caution() {
    for (name, installation) in fixtures() {
        let preparation = prepared(&installation);
        let circuits = preparation.circuits.iter().flat_map(|row| &row.steps);
        let common = [&preparation.before, &preparation.before_readings, &preparation.after];
        for step in common.into_iter().flatten().chain(circuits) {
            let can_hurt = match &step.action {
                Action::Isolate { .. } | Action::ProveDead | Action::Read { .. } | Action::ReleaseAndDischarge => true,
                Action::TakeOut(obstacle) | Action::LeaveIn(obstacle) => obstacle.conducts == "maybe",
                Action::NeutralAt { shared, .. } => shared.is_some(),
                _ => false,
            };
            assert!(step.caution.is_some() || !can_hurt, "{name}: {step:?}");
        }
    }
}

/// One board, one circuit on one way, with these kinds, points and lengths.
fn one_circuit(circuit: Value, kinds: Value, points: Value, lengths: &[(&str, &str, Value)]) -> Preparation {
    let lengths: Vec<Value> = lengths
        .iter()
        .enumerate()
        .map(|(number, (from, to, cores))| {
            json!({ "id": format!("W{number}"), "circuit": "C1", "from": from, "to": to, "metres": 5, "cores": cores })
        })
        .collect();
    prepared(&engine::from_value(&json!({
        "format": 1,
        "installation": { "name": "One", "nominal_voltage": 230, "earthing": "TN-S" },
        "board": [{ "id": "DB1", "origin": true, "way": [{ "id": "1", "device": "mcb" }] }],
        "circuit": [circuit],
        "kind": kinds,
        "point": points,
        "length": lengths,
    })))
}

/// A dimmer that is out leaves its two conductors on no lead, unless a link is put in its place: right after it is taken
/// out, and it comes out again after the readings. What the file joins is part of the wiring, and stays.
#[test]
fn a_link_is_put_in_the_place_of_what_passes_and_comes_out_again() {
    let preparation = prepared(&demo());
    let steps = steps(&preparation, "C6");
    let terminals = ["S603.COM".to_owned(), "S603.L1".to_owned()];
    let link = steps.iter().position(|step| {
        matches!(&step.action, Action::Link { point, terminals: linked, location: Some(_) }
            if point == "S603" && *linked == terminals)
    });
    let taken_out = steps.iter().position(|step| matches!(&step.action, Action::TakeOut(row) if row.what == "S603"));
    assert_eq!(link, taken_out.map(|place| place + 1));
    let last_read = steps.iter().rposition(|step| matches!(step.action, Action::Read { .. }));
    let out = steps.iter().position(|step| {
        matches!(&step.action, Action::TakeLinkOut { point, terminals: linked, .. }
            if point == "S603" && *linked == terminals)
    });
    assert!(link.is_some() && link < last_read && last_read < out, "{link:?} {last_read:?} {out:?}");

    let points = json!([{ "id": "H1", "kind": "appliance-3", "circuit": "C1", "links": [["L1", "L2", "L3"]] }]);
    let cores = json!({ "brown": ["L", "L1"], "blue": ["N", "N"], "cpc": ["E", "E"] });
    let preparation = one_circuit(json!({ "id": "C1", "way": "DB1/1" }), json!([]), points, &[("DB1/1", "H1", cores)]);
    let joined: Vec<&str> = preparation.circuits[0]
        .steps
        .iter()
        .filter_map(|step| match &step.action {
            Action::Joined { point, .. } => Some(point.as_str()),
            Action::TakeLinkOut { .. } => panic!("a hob on one line needs its links"),
            _ => None,
        })
        .collect();
    assert_eq!(joined, ["H1"]);
}

/// Nobody is sent to operate what the file says can't be; a switch that is found off has to close at some time, and a plan
/// says when.
#[test]
fn a_switch_that_reaches_not_all_says_who_operates_it() {
    let point = |id: &str, kind: &str, stands: &str, operable: bool| {
        let mut point = json!({ "id": id, "kind": kind, "circuit": "C1", "stands": stands });
        if !operable {
            point["operable"] = false.into();
        }
        point
    };
    let points = json!([
        point("X1", "switched-socket", "off", false),
        point("X2", "two-way", "unknown", false),
        point("X3", "fused-connection", "off", true),
        point("X4", "two-way", "L2", true),
        point("X5", "one-way", "unknown", true),
        point("X6", "one-way", "on", true),
    ]);
    let preparation = one_circuit(json!({ "id": "C1", "way": "DB1/1" }), json!([]), points, &[]);
    let stands: Vec<(&str, Option<&str>, Operated)> = preparation.circuits[0]
        .steps
        .iter()
        .filter_map(|step| match &step.action {
            Action::Stands { point, position, operated, .. } => Some((&**point, position.as_deref(), *operated)),
            _ => None,
        })
        .collect();
    assert_eq!(
        stands,
        [
            ("X1", Some("off"), Operated::ByNobody),
            ("X2", None, Operated::ByNobody),
            ("X3", Some("off"), Operated::ClosedAsPlanned),
            ("X4", Some("L2"), Operated::AsPlanned),
            ("X5", None, Operated::AsPlanned),
        ]
    );
}

/// A reading, what lies across it however switches stand, and the volts and megohms of the relief that is named with it.
type Never = (String, Vec<String>, Option<(f64, f64)>);

fn never_cut_off(preparation: &Preparation) -> Vec<Never> {
    let read = preparation.circuits[0].steps.iter().filter_map(|step| match &step.action {
        Action::Read { between, never_cut_off, relief, .. } => {
            let relief = relief.as_ref().map(|relief| (relief.volts.0, relief.megohms.0));
            Some((between.join(" to "), never_cut_off.clone(), relief))
        }
        _ => None,
    });
    read.collect()
}

/// BS 7671:2018 reg. 643.3.3: 250 V and at least 1 MΩ where surge protection can't be disconnected. No switch takes it out of
/// the reading, so a person judges that; where one does, the reading is taken with it off.
#[test]
fn a_reading_that_nothing_can_save_says_so() {
    let kinds = json!([{ "id": "spd-socket", "terminals": ["L", "N"], "removable": false, "bridges": [
        { "between": ["L", "N"], "conducts": "maybe" }, { "between": ["N", "E"], "conducts": "maybe" }] }]);
    let full = json!({ "brown": ["L", "L"], "blue": ["N", "N"], "cpc": ["E", "E"] });
    let circuit = json!({ "id": "C1", "way": "DB1/1" });
    let mut relieved = circuit.clone();
    relieved["relief"] = "surge protection built in".into();
    let socket = json!({ "id": "X4", "kind": "spd-socket", "circuit": "C1" });
    let always = vec!["X4".to_owned()];

    let lengths = [("DB1/1", "X4", full)];
    let with_relief = one_circuit(relieved.clone(), kinds.clone(), json!([socket]), &lengths);
    let (to_earth, to_neutral) = ("L+N to E".to_owned(), "L to N".to_owned());
    assert_eq!(
        never_cut_off(&with_relief),
        [
            (to_earth.clone(), always.clone(), Some((250.0, 1.0))),
            (to_neutral.clone(), always.clone(), Some((250.0, 1.0)))
        ]
    );
    let without = one_circuit(circuit, kinds.clone(), json!([socket]), &lengths);
    assert_eq!(
        never_cut_off(&without),
        [(to_earth.clone(), always.clone(), None), (to_neutral.clone(), always.clone(), None)]
    );

    // Behind a double-pole switch it can be cut off, unless nobody works that.
    let behind = [
        ("DB1/1", "Q1", json!({ "brown": ["L", "Lin"], "blue": ["N", "Nin"], "cpc": ["E", "E"] })),
        ("Q1", "X4", json!({ "brown": ["Lout", "L"], "blue": ["Nout", "N"], "cpc": ["E", "E"] })),
    ];
    let mut switch = json!({ "id": "Q1", "kind": "double-pole", "circuit": "C1" });
    let switched = one_circuit(relieved.clone(), kinds.clone(), json!([switch, socket]), &behind);
    assert_eq!(never_cut_off(&switched), [(to_earth.clone(), vec![], None), (to_neutral.clone(), vec![], None)]);
    switch["operable"] = false.into();
    let fixed = one_circuit(relieved.clone(), kinds.clone(), json!([switch, socket]), &behind);
    assert_eq!(never_cut_off(&fixed), never_cut_off(&with_relief));
    switch["stands"] = "unknown".into();
    let unknown = one_circuit(relieved, kinds, json!([switch, socket]), &behind);
    assert_eq!(never_cut_off(&unknown), [(to_earth, vec![], None), (to_neutral, vec![], None)], "less is claimed");
}
