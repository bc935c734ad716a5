//! A group of a region as a plain graph, for questions that are not answered by listing combinations.

use super::condition::Digit;
use super::configuration::Conduct;
use super::leads::Side;
use super::region::{DeviceGroup, LEAD_A, LEAD_B, Region};

/// What an edge of a subgraph ends on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum SubgraphEnd {
    Lead(Side),
    /// A body, by its place in the subgraph.
    Node(u32),
}

/// Bodies and devices that bear on one another in a reading, as a graph.
#[derive(Clone, Debug)]
pub(crate) struct Subgraph {
    pub(crate) node_count: u32,
    pub(crate) edges: Vec<([SubgraphEnd; 2], Conduct)>,
    /// Its devices, ascending, each with its number of positions.
    pub(crate) digits: Vec<Digit>,
}

/// Where a reading has a body.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(crate) enum BodyPlace {
    /// On a lead in any case.
    Held(Side),
    /// In one of the region's groups, by its number, at this place.
    In { group: u32, node: u32 },
}

impl Region {
    /// A group of [`Region::groups`] or [`Region::void_groups`] as a graph.
    pub(super) fn subgraph(&self, group: &DeviceGroup) -> Subgraph {
        let nodes = self.nodes_of(group);
        let end = |end: u32| match end {
            LEAD_A => SubgraphEnd::Lead(Side::A),
            LEAD_B => SubgraphEnd::Lead(Side::B),
            node => SubgraphEnd::Node(nodes.binary_search(&node).expect("an edge of a group ends in it") as u32),
        };
        let edges = self.edges_of(group).map(|edge| (edge.ends.map(end), edge.conduct));
        Subgraph { node_count: nodes.len() as u32, edges: edges.collect(), digits: self.digits(group).to_vec() }
    }
}
