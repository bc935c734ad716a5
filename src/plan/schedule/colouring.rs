//! How many readings it takes to part nodes pairwise: colours as bits.
//!
//! A reading gives each node one of two leads, or none. Nodes joined by an edge are parted by some reading. With r readings
//! there are 2^r colours, so r readings do exactly where 2^r colours colour the graph: ⌈log2 χ⌉ is the least. (A node on
//! no lead may be put on either: no edge is lost.)

use fixedbitset::FixedBitSet;

/// Nodes of the search for a colouring with one number of colours.
const BUDGET: usize = 200_000;

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
/// Exact unless the budget is spent. Each number of bits from that of a clique found is tried, colouring next what sees
/// the most colours; source: Brélaz 1979 (DSATUR). Time exponential at worst, bounded by the budget.
pub(in crate::plan) fn fewest_bits(node_count: usize, edges: &[[usize; 2]]) -> Colouring {
    let mut near = vec![FixedBitSet::with_capacity(node_count); node_count];
    for &[a, b] in edges {
        near[a].insert(b);
        near[b].insert(a);
    }
    let greedy = Search { near: &near, colours: vec![None; node_count], most: node_count.max(1), nodes: 0 }
        .run()
        .expect("as many colours as nodes do");
    let most = bits_for(greedy.iter().max().map_or(0, |most| most + 1));
    let least = bits_for(clique(&near));
    for bits in least..most {
        let mut search = Search { near: &near, colours: vec![None; node_count], most: 1 << bits, nodes: 0 };
        if let Some(colours) = search.run() {
            return Colouring { colours, bits, is_least: true };
        }
        if search.nodes > BUDGET {
            return Colouring { colours: greedy, bits: most, is_least: false };
        }
    }
    Colouring { colours: greedy, bits: most, is_least: true }
}

/// How many bits tell so many colours apart.
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

struct Search<'s> {
    near: &'s [FixedBitSet],
    colours: Vec<Option<usize>>,
    most: usize,
    nodes: usize,
}

impl Search<'_> {
    fn run(&mut self) -> Option<Vec<usize>> {
        self.colour(0).then(|| self.colours.iter().map(|colour| colour.unwrap_or(0)).collect())
    }

    /// Colours the rest, `used` colours being in use; a new colour is as good as any other new one.
    fn colour(&mut self, used: usize) -> bool {
        self.nodes += 1;
        if self.nodes > BUDGET {
            return false;
        }
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
            if self.nodes > BUDGET {
                return false;
            }
        }
        false
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all_joined(count: usize) -> Vec<[usize; 2]> {
        (0..count).flat_map(|a| (a + 1..count).map(move |b| [a, b])).collect()
    }

    /// FACTS of the trade: n bodies parted pairwise need ⌈log2 n⌉ readings: 2 for L, N, E; 3 for L1, L2, L3, N, E.
    #[test]
    fn bodies_parted_pairwise() {
        for (count, bits) in [(1, 0), (2, 1), (3, 2), (4, 2), (5, 3), (8, 3), (9, 4)] {
            let colouring = fewest_bits(count, &all_joined(count));
            assert_eq!((colouring.bits, colouring.is_least), (bits, true), "{count}");
        }
    }

    /// Textbook chromatic numbers: an odd ring has 3, an even one 2; the Grötzsch graph has no triangle, and 4.
    #[test]
    fn graphs_whose_chromatic_number_is_in_textbooks() {
        let ring = |count: usize| (0..count).map(|a| [a, (a + 1) % count]).collect::<Vec<_>>();
        assert_eq!(fewest_bits(5, &ring(5)).bits, 2);
        assert_eq!(fewest_bits(6, &ring(6)).bits, 1);
        let mut groetzsch = ring(5);
        for node in 0..5 {
            groetzsch.extend([[node + 5, (node + 1) % 5], [node + 5, (node + 4) % 5], [node + 5, 10]]);
        }
        let colouring = fewest_bits(11, &groetzsch);
        assert_eq!((colouring.bits, colouring.is_least), (2, true));
        assert!(groetzsch.iter().all(|&[a, b]| colouring.colours[a] != colouring.colours[b]));
        assert!(colouring.colours.iter().all(|&colour| colour < 4));
    }
}
