//! Why nothing tests a pair, where too many devices bear on it for a table.

use rustc_hash::FxHashMap;

use super::formula::{Answer, Budget, Truth};
use super::problem::{Exploring, Problem, ProblemReading, Spot, Start, Target, TargetTester, Unknown};
use super::rounds::Rounds;
use super::search::{Never, Search};
use crate::network::DeviceIndex;
use crate::observer::Watch;
use crate::plan::problem::cluster::ClusterDevice;
use crate::plan::problem::requirement::Untestable;
use crate::plan::problem::setup::Setup;
use crate::reading::{FreeDevices, Probe, Side};

/// Readings that come to a pair.
#[derive(Default)]
struct Coming {
    /// For each core, where readings have it.
    spots: [Vec<(u32, Spot)>; 2],
    /// Readings that have both, void or not, but not those whose leads are joined in any case.
    both: Vec<TargetTester>,
}

/// The first reason that holds for each pair group, for the start for which nothing tests it.
pub(super) fn reasons(
    setup: &Setup<'_>,
    nevers: &[(u32, &Problem, Never)],
    watch: &mut Watch<'_>,
) -> Vec<(u32, Untestable)> {
    if nevers.is_empty() {
        return Vec::new();
    }
    let Setup { network, start: configuration, choices, candidates } = setup;
    let mut probe = Probe::new(network);
    let mut readings: Vec<ProblemReading> = Vec::new();
    let mut coming: FxHashMap<u32, Coming> = FxHashMap::default();
    for (number, candidate) in candidates.iter().enumerate() {
        let mut probed = probe.read(network, configuration, FreeDevices::These(&choices.variable), &candidate.leads);
        let is_bridged = probed.is_bridged();
        if is_bridged {
            // Void in any case, but its leads still reach what they reach.
            probed = probed.with_leads_as_one();
        }
        let mut exploring = Exploring::new(number as u32, &probed);
        let mut comes = false;
        for &(group, _, _) in nevers {
            let bodies = network.group_bodies(group);
            let spots = bodies.map(|body| exploring.spot(&probed, body));
            if spots == [None, None] {
                continue;
            }
            comes = true;
            let reading = readings.len() as u32;
            let row = coming.entry(group).or_default();
            for (list, spot) in row.spots.iter_mut().zip(spots) {
                list.extend(spot.map(|spot| (reading, spot)));
            }
            if let ([Some(x), Some(y)], false) = (spots, is_bridged) {
                row.both.push(TargetTester::Opposite { reading, spots: [x, y] });
            }
        }
        if comes {
            readings.push(exploring.finish());
        }
    }
    let mut devices: Vec<DeviceIndex> = readings
        .iter()
        .flat_map(|reading| reading.parts.iter().chain(&reading.voids))
        .flat_map(|part| &part.digits)
        .map(|digit| digit.0)
        .collect();
    devices.sort_unstable();
    devices.dedup();
    let devices = devices.into_iter().filter_map(|device| ClusterDevice::new(choices, device, 0)).collect();
    let targets = nevers.iter().map(|&(group, _, _)| Target {
        groups: vec![group],
        testers: coming.get(&group).map(|row| row.both.clone()).unwrap_or_default(),
        done_for: None,
        is_reached_if_void: false,
    });
    let problem = Problem::of_readings(setup, devices, readings, targets.collect());
    let mut rounds = Rounds::new(&problem);
    rounds.grow(1);
    let nothing = Coming::default();
    let mut told = Vec::with_capacity(nevers.len());
    for (target, (group, of, never)) in nevers.iter().enumerate() {
        let coming = coming.get(group).unwrap_or(&nothing);
        // Devices of this problem that the search of the pair had not: they bear on readings that can't test it, and
        // each of their starts counts.
        let place = |row: &Unknown| of.unknown.iter().position(|known| known.device == row.device);
        let more: Vec<u16> =
            problem.unknown.iter().map(|row| if place(row).is_none() { row.positions } else { 1 }).collect();
        let count = more.iter().try_fold(1usize, |all, &count| all.checked_mul(usize::from(count)));
        let starts = match count.and_then(|count| count.checked_mul(never.starts.len())) {
            Some(all) if all <= setup.limits().starts_of_reason => starts_of(&problem, &never.starts, &more, place),
            _ => Vec::new(),
        };
        // Of several starts the reason that holds latest, since each claims more than those after it.
        let reasons = starts.into_iter().map(|start| {
            let element = rounds.add_element(target as u32, start);
            reason(&mut rounds, element, coming, &mut Budget(network.limits().plan.reason_steps), watch)
        });
        let why = reasons.max().unwrap_or(Untestable::AlwaysBridged);
        told.push((*group, why));
    }
    told
}

/// Starts of a search as starts of this problem, each with every start of the devices that the search had not.
fn starts_of(
    problem: &Problem,
    starts: &[Start],
    more: &[u16],
    place: impl Fn(&Unknown) -> Option<usize>,
) -> Vec<Start> {
    let mut all: Vec<Start> = starts
        .iter()
        .map(|start| problem.unknown.iter().map(|row| place(row).map_or(0, |at| start[at])).collect())
        .collect();
    for (number, &count) in more.iter().enumerate().filter(|(_, count)| **count > 1) {
        let with = |start: Start| {
            (0..count).map(move |position| {
                let mut start = start.clone();
                start[number] = position;
                start
            })
        };
        all = all.into_iter().flat_map(with).collect();
    }
    all
}

impl Search<'_> {
    /// Why nothing puts a position under test.
    pub(super) fn why_unmet(&mut self, never: &Never, watch: &mut Watch<'_>) -> Untestable {
        // That no reading comes to it is claimed only where all is known.
        if !self.is_known() || self.problem.targets[never.target as usize].is_reached_if_void {
            return Untestable::AlwaysBridged;
        }
        let budget = &mut Budget(self.limits.reason_steps);
        let element = self.add_element(never.target, Start::new());
        let reached = self.rounds.tested_if_void(element);
        match self.rounds.ask(&[reached], budget, watch) {
            Answer::No => Untestable::NeverReached,
            _ => Untestable::AlwaysBridged,
        }
    }
}

/// The first reason that holds for an element.
fn reason(
    rounds: &mut Rounds<'_>,
    element: usize,
    coming: &Coming,
    budget: &mut Budget,
    watch: &mut Watch<'_>,
) -> Untestable {
    for spots in &coming.spots {
        let is_reached = spots.iter().any(|&(reading, spot)| {
            [Side::A, Side::B].into_iter().any(|side| match rounds.on_lead_for(element, reading, spot, side) {
                Truth::True => true,
                Truth::False => false,
                Truth::Is(lit) => rounds.ask(&[lit], budget, watch) != Answer::No,
            })
        });
        if !is_reached {
            return Untestable::NeverReached;
        }
    }
    let opposite = rounds.opposite_not_bridged(element);
    match rounds.ask(&[opposite], budget, watch) {
        Answer::No => Untestable::SameLead,
        _ => Untestable::AlwaysBridged,
    }
}
