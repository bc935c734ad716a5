//! From TOML to nodes.
//!
//! The parser goes on after most errors, but one bracket left open swallows the rest of the file, and at a key without
//! a value it stops. So the text is first looked over token by token: what stands in the parser's way is reported, and
//! overwritten by something harmless of the same length. That also bounds what the parser takes: over a thousand bytes
//! for a table, and some two hundred for a value or an error.

mod slip;

use std::borrow::Cow;
use std::ops::Range;

use rustc_hash::FxHashMap;
use toml::Spanned;
use toml::de::{DeTable, DeValue};
use toml_parser::Source;
use toml_parser::lexer::TokenKind;

use crate::input::error::{InputFault, Language, Type};
use crate::input::found::Found;
use crate::input::node::{Entry, Node, Span, Value};
use crate::model::InputLimits;
use crate::model::cut;
use slip::NearLine;
pub use slip::Slip;

/// What a value, and what a table counts for among the values.
const VALUE: usize = 2;
const TABLE: usize = 16;

/// A text that the parser reads to its end.
pub(super) struct Legible<'s> {
    text: Cow<'s, str>,
    /// Where in it a value was overwritten.
    overwritten: Vec<usize>,
    headers: Vec<Header>,
}

/// The last key of a header.
struct Header {
    start: u32,
    /// The same in the first header of the same table.
    first: Option<Span>,
}

impl<'s> Legible<'s> {
    /// Looks a text over; what is wrong with it goes into `found`. None where it is beyond the limits.
    pub(super) fn of(text: &'s str, found: &mut Found, limits: &InputLimits) -> Option<Legible<'s>> {
        let mut look = Look {
            text,
            found,
            limits,
            overwritten: Vec::new(),
            headers: Vec::new(),
            first_headers: FxHashMap::default(),
            value_count: 0,
            depth: Some(1),
            is_open: false,
        };
        let mut at = 0;
        while at < text.len() {
            at = look.statement(at);
            if look.value_count > limits.values {
                let fault = InputFault::TooManyValues { most: limits.values };
                look.found.push_syntax(Span::new(at, at), fault);
                return None;
            }
        }
        let Look { overwritten, headers, .. } = look;
        let values = overwritten.iter().filter(|(_, is_value)| *is_value).map(|(range, _)| range.start).collect();
        let mut legible = Cow::Borrowed(text);
        if !overwritten.is_empty() {
            let mut bytes = text.as_bytes().to_vec();
            for (range, is_value) in overwritten {
                let start = range.start;
                bytes[range].iter_mut().filter(|byte| **byte != b'\n').for_each(|byte| *byte = b' ');
                if is_value {
                    bytes[start] = b'0';
                }
            }
            legible = Cow::Owned(String::from_utf8(bytes).expect("whole tokens are overwritten"));
        }
        Some(Legible { text: legible, overwritten: values, headers })
    }

    /// Reads the text; what is wrong with it goes into `found`.
    pub(super) fn read(&self, found: &mut Found) -> Node<'_> {
        let (root, errors) = DeTable::parse_recoverable(&self.text);
        let mut maker = Maker { text: &self.text, broken: self.overwritten.clone(), again: FxHashMap::default() };
        for error in &errors {
            let range = error.span().unwrap_or_default();
            let mut span = Span::from(range.clone());
            let message = error.message();
            if message == "duplicate key" || message.starts_with("cannot extend value") {
                let key = self.text[range].trim_matches(['"', '\'']);
                let is_extended = message != "duplicate key";
                maker.again.entry(key).or_default().push(Again { span, is_extended, before: None });
                continue;
            }
            maker.broken.push(range.start);
            let is_open_header =
                ["unclosed table", "unclosed array table"].iter().any(|open| message.starts_with(open));
            let header = self.headers.partition_point(|header| header.start <= span.start).checked_sub(1);
            if let (Some(header), true) = (header, is_open_header) {
                let start = self.headers[header].start;
                // One whose key is not the last on its line stays where it is.
                if !self.text[start as usize..span.start as usize].contains('\n') {
                    span.start = start;
                }
            }
            let line = NearLine::of(&self.text, span);
            let fault = match line.value_without_quotes("megohms") {
                Some(value) => InputFault::BadIndication { found: cut(value) },
                None => InputFault::Syntax {
                    language: Language::Toml,
                    message: message.replace(['\n', '\r'], " "),
                    slip: line.slip(),
                },
            };
            found.push_syntax(span, fault);
        }
        drop(errors);
        maker.broken.sort_unstable();
        for places in maker.again.values_mut() {
            places.sort_unstable();
            places.dedup();
        }
        let value = maker.table(root.into_inner(), None);
        for (key, places) in maker.again {
            let mut first = None;
            for Again { span, is_extended, before } in places {
                first = before.or(first);
                let header = self.headers.binary_search_by_key(&span.start, |header| header.start).ok();
                if is_extended {
                    let message = format!("`{}` is a value already, and cannot be a table too", cut(key));
                    found.push_syntax_beside(span, first, syntax(message));
                } else {
                    if header.is_some() {
                        // What the table had before is lost.
                        found.lose();
                    }
                    let first_header = header.and_then(|header| self.headers[header].first);
                    let key = cut(key);
                    // The first header of a list whose entries stand in one-line tables already.
                    let is_list_again = first_header.is_none()
                        && header.is_some()
                        && self.text[..span.start as usize].trim_end().ends_with("[[");
                    let fault =
                        if is_list_again { InputFault::ListTwice { key } } else { InputFault::DuplicateKey { key } };
                    found.push_beside(span, first_header.or(first), fault);
                }
            }
        }
        Node { span: Span::default(), value }
    }
}

