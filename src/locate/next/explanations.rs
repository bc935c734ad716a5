//! The sets of gaps that may be the fewest faults of a block, and how likely each is: what the next reading is to split.
//!
//! A reading that a fault must explain names a cut that one of its gaps must be faulty in; sets that meet all these cuts
//! are the explanations. How likely one is goes by the metres and accessories that it is in, and by what it would have
//! made of the readings that were taken: a value about the limit rules nothing out, yet tells where to look first.
//! Nothing is claimed by that. It decides which reading is asked for, never what a reading says.

use std::collections::BTreeMap;

use super::super::analysis::{Analysis, BlockAnalysis, State};
use super::super::evidence::Evidence;
use super::super::gaps::GapId;
use super::super::sums::Measured;

/// Metres that two terminals of an accessory count for: faults are made where cable is cut and connected. Our own
/// choice.
const METRES_FOR_AN_ACCESSORY: f64 = 5.0;

/// How likely a reading is taken to come out otherwise than a set of faults has it. Our own choice.
const UNLIKELY: f64 = 0.02;

/// The part of the limit beyond what healthy cable may leak from which on a value is taken to show a fault. Our own
/// choice.
pub(super) const SHOWING: f64 = 0.2;

/// What a reading shows if some gaps are the faults.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Shows {
    /// One is directly across the leads.
    Low,
    /// None crosses some cut.
    High,
    /// One crosses every cut, so it is low if what may conduct does.
    Either,
    /// Several cross the cuts between them, so it is low if they lie one behind the other.
    InSeries,
}

impl Shows {
    /// How likely the reading is low. Our own choice.
    fn low(self) -> f64 {
        match self {
            Shows::Low => 1.0 - UNLIKELY,
            Shows::High => UNLIKELY,
            Shows::Either => 0.5,
            Shows::InSeries => 0.15,
        }
    }
}

/// A sum at least that healthy gaps don't come to.
struct Telling {
    /// Those of its gaps that are not cleared.
    gaps: Vec<u32>,
    /// What faults in it leak at least, in µS.
    least: f64,
}

/// The sets of gaps that may be the fewest faults of a block.
pub(super) struct Explanations {
    /// The gaps that are in some set, ascending.
    gaps: Vec<u32>,
    /// Each set by the places of its gaps.
    sets: Vec<Vec<usize>>,
    /// How likely each is, in parts of one.
    weights: Vec<f64>,
    /// For each set those of its gaps that are looked for first, by their place in `sought`.
    sought_of: Vec<usize>,
    /// What is looked for first: of which gaps one or more are the faults of one telling sum.
    pub(super) sought: Vec<Vec<u32>>,
    /// Whether no limit left any out.
    pub(super) is_whole: bool,
}

impl Explanations {
    /// Those of a block in an analysis, with the readings that it is made of.
    ///
    /// Time: sets up to the limit, times the sums that tell of faults.
    pub(super) fn of(
        evidence: &Evidence<'_>,
        analysis: &Analysis,
        block: &BlockAnalysis,
        measured: &[Measured],
    ) -> Explanations {
        let suspects: Vec<u32> = analysis.suspects(block).into_iter().map(|gap| gap.0).collect();
        let is_own = |one: &&Measured| block.readings.binary_search(&one.reading).is_ok();
        let own: Vec<&Measured> = measured.iter().filter(is_own).collect();
        let telling = telling(evidence, analysis, &own);
        let mut search = ExplanationSearch { analysis, telling: &telling, sets: Vec::new(), is_whole: true };
        if block.at_least > 1 {
            let most = evidence.network.limits().locate.explanations_weighed;
            search.complete(&mut Vec::new(), block.at_least, &[], most);
        }
        let ExplanationSearch { mut sets, is_whole, .. } = search;
        if sets.is_empty() {
            sets = suspects.into_iter().map(|gap| vec![gap]).collect();
        }
        let mut gaps = sets.concat();
        gaps.sort_unstable();
        gaps.dedup();
        let weights = sets.iter().map(|set| set.iter().map(|&gap| weight(evidence, GapId(gap))).product()).collect();
        let place = |gap: &u32| gaps.binary_search(gap).expect("it is in a set");
        let sets = sets.iter().map(|set| set.iter().map(place).collect()).collect();
        let mut found = Explanations { gaps, sought_of: Vec::new(), sought: Vec::new(), sets, weights, is_whole };
        own.iter().for_each(|one| found.weigh_by(evidence, one));
        let all: f64 = found.weights.iter().sum();
        found.weights.iter_mut().for_each(|weight| *weight /= all);
        found.seek(&telling);
        found
    }

