//! What a plan would come to if the switches that nobody knows the position of were known.

use super::option::{Fleet, OptionKind};
use super::report::{OptimalReport, TotalsReport};
use crate::model::{PointId, Stands, TestSet};
use crate::network::{DeviceIndex, Network};

/// A plan for known positions, to compare with one that holds whichever they were.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct IfKnown {
    /// The switches that nobody knows the position of, taken to have stood in their first position.
    pub points: Vec<PointId>,
    /// What the plan would come to.
    pub totals: TotalsReport,
    /// What of that is proven to be the least.
    pub optimal: OptimalReport,
    /// Required pairs that could not be tested then.
    pub untestable: usize,
}

/// The test set as if the switches that can be operated and that nobody knows the position of had stood in their first
/// position from the start; none where there are none.
pub(super) fn with_known_start(
    network: &Network<'_>,
    test_set: &TestSet,
    fleet: &Fleet,
) -> Option<(Vec<PointId>, TestSet)> {
    let mut known = test_set.clone();
    let mut points = Vec::new();
    for (number, device) in network.devices.iter().enumerate() {
        let number = number as DeviceIndex;
        let crate::model::DeviceRef::Point(point) = device.reference else { continue };
        let is_unknown = fleet.options(number).is_some() && fleet.kind(number) != OptionKind::Known;
        if is_unknown {
            points.push(point);
            known.start_positions.retain(|entry| entry.0 != device.reference);
            known.start_positions.push((device.reference, Stands::At(0)));
        }
    }
    known.stamp = Some(network.installation().stamp);
    (!points.is_empty()).then_some((points, known))
}
