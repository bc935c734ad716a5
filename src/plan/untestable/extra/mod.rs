//! Extras: what a plan does beside operating switches and reading at ways, for pairs that can't be tested otherwise.
//!
//! An extra is a lamp left in, the instrument taken to a point, a position found out, a link of the preparation taken
//! out, a temporary link, or an accessory taken off. `finding` tries every one, each by itself and then some two at a
//! time, and tells which pairs that makes testable, for every start together with what the plan tests; `cover` takes
//! the fewest that do for all of these; `rounds` adds what is done for each at the end of the plan; `joining` saves readings at a point.

mod cover;
mod finding;
mod joining;
mod remedy;
mod rounds;

use std::borrow::Cow;

use fixedbitset::FixedBitSet;

use crate::network::{DeviceIndex, PairId};
use crate::observer::Watch;
use crate::plan::answer::{Extra, ExtraTotals, Extras, RemedyStep, UntestablePair};
use crate::plan::naming::Naming;
use crate::plan::problem::choices::DeviceChoices;
use crate::plan::problem::setup::Setup;
use crate::plan::request::{Afterwards, Request};
use crate::plan::schedule::operations::{moved, operations};
use crate::plan::schedule::readings::selection::Untested;
use crate::plan::untestable::trial::{ExtraStep, ExtraTrial};
use crate::reading::{Condition, Configuration, DeviceState};
use finding::{ExtraSearch, UsefulExtra};
use rounds::{DoneWith, done_with};

/// What extras start from, and what they are for.
pub(in crate::plan) struct ExtraSetup<'s, 'n> {
    setup: &'s Setup<'n>,
    request: &'s Request,
    /// How things stand after the plan.
    start: Configuration,
    /// From there. A device that stands nobody knows how and is put into positions by name stays as it stands.
    choices: DeviceChoices,
    /// What the plan leaves untested.
    untested: Untested,
    /// The pair groups to make testable, ascending: the targets, by their places in this list.
    groups: Vec<u32>,
}

/// A device that is found out.
struct FoundOut {
    device: DeviceIndex,
    position: u16,
    /// Where it started then.
    start: u16,
}

impl<'s, 'n> ExtraSetup<'s, 'n> {
    pub(in crate::plan) fn new(
        setup: &'s Setup<'n>,
        request: &'s Request,
        start: Configuration,
        untested: Untested,
        untestable: &[PairId],
    ) -> ExtraSetup<'s, 'n> {
        let network = setup.network;
        let choices = DeviceChoices::new(network, &start, &request.clone().with_afterwards(Afterwards::AsFound));
        let mut groups: Vec<u32> = untestable.iter().map(|&pair| network.pair_group(pair)).collect();
        groups.sort_unstable();
        groups.dedup();
        ExtraSetup { setup, request, start, choices, untested, groups }
    }

    fn trial(&self) -> ExtraTrial<'s> {
        ExtraTrial::new(self.setup.network, &self.start)
    }

    fn target(&self, group: u32) -> Option<usize> {
        self.groups.binary_search(&group).ok()
    }

    /// The device that one of these steps finds out, and where it started if it is found in a position.
    fn found_out(&self, steps: &[ExtraStep], position: u16) -> Option<FoundOut> {
        steps.iter().find_map(|step| {
            let ExtraStep::FindOut(_, device) = *step else { return None };
            let DeviceState::Unknown(moved) = self.start.device(device) else { return None };
            let positions = self.setup.network.devices()[device as usize].positions;
            Some(FoundOut { device, position, start: (position + positions - moved) % positions })
        })
    }

    /// One case, or one for each position that may be found out.
    fn cases_of(&self, steps: &[ExtraStep]) -> Vec<Option<u16>> {
        match self.found_out(steps, 0) {
            Some(FoundOut { device, .. }) => {
                (0..self.setup.network.devices()[device as usize].positions).map(Some).collect()
            }
            None => vec![None],
        }
    }

    /// What can be operated in a case.
    fn choices_of(&self, steps: &[ExtraStep], found: Option<u16>) -> Cow<'_, DeviceChoices> {
        match found.and_then(|position| self.found_out(steps, position)) {
            Some(FoundOut { device, position, .. }) => {
                let stands = DeviceState::At(position);
                Cow::Owned(self.choices.with(self.setup.network, device, stands, self.request))
            }
            None => Cow::Borrowed(&self.choices),
        }
    }

    /// For which starts of a case the plan tests a target, where that is some.
    fn tested_for(&self, steps: &[ExtraStep], found: Option<u16>, target: usize) -> Option<Condition> {
        let limits = &self.setup.network.limits().tables;
        let tested = self.untested.partly(self.groups[target])?;
        match found.and_then(|position| self.found_out(steps, position)) {
            Some(FoundOut { device, start, .. }) => {
                let positions = self.setup.network.devices()[device as usize].positions;
                tested.given((device, positions), start, limits)?.table(limits)
            }
            None => tested.table(limits),
        }
    }
}

