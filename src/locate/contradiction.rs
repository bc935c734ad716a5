//! Readings that contradict one another whatever leaks where, though their sums don't tell, since what floats lies
//! across their cuts.
//!
//! Where everything that conducts in one reading, leads included, is joined in another one too, that other one measures
//! as great a conductance or a greater one: joining copper can only raise it (Doyle and Snell, *Random Walks and
//! Electric Networks*, 1984, from memory). So it contradicts the first where it shows less.
//!
//! Not taken: that a reading can't show more resistance than two others in series by way of a third lead. In it each
//! gap has a part of the voltage only, and what breaks down at all of it may hold; and what may conduct may do so in
//! one of them only.

use rustc_hash::{FxHashMap, FxHashSet};

use super::gaps::GapTable;
use super::sums::{Across, Conducting, Measured};
use crate::model::{TestSet, Volts};
use crate::network::{Network, Reach};
use crate::reading::{Configuration, LeadBodies, Replay};

/// A contradiction counts only if it is off by more than this part.
const CLEAR: f64 = 1e-9;

/// A reading as it was taken.
struct ReadingTaken {
    standing: Configuration,
    leads: LeadBodies,
    volts: Option<Volts>,
}

/// Pairs of readings, each as the lower and the higher number, of which the one contains the other and shows less
/// leakage.
///
/// Time: linear in the sums, plus for each pair compared what its leads reach.
pub(super) fn contradicting(
    network: &Network,
    gaps: &GapTable,
    tests: &TestSet,
    measured: &[Measured],
) -> Vec<[u32; 2]> {
    let pairs = comparable(measured, network.limits().locate.readings_compared);
    if pairs.is_empty() {
        return Vec::new();
    }
    let needed: FxHashSet<u32> = pairs.iter().flatten().copied().collect();
    let mut taken: FxHashMap<u32, ReadingTaken> = FxHashMap::default();
    let mut replay = Replay::of(network, tests);
    let mut number = 0;
    while let Some((pass, standing)) = replay.next_pass() {
        for reading in pass.readings() {
            if needed.contains(&number) {
                let leads = LeadBodies::of(network, reading);
                taken.insert(number, ReadingTaken { standing: standing.clone(), leads, volts: reading.volts() });
            }
            number += 1;
        }
    }
    let mut found: Vec<[u32; 2]> = pairs
        .into_iter()
        .filter(|[more, less]| is_contained(network, gaps, &taken[less], &taken[more]))
        .map(|[more, less]| [more.min(less), more.max(less)])
        .collect();
    found.sort_unstable();
    found
}

/// Pairs of readings of which the first shows less than the second, though everything directly across the second is
/// across the first.
fn comparable(measured: &[Measured], most: usize) -> Vec<[u32; 2]> {
    let direct = |one: &Measured| one.sums.direct.clone().unwrap_or_default();
    let low: Vec<(&Measured, Vec<u32>)> = measured
        .iter()
        .filter(|one| one.conductance[0] > 0.0)
        .map(|one| (one, direct(one)))
        .filter(|(_, direct)| !direct.is_empty())
        .collect();
    let mut beside: FxHashMap<u32, Vec<&Measured>> = low.iter().map(|(_, direct)| (direct[0], Vec::new())).collect();
    for one in measured.iter().filter(|one| one.conductance[1].is_finite()) {
        for gap in one.sums.direct.iter().flatten() {
            if let Some(list) = beside.get_mut(gap) {
                list.push(one);
            }
        }
    }
    let pairs = low.iter().flat_map(|(less, direct)| {
        let contains = move |more: &&&Measured| {
            let all = more.sums.direct.as_deref().unwrap_or_default();
            more.conductance[1] < less.conductance[0] * (1.0 - CLEAR)
                && direct.iter().all(|gap| all.binary_search(gap).is_ok())
        };
        beside[&direct[0]].iter().filter(contains).map(|more| [more.reading, less.reading])
    });
    pairs.take(most).collect()
}

/// Whether all that may conduct in one reading, where its current can go, is joined for sure in the other.
fn is_contained(network: &Network, gaps: &GapTable, less: &ReadingTaken, more: &ReadingTaken) -> bool {
    let [in_less, in_more] = [less, more].map(|taken| Across { network, gaps, standing: &taken.standing });
    let may = in_less.on_leads(&less.leads, Conducting::MaybeInAny);
    let sure = in_more.on_leads(&more.leads, Conducting::SureInEvery);
    let is_on = |lead: usize, other: usize| may[lead].bodies().iter().all(|&body| sure[other].contains(body));
    if !(is_on(0, 0) && is_on(1, 1) || is_on(0, 1) && is_on(1, 0)) {
        return false;
    }
    // Where current can go: over gaps and what may conduct, from one lead without passing the other. From the smaller
    // side.
    let [one, other] = &may;
    let (from, to) = if gaps.count_at(one) <= gaps.count_at(other) { (one, other) } else { (other, one) };
    let mut walk = Reach::from(from.bodies().iter().copied());
    while let Some(body) = walk.step() {
        if walk.bodies().len() > network.limits().locate.bodies_compared || gaps.is_crowded(body) {
            return false;
        }
        let mut reached = Vec::new();
        for &gap in gaps.at(body) {
            // What asks for more than the other reading was taken at may leak less in that one.
            if more.volts.is_some_and(|taken| gaps.asks_for_more(gap, taken).is_some()) {
                return false;
            }
            reached.push(gaps.far(gap, body));
        }
        for (far, edge) in network.edges_at(body) {
            if in_less.conducts(edge, Conducting::MaybeInAny) {
                let is_one = sure.iter().any(|lead| lead.contains(body) && lead.contains(far));
                if !in_more.conducts(edge, Conducting::SureInEvery) && !is_one {
                    return false;
                }
                reached.push(far);
            }
        }
        for far in reached.into_iter().filter(|&far| !to.contains(far)) {
            walk.enter(far);
        }
    }
    true
}
