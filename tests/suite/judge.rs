//! What readings come to: values and bounds against the limit, the two figures of a circuit, boards in parallel, and
//! what good readings leave untested.

use lengthwise::Input;
use lengthwise::Standard;
use lengthwise::Void;
use lengthwise::input::{read_record, read_ruleset};
use lengthwise::judge::{
    Against, Column, Combined, Judgement, Neither, ReadingReason, ReadingVerdict, Resistance, Verdict, WhyNotProven,
};
use lengthwise::model::{Indication, Installation, Megohms, TestSet, Volts};
use lengthwise::network::{Need, Network};
use proptest::prelude::*;
use serde_json::{Value, json};

use crate::boards::listed;
use crate::engine;

fn slip() -> (Installation, TestSet) {
    read(include_bytes!("../fixtures/judge/slip.toml"), include_bytes!("../fixtures/judge/slip.record.toml"))
}

fn read(installation: &[u8], record: &[u8]) -> (Installation, TestSet) {
    let installation = engine::installation("site.toml", installation);
    let tests = read_record(Input::toml(record), &installation).unwrap_or_else(|errors| panic!("{errors}"));
    (installation, tests)
}

fn of(text: &str) -> Resistance {
    let number = |text: &str| Megohms(text.parse().expect("a number"));
    Resistance::of(match text.split_at(1) {
        (">", rest) => Indication::MoreThan(number(rest)),
        ("<", rest) => Indication::LessThan(number(rest)),
        _ => Indication::Value(number(text)),
    })
}

fn together(texts: &[&str]) -> Resistance {
    Resistance::parallel(texts.iter().map(|text| of(text))).expect("there are some")
}

/// Worked examples of resistances in parallel. Each says where it is from.
#[test]
fn resistances_in_parallel_as_worked_by_others() {
    let examples: [(&[&str], f64, f64); 4] = [
        // Ohm's law: circuits of 50, 20, 100 and 200 MΩ read together 11.76 MΩ.
        (&["50", "20", "100", "200"], 11.76, 0.01),
        // A trade teaching page on insulation resistance, published 2 July 2007: circuits of 5, 20, 10, 20 and 2 MΩ on
        // one board come to 1.11111 MΩ.
        (&["5", "20", "10", "20", "2"], 1.11111, 0.00001),
        // Free High School Science Texts, Physics (openly licensed), chapter 19 "Electric circuits", section 19.4,
        // parallel circuit 2: three resistors of 10 ohms come to 3.33 ohms.
        (&["10", "10", "10"], 3.33, 0.01),
        // OpenStax, College Physics (openly licensed), chapter 21, example 21.2 (its numbers from memory): 1.00, 6.00
        // and 13.0 ohms come to 0.804 ohms.
        (&["1.00", "6.00", "13.0"], 0.804, 0.001),
    ];
    for (texts, expected, last_place) in examples {
        let found = together(texts).value().expect("values give a value").0;
        // The examples are rounded or cut at their last place.
        assert!((found - expected).abs() < last_place, "{texts:?}: {found}, expected {expected}");
    }
    assert_eq!(together(&["50", "20", "100", "200"]).to_string(), "11.76");
}

/// By hand: one reading is over the range of 999 MΩ, one at its end, and neither contradicts the other. The lowest of both is
/// 999 MΩ, of the circuit and of the board, whose only circuit it is; that is above what is asked.
#[test]
fn a_reading_over_the_range_beside_one_at_its_end_is_decided() {
    let (installation, tests) = read(
        include_bytes!("../fixtures/judge/beyond-range.toml"),
        include_bytes!("../fixtures/judge/beyond-range.record.toml"),
    );
    let network = Network::of(installation).with_ruleset(Standard::Iec603646.ruleset().clone());
    let judgement = Judgement::of(&network, &tests, Need::Standard).expect("it is for this installation");
    let answer = serde_json::to_value(&judgement).expect("it is data");
    assert_eq!(answer["verdict"], "pass");
    let circuit = &answer["circuits"][0];
    assert_eq!([&circuit["required"], &circuit["tested"]], [6, 6]);
    let [live, earth] = ["live_to_live", "live_to_earth"].map(|column| &circuit[column]);
    assert_eq!(
        [&live["record"], &earth["record"], &earth["at_least"]],
        [&json!("21.0"), &json!("999.0"), &json!(999.0)]
    );
    let board = &answer["boards"][0]["live_to_earth"];
    assert_eq!([&board["at_least"], &board["at_most"]], [999.0, 999.0]);
    assert_eq!([&board["against"], &answer["boards"][0]["verdict"]], ["at-least", "pass"]);
}

