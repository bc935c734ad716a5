//! The engine asked as another program asks it: files in, JSON out.

use lengthwise::coverage::{Coverage, Missed};
use lengthwise::input::{Input, read_installation, read_test_set};
use lengthwise::model::{Installation, TestSet};
use lengthwise::network::{Need, Network};
use lengthwise::plan::{Afterwards, ExtraKind, LeadJoining, People, Plan, Priority, Request, SearchBy, SwitchWork};
use lengthwise::{Limits, Observer, Standard, Unwatched};
use serde_json::{Value, json};

use crate::asked::Asked;

/// Every level of need, the least first.
pub const NEEDS: [&str; 3] = ["earth", "standard", "every-pair"];

fn need(name: &str) -> Need {
    match name {
        "earth" => Need::Earth,
        "standard" => Need::Standard,
        "every-pair" => Need::EveryPair,
        _ => panic!("no such need: {name}"),
    }
}

/// Reads an installation, which must be valid.
pub fn installation(name: &str, bytes: &[u8]) -> Installation {
    read_installation(Input::file(name, bytes))
        .unwrap_or_else(|errors| panic!("{errors:?}\nin {}", String::from_utf8_lossy(bytes)))
}

/// Reads a test set, which must be valid.
pub fn test_set(name: &str, bytes: &[u8], installation: &Installation) -> TestSet {
    read_test_set(Input::file(name, bytes), installation)
        .unwrap_or_else(|errors| panic!("{errors:?}\nin {}", String::from_utf8_lossy(bytes)))
}

pub fn from_value(value: &Value) -> Installation {
    installation("case.json", value.to_string().as_bytes())
}

/// What `cover --json` prints.
pub fn cover(installation: &Value, tests: &Value, level: &str) -> Value {
    let installation = from_value(installation);
    let tests = test_set("tests.json", tests.to_string().as_bytes(), &installation);
    covered(&Network::of(installation), &tests, level)
}

/// The same with `--rules iec-60364-6`.
pub fn cover_by_iec(installation: &Value, tests: &Value, level: &str) -> Value {
    let installation = from_value(installation);
    let tests = test_set("tests.json", tests.to_string().as_bytes(), &installation);
    covered(&Network::of(installation).with_ruleset(Standard::Iec603646.ruleset().clone()), &tests, level)
}

fn covered(network: &Network, tests: &TestSet, level: &str) -> Value {
    spelled_out(&Coverage::of(network, tests, need(level)).expect("it is for this installation"))
}

/// What `cover --json` prints, with what pairs refer to in the place of its number.
fn spelled_out(coverage: &Coverage) -> Value {
    let mut value = serde_json::to_value(coverage).expect("an answer is JSON");
    for (row, pair) in value["pairs"].as_array_mut().expect("it lists them").iter_mut().zip(&coverage.pairs) {
        row["by"] = json!(coverage.tested_by(pair));
        if let Some(missed @ Missed::NotReached { .. }) = &pair.missed {
            row["missed"]["cut_off_at"] = missed
                .cut_off_at(&coverage.shared)
                .map(|contact| {
                    let mut row = json!(contact);
                    row.as_object_mut().expect("it is a table").remove("then");
                    row
                })
                .collect();
        }
    }
    for key in ["reading_lists", "open_contacts"] {
        value.as_object_mut().expect("it is a table").remove(key);
    }
    value
}

/// For each core its length, its name and its roles, in order; and the spare ones.
pub fn core_roles(installation: &Value) -> (Vec<Value>, Vec<[String; 2]>) {
    let network = Network::of(from_value(installation));
    let cores = network.report().cores.into_iter().map(|mut core| {
        core.roles.sort();
        json!([core.length, core.core, core.roles])
    });
    (cores.collect(), network.core_names(network.spare_cores()))
}

/// Whether a point has positions.
pub fn has_positions(installation: &Value, point: &str) -> bool {
    let installation = from_value(installation);
    Request::default().leave_alone(&installation, point).is_ok()
}

/// What `cover --json` prints, within limits.
pub fn cover_within(installation: &Value, tests: &Value, level: &str, limits: Limits) -> Value {
    let installation = from_value(installation);
    let tests = test_set("tests.json", tests.to_string().as_bytes(), &installation);
    let network = Network::of(installation).with_limits(limits);
    covered(&network, &tests, level)
}

/// What `plan --json` prints, with the options that ask for this.
pub fn plan_asked(installation: &Value, tests: Option<&Value>, asked: &Asked) -> Value {
    plan_within(installation, tests, asked, SearchBy::Size, Limits::default())
}

/// The same if every cluster is searched by the solver.
pub fn plan_by_solver(installation: &Value, tests: Option<&Value>, asked: &Asked) -> Value {
    plan_within(installation, tests, asked, SearchBy::Solver, Limits::default())
}

/// The same by either search, within limits.
pub fn plan_within(
    installation: &Value,
    tests: Option<&Value>,
    asked: &Asked,
    search: SearchBy,
    limits: Limits,
) -> Value {
    let installation = from_value(installation);
    let tests = tests.map(|tests| test_set("tests.json", tests.to_string().as_bytes(), &installation));
    let network = Network::of(installation.clone()).with_limits(limits);
    let mut request = Request::from(need(asked.need));
    request.search = search;
    for name in &asked.without {
        request.do_without(&installation, name).expect("a location of the installation");
    }
    for name in &asked.leave {
        request.leave_alone(&installation, name).expect("a switch of the installation");
    }
    if asked.fewest_readings {
        request.joining = LeadJoining::Fewest;
    }
    request.extras = asked.extras.iter().map(|&sort| extra(sort)).collect();
    if asked.restore {
        request.afterwards = Afterwards::AsFound;
    }
    if asked.two {
        request.people = People::Two;
    }
    if asked.stops_first {
        request.priority = Priority::Stops;
    }
    if asked.each_switch {
        request.switches = SwitchWork::Each;
    }
    let plan = Plan::with(&network, tests.as_ref(), &request, &mut Unwatched).expect("it is for this installation");
    serde_json::to_value(plan).expect("a plan is JSON")
}

fn extra(sort: &str) -> ExtraKind {
    serde_json::from_value(sort.into()).expect("a sort of extras")
}

/// What `plan --json` prints.
pub fn plan(installation: &Value, tests: Option<&Value>, level: &str) -> Value {
    watched_plan(installation, tests, level, &mut Unwatched)
}

/// The same with someone watching.
pub fn watched_plan(installation: &Value, tests: Option<&Value>, level: &str, observer: &mut dyn Observer) -> Value {
    let installation = from_value(installation);
    let tests = tests.map(|tests| test_set("tests.json", tests.to_string().as_bytes(), &installation));
    let network = Network::of(installation.clone());
    serde_json::to_value(
        Plan::with(&network, tests.as_ref(), &need(level).into(), observer).expect("it is for this installation"),
    )
    .expect("a plan is JSON")
}

/// What `network --json` prints.
pub fn network(installation: &Installation) -> Value {
    serde_json::to_value(Network::of(installation.clone()).report()).expect("a report is JSON")
}

/// A total of a plan.
pub fn total(plan: &Value, what: &str) -> u64 {
    plan["totals"][what].as_u64().unwrap_or_else(|| panic!("no total {what} in {plan}"))
}

/// Whether a plan says that it is the least in walks and operations.
pub fn is_optimal(plan: &Value) -> bool {
    plan["optimal"]["walks"] == true && plan["optimal"]["operations"] == true
}
