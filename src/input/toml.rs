//! From TOML to nodes.
//!
//! The text is parsed one statement (a key with its value, or a header) at a time. Handing the whole text to the
//! parser at once would keep every token of it in memory together with everything made of them, several hundred bytes
//! for each value of a file with a million of them; and one bracket left open would swallow the rest of the file.

use toml_parser::lexer::{Token, TokenKind};
use toml_parser::parser::parse_document;
use toml_parser::{Expected, ParseError, Source};

use super::MOST_VALUES;
use super::error::{InputFault, Language};
use super::found::Found;
use super::node::{Node, Span};
use super::toml_tree::Tree;
use crate::model::{MOST_ERRORS, cut};

/// The most tokens of one statement: a value, a comma and a blank for each of the values that a file may have.
const MOST_TOKENS: usize = 3 * MOST_VALUES;

/// Reads a text; what is wrong with it goes into `found`.
pub(super) fn read<'s>(text: &'s str, found: &mut Found) -> Node<'s> {
    let mut parser = Parser { source: Source::new(text), tree: Tree::new(Source::new(text)), found };
    let mut statement: Vec<Token> = Vec::new();
    let mut brackets = Brackets::default();
    for token in Source::new(text).lex() {
        statement.push(token);
        if brackets.ends_statement(token) {
            parser.parse(&statement);
            statement.clear();
        } else if statement.len() >= MOST_TOKENS {
            let span = token.span();
            parser
                .found
                .push_syntax(Span::new(span.start(), span.end()), InputFault::TooManyValues { most: MOST_VALUES });
            statement.clear();
            break;
        }
    }
    parser.parse_unclosed(&statement);
    parser.tree.into_root(parser.found)
}

struct Parser<'s, 'f> {
    source: Source<'s>,
    tree: Tree<'s>,
    found: &'f mut Found,
}

impl Parser<'_, '_> {
    fn parse(&mut self, tokens: &[Token]) {
        let mut errors: Vec<ParseError> = Vec::new();
        let mut unlisted = 0;
        let mut sink = |error| {
            if errors.len() < MOST_ERRORS {
                errors.push(error);
            } else {
                unlisted += 1;
            }
        };
        let mut receiver = toml_parser::parser::ValidateWhitespace::new(&mut self.tree, self.source);
        parse_document(tokens, &mut receiver, &mut sink);
        self.tree.end_statement();
        for error in errors {
            let span = place(&error);
            let fault = match value_without_quotes(self.source.input(), span) {
                Some(found) => InputFault::BadIndication { found: cut(found) },
                None => InputFault::Syntax { language: Language::Toml, message: describe(&error) },
            };
            self.found.push_syntax(span, fault);
        }
        self.found.add_unlisted(unlisted);
    }

    /// Parses what is left over when a bracket is not closed: a line that looks like a header starts anew.
    fn parse_unclosed(&mut self, mut tokens: &[Token]) {
        while !tokens.is_empty() {
            let mut brackets = Brackets::default();
            let end = (0..tokens.len())
                .find(|&at| {
                    brackets.ends_statement(tokens[at]) || is_line_end(tokens[at]) && starts_header(&tokens[at + 1..])
                })
                .map_or(tokens.len(), |at| at + 1);
            self.parse(&tokens[..end]);
            tokens = &tokens[end..];
        }
    }
}

/// Where a parse error is; for something left open, where it was opened.
fn place(error: &ParseError) -> Span {
    let opened = error.context().filter(|_| error.description().starts_with("unclosed"));
    opened.or(error.unexpected()).map_or(Span::default(), |span| Span::new(span.start(), span.end()))
}

fn describe(error: &ParseError) -> String {
    let mut text = error.description().replace(['\n', '\r'], " ");
    for (number, expected) in error.expected().unwrap_or_default().iter().enumerate() {
        text.push_str(if number == 0 { ", expected " } else { " or " });
        match expected {
            Expected::Literal("\n") => text.push_str("a new line"),
            Expected::Literal(literal) => text.push_str(&format!("`{literal}`")),
            Expected::Description(description) => text.push_str(description),
            _ => text.push_str("something else"),
        }
    }
    text
}

/// Tells where a statement ends: at the end of a line outside of all brackets of its value.
#[derive(Default)]
struct Brackets {
    in_value: bool,
    depth: usize,
}

impl Brackets {
    fn ends_statement(&mut self, token: Token) -> bool {
        match token.kind() {
            TokenKind::Equals => self.in_value = true,
            TokenKind::LeftSquareBracket | TokenKind::LeftCurlyBracket if self.in_value => self.depth += 1,
            TokenKind::RightSquareBracket | TokenKind::RightCurlyBracket => {
                self.depth = self.depth.saturating_sub(1);
            }
            TokenKind::Newline if self.depth == 0 => {
                self.in_value = false;
                return true;
            }
            _ => {}
        }
        false
    }
}

