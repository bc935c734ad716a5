//! Boards as a whole: worked cases of what readings prove of a board from below and from above, what lies behind it,
//! and leakage planted everywhere with readings from the oracle's solver.

use std::collections::BTreeSet;

use lengthwise::Input;
use lengthwise::input::read_record;
use lengthwise::judge::{Against, Column, Combined, Judgement, Resistance, Verdict};
use lengthwise::model::Megohms;
use lengthwise::network::{Need, Network};
use proptest::prelude::*;
use serde_json::{Value, json};

use crate::engine;
use crate::locate::{entries, places, planted, valued};
use crate::oracle::{self, Leak, Leaking};
use crate::strategy::{cases, times};

/// Boards with ways `1`, `2` … of one device; the first board is the origin.
fn boards(device: &str, counts: &[usize]) -> Value {
    let board = |(number, &count): (usize, &usize)| {
        let ways: Vec<Value> = (1..=count).map(|way| json!({ "id": way.to_string(), "device": device })).collect();
        json!({ "id": format!("DB{}", number + 1), "origin": number == 0, "way": ways })
    };
    counts.iter().enumerate().map(board).collect()
}

/// A length with a line, a neutral and a protective conductor, by their terminals at both ends.
fn length(id: &str, circuit: &str, ends: [&str; 2], line: [&str; 2], neutral: [&str; 2]) -> Value {
    json!({ "id": id, "circuit": circuit, "from": ends[0], "to": ends[1], "metres": 10,
            "cores": { "brown": line, "blue": neutral, "cpc": ["E", "E"] } })
}

fn file(boards: Value, circuits: Value, points: Value, lengths: Value) -> Value {
    json!({ "format": 1, "board": boards, "circuit": circuits, "point": points, "length": lengths,
            "installation": { "name": "Invented", "nominal_voltage": 230, "earthing": "TT", "work": "existing" } })
}

/// One board with a socket on each of some ways.
fn sockets(device: &str, count: usize) -> Value {
    let numbers = || 1..=count;
    let circuits = numbers().map(|way| json!({ "id": format!("C{way}"), "way": format!("DB1/{way}") }));
    let points =
        numbers().map(|way| json!({ "id": format!("X{way}"), "kind": "socket", "circuit": format!("C{way}") }));
    let lengths = numbers().map(|way| {
        let (id, circuit, from, to) = (format!("W{way}"), format!("C{way}"), format!("DB1/{way}"), format!("X{way}"));
        length(&id, &circuit, [&from, &to], ["L", "L"], ["N", "N"])
    });
    file(boards(device, &[count]), circuits.collect(), points.collect(), lengths.collect())
}

/// A reading at 500 V, put down under a circuit or a board.
fn read(place: &str, between: [&str; 2], megohms: f64) -> Value {
    let kind = if place.starts_with("DB") { "board" } else { "circuit" };
    json!({ kind: place, "between": between, "volts": 500, "megohms": megohms })
}

/// The usual two readings of a circuit, with 200 MΩ between its live conductors.
fn usual(circuit: &str, to_earth: f64) -> [Value; 2] {
    [read(circuit, ["L+N", "E"], to_earth), read(circuit, ["L", "N"], 200.0)]
}

/// Readings of several circuits, one after the other.
fn all<const COUNT: usize>(circuits: &[[Value; COUNT]]) -> Vec<Value> {
    circuits.concat()
}

fn judged(file: &Value, passes: Value) -> Judgement {
    let installation = engine::from_value(file);
    let record = json!({ "format": 1, "pass": passes });
    let tests =
        read_record(Input::json(&record.to_string()), &installation).unwrap_or_else(|errors| panic!("{errors}"));
    let network = Network::of(installation.clone());
    Judgement::of(&network, &tests, Need::Standard).expect("it is for this installation")
}

/// What a board and all behind it list, each circuit once, in the order of the file.
pub fn listed(judgement: &Judgement, board: &str, column: Column, pick: fn(&Combined) -> &Vec<String>) -> Vec<String> {
    let rows = judgement.behind(board).into_iter().filter_map(|row| row.combined(column));
    let found: BTreeSet<&String> = rows.flat_map(pick).collect();
    let order = judgement.circuits.iter().map(|row| &row.circuit);
    order.filter(|&circuit| found.contains(circuit)).cloned().collect()
}

