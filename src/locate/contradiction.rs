//! Readings that contradict one another whatever leaks where, though their sums don't tell, since what floats lies across
//! their cuts.
//!
//! **Contained**: where everything that conducts in one reading, leads included, is joined in another one too, that other one measures as
//! great a conductance or a greater one: joining copper can only raise it (Doyle and Snell, *Random Walks and Electric
//! Networks*, 1984, from memory). So it contradicts the first where it shows less.
//!
//! **Three leads**: the effective resistance between two of three pieces of copper is at most the sum of those to the third
//! (it is a metric: Klein and Randić, *Resistance distance*, 1993, from memory). So in one setting a reading contradicts two
//! others by way of a third lead where it shows more than both together.

use rustc_hash::{FxHashMap, FxHashSet};

use super::analysis::Measured;
use super::gap::Gaps;
use super::sums::{Across, Conducting};
use crate::model::{TestSet, Volts};
use crate::network::{Body, LeadBodies, Network, Standing};

/// The most pairs of readings that are compared; beyond, contradictions may go unnoticed.
const MOST_COMPARED: usize = 256;

/// A contradiction counts only if it is off by more than this part.
const CLEAR: f64 = 1e-9;

/// The most bodies that are walked to compare two readings.
const MOST_WALKED: usize = 1 << 13;

/// Sets of readings, each ascending, that can't all be.
///
/// Time: linear in the sums, plus for each pair compared what its leads reach, plus in each pass that of all readings with a
/// lead in common.
pub(super) fn contradicting(
    network: &Network<'_>,
    gaps: &Gaps,
    tests: &TestSet,
    measured: &[Measured],
) -> Vec<Vec<u32>> {
    let mut found = by_three_leads(network, tests, measured);
    found.extend(by_containment(network, gaps, tests, measured).into_iter().map(Vec::from));
    found.sort_unstable();
    found
}

/// Three readings of a pass between three pieces of copper, each set of leads touching the same in two of them, where one
/// shows more resistance than the other two together.
fn by_three_leads(network: &Network<'_>, tests: &TestSet, measured: &[Measured]) -> Vec<Vec<u32>> {
    struct Between {
        leads: [Vec<Body>; 2],
        number: u32,
        conductance: [f64; 2],
        volts: Option<Volts>,
    }
    let known: FxHashMap<u32, &Measured> = measured.iter().map(|one| (one.reading, one)).collect();
    let mut found = Vec::new();
    let mut number = 0;
    for pass in tests.passes() {
        let mut rows: Vec<Between> = Vec::new();
        for reading in pass.readings() {
            if let Some(measured) = known.get(&number) {
                let leads = LeadBodies::of(network, reading.leads()).0.map(|mut bodies| {
                    bodies.sort_unstable();
                    bodies.dedup();
                    bodies
                });
                rows.push(Between { leads, number, conductance: measured.conductance, volts: reading.volts() });
            }
            number += 1;
        }
        let mut at_lead: FxHashMap<&[Body], Vec<(usize, &[Body])>> = FxHashMap::default();
        let mut between: FxHashMap<[&[Body]; 2], usize> = FxHashMap::default();
        for (place, row) in rows.iter().enumerate().filter(|(_, row)| row.conductance[0] > 0.0) {
            let [one, other] = [row.leads[0].as_slice(), row.leads[1].as_slice()];
            for [one, other] in [[one, other], [other, one]] {
                at_lead.entry(one).or_default().push((place, other));
                // Of readings between the same leads the one that shows the most leakage.
                let known = between.entry([one, other]).or_insert(place);
                if row.conductance[0] > rows[*known].conductance[0] {
                    *known = place;
                }
            }
        }
        for high in rows.iter().filter(|row| row.conductance[1].is_finite()) {
            // By the lead that fewer readings touch; earth is on most.
            let [one, other] = [high.leads[0].as_slice(), high.leads[1].as_slice()];
            let at = |lead: &[Body]| at_lead.get(lead).map_or(&[][..], Vec::as_slice);
            let [from, to] = if at(one).len() <= at(other).len() { [one, other] } else { [other, one] };
            // Insulation that holds at a lower voltage may leak in the others, so this one must be taken at none lower.
            let is_lower = |row: &Between| match (high.volts, row.volts) {
                (Some(taken), Some(other)) => taken < other,
                (Some(_), None) => true,
                (None, _) => false,
            };
            for &(one, third) in at(from) {
                let Some(&other) = between.get(&[third, to]) else { continue };
                let [one, other] = [&rows[one], &rows[other]];
                let through = 1.0 / (1.0 / one.conductance[0] + 1.0 / other.conductance[0]);
                if !is_lower(one) && !is_lower(other) && high.conductance[1] < through * (1.0 - CLEAR) {
                    let mut readings = vec![high.number, one.number, other.number];
                    readings.sort_unstable();
                    found.push(readings);
                }
            }
        }
    }
    found
}

