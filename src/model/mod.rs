//! The installation as people know it: boards, ways, circuits, points, lengths and kinds; and test sets.

mod board;
mod build;
mod built_in;
mod by_id;
mod draft;
mod error;
mod ids;
mod installation;
mod kind;
mod limits;
mod mend;
mod names;
mod path;
mod quantity;
mod stamp;
mod stop;
mod test_set;
mod to_draft;
mod words;

pub use board::{Board, Group, Way, WayDevice};
pub(crate) use build::{Lost, cut};
pub use draft::{
    BoardDraft, BridgeDraft, CircuitDraft, DeviceDraft, FormatOne, GeneralDraft, GroupDevice, GroupDraft,
    InstallationDraft, KindDraft, LengthDraft, LocationDraft, PassDraft, PassageDraft, PointDraft, PositionDraft,
    ReadingDraft, StartDraft, TestSetDraft, WayDraft,
};
pub use error::{ModelError, ModelErrors, ModelFault, NameFault, Named, NotOperable, Quantity};
pub use ids::{BoardId, CircuitId, GroupId, KindId, LengthId, LocationId, PlateId, PointId, WayId};
pub use installation::{Circuit, Core, End, Installation, Length, Location, Passage, Point, Stands, TerminalRef};
pub use kind::{Kind, KindBridge, Position, Variant};
pub use limits::InputLimits;
pub(crate) use mend::{either, list};
pub(crate) use names::Nearest;
pub use path::{DocumentPath, Part, Segment};
pub use quantity::{Indication, Megohms, Metres, Volts};
pub use stop::Stop;
pub use test_set::{BridgeRef, BridgeState, DeviceRef, Lead, OtherInstallation, Pass, Reading, ReadingAt, TestSet};
pub use words::{Conductor, Conducts, Earthing, Lamp, Line, Load, Phases, System, Work};
