//! What the readings of a test set say of every gap.

use fixedbitset::FixedBitSet;
use serde::{Deserialize, Serialize};

use super::analysis::{Analysis, BlockFinding, Explanation, GapFinding, Limits, MOST_SOLVED, Measured, State};
use super::assumptions::Assumptions;
use super::contradiction::contradicting;
use super::gap::{GapId, Gaps, Member};
use super::sums::Across;
use crate::coverage::Tested;
use crate::model::{Indication, Metres, ReadingAt, TestSet, Volts};
use crate::network::{Need, Network};
use crate::reading::{Configuration, LeadBodies, Replay, Void};
use crate::rules::{board_test_voltage, test_voltage};

/// Why a reading has no part in the findings.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum LeftOut {
    /// Its leads were joined for sure: it measured no insulation.
    Bridged,
    /// Its leads may have been joined.
    Doubtful,
    /// What the instrument showed is not recorded, or says nothing (0).
    NoValue,
}

/// What became of one reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ReadingUse {
    /// The pass, counted from 1.
    pub pass: usize,
    /// The reading in the pass, counted from 1.
    pub reading: usize,
    /// Why it has no part; none where it has.
    pub left_out: Option<LeftOut>,
    /// The greatest test voltage that a gap directly across its leads asks for (that of its circuits, or of the board), where
    /// it was taken below that. Insulation that holds at a lower voltage may break down at this one, so that it bounds the
    /// leakage of no such gap from above; what it shows to leak does leak. None where it was taken at that voltage or above,
    /// or the voltage is not recorded.
    pub taken_below: Option<Volts>,
    /// Whether its test voltage is recorded; else it is taken to be the right one.
    pub has_volts: bool,
    /// The least and the greatest conductance that it shows, in µS; the greatest may be infinite.
    pub conductance: [f64; 2],
}

/// Readings that can't all be right, whatever leaks where in the model; without any one of them the rest are not shown
/// to be wrong.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Conflict {
    /// As [pass, reading].
    pub readings: Vec<[usize; 2]>,
}

/// What is said of one gap: bounds on its leakage that hold for every leakage that fits the readings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Finding {
    /// The least leakage, in µS (1 µS is 1 MΩ).
    pub least: f64,
    /// The greatest, in µS; infinite where no reading bounds it.
    pub greatest: f64,
    /// Whether both are the best that follow from the readings' inequalities, up to rounding.
    pub tight: bool,
    /// What follows.
    pub state: State,
    /// Whether a fault here, and nowhere else in its block of readings, may explain them: false only where the readings
    /// rule that out, true also where the search left it open. Where [`Locate::fewest_faults`] is exact with one fault for
    /// each block, at least one of the block's does explain them.
    pub explains_alone: bool,
    /// Whether it is one of some gaps of which one must be faulty.
    pub implicated: bool,
}

/// What readings say of where the insulation leaks.
#[derive(Debug)]
#[must_use]
pub struct Locate<'n> {
    pub(super) network: &'n Network,
    pub(super) assumptions: Assumptions,
    pub(super) gaps: Gaps,
    pub(super) readings: Vec<ReadingUse>,
    pub(super) measured: Vec<Measured>,
    pub(super) analysis: Analysis,
    /// Where the next reading starts from.
    pub(super) standing: Configuration,
}

