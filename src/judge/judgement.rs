//! The judgement of a record: its readings, its circuits, its boards, and what good readings leave untested.

use std::collections::BTreeMap;

use rustc_hash::FxHashMap;
use serde::{Deserialize, Serialize};

use super::boards::{BoardJudgement, Boards};
use super::circuits::{CircuitJudgement, judge_circuits};
use super::connected::JudgedConnected;
use super::demand::Demand;
use super::proven::{NotProven, Proven};
use super::readings::{Judged, JudgedReading};
use super::verdict::Verdict;
use crate::coverage::{SharedReasons, Tested};
use crate::model::{OtherInstallation, ReadingAt, TestSet};
use crate::network::{FedByBoards, Need, Network};
use crate::observer::{Observer, Unwatched, Watch};

/// A record, judged: every reading, every circuit, every board, and what is missing; what `judge --json` prints.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
#[must_use]
pub struct Judgement {
    /// The format's version.
    pub format: u32,
    /// The id of the ruleset that it was judged by.
    pub ruleset: String,
    /// The level of need that it was judged for.
    pub need: Need,
    /// What becomes of the whole record: the worst of its circuits and boards.
    pub verdict: Verdict,
    /// Every reading, in the order of the file.
    pub readings: Vec<JudgedReading>,
    /// Every circuit, in the order of the file.
    pub circuits: Vec<CircuitJudgement>,
    /// Every board that has a circuit or a reading, in the order of the file.
    pub boards: Vec<BoardJudgement>,
    /// Every reading after equipment was connected, in the order of the file. It tests no pair and is in no figure; that
    /// at which it was taken is no better than it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub connected: Vec<JudgedConnected>,
    /// The required pairs that are not tested by good readings, circuit by circuit.
    pub missed: Vec<NotProven>,
    /// What `missed` refers to.
    #[serde(flatten)]
    pub shared: SharedReasons,
    /// An observer stopped it before its end. The readings, circuits, boards and pairs are those that were judged by
    /// then, each as it would have been; the others are missing, and the verdict is no better than not complete.
    #[serde(skip_serializing_if = "std::ops::Not::not", default)]
    pub stopped: bool,
}

