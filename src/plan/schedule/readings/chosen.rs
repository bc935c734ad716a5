//! A reading that a plan takes, before it has names.

use crate::model::{CircuitId, PointId, Reading};
use crate::network::{DeviceIndex, PairId};

#[derive(Clone, Debug)]
pub(in crate::plan) struct ChosenReading {
    /// The circuit at whose way it is taken, or at whose source.
    pub(in crate::plan) circuit: CircuitId,
    /// The source; none at a way.
    pub(in crate::plan) at: Option<PointId>,
    pub(in crate::plan) reading: Reading,
    /// The required pairs that it completes.
    pub(in crate::plan) adds: Vec<PairId>,
    /// The positions, asked to come under test, that it completes.
    pub(in crate::plan) positions: Vec<(DeviceIndex, u16)>,
    /// Where it completes nothing: the required pairs that it tests for some starts, and others for the rest.
    pub(in crate::plan) part_of: Vec<PairId>,
}
