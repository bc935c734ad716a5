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

const SORTS: [&str; 3] = ["lamps", "points", "links"];

fn allowed(sorts: [bool; 3]) -> Vec<&'static str> {
    SORTS.into_iter().zip(sorts).filter(|(_, allowed)| *allowed).map(|(sort, _)| sort).collect()
}

/// Where a plan with extras is wrong; its plan proper must be the one without.
fn wrong(installation: &Value, test_set: Option<&Value>, asked: &Asked) -> Option<String> {
    let mut plan = engine::plan_asked(installation, test_set, asked);
    let found = oracle::wrong_in_extras(installation, test_set, asked, &plan);
    let without = engine::plan_asked(installation, test_set, &Asked { allow: Vec::new(), ..asked.clone() });
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
        sorts in prop_oneof![Just([true; 3]), any::<[bool; 3]>().prop_filter("some sort", |sorts| sorts.contains(&true))],
        need in prop_oneof![Just(2usize), 0..3usize],
        limits in prop_oneof![Just([usize::MAX; 3]), limits()],
        restore: bool,
    ) {
        let asked = Asked { restore, allow: allowed(sorts), ..limited(&case.installation, need, limits) };
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
        let asked = Asked { allow: SORTS.to_vec(), ..Asked::of(NEEDS[need]) };
        let mut limits = Limits::default();
        limits.plan.extra_nodes = most;
        limits.plan.extras_compared = most;
        limits.plan.extra_settings = most;
        limits.plan.remedy_bridges = most;
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
            for sorts in [vec!["lamps"], vec!["points"], vec!["links"], SORTS.to_vec()] {
                let asked = Asked { allow: sorts, ..Asked::of(need) };
                let found = wrong(&fixture.installation, None, &asked);
                assert_eq!(found, None, "{} {need} {:?}", fixture.name, asked.allow);
                let plan = engine::plan_asked(&fixture.installation, None, &asked);
                let steps = plan["extras"]["used"].as_array().unwrap().iter().map(|extra| extra["do"].to_string());
                used.extend(steps);
            }
        }
    }
    for sort in ["leave-fitted", "take-instrument-to", "link"] {
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
    let asked = Asked { allow: vec!["links"], ..Asked::of("standard") };
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
    let asked = Asked { allow: vec!["lamps"], ..Asked::of("every-pair") };
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

/// That a wrong answer would be seen.
#[test]
fn a_changed_plan_is_wrong() {
    let fixture = small::fixture("two-way");
    let asked = Asked { allow: SORTS.to_vec(), ..Asked::of("every-pair") };
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
