//! What feeds what in service: what can feed copper that is touched, and what each board feeds.
//!
//! Both follow the contacts of points, whichever position closes them. They differ in what they must not miss. What is
//! to be off before copper is touched is sought over all that could bring voltage there, bridges and neutrals included,
//! so it may name too much. What lies behind a board is sought along lines and contacts alone: a neutral behind a board
//! may lie on the bar of the board before it, and over a lamp nothing is fed. The protective conductor stops the first;
//! the second goes on over it where a contact joins a line to it, so that leakage there is counted.

use std::collections::{BTreeSet, VecDeque};

use petgraph::unionfind::UnionFind;
use rustc_hash::{FxHashMap, FxHashSet};

use super::graph::{Body, Network};
use super::lists::Lists;
use crate::model::{BoardId, CircuitId, Conductor, Length, LengthId, PointId, TerminalRef, WayId};

/// What has to be off before copper is touched. Each list is in the order of the file.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Isolation {
    /// Boards that can feed it.
    pub(crate) boards: BTreeSet<BoardId>,
    /// Boards whose incoming side is joined to it, and gets its supply from outside the file: their own main switch
    /// cuts nothing off.
    pub(crate) before_main: BTreeSet<BoardId>,
    /// Sources that nothing in the file feeds.
    pub(crate) sources: BTreeSet<PointId>,
    /// Ways that can feed it without passing through a bar.
    pub(crate) ways: BTreeSet<WayId>,
}

impl Isolation {
    /// How much has to be off.
    pub(crate) fn len(&self) -> usize {
        self.boards.len() + self.before_main.len() + self.sources.len() + self.ways.len()
    }
}

/// Which copper is joined in service, in any position of any switch, over whatever lies between.
///
/// Current is taken to pass: contacts of points, whichever position closes them; all that one holder of bridges has
/// terminals for, for a transformer feeds its secondary; and a board from any of its terminals to any other, as with
/// all its devices on, but not from its busbar to its incoming side where a main switch is between. Bars and terminals
/// of the protective conductor stop it, unless a live terminal of a board is joined to them too. So more is named than
/// may ever be live at once.
///
/// Design not taken: to walk from the copper of each circuit. Passing is the same both ways, so pieces of copper fall
/// into classes, and one walk does for all circuits.
pub(crate) struct Feeding<'n> {
    network: &'n Network,
    /// For each body the name of its class.
    classes: Vec<Body>,
    /// The same with bars passed through by nothing, so that a common neutral tells nothing of a way.
    near: Vec<Body>,
    /// For each board the class of its bars and ways.
    inside: Vec<Body>,
    boards: FxHashMap<Body, Vec<BoardId>>,
    /// Boards with a main switch, by the classes of their incoming side.
    incoming: FxHashMap<Body, Vec<BoardId>>,
    /// Boards with a main switch that get their supply from outside the file.
    from_outside: FxHashSet<BoardId>,
    untraced: FxHashMap<Body, Vec<PointId>>,
    ways: FxHashMap<Body, Vec<WayId>>,
    /// What is next to a bar.
    beside: FxHashMap<Body, Vec<Body>>,
}

