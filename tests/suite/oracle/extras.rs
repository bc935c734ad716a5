//! The extras of `plan`, by trying every single one, and every two, in every setting.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Value, json};

use crate::asked::Asked;

use super::conduct::{Bridged, Joined, Leads, Setting, Taken};
use super::cover::{Course, device, leads, position_of, readings, take_all};
use super::kinds::{list, texts};
use super::plan::{Limits, courses, dials, every_setting, moved_to, plan_leads, prepared, turned};
use super::wiring::{Node, Pair, Wiring};

/// More settings times combinations of unknown positions than this, and the question is too large for this oracle.
const SETTINGS: usize = 256;
/// And so where two at a time would take more readings than this.
const READINGS: usize = 20_000;

/// A single extra.
#[derive(Clone)]
enum Extra {
    Lamp(usize),
    Point(String),
    /// How this device stands is found out.
    FindOut(usize),
    Link(Node, Node),
    /// The link in the place of these bridges is out.
    Unlinked(usize),
    /// This accessory is off.
    Off(String),
}

/// What a plan is asked about, and what is tested so far: for each needed pair the combinations for which it is.
struct Question {
    wiring: Wiring,
    limits: Limits,
    pairs: Vec<Pair>,
    /// How things stand, for each combination: after the test set, prepared for a plan.
    stands: Vec<Setting>,
    tested: Vec<BTreeSet<usize>>,
    /// The same by voltages, for readings at a point are taken at that of the pair's circuit: pair, combination, volts.
    tested_at: BTreeSet<(usize, usize, String)>,
}

impl Question {
    fn of(installation: &Value, test_set: Option<&Value>, asked: &Asked) -> Question {
        let wiring = Wiring::of(installation);
        let nothing = json!({});
        let test_set = test_set.unwrap_or(&nothing);
        let limits = Limits::of(installation, test_set, asked);
        let courses: Vec<Course> = courses(&wiring, &limits, test_set);
        let pairs: Vec<Pair> = wiring.pairs().into_iter().filter(|pair| wiring.requires(pair, asked.need)).collect();
        let passes = readings(&wiring, test_set);
        let taken = take_all(&wiring, &courses, &passes);
        let tests = |pair: &Pair, combination: usize| {
            taken.iter().any(|reading| reading.void.is_none() && reading.taken[combination].parts(pair.nodes))
        };
        let tested = pairs.iter().map(|pair| (0..courses.len()).filter(|&at| tests(pair, at)).collect()).collect();
        let stands = courses.into_iter().map(|course| prepared(&wiring, &limits, course.left)).collect();
        Question { wiring, limits, pairs, stands, tested, tested_at: BTreeSet::new() }
    }

    fn name(&self, pair: &Pair) -> Value {
        json!([self.wiring.lengths[pair.length].id, pair.cores[0], pair.cores[1]])
    }

    fn all(&self) -> BTreeSet<usize> {
        (0..self.stands.len()).collect()
    }

    fn operate(&mut self, operations: &Value, combinations: &BTreeSet<usize>, is_known: bool) -> Option<String> {
        for operation in list(operations) {
            let number = device(&self.wiring, operation["device"].as_str().unwrap());
            for &combination in combinations {
                let position = &mut self.stands[combination].positions[number];
                let (device, from, to) = (&self.wiring.devices[number], &operation["from"], &operation["to"]);
                if *from != "unknown" && *from != device.positions[*position].0.as_str() {
                    return Some(format!("{operation}: it stands in {}", device.positions[*position].0));
                }
                if is_known && !device.operable {
                    return Some(format!("{operation}: nobody operates it"));
                }
                *position = moved_to(&self.wiring, device, *position, to.as_str().unwrap());
            }
        }
        None
    }

