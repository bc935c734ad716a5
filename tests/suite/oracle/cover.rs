//! FORMAT.md part 2, and `cover` of part 3.

use std::collections::BTreeMap;

use serde_json::{Value, json};

use super::conduct::{Bridged, Joined, Leads, Setting, Taken, Void};
use super::kinds::{list, texts};
use super::wiring::{Bridges, Node, Pair, Wiring};

/// One reading of a test set: its place in the file, and what the leads touch.
pub struct Reading {
    pub place: [usize; 2],
    pub leads: Leads,
}

/// What a test set does, for one combination of the unknown starting positions.
#[derive(Clone)]
pub struct Course {
    /// How things stand before pass 1.
    pub start: Setting,
    /// The setting in which each pass's readings are taken.
    pub settings: Vec<Setting>,
    /// How things stand afterwards.
    pub left: Setting,
}

/// Where each device stands before pass 1, none where nobody knows, and what is done with each holder of bridges.
fn found(wiring: &Wiring, test_set: &Value) -> (Vec<Option<usize>>, Vec<Bridged>) {
    let mut positions: Vec<Option<usize>> = wiring.devices.iter().map(|device| device.ready).collect();
    let ready = |bridges: &Bridges| if bridges.removable { Bridged::Removed } else { Bridged::Fitted };
    let mut of_bridges: Vec<Bridged> = wiring.bridges.iter().map(ready).collect();
    if let Some(start) = test_set["start"].as_object() {
        for (name, stands) in start {
            let words = stands.as_str().map_or_else(|| texts(stands), |word| vec![word.to_owned()]);
            for word in words {
                match word.as_str() {
                    "fitted" => of_bridges[bridges(wiring, name)] = Bridged::Fitted,
                    "removed" => of_bridges[bridges(wiring, name)] = Bridged::Removed,
                    "linked" => of_bridges[bridges(wiring, name)] = Bridged::Linked,
                    "unknown" => positions[device(wiring, name)] = None,
                    position => positions[device(wiring, name)] = Some(position_of(wiring, name, position)),
                }
            }
        }
    }
    (positions, of_bridges)
}

/// How many combinations of the unknown positions there are.
pub fn combinations(wiring: &Wiring, test_set: &Value) -> usize {
    let (positions, _) = found(wiring, test_set);
    let unknown = wiring.devices.iter().zip(positions).filter(|(_, position)| position.is_none());
    unknown.fold(1, |product, (device, _)| product.saturating_mul(device.positions.len()))
}

/// How things stand before pass 1: one setting for each combination of the unknown positions.
pub fn starts(wiring: &Wiring, test_set: &Value) -> Vec<Setting> {
    let (positions, bridges) = found(wiring, test_set);
    let mut starts = vec![Setting { positions: Vec::new(), bridges }];
    for (device, position) in wiring.devices.iter().zip(positions) {
        let choices = position.map_or(0..device.positions.len(), |position| position..position + 1);
        starts = starts
            .iter()
            .flat_map(|start| {
                choices.clone().map(|choice| {
                    let mut start = start.clone();
                    start.positions.push(choice);
                    start
                })
            })
            .collect();
    }
    starts
}

/// Follows the passes from one start.
pub fn course(wiring: &Wiring, test_set: &Value, start: Setting) -> Course {
    let mut setting = start.clone();
    let mut settings = Vec::new();
    for pass in list(&test_set["pass"]) {
        for name in texts(&pass["operate"]) {
            let device = device(wiring, &name);
            setting.positions[device] = (setting.positions[device] + 1) % wiring.devices[device].positions.len();
        }
        for (name, position) in pass["set"].as_object().into_iter().flatten() {
            setting.positions[device(wiring, name)] = position_of(wiring, name, position.as_str().unwrap());
        }
        for (key, state) in [("remove", Bridged::Removed), ("link", Bridged::Linked), ("refit", Bridged::Fitted)] {
            for name in texts(&pass[key]) {
                setting.bridges[bridges(wiring, &name)] = state;
            }
        }
        settings.push(setting.clone());
    }
    Course { start, settings, left: setting }
}

pub(super) fn device(wiring: &Wiring, name: &str) -> usize {
    wiring.devices.iter().position(|device| device.name == name).unwrap_or_else(|| panic!("no device {name}"))
}

pub(super) fn position_of(wiring: &Wiring, name: &str, position: &str) -> usize {
    let positions = &wiring.devices[device(wiring, name)].positions;
    positions.iter().position(|(name, _)| name == position).unwrap_or_else(|| panic!("{name} has no {position}"))
}

fn bridges(wiring: &Wiring, name: &str) -> usize {
    wiring.bridges.iter().position(|bridges| bridges.owner == name).unwrap_or_else(|| panic!("no bridges at {name}"))
}

