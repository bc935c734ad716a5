//! Extras: what a plan does for pairs that can't be tested otherwise.

use lengthwise::Limits;
use lengthwise::plan::SearchBy;
use proptest::prelude::*;
use serde_json::{Value, json};

use crate::asked::{Asked, limited, limits};
use crate::engine::{self, NEEDS};
use crate::oracle;
use crate::small;
use crate::strategy::{cases, planning_clusters, times};

const SORTS: [&str; 5] = ["lamps", "points", "find-out", "links", "accessories"];

fn allowed(sorts: [bool; 5]) -> Vec<&'static str> {
    SORTS.into_iter().zip(sorts).filter(|(_, allowed)| *allowed).map(|(sort, _)| sort).collect()
}

/// Where a plan with extras is wrong; its plan proper must be the one without.
fn wrong(installation: &Value, test_set: Option<&Value>, asked: &Asked) -> Option<String> {
    let mut plan = engine::plan_asked(installation, test_set, asked);
    let found = oracle::wrong_in_extras(installation, test_set, asked, &plan);
    let without = engine::plan_asked(installation, test_set, &Asked { extras: Vec::new(), ..asked.clone() });
    plan.as_object_mut()?.remove("extras");
    let found = found.or_else(|| oracle::wrong_in_remedies(installation, test_set, asked, &without));
    let found = found.or((plan != without).then(|| "the plan proper is another one".to_owned()));
    found.map(|found| format!("{found}\n{:#}", engine::plan_asked(installation, test_set, asked)))
}

proptest! {
    #![proptest_config(times(200))]

    #[test]
    fn extras_are_sound_and_the_fewest(
        case in prop_oneof![planning_clusters(), cases()],
        sorts in prop_oneof![Just([true; 5]), any::<[bool; 5]>().prop_filter("some sort", |sorts| sorts.contains(&true))],
        need in prop_oneof![Just(2usize), 0..3usize],
        limits in prop_oneof![Just([usize::MAX; 3]), limits()],
        restore: bool,
    ) {
        let asked = Asked { restore, extras: allowed(sorts), ..limited(&case.installation, need, limits) };
        for test_set in [None, Some(&case.test_set)] {
            prop_assert_eq!(wrong(&case.installation, test_set, &asked), None);
        }
    }
}

/// Past its limits a plan is as sound: as many pairs are tested by extras, and what is not known to be the least is not
/// called so.
fn wrong_past_limits(installation: &Value, test_set: Option<&Value>, asked: &Asked, limits: Limits) -> Option<String> {
    let plan = engine::plan_asked(installation, test_set, asked);
    let tiny = engine::plan_within(installation, test_set, asked, SearchBy::Size, limits);
    let number = |plan: &Value, what: &str| plan.pointer(what).and_then(Value::as_u64).unwrap();
    let [fewest, used] = [&plan, &tiny].map(|plan| number(plan, "/extras/totals/extras"));
    oracle::unsound_in_extras(installation, test_set, asked, &tiny)
        .or_else(|| oracle::wrong_in_remedies(installation, test_set, asked, &tiny))
        .or((tiny["extras"]["left"] != plan["extras"]["left"]).then(|| "other pairs are left".to_owned()))
        .or((number(&tiny, "/extras/at_least") > fewest).then(|| "too high a bound".to_owned()))
        .or((used != fewest && tiny["extras"]["optimal"] == true).then(|| "not the fewest, and said to be".to_owned()))
        .or(["rounds", "totals"].into_iter().find(|key| plan[key] != tiny[key]).map(|key| format!("other {key}")))
        .map(|found| format!("{found}\n{tiny:#}\nwithin larger limits: {plan:#}"))
}

proptest! {
    #![proptest_config(times(100))]

    #[test]
    fn past_its_limits_a_plan_with_extras_claims_less_and_nothing_wrong(
        case in prop_oneof![planning_clusters(), cases()],
        need in prop_oneof![Just(2usize), 0..3usize],
        most in 0..3usize,
    ) {
        let asked = Asked { extras: SORTS.to_vec(), ..Asked::of(NEEDS[need]) };
        let mut limits = Limits::default();
        limits.plan.extra_nodes = most;
        limits.plan.extras_compared = most;
        limits.plan.extra_settings = most;
        for test_set in [None, Some(&case.test_set)] {
            prop_assert_eq!(wrong_past_limits(&case.installation, test_set, &asked, limits.clone()), None);
        }
    }
}

