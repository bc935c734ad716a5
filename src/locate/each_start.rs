//! What bounds a gap start by start: readings that have it directly across for some starts of devices that nobody knows,
//! and do so between them for every start.
//!
//! A sum must hold whatever the start was, so of two strappers of which nobody knows which is alive neither is in a sum
//! from below. But once the switch was operated each has been directly across in one reading or the other: it leaks no
//! more than the worse of the two shows.
//!
//! Design not taken: such bounds as sums of the linear programs. What contradicts them would be a set of readings for
//! each, and they clear gaps without.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::gaps::GapTable;
use crate::model::Volts;
use crate::network::Network;
use crate::reading::{Configuration, Diagram, LeadBodies, Probe};

/// A reading that has a gap directly across for some starts.
struct AcrossForStarts {
    reading: u32,
    /// The greatest conductance that it shows, in µS.
    greatest: f64,
    /// For which starts.
    when: Arc<Diagram>,
}

/// For each gap that some reading has directly across for some starts only, all such readings.
#[derive(Default)]
pub(super) struct EachStart {
    across: BTreeMap<u32, Vec<AcrossForStarts>>,
}

impl EachStart {
    /// Enters a sound reading between these leads, taken with this test voltage, and the greatest conductance that it
    /// shows. Time as probing it, and linear in the gaps at what unknown devices decide.
    pub(super) fn enter(
        &mut self,
        (network, probe): (&Network, &mut Probe),
        (standing, leads): (&Configuration, &LeadBodies),
        gaps: &GapTable,
        (reading, greatest, volts): (u32, f64, Option<Volts>),
    ) {
        if greatest.is_infinite() {
            return;
        }
        let limits = &network.limits().tables;
        let probed = probe.read_for_starts(network, standing, leads);
        let mut decided: Vec<u32> = probed.decided().flat_map(|body| gaps.at(body)).copied().collect();
        decided.sort_unstable();
        decided.dedup();
        for gap in decided {
            if volts.is_some_and(|taken| gaps.asks_for_more(gap, taken).is_some()) {
                continue;
            }
            let when = probed.when_opposite(gaps.bodies[gap as usize]).and_then(|when| when.for_starts(limits));
            if let Some(Some(when)) = when {
                self.across.entry(gap).or_default().push(AcrossForStarts { reading, greatest, when });
            }
        }
    }

    /// What each gap leaks at most, in µS, by readings that `counts` is true of; gaps that these do not bound for every
    /// start are left out.
    pub(super) fn bounds(&self, network: &Network, counts: impl Fn(u32) -> bool) -> impl Iterator<Item = (u32, f64)> {
        let limits = &network.limits().tables;
        self.across.iter().filter_map(move |(&gap, across)| {
            let mut across: Vec<&AcrossForStarts> = across.iter().filter(|row| counts(row.reading)).collect();
            across.sort_by(|one, other| one.greatest.total_cmp(&other.greatest));
            let mut for_starts = Diagram::never();
            across.into_iter().find_map(|AcrossForStarts { greatest, when, .. }| {
                for_starts = Diagram::union([&for_starts, &**when], limits);
                for_starts.is_always().then_some((gap, *greatest))
            })
        })
    }
}
