//! What can be wrong with a file, with its place, and all of it at once.

use std::fmt;

use strum::IntoStaticStr;

use super::toml::Slip;
use crate::model::{DocumentPath, ModelError, ModelErrors, ModelFault, RunPart, either, list};

/// All that is wrong with one text, sorted by place.
///
/// What is wrong with a draft that was built in code can be one too, so that a program that does both has one type of
/// error: `?` makes it of [`ModelErrors`]. As text it is a line for each.
#[derive(Clone, Debug, PartialEq)]
pub struct InputErrors {
    pub(super) name: String,
    pub(super) text: String,
    pub(super) errors: Vec<InputError>,
}

impl InputErrors {
    /// The text's name, as it was given; empty where none was.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The text that the places point into; bytes that are not UTF-8 stand in it as replacement characters, and it
    /// is empty where the file was not read at all.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The errors, in the order of their places; never empty.
    pub fn errors(&self) -> &[InputError] {
        &self.errors
    }
}

impl fmt::Display for InputErrors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (number, error) in self.errors.iter().enumerate() {
            if number > 0 {
                f.write_str("\n")?;
            }
            let name = &self.name;
            match (error.place, &error.path) {
                (Some(place), _) if name.is_empty() => write!(f, "{}:{}: ", place.line, place.column)?,
                (Some(place), _) => write!(f, "{name}:{}:{}: ", place.line, place.column)?,
                (None, Some(path)) if !path.segments().is_empty() => write!(f, "{path}: ")?,
                (None, _) if name.is_empty() => {}
                (None, _) => write!(f, "{name}: ")?,
            }
            f.write_str(&error.told())?;
        }
        Ok(())
    }
}

impl std::error::Error for InputErrors {}

impl IntoIterator for InputErrors {
    type Item = InputError;
    type IntoIter = std::vec::IntoIter<InputError>;

    fn into_iter(self) -> Self::IntoIter {
        self.errors.into_iter()
    }
}

impl<'e> IntoIterator for &'e InputErrors {
    type Item = &'e InputError;
    type IntoIter = std::slice::Iter<'e, InputError>;

    fn into_iter(self) -> Self::IntoIter {
        self.errors.iter()
    }
}

impl From<ModelErrors> for InputErrors {
    fn from(errors: ModelErrors) -> InputErrors {
        let error = |ModelError { path, from, fault, .. }| InputError {
            place: None,
            other: None,
            path: Some(path),
            from,
            fault: InputFault::Model(fault),
        };
        InputErrors { name: String::new(), text: String::new(), errors: errors.into_iter().map(error).collect() }
    }
}

/// One thing that is wrong with a text.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("{fault}")]
#[non_exhaustive]
pub struct InputError {
    /// Where; none where there is no text, or it was not read at all.
    pub place: Option<Place>,
    /// The other place that the error is about, where there is one.
    pub other: Option<Place>,
    /// Where in the draft; none where the text is no draft.
    pub path: Option<DocumentPath>,
    /// The step or stop of a run that it is in, or in what that came to.
    pub from: Option<Box<RunPart>>,
    /// What is wrong.
    pub fault: InputFault,
}

impl InputError {
    /// What to do next.
    pub fn mend(&self) -> String {
        self.fault.mend()
    }

    /// What is wrong, and in which part of a run.
    pub(crate) fn told(&self) -> String {
        match &self.from {
            Some(part) => format!("{}: {part}", self.fault),
            None => self.fault.to_string(),
        }
    }

    /// What sort of error it is, in one word: `unknown-key`.
    pub fn code(&self) -> &'static str {
        match &self.fault {
            InputFault::Model(ModelFault::Run(fault)) => fault.into(),
            InputFault::Model(fault) => fault.into(),
            fault => fault.into(),
        }
    }
}

/// A place in a text.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// The first byte.
    pub start: usize,
    /// The byte after the last.
    pub end: usize,
    /// The line of the first byte, from 1.
    pub line: usize,
    /// The column of the first byte in its line, counted in characters from 1.
    pub column: usize,
}

/// A language that files are written in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Language {
    /// For people.
    Toml,
    /// For programs.
    Json,
}

impl fmt::Display for Language {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Language::Toml => "TOML",
            Language::Json => "JSON",
        })
    }
}

/// What a file holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Document {
    /// An installation.
    Installation,
    /// A test set.
    TestSet,
    /// A ruleset.
    Ruleset,
}

impl fmt::Display for Document {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Document::Installation => "an installation",
            Document::TestSet => "a test set",
            Document::Ruleset => "a ruleset",
        })
    }
}

