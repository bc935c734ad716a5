//! The command as its user meets it: what it prints, in how many columns, and with which exit status.

use std::path::Path;
use std::process::{Command, Output};

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_lengthwise"))
        .args(arguments)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .env_remove("NO_COLOR")
        .output()
        .expect("the command starts")
}

fn text(arguments: &[&str]) -> String {
    let output = run(arguments);
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    assert!(output.stderr.is_empty(), "what is done says nothing on standard error");
    let text = String::from_utf8(output.stdout).expect("text is UTF-8");
    for line in text.lines() {
        assert!(line.chars().count() <= 80, "{} columns: {line}", line.chars().count());
        assert!(!line.contains('\u{1b}'), "no escape sequences: {line}");
        assert_eq!(line, line.trim_end(), "no blanks at the end of a line");
    }
    text
}

/// The small fixtures that have a test set of their own.
fn small() -> Vec<String> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/small");
    let mut names: Vec<String> = std::fs::read_dir(folder)
        .expect("the fixtures are there")
        .filter_map(|entry| entry.expect("a folder can be read").file_name().into_string().ok())
        .filter_map(|name| name.strip_suffix(".tests.toml").map(str::to_owned))
        .collect();
    names.sort();
    names
}

#[test]
fn what_is_said_of_the_small_installations() {
    let names = small();
    assert!(names.len() >= 12, "{names:?}");
    for name in names {
        let installation = format!("tests/fixtures/small/{name}.toml");
        let tests = format!("tests/fixtures/small/{name}.tests.toml");
        insta::assert_snapshot!(format!("cover-{name}"), text(&["cover", &installation, &tests]));
        insta::assert_snapshot!(format!("plan-{name}"), text(&["plan", &installation, &tests]));
    }
}

/// A number of three hundred digits is broken where the line ends.
#[test]
fn a_word_without_end_stays_within_the_width() {
    let landing = std::fs::read_to_string("examples/landing.toml").expect("it is there");
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join("without-end.toml");
    let metres = landing.lines().filter(|line| line.starts_with("metres = ")).count();
    let endless: Vec<&str> =
        landing.lines().map(|line| if line.starts_with("metres = ") { "metres = 1e300" } else { line }).collect();
    assert!(metres > 0, "it has lengths");
    std::fs::write(&path, endless.join("\n")).expect("a file can be written");
    let said = text(&["cover", path.to_str().expect("it is text"), "examples/landing-as-usual.toml"]);
    assert!(said.contains("000000000000000000000000000000000000000000"), "{said}");
}

#[test]
fn circuits_are_drawn() {
    let landing = ["examples/landing.toml", "examples/landing-as-usual.toml"];
    insta::assert_snapshot!("draw-landing", text_of_any_width(&["draw", landing[0], landing[1]]));
    insta::assert_snapshot!("draw-landing-down", text_of_any_width(&["draw", landing[0], landing[1], "--down"]));
    let refused = run(&["draw", landing[0], "--circuit", "c1"]);
    let told = String::from_utf8(refused.stderr).expect("it is text");
    assert_eq!(told, "error: there is no circuit `c1`\n  help: write `C1`, if that is meant\n");
}

#[test]
fn what_is_said_of_the_demo() {
    let installation = "demo/skerry-light.toml";
    insta::assert_snapshot!("demo-check", text(&["check", installation, "demo/as-usual.toml"]));
    insta::assert_snapshot!("demo-cover-as-usual", text(&["cover", installation, "demo/as-usual.toml"]));
    insta::assert_snapshot!("demo-cover-finished", text(&["cover", installation, "demo/finished.toml"]));
    insta::assert_snapshot!("demo-plan", text(&["plan", installation]));
    insta::assert_snapshot!("demo-plan-two-people", text(&["plan", installation, "--people", "2"]));
    insta::assert_snapshot!("demo-plan-as-usual", text(&["plan", installation, "demo/as-usual.toml"]));
    insta::assert_snapshot!("demo-plan-finished", text(&["plan", installation, "demo/finished.toml"]));
    insta::assert_snapshot!("demo-network", text(&["network", installation]));
}

