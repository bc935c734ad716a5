//! Runs: what they come to, that it works as it is said aloud, and where what is wrong with them is told.

use std::collections::HashMap;

use lengthwise::input::expand_runs;
use lengthwise::model::{
    BoardDraft, CircuitDraft, DeviceDraft, InstallationDraft, Metres, StepDraft, StopDraft, Strappers, Third, Volts,
    WayDraft,
};
use lengthwise::wiring::{LoadWorks, Working, Works, warnings};
use lengthwise::{Coverage, Input, InputLimits, Need, Network, read_installation, read_test_set};

use crate::oracle;

const BAKEHOUSE: &str = include_str!("../fixtures/runs/bakehouse.toml");
const BY_HAND: &str = include_str!("../fixtures/runs/by-hand.toml");

fn draft_of(text: &str) -> InstallationDraft {
    read_installation(Input::toml(text)).unwrap_or_else(|errors| panic!("{errors}")).to_draft()
}

/// A house of one circuit.
fn house(run: Vec<StepDraft>) -> InstallationDraft {
    let mut draft = InstallationDraft::new("House", Volts(230.0));
    let ways = vec![WayDraft::new("1", DeviceDraft::Mcb)];
    draft.boards.push(BoardDraft { id: "DB1".to_owned(), origin: Some(true), ways, ..BoardDraft::default() });
    let way = Some("DB1/1".to_owned());
    draft.circuits.push(CircuitDraft { id: "A1".to_owned(), way, run, ..CircuitDraft::default() });
    draft
}

/// What the third core does, or where strappers run.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Wiring {
    Only,
    Third(Third),
    Box,
}

/// Each place to loop in at, with one to four switches in each wiring, and one or two lights.
fn usual_wirings() -> Vec<(&'static str, usize, Wiring, StepDraft)> {
    let mut all = Vec::new();
    for looped in ["rose", "box", "switch"] {
        for switch_count in 1..=4 {
            let wirings = match (switch_count, looped) {
                (1, _) => vec![Wiring::Only],
                (_, "switch") => [Third::Common, Third::Back, Third::Neutral].map(Wiring::Third).to_vec(),
                _ => vec![Wiring::Third(Third::Common), Wiring::Third(Third::Back), Wiring::Box],
            };
            for wiring in wirings {
                let stop = |metres: usize| StopDraft::metres(metres as f64);
                let mut step = StepDraft { lights: Some(vec![stop(2), stop(3)]), ..StepDraft::default() };
                match looped {
                    "rose" => step.rose = Some(stop(8)),
                    "box" => step.junction = Some(stop(7)),
                    _ => {}
                }
                if switch_count == 1 {
                    step.switch = Some(stop(4));
                } else {
                    step.switches = Some((0..switch_count).map(|number| stop(number + 1)).collect());
                }
                match wiring {
                    Wiring::Only => {}
                    Wiring::Third(third) => step.third = Some(third),
                    Wiring::Box => step.strappers = Some(Strappers::Box),
                }
                all.push((looped, switch_count, wiring, step));
            }
        }
    }
    all
}

