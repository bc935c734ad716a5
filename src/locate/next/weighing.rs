//! Which reading splits the suspects best, with what each outcome would mean.

use std::cmp::Reverse;

use serde::{Deserialize, Serialize};

use super::super::analysis::{AnalysisPurpose, BlockAnalysis, State};
use super::super::evidence::Evidence;
use super::super::gaps::{GapId, metres};
use super::super::sums::{Across, Measured, Shown, Sums};
use super::candidates::{Candidate, Instrument, Operations, Places};
use super::explanations::{Explanations, SHOWING, Shows, weight};
use crate::model::{DeviceRef, Indication, Megohms, ReadingAt, Volts};
use crate::observer::{Stage, Watch};
use crate::reading::{DeviceState, LeadBodies};

/// What a reading tells counts as alike within one part of so many of a bit.
const ALIKE: f64 = 50.0;

/// How much more a reading must tell for each stop of the walk before it, in parts of what it tells. Our own choice.
const A_STOP: f64 = 0.25;

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
    /// The gap that it confirms: nothing else is suspected, and in no reading so far was it so alone across the leads.
    /// None where it splits the suspects.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub confirms: Option<GapId>,
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

/// The suspects of one block, looked at for a reading that splits or confirms them.
pub(super) struct Split<'a> {
    evidence: &'a Evidence<'a>,
    at_least: usize,
    pub(super) suspects: Vec<GapId>,
    explanations: Explanations,
    /// For each reading that bounds all that is directly across its leads: what each explanation makes of it.
    taken: Vec<Vec<Shows>>,
    measured: Vec<Measured>,
}

/// A candidate with what it tells.
struct Weighed {
    candidate: Candidate,
    sums: Sums,
    /// What it tells for what it takes, in parts of a bit (see [`ALIKE`]).
    told: u32,
    /// How many explanations it leaves at worst.
    left: usize,
}

