//! Test sets, checked against their installation.

use super::faults::Faults;
use super::points::known_positions;
use super::{Lost, cut, entry};
use crate::model::InputLimits;
use crate::model::fault::{ModelErrors, ModelFault, Named, NotOperable, Quantity};
use crate::model::{
    BoardId, BridgeRef, BridgeState, ConnectedDraft, ConnectedReading, DeviceRef, DocumentPath, Indication,
    Installation, Megohms, Pass, PassDraft, Reading, ReadingAt, ReadingDraft, Stands, StartDraft, TestSet,
    TestSetDraft, Variant, Volts, WayDevice, WayId,
};

/// No instrument for installations shows more megohms (common practice: their ranges end at some 200 GΩ). What is above
/// it was written in ohms.
const MOST_SHOWN: f64 = 1e6;

impl TestSetDraft {
    /// Checks the draft against its installation and makes a test set of it.
    ///
    /// Takes time and space linear in the sizes of the two.
    ///
    /// # Errors
    ///
    /// Every error of the draft, each with its place; an error that another one causes is left out. Beyond 1,000
    /// errors the rest are only counted, in a last [`ModelFault::AndMore`].
    ///
    /// # Examples
    ///
    /// ```
    /// use lengthwise::model::{Indication, Megohms, PassDraft, ReadingDraft, Volts};
    /// use lengthwise::{Input, TestSetDraft, read_installation};
    ///
    /// let landing = read_installation(Input::toml(&std::fs::read("examples/landing.toml")?))?;
    /// let reading = ReadingDraft {
    ///     circuit: Some("C1".to_owned()),
    ///     between: ["L+N", "E"].map(str::to_owned),
    ///     volts: Some(Volts(500.0)),
    ///     megohms: Some(Indication::MoreThan(Megohms(999.0))),
    ///     ..ReadingDraft::default()
    /// };
    /// let pass = PassDraft { operate: vec!["S1".to_owned()], readings: vec![reading], ..PassDraft::default() };
    /// let tests = TestSetDraft { passes: vec![pass], ..TestSetDraft::default() }.build(&landing)?;
    /// assert_eq!(tests.passes()[0].readings()[0].written().as_deref(), Some(">999"));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn build(&self, installation: &Installation) -> Result<TestSet, ModelErrors> {
        self.build_around(installation, &Lost::default(), &InputLimits::default())
    }

    /// Builds around what a reader lost; the test set is of use only where nothing was lost.
    pub(crate) fn build_around(
        &self,
        installation: &Installation,
        lost: &Lost,
        limits: &InputLimits,
    ) -> Result<TestSet, ModelErrors> {
        let mut builder = TestSetBuilder { installation, faults: Faults::new(lost, limits) };
        let mut test_set = TestSet { stamp: Some(installation.stamp), ..TestSet::default() };
        builder.read_start(self, &mut test_set);
        for (number, pass) in self.passes.iter().enumerate() {
            test_set.passes.push(builder.read_pass(pass, number));
        }
        for (number, reading) in self.connected.iter().enumerate() {
            test_set.connected.extend(builder.read_connected(reading, || entry("connected", number)));
        }
        builder.faults.finish()?;
        Ok(test_set)
    }
}

pub(super) struct TestSetBuilder<'d> {
    pub(super) installation: &'d Installation,
    pub(super) faults: Faults<'d>,
}

impl<'d> TestSetBuilder<'d> {
    /// The bridges that something holds, and whether they come out; none where it holds none.
    fn bridge(&self, device: DeviceRef) -> Option<(BridgeRef, bool)> {
        match device {
            DeviceRef::Main(_) => None,
            DeviceRef::Group(group) => {
                self.installation.group(group).electronic.then_some((BridgeRef::Group(group), false))
            }
            DeviceRef::Way(id) => {
                let way = self.installation.way(id);
                match way.device {
                    // Its electronics lie between a pole and the neutral or the functional earth, if those are there.
                    WayDevice::Rcbo { functional_earth, .. } if way.neutral || functional_earth => {
                        Some((BridgeRef::Way(id), true))
                    }
                    _ => None,
                }
            }
            DeviceRef::Point(id) => {
                let point = self.installation.point(id);
                let kind = self.installation.kind(point.kind);
                kind.has_bridges().then_some((BridgeRef::Point(id), point.removable))
            }
        }
    }

