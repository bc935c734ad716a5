//! What can't be disconnected: readings at the voltage of a relief, with electronics left in between the leads.

use lengthwise::coverage::Coverage;
use lengthwise::judge::{Column, Judgement, ReadingVerdict, Verdict};
use lengthwise::locate::State;
use lengthwise::model::{Installation, TestSet, Volts};
use lengthwise::plan::{Plan, Untestable};
use lengthwise::prepare::{Action, Preparation};
use lengthwise::{Assumptions, Findings, Input, Need, Network, Standard, Void, read_record, read_ruleset};
use serde_json::json;

use crate::engine;

fn fixture() -> (Installation, TestSet) {
    let installation = engine::installation("relief.toml", include_bytes!("../fixtures/small/relief.toml"));
    let tests = include_bytes!("../fixtures/small/relief.tests.toml");
    let tests = engine::test_set("relief.tests.toml", tests, &installation);
    (installation, tests)
}

fn by(installation: &Installation, standard: Standard) -> Network {
    Network::of(installation.clone()).with_ruleset(standard.ruleset().clone())
}

fn covered(network: &Network, tests: &TestSet) -> Coverage {
    Coverage::of(network, tests, Need::Standard).expect("its own tests")
}

/// X2 lies between L, N and E of C1. Its relief leaves it in at 250 V; not at 500 V, nor where nobody put a voltage down.
/// C2 says why and not what, so nothing is left in there. By BS 7671 and AS/NZS 3000 (from
/// memory) each reading may be taken so, by IEC 60364-6 (from memory) those to earth.
#[test]
fn what_is_left_in_voids_no_reading_at_the_voltage_of_the_relief() {
    let (installation, tests) = fixture();
    let doubtful = Some(Void::Doubtful);
    let rows = [
        (Standard::Bs7671, [None, None, doubtful, doubtful, doubtful], 6, 9),
        (Standard::Iec603646, [None, doubtful, doubtful, doubtful, doubtful], 4, 7),
        (Standard::AsNzs3000, [None, None, doubtful, doubtful, doubtful], 6, 9),
    ];
    for (standard, voids, tested, required) in rows {
        let coverage = covered(&by(&installation, standard), &tests);
        assert_eq!(coverage.readings.iter().map(|row| row.void).collect::<Vec<_>>(), voids, "{standard:?}");
        let summary = coverage.summary;
        assert_eq!((summary.tested, summary.required), (tested, required), "{standard:?}");
        for row in &coverage.readings {
            let left_in: &[&str] = if row.void.is_none() { &["X2"] } else { &[] };
            assert_eq!(row.left_in, left_in, "{standard:?}");
        }
    }
}

/// An instrument that is set to 250 V gives up to 312.5 V. More is not the relief's voltage, for what stays in as for
/// `judge`; nor is the row's, where a ruleset has the two so near.
#[test]
fn what_an_instrument_gives_at_the_voltage_of_the_relief_is_that() {
    let (installation, _) = fixture();
    let bs_7671 = by(&installation, Standard::Bs7671);
    let relief = "[relief]\nvolts = 450\nmegohms = 1\nsource = \"here\"\nedition = \"first\"\nfrom_memory = false\n";
    let near = format!("{}\n{relief}", include_str!("../fixtures/rules/own.toml"));
    let near = read_ruleset(Input::toml(near.as_bytes())).expect("a ruleset");
    let near = Network::of(installation.clone()).with_ruleset(near);
    for (network, taken, is_sound) in [
        (&bs_7671, 200.0, true),
        (&bs_7671, 255.0, true),
        (&bs_7671, 312.5, true),
        (&bs_7671, 313.0, false),
        (&bs_7671, 500.0, false),
        (&near, 499.0, true),
        (&near, 500.0, false),
    ] {
        let reading = json!({ "circuit": "C1", "between": ["L", "N"], "volts": taken, "megohms": 9.0 });
        let tests = json!({ "format": 1, "pass": [{ "reading": [reading] }] }).to_string();
        let tests = engine::test_set("tests.json", tests.as_bytes(), &installation);
        let void = covered(network, &tests).readings[0].void;
        assert_eq!(void, if is_sound { None } else { Some(Void::Doubtful) }, "{taken} V");
        let judged = Judgement::of(network, &tests, Need::Standard).expect("its own tests");
        let is_judged = judged.readings[0].verdict != ReadingVerdict::NotJudgeable;
        assert_eq!(is_judged, is_sound && taken >= 250.0, "{taken} V");
    }
}

/// What the relief does not name voids a reading as ever, at whatever voltage; and a lead that is joined for sure does.
#[test]
fn nothing_else_is_let_pass() {
    let file = |leaves: serde_json::Value, lamp: &str| {
        json!({
            "format": 1,
            "installation": { "name": "Two", "nominal_voltage": 230, "earthing": "TT" },
            "board": [{ "id": "DB1", "origin": true, "way": [{ "id": "1", "device": "mcb" }] }],
            "circuit": [{ "id": "C1", "way": "DB1/1", "relief": { "because": "built in", "leaves": leaves } }],
            "point": [{ "id": "E1", "kind": "luminaire", "circuit": "C1", "lamp": lamp, "removable": false },
                      { "id": "E2", "kind": "luminaire", "circuit": "C1", "lamp": "led", "removable": false }],
            "length": [{ "id": "W1", "circuit": "C1", "from": "DB1/1", "to": "E1", "metres": 3,
                         "cores": { "brown": ["L", "L"], "blue": ["N", "N"], "cpc": ["E", "E"] } },
                       { "id": "W2", "circuit": "C1", "from": "E1", "to": "E2", "metres": 3,
                         "cores": { "brown": ["L", "L"], "blue": ["N", "N"], "cpc": ["E", "E"] } }],
        })
    };
    let reading = json!({ "circuit": "C1", "between": ["L", "N"], "volts": 250 });
    let tests = json!({ "format": 1, "pass": [{ "reading": [reading] }] });
    for (leaves, lamp, void) in [
        (json!(["E1", "E2"]), "led", json!(null)),
        (json!(["E1"]), "led", json!("doubtful")),
        (json!(["E1", "E2"]), "filament", json!("bridged")),
        (json!(["E2"]), "filament", json!("bridged")),
    ] {
        let report = engine::cover(&file(leaves.clone(), lamp), &tests, "standard");
        assert_eq!(report["readings"][0]["void"], void, "{leaves} {lamp}");
    }
}

