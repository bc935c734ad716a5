//! What good readings tested of a circuit: which of them it took, for what is known of it from below.

use rustc_hash::FxHashMap;

use super::proven::{Needed, Proven};
use super::readings::Judged;
use crate::coverage::Tested;
use crate::network::{Column, Network, PairId};

/// What is known from below of all the insulation of a circuit in one column.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum CircuitShare {
    /// No pair of it must be tested.
    NotNeeded,
    /// Some pair was not tested by good readings, or another reading is too low.
    NotKnown,
    /// No more leaks in it than some readings showed.
    Read(Vouched),
}

/// Readings by their place in the judgement's, ascending.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Vouched {
    /// Those that vouch for pairs: no more leaks in these than they showed together.
    pub(super) vouching: Vec<usize>,
    /// Good ones that test all the pairs, whatever the start: no more leaks in these than each of them showed.
    pub(super) whole: Vec<usize>,
}

impl Vouched {
    /// What is known of all together.
    pub(super) fn together<'v>(all: impl IntoIterator<Item = &'v Vouched>) -> Vouched {
        let all: Vec<&Vouched> = all.into_iter().collect();
        // From the shortest list on, so that the common copper of a board, which every reading tests, costs a circuit
        // no more than its own.
        let whole = all.iter().map(|row| &row.whole).min_by_key(|whole| whole.len());
        let mut found = Vouched { vouching: Vec::new(), whole: whole.cloned().unwrap_or_default() };
        for row in all {
            found.vouching.extend_from_slice(&row.vouching);
            found.whole.retain(|reading| row.whole.binary_search(reading).is_ok());
        }
        found.vouching.sort_unstable();
        found.vouching.dedup();
        found
    }
}

/// Chooses for pairs the readings that vouch for them. The same copper is asked for once.
pub(super) struct Vouching<'p, 'n> {
    network: &'p Network,
    proven: &'p Proven<'n>,
    readings: &'p [Judged<'p>],
    /// By number of a demand and pair group.
    known: FxHashMap<(usize, u32), Vouched>,
}

impl<'p, 'n> Vouching<'p, 'n> {
    pub(super) fn new(network: &'p Network, proven: &'p Proven<'n>, readings: &'p [Judged<'p>]) -> Vouching<'p, 'n> {
        Vouching { network, proven, readings, known: FxHashMap::default() }
    }

    /// The share of a circuit whose pairs are proven by the demand of this number.
    ///
    /// Of the good readings that test a pair whatever the start, those of its column before others, the lowest vouches
    /// for it, the first of several: what leaks between its cores is no more than that showed. It is the lowest since a
    /// record tells the least of all passes; since what was read again and had become lower is no better than that; and
    /// since the reading that held the most of the board at once is the lowest, and makes others needless. Where none
    /// tests it alone, all that test it in some combination vouch for it together: one of them did.
    pub(super) fn share(&mut self, number: Option<usize>, needed: &Needed, column: Column) -> CircuitShare {
        let pairs = &needed.pairs[column as usize];
        if pairs.is_empty() {
            return CircuitShare::NotNeeded;
        }
        let Some(number) = number.filter(|_| !needed.is_missed[column as usize]) else { return CircuitShare::NotKnown };
        let key = |pair: PairId| (number, self.network.pair_group(pair));
        for &pair in pairs {
            let (proven, readings) = (&self.proven.by_demand[number], self.readings);
            self.known.entry(key(pair)).or_insert_with(|| vouching_for(proven, readings, pair, column));
        }
        CircuitShare::Read(Vouched::together(pairs.iter().map(|&pair| &self.known[&key(pair)])))
    }
}

fn vouching_for(proven: &Tested<'_>, readings: &[Judged<'_>], pair: PairId, column: Column) -> Vouched {
    let mut whole: Vec<usize> = proven.testers(pair).filter(|&(_, alone)| alone).map(|(reading, _)| reading).collect();
    whole.sort_unstable();
    let lowest = whole.iter().copied().min_by(|&one, &other| {
        let [one, other] = [one, other].map(|reading| &readings[reading]);
        let of_column = |row: &Judged<'_>| row.column == Ok(column);
        let [of_one, of_other] = [one, other].map(|row| row.resistance().expect("a good reading has a value"));
        of_column(other).cmp(&of_column(one)).then(of_one.by_lower(of_other))
    });
    let vouching = match lowest {
        Some(reading) => vec![reading],
        None => proven.testers(pair).map(|(reading, _)| reading).collect(),
    };
    Vouched { vouching, whole }
}
