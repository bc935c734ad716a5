//! Reading installations, test sets and rulesets from TOML or JSON, with every error in a file found in one go.
//!
//! A file goes through three stages: its text becomes a tree of values that know their places, the tree becomes a
//! [draft](crate::model::InstallationDraft) while keys and types are checked, and the draft is
//! [built](crate::model::InstallationDraft::build) while names and terminals are. Each stage goes on around what is
//! broken, and says nothing of what only follows from it.

mod error;
mod fields;
mod found;
mod installation;
mod json;
mod locate;
mod node;
mod ruleset;
mod test_set;
mod toml;
mod toml_tree;

pub use error::{Document, InputError, InputErrors, InputFault, Language, Place, Type};

use crate::model::{Gaps, Installation, ModelError, ModelFault, TestSet};
use crate::rules::Ruleset;
use fields::Reader;
use found::Found;
use locate::Locator;
use node::{Node, Span};
use test_set::{Purpose, Source};

/// The largest file that is read, in bytes: 64 MiB.
pub const LARGEST_FILE: u64 = 64 << 20;

/// How many tables and lists may stand inside each other; the format itself needs six.
const DEEPEST: usize = 64;

/// The most values that a file may hold; one of the largest size needs some five million of them.
const MOST_VALUES: usize = 8_000_000;

/// Reads an installation from the bytes of a file; its name tells TOML (`.toml`) from JSON (`.json`).
///
/// Takes time and space linear in the size of the file.
///
/// # Errors
///
/// Everything that is wrong with the file, by place. Beyond 200,000 errors the rest are only counted.
///
/// # Examples
///
/// ```
/// let errors = lengthwise::input::read_installation("shed.toml", b"format = 1\n[instalation]\n").unwrap_err();
/// let first = &errors.errors()[0];
/// assert_eq!(first.place.map(|place| (place.line, place.column)), Some((2, 2)));
/// assert_eq!(first.mend(), "write `installation` if that is meant");
/// ```
pub fn read_installation(name: &str, bytes: &[u8]) -> Result<Installation, InputErrors> {
    let (language, text) = open(name, bytes)?;
    let mut found = Found::default();
    let read =
        parse(language, text, &mut found).and_then(|node| installation::read(&mut Reader::new(&mut found), node));
    let Some(installation::Read { draft, origin_lost, phases_lost }) = read else {
        return Err(found.into_errors(name, text));
    };
    let gaps = Gaps { has_lost: !found.is_empty(), local_only: found.has_syntax() || phases_lost, origin: origin_lost };
    finish(draft.build_around(&gaps), language, name, text, found)
}

/// Reads a test set from the bytes of a file and checks it against its installation.
///
/// Takes time and space linear in the size of the file and of the installation.
///
/// # Errors
///
/// As [`read_installation`].
pub fn read_test_set(name: &str, bytes: &[u8], installation: &Installation) -> Result<TestSet, InputErrors> {
    read_for(Purpose::Coverage, name, bytes, installation)
}

/// Reads a test set whose values are to be judged: as [`read_test_set`], but a reading that has `megohms` must have
/// `volts` too, for a value says nothing without the voltage that it was read at.
///
/// # Errors
///
/// As [`read_installation`].
pub fn read_record(name: &str, bytes: &[u8], installation: &Installation) -> Result<TestSet, InputErrors> {
    read_for(Purpose::Record, name, bytes, installation)
}

/// Looks over a test set by itself, where its installation can't be read: what is wrong with it whatever the names in it lead
/// to. What depends on the installation is not looked at.
///
/// Takes time and space linear in the size of the file.
///
/// # Errors
///
/// As [`read_installation`].
pub fn look_over_test_set(name: &str, bytes: &[u8]) -> Result<(), InputErrors> {
    look_over(Purpose::Coverage, name, bytes)
}

/// Looks over a test set whose values are to be judged: as [`look_over_test_set`], and with what [`read_record`] asks for.
///
/// # Errors
///
/// As [`read_installation`].
pub fn look_over_record(name: &str, bytes: &[u8]) -> Result<(), InputErrors> {
    look_over(Purpose::Record, name, bytes)
}

/// Reads a ruleset from the bytes of a file.
///
/// Takes time linear in the size of the file, and n log n in its n rows.
///
/// # Errors
///
/// As [`read_installation`]; a system at some nominal voltage for which no row, or more than one, gives what is asked is an
/// error too.
pub fn read_ruleset(name: &str, bytes: &[u8]) -> Result<Ruleset, InputErrors> {
    let (language, text) = open(name, bytes)?;
    let mut found = Found::default();
    let read = parse(language, text, &mut found).and_then(|node| ruleset::read(&mut Reader::new(&mut found), node));
    match read {
        Some(ruleset) if found.is_empty() => Ok(ruleset),
        _ => Err(found.into_errors(name, text)),
    }
}

