//! FORMAT.md, "What makes each load work": every configuration in turn.

use std::collections::BTreeSet;

use serde_json::{Value, json};

use super::conduct::{Bridged, Joined, Setting};
use super::kinds::{Kind, list};
use super::wiring::{Node, Wiring};

/// The greatest number of configurations that are gone through.
const MOST: usize = 4096;

/// What the ends of a load are joined to, where it works.
type Fed = Option<[String; 2]>;

struct Configurations {
    wiring: Wiring,
    /// For each device the positions that it may be in.
    positions: Vec<Vec<usize>>,
    count: usize,
    /// The supply conductors.
    sources: Vec<(String, Node)>,
}

impl Configurations {
    fn of(installation: &Value) -> Configurations {
        let wiring = Wiring::of(installation);
        let is_contactor = |name: &str| {
            list(&installation["point"]).iter().any(|point| point["id"] == name && point["kind"] == "contactor")
        };
        let positions: Vec<Vec<usize>> = wiring
            .devices
            .iter()
            .map(|device| match device.ready {
                _ if device.at_board => vec![1],
                Some(ready) if !device.operable && !is_contactor(&device.name) => vec![ready],
                _ => (0..device.positions.len()).collect(),
            })
            .collect();
        let count = positions.iter().map(Vec::len).try_fold(1usize, usize::checked_mul).unwrap_or(usize::MAX);
        let sources = wiring.supply();
        Configurations { wiring, positions, count, sources }
    }

    fn positions_of(&self, number: usize) -> Vec<usize> {
        let mut rest = number;
        let position = |positions: &Vec<usize>| {
            let position = positions[rest % positions.len()];
            rest /= positions.len();
            position
        };
        self.positions.iter().map(position).collect()
    }

    fn joined(&self, number: usize, bridges: Bridged) -> Joined {
        let bridges = vec![bridges; self.wiring.bridges.len()];
        Joined::of(&self.wiring, &Setting { positions: self.positions_of(number), bridges })
    }

    /// What a load's ends are joined to in a configuration, if it works there.
    fn fed(&self, joined: &Joined, ends: [Node; 2]) -> Fed {
        let at = |node| -> Vec<&str> {
            let here = self.sources.iter().filter(|(_, at)| joined.for_sure(*at, node));
            here.map(|(name, _)| name.as_str()).collect()
        };
        let [one, other] = ends.map(at);
        let alone = |names: &[&str]| -> Option<String> {
            let others: Vec<&str> = names.iter().copied().filter(|name| *name != "E").collect();
            match others[..] {
                [only] if !(only.starts_with('L') && names.contains(&"E")) || only.contains('.') => {
                    Some(only.to_owned())
                }
                _ => None,
            }
        };
        let [one, other] = [alone(&one)?, alone(&other)?];
        let source = |name: &str| name.split_once('.').map(|(point, _)| point.to_owned());
        let works = match (source(&one), source(&other)) {
            (Some(a), Some(b)) => a == b && one != other,
            (None, None) => one != other,
            _ => false,
        };
        works.then_some([one, other])
    }
}

/// The loads of a point, by their terminals.
fn loads(point: &Value, installation: &Value) -> Vec<[String; 2]> {
    let kind = point["kind"].as_str().unwrap();
    let declared = list(&installation["kind"]).iter().find(|row| row["id"] == kind);
    let is_load = |number: usize, between: &[String; 2]| {
        let by_kind = match declared {
            Some(declared) => declared["bridges"][number]["load"] != false,
            None => match kind {
                "detector" => between[0] != "IC",
                "transformer" => between[0] != "V1",
                "surge-protector" => false,
                _ => true,
            },
        };
        by_kind && between.iter().all(|end| end != "E")
    };
    let bridges = Kind::of(point, installation).bridges.into_iter().enumerate();
    let of_bridges = bridges.filter(|(number, row)| !row.passes && is_load(*number, &row.between));
    let outlet = match kind {
        "socket" => Some(["L", "N"]),
        "switched-socket" => Some(["Lfront", "N"]),
        _ => None,
    };
    of_bridges.map(|(_, row)| row.between).chain(outlet.map(|ends| ends.map(str::to_owned))).collect()
}

