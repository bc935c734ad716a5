//! Boards as a whole: what the readings of their circuits come to in parallel.
//!
//! Both ends are proven, and by different readings. **From below** every needed pair has a reading that vouches for it
//! ([`CircuitShare`]): all that leaks on the board leaks in at least one of these, so it is at most what they showed
//! together, each counted once. **From above** conductances add up only where they can't be the same leakage read twice
//! ([`Reaches`]): readings that reach common copper make a set, and of a set only the lowest counts.
//!
//! Not taken: the parallel of the circuits' figures, as the trade does it by hand. A joined reading, a feeder read with
//! the board behind it on, or a neutral bar counts once for each circuit there; and parts of a circuit that were read
//! one by one count as one of them. Where each circuit was read once, by a reading that shares nothing, it is the same.

use serde::{Deserialize, Serialize};

use super::circuits::JudgedCircuit;
use super::copper::Reaches;
use super::demand::{Asked, Demand};
use super::proven::Needed;
use super::readings::Judged;
use super::resistance::{Against, Resistance};
use super::share::{CircuitShare, Vouched};
use super::verdict::Verdict;
use crate::model::{BoardId, CircuitId, Installation, ReadingAt, TestSet, Volts};
use crate::network::{Column, FedByBoards, Network};
use crate::observer::{Stage, Watch};

/// A reading of all may have come out higher than another one by so much of it, by the instrument's error: 30 %, IEC
/// 61557-2 (from memory). Then it is taken to be no higher; one that is higher still is left out.
const ERROR: f64 = 0.3;

/// All insulation of a board in one column, in parallel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Combined {
    /// What is known of it.
    #[serde(flatten)]
    pub resistance: Resistance,
    /// Whether a circuit needs a test in this column. Where none does, what is not decided holds nothing up.
    pub needed: bool,
    /// Of the board's own circuits those that have a figure.
    pub circuits: Vec<String>,
    /// Those that have none.
    pub without: Vec<String>,
    /// Those, with a figure or without, that are not tested by good readings wherever this column needs it, or have a
    /// reading that is too low: their share is not known, and so nothing is known from below.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub incomplete: Vec<String>,
    /// The boards that it feeds at once with such a circuit, of their own or behind them: nothing is known from below
    /// for their sake either.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub incomplete_behind: Vec<String>,
    /// How it compares with the least value for the board; none where the ruleset has no value.
    pub against: Option<Against>,
}

/// One board, judged as a whole.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct BoardJudgement {
    /// The board.
    pub board: String,
    /// What becomes of it: only what its circuits come to together, and the readings at the board itself.
    pub verdict: Verdict,
    /// What is asked of it, the voltage for readings at the board itself; none where the ruleset asks nothing, and
    /// `no_value` says why.
    pub asked: Option<Asked>,
    /// The greatest test voltage that a circuit behind it asks for, where that is above the board's own.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub greatest_volts: Option<Volts>,
    /// Why the ruleset asks nothing, in its words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub no_value: Option<String>,
    /// Its insulation between live conductors; none where no circuit needs or has a figure there.
    pub live_to_live: Option<Combined>,
    /// Its insulation to earth; none where it has no circuit.
    pub live_to_earth: Option<Combined>,
    /// The readings taken at the board itself, as [pass, reading].
    pub readings: Vec<[usize; 2]>,
    /// The boards that it feeds at once. Circuits that lists here do not name are in theirs
    /// ([`Judgement::behind`](super::Judgement::behind)).
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub behind: Vec<String>,
    /// Those of its own circuits that fail or are not complete.
    pub not_passed: Vec<String>,
    /// The boards that it feeds at once with such a circuit, of their own or behind them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub not_passed_behind: Vec<String>,
}

impl BoardJudgement {
    /// What a column comes to.
    pub fn combined(&self, column: Column) -> Option<&Combined> {
        match column {
            Column::LiveToLive => self.live_to_live.as_ref(),
            Column::LiveToEarth => self.live_to_earth.as_ref(),
        }
    }
}

/// What boards are judged from.
pub(super) struct Boards<'j> {
    installation: &'j Installation,
    feeding: &'j FedByBoards,
    demands: &'j [Demand<'j>],
    readings: &'j [Judged<'j>],
    needed: &'j [Needed],
    circuits: &'j [JudgedCircuit],
    reaches: Reaches,
    /// For each board, the readings at it.
    readings_at: Vec<Vec<usize>>,
    /// For each board, whether a circuit of its own or behind it fails or is not complete.
    not_passed: Vec<bool>,
    /// The same of what is known of it from below, by [`Column`].
    incomplete: [Vec<bool>; 2],
}