fn found(judgement: &Judgement, board: &str, column: Column) -> (Combined, Verdict) {
    let row = judgement.board(board).expect("it is judged");
    (row.combined(column).expect("it has figures").clone(), row.verdict)
}

/// A board's live-to-earth, as text, and its verdict.
fn to_earth(file: &Value, passes: Value, board: &str) -> (String, Verdict) {
    let (combined, verdict) = found(&judged(file, passes), board, Column::LiveToEarth);
    (combined.resistance.to_string(), verdict)
}

fn says(resistance: &str, verdict: Verdict) -> (String, Verdict) {
    (resistance.to_owned(), verdict)
}

/// 1/(1/50 + 1/20 + 1/100 + 1/200) = 11.7647. Devices that open the neutral leave each circuit's copper by itself, and
/// the readings add up. On one neutral bar each `L+N` holds the neutrals of all: what leaks there may be the same in
/// each, so that 20 MΩ is all that is known from above.
#[test]
fn circuits_that_share_nothing_add_up_and_those_on_one_neutral_bar_may_not() {
    let pass = |values: [f64; 4]| {
        let readings = values.iter().enumerate().flat_map(|(way, &value)| usual(&format!("C{}", way + 1), value));
        json!([{ "reading": readings.collect::<Vec<Value>>() }])
    };
    let values = [50.0, 20.0, 100.0, 200.0];
    let (exact, verdict) = found(&judged(&sockets("rcbo", 4), pass(values)), "DB1", Column::LiveToEarth);
    assert_eq!((exact.resistance.value(), verdict), (Some(Megohms(11.7647058824)), Verdict::Pass));
    assert_eq!(to_earth(&sockets("mcb", 4), pass(values), "DB1"), says("at least 11.76, at most 20", Verdict::Pass));
    // 4 × 2 MΩ: 0.5 MΩ together where nothing is shared; else anything from there to 2 MΩ.
    assert_eq!(to_earth(&sockets("rcbo", 4), pass([2.0; 4]), "DB1"), says("0.5", Verdict::Fail));
    assert_eq!(
        to_earth(&sockets("mcb", 4), pass([2.0; 4]), "DB1"),
        says("at least 0.5, at most 2", Verdict::NotComplete)
    );
}

/// One reading over four circuits, 3 MΩ: the board was read, and is 3 MΩ, not 3/4. No circuit but the first has a
/// reading put down under it, and each passes.
#[test]
fn a_joined_reading_counts_once() {
    let lines = "DB1/1.L+DB1/2.L+DB1/3.L+DB1/4.L";
    let all = format!("{lines}+DB1/1.N");
    let passes = json!([{ "reading": [read("C1", [&all, "E"], 3.0), read("C1", [lines, "DB1/1.N"], 3.0)] }]);
    assert_eq!(to_earth(&sockets("mcb", 4), passes.clone(), "DB1"), says("3", Verdict::Pass));
    let judgement = judged(&sockets("mcb", 4), passes);
    assert!(judgement.circuits.iter().all(|row| row.verdict == Verdict::Pass));
    assert!(judgement.circuits[3].readings.is_empty());
    assert_eq!(judgement.circuits[3].live_to_earth.as_ref().expect("it was read").record, "3.0");
}

fn with_sub_board() -> Value {
    file(
        boards("mcb", &[1, 1]),
        json!([{ "id": "CF", "way": "DB1/1" }, { "id": "C3", "way": "DB2/1" }]),
        json!([{ "id": "X3", "kind": "socket", "circuit": "C3" }]),
        json!([
            length("W1", "CF", ["DB1/1", "DB2.in"], ["L", "L"], ["N", "N"]),
            length("W3", "C3", ["DB2/1", "X3"], ["L", "L"], ["N", "N"]),
        ]),
    )
}