#[test]
fn what_is_said_of_the_demo_s_wiring() {
    let installation = "demo/skerry-light.toml";
    insta::assert_snapshot!("demo-works", text(&["works", installation]));
    insta::assert_snapshot!("demo-terminations", text(&["terminations", installation, "S202", "E303", "DB2"]));
    let small = "tests/fixtures/small/intermediate.toml";
    insta::assert_snapshot!("json-works", text_of_any_width(&["works", small, "--json"]));
    insta::assert_snapshot!("json-terminations", text_of_any_width(&["terminations", small, "S2", "--json"]));
    let bakehouse = "tests/fixtures/runs/bakehouse.toml";
    insta::assert_snapshot!("bakehouse-expand", text_of_any_width(&["expand", bakehouse]));
    let stair = "tests/fixtures/small/crossed.toml";
    insta::assert_snapshot!("check-crossed", text(&["check", stair]));
    insta::assert_snapshot!("json-check-crossed", text_of_any_width(&["check", stair, "--json"]));
    for (file, status) in [(stair, 1), (installation, 0)] {
        assert_eq!(run(&["check", file, "--strict"]).status.code(), Some(status));
        assert_eq!(run(&["check", file, "--strict", "--json"]).status.code(), Some(status));
    }
    let unknown = run(&["terminations", installation, "S20l", "cellar"]);
    assert_eq!((unknown.status.code(), unknown.stdout.len()), (Some(2), 0));
    insta::assert_snapshot!("unknown-boxes", String::from_utf8(unknown.stderr).expect("text is UTF-8"));
}

#[test]
fn what_is_said_of_the_rulesets() {
    insta::assert_snapshot!("rules", text(&["rules"]));
    insta::assert_snapshot!("rules-own", text(&["rules", "--rules", "tests/fixtures/rules/own.toml"]));
    insta::assert_snapshot!("json-rules", text_of_any_width(&["rules", "--rules", "iec-60364-6", "--json"]));
    assert_eq!(run(&["rules", "--rules", "bs-7672"]).status.code(), Some(2), "neither a ruleset nor a file");
}

const SLIP: [&str; 2] = ["tests/fixtures/judge/slip.toml", "tests/fixtures/judge/slip.record.toml"];

#[test]
fn what_is_said_of_records() {
    let [installation, record] = SLIP;
    insta::assert_snapshot!("judge-slip", text(&["judge", installation, record]));
    insta::assert_snapshot!("judge-slip-as-nzs", text(&["judge", installation, record, "--rules", "as-nzs-3000"]));
    let own = ["judge", installation, record, "--need", "earth", "--rules", "tests/fixtures/rules/own.toml"];
    insta::assert_snapshot!("judge-slip-own", text(&own));
    insta::assert_snapshot!("judge-demo", text(&["judge", "demo/skerry-light.toml", "demo/record.toml"]));
    insta::assert_snapshot!("csv-judge", text_of_any_width(&["judge", installation, record, "--csv"]));
    insta::assert_snapshot!("json-judge", text_of_any_width(&["judge", installation, record, "--json"]));
}

#[test]
fn a_reading_at_the_voltage_of_a_declared_relief_is_not_at_another_voltage() {
    let [installation, record] = SLIP;
    let cover = text(&["cover", installation, record]);
    assert!(cover.contains("pass 1, reading 7 (C4) at 250 V, where 500 V is asked for"), "{cover}");
    assert!(!cover.contains("(C5) at 250 V"), "{cover}");
}

#[test]
fn what_is_said_before_the_readings() {
    let demo = text(&["prepare", "demo/skerry-light.toml"]);
    let cautions = demo.lines().skip(2).take_while(|line| !line.is_empty());
    assert!(cautions.filter(|line| line.starts_with("! ")).count() >= 6, "they stand at the head");
    insta::assert_snapshot!("prepare-demo", demo);
    for name in ["three-phase", "transformer", "contactor", "rcbo"] {
        let installation = format!("tests/fixtures/small/{name}.toml");
        insta::assert_snapshot!(format!("prepare-{name}"), text(&["prepare", &installation]));
    }
    insta::assert_snapshot!("prepare-opened", text(&["prepare", "tests/fixtures/prepare/opened.toml"]));
    let json = text_of_any_width(&["prepare", "tests/fixtures/prepare/opened.toml", "--json"]);
    insta::assert_snapshot!("json-prepare-opened", json);
    let json = text_of_any_width(&["prepare", "tests/fixtures/small/sub-board.toml", "--json"]);
    insta::assert_snapshot!("json-prepare", json);
    let unknown = text(&["prepare", "tests/fixtures/small/unknown-position.toml", "--rules", "as-nzs-3000"]);
    insta::assert_snapshot!("prepare-unknown-position", unknown);
}

