//! FORMAT.md part 1: terminals by their full names, cores, permanent joins, devices and bridges.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::Value;

use super::conduct::Joined;
use super::kinds::{Kind, list, texts};

/// A terminal, or a core: a thing that can be joined to others.
pub type Node = usize;

pub struct Device {
    pub name: String,
    /// Each position's name and the pairs of terminals that it joins.
    pub positions: Vec<(String, Vec<(Node, Node)>)>,
    pub operable: bool,
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
    /// The two terminals, and whether it conducts for sure.
    pub between: Vec<(Node, Node, bool)>,
}

pub struct Length {
    pub id: String,
    pub metres: f64,
    /// Names in the file's order.
    pub cores: Vec<(String, Node)>,
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
    pub lines: Vec<String>,
    origin: String,
    sources: Vec<String>,
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
            lines: lines.iter().map(|&line| line.to_owned()).collect(),
            origin: String::new(),
            sources: Vec::new(),
        };
        let mut ways = BTreeMap::new();
        for board in list(&installation["board"]) {
            wiring.add_board(board, &mut ways);
        }
        for circuit in list(&installation["circuit"]) {
            let way = circuit["way"].as_str().map(|way| ways.remove(way).expect("a way feeds one circuit"));
            wiring.circuits.push((circuit["id"].as_str().unwrap().to_owned(), way));
        }
        for point in list(&installation["point"]) {
            wiring.add_point(point, installation);
        }
        for length in list(&installation["length"]) {
            wiring.add_length(length);
        }
        wiring
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
            ready: Some(0),
            at_board: true,
            stop: name.to_owned(),
        });
    }

    fn add_bridges(&mut self, owner: &str, removable: bool, between: Vec<(String, String, bool)>) {
        let between: Vec<_> = between.into_iter().map(|(a, b, sure)| (self.node(a), self.node(b), sure)).collect();
        if !between.is_empty() {
            self.bridges.push(Bridges { owner: owner.to_owned(), removable, between });
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
                let bridges = lines.iter().map(|x| (format!("{name}.{x}"), format!("{name}.N"), false)).collect();
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
                        bridges.push((format!("{name}.{pole}"), format!("{name}.N"), false));
                    }
                    if way["functional_earth"] == true {
                        bridges.push((format!("{name}.{pole}"), format!("{name}.E"), false));
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
        for link in list(&point["links"]) {
            for two in texts(link).windows(2) {
                self.join_for_good(full(&two[0]), full(&two[1]));
            }
        }
        if !kind.positions.is_empty() {
            let stands = point["stands"].as_str().filter(|_| kind.operable);
            let ready = match stands {
                None => Some(0),
                Some("unknown") => None,
                Some(stands) => Some(kind.positions.iter().position(|(name, _)| name == stands).unwrap()),
            };
            let stop = [("plate", &point["plate"]), ("location", &point["location"]), ("point", &point["id"])]
                .into_iter()
                .find_map(|(what, place)| place.as_str().map(|place| format!("{what} {place}")))
                .unwrap();
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
            self.devices.push(Device { name: id.to_owned(), positions, operable, ready, at_board: false, stop });
        }
        let removable = point["removable"].as_bool().unwrap_or(kind.removable);
        let bridges = kind.bridges.into_iter().map(|(a, b, sure)| (full(&a), full(&b), sure)).collect();
        self.add_bridges(id, removable, bridges);
        self.sources.extend(kind.sources.iter().map(|terminal| full(terminal)));
    }

    fn add_length(&mut self, length: &Value) {
        let id = length["id"].as_str().unwrap();
        let mut cores = Vec::new();
        for (name, ends) in length["cores"].as_object().unwrap() {
            let core = self.node(format!("core {id} {name}"));
            for (end, terminal) in ["from", "to"].into_iter().zip(texts(ends)) {
                if terminal != "-" {
                    // A junction's terminals are whatever the lengths name on it, so that this may be a new one.
                    self.join_for_good(
                        format!("core {id} {name}"),
                        format!("{}.{terminal}", length[end].as_str().unwrap()),
                    );
                }
            }
            cores.push((name.clone(), core));
        }
        self.lengths.push(Length { id: id.to_owned(), metres: length["metres"].as_f64().unwrap(), cores });
    }

    /// What each node is for: the supply conductors it is joined to with every contact closed and every bridge absent.
    fn roles(&self) -> impl Fn(Node) -> BTreeSet<String> + '_ {
        let mut in_service = Joined::copper(self);
        for device in &self.devices {
            for (_, contacts) in &device.positions {
                contacts.iter().for_each(|&(a, b)| in_service.join_for_sure(a, b));
            }
        }
        let live = self.lines.iter().cloned().chain(["N".to_owned()]);
        let mut supply: Vec<(String, Node)> =
            live.map(|x| (x.clone(), self.terminal(&format!("{}.in.{x}", self.origin)))).collect();
        supply.push(("E".to_owned(), self.terminal("MET")));
        supply.extend(self.sources.iter().map(|source| (source.clone(), self.terminal(source))));
        move |node| {
            let here = supply.iter().filter(|(_, at)| in_service.for_sure(*at, node));
            here.map(|(conductor, _)| conductor.clone()).collect()
        }
    }

    /// Every pair that has a class.
    pub fn pairs(&self) -> Vec<Pair> {
        let roles = self.roles();
        let met = self.terminal("MET");
        let mut pairs = Vec::new();
        for (number, length) in self.lengths.iter().enumerate() {
            let mut two: Vec<[(&str, Node); 2]> = Vec::new();
            let cores: Vec<(&str, Node)> = length.cores.iter().map(|(name, core)| (name.as_str(), *core)).collect();
            for (place, &core) in cores.iter().enumerate() {
                two.extend(cores[place + 1..].iter().map(|&other| [core, other]));
            }
            if !cores.iter().any(|&(_, core)| roles(core).contains("E")) {
                two.extend(cores.iter().map(|&core| [core, ("earth", met)]));
            }
            for [(a_name, a), (b_name, b)] in two {
                if let Some(class) = class(&roles(a), &roles(b)) {
                    let cores = [a_name.to_owned(), b_name.to_owned()];
                    pairs.push(Pair { length: number, cores, nodes: [a, b], class });
                }
            }
        }
        pairs
    }
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
pub fn required(class: &str, need: &str) -> bool {
    match need {
        "earth" => class == "to-earth",
        "standard" => ["to-earth", "between-live"].contains(&class),
        "every-pair" => class != "spare",
        _ => panic!("no such need: {need}"),
    }
}
