//! Questions that are watched, and questions that are stopped.

use std::ops::ControlFlow;
use std::time::Duration;

use lengthwise::judge::{Judgement, Verdict};
use lengthwise::locate::{Assumptions, Conflict, Findings, Gap, Next, State, WhyNothing};
use lengthwise::{
    Cancel, Coverage, Deadline, Missed, Need, Network, Observer, Preparation, Progress, Stage, TestSet, Unwatched,
};
use proptest::prelude::*;
use serde_json::Value;

use crate::asked::Asked;
use crate::engine::{self, NEEDS, total};
use crate::laws::{check_plan, untestable};
use crate::locate::{places, planted, valued};
use crate::oracle::Leaking;
use crate::small;
use crate::strategy::{cases, large_cases, planning_clusters, times};

/// Keeps every report, and stops at the one of this number, counted from 1; 0 is never.
#[derive(Default)]
struct Witness {
    stop_at: usize,
    reports: Vec<Progress>,
}

impl Observer for Witness {
    fn progress(&mut self, progress: Progress) -> ControlFlow<()> {
        self.reports.push(progress);
        if self.reports.len() == self.stop_at { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    }
}

/// Watches without stopping, then stops after each number of reports that there is (so many of them, spread evenly,
/// where there are more): what is claimed holds, and no more is claimed than what the whole search knows.
fn check_stopped(
    installation: &Value,
    test_set: Option<&Value>,
    need: &'static str,
    most: usize,
) -> Result<(), TestCaseError> {
    let whole = engine::plan(installation, test_set, need);
    let mut witness = Witness::default();
    let watched = engine::watched_plan(installation, test_set, need, &mut witness);
    prop_assert_eq!(&watched, &whole, "who only watches changes nothing");
    prop_assert!(whole["stopped"].is_null());
    let reports = witness.reports;
    prop_assert!(!reports.is_empty());
    for report in &reports {
        prop_assert!(report.done <= report.of, "{report:?}");
    }
    for two in reports.windows(2) {
        prop_assert!(two[0].stage <= two[1].stage, "{:?} before {:?}", two[0], two[1]);
        if two[0].stage == two[1].stage && ![Stage::Operations, Stage::IfKnown].contains(&two[0].stage) {
            prop_assert!(two[0].done <= two[1].done, "{:?} before {:?}", two[0], two[1]);
        }
    }

    let step = reports.len().div_ceil(most);
    for stop_at in (1..=reports.len()).step_by(step) {
        let mut witness = Witness { stop_at, ..Witness::default() };
        let plan = engine::watched_plan(installation, test_set, need, &mut witness);
        prop_assert_eq!(witness.reports.len(), stop_at, "nothing is asked of who has said to stop");
        prop_assert_eq!(&witness.reports[..], &reports[..stop_at], "it goes the same way up to there");
        prop_assert_eq!(&plan["stopped"], &Value::Bool(true));
        check_plan(installation, test_set, &Asked::of(need), &plan)?;
        prop_assert!(untestable(&plan).is_subset(&untestable(&whole)), "untestable is a claim too");
        for what in ["walks", "operations"] {
            let bound = plan["bounds"][what].as_u64().expect("a bound");
            prop_assert!(
                whole["optimal"][what] != true || bound <= total(&whole, what),
                "stopped at {stop_at}, {what}: {bound} is above the least, {}",
                total(&whole, what)
            );
        }
        // The claims come in order: the fewest operations in as few walks, the fewest stops in as few operations.
        for (number, what) in ["walks", "operations", "stops"].into_iter().enumerate() {
            let first = &["walks", "operations", "stops"][..=number];
            if first.iter().all(|what| plan["optimal"][what] == true && whole["optimal"][what] == true) {
                prop_assert_eq!(total(&plan, what), total(&whole, what), "stopped at {}: {}", stop_at, what);
            }
            prop_assert!(plan["optimal"][what] == false || number == 0 || plan["optimal"][first[number - 1]] == true);
        }
        let proof = &plan["why_no_fewer_walks"]["proof"];
        prop_assert_eq!(plan["optimal"]["walks"] == true, proof != "not-proven");
    }
    Ok(())
}

/// Stops a coverage and a preparation after each of their reports: what is there is as it is in the whole, and what was
/// not looked at is not claimed.
fn check_stopped_coverage(network: &Network, tests: &TestSet) -> Result<(), TestCaseError> {
    let cover = |observer: &mut dyn Observer| {
        Coverage::watched(network, tests, Need::EveryPair, observer).expect("its own tests")
    };
    let mut witness = Witness::default();
    let whole = cover(&mut witness);
    prop_assert_eq!(
        &whole,
        &Coverage::of(network, tests, Need::EveryPair).expect("its own tests"),
        "who only watches changes nothing"
    );
    prop_assert!(!whole.stopped);
    for stop_at in 1..=witness.reports.len() {
        let mut witness = Witness { stop_at, ..Witness::default() };
        let coverage = cover(&mut witness);
        prop_assert_eq!(witness.reports.len(), stop_at, "nothing is asked of who has said to stop");
        prop_assert!(coverage.stopped);
        prop_assert_eq!(&coverage.readings[..], &whole.readings[..coverage.readings.len()]);
        for (pair, of_whole) in coverage.pairs.iter().zip(&whole.pairs) {
            prop_assert!(of_whole.tested || !pair.tested, "{pair:?}");
            let by = whole.tested_by(of_whole);
            prop_assert!(coverage.tested_by(pair).iter().all(|row| by.contains(row)), "{pair:?}");
            let is_told = pair.missed == of_whole.missed || pair.missed == Some(Missed::Stopped);
            prop_assert!(is_told && pair.missed.is_some() == pair.is_missed(), "{pair:?}");
        }
        for (position, of_whole) in coverage.positions.iter().zip(&whole.positions) {
            prop_assert!(of_whole.tested || !position.tested, "{position:?}");
        }
    }

    let whole = Preparation::of(network);
    for stop_at in 1..=whole.circuits.len() {
        let mut witness = Witness { stop_at, ..Witness::default() };
        let preparation = Preparation::watched(network, &mut witness);
        prop_assert!(preparation.stopped);
        prop_assert_eq!(&preparation.circuits[..], &whole.circuits[..stop_at - 1]);
    }
    Ok(())
}

/// The numbers of so many of the reports, spread evenly, and of the last.
fn some_of(reports: &[Progress], most: usize) -> impl Iterator<Item = usize> {
    let count = reports.len();
    (1..count).step_by(count.div_ceil(most)).chain([count])
}

/// Stops a search for faults after some of its reports: no more is claimed than by the whole.
fn check_stopped_findings(network: &Network, tests: &TestSet) -> Result<(), TestCaseError> {
    let locate = |observer: &mut dyn Observer| {
        Findings::watched(network, tests, Assumptions::default(), observer).expect("its own tests")
    };
    let mut witness = Witness::default();
    let whole = locate(&mut witness);
    let unwatched = Findings::of(network, tests, Assumptions::default()).expect("its own tests");
    prop_assert_eq!(&whole, &unwatched, "who only watches changes nothing");
    prop_assert!(!whole.stopped);
    prop_assert!(witness.reports.iter().all(|report| report.done <= report.of));
    prop_assert!(witness.reports.is_sorted_by_key(|report| report.stage));
    for stop_at in some_of(&witness.reports, 16) {
        let mut witness = Witness { stop_at, ..Witness::default() };
        let findings = locate(&mut witness);
        prop_assert_eq!(witness.reports.len(), stop_at, "nothing is asked of who has said to stop");
        prop_assert!(findings.stopped && (whole.faults.exact || !findings.faults.exact));
        prop_assert!(whole.is_healthy() || !findings.is_healthy());
        prop_assert!(matches!(findings.next, Next::Nothing { why: WhyNothing::Stopped, .. }), "{:?}", findings.next);
        prop_assert_eq!(&findings.readings[..], &whole.readings[..findings.readings.len()]);
        prop_assert!(findings.faults.at_least <= whole.faults.at_least);
        prop_assert!(!findings.faults.exact || findings.faults == whole.faults);
        for gap in &findings.gaps {
            let of_whole = whole.gap(gap.gap).expect("the whole is about it too");
            let is_claimed = matches!(gap.state, State::Cleared | State::Certain);
            prop_assert!(!is_claimed || gap.state == of_whole.state, "{gap:?} and {of_whole:?}");
            prop_assert!(gap.explains_alone || !of_whole.explains_alone, "{gap:?} and {of_whole:?}");
            prop_assert!(gap.least_microsiemens <= of_whole.least_microsiemens * (1.0 + 1e-9), "{gap:?} {of_whole:?}");
            let greatest = |gap: &Gap| gap.greatest_microsiemens.unwrap_or(f64::INFINITY);
            prop_assert!(greatest(gap) >= greatest(of_whole) * (1.0 - 1e-9), "{gap:?} and {of_whole:?}");
        }
        for conflict in &findings.conflicts {
            let is_part = |of_whole: &Conflict| of_whole.readings.iter().all(|name| conflict.readings.contains(name));
            prop_assert!(whole.conflicts.iter().any(is_part), "{conflict:?}");
        }
    }
    Ok(())
}

/// Stops a judgement after some of its reports: what is judged is judged as in the whole, and nothing passes as a whole.
fn check_stopped_judgement(network: &Network, tests: &TestSet) -> Result<(), TestCaseError> {
    let judge = |observer: &mut dyn Observer| {
        Judgement::watched(network, tests, Need::Standard, observer).expect("its own tests")
    };
    let mut witness = Witness::default();
    let whole = judge(&mut witness);
    let unwatched = Judgement::of(network, tests, Need::Standard).expect("its own tests");
    prop_assert_eq!(&whole, &unwatched, "who only watches changes nothing");
    prop_assert!(!whole.stopped);
    for stop_at in some_of(&witness.reports, 16) {
        let mut witness = Witness { stop_at, ..Witness::default() };
        let judgement = judge(&mut witness);
        prop_assert_eq!(witness.reports.len(), stop_at, "nothing is asked of who has said to stop");
        prop_assert!(judgement.stopped && judgement.verdict >= Verdict::NotComplete);
        prop_assert!(judgement.verdict <= whole.verdict.max(Verdict::NotComplete));
        prop_assert_eq!(&judgement.readings[..], &whole.readings[..judgement.readings.len()]);
        prop_assert_eq!(&judgement.circuits[..], &whole.circuits[..judgement.circuits.len()]);
        prop_assert_eq!(&judgement.boards[..], &whole.boards[..judgement.boards.len()]);
        prop_assert_eq!(&judgement.missed[..], &whole.missed[..judgement.missed.len()]);
    }
    Ok(())
}

proptest! {
    #![proptest_config(times(64))]

    #[test]
    fn stopped_findings_and_judgements_claim_no_more_than_whole_ones(
        case in cases(), dice in prop::collection::vec(any::<u8>(), 40..80),
    ) {
        let leaks = planted(&places(&case.installation), &dice);
        let tests = valued(&Leaking::of(&case.installation), &case.test_set, &leaks, 0, false);
        let installation = engine::from_value(&case.installation);
        let tests = engine::test_set("tests.json", tests.to_string().as_bytes(), &installation);
        let network = Network::of(installation);
        check_stopped_findings(&network, &tests)?;
        check_stopped_judgement(&network, &tests)?;
    }

    #[test]
    fn a_stopped_coverage_claims_only_what_was_seen(case in cases()) {
        let installation = engine::from_value(&case.installation);
        let tests = engine::test_set("tests.json", case.test_set.to_string().as_bytes(), &installation);
        check_stopped_coverage(&Network::of(installation), &tests)?;
    }

    #[test]
    fn a_stopped_plan_claims_what_holds(case in cases(), need in 0..3usize) {
        check_stopped(&case.installation, Some(&case.test_set), NEEDS[need], 6)?;
    }

    #[test]
    fn a_stopped_plan_of_a_cluster_claims_what_holds(case in planning_clusters(), need in 0..3usize) {
        check_stopped(&case.installation, None, NEEDS[need], 12)?;
    }
}

proptest! {
    #![proptest_config(times(4))]

    #[test]
    fn a_stopped_plan_of_a_large_installation_claims_what_holds(case in large_cases()) {
        check_stopped(&case.installation, None, "standard", 6)?;
    }
}

#[test]
fn stopped_plans_of_the_large_fixtures_claim_what_holds() {
    for fixture in small::all_large() {
        let outcome = check_stopped(&fixture.installation, None, "standard", 4);
        assert!(outcome.is_ok(), "{}: {outcome:?}", fixture.name);
    }
}

/// A law about stopped plans says nothing where no stopped plan ever claims less.
#[test]
fn stopping_at_once_claims_less_and_stopping_late_does_not() {
    let fixture = small::all_large().into_iter().find(|fixture| fixture.name == "terrace").expect("the terrace");
    let mut witness = Witness::default();
    let whole = engine::watched_plan(&fixture.installation, None, "standard", &mut witness);
    assert!(engine::is_optimal(&whole));
    let stages: Vec<Stage> = witness.reports.iter().map(|report| report.stage).collect();
    for stage in [Stage::Walks, Stage::Operations, Stage::Rounds] {
        assert!(stages.contains(&stage), "{stages:?}");
    }
    let stop_at = |stop_at| {
        let mut witness = Witness { stop_at, ..Witness::default() };
        engine::watched_plan(&fixture.installation, None, "standard", &mut witness)
    };
    let (early, late) = (stop_at(1), stop_at(stages.len()));
    assert!(!engine::is_optimal(&early), "{}", early["optimal"]);
    assert!(engine::is_optimal(&late), "only the choice of readings was left: {}", late["optimal"]);
    assert_eq!(late["totals"], whole["totals"]);
}

#[test]
fn a_time_that_is_up_a_call_from_another_thread_and_either_of_a_pair_stop() {
    let fixture = small::fixture("two-way");
    let network = Network::of(engine::from_value(&fixture.installation));
    let stops = |observer: &mut dyn Observer| {
        Coverage::watched(&network, &TestSet::default(), Need::Standard, observer).expect("it is empty").stopped
    };
    assert!(!stops(&mut Deadline::after(Duration::MAX)), "a time too long for the clock is never up");
    assert!(stops(&mut Deadline::after(Duration::ZERO)));
    let cancel = Cancel::default();
    assert!(!stops(&mut cancel.clone()));
    assert!(!stops(&mut (Unwatched, cancel.clone())));
    let elsewhere = cancel.clone();
    std::thread::spawn(move || elsewhere.cancel()).join().expect("it cancels");
    assert!(cancel.is_cancelled() && stops(&mut (Unwatched, cancel.clone())) && stops(&mut (cancel, Unwatched)));
    let mut count = 0;
    assert!(stops(&mut |_: Progress| {
        count += 1;
        if count == 2 { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    }));
    assert_eq!(count, 2);
}
