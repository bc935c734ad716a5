//! How many readings it takes to part nodes pairwise: colours as bits.
//!
//! A reading gives each node one of two leads, or none. Nodes joined by an edge are parted by some reading. With r
//! readings there are 2^r colours, so r readings do exactly where 2^r colours colour the graph: ⌈log2 χ⌉ is the least.
//! (A node on no lead may be put on either: no edge is lost.)

use fixedbitset::FixedBitSet;

/// A colouring whose colours are written in so many bits.
#[derive(Debug)]
pub(in crate::plan) struct Colouring {
    pub(in crate::plan) colours: Vec<usize>,
    pub(in crate::plan) bits: u32,
    /// No fewer bits do, proven.
    pub(in crate::plan) is_least: bool,
}

/// Colours a graph in the fewest bits.
///
/// Exact unless the search with one number of colours takes more than `most_steps`; then the greedy colouring is given.
/// Each number of bits from that of a clique found is tried, colouring next what sees the most colours; source: Brélaz
/// 1979 (DSATUR). Time exponential at worst, bounded by the budget.
pub(in crate::plan) fn fewest_bits(node_count: usize, edges: &[[usize; 2]], most_steps: usize) -> Colouring {
    let mut near = vec![FixedBitSet::with_capacity(node_count); node_count];
    for &[a, b] in edges {
        near[a].insert(b);
        near[b].insert(a);
    }
    let search = |most: usize, steps_left: usize| ColouringSearch {
        near: &near,
        colours: vec![None; node_count],
        most,
        steps_left,
    };
    // Each node gets a colour of its own at the worst: nothing is tried twice.
    let greedy = search(node_count.max(1), node_count + 1).run().expect("as many colours as nodes do");
    let most = bits_for(greedy.iter().max().map_or(0, |most| most + 1));
    let least = bits_for(clique(&near));
    for bits in least..most {
        let mut search = search(1 << bits, most_steps);
        if let Some(colours) = search.run() {
            return Colouring { colours, bits, is_least: true };
        }
        if search.steps_left == 0 {
            return Colouring { colours: greedy, bits: most, is_least: false };
        }
    }
    Colouring { colours: greedy, bits: most, is_least: true }
}

/// How many bits it takes to number so many colours.
fn bits_for(colours: usize) -> u32 {
    colours.max(1).next_power_of_two().trailing_zeros()
}

/// Nodes found that are all joined to one another: from each node, the nearest ones in turn that still fit.
fn clique(near: &[FixedBitSet]) -> usize {
    let grown = |start: usize| {
        let mut common = near[start].clone();
        let mut size = 1;
        while let Some(next) = common.ones().max_by_key(|&node| (near[node].intersection_count(&common), !node)) {
            common.intersect_with(&near[next]);
            size += 1;
        }
        size
    };
    (0..near.len()).map(grown).max().unwrap_or(0)
}

struct ColouringSearch<'s> {
    near: &'s [FixedBitSet],
    colours: Vec<Option<usize>>,
    most: usize,
    steps_left: usize,
}

impl ColouringSearch<'_> {
    fn run(&mut self) -> Option<Vec<usize>> {
        self.colour(0).then(|| self.colours.iter().map(|colour| colour.unwrap_or(0)).collect())
    }

    /// Colours the rest, `used` colours being in use; a new colour is as good as any other new one.
    fn colour(&mut self, used: usize) -> bool {
        if self.steps_left == 0 {
            return false;
        }
        self.steps_left -= 1;
        let seen = |node: usize| {
            let mut seen = FixedBitSet::with_capacity(used);
            seen.extend(self.near[node].ones().filter_map(|other| self.colours[other]));
            seen
        };
        let open = (0..self.near.len()).filter(|&node| self.colours[node].is_none());
        let next = open
            .map(|node| (seen(node), node))
            .max_by_key(|(seen, node)| (seen.count_ones(..), self.near[*node].count_ones(..), !node));
        let Some((seen, node)) = next else { return true };
        for colour in (0..(used + 1).min(self.most)).filter(|&colour| !seen.contains(colour)) {
            self.colours[node] = Some(colour);
            if self.colour(used.max(colour + 1)) {
                return true;
            }
            self.colours[node] = None;
            if self.steps_left == 0 {
                return false;
            }
        }
        false
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const STEPS: usize = 200_000;

    fn all_joined(count: usize) -> Vec<[usize; 2]> {
        (0..count).flat_map(|a| (a + 1..count).map(move |b| [a, b])).collect()
    }

    /// FACTS of the trade: n bodies parted pairwise need ⌈log2 n⌉ readings: 2 for L, N, E; 3 for L1, L2, L3, N, E.
    #[test]
    fn bodies_parted_pairwise() {
        for (count, bits) in [(1, 0), (2, 1), (3, 2), (4, 2), (5, 3), (8, 3), (9, 4)] {
            let colouring = fewest_bits(count, &all_joined(count), STEPS);
            assert_eq!((colouring.bits, colouring.is_least), (bits, true), "{count}");
        }
    }

    /// Textbook chromatic numbers: an odd ring has 3, an even one 2; the Grötzsch graph has no triangle, and 4.
    #[test]
    fn graphs_whose_chromatic_number_is_in_textbooks() {
        let ring = |count: usize| (0..count).map(|a| [a, (a + 1) % count]).collect::<Vec<_>>();
        assert_eq!(fewest_bits(5, &ring(5), STEPS).bits, 2);
        assert_eq!(fewest_bits(6, &ring(6), STEPS).bits, 1);
        let colouring = fewest_bits(11, &groetzsch(), STEPS);
        assert_eq!((colouring.bits, colouring.is_least), (2, true));
        assert!(is_colouring(&colouring));
        assert!(colouring.colours.iter().all(|&colour| colour < 4));
    }

    /// No two of its nodes that are joined have a common neighbour, so no clique proves that two colours don't do.
    fn groetzsch() -> Vec<[usize; 2]> {
        let mut edges: Vec<[usize; 2]> = (0..5).map(|a| [a, (a + 1) % 5]).collect();
        for node in 0..5 {
            edges.extend([[node + 5, (node + 1) % 5], [node + 5, (node + 4) % 5], [node + 5, 10]]);
        }
        edges
    }

    fn is_colouring(colouring: &Colouring) -> bool {
        groetzsch().iter().all(|&[a, b]| colouring.colours[a] != colouring.colours[b])
    }

    #[test]
    fn what_the_steps_do_not_reach_is_coloured_and_not_called_least() {
        let mut proven = 0;
        for steps in 0..40 {
            let colouring = fewest_bits(11, &groetzsch(), steps);
            assert!(is_colouring(&colouring) && colouring.bits == 2);
            proven += usize::from(colouring.is_least);
            // Two colours are ruled out only when each way of giving them has failed: more than one node each.
            assert!(steps > 4 || !colouring.is_least, "proven in {steps} steps");
        }
        assert!(proven > 0, "proven at last");
    }
}
