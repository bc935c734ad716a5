//! Where the insulation leaks: worked cases, laws, and leakage planted everywhere with readings from a solver of our
//! own.

use std::collections::{BTreeMap, BTreeSet};

use lengthwise::Limits;
use lengthwise::locate::{Assumptions, Findings, LocateLimits, MegohmKilometres};
use lengthwise::model::Megohms;
use lengthwise::network::Network;
use proptest::prelude::*;
use serde_json::{Value, json};

use crate::engine;
use crate::oracle::{Leak, Leaking};
use crate::small;
use crate::strategy::{Case, cases, renamed, times};

/// An instrument without error, so that answers can be worked by hand.
fn exact() -> Assumptions {
    Assumptions::default().with_instrument(0.0, Megohms(0.0)).unwrap()
}

fn report(installation: &Value, tests: &Value, assumptions: Assumptions) -> Value {
    report_within(LocateLimits::default(), installation, tests, assumptions)
}

fn report_within(limits: LocateLimits, installation: &Value, tests: &Value, assumptions: Assumptions) -> Value {
    let installation = engine::from_value(installation);
    let tests = engine::test_set("tests.json", tests.to_string().as_bytes(), &installation);
    let mut all = Limits::default();
    all.locate = limits;
    let network = Network::of(installation.clone()).with_limits(all);
    serde_json::to_value(Findings::of(&network, &tests, assumptions).expect("it is for this installation"))
        .expect("a report is JSON")
}

/// The gap that two cores of a length are in.
fn gap<'r>(report: &'r Value, length: &str, cores: [&str; 2]) -> &'r Value {
    let is_it = |member: &Value| {
        member["length"] == length
            && (member["cores"] == json!(cores) || member["cores"] == json!([cores[1], cores[0]]))
    };
    let mut gaps = report["gaps"].as_array().unwrap().iter();
    gaps.find(|gap| gap["members"].as_array().unwrap().iter().any(is_it))
        .unwrap_or_else(|| panic!("no gap for {length} {cores:?} in {report}"))
}

fn bounds(gap: &Value) -> [f64; 2] {
    [gap["least_microsiemens"].as_f64().unwrap(), gap["greatest_microsiemens"].as_f64().unwrap_or(f64::INFINITY)]
}

fn two_way(passes: Value) -> Value {
    report(&small::fixture("two-way").installation, &json!({ "format": 1, "pass": passes }), exact())
}

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-6 * b.abs().max(1e-3)
}

/// What holds at 250 V may break down at 500 V: a reading below the test voltage clears nothing, as `judge` takes none.
/// What it shows to leak does leak. Without a voltage a reading is taken at its word.
#[test]
fn a_reading_below_the_test_voltage_clears_nothing() {
    let read = |volts: Value, megohms: f64| {
        let mut reading = json!({ "circuit": "C1", "between": ["L+N", "E"], "megohms": megohms });
        if !volts.is_null() {
            reading["volts"] = volts;
        }
        two_way(json!([{ "reading": [reading] }]))
    };
    for (volts, cleared, below) in [
        (json!(500), true, Value::Null),
        (json!(1000), true, Value::Null),
        (Value::Null, true, Value::Null),
        (json!(250), false, json!(500)),
        (json!(499.9), false, json!(500)),
    ] {
        let high = read(volts.clone(), 400.0);
        assert_eq!(high["summary"]["cleared"].as_u64().unwrap() > 0, cleared, "{volts}");
        assert_eq!(high["readings"][0]["taken_below_volts"], below, "{volts}");
        assert_eq!(read(volts.clone(), 0.25)["faults"]["at_least"], 1, "{volts}");
    }
}

#[test]
fn a_strapper_is_told_from_the_other_by_hand() {
    // The landing light: with both switches in L1 the leads reach the brown strapper, in L2 the black one.
    let passes = |one: f64, other: f64| {
        json!([
            { "reading": [{ "circuit": "C1", "between": ["L+N", "E"], "megohms": one }] },
            { "set": { "S1": "L2", "S2": "L2" }, "reading": [{ "circuit": "C1", "between": ["L+N", "E"], "megohms": other }] },
        ])
    };
    let found = two_way(passes(400.0, 0.25));
    let black = gap(&found, "W2", ["black", "cpc"]);
    // By hand: everything but the black strapper is across the leads of the first reading, 1/400 uS in all. So black
    // leaks at least 4 - 1/400 uS less what floating copper lets through, and at most 4 uS.
    assert!(close(bounds(black)[1], 4.0), "{black}");
    assert!(bounds(black)[0] <= 4.0 - 1.0 / 400.0 + 1e-6, "{black}");
    assert_eq!(black["explains_alone"], true);
    assert_eq!(found["faults"]["one_explains_all"], true);
    assert_eq!(gap(&found, "W2", ["brown", "cpc"])["state"], "cleared");
    assert_eq!(gap(&found, "W1", ["blue", "cpc"])["state"], "cleared");
}

/// By hand: nobody knows which strapper was alive in which of two readings with one operation between them, but each was in
/// one: it leaks no more than the lower one shows. So does the light, which was in one of the two.
#[test]
fn strappers_are_bounded_start_by_start() {
    let readings = |readings: [(f64, f64); 2], operate: &str| {
        let read = |(megohms, volts): (f64, f64)| json!([{ "circuit": "C1", "between": ["L+N", "E"], "megohms": megohms, "volts": volts }]);
        let [one, other] = readings.map(read);
        let tests = json!({ "format": 1, "pass": [{ "reading": one }, { "operate": [operate], "reading": other }] });
        report(&small::fixture("hidden").installation, &tests, exact())
    };
    let found = readings([(400.0, 500.0), (250.0, 500.0)], "S1");
    for (length, core) in [("W2", "black"), ("W2", "brown"), ("W3", "brown")] {
        let gap = gap(&found, length, [core, "cpc"]);
        assert!(close(bounds(gap)[1], 1.0 / 250.0), "{gap}");
        assert_eq!((&gap["state"], &gap["tight"]), (&json!("cleared"), &json!(false)));
    }
    // Operating the other switch brings the light, and leaves the strappers as they are.
    let found = readings([(400.0, 500.0), (250.0, 500.0)], "S2");
    assert_eq!(gap(&found, "W3", ["brown", "cpc"])["state"], "cleared");
    assert_eq!(gap(&found, "W2", ["black", "cpc"])["state"], "not-read");
    // At too low a voltage a reading bounds nothing from above.
    let found = readings([(400.0, 500.0), (250.0, 250.0)], "S1");
    assert_eq!(gap(&found, "W2", ["black", "cpc"])["state"], "not-read");
    // One leaks, and nobody knows which: neither is cleared, and what the sum allows is the lower reading.
    let found = readings([(400.0, 500.0), (0.25, 500.0)], "S1");
    for core in ["black", "brown"] {
        let gap = gap(&found, "W2", [core, "cpc"]);
        assert!(close(bounds(gap)[1], 4.0), "{gap}");
        assert_eq!(gap["state"], "suspect");
    }
}

