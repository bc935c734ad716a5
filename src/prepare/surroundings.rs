//! What is looked up for each circuit.

use rustc_hash::FxHashMap;

use super::preparation::OpenedPreparation;
use crate::model::{CircuitId, Conductor, Installation, Length, PlateId, PointId, Stop, TerminalRef, WayId};
use crate::network::{Body, Feeding, Isolation, Network, Obstacle};

/// As much is named in a circuit's own list of what can feed a plate or a point; more is listed once, for all circuits.
const FEW: usize = 16;

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
    /// Circuits whose ways have their neutrals on the same body.
    shared_neutrals: Vec<Vec<CircuitId>>,
    /// By body, the number of its list there.
    shared_at: FxHashMap<Body, usize>,
    /// Plates and points that more can feed than a circuit's own list takes.
    much_fed: Vec<(Stop, Isolation)>,
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
        let mut shared_neutrals = Vec::new();
        let mut shared_at = FxHashMap::default();
        for (_, circuit) in installation.circuits() {
            let body = circuit.way().map(|way| network.body(neutral_of(way)));
            if let Some((body, circuits)) = body.and_then(|body| neutrals.remove_entry(&body))
                && circuits.len() > 1
            {
                shared_at.insert(body, shared_neutrals.len());
                shared_neutrals.push(circuits);
            }
        }
        let feeding = Feeding::of(network);
        let mut found = Surroundings {
            network,
            feeding,
            obstacles,
            obstacles_of,
            points_of,
            points_on,
            lengths_of,
            shared_neutrals,
            shared_at,
            much_fed: Vec::new(),
        };
        let mut stops: Vec<Stop> = installation.points().map(|(id, _)| found.opened_with(id)).collect();
        stops.sort_unstable();
        stops.dedup();
        for stop in stops {
            let isolation = found.feeding.isolation(&found.bodies_in(stop), &[]);
            if isolation.len() > FEW {
                found.much_fed.push((stop, isolation));
            }
        }
        found
    }

    /// What is opened with a point: all that is on one plate with it.
    pub(super) fn opened_with(&self, point: PointId) -> Stop {
        self.installation().point(point).plate().map_or(Stop::Point(point), Stop::Plate)
    }

    /// The copper of all terminals in what is opened.
    pub(super) fn bodies_in(&self, opened: Stop) -> Vec<Body> {
        let installation = self.installation();
        let points = match &opened {
            Stop::Plate(plate) => &self.points_on[plate][..],
            Stop::Point(point) => std::slice::from_ref(point),
            Stop::Location(_) => &[],
        };
        let terminals = points.iter().flat_map(|&point| {
            let row = installation.point(point);
            let count = installation.kind(row.kind()).terminals.len() + row.extra_terminals.len();
            (0..count as u16).map(move |terminal| TerminalRef::Point { point, terminal })
        });
        terminals.map(|terminal| self.network.body(terminal)).collect()
    }

    /// What can feed this, where that is much.
    pub(super) fn much_that_feeds(&self, opened: Stop) -> Option<&Isolation> {
        let place = self.much_fed.binary_search_by_key(&opened, |row| row.0).ok()?;
        Some(&self.much_fed[place].1)
    }

    /// What much can feed, each with all of that.
    pub(super) fn opened(&self) -> Vec<OpenedPreparation> {
        let rows = self.much_fed.iter().map(|(stop, isolation)| OpenedPreparation {
            opened: stop.name(self.installation()),
            steps: self.steps_of(isolation),
        });
        rows.collect()
    }

    /// The names of the circuits whose neutrals are on the same copper.
    pub(super) fn shared_neutrals(&self) -> Vec<Vec<String>> {
        let name = |&circuit: &CircuitId| self.installation().circuit(circuit).id().to_owned();
        self.shared_neutrals.iter().map(|circuits| circuits.iter().map(name).collect()).collect()
    }

    /// The number of the list of the circuits whose neutrals are on the same copper as a terminal; none where there is
    /// no other.
    pub(super) fn shared_neutral(&self, terminal: TerminalRef) -> Option<usize> {
        self.shared_at.get(&self.network.body(terminal)).copied()
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
