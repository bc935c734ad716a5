//! FORMAT.md part 1: terminals by their full names, cores, permanent joins, devices and bridges.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::Value;

use super::conduct::{Joined, Leads};
use super::kinds::{Bridge, Kind, list, texts};

/// A terminal, or a core: a thing that can be joined to others.
pub type Node = usize;

pub struct Device {
    pub name: String,
    /// Each position's name and the pairs of terminals that it joins.
    pub positions: Vec<(String, Vec<(Node, Node)>)>,
    pub operable: bool,
    /// Whether it can be seen in which position it stands.
    pub visible: bool,
    /// The ready position; none where nobody knows.
    pub ready: Option<usize>,
    /// Worked at a board: no operation of a plan.
    pub at_board: bool,
    /// The plate, or else the location, or else the point: where a stop is made to work it.
    pub stop: String,
}

/// The bridges of one thing, which come and go together.
pub struct Bridges {
    pub owner: String,
    pub removable: bool,
    pub elements: Vec<Element>,
}

/// One bridge between two terminals.
#[derive(Clone, Copy)]
pub struct Element {
    pub between: [Node; 2],
    /// Whether it conducts for sure.
    pub sure: bool,
    /// In service, what it joins is one conductor.
    pub passes: bool,
}

/// What a circuit's `relief` says, where it counts.
#[derive(Default)]
pub struct Relief {
    pub leaves: Vec<String>,
    /// Its ruleset's `readings = "to-earth"`.
    pub to_earth: bool,
}

pub struct Length {
    pub id: String,
    pub circuit: String,
    pub metres: f64,
    /// In the file's order.
    pub cores: Vec<Core>,
}

pub struct Core {
    pub name: String,
    pub node: Node,
    /// At both ends.
    pub connected: bool,
}

/// What each node is for.
pub struct Roles {
    in_service: Joined,
    of_piece: BTreeMap<Node, BTreeSet<String>>,
}

impl Roles {
    pub fn of(&self, node: Node) -> BTreeSet<String> {
        self.of_piece.get(&self.in_service.piece(node)).cloned().unwrap_or_default()
    }
}

/// A circuit's way, and the line conductors that it carries.
pub struct Way {
    pub name: String,
    pub poles: Vec<String>,
    pub neutral: bool,
}

pub struct Pair {
    pub length: usize,
    pub cores: [String; 2],
    pub nodes: [Node; 2],
    pub class: &'static str,
    /// The test voltages that will do for its circuit.
    pub asked: Vec<f64>,
}

pub struct Wiring {
    terminals: BTreeMap<String, Node>,
    pub node_count: usize,
    /// Copper: cores to their terminals, links, and what FORMAT.md calls joined for good.
    pub joined_for_good: Vec<(Node, Node)>,
    pub devices: Vec<Device>,
    pub bridges: Vec<Bridges>,
    pub lengths: Vec<Length>,
    /// Circuits by id; none where no way feeds the circuit.
    pub circuits: Vec<(String, Option<Way>)>,
    /// By circuit; BS 7671 and IEC 60364-6 have 250 V, which is below the row of low voltage and FELV alone.
    pub reliefs: BTreeMap<String, Relief>,
    /// By circuit: its system, and its nominal voltage, line to neutral.
    systems: BTreeMap<String, (String, f64)>,
    pub lines: Vec<String>,
    origin: String,
    sources: Vec<String>,
    /// By point: the plate, or else the location, or else the point.
    pub stops: BTreeMap<String, String>,
}

