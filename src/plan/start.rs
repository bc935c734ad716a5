//! What a plan starts from: how switches stand, and what has to be taken out before the first reading.

use crate::coverage::Tested;
use crate::model::{BoardId, BridgeRef, BridgeState, DeviceRef, LocationId, Metres, OtherInstallation, TestSet};
use crate::network::{DeviceIndex, Network, Obstacle};
use crate::observer::{Unwatched, Watch};
use crate::plan::answer::{SwitchPosition, WalkLength};
use crate::plan::problem::setup::Setup;
use crate::plan::request::{Afterwards, Request};
use crate::plan::schedule::tour::distances::Distances;
use crate::reading::DeviceState;

/// How things stand where a plan starts, after the test set.
#[derive(Clone, Debug, PartialEq, Eq)]
#[must_use]
#[non_exhaustive]
pub struct PlanStart {
    /// The switches that can be operated, each with how it stands.
    pub positions: Vec<(String, SwitchPosition)>,
    /// Where everything is to be put back as it was found: the switches that are not operated since nobody could put
    /// them back.
    pub not_put_back: Vec<String>,
    /// What would conduct, or might, besides copper and contacts: what is in a locked room can't be taken out, and what
    /// was taken out there already is left out. Where it comes out and passes, links are put in: a plan counts on them.
    pub obstacles: Vec<Obstacle>,
    /// The devices of boards that are off, which is all but those in locked rooms.
    pub off: Vec<DeviceRef>,
    /// What can be taken out, but is in a locked room and taken to be in.
    pub left_in: Vec<BridgeRef>,
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
                && device.visible
                && position == SwitchPosition::Unknown
                && request.may_operate(installation, point)
            {
                not_put_back.push(id.clone());
            }
            positions.push((id, position));
        }
        let mut obstacles = network.obstacles();
        let mut left_in = Vec::new();
        obstacles.retain_mut(|row| {
            if !request.is_holder_locked(installation, row.holder) {
                return true;
            }
            let is_fitted = start.bridge(network.bridge(row.holder)) == BridgeState::Fitted;
            if row.removable && is_fitted {
                left_in.push(row.holder);
            }
            row.removable = false;
            row.links.clear();
            is_fitted
        });
        let is_locked = |board: BoardId| request.is_board_locked(installation, board);
        let off = network.devices().iter().map(|device| device.reference).filter(|device| match device {
            DeviceRef::Main(board) => !is_locked(*board),
            DeviceRef::Group(group) => !is_locked(group.board()),
            DeviceRef::Way(way) => !is_locked(way.board()),
            DeviceRef::Point(_) => false,
        });
        Ok(PlanStart { positions, not_put_back, obstacles, off: off.collect(), left_in })
    }

    /// The rooms in which something comes out, is linked or is looked at, without the locked ones of the request that this
    /// start is of: in the order of a walk from the board at the supply and back, with how far that is. In the order of
    /// the file where the passages do not lead to each.
    ///
    /// Time and space as the walk of a round: exact to 12 rooms, of more a good order.
    #[must_use]
    pub fn rooms(&self, network: &Network, request: &Request) -> (Vec<LocationId>, Option<WalkLength>) {
        let installation = network.installation();
        let points = self.positions.iter().filter_map(|(id, _)| installation.point_by_id(id));
        let linked = installation.points().filter(|(_, point)| !point.links.is_empty()).map(|(id, _)| id);
        let out = self.obstacles.iter().filter(|row| row.removable).filter_map(|row| row.holder.location(installation));
        let locations = points.chain(linked).filter_map(|id| installation.point(id).location()).chain(out);
        let mut rooms: Vec<LocationId> = locations.filter(|room| !request.without.contains(room)).collect();
        rooms.sort_unstable();
        rooms.dedup();
        let walk = put_in_walking_order(network, &mut rooms);
        (rooms, walk)
    }

    /// The switches that nobody knows the position of.
    pub fn unknown(&self) -> impl Iterator<Item = &str> {
        self.positions.iter().filter(|row| row.1 == SwitchPosition::Unknown).map(|row| row.0.as_str())
    }
}

/// Puts rooms in the order of a walk from the board at the supply, and tells how far it is.
fn put_in_walking_order(network: &Network, rooms: &mut Vec<LocationId>) -> Option<WalkLength> {
    let installation = network.installation();
    let home = installation.boards().find(|(_, board)| board.is_origin())?.1.location()?;
    let from_home: Vec<LocationId> =
        [home].into_iter().chain(rooms.iter().copied().filter(|&room| room != home)).collect();
    let distances = Distances::new(installation);
    let (found, shortest) = distances.walk(&from_home, &network.limits().plan, &mut Watch::new(&mut Unwatched))?;
    let first = rooms.contains(&home).then_some(home);
    *rooms = first.into_iter().chain(found.order.iter().map(|&at| from_home[at])).collect();
    let metres = Metres(found.length as f64 / 1e6);
    Some(WalkLength { metres, at_least: shortest.then_some(metres), shortest })
}
