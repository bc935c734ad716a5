//! The engine and the oracle, which share no code, give the same answers.

use proptest::prelude::*;
use serde_json::{Value, json};

use crate::engine::{self, NEEDS};
use crate::oracle;
use crate::small;
use crate::strategy::{cases, large_cases, planning_clusters, times};

/// `value` without the keys that `pattern` lacks, all the way down: more keys may be added beside those of the format.
fn only_keys_of(pattern: &Value, value: &Value) -> Value {
    match (pattern, value) {
        (Value::Object(pattern), Value::Object(value)) => {
            let known =
                value.iter().filter_map(|(key, value)| Some((key.clone(), only_keys_of(pattern.get(key)?, value))));
            Value::Object(known.collect())
        }
        (Value::Array(patterns), Value::Array(values)) if patterns.len() == values.len() => {
            patterns.iter().zip(values).map(|(pattern, value)| only_keys_of(pattern, value)).collect()
        }
        // One thing said of each entry, or lists that differ in length and so cannot be the same.
        _ => value.clone(),
    }
}

/// Sums of metres may differ in the last bit, and the format does not say in which order positions are listed.
fn in_one_form(mut report: Value) -> Value {
    for sum in ["metres_required", "metres_tested"] {
        if let Some(metres) = report["summary"][sum].as_f64() {
            report["summary"][sum] = json!((metres * 1000.0).round() / 1000.0);
        }
    }
    if let Some(positions) = report["positions"].as_array_mut() {
        positions.sort_by_key(|position| [position["device"].to_string(), position["position"].to_string()]);
    }
    report
}

/// The first place at which the engine's `cover` says otherwise than the oracle's.
fn difference_in_cover(installation: &Value, test_set: &Value, need: &str) -> Option<String> {
    let oracle = in_one_form(oracle::cover(installation, test_set, need));
    let engine = in_one_form(engine::cover(installation, test_set, need));
    let engine = only_keys_of(&oracle, &engine);
    difference("", &oracle, &engine)
}

fn difference(place: &str, oracle: &Value, engine: &Value) -> Option<String> {
    match (oracle, engine) {
        (Value::Object(a), Value::Object(b)) if a.keys().eq(b.keys()) => {
            a.iter().find_map(|(key, value)| difference(&format!("{place}.{key}"), value, &b[key]))
        }
        (Value::Array(a), Value::Array(b)) if a.len() == b.len() => {
            let mut entries = a.iter().zip(b).enumerate();
            entries.find_map(|(number, (x, y))| {
                difference(&format!("{place}[{number}]"), x, y).map(|found| {
                    if place.matches('[').count() == 0 {
                        format!("{found}\nin oracle's {x}\nand engine's {y}")
                    } else {
                        found
                    }
                })
            })
        }
        _ => (oracle != engine).then(|| format!("{place}: oracle {oracle}, engine {engine}")),
    }
}

/// Where the engine's plan says otherwise than the oracle's; none too where the question is too large for the oracle.
fn difference_in_plan(installation: &Value, test_set: Option<&Value>, need: &str) -> Option<String> {
    let oracle = oracle::plan(installation, test_set, need)?;
    difference_from(&oracle, engine::plan(installation, test_set, need))
}

/// The same where every cluster is searched by the solver. Stops that several clusters share are not proven then.
fn difference_in_plan_by_solver(installation: &Value, test_set: Option<&Value>, need: &str) -> Option<String> {
    let mut oracle = oracle::plan(installation, test_set, need)?;
    let mut engine = engine::plan_by_solver(installation, test_set, need);
    if engine["optimal"]["stops"] == false {
        let stops = [oracle["stops"].take(), engine["totals"]["stops"].take()];
        if stops[1].as_u64() < stops[0].as_u64() {
            return Some(format!("fewer stops than can be: {stops:?}"));
        }
    }
    difference_from(&oracle, engine)
}

fn difference_from(oracle: &Value, engine: Value) -> Option<String> {
    let mut said = json!({ "untestable": engine["untestable"] });
    for total in ["walks", "operations", "stops"] {
        said[total] = engine["totals"][total].clone();
    }
    let mut said = only_keys_of(oracle, &said);
    // Where none of the format's reasons holds, any may be given.
    for (oracle, engine) in oracle["untestable"].as_array()?.iter().zip(said["untestable"].as_array_mut()?) {
        if oracle["why"].is_null() {
            engine["why"] = Value::Null;
        }
    }
    let optimal = (!engine::is_optimal(&engine)).then(|| format!("not known to be the least: {}", engine["optimal"]));
    let bounds =
        ["walks", "operations"].into_iter().find(|what| engine["bounds"][what].as_u64() > oracle[what].as_u64());
    let bounds = bounds.map(|what| format!("the bound on {what} is wrong: {}", engine["bounds"]));
    difference("", oracle, &said)
        .or(bounds)
        .or(optimal)
        .map(|found| format!("{found}\nengine: {engine:#}\noracle: {oracle:#}"))
}

