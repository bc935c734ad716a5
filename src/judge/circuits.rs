//! Circuits, judged: their readings, their two figures, and what good readings tested of them.

use serde::{Deserialize, Serialize};

use super::demand::{Asked, Demand};
use super::elsewhere::{circuits_touched, tests_the_rest};
use super::proven::{Needed, Proven};
use super::readings::Judged;
use super::resistance::Resistance;
use super::share::{CircuitShare, Vouching};
use super::verdict::{Assessment, ReadingVerdict, Verdict};
use crate::model::{CircuitId, Metres, ReadingAt, TestSet};
use crate::network::{Column, Network};
use crate::observer::{Stage, Watch};

/// One circuit, judged.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct CircuitJudgement {
    /// The circuit.
    pub circuit: String,
    /// What becomes of it.
    pub verdict: Verdict,
    /// What is asked of it; none where the ruleset asks nothing, and `no_value` says why.
    pub asked: Option<Asked>,
    /// Why the ruleset asks nothing, in its words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub no_value: Option<String>,
    /// What will do too, where something can't be disconnected and the circuit says so.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub relief: Option<Asked>,
    /// The length of all its cables. No value is corrected for it.
    pub metres: Metres,
    /// The figure between its live conductors.
    pub live_to_live: Option<Figure>,
    /// The figure from its live conductors to earth.
    pub live_to_earth: Option<Figure>,
    /// How many pairs of its lengths must be tested.
    pub required: usize,
    /// How many of these good readings test.
    pub tested: usize,
    /// Its cores that are connected at both ends but have no role, so that no test of them is asked for: [length, core].
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub without_role: Vec<[String; 2]>,
    /// Its readings, as [pass, reading].
    pub readings: Vec<[usize; 2]>,
    /// Readings put down under something else that have a lead on its live conductors, or test what the others leave
    /// where with them all of it is tested: those that are sound, have a value and were taken at a voltage that will do
    /// here, or are too low at another (those are in no figure, as its own at such a voltage are not). Whatever they
    /// are put down under, a low one is not passed over.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub elsewhere: Vec<ReadElsewhere>,
}

impl CircuitJudgement {
    /// The figure of a column.
    pub fn figure(&self, column: Column) -> Option<&Figure> {
        match column {
            Column::LiveToLive => self.live_to_live.as_ref(),
            Column::LiveToEarth => self.live_to_earth.as_ref(),
        }
    }
}

/// A reading that is put down under something else, and counts as one of the circuit's own.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct ReadElsewhere {
    /// The pass, counted from 1.
    pub pass: usize,
    /// The reading in the pass, counted from 1.
    pub reading: usize,
    /// How it stands to what is asked of this circuit.
    pub verdict: ReadingVerdict,
    /// Why it counts.
    pub why: WhyElsewhere,
}

/// Why a reading that is put down under something else counts for a circuit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum WhyElsewhere {
    /// A lead was on the circuit's live conductors.
    LeadOnIt,
    /// It tests what the others leave of the circuit.
    TestsTheRest,
}

impl ReadElsewhere {
    /// Pass and number, as a judgement names a reading.
    pub fn name(&self) -> [usize; 2] {
        [self.pass, self.reading]
    }
}

/// One of a circuit's two figures: the least of all its readings in that column.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Figure {
    /// What goes into the record: what was written of the reading that decides it.
    pub record: String,
    /// What is known of the least.
    #[serde(flatten)]
    pub resistance: Resistance,
    /// The readings that it is the least of, as [pass, reading].
    pub readings: Vec<[usize; 2]>,
}

/// A circuit's judgement, with what boards ask of it.
pub(super) struct JudgedCircuit {
    pub(super) answer: CircuitJudgement,
    /// The readings of its figures by their place in the judgement's, by [`Column`].
    pub(super) in_figures: [Vec<usize>; 2],
    /// What is known of its insulation from below, by [`Column`].
    pub(super) shares: [CircuitShare; 2],
}

/// A reading that counts for a circuit, by its place in the judgement's, and how it stands to what is asked of that
/// circuit.
struct CountedReading {
    reading: usize,
    assessment: Assessment,
    /// None of the circuit's own.
    elsewhere: Option<WhyElsewhere>,
}

