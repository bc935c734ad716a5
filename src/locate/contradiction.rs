//! Readings that contradict one another whatever leaks where, though their sums don't tell, since what floats lies across
//! their cuts.
//!
//! Where everything that conducts in one reading, leads included, is joined in another one too, that other one measures as
//! great a conductance or a greater one: joining copper can only raise it (Doyle and Snell, *Random Walks and Electric
//! Networks*, 1984, from memory). So it contradicts the first where it shows less.
//!
//! Not taken: that a reading can't show more resistance than two others in series by way of a third lead. In it each gap has
//! a part of the voltage only, and what breaks down at all of it may hold; and what may conduct may do so in one of them only.

use rustc_hash::{FxHashMap, FxHashSet};

use super::analysis::Measured;
use super::gap::Gaps;
use super::sums::{Across, Conducting};
use crate::model::{TestSet, Volts};
use crate::network::{Network, Reach};
use crate::reading::{Configuration, LeadBodies, Replay};

/// The most pairs of readings that are compared; beyond, contradictions may go unnoticed.
const MOST_COMPARED: usize = 256;

/// A contradiction counts only if it is off by more than this part.
const CLEAR: f64 = 1e-9;

/// The most bodies that are walked to compare two readings.
const MOST_WALKED: usize = 1 << 13;

/// Pairs of readings, each as the lower and the higher number, of which the one contains the other and shows less leakage.
///
/// Time: linear in the sums, plus for each pair compared what its leads reach.
pub(super) fn contradicting(network: &Network, gaps: &Gaps, tests: &TestSet, measured: &[Measured]) -> Vec<[u32; 2]> {
    let pairs = candidates(measured);
    if pairs.is_empty() {
        return Vec::new();
    }
    let needed: FxHashSet<u32> = pairs.iter().flatten().map(|&number| measured[number].reading).collect();
    let mut taken: FxHashMap<u32, Taken> = FxHashMap::default();
    let mut replay = Replay::of(network, tests);
    let mut number = 0;
    while let Some((pass, standing)) = replay.next_pass() {
        for reading in pass.readings() {
            if needed.contains(&number) {
                let leads = LeadBodies::of(network, reading.leads());
                taken.insert(number, Taken { standing: standing.clone(), leads, volts: reading.volts() });
            }
            number += 1;
        }
    }
    let mut found: Vec<[u32; 2]> = pairs
        .into_iter()
        .map(|pair| pair.map(|number| measured[number].reading))
        .filter(|[more, less]| is_contained(network, gaps, &taken[less], &taken[more]))
        .map(|[more, less]| [more.min(less), more.max(less)])
        .collect();
    found.sort_unstable();
    found
}

/// A reading as it was taken.
struct Taken {
    standing: Configuration,
    leads: LeadBodies,
    volts: Option<Volts>,
}

/// Pairs of which the first shows less than the second, though everything directly across the second is across the first.
fn candidates(measured: &[Measured]) -> Vec<[usize; 2]> {
    let direct = |number: usize| measured[number].direct.as_deref().unwrap_or_default();
    let low: Vec<usize> = (0..measured.len())
        .filter(|&number| measured[number].conductance[0] > 0.0 && !direct(number).is_empty())
        .collect();
    let mut beside: FxHashMap<u32, Vec<usize>> = low.iter().map(|&number| (direct(number)[0], Vec::new())).collect();
    for (number, one) in measured.iter().enumerate().filter(|(_, one)| one.conductance[1].is_finite()) {
        for gap in one.direct.iter().flatten() {
            if let Some(list) = beside.get_mut(gap) {
                list.push(number);
            }
        }
    }
    let mut pairs = Vec::new();
    for &less in &low {
        for &more in &beside[&direct(less)[0]] {
            let is_low = measured[more].conductance[1] < measured[less].conductance[0] * (1.0 - CLEAR);
            if is_low && direct(less).iter().all(|gap| direct(more).binary_search(gap).is_ok()) {
                pairs.push([more, less]);
                if pairs.len() == MOST_COMPARED {
                    return pairs;
                }
            }
        }
    }
    pairs
}

/// Whether all that may conduct in one reading, where its current can go, is joined for sure in the other.
fn is_contained(network: &Network, gaps: &Gaps, less: &Taken, more: &Taken) -> bool {
    let [in_less, in_more] = [less, more].map(|taken| Across { network, gaps, standing: &taken.standing });
    let may = [0, 1].map(|lead: usize| in_less.closure(&less.leads.0[lead], Conducting::MaybeInAny));
    let sure = [0, 1].map(|lead: usize| in_more.closure(&more.leads.0[lead], Conducting::SureInEvery));
    let is_on = |lead: usize, other: usize| may[lead].bodies().iter().all(|&body| sure[other].contains(body));
    if !(is_on(0, 0) && is_on(1, 1) || is_on(0, 1) && is_on(1, 0)) {
        return false;
    }
    // Where current can go: over gaps and what may conduct, from one lead without passing the other. From the smaller side.
    let weight = |lead: usize| may[lead].bodies().iter().map(|&body| gaps.at.at(body).len()).sum::<usize>();
    let from = if weight(0) <= weight(1) { 0 } else { 1 };
    let mut walk = Reach::from(may[from].bodies().iter().copied());
    while let Some(body) = walk.step() {
        if walk.bodies().len() > MOST_WALKED {
            return false;
        }
        let mut reached = Vec::new();
        for &gap in gaps.at.at(body) {
            // What asks for more than the other reading was taken at may leak less in that one.
            if more.volts.is_some_and(|taken| gaps.volts[gap as usize][1] > taken) {
                return false;
            }
            reached.push(gaps.far(gap, body));
        }
        for (far, edge) in network.edges_at(body) {
            if in_less.conducts(edge, Conducting::MaybeInAny) {
                let is_one = |lead: &Reach| lead.contains(body) && lead.contains(far);
                if !in_more.conducts(edge, Conducting::SureInEvery) && !sure.iter().any(is_one) {
                    return false;
                }
                reached.push(far);
            }
        }
        for far in reached.into_iter().filter(|&far| !may[1 - from].contains(far)) {
            walk.enter(far);
        }
    }
    true
}
