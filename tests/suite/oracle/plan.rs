//! `plan` of FORMAT.md part 3, by trying everything: every setting, and every order of every set of settings that covers.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Value, json};

use super::conduct::{Joined, Setting, Taken};
use super::cover::{Course, course, readings, starts, take_all};
use super::wiring::{Device, Node, Pair, Way, Wiring, required};

/// More settings than this, or more sets and orders of settings to try than `PATIENCE`, and the question is too large for this oracle.
const SETTINGS: usize = 256;
const PATIENCE: usize = 30_000;

/// One way in which an operable point's switch can stand during a plan.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Stands {
    /// In this position.
    At(usize),
    /// As found, where nobody knows how that is.
    AsFound,
    /// Two positions: the one it was not found in.
    Other,
}

/// An operable point's switch, and the ways it can stand; the first is how the plan finds it.
struct Dial {
    device: usize,
    stands: Vec<Stands>,
}

/// What must be done still: a pair, in one combination of the unknown positions.
type Requirement = (usize, usize);

/// What one pair met with over all settings and plan readings, in one combination.
#[derive(Clone, Copy, Default)]
struct Met {
    /// Each core was joined to some lead.
    reached: [bool; 2],
    /// One core was on one lead and the other on the other, the leads not joined in SURE.
    parted: bool,
    /// That, in a reading that is not void.
    tested: bool,
}

/// What `plan INSTALLATION [TESTSET] --need NEED --json` prints, in brief: the totals that are to be as few as can be, and what is
/// untestable. None where there are too many settings to try.
pub fn plan(installation: &Value, test_set: Option<&Value>, need: &str) -> Option<Value> {
    let wiring = Wiring::of(installation);
    let nothing = json!({});
    let test_set = test_set.unwrap_or(&nothing);
    let courses: Vec<Course> =
        starts(&wiring, test_set).into_iter().map(|start| course(&wiring, test_set, start)).collect();
    let pairs: Vec<Pair> = wiring.pairs().into_iter().filter(|pair| required(pair.class, need)).collect();

    // What the test set has tested already, in each combination.
    let passes = readings(&wiring, test_set);
    let sound: Vec<_> =
        take_all(&wiring, &courses, &passes).into_iter().filter(|reading| reading.void.is_none()).collect();
    let already = |(pair, combination): Requirement| {
        sound.iter().any(|reading| reading.taken[combination].parts(pairs[pair].nodes))
    };

    // A plan starts with the points as the test set leaves them, board devices off and removable bridges removed.
    let left: Vec<Setting> = courses.into_iter().map(|course| prepared(&wiring, course.left)).collect();
    let dials = dials(&wiring, &left);
    let settings = every_setting(&dials)?;
    let leads: Vec<[Vec<Node>; 2]> = wiring.circuits.iter().flat_map(|(_, way)| plan_leads(&wiring, way)).collect();

    let mut met = vec![vec![Met::default(); left.len()]; pairs.len()];
    let mut tests: Vec<BTreeSet<Requirement>> = Vec::new();
    let mut known: BTreeMap<Setting, Vec<Taken>> = BTreeMap::new();
    for setting in &settings {
        // The same setting of the dials is one setting of the contacts in each combination.
        let stands: Vec<Setting> = left.iter().map(|left| turned(&dials, setting, left)).collect();
        for stands in &stands {
            known.entry(stands.clone()).or_insert_with(|| {
                let joined = Joined::of(&wiring, stands);
                leads.iter().map(|leads| Taken::with(joined.clone(), leads)).collect()
            });
        }
        let mut tested = BTreeSet::new();
        let in_each: Vec<&Vec<Taken>> = stands.iter().map(|stands| &known[stands]).collect();
        for reading in 0..leads.len() {
            let taken: Vec<&Taken> = in_each.iter().map(|readings| &readings[reading]).collect();
            let void = taken.iter().any(|taken| taken.void.is_some());
            for (pair, met) in met.iter_mut().enumerate() {
                for (combination, met) in met.iter_mut().enumerate() {
                    let nodes = pairs[pair].nodes;
                    for (reached, node) in met.reached.iter_mut().zip(nodes) {
                        *reached |= taken[combination].reaches(node);
                    }
                    if taken[combination].parts(nodes) {
                        met.parted = true;
                        if !void {
                            met.tested = true;
                            tested.insert((pair, combination));
                        }
                    }
                }
            }
        }
        tests.push(tested);
    }

    let mut untestable = Vec::new();
    let mut wanted: BTreeSet<Requirement> = BTreeSet::new();
    for (number, pair) in pairs.iter().enumerate() {
        let open: Vec<usize> = (0..left.len()).filter(|&combination| !already((number, combination))).collect();
        if open.iter().any(|&combination| !met[number][combination].tested) {
            let why = why(open.iter().map(|&combination| &met[number][combination]));
            untestable.push(json!({ "length": wiring.lengths[pair.length].id, "cores": pair.cores, "why": why }));
        } else {
            wanted.extend(open.into_iter().map(|combination| (number, combination)));
        }
    }

    let stops: Vec<&Device> = dials.iter().map(|dial| &wiring.devices[dial.device]).collect();
    let [walks, operations, stops] = fewest(&dials, &stops, &settings, &tests, &wanted)?;
    Some(json!({ "walks": walks, "operations": operations, "stops": stops, "untestable": untestable }))
}

