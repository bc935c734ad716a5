//! Taking tables apart, with every key accounted for.
//!
//! What can't be read is reported and noted as lost, by its place in the document; what only follows from it is then
//! left unsaid, here and where the draft is built.

use super::error::{Document, InputFault, Type};
use super::found::Found;
use super::node::{Entry, Node, Span, Value};
use crate::model::{InputLimits, Lost, Nearest, Segment, Word, cut};

/// The keys by which each sort of file is told from the others.
const OWN_KEYS: [(Document, &[&str]); 3] = [
    (Document::Installation, &["installation", "board", "length"]),
    (Document::TestSet, &["start", "pass"]),
    (Document::Ruleset, &["ruleset", "row"]),
];

/// A table of the format: what it is called, and the keys that it has.
pub(super) struct Shape {
    pub(super) name: &'static str,
    pub(super) keys: &'static [&'static str],
}

/// One table being taken apart.
pub(super) struct Fields<'n> {
    shape: &'static Shape,
    span: Span,
    /// Those that the format knows.
    entries: Vec<&'n Entry<'n>>,
    /// Keys that some unknown key was probably meant to be.
    meant: Vec<&'static str>,
    /// Whether the table itself could not be read.
    is_lost: bool,
}

/// What a key has.
enum Held<'n> {
    Known(&'n Node<'n>),
    /// It could not be read, and that is reported.
    Lost,
    Missing,
}

impl<'n> Fields<'n> {
    /// The whole table.
    pub(super) fn span(&self) -> Span {
        self.span
    }

    fn find(&self, key: &str) -> Held<'n> {
        match self.entries.iter().find(|entry| entry.key == key) {
            Some(Entry { value: Node { value: Value::Lost, .. }, .. }) => Held::Lost,
            Some(entry) => Held::Known(&entry.value),
            None if self.is_lost || self.meant.contains(&key) => Held::Lost,
            None => Held::Missing,
        }
    }
}

/// Reads nodes into drafts.
pub(super) struct Reader<'f> {
    pub(super) found: &'f mut Found,
    /// The text of the file.
    pub(super) text: &'f str,
    nearest: Nearest,
    /// The keys of the outermost table.
    root_keys: &'static [&'static str],
    /// Where in the document what is being read is.
    place: Vec<Segment>,
    lost: Lost,
}

impl<'f> Reader<'f> {
    pub(super) fn new(found: &'f mut Found, text: &'f str, limits: &InputLimits) -> Self {
        let nearest = Nearest::new(limits.nearest_name);
        Reader { found, text, nearest, root_keys: &[], place: Vec::new(), lost: Lost::default() }
    }

    /// What was lost, once all is read.
    pub(super) fn into_lost(mut self) -> Lost {
        self.lost.anything = self.found.has_syntax();
        self.lost
    }

