//! Plans within tiny limits: past each of them less is claimed, never more.

use std::collections::BTreeSet;

use lengthwise::Limits;
use lengthwise::plan::{PlanLimits, SearchBy};
use proptest::prelude::*;
use serde_json::Value;

use crate::asked::Asked;
use crate::engine::{self, NEEDS, total};
use crate::laws::{check_plan, untestable};
use crate::oracle::{self, Ground};
use crate::strategy::{Case, cases, planning_clusters, renamed, times};

type Tiny = (&'static str, fn(&mut PlanLimits, u32));

/// Each limit made tiny, more or less so by a number.
const TINY: [Tiny; 20] = [
    ("compared_tables", |limits, size| limits.compared_tables = size as usize % 4),
    ("compared_settings", |limits, size| limits.compared_settings = size as usize % 4),
    ("table_cells", |limits, size| limits.table_cells = size as usize),
    ("cover_nodes", |limits, size| limits.cover_nodes = size as usize),
    ("operation_steps", |limits, size| limits.operation_steps = 1 << size),
    ("walks", |limits, size| limits.walks = size as u16 % 4),
    ("sharing_nodes", |limits, size| limits.sharing_nodes = 1 << size),
    ("sharing_ways", |limits, size| limits.sharing_ways = size as usize % 4),
    ("choice_nodes", |limits, size| limits.choice_nodes = size as usize),
    ("equal_choices", |limits, size| limits.equal_choices = size as usize % 4),
    ("compared_ways", |limits, size| limits.compared_ways = size as usize),
    ("tour_steps", |limits, size| limits.tour_steps = 1 << size),
    ("visit_nodes", |limits, size| limits.visit_nodes = size as usize),
    ("exact_stops", |limits, size| limits.exact_stops = size as usize % 4),
    ("tour_changes", |limits, size| (limits.exact_stops, limits.tour_changes) = (1, size as usize)),
    ("compared_places", |limits, size| (limits.exact_stops, limits.compared_places) = (1, size as usize % 4)),
    ("solver_steps", |limits, size| limits.solver_steps = 1 << (size + 4)),
    ("compared_requirements", |limits, size| limits.compared_requirements = size as usize % 4),
    ("starts_of_pair", |limits, size| limits.starts_of_pair = size as usize % 4),
    ("cores", |limits, size| {
        (limits.core_budget, limits.solver_core_steps) = (1 << size, 1 << size);
        (limits.ways_explained, limits.switch_sets_tried) = (size as usize % 4, size as usize % 4);
    }),
];

fn within(tiny: usize, size: u32) -> Limits {
    let mut limits = Limits::default();
    TINY[tiny].1(&mut limits.plan, size);
    limits
}

/// What a plan claims beyond what the oracle finds; none too where the question is too large for the oracle.
fn claimed_too_much(oracle: &Value, plan: &Value, asked: &Asked) -> Option<String> {
    let of = |value: &Value, what: &str| value[what].as_u64().expect("a count");
    let costs = if asked.stops_first { ["walks", "stops", "operations"] } else { ["walks", "operations", "stops"] };
    let oracle_untestable: BTreeSet<_> = untestable(oracle);
    if let Some(pair) = untestable(plan).difference(&oracle_untestable).next() {
        return Some(format!("{pair:?} can be tested"));
    }
    for what in costs {
        if of(&plan["bounds"], what) > of(oracle, what) {
            return Some(format!("the bound on {what} is above the least, {}", oracle[what]));
        }
        if plan["optimal"][what] == true && total(plan, what) != of(oracle, what) {
            return Some(format!("{what} are not the least, {}", oracle[what]));
        }
    }
    let is_whole = plan["not_planned"].is_null() && !asked.each_switch;
    if is_whole && costs.map(|what| total(plan, what)) < costs.map(|what| of(oracle, what)) {
        return Some("no plan is as short".to_owned());
    }
    let walks = plan["rounds"].as_array()?.iter().filter_map(|round| round["walk"]["metres"].as_f64());
    let walked = (walks.sum::<f64>() * 1e6).round();
    let least = oracle["micrometres"].as_u64().filter(|_| plan["optimal"]["metres"] == true);
    least.filter(|&least| walked != least as f64).map(|least| format!("{least} are the fewest micrometres"))
}

fn wrong(installation: &Value, test_set: Option<&Value>, asked: &Asked, tiny: usize, size: u32) -> Option<String> {
    let oracle = oracle::plan(installation, test_set, asked);
    let ground = Ground::of(installation, test_set, asked);
    [SearchBy::Size, SearchBy::Solver].into_iter().find_map(|search| {
        let plan = engine::plan_within(installation, test_set, asked, search, within(tiny, size));
        let wrong = oracle
            .as_ref()
            .and_then(|oracle| claimed_too_much(oracle, &plan, asked))
            .or_else(|| ground.as_ref()?.check(&plan).err().map(|wrong| wrong.to_string()))
            .or_else(|| check_plan(installation, test_set, asked, &plan).err().map(|wrong| wrong.to_string()));
        wrong.map(|wrong| format!("{search:?}, {}: {wrong}\n{plan:#}\n{oracle:#?}", TINY[tiny].0))
    })
}

proptest! {
    #![proptest_config(times(240))]

    #[test]
    fn plans_within_tiny_limits_claim_no_more_than_holds(
        case in prop_oneof![planning_clusters(), cases()],
        need in 0..3usize,
        (tiny, size) in (0..TINY.len(), 0..12u32),
        restore: bool,
        stops_first: bool,
        each_switch in proptest::bool::weighted(0.2),
    ) {
        let asked = Asked { restore, stops_first, each_switch, ..Asked::of(NEEDS[need]) };
        for test_set in [None, Some(&case.test_set)] {
            prop_assert_eq!(wrong(&case.installation, test_set, &asked, tiny, size), None);
        }
    }
}

/// Where a file in another order is promised something else, within tiny limits that may keep either from being proven.
fn differs_by_order(case: &Case, asked: &Asked, search: SearchBy, limits: &Limits) -> Option<String> {
    let other = renamed(case);
    let [one, two] = [case, &other.case]
        .map(|case| engine::plan_within(&case.installation, Some(&case.test_set), asked, search, limits.clone()));
    // What is not planned is said; what is left out for it makes the rest shorter.
    if [&one, &two].iter().any(|plan| !plan["not_planned"].is_null()) {
        return None;
    }
    let here = untestable(&one).into_iter().map(|(length, cores)| {
        let cores: BTreeSet<String> = cores.iter().map(|core| other.name(core)).collect();
        (other.name(&length), cores)
    });
    if here.collect::<BTreeSet<_>>() != untestable(&two) {
        return Some("other pairs are untestable".to_owned());
    }
    for what in if asked.stops_first { ["walks", "stops", "operations"] } else { ["walks", "operations", "stops"] } {
        for [bounding, bounded] in [[&one, &two], [&two, &one]] {
            if bounding["bounds"][what].as_u64() > Some(total(bounded, what)) {
                return Some(format!("{what}: {bounding:#} is no bound of {bounded:#}"));
            }
        }
        let is_proven = [&one, &two].iter().all(|plan| plan["optimal"][what] == true);
        if is_proven && total(&one, what) != total(&two, what) {
            return Some(format!("{what} are proven to be {} and {}", total(&one, what), total(&two, what)));
        }
        // What comes next is the least only of plans that are as good in what came before.
        if !is_proven {
            break;
        }
    }
    None
}

proptest! {
    #![proptest_config(times(120))]

    #[test]
    fn another_order_of_the_file_changes_nothing_that_is_proven(
        case in prop_oneof![planning_clusters(), cases()],
        need in 0..3usize,
        (tiny, size) in (0..TINY.len(), 0..12u32),
        stops_first: bool,
    ) {
        let asked = Asked { stops_first, ..Asked::of(NEEDS[need]) };
        for search in [SearchBy::Size, SearchBy::Solver] {
            prop_assert_eq!(differs_by_order(&case, &asked, search, &within(tiny, size)), None);
        }
    }
}
