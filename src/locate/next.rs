//! The next reading: the one that splits the suspects best, with what each outcome would mean.

use super::analysis::{Analysis, MOST_SOLVED_IF_READ, Measured};
use super::candidates::{Candidate, Places};
use super::finding::{Locate, analysed, suspects_of, volts_to_take};
use super::gap::GapId;
use super::part::{Parting, parting};
use super::sums::{Across, Sums};
use super::{Member, State};
use crate::model::{Indication, Lead, Megohms, PointId, ReadingAt, Volts};
use crate::reading::{DeviceState, LeadBodies};

/// Metres that two terminals of an accessory count for, where suspects are weighed: faults are made where cable is cut
/// and connected. Our own choice; it decides which reading comes first, never what a reading says.
const METRES_FOR_AN_ACCESSORY: f64 = 5.0;

/// What is left on average counts as alike within one part of so many of all: a few metres less are not worth a walk.
const ALIKE: f64 = 20.0;

/// The most readings whose outcomes are worked out before the search is given up.
const MOST_WORKED_OUT: usize = 24;

/// What to do next.
#[derive(Clone, Debug, PartialEq)]
pub enum Next {
    /// Take this reading.
    Reading(Box<NextReading>),
    /// No reading tells these lengths apart, since they share the copper on both sides: part it by hand.
    Part {
        /// The gap that they are in.
        gap: GapId,
        /// Where to part the copper.
        parting: Parting,
    },
    /// Nothing: why.
    Nothing(WhyNothing),
}

/// Why there is no next reading.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum WhyNothing {
    /// The readings need no fault to explain them.
    NoFault,
    /// Too much bears on one another to say whether they do.
    NotSolved,
    /// The readings contradict one another: take those again first.
    Contradiction,
    /// One gap is left, and it is in one length at most.
    Found {
        /// The gap.
        gap: GapId,
    },
    /// Each of these would explain the readings with what is healthy, and each is cleared: no one of them is a fault, and
    /// together they leak what was read.
    AddsUp {
        /// The gaps.
        gaps: Vec<GapId>,
    },
    /// One gap is left, in several lengths that share the copper on both sides, and no one or two points part it.
    SameCopper {
        /// The gap.
        gap: GapId,
    },
    /// No reading that was tried splits these.
    NotSplit {
        /// The gaps that are left.
        gaps: Vec<GapId>,
    },
}

/// A device set to a position before a reading.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SetTo {
    /// The point that it is at.
    pub point: PointId,
    /// The position that it stands in; none where nobody knows.
    pub from: Option<String>,
    /// The position to set it to.
    pub to: String,
}

/// A reading that splits the suspects.
#[derive(Clone, Debug, PartialEq)]
pub struct NextReading {
    /// What is operated before it.
    pub set: Vec<SetTo>,
    /// What it is put down under.
    pub at: ReadingAt,
    /// The point that the instrument is taken to; none where it is at a board.
    pub at_point: Option<PointId>,
    /// The leads, written as in a test set.
    pub leads: [Lead; 2],
    /// The test voltage: the least that its circuit, or its board, and the gaps directly across the leads ask for.
    pub volts: Volts,
    /// The suspects before it.
    pub suspects: Vec<GapId>,
    /// What it means if the instrument shows more than this.
    pub high: Outcome,
    /// What it means if the instrument shows less than this.
    pub low: Outcome,
}

/// What an outcome of a reading would mean, worked out as if it had been read: no fewer faults than that, and where to look
/// if it is no more.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// More than this, or less.
    pub megohms: Megohms,
    /// The suspects that would be left; none where what is left adds up from gaps that are cleared.
    pub suspects: Vec<GapId>,
    /// Whether the readings would contradict one another, so that this can't come out in the model.
    pub contradicts: bool,
    /// The least number of faults that would be left to explain.
    pub at_least: usize,
}

/// The suspects of one block, looked at for a reading that splits them.
struct Split<'a> {
    locate: &'a Locate<'a>,
    suspects: Vec<GapId>,
    /// Whether one fault anywhere among them explains all.
    any_one: bool,
    block: Vec<Measured>,
}