fn read_for(purpose: Purpose, name: &str, bytes: &[u8], installation: &Installation) -> Result<TestSet, InputErrors> {
    read_around(purpose, name, bytes, installation, false)
}

fn look_over(purpose: Purpose, name: &str, bytes: &[u8]) -> Result<(), InputErrors> {
    read_around(purpose, name, bytes, &Installation::unknown(), true).map(drop)
}

/// Reads a test set; of one whose installation is not known only what is wrong by itself is found.
fn read_around(
    purpose: Purpose,
    name: &str,
    bytes: &[u8],
    installation: &Installation,
    is_unknown: bool,
) -> Result<TestSet, InputErrors> {
    let (language, text) = open(name, bytes)?;
    let mut found = Found::default();
    let source = Source { text, purpose };
    let read =
        parse(language, text, &mut found).and_then(|node| test_set::read(&mut Reader::new(&mut found), node, source));
    let Some(draft) = read else {
        return Err(found.into_errors(name, text));
    };
    let gaps = Gaps { has_lost: !found.is_empty(), local_only: is_unknown || found.has_syntax(), origin: false };
    finish(draft.build_around(installation, &gaps), language, name, text, found)
}

/// Tells the language by the file's name, and takes the text out of the bytes.
fn open<'b>(name: &str, bytes: &'b [u8]) -> Result<(Language, &'b str), InputErrors> {
    let refuse = |fault| InputErrors {
        name: name.to_owned(),
        text: String::new(),
        errors: vec![InputError { place: None, other: None, fault }],
    };
    let ends_in = |ending: &str| {
        name.len()
            .checked_sub(ending.len())
            .and_then(|at| name.get(at..))
            .is_some_and(|end| end.eq_ignore_ascii_case(ending))
    };
    let language = if ends_in(".toml") {
        Language::Toml
    } else if ends_in(".json") {
        Language::Json
    } else {
        return Err(refuse(InputFault::UnknownEnding));
    };
    if bytes.len() as u64 > LARGEST_FILE {
        return Err(refuse(InputFault::TooLarge { bytes: bytes.len() as u64, most: LARGEST_FILE }));
    }
    // A byte-order mark says nothing about UTF-8.
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    match std::str::from_utf8(bytes) {
        Ok(text) => Ok((language, text)),
        Err(_) => Err(not_utf8(name, bytes)),
    }
}

/// Finds every sequence of bytes that is not UTF-8. Nothing else is looked for: there is no text to look in.
fn not_utf8(name: &str, bytes: &[u8]) -> InputErrors {
    let mut found = Found::default();
    let mut text = String::with_capacity(bytes.len());
    for chunk in bytes.utf8_chunks() {
        text.push_str(chunk.valid());
        if !chunk.invalid().is_empty() {
            let start = text.len();
            text.push(char::REPLACEMENT_CHARACTER);
            let fault = InputFault::NotUtf8 { bytes: chunk.invalid().to_vec() };
            found.push_syntax(Span::new(start, text.len()), fault);
        }
    }
    found.into_errors(name, &text)
}

fn parse<'s>(language: Language, text: &'s str, found: &mut Found) -> Option<Node<'s>> {
    match language {
        Language::Toml => Some(toml::read(text, found)),
        Language::Json => json::read(text, found),
    }
}

/// Gives what was built, or all errors of all stages.
fn finish<T>(
    built: Result<T, Vec<ModelError>>,
    language: Language,
    name: &str,
    text: &str,
    mut found: Found,
) -> Result<T, InputErrors> {
    match built {
        Ok(built) if found.is_empty() => return Ok(built),
        Ok(_) => {}
        Err(errors) => {
            // The tree went into the draft piece by piece, to have only one of them at a time. A file with errors is
            // read once more to find their places.
            if let Some(root) = parse(language, text, &mut Found::default()) {
                let mut locator = Locator::default();
                for ModelError { path, other, fault } in errors {
                    let fault = match fault {
                        ModelFault::AndMore { count } => {
                            found.add_unlisted(count);
                            continue;
                        }
                        fault => InputFault::Model(fault),
                    };
                    let other = other.map(|other| locator.find(&root, &other));
                    found.push_beside(locator.find(&root, &path), other, fault);
                }
            }
        }
    }
    Err(found.into_errors(name, text))
}
