//! What a ruleset asks of circuits and boards: by which row, at which test voltage, and what is left in meanwhile.
//!
//! This is the one place that says so. A row is looked up by the greatest nominal voltage between two live conductors.
//! Source: "circuit nominal voltage" in BS 7671:2018 Table 64; that this is the voltage between lines where there are
//! several, a reading of that heading (common practice is 1000 V d.c. on circuits of 690 V, from memory).

use std::sync::Arc;

use fixedbitset::FixedBitSet;
use rustc_hash::{FxHashMap, FxHashSet};

use super::column::{Column, column};
use super::feeding::{FedByBoards, feeders};
use super::graph::{BridgeIndex, Network, PairClass, PairId, Role};
use super::pairs::Need;
use crate::model::{
    BetweenLive, BoardId, BridgeRef, CircuitId, Installation, LengthId, Line, Megohms, Phases, Reading, ReadingAt,
    ReliefReadings, System, Volts,
};
use crate::rules::{Relief, Row, Ruleset};

/// Nominal voltages are rounded: between the lines of 289/500 V there are 500 V, not 500.6 V.
const BETWEEN_LINES: f64 = 1.732_050_807_568_877_2 * 0.995;

/// What is asked of a board as a whole.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct AskedOfBoard<'r> {
    /// The test voltage and the least value; or why the ruleset has none.
    pub(crate) asked: Result<(Volts, Megohms), &'r str>,
    /// The greatest test voltage that a circuit behind it asks for.
    pub(crate) greatest: Option<Volts>,
}

