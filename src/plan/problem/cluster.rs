//! Independent clusters of devices that bear on one another, and their requirements as tables over settings.

use std::collections::BTreeMap;

use fixedbitset::FixedBitSet;
use petgraph::unionfind::UnionFind;
use rustc_hash::FxHashMap;

use crate::network::DeviceIndex;
use crate::plan::limits::PlanLimits;
use crate::plan::problem::choices::DeviceChoices;
use crate::plan::problem::setup::Setup;
use crate::plan::problem::testers::PairForStart;
use crate::plan::request::{Priority, Request, SearchBy};
use crate::reading::{Condition, Digit, TableLimits, combinations};

/// One device of a cluster.
#[derive(Clone, Debug)]
pub(in crate::plan) struct ClusterDevice {
    pub(in crate::plan) device: DeviceIndex,
    pub(in crate::plan) options: u16,
    pub(in crate::plan) start: u16,
    pub(in crate::plan) one_way: Option<u16>,
    /// The stop at which it is worked.
    pub(in crate::plan) stop: u32,
    /// What one step of this device's option adds to a setting's number; nought where settings are not listed.
    pub(in crate::plan) stride: usize,
}

impl ClusterDevice {
    /// A device that may be operated; none where nobody may.
    pub(in crate::plan) fn new(choices: &DeviceChoices, device: DeviceIndex, stop: u32) -> Option<ClusterDevice> {
        let options = choices.options(device)?;
        let (start, one_way) = (choices.start(device), choices.one_way_option(device));
        Some(ClusterDevice { device, options, start, one_way, stop, stride: 0 })
    }
}

/// Numbers the settings of devices, that of the first device fastest. None where they are too many to list; else how
/// many there are, and the number of the start.
fn number_settings(devices: &mut [ClusterDevice], limits: &TableLimits) -> Option<(usize, usize)> {
    let digits: Vec<Digit> = devices.iter().map(|row| (row.device, row.options)).collect();
    let settings = combinations(&digits, limits)?;
    let (mut stride, mut start) = (1, 0);
    for row in devices {
        row.stride = stride;
        start += usize::from(row.start) * stride;
        stride *= usize::from(row.options);
    }
    Some((settings, start))
}

/// One requirement, over the settings of the cluster.
#[derive(Clone, Debug)]
pub(in crate::plan) struct Requirement {
    /// Bit s: it holds in setting s.
    pub(in crate::plan) holds: Vec<u64>,
    /// Bit d: it depends on the cluster's device d.
    pub(in crate::plan) devices: u64,
    /// The pair group that it comes from.
    pub(in crate::plan) group: u32,
    /// For these starts of unknown devices; empty where it is for any.
    pub(in crate::plan) start: Vec<(DeviceIndex, u16)>,
}

/// A cluster: no requirement outside it depends on a device in it.
#[derive(Clone, Debug)]
pub(in crate::plan) struct Cluster {
    /// Sorted by stop, then by device, so that a round works stop by stop.
    pub(in crate::plan) devices: Vec<ClusterDevice>,
    pub(in crate::plan) settings: usize,
    pub(in crate::plan) start: usize,
    pub(in crate::plan) requirements: Vec<Requirement>,
    /// The pair groups that have a requirement here.
    pub(in crate::plan) groups: Vec<u32>,
}

/// A cluster with too many settings to list.
#[derive(Clone, Debug)]
pub(in crate::plan) struct LargeCluster {
    /// Sorted by stop, then by device, so that a round works stop by stop.
    pub(in crate::plan) devices: Vec<ClusterDevice>,
    /// The pair groups, and what is asked for switches, that are to be tested.
    pub(in crate::plan) groups: Vec<u32>,
}

/// What is known of a pair group that some settings test.
pub(in crate::plan) enum ClusterShape {
    /// For each combination of unknown starts, the settings that do.
    Tables(Vec<PairForStart>),
    /// The devices that bear on it, with their options.
    Devices(Vec<Digit>),
}

impl ClusterShape {
    fn digits(&self) -> Box<dyn Iterator<Item = &Digit> + '_> {
        match self {
            ClusterShape::Tables(tables) => Box::new(tables.iter().flat_map(|table| &table.holds.digits)),
            ClusterShape::Devices(digits) => Box::new(digits.iter()),
        }
    }
}

pub(in crate::plan) struct Clusters {
    pub(in crate::plan) listed: Vec<Cluster>,
    /// Where stops come first: the same, those that share stops as one, as far as these can be listed.
    pub(in crate::plan) merged: Option<Vec<Cluster>>,
    pub(in crate::plan) large: Vec<LargeCluster>,
}