#[test]
fn in_each_usual_wiring_every_switch_turns_every_light() {
    let all = usual_wirings();
    assert_eq!(all.len(), 30);
    for (looped, switch_count, wiring, step) in all {
        let name = format!("{looped}, {switch_count}, {wiring:?}");
        // Another step behind it is fed all the same.
        let behind = StepDraft { light: Some(StopDraft::metres(3.0)), ..StepDraft::default() };
        let draft = house(vec![step, behind]);
        let explicit = draft.expanded().unwrap_or_else(|errors| panic!("{name}: {errors}"));
        assert_eq!(explicit.expanded().as_ref(), Ok(&explicit), "{name}");
        let network = Network::of(draft.build().expect("it can be expanded"));
        assert_eq!(network.installation().to_draft(), explicit.build().expect("it is right").to_draft(), "{name}");
        assert_eq!(warnings(&network), [], "{name}");
        assert_eq!(network.cores_without_role().count() + network.spare_cores().count(), 0, "{name}");

        let switches: Vec<String> = (1..=switch_count)
            .map(|number| if number == 1 { "A1-S1".to_owned() } else { format!("A1-S1-{number}") })
            .collect();
        let works = Works::of(&network);
        let light_count = if looped == "rose" { 3 } else { 2 };
        assert_eq!(works.loads.len(), light_count + 1, "{name}");
        let (last, lights) = works.loads.split_last().expect("lights");
        assert_eq!((last.point.as_str(), last.works), ("A1-E2", Working::Always), "{name}");
        let value = serde_json::to_value(&explicit).expect("it is data");
        let by_force = oracle::works(&value).expect("it is small");
        for (light, force) in lights.iter().zip(&by_force) {
            assert_eq!(light.each_turns, switches, "{name}: {}", light.point);
            assert_eq!(force["each_turns"], serde_json::to_value(&switches).expect("names"), "{name}: {}", light.point);
            assert_eq!(force["point"].as_str(), Some(light.point.as_str()), "{name}");
        }
    }
}

/// What is said of the loads of a run, the same as every configuration in turn gives; nothing in it is warned about.
fn works(run: &str) -> Vec<LoadWorks> {
    let head = concat!(
        "format = 1\n[installation]\nname = \"House\"\nnominal_voltage = 230\n",
        "[[board]]\nid = \"DB1\"\norigin = true\nway = [{ id = \"1\", device = \"mcb\" }]\n",
        "[[circuit]]\nid = \"A1\"\nway = \"DB1/1\"\n",
    );
    let text = format!("{head}run = {run}\n");
    let installation = read_installation(Input::toml(&text)).unwrap_or_else(|errors| panic!("{run}: {errors}"));
    let value = serde_json::to_value(installation.to_draft()).expect("it is data");
    let network = Network::of(installation);
    assert_eq!(warnings(&network), [], "{run}");
    assert_eq!(network.cores_without_role().count() + network.spare_cores().count(), 0, "{run}");
    let loads = Works::of(&network).loads;
    let by_force = oracle::works(&value).expect("it is small");
    assert_eq!(loads.len(), by_force.len(), "{run}");
    for (load, force) in loads.iter().zip(&by_force) {
        let said = serde_json::to_value(load).expect("it is data");
        for key in ["point", "works", "devices", "each_turns"] {
            assert_eq!(said[key], force[key], "{run}: {}", load.point);
        }
        if load.works == Working::Depends {
            assert_eq!(oracle::wrong_in_words(&value, &said), None, "{run}: {}", load.point);
        }
    }
    loads
}

