//! Boards as a whole: what the readings of their circuits come to in parallel.
//!
//! Both ends are proven, and by different readings. **From below** every needed pair has a reading that vouches for it
//! ([`Share`]): all that leaks on the board leaks in at least one of these, so it is at most what they showed together, each
//! counted once. **From above** conductances add up only where they can't be the same leakage read twice ([`Reaches`]):
//! readings that reach common copper make a set, and of a set only the lowest counts.
//!
//! Not taken: the parallel of the circuits' figures, as the trade does it by hand. A joined reading, a feeder read with the
//! board behind it on, or a neutral bar counts once for each circuit there; and parts of a circuit that were read one by one
//! count as one of them. Where each circuit was read once, by a reading that shares nothing, it is the same.

use super::column::Column;
use super::copper::Reaches;
use super::demand::{Asked, Demand};
use super::judgement::{CircuitJudgement, JudgedReading, Verdict};
use super::resistance::{Against, Resistance};
use super::share::Share;
use crate::model::{BoardId, CircuitId, ReadingAt, TestSet};
use crate::network::{FedByBoards, Network};

/// A reading of all may have come out higher than another one by so much of it, by the instrument's error: 30 %, IEC 61557-2
/// (from memory). Then it is taken to be no higher; one that is higher still is belied.
const ERROR: f64 = 0.3;

/// All insulation of a board in one column, in parallel.
#[derive(Clone, Debug, PartialEq)]
pub struct Combined {
    /// What is known of it.
    pub resistance: Resistance,
    /// The circuits that have a figure.
    pub circuits: Vec<CircuitId>,
    /// The circuits that have none.
    pub without: Vec<CircuitId>,
    /// The circuits, with a figure or without, that are not tested by good readings wherever this column needs it, or have a
    /// reading that is too low: their share is not known, and so nothing is known from below.
    pub incomplete: Vec<CircuitId>,
    /// How it compares with the least value for the board; none where the ruleset has no value.
    pub against: Option<Against>,
    /// Whether a circuit needs a test in this column. Where none does, what is not decided holds nothing up.
    pub(super) is_needed: bool,
}

impl Combined {
    /// Whether it keeps the board from passing that the limit lies between what it is at least and at most.
    pub fn waits_for_a_decision(&self) -> bool {
        self.is_needed && self.against == Some(Against::NotDecided)
    }
}

/// One board, judged as a whole.
#[derive(Clone, Debug)]
pub struct BoardJudgement {
    /// The board.
    pub board: BoardId,
    /// What is asked of it; or why the ruleset asks nothing. The voltage is for readings at the board itself.
    pub asked: Result<Asked, String>,
    /// Live to live and live to earth; none where no circuit needs or has a figure in that column.
    pub combined: [Option<Combined>; 2],
    /// The readings taken at the board itself, by their place in the judgement's readings.
    pub readings: Vec<usize>,
    /// Those of its circuits that fail or are not complete.
    pub not_passed: Vec<CircuitId>,
    /// What becomes of it: only what its circuits come to together, and the readings at the board itself.
    pub verdict: Verdict,
}

impl BoardJudgement {
    /// What a column comes to.
    pub fn combined(&self, column: Column) -> Option<&Combined> {
        self.combined[column as usize].as_ref()
    }
}

/// Judges every board that has a circuit or a reading: its own circuits with those of all boards behind it, each circuit once,
/// in the order of the file.
///
/// Time O(boards × (circuits + readings)) at worst, beside what the readings reach.
pub(super) fn judge_boards(
    network: &Network,
    tests: &TestSet,
    feeding: &FedByBoards,
    demands: &[Demand],
    readings: &[JudgedReading<'_>],
    circuits: &[CircuitJudgement],
) -> Vec<BoardJudgement> {
    let reaches = Reaches::of(network, tests, readings);
    let judge = |board: BoardId| {
        let (boards, behind) = feeding.behind(board);
        let at = |number: usize| match readings[number].recorded.at() {
            ReadingAt::Board(board) => Some(board),
            ReadingAt::Circuit(_) => None,
        };
        let at_boards: Vec<usize> =
            (0..readings.len()).filter(|&number| at(number).is_some_and(|at| boards.contains(&at))).collect();
        let at_board: Vec<usize> = at_boards.iter().copied().filter(|&number| at(number) == Some(board)).collect();
        if behind.is_empty() && at_board.is_empty() {
            return None;
        }
        let asked = &demands[board.index()].asked;
        let of_board = OfBoard { readings, circuits, reaches: &reaches, boards, behind, at_boards };
        let combined = [Column::LiveToLive, Column::LiveToEarth].map(|column| of_board.combine(column, asked));
        let OfBoard { behind, at_boards, .. } = of_board;
        let not_passed: Vec<CircuitId> =
            behind.into_iter().filter(|id| circuits[id.index()].verdict >= Verdict::NotComplete).collect();
        let direct = at_boards.iter().map(|&number| Verdict::of(&readings[number].verdict));
        let together = combined.iter().flatten().map(|row| match row.against {
            Some(Against::Below) => Verdict::Fail,
            Some(Against::NotDecided) if row.is_needed => Verdict::NotComplete,
            Some(Against::AtLeast | Against::NotDecided) => Verdict::Pass,
            None => Verdict::NotComplete,
        });
        let worst = direct.chain(together).max().unwrap_or(Verdict::NotComplete);
        let verdict = if not_passed.is_empty() { worst } else { worst.max(Verdict::NotComplete) };
        Some(BoardJudgement { board, asked: asked.clone(), combined, readings: at_board, not_passed, verdict })
    };
    network.installation().boards().filter_map(|(board, _)| judge(board)).collect()
}

/// One board and what bears on it.
struct OfBoard<'j, 'n> {
    readings: &'j [JudgedReading<'n>],
    circuits: &'j [CircuitJudgement],
    reaches: &'j Reaches,
    /// The board and those behind it.
    boards: Vec<BoardId>,
    /// Their circuits.
    behind: Vec<CircuitId>,
    /// Readings at any of these boards.
    at_boards: Vec<usize>,
}

