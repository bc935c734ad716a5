//! What is claimed where tables are too large: less than the oracle says, never more.

use lengthwise::network::{Need, Network};
use lengthwise::plan::{Plan, Request};
use lengthwise::{Installation, Limits, TestSet, Unwatched};
use proptest::prelude::*;
use serde_json::{Value, json};

use crate::asked::Asked;
use crate::engine::{self, NEEDS};
use crate::laws::followed;
use crate::oracle;
use crate::small;
use crate::strategy::{Case, cases, planning_clusters, times};

/// Tables of so many combinations at the most, and diagrams of so many nodes.
fn limits(combinations: usize) -> Limits {
    let mut limits = Limits::default();
    (limits.tables.combinations, limits.tables.diagram_nodes) = (combinations, combinations);
    limits
}

fn network(installation: &Installation, combinations: usize) -> Network {
    Network::of(installation.clone()).with_limits(limits(combinations))
}

fn read(installation: &Value, test_set: Option<&Value>) -> (Installation, Option<TestSet>) {
    let installation = engine::from_value(installation);
    let test_set = test_set.map(|tests| engine::test_set("tests.json", tests.to_string().as_bytes(), &installation));
    (installation, test_set)
}

fn need(level: &str) -> Need {
    serde_json::from_value(json!(level)).expect("a level of need")
}

fn cover(installation: &Value, test_set: &Value, level: &str, combinations: usize) -> Value {
    engine::cover_within(installation, test_set, level, limits(combinations))
}

fn plan(installation: &Value, test_set: Option<&Value>, level: &str, combinations: usize) -> Value {
    let (installation, tests) = read(installation, test_set);
    let network = network(&installation, combinations);
    let plan = Plan::with(&network, tests.as_ref(), &Request::from(need(level)), &mut Unwatched)
        .expect("it is for this installation");
    serde_json::to_value(plan).expect("an answer is JSON")
}

fn rows<'v>(answer: &'v Value, list: &str) -> &'v [Value] {
    answer[list].as_array().expect("a list")
}

/// What coverage claims though it does not hold, and what it does not say though it must.
fn too_much_in_cover(installation: &Value, test_set: &Value, level: &str, combinations: usize) -> Option<String> {
    let expected = oracle::cover(installation, test_set, level);
    let claimed = cover(installation, test_set, level, combinations);
    for (expected, claimed) in rows(&expected, "readings").iter().zip(rows(&claimed, "readings")) {
        if !expected["void"].is_null() && claimed["void"].is_null() {
            return Some(format!("a void reading is said to be sound: {expected}, {claimed}"));
        }
    }
    for (expected, claimed) in rows(&expected, "pairs").iter().zip(rows(&claimed, "pairs")) {
        assert_eq!([&expected["length"], &expected["cores"]], [&claimed["length"], &claimed["cores"]]);
        if claimed["tested"] == true && expected["tested"] != true {
            return Some(format!("said to be tested: {expected}, {claimed}"));
        }
    }
    let name = |row: &Value| [row["device"].clone(), row["position"].clone()];
    for claimed in rows(&claimed, "positions").iter().filter(|row| row["tested"] == true) {
        let expected = rows(&expected, "positions").iter().find(|row| name(row) == name(claimed));
        if expected.is_none_or(|expected| expected["tested"] != true) {
            return Some(format!("said to be under test: {claimed}"));
        }
    }
    None
}

/// What a plan claims though it does not hold.
fn too_much_in_plan(
    installation: &Value,
    test_set: Option<&Value>,
    level: &'static str,
    combinations: usize,
) -> Option<String> {
    const REASONS: [&str; 5] = ["never-reached", "unknown-position", "same-lead", "always-bridged", "other-voltage"];
    let expected = oracle::plan(installation, test_set, &Asked::of(level))?;
    let claimed = plan(installation, test_set, level, combinations);
    let place = |why: &Value| REASONS.iter().position(|reason| why == reason);
    for row in rows(&claimed, "untestable") {
        let is_same = |other: &&Value| [&other["length"], &other["cores"]] == [&row["length"], &row["cores"]];
        let Some(known) = rows(&expected, "untestable").iter().find(is_same) else {
            return Some(format!("said to be untestable: {row}"));
        };
        // A reason may be one that claims less.
        if place(&row["why"]) < place(&known["why"]) {
            return Some(format!("untestable for another reason: {row}, {known}"));
        }
    }
    for what in ["walks", "operations", "stops"] {
        let [bound, least, total] = [&claimed["bounds"][what], &expected[what], &claimed["totals"][what]];
        if bound.as_u64() > least.as_u64() {
            return Some(format!("no fewer {what} than {bound}, but {least} do"));
        }
        if claimed["optimal"][what] != true {
            break;
        }
        if total != least {
            return Some(format!("{total} {what} are said to be the fewest, but {least} do"));
        }
    }
    None
}

