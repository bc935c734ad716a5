//! Installations and test sets as they are written down: one plain struct a table of the file, not yet checked.
//!
//! The readers in [`crate::input`] fill these from a file; a program that has an installation from somewhere else fills
//! them itself. Written as JSON or TOML, a draft is a valid file: the keys stand in the format's own order and absent
//! optional ones are left out; and what is written so is read back with serde, where one error at a time will do.

mod back;
mod installation;
mod run;
mod test_set;

pub use installation::{
    AllowDraft, BoardDraft, BridgeDraft, CircuitDraft, FormatOne, GeneralDraft, GroupDraft, InstallationDraft,
    KindDraft, LengthDraft, LocationDraft, PassageDraft, PointDraft, PositionDraft, ReliefDraft, WayDraft,
};
pub use run::{StepDraft, StopDraft};
pub use test_set::{ConnectedDraft, PassDraft, ReadingDraft, StartDraft, TestSetDraft};
