//! What the strategies draw really varies: each thing that the engine must get right occurs, many times over.

use std::collections::BTreeMap;
use std::fmt::Display;

use proptest::strategy::{Strategy, ValueTree};
use proptest::test_runner::TestRunner;
use serde_json::{Value, json};

use super::{Case, cases, planning_clusters, site};
use crate::asked::Asked;
use crate::oracle;

const SAMPLES: usize = 400;

/// In how many samples each thing occurs.
#[derive(Default)]
struct Seen(BTreeMap<String, usize>);

impl Seen {
    fn over(strategy: impl Strategy<Value = Case>, features: impl Fn(&Case) -> Vec<String>) -> Seen {
        let mut runner = TestRunner::deterministic();
        let mut seen = Seen::default();
        for _ in 0..SAMPLES {
            let case = strategy.new_tree(&mut runner).expect("nothing is rejected").current();
            let mut features = features(&case);
            features.sort();
            features.dedup();
            for feature in features {
                *seen.0.entry(feature).or_default() += 1;
            }
        }
        seen
    }

    #[track_caller]
    fn has(&self, at_least: usize, features: impl IntoIterator<Item = impl Display>) {
        let count = |feature: &str| self.0.get(feature).copied().unwrap_or(0);
        let rare: Vec<String> = features
            .into_iter()
            .map(|feature| feature.to_string())
            .filter(|feature| count(feature) < at_least)
            .map(|feature| format!("{feature}: {} of {SAMPLES}", count(&feature)))
            .collect();
        assert!(rare.is_empty(), "too rare (under {at_least}): {rare:#?}\nall: {:#?}", self.0);
    }
}

fn entries(value: &Value) -> &[Value] {
    value.as_array().map_or(&[], Vec::as_slice)
}

/// Which of these keys something has, with its value where that is one of a few.
fn keys(what: &str, thing: &Value, keys: &[&str]) -> Vec<String> {
    let has = keys.iter().filter(|key| !thing[**key].is_null());
    has.map(|key| match &thing[*key] {
        Value::String(value) if *key != "group" => format!("{what} {key} {value}"),
        Value::Bool(value) => format!("{what} {key} {value}"),
        _ => format!("{what} {key}"),
    })
    .collect()
}

/// What an installation and its test set are made of.
fn made_of(case: &Case) -> Vec<String> {
    let (installation, test_set) = (&case.installation, &case.test_set);
    let mut features = Vec::new();
    features.extend(keys("installation", &installation["installation"], &["phases"]));
    for board in entries(&installation["board"]) {
        features.extend(keys("board", board, &["main_switch"]));
        for group in entries(&board["group"]) {
            features.extend(keys("group", group, &["device", "electronic"]));
        }
        for way in entries(&board["way"]) {
            features.extend(keys(
                "way",
                way,
                &["device", "group", "poles", "neutral", "switches_neutral", "functional_earth"],
            ));
        }
    }
    for circuit in entries(&installation["circuit"]) {
        features.extend(keys("circuit", circuit, &["system", "relief"]));
        features.extend(keys("relief", &circuit["relief"], &["leaves"]));
    }
    for point in entries(&installation["point"]) {
        let overrides = [
            "kind",
            "removable",
            "fixed",
            "operable",
            "visible",
            "stands",
            "links",
            "terminals",
            "lamp",
            "load",
            "manual",
        ];
        features.extend(keys("point", point, &overrides));
    }
    for (circuit, sources) in oracle::sources(installation) {
        features.push(format!("sources of a circuit {}", ["none", "one", "two"][sources.len().min(2)]));
        let is_read = |reading: &&Value| reading["circuit"] == circuit.as_str();
        let readings = entries(&test_set["pass"]).iter().flat_map(|pass| entries(&pass["reading"]));
        features.extend(readings.filter(is_read).map(|_| "reading of a circuit without a way".to_owned()));
    }
    for pass in entries(&test_set["pass"]) {
        features.extend(keys("pass", pass, &["operate", "set", "remove", "link", "refit"]));
        for reading in entries(&pass["reading"]) {
            let leads = reading["between"].to_string();
            for (sign, feature) in [('+', "joined leads"), ('.', "full names")] {
                if leads.contains(sign) {
                    features.push(format!("reading with {feature}"));
                }
            }
            features.push(format!("reading at a {}", if reading["board"].is_null() { "circuit" } else { "board" }));
        }
    }
    for stands in test_set["start"].as_object().into_iter().flat_map(|start| start.values()) {
        let word = ["unknown", "fitted", "linked"].into_iter().find(|word| stands == word);
        features.push(match word {
            Some(word) => format!("start {word}"),
            None if stands.is_array() => "start of device and bridge".to_owned(),
            None => "start in a position".to_owned(),
        });
    }
    for length in entries(&installation["length"]) {
        let cores = length["cores"].as_object().unwrap();
        if !cores.contains_key("cpc") {
            features.push("length without a protective core".to_owned());
        }
        for ends in cores.values() {
            let free = entries(ends).iter().filter(|end| **end == "-").count();
            features.push(["core", "core with a free end", "core free at both ends"][free].to_owned());
        }
        for end in ["from", "to"].iter().filter(|end| length[**end].as_str().unwrap().ends_with(".in")) {
            features.push(format!("feeder {end}"));
        }
    }
    features
}

