//! Drawings of circuits: every core of every length a line of its own, contacts as they stand, and what is tested.
//!
//! A [`Drawing`] is laid out from the wiring alone, so that a further pass moves nothing; what changes with the work is
//! the [`DrawnState`] in it. It reads from the supply outwards, across for a desk or paper and down for a phone: an
//! [`Orientation`].
//!
//! Contacts, lamps and coils are drawn after IEC 60617, cores in the colours of IEC 60445, and what is shown by letters
//! in the codes of IEC 60757 (all from memory). No state is told by colour alone:
//!
//! | drawn | means |
//! |---|---|
//! | a full line | a required pair of the core is tested in this length; or nothing is said of tests at all |
//! | long dashes | none is |
//! | dashes and dots, and a `?` behind the name | perhaps one is: it depends on how a switch stood that nobody knows of |
//! | a dashed rung between two cores, or to the sign of earth | this pair is not tested, though others of its cores are |
//! | a narrow line | no test of the core is required |
//! | dashed contacts with a `?` | nobody knows how the switch stands |
//! | an empty circle, a dashed box | the lamp, the load is out |
//! | a dashed box `to DB1/4` | a length that closes a ring leads back there |
//!
//! Colour is a core of a length; a thin line is copper inside a box, joined where there is a dot.

mod colour;
mod dot;
mod grid;
mod inside;
mod lanes;
mod layout;
mod metrics;
mod place;
mod scene;
mod shown;
mod svg;
mod tree;

use std::sync::Arc;

use thiserror::Error;

pub use metrics::Orientation;
pub use shown::DrawnState;

use self::dot::dot_of;
use self::layout::scene_of;
use self::svg::{DrawnCircuit, svg_of};
use crate::model::{CircuitId, Installation, Nearest, OtherInstallation, cut};
use crate::network::Network;

/// The drawing of circuits, one below the other.
///
/// ```
/// use lengthwise::draw::{Drawing, Orientation, DrawnState};
/// use lengthwise::{Input, Need, Network, read_installation, read_test_set};
///
/// let installation = read_installation(Input::toml(&std::fs::read("examples/landing.toml")?))?;
/// let tests = read_test_set(Input::toml(&std::fs::read("examples/landing-as-usual.toml")?), &installation)?;
/// let network = Network::of(installation);
/// let drawing = Drawing::of(&network, Orientation::Down);
/// let svg = drawing.svg(&DrawnState::after(&network, &tests, Need::Ruleset)?)?;
/// assert!(svg.starts_with("<svg") && svg.contains(">S1</text>"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug)]
#[must_use]
pub struct Drawing {
    installation: Arc<Installation>,
    orientation: Orientation,
    ids: Vec<CircuitId>,
    circuits: Vec<DrawnCircuit>,
}

/// No circuit has this id.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("there is no circuit `{name}`")]
#[non_exhaustive]
pub struct UnknownCircuit {
    /// The name given, cut short where it is long.
    pub name: String,
    /// The nearest known id.
    pub nearest: Option<String>,
}

impl UnknownCircuit {
    /// What to do about it.
    pub fn mend(&self) -> String {
        match &self.nearest {
            Some(nearest) => format!("write `{nearest}`, if that is meant"),
            None => "write the id of a circuit".to_owned(),
        }
    }
}

impl Drawing {
    /// The style in each SVG, for the hash in a page's content policy.
    pub const STYLE: &'static str = svg::STYLE;

    /// Of all circuits, in the order of the file.
    ///
    /// Time O(c · lengths + Σ over circuits of strips² + boxes log boxes), with c circuits, a strip a row of boxes that
    /// are fed one from the other; space linear in the installation.
    pub fn of(network: &Network, orientation: Orientation) -> Drawing {
        let circuits: Vec<CircuitId> = network.installation().circuits().map(|(circuit, _)| circuit).collect();
        Drawing::of_circuits(network, &circuits, orientation)
    }

    /// Of the circuits with these ids, in this order. Time and space as [`Drawing::of`].
    ///
    /// # Errors
    ///
    /// Each id that no circuit has.
    pub fn of_named(
        network: &Network,
        ids: &[String],
        orientation: Orientation,
    ) -> Result<Drawing, Vec<UnknownCircuit>> {
        let installation = network.installation();
        let known = || installation.circuits().map(|(_, circuit)| circuit.id());
        let mut nearest = Nearest::default();
        let mut unknown = Vec::new();
        let mut circuits = Vec::new();
        for id in ids {
            match installation.circuit_by_id(id) {
                Some(circuit) => circuits.push(circuit),
                None => unknown
                    .push(UnknownCircuit { name: cut(id), nearest: nearest.among(id, known()).map(str::to_owned) }),
            }
        }
        if unknown.is_empty() { Ok(Drawing::of_circuits(network, &circuits, orientation)) } else { Err(unknown) }
    }

    /// Of these circuits, in this order. Time and space as [`Drawing::of`].
    pub fn of_circuits(network: &Network, circuits: &[CircuitId], orientation: Orientation) -> Drawing {
        let installation = network.installation();
        let drawn = |&circuit: &CircuitId| {
            let row = installation.circuit(circuit);
            let name =
                if row.name() == row.id() { row.id().to_owned() } else { format!("{} {}", row.id(), row.name()) };
            DrawnCircuit { name, scene: scene_of(network, &[circuit], orientation) }
        };
        Drawing {
            installation: network.shared_installation(),
            orientation,
            ids: circuits.to_vec(),
            circuits: circuits.iter().map(drawn).collect(),
        }
    }

    /// As SVG: one `svg` element, with nothing in it that runs or that is loaded, and with a style whose classes begin
    /// with `lw`. Its size is in CSS pixels; it is meant to be shown at that size.
    ///
    /// Time and space linear in what is drawn.
    ///
    /// # Errors
    ///
    /// Where what is to be shown is of another installation.
    pub fn svg(&self, shown: &DrawnState) -> Result<String, OtherInstallation> {
        self.check_for(shown)?;
        Ok(svg_of(&self.installation, &self.circuits, self.orientation, shown))
    }

    /// In the language of Graphviz, for other programs: a node a box with its terminals, an edge a core, a cluster a
    /// location, and nothing laid out. An edge has the id `W1:brown`; a core of which no pair is tested, or perhaps one,
    /// is dashed, one of which no test is asked for dotted.
    ///
    /// Time O(lengths · circuits drawn), space linear in what is drawn. Source of the language:
    /// <https://graphviz.org/doc/info/lang.html>.
    ///
    /// # Errors
    ///
    /// Where what is to be shown is of another installation.
    pub fn dot(&self, shown: &DrawnState) -> Result<String, OtherInstallation> {
        self.check_for(shown)?;
        Ok(dot_of(&self.installation, &self.ids, self.orientation, shown))
    }

    fn check_for(&self, shown: &DrawnState) -> Result<(), OtherInstallation> {
        let other = OtherInstallation { installation: self.installation.name().to_owned() };
        if shown.installation.stamp == self.installation.stamp { Ok(()) } else { Err(other) }
    }
}
