//! The readings that wait for a value as a table to type into, and back.

use std::io::{self, Write};

use super::output::refusal;
use crate::model::{Installation, ReadingAt, TestSet};
use crate::session::cell;

const COLUMNS: [&str; 8] = ["pass", "reading", "at", "name", "lead", "other_lead", "volts", "megohms"];

/// Writes a row for each reading without a value.
pub(super) fn write(out: &mut impl Write, installation: &Installation, tests: &TestSet) -> io::Result<()> {
    let mut writer = csv::Writer::from_writer(out);
    writer.write_record(COLUMNS)?;
    for (pass, row) in (1..).zip(tests.passes()) {
        for (reading, row) in (1..).zip(row.readings()).filter(|(_, row)| row.megohms().is_none()) {
            let (at, name) = match row.at() {
                ReadingAt::Circuit(circuit) => {
                    let circuit = installation.circuit(circuit);
                    (circuit.id(), circuit.name())
                }
                ReadingAt::Board(board) => (installation.board(board).id(), ""),
            };
            let [lead, other] = row.leads().each_ref().map(|lead| cell(lead.text()));
            let volts = row.volts().map(|volts| volts.0.to_string()).unwrap_or_default();
            let numbers = [pass, reading].map(|number: usize| number.to_string());
            let [pass, reading] = numbers;
            writer.write_record([pass, reading, cell(at), cell(name), lead, other, volts, String::new()])?;
        }
    }
    writer.flush()
}

/// The values of a table that was filled in, each by the pass and number of its reading; rows without one are left out.
/// Columns are found by their names, and the others say nothing: what a row is about, its two numbers tell.
pub(super) fn read(name: &str, bytes: &[u8]) -> Result<Vec<([usize; 2], String)>, String> {
    let wrong = |error: String| refusal(format!("{name}: {error}"), "keep the columns that `fill` has written");
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let head = bytes.split(|&byte| byte == b'\n').next().unwrap_or_default();
    // Where a comma is the decimal sign, spreadsheets part cells otherwise.
    let delimiter = [b',', b';', b'\t'].into_iter().find(|sign| head.contains(sign)).unwrap_or(b',');
    let mut reader = csv::ReaderBuilder::new().delimiter(delimiter).trim(csv::Trim::All).from_reader(bytes);
    let headers = reader.headers().map_err(|error| wrong(error.to_string()))?.clone();
    let place = |column: &str| {
        let found = headers.iter().position(|header| header == column);
        found.ok_or_else(|| wrong(format!("it has no column `{column}`")))
    };
    let [pass, reading, megohms] = [place("pass")?, place("reading")?, place("megohms")?];
    let mut values = Vec::new();
    for row in reader.records() {
        let row = row.map_err(|error| wrong(error.to_string()))?;
        let value = row.get(megohms).unwrap_or_default();
        if value.is_empty() {
            continue;
        }
        let number = |place| {
            let text: &str = row.get(place).unwrap_or_default();
            text.parse().map_err(|_| wrong(format!("`{text}` is no number of a pass or a reading")))
        };
        values.push(([number(pass)?, number(reading)?], value.to_owned()));
    }
    Ok(values)
}
