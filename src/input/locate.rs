//! Where in the text a place in the document is.

use rustc_hash::FxHashMap;

use super::node::{Entry, Node, Span, Value};
use crate::model::{DocumentPath, Part, Segment};

/// Finds places of a document again; tables with many keys are looked up, not searched.
#[derive(Default)]
pub(super) struct Locator<'n> {
    large: FxHashMap<*const Entry<'n>, FxHashMap<&'n str, usize>>,
}

impl<'n> Locator<'n> {
    /// The bytes of a key or a value; those of the nearest that is there, where it is not.
    pub(super) fn find(&mut self, root: &'n Node<'n>, path: &DocumentPath) -> Span {
        let mut node = root;
        let mut key_span = root.span;
        for segment in path.segments() {
            let next = match (segment, &node.value) {
                (Segment::Key(key), Value::Table(entries)) => self.entry(entries, key).map(|entry| {
                    key_span = entry.key_span;
                    &entry.value
                }),
                (Segment::Index(index), Value::Array(nodes)) => nodes.get(*index),
                _ => None,
            };
            match next {
                Some(next) => node = next,
                None => break,
            }
        }
        match path.part() {
            Part::Key => key_span,
            Part::Value => node.span,
        }
    }

    fn entry(&mut self, entries: &'n [Entry<'n>], key: &str) -> Option<&'n Entry<'n>> {
        const FEW: usize = 32;
        if entries.len() <= FEW {
            return entries.iter().find(|entry| entry.key == key);
        }
        let index = self.large.entry(entries.as_ptr()).or_insert_with(|| {
            entries.iter().enumerate().map(|(number, entry)| (entry.key.as_ref(), number)).collect()
        });
        index.get(key).map(|&number| &entries[number])
    }
}
