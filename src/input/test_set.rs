//! From nodes to the draft of a test set.

use indexmap::IndexMap;

use super::error::{Document, InputFault, Type};
use super::fields::{Fields, Reader, Shape};
use super::node::{Node, Value};
use super::{installation, ruleset};
use crate::model::{
    FormatOne, Indication, LOST, Megohms, PassDraft, ReadingDraft, StartDraft, TestSetDraft, Volts, cut,
};

const FILE: Shape = Shape { name: "file", keys: &["format", "start", "pass"] };
/// The keys by which a test set is told from an installation.
pub(super) const OWN_KEYS: &[&str] = &["start", "pass"];
const PASS: Shape = Shape { name: "pass", keys: &["operate", "set", "remove", "refit", "reading"] };
const READING: Shape = Shape { name: "reading", keys: &["circuit", "board", "between", "volts", "megohms"] };

/// What a test set is read for.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Purpose {
    /// For what was on the leads.
    Coverage,
    /// For what the instrument showed too: a value says nothing without the voltage that it was read at.
    Record,
}

/// The text of the file and what it is read for.
#[derive(Clone, Copy)]
pub(super) struct Source<'s> {
    pub(super) text: &'s str,
    pub(super) purpose: Purpose,
}

pub(super) fn read<'s>(reader: &mut Reader<'_>, node: Node<'s>, source: Source<'s>) -> Option<TestSetDraft> {
    let others = [(Document::Installation, installation::OWN_KEYS), (Document::Ruleset, ruleset::OWN_KEYS)];
    let mut fields = reader.open_file(node, &FILE, Document::TestSet, &others)?;
    reader.format(&mut fields);
    let start = read_start(reader, &mut fields);
    // A pass keeps its place in the list even where it was lost, for errors are found again by their number.
    let passes = reader.tables(
        &mut fields,
        "pass",
        |reader, node| read_pass(reader, node, source),
        || Some(PassDraft::default()),
    );
    Some(TestSetDraft { format: FormatOne, start, passes })
}

fn read_start(reader: &mut Reader<'_>, fields: &mut Fields<'_>) -> IndexMap<String, StartDraft> {
    let mut start = IndexMap::new();
    for entry in reader.optional_named(fields, "start") {
        let words = match entry.value.value {
            Value::Text(text) => vec![text.into_owned()],
            Value::Array(_) => reader.read_texts(entry.value, &entry.key),
            Value::Lost => vec![LOST.to_owned()],
            value => {
                reader.wrong_type(entry.value.span, &entry.key, Type::TextOrTexts, &value);
                vec![LOST.to_owned()]
            }
        };
        start.insert(entry.key.into_owned(), StartDraft(words));
    }
    start
}

fn read_pass(reader: &mut Reader<'_>, node: Node<'_>, source: Source<'_>) -> Option<PassDraft> {
    let mut fields = reader.open(node, "pass", &PASS)?;
    Some(PassDraft {
        operate: reader.optional_texts(&mut fields, "operate").unwrap_or_default(),
        set: read_set(reader, &mut fields),
        remove: reader.optional_texts(&mut fields, "remove").unwrap_or_default(),
        refit: reader.optional_texts(&mut fields, "refit").unwrap_or_default(),
        readings: reader.tables(
            &mut fields,
            "reading",
            |reader, node| read_reading(reader, node, source),
            || {
                let lost = || LOST.to_owned();
                Some(ReadingDraft { circuit: Some(lost()), between: [lost(), lost()], ..ReadingDraft::default() })
            },
        ),
    })
}

fn read_set(reader: &mut Reader<'_>, fields: &mut Fields<'_>) -> IndexMap<String, String> {
    let mut set = IndexMap::new();
    for entry in reader.optional_named(fields, "set") {
        let word = reader.read_text(entry.value, &entry.key);
        set.insert(entry.key.into_owned(), word);
    }
    set
}

fn read_reading(reader: &mut Reader<'_>, node: Node<'_>, source: Source<'_>) -> Option<ReadingDraft> {
    let mut fields = reader.open(node, "reading", &READING)?;
    let circuit = reader.optional_text(&mut fields, "circuit");
    let board = reader.optional_text(&mut fields, "board");
    let between = reader.required_pair(&mut fields, "between");
    let megohms = reader.optional_node(&mut fields, "megohms");
    let volts = if source.purpose == Purpose::Record && megohms.is_some() {
        Some(reader.required_number(&mut fields, "volts"))
    } else {
        reader.optional_number(&mut fields, "volts")
    };
    let written = megohms.as_ref().and_then(|node| written(node, source.text));
    let megohms = megohms.and_then(|node| read_indication(reader, node));
    Some(ReadingDraft { circuit, board, between, volts: volts.map(Volts), megohms, written })
}

/// A reading's value to the letter: the digits that stand in the text, or the text in quotes.
fn written(node: &Node<'_>, text: &str) -> Option<String> {
    match &node.value {
        Value::Integer(_) | Value::Float(_) => {
            text.get(node.span.start as usize..node.span.end as usize).map(str::to_owned)
        }
        Value::Text(text) => Some(text.as_ref().to_owned()),
        _ => None,
    }
}

fn read_indication(reader: &mut Reader<'_>, node: Node<'_>) -> Option<Indication> {
    match node.value {
        Value::Integer(integer) => Some(Indication::Value(Megohms(integer as f64))),
        Value::Float(float) => Some(Indication::Value(Megohms(float))),
        Value::Text(text) => {
            let indication = read_bound(&text);
            if indication.is_none() {
                reader.found.push(node.span, InputFault::BadIndication { found: cut(&text) });
            }
            indication
        }
        value => {
            reader.wrong_type(node.span, "megohms", Type::NumberOrText, &value);
            None
        }
    }
}

/// `>999` or `<0.01`: a sign and a plain decimal number.
fn read_bound(text: &str) -> Option<Indication> {
    let (bound, number): (fn(Megohms) -> Indication, &str) = match text.split_at_checked(1)? {
        (">", number) => (Indication::MoreThan, number),
        ("<", number) => (Indication::LessThan, number),
        _ => return None,
    };
    let is_plain = !number.is_empty() && number.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.');
    let value: f64 = number.parse().ok().filter(|_| is_plain)?;
    value.is_finite().then(|| bound(Megohms(value)))
}
