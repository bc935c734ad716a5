//! A session says what the command prints, byte for byte, of the same texts.

use std::path::Path;
use std::process::{Command, Output};

use lengthwise::session::{Session, Status};
use lengthwise::{Progress, Unwatched};
use serde_json::{Value, json};
use std::ops::ControlFlow;

fn command(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_lengthwise"))
        .args(arguments)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("the command starts")
}

fn text_of(path: &str) -> Value {
    let text = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(path)).expect("it is there");
    json!({ path.rsplit('.').next().expect("it has an ending"): text })
}

fn said(session: &mut Session, status: Status, question: &Value) -> String {
    let reply = session.ask(&question.to_string(), &mut Unwatched);
    assert_eq!(reply.status, status, "{question:.200}\n{}", reply.text);
    reply.text
}

fn open(installation: &str, test_set: Option<&str>) -> Session {
    let mut session = Session::default();
    let question = json!({ "ask": "open", "installation": text_of(installation), "test_set": test_set.map(text_of) });
    let report = said(&mut session, Status::Done, &question);
    let files: Vec<&str> = ["check", installation].into_iter().chain(test_set).chain(["--json"]).collect();
    assert_eq!(report.as_bytes(), command(&files).stdout, "{files:?}");
    assert_eq!(said(&mut session, Status::Done, &json!({ "ask": "check" })), report);
    session
}

/// The command prints this, and the session says it.
fn same(session: &mut Session, arguments: &[&str], question: Value) {
    let output = command(arguments);
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    let reply = said(session, Status::Done, &question);
    assert!(reply.as_bytes() == output.stdout, "{arguments:?}: the session says\n{reply}");
}

/// Pairs of an installation and a test set, in the folders of the demo, the examples and the fixtures.
fn pairs() -> Vec<[String; 2]> {
    let mut pairs: Vec<[String; 2]> = [
        ["demo/skerry-light.toml", "demo/as-usual.toml"],
        ["demo/skerry-light.toml", "demo/record.toml"],
        ["demo/skerry-light.toml", "demo/fault-2.toml"],
        ["examples/landing.toml", "examples/landing-low.toml"],
        ["tests/fixtures/runs/bakehouse.toml", "tests/fixtures/runs/bakehouse-tests.toml"],
        ["tests/fixtures/judge/slip.toml", "tests/fixtures/judge/slip.record.toml"],
        ["tests/fixtures/locate/touched.json", "tests/fixtures/locate/touched.tests.json"],
    ]
    .map(|pair| pair.map(str::to_owned))
    .into();
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/small");
    let names = std::fs::read_dir(folder).expect("the fixtures are there");
    let mut names: Vec<String> =
        names.filter_map(|entry| entry.expect("it can be read").file_name().into_string().ok()).collect();
    names.sort();
    let names = names.iter().filter_map(|name| name.strip_suffix(".tests.toml"));
    pairs
        .extend(names.map(|name| ["toml", "tests.toml"].map(|ending| format!("tests/fixtures/small/{name}.{ending}"))));
    pairs
}

#[test]
fn it_says_what_the_command_prints() {
    let pairs = pairs();
    assert!(pairs.len() > 30, "{}", pairs.len());
    for [installation, tests] in &pairs {
        let mut session = open(installation, Some(tests));
        let session = &mut session;
        let of = |what: &'static str| [what, installation, tests, "--json"];
        same(session, &of("cover"), json!({ "ask": "cover" }));
        same(session, &of("plan"), json!({ "ask": "plan" }));
        same(session, &of("locate"), json!({ "ask": "locate" }));
        if command(&of("judge")).status.code() == Some(0) {
            same(session, &of("judge"), json!({ "ask": "judge" }));
        } else {
            let refused = said(session, Status::Refused, &json!({ "ask": "judge" }));
            assert!(refused.contains("no `volts`"), "{refused}");
        }
        for what in ["prepare", "works", "terminations", "network"] {
            same(session, &[what, installation, "--json"], json!({ "ask": what }));
        }
        same(session, &["expand", installation], json!({ "ask": "expand" }));
    }
}

