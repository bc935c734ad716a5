//! The tables of a TOML document, put together from the parser's events.

use std::borrow::Cow;

use rustc_hash::FxHashMap;
use toml_parser::decoder::{Encoding, ScalarKind};
use toml_parser::parser::EventReceiver;
use toml_parser::{ErrorSink, ParseError, Source};

use super::error::{InputFault, Language, Type};
use super::found::Found;
use super::node::{Entry, Node, Span, Value};
use super::{DEEPEST, MOST_VALUES};
use crate::model::{MOST_ERRORS, cut};

type TableId = usize;

/// How a table came to be, on which it depends who may add to it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Origin {
    /// Named on the way to another table.
    Implicit,
    /// Named by a header of its own.
    Header,
    /// Named on the way to a dotted key.
    Dotted,
}

/// A table that may still be added to.
struct Table<'s> {
    origin: Origin,
    span: Span,
    entries: Vec<Slot<'s>>,
    /// Numbers of the entries by key, once there are many.
    index: Option<Box<FxHashMap<Cow<'s, str>, usize>>>,
}

struct Slot<'s> {
    key: Cow<'s, str>,
    key_span: Span,
    content: Content<'s>,
}

enum Content<'s> {
    Value(Node<'s>),
    Table(TableId),
    Tables(Vec<TableId>),
}

type Key<'s> = (Cow<'s, str>, Span);

/// An array or an inline table that is not closed yet.
struct Container<'s> {
    span: Span,
    /// How many tables and lists a value in it stands in.
    depth: usize,
    held: Held<'s>,
}

enum Held<'s> {
    Array(Vec<Node<'s>>),
    /// The table stands at the end of all tables, with those that belong to it behind it.
    Inline {
        table: TableId,
        path: Vec<Key<'s>>,
    },
}

struct Header {
    is_array: bool,
    is_closed: bool,
}

pub(super) struct Tree<'s> {
    source: Source<'s>,
    /// The root is the first.
    tables: Vec<Table<'s>>,
    /// Where keys go; none after a header that names nothing, so that they do not go where they do not belong.
    current: Option<TableId>,
    /// How many tables and lists the current table is in, itself among them.
    current_depth: usize,
    header: Option<Header>,
    /// The keys of the header or of the key-value pair that is being read.
    keys: Vec<Key<'s>>,
    /// The keys of the statement, waiting for its value.
    path: Vec<Key<'s>>,
    containers: Vec<Container<'s>>,
    /// Whether the next closing bracket belongs to something that was too deep to be opened.
    ignores_close: bool,
    value_count: usize,
    faults: Vec<(Span, Option<Span>, InputFault, Gravity)>,
}

/// Whether something may have been lost by an error.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Gravity {
    NothingLost,
    SomethingLost,
}

impl<'s> Tree<'s> {
    pub(super) fn new(source: Source<'s>) -> Self {
        Tree {
            source,
            tables: vec![Table::new(Origin::Header, Span::default())],
            current: Some(0),
            current_depth: 1,
            header: None,
            keys: Vec::new(),
            path: Vec::new(),
            containers: Vec::new(),
            ignores_close: false,
            value_count: 0,
            faults: Vec::new(),
        }
    }

    /// Ends a statement, whatever is left open.
    pub(super) fn end_statement(&mut self) {
        if self.header.take().is_some_and(|header| !header.is_closed) {
            self.current = None;
        }
        self.keys.clear();
        self.path.clear();
        // Inline tables that were left open stand behind all others.
        let open = self.containers.iter().find_map(|container| match container.held {
            Held::Inline { table, .. } => Some(table),
            Held::Array(_) => None,
        });
        if let Some(first) = open {
            self.tables.truncate(first);
        }
        self.containers.clear();
        self.ignores_close = false;
    }