#[test]
fn extras_of_small_fixtures_are_sound_and_the_fewest() {
    let mut used = Vec::new();
    for fixture in small::all() {
        for need in NEEDS {
            for sorts in SORTS.map(|sort| vec![sort]).into_iter().chain([SORTS.to_vec()]) {
                let asked = Asked { extras: sorts, ..Asked::of(need) };
                let found = wrong(&fixture.installation, None, &asked);
                assert_eq!(found, None, "{} {need} {:?}", fixture.name, asked.extras);
                let plan = engine::plan_asked(&fixture.installation, None, &asked);
                let steps = plan["extras"]["used"].as_array().unwrap().iter().map(|extra| extra["do"].to_string());
                used.extend(steps);
            }
        }
    }
    for sort in ["leave-fitted", "take-instrument-to", "link", "take-off"] {
        assert!(used.contains(&format!("{sort:?}")), "no fixture uses {sort}: then this tests nothing of it");
    }
}

/// By hand: behind sensor and dimmer, both linked, electronics that stay in lie across line and neutral. With the dimmer's
/// link out they are off the line, and all before the dimmer is tested; what is behind it stays void.
#[test]
fn a_link_of_the_preparation_comes_out_where_it_leads_to_what_lies_across() {
    let mut installation = small::fixture("linked").installation;
    let lamp = installation["point"].as_array_mut().unwrap().iter_mut().find(|point| point["id"] == "E1").unwrap();
    lamp["lamp"] = "led".into();
    lamp["removable"] = false.into();
    let asked = Asked { extras: vec!["links"], ..Asked::of("standard") };
    assert_eq!(wrong(&installation, None, &asked), None);
    let plan = engine::plan_asked(&installation, None, &asked);
    let untestable: Vec<&Value> = plan["untestable"].as_array().unwrap().iter().map(|row| &row["length"]).collect();
    assert_eq!(untestable, ["W1", "W2", "W3"]);
    assert_eq!(plan["untestable"][0]["remedy"]["do"], "take-link-out");
    let used = plan["extras"]["used"].as_array().unwrap();
    assert_eq!([&used[0]["do"], &used[0]["point"]], ["take-link-out", "D1"]);
    assert_eq!(used.len(), 1);
    let adds = json!([["W1", "blue", "brown"], ["W2", "blue", "brown"]]);
    assert_eq!(used[0]["rounds"][0]["readings"][0]["adds"], adds);
    assert_eq!(plan["extras"]["left"], json!([["W3", "blue", "brown"]]));
}

/// By hand, from the wiring rule of two-way switching: with the lamp in, line reaches one strapper at the feed switch
/// while the other strapper hangs on the lamp at the far one, and through the lamp on neutral (FACTS: reached through
/// a lamp).
#[test]
fn the_strappers_of_a_two_way_circuit_are_tested_to_each_other_through_the_lamp() {
    let fixture = small::fixture("two-way");
    let asked = Asked { extras: vec!["lamps"], ..Asked::of("every-pair") };
    let plan = engine::plan_asked(&fixture.installation, None, &asked);
    let extras = &plan["extras"];
    assert_eq!(extras["totals"], json!({ "extras": 1, "rounds": 1, "operations": 0, "readings": 1 }));
    assert_eq!([&extras["optimal"], &extras["at_least"], &extras["left"]], [&json!(true), &json!(1), &json!([])]);
    let used = &extras["used"][0];
    assert_eq!([&used["do"], &used["bridge"]], ["leave-fitted", "E1"]);
    assert_eq!(used["for"], json!([{ "length": "W2", "cores": ["black", "brown"], "why": "same-lead" }]));
    let reading = &used["rounds"][0]["readings"][0];
    assert_eq!(reading["between"], json!(["L", "N"]));

    // The same as a test set, and asked of `cover`, in both engines: S1 stands in L2 after the plan, S2 in L1.
    let tests = json!({
        "format": 1,
        "pass": [{ "set": { "S1": "L2" }, "refit": ["E1"], "reading": [{ "circuit": "C1", "between": ["L", "N"] }] }],
    });
    for cover in [engine::cover, oracle::cover] {
        let report = cover(&fixture.installation, &tests, "every-pair");
        let pairs = report["pairs"].as_array().unwrap();
        let strappers = pairs.iter().find(|pair| pair["length"] == "W2" && pair["cores"] == json!(["black", "brown"]));
        assert_eq!(
            [&strappers.unwrap()["class"], &strappers.unwrap()["tested"]],
            [&json!("same-polarity"), &json!(true)]
        );
    }
}

