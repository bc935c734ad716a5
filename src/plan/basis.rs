//! What a plan is made from.

use super::option::Fleet;
use super::readings::Candidate;
use crate::network::{Network, Standing};

/// What a plan is made from: how things stand, what can be operated, and which readings can be taken.
#[derive(Debug)]
pub(super) struct Basis<'p> {
    pub(super) network: &'p Network<'p>,
    pub(super) start: Standing,
    pub(super) fleet: Fleet,
    pub(super) candidates: Vec<Candidate>,
}
