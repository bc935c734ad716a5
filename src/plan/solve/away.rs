//! How far the settings of a cluster are from those in which a requirement holds, in operations and in stops.

use std::cmp::Reverse;

use crate::plan::problem::cluster::Cluster;

/// Of requirements with their distances some that depend on nothing in common, greedily the farthest; and all on which
/// these depend.
pub(super) fn disjoint(mut far: Vec<(u8, usize)>, depends_on: impl Fn(usize) -> u64) -> (Vec<(u8, usize)>, u64) {
    far.sort_unstable_by_key(|&(distance, row)| (Reverse(distance), row));
    let mut used = 0u64;
    far.retain(|&(_, row)| {
        let own = depends_on(row);
        let is_free = own & used == 0;
        used |= if is_free { own } else { 0 };
        is_free
    });
    (far, used)
}

/// What it takes to put a requirement's own devices back, from a setting in which it holds: what its distances begin
/// with.
fn begin(cluster: &Cluster, requirement: usize, back: impl Fn(usize, u64) -> u8) -> Vec<u8> {
    let own = cluster.requirements[requirement].devices;
    (0..cluster.settings)
        .map(|setting| if cluster.holds(requirement, setting) { back(setting, own) } else { u8::MAX })
        .collect()
}

/// Bit d: the cluster's device d stands otherwise than at the start.
fn moved(cluster: &Cluster, setting: usize) -> u64 {
    (0..cluster.devices.len())
        .filter(|&device| cluster.option(setting, device) != cluster.option(cluster.start, device))
        .fold(0, |mask, device| mask | 1 << device)
}

/// Lets each setting have the least of those that differ from it in some devices, plus one where that is another.
fn sweep(cluster: &Cluster, devices: std::ops::Range<usize>, away: &mut [u8]) {
    let first = &cluster.devices[devices.start];
    let last = &cluster.devices[devices.end - 1];
    // The devices of a range are one digit of the setting's number.
    let (stride, block) = (first.stride, last.stride * usize::from(last.options));
    if block == 2 * stride {
        for both in away.chunks_exact_mut(block) {
            let (here, there) = both.split_at_mut(stride);
            for (a, b) in here.iter_mut().zip(there) {
                (*a, *b) = ((*a).min(b.saturating_add(1)), (*b).min(a.saturating_add(1)));
            }
        }
        return;
    }
    for base in (0..cluster.settings).step_by(block) {
        for low in base..base + stride {
            let alike = || (low..low + block).step_by(stride);
            let least = alike().map(|setting| away[setting]).min().unwrap_or(u8::MAX).saturating_add(1);
            for setting in alike() {
                away[setting] = away[setting].min(least);
            }
        }
    }
}

/// For each setting, how many operations away the nearest setting is in which a requirement holds; with those that put
/// the requirement's devices back to the start from there, where everything `returns`.
///
/// That an unknown selector can't go back to as found is passed over: the figure is a lower bound then.
pub(super) fn distances(cluster: &Cluster, requirement: usize, returns: bool) -> Vec<u8> {
    let back = |setting: usize, own: u64| (moved(cluster, setting) & own).count_ones() as u8;
    let mut away = begin(cluster, requirement, |setting, own| if returns { back(setting, own) } else { 0 });
    // The distance counts devices, so it splits over them: one sweep for each device.
    for device in 0..cluster.devices.len() {
        sweep(cluster, device..device + 1, &mut away);
    }
    away
}

/// The same in stops: the devices of one stop are worked together. What leads to a setting is worked before it is read,
/// and what leads back after, so that no stop serves both.
pub(super) fn stop_distances(cluster: &Cluster, requirement: usize, returns: bool) -> Vec<u8> {
    let mut stops: Vec<std::ops::Range<usize>> = Vec::new();
    for device in 0..cluster.devices.len() {
        match stops.last_mut() {
            Some(stop) if cluster.devices[stop.start].stop == cluster.devices[device].stop => stop.end = device + 1,
            _ => stops.push(device..device + 1),
        }
    }
    let back = |setting: usize, own: u64| {
        let moved = moved(cluster, setting) & own;
        stops.iter().filter(|stop| (*stop).clone().any(|device| moved >> device & 1 == 1)).count() as u8
    };
    let mut away = begin(cluster, requirement, |setting, own| if returns { back(setting, own) } else { 0 });
    for stop in stops.clone() {
        sweep(cluster, stop, &mut away);
    }
    away
}
