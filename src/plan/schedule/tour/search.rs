//! Tours over a table of distances: the shortest of few places, a good one of many.
//!
//! Distances are whole micrometres, so that every sum is exact.

use crate::observer::Watch;

/// Whole micrometres.
pub(in crate::plan) type Micrometres = i64;

/// A tour from the first place past all others and back.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::plan) struct FoundTour {
    /// The others in order.
    pub(in crate::plan) order: Vec<usize>,
    pub(in crate::plan) length: Micrometres,
}

/// The shortest tour from place 0 through all others and back, over a symmetric table of distances.
///
/// Exact (Held and Karp 1962). Time O(2^n n²) and space O(2^n n) for n others.
pub(in crate::plan) fn shortest_tour(between: &[Vec<Micrometres>]) -> FoundTour {
    let others = between.len() - 1;
    if others == 0 {
        return FoundTour { order: Vec::new(), length: 0 };
    }
    // best[set][last]: the shortest way from 0 through the set that ends at `last`, and the place before.
    let mut best = vec![vec![(Micrometres::MAX, 0usize); others]; 1 << others];
    for last in 0..others {
        best[1 << last][last] = (between[0][last + 1], last);
    }
    for set in 1..1usize << others {
        for last in (0..others).filter(|last| set >> last & 1 == 1) {
            let so_far = best[set][last].0;
            for next in (0..others).filter(|next| set >> next & 1 == 0) {
                let total = so_far + between[last + 1][next + 1];
                let cell = &mut best[set | 1 << next][next];
                if total < cell.0 {
                    *cell = (total, last);
                }
            }
        }
    }
    let all = (1 << others) - 1;
    let back = |last: &usize| best[all][*last].0 + between[*last + 1][0];
    let mut last = (0..others).min_by_key(back).expect("there is another place");
    let length = back(&last);
    let mut set = all;
    let mut order = Vec::with_capacity(others);
    while set != 0 {
        order.push(last + 1);
        let before = best[set][last].1;
        set &= !(1 << last);
        last = before;
    }
    order.reverse();
    FoundTour { order, length }
}

/// A tour made shorter by turning stretches round (2-opt) and by moving short ones elsewhere (Or 1976), while that
/// helps and as many changes are left to look at. Heuristic: nothing is known of how short a tour could be.
///
/// The tour is given as the others in order. Time O(n²) a sweep.
pub(in crate::plan) fn improved_tour(
    between: &[Vec<Micrometres>],
    order: &[usize],
    mut changes: usize,
    watch: &mut Watch<'_>,
) -> FoundTour {
    let mut circle = [&[0], order].concat();
    if circle.len() > 3 {
        improve(between, &mut circle, &mut changes, watch);
    }
    let board = circle.iter().position(|&place| place == 0).expect("the tour passes every place");
    circle.rotate_left(board);
    let length = (0..circle.len()).map(|at| between[circle[at]][circle[(at + 1) % circle.len()]]).sum();
    FoundTour { order: circle[1..].to_vec(), length }
}

