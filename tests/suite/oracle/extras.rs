//! The extras of `plan --allow`, by trying every single one in every setting.

use std::collections::BTreeSet;

use serde_json::{Value, json};

use crate::asked::Asked;

use super::conduct::{Bridged, Joined, Leads, Setting, Taken};
use super::cover::{device, leads, position_of};
use super::kinds::{list, texts};
use super::plan::{Limits, Stands, courses, dials, every_setting, moved_to, plan_leads, prepared, turned};
use super::wiring::{Node, Pair, Wiring};

/// More settings times combinations of unknown positions than this, and the question is too large for this oracle.
const SETTINGS: usize = 256;

/// A single extra.
#[derive(Clone)]
enum Extra {
    Lamp(usize),
    Point(String),
    Link(Node, Node),
    /// The link in the place of these bridges is out.
    Unlinked(usize),
}

/// How things stand after the test set, prepared for a plan, whichever way they stood at the start.
fn stands_at_start(wiring: &Wiring, limits: &Limits, test_set: &Value) -> Vec<Setting> {
    courses(wiring, limits, test_set).into_iter().map(|course| prepared(wiring, limits, course.left)).collect()
}

/// Where a remedy of an untestable pair is none: its reading, with the change made and devices as it says, does not test
/// the pair whichever way unknown devices stand.
pub fn wrong_in_remedies(
    installation: &Value,
    test_set: Option<&Value>,
    asked: &Asked,
    plan: &Value,
) -> Option<String> {
    let wiring = Wiring::of(installation);
    let nothing = json!({});
    let test_set = test_set.unwrap_or(&nothing);
    let limits = Limits::of(installation, test_set, asked);
    let stands = stands_at_start(&wiring, &limits, test_set);
    let pairs = wiring.pairs();
    for row in list(&plan["untestable"]).iter().filter(|row| !row["remedy"].is_null()) {
        let remedy = &row["remedy"];
        let extra = extra_of(&wiring, remedy);
        let length = list(&installation["length"]).iter().find(|length| length["id"] == row["length"]).unwrap();
        let at = json!({ "circuit": length["circuit"], "between": remedy["between"], "volts": remedy["volts"] });
        let leads = leads(&wiring, &at);
        let name = json!([row["length"], row["cores"][0], row["cores"][1]]);
        let is_it = |pair: &&Pair| name == json!([wiring.lengths[pair.length].id, pair.cores[0], pair.cores[1]]);
        let nodes = pairs.iter().find(is_it).expect("a pair").nodes;
        for mut setting in stands.clone() {
            for with in list(&remedy["with"]) {
                let [device_name, position] = [0, 1].map(|place: usize| with[place].as_str().unwrap());
                setting.positions[device(&wiring, device_name)] = position_of(&wiring, device_name, position);
            }
            let taken = Taken::with(&with_extra(&wiring, &extra, setting), &leads);
            if taken.void.is_some() || !taken.parts(nodes) {
                return Some(format!("{row} is no remedy"));
            }
        }
    }
    None
}

/// Where the rounds of extras do not test what they are said to.
pub fn unsound_in_extras(
    installation: &Value,
    test_set: Option<&Value>,
    asked: &Asked,
    plan: &Value,
) -> Option<String> {
    let wiring = Wiring::of(installation);
    let nothing = json!({});
    let test_set = test_set.unwrap_or(&nothing);
    let limits = Limits::of(installation, test_set, asked);
    let left = stands_at_start(&wiring, &limits, test_set);
    let pairs: Vec<Pair> = wiring.pairs().into_iter().filter(|pair| wiring.requires(pair, asked.need)).collect();
    wrong_in_rounds(&wiring, &left, &pairs, asked, plan)
}

