//! The steps that switch off whatever can feed what is touched for a circuit.

use std::collections::BTreeSet;

use super::step::{Action, Caution, IsolateAt, Step, WhyIsolated, WhyOff};
use super::surroundings::Surroundings;
use crate::model::{
    BoardId, BridgeRef, CircuitId, Conductor, DeviceRef, End, GroupId, PointId, Stop, TerminalRef, WayId,
};
use crate::network::{Body, Isolation};

impl Surroundings<'_> {
    /// Switches off the circuit's own board and way, and all that can feed any terminal in what is opened for it:
    /// `further` is what its list names besides its own.
    pub(super) fn isolate(&self, id: CircuitId, further: &[BridgeRef]) -> Vec<Step> {
        let mut steps = Vec::new();
        let installation = self.installation();
        let own = installation.circuit(id).way();
        let behind = self.boards_behind(id);
        let (bodies, much_fed) = self.touched(id, further);
        let isolation = self.feeding.isolation(&bodies, &behind);
        if let Some(way) = own {
            steps.push(self.isolate_board(way.board(), WhyIsolated::OwnBoard));
        }
        steps.extend(self.isolate_all(&isolation, own.map(|way| way.board())));
        let is_fed = |isolation: &Isolation| !(isolation.ways.is_empty() && isolation.sources.is_empty());
        let by_much = much_fed.iter().filter_map(|&stop| self.much_that_feeds(stop));
        if own.is_none() && !by_much.chain([&isolation]).any(is_fed) {
            steps.push(Action::IsolateSource { point: None, location: None }.with(Caution::LiveParts));
        }
        steps.extend(
            much_fed
                .into_iter()
                .map(|stop| Action::IsolateFor { opened: stop.name(installation) }.with(Caution::LiveParts)),
        );

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

    /// Switches off all that can feed what is opened.
    pub(super) fn steps_of(&self, isolation: &Isolation) -> Vec<Step> {
        let mut steps = self.isolate_all(isolation, None);
        steps.extend(isolation.ways.iter().map(|&way| {
            let device = DeviceRef::Way(way).name(self.installation());
            Step::from(Action::KeepOff { device, why: WhyOff::FeedsWhatIsOpened })
        }));
        steps
    }

    /// Isolates boards, but the circuit's own, and sources.
    fn isolate_all(&self, isolation: &Isolation, own: Option<BoardId>) -> Vec<Step> {
        let installation = self.installation();
        let others = isolation.boards.iter().filter(|&&board| own != Some(board));
        let mut steps: Vec<Step> =
            others.map(|&board| self.isolate_board(board, WhyIsolated::FeedsWhatIsOpened)).collect();
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
    /// lengths end at. And of that what much can feed, which is in no list of copper.
    fn touched(&self, id: CircuitId, further: &[BridgeRef]) -> (Vec<Body>, Vec<Stop>) {
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
        let opened: BTreeSet<Stop> = points.into_iter().map(|point| self.opened_with(point)).collect();
        let (much_fed, others): (Vec<Stop>, Vec<Stop>) =
            opened.into_iter().partition(|&stop| self.much_that_feeds(stop).is_some());
        let mut bodies: Vec<Body> = terminals.into_iter().map(|terminal| self.network.body(terminal)).collect();
        bodies.extend(others.into_iter().flat_map(|stop| self.bodies_in(stop)));
        bodies.sort_unstable();
        bodies.dedup();
        (bodies, much_fed)
    }
}
