//! Clusters of switches with too many settings to list: answers known by hand, plans followed through coverage, and
//! both searches on clusters that either can do.

use serde_json::{Value, json};

use crate::asked::Asked;
use crate::engine::{self, total};
use crate::laws::{check_plan, followed};
use crate::small;

/// A circuit as it grows.
struct Wiring {
    points: Vec<Value>,
    lengths: Vec<Value>,
}

impl Wiring {
    fn new() -> Wiring {
        Wiring { points: Vec::new(), lengths: Vec::new() }
    }

    fn point(&mut self, kind: &str) -> String {
        let id = format!("P{}", self.points.len());
        let mut point = json!({ "id": id, "kind": kind, "circuit": "C1" });
        if let Some(stands) = match kind {
            "two-way" => Some("L1"),
            "intermediate" => Some("straight"),
            _ => None,
        } {
            point["stands"] = stands.into();
        }
        self.points.push(point);
        id
    }

    fn length(&mut self, from: &str, to: &str, cores: &[(&str, &str)]) {
        let mut joins = json!({ "cpc": ["E", "E"] });
        for (number, (near, far)) in cores.iter().enumerate() {
            joins[format!("c{number}")] = json!([near, far]);
        }
        let id = format!("W{}", self.lengths.len());
        self.lengths.push(json!({ "id": id, "circuit": "C1", "from": from, "to": to, "metres": 2.0, "cores": joins }));
    }

    /// A light fed from a terminal, with no neutral: what lies before it is what is asked about.
    fn light(&mut self, from: &str, terminal: &str) {
        let light = self.point("luminaire");
        self.length(from, &light, &[(terminal, "L")]);
    }

    fn finish(self) -> Value {
        json!({
            "format": 1,
            "installation": { "name": "Many switches", "nominal_voltage": 230, "earthing": "TN-S" },
            "board": [{ "id": "DB1", "origin": true, "way": [{ "id": "1", "device": "mcb" }] }],
            "circuit": [{ "id": "C1", "way": "DB1/1" }],
            "point": self.points,
            "length": self.lengths,
        })
    }
}

/// Two-way switches one behind another, each with a light on its second way and one at the end.
fn stairs(count: usize) -> Value {
    let mut wiring = Wiring::new();
    let mut feed = ("DB1/1".to_owned(), "L");
    for _ in 0..count {
        let switch = wiring.point("two-way");
        wiring.length(&feed.0, &switch, &[(feed.1, "COM")]);
        wiring.light(&switch, "L2");
        feed = (switch, "L1");
    }
    wiring.light(&feed.0, feed.1);
    wiring.finish()
}

/// Two two-way switches with intermediate ones between.
pub fn corridor(intermediates: usize) -> Value {
    let mut wiring = Wiring::new();
    let mut last = wiring.point("two-way");
    wiring.length("DB1/1", &last, &[("L", "COM")]);
    let mut out = ["L1", "L2"];
    for _ in 0..intermediates {
        let next = wiring.point("intermediate");
        wiring.length(&last, &next, &[(out[0], "A1"), (out[1], "A2")]);
        (last, out) = (next, ["B1", "B2"]);
    }
    let next = wiring.point("two-way");
    wiring.length(&last, &next, &[(out[0], "L1"), (out[1], "L2")]);
    wiring.light(&next, "COM");
    wiring.finish()
}

/// Selectors behind selectors.
fn selectors(levels: usize, ways: usize) -> Value {
    fn grow(wiring: &mut Wiring, feed: (&str, &str), levels: usize, ways: usize) {
        let selector = wiring.point(&format!("selector-{ways}"));
        wiring.length(feed.0, &selector, &[(feed.1, "COM")]);
        for way in 1..=ways {
            let terminal = format!("P{way}");
            match levels {
                1 => wiring.light(&selector, &terminal),
                _ => grow(wiring, (&selector, &terminal), levels - 1, ways),
            }
        }
    }
    let mut wiring = Wiring::new();
    grow(&mut wiring, ("DB1/1", "L"), levels, ways);
    wiring.finish()
}

