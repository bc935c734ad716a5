//! How much planning lists, searches and tries.

use crate::model::scale;

/// Sizes and budgets of planning. Past each of them a plan stays sound and its bounds stay proven; less is called
/// proven.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct PlanLimits {
    /// Ways in which a few switches may stand, listed to say why pairs exclude one another. Past it the pairs are named
    /// without what keeps them apart.
    pub ways_explained: usize,
    /// Sets of switches tried for one such reason. Past it a reason may name more switches than it must, or be left
    /// out.
    pub switch_sets_tried: usize,
    /// Up to so many switches, every set is tried before a larger one.
    pub switches_together: usize,
    /// Requirements looked at by the searches for the pairs that already need as many operations as the whole. Past it
    /// they are not named, or not called irreducible.
    pub core_budget: usize,
    /// Steps of the solver on each core. Past it a core is left out, or not called irreducible.
    pub solver_core_steps: u64,
    /// Cells of tables that are filled for the starts of one pair. Beyond, the pair goes to the solver.
    pub table_cells: usize,
    /// Nodes of the search for the fewest settings of one cluster that is listed. Spent: the greedy cover, with the
    /// bound reached.
    pub cover_nodes: usize,
    /// Requirements that the search for the fewest operations of one listed cluster looks at, over all nodes it opens.
    /// Spent: settings in a greedy order, operations not proven.
    pub operation_steps: usize,
    /// Requirements of one cluster that are compared with one another, to leave out those that another implies. Past
    /// it only those that are the same are left out.
    pub compared_tables: usize,
    /// Settings that are compared with one another at each branching of the search for the fewest, to leave out those
    /// that another does as well as. Past it all are kept.
    pub compared_settings: usize,
    /// Walks that are searched for. Beyond, a listed cluster has its settings in a greedy order, not proven, and what
    /// the solver would need more for is not planned.
    pub walks: u16,
    /// Nodes of the listing of one cluster's ways of equally few operations. Spent: stops not proven.
    pub sharing_nodes: usize,
    /// Ways of equally few operations that are listed of one cluster. More: stops not proven.
    pub sharing_ways: usize,
    /// Nodes of the choice of ways that share stops, for clusters that have stops in common. Spent: the best choice so
    /// far, stops not proven.
    pub choice_nodes: usize,
    /// Nodes of the search for the rounds in which sources are read at. Spent: some set of rounds, from which none can be
    /// left out.
    pub visit_nodes: usize,
    /// Choices of equally few stops that are kept to compare their metres. More: metres not proven.
    pub equal_choices: usize,
    /// Ways of all clusters together of which every combination is measured in metres. More: metres not proven.
    pub compared_ways: usize,
    /// Steps on tours while ways are compared by metres. Spent: metres not proven.
    pub tour_steps: usize,
    /// Stops of which the shortest tour is found; time and memory double with each. Beyond: a good tour without a
    /// claim.
    pub exact_stops: usize,
    /// For two people: states that are kept side by side while the one way past all operations is searched, enough for 12
    /// stops in any order. More: the nearest of them are followed, and the way is not called the shortest.
    pub ways_kept: usize,
    /// Changes of a good tour that are looked at before it is taken as it is.
    pub tour_changes: usize,
    /// Stops whose distances are compared all to all. Beyond: a walk along a tree of passages.
    pub compared_places: usize,
    /// Steps of the solver on each question about a cluster: what can be tested at all, which pairs exclude one
    /// another, the fewest walks, the fewest operations and stops. Spent: the plan found so far, not proven.
    pub solver_steps: u64,
    /// Pairs of requirements that the solver is asked about to find some that exclude one another. Spent: a bound on
    /// walks that may be weaker.
    pub compared_requirements: usize,
    /// Starts of unknown switches that one pair may take in the solver. More: the pair is not planned.
    pub starts_of_pair: usize,
    /// Nodes of one decision diagram of those that tell why nothing tests a pair. Past it the reason that claims least.
    pub reason_nodes: usize,
    /// Pairs for which restrictions that open them only together are made fewer one by one. Past it more restrictions
    /// are given for a pair than may need to be lifted.
    pub restrictions_reduced: usize,
    /// Readings that are tried with extras in place. Past it pairs may be left for which there is one.
    pub extra_readings: usize,
    /// Extras that are tried two at a time. Past it pairs may be left that two would do for.
    pub extra_twos: usize,
    /// Nodes of the search for the fewest extras, in each part that shares no pair with the others. Past it the best
    /// found is taken, and not called the fewest.
    pub extra_nodes: usize,
    /// Extras that are compared with the others, to leave out those that another does as well. Past it the search has
    /// more to choose from.
    pub extras_compared: usize,
    /// Pairs from which a setting for a round of an extra is built up. Past it rounds may be more; the first is always
    /// tried.
    pub extra_settings: usize,
    /// Pieces of copper at one board that leads are joined for. Past it readings are left as they are.
    pub joined_nodes: usize,
    /// Steps of the search for the fewest joined readings, for each number of them. Past it they are not called the
    /// fewest.
    pub colouring_steps: usize,
}

