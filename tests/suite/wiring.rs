//! What makes each load work, and what is under each terminal.

use lengthwise::wiring::{Terminations, Working, Works, warnings};
use lengthwise::{Input, Limits, Network, read_installation};
use proptest::prelude::*;
use serde_json::{Value, json};

use crate::engine;
use crate::large::corridor;
use crate::oracle;
use crate::small;
use crate::strategy::{cases, times, wide_clusters};

fn works(installation: &Value) -> Vec<Value> {
    let works = Works::of(&Network::of(engine::from_value(installation)));
    let said = serde_json::to_value(&works).expect("it is data");
    assert_eq!(serde_json::from_value::<Works>(said.clone()).expect("it is what was said"), works);
    said["loads"].as_array().expect("loads").clone()
}

/// Where the engine says otherwise than every configuration in turn.
fn wrong(installation: &Value) -> Option<String> {
    let expected = oracle::works(installation)?;
    let loads = works(installation);
    let plain = |load: &Value| {
        let mut conductors: Vec<&str> =
            load["conductors"].as_array().unwrap().iter().map(|name| name.as_str().unwrap()).collect();
        conductors.sort_unstable();
        json!({
            "point": load["point"], "between": load["between"], "works": load["works"], "devices": load["devices"],
            "each_turns": load["each_turns"], "through": load["through"] != json!([]), "conductors": conductors,
            "circuits": load["circuits"],
        })
    };
    let said: Vec<Value> = loads.iter().map(plain).collect();
    if let Some((said, expected)) = said.iter().zip(&expected).find(|(said, expected)| said != expected) {
        return Some(format!("said {said}, expected {expected}"));
    }
    if said.len() != expected.len() {
        return Some(format!("{} loads said, {} expected", said.len(), expected.len()));
    }
    loads.iter().filter(|load| load["works"] == "depends").find_map(|load| oracle::wrong_in_words(installation, load))
}

proptest! {
    #![proptest_config(times(400))]

    #[test]
    fn what_makes_loads_work_is_so_in_every_configuration(case in prop_oneof![cases(), wide_clusters()]) {
        prop_assert_eq!(wrong(&case.installation), None);
    }
}

#[test]
fn what_makes_loads_work_is_so_in_the_small_installations() {
    let mut count = 0;
    for fixture in small::all() {
        count += usize::from(oracle::works(&fixture.installation).is_some());
        assert_eq!(wrong(&fixture.installation), None, "{}", fixture.name);
    }
    assert!(count > 10, "{count}");
}

fn demo() -> Network {
    Network::of(
        read_installation(Input::toml(include_str!("../../demo/skerry-light.toml"))).expect("the demo is right"),
    )
}

fn of_point<'w>(works: &'w Works, point: &str) -> Vec<&'w lengthwise::wiring::LoadWorks> {
    works.loads.iter().filter(|load| load.point == point).collect()
}

/// What its comments say of the demo's circuits, by the trade's own words: two-way and intermediate switching turns a
/// light from every switch.
#[test]
fn the_demo_works_as_its_comments_say() {
    let works = Works::of(&demo());
    assert!(works.loads.iter().all(|load| ![Working::Never, Working::NotWorkedOut].contains(&load.works)));
    let stair = of_point(&works, "E204")[0];
    assert_eq!(stair.each_turns, ["S201", "S202", "S203", "S204", "S205", "S206"]);
    let dimmed = of_point(&works, "E603")[0];
    assert_eq!((dimmed.through.join(" "), dimmed.devices.join(" ")), ("S603".to_owned(), "S601".to_owned()));
    let heater = of_point(&works, "H1201")[0];
    assert_eq!(
        (heater.decided.while_all[0].device.as_str(), &*heater.decided.while_all[0].positions),
        ("K1201", &["held-in".to_owned()][..])
    );
    let alarm = of_point(&works, "B701");
    assert_eq!((alarm.len(), alarm[0].works), (1, Working::Always));
    let quay = of_point(&works, "E1301")[0];
    assert_eq!(
        (quay.conductors.join(" "), quay.circuits.join(" ")),
        ("T1301.V1 T1301.V2".to_owned(), "C13-ELV".to_owned())
    );
}

