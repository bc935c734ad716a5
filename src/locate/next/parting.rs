//! Where copper can be parted by hand, for suspects that share both bodies, so that every reading takes them as one.

use rustc_hash::FxHashMap;
use serde::{Deserialize, Serialize};

use super::super::gaps::{GapId, GapTable, metres};
use crate::model::{BoardId, Installation, LengthId, PointId, TerminalRef};
use crate::network::{Body, Network};

/// Where to part copper by hand, and the lengths that then can be read by themselves.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Parting {
    /// The gap that they are in.
    pub gap: GapId,
    /// One or two points, or boards with the bars that the cores meet on (two where the copper is a ring).
    pub at: Vec<String>,
    /// A terminal of the copper to part, at each place.
    pub terminals: Vec<String>,
    /// The lengths of the gap that then hang together, in the order of the file.
    pub parts: Vec<Vec<String>>,
}

/// Where copper can be parted by hand.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
enum PartAt {
    /// The cores that meet at a point.
    Point(PointId),
    /// The cores that meet on the bars of a board.
    Board(BoardId),
}

/// A place where cores of one body are joined.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
enum Joint {
    /// A point's terminal, the lowest of those linked with it.
    Point(PointId, u16),
    /// The bars of a board.
    Board(BoardId),
    /// The main earthing terminal.
    MainEarth,
}

/// The parting that leaves the fewest metres together at worst; none where no one or two places part the lengths.
///
/// Exact over one place; over two where there are not too many. Time O(p² l) for p places and l lengths.
pub(super) fn parting(network: &Network, gaps: &GapTable, gap: GapId) -> Option<Parting> {
    let members: Vec<LengthId> = gaps.lengths(gap).collect();
    // Protective copper only where nothing else does.
    let earth = network.body(TerminalRef::MainEarth);
    let mut bodies = gaps.bodies[gap.index()];
    bodies.sort_by_key(|&body| body == earth);
    let coppers = bodies.map(|body| PartedCopper::of(network, body, &members));
    let best_of = |count: usize| {
        let mut best: Option<(f64, Parting)> = None;
        for copper in &coppers {
            for at in copper.choices(count, network.limits().locate.partings_in_pairs) {
                let parts = copper.parts(&at);
                if parts.len() < 2 {
                    continue;
                }
                let worst = parts.iter().map(|part| metres(network, part.iter().copied())).fold(0.0, f64::max);
                if best.as_ref().is_none_or(|best| worst < best.0 - 1e-9) {
                    best = Some((worst, copper.parting(network.installation(), gap, &at, &parts)));
                }
            }
        }
        best
    };
    best_of(1).or_else(|| best_of(2)).map(|(_, parting)| parting)
}

/// The cores of one body, and where they are joined.
struct PartedCopper {
    /// Each core by its length and the joints at its ends.
    cores: Vec<(LengthId, [Option<Joint>; 2])>,
    /// For each place that joins at least two ends: a terminal there.
    places: Vec<(PartAt, TerminalRef)>,
    members: Vec<LengthId>,
}

impl PartedCopper {
    fn of(network: &Network, body: Body, members: &[LengthId]) -> PartedCopper {
        let installation = network.installation();
        let mut cores = Vec::new();
        let mut ends_at: FxHashMap<PartAt, (usize, TerminalRef)> = FxHashMap::default();
        let mut places = Vec::new();
        for (id, length) in installation.lengths() {
            for (number, core) in length.cores().iter().enumerate() {
                if network.core_body(id, number as u16) != body {
                    continue;
                }
                let joints = core.ends().map(|end| end.map(|terminal| joint(network, terminal)));
                for terminal in core.ends().into_iter().flatten() {
                    if let Some(place) = joint(network, terminal).place() {
                        let entry = ends_at.entry(place).or_insert((0, terminal));
                        entry.0 += 1;
                        if entry.0 == 2 {
                            places.push((place, entry.1));
                        }
                    }
                }
                cores.push((id, joints));
            }
        }
        PartedCopper { cores, places, members: members.to_vec() }
    }