#[test]
fn options_are_those_of_the_command() {
    let [installation, tests] = ["demo/skerry-light.toml", "demo/as-usual.toml"];
    let mut session = open(installation, Some(tests));
    let mut plan = |arguments: &[&str], options: Value| {
        let arguments = [&["plan", installation, tests, "--json"], arguments].concat();
        same(&mut session, &arguments, json!({ "ask": "plan", "options": options }));
    };
    plan(&["--people", "2", "--need", "standard"], json!({ "people": "two", "need": "standard" }));
    plan(&["--restore", "--each-switch"], json!({ "restore": true, "each_switch": true }));
    plan(
        &["--fewest-readings", "--prefer", "stops", "--extras", "lamps,points"],
        json!({ "fewest_readings": true, "prefer": "stops", "extras": ["lamps", "points"] }),
    );
    let pace =
        json!({ "metres_a_minute": 30.0, "reading_seconds": 60.0, "operation_seconds": 10.0, "out_seconds": 180.0 });
    plan(&["--metres-a-minute", "30", "--extras", "none"], json!({ "pace": pace, "extras": [] }));
    same(&mut session, &["works", installation, "E201", "--json"], json!({ "ask": "works", "boxes": ["E201"] }));
    let covered = json!({ "ask": "cover", "need": "every-pair" });
    same(&mut session, &["cover", installation, tests, "--need", "every-pair", "--json"], covered);

    let ruleset = "tests/fixtures/rules/own.toml";
    for (named, rules) in [("as-nzs-3000", json!({ "standard": "as-nzs-3000" })), (ruleset, text_of(ruleset))] {
        let question =
            json!({ "ask": "open", "installation": text_of(installation), "test_set": text_of(tests), "rules": rules });
        said(&mut session, Status::Done, &question);
        same(&mut session, &["rules", "--rules", named, "--json"], json!({ "ask": "rules" }));
        same(&mut session, &["plan", installation, tests, "--rules", named, "--json"], json!({ "ask": "plan" }));
    }
}

#[test]
fn it_names_draws_and_appends() {
    let [installation, tests] = ["demo/skerry-light.toml", "demo/as-usual.toml"];
    let mut session = open(installation, Some(tests));
    let drawn = ["draw", installation, tests, "--circuit", "C2", "--down"];
    same(&mut session, &drawn, json!({ "ask": "draw", "circuits": ["C2"], "down": true }));
    let refused = said(&mut session, Status::Refused, &json!({ "ask": "draw", "circuits": ["C2", "c3"] }));
    assert!(refused.contains("there is no circuit `c3`"), "{refused}");

    let names: Value = serde_json::from_str(&said(&mut session, Status::Done, &json!({ "ask": "names" }))).unwrap();
    assert_eq!(names["circuits"][1], json!({ "id": "C2", "name": "Tower stair", "way": "DB1/2" }));
    assert_eq!(names["locations"][0]["name"], "Entrance hall");
    let stair = names["points"].as_array().unwrap().iter().find(|row| row["id"] == "S201").unwrap();
    assert_eq!(stair["plate"], "tower-foot");

    // What a plan's passes come to is what its record says.
    let passes = said(&mut session, Status::Done, &json!({ "ask": "plan", "give": "passes" }));
    let passes: Value = serde_json::from_str(&passes).unwrap();
    let all: Vec<Value> = [&passes["before"]]
        .into_iter()
        .chain(passes["rounds"].as_array().unwrap())
        .filter(|row| !row.is_null())
        .cloned()
        .collect();
    let append = json!({ "ask": "append", "test_set": text_of(tests), "passes": all });
    let record = said(&mut session, Status::Done, &json!({ "ask": "plan", "give": "record" }));
    // JSON is sorted here on its way; a table is the same in any order.
    let read = |text: &str| toml::from_str::<toml::Value>(text).expect("it is TOML");
    assert_eq!(read(&said(&mut session, Status::Done, &append)), read(&record));
    let value = json!([{ "reading": [{ "circuit": "C1", "between": ["L", "E"], "megohms": ">999" }] }]);
    let written = said(&mut session, Status::Done, &json!({ "ask": "append", "passes": value }));
    assert!(written.starts_with("format = 1\n\n# Pass 1\n") && written.contains("megohms = \">999\""), "{written}");
}

#[test]
fn it_writes_the_files_that_the_command_writes() {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR"));
    let written = |name: &str, arguments: &[&str]| {
        let path = folder.join(format!("session-{name}"));
        let _ = std::fs::remove_file(&path);
        let path = path.to_str().expect("it is text").to_owned();
        let output = command(&[arguments, &["--record", &path]].concat());
        assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
        (std::fs::read_to_string(&path).expect("it was written"), path)
    };
    let [installation, tests] = ["demo/skerry-light.toml", "demo/fault-2.toml"];
    let plan = json!({ "ask": "plan", "give": "record" });
    let (form, form_path) = written("new.toml", &["plan", installation]);
    let mut session = open(installation, None);
    assert_eq!(said(&mut session, Status::Done, &plan), form);

    said(&mut session, Status::Done, &json!({ "ask": "enter", "test_set": text_of(tests) }));
    assert_eq!(said(&mut session, Status::Done, &plan), written("more.toml", &["plan", installation, tests]).0);
    let locate = json!({ "ask": "locate", "give": "record" });
    assert_eq!(said(&mut session, Status::Done, &locate), written("next.toml", &["locate", installation, tests]).0);

    let values = folder.join("session-values.csv");
    std::fs::write(&values, "pass,reading,megohms\n2,1,>999\n2,2,0.45\n").expect("it can be written");
    let filled = written("filled.toml", &["fill", installation, &form_path, values.to_str().expect("it is text")]).0;
    said(&mut session, Status::Done, &json!({ "ask": "enter", "test_set": { "toml": form } }));
    let fill = json!({ "ask": "fill", "values": [[[2, 1], ">999"], [[2, 2], "0.45"]] });
    assert_eq!(said(&mut session, Status::Done, &fill), filled);
    let fill = json!({ "ask": "fill", "values": [[[2, 1], "wet"]] });
    assert!(said(&mut session, Status::Refused, &fill).contains("`wet` is no value"));
}