type Judged = (ReadingVerdict, Option<ReadingReason>);

const PASS: Judged = (ReadingVerdict::Pass, None);
const FAIL: Judged = (ReadingVerdict::Fail, None);

fn investigate(why: ReadingReason) -> Judged {
    (ReadingVerdict::Investigate, Some(why))
}

fn not_judgeable(why: ReadingReason) -> Judged {
    (ReadingVerdict::NotJudgeable, Some(why))
}

fn asked_of(system: &str, nominal: f64, megohms: Value, volts: f64, work: &str) -> Judged {
    let installation = engine::from_value(&json!({
        "format": 1,
        "installation": { "name": "One circuit", "nominal_voltage": 230, "earthing": "TT", "work": work },
        "board": [{ "id": "DB1", "origin": true, "way": [{ "id": "1", "device": "mcb" }] }],
        "circuit": [{ "id": "C1", "way": "DB1/1", "system": system, "nominal_voltage": nominal }],
    }));
    let record = json!({ "format": 1, "pass": [{ "reading": [
        { "circuit": "C1", "between": ["L+N", "E"], "volts": volts, "megohms": megohms }
    ] }] });
    let tests =
        read_record(Input::json(&record.to_string()), &installation).unwrap_or_else(|errors| panic!("{errors}"));
    let network = Network::of(installation.clone());
    let judgement = Judgement::of(&network, &tests, Need::Standard).expect("it is for this installation");
    let reading = &judgement.readings[0];
    (reading.verdict, reading.why.clone())
}

/// BS 7671:2018 Table 64: each limit at, just below and just above; by common practice what is below 2 MΩ is
/// investigated, and new work is expected above 20 MΩ.
#[test]
fn each_limit_at_just_below_and_just_above() {
    let below = investigate(ReadingReason::Below { megohms: Megohms(2.0) });
    let not_expected = investigate(ReadingReason::NotExpectedWhenNew { megohms: Megohms(20.0) });
    let table = [
        ("selv", 12.0, 250.0, 0.49, "existing", FAIL),
        ("selv", 12.0, 250.0, 0.5, "existing", below.clone()),
        ("pelv", 24.0, 250.0, 0.4999, "existing", FAIL),
        ("pelv", 24.0, 250.0, 0.51, "existing", below.clone()),
        ("felv", 24.0, 500.0, 0.99, "existing", FAIL),
        ("felv", 24.0, 500.0, 1.0, "existing", below.clone()),
        ("lv", 230.0, 500.0, 0.999, "existing", FAIL),
        ("lv", 230.0, 500.0, 1.0, "existing", below.clone()),
        ("lv", 230.0, 500.0, 1.01, "existing", below.clone()),
        ("lv", 500.0, 500.0, 1.0, "existing", below.clone()),
        ("lv", 501.0, 1000.0, 0.99, "existing", FAIL),
        ("lv", 501.0, 1000.0, 1.0, "existing", below.clone()),
        ("lv", 230.0, 500.0, 1.99, "existing", below.clone()),
        ("lv", 230.0, 500.0, 2.0, "existing", PASS),
        ("lv", 230.0, 500.0, 2.01, "existing", PASS),
        ("lv", 230.0, 500.0, 1.99, "new", below),
        ("lv", 230.0, 500.0, 2.0, "new", not_expected.clone()),
        ("lv", 230.0, 500.0, 20.0, "new", not_expected),
        ("lv", 230.0, 500.0, 20.01, "new", PASS),
        ("lv", 230.0, 500.0, 0.99, "new", FAIL),
    ];
    for (system, nominal, volts, value, work, expected) in table {
        let found = asked_of(system, nominal, json!(value), volts, work);
        assert_eq!(found, expected, "{system} {nominal} V, {value} MΩ at {volts} V, {work}");
    }
}

