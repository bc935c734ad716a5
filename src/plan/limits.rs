//! How much planning lists, searches and tries.

/// Sizes and budgets of planning. Past each of them a plan stays sound and its bounds stay proven; less is called proven.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct PlanLimits {
    /// Ways in which a few switches may stand, listed to say why pairs exclude one another. Past it the pairs are named
    /// without what keeps them apart.
    pub ways_explained: usize,
    /// Sets of switches tried for one such reason. Past it a reason may name more switches than it must, or be left out.
    pub switch_sets_tried: usize,
    /// Up to so many switches, every set is tried before a larger one.
    pub switches_together: usize,
    /// Requirements looked at by the searches for the pairs that already need as many operations as the whole. Past it
    /// they are not named, or not called irreducible.
    pub core_budget: usize,
}

impl Default for PlanLimits {
    fn default() -> PlanLimits {
        PlanLimits { ways_explained: 64, switch_sets_tried: 400, switches_together: 3, core_budget: 2_000_000 }
    }
}