/// By hand: with the first switch operated between two low readings, each strapper was off the leads in one of them, and so
/// was the light, whichever way the switches stood. A single fault is in what both readings had on a lead. A single fault that
/// one of them alone shows is in none of that.
#[test]
fn one_fault_is_where_it_shows_for_every_start() {
    let found = |megohms: [f64; 2]| {
        let read = |megohms: f64| json!([{ "circuit": "C1", "between": ["L+N", "E"], "megohms": megohms }]);
        let tests = json!({ "format": 1, "pass": [
            { "reading": read(megohms[0]) }, { "operate": ["S1"], "reading": read(megohms[1]) }] });
        report(&small::fixture("hidden").installation, &tests, exact())
    };
    let alone = |found: &Value, length: &str, core: &str| gap(found, length, [core, "cpc"])["explains_alone"].clone();
    let both = found([0.25, 0.25]);
    for (length, core, may_be) in
        [("W1", "brown", true), ("W2", "brown", false), ("W2", "black", false), ("W3", "brown", false)]
    {
        assert_eq!(alone(&both, length, core), may_be, "{length} {core}");
    }
    let one = found([400.0, 0.25]);
    for (length, core, may_be) in
        [("W1", "brown", false), ("W2", "brown", true), ("W2", "black", true), ("W3", "brown", true)]
    {
        assert_eq!(alone(&one, length, core), may_be, "{length} {core}");
    }
}

#[test]
fn two_low_readings_of_different_copper_need_two_faults() {
    let found = two_way(json!([
        { "reading": [{ "circuit": "C1", "between": ["L", "E"], "megohms": 0.5 },
                      { "circuit": "C1", "between": ["N", "E"], "megohms": 0.5 },
                      { "circuit": "C1", "between": ["L", "N"], "megohms": 0.98 }] },
    ]));
    assert_eq!(found["faults"]["at_least"], 2, "{found}");
    assert_eq!(found["faults"]["exact"], true);
    let blue = gap(&found, "W1", ["blue", "cpc"]);
    assert!(close(bounds(blue)[1], 2.0), "{blue}");
}

/// By hand: more copper on a lead can't show less leakage, whatever floats.
#[test]
fn readings_that_no_leakage_gives_contradict() {
    let read = |between: [&str; 2], megohms: f64| json!({ "circuit": "C1", "between": between, "megohms": megohms });
    let conflicts = |readings: Vec<Value>| two_way(json!([{ "reading": readings }]))["conflicts"].clone();
    let both = vec![read(["L+N", "E"], 200.0), read(["L", "E"], 0.2)];
    assert_eq!(conflicts(both.clone()), json!([{ "readings": [[1, 1], [1, 2]] }]));
    // Read at a lower voltage it may have held where the other broke down.
    let mut low = both;
    low[0]["volts"] = json!(250);
    assert_eq!(conflicts(low), json!([]));
    // From line to neutral each gap has a part of the voltage only, and may hold.
    let three = vec![read(["L", "E"], 0.2), read(["N", "E"], 0.1), read(["L", "N"], 900.0)];
    assert_eq!(conflicts(three), json!([]));
    // After an operation the strapper that was left out may have the fault: nothing contradicts.
    let after = two_way(json!([
        { "reading": [read(["L", "E"], 200.0)] },
        { "set": { "S1": "L2", "S2": "L2" }, "reading": [read(["L", "E"], 0.2)] }]));
    assert_eq!(after["conflicts"], json!([]));
}

#[test]
fn readings_that_cannot_all_be_are_told_and_nothing_is_cleared_by_them() {
    // A ring of sockets, joined to all bars: nothing floats. N to E leaks 2 uS at the most over L, which lets hardly
    // any through; so most of it leaks straight across, and so it would in the first reading.
    let ring = small::fixture("ring-final").installation;
    let circuit = ring["circuit"][0]["id"].clone();
    let reading =
        |between: [&str; 2], megohms: Value| json!({ "circuit": circuit, "between": between, "megohms": megohms });
    let tests = json!({ "format": 1, "pass": [{ "set": { "DB1.main": "on", "DB1/1": "on", "F1": "on" }, "reading": [
        reading(["L+N", "E"], json!(100.0)), reading(["L", "E"], json!(">999")), reading(["L", "N"], json!(">999")),
        reading(["N", "E"], json!(0.5)) ] }] });
    let found = report(&ring, &tests, exact());
    assert_eq!(found["conflicts"].as_array().unwrap().len(), 1, "{found}");
    let readings = found["conflicts"][0]["readings"].as_array().unwrap();
    assert!(readings.contains(&json!([1, 4])), "{readings:?}");
    for gap in entries(&found["gaps"]) {
        assert!(["contradicted", "not-read"].contains(&gap["state"].as_str().unwrap()), "{gap}");
    }
    assert_eq!(found["next"], json!({ "do": "nothing", "why": "contradiction", "gaps": [] }));
    // Without any one of the readings that are named there is no contradiction.
    for left_out in readings {
        let mut fewer = tests.clone();
        let number = left_out[1].as_u64().unwrap() as usize - 1;
        fewer["pass"][0]["reading"]
            .as_array_mut()
            .unwrap()
            .retain(|reading| *reading != tests["pass"][0]["reading"][number]);
        let only: Vec<Value> = readings
            .iter()
            .map(|named| tests["pass"][0]["reading"][named[1].as_u64().unwrap() as usize - 1].clone())
            .collect();
        let only: Vec<Value> =
            only.into_iter().filter(|reading| *reading != tests["pass"][0]["reading"][number]).collect();
        fewer["pass"][0]["reading"] = json!(only);
        assert_eq!(report(&ring, &fewer, exact())["conflicts"], json!([]), "without {left_out}");
    }
}

#[test]
fn long_healthy_cable_is_not_called_faulty() {
    let mut installation = small::fixture("two-way").installation;
    for length in installation["length"].as_array_mut().unwrap() {
        length["metres"] = json!(3000.0);
    }
    let tests = |megohms: f64| json!({ "format": 1, "pass": [{ "reading": [{ "circuit": "C1", "between": ["L+N", "E"], "megohms": megohms }] }] });
    // 9 km of line and 9 km of neutral beside earth, at 10 MΩ·km: 1.8 uS in all, and half as much again passes by the
    // limit. So 0.6 MΩ needs no fault.
    let found = report(&installation, &tests(0.6), exact());
    assert_eq!(found["faults"]["at_least"], 0, "{found}");
    assert_eq!(found["next"]["why"], "no-fault");
    let stricter = exact().with_healthy(MegohmKilometres(1000.0)).unwrap();
    let found = report(&installation, &tests(0.6), stricter);
    assert_eq!(found["faults"]["at_least"], 1, "the same reading of cable that ought to be better");
}

#[test]
fn void_and_empty_readings_are_left_out_and_named() {
    let found = two_way(json!([
        { "set": { "S1": "L1", "S2": "L1" }, "refit": ["E1"],
          "reading": [{ "circuit": "C1", "between": ["L", "N"], "megohms": 0.01 },
                      { "circuit": "C1", "between": ["L+N", "E"] }] },
    ]));
    let why: Vec<&Value> = found["readings"].as_array().unwrap().iter().map(|reading| &reading["left_out"]).collect();
    assert_eq!(why, [&json!("bridged"), &json!("no-value")], "{found}");
    assert_eq!(found["gaps"], json!([]));
}

