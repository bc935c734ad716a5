//! Extras: what a plan does beside operating switches and reading at ways, for pairs that can't be tested otherwise.
//!
//! An extra is a lamp left in, the instrument taken to a point, or a temporary link. `finding` tries every one of the
//! sorts that are allowed, each by itself, and tells which pairs it makes testable; `cover` takes the fewest that do for
//! all of these; `rounds` adds what is done for each at the end of the plan. A reading needs only one of two things to be
//! on each lead, so for an instrument at a point single terminals do whatever joined ones would.

mod cover;
mod finding;
mod rounds;

use fixedbitset::FixedBitSet;

use crate::model::{PointId, TerminalRef};
use crate::network::{Network, PairId};
use crate::plan::making::{moved, operations};
use crate::plan::observer::Watch;
use crate::plan::planner::{Operation, Round, UntestablePair};
use crate::plan::problem::setup::Setup;
use crate::plan::request::{Afterwards, Request};
use crate::plan::untestable::remedy::RemedyStep;
use crate::reading::Configuration;
use finding::{Search, Step};
use rounds::Rounds;

/// One extra, with what it is for and what is done with it.
#[derive(Clone, Debug, PartialEq)]
pub struct Extra {
    /// What to do; it is undone again after its last round.
    pub step: RemedyStep,
    /// The point where it is done.
    pub point: PointId,
    /// The pairs that it is used for, each with why no reading of the plan itself can test it.
    pub reasons: Vec<UntestablePair>,
    /// What is done while it is in place, from how the plan and the extras before left the switches. Their readings
    /// complete all its pairs. Not proven to be the fewest rounds or operations.
    pub rounds: Vec<Round>,
}

/// The extras of a plan.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Extras {
    /// In the order in which they are done.
    pub used: Vec<Extra>,
    /// Where everything is to be left as it was found: what the rounds of extras moved is put back by this.
    pub put_back: Vec<Operation>,
    /// Untestable pairs that stay so: none of the extras tried tests it alone.
    pub left: Vec<PairId>,
    /// No fewer extras do, proven.
    pub at_least: usize,
    /// Whether those used are proven to be the fewest, among all single extras of the sorts allowed that make at least one
    /// pair testable, for all pairs that any of them does.
    pub is_least: bool,
}

impl Extras {
    /// Rounds of all extras, one that puts everything back included.
    pub fn rounds(&self) -> usize {
        self.used.iter().map(|extra| extra.rounds.len()).sum::<usize>() + usize::from(!self.put_back.is_empty())
    }

    /// Operations of all extras, those that put everything back included.
    pub fn operations(&self) -> usize {
        let rounds = self.used.iter().flat_map(|extra| &extra.rounds);
        rounds.map(|round| round.operations.len()).sum::<usize>() + self.put_back.len()
    }

    /// Readings of all extras.
    pub fn readings(&self) -> usize {
        self.used.iter().flat_map(|extra| &extra.rounds).map(|round| round.readings.len()).sum()
    }
}

/// The fewest extras for what a plan leaves untestable, done from how it leaves the switches.
///
/// Time: for each extra that could bring one of the pairs' cores to a lead, the readings that could then test it; then
/// a search for the fewest, bounded in nodes.
pub(in crate::plan) fn extras(
    setup: &Setup<'_>,
    request: &Request,
    untestable: &[UntestablePair],
    standing: &mut Configuration,
    watch: &mut Watch<'_>,
) -> Extras {
    let network = setup.network;
    let group_of = |row: &UntestablePair| network.pair_group(row.pair);
    let mut groups: Vec<u32> = untestable.iter().map(group_of).collect();
    groups.sort_unstable();
    groups.dedup();
    let mut search = Search::new(setup, groups);
    let possible = search.possible(request, watch);
    let mut coverable = FixedBitSet::with_capacity(search.groups.len());
    possible.iter().for_each(|extra| coverable.union_with(&extra.covers));
    let columns: Vec<(&FixedBitSet, u32)> =
        possible.iter().map(|extra| (&extra.covers, extra.step.trouble(network))).collect();
    let cover = cover::fewest(&columns, &coverable, watch);

    let mut done = FixedBitSet::with_capacity(search.groups.len());
    let mut used = Vec::new();
    for &number in &cover.chosen {
        let extra = &possible[number];
        let mut targets = extra.covers.clone();
        targets.difference_with(&done);
        let (rounds, tested) = Rounds::new(setup, request.need, &search.groups, extra).plan(targets, standing);
        let is_for = |row: &UntestablePair| {
            let target = search.groups.binary_search(&group_of(row)).expect("groups are those of these pairs");
            tested.contains(target)
        };
        let reasons = untestable.iter().copied().filter(is_for).collect();
        done.union_with(&tested);
        let (step, point) = extra.step.named(network);
        used.push(Extra { step, point, reasons, rounds });
    }
    let put_back = match request.afterwards {
        Afterwards::AsFound => {
            let moved = moved(&setup.fleet, standing);
            operations(network, &setup.fleet, standing, &moved)
        }
        Afterwards::AsLeft => Vec::new(),
    };
    let is_left =
        |row: &&UntestablePair| search.groups.binary_search(&group_of(row)).is_ok_and(|target| !done.contains(target));
    let left = untestable.iter().filter(is_left).map(|row| row.pair).collect();
    let is_least = cover.is_least && search.is_complete && done == coverable && !watch.is_stopped();
    // What could not be worked out may be an extra that does for many: it only takes one then.
    let at_least = if search.is_complete { cover.at_least } else { cover.at_least.min(1) };
    Extras { used, put_back, left, at_least, is_least }
}

impl Step {
    /// How much trouble it is: a lamp least, a link most, and one to earth more than others.
    fn trouble(&self, network: &Network) -> u32 {
        match *self {
            Step::Fitted(..) => 0,
            Step::At(_) => 1,
            Step::Linked(_, terminals) => {
                let earth = network.body(TerminalRef::MainEarth);
                2 + u32::from(terminals.iter().any(|&terminal| network.body(terminal) == earth))
            }
        }
    }
}