impl PlanLimits {
    /// The same with every budget times a factor. The most walks, and the most stops of a proven tour, stay.
    #[must_use]
    pub fn with_effort(mut self, factor: f64) -> PlanLimits {
        let budgets = [
            &mut self.ways_explained,
            &mut self.switch_sets_tried,
            &mut self.core_budget,
            &mut self.table_cells,
            &mut self.cover_nodes,
            &mut self.operation_steps,
            &mut self.sharing_nodes,
            &mut self.sharing_ways,
            &mut self.choice_nodes,
            &mut self.visit_nodes,
            &mut self.equal_choices,
            &mut self.compared_ways,
            &mut self.tour_steps,
            &mut self.ways_kept,
            &mut self.tour_changes,
            &mut self.compared_requirements,
            &mut self.compared_tables,
            &mut self.compared_settings,
            &mut self.starts_of_pair,
            &mut self.reason_nodes,
            &mut self.restrictions_reduced,
            &mut self.extra_readings,
            &mut self.extra_twos,
            &mut self.extra_nodes,
            &mut self.extras_compared,
            &mut self.extra_settings,
            &mut self.joined_nodes,
            &mut self.colouring_steps,
        ];
        scale(budgets, factor);
        for steps in [&mut self.solver_core_steps, &mut self.solver_steps] {
            *steps = (*steps as f64 * factor) as u64;
        }
        self
    }
}

impl Default for PlanLimits {
    fn default() -> PlanLimits {
        PlanLimits {
            ways_explained: 64,
            switch_sets_tried: 400,
            switches_together: 3,
            core_budget: 2_000_000,
            solver_core_steps: 2_000_000,
            table_cells: 1 << 24,
            cover_nodes: 200_000,
            operation_steps: 12_000_000,
            compared_tables: 3_000,
            compared_settings: 2_000,
            walks: 250,
            sharing_nodes: 100_000,
            sharing_ways: 2_000,
            choice_nodes: 200_000,
            visit_nodes: 20_000,
            equal_choices: 2_000,
            compared_ways: 4_096,
            tour_steps: 300_000_000,
            exact_stops: 12,
            ways_kept: 12_288,
            tour_changes: 20_000_000,
            compared_places: 400,
            solver_steps: 8_000_000,
            compared_requirements: 30_000,
            starts_of_pair: 40,
            reason_nodes: 1 << 13,
            restrictions_reduced: 16,
            extra_readings: 200_000,
            extra_twos: 20_000,
            extra_nodes: 100_000,
            extras_compared: 2_000,
            extra_settings: 16,
            joined_nodes: 2_000,
            colouring_steps: 200_000,
        }
    }
}