impl<'j> Boards<'j> {
    pub(super) fn new(
        network: &'j Network,
        tests: &TestSet,
        feeding: &'j FedByBoards,
        demands: &'j [Demand<'j>],
        readings: &'j [Judged<'j>],
        needed: &'j [Needed],
        circuits: &'j [JudgedCircuit],
    ) -> Boards<'j> {
        let mut readings_at = vec![Vec::new(); demands.len()];
        for (number, row) in readings.iter().enumerate() {
            if let ReadingAt::Board(board) = row.recorded.at() {
                readings_at[board.index()].push(number);
            }
        }
        let mut boards = Boards {
            installation: network.installation(),
            feeding,
            demands,
            readings,
            needed,
            circuits,
            reaches: Reaches::of(network, tests, readings),
            readings_at,
            not_passed: Vec::new(),
            incomplete: [Vec::new(), Vec::new()],
        };
        boards.not_passed = feeding.any_behind(|id| is_not_passed(&circuits[id.index()]));
        boards.incomplete = Column::BOTH.map(|column| feeding.any_behind(|id| boards.is_incomplete(id, column)));
        boards
    }

    /// Whether insulation of a circuit counts in a column.
    fn counts(&self, circuit: CircuitId, column: Column) -> bool {
        self.needed[circuit.index()].counts(column)
    }

    /// Whether that is so, and nothing is known of it from below.
    fn is_incomplete(&self, circuit: CircuitId, column: Column) -> bool {
        let share = &self.circuits[circuit.index()].shares[column as usize];
        self.counts(circuit, column) && !matches!(share, CircuitShare::Read(_))
    }

    /// Judges every board that has a circuit or a reading: its own circuits with those of all boards behind it, each
    /// circuit once, in the order of the file; those before an observer stops it.
    ///
    /// Time O(boards × (circuits + readings)) at worst, beside what the readings reach.
    pub(super) fn judge(&self, watch: &mut Watch<'_>) -> Vec<BoardJudgement> {
        let boards = self.installation.boards();
        let count = boards.len();
        let going_on = boards.enumerate().take_while(|&(number, _)| watch.goes_on_at(Stage::Boards, number, count));
        going_on.filter_map(|(_, (board, _))| self.judge_board(board)).collect()
    }

    fn judge_board(&self, id: BoardId) -> Option<BoardJudgement> {
        let (boards, circuits) = self.feeding.behind(id);
        let mut at_boards: Vec<usize> =
            boards.iter().flat_map(|board| &self.readings_at[board.index()]).copied().collect();
        at_boards.sort_unstable();
        let at_board = &self.readings_at[id.index()];
        if circuits.is_empty() && at_board.is_empty() {
            return None;
        }
        let demand = &self.demands[id.index()];
        let own = self.feeding.own_circuits(id);
        let fed: Vec<BoardId> = self.feeding.fed_at_once(id).collect();
        let board = OfBoard { id, of: self, demand, boards, circuits, own, fed: &fed, at_boards };
        let [to_live, to_earth] = Column::BOTH.map(|column| board.combine(column));
        let all_passed = !self.not_passed[id.index()];
        let direct = board.at_boards.iter().map(|&number| self.readings[number].assessment.verdict.into());
        let together = [&to_live, &to_earth].into_iter().flatten().map(|row| match row.against {
            Some(Against::Below) => Verdict::Fail,
            Some(Against::NotDecided) if row.needed => Verdict::NotComplete,
            Some(Against::AtLeast | Against::NotDecided) => Verdict::Pass,
            None => Verdict::NotComplete,
        });
        let worst = direct.chain(together).max().unwrap_or(Verdict::NotComplete);
        Some(BoardJudgement {
            board: self.installation.board(id).id().to_owned(),
            verdict: if all_passed { worst } else { worst.max(Verdict::NotComplete) },
            asked: demand.asked.as_ref().ok().copied(),
            greatest_volts: demand.greatest,
            no_value: demand.asked.as_ref().err().cloned(),
            live_to_live: to_live,
            live_to_earth: to_earth,
            readings: at_board.iter().map(|&number| self.readings[number].name).collect(),
            behind: fed.iter().map(|&fed| self.installation.board(fed).id().to_owned()).collect(),
            not_passed: board.names(|_, row| is_not_passed(row)),
            not_passed_behind: board.fed_with(&self.not_passed),
        })
    }
}

/// Whether a circuit fails or is not complete.
fn is_not_passed(row: &JudgedCircuit) -> bool {
    row.answer.verdict >= Verdict::NotComplete
}

/// One board and what bears on it.
struct OfBoard<'b, 'j> {
    id: BoardId,
    of: &'b Boards<'j>,
    demand: &'b Demand<'j>,
    /// The board and those behind it.
    boards: Vec<BoardId>,
    /// Their circuits.
    circuits: Vec<CircuitId>,
    /// The board's own.
    own: &'b [CircuitId],
    /// The boards that it feeds at once.
    fed: &'b [BoardId],
    /// Readings at any of these boards.
    at_boards: Vec<usize>,
}

