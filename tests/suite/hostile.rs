//! What a file can't do to its reader: names that would work a terminal, forge lines of an answer or be formulas of a
//! spreadsheet; and output that can't be written.

use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use proptest::prelude::*;
use serde_json::{Value, json};

use crate::strategy::times;

fn command(arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_lengthwise"));
    command.args(arguments).current_dir(env!("CARGO_MANIFEST_DIR")).env_remove("NO_COLOR");
    command
}

fn run(arguments: &[&str]) -> Output {
    command(arguments).output().expect("the command starts")
}

/// Whether a character is one that a reader does not see as it is: controls (category Cc but for the line break, which
/// is ours), separators of lines and paragraphs (Zl, Zp), and those of category Cf that turn or hide text (Unicode 15,
/// from memory).
fn is_unseen(c: char) -> bool {
    let ranges = [
        ('\0', '\u{9}'),
        ('\u{b}', '\u{1f}'),
        ('\u{7f}', '\u{9f}'),
        ('\u{ad}', '\u{ad}'),
        ('\u{61c}', '\u{61c}'),
        ('\u{200b}', '\u{200b}'),
        ('\u{200e}', '\u{200f}'),
        ('\u{2028}', '\u{202e}'),
        ('\u{2060}', '\u{206f}'),
        ('\u{feff}', '\u{feff}'),
        ('\u{fff9}', '\u{fffb}'),
        ('\u{e0000}', '\u{e007f}'),
    ];
    ranges.iter().any(|&(first, last)| (first..=last).contains(&c))
}

/// Some of the worst texts, and letters between them.
fn names() -> impl Strategy<Value = Vec<String>> {
    let worst = prop::sample::select(vec![
        "\u{1b}[31m",
        "\u{1b}]0;owned\u{7}",
        "\u{9b}2J",
        "\r",
        "\n",
        "\r\n\r\nC1 passes\n",
        "\u{202e}",
        "\u{2066}",
        "\u{200f}",
        "\u{2028}",
        "\u{85}",
        "\u{200b}",
        "\u{feff}",
        "\u{e0041}",
        "\t",
        "\0",
        "\u{7f}",
        "=1+1",
        "=HYPERLINK(\"x\")",
        "+2",
        "-3",
        "@SUM(1)",
        "\u{ff1d}1",
        "\"",
        ",",
        ";",
        "</script>",
        " ",
        "a",
        "Stair",
        "\u{e9}\u{4e2d}",
    ]);
    prop::collection::vec(prop::collection::vec(worst, 1..5).prop_map(|parts| parts.concat()), 8)
}

