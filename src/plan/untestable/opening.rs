//! Which restrictions keep a pair from being tested, found by lifting them and trying again.

use std::collections::BTreeMap;

use crate::coverage::Tested;
use crate::model::TestSet;
use crate::network::Network;
use crate::observer::Watch;
use crate::plan::problem::requirement::{WhenTested, gather};
use crate::plan::problem::setup::Setup;
use crate::plan::problem::switches::Demands;
use crate::plan::request::{Request, Restriction, SearchBy};

/// For each of these pair groups, all untestable: restrictions that open it when lifted together; a group that none
/// opens is left out.
///
/// Restrictions are lifted one at a time first. A group that needs several lifted gets a set from which none can be
/// left out; for a very long list of such groups, a set that may hold more than it must. Time: one gathering of the
/// readings for each trial, as many as there are restrictions and then some.
pub(in crate::plan) fn opens(
    network: &Network,
    coverage: &Tested<'_>,
    test_set: &TestSet,
    request: &Request,
    untestable: &[u32],
    watch: &mut Watch<'_>,
) -> BTreeMap<u32, Vec<Restriction>> {
    let restrictions = request.restrictions();
    let demands = Demands::none(network);
    let mut opened: BTreeMap<u32, Vec<Restriction>> = BTreeMap::new();
    let mut closed = untestable.to_vec();
    if restrictions.is_empty() || closed.is_empty() {
        return opened;
    }
    // The groups that can be tested without these restrictions.
    let mut open_without = |lifted: &[Restriction], groups: &[u32]| -> Vec<u32> {
        let kept: Vec<Restriction> = restrictions.iter().copied().filter(|row| !lifted.contains(row)).collect();
        let setup = Setup::new(network, coverage, test_set, &request.with_restrictions(&kept));
        let outlooks = gather(&setup, coverage, &demands, SearchBy::Size, watch).groups;
        let open = outlooks.into_iter().filter(|(group, when_tested)| {
            groups.contains(group) && matches!(when_tested, WhenTested::Always | WhenTested::Sometimes(_))
        });
        open.map(|(group, _)| group).collect()
    };
    for &restriction in &restrictions {
        opened.extend(open_without(&[restriction], &closed).into_iter().map(|group| (group, vec![restriction])));
        closed.retain(|group| !opened.contains_key(group));
    }
    if restrictions.len() < 2 || closed.is_empty() {
        return opened;
    }
    let all_but = |rows: &[Restriction], left_out: Restriction| -> Vec<Restriction> {
        rows.iter().copied().filter(|&row| row != left_out).collect()
    };
    closed = open_without(&restrictions, &closed);
    for _ in 0..network.limits().plan.restrictions_reduced {
        let Some(&first) = closed.first() else { break };
        let mut lifted = restrictions.clone();
        for &restriction in &restrictions {
            let fewer = all_but(&lifted, restriction);
            if !open_without(&fewer, &[first]).is_empty() {
                lifted = fewer;
            }
        }
        // What is least for one need not be least for the others that it opens.
        let mut least = open_without(&lifted, &closed);
        for &restriction in &lifted {
            let open = open_without(&all_but(&lifted, restriction), &least);
            least.retain(|group| !open.contains(group));
        }
        opened.extend(least.into_iter().map(|group| (group, lifted.clone())));
        closed.retain(|group| !opened.contains_key(group));
    }
    opened.extend(closed.into_iter().map(|group| (group, restrictions.clone())));
    opened
}