impl Network {
    /// The same network, its circuits and boards tested by another ruleset than
    /// [`Standard::default`](crate::Standard).
    ///
    /// ```
    /// # use lengthwise::{Input, Network, Standard, read_installation};
    /// # let installation = read_installation(Input::toml(&std::fs::read("examples/landing.toml")?))?;
    /// let network = Network::of(installation).with_ruleset(Standard::Iec603646.ruleset().clone());
    /// assert_eq!(network.ruleset().id(), "iec-60364-6");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn with_ruleset(mut self, ruleset: impl Into<Arc<Ruleset>>) -> Network {
        self.ruleset = ruleset.into();
        self.to_earth_only = self.find_to_earth_only();
        self
    }

    /// The circuits of which the ruleset asks nothing between live conductors.
    pub(super) fn find_to_earth_only(&self) -> FxHashSet<CircuitId> {
        let rows = self.installation.circuits().map(|(id, _)| (id, self.row_of(id).between_live));
        let asked_less: Vec<_> = rows.filter(|&(_, asked)| asked != BetweenLive::All).collect();
        let feeders = if asked_less.is_empty() { FxHashSet::default() } else { feeders(self) };
        let is_asked = |&(id, asked): &(CircuitId, BetweenLive)| asked == BetweenLive::Feeders && feeders.contains(&id);
        asked_less.into_iter().filter(|row| !is_asked(row)).map(|(id, _)| id).collect()
    }

    /// The ruleset by which its circuits and boards are tested.
    pub fn ruleset(&self) -> &Ruleset {
        &self.ruleset
    }

    /// The greatest nominal voltage between two live conductors of a circuit: with one line of a supply, line to
    /// neutral; with two or more, √3 times that less 0.5 %, since nominal voltages are rounded; of a circuit without a
    /// way, that of its source.
    ///
    /// The lines are the poles of its way, and those that the cores of its lengths are joined to in service.
    pub fn nominal_voltage(&self, circuit: CircuitId) -> Volts {
        self.nominal_voltages[circuit.index()]
    }

    /// The row of the ruleset for a circuit.
    pub fn row_of(&self, circuit: CircuitId) -> &Row {
        self.ruleset.row(self.installation.circuit(circuit).system(), self.nominal_voltage(circuit))
    }

    /// The relief that a circuit may be tested by: where its file declares that something can't be disconnected, and
    /// the relief's voltage is the lower one.
    pub fn relief_of(&self, circuit: CircuitId) -> Option<&Relief> {
        self.installation.circuit(circuit).relief()?;
        let (volts, _) = self.row_of(circuit).given().ok()?;
        self.ruleset.relief().filter(|relief| relief.volts < volts)
    }

    /// The d.c. test voltage to use on a circuit: the relief's where the circuit may be tested by it, for what can't be
    /// disconnected takes no harm from that one; else the row's. None where the ruleset has no value.
    ///
    /// ```
    /// use lengthwise::model::Volts;
    /// use lengthwise::{Input, Network, read_installation};
    ///
    /// let network = Network::of(read_installation(Input::toml(&std::fs::read("examples/landing.toml")?))?);
    /// let circuit = network.installation().circuit_by_id("C1").expect("it is in the file");
    /// assert_eq!(network.test_voltage(circuit), Some(Volts(500.0)));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn test_voltage(&self, circuit: CircuitId) -> Option<Volts> {
        let (volts, _) = self.row_of(circuit).given().ok()?;
        Some(self.relief_of(circuit).map_or(volts, |relief| relief.volts))
    }

    /// Of which pairs a reading at this voltage counts: of those whose circuits may be read at it, at what the ruleset
    /// asks or at their relief's, within what an instrument that is set to that may give; and of those for which the
    /// ruleset has no value.
    pub(crate) fn counts_at(&self, volts: Option<Volts>) -> CountsFor {
        let counts = |&circuit: &CircuitId| match self.row_of(circuit).given() {
            Ok((asked, _)) => {
                let mut settings =
                    [Some(asked), self.relief_of(circuit).map(|relief| relief.volts)].into_iter().flatten();
                volts.is_some_and(|taken| settings.any(|setting| taken.is_output_at(setting)))
            }
            Err(_) => true,
        };
        let numbered = self.alike.iter().enumerate();
        CountsFor(numbered.filter(|(_, circuit)| counts(circuit)).map(|(number, _)| number).collect())
    }

    /// What is asked of a board with these circuits behind it: the least test voltage of their rows, so that none is
    /// stressed beyond its own, and the greatest of their least values. Without circuits, what low voltage asks.
    pub(crate) fn asked_of_board(&self, circuits: &[CircuitId]) -> AskedOfBoard<'_> {
        let low_voltage = || {
            let installation = &self.installation;
            let lines = if installation.phases() == Phases::One { 1 } else { 3 };
            self.ruleset.row(System::Lv, between_live(installation.nominal_voltage(), lines))
        };
        let mut rows: Vec<&Row> = circuits.iter().map(|&circuit| self.row_of(circuit)).collect();
        if rows.is_empty() {
            rows.push(low_voltage());
        }
        let given = || rows.iter().filter_map(|row| row.given().ok());
        let greatest = given().map(|(volts, _)| volts).max_by(|one, other| one.0.total_cmp(&other.0));
        let least = given().map(|(volts, _)| volts).min_by(|one, other| one.0.total_cmp(&other.0));
        let megohms = given().map(|(_, megohms)| megohms).max_by(|one, other| one.0.total_cmp(&other.0));
        let why_not = || rows.iter().find_map(|row| row.given().err()).expect("a row gives a value or says why not");
        let asked = least.zip(megohms).ok_or_else(why_not);
        AskedOfBoard { asked, greatest }
    }

    /// For each board the least and the greatest test voltage that a circuit behind it asks for.
    pub(crate) fn voltages_of_boards(&self) -> FxHashMap<BoardId, [Volts; 2]> {
        let feeding = FedByBoards::of(self);
        let boards = self.installation.boards();
        let voltages = boards.filter_map(|(id, _)| {
            let AskedOfBoard { asked, greatest } = self.asked_of_board(&feeding.behind(id).1);
            Some((id, [asked.ok()?.0, greatest?]))
        });
        voltages.collect()
    }

    /// Whether a pair must be tested: by its class; by [`Need::Ruleset`] not between live conductors of a circuit of
    /// which the ruleset does not ask it; and never between those of one that the ruleset's relief has tested to earth
    /// only, for the sake of what is left in.
    pub fn requires(&self, need: Need, pair: PairId) -> bool {
        let class = self.pair_class(pair);
        if class == PairClass::ToEarth || !need.requires(class) {
            return need.requires(class);
        }
        let circuit = self.installation.length(self.pair_length(pair)).circuit();
        let is_asked = need != Need::Ruleset || !self.to_earth_only.contains(&circuit);
        is_asked && !self.is_read_to_earth_only(circuit)
    }

    /// The pairs of a group that must be tested, in order.
    pub(crate) fn required_pairs(&self, need: Need, group: u32) -> impl Iterator<Item = PairId> + '_ {
        self.group_pairs(group).filter(move |&pair| self.requires(need, pair))
    }

    fn is_read_to_earth_only(&self, circuit: CircuitId) -> bool {
        let leaves = self.installation.circuit(circuit).relief().is_some_and(|relief| !relief.leaves().is_empty());
        leaves && self.relief_of(circuit).is_some_and(|relief| relief.readings == ReliefReadings::ToEarth)
    }

    /// What electronics voids no reading put down under a circuit at no more than an instrument gives that is set to its
    /// relief's voltage.
    pub(crate) fn left_in(&self, reading: &Reading) -> Vec<BridgeIndex> {
        let left = || {
            let ReadingAt::Circuit(circuit) = reading.at() else { return None };
            let relief = self.relief_of(circuit)?;
            let (asked, _) = self.row_of(circuit).given().ok()?;
            let is_low = reading.volts().is_some_and(|taken| taken < asked && taken.is_output_to(relief.volts));
            let is_meant =
                relief.readings == ReliefReadings::All || column(self, reading.leads()) == Ok(Column::LiveToEarth);
            let leaves = self.installation.circuit(circuit).relief()?.leaves();
            (is_low && is_meant).then(|| leaves.iter().map(|&point| self.bridge(BridgeRef::Point(point))).collect())
        };
        left().unwrap_or_default()
    }
}

