//! `cover` of a generated installation of 200,000 lengths, against the same question asked of plain petgraph, with one
//! union-find a reading, and of networkx: for every pair, which readings test it.
//!
//! All readings would keep a plain graph busy for hours, so the comparison is made on a few of them, spread over the
//! test set, and on the same few on both sides; and the whole test set is put beside the time of one plain reading.
//! Then readings entered one by one, each with what it adds, against all at once.
//!
//! The answers are compared before anything is timed. Cover names every pair and says why each missed one is missed; a
//! plain graph gives numbers only.

mod generate;
mod measure;
mod plain;

use std::collections::HashMap;
use std::sync::Arc;
use std::time::Duration;

use generate::{Generated, Size};
use lengthwise::coverage::{Coverage, Edit, LiveCoverage};
use lengthwise::model::{PassDraft, TestSet, TestSetDraft};
use lengthwise::network::{Need, Network};
use measure::{Effort, by_turns, ratio, say, timed};
use plain::{PlainGraph, Tested, networkx};

fn main() {
    let effort = Effort::asked_for();
    let generated = Generated::of(Size::of(effort.of(10_000, 60)));
    let network = Network::of(generated.installation.clone());
    let all = generated.tests(&generated.test_draft);
    let reading_count: usize = all.passes().iter().map(|pass| pass.readings().len()).sum();
    println!(
        "cover: {} lengths, {} circuits, {} pairs, {} passes, {reading_count} readings",
        generated.draft.lengths.len(),
        generated.draft.circuits.len(),
        network.pair_count(),
        all.passes().len(),
    );
    let report = network.report();
    let few = cut_down(&generated.test_draft, effort.of(20, 8));
    petgraph(effort, &generated, &network, &report, &few, (&all, reading_count));
    let fewer = cut_down(&few, 4);
    against_networkx(effort, &generated, &network, &report, &fewer);
    scaling(effort, &network, &all);
    entering(effort);
}

/// The same passes with so many readings of all, spread evenly.
fn cut_down(tests: &TestSetDraft, wanted: usize) -> TestSetDraft {
    let count: usize = tests.passes.iter().map(|pass| pass.readings.len()).sum();
    let mut cut = tests.clone();
    let mut number = 0;
    for pass in &mut cut.passes {
        pass.readings.retain(|_| {
            number += 1;
            number * wanted / count > (number - 1) * wanted / count
        });
    }
    let kept: usize = cut.passes.iter().map(|pass| pass.readings.len()).sum();
    assert_eq!(kept, wanted, "a test set is cut down to as many readings as are wanted");
    cut
}

/// The pairs that are tested with the readings that test them, by number, in order.
fn numbered(network: &Network, tests: &TestSet) -> Vec<Tested> {
    let coverage = Coverage::of(network, tests, Need::Standard).expect("it is for this installation");
    let number_of: HashMap<[usize; 2], u32> =
        coverage.readings.iter().map(|row| [row.pass, row.reading]).zip(0..).collect();
    let pairs = coverage.pairs.iter().zip(0..);
    pairs
        .flat_map(|(pair, number)| coverage.tested_by(pair).iter().map(move |by| (number, by)))
        .map(|(pair, by)| (pair, number_of[by]))
        .collect()
}

fn assert_same(ours: &[Tested], mut theirs: Vec<Tested>, whose: &str) {
    theirs.sort_unstable();
    assert!(!ours.is_empty(), "a comparison of nothing says nothing");
    assert!(ours == theirs, "{whose} gives another answer");
}

fn petgraph(
    effort: Effort,
    generated: &Generated,
    network: &Network,
    report: &lengthwise::NetworkReport,
    few: &TestSetDraft,
    (all, reading_count): (&TestSet, usize),
) {
    let tests = generated.tests(few);
    let graph = PlainGraph::of(report);
    let plain_tests = graph.tests(report, few);
    let few_count = plain_tests.readings.len();
    let ours = numbered(network, &tests);
    assert_same(&ours, graph.answer(&plain_tests), "petgraph");
    assert_same(&ours, graph.answer_by_pass(&plain_tests), "petgraph by passes");

    let cover = |tests| drop(Coverage::of(network, tests, Need::Standard).expect("it is for this installation"));
    let [own, build, whole, plain, by_pass, plain_build] = by_turns(
        effort.of(3, 1),
        [
            &mut || cover(&tests),
            &mut || drop(Network::of(generated.installation.clone())),
            &mut || cover(all),
            &mut || drop(graph.answer(&plain_tests)),
            &mut || drop(graph.answer_by_pass(&plain_tests)),
            &mut || drop(PlainGraph::of(report)),
        ],
    );
    println!(" against petgraph, on the same {few_count} readings:");
    say("one union-find a reading, against cover; neither with the building of its graph", ratio(plain, own));
    say("the same, each with the building of its graph", ratio(plain + plain_build, own + build));
    say("one union-find a pass, copied for each reading, against cover; neither with building", ratio(by_pass, own));
    say("the same, each with building", ratio(by_pass + plain_build, own + build));
    println!(" cover of all {reading_count} readings:");
    let one = plain / few_count as u32;
    let readings = reading_count as f64;
    say("as many plain petgraph readings take as long", ratio(whole, one));
    say("so petgraph, one union-find a reading, against cover, all readings", readings / ratio(whole, one));
    say("the same, each with building", readings / ratio(whole + build, one));
    let one = by_pass / few_count as u32;
    say("petgraph, one union-find a pass, against cover, all readings", readings / ratio(whole, one));
    say("building the network, against cover", ratio(build, whole));
}

