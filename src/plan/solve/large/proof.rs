//! Certificates of a large cluster: why elements exclude one another, and few targets that need as much as all.
//!
//! The solver's refusals hold for the starts looked at, and so for all. A refusal names the assumptions that it rests
//! on (an unsatisfiable core); of these each is left out in turn, while the budget lasts.

use std::collections::BTreeSet;
use std::rc::Rc;

use rustc_hash::FxHashMap;

use super::formula::{Answer, Budget, Lit};
use super::search::Search;
use crate::network::DeviceIndex;
use crate::observer::Watch;
use crate::plan::naming::{Naming, RequiredGroup};
use crate::plan::proof::certificate::{Exclusion, OperationsPart, UnsatisfiableCore, WhyOperations};
use crate::plan::proof::exclusion::{Needs, Ways, conflicts};
use crate::plan::request::{Afterwards, Priority, Request};

impl Search<'_> {
    /// The certificate that elements exclude one another.
    pub(super) fn exclusion(&mut self, elements: &[usize], naming: &Naming<'_>, watch: &mut Watch<'_>) -> Exclusion {
        let problem = self.problem;
        let devices: Vec<_> = problem.members.iter().map(|member| member.device).collect();
        let required: Vec<(u32, Vec<(DeviceIndex, u16)>)> = elements
            .iter()
            .map(|&element| {
                let target = &problem.targets[self.rounds.elements()[element].target as usize];
                let start = problem.unknown.iter().zip(self.rounds.start_of(element));
                (target.groups[0], start.map(|(row, &position)| (row.device, position)).collect())
            })
            .collect();
        let required: Vec<RequiredGroup<'_>> =
            required.iter().map(|(group, start)| (*group, start.as_slice())).collect();
        self.rounds.grow(2);
        let budget = Budget(self.limits.solver_core_steps);
        let mut asking = Asking { search: self, elements, known: FxHashMap::default(), budget, watch };
        let conflicts = conflicts(&mut asking, elements.len(), &naming.network.limits().plan);
        naming.exclusion(&required, &conflicts, &devices)
    }

    /// Pairs that already can't be had in so many walks, where all that is to be tested can't: from the solver's core,
    /// then one by one. What is asked for switches is not in certificates.
    fn core(
        &mut self,
        walks: usize,
        besides: &[Lit],
        naming: &Naming<'_>,
        watch: &mut Watch<'_>,
    ) -> Option<UnsatisfiableCore> {
        let budget = &mut Budget(self.limits.solver_core_steps);
        let mut ask = |search: &mut Self, targets: &[u32]| {
            let mut with = search.with_targets(targets, walks);
            with.extend(besides);
            search.rounds.ask(&with, budget, watch)
        };
        let problem = self.problem;
        let mut open: Vec<u32> = self.live.iter().copied().filter(|&target| problem.is_pair(target)).collect();
        if ask(self, &open) != Answer::No {
            return None;
        }
        self.keep_core(&mut open);
        let mut needed: Vec<u32> = Vec::new();
        // A setting that the solver finds may not do for a start that was not looked at.
        let mut is_irreducible = self.problem.unknown.is_empty();
        while let Some(target) = open.pop() {
            let rest: Vec<u32> = open.iter().chain(&needed).copied().collect();
            match ask(self, &rest) {
                // What is known to be needed is in every core of the rest.
                Answer::No => self.keep_core(&mut open),
                Answer::Yes => needed.push(target),
                Answer::GaveUp => {
                    needed.push(target);
                    is_irreducible = false;
                }
            }
        }
        let mut targets = needed;
        targets.sort_unstable();
        let required = |target: u32| (problem.targets[target as usize].groups[0], &[] as &[_]);
        Some(naming.core(&targets.into_iter().map(required).collect::<Vec<_>>(), is_irreducible))
    }

    /// Keeps those targets that the solver's last refusal rests on.
    fn keep_core(&mut self, targets: &mut Vec<u32>) {
        let core = self.rounds.core();
        targets.retain(|&target| core.contains(&self.rounds.wanted(target)));
    }

    /// Targets that can't be tested in so many walks.
    pub(super) fn core_of_walks(
        &mut self,
        walks: usize,
        naming: &Naming<'_>,
        watch: &mut Watch<'_>,
    ) -> Option<UnsatisfiableCore> {
        self.core(walks, &[], naming, watch)
    }

    /// Why the cluster needs so many operations within a number of walks.
    pub(super) fn operations_part(
        &mut self,
        operations: usize,
        walks: usize,
        request: &Request,
        naming: &Naming<'_>,
        watch: &mut Watch<'_>,
    ) -> Option<OperationsPart> {
        if operations == 0 {
            return None;
        }
        let is_put_back = request.afterwards == Afterwards::AsFound && walks > 0;
        // Where stops come first, the bound on operations is no answer of this question.
        let core = if request.priority == Priority::Operations {
            let mut besides = if is_put_back { self.rounds.as_at_start(walks - 1) } else { Vec::new() };
            let mut count = self.rounds.operations(walks);
            besides.extend(self.rounds.at_most(&mut count, operations - 1));
            self.core(walks - usize::from(is_put_back), &besides, naming, watch)
        } else {
            None
        };
        let devices = naming.points(self.problem.members.iter().map(|member| member.device));
        Some(OperationsPart { operations, devices, why: WhyOperations::SearchExhausted { core } })
    }
}