/// Writes files in which every free text is a hostile one; gives their paths.
fn write_files(names: &[String]) -> [PathBuf; 5] {
    let name = |number: usize| &names[number % names.len()];
    // Some texts have to say something.
    let said = |number| format!("x{}", name(number));
    let cores = json!({ "brown": ["L", "COM"], "cpc": ["E", "E"] });
    let mut installation = json!({
        "format": 1,
        "installation": { "name": name(0), "nominal_voltage": 230 },
        "location": [{ "id": "hall", "name": name(1) }, { "id": "attic", "name": name(2) }],
        "passage": [{ "between": ["hall", "attic"], "metres": 4 }],
        "board": [{ "id": "DB1", "origin": true, "location": "hall",
                    "way": [{ "id": "1", "device": "mcb" }, { "id": "2", "device": "mcb" }] }],
        "circuit": [{ "id": "C1", "name": name(3), "way": "DB1/1", "relief": said(4) },
                    { "id": "-1-1", "name": name(5), "way": "DB1/2" }],
        "point": [{ "id": "S1", "kind": "two-way", "location": "attic", "plate": name(6), "name": name(7), "stands": "L1" },
                  { "id": "S2", "kind": "two-way", "location": "hall", "stands": "L1", "name": name(0) },
                  { "id": "D1", "kind": "dimmer", "location": "hall" },
                  { "id": "E1", "kind": "luminaire", "location": "attic", "name": name(1), "lamp": "led" }],
        "length": [{ "id": "W1", "from": "DB1/1", "to": "S1", "cable": name(2), "metres": 9, "cores": cores },
                   { "id": "W2", "from": "S1", "to": "S2", "metres": 5,
                     "cores": { "brown": ["L1", "L1"], "black": ["L2", "L2"], "cpc": ["E", "E"] } },
                   { "id": "W3", "from": "S2", "to": "D1", "metres": 5, "cores": { "brown": ["COM", "COM"], "cpc": ["E", "E"] } },
                   { "id": "W4", "from": "D1", "to": "E1", "metres": 5, "cores": { "brown": ["L1", "L"], "cpc": ["E", "E"] } },
                   { "id": "W5", "from": "DB1/1", "to": "E1", "metres": 5, "cores": { "blue": ["N", "N"], "cpc": ["E", "E"] } }],
    });
    let reading = |between: Value, megohms: Value| json!({ "circuit": "C1", "between": between, "volts": 500, "megohms": megohms });
    let tests = json!({ "format": 1, "pass": [
        { "reading": [reading(json!(["L+N", "E"]), json!(0.4)), reading(json!(["L", "N"]), json!(">999"))] },
        { "operate": ["S1"], "reading": [reading(json!(["L+N", "E"]), json!(250))] },
    ] });
    let source = |number| json!({ "source": said(number), "edition": said(number + 1), "from_memory": false });
    let with_source = |mut row: Value, number: usize| {
        row.as_object_mut().expect("it is a table").extend(source(number).as_object().expect("it is a table").clone());
        row
    };
    let ruleset = json!({ "format": 1, "ruleset": { "id": "own", "title": said(3) },
        "row": [with_source(json!({ "system": ["lv", "selv", "pelv", "felv"], "volts": 500, "megohms": 1.0 }), 4)],
        "note": [with_source(json!({ "text": said(6) }), 7)] });
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("hostile");
    fs::create_dir_all(&folder).expect("a folder can be made");
    let write = |file: &str, value: &Value| {
        let path = folder.join(file);
        fs::write(&path, value.to_string()).expect("a file can be written");
        path
    };
    let right =
        [write("installation.json", &installation), write("tests.json", &tests), write("ruleset.json", &ruleset)];
    // The same with mistakes in it, so that names are told in errors.
    installation["point"][0]["kind"] = json!(name(5));
    installation["length"][0]["from"] = json!(name(6));
    installation[name(3)] = json!(1);
    let wrong_tests = json!({ "format": 1, "start": { name(2): name(4) },
        "pass": [{ "operate": [name(1)], "reading": [reading(json!([name(0), "E"]), json!(name(7)))] }] });
    let [one, two, three] = right;
    [one, two, three, write("wrong.json", &installation), write("wrong-tests.json", &wrong_tests)]
}

proptest! {
    #![proptest_config(times(12))]

    #[test]
    fn no_name_in_a_file_works_the_terminal_or_a_spreadsheet(names in names()) {
        let paths = write_files(&names);
        let [installation, tests, ruleset, wrong, wrong_tests] =
            paths.each_ref().map(|path| path.to_str().expect("the path is text"));
        let commands: [&[&str]; 14] = [
            &["check", installation, tests],
            &["cover", installation, tests],
            &["plan", installation],
            &["plan", installation, tests, "--need", "every-pair", "--restore", "--each-switch"],
            &["plan", installation, "--without", "attic"],
            &["prepare", installation, "--rules", ruleset],
            &["judge", installation, tests],
            &["locate", installation, tests],
            &["rules", "--rules", ruleset],
            &["network", installation],
            &["works", installation],
            &["terminations", installation],
            &["check", wrong, tests],
            &["check", installation, wrong_tests],
        ];
        for arguments in commands {
            for further in [&[][..], &["--json"]] {
                let output = run(&[arguments, further].concat());
                let [out, errors] = [output.stdout, output.stderr].map(|bytes| String::from_utf8(bytes).expect("it is UTF-8"));
                for text in [&out, &errors] {
                    prop_assert_eq!(text.chars().find(|&c| is_unseen(c)), None, "{:?}: {:?}", arguments, text);
                }
                let is_wrong = arguments.contains(&wrong) || arguments.contains(&wrong_tests);
                prop_assert_eq!(output.status.code(), Some(if is_wrong { 2 } else { 0 }), "{:?}: {}", arguments, errors);
                // A line break of a name makes no line.
                let forged = out.lines().chain(errors.lines()).any(|line| line == "C1 passes");
                prop_assert!(!forged, "{:?}: {}", arguments, out);
            }
        }
        let drawn = run(&["draw", installation, tests]);
        prop_assert_eq!(drawn.status.code(), Some(0));
        let drawn = String::from_utf8(drawn.stdout).expect("it is UTF-8");
        prop_assert_eq!(drawn.chars().find(|&c| is_unseen(c)), None, "{}", drawn);
        prop_assert_eq!(drawn.matches("<svg").count() + drawn.matches("<script").count(), 1, "{}", drawn);
        let record = run(&["judge", installation, tests, "--csv"]);
        let mut rows = csv::Reader::from_reader(&record.stdout[..]);
        let mut cells = 0;
        for row in rows.records() {
            for cell in row.expect("it is CSV").iter() {
                cells += 1;
                let first = cell.trim_start().chars().next();
                prop_assert!(!first.is_some_and(|first| "=+-@＝＋－＠".contains(first)), "{cell:?}");
                prop_assert!(!cell.contains(|c: char| c == '\n' || is_unseen(c)), "{cell:?}");
            }
        }
        prop_assert_eq!(cells, 24);
        // In JSON nothing is lost by it.
        let network = run(&["network", installation, "--json"]);
        prop_assert!(serde_json::from_slice::<Value>(&network.stdout).is_ok());
    }
}