    pub(super) fn into_root(mut self, found: &mut Found) -> Node<'s> {
        for (span, other, fault, gravity) in std::mem::take(&mut self.faults) {
            match gravity {
                Gravity::NothingLost => found.push_beside(span, other, fault),
                Gravity::SomethingLost => found.push_syntax_beside(span, other, fault),
            }
        }
        self.close(0)
    }

    /// Makes a node of a table and of all tables in it.
    fn close(&mut self, table: TableId) -> Node<'s> {
        let Table { span, entries, .. } =
            std::mem::replace(&mut self.tables[table], Table::new(Origin::Header, Span::default()));
        let entries = entries.into_iter().map(|Slot { key, key_span, content }| {
            let value = match content {
                Content::Value(node) => node,
                Content::Table(table) => self.close(table),
                Content::Tables(tables) => {
                    let span = self.tables[tables[0]].span;
                    Node { span, value: Value::Array(tables.into_iter().map(|table| self.close(table)).collect()) }
                }
            };
            Entry { key, key_span, value }
        });
        let value = Value::Table(entries.collect());
        Node { span, value }
    }

    fn fault(&mut self, span: Span, other: Option<Span>, fault: InputFault, gravity: Gravity) {
        // One more than is listed, so that it is known that there are more.
        if self.faults.len() <= MOST_ERRORS {
            self.faults.push((span, other, fault, gravity));
        }
    }

    fn new_table(&mut self, origin: Origin, span: Span) -> TableId {
        self.tables.push(Table::new(origin, span));
        self.tables.len() - 1
    }

    /// Goes from a table along some keys, and makes the tables that are missing; none where something else is there.
    fn descend(&mut self, from: TableId, path: &[Key<'s>], origin: Origin) -> Option<TableId> {
        let mut table = from;
        for (key, key_span) in path {
            let next = match self.tables[table].find(key).map(|number| &self.tables[table].entries[number].content) {
                None => {
                    let next = self.new_table(origin, *key_span);
                    self.tables[table].insert(key.clone(), *key_span, Content::Table(next));
                    next
                }
                Some(&Content::Table(next)) => {
                    // A dotted key adds nothing to a table that has a header of its own.
                    if origin == Origin::Dotted && self.tables[next].origin == Origin::Header {
                        let fault = InputFault::DuplicateKey { key: cut(key) };
                        self.fault(*key_span, Some(self.tables[next].span), fault, Gravity::SomethingLost);
                        return None;
                    }
                    if origin == Origin::Dotted {
                        self.tables[next].origin = Origin::Dotted;
                    }
                    next
                }
                Some(Content::Tables(tables)) if origin == Origin::Implicit => *tables.last()?,
                Some(content) => {
                    let first = self.tables[table].entries[self.tables[table].find(key)?].key_span;
                    let what = if matches!(content, Content::Value(_)) { "a value" } else { "a list" };
                    let message = format!("`{}` is {what} already, and cannot be a table too", cut(key));
                    let fault = InputFault::Syntax { language: Language::Toml, message };
                    self.fault(*key_span, Some(first), fault, Gravity::SomethingLost);
                    return None;
                }
            };
            table = next;
        }
        Some(table)
    }

    /// Opens the table that a header names.
    fn open_header(&mut self, is_array: bool, span: Span) {
        self.current = None;
        let mut path = std::mem::take(&mut self.keys);
        if path.len() >= DEEPEST {
            self.fault(path[0].1, None, InputFault::TooDeep { most: DEEPEST }, Gravity::SomethingLost);
            return;
        }
        self.current_depth = path.len() + 1;
        let Some((key, key_span)) = path.pop() else {
            return;
        };
        let Some(parent) = self.descend(0, &path, Origin::Implicit) else {
            return;
        };
        let Some(number) = self.tables[parent].find(&key) else {
            let table = self.new_table(Origin::Header, span);
            let content = if is_array { Content::Tables(vec![table]) } else { Content::Table(table) };
            self.tables[parent].insert(key, key_span, content);
            self.current = Some(table);
            return;
        };
        let first = self.tables[parent].entries[number].key_span;
        match (&self.tables[parent].entries[number].content, is_array) {
            (&Content::Table(table), false) => {
                if self.tables[table].origin == Origin::Implicit {
                    self.tables[table].origin = Origin::Header;
                    self.tables[table].span = span;
                } else {
                    let fault = InputFault::DuplicateKey { key: cut(&key) };
                    self.fault(key_span, Some(first), fault, Gravity::NothingLost);
                }
                self.current = Some(table);
            }
            (Content::Tables(_), _) => {
                if !is_array {
                    let fault = InputFault::WrongType { key: cut(&key), expected: Type::Tables, found: Type::Table };
                    self.fault(key_span, Some(first), fault, Gravity::NothingLost);
                }
                let table = self.new_table(Origin::Header, span);
                if let Content::Tables(tables) = &mut self.tables[parent].entries[number].content {
                    tables.push(table);
                }
                self.current = Some(table);
            }
            _ => {
                let fault = InputFault::DuplicateKey { key: cut(&key) };
                self.fault(key_span, Some(first), fault, Gravity::SomethingLost);
            }
        }
    }

    /// Puts a value under some keys of a table.
    fn insert(&mut self, table: TableId, mut path: Vec<Key<'s>>, node: Node<'s>) {
        if path.len() + self.depth() > DEEPEST {
            self.fault(path[0].1, None, InputFault::TooDeep { most: DEEPEST }, Gravity::SomethingLost);
            return;
        }
        let Some((key, key_span)) = path.pop() else {
            return;
        };
        let Some(table) = self.descend(table, &path, Origin::Dotted) else {
            return;
        };
        match self.tables[table].find(&key) {
            None => self.tables[table].insert(key, key_span, Content::Value(node)),
            Some(number) => {
                let first = self.tables[table].entries[number].key_span;
                let fault = InputFault::DuplicateKey { key: cut(&key) };
                self.fault(key_span, Some(first), fault, Gravity::NothingLost);
            }
        }
    }

    /// Takes a value to where it belongs.
    fn value(&mut self, node: Node<'s>) {
        self.value_count += 1;
        if self.value_count > MOST_VALUES {
            if self.value_count == MOST_VALUES + 1 {
                let fault = InputFault::TooManyValues { most: MOST_VALUES };
                self.fault(node.span, None, fault, Gravity::SomethingLost);
            }
            return;
        }
        match self.containers.last_mut().map(|container| &mut container.held) {
            Some(Held::Array(nodes)) => nodes.push(node),
            Some(Held::Inline { table, path }) => {
                let (table, path) = (*table, std::mem::take(path));
                self.insert(table, path, node);
            }
            None => {
                let path = std::mem::take(&mut self.path);
                if let Some(table) = self.current {
                    self.insert(table, path, node);
                }
            }
        }
    }

    /// How many tables and lists the innermost open one stands in, itself among them.
    fn depth(&self) -> usize {
        self.containers.last().map_or(self.current_depth, |container| container.depth)
    }

    /// Opens an array or an inline table inside all that is open, if that may be.
    fn open(&mut self, span: Span, hold: impl FnOnce(&mut Self) -> Held<'s>) -> bool {
        let keys = match self.containers.last().map(|container| &container.held) {
            None => self.path.len(),
            Some(Held::Inline { path, .. }) => path.len(),
            Some(Held::Array(_)) => 1,
        };
        let depth = self.depth() + keys;
        if depth > DEEPEST {
            self.ignores_close = true;
            self.fault(span, None, InputFault::TooDeep { most: DEEPEST }, Gravity::SomethingLost);
            return false;
        }
        let held = hold(self);
        self.containers.push(Container { span, depth, held });
        true
    }

    /// Whether a closing bracket belongs to something that was not opened.
    fn ignored_close(&mut self, span: Span) -> bool {
        if !std::mem::take(&mut self.ignores_close) {
            return false;
        }
        self.value(Node { span, value: Value::Lost });
        true
    }
}