impl Wiring {
    pub fn of(installation: &Value) -> Wiring {
        let lines: &[&str] = if installation["installation"]["phases"] == 3 { &["L1", "L2", "L3"] } else { &["L"] };
        let mut wiring = Wiring {
            terminals: BTreeMap::new(),
            node_count: 0,
            joined_for_good: Vec::new(),
            devices: Vec::new(),
            bridges: Vec::new(),
            lengths: Vec::new(),
            circuits: Vec::new(),
            reliefs: BTreeMap::new(),
            systems: BTreeMap::new(),
            lines: lines.iter().map(|&line| line.to_owned()).collect(),
            origin: String::new(),
            sources: Vec::new(),
            stops: BTreeMap::new(),
        };
        let mut ways = BTreeMap::new();
        for board in list(&installation["board"]) {
            wiring.add_board(board, &mut ways);
        }
        for circuit in list(&installation["circuit"]) {
            let way = circuit["way"].as_str().map(|way| ways.remove(way).expect("a way feeds one circuit"));
            let id = circuit["id"].as_str().unwrap().to_owned();
            if !circuit["relief"].is_null() && !["selv", "pelv"].iter().any(|system| circuit["system"] == *system) {
                let relief = Relief { leaves: texts(&circuit["relief"]["leaves"]), to_earth: false };
                wiring.reliefs.insert(id.clone(), relief);
            }
            let nominal =
                circuit["nominal_voltage"].as_f64().or(installation["installation"]["nominal_voltage"].as_f64());
            let system = circuit["system"].as_str().unwrap_or("lv").to_owned();
            wiring.systems.insert(id.clone(), (system, nominal.expect("a number")));
            wiring.circuits.push((id, way));
        }
        for point in list(&installation["point"]) {
            wiring.add_point(point, installation);
        }
        for length in list(&installation["length"]) {
            wiring.add_length(length);
        }
        wiring
    }

    /// The same by IEC 60364-6, whose relief is for readings to earth.
    pub fn by_iec(installation: &Value) -> Wiring {
        let mut wiring = Wiring::of(installation);
        wiring.reliefs.values_mut().for_each(|relief| relief.to_earth = true);
        wiring
    }

    /// By circuit the test voltages that will do, by BS 7671: that of its row, then that of its relief.
    fn asked(&self) -> BTreeMap<&str, Vec<f64>> {
        let roles = self.roles();
        let asked = self.circuits.iter().map(|(id, way)| {
            let own = self.lengths.iter().filter(|length| length.circuit == *id);
            let roles = own.flat_map(|length| &length.cores).flat_map(|core| roles.of(core.node));
            let mut lines: BTreeSet<String> = roles.filter(|role| self.lines.contains(role)).collect();
            lines.extend(way.iter().flat_map(|way| way.poles.iter().cloned()));
            let (system, nominal) = &self.systems[id];
            // Nominal voltages are rounded: between the lines of 289/500 V there are 500 V.
            let several = if way.is_some() && lines.len() > 1 { 3f64.sqrt() * 0.995 } else { 1.0 };
            let mut asked = vec![match system.as_str() {
                "selv" | "pelv" => 250.0,
                "lv" if nominal * several > 500.0 => 1000.0,
                _ => 500.0,
            }];
            asked.extend(self.reliefs.contains_key(id).then_some(250.0));
            (id.as_str(), asked)
        });
        asked.collect()
    }

    /// By length the test voltages that will do for its circuit.
    pub fn asked_of_lengths(&self) -> BTreeMap<String, Vec<f64>> {
        let asked = self.asked();
        self.lengths.iter().map(|length| (length.id.clone(), asked[length.circuit.as_str()].clone())).collect()
    }

    /// The test voltage that a plan names for a circuit: that of its relief, where it has one.
    pub fn test_voltage(&self, circuit: &str) -> f64 {
        *self.asked()[circuit].last().expect("a row")
    }

    /// Whether a pair must be tested.
    pub fn requires(&self, pair: &Pair, need: &str) -> bool {
        let relief = self.reliefs.get(&self.lengths[pair.length].circuit);
        let to_earth_only = relief.is_some_and(|relief| relief.to_earth && !relief.leaves.is_empty());
        required(pair.class, need) && (pair.class == "to-earth" || !to_earth_only)
    }

    /// The sources of a circuit without a way, in the order of the file.
    pub fn sources_of(&self, circuit: &str) -> Vec<String> {
        let mut in_service = Joined::copper(self);
        for (_, contacts) in self.devices.iter().flat_map(|device| &device.positions) {
            contacts.iter().for_each(|&(a, b)| in_service.join_for_sure(a, b));
        }
        let own = self.lengths.iter().filter(|length| length.circuit == circuit);
        let cores: Vec<Node> = own.flat_map(|length| &length.cores).map(|core| core.node).collect();
        let mut sources: Vec<String> = Vec::new();
        for source in &self.sources {
            let point = source.split('.').next().unwrap().to_owned();
            let is_on = cores.iter().any(|&core| in_service.for_sure(core, self.terminal(source)));
            if is_on && !sources.contains(&point) {
                sources.push(point);
            }
        }
        sources
    }

