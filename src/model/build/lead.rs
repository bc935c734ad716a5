//! The leads of a reading: short names at the reading's place, and full names of terminals anywhere.

use rustc_hash::FxHashSet;

use super::super::error::{ModelFault, Named};
use super::super::{BoardId, Conductor, DocumentPath, Lead, PointId, ReadingAt, TerminalRef, WayId};
use super::boards::{board_conductor, board_conductor_names, way_conductor, way_conductor_names};
use super::cut;
use super::test_set::TestSetBuilder;

impl<'d> TestSetBuilder<'d> {
    /// What one lead touches; none where that is broken.
    pub(super) fn read_lead(
        &mut self,
        at: Option<ReadingAt>,
        text: &str,
        path: impl Fn() -> DocumentPath,
    ) -> Option<Lead> {
        if self.faults.lost.has(&path) {
            return None;
        }
        let mut seen = FxHashSet::default();
        let mut touches = Vec::new();
        let mut complete = true;
        for token in text.split('+') {
            let mut touch = |terminal| {
                if seen.insert(terminal) {
                    touches.push(terminal);
                }
            };
            let token = token.trim();
            complete &= if token.is_empty() {
                self.faults.push(path(), ModelFault::EmptyLead { lead: cut(text) });
                false
            } else if token == "MET" {
                touch(TerminalRef::MainEarth);
                true
            } else if token.contains('.') {
                self.find_full_name(token, &path).map(touch).is_some()
            } else {
                match at {
                    // The place is reported already, and what is there is not known.
                    None => false,
                    Some(ReadingAt::Board(board)) => self.touch_board(board, token, touch, &path),
                    Some(ReadingAt::Circuit(circuit)) => {
                        let installation = self.known.installation;
                        match installation.circuit(circuit).way {
                            Some(way) => self.touch_way(way, token, touch, &path),
                            None => {
                                let circuit = installation.circuit(circuit).id.clone();
                                let fault = ModelFault::CircuitWithoutWay { circuit, token: cut(token) };
                                self.faults.push(path(), fault);
                                false
                            }
                        }
                    }
                }
            };
        }
        complete.then(|| Lead { text: text.to_owned(), touches })
    }

    fn touch_way(
        &mut self,
        id: WayId,
        token: &str,
        mut touch: impl FnMut(TerminalRef),
        path: impl FnOnce() -> DocumentPath,
    ) -> bool {
        let way = self.known.installation.way(id);
        if token == "L" {
            way.poles.iter().for_each(|&line| touch(TerminalRef::Way { way: id, conductor: Conductor::Line(line) }));
            return true;
        }
        if let Some(conductor) = way_conductor(way, token) {
            touch(TerminalRef::Way { way: id, conductor });
            return true;
        }
        let name = self.known.installation.way_name(id);
        let fault = if token == "N" {
            ModelFault::NoNeutral { way: name }
        } else {
            let mut known = way_conductor_names(way);
            if !known.iter().any(|known| known == "L") {
                known.insert(0, "L".to_owned());
            }
            ModelFault::UnknownLead { token: cut(token), at: name, known }
        };
        self.faults.push(path(), fault);
        false
    }

    fn touch_board(
        &mut self,
        board: BoardId,
        token: &str,
        mut touch: impl FnMut(TerminalRef),
        path: impl FnOnce() -> DocumentPath,
    ) -> bool {
        let lines = self.known.installation.phases.lines();
        match token {
            "L" => lines.iter().for_each(|&line| touch(TerminalRef::Bus { board, conductor: Conductor::Line(line) })),
            "E" => touch(TerminalRef::EarthBar { board }),
            _ => match board_conductor(lines, token, false) {
                Some(conductor) => touch(TerminalRef::Bus { board, conductor }),
                None => {
                    let mut known = board_conductor_names(lines, true);
                    if lines.len() > 1 {
                        known.insert(0, "L".to_owned());
                    }
                    let at = self.known.installation.board(board).id.clone();
                    self.faults.push(path(), ModelFault::UnknownLead { token: cut(token), at, known });
                    return false;
                }
            },
        }
        true
    }