fn prepared(wiring: &Wiring, mut setting: Setting) -> Setting {
    for (device, position) in wiring.devices.iter().zip(&mut setting.positions) {
        if device.at_board {
            *position = 0;
        }
    }
    for (bridges, fitted) in wiring.bridges.iter().zip(&mut setting.fitted) {
        *fitted &= !bridges.removable;
    }
    setting
}

fn dials(wiring: &Wiring, left: &[Setting]) -> Vec<Dial> {
    let mut dials = Vec::new();
    for (number, device) in wiring.devices.iter().enumerate() {
        if device.at_board || !device.operable || device.positions.len() < 2 {
            continue;
        }
        let found = left[0].positions[number];
        let others = (0..device.positions.len()).filter(|&position| position != found).map(Stands::At);
        let stands = if left.iter().all(|left| left.positions[number] == found) {
            std::iter::once(Stands::At(found)).chain(others).collect()
        } else if device.positions.len() == 2 {
            vec![Stands::AsFound, Stands::Other]
        } else {
            std::iter::once(Stands::AsFound).chain((0..device.positions.len()).map(Stands::At)).collect()
        };
        dials.push(Dial { device: number, stands });
    }
    dials
}

/// Every setting of the dials; the first is how the plan finds them.
fn every_setting(dials: &[Dial]) -> Option<Vec<Vec<Stands>>> {
    let mut settings = vec![Vec::new()];
    for dial in dials {
        let one_more = |setting: &Vec<Stands>, stands: &Stands| setting.iter().chain([stands]).copied().collect();
        settings = settings
            .iter()
            .flat_map(|setting| dial.stands.iter().map(move |stands| one_more(setting, stands)))
            .collect();
        if settings.len() > SETTINGS {
            return None;
        }
    }
    Some(settings)
}

/// How everything stands with the dials so, in the combination that left it as `left`.
fn turned(dials: &[Dial], setting: &[Stands], left: &Setting) -> Setting {
    let mut turned = left.clone();
    for (dial, stands) in dials.iter().zip(setting) {
        let position = &mut turned.positions[dial.device];
        match stands {
            Stands::At(at) => *position = *at,
            Stands::AsFound => {}
            Stands::Other => *position = 1 - *position,
        }
    }
    turned
}

/// The readings that a plan may use at one circuit.
fn plan_leads(wiring: &Wiring, way: &Option<Way>) -> Vec<[Vec<Node>; 2]> {
    let Some(way) = way else { return Vec::new() };
    let at = |x: &str| wiring.terminal(&format!("{}.{x}", way.name));
    let poles: Vec<Node> = way.poles.iter().map(|pole| at(pole)).collect();
    let neutral: Vec<Node> = way.neutral.then(|| at("N")).into_iter().collect();
    let mut leads = vec![[[poles.clone(), neutral.clone()].concat(), vec![at("E")]]];
    for (number, &pole) in poles.iter().enumerate() {
        leads.extend(poles[number + 1..].iter().map(|&other| [vec![pole], vec![other]]));
    }
    if way.neutral {
        leads.push([poles, neutral]);
    }
    leads
}