    /// What `E` is at a source: its own where that is joined for good to `MET`.
    pub fn earth_at(&self, source: &str) -> Node {
        let (own, met) = (self.terminal(&format!("{source}.E")), self.terminal("MET"));
        if Joined::copper(self).for_sure(own, met) { own } else { met }
    }

    /// A reading that is put down under a circuit, none for one at a board, at so many volts.
    pub fn leads(&self, circuit: Option<&str>, volts: Option<f64>, touch: [Vec<Node>; 2]) -> Leads {
        let relief = circuit.and_then(|circuit| self.reliefs.get(circuit));
        let counts = |relief: &&Relief| {
            // What an instrument gives that is set to 250 V.
            volts.is_some_and(|volts| volts <= 312.5) && (!relief.to_earth || self.is_live_to_earth(&touch))
        };
        let leaves = relief.filter(counts).map_or(&[][..], |relief| &relief.leaves);
        let numbered = self.bridges.iter().enumerate();
        let left_in =
            numbered.filter(|(_, bridges)| leaves.contains(&bridges.owner)).map(|(number, _)| number).collect();
        Leads { touch, left_in, volts }
    }

    /// Live conductors alone on one lead, earth alone on the other.
    fn is_live_to_earth(&self, touch: &[Vec<Node>; 2]) -> bool {
        let (roles, copper, met) = (self.roles(), Joined::copper(self), self.terminal("MET"));
        let name =
            |node: Node| self.terminals.iter().find(|(_, terminal)| **terminal == node).map(|row| row.0.as_str());
        let boards: Vec<&str> = self.terminals.keys().filter_map(|name| name.strip_suffix(".bus.N")).collect();
        let of_board = |name: &&str| boards.iter().any(|board| name.split(['.', '/']).next() == Some(board));
        // Whether it is live and no earth, whether it is earth.
        let of = |&node: &Node| {
            let roles = roles.of(node);
            match name(node).filter(of_board) {
                _ if copper.for_sure(node, met) => (false, true),
                // A board that nothing in the file feeds still has its conductors.
                Some(name) if roles.is_empty() => (!name.ends_with(".E"), name.ends_with(".E")),
                _ => (!roles.is_empty() && !roles.contains("E"), roles.len() == 1 && roles.contains("E")),
            }
        };
        let all = |lead: &[Node], wanted: (bool, bool)| lead.iter().all(|node| of(node) == wanted);
        let [a, b] = touch;
        let (live, earth) = ((true, false), (false, true));
        all(a, live) && all(b, earth) || all(a, earth) && all(b, live)
    }

    /// The terminal of this full name.
    pub fn terminal(&self, name: &str) -> Node {
        *self.terminals.get(name).unwrap_or_else(|| panic!("no terminal {name}"))
    }

    /// The terminals of a point.
    pub fn terminals_of(&self, point: &str) -> Vec<Node> {
        let of_point = self.terminals.iter().filter(|(name, _)| {
            name.strip_prefix(point).and_then(|rest| rest.strip_prefix('.')).is_some_and(|rest| !rest.contains('.'))
        });
        of_point.map(|(_, &node)| node).collect()
    }

    fn node(&mut self, name: impl Into<String>) -> Node {
        let next = self.node_count;
        let node = *self.terminals.entry(name.into()).or_insert(next);
        self.node_count = self.node_count.max(node + 1);
        node
    }

    fn join_for_good(&mut self, a: impl Into<String>, b: impl Into<String>) {
        let join = (self.node(a), self.node(b));
        self.joined_for_good.push(join);
    }

    fn add_board_device(&mut self, name: &str, joins: Vec<(String, String)>) {
        let joins = joins.into_iter().map(|(a, b)| (self.node(a), self.node(b))).collect();
        self.devices.push(Device {
            name: name.to_owned(),
            positions: vec![("off".to_owned(), Vec::new()), ("on".to_owned(), joins)],
            operable: true,
            visible: true,
            ready: Some(0),
            at_board: true,
            stop: name.to_owned(),
        });
    }

    fn add_bridges(&mut self, owner: &str, removable: bool, bridges: Vec<Bridge>) {
        let elements: Vec<Element> = bridges
            .into_iter()
            .map(|Bridge { between, sure, passes }| Element {
                between: between.map(|terminal| self.node(terminal)),
                sure,
                passes,
            })
            .collect();
        if !elements.is_empty() {
            self.bridges.push(Bridges { owner: owner.to_owned(), removable, elements });
        }
    }

