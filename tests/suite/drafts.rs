//! Drafts: what is written down of an installation, a test set and a plan is read back as it was.

use std::collections::{BTreeMap, BTreeSet};

use lengthwise::input::{Input, read_test_set};
use lengthwise::model::{Installation, InstallationDraft, ModelFault, PassDraft, TestSet, TestSetDraft};
use lengthwise::network::{Need, Network};
use lengthwise::plan::{Afterwards, Plan, PlanStart, Request, Round};
use lengthwise::{Coverage, InputErrors, ModelErrors, Unwatched, read_installation};
use proptest::prelude::*;

use crate::engine;
use crate::laws::counts_at;
use crate::oracle;
use crate::small;
use crate::strategy::{cases, times};

/// The draft is the same from JSON, from TOML and from what it builds; and a file with it reads as what it builds.
fn check_installation(name: &str, installation: &Installation) {
    let draft = installation.to_draft();
    let json = serde_json::to_string(&draft).expect("a draft can be written");
    assert_eq!(serde_json::from_str::<InstallationDraft>(&json).expect("it is a draft"), draft, "{name}");
    let toml = toml::to_string(&draft).expect("a draft can be written");
    assert_eq!(toml::from_str::<InstallationDraft>(&toml).expect("it is a draft"), draft, "{name}");
    for input in [Input::json(&json), Input::toml(&toml)] {
        let read = read_installation(input).unwrap_or_else(|errors| panic!("{name}: {errors}"));
        assert_eq!(read.to_draft(), draft, "{name}");
    }
}

fn check_tests(name: &str, installation: &Installation, tests: &TestSet) {
    let draft = tests.to_draft(installation).expect("it is for this installation");
    assert_eq!(draft.build(installation).as_ref(), Ok(tests), "{name}");
    let json = serde_json::to_string(&draft).expect("a draft can be written");
    let toml = toml::to_string(&draft).expect("a draft can be written");
    let from_json: TestSetDraft = serde_json::from_str(&json).expect("it is a draft");
    let from_toml: TestSetDraft = toml::from_str(&toml).expect("it is a draft");
    let letterless = |draft: &TestSetDraft| {
        let mut draft = draft.clone();
        draft.passes.iter_mut().flat_map(|pass| &mut pass.readings).for_each(|reading| reading.written = None);
        draft
    };
    assert_eq!([from_json, from_toml], [letterless(&draft), letterless(&draft)], "{name}");
    let again = read_test_set(Input::json(&json), installation).unwrap_or_else(|errors| panic!("{name}: {errors}"));
    let again = again.to_draft(installation).expect("it is for this installation");
    assert_eq!(letterless(&again), letterless(&draft), "{name}");
}

#[test]
fn drafts_are_read_back_from_what_they_are_written_as() {
    for fixture in small::all() {
        let installation = engine::installation("a.toml", fixture.text.as_bytes());
        check_installation(&fixture.name, &installation);
        let tests = engine::test_set("a.toml", fixture.tests_text.as_bytes(), &installation);
        check_tests(&fixture.name, &installation, &tests);
    }
    // Bounds, and a start with a position and a state of the bridges beside one with the latter alone.
    let demo = engine::installation("a.toml", include_bytes!("../../demo/skerry-light.toml"));
    check_installation("skerry-light", &demo);
    let record = engine::test_set("a.toml", include_bytes!("../../demo/record.toml"), &demo);
    check_tests("record", &demo, &record);
    let two_way = small::fixture("two-way");
    let installation = engine::installation("a.toml", two_way.text.as_bytes());
    let other = engine::installation("a.toml", two_way.text.as_bytes());
    let tests = engine::test_set("a.toml", two_way.tests_text.as_bytes(), &installation);
    assert!(tests.to_draft(&other).is_err());
}

