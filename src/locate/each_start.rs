//! What readings say start by start, where nobody knows how devices stood.
//!
//! The sums of a reading must hold whatever the start was, so of two strappers of which nobody knows which is alive
//! neither is in a sum "at most", and both are in a cut. But for each start by itself the sums are those of a known
//! stand, and what holds for every start holds. Two bounds follow from that:
//!
//! - where the starts of a few devices bear on some readings, each is looked at by itself ([`StartGroup`]);
//! - however many they are, readings that have a gap directly across for some starts, and do so between them for every
//!   start, bound it from above ([`EachStart::bounds`]).
//!
//! A start for which readings contradict one another can't have been. That is not used: they may be wrong.
//!
//! Design not taken: such bounds as sums of the linear programs. What contradicts them would be a set of readings for
//! each, and they clear gaps without.

use std::collections::BTreeMap;
use std::sync::Arc;

use petgraph::unionfind::UnionFind;
use rustc_hash::FxHashSet;

use super::analysis::{Analysis, BlockAnalysis, GapBounds};
use super::gaps::GapTable;
use super::sums::{Across, Conducting, Measured, Shown};
use crate::network::{DeviceIndex, Network};
use crate::reading::{Condition, Configuration, DeviceState, Diagram, Digit, LeadBodies, Probe, combinations};

/// A reading that has a gap directly across for some starts.
struct AcrossForStarts {
    reading: u32,
    /// The greatest conductance that it shows, in µS.
    greatest: f64,
    /// For which starts.
    when: Arc<Diagram>,
}

/// A reading on which the starts of a few unknown devices bear: its sums for each combination of these.
struct SumsForStarts {
    numbering: Condition,
    each: Vec<Measured>,
}

impl SumsForStarts {
    fn reading(&self) -> u32 {
        self.each[0].reading
    }
}

/// What readings say start by start.
#[derive(Default)]
pub(super) struct EachStart {
    /// For each gap that some reading has directly across for some starts only, all such readings.
    across: BTreeMap<u32, Vec<AcrossForStarts>>,
    sums: Vec<SumsForStarts>,
}

/// Readings on which the starts of the same few devices bear.
pub(super) struct StartGroup<'e> {
    numbering: Condition,
    sums: Vec<&'e SumsForStarts>,
}

/// What holds whichever start it was.
#[derive(Default)]
pub(super) struct ForEveryStart {
    /// For each gap its least and its greatest leakage, in µS, and whether a fault in it alone may explain the readings.
    pub(super) gaps: BTreeMap<u32, ([f64; 2], bool)>,
    /// No fewer faults explain the readings.
    pub(super) at_least: usize,
    /// The readings, ascending.
    pub(super) readings: Vec<u32>,
}

impl EachStart {
    /// Enters a sound reading between these leads, and what it showed. Time as probing it, linear in the gaps at what
    /// unknown devices decide, and that of its sums for each combination of starts.
    pub(super) fn enter(
        &mut self,
        (network, probe): (&Network, &mut Probe),
        (standing, leads): (&Configuration, &LeadBodies),
        gaps: &GapTable,
        shown: &Shown,
    ) {
        self.enter_sums(&Across { network, gaps, standing }, leads, shown);
        let [_, greatest] = shown.conductance;
        if greatest.is_infinite() {
            return;
        }
        let limits = &network.limits().tables;
        let probed = probe.read_for_starts(network, standing, leads);
        let mut decided: Vec<u32> = probed.decided().flat_map(|body| gaps.at(body)).copied().collect();
        decided.sort_unstable();
        decided.dedup();
        for gap in decided {
            if shown.volts.is_some_and(|taken| gaps.asks_for_more(gap, taken).is_some()) {
                continue;
            }
            let when = probed.when_opposite(gaps.bodies[gap as usize]).and_then(|when| when.for_starts(limits));
            if let Some(Some(when)) = when {
                self.across.entry(gap).or_default().push(AcrossForStarts { reading: shown.reading, greatest, when });
            }
        }
    }