fn against_networkx(
    effort: Effort,
    generated: &Generated,
    network: &Network,
    report: &lengthwise::NetworkReport,
    few: &TestSetDraft,
) {
    let tests = generated.tests(few);
    let graph = PlainGraph::of(report);
    let plain_tests = graph.tests(report, few);
    let runs: Vec<networkx::Answer> = (0..effort.of(3, 1)).map(|_| networkx::ask(&graph, &plain_tests)).collect();
    let ours = numbered(network, &tests);
    assert_same(&ours, runs[0].tested.clone(), "networkx");
    let median =
        |of: fn(&networkx::Answer) -> f64| measure::median(runs.iter().map(of).map(Duration::from_secs_f64).collect());
    let (building, answering) = (median(|run| run.building), median(|run| run.answering));
    let [own, build] = by_turns(
        effort.of(5, 1),
        [
            &mut || drop(Coverage::of(network, &tests, Need::Standard).expect("it is for this installation")),
            &mut || drop(Network::of(generated.installation.clone())),
        ],
    );
    println!(" against networkx {}, on the same {} readings:", runs[0].version, plain_tests.readings.len());
    say(
        "networkx, searching from the leads, against cover; neither with the building of its graph",
        ratio(answering, own),
    );
    say("the same, each with the building of its graph", ratio(answering + building, own + build));
}

/// How the time grows with the installation.
fn scaling(effort: Effort, network: &Network, all: &TestSet) {
    let quarter = Generated::of(Size::of(effort.of(2_500, 15)));
    let small = Network::of(quarter.installation.clone());
    let few = quarter.tests(&quarter.test_draft);
    let mut large_times = Vec::new();
    let mut small_times = Vec::new();
    for _ in 0..effort.of(5, 1) {
        large_times.push(timed(|| Coverage::of(network, all, Need::Standard).expect("it is for this installation")).0);
        small_times.push(timed(|| Coverage::of(&small, &few, Need::Standard).expect("it is for this installation")).0);
    }
    println!(" scaling:");
    let growth = ratio(measure::median(large_times), measure::median(small_times));
    say("cover of four times the circuits takes", growth);
}

/// Entering readings one by one, each told what it adds, and changing one in the middle, against coverage of all at
/// once. Each side checks its drafts, and ends with the same coverage.
fn entering(effort: Effort) {
    let generated = Generated::of(Size::of(effort.of(1_000, 30)));
    let draft = cut_down(&generated.test_draft, effort.of(2_000, 40));
    let network = Arc::new(Network::of(generated.installation.clone()));
    let empty = || {
        LiveCoverage::of(Arc::clone(&network), TestSet::default(), Need::Standard).expect("an empty one goes with any")
    };
    let enter_all = |live: &mut LiveCoverage| {
        for (pass, row) in (1..).zip(&draft.passes) {
            let operations = PassDraft { readings: Vec::new(), ..row.clone() };
            live.edit(Edit::AddPass { pass, draft: operations }).expect("it is valid");
            for (reading, row) in (1..).zip(&row.readings) {
                live.edit(Edit::AddReading { place: [pass, reading], draft: row.clone() }).expect("it is valid");
            }
        }
    };
    let at_once = || Coverage::of(&network, &generated.tests(&draft), Need::Standard).expect("its own tests");
    let mut live = empty();
    enter_all(&mut live);
    assert!(live.coverage() == at_once(), "entered one by one they cover something else");

    // In the middle: of the readings, and of the passes with operations.
    let count: usize = draft.passes.iter().map(|pass| pass.readings.len()).sum();
    let places = (1..).zip(&draft.passes).flat_map(|(pass, row)| (1..=row.readings.len()).map(move |at| [pass, at]));
    let place = places.clone().nth(count / 2).expect("there is a middle");
    let other = places.clone().nth(count / 3).expect("there is a third");
    let reading = |[pass, reading]: [usize; 2]| draft.passes[pass - 1].readings[reading - 1].clone();
    let pass = draft.passes.len() / 2 + 1;
    let same = draft.passes[pass - 1].clone();
    let without = PassDraft { readings: same.readings.clone(), ..PassDraft::default() };
    let (mut changed, mut operated) = (live.clone(), live.clone());
    let [whole, one_by_one, named, one, operations] = by_turns(
        effort.of(5, 1),
        [
            &mut || drop(at_once()),
            &mut || {
                let mut live = empty();
                enter_all(&mut live);
                drop(live.coverage());
            },
            &mut || drop(live.coverage()),
            &mut || {
                let mut enter = |draft| changed.edit(Edit::ChangeReading { place, draft }).expect("it is valid");
                enter(reading(other));
                enter(reading(place));
            },
            &mut || {
                let mut enter = |draft: &PassDraft| {
                    operated.edit(Edit::ChangePass { pass, draft: draft.clone() }).expect("it is valid").readings.len()
                };
                assert!(enter(&without) > 0 && enter(&same) > 0, "operations bear on readings");
            },
        ],
    );
    println!(
        " entering {count} readings of {} circuits in {} passes:",
        generated.draft.circuits.len(),
        draft.passes.len()
    );
    say(
        "one by one, each told what it adds, and the coverage at the end, against all at once",
        ratio(one_by_one, whole),
    );
    say("all at once, against the entry of one of them at the end", count as f64 * ratio(whole, one_by_one - named));
    say("all at once, against changing one in the middle", 2.0 * ratio(whole, one));
    say("all at once, against changing the operations of a pass in the middle", 2.0 * ratio(whole, operations));
}