/// The feeder is read with the board behind it on, 1.5 MΩ, and holds its circuit, which reads 1.5 MΩ by itself: it is
/// that leak. With 1.2 for the feeder the first board is 1.2, and the one behind it anything from 1.2 to 1.5.
#[test]
fn a_feeder_read_with_its_board_on_holds_the_circuits_there() {
    let passes = |feeder: f64| {
        json!([
            { "set": { "DB2.main": "on", "DB2/1": "on" }, "reading": usual("CF", feeder) },
            { "set": { "DB2.main": "off", "DB2/1": "off" }, "reading": usual("C3", 1.5) },
        ])
    };
    assert_eq!(to_earth(&with_sub_board(), passes(1.5), "DB1").0, "1.5");
    assert_eq!(to_earth(&with_sub_board(), passes(1.2), "DB1").0, "1.2");
    assert_eq!(to_earth(&with_sub_board(), passes(1.2), "DB2").0, "at least 1.2, at most 1.5");
}

/// Behind a board with its main switch on lies the feeder: a reading of 0.8 there may be the feeder's, and does not
/// make the board behind fail. The circuit, whose reading it is, fails.
#[test]
fn copper_before_a_board_does_not_count_against_it() {
    let passes =
        |main: &str| json!([{ "set": { "DB2.main": main }, "reading": all(&[usual("C3", 0.8), usual("CF", 50.0)]) }]);
    assert_eq!(to_earth(&with_sub_board(), passes("off"), "DB2"), says("at most 0.8", Verdict::Fail));
    let (combined, verdict) = found(&judged(&with_sub_board(), passes("on")), "DB2", Column::LiveToEarth);
    assert_eq!((combined.resistance, verdict), (Resistance::NOT_KNOWN, Verdict::NotComplete));
}

/// A circuit with three switched lamps beside a common length.
fn three_parts() -> Value {
    let mut lengths = vec![length("W0", "C1", ["DB1/1", "J"], ["L", "L"], ["N", "N"])];
    let mut points = vec![json!({ "id": "J", "kind": "junction", "circuit": "C1" })];
    for part in 1..=3 {
        let [switch, lamp] = [format!("S{part}"), format!("E{part}")];
        points.push(json!({ "id": switch, "kind": "one-way", "circuit": "C1" }));
        points.push(json!({ "id": lamp, "kind": "luminaire", "circuit": "C1" }));
        let mut add = |id: &str, from: &str, to: &str, terminals: [&str; 2]| {
            lengths.push(json!({ "id": format!("W{part}{id}"), "circuit": "C1", "from": from, "to": to, "metres": 10,
                                 "cores": { "brown": terminals, "cpc": ["E", "E"] } }));
        };
        add("a", "J", &switch, ["L", "COM"]);
        add("b", &switch, &lamp, ["L1", "L"]);
        add("c", "J", &lamp, ["N", "N"]);
    }
    file(boards("mcb", &[1]), json!([{ "id": "C1", "way": "DB1/1" }]), points.into(), lengths.into())
}

/// Each lamp read on by itself, 2 MΩ each: the three may be three leaks, 2/3 MΩ together, or one in what is common. The
/// figure of the circuit is 2.0, the least; the board may fail. Read as a whole it is what was read.
#[test]
fn parts_read_one_by_one_add_up_from_below() {
    let pass = |on: usize| {
        let set: serde_json::Map<String, Value> =
            (1..=3).map(|part| (format!("S{part}"), json!(if part == on { "on" } else { "off" }))).collect();
        json!({ "set": set, "reading": usual("C1", 2.0) })
    };
    let parts = [pass(1), pass(2), pass(3)];
    assert_eq!(to_earth(&three_parts(), json!(parts), "DB1"), says("at least 0.6666, at most 2", Verdict::NotComplete));
    let circuit = &judged(&three_parts(), json!(parts)).circuits[0];
    assert_eq!(circuit.verdict, Verdict::Pass);
    assert_eq!(circuit.figure(Column::LiveToEarth).expect("it was read").resistance.value(), Some(Megohms(2.0)));
    let whole = |value: f64| {
        let set = json!({ "S1": "on", "S2": "on", "S3": "on", "DB1/1": "on" });
        let whole = json!({ "set": set, "reading": [read("DB1", ["L+N", "E"], value)] });
        to_earth(&three_parts(), json!([parts[0], parts[1], parts[2], whole]), "DB1")
    };
    assert_eq!(whole(1.3), says("1.3", Verdict::Investigate));
    assert_eq!(whole(0.7), says("at most 0.7", Verdict::Fail));
}