#[test]
fn power_steps_do_what_they_say() {
    for (run, expected) in [
        ("[{ sockets = [5, 4, 7], back = 14 }]", vec![("A1-X1", vec![]), ("A1-X2", vec![]), ("A1-X3", vec![])]),
        ("[{ socket = 5 }, { appliance = 2, load = \"electronic\" }]", vec![("A1-X1", vec![]), ("A1-H2", vec![])]),
        (
            "[{ sockets = [5, 4, 7], back = 14 }, { from = 2, fused = 3 }, { appliance = 1 }, { from = 3, socket = 2 }]",
            vec![("A1-X1", vec![]), ("A1-X2", vec![]), ("A1-X3", vec![]), ("A1-H5", vec!["A1-Q4"]), ("A1-X6", vec![])],
        ),
        ("[{ isolator = 11 }, { box = 1.5 }, { appliance = 1.5 }]", vec![("A1-H3", vec!["A1-Q1"])]),
        (
            "[{ master = 6 }, { switch = 4, light = 3 }, { rose = 5, switches = [4, 5], third = \"back\" }]",
            vec![("A1-E2", vec!["A1-S1", "A1-S2"]), ("A1-E3", vec!["A1-S1", "A1-S3", "A1-S3-2"])],
        ),
        // Behind a ring, and before a switch of the line.
        (
            "[{ socket = 3, back = 3 }, { from = 1, master = 2 }, { appliance = 1 }]",
            vec![("A1-X1", vec![]), ("A1-H3", vec!["A1-S2"])],
        ),
        // Each head of an alarm, whatever the others do; a sensor that may conduct, and a switch past it.
        (
            "[{ alarms = [4, 5] }, { from = 1, alarm = 6 }, { socket = 2 }]",
            vec![("A1-B1", vec![]), ("A1-B2", vec![]), ("A1-B3", vec![]), ("A1-X4", vec![])],
        ),
        (
            "[{ override = 6, sensor = 5, lights = [2, 4] }, { light = 3 }]",
            vec![("A1-B1", vec![]), ("A1-E1", vec!["A1-S1"]), ("A1-E1-2", vec!["A1-S1"]), ("A1-E2", vec![])],
        ),
        ("[{ sensor = 5, light = 2 }]", vec![("A1-B1", vec![]), ("A1-E1", vec![])]),
        ("[{ contactor = 9, by = 8 }, { appliance = 3 }]", vec![("A1-K1", vec!["A1-S1"]), ("A1-H2", vec!["A1-K1"])]),
    ] {
        let loads = works(run);
        let said: Vec<(&str, Vec<&str>)> =
            loads.iter().map(|load| (load.point.as_str(), load.devices.iter().map(String::as_str).collect())).collect();
        assert_eq!(said, expected, "{run}");
    }
}

/// A run with a source goes on from the transformer of another run, wherever that stands in the file, without earth.
#[test]
fn a_transformer_feeds_a_run() {
    let text = concat!(
        "format = 1\n[installation]\nname = \"House\"\nnominal_voltage = 230\n[[location]]\nid = \"yard\"\n",
        "[[board]]\nid = \"DB1\"\norigin = true\nway = [{ id = \"1\", device = \"mcb\" }]\n",
        "[[circuit]]\nid = \"Z1\"\nsource = \"A1-T2\"\nsystem = \"selv\"\nnominal_voltage = 12\nearth = false\n",
        "mm2 = 1.5\nrun = [{ lights = [9, 6] }, { switch = 2, light = 3 }]\n",
        "[[circuit]]\nid = \"A1\"\nway = \"DB1/1\"\nrun = [{ isolator = 2 }, { transformer = [\"yard\", 4] }]\n",
    );
    let draft = draft_of(text);
    assert!(
        draft.points.iter().filter(|point| point.id != "A1-Q1").all(|point| point.location.as_deref() == Some("yard"))
    );
    let length = draft.lengths.iter().find(|length| length.id == "W-Z1-E1").expect("it is made");
    assert_eq!((length.from.as_str(), length.cable.as_deref()), ("A1-T2", Some("2c 1.5")));
    let cores: Vec<_> =
        length.cores.iter().map(|(name, ends)| (name.as_str(), ends.each_ref().map(String::as_str))).collect();
    assert_eq!(cores, [("brown", ["V1", "L"]), ("blue", ["V2", "N"])]);
    let network = Network::of(draft.build().expect("it is right"));
    assert_eq!(warnings(&network), []);
    let loads = Works::of(&network).loads;
    let said: Vec<(&str, Vec<&str>)> =
        loads.iter().map(|load| (load.point.as_str(), load.devices.iter().map(String::as_str).collect())).collect();
    let [isolator, switch, none] = [vec!["A1-Q1"], vec!["Z1-S3"], vec![]];
    assert_eq!(said, [("A1-T2", isolator), ("Z1-E1", none.clone()), ("Z1-E2", none), ("Z1-E3", switch)]);
    assert_eq!(draft.expanded().as_ref(), Ok(&draft));

    // A source that is not there, and a point that is none.
    for (source, told, line) in [("T9", "no point `T9`", "source = "), ("A1-Q1", "no terminal `V1`", "run = [{ lights")]
    {
        let wrong = text.replace("source = \"A1-T2\"", &format!("source = \"{source}\""));
        let errors = read_installation(Input::toml(&wrong)).expect_err("nothing feeds it");
        assert!(errors.to_string().contains(told), "{errors}");
        let place = errors.errors()[0].place.expect("it has a place");
        assert!(wrong[..place.end].lines().last().expect("a line").starts_with(line), "{errors}");
    }
}