impl Locate<'_> {
    /// The reading that splits the suspects best, or why there is none.
    ///
    /// The blocks of readings that need a fault are taken one by one, in the order of their readings, until one is found that
    /// can be split. Readings are tried at
    /// the ways and bars that contacts can join to the suspects, as things stand and after one operation (after two where
    /// none of those splits them), and directly across each suspect where both its sides have terminals. A reading counts
    /// if both its outcomes, worked out as if read, leave fewer suspects; where there is none such, if that is so when it
    /// is high, and nothing like it was read. Of those the one is taken that leaves the least on average, weighed by metres
    /// and accessories; where that is alike to a twentieth, the one with the fewest operations. That is a good choice, not
    /// proven the best over several readings.
    ///
    /// Taken again and again with its outcome added, it comes to an end: no reading is asked for twice. With one fault
    /// suspects only become fewer; where a reading shows that it takes more, others may be suspected.
    pub fn next(&self) -> Next {
        let mut answer = None;
        for (_, block) in self.faulty_blocks() {
            let suspects = self.suspects_of(block);
            if self.adds_up(&suspects) {
                answer = answer.or(Some(Next::Nothing(WhyNothing::AddsUp { gaps: suspects })));
                continue;
            }
            let any_one = suspects.iter().any(|gap| self.analysis.gaps[&gap.0].explains_alone);
            let open: Vec<GapId> = if any_one {
                suspects
            } else {
                suspects.into_iter().filter(|gap| self.analysis.gaps[&gap.0].state != State::Certain).collect()
            };
            match open.as_slice() {
                [] => continue,
                [gap] if any_one => {
                    answer = answer.or_else(|| Some(self.end(*gap)));
                    continue;
                }
                _ => {}
            }
            let own = self.measured.iter().filter(|one| block.readings.binary_search(&one.reading).is_ok());
            let split = Split { locate: self, suspects: open, any_one, block: own.cloned().collect() };
            match split.best() {
                Some(reading) => return Next::Reading(Box::new(reading)),
                None => {
                    answer = answer.or(Some(Next::Nothing(WhyNothing::NotSplit { gaps: split.suspects })));
                }
            }
        }
        if let Some(answer) = answer {
            return answer;
        }
        let certain = self.faulty_blocks().flat_map(|(_, block)| &block.gaps).map(|&gap| GapId(gap));
        if let Some(gap) = certain.into_iter().find(|gap| self.finding(*gap).state == State::Certain) {
            return self.end(gap);
        }
        let conflict = self.analysis.blocks.iter().any(|block| !block.conflict.is_empty());
        Next::Nothing(match (conflict, self.fewest_faults().is_exact) {
            (true, _) => WhyNothing::Contradiction,
            (false, true) => WhyNothing::NoFault,
            (false, false) => WhyNothing::NotSolved,
        })
    }

    /// Whether suspects are cleared, all of them: then no one of them is a fault.
    pub fn adds_up(&self, suspects: &[GapId]) -> bool {
        !suspects.is_empty() && suspects.iter().all(|&gap| self.finding(gap).state == State::Cleared)
    }

    /// What is left to do where one gap is left.
    fn end(&self, gap: GapId) -> Next {
        let lengths = self.members(gap).iter().filter(|member| matches!(member, Member::Length { .. })).count();
        if lengths <= 1 {
            return Next::Nothing(WhyNothing::Found { gap });
        }
        match parting(self.network, &self.gaps, gap) {
            Some(parting) => Next::Part { gap, parting },
            None => Next::Nothing(WhyNothing::SameCopper { gap }),
        }
    }

    fn weight(&self, gap: GapId) -> f64 {
        let accessories = self.members(gap).iter().filter(|member| !matches!(member, Member::Length { .. })).count();
        self.gaps.metres[gap.index()] + METRES_FOR_AN_ACCESSORY * accessories as f64
    }
}

/// A candidate with what it splits.
struct Weighed {
    candidate: Candidate,
    sums: Sums,
    splits: Splits,
    /// What is left on average, in parts of all (see [`ALIKE`]).
    left: u32,
}