impl<'n> Feeding<'n> {
    /// Time and space linear in the network, up to the inverse Ackermann factor of the union-find.
    pub(crate) fn of(network: &'n Network) -> Feeding<'n> {
        let installation = network.installation();
        let count = network.body_count();
        let terminals = BoardTerminals::of(network);
        let mut classes: UnionFind<Body> = UnionFind::new(count);
        let mut near: UnionFind<Body> = UnionFind::new(count);
        let is_live = |bodies: [Body; 2]| bodies.iter().all(|body| !terminals.earth.contains(body));
        let by_contact = joined_by_contacts(network, is_live);
        let mut beside: Vec<[Body; 2]> = Vec::new();
        let mut pass = |a: Body, b: Body| {
            if !is_live([a, b]) {
                return;
            }
            classes.union(a, b);
            match [a, b].map(|body| terminals.bars.contains(&body)) {
                [false, false] => {
                    near.union(a, b);
                }
                [true, false] => beside.push([a, b]),
                [false, true] => beside.push([b, a]),
                [true, true] => {}
            }
        };
        for [a, b] in network.point_contacts() {
            pass(a, b);
        }
        for bridge in network.bridges() {
            let bodies: Vec<Body> = bridge
                .elements
                .iter()
                .flat_map(|element| element.bodies)
                .filter(|body| !terminals.earth.contains(body))
                .collect();
            // Each to each, so that a bar between two others hides neither: what is on no bar is one class, and each bar
            // is beside that.
            let (bars, others): (Vec<Body>, Vec<Body>) =
                bodies.into_iter().partition(|body| terminals.bars.contains(body));
            for all in [&bars, &others] {
                all.windows(2).for_each(|pair| pass(pair[0], pair[1]));
            }
            if let Some(&other) = others.first() {
                bars.into_iter().for_each(|bar| pass(bar, other));
            }
        }
        for inside in &terminals.inside {
            for pair in inside.windows(2) {
                classes.union(pair[0], pair[1]);
            }
        }

        let [classes, near] = [classes, near].map(UnionFind::into_labeling);
        let inside: Vec<Body> = terminals.inside.iter().map(|bodies| classes[bodies[0] as usize]).collect();
        let mut boards: FxHashMap<Body, Vec<BoardId>> = FxHashMap::default();
        for ((id, _), &class) in installation.boards().zip(&inside) {
            boards.entry(class).or_default().push(id);
        }
        let mut ways_on: FxHashMap<Body, Vec<WayId>> = FxHashMap::default();
        for &(way, body) in &terminals.ways {
            ways_on.entry(body).or_default().push(way);
        }
        let mut ways: FxHashMap<Body, Vec<WayId>> = FxHashMap::default();
        for (&body, on) in &ways_on {
            ways.entry(near[body as usize]).or_default().extend(on);
        }
        let mut next_to: FxHashMap<Body, Vec<Body>> = FxHashMap::default();
        for [bar, other] in beside {
            let other = near[other as usize];
            next_to.entry(bar).or_default().push(other);
            if let Some(on) = ways_on.get(&bar) {
                ways.entry(other).or_default().extend(on);
            }
        }

        let traced = Traced::of(network, &terminals, &by_contact);
        let mut incoming: FxHashMap<Body, Vec<BoardId>> = FxHashMap::default();
        for &(board, body) in &terminals.incoming {
            if installation.board(board).has_main_switch() {
                incoming.entry(classes[body as usize]).or_default().push(board);
            }
        }
        let from_outside = installation
            .boards()
            .filter(|(id, board)| {
                let mut lines = terminals.incoming_lines.iter().filter(|(of, _)| of == id);
                board.is_origin() || !lines.any(|(_, body)| traced.fed.contains(&by_contact[*body as usize]))
            })
            .map(|(id, _)| id)
            .collect();
        let mut untraced: FxHashMap<Body, Vec<PointId>> = FxHashMap::default();
        for &(point, body) in &traced.not_fed {
            untraced.entry(classes[body as usize]).or_default().push(point);
        }
        Feeding { network, classes, near, inside, boards, incoming, from_outside, untraced, ways, beside: next_to }
    }

    /// What can feed any of these bodies, or anything inside these boards other than the board itself.
    pub(crate) fn isolation(&self, bodies: &[Body], opened: &[BoardId]) -> Isolation {
        let installation = self.network.installation();
        let mut isolation = Isolation::default();
        let mut seen: FxHashSet<Body> = FxHashSet::default();
        let mut waiting: Vec<Body> = bodies.iter().map(|&body| self.classes[body as usize]).collect();
        waiting.extend(opened.iter().filter_map(|&board| self.fed_otherwise(board)));
        while let Some(class) = waiting.pop() {
            if !seen.insert(class) {
                continue;
            }
            isolation.boards.extend(self.boards.get(&class).into_iter().flatten());
            isolation.sources.extend(self.untraced.get(&class).into_iter().flatten());
            for &board in self.incoming.get(&class).into_iter().flatten() {
                if self.from_outside.contains(&board) {
                    isolation.before_main.insert(board);
                }
                // What feeds the board from behind comes out at its incoming side.
                waiting.extend(self.fed_otherwise(board));
            }
        }
        for &body in bodies {
            isolation.ways.extend(self.ways.get(&self.near[body as usize]).into_iter().flatten());
        }
        // A board without a main switch is off only where its supply is.
        let mut without_switch: Vec<BoardId> = Vec::new();
        loop {
            isolation.boards.extend(isolation.ways.iter().map(|way| way.board()));
            let more: Vec<BoardId> = isolation
                .boards
                .iter()
                .copied()
                .filter(|&board| !installation.board(board).has_main_switch() && !without_switch.contains(&board))
                .collect();
            if more.is_empty() {
                return isolation;
            }
            for &board in &more {
                for &line in installation.phases().lines() {
                    let bar = self.network.body(TerminalRef::Incoming { board, conductor: Conductor::Line(line) });
                    let labels = std::iter::once(self.near[bar as usize])
                        .chain(self.beside.get(&bar).into_iter().flatten().copied());
                    let ways = labels.filter_map(|label| self.ways.get(&label)).flatten();
                    isolation.ways.extend(ways);
                }
            }
            without_switch.extend(more);
        }
    }

    /// The class of a board's bars and ways, where something else than its own incoming side can feed it.
    fn fed_otherwise(&self, board: BoardId) -> Option<Body> {
        let class = self.inside[board.index()];
        let from_incoming = self.incoming.get(&class).into_iter().flatten();
        let is_fed = self.boards[&class].len() > 1
            || self.untraced.contains_key(&class)
            || from_incoming.into_iter().any(|other| self.from_outside.contains(other));
        is_fed.then_some(class)
    }
}

/// The terminals of boards, by the copper that they are on.
#[derive(Default)]
struct BoardTerminals {
    /// Copper of the protective conductor, and of nothing live at a board.
    earth: FxHashSet<Body>,
    bars: FxHashSet<Body>,
    /// For each board its bars and the load sides of its ways.
    inside: Vec<Vec<Body>>,
    /// Line terminals of ways, and neutral ones that their own device opens.
    ways: Vec<(WayId, Body)>,
    way_lines: Vec<(WayId, Body)>,
    incoming: Vec<(BoardId, Body)>,
    incoming_lines: Vec<(BoardId, Body)>,
}

impl BoardTerminals {
    fn of(network: &Network) -> BoardTerminals {
        let mut found = BoardTerminals::default();
        found.inside.resize(network.installation().boards().len(), Vec::new());
        let mut live = FxHashSet::default();
        let mut neutrals = Vec::new();
        for terminal in network.terminals() {
            let body = network.body(terminal);
            let (board, conductor) = match terminal {
                TerminalRef::Incoming { board, conductor } | TerminalRef::Bus { board, conductor } => {
                    (board, conductor)
                }
                TerminalRef::Group { group, conductor } => (group.board, conductor),
                TerminalRef::Way { way, conductor } => (way.board, conductor),
                TerminalRef::EarthBar { .. } | TerminalRef::MainEarth => {
                    found.earth.insert(body);
                    continue;
                }
                TerminalRef::Point { .. } => continue,
            };
            if conductor == Conductor::Earth {
                found.earth.insert(body);
                continue;
            }
            live.insert(body);
            match terminal {
                TerminalRef::Incoming { .. } => {
                    found.incoming.push((board, body));
                    if conductor != Conductor::Neutral {
                        found.incoming_lines.push((board, body));
                    }
                    continue;
                }
                TerminalRef::Way { way, .. } if conductor == Conductor::Neutral => neutrals.push((way, body)),
                TerminalRef::Way { way, .. } => {
                    found.ways.push((way, body));
                    found.way_lines.push((way, body));
                }
                _ => {
                    found.bars.insert(body);
                }
            }
            found.inside[board.index()].push(body);
        }
        found.earth.retain(|body| !live.contains(body));
        found.ways.extend(neutrals.into_iter().filter(|(_, body)| !found.bars.contains(body)));
        found
    }
}

/// For each body the name of its class: what contacts of points join, in any position, of those that pass.
fn joined_by_contacts(network: &Network, passes: impl Fn([Body; 2]) -> bool) -> Vec<Body> {
    let mut classes: UnionFind<Body> = UnionFind::new(network.body_count());
    for [a, b] in network.point_contacts().filter(|&bodies| passes(bodies)) {
        classes.union(a, b);
    }
    classes.into_labeling()
}

/// What the file feeds, over copper and contacts alone.
struct Traced {
    /// Classes of copper that a way or the supply feeds.
    fed: FxHashSet<Body>,
    /// Sources that nothing feeds, each with a body that it is a source on.
    not_fed: Vec<(PointId, Body)>,
}

impl Traced {
    fn of(network: &Network, terminals: &BoardTerminals, by_contact: &[Body]) -> Traced {
        let installation = network.installation();
        let class = |body: Body| by_contact[body as usize];
        let origin = terminals.incoming_lines.iter().filter(|(board, _)| installation.board(*board).is_origin());
        let supply = origin.map(|&(_, body)| body);
        let mut fed: FxHashSet<Body> = terminals.way_lines.iter().map(|row| row.1).chain(supply).map(class).collect();
        let mut not_fed: Vec<PointId> = Vec::new();
        not_fed.extend(
            installation.points().filter(|(_, p)| !installation.kind(p.kind()).sources.is_empty()).map(|(id, _)| id),
        );
        let body = |point, terminal| network.body(TerminalRef::Point { point, terminal });
        // A source may hang on another.
        loop {
            let before = not_fed.len();
            not_fed.retain(|&point| {
                let kind = installation.kind(installation.point(point).kind());
                let mut others = kind.bridges.iter().flat_map(|bridge| bridge.between);
                let is_fed = others
                    .any(|terminal| !kind.sources.contains(&terminal) && fed.contains(&class(body(point, terminal))));
                if is_fed {
                    fed.extend(kind.sources.iter().map(|&terminal| class(body(point, terminal))));
                }
                !is_fed
            });
            if not_fed.len() == before {
                break;
            }
        }
        let sources_of = |&point: &PointId| {
            let kind = installation.kind(installation.point(point).kind());
            kind.sources.iter().map(move |&terminal| (point, body(point, terminal)))
        };
        Traced { not_fed: not_fed.iter().flat_map(sources_of).collect(), fed }
    }
}

/// The circuits with a length that is joined, over contacts of points, to an incoming line terminal of a board: what the
/// trade calls mains and submains. Time and space linear in the installation.
pub(super) fn feeders(network: &Network) -> FxHashSet<CircuitId> {
    let by_contact = joined_by_contacts(network, |_| true);
    let class = |body: Body| by_contact[body as usize];
    let lines = BoardTerminals::of(network).incoming_lines;
    let incoming: FxHashSet<Body> = lines.into_iter().map(|(_, body)| class(body)).collect();
    let feeds = |(id, length): &(LengthId, &Length)| {
        (0..length.cores().len() as u16).any(|core| incoming.contains(&class(network.core_body(*id, core))))
    };
    network.installation().lengths().filter(feeds).map(|(_, length)| length.circuit()).collect()
}

/// What each board feeds: from the line terminals of its ways, over contacts of points, to cores and to the incoming
/// terminals of other boards.
pub(crate) struct FedByBoards {
    /// For each board, the boards that its ways feed at once.
    boards: Vec<Vec<BoardId>>,
    /// For each board, the circuits of its ways and those whose lengths these ways feed.
    circuits: Vec<Vec<CircuitId>>,
}

impl FedByBoards {
    /// Time and space linear in the installation, once for each board that feeds the same copper.
    pub(crate) fn of(network: &Network) -> FedByBoards {
        let installation = network.installation();
        let terminals = BoardTerminals::of(network);
        // Over earth too: the leakage of what a contact joins a line to there counts.
        let by_contact = joined_by_contacts(network, |_| true);
        let class = |body: Body| by_contact[body as usize];
        let mut owners: Vec<(u32, u32)> = Vec::new();
        for (id, length) in installation.lengths() {
            let cores = 0..length.cores().len() as u16;
            owners.extend(cores.map(|core| (class(network.core_body(id, core)), length.circuit().index() as u32)));
        }
        let owners = Lists::new(network.body_count(), owners.iter().copied());
        let incoming = terminals.incoming.iter().map(|&(board, body)| (class(body), board.index() as u32));
        let incoming = Lists::new(network.body_count(), incoming);
        let board_ids: Vec<BoardId> = installation.boards().map(|(id, _)| id).collect();
        let circuit_ids: Vec<CircuitId> = installation.circuits().map(|(id, _)| id).collect();
        let mut boards: Vec<Vec<BoardId>> = vec![Vec::new(); board_ids.len()];
        let mut circuits: Vec<Vec<CircuitId>> = vec![Vec::new(); board_ids.len()];
        for (id, circuit) in installation.circuits() {
            if let Some(way) = circuit.way() {
                circuits[way.board().index()].push(id);
            }
        }
        let mut seen: FxHashSet<(BoardId, Body)> = FxHashSet::default();
        for &(way, body) in &terminals.way_lines {
            let (board, class) = (way.board(), class(body));
            if seen.insert((board, class)) {
                boards[board.index()].extend(incoming.at(class).iter().map(|&board| board_ids[board as usize]));
                circuits[board.index()].extend(owners.at(class).iter().map(|&circuit| circuit_ids[circuit as usize]));
            }
        }
        for list in &mut boards {
            list.sort_unstable();
            list.dedup();
        }
        for list in &mut circuits {
            list.sort_unstable();
            list.dedup();
        }
        FedByBoards { boards, circuits }
    }