/// The fewest extras for what a plan leaves untestable, done from how it leaves the switches; and for each of these
/// pairs what would make it testable.
///
/// Time: for each extra that could bring one of the pairs' cores to a lead, the readings that could then test it; then
/// a search for the fewest, bounded in nodes.
pub(in crate::plan) fn extras(
    mut extras: ExtraSetup<'_, '_>,
    untestable: &[PairId],
    rows: &mut [UntestablePair],
    watch: &mut Watch<'_>,
) -> Option<Extras> {
    let (setup, request) = (extras.setup, extras.request);
    let network = setup.network;
    let mut search = ExtraSearch::new(&extras);
    let mut useful = search.singles(watch);
    for (row, &pair) in rows.iter_mut().zip(untestable) {
        row.remedy = remedy::remedy(&extras, &useful, pair);
    }
    if request.extras.is_empty() {
        return None;
    }
    let is_allowed = |extra: &UsefulExtra| extra.steps.iter().all(|step| request.extras.contains(&step.sort()));
    useful.retain(is_allowed);
    let singles = FewestExtras::of(&extras, useful, search.is_complete, watch);
    let mut left_by_singles = FixedBitSet::with_capacity(extras.groups.len());
    left_by_singles.insert_range(..);
    left_by_singles.difference_with(&singles.coverable);
    let mut useful = Vec::new();
    if !left_by_singles.is_clear() {
        useful = search.twos(&left_by_singles, watch);
    }
    useful.retain(is_allowed);
    for extra in &mut useful {
        extra.covers.intersect_with(&left_by_singles);
    }
    let twos = FewestExtras::of(&extras, useful, search.is_complete, watch);

    let naming = Naming { network, choices: &setup.choices };
    let mut configuration = extras.start.clone();
    let mut untested = std::mem::take(&mut extras.untested);
    let mut done = FixedBitSet::with_capacity(extras.groups.len());
    let mut used = Vec::new();
    for extra in singles.used.iter().chain(&twos.used) {
        let mut targets = extra.covers.clone();
        targets.difference_with(&done);
        // Those before it did for them in passing.
        if targets.is_clear() {
            continue;
        }
        let DoneWith { rounds, found, tested } = done_with(&extras, extra, &targets, &mut configuration, &mut untested);
        let is_for = |row: &(&UntestablePair, &PairId)| {
            extras.target(network.pair_group(*row.1)).is_some_and(|target| tested.contains(target))
        };
        let reason = |(row, &pair): (&UntestablePair, &PairId)| UntestablePair {
            devices: row.devices.clone(),
            ..UntestablePair::new(naming.pair(pair), row.why)
        };
        let reasons = rows.iter().zip(untestable).filter(is_for).map(reason).collect();
        done.union_with(&tested);
        let mut together: Vec<RemedyStep> = extra.steps.iter().map(|step| step.named(network)).collect();
        let step = if together.len() == 1 { together.remove(0) } else { RemedyStep::Together { together } };
        used.push(Extra { step, reasons, rounds, found });
    }
    let mut put_back = Vec::new();
    if request.afterwards == Afterwards::AsFound {
        let moved = moved(&setup.choices, &configuration);
        let operations = operations(network, &setup.choices, &mut configuration, &moved);
        put_back.extend(operations.into_iter().map(|(_, operation)| operation));
    }
    let is_left =
        |pair: &&PairId| extras.target(network.pair_group(**pair)).is_some_and(|target| !done.contains(target));
    let left = untestable.iter().filter(is_left).map(|&pair| naming.pair(pair)).collect();
    let are_done = [&singles, &twos].iter().all(|fewest| fewest.coverable.is_subset(&done));
    let optimal = singles.is_least && twos.is_least && are_done && !watch.is_stopped();
    let totals = ExtraTotals::of(&used, &put_back);
    let at_least = (singles.at_least + 2 * twos.at_least).min(totals.extras);
    let allowed = request.extras.iter().copied().collect();
    Some(Extras { allowed, totals, at_least, optimal, used, put_back, left })
}

/// The fewest of extras that each count as many.
struct FewestExtras {
    used: Vec<UsefulExtra>,
    at_least: usize,
    is_least: bool,
    /// What any of them does for.
    coverable: FixedBitSet,
}

impl FewestExtras {
    fn of(
        extras: &ExtraSetup<'_, '_>,
        useful: Vec<UsefulExtra>,
        is_complete: bool,
        watch: &mut Watch<'_>,
    ) -> FewestExtras {
        let network = extras.setup.network;
        let mut coverable = FixedBitSet::with_capacity(extras.groups.len());
        useful.iter().for_each(|extra| coverable.union_with(&extra.covers));
        let columns: Vec<(&FixedBitSet, u32)> =
            useful.iter().map(|extra| (&extra.covers, extra.trouble(network))).collect();
        let cover = cover::fewest(&columns, &coverable, &network.limits().plan, watch);
        // What could not be worked out may be an extra that does for many: it only takes one then.
        let at_least = if is_complete { cover.at_least } else { cover.at_least.min(1) };
        let used = useful.into_iter().enumerate().filter(|(number, _)| cover.chosen.contains(number));
        FewestExtras {
            used: used.map(|(_, extra)| extra).collect(),
            at_least,
            is_least: cover.is_least && is_complete,
            coverable,
        }
    }
}
