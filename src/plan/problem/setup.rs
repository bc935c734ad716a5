//! What a plan starts from, and what it may operate and read: the network, the test set and the request together.

use crate::coverage::Tested;
use crate::model::{BoardId, BridgeRef, BridgeState, DeviceRef, TestSet};
use crate::network::{BridgeIndex, DeviceIndex, Network};
use crate::plan::limits::PlanLimits;
use crate::plan::problem::choices::DeviceChoices;
use crate::plan::request::Request;
use crate::reading::{CandidateReading, Configuration, DeviceState, candidates};

/// What a plan starts from, and what it may use.
pub(in crate::plan) struct Setup<'n> {
    pub(in crate::plan) network: &'n Network,
    pub(in crate::plan) start: Configuration,
    pub(in crate::plan) choices: DeviceChoices,
    pub(in crate::plan) candidates: Vec<CandidateReading>,
}

impl<'n> Setup<'n> {
    pub(in crate::plan) fn limits(&self) -> &'n PlanLimits {
        &self.network.limits().plan
    }

    pub(in crate::plan) fn new(
        network: &'n Network,
        coverage: &Tested<'_>,
        test_set: &TestSet,
        request: &Request,
    ) -> Setup<'n> {
        let mut start = coverage.after.for_planning(network);
        for (number, _) in (0..).zip(network.bridges()).filter(|(_, bridge)| bridge.can_be_linked()) {
            start.set_bridge(number, BridgeState::Linked);
        }
        if !request.without.is_empty() {
            lock(network, coverage, test_set, request, &mut start);
        }
        Setup::from_start(network, start, request)
    }

    /// Whether something is read at the source of a circuit without a way.
    pub(in crate::plan) fn reads_at_sources(&self) -> bool {
        self.candidates.iter().any(|candidate| candidate.at.is_some())
    }

    /// Where things stand so.
    pub(in crate::plan) fn from_start(network: &'n Network, start: Configuration, request: &Request) -> Setup<'n> {
        let installation = network.installation();
        let choices = DeviceChoices::new(network, &start, request);
        let mut candidates = candidates(network);
        candidates.retain(|candidate| match (candidate.at, installation.circuit(candidate.circuit).way()) {
            (Some(source), _) => !request.is_locked(installation, source),
            (None, way) => !way.is_some_and(|way| request.is_board_locked(installation, way.board())),
        });
        Setup { network, start, choices, candidates }
    }
}

/// Leaves everything in locked rooms as it is: what can be taken out is in, unless the test set says how it is;
/// and the devices of boards stand as the test set says, or nobody knows how.
fn lock(network: &Network, coverage: &Tested<'_>, test_set: &TestSet, request: &Request, start: &mut Configuration) {
    let installation = network.installation();
    let is_locked = |board: BoardId| request.is_board_locked(installation, board);
    for (number, bridge) in network.bridges().iter().enumerate() {
        let locked = match bridge.reference {
            BridgeRef::Point(point) => request.is_locked(installation, point),
            BridgeRef::Way(way) => is_locked(way.board()),
            BridgeRef::Group(group) => is_locked(group.board()),
        };
        if locked {
            let named = test_set.start_bridges.iter().any(|entry| entry.0 == bridge.reference)
                || test_set
                    .passes
                    .iter()
                    .flat_map(|pass| [&pass.remove, &pass.link, &pass.refit])
                    .any(|named| named.contains(&bridge.reference));
            let number = number as BridgeIndex;
            start.set_bridge(number, if named { coverage.after.bridge(number) } else { BridgeState::Fitted });
        }
    }
    for (number, device) in network.devices().iter().enumerate() {
        let board = match device.reference {
            DeviceRef::Main(board) => board,
            DeviceRef::Group(group) => group.board(),
            DeviceRef::Way(way) => way.board(),
            DeviceRef::Point(_) => continue,
        };
        if is_locked(board) {
            let reference = device.reference;
            let named = test_set.start_positions.iter().any(|entry| entry.0 == reference)
                || test_set
                    .passes
                    .iter()
                    .any(|pass| pass.operate.contains(&reference) || pass.set.iter().any(|entry| entry.0 == reference));
            let number = number as DeviceIndex;
            start.set_device(number, if named { coverage.after.device(number) } else { DeviceState::Unknown(0) });
        }
    }
}