/// A corridor whose light has its neutral.
fn lit(intermediates: usize) -> Value {
    let mut installation = corridor(intermediates);
    let light = installation["point"].as_array().and_then(|points| points.last()).expect("a light")["id"].clone();
    let neutral = json!({
        "id": "WN", "circuit": "C1", "from": "DB1/1", "to": light, "metres": 3.0, "cores": { "blue": ["N", "N"] }
    });
    installation["length"].as_array_mut().expect("lengths").push(neutral);
    installation
}

/// However many switches there are, each turns the light.
#[test]
fn forty_switches_each_turn_one_light() {
    let works = works(&lit(38));
    let [light] = &works[..] else { panic!("{works:?}") };
    assert_eq!(light["each_turns"].as_array().map(Vec::len), Some(40));
    assert_eq!(light["turned_by"], light["each_turns"]);
}

#[test]
fn what_is_too_large_is_not_worked_out() {
    let mut limits = Limits::default();
    (limits.tables.combinations, limits.tables.diagram_nodes) = (1, 1);
    let network = Network::of(engine::from_value(&lit(6))).with_limits(limits);
    assert_eq!(Works::of(&network).loads[0].works, Working::NotWorkedOut);
}

/// Under the terminals of all boxes is each end of each core, once; and named boxes say what all do.
#[test]
fn each_end_of_each_core_is_in_one_box() {
    for installation in small::all().iter().map(|fixture| &fixture.installation) {
        let built = engine::from_value(installation);
        let all = Terminations::of(&built);
        let mut ends: Vec<[String; 3]> = Vec::new();
        for row in &all.boxes {
            for terminal in &row.terminals {
                let full = |id: &str| {
                    if row.kind == "board" { terminal.terminal.clone() } else { format!("{id}.{}", terminal.terminal) }
                };
                ends.extend(terminal.cores.iter().map(|core| [core.length.clone(), core.core.clone(), full(&row.id)]));
            }
            ends.extend(row.loose.iter().map(|core| [core.length.clone(), core.core.clone(), "-".to_owned()]));
            let named = Terminations::at(&built, &[&row.id]).expect("it is there");
            assert_eq!(named.boxes, std::slice::from_ref(row));
        }
        let mut written: Vec<[String; 3]> = Vec::new();
        for length in installation["length"].as_array().expect("lengths") {
            for (core, terminals) in length["cores"].as_object().expect("cores") {
                for (end, terminal) in ["from", "to"].iter().zip(terminals.as_array().expect("two ends")) {
                    let name = |text: &Value| text.as_str().expect("text").to_owned();
                    let terminal = match terminal.as_str() {
                        Some("-") => "-".to_owned(),
                        _ => format!("{}.{}", name(&length[*end]), name(terminal)),
                    };
                    written.push([name(&length["id"]), core.clone(), terminal]);
                }
            }
        }
        ends.sort();
        written.sort();
        assert_eq!(ends, written);
    }
}

#[test]
fn every_box_that_is_not_there_is_told() {
    let demo = demo();
    let unknown =
        Terminations::at(demo.installation(), &["S201", "S2O1", "nowhere-at-all"]).expect_err("two are not there");
    assert_eq!(
        unknown.iter().map(|row| row.mend()).collect::<Vec<_>>(),
        ["write `S201`, if that is meant", "write the id of a point or of a board"]
    );
}

/// Two circuits of one socket each, on two lines.
fn sockets() -> Value {
    let socket =
        |number: usize| json!({ "id": format!("X{number}"), "kind": "socket", "circuit": format!("C{number}") });
    let length = |number: usize| {
        json!({
            "id": format!("W{number}"), "circuit": format!("C{number}"), "from": format!("DB1/{number}"), "cable": "2c+e 2.5",
            "to": format!("X{number}"), "metres": 4.0,
            "cores": { "brown": [format!("L{number}"), "L"], "blue": ["N", "N"], "cpc": ["E", "E"] }
        })
    };
    json!({
        "format": 1,
        "installation": { "name": "Two sockets", "nominal_voltage": 230, "phases": 3 },
        "board": [{ "id": "DB1", "origin": true, "way": [
            { "id": "1", "device": "mcb", "poles": ["L1"] }, { "id": "2", "device": "mcb", "poles": ["L2"] }] }],
        "circuit": [{ "id": "C1", "way": "DB1/1" }, { "id": "C2", "way": "DB1/2" }],
        "point": [socket(1), socket(2)],
        "length": [length(1), length(2)],
    })
}

fn warned(installation: &Value) -> Vec<String> {
    let found = warnings(&Network::of(engine::from_value(installation))).into_iter();
    found.map(|warning| format!("{} {}", warning.code.name(), warning.at.join(" "))).collect()
}