/// Why a pair is untestable, where FORMAT.md says.
///
/// `met` is of the combinations of unknown positions for which the test set leaves the pair untested.
///
/// Whichever way a switch stands that nobody knows the position of, and nobody can operate, there is a reason why the pair
/// can't be tested then; of several the last, since each claims more than those after it. Where the pair can be tested in
/// some combination of the unknown positions, the reasons are those of the others, and which is given is left open.
fn why<'m>(met: impl Iterator<Item = &'m Met> + Clone) -> Option<&'static str> {
    const REASONS: [&str; 3] = ["never-reached", "same-lead", "always-bridged"];
    if met.clone().any(|met| met.tested) {
        return None;
    }
    let reason = |met: &Met| match met {
        Met { reached: [true, true], parted: true, .. } => 2,
        Met { reached: [true, true], .. } => 1,
        _ => 0,
    };
    met.map(reason).max().map(|reason| REASONS[reason])
}

/// Fewest walks, then operations, then stops, that meet every requirement.
fn fewest(
    dials: &[Dial],
    devices: &[&Device],
    settings: &[Vec<Stands>],
    tests: &[BTreeSet<Requirement>],
    wanted: &BTreeSet<Requirement>,
) -> Option<[usize; 3]> {
    // For each requirement that the first setting leaves, which settings meet it; a requirement met wherever another is
    // needs no thought of its own.
    let met_by = |requirement: &Requirement| -> BTreeSet<usize> {
        (0..settings.len()).filter(|&setting| tests[setting].contains(requirement)).collect()
    };
    let all: BTreeSet<BTreeSet<usize>> =
        wanted.iter().filter(|requirement| !tests[0].contains(requirement)).map(met_by).collect();
    let needs: Vec<&BTreeSet<usize>> =
        all.iter().filter(|need| !all.iter().any(|other| other != *need && other.is_subset(need))).collect();

    let mut patience = PATIENCE;
    for walks in 0.. {
        let mut best = None;
        let order = &|chosen: &[usize]| cheapest_order(dials, devices, settings, 0, chosen);
        choose(&needs, walks, &mut Vec::new(), order, &mut best, &mut patience)?;
        if let Some([operations, stops]) = best {
            return Some([walks, operations, stops]);
        }
    }
    unreachable!("every requirement is met by some setting")
}

/// Tries every set of `walks` settings that meets all the needs. None when patience runs out.
fn choose(
    needs: &[&BTreeSet<usize>],
    walks: usize,
    chosen: &mut Vec<usize>,
    order: &impl Fn(&[usize]) -> Option<[usize; 2]>,
    best: &mut Option<[usize; 2]>,
    patience: &mut usize,
) -> Option<()> {
    *patience = patience.checked_sub(1)?;
    let open = needs.iter().filter(|need| !chosen.iter().any(|setting| need.contains(setting)));
    let Some(tightest) = open.min_by_key(|need| need.len()) else {
        // A set that needs fewer walks than these would have been found before.
        if chosen.len() < walks {
            return Some(());
        }
        *patience = patience.checked_sub((1..=walks).product())?;
        let cost = order(chosen);
        *best = [*best, cost].into_iter().flatten().min();
        return Some(());
    };
    if chosen.len() < walks {
        for &setting in *tightest {
            chosen.push(setting);
            choose(needs, walks, chosen, order, best, patience)?;
            chosen.pop();
        }
    }
    Some(())
}

/// Operations and stops of the cheapest order in which to walk through these settings, if there is any.
fn cheapest_order(
    dials: &[Dial],
    devices: &[&Device],
    settings: &[Vec<Stands>],
    here: usize,
    to_visit: &[usize],
) -> Option<[usize; 2]> {
    if to_visit.is_empty() {
        return Some([0, 0]);
    }
    let mut best = None;
    for &next in to_visit {
        let Some([operations, stops]) = walk(dials, devices, &settings[here], &settings[next]) else { continue };
        let rest: Vec<usize> = to_visit.iter().copied().filter(|&setting| setting != next).collect();
        let after = cheapest_order(dials, devices, settings, next, &rest);
        let cost = after.map(|[more_operations, more_stops]| [operations + more_operations, stops + more_stops]);
        best = [best, cost].into_iter().flatten().min();
    }
    best
}

/// Operations and stops of one walk; none where it would put a switch back as it was found and nobody knows how that was.
fn walk(dials: &[Dial], devices: &[&Device], from: &[Stands], to: &[Stands]) -> Option<[usize; 2]> {
    let mut operations = 0;
    let mut stops = BTreeSet::new();
    for (number, (from, to)) in from.iter().zip(to).enumerate() {
        if from != to {
            if *to == Stands::AsFound && dials[number].stands.len() > 2 {
                return None;
            }
            operations += 1;
            stops.insert(&devices[number].stop);
        }
    }
    Some([operations, stops.len()])
}
