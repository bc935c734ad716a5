//! The errors found in a text so far, by the bytes that they are about.

use rustc_hash::FxHashSet;

use super::error::{InputError, InputErrors, InputFault, Place};
use super::node::Span;
use crate::model::{DocumentPath, InputLimits, ModelError, ModelFault, RunPart};

/// An error that has bytes, but not yet a line and a column.
struct Spanned {
    span: Span,
    other: Option<Span>,
    /// The place in the draft, where it was found there.
    path: Option<DocumentPath>,
    from: Option<Box<RunPart>>,
    fault: InputFault,
    /// Whether the language's own rules are broken there.
    is_syntax: bool,
}

pub(super) struct Found {
    errors: Vec<Spanned>,
    unlisted: usize,
    /// How many are listed.
    most: usize,
    has_syntax: bool,
}

impl Found {
    pub(super) fn new(limits: &InputLimits) -> Self {
        Found { errors: Vec::new(), unlisted: 0, most: limits.errors, has_syntax: false }
    }

    pub(super) fn is_empty(&self) -> bool {
        self.errors.is_empty() && self.unlisted == 0
    }

    /// Whether the language's own rules are broken somewhere, so that anything may be missing.
    pub(super) fn has_syntax(&self) -> bool {
        self.has_syntax
    }

    pub(super) fn push(&mut self, span: Span, fault: InputFault) {
        self.push_beside(span, None, fault);
    }

    pub(super) fn push_beside(&mut self, span: Span, other: Option<Span>, fault: InputFault) {
        self.keep(Spanned { span, other, path: None, from: None, fault, is_syntax: false });
    }

    pub(super) fn push_of_draft(&mut self, span: Span, other: Option<Span>, error: ModelError) {
        let ModelError { path, from, fault, .. } = error;
        self.keep(Spanned { span, other, path: Some(path), from, fault: InputFault::Model(fault), is_syntax: false });
    }

    pub(super) fn push_syntax(&mut self, span: Span, fault: InputFault) {
        self.push_syntax_beside(span, None, fault);
    }

    pub(super) fn push_syntax_beside(&mut self, span: Span, other: Option<Span>, fault: InputFault) {
        self.lose();
        self.keep(Spanned { span, other, path: None, from: None, fault, is_syntax: true });
    }

    /// Notes that by what is pushed here anything may be missing.
    pub(super) fn lose(&mut self) {
        self.has_syntax = true;
    }

    /// Counts errors that are not listed.
    pub(super) fn add_unlisted(&mut self, count: usize) {
        self.unlisted += count;
    }

    fn keep(&mut self, error: Spanned) {
        if self.errors.len() < self.most {
            self.errors.push(error);
        } else {
            self.unlisted += 1;
        }
    }

    /// Sorts the errors by place and counts lines and columns.
    pub(super) fn into_errors(mut self, name: &str, text: &str) -> InputErrors {
        self.errors.sort_by_key(|error| error.span);
        let starts = self.errors.iter().flat_map(|error| [Some(error.span), error.other]).flatten();
        let mut wanted: Vec<u32> = starts.map(|span| span.start).collect();
        wanted.sort_unstable();
        wanted.dedup();
        let places = count_places(text, &wanted);
        let place = |span: Span| {
            let (line, column) = places[wanted.binary_search(&span.start).expect("every start is counted")];
            Place { start: span.start as usize, end: span.end as usize, line, column }
        };
        // What stands beside broken syntax may not be what was meant.
        let broken: FxHashSet<usize> =
            self.errors.iter().filter(|error| error.is_syntax).map(|error| place(error.span).line).collect();
        let mut errors: Vec<InputError> = self
            .errors
            .into_iter()
            .filter_map(|Spanned { span, other, path, from, fault, is_syntax }| {
                let place_of_it = place(span);
                let is_told = is_syntax || !broken.contains(&place_of_it.line);
                is_told.then(|| InputError { place: Some(place_of_it), other: other.map(place), path, from, fault })
            })
            .collect();
        if self.unlisted > 0 {
            let fault = InputFault::Model(ModelFault::AndMore { count: self.unlisted });
            errors.push(InputError { place: None, other: None, path: None, from: None, fault });
        }
        InputErrors { name: name.to_owned(), text: text.to_owned(), errors }
    }
}

/// Line and column of each offset, both from 1; the offsets are sorted, and the text is walked once.
fn count_places(text: &str, offsets: &[u32]) -> Vec<(usize, usize)> {
    let mut places = Vec::with_capacity(offsets.len());
    let (mut line, mut column, mut at) = (1, 1, 0);
    for &offset in offsets {
        // An offset beyond the end, or inside a character, counts as the next that is none.
        let mut end = (offset as usize).min(text.len());
        while !text.is_char_boundary(end) {
            end += 1;
        }
        for character in text[at..end].chars() {
            if character == '\n' {
                line += 1;
                column = 1;
            } else {
                column += 1;
            }
        }
        at = end;
        places.push((line, column));
    }
    places
}
