//! What the order of settings asks of the solver.

use fixedbitset::FixedBitSet;

use super::formula::{Answer, Budget, Lit};
use super::search::Search;
use crate::observer::Watch;
use crate::plan::solve::order::NearSettings;

/// A search whose settings are put in order.
pub(super) struct Ordering<'s, 'p, 'w, 'o> {
    pub(super) search: &'s mut Search<'p>,
    pub(super) budget: &'s mut Budget,
    pub(super) watch: &'w mut Watch<'o>,
}

impl NearSettings for Ordering<'_, '_, '_, '_> {
    fn start(&self) -> Vec<u16> {
        self.search.problem.start_options()
    }

    fn met_in(&mut self, options: &[u16]) -> Option<FixedBitSet> {
        let tested = self.search.tested_by(options)?;
        let mut met: FixedBitSet = (0..tested.len()).filter(|&element| tested[element]).collect();
        met.grow(tested.len());
        Some(met)
    }

    fn nearest(&mut self, from: &[u16], elements: &FixedBitSet) -> Option<Vec<u16>> {
        let Ordering { search, budget, watch } = self;
        let mut with: Vec<Lit> = elements.ones().map(|element| search.rounds.tested(element, 0)).collect();
        let members = search.problem.members.iter().zip(from).enumerate();
        // What can't be put back as found is not.
        let left =
            members.filter_map(|(member, (row, &option))| Some((member, row.one_way.filter(|&way| way != option)?)));
        with.extend(left.map(|(member, option)| !search.rounds.option(0, member, option)));
        let mut kept: Vec<Lit> =
            from.iter().enumerate().map(|(member, &option)| search.rounds.option(0, member, option)).collect();
        let mut given_up: Vec<Lit> = Vec::new();
        loop {
            let all: Vec<Lit> = with.iter().chain(&kept).copied().collect();
            match search.rounds.ask(&all, budget, watch) {
                Answer::Yes => break,
                Answer::GaveUp => return None,
                Answer::No => {
                    let core = search.rounds.core();
                    let (in_the_way, rest): (Vec<Lit>, Vec<Lit>) = kept.iter().partition(|lit| core.contains(lit));
                    if in_the_way.is_empty() {
                        return None;
                    }
                    kept = rest;
                    given_up.extend(in_the_way);
                }
            }
        }
        let mut best = search.rounds.settings(1).remove(0);
        // Not all that was in the way together is in the way alone.
        with.extend(kept);
        for lit in given_up {
            with.push(lit);
            match search.rounds.ask(&with, budget, watch) {
                Answer::Yes => best = search.rounds.settings(1).remove(0),
                Answer::No => {
                    with.pop();
                }
                Answer::GaveUp => return None,
            }
        }
        Some(best)
    }
}
