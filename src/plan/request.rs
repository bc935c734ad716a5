//! What a plan is asked for.

use std::collections::BTreeSet;

use indexmap::IndexSet;
use serde::{Deserialize, Serialize};

use crate::model::{BridgeRef, Installation, Location, LocationId, Nearest, PointId, cut};
use crate::network::Need;

/// What a plan is asked for. [`Request::default`] is what the command asks for without any option.
///
/// ```
/// use lengthwise::network::Need;
/// use lengthwise::plan::{Afterwards, ExtraKind, Priority, Request};
///
/// let request = Request::from(Need::EveryPair)
///     .with_afterwards(Afterwards::AsFound)
///     .with_priority(Priority::Stops)
///     .with_extras([ExtraKind::Lamps]);
/// assert_eq!(request.priority, Priority::Stops);
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Request {
    /// Which pairs need a test.
    pub need: Need,
    /// How clusters of devices that bear on one another are searched.
    pub search: SearchBy,
    /// Rooms that are locked today. Nothing in them is operated, read at or taken out: what can be taken out there
    /// counts as fitted unless the test set says otherwise, and the position of a board's devices there as unknown.
    pub without: Vec<LocationId>,
    /// Switches that nobody may touch.
    pub leave: Vec<PointId>,
    /// How the switches are to stand in the end.
    pub afterwards: Afterwards,
    /// What comes first among plans of equally few walks.
    pub priority: Priority,
    /// What is asked for each switch.
    pub switches: SwitchWork,
    /// The extras that may be used for pairs that no reading at a way tests: all where nothing else is asked.
    pub extras: BTreeSet<ExtraKind>,
    /// How leads are joined.
    pub joining: LeadJoining,
    /// How many do the work.
    pub people: People,
}

/// How many do the work of a plan.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum People {
    /// One, who comes back to the board for the readings: fewest walks come before all else.
    #[default]
    One,
    /// Two who speak by radio: one reads at the board, the other goes round and does not come back in between. Fewest
    /// operations come first, then the metres of one way past all of them (stops, where the passages do not tell);
    /// [`Request::priority`] is for one person.
    Two,
}

/// How the leads of a plan's readings are joined.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum LeadJoining {
    /// As usual: all live conductors of one way to earth, line to line, lines to neutral.
    #[default]
    Usual,
    /// Otherwise where that makes them fewer: all ways of one board that ask for one test voltage may be read together.
    /// One low reading then says less about where.
    Fewest,
}

/// A kind of extras: what a plan does beside operating switches and reading at ways. Those that are less trouble come
/// first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum ExtraKind {
    /// A lamp, load or coil is left in.
    Lamps,
    /// The instrument is taken to a point.
    Points,
    /// How a switch stands that nobody knows the position of is found out at its terminals.
    FindOut,
    /// A temporary link is put in at a point, or one of the preparation is taken out.
    Links,
    /// An accessory is taken off.
    Accessories,
}

impl ExtraKind {
    /// All of them.
    pub const ALL: [ExtraKind; 5] =
        [ExtraKind::Lamps, ExtraKind::Points, ExtraKind::FindOut, ExtraKind::Links, ExtraKind::Accessories];
}

/// How clusters of devices that bear on one another are searched.
///
/// Plans are sound by either, and where both finish they have the same fewest walks, and the same fewest operations in
/// these. What may differ: the time; which of several plans as good is given; the **stops**, since a solver searches
/// each cluster by itself, so that stops shared among clusters may be more and are then not called the fewest; and how
/// bounds are proven.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum SearchBy {
    /// Up to 65,536 settings by listing them, 64 to a machine word; larger clusters by asking a solver.
    #[default]
    Size,
    /// Every cluster by asking a solver. For checking one search by the other.
    Solver,
}

/// What is asked for each switch.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
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
#[non_exhaustive]
pub enum Afterwards {
    /// As the last reading left them.
    #[default]
    AsLeft,
    /// As they were found: a last round puts them back. A device of three or more positions that stands nobody knows
    /// how can't be put back, so it is not operated; one of two is turned an even number of times.
    AsFound,
}

/// What comes first among plans of equally few walks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Priority {
    /// Fewest operations, and of those fewest stops.
    #[default]
    Operations,
    /// Fewest stops, and of those fewest operations.
    Stops,
}

impl Default for Request {
    fn default() -> Request {
        Request {
            need: Need::default(),
            search: SearchBy::default(),
            without: Vec::new(),
            leave: Vec::new(),
            afterwards: Afterwards::default(),
            priority: Priority::default(),
            switches: SwitchWork::default(),
            extras: ExtraKind::ALL.into(),
            joining: LeadJoining::default(),
            people: People::default(),
        }
    }
}

impl From<Need> for Request {
    fn from(need: Need) -> Request {
        Request { need, ..Request::default() }
    }
}

impl Request {
    /// The same request with clusters searched so.
    #[must_use]
    pub fn with_search(self, search: SearchBy) -> Request {
        Request { search, ..self }
    }

    /// The same request with switches that stand so in the end.
    #[must_use]
    pub fn with_afterwards(self, afterwards: Afterwards) -> Request {
        Request { afterwards, ..self }
    }

    /// The same request with this first among plans of equally few walks.
    #[must_use]
    pub fn with_priority(self, priority: Priority) -> Request {
        Request { priority, ..self }
    }

