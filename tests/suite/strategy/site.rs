//! An installation under construction, and all that a test set for it may name.

use std::collections::BTreeMap;

use serde_json::{Map, Value, json};

use super::dice::Dice;
use super::patterns;

/// How large and how spoiled a drawn installation may be.
#[derive(Clone, Copy, Debug)]
pub struct Limits {
    pub circuits: usize,
    /// Only circuits in which switches bear on one another.
    pub switching: bool,
    /// The most settings that its operable points can have between them; further switches are fixed where they stand.
    pub settings: usize,
    /// The most combinations of unknown positions.
    pub combinations: usize,
    /// In how many lengths of a hundred a core is on a wrong terminal.
    pub mistakes: usize,
}

/// Kinds: terminals, positions, whether there are bridges.
const KINDS: &[(&str, &[&str], &[&str], bool)] = &[
    ("one-way", &["COM", "L1"], &["on", "off"], false),
    ("two-way", &["COM", "L1", "L2"], &["L1", "L2"], false),
    ("intermediate", &["A1", "A2", "B1", "B2"], &["straight", "crossed"], false),
    ("double-pole", &["Lin", "Lout", "Nin", "Nout"], &["on", "off"], false),
    ("triple-pole", &["L1in", "L1out", "L2in", "L2out", "L3in", "L3out"], &["on", "off"], false),
    ("selector-3", &["COM", "P1", "P2", "P3"], &["P1", "P2", "P3"], false),
    ("selector-4", &["COM", "P1", "P2", "P3", "P4"], &["P1", "P2", "P3", "P4"], false),
    ("fused-connection", &["Lin", "Lout", "Nin", "Nout"], &["on", "off"], false),
    ("socket", &["L", "N"], &[], false),
    ("switched-socket", &["L", "N", "Lfront"], &["on", "off"], false),
    ("luminaire", &["L", "N"], &[], true),
    ("appliance", &["L", "N"], &[], true),
    ("appliance-3", &["L1", "L2", "L3", "N"], &[], true),
    ("detector", &["L", "N", "IC"], &[], true),
    ("sensor", &["L", "N", "SL"], &[], true),
    ("dimmer", &["COM", "L1"], &[], true),
    ("contactor", &["A1", "A2", "1", "2", "3", "4"], &["released", "held-in"], true),
    ("indicator", &["L", "N"], &[], true),
    ("surge-protector", &["L", "N"], &[], true),
    ("transformer", &["L", "N", "V1", "V2"], &[], true),
    ("junction", &["a", "b", "c"], &[], false),
    // The file's own.
    ("key-switch", &["IN", "OUT", "N"], &["in", "out"], true),
    ("push", &["a", "b", "c", "d"], &["rest", "half", "full"], true),
    ("relay", &["IN", "OUT", "AUX"], &[], true),
];

/// Every kind that can be drawn.
pub fn kind_names() -> impl Iterator<Item = &'static str> {
    KINDS.iter().map(|(name, ..)| *name)
}

/// Where a circuit's line and neutral are at hand.
#[derive(Clone, Debug)]
pub struct Feed {
    pub circuit: String,
    pub end: String,
    pub line: String,
    pub neutral: Option<String>,
}

/// Something with positions.
#[derive(Clone, Debug)]
pub struct Device {
    pub name: String,
    pub positions: Vec<String>,
    pub operable: bool,
}

pub struct Site {
    pub dice: Dice,
    limits: Limits,
    pub three_phase: bool,
    locations: usize,
    boards: Vec<Value>,
    circuits: Vec<Value>,
    points: Vec<Value>,
    lengths: Vec<Value>,
    declared: bool,
    pub devices: Vec<Device>,
    /// Holders of removable bridges.
    pub removable: Vec<String>,
    /// Points with bridges.
    holders: Vec<String>,
    /// Those of them that a link can be put in the place of.
    pub linkable: Vec<String>,
    /// What a length's end has for terminals, `E` among them.
    pub terminals: BTreeMap<String, Vec<String>>,
    /// Circuits that a way feeds: circuit, poles, whether there is a neutral.
    pub fed: Vec<(String, Vec<String>, bool)>,
    /// Circuits that no way feeds, with their sources.
    pub separate: Vec<(String, Vec<String>)>,
    settings: usize,
    combinations: usize,
}

