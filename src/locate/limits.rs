//! How much is walked, compared, solved and tried to find where insulation leaks.

use crate::model::scale;

/// Sizes and budgets of finding where insulation leaks. Past each of them every bound still holds and no fault is ruled
/// out that may be there: less is claimed.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct LocateLimits {
    /// Gaps made. A length, a point, a way or a board with more than are left has none: what leaks there is unknown,
    /// and a reading that its copper has part in says nothing of a fault elsewhere.
    pub gaps_made: usize,
    /// Gaps walked to find those of a cut that current could take. Past it all gaps across the cut are taken.
    pub gaps_walked: usize,
    /// Gaps in one sum. Past it that sum is not used.
    pub gaps_in_sum: usize,
    /// Pairs of readings compared, copper by copper. Past it contradictions between two readings may go unnoticed.
    pub readings_compared: usize,
    /// Bodies of copper walked to compare two readings. Past it they are not found to contradict one another.
    pub bodies_compared: usize,
    /// Columns times sums of a block solved with all its sums. Past it only those sums "at least" are kept that health
    /// does not explain. Current through floating copper ties all readings at a board together; without the sums that
    /// tell of no fault such a block falls apart into small ones. Bounds may be weaker, and contradictions that tell of
    /// no fault go unnoticed.
    pub block_with_all_sums: usize,
    /// Columns times sums of a block solved for every column. Past it columns that a single sum clears keep that sum's
    /// bound.
    pub block_for_every_column: usize,
    /// Columns times sums of a block solved at all. Past it single sums bound every column.
    pub block_solved: usize,
    /// Linear programs solved to bound the columns of a block, one of a block larger than `block_for_every_column`
    /// counting for as many as it is times as large. Past it single sums bound the rest.
    pub programs_for_bounds: usize,
    /// Linear programs solved to find the fewest faults of a block, counted like that. Past it the fewest faults are
    /// "at least", and gaps stay listed that one fault may be in.
    pub programs_for_faults: usize,
    /// The same for each outcome of a reading that may be taken next.
    pub programs_for_outcome: usize,
    /// Combinations of the starts of unknown devices that bear on some readings, each looked at by itself. Past it their
    /// sums are those that hold for every one.
    pub starts_compared: usize,
    /// Sets of faults weighed for the next reading. Past it some are left out, and no place is said to be the one left.
    pub explanations_weighed: usize,
    /// Devices whose operation is tried for the next reading, the nearest to the suspects first.
    pub devices_operated: usize,
    /// Devices whose operations are tried two at a time.
    pub devices_in_pairs: usize,
    /// Suspects that a reading straight across is tried for.
    pub suspects_read_across: usize,
    /// Ways that the next reading is tried at.
    pub ways_tried: usize,
    /// Readings weighed, after up to one operation and after two. Past it no further settings are tried.
    pub readings_weighed: usize,
    /// Readings whose outcomes are worked out. Past it the suspects are "not split".
    pub readings_worked_out: usize,
    /// Places where copper could be parted that are tried two at a time. Past it there may be said to be none.
    pub partings_in_pairs: usize,
}

impl LocateLimits {
    /// The same with every budget times a factor.
    #[must_use]
    pub fn with_effort(mut self, factor: f64) -> LocateLimits {
        let budgets = [
            &mut self.gaps_made,
            &mut self.gaps_walked,
            &mut self.gaps_in_sum,
            &mut self.readings_compared,
            &mut self.bodies_compared,
            &mut self.block_with_all_sums,
            &mut self.block_for_every_column,
            &mut self.block_solved,
            &mut self.programs_for_bounds,
            &mut self.programs_for_faults,
            &mut self.programs_for_outcome,
            &mut self.starts_compared,
            &mut self.explanations_weighed,
            &mut self.devices_operated,
            &mut self.devices_in_pairs,
            &mut self.suspects_read_across,
            &mut self.ways_tried,
            &mut self.readings_weighed,
            &mut self.readings_worked_out,
            &mut self.partings_in_pairs,
        ];
        scale(budgets, factor);
        self
    }

    /// How many linear programs of a block of this size so many come to.
    pub(super) fn programs(&self, counted: usize, size: usize) -> usize {
        counted / (size / self.block_for_every_column.max(1)).max(1)
    }
}

impl Default for LocateLimits {
    fn default() -> LocateLimits {
        LocateLimits {
            gaps_made: 1 << 18,
            gaps_walked: 1 << 13,
            gaps_in_sum: 1 << 14,
            readings_compared: 256,
            bodies_compared: 1 << 13,
            block_with_all_sums: 1 << 13,
            block_for_every_column: 1 << 14,
            block_solved: 1 << 18,
            programs_for_bounds: 600,
            programs_for_faults: 600,
            programs_for_outcome: 48,
            starts_compared: 16,
            explanations_weighed: 1 << 11,
            devices_operated: 24,
            devices_in_pairs: 10,
            suspects_read_across: 64,
            ways_tried: 24,
            readings_weighed: 1 << 15,
            readings_worked_out: 24,
            partings_in_pairs: 48,
        }
    }
}