#[test]
fn a_record_is_read_and_never_written() {
    let [installation, record] = SLIP;
    let before = std::fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join(record)).expect("the record is there");
    for what in [None, Some("--json"), Some("--csv")] {
        let arguments: Vec<&str> = ["judge", installation, record, "--strict"].into_iter().chain(what).collect();
        assert_eq!(run(&arguments).status.code(), Some(1), "something fails");
    }
    assert_eq!(std::fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join(record)).ok(), Some(before));
    assert_eq!(run(&["judge", installation, record, "--csv", "--json"]).status.code(), Some(2), "one or the other");
    let refused = run(&["judge", "tests/fixtures/small/workshop.toml", "tests/fixtures/small/workshop-tests.toml"]);
    assert_eq!((refused.status.code(), refused.stdout.len()), (Some(2), 0), "values without their voltage");
}

#[test]
fn what_is_said_of_plans_that_are_asked_for_with_options() {
    let demo = "demo/skerry-light.toml";
    let usual = "demo/as-usual.toml";
    insta::assert_snapshot!(
        "demo-plan-without",
        text(&["plan", demo, usual, "--without", "boathouse", "--without", "dorm-2", "--leave", "S101"])
    );
    insta::assert_snapshot!("demo-plan-restore", text(&["plan", demo, usual, "--restore"]));
    insta::assert_snapshot!("demo-plan-prefer-stops", text(&["plan", demo, usual, "--prefer", "stops"]));
    insta::assert_snapshot!("demo-plan-each-switch", text(&["plan", demo, usual, "--each-switch"]));
    let double_pole = "tests/fixtures/small/double-pole.toml";
    insta::assert_snapshot!("double-pole-each-switch", text(&["plan", double_pole, "--each-switch", "--restore"]));
    insta::assert_snapshot!(
        "json-plan-each-switch",
        text_of_any_width(&["plan", double_pole, "--each-switch", "--leave", "S1", "--json"])
    );
    let selector = "tests/fixtures/small/selector.toml";
    insta::assert_snapshot!(
        "selector-restore-prefer-stops",
        text(&["plan", selector, "--restore", "--prefer", "stops"])
    );
}

#[test]
fn what_is_said_of_plans_with_leads_joined_otherwise() {
    let three_phase = "tests/fixtures/small/three-phase.toml";
    insta::assert_snapshot!("three-phase-fewest-readings", text(&["plan", three_phase, "--fewest-readings"]));
    insta::assert_snapshot!(
        "json-three-phase-fewest-readings",
        text_of_any_width(&["plan", three_phase, "--fewest-readings", "--json"])
    );
    let demo = "demo/skerry-light.toml";
    insta::assert_snapshot!("demo-plan-fewest-readings", text(&["plan", demo, "--fewest-readings"]));
}

#[test]
fn what_is_said_of_plans_with_extras() {
    insta::assert_snapshot!(
        "demo-plan-extras-lamps",
        text(&["plan", "demo/skerry-light.toml", "--need", "every-pair", "--extras", "lamps"])
    );
    let two_way = "tests/fixtures/small/two-way.toml";
    let every_pair = |more: &[&str]| text(&[&["plan", two_way, "--need", "every-pair"], more].concat());
    insta::assert_snapshot!("two-way-extras-links", every_pair(&["--extras", "links", "--restore"]));
    insta::assert_snapshot!("json-two-way-extras-lamps", every_pair(&["--extras", "lamps", "--restore", "--json"]));
    let status =
        |arguments: &[&str]| run(&[&["plan", two_way, "--strict", "--need"], arguments].concat()).status.code();
    assert_eq!(status(&["every-pair"]), Some(0), "all extras are allowed");
    let none = ["every-pair", "--extras", "none"];
    assert_eq!(status(&none), Some(1), "strapper to strapper can't be tested at the way");
    assert_eq!(status(&["every-pair", "--extras", "lamps"]), Some(0), "with the lamp in it is");
    assert_eq!(status(&["every-pair", "--extras", "lanterns"]), Some(2));
}

#[test]
fn options_that_name_what_is_not_there_are_errors_all_at_once() {
    let output = run(&[
        "plan",
        "demo/skerry-light.toml",
        "--without",
        "hal",
        "--leave",
        "S1O1",
        "--leave",
        "nowhere",
        "--leave",
        "S101",
        "--json",
    ]);
    assert_eq!(output.status.code(), Some(2));
    assert!(output.stdout.is_empty());
    insta::assert_snapshot!("wrong-requests", String::from_utf8(output.stderr).expect("text is UTF-8"));
}

