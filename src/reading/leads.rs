//! The two leads of a reading.

use crate::model::Lead;
use crate::network::{Body, Network};

/// One of the two leads.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) enum Side {
    A,
    B,
}

impl Side {
    pub(crate) const BOTH: [Side; 2] = [Side::A, Side::B];

    pub(crate) fn other(self) -> Side {
        match self {
            Side::A => Side::B,
            Side::B => Side::A,
        }
    }
}

/// The bodies that the two leads touch.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub(crate) struct LeadBodies(pub(crate) [Vec<Body>; 2]);

impl LeadBodies {
    pub(crate) fn of(network: &Network, leads: &[Lead; 2]) -> LeadBodies {
        LeadBodies([0, 1].map(|lead: usize| {
            let mut bodies: Vec<Body> = leads[lead].touches().iter().map(|&terminal| network.body(terminal)).collect();
            bodies.sort_unstable();
            bodies.dedup();
            bodies
        }))
    }
}
