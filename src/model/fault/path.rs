//! Where in a document something is, whatever the document was written in.

use std::borrow::Cow;
use std::fmt;

/// One step into a document.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Segment {
    /// The value of this key.
    Key(Cow<'static, str>),
    /// The entry with this number, from 0.
    Index(usize),
}

/// Whether a place in a document is a key or its value.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Part {
    /// The last key itself.
    Key,
    /// What stands there.
    Value,
}

/// A place in a document: `length[3].cores.brown[0]`.
///
/// # Examples
///
/// ```
/// use lengthwise::model::DocumentPath;
///
/// let path = DocumentPath::root().key("length").index(3).key("cores");
/// assert_eq!(path.to_string(), "length[3].cores");
/// assert_eq!(path.segments().len(), 3);
/// ```
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct DocumentPath {
    segments: Vec<Segment>,
    part: Part,
}

impl DocumentPath {
    /// The whole document.
    pub fn root() -> Self {
        DocumentPath { segments: Vec::new(), part: Part::Value }
    }

    /// The value of a key in what this path names.
    #[must_use]
    pub fn key(mut self, key: impl Into<Cow<'static, str>>) -> Self {
        self.segments.push(Segment::Key(key.into()));
        self
    }

    /// The entry with a number, from 0, in what this path names.
    #[must_use]
    pub fn index(mut self, index: usize) -> Self {
        self.segments.push(Segment::Index(index));
        self
    }

    /// The last key itself instead of its value.
    #[must_use]
    pub fn itself(mut self) -> Self {
        self.part = Part::Key;
        self
    }

    /// The steps from the root.
    pub fn segments(&self) -> &[Segment] {
        &self.segments
    }

    /// Whether the last key or its value is meant.
    pub fn part(&self) -> Part {
        self.part
    }
}

impl fmt::Display for DocumentPath {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (number, segment) in self.segments.iter().enumerate() {
            match segment {
                Segment::Key(key) if number == 0 => f.write_str(key)?,
                Segment::Key(key) => write!(f, ".{key}")?,
                Segment::Index(index) => write!(f, "[{index}]")?,
            }
        }
        Ok(())
    }
}
