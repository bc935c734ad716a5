//! The judgement of a record: its readings, its circuits, its boards.

use rustc_hash::FxHashMap;
use serde::{Deserialize, Serialize};

use super::boards::{BoardJudgement, judge_boards};
use super::column::{Column, Neither, column, is_earth};
use super::demand::{Asked, Demand, NotJudgeable, ReadingVerdict, judge_value};
use super::resistance::{Against, Resistance};
use super::share::{Needed, Share, Vouching, column_of, tested_elsewhere};
use crate::coverage::{Missed, Tested, WhyMissed};
use crate::model::{CircuitId, Metres, Reading, ReadingAt, TerminalRef, TestSet, Work};
use crate::network::{FedByBoards, Need, Network, PairId};
use crate::rules::Ruleset;

/// What becomes of a circuit, a board or a whole record; the worst comes last.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Every required pair was tested by a good reading, and every reading is good.
    Pass,
    /// The same, but some reading is lower than healthy insulation is expected to be.
    Investigate,
    /// Nothing fails, but something is not tested, or can't be judged.
    NotComplete,
    /// Something is below what is asked.
    Fail,
}

impl Verdict {
    /// What a reading makes of that whose reading it is.
    pub(super) fn of(reading: &ReadingVerdict) -> Verdict {
        match reading {
            ReadingVerdict::Pass => Verdict::Pass,
            ReadingVerdict::Investigate(_) => Verdict::Investigate,
            ReadingVerdict::NotJudgeable(_) => Verdict::NotComplete,
            ReadingVerdict::Fail => Verdict::Fail,
        }
    }
}

/// One reading, judged.
#[derive(Clone, Debug)]
pub struct JudgedReading<'n> {
    /// The pass, counted from 1.
    pub pass: usize,
    /// The reading in the pass, counted from 1.
    pub reading: usize,
    /// The reading as recorded.
    pub recorded: &'n Reading,
    /// Which of the two figures it belongs to, or why to neither.
    pub column: Result<Column, Neither>,
    /// What is asked at the voltage that it was taken at; none where that voltage won't do.
    pub asked: Option<Asked>,
    /// How it stands to that.
    pub verdict: ReadingVerdict,
}

impl JudgedReading<'_> {
    /// Pass and number, as reports name a reading.
    pub fn name(&self) -> [usize; 2] {
        [self.pass, self.reading]
    }

    /// What the value says of the resistance; none where the reading is void, at a wrong voltage or without a value.
    pub fn resistance(&self) -> Option<Resistance> {
        self.verdict.is_of_value().then(|| self.recorded.megohms().map(Resistance::of)).flatten()
    }
}

/// One of a circuit's two figures: the least of all its readings in that column.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// The least.
    pub resistance: Resistance,
    /// What goes into the record: what was written of the reading that decides it.
    pub record: String,
    /// The readings that it is the least of, by their place in [`Judgement::readings`].
    pub readings: Vec<usize>,
}

/// Why a reading that is put down under something else counts for a circuit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WhyElsewhere {
    /// It has a lead on the end of a live core of the circuit, or on a live terminal of its way.
    LeadOnIt,
    /// It tests what no good reading of the circuit or with a lead on it does, and with such readings the circuit is tested.
    TestsTheRest,
}

/// A reading that is put down under something else, and counts as one of the circuit's own.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadElsewhere {
    /// The reading, by its place in [`Judgement::readings`].
    pub reading: usize,
    /// Why it counts.
    pub why: WhyElsewhere,
    /// How it stands to what is asked of this circuit.
    pub verdict: ReadingVerdict,
}

/// One circuit, judged.
#[derive(Clone, Debug)]
pub struct CircuitJudgement {
    /// The circuit.
    pub circuit: CircuitId,
    /// What is asked of it; or why the ruleset asks nothing.
    pub asked: Result<Asked, String>,
    /// What will do too, where something can't be disconnected and the circuit says so.
    pub relief: Option<Asked>,
    /// The length of all its cables. No value is corrected for it.
    pub metres: Metres,
    /// Its readings, by their place in [`Judgement::readings`].
    pub readings: Vec<usize>,
    /// Readings put down under something else that have a lead on its live conductors, or test what the others leave where with
    /// them all of it is tested: those that are sound, have a value and were taken at a voltage that will do here, or are too
    /// low at another (those are in no figure, as its own at such a voltage are not). Whatever they are put down under, a low
    /// one is not passed over.
    pub elsewhere: Vec<ReadElsewhere>,
    /// The two figures that are recorded, live to live and live to earth.
    pub figures: [Option<Figure>; 2],
    /// How many pairs of its lengths must be tested.
    pub required: usize,
    /// Those of them that are not tested by good readings, in order.
    pub missed: Vec<PairId>,
    /// What becomes of it.
    pub verdict: Verdict,
    /// What is known of its insulation from below, by [`Column`].
    pub(super) shares: [Share; 2],
}