/// The test set with every reading's value from these leakages.
pub fn valued(site: &Leaking, tests: &Value, leaks: &[Leak], start: usize, maybe: bool) -> Value {
    let found = site.measure(tests, leaks, start, maybe);
    let mut valued = tests.clone();
    for (step, found) in valued["pass"].as_array_mut().unwrap().iter_mut().zip(found) {
        let Some(readings) = step.get_mut("reading").and_then(Value::as_array_mut) else { continue };
        for (reading, conductance) in readings.iter_mut().zip(found) {
            reading["megohms"] = match conductance {
                Some(conductance) if conductance > 100.0 => json!("<0.01"),
                Some(conductance) if conductance > 1e-3 => json!(1.0 / conductance),
                Some(_) => json!(">990"),
                None => json!("<0.01"),
            };
        }
    }
    valued
}

/// The names of a member's two sides, as the oracle takes them.
pub fn sides(member: &Value) -> [String; 2] {
    let side = |number: usize| match member["length"].as_str() {
        Some(length) => match member["cores"][number].as_str().unwrap() {
            "earth" => "MET".to_owned(),
            core => format!("{length} {core}"),
        },
        None => member["terminals"][number].as_str().unwrap().to_owned(),
    };
    [side(0), side(1)]
}

pub fn entries(value: &Value) -> &[Value] {
    value.as_array().map_or(&[], Vec::as_slice)
}

/// All places where copper lies side by side, from the network: two cores of a length, two terminals of a point.
/// Terminals that nothing is joined to are left out: leakage over them counts as that between the others.
pub fn places(installation: &Value) -> Vec<[String; 2]> {
    let network = engine::network(&engine::from_value(installation));
    let mut places: Vec<[String; 2]> = entries(&network["pairs"]).iter().map(sides).collect();
    let mut of_point: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    let points: BTreeSet<&str> =
        entries(&installation["point"]).iter().filter_map(|point| point["id"].as_str()).collect();
    let ends = entries(&network["cores"]).iter().flat_map(|core| entries(&core["ends"]));
    let between =
        ["contacts", "bridges"].map(|rows| entries(&network[rows]).iter().flat_map(|row| entries(&row["between"])));
    let joined: BTreeSet<&str> = ends.chain(between.into_iter().flatten()).filter_map(Value::as_str).collect();
    for terminal in entries(&network["terminals"]) {
        let name = terminal.as_str().unwrap();
        let owner = name.split('.').next().unwrap();
        if points.contains(owner) && joined.contains(name) {
            of_point.entry(owner).or_default().push(name);
        }
    }
    for terminals in of_point.values() {
        for (number, one) in terminals.iter().enumerate() {
            places.extend(terminals[number + 1..].iter().map(|other| [(*one).to_owned(), (*other).to_owned()]));
        }
    }
    places
}

/// Leakage by dice: most places none or hardly any, some a lot.
pub fn planted(places: &[[String; 2]], dice: &[u8]) -> Vec<Leak> {
    let leak = |die: u8| match die {
        0..=90 => 0.0,
        91..=200 => f64::from(die) * 1e-5,
        201..=240 => f64::from(die - 200) * 0.01,
        _ => f64::from(die - 240) * 0.4,
    };
    let dice = dice.iter().copied().cycle();
    let planted = places.iter().zip(dice).map(|([one, other], die)| (one.clone(), other.clone(), leak(die)));
    planted.filter(|planted| planted.2 > 0.0).collect()
}

fn by_members(report: &Value) -> BTreeMap<String, &Value> {
    entries(&report["gaps"]).iter().map(|gap| (gap["members"].to_string(), gap)).collect()
}

/// A state, as how much it claims: what is cleared stays cleared, what is certain stays certain.
fn keeps(before: &Value, after: &Value) -> bool {
    let claimed = ["cleared", "certain"].contains(&before.as_str().unwrap());
    !claimed || before == after
}

/// One of the limits.
type Limit = fn(&mut LocateLimits) -> &mut usize;

/// All of them.
const LIMITS: [Limit; 19] = [
    |limits| &mut limits.gaps_made,
    |limits| &mut limits.gaps_walked,
    |limits| &mut limits.gaps_in_sum,
    |limits| &mut limits.readings_compared,
    |limits| &mut limits.bodies_compared,
    |limits| &mut limits.block_with_all_sums,
    |limits| &mut limits.block_for_every_column,
    |limits| &mut limits.block_solved,
    |limits| &mut limits.programs_for_bounds,
    |limits| &mut limits.programs_for_faults,
    |limits| &mut limits.programs_for_outcome,
    |limits| &mut limits.explanations_weighed,
    |limits| &mut limits.devices_operated,
    |limits| &mut limits.devices_in_pairs,
    |limits| &mut limits.suspects_read_across,
    |limits| &mut limits.ways_tried,
    |limits| &mut limits.readings_weighed,
    |limits| &mut limits.readings_worked_out,
    |limits| &mut limits.partings_in_pairs,
];

/// Limits of which some are so small that nearly every case is past them.
fn tiny_limits() -> impl Strategy<Value = LocateLimits> {
    let small = prop_oneof![2 => Just(None), 1 => Just(Some(0)), 3 => (1usize..8).prop_map(Some), 1 => (8usize..64).prop_map(Some)];
    prop::collection::vec(small, LIMITS.len()).prop_map(|sizes| {
        let mut limits = LocateLimits::default();
        for (limit, size) in LIMITS.into_iter().zip(sizes) {
            let limit = limit(&mut limits);
            *limit = size.unwrap_or(*limit);
        }
        limits
    })
}

/// A case with leakage planted everywhere.
#[derive(Clone, Debug)]
struct Planted {
    case: Case,
    dice: Vec<u8>,
    start: usize,
    maybe: bool,
    percent: f64,
}

fn planted_cases() -> impl Strategy<Value = Planted> {
    let dice = prop::collection::vec(any::<u8>(), 40..80);
    let percent = prop_oneof![Just(0.0), Just(5.0), Just(30.0)];
    (cases(), dice, any::<usize>(), any::<bool>(), percent).prop_map(|(case, dice, start, maybe, percent)| Planted {
        case,
        dice,
        start,
        maybe,
        percent,
    })
}

/// Whatever leaks wherever, with whatever floats: the bounds contain it, nothing that is a fault is cleared, nothing
/// that is none is certain, no contradiction is found, and no more faults are needed than there are.
fn holds(limits: LocateLimits, Planted { case, dice, start, maybe, percent }: Planted) -> Result<(), TestCaseError> {
    let assumptions = Assumptions::default().with_instrument(percent, Megohms(0.0)).unwrap();
    let site = Leaking::of(&case.installation);
    let leaks = planted(&places(&case.installation), &dice);
    let tests = valued(&site, &case.test_set, &leaks, start, maybe);
    let found = report_within(limits, &case.installation, &tests, assumptions);
    prop_assert_eq!(&found["conflicts"], &json!([]), "{}", found);
    let mut faults = 0;
    for gap in entries(&found["gaps"]) {
        let members: Vec<[String; 2]> = entries(&gap["members"]).iter().map(sides).collect();
        for member in &members {
            prop_assert!(is_same(&site, member, &members[0]), "a gap lies between the same copper everywhere: {}", gap);
        }
        let leak = site.between(&leaks, &members[0][0], &members[0][1]);
        let [least, greatest] = bounds(gap);
        let limit = gap["healthy_microsiemens"].as_f64().unwrap() + 0.5;
        prop_assert!(leak >= least * (1.0 - 1e-9) - 1e-9, "{} leaks {}", gap, leak);
        prop_assert!(leak <= greatest * (1.0 + 1e-9) + 1e-9, "{} leaks {}", gap, leak);
        prop_assert!(leak <= limit + 1e-9 || gap["state"] != "cleared", "{} leaks {}", gap, leak);
        prop_assert!(leak >= limit - 1e-9 || gap["state"] != "certain", "{} leaks {}", gap, leak);
        faults += usize::from(leak > gap["healthy_microsiemens"].as_f64().unwrap());
    }
    prop_assert!(found["faults"]["at_least"].as_u64().unwrap() as usize <= faults, "{} of {}", found["faults"], faults);
    Ok(())
}