#[test]
fn a_bound_is_judged_only_where_it_decides() {
    let ends_below = not_judgeable(ReadingReason::RangeEndsBelowLimit { megohms: Megohms(1.0) });
    let begins_above = not_judgeable(ReadingReason::RangeBeginsAboveLimit { megohms: Megohms(1.0) });
    let not_expected = investigate(ReadingReason::NotExpectedWhenNew { megohms: Megohms(20.0) });
    for (text, expected) in [
        (">999", PASS),
        (">20", PASS),
        (">19.9", not_expected),
        (">1", investigate(ReadingReason::Below { megohms: Megohms(2.0) })),
        (">0.99", ends_below),
        ("<0.01", FAIL),
        ("<1", FAIL),
        ("<1.01", begins_above),
    ] {
        assert_eq!(asked_of("lv", 230.0, json!(text), 500.0, "new"), expected, "{text}");
    }
}

#[test]
fn another_voltage_than_is_asked_cannot_be_judged() {
    let (volts, asked) = (Volts, Volts(500.0));
    let low = |taken, is_relief| {
        not_judgeable(ReadingReason::VoltsTooLow { taken: volts(taken), asked, is_relief, is_low: false })
    };
    assert_eq!(asked_of("lv", 230.0, json!(200), 499.0, "new"), low(499.0, false));
    assert_eq!(asked_of("lv", 230.0, json!(200), 250.0, "new"), low(250.0, true));
    let high = not_judgeable(ReadingReason::VoltsTooHigh { taken: volts(1000.0), asked });
    assert_eq!(asked_of("lv", 230.0, json!(200), 1000.0, "new"), high);
    // Not even where the value would fail at any voltage; but it is said.
    let too_low = ReadingReason::VoltsTooLow { taken: volts(250.0), asked, is_relief: true, is_low: true };
    assert_eq!(asked_of("lv", 230.0, json!("<0.01"), 250.0, "new"), not_judgeable(too_low));
}

/// IEC 61557-2 (from memory): the instrument gives at least its nominal voltage, and at most 1.25 times that with
/// nothing connected.
#[test]
fn what_the_instrument_gave_is_taken_for_its_setting() {
    for (taken, is_right) in [(499.9, false), (500.0, true), (513.0, true), (625.0, true), (625.1, false)] {
        assert_eq!(asked_of("lv", 230.0, json!(200), taken, "new") == PASS, is_right, "{taken} V");
    }
}

#[test]
fn a_circuit_passes_only_where_all_is_tested_and_all_is_good() {
    let (installation, tests) = slip();
    let network = Network::of(installation.clone());
    let judgement = Judgement::of(&network, &tests, Need::Standard).expect("it is for this installation");
    use Verdict::{Fail, Investigate, NotComplete, Pass};
    let expected = [
        ("C1", Pass),
        ("C2", Fail),
        ("C3", Investigate),
        ("C4", NotComplete),
        ("C5", Pass),
        ("C6", Fail),
        ("C7", NotComplete),
        ("C8", Fail),
        ("C9", NotComplete),
        ("C10", NotComplete),
        ("C11", NotComplete),
        ("CF", Pass),
        ("C12", NotComplete),
    ];
    let verdicts: Vec<_> = judgement.circuits.iter().map(|row| (row.circuit.as_str(), row.verdict)).collect();
    assert_eq!(verdicts, expected);
    assert_eq!(judgement.verdict, Fail);
}

