//! What to do next: the reading that splits the suspects best, copper to part by hand, or nothing.

mod candidates;
mod explanations;
mod parting;
mod to_pass;
mod weighing;

use serde::{Deserialize, Serialize};

use self::parting::parting;
use self::weighing::Split;
use super::analysis::State;
use super::evidence::Evidence;
use super::gaps::GapId;
use crate::observer::Watch;

pub use parting::Parting;
pub use weighing::{NextReading, Outcome, SetTo};

/// What to do next.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "do", rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Next {
    /// Take this reading.
    Read(Box<NextReading>),
    /// Every reading takes these lengths as one, since they share the copper on both sides: part it by hand.
    Part(Parting),
    /// Nothing.
    Nothing {
        /// Why.
        why: WhyNothing,
        /// The gaps that are left.
        gaps: Vec<GapId>,
    },
}

/// Why there is no next reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum WhyNothing {
    /// The readings need no fault to explain them.
    NoFault,
    /// Too much bears on one another to say whether they do.
    NotSolved,
    /// The readings contradict one another: take those again first.
    Contradiction,
    /// One gap is left, and it is in one length at most.
    Found,
    /// Each of these would explain the readings with what is healthy, and each is cleared: no one of them is a fault,
    /// and together they leak what was read.
    AddsUp,
    /// One gap is left, in several lengths that share the copper on both sides, and no one or two points part it.
    SameCopper,
    /// No reading that was tried splits these.
    NotSplit,
    /// An observer stopped the work before it was known what to do.
    Stopped,
}

impl WhyNothing {
    fn with(self, gaps: Vec<GapId>) -> Next {
        Next::Nothing { why: self, gaps }
    }
}

/// The reading that splits the suspects best or confirms the one that is left, or why there is none.
///
/// The blocks of readings that need a fault are taken one by one, in the order of their readings, until one is found
/// that a reading splits, or in which one gap is left. Readings are tried at the ways and bars that contacts can join to
/// the suspects, as things stand and after one operation (after two where none of those splits them), and directly across
/// each suspect where both its sides have terminals. Of those the one is taken that tells most of where the fault is, or
/// of several the one of which most is known, for the stops that it takes; of those that tell alike, the one with the
/// fewest stops and operations. It counts if fewer suspects are left when it is high, and, with one fault, when it is low
/// too, as far as there is such. That is a good choice, not proven the best over several readings.
///
/// Where one gap is left that was never so alone across the leads as it can be, a reading has it so before anybody looks
/// for it or parts it: if it is good, the fault is not there, and there are more.
///
/// Taken again and again with its outcome added, it comes to an end: no reading is asked for that all that is suspected
/// makes the same of as of one that was taken.
pub(super) fn next(evidence: &Evidence<'_>, is_explained: bool, watch: &mut Watch<'_>) -> Next {
    let analysis = &evidence.analysis;
    let mut answer = None;
    for block in analysis.faulty_blocks() {
        if watch.is_stopped() {
            break;
        }
        let is_in = |gap: &u32, state| analysis.gaps[gap].state == state;
        if let Some(&gap) = block.gaps.iter().find(|gap| is_in(gap, State::Certain)) {
            return end(evidence, GapId(gap));
        }
        let suspects = analysis.suspects(block);
        if !suspects.is_empty() && suspects.iter().all(|gap| is_in(&gap.0, State::Cleared)) {
            answer = answer.or(Some(WhyNothing::AddsUp.with(suspects)));
            continue;
        }
        let split = Split::of(evidence, block);
        let reading = match split.left() {
            Some(gap) => split.confirming(gap, watch),
            None => split.best(watch),
        };
        match (reading, split.left()) {
            _ if watch.is_stopped() => {}
            (Some(reading), _) => return Next::Read(Box::new(reading)),
            (None, Some(gap)) if split.was_low(gap) => return end(evidence, gap),
            (None, _) => answer = answer.or_else(|| Some(WhyNothing::NotSplit.with(split.suspects))),
        }
    }
    if watch.is_stopped() {
        return WhyNothing::Stopped.with(Vec::new());
    }
    if let Some(answer) = answer {
        return answer;
    }
    let why = match (evidence.conflicts().next(), is_explained) {
        (Some(_), _) => WhyNothing::Contradiction,
        (None, true) => WhyNothing::NoFault,
        (None, false) => WhyNothing::NotSolved,
    };
    why.with(Vec::new())
}

/// What is left to do where one gap is left.
fn end(evidence: &Evidence<'_>, gap: GapId) -> Next {
    if evidence.gaps.lengths(gap).count() <= 1 {
        return WhyNothing::Found.with(vec![gap]);
    }
    match parting(evidence.network, &evidence.gaps, gap) {
        Some(parting) => Next::Part(parting),
        None => WhyNothing::SameCopper.with(vec![gap]),
    }
}
