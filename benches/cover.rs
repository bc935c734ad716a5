//! `cover` of a generated installation of 200,000 lengths, against the same question asked of plain petgraph, with one
//! union-find a reading, and of networkx: for every pair, which readings test it.
//!
//! All readings would keep a plain graph busy for hours, so the comparison is made on a few of them, spread over the
//! test set, and on the same few on both sides; and the whole test set is put beside the time of one plain reading.
//! The answers are compared before anything is timed. Cover names every pair and says why each missed one is missed; a plain
//! graph gives numbers only.

mod generate;
mod measure;
mod plain;

use std::collections::HashMap;
use std::time::Duration;

use generate::{Generated, Size};
use lengthwise::coverage::Coverage;
use lengthwise::model::{TestSet, TestSetDraft};
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
        .flat_map(|(pair, number)| pair.by.iter().map(move |by| (number, by)))
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