/// Looks over a text, statement by statement.
struct Look<'s, 'f> {
    text: &'s str,
    found: &'f mut Found,
    limits: &'f InputLimits,
    /// What is overwritten, in order: with a value, or with blanks.
    overwritten: Vec<(Range<usize>, bool)>,
    headers: Vec<Header>,
    /// The first header of each path, and whether it is one of a list.
    first_headers: FxHashMap<&'s str, (Span, bool)>,
    value_count: usize,
    /// How many tables the current one is in, itself among them; none where it is not to be read.
    depth: Option<usize>,
    /// Whether a bracket is left open somewhere: then a line that looks like a header ends a value.
    is_open: bool,
}

/// A bracket that is not closed yet.
struct Bracket {
    kind: TokenKind,
    at: usize,
    /// How many tables and lists a value in it stands in.
    depth: usize,
}

impl Bracket {
    fn left_open(&self) -> (usize, InputFault) {
        let message = match self.kind {
            TokenKind::LeftCurlyBracket => "unclosed inline table, expected `}`",
            _ => "unclosed array, expected `]`",
        };
        (self.at, syntax(message.to_owned()))
    }
}

/// A token that is no blank, and its place.
type Token = (TokenKind, usize, usize);

impl<'s> Look<'s, '_> {
    fn tokens(&self, start: usize) -> impl Iterator<Item = Token> + use<'s> {
        let tokens = Source::new(&self.text[start..]).lex();
        let tokens = tokens.map(move |token| (token.kind(), start + token.span().start(), start + token.span().end()));
        tokens.filter(|(kind, ..)| *kind != TokenKind::Whitespace)
    }

    fn syntax(&mut self, at: Range<usize>, message: String) {
        let span = at.into();
        let slip = NearLine::of(self.text, span).slip();
        self.found.push_syntax(span, InputFault::Syntax { language: Language::Toml, message, slip });
    }

    /// Whether what begins in a place is too deep, which is reported.
    fn is_too_deep(&mut self, depth: usize, at: usize) -> bool {
        let is_too_deep = depth > self.limits.depth;
        if is_too_deep {
            self.found.push_syntax(Span::new(at, at + 1), InputFault::TooDeep { most: self.limits.depth });
        }
        is_too_deep
    }

    /// Looks over the statement that begins in a place, and gives the place where the next one does.
    fn statement(&mut self, start: usize) -> usize {
        let mut tokens = self.tokens(start);
        let mut key_count = 0;
        let mut needs_key = true;
        while let Some((kind, at, end)) = tokens.next() {
            match kind {
                TokenKind::Newline | TokenKind::Eof if key_count == 0 => return end.max(start + 1),
                TokenKind::Comment if key_count == 0 => {}
                TokenKind::LeftSquareBracket if key_count == 0 => return self.header(at, tokens),
                TokenKind::Dot if !needs_key => needs_key = true,
                TokenKind::Equals if !needs_key => break,
                kind if needs_key && (kind == TokenKind::Atom || is_text(kind)) => {
                    key_count += 1;
                    needs_key = false;
                }
                _ => {
                    let message = match key_count {
                        0 => "a line begins with a key or with `[`",
                        _ if needs_key => "a dot with no key behind it",
                        _ => "key with no value, expected `=`",
                    };
                    self.syntax(at..at, message.to_owned());
                    let rest = &self.text[at..];
                    let end = rest.find('\n').map_or(self.text.len(), |length| at + length);
                    self.overwritten.push((start..end, false));
                    return end;
                }
            }
        }
        self.value_count += VALUE + (key_count - 1) * TABLE;
        let depth = self.depth.map(|depth| depth + key_count);
        let depth = depth.filter(|&depth| !self.is_too_deep(depth, start));
        let (end, broken) = self.value(depth, tokens);
        match depth {
            None => self.overwritten.push((start..end, false)),
            Some(_) => self.overwritten.extend(broken.map(|from| (from..end, true))),
        }
        end
    }

    /// Looks over a header, behind its first bracket.
    fn header(&mut self, start: usize, tokens: impl Iterator<Item = Token>) -> usize {
        let mut last = Span::default();
        let mut dot_count = 0;
        let mut line_end = self.text.len();
        for (kind, at, end) in tokens {
            match kind {
                TokenKind::Newline | TokenKind::Eof => {
                    line_end = at;
                    break;
                }
                TokenKind::Dot => dot_count += 1,
                kind if kind == TokenKind::Atom || is_text(kind) => last = Span::new(at, end),
                _ => {}
            }
        }
        self.value_count += (dot_count + 1) * TABLE;
        if self.is_too_deep(dot_count + 2, start) {
            self.skip_section(start..line_end);
            return line_end;
        }
        self.depth = Some(dot_count + 2);
        if last == Span::default() {
            return line_end;
        }
        let is_list = self.text[start..].starts_with("[[");
        let path = self.text[start..last.end as usize].trim_start_matches(['[', ' ', '\t']);
        let &mut (first, first_is_list) = self.first_headers.entry(path).or_insert((last, is_list));
        if first_is_list && !is_list {
            let key = cut(&self.text[last.start as usize..last.end as usize]);
            let fault = InputFault::WrongType { key, expected: Type::Tables, found: Type::Table };
            self.found.push_beside(last, Some(first), fault);
            self.found.lose();
            self.skip_section(start..line_end);
        } else {
            self.headers.push(Header { start: last.start, first: Some(first).filter(|first| *first != last) });
        }
        line_end
    }

    /// Overwrites a header, and all up to the next one.
    fn skip_section(&mut self, header: Range<usize>) {
        self.depth = None;
        self.overwritten.push((header, false));
    }

    /// Looks over a value that stands in some tables, or one that is skipped; gives its end, and from where it is to be
    /// overwritten, if that is so.
    fn value(&mut self, depth: Option<usize>, tokens: impl Iterator<Item = Token>) -> (usize, Option<usize>) {
        let mut open: Vec<Bracket> = Vec::new();
        let mut first: Option<usize> = None;
        let mut faults: Vec<(usize, InputFault)> = Vec::new();
        // Between brace or comma and `=` stands a key, in as many tables as it has dots.
        let mut in_key = false;
        let mut dot_count = 0;
        let mut value_end = self.text.len();
        for (kind, at, end) in tokens {
            let in_table = open.last().is_some_and(|bracket| bracket.kind == TokenKind::LeftCurlyBracket);
            match kind {
                TokenKind::Newline | TokenKind::Eof if open.is_empty() => {
                    value_end = at;
                    break;
                }
                TokenKind::Newline if self.is_open && looks_like_header(&self.text[end..]) => {
                    value_end = end;
                    break;
                }
                TokenKind::Eof => {
                    self.is_open = true;
                    value_end = self.next_header(open[0].at);
                }
                TokenKind::LeftSquareBracket | TokenKind::LeftCurlyBracket => {
                    first = first.or(Some(at));
                    let is_table = kind == TokenKind::LeftCurlyBracket;
                    let outside = open.last().map(|bracket| bracket.depth + 1 + dot_count);
                    let depth = outside.or(depth).unwrap_or_default();
                    open.push(Bracket { kind, at, depth });
                    self.value_count += if is_table { TABLE } else { VALUE };
                    (in_key, dot_count) = (is_table, 0);
                }
                TokenKind::RightSquareBracket | TokenKind::RightCurlyBracket => {
                    let opened = match kind {
                        TokenKind::RightSquareBracket => TokenKind::LeftSquareBracket,
                        _ => TokenKind::LeftCurlyBracket,
                    };
                    if let Some(place) = open.iter().rposition(|bracket| bracket.kind == opened) {
                        if faults.is_empty() {
                            faults.extend(open[place + 1..].iter().map(Bracket::left_open));
                        }
                        open.truncate(place);
                    } else if !open.is_empty() && faults.is_empty() {
                        faults
                            .push((at, syntax(format!("nothing is open that `{}` could close", &self.text[at..end]))));
                    }
                    (in_key, dot_count) = (false, 0);
                }
                TokenKind::Equals | TokenKind::Comma => {
                    self.value_count += VALUE;
                    (in_key, dot_count) = (kind == TokenKind::Comma && in_table, 0);
                }
                TokenKind::Dot if in_key => {
                    dot_count += 1;
                    self.value_count += TABLE;
                }
                kind if is_text(kind) => self.value_count += VALUE,
                _ => {}
            }
            let depth = open.last().map_or(0, |bracket| bracket.depth + if dot_count > 0 { 1 + dot_count } else { 0 });
            if depth > self.limits.depth && faults.is_empty() {
                faults.push((at, InputFault::TooDeep { most: self.limits.depth }));
            }
            if self.value_count > self.limits.values {
                // Nothing more is looked at; what is open is not left open for that.
                open.clear();
                value_end = end;
                break;
            }
        }
        // What follows the end is looked over again.
        faults.retain(|(at, _)| *at < value_end);
        if faults.is_empty() {
            faults.extend(open.iter().map(Bracket::left_open).filter(|(at, _)| *at < value_end));
        }
        let is_overwritten = !faults.is_empty();
        if depth.is_some() {
            faults.into_iter().for_each(|(at, fault)| self.found.push_syntax(Span::new(at, at + 1), fault));
        }
        (value_end, first.filter(|_| is_overwritten))
    }

    /// The next line that looks like a header, or the end.
    fn next_header(&self, from: usize) -> usize {
        let ends = self.text[from..].match_indices('\n').map(|(length, _)| from + length + 1);
        ends.into_iter().find(|&end| looks_like_header(&self.text[end..])).unwrap_or(self.text.len())
    }
}

