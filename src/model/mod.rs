//! The installation as people know it: boards, ways, circuits, points, lengths and kinds; and test sets.

mod installation;
mod quantity;
mod test_set;

pub use installation::{
    Board, BoardId, Circuit, CircuitId, Conductor, Conducts, Core, Earthing, End, Group, GroupId, Installation, Kind,
    KindBridge, KindId, Length, LengthId, Line, Location, LocationId, Passage, Phases, PlateId, Point, PointId,
    Position, Stands, System, TerminalRef, Way, WayDevice, WayId, Work,
};
pub use quantity::{Indication, Megohms, Metres, Volts};
pub use test_set::{BridgeRef, BridgeState, DeviceRef, Lead, Pass, Reading, ReadingAt, TestSet};