/// Pairs of readings, each as the lower and the higher number, of which the one contains the other and shows less leakage.
fn by_containment(network: &Network<'_>, gaps: &Gaps, tests: &TestSet, measured: &[Measured]) -> Vec<[u32; 2]> {
    let pairs = candidates(measured);
    if pairs.is_empty() {
        return Vec::new();
    }
    let needed: FxHashSet<u32> = pairs.iter().flatten().map(|&number| measured[number].reading).collect();
    let mut taken: FxHashMap<u32, Taken> = FxHashMap::default();
    let mut standing = Standing::before(network, tests);
    let mut number = 0;
    for pass in tests.passes() {
        standing.carry_out(network, pass);
        for reading in pass.readings() {
            if needed.contains(&number) {
                let leads = LeadBodies::of(network, reading.leads());
                taken.insert(number, Taken { standing: standing.clone(), leads, volts: reading.volts() });
            }
            number += 1;
        }
    }
    pairs
        .into_iter()
        .map(|pair| pair.map(|number| measured[number].reading))
        .filter(|[more, less]| is_contained(network, gaps, &taken[less], &taken[more]))
        .map(|[more, less]| [more.min(less), more.max(less)])
        .collect()
}

/// A reading as it was taken.
struct Taken {
    standing: Standing,
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
fn is_contained(network: &Network<'_>, gaps: &Gaps, less: &Taken, more: &Taken) -> bool {
    let [in_less, in_more] = [less, more].map(|taken| Across { network, gaps, standing: &taken.standing });
    let may = [0, 1].map(|lead: usize| in_less.closure(&less.leads.0[lead], Conducting::MaybeInAny));
    let sure = [0, 1].map(|lead: usize| in_more.closure(&more.leads.0[lead], Conducting::SureInEvery));
    let is_on = |lead: usize, other: usize| may[lead].0.iter().all(|body| sure[other].1.contains(body));
    if !(is_on(0, 0) && is_on(1, 1) || is_on(0, 1) && is_on(1, 0)) {
        return false;
    }
    // Where current can go: over gaps and what may conduct, from one lead without passing the other. From the smaller side.
    let weight = |lead: usize| may[lead].0.iter().map(|&body| gaps.at.at(body).len()).sum::<usize>();
    let from = if weight(0) <= weight(1) { 0 } else { 1 };
    let mut seen: FxHashSet<Body> = may[from].0.iter().copied().collect();
    let mut waiting: Vec<Body> = may[from].0.clone();
    while let Some(body) = waiting.pop() {
        if seen.len() > MOST_WALKED {
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
                let is_one = |lead: &(Vec<Body>, FxHashSet<Body>)| lead.1.contains(&body) && lead.1.contains(&far);
                if !in_more.conducts(edge, Conducting::SureInEvery) && !sure.iter().any(is_one) {
                    return false;
                }
                reached.push(far);
            }
        }
        waiting.extend(reached.into_iter().filter(|far| !may[1 - from].1.contains(far) && seen.insert(*far)));
    }
    true
}
