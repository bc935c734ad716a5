//! Certificates of a cluster whose settings are listed: why its requirements exclude one another, and few requirements
//! that need as many walks or operations as all of them.
//!
//! A core is grown before it is shrunk: what the settings of a plan for the core so far leave out is added, until there
//! is no plan; then each requirement is left out in turn. Growing keeps the searches small; starting from all
//! requirements would make each of them as large as the one that was just finished.

use std::rc::Rc;

use fixedbitset::FixedBitSet;
use rustc_hash::FxHashMap;

use crate::observer::Watch;
use crate::plan::limits::PlanLimits;
use crate::plan::naming::{Naming, RequiredGroup};
use crate::plan::problem::cluster::Cluster;
use crate::plan::proof::certificate::{Exclusion, OperationsPart, UnsatisfiableCore, WhyOperations};
use crate::plan::proof::exclusion::{Needs, Ways, conflicts};
use crate::plan::request::{Afterwards, Priority, Request};
use crate::plan::solve::settings_search::SettingsSearch;
use crate::plan::solve::walk_search::{FoundWalks, WalkSearch};

/// A cluster with those of its requirements that are pairs: what is asked for switches is not in certificates.
pub(in crate::plan) struct ClusterProof<'c> {
    cluster: &'c Cluster,
    pairs: FixedBitSet,
    naming: Naming<'c>,
}