    /// The other boards that a board feeds at once.
    pub(crate) fn fed_at_once(&self, board: BoardId) -> impl Iterator<Item = BoardId> {
        self.boards[board.index()].iter().copied().filter(move |&fed| fed != board)
    }

    /// The circuits of a board's own ways, and those whose lengths these feed.
    pub(crate) fn own_circuits(&self, board: BoardId) -> &[CircuitId] {
        &self.circuits[board.index()]
    }

    /// For each board whether something holds for a circuit of its own, or of a board behind it. Time and space linear
    /// in what boards feed.
    pub(crate) fn any_behind(&self, holds: impl Fn(CircuitId) -> bool) -> Vec<bool> {
        self.in_front(self.circuits.iter().map(|own| own.iter().any(|&circuit| holds(circuit))).collect())
    }

    /// For each board whether it is one of some, or one of them is behind it. Time and space linear in what boards feed.
    pub(crate) fn in_front(&self, of: Vec<bool>) -> Vec<bool> {
        let fed = (0u32..).zip(&self.boards).flat_map(|(by, fed)| fed.iter().map(move |fed| (fed.index() as u32, by)));
        let fed_by = Lists::new(self.boards.len(), fed);
        let mut any = of;
        let mut waiting: Vec<u32> = (0u32..).zip(&any).filter(|row| *row.1).map(|row| row.0).collect();
        while let Some(board) = waiting.pop() {
            for &by in fed_by.at(board) {
                if !std::mem::replace(&mut any[by as usize], true) {
                    waiting.push(by);
                }
            }
        }
        any
    }

    /// A board and all boards behind it, and the circuits of all these, each once, in the order of the file.
    pub(crate) fn behind(&self, board: BoardId) -> (Vec<BoardId>, Vec<CircuitId>) {
        let mut seen = vec![false; self.boards.len()];
        seen[board.index()] = true;
        let mut waiting = VecDeque::from([board]);
        let (mut boards, mut circuits) = (Vec::new(), Vec::new());
        while let Some(board) = waiting.pop_front() {
            boards.push(board);
            circuits.extend_from_slice(&self.circuits[board.index()]);
            for &fed in &self.boards[board.index()] {
                if !std::mem::replace(&mut seen[fed.index()], true) {
                    waiting.push_back(fed);
                }
            }
        }
        circuits.sort_unstable();
        circuits.dedup();
        (boards, circuits)
    }
}
