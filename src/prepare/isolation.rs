//! The steps that switch off whatever can feed what is touched for a circuit.

use std::collections::BTreeSet;

use super::step::{Action, Caution, IsolateAt, Step, WhyIsolated, WhyOff};
use super::surroundings::Surroundings;
use crate::model::{BoardId, BridgeRef, CircuitId, Conductor, DeviceRef, End, GroupId, PointId, TerminalRef, WayId};
use crate::network::Body;

impl Surroundings<'_> {
    /// Switches off the circuit's own board and way, and all that can feed any terminal in what is opened for it:
    /// `further` is what its list names besides its own.
    pub(super) fn isolate(&self, id: CircuitId, further: &[BridgeRef]) -> Vec<Step> {
        let mut steps = Vec::new();
        let installation = self.installation();
        let own = installation.circuit(id).way();
        let behind = self.boards_behind(id);
        let isolation = self.feeding.isolation(&self.touched(id, further), &behind);
        if let Some(way) = own {
            steps.push(self.isolate_board(way.board(), WhyIsolated::OwnBoard));
        }
        for &board in isolation.boards.iter().filter(|&&board| own.is_none_or(|way| way.board() != board)) {
            steps.push(self.isolate_board(board, WhyIsolated::FeedsWhatIsOpened));
        }
        for &board in &isolation.before_main {
            let board = installation.board(board).id().to_owned();
            let (at, why) = (IsolateAt::BeforeMainSwitch, WhyIsolated::FeedsWhatIsOpened);
            steps.push(Action::Isolate { board, at, why }.with(Caution::LiveParts));
        }
        for &point in &isolation.sources {
            let location = self.location(point);
            let point = Some(installation.point(point).id().to_owned());
            steps.push(Action::IsolateSource { point, location }.with(Caution::LiveParts));
        }
        if own.is_none() && isolation.ways.is_empty() && isolation.sources.is_empty() {
            steps.push(Action::IsolateSource { point: None, location: None }.with(Caution::LiveParts));
        }

        let mut off: Vec<(DeviceRef, WhyOff)> = Vec::new();
        if let Some(way) = own {
            self.keep_own_off(way, &mut off);
        }
        for board in behind {
            self.keep_behind_off(board, &mut off);
        }
        off.extend(isolation.ways.iter().map(|&way| (DeviceRef::Way(way), WhyOff::FeedsWhatIsOpened)));
        let mut named: BTreeSet<String> = BTreeSet::new();
        for (device, why) in off {
            let device = device.name(installation);
            if named.insert(device.clone()) {
                steps.push(Action::KeepOff { device, why }.into());
            }
        }
        steps
    }

    fn isolate_board(&self, board: BoardId, why: WhyIsolated) -> Step {
        let row = self.installation().board(board);
        let at = if row.has_main_switch() { IsolateAt::MainSwitch } else { IsolateAt::Supply };
        Action::Isolate { board: row.id().to_owned(), at, why }.with(Caution::LiveBefore)
    }

    /// Switching off for readings on the load side of a way.
    fn keep_own_off(&self, way: WayId, off: &mut Vec<(DeviceRef, WhyOff)>) {
        let installation = self.installation();
        let board = way.board();
        off.push((DeviceRef::Way(way), WhyOff::ReadOnLoadSide));
        if let Some(group) = installation.way(way).group {
            let group = GroupId { board, group };
            let is_electronic = installation.group(group).is_electronic();
            let why = if is_electronic { WhyOff::Electronics } else { WhyOff::RestOfTheBoard };
            off.push((DeviceRef::Group(group), why));
        }
        if installation.board(board).has_main_switch() {
            off.push((DeviceRef::Main(board), WhyOff::RestOfTheBoard));
        }
    }

    fn keep_behind_off(&self, board: BoardId, off: &mut Vec<(DeviceRef, WhyOff)>) {
        let row = self.installation().board(board);
        if row.has_main_switch() {
            off.push((DeviceRef::Main(board), WhyOff::BoardBehind));
            return;
        }
        // Its busbar is on the feeder for good, so every device on it stays off.
        let groups = (0..row.groups().len() as u32).map(|group| DeviceRef::Group(GroupId { board, group }));
        let ways = (0..row.ways().len() as u32).map(|way| DeviceRef::Way(WayId { board, way }));
        off.extend(groups.chain(ways).map(|device| (device, WhyOff::BoardBehind)));
    }

    /// The boards whose incoming sides lengths of the circuit end at.
    fn boards_behind(&self, id: CircuitId) -> Vec<BoardId> {
        let ends = self.lengths_of[id.index()].iter().flat_map(|length| length.ends());
        let boards: BTreeSet<BoardId> =
            ends.filter_map(|end| if let End::Incoming(board) = end { Some(board) } else { None }).collect();
        boards.into_iter().collect()
    }

    /// Everything that is within reach of a hand: all terminals of the circuit's points, of those that its lengths end
    /// at and its list names, and of those in one box with any of them; and the ways and incoming sides that its
    /// lengths end at.
    fn touched(&self, id: CircuitId, further: &[BridgeRef]) -> Vec<Body> {
        let installation = self.installation();
        let mut points: BTreeSet<PointId> = self.points_of[id.index()].iter().copied().collect();
        let mut terminals: Vec<TerminalRef> = Vec::new();
        let of_way = |way: WayId, terminals: &mut Vec<TerminalRef>| {
            let row = installation.way(way);
            let lines = row.poles().iter().map(|&line| Conductor::Line(line));
            let conductors = lines.chain(row.has_neutral().then_some(Conductor::Neutral));
            terminals.extend(conductors.map(|conductor| TerminalRef::Way { way, conductor }));
        };
        if let Some(way) = installation.circuit(id).way() {
            of_way(way, &mut terminals);
        }
        for &holder in further {
            match holder {
                BridgeRef::Point(point) => {
                    points.insert(point);
                }
                BridgeRef::Way(way) => of_way(way, &mut terminals),
                // It stays off, and nothing of it is taken out.
                BridgeRef::Group(_) => {}
            }
        }
        for length in &self.lengths_of[id.index()] {
            for end in length.ends() {
                match end {
                    End::Point(point) => {
                        points.insert(point);
                    }
                    End::Way(way) => of_way(way, &mut terminals),
                    // Which of its terminals, the cores say.
                    End::Incoming(_) => {}
                }
            }
            terminals.extend(length.cores().iter().flat_map(|core| core.ends()).flatten());
        }
        let plates: BTreeSet<_> = points.iter().filter_map(|&point| installation.point(point).plate()).collect();
        points.extend(plates.iter().flat_map(|plate| &self.points_on[plate]));
        for point in points {
            let row = installation.point(point);
            let count = installation.kind(row.kind()).terminals.len() + row.extra_terminals.len();
            terminals.extend((0..count as u16).map(|terminal| TerminalRef::Point { point, terminal }));
        }
        let mut bodies: Vec<Body> = terminals.into_iter().map(|terminal| self.network.body(terminal)).collect();
        bodies.sort_unstable();
        bodies.dedup();
        bodies
    }
}