impl<'a> Split<'a> {
    pub(super) fn of(evidence: &'a Evidence<'a>, block: &BlockAnalysis) -> Split<'a> {
        let is_own = |one: &&Measured| block.readings.binary_search(&one.reading).is_ok();
        let measured: Vec<Measured> = evidence.measured.iter().filter(is_own).cloned().collect();
        let explanations = Explanations::of(evidence, &evidence.analysis, block, &measured);
        let whole = measured.iter().filter(|one| one.is_at_full_voltage());
        let shows = |one: &Measured| Some(explanations.shows(one.sums.direct.as_ref()?, &one.sums.cuts));
        let taken = whole.filter_map(shows).collect();
        let suspects = explanations.suspects();
        Split { evidence, at_least: block.at_least, suspects, explanations, taken, measured }
    }

    /// A gap that is faulty if it takes no more faults than there must be.
    pub(super) fn left(&self) -> Option<GapId> {
        match self.explanations.sought.as_slice() {
            [gaps] if self.explanations.is_whole => gaps.first().map(|&gap| GapId(gap)),
            _ => None,
        }
    }

    /// The reading that splits the suspects best; none where none that was tried does.
    pub(super) fn best(&self, watch: &mut Watch<'_>) -> Option<NextReading> {
        let standing = &self.evidence.standing;
        let places = Places::of(self.evidence.network, &self.evidence.gaps, &self.suspects);
        let mut if_high = None;
        for settings in [places.set_by_one(standing), places.set_by_two(standing)] {
            for weighed in self.weigh_all(&places, &settings, watch) {
                let Some(reading) = self.work_out(&weighed.candidate, &weighed.sums, watch) else { continue };
                let [more, less] = [&reading.if_more, &reading.if_less];
                let is_fewer = |outcome: &Outcome| outcome.suspects.len() < self.suspects.len();
                let is_possible = !more.contradicts && !less.contradicts;
                if is_possible && is_fewer(more) && (is_fewer(less) || self.at_least > 1) {
                    return Some(reading);
                }
                if (more.contradicts || is_fewer(more)) && !(more.contradicts && less.contradicts) {
                    if_high = if_high.or(Some(reading));
                }
            }
        }
        if_high
    }

    /// The reading that has a gap more alone across its leads than any that was taken, where there is such: the one that
    /// has it most alone.
    pub(super) fn confirming(&self, gap: GapId, watch: &mut Watch<'_>) -> Option<NextReading> {
        let places = Places::of(self.evidence.network, &self.evidence.gaps, &[gap]);
        let settings = places.set_by_one(&self.evidence.standing);
        let taken = self.having_across(gap).map(|one| self.beside(gap, &one.sums));
        let taken = taken.fold(f64::INFINITY, f64::min);
        let mut alone: Vec<(f64, [usize; 2], Candidate, Sums)> = Vec::new();
        let candidates = places.in_settings(&settings);
        let count = candidates.len();
        for (number, candidate) in candidates.enumerate() {
            if !watch.goes_on_at(Stage::NextReading, number, count) {
                break;
            }
            let Some(sums) = self.sums(&candidate) else { continue };
            if sums.has_across(gap.0) {
                let beside = self.beside(gap, &sums);
                if beside < taken {
                    alone.push((beside, candidate.cost(self.evidence.network), candidate, sums));
                }
            }
        }
        alone.sort_by(|one, other| one.0.total_cmp(&other.0).then(one.1.cmp(&other.1)));
        let mut alone = alone.into_iter().take(self.evidence.network.limits().locate.readings_worked_out);
        let reading = alone.find_map(|(_, _, candidate, sums)| self.work_out(&candidate, &sums, watch))?;
        Some(NextReading { confirms: Some(gap), suspects: vec![gap], ..reading })
    }

    /// Whether a reading that had a gap directly across its leads shows leakage.
    pub(super) fn was_low(&self, gap: GapId) -> bool {
        self.having_across(gap).any(|one| one.conductance[0] > SHOWING * self.evidence.assumptions.threshold())
    }

    fn having_across(&self, gap: GapId) -> impl Iterator<Item = &Measured> {
        self.measured.iter().filter(move |one| one.sums.has_across(gap.0))
    }

    /// How much there is that could alone have made a reading with these sums low, and is not this gap.
    fn beside(&self, gap: GapId, sums: &Sums) -> f64 {
        let Some((first, rest)) = sums.cuts.split_first() else { return f64::INFINITY };
        let crosses = |other: &&u32| rest.iter().all(|cut| cut.binary_search(other).is_ok());
        let gaps = &self.evidence.analysis.gaps;
        let is_open = |other: &&u32| gaps.get(other).is_none_or(|bounds| bounds.state != State::Cleared);
        let beside = first.iter().filter(|&&other| other != gap.0).filter(crosses).filter(is_open);
        beside.map(|&other| weight(self.evidence, GapId(other))).sum()
    }

    /// The best in these settings: as many as are worked out.
    fn weigh_all(&self, places: &Places<'_>, settings: &[Operations], watch: &mut Watch<'_>) -> Vec<Weighed> {
        let network = self.evidence.network;
        let most = network.limits().locate.readings_worked_out;
        let keep_best = |weighed: &mut Vec<Weighed>| {
            // Stable: what is alike stays in the order of the file.
            weighed.sort_by_key(|weighed| (Reverse(weighed.told), weighed.candidate.cost(network), weighed.left));
            weighed.truncate(most);
        };
        let mut best = Vec::new();
        let candidates = places.in_settings(settings);
        let count = candidates.len();
        for (number, candidate) in candidates.enumerate() {
            if !watch.goes_on_at(Stage::NextReading, number, count) {
                break;
            }
            best.extend(self.weigh(candidate));
            if best.len() > 2 * most {
                keep_best(&mut best);
            }
        }
        keep_best(&mut best);
        best
    }

    /// The sums of a reading; none where it may be void.
    fn sums(&self, candidate: &Candidate) -> Option<Sums> {
        let Evidence { network, gaps, standing, .. } = self.evidence;
        let mut standing = standing.clone();
        for &(device, to) in &candidate.operations {
            standing.set_device(device, DeviceState::At(to));
        }
        let across = Across { network, gaps, standing: &standing };
        let sums = across.sums(&LeadBodies::without_relief(network, &candidate.leads));
        // A cut shows that the reading is not void.
        Some(sums).filter(|sums| !sums.cuts.is_empty())
    }

    fn weigh(&self, candidate: Candidate) -> Option<Weighed> {
        let sums = self.sums(&candidate)?;
        let direct = sums.direct.as_ref()?;
        if !self.suspects.iter().any(|gap| direct.binary_search(&gap.0).is_ok()) {
            return None;
        }
        let shows = self.explanations.shows(direct, &sums.cuts);
        let bits = self.explanations.bits(&shows);
        // A reading that every explanation makes the same of as of one that was taken tells what that one told.
        if bits < 1e-9 || self.taken.contains(&shows) {
            return None;
        }
        let [stops, _] = candidate.cost(self.evidence.network);
        let told = (bits / (1.0 + A_STOP * stops as f64) * ALIKE).round() as u32;
        let left_by = |other: Shows| shows.iter().filter(|&&shows| shows != other).count();
        let left = left_by(Shows::High).max(left_by(Shows::Low));
        Some(Weighed { candidate, sums, told, left })
    }

    fn work_out(&self, candidate: &Candidate, sums: &Sums, watch: &mut Watch<'_>) -> Option<NextReading> {
        let Evidence { network, assumptions, gaps, allowances, .. } = self.evidence;
        let allowance = |cut: &Vec<u32>| cut.iter().map(|&gap| allowances[gap as usize]).sum::<f64>();
        let across = sums.cuts.iter().map(allowance).fold(f64::INFINITY, f64::min);
        let (high, low) = (round_up(assumptions.sound_from()), round_down(assumptions.faulty_below(across)));
        if low <= 0.0 {
            return None;
        }
        let volts = self.volts_to_take(candidate.at, sums);
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
            confirms: None,
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
        let of_block = |block: &BlockAnalysis| match block.at_least {
            1 => analysis.suspects(block),
            _ => Explanations::of(self.evidence, &analysis, block, &measured).suspects(),
        };
        let mut suspects: Vec<GapId> = analysis.faulty_blocks().flat_map(of_block).collect();
        let at_least = analysis.faulty_blocks().map(|block| block.at_least).sum();
        if at_least == 1 && self.at_least == 1 {
            // What explains these readings alone explains fewer of them alone.
            suspects.retain(|gap| self.suspects.contains(gap));
        }
        suspects.retain(|gap| analysis.gaps[&gap.0].state != State::Cleared);
        suspects.sort_unstable();
        Outcome {
            megohms,
            metres: metres(self.evidence.network, self.evidence.lengths(&suspects).into_iter()),
            suspects,
            at_least,
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