/// Whether two places are between the same copper.
fn is_same(site: &Leaking, [a, b]: &[String; 2], [one, other]: &[String; 2]) -> bool {
    site.is_same_copper(a, one) && site.is_same_copper(b, other)
        || site.is_same_copper(a, other) && site.is_same_copper(b, one)
}

/// What is within this part of a bound, or so many µS, is that bound. Leakages come to a bound that is `tight` within
/// half of it, and keep each sum to a thousandth: so the other half is for the sums, as many of them as bear on one
/// bound together.
const ROUNDING: f64 = 1e-9;

/// What was claimed before is claimed after, and no bound is looser, where after them the bounds are the best that
/// there are.
fn keeps_claims(before: &Value, after: &Value) -> Result<(), TestCaseError> {
    let after = by_members(after);
    for (members, gap) in by_members(before) {
        // Another place of the same copper may have come to light.
        let Some(later) = after.get(&members).filter(|later| later["tight"] == true) else { continue };
        prop_assert!(keeps(&gap["state"], &later["state"]), "{} then {}", gap, later);
        let ([least, greatest], [later_least, later_greatest]) = (bounds(gap), bounds(later));
        prop_assert!(later_least >= least * (1.0 - ROUNDING) - ROUNDING, "{} then {}", gap, later);
        prop_assert!(later_greatest <= greatest * (1.0 + ROUNDING) + ROUNDING, "{} then {}", gap, later);
    }
    Ok(())
}

/// The test set without the values of its last pass: all that is touched is touched.
fn without_last_values(tests: &Value) -> Value {
    let mut without = tests.clone();
    let last = without["pass"].as_array_mut().unwrap().last_mut().unwrap();
    for reading in last["reading"].as_array_mut().into_iter().flatten() {
        reading.as_object_mut().unwrap().remove("megohms");
    }
    without
}

fn without_last_pass(tests: &Value) -> Value {
    let mut without = tests.clone();
    without["pass"].as_array_mut().unwrap().pop();
    without
}

/// The further pass touches terminals that nothing is joined to. What leaks over them was part of the gaps between the
/// others, and is no more: so those have wider bounds, each the best for what it is about. A further value alone widens
/// none.
#[test]
fn a_terminal_that_comes_into_play_makes_gaps_of_its_own() {
    let read = |name: &str| -> Value {
        let path = format!("{}/tests/fixtures/locate/touched{name}.json", env!("CARGO_MANIFEST_DIR"));
        serde_json::from_slice(&std::fs::read(path).expect("the fixture is there")).expect("it is JSON")
    };
    let (installation, tests) = (read(""), read(".tests"));
    let report = |tests: &Value| report(&installation, tests, Assumptions::default());
    let [untouched, unread, after] =
        [without_last_pass(&tests), without_last_values(&tests), tests].map(|tests| report(&tests));
    let orange = |report: &Value| bounds(gap(report, "W9", ["orange", "red"]));
    assert!(untouched["summary"]["gaps"].as_u64() < after["summary"]["gaps"].as_u64());
    assert!(orange(&after)[0] < orange(&untouched)[0], "this is about less");
    assert_eq!(unread["summary"]["gaps"], after["summary"]["gaps"]);
    keeps_claims(&unread, &after).unwrap();
    for gap in entries(&untouched["gaps"]).iter().chain(entries(&after["gaps"])) {
        assert_eq!(gap["tight"], true, "{gap}");
    }
}