    fn add_board(&mut self, board: &Value, ways: &mut BTreeMap<String, Way>) {
        let id = board["id"].as_str().unwrap();
        let live: Vec<String> = self.lines.iter().cloned().chain(["N".to_owned()]).collect();

        self.join_for_good(format!("{id}.in.E"), format!("{id}.E"));
        if board["origin"] == true {
            self.join_for_good(format!("{id}.E"), "MET");
            self.origin = id.to_owned();
        }
        let incoming = live.iter().map(|x| (format!("{id}.in.{x}"), format!("{id}.bus.{x}"))).collect::<Vec<_>>();
        if board["main_switch"] == false {
            for (a, b) in incoming {
                self.join_for_good(a, b);
            }
        } else {
            self.add_board_device(&format!("{id}.main"), incoming);
        }

        for group in list(&board["group"]) {
            let name = format!("{id}.{}", group["id"].as_str().unwrap());
            let joins = live.iter().map(|x| (format!("{id}.bus.{x}"), format!("{name}.{x}"))).collect();
            self.add_board_device(&name, joins);
            if group["electronic"] != false {
                let lines = self.lines.clone();
                let bridges = lines.iter().map(|x| electronics(format!("{name}.{x}"), format!("{name}.N"))).collect();
                self.add_bridges(&name, false, bridges);
            }
        }

        for way in list(&board["way"]) {
            let name = format!("{id}/{}", way["id"].as_str().unwrap());
            let bars = match way["group"].as_str() {
                Some(group) => format!("{id}.{group}"),
                None => format!("{id}.bus"),
            };
            let poles = if way["poles"].is_null() { vec![self.lines[0].clone()] } else { texts(&way["poles"]) };
            let neutral = way["neutral"] != false;
            let rcbo = way["device"] == "rcbo";

            self.join_for_good(format!("{name}.E"), format!("{id}.E"));
            let mut switched = poles.clone();
            if neutral && rcbo && way["switches_neutral"] != false {
                switched.push("N".to_owned());
            } else if neutral {
                self.join_for_good(format!("{name}.N"), format!("{bars}.N"));
            }
            let joins = switched.iter().map(|x| (format!("{bars}.{x}"), format!("{name}.{x}"))).collect();
            self.add_board_device(&name, joins);
            if rcbo {
                let mut bridges = Vec::new();
                for pole in &poles {
                    if neutral {
                        bridges.push(electronics(format!("{name}.{pole}"), format!("{name}.N")));
                    }
                    if way["functional_earth"] == true {
                        bridges.push(electronics(format!("{name}.{pole}"), format!("{name}.E")));
                    }
                }
                self.add_bridges(&name, true, bridges);
            }
            ways.insert(name.clone(), Way { name, poles, neutral });
        }
    }

    fn add_point(&mut self, point: &Value, installation: &Value) {
        let id = point["id"].as_str().unwrap();
        let full = |terminal: &str| format!("{id}.{terminal}");
        let kind = Kind::of(point, installation);
        for terminal in kind.terminals.iter().cloned().chain(texts(&point["terminals"])) {
            self.node(full(&terminal));
        }
        let stop = [("plate", &point["plate"]), ("location", &point["location"]), ("point", &point["id"])]
            .into_iter()
            .find_map(|(what, place)| place.as_str().map(|place| format!("{what} {place}")))
            .unwrap();
        self.stops.insert(id.to_owned(), stop);
        for link in list(&point["links"]) {
            for two in texts(link).windows(2) {
                self.join_for_good(full(&two[0]), full(&two[1]));
            }
        }
        if !kind.positions.is_empty() {
            let stands = point["stands"].as_str().filter(|_| kind.operable);
            let visible = !kind.operable || point["visible"].as_bool().unwrap_or(kind.visible);
            let ready = match stands {
                None => visible.then_some(0),
                Some("unknown") => None,
                Some(stands) => Some(kind.positions.iter().position(|(name, _)| name == stands).unwrap()),
            };
            let stop = self.stops[id].clone();
            let mut positions = Vec::new();
            for (name, joins) in kind.positions {
                let joined = |join: &Vec<String>| {
                    join.windows(2).map(|two| [two[0].clone(), two[1].clone()]).collect::<Vec<_>>()
                };
                let contacts =
                    joins.iter().flat_map(joined).map(|[a, b]| (self.node(full(&a)), self.node(full(&b)))).collect();
                positions.push((name, contacts));
            }
            let operable = kind.operable && point["operable"] != false;
            let name = id.to_owned();
            self.devices.push(Device { name, positions, operable, visible, ready, at_board: false, stop });
        }
        let circuits = list(&installation["circuit"]).iter();
        let is_left_in = circuits.flat_map(|circuit| texts(&circuit["relief"]["leaves"])).any(|left| left == id);
        let removable = point["removable"].as_bool().unwrap_or(kind.removable) && !is_left_in;
        let bridges = kind.bridges.into_iter();
        let bridges =
            bridges.map(|row| Bridge { between: row.between.each_ref().map(|name| full(name)), ..row }).collect();
        self.add_bridges(id, removable, bridges);
        self.sources.extend(kind.sources.iter().map(|terminal| full(terminal)));
    }

