//! Collecting errors without cascades: what was lost on the way in causes no errors of its own.

use rustc_hash::FxHashMap;

use super::super::DocumentPath;
use super::super::error::{ModelError, ModelFault, Named};
use super::super::names::{Nearest, name_fault};

/// The most errors that are listed one by one; the rest are counted.
///
/// A file of the largest size can hold some ten million errors, and a list of all of them would take more memory than
/// the file by two orders of magnitude.
pub(crate) const MOST_ERRORS: usize = 200_000;

/// Stands in a draft wherever a text was there but could not be read.
///
/// A file may hold this very text: where nothing was lost it has no meaning, and where something was lost the file is
/// refused anyway.
pub(crate) const LOST: &str = "\u{f8ff}lost";

/// What a reader could not make out of a file, so that nothing that it may have caused is reported beside it.
#[derive(Debug, Default)]
pub(crate) struct Gaps {
    /// Whether [`LOST`] stands for texts that were lost.
    pub(crate) has_lost: bool,
    /// Report only what is wrong by itself: anything else may be missing because the file's syntax is broken.
    pub(crate) local_only: bool,
    /// The origin may be among what was lost.
    pub(crate) origin: bool,
}

impl Gaps {
    pub(crate) fn is_lost(&self, text: &str) -> bool {
        self.has_lost && text == LOST
    }
}

/// What a name leads to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Lookup<T> {
    Found(T),
    /// Something else is wrong with it, and has been reported.
    Broken,
    Unknown,
}

/// Names of one sort and what each leads to.
#[derive(Debug)]
pub(crate) struct Index<K, T> {
    entries: FxHashMap<K, Option<T>>,
    /// Whether names may be missing.
    open: bool,
}

impl<K, T> Default for Index<K, T> {
    fn default() -> Self {
        Index { entries: FxHashMap::default(), open: false }
    }
}

impl<K: std::hash::Hash + Eq, T: Copy> Index<K, T> {
    /// Notes that a name was lost, so that one which is not there may be it.
    pub(crate) fn open(&mut self) {
        self.open = true;
    }

    /// Adds a name, unless it is there: then it leads to neither, and the first is given back.
    pub(crate) fn insert(&mut self, name: K, to: T) -> Result<(), Option<T>> {
        match self.entries.entry(name) {
            std::collections::hash_map::Entry::Vacant(place) => {
                place.insert(Some(to));
                Ok(())
            }
            std::collections::hash_map::Entry::Occupied(mut place) => Err(place.insert(None)),
        }
    }

    pub(crate) fn get(&self, name: &K) -> Lookup<T> {
        match self.entries.get(name) {
            Some(Some(to)) => Lookup::Found(*to),
            Some(None) => Lookup::Broken,
            None if self.open => Lookup::Broken,
            None => Lookup::Unknown,
        }
    }
}

/// The errors found so far, and what to leave unsaid.
pub(crate) struct Faults<'g> {
    pub(crate) gaps: &'g Gaps,
    pub(crate) nearest: Nearest,
    errors: Vec<ModelError>,
    unlisted: usize,
}

impl<'g> Faults<'g> {
    pub(crate) fn new(gaps: &'g Gaps) -> Self {
        Faults { gaps, nearest: Nearest::default(), errors: Vec::new(), unlisted: 0 }
    }

    pub(crate) fn push(&mut self, path: DocumentPath, fault: ModelFault) {
        self.push_beside(path, None, fault);
    }

    /// Adds an error about two places.
    pub(crate) fn push_beside(&mut self, path: DocumentPath, other: Option<DocumentPath>, fault: ModelFault) {
        if self.gaps.local_only && !fault.is_local() {
            return;
        }
        if self.errors.len() == MOST_ERRORS {
            self.unlisted += 1;
            return;
        }
        self.errors.push(ModelError { path, other, fault });
    }

    /// All errors, the last of them a count of those that are not listed.
    pub(crate) fn into_errors(mut self) -> Vec<ModelError> {
        if self.unlisted > 0 {
            let fault = ModelFault::AndMore { count: self.unlisted };
            self.errors.push(ModelError { path: DocumentPath::root(), other: None, fault });
        }
        self.errors
    }

    /// Checks the characters and the length of an id or a name.
    pub(crate) fn check_name(&mut self, what: Named, name: &str, path: impl FnOnce() -> DocumentPath) {
        if self.gaps.is_lost(name) {
            return;
        }
        if let Some(fault) = name_fault(what, name) {
            self.push(path(), ModelFault::BadName { what, name: cut(name), fault });
        }
    }

    /// Checks that a name is none of those that have a meaning of their own.
    pub(crate) fn check_reserved(
        &mut self,
        what: Named,
        name: &str,
        reserved: &'static [&'static str],
        path: impl FnOnce() -> DocumentPath,
    ) {
        if reserved.contains(&name) {
            self.push(path(), ModelFault::ReservedName { what, name: name.to_owned(), reserved });
        }
    }

    /// What a name leads to in its index; a name that leads nowhere is reported.
    pub(crate) fn find<'n, T: Copy>(
        &mut self,
        what: Named,
        name: &str,
        index: &Index<&str, T>,
        known: impl IntoIterator<Item = &'n str>,
        path: impl FnOnce() -> DocumentPath,
    ) -> Option<T> {
        if self.gaps.is_lost(name) {
            return None;
        }
        match index.get(&name) {
            Lookup::Found(to) => Some(to),
            Lookup::Broken => None,
            Lookup::Unknown => {
                self.unknown(what, name, known, path());
                None
            }
        }
    }

    /// Reports a part of a board that is not there, with the nearest that is: `BOARD/WAY` or `BOARD.GROUP`.
    pub(crate) fn unknown_part<'n>(
        &mut self,
        what: Named,
        [board, separator, part]: [&str; 3],
        known: impl IntoIterator<Item = &'n str>,
        path: DocumentPath,
    ) {
        let full = |part: &str| format!("{board}{separator}{part}");
        let nearest = self.nearest.among(part, known).map(full);
        self.push(path, ModelFault::Unknown { what, name: cut(&full(part)), nearest });
    }

    /// Reports a name that leads nowhere, with the nearest that leads somewhere.
    pub(crate) fn unknown<'n>(
        &mut self,
        what: Named,
        name: &str,
        known: impl IntoIterator<Item = &'n str>,
        path: DocumentPath,
    ) {
        let nearest = self.nearest.among(name, known).map(str::to_owned);
        self.push(path, ModelFault::Unknown { what, name: cut(name), nearest });
    }
}

/// The first 80 characters of a text that should have been short.
pub(crate) fn cut(text: &str) -> String {
    if text == LOST {
        return "?".to_owned();
    }
    match text.char_indices().nth(80) {
        Some((end, _)) => format!("{}…", &text[..end]),
        None => text.to_owned(),
    }
}