/// The circuit of every point, then of every length, by FORMAT.md: none where a part names none or several, and a
/// member leaves it out. Parts are told apart by names, over and over until nothing changes.
fn circuits_by_wiring(draft: &InstallationDraft) -> Option<Vec<String>> {
    let point = |id: &str| draft.points.iter().position(|point| point.id == id);
    let count = draft.points.len();
    let mut part: Vec<usize> = (0..count + draft.lengths.len()).collect();
    let mut names: Vec<BTreeSet<&str>> = draft
        .points
        .iter()
        .map(|point| &point.circuit)
        .chain(draft.lengths.iter().map(|length| &length.circuit))
        .map(|circuit| circuit.as_deref().into_iter().collect())
        .collect();
    loop {
        let before = part.clone();
        for (number, length) in draft.lengths.iter().enumerate() {
            for (side, end) in [&length.from, &length.to].into_iter().enumerate() {
                let fed = draft.circuits.iter().find(|circuit| circuit.way.as_ref() == Some(end));
                names[count + number].extend(fed.map(|circuit| circuit.id.as_str()));
                let Some(at) = point(end) else { continue };
                let mut terminals = length.cores.values().map(|ends| ends[side].as_str());
                let is_cut = draft.points[at].kind == "transformer"
                    && terminals.clone().any(|terminal| terminal == "V1" || terminal == "V2")
                    && !terminals.any(|terminal| terminal == "L" || terminal == "N");
                if !is_cut {
                    let least = part[at].min(part[count + number]);
                    (part[at], part[count + number]) = (least, least);
                }
            }
        }
        if part == before {
            break;
        }
    }
    let of_part = |own: usize| -> BTreeSet<&str> {
        let members = (0..part.len()).filter(|&member| part[member] == own);
        members.flat_map(|member| names[member].iter().copied()).collect()
    };
    let own = draft.points.iter().map(|point| &point.circuit);
    let own = own.chain(draft.lengths.iter().map(|length| &length.circuit)).enumerate();
    own.map(|(member, circuit)| {
        let named = of_part(part[member]);
        circuit.clone().or_else(|| Some(named.first()?.to_string()).filter(|_| named.len() == 1))
    })
    .collect()
}

/// The wiring tells the circuits that are left out, or the file is refused; gives which.
fn check_circuits_left_out(draft: &InstallationDraft) -> bool {
    let told = circuits_by_wiring(draft);
    match draft.build() {
        Ok(built) => {
            let circuit = |id| built.circuit(id).id().to_owned();
            let points = built.points().map(|(_, point)| circuit(point.circuit()));
            let found: Vec<String> =
                points.chain(built.lengths().map(|(_, length)| circuit(length.circuit()))).collect();
            assert_eq!(Some(found), told);
            true
        }
        Err(errors) => {
            assert_eq!(told, None, "{errors}");
            for error in &errors {
                let is_about_circuits =
                    matches!(error.fault, ModelFault::NoCircuit { .. } | ModelFault::CircuitsMeet { .. });
                assert!(is_about_circuits, "{error}");
            }
            false
        }
    }
}

#[test]
fn the_wiring_tells_the_circuits_that_are_left_out() {
    let mut told = 0;
    for fixture in small::all() {
        let mut draft = engine::installation("a.toml", fixture.text.as_bytes()).to_draft();
        draft.points.iter_mut().for_each(|point| point.circuit = None);
        draft.lengths.iter_mut().for_each(|length| length.circuit = None);
        told += usize::from(check_circuits_left_out(&draft));
    }
    assert!(told >= 10, "{told}");
    // The secondary of a transformer is another part: its lamp leads to no way.
    let mut draft = engine::installation("a.toml", small::fixture("transformer").text.as_bytes()).to_draft();
    draft.points.iter_mut().for_each(|point| point.circuit = None);
    draft.lengths.iter_mut().for_each(|length| length.circuit = None);
    assert_eq!(
        draft.build().expect_err("nothing tells the lamp's circuit").to_string(),
        "point[2]: the point `E1` names no circuit, and its wiring leads to none"
    );
    draft.lengths[3].circuit = Some("C1".to_owned());
    assert!(draft.build().is_ok());
}

