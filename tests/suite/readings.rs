//! Leads joined otherwise, so that fewer readings do.

use lengthwise::Limits;
use lengthwise::plan::SearchBy;
use proptest::prelude::*;
use serde_json::{Value, json};

use crate::asked::{Asked, limited, limits};
use crate::engine::{self, NEEDS, total};
use crate::laws::{check_plan, followed};
use crate::oracle;
use crate::small;
use crate::strategy::{cases, planning_clusters, times};

/// What all rounds add, sorted, without the readings.
fn added(plan: &Value) -> Vec<Vec<String>> {
    let adds_of = |round: &Value| {
        let readings = round["readings"].as_array().unwrap().iter();
        let mut adds: Vec<String> =
            readings.flat_map(|reading| reading["adds"].as_array().unwrap()).map(Value::to_string).collect();
        adds.sort();
        adds
    };
    plan["rounds"].as_array().unwrap().iter().map(adds_of).collect()
}

/// Where a plan with leads joined otherwise is wrong.
fn wrong(installation: &Value, test_set: Option<&Value>, asked: &Asked) -> Option<String> {
    wrong_in(engine::plan_asked(installation, test_set, asked), installation, test_set, asked)
}

fn wrong_in(plan: Value, installation: &Value, test_set: Option<&Value>, asked: &Asked) -> Option<String> {
    let usual = engine::plan_asked(installation, test_set, &Asked { fewest_readings: false, ..asked.clone() });
    let found = oracle::wrong_in_readings(installation, test_set, asked, &plan)
        .or((total(&plan, "readings") > total(&usual, "readings")).then(|| "more readings than usual".to_owned()))
        .or((added(&plan) != added(&usual)).then(|| "the rounds add something else".to_owned()))
        .or(["walks", "operations", "stops"]
            .into_iter()
            .find(|what| total(&plan, what) != total(&usual, what))
            .map(|what| format!("other {what}")));
    // Followed through coverage it leaves what it says, and each reading adds what it says.
    let unlocked = || check_plan(installation, test_set, asked, &plan).err().map(|error| error.to_string());
    let found = found.or(asked.without.is_empty().then(unlocked).flatten());
    found.map(|found| format!("{found}\n{plan:#}\nusual: {usual:#}"))
}

proptest! {
    #![proptest_config(times(300))]

    #[test]
    fn joined_readings_are_sound_and_the_fewest(
        case in prop_oneof![planning_clusters(), cases()],
        need in 0..3usize,
        limits in prop_oneof![Just([usize::MAX; 3]), limits()],
        restore: bool,
        each_switch in prop_oneof![3 => Just(false), 1 => Just(true)],
    ) {
        let asked = Asked { restore, each_switch, fewest_readings: true, ..limited(&case.installation, need, limits) };
        for test_set in [None, Some(&case.test_set)] {
            prop_assert_eq!(wrong(&case.installation, test_set, &asked), None);
        }
    }
}

proptest! {
    #![proptest_config(times(100))]

    /// What is not known to be the least is not called so: the oracle tries fewer.
    #[test]
    fn past_its_limits_joined_readings_claim_less_and_nothing_wrong(
        case in prop_oneof![planning_clusters(), cases()],
        need in 0..3usize,
        joined_nodes in prop_oneof![0..8usize, Just(2_000)],
        colouring_steps in 0..12usize,
    ) {
        let asked = Asked { fewest_readings: true, ..Asked::of(NEEDS[need]) };
        let mut limits = Limits::default();
        limits.plan.joined_nodes = joined_nodes;
        limits.plan.colouring_steps = colouring_steps;
        for test_set in [None, Some(&case.test_set)] {
            let plan = engine::plan_within(&case.installation, test_set, &asked, SearchBy::Size, limits.clone());
            prop_assert_eq!(wrong_in(plan, &case.installation, test_set, &asked), None);
        }
    }
}

#[test]
fn joined_readings_of_small_fixtures_are_sound_and_the_fewest() {
    let mut fewer = 0;
    for fixture in small::all() {
        for need in NEEDS {
            let asked = Asked { fewest_readings: true, ..Asked::of(need) };
            assert_eq!(wrong(&fixture.installation, None, &asked), None, "{} {need}", fixture.name);
            let [plan, usual] = [asked, Asked::of(need)]
                .map(|asked| total(&engine::plan_asked(&fixture.installation, None, &asked), "readings"));
            fewer += u64::from(plan < usual);
        }
    }
    assert!(fewer > 3, "only {fewer} plans have fewer readings: then this tests little");
}