impl CircuitJudgement {
    /// The figure of a column.
    pub fn figure(&self, column: Column) -> Option<&Figure> {
        self.figures[column as usize].as_ref()
    }

    /// How many required pairs are tested by good readings.
    pub fn proven(&self) -> usize {
        self.required - self.missed.len()
    }
}

/// Why a required pair is not tested by good readings.
#[derive(Clone, Debug, PartialEq)]
pub enum NotProven {
    /// No reading tests it.
    NotTested(Missed),
    /// Some readings test it, as pass and number, but none of them counts: they fail, can't be judged, or were not taken at
    /// the voltage that this pair's circuit asks for.
    NoGoodReading(Vec<[usize; 2]>),
    /// The ruleset has no value for its circuit.
    NoRule,
}

/// A record, judged: every reading, every circuit, every board, and what is missing.
#[derive(Debug)]
#[must_use]
pub struct Judgement<'n> {
    pub(super) network: &'n Network,
    pub(super) ruleset: &'n Ruleset,
    pub(super) readings: Vec<JudgedReading<'n>>,
    pub(super) circuits: Vec<CircuitJudgement>,
    pub(super) boards: Vec<BoardJudgement>,
    /// What the readings test, whatever they showed.
    coverage: Tested<'n>,
    /// By the number of a demand: what the readings test that are good for it.
    proven: Vec<Tested<'n>>,
    /// For each circuit, its number in `proven`; none where the ruleset has no value for it.
    proven_by: Vec<Option<usize>>,
}