impl Site {
    pub fn drawn(mut dice: Dice, limits: Limits) -> Site {
        let three_phase = dice.chance(25);
        let mut site = Site {
            locations: 1 + dice.below(3),
            dice,
            limits,
            three_phase,
            boards: Vec::new(),
            circuits: Vec::new(),
            points: Vec::new(),
            lengths: Vec::new(),
            declared: false,
            devices: Vec::new(),
            removable: Vec::new(),
            holders: Vec::new(),
            linkable: Vec::new(),
            terminals: BTreeMap::new(),
            fed: Vec::new(),
            separate: Vec::new(),
            settings: 1,
            combinations: 1,
        };
        site.add_board("DB1");
        let feeder = site.dice.chance(25);
        if feeder {
            site.add_board("DB2");
            patterns::feeder(&mut site);
        }
        let count = 1 + site.dice.below(limits.circuits);
        for _ in 0..count {
            let board = if feeder && site.dice.chance(60) { "DB2" } else { "DB1" };
            if limits.switching {
                patterns::switching(&mut site, board);
            } else {
                patterns::circuit(&mut site, board);
            }
        }
        site.add_reliefs();
        if !site.separate.is_empty() {
            site.separate = crate::oracle::sources(&site.installation());
        }
        site
    }

    /// What can't be disconnected in some circuits, most often what stays in.
    fn add_reliefs(&mut self) {
        for circuit in 0..self.circuits.len() {
            if self.dice.chance(75) {
                continue;
            }
            let because = "it is built in";
            let mut leaves = self.holders.clone();
            leaves.retain(|holder| self.dice.chance(if self.removable.contains(holder) { 10 } else { 60 }));
            self.removable.retain(|holder| !leaves.contains(holder));
            self.linkable.retain(|holder| !leaves.contains(holder));
            self.circuits[circuit]["relief"] =
                if leaves.is_empty() { because.into() } else { json!({ "because": because, "leaves": leaves }) };
        }
    }

    pub fn lines(&self) -> Vec<String> {
        let lines: &[&str] = if self.three_phase { &["L1", "L2", "L3"] } else { &["L"] };
        lines.iter().map(|&line| line.to_owned()).collect()
    }

    fn live(&self) -> Vec<String> {
        self.lines().into_iter().chain(["N".to_owned()]).collect()
    }

    pub fn board_names(&self) -> Vec<String> {
        self.boards.iter().map(|board| board["id"].as_str().unwrap().to_owned()).collect()
    }

    fn add_board(&mut self, id: &str) {
        let mut board = json!({ "id": id, "way": [] });
        if self.boards.is_empty() {
            board["origin"] = true.into();
        }
        if self.dice.chance(20) {
            board["main_switch"] = false.into();
        } else {
            self.add_board_device(format!("{id}.main"));
        }
        if self.dice.chance(50) {
            board["location"] = self.location().into();
        }
        let mut groups = Vec::new();
        for group in ["A", "B"].iter().take(self.dice.below(3)) {
            let mut entry = json!({ "id": group, "device": "rcd" });
            if self.dice.chance(30) {
                entry["electronic"] = false.into();
            }
            groups.push(entry);
            self.add_board_device(format!("{id}.{group}"));
            self.terminals.insert(format!("{id}.{group}"), self.live());
        }
        if !groups.is_empty() {
            board["group"] = groups.into();
        }
        self.terminals.insert(format!("{id}.bus"), self.live());
        let incoming = self.live().into_iter().chain(["E".to_owned()]).collect();
        self.terminals.insert(format!("{id}.in"), incoming);
        self.boards.push(board);
    }

    fn add_board_device(&mut self, name: String) {
        self.devices.push(Device { name, positions: vec!["off".to_owned(), "on".to_owned()], operable: true });
    }

    /// A further way of a board with a circuit on it. `poles` none: one line, whichever the dice say.
    pub fn add_circuit(&mut self, board: &str, poles: Option<Vec<String>>, may_lack_neutral: bool) -> Feed {
        let lines = self.lines();
        let number = self.boards.iter().position(|entry| entry["id"] == board).unwrap();
        let id = (self.boards[number]["way"].as_array().unwrap().len() + 1).to_string();
        let name = format!("{board}/{id}");

        let mut way = json!({ "id": id, "device": self.dice.one(&["mcb", "fuse", "rcbo", "isolator"]), "rating": 6 + self.dice.below(27) });
        let poles = match poles {
            Some(poles) => {
                way["poles"] = poles.clone().into();
                poles
            }
            None if self.dice.chance(50) => vec![lines[0].clone()],
            None => {
                let pole = lines[self.dice.below(lines.len())].clone();
                way["poles"] = vec![pole.clone()].into();
                vec![pole]
            }
        };
        let neutral = !(may_lack_neutral && self.dice.chance(40));
        if !neutral {
            way["neutral"] = false.into();
        }
        let groups = self.boards[number]["group"].as_array().cloned().unwrap_or_default();
        if !groups.is_empty() && self.dice.chance(70) {
            way["group"] = groups[self.dice.below(groups.len())]["id"].clone();
        }
        if way["device"] == "rcbo" {
            if self.dice.chance(30) {
                way["switches_neutral"] = false.into();
            }
            if self.dice.chance(30) {
                way["functional_earth"] = true.into();
            }
            if neutral || way["functional_earth"] == true {
                self.removable.push(name.clone());
            }
        }
        self.boards[number]["way"].as_array_mut().unwrap().push(way);
        self.add_board_device(name.clone());
        let mut terminals = poles.clone();
        terminals.extend(neutral.then(|| "N".to_owned()));
        terminals.push("E".to_owned());
        self.terminals.insert(name.clone(), terminals);

        let circuit = format!("C{}", self.circuits.len() + 1);
        self.circuits.push(json!({ "id": circuit, "way": name }));
        self.fed.push((circuit.clone(), poles.clone(), neutral));
        Feed { circuit, end: name, line: poles[0].clone(), neutral: neutral.then(|| "N".to_owned()) }
    }

