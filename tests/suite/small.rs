//! The small fixtures and the large ones, and worked checks: answers known without any engine, put to the oracle. (That
//! the engine answers as the oracle does is `agreement`'s to check.)

use std::fs;
use std::path::PathBuf;

use serde_json::{Value, json};

use crate::asked::Asked;
use crate::oracle;

/// One fixture: an installation and a test set for it, as written and in their JSON form.
pub struct Fixture {
    pub name: String,
    pub text: String,
    pub tests_text: String,
    pub installation: Value,
    pub test_set: Value,
}

fn folder(size: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures").join(size)
}

/// The small fixture of this name.
pub fn fixture(name: &str) -> Fixture {
    read("small", name)
}

/// An installation or a test set that a plan was once wrong about.
pub fn planned(name: &str) -> Value {
    let path = folder("plan").join(format!("{name}.toml"));
    let text = fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    toml::from_str(&text).unwrap_or_else(|error| panic!("{name}: {error}"))
}

fn read(size: &str, name: &str) -> Fixture {
    let read = |ending: &str| {
        let path = folder(size).join(format!("{name}{ending}"));
        fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
    };
    let (text, tests_text) = (read(".toml"), read(".tests.toml"));
    let value = |text: &str| toml::from_str(text).unwrap_or_else(|error| panic!("{name}: {error}"));
    Fixture { name: name.to_owned(), installation: value(&text), test_set: value(&tests_text), text, tests_text }
}

/// Every small installation with a test set, by name.
pub fn all() -> Vec<Fixture> {
    let fixtures = all_in("small");
    assert!(fixtures.len() >= 12, "only {}", fixtures.len());
    fixtures
}

/// Every large installation with a test set, by name.
pub fn all_large() -> Vec<Fixture> {
    let fixtures = all_in("large");
    assert!(!fixtures.is_empty(), "none");
    fixtures
}

fn all_in(size: &str) -> Vec<Fixture> {
    let files = fs::read_dir(folder(size)).expect("the fixtures are there").map(|entry| entry.unwrap().file_name());
    let mut names: Vec<String> =
        files.filter_map(|file| Some(file.to_str()?.strip_suffix(".tests.toml")?.to_owned())).collect();
    names.sort();
    names.iter().map(|name| read(size, name)).collect()
}

fn plan(name: &str, need: &'static str) -> Value {
    oracle::plan(&fixture(name).installation, None, &Asked::of(need)).expect("small enough to try everything")
}

fn totals(plan: &Value) -> [u64; 3] {
    ["walks", "operations", "stops"].map(|total| plan[total].as_u64().unwrap())
}

fn cover(name: &str) -> Value {
    let fixture = fixture(name);
    oracle::cover(&fixture.installation, &fixture.test_set, "standard")
}

/// The pair of these two cores in a cover report.
pub fn pair<'a>(report: &'a Value, length: &str, cores: [&str; 2]) -> &'a Value {
    let mut pairs = report["pairs"].as_array().unwrap().iter();
    let wanted = |pair: &&Value| {
        let both = [pair["cores"][0].as_str().unwrap(), pair["cores"][1].as_str().unwrap()];
        pair["length"] == length && (both == cores || both == [cores[1], cores[0]])
    };
    pairs.find(wanted).unwrap_or_else(|| panic!("no pair {cores:?} in {length}"))
}

fn why<'a>(plan: &'a Value, length: &str, core: &str) -> Vec<&'a str> {
    let untestable = plan["untestable"].as_array().unwrap().iter();
    let here =
        untestable.filter(|pair| pair["length"] == length && pair["cores"].as_array().unwrap().contains(&core.into()));
    here.map(|pair| pair["why"].as_str().unwrap()).collect()
}

/// Source: worked reasoning on the circuit itself. No single setting puts both strappers on the line lead.
#[test]
fn both_strappers_in_one_length_need_two_settings_one_operation_apart() {
    for name in ["two-way", "intermediate"] {
        let plan = plan(name, "standard");
        assert_eq!(totals(&plan), [1, 1, 1], "{name}");
        assert_eq!(plan["untestable"], json!([]), "{name}");
    }
}

