//! The fewest operations and stops of a cluster too large to list, within a number of walks.

use super::count::Count;
use super::formula::{Answer, Budget, Lit};
use super::search::Search;
use super::walks::Walks;
use crate::observer::Watch;
use crate::plan::request::{Afterwards, People, Priority, Request};
use crate::plan::solve::engine::{ClusterPlan, ClusterWay, Cost};

impl Search<'_> {
    /// The fewest operations and stops within a number of walks, in the order of the request; where everything is put
    /// back, the last walk is for that and its operations count.
    pub(super) fn fewest_operations(
        &mut self,
        found: &Walks,
        walks: usize,
        request: &Request,
        watch: &mut Watch<'_>,
    ) -> ClusterPlan {
        let budget = &mut self.budget();
        let is_put_back = request.afterwards == Afterwards::AsFound && walks > 0;
        let read = walks - usize::from(is_put_back);
        // Each walk has an operation at a stop, and so has the one that puts everything back.
        let walks_at_least = found.at_least + usize::from(is_put_back && found.at_least > 0);
        let must_move = self.must_move();
        let fewest = |what: Counted| {
            let of_members = match what {
                // What is put back is operated once more.
                Counted::Operations => must_move.count_ones(..) * (1 + usize::from(is_put_back)),
                Counted::Stops => {
                    let mut stops: Vec<u32> = must_move.ones().map(|at| self.problem.members[at].stop).collect();
                    stops.sort_unstable();
                    stops.dedup();
                    stops.len()
                }
            };
            of_members.max(walks_at_least)
        };
        let fewest = [Counted::Operations, Counted::Stops].map(fewest);
        let mut best = found.settings.clone();
        let last = best.last().cloned().unwrap_or_else(|| self.problem.start_options());
        best.resize(read, last);
        self.rounds.grow(walks);
        let mut fixed: Vec<Lit> = if is_put_back { self.rounds.as_at_start(walks - 1) } else { Vec::new() };
        let order = match request.priority {
            Priority::Operations => [Counted::Operations, Counted::Stops],
            Priority::Stops => [Counted::Stops, Counted::Operations],
        };
        // Stops are counted walk by walk: nothing that two people ask for.
        let order = if request.people == People::Two { &order[..1] } else { &order[..] };
        let mut proven = 0;
        for &what in order {
            let mut count = match what {
                Counted::Operations => self.rounds.operations(walks),
                Counted::Stops => self.rounds.stops(walks),
            };
            let mut least = what.of(self.way(&best, is_put_back).cost());
            // Less than the fewest where not all is planned.
            let mut is_proven = least <= fewest[what as usize];
            while !is_proven {
                match self.within_bound(read, &mut count, least - 1, &fixed, budget, watch) {
                    Some(Some(settings)) => {
                        best = settings;
                        least = what.of(self.way(&best, is_put_back).cost());
                        is_proven = least <= fewest[what as usize];
                    }
                    Some(None) => is_proven = true,
                    None => break,
                }
            }
            if !is_proven {
                break;
            }
            proven += 1;
            if least > 0 {
                fixed.extend(self.rounds.at_most(&mut count, least));
            }
        }
        let way = self.way(&best, is_put_back);
        let cost = way.cost();
        let mut at_least = Cost { operations: fewest[0] as u32, stops: fewest[1] as u32 };
        if proven > 0 {
            match request.priority {
                Priority::Operations => at_least.operations = cost.operations,
                // Each stop has an operation.
                Priority::Stops => {
                    at_least = Cost { operations: cost.stops.max(at_least.operations), stops: cost.stops }
                }
            }
        }
        ClusterPlan { way, at_least, is_least: proven == order.len() }
    }

    /// The way through settings; where everything is put back, with a walk for that.
    fn way(&self, settings: &[Vec<u16>], is_put_back: bool) -> ClusterWay {
        let start = is_put_back.then(|| self.problem.start_options());
        let all = settings.iter().chain(&start);
        ClusterWay::through(&self.problem.members, all.map(|options| Some(&options[..])))
    }

    /// A plan in which at most `most` of what is counted hold: Some(None) where there is none, None where not known.
    fn within_bound(
        &mut self,
        walks: usize,
        count: &mut Count,
        most: usize,
        fixed: &[Lit],
        budget: &mut Budget,
        watch: &mut Watch<'_>,
    ) -> Option<Option<Vec<Vec<u16>>>> {
        loop {
            let mut with = self.with(walks);
            with.extend(self.rounds.at_most(count, most));
            with.extend(fixed);
            match self.rounds.ask(&with, budget, watch) {
                Answer::No => return Some(None),
                Answer::GaveUp => return None,
                Answer::Yes => {
                    let settings = self.rounds.settings(walks);
                    if self.holds(&settings, budget, watch)? {
                        return Some(Some(settings));
                    }
                }
            }
        }
    }
}

#[derive(Clone, Copy)]
enum Counted {
    Operations,
    Stops,
}

impl Counted {
    fn of(self, cost: Cost) -> usize {
        match self {
            Counted::Operations => cost.operations as usize,
            Counted::Stops => cost.stops as usize,
        }
    }
}
