//! The two leads of a reading.

use crate::model::{Conducts, Lead, Reading};
use crate::network::{Body, BridgeIndex, Edge, Network};

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

/// The bodies that the two leads touch, and what may join them without making the reading void.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub(crate) struct LeadBodies {
    pub(crate) touched: [Vec<Body>; 2],
    /// Holders of electronics that is left in, as the relief of the reading's circuit says.
    left_in: Vec<BridgeIndex>,
}

impl LeadBodies {
    pub(crate) fn of(network: &Network, reading: &Reading) -> LeadBodies {
        LeadBodies { left_in: network.left_in(reading), ..LeadBodies::without_relief(network, reading.leads()) }
    }

    /// Where nothing that is left in is let pass.
    pub(crate) fn without_relief(network: &Network, leads: &[Lead; 2]) -> LeadBodies {
        LeadBodies::on(leads.each_ref().map(|lead| {
            let mut bodies: Vec<Body> = lead.touches().iter().map(|&terminal| network.body(terminal)).collect();
            bodies.sort_unstable();
            bodies.dedup();
            bodies
        }))
    }

    /// Leads on these bodies, with nothing left in for their sake.
    pub(crate) fn on(touched: [Vec<Body>; 2]) -> LeadBodies {
        LeadBodies { touched, left_in: Vec::new() }
    }

    /// Whether anything is left in that may join them.
    pub(crate) fn have_relief(&self) -> bool {
        !self.left_in.is_empty()
    }

    /// Whether an edge makes the reading void where it may join the leads.
    pub(crate) fn may_void(&self, edge: Edge) -> bool {
        match edge {
            Edge::Bridge { bridge, conducts, .. } => self.may_be_voided(bridge, conducts),
            Edge::Contact(_) => true,
        }
    }

    /// The same of an element of a holder of bridges.
    pub(crate) fn may_be_voided(&self, holder: BridgeIndex, conducts: Conducts) -> bool {
        conducts == Conducts::Sure || !self.left_in.contains(&holder)
    }
}