/// Each mistake is warned of, and nothing else; and no longer where it is allowed.
#[test]
fn each_mistake_is_warned_of_until_it_is_allowed() {
    assert_eq!(warned(&sockets()), [""; 0]);
    let extra = |cores: Value| json!({ "id": "W3", "circuit": "C1", "from": "DB1/2", "to": "X1", "metres": 2.0, "cores": cores });
    let push = |list: &'static str, row: Value| {
        move |file: &mut Value| file[list].as_array_mut().expect("a list").push(row.clone())
    };
    type Mistake = Box<dyn Fn(&mut Value)>;
    let mistakes: Vec<(Mistake, &[&str])> = vec![
        (
            Box::new(|file| file["length"][0]["cores"]["brown"] = json!(["L1", "-"])),
            &["never-works X1", "open-end W1.brown"],
        ),
        (
            Box::new(move |file| {
                file["length"][0]["cores"].as_object_mut().expect("cores").remove("blue");
                file["length"][0]["cable"] = "2-core".into();
                push("length", extra(json!({ "blue": ["N", "N"] })))(file);
            }),
            &["other-circuit X1", "put-down-elsewhere W3"],
        ),
        (Box::new(|file| file["length"][1]["circuit"] = "C1".into()), &["put-down-elsewhere W2"]),
        (
            Box::new(|file| {
                file["length"][0]["cores"]["brown"] = json!(["L1", "N"]);
                file["length"][0]["cores"]["blue"] = json!(["N", "L"]);
            }),
            &["reversed X1"],
        ),
        (
            Box::new(move |file| {
                file["length"][0]["cores"].as_object_mut().expect("cores").remove("blue");
                file["length"][0]["cable"] = "2-core".into();
                push("length", extra(json!({ "brown": ["L2", "N"] })))(file);
            }),
            &["other-circuit X1", "put-down-elsewhere W3", "two-lines X1"],
        ),
        (
            Box::new(move |file| {
                push("point", json!({ "id": "S1", "kind": "one-way", "circuit": "C1" }))(file);
                let mut row = extra(json!({ "brown": ["L1", "COM"], "blue": ["N", "L1"] }));
                (row["from"], row["to"]) = ("DB1/1".into(), "S1".into());
                push("length", row)(file);
            }),
            &["supply-joined S1"],
        ),
        (Box::new(|file| file["length"][0]["cores"]["cpc"] = json!(["-", "E"])), &["earth-not-joined W1.cpc"]),
        (Box::new(|file| file["length"][0]["cores"]["cpc"] = json!(["E", "-"])), &["open-end W1.cpc"]),
        (Box::new(push("point", json!({ "id": "J1", "kind": "junction", "circuit": "C1" }))), &["no-cores J1"]),
        (Box::new(|file| file["length"][0]["cable"] = "3 core flex".into()), &[""; 0]),
        (Box::new(|file| file["length"][0]["cable"] = "3c+e 2.5".into()), &["cable-cores W1"]),
    ];
    for (mistake, expected) in mistakes {
        let mut file = sockets();
        mistake(&mut file);
        assert_eq!(warned(&file), expected);
        let allow = expected.iter().map(|warning| {
            let (code, at) = warning.split_once(' ').expect("a place");
            json!({ "code": code, "at": [at], "because": "it is meant" })
        });
        file["allow"] = allow.collect();
        assert_eq!(warned(&file), [""; 0]);
    }
    let mut file = sockets();
    file["allow"] = json!([{ "code": "open-end", "at": ["W1.cpc"], "because": "it was so" }]);
    assert_eq!(warned(&file), ["nothing-to-allow W1.cpc"]);
}

/// With a strapper left out before the first switch, that one no longer turns the light whatever the others do.
#[test]
fn a_strapper_that_is_left_out_is_warned_of() {
    let mut file = lit(1);
    file["length"][1]["cores"]["c1"] = json!(["L2", "-"]);
    assert_eq!(warned(&file), ["does-not-turn P0", "open-end W1.c1"]);
}

/// A sound installation is not warned of.
#[test]
fn the_demo_and_the_examples_have_no_warnings() {
    let landing = include_str!("../../examples/landing.toml");
    for text in [include_str!("../../demo/skerry-light.toml"), landing] {
        let network = Network::of(read_installation(Input::toml(text)).expect("it is right"));
        assert_eq!(warnings(&network), []);
    }
}