#[test]
fn the_record_has_the_least_of_all_passes_as_it_was_written() {
    let (installation, tests) = slip();
    let network = Network::of(installation.clone());
    let judgement = Judgement::of(&network, &tests, Need::Standard).expect("it is for this installation");
    let figure = |id: &str, column| {
        let figure = judgement.circuit(id).expect("the circuit is there").figure(column)?;
        Some((figure.record.clone(), figure.resistance.to_string()))
    };
    let some = |record: &str, known: &str| Some((record.to_owned(), known.to_owned()));
    assert_eq!(figure("C1", Column::LiveToEarth), some("250.0", "250"));
    assert_eq!(figure("C3", Column::LiveToEarth), some("1.00", "1"));
    assert_eq!(figure("C4", Column::LiveToEarth), None, "its only one was read at another voltage");
    assert_eq!(figure("C8", Column::LiveToEarth), some("<0.01", "<0.01"));
    assert_eq!(figure("C11", Column::LiveToLive), None, "its only one is void");
    // The least of more than 200 and 250 is more than 200, and 250 at most.
    assert_eq!(figure("CF", Column::LiveToEarth), some(">200", ">200, at most 250"));
    assert_eq!(figure("CF", Column::LiveToLive), some(">200", ">200"));
    // Taken at the socket by full names, and to earth all the same.
    assert_eq!(figure("C12", Column::LiveToEarth), some("99.5", "99.5"));
    // Nothing is lost or moved.
    let written: Vec<&str> = judgement.readings.iter().filter_map(|row| row.megohms.as_deref()).collect();
    assert_eq!(written.len(), 30);
    assert_eq!(written[..5], ["250.0", ">999", "0.99", "120", "1.00"]);
    let mixed = judgement.reading([1, 27]).expect("it is listed");
    assert_eq!((mixed.column, mixed.neither), (None, Some(Neither::LiveWithEarth)));
    assert_eq!(mixed.verdict, ReadingVerdict::Pass, "line joined to earth, to neutral: good, but in neither figure");
    let lamp = judgement.reading([1, 20]).expect("it is listed");
    let void = not_judgeable(ReadingReason::Void { void: Void::Bridged });
    assert_eq!((lamp.verdict, lamp.why.clone()), void);
}

#[test]
fn a_board_is_its_circuits_and_those_behind_it() {
    let (installation, tests) = slip();
    let network = Network::of(installation.clone());
    let judgement = Judgement::of(&network, &tests, Need::Standard).expect("it is for this installation");
    let [db1, db2] = &judgement.boards[..] else { panic!("two boards") };
    let to_earth = db1.combined(Column::LiveToEarth).expect("there are figures");
    let listed = |pick: fn(&Combined) -> &Vec<String>| listed(&judgement, "DB1", Column::LiveToEarth, pick);
    assert_eq!(listed(|row| &row.without), ["C4", "C9", "C10"]);
    assert_eq!(listed(|row| &row.circuits), ["C1", "C2", "C3", "C5", "C6", "C7", "C8", "C11", "CF", "C12"]);
    assert_eq!(to_earth.against, Some(Against::Below), "a bound above decides, whatever the others are");
    assert_eq!((to_earth.resistance.lower(), to_earth.resistance.is_below_upper()), (Megohms(0.0), true));
    assert_eq!(db1.verdict, Verdict::Fail);
    // Not tested, or too low: nothing is known from below.
    assert_eq!(listed(|row| &row.incomplete), ["C2", "C4", "C7", "C8", "C9", "C10"]);
    assert_eq!((&db1.behind[..], &db1.not_passed_behind[..]), (&["DB2".to_owned()][..], &["DB2".to_owned()][..]));
    assert!(to_earth.incomplete_behind.is_empty());
    let alone = db2.combined(Column::LiveToEarth).expect("there is a figure");
    // Line to earth 99.5, taken at the socket; neutral to earth 400, with the line at the way: 1/(1/99.5 + 1/400) =
    // 79.6797.
    assert_eq!(
        (alone.resistance.to_string().as_str(), alone.against),
        ("at least 79.67, at most 99.5", Some(Against::AtLeast))
    );
    assert_eq!(db2.verdict, Verdict::NotComplete, "its circuit is not complete");
}

/// What is asked of the circuit that a pair lies in counts too: the common neutral bar brings other circuits' readings
/// to the neutral of the 690 V circuit, none of them at 1000 V.
#[test]
fn a_pair_needs_a_reading_that_is_good_for_its_own_circuit() {
    let (installation, tests) = slip();
    let network = Network::of(installation.clone());
    let judgement = Judgement::of(&network, &tests, Need::Standard).expect("it is for this installation");
    let missed: Vec<_> = judgement.missed_of("C10").collect();
    assert_eq!(missed.iter().map(|row| &row.cores).collect::<Vec<_>>(), [&["brown", "cpc"], &["blue", "cpc"]]);
    let WhyNotProven::NoGoodReading { readings } = &missed[1].why else { panic!("it is tested") };
    let readings = judgement.shared.readings(Some(*readings));
    assert!(readings.len() > 10 && readings.contains(&[1, 1]), "{readings:?}");
    assert!(!readings.contains(&[1, 18]), "that one is between live conductors");
}

