//! The ways in which circuits are wired.

use super::site::{Feed, Site};

/// A circuit on this board in which switches bear on one another.
pub fn switching(site: &mut Site, board: &str) {
    const PATTERNS: [fn(&mut Site, &Feed); 7] = [maze, two_way, maze, master, maze, selector, low_side];
    let feed = site.add_circuit(board, None, false);
    let number = site.dice.below(PATTERNS.len());
    PATTERNS[number](site, &feed);
}

/// A circuit on this board, in one of the patterns.
pub fn circuit(site: &mut Site, board: &str) {
    const PATTERNS: [fn(&mut Site, &Feed); 14] = [
        at_the_switch,
        two_way,
        loop_in,
        two_way,
        master,
        selector,
        sockets,
        alarm,
        fan,
        contactor,
        transformer,
        low_side,
        declared,
        jumble,
    ];
    if site.three_phase && site.dice.chance(40) {
        motor(site, board);
        return;
    }
    let feed = site.add_circuit(board, None, false);
    let number = site.dice.below(PATTERNS.len());
    PATTERNS[number](site, &feed);
}

/// The feeder from the first board to the second.
pub fn feeder(site: &mut Site) {
    let lines = site.lines();
    let feed = site.add_circuit("DB1", Some(lines.clone()), false);
    let mut cores: Vec<(&str, &str)> = lines.iter().map(|line| (line.as_str(), line.as_str())).collect();
    cores.push(("N", "N"));
    site.length(&feed.circuit, &feed.end, "DB2.in", &cores);
}

/// The cores of a length that takes line and neutral on, where there is a neutral.
fn both<'a>(feed: &'a Feed, line: &'a str, neutral: &'a str) -> Vec<(&'a str, &'a str)> {
    let mut cores = vec![(feed.line.as_str(), line)];
    cores.extend(feed.neutral.as_deref().map(|from| (from, neutral)));
    cores
}

fn luminaire(site: &mut Site, feed: &Feed) -> String {
    site.point(&feed.circuit, "luminaire", &[])
}

/// Line and neutral to each switch, on to the lamp, and on to the next switch.
fn at_the_switch(site: &mut Site, feed: &Feed) {
    let mut feed = feed.clone();
    for _ in 0..1 + site.dice.below(3) {
        let kind = site.dice.one(&["one-way", "one-way", "dimmer"]);
        let switch = site.point(&feed.circuit, kind, &["N"]);
        site.length(&feed.circuit, &feed.end, &switch, &both(&feed, "COM", "N"));
        let lamp = luminaire(site, &feed);
        site.length(&feed.circuit, &switch, &lamp, &[("L1", "L"), ("N", "N")]);
        feed = Feed { end: switch, line: "COM".to_owned(), neutral: Some("N".to_owned()), ..feed };
    }
}

/// Line and neutral from rose to rose, and a drop to each switch.
fn loop_in(site: &mut Site, feed: &Feed) {
    let mut feed = feed.clone();
    for _ in 0..1 + site.dice.below(3) {
        let rose = site.point(&feed.circuit, "luminaire", &["LOOP"]);
        site.length(&feed.circuit, &feed.end, &rose, &both(&feed, "LOOP", "N"));
        let switch = site.point(&feed.circuit, "one-way", &[]);
        site.length(&feed.circuit, &rose, &switch, &[("LOOP", "COM"), ("L", "L1")]);
        feed = Feed { end: rose, line: "LOOP".to_owned(), neutral: Some("N".to_owned()), ..feed };
    }
}

/// Two two-way switches, intermediates between them, the strappers in one length each time or in one of their own.
fn two_way(site: &mut Site, feed: &Feed) {
    let first = site.point(&feed.circuit, "two-way", &["N"]);
    site.length(&feed.circuit, &feed.end, &first, &both(feed, "COM", "N"));
    let mut here = (first, ["L1", "L2"]);
    for _ in 0..site.dice.below(4) {
        let next = site.point(&feed.circuit, "intermediate", &["N"]);
        strappers(site, feed, &here, &next, ["A1", "A2"]);
        here = (next, ["B1", "B2"]);
    }
    let last = site.point(&feed.circuit, "two-way", &["N"]);
    strappers(site, feed, &here, &last, ["L1", "L2"]);
    let lamp = luminaire(site, feed);
    site.length(&feed.circuit, &last, &lamp, &[("COM", "L"), ("N", "N")]);
}

