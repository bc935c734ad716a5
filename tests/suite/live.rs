//! Coverage that follows entries says after each what coverage of the whole test set says.

use std::collections::BTreeSet;
use std::ops::ControlFlow;

use lengthwise::coverage::{Coverage, CoverageChange, Edit, EditError, LiveCoverage};
use lengthwise::model::{PassDraft, ReadingDraft, TestSet, TestSetDraft};
use lengthwise::network::{Need, Network};
use lengthwise::{Installation, Limits, Progress};
use proptest::prelude::*;
use serde_json::{Value, json};

use crate::engine;
use crate::small;
use crate::strategy::{Dice, Entries, entries, times};

fn draft(passes: &[Value], start: Option<&Value>) -> TestSetDraft {
    let start = start.cloned().unwrap_or_else(|| json!({}));
    serde_json::from_value(json!({ "format": 1, "start": start, "pass": passes })).expect("it is a test set")
}

/// One edit, and the draft of the whole test set after it.
fn next_edit(dice: &mut Dice, drafts: &TestSetDraft, starts: &[TestSetDraft], tests: &mut TestSetDraft) -> Edit {
    let pass_count = tests.passes.len();
    let some_pass = |dice: &mut Dice| drafts.passes[dice.below(drafts.passes.len())].clone();
    let some_reading = |dice: &mut Dice| {
        let pass = &drafts.passes[dice.below(drafts.passes.len())];
        pass.readings[dice.below(pass.readings.len())].clone()
    };
    let kind = if pass_count == 0 { 0 } else { dice.below(9) };
    let pass = dice.below(pass_count.max(1));
    let readings = tests.passes.get(pass).map_or(0, |pass| pass.readings.len());
    match kind {
        0 => {
            let pass = dice.below(pass_count + 1);
            tests.passes.insert(pass, some_pass(dice));
            Edit::AddPass { pass: pass + 1, draft: tests.passes[pass].clone() }
        }
        // Other operations, a reading less, one more.
        1..4 => {
            let mut draft = PassDraft { readings: tests.passes[pass].readings.clone(), ..some_pass(dice) };
            if readings > 0 && dice.chance(30) {
                draft.readings.remove(dice.below(readings));
            }
            if dice.chance(30) {
                draft.readings.insert(dice.below(draft.readings.len() + 1), some_reading(dice));
            }
            tests.passes[pass] = draft.clone();
            Edit::ChangePass { pass: pass + 1, draft }
        }
        4 => {
            tests.passes.remove(pass);
            Edit::RemovePass { pass: pass + 1 }
        }
        5 if readings > 0 => {
            let (reading, draft) = (dice.below(readings), some_reading(dice));
            tests.passes[pass].readings[reading] = draft.clone();
            Edit::ChangeReading { place: [pass + 1, reading + 1], draft }
        }
        6 if readings > 0 => {
            let reading = dice.below(readings);
            tests.passes[pass].readings.remove(reading);
            Edit::RemoveReading { place: [pass + 1, reading + 1] }
        }
        7 => {
            tests.start = starts[dice.below(starts.len())].start.clone();
            Edit::ChangeStart { start: tests.start.clone() }
        }
        _ => {
            let (reading, draft) = (dice.below(readings + 1), some_reading(dice));
            tests.passes[pass].readings.insert(reading, draft.clone());
            Edit::AddReading { place: [pass + 1, reading + 1], draft }
        }
    }
}

fn cover(network: &Network, tests: &TestSet) -> Coverage {
    Coverage::of(network, tests, Need::Standard).expect("its own tests")
}

/// What is tested: pairs and positions by their places.
fn tested(coverage: &Coverage) -> [Vec<bool>; 2] {
    [coverage.pairs.iter().map(|pair| pair.tested).collect(), coverage.positions.iter().map(|at| at.tested).collect()]
}

