//! Collecting errors without cascades: what was lost on the way in causes no errors of its own.

use rustc_hash::{FxHashMap, FxHashSet};

use crate::model::InputLimits;
use crate::model::fault::{ModelError, ModelErrors, ModelFault, Named, Nearest, Quantity, name_fault};
use crate::model::{DocumentPath, Part, RunPart, Segment};

/// What a reader could not make out of a file, by its places, so that nothing that it may have caused is reported
/// beside it.
///
/// The draft has something in each of these places, of which nothing is said.
#[derive(Clone, Debug, Default)]
pub(crate) struct Lost {
    places: FxHashSet<Vec<Segment>>,
    /// Points are missing that a run would have made.
    pub(crate) run_points: bool,
    /// Anything may be lost: only what is wrong by itself is reported.
    pub(crate) anything: bool,
}

impl Lost {
    pub(crate) fn add(&mut self, place: &[Segment]) {
        if !self.places.contains(place) {
            self.places.insert(place.to_vec());
        }
    }

    /// The places that something in them was lost of, themselves included.
    pub(crate) fn touched(&self) -> FxHashSet<&[Segment]> {
        self.places.iter().flat_map(|place| (1..=place.len()).map(|count| &place[..count])).collect()
    }

    /// Whether what is in a place was lost, alone or with all that it stands in.
    pub(crate) fn has(&self, place: impl FnOnce() -> DocumentPath) -> bool {
        !self.places.is_empty() && {
            let place = place();
            let segments = place.segments();
            // A key was read even where its value was lost.
            let own = if place.part() == Part::Key { segments.len() - 1 } else { segments.len() };
            (1..=own).any(|count| self.places.contains(&segments[..count]))
        }
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

impl<K: std::hash::Hash + Eq, T: Copy> Index<K, T> {
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
pub(crate) struct Faults<'l> {
    pub(crate) lost: &'l Lost,
    /// Only what is wrong by itself is reported.
    local_only: bool,
    pub(crate) nearest: Nearest,
    errors: Vec<ModelError>,
    unlisted: usize,
    most: usize,
}

impl<'l> Faults<'l> {
    pub(crate) fn new(lost: &'l Lost, limits: &InputLimits) -> Self {
        // What is connected to what depends on the names of the lines.
        let local_only = lost.anything || lost.has(|| DocumentPath::root().key("installation").key("phases"));
        let nearest = Nearest::new(limits.nearest_name);
        Faults { lost, local_only, nearest, errors: Vec::new(), unlisted: 0, most: limits.errors }
    }

    /// Goes on after those that were found so far.
    pub(crate) fn after(mut self, found: Faults<'_>) -> Self {
        (self.errors, self.unlisted, self.nearest) = (found.errors, found.unlisted, found.nearest);
        self
    }

    pub(crate) fn push(&mut self, path: DocumentPath, fault: ModelFault) {
        self.push_beside(path, None, fault);
    }

    /// Adds an error about two places.
    pub(crate) fn push_beside(&mut self, path: DocumentPath, other: Option<DocumentPath>, fault: ModelFault) {
        self.push_from(path, other, None, fault);
    }

    /// Adds an error in part of a run.
    pub(crate) fn push_from(
        &mut self,
        path: DocumentPath,
        other: Option<DocumentPath>,
        part: Option<RunPart>,
        fault: ModelFault,
    ) {
        if self.local_only && !fault.is_local() {
            return;
        }
        if self.errors.len() == self.most {
            self.unlisted += 1;
            return;
        }
        self.errors.push(ModelError { path, other, from: part.map(Box::new), fault });
    }

    /// Checks a quantity that is above zero; it may stand in part of a run.
    pub(crate) fn check_positive(
        &mut self,
        quantity: Quantity,
        value: f64,
        path: impl Fn() -> DocumentPath,
        part: Option<RunPart>,
    ) {
        let is_positive = value.is_finite() && value > 0.0;
        if !is_positive && !self.lost.has(&path) {
            self.push_from(path(), None, part, ModelFault::NotPositive { quantity, value });
        }
    }

    /// Gives all errors if there are any, the last of them a count of those that are not listed.
    pub(crate) fn finish(mut self) -> Result<(), ModelErrors> {
        if self.unlisted > 0 {
            let fault = ModelFault::AndMore { count: self.unlisted };
            self.errors.push(ModelError { path: DocumentPath::root(), other: None, from: None, fault });
        }
        if self.errors.is_empty() { Ok(()) } else { Err(ModelErrors { errors: self.errors }) }
    }

    /// An index of the names of a list. Where the list was lost, a name that is not there may have been in it.
    pub(crate) fn index<K, T>(&self, list: impl FnOnce() -> DocumentPath) -> Index<K, T> {
        Index { entries: FxHashMap::default(), open: self.lost.has(list) }
    }

    /// The same of the points, some of which runs may make.
    pub(crate) fn point_index<K, T>(&self) -> Index<K, T> {
        let mut index = self.index(|| DocumentPath::root().key("point"));
        index.open |= self.lost.run_points;
        index
    }

    /// Checks the id of an entry of a list, and adds it to the list's index.
    pub(crate) fn add_id<'n, T: Copy>(
        &mut self,
        what: Named,
        (id, to): (&'n str, T),
        path: impl Fn() -> DocumentPath,
        index: &mut Index<&'n str, T>,
        entry: impl FnOnce(T) -> DocumentPath,
    ) {
        let path = || path().key("id");
        if self.lost.has(path) {
            index.open = true;
            return;
        }
        self.check_name(what, id, path);
        if let Err(first) = index.insert(id, to) {
            let first = first.map(|first| entry(first).key("id"));
            self.push_beside(path(), first, ModelFault::DuplicateId { what, id: cut(id) });
        }
    }

    /// Checks the characters and the length of an id or a name.
    pub(crate) fn check_name(&mut self, what: Named, name: &str, path: impl Fn() -> DocumentPath) {
        if let Some(fault) = name_fault(what, name)
            && !self.lost.has(&path)
        {
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
        path: impl Fn() -> DocumentPath,
    ) -> Option<T> {
        if self.lost.has(&path) {
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

    /// Reports a name that leads nowhere, with the one that is meant.
    pub(crate) fn meant(&mut self, what: Named, name: &str, meant: &str, path: DocumentPath) {
        self.push(path, ModelFault::Unknown { what, name: cut(name), nearest: Some(meant.to_owned()) });
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
    match text.char_indices().nth(80) {
        Some((end, _)) => format!("{}…", &text[..end]),
        None => text.to_owned(),
    }
}