    /// The terminal with this full name.
    fn find_full_name(&mut self, name: &str, path: impl Fn() -> DocumentPath) -> Option<TerminalRef> {
        let mut parts = name.split('.');
        match (parts.next(), parts.next(), parts.next(), parts.next()) {
            (Some(owner), Some(terminal), None, None) => match owner.split_once('/') {
                Some((board, way)) => self.find_way_terminal(board, way, terminal, path),
                None => match self.known.points.get(owner) {
                    Some(&point) => self.find_point_terminal(point, owner, terminal, path),
                    None => self.find_earth_bar(owner, terminal, path),
                },
            },
            (Some(board), Some(part), Some(terminal), None) => self.find_board_terminal(board, part, terminal, path),
            _ => {
                let (what, name) = (Named::Terminal, cut(name));
                self.faults.push(path(), ModelFault::Unknown { what, name, nearest: None });
                None
            }
        }
    }

    fn find_way_terminal(
        &mut self,
        board_name: &str,
        way_name: &str,
        terminal: &str,
        path: impl Fn() -> DocumentPath,
    ) -> Option<TerminalRef> {
        let way = self.find_way(board_name, way_name, &path)?;
        let installation = self.known.installation;
        let owner = || installation.way_name(way);
        let conductor = self.faults.find_way_terminal(installation.way(way), owner, terminal, path)?;
        Some(TerminalRef::Way { way, conductor })
    }

    fn find_point_terminal(
        &mut self,
        point: PointId,
        owner: &str,
        terminal: &str,
        path: impl Fn() -> DocumentPath,
    ) -> Option<TerminalRef> {
        let installation = self.known.installation;
        let kind = installation.point(point).kind;
        let own = self.known.kind_terminals.get(&(kind, terminal));
        let number = own.or_else(|| self.known.extra_terminals.get(&(point, terminal))).copied();
        if number.is_none() {
            let known = || {
                let extra = &installation.point(point).extra_terminals;
                installation.kind(kind).terminals.iter().chain(extra).map(String::as_str)
            };
            self.faults.unknown_terminal(Named::Point, owner, terminal, known, path());
        }
        number.map(|terminal| TerminalRef::Point { point, terminal })
    }

    fn find_earth_bar(&mut self, owner: &str, terminal: &str, path: impl Fn() -> DocumentPath) -> Option<TerminalRef> {
        let installation = self.known.installation;
        let Some(&board) = self.known.boards.get(owner) else {
            let points = installation.points.iter().map(|point| point.id.as_str());
            self.faults.unknown(Named::Point, owner, points, path());
            return None;
        };
        if terminal == "E" {
            return Some(TerminalRef::EarthBar { board });
        }
        let mut known = vec!["E".to_owned()];
        for part in ["bus", "in"] {
            let names = board_conductor_names(installation.phases.lines(), part == "in");
            known.extend(names.into_iter().map(|name| format!("{part}.{name}")));
        }
        self.faults.unknown_terminal(Named::Board, owner, terminal, || known.iter().map(String::as_str), path());
        None
    }

    fn find_board_terminal(
        &mut self,
        board_name: &str,
        part: &str,
        terminal: &str,
        path: impl Fn() -> DocumentPath,
    ) -> Option<TerminalRef> {
        let board = self.find_board(board_name, &path)?;
        let installation = self.known.installation;
        let lines = installation.phases.lines();
        let group = self.known.groups.get(&(board, part)).copied();
        if group.is_none() && part != "in" && part != "bus" {
            let groups = installation.board(board).groups.iter().map(|group| group.id.as_str());
            let parts = groups.chain(["in", "bus"]);
            self.faults.unknown_part(Named::Group, [board_name, ".", part], parts, path());
            return None;
        }
        let incoming = part == "in";
        let owner = || format!("{board_name}.{part}");
        let conductor = self.faults.find_board_terminal((lines, incoming), owner, terminal, path)?;
        Some(match group {
            Some(group) => TerminalRef::Group { group, conductor },
            None if incoming => TerminalRef::Incoming { board, conductor },
            None => TerminalRef::Bus { board, conductor },
        })
    }
}
