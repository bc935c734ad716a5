//! From what readings measured to what each gap can leak, and the fewest faults that explain it all.

use rustc_hash::FxHashMap;
use serde::{Deserialize, Serialize};

use super::blocks::{GapBlock, Leakage, blocks};
use super::faults::FewestFaults;
use super::limits::LocateLimits;
use super::program::{Block, Extreme, Healthy};
use super::sums::Measured;
use crate::observer::{Stage, Watch};

/// What the readings say of a gap.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum State {
    /// No leakage that fits the readings is a fault.
    Cleared,
    /// Some leakages that fit the readings are a fault, some are none.
    Suspect,
    /// Every leakage that fits the readings is a fault.
    Certain,
    /// No reading bounds its leakage.
    NotRead,
    /// The readings that it is in contradict one another: nothing is said of it.
    Contradicted,
}

/// What is said of one gap.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct GapBounds {
    pub(super) least: f64,
    pub(super) greatest: f64,
    /// Whether leakages that keep all sums come to each of both bounds.
    pub(super) tight: bool,
    pub(super) state: State,
    /// Whether nothing shows that a fault here and nowhere else does not explain all readings of its block.
    pub(super) explains_alone: bool,
    /// Whether it has part in a contradiction to health: one of such gaps must be faulty.
    pub(super) implicated: bool,
}

impl GapBounds {
    /// Takes bounds that are in no sum, each where it is the better one and both contradict none; healthy up to a
    /// leakage.
    pub(super) fn narrow(&mut self, [least, greatest]: [f64; 2], healthy: f64) {
        let (least, greatest) = (self.least.max(least), self.greatest.min(greatest));
        let is_narrower = least > self.least || greatest < self.greatest;
        if self.state == State::Contradicted || !is_narrower || least > greatest {
            return;
        }
        (self.least, self.greatest, self.tight) = (least, greatest, false);
        self.state = match self.state {
            State::NotRead | State::Suspect if least > healthy => State::Certain,
            State::NotRead | State::Suspect if greatest <= healthy => State::Cleared,
            State::NotRead if greatest.is_finite() => State::Suspect,
            state => state,
        };
    }
}

/// What is said of one block.
#[derive(Clone, Debug, Default)]
pub(super) struct BlockAnalysis {
    /// No fewer faults explain its readings.
    pub(super) at_least: usize,
    /// What gaps leak, and which are faulty, where as many faults are shown to explain its readings.
    pub(super) explanation: Option<Vec<Leakage>>,
    /// Readings that contradict one another, where any do: without any one of them the others do not.
    pub(super) conflict: Vec<u32>,
    pub(super) readings: Vec<u32>,
    pub(super) gaps: Vec<u32>,
}

/// What some readings say.
#[derive(Clone, Debug, Default)]
pub(super) struct Analysis {
    pub(super) gaps: FxHashMap<u32, GapBounds>,
    pub(super) blocks: Vec<BlockAnalysis>,
}

/// What the readings are looked at for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum AnalysisPurpose {
    /// What they say.
    Findings,
    /// What they would say with one more: that is asked often, so fewer programs are solved.
    Outcome,
}

/// The figures that the analysis goes by, in µS.
#[derive(Clone, Copy)]
pub(super) struct Figures<'a> {
    /// What each gap may leak as healthy cable.
    pub(super) allowances: &'a [f64],
    /// What makes a fault beyond it.
    pub(super) threshold: f64,
    pub(super) limits: &'a LocateLimits,
    pub(super) purpose: AnalysisPurpose,
}

impl Figures<'_> {
    fn allowance(&self, gaps: &[u32]) -> f64 {
        gaps.iter().map(|&gap| self.allowances[gap as usize]).sum()
    }
}

impl Analysis {
    /// What these readings say of the gaps that they are about.
    ///
    /// Time: linear in the sums, plus at most four linear programs for each column (gaps that the same sums hold are
    /// one), and for each block of what bears on one another, up to a limit of programs for the fewest faults.
    ///
    /// Where an observer stops it, blocks that were not begun are left out, and of the one that was some bounds are
    /// weaker.
    pub(super) fn of(
        measured: &[Measured],
        contradicting: &[[u32; 2]],
        figures: Figures<'_>,
        watch: &mut Watch<'_>,
    ) -> Analysis {
        let mut analysis = Analysis::default();
        let is_whole = measured.iter().all(|one| one.sums.is_whole);
        let all = blocks(measured, contradicting, |_, _| true);
        let block_count = all.len();
        for (number, whole) in all.into_iter().enumerate() {
            if figures.purpose == AnalysisPurpose::Findings {
                watch.at(Stage::Leakage, number, block_count);
            }
            if watch.is_stopped() {
                break;
            }
            if whole.block.size() <= figures.limits.block_with_all_sums {
                let has_all_sums = is_whole && figures.purpose == AnalysisPurpose::Findings;
                analysis.add(whole, contradicting, figures, has_all_sums, watch);
                continue;
            }
            let is_own = |one: &&Measured| whole.readings.binary_search(&one.reading).is_ok();
            let own: Vec<Measured> = measured.iter().filter(is_own).cloned().collect();
            let tells = |cut: &[u32], least: f64| least > figures.allowance(cut) + figures.threshold;
            for part in blocks(&own, contradicting, tells) {
                analysis.add(part, contradicting, figures, false, watch);
            }
        }
        analysis
    }

