//! A walk past many places along a tree of passages, in time that grows with the passages and no faster.
//!
//! Depth first along a tree of the shortest passages (Kruskal 1956), every passage that leads to some place is walked
//! out and back. Heuristic where passages make loops; where they make none, no walk is shorter.

use petgraph::unionfind::UnionFind;

use crate::plan::schedule::tour::search::Micrometres;

/// Two locations, by number, and how far apart they are.
pub(in crate::plan) type WalkSpan = ([usize; 2], Micrometres);

/// A walk from home past all places and back.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::plan) struct TreeWalk {
    /// The places in the order in which they are passed, home first.
    pub(in crate::plan) order: Vec<usize>,
    pub(in crate::plan) length: Micrometres,
}

/// Walks from the first of `places` past all others and back. None where the passages do not lead to each.
///
/// Time O(p log p + n) for p passages and n locations, space O(p + n).
pub(in crate::plan) fn walk(location_count: usize, passages: &[WalkSpan], places: &[usize]) -> Option<TreeWalk> {
    let home = *places.first()?;
    let mut spans: Vec<WalkSpan> =
        passages.iter().filter(|([a, b], _)| a != b).map(|&([a, b], length)| ([a.min(b), a.max(b)], length)).collect();
    spans.sort_unstable();
    // Of passages between the same two places only the shortest is ever walked.
    spans.dedup_by_key(|span| span.0);
    spans.sort_by_key(|span| span.1);
    let mut joined: UnionFind<usize> = UnionFind::new(location_count);
    let mut beside: Vec<Vec<(usize, Micrometres)>> = vec![Vec::new(); location_count];
    for &([a, b], length) in &spans {
        if joined.union(a, b) {
            beside[a].push((b, length));
            beside[b].push((a, length));
        }
    }
    if places.iter().any(|&place| !joined.equiv(home, place)) {
        return None;
    }
    // Depth first, nearer passages first; without recursion, for a corridor can be long.
    let mut before: Vec<Option<(usize, Micrometres)>> = vec![None; location_count];
    let mut visited = Vec::new();
    let mut stack = vec![home];
    while let Some(here) = stack.pop() {
        visited.push(here);
        for &(next, length) in beside[here].iter().rev() {
            if before[here].is_none_or(|(came_from, _)| came_from != next) {
                before[next] = Some((here, length));
                stack.push(next);
            }
        }
    }
    let mut is_place = vec![false; location_count];
    for &place in places {
        is_place[place] = true;
    }
    let order = visited.iter().copied().filter(|&place| is_place[place]).collect();
    // From the ends of the tree inwards: a passage is walked, out and back, where something behind it is to be passed.
    let mut length = 0;
    let mut leads_somewhere = is_place;
    for &here in visited.iter().rev() {
        if let (true, Some((back, out))) = (leads_somewhere[here], before[here]) {
            leads_somewhere[back] = true;
            length += 2 * out;
        }
    }
    Some(TreeWalk { order, length })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A corridor with rooms at both sides: 0 to 1 to 2, with 3 off 1 and 4 off 2.
    const CORRIDOR: [WalkSpan; 4] = [([0, 1], 5), ([1, 2], 4), ([1, 3], 2), ([4, 2], 1)];

    #[test]
    fn passages_without_a_loop_are_walked_out_and_back_as_far_as_something_is_to_be_passed() {
        let all = walk(5, &CORRIDOR, &[0, 1, 2, 3, 4]).expect("all are reached");
        assert_eq!(all.length, 2 * (5 + 4 + 2 + 1));
        let far = walk(5, &CORRIDOR, &[0, 4]).expect("it is reached");
        assert_eq!((far.order, far.length), (vec![0, 4], 2 * (5 + 4 + 1)));
        let from_a_room = walk(5, &CORRIDOR, &[3, 1]).expect("it is reached");
        assert_eq!((from_a_room.order, from_a_room.length), (vec![3, 1], 2 * 2));
        assert_eq!(walk(6, &CORRIDOR, &[0, 5]), None, "nothing leads there");
    }

    #[test]
    fn of_passages_between_the_same_two_the_shorter_is_walked() {
        let twice = [CORRIDOR.as_slice(), &[([1, 0], 3), ([2, 2], 7)]].concat();
        let walked = walk(5, &twice, &[0, 1]).expect("it is reached");
        assert_eq!(walked.length, 2 * 3);
    }
}
