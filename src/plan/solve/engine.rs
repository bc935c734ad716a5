//! What an engine is asked about a cluster, and what it answers.

use crate::network::DeviceIndex;
use crate::observer::Watch;
use crate::plan::naming::Naming;
use crate::plan::problem::cluster::ClusterDevice;
use crate::plan::proof::certificate::{Exclusion, OperationsPart, UnsatisfiableCore};
use crate::plan::request::Priority;

/// The fewest walks of a cluster that take readings, as far as known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::plan) struct FewestWalks {
    /// Walks of the plan found.
    pub(in crate::plan) walks: usize,
    /// No plan has fewer.
    pub(in crate::plan) at_least: usize,
}

/// Operations and stops.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(in crate::plan) struct Cost {
    pub(in crate::plan) operations: u32,
    pub(in crate::plan) stops: u32,
}

impl Cost {
    /// What is compared first, then what decides between equals.
    pub(in crate::plan) fn by(self, priority: Priority) -> (u32, u32) {
        match priority {
            Priority::Operations => (self.operations, self.stops),
            Priority::Stops => (self.stops, self.operations),
        }
    }

    pub(in crate::plan) fn and(self, more: Cost) -> Cost {
        Cost { operations: self.operations + more.operations, stops: self.stops + more.stops }
    }
}

/// One way of a cluster to do its part in walks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::plan) struct ClusterWay {
    /// (walk, stop) visited, ascending.
    pub(in crate::plan) visits: Vec<(u16, u32)>,
    /// For each walk, the devices operated with their new options.
    pub(in crate::plan) changes: Vec<Vec<(DeviceIndex, u16)>>,
}

impl ClusterWay {
    /// The way through these options, from the start: for each walk the options after it, none where nothing is
    /// operated.
    pub(in crate::plan) fn through<'o>(
        devices: &[ClusterDevice],
        settings: impl IntoIterator<Item = Option<&'o [u16]>>,
    ) -> ClusterWay {
        let mut before: Vec<u16> = devices.iter().map(|row| row.start).collect();
        let mut way = ClusterWay { visits: Vec::new(), changes: Vec::new() };
        for (walk, after) in settings.into_iter().enumerate() {
            let mut changes = Vec::new();
            for (number, row) in devices.iter().enumerate() {
                if let Some(&option) = after.map(|after| &after[number]).filter(|&&option| option != before[number]) {
                    changes.push((row.device, option));
                    way.visits.push((walk as u16, row.stop));
                    before[number] = option;
                }
            }
            way.changes.push(changes);
        }
        // Devices are sorted by stop, so the visits are too.
        way.visits.dedup();
        way
    }

    pub(in crate::plan) fn cost(&self) -> Cost {
        let operations = self.changes.iter().map(Vec::len).sum::<usize>();
        Cost { operations: operations as u32, stops: self.visits.len() as u32 }
    }
}

/// A cluster's part of a plan.
#[derive(Clone, Debug)]
pub(in crate::plan) struct ClusterPlan {
    pub(in crate::plan) way: ClusterWay,
    /// No plan within as many walks costs less, each for itself.
    pub(in crate::plan) at_least: Cost,
    /// Whether the search was finished: no plan within as many walks costs less, in the order of the request.
    pub(in crate::plan) is_least: bool,
}

/// One operation of a cluster.
#[derive(Clone, Copy, Debug)]
pub(in crate::plan) struct ClusterStep {
    pub(in crate::plan) device: DeviceIndex,
    pub(in crate::plan) option: u16,
    pub(in crate::plan) stop: u32,
    /// What is next after it, as a number of [`StepOrders::after`].
    pub(in crate::plan) next: usize,
}

/// The orders of single operations in which a cluster is done, for those who need not come back for the readings.
pub(in crate::plan) struct StepOrders {
    /// What can be next, by how far it is done; from 0 on. Nothing: all is done.
    pub(in crate::plan) after: Vec<Vec<ClusterStep>>,
    /// Whether these are all that there are with as few operations.
    pub(in crate::plan) are_all: bool,
}

impl StepOrders {
    /// Only those of a way, as they come.
    pub(in crate::plan) fn along(way: &ClusterWay, devices: &[ClusterDevice]) -> StepOrders {
        let stop = |device: DeviceIndex| {
            devices.iter().find(|row| row.device == device).map(|row| row.stop).expect("a device of the cluster")
        };
        let changes = way.changes.iter().flatten().enumerate();
        let steps = changes.map(|(number, &(device, option))| {
            vec![ClusterStep { device, option, stop: stop(device), next: number + 1 }]
        });
        StepOrders { after: steps.chain([Vec::new()]).collect(), are_all: false }
    }
}

/// Finds what one cluster takes.
pub(in crate::plan) trait Engine {
    /// The devices, in the order in which a walk works them.
    fn devices(&self) -> &[ClusterDevice];

    /// The pair groups, and what is asked for switches, that have a requirement here.
    fn groups(&self) -> Vec<u32>;

    fn fewest_walks(&self) -> FewestWalks;

    /// The plan within a number of walks that costs least, in the order of the request; where everything is put back,
    /// the walk for that is one of them. None where no order of so many walks does it. For two people walks are not
    /// counted, and stops settle nothing.
    fn plan(&mut self, walks: usize, watch: &mut Watch<'_>) -> Option<ClusterPlan>;

    /// All ways that cost as little as a plan that is the least, but for those that visit the same and more. None where
    /// they are not listed.
    fn equal_ways(&mut self, walks: usize, plan: &ClusterPlan, watch: &mut Watch<'_>) -> Option<Vec<ClusterWay>>;

    /// For two people: the orders of the operations of a plan, or of all plans with as few.
    fn steps(&mut self, plan: &ClusterPlan, _: &mut Watch<'_>) -> StepOrders {
        StepOrders::along(&plan.way, self.devices())
    }

    /// Which operations of such an order are followed by readings.
    fn read_after(&mut self, plan: &ClusterPlan, _: &[ClusterStep]) -> Vec<bool> {
        let of_walk = |walk: &Vec<_>| (1..=walk.len()).map(|number| number == walk.len()).collect::<Vec<bool>>();
        plan.way.changes.iter().flat_map(of_walk).collect()
    }

    /// The certificate that so many pairs or more exclude one another; none where no so many are known.
    fn exclusion(&mut self, least: usize, naming: &Naming<'_>, watch: &mut Watch<'_>) -> Option<Exclusion>;

    /// Pairs that can't be tested in so many walks; none where the pairs alone can, or that was not found out.
    fn core_of_walks(&mut self, walks: usize, naming: &Naming<'_>, watch: &mut Watch<'_>) -> Option<UnsatisfiableCore>;

    /// Why the cluster needs so many operations within a number of walks.
    fn operations_parts(
        &mut self,
        operations: usize,
        walks: usize,
        naming: &Naming<'_>,
        watch: &mut Watch<'_>,
    ) -> Vec<OperationsPart>;
}

/// Engines, one for each cluster.
pub(in crate::plan) type Engines<'e> = Vec<Box<dyn Engine + 'e>>;
