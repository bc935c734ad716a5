//! Rulesets: which voltage and which least value are asked at each boundary, and where each value is from.

use lengthwise::Input;
use lengthwise::Standard;
use lengthwise::input::read_ruleset;
use lengthwise::model::{Megohms, System, Volts};
use lengthwise::network::Network;
use lengthwise::prepare::Preparation;
use lengthwise::rules::{RowValue, Ruleset};
use lengthwise::{Coverage, Judgement, Need, PairClass, Plan, Verdict};
use proptest::prelude::*;

use crate::engine;

/// The test voltage and the least value; none where the ruleset has no value.
fn asked(ruleset: &Ruleset, system: System, nominal: f64) -> Option<(f64, f64)> {
    match ruleset.row(system, Volts(nominal)).value {
        RowValue::Given { volts: Volts(volts), megohms: Megohms(megohms) } => Some((volts, megohms)),
        RowValue::NotGiven { .. } => None,
    }
}

/// BS 7671:2018 Table 64: SELV and PELV 250 V and 0.5 MΩ; up to and including 500 V, FELV included, 500 V and 1.0 MΩ;
/// above 500 V 1000 V and 1.0 MΩ. FELV is looked up at 500 V whatever its own voltage. IEC 60364-6:2016 Table 6.1 has the same values (its number from memory).
#[test]
fn table_64_at_below_and_above_each_boundary() {
    use System::{Felv, Lv, Pelv, Selv};

    let table = [
        (Selv, 12.0, 250.0, 0.5),
        (Selv, 49.9, 250.0, 0.5),
        (Selv, 50.0, 250.0, 0.5),
        (Selv, 50.1, 250.0, 0.5),
        (Pelv, 49.9, 250.0, 0.5),
        (Pelv, 50.0, 250.0, 0.5),
        (Pelv, 50.1, 250.0, 0.5),
        (Felv, 24.0, 500.0, 1.0),
        (Felv, 49.9, 500.0, 1.0),
        (Felv, 50.0, 500.0, 1.0),
        (Felv, 50.1, 500.0, 1.0),
        (Lv, 50.0, 500.0, 1.0),
        (Lv, 230.0, 500.0, 1.0),
        (Lv, 499.9, 500.0, 1.0),
        (Lv, 500.0, 500.0, 1.0),
        (Lv, 500.1, 1000.0, 1.0),
        (Lv, 690.0, 1000.0, 1.0),
        (Felv, 500.0, 500.0, 1.0),
        (Felv, 500.1, 500.0, 1.0),
        (Felv, 1000.0, 500.0, 1.0),
    ];
    for (system, nominal, volts, megohms) in table {
        for standard in [Standard::Bs7671, Standard::Iec603646] {
            let found = asked(standard.ruleset(), system, nominal);
            assert_eq!(found, Some((volts, megohms)), "{} {} {nominal} V", standard.id(), system.name());
        }
    }
}

/// AS/NZS 3000 (from memory): 500 V and 1 MΩ at low voltage. What is not known is not given.
#[test]
fn what_is_not_known_of_a_standard_is_not_given() {
    let ruleset = Standard::AsNzs3000.ruleset();
    assert_eq!(asked(ruleset, System::Lv, 230.0), Some((500.0, 1.0)));
    assert_eq!(asked(ruleset, System::Lv, 1000.0), Some((500.0, 1.0)));
    assert_eq!(asked(ruleset, System::Lv, 1000.1), None);
    for system in [System::Selv, System::Pelv, System::Felv] {
        assert_eq!(asked(ruleset, system, 24.0), None);
    }
    assert!(ruleset.rows().iter().filter(|row| asked(ruleset, row.system[0], 230.0).is_some()).count() > 0);
    assert!(ruleset.rows()[0].source.from_memory, "no document was at hand");
}

/// BS 7671:2018 reg. 643.3.3: 250 V with at least 1 MΩ; only where someone says what can't be disconnected, and only
/// where it is the lower voltage.
#[test]
fn relief_is_for_circuits_that_declare_it() {
    let text = r#"
        format = 1
        [installation]
        name = "Net store"
        nominal_voltage = 230
        earthing = "TT"
        [[board]]
        id = "DB1"
        origin = true
        way = [{ id = "1", device = "mcb" }, { id = "2", device = "mcb" }, { id = "3", device = "mcb" }]
        [[circuit]]
        id = "C1"
        way = "DB1/1"
        [[circuit]]
        id = "C2"
        way = "DB1/2"
        relief = "surge protection in socket X3 is built in"
        [[circuit]]
        id = "C3"
        way = "DB1/3"
        system = "pelv"
        nominal_voltage = 24
        relief = "the same"
    "#;
    let installation = engine::installation("net-store.toml", text.as_bytes());
    let network = Network::of(installation);
    let relief: Vec<Option<(f64, f64)>> = network
        .installation()
        .circuits()
        .map(|(circuit, _)| network.relief_of(circuit).map(|relief| (relief.volts.0, relief.megohms.0)))
        .collect();
    assert_eq!(relief, [None, Some((250.0, 1.0)), None]);
    // AS/NZS 3000, 8.3.6: the same (teaching slides, from memory).
    let relief = Standard::AsNzs3000.ruleset().relief().expect("it has one");
    assert_eq!((relief.volts.0, relief.megohms.0, relief.source.from_memory), (250.0, 1.0, true));
}

