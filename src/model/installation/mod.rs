//! An installation, checked: its parts, their numbers and their names.

mod board;
mod built_in;
mod by_id;
mod ids;
mod kind;
mod parts;
mod sources;
mod stamp;
mod stop;
mod whole;

pub use board::{Board, Group, Way, WayDevice};
pub(super) use built_in::{Choice, built_in, built_in_names, choice};
pub use ids::{BoardId, CircuitId, GroupId, KindId, LengthId, LocationId, PlateId, PointId, WayId};
pub use kind::{Kind, KindBridge, Position, Variant};
pub use parts::{
    Circuit, CircuitRelief, CircuitSource, Core, End, Length, Location, Passage, Point, Stands, TerminalRef,
};
pub(super) use stamp::Stamp;
pub use stop::Stop;
pub use whole::Installation;