/// The end of a ring stays when any one of its lengths is parted: every socket has line, neutral and earth on both ways.
#[test]
fn a_ring_is_one_without_any_one_of_its_lengths() {
    let run = |back| StepDraft {
        sockets: Some([5.0, 4.0, 7.0].map(StopDraft::metres).to_vec()),
        back,
        ..StepDraft::default()
    };
    let joined = |back, parted: usize| {
        let mut draft = house(vec![run(back)]).expanded().expect("it can be expanded");
        draft.lengths.remove(parted);
        let network = Network::of(draft.build().expect("it is right"));
        warnings(&network).is_empty()
    };
    assert!((0..4).all(|parted| joined(Some(Metres(14.0)), parted)));
    assert!((0..3).any(|parted| !joined(None, parted)));
}

#[test]
fn metres_that_are_not_written_are_those_of_the_shortest_way() {
    let text = BAKEHOUSE.replace(
        "[[board]]",
        concat!(
            "[[passage]]\nbetween = [\"shop\", \"stair\"]\nmetres = 7.1\n",
            "[[passage]]\nbetween = [\"stair\", \"loft\"]\nmetres = 4.2\n",
            "[[passage]]\nbetween = [\"loft\", \"shop\"]\nmetres = 20\n[[board]]",
        ),
    );
    let written = text.replace("{ lights = [3, [\"loft\", 6]] }", "{ lights = [3, \"loft\"] }");
    assert_ne!(text, written);
    let draft = draft_of(&written);
    let length = draft.lengths.iter().find(|length| length.id == "W-A3-E3").expect("it is made");
    assert_eq!(length.metres, Metres(11.3));
    // No passage leads there, or the location is that of what feeds it.
    for stop in ["\"store\"", "\"shop\""] {
        let text = text.replace("{ lights = [3, [\"loft\", 6]] }", &format!("{{ lights = [3, {stop}] }}"));
        let errors = read_installation(Input::toml(&text)).expect_err("nothing says it");
        assert_eq!(errors.errors().len(), 1, "{errors}");
        assert!(errors.to_string().contains("no metres"), "{errors}");
    }
    // A search that ended before its time says nothing. There are two passages at each of the three locations.
    for (searched, is_found) in [(0, false), (1, false), (3, false), (7, true)] {
        let mut limits = InputLimits::default();
        limits.passages_searched = searched;
        assert_eq!(read_installation(Input::toml(&written).within(limits)).is_ok(), is_found, "{searched}");
    }
}

/// The same with names by their places in the lists: the graph alone is left.
fn without_names(draft: &InstallationDraft) -> InstallationDraft {
    let mut draft = draft.clone();
    let names: HashMap<String, String> =
        draft.points.iter().enumerate().map(|(number, point)| (point.id.clone(), format!("P{number}"))).collect();
    let name = |id: &mut String| {
        if let Some(new) = names.get(id) {
            id.clone_from(new);
        }
    };
    for (number, length) in draft.lengths.iter_mut().enumerate() {
        length.id = format!("W{number}");
        name(&mut length.from);
        name(&mut length.to);
    }
    draft.points.iter_mut().for_each(|point| name(&mut point.id));
    draft
}

#[test]
fn runs_come_to_what_is_written_by_hand() {
    let [run, hand] = [BAKEHOUSE, BY_HAND].map(|text| without_names(&draft_of(text)));
    for (run, hand) in run.points.iter().zip(&hand.points) {
        assert_eq!(run, hand);
    }
    for (run, hand) in run.lengths.iter().zip(&hand.lengths) {
        assert_eq!(run, hand);
        assert!(run.cores.keys().eq(hand.cores.keys()), "{run:?}");
    }
    assert_eq!(run, hand);
}

