//! What the good readings of a record test, and why a pair is not tested by them.

use serde::{Deserialize, Serialize};

use super::demand::Demand;
use super::readings::Judged;
use crate::coverage::{Missed, ReadingLists, SharedReasons, Tested, WhyMissed};
use crate::model::{CircuitId, TestSet};
use crate::network::{Column, Need, Network, PairClass, PairId};
use crate::observer::{Stage, Watch};

/// One required pair that is not tested by good readings.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct NotProven {
    /// The circuit of its length.
    pub circuit: String,
    /// The length.
    pub length: String,
    /// The two cores.
    pub cores: [String; 2],
    /// What kind of pair it is.
    pub class: PairClass,
    /// Why.
    pub why: WhyNotProven,
}

/// Why a required pair is not tested by good readings.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "reason", rename_all = "kebab-case")]
#[non_exhaustive]
pub enum WhyNotProven {
    /// Readings test it, but none of them counts: they fail, can't be judged, or were not taken at the voltage that
    /// this pair's circuit asks for.
    NoGoodReading {
        /// These, as a number of [`SharedReasons::reading_lists`].
        readings: usize,
    },
    /// The ruleset has no value for its circuit.
    NoRule,
    /// No reading tests it, as `cover` says.
    #[serde(untagged)]
    NotTested(Missed),
}

/// The required pairs of one circuit.
#[derive(Clone, Default)]
pub(super) struct Needed {
    /// By [`Column`].
    pub(super) pairs: [Vec<PairId>; 2],
    /// Those of both that are not tested by good readings, in order.
    pub(super) missed: Vec<PairId>,
    /// Whether any of each is among these.
    pub(super) is_missed: [bool; 2],
}

impl Needed {
    /// How many pairs must be tested.
    pub(super) fn count(&self) -> usize {
        self.pairs.iter().map(Vec::len).sum()
    }

    /// Whether insulation of the circuit is counted in a column of its board. Every circuit has live conductors that
    /// lie beside earth; not every one has two of them.
    pub(super) fn counts(&self, column: Column) -> bool {
        column == Column::LiveToEarth || !self.pairs[column as usize].is_empty()
    }
}

/// What readings test, whatever they showed; and what those test that are good for each circuit.
pub(super) struct Proven<'n> {
    network: &'n Network,
    pub(super) tested: Tested<'n>,
    /// For each different demand, by the readings that are good for it.
    pub(super) by_demand: Vec<Tested<'n>>,
    /// For each circuit, its number in `by_demand`; none where the ruleset has no value for it.
    of_circuit: Vec<Option<usize>>,
}

impl<'n> Proven<'n> {
    pub(super) fn of(
        network: &'n Network,
        tests: &TestSet,
        tested: Tested<'n>,
        demands: &[Demand<'_>],
        readings: &[Judged<'_>],
        watch: &mut Watch<'_>,
    ) -> Proven<'n> {
        let mut different: Vec<&Demand<'_>> = Vec::new();
        let mut number_of = |demand| {
            different.iter().position(|known| known.is_same(demand)).unwrap_or_else(|| {
                different.push(demand);
                different.len() - 1
            })
        };
        let of_circuit = demands.iter().map(|demand| demand.asked.is_ok().then(|| number_of(demand))).collect();
        let by_demand = different.into_iter().map(|demand| {
            let is_good = |pass, number| {
                let place = readings.binary_search_by_key(&[pass, number], |row| row.name).expect("each was judged");
                let row = &readings[place];
                row.assessment.is_good() && demand.judge(row.recorded, None).is_good()
            };
            Tested::by_some(network, tests, tested.need, is_good, watch)
        });
        Proven { network, by_demand: by_demand.collect(), tested, of_circuit }
    }

    /// The number in `by_demand` of a circuit; none where the ruleset has no value for it.
    pub(super) fn number(&self, circuit: CircuitId) -> Option<usize> {
        self.of_circuit[circuit.index()]
    }

    /// What must be tested of each circuit, and what of that good readings leave.
    pub(super) fn needed(&self) -> Vec<Needed> {
        let mut all = needed(self.network, self.tested.need);
        for (row, number) in all.iter_mut().zip(&self.of_circuit) {
            let is_missed = |pair| !number.is_some_and(|number| self.by_demand[number].is_tested(pair));
            for (pairs, any) in row.pairs.iter().zip(&mut row.is_missed) {
                let before = row.missed.len();
                row.missed.extend(pairs.iter().copied().filter(|&pair| is_missed(pair)));
                *any = row.missed.len() > before;
            }
            row.missed.sort_unstable();
        }
        all
    }

    /// The pairs that good readings miss, circuit by circuit, each with the reason, and what these refer to.
    ///
    /// Time linear in the network, and in the readings that test each group of pairs.
    pub(super) fn missed(&self, needed: &[Needed], watch: &mut Watch<'_>) -> (Vec<NotProven>, SharedReasons) {
        let installation = self.network.installation();
        let mut why_missed = WhyMissed::by(&self.tested);
        let mut lists = ReadingLists::default();
        let mut name = |&pair: &PairId| {
            let length = installation.length(self.network.pair_length(pair));
            let why = match self.number(length.circuit()).map(|_| why_missed.of(pair)) {
                None => WhyNotProven::NoRule,
                Some(Some(missed)) => WhyNotProven::NotTested(missed),
                Some(None) => WhyNotProven::NoGoodReading { readings: self.tested.list_of_testers(pair, &mut lists) },
            };
            NotProven {
                circuit: installation.circuit(length.circuit()).id().to_owned(),
                length: length.id().to_owned(),
                cores: self.network.pair_core_names(pair).map(str::to_owned),
                class: self.network.pair_class(pair),
                why,
            }
        };
        let count = needed.iter().map(|row| row.missed.len()).sum();
        let numbered = needed.iter().flat_map(|row| &row.missed).enumerate();
        let going_on = numbered.take_while(|&(number, _)| watch.goes_on_at(Stage::Missed, number, count));
        let missed = going_on.map(|(_, pair)| name(pair)).collect();
        (missed, SharedReasons { reading_lists: lists.into_lists(), open_contacts: why_missed.into_open_contacts() })
    }
}

fn needed(network: &Network, need: Need) -> Vec<Needed> {
    let installation = network.installation();
    let mut rows = vec![Needed::default(); installation.circuits().len()];
    for pair in network.pairs().filter(|&pair| network.requires(need, pair)) {
        let circuit = installation.length(network.pair_length(pair)).circuit();
        let is_to_earth = network.pair_class(pair) == PairClass::ToEarth;
        let column = if is_to_earth { Column::LiveToEarth } else { Column::LiveToLive };
        rows[circuit.index()].pairs[column as usize].push(pair);
    }
    rows
}