/// One circuit on a way with these poles, and one without a way, of systems with a nominal voltage.
fn circuits(phases: u8, nominal: f64, poles: &[&str], of_circuit: serde_json::Value) -> Network {
    let mut circuit = serde_json::json!({ "id": "C1", "way": "DB1/1" });
    circuit.as_object_mut().expect("it is one").extend(of_circuit.as_object().expect("it is one").clone());
    let way = serde_json::json!({ "id": "1", "device": "mcb", "poles": poles });
    Network::of(engine::from_value(&serde_json::json!({
        "format": 1,
        "installation": { "name": "One", "nominal_voltage": nominal, "phases": phases, "earthing": "TT" },
        "board": [{ "id": "DB1", "origin": true, "way": [way] }],
        "circuit": [circuit, { "id": "C2", "system": "selv", "nominal_voltage": 24 }],
    })))
}

fn test_voltage(network: &Network) -> Option<f64> {
    let (circuit, _) = network.installation().circuits().next().expect("there is one");
    network.test_voltage(circuit).map(|volts| volts.0)
}

/// The nominal voltage of a circuit is the greatest between two of its live conductors: 400/690 V asks 1000 V where
/// there are two lines (common practice at 690 V, from memory) and 500 V where there is one. Nominal voltages are
/// rounded: √3 × 289 V is 500.6 V, and the circuit is one of 500 V.
#[test]
fn the_voltage_compared_is_the_greatest_between_live_conductors() {
    let none = || serde_json::json!({});
    let three = &["L1", "L2", "L3"][..];
    for (nominal, poles, expected) in [
        (230.0, three, 500.0),
        (289.0, three, 500.0),
        (290.0, three, 500.0),
        (290.2, three, 1000.0),
        (400.0, three, 1000.0),
        (400.0, &["L2", "L3"], 1000.0),
        (400.0, &["L2"], 500.0),
        (500.0, &["L2"], 500.0),
        (500.1, &["L2"], 1000.0),
    ] {
        let network = circuits(3, nominal, poles, none());
        assert_eq!(test_voltage(&network), Some(expected), "{nominal} V, {poles:?}");
    }
    assert_eq!(test_voltage(&circuits(1, 500.0, &["L"], none())), Some(500.0));
    assert_eq!(test_voltage(&circuits(3, 400.0, three, serde_json::json!({ "system": "felv" }))), Some(500.0));
    assert_eq!(test_voltage(&circuits(3, 400.0, three, serde_json::json!({ "system": "pelv" }))), Some(250.0));
    let relieved = serde_json::json!({ "relief": "surge protection built in" });
    assert_eq!(test_voltage(&circuits(3, 400.0, three, relieved)), Some(250.0));
    let own = serde_json::json!({ "nominal_voltage": 230 });
    assert_eq!(test_voltage(&circuits(3, 400.0, three, own)), Some(500.0));
    // A circuit without a way: the nominal voltage of its source.
    let network = circuits(3, 400.0, three, none());
    let nominal: Vec<f64> =
        network.installation().circuits().map(|(circuit, _)| network.nominal_voltage(circuit).0).collect();
    assert!((nominal[0] - 689.4).abs() < 0.1 && nominal[1] == 24.0, "{nominal:?}");
}

/// A second line that comes into a circuit by its lengths counts as one of a pole does.
#[test]
fn lines_of_lengths_count_too() {
    let network = |to: &str| {
        let ways = [
            serde_json::json!({ "id": "1", "device": "mcb", "poles": ["L1"] }),
            serde_json::json!({ "id": "2", "device": "mcb", "poles": ["L2"] }),
        ];
        Network::of(engine::from_value(&serde_json::json!({
            "format": 1,
            "installation": { "name": "Two", "nominal_voltage": 400, "phases": 3, "earthing": "TT" },
            "board": [{ "id": "DB1", "origin": true, "way": ways }],
            "circuit": [{ "id": "C1", "way": "DB1/1" }, { "id": "C2", "way": "DB1/2" }],
            "point": [{ "id": "J1", "kind": "junction", "circuit": "C1" }],
            "length": [
                { "id": "W1", "circuit": "C1", "from": "DB1/1", "to": "J1", "metres": 1, "cores": { "brown": ["L1", "a"] } },
                { "id": "W2", "circuit": "C1", "from": "DB1/2", "to": "J1", "metres": 1, "cores": { "black": ["L2", to] } },
            ],
        })))
    };
    assert_eq!(test_voltage(&network("b")), Some(1000.0));
    assert_eq!(test_voltage(&network("a")), Some(1000.0), "joined: a borrowed line");
}