/// Leakage from the common neutral to earth is in every reading, and in that of the board. By the error of the
/// instrument that one comes out higher: 8.1 for 8.0. By more than 30 % it is belied: 1/(12/8) = 0.6667 at least.
#[test]
fn a_reading_of_the_whole_board_settles_it_even_where_it_is_not_the_lowest() {
    let circuits = (1..=12).map(|way| usual(&format!("C{way}"), 8.0));
    let parts: Vec<Value> = circuits.flatten().collect();
    let on: serde_json::Map<String, Value> = (1..=12).map(|way| (format!("DB1/{way}"), json!("on"))).collect();
    let with = |value: f64| {
        let passes = json!([{ "reading": parts }, { "set": on, "reading": [read("DB1", ["L+N", "E"], value)] }]);
        to_earth(&sockets("mcb", 12), passes, "DB1")
    };
    assert_eq!(with(8.0).0, "8");
    assert_eq!(with(8.1).0, "8");
    assert_eq!(with(20.0).0, "at least 0.6666, at most 8");
}

/// A reading over the range of the instrument, and just the end of that range on the line alone: the two agree.
#[test]
fn a_bound_beside_the_same_value_settles_a_board() {
    let with = |over: &str| {
        let mut all = read("C1", ["L+N", "E"], 0.0);
        all["megohms"] = json!(over);
        let readings = [all, read("C1", ["L", "E"], 999.0), read("C1", ["L", "N"], 200.0)];
        to_earth(&sockets("mcb", 1), json!([{ "reading": readings }]), "DB1")
    };
    assert_eq!(with(">998"), says(">998, at most 999", Verdict::Pass));
    assert_eq!(with(">999"), says("999", Verdict::Pass));
}

/// A board behind was read too low as a whole, whatever its circuits were: so is the board before it.
#[test]
fn a_low_reading_of_a_board_counts_for_the_one_before_it() {
    let passes = |volts: f64| {
        let circuits = all(&[usual("CF", 200.0), usual("C3", 200.0)]);
        let low = json!({ "board": "DB2", "between": ["L+N", "E"], "volts": volts, "megohms": 0.3 });
        json!([{ "reading": circuits }, { "set": { "DB2/1": "on" }, "reading": [low] }])
    };
    let verdict = |volts: f64| to_earth(&with_sub_board(), passes(volts), "DB1");
    assert_eq!(verdict(500.0).1, Verdict::Fail);
    // At another voltage it can't be judged, and nothing is known from below all the same.
    assert_eq!(verdict(250.0).1, Verdict::NotComplete);
    assert!(!verdict(250.0).0.contains("at least"), "{:?}", verdict(250.0));
}

/// `L` to `E` and `N` to `E` apart, 1.5 MΩ each, and 500 MΩ each on the other circuit: 1/(2/1.5 + 2/500) = 0.7478 at
/// least. From above one of them, since a line may leak over the neutral bar.
#[test]
fn line_and_neutral_read_apart_add_up_from_below() {
    let each = |circuit: &str, value: f64| {
        [read(circuit, ["L", "E"], value), read(circuit, ["N", "E"], value), read(circuit, ["L", "N"], 500.0)]
    };
    // The neutrals are one bar: 1.5 MΩ vouches for both, and so of the second circuit only its line adds: 1/(2/1.5 +
    // 1/500).
    let passes = json!([{ "reading": all(&[each("C1", 1.5), each("C2", 500.0)]) }]);
    assert_eq!(
        to_earth(&sockets("mcb", 2), passes.clone(), "DB1"),
        says("at least 0.7488, at most 1.5", Verdict::NotComplete)
    );
    assert_eq!(to_earth(&sockets("rcbo", 2), passes, "DB1").0, "at least 0.7477, at most 1.496");
}