/// Which outcomes of a reading leave fewer suspects.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Splits {
    Both,
    /// The high one only.
    High,
}

impl Split<'_> {
    fn best(&self) -> Option<NextReading> {
        let places = Places::of(self.locate.network, &self.locate.gaps, &self.suspects);
        let standing = &self.locate.standing;
        let weighed = |candidates: Vec<Candidate>| -> Vec<Weighed> {
            candidates.into_iter().filter_map(|candidate| self.weigh(candidate)).collect()
        };
        let after_one = weighed(places.after_one_operation(standing));
        let (both, high) = after_one.into_iter().partition(|weighed| weighed.splits == Splits::Both);
        let best = self.first_that_splits(both);
        let best = best.or_else(|| {
            let after_two = weighed(places.after_two_operations(standing));
            self.first_that_splits(after_two.into_iter().filter(|weighed| weighed.splits == Splits::Both).collect())
        });
        best.or_else(|| self.first_that_splits(high))
    }

    fn first_that_splits(&self, mut weighed: Vec<Weighed>) -> Option<NextReading> {
        // Stable: what is alike stays in the order of the file.
        weighed.sort_by_key(|weighed| (weighed.left, weighed.candidate.cost()));
        weighed.into_iter().take(MOST_WORKED_OUT).find_map(|weighed| self.work_out(weighed))
    }

    fn weigh(&self, candidate: Candidate) -> Option<Weighed> {
        let locate = self.locate;
        let mut standing = locate.standing.clone();
        for &(device, to) in &candidate.operations {
            standing.set_device(device, DeviceState::At(to));
        }
        let across = Across { network: locate.network, gaps: &locate.gaps, standing: &standing };
        let leads = LeadBodies::of(locate.network, &candidate.leads);
        let sums = across.sums(&leads);
        if sums.may_be_joined || sums.cuts.is_empty() {
            return None;
        }
        let direct = sums.direct.as_ref()?;
        let is_direct = |gap: &GapId| direct.binary_search(&gap.0).is_ok();
        let crosses = |gap: &GapId| sums.cuts.iter().all(|cut| cut.binary_search(&gap.0).is_ok());
        let weight = |wanted: &dyn Fn(&GapId) -> bool| -> f64 {
            self.suspects.iter().filter(|gap| wanted(gap)).map(|&gap| locate.weight(gap)).sum()
        };
        let all = weight(&|_| true);
        let inside = weight(&is_direct);
        let if_high = weight(&|gap| !is_direct(gap));
        let if_low = if self.any_one { weight(&crosses) } else { all };
        if !self.suspects.iter().any(is_direct) {
            return None;
        }
        let splits = if self.any_one && !self.suspects.iter().all(crosses) { Splits::Both } else { Splits::High };
        let was_read = |one: &Measured| one.is_again(&sums) || splits == Splits::High && self.is_like(one, &sums);
        if self.block.iter().any(was_read) {
            return None;
        }
        let share = inside / all.max(f64::MIN_POSITIVE);
        let left = if self.any_one {
            (share * if_low + (1.0 - share) * if_high) / all
        } else {
            // Whichever way it comes out, halves are best.
            (share - 0.5).abs()
        };
        Some(Weighed { candidate, sums, splits, left: (left * ALIKE).round() as u32 })
    }

    /// Whether a reading taken before says of the suspects what this one would.
    fn is_like(&self, one: &Measured, sums: &Sums) -> bool {
        let suspects = |gaps: &[u32]| -> Vec<u32> {
            gaps.iter().copied().filter(|&gap| self.suspects.binary_search(&GapId(gap)).is_ok()).collect()
        };
        let direct = |direct: &Option<Vec<u32>>| direct.as_deref().map(suspects);
        one.is_at_full_voltage() && direct(&one.direct) == direct(&sums.direct)
    }

    fn work_out(&self, Weighed { candidate, sums, splits, .. }: Weighed) -> Option<NextReading> {
        let locate = self.locate;
        let assumptions = &locate.assumptions;
        let high = round_up(assumptions.sound_from());
        let across: f64 = sums
            .cuts
            .iter()
            .map(|cut| cut.iter().map(|&gap| locate.allowance(GapId(gap))).sum::<f64>())
            .fold(f64::INFINITY, f64::min);
        // Below this something across the leads must be faulty, whatever the instrument's error.
        let part = assumptions.accuracy_percent() / 100.0;
        let low = round_down((1.0 / (across + assumptions.threshold()) - assumptions.resolution().0) / (1.0 + part));
        if low <= 0.0 {
            return None;
        }
        let volts = volts_to_take(locate.network, &locate.gaps, candidate.at, sums.direct.as_deref());
        let outcome = |shown, megohms| {
            let conductance = assumptions.conductances(shown);
            let number = locate.readings.len() as u32;
            self.outcome(Measured::of(number, sums.clone(), conductance, Some(volts), &locate.gaps), megohms)
        };
        let high = outcome(Indication::MoreThan(Megohms(high)), high);
        let low = outcome(Indication::LessThan(Megohms(low)), low);
        let fewer = |outcome: &Outcome| outcome.contradicts || outcome.suspects.len() < self.suspects.len();
        let both_contradict = high.contradicts && low.contradicts;
        let is_good = match splits {
            Splits::Both => fewer(&high) && fewer(&low) && !high.contradicts && !low.contradicts,
            Splits::High => fewer(&high) && !both_contradict,
        };
        if !is_good {
            return None;
        }
        let set = candidate
            .operations
            .iter()
            .map(|&(device, to)| {
                let crate::model::DeviceRef::Point(point) = locate.network.devices()[device as usize].reference else {
                    unreachable!("only devices at points are operated")
                };
                let from = match locate.standing.device(device) {
                    DeviceState::At(position) => Some(locate.network.position_name(device, position).to_owned()),
                    DeviceState::Unknown(_) => None,
                };
                SetTo { point, from, to: locate.network.position_name(device, to).to_owned() }
            })
            .collect();
        Some(NextReading {
            set,
            at: candidate.at,
            at_point: candidate.at_point,
            leads: candidate.leads,
            volts,
            suspects: self.suspects.clone(),
            high,
            low,
        })
    }

    /// What the readings of the block and one more would say.
    fn outcome(&self, read: Measured, megohms: f64) -> Outcome {
        let mut measured = self.block.clone();
        measured.push(read);
        let Locate { gaps, assumptions, .. } = self.locate;
        let analysis: Analysis = analysed(&measured, &[], gaps, assumptions, MOST_SOLVED_IF_READ);
        let mut suspects: Vec<GapId> = Vec::new();
        let mut at_least = 0;
        for block in &analysis.blocks {
            at_least += block.explanation.at_least;
            if block.explanation.at_least > 0 {
                let open = suspects_of(&analysis, block);
                suspects.extend(open.into_iter().filter(|gap| analysis.gaps[&gap.0].state != State::Cleared));
            }
        }
        suspects.sort_unstable();
        let contradicts = analysis.blocks.iter().any(|block| !block.conflict.is_empty());
        Outcome { megohms: Megohms(megohms), suspects, contradicts, at_least }
    }
}

/// Up to two figures.
fn round_up(value: f64) -> f64 {
    let step = 10f64.powi(value.log10().floor() as i32 - 1);
    let rounded = (value / step).ceil() * step;
    tidy(rounded)
}

/// Down to two figures.
fn round_down(value: f64) -> f64 {
    if value <= 0.0 {
        return 0.0;
    }
    let step = 10f64.powi(value.log10().floor() as i32 - 1);
    tidy((value / step - 1e-9).floor() * step)
}

/// Without the last bits that a power of ten leaves.
fn tidy(value: f64) -> f64 {
    (value * 1e9).round() / 1e9
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn limits_are_rounded_to_the_safe_side() {
        assert_eq!(round_up(2.8714), 2.9);
        assert_eq!(round_up(12.01), 13.0);
        assert_eq!(round_down(1.5307), 1.5);
        assert_eq!(round_down(0.4379), 0.43);
        assert_eq!(round_down(-1.0), 0.0);
    }
}