#[test]
fn what_json_holds() {
    let (installation, tests) = ("tests/fixtures/small/two-way.toml", "tests/fixtures/small/two-way.tests.toml");
    insta::assert_snapshot!("json-cover", text_of_any_width(&["cover", installation, tests, "--json"]));
    insta::assert_snapshot!("json-plan", text_of_any_width(&["plan", installation, tests, "--json"]));
    insta::assert_snapshot!("json-network", text_of_any_width(&["network", installation, "--json"]));
}

#[test]
fn what_is_said_of_faults() {
    let installation = "demo/skerry-light.toml";
    for record in ["as-usual", "fault-1", "fault-1-4", "fault-2", "fault-2-6", "fault-3-5"] {
        let tests = format!("demo/{record}.toml");
        insta::assert_snapshot!(format!("demo-locate-{record}"), text(&["locate", installation, &tests]));
    }
    let (stair, low) = ("tests/fixtures/small/two-way.toml", "tests/fixtures/locate/two-way-low.toml");
    insta::assert_snapshot!("locate-two-way-low", text(&["locate", stair, low]));
    insta::assert_snapshot!("json-locate", text_of_any_width(&["locate", stair, low, "--json"]));
    let against = "tests/fixtures/locate/ring-final-against-itself.toml";
    insta::assert_snapshot!("locate-contradiction", text(&["locate", "tests/fixtures/small/ring-final.toml", against]));
}

#[test]
fn what_is_assumed_can_be_told_and_is_checked() {
    let (stair, low) = ("tests/fixtures/small/two-way.toml", "tests/fixtures/locate/two-way-low.toml");
    let status = |arguments: &[&str]| run(&[&["locate", stair, low], arguments].concat()).status.code();
    assert_eq!(status(&[]), Some(0));
    assert_eq!(status(&["--strict"]), Some(1), "a fault is needed to explain the readings");
    assert_eq!(status(&["--strict", "--investigate-below", "0.01"]), Some(0));
    for wrong in [
        ["--accuracy-percent", "100"],
        ["--healthy-megohm-kilometres", "0"],
        ["--investigate-below", "0"],
        ["--resolution", "inf"],
        ["--resolution", "much"],
    ] {
        let output = run(&[&["locate", stair, low], &wrong[..]].concat());
        assert_eq!(output.status.code(), Some(2), "{wrong:?}");
        assert!(output.stdout.is_empty());
        assert!(!output.stderr.is_empty());
    }
}

#[test]
fn check_gives_its_errors_as_data_too() {
    let right = run(&["check", "demo/skerry-light.toml", "demo/finished.toml", "--json"]);
    assert_eq!(right.status.code(), Some(0));
    let data: serde_json::Value = serde_json::from_slice(&right.stdout).expect("JSON");
    let expected = serde_json::json!({
        "format": 1, "installation": [], "test_set": [], "without_role": [], "spare": [["W903", "core_6"]],
        "warnings": [],
    });
    assert_eq!(data, expected);
    let wrong = run(&["check", "tests/fixtures/invalid/installation/contactor.toml", "--json"]);
    assert_eq!(wrong.status.code(), Some(2));
    assert!(wrong.stderr.is_empty());
    insta::assert_snapshot!("json-check", String::from_utf8(wrong.stdout).expect("JSON is UTF-8"));
}

fn text_of_any_width(arguments: &[&str]) -> String {
    String::from_utf8(run(arguments).stdout).expect("JSON is UTF-8")
}

#[test]
fn exit_status_tells_what_came_of_it() {
    let demo = "demo/skerry-light.toml";
    let status = |arguments: &[&str]| run(arguments).status.code();
    assert_eq!(status(&["cover", demo, "demo/as-usual.toml"]), Some(0));
    assert_eq!(status(&["cover", demo, "demo/as-usual.toml", "--strict"]), Some(1));
    assert_eq!(status(&["cover", demo, "demo/as-usual.toml", "--strict", "--json"]), Some(1));
    assert_eq!(status(&["plan", demo, "--strict"]), Some(0), "extras test what the ways don't");
    assert_eq!(status(&["plan", demo, "--strict", "--extras", "none"]), Some(1));
    let two_way = "tests/fixtures/small/two-way.toml";
    assert_eq!(status(&["plan", two_way, "--strict"]), Some(0));
    assert_eq!(status(&["--help"]), Some(0));
    assert_eq!(status(&["--version"]), Some(0));
    assert_eq!(status(&["cover", demo]), Some(2), "an argument is missing");
    assert_eq!(status(&["plan", demo, "--need", "most"]), Some(2));
}

