//! `plan` of FORMAT.md part 3, by trying everything: every setting, and every order of every set of settings that covers.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Value, json};

use crate::asked::Asked;

use super::conduct::{Bridged, Joined, Leads, Setting, Taken};
use super::cover::{Course, course, position_of, readings, starts, take_all};
use super::kinds::{list, texts};
use super::known::Known;
use super::wiring::{Device, Node, Pair, Way, Wiring};

/// More settings than this, or more sets and orders of settings to try than `PATIENCE`, and the question is too large for this oracle.
pub(super) const SETTINGS: usize = 256;
const PATIENCE: usize = 30_000;
/// And so where there are more combinations of unknown positions than this.
const COMBINATIONS: usize = 64;

/// One way in which an operable point's switch can stand during a plan.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Stands {
    /// In this position.
    At(usize),
    /// As found, where nobody knows how that is.
    AsFound,
    /// So many positions on from as found, where nobody can see which it is in, or it has but two.
    On(usize),
}

/// An operable point's switch, and the ways it can stand; the first is how the plan finds it.
pub(super) struct Dial {
    pub(super) device: usize,
    pub(super) stands: Vec<Stands>,
}

impl Dial {
    /// Found nobody knows how, and operated to a position by name: it can't be put back as found.
    pub(super) fn is_one_way(&self) -> bool {
        self.stands[0] == Stands::AsFound && matches!(self.stands[1], Stands::At(_))
    }
}

/// What must be done still: a pair, in one combination of the unknown positions.
pub(super) type Requirement = (usize, usize);

/// What the readings in one setting test.
#[derive(Default)]
pub(super) struct Tests {
    /// Those at ways; and what is done by standing so.
    anyway: BTreeSet<Requirement>,
    /// Those at each source of a circuit without a way.
    at_sources: BTreeMap<String, BTreeSet<Requirement>>,
}

impl Tests {
    pub(super) fn contains(&self, requirement: &Requirement) -> bool {
        self.anyway.contains(requirement) || self.at_sources.values().any(|tests| tests.contains(requirement))
    }

    fn at(&mut self, source: Option<&String>) -> &mut BTreeSet<Requirement> {
        match source {
            Some(source) => self.at_sources.entry(source.clone()).or_default(),
            None => &mut self.anyway,
        }
    }
}

/// What one pair met with over all settings and plan readings, in one combination.
#[derive(Clone, Copy, Default)]
struct Met {
    /// Each core was joined to some lead.
    reached: [bool; 2],
    /// The cores were on opposite leads.
    opposite: bool,
    /// That, in a reading that is not void.
    sound: bool,
    /// And that counts for the pair's circuit.
    tested: bool,
}

