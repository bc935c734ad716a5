//! What one reading does by itself, whatever else is read.

use std::sync::Arc;

use super::void::{left_in, void_path};
use super::{Link, ReadingCoverage};
use crate::network::{Body, Network};
use crate::reading::{Configuration, Diagram, LeadBodies, Probed, Side, Void, VoidReading, When};

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
        let is_sound = self.void.is_none();
        let limits = &network.limits().tables;
        self.reached.extend(Side::BOTH.into_iter().flat_map(|side| probed.held(side)));
        probed.opposite(
            |_| true,
            |group, when| {
                let starts = match when {
                    When::TooLarge => None,
                    when if is_sound => when.for_starts(limits),
                    _ => Some(None),
                };
                self.opposite.extend(starts.map(|starts| (group, starts)));
            },
        );
        if !is_sound {
            return;
        }
        self.reached.extend(probed.decided());
        probed.closed_on_leads(
            |device, position| wanted(network.position_number(device, position)),
            |device, position, when| {
                let number = network.position_number(device, position);
                self.under_test.extend(when.for_starts(limits).map(|starts| (number, starts)));
            },
        );
    }

    /// Whether it is void, by its pass and its number in it.
    pub(super) fn row(&self, [pass, reading]: [usize; 2]) -> ReadingCoverage {
        ReadingCoverage { pass, reading, void: self.void, left_in: self.left_in.clone(), path: self.path.clone() }
    }
}