    /// The places to part at, so many at once; of the first so many, where it is two.
    fn choices(&self, count: usize, most: usize) -> Vec<Vec<PartAt>> {
        let places: Vec<PartAt> = self.places.iter().map(|entry| entry.0).collect();
        if count == 1 {
            return places.into_iter().map(|place| vec![place]).collect();
        }
        let few = &places[..places.len().min(most)];
        let pairs = few.iter().enumerate();
        pairs.flat_map(|(number, &one)| few[number + 1..].iter().map(move |&other| vec![one, other])).collect()
    }

    fn parting(&self, installation: &Installation, gap: GapId, at: &[PartAt], parts: &[Vec<LengthId>]) -> Parting {
        let name = |place: &PartAt| match *place {
            PartAt::Point(point) => installation.point(point).id().to_owned(),
            PartAt::Board(board) => installation.board(board).id().to_owned(),
        };
        let terminal = |place: &PartAt| {
            let entry = self.places.iter().find(|entry| entry.0 == *place).expect("only its places are chosen");
            installation.terminal_name(entry.1)
        };
        let length = |&length: &LengthId| installation.length(length).id().to_owned();
        Parting {
            gap,
            at: at.iter().map(name).collect(),
            terminals: at.iter().map(terminal).collect(),
            parts: parts.iter().map(|part| part.iter().map(length).collect()).collect(),
        }
    }

    /// The members that hang together with the copper parted at these places.
    fn parts(&self, at: &[PartAt]) -> Vec<Vec<LengthId>> {
        let mut number_of: FxHashMap<Joint, u32> = FxHashMap::default();
        let mut first_core: FxHashMap<LengthId, u32> = FxHashMap::default();
        let mut joined = petgraph::unionfind::UnionFind::<u32>::new(self.cores.len() * 3);
        for (number, (length, joints)) in (0u32..).zip(&self.cores) {
            let first = *first_core.entry(*length).or_insert(number);
            joined.union(first, number);
            for joint in joints.iter().flatten() {
                if joint.place().is_some_and(|place| at.contains(&place)) {
                    continue;
                }
                let next = self.cores.len() as u32 + number_of.len() as u32;
                let joint = *number_of.entry(*joint).or_insert(next);
                joined.union(number, joint);
            }
        }
        let mut part_of: FxHashMap<u32, usize> = FxHashMap::default();
        let mut parts: Vec<Vec<LengthId>> = Vec::new();
        for &length in &self.members {
            let Some(&core) = first_core.get(&length) else { continue };
            let next = parts.len();
            let part = *part_of.entry(joined.find(core)).or_insert(next);
            if part == next {
                parts.push(Vec::new());
            }
            if parts[part].last() != Some(&length) {
                parts[part].push(length);
            }
        }
        parts
    }
}

impl Joint {
    fn place(self) -> Option<PartAt> {
        match self {
            Joint::Point(point, _) => Some(PartAt::Point(point)),
            Joint::Board(board) => Some(PartAt::Board(board)),
            Joint::MainEarth => None,
        }
    }
}

fn joint(network: &Network, terminal: TerminalRef) -> Joint {
    match terminal {
        TerminalRef::Point { point, terminal } => {
            let links = &network.installation().point(point).links;
            // Links that overlap are followed until nothing lower is found.
            let mut lowest = terminal;
            while let Some(lower) =
                links.iter().filter(|link| link.contains(&lowest)).filter_map(|link| link.iter().min()).min()
            {
                if *lower >= lowest {
                    break;
                }
                lowest = *lower;
            }
            Joint::Point(point, lowest)
        }
        TerminalRef::Way { way, .. } => Joint::Board(way.board),
        TerminalRef::Group { group, .. } => Joint::Board(group.board),
        TerminalRef::Incoming { board, .. } | TerminalRef::Bus { board, .. } | TerminalRef::EarthBar { board } => {
            Joint::Board(board)
        }
        TerminalRef::MainEarth => Joint::MainEarth,
    }
}