impl<'s> Table<'s> {
    fn new(origin: Origin, span: Span) -> Self {
        Table { origin, span, entries: Vec::new(), index: None }
    }

    fn find(&self, key: &str) -> Option<usize> {
        match &self.index {
            Some(index) => index.get(key).copied(),
            None => self.entries.iter().position(|entry| entry.key == key),
        }
    }

    fn insert(&mut self, key: Cow<'s, str>, key_span: Span, content: Content<'s>) {
        const FEW: usize = 16;
        let number = self.entries.len();
        if let Some(index) = &mut self.index {
            index.insert(key.clone(), number);
        }
        self.entries.push(Slot { key, key_span, content });
        if self.index.is_none() && self.entries.len() > FEW {
            let keys = self.entries.iter().enumerate().map(|(number, entry)| (entry.key.clone(), number));
            self.index = Some(Box::new(keys.collect()));
        }
    }
}

fn own(span: toml_parser::Span) -> Span {
    Span::new(span.start(), span.end())
}

impl EventReceiver for Tree<'_> {
    fn std_table_open(&mut self, _span: toml_parser::Span, _error: &mut dyn ErrorSink) {
        self.end_statement();
        self.header = Some(Header { is_array: false, is_closed: false });
    }

    fn array_table_open(&mut self, _span: toml_parser::Span, _error: &mut dyn ErrorSink) {
        self.end_statement();
        self.header = Some(Header { is_array: true, is_closed: false });
    }

    fn std_table_close(&mut self, span: toml_parser::Span, _error: &mut dyn ErrorSink) {
        self.close_header(span);
    }

    fn array_table_close(&mut self, span: toml_parser::Span, _error: &mut dyn ErrorSink) {
        self.close_header(span);
    }

    fn simple_key(&mut self, span: toml_parser::Span, encoding: Option<Encoding>, error: &mut dyn ErrorSink) {
        let mut key = Cow::Borrowed("");
        if let Some(raw) = self.source.get(span) {
            toml_parser::Raw::new_unchecked(raw.as_str(), encoding, span).decode_key(&mut key, error);
        }
        self.keys.push((key, own(span)));
    }

    fn key_val_sep(&mut self, _span: toml_parser::Span, _error: &mut dyn ErrorSink) {
        let keys = std::mem::take(&mut self.keys);
        match self.containers.last_mut().map(|container| &mut container.held) {
            Some(Held::Inline { path, .. }) => *path = keys,
            Some(Held::Array(_)) => {}
            None => self.path = keys,
        }
    }

    fn scalar(&mut self, span: toml_parser::Span, encoding: Option<Encoding>, error: &mut dyn ErrorSink) {
        let Some(raw) = self.source.get(span) else {
            return;
        };
        let raw = toml_parser::Raw::new_unchecked(raw.as_str(), encoding, span);
        let mut text = Cow::Borrowed("");
        let mut failed = false;
        let kind = raw.decode_scalar(&mut text, &mut |fault: ParseError| {
            failed = true;
            error.report_error(fault);
        });
        let value = match kind {
            _ if failed => Value::Lost,
            ScalarKind::String => Value::Text(text),
            ScalarKind::Boolean(boolean) => Value::Boolean(boolean),
            ScalarKind::DateTime => Value::Date,
            ScalarKind::Float => text.parse().map_or(Value::Lost, Value::Float),
            // A number beyond all whole numbers of 64 bits is as good as one with a fraction.
            ScalarKind::Integer(radix) => match i64::from_str_radix(&text, radix.value()) {
                Ok(integer) => Value::Integer(integer),
                Err(_) => Value::Float(text.parse().unwrap_or(f64::INFINITY)),
            },
        };
        self.value(Node { span: own(span), value });
    }

    fn array_open(&mut self, span: toml_parser::Span, _error: &mut dyn ErrorSink) -> bool {
        self.open(own(span), |_| Held::Array(Vec::new()))
    }

    fn array_close(&mut self, span: toml_parser::Span, _error: &mut dyn ErrorSink) {
        let close = own(span);
        if self.ignored_close(close) {
            return;
        }
        let open = self.containers.pop_if(|container| matches!(container.held, Held::Array(_)));
        if let Some(Container { span, held: Held::Array(mut nodes), .. }) = open {
            nodes.shrink_to_fit();
            let span = Span { start: span.start, end: close.end };
            self.value(Node { span, value: Value::Array(nodes) });
        }
    }

    fn inline_table_open(&mut self, span: toml_parser::Span, _error: &mut dyn ErrorSink) -> bool {
        let span = own(span);
        self.keys.clear();
        self.open(span, |tree| Held::Inline { table: tree.new_table(Origin::Header, span), path: Vec::new() })
    }

    fn inline_table_close(&mut self, span: toml_parser::Span, _error: &mut dyn ErrorSink) {
        let close = own(span);
        if self.ignored_close(close) {
            return;
        }
        let open = self.containers.pop_if(|container| matches!(container.held, Held::Inline { .. }));
        if let Some(Container { span, held: Held::Inline { table, .. }, .. }) = open {
            let Node { value, .. } = self.close(table);
            self.tables.truncate(table);
            self.keys.clear();
            self.value(Node { span: Span { start: span.start, end: close.end }, value });
        }
    }

    fn value_sep(&mut self, _span: toml_parser::Span, _error: &mut dyn ErrorSink) {
        if let Some(Held::Inline { path, .. }) = self.containers.last_mut().map(|container| &mut container.held) {
            path.clear();
            self.keys.clear();
        }
    }
}

impl Tree<'_> {
    fn close_header(&mut self, close: toml_parser::Span) {
        let Some(header) = &mut self.header else {
            return;
        };
        header.is_closed = true;
        let is_array = header.is_array;
        let start = self.keys.first().map_or(own(close), |(_, span)| *span).start;
        let brackets = if is_array { 2 } else { 1 };
        let span = Span { start: start.saturating_sub(brackets), end: own(close).end };
        self.open_header(is_array, span);
    }
}