/// The type of a value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Type {
    /// Text.
    Text,
    /// A number without a fraction.
    Integer,
    /// A number with a fraction.
    Float,
    /// Any number.
    Number,
    /// A number or text.
    NumberOrText,
    /// True or false.
    Boolean,
    /// A date or a time.
    Date,
    /// JSON's `null`.
    Null,
    /// A list.
    List,
    /// A list of texts.
    Texts,
    /// Text or a list of texts.
    TextOrTexts,
    /// A list of tables.
    Tables,
    /// A table.
    Table,
    /// A stop of a run: metres, a place, both, or a table.
    Stop,
    /// A list of stops.
    Stops,
}

impl fmt::Display for Type {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Type::Text => "text",
            Type::Integer => "a whole number",
            Type::Float => "a number with a fraction",
            Type::Number => "a number",
            Type::NumberOrText => "a number or text",
            Type::Boolean => "true or false",
            Type::Date => "a date or time",
            Type::Null => "null",
            Type::List => "a list",
            Type::Texts => "a list of texts",
            Type::TextOrTexts => "text or a list of texts",
            Type::Tables => "a list of tables",
            Type::Table => "a table",
            Type::Stop => "metres, a place, both, or a table",
            Type::Stops => "a list with an entry for each",
        })
    }
}

/// What is wrong, with the facts of it.
#[derive(Clone, Debug, PartialEq, IntoStaticStr, thiserror::Error)]
#[cfg_attr(test, derive(strum::VariantNames))]
#[strum(serialize_all = "kebab-case")]
#[non_exhaustive]
pub enum InputFault {
    /// A file name from which the language cannot be told.
    #[error("the name of the file does not end in `.toml` or `.json`")]
    UnknownEnding,
    /// A file that is too large to be read.
    #[error("the file has more than {most} bytes")]
    TooLarge {
        /// What it is written in.
        language: Language,
        /// How large it is, as far as it was read.
        bytes: u64,
        /// How large it may be.
        most: u64,
    },
    /// Bytes that are not UTF-8.
    #[error("the {} not UTF-8", Bytes(bytes))]
    NotUtf8 {
        /// The bytes, three at most.
        bytes: Vec<u8>,
    },
    /// Tables and lists too deep inside each other.
    #[error("more than {most} tables and lists stand inside each other")]
    TooDeep {
        /// How many may.
        most: usize,
    },
    /// More values than any installation has.
    #[error("the file holds more than {most} values")]
    TooManyValues {
        /// How many it may hold.
        most: usize,
    },
    /// The language's own rules are broken.
    #[error("this is not {language}: {message}")]
    Syntax {
        /// The language.
        language: Language,
        /// What the parser found.
        message: String,
        /// The usual mistake that was made, where it is one.
        slip: Option<Slip>,
    },
    /// A key twice in one table.
    #[error("the key `{key}` is there twice")]
    DuplicateKey {
        /// The key.
        key: String,
    },
    /// A header of a list that is there already as a value, its entries in one line each.
    #[error("the list `{key}` is there already")]
    ListTwice {
        /// The list's key.
        key: String,
    },
    /// A list of the file inside another table: what follows a header belongs to that.
    #[error("`{key}` stands in {} `{table}`, and is a list of the file itself", article(table))]
    ListInside {
        /// The list's key.
        key: &'static str,
        /// The table that it is in.
        table: String,
    },
    /// A value of another type.
    #[error("`{key}` takes {expected}, and this is {found}")]
    WrongType {
        /// The key whose value it is, or is in.
        key: String,
        /// What it takes.
        expected: Type,
        /// What there is.
        found: Type,
    },
    /// A key that the format does not know.
    #[error("{} {table} has no key `{key}`", article(table))]
    UnknownKey {
        /// As written.
        key: String,
        /// The table that it is in.
        table: &'static str,
        /// The nearest known key.
        nearest: Option<&'static str>,
        /// All keys that are known there.
        known: &'static [&'static str],
    },
    /// A file of another sort, such as a test set where an installation is wanted.
    #[error("this is {found}, where {wanted} is wanted")]
    OtherDocument {
        /// What the file holds.
        found: Document,
        /// What is wanted.
        wanted: Document,
    },
    /// A number of a ruleset that is not a finite number above zero.
    #[error("`{key}` is {value}, not a finite number above zero")]
    NotAboveZero {
        /// Its key.
        key: &'static str,
        /// As given.
        value: f64,
    },
    /// A row of a ruleset that is for no voltage.
    #[error("no voltage is above {above} V and up to {up_to} V")]
    RowBackwards {
        /// Its lower limit.
        above: f64,
        /// Its upper limit.
        up_to: f64,
    },
    /// A row of a ruleset that says that it gives no value, and gives one.
    #[error("a row with `no_value` has no `{key}`")]
    RowBoth {
        /// The key that is too much.
        key: &'static str,
    },
    /// A system and voltage for which two rows of a ruleset give what is asked.
    #[error("two rows are for {system} just above {above} V")]
    RowsOverlap {
        /// The system.
        system: &'static str,
        /// Where the second begins.
        above: f64,
    },
    /// A system and voltages for which no row of a ruleset gives what is asked.
    #[error("no row is for {system} above {above} V{}", match up_to {
        Some(up_to) => format!(" up to {up_to} V"),
        None => String::new(),
    })]
    RowsGap {
        /// The system.
        system: &'static str,
        /// From where.
        above: f64,
        /// To where; without end where not given.
        up_to: Option<f64>,
    },
    /// A declared kind that refers to another one.
    #[error("a declared kind cannot be made from another by `{key}`")]
    KindFromKind {
        /// The key.
        key: String,
    },
    /// A key that has to be there.
    #[error("this {table} has no `{key}`")]
    MissingKey {
        /// The key.
        key: &'static str,
        /// The table that it is missing from.
        table: &'static str,
    },
    /// Another version of the format.
    #[error("`format` is {found}, and 1 is the only version there is")]
    UnknownFormat {
        /// As given.
        found: i64,
    },
    /// A value that is none of those that there are.
    #[error("`{key}` cannot be {found}")]
    NotOneOf {
        /// The key.
        key: &'static str,
        /// As given.
        found: String,
        /// What it can be.
        allowed: &'static [&'static str],
    },
    /// A list of another length.
    #[error("`{key}` takes {expected} entries, not {found}")]
    WrongCount {
        /// The key.
        key: String,
        /// How many it takes.
        expected: usize,
        /// How many there are.
        found: usize,
    },
    /// What an instrument cannot show.
    #[error("`megohms` cannot be {found:?}")]
    BadIndication {
        /// As written.
        found: String,
    },
    /// What the file says does not hold together.
    #[error(transparent)]
    Model(#[from] ModelFault),
}

