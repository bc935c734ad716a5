//! Laws that hold whatever the right answers are.

use std::collections::{BTreeMap, BTreeSet};

use proptest::prelude::*;
use serde_json::{Value, json};

use crate::asked::{Asked, limited, limits};
use crate::engine::{self, NEEDS, total};
use crate::strategy::{Case, cases, large_cases, planning_clusters, renamed, times};
use crate::{oracle, small};

fn entries(value: &Value) -> &[Value] {
    value.as_array().map_or(&[], Vec::as_slice)
}

/// A pair by its length and its two cores, whichever is named first.
pub type PairName = (String, BTreeSet<String>);

fn pair_name(length: &Value, cores: &[Value]) -> PairName {
    (length.as_str().unwrap().to_owned(), cores.iter().map(|core| core.as_str().unwrap().to_owned()).collect())
}

fn pairs_where(report: &Value, wanted: impl Fn(&Value) -> bool) -> BTreeSet<PairName> {
    let pairs = entries(&report["pairs"]).iter().filter(|pair| wanted(pair));
    pairs.map(|pair| pair_name(&pair["length"], entries(&pair["cores"]))).collect()
}

pub fn untestable(plan: &Value) -> BTreeSet<PairName> {
    entries(&plan["untestable"]).iter().map(|pair| pair_name(&pair["length"], entries(&pair["cores"]))).collect()
}

fn walks_and_operations(plan: &Value) -> [u64; 2] {
    [total(plan, "walks"), total(plan, "operations")]
}

/// Entries as a set, in words that do not depend on the order of the file.
fn said(list: &Value, name: impl Fn(&str) -> String) -> BTreeSet<String> {
    let say = |entry: &Value| {
        let mut cores: Vec<String> = entries(&entry["cores"]).iter().map(|core| name(core.as_str().unwrap())).collect();
        cores.sort();
        let names = ["length", "device"].map(|key| entry[key].as_str().map(&name));
        let rest =
            ["class", "required", "tested", "by", "position", "pass", "reading", "void", "why"].map(|key| &entry[key]);
        format!("{names:?} {cores:?} {rest:?}")
    };
    entries(list).iter().map(say).collect()
}

fn with_pass(test_set: &Value, pass: &Value) -> Value {
    let mut longer = test_set.clone();
    longer["pass"].as_array_mut().unwrap().push(pass.clone());
    longer
}

/// The test set with the plan carried out after it.
pub fn followed(installation: &Value, test_set: &Value, plan: &Value) -> Value {
    let network = engine::network(&engine::from_value(installation));
    // A plan starts with the devices of boards off and everything out that comes out, and a link in the place of what
    // passes.
    let mut preparation = json!({ "set": {}, "remove": [] });
    for device in entries(&network["devices"]) {
        let name = device["device"].as_str().unwrap();
        if device["worked_at"] == "board" {
            preparation["set"][name] = "off".into();
        }
    }
    let removable = || entries(&network["bridges"]).iter().filter(|bridge| bridge["removable"] == true);
    let passing = removable().filter(|bridge| bridge["passes"] == true);
    let names = |bridges: &mut dyn Iterator<Item = &Value>| -> BTreeSet<String> {
        bridges.map(|bridge| bridge["id"].as_str().unwrap().to_owned()).collect()
    };
    preparation["remove"] = json!(names(&mut removable()));
    preparation["link"] = json!(names(&mut { passing }));

    let mut done = test_set.clone();
    if done["pass"].is_null() {
        done["pass"] = json!([]);
    }
    done = with_pass(&done, &preparation);
    for round in entries(&plan["rounds"]) {
        let mut pass = json!({ "operate": [], "set": {}, "reading": [] });
        for operation in entries(&round["operations"]) {
            let device = operation["device"].as_str().unwrap();
            if let Some(steps) = oracle::steps_on(operation["to"].as_str().unwrap()) {
                pass["operate"].as_array_mut().unwrap().extend(vec![device.into(); steps]);
            } else {
                pass["set"][device] = operation["to"].clone();
            }
        }
        for reading in entries(&round["readings"]) {
            let taken =
                json!({ "circuit": reading["circuit"], "between": reading["between"], "volts": reading["volts"] });
            pass["reading"].as_array_mut().unwrap().push(taken);
        }
        done = with_pass(&done, &pass);
    }
    done
}