/// Where the extras of an engine's plan are not what FORMAT.md says: more than need be, a pair forgotten, a reading that
/// does not test what it is said to. None where there is nothing wrong, or the question is too large.
pub fn wrong_in_extras(installation: &Value, test_set: Option<&Value>, asked: &Asked, plan: &Value) -> Option<String> {
    let wiring = Wiring::of(installation);
    let nothing = json!({});
    let test_set = test_set.unwrap_or(&nothing);
    let limits = Limits::of(installation, test_set, asked);
    let left = stands_at_start(&wiring, &limits, test_set);
    let pairs: Vec<Pair> = wiring.pairs().into_iter().filter(|pair| wiring.requires(pair, asked.need)).collect();
    let name = |pair: &Pair| json!([wiring.lengths[pair.length].id, pair.cores[0], pair.cores[1]]);
    let untestable: Vec<Value> =
        list(&plan["untestable"]).iter().map(|row| json!([row["length"], row["cores"][0], row["cores"][1]])).collect();
    let targets: Vec<&Pair> = pairs.iter().filter(|pair| untestable.contains(&name(pair))).collect();
    let said = &plan["extras"];
    if let Some(wrong) = wrong_in_rounds(&wiring, &left, &pairs, asked, plan) {
        return Some(wrong);
    }
    let said_left: BTreeSet<String> = list(&said["left"]).iter().map(Value::to_string).collect();
    let done: BTreeSet<String> = list(&said["used"])
        .iter()
        .flat_map(|extra| list(&extra["rounds"]))
        .flat_map(|round| list(&round["readings"]))
        .flat_map(|reading| list(&reading["adds"]))
        .map(Value::to_string)
        .collect();
    let reasons: BTreeSet<String> = list(&said["used"])
        .iter()
        .flat_map(|extra| list(&extra["for"]))
        .map(|row| json!([row["length"], row["cores"][0], row["cores"][1]]).to_string())
        .collect();
    let all: BTreeSet<String> = untestable.iter().map(Value::to_string).collect();
    if done != reasons
        || !done.is_disjoint(&said_left)
        || done.union(&said_left).cloned().collect::<BTreeSet<_>>() != all
    {
        return Some(format!("{done:?} are tested, {said_left:?} left, {reasons:?} the reasons, of {all:?}"));
    }

    let dials = dials(&wiring, &limits, &left);
    let mut settings = every_setting(&dials, super::plan::SETTINGS)?;
    // A switch that nobody knows the position of is left as it is.
    settings.retain(|setting| {
        setting.iter().zip(&dials).all(|(stands, dial)| dial.stands[0] != Stands::AsFound || *stands == Stands::AsFound)
    });
    if settings.len() * left.len() > SETTINGS {
        return None;
    }
    let covers: BTreeSet<BTreeSet<usize>> = every_extra(installation, &wiring, &limits, &left, asked)
        .iter()
        .map(|extra| {
            let leads: Vec<Leads> = match extra {
                Extra::Point(point) => {
                    let mut nodes = wiring.terminals_of(point);
                    nodes.push(wiring.terminal("MET"));
                    two_of(&nodes).into_iter().map(|(a, b)| wiring.leads(None, None, [vec![a], vec![b]])).collect()
                }
                _ => plan_leads(&wiring, &limits),
            };
            let mut covered = BTreeSet::new();
            for setting in &settings {
                let joined: Vec<Joined> =
                    left.iter().map(|left| with_extra(&wiring, extra, turned(&dials, setting, left))).collect();
                for leads in &leads {
                    let taken: Vec<Taken> = joined.iter().map(|joined| Taken::with(joined, leads)).collect();
                    if taken.iter().any(|taken| taken.void.is_some()) {
                        continue;
                    }
                    let tests = |target: &usize| taken.iter().all(|taken| taken.parts(targets[*target].nodes));
                    covered.extend((0..targets.len()).filter(tests));
                }
            }
            covered
        })
        .collect();
    let coverable: BTreeSet<usize> = covers.iter().flatten().copied().collect();
    let expected_left: BTreeSet<String> = (0..targets.len())
        .filter(|target| !coverable.contains(target))
        .map(|target| name(targets[target]).to_string())
        .collect();
    if expected_left != said_left {
        return Some(format!("left {said_left:?}, but only {expected_left:?} need be"));
    }
    let fewest = (0..).find(|&count| can_cover(&covers, &coverable, count)).expect("all together do");
    let used = list(&said["used"]).len();
    let is_said = json!([used, said["totals"]["extras"], said["at_least"], said["optimal"]]);
    (is_said != json!([fewest, fewest, fewest, true])).then(|| format!("{is_said} extras, but the fewest are {fewest}"))
}

/// Whether so many of the sets hold everything: the first that is open is in one of them.
fn can_cover(sets: &BTreeSet<BTreeSet<usize>>, open: &BTreeSet<usize>, count: usize) -> bool {
    let Some(first) = open.first() else { return true };
    count > 0
        && sets
            .iter()
            .filter(|set| set.contains(first))
            .any(|set| can_cover(sets, &open.difference(set).copied().collect(), count - 1))
}

fn two_of(nodes: &[Node]) -> Vec<(Node, Node)> {
    let pairs = nodes.iter().enumerate().flat_map(|(number, &a)| nodes[number + 1..].iter().map(move |&b| (a, b)));
    pairs.collect()
}