/// Judges every circuit, in the order of the file; those before an observer stops it.
pub(super) fn judge_circuits(
    network: &Network,
    tests: &TestSet,
    demands: &[Demand<'_>],
    readings: &[Judged<'_>],
    proven: &Proven<'_>,
    needed: &[Needed],
    watch: &mut Watch<'_>,
) -> Vec<JudgedCircuit> {
    if watch.is_stopped() {
        return Vec::new();
    }
    let installation = network.installation();
    let mut metres = vec![0.0; demands.len()];
    for (_, length) in installation.lengths() {
        metres[length.circuit().index()] += length.metres().0;
    }
    let mut without_role = vec![Vec::new(); demands.len()];
    for core in network.cores_without_role() {
        without_role[installation.length(core.0).circuit().index()].push(core);
    }
    let mut own: Vec<Vec<CountedReading>> = demands.iter().map(|_| Vec::new()).collect();
    let mut elsewhere: Vec<Vec<CountedReading>> = demands.iter().map(|_| Vec::new()).collect();
    for ((reading, row), touched) in readings.iter().enumerate().zip(circuits_touched(network, tests)) {
        if let ReadingAt::Circuit(circuit) = row.recorded.at() {
            let assessment = row.assessment.clone();
            own[circuit.index()].push(CountedReading { reading, assessment, elsewhere: None });
        }
        for circuit in touched {
            let why = Some(WhyElsewhere::LeadOnIt);
            let assessment = demands[circuit.index()].judge_elsewhere(row);
            let counted = assessment.map(|assessment| CountedReading { reading, assessment, elsewhere: why });
            elsewhere[circuit.index()].extend(counted);
        }
    }
    let mut vouching = Vouching::new(network, proven, readings);
    let mut judge = |id: CircuitId, own: Vec<CountedReading>, mut elsewhere: Vec<CountedReading>| {
        let (demand, needed, number) = (&demands[id.index()], &needed[id.index()], proven.number(id));
        if let Some(number) = number {
            let mut known: Vec<usize> = own.iter().chain(&elsewhere).map(|row| row.reading).collect();
            known.sort_unstable();
            elsewhere.extend(tests_the_rest(proven, number, needed, &known).into_iter().filter_map(|reading| {
                let assessment = demand.judge_elsewhere(&readings[reading])?;
                Some(CountedReading { reading, assessment, elsewhere: Some(WhyElsewhere::TestsTheRest) })
            }));
            elsewhere.sort_unstable_by_key(|row| row.reading);
        }
        let counted = || own.iter().chain(&elsewhere);
        let share = |column| match vouching.share(number, needed, column) {
            // One that is too low, be it at another voltage, contradicts those that vouch for the circuit.
            CircuitShare::Read(_)
                if counted()
                    .map(|row| &readings[row.reading])
                    .any(|row| row.bears_on(column) && demand.is_too_low(row)) =>
            {
                CircuitShare::NotKnown
            }
            share => share,
        };
        let shares = Column::BOTH.map(share);
        let [to_live, to_earth] = Column::BOTH.map(|column| figure(counted(), readings, column).unzip());
        let without_role = network.core_names(std::mem::take(&mut without_role[id.index()]).into_iter());
        let worst = counted().map(|row| row.assessment.verdict.into()).max().unwrap_or(Verdict::NotComplete);
        // Where nothing must be tested nothing was tested, however fine the readings are.
        let is_complete = needed.missed.is_empty() && needed.count() > 0;
        let at_best = match (is_complete, without_role.is_empty()) {
            (false, _) => Verdict::NotComplete,
            (true, false) => Verdict::Investigate,
            (true, true) => Verdict::Pass,
        };
        JudgedCircuit {
            answer: CircuitJudgement {
                circuit: installation.circuit(id).id().to_owned(),
                verdict: worst.max(at_best),
                asked: demand.asked.as_ref().ok().copied(),
                no_value: demand.asked.as_ref().err().cloned(),
                relief: demand.relief,
                // A sum of decimal metres is given as decimals, not as what binary fractions make of it.
                metres: Metres((metres[id.index()] * 1e6).round() / 1e6),
                live_to_live: to_live.0,
                live_to_earth: to_earth.0,
                required: needed.count(),
                tested: needed.count() - needed.missed.len(),
                without_role,
                readings: own.iter().map(|row| readings[row.reading].name).collect(),
                elsewhere: elsewhere
                    .iter()
                    .filter_map(|row| {
                        let [pass, reading] = readings[row.reading].name;
                        Some(ReadElsewhere { pass, reading, verdict: row.assessment.verdict, why: row.elsewhere? })
                    })
                    .collect(),
            },
            in_figures: [to_live.1, to_earth.1].map(Option::unwrap_or_default),
            shares,
        }
    };
    let rows = installation.circuits().zip(own).zip(elsewhere).enumerate();
    let going_on = rows.take_while(|&(number, _)| watch.goes_on_at(Stage::Circuits, number, demands.len()));
    going_on.map(|(_, (((id, _), own), elsewhere))| judge(id, own, elsewhere)).collect()
}

/// A figure, and the readings that it is the least of by their place in the judgement's.
fn figure<'c>(
    counted: impl Iterator<Item = &'c CountedReading>,
    readings: &[Judged<'_>],
    column: Column,
) -> Option<(Figure, Vec<usize>)> {
    let rows: Vec<(usize, Resistance)> = counted
        .filter(|row| row.assessment.is_of_value() && readings[row.reading].column == Ok(column))
        .filter_map(|row| Some((row.reading, readings[row.reading].shown()?)))
        .collect();
    let resistance = Resistance::least(rows.iter().map(|row| row.1))?;
    // The reading whose lower bound is the least one; of several the one that says most.
    let deciding = rows.iter().min_by(|(_, a), (_, b)| a.by_lower(*b).then(a.upper().0.total_cmp(&b.upper().0)))?;
    let record = readings[deciding.0].recorded.written()?.into_owned();
    let in_figure: Vec<usize> = rows.into_iter().map(|row| row.0).collect();
    let names = in_figure.iter().map(|&reading| readings[reading].name).collect();
    Some((Figure { record, resistance, readings: names }, in_figure))
}