/// What a lead touches, as `between` names it.
fn lead(wiring: &Wiring, reading: &Value, text: &str) -> Vec<Node> {
    let mut touches = Vec::new();
    for name in text.split('+') {
        if name == "MET" || name.contains('.') {
            touches.push(wiring.terminal(name));
        } else if let Some(board) = reading["board"].as_str() {
            match name {
                "E" => touches.push(wiring.terminal(&format!("{board}.E"))),
                "L" => touches.extend(wiring.lines.iter().map(|x| wiring.terminal(&format!("{board}.bus.{x}")))),
                _ => touches.push(wiring.terminal(&format!("{board}.bus.{name}"))),
            }
        } else {
            let (circuit, way) = wiring.circuits.iter().find(|(id, _)| reading["circuit"] == *id).unwrap();
            let Some(way) = way else {
                let [source] = &wiring.sources_of(circuit)[..] else { panic!("one source") };
                touches.push(if name == "E" {
                    wiring.earth_at(source)
                } else {
                    wiring.terminal(&format!("{source}.{name}"))
                });
                continue;
            };
            match name {
                "L" => touches.extend(way.poles.iter().map(|pole| wiring.terminal(&format!("{}.{pole}", way.name)))),
                _ => touches.push(wiring.terminal(&format!("{}.{name}", way.name))),
            }
        }
    }
    touches
}

/// What a reading's leads touch, and what is left in.
pub(super) fn leads(wiring: &Wiring, reading: &Value) -> Leads {
    let [a, b] = texts(&reading["between"]).try_into().unwrap();
    let touch = [lead(wiring, reading, &a), lead(wiring, reading, &b)];
    wiring.leads(reading["circuit"].as_str(), reading["volts"].as_f64(), touch)
}

/// The readings of each pass.
pub fn readings(wiring: &Wiring, test_set: &Value) -> Vec<Vec<Reading>> {
    let mut passes = Vec::new();
    for (pass_number, pass) in list(&test_set["pass"]).iter().enumerate() {
        let mut readings = Vec::new();
        for (number, reading) in list(&pass["reading"]).iter().enumerate() {
            readings.push(Reading { place: [pass_number + 1, number + 1], leads: leads(wiring, reading) });
        }
        passes.push(readings);
    }
    passes
}

/// One reading, in every combination of the unknown positions.
pub struct Everywhere<'a> {
    pub reading: &'a Reading,
    pub taken: Vec<Taken>,
    /// Void in any combination is void; the worse reason where they differ.
    pub void: Option<Void>,
}

/// Takes every reading of the test set in every combination.
pub fn take_all<'a>(wiring: &Wiring, courses: &[Course], passes: &'a [Vec<Reading>]) -> Vec<Everywhere<'a>> {
    let mut all = Vec::new();
    for (number, readings) in passes.iter().enumerate() {
        let joined: Vec<Joined> = courses.iter().map(|course| Joined::of(wiring, &course.settings[number])).collect();
        for reading in readings {
            let taken: Vec<Taken> = joined.iter().map(|joined| Taken::with(joined, &reading.leads)).collect();
            let void = taken.iter().filter_map(|taken| taken.void).max();
            all.push(Everywhere { reading, taken, void });
        }
    }
    all
}

/// What `cover INSTALLATION TESTSET --need NEED --json` prints.
pub fn cover(installation: &Value, test_set: &Value, need: &str) -> Value {
    cover_of(&Wiring::of(installation), test_set, need)
}

/// The same with `--rules iec-60364-6`.
pub fn cover_by_iec(installation: &Value, test_set: &Value, need: &str) -> Value {
    cover_of(&Wiring::by_iec(installation), test_set, need)
}