    fn enter_sums(&mut self, across: &Across<'_>, leads: &LeadBodies, shown: &Shown) {
        let Across { network, gaps, standing } = across;
        let on_leads = across.on_leads(leads, Conducting::MaybeInAny);
        let met = on_leads.iter().flat_map(|on| on.bodies()).flat_map(|&body| network.contacts_at(body));
        let device = |&number: &u32| network.contacts()[number as usize].device;
        let is_unknown = |device: &DeviceIndex| matches!(standing.device(*device), DeviceState::Unknown(_));
        let mut digits: Vec<Digit> = met
            .map(device)
            .filter(is_unknown)
            .map(|device| (device, network.devices()[device as usize].positions))
            .collect();
        digits.sort_unstable();
        digits.dedup();
        if digits.is_empty() || !is_few(&digits, network) {
            return;
        }
        let numbering = Condition::never(digits);
        let each = (0..numbering.count()).map(|combination| {
            let mut known: Configuration = (*standing).clone();
            for (device, start) in numbering.positions(combination) {
                known.set_device(device, DeviceState::At(standing.position_from(network, device, start)));
            }
            let sums = Across { network, gaps, standing: &known }.sums(leads);
            Measured::of(shown, sums, gaps)
        });
        self.sums.push(SumsForStarts { each: each.collect(), numbering });
    }

    /// What each gap leaks at most, in µS, by readings that `counts` is true of; gaps that these do not bound for every
    /// start are left out.
    pub(super) fn bounds(&self, network: &Network, counts: impl Fn(u32) -> bool) -> impl Iterator<Item = (u32, f64)> {
        let limits = &network.limits().tables;
        self.across.iter().filter_map(move |(&gap, across)| {
            let mut across: Vec<&AcrossForStarts> = across.iter().filter(|row| counts(row.reading)).collect();
            across.sort_by(|one, other| one.greatest.total_cmp(&other.greatest));
            let mut for_starts = Diagram::never();
            across.into_iter().find_map(|AcrossForStarts { greatest, when, .. }| {
                for_starts = Diagram::union([&for_starts, &**when], limits);
                for_starts.is_always().then_some((gap, *greatest))
            })
        })
    }

    /// The readings that `counts` is true of, in groups of few devices that share none with another group.
    pub(super) fn groups(&self, network: &Network, counts: impl Fn(u32) -> bool) -> Vec<StartGroup<'_>> {
        let mut together = UnionFind::<u32>::new(network.devices().len());
        let counted = || self.sums.iter().filter(|row| counts(row.reading()));
        for row in counted() {
            row.numbering.digits.windows(2).for_each(|two| {
                together.union(two[0].0, two[1].0);
            });
        }
        let mut groups: BTreeMap<u32, Vec<&SumsForStarts>> = BTreeMap::new();
        for row in counted() {
            groups.entry(together.find(row.numbering.digits[0].0)).or_default().push(row);
        }
        let digits_of = |sums: &[&SumsForStarts]| {
            let mut digits: Vec<Digit> = sums.iter().flat_map(|row| &row.numbering.digits).copied().collect();
            digits.sort_unstable();
            digits.dedup();
            Some(digits).filter(|digits| is_few(digits, network))
        };
        let groups = groups.into_values().filter_map(|sums| Some((digits_of(&sums)?, sums)));
        groups.map(|(digits, sums)| StartGroup { numbering: Condition::never(digits), sums }).collect()
    }
}

fn is_few(digits: &[Digit], network: &Network) -> bool {
    combinations(digits, &network.limits().tables).is_some_and(|count| count <= network.limits().locate.starts_compared)
}

impl StartGroup<'_> {
    /// What these readings and those of `all` that have a gap directly across with them say whichever start it was. None
    /// where for some start they contradict one another.
    pub(super) fn for_every_start(
        &self,
        all: &[Measured],
        mut analysed: impl FnMut(&[Measured]) -> Analysis,
    ) -> Option<ForEveryStart> {
        let own: FxHashSet<u32> = self.sums.iter().map(|row| row.reading()).collect();
        let across = self.sums.iter().flat_map(|row| &row.each).flat_map(|one| one.sums.direct.iter().flatten());
        let across: FxHashSet<u32> = across.copied().collect();
        let is_near = |one: &&Measured| {
            !own.contains(&one.reading) && one.sums.direct.iter().flatten().any(|gap| across.contains(gap))
        };
        let near: Vec<&Measured> = all.iter().filter(is_near).collect();
        let mut every: Option<ForEveryStart> = None;
        for combination in 0..self.numbering.count() {
            let starts = self.numbering.positions(combination);
            let start_of = |device: DeviceIndex| starts.iter().find(|row| row.0 == device).map_or(0, |row| row.1);
            let here = self.sums.iter().map(|row| &row.each[row.numbering.number(start_of)]);
            let measured: Vec<Measured> = here.chain(near.iter().copied()).cloned().collect();
            let analysis = analysed(&measured);
            if analysis.blocks.iter().any(|block| !block.conflict.is_empty()) {
                return None;
            }
            let found = ForEveryStart::of(&analysis);
            every = Some(match every {
                Some(every) => every.or(&found),
                None => found,
            });
        }
        let mut readings: Vec<u32> = own.into_iter().chain(near.iter().map(|one| one.reading)).collect();
        readings.sort_unstable();
        Some(ForEveryStart { readings, ..every? })
    }
}

