//! What one reading tests, over the positions of the devices that can be told how to stand.

use crate::network::{Condition, LeadBodies, Network, Opposite, Scout, Sighting, Standing, as_numbered};
use crate::plan::problem::option::Fleet;

/// What one reading tests.
pub(in crate::plan) struct Sounding {
    /// For each pair group: how the known devices must stand, whichever way the unknown ones do. Never is left out.
    pub(in crate::plan) tests: Vec<(u32, Condition)>,
    /// False where a table was too large to make, so that the reading may test more.
    pub(in crate::plan) is_complete: bool,
}

/// What a reading tests with these devices variable and all else as it stands; only groups that are `wanted` are told.
///
/// A device that nobody knows the position of must not matter: what is told holds for all its positions. Time linear in
/// what the reading reaches, plus the tables.
pub(in crate::plan) fn sound(
    network: &Network,
    scout: &mut Scout,
    fleet: &Fleet,
    standing: &Standing,
    leads: &LeadBodies,
    wanted: impl Fn(u32) -> bool,
) -> Sounding {
    let mut sounding = Sounding { tests: Vec::new(), is_complete: true };
    let region = scout.explore(network, standing, &fleet.variable, leads);
    if region.always_bridged || region.always_doubtful {
        return sounding;
    }
    let mut void = Condition::never(Vec::new());
    for group in &region.void_groups {
        let voids = region.is_tractable(group).then(|| region.voids(group, &as_numbered).void.essential());
        let Some(more) = voids.and_then(|voids| void.or(&voids)) else {
            sounding.is_complete = false;
            return sounding;
        };
        void = more;
    }
    let Sounding { tests, is_complete } = &mut sounding;
    Sighting::new(&region, as_numbered).opposite_groups(network, scout, wanted, |group, opposite| {
        let when = match opposite {
            Opposite::Always => Some(Condition::always()),
            Opposite::When(condition) => Some(condition),
            Opposite::TooLarge => None,
        };
        match when.and_then(|when| when.and_not(&void)) {
            Some(sound) => {
                let sound = for_all_unknown(fleet, &sound.essential());
                if !sound.is_never() {
                    tests.push((group, sound));
                }
            }
            None => *is_complete = false,
        }
    });
    sounding
}

/// For each combination of the known devices: yes where it is for every position of the unknown ones.
fn for_all_unknown(fleet: &Fleet, condition: &Condition) -> Condition {
    if !condition.digits.iter().any(|digit| fleet.is_unknown(digit.0)) {
        return condition.clone();
    }
    let not = |condition: &Condition| {
        let all = Condition::always().and_not(condition);
        all.expect("the devices are those of a table that there is")
    };
    not(&not(condition).for_some(|device| fleet.is_unknown(device))).essential()
}