    /// An extra-low-voltage circuit with a source of its own, which no way feeds.
    pub fn add_separate_circuit(&mut self) -> String {
        let circuit = format!("C{}", self.circuits.len() + 1);
        let system = self.dice.one(&["selv", "pelv", "felv"]);
        self.circuits.push(json!({ "id": circuit, "system": system, "nominal_voltage": 12 }));
        self.separate.push((circuit.clone(), Vec::new()));
        circuit
    }

    /// Joins two terminals of a point for good.
    pub fn link(&mut self, id: &str, two: [&str; 2]) {
        let point = self.points.iter_mut().find(|point| point["id"] == id).expect("it was added");
        point["links"] = json!([two]);
    }

    fn location(&mut self) -> String {
        format!("room-{}", 1 + self.dice.below(self.locations))
    }

    /// A point of this kind with the overrides that the dice give it; `further` are terminals beyond the kind's own.
    pub fn point(&mut self, circuit: &str, kind: &str, further: &[&str]) -> String {
        let (_, terminals, positions, bridges) = *KINDS.iter().find(|row| row.0 == kind).expect("a kind of the table");
        self.declared |= ["key-switch", "push", "relay"].contains(&kind);
        let id = format!("{}{}", kind.as_bytes()[0].to_ascii_uppercase() as char, self.points.len() + 1);
        let mut point = json!({ "id": id, "kind": kind, "circuit": circuit });

        let mut terminals: Vec<String> = terminals.iter().chain(further).map(|&name| name.to_owned()).collect();
        let mut extra: Vec<String> = further.iter().map(|&name| name.to_owned()).collect();
        if kind != "junction" && self.dice.chance(6) {
            terminals.push("park".to_owned());
            extra.push("park".to_owned());
        }
        terminals.push("E".to_owned());
        if !extra.is_empty() {
            point["terminals"] = extra.into();
        }
        if self.dice.chance(75) {
            let location = self.location();
            if !positions.is_empty() && self.dice.chance(40) {
                point["plate"] = format!("{location}-door").into();
            }
            point["location"] = location.into();
        }
        if kind != "junction" && self.dice.chance(5) {
            let a = self.dice.below(terminals.len());
            let b = (a + 1 + self.dice.below(terminals.len() - 1)) % terminals.len();
            point["links"] = json!([[terminals[a], terminals[b]]]);
        }
        match kind {
            "luminaire" if self.dice.chance(40) => {
                point["lamp"] = self.dice.one(&["filament", "led", "discharge"]).into()
            }
            "appliance" | "appliance-3" if self.dice.chance(50) => {
                point["load"] = self.dice.one(&["resistive", "electronic"]).into()
            }
            "contactor" if self.dice.chance(60) => point["manual"] = true.into(),
            "indicator" if self.dice.chance(50) => point["removable"] = true.into(),
            _ => {}
        }
        if !positions.is_empty() {
            self.overrides_of_positions(&id, &mut point, positions);
        }
        if bridges {
            self.holders.push(id.clone());
            if self.dice.chance(10) {
                point["removable"] = false.into();
            }
            // An indicator stays in and so does what the push holds, unless the point says otherwise.
            let stays = ["indicator", "push"].contains(&kind);
            if point["removable"].as_bool().unwrap_or(!stays) {
                self.removable.push(id.clone());
                self.linkable.extend(["sensor", "dimmer", "relay"].contains(&kind).then(|| id.clone()));
            }
        }
        if self.dice.chance(8) {
            point["fixed"] = true.into();
        }
        self.terminals.insert(id.clone(), terminals);
        self.points.push(point);
        id
    }

