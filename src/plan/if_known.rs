//! What a plan would come to if the switches that nobody knows the position of were known.

use crate::model::{DeviceRef, PointId, Stands, TestSet};
use crate::network::Network;
use crate::plan::report::{OptimalReport, TotalsReport};

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

/// The test set as if these points had stood in their first position from the start; none where there are none.
pub(in crate::plan) fn with_known_start(
    network: &Network,
    test_set: &TestSet,
    points: Vec<PointId>,
) -> Option<(Vec<PointId>, TestSet)> {
    if points.is_empty() {
        return None;
    }
    let mut known = test_set.clone();
    for &point in &points {
        let device = DeviceRef::Point(point);
        known.start_positions.retain(|entry| entry.0 != device);
        known.start_positions.push((device, Stands::At(0)));
    }
    known.stamp = Some(network.installation().stamp);
    Some((points, known))
}