fn syntax(message: String) -> InputFault {
    InputFault::Syntax { language: Language::Toml, message, slip: None }
}

fn is_text(kind: TokenKind) -> bool {
    use TokenKind::{BasicString, LiteralString, MlBasicString, MlLiteralString};
    matches!(kind, BasicString | LiteralString | MlBasicString | MlLiteralString)
}

/// Whether the first line of a text looks like `[key]` or `[[key]]` and nothing else.
fn looks_like_header(text: &str) -> bool {
    let line = text.split('\n').next().unwrap_or_default().split('#').next().unwrap_or_default().trim();
    let inner = |open, close| line.strip_prefix(open)?.strip_suffix(close);
    inner("[[", "]]").or_else(|| inner("[", "]")).is_some_and(|keys: &str| {
        !keys.trim().is_empty()
            && keys.chars().all(|c| c.is_alphanumeric() || matches!(c, '_' | '-' | '.' | ' ' | '\t'))
    })
}

/// A key that is there already.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Again {
    span: Span,
    /// Whether it should lead further into what is no table.
    is_extended: bool,
    /// The nearest before it.
    before: Option<Span>,
}

/// Makes nodes of the parser's tree.
struct Maker<'t> {
    text: &'t str,
    /// Where errors are, in order: a value there is lost.
    broken: Vec<usize>,
    /// The keys that are there again, by what they are called, in order.
    again: FxHashMap<&'t str, Vec<Again>>,
}