impl<'n> Judgement<'n> {
    /// Judges the readings of a test set by a ruleset.
    ///
    /// - A reading is judged by the row for the circuit that it was taken at; one taken at a board by the row for low
    ///   voltage at the installation's nominal voltage, or by the one row of all its circuits where they are all SELV, or all
    ///   PELV. A voltage other than what is asked can't be judged, be it lower or
    ///   higher.
    /// - A pair counts as tested only if the readings that test it are good, by what their own circuit asks and by what the
    ///   circuit of the pair's length asks.
    /// - A figure is the least of all readings of a circuit in its column that were sound and at a right voltage, those
    ///   [put down under something else](CircuitJudgement::elsewhere) included.
    /// - A circuit of which no pair must be tested never passes: the file tells of nothing that could be good.
    /// - Nothing is corrected for temperature or length ([`NOT_CORRECTED`](crate::rules::NOT_CORRECTED)).
    ///
    /// Time and space: those of [`Coverage::of`](crate::Coverage::of), once, and once more for each different row (or relief) that circuits have.
    ///
    /// Source: what is asked is the ruleset's; that live conductors may be joined for the test to earth, and that a board
    /// is judged with its circuits, BS 7671:2018 reg. 643.3.1 and 643.3.2; the two figures and the least of all passes,
    /// common practice.
    ///
    /// # Panics
    ///
    /// Where the test set was checked against another installation.
    pub fn of(network: &'n Network, tests: &'n TestSet, ruleset: &'n Ruleset, need: Need) -> Judgement<'n> {
        let installation = network.installation();
        let coverage = Tested::by(network, tests, need);
        let demands: Vec<Demand> =
            installation.circuits().map(|(_, circuit)| Demand::of_circuit(ruleset, circuit)).collect();
        let feeding = FedByBoards::of(network);
        let of_boards: Vec<Demand> = installation
            .boards()
            .map(|(board, _)| Demand::of_board(ruleset, installation, &feeding.behind(board).1))
            .collect();
        let all = tests.passes().iter().flat_map(|pass| pass.readings());
        let readings: Vec<JudgedReading<'n>> = all
            .zip(&coverage.readings)
            .map(|(recorded, outcome)| {
                let demand = match recorded.at() {
                    ReadingAt::Circuit(circuit) => &demands[circuit.index()],
                    ReadingAt::Board(board) => &of_boards[board.index()],
                };
                let asked = demand.asked_at(ruleset, recorded.volts());
                let verdict = match (outcome.void, recorded.megohms(), &asked) {
                    (Some(void), _, _) => ReadingVerdict::NotJudgeable(NotJudgeable::Void { void }),
                    (None, None, _) => ReadingVerdict::NotJudgeable(NotJudgeable::NoValue),
                    (None, Some(_), Err(why)) => ReadingVerdict::NotJudgeable(why.clone()),
                    (None, Some(shown), Ok(asked)) => {
                        judge_value(ruleset, installation.work(), *asked, Resistance::of(shown))
                    }
                };
                JudgedReading {
                    pass: outcome.pass,
                    reading: outcome.reading,
                    recorded,
                    column: column(network, recorded.leads()),
                    asked: asked.ok(),
                    verdict,
                }
            })
            .collect();

        let (proven, proven_by) = prove(network, tests, need, ruleset, &demands, &readings);
        let mut circuits = circuits(network, ruleset, &demands, &readings);
        let mut needed = vec![Needed::default(); circuits.len()];
        for pair in network.pairs().filter(|&pair| coverage.is_required(pair)) {
            let circuit = installation.length(network.pair_length(pair)).circuit().index();
            let (row, needed) = (&mut circuits[circuit], &mut needed[circuit]);
            let column = column_of(network.pair_class(pair)) as usize;
            row.required += 1;
            needed.pairs[column].push(pair);
            if !proven_by[circuit].is_some_and(|number| proven[number].is_tested(pair)) {
                row.missed.push(pair);
                needed.is_missed[column] = true;
            }
        }
        let mut vouching = Vouching::new(network, &proven, &readings);
        for ((circuit, needed), (demand, &number)) in
            circuits.iter_mut().zip(&needed).zip(demands.iter().zip(&proven_by))
        {
            if let Some(number) = number {
                let mut own = circuit.readings.clone();
                own.extend(circuit.elsewhere.iter().map(|row| row.reading));
                own.sort_unstable();
                for reading in tested_elsewhere(&coverage, &proven[number], needed, &own) {
                    let verdict = verdict_here(ruleset, installation.work(), demand, &readings[reading]);
                    let why = WhyElsewhere::TestsTheRest;
                    circuit.elsewhere.extend(verdict.map(|verdict| ReadElsewhere { reading, why, verdict }));
                }
                circuit.elsewhere.sort_unstable_by_key(|row| row.reading);
            }
            for column in [Column::LiveToLive, Column::LiveToEarth] {
                circuit.figures[column as usize] = figure(circuit, &readings, column);
                // A reading that is too low, be it at another voltage, gives the lie to those that vouch for the circuit.
                circuit.shares[column as usize] = match vouching.share(number, needed, column) {
                    Share::Read(_) if is_read_too_low(circuit, &readings, column) => Share::NotKnown,
                    share => share,
                };
            }
            circuit.verdict = verdict_of(circuit, &readings);
        }
        let boards = judge_boards(network, tests, &feeding, &of_boards, &readings, &circuits);
        Judgement { network, ruleset, readings, circuits, boards, coverage, proven, proven_by }
    }

    /// The network that it was judged on.
    pub fn network(&self) -> &'n Network {
        self.network
    }

    /// The ruleset that it was judged by.
    pub fn ruleset(&self) -> &'n Ruleset {
        self.ruleset
    }

    /// The level of need that it was judged for.
    pub fn need(&self) -> Need {
        self.coverage.need
    }

    /// Every reading, in the order of the file.
    pub fn readings(&self) -> &[JudgedReading<'n>] {
        &self.readings
    }

    /// Every circuit, in the order of the file.
    pub fn circuits(&self) -> &[CircuitJudgement] {
        &self.circuits
    }

    /// Every board, in the order of the file.
    pub fn boards(&self) -> &[BoardJudgement] {
        &self.boards
    }

    /// What becomes of the whole record: the worst of its circuits and boards.
    pub fn verdict(&self) -> Verdict {
        let circuits = self.circuits.iter().map(|row| row.verdict);
        let boards = self.boards.iter().map(|row| row.verdict);
        circuits.chain(boards).max().unwrap_or(Verdict::NotComplete)
    }

    /// Why a required pair is not tested by good readings; none where it is.
    ///
    /// Time linear in the part of the network around the pair's cores, and in the readings that test it.
    pub fn why_not_proven(&self, pair: PairId) -> Option<NotProven> {
        let circuit = self.network.installation().length(self.network.pair_length(pair)).circuit();
        let Some(number) = self.proven_by[circuit.index()] else { return Some(NotProven::NoRule) };
        let proven = &self.proven[number];
        if proven.is_tested(pair) {
            return None;
        }
        Some(match WhyMissed::by(&self.coverage).of(pair) {
            Some(missed) => NotProven::NotTested(missed),
            None => {
                let testers = self.coverage.tested_by(pair).map(|outcome| [outcome.pass, outcome.reading]);
                NotProven::NoGoodReading(testers.collect())
            }
        })
    }
}