/// Switches wired as they come: each is fed from terminals of some of those before it.
fn jumbled(count: usize, seed: u64) -> Value {
    let mut state = seed;
    let mut below = |limit: usize| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as usize % limit
    };
    let kinds: [(&str, &[&str]); 4] = [
        ("two-way", &["COM", "L1", "L2"]),
        ("intermediate", &["A1", "A2", "B1", "B2"]),
        ("one-way", &["COM", "L1"]),
        ("selector-3", &["COM", "P1", "P2", "P3"]),
    ];
    let mut wiring = Wiring::new();
    let mut open: Vec<(String, &str)> = vec![("DB1/1".to_owned(), "L")];
    for _ in 0..count {
        let (kind, terminals) = kinds[[0, 0, 1, 1, 2, 3][below(6)]];
        let point = wiring.point(kind);
        let mut terminals = terminals.to_vec();
        for _ in 0..[1, 2, 2][below(3)] {
            let own = terminals.swap_remove(below(terminals.len()));
            let from = open.len() - open.len().min(6);
            let (feed, terminal) = open[from + below(open.len() - from)].clone();
            wiring.length(&feed, &point, &[(terminal, own)]);
        }
        open.extend(terminals.into_iter().map(|terminal| (point.clone(), terminal)));
    }
    for (point, terminal) in open.split_off(open.len() - open.len().min(4)) {
        wiring.light(&point, terminal);
    }
    wiring.finish()
}

fn walks_and_operations(plan: &Value) -> [u64; 2] {
    ["walks", "operations"].map(|what| total(plan, what))
}

fn plan_followed(installation: &Value, asked: &Asked) -> Value {
    let plan = engine::plan_asked(installation, None, asked);
    check_plan(installation, None, asked, &plan).unwrap_or_else(|error| panic!("{error}"));
    plan
}

/// Each light behind switch k needs the k - 1 switches before it in their first position and switch k in its second, so
/// no two are tested in one setting; from the last to the first, each takes one operation.
#[test]
fn stairs_of_forty_switches_take_forty_walks_of_one_operation() {
    for count in [17, 40] {
        let plan = plan_followed(&stairs(count), &Asked::of("standard"));
        assert_eq!(walks_and_operations(&plan), [count as u64; 2]);
        assert!(engine::is_optimal(&plan), "{}", plan["optimal"]);
        assert_eq!(plan["why_no_fewer_walks"]["proof"], "exclude-one-another");
    }
    // Put back in the end: one walk more, with one operation for each switch.
    let plan = plan_followed(&stairs(18), &Asked { restore: true, ..Asked::of("standard") });
    assert_eq!(walks_and_operations(&plan), [19, 36]);
    assert!(plan["optimal"]["walks"] == true, "{}", plan["optimal"]);
}

/// Every pair takes the walks that it takes without: they put each position under test, but the first switch's second,
/// which the last walk does, and operate each switch.
#[test]
fn each_of_eighteen_switches_is_operated_and_comes_under_test() {
    let asked = Asked { each_switch: true, ..Asked::of("standard") };
    let plan = plan_followed(&stairs(18), &asked);
    assert_eq!(walks_and_operations(&plan), [18; 2]);
    assert!(engine::is_optimal(&plan), "{}", plan["optimal"]);
    assert_eq!(plan["switches"], json!([]));
    // In a corridor one operation tests all pairs; each switch asks for its own, and each strapper for both its ends.
    let plan = plan_followed(&corridor(16), &asked);
    assert_eq!(total(&plan, "operations"), 18);
    assert!(engine::is_optimal(&plan), "{}", plan["optimal"]);
    assert_eq!(plan["switches"], json!([]));
}

/// Nobody knows how any of forty switches stands, and each is to come under test both ways: every one is planned, and
/// each takes an operation.
#[test]
fn each_of_forty_unread_switches_is_planned() {
    let mut installation = corridor(38);
    for point in installation["point"].as_array_mut().unwrap() {
        point.as_object_mut().unwrap().remove("stands");
    }
    let plan = plan_followed(&installation, &Asked { each_switch: true, ..Asked::of("standard") });
    assert_eq!((&plan["switches"], &plan["not_planned"]), (&json!([]), &Value::Null));
    assert!(plan["bounds"]["operations"].as_u64() >= Some(40), "{}", plan["bounds"]);
}

