//! From nodes to the draft of a test set.

use indexmap::IndexMap;

use super::error::{Document, InputFault, Type};
use super::fields::{Fields, Reader, Shape};
use super::installation;
use super::node::{Node, Value};
use crate::model::{
    FormatOne, Indication, LOST, Megohms, PassDraft, ReadingDraft, StartDraft, TestSetDraft, Volts, cut,
};

const FILE: Shape = Shape { name: "file", keys: &["format", "start", "pass"] };
/// The keys by which a test set is told from an installation.
pub(super) const OWN_KEYS: &[&str] = &["start", "pass"];
const PASS: Shape = Shape { name: "pass", keys: &["operate", "set", "remove", "refit", "reading"] };
const READING: Shape = Shape { name: "reading", keys: &["circuit", "board", "between", "volts", "megohms"] };

pub(super) fn read(reader: &mut Reader<'_>, node: Node<'_>) -> Option<TestSetDraft> {
    let mut fields = reader.open_file(node, &FILE, Document::Installation, installation::OWN_KEYS)?;
    reader.format(&mut fields);
    let start = read_start(reader, &mut fields);
    // A pass keeps its place in the list even where it was lost, for errors are found again by their number.
    let passes = reader.tables(&mut fields, "pass", read_pass, || Some(PassDraft::default()));
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

fn read_pass(reader: &mut Reader<'_>, node: Node<'_>) -> Option<PassDraft> {
    let mut fields = reader.open(node, "pass", &PASS)?;
    Some(PassDraft {
        operate: reader.optional_texts(&mut fields, "operate").unwrap_or_default(),
        set: read_set(reader, &mut fields),
        remove: reader.optional_texts(&mut fields, "remove").unwrap_or_default(),
        refit: reader.optional_texts(&mut fields, "refit").unwrap_or_default(),
        readings: reader.tables(&mut fields, "reading", read_reading, || {
            let lost = || LOST.to_owned();
            Some(ReadingDraft { circuit: Some(lost()), between: [lost(), lost()], ..ReadingDraft::default() })
        }),
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

fn read_reading(reader: &mut Reader<'_>, node: Node<'_>) -> Option<ReadingDraft> {
    let mut fields = reader.open(node, "reading", &READING)?;
    Some(ReadingDraft {
        circuit: reader.optional_text(&mut fields, "circuit"),
        board: reader.optional_text(&mut fields, "board"),
        between: reader.required_pair(&mut fields, "between"),
        volts: reader.optional_number(&mut fields, "volts").map(Volts),
        megohms: reader.optional_node(&mut fields, "megohms").and_then(|node| read_indication(reader, node)),
    })
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