fn strappers(site: &mut Site, feed: &Feed, (from, out): &(String, [&str; 2]), to: &str, into: [&str; 2]) {
    if site.dice.chance(20) {
        site.length(&feed.circuit, from, to, &[(out[0], into[0]), ("N", "N")]);
        site.length(&feed.circuit, from, to, &[(out[1], into[1])]);
    } else {
        site.length(&feed.circuit, from, to, &[(out[0], into[0]), (out[1], into[1]), ("N", "N")]);
    }
}

/// A master double-pole switch with an indicator behind or before it, and another pattern behind.
fn master(site: &mut Site, feed: &Feed) {
    let master = site.point(&feed.circuit, "double-pole", &[]);
    site.length(&feed.circuit, &feed.end, &master, &both(feed, "Lin", "Nin"));
    let behind =
        Feed { end: master.clone(), line: "Lout".to_owned(), neutral: Some("Nout".to_owned()), ..feed.clone() };
    if site.dice.chance(60) {
        let indicator = site.point(&feed.circuit, "indicator", &[]);
        let cores = if site.dice.chance(30) { [("Lin", "L"), ("Nin", "N")] } else { [("Lout", "L"), ("Nout", "N")] };
        site.length(&feed.circuit, &master, &indicator, &cores);
    }
    match site.dice.below(3) {
        0 => at_the_switch(site, &behind),
        1 => two_way(site, &behind),
        _ => loop_in(site, &behind),
    }
}

fn selector(site: &mut Site, feed: &Feed) {
    let count = 3 + site.dice.below(2);
    let switch = site.point(&feed.circuit, if count == 3 { "selector-3" } else { "selector-4" }, &["N"]);
    site.length(&feed.circuit, &feed.end, &switch, &both(feed, "COM", "N"));
    for position in ["P1", "P2", "P3", "P4"].iter().take(count) {
        if !site.dice.chance(20) {
            let lamp = luminaire(site, feed);
            site.length(&feed.circuit, &switch, &lamp, &[(position, "L"), ("N", "N")]);
        }
    }
}

/// Sockets in a ring or a row, with a fused connection, surge protection or an appliance among them.
fn sockets(site: &mut Site, feed: &Feed) {
    let mut feed = feed.clone();
    let way = feed.clone();
    for _ in 0..1 + site.dice.below(3) {
        let kind = site.dice.one(&["socket", "switched-socket", "switched-socket", "surge-protector"]);
        let next = site.point(&feed.circuit, kind, &[]);
        site.length(&feed.circuit, &feed.end, &next, &both(&feed, "L", "N"));
        if kind == "switched-socket" && site.dice.chance(60) {
            let load = site.point(&feed.circuit, "appliance", &[]);
            site.length(&feed.circuit, &next, &load, &[("Lfront", "L"), ("N", "N")]);
        }
        feed = Feed { end: next, line: "L".to_owned(), neutral: Some("N".to_owned()), ..feed };
    }
    if site.dice.chance(50) {
        let fused = site.point(&feed.circuit, "fused-connection", &[]);
        site.length(&feed.circuit, &feed.end, &fused, &both(&feed, "Lin", "Nin"));
        let load = site.point(&feed.circuit, "appliance", &[]);
        site.length(&feed.circuit, &fused, &load, &[("Lout", "L"), ("Nout", "N")]);
    }
    if site.dice.chance(50) {
        site.length(&way.circuit, &feed.end, &way.end, &both(&feed, &way.line, "N"));
    }
}

/// Alarm heads with interconnect, and a sensor light.
fn alarm(site: &mut Site, feed: &Feed) {
    let first = site.point(&feed.circuit, "detector", &[]);
    site.length(&feed.circuit, &feed.end, &first, &both(feed, "L", "N"));
    let second = site.point(&feed.circuit, "detector", &[]);
    site.length(&feed.circuit, &first, &second, &[("L", "L"), ("IC", "IC"), ("N", "N")]);
    if site.dice.chance(60) {
        let sensor = site.point(&feed.circuit, "sensor", &[]);
        site.length(&feed.circuit, &second, &sensor, &[("L", "L"), ("N", "N")]);
        let lamp = luminaire(site, feed);
        site.length(&feed.circuit, &sensor, &lamp, &[("SL", "L"), ("N", "N")]);
    }
}