/// Source: the same reasoning; each strapper is on the line lead in one setting of the two.
#[test]
fn one_setting_leaves_the_idle_strapper_untested() {
    let report = cover("two-way");
    assert_eq!(pair(&report, "W2", ["brown", "cpc"])["tested"], true);
    assert_eq!(pair(&report, "W2", ["black", "cpc"])["tested"], false);
    assert_eq!(pair(&report, "W2", ["black", "grey"])["class"], "between-live");
    assert_eq!(pair(&report, "W2", ["brown", "black"])["class"], "same-polarity");
    // W1 and W3 are tested in full, two of W2's five required pairs are missing.
    assert_eq!(
        report["summary"],
        json!({ "required": 11, "tested": 9, "not_tested": 2, "metres_required": 18.5, "metres_tested": 11.0 })
    );
    let standing: Vec<&Value> =
        report["positions"].as_array().unwrap().iter().filter(|position| position["tested"] == true).collect();
    assert_eq!(
        standing,
        [
            &json!({ "device": "S1", "position": "L1", "tested": true }),
            &json!({ "device": "S2", "position": "L1", "tested": true })
        ]
    );
}

/// Source: worked reasoning on current paths: line and neutral joined stand at one lead, and the lamp carries it on to
/// the switch line; apart, whatever the switch does, the lamp or the switch joins the switch line to the other lead.
#[test]
fn a_switch_line_is_tested_to_earth_through_a_lamp_left_in_but_not_to_neutral() {
    let report = cover("fitted-lamp");
    let switch_line = pair(&report, "W2", ["brown", "cpc"]);
    assert_eq!((&switch_line["tested"], &switch_line["by"]), (&json!(true), &json!([[1, 1]])));
    assert_eq!(pair(&report, "W2", ["brown", "blue"])["tested"], false);
    // With its switch open the lamp joins nothing; closed, it bridges line and neutral.
    let voids: Vec<&Value> = report["readings"].as_array().unwrap().iter().map(|reading| &reading["void"]).collect();
    assert_eq!(voids, [&Value::Null, &Value::Null, &json!("bridged")]);

    let plan = plan("fitted-lamp", "standard");
    assert_eq!(totals(&plan), [0, 0, 0]);
    // The lamp itself joins the two cores: they are on opposite leads only where it joins these.
    assert_eq!(plan["untestable"], json!([{ "length": "W2", "cores": ["blue", "brown"], "why": "always-bridged" }]));
}

/// Source: counting: a selector of three from its first position has two further ones to visit.
#[test]
fn each_further_position_of_a_selector_is_a_walk() {
    assert_eq!(totals(&plan("selector", "standard")), [2, 2, 2]);
}

/// Source: counting: the switches on one plate are one stop, the third is another; all three in one walk.
#[test]
fn switches_on_one_plate_are_one_stop() {
    assert_eq!(totals(&plan("at-the-switch", "standard")), [1, 3, 2]);
}

/// Source: counting: the circuits share the door in the first walk and the bed in the second; what each asks for by
/// itself would take three stops, or put a switch back and forth.
#[test]
fn circuits_that_share_stops_are_walked_together() {
    assert_eq!(totals(&plan("shared-stops", "standard")), [2, 4, 2]);
}

/// Source: reasoning: a lead at the board reaches neither side of a source of its own; the primary is tested in full.
#[test]
fn a_separate_source_is_never_reached_from_the_board() {
    let plan = plan("transformer", "standard");
    assert_eq!(totals(&plan), [0, 0, 0]);
    assert_eq!(plan["untestable"].as_array().unwrap().len(), 3);
    assert_eq!(why(&plan, "W4", "red"), ["never-reached", "never-reached"]);

    let report = cover("transformer");
    assert_eq!(pair(&report, "W4", ["red", "earth"])["by"], json!([[1, 2]]));
    assert_eq!(pair(&report, "W4", ["red", "black"])["by"], json!([[1, 3]]));
    assert_eq!(report["readings"][3]["void"], "bridged", "the winding is in");
}

