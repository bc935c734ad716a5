//! From TOML to nodes.

use ::toml::de::{DeTable, DeValue};

use super::error::{InputFault, Language};
use super::found::Found;
use super::node::{Entry, Node, Span, Value};

/// Reads a text; what is wrong with it goes into `found`.
pub(super) fn read<'s>(text: &'s str, found: &mut Found) -> Node<'s> {
    let (table, errors) = DeTable::parse_recoverable(text);
    for error in errors {
        let span = error.span().map_or(Span::default(), Span::from);
        found.push_syntax(span, InputFault::Syntax { language: Language::Toml, message: error.message().to_owned() });
    }
    Node { span: Span::default(), value: read_table(table.into_inner()) }
}

fn read_table(table: DeTable<'_>) -> Value<'_> {
    let entries = table.into_iter().map(|(key, value)| Entry {
        key_span: key.span().into(),
        key: key.into_inner(),
        value: read_value(value.span().into(), value.into_inner()),
    });
    Value::Table(entries.collect())
}

fn read_value(span: Span, value: DeValue<'_>) -> Node<'_> {
    let value = match value {
        // The parser's stand-in for a value that is not there.
        _ if span == Span::default() => Value::Lost,
        DeValue::String(text) => Value::Text(text),
        DeValue::Integer(integer) => match i64::from_str_radix(integer.as_str(), integer.radix()) {
            Ok(integer) => Value::Integer(integer),
            Err(_) => integer.as_str().parse().map_or(Value::Lost, Value::Float),
        },
        DeValue::Float(float) => float.as_str().parse().map_or(Value::Lost, Value::Float),
        DeValue::Boolean(boolean) => Value::Boolean(boolean),
        DeValue::Datetime(_) => Value::Date,
        DeValue::Array(array) => {
            Value::Array(array.into_iter().map(|value| read_value(value.span().into(), value.into_inner())).collect())
        }
        DeValue::Table(table) => read_table(table),
    };
    Node { span, value }
}
