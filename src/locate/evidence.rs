//! What the readings of a test set measured, gap by gap, and what follows: the working tables behind the findings.

use fixedbitset::FixedBitSet;
use rustc_hash::FxHashSet;
use serde::{Deserialize, Serialize};

use super::analysis::{Analysis, AnalysisPurpose, BlockAnalysis, Figures, GapBounds, State};
use super::assumptions::Assumptions;
use super::contradiction::contradicting;
use super::each_start::EachStart;
use super::explained::Explained;
use super::gaps::{GapId, GapTable};
use super::sums::{Across, Measured, Shown};
use crate::coverage::Tested;
use crate::model::{Indication, LengthId, Reading, TestSet, Volts};
use crate::network::{Need, Network};
use crate::observer::{Stage, Watch};
use crate::reading::{Configuration, LeadBodies, Probe, Replay, Void};

/// Why a reading has no part in the findings.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum LeftOut {
    /// Its leads were joined for sure: it measured no insulation.
    Bridged,
    /// Its leads may have been joined.
    Doubtful,
    /// What the instrument showed is not recorded, or says nothing (0).
    NoValue,
}

/// What became of one reading.
pub(super) struct ReadingUse {
    /// The pass and the reading in it, counted from 1.
    pub(super) place: [usize; 2],
    pub(super) left_out: Option<LeftOut>,
    pub(super) taken_below: Option<Volts>,
    /// The least and the greatest conductance that it shows, in µS; the greatest may be infinite.
    pub(super) conductance: [f64; 2],
}

/// The readings of a test set as sums of gaps, and what follows.
pub(super) struct Evidence<'n> {
    pub(super) network: &'n Network,
    pub(super) assumptions: Assumptions,
    pub(super) gaps: GapTable,
    /// What each gap may leak as healthy cable, in µS.
    pub(super) allowances: Vec<f64>,
    pub(super) readings: Vec<ReadingUse>,
    pub(super) measured: Vec<Measured>,
    pub(super) analysis: Analysis,
    /// Where the next reading starts from.
    pub(super) standing: Configuration,
}

impl<'n> Evidence<'n> {
    /// Where an observer stops it before all readings are looked at, nothing follows from those that were.
    pub(super) fn of(
        network: &'n Network,
        tests: &TestSet,
        assumptions: Assumptions,
        watch: &mut Watch<'_>,
    ) -> Evidence<'n> {
        let tested = Tested::by(network, tests, Need::Standard, watch);
        let gaps = GapTable::of(network, &touched(network, tests));
        let mut replay = Replay::of(network, tests);
        let reading_count = tests.passes().iter().map(|pass| pass.readings().len()).sum();
        let mut pass_number = 0;
        let mut readings = Vec::new();
        let mut measured = Vec::new();
        let mut each_start = EachStart::default();
        let mut probe = Probe::new(network);
        while let Some((pass, standing)) = replay.next_pass() {
            pass_number += 1;
            for (number, reading) in pass.readings().iter().enumerate() {
                let place = [pass_number, number + 1];
                if !watch.goes_on_at(Stage::Sums, readings.len(), reading_count) {
                    break;
                }
                let shown = reading.megohms();
                let conductance = shown.map_or([0.0, f64::INFINITY], |shown| assumptions.conductances(shown));
                let left_out = left_out(tested.readings[readings.len()].void, shown);
                let mut taken_below = None;
                if left_out.is_none() {
                    let leads = LeadBodies::of(network, reading);
                    let across = Across { network, gaps: &gaps, standing };
                    let sums = across.sums(&leads);
                    let shown = Shown { reading: readings.len() as u32, conductance, volts: reading.volts() };
                    each_start.enter((network, &mut probe), (standing, &leads), &gaps, &shown);
                    taken_below = taken_below_volts(reading, &gaps, sums.direct.as_deref());
                    measured.push(Measured::of(&shown, sums, &gaps));
                }
                readings.push(ReadingUse { place, left_out, taken_below, conductance });
            }
        }
        let allowances = gaps.metres.iter().map(|&metres| assumptions.allowance(metres)).collect();
        let standing = replay.configuration().for_planning(network);
        let analysis = Analysis::default();
        let mut evidence = Evidence { network, assumptions, gaps, allowances, readings, measured, analysis, standing };
        if !watch.is_stopped() {
            let contradicting = contradicting(network, &evidence.gaps, tests, &evidence.measured);
            evidence.analysis = evidence.analysed(&evidence.measured, &contradicting, AnalysisPurpose::Findings, watch);
            evidence.bound_each_start(&each_start, watch);
        }
        evidence
    }

    /// Takes what holds start by start, by readings that contradict no other.
    fn bound_each_start(&mut self, each_start: &EachStart, watch: &mut Watch<'_>) {
        let threshold = self.assumptions.threshold();
        let blocks = &self.analysis.blocks;
        let in_conflict: FxHashSet<u32> = blocks.iter().flat_map(|block| &block.conflict).copied().collect();
        let counts = |reading: u32| !in_conflict.contains(&reading);
        let measured: Vec<Measured> = self.measured.iter().filter(|one| counts(one.reading)).cloned().collect();
        for group in each_start.groups(self.network, counts) {
            if !watch.goes_on_after_long() {
                break;
            }
            let analysed = |measured: &[Measured]| self.analysed(measured, &[], AnalysisPurpose::Outcome, watch);
            let Some(found) = group.for_every_start(&measured, analysed) else { continue };
            if !watch.is_stopped() {
                found.narrow(&mut self.analysis, |gap| self.allowances[gap as usize] + threshold);
            }
        }
        for (gap, greatest) in each_start.bounds(self.network, counts) {
            if let Some(bounds) = self.analysis.gaps.get_mut(&gap) {
                bounds.narrow([bounds.least, greatest], self.allowances[gap as usize] + threshold);
            }
        }
    }

    /// What some readings say.
    pub(super) fn analysed(
        &self,
        measured: &[Measured],
        contradicting: &[[u32; 2]],
        purpose: AnalysisPurpose,
        watch: &mut Watch<'_>,
    ) -> Analysis {
        let (allowances, threshold) = (&self.allowances, self.assumptions.threshold());
        let limits = &self.network.limits().locate;
        Analysis::of(measured, contradicting, Figures { allowances, threshold, limits, purpose }, watch)
    }

    /// No fewer faulty gaps explain the readings, those left out that contradict one another.
    pub(super) fn fewest_faults(&self) -> usize {
        let blocks = self.analysis.blocks.iter().filter(|block| block.conflict.is_empty());
        blocks.map(|block| block.at_least).sum()
    }

    /// Whether as many faulty gaps are shown to explain the readings, those left out that contradict one another: by
    /// leakages that keep every sum of each reading.
    pub(super) fn is_explained(&self) -> bool {
        let blocks = &self.analysis.blocks;
        let in_conflict: FxHashSet<u32> = blocks.iter().flat_map(|block| &block.conflict).copied().collect();
        let threshold = self.assumptions.threshold();
        let counted = self.measured.iter().filter(|one| !in_conflict.contains(&one.reading));
        let Some(mut explained) = Explained::of(counted, &self.allowances, threshold) else { return false };
        for block in blocks {
            match &block.explanation {
                Some(leakages) => explained.set(leakages),
                // All of its readings contradict one another: none is left to explain.
                None if block.readings.len() == block.conflict.len() => {}
                None => return false,
            }
        }
        explained.holds()
    }

    /// Sets of readings that contradict one another, each reading by its place.
    pub(super) fn conflicts(&self) -> impl Iterator<Item = Vec<[usize; 2]>> + '_ {
        let conflicts = self.analysis.blocks.iter().map(|block| &block.conflict).filter(|set| !set.is_empty());
        conflicts.map(|set| set.iter().map(|&reading| self.readings[reading as usize].place).collect())
    }

    /// What is said of a gap that some reading is about.
    pub(super) fn bounds(&self, gap: GapId) -> &GapBounds {
        &self.analysis.gaps[&gap.0]
    }

    /// The lengths that some gaps are in, each once, in the order of the file.
    pub(super) fn lengths(&self, gaps: &[GapId]) -> Vec<LengthId> {
        let mut lengths: Vec<LengthId> = gaps.iter().flat_map(|&gap| self.gaps.lengths(gap)).collect();
        lengths.sort_unstable();
        lengths.dedup();
        lengths
    }
}