fn is_line_end(token: Token) -> bool {
    token.kind() == TokenKind::Newline
}

/// Whether a line looks like `[key]` or `[[key]]` and nothing else.
fn starts_header(line: &[Token]) -> bool {
    let mut tokens = line
        .iter()
        .map(|token| token.kind())
        .take_while(|kind| !matches!(kind, TokenKind::Newline | TokenKind::Comment | TokenKind::Eof))
        .filter(|kind| *kind != TokenKind::Whitespace)
        .peekable();
    let mut open = 0;
    while tokens.next_if_eq(&TokenKind::LeftSquareBracket).is_some() {
        open += 1;
    }
    let mut has_key = false;
    while tokens.next_if(|kind| matches!(kind, TokenKind::Atom | TokenKind::Dot)).is_some() {
        has_key = true;
    }
    let mut close = 0;
    while tokens.next_if_eq(&TokenKind::RightSquareBracket).is_some() {
        close += 1;
    }
    has_key && (open == 1 || open == 2) && close == open && tokens.next().is_none()
}

/// What stands behind `megohms =` on the line of an error, as people write what an instrument shows: with its unit, with a
/// comma, or a word without quotes. TOML's own words would not say how to write it.
fn value_without_quotes(text: &str, span: Span) -> Option<&str> {
    let start = text[..span.start as usize].rfind('\n').map_or(0, |at| at + 1);
    let line = text[start..].lines().next()?;
    let value = line.trim_start().strip_prefix("megohms")?.trim_start().strip_prefix('=')?;
    let value = value.split('#').next()?.trim();
    let is_plain = !value.is_empty() && !value.contains(['"', '\'', '[', '{', '}']);
    is_plain.then_some(value)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use toml::de::{DeTable, DeValue};

    use super::*;
    use crate::input::node::Value;

    /// A node as text without places, the same for the same values in the same order.
    fn write(value: &Value<'_>, out: &mut String) {
        match value {
            Value::Text(text) => out.push_str(&format!("{text:?}")),
            Value::Integer(integer) => out.push_str(&integer.to_string()),
            Value::Float(float) => out.push_str(&format!("{float:?}")),
            Value::Boolean(boolean) => out.push_str(&boolean.to_string()),
            Value::Date => out.push_str("date"),
            Value::Null => out.push_str("null"),
            Value::Lost => out.push_str("lost"),
            Value::Array(nodes) => {
                out.push('[');
                for node in nodes {
                    write(&node.value, out);
                    out.push(',');
                }
                out.push(']');
            }
            Value::Table(entries) => {
                let mut entries: Vec<_> = entries.iter().collect();
                entries.sort_by(|one, other| one.key.cmp(&other.key));
                out.push('{');
                for entry in entries {
                    out.push_str(&format!("{:?}=", entry.key));
                    write(&entry.value.value, out);
                    out.push(',');
                }
                out.push('}');
            }
        }
    }

    /// The other parser's value in the same words.
    fn theirs(value: &DeValue<'_>) -> Value<'static> {
        match value {
            DeValue::String(text) => Value::Text(text.to_string().into()),
            DeValue::Integer(integer) => match i64::from_str_radix(integer.as_str(), integer.radix()) {
                Ok(integer) => Value::Integer(integer),
                Err(_) => Value::Float(integer.as_str().parse().unwrap_or(f64::INFINITY)),
            },
            DeValue::Float(float) => Value::Float(float.as_str().parse().expect("a float is one")),
            DeValue::Boolean(boolean) => Value::Boolean(*boolean),
            DeValue::Datetime(_) => Value::Date,
            DeValue::Array(values) => Value::Array(
                values.iter().map(|value| Node { span: Span::default(), value: theirs(value.get_ref()) }).collect(),
            ),
            DeValue::Table(table) => theirs_table(table),
        }
    }

    fn theirs_table(table: &DeTable<'_>) -> Value<'static> {
        let entries = table.iter().map(|(key, value)| crate::input::node::Entry {
            key: key.get_ref().to_string().into(),
            key_span: Span::default(),
            value: Node { span: Span::default(), value: theirs(value.get_ref()) },
        });
        Value::Table(entries.collect())
    }

    /// Reads with this module and with the `toml` crate, which share the rules of single values but nothing of how
    /// statements are told apart and tables are put together, and compares what they make of it.
    fn compare(text: &str) -> Result<bool, TestCaseError> {
        let mut found = Found::default();
        let ours = read(text, &mut found);
        match DeTable::parse(text) {
            Ok(table) => {
                if !found.is_empty() {
                    // The crate lets a dotted key go on into a list of tables, as in `[[a.b]]`, `[a]`, `b.c.d = 4`. TOML 1.0
                    // does not (a dotted key defines tables, and may not define anew what a header did).
                    let errors = found.into_errors("a.toml", text);
                    let is_list = errors.errors().iter().all(|error| error.to_string().contains("is a list already"));
                    let has_dotted_key = text.lines().any(|line| {
                        line.split('=').next().is_some_and(|key| key.contains('.') && !key.starts_with('['))
                    });
                    prop_assert!(is_list && has_dotted_key, "refused: {text:?}");
                    return Ok(false);
                }
                let (mut one, mut other) = (String::new(), String::new());
                write(&ours.value, &mut one);
                write(&theirs_table(table.get_ref()), &mut other);
                prop_assert_eq!(one, other, "{:?}", text);
                Ok(true)
            }
            Err(error) => {
                // Whether a date exists is left unsaid here, for no key takes one.
                let is_date = error.message().contains("date") || error.message().contains("time");
                prop_assert!(!found.is_empty() || is_date, "accepted: {text:?}, but {error}");
                Ok(false)
            }
        }
    }

    const STATEMENTS: &[&str] = &[
        "[a]",
        "[a.b]",
        "[a.b.c]",
        "[[a]]",
        "[[a.b]]",
        "[[c]]",
        "[c]",
        "[c.d]",
        "[d]",
        "[[a.b.c]]",
        "a = 1",
        "b = [1, 2]",
        "b.c = 3",
        "b.c.d = 4",
        "a.b = {}",
        "c = { d = 1, e.f = 2 }",
        "c = { e.f = 1, e = 2 }",
        "c.d = 5",
        "d = [{ a = 1 }, { a = 2 },]",
        "'d' = 'x'",
        "\"e\" = \"\"\"\nx\n\"\"\"",
        "f = [\n1,\n2 # c\n]",
        "g = 0x1f",
        "g = 1_000.5e2",
        "g = nan",
        "h = true # comment",
        "",
        "# comment",
        "i = [",
        "]",
        "i = {",
        "}",
        "j = 1 2",
        "k",
        "= 3",
        "[",
        "[[x]",
        "[x]]",
        "l = 99999999999999999999",
    ];

    proptest! {
        #![proptest_config(ProptestConfig { cases: 2000, ..ProptestConfig::default() })]

        #[test]
        fn statements_make_the_tables_that_the_toml_crate_makes(picks in prop::collection::vec(0..STATEMENTS.len(), 1..9)) {
            let text: Vec<&str> = picks.iter().map(|&pick| STATEMENTS[pick]).collect();
            compare(&text.join("\n"))?;
        }

        #[test]
        fn any_text_is_refused_where_the_toml_crate_refuses_it(text in "[\\[\\]{}=.,'\"\\n #ab1-]{0,24}") {
            compare(&text)?;
        }
    }

    #[test]
    fn a_dotted_key_does_not_go_on_into_a_list_of_tables() {
        let mut found = Found::default();
        read("[[a.b]]\n[a]\nb.c.d = 4\n", &mut found);
        assert!(!found.is_empty());
        assert_eq!(compare("[[a.b]]\n[a]\nb.c.d = 4\n").ok(), Some(false));
    }

    #[test]
    fn the_statements_are_right_often_and_wrong_often() {
        let mut right = 0;
        let mut total = 0;
        for (number, one) in STATEMENTS.iter().enumerate() {
            for other in &STATEMENTS[number + 1..] {
                total += 1;
                right += usize::from(compare(&format!("{one}\n{other}")).expect("the two agree"));
            }
        }
        assert!(right * 5 > total && right * 5 < total * 4, "{right} of {total}");
    }

    #[test]
    fn a_bracket_left_open_does_not_swallow_what_follows_a_header() {
        let mut found = Found::default();
        let node = read("[a]\nx = [1,\ny = 2\n[[b]]\nz = {\n[c]\nw = 1\n", &mut found);
        let mut text = String::new();
        write(&node.value, &mut text);
        assert!(text.contains("\"b\"=[{") && text.contains("\"c\"={\"w\"=1,}"), "{text}");
        let errors = found.into_errors("a.toml", "[a]\nx = [1,\ny = 2\n[[b]]\nz = {\n[c]\nw = 1\n");
        let lines: Vec<_> = errors.errors().iter().filter_map(|error| error.place).map(|place| place.line).collect();
        assert!(lines.contains(&2) && lines.contains(&5), "{lines:?}");
    }
}
