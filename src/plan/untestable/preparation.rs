//! What has to be isolated and taken out before the first reading, from the graph.

use crate::model::{BridgeRef, CircuitId, Conducts, Installation};
use crate::network::Network;
use crate::plan::planner::Plan;
use crate::plan::request::Request;

/// Something that a test current could pass through that is not plain copper, and what becomes of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Obstacle {
    /// What holds it: a point, a way or a group.
    pub holder: BridgeRef,
    /// The circuit that it belongs to; none for a group's device.
    pub circuit: Option<CircuitId>,
    /// The terminals that it lies between, each element's.
    pub between: Vec<[String; 2]>,
    /// Whether it conducts for sure (it would be read instead of the insulation) or holds electronics (that the test
    /// voltage may damage, or that would be read instead).
    pub conducts: Conducts,
    /// Whether it can be taken out.
    pub removable: bool,
}

impl Obstacle {
    /// The holder's full name.
    pub fn name(&self, installation: &Installation) -> String {
        self.holder.name(installation)
    }

    /// Whether it is in a room that these request have locked, and so stays as it is.
    pub fn is_locked_in(&self, installation: &Installation, request: &Request) -> bool {
        match self.holder {
            BridgeRef::Point(point) => request.is_locked(installation, point),
            BridgeRef::Way(way) => request.is_board_locked(installation, way.board()),
            BridgeRef::Group(group) => request.is_board_locked(installation, group.board()),
        }
    }
}

impl Plan<'_> {
    /// What would conduct, or might, besides copper and contacts, as it is for this plan: what is in a locked room
    /// can't be taken out, and what was taken out there already is left out.
    pub fn obstacles(&self) -> Vec<Obstacle> {
        let mut rows = obstacles(self.network);
        rows.retain_mut(|row| {
            if !row.is_locked_in(self.network.installation(), &self.request) {
                return true;
            }
            row.removable = false;
            self.start.is_fitted(self.network.bridge(row.holder))
        });
        rows
    }
}

/// Everything that would conduct, or might, besides copper and contacts; in the order of boards, then points.
pub fn obstacles(network: &Network) -> Vec<Obstacle> {
    let installation = network.installation();
    let circuit_of_way = installation.circuits_of_ways();
    network
        .bridges()
        .iter()
        .map(|bridge| Obstacle {
            holder: bridge.reference,
            circuit: match bridge.reference {
                BridgeRef::Point(point) => Some(installation.point(point).circuit()),
                BridgeRef::Way(way) => circuit_of_way.get(&way).copied(),
                BridgeRef::Group(_) => None,
            },
            between: bridge
                .elements
                .iter()
                .map(|element| element.between.map(|terminal| installation.terminal_name(terminal)))
                .collect(),
            conducts: if bridge.elements.iter().any(|element| element.conducts == Conducts::Maybe) {
                Conducts::Maybe
            } else {
                Conducts::Sure
            },
            removable: bridge.removable,
        })
        .collect()
}