    /// Whether a bridge of what holds it passes.
    fn passes(&self, bridge: BridgeRef) -> bool {
        let BridgeRef::Point(id) = bridge else { return false };
        self.installation.kind(self.installation.point(id).kind).bridges.iter().any(|bridge| bridge.passes)
    }

    /// Why a device cannot be operated, if it cannot.
    fn not_operable(&self, device: DeviceRef) -> Option<NotOperable> {
        let DeviceRef::Point(id) = device else {
            return None;
        };
        let point = self.installation.point(id);
        match self.installation.kind(point.kind).variant {
            _ if point.operable => None,
            Variant::Manual(false) => Some(NotOperable::ContactorNotManual),
            _ => Some(NotOperable::Held),
        }
    }

    fn read_start(&mut self, draft: &'d TestSetDraft, test_set: &mut TestSet) {
        for (name, StartDraft(words)) in &draft.start {
            let path = || DocumentPath::root().key("start").key(name.clone());
            let Some(device) = self.find_device(name, || path().itself()) else {
                continue;
            };
            if words.is_empty() && !self.faults.lost.has(path) {
                self.faults.push(path(), ModelFault::EmptyStart { name: cut(name) });
            }
            let mut position: Option<&str> = None;
            let mut bridge: Option<&str> = None;
            for (place, word) in words.iter().enumerate() {
                if self.faults.lost.has(|| path().index(place)) {
                    continue;
                }
                // A start of one word may be written without a list around it.
                let path = || if words.len() == 1 { path() } else { path().index(place) };
                let state = match word.as_str() {
                    "fitted" => Some(BridgeState::Fitted),
                    "removed" => Some(BridgeState::Removed),
                    "linked" => Some(BridgeState::Linked),
                    _ => None,
                };
                let first = if state.is_some() { &mut bridge } else { &mut position };
                if let Some(first) = *first {
                    let fault = ModelFault::StartTwice { name: cut(name), first: cut(first), second: cut(word) };
                    self.faults.push(path(), fault);
                    continue;
                }
                *first = Some(word);
                if let Some(state) = state {
                    test_set.start_bridges.extend(self.read_start_bridge(device, name, state, path));
                } else {
                    test_set.start_positions.extend(self.read_start_position(device, name, word, path));
                }
            }
        }
    }

    fn read_start_bridge(
        &mut self,
        device: DeviceRef,
        name: &str,
        state: BridgeState,
        path: impl FnOnce() -> DocumentPath,
    ) -> Option<(BridgeRef, BridgeState)> {
        match self.bridge(device) {
            None => {
                self.faults.push(path(), ModelFault::NoBridge { name: cut(name) });
                None
            }
            Some((_, false)) if state != BridgeState::Fitted => {
                self.faults.push(path(), cannot_remove(device, name));
                None
            }
            Some((bridge, _)) if state == BridgeState::Linked && !self.passes(bridge) => {
                self.faults.push(path(), ModelFault::NothingToLink { name: cut(name) });
                None
            }
            Some((bridge, _)) => Some((bridge, state)),
        }
    }

    fn read_start_position(
        &mut self,
        device: DeviceRef,
        name: &str,
        word: &str,
        path: impl Fn() -> DocumentPath,
    ) -> Option<(DeviceRef, Stands)> {
        if device.positions(self.installation).is_empty() {
            self.faults.push(path(), ModelFault::NoPositions { name: cut(name) });
            return None;
        }
        let stands = if word == "unknown" {
            Stands::Unknown
        } else {
            Stands::At(self.find_position(device, name, word, true, &path)?)
        };
        if let DeviceRef::Point(id) = device
            && let Some(why) = self.not_operable(device)
        {
            let point = self.installation.point(id);
            if let Stands::At(number) = point.stands
                && stands != point.stands
            {
                let kind = self.installation.kind(point.kind);
                let fault = ModelFault::CannotStart {
                    device: cut(name),
                    position: cut(word),
                    stands: kind.positions[usize::from(number)].name.clone(),
                    why,
                };
                self.faults.push(path(), fault);
                return None;
            }
        }
        Some((device, stands))
    }