fn cover_of(wiring: &Wiring, test_set: &Value, need: &str) -> Value {
    let starts = starts(wiring, test_set);
    let courses: Vec<Course> = starts.into_iter().map(|start| course(wiring, test_set, start)).collect();
    let passes = readings(wiring, test_set);
    let taken = take_all(wiring, &courses, &passes);
    let sound: Vec<&Everywhere> = taken.iter().filter(|reading| reading.void.is_none()).collect();

    let mut pairs = Vec::new();
    let (mut required_count, mut tested_count) = (0, 0);
    // For each length with a required pair, whether all of them are tested.
    let mut lengths: BTreeMap<usize, bool> = BTreeMap::new();
    let all = wiring.pairs();
    let tested_in = |pair: &Pair| -> Vec<bool> {
        let tested = |combination: usize| sound.iter().any(|reading| reading.taken[combination].parts(pair.nodes));
        (0..courses.len()).map(tested).collect()
    };
    for pair in &all {
        let tests = |reading: &Everywhere, combination: usize| reading.taken[combination].parts(pair.nodes);
        let tested = (0..courses.len()).all(|combination| sound.iter().any(|reading| tests(reading, combination)));
        let by =
            sound.iter().filter(|reading| tested && (0..courses.len()).any(|combination| tests(reading, combination)));
        let by: Vec<[usize; 2]> = by.map(|reading| reading.reading.place).collect();
        let required = wiring.requires(pair, need);
        if required {
            required_count += 1;
            tested_count += usize::from(tested);
            *lengths.entry(pair.length).or_insert(true) &= tested;
        }
        pairs.push(json!({
            "length": wiring.lengths[pair.length].id, "cores": pair.cores, "class": pair.class,
            "required": required, "tested": tested, "by": by,
        }));
        let is_reached = |node| sound.iter().any(|reading| reading.taken.iter().any(|taken| taken.reaches(node)));
        let is_void_with_both = |reading: &&Everywhere| {
            reading.void.is_some() && reading.taken.iter().any(|taken| taken.has_opposite(pair.nodes))
        };
        let missed = if tested_in(pair).contains(&true) {
            Some(json!({ "reason": "depends-on-start" }))
        } else if let Some(reading) = taken.iter().find(is_void_with_both) {
            Some(json!({ "reason": "only-void", "reading": reading.reading.place }))
        } else {
            pair.nodes.into_iter().all(is_reached).then(|| json!({ "reason": "never-opposite" }))
        };
        if let (true, false, Some(missed)) = (required, tested, missed) {
            pairs.last_mut().expect("one was listed")["missed"] = missed;
        }
    }
    for length in 0..wiring.lengths.len() {
        // Pairs that are not tested, but are for some start, in the groups whose pairs exclude one another.
        let mut groups: Vec<Vec<(usize, Vec<bool>)>> = Vec::new();
        for (number, pair) in all.iter().enumerate().filter(|(_, pair)| pair.length == length) {
            let when = tested_in(pair);
            if !wiring.requires(pair, need) || !when.contains(&true) || !when.contains(&false) {
                continue;
            }
            let excludes =
                |(_, other): &(usize, Vec<bool>)| when.iter().zip(other).all(|(here, there)| !here || !there);
            match groups.iter_mut().find(|group| group.iter().all(excludes)) {
                Some(group) => group.push((number, when)),
                None => groups.push(vec![(number, when)]),
            }
        }
        for group in groups.iter().filter(|group| group.len() > 1) {
            let cores: Vec<&[String; 2]> = group.iter().map(|(number, _)| &all[*number].cores).collect();
            for (number, _) in group {
                pairs[*number]["one_of"] = json!(cores);
            }
        }
    }
    let metres = |wanted: &dyn Fn(bool) -> bool| -> f64 {
        lengths.iter().filter(|(_, tested)| wanted(**tested)).map(|(&length, _)| wiring.lengths[length].metres).sum()
    };

    let mut positions = Vec::new();
    for (number, device) in wiring.devices.iter().enumerate() {
        for (position, (name, contacts)) in device.positions.iter().enumerate() {
            let tested = courses.iter().enumerate().all(|(combination, course)| {
                sound.iter().any(|reading| {
                    let stands = course.settings[reading.reading.place[0] - 1].positions[number] == position;
                    stands && contacts.iter().any(|&(contact, _)| reading.taken[combination].reaches(contact))
                })
            });
            positions.push(json!({ "device": device.name, "position": name, "tested": tested }));
        }
    }

    let voids = taken.iter().map(|reading| {
        let void = reading.void.map(|void| if void == Void::Bridged { "bridged" } else { "doubtful" });
        json!({ "pass": reading.reading.place[0], "reading": reading.reading.place[1], "void": void })
    });
    json!({
        "format": 1,
        "summary": {
            "required": required_count, "tested": tested_count, "not_tested": required_count - tested_count,
            "metres_required": metres(&|_| true), "metres_tested": metres(&|tested| tested),
        },
        "readings": voids.collect::<Vec<Value>>(),
        "pairs": pairs,
        "positions": positions,
        "without_role": wiring.without_role(true),
    })
}

/// Whether, for some combination of the unknown positions, the reading of this number tests a pair [length, core, core]
/// that no reading before it does.
pub fn adds_for_some_start(installation: &Value, test_set: &Value, number: usize, pair: &Value) -> bool {
    let wiring = Wiring::of(installation);
    let courses: Vec<Course> =
        starts(&wiring, test_set).into_iter().map(|start| course(&wiring, test_set, start)).collect();
    let passes = readings(&wiring, test_set);
    let taken = take_all(&wiring, &courses, &passes);
    let pairs = wiring.pairs();
    let is_it = |row: &&Pair| *pair == json!([wiring.lengths[row.length].id, row.cores[0], row.cores[1]]);
    let nodes = pairs.iter().find(is_it).expect("a pair of the installation").nodes;
    let tests =
        |reading: &Everywhere, combination: usize| reading.void.is_none() && reading.taken[combination].parts(nodes);
    (0..courses.len()).any(|combination| {
        tests(&taken[number], combination) && !taken[..number].iter().any(|before| tests(before, combination))
    })
}