/// By hand: the lamp's core is tested to earth by three readings, each for one way in which the selector may have
/// started. One of them completes other pairs too, by other terminals: joined with its neighbour's it must not leave
/// out the terminal by which it does its part for the lamp.
#[test]
fn a_reading_that_others_count_on_for_some_starts_is_not_replaced() {
    let fixture = small::fixture("three-feeds");
    for need in NEEDS {
        let asked = Asked { fewest_readings: true, ..Asked::of(need) };
        let plan = engine::plan_asked(&fixture.installation, Some(&fixture.test_set), &asked);
        assert_eq!(plan["untestable"], json!([]));
        let done = followed(&fixture.installation, &fixture.test_set, &plan);
        let report = engine::cover(&fixture.installation, &done, need);
        assert_eq!(report["summary"]["not_tested"], 0, "{need}: {plan:#}");
    }
}

/// By hand: TWO15, INT16, INT17 and TWO18 are one chain from the line of DB2/2 to earth (LUM27's box), and nobody knows
/// whether it leads through. In `p0` and `p3` of CRA12 its fixed bridge joins that line to neutral. So with TRI21 on, L1+L2+L3
/// to N at DB2/3 tests W26 line2-cpc for the starts for which the chain leads through, and line to neutral alone for the
/// others; to E it would be void for the former. A walk that turns one of the four does it for the others.
#[test]
fn a_joined_reading_leaves_no_pair_that_takes_two_for_all_starts() {
    let [installation, tests] = ["joined-unknown", "joined-unknown.tests"].map(small::planned);
    let asked = Asked { each_switch: true, fewest_readings: true, ..Asked::of("earth") };
    let plan = engine::plan_asked(&installation, Some(&tests), &asked);
    assert_eq!(check_plan(&installation, Some(&tests), &asked, &plan).map_err(|error| error.to_string()), Ok(()));
    let done = followed(&installation, &tests, &plan);
    // Turned by the test set, TWO18 stands otherwise than it started.
    let by = |start: [&str; 4]| {
        let mut known = done.clone();
        for (switch, position) in ["TWO15", "INT16", "INT17", "TWO18"].iter().zip(start) {
            known["start"][*switch] = position.into();
        }
        let report = engine::cover(&installation, &known, "earth");
        let by = small::pair(&report, "W26", ["line2", "cpc"])["by"].as_array().expect("it is tested").clone();
        by.into_iter().map(|name| name[0].as_u64().unwrap()).collect::<Vec<_>>()
    };
    let through = [["L1", "straight", "straight", "L2"], ["L2", "straight", "crossed", "L2"]];
    let not = [["L1", "straight", "straight", "L1"], ["L1", "crossed", "straight", "L2"]];
    let [through, not] = [through, not].map(|starts| starts.map(by));
    assert_eq!([&through[0], &not[0]], [&through[1], &not[1]]);
    assert!(through[0].iter().all(|pass| !not[0].contains(pass)), "{through:?} {not:?}");
}