#[test]
fn wrong_input_is_named_on_standard_error_and_nothing_else_is_written() {
    let wrong = "tests/fixtures/invalid/installation/bad-ids.toml";
    for arguments in [
        vec!["check", wrong],
        vec!["plan", wrong, "--json"],
        vec!["network", wrong],
        vec!["works", wrong],
        vec!["terminations", wrong],
        vec!["expand", wrong],
        vec!["draw", wrong],
        vec!["draw", "examples/landing.toml", "--circuit", "C1", "--circuit", "C2"],
        vec!["check", "demo/no-such-file.toml"],
        vec!["check", "demo"],
        vec!["cover", "demo/skerry-light.toml", "demo/skerry-light.toml"],
    ] {
        let output = run(&arguments);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        assert!(output.stdout.is_empty(), "{arguments:?}");
        let error = String::from_utf8(output.stderr).expect("text is UTF-8");
        assert!(error.contains("help:"), "what to do next is said: {error}");
        assert!(error.contains(arguments[arguments.len() - 1].trim_end_matches("--json")) || error.contains(wrong));
        assert!(!error.contains('\u{1b}'), "no colour where nobody looks at a terminal");
    }
}

/// With no time at all the search stops when it first looks at the clock, so this answer is always the same.
#[test]
fn a_limit_of_time_stops_the_search_and_says_so() {
    let demo = "demo/skerry-light.toml";
    insta::assert_snapshot!("demo-plan-stopped", text(&["plan", demo, "--time-limit", "0"]));
    let stopped = text_of_any_width(&["plan", demo, "--time-limit", "0", "--json"]);
    assert!(stopped.contains("\"stopped\": true"));
    let plan = text_of_any_width(&["plan", demo, "--json"]);
    assert!(!plan.contains("\"stopped\""));
    assert_eq!(plan, text_of_any_width(&["plan", demo, "--json", "--time-limit", "86400"]), "in time, it is the plan");
    assert_eq!(run(&["plan", demo, "--time-limit", "0", "--strict"]).status.code(), Some(1));
    for wrong in ["soon", "-1", "nan", "inf", "1e300", ""] {
        let output = run(&["plan", demo, &format!("--time-limit={wrong}")]);
        assert_eq!(output.status.code(), Some(2), "{wrong}");
        assert!(output.stdout.is_empty());
        assert!(String::from_utf8_lossy(&output.stderr).contains("a number of seconds"), "{wrong}");
    }
}

#[test]
fn a_search_for_a_fault_keeps_its_limit_too() {
    let demo = "demo/skerry-light.toml";
    let stopped = text(&["locate", demo, "demo/fault-1.toml", "--time-limit", "0"]);
    assert!(stopped.contains("The search was stopped before its end"), "{stopped}");
    let usual = text(&["locate", demo, "demo/fault-1.toml"]);
    assert_eq!(usual, text(&["locate", demo, "demo/fault-1.toml", "--time-limit", "none"]), "there was time enough");
}

/// Runs the command with a text on standard input.
fn run_on(arguments: &[&str], text: &[u8]) -> Output {
    use std::io::Write;
    let mut command = Command::new(env!("CARGO_BIN_EXE_lengthwise"))
        .args(arguments)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .stdin(std::process::Stdio::piped())
        .stdout(std::process::Stdio::piped())
        .stderr(std::process::Stdio::piped())
        .spawn()
        .expect("the command starts");
    // The command may refuse before it reads.
    let _ = command.stdin.take().expect("it is piped").write_all(text);
    command.wait_with_output().expect("the command ends")
}

#[test]
fn a_file_may_come_from_standard_input() {
    let [installation, record] = SLIP;
    let read = |path: &str| std::fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join(path)).expect("it is there");
    let usual = run(&["judge", installation, record]);
    for (arguments, piped) in [
        (["judge", "-", record, "--language", "toml"], read(installation)),
        (["judge", installation, "-", "--language=toml", "--need=standard"], read(record)),
    ] {
        let output = run_on(&arguments, &piped);
        assert_eq!((output.status.code(), &output.stdout), (Some(0), &usual.stdout), "{arguments:?}");
    }
    for (arguments, wrong) in [
        (["check", "-", "--need=standard"].as_slice(), "unexpected argument"),
        (&["check", "-"], "--language"),
        (&["check", "-", "-", "--language", "toml"], "named twice"),
        (&["check", "-", "--language", "json"], "standard input:1:"),
    ] {
        let output = run_on(arguments, &read(installation));
        assert_eq!((output.status.code(), output.stdout.len()), (Some(2), 0), "{arguments:?}");
        let error = String::from_utf8_lossy(&output.stderr);
        assert!(error.contains(wrong), "{arguments:?}: {error}");
    }
}