/// Source: counting: C1 has two readings at its way as things stand. S1 is worked in the hall, and the two readings at the
/// transformer, in the attic 7 m away, test all of C2 then: two stops, and the walk there and back.
#[test]
fn a_circuit_without_a_way_is_read_where_its_source_is() {
    let plan = plan("low-side", "standard");
    assert_eq!(totals(&plan), [1, 1, 2]);
    assert_eq!(plan["micrometres"], 14_000_000);
    assert_eq!(plan["untestable"], json!([]));

    let report = cover("low-side");
    assert_eq!(report["summary"]["required"], 9);
    // The three pairs of W1, which nothing here reads.
    assert_eq!(report["summary"]["not_tested"], 3);
    assert_eq!(pair(&report, "W2", ["red", "earth"])["by"], json!([[1, 1], [2, 1]]));
    assert_eq!(pair(&report, "W2", ["red", "black"])["by"], json!([[1, 2], [2, 2]]));
    assert_eq!(pair(&report, "W3", ["red", "earth"])["by"], json!([[2, 1]]));
    assert_eq!(pair(&report, "W3", ["red", "black"])["by"], json!([[2, 2]]));
    assert_eq!(pair(&report, "W3", ["black", "earth"])["by"], json!([[1, 1], [2, 1]]));
}

/// Source: reasoning: an indicator that stays in, before the master, may carry the reading of line to neutral.
#[test]
fn electronics_that_stay_in_make_line_to_neutral_doubtful() {
    let report = cover("double-pole");
    let voids: Vec<&Value> = report["readings"].as_array().unwrap().iter().map(|reading| &reading["void"]).collect();
    assert_eq!(voids, [&Value::Null, &Value::Null, &json!("doubtful")]);
    let plan = plan("double-pole", "standard");
    assert_eq!(totals(&plan), [1, 1, 1]);
    assert_eq!(why(&plan, "W6", "blue"), ["always-bridged"]);
}

/// Source: reasoning: operated once, a two-way switch has stood in both positions, whichever it was found in.
#[test]
fn an_unknown_two_way_switch_is_tested_in_both_positions_by_operating_it() {
    let report = cover("unknown-position");
    assert_eq!(pair(&report, "W3", ["brown", "cpc"])["tested"], true);
    assert_eq!(pair(&report, "W3", ["brown", "cpc"])["by"], json!([[1, 1], [2, 1]]));
    assert_eq!(pair(&report, "W2", ["grey", "cpc"])["tested"], false);
    // A selector of three moved on one step from nobody knows where has stood in two positions, nobody knows which.
    assert_eq!(pair(&report, "W5", ["brown", "cpc"])["tested"], false);

    // S1 brings the other strapper, and with it the lamp however S2 stands. S3 goes to the first position that feeds a
    // lamp in the same walk, and to the second in another.
    let plan = plan("unknown-position", "standard");
    assert_eq!(totals(&plan), [2, 3, 3]);
    assert_eq!(plan["untestable"], json!([]));
}