    /// Takes a reading in these combinations. It must not be void in any, and complete what it adds.
    fn take(&mut self, reading: &Value, extras: &[Extra], combinations: &BTreeSet<usize>) -> Option<String> {
        let leads = leads(&self.wiring, reading);
        let mut is_new = false;
        for &combination in combinations {
            let joined = with_extras(&self.wiring, extras, self.stands[combination].clone());
            let taken = Taken::with(&joined, &leads);
            if taken.void.is_some() {
                return Some(format!("{reading} is void"));
            }
            let is_tested = |pair: &Pair| taken.parts(pair.nodes) && leads.count_for(pair);
            for (number, _) in self.pairs.iter().enumerate().filter(|(_, pair)| is_tested(pair)) {
                self.tested[number].insert(combination);
                is_new |= self.tested_at.insert((number, combination, reading["volts"].to_string()));
            }
        }
        let is_tested = |name: &Value| {
            let found = self.pairs.iter().position(|pair| *name == self.name(pair)).expect("a needed pair");
            combinations.is_subset(&self.tested[found])
        };
        if !extras.is_empty() && !is_new {
            return Some(format!("{reading} adds nothing"));
        }
        let untested = list(&reading["adds"]).iter().find(|name| !is_tested(name));
        untested.map(|name| format!("{reading} with its extra does not complete {name}"))
    }

    fn carry_out(&mut self, rounds: &Value, extras: &[Extra], combinations: &BTreeSet<usize>) -> Option<String> {
        for round in list(rounds) {
            let wrong = self.operate(&round["operations"], combinations, !extras.is_empty());
            let wrong = wrong.or_else(|| {
                list(&round["readings"]).iter().find_map(|reading| {
                    self.is_elsewhere(reading, extras).or_else(|| self.take(reading, extras, combinations))
                })
            });
            if wrong.is_some() {
                return wrong;
            }
        }
        None
    }

    /// Where the instrument is taken to a point and touches what is not there.
    fn is_elsewhere(&self, reading: &Value, extras: &[Extra]) -> Option<String> {
        // At the source of a circuit without a way: a reading that a plan may use.
        let is_in_full = reading["at"].is_null()
            && texts(&reading["between"]).iter().any(|lead| lead.contains('.') || lead == "MET");
        if extras.is_empty() || !is_in_full && !extras.iter().any(|extra| matches!(extra, Extra::Point(_))) {
            return None;
        }
        let mut there = vec![self.wiring.terminal("MET")];
        for extra in extras {
            if let Extra::Point(point) | Extra::Off(point) = extra {
                there.extend(self.wiring.terminals_of(point));
            }
        }
        let leads = leads(&self.wiring, reading);
        let is_there = leads.touch.iter().flatten().all(|node| there.contains(node));
        (!is_there).then(|| format!("{reading} is not taken there"))
    }

    /// Carries out the extras of a plan after its rounds.
    fn carry_out_extras(&mut self, plan: &Value, asked: &Asked) -> Option<String> {
        let found = self.stands.clone();
        let all = self.all();
        let mut wrong = self.carry_out(&plan["rounds"], &[], &all);
        for used in list(&plan["extras"]["used"]) {
            let extras = extras_of(&self.wiring, used);
            wrong = wrong.or_else(|| self.carry_out(&used["rounds"], &extras, &all));
            let [Extra::FindOut(device)] = extras[..] else { continue };
            let stands = self.stands.clone();
            let mut seen = BTreeSet::new();
            for case in list(&used["found"]) {
                let position = position_of(&self.wiring, &self.wiring.devices[device].name, case["position"].as_str()?);
                let in_it = |&combination: &usize| stands[combination].positions[device] == position;
                let combinations: BTreeSet<usize> = all.iter().copied().filter(in_it).collect();
                wrong = wrong.or_else(|| self.carry_out(&case["rounds"], &extras, &combinations));
                seen.extend(combinations);
            }
            if seen != all || self.stands != stands {
                wrong = wrong.or_else(|| Some(format!("{used} forgets a position, or leaves things otherwise")));
            }
        }
        wrong = wrong.or_else(|| self.operate(&plan["extras"]["put_back"], &all, true));
        wrong.or_else(|| (asked.restore && self.stands != found).then(|| "not everything is put back".to_owned()))
    }
}

