//! From nodes to the draft of a test set.

use super::error::{Document, InputFault, Type};
use super::node::{Node, Value};
use super::reader::{Fields, Reader, Shape};
use crate::model::{
    ConnectedDraft, FormatOne, Indication, Megohms, PassDraft, ReadingDraft, StartDraft, TestSetDraft, Volts, cut,
};

const FILE: Shape = Shape { name: "file", keys: &["format", "start", "pass", "connected"] };
const PASS: Shape = Shape { name: "pass", keys: &["operate", "set", "remove", "link", "refit", "reading"] };
const READING: Shape = Shape { name: "reading", keys: &["circuit", "board", "between", "volts", "megohms"] };

const CONNECTED: Shape = Shape { name: "connected", keys: &["circuit", "board", "volts", "megohms"] };

/// What a test set is read for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Purpose {
    /// For what was on the leads.
    Coverage,
    /// For what the instrument showed too: a value says nothing without the voltage that it was read at.
    Record,
}

pub(super) fn read(reader: &mut Reader<'_>, node: &Node<'_>, purpose: Purpose) -> Option<TestSetDraft> {
    let fields = &reader.open_file(node, &FILE, Document::TestSet)?;
    let start = reader.optional(fields, "start", |reader, node| reader.named(node, read_start)).unwrap_or_default();
    let passes = reader.tables(fields, "pass", |reader, node| read_pass(reader, node, purpose));
    let connected = reader.tables(fields, "connected", |reader, node| {
        let fields = &reader.open(node, &CONNECTED);
        let circuit = reader.optional_text(fields, "circuit");
        let board = reader.optional_text(fields, "board");
        let Values { volts, megohms, written } = read_values(reader, fields, purpose);
        ConnectedDraft { circuit, board, volts, megohms, written }
    });
    Some(TestSetDraft { format: FormatOne, start, passes, connected })
}

fn read_start<'n>(reader: &mut Reader<'_>, node: &'n Node<'n>) -> StartDraft {
    let words = match &node.value {
        Value::Text(text) => Some(vec![text.to_string()]),
        Value::Array(_) => reader.texts(node),
        _ => reader.wrong_type(node, Type::TextOrTexts),
    };
    StartDraft(words.unwrap_or_default())
}

fn read_pass(reader: &mut Reader<'_>, node: &Node<'_>, purpose: Purpose) -> PassDraft {
    let fields = &reader.open(node, &PASS);
    let word = |reader: &mut Reader<'_>, node: &Node<'_>| reader.text(node).unwrap_or_default();
    PassDraft {
        operate: reader.optional_texts(fields, "operate"),
        set: reader.optional(fields, "set", |reader, node| reader.named(node, word)).unwrap_or_default(),
        remove: reader.optional_texts(fields, "remove"),
        link: reader.optional_texts(fields, "link"),
        refit: reader.optional_texts(fields, "refit"),
        readings: reader.tables(fields, "reading", |reader, node| read_reading(reader, node, purpose)),
    }
}

fn read_reading(reader: &mut Reader<'_>, node: &Node<'_>, purpose: Purpose) -> ReadingDraft {
    let fields = &reader.open(node, &READING);
    let circuit = reader.optional_text(fields, "circuit");
    let board = reader.optional_text(fields, "board");
    let between = reader.required_pair(fields, "between");
    let Values { volts, megohms, written } = read_values(reader, fields, purpose);
    ReadingDraft { circuit, board, between, volts, megohms, written }
}

/// What a reading was taken at, and what the instrument showed.
struct Values {
    volts: Option<Volts>,
    megohms: Option<Indication>,
    written: Option<String>,
}

fn read_values(reader: &mut Reader<'_>, fields: &Fields<'_>, purpose: Purpose) -> Values {
    let mut written = None;
    let mut has_megohms = false;
    let megohms = reader.optional(fields, "megohms", |reader, node| {
        // A form that is not filled in yet.
        if matches!(&node.value, Value::Text(text) if text.is_empty()) {
            return None;
        }
        has_megohms = true;
        written = to_the_letter(node, reader.text);
        read_indication(reader, node, written.as_deref().unwrap_or_default())
    });
    let volts = if purpose == Purpose::Record && has_megohms {
        Some(reader.required_number(fields, "volts"))
    } else {
        reader.optional(fields, "volts", Reader::number)
    };
    Values { volts: volts.map(Volts), megohms, written }
}

/// A reading's value to the letter: the digits that stand in the text, or the text in quotes.
fn to_the_letter(node: &Node<'_>, text: &str) -> Option<String> {
    match &node.value {
        Value::Integer(_) | Value::Float(_) => {
            text.get(node.span.start as usize..node.span.end as usize).map(str::to_owned)
        }
        Value::Text(text) => Some(text.as_ref().to_owned()),
        _ => None,
    }
}

fn read_indication(reader: &mut Reader<'_>, node: &Node<'_>, written: &str) -> Option<Indication> {
    match &node.value {
        // A number to the base of 16, 8 or 2 is none that an instrument shows.
        Value::Integer(_) if ["0x", "0o", "0b"].iter().any(|prefix| written.starts_with(prefix)) => {
            reader.refuse(node, InputFault::BadIndication { found: cut(written) })
        }
        Value::Integer(integer) => Some(Indication::Value(Megohms(*integer as f64))),
        Value::Float(float) => Some(Indication::Value(Megohms(*float))),
        Value::Text(text) => match Indication::of_text(text) {
            Some(shown) => Some(shown),
            None => reader.refuse(node, InputFault::BadIndication { found: cut(text) }),
        },
        _ => reader.wrong_type(node, Type::NumberOrText),
    }
}