#[test]
fn installations_are_made_of_everything() {
    let seen = Seen::over(cases(), made_of);
    seen.has(8, site::kind_names().map(|kind| format!("point kind {kind}")));
    seen.has(20, ["mcb", "fuse", "rcbo", "isolator"].map(|device| format!("way device {device}")));
    seen.has(
        10,
        [
            "installation phases",
            "board main_switch false",
            "group electronic false",
            "group device rcd",
            "way group",
            "way poles",
            "way neutral false",
            "way switches_neutral false",
            "way functional_earth true",
            "feeder to",
            "circuit system selv",
            "circuit system pelv",
            "circuit system felv",
            "circuit relief",
            "relief leaves",
            "point removable false",
            "point fixed true",
            "point operable false",
            "point visible false",
            "point visible true",
            "point stands unknown",
            "point stands off",
            "point links",
            "point terminals",
            "point lamp led",
            "point lamp discharge",
            "point load electronic",
            "point manual true",
            "point removable true",
            "pass operate",
            "pass set",
            "pass remove",
            "pass link",
            "pass refit",
            "reading with joined leads",
            "reading with full names",
            "reading at a circuit",
            "reading at a board",
            "reading of a circuit without a way",
            "sources of a circuit none",
            "sources of a circuit one",
            "sources of a circuit two",
            "start unknown",
            "start fitted",
            "start linked",
            "start in a position",
            "length without a protective core",
            "core with a free end",
            "core free at both ends",
        ],
    );
    seen.has(5, ["start of device and bridge"]);
}

/// Whether a core [length, name, …] begins at the outgoing side of something with a passing bridge.
fn lies_behind_electronics(installation: &Value, core: &Value) -> bool {
    let length = entries(&installation["length"]).iter().find(|length| length["id"] == core[0]).unwrap();
    let from = entries(&installation["point"]).iter().find(|point| point["id"] == length["from"]);
    let terminal = &length["cores"][core[1].as_str().unwrap()][0];
    from.is_some_and(|from| {
        [("dimmer", "L1"), ("sensor", "SL"), ("relay", "OUT")]
            .iter()
            .any(|row| from["kind"] == row.0 && terminal == row.1)
    })
}