/// That a change tells just what is otherwise in the coverage after it.
fn check_change(before: &Coverage, after: &Coverage, change: &CoverageChange) -> Result<(), TestCaseError> {
    let [pairs_before, positions_before] = tested(before);
    for (pairs, are_lost) in [(&change.tested, false), (&change.lost, true)] {
        let expected = after
            .pairs
            .iter()
            .zip(&pairs_before)
            .filter(|(pair, before)| pair.tested != **before && **before == are_lost);
        let expected = expected.map(|(pair, _)| (&pair.length, &pair.cores, pair.class, pair.required));
        let told = pairs.iter().map(|pair| (&pair.length, &pair.cores, pair.class, pair.required));
        prop_assert!(expected.eq(told), "{are_lost} {pairs:?}");
    }
    let expected = after.positions.iter().zip(&positions_before).filter(|(at, before)| at.tested != **before);
    prop_assert!(expected.map(|row| row.0).eq(&change.positions), "{:?}", change.positions);
    for row in &change.readings {
        prop_assert_eq!(Some(row), after.reading(row.pass, row.reading));
    }
    Ok(())
}

fn check_edits(entries: Entries, combinations: usize) -> Result<(), TestCaseError> {
    let Entries { installation, starts, passes, mut dice } = entries;
    let installation: Installation = engine::from_value(&installation);
    let mut limits = Limits::default();
    (limits.tables.combinations, limits.tables.diagram_nodes) = (combinations, combinations);
    let network = Network::of(installation.clone()).with_limits(limits);
    let drafts = draft(&passes, None);
    let starts: Vec<TestSetDraft> = starts.iter().map(|start| draft(&[], Some(start))).collect();

    let mut tests = draft(&passes[..2], None);
    tests.start = starts[0].start.clone();
    let whole = tests.build(&installation).expect("it is valid");
    let mut before = cover(&network, &whole);
    let mut live = LiveCoverage::of(network.clone(), whole, Need::Standard).expect("its own tests");
    for _ in 0..12 {
        prop_assert_eq!(&live.coverage(), &before);
        prop_assert_eq!(live.summary(), before.summary);
        let edit = next_edit(&mut dice, &drafts, &starts, &mut tests);
        let is_stopped = dice.chance(25);
        let mut is_edit = !is_stopped;
        let change = if is_stopped {
            // Stopped at some report, and gone on with after that.
            let mut left = dice.below(3);
            let mut patience = |_: Progress| {
                let is_spent = left == 0;
                left = left.saturating_sub(1);
                if is_spent { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
            };
            let first = live.edit_watched(edit.clone(), &mut patience).expect("it is valid");
            let partial = live.coverage();
            prop_assert_eq!(first.stopped, live.is_stopped());
            prop_assert_eq!(partial.stopped, live.is_stopped());
            check_change(&before, &partial, &first)?;
            let after = cover(&network, &tests.build(&installation).expect("it is valid"));
            for (of_partial, of_whole) in tested(&partial).into_iter().zip(tested(&after)) {
                prop_assert!(of_partial.iter().zip(of_whole).all(|(of_partial, of_whole)| of_whole || !of_partial));
            }
            before = partial;
            live.go_on(&mut lengthwise::Unwatched)
        } else if dice.chance(50) {
            live.edit(edit.clone()).expect("it is valid")
        } else {
            // The same as a test set that was written anew.
            is_edit = false;
            live.replace(tests.build(&installation).expect("it is valid"), &mut lengthwise::Unwatched)
                .expect("its own tests")
        };
        let whole = tests.build(&installation).expect("it is valid");
        prop_assert_eq!(live.test_set(), &whole);
        let after = cover(&network, &whole);
        check_change(&before, &after, &change)?;
        let entered = match &edit {
            Edit::AddReading { place, .. } | Edit::ChangeReading { place, .. } => Some(*place),
            _ => None,
        };
        let is_told = |place: [usize; 2]| change.readings.iter().any(|row| [row.pass, row.reading] == place);
        prop_assert!(!is_edit || entered.is_none_or(is_told), "what is entered is told");
        before = after;
    }
    prop_assert_eq!(&live.coverage(), &before);
    Ok(())
}

proptest! {
    #![proptest_config(times(96))]

    #[test]
    fn after_each_edit_it_is_the_coverage_of_the_whole(entries in entries()) {
        check_edits(entries, Limits::default().tables.combinations)?;
    }

    #[test]
    fn so_it_is_with_tiny_tables(entries in entries(), combinations in 1..9usize) {
        check_edits(entries, combinations)?;
    }
}

fn live(fixture: &str) -> (LiveCoverage, TestSetDraft) {
    let fixture = small::fixture(fixture);
    let installation = engine::from_value(&fixture.installation);
    let drafts = serde_json::from_value(fixture.test_set).expect("it is a test set");
    (LiveCoverage::of(Network::of(installation), TestSet::default(), Need::Standard).expect("it is empty"), drafts)
}

fn reading(circuit: &str, between: [&str; 2]) -> ReadingDraft {
    let (circuit, between) = (Some(circuit.to_owned()), between.map(str::to_owned));
    ReadingDraft { circuit, between, ..ReadingDraft::default() }
}

/// The readings that were looked at, as (pass, reading).
fn looked_at(change: &CoverageChange) -> BTreeSet<(usize, usize)> {
    change.readings.iter().map(|row| (row.pass, row.reading)).collect()
}

#[test]
fn only_what_an_operation_bears_on_is_looked_at_again() {
    let (mut live, _) = live("two-way");
    let to_earth = || reading("C1", ["L+N", "E"]);
    let pass = |operate: &[&str], readings: Vec<ReadingDraft>| {
        let operate = operate.iter().map(|&name| name.to_owned()).collect();
        PassDraft { operate, readings, ..PassDraft::default() }
    };
    let mut enter = |edit| live.edit(edit).expect("it is valid");
    enter(Edit::AddPass { pass: 1, draft: pass(&[], vec![to_earth()]) });
    let change = enter(Edit::AddPass { pass: 2, draft: pass(&["S1"], vec![to_earth(), reading("C1", ["E", "MET"])]) });
    assert_eq!(looked_at(&change), [(2, 1), (2, 2)].into());
    assert!(!change.tested.is_empty() && change.lost.is_empty(), "{change:?}");
    let change = enter(Edit::ChangePass { pass: 2, draft: pass(&[], vec![to_earth(), reading("C1", ["E", "MET"])]) });
    assert_eq!(looked_at(&change), [(2, 1)].into(), "no switch bears on a reading between earth and earth");
    assert!(change.tested.is_empty() && !change.lost.is_empty(), "{change:?}");
    let change = enter(Edit::AddPass { pass: 1, draft: pass(&["S1"], Vec::new()) });
    assert_eq!(looked_at(&change), [(2, 1), (3, 1)].into());
    let change = enter(Edit::ChangePass { pass: 2, draft: pass(&["S1"], vec![to_earth()]) });
    assert_eq!(looked_at(&change), [(2, 1), (3, 1)].into());
    let change = enter(Edit::RemoveReading { place: [3, 2] });
    assert_eq!(change, CoverageChange::default(), "a void reading tested nothing");
}

#[test]
fn what_is_not_there_and_what_does_not_fit_are_errors_and_change_nothing() {
    let (mut live, drafts) = live("two-way");
    live.edit(Edit::AddPass { pass: 1, draft: drafts.passes[0].clone() }).expect("it is valid");
    let (count, before) = (drafts.passes[0].readings.len(), live.coverage());
    let add = |place, circuit| Edit::AddReading { place, draft: reading(circuit, ["L", "E"]) };
    for pass in [0, 3] {
        let error = live.edit(Edit::AddPass { pass, draft: PassDraft::default() }).expect_err("there is no such place");
        assert_eq!(error.to_string(), format!("there is no pass {pass}: the test set has 1, counted from 1"));
    }
    for (edit, pass) in [(Edit::RemovePass { pass: 2 }, 2), (add([0, 1], "C1"), 0), (add([2, 1], "C1"), 2)] {
        assert!(matches!(live.edit(edit), Err(EditError::NoSuchPass { pass: told, passes: 1 }) if told == pass));
    }
    for place in [[1, 0], [1, count + 1]] {
        let error = live.edit(Edit::RemoveReading { place }).expect_err("there is no such reading");
        assert!(
            matches!(error, EditError::NoSuchReading { pass: 1, readings, reading: _ } if readings == count),
            "{error}"
        );
    }
    let error = live.edit(add([1, 1], "C9")).expect_err("there is no such circuit");
    assert!(matches!(error, EditError::Draft(_)), "{error}");
    assert_eq!(live.coverage(), before);
    assert_eq!(live.test_set().reading_count(), count);
}

#[test]
fn it_goes_to_another_thread() {
    let (mut live, drafts) = live("two-way");
    let coverage = std::thread::spawn(move || {
        for (pass, draft) in (1..).zip(drafts.passes) {
            live.edit(Edit::AddPass { pass, draft }).expect("it is valid");
        }
        live.coverage()
    });
    assert!(coverage.join().expect("it ends").summary.tested > 0);
}