proptest! {
    #![proptest_config(times(400))]

    #[test]
    fn cover_agrees(case in cases(), need in 0..3usize) {
        prop_assert_eq!(difference_in_cover(&case.installation, &case.test_set, NEEDS[need]), None);
    }
}

proptest! {
    #![proptest_config(times(320))]

    #[test]
    fn plans_of_clusters_agree(case in planning_clusters(), need in 0..3usize) {
        prop_assert_eq!(difference_in_plan(&case.installation, None, NEEDS[need]), None);
        prop_assert_eq!(difference_in_plan(&case.installation, Some(&case.test_set), NEEDS[need]), None);
    }
}

proptest! {
    #![proptest_config(times(200))]

    #[test]
    fn plans_of_whole_installations_agree(case in cases(), need in 0..3usize) {
        prop_assert_eq!(difference_in_plan(&case.installation, None, NEEDS[need]), None);
        prop_assert_eq!(difference_in_plan(&case.installation, Some(&case.test_set), NEEDS[need]), None);
    }
}

proptest! {
    #![proptest_config(times(200))]

    #[test]
    fn plans_of_clusters_by_the_solver_agree(case in planning_clusters(), need in 0..3usize) {
        prop_assert_eq!(difference_in_plan_by_solver(&case.installation, None, NEEDS[need]), None);
        prop_assert_eq!(difference_in_plan_by_solver(&case.installation, Some(&case.test_set), NEEDS[need]), None);
    }

    #[test]
    fn plans_of_whole_installations_by_the_solver_agree(case in cases(), need in 0..3usize) {
        prop_assert_eq!(difference_in_plan_by_solver(&case.installation, None, NEEDS[need]), None);
        prop_assert_eq!(difference_in_plan_by_solver(&case.installation, Some(&case.test_set), NEEDS[need]), None);
    }
}

proptest! {
    #![proptest_config(times(12))]

    #[test]
    fn cover_of_large_installations_agrees(case in large_cases()) {
        prop_assert_eq!(difference_in_cover(&case.installation, &case.test_set, "standard"), None);
    }
}

#[test]
fn large_fixtures_agree() {
    for fixture in small::all_large() {
        for need in NEEDS {
            let found = difference_in_cover(&fixture.installation, &fixture.test_set, need);
            assert_eq!(found, None, "cover {} {need}", fixture.name);
        }
    }
}

#[test]
fn small_fixtures_agree() {
    for fixture in small::all() {
        for need in NEEDS {
            let found = difference_in_cover(&fixture.installation, &fixture.test_set, need);
            assert_eq!(found, None, "cover {} {need}", fixture.name);
            for test_set in [None, Some(&fixture.test_set)] {
                let found = difference_in_plan(&fixture.installation, test_set, need);
                assert_eq!(found, None, "plan {} {need} (after tests: {})", fixture.name, test_set.is_some());
            }
        }
    }
}

/// That a difference would be seen: the check itself fails where one word of an answer is changed.
#[test]
fn a_changed_answer_is_a_difference() {
    let fixture = small::fixture("two-way");
    let report = oracle::cover(&fixture.installation, &fixture.test_set, "standard");
    for place in [
        "/summary/tested",
        "/readings/0/void",
        "/pairs/0/class",
        "/pairs/3/tested",
        "/pairs/3/by",
        "/positions/0/tested",
    ] {
        let mut changed = report.clone();
        *changed.pointer_mut(place).unwrap_or_else(|| panic!("nothing at {place}")) = json!("changed");
        assert!(difference("", &report, &only_keys_of(&report, &changed)).is_some(), "{place}");
    }
    let mut shorter = report.clone();
    shorter["pairs"].as_array_mut().unwrap().pop();
    assert!(difference("", &report, &only_keys_of(&report, &shorter)).is_some());
    let mut missing = report.clone();
    missing["pairs"][0].as_object_mut().unwrap().remove("required");
    assert!(difference("", &report, &only_keys_of(&report, &missing)).is_some());
}