/// A fan with permanent line, switched line and neutral through a triple-pole isolator.
fn fan(site: &mut Site, feed: &Feed) {
    let switch = site.point(&feed.circuit, "one-way", &["N"]);
    site.length(&feed.circuit, &feed.end, &switch, &both(feed, "COM", "N"));
    let isolator = site.point(&feed.circuit, "triple-pole", &[]);
    site.length(&feed.circuit, &switch, &isolator, &[("COM", "L1in"), ("L1", "L2in"), ("N", "L3in")]);
    let fan = site.point(&feed.circuit, "appliance", &["SL"]);
    site.length(&feed.circuit, &isolator, &fan, &[("L1out", "L"), ("L2out", "SL"), ("L3out", "N")]);
}

/// A contactor's coil on a switch, and lamps on its contacts.
fn contactor(site: &mut Site, feed: &Feed) {
    let contactor = site.point(&feed.circuit, "contactor", &["N"]);
    site.length(&feed.circuit, &feed.end, &contactor, &both(feed, "1", "N"));
    let switch = site.point(&feed.circuit, "one-way", &["N"]);
    site.length(&feed.circuit, &contactor, &switch, &[("1", "COM"), ("A1", "L1"), ("A2", "N"), ("N", "N")]);
    let lamp = luminaire(site, feed);
    site.length(&feed.circuit, &contactor, &lamp, &[("2", "L"), ("N", "N")]);
    if site.dice.chance(50) {
        let lamp = luminaire(site, feed);
        site.length(&feed.circuit, &contactor, &lamp, &[("4", "L"), ("N", "N")]);
    }
}

/// A transformer, and its lamps on a circuit of their own.
fn transformer(site: &mut Site, feed: &Feed) {
    let switch = site.point(&feed.circuit, "one-way", &["N"]);
    site.length(&feed.circuit, &feed.end, &switch, &both(feed, "COM", "N"));
    let transformer = site.point(&feed.circuit, "transformer", &[]);
    site.length(&feed.circuit, &switch, &transformer, &[("L1", "L"), ("N", "N")]);
    let circuit = if site.dice.chance(85) { site.add_separate_circuit() } else { feed.circuit.clone() };
    let lamp = site.point(&circuit, "luminaire", &[]);
    site.length(&circuit, &transformer, &lamp, &[("V1", "L"), ("V2", "N")]);
}

/// A transformer, and on its low side a circuit of its own with switches, now and then earthed at the transformer. A second
/// transformer may feed it elsewhere, or none at all.
fn low_side(site: &mut Site, feed: &Feed) {
    let transformer = site.point(&feed.circuit, "transformer", &[]);
    site.length(&feed.circuit, &feed.end, &transformer, &both(feed, "L", "N"));
    let circuit = site.add_separate_circuit();
    let low = Feed {
        circuit: circuit.clone(),
        end: transformer.clone(),
        line: "V1".to_owned(),
        neutral: Some("V2".to_owned()),
    };
    if site.dice.chance(20) {
        site.link(&transformer, ["V2", "E"]);
    }
    let lamp = site.point(&circuit, "luminaire", &[]);
    let number = site.dice.below(6);
    if number == 0 {
        // What it fed is cut off.
        let other = site.point(&circuit, "luminaire", &[]);
        site.length(&circuit, &lamp, &other, &[("L", "L"), ("N", "N")]);
        return;
    }
    site.length(&circuit, &transformer, &lamp, &[("V1", "L"), ("V2", "N")]);
    if number < 3 {
        let second = site.point(&feed.circuit, "transformer", &[]);
        site.length(&feed.circuit, &transformer, &second, &[("L", "L"), ("N", "N")]);
        site.length(&circuit, &second, &lamp, &[("V1", "L"), ("V2", "N")]);
    }
    const PATTERNS: [fn(&mut Site, &Feed); 4] = [two_way, at_the_switch, maze, selector];
    let pattern = site.dice.below(PATTERNS.len());
    PATTERNS[pattern](site, &low);
}

/// The file's own kinds.
fn declared(site: &mut Site, feed: &Feed) {
    let key = site.point(&feed.circuit, "key-switch", &[]);
    site.length(&feed.circuit, &feed.end, &key, &both(feed, "IN", "N"));
    let push = site.point(&feed.circuit, "push", &["N"]);
    site.length(&feed.circuit, &key, &push, &[("OUT", "a"), ("N", "N")]);
    let relay = site.point(&feed.circuit, "relay", &["N"]);
    site.length(&feed.circuit, &push, &relay, &[("b", "IN"), ("N", "N")]);
    let lamp = luminaire(site, feed);
    site.length(&feed.circuit, &relay, &lamp, &[("OUT", "L"), ("N", "N")]);
    let box_of_ends = site.point(&feed.circuit, "junction", &[]);
    site.length(&feed.circuit, &push, &box_of_ends, &[("c", "a"), ("d", "b"), ("N", "c")]);
    if site.dice.chance(50) {
        let dimmer = site.point(&feed.circuit, "dimmer", &["AUX"]);
        site.length(&feed.circuit, &relay, &dimmer, &[("OUT", "COM"), ("AUX", "AUX")]);
        let lamp = luminaire(site, feed);
        site.length(&feed.circuit, &dimmer, &lamp, &[("L1", "L"), ("AUX", "N")]);
    }
}