    fn add(
        &mut self,
        own: GapBlock,
        contradicting: &[[u32; 2]],
        figures: Figures<'_>,
        has_all_sums: bool,
        watch: &mut Watch<'_>,
    ) {
        let is_here = |pair: &&[u32; 2]| pair.iter().all(|reading| own.readings.binary_search(reading).is_ok());
        let allowance: Vec<f64> = own.columns.iter().map(|gaps| figures.allowance(gaps)).collect();
        let solved = match contradicting.iter().find(is_here) {
            Some(pair) => Some(Solved::contradicted(&own.block, pair.map(|reading| own.place_of(reading)).to_vec())),
            None => Solved::of(&own, &allowance, figures, has_all_sums, watch),
        };
        // Of a block that was stopped before it was known whether its readings contradict one another nothing is said.
        let Some(mut solved) = solved else { return };
        let is_asked = figures.purpose == AnalysisPurpose::Findings && own.block.size() <= figures.limits.block_solved;
        if !solved.conflict.is_empty() && is_asked && watch.goes_on_after_long() {
            // Of the other readings it is only asked whether they need a fault.
            let rest = own.block.of_readings(|reading| !solved.conflict.contains(&reading));
            let healthy = Healthy { allowance: &allowance, threshold: figures.threshold, faulty: &[] };
            let leakages = rest.explained(&healthy);
            solved.explanation = leakages.map(|leakages| own.share_out(&leakages, &[], figures.allowances));
        }
        for (column, gaps) in own.columns.iter().enumerate() {
            for &gap in gaps {
                let healthy = figures.allowances[gap as usize] + figures.threshold;
                self.gaps.insert(gap, solved.gap(&own.block, column, gaps.len(), healthy));
            }
        }
        let conflict = solved.conflict.iter().map(|&place| own.readings[place as usize]).collect();
        let (at_least, explanation) = (solved.faults.at_least, solved.explanation);
        let mut gaps: Vec<u32> = own.columns.into_iter().flatten().collect();
        gaps.sort_unstable();
        self.blocks.push(BlockAnalysis { at_least, explanation, conflict, readings: own.readings, gaps });
    }
}

/// What was worked out of one block.
struct Solved {
    /// For each column its least and its greatest leakage.
    bounds: Vec<[f64; 2]>,
    tight: Vec<bool>,
    faults: FewestFaults,
    explanation: Option<Vec<Leakage>>,
    /// Places in the block's list of readings.
    conflict: Vec<u32>,
}

impl Solved {
    fn by_single_sums(block: &Block) -> Solved {
        let columns = 0..block.column_count as u32;
        Solved {
            bounds: columns.map(|column| [0.0, block.by_one_sum(column, Extreme::Greatest)]).collect(),
            tight: vec![false; block.column_count],
            faults: FewestFaults::default(),
            explanation: None,
            conflict: Vec::new(),
        }
    }

    fn contradicted(block: &Block, conflict: Vec<u32>) -> Solved {
        Solved { bounds: vec![[0.0, f64::INFINITY]; block.column_count], conflict, ..Solved::by_single_sums(block) }
    }

    /// None where an observer stopped it before it was known whether the readings contradict one another.
    fn of(
        own: &GapBlock,
        allowance: &[f64],
        figures: Figures<'_>,
        has_all_sums: bool,
        watch: &mut Watch<'_>,
    ) -> Option<Solved> {
        let Figures { threshold, limits, .. } = figures;
        let block = &own.block;
        let mut solved = Solved::by_single_sums(block);
        if block.downs.is_empty() {
            // Each column for itself comes to its least sum with nothing in the others.
            solved.tight.fill(has_all_sums);
            solved.explanation = Some(own.share_out(&vec![0.0; block.column_count], &[], figures.allowances));
            return Some(solved);
        }
        let size = block.size();
        if size > limits.block_solved {
            for (column, bounds) in (0u32..).zip(&mut solved.bounds) {
                bounds[0] = block.by_one_sum(column, Extreme::Least);
            }
            solved.faults = FewestFaults::by_single_sums(block, allowance, threshold);
            return Some(solved);
        }
        if !watch.goes_on_after_long() {
            return None;
        }
        if let Ok(Some(certificate)) = block.contradiction(None) {
            return Some(Solved::contradicted(block, irreducible(block, certificate.readings, watch)));
        }
        let mut left = limits.programs(limits.programs_for_bounds, size);
        for (column, bounds) in (0u32..).zip(&mut solved.bounds) {
            let is_cleared = bounds[1] <= allowance[column as usize] + threshold;
            let is_left_out = size > limits.block_for_every_column && is_cleared || left < 2;
            if is_left_out || !watch.goes_on_after_long() {
                bounds[0] = block.by_one_sum(column, Extreme::Least);
            } else {
                left -= 2;
                *bounds = [Extreme::Least, Extreme::Greatest].map(|extreme| block.bound(column, extreme));
            }
        }
        if has_all_sums {
            solved.tight = tight(block, &solved.bounds, watch);
        }
        let programs = match figures.purpose {
            AnalysisPurpose::Findings => limits.programs_for_faults,
            AnalysisPurpose::Outcome => limits.programs_for_outcome,
        };
        let programs = limits.programs(programs, size);
        solved.faults = FewestFaults::of(block, allowance, threshold, programs, watch);
        if figures.purpose == AnalysisPurpose::Findings && watch.goes_on_after_long() {
            solved.explanation = solved.faults.explanation(own, figures.allowances, allowance, threshold, programs);
        }
        Some(solved)
    }

