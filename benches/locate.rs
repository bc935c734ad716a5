//! `locate` of a generated installation, against the coverage of the same readings, which it needs: the usual test of
//! every circuit, every reading with a value, a few of them low.

mod generate;
mod measure;

use generate::Record;
use lengthwise::coverage::Coverage;
use lengthwise::locate::{Assumptions, Findings, Next};
use lengthwise::network::{Need, Network};
use measure::{Effort, by_turns, ratio, say};

fn main() {
    let effort = Effort::asked_for();
    let small = Record::of(effort.of(250, 40));
    let large = Record::of(effort.of(1_000, 160));
    let network = Network::of(small.generated.installation.clone());
    let large_network = Network::of(large.generated.installation.clone());
    let located = |network, case: &Record| {
        drop(Findings::of(network, &case.tests, Assumptions::default()).expect("it is for this installation"))
    };
    let covered = |network, case: &Record| {
        drop(Coverage::of(network, &case.tests, Need::Standard).expect("it is for this installation"))
    };

    let findings = Findings::of(&network, &small.tests, Assumptions::default()).expect("it is for this installation");
    println!(
        "locate: {} circuits, {} lengths, {} readings, {} gaps; {}{} faults",
        small.generated.draft.circuits.len(),
        small.generated.draft.lengths.len(),
        findings.readings.len(),
        findings.summary.gaps,
        if findings.faults.exact { "" } else { "at least " },
        findings.faults.at_least,
    );
    assert!(findings.faults.at_least > 0, "low readings need faults to explain them");
    assert!(matches!(findings.next, Next::Read(_)), "there is something to read next: {:?}", findings.next);

    let [own, coverage, large_own, large_coverage] = by_turns(
        effort.of(3, 1),
        [
            &mut || located(&network, &small),
            &mut || covered(&network, &small),
            &mut || located(&large_network, &large),
            &mut || covered(&large_network, &large),
        ],
    );
    say("locate, its next reading with it, against the coverage of the same readings", ratio(own, coverage));
    let times = large.generated.draft.circuits.len() as f64 / small.generated.draft.circuits.len() as f64;
    println!(" scaling, {times:.1} times the circuits:");
    say("locate takes", ratio(large_own, own));
    say("coverage takes", ratio(large_coverage, coverage));
}
