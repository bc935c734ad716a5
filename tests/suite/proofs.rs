//! Certificates of plans hold, and altered ones are refused: by a checker that shares no code with the engine.

use std::collections::BTreeMap;

use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;
use serde_json::{Value, json};

use crate::asked::Asked;
use crate::engine::{self, NEEDS};
use crate::oracle::Ground;
use crate::small;
use crate::strategy::{Case, cases, planning_clusters, times, wide_clusters};

/// What is wrong with the certificates of the plans of both engines; none too where there is too much to try.
fn wrong(installation: &Value, test_set: Option<&Value>, asked: &Asked) -> Option<String> {
    let ground = Ground::of(installation, test_set, asked)?;
    let plans = [engine::plan_asked, engine::plan_by_solver].map(|plan| plan(installation, test_set, asked));
    plans.into_iter().find_map(|plan| {
        let wrong = ground.check(&plan).err()?;
        let proofs = [&plan["why_no_fewer_walks"], &plan["why_no_fewer_operations"], &plan["totals"]];
        Some(format!("{wrong}\n{:#}", json!(proofs)))
    })
}

proptest! {
    #![proptest_config(times(160))]

    #[test]
    fn certificates_of_clusters_hold(
        case in planning_clusters(),
        need in 0..3usize,
        restore: bool,
        stops_first: bool,
        each_switch in proptest::bool::weighted(0.2),
    ) {
        let asked = Asked { restore, stops_first, each_switch, ..Asked::of(NEEDS[need]) };
        for (test_set, asked) in [(None, &asked), (Some(&case.test_set), &asked), (None, &Asked::of(NEEDS[need]))] {
            prop_assert_eq!(wrong(&case.installation, test_set, asked), None);
        }
    }

    #[test]
    fn certificates_of_whole_installations_hold(case in cases(), need in 0..3usize, restore: bool) {
        let asked = Asked { restore, ..Asked::of(NEEDS[need]) };
        for test_set in [None, Some(&case.test_set)] {
            prop_assert_eq!(wrong(&case.installation, test_set, &asked), None);
        }
    }
}

#[test]
fn certificates_of_the_small_fixtures_hold() {
    for fixture in small::all() {
        for need in NEEDS {
            for test_set in [None, Some(&fixture.test_set)] {
                let found = wrong(&fixture.installation, test_set, &Asked::of(need));
                assert_eq!(found, None, "{} {need}", fixture.name);
            }
        }
    }
}

/// Where a search is harder: settings that can still be gone through, but not in all their orders.
#[test]
fn certificates_of_wide_clusters_hold() {
    let mut wide = 0;
    for (case, asked) in drawn(120, wide_clusters()) {
        let Some(ground) = Ground::of(&case.installation, None, &asked) else { continue };
        wide += usize::from(ground.setting_count() > 200);
        assert_eq!(wrong(&case.installation, None, &asked), None);
    }
    assert!(wide >= 5, "{wide}");
}

/// Cases that are always the same, each with what is asked.
fn drawn(count: usize, of: impl Strategy<Value = Case>) -> Vec<(Case, Asked)> {
    let mut runner = TestRunner::deterministic();
    (0..count)
        .map(|number| {
            let case = of.new_tree(&mut runner).expect("a case").current();
            let restore = number % 4 == 3;
            (case, Asked { restore, ..Asked::of(NEEDS[1 + number % 2]) })
        })
        .collect()
}

/// Where proofs are in a plan: that of walks, and the parts of that of operations.
fn places(plan: &Value) -> Vec<String> {
    let parts = plan["why_no_fewer_operations"]["parts"].as_array().map_or(0, Vec::len);
    let parts = (0..parts).map(|part| format!("/why_no_fewer_operations/parts/{part}"));
    std::iter::once("/why_no_fewer_walks".to_owned()).chain(parts).collect()
}