/// Source: reasoning on which positions carry a lamp's current: line to neutral is read where a lamp is known to be cut off,
/// and through a lamp never; a core behind a switch that nobody can work is on a lead where that is known to be on.
#[test]
fn what_knowing_how_switches_stand_would_open() {
    let plan = plan("stays-in", "standard");
    let rows = plan["untestable"].as_array().unwrap();
    let why = |length: &str, cores: [&str; 2]| {
        let has_all = |row: &&Value| cores.iter().all(|core| row["cores"].as_array().unwrap().contains(&json!(core)));
        let row = rows.iter().filter(|row| row["length"] == length).find(has_all);
        row.map_or(Value::Null, |row| json!([row["why"], row["devices"]]))
    };
    // The hall lamp is cut off in two of four combinations, whichever switch is operated.
    let both = json!(["unknown-position", ["S1", "S2"]]);
    for (length, cores) in [("W1", ["brown", "blue"]), ("W2", ["brown", "grey"]), ("W2", ["black", "grey"])] {
        assert_eq!(why(length, cores), both, "{length} {cores:?}");
    }
    let across = json!(["always-bridged", null]);
    assert_eq!([why("W3", ["brown", "blue"]), why("W6", ["brown", "blue"])], [across.clone(), across]);
    // Off, either switch cuts off the lamp of the boat house; the one that is last in the file is left out.
    assert_eq!(why("W4", ["brown", "blue"]), json!(["unknown-position", ["S3"]]));
    // Between them: the first on and the second off; to earth the first on, or the second on, through the lamp.
    assert_eq!(why("W5", ["brown", "blue"]), json!(["unknown-position", ["S3", "S4"]]));
    assert_eq!(why("W5", ["brown", "cpc"]), json!(["unknown-position", ["S3"]]));
    for cores in [["brown", "blue"], ["brown", "cpc"]] {
        assert_eq!(why("W8", cores), json!(["unknown-position", ["S5"]]));
    }
    assert_eq!(rows.len(), 10);

    let report = cover("stays-in");
    let voids: Vec<&Value> = report["readings"].as_array().unwrap().iter().map(|reading| &reading["void"]).collect();
    let bridged = json!("bridged");
    assert_eq!(voids, [&Value::Null, &bridged, &bridged, &Value::Null]);
    let missed = |length: &str, cores: [&str; 2]| pair(&report, length, cores)["missed"].clone();
    assert_eq!(missed("W3", ["brown", "blue"]), json!({ "reason": "only-void", "reading": [1, 2] }));
    assert_eq!(missed("W6", ["brown", "blue"]), json!({ "reason": "only-void", "reading": [1, 3] }));
    assert_eq!(missed("W8", ["brown", "cpc"]), json!({ "reason": "depends-on-start" }));
}

/// Source: counting: a two-way switch is operated once, a cord of three positions twice; put back, twice and three times,
/// the last of each in a walk of its own or with the other's last.
#[test]
fn what_nobody_can_see_is_tested_in_all_positions_by_operating_it() {
    assert_eq!(totals(&plan("hidden", "standard")), [2, 3, 3]);
    assert_eq!(plan("hidden", "standard")["untestable"], json!([]));
    let asked = Asked { restore: true, ..Asked::of("standard") };
    let restored = oracle::plan(&fixture("hidden").installation, None, &asked).expect("small enough");
    assert_eq!(totals(&restored)[..2], [3, 5]);

    let report = cover("hidden");
    for black in ["black", "brown"] {
        let strapper = pair(&report, "W2", [black, "cpc"]);
        assert_eq!(strapper["tested"], false);
        assert_eq!(strapper["one_of"], json!([["black", "cpc"], ["brown", "cpc"]]));
    }
    // The lights: any of them may be on, and each is in a length of its own.
    for length in ["W3", "W5", "W6", "W7"] {
        let light = pair(&report, length, ["brown", "cpc"]);
        assert_eq!((&light["tested"], &light["one_of"]), (&json!(false), &Value::Null), "{length}");
    }
}

/// Source: reasoning: what a contactor that nobody can hold in would feed is cut off from every lead.
#[test]
fn what_lies_behind_a_released_contactor_is_never_reached() {
    let plan = plan("contactor", "standard");
    assert_eq!(why(&plan, "W4", "brown"), ["never-reached", "never-reached"]);
    assert_eq!(why(&plan, "W5", "brown"), [""; 0]);
}

/// Source: reasoning: with the neutral on the earth terminal, line and neutral joined read straight to earth.
#[test]
fn a_neutral_on_the_earth_terminal_bridges_the_reading() {
    let report = cover("crossed");
    let voids: Vec<&Value> = report["readings"].as_array().unwrap().iter().map(|reading| &reading["void"]).collect();
    let bridged = json!("bridged");
    assert_eq!(voids, [&bridged, &bridged, &Value::Null, &Value::Null, &Value::Null, &Value::Null]);
}

