//! `plan --fewest-readings`, round by round: what each reading tests, and the fewest that do, by trying.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Value, json};

use crate::asked::Asked;

use super::conduct::{Joined, Leads, Setting, Taken};
use super::cover::{device, leads};
use super::kinds::list;
use super::plan::{Limits, courses, moved_to, prepared};
use super::wiring::{Node, Pair, Wiring};

/// More tries than this, and the question is too large for this oracle.
const PATIENCE: usize = 200_000;

/// What is read at one board for one voltage: the nodes of the pairs that it adds, and how many readings there are.
type Share = (Vec<[Node; 2]>, usize);

/// Where the rounds of an engine's plan are not what FORMAT.md says of `--fewest-readings`. None where nothing is wrong.
pub fn wrong_in_readings(
    installation: &Value,
    test_set: Option<&Value>,
    asked: &Asked,
    plan: &Value,
) -> Option<String> {
    let wiring = Wiring::of(installation);
    let nothing = json!({});
    let test_set = test_set.unwrap_or(&nothing);
    let limits = Limits::of(installation, test_set, asked);
    let mut stands: Vec<Setting> =
        courses(&wiring, &limits, test_set).into_iter().map(|course| prepared(&wiring, &limits, course.left)).collect();
    let pairs: Vec<Pair> = wiring.pairs().into_iter().filter(|pair| wiring.requires(pair, asked.need)).collect();
    let pair_of = |name: &Value| {
        let found =
            pairs.iter().find(|pair| *name == json!([wiring.lengths[pair.length].id, pair.cores[0], pair.cores[1]]));
        found.expect("a needed pair")
    };
    for round in list(&plan["rounds"]) {
        for operation in list(&round["operations"]) {
            let number = device(&wiring, operation["device"].as_str().unwrap());
            for setting in &mut stands {
                let (position, device) = (&mut setting.positions[number], &wiring.devices[number]);
                *position = moved_to(&wiring, device, *position, operation["to"].as_str().unwrap());
            }
        }
        let joined: Vec<Joined> = stands.iter().map(|setting| Joined::of(&wiring, setting)).collect();
        // For each board and voltage: the nodes of the pairs, and how many readings there are.
        let mut groups: BTreeMap<(String, String), Share> = BTreeMap::new();
        for reading in list(&round["readings"]) {
            let leads = leads(&wiring, reading);
            let taken: Vec<Taken> = joined.iter().map(|joined| Taken::with(joined, &leads)).collect();
            let mut of_sources = Share::default();
            let way = way_of(&wiring, reading["circuit"].as_str().unwrap());
            let board = way.as_ref().map(|name| name.split_once('/').unwrap().0.to_owned());
            let (nodes, count) = match &board {
                Some(board) => groups.entry((board.clone(), reading["volts"].to_string())).or_default(),
                // What is read at a source is joined with nothing.
                None => &mut of_sources,
            };
            *count += 1;
            for (&node, board) in leads.touch.iter().flatten().filter_map(|node| Some((node, board.as_ref()?))) {
                let is_here = wiring.circuits.iter().flat_map(|row| &row.1).any(|way| {
                    let conductors = ["N", "E"].into_iter().chain(way.poles.iter().map(String::as_str));
                    way.name.starts_with(&format!("{board}/"))
                        && conductors
                            .filter(|x| *x != "N" || way.neutral)
                            .any(|x| wiring.terminal(&format!("{}.{x}", way.name)) == node)
                });
                if !is_here {
                    return Some(format!("{reading} touches what is no terminal of a way of {board}"));
                }
            }
            if taken.iter().any(|taken| taken.void.is_some()) {
                return Some(format!("{reading} is void"));
            }
            for added in list(&reading["adds"]) {
                let pair = pair_of(added);
                // Where the start of a switch is unknown, earlier readings may have done for other starts.
                if stands.len() == 1 && !taken[0].parts(pair.nodes) || !leads.count_for(pair) {
                    return Some(format!("{reading} does not test {added}"));
                }
                nodes.push(pair.nodes);
            }
        }
        if round["fewest_readings"] != true || stands.len() > 1 {
            continue;
        }
        for ((board, volts), (nodes, count)) in groups {
            for fewer in 0..count {
                match can_part(&joined[0], &wiring, &nodes, fewer) {
                    None => return None,
                    Some(true) => {
                        return Some(format!(
                            "{fewer} readings at {board} at {volts} V would do instead of {count}: {round}"
                        ));
                    }
                    Some(false) => {}
                }
            }
        }
    }
    None
}

fn way_of(wiring: &Wiring, circuit: &str) -> Option<String> {
    let row = wiring.circuits.iter().find(|row| row.0 == circuit).unwrap();
    row.1.as_ref().map(|way| way.name.clone())
}

/// Whether so many readings can part every two of these nodes: for each piece of copper every choice of lead A, lead B or
/// none in every reading is tried. What may be joined to one another can't be parted: one piece. None out of patience.
fn can_part(joined: &Joined, wiring: &Wiring, pairs: &[[Node; 2]], count: usize) -> Option<bool> {
    // Any two leads will do to ask who is joined to whom; these touch nothing of the wiring but what they name.
    let met = wiring.terminal("MET");
    let taken = Taken::with(joined, &Leads { touch: [vec![met], vec![met]], left_in: Vec::new(), volts: None });
    let pieces: BTreeSet<[Node; 2]> = pairs
        .iter()
        .map(|nodes| {
            let mut two = nodes.map(|node| taken.piece(node, true));
            two.sort_unstable();
            two
        })
        .collect();
    let mut order: Vec<Node> = Vec::new();
    for piece in pieces.iter().flatten() {
        if !order.contains(piece) {
            order.push(*piece);
        }
    }
    let mut tries = 0;
    try_part(&order, &pieces, count, &mut Vec::new(), &mut tries)
}

fn try_part(
    order: &[Node],
    pieces: &BTreeSet<[Node; 2]>,
    count: usize,
    chosen: &mut Vec<usize>,
    tries: &mut usize,
) -> Option<bool> {
    *tries += 1;
    if *tries > PATIENCE {
        return None;
    }
    if chosen.len() == order.len() {
        return Some(true);
    }
    let here = order[chosen.len()];
    for choice in 0..3usize.pow(count as u32) {
        let parts = |other: usize| {
            (0..count as u32).any(|reading| {
                let [a, b] = [choice, other].map(|choice| choice / 3usize.pow(reading) % 3);
                a != b && a < 2 && b < 2
            })
        };
        let is_fine = order.iter().zip(chosen.iter()).all(|(&before, &other)| {
            let mut two = [before, here];
            two.sort_unstable();
            !pieces.contains(&two) || parts(other)
        });
        if is_fine {
            chosen.push(choice);
            let found = try_part(order, pieces, count, chosen, tries);
            chosen.pop();
            if found != Some(false) {
                return found;
            }
        }
    }
    Some(false)
}