fn with_switched_lamp() -> Value {
    file(
        boards("mcb", &[2]),
        json!([{ "id": "C1", "way": "DB1/1" }, { "id": "C2", "way": "DB1/2" }]),
        json!([
            { "id": "S1", "kind": "one-way", "circuit": "C1" },
            { "id": "E1", "kind": "luminaire", "circuit": "C1" },
            { "id": "X2", "kind": "socket", "circuit": "C2" },
        ]),
        json!([
            length("W1", "C1", ["DB1/1", "S1"], ["L", "COM"], ["N", "-"]),
            { "id": "W2", "circuit": "C1", "from": "S1", "to": "E1", "metres": 10,
              "cores": { "sl": ["L1", "L"], "cpc": ["E", "E"] } },
            length("W3", "C2", ["DB1/2", "X2"], ["L", "L"], ["N", "N"]),
        ]),
    )
}

/// With the switch off the lamp's length was on no lead: nothing is known of the board from below, whatever was read
/// elsewhere.
#[test]
fn what_is_not_tested_leaves_the_board_open_from_below() {
    let readings = [usual("C1", 200.0), usual("C2", 200.0)].concat();
    let judgement = judged(&with_switched_lamp(), json!([{ "set": { "S1": "off" }, "reading": readings }]));
    let (combined, verdict) = found(&judgement, "DB1", Column::LiveToEarth);
    assert_eq!((combined.resistance.to_string().as_str(), verdict), ("at most 200", Verdict::NotComplete));
    assert_eq!((combined.incomplete, combined.against), (vec!["C1".to_owned()], Some(Against::NotDecided)));
    // Between live conductors all was tested, by 200 MΩ each on one neutral bar.
    let (combined, _) = found(&judgement, "DB1", Column::LiveToLive);
    assert_eq!(combined.resistance.to_string(), "at least 100, at most 200");
}

/// A reading that is too low at another voltage is in no figure, and still the others don't vouch for the circuit.
#[test]
fn a_low_reading_at_another_voltage_gives_the_lie_to_the_others() {
    let mut readings = [usual("C1", 200.0), usual("C2", 200.0)].concat();
    readings.push(json!({ "circuit": "C1", "between": ["L+N", "E"], "volts": 250, "megohms": 0.02 }));
    let passes = json!([{ "set": { "S1": "on" }, "reading": readings }]);
    assert_eq!(to_earth(&with_switched_lamp(), passes, "DB1"), says("at most 200", Verdict::NotComplete));
}

/// What was read again and is lower counts, as in the figure; a value from before a repair makes the board fail.
#[test]
fn the_lowest_of_what_was_read_again_counts() {
    let passes =
        |first: f64, second: f64| json!([{ "reading": usual("C1", first) }, { "reading": usual("C1", second) }]);
    assert_eq!(to_earth(&sockets("mcb", 1), passes(200.0, 100.0), "DB1").0, "100");
    assert_eq!(to_earth(&sockets("mcb", 1), passes(100.0, 200.0), "DB1").0, "100");
    assert_eq!(to_earth(&sockets("mcb", 1), passes(0.5, 200.0), "DB1"), says("at most 0.5", Verdict::Fail));
}

/// The lamp's length was tested by a reading put down under the board alone, 1.2 MΩ: with it the circuit is tested, and
/// 1.2 is the least that proved it. Where the circuit's own readings test all of it, one of the whole board is not its
/// figure.
#[test]
fn a_reading_that_tests_the_rest_of_a_circuit_is_one_of_its_own() {
    let figure = |switch: &str| {
        let own = json!({ "set": { "S1": switch }, "reading": all(&[usual("C1", 500.0), usual("C2", 500.0)]) });
        let whole = json!({ "set": { "S1": "on", "DB1/1": "on" }, "reading": [read("DB1", ["L+N", "E"], 1.2)] });
        let row = judged(&with_switched_lamp(), json!([own, whole])).circuits.swap_remove(0);
        let elsewhere: Vec<[usize; 2]> = row.elsewhere.iter().map(|row| row.name()).collect();
        (row.live_to_earth.expect("it was read").record, row.verdict, elsewhere)
    };
    assert_eq!(figure("off"), ("1.2".to_owned(), Verdict::Investigate, vec![[2, 1]]));
    assert_eq!(figure("on"), ("500.0".to_owned(), Verdict::Pass, vec![]));
}