#[test]
fn where_the_ruleset_has_no_value_nothing_passes() {
    let (installation, tests) = slip();
    let network = Network::of(installation.clone()).with_ruleset(Standard::AsNzs3000.ruleset().clone());
    let judgement = Judgement::of(&network, &tests, Need::Earth).expect("it is for this installation");
    let signals = judgement.circuit("C6").expect("the circuit is there");
    assert!(signals.asked.is_none() && signals.no_value.is_some());
    assert_eq!(signals.verdict, Verdict::NotComplete);
    let why: Vec<&WhyNotProven> = judgement.missed_of("C6").map(|row| &row.why).collect();
    assert_eq!(why, [&WhyNotProven::NoRule; 2]);
    assert_eq!(judgement.circuit("C5").expect("the circuit is there").verdict, Verdict::Pass);
    // Without a relief in the ruleset the circuit's reason is of no use.
    let text = include_str!("../../src/input/rulesets/as-nzs-3000.toml");
    let (rows, relief) = text.split_once("[relief]").expect("it has one");
    let (_, rest) = relief.split_once("[investigate]").expect("it has that");
    let ruleset = read_ruleset(Input::toml(&format!("{rows}[investigate]{rest}"))).expect("it is right");
    let judgement = Judgement::of(&network.with_ruleset(ruleset), &tests, Need::Earth).expect("it is the same one");
    assert_eq!(judgement.circuit("C5").expect("the circuit is there").verdict, Verdict::NotComplete);
}

#[test]
fn boards_that_feed_each_other_in_a_circle_end() {
    let board = |id: &str, origin: bool| json!({ "id": id, "origin": origin, "way": [{ "id": "1", "device": "mcb" }] });
    let feeder = |id: &str, from: &str, to: &str| {
        json!({ "id": id, "circuit": format!("F{id}"), "from": from, "to": to, "metres": 5,
                "cores": { "brown": ["L", "L"], "blue": ["N", "N"], "armour": ["E", "E"] } })
    };
    let installation = engine::from_value(&json!({
        "format": 1,
        "installation": { "name": "In a circle", "nominal_voltage": 230, "earthing": "TT" },
        "board": [board("DB1", true), board("DB2", false)],
        "circuit": [{ "id": "FW1", "way": "DB1/1" }, { "id": "FW2", "way": "DB2/1" }],
        "length": [feeder("W1", "DB1/1", "DB2.in"), feeder("W2", "DB2/1", "DB1.in")],
    }));
    let record = json!({ "format": 1, "pass": [{ "reading": [
        { "circuit": "FW1", "between": ["L+N", "E"], "volts": 500, "megohms": 60 },
        { "circuit": "FW2", "between": ["L+N", "E"], "volts": 500, "megohms": 30 },
    ] }] });
    let tests = engine::test_set("record.json", record.to_string().as_bytes(), &installation);
    let network = Network::of(installation.clone());
    let judgement = Judgement::of(&network, &tests, Need::Earth).expect("it is for this installation");
    for row in &judgement.boards {
        assert_eq!(row.combined(Column::LiveToEarth).expect("there are figures").resistance, of("20"));
    }
}

/// Two socket circuits alike, the second with a reason for the relief, and a third way with no cable in the file.
fn two_alike() -> Installation {
    let length = |number: usize| {
        json!({ "id": format!("W{number}"), "circuit": format!("C{number}"), "from": format!("DB1/{number}"),
                "to": format!("X{number}"), "metres": 5,
                "cores": { "brown": ["L", "L"], "blue": ["N", "N"], "cpc": ["E", "E"] } })
    };
    engine::from_value(&json!({
        "format": 1,
        "installation": { "name": "Two alike", "nominal_voltage": 230, "earthing": "TT", "work": "existing" },
        "board": [{ "id": "DB1", "origin": true, "way": [
            { "id": "1", "device": "mcb" }, { "id": "2", "device": "mcb" }, { "id": "3", "device": "mcb" }
        ] }],
        "circuit": [{ "id": "C1", "way": "DB1/1" }, { "id": "C2", "way": "DB1/2", "relief": "what is built in" },
                    { "id": "C3", "way": "DB1/3" }],
        "point": [{ "id": "X1", "kind": "socket", "circuit": "C1" }, { "id": "X2", "kind": "socket", "circuit": "C2" }],
        "length": [length(1), length(2)],
    }))
}

