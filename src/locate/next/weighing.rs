//! Which reading splits the suspects best, with what each outcome would mean.

use serde::{Deserialize, Serialize};

use super::super::analysis::{AnalysisPurpose, BlockAnalysis, State};
use super::super::evidence::Evidence;
use super::super::gaps::{GapId, metres};
use super::super::sums::{Across, Measured, Shown, Sums};
use super::candidates::{Candidate, Instrument, Places};
use crate::model::{DeviceRef, Indication, Megohms, ReadingAt, Volts};
use crate::observer::{Stage, Watch};
use crate::reading::{DeviceState, LeadBodies};

/// Metres that two terminals of an accessory count for, where suspects are weighed: faults are made where cable is cut
/// and connected. Our own choice; it decides which reading comes first, never what a reading says.
const METRES_FOR_AN_ACCESSORY: f64 = 5.0;

/// What is left on average counts as alike within one part of so many of all: a few metres less are not worth a walk.
const ALIKE: f64 = 20.0;

/// A device set to a position before a reading.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct SetTo {
    /// The point that it is at.
    pub device: String,
    /// The position that it stands in; `unknown` where nobody knows.
    pub from: String,
    /// The position to set it to.
    pub to: String,
}

/// A reading that splits the suspects.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct NextReading {
    /// What is operated before it.
    pub set: Vec<SetTo>,
    /// The circuit that it is put down under, or
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub circuit: Option<String>,
    /// the board.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub board: Option<String>,
    /// The leads, written as in a test set.
    pub between: [String; 2],
    /// The test voltage: the least that its circuit, or its board, and the gaps directly across the leads ask for.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub volts: Option<Volts>,
    /// The source that the instrument is taken to, of a circuit without a way.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub at: Option<String>,
    /// The point that the instrument is taken to; none where it is at a board or a source.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub at_point: Option<String>,
    /// The suspects before it.
    pub suspects: Vec<GapId>,
    /// What it means if the instrument shows more than this.
    pub if_more: Outcome,
    /// What it means if the instrument shows less than this.
    pub if_less: Outcome,
}

/// What an outcome of a reading would mean, worked out as if it had been read: no fewer faults than that, and where to
/// look if it is no more.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Outcome {
    /// More than this, or less.
    pub megohms: f64,
    /// The suspects that would be left; none where what is left adds up from gaps that are cleared.
    pub suspects: Vec<GapId>,
    /// Metres of the lengths that they are in, each length once.
    pub metres: f64,
    /// The least number of faults that would be left to explain.
    pub at_least: usize,
    /// Whether the readings would contradict one another, so that this can't come out in the model.
    pub contradicts: bool,
}

/// The suspects of one block, looked at for a reading that splits them.
pub(super) struct Split<'a> {
    evidence: &'a Evidence<'a>,
    pub(super) suspects: Vec<GapId>,
    /// Whether one fault anywhere among them explains all.
    any_one: bool,
    measured: Vec<Measured>,
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
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Splits {
    Both,
    /// The high one only.
    High,
}