/// A circuit of its own, of these points and lengths.
fn circuit_of(points: Value, lengths: Value, kinds: Value) -> Value {
    json!({
        "format": 1,
        "installation": { "name": "By hand", "nominal_voltage": 230 },
        "board": [{ "id": "DB1", "origin": true, "way": [{ "id": "1", "device": "mcb" }] }],
        "circuit": [{ "id": "C1", "way": "DB1/1" }],
        "kind": kinds,
        "point": points,
        "length": lengths,
    })
}

fn planned(installation: &Value, asked: &Asked) -> Value {
    assert_eq!(wrong(installation, None, asked), None);
    engine::plan_asked(installation, None, asked)
}

/// By hand: the interconnect of two alarm heads is reached from no way. At a base it is read to the line, the neutral and
/// the protective conductor at once.
#[test]
fn an_interconnect_is_tested_by_one_reading_at_a_base() {
    let fixture = small::fixture("alarm");
    let plan = planned(&fixture.installation, &Asked { extras: SORTS.to_vec(), ..Asked::of("standard") });
    let used = &plan["extras"]["used"];
    assert_eq!([&used[0]["do"], &used[0]["point"]], ["take-instrument-to", "B1"]);
    let reading = &used[0]["rounds"][0]["readings"][0];
    assert_eq!(reading["between"], json!(["B1.L+B1.N+B1.E", "B1.IC"]));
    let adds = [["W2", "black", "blue"], ["W2", "black", "brown"], ["W2", "black", "cpc"]];
    let same =
        |row: &Value| adds.iter().any(|pair| pair.iter().all(|name| row.as_array().unwrap().contains(&json!(name))));
    let rows = reading["adds"].as_array().unwrap();
    assert!(rows.len() == 3 && rows.iter().all(same), "{rows:?}");
    assert_eq!(used[0]["rounds"][0]["readings"].as_array().unwrap().len(), 1);
}

/// By hand: a neon that stays in lies across line and neutral, whatever is done at the way. Taken off, the cores that
/// met at it stay together in connectors, so one reading at the way tests both cables. With two neons both come off.
#[test]
fn an_accessory_is_taken_off_where_what_it_holds_lies_across() {
    let kinds = json!([{
        "id": "neon", "terminals": ["L", "N", "E"], "bridges": [{ "between": ["L", "N"], "conducts": "maybe" }],
        "removable": false,
    }]);
    let points = |fixed: bool| {
        json!([
            { "id": "X1", "kind": "neon", "circuit": "C1", "fixed": fixed }, { "id": "X2", "kind": "socket", "circuit": "C1" },
        ])
    };
    let cores = json!({ "brown": ["L", "L"], "blue": ["N", "N"], "cpc": ["E", "E"] });
    let length = |id: &str, from: &str, to: &str| json!({ "id": id, "circuit": "C1", "from": from, "to": to, "metres": 2.0, "cores": cores });
    let lengths = json!([length("W1", "DB1/1", "X1"), length("W2", "X1", "X2")]);
    let asked = Asked { extras: SORTS.to_vec(), ..Asked::of("standard") };
    let plan = planned(&circuit_of(points(false), lengths.clone(), kinds.clone()), &asked);
    let used = plan["extras"]["used"].as_array().unwrap();
    assert_eq!((used.len(), &used[0]["do"], &used[0]["point"]), (1, &json!("take-off"), &json!("X1")));
    let reading = &used[0]["rounds"][0]["readings"][0];
    assert_eq!(reading["between"], json!(["L", "N"]));
    assert_eq!(reading["adds"], json!([["W1", "blue", "brown"], ["W2", "blue", "brown"]]));
    assert_eq!(plan["extras"]["left"], json!([]));

    // Nobody takes it off.
    let plan = planned(&circuit_of(points(true), lengths.clone(), kinds.clone()), &asked);
    assert_eq!(plan["extras"]["used"], json!([]));
    assert_eq!(plan["extras"]["left"], json!([["W1", "blue", "brown"], ["W2", "blue", "brown"]]));

    let mut both = points(false);
    both[1]["kind"] = "neon".into();
    let plan = planned(&circuit_of(both, lengths, kinds), &asked);
    let used = plan["extras"]["used"].as_array().unwrap();
    assert_eq!((used.len(), &used[0]["do"]), (1, &json!("together")));
    let off = |point: &str| json!({ "do": "take-off", "point": point });
    assert_eq!(used[0]["together"], json!([off("X1"), off("X2")]));
    assert_eq!(used[0]["rounds"][0]["readings"][0]["between"], json!(["L", "N"]));
    assert_eq!([&plan["extras"]["totals"]["extras"], &plan["extras"]["at_least"]], [2, 2]);
    assert_eq!(plan["extras"]["left"], json!([]));
}

