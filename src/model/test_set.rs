//! A test set: how things stood at the start, the passes, and the readings taken in each.

use std::borrow::Cow;

use crate::model::installation::Stamp;
use crate::model::{
    BoardId, BridgeState, CircuitId, GroupId, Indication, Installation, LocationId, PointId, Stands, TerminalRef,
    Volts, WayId,
};

/// Something with positions.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum DeviceRef {
    /// A board's main switch, `BOARD.main`.
    Main(BoardId),
    /// A group's residual-current device, `BOARD.GROUP`.
    Group(GroupId),
    /// A way's device, `BOARD/WAY`.
    Way(WayId),
    /// A point's switch.
    Point(PointId),
}

impl DeviceRef {
    /// The device's full name.
    pub fn name(self, installation: &Installation) -> String {
        match self {
            DeviceRef::Main(board) => format!("{}.main", installation.board(board).id()),
            DeviceRef::Group(group) => {
                format!("{}.{}", installation.board(group.board()).id(), installation.group(group).id())
            }
            DeviceRef::Way(way) => installation.way_name(way),
            DeviceRef::Point(point) => installation.point(point).id().to_owned(),
        }
    }

    /// The names of its positions, in the table's order (`off`, `on` for the devices of boards).
    pub fn positions(self, installation: &Installation) -> Vec<&str> {
        match self {
            DeviceRef::Point(point) => installation.kind(installation.point(point).kind).positions().collect(),
            _ => vec!["off", "on"],
        }
    }
}

/// Look-ups by what test sets call things, each in time logarithmic in the number of such things.
impl Installation {
    /// The device with this full name: a board's main switch as `BOARD.main`, a group's as `BOARD.GROUP`, a way's as
    /// `BOARD/WAY`, a point's switch by the point's id. None of what has no positions.
    pub fn device_by_name(&self, name: &str) -> Option<DeviceRef> {
        self.holder_by_name(name).filter(|device| !device.positions(self).is_empty())
    }

    /// What a test set can name: something with positions, or with bridges, or neither.
    pub(crate) fn holder_by_name(&self, name: &str) -> Option<DeviceRef> {
        if name.contains('/') {
            return self.way_by_name(name).map(DeviceRef::Way);
        }
        match name.split_once('.') {
            Some((board, "main")) => {
                let board = self.board_by_id(board)?;
                self.board(board).main_switch.then_some(DeviceRef::Main(board))
            }
            Some(_) => self.group_by_name(name).map(DeviceRef::Group),
            None => self.point_by_id(name).map(DeviceRef::Point),
        }
    }
}

/// Something that holds bridges; all of its bridges come and go together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum BridgeRef {
    /// The electronics of a group's device; never removable.
    Group(GroupId),
    /// The electronics of a way's device.
    Way(WayId),
    /// The lamp, load, coil or electronics of a point.
    Point(PointId),
}

impl BridgeRef {
    /// The full name of what holds the bridges.
    pub fn name(self, installation: &Installation) -> String {
        match self {
            BridgeRef::Group(group) => DeviceRef::Group(group).name(installation),
            BridgeRef::Way(way) => DeviceRef::Way(way).name(installation),
            BridgeRef::Point(point) => DeviceRef::Point(point).name(installation),
        }
    }

    /// Where what holds the bridges is, if the file says so.
    pub fn location(self, installation: &Installation) -> Option<LocationId> {
        match self {
            BridgeRef::Group(group) => installation.board(group.board()).location(),
            BridgeRef::Way(way) => installation.board(way.board()).location(),
            BridgeRef::Point(point) => installation.point(point).location(),
        }
    }
}

/// What a reading was taken at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum ReadingAt {
    /// A circuit's way.
    Circuit(CircuitId),
    /// A board's busbar and earth bar.
    Board(BoardId),
}

impl ReadingAt {
    /// The circuit's id, or the board's: one of the two.
    pub(crate) fn names(self, installation: &Installation) -> [Option<String>; 2] {
        match self {
            ReadingAt::Circuit(circuit) => [Some(installation.circuit(circuit).id().to_owned()), None],
            ReadingAt::Board(board) => [None, Some(installation.board(board).id().to_owned())],
        }
    }
}

/// One lead of the instrument and the terminals that it touches and so joins.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Lead {
    pub(crate) text: String,
    /// Never empty.
    pub(crate) touches: Vec<TerminalRef>,
}

impl Lead {
    /// As written: `L+N`.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The terminals that the lead touches.
    pub fn touches(&self) -> &[TerminalRef] {
        &self.touches
    }
}

/// One reading.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    pub(crate) at: ReadingAt,
    pub(crate) leads: [Lead; 2],
    pub(crate) volts: Option<Volts>,
    pub(crate) megohms: Option<Indication>,
    pub(crate) written: Option<Box<str>>,
}

impl Reading {
    /// What it was taken at.
    pub fn at(&self) -> ReadingAt {
        self.at
    }

    /// The two leads.
    pub fn leads(&self) -> &[Lead; 2] {
        &self.leads
    }