impl<'n> Locate<'n> {
    /// Works out what the readings of a test set say.
    ///
    /// Sound: "cleared" and "certain" hold for every leakage in the model that fits the readings, whichever position
    /// unknown devices were in. Bounds are the best that follow from the inequalities (see the [module](super)) for
    /// blocks of readings up to a size, else weaker; for the plain sums they are not always the best that physics allows.
    ///
    /// Time: that of [`Coverage::of`](crate::Coverage::of), plus what the readings reach, plus two linear programs for each set of gaps that
    /// the same readings hold.
    ///
    /// # Panics
    ///
    /// Where the test set was checked against another installation: its ids mean nothing in this one.
    pub fn of(network: &'n Network, test_set: &TestSet, assumptions: Assumptions) -> Locate<'n> {
        let tested = Tested::by(network, test_set, Need::Standard);
        let mut touched = FixedBitSet::with_capacity(network.body_count());
        for reading in test_set.passes().iter().flat_map(|pass| pass.readings()) {
            for lead in reading.leads() {
                lead.touches().iter().for_each(|&terminal| touched.insert(network.body(terminal) as usize));
            }
        }
        let gaps = Gaps::of(network, &touched);
        let mut replay = Replay::of(network, test_set);
        let mut readings = Vec::new();
        let mut measured = Vec::new();
        let mut pass_number = 0;
        while let Some((pass, standing)) = replay.next_pass() {
            pass_number += 1;
            for (number, read) in pass.readings().iter().enumerate() {
                let conductance = read.megohms().map_or([0.0, f64::INFINITY], |shown| assumptions.conductances(shown));
                let left_out = match (tested.readings[readings.len()].void, read.megohms()) {
                    (Some(Void::Bridged), _) => Some(LeftOut::Bridged),
                    (Some(Void::Doubtful | Void::NotRuledOut), _) => Some(LeftOut::Doubtful),
                    (None, None) => Some(LeftOut::NoValue),
                    (None, Some(Indication::Value(value))) if value.0 <= 0.0 => Some(LeftOut::NoValue),
                    (None, Some(_)) => None,
                };
                let mut taken_below = None;
                if left_out.is_none() {
                    let across = Across { network, gaps: &gaps, standing };
                    let sums = across.sums(&LeadBodies::of(network, read.leads()));
                    taken_below = read.volts().and_then(|taken| gaps.asks_for_more(sums.direct.as_deref()?, taken));
                    measured.push(Measured::of(readings.len() as u32, sums, conductance, read.volts(), &gaps));
                }
                let (pass, reading) = (pass_number, number + 1);
                let has_volts = read.volts().is_some();
                readings.push(ReadingUse { pass, reading, left_out, taken_below, has_volts, conductance });
            }
        }
        let standing = replay.configuration().for_planning(network);
        let contradicting = contradicting(network, &gaps, test_set, &measured);
        let analysis = analysed(&measured, &contradicting, &gaps, &assumptions, MOST_SOLVED);
        Locate { network, assumptions, gaps, readings, measured, analysis, standing }
    }

    /// The network that was asked about.
    pub fn network(&self) -> &'n Network {
        self.network
    }

    /// What was assumed beside the readings.
    pub fn assumptions(&self) -> &Assumptions {
        &self.assumptions
    }

    /// What became of each reading, in order.
    pub fn readings(&self) -> &[ReadingUse] {
        &self.readings
    }

    /// The gaps, in order.
    pub fn gaps(&self) -> impl ExactSizeIterator<Item = GapId> + use<> {
        (0..self.gaps.count() as u32).map(GapId)
    }

    /// The places where a gap's two bodies lie side by side.
    pub fn members(&self, gap: GapId) -> &[Member] {
        &self.gaps.members[gap.index()]
    }

    /// Metres of the lengths of a gap.
    pub fn metres(&self, gap: GapId) -> Metres {
        Metres(self.gaps.metres[gap.index()])
    }

    /// What a gap may leak as healthy cable, in µS.
    pub fn allowance(&self, gap: GapId) -> f64 {
        self.assumptions.allowance(self.gaps.metres[gap.index()])
    }

    /// What is said of a gap.
    pub fn finding(&self, gap: GapId) -> Finding {
        match self.analysis.gaps.get(&gap.0) {
            Some(&GapFinding { least, greatest, tight, state, explains_alone, implicated, block: _ }) => {
                Finding { least, greatest, tight, state, explains_alone, implicated }
            }
            None => Finding {
                least: 0.0,
                greatest: f64::INFINITY,
                tight: false,
                state: State::NotRead,
                explains_alone: false,
                implicated: false,
            },
        }
    }

