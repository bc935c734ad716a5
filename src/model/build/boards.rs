//! Boards, their groups and their ways.

use rustc_hash::FxHashMap;

use super::faults::Index;
use super::{Builder, WayState, cut, entry};
use crate::model::fault::{ModelFault, Named, Quantity, RESERVED_GROUPS};
use crate::model::{Board, BoardDraft, BoardId, DeviceDraft, DocumentPath, Group, Line, Way, WayDevice};
use crate::model::{WayDraft, WayId};

impl<'d> Builder<'d> {
    pub(super) fn read_boards(&mut self) {
        let draft = self.draft;
        let mut origin: Option<usize> = None;
        for (number, board) in draft.boards.iter().enumerate() {
            let path = || entry("board", number);
            let id = (board.id.as_str(), BoardId(number as u32));
            self.faults.add_id(Named::Board, id, path, &mut self.board_index, |first| entry("board", first.index()));
            self.check_shared(Named::Board, &board.id, number);
            if board.origin == Some(true) {
                if let Some(first) = origin {
                    let fault =
                        ModelFault::SecondOrigin { first: cut(&draft.boards[first].id), second: cut(&board.id) };
                    let first = entry("board", first).key("origin");
                    self.faults.push_beside(path().key("origin"), Some(first), fault);
                } else {
                    origin = Some(number);
                }
            }
            let location = board.location.as_ref().and_then(|name| self.find_location(name, || path().key("location")));
            let read = self.read_board(number, board);
            self.boards.push(Board { location, ..read });
        }
        let lost = self.faults.lost;
        // A board that could not be read, in whole or in this, may be the origin.
        let may_be_lost = || {
            lost.has(|| DocumentPath::root().key("board"))
                || (0..draft.boards.len())
                    .any(|number| ["id", "origin"].iter().any(|&key| lost.has(|| entry("board", number).key(key))))
        };
        if origin.is_none() && !may_be_lost() {
            let path = if draft.boards.is_empty() { DocumentPath::root() } else { entry("board", 0) };
            self.faults.push(path, ModelFault::NoOrigin { board_count: draft.boards.len() });
        }
    }

    fn read_board(&mut self, number: usize, board: &'d BoardDraft) -> Board {
        let path = || entry("board", number);
        let mut group_index: Index<&str, u32> = self.faults.index(|| path().key("group"));
        let mut groups = Vec::with_capacity(board.groups.len());
        for (place, group) in board.groups.iter().enumerate() {
            let list = || path().key("group");
            let path = || list().index(place);
            self.faults.check_reserved(Named::Group, &group.id, RESERVED_GROUPS, || path().key("id"));
            let id = (group.id.as_str(), place as u32);
            self.faults.add_id(Named::Group, id, path, &mut group_index, |first| list().index(first as usize));
            groups.push(Group { id: group.id.clone(), electronic: group.electronic.unwrap_or(true) });
        }
        let mut ways = Vec::with_capacity(board.ways.len());
        let mut states = Vec::with_capacity(board.ways.len());
        let mut index: Index<&str, WayId> = self.faults.index(|| path().key("way"));
        for (place, way) in board.ways.iter().enumerate() {
            let list = || path().key("way");
            let path = || list().index(place);
            let id = (way.id.as_str(), WayId { board: BoardId(number as u32), way: place as u32 });
            self.faults.add_id(Named::Way, id, path, &mut index, |first| list().index(first.way as usize));
            let (poles, certain) = self.read_poles(way, path);
            let group = way.group.as_ref().and_then(|name| self.find_group(name, &group_index, board, path));
            if let Some(rating) = way.rating {
                self.check_positive(Quantity::Rating, rating, || path().key("rating"));
            }
            let device = self.read_device(way, path);
            states.push(WayState { certain });
            ways.push(Way {
                id: way.id.clone(),
                device,
                rating: way.rating,
                poles,
                group,
                neutral: way.neutral.unwrap_or(true),
            });
        }
        self.way_states.push(states);
        self.way_indices.push(index);
        Board {
            id: board.id.clone(),
            location: None,
            main_switch: board.main_switch.unwrap_or(true),
            origin: board.origin.unwrap_or(false),
            groups,
            ways,
        }
    }

    fn find_group(
        &mut self,
        name: &str,
        groups: &Index<&str, u32>,
        board: &BoardDraft,
        path: impl Fn() -> DocumentPath,
    ) -> Option<u32> {
        let known = board.groups.iter().map(|group| group.id.as_str());
        self.faults.find(Named::Group, name, groups, known, || path().key("group"))
    }

    /// The poles of a way, and whether they are all known.
    fn read_poles(&mut self, way: &WayDraft, path: impl Fn() -> DocumentPath) -> (Vec<Line>, bool) {
        let Some(names) = &way.poles else {
            return (vec![self.lines[0]], !self.faults.lost.has(|| path().key("poles")));
        };
        if names.is_empty() {
            self.faults.push(path().key("poles"), ModelFault::EmptyList { key: "poles" });
            return (Vec::new(), false);
        }
        let mut poles = Vec::with_capacity(names.len().min(self.lines.len()));
        let mut certain = true;
        let mut first_at: FxHashMap<Line, usize> = FxHashMap::default();
        for (place, name) in names.iter().enumerate() {
            let path = || path().key("poles").index(place);
            if self.faults.lost.has(path) {
                certain = false;
                continue;
            }
            let Some(&line) = self.lines.iter().find(|line| line.name() == name) else {
                let lines = self.lines.iter().map(|line| line.name()).collect();
                self.faults.push(path(), ModelFault::UnknownPole { pole: cut(name), lines });
                certain = false;
                continue;
            };
            if first_at.insert(line, place).is_some() {
                self.faults.push(path(), ModelFault::Repeated { what: Named::Line, name: name.clone() });
            } else {
                poles.push(line);
            }
        }
        (poles, certain)
    }

    fn read_device(&mut self, way: &WayDraft, path: impl Fn() -> DocumentPath) -> WayDevice {
        match way.device {
            DeviceDraft::Rcbo => WayDevice::Rcbo {
                switches_neutral: way.switches_neutral.unwrap_or(true),
                functional_earth: way.functional_earth.unwrap_or(false),
            },
            other => {
                let keys = [("switches_neutral", way.switches_neutral), ("functional_earth", way.functional_earth)];
                for (key, value) in keys {
                    if value.is_some() && !self.faults.lost.has(|| path().key("device")) {
                        let fault = ModelFault::OnlyRcbo { key, way: cut(&way.id), device: other.name() };
                        self.faults.push(path().key(key).itself(), fault);
                    }
                }
                match other {
                    DeviceDraft::Fuse => WayDevice::Fuse,
                    DeviceDraft::Isolator => WayDevice::Isolator,
                    DeviceDraft::Mcb | DeviceDraft::Rcbo => WayDevice::Mcb,
                }
            }
        }
    }
}