proptest! {
    #![proptest_config(times(160))]

    #[test]
    fn what_is_said_holds_for_leakage_planted_everywhere(planted in planted_cases()) {
        holds(LocateLimits::default(), planted)?;
    }

    /// Past any limit less is said, and what is said holds.
    #[test]
    fn what_is_said_past_tiny_limits_holds(planted in planted_cases(), limits in tiny_limits()) {
        holds(limits, planted)?;
    }

    /// More readings never take a claim back and never loosen a bound, as long as nothing contradicts.
    #[test]
    fn a_further_pass_takes_no_claim_back(
        case in cases(), dice in prop::collection::vec(any::<u8>(), 40..80), start in any::<usize>(),
    ) {
        let site = Leaking::of(&case.installation);
        let leaks = planted(&places(&case.installation), &dice);
        let mut longer = case.test_set.clone();
        longer["pass"].as_array_mut().unwrap().push(case.further_pass.clone());
        let longer = valued(&site, &longer, &leaks, start, false);
        let report = |tests: &Value| report(&case.installation, tests, Assumptions::default());
        let after = report(&longer);
        keeps_claims(&report(&without_last_values(&longer)), &after)?;
        // A lead on a terminal that nothing is joined to makes gaps of it: then the others are about less than before.
        let before = report(&without_last_pass(&longer));
        if before["summary"]["gaps"] == after["summary"]["gaps"] {
            keeps_claims(&before, &after)?;
        }
    }

    /// A worse instrument never says more.
    #[test]
    fn a_worse_instrument_claims_less(
        case in cases(), dice in prop::collection::vec(any::<u8>(), 40..80), start in any::<usize>(),
    ) {
        let site = Leaking::of(&case.installation);
        let leaks = planted(&places(&case.installation), &dice);
        let tests = valued(&site, &case.test_set, &leaks, start, false);
        let with = |percent: f64| {
            report(&case.installation, &tests, Assumptions::default().with_instrument(percent, Megohms(0.0)).unwrap())
        };
        let [fine, coarse] = [with(3.0), with(25.0)];
        let coarse = by_members(&coarse);
        for (members, gap) in by_members(&fine) {
            let Some(other) = coarse.get(&members).filter(|_| gap["tight"] == true) else { continue };
            prop_assert!(keeps(&other["state"], &gap["state"]), "{} and {}", gap, other);
            let ([least, greatest], [other_least, other_greatest]) = (bounds(gap), bounds(other));
            prop_assert!(other_least <= least * (1.0 + ROUNDING) + ROUNDING, "{} and {}", gap, other);
            prop_assert!(other_greatest >= greatest * (1.0 - ROUNDING) - ROUNDING, "{} and {}", gap, other);
        }
        prop_assert!(coarse.values().count() <= entries(&fine["gaps"]).len());
    }

    /// Other names in other orders: the same bounds for the same gaps.
    #[test]
    fn relabelling_changes_no_bound(case in cases(), dice in prop::collection::vec(any::<u8>(), 40..80)) {
        let site = Leaking::of(&case.installation);
        let leaks = planted(&places(&case.installation), &dice);
        let case = Case { test_set: valued(&site, &case.test_set, &leaks, 0, false), ..case };
        let other = renamed(&case);
        let one = report(&case.installation, &case.test_set, Assumptions::default());
        let two = report(&other.case.installation, &other.case.test_set, Assumptions::default());
        // A gap of lengths is known by the lengths and cores that it is in.
        let gaps = |report: &Value, name: &dyn Fn(&str) -> String| -> BTreeMap<BTreeSet<String>, (String, i64, i64)> {
            let known = |gap: &Value| -> Option<(BTreeSet<String>, (String, i64, i64))> {
                let lengths = entries(&gap["members"]).iter().filter(|member| member["length"].is_string());
                let names: BTreeSet<String> = lengths
                    .map(|member| {
                        let mut cores = [0, 1].map(|core: usize| match member["cores"][core].as_str().unwrap() {
                            "earth" => "earth".to_owned(),
                            core => name(core),
                        });
                        cores.sort();
                        format!("{} {cores:?}", name(member["length"].as_str().unwrap()))
                    })
                    .collect();
                let rounded = |value: f64| if value.is_finite() { (value * 1e6).round() as i64 } else { i64::MAX };
                let [least, greatest] = bounds(gap);
                let state = gap["state"].as_str().unwrap().to_owned();
                (!names.is_empty()).then(|| (names, (state, rounded(least), rounded(greatest))))
            };
            entries(&report["gaps"]).iter().filter_map(known).collect()
        };
        let (one, two) = (gaps(&one, &|name| other.name(name)), gaps(&two, &|name| name.to_owned()));
        prop_assert_eq!(one.len(), two.len());
        for (names, (state, least, greatest)) in &one {
            let (other_state, other_least, other_greatest) = &two[names];
            prop_assert_eq!(state, other_state);
            prop_assert!((least - other_least).abs() <= 1 && greatest.abs_diff(*other_greatest) <= 1, "{:?}", names);
        }
        // Where the search for the fewest faults was given up, what it came to is a bound, and depends on the order.
        let [(one, one_is_exact), (two, two_is_exact)] = [&case, &other.case].map(engine_faults);
        prop_assert!(one <= two || !two_is_exact, "{} and exactly {}", one, two);
        prop_assert!(two <= one || !one_is_exact, "exactly {} and {}", one, two);
    }

    /// What `next` asks for, read again and again with one fault hidden among healthy cable, from just above the limit
    /// to hardly any insulation: it ends, and the fault is never cleared and always among the suspects.
    #[test]
    fn a_session_ends_with_the_fault_among_its_suspects(hidden in one_hidden()) {
        is_among_the_suspects(&LocateLimits::default(), hidden)?;
    }

    /// Past any limit less is asked for, and the fault is not ruled out.
    #[test]
    fn a_session_past_tiny_limits_ends_with_the_fault_among_its_suspects(hidden in one_hidden(), limits in tiny_limits()) {
        is_among_the_suspects(&limits, hidden)?;
    }

    /// With several faults it ends too, and never asks for what was read already.
    #[test]
    fn a_session_with_several_faults_ends(
        case in cases(),
        which in prop::collection::vec((any::<prop::sample::Index>(), prop::sample::select(vec![0.3, 0.8, 5.0, 150.0])), 2..5),
        maybe in any::<bool>(),
    ) {
        let places = places(&case.installation);
        if !places.is_empty() {
            let hidden = which.iter().map(|(which, leak)| {
                let [one, other] = which.get(&places).clone();
                (one, other, *leak)
            });
            let leaks: Vec<Leak> = hidden.collect();
            let site = Leaking::of(&case.installation);
            session(&LocateLimits::default(), &case.installation, &site, &case.test_set, &leaks, maybe)?;
        }
    }
}

/// How many faults there are at least, and whether so many are known to explain all.
fn engine_faults(case: &Case) -> (u64, bool) {
    let report = report(&case.installation, &case.test_set, Assumptions::default());
    (report["faults"]["at_least"].as_u64().unwrap(), report["faults"]["exact"].as_bool().unwrap())
}

/// A case, the place of one fault, its leakage, and whether what may conduct does.
type Hidden = (Case, prop::sample::Index, f64, bool);

fn one_hidden() -> impl Strategy<Value = Hidden> {
    let leak = prop::sample::select(vec![0.51, 0.7, 1.0, 1.3, 12.5, 150.0]);
    (cases(), any::<prop::sample::Index>(), leak, any::<bool>())
}

fn is_among_the_suspects(limits: &LocateLimits, (case, which, leak, maybe): Hidden) -> Result<(), TestCaseError> {
    let places = places(&case.installation);
    if places.is_empty() {
        return Ok(());
    }
    let place = which.get(&places);
    let leaks = vec![(place[0].clone(), place[1].clone(), leak)];
    let site = Leaking::of(&case.installation);
    let (found, _) = session(limits, &case.installation, &site, &case.test_set, &leaks, maybe)?;
    let own = entries(&found["gaps"]).iter().find(|gap| is_same(&site, &sides(&gap["members"][0]), place));
    prop_assert!(own.is_none_or(|gap| gap["state"] != "cleared"), "{:?}: {:?}", place, own);
    if found["faults"]["at_least"] == 1 {
        prop_assert!(own.is_some_and(|gap| gap["explains_alone"] == true), "{:?}: {}", place, found["faults"]);
        let own = own.expect("just looked at");
        let mut groups = entries(&found["faults"]["suspects"]).iter().flat_map(entries);
        prop_assert!(groups.any(|gap| *gap == own["gap"]), "{}", found["faults"]);
    }
    Ok(())
}

/// Whether a test set leaves a link in the place of what this holds.
fn is_left_linked(tests: &Value, name: &str) -> bool {
    let start = &tests["start"][name];
    let mut is_linked = start == "linked" || entries(start).iter().any(|word| word == "linked");
    for pass in entries(&tests["pass"]) {
        for (key, state) in [("remove", false), ("link", true), ("refit", false)] {
            if entries(&pass[key]).iter().any(|holder| holder == name) {
                is_linked = state;
            }
        }
    }
    is_linked
}

