//! Test sets for a drawn installation.

use serde_json::{Map, Value, json};

use super::site::{Device, Site};

pub fn test_set(site: &mut Site) -> Value {
    let mut file = json!({ "format": 1 });
    let start = start(site);
    if !start.is_empty() {
        file["start"] = start.into();
    }
    let passes: Vec<Value> = (0..1 + site.dice.below(4)).map(|_| pass(site)).collect();
    file["pass"] = passes.into();
    file
}

/// A further pass for this installation.
pub fn pass(site: &mut Site) -> Value {
    let mut pass = Map::new();
    let operable: Vec<Device> = site.devices.iter().filter(|device| device.operable).cloned().collect();
    let mut operate = Vec::new();
    let mut set = Map::new();
    for device in &operable {
        // Board devices mostly stay off, as they should.
        let often = if device.name.contains(['/', '.']) { 8 } else { 30 };
        if site.dice.chance(often) {
            if site.dice.chance(40) {
                let position = &device.positions[site.dice.below(device.positions.len())];
                set.insert(device.name.clone(), position.clone().into());
            } else {
                operate.push(device.name.clone());
            }
        }
    }
    let (mut remove, mut refit) = (Vec::new(), Vec::new());
    for holder in site.removable.clone() {
        if site.dice.chance(15) {
            [&mut remove, &mut refit][site.dice.below(2)].push(holder);
        }
    }
    let link: Vec<String> = site.linkable.clone().into_iter().filter(|_| site.dice.chance(25)).collect();
    for (key, names) in [("operate", operate), ("remove", remove), ("link", link), ("refit", refit)] {
        if !names.is_empty() {
            pass.insert(key.to_owned(), names.into());
        }
    }
    if !set.is_empty() {
        pass.insert("set".to_owned(), set.into());
    }
    let readings: Vec<Value> = (0..1 + site.dice.below(4)).map(|_| reading(site)).collect();
    pass.insert("reading".to_owned(), readings.into());
    pass.into()
}

pub fn start(site: &mut Site) -> Map<String, Value> {
    let mut words: Vec<(String, Vec<String>)> = Vec::new();
    for device in site.devices.clone().into_iter().filter(|device| device.operable) {
        if site.dice.chance(8) && site.take_combinations(device.positions.len()) {
            words.push((device.name, vec!["unknown".to_owned()]));
        } else if site.dice.chance(16) {
            let position = device.positions[site.dice.below(device.positions.len())].clone();
            words.push((device.name, vec![position]));
        }
    }
    for holder in site.removable.clone() {
        let can_be_linked = site.linkable.contains(&holder);
        if site.dice.chance(if can_be_linked { 45 } else { 20 }) {
            let word =
                site.dice.one(&["fitted", if can_be_linked { "linked" } else { "fitted" }, "removed"]).to_owned();
            match words.iter_mut().find(|(name, _)| *name == holder) {
                Some((_, words)) => words.push(word),
                None => words.push((holder, vec![word])),
            }
        }
    }
    words
        .into_iter()
        .map(|(name, words)| (name, if words.len() == 1 { words[0].clone().into() } else { words.into() }))
        .collect()
}

fn reading(site: &mut Site) -> Value {
    let number = site.dice.below(site.fed.len());
    let count = site.separate.len();
    if count > 0 && site.dice.chance(30) {
        let (circuit, sources) = site.separate[site.dice.below(count)].clone();
        let between = between_of_sources(site, &sources);
        return with_values(site, json!({ "circuit": circuit, "between": between }));
    }
    let (circuit, poles, neutral) = site.fed[number].clone();
    let reading = if site.dice.chance(15) {
        let boards = site.board_names();
        let board = boards[site.dice.below(boards.len())].clone();
        let lines = site.lines();
        json!({ "board": board, "between": between(site, &lines, true) })
    } else {
        json!({ "circuit": circuit, "between": between(site, &poles, neutral) })
    };
    with_values(site, reading)
}

fn with_values(site: &mut Site, mut reading: Value) -> Value {
    if site.dice.chance(50) {
        reading["volts"] = [250, 500, 1000][site.dice.below(3)].into();
    }
    if site.dice.chance(50) {
        reading["megohms"] = [json!(250.0), json!(">999"), json!("<0.01"), json!(3)][site.dice.below(4)].clone();
    }
    reading
}

/// What the two leads touch of a circuit without a way: by short names where it has one source.
fn between_of_sources(site: &mut Site, sources: &[String]) -> [String; 2] {
    const LEADS: [[&str; 2]; 4] = [["V1+V2", "E"], ["V1", "V2"], ["V1", "E"], ["E", "V2"]];
    let leads = LEADS[site.dice.below(LEADS.len())].map(str::to_owned);
    let source = match sources {
        [] => return [full_name(site), "MET".to_owned()],
        [_] if site.dice.chance(20) => return [leads[0].clone(), full_name(site)],
        [_] => return leads,
        sources => sources[site.dice.below(sources.len())].clone(),
    };
    leads.map(|lead| {
        let full = |name| if name == "E" { "MET".to_owned() } else { format!("{source}.{name}") };
        lead.split('+').map(full).collect::<Vec<_>>().join("+")
    })
}

/// What the two leads touch, at a way or a busbar with these lines.
fn between(site: &mut Site, lines: &[String], neutral: bool) -> [String; 2] {
    let pole = lines[site.dice.below(lines.len())].clone();
    let live = if neutral { "L+N" } else { "L" };
    match site.dice.below(12) {
        0..4 => [live.to_owned(), "E".to_owned()],
        4 | 5 if neutral => ["L".to_owned(), "N".to_owned()],
        6 if neutral => ["N".to_owned(), pole],
        7 if lines.len() > 1 => [lines[0].clone(), lines[1..].join("+")],
        8 => ["MET".to_owned(), format!("{pole}+{}", full_name(site))],
        9..12 => {
            let from = full_name(site);
            let mut to = full_name(site);
            // Now and then both are at one place, strapper to strapper.
            if site.dice.chance(30) {
                let (end, _) = from.rsplit_once('.').expect("a full name has a dot");
                to = format!("{end}.{}", if end.starts_with('J') { "E".to_owned() } else { site.any_terminal(end) });
            }
            if from == to { [from, "E".to_owned()] } else { [from, to] }
        }
        _ => [pole, "E".to_owned()],
    }
}

/// The full name of any terminal.
fn full_name(site: &mut Site) -> String {
    let ends: Vec<String> = site.terminals.keys().cloned().collect();
    let end = &ends[site.dice.below(ends.len())];
    // A junction has the terminals that lengths name on it, and the dice may not have named them all.
    let terminal = if end.starts_with('J') { "E".to_owned() } else { site.any_terminal(end) };
    format!("{end}.{terminal}")
}
