//! In which rounds sources are read at, so that a plan stops as seldom as can be.

use std::collections::BTreeMap;

use rustc_hash::FxHashSet;

use crate::model::Stop;
use crate::plan::problem::remaining::Remaining;
use crate::plan::request::{Afterwards, Request};
use crate::plan::schedule::operations::carry_out;
use crate::plan::schedule::readings::selection::{Trial, Untested, tests_of};
use crate::reading::{CandidateReading, Diagram, Probe, TableLimits};

/// A round and a stop where a source is read at in it.
type Visit = (usize, u32);

/// What readings do for one pair group, or for what is asked of a switch.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash)]
struct Share {
    /// The starts for which it is done whatever is visited.
    anyway: Option<Diagram>,
    /// The starts for which a reading of a visit does it.
    by_visit: Vec<(Visit, Diagram)>,
}

/// Of the rounds in which each source can be read at, keeps a smallest set that does what all do.
///
/// A stop where a round operates something anyway costs nothing. Exact for these rounds, unless the search runs out of
/// its budget: iterative deepening, bounded in nodes ([`PlanLimits::visit_nodes`](crate::plan::PlanLimits::visit_nodes)).
pub(in crate::plan) fn keep_fewest_visits(remaining: &Remaining<'_>, trials: &mut [Trial], request: &Request) {
    let Remaining { setup, coverage, demands, stops, .. } = remaining;
    if !setup.reads_at_sources() {
        return;
    }
    let (network, candidates) = (setup.network, &setup.candidates);
    let stop_of = |candidate: u32| {
        let at = candidates[candidate as usize].at;
        at.map(|point| stops.number(Stop::of(network.installation(), point)))
    };
    let at_sources: Vec<u32> = (0..candidates.len() as u32).filter(|&number| stop_of(number).is_some()).collect();
    let untested = Untested::new(network, coverage, demands);
    let mut free: FxHashSet<Visit> = FxHashSet::default();
    let mut shares: BTreeMap<u32, Share> = BTreeMap::new();
    // What puts everything back takes no readings.
    let last = (request.afterwards == Afterwards::AsFound && trials.len() > 1).then(|| trials.len() - 1);
    let mut configuration = setup.start.clone();
    let mut probe = Probe::new(network);
    for (number, trial) in trials.iter_mut().enumerate() {
        carry_out(&setup.choices, &mut configuration, &trial.changes);
        trial.candidates.retain(|&candidate| stop_of(candidate).is_none());
        if last != Some(number) {
            trial.candidates.extend(&at_sources);
        }
        free.extend(trial.changes.iter().map(|change| (number, stops.of(change.0))));
        for &candidate in &trial.candidates {
            let CandidateReading { leads, counts, .. } = &candidates[candidate as usize];
            let probed = probe.read_for_starts(network, &configuration, leads);
            let visit = stop_of(candidate).map(|stop| (number, stop)).filter(|visit| !free.contains(visit));
            for (group, when) in tests_of(network, &probed, counts, demands) {
                if !untested.gains(group, when.as_deref()) {
                    continue;
                }
                let share = shares.entry(group).or_default();
                let when = when.map_or_else(Diagram::always, |when| (*when).clone());
                match visit {
                    Some(visit) => share.by_visit.push((visit, when)),
                    None => {
                        let limits = &network.limits().tables;
                        share.anyway = Some(
                            share.anyway.take().map_or(when.clone(), |known| known.or(&when, limits).unwrap_or(known)),
                        );
                    }
                }
            }
        }
    }
    let limits = network.limits();
    let search = VisitSearch { shares: Vec::new(), limits: &limits.tables, nodes: limits.plan.visit_nodes };
    // Many groups are done by the same readings.
    let mut seen: FxHashSet<Share> = FxHashSet::default();
    let is_open = |share: &Share| search.missing(share, &[]).is_some() && seen.insert(share.clone());
    let mut shares: Vec<Share> = shares.into_values().filter(is_open).collect();
    // Those that the fewest readings do come first: the search branches over them.
    shares.sort_by_key(|share| share.by_visit.len());
    let mut search = VisitSearch { shares, ..search };
    let kept = search.fewest();
    for (number, trial) in trials.iter_mut().enumerate() {
        let is_taken = |&candidate: &u32| {
            stop_of(candidate).is_none_or(|stop| free.contains(&(number, stop)) || kept.contains(&(number, stop)))
        };
        (trial.candidates, trial.set_aside) = trial.candidates.iter().partition(|candidate| is_taken(candidate));
    }
}

/// On a walk that is made anyway rather than as things stand: that is never farther.
fn preference(&(round, stop): &Visit) -> (bool, usize, u32) {
    (round == 0, round, stop)
}

struct VisitSearch<'l> {
    shares: Vec<Share>,
    limits: &'l TableLimits,
    /// Nodes left.
    nodes: usize,
}

impl VisitSearch<'_> {
    fn fewest(&mut self) -> Vec<Visit> {
        let mut all: Vec<Visit> =
            self.shares.iter().flat_map(|share| &share.by_visit).map(|(visit, _)| *visit).collect();
        all.sort_unstable_by_key(preference);
        all.dedup();
        for most in 0..all.len() {
            let mut chosen = Vec::new();
            if self.choose(most, &mut chosen) {
                return chosen;
            }
            if self.nodes == 0 {
                break;
            }
        }
        // One by one those are left out that the others make needless, the last first.
        let mut kept = all.clone();
        for visit in all.into_iter().rev() {
            let rest: Vec<Visit> = kept.iter().copied().filter(|&other| other != visit).collect();
            if self.shares.iter().all(|share| self.missing(share, &rest).is_none()) {
                kept = rest;
            }
        }
        kept
    }

    /// Chooses so many visits more that do what all do, if there are such.
    fn choose(&mut self, more: usize, chosen: &mut Vec<Visit>) -> bool {
        self.nodes = self.nodes.saturating_sub(1);
        let open = self.shares.iter().find_map(|share| Some((share, self.missing(share, chosen)?)));
        let Some((share, missing)) = open else { return true };
        if more == 0 || self.nodes == 0 {
            return false;
        }
        let mut helpful: Vec<Visit> = Vec::new();
        for (visit, when) in &share.by_visit {
            let helps = when.and(&missing, self.limits).is_none_or(|part| !part.is_never());
            if helps && !helpful.contains(visit) {
                helpful.push(*visit);
            }
        }
        helpful.sort_unstable_by_key(preference);
        for visit in helpful {
            chosen.push(visit);
            if self.choose(more - 1, chosen) {
                return true;
            }
            chosen.pop();
        }
        false
    }

    /// The starts for which some visit does it but none of those chosen; none where there are none. What is too large to
    /// tell is missing.
    fn missing(&self, share: &Share, chosen: &[Visit]) -> Option<Diagram> {
        let done = |is_in: &dyn Fn(&Visit) -> bool| {
            let by_visit = share.by_visit.iter().filter(|(visit, _)| is_in(visit)).map(|(_, when)| when);
            Diagram::union(share.anyway.iter().chain(by_visit), self.limits)
        };
        let (all, chosen) = (done(&|_| true), done(&|visit| chosen.contains(visit)));
        let missing = all.and_not(&chosen, self.limits).unwrap_or(all);
        (!missing.is_never()).then_some(missing)
    }
}
