//! The sources of circuits that no way feeds.

use petgraph::unionfind::UnionFind;
use rustc_hash::FxHashMap;

use crate::model::{BoardId, CircuitId, CircuitSource, Conductor, GroupId, Installation, TerminalRef, WayDevice};

impl CircuitSource {
    /// What a reading calls a terminal, where the circuit has this source alone: `V1`, `V2` or `E`.
    pub fn short_name(&self, installation: &Installation, terminal: TerminalRef) -> String {
        let name = installation.terminal_name(terminal);
        let short = name.rsplit('.').next().filter(|_| terminal != self.earth);
        short.unwrap_or("E").to_owned()
    }

    /// What a reading calls a terminal, where the circuit has so many sources.
    pub(crate) fn name(&self, installation: &Installation, terminal: TerminalRef, sources: usize) -> String {
        if sources == 1 { self.short_name(installation, terminal) } else { installation.terminal_name(terminal) }
    }

    /// The terminal that a reading calls so, where the circuit has this source alone.
    pub fn terminal(&self, installation: &Installation, short: &str) -> Option<TerminalRef> {
        if short == "E" {
            return Some(self.earth);
        }
        let terminals = self.terminals(installation);
        terminals.into_iter().find(|&terminal| self.short_name(installation, terminal) == short)
    }

    /// Its terminals `V1` and `V2`, whatever they are joined to.
    pub(crate) fn terminals(&self, installation: &Installation) -> Vec<TerminalRef> {
        let kind = installation.kind(installation.point(self.point).kind);
        kind.sources.iter().map(|&terminal| TerminalRef::Point { point: self.point, terminal }).collect()
    }
}

/// What is joined to what.
#[derive(Clone, Copy, PartialEq, Eq)]
enum WhenJoined {
    /// By cores, links and what boards join for good.
    ForGood,
    /// In service: by every contact that any position closes too, all devices of boards on.
    InService,
}

impl Installation {
    /// The sources of a circuit without a way, in the order of the file: points with a source of their own, one of whose
    /// terminals is joined in service, over copper, to a core of the circuit's lengths. None where a way feeds it.
    ///
    /// Time and space linear in the installation, and in sources times circuits that they feed, the first time that it is
    /// asked of any circuit; constant after that.
    pub fn sources_of(&self, circuit: CircuitId) -> &[CircuitSource] {
        &self.sources.get_or_init(|| self.find_sources())[circuit.index()]
    }

    fn find_sources(&self) -> Vec<Vec<CircuitSource>> {
        let mut found = vec![Vec::new(); self.circuits.len()];
        if self.circuits.iter().all(|circuit| circuit.way.is_some()) {
            return found;
        }
        let mut for_good = Copper::of(self, WhenJoined::ForGood);
        let mut in_service = Copper::of(self, WhenJoined::InService);
        let mut on_piece: FxHashMap<usize, Vec<CircuitId>> = FxHashMap::default();
        for length in self.lengths.iter().filter(|length| self.circuits[length.circuit.index()].way.is_none()) {
            for end in length.cores.iter().flat_map(|core| core.ends).flatten() {
                on_piece.entry(in_service.piece(self, end)).or_default().push(length.circuit);
            }
        }
        let met = for_good.piece(self, TerminalRef::MainEarth);
        for (point, row) in self.points() {
            let terminals = self.kind(row.kind).sources.iter().map(|&terminal| TerminalRef::Point { point, terminal });
            let mut live: Vec<TerminalRef> = terminals.collect();
            let pieces: Vec<usize> = live.iter().map(|&terminal| in_service.piece(self, terminal)).collect();
            let mut circuits: Vec<CircuitId> =
                pieces.iter().filter_map(|piece| on_piece.get(piece)).flatten().copied().collect();
            circuits.sort_unstable();
            circuits.dedup();
            if circuits.is_empty() {
                continue;
            }
            live.retain(|&terminal| for_good.piece(self, terminal) != met);
            let own_earth = self.point_terminal(point, "E").expect("every point has E");
            let is_earthed = for_good.piece(self, own_earth) == met;
            let earth = if is_earthed { own_earth } else { TerminalRef::MainEarth };
            for circuit in circuits {
                found[circuit.index()].push(CircuitSource { point, live: live.clone(), earth });
            }
        }
        found
    }
}