/// What `plan INSTALLATION [TESTSET] --need NEED --json` prints, in brief: the totals that are to be as few as can be, and what is
/// untestable. None where there are too many settings to try.
pub fn plan(installation: &Value, test_set: Option<&Value>, asked: &Asked) -> Option<Value> {
    let need = asked.need;
    let wiring = Wiring::of(installation);
    let nothing = json!({});
    let test_set = test_set.unwrap_or(&nothing);
    let limits = Limits::of(installation, test_set, asked);
    let courses = courses(&wiring, &limits, test_set);
    if courses.len() > COMBINATIONS {
        return None;
    }
    let pairs: Vec<Pair> = wiring.pairs().into_iter().filter(|pair| wiring.requires(pair, need)).collect();

    // What the test set has tested already, in each combination.
    let passes = readings(&wiring, test_set);
    let sound: Vec<_> =
        take_all(&wiring, &courses, &passes).into_iter().filter(|reading| reading.void.is_none()).collect();
    let already = |(pair, combination): Requirement| {
        sound.iter().any(|reading| reading.taken[combination].parts(pairs[pair].nodes))
    };

    // For each combination, where everything has stood.
    let stood: Vec<Vec<Setting>> = courses
        .iter()
        .map(|course| std::iter::once(&course.start).chain(&course.settings).cloned().collect())
        .collect();

    // A plan starts with the points as the test set leaves them, board devices off and removable bridges out, with links in
    // the place of what passes.
    let left: Vec<Setting> = courses.into_iter().map(|course| prepared(&wiring, &limits, course.left)).collect();
    let dials = operated(&wiring, &limits, asked, &left);
    let settings = every_setting(&dials, SETTINGS)?;
    let plan_readings = plan_readings(&wiring, &limits);
    let source_of = |reading: usize| plan_readings[reading].0.as_ref();
    let leads: Vec<&Leads> = plan_readings.iter().map(|row| &row.1).collect();

    let extras: Vec<Extra> = if asked.each_switch { extras(&wiring, &dials) } else { Vec::new() };
    let reaches_contact = |taken: &Taken, device: usize, position: usize| {
        wiring.devices[device].positions[position].1.iter().any(|&(a, b)| taken.reaches(a) || taken.reaches(b))
    };
    let done_already = |extra: &Extra, combination: usize| match *extra {
        Extra::UnderTest { device, position } => sound.iter().any(|reading| {
            let pass = reading.reading.place[0] - 1;
            stood[combination][pass + 1].positions[device] == position
                && reaches_contact(&reading.taken[combination], device, position)
        }),
        Extra::Stand { device, position } => {
            stood[combination].iter().any(|setting| setting.positions[device] == position)
        }
        Extra::Operate { device, .. } => {
            stood[combination].windows(2).any(|two| two[0].positions[device] != two[1].positions[device])
        }
    };

    let mut met = vec![vec![Met::default(); left.len()]; pairs.len()];
    let mut tests: Vec<Tests> = Vec::new();
    let mut seen: BTreeMap<Setting, Vec<Taken>> = BTreeMap::new();
    for setting in &settings {
        // The same setting of the dials is one setting of the contacts in each combination.
        let stands: Vec<Setting> = left.iter().map(|left| turned(&dials, setting, left)).collect();
        for stands in &stands {
            seen.entry(stands.clone()).or_insert_with(|| {
                let joined = Joined::of(&wiring, stands);
                leads.iter().map(|leads| Taken::with(&joined, leads)).collect()
            });
        }
        let mut tested = Tests::default();
        let in_each: Vec<&Vec<Taken>> = stands.iter().map(|stands| &seen[stands]).collect();
        for reading in 0..leads.len() {
            let taken: Vec<&Taken> = in_each.iter().map(|readings| &readings[reading]).collect();
            let void = taken.iter().any(|taken| taken.void.is_some());
            for (pair, met) in met.iter_mut().enumerate() {
                for (combination, met) in met.iter_mut().enumerate() {
                    let nodes = pairs[pair].nodes;
                    for (reached, node) in met.reached.iter_mut().zip(nodes) {
                        *reached |= taken[combination].reaches(node);
                    }
                    met.opposite |= taken[combination].has_opposite(nodes);
                    let sound = !void && taken[combination].parts(nodes);
                    met.sound |= sound;
                    if sound && leads[reading].count_for(&pairs[pair]) {
                        met.tested = true;
                        tested.at(source_of(reading)).insert((pair, combination));
                    }
                }
            }
        }
        for (number, extra) in extras.iter().enumerate() {
            for (combination, stands) in stands.iter().enumerate() {
                let requirement = (pairs.len() + number, combination);
                let is_met = match *extra {
                    Extra::UnderTest { device, position } => {
                        let sound = (0..leads.len())
                            .filter(|&reading| in_each.iter().all(|readings| readings[reading].void.is_none()));
                        let stands_so = stands.positions[device] == position;
                        for reading in sound.filter(|&reading| {
                            stands_so && reaches_contact(&in_each[combination][reading], device, position)
                        }) {
                            tested.at(source_of(reading)).insert(requirement);
                        }
                        false
                    }
                    Extra::Stand { device, position } => stands.positions[device] == position,
                    Extra::Operate { dial, .. } => setting[dial] != dials[dial].stands[0],
                };
                if is_met {
                    tested.anyway.insert(requirement);
                }
            }
        }
        tests.push(tested);
    }

    let starts = stood.iter().map(|stood| stood[0].positions.clone()).collect();
    let mut known = Known {
        wiring: &wiring,
        limits: &limits,
        asked,
        starts,
        left: &left,
        leads,
        pairs: &pairs,
        tested: BTreeMap::new(),
    };
    let mut untestable = Vec::new();
    let mut wanted: BTreeSet<Requirement> = BTreeSet::new();
    for (number, pair) in pairs.iter().enumerate() {
        let open: Vec<usize> = (0..left.len()).filter(|&combination| !already((number, combination))).collect();
        if open.iter().any(|&combination| !met[number][combination].tested) {
            let mut row = json!({ "length": wiring.lengths[pair.length].id, "cores": pair.cores });
            let open_met = || open.iter().map(|&combination| &met[number][combination]);
            row["why"] = if !open_met().any(|met| met.reached == [true, true]) {
                json!("never-reached")
            } else if let Some(devices) = known.devices(number, &open)? {
                row["devices"] = json!(devices);
                json!("unknown-position")
            } else if !open_met().any(|met| met.opposite) {
                json!("same-lead")
            } else if open_met().any(|met| met.sound) {
                json!("other-voltage")
            } else {
                json!("always-bridged")
            };
            untestable.push(row);
        } else {
            wanted.extend(open.into_iter().map(|combination| (number, combination)));
        }
    }

    let mut switches: BTreeSet<(String, Option<String>)> = BTreeSet::new();
    for (number, extra) in extras.iter().enumerate() {
        let number = pairs.len() + number;
        let open: Vec<usize> = (0..left.len()).filter(|&combination| !done_already(extra, combination)).collect();
        let is_met = |&combination: &usize| tests.iter().any(|tested| tested.contains(&(number, combination)));
        match *extra {
            Extra::UnderTest { device, position } if !open.iter().all(is_met) => {
                let device = &wiring.devices[device];
                switches.insert((device.name.clone(), Some(device.positions[position].0.clone())));
            }
            _ => wanted.extend(open.into_iter().map(|combination| (number, combination))),
        }
    }
    if asked.each_switch {
        for (number, device) in wiring.devices.iter().enumerate() {
            if !device.at_board && device.positions.len() > 1 && !dials.iter().any(|dial| dial.device == number) {
                switches.insert((device.name.clone(), None));
            }
        }
    }

    let walking = Walking {
        dials: &dials,
        devices: dials.iter().map(|dial| &wiring.devices[dial.device]).collect(),
        settings: &settings,
        tests: &tests,
        wanted: &wanted,
        stops: &wiring.stops,
        map: Map::of(installation, &wiring, &limits),
        asked,
    };
    if asked.two {
        let walks = walking.fewest()?.expect("what is wanted can be had").0;
        let by_stops = walking.one_way(None)?;
        let by_metres = match &walking.map {
            Some(map) => Some(walking.one_way(Some(map))?),
            None => None,
        };
        return Some(json!({ "walks": walks, "by_stops": by_stops, "by_metres": by_metres, "untestable": untestable }));
    }
    let Some((walks, cost)) = walking.fewest()? else { unreachable!("what is wanted can be had") };
    let [operations, stops] = if asked.stops_first { [cost[1], cost[0]] } else { [cost[0], cost[1]] };
    let metres = walking.map.is_some().then_some(cost[2]);
    Some(json!({
        "walks": walks, "operations": operations, "stops": stops, "micrometres": metres, "untestable": untestable,
        "switches": switches, "stops_first": asked.stops_first,
    }))
}

