//! Boards as a whole: the figures of their circuits in parallel.

use std::collections::VecDeque;

use super::column::Column;
use super::demand::{Asked, Demand};
use super::judgement::{CircuitJudgement, JudgedReading, Verdict};
use super::resistance::{Against, Resistance};
use crate::model::{BoardId, CircuitId, End, ReadingAt};
use crate::network::Network;

/// The figures of one column, in parallel.
#[derive(Clone, Debug, PartialEq)]
pub struct Combined {
    /// All of them together. Where a circuit has none its share is not known, and so nothing is known from below.
    pub resistance: Resistance,
    /// The circuits whose figures these are.
    pub circuits: Vec<CircuitId>,
    /// The circuits that have none.
    pub without: Vec<CircuitId>,
    /// How they compare with the least value for the board; none where the ruleset has no value.
    pub against: Option<Against>,
}

/// One board, judged as a whole.
#[derive(Clone, Debug)]
pub struct BoardJudgement {
    /// The board.
    pub board: BoardId,
    /// What is asked of it; or why the ruleset asks nothing.
    pub asked: Result<Asked, String>,
    /// Live to live and live to earth; none where no circuit needs or has a figure in that column.
    pub combined: [Option<Combined>; 2],
    /// The readings taken at the board itself, by their place in the judgement's readings.
    pub readings: Vec<usize>,
    /// Those of its circuits that fail or are not complete.
    pub not_passed: Vec<CircuitId>,
    /// What becomes of it: only its circuits' figures together, and the readings at the board itself.
    pub verdict: Verdict,
}

impl BoardJudgement {
    /// What a column's figures come to.
    pub fn combined(&self, column: Column) -> Option<&Combined> {
        self.combined[column as usize].as_ref()
    }
}

/// Judges every board that has a circuit or a reading: its own circuits with those of all boards behind it, each circuit once, in the order of the file.
///
/// Time O(boards × circuits) at worst.
pub(super) fn judge_boards(
    network: &Network<'_>,
    demand: &Demand,
    readings: &[JudgedReading<'_>],
    circuits: &[CircuitJudgement],
) -> Vec<BoardJudgement> {
    let installation = network.installation();
    // The boards that each circuit feeds.
    let mut feeds: Vec<Vec<BoardId>> = vec![Vec::new(); circuits.len()];
    for (_, length) in installation.lengths() {
        for end in length.ends() {
            if let End::Incoming(board) = end {
                feeds[length.circuit().index()].push(board);
            }
        }
    }
    let mut own: Vec<Vec<CircuitId>> = vec![Vec::new(); installation.boards().len()];
    for (id, circuit) in installation.circuits() {
        if let Some(way) = circuit.way() {
            own[way.board().index()].push(id);
        }
    }
    installation
        .boards()
        .filter_map(|(board, _)| {
            let behind = circuits_behind(board, &own, &feeds);
            let combined =
                [Column::LiveToLive, Column::LiveToEarth].map(|column| combine(column, &behind, circuits, demand));
            let at_board: Vec<usize> = (0..readings.len())
                .filter(|&number| readings[number].recorded.at() == ReadingAt::Board(board))
                .collect();
            if behind.is_empty() && at_board.is_empty() {
                return None;
            }
            let not_passed: Vec<CircuitId> =
                behind.iter().copied().filter(|id| circuits[id.index()].verdict >= Verdict::NotComplete).collect();
            let direct = at_board.iter().map(|&number| Verdict::of(&readings[number].verdict));
            let together = combined.iter().flatten().map(|row| match row.against {
                Some(Against::AtLeast) => Verdict::Pass,
                Some(Against::Below) => Verdict::Fail,
                Some(Against::NotDecided) | None => Verdict::NotComplete,
            });
            let worst = direct.chain(together).max().unwrap_or(Verdict::NotComplete);
            let verdict = if not_passed.is_empty() { worst } else { worst.max(Verdict::NotComplete) };
            let asked = demand.asked.clone();
            Some(BoardJudgement { board, asked, combined, readings: at_board, not_passed, verdict })
        })
        .collect()
}

/// The circuits of a board and of all boards behind it, each once, in the order of the file.
fn circuits_behind(board: BoardId, own: &[Vec<CircuitId>], feeds: &[Vec<BoardId>]) -> Vec<CircuitId> {
    let mut seen = vec![false; own.len()];
    seen[board.index()] = true;
    let mut waiting = VecDeque::from([board]);
    let mut circuits = Vec::new();
    while let Some(board) = waiting.pop_front() {
        for &circuit in &own[board.index()] {
            circuits.push(circuit);
            for &fed in &feeds[circuit.index()] {
                if !std::mem::replace(&mut seen[fed.index()], true) {
                    waiting.push_back(fed);
                }
            }
        }
    }
    circuits.sort_unstable();
    circuits
}

fn combine(column: Column, behind: &[CircuitId], circuits: &[CircuitJudgement], demand: &Demand) -> Option<Combined> {
    let (mut with, mut without, mut shares) = (Vec::new(), Vec::new(), Vec::new());
    for &id in behind {
        let row = &circuits[id.index()];
        match row.figure(column) {
            Some(figure) => {
                with.push(id);
                shares.push(figure.resistance);
            }
            // Every circuit has live conductors that lie beside earth; not every one has two of them.
            None if column == Column::LiveToEarth || row.needs_live_to_live => {
                without.push(id);
                shares.push(Resistance::NOT_KNOWN);
            }
            None => {}
        }
    }
    let resistance = Resistance::parallel(shares)?;
    let against = demand.asked.as_ref().ok().map(|asked| resistance.against(asked.megohms));
    Some(Combined { resistance, circuits: with, without, against })
}
