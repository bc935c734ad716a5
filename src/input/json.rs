//! From JSON to nodes.

use jsonc_parser::ast::{self, ObjectPropName};
use jsonc_parser::common::Ranged;
use jsonc_parser::{CollectOptions, ParseOptions, parse_to_ast};
use rustc_hash::FxHashMap;

use super::error::{InputFault, Language};
use super::found::Found;
use super::node::{Entry, Node, Span, Value};
use super::{DEEPEST, MOST_VALUES};

/// The language as its standard has it, without the freedoms that the parser would allow.
const STRICT: ParseOptions = ParseOptions {
    allow_comments: false,
    allow_loose_object_property_names: false,
    allow_trailing_commas: false,
    allow_missing_commas: false,
    allow_single_quoted_strings: false,
    allow_hexadecimal_numbers: false,
    allow_unary_plus_numbers: false,
    allow_bare_decimal_point_numbers: false,
    allow_non_finite_numbers: false,
    allow_extended_string_escapes: false,
};

/// Reads a text; what is wrong with it goes into `found`.
pub(super) fn read<'s>(text: &'s str, found: &mut Found) -> Option<Node<'s>> {
    // The parser calls itself for each level, so the levels are counted before it is let in.
    if let Some((place, fault)) = beyond_limits(text) {
        found.push_syntax(Span::new(place, place + 1), fault);
        return None;
    }
    match parse_to_ast(text, &CollectOptions::default(), &STRICT) {
        Ok(result) => {
            let Some(value) = result.value else {
                found.push_syntax(Span::default(), syntax("there is nothing in the file".to_owned()));
                return None;
            };
            Some(read_value(value, found))
        }
        Err(error) => {
            let range = error.range();
            let mut message = error.kind().to_string();
            if let Some(first) = message.get_mut(..1) {
                first.make_ascii_lowercase();
            }
            found.push_syntax(Span::new(range.start, range.end), syntax(message));
            None
        }
    }
}

fn syntax(message: String) -> InputFault {
    InputFault::Syntax { language: Language::Json, message }
}

/// The place of the first bracket that is too deep, or of the first value that is one too many.
fn beyond_limits(text: &str) -> Option<(usize, InputFault)> {
    let mut depth = 0_usize;
    let mut value_count = 0_usize;
    let mut in_text = false;
    let mut bytes = text.bytes().enumerate();
    while let Some((place, byte)) = bytes.next() {
        match byte {
            b'"' => in_text = !in_text,
            b'\\' if in_text => {
                bytes.next();
            }
            _ if in_text => {}
            b'[' | b'{' => {
                depth += 1;
                value_count += 1;
                if depth > DEEPEST {
                    return Some((place, InputFault::TooDeep { most: DEEPEST }));
                }
            }
            b']' | b'}' => depth = depth.saturating_sub(1),
            b',' => value_count += 1,
            _ => {}
        }
        if value_count > MOST_VALUES {
            return Some((place, InputFault::TooManyValues { most: MOST_VALUES }));
        }
    }
    None
}

fn read_value<'s>(value: ast::Value<'s>, found: &mut Found) -> Node<'s> {
    let range = value.range();
    let span = Span::new(range.start, range.end);
    let value = match value {
        ast::Value::StringLit(text) => Value::Text(text.value),
        ast::Value::NumberLit(number) => read_number(number.value),
        ast::Value::BooleanLit(boolean) => Value::Boolean(boolean.value),
        ast::Value::NullKeyword(_) => Value::Null,
        ast::Value::Array(array) => {
            Value::Array(array.elements.into_iter().map(|element| read_value(element, found)).collect())
        }
        ast::Value::Object(object) => read_object(object, found),
    };
    Node { span, value }
}

fn read_number(text: &str) -> Value<'static> {
    match text.parse() {
        Ok(integer) => Value::Integer(integer),
        Err(_) => text.parse().map_or(Value::Lost, Value::Float),
    }
}

fn read_object<'s>(object: ast::Object<'s>, found: &mut Found) -> Value<'s> {
    let mut entries: Vec<Entry<'s>> = Vec::with_capacity(object.properties.len());
    let mut first_at: FxHashMap<String, Span> = FxHashMap::default();
    for property in object.properties {
        let range = property.name.range();
        let key_span = Span::new(range.start, range.end);
        let key = match property.name {
            ObjectPropName::String(text) => text.value,
            ObjectPropName::Word(word) => word.value.into(),
        };
        let value = read_value(property.value, found);
        // Few keys are compared one by one, many are looked up.
        const FEW: usize = 16;
        let first = if entries.len() < FEW {
            entries.iter().find(|entry| entry.key == key).map(|entry| entry.key_span)
        } else {
            if first_at.is_empty() {
                first_at.extend(entries.iter().map(|entry| (entry.key.clone().into_owned(), entry.key_span)));
            }
            first_at.get(key.as_ref()).copied()
        };
        if let Some(first) = first {
            found.push_beside(key_span, Some(first), InputFault::DuplicateKey { key: key.into_owned() });
            continue;
        }
        if !first_at.is_empty() {
            first_at.insert(key.clone().into_owned(), key_span);
        }
        entries.push(Entry { key, key_span, value });
    }
    Value::Table(entries)
}
