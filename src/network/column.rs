//! Which of a circuit's two recorded figures a reading belongs to.

use serde::{Deserialize, Serialize};

use super::graph::{Network, Role};
use crate::model::{Conductor, Lead, TerminalRef};

/// One of the two figures that are recorded of a circuit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Column {
    /// Between live conductors.
    LiveToLive,
    /// Between live conductors and earth.
    LiveToEarth,
}

impl Column {
    /// Both, in order.
    pub const BOTH: [Column; 2] = [Column::LiveToLive, Column::LiveToEarth];
}

/// Why a reading belongs to neither.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Neither {
    /// Both leads are on protective conductors alone.
    EarthToEarth,
    /// One lead joins live and protective conductors.
    LiveWithEarth,
    /// A lead touches what no supply conductor is joined to in service.
    NoRole,
}

/// What one lead touches.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Touches {
    Live,
    Earth,
    Both,
    NoRole,
}

/// The column of a reading, by the roles of what its leads touch.
///
/// Time linear in the terminals that the leads touch.
pub fn column(network: &Network, leads: &[Lead; 2]) -> Result<Column, Neither> {
    match leads.each_ref().map(|lead| touches(network, lead)) {
        [Touches::NoRole, _] | [_, Touches::NoRole] => Err(Neither::NoRole),
        [Touches::Both, _] | [_, Touches::Both] => Err(Neither::LiveWithEarth),
        [Touches::Earth, Touches::Earth] => Err(Neither::EarthToEarth),
        [Touches::Live, Touches::Live] => Ok(Column::LiveToLive),
        [Touches::Live, Touches::Earth] | [Touches::Earth, Touches::Live] => Ok(Column::LiveToEarth),
    }
}

/// Whether a terminal is earth alone: joined to the main earthing terminal for good (whatever else is, a source that is
/// earthed), or in service to protective conductors and nothing else.
pub(crate) fn is_earth(network: &Network, terminal: TerminalRef) -> bool {
    let body = network.body(terminal);
    match network.body_roles(body) {
        _ if body == network.body(TerminalRef::MainEarth) => true,
        // A board that nothing in the file feeds still has its conductors.
        [] => own_conductor(terminal) == Some(Conductor::Earth),
        roles => roles == [Role::Earth],
    }
}

fn touches(network: &Network, lead: &Lead) -> Touches {
    let (mut live, mut earth) = (false, false);
    for &terminal in lead.touches() {
        let roles = network.roles_at(terminal);
        if is_earth(network, terminal) {
            earth = true;
        } else if roles.is_empty() && own_conductor(terminal).is_none() {
            return Touches::NoRole;
        } else {
            live = true;
            earth |= roles.contains(&Role::Earth);
        }
    }
    match (live, earth) {
        (true, true) => Touches::Both,
        (true, false) => Touches::Live,
        (false, _) => Touches::Earth,
    }
}

/// The conductor that a terminal of a board is for.
pub(crate) fn own_conductor(terminal: TerminalRef) -> Option<Conductor> {
    match terminal {
        TerminalRef::Way { conductor, .. }
        | TerminalRef::Incoming { conductor, .. }
        | TerminalRef::Bus { conductor, .. }
        | TerminalRef::Group { conductor, .. } => Some(conductor),
        TerminalRef::EarthBar { .. } | TerminalRef::MainEarth => Some(Conductor::Earth),
        TerminalRef::Point { .. } => None,
    }
}