impl<'t> Maker<'t> {
    /// A table; one in braces ends somewhere.
    fn table(&mut self, table: DeTable<'t>, end: Option<u32>) -> Value<'t> {
        let mut entries: Vec<Entry<'t>> = table
            .into_iter()
            .map(|(key, value)| {
                let key_span = Span::from(key.span());
                if let Some(places) = self.again.get_mut(key.get_ref().as_ref()) {
                    let next = places.partition_point(|again| again.span <= key_span);
                    if let Some(again) = places.get_mut(next)
                        && end.is_none_or(|end| again.span.end <= end)
                        && again.before < Some(key_span)
                    {
                        again.before = Some(key_span);
                    }
                }
                Entry { key: key.into_inner(), key_span, value: self.node(value) }
            })
            .collect();
        entries.sort_unstable_by_key(|entry| entry.key_span);
        Value::Table(entries)
    }

    fn node(&mut self, value: Spanned<DeValue<'t>>) -> Node<'t> {
        let range = value.span();
        let span = Span::from(range.clone());
        let next = self.broken.partition_point(|&at| at < range.start);
        let is_broken = range.is_empty() || self.broken.get(next).is_some_and(|&at| at <= range.end);
        let value = match value.into_inner() {
            DeValue::Array(values) => Value::Array(values.into_iter().map(|value| self.node(value)).collect()),
            DeValue::Table(table) => {
                // The place of a table that has a header or a dotted key is that of its name.
                let end = Some(span.end).filter(|_| self.text[range.start..].starts_with('{'));
                self.table(table, end)
            }
            _ if is_broken => Value::Lost,
            DeValue::String(text) => Value::Text(text),
            DeValue::Boolean(boolean) => Value::Boolean(boolean),
            DeValue::Datetime(_) => Value::Date,
            DeValue::Float(float) => float.as_str().parse().map_or(Value::Lost, Value::Float),
            // A number beyond all whole numbers of 64 bits is as good as one with a fraction.
            DeValue::Integer(integer) => match i64::from_str_radix(integer.as_str(), integer.radix()) {
                Ok(integer) => Value::Integer(integer),
                Err(_) => Value::Float(integer.as_str().parse().unwrap_or(f64::INFINITY)),
            },
        };
        Node { span, value }
    }
}