fn improve(between: &[Vec<Micrometres>], circle: &mut Vec<usize>, changes: &mut usize, watch: &mut Watch<'_>) {
    let count = circle.len();
    let mut better = true;
    while better && *changes > 0 && watch.goes_on() {
        better = false;
        *changes = changes.saturating_sub(4 * count * count);
        for first in 0..count - 1 {
            for last in first + 1..count {
                let (before, a) = (circle[(first + count - 1) % count], circle[first]);
                let (b, after) = (circle[last], circle[(last + 1) % count]);
                if before != b && between[before][b] + between[a][after] < between[before][a] + between[b][after] {
                    circle[first..=last].reverse();
                    better = true;
                }
            }
        }
        for length in 1..=3 {
            for _ in 0..count {
                // The stretch at the front is the one on trial; each place comes to the front once.
                circle.rotate_left(1);
                let rest = &circle[length..];
                let (a, b) = (circle[0], circle[length - 1]);
                let (before, after) = (rest[rest.len() - 1], rest[0]);
                let saved = between[before][a] + between[b][after] - between[before][after];
                let cost = |at: usize, x: usize, y: usize| {
                    between[rest[at]][x] + between[y][rest[at + 1]] - between[rest[at]][rest[at + 1]]
                };
                let place = (0..rest.len() - 1)
                    .flat_map(|at| [(cost(at, a, b), at, false), (cost(at, b, a), at, true)])
                    .min()
                    .filter(|found| found.0 < saved);
                if let Some((_, at, turned)) = place {
                    let mut stretch: Vec<usize> = circle.drain(..length).collect();
                    if turned {
                        stretch.reverse();
                    }
                    circle.splice(at + 1..at + 1, stretch);
                    better = true;
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::observer::Unwatched;

    fn improved(between: &[Vec<Micrometres>]) -> FoundTour {
        let in_turn: Vec<usize> = (1..between.len()).collect();
        improved_tour(between, &in_turn, 1_000_000, &mut Watch::new(&mut Unwatched))
    }

    fn walked(between: &[Vec<Micrometres>], order: &[usize]) -> Micrometres {
        let mut sorted = order.to_vec();
        sorted.sort_unstable();
        assert!(sorted.into_iter().eq(1..between.len()), "each place once: {order:?}");
        let mut here = 0;
        order.iter().chain([&0]).map(|&next| between[std::mem::replace(&mut here, next)][next]).sum()
    }

    fn drawn(count: usize, seed: &mut u32) -> Vec<Vec<Micrometres>> {
        let mut between = vec![vec![0; count]; count];
        for (a, b) in (0..count).flat_map(|a| (0..a).map(move |b| (a, b))) {
            *seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            between[a][b] = Micrometres::from(*seed >> 24) + 1;
            between[b][a] = between[a][b];
        }
        between
    }

    /// Places on a line, at these metres; the tour out and back is twice the farthest, whatever the order in between.
    #[test]
    fn a_tour_along_a_corridor_is_twice_its_length() {
        let at = [0i64, 7, 2, 9, 4, 1].map(|metres| metres * 1_000_000);
        let between: Vec<Vec<Micrometres>> = at.iter().map(|a| at.iter().map(|b| (a - b).abs()).collect()).collect();
        for found in [shortest_tour(&between), improved(&between)] {
            assert_eq!(found.length, 18_000_000);
            assert_eq!(walked(&between, &found.order), 18_000_000);
        }
    }

    /// The shortest tour against every order tried, and the improved one against the shortest.
    #[test]
    fn no_order_is_shorter() {
        let mut seed = 7;
        for count in [4, 5, 6, 7].repeat(12) {
            let between = drawn(count, &mut seed);
            let found = shortest_tour(&between);
            assert_eq!(walked(&between, &found.order), found.length);
            let mut orders = vec![Vec::new()];
            for _ in 1..count {
                orders = orders
                    .into_iter()
                    .flat_map(|order: Vec<usize>| {
                        (1..count)
                            .filter(|next| !order.contains(next))
                            .map(|next| [order.as_slice(), &[next]].concat())
                            .collect::<Vec<_>>()
                    })
                    .collect();
            }
            assert_eq!(orders.iter().map(|order| walked(&between, order)).min(), Some(found.length));
            let good = improved(&between);
            assert_eq!(walked(&between, &good.order), good.length);
            assert!(found.length <= good.length, "{good:?} {found:?}");
            let in_turn = walked(&between, &(1..count).collect::<Vec<_>>());
            assert!(good.length <= in_turn, "{good:?} {in_turn}");
        }
    }

    /// The problem gr17 of TSPLIB (Reinelt, TSPLIB: a traveling salesman problem library, ORSA Journal on Computing 3,
    /// 1991; the rows of its lower triangle), whose shortest tour is published there with 2085.
    #[test]
    fn the_published_shortest_tour_of_17_places_is_found() {
        const ROWS: [&[Micrometres]; 17] = [
            &[],
            &[633],
            &[257, 390],
            &[91, 661, 228],
            &[412, 227, 169, 383],
            &[150, 488, 112, 120, 267],
            &[80, 572, 196, 77, 351, 63],
            &[134, 530, 154, 105, 309, 34, 29],
            &[259, 555, 372, 175, 338, 264, 232, 249],
            &[505, 289, 262, 476, 196, 360, 444, 402, 495],
            &[353, 282, 110, 324, 61, 208, 292, 250, 352, 154],
            &[324, 638, 437, 240, 421, 329, 297, 314, 95, 578, 435],
            &[70, 567, 191, 27, 346, 83, 47, 68, 189, 439, 287, 254],
            &[211, 466, 74, 182, 243, 105, 150, 108, 326, 336, 184, 391, 145],
            &[268, 420, 53, 239, 199, 123, 207, 165, 383, 240, 140, 448, 202, 57],
            &[246, 745, 472, 237, 528, 364, 332, 349, 202, 685, 542, 157, 289, 426, 483],
            &[121, 518, 142, 84, 297, 35, 29, 36, 236, 390, 238, 301, 55, 96, 153, 336],
        ];
        let distance = |a: usize, b: usize| if a == b { 0 } else { ROWS[a.max(b)][a.min(b)] };
        let between: Vec<Vec<Micrometres>> = (0..17).map(|a| (0..17).map(|b| distance(a, b)).collect()).collect();
        let exact = shortest_tour(&between);
        assert_eq!(exact.length, 2085);
        assert_eq!(walked(&between, &exact.order), 2085);
        // What the improvement comes to is not known beforehand; it is not far.
        let good = improved(&between);
        assert_eq!(walked(&between, &good.order), good.length);
        assert!((2085..=2400).contains(&good.length), "{}", good.length);
    }
}
