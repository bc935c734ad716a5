//! Taking the keys of one table apart, with every key accounted for.

use super::error::{Document, InputFault, Type};
use super::found::Found;
use super::node::{Entry, Node, Span, Value};
use crate::model::{LOST, Nearest, cut};

/// A table of the format: what it is called, and the keys that it has.
pub(super) struct Shape {
    pub(super) name: &'static str,
    pub(super) keys: &'static [&'static str],
}

/// One table being taken apart.
pub(super) struct Fields<'s> {
    shape: &'static Shape,
    span: Span,
    entries: Vec<Entry<'s>>,
    /// Keys that some unknown key was probably meant to be.
    meant: Vec<&'static str>,
}

/// What a key holds.
enum Taken<'s> {
    Node(Node<'s>),
    /// It is not there.
    Missing,
    /// It could not be read, and that is reported.
    Lost,
}

/// Reads nodes into drafts.
pub(super) struct Reader<'f> {
    pub(super) found: &'f mut Found,
    nearest: Nearest,
}

impl<'f> Reader<'f> {
    pub(super) fn new(found: &'f mut Found) -> Self {
        Reader { found, nearest: Nearest::default() }
    }

    /// Opens the outermost table of a file, unless it is a file of another sort: it has some of the keys by which
    /// that is told, and but for `format` none of those that it should have.
    pub(super) fn open_file<'s>(
        &mut self,
        node: Node<'s>,
        shape: &'static Shape,
        wanted: Document,
        others: &[(Document, &[&str])],
    ) -> Option<Fields<'s>> {
        if let Value::Table(entries) = &node.value
            && !entries.iter().any(|entry| entry.key != "format" && shape.keys.contains(&entry.key.as_ref()))
        {
            for &(found, keys) in others {
                if let Some(entry) = entries.iter().find(|entry| keys.contains(&entry.key.as_ref())) {
                    self.found.push(entry.key_span, InputFault::OtherDocument { found, wanted });
                    return None;
                }
            }
        }
        self.open(node, "file", shape)
    }

    /// Opens a table; its unknown keys are reported.
    pub(super) fn open<'s>(&mut self, node: Node<'s>, key: &str, shape: &'static Shape) -> Option<Fields<'s>> {
        let span = node.span;
        let entries = match node.value {
            Value::Table(entries) => entries,
            Value::Lost => return None,
            value => {
                self.wrong_type(span, key, Type::Table, &value);
                return None;
            }
        };
        let mut fields = Fields { shape, span, entries: Vec::with_capacity(entries.len()), meant: Vec::new() };
        let mut unknown = Vec::new();
        for entry in entries {
            if shape.keys.contains(&entry.key.as_ref()) {
                fields.entries.push(entry);
            } else {
                unknown.push(entry);
            }
        }
        for entry in unknown {
            self.unknown_key(&mut fields, entry);
        }
        Some(fields)
    }

    fn unknown_key<'s>(&mut self, fields: &mut Fields<'s>, entry: Entry<'s>) {
        let shape = fields.shape;
        let fault = if shape.name == "kind" && matches!(entry.key.as_ref(), "kind" | "extends") {
            InputFault::KindFromKind { key: entry.key.into_owned() }
        } else {
            // A key that is there already was hardly meant again.
            let absent = shape.keys.iter().copied().filter(|&key| !fields.has(key));
            let nearest = self.nearest.among(&entry.key, absent);
            let nearest = nearest.or_else(|| self.nearest.among(&entry.key, shape.keys.iter().copied()));
            fields.meant.extend(nearest);
            InputFault::UnknownKey { key: cut(&entry.key), table: shape.name, nearest, known: shape.keys }
        };
        self.found.push(entry.key_span, fault);
    }

    pub(super) fn wrong_type(&mut self, span: Span, key: &str, expected: Type, value: &Value<'_>) {
        let found = match value {
            Value::Text(_) => Type::Text,
            Value::Integer(_) => Type::Integer,
            Value::Float(_) => Type::Float,
            Value::Boolean(_) => Type::Boolean,
            Value::Date => Type::Date,
            Value::Null => Type::Null,
            Value::Array(_) => Type::List,
            Value::Table(_) => Type::Table,
            Value::Lost => return,
        };
        self.found.push(span, InputFault::WrongType { key: cut(key), expected, found });
    }

    fn take_required<'s>(&mut self, fields: &mut Fields<'s>, key: &'static str) -> Option<Node<'s>> {
        match fields.take(key) {
            Taken::Node(node) => Some(node),
            Taken::Lost => None,
            Taken::Missing => {
                self.missing(fields, key);
                None
            }
        }
    }

    pub(super) fn missing(&mut self, fields: &Fields<'_>, key: &'static str) {
        // Where the syntax is broken the key may be there, unread.
        if !self.found.has_syntax() {
            self.found.push(fields.span, InputFault::MissingKey { key, table: fields.shape.name });
        }
    }

    pub(super) fn read_text(&mut self, node: Node<'_>, key: &str) -> String {
        match node.value {
            Value::Text(text) => text.into_owned(),
            value => {
                self.wrong_type(node.span, key, Type::Text, &value);
                LOST.to_owned()
            }
        }
    }

    pub(super) fn required_text(&mut self, fields: &mut Fields<'_>, key: &'static str) -> String {
        self.take_required(fields, key).map_or_else(|| LOST.to_owned(), |node| self.read_text(node, key))
    }

    pub(super) fn optional_text(&mut self, fields: &mut Fields<'_>, key: &'static str) -> Option<String> {
        match fields.take(key) {
            Taken::Node(node) => Some(self.read_text(node, key)),
            Taken::Lost => Some(LOST.to_owned()),
            Taken::Missing => None,
        }
    }

    pub(super) fn read_number(&mut self, node: Node<'_>, key: &str) -> Option<f64> {
        match node.value {
            Value::Integer(integer) => Some(integer as f64),
            Value::Float(float) => Some(float),
            value => {
                self.wrong_type(node.span, key, Type::Number, &value);
                None
            }
        }
    }

    /// A number; one that could not be read is left to stand at 1, which nothing takes offence at.
    pub(super) fn required_number(&mut self, fields: &mut Fields<'_>, key: &'static str) -> f64 {
        self.take_required(fields, key).and_then(|node| self.read_number(node, key)).unwrap_or(1.0)
    }

    pub(super) fn optional_number(&mut self, fields: &mut Fields<'_>, key: &'static str) -> Option<f64> {
        match fields.take(key) {
            Taken::Node(node) => self.read_number(node, key),
            Taken::Lost | Taken::Missing => None,
        }
    }

    /// True or false; false stands for one that could not be read.
    pub(super) fn required_boolean(&mut self, fields: &mut Fields<'_>, key: &'static str) -> bool {
        match self.take_required(fields, key) {
            Some(Node { value: Value::Boolean(boolean), .. }) => boolean,
            Some(node) => {
                self.wrong_type(node.span, key, Type::Boolean, &node.value);
                false
            }
            None => false,
        }
    }

    /// True or false; `Err` where it was there but could not be read.
    pub(super) fn optional_boolean(&mut self, fields: &mut Fields<'_>, key: &'static str) -> Result<Option<bool>, ()> {
        match fields.take(key) {
            Taken::Node(Node { value: Value::Boolean(boolean), .. }) => Ok(Some(boolean)),
            Taken::Node(node) => {
                self.wrong_type(node.span, key, Type::Boolean, &node.value);
                Err(())
            }
            Taken::Lost => Err(()),
            Taken::Missing => Ok(None),
        }
    }

    pub(super) fn read_choice<T: Copy>(
        &mut self,
        node: Node<'_>,
        key: &'static str,
        choices: &Choices<T>,
    ) -> Option<T> {
        let text = match node.value {
            Value::Text(text) => text,
            value => {
                self.wrong_type(node.span, key, Type::Text, &value);
                return None;
            }
        };
        let choice = choices.names.iter().position(|&name| name == text).map(|number| choices.values[number]);
        if choice.is_none() {
            let found = format!("{:?}", cut(&text));
            self.found.push(node.span, InputFault::NotOneOf { key, found, allowed: choices.names });
        }
        choice
    }

    pub(super) fn required_choice<T: Copy>(
        &mut self,
        fields: &mut Fields<'_>,
        key: &'static str,
        choices: &Choices<T>,
    ) -> Option<T> {
        self.take_required(fields, key).and_then(|node| self.read_choice(node, key, choices))
    }

    /// One of some words; `Err` where it was there but could not be read.
    pub(super) fn optional_choice<T: Copy>(
        &mut self,
        fields: &mut Fields<'_>,
        key: &'static str,
        choices: &Choices<T>,
    ) -> Result<Option<T>, ()> {
        match fields.take(key) {
            Taken::Node(node) => self.read_choice(node, key, choices).map(Some).ok_or(()),
            Taken::Lost => Err(()),
            Taken::Missing => Ok(None),
        }
    }

    /// One of some whole numbers; `Err` where it was there but could not be read.
    pub(super) fn optional_integer_choice<T: Copy>(
        &mut self,
        fields: &mut Fields<'_>,
        key: &'static str,
        choices: &Choices<T>,
    ) -> Result<Option<T>, ()> {
        let node = match fields.take(key) {
            Taken::Node(node) => node,
            Taken::Lost => return Err(()),
            Taken::Missing => return Ok(None),
        };
        let Value::Integer(integer) = node.value else {
            self.wrong_type(node.span, key, Type::Integer, &node.value);
            return Err(());
        };
        let found = integer.to_string();
        match choices.names.iter().position(|&name| name == found) {
            Some(number) => Ok(Some(choices.values[number])),
            None => {
                self.found.push(node.span, InputFault::NotOneOf { key, found, allowed: choices.names });
                Err(())
            }
        }
    }

    /// The version of the format, which has to be 1.
    pub(super) fn format(&mut self, fields: &mut Fields<'_>) {
        let Some(node) = self.take_required(fields, "format") else {
            return;
        };
        match node.value {
            Value::Integer(1) => {}
            Value::Integer(found) => self.found.push(node.span, InputFault::UnknownFormat { found }),
            value => self.wrong_type(node.span, "format", Type::Integer, &value),
        }
    }

    /// A list of texts; one that could not be read has something lost in it.
    pub(super) fn read_texts(&mut self, node: Node<'_>, key: &str) -> Vec<String> {
        match node.value {
            Value::Array(nodes) => nodes.into_iter().map(|node| self.read_text(node, key)).collect(),
            value => {
                self.wrong_type(node.span, key, Type::Texts, &value);
                vec![LOST.to_owned()]
            }
        }
    }

    pub(super) fn optional_texts(&mut self, fields: &mut Fields<'_>, key: &'static str) -> Option<Vec<String>> {
        match fields.take(key) {
            Taken::Node(node) => Some(self.read_texts(node, key)),
            Taken::Lost => Some(vec![LOST.to_owned()]),
            Taken::Missing => None,
        }
    }

    pub(super) fn required_texts(&mut self, fields: &mut Fields<'_>, key: &'static str) -> Vec<String> {
        self.take_required(fields, key).map_or_else(|| vec![LOST.to_owned()], |node| self.read_texts(node, key))
    }

    /// A list of lists of texts.
    pub(super) fn optional_text_lists(&mut self, fields: &mut Fields<'_>, key: &'static str) -> Vec<Vec<String>> {
        self.entries(fields, key).into_iter().map(|node| self.read_texts(node, key)).collect()
    }

    /// The entries of a list, of which there are none where it could not be read.
    pub(super) fn entries<'s>(&mut self, fields: &mut Fields<'s>, key: &'static str) -> Vec<Node<'s>> {
        match fields.take(key) {
            Taken::Node(Node { value: Value::Array(nodes), .. }) => nodes,
            Taken::Node(node) => {
                self.wrong_type(node.span, key, Type::List, &node.value);
                Vec::new()
            }
            Taken::Lost | Taken::Missing => Vec::new(),
        }
    }

    /// Two texts; both are lost where there are not two.
    pub(super) fn read_pair(&mut self, node: Node<'_>, key: &str) -> [String; 2] {
        let lost = || [LOST.to_owned(), LOST.to_owned()];
        match node.value {
            Value::Array(nodes) => match <[Node<'_>; 2]>::try_from(nodes) {
                Ok([one, other]) => [self.read_text(one, key), self.read_text(other, key)],
                Err(nodes) => {
                    let fault = InputFault::WrongCount { key: cut(key), expected: 2, found: nodes.len() };
                    self.found.push(node.span, fault);
                    lost()
                }
            },
            value => {
                self.wrong_type(node.span, key, Type::Texts, &value);
                lost()
            }
        }
    }

    pub(super) fn required_pair(&mut self, fields: &mut Fields<'_>, key: &'static str) -> [String; 2] {
        match self.take_required(fields, key) {
            Some(node) => self.read_pair(node, key),
            None => [LOST.to_owned(), LOST.to_owned()],
        }
    }

    /// The entries of a table whose keys are names.
    pub(super) fn named<'s>(&mut self, node: Node<'s>, key: &str) -> Option<Vec<Entry<'s>>> {
        match node.value {
            Value::Table(entries) => Some(entries),
            value => {
                self.wrong_type(node.span, key, Type::Table, &value);
                None
            }
        }
    }

    pub(super) fn optional_named<'s>(&mut self, fields: &mut Fields<'s>, key: &'static str) -> Vec<Entry<'s>> {
        match fields.take(key) {
            Taken::Node(node) => self.named(node, key).unwrap_or_default(),
            Taken::Lost | Taken::Missing => Vec::new(),
        }
    }

    pub(super) fn required_named<'s>(&mut self, fields: &mut Fields<'s>, key: &'static str) -> Option<Vec<Entry<'s>>> {
        self.take_required(fields, key).and_then(|node| self.named(node, key))
    }

    pub(super) fn required_node<'s>(&mut self, fields: &mut Fields<'s>, key: &'static str) -> Option<Node<'s>> {
        self.take_required(fields, key)
    }

    pub(super) fn optional_node<'s>(&mut self, fields: &mut Fields<'s>, key: &'static str) -> Option<Node<'s>> {
        match fields.take(key) {
            Taken::Node(node) => Some(node),
            Taken::Lost | Taken::Missing => None,
        }
    }

    /// Reads a list of tables one by one; `lost` stands for each that could not be read, and for the whole list.
    pub(super) fn tables<'s, T>(
        &mut self,
        fields: &mut Fields<'s>,
        key: &'static str,
        mut read: impl FnMut(&mut Self, Node<'s>) -> Option<T>,
        lost: impl Fn() -> Option<T>,
    ) -> Vec<T> {
        match fields.take(key) {
            Taken::Missing => Vec::new(),
            Taken::Lost => lost().into_iter().collect(),
            Taken::Node(Node { value: Value::Array(nodes), .. }) => {
                nodes.into_iter().filter_map(|node| read(self, node).or_else(&lost)).collect()
            }
            Taken::Node(node) => {
                self.wrong_type(node.span, key, Type::Tables, &node.value);
                lost().into_iter().collect()
            }
        }
    }
}

impl<'s> Fields<'s> {
    /// The whole table.
    pub(super) fn span(&self) -> Span {
        self.span
    }

    fn has(&self, key: &str) -> bool {
        self.entries.iter().any(|entry| entry.key == key)
    }

    fn take(&mut self, key: &'static str) -> Taken<'s> {
        match self.entries.iter().position(|entry| entry.key == key) {
            Some(place) => {
                let node = self.entries.swap_remove(place).value;
                if matches!(node.value, Value::Lost) { Taken::Lost } else { Taken::Node(node) }
            }
            None if self.meant.contains(&key) => Taken::Lost,
            None => Taken::Missing,
        }
    }
}

/// Words and what they mean.
pub(super) struct Choices<T: 'static> {
    pub(super) names: &'static [&'static str],
    pub(super) values: &'static [T],
}
