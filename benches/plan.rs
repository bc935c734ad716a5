//! `plan` of 1,000 circuits, against the evaluation of a single setting by the same engine: the coverage of all
//! readings that a plan may use, as everything stands at the start.

mod generate;
mod measure;

use generate::{Generated, Size};
use lengthwise::Unwatched;
use lengthwise::coverage::Coverage;
use lengthwise::model::{PassDraft, ReadingDraft, TestSet, TestSetDraft};
use lengthwise::network::{Need, Network};
use lengthwise::plan::{Plan, Request};
use measure::{Effort, by_turns, ratio, say};

fn main() {
    let effort = Effort::asked_for();
    let small = Case::of(effort.of(1_000, 40));
    let large = Case::of(effort.of(10_000, 160));
    let network = Network::of(small.generated.installation.clone());
    let large_network = Network::of(large.generated.installation.clone());
    let plan = Plan::of(&network, None, Need::Standard).expect("it is for this installation");
    let totals = plan.totals;
    println!(
        "plan: {} circuits, {} lengths; {} walks, {} operations, {} stops, {} readings, {} pairs that can't be tested; fewest walks {}, fewest operations {}",
        small.generated.draft.circuits.len(),
        small.generated.draft.lengths.len(),
        totals.walks,
        totals.operations,
        totals.stops,
        totals.readings,
        plan.untestable.len(),
        if plan.optimal.walks { "proven" } else { "not proven" },
        if plan.optimal.operations { "proven" } else { "not proven" },
    );
    assert!(totals.walks > 0 && plan.not_planned.is_empty(), "the plan has something to do and does it all");
    drop(plan);

    let setting = |network, case: &Case| {
        drop(Coverage::of(network, &case.every_reading, Need::Standard).expect("it is for this installation"))
    };
    let proper = Request::from(Need::Standard).with_extras([]);
    let [planned, without_extras, single, after, written, every_pair, large_planned, large_single] = by_turns(
        effort.of(5, 1),
        [
            &mut || drop(Plan::of(&network, None, Need::Standard).expect("it is for this installation")),
            &mut || drop(Plan::with(&network, None, &proper, &mut Unwatched).expect("it is for this installation")),
            &mut || setting(&network, &small),
            &mut || drop(Plan::of(&network, Some(&small.tests), Need::Standard).expect("it is for this installation")),
            &mut || {
                drop(
                    serde_json::to_string(
                        &Plan::of(&network, None, Need::Standard).expect("it is for this installation"),
                    )
                    .expect("a plan is JSON"),
                )
            },
            &mut || drop(Plan::of(&network, None, Need::EveryPair).expect("it is for this installation")),
            &mut || drop(Plan::of(&large_network, None, Need::Standard).expect("it is for this installation")),
            &mut || setting(&large_network, &large),
        ],
    );
    say("plan, against the evaluation of one setting", ratio(planned, single));
    say("plan with extras, against plan without", ratio(planned, without_extras));
    say("plan of every pair, against the evaluation of one setting", ratio(every_pair, single));
    say("plan after the usual tests, their evaluation included, against that of one setting", ratio(after, single));
    say("plan written as JSON, against plan", ratio(written, planned));
    let times = large.generated.draft.circuits.len() as f64 / small.generated.draft.circuits.len() as f64;
    println!(" scaling, {times:.1} times the circuits:");
    say("plan takes", ratio(large_planned, planned));
    say("the evaluation of one setting takes", ratio(large_single, single));
}

struct Case {
    generated: Generated,
    tests: TestSet,
    /// All readings that a plan may use, in one pass.
    every_reading: TestSet,
}

impl Case {
    fn of(circuits: usize) -> Case {
        let generated = Generated::of(Size::of(circuits));
        let report = Network::of(generated.installation.clone()).report();
        let readings = report.circuits.iter().flat_map(|row| {
            row.plan_readings.iter().map(|between| ReadingDraft {
                circuit: Some(row.circuit.clone()),
                between: between.clone(),
                ..Default::default()
            })
        });
        let pass = PassDraft { readings: readings.collect(), ..Default::default() };
        let every_reading = generated.tests(&TestSetDraft { passes: vec![pass], ..Default::default() });
        let tests = generated.tests(&generated.test_draft);
        Case { generated, tests, every_reading }
    }
}