impl<'c> ClusterProof<'c> {
    pub(in crate::plan) fn new(cluster: &'c Cluster, naming: Naming<'c>) -> ClusterProof<'c> {
        let mut pairs = FixedBitSet::with_capacity(cluster.requirements.len());
        for (row, requirement) in cluster.requirements.iter().enumerate() {
            pairs.set(row, naming.is_pair(requirement.group));
        }
        ClusterProof { cluster, pairs, naming }
    }

    fn limits(&self) -> &'c PlanLimits {
        &self.naming.network.limits().plan
    }

    /// Pairs no two of which are tested in one setting, greedily many.
    pub(in crate::plan) fn exclusive(&self) -> Vec<usize> {
        SettingsSearch::new(self.cluster, self.limits()).exclusive(&self.pairs)
    }

    /// The certificate that requirements exclude one another.
    pub(in crate::plan) fn exclusion(&self, rows: &[usize]) -> Exclusion {
        let cluster = self.cluster;
        let devices: Vec<_> = cluster.devices.iter().map(|row| row.device).collect();
        let mut tables = ListedNeeds { cluster, rows, known: FxHashMap::default() };
        self.naming.exclusion(&self.required(rows), &conflicts(&mut tables, rows.len(), self.limits()), &devices)
    }

    fn required(&self, rows: &[usize]) -> Vec<RequiredGroup<'_>> {
        let rows = rows.iter().map(|&row| &self.cluster.requirements[row]);
        rows.map(|row| (row.group, row.start.as_slice())).collect()
    }

    /// Pairs that can't be tested in so many settings; none where the pairs alone can, or that was not found out.
    pub(in crate::plan) fn core_of_walks(&self, settings: usize, watch: &mut Watch<'_>) -> Option<UnsatisfiableCore> {
        let mut search = SettingsSearch::new(self.cluster, self.limits());
        let mut core = FixedBitSet::with_capacity(self.cluster.requirements.len());
        loop {
            let found = search.within(&core, settings, watch)?;
            let Some(found) = found else { break };
            let is_left = |row: &usize| !found.iter().any(|&setting| self.cluster.holds(*row, setting));
            core.insert(self.pairs.ones().find(is_left)?);
        }
        // In which order settings come is not looked at here; where that matters, less may already be too much.
        let mut is_irreducible = self.cluster.devices.iter().all(|row| row.one_way.is_none());
        for row in core.ones().collect::<Vec<_>>() {
            core.remove(row);
            match search.within(&core, settings, watch) {
                Some(None) => {}
                Some(Some(_)) => core.insert(row),
                None => {
                    core.insert(row);
                    is_irreducible = false;
                }
            }
        }
        Some(self.naming.core(&self.required(&core.ones().collect::<Vec<_>>()), is_irreducible))
    }

    /// Why the cluster needs so many operations within a number of walks.
    pub(in crate::plan) fn operations(
        &self,
        operations: usize,
        walks: usize,
        request: &Request,
        watch: &mut Watch<'_>,
    ) -> Vec<OperationsPart> {
        if operations == 0 {
            return Vec::new();
        }
        let apart = WalkSearch::new(self.cluster, request, self.limits()).apart(self.pairs.ones());
        if apart.iter().map(|(_, operations)| operations).sum::<usize>() >= operations {
            let part = |(row, operations): (usize, usize)| {
                let required = &self.cluster.requirements[row];
                let (pair, start) = (self.naming.group(required.group), self.naming.start(&required.start));
                let why = WhyOperations::Nearest { pair, start };
                OperationsPart { operations, devices: self.switches(&[row]), why }
            };
            return apart.into_iter().map(part).collect();
        }
        let exclusive = self.exclusive();
        // What is read in a walk of its own is not as at the start: to put it back is a walk more.
        let last = usize::from(request.afterwards == Afterwards::AsFound);
        if exclusive.len() + last >= operations {
            return vec![OperationsPart {
                operations,
                devices: self.switches(&exclusive),
                why: WhyOperations::ExcludeOneAnother(self.exclusion(&exclusive)),
            }];
        }
        let core = self.core_of_operations(operations, walks, request, watch);
        let devices = match &core {
            Some((rows, _)) => self.switches(rows),
            None => self.naming.points(self.cluster.devices.iter().map(|row| row.device)),
        };
        let core = core.map(|(rows, is_irreducible)| self.naming.core(&self.required(&rows), is_irreducible));
        vec![OperationsPart { operations, devices, why: WhyOperations::SearchExhausted { core } }]
    }

    /// The switches on which some requirements depend.
    fn switches(&self, rows: &[usize]) -> Vec<String> {
        let mask = rows.iter().fold(0u64, |mask, &row| mask | self.cluster.requirements[row].devices);
        let devices = self.cluster.devices.iter().enumerate().filter(|(place, _)| mask >> place & 1 == 1);
        self.naming.points(devices.map(|(_, row)| row.device))
    }

    /// Pairs that already need so many operations, and whether none can be left out.
    fn core_of_operations(
        &self,
        operations: usize,
        walks: usize,
        request: &Request,
        watch: &mut Watch<'_>,
    ) -> Option<(Vec<usize>, bool)> {
        let request = Request { priority: Priority::Operations, ..request.clone() };
        let mut left = self.limits().core_budget;
        // A plan for these rows with fewer operations: its settings. None: not known.
        let mut with_fewer = |rows: &[usize], watch: &mut Watch<'_>| -> Option<Option<Vec<usize>>> {
            let requirements = rows.iter().map(|&row| self.cluster.requirements[row].clone()).collect();
            let Cluster { devices, settings, start, .. } = self.cluster;
            let devices = devices.clone();
            let part = Cluster { devices, settings: *settings, start: *start, requirements, groups: Vec::new() };
            // Few requirements make steps no cheaper than this many.
            let weight = 16usize.div_ceil(rows.len().max(1));
            let mut search = WalkSearch::new(&part, &request, self.limits()).with_budget(left / weight);
            let found = search.run(walks, watch);
            left = left.saturating_sub(search.spent() * weight + part.settings);
            match found {
                FoundWalks::Plan(plan) if (plan.cost.operations as usize) < operations => Some(Some(plan.settings)),
                FoundWalks::GaveUp { at_least } if (at_least.operations as usize) < operations => None,
                _ => Some(None),
            }
        };
        let mut core: Vec<usize> = Vec::new();
        while let Some(settings) = with_fewer(&core, watch)? {
            let is_left = |row: &usize| !settings.iter().any(|&setting| self.cluster.holds(*row, setting));
            core.push(self.pairs.ones().find(is_left)?);
        }
        let mut is_irreducible = true;
        for row in core.clone() {
            let fewer: Vec<usize> = core.iter().copied().filter(|&other| other != row).collect();
            match with_fewer(&fewer, watch) {
                Some(None) => core = fewer,
                Some(Some(_)) => {}
                None => is_irreducible = false,
            }
        }
        core.sort_unstable();
        Some((core, is_irreducible))
    }
}

/// What rows of a cluster need, from their tables.
struct ListedNeeds<'c> {
    cluster: &'c Cluster,
    rows: &'c [usize],
    known: FxHashMap<(usize, Vec<usize>), Rc<Ways>>,
}

impl Needs for ListedNeeds<'_> {
    fn bearing(&mut self, one: usize, other: usize) -> Option<Vec<usize>> {
        let devices = |row: usize| self.cluster.requirements[self.rows[row]].devices;
        let both = devices(one) & devices(other);
        Some((0..self.cluster.devices.len()).filter(|device| both >> device & 1 == 1).collect())
    }

    fn options(&self, switch: usize) -> usize {
        usize::from(self.cluster.devices[switch].options)
    }

    fn needs(&mut self, requirement: usize, switches: &[usize]) -> Option<Rc<Ways>> {
        let ListedNeeds { cluster, rows, known } = self;
        let ways = known.entry((requirement, switches.to_vec())).or_insert_with(|| {
            let settings = (0..cluster.settings).filter(|&setting| cluster.holds(rows[requirement], setting));
            let way = |setting| switches.iter().map(|&switch| cluster.option(setting, switch)).collect();
            Rc::new(settings.map(way).collect())
        });
        Some(Rc::clone(ways))
    }
}
