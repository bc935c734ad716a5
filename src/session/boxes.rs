//! Answers of some boxes, by their names.

use std::collections::HashSet;

use crate::model::Installation;
use crate::network::Network;
use crate::wiring::{Terminations, UnknownBox, Works};

/// What is in these boxes, in all where none is named.
///
/// # Errors
///
/// Every name of none.
pub fn terminations_at(installation: &Installation, boxes: &[String]) -> Result<Terminations, Vec<UnknownBox>> {
    if boxes.is_empty() { Ok(Terminations::of(installation)) } else { Terminations::at(installation, boxes) }
}

/// What makes the loads in these boxes work, in all where none is named.
///
/// # Errors
///
/// Every name of none.
pub fn works_at(network: &Network, boxes: &[String]) -> Result<Works, Vec<UnknownBox>> {
    let named = terminations_at(network.installation(), boxes)?;
    let named: HashSet<&str> = named.boxes.iter().map(|row| row.id.as_str()).collect();
    let mut works = Works::of(network);
    works.loads.retain(|load| named.contains(load.point.as_str()));
    Ok(works)
}