    /// Of a gap that has a column together with others, healthy up to a leakage.
    fn gap(&self, block: &Block, column: usize, together: usize, healthy: f64) -> GapBounds {
        let [least, greatest] = self.bounds[column];
        // Of gaps that all the same sums hold, each may have all of it and none need have any.
        let least = if together == 1 { least } else { 0.0 };
        let column = column as u32;
        let state = if !self.conflict.is_empty() {
            State::Contradicted
        } else if block.by_one_sum(column, Extreme::Greatest).is_infinite() && least <= healthy {
            State::NotRead
        } else if greatest <= healthy {
            State::Cleared
        } else if least > healthy {
            State::Certain
        } else {
            State::Suspect
        };
        GapBounds {
            least,
            greatest,
            tight: self.tight[column as usize],
            state,
            explains_alone: self.faults.alone.contains(&column),
            implicated: self.faults.implicated.contains(&column),
        }
    }
}

/// For each column whether leakages that keep all sums come to both its bounds. (Where nothing bounds it above, any
/// that keep them do: it may leak more still.)
fn tight(block: &Block, bounds: &[[f64; 2]], watch: &mut Watch<'_>) -> Vec<bool> {
    // For each column the least and the greatest leakage seen so far: one program serves many columns.
    let mut seen = vec![[f64::INFINITY, f64::NEG_INFINITY]; bounds.len()];
    let mut is_met = |column: u32, extreme: Extreme| {
        let side = extreme as usize;
        let bound = bounds[column as usize][side];
        let is_met = |seen: &[[f64; 2]]| bound.is_infinite() || extreme.is_met(seen[column as usize][side], bound);
        if !is_met(&seen)
            && watch.goes_on_after_long()
            && let Some(leakages) = block.leakages(column, extreme)
        {
            for (seen, leakage) in seen.iter_mut().zip(leakages) {
                *seen = [seen[0].min(leakage), seen[1].max(leakage)];
            }
        }
        is_met(&seen)
    };
    (0..bounds.len() as u32).map(|column| is_met(column, Extreme::Least) && is_met(column, Extreme::Greatest)).collect()
}

/// Takes readings away from a contradiction as long as one is left; what remains needs every one of them, unless an
/// observer stopped it.
fn irreducible(block: &Block, readings: Vec<u32>, watch: &mut Watch<'_>) -> Vec<u32> {
    let mut kept = readings.clone();
    for reading in readings {
        if kept.len() == 1 || !watch.goes_on_after_long() {
            break;
        }
        let without: Vec<u32> = kept.iter().copied().filter(|&other| other != reading).collect();
        let rest = block.of_readings(|reading| without.contains(&reading));
        if matches!(rest.contradiction(None), Ok(Some(_))) {
            kept = without;
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::super::program::Sum;
    use super::*;
    use crate::observer::Unwatched;

    /// Of two columns one leaks at most 3, both together at least 4 and at most 5.
    #[test]
    fn only_bounds_that_leakages_come_to_are_tight() {
        let sum = |columns: Vec<u32>, bound: f64| Sum { columns, bound, reading: 0 };
        let tight = |block: &Block, bounds: &[[f64; 2]]| tight(block, bounds, &mut Watch::new(&mut Unwatched));
        let block = Block::new(2, vec![sum(vec![0], 3.0), sum(vec![0, 1], 5.0)], vec![sum(vec![0, 1], 4.0)]);
        assert_eq!(tight(&block, &[[0.0, 3.0], [1.0, 5.0]]), [true, true]);
        assert_eq!(tight(&block, &[[0.0, 3.1], [1.0, 5.0]]), [false, true]);
        assert_eq!(tight(&block, &[[0.0, 3.0], [0.9, 5.0]]), [true, false]);
        let open = Block::new(2, vec![sum(vec![0], 3.0)], vec![sum(vec![0, 1], 4.0)]);
        assert_eq!(tight(&open, &[[0.0, 3.0], [1.0, f64::INFINITY]]), [true, true]);
    }
}
