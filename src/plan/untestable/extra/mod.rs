//! Extras: what a plan does beside operating switches and reading at ways, for pairs that can't be tested otherwise.
//!
//! An extra is a lamp left in, the instrument taken to a point, a link of the preparation taken out, or a temporary
//! link. `finding` tries every one of the sorts that are allowed, each by itself, and tells which pairs it makes
//! testable; `cover` takes the fewest that do for all of these; `rounds` adds what is done for each at the end of the
//! plan. A reading needs only one of two things to be on each lead, so for an instrument at a point single terminals do
//! whatever joined ones would.

mod cover;
mod finding;
mod rounds;

use fixedbitset::FixedBitSet;

use crate::network::PairId;
use crate::observer::Watch;
use crate::plan::answer::{Extra, ExtraTotals, Extras, Round, UntestablePair};
use crate::plan::naming::Naming;
use crate::plan::problem::setup::Setup;
use crate::plan::request::{Afterwards, Request};
use crate::plan::schedule::operations::{moved, operations};
use crate::plan::untestable::why::Untestable;
use crate::reading::Configuration;
use finding::ExtraSearch;
use rounds::ExtraRounds;

/// The fewest extras for what a plan leaves untestable, done from how it leaves the switches.
///
/// Time: for each extra that could bring one of the pairs' cores to a lead, the readings that could then test it; then
/// a search for the fewest, bounded in nodes.
pub(in crate::plan) fn extras(
    setup: &Setup<'_>,
    request: &Request,
    untestable: &[(PairId, Untestable)],
    configuration: &mut Configuration,
    watch: &mut Watch<'_>,
) -> Extras {
    let network = setup.network;
    let naming = Naming { network, choices: &setup.choices };
    let group_of = |row: &(PairId, Untestable)| network.pair_group(row.0);
    let mut groups: Vec<u32> = untestable.iter().map(group_of).collect();
    groups.sort_unstable();
    groups.dedup();
    let mut search = ExtraSearch::new(setup, groups);
    let useful = search.useful(request, watch);
    let mut coverable = FixedBitSet::with_capacity(search.groups.len());
    useful.iter().for_each(|extra| coverable.union_with(&extra.covers));
    let columns: Vec<(&FixedBitSet, u32)> =
        useful.iter().map(|extra| (&extra.covers, extra.step.trouble(network))).collect();
    let cover = cover::fewest(&columns, &coverable, &network.limits().plan, watch);

    let mut done = FixedBitSet::with_capacity(search.groups.len());
    let mut used = Vec::new();
    for &number in &cover.chosen {
        let extra = &useful[number];
        let mut targets = extra.covers.clone();
        targets.difference_with(&done);
        let (rounds, tested) =
            ExtraRounds { setup, need: request.need, groups: &search.groups, extra }.plan(targets, configuration);
        let is_for = |row: &&(PairId, Untestable)| {
            let target = search.groups.binary_search(&group_of(row)).expect("groups are those of these pairs");
            tested.contains(target)
        };
        let reasons = untestable.iter().filter(is_for);
        let reasons = reasons.map(|&(pair, why)| UntestablePair::new(naming.pair(pair), why)).collect();
        done.union_with(&tested);
        used.push(Extra { step: extra.step.named(network), reasons, rounds });
    }
    let mut put_back = Vec::new();
    if request.afterwards == Afterwards::AsFound {
        let moved = moved(&setup.choices, configuration);
        let operations = operations(network, &setup.choices, configuration, &moved);
        put_back.extend(operations.into_iter().map(|(_, operation)| operation));
    }
    let is_left = |row: &&(PairId, Untestable)| {
        search.groups.binary_search(&group_of(row)).is_ok_and(|target| !done.contains(target))
    };
    let left = untestable.iter().filter(is_left).map(|row| naming.pair(row.0)).collect();
    let optimal = cover.is_least && search.is_complete && done == coverable && !watch.is_stopped();
    // What could not be worked out may be an extra that does for many: it only takes one then.
    let at_least = if search.is_complete { cover.at_least } else { cover.at_least.min(1) };
    let rounds = || used.iter().flat_map(|extra: &Extra| &extra.rounds);
    let totals = ExtraTotals {
        extras: used.len(),
        rounds: rounds().count() + usize::from(!put_back.is_empty()),
        operations: rounds().map(|round: &Round| round.operations.len()).sum::<usize>() + put_back.len(),
        readings: rounds().map(|round| round.readings.len()).sum(),
    };
    let allowed = request.allow.iter().copied().collect();
    Extras { allowed, totals, at_least, optimal, used, put_back, left }
}
