//! The installation as people know it: boards, ways, circuits, points, lengths and kinds; and test sets.

mod build;
mod draft;
mod error;
mod installation;
mod kinds;
mod names;
mod path;
mod quantity;
mod test_set;
mod to_draft;

pub(crate) use build::{Gaps, LOST, MOST_ERRORS, cut};
pub use draft::{
    BoardDraft, BridgeDraft, CircuitDraft, DeviceDraft, FormatOne, GeneralDraft, GroupDevice, GroupDraft,
    InstallationDraft, KindDraft, LengthDraft, LocationDraft, PassDraft, PassageDraft, PointDraft, PositionDraft,
    ReadingDraft, StartDraft, TestSetDraft, WayDraft,
};
pub use error::{ModelError, ModelFault, NameFault, Named, NotOperable, Quantity};
pub(crate) use error::{either, list};
pub use installation::{
    Board, BoardId, Circuit, CircuitId, Conductor, Conducts, Core, Earthing, End, Group, GroupId, Installation, Kind,
    KindBridge, KindId, Lamp, Length, LengthId, Line, Load, Location, LocationId, Passage, Phases, PlateId, Point,
    PointId, Position, Stands, System, TerminalRef, Variant, Way, WayDevice, WayId, Work,
};
pub(crate) use names::Nearest;
pub use path::{DocumentPath, Part, Segment};
pub use quantity::{Indication, Megohms, Metres, Volts};
pub use test_set::{BridgeRef, BridgeState, DeviceRef, Lead, Pass, Reading, ReadingAt, TestSet};