    fn add_length(&mut self, length: &Value) {
        let id = length["id"].as_str().unwrap();
        let mut cores = Vec::new();
        for (name, ends) in length["cores"].as_object().unwrap() {
            let node = self.node(format!("core {id} {name}"));
            for (end, terminal) in ["from", "to"].into_iter().zip(texts(ends)) {
                if terminal != "-" {
                    // A junction's terminals are whatever the lengths name on it, so that this may be a new one.
                    self.join_for_good(
                        format!("core {id} {name}"),
                        format!("{}.{terminal}", length[end].as_str().unwrap()),
                    );
                }
            }
            let connected = texts(ends).iter().all(|terminal| terminal != "-");
            cores.push(Core { name: name.clone(), node, connected });
        }
        self.lengths.push(Length {
            id: id.to_owned(),
            circuit: length["circuit"].as_str().unwrap().to_owned(),
            metres: length["metres"].as_f64().unwrap(),
            cores,
        });
    }

    /// The supply conductors, each with where it is taken.
    pub fn supply(&self) -> Vec<(String, Node)> {
        let live = self.lines.iter().cloned().chain(["N".to_owned()]);
        let mut supply: Vec<(String, Node)> =
            live.map(|x| (x.clone(), self.terminal(&format!("{}.in.{x}", self.origin)))).collect();
        supply.push(("E".to_owned(), self.terminal("MET")));
        supply.extend(self.sources.iter().map(|source| (source.clone(), self.terminal(source))));
        supply
    }

    /// Copper without that of boards.
    pub fn without_bars(&self) -> Joined {
        let boards: Vec<&str> = self.terminals.keys().filter_map(|name| name.strip_suffix(".bus.N")).collect();
        let is_bar = |name: &str| name == "MET" || name.split('.').next().is_some_and(|owner| boards.contains(&owner));
        let bars: BTreeSet<Node> = self.terminals.iter().filter(|row| is_bar(row.0)).map(|row| *row.1).collect();
        Joined::by(self, self.joined_for_good.iter().copied().filter(|(a, b)| !bars.contains(a) && !bars.contains(b)))
    }

    /// What each node is for: the supply conductors it is joined to with every contact closed and every bridge absent;
    /// or else the one that passing bridges bring; or else what is served is of a role of its own.
    pub fn roles(&self) -> Roles {
        let mut in_service = Joined::copper(self);
        for device in &self.devices {
            for (_, contacts) in &device.positions {
                contacts.iter().for_each(|&(a, b)| in_service.join_for_sure(a, b));
            }
        }
        let mut roles = Roles { in_service, of_piece: BTreeMap::new() };
        for (conductor, at) in self.supply() {
            roles.of_piece.entry(roles.in_service.piece(at)).or_default().insert(conductor);
        }
        self.pass_on(&mut roles);
        self.serve(&mut roles);
        roles
    }

    /// Bodies without a role that passing bridges join, each with what has a role around them.
    fn pass_on(&self, roles: &mut Roles) {
        let elements = self.bridges.iter().flat_map(|bridges| &bridges.elements);
        let passing: Vec<[Node; 2]> = elements.filter(|element| element.passes).map(|row| row.between).collect();
        for &start in passing.iter().flatten() {
            let mut together = vec![roles.in_service.piece(start)];
            let mut around = BTreeSet::new();
            let mut next = 0;
            while next < together.len() {
                let piece = together[next];
                next += 1;
                if let Some(roles) = roles.of_piece.get(&piece) {
                    around.extend(roles.iter().cloned());
                    continue;
                }
                for [a, b] in passing.iter().map(|between| between.map(|node| roles.in_service.piece(node))) {
                    for (here, there) in [(a, b), (b, a)] {
                        if here == piece && !together.contains(&there) {
                            together.push(there);
                        }
                    }
                }
            }
            if around.len() == 1 {
                for piece in together {
                    roles.of_piece.entry(piece).or_insert_with(|| around.clone());
                }
            }
        }
    }

