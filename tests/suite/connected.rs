//! Readings after equipment was connected: they are judged, and count for nothing else.

use lengthwise::judge::{Judgement, ReadingReason, ReadingVerdict, Verdict};
use lengthwise::model::{Installation, TestSet};
use lengthwise::prepare::{Action, Preparation};
use lengthwise::{Assumptions, Coverage, Findings, Input, Need, Network, Standard, read_record};
use serde_json::{Value, json};

use crate::engine;

/// DB1 feeds a socket and DB2, DB2 a lamp; all of it tested, and readings with equipment connected.
fn site(connected: &Value) -> (Installation, TestSet) {
    let cores = json!({ "brown": ["L", "L"], "blue": ["N", "N"], "cpc": ["E", "E"] });
    let length = |id: &str, circuit: &str, from: &str, to: &str| json!({ "id": id, "circuit": circuit, "from": from, "to": to, "metres": 4, "cores": cores });
    let installation = engine::from_value(&json!({
        "format": 1,
        "installation": { "name": "Pump house", "nominal_voltage": 230 },
        "board": [{ "id": "DB1", "origin": true, "way": [{ "id": "1", "device": "mcb" }, { "id": "2", "device": "mcb" }] },
                  { "id": "DB2", "way": [{ "id": "1", "device": "mcb" }] }],
        "circuit": [{ "id": "C1", "way": "DB1/1" }, { "id": "F", "way": "DB1/2" }, { "id": "C2", "way": "DB2/1" }],
        "point": [{ "id": "X1", "kind": "socket" }, { "id": "E2", "kind": "luminaire" }],
        "length": [length("W1", "C1", "DB1/1", "X1"), length("W2", "F", "DB1/2", "DB2.in"),
                   length("W3", "C2", "DB2/1", "E2")],
    }));
    let of = |circuit: &str, between: [&str; 2]| json!({ "circuit": circuit, "between": between, "volts": 500, "megohms": 300 });
    let readings: Vec<Value> =
        ["C1", "F", "C2"].iter().flat_map(|id| [of(id, ["L+N", "E"]), of(id, ["L", "N"])]).collect();
    let record = json!({ "format": 1, "pass": [{ "reading": readings }], "connected": connected });
    let tests =
        read_record(Input::json(&record.to_string()), &installation).unwrap_or_else(|errors| panic!("{errors}"));
    (installation, tests)
}

fn judged(connected: &Value, standard: Standard) -> Judgement {
    let (installation, tests) = site(connected);
    let network = Network::of(installation).with_ruleset(standard.ruleset().clone());
    Judgement::of(&network, &tests, Need::Ruleset).expect("it is for this installation")
}

/// BS 7671 643.3.3 (from memory): 250 V, 1 MΩ. Exactly that passes; less fails, at any voltage; at 500 V nothing is said.
#[test]
fn what_is_read_with_equipment_connected_is_judged_by_its_own_row() {
    for (volts, megohms, verdict, circuit) in [
        (json!(250), json!(1.0), ReadingVerdict::Pass, Verdict::Pass),
        (json!(250), json!(1.9), ReadingVerdict::Pass, Verdict::Pass),
        (json!(250), json!(">2"), ReadingVerdict::Pass, Verdict::Pass),
        (json!(250), json!(0.99), ReadingVerdict::Fail, Verdict::Fail),
        (json!(250), json!("<1"), ReadingVerdict::Fail, Verdict::Fail),
        (json!(250), json!(">0.5"), ReadingVerdict::NotJudgeable, Verdict::NotComplete),
        (json!(500), json!(300), ReadingVerdict::NotJudgeable, Verdict::NotComplete),
        (json!(100), json!(300), ReadingVerdict::NotJudgeable, Verdict::NotComplete),
        (json!(250), json!(""), ReadingVerdict::NotJudgeable, Verdict::NotComplete),
    ] {
        let row = json!([{ "circuit": "C1", "volts": volts, "megohms": megohms }]);
        let judgement = judged(&row, Standard::Bs7671);
        assert_eq!(judgement.connected[0].verdict, verdict, "{row}");
        let own = judgement.circuit("C1").expect("it is there");
        assert_eq!((own.verdict, judgement.verdict), (circuit, circuit), "{row}");
        assert_eq!(own.live_to_earth.as_ref().map(|figure| figure.record.as_str()), Some("300"), "in no figure: {row}");
        assert_eq!(judgement.circuit("C2").map(|row| row.verdict), Some(Verdict::Pass));
        assert_eq!(
            judgement.board("DB1").map(|row| row.verdict >= Verdict::NotComplete),
            Some(circuit != Verdict::Pass)
        );
    }
    let row = json!([{ "circuit": "C1", "volts": 250, "megohms": 300 }]);
    let judgement = judged(&row, Standard::Iec603646);
    assert!(matches!(judgement.connected[0].why, Some(ReadingReason::NoRule { .. })), "the ruleset has no such test");
    assert_eq!(judgement.verdict, Verdict::NotComplete);
}