impl Cluster {
    pub(in crate::plan) fn option(&self, setting: usize, device: usize) -> u16 {
        let row = &self.devices[device];
        (setting / row.stride % usize::from(row.options)) as u16
    }

    /// The options of a setting, one for each device.
    pub(in crate::plan) fn options(&self, setting: usize) -> Vec<u16> {
        (0..self.devices.len()).map(|device| self.option(setting, device)).collect()
    }

    /// The number of a setting.
    pub(in crate::plan) fn number(&self, options: &[u16]) -> usize {
        self.devices.iter().zip(options).map(|(row, &option)| usize::from(option) * row.stride).sum()
    }

    pub(in crate::plan) fn with_option(&self, setting: usize, device: usize, option: u16) -> usize {
        let row = &self.devices[device];
        setting - usize::from(self.option(setting, device)) * row.stride + usize::from(option) * row.stride
    }

    /// The settings that differ from this one in the option of one device.
    pub(in crate::plan) fn neighbours(&self, setting: usize, device: usize) -> impl Iterator<Item = usize> + '_ {
        let now = self.option(setting, device);
        let one_way = self.devices[device].one_way;
        (0..self.devices[device].options)
            .filter(move |&option| option != now && Some(option) != one_way)
            .map(move |option| self.with_option(setting, device, option))
    }

    pub(in crate::plan) fn holds(&self, requirement: usize, setting: usize) -> bool {
        self.requirements[requirement].holds[setting / 64] >> (setting % 64) & 1 == 1
    }

    /// The settings that meet different requirements, each the first of those that meet the same, in order, with what it
    /// meets. Time O(s r) for s settings and r requirements, space O(s).
    pub(in crate::plan) fn settings_by_met(&self) -> Vec<(usize, FixedBitSet)> {
        // Settings are numbered by what they meet of the requirements so far; each requirement may part a number in two.
        let mut number_of = vec![0u32; self.settings];
        let mut count = 1;
        for requirement in &self.requirements {
            let mut parted = vec![[u32::MAX; 2]; count];
            count = 0;
            for (setting, number) in number_of.iter_mut().enumerate() {
                let holds = requirement.holds[setting / 64] >> (setting % 64) & 1;
                let next = &mut parted[*number as usize][holds as usize];
                if *next == u32::MAX {
                    *next = count as u32;
                    count += 1;
                }
                *number = *next;
            }
        }
        // Numbers were given in the order of settings.
        let mut first = Vec::with_capacity(count);
        for (setting, &number) in number_of.iter().enumerate() {
            if number as usize == first.len() {
                first.push((setting, self.met_in(setting)));
            }
        }
        first
    }

    /// The requirements that hold in a setting.
    pub(in crate::plan) fn met_in(&self, setting: usize) -> FixedBitSet {
        let mut met = FixedBitSet::with_capacity(self.requirements.len());
        for requirement in 0..self.requirements.len() {
            met.set(requirement, self.holds(requirement, setting));
        }
        met
    }
}

