//! From nodes to a ruleset.

use super::error::{Document, InputFault, Type};
use super::fields::{Choices, Fields, Reader, Shape};
use super::node::{Node, Span, Value};
use super::{installation, test_set};
use crate::model::{Megohms, System, Volts};
use crate::rules::{Note, Relief, Row, RowValue, Ruleset, Source, Threshold};

const FILE: Shape =
    Shape { name: "file", keys: &["format", "ruleset", "row", "relief", "investigate", "expected_when_new", "note"] };
/// The keys by which a ruleset is told from the other sorts of file.
pub(super) const OWN_KEYS: &[&str] = &["ruleset", "row"];
const GENERAL: Shape = Shape { name: "ruleset", keys: &["id", "title"] };
const ROW: Shape = Shape {
    name: "row",
    keys: &["system", "above", "up_to", "volts", "megohms", "no_value", "source", "edition", "from_memory"],
};
const RELIEF: Shape = Shape { name: "relief", keys: &["volts", "megohms", "source", "edition", "from_memory"] };
const INVESTIGATE: Shape = Shape { name: "investigate", keys: &["below", "source", "edition", "from_memory"] };
const EXPECTED: Shape = Shape { name: "expected_when_new", keys: &["above", "source", "edition", "from_memory"] };
const NOTE: Shape = Shape { name: "note", keys: &["text", "source", "edition", "from_memory"] };

const SYSTEM: Choices<System> = installation::SYSTEM;

/// A ruleset; of use only where no error was found.
pub(super) fn read(reader: &mut Reader<'_>, node: Node<'_>) -> Option<Ruleset> {
    let others = [(Document::Installation, installation::OWN_KEYS), (Document::TestSet, test_set::OWN_KEYS)];
    let mut fields = reader.open_file(node, &FILE, Document::Ruleset, &others)?;
    reader.format(&mut fields);
    let (mut id, mut title) = (String::new(), String::new());
    if let Some(node) = reader.required_node(&mut fields, "ruleset")
        && let Some(mut general) = reader.open(node, "ruleset", &GENERAL)
    {
        id = text(reader, &mut general, "id");
        title = text(reader, &mut general, "title");
    }
    let rows: Vec<(Span, Row)> = match reader.required_node(&mut fields, "row") {
        Some(Node { value: Value::Array(nodes), .. }) => {
            nodes.into_iter().filter_map(|node| Some((node.span, read_row(reader, node)?))).collect()
        }
        Some(node) => {
            reader.wrong_type(node.span, "row", Type::Tables, &node.value);
            Vec::new()
        }
        None => Vec::new(),
    };
    let relief = reader.optional_node(&mut fields, "relief").and_then(|node| {
        let mut fields = reader.open(node, "relief", &RELIEF)?;
        let volts = Volts(above_zero(reader, &mut fields, "volts"));
        let megohms = Megohms(above_zero(reader, &mut fields, "megohms"));
        Some(Relief { volts, megohms, source: read_source(reader, &mut fields) })
    });
    let investigate = reader.optional_node(&mut fields, "investigate");
    let expected = reader.optional_node(&mut fields, "expected_when_new");
    let notes = reader.tables(
        &mut fields,
        "note",
        |reader, node| {
            let mut fields = reader.open(node, "note", &NOTE)?;
            Some(Note { text: text(reader, &mut fields, "text"), source: read_source(reader, &mut fields) })
        },
        || None,
    );
    let investigate_below =
        investigate.and_then(|node| read_threshold(reader, node, &INVESTIGATE, "investigate", "below"));
    let expected_above_when_new =
        expected.and_then(|node| read_threshold(reader, node, &EXPECTED, "expected_when_new", "above"));
    // What could not be read may be what is missing or too much.
    if reader.found.is_empty() {
        check_rows(reader, &rows, fields.span());
    }
    let rows = rows.into_iter().map(|(_, row)| row).collect();
    Some(Ruleset { id, title, rows, relief, investigate_below, expected_above_when_new, notes })
}

fn read_row(reader: &mut Reader<'_>, node: Node<'_>) -> Option<Row> {
    let mut fields = reader.open(node, "row", &ROW)?;
    let system = read_systems(reader, &mut fields);
    let above = limit(reader, &mut fields, "above");
    let up_to = limit(reader, &mut fields, "up_to");
    if let (Some((above, _)), Some((up_to, span))) = (above, up_to)
        && above >= up_to
    {
        reader.found.push(span, InputFault::RowBackwards { above, up_to });
    }
    let value = match reader.optional_node(&mut fields, "no_value") {
        Some(node) => {
            for key in ["volts", "megohms"] {
                if let Some(beside) = reader.optional_node(&mut fields, key) {
                    reader.found.push_beside(beside.span, Some(node.span), InputFault::RowBoth { key });
                }
            }
            RowValue::NotGiven { no_value: not_empty(reader, node, "no_value") }
        }
        None => RowValue::Given {
            volts: Volts(above_zero(reader, &mut fields, "volts")),
            megohms: Megohms(above_zero(reader, &mut fields, "megohms")),
        },
    };
    let source = read_source(reader, &mut fields);
    let volts = |limit: Option<(f64, Span)>| limit.map(|(volts, _)| Volts(volts));
    Some(Row { system, above: volts(above), up_to: volts(up_to), value, source })
}