/// What the test set does, for each combination of the unknown positions.
pub(super) fn courses(wiring: &Wiring, limits: &Limits, test_set: &Value) -> Vec<Course> {
    // A device of a board in a locked room that the test set does not name stands nobody knows how: one combination more
    // for each way in which it may.
    let mut courses: Vec<Course> =
        starts(wiring, test_set).into_iter().map(|start| course(wiring, test_set, start)).collect();
    for (number, device) in wiring.devices.iter().enumerate() {
        if device.at_board && limits.locks_board_of(&device.name) && !limits.named.contains(&device.name) {
            let each = |course: Course| {
                (0..device.positions.len()).map(move |position| {
                    let mut course = course.clone();
                    course.left.positions[number] = position;
                    course
                })
            };
            courses = courses.into_iter().flat_map(each).collect();
        }
    }
    courses
}

/// What may be wished for a switch beside the pairs.
enum Extra {
    UnderTest { device: usize, position: usize },
    Stand { device: usize, position: usize },
    Operate { device: usize, dial: usize },
}

fn extras(wiring: &Wiring, dials: &[Dial]) -> Vec<Extra> {
    let mut extras = Vec::new();
    for (number, &Dial { device, .. }) in dials.iter().enumerate() {
        for (position, (_, contacts)) in wiring.devices[device].positions.iter().enumerate() {
            extras.push(if contacts.is_empty() {
                Extra::Stand { device, position }
            } else {
                Extra::UnderTest { device, position }
            });
        }
        extras.push(Extra::Operate { device, dial: number });
    }
    extras
}

