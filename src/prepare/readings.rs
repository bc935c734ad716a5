//! The readings of a circuit, and where their leads go.

use super::step::{Action, Caution, Step};
use super::surroundings::{Surroundings, neutral_of};
use crate::model::{CircuitId, Conductor, GroupId, PointId, TerminalRef, WayDevice, WayId};
use crate::network::Role;
use crate::reading::{LeadBodies, planned_readings};

/// A reading of a circuit: how it is written, and the copper that it touches.
pub(super) struct CircuitReading {
    pub(super) between: [String; 2],
    pub(super) leads: LeadBodies,
}

impl Surroundings<'_> {
    /// The readings of a circuit at its way; none where it has none.
    pub(super) fn readings_at_way(&self, id: CircuitId) -> Vec<CircuitReading> {
        let readings = planned_readings(self.network, id);
        let own = readings.iter().map(|reading| CircuitReading {
            between: reading.leads().each_ref().map(|lead| lead.text().to_owned()),
            leads: LeadBodies::of(self.network, reading),
        });
        own.collect()
    }

    /// Those at a source of its own: all its terminals joined to earth, and each to each other.
    pub(super) fn readings_at_source(&self, sources: &[(PointId, TerminalRef)]) -> Vec<CircuitReading> {
        let reading = |leads: [Vec<TerminalRef>; 2]| CircuitReading {
            between: leads.each_ref().map(|lead| {
                let names: Vec<String> =
                    lead.iter().map(|&terminal| self.installation().terminal_name(terminal)).collect();
                names.join("+")
            }),
            leads: LeadBodies::on(
                leads.map(|lead| lead.into_iter().map(|terminal| self.network.body(terminal)).collect()),
            ),
        };
        let all: Vec<TerminalRef> = sources.iter().map(|&(_, terminal)| terminal).collect();
        let mut pairs = Vec::new();
        for (number, &one) in all.iter().enumerate() {
            pairs.extend(all[number + 1..].iter().map(|&other| [vec![one], vec![other]]));
        }
        let to_earth = (!all.is_empty()).then(|| [all, vec![TerminalRef::MainEarth]]);
        to_earth.into_iter().chain(pairs).map(reading).collect()
    }

    /// The sources that a circuit without a way hangs on: their points and terminals.
    pub(super) fn sources_of(&self, id: CircuitId) -> Vec<(PointId, TerminalRef)> {
        let mut sources = Vec::new();
        for terminal in
            self.lengths_of[id.index()].iter().flat_map(|length| length.cores()).flat_map(|core| core.ends())
        {
            for &role in terminal.map_or(&[][..], |terminal| self.network.roles_at(terminal)) {
                if let Role::Source(terminal @ TerminalRef::Point { point, .. }) = role {
                    sources.push((point, terminal));
                }
            }
        }
        sources.sort_unstable();
        sources.dedup();
        sources
    }

    /// Where the neutral of a way is touched; none where it has none.
    pub(super) fn neutral(&self, way: WayId, circuit: CircuitId) -> Option<Step> {
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
        let shared = self.neutrals.get(&self.network.body(terminal)).into_iter().flatten();
        let shared_with: Vec<String> = shared
            .filter(|&&other| other != circuit)
            .map(|&other| installation.circuit(other).id().to_owned())
            .collect();
        let caution = (!shared_with.is_empty()).then_some(Caution::OtherCircuits);
        let (terminal, bar) = (installation.terminal_name(terminal), bar.map(|bar| installation.terminal_name(bar)));
        Some(Action::NeutralAt { terminal, bar, shared_with }.with(caution))
    }
}
