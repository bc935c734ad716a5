//! Which limits keep a pair from being tested, found by lifting them and trying again.

use std::collections::BTreeMap;

use crate::coverage::Tested;
use crate::model::TestSet;
use crate::network::Network;
use crate::plan::observer::Watch;
use crate::plan::problem::requirement::{Outlook, gather};
use crate::plan::problem::setup::Setup;
use crate::plan::problem::switches::Demands;
use crate::plan::request::{Request, Restriction, SearchBy};

/// Sets of limits that are made smaller one limit at a time; pairs left after so many keep the whole set.
const MOST_SETS: usize = 16;

/// For each of these pair groups, all untestable: limits that open it when lifted together; a group that none opens is
/// left out.
///
/// Limits are lifted one at a time first. A group that needs several lifted gets a set from which none can be left
/// out; for a very long list of such groups, a set that may hold more than it must. Time: one gathering of the readings
/// for each trial, as many as there are limits and then some.
pub(in crate::plan) fn opens(
    network: &Network,
    coverage: &Tested<'_>,
    test_set: &TestSet,
    request: &Request,
    untestable: &[u32],
    watch: &mut Watch<'_>,
) -> BTreeMap<u32, Vec<Restriction>> {
    let limits = request.restrictions();
    let demands = Demands::none(network);
    let mut opened: BTreeMap<u32, Vec<Restriction>> = BTreeMap::new();
    let mut closed = untestable.to_vec();
    if limits.is_empty() || closed.is_empty() {
        return opened;
    }
    // The groups that can be tested without these limits.
    let mut open_without = |lifted: &[Restriction], groups: &[u32]| -> Vec<u32> {
        let kept: Vec<Restriction> = limits.iter().copied().filter(|limit| !lifted.contains(limit)).collect();
        let request = request.with_restrictions(&kept);
        let setup = Setup::new(network, coverage, test_set, &request);
        let outlooks = gather(&setup, coverage, &demands, SearchBy::Size, watch).groups;
        let open = outlooks.into_iter().filter(|(group, outlook)| {
            groups.contains(group) && matches!(outlook, Outlook::Always | Outlook::Sometimes(_))
        });
        open.map(|(group, _)| group).collect()
    };
    for &limit in &limits {
        for group in open_without(&[limit], &closed) {
            opened.insert(group, vec![limit]);
        }
        closed.retain(|group| !opened.contains_key(group));
    }
    if limits.len() < 2 || closed.is_empty() {
        return opened;
    }
    closed = open_without(&limits, &closed);
    for _ in 0..MOST_SETS {
        let Some(&first) = closed.first() else { break };
        let mut lifted = limits.clone();
        for &limit in &limits {
            let fewer: Vec<Restriction> = lifted.iter().copied().filter(|&other| other != limit).collect();
            if !open_without(&fewer, &[first]).is_empty() {
                lifted = fewer;
            }
        }
        // What is least for one need not be least for the others that it opens.
        let mut least = open_without(&lifted, &closed);
        for &limit in &lifted {
            let fewer: Vec<Restriction> = lifted.iter().copied().filter(|&other| other != limit).collect();
            let open = open_without(&fewer, &least);
            least.retain(|group| !open.contains(group));
        }
        for group in least {
            opened.insert(group, lifted.clone());
        }
        closed.retain(|group| !opened.contains_key(group));
    }
    opened.extend(closed.into_iter().map(|group| (group, limits.clone())));
    opened
}
