//! What to do next: the reading that splits the suspects best, copper to part by hand, or nothing.

mod candidates;
mod parting;
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

/// The reading that splits the suspects best, or why there is none.
///
/// The blocks of readings that need a fault are taken one by one, in the order of their readings, until one is found
/// that can be split. Readings are tried at the ways and bars that contacts can join to the suspects, as things stand
/// and after one operation (after two where none of those splits them), and directly across each suspect where both its
/// sides have terminals. A reading counts if both its outcomes, worked out as if read, leave fewer suspects; where
/// there is none such, if that is so when it is high, and nothing like it was read. Of those the one is taken that
/// leaves the least on average, weighed by metres and accessories; where that is alike to a twentieth, the one with the
/// fewest operations. That is a good choice, not proven the best over several readings.
///
/// Taken again and again with its outcome added, it comes to an end: no reading is asked for twice. With one fault
/// suspects only become fewer; where a reading shows that it takes more, others may be suspected.
pub(super) fn next(evidence: &Evidence<'_>, is_explained: bool, watch: &mut Watch<'_>) -> Next {
    let analysis = &evidence.analysis;
    let mut answer = None;
    for block in analysis.faulty_blocks() {
        if watch.is_stopped() {
            break;
        }
        let mut open = analysis.suspects(block);
        if !open.is_empty() && open.iter().all(|&gap| evidence.bounds(gap).state == State::Cleared) {
            answer = answer.or(Some(WhyNothing::AddsUp.with(open)));
            continue;
        }
        let any_one = open.iter().any(|&gap| evidence.bounds(gap).explains_alone);
        if !any_one {
            open.retain(|&gap| evidence.bounds(gap).state != State::Certain);
        }
        match open.as_slice() {
            [] => {}
            &[gap] if any_one => answer = answer.or_else(|| Some(end(evidence, gap))),
            _ => {
                let split = Split::of(evidence, block, open, any_one);
                match split.best(watch) {
                    Some(reading) => return Next::Read(Box::new(reading)),
                    None => answer = answer.or_else(|| Some(WhyNothing::NotSplit.with(split.suspects))),
                }
            }
        }
    }
    if watch.is_stopped() {
        return WhyNothing::Stopped.with(Vec::new());
    }
    let certain = || {
        let mut gaps = analysis.faulty_blocks().flat_map(|block| &block.gaps).map(|&gap| GapId(gap));
        gaps.find(|&gap| evidence.bounds(gap).state == State::Certain)
    };
    if let Some(answer) = answer.or_else(|| certain().map(|gap| end(evidence, gap))) {
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
