//! Answers as large as what is asked: what a command prints for large files is no more than so many times the files.

use std::fmt::Write;
use std::fs;
use std::path::Path;
use std::process::Command;

use serde_json::{Value, json};

/// How many times as large as its files an answer may be.
const TIMES: usize = 20;

fn board(id: &str, ways: usize) -> Value {
    let ways: Vec<Value> = (1..=ways).map(|way| json!({ "id": way.to_string(), "device": "mcb" })).collect();
    json!({ "id": id, "origin": id == "DB", "way": ways })
}

fn length(number: usize, circuit: usize, [from, to]: [&str; 2], line: [&str; 2]) -> Value {
    json!({ "id": format!("W{number}"), "circuit": format!("C{circuit}"), "from": from, "to": to, "metres": 1,
            "cores": { "b": line, "n": ["N", "N"], "e": ["E", "E"] } })
}

fn circuit(number: usize, way: &str) -> Value {
    json!({ "id": format!("C{number}"), "way": way })
}

fn site(boards: Vec<Value>, circuits: Vec<Value>, points: Vec<Value>, lengths: Vec<Value>) -> Value {
    json!({ "format": 1, "installation": { "name": "Row", "nominal_voltage": 230 },
            "board": boards, "circuit": circuits, "point": points, "length": lengths })
}

/// The usual two readings of each circuit in one pass, too low.
fn usual(count: usize) -> Value {
    let reading = |circuit, between: [&str; 2]| json!({ "circuit": format!("C{circuit}"), "between": between, "volts": 500, "megohms": 0.5 });
    let readings: Vec<Value> =
        (1..=count).flat_map(|circuit| [reading(circuit, ["L+N", "E"]), reading(circuit, ["L", "N"])]).collect();
    json!({ "format": 1, "pass": [{ "reading": readings }] })
}

/// Switches in a row, all off.
fn row(count: usize) -> [Value; 2] {
    let end = |number: usize| if number == 0 { "DB/1".to_owned() } else { format!("P{number}") };
    let points = (1..=count)
        .map(|number| json!({ "id": format!("P{number}"), "kind": "one-way", "stands": "off", "terminals": ["N"] }));
    let lengths = (1..=count).map(|number| {
        let from = if number == 1 { "L" } else { "L1" };
        length(number, 1, [&end(number - 1), &end(number)], [from, "COM"])
    });
    [site(vec![board("DB", 1)], vec![circuit(1, "DB/1")], points.collect(), lengths.collect()), usual(1)]
}

/// Lamps on one board, a circuit each.
fn one_board(count: usize) -> [Value; 2] {
    let all = 1..=count;
    let points = all.clone().map(|number| json!({ "id": format!("P{number}"), "kind": "luminaire" }));
    let circuits = all.clone().map(|number| circuit(number, &format!("DB/{number}")));
    let lengths =
        all.map(|number| length(number, number, [&format!("DB/{number}"), &format!("P{number}")], ["L", "L"]));
    [site(vec![board("DB", count)], circuits.collect(), points.collect(), lengths.collect()), usual(count)]
}

/// Readings of all circuits of a board at once.
fn big_pass(count: usize) -> [Value; 2] {
    let [file, _] = one_board(50);
    let lead: Vec<String> = (1..=50).map(|way| format!("DB/{way}.L+DB/{way}.N")).collect();
    let reading = json!({ "circuit": "C1", "between": [lead.join("+"), "E"], "volts": 500, "megohms": 0.5 });
    [file, json!({ "format": 1, "pass": [{ "reading": vec![reading; count] }] })]
}

/// Boards, each behind the one before.
fn nested(count: usize) -> [Value; 2] {
    let name = |number: usize| if number == 0 { "DB".to_owned() } else { format!("B{number}") };
    let boards = (0..count).map(|number| board(&name(number), 1));
    let circuits = (0..count).map(|number| circuit(number + 1, &format!("{}/1", name(number))));
    let lengths = (0..count).map(|number| {
        let to = if number + 1 == count { "P1".to_owned() } else { format!("{}.in", name(number + 1)) };
        length(number + 1, number + 1, [&format!("{}/1", name(number)), &to], ["L", "L"])
    });
    let points = vec![json!({ "id": "P1", "kind": "luminaire" })];
    [site(boards.collect(), circuits.collect(), points, lengths.collect()), usual(count)]
}

/// Switches of as many boards on one plate.
fn plate(count: usize) -> [Value; 2] {
    let all = 1..=count;
    let mut boards = vec![board("DB", count)];
    boards.extend(all.clone().map(|number| board(&format!("B{number}"), 1)));
    let circuits = all.clone().flat_map(|number| {
        [circuit(2 * number - 1, &format!("DB/{number}")), circuit(2 * number, &format!("B{number}/1"))]
    });
    let points = all
        .clone()
        .map(|number| json!({ "id": format!("P{number}"), "kind": "two-way", "plate": "one", "terminals": ["N"] }));
    let lengths = all.flat_map(|number| {
        let [feeder, board] = [2 * number - 1, 2 * number];
        [
            length(feeder, feeder, [&format!("DB/{number}"), &format!("B{number}.in")], ["L", "L"]),
            length(board, board, [&format!("B{number}/1"), &format!("P{number}")], ["L", "COM"]),
        ]
    });
    [site(boards, circuits.collect(), points.collect(), lengths.collect()), usual(2 * count)]
}

#[test]
fn answers_are_as_large_as_what_is_asked() {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("growth");
    fs::create_dir_all(&folder).expect("a folder can be made");
    let mut wrong = String::new();
    for (name, [file, tests]) in [
        ("row", row(500)),
        ("one-board", one_board(500)),
        ("big-pass", big_pass(500)),
        ("nested", nested(500)),
        ("plate", plate(150)),
    ] {
        let [file_name, tests_name] = ["json", "tests.json"].map(|ending| folder.join(format!("{name}.{ending}")));
        let [file, tests] = [file, tests].map(|value| value.to_string());
        fs::write(&file_name, &file).expect("a file can be written");
        fs::write(&tests_name, &tests).expect("a file can be written");
        for command in ["cover", "judge", "prepare"] {
            for json in [false, true] {
                let mut program = Command::new(env!("CARGO_BIN_EXE_lengthwise"));
                program.arg(command).arg(&file_name);
                let mut asked = file.len();
                if command != "prepare" {
                    program.arg(&tests_name);
                    asked += tests.len();
                }
                program.args(json.then_some("--json"));
                let output = program.output().expect("the command starts");
                assert!(output.status.success(), "{name} {command}: {}", String::from_utf8_lossy(&output.stderr));
                let times = output.stdout.len() as f64 / asked as f64;
                if output.stdout.len() > TIMES * asked {
                    writeln!(wrong, "{command} {name}, JSON {json}: {times:.1} times").expect("it is text");
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}