/// Of the two strappers one is on the lead, however many switches lie between; any one operation changes which.
#[test]
fn a_corridor_of_forty_switches_takes_one_operation_however_they_stood() {
    let installation = corridor(38);
    let asked = Asked::of("standard");
    let plan = plan_followed(&installation, &asked);
    assert_eq!(walks_and_operations(&plan), [1, 1]);
    assert!(engine::is_optimal(&plan));

    let switches: Vec<&str> = installation["point"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|point| point["kind"] != "luminaire")
        .map(|point| point["id"].as_str().unwrap())
        .collect();
    let start = |stands: &dyn Fn(usize) -> &'static str| {
        let start: serde_json::Map<String, Value> =
            switches.iter().enumerate().map(|(number, id)| ((*id).to_owned(), json!(stands(number)))).collect();
        json!({ "format": 1, "start": start, "pass": [] })
    };
    let unknown = start(&|_| "unknown");
    let plan = engine::plan_asked(&installation, Some(&unknown), &asked);
    check_plan(&installation, Some(&unknown), &asked, &plan).unwrap_or_else(|error| panic!("{error}"));
    assert_eq!(walks_and_operations(&plan), [1, 1]);
    assert!(engine::is_optimal(&plan), "{}", plan["optimal"]);
    assert_eq!((plan["untestable"].clone(), plan["not_planned"].clone()), (json!([]), Value::Null));
    let report = engine::cover(&installation, &followed(&installation, &unknown, &plan), "standard");
    assert_eq!(report["summary"]["not_tested"], 0);

    // As things are found: of each two strappers one is not tested, and nobody knows which, nor whether the light is.
    let mut found = unknown.clone();
    found["pass"] = json!([{ "reading": [{ "circuit": "C1", "between": ["L+N", "E"] }] }]);
    let report = engine::cover(&installation, &found, "standard");
    assert_eq!(report["summary"]["not_tested"], 39 * 2 + 1);
    let groups = report["pairs"].as_array().unwrap().iter().filter(|pair| pair["one_of"] != Value::Null);
    assert_eq!(groups.map(|pair| &pair["one_of"]).collect::<Vec<_>>(), [&json!([["c0", "cpc"], ["c1", "cpc"]]); 78]);
    // The example of a start shows it.
    for pair in report["pairs"].as_array().unwrap().iter().filter(|pair| pair["tested"] == false) {
        let Some(example) = pair["missed"]["example"].as_array() else { continue };
        let mut known = found.clone();
        for row in example {
            known["start"][row[0].as_str().unwrap()] = row[1].clone();
        }
        let report = engine::cover(&installation, &known, "standard");
        let same = report["pairs"]
            .as_array()
            .unwrap()
            .iter()
            .find(|row| row["length"] == pair["length"] && row["cores"] == pair["cores"]);
        assert_eq!(same.unwrap()["tested"], false, "{pair}");
    }
}

/// 144 lights, of which one setting tests one: the one that stands ready costs no walk.
#[test]
fn twelve_selectors_of_twelve_ways_take_a_walk_for_each_light_but_one() {
    let plan = plan_followed(&selectors(2, 12), &Asked::of("earth"));
    assert_eq!(total(&plan, "walks"), 143);
    assert_eq!(plan["optimal"]["walks"], true);
}