/// What locked rooms and switches left alone keep from being done.
pub(super) struct Limits {
    /// Points and boards in locked rooms.
    locked: BTreeSet<String>,
    leave: BTreeSet<String>,
    /// The devices that the test set says of how they stand.
    named: BTreeSet<String>,
    /// The holders of bridges that it says of whether they are fitted, removed or linked.
    named_bridges: BTreeSet<String>,
}

impl Limits {
    pub(super) fn of(installation: &Value, test_set: &Value, asked: &Asked) -> Limits {
        let rows = list(&installation["point"]).iter().chain(list(&installation["board"]));
        let is_locked = |row: &&Value| {
            row["location"].as_str().is_some_and(|room| asked.without.iter().any(|locked| locked == room))
        };
        let (mut named, mut named_bridges) = (BTreeSet::new(), BTreeSet::new());
        for (name, stands) in test_set["start"].as_object().into_iter().flatten() {
            for word in stands.as_str().map_or_else(|| texts(stands), |word| vec![word.to_owned()]) {
                let of_bridges = ["fitted", "removed", "linked"].contains(&word.as_str());
                if of_bridges { &mut named_bridges } else { &mut named }.insert(name.clone());
            }
        }
        for pass in list(&test_set["pass"]) {
            named.extend(texts(&pass["operate"]));
            named.extend(pass["set"].as_object().into_iter().flatten().map(|row| row.0.clone()));
            named_bridges.extend(["remove", "link", "refit"].into_iter().flat_map(|key| texts(&pass[key])));
        }
        Limits {
            locked: rows.filter(is_locked).map(|row| row["id"].as_str().unwrap().to_owned()).collect(),
            leave: asked.leave.iter().cloned().collect(),
            named,
            named_bridges,
        }
    }

    /// Whether a thing of a board, `BOARD.main`, `BOARD.GROUP` or `BOARD/WAY`, is in a locked room.
    fn locks_board_of(&self, name: &str) -> bool {
        name.split_once(['.', '/']).is_some_and(|(board, _)| self.locked.contains(board))
    }

    /// Whether nobody touches a point.
    pub(super) fn leaves(&self, name: &str) -> bool {
        self.leave.contains(name)
    }

    pub(super) fn locks(&self, name: &str) -> bool {
        self.locked.contains(name) || self.locks_board_of(name)
    }
}

pub(super) fn prepared(wiring: &Wiring, limits: &Limits, mut setting: Setting) -> Setting {
    for (device, position) in wiring.devices.iter().zip(&mut setting.positions) {
        if device.at_board && !limits.locks_board_of(&device.name) {
            *position = 0;
        }
    }
    for (bridges, state) in wiring.bridges.iter().zip(&mut setting.bridges) {
        let passes = bridges.elements.iter().any(|element| element.passes);
        if !limits.locks(&bridges.owner) {
            *state = match (bridges.removable, passes) {
                (false, _) => Bridged::Fitted,
                (true, true) => Bridged::Linked,
                (true, false) => Bridged::Removed,
            };
        } else if !limits.named_bridges.contains(&bridges.owner) {
            *state = Bridged::Fitted;
        }
    }
    setting
}