    fn find_position(
        &mut self,
        device: DeviceRef,
        name: &str,
        word: &str,
        may_be_unknown: bool,
        path: impl Fn() -> DocumentPath,
    ) -> Option<u16> {
        let positions = device.positions(self.installation);
        let number = positions.iter().position(|&known| known == word).map(|number| number as u16);
        if number.is_none() && !self.faults.lost.has(&path) {
            let known = known_positions(positions.into_iter().chain(may_be_unknown.then_some("unknown")));
            let fault = ModelFault::UnknownPosition { device: cut(name), position: cut(word), known };
            self.faults.push(path(), fault);
        }
        number
    }

    fn read_pass(&mut self, draft: &'d PassDraft, number: usize) -> Pass {
        let mut pass = Pass::default();
        for (place, name) in draft.operate.iter().enumerate() {
            let path = || entry("pass", number).key("operate").index(place);
            pass.operate.extend(self.find_operable(name, path));
        }
        for (name, word) in &draft.set {
            let path = || entry("pass", number).key("set").key(name.clone());
            if let Some(device) = self.find_operable(name, || path().itself())
                && let Some(position) = self.find_position(device, name, word, false, path)
            {
                pass.set.push((device, position));
            }
        }
        for (place, name) in draft.remove.iter().enumerate() {
            let path = || entry("pass", number).key("remove").index(place);
            pass.remove.extend(self.find_removable(name, path));
        }
        for (place, name) in draft.link.iter().enumerate() {
            let path = || entry("pass", number).key("link").index(place);
            if let Some(bridge) = self.find_removable(name, path) {
                match self.passes(bridge) {
                    true => pass.link.push(bridge),
                    false => self.faults.push(path(), ModelFault::NothingToLink { name: cut(name) }),
                }
            }
        }
        for (place, name) in draft.refit.iter().enumerate() {
            let path = || entry("pass", number).key("refit").index(place);
            pass.refit.extend(self.find_removable(name, path));
        }
        for (place, reading) in draft.readings.iter().enumerate() {
            let path = || entry("pass", number).key("reading").index(place);
            pass.readings.extend(self.read_reading(reading, path));
        }
        pass
    }

    fn find_operable(&mut self, name: &str, path: impl Fn() -> DocumentPath) -> Option<DeviceRef> {
        let device = self.find_device(name, &path)?;
        if device.positions(self.installation).is_empty() {
            self.faults.push(path(), ModelFault::NoPositions { name: cut(name) });
            return None;
        }
        if let Some(why) = self.not_operable(device) {
            self.faults.push(path(), ModelFault::CannotOperate { device: cut(name), why });
            return None;
        }
        Some(device)
    }

    fn find_removable(&mut self, name: &str, path: impl Fn() -> DocumentPath) -> Option<BridgeRef> {
        let device = self.find_device(name, &path)?;
        let fault = match self.bridge(device) {
            Some((bridge, true)) => return Some(bridge),
            Some((_, false)) => cannot_remove(device, name),
            None => ModelFault::NoBridge { name: cut(name) },
        };
        self.faults.push(path(), fault);
        None
    }

    /// What a name in a test set means: something with positions, or with bridges, or neither.
    fn find_device(&mut self, name: &str, path: impl Fn() -> DocumentPath) -> Option<DeviceRef> {
        if self.faults.lost.has(&path) {
            return None;
        }
        let installation = self.installation;
        if let Some(device) = installation.holder_by_name(name) {
            return Some(device);
        }
        if let Some((board_name, way_name)) = name.split_once('/') {
            self.find_way(board_name, way_name, path);
            return None;
        }
        if let Some((board_name, part)) = name.split_once('.') {
            let board = installation.board(self.find_board(board_name, &path)?);
            if part == "main" {
                self.faults.push(path(), ModelFault::NoMainSwitch { board: board_name.to_owned() });
            } else {
                let parts = board.groups.iter().map(|group| group.id.as_str()).chain(["main"]);
                self.faults.unknown_part(Named::Device, [board_name, ".", part], parts, path());
            }
            return None;
        }
        let nearest = if installation.board_by_id(name).is_some() {
            Some(format!("{name}.main"))
        } else {
            let points = installation.points.iter().map(|point| point.id.as_str());
            self.faults.nearest.among(name, points).map(str::to_owned)
        };
        self.faults.push(path(), ModelFault::Unknown { what: Named::Device, name: cut(name), nearest });
        None
    }

