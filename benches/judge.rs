//! `judge` of a generated installation, against the coverage of the same readings, which it works out once for the record
//! and once more for each different thing that is asked of circuits; and `prepare` of it.

mod generate;
mod measure;

use generate::Record;
use lengthwise::coverage::Coverage;
use lengthwise::judge::{Judgement, Verdict};
use lengthwise::network::{Need, Network};
use lengthwise::prepare::Preparation;
use measure::{Effort, by_turns, ratio, say};

fn main() {
    let effort = Effort::asked_for();
    let small = Record::of(effort.of(250, 40));
    let large = Record::of(effort.of(2_500, 160));
    let network = Network::of(small.generated.installation.clone());
    let large_network = Network::of(large.generated.installation.clone());

    let judgement = Judgement::of(&network, &small.tests, Need::Standard).expect("it is for this installation");
    let of = |verdict| judgement.circuits.iter().filter(|row| row.verdict == verdict).count();
    let (failed, passed) = (of(Verdict::Fail), of(Verdict::Pass));
    println!(
        "judge: {} lengths, {} circuits, {} readings; {passed} circuits pass, {failed} fail",
        small.generated.draft.lengths.len(),
        judgement.circuits.len(),
        judgement.readings.len(),
    );
    // A circuit passes only if coverage misses nothing of it; one whose reading is low fails.
    let coverage = Coverage::of(&network, &small.tests, Need::Standard).expect("it is for this installation");
    let missed = judgement.missed.len();
    assert!(failed > 0 && missed >= coverage.missed().count(), "{failed} fail, {missed} pairs are missed");

    let judged = |network, case: &Record| {
        drop(Judgement::of(network, &case.tests, Need::Standard).expect("it is for this installation"))
    };
    let covered = |network, case: &Record| {
        drop(Coverage::of(network, &case.tests, Need::Standard).expect("it is for this installation"))
    };
    let prepared = |network| drop(Preparation::of(network));
    let [own, coverage, prepare, large_own, large_coverage, large_prepare] = by_turns(
        effort.of(3, 1),
        [
            &mut || judged(&network, &small),
            &mut || covered(&network, &small),
            &mut || prepared(&network),
            &mut || judged(&large_network, &large),
            &mut || covered(&large_network, &large),
            &mut || prepared(&large_network),
        ],
    );
    say("judge, against the coverage of the same readings", ratio(own, coverage));
    say("prepare, against the same", ratio(prepare, coverage));
    let times = large.generated.draft.circuits.len() as f64 / small.generated.draft.circuits.len() as f64;
    println!(" scaling, {times:.1} times the circuits:");
    say("judge takes", ratio(large_own, own));
    say("coverage takes", ratio(large_coverage, coverage));
    say("prepare takes", ratio(large_prepare, prepare));
}