/// Follows what `next` asks for, with readings from leakage that is hidden, to its end: what is found then, and how
/// many readings were asked for.
fn session(
    limits: &LocateLimits,
    installation: &Value,
    site: &Leaking,
    tests: &Value,
    leaks: &[Leak],
    maybe: bool,
) -> Result<(Value, usize), TestCaseError> {
    let network = engine::network(&engine::from_value(installation));
    let mut tests = tests.clone();
    let mut asked = 0;
    let mut taken: BTreeSet<String> = BTreeSet::new();
    let mut stands: BTreeMap<String, Value> = BTreeMap::new();
    loop {
        let tests_read = valued(site, &tests, leaks, 0, maybe);
        let found = report_within(limits.clone(), installation, &tests_read, Assumptions::default());
        let next = found["next"].clone();
        if next["do"] != "read" {
            return Ok((found, asked));
        }
        let more = entries(&next["if_more"]["suspects"]).len();
        let before = entries(&next["suspects"]).len();
        prop_assert!(
            more < before || next["if_more"]["contradicts"] == true || next["confirms"].is_number(),
            "it says something when it is high: {}",
            next
        );
        prop_assert!(before == 1 || next["confirms"].is_null(), "it confirms what is left: {}", next);
        // As `locate` says: everything off and out, but what is linked stays so; then what is operated.
        let mut pass = json!({ "set": {}, "remove": [], "reading": [{ "between": next["between"] }] });
        if asked == 0 {
            for device in entries(&network["devices"]).iter().filter(|device| device["worked_at"] == "board") {
                pass["set"][device["device"].as_str().unwrap()] = "off".into();
            }
            let removable = entries(&network["bridges"]).iter().filter(|bridge| bridge["removable"] == true);
            let names = removable.map(|bridge| bridge["id"].as_str().unwrap());
            let names: BTreeSet<&str> = names.filter(|name| !is_left_linked(&tests, name)).collect();
            pass["remove"] = json!(names);
        }
        for set in entries(&next["set"]) {
            pass["set"][set["device"].as_str().unwrap()] = set["to"].clone();
            stands.insert(set["device"].as_str().unwrap().to_owned(), set["to"].clone());
        }
        let reading = format!("{} {} {} {:?}", next["between"], next["circuit"], next["board"], stands);
        prop_assert!(taken.insert(reading), "asked again: {}", next);
        // The demo and the random cases have the supply at DB1: its incoming terminals are live whatever is off.
        let fed = entries(&installation["length"])
            .iter()
            .any(|length| length["to"] == "DB1.in" || length["from"] == "DB1.in");
        let is_live = entries(&next["between"]).iter().any(|lead| lead.as_str().unwrap().contains("DB1.in."));
        prop_assert!(fed || !is_live, "a lead is on what is live: {}", next);
        prop_assert!(next["volts"].is_number(), "{}", next);
        for key in ["circuit", "board"] {
            if next[key].is_string() {
                pass["reading"][0][key] = next[key].clone();
            }
        }
        tests["pass"].as_array_mut().unwrap().push(pass);
        asked += 1;
        // With several faults some sessions ask for more readings than there are gaps; yet they end.
        prop_assert!(asked < 4 * entries(&found["gaps"]).len().max(15), "the session does not end: {}", next);
    }
}

/// 0.9 MΩ with 30 % of error is 0.64 to 1.18 MΩ, more than the limit of 0.5 µS lets healthy gaps leak together; a gap
/// that a further reading bounds below the limit is no fault, though it and others may come to that together.
#[test]
fn a_reading_about_the_limit_is_split_as_a_lower_one_is() {
    let installation = small::fixture("two-way").installation;
    let tests = json!({ "format": 1, "pass": [{ "reading": [
        { "circuit": "C1", "between": ["L+N", "E"], "megohms": 0.9 }] }] });
    let found = report(&installation, &tests, Assumptions::default());
    assert_eq!(found["next"]["do"], "read", "{}", found["next"]);
    assert_eq!(found["next"]["between"], json!(["L", "E"]));
    let [more, less] = ["if_more", "if_less"].map(|key| entries(&found["next"][key]["suspects"]).len());
    assert!(more < entries(&found["next"]["suspects"]).len() && less < entries(&found["next"]["suspects"]).len());
}

/// A socket on each of some ways of one board.
fn sockets(circuits: Vec<Value>) -> Value {
    let length = |number: usize| {
        json!({ "id": format!("W{number}"), "circuit": format!("C{number}"), "from": format!("DB1/{number}"),
                "to": format!("X{number}"), "metres": 10, "cores": { "brown": ["L", "L"], "blue": ["N", "N"], "cpc": ["E", "E"] } })
    };
    let all = 1..=circuits.len();
    let way = |number: usize| json!({ "id": number.to_string(), "device": "mcb" });
    let point =
        |number: usize| json!({ "id": format!("X{number}"), "kind": "socket", "circuit": format!("C{number}") });
    json!({
        "format": 1,
        "installation": { "name": "Sockets", "nominal_voltage": 230, "earthing": "TT" },
        "board": [{ "id": "DB1", "origin": true, "way": all.clone().map(way).collect::<Vec<_>>() }],
        "circuit": circuits,
        "point": all.clone().map(point).collect::<Vec<_>>(),
        "length": all.map(length).collect::<Vec<_>>(),
    })
}

/// Line and neutral leak 0.4 µS each to earth, and each was read alone: neither is a fault, and together they are more
/// than the limit of 0.5 µS.
#[test]
fn lesser_leaks_that_add_up_are_called_that() {
    let installation = sockets(vec![json!({ "id": "C1", "way": "DB1/1" })]);
    let read = |between: [&str; 2], megohms: f64| json!({ "circuit": "C1", "between": between, "megohms": megohms });
    let readings = [read(["L", "E"], 2.5), read(["N", "E"], 2.5), read(["L+N", "E"], 1.25), read(["L", "N"], 4.9)];
    let tests = json!({ "format": 1, "pass": [{ "set": { "DB1.main": "off", "DB1/1": "off" }, "reading": readings }] });
    let found = report(&installation, &tests, exact());
    assert_eq!(found["faults"]["at_least"], 1, "{}", found["faults"]);
    assert_eq!(gap(&found, "W1", ["brown", "cpc"])["state"], "cleared");
    assert_eq!(gap(&found, "W1", ["blue", "cpc"])["state"], "cleared");
    assert_eq!(found["next"]["why"], "adds-up", "{}", found["next"]);
}

/// C1 may be tested at 250 V, C2 may not: a reading at 250 V that both are in clears C1's copper and not C2's.
#[test]
fn what_asks_for_more_is_not_cleared_at_less() {
    let installation = sockets(vec![
        json!({ "id": "C1", "way": "DB1/1", "relief": "what is built in" }),
        json!({ "id": "C2", "way": "DB1/2" }),
    ]);
    for (reading, on) in [
        (json!({ "board": "DB1", "between": ["L+N", "E"], "volts": 250, "megohms": 400.0 }), "on"),
        (json!({ "circuit": "C1", "between": ["L+N", "E"], "volts": 250, "megohms": 400.0 }), "off"),
    ] {
        let tests = json!({ "format": 1, "pass": [{ "set": { "DB1/1": on, "DB1/2": on }, "reading": [reading] }] });
        let found = report(&installation, &tests, exact());
        assert_eq!(gap(&found, "W1", ["brown", "cpc"])["state"], "cleared");
        // All neutrals are one piece of copper, C2's among them.
        assert_eq!(gap(&found, "W1", ["blue", "cpc"])["state"], "not-read");
        if on == "on" {
            assert_eq!(gap(&found, "W2", ["brown", "cpc"])["state"], "not-read");
        }
        assert_eq!(found["readings"][0]["taken_below_volts"], 500);
    }
}

/// Two faults that no finite reading bounds: the reading that was taken is not asked for again and again.
#[test]
fn what_was_read_is_not_asked_for_again() {
    let mut passes = vec![json!({ "reading": [
        { "circuit": "C1", "between": ["L+N", "E"], "megohms": "<0.01" }, { "circuit": "C1", "between": ["L", "N"], "megohms": 0.01 }] })];
    for _ in 0..40 {
        let found = report(
            &small::fixture("two-way").installation,
            &json!({ "format": 1, "pass": passes }),
            Assumptions::default(),
        );
        let next = &found["next"];
        if next["do"] != "read" {
            return;
        }
        let mut reading = json!({ "between": next["between"], "megohms": 0.01 });
        for key in ["circuit", "board"] {
            if next[key].is_string() {
                reading[key] = next[key].clone();
            }
        }
        let set: serde_json::Map<String, Value> = entries(&next["set"])
            .iter()
            .map(|set| (set["device"].as_str().unwrap().to_owned(), set["to"].clone()))
            .collect();
        let pass = json!({ "set": set, "reading": [reading] });
        assert!(passes.last() != Some(&pass), "asked again: {next}");
        passes.push(pass);
    }
    panic!("the session does not end");
}

