//! What the positions of devices decide, in the fewest words that are true.

use serde::{Deserialize, Serialize};

use crate::network::{DeviceIndex, Network};
use crate::reading::{Case, Diagram, Digit, TableLimits};

/// So many cases at the most are listed.
const MOST_CASES: usize = 12;

/// A device in one of some positions.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct DeviceAt {
    /// Its name.
    pub device: String,
    /// The positions.
    pub positions: Vec<String>,
}

/// For which positions of some devices something holds: `while` all of these, and of the other devices either each turns
/// it, or it holds in these cases.
///
/// Where there is more than `while` says and neither `turned_by` nor `cases` says it, there are too many cases to list.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Decided {
    /// All of these hold while it does, and nothing else about these devices makes a difference.
    #[serde(rename = "while", skip_serializing_if = "Vec::is_empty", default)]
    pub while_all: Vec<DeviceAt>,
    /// Devices of two positions, each of which turns it over whatever the others of them do, while all of `while` holds.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub turned_by: Vec<String>,
    /// It holds in each of these, while all of `while` holds, and nowhere else.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub cases: Vec<Vec<DeviceAt>>,
}

/// The devices of two positions each of which turns it over wherever the others stand. None where that is too large.
pub(super) fn each_turns(when: &Diagram, limits: &TableLimits) -> Option<Vec<DeviceIndex>> {
    let mut turn = Vec::new();
    for digit @ (device, positions) in when.devices() {
        if positions == 2 && when.given(digit, 0, limits)? == when.given(digit, 1, limits)?.not() {
            turn.push(device);
        }
    }
    Some(turn)
}

impl Decided {
    /// What a diagram says. None where that is too large.
    pub(super) fn of(network: &Network, when: &Diagram) -> Option<Decided> {
        let limits = &network.limits().tables;
        let mut decided = Decided::default();
        let mut when = when.clone();
        while let Some((digit, positions, rest)) = required(&when, limits)? {
            decided.while_all.push(DeviceAt::of(network, digit.0, &positions));
            when = rest;
        }
        let (devices, turn) = (when.devices(), each_turns(&when, limits)?);
        if turn.len() == devices.len() {
            decided.turned_by = turn.into_iter().map(|device| network.device_name(device)).collect();
        } else {
            let cases = when.cases(MOST_CASES).unwrap_or_default().into_iter();
            let case = |case: Case| {
                case.into_iter().map(|(device, positions)| DeviceAt::of(network, device, &positions)).collect()
            };
            decided.cases = cases.map(case).collect();
        }
        Some(decided)
    }
}

/// A device that has to stand in some positions, in which of them is no matter; and what else is asked of the others.
type Required = (Digit, Vec<u16>, Diagram);

/// The first such device, if there is one. None outside where that is too large.
fn required(when: &Diagram, limits: &TableLimits) -> Option<Option<Required>> {
    for digit in when.devices() {
        let mut held: Vec<u16> = Vec::new();
        let mut rest: Option<Diagram> = None;
        let mut is_one = true;
        for position in 0..digit.1 {
            let here = when.given(digit, position, limits)?;
            if !here.is_never() {
                held.push(position);
                is_one &= rest.as_ref().is_none_or(|rest| *rest == here);
                rest = Some(here);
            }
        }
        if let (true, Some(rest)) = (is_one, rest) {
            return Some(Some((digit, held, rest)));
        }
    }
    Some(None)
}

impl DeviceAt {
    fn of(network: &Network, device: DeviceIndex, positions: &[u16]) -> DeviceAt {
        let names = positions.iter().map(|&position| network.position_name(device, position).to_owned());
        DeviceAt { device: network.device_name(device), positions: names.collect() }
    }
}
