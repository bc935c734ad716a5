//! The readings of a circuit, and where their leads go.

use super::step::{Action, Caution, Step};
use super::surroundings::{Surroundings, neutral_of};
use crate::model::{CircuitId, Conductor, GroupId, PointId, TerminalRef, WayDevice, WayId};
use crate::reading::{LeadBodies, candidates_of};

/// A reading of a circuit: how it is written, and the copper that it touches.
pub(super) struct CircuitReading {
    /// The source at which it is taken; none at a way.
    pub(super) at: Option<PointId>,
    pub(super) between: [String; 2],
    pub(super) leads: LeadBodies,
}

impl Surroundings<'_> {
    /// The readings of a circuit, at its way or its sources; none where it has neither.
    pub(super) fn readings_of(&self, id: CircuitId) -> Vec<CircuitReading> {
        let own = candidates_of(self.network, id).into_iter().map(|candidate| CircuitReading {
            at: candidate.at,
            between: candidate.reading.leads.map(|lead| lead.text),
            leads: candidate.leads,
        });
        own.collect()
    }

    /// Where the neutral of a way is touched; none where it has none.
    pub(super) fn neutral(&self, way: WayId) -> Option<Step> {
        let installation = self.installation();
        let row = installation.way(way);
        if !row.has_neutral() {
            return None;
        }
        let opens_neutral = matches!(row.device(), WayDevice::Rcbo { switches_neutral: true, .. });
        let (board, conductor) = (way.board(), Conductor::Neutral);
        let bar = match row.group {
            _ if opens_neutral => None,
            Some(group) => Some(TerminalRef::Group { group: GroupId { board, group }, conductor }),
            None => Some(TerminalRef::Bus { board, conductor }),
        };
        let terminal = neutral_of(way);
        let shared = self.shared_neutral(terminal);
        let caution = shared.map(|_| Caution::OtherCircuits);
        let (terminal, bar) = (installation.terminal_name(terminal), bar.map(|bar| installation.terminal_name(bar)));
        Some(Action::NeutralAt { terminal, bar, shared }.with(caution))
    }
}
