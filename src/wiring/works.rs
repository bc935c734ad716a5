//! What makes each load work.

use indexmap::IndexSet;
use rustc_hash::FxHashSet;
use serde::{Deserialize, Serialize};

use super::circuits::CircuitsAt;
use super::decided::{Decided, each_turns};
use super::service::{Fed, Service};
use crate::model::{PointId, TerminalRef};
use crate::network::{Body, DeviceIndex, Network, Role};
use crate::reading::{Diagram, Electronics};

/// When a load works, over all positions of the devices at points.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Working {
    /// In every configuration.
    Always,
    /// In none.
    Never,
    /// In some.
    Depends,
    /// More devices decide it than can be worked out.
    NotWorkedOut,
}

/// What makes one load work.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct LoadWorks {
    /// The point that it is in.
    pub point: String,
    /// The point's kind.
    pub kind: String,
    /// The point's terminals that it is between.
    pub between: [String; 2],
    /// When it works.
    pub works: Working,
    /// The devices whose position makes a difference in at least one configuration of the others.
    pub devices: Vec<String>,
    /// Those of two positions each of which turns the load over whatever all others do.
    pub each_turns: Vec<String>,
    /// For which positions, where it depends on any.
    #[serde(flatten)]
    pub decided: Decided,
    /// Of a load that works in no configuration, but does with the electronics of other points taken for closed
    /// contacts (a dimmer, a sensor): these points, on the way with the fewest of them. The rest is then said with all
    /// electronics closed.
    pub through: Vec<String>,
    /// What its two ends are joined to where it works, those of the first end first.
    pub conductors: Vec<String>,
    /// The circuits of the ways and sources that its ends reach without passing a bar, wherever contacts stand; none
    /// where it never works.
    pub circuits: Vec<String>,
}

/// What makes each load of an installation work: what lights what.
///
/// In service all devices of boards are on; those of points are in any position, what can't be operated as it stands, a
/// contactor either way: a load behind a contactor depends on the contactor, not on what switches its coil. A **load**
/// uses what it is between (a lamp, an element, a coil, electronics), or is an outlet that something may be plugged
/// into. It **works** where, over copper and closed contacts, each end is joined to one supply conductor alone, one of
/// them a line, the other another line or the neutral; or to the two ends of a source. Earth beside the neutral or
/// beside an end of a source does not count.
///
/// It is read off the file, and says nothing of insulation.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
#[must_use]
pub struct Works {
    /// The format of this data; 1.
    pub format: u32,
    /// The loads, in the order of the file.
    pub loads: Vec<LoadWorks>,
}

/// A load: its point, and its two terminals by their numbers.
#[derive(Clone, Copy)]
struct Load {
    point: PointId,
    between: [u16; 2],
}

impl Load {
    fn terminals(self) -> [TerminalRef; 2] {
        self.between.map(|terminal| TerminalRef::Point { point: self.point, terminal })
    }

    fn ends(self, network: &Network) -> [Body; 2] {
        self.terminals().map(|terminal| network.body(terminal))
    }
}

