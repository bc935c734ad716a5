//! The certificates of a whole plan, from those of its clusters.

use crate::plan::observer::Watch;
use crate::plan::problem::cluster::Cluster;
use crate::plan::proof::certificate::{WhyNoFewerOperations, WhyNoFewerWalks};
use crate::plan::proof::cluster_proof::ClusterProof;
use crate::plan::proof::naming::Naming;
use crate::plan::request::Request;
use crate::plan::schedule::compose::Schedule;
use crate::plan::solve::large::{LargePlan, LargeWalks};

/// What certificates are made of, once a plan is found and what is optimal is known.
pub(in crate::plan) struct Proving<'s, 'l, 'w, 'o> {
    pub(in crate::plan) small: &'s [Cluster],
    pub(in crate::plan) large: &'s mut LargeWalks<'l>,
    pub(in crate::plan) request: &'s Request,
    pub(in crate::plan) naming: &'s Naming<'s>,
    pub(in crate::plan) watch: &'w mut Watch<'o>,
}

impl Proving<'_, '_, '_, '_> {
    /// Why there are no fewer walks with readings: the first that is found of pairs that exclude one another, in one
    /// cluster, and a core of one cluster.
    pub(in crate::plan) fn walks(&mut self, walks: usize, schedule: &Schedule) -> WhyNoFewerWalks {
        let proofs: Vec<ClusterProof<'_>> =
            self.small.iter().map(|cluster| ClusterProof::new(cluster, self.naming)).collect();
        // What a cluster needs bounds how many exclude one another.
        let may_be = |index: &usize| schedule.at_least[*index].0 >= walks;
        let needing: Vec<usize> = (0..proofs.len()).filter(may_be).collect();
        for &index in &needing {
            let exclusive = proofs[index].exclusive();
            if exclusive.len() >= walks {
                return WhyNoFewerWalks::ExcludeOneAnother(proofs[index].exclusion(&exclusive));
            }
        }
        if self.large.exclusive_count() >= walks
            && let Some(exclusion) = self.large.exclusion(self.naming, self.watch)
        {
            return WhyNoFewerWalks::ExcludeOneAnother(exclusion);
        }
        let mut core = needing.iter().find_map(|&index| proofs[index].core_of_walks(walks - 1, self.watch));
        if core.is_none() {
            core = self.large.core_of_walks(walks - 1, self.naming, self.watch);
        }
        WhyNoFewerWalks::SearchExhausted(core)
    }

    /// Why there are no fewer operations within a number of walks.
    pub(in crate::plan) fn operations(
        &mut self,
        operations: usize,
        walks: usize,
        schedule: &Schedule,
        large: &LargePlan,
    ) -> WhyNoFewerOperations {
        if schedule.operations_at_least + large.at_least.operations < operations {
            return if operations == walks {
                WhyNoFewerOperations::AWalkEach
            } else {
                WhyNoFewerOperations::SearchExhausted
            };
        }
        let mut parts = Vec::new();
        for (cluster, &(_, at_least)) in self.small.iter().zip(&schedule.at_least) {
            let proof = ClusterProof::new(cluster, self.naming);
            parts.extend(proof.operations(at_least, walks, self.request, self.watch));
        }
        parts.extend(self.large.operations(large, walks, self.request, self.naming, self.watch));
        WhyNoFewerOperations::InParts(parts)
    }
}
