//! What one reading does by itself, whatever else is read.

use std::sync::Arc;

use rustc_hash::FxHashSet;

use super::void::{left_in, void_path};
use super::{Link, ReadingCoverage};
use crate::network::{Body, Network};
use crate::reading::{Configuration, Diagram, LeadBodies, Probe, Probed, Side, TableLimits, Void, VoidReading, When};

/// For which starts of unknown devices something holds; none where it does whatever they were.
pub(super) type ForStarts = Option<Arc<Diagram>>;

/// What one reading does where it is taken.
#[derive(Clone, Debug, Default)]
pub(super) struct ReadingOutcome {
    pub(super) void: Option<Void>,
    pub(super) left_in: Vec<String>,
    pub(super) path: Vec<Link>,
    /// The bodies that it had on a lead: in some combination where it is sound, in all where it is void.
    pub(super) reached: Vec<Body>,
    /// The pair groups that it had on opposite leads, for some starts or all: it tests them where it is sound.
    pub(super) opposite: Vec<(u32, ForStarts)>,
    /// The positions that it puts under test, by [`Network::position_number`]; for each contact once.
    pub(super) under_test: Vec<(u32, ForStarts)>,
}

impl ReadingOutcome {
    /// Forgets what was tested and reached.
    fn clear(&mut self) {
        self.reached.clear();
        self.opposite.clear();
        self.under_test.clear();
    }

    /// Looks whether a reading is void, and why. What else it did is forgotten.
    pub(super) fn look_whether_void(
        &mut self,
        network: &Network,
        standing: &Configuration,
        leads: &LeadBodies,
        probed: &Probed<'_>,
    ) {
        self.clear();
        let void = probed.void();
        self.path = match &void {
            Some(VoidReading { void: Void::NotRuledOut, .. }) | None => Vec::new(),
            Some(VoidReading { void, witness }) => void_path(network, standing, witness, leads, *void),
        };
        self.left_in = if void.is_none() { left_in(network, standing, leads) } else { Vec::new() };
        self.void = void.map(|reading| reading.void);
    }

    /// Looks then what it reaches and tests; of positions only those whose numbers are `wanted`.
    pub(super) fn look_at_rest(&mut self, network: &Network, probed: &Probed<'_>, wanted: impl Fn(u32) -> bool) {
        let limits = &network.limits().tables;
        self.reached.extend(Side::BOTH.into_iter().flat_map(|side| probed.held(side)));
        if self.void.is_some() {
            self.note_opposite(probed, limits);
            return;
        }
        let mut tell = |group, when: When| {
            self.opposite.extend(when.for_starts(limits).map(|starts| (group, starts)));
        };
        probed.opposite(|_| true, &mut tell);
        self.reached.extend(probed.decided());
        probed.closed_on_leads(
            |device, position| wanted(network.position_number(device, position)),
            |device, position, when| {
                let number = network.position_number(device, position);
                self.under_test.extend(when.for_starts(limits).map(|starts| (number, starts)));
            },
        );
    }

    /// Looks, at a void reading, which pair groups it has on opposite leads where these are joined, but not by copper.
    /// Tells the bodies that it comes to by copper.
    pub(super) fn look_at_copper(
        &mut self,
        network: &Network,
        standing: &Configuration,
        leads: &LeadBodies,
        probe: &mut Probe,
        touched: impl FnMut(Body),
    ) {
        if self.void == Some(Void::Bridged) {
            let copper = standing.copper();
            let probed = probe.read_for_starts(network, &copper, leads);
            self.note_opposite(&probed, &network.limits().tables);
            probed.touched().for_each(touched);
        }
    }

    /// Notes the pair groups that it has on opposite leads while these are apart.
    fn note_opposite(&mut self, probed: &Probed<'_>, limits: &TableLimits) {
        let joined = probed.joined_leads();
        let known: FxHashSet<u32> = self.opposite.iter().map(|row| row.0).collect();
        let mut tell = |group, when: When| {
            let apart = |joined: &Diagram| when.clone().diagram(limits).and_then(|when| when.and_not(joined, limits));
            let is_so = match &joined {
                Some([for_sure, _]) if !for_sure.is_never() => apart(for_sure).is_some_and(|apart| !apart.is_never()),
                _ => when != When::TooLarge,
            };
            self.opposite.extend(is_so.then_some((group, None)));
        };
        probed.opposite(|group| !known.contains(&group), &mut tell);
    }

    /// Whether it is void, by its pass and its number in it.
    pub(super) fn row(&self, [pass, reading]: [usize; 2]) -> ReadingCoverage {
        ReadingCoverage { pass, reading, void: self.void, left_in: self.left_in.clone(), path: self.path.clone() }
    }
}