/// More circuits on one neutral bar than are solved: what single sums tell is said, and where they tell nothing it is
/// not called healthy.
#[test]
fn a_block_too_large_to_solve_is_not_called_healthy() {
    let all = 1..=400;
    let installation = sockets(
        all.clone().map(|number| json!({ "id": format!("C{number}"), "way": format!("DB1/{number}") })).collect(),
    );
    let reading = |number: usize| {
        let megohms = 0.03 + 0.0001 * number as f64;
        json!({ "circuit": format!("C{number}"), "between": ["L+N", "E"], "megohms": megohms })
    };
    let tests = json!({ "format": 1, "pass": [{ "reading": all.map(reading).collect::<Vec<_>>() }] });
    let found = report(&installation, &tests, exact());
    assert!(found["faults"]["at_least"].as_u64() >= Some(1), "{}", found["faults"]);
    assert_ne!(found["next"]["why"], "no-fault");
    assert!(!entries(&found["faults"]["suspects"][0]).is_empty());
}

/// A sum that a large block is solved without is broken by whatever keeps the others: nothing is said to explain the
/// readings.
#[test]
fn sums_that_were_left_out_are_explained_too() {
    let read = |between: [&str; 2], megohms: f64| json!({ "circuit": "C1", "between": between, "megohms": megohms });
    let installation = small::fixture("ring-final").installation;
    let circuit = installation["circuit"][0]["id"].clone();
    let tests = |all: f64| {
        let mut readings =
            [read(["L+N", "E"], all), read(["L", "E"], 40.0), read(["N", "E"], 40.0), read(["L", "N"], 40.0)];
        readings.iter_mut().for_each(|reading| reading["circuit"] = circuit.clone());
        let on = json!({ "DB1.main": "on", "DB1/1": "on", "F1": "on" });
        json!({ "format": 1, "pass": [{ "set": on, "reading": readings }] })
    };
    // Each of the two alone leaks 1/40 µS at most, and both together 1/4 µS at least: that is healthy, and can't be.
    for (all, is_explained) in [(20.0, true), (4.0, false)] {
        for block_with_all_sums in [1 << 13, 0] {
            let mut limits = LocateLimits::default();
            limits.block_with_all_sums = block_with_all_sums;
            let found = report_within(limits, &installation, &tests(all), exact());
            assert_eq!(found["faults"]["at_least"], 0, "{found}");
            let is_healthy = found["faults"]["exact"] == true && found["conflicts"] == json!([]);
            assert_eq!(is_healthy, is_explained, "{all} {block_with_all_sums} {}", found["faults"]);
            assert_eq!(found["next"]["why"] == "no-fault", is_explained, "{}", found["next"]);
        }
    }
}

#[test]
fn every_fault_of_the_stair_that_shows_is_found() {
    let mut installation = small::fixture("intermediate").installation;
    // The stair as it is known to stand.
    for point in installation["point"].as_array_mut().unwrap() {
        point["visible"] = true.into();
    }
    let site = Leaking::of(&installation);
    let start = json!({ "format": 1, "pass": [
        { "reading": [{ "circuit": "C1", "between": ["L+N", "E"] }, { "circuit": "C1", "between": ["L", "N"] }] } ] });
    let mut shown = 0;
    for [one, other] in places(&installation) {
        let leaks = vec![(one.clone(), other.clone(), 10.0)];
        let limits = LocateLimits::default();
        let (found, _) = session(&limits, &installation, &site, &start, &leaks, false).expect("the session ends");
        if found["faults"]["at_least"] == 0 {
            continue;
        }
        shown += 1;
        let suspects = entries(&found["faults"]["suspects"][0]);
        assert_eq!(suspects.len(), 1, "{one} to {other} ends at {}", found["next"]);
        let own = entries(&found["gaps"]).iter().find(|gap| gap["gap"] == suspects[0]).unwrap();
        assert!(site.between(&leaks, &sides(&own["members"][0])[0], &sides(&own["members"][0])[1]) > 0.0);
    }
    assert!(shown >= 6, "only {shown} faults were to be seen from the usual readings");
}

#[test]
fn the_solver_of_the_oracle_is_right_by_hand() {
    let installation = small::fixture("two-way").installation;
    let site = Leaking::of(&installation);
    let leak = |one: &str, other: &str, leak: f64| (one.to_owned(), other.to_owned(), leak);
    // Black floats: 2 uS in series with 2 uS is 1 uS, beside 0.25 uS straight across.
    let leaks = [leak("W2 brown", "W2 black", 2.0), leak("W2 black", "W2 cpc", 2.0), leak("W1 brown", "W1 cpc", 0.25)];
    let tests = json!({ "pass": [{ "reading": [{ "circuit": "C1", "between": ["L", "E"] }] }] });
    let found = site.measure(&tests, &leaks, 0, false)[0][0].unwrap();
    assert!(close(found, 1.25), "{found}");
}

/// A file of this folder's fixtures.
fn fixture(name: &str) -> Value {
    let path = format!("{}/tests/fixtures/locate/{name}.toml", env!("CARGO_MANIFEST_DIR"));
    toml::from_str(&std::fs::read_to_string(path).expect("the fixture is there")).expect("it is TOML")
}

fn demo() -> Value {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/demo/skerry-light.toml");
    toml::from_str(&std::fs::read_to_string(path).expect("the demo is there")).expect("it is TOML")
}

/// Records on which question after question once told nothing. In the first two, neutrals on one bar leak to earth and no
/// further reading splits what is left; in the third two places of the tower stair leak, whose line by itself tells most:
/// its neutral is on the bar that all circuits share.
#[test]
fn what_tells_nothing_more_is_not_asked_for() {
    for name in ["long-921011-1", "long-960001-3"] {
        let found = report(&fixture(name), &fixture(&format!("{name}.tests")), Assumptions::default());
        assert_eq!([&found["next"]["do"], &found["next"]["why"]], ["nothing", "not-split"], "{name}");
    }
    let found = report(&demo(), &fixture("demo-two-929019.tests"), Assumptions::default());
    let next = &found["next"];
    assert_eq!([&next["do"], &next["circuit"], &next["between"]], [&json!("read"), &json!("C2"), &json!(["L", "E"])]);
    assert_eq!([&found["faults"]["at_least"], &found["faults"]["exact"]], [&json!(2), &json!(true)]);
}

/// Two circuits leak alike, and the one place that would explain both alone was on no lead by itself, or on none at all: a
/// reading has it so first. If that is good the fault is not there, and nobody is sent to part copper.
#[test]
fn a_place_that_nobody_measured_is_read_before_it_is_the_answer() {
    for (installation, tests) in [
        (fixture("alike"), fixture("alike.tests")),
        (fixture("bars"), fixture("bars.tests")),
        (demo(), fixture("demo-alike")),
    ] {
        let found = report(&installation, &tests, Assumptions::default());
        let next = &found["next"];
        assert_eq!(next["do"], "read", "{next}");
        assert_eq!(next["suspects"], json!([next["confirms"]]));
        let taken = |megohms: Value| {
            let mut reading = json!({ "between": next["between"], "volts": next["volts"], "megohms": megohms });
            for key in ["circuit", "board"] {
                if next[key].is_string() {
                    reading[key] = next[key].clone();
                }
            }
            let mut longer = tests.clone();
            longer["pass"].as_array_mut().unwrap().push(json!({ "reading": [reading] }));
            report(&installation, &longer, Assumptions::default())
        };
        let good = taken(json!(">500"));
        assert!(good["faults"]["at_least"].as_u64() >= Some(2), "{}", good["faults"]);
        let gaps = entries(&good["gaps"]);
        let own = gaps.iter().find(|gap| gap["gap"] == next["confirms"]).unwrap();
        assert_eq!(own["state"], "cleared");
        let low = taken(json!(0.02));
        assert!(low["next"]["do"] == "part" || low["next"]["why"] == "found", "{}", low["next"]);
    }
}

