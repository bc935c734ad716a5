//! Where rounds start and end.

use crate::model::{BoardId, CircuitId, Installation, LocationId};
use crate::plan::schedule::readings::chosen::ChosenReading;
use crate::reading::CandidateReading;

/// Where every round starts and ends, if that is the same place for each reading that there could be.
pub(in crate::plan) fn only_home(installation: &Installation, candidates: &[CandidateReading]) -> Option<LocationId> {
    let boards = candidates.iter().filter_map(|candidate| board_of(installation, candidate.circuit));
    let mut homes = boards.map(|board| installation.board(board).location());
    let home = homes.next()??;
    homes.all(|other| other == Some(home)).then_some(home)
}

/// Where the one way of two people starts: at the board that is read; at the origin where boards in several rooms are.
pub(in crate::plan) fn start_of_way(
    installation: &Installation,
    candidates: &[CandidateReading],
) -> Option<LocationId> {
    let origin = || installation.boards().find(|(_, board)| board.is_origin())?.1.location();
    only_home(installation, candidates).or_else(origin)
}

/// Where a round starts and ends: at the board whose ways are read, or at the origin where it is more than one.
pub(in crate::plan) fn home(installation: &Installation, readings: &[ChosenReading]) -> Option<LocationId> {
    let mut boards = readings.iter().filter_map(|reading| board_of(installation, reading.circuit));
    let first = boards.next()?;
    let board = if boards.all(|board| board == first) {
        installation.board(first)
    } else {
        installation.boards().map(|(_, board)| board).find(|board| board.is_origin())?
    };
    board.location()
}

fn board_of(installation: &Installation, circuit: CircuitId) -> Option<BoardId> {
    installation.circuit(circuit).way().map(|way| way.board())
}