impl Analysis {
    /// The blocks of readings in which something must be faulty, in order.
    pub(super) fn faulty_blocks(&self) -> impl Iterator<Item = &BlockAnalysis> {
        self.blocks.iter().filter(|block| block.at_least > 0)
    }

    /// The gaps of a block that may explain it alone and are not cleared (if it is one fault, it is in one of these).
    /// Where none such is left, those that may explain it alone though each is cleared: no leakage of one is a fault,
    /// so several lesser ones add up. Where no one does, those implicated: one of them must be faulty.
    pub(super) fn suspects(&self, block: &BlockAnalysis) -> Vec<GapId> {
        let such = |is_such: &dyn Fn(&GapBounds) -> bool| -> Vec<GapId> {
            block.gaps.iter().filter(|gap| is_such(&self.gaps[gap])).map(|&gap| GapId(gap)).collect()
        };
        let alone = such(&|gap| gap.explains_alone);
        let suspects = such(&|gap| {
            gap.state != State::Cleared && if alone.is_empty() { gap.implicated } else { gap.explains_alone }
        });
        if suspects.is_empty() { alone } else { suspects }
    }
}

/// The bodies that the leads of all readings touch.
fn touched(network: &Network, tests: &TestSet) -> FixedBitSet {
    let mut touched = FixedBitSet::with_capacity(network.body_count());
    for lead in tests.passes().iter().flat_map(|pass| pass.readings()).flat_map(Reading::leads) {
        lead.touches().iter().for_each(|&terminal| touched.insert(network.body(terminal) as usize));
    }
    touched
}

fn left_out(void: Option<Void>, shown: Option<Indication>) -> Option<LeftOut> {
    match (void, shown) {
        (Some(Void::Bridged), _) => Some(LeftOut::Bridged),
        (Some(Void::Doubtful | Void::NotRuledOut), _) => Some(LeftOut::Doubtful),
        (None, None) => Some(LeftOut::NoValue),
        (None, Some(Indication::Value(value))) if value.0 <= 0.0 => Some(LeftOut::NoValue),
        (None, Some(_)) => None,
    }
}

/// The greatest test voltage that a gap directly across the leads asks for, where the reading was taken below it.
fn taken_below_volts(reading: &Reading, gaps: &GapTable, direct: Option<&[u32]>) -> Option<Volts> {
    let taken = reading.volts()?;
    let more = direct?.iter().filter_map(|&gap| gaps.asks_for_more(gap, taken));
    more.max_by(|one, other| one.0.total_cmp(&other.0))
}