/// The switched length behind a switch that two circuits feed was tested under the other circuit, 2.1 MΩ.
#[test]
fn a_reading_of_another_circuit_can_test_the_rest() {
    let shared = file(
        boards("mcb", &[2]),
        json!([{ "id": "C1", "way": "DB1/1" }, { "id": "C2", "way": "DB1/2" }]),
        json!([{ "id": "S1", "kind": "two-way", "circuit": "C1" }, { "id": "E1", "kind": "luminaire", "circuit": "C1" }]),
        json!([
            length("W1", "C1", ["DB1/1", "S1"], ["L", "L1"], ["N", "-"]),
            { "id": "W2", "circuit": "C1", "from": "S1", "to": "E1", "metres": 10,
              "cores": { "sl": ["COM", "L"], "cpc": ["E", "E"] } },
            length("W3", "C2", ["DB1/2", "S1"], ["L", "L2"], ["N", "-"]),
        ]),
    );
    let readings = [usual("C1", 500.0), usual("C2", 2.1)].concat();
    let judgement = judged(&shared, json!([{ "set": { "S1": "L2" }, "reading": readings }]));
    for row in &judgement.circuits {
        assert_eq!(row.figure(Column::LiveToEarth).expect("it was read").record, "2.1");
    }
    // 1/(1/2.1 + 1/500) = 2.0912.
    let (combined, _) = found(&judgement, "DB1", Column::LiveToEarth);
    assert_eq!(combined.resistance.to_string(), "at least 2.091, at most 2.1");
}

/// A board fed through a switch, by a length of a circuit without a way; and one fed through a changeover switch of
/// another circuit, so that it lies behind both boards.
#[test]
fn boards_are_found_behind_switches_and_lengths_of_other_circuits() {
    let no_way = file(
        boards("mcb", &[1, 1]),
        json!([{ "id": "CF", "way": "DB1/1" }, { "id": "CF2", "system": "felv" }, { "id": "C3", "way": "DB2/1" }]),
        json!([{ "id": "Q1", "kind": "double-pole", "circuit": "CF" }, { "id": "X3", "kind": "socket", "circuit": "C3" }]),
        json!([
            length("W1", "CF", ["DB1/1", "Q1"], ["L", "Lin"], ["N", "Nin"]),
            length("W2", "CF2", ["Q1", "DB2.in"], ["Lout", "L"], ["Nout", "N"]),
            length("W3", "C3", ["DB2/1", "X3"], ["L", "L"], ["N", "N"]),
        ]),
    );
    let behind = |file: &Value, board: &str| -> Vec<String> {
        listed(&judged(file, json!([{ "reading": [] }])), board, Column::LiveToEarth, |row| &row.without)
    };
    assert_eq!(behind(&no_way, "DB1"), ["CF", "CF2", "C3"]);
    assert_eq!(behind(&no_way, "DB2"), ["C3"]);

    let mut changeover = file(
        boards("mcb", &[2, 1, 1]),
        json!([{ "id": "CA", "way": "DB1/1" }, { "id": "CB", "way": "DB2/1" }, { "id": "CF", "way": "DB1/2" },
               { "id": "C3", "way": "DB3/1" }]),
        json!([{ "id": "Q1", "kind": "changeover", "circuit": "CA" }, { "id": "X3", "kind": "socket", "circuit": "C3" }]),
        json!([
            length("WF", "CF", ["DB1/2", "DB2.in"], ["L", "L"], ["N", "N"]),
            length("WA", "CA", ["DB1/1", "Q1"], ["L", "La"], ["N", "Na"]),
            length("WB", "CB", ["DB2/1", "Q1"], ["L", "Lb"], ["N", "Nb"]),
            length("WO", "CA", ["Q1", "DB3.in"], ["Lo", "L"], ["No", "N"]),
            length("W3", "C3", ["DB3/1", "X3"], ["L", "L"], ["N", "N"]),
        ]),
    );
    changeover["kind"] = json!([{ "id": "changeover", "terminals": ["La", "Na", "Lb", "Nb", "Lo", "No"], "positions": [
        { "name": "a", "joins": [["La", "Lo"], ["Na", "No"]] }, { "name": "b", "joins": [["Lb", "Lo"], ["Nb", "No"]] },
    ] }]);
    assert_eq!(behind(&changeover, "DB1"), ["CA", "CB", "CF", "C3"]);
    // What leads from the switch onwards is a length of CA.
    assert_eq!(behind(&changeover, "DB2"), ["CA", "CB", "C3"]);
    assert_eq!(behind(&changeover, "DB3"), ["C3"]);
    // C3 reads 0.9: whichever way it is fed, the board that feeds it is not good.
    let passes =
        json!([{ "reading": all(&[usual("CA", 200.0), usual("CB", 200.0), usual("CF", 200.0), usual("C3", 0.9)]) }]);
    for board in ["DB1", "DB2", "DB3"] {
        assert_eq!(to_earth(&changeover, passes.clone(), board).1, Verdict::Fail, "{board}");
    }
}

