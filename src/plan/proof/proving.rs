//! The certificates of a whole plan, from those of its clusters.

use crate::observer::Watch;
use crate::plan::answer::Totals;
use crate::plan::naming::Naming;
use crate::plan::proof::certificate::{WhyNoFewerOperations, WhyNoFewerWalks};
use crate::plan::proof::claims::ProvenFigures;
use crate::plan::schedule::solution::Solution;

/// What certificates are made of, once a plan is found and what is optimal is known.
pub(in crate::plan) struct Proving<'s, 'e, 'w, 'o> {
    pub(in crate::plan) solution: &'s mut Solution<'e>,
    pub(in crate::plan) naming: Naming<'s>,
    pub(in crate::plan) watch: &'w mut Watch<'o>,
}

impl Proving<'_, '_, '_, '_> {
    /// How the bound on walks is known. `left_at_start`: a pair group that every reading as things stand leaves.
    pub(in crate::plan) fn walks(
        &mut self,
        proven: &ProvenFigures,
        totals: Totals,
        left_at_start: Option<u32>,
    ) -> WhyNoFewerWalks {
        match (proven.optimal.walks, totals.walks.saturating_sub(proven.last_walk), left_at_start) {
            (false, _, _) => WhyNoFewerWalks::NotProven,
            (true, 0, _) => WhyNoFewerWalks::NothingToOperate,
            (true, 1, Some(group)) => WhyNoFewerWalks::LeftAtStart { pair: self.naming.group(group) },
            (true, read, _) => self.walks_with_readings(read),
        }
    }

    /// The first that is found of pairs that exclude one another, in one cluster, and a core of one cluster.
    fn walks_with_readings(&mut self, walks: usize) -> WhyNoFewerWalks {
        let Proving { solution: Solution { engines, schedule, .. }, naming, watch } = self;
        // What a cluster needs bounds how many exclude one another.
        let needing = |number: &usize| schedule.of_clusters[*number].0 >= walks;
        let needing: Vec<usize> = (0..engines.len()).filter(needing).collect();
        let exclusion = needing.iter().find_map(|&number| engines[number].exclusion(walks, naming, watch));
        if let Some(exclusion) = exclusion {
            return WhyNoFewerWalks::ExcludeOneAnother(exclusion);
        }
        let core = needing.iter().find_map(|&number| engines[number].core_of_walks(walks - 1, naming, watch));
        WhyNoFewerWalks::SearchExhausted { core }
    }

    /// How the bound on operations, within as many walks as the plan has, is known.
    pub(in crate::plan) fn operations(&mut self, proven: &ProvenFigures, totals: Totals) -> WhyNoFewerOperations {
        let Totals { walks, operations, .. } = totals;
        let counts_walks = self.solution.schedule.one_way.is_none();
        if !proven.optimal.operations {
            return WhyNoFewerOperations::NotProven;
        }
        if operations == 0 {
            return WhyNoFewerOperations::NothingToOperate;
        }
        let Proving { solution: Solution { engines, schedule, .. }, naming, watch } = self;
        if (schedule.at_least.operations as usize) < operations {
            return if operations == walks {
                WhyNoFewerOperations::AWalkEach
            } else {
                WhyNoFewerOperations::SearchExhausted
            };
        }
        let of_clusters = engines.iter_mut().zip(&schedule.of_clusters);
        let parts = of_clusters.flat_map(|(engine, &(_, operations))| {
            // Where walks do not count, a plan of fewer operations has no more walks than these.
            let within = if counts_walks { walks } else { operations };
            engine.operations_parts(operations, within, naming, watch)
        });
        WhyNoFewerOperations::InParts { parts: parts.collect() }
    }
}