#[test]
fn what_is_refused_tells_all_that_is_wrong_and_changes_nothing() {
    let [installation, tests] = ["examples/landing.toml", "examples/landing-as-usual.toml"];
    let mut session = Session::default();
    assert!(said(&mut session, Status::Refused, &json!({ "ask": "cover" })).contains("no installation is open"));
    let mut session = open(installation, Some(tests));
    let before = said(&mut session, Status::Done, &json!({ "ask": "cover" }));

    // An installation, a test set and a ruleset, each with its errors.
    let wrong = "tests/fixtures/invalid/installation/contactor.toml";
    let question = json!({ "ask": "open", "installation": text_of(wrong), "test_set": { "toml": "[[pass" }, "rules": { "toml": "x = 1" } });
    let refusal: Value = serde_json::from_str(&said(&mut session, Status::Refused, &question)).expect("it is JSON");
    let report: Value = serde_json::from_slice(&command(&["check", wrong, "--json"]).stdout).expect("it is JSON");
    assert_eq!(refusal["installation"], report["installation"]);
    assert!(
        refusal["test_set"][0]["line"] == 1 && refusal["ruleset"].as_array().is_some_and(|errors| errors.len() > 1)
    );

    for (question, told) in [
        (
            json!({ "ask": "enter", "test_set": { "toml": "format = 1\n[[pass]]\noperate = ['S9']" } }),
            "there is no device `S9`",
        ),
        (json!({ "ask": "plan", "options": { "without": ["attic"] } }), "there is no location `attic`"),
        (json!({ "ask": "plan", "options": { "people": "two", "prefer": "stops" } }), "prefer stops is for one person"),
        (
            json!({ "ask": "plan", "options": { "pace": { "metres_a_minute": 0.0, "reading_seconds": 1.0, "operation_seconds": 1.0, "out_seconds": 1.0 } } }),
            "pace metres_a_minute",
        ),
        (json!({ "ask": "plan", "options": { "peple": 2 } }), "unknown field `peple`"),
        (json!({ "ask": "works", "boxes": ["E9", "E8"] }), "there is no point or board `E8`"),
        (json!({ "ask": "covr" }), "unknown variant `covr`"),
        (json!({ "ask": "check", "strict": true }), "unknown field `strict`"),
        (json!([]), "missing field `ask`"),
    ] {
        let refusal = said(&mut session, Status::Refused, &question);
        assert!(refusal.contains(told), "{question}\n{refusal}");
        let refusal: Value = serde_json::from_str(&refusal).expect("it is JSON");
        assert_eq!(refusal["format"], 1);
    }
    assert_eq!(said(&mut session, Status::Done, &json!({ "ask": "cover" })), before);
    let none = json!({ "ask": "enter", "test_set": null });
    said(&mut session, Status::Done, &none);
    assert!(said(&mut session, Status::Refused, &json!({ "ask": "cover" })).contains("there is none"));
    same(&mut session, &["plan", installation, "--json"], json!({ "ask": "plan" }));
}

#[test]
fn what_was_stopped_says_so_and_is_gone_on_with() {
    let [installation, tests] = ["demo/skerry-light.toml", "demo/as-usual.toml"];
    let at_once = &mut |_: Progress| ControlFlow::Break(());
    let mut session = Session::default();
    let question = json!({ "ask": "open", "installation": text_of(installation), "test_set": text_of(tests) });
    assert_eq!(session.ask(&question.to_string(), at_once).status, Status::Done);
    for what in ["plan", "locate"] {
        let stopped = session.ask(&json!({ "ask": what }).to_string(), at_once);
        assert!(stopped.text.contains("\"stopped\": true"), "{what}");
        let record = session.ask(&json!({ "ask": what, "give": "record" }).to_string(), at_once);
        assert_eq!(record.status, Status::Done);
        same(&mut session, &[what, installation, tests, "--json"], json!({ "ask": what }));
    }
    assert!(session.ask(r#"{ "ask": "cover" }"#, at_once).text.contains("\"stopped\": true"));
    same(&mut session, &["cover", installation, tests, "--json"], json!({ "ask": "cover" }));
}