/// By hand: S takes the line to one of two cores, and D, which nobody can operate or see, the neutral to one of them. If
/// they take both to the same core the leads are joined: so line to neutral is void unless it is known how D stands.
/// Then S is put where D is not. The plan leaves S in L2, after both cores were read to earth.
#[test]
fn how_a_switch_stands_is_found_out_where_nothing_else_does() {
    let points = json!([
        { "id": "S", "kind": "two-way", "circuit": "C1", "stands": "L1", "terminals": ["N"] },
        { "id": "D", "kind": "two-way", "circuit": "C1", "operable": false, "stands": "unknown" },
    ]);
    let lengths = json!([
        { "id": "W1", "circuit": "C1", "from": "DB1/1", "to": "S", "metres": 2.0,
          "cores": { "l": ["L", "COM"], "n": ["N", "N"], "cpc": ["E", "E"] } },
        { "id": "W2", "circuit": "C1", "from": "S", "to": "D", "metres": 2.0,
          "cores": { "x": ["L1", "L1"], "y": ["L2", "L2"], "n": ["N", "COM"], "cpc": ["E", "E"] } },
    ]);
    let asked = Asked { extras: vec!["find-out"], ..Asked::of("standard") };
    let plan = planned(&circuit_of(points, lengths, json!([])), &asked);
    let extras = &plan["extras"];
    let used = extras["used"].as_array().unwrap();
    assert_eq!((used.len(), &used[0]["do"], &used[0]["point"]), (1, &json!("find-out"), &json!("D")));
    let pairs: Vec<Value> =
        used[0]["for"].as_array().unwrap().iter().map(|row| json!([row["length"], row["cores"]])).collect();
    assert_eq!(pairs, [json!(["W1", ["l", "n"]]), json!(["W2", ["x", "y"]])]);
    let found = used[0]["found"].as_array().unwrap();
    let read = json!(["L", "N"]);
    assert_eq!(found.len(), 2);
    // Found in L1: S stands in L2 already.
    assert_eq!(found[0]["position"], "L1");
    assert_eq!(found[0]["rounds"].as_array().unwrap().len(), 1);
    assert_eq!(found[0]["rounds"][0]["operations"], json!([]));
    assert_eq!(found[0]["rounds"][0]["readings"][0]["between"], read);
    // Found in L2: S goes to L1, and back.
    assert_eq!(found[1]["position"], "L2");
    let goes = |round: usize| &found[1]["rounds"][round]["operations"][0]["to"];
    assert_eq!([goes(0), goes(1)], ["L1", "L2"]);
    assert_eq!(found[1]["rounds"][0]["readings"][0]["between"], read);
    assert_eq!(found[1]["rounds"][1]["readings"], json!([]));
    assert_eq!(extras["totals"], json!({ "extras": 1, "rounds": 2, "operations": 2, "readings": 1 }));
    assert_eq!(extras["left"], json!([["W2", "n", "x"], ["W2", "n", "y"]]));
}

/// That a wrong answer would be seen.
#[test]
fn a_changed_plan_is_wrong() {
    let fixture = small::fixture("two-way");
    let asked = Asked { extras: SORTS.to_vec(), ..Asked::of("every-pair") };
    let plan = engine::plan_asked(&fixture.installation, None, &asked);
    let is_wrong = |plan: &Value| oracle::wrong_in_extras(&fixture.installation, None, &asked, plan).is_some();
    assert!(!is_wrong(&plan));
    for (place, value) in [
        ("/extras/at_least", json!(0)),
        ("/extras/used/0/rounds/0/readings/0/between", json!(["L+N", "E"])),
        ("/extras/used/0/rounds/0/operations", json!([{ "device": "S2", "from": "L1", "to": "L2" }])),
        ("/extras/used", json!([])),
        ("/extras/left", json!([["W2", "brown", "black"]])),
    ] {
        let mut changed = plan.clone();
        *changed.pointer_mut(place).unwrap() = value;
        assert!(is_wrong(&changed), "{place}");
    }
}