/// The greatest nominal voltage between live conductors, by that of line to neutral and how many lines there are.
fn between_live(line_to_neutral: Volts, lines: usize) -> Volts {
    if lines < 2 { line_to_neutral } else { Volts(line_to_neutral.0 * BETWEEN_LINES) }
}

/// Of which pair groups a reading counts, for the sake of the voltage at which it is taken.
#[derive(Clone, Debug)]
pub(crate) struct CountsFor(FixedBitSet);

impl CountsFor {
    /// Whether it counts for this one.
    pub(crate) fn has(&self, network: &Network, group: u32) -> bool {
        self.0.contains(network.asked_alike(group) as usize)
    }
}

/// The greatest nominal voltage of each circuit: see [`Network::nominal_voltage`].
pub(super) fn nominal_voltages<'r>(
    installation: &Installation,
    core_roles: impl Fn(LengthId, usize) -> &'r [Role],
) -> Vec<Volts> {
    let mut lines: Vec<Vec<Line>> = vec![Vec::new(); installation.circuits().len()];
    for (id, length) in installation.lengths() {
        let roles = (0..length.cores().len()).flat_map(|core| core_roles(id, core));
        lines[length.circuit().index()].extend(roles.filter_map(|role| match role {
            Role::Line(line) => Some(*line),
            _ => None,
        }));
    }
    let circuits = installation.circuits().zip(lines);
    let nominal = circuits.map(|((_, circuit), mut lines)| {
        let Some(way) = circuit.way() else { return circuit.nominal_voltage() };
        lines.extend_from_slice(installation.way(way).poles());
        lines.sort_unstable();
        lines.dedup();
        between_live(circuit.nominal_voltage(), lines.len())
    });
    nominal.collect()
}

/// Circuits of which every ruleset asks the same, by numbers: the first circuit with each, and the number of each.
pub(super) fn asked_alike(installation: &Installation, nominal: &[Volts]) -> (Vec<CircuitId>, Vec<u32>) {
    let mut firsts = Vec::new();
    let mut number_of: FxHashMap<(System, u64, bool), u32> = FxHashMap::default();
    let circuits = installation.circuits().zip(nominal);
    let numbers = circuits.map(|((id, circuit), nominal)| {
        *number_of.entry((circuit.system(), nominal.0.to_bits(), circuit.relief().is_some())).or_insert_with(|| {
            firsts.push(id);
            firsts.len() as u32 - 1
        })
    });
    let numbers = numbers.collect();
    (firsts, numbers)
}
