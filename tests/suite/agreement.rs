//! The engine and the oracle, which share no code, give the same answers.

use std::collections::BTreeSet;

use lengthwise::Limits;
use proptest::prelude::*;
use serde_json::{Value, json};

use crate::asked::{Asked, limited, limits};
use crate::engine::{self, NEEDS};
use crate::laws::reads_at_sources;
use crate::oracle;
use crate::small;
use crate::strategy::{Case, cases, large_cases, planning_clusters, times};

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
    // Pairs that are in no group say nothing of it.
    for pair in report["pairs"].as_array_mut().into_iter().flatten() {
        pair["one_of"] = pair["one_of"].take();
    }
    if let Some(positions) = report["positions"].as_array_mut() {
        positions.sort_by_key(|position| [position["device"].to_string(), position["position"].to_string()]);
    }
    report
}

/// The first place at which the engine's `cover` says otherwise than the oracle's.
fn difference_in_cover(installation: &Value, test_set: &Value, need: &str) -> Option<String> {
    difference_of(oracle::cover(installation, test_set, need), engine::cover(installation, test_set, need))
}

fn difference_of(oracle: Value, engine: Value) -> Option<String> {
    let (oracle, engine) = (in_one_form(oracle), in_one_form(engine));
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
fn difference_in_plan(installation: &Value, test_set: Option<&Value>, need: &'static str) -> Option<String> {
    difference_in_plan_asked(installation, test_set, &Asked::of(need))
}

/// Whether the metres of a plan that the oracle can try through may be left unproven: their search has a budget, but
/// none of these is that large.
const MAY_BE_UNPROVEN: bool = false;

/// The same for a plan that is asked for with options.
fn difference_in_plan_asked(installation: &Value, test_set: Option<&Value>, asked: &Asked) -> Option<String> {
    let oracle = oracle::plan(installation, test_set, asked)?;
    difference_from(&oracle, engine::plan_asked(installation, test_set, asked))
}

/// The same where every cluster is searched by the solver: stops that several clusters share, and metres, are not
/// proven then.
fn difference_in_plan_by_solver(installation: &Value, test_set: Option<&Value>, asked: &Asked) -> Option<String> {
    let mut oracle = oracle::plan(installation, test_set, asked)?;
    let mut engine = engine::plan_by_solver(installation, test_set, asked);
    oracle["micrometres"] = Value::Null;
    // Where clusters share stops, what comes second is not proven.
    for what in ["operations", "stops"] {
        let is_second = (what == "stops") != asked.stops_first;
        if engine["optimal"][what] == false && (is_second || what == "stops") {
            let least = oracle[what].take();
            let [found, bound] = ["totals", "bounds"].map(|of| engine[of][what].take());
            engine["optimal"][what] = json!(true);
            let is_first_met = is_second || bound.as_u64() <= least.as_u64();
            if !is_first_met || (!is_second && found.as_u64() < least.as_u64()) {
                return Some(format!("{what} {found}, at least {bound}, but {least}"));
            }
        }
    }
    difference_from(&oracle, engine)
}

/// Whether a round takes the instrument to the source of a circuit without a way.
fn is_read_at_sources(round: &Value) -> bool {
    round["readings"].as_array().is_some_and(|readings| readings.iter().any(|reading| !reading["at"].is_null()))
}

/// Where sources are read at, stops may be left unproven, and then they are no fewer than the oracle's; and so is what
/// comes after them, where they are as few. Takes what is not proven out of both.
fn unproven_stops(oracle: &mut Value, engine: &mut Value) -> Option<String> {
    let order = if oracle["stops_first"] == true { ["stops", "operations"] } else { ["operations", "stops"] };
    let mut is_least = true;
    for what in order {
        if engine["optimal"][what] == true {
            continue;
        }
        let (found, least) = (engine["totals"][what].as_u64(), oracle[what].as_u64());
        if is_least && found < least {
            return Some(format!("{what} {found:?}, fewer than {least:?} that can be"));
        }
        is_least &= found == least;
        if engine["bounds"][what].as_u64() > least {
            return Some(format!("{what} at least {}, but {least:?}", engine["bounds"][what]));
        }
        engine["totals"][what] = Value::Null;
        engine["bounds"][what] = Value::Null;
        engine["optimal"][what] = json!(true);
        oracle[what] = Value::Null;
    }
    if !is_least || engine["optimal"]["metres"] == false {
        oracle["micrometres"] = Value::Null;
    }
    None
}

fn difference_from(oracle: &Value, mut engine: Value) -> Option<String> {
    let mut oracle = oracle.clone();
    if reads_at_sources(&engine)
        && let Some(wrong) = unproven_stops(&mut oracle, &mut engine)
    {
        return Some(format!("{wrong}\nengine: {engine:#}\noracle: {oracle:#}"));
    }
    let oracle = &oracle;
    let mut said = json!({ "untestable": engine["untestable"] });
    for total in ["walks", "operations", "stops"] {
        said[total] = engine["totals"][total].clone();
    }
    let said = only_keys_of(oracle, &said);
    let optimal = (!engine::is_optimal(&engine) || engine["optimal"]["stops"] != true)
        .then(|| format!("not known to be the least: {}", engine["optimal"]));
    let bounds = ["walks", "operations", "stops"]
        .into_iter()
        .find(|what| engine["bounds"][what].as_u64() > oracle[what].as_u64());
    let bounds = bounds.map(|what| format!("the bound on {what} is wrong: {}", engine["bounds"]));
    let walked: f64 = engine["rounds"]
        .as_array()?
        .iter()
        .filter(|round| !round["operations"].as_array().is_some_and(Vec::is_empty) || is_read_at_sources(round))
        .map(|round| round["walk"]["metres"].as_f64().unwrap_or(f64::NAN))
        .sum();
    let metres = oracle["micrometres"].as_u64().and_then(|least| {
        let farther = (walked * 1e6).round() - least as f64;
        let said = &engine["optimal"]["metres"];
        (farther < 0.0 || (*said == true && farther != 0.0) || (*said == false && !MAY_BE_UNPROVEN))
            .then(|| format!("metres walked: {walked} m, said to be the least: {said}"))
    });
    let unworked: BTreeSet<(String, Option<String>)> = engine["switches"]
        .as_array()
        .into_iter()
        .flatten()
        .map(|row| (row["device"].as_str().unwrap().to_owned(), row["position"].as_str().map(str::to_owned)))
        .collect();
    let mut oracle = oracle.clone();
    let expected: BTreeSet<(String, Option<String>)> =
        serde_json::from_value(oracle["switches"].clone()).expect("names");
    let unworked = (unworked != expected).then(|| format!("switches: {unworked:?}, but {expected:?}"));
    oracle.as_object_mut()?.remove("switches");
    oracle.as_object_mut()?.remove("micrometres");
    oracle.as_object_mut()?.remove("stops_first");
    difference("", &oracle, &said)
        .or(bounds)
        .or(optimal)
        .or(metres)
        .or(unworked)
        .map(|found| format!("{found}\nengine: {engine:#}\noracle: {oracle:#}"))
}

proptest! {
    #![proptest_config(times(400))]

    /// Decision diagrams say what tables do, where tables are kept too small.
    #[test]
    fn cover_agrees_without_tables(case in cases(), need in 0..3usize, combinations in 0..4usize) {
        let Case { installation, test_set, .. } = &case;
        let mut limits = Limits::default();
        limits.tables.combinations = combinations;
        let engine = engine::cover_within(installation, test_set, NEEDS[need], limits);
        prop_assert_eq!(difference_of(oracle::cover(installation, test_set, NEEDS[need]), engine), None);
    }

    #[test]
    fn cover_agrees(case in cases(), need in 0..3usize) {
        prop_assert_eq!(difference_in_cover(&case.installation, &case.test_set, NEEDS[need]), None);
    }

    #[test]
    fn cover_by_another_ruleset_agrees(case in cases(), need in 0..3usize) {
        let oracle = in_one_form(oracle::cover_by_iec(&case.installation, &case.test_set, NEEDS[need]));
        let engine = in_one_form(engine::cover_by_iec(&case.installation, &case.test_set, NEEDS[need]));
        prop_assert_eq!(difference("", &oracle, &only_keys_of(&oracle, &engine)), None);
    }
}

proptest! {
    #![proptest_config(times(400))]

    #[test]
    fn roles_agree(case in cases()) {
        prop_assert_eq!(engine::core_roles(&case.installation), oracle::core_roles(&case.installation));
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
    fn plans_of_clusters_by_the_solver_agree(
        case in planning_clusters(),
        need in 0..3usize,
        restore: bool,
        stops_first: bool,
        each_switch in proptest::bool::weighted(0.3),
    ) {
        let asked = Asked { restore, stops_first, each_switch, ..Asked::of(NEEDS[need]) };
        for test_set in [None, Some(&case.test_set)] {
            prop_assert_eq!(difference_in_plan_by_solver(&case.installation, test_set, &asked), None);
        }
    }

    #[test]
    fn plans_of_whole_installations_by_the_solver_agree(case in cases(), need in 0..3usize) {
        let asked = Asked::of(NEEDS[need]);
        for test_set in [None, Some(&case.test_set)] {
            prop_assert_eq!(difference_in_plan_by_solver(&case.installation, test_set, &asked), None);
        }
    }
}

proptest! {
    #![proptest_config(times(240))]

    #[test]
    fn plans_with_locked_rooms_and_switches_left_alone_agree(case in cases(), need in 0..3usize, limits in limits()) {
        let asked = limited(&case.installation, need, limits);
        for test_set in [None, Some(&case.test_set)] {
            prop_assert_eq!(difference_in_plan_asked(&case.installation, test_set, &asked), None);
            prop_assert_eq!(wrong_in_what_opens(&case.installation, test_set, &asked), None);
        }
    }
}

proptest! {
    #![proptest_config(times(400))]

    #[test]
    fn plans_by_request_agree(
        case in prop_oneof![planning_clusters(), cases()],
        need in 0..3usize,
        limits in prop_oneof![Just([usize::MAX; 3]), limits()],
        restore: bool,
        stops_first: bool,
        each_switch: bool,
    ) {
        let asked = Asked { restore, stops_first, each_switch, ..limited(&case.installation, need, limits) };
        for test_set in [None, Some(&case.test_set)] {
            prop_assert_eq!(difference_in_plan_asked(&case.installation, test_set, &asked), None);
        }
    }
}

/// Where what an untestable pair is said to open with does not open it, holds something that need not be lifted, or is
/// missing.
fn wrong_in_what_opens(installation: &Value, test_set: Option<&Value>, asked: &Asked) -> Option<String> {
    let engine = engine::plan_asked(installation, test_set, asked);
    let names = |row: &Value| json!([row["length"], row["cores"]]);
    let lifted = |names: &[String]| {
        let kept = |kind: &str, list: &[String]| -> Vec<String> {
            list.iter().filter(|id| !names.contains(&format!("{kind}:{id}"))).cloned().collect()
        };
        Asked { without: kept("location", &asked.without), leave: kept("point", &asked.leave), ..asked.clone() }
    };
    for row in engine["untestable"].as_array()? {
        let opens: Vec<String> =
            row["opens_with"].as_array().into_iter().flatten().map(|name| name.as_str().unwrap().to_owned()).collect();
        let is_open = |lifts: &Asked| -> Option<bool> {
            let oracle = oracle::plan(installation, test_set, lifts)?;
            Some(!oracle["untestable"].as_array()?.iter().any(|other| names(other) == names(row)))
        };
        if opens.is_empty() {
            if is_open(&Asked { without: Vec::new(), leave: Vec::new(), ..asked.clone() })? {
                return Some(format!("nothing is said to open {row}"));
            }
            continue;
        }
        if !is_open(&lifted(&opens))? {
            return Some(format!("that does not open {row}"));
        }
        for number in 0..opens.len() {
            let mut fewer = opens.clone();
            fewer.remove(number);
            if is_open(&lifted(&fewer))? {
                return Some(format!("{} need not be lifted for {row}", opens[number]));
            }
        }
    }
    None
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
