//! What looks wrong in an installation that is no error.

use rustc_hash::{FxHashMap, FxHashSet};
use serde::{Deserialize, Serialize};

use super::circuits::CircuitsAt;
use super::service::Service;
use super::works::{LoadWorks, Working, Works};
use crate::model::{CircuitId, Conductor, DeviceRef, PointId, TerminalRef, WarningCode};
use crate::network::{Body, Network, Role, own_conductor};
use crate::reading::Electronics;

/// What decides a load is worked out for warnings in so many nodes of a diagram at the most: what takes more is rare, and
/// nothing is warned of it.
const MOST_NODES: usize = 4096;

/// Something that looks wrong, and may be right all the same.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Warning {
    /// What it is of.
    pub code: WarningCode,
    /// Its places: ids of points, lengths, cores (`LENGTH.CORE`), or full names of terminals.
    pub at: Vec<String>,
    /// What is so.
    pub text: String,
}

/// What looks wrong in an installation and is not allowed in its file: by code, then in the order of the file.
///
/// Each is a fact of the wiring as the file says it. Time as of [`Works::of`], with smaller limits.
///
/// ```
/// use lengthwise::wiring::warnings;
/// use lengthwise::{Input, Network, read_installation};
///
/// let landing = std::fs::read_to_string("examples/landing.toml")?;
/// let network = |text: &str| read_installation(Input::toml(text)).map(Network::of);
/// assert!(warnings(&network(&landing)?).is_empty());
/// // The second strapper is left out at the far switch, so that S1 and S2 no longer each turn the light.
/// let wrong = landing.replace(r#"black = ["L2", "L2"]"#, r#"black = ["L2", "-"]"#);
/// let codes: Vec<_> = warnings(&network(&wrong)?).iter().map(|warning| warning.code.name()).collect();
/// assert_eq!(codes, ["does-not-turn", "does-not-turn", "open-end"]);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn warnings(network: &Network) -> Vec<Warning> {
    let mut limits = network.limits().clone();
    limits.tables.diagram_nodes = limits.tables.diagram_nodes.min(MOST_NODES);
    let network = &network.clone().with_limits(limits);
    let circuits = CircuitsAt::of(network);
    let works = Works::fed_by(network, &circuits);
    let with_core = terminals_with_core(network);
    let mut found = Vec::new();
    of_loads(network, &works, &circuits, &mut found);
    put_down_elsewhere(network, &circuits, &mut found);
    decides_nothing(network, &works, &with_core, &mut found);
    supply_joined(network, &mut found);
    of_cores(network, &with_core, &mut found);
    found.sort_by_key(|warning| warning.code);
    let allowed = &network.installation().allowed;
    let of_what = |code: WarningCode, at: &[String]| {
        let mut at = at.to_vec();
        at.sort_unstable();
        (code, at)
    };
    let mut place_of: FxHashMap<(WarningCode, Vec<String>), usize> = FxHashMap::default();
    for (place, row) in allowed.iter().enumerate() {
        place_of.entry(of_what(row.code, &row.at)).or_insert(place);
    }
    let mut needed = vec![false; allowed.len()];
    found.retain(|warning| {
        let place = place_of.get(&of_what(warning.code, &warning.at));
        place.map(|&place| needed[place] = true).is_none()
    });
    let idle = allowed.iter().zip(needed).filter(|(_, needed)| !needed);
    found.extend(idle.map(|(row, _)| Warning {
        code: WarningCode::NothingToAllow,
        at: row.at.clone(),
        text: format!("nothing of `{}` is to be allowed at {}", row.code.name(), row.at.join(", ")),
    }));
    found
}

fn warning(code: WarningCode, at: impl IntoIterator<Item = impl Into<String>>, text: String) -> Warning {
    Warning { code, at: at.into_iter().map(Into::into).collect(), text }
}

