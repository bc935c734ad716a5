//! What the page of a plan is written from, and how its parts name things.

use indexmap::IndexMap;

use super::super::coverage::ends;
use crate::model::{BridgeRef, Circuit, CircuitId, Installation, LengthId, PointId};
use crate::network::Network;
use crate::plan::{Plan, PlanStart, Request};

/// What the page is written from: a plan, what it was asked for and what it starts from.
pub(super) struct Sheet<'p> {
    pub(super) network: &'p Network,
    pub(super) installation: &'p Installation,
    pub(super) request: &'p Request,
    pub(super) start: &'p PlanStart,
    pub(super) plan: &'p Plan,
}

impl<'p> Sheet<'p> {
    pub(super) fn point(&self, id: &str) -> PointId {
        self.installation.point_by_id(id).expect(OF_ANOTHER)
    }

    /// Whether a point is in a room that is locked.
    pub(super) fn is_locked(&self, point: PointId) -> bool {
        self.request.is_holder_locked(self.installation, BridgeRef::Point(point))
    }

    pub(super) fn circuit(&self, id: &str) -> &'p Circuit {
        self.installation.circuit(self.installation.circuit_by_id(id).expect(OF_ANOTHER))
    }

    fn length(&self, id: &str) -> LengthId {
        self.installation.length_by_id(id).expect(OF_ANOTHER)
    }

    pub(super) fn circuit_of_length(&self, id: &str) -> CircuitId {
        self.installation.length(self.length(id)).circuit()
    }

    /// What a length leads from and to.
    pub(super) fn ends(&self, length: &str) -> String {
        ends(self.network, self.length(length))
    }
}

pub(super) const OF_ANOTHER: &str = "the plan is of this installation";

pub(super) fn pair_name([length, a, b]: &[String; 3]) -> String {
    format!("{length} {a}-{b}")
}

/// Pairs, in the order of lengths, with the names of their cores length by length.
fn by_length<'a>(pairs: impl IntoIterator<Item = [&'a str; 3]>) -> Vec<(&'a str, Vec<String>)> {
    let mut lengths: Vec<(&str, Vec<String>)> = Vec::new();
    for [length, a, b] in pairs {
        let names = format!("{a}-{b}");
        match lengths.last_mut() {
            Some((last, list)) if *last == length => list.push(names),
            _ => lengths.push((length, vec![names])),
        }
    }
    lengths
}

/// Pairs by their cores: the lengths, and the cores that all of them have.
pub(super) fn by_cores(pairs: &[[String; 3]]) -> String {
    by_cores_of(pairs.iter().map(|pair| pair.each_ref().map(String::as_str)), str::to_owned)
}

/// The same, each length with its ends.
pub(super) fn by_cores_with_ends<'a>(sheet: &Sheet<'_>, pairs: impl IntoIterator<Item = [&'a str; 3]>) -> String {
    by_cores_of(pairs, |id| format!("{id} ({})", sheet.ends(id)))
}

fn by_cores_of<'a>(pairs: impl IntoIterator<Item = [&'a str; 3]>, name: impl Fn(&str) -> String) -> String {
    let mut rows: IndexMap<Vec<String>, Vec<String>> = IndexMap::new();
    for (length, cores) in by_length(pairs) {
        rows.entry(cores).or_default().push(name(length));
    }
    let rows = rows.into_iter().map(|(cores, lengths)| format!("{} {}", lengths.join(", "), cores.join(", ")));
    rows.collect::<Vec<_>>().join("; ")
}