/// Forms clusters of the requirements that the start setting does not meet.
///
/// Two devices are in one cluster where some requirement depends on both.
pub(in crate::plan) fn form(
    setup: &Setup<'_>,
    stop_of: impl Fn(DeviceIndex) -> u32,
    sometimes: Vec<(u32, ClusterShape)>,
    request: &Request,
) -> Clusters {
    let (choices, limits) = (&setup.choices, setup.limits());
    let mut clusters = Clusters { listed: Vec::new(), merged: None, large: Vec::new() };
    let mut open: Vec<(u32, ClusterShape)> = Vec::new();
    for (group, shape) in sometimes {
        match shape {
            ClusterShape::Tables(elements) => {
                let unmet: Vec<PairForStart> = elements
                    .into_iter()
                    .filter(|element| !element.holds.get(start_combination(choices, &element.holds)))
                    .collect();
                if !unmet.is_empty() {
                    open.push((group, ClusterShape::Tables(unmet)));
                }
            }
            ClusterShape::Devices(digits) => open.push((group, ClusterShape::Devices(digits))),
        }
    }

    let mut number_of: FxHashMap<DeviceIndex, u32> = FxHashMap::default();
    let mut digits: Vec<Digit> = Vec::new();
    for &digit in open.iter().flat_map(|(_, shape)| shape.digits()) {
        number_of.entry(digit.0).or_insert_with(|| {
            digits.push(digit);
            digits.len() as u32 - 1
        });
    }
    let mut joined: UnionFind<u32> = UnionFind::new(digits.len());
    // All requirements of one group go together: the pair is done when the last of them is met.
    for (_, shape) in &open {
        let mut first = None;
        for digit in shape.digits() {
            let number = number_of[&digit.0];
            match first {
                None => first = Some(number),
                Some(first) => {
                    joined.union(first, number);
                }
            }
        }
    }
    let mut members: BTreeMap<u32, (Vec<Digit>, Vec<usize>)> = BTreeMap::new();
    for (number, &digit) in digits.iter().enumerate() {
        members.entry(joined.find(number as u32)).or_default().0.push(digit);
    }
    let mut order: Vec<(Vec<Digit>, Vec<usize>)> = Vec::new();
    for (index, (_, shape)) in open.iter().enumerate() {
        match shape.digits().next() {
            Some(digit) => {
                members.get_mut(&joined.find(number_of[&digit.0])).expect("every device has a cluster").1.push(index);
            }
            // Nothing that can be operated bears on it; that it can't be tested is still to be shown.
            None => order.push((Vec::new(), vec![index])),
        }
    }
    order.extend(members.into_values());
    order.sort_by_key(|(_, groups)| groups[0]);
    for (mut digits, indices) in order {
        digits.sort_by_key(|digit| (stop_of(digit.0), digit.0));
        let groups: Vec<u32> = indices.iter().map(|&index| open[index].0).collect();
        let tables: Option<Vec<(u32, &Vec<PairForStart>)>> = indices
            .iter()
            .map(|&index| match &open[index] {
                (group, ClusterShape::Tables(tables)) => Some((*group, tables)),
                (_, ClusterShape::Devices(_)) => None,
            })
            .collect();
        let device = |&(device, _): &Digit| {
            ClusterDevice::new(choices, device, stop_of(device)).expect("devices of a cluster may be operated")
        };
        let mut devices: Vec<ClusterDevice> = digits.iter().map(device).collect();
        let numbered = number_settings(&mut devices, &choices.tables).filter(|_| request.search == SearchBy::Size);
        let (Some(tables), Some((settings, start))) = (tables, numbered) else {
            clusters.large.push(LargeCluster { devices, groups });
            continue;
        };
        let mut requirements: Vec<Requirement> = tables
            .into_iter()
            .flat_map(|(group, tables)| tables.iter().map(move |element| (group, element)))
            .map(|(group, element)| requirement(&devices, settings, group, element))
            .collect();
        keep_hardest(&mut requirements, limits.compared_tables);
        clusters.listed.push(Cluster { devices, settings, start, requirements, groups });
    }
    clusters.merged = (request.priority == Priority::Stops).then(|| merge(&clusters.listed, &choices.tables, limits));
    clusters
}

/// Which of several clusters have stops in common, directly or by others: their numbers.
pub(in crate::plan) fn sharing_stops<'d>(clusters: impl Iterator<Item = &'d [ClusterDevice]>) -> Vec<Vec<usize>> {
    let mut first_at: FxHashMap<u32, usize> = FxHashMap::default();
    let mut joined: UnionFind<usize> = UnionFind::new_empty();
    for devices in clusters {
        let number = joined.new_set();
        for device in devices {
            joined.union(*first_at.entry(device.stop).or_insert(number), number);
        }
    }
    let mut members: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for number in 0..joined.len() {
        members.entry(joined.find(number)).or_default().push(number);
    }
    members.into_values().collect()
}

/// Makes one cluster of all that share stops, so that a search can weigh stops against operations; but not where that
/// would have too many settings to list.
fn merge(clusters: &[Cluster], tables: &TableLimits, limits: &PlanLimits) -> Vec<Cluster> {
    let together = sharing_stops(clusters.iter().map(|cluster| &cluster.devices[..]));
    let merged = |numbers: Vec<usize>| {
        let members: Vec<&Cluster> = numbers.into_iter().map(|number| &clusters[number]).collect();
        match merge_all(&members, tables, limits) {
            Some(cluster) => vec![cluster],
            None => members.into_iter().cloned().collect(),
        }
    };
    together.into_iter().flat_map(merged).collect()
}

