//! What a plan is asked for.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::model::{Installation, LocationId, Nearest, PointId, cut};
use crate::network::Need;

/// What a plan is asked for. [`Request::default`] is what the command asks for without any option.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[non_exhaustive]
pub struct Request {
    /// Which pairs need a test.
    pub need: Need,
    /// How clusters of devices that bear on one another are searched.
    pub search: SearchBy,
    /// Rooms that are locked today. Nothing in them is operated, read at or taken out: what can be taken out there
    /// counts as fitted unless the test set says otherwise, and a board there as standing nobody knows how.
    pub without: Vec<LocationId>,
    /// Switches that nobody may touch.
    pub leave: Vec<PointId>,
    /// How the switches are to stand in the end.
    pub afterwards: Afterwards,
    /// What comes first among plans of equally few walks.
    pub priority: Priority,
    /// What is wished for each switch.
    pub switches: SwitchWork,
    /// The extras that may be used for pairs which can't be tested otherwise.
    pub allow: BTreeSet<ExtraKind>,
    /// How leads are joined.
    pub joining: LeadJoining,
}

/// How the leads of a plan's readings are joined.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum LeadJoining {
    /// As usual: all live conductors of one way to earth, line to line, lines to neutral.
    #[default]
    Usual,
    /// Otherwise where that makes them fewer: all ways of one board that ask for one test voltage may be read together.
    /// One low reading then says less about where.
    Fewest,
}

/// A sort of extras: what a plan does beside operating switches and reading at ways. Those that are less trouble come
/// first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ExtraKind {
    /// A lamp, load or coil is left in.
    Lamps,
    /// The instrument is taken to a point.
    Points,
    /// A temporary link is put in at a point.
    Links,
}

/// How clusters of devices that bear on one another are searched. The answers are the same; the time is not, nor which of
/// several plans as good is given.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum SearchBy {
    /// Up to 65,536 settings by listing them, 64 to a machine word; larger clusters by asking a solver.
    #[default]
    Size,
    /// Every cluster by asking a solver. For checking one search by the other.
    Solver,
}

/// What is wished for each switch.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum SwitchWork {
    /// It is operated where a pair needs that.
    #[default]
    AsNeeded,
    /// It is operated at least once, each position that closes a contact comes under test, and it stands once in each
    /// that closes nothing; what the test set has done of that is done.
    Each,
}

/// How the switches are to stand when the plan is done.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Afterwards {
    /// As the last reading left them.
    #[default]
    AsLeft,
    /// As they were found: a last round puts them back. A device of three or more positions that stands nobody knows
    /// how can't be put back, so it is not operated; one of two is turned an even number of times.
    AsFound,
}

/// What comes first among plans of equally few walks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Priority {
    /// Fewest operations, and of those fewest stops.
    #[default]
    Operations,
    /// Fewest stops, and of those fewest operations.
    Stops,
}

impl From<Need> for Request {
    fn from(need: Need) -> Request {
        Request { need, ..Request::default() }
    }
}

impl Request {
    /// Names a room that is locked today.
    ///
    /// # Errors
    ///
    /// [`RequestError::UnknownLocation`].
    pub fn do_without(&mut self, installation: &Installation, name: &str) -> Result<(), RequestError> {
        match installation.locations().find(|(_, row)| row.id() == name) {
            Some((id, _)) => {
                self.without.push(id);
                Ok(())
            }
            None => {
                let known = installation.locations().map(|(_, row)| row.id());
                let nearest = Nearest::default().among(name, known).map(str::to_owned);
                Err(RequestError::UnknownLocation { name: cut(name), nearest })
            }
        }
    }

    /// Names a switch that nobody may touch.
    ///
    /// # Errors
    ///
    /// [`RequestError::UnknownPoint`] and [`RequestError::NothingToOperate`].
    pub fn leave_alone(&mut self, installation: &Installation, name: &str) -> Result<(), RequestError> {
        match installation.points().find(|(_, row)| row.id() == name) {
            Some((_, row)) if installation.kind(row.kind()).positions().len() == 0 => {
                Err(RequestError::NothingToOperate { name: cut(name) })
            }
            Some((id, _)) => {
                self.leave.push(id);
                Ok(())
            }
            None => {
                let known = installation.points().map(|(_, row)| row.id());
                let nearest = Nearest::default().among(name, known).map(str::to_owned);
                Err(RequestError::UnknownPoint { name: cut(name), nearest })
            }
        }
    }