impl OfBoard<'_, '_> {
    fn combine(&self, column: Column, asked: &Result<Asked, String>) -> Option<Combined> {
        let (mut with, mut without, mut incomplete) = (Vec::new(), Vec::new(), Vec::new());
        let mut vouching: Vec<usize> = Vec::new();
        let mut whole: Option<Vec<usize>> = None;
        let mut is_needed = false;
        for &id in &self.behind {
            let row = &self.circuits[id.index()];
            let share = &row.shares[column as usize];
            // Every circuit has live conductors that lie beside earth; not every one has two of them.
            let counts = column == Column::LiveToEarth || *share != Share::NotNeeded;
            is_needed |= counts;
            match row.figure(column) {
                Some(_) => with.push(id),
                None if counts => without.push(id),
                None => {}
            }
            match share {
                Share::Read(read) => {
                    vouching.extend_from_slice(&read.vouching);
                    match &mut whole {
                        Some(whole) => whole.retain(|reading| read.whole.binary_search(reading).is_ok()),
                        None => whole = Some(read.whole.clone()),
                    }
                }
                Share::NotNeeded | Share::NotKnown if counts => incomplete.push(id),
                Share::NotNeeded | Share::NotKnown => {}
            }
        }
        if with.is_empty() && without.is_empty() {
            return None;
        }
        let above = self.at_most(column).unwrap_or(Resistance::NOT_KNOWN);
        let is_known = incomplete.is_empty() && !self.is_read_too_low(column, asked);
        let below = match self.together(vouching).filter(|_| is_known) {
            None => Resistance::NOT_KNOWN,
            Some(below) => {
                // A reading that tests all of it is a bound by itself, unless another one belies it.
                let whole = whole.into_iter().flatten().filter_map(|reading| self.shown(reading));
                match Resistance::least(whole).and_then(|whole| whole.no_higher_than(above, ERROR)) {
                    Some(whole) => below.or_at_least(whole),
                    None => below,
                }
            }
        };
        let resistance = Resistance::between(below, above);
        let against = asked.as_ref().ok().map(|asked| resistance.against(asked.megohms));
        Some(Combined { resistance, circuits: with, without, incomplete, against, is_needed })
    }

    /// Whether a sound reading at one of the boards is below what is asked, at whatever voltage.
    fn is_read_too_low(&self, column: Column, asked: &Result<Asked, String>) -> bool {
        let Ok(asked) = asked else { return false };
        self.at_boards.iter().any(|&reading| {
            let row = &self.readings[reading];
            let is_here = row.column.is_err() || row.column == Ok(column);
            is_here
                && !row.verdict.is_void()
                && self.shown(reading).is_some_and(|shown| shown.against(asked.megohms) == Against::Below)
        })
    }

    fn shown(&self, reading: usize) -> Option<Resistance> {
        self.readings[reading].recorded.megohms().map(Resistance::of)
    }

    /// What readings come to in parallel, each once; none of none.
    fn together(&self, mut readings: Vec<usize>) -> Option<Resistance> {
        readings.sort_unstable();
        readings.dedup();
        Resistance::parallel(readings.into_iter().filter_map(|reading| self.shown(reading)))
    }

    /// What all the insulation is at most; none where nothing bounds it.
    fn at_most(&self, column: Column) -> Option<Resistance> {
        let figures = self.behind.iter().filter_map(|id| self.circuits[id.index()].figure(column));
        let direct = self.at_boards.iter().copied().filter(|&reading| {
            let row = &self.readings[reading];
            row.column == Ok(column) && row.resistance().is_some()
        });
        let mut readings: Vec<usize> =
            figures.flat_map(|figure| figure.readings.iter().copied()).chain(direct).collect();
        readings.sort_unstable();
        readings.dedup();
        readings.retain(|&reading| self.shown(reading).is_some_and(|shown| shown.upper().0.is_finite()));
        let sets = self.reaches.sets(&readings, &self.boards, &self.behind);
        Resistance::parallel(
            sets.into_iter()
                .filter_map(|set| Resistance::least(set.into_iter().filter_map(|reading| self.shown(reading)))),
        )
    }
}
