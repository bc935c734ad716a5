//! The record of a judgement as CSV: one row a circuit.

use std::io::Write;

use super::text::judge::{reading_name, verdict_in_words, verdict_of_reading};
use crate::judge::{CircuitJudgement, Column, Judgement, ReadingVerdict};

const COLUMNS: [&str; 12] = [
    "circuit",
    "name",
    "way",
    "asked_volts",
    "asked_megohms",
    "live_to_live_megohms",
    "live_to_earth_megohms",
    "metres",
    "pairs_needed",
    "pairs_tested",
    "verdict",
    "remarks",
];

/// Writes the record. Like the text and the JSON it says nothing of a reader that has gone away.
pub(super) fn write(out: &mut impl Write, judgement: &Judgement<'_>) {
    let mut writer = csv::Writer::from_writer(out);
    let _ = writer.write_record(COLUMNS);
    for row in judgement.circuits() {
        let _ = writer.write_record(cells(judgement, row));
    }
    let _ = writer.flush();
}

fn cells(judgement: &Judgement<'_>, row: &CircuitJudgement) -> [String; 12] {
    let installation = judgement.network().installation();
    let circuit = installation.circuit(row.circuit);
    let asked = row.asked.as_ref().ok();
    let figure = |column| row.figure(column).map(|figure| figure.record.clone()).unwrap_or_default();
    [
        circuit.id().to_owned(),
        if circuit.name() == circuit.id() { String::new() } else { circuit.name().to_owned() },
        circuit.way().map(|way| installation.way_name(way)).unwrap_or_default(),
        asked.map(|asked| asked.volts.0.to_string()).unwrap_or_default(),
        asked.map(|asked| asked.megohms.0.to_string()).unwrap_or_default(),
        figure(Column::LiveToLive),
        figure(Column::LiveToEarth),
        row.metres.0.to_string(),
        row.required.to_string(),
        row.proven().to_string(),
        verdict_in_words(row.verdict).to_owned(),
        remarks(judgement, row),
    ]
}

/// What keeps the circuit from passing.
fn remarks(judgement: &Judgement<'_>, row: &CircuitJudgement) -> String {
    let mut remarks: Vec<String> = row
        .readings
        .iter()
        .map(|&number| (number, &judgement.readings()[number].verdict))
        .chain(row.elsewhere.iter().map(|row| (row.reading, &row.verdict)))
        .filter(|(_, verdict)| **verdict != ReadingVerdict::Pass)
        .map(|(number, verdict)| {
            let what = verdict_of_reading(verdict).to_lowercase();
            format!("{}: {what}", reading_name(&judgement.readings()[number].name()))
        })
        .collect();
    if row.readings.is_empty() && row.elsewhere.is_empty() {
        remarks.push("no readings".to_owned());
    }
    if row.required == 0 {
        remarks.push("the file has no cores of it that need a test".to_owned());
    }
    if !row.missed.is_empty() {
        remarks.push(format!("{} needed and not tested", super::text::layout::count(row.missed.len(), "pair")));
    }
    if let Some(reason) = installation_relief(judgement, row) {
        remarks.push(format!("can't be disconnected: {reason}"));
    }
    remarks.join("; ")
}

fn installation_relief<'n>(judgement: &Judgement<'n>, row: &CircuitJudgement) -> Option<&'n str> {
    row.relief?;
    judgement.network().installation().circuit(row.circuit).relief()
}
