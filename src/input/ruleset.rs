//! From nodes to a ruleset.

use super::error::{Document, InputFault, Type};
use super::node::{Node, Span, Value};
use super::reader::{Fields, Reader, Shape};
use crate::model::{Megohms, ModelFault, System, Volts, Word};
use crate::rules::{Note, Relief, Row, RowValue, Ruleset, Source, Threshold, WithEquipment};

const FILE: Shape = Shape {
    name: "file",
    keys: &["format", "ruleset", "row", "relief", "connected", "investigate", "expected_when_new", "note"],
};
const GENERAL: Shape = Shape { name: "ruleset", keys: &["id", "title"] };
const ROW: Shape = Shape {
    name: "row",
    keys: &[
        "system",
        "above",
        "up_to",
        "volts",
        "megohms",
        "no_value",
        "between_live",
        "source",
        "edition",
        "from_memory",
    ],
};
const RELIEF: Shape =
    Shape { name: "relief", keys: &["volts", "megohms", "readings", "source", "edition", "from_memory"] };
const CONNECTED: Shape = Shape { name: "connected", keys: &["volts", "megohms", "source", "edition", "from_memory"] };
const INVESTIGATE: Shape = Shape { name: "investigate", keys: &["below", "source", "edition", "from_memory"] };
const EXPECTED: Shape = Shape { name: "expected_when_new", keys: &["above", "source", "edition", "from_memory"] };
const NOTE: Shape = Shape { name: "note", keys: &["text", "source", "edition", "from_memory"] };

/// A ruleset; of use only where no error was found.
pub(super) fn read(reader: &mut Reader<'_>, node: &Node<'_>) -> Option<Ruleset> {
    let fields = &reader.open_file(node, &FILE, Document::Ruleset)?;
    let general = reader.required(fields, "ruleset", |reader, node| {
        let fields = &reader.open(node, &GENERAL);
        Some((text(reader, fields, "id"), text(reader, fields, "title")))
    });
    let rows: Vec<(Span, Row)> = reader
        .required(fields, "row", |reader, node| {
            reader.list(node, Type::Tables, |reader, node| (node.span, read_row(reader, node)))
        })
        .unwrap_or_default();
    let relief = reader.optional(fields, "relief", |reader, node| {
        let fields = &reader.open(node, &RELIEF);
        let volts = Volts(above_zero(reader, fields, "volts"));
        let megohms = Megohms(above_zero(reader, fields, "megohms"));
        let readings = reader.optional_choice(fields, "readings").unwrap_or_default();
        Some(Relief { volts, megohms, readings, source: read_source(reader, fields) })
    });
    let with_equipment = reader.optional(fields, "connected", |reader, node| {
        let fields = &reader.open(node, &CONNECTED);
        let volts = Volts(above_zero(reader, fields, "volts"));
        let megohms = Megohms(above_zero(reader, fields, "megohms"));
        Some(WithEquipment { volts, megohms, source: read_source(reader, fields) })
    });
    let mut threshold = |shape: &'static Shape, key| {
        reader.optional(fields, shape.name, |reader, node| {
            let fields = &reader.open(node, shape);
            let megohms = Megohms(above_zero(reader, fields, key));
            Some(Threshold { megohms, source: read_source(reader, fields) })
        })
    };
    let investigate_below = threshold(&INVESTIGATE, "below");
    let expected_above_when_new = threshold(&EXPECTED, "above");
    let notes = reader.tables(fields, "note", |reader, node| {
        let fields = &reader.open(node, &NOTE);
        Note { text: text(reader, fields, "text"), source: read_source(reader, fields) }
    });
    // What could not be read may be what is missing or too much.
    if reader.found.is_empty() {
        check_rows(reader, &rows, fields.span());
    }
    let rows = rows.into_iter().map(|(_, row)| row).collect();
    let (id, title) = general.unwrap_or_default();
    Some(Ruleset { id, title, rows, relief, with_equipment, investigate_below, expected_above_when_new, notes })
}

fn read_row(reader: &mut Reader<'_>, node: &Node<'_>) -> Row {
    let fields = &reader.open(node, &ROW);
    let system = reader.required(fields, "system", |reader, node| match &node.value {
        Value::Array(nodes) if nodes.is_empty() => {
            reader.refuse(node, InputFault::Model(ModelFault::EmptyList { key: "system" }))
        }
        _ => reader.list(node, Type::Texts, |reader, node| reader.choice(node, "system")),
    });
    let mut limit =
        |key| reader.optional(fields, key, |reader, node| positive(reader, node, key).map(|volts| (volts, node.span)));
    let (above, up_to) = (limit("above"), limit("up_to"));
    if let (Some((above, _)), Some((up_to, span))) = (above, up_to)
        && above >= up_to
    {
        reader.found.push(span, InputFault::RowBackwards { above, up_to });
    }
    let no_value =
        reader.optional(fields, "no_value", |reader, node| Some((not_empty(reader, node, "no_value"), node)));
    let value = match no_value {
        Some((no_value, node)) => {
            for key in ["volts", "megohms"] {
                if let Some(beside) = reader.optional(fields, key, |_, node| Some(node.span)) {
                    reader.found.push_beside(beside, Some(node.span), InputFault::RowBoth { key });
                }
            }
            RowValue::NotGiven { no_value }
        }
        None => RowValue::Given {
            volts: Volts(above_zero(reader, fields, "volts")),
            megohms: Megohms(above_zero(reader, fields, "megohms")),
        },
    };
    let between_live = reader.optional_choice(fields, "between_live").unwrap_or_default();
    let source = read_source(reader, fields);
    let volts = |limit: Option<(f64, Span)>| limit.map(|(volts, _)| Volts(volts));
    let system = system.unwrap_or_default().into_iter().flatten().collect();
    Row { system, above: volts(above), up_to: volts(up_to), between_live, value, source }
}

fn read_source(reader: &mut Reader<'_>, fields: &Fields<'_>) -> Source {
    Source {
        source: text(reader, fields, "source"),
        edition: text(reader, fields, "edition"),
        from_memory: reader.required(fields, "from_memory", Reader::boolean).unwrap_or_default(),
    }
}

/// A text that is there and says something.
fn text(reader: &mut Reader<'_>, fields: &Fields<'_>, key: &'static str) -> String {
    reader.required(fields, key, |reader, node| Some(not_empty(reader, node, key))).unwrap_or_default()
}

fn not_empty(reader: &mut Reader<'_>, node: &Node<'_>, key: &'static str) -> String {
    let text = reader.text(node);
    if text.as_ref().is_some_and(|text| text.trim().is_empty()) {
        reader.found.push(node.span, InputFault::Model(ModelFault::EmptyText { key }));
    }
    text.unwrap_or_default()
}

/// A number above zero, or nothing in the place of one that is lost.
fn above_zero(reader: &mut Reader<'_>, fields: &Fields<'_>, key: &'static str) -> f64 {
    reader.required(fields, key, |reader, node| positive(reader, node, key)).unwrap_or_default()
}

fn positive(reader: &mut Reader<'_>, node: &Node<'_>, key: &'static str) -> Option<f64> {
    let value = reader.number(node)?;
    if value.is_finite() && value > 0.0 {
        return Some(value);
    }
    reader.refuse(node, InputFault::NotAboveZero { key, value })
}

/// Checks that exactly one row is for any system and nominal voltage.
fn check_rows(reader: &mut Reader<'_>, rows: &[(Span, Row)], whole: Span) {
    for &system in System::ALL {
        let name = system.name();
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