impl OfBoard<'_, '_> {
    /// Whether something holds for any circuit.
    fn any(&self, holds: impl Fn(CircuitId, &JudgedCircuit) -> bool) -> bool {
        self.circuits.iter().any(|&id| holds(id, &self.of.circuits[id.index()]))
    }

    /// The names of those of its own circuits for which something holds.
    fn names(&self, holds: impl Fn(CircuitId, &JudgedCircuit) -> bool) -> Vec<String> {
        let circuits = self.own.iter().map(|&id| (id, &self.of.circuits[id.index()]));
        circuits.filter(|&(id, row)| holds(id, row)).map(|(_, row)| row.answer.circuit.clone()).collect()
    }

    /// The names of the boards fed at once for which something holds.
    fn fed_with(&self, holds: &[bool]) -> Vec<String> {
        let fed = self.fed.iter().filter(|fed| holds[fed.index()]);
        fed.map(|&fed| self.of.installation.board(fed).id().to_owned()).collect()
    }

    /// What a column comes to.
    fn combine(&self, column: Column) -> Option<Combined> {
        let counts = |id: CircuitId| self.of.counts(id, column);
        let has_figure = |_, row: &JudgedCircuit| row.answer.figure(column).is_some();
        if !self.any(|id, row| has_figure(id, row) || counts(id)) {
            return None;
        }
        let incomplete = &self.of.incomplete[column as usize];
        let above = self.at_most(column).unwrap_or(Resistance::NOT_KNOWN);
        let is_known = !incomplete[self.id.index()] && !self.is_read_too_low(column);
        let below = if is_known { self.at_least(column, above) } else { Resistance::NOT_KNOWN };
        let resistance = Resistance::between(below, above);
        let against = self.demand.asked.as_ref().ok().map(|asked| resistance.against(asked.megohms));
        Some(Combined {
            resistance,
            needed: self.any(|id, _| counts(id)),
            circuits: self.names(has_figure),
            without: self.names(|id, row| !has_figure(id, row) && counts(id)),
            incomplete: self.names(|id, _| self.of.is_incomplete(id, column)),
            incomplete_behind: self.fed_with(incomplete),
            against,
        })
    }

    /// Whether a sound reading at one of the boards is below what is asked, at whatever voltage.
    fn is_read_too_low(&self, column: Column) -> bool {
        let mut direct = self.at_boards.iter().map(|&number| &self.of.readings[number]);
        direct.any(|row| row.bears_on(column) && self.demand.is_too_low(row))
    }

    /// What readings showed, each once.
    fn shown(&self, mut readings: Vec<usize>) -> impl Iterator<Item = Resistance> {
        readings.sort_unstable();
        readings.dedup();
        readings.into_iter().filter_map(|reading| self.of.readings[reading].shown())
    }

    /// What all the insulation is at least, where every share is known and `above` is what it is at most.
    fn at_least(&self, column: Column, above: Resistance) -> Resistance {
        let shares =
            self.circuits.iter().filter_map(|id| match &self.of.circuits[id.index()].shares[column as usize] {
                CircuitShare::Read(vouched) => Some(vouched),
                CircuitShare::NotNeeded | CircuitShare::NotKnown => None,
            });
        let Vouched { vouching, whole } = Vouched::together(shares);
        let Some(below) = Resistance::parallel(self.shown(vouching)) else { return Resistance::NOT_KNOWN };
        // A reading that tests all of it is a bound by itself, unless another one contradicts it.
        let whole = Resistance::least(self.shown(whole)).and_then(|whole| whole.no_higher_than(above, ERROR));
        whole.map_or(below, |whole| below.or_at_least(whole))
    }

    /// What all the insulation is at most; none where nothing bounds it.
    fn at_most(&self, column: Column) -> Option<Resistance> {
        let figures = self.circuits.iter().flat_map(|id| &self.of.circuits[id.index()].in_figures[column as usize]);
        let is_direct = |row: &Judged<'_>| row.column == Ok(column) && row.resistance().is_some();
        let direct = self.at_boards.iter().filter(|&&reading| is_direct(&self.of.readings[reading]));
        let mut readings: Vec<usize> = figures.chain(direct).copied().collect();
        readings.sort_unstable();
        readings.dedup();
        readings.retain(|&reading| {
            let row = &self.of.readings[reading];
            !row.has_left_in && row.shown().is_some_and(|shown| shown.upper().0.is_finite())
        });
        let sets = self.of.reaches.sets(&readings, &self.boards, &self.circuits);
        Resistance::parallel(sets.into_iter().filter_map(|set| Resistance::least(self.shown(set))))
    }
}