    /// A board by its id.
    pub(super) fn find_board(&mut self, name: &str, path: impl Fn() -> DocumentPath) -> Option<BoardId> {
        let found = self.installation.board_by_id(name);
        if found.is_none() {
            let boards = self.installation.boards.iter().map(|board| board.id.as_str());
            self.faults.unknown(Named::Board, name, boards, path());
        }
        found
    }

    /// A way by the names of its board and its own.
    pub(super) fn find_way(
        &mut self,
        board_name: &str,
        way_name: &str,
        path: impl Fn() -> DocumentPath,
    ) -> Option<WayId> {
        let board = self.find_board(board_name, &path)?;
        let way = self.installation.way_by_name(&format!("{board_name}/{way_name}"));
        if way.is_none() {
            let ways = self.installation.board(board).ways.iter().map(|way| way.id.as_str());
            self.faults.unknown_part(Named::Way, [board_name, "/", way_name], ways, path());
        }
        way
    }

    fn read_connected(
        &mut self,
        draft: &'d ConnectedDraft,
        path: impl Fn() -> DocumentPath,
    ) -> Option<ConnectedReading> {
        let ConnectedDraft { volts, megohms, .. } = *draft;
        self.check_values(volts, megohms, &path);
        let at = self.find_place([&draft.circuit, &draft.board], &path)?;
        Some(ConnectedReading { at, volts, megohms, written: draft.written.as_deref().map(Box::from) })
    }

    fn check_values(&mut self, volts: Option<Volts>, megohms: Option<Indication>, path: impl Fn() -> DocumentPath) {
        if let Some(volts) = volts
            && !(volts.0.is_finite() && volts.0 > 0.0)
            && !self.faults.lost.has(|| path().key("volts"))
        {
            let fault = ModelFault::NotPositive { quantity: Quantity::TestVoltage, value: volts.0 };
            self.faults.push(path().key("volts"), fault);
        }
        if let Some(
            Indication::Value(Megohms(value))
            | Indication::MoreThan(Megohms(value))
            | Indication::LessThan(Megohms(value)),
        ) = megohms
            && !(value > 0.0 && value <= MOST_SHOWN)
        {
            self.faults.push(path().key("megohms"), ModelFault::BadResistance { value });
        }
    }

    fn read_reading(&mut self, draft: &'d ReadingDraft, path: impl Fn() -> DocumentPath) -> Option<Reading> {
        self.check_values(draft.volts, draft.megohms, &path);
        let at = self.find_place([&draft.circuit, &draft.board], &path);
        let leads = [0, 1].map(|end| self.read_lead(at, &draft.between[end], || path().key("between").index(end)));
        let [Some(one), Some(other)] = leads else {
            return None;
        };
        let written = draft.written.as_deref().map(Box::from);
        Some(Reading { at: at?, leads: [one, other], volts: draft.volts, megohms: draft.megohms, written })
    }

    /// A circuit or a board by its id.
    fn find_place(
        &mut self,
        [circuit, board]: [&Option<String>; 2],
        path: impl Fn() -> DocumentPath,
    ) -> Option<ReadingAt> {
        match (circuit, board) {
            (Some(_), Some(_)) => {
                self.faults.push(path().key("board").itself(), ModelFault::ReadingNowhere { both: true });
                None
            }
            (None, None) => {
                self.faults.push(path(), ModelFault::ReadingNowhere { both: false });
                None
            }
            (Some(_), None) if self.faults.lost.has(|| path().key("circuit")) => None,
            (Some(name), None) => {
                let found = self.installation.circuit_by_id(name);
                if found.is_none() {
                    let circuits = self.installation.circuits.iter().map(|circuit| circuit.id.as_str());
                    self.faults.unknown(Named::Circuit, name, circuits, path().key("circuit"));
                }
                found.map(ReadingAt::Circuit)
            }
            (None, Some(_)) if self.faults.lost.has(|| path().key("board")) => None,
            (None, Some(name)) => self.find_board(name, || path().key("board")).map(ReadingAt::Board),
        }
    }
}

fn cannot_remove(device: DeviceRef, name: &str) -> ModelFault {
    let of = match device {
        DeviceRef::Group(_) => Named::Group,
        DeviceRef::Way(_) => Named::Way,
        DeviceRef::Main(_) | DeviceRef::Point(_) => Named::Point,
    };
    ModelFault::CannotRemove { of, name: cut(name) }
}
