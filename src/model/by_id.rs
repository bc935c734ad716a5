//! The things of an installation by their ids.

use super::{BoardId, CircuitId, Installation, LengthId, LocationId, PlateId, PointId, WayId};

/// Everything that has an id, each list in the order of ids.
#[derive(Clone, Debug)]
pub(crate) struct ById {
    locations: Vec<LocationId>,
    plates: Vec<PlateId>,
    boards: Vec<BoardId>,
    /// By board, then by id.
    ways: Vec<WayId>,
    circuits: Vec<CircuitId>,
    points: Vec<PointId>,
    lengths: Vec<LengthId>,
}

impl ById {
    fn of(installation: &Installation) -> ById {
        let mut by_id = ById {
            locations: installation.locations().map(|(id, _)| id).collect(),
            plates: (0..installation.plates.len() as u32).map(PlateId).collect(),
            boards: installation.boards().map(|(id, _)| id).collect(),
            ways: installation
                .boards()
                .flat_map(|(board, row)| (0..row.ways().len() as u32).map(move |way| WayId { board, way }))
                .collect(),
            circuits: installation.circuits().map(|(id, _)| id).collect(),
            points: installation.points().map(|(id, _)| id).collect(),
            lengths: installation.lengths().map(|(id, _)| id).collect(),
        };
        by_id.locations.sort_unstable_by_key(|&id| installation.location(id).id());
        by_id.plates.sort_unstable_by_key(|&id| installation.plate(id));
        by_id.boards.sort_unstable_by_key(|&id| installation.board(id).id());
        by_id.ways.sort_unstable_by_key(|&id| (id.board, installation.way(id).id()));
        by_id.circuits.sort_unstable_by_key(|&id| installation.circuit(id).id());
        by_id.points.sort_unstable_by_key(|&id| installation.point(id).id());
        by_id.lengths.sort_unstable_by_key(|&id| installation.length(id).id());
        by_id
    }
}

/// The one of a sorted list that has this key.
fn find<I: Copy, K: Ord>(sorted: &[I], wanted: K, key: impl FnMut(&I) -> K) -> Option<I> {
    sorted.binary_search_by_key(&wanted, key).ok().map(|place| sorted[place])
}

/// Each takes time logarithmic in the number of such things; the first also sorts all of the installation's ids.
impl Installation {
    fn by_id(&self) -> &ById {
        self.by_id.get_or_init(|| ById::of(self))
    }

    /// The location with this id.
    pub fn location_by_id(&self, id: &str) -> Option<LocationId> {
        find(&self.by_id().locations, id, |&location| self.location(location).id())
    }

    /// The plate with this name.
    pub fn plate_by_name(&self, name: &str) -> Option<PlateId> {
        find(&self.by_id().plates, name, |&plate| self.plate(plate))
    }

    /// The board with this id.
    pub fn board_by_id(&self, id: &str) -> Option<BoardId> {
        find(&self.by_id().boards, id, |&board| self.board(board).id())
    }

    /// The way with this full name, `BOARD/WAY`.
    pub fn way_by_name(&self, name: &str) -> Option<WayId> {
        let (board, way) = name.split_once('/')?;
        find(&self.by_id().ways, (self.board_by_id(board)?, way), |&id| (id.board, self.way(id).id()))
    }

    /// The circuit with this id.
    pub fn circuit_by_id(&self, id: &str) -> Option<CircuitId> {
        find(&self.by_id().circuits, id, |&circuit| self.circuit(circuit).id())
    }

    /// The point with this id.
    pub fn point_by_id(&self, id: &str) -> Option<PointId> {
        find(&self.by_id().points, id, |&point| self.point(point).id())
    }

    /// The length with this id.
    pub fn length_by_id(&self, id: &str) -> Option<LengthId> {
        find(&self.by_id().lengths, id, |&length| self.length(length).id())
    }
}