/// BS 7671:2018 reg. 643.3.3: what can't be disconnected takes no harm at 250 V. So a plan and a preparation name that
/// voltage where the file says so, and no other.
#[test]
fn a_relief_lowers_the_voltage_that_is_named() {
    let circuit = |id: &str, way: &str| serde_json::json!({ "id": id, "way": way });
    let mut with_relief = circuit("C2", "DB1/2");
    with_relief["relief"] = "surge protection built in".into();
    let installation = engine::from_value(&serde_json::json!({
        "format": 1,
        "installation": { "name": "One relieved", "nominal_voltage": 230, "earthing": "TT" },
        "board": [{ "id": "DB1", "origin": true, "way": [{ "id": "1", "device": "mcb" }, { "id": "2", "device": "mcb" }] }],
        "circuit": [circuit("C1", "DB1/1"), with_relief],
    }));
    for (ruleset, expected) in
        [(Standard::Bs7671.ruleset().clone(), [500.0, 250.0]), (without_relief(), [500.0, 500.0])]
    {
        let network = Network::of(installation.clone()).with_ruleset(ruleset);
        let volts: Vec<Option<Volts>> =
            installation.circuits().map(|(circuit, _)| network.test_voltage(circuit)).collect();
        assert_eq!(volts, expected.map(|volts| Some(Volts(volts))));
        let prepared = serde_json::to_value(Preparation::of(&network)).expect("it is JSON");
        for (circuit, volts) in expected.into_iter().enumerate() {
            let steps = prepared["circuits"][circuit]["steps"].as_array().expect("steps");
            let read: Vec<_> = steps.iter().filter(|step| step["do"] == "read").map(|step| &step["volts"]).collect();
            assert!(!read.is_empty() && read.iter().all(|read| **read == volts), "{read:?}");
        }
    }
}

/// The ruleset of the fixtures, which has no relief.
fn without_relief() -> Ruleset {
    let text = "format = 1\nruleset = { id = \"none\", title = \"No relief\" }\n[[row]]\nsystem = [\"lv\", \"selv\", \
                \"pelv\", \"felv\"]\nvolts = 500\nmegohms = 1\nsource = \"the house\"\nedition = \"one\"\nfrom_memory = false\n";
    read_ruleset(Input::toml(text)).expect("the text is right")
}