/// One at a board says of no circuit that it is bad, and of the boards before it that they are no better.
#[test]
fn one_at_a_board_is_of_that_board_and_of_those_before_it() {
    let at = |board: &str| judged(&json!([{ "board": board, "volts": 250, "megohms": 0.5 }]), Standard::Bs7671);
    let verdicts = |judgement: &Judgement| {
        let boards = ["DB1", "DB2"].map(|id| judgement.board(id).expect("it is there").verdict);
        (boards, judgement.circuit("C2").expect("it is there").verdict)
    };
    assert_eq!(verdicts(&at("DB2")), ([Verdict::Fail; 2], Verdict::Pass));
    assert_eq!(verdicts(&at("DB1")), ([Verdict::Fail, Verdict::Pass], Verdict::Pass));
}

/// They test no pair, clear no place, and make none suspect.
#[test]
fn nothing_else_knows_of_them() {
    let rows =
        json!([{ "circuit": "C1", "volts": 250, "megohms": 0.02 }, { "board": "DB1", "volts": 250, "megohms": 90 }]);
    let [with, without] = [rows, json!([])].map(|rows| {
        let (installation, tests) = site(&rows);
        let draft = tests.to_draft(&installation).expect("its own");
        assert_eq!(draft.build(&installation).as_ref(), Ok(&tests), "it is written down and read again");
        let network = Network::of(installation);
        let coverage = Coverage::of(&network, &tests, Need::Ruleset).expect("its own");
        (coverage, Findings::of(&network, &tests, Assumptions::default()).expect("its own"))
    });
    assert_eq!(with, without);
}

#[test]
fn wrong_ones_are_told() {
    let (installation, _) = site(&json!([]));
    let said = |row: Value| {
        let record = json!({ "format": 1, "connected": [row] }).to_string();
        read_record(Input::json(&record), &installation).expect_err("it is wrong").to_string()
    };
    for (row, expected) in [
        (json!({ "circuit": "C9", "volts": 250 }), "C9"),
        (json!({ "volts": 250 }), "circuit"),
        (json!({ "circuit": "C1", "megohms": 3 }), "volts"),
        (json!({ "circuit": "C1", "volts": -3 }), "-3"),
        (json!({ "circuit": "C1", "between": ["L", "N"] }), "between"),
    ] {
        assert!(said(row.clone()).contains(expected), "{row}: {}", said(row.clone()));
    }
}

/// The step comes where the ruleset has the test, before the supply does.
#[test]
fn a_preparation_names_the_test_where_the_ruleset_has_it() {
    let (installation, _) = site(&json!([]));
    for standard in Standard::ALL {
        let network = Network::of(installation.clone()).with_ruleset(standard.ruleset().clone());
        let after = Preparation::of(&network).after;
        let place = |is: fn(&Action) -> bool| after.iter().position(|step| is(&step.action));
        let read = place(|action| matches!(action, Action::ReadConnected(test) if test.volts.0 == 250.0));
        assert_eq!(read.is_some(), standard == Standard::Bs7671);
        assert!(read.is_none_or(|read| Some(read) < place(|action| matches!(action, Action::PutBack))));
    }
}
