//! Lengths of cable: what they end at, and where their cores are connected.

use super::faults::Lookup;
use super::{Builder, cut, entry, list};
use crate::model::fault::{ModelFault, Named, Quantity, RESERVED_CORES};
use crate::model::{CircuitId, Conductor, Core, DocumentPath, End, Length, PointId, TerminalRef};

/// The most cores of one length: any two of them are a pair, so that pairs grow with the square of the cores.
const MOST_CORES: usize = 256;

impl<'d> Builder<'d> {
    pub(super) fn read_lengths(&mut self) {
        let draft = self.draft;
        let mut index = self.faults.index(|| list("length"));
        for (number, length) in draft.lengths.iter().enumerate() {
            let path = || entry("length", number);
            self.faults.add_id(Named::Length, (&length.id, number), path, &mut index, |first| entry("length", first));
            let membership = self.read_membership(length.circuit.as_deref(), || path().key("circuit"));
            self.memberships.push(membership);
            let ends =
                [self.find_end(&length.from, || path().key("from")), self.find_end(&length.to, || path().key("to"))];
            self.length_ends.push(ends);
            self.check_positive(Quantity::Metres, length.metres.0, || path().key("metres"));
            if length.cores.is_empty() && !self.faults.lost.has(|| path().key("cores")) {
                self.faults.push(path().key("cores"), ModelFault::EmptyList { key: "cores" });
            }
            let mut cores = Vec::with_capacity(length.cores.len().min(MOST_CORES));
            for (number, (name, terminals)) in length.cores.iter().enumerate() {
                let path = || path().key("cores").key(name.clone());
                // Those beyond are still looked at: a junction has the terminals that they name.
                if number == MOST_CORES {
                    let fault = ModelFault::TooMany { what: Named::Core, owner: cut(&length.id), most: MOST_CORES };
                    self.faults.push(path().itself(), fault);
                }
                self.faults.check_name(Named::Core, name, || path().itself());
                self.faults.check_reserved(Named::Core, name, RESERVED_CORES, || path().itself());
                let ends = [0, 1].map(|end| self.find_terminal(ends[end], &terminals[end], || path().index(end)));
                if let [Some(one), Some(other)] = ends
                    && one == other
                {
                    let fault = ModelFault::CoreToItself {
                        length: cut(&length.id),
                        core: cut(name),
                        end: cut(&length.from),
                        terminal: cut(&terminals[0]),
                    };
                    self.faults.push(path().index(1), fault);
                }
                if number < MOST_CORES {
                    cores.push(Core { name: name.clone(), ends });
                }
            }
            self.lengths.push(Length {
                id: length.id.clone(),
                circuit: CircuitId(0),
                ends: ends.map(|end| end.unwrap_or(End::Point(PointId(0)))),
                cable: length.cable.clone(),
                metres: length.metres,
                cores,
            });
        }
    }

    /// What a length ends at; none where that is broken.
    fn find_end(&mut self, name: &str, path: impl Fn() -> DocumentPath) -> Option<End> {
        if self.faults.lost.has(&path) {
            return None;
        }
        if name.contains('/') {
            let malformed = |name| ModelFault::NotAnEnd { name, is_board: false };
            return self.find_way(name, path, malformed).map(End::Way);
        }
        if let Some(board) = name.strip_suffix(".in") {
            return self.find_board(board, path).map(End::Incoming);
        }
        if name.contains('.') {
            self.faults.push(path(), ModelFault::NotAnEnd { name: cut(name), is_board: false });
            return None;
        }
        match self.point_index.get(&name) {
            Lookup::Found(point) => Some(End::Point(point)),
            _ if matches!(self.board_index.get(&name), Lookup::Found(_)) => {
                self.faults.push(path(), ModelFault::NotAnEnd { name: cut(name), is_board: true });
                None
            }
            Lookup::Broken => None,
            Lookup::Unknown => {
                let known = self.draft.points.iter().map(|point| point.id.as_str());
                self.faults.unknown(Named::Point, name, known, path());
                None
            }
        }
    }

    /// The terminal that a core's end is connected to; none where it is connected to nothing, or broken.
    fn find_terminal(
        &mut self,
        end: Option<End>,
        name: &'d str,
        path: impl Fn() -> DocumentPath,
    ) -> Option<TerminalRef> {
        if name == "-" || self.faults.lost.has(&path) {
            return None;
        }
        match end? {
            End::Point(point) => self.point_terminal(point, name, path),
            End::Way(way) => {
                let board = &self.boards[way.board.index()];
                let row = &board.ways[way.way as usize];
                let found = Conductor::named(name, row.conductors());
                if found.is_none() && self.way_states[way.board.index()][way.way as usize].certain {
                    let owner = format!("{}/{}", board.id, row.id);
                    let known = || row.conductors().map(Conductor::name);
                    self.faults.unknown_terminal(Named::Way, &owner, name, known, path());
                }
                found.map(|conductor| TerminalRef::Way { way, conductor })
            }
            End::Incoming(board) => {
                let found = Conductor::named(name, self.phases.conductors(true));
                if found.is_none() {
                    let owner = format!("{}.in", self.boards[board.index()].id);
                    let known = || self.phases.conductors(true).map(Conductor::name);
                    self.faults.unknown_terminal(Named::Board, &owner, name, known, path());
                }
                found.map(|conductor| TerminalRef::Incoming { board, conductor })
            }
        }
    }
}
