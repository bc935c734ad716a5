//! What a plan starts from: how switches stand, and what has to be taken out before the first reading.

use crate::coverage::Tested;
use crate::model::{BridgeRef, CircuitId, Conducts, DeviceRef, Installation, OtherInstallation, TestSet};
use crate::network::{DeviceIndex, Network};
use crate::observer::{Unwatched, Watch};
use crate::plan::answer::SwitchPosition;
use crate::plan::problem::setup::Setup;
use crate::plan::request::{Afterwards, Request};
use crate::reading::DeviceState;

/// How things stand where a plan starts, after the test set.
#[derive(Clone, Debug, PartialEq, Eq)]
#[must_use]
#[non_exhaustive]
pub struct PlanStart {
    /// The switches that can be operated, each with how it stands.
    pub positions: Vec<(String, SwitchPosition)>,
    /// Where everything is to be put back as it was found: the switches that are not operated since nobody could put them
    /// back.
    pub not_put_back: Vec<String>,
    /// What would conduct, or might, besides copper and contacts: what is in a locked room can't be taken out, and what
    /// was taken out there already is left out.
    pub obstacles: Vec<PlanObstacle>,
}

impl PlanStart {
    /// What a plan by this request starts from. Time and space as following the test set.
    ///
    /// # Errors
    ///
    /// Where the test set was checked against another installation: its ids mean nothing in this one.
    pub fn of(
        network: &Network,
        test_set: Option<&TestSet>,
        request: &Request,
    ) -> Result<PlanStart, OtherInstallation> {
        let nothing = TestSet::default();
        let test_set = test_set.unwrap_or(&nothing);
        test_set.check_for(network.installation())?;
        let coverage = Tested::by(network, test_set, request.need, &mut Watch::new(&mut Unwatched));
        let Setup { start, .. } = Setup::new(network, &coverage, test_set, request);
        let installation = network.installation();
        let mut positions = Vec::new();
        let mut not_put_back = Vec::new();
        for (number, device) in network.devices().iter().enumerate().filter(|(_, device)| device.operable) {
            let DeviceRef::Point(point) = device.reference else { continue };
            let id = installation.point(point).id().to_owned();
            let position = match start.device(number as DeviceIndex) {
                DeviceState::At(position) => {
                    SwitchPosition::At(network.position_name(number as DeviceIndex, position).to_owned())
                }
                DeviceState::Unknown(_) => SwitchPosition::Unknown,
            };
            if request.afterwards == Afterwards::AsFound
                && device.positions > 2
                && position == SwitchPosition::Unknown
                && request.may_operate(installation, point)
            {
                not_put_back.push(id.clone());
            }
            positions.push((id, position));
        }
        let mut obstacles = obstacles(network);
        obstacles.retain_mut(|row| {
            if !row.is_locked_in(installation, request) {
                return true;
            }
            row.removable = false;
            start.is_fitted(network.bridge(row.holder))
        });
        Ok(PlanStart { positions, not_put_back, obstacles })
    }

    /// The switches that nobody knows the position of.
    pub fn unknown(&self) -> impl Iterator<Item = &str> {
        self.positions.iter().filter(|row| row.1 == SwitchPosition::Unknown).map(|row| row.0.as_str())
    }
}

/// Something that a test current could pass through that is not plain copper, and what becomes of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PlanObstacle {
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

impl PlanObstacle {
    /// The holder's full name.
    pub fn name(&self, installation: &Installation) -> String {
        self.holder.name(installation)
    }

    /// Whether it is in a room that the request has locked, and so stays as it is.
    pub fn is_locked_in(&self, installation: &Installation, request: &Request) -> bool {
        match self.holder {
            BridgeRef::Point(point) => request.is_locked(installation, point),
            BridgeRef::Way(way) => request.is_board_locked(installation, way.board()),
            BridgeRef::Group(group) => request.is_board_locked(installation, group.board()),
        }
    }
}

/// Everything that would conduct, or might, besides copper and contacts; in the order of boards, then points.
pub fn obstacles(network: &Network) -> Vec<PlanObstacle> {
    let installation = network.installation();
    let circuit_of_way = installation.circuits_of_ways();
    network
        .bridges()
        .iter()
        .map(|bridge| PlanObstacle {
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
