//! What is still to be tested after a test set, taken apart into clusters.

use rustc_hash::FxHashSet;

use crate::coverage::Tested;
use crate::model::{PointId, Stop, TestSet};
use crate::network::{Lists, Network};
use crate::observer::{Unwatched, Watch};
use crate::plan::answer::Unworked;
use crate::plan::naming::{Naming, point_of};
use crate::plan::problem::cluster::{ClusterShape, Clusters, form};
use crate::plan::problem::requirement::{WhenTested, gather};
use crate::plan::problem::setup::Setup;
use crate::plan::problem::stops::Stops;
use crate::plan::problem::switches::{Demands, SwitchDemand, WhyUnworked, not_operated};
use crate::plan::problem::testers::PairForStart;
use crate::plan::problem::visits::least_visits;
use crate::plan::request::Request;

/// What is still to be tested, and what nothing tests.
pub(in crate::plan) struct Remaining<'n> {
    pub(in crate::plan) coverage: Tested<'n>,
    pub(in crate::plan) setup: Setup<'n>,
    pub(in crate::plan) demands: Demands,
    pub(in crate::plan) stops: Stops,
    pub(in crate::plan) clusters: Clusters,
    /// For each pair group that some reading tests in some settings only: the candidate readings that may test it.
    pub(in crate::plan) readings: Lists,
    /// For each stop that must be read at, in how many rounds at least.
    pub(in crate::plan) least_visits: Vec<(Stop, u32)>,
    /// The pair groups that no setting tests. Those that only a solver can tell of are not among them.
    pub(in crate::plan) untestable: FxHashSet<u32>,
    /// Demands that nothing is planned for.
    pub(in crate::plan) unworked: Vec<(u32, WhyUnworked)>,
}

impl<'n> Remaining<'n> {
    pub(in crate::plan) fn new(
        network: &'n Network,
        test_set: &TestSet,
        request: &Request,
        watch: &mut Watch<'_>,
    ) -> Remaining<'n> {
        // To its end whoever watches: what is not known to be tested would be called added by the plan's readings.
        let coverage = Tested::by(network, test_set, request.need, &mut Watch::new(&mut Unwatched));
        let setup = Setup::new(network, &coverage, test_set, request);
        let demands = Demands::new(network, &coverage, test_set, &setup.choices, request);
        let requirements = gather(&setup, &coverage, &demands, request.search, watch);

        let stops = Stops::new(network);
        let read_at = |group: u32| requirements.read_at.get(group as usize).copied().unwrap_or_default();
        let least_visits = least_visits(&requirements.groups, read_at, &network.limits().tables);

        let mut shapes = Vec::new();
        let mut untestable = FxHashSet::default();
        let mut unworked = Vec::new();
        for (number, when_tested) in requirements.groups {
            match (when_tested, demands.get(number)) {
                (WhenTested::Always | WhenTested::Open, _) => {}
                (WhenTested::Sometimes(tables), _) => shapes.push((number, ClusterShape::Tables(tables))),
                (WhenTested::TooLarge(devices), _) => shapes.push((number, ClusterShape::Devices(devices))),
                (WhenTested::Never { .. }, None) => drop(untestable.insert(number)),
                (WhenTested::Never { is_met_if_void }, Some(_)) => {
                    unworked.push((number, WhyUnworked::never(is_met_if_void)));
                }
            }
        }
        let moves = demands.moves(&setup.choices).into_iter();
        shapes
            .extend(moves.map(|(number, holds)| {
                (number, ClusterShape::Tables(vec![PairForStart { holds, start: Vec::new() }]))
            }));
        let clusters = form(&setup, |device| stops.of(device), shapes, request);
        let readings = requirements.readings;
        Remaining { coverage, setup, demands, stops, clusters, readings, least_visits, untestable, unworked }
    }

    /// Where each switch is to be worked: those that are not operated, and these demands.
    pub(in crate::plan) fn unworked_switches(&self, unmet: &[(u32, WhyUnworked)], request: &Request) -> Vec<Unworked> {
        let Setup { network, start, choices, .. } = &self.setup;
        let mut rows: Vec<(PointId, Option<String>, WhyUnworked)> =
            not_operated(network, start, choices, request).into_iter().map(|(point, why)| (point, None, why)).collect();
        rows.extend(unmet.iter().map(|&(number, why)| match self.demands.get(number) {
            Some(SwitchDemand::UnderTest { device, position }) => {
                (point_of(network, device), Some(network.position_name(device, position).to_owned()), why)
            }
            Some(SwitchDemand::Moved { device, .. }) => (point_of(network, device), None, why),
            None => unreachable!("only demands are listed"),
        }));
        rows.sort_by_key(|row| row.0);
        rows.dedup();
        let naming = Naming { network, choices };
        rows.into_iter().map(|(point, position, why)| Unworked { device: naming.point(point), position, why }).collect()
    }
}
