//! Whether the faults that explain each block explain all readings: those sums too that a block was solved without.

use std::borrow::Cow;

use fixedbitset::FixedBitSet;

use super::blocks::Leakage;
use super::program::{is_at_least, is_at_most};
use super::sums::Measured;
use crate::network::Lists;

/// A sum of gaps, and what it must come to, in µS.
struct GapSum<'e> {
    gaps: Cow<'e, [u32]>,
    bound: f64,
}

/// Leakages of all gaps, with the sums that they must keep to explain the readings.
pub(super) struct Explained<'e> {
    allowances: &'e [f64],
    threshold: f64,
    leakages: Vec<f64>,
    is_faulty: FixedBitSet,
    /// At most.
    ups: Vec<GapSum<'e>>,
    /// At least; what is not faulty leaks in each no more than the threshold beyond what it may.
    downs: Vec<GapSum<'e>>,
}

impl<'e> Explained<'e> {
    /// With no leakage, and the sums of these readings; none where a sum was too long to have.
    pub(super) fn of(
        measured: impl Iterator<Item = &'e Measured>,
        allowances: &'e [f64],
        threshold: f64,
    ) -> Option<Explained<'e>> {
        let (mut ups, mut downs) = (Vec::new(), Vec::new());
        let mut is_whole = true;
        for one in measured {
            let [least, greatest] = one.conductance;
            if greatest.is_finite() {
                ups.push(GapSum { gaps: one.bounded.as_deref()?.into(), bound: greatest });
            }
            if least > 0.0 && one.sums.is_whole {
                downs.extend(one.sums.cuts.iter().map(|cut| GapSum { gaps: cut.into(), bound: least }));
            } else if least > 0.0 {
                // Whatever the cut is, what is directly across the leads crosses it.
                downs.push(GapSum { gaps: one.sums.direct.as_deref()?.into(), bound: least });
                is_whole = false;
            }
        }
        if !is_whole {
            let all: Vec<u32> = (0..allowances.len() as u32).collect();
            downs.push(GapSum { gaps: all.into(), bound: 0.0 });
        }
        let leakages = vec![0.0; allowances.len()];
        let is_faulty = FixedBitSet::with_capacity(leakages.len());
        Some(Explained { allowances, threshold, leakages, is_faulty, ups, downs })
    }

    pub(super) fn set(&mut self, leakages: &[Leakage]) {
        for leakage in leakages {
            self.leakages[leakage.gap as usize] = leakage.microsiemens;
            self.is_faulty.set(leakage.gap as usize, leakage.is_faulty);
        }
    }

    /// Whether the leakages keep all sums, or do with what more healthy gaps may leak.
    ///
    /// Time linear in the sums; where they are broken, that times the sums that one gap is in.
    pub(super) fn holds(mut self) -> bool {
        if !self.is_kept() {
            self.raise();
        }
        self.is_kept()
    }

    fn is_kept(&self) -> bool {
        let is_low = |sum: &GapSum<'_>| is_at_most(self.total(sum), sum.bound);
        let is_high = |sum: &GapSum<'_>| {
            is_at_least(self.total(sum), sum.bound) && is_at_most(self.total_beyond(sum), self.threshold)
        };
        self.ups.iter().all(is_low) && self.downs.iter().all(is_high)
    }

    fn total(&self, sum: &GapSum<'_>) -> f64 {
        sum.gaps.iter().map(|&gap| self.leakages[gap as usize]).sum()
    }

    fn total_beyond(&self, sum: &GapSum<'_>) -> f64 {
        sum.gaps.iter().map(|&gap| self.beyond(gap)).sum()
    }

    /// What a gap that is not faulty leaks beyond what it may.
    fn beyond(&self, gap: u32) -> f64 {
        let gap = gap as usize;
        if self.is_faulty.contains(gap) { 0.0 } else { (self.leakages[gap] - self.allowances[gap]).max(0.0) }
    }

    /// Raises leakages, one after the other, where a sum at least is not met: to what is healthy first, then beyond.
    fn raise(&mut self) {
        let count = self.leakages.len();
        let entries = |sums: &[GapSum<'_>]| -> Vec<(u32, u32)> {
            let numbered = (0u32..).zip(sums);
            numbered.flat_map(|(number, sum)| sum.gaps.iter().map(move |&gap| (gap, number))).collect()
        };
        let lists = |sums: &[GapSum<'_>]| Lists::new(count, entries(sums).into_iter());
        let (ups_of, downs_of) = (lists(&self.ups), lists(&self.downs));
        let totals = |sums: &[GapSum<'_>]| -> Vec<f64> { sums.iter().map(|sum| self.total(sum)).collect() };
        let (mut ups, mut downs) = (totals(&self.ups), totals(&self.downs));
        let mut beyond: Vec<f64> = self.downs.iter().map(|sum| self.total_beyond(sum)).collect();
        for number in 0..self.downs.len() {
            for is_beyond in [false, true] {
                for place in 0..self.downs[number].gaps.len() {
                    let gap = self.downs[number].gaps[place];
                    let missing = self.downs[number].bound - downs[number];
                    if missing <= 0.0 {
                        break;
                    }
                    let below = ups_of.at(gap).iter().map(|&up| self.ups[up as usize].bound - ups[up as usize]);
                    let mut by = below.fold(missing, f64::min);
                    if !self.is_faulty.contains(gap as usize) {
                        let healthy = (self.allowances[gap as usize] - self.leakages[gap as usize]).max(0.0);
                        let beyond = downs_of.at(gap).iter().map(|&down| self.threshold - beyond[down as usize]);
                        let most = if is_beyond { beyond.fold(f64::INFINITY, f64::min) } else { 0.0 };
                        by = by.min(healthy + most.max(0.0));
                    }
                    if by <= 0.0 {
                        continue;
                    }
                    let before = self.beyond(gap);
                    self.leakages[gap as usize] += by;
                    ups_of.at(gap).iter().for_each(|&up| ups[up as usize] += by);
                    for &down in downs_of.at(gap) {
                        downs[down as usize] += by;
                        beyond[down as usize] += self.beyond(gap) - before;
                    }
                }
            }
        }
    }
}
