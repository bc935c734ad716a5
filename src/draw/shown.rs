//! What of a drawing changes with the work: what is tested, and how everything stands.

use std::sync::Arc;

use crate::coverage::{Coverage, Missed};
use crate::model::{BridgeState, Installation, LengthId, OtherInstallation, PointId, TestSet};
use crate::network::{Need, Network, PairCore};
use crate::reading::{DeviceState, Replay};

/// What is shown of a core.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum CoreShown {
    /// No test of it is asked for.
    #[default]
    NotAsked,
    /// A required pair of it is tested.
    Tested,
    /// None is.
    Missed,
    /// None is for sure: some are, and nobody knows which.
    OneOf,
}

/// A required pair that is not tested, though other pairs of its cores are.
#[derive(Clone, Debug)]
pub(super) struct Rung {
    pub(super) length: LengthId,
    pub(super) core: usize,
    /// None for the main earthing terminal, where the length has no protective core.
    pub(super) other: Option<usize>,
}

/// What a drawing shows beside the wiring: which cores are tested, and how everything stands.
#[derive(Clone, Debug)]
pub struct DrawnState {
    pub(super) installation: Arc<Installation>,
    /// For each core of each length; empty where nothing is said of tests.
    cores: Vec<Vec<CoreShown>>,
    /// In the order of lengths.
    rungs: Vec<Rung>,
    devices: Vec<Option<DeviceState>>,
    bridges: Vec<Option<BridgeState>>,
}

impl DrawnState {
    /// After a test set: how everything stands then, and what is tested by it.
    ///
    /// Time and space as [`Coverage::of`].
    ///
    /// # Errors
    ///
    /// Where the test set was checked against another installation.
    pub fn after(network: &Network, tests: &TestSet, need: Need) -> Result<DrawnState, OtherInstallation> {
        let coverage = Coverage::of(network, tests, need)?;
        let mut shown = DrawnState::wiring(network, tests)?;
        let installation = network.installation();
        shown.cores =
            installation.lengths().map(|(_, length)| vec![CoreShown::NotAsked; length.cores().len()]).collect();
        let mut missed = Vec::new();
        for (pair, row) in network.pairs().zip(&coverage.pairs).filter(|(_, row)| row.required) {
            let length = network.pair_length(pair);
            let cores = network.pair_cores(pair).map(|core| match core {
                PairCore::Core(core) => Some(core),
                PairCore::Earth => None,
            });
            let is_one_of = !row.one_of.is_empty() || matches!(row.missed, Some(Missed::DependsOnStart { .. }));
            for core in cores.into_iter().flatten() {
                let state = &mut shown.cores[length.index()][core];
                *state = match (*state, row.tested, is_one_of) {
                    (CoreShown::Tested, ..) | (_, true, _) => CoreShown::Tested,
                    (CoreShown::OneOf, ..) | (_, _, true) => CoreShown::OneOf,
                    _ => CoreShown::Missed,
                };
            }
            let mut cores = cores.into_iter();
            if let (false, Some(core)) = (row.tested, cores.find_map(|core| core)) {
                missed.push(Rung { length, core, other: cores.flatten().next() });
            }
        }
        missed.retain(|rung| {
            let mut cores = [Some(rung.core), rung.other].into_iter().flatten();
            cores.all(|core| shown.core(rung.length, core) == CoreShown::Tested)
        });
        shown.rungs = missed;
        Ok(shown)
    }

    /// How everything stands after a test set, without a word of tests.
    ///
    /// # Errors
    ///
    /// Where the test set was checked against another installation.
    pub fn wiring(network: &Network, tests: &TestSet) -> Result<DrawnState, OtherInstallation> {
        tests.check_for(network.installation())?;
        let mut replay = Replay::of(network, tests);
        while replay.next_pass().is_some() {}
        let configuration = replay.configuration();
        let points: Vec<_> = network.installation().points().map(|(point, _)| network.of_point(point)).collect();
        Ok(DrawnState {
            installation: network.shared_installation(),
            cores: Vec::new(),
            rungs: Vec::new(),
            devices: points.iter().map(|(device, _)| device.map(|device| configuration.device(device))).collect(),
            bridges: points.iter().map(|(_, bridge)| bridge.map(|bridge| configuration.bridge(bridge))).collect(),
        })
    }

    /// Whether anything is said of tests.
    pub(super) fn tells_tests(&self) -> bool {
        !self.cores.is_empty()
    }

    pub(super) fn core(&self, length: LengthId, core: usize) -> CoreShown {
        self.cores.get(length.index()).map_or(CoreShown::Tested, |cores| cores[core])
    }

    pub(super) fn rungs(&self, length: LengthId) -> &[Rung] {
        let first = self.rungs.partition_point(|rung| rung.length < length);
        let behind = self.rungs.partition_point(|rung| rung.length <= length);
        &self.rungs[first..behind]
    }

    pub(super) fn device(&self, point: PointId) -> Option<DeviceState> {
        self.devices[point.index()]
    }

    pub(super) fn bridge(&self, point: PointId) -> Option<BridgeState> {
        self.bridges[point.index()]
    }
}
