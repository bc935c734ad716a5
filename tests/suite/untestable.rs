//! Why pairs can't be tested on which too many devices bear for a table, and what restrictions keep others so.

use lengthwise::Limits;
use lengthwise::plan::SearchBy;
use proptest::prelude::*;
use serde_json::{Value, json};

use crate::asked::{Asked, limited, limits};
use crate::engine::{self, NEEDS};
use crate::laws::untestable;
use crate::strategy::{cases, planning_clusters};

/// The format's reasons; each claims more than those after it.
const REASONS: [&str; 5] = ["never-reached", "unknown-position", "same-lead", "always-bridged", "other-voltage"];

/// Seventeen switches, one behind another: more settings than are listed. The last cable feeds a point.
fn behind_switches(switch: &str, conductors: &[[&str; 3]], point: Value, kinds: Value) -> Value {
    let mut points = Vec::new();
    let mut lengths = Vec::new();
    let cores = |ends: &dyn Fn(&[&str; 3]) -> [String; 2]| {
        let mut cores = json!({ "cpc": ["E", "E"] });
        for conductor in conductors {
            cores[conductor[0].to_lowercase()] = json!(ends(conductor));
        }
        cores
    };
    let mut from = "DB1/1".to_owned();
    for number in 0..17 {
        let id = format!("S{number}");
        let near = |conductor: &[&str; 3]| if number == 0 { conductor[0] } else { conductor[2] }.to_owned();
        let ends = |conductor: &[&str; 3]| [near(conductor), conductor[1].to_owned()];
        lengths.push(json!({
            "id": format!("W{number}"), "circuit": "C1", "from": from, "to": id, "metres": 2.0, "cores": cores(&ends),
        }));
        points.push(json!({ "id": id, "kind": switch, "circuit": "C1" }));
        from = id;
    }
    let ends = |conductor: &[&str; 3]| [conductor[2].to_owned(), conductor[0].to_owned()];
    lengths.push(json!({
        "id": "LAST", "circuit": "C1", "from": from, "to": "P1", "metres": 2.0, "cores": cores(&ends),
    }));
    points.push(point);
    json!({
        "format": 1,
        "installation": { "name": "Many switches", "nominal_voltage": 230, "earthing": "TN-S" },
        "board": [{ "id": "DB1", "origin": true, "way": [{ "id": "1", "device": "mcb" }] }],
        "circuit": [{ "id": "C1", "way": "DB1/1" }],
        "kind": kinds,
        "point": points,
        "length": lengths,
    })
}

fn why(plan: &Value, length: &str, cores: [&str; 2]) -> Value {
    let rows = plan["untestable"].as_array().unwrap();
    let row = rows.iter().find(|row| {
        row["length"] == length && cores.iter().all(|core| row["cores"].as_array().unwrap().contains(&json!(core)))
    });
    row.map_or(Value::Null, |row| row["why"].clone())
}

/// By hand, from what each reason means: a load or electronics that stay in make every reading void that has line and
/// neutral of the cable before them on its leads; and behind a switch that nobody can operate there is a lead for one way
/// in which it may stand.
#[test]
fn the_reasons_of_pairs_too_large_to_list_are_those_of_small_ones() {
    const DOUBLE_POLE: [[&str; 3]; 2] = [["L", "Lin", "Lout"], ["N", "Nin", "Nout"]];
    let kind = |conducts: &str| {
        json!([{
            "id": "box", "terminals": ["L", "N", "E"], "bridges": [{ "between": ["L", "N"], "conducts": conducts }],
            "removable": false,
        }])
    };
    let point = json!({ "id": "P1", "kind": "box", "circuit": "C1" });
    let mut behind_unknown = behind_switches(
        "one-way",
        &[["L", "COM", "L1"]],
        json!({ "id": "P1", "kind": "box", "circuit": "C1", "operable": false, "stands": "unknown" }),
        json!([{
            "id": "box", "terminals": ["L", "OUT", "E"],
            "positions": [{ "name": "on", "joins": [["L", "OUT"]] }, { "name": "off", "joins": [] }],
        }]),
    );
    behind_unknown["point"].as_array_mut().unwrap().push(json!({ "id": "P2", "kind": "luminaire", "circuit": "C1" }));
    behind_unknown["length"].as_array_mut().unwrap().push(json!({
        "id": "BEHIND", "circuit": "C1", "from": "P1", "to": "P2", "metres": 2.0,
        "cores": { "l": ["OUT", "L"], "cpc": ["E", "E"] },
    }));
    for (installation, length, cores, expected) in [
        (
            behind_switches("double-pole", &DOUBLE_POLE, point.clone(), kind("sure")),
            "LAST",
            ["l", "n"],
            "always-bridged",
        ),
        (behind_switches("double-pole", &DOUBLE_POLE, point, kind("maybe")), "LAST", ["l", "n"], "always-bridged"),
        (behind_unknown, "BEHIND", ["l", "cpc"], "unknown-position"),
    ] {
        let asked = Asked::of("standard");
        let plan = engine::plan_asked(&installation, None, &asked);
        assert_eq!(why(&plan, length, cores), expected, "{:#}", plan["untestable"]);
        let mut limits = Limits::default();
        limits.plan.reason_nodes = 0;
        let tiny = engine::plan_within(&installation, None, &asked, SearchBy::Size, limits);
        assert_eq!(untestable(&tiny), untestable(&plan));
        let place = |why: Value| REASONS.iter().position(|reason| why == *reason);
        assert!(place(why(&tiny, length, cores)) >= place(json!(expected)), "{:#}", tiny["untestable"]);
    }
}