/// Judges a record in which C1 and C2 were tested with fine values, and then this was read.
fn judged_after(more: Value) -> Judgement {
    let installation = two_alike();
    let mut readings: Vec<Value> = ["C1", "C2"]
        .iter()
        .flat_map(|circuit| [["L+N", "E"], ["L", "N"]].map(|between| (circuit, between)))
        .map(|(circuit, between)| json!({ "circuit": circuit, "between": between, "volts": 500, "megohms": 200 }))
        .collect();
    readings.push(more);
    let record = json!({ "format": 1, "pass": [{ "reading": readings }] });
    let tests =
        read_record(Input::json(&record.to_string()), &installation).unwrap_or_else(|errors| panic!("{errors}"));
    let network = Network::of(installation.clone());
    Judgement::of(&network, &tests, Need::Standard).expect("it is for this installation")
}

fn verdicts_after(more: Value) -> Vec<Verdict> {
    judged_after(more).circuits.iter().map(|row| row.verdict).collect()
}

/// What a circuit's own readings at a wrong voltage are not part of, others put down elsewhere are not either.
#[test]
fn a_reading_put_down_elsewhere_is_in_a_figure_only_at_a_voltage_that_will_do() {
    let figures = |volts: f64| {
        let more = json!({ "circuit": "C2", "between": ["DB1/1.L", "MET"], "volts": volts, "megohms": 0.2 });
        let judgement = judged_after(more);
        ["C1", "C2"].map(|id| judgement.circuit(id).unwrap().live_to_earth.as_ref().unwrap().record.clone())
    };
    assert_eq!(figures(500.0), ["0.2", "0.2"]);
    assert_eq!(figures(250.0), ["200", "0.2"]);
}

/// A low reading is not passed over because it was put down under another circuit, or under the board.
#[test]
fn a_low_reading_of_a_circuit_counts_whatever_it_is_put_down_under() {
    use Verdict::{Fail, NotComplete, Pass};
    let read = |place: &str, name: &str, between: [&str; 2], volts: f64, megohms: f64| {
        verdicts_after(json!({ place: name, "between": between, "volts": volts, "megohms": megohms }))
    };
    assert_eq!(read("circuit", "C2", ["L", "N"], 500.0, 150.0), [Pass, Pass, NotComplete]);
    assert_eq!(read("circuit", "C2", ["DB1/1.L", "MET"], 500.0, 0.2), [Fail, Fail, NotComplete]);
    assert_eq!(read("board", "DB1", ["X1.L", "X1.E"], 500.0, 0.2), [Fail, Pass, NotComplete]);
    assert_eq!(read("board", "DB1", ["X1.L+DB1/2.L", "MET"], 500.0, 0.2), [Fail, Fail, NotComplete]);
    // Judged by what is asked of the circuit that was read: 250 V will do for C2 alone.
    assert_eq!(read("circuit", "C1", ["DB1/2.L", "MET"], 250.0, 0.2), [NotComplete, Fail, NotComplete]);
    // At another voltage a fine value says nothing of C1, and a low one keeps it from passing.
    assert_eq!(read("circuit", "C2", ["DB1/1.L", "MET"], 250.0, 150.0), [Pass, Pass, NotComplete]);
    assert_eq!(read("circuit", "C2", ["DB1/1.L", "MET"], 250.0, 0.2), [NotComplete, Fail, NotComplete]);
    // A lead on earth is on no circuit.
    assert_eq!(read("circuit", "C2", ["L", "X1.E"], 500.0, 0.2), [Pass, Fail, NotComplete]);
}

/// Where the file has nothing of a circuit that needs a test, a fine reading at its way is no pass.
#[test]
fn a_circuit_of_which_nothing_must_be_tested_does_not_pass() {
    let verdicts = verdicts_after(json!({ "circuit": "C3", "between": ["L", "E"], "volts": 500, "megohms": 200 }));
    assert_eq!(verdicts, [Verdict::Pass, Verdict::Pass, Verdict::NotComplete]);
}

