//! A walk past many places along a tree of passages, in time that grows with the passages and no faster.
//!
//! Where passages make no loop there is one way between any two places, so a walk out and back goes along every passage
//! that lies between home and some place at least twice; going depth first, it does so exactly twice. That is the
//! shortest walk, however many places there are. Where passages make loops the same is done along a tree of the
//! shortest passages (Kruskal 1956): a walk that can be walked, not proven the shortest.

use petgraph::unionfind::UnionFind;

use crate::plan::schedule::tour_search::Micrometres;

/// Two locations, by number, and how far apart they are.
pub(in crate::plan) type Span = ([usize; 2], Micrometres);

/// A walk from home past all places and back.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::plan) struct TreeWalk {
    /// The places in the order in which they are passed, home first.
    pub(in crate::plan) order: Vec<usize>,
    pub(in crate::plan) length: Micrometres,
    /// Whether the passages make no loop, so that no walk is shorter.
    pub(in crate::plan) is_shortest: bool,
}

/// Walks from the first of `places` past all others and back. None where the passages do not lead to each.
///
/// Time O(p log p + n) for p passages and n locations, space O(p + n).
pub(in crate::plan) fn walk(location_count: usize, passages: &[Span], places: &[usize]) -> Option<TreeWalk> {
    let home = *places.first()?;
    let mut spans: Vec<Span> =
        passages.iter().filter(|([a, b], _)| a != b).map(|&([a, b], length)| ([a.min(b), a.max(b)], length)).collect();
    spans.sort_unstable();
    // Of passages between the same two places only the shortest is ever walked.
    spans.dedup_by_key(|span| span.0);
    spans.sort_by_key(|span| span.1);
    let mut joined: UnionFind<usize> = UnionFind::new(location_count);
    let mut beside: Vec<Vec<(usize, Micrometres)>> = vec![Vec::new(); location_count];
    let mut loops = Vec::new();
    for &([a, b], length) in &spans {
        if joined.union(a, b) {
            beside[a].push((b, length));
            beside[b].push((a, length));
        } else {
            loops.push(a);
        }
    }
    if places.iter().any(|&place| !joined.equiv(home, place)) {
        return None;
    }
    let is_shortest = !loops.into_iter().any(|place| joined.equiv(home, place));

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
    Some(TreeWalk { order, length, is_shortest })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A corridor with rooms at both sides: 0 to 1 to 2, with 3 off 1 and 4 off 2.
    const CORRIDOR: [Span; 4] = [([0, 1], 5), ([1, 2], 4), ([1, 3], 2), ([4, 2], 1)];

    #[test]
    fn passages_without_a_loop_are_walked_out_and_back_as_far_as_something_is_to_be_passed() {
        let all = walk(5, &CORRIDOR, &[0, 1, 2, 3, 4]).expect("all are reached");
        assert_eq!((all.length, all.is_shortest), (2 * (5 + 4 + 2 + 1), true));
        let far = walk(5, &CORRIDOR, &[0, 4]).expect("it is reached");
        assert_eq!((far.order, far.length), (vec![0, 4], 2 * (5 + 4 + 1)));
        let from_a_room = walk(5, &CORRIDOR, &[3, 1]).expect("it is reached");
        assert_eq!((from_a_room.order, from_a_room.length), (vec![3, 1], 2 * 2));
        assert_eq!(walk(6, &CORRIDOR, &[0, 5]), None, "nothing leads there");
    }

    #[test]
    fn a_second_passage_between_the_same_two_makes_no_loop_but_a_third_side_does() {
        let twice = [CORRIDOR.as_slice(), &[([1, 0], 3), ([2, 2], 7)]].concat();
        let walked = walk(5, &twice, &[0, 1]).expect("it is reached");
        assert_eq!((walked.length, walked.is_shortest), (2 * 3, true));
        let round = [CORRIDOR.as_slice(), &[([0, 2], 4)]].concat();
        let walked = walk(5, &round, &[0, 1, 2]).expect("all are reached");
        // Round it would be 5 + 4 + 4.
        assert_eq!((walked.length, walked.is_shortest), (2 * (4 + 4), false));
    }
}