/// Contactors that can be held in by hand, one behind another, and lights that can't be taken out: the coils are out,
/// the lights lie across line and neutral, so only the readings to earth are sound. Each length of cable behind a
/// contactor takes all before it held in: one walk, in which all are.
#[test]
fn contactors_held_in_by_hand_and_lights_that_stay_take_one_walk() {
    const COUNT: usize = 20;
    let mut wiring = Wiring::new();
    let mut feed = ("DB1/1".to_owned(), ["L", "N"]);
    for _ in 0..COUNT {
        let contactor = wiring.point("contactor");
        wiring.points.last_mut().unwrap()["manual"] = json!(true);
        wiring.length(&feed.0, &contactor, &[(feed.1[0], "1"), (feed.1[1], "3")]);
        let light = wiring.point("luminaire");
        wiring.points.last_mut().unwrap()["removable"] = json!(false);
        wiring.length(&contactor, &light, &[("2", "L"), ("4", "N")]);
        feed = (contactor, ["2", "4"]);
    }
    let installation = wiring.finish();
    let plan = plan_followed(&installation, &Asked::of("earth"));
    assert_eq!(walks_and_operations(&plan), [1, COUNT as u64]);
    assert!(engine::is_optimal(&plan), "{}", plan["optimal"]);
    assert_eq!(plan["untestable"], json!([]));
    // Between line and neutral every reading is void as soon as a light is reached, and else reaches nothing.
    let plan = plan_followed(&installation, &Asked::of("standard"));
    assert_eq!(plan["not_planned"], Value::Null);
    assert!(plan["untestable"].as_array().unwrap().len() >= COUNT, "{}", plan["untestable"]);
}

/// Followed through coverage, a plan leaves what it says; and it is proven.
#[test]
fn jumbled_switches_beyond_the_size_that_is_listed_are_planned_with_proof() {
    for (count, seed) in [(18, 1), (22, 2), (26, 3), (30, 4), (40, 5), (40, 6)] {
        let installation = jumbled(count, seed);
        let plan = plan_followed(&installation, &Asked::of("standard"));
        assert!(engine::is_optimal(&plan), "{count} switches, seed {seed}: {}", plan["optimal"]);
    }
}

/// Listing and solver, on clusters too large for the oracle's brute force.
#[test]
fn both_searches_agree_on_ten_to_sixteen_switches() {
    let mut searched = 0;
    for seed in 0..24 {
        let installation = jumbled(10 + seed as usize % 7, 100 + seed);
        for asked in [Asked::of("standard"), Asked { restore: true, ..Asked::of("earth") }] {
            let listed = engine::plan_asked(&installation, None, &asked);
            let solved = engine::plan_by_solver(&installation, None, &asked);
            for key in ["untestable", "not_planned"] {
                assert_eq!(listed[key], solved[key], "seed {seed}");
            }
            if engine::is_optimal(&listed) && engine::is_optimal(&solved) {
                assert_eq!(walks_and_operations(&listed), walks_and_operations(&solved), "seed {seed}");
                searched += 1;
            }
        }
    }
    assert!(searched >= 40, "only {searched} of 48 were proven both ways");
}

/// A bound on what comes second holds for every plan of as few walks, not only for those that are the least in what
/// comes first.
#[test]
fn bounds_hold_for_every_plan_of_as_few_walks() {
    let plan = plan_followed(&small::planned("bound-on-stops"), &Asked::of("every-pair"));
    assert_eq!(walks_and_operations(&plan), [1, 2]);
    assert!(
        plan["bounds"]["stops"].as_u64() <= Some(1),
        "a plan with more operations has one stop: {}",
        plan["bounds"]
    );

    let asked = Asked { restore: true, stops_first: true, ..Asked::of("standard") };
    let plan = engine::plan_asked(
        &small::planned("bound-on-operations"),
        Some(&small::planned("bound-on-operations.tests")),
        &asked,
    );
    assert_eq!([total(&plan, "walks"), total(&plan, "stops")], [3, 4]);
    let least = plan["bounds"]["operations"].as_u64();
    assert!(least <= Some(6), "a plan with more stops has six operations: {}", plan["bounds"]);
}

/// Every switch is operated but the one that is left alone and a contactor, which only its coil works.
#[test]
fn each_switch_of_a_large_installation_that_can_be_operated_is() {
    let asked = Asked { each_switch: true, leave: vec!["TRI23".to_owned()], ..Asked::of("standard") };
    let plan = plan_followed(&small::planned("each-switch-large"), &asked);
    assert_eq!(
        plan["switches"],
        json!([
            { "device": "TRI23", "why": "left-alone" }, { "device": "CON42", "why": "not-operable" },
        ])
    );
    assert_eq!(walks_and_operations(&plan), [7, 23]);
    assert!(engine::is_optimal(&plan), "{}", plan["optimal"]);
}