    /// Bodies that bridges join to a supply conductor, directly or over others of them.
    fn serve(&self, roles: &mut Roles) {
        let elements = || self.bridges.iter().flat_map(|bridges| &bridges.elements);
        let supplied: BTreeSet<Node> = roles.of_piece.keys().copied().collect();
        let mut reached = supplied.clone();
        loop {
            let before = reached.len();
            for element in elements() {
                let pieces = element.between.map(|node| roles.in_service.piece(node));
                if pieces.iter().any(|piece| reached.contains(piece)) {
                    reached.extend(pieces);
                }
            }
            if reached.len() == before {
                break;
            }
        }
        let name = |node: Node| self.terminals.iter().find(|(_, at)| **at == node).unwrap().0.clone();
        for node in elements().flat_map(|element| element.between) {
            let piece = roles.in_service.piece(node);
            if reached.contains(&piece) {
                roles.of_piece.entry(piece).or_insert_with(|| BTreeSet::from([name(node)]));
            }
        }
    }

    /// The cores connected at both ends that have no role, or those that are not so connected: [length, core].
    pub fn without_role(&self, connected: bool) -> Vec<[String; 2]> {
        let roles = self.roles();
        let cores = self.lengths.iter().flat_map(|length| length.cores.iter().map(move |core| (&length.id, core)));
        let wanted = cores.filter(|(_, core)| roles.of(core.node).is_empty() && core.connected == connected);
        wanted.map(|(length, core)| [length.clone(), core.name.clone()]).collect()
    }

    /// Every pair that has a class.
    pub fn pairs(&self) -> Vec<Pair> {
        let roles = self.roles();
        let met = self.terminal("MET");
        let copper = Joined::copper(self);
        let asked = self.asked();
        let mut pairs = Vec::new();
        for (number, length) in self.lengths.iter().enumerate() {
            let mut two: Vec<[(&str, Node); 2]> = Vec::new();
            let cores: Vec<(&str, Node)> = length.cores.iter().map(|core| (core.name.as_str(), core.node)).collect();
            for (place, &core) in cores.iter().enumerate() {
                two.extend(cores[place + 1..].iter().map(|&other| [core, other]));
            }
            if !cores.iter().any(|&(_, core)| roles.of(core).contains("E")) {
                two.extend(cores.iter().map(|&core| [core, ("earth", met)]));
            }
            for [(a_name, a), (b_name, b)] in two {
                // What is joined for good is one conductor.
                if copper.for_sure(a, b) {
                    continue;
                }
                if let Some(class) = class(&roles.of(a), &roles.of(b)) {
                    let cores = [a_name.to_owned(), b_name.to_owned()];
                    let asked = asked[length.circuit.as_str()].clone();
                    pairs.push(Pair { length: number, cores, nodes: [a, b], class, asked });
                }
            }
        }
        pairs
    }
}

/// What is built into a device of a board.
fn electronics(a: String, b: String) -> Bridge {
    Bridge { between: [a, b], sure: false, passes: false }
}

fn class(a: &BTreeSet<String>, b: &BTreeSet<String>) -> Option<&'static str> {
    let earth_alone = |roles: &BTreeSet<String>| roles.len() == 1 && roles.contains("E");
    if a.is_empty() || b.is_empty() {
        Some("spare")
    } else if earth_alone(a) && earth_alone(b) {
        None
    } else if a.contains("E") || b.contains("E") {
        Some("to-earth")
    } else if a != b || a.len() > 1 {
        Some("between-live")
    } else {
        Some("same-polarity")
    }
}

/// Whether `--need` asks for this class.
fn required(class: &str, need: &str) -> bool {
    match need {
        "earth" => class == "to-earth",
        "standard" => ["to-earth", "between-live"].contains(&class),
        "every-pair" => class != "spare",
        _ => panic!("no such need: {need}"),
    }
}