fn read_systems(reader: &mut Reader<'_>, fields: &mut Fields<'_>) -> Vec<System> {
    let Some(node) = reader.required_node(fields, "system") else { return Vec::new() };
    match node.value {
        Value::Array(nodes) if nodes.is_empty() => {
            reader.found.push(node.span, InputFault::EmptyValue { key: "system" });
            Vec::new()
        }
        Value::Array(nodes) => {
            nodes.into_iter().filter_map(|node| reader.read_choice(node, "system", &SYSTEM)).collect()
        }
        value => {
            reader.wrong_type(node.span, "system", Type::Texts, &value);
            Vec::new()
        }
    }
}

fn read_threshold(
    reader: &mut Reader<'_>,
    node: Node<'_>,
    shape: &'static Shape,
    name: &str,
    key: &'static str,
) -> Option<Threshold> {
    let mut fields = reader.open(node, name, shape)?;
    let megohms = Megohms(above_zero(reader, &mut fields, key));
    Some(Threshold { megohms, source: read_source(reader, &mut fields) })
}

fn read_source(reader: &mut Reader<'_>, fields: &mut Fields<'_>) -> Source {
    Source {
        source: text(reader, fields, "source"),
        edition: text(reader, fields, "edition"),
        from_memory: reader.required_boolean(fields, "from_memory"),
    }
}

/// A text that is there and says something.
fn text(reader: &mut Reader<'_>, fields: &mut Fields<'_>, key: &'static str) -> String {
    reader.required_node(fields, key).map(|node| not_empty(reader, node, key)).unwrap_or_default()
}

fn not_empty(reader: &mut Reader<'_>, node: Node<'_>, key: &'static str) -> String {
    let span = node.span;
    let text = reader.read_text(node, key);
    if text.trim().is_empty() {
        reader.found.push(span, InputFault::EmptyValue { key });
    }
    text
}

/// A number above zero; one that is not is left to stand at 1.
fn above_zero(reader: &mut Reader<'_>, fields: &mut Fields<'_>, key: &'static str) -> f64 {
    reader.required_node(fields, key).and_then(|node| positive(reader, node, key)).map_or(1.0, |(value, _)| value)
}

fn limit(reader: &mut Reader<'_>, fields: &mut Fields<'_>, key: &'static str) -> Option<(f64, Span)> {
    reader.optional_node(fields, key).and_then(|node| positive(reader, node, key))
}

fn positive(reader: &mut Reader<'_>, node: Node<'_>, key: &'static str) -> Option<(f64, Span)> {
    let span = node.span;
    let value = reader.read_number(node, key)?;
    if !(value.is_finite() && value > 0.0) {
        reader.found.push(span, InputFault::NotAboveZero { key, value });
        return None;
    }
    Some((value, span))
}

/// Checks that exactly one row is for any system and nominal voltage.
fn check_rows(reader: &mut Reader<'_>, rows: &[(Span, Row)], whole: Span) {
    for (&system, &name) in SYSTEM.values.iter().zip(SYSTEM.names) {
        let mut own: Vec<(Span, f64, f64)> = rows
            .iter()
            .flat_map(|(span, row)| row.system.iter().filter(|&&of| of == system).map(move |_| (*span, row)))
            .map(|(span, row)| {
                let above = row.above.map_or(0.0, |volts| volts.0);
                (span, above, row.up_to.map_or(f64::INFINITY, |volts| volts.0))
            })
            .collect();
        own.sort_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0)));
        let mut reached = 0.0;
        let mut last: Option<Span> = None;
        for &(span, above, up_to) in &own {
            if above > reached {
                let fault = InputFault::RowsGap { system: name, above: reached, up_to: Some(above) };
                reader.found.push(last.unwrap_or(span), fault);
            } else if let (Some(last), true) = (last, above < reached) {
                let fault = InputFault::RowsOverlap { system: name, above };
                reader.found.push_beside(last.max(span), Some(last.min(span)), fault);
            }
            if up_to > reached || last.is_none() {
                reached = up_to;
                last = Some(span);
            }
        }
        if reached < f64::INFINITY {
            let place = last.or_else(|| rows.last().map(|(span, _)| *span)).unwrap_or(whole);
            reader.found.push(place, InputFault::RowsGap { system: name, above: reached, up_to: None });
        }
    }
}
