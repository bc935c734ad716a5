//! The engine that lists the settings of a cluster.
//!
//! Cheap proofs first: a requirement is not met as things stand, so a walk with an operation is needed at least; where
//! one operation meets all, nothing is searched (nor are the distances made that the search needs). Of plans with more
//! operations the search settles which of equal ones is given, so a plan found otherwise that meets the lower bound
//! can't take its place; only the search for fewer walks ends where a greedy cover meets the largest conflict found.

use fixedbitset::FixedBitSet;

use crate::observer::Watch;
use crate::plan::limits::PlanLimits;
use crate::plan::naming::Naming;
use crate::plan::problem::cluster::{Cluster, ClusterDevice};
use crate::plan::proof::certificate::{Exclusion, OperationsPart, UnsatisfiableCore};
use crate::plan::proof::cluster_proof::ClusterProof;
use crate::plan::request::{Afterwards, People, Request};
use crate::plan::solve::engine::{ClusterPlan, ClusterStep, ClusterWay, Cost, Engine, FewestWalks, StepOrders};
use crate::plan::solve::order::{NearSettings, near_order};
use crate::plan::solve::settings_search::{FewestSettings, SettingsSearch};
use crate::plan::solve::walk_search::{FoundWalks, WalkSearch};

/// A cluster whose settings are listed, with the fewest that meet its requirements.
pub(in crate::plan) struct ListingEngine<'c> {
    cluster: &'c Cluster,
    request: &'c Request,
    limits: &'c PlanLimits,
    /// The setting after one operation that meets all, where there is one.
    single: Option<usize>,
    fewest: FewestSettings,
    /// Made when it is needed.
    search: Option<WalkSearch<'c>>,
}

impl<'c> ListingEngine<'c> {
    pub(in crate::plan) fn new(
        cluster: &'c Cluster,
        request: &'c Request,
        limits: &'c PlanLimits,
        watch: &mut Watch<'_>,
    ) -> ListingEngine<'c> {
        let single = after_one_operation(cluster);
        let fewest = match single {
            Some(setting) => FewestSettings { at_least: 1, settings: vec![setting] },
            None => SettingsSearch::new(cluster, limits).run(watch),
        };
        ListingEngine { cluster, request, limits, single, fewest, search: None }
    }

    fn search(&mut self) -> &mut WalkSearch<'c> {
        let ListingEngine { cluster, request, limits, .. } = *self;
        self.search.get_or_insert_with(|| WalkSearch::new(cluster, request, limits))
    }

    /// A plan through settings; where everything is put back, with a walk for that.
    fn way(&self, settings: &[Vec<u16>]) -> ClusterWay {
        let start = self.cluster.options(self.cluster.start);
        let back = (self.request.afterwards == Afterwards::AsFound).then_some(start);
        ClusterWay::through(&self.cluster.devices, settings.iter().chain(&back).map(|options| Some(&options[..])))
    }

    /// The settings found, in an order that operates little: what is left where the search gave up.
    fn in_near_order(&self, at_least: Cost) -> ClusterPlan {
        let settings: Vec<Vec<u16>> = self.fewest.settings.iter().map(|&at| self.cluster.options(at)).collect();
        let mut all = FixedBitSet::with_capacity(self.cluster.requirements.len());
        all.insert_range(..);
        let order = near_order(&mut Listed { cluster: self.cluster }, &settings, &all);
        let settings = order.map_or_else(Vec::new, |order| order.settings);
        ClusterPlan { way: self.way(&settings), at_least, is_least: false }
    }
}

