//! The record of a judgement as CSV: one row a circuit.

use std::collections::HashMap;
use std::io::{self, Write};

use super::text::judge::{reading_name, verdict_in_words, verdict_of_reading};
use super::text::layout::count;
use crate::judge::{CircuitJudgement, Column, Judgement, ReadingReason, ReadingVerdict};
use crate::model::{Circuit, CircuitRelief, Installation};
use crate::session::cell;

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

/// Writes the record.
pub(super) fn write(out: &mut impl Write, installation: &Installation, judgement: &Judgement) -> io::Result<()> {
    let mut writer = csv::Writer::from_writer(out);
    writer.write_record(COLUMNS)?;
    let mut connected: HashMap<&str, Vec<ReadingVerdict>> = HashMap::new();
    for row in &judgement.connected {
        connected.entry(row.circuit.as_deref().unwrap_or_default()).or_default().push(row.verdict);
    }
    for (row, (_, circuit)) in judgement.circuits.iter().zip(installation.circuits()) {
        let figure = |column| row.figure(column).map(|figure| figure.record.clone()).unwrap_or_default();
        let cells = [
            circuit.id().to_owned(),
            if circuit.name() == circuit.id() { String::new() } else { circuit.name().to_owned() },
            circuit.way().map(|way| installation.way_name(way)).unwrap_or_default(),
            row.asked.map(|asked| asked.volts.0.to_string()).unwrap_or_default(),
            row.asked.map(|asked| asked.megohms.0.to_string()).unwrap_or_default(),
            figure(Column::LiveToLive),
            figure(Column::LiveToEarth),
            row.metres.0.to_string(),
            row.required.to_string(),
            row.tested.to_string(),
            verdict_in_words(row.verdict).to_owned(),
            remarks(judgement, row, circuit, connected.get(circuit.id()).map_or(&[], Vec::as_slice)),
        ];
        writer.write_record(cells.map(|text| cell(&text)))?;
    }
    writer.flush()
}

/// What keeps the circuit from passing.
fn remarks(judgement: &Judgement, row: &CircuitJudgement, circuit: &Circuit, connected: &[ReadingVerdict]) -> String {
    let own = row.readings.iter().filter_map(|&name| {
        let reading = judgement.reading(name)?;
        let is_low = matches!(reading.why, Some(ReadingReason::VoltsTooLow { is_low: true, .. }));
        Some((name, reading.verdict, if is_low { ", too low at any voltage" } else { "" }))
    });
    let elsewhere = row.elsewhere.iter().map(|row| (row.name(), row.verdict, ""));
    let mut remarks: Vec<String> = own
        .chain(elsewhere)
        .filter(|(_, verdict, _)| *verdict != ReadingVerdict::Pass)
        .map(|(name, verdict, low)| {
            format!("{}: {}{low}", reading_name(&name), verdict_of_reading(verdict).to_lowercase())
        })
        .collect();
    if row.readings.is_empty() && row.elsewhere.is_empty() {
        remarks.push("no readings".to_owned());
    }
    let not_passed = connected.iter().filter(|&&verdict| verdict != ReadingVerdict::Pass);
    remarks.extend(
        not_passed.map(|&verdict| format!("with equipment connected: {}", verdict_of_reading(verdict).to_lowercase())),
    );
    if row.required == 0 {
        remarks.push("the file has no cores of it that need a test".to_owned());
    }
    if row.tested < row.required {
        remarks.push(format!("{} needed and not tested", count(row.required - row.tested, "pair")));
    }
    if !row.without_role.is_empty() {
        remarks.push(format!("{} connected without a role, not asked for", count(row.without_role.len(), "core")));
    }
    if let Some(reason) = row.relief.and(circuit.relief().map(CircuitRelief::because)) {
        remarks.push(format!("can't be disconnected: {reason}"));
    }
    remarks.join("; ")
}