/// BS 7671:2018 Table 64: 250 V and 0.5 MΩ for SELV and PELV. 0.7 MΩ is to be investigated (below 2 MΩ, common
/// practice), on the circuit and on its board. Beside a circuit at low voltage the board is read at 250 V all the same, the
/// least that a circuit behind it asks, and 1 MΩ is the least value, the greatest of theirs; the 500 V stand beside it.
#[test]
fn a_board_is_asked_the_least_voltage_and_the_greatest_value_of_its_circuits() {
    let verdict = |systems: [&str; 2]| {
        let mut file = sockets("rcbo", 2);
        let mut readings = Vec::new();
        for (number, system) in systems.iter().enumerate() {
            file["circuit"][number]["system"] = json!(system);
            file["circuit"][number]["nominal_voltage"] = json!(if *system == "lv" { 230 } else { 12 });
            let value = if number == 0 { 0.7 } else { 200.0 };
            for mut reading in usual(&format!("C{}", number + 1), value) {
                reading["volts"] = json!(if *system == "lv" { 500 } else { 250 });
                readings.push(reading);
            }
        }
        let judgement = judged(&file, json!([{ "reading": readings }]));
        let board = &judgement.boards[0];
        let asked = board.asked.expect("it has a row");
        let greatest = board.greatest_volts.map(|volts| volts.0);
        (asked.volts.0, asked.megohms.0, greatest, judgement.circuits[0].verdict, board.verdict)
    };
    use Verdict::{Fail, Investigate, Pass};
    assert_eq!(verdict(["selv", "selv"]), (250.0, 0.5, None, Investigate, Pass));
    assert_eq!(verdict(["pelv", "pelv"]), (250.0, 0.5, None, Investigate, Pass));
    assert_eq!(verdict(["selv", "pelv"]), (250.0, 0.5, None, Investigate, Pass));
    assert_eq!(verdict(["selv", "lv"]), (250.0, 1.0, Some(500.0), Investigate, Fail));
}

/// The record that a plan asks for, from ready.
fn as_planned(installation: &Value) -> Vec<Value> {
    let plan = engine::plan(installation, None, "standard");
    let pass = |round: &Value| {
        let mut pass = json!({ "operate": [], "set": {}, "reading": round["readings"].clone() });
        for operation in entries(&round["operations"]) {
            let to = operation["to"].as_str().unwrap();
            match oracle::steps_on(to) {
                Some(steps) => {
                    pass["operate"].as_array_mut().unwrap().extend(vec![operation["device"].clone(); steps]);
                }
                None => pass["set"][operation["device"].as_str().unwrap()] = json!(to),
            }
        }
        for reading in pass["reading"].as_array_mut().unwrap() {
            reading.as_object_mut().unwrap().retain(|key, _| ["circuit", "between", "volts"].contains(&key.as_str()));
        }
        pass
    };
    entries(&plan["rounds"]).iter().map(pass).collect()
}