/// What each load and its switches look like.
fn of_loads(network: &Network, works: &Works, circuits: &CircuitsAt, found: &mut Vec<Warning>) {
    let installation = network.installation();
    let is_turning = |device: &&String| {
        let point = installation.point_by_id(device).map(|point| installation.kind(installation.point(point).kind()));
        point.is_some_and(|kind| !kind.declared && ["two-way", "intermediate"].contains(&kind.name()))
    };
    let mut told: FxHashSet<&str> = FxHashSet::default();
    for load in &works.loads {
        let LoadWorks { point, between: [one, other], conductors, .. } = load;
        if load.works == Working::Never {
            let text = format!("{point} ({one} to {other}) works in no position of the switches");
            found.push(warning(WarningCode::NeverWorks, [point], text));
            continue;
        }
        let ends = load.between.each_ref().map(|name| {
            let terminal = installation.terminal_by_name(&format!("{point}.{name}")).expect("it is its terminal");
            circuits.at([terminal])
        });
        if !ends.iter().any(Vec::is_empty) && !ends[0].iter().any(|circuit| ends[1].contains(circuit)) {
            let text = format!(
                "{point}: {one} is fed by {}, {other} by {}",
                names(network, &ends[0]),
                names(network, &ends[1])
            );
            found.push(warning(WarningCode::OtherCircuit, [point], text));
        }
        if let ([line, neutral], true) = (&conductors[..], other == "N") {
            let is_line = |conductor: &String| conductor.starts_with('L') && !conductor.contains('.');
            if line == "N" {
                let text = format!("{point}: {one} is on the neutral, {other} on {neutral}");
                found.push(warning(WarningCode::Reversed, [point], text));
            } else if is_line(line) && is_line(neutral) {
                let text = format!("{point} ({one} to {other}) is between {line} and {neutral}");
                found.push(warning(WarningCode::TwoLines, [point], text));
            }
        }
        let turning: Vec<&String> = load.devices.iter().filter(is_turning).collect();
        if turning.len() > 1 {
            for switch in turning.into_iter().filter(|switch| !load.decided.turned_by.contains(switch)) {
                if told.insert(switch) {
                    let text = format!("{switch} does not turn {point} whatever the other switches do");
                    found.push(warning(WarningCode::DoesNotTurn, [switch], text));
                }
            }
        }
    }
}

fn names(network: &Network, circuits: &[CircuitId]) -> String {
    let ids: Vec<&str> = circuits.iter().map(|&circuit| network.installation().circuit(circuit).id()).collect();
    ids.join(" and ")
}

/// Lengths and points under circuits that don't feed them.
fn put_down_elsewhere(network: &Network, circuits: &CircuitsAt, found: &mut Vec<Warning>) {
    let installation = network.installation();
    let mut tell = |id: &str, own: CircuitId, fed_by: Vec<CircuitId>| {
        if !fed_by.is_empty() && !fed_by.contains(&own) {
            let text =
                format!("{id} is put down under {}, and fed by {}", names(network, &[own]), names(network, &fed_by));
            found.push(warning(WarningCode::PutDownElsewhere, [id], text));
        }
    };
    for (_, length) in installation.lengths() {
        let ends = length.cores().iter().flat_map(|core| core.ends()).flatten();
        tell(length.id(), length.circuit(), circuits.at(ends));
    }
    for (point, row) in installation.points() {
        tell(row.id(), row.circuit(), circuits.at(terminals_of(network, point)));
    }
}

fn terminals_of(network: &Network, point: PointId) -> impl Iterator<Item = TerminalRef> {
    let row = network.installation().point(point);
    let count = network.installation().kind(row.kind()).terminals.len() + row.extra_terminals.len();
    (0..count as u16).map(move |terminal| TerminalRef::Point { point, terminal })
}

/// Switches with cores, for which no load works otherwise, and nothing else that is no load (a surge protector) is fed
/// otherwise.
fn decides_nothing(network: &Network, works: &Works, with_core: &FxHashSet<TerminalRef>, found: &mut Vec<Warning>) {
    if works.loads.iter().any(|load| load.works == Working::NotWorkedOut) {
        return;
    }
    let deciding: FxHashSet<&str> = works.loads.iter().flat_map(|load| &load.devices).map(String::as_str).collect();
    let installation = network.installation();
    let others: Vec<Body> = installation
        .points()
        .filter(|(_, row)| {
            let bridges = &installation.kind(row.kind()).bridges;
            bridges.iter().all(|bridge| !bridge.is_load && !bridge.passes)
        })
        .filter_map(|(point, _)| network.of_point(point).1)
        .flat_map(|bridge| &network.bridges()[bridge as usize].elements)
        .flat_map(|element| element.bodies)
        .collect();
    let feeding = Service::of(network, Electronics::Closed, &others).devices();
    for device in network.devices() {
        if let DeviceRef::Point(point) = device.reference {
            let id = installation.point(point).id();
            let has_cores = terminals_of(network, point).any(|terminal| with_core.contains(&terminal));
            if has_cores && !deciding.contains(id) && !feeding.contains(&network.device(device.reference)) {
                let text = format!("{id} decides nothing: no load works otherwise for it");
                found.push(warning(WarningCode::DecidesNothing, [id], text));
            }
        }
    }
}