/// Any points on any terminals.
fn jumble(site: &mut Site, feed: &Feed) {
    let kinds: Vec<&str> = super::site::kind_names().collect();
    let mut ends = vec![feed.end.clone()];
    for _ in 0..2 + site.dice.below(3) {
        let kind = site.dice.one(&kinds);
        let next = site.point(&feed.circuit, kind, &[]);
        for _ in 0..1 + site.dice.below(2) {
            let from = ends[site.dice.below(ends.len())].clone();
            let cores: Vec<[String; 2]> =
                (0..1 + site.dice.below(4)).map(|_| [site.any_terminal(&from), site.any_terminal(&next)]).collect();
            let cores: Vec<(&str, &str)> = cores.iter().map(|[a, b]| (a.as_str(), b.as_str())).collect();
            site.length(&feed.circuit, &from, &next, &cores);
        }
        ends.push(next);
    }
}

/// Switches fed from one another's outgoing sides, some by two feeds of which they take one, and lamps at the ends.
fn maze(site: &mut Site, feed: &Feed) {
    /// Kind, terminals fed, terminals that feed.
    const SWITCHES: [(&str, &[&str], &[&str]); 7] = [
        ("two-way", &["COM"], &["L1", "L2"]),
        ("one-way", &["COM"], &["L1"]),
        ("two-way", &["L1", "L2"], &["COM"]),
        ("intermediate", &["A1", "A2"], &["B1", "B2"]),
        ("double-pole", &["Lin", "Nin"], &["Lout", "Nout"]),
        ("selector-3", &["COM"], &["P1", "P2", "P3"]),
        ("selector-3", &["P1", "P3"], &["COM"]),
    ];
    let mut live = vec![(feed.end.clone(), feed.line.clone())];
    for _ in 0..4 + site.dice.below(5) {
        let (kind, fed, feeding) = SWITCHES[site.dice.below(SWITCHES.len())];
        let switch = site.point(&feed.circuit, kind, &["N"]);
        for &into in fed {
            // The latest are the likelier, or the maze would be shallow.
            let back = site.dice.below(live.len().min(3));
            let (from, terminal) = live[live.len() - 1 - back].clone();
            site.length(&feed.circuit, &from, &switch, &[(&terminal, into)]);
        }
        live.extend(feeding.iter().map(|terminal| (switch.clone(), (*terminal).to_owned())));
    }
    let lamp = luminaire(site, feed);
    for (from, terminal) in live.iter().rev().take(3) {
        site.length(&feed.circuit, from, &lamp, &[(terminal, "L")]);
    }
    if let Some(neutral) = &feed.neutral {
        site.length(&feed.circuit, &feed.end, &lamp, &[(neutral, "N")]);
    }
}

/// A load on two or three lines, mostly behind a triple-pole isolator, often without neutral.
fn motor(site: &mut Site, board: &str) {
    let mut lines = site.lines();
    if site.dice.chance(30) {
        lines.remove(site.dice.below(3));
    }
    let feed = site.add_circuit(board, Some(lines.clone()), true);
    let load = site.point(&feed.circuit, "appliance-3", &[]);
    let neutral = feed.neutral.as_deref().map(|neutral| (neutral, "N"));
    if lines.len() == 3 && site.dice.chance(70) {
        let isolator = site.point(&feed.circuit, "triple-pole", &[]);
        site.length(&feed.circuit, &feed.end, &isolator, &[("L1", "L1in"), ("L2", "L2in"), ("L3", "L3in")]);
        site.length(&feed.circuit, &isolator, &load, &[("L1out", "L1"), ("L2out", "L2"), ("L3out", "L3")]);
        if let Some(neutral) = neutral {
            site.length(&feed.circuit, &feed.end, &load, &[neutral]);
        }
    } else {
        let mut cores: Vec<(&str, &str)> = lines.iter().map(|line| (line.as_str(), line.as_str())).collect();
        cores.extend(neutral);
        site.length(&feed.circuit, &feed.end, &load, &cores);
    }
}
