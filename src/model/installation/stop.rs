//! Where switches are operated, and circuits without a way are read.

use crate::model::{Installation, LocationId, PlateId, PointId};

/// Where a walk stops to operate switches or to read at a source: a plate, or else a location, or else the point itself.
///
/// # Examples
///
/// ```
/// use lengthwise::model::Stop;
/// use lengthwise::{Input, read_installation};
///
/// let landing = read_installation(Input::toml(&std::fs::read("examples/landing.toml")?))?;
/// let (point, _) = landing.points().next().expect("it has points");
/// assert!(Stop::of(&landing, point).name(&landing).contains(':'));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum Stop {
    /// The switches of one plate.
    Plate(PlateId),
    /// Points without a plate in one location.
    Location(LocationId),
    /// A point with neither.
    Point(PointId),
}

impl Stop {
    /// The stop at which a point is worked or read.
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
