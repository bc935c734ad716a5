//! How large the tables of readings may get.

/// Sizes of the tables that say for which positions of devices something holds.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct TableLimits {
    /// Combinations of positions that one table lists; 65,536, which is 16 devices of two positions. Where more devices
    /// bear on one another than that, what a test set tests is worked out by decision diagrams, and a plan is found
    /// without tables.
    pub combinations: usize,
    /// Nodes of one decision diagram; 65,536. Past it, or where more than a 64th as many devices bear on one another, a
    /// reading whose leads they could join counts as void, and what they decide counts as not tested.
    pub diagram_nodes: usize,
}

impl Default for TableLimits {
    fn default() -> TableLimits {
        TableLimits { combinations: 1 << 16, diagram_nodes: 1 << 16 }
    }
}