#[test]
fn colour_is_given_where_it_is_asked_for() {
    let [installation, record] = SLIP;
    let plain = text(&["judge", installation, record, "--color", "never"]);
    let output = run(&["judge", installation, record, "--color", "always"]);
    let coloured = String::from_utf8(output.stdout).expect("text is UTF-8");
    assert!(coloured.contains("\u{1b}[31m") && coloured.contains("\u{1b}[32m"), "what is bad, and what is good");
    assert_eq!(anstream::adapter::strip_str(&coloured).to_string(), plain);
    let json = text_of_any_width(&["judge", installation, record, "--json", "--color", "always"]);
    assert!(!json.contains('\u{1b}'), "data has no colour");
}

#[test]
fn shells_and_manuals_are_served() {
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        assert!(text_of_any_width(&["completions", shell]).contains("time-limit"), "{shell}");
    }
    assert!(text(&["explain"]).contains("circuits-meet"));
    assert!(text(&["explain", "circuits-meet"]).contains("a borrowed neutral"));
    assert_eq!(run(&["explain", "no-such-code"]).status.code(), Some(2));
    assert!(text_of_any_width(&["man"]).contains(".TH lengthwise 1"));
    assert!(text_of_any_width(&["man", "plan"]).contains("\\-\\-time\\-limit"));
    assert_eq!(run(&["man", "plans"]).status.code(), Some(2));
    for command in [
        "check",
        "cover",
        "judge",
        "plan",
        "prepare",
        "rules",
        "locate",
        "works",
        "terminations",
        "expand",
        "draw",
        "network",
        "schema",
        "explain",
        "completions",
        "man",
    ] {
        let help = text_of_any_width(&[command, "--help"]);
        assert!(help.contains("\n  lengthwise "), "{command}: an example is given");
        assert!(help.lines().all(|line| line.chars().count() <= 80), "{help}");
    }
}

/// With hardly any effort less is proven; as usual it is the plan as usual.
#[test]
fn effort_says_how_much_is_searched() {
    let demo = "demo/skerry-light.toml";
    let plan = text_of_any_width(&["plan", demo, "--json"]);
    assert_eq!(text_of_any_width(&["plan", demo, "--json", "--effort", "1"]), plan);
    let little: serde_json::Value =
        serde_json::from_str(&text_of_any_width(&["plan", demo, "--json", "--effort", "1e-9"])).expect("it is JSON");
    let usual: serde_json::Value = serde_json::from_str(&plan).expect("it is JSON");
    assert_eq!(usual["optimal"]["stops"], true);
    assert_eq!(little["optimal"]["stops"], false);
    let of = |effort: &str| {
        text_of_any_width(&["locate", demo, "demo/fault-1.toml", "--json", &format!("--effort={effort}")])
    };
    assert_ne!(of("1e-9"), of("1"));
    for wrong in ["much", "-1", "0", "nan", "inf", ""] {
        for command in [&["plan", demo][..], &["locate", demo, "demo/fault-1.toml"]] {
            let effort = format!("--effort={wrong}");
            let output = run(&[command, &[&effort]].concat());
            assert_eq!(output.status.code(), Some(2), "{wrong}");
            assert!(output.stdout.is_empty());
            assert!(String::from_utf8_lossy(&output.stderr).contains("a number above 0"), "{wrong}");
        }
    }
}

