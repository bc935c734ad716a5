//! How often the sources of circuits without a way must be visited.

use crate::model::Stop;
use crate::plan::problem::requirement::WhenTested;
use crate::plan::problem::stops::ReadAt;
use crate::reading::{Condition, TableLimits};

/// Requirements of one stop that are compared with one another.
const MOST_COMPARED: usize = 200;

/// For each stop that every plan must read at, in how many rounds at least: as many as there are requirements that no
/// other readings meet and of which no two hold in one setting. Greedy, so there may be more.
///
/// `read_at` tells of each group where the readings are that may test it.
pub(in crate::plan) fn least_visits(
    groups: &[(u32, WhenTested)],
    read_at: impl Fn(u32) -> ReadAt,
    limits: &TableLimits,
) -> Vec<(Stop, u32)> {
    let mut apart: Vec<(Stop, Vec<&Condition>, usize)> = Vec::new();
    for (number, when_tested) in groups {
        let ReadAt::Only(stop) = read_at(*number) else { continue };
        let conditions: Vec<&Condition> = match when_tested {
            WhenTested::Always => Vec::new(),
            WhenTested::Sometimes(tables) => tables.iter().map(|table| &table.holds).collect(),
            WhenTested::Never { .. } | WhenTested::TooLarge(_) | WhenTested::Open => continue,
        };
        let place = apart.iter().position(|row| row.0 == stop).unwrap_or_else(|| {
            apart.push((stop, Vec::new(), 0));
            apart.len() - 1
        });
        let (_, exclusive, compared) = &mut apart[place];
        for condition in conditions {
            *compared += 1;
            let is_apart = |known: &&Condition| known.and(condition, limits).is_some_and(|both| both.is_never());
            if *compared <= MOST_COMPARED && exclusive.iter().all(is_apart) {
                exclusive.push(condition);
            }
        }
    }
    apart.into_iter().map(|(stop, exclusive, _)| (stop, exclusive.len().max(1) as u32)).collect()
}