impl Judgement {
    /// Judges the readings of a test set by a ruleset.
    ///
    /// - A reading is judged by the row for the circuit that it was taken at; one taken at a board by the row for low
    ///   voltage at the installation's nominal voltage, or by the one row of all its circuits where they are all SELV,
    ///   or all PELV. A voltage other than what is asked can't be judged, be it lower or higher.
    /// - A pair counts as tested only if the readings that test it are good, by what their own circuit asks and by what
    ///   the circuit of the pair's length asks.
    /// - A figure is the least of all readings of a circuit in its column that were sound and at a right voltage, those
    ///   [put down under something else](CircuitJudgement::elsewhere) included.
    /// - A circuit of which no pair must be tested never passes: the file tells of nothing that could be good.
    /// - Nothing is corrected for temperature or length ([`NOT_CORRECTED`](crate::rules::NOT_CORRECTED)).
    ///
    /// Time and space: those of [`Coverage::of`](crate::Coverage::of), once, and once more for each different row (or
    /// relief) that circuits have; and for each board once more its circuits and readings, in space no more than its own.
    ///
    /// Source: what is asked is the ruleset's; that live conductors may be joined for the test to earth, and that a
    /// board is judged with its circuits, BS 7671:2018 reg. 643.3.1 and 643.3.2; the two figures and the least of all
    /// passes, common practice.
    ///
    /// # Errors
    ///
    /// Where the test set was checked against another installation: its ids mean nothing in this one.
    ///
    /// # Examples
    ///
    /// ```
    /// use lengthwise::judge::{Judgement, Verdict};
    /// use lengthwise::{Input, Need, Network, read_installation, read_test_set};
    ///
    /// let installation = std::fs::read("examples/landing.toml")?;
    /// let installation = read_installation(Input::toml(&installation))?;
    /// let low = r#"format = 1
    /// [[pass]]
    /// [[pass.reading]]
    /// circuit = "C1"
    /// between = ["L+N", "E"]
    /// volts = 500
    /// megohms = 0.4
    /// "#;
    /// let tests = read_test_set(Input::toml(low.as_bytes()), &installation)?;
    /// let judgement = Judgement::of(&Network::of(installation), &tests, Need::Standard)?;
    /// assert_eq!(judgement.verdict, Verdict::Fail);
    /// assert_eq!(judgement.circuit("C1").map(|row| row.verdict), Some(Verdict::Fail));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn of(network: &Network, tests: &TestSet, need: Need) -> Result<Judgement, OtherInstallation> {
        Judgement::watched(network, tests, need, &mut Unwatched)
    }

    /// The same as [`Judgement::of`], watched: whoever watches may stop it. Then less is judged, and nothing passes as
    /// a whole.
    ///
    /// # Errors
    ///
    /// As [`Judgement::of`].
    pub fn watched(
        network: &Network,
        tests: &TestSet,
        need: Need,
        observer: &mut dyn Observer,
    ) -> Result<Judgement, OtherInstallation> {
        let installation = network.installation();
        tests.check_for(installation)?;
        let watch = &mut Watch::new(observer);
        let tested = Tested::by(network, tests, need, watch);
        let demand_of = |(circuit, _)| Demand::of_circuit(network, circuit);
        let demands: Vec<Demand<'_>> = installation.circuits().map(demand_of).collect();
        let feeding = FedByBoards::of(network);
        let demand_of = |(board, _)| Demand::of_board(network, &feeding.behind(board).1);
        let of_boards: Vec<Demand<'_>> = installation.boards().map(demand_of).collect();
        let recorded = tests.passes().iter().flat_map(|pass| pass.readings());
        let demand_at = |at: ReadingAt| match at {
            ReadingAt::Circuit(circuit) => &demands[circuit.index()],
            ReadingAt::Board(board) => &of_boards[board.index()],
        };
        let judge = recorded
            .zip(&tested.readings)
            .map(|(recorded, outcome)| Judged::new(network, recorded, outcome, demand_at(recorded.at())));
        let readings: Vec<Judged<'_>> = judge.collect();
        let proven = Proven::of(network, tests, tested, &demands, &readings, watch);
        let needed = proven.needed();
        // A circuit is judged by all readings or not at all, and so is a board by all circuits.
        let mut circuits = judge_circuits(network, tests, &demands, &readings, &proven, &needed, watch);
        let connected = tests
            .connected()
            .iter()
            .map(|reading| (reading.at(), JudgedConnected::of(network, reading, demand_at(reading.at()))));
        let connected: Vec<(ReadingAt, JudgedConnected)> = connected.collect();
        for (at, row) in &connected {
            if let ReadingAt::Circuit(circuit) = at
                && let Some(circuit) = circuits.get_mut(circuit.index())
            {
                circuit.answer.verdict = circuit.answer.verdict.max(row.verdict.into());
            }
        }
        let mut boards = match watch.is_stopped() {
            true => Vec::new(),
            false => Boards::new(network, tests, &feeding, &of_boards, &readings, &needed, &circuits).judge(watch),
        };
        let mut at_boards: BTreeMap<Verdict, Vec<bool>> = BTreeMap::new();
        for (at, row) in &connected {
            if let ReadingAt::Board(board) = at {
                let none = || vec![false; installation.boards().len()];
                at_boards.entry(row.verdict.into()).or_insert_with(none)[board.index()] = true;
            }
        }
        for (verdict, at) in at_boards {
            let in_front = feeding.in_front(at);
            for board in &mut boards {
                let is_in_front = installation.board_by_id(&board.board).is_some_and(|id| in_front[id.index()]);
                board.verdict = if is_in_front { board.verdict.max(verdict) } else { board.verdict };
            }
        }
        let (missed, shared) = proven.missed(&needed, watch);
        let stopped = watch.is_stopped();
        let circuits: Vec<CircuitJudgement> = circuits.into_iter().map(|row| row.answer).collect();
        let verdicts = circuits.iter().map(|row| row.verdict).chain(boards.iter().map(|row| row.verdict));
        let verdicts = verdicts.chain(connected.iter().map(|(_, row)| row.verdict.into()));
        Ok(Judgement {
            format: 1,
            ruleset: network.ruleset().id().to_owned(),
            need,
            verdict: verdicts.chain(stopped.then_some(Verdict::NotComplete)).max().unwrap_or(Verdict::NotComplete),
            missed,
            shared,
            readings: readings.into_iter().map(|row| row.answer(installation)).collect(),
            circuits,
            boards,
            connected: connected.into_iter().map(|(_, row)| row).collect(),
            stopped,
        })
    }

    /// What became of a circuit, by its id.
    pub fn circuit(&self, id: &str) -> Option<&CircuitJudgement> {
        self.circuits.iter().find(|row| row.circuit == id)
    }

    /// What became of a board, by its id.
    pub fn board(&self, id: &str) -> Option<&BoardJudgement> {
        self.boards.iter().find(|row| row.board == id)
    }

    /// What became of a board and of all boards behind it, each once: the lists of all these together name all circuits
    /// behind the board.
    pub fn behind(&self, board: &str) -> Vec<&BoardJudgement> {
        let mut rows: FxHashMap<&str, &BoardJudgement> =
            self.boards.iter().map(|row| (row.board.as_str(), row)).collect();
        let mut found: Vec<&BoardJudgement> = rows.remove(board).into_iter().collect();
        let mut next = 0;
        while let Some(row) = found.get(next) {
            next += 1;
            found.extend(row.behind.iter().filter_map(|fed| rows.remove(fed.as_str())));
        }
        found
    }

    /// What became of a reading, by pass and number.
    pub fn reading(&self, name: [usize; 2]) -> Option<&JudgedReading> {
        let place = self.readings.binary_search_by_key(&name, JudgedReading::name).ok()?;
        Some(&self.readings[place])
    }

    /// The required pairs of a circuit that are not tested by good readings, in order.
    pub fn missed_of(&self, circuit: &str) -> impl Iterator<Item = &NotProven> {
        self.missed.iter().filter(move |row| row.circuit == circuit)
    }
}