impl InputFault {
    /// What to do next.
    pub fn mend(&self) -> String {
        match self {
            InputFault::UnknownEnding => "name it `….toml` or `….json` by what is in it".to_owned(),
            InputFault::TooLarge { language: Language::Toml, .. } => {
                "write it as JSON, of which larger files are read, or split the installation where boards feed one another"
                    .to_owned()
            }
            InputFault::TooLarge { .. } | InputFault::TooManyValues { .. } => {
                "split the installation where boards feed one another".to_owned()
            }
            InputFault::NotUtf8 { .. } => "save the file as UTF-8".to_owned(),
            InputFault::TooDeep { .. } => "no key of the format is that deep: take some of the brackets out".to_owned(),
            InputFault::Syntax { slip: Some(slip), .. } => slip.mend(),
            InputFault::Syntax { language: Language::Toml, .. } => {
                "mend the line by the rules of TOML; a text stands in quotes".to_owned()
            }
            InputFault::Syntax { language: Language::Json, .. } => {
                "mend it by the rules of JSON, without comments or trailing commas; what follows is read after that"
                    .to_owned()
            }
            InputFault::DuplicateKey { .. } => "keep one of the two".to_owned(),
            InputFault::ListTwice { key } => {
                format!("write this entry into that list, or all of the list's entries under `[[{key}]]`")
            }
            InputFault::ListInside { key, .. } => {
                format!("write it above the first `[…]` of the file, or each of its entries under `[[{key}]]`")
            }
            InputFault::WrongType { expected: Type::Tables, found: Type::Table, key } => {
                format!("write `[[{key}]]` instead of `[{key}]`, or `[ … ]` around it in JSON")
            }
            InputFault::WrongType { found: Type::Null, .. } => "write a value, or leave the key out".to_owned(),
            InputFault::WrongType { expected: Type::Number | Type::Integer, found: Type::Text, .. } => {
                "take the quotes and any unit away".to_owned()
            }
            InputFault::WrongType { expected: Type::Boolean, .. } => "write true or false, without quotes".to_owned(),
            InputFault::WrongType { expected: Type::Text, .. } => "write a text, in quotes".to_owned(),
            InputFault::WrongType { expected: Type::Stop, .. } => {
                "write one, as `4`, `\"loft\"`, `[\"loft\", 4]` or `{ in = \"loft\", metres = 4 }`; several go into a list \
                 under `switches` or `lights`"
                    .to_owned()
            }
            InputFault::WrongType { expected: Type::Stops, key, .. } => {
                let one = if key == "switches" { "switch" } else { "light" };
                format!("for one {one}, 4 m off, write `{one} = 4`; for several a list, as in `{key} = [4, [\"loft\", 6]]`")
            }
            InputFault::WrongType { expected, .. } => format!("write {expected}"),
            InputFault::UnknownKey { nearest: Some(nearest), .. } => format!("write `{nearest}` if that is meant"),
            InputFault::UnknownKey { table, known, .. } => {
                format!("leave it out; the keys of {} {table} are {}", article(table), list(known))
            }
            InputFault::OtherDocument { wanted: Document::Ruleset, .. } => {
                "name a ruleset's file, or one of the rulesets in the package".to_owned()
            }
            InputFault::OtherDocument { found: Document::Ruleset, .. } => {
                "name a ruleset's file after `--rules`".to_owned()
            }
            InputFault::NotAboveZero { .. } => "give a number above 0, in V or MΩ".to_owned(),
            InputFault::RowBackwards { .. } => "make `above` less than `up_to`".to_owned(),
            InputFault::RowBoth { key } => format!("leave `{key}` out, or `no_value`"),
            InputFault::RowsOverlap { .. } => {
                "end one of them with `up_to` where the other begins with `above`".to_owned()
            }
            InputFault::RowsGap { .. } => {
                "add a row, or widen one; a row may say `no_value = \"why\"` where nothing is to be judged".to_owned()
            }
            InputFault::OtherDocument { .. } => {
                "name the installation's file first, and the test set's after it".to_owned()
            }
            InputFault::KindFromKind { .. } => {
                "declared kinds stand alone: write out this kind's own terminals, positions and bridges".to_owned()
            }
            InputFault::MissingKey { key: "volts", table: "reading" } => {
                "add `volts`, the test voltage in V d.c. that it was read at".to_owned()
            }
            InputFault::MissingKey { key, .. } => match *key {
                "format" => "add `format = 1` at the head of the file".to_owned(),
                "conducts" => "add `conducts = \"sure\"` or `conducts = \"maybe\"`".to_owned(),
                key => format!("add `{key}`"),
            },
            InputFault::UnknownFormat { .. } => "write `format = 1`".to_owned(),
            InputFault::NotOneOf { allowed, .. } => format!("write {}", either(allowed)),
            InputFault::WrongCount { expected, .. } => format!("write {expected} entries"),
            // What instruments show, and people copy, where the insulation is better than the range reaches.
            InputFault::BadIndication { found } if is_over_range(found) => {
                "write `>` and the top of the instrument's range, as in `\">999\"`".to_owned()
            }
            InputFault::BadIndication { found } if is_with_comma(found) => {
                "write the number of MΩ with a point, as in `1.5`".to_owned()
            }
            InputFault::BadIndication { found } if found.starts_with(['>', '<']) => {
                "write the sign and the number with nothing between them, in quotes, as in `\">999\"`".to_owned()
            }
            InputFault::BadIndication { .. } => {
                "write the number of MΩ alone, or `\">999\"` or `\"<0.01\"` where the instrument read over or under \
                 its range"
                    .to_owned()
            }
            InputFault::Model(fault) => fault.mend(),
        }
    }
}

/// Whether a text is a word or sign for a value over the instrument's range.
fn is_over_range(text: &str) -> bool {
    let text = text.trim().to_ascii_lowercase();
    matches!(text.as_str(), "ol" | "o.l" | "o.l." | "or" | "inf" | "infinity" | "∞" | "full scale")
}

/// Whether a text is a number with a comma for the decimal point.
fn is_with_comma(text: &str) -> bool {
    text.split_once(',').is_some_and(|(whole, part)| {
        [whole, part].iter().all(|digits| !digits.is_empty() && digits.bytes().all(|byte| byte.is_ascii_digit()))
    })
}

/// The article of a noun.
fn article(noun: &str) -> &'static str {
    if noun.starts_with(['a', 'e', 'i', 'o']) { "an" } else { "a" }
}

/// Bytes as a person would say them.
struct Bytes<'b>(&'b [u8]);

impl fmt::Display for Bytes<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(if self.0.len() == 1 { "byte" } else { "bytes" })?;
        for byte in self.0 {
            write!(f, " {byte:02X}")?;
        }
        f.write_str(if self.0.len() == 1 { " is" } else { " are" })
    }
}