pub(super) fn dials(wiring: &Wiring, limits: &Limits, left: &[Setting]) -> Vec<Dial> {
    let mut dials = Vec::new();
    for (number, device) in wiring.devices.iter().enumerate() {
        let fixed = limits.locks(&device.name) || limits.leave.contains(&device.name);
        if device.at_board || !device.operable || device.positions.len() < 2 || fixed {
            continue;
        }
        let found = left[0].positions[number];
        let others = (0..device.positions.len()).filter(|&position| position != found).map(Stands::At);
        let stands = if left.iter().all(|left| left.positions[number] == found) {
            std::iter::once(Stands::At(found)).chain(others).collect()
        } else if device.positions.len() == 2 || !device.visible {
            std::iter::once(Stands::AsFound).chain((1..device.positions.len()).map(Stands::On)).collect()
        } else {
            std::iter::once(Stands::AsFound).chain((0..device.positions.len()).map(Stands::At)).collect()
        };
        dials.push(Dial { device: number, stands });
    }
    dials
}

/// Those that a plan may turn.
pub(super) fn operated(wiring: &Wiring, limits: &Limits, asked: &Asked, left: &[Setting]) -> Vec<Dial> {
    let mut dials = dials(wiring, limits, left);
    if asked.restore {
        // A device that is set to a position by sight can't be put back as it was found, so it is not operated.
        dials.retain(|dial| !dial.is_one_way());
    }
    dials
}

/// Every setting of the dials; the first is how the plan finds them. None where there are more than `most`.
pub(super) fn every_setting(dials: &[Dial], most: usize) -> Option<Vec<Vec<Stands>>> {
    let mut settings = vec![Vec::new()];
    for dial in dials {
        let one_more = |setting: &Vec<Stands>, stands: &Stands| setting.iter().chain([stands]).copied().collect();
        settings = settings
            .iter()
            .flat_map(|setting| dial.stands.iter().map(move |stands| one_more(setting, stands)))
            .collect();
        if settings.len() > most {
            return None;
        }
    }
    Some(settings)
}

/// How everything stands with the dials so, in the combination that left it as `left`.
pub(super) fn turned(dials: &[Dial], setting: &[Stands], left: &Setting) -> Setting {
    let mut turned = left.clone();
    for (dial, stands) in dials.iter().zip(setting) {
        let position = &mut turned.positions[dial.device];
        match stands {
            Stands::At(at) => *position = *at,
            Stands::AsFound => {}
            Stands::On(steps) => *position = (*position + steps) % dial.stands.len(),
        }
    }
    turned
}

/// By how many positions an operation moves a switch on; none where it names the position.
pub fn steps_on(to: &str) -> Option<usize> {
    match to {
        "other" | "next" => Some(1),
        _ => to.strip_prefix("next-").map(|steps| steps.parse().unwrap()),
    }
}

/// Where an operation takes a device that stands so.
pub(super) fn moved_to(wiring: &Wiring, device: &Device, position: usize, to: &str) -> usize {
    match steps_on(to) {
        Some(steps) => (position + steps) % device.positions.len(),
        None => position_of(wiring, &device.name, to),
    }
}

/// The readings that a plan may use.
pub(super) fn plan_leads(wiring: &Wiring, limits: &Limits) -> Vec<Leads> {
    plan_readings(wiring, limits).into_iter().map(|row| row.1).collect()
}