    /// The test voltage, d.c., where recorded.
    pub fn volts(&self) -> Option<Volts> {
        self.volts
    }

    /// What the instrument showed, where recorded.
    pub fn megohms(&self) -> Option<Indication> {
        self.megohms
    }

    /// What the instrument showed, to the letter as the file gives it (`250.0`, `>999`); as a plain number where the
    /// reading was made in code. None where nothing was recorded.
    pub fn written(&self) -> Option<Cow<'_, str>> {
        to_the_letter(self.megohms, self.written.as_deref())
    }
}

/// A reading after equipment was connected: live conductors joined, to earth. It tests no pair, since nobody can tell
/// what of it went through the equipment.
#[derive(Clone, Debug, PartialEq)]
pub struct ConnectedReading {
    pub(crate) at: ReadingAt,
    pub(crate) volts: Option<Volts>,
    pub(crate) megohms: Option<Indication>,
    pub(crate) written: Option<Box<str>>,
}

impl ConnectedReading {
    /// What it was taken at.
    pub fn at(&self) -> ReadingAt {
        self.at
    }

    /// The test voltage, d.c., where recorded.
    pub fn volts(&self) -> Option<Volts> {
        self.volts
    }

    /// What the instrument showed, where recorded.
    pub fn megohms(&self) -> Option<Indication> {
        self.megohms
    }

    /// What the instrument showed, to the letter, as of a [`Reading`].
    pub fn written(&self) -> Option<Cow<'_, str>> {
        to_the_letter(self.megohms, self.written.as_deref())
    }
}

/// A value as the file gives it, or as a plain number.
fn to_the_letter(megohms: Option<Indication>, written: Option<&str>) -> Option<Cow<'_, str>> {
    Some(match written {
        Some(written) if megohms.is_some() => Cow::Borrowed(written),
        _ => Cow::Owned(megohms?.to_string()),
    })
}

/// One setting of everything and the readings taken in it.
///
/// Within a pass: operate, then set, then remove, then link, then refit.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pass {
    /// Each goes to its next position, round and round.
    pub(crate) operate: Vec<DeviceRef>,
    /// Each goes to a named position (a number in the table's order).
    pub(crate) set: Vec<(DeviceRef, u16)>,
    pub(crate) remove: Vec<BridgeRef>,
    pub(crate) link: Vec<BridgeRef>,
    pub(crate) refit: Vec<BridgeRef>,
    pub(crate) readings: Vec<Reading>,
}

impl Pass {
    /// The readings taken in this pass, in order.
    pub fn readings(&self) -> &[Reading] {
        &self.readings
    }
}

/// A test set, checked against its installation.
///
/// The default one is empty and goes with any installation.
#[derive(Clone, Debug, Default)]
pub struct TestSet {
    /// The installation that it was checked against; none where it names nothing of any.
    pub(crate) stamp: Option<Stamp>,
    /// How devices stand before pass 1, where that is not their ready position.
    pub(crate) start_positions: Vec<(DeviceRef, Stands)>,
    /// How bridges are before pass 1, where that is not removed for a removable one.
    pub(crate) start_bridges: Vec<(BridgeRef, BridgeState)>,
    pub(crate) passes: Vec<Pass>,
    pub(crate) connected: Vec<ConnectedReading>,
}

impl TestSet {
    /// The passes, in order.
    pub fn passes(&self) -> &[Pass] {
        &self.passes
    }

    /// The readings after equipment was connected, in order.
    pub fn connected(&self) -> &[ConnectedReading] {
        &self.connected
    }

    /// How many readings all passes have.
    pub fn reading_count(&self) -> usize {
        self.passes.iter().map(|pass| pass.readings.len()).sum()
    }

    /// Checks that it was checked against this very installation or a clone of it, so that what it names is there.
    ///
    /// # Errors
    ///
    /// Where it was checked against another installation. One that was read or built a second time is another one, even
    /// if it is the same to the letter.
    pub fn check_for(&self, installation: &Installation) -> Result<(), OtherInstallation> {
        if self.stamp.is_none_or(|stamp| stamp == installation.stamp) {
            return Ok(());
        }
        Err(OtherInstallation { installation: installation.name().to_owned() })
    }
}

/// A test set was checked against another installation than the one that is asked about: its ids mean nothing there.
///
/// An installation that was read or built a second time is another one; a clone of it is the same.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the test set was checked against another installation; read or build it against this one, `{installation}`")]
#[non_exhaustive]
pub struct OtherInstallation {
    /// The name of the installation that is asked about.
    pub installation: String,
}

/// Two test sets are equal that say the same, whichever installations they were checked against.
impl PartialEq for TestSet {
    fn eq(&self, other: &Self) -> bool {
        let TestSet { stamp: _, start_positions, start_bridges, passes, connected } = self;
        *start_positions == other.start_positions
            && *start_bridges == other.start_bridges
            && *passes == other.passes
            && *connected == other.connected
    }
}
