//! The certificates of a whole plan, from those of its clusters.

use crate::plan::observer::Watch;
use crate::plan::proof::certificate::{WhyNoFewerOperations, WhyNoFewerWalks};
use crate::plan::proof::naming::Naming;
use crate::plan::schedule::compose::Schedule;
use crate::plan::solve::engine::Engines;

/// What certificates are made of, once a plan is found and what is optimal is known.
pub(in crate::plan) struct Proving<'s, 'e, 'w, 'o> {
    pub(in crate::plan) engines: &'s mut Engines<'e>,
    pub(in crate::plan) schedule: &'s Schedule,
    pub(in crate::plan) naming: &'s Naming<'s>,
    pub(in crate::plan) watch: &'w mut Watch<'o>,
}

impl Proving<'_, '_, '_, '_> {
    /// Why there are no fewer walks with readings: the first that is found of pairs that exclude one another, in one
    /// cluster, and a core of one cluster.
    pub(in crate::plan) fn walks(&mut self, walks: usize) -> WhyNoFewerWalks {
        let Proving { engines, schedule, naming, watch } = self;
        // What a cluster needs bounds how many exclude one another.
        let needing = |number: &usize| schedule.of_clusters[*number].0 >= walks;
        let needing: Vec<usize> = (0..engines.len()).filter(needing).collect();
        let exclusion = needing.iter().find_map(|&number| engines[number].exclusion(walks, naming, watch));
        if let Some(exclusion) = exclusion {
            return WhyNoFewerWalks::ExcludeOneAnother(exclusion);
        }
        let core = needing.iter().find_map(|&number| engines[number].core_of_walks(walks - 1, naming, watch));
        WhyNoFewerWalks::SearchExhausted(core)
    }

    /// Why there are no fewer operations within a number of walks.
    pub(in crate::plan) fn operations(&mut self, operations: usize, walks: usize) -> WhyNoFewerOperations {
        let Proving { engines, schedule, naming, watch } = self;
        if (schedule.at_least.operations as usize) < operations {
            return if operations == walks {
                WhyNoFewerOperations::AWalkEach
            } else {
                WhyNoFewerOperations::SearchExhausted
            };
        }
        let of_clusters = engines.iter_mut().zip(&schedule.of_clusters);
        let parts = of_clusters
            .flat_map(|(engine, &(_, operations))| engine.operations_parts(operations, walks, naming, watch));
        WhyNoFewerOperations::InParts(parts.collect())
    }
}