    /// Opens the outermost table of a file, unless it is a file of another sort: it has some of the keys by which
    /// that is told, and but for `format` none of those that it should have.
    pub(super) fn open_file<'n>(
        &mut self,
        node: &'n Node<'n>,
        shape: &'static Shape,
        wanted: Document,
    ) -> Option<Fields<'n>> {
        if let Value::Table(entries) = &node.value
            && !entries.iter().any(|entry| entry.key != "format" && shape.keys.contains(&entry.key.as_ref()))
        {
            for &(found, keys) in OWN_KEYS.iter().filter(|other| other.0 != wanted) {
                if let Some(entry) = entries.iter().find(|entry| keys.contains(&entry.key.as_ref())) {
                    self.found.push(entry.key_span, InputFault::OtherDocument { found, wanted });
                    return None;
                }
            }
        }
        self.root_keys = shape.keys;
        let fields = self.open(node, shape);
        self.required(&fields, "format", |reader, node| match node.value {
            Value::Integer(1) => Some(()),
            Value::Integer(found) => reader.refuse(node, InputFault::UnknownFormat { found }),
            _ => reader.wrong_type(node, Type::Integer),
        });
        Some(fields)
    }

    /// Opens a table; its unknown keys are reported.
    pub(super) fn open<'n>(&mut self, node: &'n Node<'n>, shape: &'static Shape) -> Fields<'n> {
        let mut fields = Fields { shape, span: node.span, entries: Vec::new(), meant: Vec::new(), is_lost: false };
        let Value::Table(entries) = &node.value else {
            let _: Option<()> = self.wrong_type(node, Type::Table);
            fields.is_lost = true;
            return fields;
        };
        let (known, unknown) = entries.iter().partition::<Vec<_>, _>(|entry| shape.keys.contains(&entry.key.as_ref()));
        fields.entries = known;
        for entry in unknown {
            self.unknown_key(&mut fields, entry);
        }
        fields
    }

    fn unknown_key(&mut self, fields: &mut Fields<'_>, entry: &Entry<'_>) {
        let shape = fields.shape;
        let fault = if shape.name == "kind" && matches!(entry.key.as_ref(), "kind" | "extends") {
            InputFault::KindFromKind { key: entry.key.to_string() }
        } else if let Some(fault) = self.list_inside(&entry.key, &entry.value, &self.place) {
            fault
        } else {
            // A key that is there already was hardly meant again.
            let absent = shape.keys.iter().copied().filter(|&key| fields.entries.iter().all(|entry| entry.key != key));
            let nearest = self.nearest.among(&entry.key, absent);
            let nearest = nearest.or_else(|| self.nearest.among(&entry.key, shape.keys.iter().copied()));
            fields.meant.extend(nearest);
            InputFault::UnknownKey { key: cut(&entry.key), table: shape.name, nearest, known: shape.keys }
        };
        self.found.push(entry.key_span, fault);
    }

    /// Reads in a place that is one step further in.
    pub(super) fn within<T>(&mut self, segment: Segment, read: impl FnOnce(&mut Self) -> T) -> T {
        self.place.push(segment);
        let value = read(self);
        self.place.pop();
        value
    }

    /// Notes that what is being read is lost.
    fn lose<T>(&mut self) -> Option<T> {
        self.lost.add(&self.place);
        None
    }

    /// Reports what is wrong with what is being read, which is lost by that.
    pub(super) fn refuse<T>(&mut self, node: &Node<'_>, fault: InputFault) -> Option<T> {
        self.found.push(node.span, fault);
        self.lose()
    }

    /// The last key on the way to what is being read.
    fn key(&self) -> &str {
        last_key(&self.place).unwrap_or("file")
    }

    pub(super) fn wrong_type<T>(&mut self, node: &Node<'_>, expected: Type) -> Option<T> {
        let found = match node.value {
            Value::Text(_) => Type::Text,
            Value::Integer(_) => Type::Integer,
            Value::Float(_) => Type::Float,
            Value::Boolean(_) => Type::Boolean,
            Value::Date => Type::Date,
            Value::Null => Type::Null,
            Value::Array(_) => Type::List,
            Value::Table(_) => Type::Table,
            Value::Lost => return self.lose(),
        };
        let key = self.key();
        let table = self.place.split_last().map_or(&[][..], |(_, table)| table);
        let fault = self.list_inside(key, node, table);
        let fault = fault.unwrap_or_else(|| InputFault::WrongType { key: cut(key), expected, found });
        self.refuse(node, fault)
    }

    /// What is wrong where a list of tables that the file itself has stands in one of its tables.
    fn list_inside(&self, key: &str, node: &Node<'_>, table: &[Segment]) -> Option<InputFault> {
        let key = self.root_keys.iter().copied().find(|&known| known == key)?;
        let table = last_key(table)?;
        let Value::Array(entries) = &node.value else { return None };
        let is_of_tables = matches!(entries[..], [Node { value: Value::Table(_), .. }, ..]);
        is_of_tables.then(|| InputFault::ListInside { key, table: cut(table) })
    }

    /// Reads the value of a key, if it is there.
    pub(super) fn optional<'n, T>(
        &mut self,
        fields: &Fields<'n>,
        key: &'static str,
        read: impl FnOnce(&mut Self, &'n Node<'n>) -> Option<T>,
    ) -> Option<T> {
        match fields.find(key) {
            Held::Known(node) => self.within(Segment::Key(key.into()), |reader| read(reader, node)),
            Held::Lost => self.within(Segment::Key(key.into()), Self::lose),
            Held::Missing => None,
        }
    }

    /// Reads the value of a key that has to be there.
    pub(super) fn required<'n, T>(
        &mut self,
        fields: &Fields<'n>,
        key: &'static str,
        read: impl FnOnce(&mut Self, &'n Node<'n>) -> Option<T>,
    ) -> Option<T> {
        if !matches!(fields.find(key), Held::Missing) {
            return self.optional(fields, key, read);
        }
        // Where the syntax is broken the key may be there, unread.
        if !self.found.has_syntax() {
            self.found.push(fields.span, InputFault::MissingKey { key, table: fields.shape.name });
        }
        self.within(Segment::Key(key.into()), Self::lose)
    }

    pub(super) fn text(&mut self, node: &Node<'_>) -> Option<String> {
        match &node.value {
            Value::Text(text) => Some(text.to_string()),
            _ => self.wrong_type(node, Type::Text),
        }
    }

    pub(super) fn required_text(&mut self, fields: &Fields<'_>, key: &'static str) -> String {
        self.required(fields, key, Self::text).unwrap_or_else(lost_text)
    }

    /// A text; one that could not be read is there all the same.
    pub(super) fn optional_text(&mut self, fields: &Fields<'_>, key: &'static str) -> Option<String> {
        let is_missing = matches!(fields.find(key), Held::Missing);
        self.optional(fields, key, Self::text).or_else(|| (!is_missing).then(lost_text))
    }

    pub(super) fn number(&mut self, node: &Node<'_>) -> Option<f64> {
        match node.value {
            Value::Integer(integer) => Some(integer as f64),
            Value::Float(float) => Some(float),
            _ => self.wrong_type(node, Type::Number),
        }
    }

    pub(super) fn whole(&mut self, node: &Node<'_>) -> Option<i64> {
        match node.value {
            Value::Integer(integer) => Some(integer),
            _ => self.wrong_type(node, Type::Integer),
        }
    }

    /// A number, or nothing in the place of one that is lost.
    pub(super) fn required_number(&mut self, fields: &Fields<'_>, key: &'static str) -> f64 {
        self.required(fields, key, Self::number).unwrap_or_default()
    }

    pub(super) fn boolean(&mut self, node: &Node<'_>) -> Option<bool> {
        match node.value {
            Value::Boolean(boolean) => Some(boolean),
            _ => self.wrong_type(node, Type::Boolean),
        }
    }

    /// One of some words, or of some whole numbers.
    pub(super) fn choice<T: Word>(&mut self, node: &Node<'_>, key: &'static str) -> Option<T> {
        let is_number = T::WORDS[0].starts_with(|first: char| first.is_ascii_digit());
        let (word, found) = match &node.value {
            Value::Text(text) if !is_number => (text.to_string(), format!("{:?}", cut(text))),
            Value::Integer(integer) if is_number => (integer.to_string(), integer.to_string()),
            _ => return self.wrong_type(node, if is_number { Type::Integer } else { Type::Text }),
        };
        match T::WORDS.iter().position(|&known| known == word) {
            Some(number) => Some(T::ALL[number]),
            None => self.refuse(node, InputFault::NotOneOf { key, found, allowed: T::WORDS }),
        }
    }

    pub(super) fn optional_choice<T: Word>(&mut self, fields: &Fields<'_>, key: &'static str) -> Option<T> {
        self.optional(fields, key, |reader, node| reader.choice(node, key))
    }

    pub(super) fn required_choice<T: Word>(&mut self, fields: &Fields<'_>, key: &'static str) -> Option<T> {
        self.required(fields, key, |reader, node| reader.choice(node, key))
    }

    /// Reads the entries of a list one by one.
    pub(super) fn list<'n, T>(
        &mut self,
        node: &'n Node<'n>,
        expected: Type,
        mut read: impl FnMut(&mut Self, &'n Node<'n>) -> T,
    ) -> Option<Vec<T>> {
        let Value::Array(nodes) = &node.value else { return self.wrong_type(node, expected) };
        let entries = nodes.iter().enumerate();
        Some(entries.map(|(number, node)| self.within(Segment::Index(number), |reader| read(reader, node))).collect())
    }

    /// A list of tables.
    pub(super) fn tables<'n, T>(
        &mut self,
        fields: &Fields<'n>,
        key: &'static str,
        read: impl FnMut(&mut Self, &'n Node<'n>) -> T,
    ) -> Vec<T> {
        self.optional(fields, key, |reader, node| reader.list(node, Type::Tables, read)).unwrap_or_default()
    }

    /// A list of texts.
    pub(super) fn texts<'n>(&mut self, node: &'n Node<'n>) -> Option<Vec<String>> {
        self.list(node, Type::Texts, |reader, node| reader.text(node).unwrap_or_else(lost_text))
    }

    pub(super) fn optional_texts(&mut self, fields: &Fields<'_>, key: &'static str) -> Vec<String> {
        self.optional(fields, key, Self::texts).unwrap_or_default()
    }

    /// A list of lists of texts.
    pub(super) fn text_lists(&mut self, fields: &Fields<'_>, key: &'static str) -> Vec<Vec<String>> {
        let read = |reader: &mut Self, node| reader.texts(node).unwrap_or_default();
        self.optional(fields, key, |reader, node| reader.list(node, Type::List, read)).unwrap_or_default()
    }

    /// Two texts.
    pub(super) fn pair(&mut self, node: &Node<'_>) -> [String; 2] {
        let texts = match &node.value {
            Value::Array(nodes) if nodes.len() != 2 => {
                let fault = InputFault::WrongCount { key: cut(self.key()), expected: 2, found: nodes.len() };
                self.refuse(node, fault)
            }
            _ => self.texts(node),
        };
        texts.and_then(|texts| texts.try_into().ok()).unwrap_or_else(|| [lost_text(), lost_text()])
    }

    pub(super) fn required_pair(&mut self, fields: &Fields<'_>, key: &'static str) -> [String; 2] {
        let pair = self.required(fields, key, |reader, node| Some(reader.pair(node)));
        pair.unwrap_or_else(|| [lost_text(), lost_text()])
    }

    /// Reads the entries of a table whose keys are names.
    pub(super) fn named<'n, T, C: FromIterator<(String, T)>>(
        &mut self,
        node: &'n Node<'n>,
        mut read: impl FnMut(&mut Self, &'n Node<'n>) -> T,
    ) -> Option<C> {
        let Value::Table(entries) = &node.value else { return self.wrong_type(node, Type::Table) };
        let read = entries.iter().map(|Entry { key, value, .. }| {
            let name = key.to_string();
            (name.clone(), self.within(Segment::Key(name.into()), |reader| read(reader, value)))
        });
        Some(read.collect())
    }
}

/// The last key on the way to a place.
fn last_key(place: &[Segment]) -> Option<&str> {
    place.iter().rev().find_map(|segment| match segment {
        Segment::Key(key) => Some(key.as_ref()),
        Segment::Index(_) => None,
    })
}

/// Stands in the place of a text that is lost, where a message about something else names it.
fn lost_text() -> String {
    "?".to_owned()
}
