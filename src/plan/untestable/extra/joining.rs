//! Readings at a point joined where that saves some: a lead may touch several of its terminals.

use std::sync::Arc;

use super::rounds::RoundOption;
use crate::model::{TerminalRef, Volts};
use crate::network::Body;
use crate::plan::problem::setup::Setup;
use crate::plan::schedule::readings::selection::Tests;
use crate::plan::untestable::trial::{ExtraTrial, TakenAt};
use crate::reading::{Diagram, FreeDevices, TableLimits};

/// The same readings in the same order, each at a point joined to the first before it of its circuit and voltage with
/// which it tests all that both do by themselves. Joined leads make no pair testable that single ones don't. Of a target
/// it is told at which voltage it is to be read.
///
/// Time: two readings for each two of one point.
pub(super) fn joined_at_points(
    setup: &Setup<'_>,
    trial: &mut ExtraTrial<'_>,
    readings: Vec<RoundOption>,
    asks: impl Fn(u32) -> Option<Option<Volts>>,
) -> Vec<RoundOption> {
    let limits = &setup.network.limits().tables;
    let mut joined: Vec<RoundOption> = Vec::new();
    for reading in readings {
        let is_like = |other: &&mut RoundOption| (other.circuit, other.volts) == (reading.circuit, reading.volts);
        let found = joined.iter_mut().filter(is_like).find_map(|before| {
            let both = [false, true].into_iter().find_map(|is_turned| {
                let at = TakenAt::Point(both_leads(setup, &before.at, &reading.at, is_turned)?);
                let tests = trial.read(FreeDevices::Unknown, &at.leads(setup)).tests();
                let wanted: Vec<_> = before.tests.iter().chain(&reading.tests).collect();
                does_as_much(&wanted, &tests, limits).then_some(())?;
                let tests = tests.into_iter().filter(|test| asks(test.0) == Some(reading.volts)).collect();
                Some(RoundOption { at, circuit: reading.circuit, volts: reading.volts, tests })
            })?;
            Some((before, both))
        });
        match found {
            Some((before, both)) => *before = both,
            None => joined.push(reading),
        }
    }
    joined
}

/// The leads of two readings at a point as one reading's; none where the same copper would be on both.
fn both_leads(setup: &Setup<'_>, one: &TakenAt, other: &TakenAt, is_turned: bool) -> Option<[Vec<TerminalRef>; 2]> {
    let (TakenAt::Point(one), TakenAt::Point(other)) = (one, other) else { return None };
    let mut leads = one.clone();
    for (side, terminals) in other.iter().enumerate() {
        leads[side ^ usize::from(is_turned)].extend(terminals);
    }
    for lead in &mut leads {
        lead.sort_unstable();
        lead.dedup();
    }
    let body = |&terminal| -> Body { setup.network.body(terminal) };
    let are_apart = leads[0].iter().all(|one| leads[1].iter().all(|other| body(one) != body(other)));
    are_apart.then_some(leads)
}

/// Whether these tests do all that is wanted, for as many starts.
fn does_as_much(wanted: &[&(u32, Option<Arc<Diagram>>)], tests: &Tests, limits: &TableLimits) -> bool {
    wanted.iter().all(|(group, when)| {
        tests.iter().find(|test| test.0 == *group).is_some_and(|test| match (&test.1, when) {
            (None, _) => true,
            (Some(_), None) => false,
            (Some(test), Some(when)) => when.and_not(test, limits).is_some_and(|less| less.is_never()),
        })
    })
}