fn every_extra(installation: &Value, wiring: &Wiring, limits: &Limits, left: &[Setting], asked: &Asked) -> Vec<Extra> {
    let mut extras = Vec::new();
    let points: Vec<String> = list(&installation["point"])
        .iter()
        .map(|point| point["id"].as_str().unwrap().to_owned())
        .filter(|point| !limits.locks(point))
        .collect();
    for sort in &asked.allow {
        match *sort {
            "lamps" => extras.extend((0..wiring.bridges.len()).filter_map(|number| {
                let bridges = &wiring.bridges[number];
                let is_sure = bridges.elements.iter().all(|element| element.sure);
                let can_be_in =
                    points.contains(&bridges.owner) && bridges.removable && left[0].bridges[number] != Bridged::Fitted;
                (is_sure && can_be_in).then_some(Extra::Lamp(number))
            })),
            "points" => extras.extend(points.iter().cloned().map(Extra::Point)),
            "links" => extras.extend(
                (0..wiring.bridges.len())
                    .filter_map(|number| {
                        let is_linked = left[0].bridges[number] == Bridged::Linked;
                        (is_linked && points.contains(&wiring.bridges[number].owner)).then_some(Extra::Unlinked(number))
                    })
                    .chain(
                        points
                            .iter()
                            .flat_map(|point| two_of(&wiring.terminals_of(point)))
                            .map(|(a, b)| Extra::Link(a, b)),
                    ),
            ),
            _ => panic!("no such extras: {sort}"),
        }
    }
    extras
}

fn with_extra(wiring: &Wiring, extra: &Extra, mut setting: Setting) -> Joined {
    if let Extra::Lamp(number) = extra {
        setting.bridges[*number] = Bridged::Fitted;
    }
    if let Extra::Unlinked(number) = extra {
        setting.bridges[*number] = Bridged::Removed;
    }
    let mut joined = Joined::of(wiring, &setting);
    if let Extra::Link(a, b) = extra {
        joined.join_for_sure(*a, *b);
    }
    joined
}

/// The extra that a remedy, or one used, names.
fn extra_of(wiring: &Wiring, row: &Value) -> Extra {
    let held_by = |owner: &str| wiring.bridges.iter().position(|bridges| bridges.owner == owner).unwrap();
    match row["do"].as_str().unwrap() {
        "leave-fitted" => Extra::Lamp(held_by(row["bridge"].as_str().unwrap())),
        "take-link-out" => Extra::Unlinked(held_by(row["point"].as_str().unwrap())),
        "take-instrument-to" => Extra::Point(row["point"].as_str().unwrap().to_owned()),
        _ => {
            let terminals = texts(&row["terminals"]);
            let [a, b] = [0, 1].map(|number: usize| wiring.terminal(&terminals[number]));
            Extra::Link(a, b)
        }
    }
}

/// Carries out the plan and its extras, whichever way unknown switches stood, and takes each reading of the extras.
fn wrong_in_rounds(wiring: &Wiring, found: &[Setting], pairs: &[Pair], asked: &Asked, plan: &Value) -> Option<String> {
    let mut stands: Vec<Setting> = found.to_vec();
    let operate = |stands: &mut Vec<Setting>, operations: &Value| -> Option<String> {
        for operation in list(operations) {
            let number = device(wiring, operation["device"].as_str().unwrap());
            for setting in stands.iter_mut() {
                let position = &mut setting.positions[number];
                let (device, from, to) = (&wiring.devices[number], &operation["from"], &operation["to"]);
                if *from != "unknown" && *from != device.positions[*position].0.as_str() {
                    return Some(format!("{operation}: it stands in {}", device.positions[*position].0));
                }
                *position = moved_to(wiring, device, *position, to.as_str().unwrap());
            }
        }
        None
    };
    for round in list(&plan["rounds"]) {
        if let Some(wrong) = operate(&mut stands, &round["operations"]) {
            return Some(wrong);
        }
    }
    for used in list(&plan["extras"]["used"]) {
        let extra = extra_of(wiring, used);
        for round in list(&used["rounds"]) {
            if let Some(wrong) = operate(&mut stands, &round["operations"]) {
                return Some(wrong);
            }
            for reading in list(&round["readings"]) {
                let leads = leads(wiring, reading);
                if let Extra::Point(point) = &extra {
                    let mut there = wiring.terminals_of(point);
                    there.push(wiring.terminal("MET"));
                    if !leads.touch.iter().flatten().all(|node| there.contains(node)) {
                        return Some(format!("{reading} is not taken at {point}"));
                    }
                }
                let taken: Vec<Taken> = stands
                    .iter()
                    .map(|setting| Taken::with(&with_extra(wiring, &extra, setting.clone()), &leads))
                    .collect();
                for added in list(&reading["adds"]) {
                    let pair = pairs
                        .iter()
                        .find(|pair| *added == json!([wiring.lengths[pair.length].id, pair.cores[0], pair.cores[1]]));
                    let nodes = pair.expect("a needed pair").nodes;
                    if !taken.iter().all(|taken| taken.void.is_none() && taken.parts(nodes)) {
                        return Some(format!("{reading} with {used} does not test {added}"));
                    }
                }
                if list(&reading["adds"]).is_empty() {
                    return Some(format!("{reading} adds nothing"));
                }
            }
        }
    }
    if let Some(wrong) = operate(&mut stands, &plan["extras"]["put_back"]) {
        return Some(wrong);
    }
    (asked.restore && stands != found).then(|| "not everything is put back".to_owned())
}