/// Asks the solver what elements need.
struct Asking<'s, 'p, 'w, 'o> {
    search: &'s mut Search<'p>,
    elements: &'s [usize],
    known: FxHashMap<(usize, Vec<usize>), Option<Rc<Ways>>>,
    budget: Budget,
    watch: &'w mut Watch<'o>,
}

impl Needs for Asking<'_, '_, '_, '_> {
    fn bearing(&mut self, one: usize, other: usize) -> Option<Vec<usize>> {
        // One in the first round, the other in the second, and nothing operated in between: what of that can't be had.
        let rounds = &mut self.search.rounds;
        let unmoved = rounds.unmoved(1);
        let both = [rounds.tested(self.elements[one], 0), rounds.tested(self.elements[other], 1)];
        let with: Vec<Lit> = both.into_iter().chain(unmoved.iter().copied()).collect();
        if rounds.ask(&with, &mut self.budget, self.watch) != Answer::No {
            return None;
        }
        let core = rounds.core();
        Some((0..unmoved.len()).filter(|&member| core.contains(&unmoved[member])).collect())
    }

    fn options(&self, switch: usize) -> usize {
        usize::from(self.search.problem.members[switch].options)
    }

    fn needs(&mut self, requirement: usize, switches: &[usize]) -> Option<Rc<Ways>> {
        let key = (requirement, switches.to_vec());
        if let Some(known) = self.known.get(&key) {
            return known.clone();
        }
        let ways = self.ask_for(requirement, switches).map(Rc::new);
        self.known.insert(key, ways.clone());
        ways
    }
}

impl Asking<'_, '_, '_, '_> {
    /// Goes through all ways in which the switches can stand.
    fn ask_for(&mut self, requirement: usize, switches: &[usize]) -> Option<Ways> {
        let rounds = &mut self.search.rounds;
        let tested = rounds.tested(self.elements[requirement], 0);
        let mut ways = BTreeSet::new();
        let mut way = vec![0u16; switches.len()];
        loop {
            let stands = switches.iter().zip(&way).map(|(&switch, &option)| rounds.option(0, switch, option));
            let with: Vec<Lit> = stands.chain([tested]).collect();
            match rounds.ask(&with, &mut self.budget, self.watch) {
                Answer::No => {}
                Answer::Yes => {
                    ways.insert(way.clone());
                }
                Answer::GaveUp => return None,
            }
            let counts = switches.iter().map(|&switch| self.search.problem.members[switch].options);
            let Some(place) = way.iter().zip(counts).position(|(&option, count)| option + 1 < count) else {
                return Some(ways);
            };
            way[..place].fill(0);
            way[place] += 1;
        }
    }
}
