//! The operations of a round, from changes of options.

use rustc_hash::{FxHashMap, FxHashSet};

use crate::model::{PointId, Stop};
use crate::network::{DeviceIndex, Network};
use crate::plan::answer::{Operation, SwitchPosition};
use crate::plan::naming::point_of;
use crate::plan::problem::choices::{DeviceChoices, OptionKind};
use crate::reading::{Configuration, DeviceState};

/// Carries out changes of options on a configuration.
pub(in crate::plan) fn carry_out(
    choices: &DeviceChoices,
    configuration: &mut Configuration,
    changes: &[(DeviceIndex, u16)],
) {
    for &(device, option) in changes {
        let state = match choices.kind(device) {
            OptionKind::Known | OptionKind::AsFound { .. } => DeviceState::At(option),
            OptionKind::Turned { moved, positions } => DeviceState::Unknown((moved + option) % positions),
            OptionKind::Stuck { .. } => unreachable!("only free devices are operated"),
        };
        configuration.set_device(device, state);
    }
}

/// Of changes one after another the last of each device, in their order.
pub(in crate::plan) fn last_of_each(
    changes: impl DoubleEndedIterator<Item = (DeviceIndex, u16)>,
) -> Vec<(DeviceIndex, u16)> {
    let mut seen: FxHashSet<DeviceIndex> = FxHashSet::default();
    let mut last: Vec<(DeviceIndex, u16)> = changes.rev().filter(|change| seen.insert(change.0)).collect();
    last.reverse();
    last
}

/// The operations that change options, stop by stop, each with its point; carried out on the configuration.
pub(in crate::plan) fn operations(
    network: &Network,
    choices: &DeviceChoices,
    configuration: &mut Configuration,
    changes: &[(DeviceIndex, u16)],
) -> Vec<(PointId, Operation)> {
    let mut rows = operations_in_order(network, choices, configuration, changes);
    let stop = |point: PointId| Stop::of(network.installation(), point);
    // Stop by stop, each stop where its first device comes in the file.
    let mut first: FxHashMap<Stop, PointId> = FxHashMap::default();
    for (point, _) in &rows {
        let entry = first.entry(stop(*point)).or_insert(*point);
        *entry = (*point).min(*entry);
    }
    rows.sort_by_key(|(point, _)| (first[&stop(*point)], *point));
    rows
}

/// The same in the order of the changes.
pub(in crate::plan) fn operations_in_order(
    network: &Network,
    choices: &DeviceChoices,
    configuration: &mut Configuration,
    changes: &[(DeviceIndex, u16)],
) -> Vec<(PointId, Operation)> {
    let installation = network.installation();
    let mut rows: Vec<(PointId, Operation)> = Vec::with_capacity(changes.len());
    for &(device, option) in changes {
        let named = |position| SwitchPosition::At(network.position_name(device, position).to_owned());
        let from = match configuration.device(device) {
            DeviceState::At(position) if position == option => continue,
            DeviceState::At(position) => named(position),
            DeviceState::Unknown(_) if choices.option(configuration, device) == Some(option) => continue,
            DeviceState::Unknown(_) => SwitchPosition::Unknown,
        };
        let to = match (choices.kind(device), configuration.device(device)) {
            (OptionKind::Turned { positions: 2, .. }, _) => SwitchPosition::Other,
            (OptionKind::Turned { moved, positions }, DeviceState::Unknown(now)) => {
                SwitchPosition::Next((moved + option + positions - now) % positions)
            }
            _ => named(option),
        };
        let point = point_of(network, device);
        let stop = Stop::of(installation, point).name(installation);
        let device = installation.point(point).id().to_owned();
        rows.push((point, Operation { device, from, to, stop }));
    }
    carry_out(choices, configuration, changes);
    rows
}

/// What it takes to put everything back as the plan found it.
pub(in crate::plan) fn moved(choices: &DeviceChoices, configuration: &Configuration) -> Vec<(DeviceIndex, u16)> {
    choices
        .free()
        .filter(|&device| !choices.is_at_start(configuration, device))
        .map(|device| (device, choices.start(device)))
        .collect()
}
