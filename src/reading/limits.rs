//! How large the tables of readings may get.

/// Sizes of the tables that say for which positions of devices something holds.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct TableLimits {
    /// Combinations of positions that one table lists; 65,536, which is 16 devices of two positions. Where more devices
    /// bear on one another than that, a reading whose leads they could join counts as void, what they decide counts as
    /// not tested, and a plan is found without tables.
    pub combinations: usize,
}

impl Default for TableLimits {
    fn default() -> TableLimits {
        TableLimits { combinations: 1 << 16 }
    }
}