impl<'a> Split<'a> {
    pub(super) fn of(
        evidence: &'a Evidence<'a>,
        block: &BlockAnalysis,
        suspects: Vec<GapId>,
        any_one: bool,
    ) -> Split<'a> {
        let is_own = |one: &&Measured| block.readings.binary_search(&one.reading).is_ok();
        let measured = evidence.measured.iter().filter(is_own).cloned().collect();
        Split { evidence, suspects, any_one, measured }
    }

    pub(super) fn best(&self, watch: &mut Watch<'_>) -> Option<NextReading> {
        let standing = &self.evidence.standing;
        let places = Places::of(self.evidence.network, &self.evidence.gaps, &self.suspects);
        let [both, high] = self.weigh_all(places.in_settings(&places.set_by_one(standing)), watch);
        if let Some(best) = self.first_that_splits(both, watch) {
            return Some(best);
        }
        let [both, _] = self.weigh_all(places.in_settings(&places.set_by_two(standing)), watch);
        self.first_that_splits(both, watch).or_else(|| self.first_that_splits(high, watch))
    }

    /// The best that split both outcomes, and the best that split the high one only: as many of each as are worked out.
    fn weigh_all(
        &self,
        candidates: impl ExactSizeIterator<Item = Candidate>,
        watch: &mut Watch<'_>,
    ) -> [Vec<Weighed>; 2] {
        let most = self.evidence.network.limits().locate.readings_worked_out;
        let keep_best = |weighed: &mut Vec<Weighed>| {
            // Stable: what is alike stays in the order of the file.
            weighed.sort_by_key(|weighed| (weighed.left, weighed.candidate.cost()));
            weighed.truncate(most);
        };
        let mut best = [Vec::new(), Vec::new()];
        let count = candidates.len();
        for (number, candidate) in candidates.enumerate() {
            if !watch.goes_on_at(Stage::NextReading, number, count) {
                break;
            }
            let Some(weighed) = self.weigh(candidate) else { continue };
            let alike = &mut best[weighed.splits as usize];
            alike.push(weighed);
            if alike.len() > 2 * most {
                keep_best(alike);
            }
        }
        best.each_mut().into_iter().for_each(keep_best);
        best
    }

    fn first_that_splits(&self, weighed: Vec<Weighed>, watch: &mut Watch<'_>) -> Option<NextReading> {
        weighed.into_iter().find_map(|weighed| self.work_out(weighed, watch))
    }

    fn weigh(&self, candidate: Candidate) -> Option<Weighed> {
        let Evidence { network, gaps, standing, .. } = self.evidence;
        let mut standing = standing.clone();
        for &(device, to) in &candidate.operations {
            standing.set_device(device, DeviceState::At(to));
        }
        let across = Across { network, gaps, standing: &standing };
        let sums = across.sums(&LeadBodies::without_relief(network, &candidate.leads));
        // A cut shows that the reading is not void.
        if sums.cuts.is_empty() {
            return None;
        }
        let direct = sums.direct.as_ref()?;
        let is_direct = |gap: &GapId| direct.binary_search(&gap.0).is_ok();
        let crosses = |gap: &GapId| sums.cuts.iter().all(|cut| cut.binary_search(&gap.0).is_ok());
        if !self.suspects.iter().any(is_direct) {
            return None;
        }
        let splits = if self.any_one && !self.suspects.iter().all(crosses) { Splits::Both } else { Splits::High };
        let was_read = |one: &Measured| {
            one.is_at_full_voltage() && (one.sums.are(&sums) || splits == Splits::High && self.is_like(one, &sums))
        };
        if self.measured.iter().any(was_read) {
            return None;
        }
        let weight = |counts: &dyn Fn(&GapId) -> bool| -> f64 {
            self.suspects.iter().filter(|gap| counts(gap)).map(|&gap| self.weight(gap)).sum()
        };
        let all = weight(&|_| true);
        let share = weight(&is_direct) / all.max(f64::MIN_POSITIVE);
        let left = if self.any_one {
            (share * weight(&crosses) + (1.0 - share) * weight(&|gap| !is_direct(gap))) / all
        } else {
            // Whichever way it comes out, halves are best.
            (share - 0.5).abs()
        };
        Some(Weighed { candidate, sums, splits, left: (left * ALIKE).round() as u32 })
    }

    fn weight(&self, gap: GapId) -> f64 {
        let gaps = &self.evidence.gaps;
        let accessories = gaps.members[gap.index()].len() - gaps.lengths(gap).count();
        gaps.metres[gap.index()] + METRES_FOR_AN_ACCESSORY * accessories as f64
    }

    /// Whether a reading taken before says of the suspects what this one would.
    fn is_like(&self, one: &Measured, sums: &Sums) -> bool {
        let suspects = |direct: &Option<Vec<u32>>| -> Option<Vec<u32>> {
            let is_suspect = |&gap: &u32| self.suspects.binary_search(&GapId(gap)).is_ok();
            Some(direct.as_ref()?.iter().copied().filter(is_suspect).collect())
        };
        suspects(&one.sums.direct) == suspects(&sums.direct)
    }

    fn work_out(&self, Weighed { candidate, sums, splits, .. }: Weighed, watch: &mut Watch<'_>) -> Option<NextReading> {
        let Evidence { network, assumptions, gaps, allowances, .. } = self.evidence;
        let allowance = |cut: &Vec<u32>| cut.iter().map(|&gap| allowances[gap as usize]).sum::<f64>();
        let across = sums.cuts.iter().map(allowance).fold(f64::INFINITY, f64::min);
        let (high, low) = (round_up(assumptions.sound_from()), round_down(assumptions.faulty_below(across)));
        if low <= 0.0 {
            return None;
        }
        let volts = self.volts_to_take(candidate.at, &sums);
        let mut outcome = |shown, megohms| {
            let (reading, conductance) = (self.evidence.readings.len() as u32, assumptions.conductances(shown));
            let measured = Measured::of(&Shown { reading, conductance, volts }, sums.clone(), gaps);
            self.outcome(measured, megohms, watch)
        };
        let if_more = outcome(Indication::MoreThan(Megohms(high)), high);
        let if_less = outcome(Indication::LessThan(Megohms(low)), low);
        if watch.is_stopped() {
            return None;
        }
        let is_fewer = |outcome: &Outcome| outcome.contradicts || outcome.suspects.len() < self.suspects.len();
        let is_good = match splits {
            Splits::Both => is_fewer(&if_more) && is_fewer(&if_less) && !if_more.contradicts && !if_less.contradicts,
            Splits::High => is_fewer(&if_more) && !(if_more.contradicts && if_less.contradicts),
        };
        if !is_good {
            return None;
        }
        let installation = network.installation();
        let set = candidate.operations.iter().map(|&(device, to)| {
            let DeviceRef::Point(point) = network.devices()[device as usize].reference else {
                unreachable!("only devices at points are operated")
            };
            let from = match self.evidence.standing.device(device) {
                DeviceState::At(position) => network.position_name(device, position),
                DeviceState::Unknown(_) => "unknown",
            };
            let device_id = installation.point(point).id().to_owned();
            SetTo { device: device_id, from: from.to_owned(), to: network.position_name(device, to).to_owned() }
        });
        let (circuit, board) = match candidate.at {
            ReadingAt::Circuit(circuit) => (Some(installation.circuit(circuit).id().to_owned()), None),
            ReadingAt::Board(board) => (None, Some(installation.board(board).id().to_owned())),
        };
        let id = |point| Some(installation.point(point).id().to_owned());
        let (at, at_point) = match candidate.instrument {
            Instrument::Board => (None, None),
            Instrument::Source(point) => (id(point), None),
            Instrument::Point(point) => (None, id(point)),
        };
        Some(NextReading {
            set: set.collect(),
            circuit,
            board,
            between: candidate.leads.each_ref().map(|lead| lead.text().to_owned()),
            volts,
            at,
            at_point,
            suspects: self.suspects.clone(),
            if_more,
            if_less,
        })
    }

    /// The test voltage to take a reading at: the least that its circuit, or its board, and the gaps directly across
    /// its leads ask for, so that none is stressed beyond what is asked of it.
    fn volts_to_take(&self, at: ReadingAt, sums: &Sums) -> Option<Volts> {
        let Evidence { network, gaps, .. } = self.evidence;
        let own = match at {
            ReadingAt::Circuit(circuit) => network.test_voltage(circuit),
            ReadingAt::Board(board) => gaps.board_volts.get(&board).map(|&[least, _]| least),
        };
        let stressed = sums.direct.iter().flatten().filter_map(|&gap| gaps.volts[gap as usize].map(|[least, _]| least));
        own.into_iter().chain(stressed).min_by(|one, other| one.0.total_cmp(&other.0))
    }

    /// What the readings of the block and one more would say.
    fn outcome(&self, read: Measured, megohms: f64, watch: &mut Watch<'_>) -> Outcome {
        let mut measured = self.measured.clone();
        measured.push(read);
        let analysis = self.evidence.analysed(&measured, &[], AnalysisPurpose::Outcome, watch);
        let mut suspects: Vec<GapId> = analysis.faulty_blocks().flat_map(|block| analysis.suspects(block)).collect();
        suspects.retain(|gap| analysis.gaps[&gap.0].state != State::Cleared);
        suspects.sort_unstable();
        Outcome {
            megohms,
            metres: metres(self.evidence.network, self.evidence.lengths(&suspects).into_iter()),
            suspects,
            at_least: analysis.faulty_blocks().map(|block| block.at_least).sum(),
            contradicts: analysis.blocks.iter().any(|block| !block.conflict.is_empty()),
        }
    }
}

/// Up to two figures.
fn round_up(value: f64) -> f64 {
    let step = 10f64.powi(value.log10().floor() as i32 - 1);
    tidy((value / step).ceil() * step)
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