    /// What keeps things from being operated or read, one by one, in the order that the request name it.
    pub(in crate::plan) fn limits(&self) -> Vec<Restriction> {
        let rooms = self.without.iter().map(|&location| Restriction::Locked(location));
        let mut limits: Vec<Restriction> =
            rooms.chain(self.leave.iter().map(|&point| Restriction::LeftAlone(point))).collect();
        limits.extend((self.afterwards == Afterwards::AsFound).then_some(Restriction::PutBack));
        let mut seen = Vec::new();
        limits.retain(|limit| {
            let is_new = !seen.contains(limit);
            seen.push(*limit);
            is_new
        });
        limits
    }

    /// The same request with only these limits.
    pub(in crate::plan) fn with_limits(&self, limits: &[Restriction]) -> Request {
        Request {
            without: limits.iter().filter_map(|limit| limit.location()).collect(),
            leave: limits.iter().filter_map(|limit| limit.point()).collect(),
            afterwards: if limits.contains(&Restriction::PutBack) { Afterwards::AsFound } else { Afterwards::AsLeft },
            ..self.clone()
        }
    }

    /// Whether a point is in a room that is locked.
    pub(in crate::plan) fn is_locked(&self, installation: &Installation, point: PointId) -> bool {
        installation.point(point).location().is_some_and(|location| self.without.contains(&location))
    }

    /// Whether a point may be operated, as far as the request go.
    pub(in crate::plan) fn may_operate(&self, installation: &Installation, point: PointId) -> bool {
        !self.leave.contains(&point) && !self.is_locked(installation, point)
    }

    /// Whether a board is in a room that is locked.
    pub(in crate::plan) fn is_board_locked(&self, installation: &Installation, board: crate::model::BoardId) -> bool {
        installation.board(board).location().is_some_and(|location| self.without.contains(&location))
    }
}

/// What keeps a plan from operating or reading something.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum Restriction {
    /// A room is locked.
    Locked(LocationId),
    /// A switch is not to be touched.
    LeftAlone(PointId),
    /// What nobody could put back as it was found is not operated.
    PutBack,
}

impl Restriction {
    /// Its name: `location:L`, `point:ID` or `restore`.
    pub fn name(self, installation: &Installation) -> String {
        match self {
            Restriction::Locked(location) => format!("location:{}", installation.location(location).id()),
            Restriction::LeftAlone(point) => format!("point:{}", installation.point(point).id()),
            Restriction::PutBack => "restore".to_owned(),
        }
    }

    fn location(self) -> Option<LocationId> {
        match self {
            Restriction::Locked(location) => Some(location),
            Restriction::LeftAlone(_) | Restriction::PutBack => None,
        }
    }

    fn point(self) -> Option<PointId> {
        match self {
            Restriction::LeftAlone(point) => Some(point),
            Restriction::Locked(_) | Restriction::PutBack => None,
        }
    }
}

/// A wish that names what is not there.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum RequestError {
    /// No location has this id.
    #[error("there is no location `{name}`")]
    UnknownLocation {
        /// The name given, cut short where it is long.
        name: String,
        /// The nearest known name.
        nearest: Option<String>,
    },
    /// No point has this id.
    #[error("there is no point `{name}`")]
    UnknownPoint {
        /// The name given, cut short where it is long.
        name: String,
        /// The nearest known name.
        nearest: Option<String>,
    },
    /// The point has no positions.
    #[error("point `{name}` has nothing to operate")]
    NothingToOperate {
        /// The point.
        name: String,
    },
}

impl RequestError {
    /// What to do about it.
    pub fn mend(&self) -> String {
        match self {
            RequestError::UnknownLocation { nearest: Some(nearest), .. }
            | RequestError::UnknownPoint { nearest: Some(nearest), .. } => {
                format!("write `{nearest}` if that is meant")
            }
            RequestError::UnknownLocation { nearest: None, .. } => {
                "name the id of a `[[location]]` of the installation".to_owned()
            }
            RequestError::UnknownPoint { nearest: None, .. } => {
                "name the id of a `[[point]]` of the installation".to_owned()
            }
            RequestError::NothingToOperate { .. } => "name a point that has positions".to_owned(),
        }
    }
}