/// What is wrong with any of the files is told in one go, so far as it can be seen without the others.
#[test]
fn every_file_is_looked_over_before_anything_is_said() {
    let folder = std::env::temp_dir().join(format!("lengthwise-looked-over-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a folder can be made");
    let file = |name: &str, text: &str| {
        let path = folder.join(name);
        std::fs::write(&path, text).expect("a file can be written");
        path.to_string_lossy().into_owned()
    };
    let installation = file("installation.toml", "format = 2\n");
    let tests = file(
        "tests.toml",
        "format = 1\n[[pass]]\n[[pass.reading]]\ncircuit = \"C9\"\nbetween = [\"L\", \"E\"]\nmegohms = 250 MΩ\n\
         [[pass.reading]]\ncircuit = \"C9\"\nbetween = [\"L\", \"E\"]\nmegohms = -1\n",
    );
    let rules = file("rules.toml", "format = 1\n[ruleset]\nid = \"own\"\n");
    let refused = run(&["judge", &installation, &tests, "--rules", &rules]);
    assert_eq!(refused.status.code(), Some(2));
    assert!(refused.stdout.is_empty());
    let said = String::from_utf8(refused.stderr).expect("text is UTF-8");
    for expected in [
        "rules.toml:2:1",
        "installation.toml:1:10",
        "tests.toml:6:11",
        "tests.toml:10:11",
        "write the number of MΩ alone",
    ] {
        assert!(said.contains(expected), "{expected} in {said}");
    }
    // A name that the installation would have to tell is not called unknown.
    assert!(!said.contains("C9`"), "{said}");
    let data = run(&["check", &installation, &tests, "--json"]);
    assert_eq!(data.status.code(), Some(2));
    let data: serde_json::Value = serde_json::from_slice(&data.stdout).expect("JSON");
    assert!(!data["installation"].as_array().expect("a list").is_empty());
    assert_eq!(data["test_set"].as_array().map(Vec::len), Some(2), "{data}");
    std::fs::remove_dir_all(&folder).expect("it was made here");
}

#[test]
fn a_plan_is_written_as_a_form_to_fill_in() {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("forms");
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).expect("there is room");
    let path = |name: &str| folder.join(name).to_str().expect("the path is UTF-8").to_owned();
    let read = |path: &str| std::fs::read_to_string(path).expect("it is there");
    let [installation, before] = ["examples/landing.toml", "examples/landing-as-usual.toml"];

    let form = path("form.toml");
    let usual = text(&["plan", installation, before]);
    assert_eq!(text(&["plan", installation, before, "--record", &form]), usual, "the plan is printed as usual");
    let written = read(&form);
    let before_text = read(&Path::new(env!("CARGO_MANIFEST_DIR")).join(before).to_string_lossy());
    assert!(written.starts_with(&before_text), "what was done stays to the letter: {written}");
    assert_eq!(run(&["cover", installation, &form, "--strict"]).status.code(), Some(0), "nothing is missed then");
    assert!(text(&["judge", installation, &form]).contains("2 readings without a value yet"));
    assert!(text(&["check", installation, &form]).contains("2 readings without a value yet"));

    std::fs::write(path("filled.toml"), written.replace("megohms = \"\"", "megohms = 412")).expect("there is room");
    assert!(text(&["check", installation, &path("filled.toml")]).ends_with("4 readings\n"), "only values were missing");

    // From nothing, and in JSON; then once more from there.
    let json = path("form.json");
    text(&["plan", installation, "--record", &json]);
    assert_eq!(run(&["cover", installation, &json, "--strict"]).status.code(), Some(0));
    text(&["plan", installation, &json, "--record", &path("done.json")]);
    assert_eq!(read(&path("done.json")), read(&json), "nothing is left to do");

    // What is there is never written over, and what can't be written is an error; then nothing is printed.
    for wrong in [form.as_str(), &path("form.yaml"), &path("no-such-folder/form.toml"), &path("other.json")] {
        let output = run(&["plan", installation, before, "--record", wrong]);
        assert_eq!((output.status.code(), output.stdout.len()), (Some(2), 0), "{wrong}");
        assert!(String::from_utf8_lossy(&output.stderr).contains("help:"), "{wrong}");
    }
    assert_eq!(read(&form), written);
    let mut left: Vec<_> = std::fs::read_dir(&folder)
        .expect("it is there")
        .filter_map(|entry| entry.ok()?.file_name().into_string().ok())
        .collect();
    left.sort();
    assert_eq!(left, ["done.json", "filled.toml", "form.json", "form.toml"], "nothing half-written is left");
}