/// The test set up to and with so many of its readings, counted over all passes.
fn cut_after(test_set: &Value, readings: usize) -> Value {
    let mut readings = readings.min(readings_of(test_set).count());
    let mut cut = test_set.clone();
    for pass in cut["pass"].as_array_mut().unwrap() {
        if let Some(taken) = pass.get_mut("reading").and_then(Value::as_array_mut) {
            taken.truncate(readings);
            readings -= taken.len();
        }
    }
    cut
}

fn missed(report: &Value) -> BTreeSet<PairName> {
    pairs_where(report, |pair| pair["required"] == true && pair["tested"] == false)
}

/// A test set with a plan carried out after it. A reading of the plan counts for those pairs alone whose circuit may be read
/// at its voltage.
pub struct Followed<'f> {
    installation: &'f Value,
    pub done: Value,
    /// How many readings were there before, which count for all.
    before: usize,
    /// By length, the test voltages that will do.
    asked: BTreeMap<String, Vec<f64>>,
}

impl<'f> Followed<'f> {
    pub fn new(installation: &'f Value, test_set: &Value, plan: &Value) -> Followed<'f> {
        Followed {
            installation,
            done: followed(installation, test_set, plan),
            before: readings_of(test_set).count(),
            asked: oracle::asked_of_lengths(installation),
        }
    }

    /// What it does for lengths that ask for these voltages: without the readings that don't count for them. Cut after so
    /// many of its readings; and how many are left of these.
    fn counting_for(&self, asked: &[f64], count: usize) -> (Value, usize) {
        let mut counting = cut_after(&self.done, count);
        let (mut number, mut kept) = (0, 0);
        for pass in counting["pass"].as_array_mut().unwrap() {
            let Some(readings) = pass.get_mut("reading").and_then(Value::as_array_mut) else { continue };
            readings.retain(|reading| {
                number += 1;
                let counts = number <= self.before || counts_at(asked, reading["volts"].as_f64());
                kept += usize::from(counts);
                counts
            });
        }
        (counting, kept)
    }

    /// The needed pairs that are missed after so many of its readings.
    fn missed_after(&self, count: usize, need: &str) -> BTreeSet<PairName> {
        let all: BTreeSet<String> = self.asked.values().map(|asked| format!("{asked:?}")).collect();
        let missed_of = |asked: &String| {
            let is_asked = |length: &str| format!("{:?}", self.asked[length]) == *asked;
            let asked = self.asked.values().find(|row| format!("{row:?}") == *asked).unwrap();
            let report = engine::cover(self.installation, &self.counting_for(asked, count).0, need);
            missed(&report).into_iter().filter(move |(length, _)| is_asked(length)).collect::<Vec<_>>()
        };
        all.iter().flat_map(missed_of).collect()
    }

    /// The needed pairs that are missed in the end.
    pub fn missed(&self, need: &str) -> BTreeSet<PairName> {
        self.missed_after(usize::MAX, need)
    }
}

/// Whether a reading of a plan counts where these test voltages will do.
pub fn counts_at(asked: &[f64], volts: Option<f64>) -> bool {
    volts.is_some_and(|volts| asked.iter().any(|setting| (*setting..=1.25 * setting).contains(&volts)))
}

fn readings_of(test_set: &Value) -> impl Iterator<Item = &Value> {
    entries(&test_set["pass"]).iter().flat_map(|pass| entries(&pass["reading"]))
}

/// A plan, carried out, leaves exactly what it calls untestable; none of its readings is void, each adds what it says,
/// and its totals are those of its rounds. What it leaves for the size of the question it names too, and then claims
/// nothing.
fn check_followed(installation: &Value, test_set: Option<&Value>, need: &'static str) -> Result<(), TestCaseError> {
    check_followed_asked(installation, test_set, &Asked::of(need))
}

/// The same of a plan by request, with no room locked.
fn check_followed_asked(installation: &Value, test_set: Option<&Value>, asked: &Asked) -> Result<(), TestCaseError> {
    check_plan(installation, test_set, asked, &engine::plan_asked(installation, test_set, asked))
}

/// Whether a plan takes the instrument to the source of a circuit without a way.
pub fn reads_at_sources(plan: &Value) -> bool {
    entries(&plan["rounds"]).iter().flat_map(|round| entries(&round["readings"])).any(|row| !row["at"].is_null())
}

/// The same of a plan that was made some other way.
pub fn check_plan(
    installation: &Value,
    test_set: Option<&Value>,
    asked: &Asked,
    plan: &Value,
) -> Result<(), TestCaseError> {
    let need = asked.need;
    let before = test_set.cloned().unwrap_or(json!({ "format": 1, "pass": [] }));
    let follow = Followed::new(installation, &before, plan);
    let done = &follow.done;
    let report = engine::cover(installation, done, need);
    let not_planned: BTreeSet<PairName> =
        entries(&plan["not_planned"]).iter().map(|pair| pair_name(&pair[0], &entries(pair)[1..])).collect();
    prop_assert!(not_planned.is_empty() || !engine::is_optimal(plan), "{not_planned:?}");
    prop_assert_eq!(follow.missed(need), &untestable(plan) | &not_planned);

    let before_count = follow.before;
    for reading in &entries(&report["readings"])[before_count..] {
        prop_assert_eq!(&reading["void"], &Value::Null, "a plan takes no void reading");
    }

    let rounds = entries(&plan["rounds"]);
    let operations: Vec<usize> = rounds.iter().map(|round| entries(&round["operations"]).len()).collect();
    prop_assert_eq!(total(plan, "walks"), operations.iter().filter(|count| **count > 0).count() as u64);
    prop_assert_eq!(total(plan, "operations"), operations.iter().sum::<usize>() as u64);
    let stops = rounds.iter().map(|round| {
        let rows = entries(&round["operations"]).iter().chain(entries(&round["readings"]));
        rows.filter_map(|row| row["stop"].as_str()).collect::<BTreeSet<&str>>().len() as u64
    });
    let mut one_way: Vec<&str> =
        rounds.iter().flat_map(|round| entries(&round["operations"])).filter_map(|row| row["stop"].as_str()).collect();
    one_way.dedup();
    let stops = if asked.two { one_way.len() as u64 } else { stops.sum::<u64>() };
    prop_assert_eq!(total(plan, "stops"), stops);
    // Each reading at a source makes a stop; the sources of a stop are read at one after the other.
    for round in rounds {
        let read: Vec<&str> = entries(&round["readings"]).iter().filter_map(|row| row["at"].as_str()).collect();
        let stops: Vec<&str> = entries(&round["readings"]).iter().filter_map(|row| row["stop"].as_str()).collect();
        prop_assert_eq!(read.len(), stops.len());
        prop_assert_eq!(stops.chunk_by(|a, b| a == b).count(), stops.iter().collect::<BTreeSet<_>>().len());
    }
    prop_assert_eq!(total(plan, "readings"), (readings_of(done).count() - before_count) as u64);
    prop_assert!(operations.iter().skip(1).all(|count| *count > 0), "only the first round may go without operations");

    if asked.each_switch {
        let listed: BTreeSet<(String, String)> = entries(&plan["switches"])
            .iter()
            .filter_map(|row| Some((row["device"].as_str()?.to_owned(), row["position"].as_str()?.to_owned())))
            .collect();
        let at_rest: BTreeSet<&str> = entries(&plan["switches"])
            .iter()
            .filter(|row| row["position"].is_null())
            .map(|row| row["device"].as_str().unwrap())
            .collect();
        let network = engine::network(&engine::from_value(installation));
        let at_board: BTreeSet<&str> = entries(&network["devices"])
            .iter()
            .filter(|device| device["worked_at"] == "board")
            .map(|device| device["device"].as_str().unwrap())
            .collect();
        for row in entries(&report["positions"]) {
            let [device, position] = ["device", "position"].map(|key| row[key].as_str().unwrap().to_owned());
            if at_board.contains(device.as_str()) || at_rest.contains(device.as_str()) || row["closes_nothing"] == true
            {
                continue;
            }
            let is_listed = listed.contains(&(device, position));
            prop_assert!(row["tested"] == true || is_listed, "{row}");
        }
    }

    let mut left = follow.missed_after(before_count, need);
    for (number, reading) in rounds.iter().flat_map(|round| entries(&round["readings"])).enumerate() {
        let now = follow.missed_after(before_count + number + 1, need);
        let adds: BTreeSet<PairName> =
            entries(&reading["adds"]).iter().map(|add| pair_name(&add[0], &entries(add)[1..])).collect();
        let gone: BTreeSet<PairName> = left.difference(&now).cloned().collect();
        prop_assert_eq!(&gone, &adds, "reading {} of the plan", number + 1);
        let is_for = entries(&reading["for"]);
        let completes_nothing = gone.is_empty() && reading.get("positions").is_none();
        prop_assert!(completes_nothing || is_for.is_empty(), "{reading} completes something");
        // What it does for a switch alone is not told.
        prop_assert!(!completes_nothing || !is_for.is_empty() || asked.each_switch, "{reading} adds nothing");
        let can_be_tried = oracle::combinations(installation, &before) <= 64;
        for pair in is_for.iter().filter(|_| can_be_tried) {
            let asked = &follow.asked[pair[0].as_str().unwrap()];
            let (counting, kept) = follow.counting_for(asked, before_count + number + 1);
            let adds = oracle::adds_for_some_start(installation, &counting, kept - 1, pair);
            prop_assert!(adds, "{reading} is not needed for {pair}");
        }
        left = now;
    }
    Ok(())
}

proptest! {
    #![proptest_config(times(144))]

    /// Other names in other orders: the same answers under those names.
    #[test]
    fn relabelling_changes_nothing_but_names(case in cases(), need in 0..3usize) {
        let other = renamed(&case);
        let new_name = |name: &str| other.name(name);
        let same = |name: &str| name.to_owned();

        let one = engine::cover(&case.installation, &case.test_set, NEEDS[need]);
        let two = engine::cover(&other.case.installation, &other.case.test_set, NEEDS[need]);
        for count in ["required", "tested", "not_tested"] {
            prop_assert_eq!(&one["summary"][count], &two["summary"][count]);
        }
        prop_assert_eq!(&one["summary"]["metres_tested"], &two["summary"]["metres_tested"], "quarters of metres add up exactly");
        for list in ["pairs", "readings", "positions"] {
            prop_assert_eq!(entries(&one[list]).len(), entries(&two[list]).len());
            prop_assert_eq!(said(&one[list], new_name), said(&two[list], same));
        }

        let one = engine::plan(&case.installation, Some(&case.test_set), NEEDS[need]);
        let two = engine::plan(&other.case.installation, Some(&other.case.test_set), NEEDS[need]);
        prop_assert_eq!(said(&one["untestable"], new_name), said(&two["untestable"], same));
        if engine::is_optimal(&one) && engine::is_optimal(&two) {
            prop_assert_eq!(walks_and_operations(&one), walks_and_operations(&two));
        }
    }

    #[test]
    fn a_further_pass_never_loses_coverage(case in cases()) {
        let longer = with_pass(&case.test_set, &case.further_pass);
        let before = engine::cover(&case.installation, &case.test_set, "standard");
        let after = engine::cover(&case.installation, &longer, "standard");
        let tested = |report: &Value| pairs_where(report, |pair| pair["tested"] == true);
        prop_assert!(tested(&before).is_subset(&tested(&after)));
        for (one, two) in entries(&before["readings"]).iter().zip(entries(&after["readings"])) {
            prop_assert_eq!(&one["void"], &two["void"]);
        }
        for (one, two) in entries(&before["positions"]).iter().zip(entries(&after["positions"])) {
            prop_assert!(one["tested"] == false || two["tested"] == true, "{one} {two}");
        }
    }

    /// What is claimed with a position unknown holds in whichever position it was.
    #[test]
    fn what_is_claimed_of_an_unknown_position_holds_in_each(case in cases(), which in any::<prop::sample::Index>()) {
        if let Some((device, positions)) = one_switch(&case, which) {
            let unknown = started(&case.test_set, &device, "unknown");
            let unknown = engine::cover(&case.installation, &unknown, "standard");
            for position in positions {
                let known = started(&case.test_set, &device, &position);
                let known = engine::cover(&case.installation, &known, "standard");
                for (claim, fact) in entries(&unknown["pairs"]).iter().zip(entries(&known["pairs"])) {
                    prop_assert!(claim["tested"] == false || fact["tested"] == true, "{device} at {position}: {claim} {fact}");
                }
                for (claim, fact) in entries(&unknown["readings"]).iter().zip(entries(&known["readings"])) {
                    prop_assert!(!claim["void"].is_null() || fact["void"].is_null(), "{device} at {position}: {claim} {fact}");
                }
                for (claim, fact) in entries(&unknown["positions"]).iter().zip(entries(&known["positions"])) {
                    prop_assert!(claim["tested"] == false || fact["tested"] == true, "{device} at {position}: {claim} {fact}");
                }
            }
        }
    }

    #[test]
    fn a_followed_plan_leaves_exactly_what_it_calls_untestable(case in cases(), need in 0..3usize) {
        check_followed(&case.installation, None, NEEDS[need])?;
        check_followed(&case.installation, Some(&case.test_set), NEEDS[need])?;
    }

    #[test]
    fn a_followed_plan_of_a_cluster_leaves_exactly_what_it_calls_untestable(case in planning_clusters()) {
        check_followed(&case.installation, None, "standard")?;
        check_followed(&case.installation, Some(&case.test_set), "every-pair")?;
    }

    /// Who puts everything back ends where the plan began, one walk later; and who would rather stop seldom stops no
    /// oftener, and walks no less.
    #[test]
    fn a_plan_by_request_walks_no_less_and_ends_as_it_should(case in planning_clusters(), need in 0..3usize) {
        let plain = engine::plan(&case.installation, Some(&case.test_set), NEEDS[need]);
        let stops_first = Asked { stops_first: true, ..Asked::of(NEEDS[need]) };
        let stops_first = engine::plan_asked(&case.installation, Some(&case.test_set), &stops_first);
        prop_assert_eq!(total(&plain, "walks"), total(&stops_first, "walks"));
        // Where sources are read at, stops may be left unproven.
        let is_searched = !reads_at_sources(&plain) || stops_first["optimal"]["stops"] == true;
        prop_assert!(!is_searched || total(&stops_first, "stops") <= total(&plain, "stops"));
        prop_assert!(total(&stops_first, "operations") >= total(&plain, "operations"));

        let restored = Asked { restore: true, ..Asked::of(NEEDS[need]) };
        let restored = engine::plan_asked(&case.installation, Some(&case.test_set), &restored);
        let rounds = entries(&restored["rounds"]);
        let mut stands: BTreeMap<&str, (&str, &str)> = BTreeMap::new();
        let mut turns: BTreeMap<&str, usize> = BTreeMap::new();
        let network = engine::network(&engine::from_value(&case.installation));
        let positions = |name: &str| {
            let mut devices = entries(&network["devices"]).iter();
            entries(&devices.find(|device| device["device"] == name).unwrap()["positions"]).len()
        };
        for operation in rounds.iter().flat_map(|round| entries(&round["operations"])) {
            let [device, from, to] = ["device", "from", "to"].map(|key| operation[key].as_str().unwrap());
            stands.entry(device).or_insert((from, to)).1 = to;
            *turns.entry(device).or_default() += oracle::steps_on(to).unwrap_or(0);
        }
        for (device, (found, left)) in stands {
            if found == "unknown" {
                prop_assert!(oracle::steps_on(left).is_some());
                prop_assert!(turns[device].is_multiple_of(positions(device)), "{}", device);
            } else {
                prop_assert_eq!(found, left, "{}", device);
            }
        }
        let is_same = untestable(&restored) == untestable(&plain) && engine::is_optimal(&plain);
        if is_same && engine::is_optimal(&restored) && total(&plain, "walks") > 0 {
            // An unknown selector can't be put back, so it is not operated, and others may take more walks for it.
            let is_known = oracle::combinations(&case.installation, &case.test_set) == 1;
            let [walks, at_least] = [total(&restored, "walks"), total(&plain, "walks") + 1];
            prop_assert!(walks == at_least || (walks > at_least && !is_known), "{walks}, but {at_least}");
            prop_assert!(entries(&rounds[rounds.len() - 1]["readings"]).is_empty());
        }
    }

    /// What is locked or left alone is not operated and not read at; and nothing is tested for it that is not
    /// otherwise.
    #[test]
    fn a_plan_keeps_off_what_it_is_to_leave(case in cases(), need in 0..3usize, limits in limits()) {
        let asked = limited(&case.installation, need, limits);
        let plan = engine::plan_asked(&case.installation, Some(&case.test_set), &asked);
        let free = engine::plan(&case.installation, Some(&case.test_set), NEEDS[need]);
        let in_locked = |row: &Value| row["location"].as_str().is_some_and(|room| asked.without.iter().any(|id| id == room));
        let row_of = |list: &str, id: &str| {
            entries(&case.installation[list]).iter().find(|row| row["id"] == id).cloned().unwrap_or(Value::Null)
        };
        for round in entries(&plan["rounds"]) {
            for operation in entries(&round["operations"]) {
                let device = operation["device"].as_str().unwrap();
                prop_assert!(!asked.leave.iter().any(|point| point == device));
                prop_assert!(!in_locked(&row_of("point", device)));
            }
            for reading in entries(&round["readings"]) {
                if let Some(source) = reading["at"].as_str() {
                    prop_assert!(!in_locked(&row_of("point", source)));
                    continue;
                }
                let circuit = row_of("circuit", reading["circuit"].as_str().unwrap());
                let board = circuit["way"].as_str().unwrap().split_once('/').unwrap().0;
                prop_assert!(!in_locked(&row_of("board", board)));
            }
        }
        // With nothing locked, a switch less to operate never opens a pair and never saves a walk for the same pairs.
        if asked.without.is_empty() {
            prop_assert!(untestable(&free).is_subset(&untestable(&plan)));
            if untestable(&free) == untestable(&plan) && engine::is_optimal(&free) && engine::is_optimal(&plan) {
                prop_assert!(walks_and_operations(&free) <= walks_and_operations(&plan));
            }
        }
    }

    #[test]
    fn a_followed_plan_by_request_leaves_exactly_what_it_says(
        case in prop_oneof![planning_clusters(), cases()],
        limits in limits(),
        restore: bool,
        stops_first: bool,
        each_switch: bool,
    ) {
        let asked = limited(&case.installation, 1, limits);
        let asked = Asked { without: Vec::new(), restore, stops_first, each_switch, ..asked };
        check_followed_asked(&case.installation, None, &asked)?;
        check_followed_asked(&case.installation, Some(&case.test_set), &asked)?;
    }

    /// A round trip through the draft and its JSON.
    #[test]
    fn an_installation_written_and_read_again_is_the_same(case in cases()) {
        let installation = engine::from_value(&case.installation);
        let written = serde_json::to_string(&installation.to_draft()).expect("a draft is JSON");
        let again = engine::installation("again.json", written.as_bytes());
        prop_assert_eq!(engine::network(&installation), engine::network(&again));
        let again = serde_json::to_string(&again.to_draft()).expect("a draft is JSON");
        prop_assert_eq!(written, again);
    }
}

/// An operable switch at a point, and its positions.
fn one_switch(case: &Case, which: prop::sample::Index) -> Option<(String, Vec<String>)> {
    let network = engine::network(&engine::from_value(&case.installation));
    let switches: Vec<&Value> = entries(&network["devices"])
        .iter()
        .filter(|device| device["operable"] == true && device["worked_at"] == "point")
        .collect();
    if switches.is_empty() {
        return None;
    }
    let switch = which.get(&switches);
    let positions =
        entries(&switch["positions"]).iter().map(|position| position.as_str().unwrap().to_owned()).collect();
    Some((switch["device"].as_str().unwrap().to_owned(), positions))
}

/// The test set with this device standing so to begin with, and its bridges as they were.
fn started(test_set: &Value, device: &str, stands: &str) -> Value {
    let mut started = test_set.clone();
    let before = entries(&test_set["start"][device]).to_vec();
    let before = if before.is_empty() { vec![test_set["start"][device].clone()] } else { before };
    let bridges = before.into_iter().filter(|word| ["fitted", "removed", "linked"].iter().any(|state| word == state));
    let words: Vec<Value> = std::iter::once(stands.into()).chain(bridges).collect();
    started["start"][device] = words.into();
    started
}

proptest! {
    #![proptest_config(times(192))]

    #[test]
    fn needing_less_never_needs_more(case in planning_clusters()) {
        for test_set in [None, Some(&case.test_set)] {
            let plans = NEEDS.map(|need| engine::plan(&case.installation, test_set, need));
            for two in plans.windows(2) {
                prop_assert!(untestable(&two[0]).is_subset(&untestable(&two[1])));
                if two.iter().all(engine::is_optimal) {
                    prop_assert!(walks_and_operations(&two[0]) <= walks_and_operations(&two[1]), "{:#}\n{:#}", two[0], two[1]);
                }
            }
        }
    }

    /// Knowing more never costs more, where the same is asked for.
    #[test]
    fn a_plan_is_never_longer_with_a_position_known(case in planning_clusters(), which in any::<prop::sample::Index>()) {
        if let Some((device, positions)) = one_switch(&case, which) {
            let nothing = json!({ "format": 1, "start": {} });
            let unknown = engine::plan(&case.installation, Some(&started(&nothing, &device, "unknown")), "standard");
            for position in positions {
                let known = engine::plan(&case.installation, Some(&started(&nothing, &device, &position)), "standard");
                prop_assert!(untestable(&known).is_subset(&untestable(&unknown)), "{device} at {position}");
                if untestable(&known) == untestable(&unknown) && engine::is_optimal(&known) && engine::is_optimal(&unknown) {
                    prop_assert!(walks_and_operations(&known) <= walks_and_operations(&unknown), "{device} at {position}");
                }
            }
        }
    }
}

proptest! {
    #![proptest_config(times(8))]

    #[test]
    fn a_followed_plan_of_a_large_installation_leaves_exactly_what_it_calls_untestable(case in large_cases()) {
        check_followed(&case.installation, None, "standard")?;
        check_followed(&case.installation, Some(&case.test_set), "standard")?;
    }
}

#[test]
fn large_fixtures_followed_leave_exactly_what_is_untestable() {
    for fixture in small::all_large() {
        for test_set in [None, Some(&fixture.test_set)] {
            let outcome = check_followed(&fixture.installation, test_set, "standard");
            assert!(outcome.is_ok(), "{}: {outcome:?}", fixture.name);
        }
    }
}

/// Source: counting. In each house of the terrace the stair light asks for one operation, the fused connection for one
/// and the selector for two in a walk each; the houses do not bear on one another, and each is one stop in both walks.
#[test]
fn independent_houses_need_the_walks_of_one_and_the_operations_of_all() {
    let terrace = small::all_large().into_iter().find(|fixture| fixture.name == "terrace").expect("the terrace");
    let plan = engine::plan(&terrace.installation, None, "standard");
    assert!(engine::is_optimal(&plan), "{}", plan["optimal"]);
    assert_eq!(["walks", "operations", "stops"].map(|what| total(&plan, what)), [2, 12 * 4, 2 * 12]);
    assert_eq!(plan["untestable"], json!([]));
}

/// Source: worked reasoning: whatever stands between two two-way switches, operating the first brings the other
/// strapper of every length onto the line lead.
#[test]
fn any_number_of_intermediates_needs_two_settings_one_operation_apart() {
    let two_way = small::fixture("intermediate").installation;
    for count in 0..=14 {
        let mut chain = two_way.clone();
        let switch = |id: String, kind: &str| json!({ "id": id, "kind": kind, "circuit": "C1" });
        let mut points: Vec<Value> =
            entries(&two_way["point"]).iter().filter(|point| point["kind"] != "intermediate").cloned().collect();
        let mut lengths: Vec<Value> = entries(&two_way["length"])
            .iter()
            .filter(|length| length["cores"].get("grey").is_none())
            .cloned()
            .collect();
        let mut here = ("S1".to_owned(), ["L1", "L2"]);
        for number in 0..=count {
            let (next, into, out) = match number == count {
                true => ("S4".to_owned(), ["L1", "L2"], ["L1", "L2"]),
                false => (format!("I{number}"), ["A1", "A2"], ["B1", "B2"]),
            };
            if number < count {
                points.push(switch(next.clone(), "intermediate"));
            }
            let cores = json!({ "black": [here.1[0], into[0]], "grey": [here.1[1], into[1]], "cpc": ["E", "E"] });
            let id = format!("V{number}");
            lengths
                .push(json!({ "id": id, "circuit": "C1", "from": here.0, "to": next, "metres": 3.0, "cores": cores }));
            here = (next, out);
        }
        chain["point"] = points.into();
        chain["length"] = lengths.into();
        let plan = engine::plan(&chain, None, "standard");
        assert_eq!(["walks", "operations"].map(|what| total(&plan, what)), [1, 1], "{count} intermediates");
        assert!(engine::is_optimal(&plan), "{count} intermediates: {}", plan["optimal"]);
        assert_eq!(plan["untestable"], json!([]), "{count} intermediates");
    }
}

/// The demo has most shapes in one: selectors, a contactor, shared plates, neutrals in common. In locked rooms, what
/// can be taken out counts as in.
#[test]
fn plans_of_the_demo_followed_leave_exactly_what_they_call_untestable() {
    let value = |text: &str| -> Value { toml::from_str(text).unwrap() };
    let installation = value(include_str!("../../demo/skerry-light.toml"));
    let test_set = value(include_str!("../../demo/as-usual.toml"));
    for (without, leave) in [(vec![], vec![]), (vec!["boathouse", "dorm-2"], vec!["S101"])] {
        let mut asked = Asked::of("standard");
        asked.leave.extend(leave.into_iter().map(str::to_owned));
        let is_locked = |id: &Value| {
            let mut points = entries(&installation["point"]).iter();
            points.any(|point| point["id"] == *id && without.iter().any(|room| point["location"] == *room))
        };
        asked.without.extend(without.iter().map(|&room| room.to_owned()));
        let plan = engine::plan_asked(&installation, Some(&test_set), &asked);
        let mut done = followed(&installation, &test_set, &plan);
        let preparation = &mut done["pass"][entries(&test_set["pass"]).len()];
        let (stays, out): (Vec<Value>, Vec<Value>) =
            entries(&preparation["remove"]).iter().cloned().partition(|id| is_locked(id));
        assert_eq!(stays.is_empty(), without.is_empty());
        (preparation["remove"], preparation["refit"]) = (out.into(), stays.into());
        preparation["link"].as_array_mut().unwrap().retain(|id| !is_locked(id));
        let report = engine::cover(&installation, &done, "standard");
        assert_eq!(plan["not_planned"], Value::Null);
        assert_eq!(missed(&report), untestable(&plan), "{without:?}");
    }
}

#[test]
fn small_fixtures_followed_leave_exactly_what_is_untestable() {
    for fixture in small::all() {
        for need in NEEDS {
            for test_set in [None, Some(&fixture.test_set)] {
                let outcome = check_followed(&fixture.installation, test_set, need);
                assert!(outcome.is_ok(), "{} {need}: {outcome:?}", fixture.name);
            }
        }
    }
}

/// TOML and JSON are two spellings of one file, and cores stand in the file's order, whatever their names.
#[test]
fn small_fixtures_say_the_same_in_toml_and_in_json() {
    for fixture in small::all() {
        let toml = engine::installation("case.toml", fixture.text.as_bytes());
        engine::test_set("tests.toml", fixture.tests_text.as_bytes(), &toml);
        let json = engine::from_value(&fixture.installation);
        let (toml, json) = (engine::network(&toml), engine::network(&json));
        for list in ["pairs", "devices", "bridges"] {
            let same = |name: &str| name.to_owned();
            assert_eq!(said(&toml[list], same), said(&json[list], same), "{} {list}", fixture.name);
        }
        for pair in entries(&toml["pairs"]) {
            let place = |core: &Value| {
                let at = fixture.text.find(&format!("id = {}\n", pair["length"])).expect("the length is in the file");
                fixture.text[at..].find(&format!("{} = [", core.as_str().unwrap()))
            };
            let [first, second] = [0, 1].map(|number| place(&pair["cores"][number]));
            assert!(pair["cores"][1] == "earth" || first < second, "{}: {pair}", fixture.name);
        }
    }
}

/// The same input gives the same bytes.
#[test]
fn the_same_question_gets_the_same_bytes() {
    for fixture in small::all() {
        let ask = || {
            let cover = engine::cover(&fixture.installation, &fixture.test_set, "standard").to_string();
            cover + &engine::plan(&fixture.installation, Some(&fixture.test_set), "standard").to_string()
        };
        assert_eq!(ask(), ask(), "{}", fixture.name);
    }
}