/// What the oracle answers to `cover`.
fn answers(case: &Case) -> Vec<String> {
    let report = oracle::cover(&case.installation, &case.test_set, "standard");
    let mut features = Vec::new();
    for reading in entries(&report["readings"]) {
        features.push(format!("void {}", reading["void"]));
    }
    for pair in entries(&report["pairs"]) {
        let earth = if pair["cores"][1] == "earth" { " (earth)" } else { "" };
        features.push(format!("{}{earth} tested {}", pair["class"].as_str().unwrap(), pair["tested"]));
        if entries(&pair["by"]).len() > 1 {
            features.push("tested by several readings".to_owned());
        }
    }
    for position in entries(&report["positions"]) {
        features.push(format!("position tested {}", position["tested"]));
    }
    let combinations = oracle::combinations(&case.installation, &case.test_set);
    let (roles, spare) = oracle::core_roles(&case.installation);
    let is_served = |role: &Value| role.as_str().is_some_and(|role| role.contains('.') && !role.contains(".V"));
    if roles.iter().any(|row| is_served(&row[2][0])) {
        features.push("served".to_owned());
    }
    if roles.iter().any(|row| row[2] == json!(["L"]) && lies_behind_electronics(&case.installation, row)) {
        features.push("passed on".to_owned());
    }
    features.extend((!spare.is_empty()).then(|| "spare core".to_owned()));
    features.extend((!entries(&report["without_role"]).is_empty()).then(|| "without a role".to_owned()));
    features.push(format!("combinations {}", ["1", "2", "some"][combinations.min(3) - 1]));
    features
}

#[test]
fn answers_to_cover_vary() {
    let seen = Seen::over(cases(), answers);
    let void = ["void null", "void \"bridged\"", "void \"doubtful\""].map(str::to_owned);
    let classes = ["to-earth", "between-live", "same-polarity", "spare", "to-earth (earth)", "spare (earth)"];
    // A spare core is tested only where a lead is put on it or it is connected at one end; two cores of one polarity only where a
    // lead is taken out to a point.
    let tested = classes
        .iter()
        .filter(|class| class.contains("-live") || class.contains("earth") && !class.starts_with("spare"))
        .map(|class| format!("{class} tested true"));
    let untested = classes.iter().map(|class| format!("{class} tested false"));
    seen.has(20, void.into_iter().chain(tested).chain(untested));
    seen.has(5, ["spare tested true", "same-polarity tested true", "tested by several readings"]);
    seen.has(20, ["passed on", "served", "spare core", "without a role"]);
    seen.has(
        20,
        ["position tested true", "position tested false", "combinations 1", "combinations 2", "combinations some"],
    );
}

/// What the oracle answers to `plan`, with the test set and without.
fn plans(case: &Case) -> Vec<String> {
    let mut features = Vec::new();
    for test_set in [None, Some(&case.test_set)] {
        let Some(plan) = oracle::plan(&case.installation, test_set, &Asked::of("standard")) else {
            features.push("too large".to_owned());
            continue;
        };
        for total in ["walks", "operations", "stops"] {
            features.push(format!("{total} {}", plan[total]));
        }
        features.push(
            if plan["operations"] == plan["walks"] { "one operation a walk" } else { "more operations" }.to_owned(),
        );
        features
            .push(if plan["operations"] == plan["stops"] { "one operation a stop" } else { "shared stops" }.to_owned());
        features.extend(entries(&plan["untestable"]).iter().map(|pair| format!("why {}", pair["why"])));
        let unknown = entries(&case.installation["point"]).iter().any(|point| point["stands"] == "unknown");
        if unknown && plan["walks"] != 0 {
            features.push("walks from an unknown position".to_owned());
        }
    }
    features
}

#[test]
fn plans_vary() {
    let seen = Seen::over(planning_clusters(), plans);
    seen.has(20, ["walks 0", "walks 1", "walks 2", "operations 1", "operations 2", "operations 3", "more operations"]);
    seen.has(
        10,
        ["never-reached", "unknown-position", "same-lead", "always-bridged"].map(|why| format!("why \"{why}\"")),
    );
    seen.has(10, ["walks from an unknown position"]);
    seen.has(5, ["walks 3", "operations 4", "shared stops"]);
    assert!(seen.0.get("too large").copied().unwrap_or(0) < SAMPLES / 20, "{:#?}", seen.0);
}