/// A form goes to a table and comes back; what the table does not say stays open.
#[test]
fn values_are_typed_into_a_table() {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("tables");
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).expect("there is room");
    let path = |name: &str| folder.join(name).to_str().expect("the path is UTF-8").to_owned();
    let installation = "examples/landing.toml";
    let [form, table] = [path("form.toml"), path("table.csv")];
    text(&["plan", installation, "--record", &form]);
    let open = text_of_any_width(&["fill", installation, &form]);
    assert_eq!(open.lines().next(), Some("pass,reading,at,name,lead,other_lead,volts,megohms"));
    let count = open.lines().count() - 1;
    assert!(
        count > 1 && text(&["check", installation, &form]).contains(&format!("{count} readings without a value yet"))
    );

    // All but the last, as a spreadsheet does where a comma is the decimal sign; bounds too.
    let rows: Vec<&str> = open.lines().collect();
    let typed = rows.iter().enumerate().map(|(number, row)| match number {
        0 => (*row).to_owned(),
        1 => format!("{row}>999"),
        number if number == count => (*row).to_owned(),
        number => format!("{row}{number}.5"),
    });
    let typed = typed.collect::<Vec<_>>().join("\r\n").replace(',', ";");
    std::fs::write(&table, format!("\u{feff}{typed}\r\n")).expect("there is room");
    let filled = path("filled.toml");
    assert_eq!(run(&["fill", installation, &form, &table, "--record", &filled]).status.code(), Some(0));
    let [before, after] = [&form, &filled].map(|path| std::fs::read_to_string(path).expect("it is there"));
    assert!(after.contains("megohms = \">999\"") && after.contains("megohms = \"2.5\""), "{after}");
    assert_eq!(before.lines().count(), after.lines().count());
    let rest = text_of_any_width(&["fill", installation, &filled]);
    assert_eq!(rest.lines().skip(1).collect::<Vec<_>>(), [rows[count]]);

    // What can't be right is told, and nothing is written.
    for (table, expected) in [
        ("pass,reading,megohms\n1,1,\"5,5\"\n".to_owned(), "`5,5` is no value"),
        ("pass,reading,megohms\n9,1,5\n".to_owned(), "pass 9"),
        ("pass,reading,megohms\n-1,1,5\n".to_owned(), "`-1` is no number"),
        ("pass,reading\n1,1\n".to_owned(), "`megohms`"),
        (String::new(), "`pass`"),
    ] {
        std::fs::write(path("wrong.csv"), table).expect("there is room");
        let output = run(&["fill", installation, &form, &path("wrong.csv"), "--record", &path("no.toml")]);
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(output.status.code() == Some(2) && said.contains(expected), "{said}");
        assert!(!Path::new(&path("no.toml")).exists());
    }
    assert_eq!(run(&["fill", installation, &form, &table, "--record", &filled]).status.code(), Some(2));
}

/// `locate` writes down the reading that it asks for, with how it is to be taken; with a value it asks for the next.
#[test]
fn the_next_reading_is_written_as_a_form_to_fill_in() {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("next");
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).expect("there is room");
    let path = |name: &str| folder.join(name).to_str().expect("the path is UTF-8").to_owned();
    let [installation, before] = ["examples/landing.toml", &path("before.toml")];
    let start = "format = 1\n[start]\nS1 = \"L1\"\nS2 = \"L1\"\n[[pass]]\nset = { \"DB1/1\" = \"on\" }\nrefit = [\"E1\"]\n\
                 [[pass.reading]]\ncircuit = \"C1\"\nbetween = [\"L+N\", \"E\"]\nvolts = 500\nmegohms = 0.4\n";
    std::fs::write(before, start).expect("there is room");
    let form = path("form.toml");
    let usual = text(&["locate", installation, before]);
    assert_eq!(text(&["locate", installation, before, "--record", &form]), usual, "the findings are printed as usual");
    let written = std::fs::read_to_string(&form).expect("it is there");
    insta::assert_snapshot!("locate-record", written);
    assert!(written.starts_with(start), "what was done stays to the letter");
    assert!(text(&["check", installation, &form]).contains("1 reading without a value yet"));

    let filled = path("filled.toml");
    std::fs::write(&filled, written.replace("megohms = \"\"", "megohms = \">999\"")).expect("there is room");
    let [first, second] = [before, &filled].map(|tests| {
        let found = text_of_any_width(&["locate", installation, tests, "--json"]);
        serde_json::from_str::<serde_json::Value>(&found).expect("JSON")
    });
    assert_eq!(second["readings"][1]["left_out"], serde_json::Value::Null, "it is sound as it is written down");
    let of = |found: &serde_json::Value| ["set", "circuit", "board", "between"].map(|key| found["next"][key].clone());
    assert_ne!(of(&first), of(&second));
    assert_eq!(
        second["faults"]["suspects"][0], first["next"]["if_more"]["suspects"],
        "it is the reading that was asked for"
    );

    // Where no reading is asked for, nothing is added; what is there is never written over.
    let healthy = path("healthy.toml");
    std::fs::write(&healthy, start.replace("0.4", "400")).expect("there is room");
    text(&["locate", installation, &healthy, "--record", &path("same.toml")]);
    let [one, other] = [healthy, path("same.toml")].map(|path| std::fs::read_to_string(path).expect("it is there"));
    assert_eq!(one, other);
    assert_eq!(run(&["locate", installation, before, "--record", &form]).status.code(), Some(2));
}