/// A test set with its operations alone. With readings that tiny tables can't follow a plan has more to do than the
/// oracle's, and starts from less that is known.
fn without_readings(test_set: &Value) -> Value {
    let mut test_set = test_set.clone();
    for pass in test_set["pass"].as_array_mut().into_iter().flatten() {
        pass.as_object_mut().expect("a pass").remove("reading");
    }
    test_set
}

/// The pairs that a plan leaves though it does not say so, where it is followed.
fn left_by_plan(installation: &Value, test_set: &Value, level: &str, combinations: usize) -> Vec<Value> {
    let plan = plan(installation, Some(test_set), level, combinations);
    let is_named = |row: &&Value| {
        let is_same = |named: &&Value| named["length"] == row["length"] && named["cores"] == row["cores"];
        let not_planned =
            plan["not_planned"].as_array().into_iter().flatten().any(|named| {
                named[0] == row["length"] && [&named[1], &named[2]] == [&row["cores"][0], &row["cores"][1]]
            });
        not_planned || rows(&plan, "untestable").iter().any(|named| is_same(&named))
    };
    let after = oracle::cover(installation, &followed(installation, test_set, &plan), level);
    let missed = rows(&after, "pairs").iter().filter(|row| row["required"] == true && row["tested"] != true);
    missed.filter(|row| !is_named(row)).cloned().collect()
}

proptest! {
    #![proptest_config(times(300))]

    #[test]
    fn cover_claims_no_more_with_tiny_tables(case in cases(), need in 0..3usize, combinations in 1..9usize) {
        let Case { installation, test_set, .. } = &case;
        prop_assert_eq!(too_much_in_cover(installation, test_set, NEEDS[need], combinations), None);
    }
}

proptest! {
    #![proptest_config(times(100))]

    #[test]
    fn plans_claim_no_more_with_tiny_tables(
        case in prop_oneof![planning_clusters(), cases()],
        need in 0..3usize,
        combinations in 1..9usize,
    ) {
        let Case { installation, test_set, .. } = &case;
        for test_set in [None, Some(&without_readings(test_set))] {
            prop_assert_eq!(too_much_in_plan(installation, test_set, NEEDS[need], combinations), None);
        }
        prop_assert_eq!(left_by_plan(installation, test_set, NEEDS[need], combinations), Vec::<Value>::new());
    }
}

/// That the limit is met: with it some pairs count as not tested that are.
#[test]
fn tiny_tables_claim_less() {
    let tested = |combinations: usize| -> usize {
        let fixtures = small::all();
        let answers =
            fixtures.iter().map(|fixture| cover(&fixture.installation, &fixture.test_set, "standard", combinations));
        answers.map(|answer| rows(&answer, "pairs").iter().filter(|row| row["tested"] == true).count()).sum()
    };
    let [few, all] = [1, 1 << 16].map(tested);
    assert!(few < all, "{few} of {all} pairs");
}

/// Two two-way switches that nobody knows the position of join the line to the lamp in two of four combinations.
#[test]
fn what_a_table_is_too_small_for_is_taken_as_joining_the_leads() {
    let installation = small::fixture("two-way").installation;
    let tests = json!({
        "format": 1,
        "start": { "S1": "unknown", "S2": "unknown" },
        "pass": [{ "reading": [{ "circuit": "C1", "between": ["L", "E1.L"] }] }],
    });
    let void = |combinations| cover(&installation, &tests, "standard", combinations)["readings"][0]["void"].clone();
    for combinations in 1..4 {
        assert_eq!(void(combinations), "not-ruled-out", "{combinations}");
    }
    assert_eq!(void(4), "bridged");
}