#[test]
fn a_draft_of_another_shape_is_refused() {
    let refused = |json: &str| serde_json::from_str::<TestSetDraft>(json).expect_err("it is no draft").to_string();
    assert!(refused(r#"{ "format": 2 }"#).contains("expected 1, the only version there is"));
    assert!(refused(r#"{ "format": 1, "passes": [] }"#).contains("unknown field `passes`"));
    let reading = |megohms: &str| {
        refused(&format!(
            r#"{{ "format": 1, "pass": [{{ "reading": [{{ "between": ["L", "N"], "megohms": {megohms} }}] }}] }}"#
        ))
    };
    assert!(reading("\"OL\"").contains("\"OL\" is no bound"));
    let general = r#"{ "format": 1, "installation": { "name": "a", "nominal_voltage": 230, "earthing": "TN" } }"#;
    let refused = serde_json::from_str::<InstallationDraft>(general).expect_err("it is no draft").to_string();
    assert!(refused.contains("unknown variant `TN`, expected one of `TN-S`, `TN-C-S`, `TT`, `IT`"), "{refused}");
}

/// What a program that reads some drafts and builds others gives as its one error.
#[test]
fn errors_of_a_draft_are_errors_of_an_input() {
    let mut draft = engine::installation("a.toml", small::fixture("two-way").text.as_bytes()).to_draft();
    draft.points[1].kind = "aplliance".to_owned();
    draft.lengths[0].metres.0 = -14.0;
    let errors: ModelErrors = draft.build().expect_err("two things are wrong");
    let told = errors.to_string();
    assert_eq!(told.lines().count(), 2, "{told}");
    assert!(told.contains("point[1].kind: there is no kind `aplliance`"), "{told}");
    let paths: Vec<String> = errors.errors().iter().map(|error| error.path.to_string()).collect();
    assert!(paths.contains(&"length[0].metres".to_owned()), "{paths:?}");
    let errors = InputErrors::from(errors);
    assert_eq!(errors.to_string(), told);
    // Of a text they have both: the place in the text, and that in the draft.
    let json = serde_json::to_string(&draft).expect("a draft can be written");
    let read = read_installation(Input::json(&json)).expect_err("two things are wrong");
    let places: Vec<(bool, Option<String>)> =
        read.into_iter().map(|error| (error.place.is_some(), error.path.map(|path| path.to_string()))).collect();
    let expected: Vec<(bool, Option<String>)> = paths.into_iter().map(|path| (true, Some(path))).collect();
    assert_eq!(places, expected);
}

#[test]
fn everything_of_an_installation_is_found_by_its_name() {
    let demo = engine::installation("a.toml", include_bytes!("../../demo/skerry-light.toml"));
    let network = Network::of(demo.clone());
    let report = serde_json::to_value(network.report()).expect("a report is JSON");
    let named = |list: &str, key: &str| -> Vec<String> {
        let rows = report[list].as_array().expect("it is a list");
        assert!(rows.len() > 10, "{list}");
        rows.iter().map(|row| row[key].as_str().unwrap_or_else(|| panic!("{row}")).to_owned()).collect()
    };
    for name in named("devices", "device") {
        let device = demo.device_by_name(&name).unwrap_or_else(|| panic!("{name}"));
        assert_eq!(device.name(&demo), name);
        assert!(!device.positions(&demo).is_empty(), "{name}");
    }
    for (_, length) in demo.lengths() {
        for terminal in length.cores().iter().flat_map(|core| core.ends()).flatten() {
            assert_eq!(demo.terminal_by_name(&demo.terminal_name(terminal)), Some(terminal));
        }
    }
    let none = ["", ".", "MET.", "DB1", "DB1/", "DB1/1", "DB1.in", "DB1.in.", "DB1.nothing.L", "S9.COM", "DB1.E.E"];
    for name in none {
        assert_eq!(demo.terminal_by_name(name), None, "{name}");
    }
    for name in ["", "/", "DB1/", "DB1", "DB1.E", "DB1.nothing", "S9", "E201"] {
        assert_eq!(demo.device_by_name(name), None, "{name}");
    }
}

/// A plan that is carried out, as passes behind a test set, leaves untested what it says and nothing else.
fn check_passes(
    network: &Network,
    tests: Option<&TestSet>,
    request: &Request,
    asked: &BTreeMap<String, Vec<f64>>,
) -> Result<(), TestCaseError> {
    let installation = network.installation();
    let plan = Plan::with(network, tests, request, &mut Unwatched).expect("it is for this installation");
    let empty = TestSet::default();
    let mut draft = tests.unwrap_or(&empty).to_draft(installation).expect("it is for this installation");
    let start = PlanStart::of(network, tests, request).expect("it is for this installation");
    draft.passes.push(start.to_pass(installation));
    let mut missed: Vec<[String; 3]> = Vec::new();
    let voltages: BTreeSet<String> = asked.values().map(|asked| format!("{asked:?}")).collect();
    for voltages in voltages {
        // A reading of the plan counts where its voltage will do.
        let is_here = |length: &str| format!("{:?}", asked[length]) == voltages;
        let settings = asked.values().find(|asked| format!("{asked:?}") == voltages).expect("one has them");
        let mut passes: Vec<PassDraft> = plan.rounds.iter().map(Round::to_pass).collect();
        for pass in &mut passes {
            pass.readings.retain(|reading| counts_at(settings, reading.volts.map(|volts| volts.0)));
        }
        let mut draft = draft.clone();
        draft.passes.extend(passes);
        let done = draft.build(installation).unwrap_or_else(|errors| panic!("{errors}"));
        let coverage = Coverage::of(network, &done, request.need).expect("it is for this installation");
        let rows = coverage.missed().filter(|pair| is_here(&pair.length));
        missed.extend(rows.map(|pair| [pair.length.clone(), pair.cores[0].clone(), pair.cores[1].clone()]));
    }
    let untestable = plan.untestable.iter().map(|pair| pair.pair().map(str::to_owned));
    let mut left: Vec<[String; 3]> = untestable.chain(plan.not_planned.iter().cloned()).collect();
    left.sort();
    missed.sort();
    prop_assert_eq!(missed, left);
    Ok(())
}

proptest! {
    #![proptest_config(times(256))]

    #[test]
    fn random_circuits_are_told_by_the_wiring(case in cases(), left_out in prop::collection::vec(0..4u8, 64)) {
        let mut draft = engine::from_value(&case.installation).to_draft();
        let points = draft.points.iter_mut().map(|point| &mut point.circuit);
        let members = points.chain(draft.lengths.iter_mut().map(|length| &mut length.circuit));
        let rarely_kept = members.zip(left_out.iter().cycle()).filter(|(_, left_out)| **left_out > 0);
        rarely_kept.for_each(|(circuit, _)| *circuit = None);
        check_circuits_left_out(&draft);
    }
}

proptest! {
    #![proptest_config(times(128))]

    #[test]
    fn a_plan_written_down_as_passes_leaves_what_it_says(case in cases(), need in 0..3usize, is_restored in any::<bool>()) {
        let installation = engine::from_value(&case.installation);
        let tests = engine::test_set("a.json", case.test_set.to_string().as_bytes(), &installation);
        check_installation("random", &installation);
        check_tests("random", &installation, &tests);
        let network = Network::of(installation);
        let mut request = Request::from([Need::Earth, Need::Standard, Need::EveryPair][need]);
        if is_restored {
            request.afterwards = Afterwards::AsFound;
        }
        let asked = oracle::asked_of_lengths(&case.installation);
        check_passes(&network, None, &request, &asked)?;
        check_passes(&network, Some(&tests), &request, &asked)?;
    }
}