const DEMO: [&str; 2] = ["demo/skerry-light.toml", "demo/record.toml"];

/// Every command, short answers and long ones.
fn every_command() -> Vec<Vec<&'static str>> {
    let [installation, record] = DEMO;
    let mut all =
        vec![vec!["--help"], vec!["plan", "--help"], vec!["--version"], vec!["judge", installation, record, "--csv"]];
    all.push(vec!["draw", installation, record]);
    for command in [
        vec!["check", installation],
        vec!["cover", installation, record],
        vec!["plan", installation, record],
        vec!["prepare", installation],
        vec!["judge", installation, record],
        vec!["locate", installation, record],
        vec!["rules"],
        vec!["network", installation],
        vec!["works", installation],
        vec!["terminations", installation],
    ] {
        all.push([&command[..], &["--json"]].concat());
        all.push(command);
    }
    all
}

/// The device that is always full is Linux's.
#[cfg(target_os = "linux")]
#[test]
fn what_cannot_be_written_is_an_error() {
    for arguments in every_command() {
        let full = File::options().write(true).open("/dev/full").expect("the device is there");
        let output = command(&arguments).stdout(full).output().expect("the command starts");
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        let told = String::from_utf8_lossy(&output.stderr);
        assert!(told.starts_with("error: the answer can't be written: "), "{arguments:?}: {told}");
        assert_eq!(told.lines().count(), 2, "{arguments:?}: {told}");
    }
}

/// A descriptor that is there but takes nothing.
#[cfg(unix)]
#[test]
fn a_descriptor_that_cannot_be_written_to_is_an_error() {
    for arguments in every_command() {
        let read_only = File::open(Path::new(env!("CARGO_MANIFEST_DIR")).join(DEMO[0])).expect("it is there");
        let output = command(&arguments).stdout(read_only).output().expect("the command starts");
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        let told = String::from_utf8_lossy(&output.stderr);
        assert!(told.starts_with("error: the answer can't be written: "), "{arguments:?}: {told}");
    }
}

/// An answer of several writes that ends in the midst of one: a file may take so much and no more.
#[cfg(target_os = "linux")]
#[test]
fn an_answer_that_is_cut_short_is_an_error() {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join("cut-short");
    let program = env!("CARGO_BIN_EXE_lengthwise");
    for blocks in [1, 64, 129, 200] {
        let script = format!("trap '' XFSZ; ulimit -f {blocks}; exec \"$0\" \"$@\" > {}", path.display());
        let output = Command::new("bash")
            .args(["-c", &script, program, "network", DEMO[0], "--json"])
            .current_dir(env!("CARGO_MANIFEST_DIR"))
            .output()
            .expect("the shell starts");
        assert_eq!(output.status.code(), Some(2), "{blocks}");
        assert_eq!(fs::metadata(&path).expect("it was begun").len(), blocks * 1024, "all that there is room for");
    }
}

#[cfg(unix)]
#[test]
fn a_reader_that_has_gone_away_is_no_error() {
    for arguments in every_command() {
        let mut child = command(&arguments).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().expect("it starts");
        drop(child.stdout.take());
        let output = child.wait_with_output().expect("it ends");
        assert_eq!(output.status.code(), Some(0), "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
        assert!(output.stderr.is_empty(), "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
    }
}

/// A header that never ends, with a value in it: what the reader makes of it lies anywhere in the text.
#[test]
fn passes_are_not_appended_to_a_header_that_never_ends() {
    let text = "format = 1\n\n[[pass= \"on\", ";
    let pass = lengthwise::model::PassDraft { operate: vec!["S1".to_owned()], ..Default::default() };
    assert!(lengthwise::input::append_passes(lengthwise::Input::toml(text), &[pass]).is_err());
}
