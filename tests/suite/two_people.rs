//! Plans for two people: by the oracle, by laws, and known by hand.

use std::process::Command;

use lengthwise::Limits;
use lengthwise::plan::SearchBy;
use proptest::prelude::*;
use serde_json::Value;

use crate::asked::{Asked, limited, limits};
use crate::engine::{self, NEEDS, total};
use crate::laws::{check_plan, untestable};
use crate::strategy::{cases, planning_clusters, times};
use crate::{oracle, small};

fn rows<'a>(value: &'a Value, key: &str) -> &'a [Value] {
    value[key].as_array().map_or(&[], Vec::as_slice)
}

/// The metres of a plan's one way; none where the plan does not know them.
fn metres(plan: &Value) -> Option<f64> {
    let worked = rows(plan, "rounds").iter().filter(|round| !rows(round, "operations").is_empty());
    worked.map(|round| round["walk"]["metres"].as_f64()).sum()
}

/// Where a plan for two says otherwise than the oracle, or otherwise than it may beside the plan for one; and whether the
/// oracle could tell.
fn check(installation: &Value, test_set: Option<&Value>, asked: &Asked) -> Result<bool, TestCaseError> {
    let plan = engine::plan_asked(installation, test_set, asked);
    // What stays in locked rooms no test set says.
    if asked.without.is_empty() {
        check_plan(installation, test_set, asked, &plan)?;
    }
    let alone = engine::plan_asked(installation, test_set, &Asked { two: false, ..asked.clone() });
    prop_assert!(total(&plan, "operations") <= total(&alone, "operations"), "{plan:#}\nalone: {alone:#}");
    prop_assert_eq!(untestable(&plan), untestable(&alone));
    prop_assert_eq!(&plan["not_planned"], &alone["not_planned"]);
    prop_assert_eq!(&plan["people"], "two");

    let Some(oracle) = oracle::plan(installation, test_set, asked) else { return Ok(false) };
    let told = || format!("{plan:#}\noracle: {oracle:#}");
    let [optimal, bounds] = ["optimal", "bounds"].map(|key| &plan[key]);
    prop_assert!(optimal["operations"] == true, "small enough: {}", told());
    prop_assert!(bounds["walks"].as_u64() <= oracle["walks"].as_u64(), "{}", told());
    prop_assert!(optimal["walks"] == false || plan["totals"]["walks"] == oracle["walks"], "{}", told());
    let figures =
        |key: &str| -> Option<[u64; 3]> { serde_json::from_value(oracle[key].clone()).expect("three figures") };
    let by_stops = figures("by_stops").expect("there is always one");
    prop_assert_eq!(total(&plan, "operations"), by_stops[0], "{}", told());
    prop_assert_eq!(&bounds["operations"], &plan["totals"]["operations"]);
    let stops = total(&plan, "stops");
    match (metres(&plan).filter(|_| by_stops[0] > 0), figures("by_metres")) {
        (None, _) if by_stops[0] > 0 => {
            prop_assert!(optimal["stops"] == true && stops == by_stops[2], "{}", told());
            prop_assert!(optimal["metres"] != true, "{}", told());
            prop_assert_eq!(bounds["stops"].as_u64(), Some(stops));
        }
        (Some(walked), Some(by_metres)) => {
            prop_assert_eq!((walked * 1e6).round() as u64, by_metres[1], "{}", told());
            prop_assert!(optimal["metres"] == true && optimal["stops"] == true, "{}", told());
            prop_assert_eq!(stops, by_metres[2], "{}", told());
            prop_assert!(bounds["stops"].as_u64() <= Some(by_stops[2]), "{}", told());
        }
        // The oracle asks for more of a map than the engine, or nothing is operated.
        _ => {}
    }
    Ok(true)
}

proptest! {
    #![proptest_config(times(300))]

    #[test]
    fn plans_for_two_agree(
        case in prop_oneof![planning_clusters(), cases()],
        need in 0..3usize,
        limits in prop_oneof![Just([usize::MAX; 3]), limits()],
        restore: bool,
        each_switch: bool,
    ) {
        let asked = Asked { restore, each_switch, two: true, ..limited(&case.installation, need, limits) };
        for test_set in [None, Some(&case.test_set)] {
            check(&case.installation, test_set, &asked)?;
        }
    }
}

/// Past limits, and by the solver: no more is claimed than the oracle finds, and the plan does what it says.
fn check_claims(installation: &Value, asked: &Asked, search: SearchBy, limits: Limits) -> Result<(), TestCaseError> {
    let plan = engine::plan_within(installation, None, asked, search, limits);
    check_plan(installation, None, asked, &plan)?;
    let Some(oracle) = oracle::plan(installation, None, asked) else { return Ok(()) };
    let told = || format!("{plan:#}\noracle: {oracle:#}");
    let least: [u64; 3] = serde_json::from_value(oracle["by_stops"].clone()).expect("three figures");
    let [optimal, bounds] = ["optimal", "bounds"].map(|key| &plan[key]);
    prop_assert!(bounds["walks"].as_u64() <= oracle["walks"].as_u64(), "{}", told());
    prop_assert!(bounds["operations"].as_u64() <= Some(least[0]), "{}", told());
    prop_assert!(bounds["stops"].as_u64() <= Some(least[2]), "{}", told());
    let all_planned = plan["not_planned"].is_null();
    prop_assert!(!all_planned || total(&plan, "operations") >= least[0], "{}", told());
    if optimal["operations"] == true {
        prop_assert_eq!(total(&plan, "operations"), least[0], "{}", told());
    }
    if optimal["stops"] == true && metres(&plan).is_none() {
        prop_assert_eq!(total(&plan, "stops"), least[2], "{}", told());
    }
    let by_metres: Option<[u64; 3]> = serde_json::from_value(oracle["by_metres"].clone()).expect("three figures");
    if let (Some(walked), Some(by_metres), true) = (metres(&plan), by_metres, optimal["metres"] == true) {
        prop_assert_eq!((walked * 1e6).round() as u64, by_metres[1], "{}", told());
    }
    Ok(())
}