fn terminals_with_core(network: &Network) -> FxHashSet<TerminalRef> {
    let lengths = network.installation().lengths();
    lengths.flat_map(|(_, length)| length.cores()).flat_map(|core| core.ends()).flatten().collect()
}

/// Conductors of the supply that switches join, or that are joined for good.
fn supply_joined(network: &Network, found: &mut Vec<Warning>) {
    let installation = network.installation();
    let supply: Vec<(usize, Role, TerminalRef)> = network
        .sources()
        .iter()
        .enumerate()
        .filter(|(_, (role, _))| !matches!(role, Role::Source(_)))
        .map(|(number, &(role, terminal))| (number, role, terminal))
        .collect();
    let bodies: Vec<Body> = supply.iter().map(|&(_, _, terminal)| network.body(terminal)).collect();
    let service = Service::of(network, Electronics::Open, &bodies);
    for (place, &(number, role, terminal)) in supply.iter().enumerate() {
        for &(_, other, at) in &supply[place + 1..] {
            let Some(when) = service.joined(network.body(at), number) else { continue };
            let [one, two] = [role, other].map(|role| role.name(installation));
            let devices: Vec<String> = match when {
                Some(when) => when.devices().into_iter().map(|(device, _)| network.device_name(device)).collect(),
                None => Vec::new(),
            };
            if devices.is_empty() {
                let at = [terminal, at].map(|terminal| installation.terminal_name(terminal));
                found.push(warning(WarningCode::SupplyJoined, at, format!("{one} and {two} are joined")));
            } else {
                let text = format!("{one} and {two} are joined in some position of {}", devices.join(", "));
                found.push(warning(WarningCode::SupplyJoined, devices, text));
            }
        }
    }
}

/// Cores that end nowhere though they are joined to the supply, protective ones that are not joined to earth, and points
/// without any.
fn of_cores(network: &Network, with_core: &FxHashSet<TerminalRef>, found: &mut Vec<Warning>) {
    let installation = network.installation();
    for (id, length) in installation.lengths() {
        // An armour or a screen is none of the cores that are counted.
        let count = length.cores().iter().filter(|core| !["armour", "screen"].contains(&core.name())).count();
        if let Some((cable, said)) = length.cable().and_then(|cable| Some((cable, cores_said(cable)?)))
            && said != count
        {
            let text = format!("{} has {count} cores besides armour, and its cable is {cable}", length.id());
            found.push(warning(WarningCode::CableCores, [length.id()], text));
        }
        for (core, number) in length.cores().iter().zip(0u16..) {
            let roles = network.core_roles(id, number);
            let name = format!("{}.{}", length.id(), core.name());
            if let (Some(end), false) = (core.ends().iter().position(Option::is_none), roles.is_empty()) {
                let roles: Vec<String> = roles.iter().map(|role| role.name(installation)).collect();
                let at = installation.end_name(length.ends()[end]);
                let text = format!("{name} is joined to {} and ends nowhere at {at}", roles.join(" and "));
                found.push(warning(WarningCode::OpenEnd, [&name], text));
            }
            let is_protective = core.ends().into_iter().flatten().any(|terminal| is_earth_terminal(network, terminal));
            if is_protective && !roles.contains(&Role::Earth) {
                let text = format!("{name} is under an earth terminal, and not joined to the main earthing terminal");
                found.push(warning(WarningCode::EarthNotJoined, [&name], text));
            }
        }
    }
    for (point, row) in installation.points() {
        if !terminals_of(network, point).any(|terminal| with_core.contains(&terminal)) {
            found.push(warning(WarningCode::NoCores, [row.id()], format!("no core is connected to {}", row.id())));
        }
    }
}

/// How many cores a cable has by the text that says which it is: `2c+e` three, `3-core` and `3 core` three. None where it
/// begins otherwise.
fn cores_said(cable: &str) -> Option<usize> {
    let (number, rest) = cable.split_at(cable.find(|c: char| !c.is_ascii_digit())?);
    let number: usize = number.parse().ok()?;
    let rest = rest.to_ascii_lowercase();
    match rest.strip_prefix("c+e").is_some() {
        true => Some(number + 1),
        false => ["-core", " core"].iter().any(|word| rest.starts_with(word)).then_some(number),
    }
}

fn is_earth_terminal(network: &Network, terminal: TerminalRef) -> bool {
    match terminal {
        TerminalRef::Point { point, terminal } => network.installation().point_terminal_name(point, terminal) == "E",
        _ => own_conductor(terminal) == Some(Conductor::Earth),
    }
}