/// Alters certificates so that they are wrong for sure, each with the name of what was done.
fn altered(plan: &Value) -> Vec<(&'static str, Value)> {
    let mut all = Vec::new();
    let mut alter = |name: &'static str, with: &dyn Fn(&mut Value) -> Option<()>| {
        let mut other = plan.clone();
        if with(&mut other).is_some() && other != *plan {
            all.push((name, other));
        }
    };
    for place in places(plan) {
        let of_walks = place == "/why_no_fewer_walks";
        // A pair twice, for the same start, in place of another: it fits one setting with itself.
        alter("a pair for one that it fits with", &|plan| {
            let proof = plan.pointer_mut(&place)?;
            for key in ["pairs", "starts"] {
                if let Some(rows) = proof.get_mut(key).and_then(Value::as_array_mut).filter(|rows| rows.len() > 1) {
                    rows[1] = rows[0].clone();
                }
            }
            proof["proof"].as_str().filter(|kind| *kind == "exclude-one-another").map(|_| ())
        });
        // Another pair that the same reading of the plan tests fits one setting with it, where no start is unknown.
        alter("a pair for one that a reading tests with it", &|plan| {
            let proof = plan.pointer(&place).filter(|proof| proof["starts"].is_null())?;
            let pair = proof.get("pairs")?[0].clone();
            let rounds = plan["rounds"].as_array()?.iter().flat_map(|round| round["readings"].as_array().unwrap());
            let adds = rounds.map(|reading| reading["adds"].as_array().unwrap()).find(|adds| adds.contains(&pair))?;
            let other = adds.iter().find(|other| **other != pair)?.clone();
            plan.pointer_mut(&place)?["pairs"][1] = other;
            Some(())
        });
        alter("the positions of a switch swapped", &|plan| {
            plan.pointer_mut(&place)?.get_mut("because")?.get_mut(0)?["needs"].as_array_mut()?.swap(0, 1);
            Some(())
        });
        alter("a way left out of what a pair needs", &|plan| {
            let because = plan.pointer_mut(&place)?.get_mut("because")?.get_mut(0)?;
            because["needs"][0].as_array_mut()?.pop().map(|_| ())
        });
        alter("a pair left out of an irreducible core", &|plan| {
            let core = plan.pointer_mut(&place)?.get_mut("core").filter(|core| core["irreducible"] == true)?;
            if let Some(starts) = core.get_mut("starts") {
                starts.as_array_mut()?.pop();
            }
            core["pairs"].as_array_mut()?.pop().map(|_| ())
        });
        alter("a pair left out of those that exclude one another", &|plan| {
            let proof = plan.pointer_mut(&place).filter(|proof| of_walks && proof["pairs"].is_array())?;
            proof.as_object_mut()?.remove("because");
            if let Some(starts) = proof.get_mut("starts") {
                starts.as_array_mut()?.pop();
            }
            proof["pairs"].as_array_mut()?.pop().map(|_| ())
        });
        alter("more operations in a part, and in the plan", &|plan| {
            let more = plan.pointer(&place)?.get("operations")?.as_u64()? + 1;
            if plan.pointer(&place)?["proof"] == "search-exhausted" && plan.pointer(&place)?["core"].is_null() {
                return None;
            }
            plan.pointer_mut(&place)?["operations"] = json!(more);
            plan["totals"]["operations"] = json!(engine::total(plan, "operations") + 1);
            Some(())
        });
        alter("a part twice", &|plan| {
            let part = plan.pointer(&place).filter(|_| !of_walks)?.clone();
            plan["totals"]["operations"] =
                json!(engine::total(plan, "operations") + part["operations"].as_u64().expect("a number"));
            plan["why_no_fewer_operations"]["parts"].as_array_mut()?.push(part);
            Some(())
        });
        alter("a switch of nobody", &|plan| {
            plan.pointer_mut(&place)?.get_mut("devices")?.as_array_mut()?.push(json!("nobody"));
            Some(())
        });
    }
    let is_proven = plan["optimal"]["walks"] == true && engine::total(plan, "walks") > 0;
    if is_proven {
        alter("one walk more", &|plan| {
            let has_claim = plan["why_no_fewer_walks"]["proof"] != "search-exhausted"
                || plan["why_no_fewer_walks"]["core"].is_object();
            plan["totals"]["walks"] = json!(engine::total(plan, "walks") + 1);
            plan["why_no_fewer_operations"] = json!({ "proof": "nothing-to-operate" });
            plan["totals"]["operations"] = json!(0);
            has_claim.then_some(())
        });
        for (name, proof) in [
            ("nothing to operate for", json!({ "proof": "nothing-to-operate" })),
            ("not proven, and is", json!({ "proof": "not-proven" })),
        ] {
            alter(name, &|plan| {
                plan["why_no_fewer_walks"] = proof.clone();
                Some(())
            });
        }
    }
    if is_proven && plan["optimal"]["operations"] == true {
        alter("no operations", &|plan| {
            plan["why_no_fewer_operations"] = json!({ "proof": "nothing-to-operate" });
            Some(())
        });
        alter("a part left out", &|plan| plan["why_no_fewer_operations"]["parts"].as_array_mut()?.pop().map(|_| ()));
        if engine::total(plan, "walks") != engine::total(plan, "operations") {
            alter("a walk each", &|plan| {
                plan["why_no_fewer_operations"] = json!({ "proof": "a-walk-each" });
                Some(())
            });
        }
    }
    all
}

/// The checker refuses what is altered, and each alteration had something to alter many times.
#[test]
fn altered_certificates_are_refused() {
    let mut refused: BTreeMap<&str, usize> = BTreeMap::new();
    let mut kinds: BTreeMap<String, usize> = BTreeMap::new();
    let mut unexplained = 0;
    for (number, (case, asked)) in drawn(300, planning_clusters()).iter().enumerate() {
        let Some(ground) = Ground::of(&case.installation, None, asked) else { continue };
        let plan = if number % 2 == 0 { engine::plan_asked } else { engine::plan_by_solver };
        let plan = plan(&case.installation, None, asked);
        assert_eq!(ground.check(&plan), Ok(()));
        for place in places(&plan) {
            let proof = plan.pointer(&place).expect("it is there");
            let of = if place.ends_with("walks") { "walks" } else { "part" };
            let core = if proof["core"].is_object() { " with a core" } else { "" };
            *kinds.entry(format!("{of} {}{core}", proof["proof"].as_str().unwrap())).or_default() += 1;
            unexplained += usize::from(proof["proof"] == "exclude-one-another" && proof["because"] == json!([]));
        }
        for (name, altered) in altered(&plan) {
            assert!(ground.check(&altered).is_err(), "{name} is not noticed:\n{plan:#}\n{altered:#}");
            *refused.entry(name).or_default() += 1;
        }
    }
    println!("kinds: {kinds:#?}\nrefused: {refused:#?}\nunexplained: {unexplained}");
    assert_eq!(unexplained, 0, "{kinds:?}");
    assert_eq!(refused.len(), 15, "{refused:?}");
    assert!(refused.values().all(|&count| count >= 5), "{refused:?}");
}