proptest! {
    #![proptest_config(times(200))]

    #[test]
    fn plans_for_two_claim_no_more_past_limits(
        case in prop_oneof![planning_clusters(), cases()],
        need in 0..3usize,
        which in 0..6usize,
        size in 0..10u32,
        restore: bool,
    ) {
        let mut limits = Limits::default();
        let plan = &mut limits.plan;
        match which {
            0 => plan.ways_kept = size as usize,
            1 => plan.operation_steps = 1 << size,
            2 => plan.walks = size as u16 % 4,
            3 => plan.sharing_nodes = 1 << size,
            4 => plan.solver_steps = 1 << (size + 4),
            _ => {}
        }
        let search = if which >= 4 { SearchBy::Solver } else { SearchBy::Size };
        let asked = Asked { restore, two: true, ..Asked::of(NEEDS[need]) };
        check_claims(&case.installation, &asked, search, limits)?;
    }
}

#[test]
fn small_fixtures_for_two_agree() {
    let mut told = 0;
    for fixture in small::all() {
        let (installation, test_set) = (&fixture.installation, Some(&fixture.test_set));
        for (restore, each_switch, test_set) in [(false, false, None), (true, false, test_set), (false, true, test_set)]
        {
            let asked = Asked { restore, each_switch, two: true, ..Asked::of("every-pair") };
            let is_told = check(installation, test_set, &asked).unwrap_or_else(|error| panic!("{error}"));
            told += usize::from(is_told);
        }
    }
    assert!(told > 60, "the oracle told of {told}");
}

/// Rounds with operations, operations, stops and readings.
fn figures(name: &str, asked: &Asked) -> [u64; 4] {
    let plan = engine::plan_asked(&small::fixture(name).installation, None, &Asked { two: true, ..asked.clone() });
    assert_eq!([&plan["optimal"]["operations"], &plan["optimal"]["stops"]], [true, true], "{name}");
    ["walks", "operations", "stops", "readings"].map(|what| total(&plan, what))
}

/// A two-way chain: one switch of the two is worked, once. A selector: position by position, without leaving it. A switch
/// that nobody knows the position of, and back: all at its stop.
#[test]
fn what_two_people_need_is_known_by_hand() {
    let asked = Asked::of("standard");
    assert_eq!(figures("two-way", &asked)[..3], [1, 1, 1]);
    assert_eq!(figures("two-way", &Asked { restore: true, ..asked.clone() })[..3], [2, 2, 1]);
    assert_eq!(figures("selector", &asked), [2, 2, 1, 6]);
    assert_eq!(figures("selector", &Asked { restore: true, ..asked.clone() }), [3, 3, 1, 6]);
    assert_eq!(figures("hidden", &asked)[..3], [2, 3, 2]);
}

fn text(arguments: &[&str]) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_lengthwise")).args(arguments).output().expect("it runs");
    String::from_utf8(output.stdout).expect("text")
}

/// In the text, whatever the one says the other waits for, as often and in the same order.
#[test]
fn the_two_lists_meet() {
    let page = text(&["plan", "demo/skerry-light.toml", "--people", "2"]);
    let flat = page.split_whitespace().collect::<Vec<_>>().join(" ");
    let (before, lists) = flat.split_once("Who goes round:").expect("the one list");
    let (goes, reads) = lists.split_once("Who reads:").expect("the other");
    let reads = reads.split_once("After the last reading").map_or(reads, |parts| parts.0);
    assert!(before.contains("One way from the board"), "{before}");
    let quoted = |text: &str, after: &str| -> Vec<String> {
        text.split(&format!("{after} \"")).skip(1).map(|rest| rest.split('"').next().unwrap().to_owned()).collect()
    };
    let said = quoted(goes, "Say");
    assert_eq!(said, quoted(reads, "when you hear"));
    assert_eq!(said.len(), 5);
    let waited = quoted(goes, "ait for");
    assert_eq!(waited, quoted(reads, "say"));
    assert_eq!(waited.len(), 6);
}

#[test]
fn stops_first_is_for_one_person() {
    let output = Command::new(env!("CARGO_BIN_EXE_lengthwise"))
        .args(["plan", "examples/landing.toml", "--people", "2", "--prefer", "stops"])
        .output()
        .expect("it runs");
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8(output.stderr).expect("text").contains("--prefer stops is for one person"));
}