/// A few dice, always the same: SplitMix64 (Steele, Lea and Flood, 2014; from memory).
struct SplitMix(u64);

impl SplitMix {
    fn below(&mut self, count: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mixed = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        let mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((mixed ^ (mixed >> 31)) % count as u64) as usize
    }
}

/// Two readings at each way, as is usual.
fn usual(installation: &Value) -> Value {
    let ways: BTreeMap<String, &Value> = entries(&installation["board"])
        .iter()
        .flat_map(|board| entries(&board["way"]).iter().map(move |way| (board, way)))
        .map(|(board, way)| (format!("{}/{}", board["id"].as_str().unwrap(), way["id"].as_str().unwrap()), way))
        .collect();
    let read = |circuit: &Value| {
        let poles = entries(&ways.get(circuit["way"].as_str()?)?["poles"]);
        let lines = if poles.len() > 1 {
            poles.iter().map(|pole| pole.as_str().unwrap()).collect::<Vec<_>>().join("+")
        } else {
            "L".to_owned()
        };
        let between = [[format!("{lines}+N"), "E".to_owned()], [lines, "N".to_owned()]];
        Some(between.map(|between| json!({ "circuit": circuit["id"], "between": between, "volts": 500 })))
    };
    let readings: Vec<Value> = entries(&installation["circuit"]).iter().filter_map(read).flatten().collect();
    json!({ "format": 1, "pass": [{ "reading": readings }] })
}

/// How many readings are asked for until a place is left or none can tell more, with so many faults hidden by dice: for
/// each case that, and the least number that splits as many suspects as there are at first in two.
fn readings_asked_for(
    installation: &Value,
    faults: usize,
    leaks: [f64; 4],
    seeds: std::ops::Range<u64>,
) -> Vec<[usize; 2]> {
    let (places, site, tests) = (places(installation), Leaking::of(installation), usual(installation));
    let mut asked_for = Vec::new();
    for seed in seeds {
        let mut dice = SplitMix(seed);
        let hidden = (0..faults).map(|_| {
            let [one, other] = places[dice.below(places.len())].clone();
            (one, other, leaks[dice.below(leaks.len())])
        });
        let hidden: Vec<Leak> = hidden.collect();
        let first = report(installation, &valued(&site, &tests, &hidden, 0, false), Assumptions::default());
        let suspects: BTreeSet<u64> =
            entries(&first["faults"]["suspects"]).iter().flat_map(entries).filter_map(Value::as_u64).collect();
        if suspects.is_empty() {
            continue;
        }
        let limits = LocateLimits::default();
        let (_, asked) = session(&limits, installation, &site, &tests, &hidden, false).expect("the session ends");
        asked_for.push([asked, suspects.len().next_power_of_two().ilog2() as usize]);
    }
    asked_for
}

/// One, two and three faults: how many readings it takes against the least that could split the suspects, with one more
/// that confirms the place that is left.
#[test]
fn faults_are_found_in_few_readings() {
    let installations = [fixture("alike"), fixture("bars"), fixture("near-limit")];
    let low = [0.8, 2.0, 10.0, 50.0];
    let near = [0.55, 0.6, 0.65, 0.75];
    for (leaks, most) in [(low, [1.6, 1.6, 1.6]), (near, [2.0, 2.0, 2.0])] {
        for (faults, most) in (1..).zip(most) {
            let asked_for: Vec<[usize; 2]> =
                installations.iter().flat_map(|file| readings_asked_for(file, faults, leaks, 0..12)).collect();
            let worst = asked_for.iter().map(|row| row[0]).max().unwrap_or_default();
            let [asked, ideal] = [0, 1].map(|column| asked_for.iter().map(|row| row[column]).sum::<usize>() as f64);
            println!(
                "{faults} faults {leaks:?}: {} cases, {asked} readings, {ideal} ideal, worst {worst}",
                asked_for.len()
            );
            assert!(worst <= 20, "{faults} faults: {worst} readings");
            assert!(asked <= most * (ideal + asked_for.len() as f64), "{faults} faults: {asked} readings, {ideal}");
        }
    }
}

/// Two faults of the demo.
#[test]
fn two_faults_of_the_demo_are_found_in_few_readings() {
    let asked_for = readings_asked_for(&demo(), 2, [0.8, 2.0, 10.0, 50.0], 0..3);
    let worst = asked_for.iter().map(|row| row[0]).max().unwrap_or_default();
    let [asked, ideal] = [0, 1].map(|column| asked_for.iter().map(|row| row[column]).sum::<usize>() as f64);
    println!("{} cases, {asked} readings, {ideal} ideal, worst {worst}", asked_for.len());
    assert!(worst <= 20 && asked <= 1.6 * ideal, "{asked_for:?}");
}

/// Two boxes with thousands of terminals: what lies between each two of them is not made, and no fault is said to be
/// elsewhere.
#[test]
fn a_box_with_thousands_of_terminals_has_no_gaps_and_no_one_else_has_its_faults() {
    let mut installation = sockets(vec![json!({ "id": "C1", "way": "DB1/1" })]);
    installation["point"].as_array_mut().unwrap().push(json!({ "id": "J", "kind": "junction", "circuit": "C1" }));
    installation["point"].as_array_mut().unwrap().push(json!({ "id": "K", "kind": "junction", "circuit": "C1" }));
    let lengths = installation["length"].as_array_mut().unwrap();
    lengths[0]["to"] = json!("J");
    lengths.extend((0..20).map(|number| {
        let core = |core: usize| {
            (format!("c{core}"), json!([format!("j{number}.{core}").replace('.', "_"), format!("k{number}_{core}")]))
        };
        let cores: serde_json::Map<String, Value> = (0..60).map(core).collect();
        json!({ "id": format!("V{number}"), "circuit": "C1", "from": "J", "to": "K", "metres": 1, "cores": cores })
    }));
    let read = |megohms: f64| json!({ "circuit": "C1", "between": ["L+N", "E"], "megohms": megohms, "volts": 500 });
    let tests = |megohms: f64| json!({ "format": 1, "pass": [{ "reading": [read(megohms)] }] });
    let low = report(&installation, &tests(0.5), Assumptions::default());
    assert!(low["summary"]["gaps"].as_u64() < Some(1 << 18), "{}", low["summary"]);
    assert_eq!((&low["faults"]["at_least"], &low["next"]["why"]), (&json!(0), &json!("not-solved")));
    let good = report(&installation, &tests(500.0), Assumptions::default());
    assert_eq!(gap(&good, "W1", ["brown", "cpc"])["state"], "cleared");
    assert_eq!(good["next"]["why"], "no-fault");
}