    /// The gaps that may be what is looked for first, ascending.
    pub(super) fn suspects(&self) -> Vec<GapId> {
        let mut suspects: Vec<GapId> = self.sought.iter().flatten().map(|&gap| GapId(gap)).collect();
        suspects.sort_unstable();
        suspects.dedup();
        suspects
    }

    /// What each set makes of a reading with these sums.
    pub(super) fn shows(&self, direct: &[u32], cuts: &[Vec<u32>]) -> Vec<Shows> {
        let in_sum =
            |sum: &[u32]| -> Vec<bool> { self.gaps.iter().map(|gap| sum.binary_search(gap).is_ok()).collect() };
        let (direct, cuts) = (in_sum(direct), cuts.iter().map(|cut| in_sum(cut)).collect::<Vec<_>>());
        let shows = |set: &Vec<usize>| {
            let is_met = |cut: &Vec<bool>| set.iter().any(|&gap| cut[gap]);
            if is_met(&direct) {
                Shows::Low
            } else if set.iter().any(|&gap| cuts.iter().all(|cut| cut[gap])) {
                Shows::Either
            } else if cuts.iter().all(is_met) {
                Shows::InSeries
            } else {
                Shows::High
            }
        };
        self.sets.iter().map(shows).collect()
    }

    /// How many bits a reading tells, on average, of what is looked for first.
    pub(super) fn bits(&self, shows: &[Shows]) -> f64 {
        let mut low_of = vec![[0.0; 2]; self.sought.len()];
        for ((&sought, &weight), shows) in self.sought_of.iter().zip(&self.weights).zip(shows) {
            low_of[sought][0] += weight;
            low_of[sought][1] += weight * shows.low();
        }
        let low: f64 = low_of.iter().map(|row| row[1]).sum();
        let left: f64 = low_of.iter().map(|[all, low]| all * binary_entropy(low / all.max(f64::MIN_POSITIVE))).sum();
        binary_entropy(low) - left
    }

    /// Takes what a reading showed into how likely each set is.
    fn weigh_by(&mut self, evidence: &Evidence<'_>, one: &Measured) {
        let (Some(bounded), false) = (&one.bounded, one.sums.cuts.is_empty()) else { return };
        let threshold = evidence.assumptions.threshold();
        let [least, greatest] = one.conductance;
        let allowance = |cut: &Vec<u32>| cut.iter().map(|&gap| evidence.allowances[gap as usize]).sum::<f64>();
        let healthy = one.sums.cuts.iter().map(allowance).fold(0.0, f64::max);
        let is_low = least > healthy + SHOWING * threshold;
        if !is_low && greatest > threshold {
            return;
        }
        let shows = self.shows(bounded, &one.sums.cuts);
        for (weight, shows) in self.weights.iter_mut().zip(shows) {
            *weight *= if is_low { shows.low() } else { 1.0 - shows.low() };
        }
    }

