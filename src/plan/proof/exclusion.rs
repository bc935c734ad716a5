//! Why requirements exclude one another: the fewest switches found whose positions they can't share.
//!
//! A requirement **needs** some settings of a few switches: those in which it can hold, whatever the others do (a
//! projection of its settings). Two requirements whose needs have no setting in common are in **conflict** over these
//! switches. Needs may be listed too long (then fewer conflicts are found), never too short.

use std::collections::BTreeSet;
use std::rc::Rc;

use fixedbitset::FixedBitSet;

use crate::plan::limits::PlanLimits;

/// Settings of a few switches: for each of them an option.
pub(in crate::plan) type Ways = BTreeSet<Vec<u16>>;

/// What is known of requirements that exclude one another; they and the switches are numbered.
pub(in crate::plan) trait Needs {
    /// Switches over which together two requirements are in conflict.
    fn bearing(&mut self, one: usize, other: usize) -> Option<Vec<usize>>;

    /// How many options a switch has.
    fn options(&self, switch: usize) -> usize;

    /// The ways in which these switches stand where a requirement holds; none where that is too much to find out.
    fn needs(&mut self, requirement: usize, switches: &[usize]) -> Option<Rc<Ways>>;
}

/// Requirements each two of which are in conflict over the same switches.
pub(in crate::plan) struct SwitchConflict {
    pub(in crate::plan) of: Vec<usize>,
    pub(in crate::plan) switches: Vec<usize>,
    /// For each of the requirements.
    pub(in crate::plan) needs: Vec<Rc<Ways>>,
}

/// The conflicts of requirements, each two of them in one; what more than a few switches decide is left out.
///
/// Heuristic in which of several conflicts it finds: for two requirements one over the fewest switches, up to
/// [`PlanLimits::switches_together`]; more are irreducible only. Asks O(c² m) times for needs, of c requirements, m the
/// sets tried.
pub(in crate::plan) fn conflicts(known: &mut impl Needs, count: usize, limits: &PlanLimits) -> Vec<SwitchConflict> {
    let mut is_explained = vec![FixedBitSet::with_capacity(count); count];
    let mut conflicts: Vec<SwitchConflict> = Vec::new();
    for one in 0..count {
        for other in one + 1..count {
            if is_explained[one].contains(other) {
                continue;
            }
            let Some(switches) = fewest(known, one, other, limits) else { continue };
            let mut rows: Vec<(usize, Rc<Ways>)> = Vec::new();
            // The two first, then whatever else is in conflict with all of these over the same switches.
            for requirement in [one, other].into_iter().chain((0..count).filter(|more| ![one, other].contains(more))) {
                let Some(needs) = known.needs(requirement, &switches) else { continue };
                if rows.iter().all(|(_, known)| known.is_disjoint(&needs)) {
                    rows.push((requirement, needs));
                }
            }
            rows.sort_by_key(|row| row.0);
            for (a, _) in &rows {
                is_explained[*a].extend(rows.iter().map(|row| row.0));
            }
            let (of, needs) = rows.into_iter().unzip();
            conflicts.push(SwitchConflict { of, switches, needs });
        }
    }
    conflicts
}

/// The fewest switches found over which two requirements are in conflict.
fn fewest(known: &mut impl Needs, one: usize, other: usize, limits: &PlanLimits) -> Option<Vec<usize>> {
    let most_ways = limits.ways_explained;
    let bearing = known.bearing(one, other)?;
    let mut tried = 0;
    for size in 1..=limits.switches_together.min(bearing.len()) {
        let mut chosen: Vec<usize> = (0..size).collect();
        loop {
            tried += 1;
            if tried > limits.switch_sets_tried {
                break;
            }
            let switches: Vec<usize> = chosen.iter().map(|&at| bearing[at]).collect();
            if are_in_conflict(known, one, other, &switches, most_ways) {
                return Some(switches);
            }
            // The next choice in order: the last place that can go on does, and those after it follow.
            let Some(place) = (0..size).rev().find(|&place| chosen[place] < bearing.len() - size + place) else {
                break;
            };
            let next = chosen[place] + 1;
            for (step, at) in chosen[place..].iter_mut().enumerate() {
                *at = next + step;
            }
        }
    }
    let mut switches = bearing;
    if !are_in_conflict(known, one, other, &switches, most_ways) {
        return None;
    }
    let mut place = 0;
    while place < switches.len() {
        let mut fewer = switches.clone();
        fewer.remove(place);
        if are_in_conflict(known, one, other, &fewer, most_ways) {
            switches = fewer;
        } else {
            place += 1;
        }
    }
    Some(switches)
}

fn are_in_conflict(known: &mut impl Needs, one: usize, other: usize, switches: &[usize], most_ways: usize) -> bool {
    let ways = switches.iter().try_fold(1usize, |ways, &switch| ways.checked_mul(known.options(switch)));
    if ways.is_none_or(|ways| ways > most_ways) {
        return false;
    }
    let Some(of_one) = known.needs(one, switches) else { return false };
    known.needs(other, switches).is_some_and(|of_other| of_one.is_disjoint(&of_other))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Requirements as lists of the settings in which they hold, switch by switch.
    struct Listed(Vec<Vec<Vec<u16>>>);

    impl Needs for Listed {
        fn bearing(&mut self, _: usize, _: usize) -> Option<Vec<usize>> {
            Some((0..self.0[0][0].len()).collect())
        }

        fn options(&self, _: usize) -> usize {
            2
        }

        fn needs(&mut self, requirement: usize, switches: &[usize]) -> Option<Rc<Ways>> {
            let way = |setting: &Vec<u16>| switches.iter().map(|&switch| setting[switch]).collect();
            Some(Rc::new(self.0[requirement].iter().map(way).collect()))
        }
    }

    #[test]
    fn a_conflict_is_over_the_fewest_switches() {
        // Either switch alone does for the first two; for the third and either of these only both together.
        let mut known = Listed(vec![vec![vec![0, 0]], vec![vec![1, 1]], vec![vec![0, 1], vec![1, 0]]]);
        let conflicts = conflicts(&mut known, 3, &PlanLimits::default());
        let found: Vec<(Vec<usize>, Vec<usize>)> =
            conflicts.iter().map(|row| (row.of.clone(), row.switches.clone())).collect();
        assert_eq!(found, [(vec![0, 1], vec![0]), (vec![0, 1, 2], vec![0, 1])]);
        assert_eq!(conflicts[1].needs[2].len(), 2);
    }

    #[test]
    fn what_can_be_shared_is_no_conflict() {
        let mut known = Listed(vec![vec![vec![0, 0], vec![1, 1]], vec![vec![1, 1]]]);
        assert!(conflicts(&mut known, 2, &PlanLimits::default()).is_empty());
    }
}