    /// The same request with this asked for each switch.
    #[must_use]
    pub fn with_switches(self, switches: SwitchWork) -> Request {
        Request { switches, ..self }
    }

    /// The same request with these extras and no others.
    #[must_use]
    pub fn with_extras(self, extras: impl IntoIterator<Item = ExtraKind>) -> Request {
        Request { extras: extras.into_iter().collect(), ..self }
    }

    /// The same request with leads joined so.
    #[must_use]
    pub fn with_joining(self, joining: LeadJoining) -> Request {
        Request { joining, ..self }
    }

    /// The same request for so many people.
    #[must_use]
    pub fn with_people(self, people: People) -> Request {
        Request { people, ..self }
    }

    /// The request as plans are searched by it: what comes first of walks is no question for two people.
    pub(in crate::plan) fn as_searched(&self) -> Request {
        let priority = if self.people == People::Two { Priority::Operations } else { self.priority };
        Request { priority, ..self.clone() }
    }

    /// Names a room that is locked today.
    ///
    /// # Errors
    ///
    /// [`RequestError::UnknownLocation`].
    pub fn do_without(&mut self, installation: &Installation, name: &str) -> Result<(), RequestError> {
        let location = installation.location_by_id(name).ok_or_else(|| {
            let mut rows = installation.locations().map(|(_, row)| row);
            let called = rows.find(|row| row.name().eq_ignore_ascii_case(name)).map(Location::id);
            let known = installation.locations().map(|(_, row)| row.id());
            let nearest = called.or_else(|| Nearest::default().among(name, known)).map(str::to_owned);
            RequestError::UnknownLocation { name: cut(name), nearest }
        })?;
        self.without.push(location);
        Ok(())
    }

    /// Names a switch that nobody may touch.
    ///
    /// # Errors
    ///
    /// [`RequestError::UnknownPoint`] and [`RequestError::NothingToOperate`].
    pub fn leave_alone(&mut self, installation: &Installation, name: &str) -> Result<(), RequestError> {
        let point = installation.point_by_id(name).ok_or_else(|| {
            let known = installation.points().map(|(_, row)| row.id());
            let nearest = Nearest::default().among(name, known).map(str::to_owned);
            RequestError::UnknownPoint { name: cut(name), nearest }
        })?;
        if installation.kind(installation.point(point).kind()).positions().len() == 0 {
            return Err(RequestError::NothingToOperate { name: cut(name) });
        }
        self.leave.push(point);
        Ok(())
    }

    /// What keeps things from being operated or read, one by one, in the order of the request.
    pub(in crate::plan) fn restrictions(&self) -> Vec<Restriction> {
        let rooms = self.without.iter().map(|&location| Restriction::Locked(location));
        let switches = self.leave.iter().map(|&point| Restriction::LeftAlone(point));
        let back = (self.afterwards == Afterwards::AsFound).then_some(Restriction::PutBack);
        let all: IndexSet<Restriction> = rooms.chain(switches).chain(back).collect();
        all.into_iter().collect()
    }

    /// The same request with only these restrictions.
    pub(in crate::plan) fn with_restrictions(&self, restrictions: &[Restriction]) -> Request {
        let mut request =
            Request { without: Vec::new(), leave: Vec::new(), afterwards: Afterwards::AsLeft, ..self.clone() };
        for restriction in restrictions {
            match *restriction {
                Restriction::Locked(location) => request.without.push(location),
                Restriction::LeftAlone(point) => request.leave.push(point),
                Restriction::PutBack => request.afterwards = Afterwards::AsFound,
            }
        }
        request
    }

    /// Whether a point is in a room that is locked.
    pub(in crate::plan) fn is_locked(&self, installation: &Installation, point: PointId) -> bool {
        installation.point(point).location().is_some_and(|location| self.without.contains(&location))
    }

    /// Whether a point may be operated, as far as the request goes.
    pub(in crate::plan) fn may_operate(&self, installation: &Installation, point: PointId) -> bool {
        !self.leave.contains(&point) && !self.is_locked(installation, point)
    }

    /// Whether something in the way of a test is in a room that is locked, and so stays as it is.
    pub fn is_holder_locked(&self, installation: &Installation, holder: BridgeRef) -> bool {
        holder.location(installation).is_some_and(|location| self.without.contains(&location))
    }

    /// Whether a board is in a room that is locked.
    pub(in crate::plan) fn is_board_locked(&self, installation: &Installation, board: crate::model::BoardId) -> bool {
        installation.board(board).location().is_some_and(|location| self.without.contains(&location))
    }
}

/// What keeps a plan from operating or reading something.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(in crate::plan) enum Restriction {
    /// A room is locked.
    Locked(LocationId),
    /// A switch is not to be touched.
    LeftAlone(PointId),
    /// What nobody could put back as it was found is not operated.
    PutBack,
}

impl Restriction {
    /// Its name: `location:L`, `point:ID` or `restore`.
    pub(in crate::plan) fn name(self, installation: &Installation) -> String {
        match self {
            Restriction::Locked(location) => format!("location:{}", installation.location(location).id()),
            Restriction::LeftAlone(point) => format!("point:{}", installation.point(point).id()),
            Restriction::PutBack => "restore".to_owned(),
        }
    }
}

/// A request that names what is not there.
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