/// Terminals by what they are joined to.
struct Copper {
    joined: WhenJoined,
    numbers: FxHashMap<TerminalRef, usize>,
    pieces: UnionFind<usize>,
}

impl Copper {
    fn of(installation: &Installation, joined: WhenJoined) -> Copper {
        let mut copper = Copper { joined, numbers: FxHashMap::default(), pieces: UnionFind::new_empty() };
        for core in installation.lengths.iter().flat_map(|length| &length.cores) {
            if let [Some(from), Some(to)] = core.ends {
                copper.join(installation, from, to);
            }
        }
        for (point, row) in installation.points() {
            let terminal = |terminal: u16| TerminalRef::Point { point, terminal };
            let contacts = installation.kind(row.kind).positions.iter().flat_map(|position| &position.joins);
            let closed = contacts.filter(|_| joined == WhenJoined::InService);
            for group in row.links.iter().chain(closed) {
                for two in group.windows(2) {
                    copper.join(installation, terminal(two[0]), terminal(two[1]));
                }
            }
        }
        copper
    }

    fn join(&mut self, installation: &Installation, one: TerminalRef, other: TerminalRef) {
        let two = [one, other].map(|terminal| self.number(installation, terminal));
        self.pieces.union(two[0], two[1]);
    }

    fn piece(&mut self, installation: &Installation, terminal: TerminalRef) -> usize {
        let number = self.number(installation, terminal);
        self.pieces.find_mut(number)
    }

    fn number(&mut self, installation: &Installation, terminal: TerminalRef) -> usize {
        let terminal = match self.joined {
            WhenJoined::ForGood => joined_for_good(installation, terminal),
            WhenJoined::InService => joined_in_service(joined_for_good(installation, terminal)),
        };
        let pieces = &mut self.pieces;
        *self.numbers.entry(terminal).or_insert_with(|| pieces.new_set())
    }
}

/// One terminal for all of a board that are joined for good.
fn joined_for_good(installation: &Installation, terminal: TerminalRef) -> TerminalRef {
    let neutral = Conductor::Neutral;
    match terminal {
        TerminalRef::Way { way, conductor: Conductor::Earth } => earth_bar(installation, way.board()),
        TerminalRef::Incoming { board, conductor: Conductor::Earth } | TerminalRef::EarthBar { board } => {
            earth_bar(installation, board)
        }
        TerminalRef::Way { way, conductor: Conductor::Neutral } => {
            let (board, row) = (way.board(), installation.way(way));
            match row.group {
                _ if matches!(row.device, WayDevice::Rcbo { switches_neutral: true, .. }) => terminal,
                Some(group) => TerminalRef::Group { group: GroupId { board, group }, conductor: neutral },
                None => joined_for_good(installation, TerminalRef::Bus { board, conductor: neutral }),
            }
        }
        TerminalRef::Incoming { board, conductor } if !installation.board(board).main_switch => {
            TerminalRef::Bus { board, conductor }
        }
        other => other,
    }
}

/// One terminal for all of a board that its devices join too.
fn joined_in_service(terminal: TerminalRef) -> TerminalRef {
    match terminal {
        TerminalRef::Way { way, conductor } => TerminalRef::Bus { board: way.board(), conductor },
        TerminalRef::Group { group, conductor } => TerminalRef::Bus { board: group.board(), conductor },
        TerminalRef::Incoming { board, conductor } => TerminalRef::Bus { board, conductor },
        other => other,
    }
}

fn earth_bar(installation: &Installation, board: BoardId) -> TerminalRef {
    if installation.board(board).origin { TerminalRef::MainEarth } else { TerminalRef::EarthBar { board } }
}