    /// Chooses the telling sum of whose faults most is known: the others come after it.
    fn seek(&mut self, telling: &[Telling]) {
        let by = |within: &dyn Fn(&u32) -> bool| -> (f64, Vec<usize>, Vec<Vec<u32>>) {
            let mut places: BTreeMap<Vec<u32>, (usize, f64)> = BTreeMap::new();
            let mut of = Vec::new();
            for (set, weight) in self.sets.iter().zip(&self.weights) {
                let next = places.len();
                let sought = set.iter().map(|&place| self.gaps[place]).filter(within).collect();
                let entry = places.entry(sought).or_insert((next, 0.0));
                entry.1 += weight;
                of.push(entry.0);
            }
            let entropy = places.values().map(|(_, weight)| surprise(*weight)).sum();
            let mut sought = vec![Vec::new(); places.len()];
            places.into_iter().for_each(|(gaps, (place, _))| sought[place] = gaps);
            (entropy, of, sought)
        };
        let best = telling.iter().map(|row| by(&|gap| row.gaps.binary_search(gap).is_ok()));
        let best = best.filter(|(_, _, sought)| sought.iter().all(|gaps| !gaps.is_empty()));
        let best = best.min_by(|one, other| one.0.total_cmp(&other.0));
        let (_, of, sought) = best.unwrap_or_else(|| by(&|_| true));
        (self.sought_of, self.sought) = (of, sought);
    }
}

fn telling(evidence: &Evidence<'_>, analysis: &Analysis, measured: &[&Measured]) -> Vec<Telling> {
    let is_open = |gap: &u32| analysis.gaps.get(gap).is_none_or(|bounds| bounds.state != State::Cleared);
    let cuts = measured.iter().flat_map(|one| one.sums.cuts.iter().map(|cut| (one.conductance[0], cut)));
    let rows = cuts.filter_map(|(least, cut)| {
        let healthy: f64 = cut.iter().map(|&gap| evidence.allowances[gap as usize]).sum();
        let least = least - healthy - evidence.assumptions.threshold();
        (least > 0.0).then(|| Telling { gaps: cut.iter().copied().filter(is_open).collect(), least })
    });
    let mut telling: Vec<Telling> = rows.collect();
    telling.sort_by_key(|row| row.gaps.len());
    telling
}

/// A search for the sets of so many gaps that meet every telling sum.
struct ExplanationSearch<'a> {
    analysis: &'a Analysis,
    telling: &'a [Telling],
    sets: Vec<Vec<u32>>,
    is_whole: bool,
}

impl ExplanationSearch<'_> {
    /// Completes a set with so many more gaps, none of those that are excluded, in each way, up to a number that all
    /// that a choice is among have alike.
    fn complete(&mut self, set: &mut Vec<u32>, faults: usize, not: &[u32], most: usize) {
        let telling = self.telling;
        let Some(row) = telling.iter().find(|row| !self.is_met(row, set)) else {
            let mut set = set.clone();
            set.sort_unstable();
            self.sets.push(set);
            return;
        };
        if faults == 0 {
            return;
        }
        let choices: Vec<u32> =
            row.gaps.iter().copied().filter(|gap| !not.contains(gap) && !set.contains(gap)).collect();
        let mut excluded = not.to_vec();
        let begun = self.sets.len();
        for (number, &gap) in choices.iter().enumerate() {
            let share = (most - (self.sets.len() - begun).min(most)) / (choices.len() - number);
            if share == 0 {
                self.is_whole = false;
                continue;
            }
            set.push(gap);
            self.complete(set, faults - 1, &excluded, share);
            set.pop();
            excluded.push(gap);
        }
    }

    fn is_met(&self, row: &Telling, set: &[u32]) -> bool {
        let greatest = |gap: &u32| self.analysis.gaps.get(gap).map_or(f64::INFINITY, |bounds| bounds.greatest);
        let here = set.iter().filter(|gap| row.gaps.binary_search(gap).is_ok());
        here.map(greatest).sum::<f64>() >= row.least
    }
}

/// Metres of a gap, with what its accessories count for.
pub(super) fn weight(evidence: &Evidence<'_>, gap: GapId) -> f64 {
    let gaps = &evidence.gaps;
    let accessories = gaps.members[gap.index()].len() - gaps.lengths(gap).count();
    (gaps.metres[gap.index()] + METRES_FOR_AN_ACCESSORY * accessories as f64).max(f64::MIN_POSITIVE)
}

/// What a part of one adds to an entropy, in bits.
fn surprise(part: f64) -> f64 {
    if part > 0.0 { -part * part.log2() } else { 0.0 }
}

fn binary_entropy(part: f64) -> f64 {
    surprise(part) + surprise(1.0 - part)
}