/// Where a remedy of an untestable pair is none: its reading, with the change made and devices as it says, does not test
/// the pair whichever way unknown devices stand.
pub fn wrong_in_remedies(
    installation: &Value,
    test_set: Option<&Value>,
    asked: &Asked,
    plan: &Value,
) -> Option<String> {
    let mut question = Question::of(installation, test_set, asked);
    let wrong = question.carry_out(&plan["rounds"], &[], &question.all());
    if wrong.is_some() {
        return wrong;
    }
    let wiring = &question.wiring;
    for row in list(&plan["untestable"]).iter().filter(|row| !row["remedy"].is_null()) {
        let remedy = &row["remedy"];
        let extras = extras_of(wiring, remedy);
        let length = list(&installation["length"]).iter().find(|length| length["id"] == row["length"]).unwrap();
        let at = json!({ "circuit": length["circuit"], "between": remedy["between"], "volts": remedy["volts"] });
        let leads = leads(wiring, &at);
        let name = json!([row["length"], row["cores"][0], row["cores"][1]]);
        let pair = question.pairs.iter().find(|pair| question.name(pair) == name).expect("a pair");
        for mut setting in question.stands.clone() {
            for with in list(&remedy["with"]) {
                let [device_name, position] = [0, 1].map(|place: usize| with[place].as_str().unwrap());
                setting.positions[device(wiring, device_name)] = position_of(wiring, device_name, position);
            }
            let taken = Taken::with(&with_extras(wiring, &extras, setting), &leads);
            if taken.void.is_some() || !taken.parts(pair.nodes) || !leads.count_for(pair) {
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
    Question::of(installation, test_set, asked).carry_out_extras(plan, asked)
}

/// Where the extras of an engine's plan are not what FORMAT.md says: more than need be, a pair forgotten, a reading that
/// does not test what it is said to. None where there is nothing wrong, or the question is too large.
pub fn wrong_in_extras(installation: &Value, test_set: Option<&Value>, asked: &Asked, plan: &Value) -> Option<String> {
    if let Some(wrong) = unsound_in_extras(installation, test_set, asked, plan) {
        return Some(wrong);
    }
    let name_of = |row: &Value| json!([row["length"], row["cores"][0], row["cores"][1]]).to_string();
    let all: BTreeSet<String> = list(&plan["untestable"]).iter().map(name_of).collect();
    let said = &plan["extras"];
    let said_left: BTreeSet<String> = list(&said["left"]).iter().map(Value::to_string).collect();
    let used = list(&said["used"]);
    let reasons: BTreeSet<String> = used.iter().flat_map(|extra| list(&extra["for"])).map(name_of).collect();
    let added = |rounds: &Value| -> BTreeSet<String> {
        let readings = list(rounds).iter().flat_map(|round| list(&round["readings"]));
        readings.flat_map(|reading| list(&reading["adds"])).map(Value::to_string).collect()
    };
    let done: BTreeSet<String> = used.iter().flat_map(|extra| added(&extra["rounds"])).collect();
    let found: BTreeSet<String> =
        used.iter().flat_map(|extra| list(&extra["found"])).flat_map(|case| added(&case["rounds"])).collect();
    if !done.is_subset(&reasons)
        || !reasons.is_subset(&done.union(&found).cloned().collect())
        || !reasons.is_disjoint(&said_left)
        || reasons.union(&said_left).cloned().collect::<BTreeSet<_>>() != all
    {
        return Some(format!(
            "{done:?}, {found:?} are tested, {said_left:?} left, {reasons:?} the reasons, of {all:?}"
        ));
    }

    let mut question = Question::of(installation, test_set, asked);
    let combinations = question.all();
    question.carry_out(&plan["rounds"], &[], &combinations);
    let targets: Vec<usize> = (0..question.pairs.len())
        .filter(|&pair| all.contains(&question.name(&question.pairs[pair]).to_string()))
        .collect();
    let singles: Vec<Vec<Extra>> =
        every_extra(installation, &question, asked).into_iter().map(|extra| vec![extra]).collect();
    let covers = every_cover(&question, &singles, &targets)?;
    let coverable: BTreeSet<usize> = covers.iter().flatten().copied().collect();
    let rest: Vec<usize> = targets.iter().copied().filter(|target| !coverable.contains(target)).collect();
    let names = |targets: &mut dyn Iterator<Item = usize>| -> BTreeSet<String> {
        targets.map(|target| question.name(&question.pairs[target]).to_string()).collect()
    };
    if !said_left.is_subset(&names(&mut rest.iter().copied())) {
        return Some(format!("left {said_left:?}, but a single one does for some of them"));
    }
    let twos = every_two(&singles);
    let is_tiny = twos.len() * question.stands.len() * plan_leads(&question.wiring, &question.limits).len() < READINGS;
    let of_twos = if rest.is_empty() {
        BTreeSet::new()
    } else if is_tiny {
        every_cover(&question, &twos, &rest)?
    } else {
        return wrong_in_totals(said);
    };
    let by_twos: BTreeSet<usize> = of_twos.iter().flatten().copied().collect();
    let expected_left = names(&mut rest.iter().copied().filter(|target| !by_twos.contains(target)));
    if expected_left != said_left {
        return Some(format!("left {said_left:?}, but only {expected_left:?} need be"));
    }
    let fewest = |covers: &BTreeSet<BTreeSet<usize>>, coverable: &BTreeSet<usize>| {
        (0..).find(|&count| can_cover(covers, coverable, count)).expect("all together do")
    };
    let fewest = fewest(&covers, &coverable) + 2 * fewest(&of_twos, &by_twos);
    let is_said = json!([said["totals"]["extras"], said["at_least"], said["optimal"]]);
    // Those before may do in passing what another would be for.
    let used_count = said["totals"]["extras"].as_u64()? as usize;
    if used_count > fewest || is_said != json!([used_count, used_count, true]) {
        return Some(format!("{is_said} extras, but the fewest are {fewest}"));
    }
    wrong_in_totals(said)
}

/// Of what is found out the most counts.
fn wrong_in_totals(extras: &Value) -> Option<String> {
    let counts = |rounds: &Value| -> [usize; 3] {
        let sum = |what: &str| list(rounds).iter().map(|round| list(&round[what]).len()).sum();
        [list(rounds).len(), sum("operations"), sum("readings")]
    };
    let back = list(&extras["put_back"]).len();
    let mut totals = [usize::from(back > 0), back, 0];
    let extras_count: usize = list(&extras["used"]).iter().map(|used| list(&used["together"]).len().max(1)).sum();
    for used in list(&extras["used"]) {
        let cases: Vec<[usize; 3]> = list(&used["found"]).iter().map(|case| counts(&case["rounds"])).collect();
        let own = counts(&used["rounds"]);
        for (place, total) in totals.iter_mut().enumerate() {
            *total += own[place] + cases.iter().map(|case| case[place]).max().unwrap_or(0);
        }
    }
    let said = ["rounds", "operations", "readings"].map(|what| extras["totals"][what].clone());
    (json!(said) != json!(totals) || extras["totals"]["extras"] != extras_count)
        .then(|| format!("totals {said:?}, and they come to {totals:?} of {extras_count}"))
}

/// What each does for: the targets that it tests for every combination, together with what is tested without it.
/// None where that is too much to try.
fn every_cover(question: &Question, all_extras: &[Vec<Extra>], targets: &[usize]) -> Option<BTreeSet<BTreeSet<usize>>> {
    let Question { wiring, limits, stands: left, .. } = question;
    let mut covers = BTreeSet::new();
    for extras in all_extras {
        let mut covered: BTreeSet<usize> = targets.iter().copied().collect();
        for case in cases_of(question, extras) {
            let here: Vec<Setting> = case.iter().map(|&combination| left[combination].clone()).collect();
            let mut dials = dials(wiring, limits, &here);
            // A switch that is put into positions by name, and that nobody knows the position of, is left as it is.
            dials.retain(|dial| !dial.is_one_way());
            let settings = every_setting(&dials, super::plan::SETTINGS)?;
            if settings.len() * left.len() > SETTINGS {
                return None;
            }
            let mut tested: BTreeMap<usize, BTreeSet<usize>> =
                targets.iter().map(|&target| (target, question.tested[target].clone())).collect();
            for setting in &settings {
                let joined: Vec<Joined> =
                    here.iter().map(|left| with_extras(wiring, extras, turned(&dials, setting, left))).collect();
                for leads in leads_with(question, extras) {
                    let taken: Vec<Taken> = joined.iter().map(|joined| Taken::with(joined, &leads)).collect();
                    if taken.iter().any(|taken| taken.void.is_some()) {
                        continue;
                    }
                    for (target, tested) in &mut tested {
                        let pair = &question.pairs[*target];
                        let parts = |taken: &Taken| taken.parts(pair.nodes) && leads.count_for(pair);
                        let parts = case.iter().zip(&taken).filter(|(_, taken)| parts(taken));
                        tested.extend(parts.map(|(&combination, _)| combination));
                    }
                }
            }
            covered.retain(|target| case.is_subset(&tested[target]));
        }
        covers.insert(covered);
    }
    Some(covers)
}

/// The combinations that are together in one case: all, or those for which a device is found in one position.
fn cases_of(question: &Question, extras: &[Extra]) -> Vec<BTreeSet<usize>> {
    let [Extra::FindOut(device)] = *extras else { return vec![question.all()] };
    let mut cases: BTreeMap<usize, BTreeSet<usize>> = BTreeMap::new();
    for (combination, setting) in question.stands.iter().enumerate() {
        cases.entry(setting.positions[device]).or_default().insert(combination);
    }
    cases.into_values().collect()
}

/// The readings that may be taken with an extra.
fn leads_with(question: &Question, extras: &[Extra]) -> Vec<Leads> {
    let Question { wiring, limits, .. } = question;
    let at = |point: &String| -> Vec<Leads> {
        let mut nodes = wiring.terminals_of(point);
        nodes.push(wiring.terminal("MET"));
        two_of(&nodes).into_iter().map(|(a, b)| wiring.leads(None, None, [vec![a], vec![b]])).collect()
    };
    let is_taken_to = |extra: &&Extra| matches!(extra, Extra::Point(_));
    if let Some(Extra::Point(point)) = extras.iter().find(is_taken_to) {
        return at(point);
    }
    let mut leads = plan_leads(wiring, limits);
    for extra in extras {
        if let Extra::Off(point) = extra {
            leads.extend(at(point));
        }
    }
    leads
}

/// Two links, a link and a lamp, an accessory off and the instrument elsewhere, two accessories off.
fn every_two(singles: &[Vec<Extra>]) -> Vec<Vec<Extra>> {
    let all: Vec<&Extra> = singles.iter().flatten().collect();
    let mut twos = Vec::new();
    for (number, &one) in all.iter().enumerate() {
        for &other in &all[number + 1..] {
            let is_meant = match (one, other) {
                (Extra::Link(..), Extra::Link(..) | Extra::Lamp(_)) | (Extra::Lamp(_), Extra::Link(..)) => true,
                (Extra::Off(off), Extra::Point(at)) | (Extra::Point(at), Extra::Off(off)) => off != at,
                (Extra::Off(_), Extra::Off(_)) => true,
                _ => false,
            };
            if is_meant {
                twos.push(vec![one.clone(), other.clone()]);
            }
        }
    }
    twos
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

fn every_extra(installation: &Value, question: &Question, asked: &Asked) -> Vec<Extra> {
    let Question { wiring, limits, stands, .. } = question;
    let rows: Vec<&Value> =
        list(&installation["point"]).iter().filter(|point| !limits.locks(point["id"].as_str().unwrap())).collect();
    let points: Vec<String> = rows.iter().map(|point| point["id"].as_str().unwrap().to_owned()).collect();
    let holders = 0..wiring.bridges.len();
    let is_here = |number: &usize| points.contains(&wiring.bridges[*number].owner);
    let mut extras = Vec::new();
    for sort in &asked.extras {
        match *sort {
            "lamps" => extras.extend(holders.clone().filter(is_here).filter_map(|number| {
                let bridges = &wiring.bridges[number];
                let is_sure = bridges.elements.iter().all(|element| element.sure);
                let can_be_in = bridges.removable && stands[0].bridges[number] != Bridged::Fitted;
                (is_sure && can_be_in).then_some(Extra::Lamp(number))
            })),
            "points" => extras.extend(points.iter().cloned().map(Extra::Point)),
            "find-out" => extras.extend((0..wiring.devices.len()).filter_map(|number| {
                let name = &wiring.devices[number].name;
                let is_unknown = stands.iter().any(|setting| setting.positions[number] != stands[0].positions[number]);
                (points.contains(name) && !limits.leaves(name) && is_unknown).then_some(Extra::FindOut(number))
            })),
            "links" => {
                let linked = holders.clone().filter(is_here).filter(|&at| stands[0].bridges[at] == Bridged::Linked);
                extras.extend(linked.map(Extra::Unlinked));
                let twos = points.iter().flat_map(|point| two_of(&wiring.terminals_of(point)));
                extras.extend(twos.map(|(a, b)| Extra::Link(a, b)));
            }
            "accessories" => {
                let left_in = list(&installation["circuit"]).iter().flat_map(|row| texts(&row["relief"]["leaves"]));
                let left_in: Vec<String> = left_in.collect();
                let may_be = |point: &&&Value| {
                    let id = point["id"].as_str().unwrap();
                    let has_contacts = wiring.devices.iter().any(|device| device.name == id);
                    let is_in = |at: usize| wiring.bridges[at].owner == id && stands[0].bridges[at] != Bridged::Removed;
                    (has_contacts || holders.clone().any(is_in))
                        && point["fixed"] != true
                        && !left_in.iter().any(|left| left == id)
                        && !limits.leaves(id)
                };
                let points = rows.iter().filter(may_be).map(|point| point["id"].as_str().unwrap().to_owned());
                extras.extend(points.map(Extra::Off));
            }
            _ => panic!("no such extras: {sort}"),
        }
    }
    extras
}

fn with_extras(wiring: &Wiring, extras: &[Extra], mut setting: Setting) -> Joined {
    let mut off: Vec<&str> = Vec::new();
    for extra in extras {
        match extra {
            Extra::Lamp(number) => setting.bridges[*number] = Bridged::Fitted,
            Extra::Unlinked(number) => setting.bridges[*number] = Bridged::Removed,
            Extra::Off(point) => off.push(point),
            Extra::Link(..) | Extra::Point(_) | Extra::FindOut(_) => {}
        }
    }
    let mut joined = Joined::with_off(wiring, &setting, &off);
    for extra in extras {
        if let Extra::Link(a, b) = extra {
            joined.join_for_sure(*a, *b);
        }
    }
    joined
}

/// The extra that a remedy, or one used, names; or the two.
fn extras_of(wiring: &Wiring, row: &Value) -> Vec<Extra> {
    if row["do"] == "together" {
        return list(&row["together"]).iter().flat_map(|row| extras_of(wiring, row)).collect();
    }
    let held_by = |owner: &str| wiring.bridges.iter().position(|bridges| bridges.owner == owner).unwrap();
    let point = || row["point"].as_str().unwrap().to_owned();
    vec![match row["do"].as_str().unwrap() {
        "leave-fitted" => Extra::Lamp(held_by(row["bridge"].as_str().unwrap())),
        "take-link-out" => Extra::Unlinked(held_by(&point())),
        "take-instrument-to" => Extra::Point(point()),
        "find-out" => Extra::FindOut(device(wiring, &point())),
        "take-off" => Extra::Off(point()),
        "link" => {
            let terminals = texts(&row["terminals"]);
            let [a, b] = [0, 1].map(|number: usize| wiring.terminal(&terminals[number]));
            Extra::Link(a, b)
        }
        other => panic!("no such extra: {other}"),
    }]
}