/// By hand: all copper that is asked for hangs on the neutrals that the first reading has on its lead, so it adds all of it,
/// and a second would add nothing. Of the crane box's cores, brown is joined to the neutral in whichever position it is joined
/// to anything.
#[test]
fn a_plan_has_no_reading_that_adds_nothing() {
    let installation = small::planned("adds-nothing-tidy");
    let plan = engine::plan_asked(&installation, None, &Asked::of("standard"));
    assert_eq!(added(&plan), [[r#"["W1","brown","earth"]"#, r#"["W8","blue","earth"]"#]]);
    assert_eq!(total(&plan, "readings"), 1);
    for (name, fewest_readings) in [("adds-nothing", false), ("late-adds", true)] {
        let asked = Asked { fewest_readings, ..Asked::of("every-pair") };
        let plan = engine::plan_asked(&small::planned(name), None, &asked);
        assert_eq!(total(&plan, "readings"), 1, "{name}");
        assert_eq!(added(&plan)[0].len(), 8, "{name}: {plan:#}");
        let untestable = plan["untestable"].as_array().unwrap();
        assert_eq!(untestable.len(), 1);
        assert_eq!([&untestable[0]["length"], &untestable[0]["why"]], ["W7", "same-lead"]);
    }
}

/// By hand: line and neutral of the indicator may be joined whenever both are on leads, so no usual reading parts blue from
/// grey, the other line; L2 to N would, but then blue and grey would be tested and called untestable.
#[test]
fn joined_leads_test_no_pair_that_is_called_untestable() {
    let installation = small::planned("joined-untestable");
    let asked = Asked { fewest_readings: true, ..Asked::of("every-pair") };
    let plan = engine::plan_asked(&installation, None, &asked);
    let untestable: Vec<String> = plan["untestable"]
        .as_array()
        .unwrap()
        .iter()
        .map(|row| format!("{} {} {}", row["length"], row["cores"], row["why"]))
        .collect();
    assert_eq!(
        untestable,
        [
            r#""W14" ["blue","brown"] "always-bridged""#,
            r#""W14" ["blue","grey"] "always-bridged""#,
            r#""W21" ["blue","brown"] "always-bridged""#,
            r#""W22" ["blue","brown"] "always-bridged""#,
        ]
    );
    let report = oracle::cover(&installation, &followed(&installation, &json!({ "format": 1 }), &plan), "every-pair");
    assert_eq!(report["summary"]["not_tested"], 4);
}

/// FACTS of the trade: n bodies parted pairwise need at least ⌈log2 n⌉ readings: 2 for L, N, E; 3 for L1, L2, L3, N, E.
#[test]
fn a_single_phase_way_takes_two_readings_and_a_three_phase_way_three() {
    for (phases, poles, cores, readings) in [
        (1, json!(["L"]), json!({ "l": ["L", "L"], "n": ["N", "N"], "e": ["E", "E"] }), 2),
        (
            3,
            json!(["L1", "L2", "L3"]),
            json!({ "a": ["L1", "L1"], "b": ["L2", "L2"], "c": ["L3", "L3"], "n": ["N", "N"], "e": ["E", "E"] }),
            3,
        ),
    ] {
        let installation = json!({
            "format": 1,
            "installation": { "name": "Shed", "nominal_voltage": 230, "earthing": "TN-S", "phases": phases },
            "board": [{ "id": "DB1", "origin": true, "way": [{ "id": "1", "device": "mcb", "poles": poles }] }],
            "circuit": [{ "id": "C1", "name": "Shed", "way": "DB1/1" }],
            "point": [{ "id": "J1", "kind": "junction", "circuit": "C1" }],
            "length": [{
                "id": "W1", "circuit": "C1", "from": "DB1/1", "to": "J1", "cable": "", "metres": 5.0, "cores": cores,
            }],
        });
        let plan = engine::plan_asked(&installation, None, &Asked { fewest_readings: true, ..Asked::of("standard") });
        assert_eq!(total(&plan, "readings"), readings);
        assert_eq!([&plan["rounds"][0]["fewest_readings"], &plan["optimal"]["readings"]], [&json!(true), &json!(true)]);
        if phases == 1 {
            assert_eq!(
                plan["rounds"][0]["readings"][0]["between"],
                json!(["L+N", "E"]),
                "as usual where it is the same"
            );
        }
    }
}

/// That a wrong answer would be seen.
#[test]
fn changed_readings_are_wrong() {
    let fixture = small::fixture("three-phase");
    let asked = Asked { fewest_readings: true, ..Asked::of("standard") };
    let plan = engine::plan_asked(&fixture.installation, None, &asked);
    let is_wrong = |plan: &Value| oracle::wrong_in_readings(&fixture.installation, None, &asked, plan).is_some();
    assert!(!is_wrong(&plan));
    let mut usual = engine::plan_asked(&fixture.installation, None, &Asked::of("standard"));
    assert!(total(&usual, "readings") > total(&plan, "readings"));
    usual["rounds"][0]["fewest_readings"] = json!(true);
    assert!(is_wrong(&usual), "fewer readings would do");
    let mut void = plan.clone();
    void["rounds"][0]["readings"][0]["between"] = json!(["L1", "L1"]);
    assert!(is_wrong(&void));
}