#[test]
fn a_test_set_tests_the_same_of_a_run_and_of_what_is_written_by_hand() {
    let tests = include_str!("../fixtures/runs/bakehouse-tests.toml");
    let [run, hand] = [BAKEHOUSE, BY_HAND].map(|text| {
        let installation = read_installation(Input::toml(text)).unwrap_or_else(|errors| panic!("{errors}"));
        let tests = read_test_set(Input::toml(tests), &installation).unwrap_or_else(|errors| panic!("{errors}"));
        let network = Network::of(installation);
        let coverage = Coverage::of(&network, &tests, Need::Standard).expect("it is for this installation");
        coverage.pairs.iter().map(|pair| (pair.cores.clone(), pair.tested, pair.by)).collect::<Vec<_>>()
    });
    assert_eq!(run, hand);
    assert!([true, false].iter().all(|&tested| run.iter().any(|pair| pair.1 == tested)));
}

#[test]
fn ids_tell_circuit_box_and_number() {
    let draft = draft_of(BAKEHOUSE);
    let ids: Vec<&str> = draft.points.iter().map(|point| point.id.as_str()).collect();
    let first =
        ["A1-E1", "A1-S1", "A1-E2", "A1-S2", "A1-S2-2", "A1-S2-3", "A1-E2-2", "A1-J3", "A1-S3", "A1-S3-2", "A1-E3"];
    assert_eq!(ids[..11], first);
    let second = [
        "A2-S1", "A2-E1", "A2-E1-2", "A2-S2", "A2-S2-2", "A2-E2", "A2-J7", "A2-S7", "A2-S7-2", "A2-S7-3", "A2-E7",
        "D1", "A2-E3",
    ];
    assert_eq!(ids[11..24], second);
    let third =
        ["A3-J1", "A3-E2", "A3-E3", "A4-X1", "A4-X2", "A4-X3", "A4-X4", "A4-Q5", "A4-H6", "A5-Q1", "A5-J2", "A5-H3"];
    assert_eq!(ids[24..36], third);
    assert_eq!(ids[36..], ["A6-S1", "A6-S2", "A6-E2", "A6-E3", "A6-S3"]);
    let (back, legs): (Vec<_>, Vec<_>) = draft.lengths.iter().partition(|length| length.id.ends_with("-back"));
    let back: Vec<_> = back.iter().map(|length| [&length.id, &length.from, &length.to].map(String::as_str)).collect();
    assert_eq!(back, [["W-A4-X3-back", "A4-X3", "MB/4"]]);
    for (point, length) in draft.points.iter().zip(legs) {
        assert_eq!((&length.to, &length.id), (&point.id, &format!("W-{}", point.id)));
    }
}

#[test]
fn an_expanded_text_is_explicit_and_stays_as_it_is() {
    let draft = draft_of(BAKEHOUSE);
    let explicit = expand_runs(Input::toml(BAKEHOUSE)).expect("it is right");
    assert!(!explicit.contains("run") && !explicit.contains("mm2") && !explicit.contains("third"), "{explicit}");
    assert_eq!(draft_of(&explicit), draft);
    assert_eq!(expand_runs(Input::toml(&explicit)).as_deref(), Ok(explicit.as_str()));
    assert_eq!(expand_runs(Input::toml(BY_HAND)).as_deref(), Ok(BY_HAND), "comments stay where there is no run");

    // The same from JSON, and from a draft that is written and read again.
    let written: InstallationDraft = toml::from_str(BAKEHOUSE).expect("it is a draft");
    assert_eq!(written.build().expect("it is right").to_draft(), draft);
    let [json, again] = [serde_json::to_string(&written).expect("data"), toml::to_string(&written).expect("data")];
    assert_eq!(serde_json::from_str::<InstallationDraft>(&json).expect("it is a draft"), written);
    assert_eq!(toml::from_str::<InstallationDraft>(&again).expect("it is a draft"), written);
    assert_eq!(draft_of(&again), draft);
    let read = read_installation(Input::json(&json)).unwrap_or_else(|errors| panic!("{errors}"));
    assert_eq!(read.to_draft(), draft);
    let explicit = expand_runs(Input::json(&json)).expect("it is right");
    assert_eq!(expand_runs(Input::json(&explicit)).as_deref(), Ok(explicit.as_str()));
    let read = read_installation(Input::json(&explicit)).unwrap_or_else(|errors| panic!("{errors}"));
    assert_eq!(read.to_draft(), draft);
}

