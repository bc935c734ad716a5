//! What a file holds, whatever it was written in: a tree of values that knows its places in the text.

use std::borrow::Cow;

/// Bytes of the text, from `start` up to `end`. No file has more than 64 MiB.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Span {
    pub(super) start: u32,
    pub(super) end: u32,
}

impl Span {
    pub(super) fn new(start: usize, end: usize) -> Self {
        Span { start: start as u32, end: end as u32 }
    }
}

impl From<std::ops::Range<usize>> for Span {
    fn from(range: std::ops::Range<usize>) -> Self {
        Span::new(range.start, range.end)
    }
}

/// A value and its place.
#[derive(Debug)]
pub(super) struct Node<'s> {
    pub(super) span: Span,
    pub(super) value: Value<'s>,
}

#[derive(Debug)]
pub(super) enum Value<'s> {
    Text(Cow<'s, str>),
    Integer(i64),
    Float(f64),
    Boolean(bool),
    Date,
    Null,
    Array(Vec<Node<'s>>),
    Table(Vec<Entry<'s>>),
    /// Something stood here that could not be read, and that is reported already.
    Lost,
}

/// One key of a table and its value.
#[derive(Debug)]
pub(super) struct Entry<'s> {
    pub(super) key: Cow<'s, str>,
    pub(super) key_span: Span,
    pub(super) value: Node<'s>,
}
