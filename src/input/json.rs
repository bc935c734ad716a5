//! From JSON to nodes.

use std::collections::hash_map::Entry::{Occupied, Vacant};

use jsonc_parser::ast::{self, ObjectPropName};
use jsonc_parser::common::{Range, Ranged};
use jsonc_parser::{CollectOptions, ParseOptions, parse_to_ast};
use rustc_hash::FxHashMap;

use super::error::{InputFault, Language};
use super::found::Found;
use super::node::{Entry, Node, Span, Value};
use crate::model::InputLimits;

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

/// What a table and a list count for among the values, as each key does for one: the parser keeps room for several
/// entries of each.
const TABLE: usize = 4;
const LIST: usize = 2;

/// Reads a text; what is wrong with it goes into `found`.
pub(super) fn read<'s>(text: &'s str, found: &mut Found, limits: &InputLimits) -> Option<Node<'s>> {
    // The parser calls itself for each level, so the levels are counted before it is let in.
    if let Some((place, fault)) = beyond_limits(text, limits) {
        found.push_syntax(Span::new(place, place + 1), fault);
        return None;
    }
    match parse_to_ast(text, &CollectOptions::default(), &STRICT) {
        Ok(result) => {
            let Some(value) = result.value else {
                found.push_syntax(Span::default(), syntax("there is nothing in the file".to_owned()));
                return None;
            };
            if let Some((span, message)) = beyond_standard(text) {
                found.push_syntax(span, syntax(message));
                return None;
            }
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
    InputFault::Syntax { language: Language::Json, message, slip: None }
}

/// The place of the first bracket that is too deep, or of the first value that is one too many.
fn beyond_limits(text: &str, limits: &InputLimits) -> Option<(usize, InputFault)> {
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
                value_count += if byte == b'{' { TABLE } else { LIST };
                if depth > limits.depth {
                    return Some((place, InputFault::TooDeep { most: limits.depth }));
                }
            }
            b']' | b'}' => depth = depth.saturating_sub(1),
            b',' | b':' => value_count += 1,
            _ => {}
        }
        if value_count > limits.values {
            return Some((place, InputFault::TooManyValues { most: limits.values }));
        }
    }
    None
}