/// What `works --json` prints of each load, but for how it says it; none where there are too many configurations.
pub fn works(installation: &Value) -> Option<Vec<Value>> {
    let all = Configurations::of(installation);
    if all.count > MOST {
        return None;
    }
    let joined = [Bridged::Removed, Bridged::Linked]
        .map(|bridges| (0..all.count).map(|number| all.joined(number, bridges)).collect::<Vec<_>>());
    let copper = Joined::copper(&all.wiring);
    let circuits = circuits(&all);
    let mut rows = Vec::new();
    for point in list(&installation["point"]) {
        let id = point["id"].as_str().unwrap();
        let own: Vec<([String; 2], [Node; 2])> = loads(point, installation)
            .into_iter()
            .map(|between| {
                let ends = between.each_ref().map(|terminal| all.wiring.terminal(&format!("{id}.{terminal}")));
                (between, ends)
            })
            .collect();
        let cores = || all.wiring.lengths.iter().flat_map(|length| &length.cores);
        let has_core = |&node: &Node| cores().any(|core| copper.for_sure(core.node, node));
        let is_wired = |row: &([String; 2], [Node; 2])| row.1.iter().all(has_core);
        let some_are = own.iter().any(is_wired);
        for (between, ends) in own.iter().filter(|row| !some_are || is_wired(row)) {
            let [open, closed] = joined
                .each_ref()
                .map(|all_joined| all_joined.iter().map(|row| all.fed(row, *ends)).collect::<Vec<Fed>>());
            let by_electronics = open.iter().all(Option::is_none) && closed.iter().any(Option::is_some);
            let fed = if by_electronics { &closed } else { &open };
            let works = match fed.iter().filter(|fed| fed.is_some()).count() {
                0 => "never",
                count if count == all.count => "always",
                _ => "depends",
            };
            let mut conductors = BTreeSet::new();
            fed.iter().flatten().flatten().for_each(|name| {
                conductors.insert(name.clone());
            });
            let (mut devices, mut each_turns) = (Vec::new(), Vec::new());
            for (number, device) in all.wiring.devices.iter().enumerate() {
                if all.positions[number].len() < 2 {
                    continue;
                }
                let stride: usize = all.positions[..number].iter().map(Vec::len).product();
                let count = all.positions[number].len();
                let turned = |from: usize| {
                    let place = from / stride % count;
                    (0..count)
                        .filter(move |other| *other != place)
                        .map(move |other| from - place * stride + other * stride)
                };
                let differs = |from: usize| turned(from).map(move |to| (from, to));
                let pairs: Vec<bool> = (0..all.count)
                    .flat_map(differs)
                    .map(|(from, to)| fed[from].is_some() != fed[to].is_some())
                    .collect();
                if pairs.contains(&true) {
                    devices.push(device.name.clone());
                }
                if count == 2 && !pairs.contains(&false) {
                    each_turns.push(device.name.clone());
                }
            }
            let own_circuits = if works == "never" { Vec::new() } else { circuits.at(ends) };
            rows.push(json!({
                "point": id, "between": between, "works": works, "devices": devices, "each_turns": each_turns,
                "through": by_electronics, "conductors": conductors, "circuits": own_circuits,
            }));
        }
    }
    Some(rows)
}

/// Copper without bars, and the circuits of the ways and sources on it.
struct Circuits {
    joined: Joined,
    fed_at: Vec<(String, Vec<Node>)>,
}

fn circuits(all: &Configurations) -> Circuits {
    let mut joined = all.wiring.without_bars();
    for (device, positions) in all.wiring.devices.iter().zip(&all.positions).filter(|(device, _)| !device.at_board) {
        positions
            .iter()
            .flat_map(|&position| &device.positions[position].1)
            .for_each(|&(a, b)| joined.join_for_sure(a, b));
    }
    let elements = all.wiring.bridges.iter().flat_map(|bridges| &bridges.elements);
    elements
        .filter(|element| element.passes)
        .for_each(|element| joined.join_for_sure(element.between[0], element.between[1]));
    let fed_at = all.wiring.circuits.iter().map(|(circuit, way)| {
        let terminals: Vec<String> = match way {
            Some(way) => way
                .poles
                .iter()
                .cloned()
                .chain(way.neutral.then(|| "N".to_owned()))
                .chain(["E".to_owned()])
                .map(|x| format!("{}.{x}", way.name))
                .collect(),
            None => all
                .wiring
                .sources_of(circuit)
                .iter()
                .flat_map(|point| ["V1", "V2"].map(|x| format!("{point}.{x}")))
                .collect(),
        };
        (circuit.clone(), terminals.iter().map(|name| all.wiring.terminal(name)).collect())
    });
    Circuits { joined, fed_at: fed_at.collect() }
}

impl Circuits {
    fn at(&self, ends: &[Node; 2]) -> Vec<String> {
        let here = |nodes: &[Node]| nodes.iter().any(|&node| ends.iter().any(|&end| self.joined.for_sure(node, end)));
        self.fed_at.iter().filter(|(_, nodes)| here(nodes)).map(|(circuit, _)| circuit.clone()).collect()
    }
}

/// Where what `works` says of a load's positions is not so; each configuration is gone through.
pub fn wrong_in_words(installation: &Value, load: &Value) -> Option<String> {
    let all = Configurations::of(installation);
    let id = load["point"].as_str().unwrap();
    let ends = [0, 1].map(|end| all.wiring.terminal(&format!("{id}.{}", load["between"][end].as_str().unwrap())));
    let bridges = if list(&load["through"]).is_empty() { Bridged::Removed } else { Bridged::Linked };
    let stands_so = |positions: &[usize], at: &Value| {
        let number = all.wiring.devices.iter().position(|device| device.name == at["device"]).unwrap();
        list(&at["positions"]).iter().any(|name| all.wiring.devices[number].positions[positions[number]].0 == *name)
    };
    // Of those that turn it, what it does where each is as it was first found to do something.
    let mut parity: Option<(Vec<usize>, bool)> = None;
    let turn = list(&load["turned_by"]);
    let said_all = !turn.is_empty() || !list(&load["cases"]).is_empty() || {
        let named = list(&load["while"]).len();
        named == list(&load["devices"]).len()
    };
    for number in 0..all.count {
        let positions = all.positions_of(number);
        let works = all.fed(&all.joined(number, bridges), ends).is_some();
        let all_hold = list(&load["while"]).iter().all(|at| stands_so(&positions, at));
        if !all_hold {
            if works {
                return Some(format!("{load} works though not all of `while` holds, at {positions:?}"));
            }
            continue;
        }
        let expected = if !turn.is_empty() {
            let (first, did) = parity.get_or_insert_with(|| (positions.clone(), works));
            let moved = all.wiring.devices.iter().enumerate().filter(|(number, device)| {
                turn.iter().any(|name| device.name == *name) && first[*number] != positions[*number]
            });
            *did != (moved.count() % 2 == 1)
        } else if !list(&load["cases"]).is_empty() {
            list(&load["cases"]).iter().any(|case| list(case).iter().all(|at| stands_so(&positions, at)))
        } else if said_all {
            true
        } else {
            continue;
        };
        if expected != works {
            return Some(format!("{load} {} at {positions:?}", if works { "works" } else { "does not work" }));
        }
    }
    None
}