/// The same, each with the source at which it is taken; none at a way.
fn plan_readings(wiring: &Wiring, limits: &Limits) -> Vec<(Option<String>, Leads)> {
    let of_circuit = |(id, way): &(String, Option<Way>)| {
        let volts = wiring.test_voltage(id);
        let touched = match way {
            Some(way) => leads_at_way(wiring, limits, way).into_iter().map(|touch| (None, touch)).collect(),
            None => leads_at_sources(wiring, limits, id),
        };
        let reading = |(source, touch)| (source, wiring.leads(Some(id), Some(volts), touch));
        touched.into_iter().map(reading).collect::<Vec<_>>()
    };
    wiring.circuits.iter().flat_map(of_circuit).collect()
}

fn leads_at_sources(wiring: &Wiring, limits: &Limits, circuit: &str) -> Vec<(Option<String>, [Vec<Node>; 2])> {
    let copper = Joined::copper(wiring);
    let mut leads = Vec::new();
    for source in wiring.sources_of(circuit).iter().filter(|source| !limits.locks(source)) {
        let mut live = ["V1", "V2"].map(|terminal| wiring.terminal(&format!("{source}.{terminal}"))).to_vec();
        live.retain(|&terminal| !copper.for_sure(terminal, wiring.terminal("MET")));
        if !live.is_empty() {
            leads.push((Some(source.clone()), [live.clone(), vec![wiring.earth_at(source)]]));
        }
        if let [one, other] = live[..] {
            leads.push((Some(source.clone()), [vec![one], vec![other]]));
        }
    }
    leads
}

fn leads_at_way(wiring: &Wiring, limits: &Limits, way: &Way) -> Vec<[Vec<Node>; 2]> {
    if limits.locks_board_of(&way.name) {
        return Vec::new();
    }
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

/// The settings that walks lead through, and what each walk costs.
pub(super) struct Walking<'w> {
    pub(super) dials: &'w [Dial],
    pub(super) devices: Vec<&'w Device>,
    pub(super) settings: &'w [Vec<Stands>],
    /// For each setting.
    pub(super) tests: &'w [Tests],
    pub(super) wanted: &'w BTreeSet<Requirement>,
    stops: &'w BTreeMap<String, String>,
    pub(super) map: Option<Map>,
    pub(super) asked: &'w Asked,
}

/// Operations and stops, in the order in which they are to be few; then micrometres.
type Cost = [usize; 3];