/// The lines behind a dimmer that stays in and behind a sensor are conductors in service: fine readings at the board,
/// which never had them on a lead, are no pass. And where a connected core is told of that nothing supplies, somebody has
/// to look.
#[test]
fn a_circuit_does_not_pass_whose_lines_behind_electronics_were_never_on_a_lead() {
    let files: [&[u8]; 2] =
        [include_bytes!("../fixtures/judge/dimmer.toml"), include_bytes!("../fixtures/judge/dimmer.record.toml")];
    let (installation, tests) = read(files[0], files[1]);
    let network = Network::of(installation);
    let judgement = Judgement::of(&network, &tests, Need::Standard).expect("it is for this installation");
    let [lights, other] = ["C1", "C2"].map(|circuit| judgement.circuit(circuit).expect("the circuit is there"));
    let missed: Vec<String> =
        judgement.missed.iter().map(|row| format!("{} {}", row.length, row.cores.join("-"))).collect();
    assert_eq!(missed, ["W2 brown-blue", "W2 brown-cpc", "W4 brown-blue", "W4 brown-cpc"]);
    assert_eq!((lights.verdict, lights.required, lights.tested), (Verdict::NotComplete, 12, 8));
    assert_eq!((other.verdict, other.required, other.tested), (Verdict::Investigate, 3, 3));
    assert_eq!(other.without_role, [["W6", "brown"]]);
    assert_eq!(judgement.verdict, Verdict::NotComplete);
    let whole = judgement.board("DB1").expect("the board is there");
    assert_eq!(whole.not_passed, ["C1"]);
}

/// A source that is earthed for good makes a conductor of its own earth, and earth no live conductor.
#[test]
fn what_is_joined_to_the_earthing_terminal_for_good_is_earth() {
    let files: [&[u8]; 2] = [include_bytes!("../fixtures/small/in-service.toml"), b"format = 1"];
    let (installation, _) = read(files[0], files[1]);
    let readings = [["L+N", "E"], ["L", "N"], ["T1.V1", "E"], ["T1.V1", "T1.V2"], ["B1.IC", "L+N"], ["D1.P", "E"]];
    let readings: Vec<Value> = readings.iter().map(|leads| json!({ "circuit": "C1", "between": leads })).collect();
    let tests = json!({ "format": 1, "pass": [{ "reading": readings }] });
    let tests = engine::test_set("tests.json", tests.to_string().as_bytes(), &installation);
    let judgement = Judgement::of(&Network::of(installation), &tests, Need::Standard).expect("the same");
    let columns: Vec<_> = judgement.readings.iter().map(|row| (row.column, row.neither)).collect();
    use Column::{LiveToEarth, LiveToLive};
    let [to_earth, to_live] = [LiveToEarth, LiveToLive].map(|column| (Some(column), None));
    assert_eq!(columns, [to_earth, to_live, to_earth, to_earth, to_live, (None, Some(Neither::NoRole))]);
}

/// A resistance that an instrument may have shown as this: inside its bounds.
fn sample(shown: Indication, share: f64) -> f64 {
    match shown {
        Indication::Value(Megohms(value)) => value,
        Indication::MoreThan(Megohms(value)) => value * (1.0 + 1e-6 + share * 100.0),
        Indication::LessThan(Megohms(value)) => value * share * 0.999_999,
    }
}

fn holds(range: Resistance, value: f64) -> bool {
    // Bounds are given to twelve digits.
    let slack = 1e-11 * value.abs();
    range.lower().0 <= value + slack && value - slack <= range.upper().0
}

fn shown() -> impl Strategy<Value = Indication> {
    (0usize..3, 1u32..100_000).prop_map(|(kind, hundredths)| {
        let value = Megohms(f64::from(hundredths) / 100.0);
        [Indication::Value(value), Indication::MoreThan(value), Indication::LessThan(value)][kind]
    })
}