/// 2.5 MΩ to earth is enough at 250 V on old work; on new work, where more than 20 is expected, it is investigated. The
/// surge protection may have part in it, so the insulation may be better: nothing bounds the board from above.
#[test]
fn a_record_is_judged_by_readings_with_equipment_left_in() {
    let (installation, _) = fixture();
    let record = json!({ "format": 1, "pass": [{ "reading": [
        { "circuit": "C1", "between": ["L+N", "E"], "volts": 250, "megohms": 2.5 },
        { "circuit": "C1", "between": ["L", "N"], "volts": 250, "megohms": 4 },
    ] }] });
    let record = read_record(Input::json(&record.to_string()), &installation).expect("it is right");
    let judgement = Judgement::of(&by(&installation, Standard::Bs7671), &record, Need::Standard).expect("its own");
    assert!(judgement.readings.iter().all(|row| row.verdict == ReadingVerdict::Investigate));
    let circuit = judgement.circuit("C1").expect("it is there");
    assert_eq!((circuit.verdict, circuit.tested, circuit.required), (Verdict::Investigate, 6, 6));
    let board = judgement.board("DB1").expect("it is there");
    for column in Column::BOTH {
        let combined = board.combined(column).expect("it has a figure");
        assert!(combined.resistance.upper().0.is_infinite(), "{combined:?}");
    }
}

/// A plan reads C1 at 250 V, with X2 in; of C2 nobody says what is left in, so every reading is void.
#[test]
fn a_plan_counts_on_what_is_left_in() {
    let (installation, tests) = fixture();
    let network = by(&installation, Standard::Bs7671);
    let plan = Plan::of(&network, None, Need::Standard).expect("nothing is asked amiss");
    let readings: Vec<_> = plan.rounds.iter().flat_map(|round| &round.readings).collect();
    assert!(readings.iter().all(|row| row.circuit == "C1" && row.volts == Some(Volts(250.0))), "{readings:?}");
    let untestable: Vec<_> = plan.untestable.iter().map(|row| (row.length.as_str(), row.why)).collect();
    assert_eq!(untestable, [("W3", Untestable::AlwaysBridged); 3]);
    // What is tested already is not planned.
    let rest = Plan::of(&network, Some(&tests), Need::Standard).expect("nothing is asked amiss");
    assert!(rest.rounds.is_empty(), "{:?}", rest.rounds);
    // By IEC 60364-6 no pair between its live conductors is asked for, so one reading does for each length.
    let plan = Plan::of(&by(&installation, Standard::Iec603646), None, Need::Standard).expect("as above");
    let readings = plan.rounds.iter().flat_map(|round| &round.readings).map(|row| row.between.join(" to "));
    assert_eq!(readings.collect::<Vec<_>>(), ["L+N to E"]);
}

/// A preparation says which readings are taken with it in, and by which rule.
#[test]
fn a_preparation_says_what_is_left_in() {
    let (installation, _) = fixture();
    let preparation = Preparation::of(&by(&installation, Standard::Bs7671));
    let read = |circuit: usize| {
        let steps = preparation.circuits[circuit].steps.iter();
        let read = steps.filter_map(|step| match &step.action {
            Action::Read { left_in, never_cut_off, relief, .. } => {
                Some((left_in.join(" "), never_cut_off.join(" "), relief.is_some()))
            }
            _ => None,
        });
        read.collect::<Vec<_>>()
    };
    let says = |left_in: &str, never: &str| (left_in.to_owned(), never.to_owned(), true);
    assert_eq!(read(0), [says("X2", ""), says("X2", "")]);
    assert_eq!(read(1), [says("", "X3"), says("", "X3")]);
}

/// 0.4 MΩ with surge protection left in: the insulation may leak all of it (1/0.4 MΩ and the instrument's error), or
/// nothing, for it may be the surge protection. So a fault is nowhere certain.
#[test]
fn leakage_is_bounded_from_above_alone() {
    let (installation, _) = fixture();
    let tests = json!({ "format": 1, "pass": [{ "reading": [
        { "circuit": "C1", "between": ["L+N", "E"], "volts": 250, "megohms": 0.4 },
    ] }] });
    let tests = engine::test_set("tests.json", tests.to_string().as_bytes(), &installation);
    let network = by(&installation, Standard::Bs7671);
    let findings = Findings::of(&network, &tests, Assumptions::default()).expect("its own tests");
    assert_eq!(findings.readings[0].left_out, None);
    assert_eq!(findings.faults.at_least, 0);
    assert!(!findings.gaps.is_empty());
    for gap in &findings.gaps {
        assert_eq!((gap.state, gap.least_microsiemens), (State::Suspect, 0.0), "{gap:?}");
        let greatest = gap.greatest_microsiemens.expect("it is bounded");
        assert!(greatest > 2.5 && greatest < 4.0, "{greatest}");
    }
}