impl Engine for ListingEngine<'_> {
    fn devices(&self) -> &[ClusterDevice] {
        &self.cluster.devices
    }

    fn groups(&self) -> Vec<u32> {
        self.cluster.groups.clone()
    }

    fn fewest_walks(&self) -> FewestWalks {
        FewestWalks { walks: self.fewest.settings.len(), at_least: self.fewest.at_least }
    }

    fn plan(&mut self, walks: usize, watch: &mut Watch<'_>) -> Option<ClusterPlan> {
        if let Some(setting) = self.single {
            let way = self.way(&[self.cluster.options(setting)]);
            return Some(ClusterPlan { at_least: way.cost(), way, is_least: true });
        }
        let first = self.search().run(walks, watch);
        // Within walks that are counted there is less to search. What is proven is what was proven of any number.
        let (found, proven) = match (first, self.request.people) {
            (FoundWalks::GaveUp { at_least }, People::Two) => {
                let alone = Request { people: People::One, ..self.request.clone() };
                let within = WalkSearch::new(self.cluster, &alone, self.limits).run(walks, watch);
                let found =
                    if matches!(within, FoundWalks::Plan(_)) { within } else { FoundWalks::GaveUp { at_least } };
                (found, Some(at_least))
            }
            (found, _) => (found, None),
        };
        match found {
            FoundWalks::Plan(plan) => {
                let settings: Vec<Vec<u16>> = plan.settings.iter().map(|&at| self.cluster.options(at)).collect();
                let settings = settings.iter().map(|options| Some(&options[..]));
                let way = ClusterWay::through(&self.cluster.devices, settings);
                let is_least = proven.is_none();
                Some(ClusterPlan { way, at_least: proven.unwrap_or(plan.at_least), is_least })
            }
            FoundWalks::Impossible => None,
            FoundWalks::GaveUp { at_least } => Some(self.in_near_order(at_least)),
        }
    }

    fn equal_ways(&mut self, walks: usize, plan: &ClusterPlan, watch: &mut Watch<'_>) -> Option<Vec<ClusterWay>> {
        if !plan.is_least {
            return None;
        }
        self.search().equal_ways(walks, plan.way.cost(), watch)
    }

    fn steps(&mut self, plan: &ClusterPlan, watch: &mut Watch<'_>) -> StepOrders {
        let all = plan.is_least.then(|| self.search().steps(plan.way.cost().operations, watch));
        all.flatten().unwrap_or_else(|| StepOrders::along(&plan.way, self.devices()))
    }

    fn read_after(&mut self, _: &ClusterPlan, steps: &[ClusterStep]) -> Vec<bool> {
        let cluster = self.cluster;
        let mut options = cluster.options(cluster.start);
        let mut settings: Vec<FixedBitSet> = Vec::with_capacity(steps.len());
        for step in steps {
            let place = cluster.devices.iter().position(|row| row.device == step.device).expect("of this cluster");
            options[place] = step.option;
            settings.push(cluster.met_in(cluster.number(&options)));
        }
        // From the first on, each that the others do without is left out.
        let mut read = vec![true; steps.len()];
        for left_out in 0..steps.len() {
            read[left_out] = false;
            let others = settings.iter().zip(&read).filter(|row| *row.1).map(|row| row.0);
            let met = others.fold(FixedBitSet::with_capacity(cluster.requirements.len()), |met, own| &met | own);
            read[left_out] = !settings[left_out].is_subset(&met);
        }
        read
    }

    fn exclusion(&mut self, least: usize, naming: &Naming<'_>, _: &mut Watch<'_>) -> Option<Exclusion> {
        let proof = ClusterProof::new(self.cluster, *naming);
        let exclusive = proof.exclusive();
        (exclusive.len() >= least).then(|| proof.exclusion(&exclusive))
    }

    fn core_of_walks(&mut self, walks: usize, naming: &Naming<'_>, watch: &mut Watch<'_>) -> Option<UnsatisfiableCore> {
        ClusterProof::new(self.cluster, *naming).core_of_walks(walks, watch)
    }

    fn operations_parts(
        &mut self,
        operations: usize,
        walks: usize,
        naming: &Naming<'_>,
        watch: &mut Watch<'_>,
    ) -> Vec<OperationsPart> {
        ClusterProof::new(self.cluster, *naming).operations(operations, walks, self.request, watch)
    }
}

/// The first setting one operation from the start in which all requirements hold.
fn after_one_operation(cluster: &Cluster) -> Option<usize> {
    let neighbours = (0..cluster.devices.len()).flat_map(|device| cluster.neighbours(cluster.start, device));
    let mut neighbours = neighbours.into_iter();
    neighbours.find(|&setting| (0..cluster.requirements.len()).all(|row| cluster.holds(row, setting)))
}

/// The settings of a cluster, looked through one by one.
struct Listed<'c> {
    cluster: &'c Cluster,
}

impl NearSettings for Listed<'_> {
    fn start(&self) -> Vec<u16> {
        self.cluster.options(self.cluster.start)
    }

    fn met_in(&mut self, options: &[u16]) -> Option<FixedBitSet> {
        Some(self.cluster.met_in(self.cluster.number(options)))
    }

    fn nearest(&mut self, from: &[u16], requirements: &FixedBitSet) -> Option<Vec<u16>> {
        let cluster = self.cluster;
        let is_reached = |options: &[u16]| {
            let mut rows = cluster.devices.iter().zip(from.iter().zip(options));
            rows.all(|(row, (here, there))| here == there || row.one_way != Some(*there))
        };
        let distance = |options: &[u16]| from.iter().zip(options).filter(|(here, there)| here != there).count();
        let meets = |&setting: &usize| requirements.ones().all(|row| cluster.holds(row, setting));
        let near = (0..cluster.settings).filter(meets).map(|setting| cluster.options(setting));
        near.filter(|options| is_reached(options)).min_by_key(|options| distance(options))
    }
}
