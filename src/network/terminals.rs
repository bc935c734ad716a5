//! The terminals that there are, and the numbers that stand for them.

use super::graph::Network;
use crate::model::{Conductor, GroupId, Installation, Line, TerminalRef, WayId};

/// Where the numbers of terminals begin.
#[derive(Clone, Debug)]
pub(super) struct TerminalNumbers {
    pub(super) lines: u32,
    /// First number of each board: incoming, bus, earth bar, then groups, then ways.
    pub(super) boards: Vec<u32>,
    /// First number of each point.
    pub(super) points: Vec<u32>,
    pub(super) main_earth: u32,
    pub(super) count: u32,
    pub(super) group_counts: Vec<u32>,
}

impl TerminalNumbers {
    /// Numbers every terminal that could be named.
    pub(super) fn new(installation: &Installation) -> TerminalNumbers {
        let lines = installation.phases.lines().len() as u32;
        let stride = lines + 2;
        let mut next = 0;
        let mut boards = Vec::with_capacity(installation.boards.len());
        let mut group_counts = Vec::with_capacity(installation.boards.len());
        for board in &installation.boards {
            boards.push(next);
            group_counts.push(board.groups.len() as u32);
            next += stride * (2 + board.groups.len() + board.ways.len()) as u32;
        }
        let mut points = Vec::with_capacity(installation.points.len());
        for point in &installation.points {
            points.push(next);
            next += (installation.kind(point.kind).terminals.len() + point.extra_terminals.len()) as u32;
        }
        TerminalNumbers { lines, boards, points, main_earth: next, count: next + 1, group_counts }
    }

    fn conductor(&self, conductor: Conductor) -> u32 {
        match conductor {
            Conductor::Line(Line::L | Line::L1) => 0,
            Conductor::Line(Line::L2) => 1,
            Conductor::Line(Line::L3) => 2,
            Conductor::Neutral => self.lines,
            Conductor::Earth => self.lines + 1,
        }
    }

    /// Every terminal that could be named has a number, whether or not this installation uses it.
    pub(super) fn of(&self, terminal: TerminalRef) -> u32 {
        let stride = self.lines + 2;
        match terminal {
            TerminalRef::Incoming { board, conductor } => self.boards[board.index()] + self.conductor(conductor),
            TerminalRef::Bus { board, conductor } => self.boards[board.index()] + stride + self.conductor(conductor),
            TerminalRef::EarthBar { board } => self.boards[board.index()] + 2 * stride - 1,
            TerminalRef::Group { group, conductor } => {
                self.boards[group.board.index()] + stride * (2 + group.group) + self.conductor(conductor)
            }
            TerminalRef::Way { way, conductor } => {
                let groups = self.group_counts[way.board.index()];
                self.boards[way.board.index()] + stride * (2 + groups + way.way) + self.conductor(conductor)
            }
            TerminalRef::Point { point, terminal } => self.points[point.index()] + u32::from(terminal),
            TerminalRef::MainEarth => self.main_earth,
        }
    }
}

impl Network {
    /// Every terminal there is, in the order of boards, then points, then the main earthing terminal.
    pub(crate) fn terminals(&self) -> Vec<TerminalRef> {
        let installation = self.installation();
        let mut terminals = Vec::with_capacity(self.numbers.count as usize);
        let live: Vec<Conductor> = installation.phases().live().collect();
        for (board, row) in installation.boards() {
            for &conductor in &live {
                terminals.push(TerminalRef::Incoming { board, conductor });
            }
            terminals.push(TerminalRef::Incoming { board, conductor: Conductor::Earth });
            terminals.extend(live.iter().map(|&conductor| TerminalRef::Bus { board, conductor }));
            terminals.push(TerminalRef::EarthBar { board });
            for group in 0..row.groups().len() as u32 {
                let group = GroupId { board, group };
                terminals.extend(live.iter().map(|&conductor| TerminalRef::Group { group, conductor }));
            }
            for (number, way) in row.ways().iter().enumerate() {
                let id = WayId { board, way: number as u32 };
                let at = |conductor| TerminalRef::Way { way: id, conductor };
                terminals.extend(way.poles().iter().map(|&line| at(Conductor::Line(line))));
                if way.has_neutral() {
                    terminals.push(at(Conductor::Neutral));
                }
                terminals.push(at(Conductor::Earth));
            }
        }
        for (point, row) in installation.points() {
            let count = installation.kind(row.kind()).terminals.len() + row.extra_terminals.len();
            terminals.extend((0..count as u16).map(|terminal| TerminalRef::Point { point, terminal }));
        }
        terminals.push(TerminalRef::MainEarth);
        terminals
    }
}
