//! Settings put in an order that operates little: each time the nearest setting that tests what one of those left does.

use fixedbitset::FixedBitSet;
use rustsat::types::Lit;

use super::formula::{Answer, Budget};
use super::search::Search;
use crate::plan::observer::Watch;

/// Which of several settings that are equally near comes first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Ties {
    First,
    Last,
}

impl Search<'_> {
    /// As many settings or fewer that test together what these test, in an order with fewer operations where one is
    /// found. Greedy: not known to be the least.
    pub(super) fn in_near_order(
        &mut self,
        settings: Vec<Vec<u16>>,
        budget: &mut Budget,
        watch: &mut Watch<'_>,
    ) -> Vec<Vec<u16>> {
        let mut best = settings;
        for ties in [Ties::First, Ties::Last] {
            let Some(found) = self.nearest_next(&best, ties, budget, watch) else { continue };
            let is_better = found.len() <= best.len() && self.operations_of(&found) < self.operations_of(&best);
            if is_better && self.holds(&found, budget, watch) == Some(true) {
                best = found;
            }
        }
        best
    }

    fn nearest_next(
        &mut self,
        settings: &[Vec<u16>],
        ties: Ties,
        budget: &mut Budget,
        watch: &mut Watch<'_>,
    ) -> Option<Vec<Vec<u16>>> {
        // Each element is asked of one setting that tests it.
        let mut asked: Vec<FixedBitSet> = Vec::new();
        let mut open: FixedBitSet = self.live_elements().into_iter().collect();
        open.grow(self.element_count());
        for options in settings {
            let tested = self.tested_by(options, budget, watch)?;
            let mut own: FixedBitSet = open.ones().filter(|&element| tested[element]).collect();
            own.grow(self.element_count());
            open.difference_with(&own);
            asked.push(own);
        }
        let mut at = self.problem.start_options();
        let mut order = Vec::new();
        loop {
            asked.retain(|own| !own.is_clear());
            if asked.is_empty() {
                return Some(order);
            }
            let mut nearest: Option<(usize, Vec<u16>)> = None;
            for own in &asked {
                let options = self.nearest(&at, own, budget, watch)?;
                let distance = at.iter().zip(&options).filter(|(here, there)| here != there).count();
                let is_nearer = nearest.as_ref().is_none_or(|(least, _)| match ties {
                    Ties::First => distance < *least,
                    Ties::Last => distance <= *least,
                });
                if is_nearer {
                    nearest = Some((distance, options));
                }
            }
            let (_, options) = nearest?;
            let tested = self.tested_by(&options, budget, watch)?;
            let before: usize = asked.iter().map(|own| own.count_ones(..)).sum();
            for own in &mut asked {
                let met: Vec<usize> = own.ones().filter(|&element| tested[element]).collect();
                met.into_iter().for_each(|element| own.set(element, false));
            }
            if asked.iter().map(|own| own.count_ones(..)).sum::<usize>() == before {
                // A reading is void for a start that was not looked at.
                return None;
            }
            at.clone_from(&options);
            order.push(options);
        }
    }

    /// A setting near another that tests some elements: what need not change for them stays.
    fn nearest(
        &mut self,
        from: &[u16],
        elements: &FixedBitSet,
        budget: &mut Budget,
        watch: &mut Watch<'_>,
    ) -> Option<Vec<u16>> {
        let mut with: Vec<Lit> = elements.ones().map(|element| self.tested_at_first(element)).collect();
        let mut kept: Vec<Lit> =
            from.iter().enumerate().map(|(member, &option)| self.option_at_first(member, option)).collect();
        let mut given_up: Vec<Lit> = Vec::new();
        loop {
            let all: Vec<Lit> = with.iter().chain(&kept).copied().collect();
            match self.rounds.ask(&all, budget, watch) {
                Answer::Yes => break,
                Answer::GaveUp => return None,
                Answer::No => {
                    let core = self.rounds.core();
                    let count = kept.len();
                    kept.retain(|lit| {
                        let is_in_the_way = core.contains(lit);
                        if is_in_the_way {
                            given_up.push(*lit);
                        }
                        !is_in_the_way
                    });
                    if kept.len() == count {
                        return None;
                    }
                }
            }
        }
        let mut best = self.first_setting();
        // Not all that was in the way together is in the way alone.
        with.extend(kept);
        for lit in given_up {
            with.push(lit);
            match self.rounds.ask(&with, budget, watch) {
                Answer::Yes => best = self.first_setting(),
                Answer::No => {
                    with.pop();
                }
                Answer::GaveUp => return None,
            }
        }
        Some(best)
    }
}