    /// The gaps in a state, in order.
    pub fn in_state(&self, state: State) -> impl Iterator<Item = GapId> + '_ {
        self.gaps().filter(move |&gap| self.finding(gap).state == state)
    }

    /// Readings that contradict one another, each set by itself.
    pub fn conflicts(&self) -> Vec<Conflict> {
        let conflicts = self.analysis.blocks.iter().filter(|block| !block.conflict.is_empty());
        conflicts.map(|block| Conflict { readings: self.named(&block.conflict) }).collect()
    }

    fn named(&self, readings: &[u32]) -> Vec<[usize; 2]> {
        readings
            .iter()
            .map(|&reading| {
                let used = &self.readings[reading as usize];
                [used.pass, used.reading]
            })
            .collect()
    }

    /// The fewest faulty gaps that explain the readings, those left out that contradict one another.
    ///
    /// A gap is faulty that leaks more than healthy cable, unless all that together leaks no more than the limit beyond
    /// it in each reading. Exact where the search came to its end.
    pub fn fewest_faults(&self) -> Explanation {
        let mut all = Explanation { at_least: 0, is_exact: true };
        for block in &self.analysis.blocks {
            if block.conflict.is_empty() {
                all.at_least += block.explanation.at_least;
                all.is_exact &= block.explanation.is_exact;
            }
        }
        all
    }

    /// The blocks of readings in which something must be faulty, in order.
    pub(super) fn faulty_blocks(&self) -> impl Iterator<Item = (u32, &BlockFinding)> {
        (0u32..).zip(&self.analysis.blocks).filter(|(_, block)| block.explanation.at_least > 0)
    }

    /// Whether no fault is needed to explain the readings, and none contradict one another. It does not say that all was
    /// read.
    pub fn is_healthy(&self) -> bool {
        self.fewest_faults() == Explanation { at_least: 0, is_exact: true } && self.conflicts().is_empty()
    }

    /// For each block of readings that needs a fault: the gaps that may explain it alone and are not cleared (if it is one
    /// fault, it is in one of these). Where none such is left, those that may explain it alone though each is cleared: no
    /// leakage of one is a fault, so several lesser ones add up. Where no one does, those implicated: one of them must be
    /// faulty.
    pub fn suspects(&self) -> Vec<Vec<GapId>> {
        self.faulty_blocks().map(|(_, block)| self.suspects_of(block)).collect()
    }

    pub(super) fn suspects_of(&self, block: &BlockFinding) -> Vec<GapId> {
        suspects_of(&self.analysis, block)
    }
}

/// The gaps of which one is looked for in a block (see [`Locate::suspects`]).
pub(super) fn suspects_of(analysis: &Analysis, block: &BlockFinding) -> Vec<GapId> {
    let mut suspects = Vec::new();
    let mut alone = Vec::new();
    let is_one = block.gaps.iter().any(|gap| analysis.gaps[gap].explains_alone);
    for &gap in &block.gaps {
        let finding = &analysis.gaps[&gap];
        if finding.explains_alone {
            alone.push(GapId(gap));
        }
        let may_be = if is_one { finding.explains_alone } else { finding.implicated };
        if may_be && finding.state != State::Cleared {
            suspects.push(GapId(gap));
        }
    }
    if suspects.is_empty() { alone } else { suspects }
}

/// The test voltage to take a reading at: the least that its circuit, or its board, and the gaps directly across its leads
/// ask for, so that none is stressed beyond what is asked of it.
pub(super) fn volts_to_take(network: &Network, gaps: &Gaps, at: ReadingAt, direct: Option<&[u32]>) -> Volts {
    let installation = network.installation();
    let own = match at {
        ReadingAt::Circuit(circuit) => test_voltage(installation.circuit(circuit)),
        ReadingAt::Board(_) => board_test_voltage(installation),
    };
    let stressed = direct.into_iter().flatten().map(|&gap| gaps.volts[gap as usize][0]);
    stressed.fold(own, |least, volts| if volts < least { volts } else { least })
}

pub(super) fn analysed(
    measured: &[Measured],
    contradicting: &[[u32; 2]],
    gaps: &Gaps,
    assumptions: &Assumptions,
    most_solved: usize,
) -> Analysis {
    let allowance = |gap: u32| assumptions.allowance(gaps.metres[gap as usize]);
    let limits = Limits { allowance: &allowance, threshold: assumptions.threshold(), most_solved };
    Analysis::of(measured, contradicting, &limits)
}
