//! What stands in the way of a test besides copper and contacts.

use crate::model::{BridgeRef, CircuitId, Conducts, Installation};
use crate::network::Network;
use crate::network::graph::BridgeElement;

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
    /// The terminals between which a link is put in its place: those of each bridge that passes, where it comes out.
    pub links: Vec<[String; 2]>,
}

impl Obstacle {
    /// The holder's full name.
    pub fn name(&self, installation: &Installation) -> String {
        self.holder.name(installation)
    }
}

impl Network {
    /// Everything that would conduct, or might, besides copper and contacts; in the order of boards, then points.
    pub fn obstacles(&self) -> Vec<Obstacle> {
        let installation = self.installation();
        let between = |element: &BridgeElement| element.between.map(|terminal| installation.terminal_name(terminal));
        let circuit_of_way = installation.circuits_of_ways();
        self.bridges()
            .iter()
            .map(|bridge| Obstacle {
                holder: bridge.reference,
                circuit: match bridge.reference {
                    BridgeRef::Point(point) => Some(installation.point(point).circuit()),
                    BridgeRef::Way(way) => circuit_of_way.get(&way).copied(),
                    BridgeRef::Group(_) => None,
                },
                between: bridge.elements.iter().map(between).collect(),
                conducts: if bridge.elements.iter().any(|element| element.conducts == Conducts::Maybe) {
                    Conducts::Maybe
                } else {
                    Conducts::Sure
                },
                removable: bridge.removable,
                links: bridge
                    .elements
                    .iter()
                    .filter(|element| element.passes && bridge.removable)
                    .map(between)
                    .collect(),
            })
            .collect()
    }
}
