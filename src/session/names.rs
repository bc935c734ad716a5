//! What things are called and where they are, for a program that shows them.

use serde::Serialize;

use crate::model::{Installation, LocationId};

/// The names in an installation, each list in the order of the file.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Names {
    /// The format of this data; 1.
    pub format: u32,
    /// The installation.
    pub installation: String,
    /// The locations.
    pub locations: Vec<NamedLocation>,
    /// The boards.
    pub boards: Vec<NamedBoard>,
    /// The circuits.
    pub circuits: Vec<NamedCircuit>,
    /// The points.
    pub points: Vec<NamedPoint>,
}

/// A location.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct NamedLocation {
    /// The id.
    pub id: String,
    /// The name; the id where the file has none.
    pub name: String,
}

/// A board.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct NamedBoard {
    /// The id.
    pub id: String,
    /// The id of its location.
    pub location: Option<String>,
}

/// A circuit.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct NamedCircuit {
    /// The id.
    pub id: String,
    /// The name; the id where the file has none.
    pub name: String,
    /// The full name of its way.
    pub way: Option<String>,
}

/// A point.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct NamedPoint {
    /// The id.
    pub id: String,
    /// The id of its kind.
    pub kind: String,
    /// The id of its circuit.
    pub circuit: String,
    /// The id of its location.
    pub location: Option<String>,
    /// The plate that it shares with others.
    pub plate: Option<String>,
}

impl Names {
    /// Of an installation. Time and space linear in it.
    pub fn of(installation: &Installation) -> Names {
        let place = |location: Option<LocationId>| location.map(|id| installation.location(id).id().to_owned());
        let locations = installation.locations();
        Names {
            format: 1,
            installation: installation.name().to_owned(),
            locations: locations
                .map(|(_, row)| NamedLocation { id: row.id().to_owned(), name: row.name().to_owned() })
                .collect(),
            boards: installation
                .boards()
                .map(|(_, row)| NamedBoard { id: row.id().to_owned(), location: place(row.location()) })
                .collect(),
            circuits: installation
                .circuits()
                .map(|(_, row)| NamedCircuit {
                    id: row.id().to_owned(),
                    name: row.name().to_owned(),
                    way: row.way().map(|way| installation.way_name(way)),
                })
                .collect(),
            points: installation
                .points()
                .map(|(_, row)| NamedPoint {
                    id: row.id().to_owned(),
                    kind: installation.kind(row.kind()).name().to_owned(),
                    circuit: installation.circuit(row.circuit()).id().to_owned(),
                    location: place(row.location()),
                    plate: row.plate().map(|plate| installation.plate(plate).to_owned()),
                })
                .collect(),
        }
    }
}
