//! What good readings tested of a circuit: which of them it took, for what is known of it from below.

use rustc_hash::FxHashMap;

use super::column::Column;
use super::judgement::JudgedReading;
use crate::coverage::Tested;
use crate::network::{Network, PairClass, PairId};

/// The required pairs of one circuit.
#[derive(Clone, Default)]
pub(super) struct Needed {
    /// Those to earth and those between live conductors, by [`Column`].
    pub(super) pairs: [Vec<PairId>; 2],
    /// Whether any of each is not tested by good readings.
    pub(super) is_missed: [bool; 2],
}

/// The column that the insulation of a required pair belongs to.
pub(super) fn column_of(class: PairClass) -> Column {
    if class == PairClass::ToEarth { Column::LiveToEarth } else { Column::LiveToLive }
}

/// What is known from below of all the insulation of a circuit in one column.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Share {
    /// No pair of it must be tested.
    NotNeeded,
    /// Some pair was not tested by good readings, or another reading is too low.
    NotKnown,
    /// No more leaks in it than some readings showed.
    Read(Read),
}

/// Readings by their place in the judgement's, ascending.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Read {
    /// Those that vouch for its pairs: no more leaks in it than they showed together.
    pub(super) vouching: Vec<usize>,
    /// Good ones that test all its pairs, whatever the start: no more leaks in it than each of them showed.
    pub(super) whole: Vec<usize>,
}

/// Chooses for pairs the readings that vouch for them. The same copper is asked for once.
pub(super) struct Vouching<'p, 'n> {
    network: &'p Network,
    proven: &'p [Tested<'n>],
    readings: &'p [JudgedReading<'n>],
    /// By number of a coverage and by a pair group.
    known: FxHashMap<(usize, u32), Read>,
}

impl<'p, 'n> Vouching<'p, 'n> {
    pub(super) fn new(
        network: &'p Network,
        proven: &'p [Tested<'n>],
        readings: &'p [JudgedReading<'n>],
    ) -> Vouching<'p, 'n> {
        Vouching { network, proven, readings, known: FxHashMap::default() }
    }

    /// The share of a circuit whose pairs are proven by the coverage of this number.
    ///
    /// Of the good readings that test a pair whatever the start, those of its column before others, the lowest vouches for it,
    /// the first of several: what leaks between its cores is no more than that showed. It is the lowest since a record tells the least of all passes; since
    /// what was read again and had become lower is no better than that; and since the reading that held the most of the board
    /// at once is the lowest, and makes others needless. Where none tests it alone, all that test it in some combination
    /// vouch for it together: one of them did.
    pub(super) fn share(&mut self, number: Option<usize>, needed: &Needed, column: Column) -> Share {
        let pairs = &needed.pairs[column as usize];
        if pairs.is_empty() {
            return Share::NotNeeded;
        }
        let Some(number) = number.filter(|_| !needed.is_missed[column as usize]) else { return Share::NotKnown };
        let mut vouching: Vec<usize> = Vec::new();
        let mut whole: Option<Vec<usize>> = None;
        for &pair in pairs {
            let (proven, readings) = (&self.proven[number], self.readings);
            let group = self.network.pair_group(pair);
            let of_pair =
                self.known.entry((number, group)).or_insert_with(|| vouching_for(proven, readings, pair, column));
            vouching.extend_from_slice(&of_pair.vouching);
            match &mut whole {
                Some(whole) => whole.retain(|reading| of_pair.whole.binary_search(reading).is_ok()),
                None => whole = Some(of_pair.whole.clone()),
            }
        }
        vouching.sort_unstable();
        vouching.dedup();
        Share::Read(Read { vouching, whole: whole.unwrap_or_default() })
    }
}

fn vouching_for(proven: &Tested<'_>, readings: &[JudgedReading<'_>], pair: PairId, column: Column) -> Read {
    let mut whole: Vec<usize> = proven.testers(pair).filter(|&(_, alone)| alone).map(|(reading, _)| reading).collect();
    whole.sort_unstable();
    let lowest = whole.iter().copied().min_by(|&one, &other| {
        let [one, other] = [one, other].map(|reading| &readings[reading]);
        let is_of_others = |row: &JudgedReading<'_>| row.column != Ok(column);
        let [of_one, of_other] = [one, other].map(|row| row.resistance().expect("a good reading has a value"));
        let by_column = is_of_others(one).cmp(&is_of_others(other));
        let by_value = of_one.lower().0.total_cmp(&of_other.lower().0);
        by_column.then(by_value).then(of_one.is_above_lower().cmp(&of_other.is_above_lower()))
    });
    let vouching = match lowest {
        Some(reading) => vec![reading],
        None => proven.testers(pair).map(|(reading, _)| reading).collect(),
    };
    Read { vouching, whole }
}

/// The readings that make a circuit complete, and are put down under something else with no lead on it: where good readings
/// test all its pairs of a column, but those of its `own` (in ascending order) don't, every reading that tests a pair that
/// these leave. Ascending.
pub(super) fn tested_elsewhere(
    coverage: &Tested<'_>,
    proven: &Tested<'_>,
    needed: &Needed,
    own: &[usize],
) -> Vec<usize> {
    let mut found: Vec<usize> = Vec::new();
    for column in [Column::LiveToLive, Column::LiveToEarth] {
        if needed.is_missed[column as usize] {
            continue;
        }
        for &pair in needed.pairs[column as usize].iter().filter(|&&pair| !proven.is_tested_by(pair, own)) {
            found.extend(
                coverage
                    .testers(pair)
                    .map(|(reading, _)| reading)
                    .filter(|reading| own.binary_search(reading).is_err()),
            );
        }
    }
    found.sort_unstable();
    found.dedup();
    found
}