/// AS/NZS 3000 asks a test between live conductors of mains and submains only (8.3.6, teaching slides, from memory): DB2
/// is fed over an isolator, and what it feeds is not asked. `--need standard` asks it of each all the same.
#[test]
fn a_ruleset_asks_some_circuits_to_earth_only() {
    let cores = |a: [&str; 3], b: [&str; 3]| serde_json::json!({ "brown": [a[0], b[0]], "blue": [a[1], b[1]], "cpc": [a[2], b[2]] });
    let length = |id: &str, circuit: &str, from: &str, to: &str, cores: serde_json::Value| serde_json::json!({ "id": id, "circuit": circuit, "from": from, "to": to, "metres": 4, "cores": cores });
    let lne = ["L", "N", "E"];
    let installation = engine::from_value(&serde_json::json!({
        "format": 1,
        "installation": { "name": "Submain", "nominal_voltage": 230, "earthing": "TT" },
        "board": [{ "id": "DB1", "origin": true, "way": [{ "id": "1", "device": "mcb" }] },
                  { "id": "DB2", "main_switch": false, "way": [{ "id": "1", "device": "mcb" }] }],
        "circuit": [{ "id": "C1", "way": "DB1/1" }, { "id": "C2", "way": "DB2/1" }],
        "point": [{ "id": "Q1", "kind": "double-pole", "circuit": "C1" }, { "id": "X1", "kind": "socket", "circuit": "C2" }],
        "length": [length("W1", "C1", "DB1/1", "Q1", cores(lne, ["Lin", "Nin", "E"])),
                   length("W2", "C1", "Q1", "DB2.in", cores(["Lout", "Nout", "E"], lne)),
                   length("W3", "C2", "DB2/1", "X1", cores(lne, lne))],
    }));
    let to_earth =
        |circuit: &str| serde_json::json!({ "circuit": circuit, "between": ["L+N", "E"], "volts": 500, "megohms": 90 });
    let record = serde_json::json!({ "format": 1, "pass": [{ "reading": [to_earth("C1"), to_earth("C2"),
        { "circuit": "C1", "between": ["L", "N"], "volts": 500, "megohms": 90 }] }] });
    let record = engine::test_set("record.json", record.to_string().as_bytes(), &installation);
    for (standard, need, required, verdict, readings) in [
        (Standard::AsNzs3000, Need::Ruleset, 8, Verdict::Pass, 3),
        (Standard::AsNzs3000, Need::Standard, 9, Verdict::NotComplete, 4),
        (Standard::Bs7671, Need::Ruleset, 9, Verdict::NotComplete, 4),
        (Standard::AsNzs3000, Need::Earth, 6, Verdict::Pass, 2),
    ] {
        let network = Network::of(installation.clone()).with_ruleset(standard.ruleset().clone());
        let coverage = Coverage::of(&network, &record, need).expect("it is for this installation");
        let of_length = |id: &str| {
            coverage
                .pairs
                .iter()
                .filter(|row| row.length == id && row.required)
                .map(|row| row.class)
                .collect::<Vec<_>>()
        };
        assert_eq!(coverage.summary.required, required, "{need:?}");
        assert_eq!(of_length("W3").contains(&PairClass::BetweenLive), required == 9, "{need:?}");
        assert_eq!(of_length("W1").contains(&PairClass::BetweenLive), required > 6, "{need:?}");
        let judgement = Judgement::of(&network, &record, need).expect("it is for this installation");
        assert_eq!(judgement.circuit("C2").expect("it is there").verdict, verdict, "{need:?}");
        let plan = Plan::of(&network, None, need).expect("there is no test set");
        assert_eq!(plan.totals.readings, readings, "{need:?}");
    }
}

#[test]
fn a_ruleset_of_someones_own_is_as_good_as_those_of_the_package() {
    let ruleset = read_ruleset(Input::toml(include_bytes!("../fixtures/rules/own.toml"))).expect("the file is right");
    let table = [
        (System::Selv, 25.0, Some((100.0, 0.25))),
        (System::Selv, 25.1, Some((250.0, 0.5))),
        (System::Lv, 100.0, Some((250.0, 2.5))),
        (System::Lv, 100.1, Some((500.0, 5.0))),
        (System::Pelv, 400.0, Some((500.0, 5.0))),
        (System::Pelv, 400.1, None),
    ];
    for (system, nominal, expected) in table {
        assert_eq!(asked(&ruleset, system, nominal), expected, "{} {nominal} V", system.name());
    }
}

proptest! {
    /// However the voltages are cut into rows, the reader takes the file exactly if no voltage lies in none or in two.
    #[test]
    fn one_row_for_every_voltage_or_an_error(
        cuts in proptest::collection::vec((0u32..6, 1u32..8), 1..5),
        probes in proptest::collection::vec(1u32..80, 20),
    ) {
        let mut text = String::from("format = 1\n[ruleset]\nid = \"made\"\ntitle = \"made\"\n");
        let rest = "volts = 500\nmegohms = 1\nsource = \"made\"\nedition = \"made\"\nfrom_memory = false\n";
        text.push_str(&format!("[[row]]\nsystem = [\"selv\", \"pelv\", \"felv\"]\n{rest}"));
        // A width of 7 stands for a row without an end.
        let rows: Vec<(f64, f64)> = cuts
            .iter()
            .map(|&(above, width)| (f64::from(above), if width == 7 { f64::INFINITY } else { f64::from(above + width) }))
            .collect();
        for &(above, up_to) in &rows {
            text.push_str("[[row]]\nsystem = [\"lv\"]\n");
            if above > 0.0 {
                text.push_str(&format!("above = {above}\n"));
            }
            if up_to.is_finite() {
                text.push_str(&format!("up_to = {up_to}\n"));
            }
            text.push_str(rest);
        }
        let count = |volts: f64| rows.iter().filter(|row| volts > row.0 && volts <= row.1).count();
        // Between the cuts, which are whole volts, nothing changes.
        let is_right = (0..20).all(|number| count(f64::from(number) + 0.5) == 1 && count(f64::from(number + 1)) == 1);
        let read = read_ruleset(Input::toml(&text));
        prop_assert_eq!(read.is_ok(), is_right, "{}\n{:?}", text, read.err().map(|errors| errors.to_string()));
        if let Ok(ruleset) = read {
            for probe in probes {
                prop_assert!(asked(&ruleset, System::Lv, f64::from(probe) / 4.0).is_some());
            }
        }
    }
}