proptest! {
    /// Whatever the resistances were behind what was shown, the least of them and all of them together lie in the
    /// bounds; what is said against a limit holds for each of them.
    #[test]
    fn bounds_hold_whatever_was_behind_them(
        rows in proptest::collection::vec((shown(), 0.0f64..1.0), 1..8),
        limit in 1u32..2000,
    ) {
        let truths: Vec<f64> = rows.iter().map(|&(shown, share)| sample(shown, share)).collect();
        let ranges = || rows.iter().map(|&(shown, _)| Resistance::of(shown));
        let least = truths.iter().copied().fold(f64::INFINITY, f64::min);
        let together = 1.0 / truths.iter().map(|truth| 1.0 / truth).sum::<f64>();
        let limit = Megohms(f64::from(limit) / 100.0);
        for (range, truth) in [(Resistance::least(ranges()), least), (Resistance::parallel(ranges()), together)] {
            let range = range.expect("there are some");
            prop_assert!(holds(range, truth), "{truth} outside {range}");
            prop_assert!(range.lower().0 > 0.0 || !range.is_above_lower(), "more than nothing is no bound: {range}");
            match range.against(limit) {
                Against::AtLeast => prop_assert!(truth >= limit.0 * (1.0 - 1e-11), "{truth} below {limit:?}"),
                Against::Below => prop_assert!(truth <= limit.0 * (1.0 + 1e-11), "{truth} above {limit:?}"),
                Against::NotDecided => prop_assert!(range.lower().0 < limit.0 && limit.0 <= range.upper().0),
            }
        }
    }

    /// The order of readings changes neither the least nor, but for rounding, what they come to together; one more
    /// makes both no higher.
    #[test]
    fn order_is_nothing_and_one_more_is_no_higher(rows in proptest::collection::vec(shown(), 2..8)) {
        let ranges: Vec<Resistance> = rows.iter().map(|&shown| Resistance::of(shown)).collect();
        let backwards = || ranges.iter().rev().copied();
        let least = Resistance::least(ranges.iter().copied()).expect("there are some");
        prop_assert_eq!(Some(least), Resistance::least(backwards()));
        let all = Resistance::parallel(ranges.iter().copied()).expect("there are some");
        let same = Resistance::parallel(backwards()).expect("there are some");
        prop_assert!((all.lower().0 - same.lower().0).abs() <= 1e-11 * all.lower().0);
        let fewer = Resistance::parallel(ranges[1..].iter().copied()).expect("there are some");
        prop_assert!(all.lower() <= fewer.lower() && all.upper() <= fewer.upper());
        prop_assert!(all.lower() <= least.lower() && all.upper() <= least.upper());
    }
}

/// A record in which everything is good and right misses what its coverage misses; and making one reading fail, or
/// taking its value away, never tests more and never betters a verdict.
#[test]
fn worse_readings_never_make_a_better_record() {
    let bytes = include_bytes!("../../demo/skerry-light.toml");
    let installation = engine::installation("skerry-light.toml", bytes);
    let text = include_str!("../../demo/record.toml");
    let read = |text: &str| read_record(Input::toml(&text), &installation).unwrap_or_else(|errors| panic!("{errors}"));
    let good = read(text);
    let network = Network::of(installation.clone());
    let coverage = lengthwise::Coverage::of(&network, &good, Need::Standard).expect("it is for this installation");
    let best = Judgement::of(&network, &good, Need::Standard).expect("it is for this installation");
    assert_eq!(best.missed.len(), coverage.missed().count());
    assert_eq!(best.missed.len(), 3, "those that nothing tests");
    let places: Vec<usize> = text.match_indices("\nmegohms = ").map(|(at, _)| at).collect();
    assert!(places.len() > 40);
    for &at in places.iter().step_by(7) {
        let end = at + 1 + text[at + 1..].find('\n').expect("the line ends");
        for worse in ["\nmegohms = 0.3", "\nmegohms = \"<2\"", ""] {
            let changed = format!("{}{worse}{}", &text[..at], &text[end..]);
            let worse = Judgement::of(&network, &read(&changed), Need::Standard).expect("it is for this installation");
            assert!(worse.missed.len() >= best.missed.len());
            assert!(worse.verdict >= best.verdict);
            for (one, other) in best.circuits.iter().zip(&worse.circuits) {
                assert!(other.verdict >= one.verdict && other.tested <= one.tested, "{}", one.circuit);
            }
            assert!(
                worse.circuits.iter().zip(&best.circuits).any(|(one, other)| one.verdict > other.verdict),
                "a circuit with a reading that is not good does not pass"
            );
        }
    }
}
