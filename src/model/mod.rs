//! The installation as people know it: boards, ways, circuits, points, lengths and kinds; and test sets.

mod arrange;
mod build;
mod draft;
mod fault;
mod installation;
mod limits;
mod quantity;
#[cfg(feature = "schema")]
pub(crate) mod schema;
mod test_set;
mod words;

pub(crate) use build::{Lost, cut};
pub use draft::{
    AllowDraft, BoardDraft, BridgeDraft, CircuitDraft, ConnectedDraft, FormatOne, GeneralDraft, GroupDraft,
    InstallationDraft, KindDraft, LengthDraft, LocationDraft, PassDraft, PassageDraft, PointDraft, PositionDraft,
    ReadingDraft, ReliefDraft, StartDraft, StepDraft, StopDraft, TestSetDraft, WayDraft,
};
pub use fault::{
    DocumentPath, Looped, ModelError, ModelErrors, ModelFault, NameFault, Named, NotOperable, Part, Quantity, RunFault,
    RunPart, Segment,
};
pub(crate) use fault::{Nearest, either, list};
pub use installation::{
    Board, BoardId, Circuit, CircuitId, CircuitRelief, CircuitSource, Core, End, Group, GroupId, Installation, Kind,
    KindBridge, KindId, Length, LengthId, Location, LocationId, Passage, PlateId, Point, PointId, Position, Stands,
    Stop, TerminalRef, Variant, Way, WayDevice, WayId,
};
pub use limits::InputLimits;
pub(crate) use limits::scale;
pub use quantity::{Indication, Megohms, Metres, Volts};
pub use test_set::{
    BridgeRef, ConnectedReading, DeviceRef, Lead, OtherInstallation, Pass, Reading, ReadingAt, TestSet,
};
pub(crate) use words::Word;
pub use words::{
    BetweenLive, BridgeState, Conductor, Conducts, DeviceDraft, Earthing, GroupDevice, Lamp, Line, Load, Phases,
    ReliefReadings, Strappers, System, Third, WarningCode, Work,
};