proptest! {
    #![proptest_config(crate::strategy::times(100))]

    #[test]
    fn past_its_limits_a_reason_claims_no_more(
        case in prop_oneof![planning_clusters(), cases()],
        need in 0..3usize,
        reason_nodes in 0..20usize,
    ) {
        let asked = Asked::of(NEEDS[need]);
        let mut limits = Limits::default();
        limits.plan.reason_nodes = reason_nodes;
        for test_set in [None, Some(&case.test_set)] {
            let plan = engine::plan_asked(&case.installation, test_set, &asked);
            let tiny = engine::plan_within(&case.installation, test_set, &asked, SearchBy::Size, limits.clone());
            prop_assert_eq!(untestable(&tiny), untestable(&plan));
            let place = |row: &Value| REASONS.iter().position(|reason| row["why"] == *reason).unwrap();
            for (tiny, plan) in rows(&tiny).iter().zip(rows(&plan)) {
                prop_assert!(place(tiny) >= place(plan), "{tiny} claims more than {plan}");
            }
        }
    }

    /// Past its limit a pair is told more restrictions than it may need lifted, and no fewer.
    #[test]
    fn past_its_limits_a_pair_opens_with_no_fewer_restrictions(
        case in prop_oneof![planning_clusters(), cases()],
        need in 0..3usize,
        restrictions in limits(),
        restore: bool,
    ) {
        let asked = Asked { restore, ..limited(&case.installation, need, restrictions) };
        let plan = engine::plan_asked(&case.installation, Some(&case.test_set), &asked);
        let mut limits = Limits::default();
        limits.plan.restrictions_reduced = 0;
        let tiny = engine::plan_within(&case.installation, Some(&case.test_set), &asked, SearchBy::Size, limits);
        prop_assert_eq!(untestable(&tiny), untestable(&plan));
        for (tiny, plan) in rows(&tiny).iter().zip(rows(&plan)) {
            let names = |row: &Value| -> Vec<String> {
                row["opens_with"].as_array().into_iter().flatten().map(Value::to_string).collect()
            };
            let (more, least) = (names(tiny), names(plan));
            prop_assert!(least.iter().all(|name| more.contains(name)) && least.is_empty() == more.is_empty());
        }
        // Lifted, they open it; with one of them left, not.
        for row in rows(&plan) {
            let names: Vec<&str> = row["opens_with"].as_array().into_iter().flatten().filter_map(Value::as_str).collect();
            let is_open = |lifted: &[&str]| {
                let kept = |id: &String, sort: &str| !lifted.contains(&format!("{sort}:{id}").as_str());
                let asked = Asked {
                    without: asked.without.iter().filter(|id| kept(id, "location")).cloned().collect(),
                    leave: asked.leave.iter().filter(|id| kept(id, "point")).cloned().collect(),
                    restore: asked.restore && !lifted.contains(&"restore"),
                    ..asked.clone()
                };
                let plan = engine::plan_asked(&case.installation, Some(&case.test_set), &asked);
                let is_it = |other: &Value| other["length"] == row["length"] && other["cores"] == row["cores"];
                !rows(&plan).iter().any(is_it)
            };
            prop_assert!(names.is_empty() || is_open(&names), "{row}");
            for left in 0..names.len().min(2) {
                let mut fewer = names.clone();
                fewer.remove(left);
                prop_assert!(!is_open(&fewer), "{row} opens with {fewer:?}");
            }
        }
    }
}

fn rows(plan: &Value) -> &[Value] {
    plan["untestable"].as_array().unwrap()
}