    fn overrides_of_positions(&mut self, id: &str, point: &mut Value, positions: &[&str]) {
        let by_hand = point["kind"] != "contactor" || point["manual"] == true;
        let mut operable = by_hand;
        if by_hand && (self.settings.saturating_mul(positions.len()) > self.limits.settings || self.dice.chance(8)) {
            point["operable"] = false.into();
            operable = false;
        }
        if operable {
            self.settings = self.settings.saturating_mul(positions.len());
        }
        let mut visible = !["two-way", "intermediate"].contains(&point["kind"].as_str().unwrap());
        if by_hand && self.dice.chance(10) {
            visible = self.dice.chance(50);
            point["visible"] = visible.into();
        }
        if by_hand && self.dice.chance(12) && self.take_combinations(positions.len()) {
            point["stands"] = "unknown".into();
        } else if by_hand && self.dice.chance(40) {
            point["stands"] = self.dice.one(positions).into();
        } else if by_hand && !visible && !(self.dice.chance(30) && self.take_combinations(positions.len())) {
            point["stands"] = positions[0].into();
        }
        let positions = positions.iter().map(|&name| name.to_owned()).collect();
        self.devices.push(Device { name: id.to_owned(), positions, operable });
    }

    /// Whether a further unknown device with so many positions is within the limit; counts it if so.
    pub fn take_combinations(&mut self, positions: usize) -> bool {
        let within = self.combinations * positions <= self.limits.combinations;
        if within {
            self.combinations *= positions;
        }
        within
    }

    /// A length with these cores, each by its terminals at the two ends, and a protective core; the dice may spoil it.
    pub fn length(&mut self, circuit: &str, from: &str, to: &str, cores: &[(&str, &str)]) {
        const NAMES: [&str; 8] = ["brown", "blue", "black", "grey", "red", "white", "orange", "violet"];
        let mut ends: Vec<[String; 2]> = cores.iter().map(|&(a, b)| [a.to_owned(), b.to_owned()]).collect();
        if self.dice.chance(12) {
            // A spare core, perhaps connected at one end.
            let connected = if self.dice.chance(30) { self.any_terminal(from) } else { "-".to_owned() };
            ends.push([connected, "-".to_owned()]);
        }
        if self.dice.chance(self.limits.mistakes) {
            let core = self.dice.below(ends.len().max(1));
            let side = self.dice.below(2);
            let wrong = if self.dice.chance(20) { "-".to_owned() } else { self.any_terminal([from, to][side]) };
            if let Some(core) = ends.get_mut(core) {
                core[side] = wrong;
            }
        }
        let first = self.dice.below(NAMES.len());
        let mut named = Map::new();
        for (number, ends) in ends.into_iter().enumerate() {
            named.insert(NAMES[(first + number) % NAMES.len()].to_owned(), ends.to_vec().into());
        }
        if named.is_empty() || !self.dice.chance(12) {
            named.insert("cpc".to_owned(), json!(["E", "E"]));
        }
        let metres = (1 + self.dice.below(120)) as f64 / 4.0;
        let id = format!("W{}", self.lengths.len() + 1);
        self.lengths
            .push(json!({ "id": id, "circuit": circuit, "from": from, "to": to, "metres": metres, "cores": named }));
    }

    pub fn any_terminal(&mut self, end: &str) -> String {
        let terminals = &self.terminals[end];
        terminals[self.dice.below(terminals.len())].clone()
    }

    /// The file.
    pub fn installation(&self) -> Value {
        let mut head = json!({ "name": "drawn by dice", "nominal_voltage": 230, "earthing": "TN-S" });
        if self.three_phase {
            head["phases"] = 3.into();
        }
        let mut file = json!({
            "format": 1, "installation": head, "board": self.boards, "circuit": self.circuits, "point": self.points,
            "length": self.lengths,
            "location": (1..=self.locations).map(|number| json!({ "id": format!("room-{number}") })).collect::<Vec<_>>(),
        });
        if self.locations > 1 {
            let passages = (1..self.locations)
                .map(|number| json!({ "between": [format!("room-{number}"), format!("room-{}", number + 1)], "metres": 4.5 }));
            file["passage"] = passages.collect::<Vec<_>>().into();
        }
        if self.declared {
            file["kind"] = json!([
                { "id": "key-switch", "terminals": ["IN", "OUT", "N"],
                  "positions": [{ "name": "in", "joins": [["IN", "OUT"]] }, { "name": "out", "joins": [] }],
                  "bridges": [{ "between": ["IN", "N"], "conducts": "maybe" }] },
                { "id": "push", "terminals": ["a", "b", "c", "d"], "removable": false,
                  "positions": [{ "name": "rest", "joins": [["a", "b", "c"]] },
                                { "name": "half", "joins": [["a", "b"], ["c", "d"]] },
                                { "name": "full", "joins": [["a", "d"]] }],
                  "bridges": [{ "between": ["b", "d"], "conducts": "sure" }, { "between": ["c", "d"], "conducts": "maybe", "load": false }] },
                { "id": "relay", "terminals": ["IN", "OUT", "AUX"],
                  "bridges": [{ "between": ["IN", "OUT"], "conducts": "sure", "passes": true },
                              { "between": ["AUX", "OUT"], "conducts": "maybe", "passes": false, "load": true }] },
            ]);
        }
        file
    }
}