/// Source: reasoning on what current each core carries in service, and by which way a lead comes to it.
#[test]
fn what_only_equipment_joins_to_the_supply_is_asked_for_all_the_same() {
    let installation = fixture("in-service").installation;
    let (roles, spare) = oracle::core_roles(&installation);
    let role = |length: &str, core: &str| {
        let row = roles.iter().find(|row| row[0] == length && row[1] == core).expect("a core of this name");
        row[2].clone()
    };
    // Behind the sensor, and behind sensor and dimmer.
    assert_eq!([role("W2", "brown"), role("W3", "brown")], [json!(["L"]), json!(["L"])]);
    assert_eq!(role("W5", "red"), json!(["E2.N"]), "between two lamps");
    assert_eq!(role("W9", "violet"), json!(["D2.L1"]), "line and neutral are around it");
    assert_eq!([role("W11", "black"), role("W12", "grey")], [json!(["B1.IC"]), json!(["B1.IC"])]);
    assert_eq!(role("W14", "black"), json!(["E", "T1.V2"]));
    assert_eq!(spare, [["W3", "black"]]);

    let report = cover("in-service");
    assert_eq!(report["without_role"], json!([["W3", "grey"]]));
    let class = |length: &str, cores: [&str; 2]| pair(&report, length, cores)["class"].as_str().unwrap();
    assert_eq!(class("W3", ["brown", "cpc"]), "to-earth");
    assert_eq!(class("W3", ["brown", "grey"]), "spare");
    assert_eq!(class("W9", ["violet", "cpc"]), "to-earth");
    assert_eq!(class("W12", ["black", "brown"]), "between-live");
    assert_eq!(class("W12", ["black", "grey"]), "same-polarity");
    let of_source = report["pairs"].as_array().unwrap().iter().filter(|pair| pair["length"] == "W14");
    let of_source: Vec<[&Value; 2]> = of_source.map(|pair| [&pair["cores"], &pair["class"]]).collect();
    // Black and the protective core are one conductor: no pair.
    assert_eq!(
        of_source,
        [[&json!(["black", "red"]), &json!("to-earth")], [&json!(["cpc", "red"]), &json!("to-earth")]]
    );

    // No lead at the board is on the line behind electronics, nor on the interconnect.
    assert_eq!(pair(&report, "W2", ["brown", "cpc"])["tested"], false);
    assert_eq!(pair(&report, "W3", ["brown", "cpc"])["by"], json!([[1, 3]]));
    assert_eq!(pair(&report, "W3", ["brown", "blue"])["by"], json!([[1, 4]]));
    assert_eq!(pair(&report, "W11", ["black", "cpc"])["by"], json!([[2, 2]]));
    assert_eq!(pair(&report, "W14", ["red", "cpc"])["by"], json!([[2, 3]]));
    // A plan's links bring the line there (and the mistaken dimmer's line and neutral together), but no lead comes to the
    // interconnect.
    let plan = plan("in-service", "standard");
    assert_eq!([why(&plan, "W2", "brown"), why(&plan, "W9", "violet")], [["same-lead"].as_slice(), &[]]);
    assert_eq!(why(&plan, "W11", "black"), ["never-reached"; 3]);
}

/// Source: reasoning: out, a sensor and a dimmer cut off what is behind them; a link leads on, and electronics that are back
/// lead nowhere for sure.
#[test]
fn links_in_the_place_of_electronics_lead_on() {
    let report = cover("linked");
    let by = |length: &str, cores: [&str; 2]| pair(&report, length, cores)["by"].clone();
    assert_eq!(by("W2", ["brown", "cpc"]), json!([[1, 1], [2, 1]]));
    assert_eq!(by("W3", ["brown", "cpc"]), json!([[2, 1]]));
    // With the sensor back line and neutral may be joined; with it out, the line ends there.
    let voids: Vec<&Value> = report["readings"].as_array().unwrap().iter().map(|reading| &reading["void"]).collect();
    assert_eq!(voids, [&Value::Null, &Value::Null, &json!("doubtful"), &Value::Null]);
    assert_eq!(by("W1", ["brown", "blue"]), json!([[4, 1]]));
    assert_eq!(by("W2", ["brown", "blue"]), json!([]));

    // A plan puts links in beforehand.
    let plan = plan("linked", "standard");
    assert_eq!(totals(&plan), [0, 0, 0]);
    assert_eq!(plan["untestable"], json!([]));
}