impl Walking<'_> {
    /// Fewest walks, then what they cost, so that every requirement is met. None when patience runs out.
    fn fewest(&self) -> Option<Option<(usize, Cost)>> {
        let (tests, wanted) = (self.tests, self.wanted);
        // For each requirement that the first setting leaves, which settings meet it; a requirement met wherever another
        // is needs no thought of its own.
        let met_by = |requirement: &Requirement| -> BTreeSet<usize> {
            (0..self.settings.len()).filter(|&setting| tests[setting].contains(requirement)).collect()
        };
        let all: BTreeSet<BTreeSet<usize>> =
            wanted.iter().filter(|requirement| !tests[0].contains(requirement)).map(met_by).collect();
        let needs: Vec<&BTreeSet<usize>> =
            all.iter().filter(|need| !all.iter().any(|other| other != *need && other.is_subset(need))).collect();

        let mut patience = PATIENCE;
        for walks in 0..=needs.len() {
            let mut best = None;
            self.choose(&needs, walks, &mut Vec::new(), &mut best, &mut patience)?;
            if let Some(cost) = best {
                return Some(Some((walks + usize::from(self.asked.restore && walks > 0), cost)));
            }
        }
        Some(None)
    }

    /// Tries every set of `walks` settings that meets all the needs. None when patience runs out.
    fn choose(
        &self,
        needs: &[&BTreeSet<usize>],
        walks: usize,
        chosen: &mut Vec<usize>,
        best: &mut Option<Cost>,
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
            let cost = self.cheapest_order(&mut vec![0], chosen, patience)?;
            *best = [*best, cost].into_iter().flatten().min();
            return Some(());
        };
        if chosen.len() < walks {
            for &setting in *tightest {
                chosen.push(setting);
                self.choose(needs, walks, chosen, best, patience)?;
                chosen.pop();
            }
        }
        Some(())
    }

    /// What the cheapest order costs in which to walk through these settings, if there is any; and back to the first
    /// where everything is put back. None when patience runs out.
    fn cheapest_order(&self, steps: &mut Vec<usize>, to_visit: &[usize], patience: &mut usize) -> Option<Option<Cost>> {
        if to_visit.is_empty() {
            return self.cost(steps, patience);
        }
        let mut best = None;
        for &next in to_visit {
            let rest: Vec<usize> = to_visit.iter().copied().filter(|&setting| setting != next).collect();
            steps.push(next);
            let cost = self.cheapest_order(steps, &rest, patience)?;
            steps.pop();
            best = [best, cost].into_iter().flatten().min();
        }
        Some(best)
    }

    /// What it costs to walk through these settings, with every choice of the sources to read at in each; none where a
    /// walk would put a switch back as it was found and nobody knows how that was. None when patience runs out.
    fn cost(&self, steps: &[usize], patience: &mut usize) -> Option<Option<Cost>> {
        let mut rounds: Vec<(Vec<&Device>, &Tests)> = vec![(Vec::new(), &self.tests[steps[0]])];
        for two in steps.windows(2) {
            let Some(worked) = self.worked(two[0], two[1]) else { return Some(None) };
            rounds.push((worked, &self.tests[two[1]]));
        }
        let nothing = Tests::default();
        let here = *steps.last().unwrap();
        if self.asked.restore && here != 0 {
            let Some(worked) = self.worked(here, 0) else { return Some(None) };
            rounds.push((worked, &nothing));
        }
        let left: BTreeSet<Requirement> = self
            .wanted
            .iter()
            .filter(|row| !rounds.iter().any(|round| round.1.anyway.contains(row)))
            .copied()
            .collect();
        let visits: Vec<(usize, &String)> = (0..rounds.len())
            .flat_map(|round| rounds[round].1.at_sources.iter().map(move |row| (round, row)))
            .filter(|(_, (_, tests))| left.iter().any(|row| tests.contains(row)))
            .map(|(round, (source, _))| (round, source))
            .collect();
        if visits.len() > 12 {
            return None;
        }
        *patience = patience.checked_sub(1 << visits.len())?;
        let mut best = None;
        for set in 0..1usize << visits.len() {
            let visited: Vec<(usize, &String)> =
                visits.iter().enumerate().filter(|(number, _)| set >> number & 1 == 1).map(|row| *row.1).collect();
            let is_tested = |row: &Requirement| {
                visited.iter().any(|(round, source)| rounds[*round].1.at_sources[*source].contains(row))
            };
            if left.iter().all(is_tested) {
                best = [best, Some(self.cost_with(&rounds, &visited))].into_iter().flatten().min();
            }
        }
        Some(best)
    }

    fn cost_with(&self, rounds: &[(Vec<&Device>, &Tests)], visited: &[(usize, &String)]) -> Cost {
        let (mut operations, mut stops, mut metres) = (0, 0, 0);
        for (number, (worked, _)) in rounds.iter().enumerate() {
            let read: Vec<&str> =
                visited.iter().filter(|visit| visit.0 == number).map(|visit| visit.1.as_str()).collect();
            let worked_at = worked.iter().map(|device| &device.stop);
            let all: BTreeSet<&String> = worked_at.chain(read.iter().map(|source| &self.stops[*source])).collect();
            operations += worked.len();
            stops += all.len();
            let worked: Vec<&str> = worked.iter().map(|device| device.name.as_str()).collect();
            metres += self.map.as_ref().map_or(0, |map| map.around(&worked, &read));
        }
        if self.asked.stops_first { [stops, operations, metres] } else { [operations, stops, metres] }
    }

    /// What one walk operates; none where it would put a switch back as it was found and nobody knows how that was.
    fn worked(&self, from: usize, to: usize) -> Option<Vec<&Device>> {
        let mut worked = Vec::new();
        for (number, (from, to)) in self.settings[from].iter().zip(&self.settings[to]).enumerate() {
            if from != to {
                if *to == Stands::AsFound && self.dials[number].is_one_way() {
                    return None;
                }
                worked.push(self.devices[number]);
            }
        }
        Some(worked)
    }
}