/// What is tested by good readings: one coverage for each different demand, and for each circuit which one is its own.
fn prove<'n>(
    network: &'n Network,
    tests: &TestSet,
    need: Need,
    ruleset: &Ruleset,
    demands: &[Demand],
    readings: &[JudgedReading<'_>],
) -> (Vec<Tested<'n>>, Vec<Option<usize>>) {
    let work = network.installation().work();
    let place: FxHashMap<[usize; 2], usize> =
        readings.iter().enumerate().map(|(number, row)| (row.name(), number)).collect();
    let mut different: Vec<&Demand> = Vec::new();
    let mut proven: Vec<Tested<'n>> = Vec::new();
    let mut proven_by = Vec::with_capacity(demands.len());
    for demand in demands {
        if demand.asked.is_err() {
            proven_by.push(None);
            continue;
        }
        let number = different.iter().position(|known| *known == demand).unwrap_or_else(|| {
            different.push(demand);
            proven.push(Tested::by_some(network, tests, need, |pass, number| {
                let row = &readings[place[&[pass, number]]];
                let (true, Some(resistance)) = (row.verdict.is_good(), row.resistance()) else { return false };
                demand
                    .asked_at(ruleset, row.recorded.volts())
                    .is_ok_and(|asked| judge_value(ruleset, work, asked, resistance).is_good())
            }));
            different.len() - 1
        });
        proven_by.push(Some(number));
    }
    (proven, proven_by)
}