impl Works {
    /// Works out what makes each load work.
    ///
    /// Exact, by decision diagrams of the devices that bear on one another; where these are too large for
    /// [`TableLimits`](crate::TableLimits), a load is [`Working::NotWorkedOut`]. Time linear in the network, in
    /// the diagrams, and in loads times sources.
    ///
    /// ```
    /// use lengthwise::wiring::Works;
    /// use lengthwise::{Input, Network, read_installation};
    ///
    /// let installation = read_installation(Input::toml(&std::fs::read("examples/landing.toml")?))?;
    /// let works = Works::of(&Network::of(installation));
    /// assert_eq!((works.loads[0].point.as_str(), works.loads[0].each_turns.join(" ")), ("E1", "S1 S2".to_owned()));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn of(network: &Network) -> Works {
        Works::fed_by(network, &CircuitsAt::of(network))
    }

    /// The same, where it is known already which circuits feed what.
    pub(super) fn fed_by(network: &Network, circuits: &CircuitsAt) -> Works {
        let loads = loads(network);
        let mut bodies: Vec<Body> = loads.iter().flat_map(|load| load.ends(network)).collect();
        bodies.sort_unstable();
        bodies.dedup();
        let open = Service::of(network, Electronics::Open, &bodies);
        let first: Vec<Fed> = loads.iter().map(|load| open.works(network, load.ends(network))).collect();
        let never = |found: &Fed| found.as_ref().is_some_and(|(works, _)| works.is_never());
        let passes = network.bridges().iter().any(|bridge| bridge.elements.iter().any(|element| element.passes));
        let closed = (passes && first.iter().any(never)).then(|| Service::of(network, Electronics::Closed, &bodies));
        let rows = loads.iter().zip(first).map(|(&load, found)| {
            let closed = closed.as_ref().filter(|_| never(&found));
            let by_electronics = closed.and_then(|closed| {
                let found = closed.works(network, load.ends(network)).filter(|(works, _)| !works.is_never())?;
                Some((closed.through(network, load.ends(network), &found.1), found))
            });
            let (through, found) = match by_electronics {
                Some((through, found)) => (through, Some(found)),
                None => (Vec::new(), found),
            };
            let id = |point: PointId| network.installation().point(point).id().to_owned();
            let through = through.into_iter().map(id).collect();
            LoadWorks { through, ..LoadWorks::of(network, load, found, circuits) }
        });
        Works { format: 1, loads: rows.collect() }
    }
}

impl LoadWorks {
    fn of(network: &Network, load: Load, found: Fed, circuits: &CircuitsAt) -> LoadWorks {
        let installation = network.installation();
        let name = |device: DeviceIndex| network.device_name(device);
        let row = LoadWorks {
            point: installation.point(load.point).id().to_owned(),
            kind: installation.kind(installation.point(load.point).kind()).name().to_owned(),
            between: load.between.map(|terminal| installation.point_terminal_name(load.point, terminal).to_owned()),
            works: Working::NotWorkedOut,
            devices: Vec::new(),
            each_turns: Vec::new(),
            decided: Decided::default(),
            through: Vec::new(),
            conductors: Vec::new(),
            circuits: Vec::new(),
        };
        let told = |(works, roles): (Diagram, [Vec<Role>; 2])| {
            let working = match (works.is_always(), works.is_never()) {
                (true, _) => Working::Always,
                (_, true) => Working::Never,
                _ => Working::Depends,
            };
            let turn = each_turns(&works, &network.limits().tables)?;
            let conductors: IndexSet<String> = roles.iter().flatten().map(|role| role.name(installation)).collect();
            let fed_by = if working == Working::Never { Vec::new() } else { circuits.at(load.terminals()) };
            Some(LoadWorks {
                works: working,
                devices: works.devices().into_iter().map(|(device, _)| name(device)).collect(),
                each_turns: turn.into_iter().map(name).collect(),
                decided: if working == Working::Depends { Decided::of(network, &works)? } else { Decided::default() },
                conductors: conductors.into_iter().collect(),
                circuits: fed_by.into_iter().map(|circuit| installation.circuit(circuit).id().to_owned()).collect(),
                ..row.clone()
            })
        };
        found.and_then(told).unwrap_or(row)
    }
}

/// The loads, in the order of the file.
fn loads(network: &Network) -> Vec<Load> {
    let installation = network.installation();
    let with_core: FxHashSet<Body> = network.core_bodies().iter().copied().collect();
    let mut all = Vec::new();
    for (point, row) in installation.points() {
        let kind = installation.kind(row.kind());
        let of_bridges = kind.bridges.iter().filter(|bridge| bridge.is_load).map(|bridge| bridge.between);
        let own = of_bridges
            .chain(kind.outlet())
            .filter(|ends| ends.iter().all(|&end| kind.terminals[usize::from(end)] != "E"));
        let own: Vec<Load> = own.map(|between| Load { point, between }).collect();
        // Where some of its loads have a core at both ends, those that have not are not connected at all.
        let is_wired = |load: &Load| load.ends(network).iter().all(|body| with_core.contains(body));
        let some_are = own.iter().any(is_wired);
        all.extend(own.into_iter().filter(|load| !some_are || is_wired(load)));
    }
    all
}