/// What leaks in one column: in needed pairs of a board's circuits; and anywhere in what may count against it.
fn leaking(network: &Value, leaks: &[Leak], circuits: &[&str], installation: &Value, is_to_earth: bool) -> [f64; 2] {
    let owner = |name: &str| {
        let (length, _) = name.split_once(' ')?;
        entries(&installation["length"]).iter().find(|row| row["id"] == length)?["circuit"].as_str()
    };
    let mut sums = [0.0; 2];
    let class_of = |leak: &Leak| {
        entries(&network["pairs"]).iter().find(|row| crate::locate::sides(row) == [leak.0.clone(), leak.1.clone()])
    };
    let wanted = if is_to_earth { "to-earth" } else { "between-live" };
    // A lamp on a neutral that is earthed by mistake takes what leaks into its switched line on to earth while it is in,
    // and a surge protector in one circuit what leaks to the neutral of another one.
    let is_earthed = |terminal: &Value| {
        entries(&network["cores"]).iter().any(|core| {
            entries(&core["roles"]).iter().any(|role| role == "E") && entries(&core["ends"]).contains(terminal)
        })
    };
    let leads_on = entries(&network["bridges"]).iter().flat_map(|row| entries(&row["between"])).any(is_earthed);
    for leak in leaks {
        let of_board = owner(&leak.0).is_some_and(|circuit| circuits.contains(&circuit));
        let class = class_of(leak).map_or("", |row| row["class"].as_str().unwrap());
        if class == wanted && of_board {
            sums[0] += leak.2;
        }
        let is_between_live = ["between-live", "same-polarity"].contains(&class);
        if (leads_on || !is_between_live) && (owner(&leak.0).is_none() || of_board) {
            sums[1] += leak.2;
        }
    }
    sums
}

proptest! {
    #![proptest_config(times(600))]

    /// Whatever leaks wherever: all that leaks in needed pairs is no more than a board is said to leak at most, and no
    /// board is said to leak more than all copper of its circuits and all accessories do. Values as if the instrument
    /// were exact.
    #[test]
    fn both_ends_hold_for_leakage_planted_everywhere(
        case in cases(), dice in prop::collection::vec(any::<u8>(), 40..80), start in any::<usize>(), maybe in any::<bool>(),
        share in prop_oneof![Just(0.01), Just(0.1), Just(1.0)], planned in any::<bool>(),
    ) {
        let site = Leaking::of(&case.installation);
        let mut leaks = planted(&places(&case.installation), &dice);
        leaks.iter_mut().for_each(|leak| leak.2 *= share);
        let mut tests = case.test_set.clone();
        if planned {
            let mut passes = as_planned(&case.installation);
            passes.extend(entries(&tests["pass"]).iter().cloned());
            tests = json!({ "format": 1, "pass": passes });
        }
        let mut tests = valued(&site, &tests, &leaks, start, maybe);
        for pass in tests["pass"].as_array_mut().unwrap() {
            for reading in pass.get_mut("reading").and_then(Value::as_array_mut).into_iter().flatten() {
                if reading.get("volts").is_none() {
                    reading["volts"] = json!(500);
                }
            }
        }
        let installation = engine::from_value(&case.installation);
        let network = Network::of(installation.clone());
        let record = read_record(Input::json(&tests.to_string()), &installation).unwrap();
        let judgement = Judgement::of(&network, &record, Need::Standard).expect("it is for this installation");
        let printed = engine::network(&installation);
        for row in &judgement.boards {
            for column in [Column::LiveToLive, Column::LiveToEarth] {
                let Some(combined) = row.combined(column) else { continue };
                let listed = |pick: fn(&Combined) -> &Vec<String>| listed(&judgement, &row.board, column, pick);
                let ids = [listed(|row| &row.circuits), listed(|row| &row.without)].concat();
                let is_to_earth = column == Column::LiveToEarth;
                let circuits: Vec<&str> = ids.iter().map(String::as_str).collect();
                let [needed, all] = leaking(&printed, &leaks, &circuits, &case.installation, is_to_earth);
                let (lower, upper) = (combined.resistance.lower().0, combined.resistance.upper().0);
                prop_assert!(needed * lower <= 1.0 + 1e-6, "{} leaks {}", combined.resistance, needed);
                prop_assert!(!is_to_earth || 1.0 / upper <= all * (1.0 + 1e-6) + 1e-9, "{} leaks {}", combined.resistance, all);
            }
        }
    }
}