impl ForEveryStart {
    /// What holds for one start.
    fn of(analysis: &Analysis) -> ForEveryStart {
        let mut faulty = analysis.faulty_blocks();
        let explaining: FxHashSet<u32> = match (faulty.next(), faulty.next()) {
            (Some(block), None) => block.gaps.iter().copied().filter(|gap| analysis.gaps[gap].explains_alone).collect(),
            // Faults in several places.
            _ => FxHashSet::default(),
        };
        let at_least = analysis.blocks.iter().map(|block| block.at_least).sum();
        let told = |(&gap, bounds): (&u32, &GapBounds)| {
            (gap, ([bounds.least, bounds.greatest], at_least == 0 || explaining.contains(&gap)))
        };
        ForEveryStart { gaps: analysis.gaps.iter().map(told).collect(), at_least, readings: Vec::new() }
    }

    /// Takes it into what is known; a gap is healthy up to a leakage.
    pub(super) fn narrow(&self, analysis: &mut Analysis, healthy: impl Fn(u32) -> f64) {
        let Analysis { gaps, blocks } = analysis;
        for (gap, &(bounds, _)) in &self.gaps {
            if let Some(known) = gaps.get_mut(gap) {
                known.narrow(bounds, healthy(*gap));
            }
        }
        // Of faults in other readings of the block nothing was looked at.
        let mut blocks = blocks.iter_mut().filter(|block| block.at_least > 0 && block.conflict.is_empty());
        let holds_all = |reading: &u32, block: &BlockAnalysis| block.readings.binary_search(reading).is_ok();
        let block = blocks.find(|block| self.readings.iter().all(|reading| holds_all(reading, block)));
        let Some(block) = block.filter(|_| self.at_least > 0) else { return };
        for gap in &block.gaps {
            let may_be_alone = self.gaps.get(gap).is_some_and(|(_, alone)| *alone);
            gaps.get_mut(gap).expect("it is of the block").explains_alone &= may_be_alone;
        }
        let is_ruled_out = |gap: u32| !gaps[&gap].explains_alone;
        let is_one_left = block.gaps.iter().any(|&gap| !is_ruled_out(gap));
        let at_least = block.at_least.max(self.at_least).max(if is_one_left { 1 } else { 2 });
        let explained = block.explanation.iter().flatten();
        let mut faulty = explained.filter(|leakage| leakage.is_faulty).map(|leakage| leakage.gap);
        if at_least > block.at_least || at_least == 1 && faulty.any(is_ruled_out) {
            block.explanation = None;
        }
        block.at_least = at_least;
    }

    /// What holds for these starts and for another.
    fn or(mut self, other: &ForEveryStart) -> ForEveryStart {
        let unbounded = |found: &ForEveryStart| ([0.0, f64::INFINITY], found.at_least == 0);
        let of = |found: &ForEveryStart, gap: u32| found.gaps.get(&gap).copied().unwrap_or_else(|| unbounded(found));
        let all: Vec<u32> = self.gaps.keys().chain(other.gaps.keys()).copied().collect();
        let both = all.into_iter().map(|gap| {
            let ([least, greatest], alone) = of(&self, gap);
            let ([other_least, other_greatest], other_alone) = of(other, gap);
            (gap, ([least.min(other_least), greatest.max(other_greatest)], alone || other_alone))
        });
        self.gaps = both.collect();
        self.at_least = self.at_least.min(other.at_least);
        self
    }
}
