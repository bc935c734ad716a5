//! What is looked up for each circuit.

use rustc_hash::FxHashMap;

use crate::model::{CircuitId, Conductor, Installation, Length, PlateId, PointId, TerminalRef, WayId};
use crate::network::{Body, Feeding, Network, Obstacle};

/// A network, and what lies where in it.
pub(super) struct Surroundings<'n> {
    pub(super) network: &'n Network,
    pub(super) feeding: Feeding<'n>,
    /// By holder of bridges: what a plan says of it.
    pub(super) obstacles: Vec<Obstacle>,
    pub(super) obstacles_of: FxHashMap<CircuitId, Vec<usize>>,
    pub(super) points_of: Vec<Vec<PointId>>,
    pub(super) points_on: FxHashMap<PlateId, Vec<PointId>>,
    pub(super) lengths_of: Vec<Vec<&'n Length>>,
    /// The circuits whose ways have their neutral on a body.
    pub(super) neutrals: FxHashMap<Body, Vec<CircuitId>>,
}

impl<'n> Surroundings<'n> {
    pub(super) fn of(network: &'n Network) -> Surroundings<'n> {
        let installation = network.installation();
        let obstacles = network.obstacles();
        let mut obstacles_of: FxHashMap<CircuitId, Vec<usize>> = FxHashMap::default();
        for (number, row) in obstacles.iter().enumerate() {
            if let Some(circuit) = row.circuit {
                obstacles_of.entry(circuit).or_default().push(number);
            }
        }
        let mut points_of = vec![Vec::new(); installation.circuits().len()];
        let mut points_on: FxHashMap<PlateId, Vec<PointId>> = FxHashMap::default();
        for (id, point) in installation.points() {
            points_of[point.circuit().index()].push(id);
            if let Some(plate) = point.plate() {
                points_on.entry(plate).or_default().push(id);
            }
        }
        let mut lengths_of = vec![Vec::new(); installation.circuits().len()];
        for (_, length) in installation.lengths() {
            lengths_of[length.circuit().index()].push(length);
        }
        let mut neutrals: FxHashMap<Body, Vec<CircuitId>> = FxHashMap::default();
        for (id, circuit) in installation.circuits() {
            if let Some(way) = circuit.way().filter(|&way| installation.way(way).has_neutral()) {
                neutrals.entry(network.body(neutral_of(way))).or_default().push(id);
            }
        }
        let feeding = Feeding::of(network);
        Surroundings { network, feeding, obstacles, obstacles_of, points_of, points_on, lengths_of, neutrals }
    }

    pub(super) fn installation(&self) -> &'n Installation {
        self.network.installation()
    }

    pub(super) fn point_id(&self, point: PointId) -> String {
        self.installation().point(point).id().to_owned()
    }

    /// The name of a point's location.
    pub(super) fn location(&self, point: PointId) -> Option<String> {
        let location = self.installation().point(point).location()?;
        Some(self.installation().location(location).name().to_owned())
    }

    /// The name of what holds a bridge.
    pub(super) fn holder_name(&self, holder: usize) -> String {
        self.obstacles[holder].name(self.installation())
    }
}

pub(super) fn neutral_of(way: WayId) -> TerminalRef {
    TerminalRef::Way { way, conductor: Conductor::Neutral }
}