/// Where points are, and how far it is between rooms.
pub(super) struct Map {
    /// Micrometres between rooms, the one in which every walk begins first.
    pub(super) between: Vec<Vec<usize>>,
    pub(super) room_of: BTreeMap<String, usize>,
}

impl Map {
    /// None where the boards that are read are not all in one room, some switch is in none, or the passages do not
    /// lead everywhere.
    fn of(installation: &Value, wiring: &Wiring, limits: &Limits) -> Option<Map> {
        let room = |row: &Value| row["location"].as_str().map(str::to_owned);
        let boards = list(&installation["board"]).iter().filter(|board| {
            let start = format!("{}/", board["id"].as_str().unwrap());
            let read = |way: &Option<Way>| way.as_ref().is_some_and(|way| way.name.starts_with(&start));
            wiring.circuits.iter().any(|(_, way)| read(way)) && !limits.locked.contains(board["id"].as_str().unwrap())
        });
        let homes: BTreeSet<Option<String>> = boards.map(room).collect();
        let homes: [Option<String>; 1] = homes.into_iter().collect::<Vec<_>>().try_into().ok()?;
        let [home] = homes;
        let home = home?;
        let mut rooms = vec![home];
        for row in list(&installation["location"]) {
            let id = row["id"].as_str().unwrap();
            if rooms[0] != id {
                rooms.push(id.to_owned());
            }
        }
        let number = |room: &str| rooms.iter().position(|other| other == room).unwrap();
        let far = usize::MAX / 4;
        let mut between = vec![vec![far; rooms.len()]; rooms.len()];
        for passage in list(&installation["passage"]) {
            let [a, b]: [String; 2] = texts(&passage["between"]).try_into().unwrap();
            let length = (passage["metres"].as_f64().unwrap() * 1e6).round() as usize;
            let (a, b) = (number(&a), number(&b));
            between[a][b] = between[a][b].min(length);
            between[b][a] = between[a][b];
        }
        for (room, row) in between.iter_mut().enumerate() {
            row[room] = 0;
        }
        for over in 0..rooms.len() {
            for a in 0..rooms.len() {
                for b in 0..rooms.len() {
                    between[a][b] = between[a][b].min(between[a][over] + between[over][b]);
                }
            }
        }
        let sources: BTreeSet<String> =
            plan_readings(wiring, limits).into_iter().filter_map(|reading| reading.0).collect();
        let switches = list(&installation["point"]).iter().filter(|point| {
            let id = point["id"].as_str().unwrap();
            sources.contains(id) || wiring.devices.iter().any(|device| id == device.name)
        });
        let room_of: BTreeMap<String, usize> = switches
            .map(|point| Some((point["id"].as_str().unwrap().to_owned(), number(&room(point)?))))
            .collect::<Option<_>>()?;
        let is_near = |&room: &usize| between[0][room] < far;
        room_of.values().all(is_near).then_some(Map { between, room_of })
    }

    /// The shortest way from the first room past all points that are worked, then past all sources that are read at, and
    /// back, by trying every order of rooms.
    fn around(&self, worked: &[&str], read: &[&str]) -> usize {
        let rooms = |points: &[&str]| -> Vec<usize> {
            let rooms: BTreeSet<usize> = points.iter().map(|&point| self.room_of[point]).collect();
            rooms.into_iter().collect()
        };
        self.shortest(0, &rooms(worked), &rooms(read))
    }

    fn shortest(&self, here: usize, left: &[usize], then: &[usize]) -> usize {
        let (left, then) = if left.is_empty() { (then, &[][..]) } else { (left, then) };
        let ways = left.iter().map(|&next| {
            let rest: Vec<usize> = left.iter().copied().filter(|&room| room != next).collect();
            self.between[here][next] + self.shortest(next, &rest, then)
        });
        ways.min().unwrap_or(self.between[here][0])
    }
}
