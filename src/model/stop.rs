//! Where switches are operated.

use super::ids::{LocationId, PlateId, PointId};
use super::installation::Installation;

/// Where a walk stops to operate switches: a plate, or else a location, or else the point itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Stop {
    /// The switches of one plate.
    Plate(PlateId),
    /// Switches without a plate in one location.
    Location(LocationId),
    /// A point with neither.
    Point(PointId),
}

impl Stop {
    /// The stop at which a point is worked.
    pub fn of(installation: &Installation, point: PointId) -> Stop {
        let row = installation.point(point);
        match (row.plate(), row.location()) {
            (Some(plate), _) => Stop::Plate(plate),
            (None, Some(location)) => Stop::Location(location),
            (None, None) => Stop::Point(point),
        }
    }

    /// The stop's name: `plate:P`, `location:L` or `point:ID`.
    pub fn name(self, installation: &Installation) -> String {
        match self {
            Stop::Plate(plate) => format!("plate:{}", installation.plate(plate)),
            Stop::Location(location) => format!("location:{}", installation.location(location).id()),
            Stop::Point(point) => format!("point:{}", installation.point(point).id()),
        }
    }
}
