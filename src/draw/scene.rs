//! The lines, boxes and texts of a drawing: all that does not depend on what is tested.
//!
//! Everything has a place along the strips and one across them; only where it is written these become left and down.

use super::lanes::LaneGroup;
use super::metrics::TextSize;
use crate::model::{LengthId, PointId};

/// A place: along, across.
pub(super) type ScenePoint = [f64; 2];

/// From one place to another: the least along and across, and the greatest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Area {
    pub(super) from: ScenePoint,
    pub(super) to: ScenePoint,
}

impl Area {
    pub(super) fn around(areas: impl IntoIterator<Item = Area>) -> Option<Area> {
        areas.into_iter().reduce(|one, other| Area {
            from: [one.from[0].min(other.from[0]), one.from[1].min(other.from[1])],
            to: [one.to[0].max(other.to[0]), one.to[1].max(other.to[1])],
        })
    }

    pub(super) fn overlaps(&self, other: &Area) -> bool {
        (0..2).all(|axis| self.from[axis] < other.to[axis] && other.from[axis] < self.to[axis])
    }

    pub(super) fn grown(self, by: f64) -> Area {
        Area { from: self.from.map(|at| at - by), to: self.to.map(|at| at + by) }
    }
}

/// Where a text stands at its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

#[derive(Clone, Debug)]
pub(super) struct SceneText {
    pub(super) at: ScenePoint,
    pub(super) anchor: Anchor,
    pub(super) size: TextSize,
    pub(super) is_bold: bool,
    pub(super) text: String,
}

#[derive(Clone, Debug)]
pub(super) struct SceneCore {
    pub(super) length: LengthId,
    pub(super) core: usize,
    pub(super) group: LaneGroup,
    pub(super) points: Vec<ScenePoint>,
    /// Whether each end is connected to nothing.
    pub(super) is_open: [bool; 2],
}

/// A length: its cores, and where it is written what they are.
#[derive(Clone, Debug)]
pub(super) struct SceneLength {
    pub(super) length: LengthId,
    pub(super) cores: Vec<SceneCore>,
    /// The straight part before the box that it leads to, along.
    pub(super) straight: [f64; 2],
    /// Where the names of cores are written, along.
    pub(super) names: [f64; 2],
    pub(super) label: SceneText,
}

/// What a box is, for its outline.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum BoxKind {
    Board,
    Point,
    Again,
}

#[derive(Clone, Debug)]
pub(super) struct SceneBox {
    pub(super) kind: BoxKind,
    pub(super) area: Area,
    pub(super) label: SceneText,
    /// Copper inside: thin lines.
    pub(super) ink: Vec<Vec<ScenePoint>>,
    pub(super) dots: Vec<ScenePoint>,
    pub(super) names: Vec<SceneText>,
    pub(super) device: Option<SceneDevice>,
    pub(super) bridges: Vec<SceneBridge>,
    /// Where the contact of a way stands, open.
    pub(super) way_contacts: Vec<ScenePoint>,
}

/// The contacts of a switch: for each of its positions the terminals that it joins.
#[derive(Clone, Debug)]
pub(super) struct SceneDevice {
    pub(super) point: PointId,
    pub(super) positions: Vec<Vec<[ScenePoint; 2]>>,
    pub(super) terminals: Vec<ScenePoint>,
    /// Where it is said that nobody knows how it stands.
    pub(super) query: ScenePoint,
}

/// What a bridge is drawn as.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum BridgeSymbol {
    Lamp,
    Load,
    Coil,
    Electronics,
}

#[derive(Clone, Debug)]
pub(super) struct SceneBridge {
    pub(super) point: PointId,
    pub(super) symbol: BridgeSymbol,
    pub(super) ends: [ScenePoint; 2],
    pub(super) symbol_at: ScenePoint,
    /// A link can stand in its place.
    pub(super) passes: bool,
}

#[derive(Clone, Debug)]
pub(super) struct SceneRoom {
    pub(super) area: Area,
    pub(super) name: SceneText,
}

/// The whole drawing.
#[derive(Clone, Debug)]
pub(super) struct Scene {
    pub(super) size: ScenePoint,
    pub(super) rooms: Vec<SceneRoom>,
    pub(super) plates: Vec<Area>,
    pub(super) boxes: Vec<SceneBox>,
    pub(super) lengths: Vec<SceneLength>,
}