/// The first character that the parser lets pass and the standard does not (RFC 8259, sections 2 and 7): a control
/// character in a text, or a blank between values other than space, tab and line end.
fn beyond_standard(text: &str) -> Option<(Span, String)> {
    let mut in_text = false;
    let mut characters = text.char_indices();
    while let Some((place, character)) = characters.next() {
        let message = match character {
            '"' => {
                in_text = !in_text;
                continue;
            }
            '\\' if in_text => {
                characters.next();
                continue;
            }
            '\0'..' ' if in_text => {
                format!("the control character {character:?} stands in a text, where only its escape may")
            }
            _ if in_text => continue,
            ' ' | '\t' | '\n' | '\r' => continue,
            _ if character.is_whitespace() => format!("{character:?} is no blank that may stand between values"),
            _ => continue,
        };
        return Some((Span::new(place, place + character.len_utf8()), message));
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
    let span_of = |range: Range| Span::new(range.start, range.end);
    let mut first_at: FxHashMap<&str, Span> = FxHashMap::default();
    let mut repeated: Vec<(usize, Span)> = Vec::new();
    for (number, property) in object.properties.iter().enumerate() {
        match first_at.entry(property.name.as_str()) {
            Occupied(first) => repeated.push((number, *first.get())),
            Vacant(free) => _ = free.insert(span_of(property.name.range())),
        }
    }
    drop(first_at);
    let mut repeated = repeated.into_iter().peekable();
    let mut entries: Vec<Entry<'s>> = Vec::with_capacity(object.properties.len());
    for (number, property) in object.properties.into_iter().enumerate() {
        let key_span = span_of(property.name.range());
        let key = match property.name {
            ObjectPropName::String(text) => text.value,
            ObjectPropName::Word(word) => word.value.into(),
        };
        let value = read_value(property.value, found);
        match repeated.next_if(|row| row.0 == number) {
            Some((_, first)) => {
                found.push_beside(key_span, Some(first), InputFault::DuplicateKey { key: key.into_owned() });
            }
            None => entries.push(Entry { key, key_span, value }),
        }
    }
    Value::Table(entries)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use serde::de::IgnoredAny;

    use super::*;

    fn is_accepted(text: &str) -> bool {
        let limits = InputLimits::default();
        let mut found = Found::new(&limits);
        let node = read(text, &mut found, &limits);
        assert!(node.is_some() || found.has_syntax(), "{text:?}");
        !found.has_syntax()
    }

    /// Reads with this module and with `serde_json`, and compares whether they take it for JSON.
    fn compare(text: &str) -> Result<bool, TestCaseError> {
        let ours = is_accepted(text);
        // Of half a surrogate pair and of numbers out of range the standard leaves open what becomes: one of the two
        // ways of reading takes them, the other does not.
        prop_assert!(!ours || serde_json::from_str::<IgnoredAny>(text).is_ok(), "accepted: {text:?}");
        prop_assert!(ours || serde_json::from_str::<serde_json::Value>(text).is_err(), "refused: {text:?}");
        Ok(ours)
    }

    const PIECES: &[&str] = &[
        "{",
        "}",
        "[",
        "]",
        ",",
        ":",
        "\"",
        "\"a\"",
        "\"b\":1",
        "[1,2]",
        "{}",
        "[]",
        "1",
        "-0.5e3",
        "01",
        "+1",
        ".5",
        "1.",
        "1e999",
        "true",
        "nul",
        "null",
        "NaN",
        " ",
        "\t",
        "\n",
        "\r\n",
        "\u{b}",
        "\u{c}",
        "\u{85}",
        "\u{a0}",
        "\u{2028}",
        "\u{feff}",
        "\u{0}",
        "\u{1f}",
        "\u{7f}",
        "\"\t\"",
        "\"\n\"",
        "\"\u{0}\"",
        "\"\u{7f}\u{a0}\"",
        "\"\\n\"",
        "\"\\\"\"",
        "\"\\\\\"",
        "\"\\q\"",
        "\"\\'\"",
        "\"\\u00e4\"",
        "\"\\ud83d\\ude00\"",
        "\"\\ud83d\"",
        "\"\\u12\"",
        "'a'",
        "/",
        "//",
        "/**/",
        "ä",
    ];

    proptest! {
        #![proptest_config(ProptestConfig { cases: 4000, failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn what_is_taken_for_json_is_what_serde_json_takes_for_it(picks in prop::collection::vec(0..PIECES.len(), 1..7)) {
            let text: String = picks.iter().map(|&pick| PIECES[pick]).collect();
            compare(&text)?;
            compare(&format!("[{text}]"))?;
            compare(&format!("{{\"k\":[{text}]}}"))?;
        }
    }

    #[test]
    fn the_pieces_are_right_often_and_wrong_often() {
        let mut right = 0;
        for one in PIECES {
            for other in PIECES {
                right += usize::from(compare(&format!("[{one},{other}]")).expect("the two agree"));
            }
        }
        let total = PIECES.len() * PIECES.len();
        assert!(right * 20 > total && right * 2 < total, "{right} of {total}");
    }

    #[test]
    fn what_the_parser_lets_pass_beyond_the_standard_is_refused_at_its_place() {
        for (text, at) in [("[\"a\tb\"]", 3), ("[\u{a0}1]", 1), ("{\"ä\" :\u{b}1}", 7), ("[\"\\\"\n\"]", 4)] {
            assert_eq!(beyond_standard(text).map(|(span, _)| span.start), Some(at), "{text:?}");
            assert!(!is_accepted(text), "{text:?}");
        }
    }
}