/// Explicit points and lengths stand beside a run, and may lead to what it makes.
#[test]
fn a_length_beside_a_run_leads_to_its_points() {
    let text = BAKEHOUSE.replace(
        "[[circuit]]\nid = \"A1\"",
        concat!(
            "[[point]]\nid = \"X1\"\nkind = \"luminaire\"\n",
            "[[length]]\nid = \"WX1\"\nfrom = \"A1-E2-2\"\nto = \"X1\"\nmetres = 3\n",
            "cores = { brown = [\"L\", \"L\"], blue = [\"N\", \"N\"], cpc = [\"E\", \"E\"] }\n\n",
            "[[circuit]]\nid = \"A1\"",
        ),
    );
    let works =
        Works::of(&Network::of(read_installation(Input::toml(&text)).unwrap_or_else(|errors| panic!("{errors}"))));
    let light = works.loads.iter().find(|load| load.point == "X1").expect("it is a load");
    assert_eq!(light.each_turns, ["A1-S2", "A1-S2-2", "A1-S2-3"]);
}

#[test]
fn an_error_in_what_a_run_comes_to_is_told_at_its_stop() {
    let text = BAKEHOUSE.replace("[\"loft\", 4]]", "[\"lofft\", 4]]");
    let errors = read_installation(Input::toml(&text)).expect_err("there is no such place");
    assert_eq!(
        errors.to_string(),
        "43:54: there is no location `lofft`: circuit A1, step 2, third switch (A1-S2-3, leg W-A1-S2-3)"
    );
    let [error] = errors.errors() else { panic!("{errors}") };
    let place = error.place.expect("it has a place");
    assert_eq!(&text[place.start..place.end], "[\"lofft\", 4]");
    let part = serde_json::to_value(&error.from).expect("it is data");
    assert_eq!(
        part,
        serde_json::json!({
            "circuit": "A1", "step": 2, "part": "switches", "number": 3, "point": "A1-S2-3", "length": "W-A1-S2-3"
        })
    );
}

/// The third core is said in the step, or else once for the file; nothing is guessed.
#[test]
fn what_the_third_core_does_is_asked_with_all_its_readings() {
    let step = |rose: bool| StepDraft {
        rose: rose.then(|| StopDraft::metres(3.0)),
        switches: Some(vec![StopDraft::metres(3.0), StopDraft::metres(4.0)]),
        light: Some(StopDraft::metres(1.0)),
        ..StepDraft::default()
    };
    for (rose, readings) in
        [(true, vec!["common", "back", "strappers = \"box\""]), (false, vec!["common", "back", "neutral"])]
    {
        let mut draft = house(vec![step(rose)]);
        let errors = draft.build().expect_err("it is not said");
        let [error] = errors.errors() else { panic!("{errors}") };
        assert!(readings.iter().all(|reading| error.mend().contains(reading)), "{}", error.mend());
        draft.installation.third = Some(Third::Neutral);
        assert_eq!(draft.build().is_ok(), !rose, "the neutral goes to the last switch from the first alone");
        draft.installation.third = Some(Third::Back);
        assert!(draft.build().is_ok());
    }
}