/// One cluster of several that depend on no common device; none where it would have too many settings to list.
fn merge_all(clusters: &[&Cluster], tables: &TableLimits, limits: &PlanLimits) -> Option<Cluster> {
    if let [only] = clusters {
        return Some((*only).clone());
    }
    let mut devices: Vec<ClusterDevice> = clusters.iter().flat_map(|cluster| &cluster.devices).cloned().collect();
    devices.sort_by_key(|row| (row.stop, row.device));
    let (settings, start) = number_settings(&mut devices, tables)?;
    let mut requirements = Vec::new();
    for cluster in clusters {
        // Where each of the cluster's devices stands in the whole.
        let places: Vec<usize> = cluster
            .devices
            .iter()
            .map(|row| devices.iter().position(|other| other.device == row.device).expect("it is one of them"))
            .collect();
        let own = |setting: usize| -> usize {
            cluster
                .devices
                .iter()
                .zip(&places)
                .map(|(row, &place)| setting / devices[place].stride % usize::from(row.options) * row.stride)
                .sum()
        };
        let projected: Vec<usize> = (0..settings).map(own).collect();
        for requirement in &cluster.requirements {
            let mut holds = vec![0u64; settings.div_ceil(64)];
            for (setting, &own) in projected.iter().enumerate() {
                holds[setting / 64] |= (requirement.holds[own / 64] >> (own % 64) & 1) << (setting % 64);
            }
            let moved = places.iter().enumerate().filter(|(device, _)| requirement.devices >> device & 1 == 1);
            let mask = moved.fold(0u64, |mask, (_, &place)| mask | 1 << place);
            let Requirement { group, start, .. } = requirement.clone();
            requirements.push(Requirement { holds, devices: mask, group, start });
        }
    }
    keep_hardest(&mut requirements, limits.compared_tables);
    Some(Cluster {
        devices,
        settings,
        start,
        requirements,
        groups: clusters.iter().flat_map(|cluster| &cluster.groups).copied().collect(),
    })
}

/// The number of the combination that the plan starts with.
fn start_combination(choices: &DeviceChoices, condition: &Condition) -> usize {
    condition.number(|device| choices.start(device))
}

fn requirement(devices: &[ClusterDevice], settings: usize, group: u32, element: &PairForStart) -> Requirement {
    let condition = &element.holds;
    let place_of = |device: DeviceIndex| {
        let place = devices.iter().position(|row| row.device == device);
        place.expect("a requirement's devices are in its cluster")
    };
    let mask = condition.digits.iter().fold(0u64, |mask, digit| mask | 1 << place_of(digit.0));
    let start = element.start.clone();
    if devices.is_sorted_by_key(|row| row.device) {
        let digits: Vec<Digit> = devices.iter().map(|row| (row.device, row.options)).collect();
        return Requirement { holds: condition.over(&digits).bits, devices: mask, group, start };
    }
    // The cluster's devices are in the order of stops, the condition's in that of numbers: step through the settings
    // with the condition's own strides.
    let mut weights = vec![0usize; devices.len()];
    let mut stride = 1;
    for &(device, options) in &condition.digits {
        weights[place_of(device)] = stride;
        stride *= usize::from(options);
    }
    let mut holds = vec![0u64; settings.div_ceil(64)];
    let mut counter = vec![0u16; devices.len()];
    let mut projected = 0usize;
    for setting in 0..settings {
        if condition.get(projected) {
            holds[setting / 64] |= 1 << (setting % 64);
        }
        for place in 0..counter.len() {
            counter[place] += 1;
            projected += weights[place];
            if counter[place] < devices[place].options {
                break;
            }
            projected -= weights[place] * usize::from(devices[place].options);
            counter[place] = 0;
        }
    }
    Requirement { holds, devices: mask, group, start }
}

/// Leaves out every requirement that holds wherever another holds: what meets that one meets it too.
/// Past `most_compared` requirements only those that are the same are left out.
fn keep_hardest(requirements: &mut Vec<Requirement>, most_compared: usize) {
    requirements.sort_by(|a, b| {
        let count = |requirement: &Requirement| requirement.holds.iter().map(|word| word.count_ones()).sum::<u32>();
        count(a).cmp(&count(b)).then_with(|| a.holds.cmp(&b.holds))
    });
    requirements.dedup_by(|a, b| a.holds == b.holds);
    if requirements.len() > most_compared {
        return;
    }
    let mut kept: Vec<Requirement> = Vec::with_capacity(requirements.len());
    for requirement in requirements.drain(..) {
        let implied = kept
            .iter()
            .any(|hard: &Requirement| hard.holds.iter().zip(&requirement.holds).all(|(hard, easy)| hard & !easy == 0));
        if !implied {
            kept.push(requirement);
        }
    }
    *requirements = kept;
}