/// The circuits with their readings; what is required of them, and what these come to, is added afterwards.
fn circuits(
    network: &Network,
    ruleset: &Ruleset,
    demands: &[Demand],
    readings: &[JudgedReading<'_>],
) -> Vec<CircuitJudgement> {
    let installation = network.installation();
    let mut elsewhere = read_elsewhere(network, ruleset, demands, readings).into_iter();
    let mut circuits: Vec<CircuitJudgement> = installation
        .circuits()
        .zip(demands)
        .map(|((circuit, _), demand)| CircuitJudgement {
            circuit,
            asked: demand.asked.clone(),
            relief: demand.relief,
            metres: Metres(0.0),
            readings: Vec::new(),
            elsewhere: elsewhere.next().unwrap_or_default(),
            figures: [None, None],
            required: 0,
            missed: Vec::new(),
            verdict: Verdict::NotComplete,
            shares: [Share::NotNeeded, Share::NotNeeded],
        })
        .collect();
    for (_, length) in installation.lengths() {
        circuits[length.circuit().index()].metres.0 += length.metres().0;
    }
    for (number, row) in readings.iter().enumerate() {
        if let ReadingAt::Circuit(circuit) = row.recorded.at() {
            circuits[circuit.index()].readings.push(number);
        }
    }
    for circuit in &mut circuits {
        // A sum of decimal metres is given as decimals, not as what binary fractions make of it.
        circuit.metres.0 = (circuit.metres.0 * 1e6).round() / 1e6;
    }
    circuits
}

/// For each circuit the readings that touch its live conductors and are put down under something else.
///
/// Time linear in the cores of the installation and in what leads touch.
fn read_elsewhere(
    network: &Network,
    ruleset: &Ruleset,
    demands: &[Demand],
    readings: &[JudgedReading<'_>],
) -> Vec<Vec<ReadElsewhere>> {
    let installation = network.installation();
    let mut circuits_at: FxHashMap<TerminalRef, Vec<CircuitId>> = FxHashMap::default();
    for row in readings {
        for &terminal in row.recorded.leads().iter().flat_map(|lead| lead.touches()) {
            if !is_earth(network, terminal) {
                circuits_at.entry(terminal).or_default();
            }
        }
    }
    for (_, length) in installation.lengths() {
        for terminal in length.cores().iter().flat_map(|core| core.ends()).flatten() {
            if let Some(circuits) = circuits_at.get_mut(&terminal) {
                circuits.push(length.circuit());
            }
        }
    }
    let of_way = installation.circuits_of_ways();
    for (terminal, circuits) in &mut circuits_at {
        if let TerminalRef::Way { way, .. } = terminal {
            circuits.extend(of_way.get(way));
        }
    }
    let mut elsewhere = vec![Vec::new(); demands.len()];
    for (reading, row) in readings.iter().enumerate() {
        let touched = row.recorded.leads().iter().flat_map(|lead| lead.touches());
        let mut circuits: Vec<CircuitId> =
            touched.filter_map(|terminal| circuits_at.get(terminal)).flatten().copied().collect();
        circuits.sort_unstable();
        circuits.dedup();
        circuits.retain(|&circuit| row.recorded.at() != ReadingAt::Circuit(circuit));
        for circuit in circuits {
            let verdict = verdict_here(ruleset, installation.work(), &demands[circuit.index()], row);
            let why = WhyElsewhere::LeadOnIt;
            elsewhere[circuit.index()].extend(verdict.map(|verdict| ReadElsewhere { reading, why, verdict }));
        }
    }
    elsewhere
}

/// How a reading that is put down under something else stands to what is asked of a circuit; none where it says nothing of
/// it.
fn verdict_here(ruleset: &Ruleset, work: Work, demand: &Demand, reading: &JudgedReading<'_>) -> Option<ReadingVerdict> {
    if reading.verdict.is_void() {
        return None;
    }
    let resistance = Resistance::of(reading.recorded.megohms()?);
    match (demand.asked_at(ruleset, reading.recorded.volts()), &demand.asked) {
        (Ok(asked), _) => Some(judge_value(ruleset, work, asked, resistance)),
        // At another voltage a fine value says nothing here, and what it is put down under says so. A low one is low at any.
        (Err(why), Ok(asked)) if resistance.against(asked.megohms) != Against::AtLeast => {
            Some(ReadingVerdict::NotJudgeable(why))
        }
        (Err(_), _) => None,
    }
}

/// Whether a reading of a circuit, in a column or in neither, is below what is asked, at whatever voltage it was taken.
fn is_read_too_low(circuit: &CircuitJudgement, readings: &[JudgedReading<'_>], column: Column) -> bool {
    let own = circuit.readings.iter().map(|&number| (&readings[number], &readings[number].verdict));
    let elsewhere = circuit.elsewhere.iter().map(|row| (&readings[row.reading], &row.verdict));
    own.chain(elsewhere).filter(|(row, _)| row.column.is_err() || row.column == Ok(column)).any(|(row, verdict)| {
        let shown = row.recorded.megohms().map(Resistance::of);
        match (verdict, &circuit.asked) {
            (ReadingVerdict::Fail, _) => true,
            (ReadingVerdict::NotJudgeable(NotJudgeable::Void { .. }), _) => false,
            (ReadingVerdict::NotJudgeable(_), Ok(asked)) => {
                shown.is_some_and(|shown| shown.against(asked.megohms) == Against::Below)
            }
            _ => false,
        }
    })
}

fn figure(circuit: &CircuitJudgement, readings: &[JudgedReading<'_>], column: Column) -> Option<Figure> {
    let own = circuit.readings.iter().filter_map(|&number| Some((number, readings[number].resistance()?)));
    let elsewhere = circuit
        .elsewhere
        .iter()
        .filter(|row| row.verdict.is_of_value())
        .filter_map(|row| Some((row.reading, Resistance::of(readings[row.reading].recorded.megohms()?))));
    let rows: Vec<(usize, Resistance)> =
        own.chain(elsewhere).filter(|row| readings[row.0].column == Ok(column)).collect();
    let resistance = Resistance::least(rows.iter().map(|row| row.1))?;
    // The reading whose lower bound is the least one; of several the one that says most.
    let deciding = rows.iter().min_by(|(_, a), (_, b)| {
        let lower = a.lower().0.total_cmp(&b.lower().0).then(a.is_above_lower().cmp(&b.is_above_lower()));
        lower.then(a.upper().0.total_cmp(&b.upper().0))
    })?;
    let record = readings[deciding.0].recorded.written()?.into_owned();
    Some(Figure { resistance, record, readings: rows.into_iter().map(|row| row.0).collect() })
}

fn verdict_of(circuit: &CircuitJudgement, readings: &[JudgedReading<'_>]) -> Verdict {
    let own = circuit.readings.iter().map(|&number| Verdict::of(&readings[number].verdict));
    let elsewhere = circuit.elsewhere.iter().map(|row| Verdict::of(&row.verdict));
    let worst = own.chain(elsewhere).max().unwrap_or(Verdict::NotComplete);
    // Where nothing must be tested nothing was tested, however fine the readings are.
    let is_complete = circuit.missed.is_empty() && circuit.required > 0;
    if is_complete { worst } else { worst.max(Verdict::NotComplete) }
}
