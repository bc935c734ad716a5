//! The leads of a reading: short names at the reading's place, and full names of terminals anywhere.

use rustc_hash::FxHashSet;

use super::cut;
use super::test_set::TestSetBuilder;
use crate::model::fault::{ModelFault, Named};
use crate::model::{BoardId, CircuitId, Conductor, DocumentPath, Lead, ReadingAt, TerminalRef, WayId};

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
                        let installation = self.installation;
                        match installation.circuit(circuit).way {
                            Some(way) => self.touch_way(way, token, touch, &path),
                            None => self.touch_source(circuit, token, touch, &path),
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
        let way = self.installation.way(id);
        if token == "L" {
            way.poles.iter().for_each(|&line| touch(TerminalRef::Way { way: id, conductor: Conductor::Line(line) }));
            return true;
        }
        if let Some(conductor) = Conductor::named(token, way.conductors()) {
            touch(TerminalRef::Way { way: id, conductor });
            return true;
        }
        let name = self.installation.way_name(id);
        let fault = if token == "N" {
            ModelFault::NoNeutral { way: name }
        } else {
            let mut known = names(way.conductors());
            if !known.iter().any(|known| known == "L") {
                known.insert(0, "L".to_owned());
            }
            ModelFault::UnknownLead { token: cut(token), at: name, known }
        };
        self.faults.push(path(), fault);
        false
    }

    /// The terminals of the one source of a circuit without a way.
    fn touch_source(
        &mut self,
        circuit: CircuitId,
        token: &str,
        touch: impl FnOnce(TerminalRef),
        path: impl FnOnce() -> DocumentPath,
    ) -> bool {
        let installation = self.installation;
        let id = || installation.circuit(circuit).id.clone();
        let fault = match installation.sources_of(circuit) {
            [] => ModelFault::CircuitWithoutWay { circuit: id(), token: cut(token) },
            [source] => {
                if let Some(terminal) = source.terminal(installation, token) {
                    touch(terminal);
                    return true;
                }
                let names = source.terminals(installation).into_iter();
                let names = names.map(|terminal| source.short_name(installation, terminal));
                let at = installation.point(source.point).id.clone();
                ModelFault::UnknownLead { token: cut(token), at, known: names.chain(["E".to_owned()]).collect() }
            }
            _ => ModelFault::SeveralSources { circuit: id(), token: cut(token) },
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
        let phases = self.installation.phases;
        match token {
            "L" => phases
                .lines()
                .iter()
                .for_each(|&line| touch(TerminalRef::Bus { board, conductor: Conductor::Line(line) })),
            "E" => touch(TerminalRef::EarthBar { board }),
            _ => match Conductor::named(token, phases.conductors(false)) {
                Some(conductor) => touch(TerminalRef::Bus { board, conductor }),
                None => {
                    let mut known = names(phases.conductors(true));
                    if phases.lines().len() > 1 {
                        known.insert(0, "L".to_owned());
                    }
                    let at = self.installation.board(board).id.clone();
                    self.faults.push(path(), ModelFault::UnknownLead { token: cut(token), at, known });
                    return false;
                }
            },
        }
        true
    }

    /// The terminal with this full name.
    fn find_full_name(&mut self, name: &str, path: impl Fn() -> DocumentPath) -> Option<TerminalRef> {
        let found = self.installation.terminal_by_name(name);
        if found.is_none() {
            self.no_terminal(name, path);
        }
        found
    }

    /// Reports a full name that no terminal has.
    fn no_terminal(&mut self, name: &str, path: impl Fn() -> DocumentPath) -> Option<()> {
        let installation = self.installation;
        let mut parts = name.split('.');
        match (parts.next(), parts.next(), parts.next(), parts.next()) {
            (Some(owner), Some(terminal), None, None) => match owner.split_once('/') {
                Some((board, way)) => {
                    let way = installation.way(self.find_way(board, way, &path)?);
                    let known = || way.conductors().map(Conductor::name);
                    self.faults.unknown_terminal(Named::Way, owner, terminal, known, path());
                }
                None => match installation.point_by_id(owner) {
                    Some(id) => {
                        let point = installation.point(id);
                        let own = &installation.kind(point.kind).terminals;
                        let known = || own.iter().chain(&point.extra_terminals).map(String::as_str);
                        self.faults.unknown_terminal(Named::Point, owner, terminal, known, path());
                    }
                    None if installation.board_by_id(owner).is_some() => {
                        let mut known = vec!["E".to_owned()];
                        for part in ["bus", "in"] {
                            let names = installation.phases.conductors(part == "in").map(Conductor::name);
                            known.extend(names.map(|name| format!("{part}.{name}")));
                        }
                        let known = || known.iter().map(String::as_str);
                        self.faults.unknown_terminal(Named::Board, owner, terminal, known, path());
                    }
                    None => {
                        let points = installation.points.iter().map(|point| point.id.as_str());
                        self.faults.unknown(Named::Point, owner, points, path());
                    }
                },
            },
            (Some(board_name), Some(part), Some(terminal), None) => {
                let board = self.find_board(board_name, &path)?;
                if matches!(part, "in" | "bus") || installation.group_of(board, part).is_some() {
                    let known = || installation.phases.conductors(part == "in").map(Conductor::name);
                    let owner = format!("{board_name}.{part}");
                    self.faults.unknown_terminal(Named::Board, &owner, terminal, known, path());
                } else {
                    let groups = installation.board(board).groups.iter().map(|group| group.id.as_str());
                    let parts = groups.chain(["in", "bus"]);
                    self.faults.unknown_part(Named::Group, [board_name, ".", part], parts, path());
                }
            }
            _ => {
                let (what, name) = (Named::Terminal, cut(name));
                self.faults.push(path(), ModelFault::Unknown { what, name, nearest: None });
            }
        }
        None
    }
}

fn names(conductors: impl Iterator<Item = Conductor>) -> Vec<String> {
    conductors.map(|conductor| conductor.name().to_owned()).collect()
}
