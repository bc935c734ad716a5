//! Reading installations, test sets and rulesets from TOML or JSON, with every error in a file found in one go.
//!
//! A file goes through three stages: its text becomes a tree of values that know their places, the tree becomes a
//! [draft](crate::model::InstallationDraft) while keys and types are checked, and the draft is
//! [built](crate::model::InstallationDraft::build) while names and terminals are. Each stage goes on around what is
//! broken or lost, and says nothing of what only follows from it.

mod error;
mod found;
mod installation;
mod json;
mod locate;
mod node;
mod reader;
mod ruleset;
mod standard;
mod test_set;
mod toml;

pub use error::{Document, InputError, InputErrors, InputFault, Language, Place, Type};
pub use standard::Standard;
pub use test_set::Purpose;

use crate::model::InputLimits;
use crate::model::{Installation, Lost, ModelError, ModelFault, TestSet};
use crate::rules::Ruleset;
use found::Found;
use locate::Locator;
use node::{Node, Span};
use reader::Reader;

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
    read_installation_within(name, bytes, &InputLimits::default())
}

/// As [`read_installation`], within other limits than the default ones.
///
/// # Errors
///
/// As [`read_installation`].
pub fn read_installation_within(name: &str, bytes: &[u8], limits: &InputLimits) -> Result<Installation, InputErrors> {
    read(name, bytes, limits, installation::read, |draft, lost| draft.build_around(lost, limits))
}

/// Reads a test set from the bytes of a file and checks it against its installation.
///
/// Takes time and space linear in the size of the file and of the installation.
///
/// # Errors
///
/// As [`read_installation`].
pub fn read_test_set(name: &str, bytes: &[u8], installation: &Installation) -> Result<TestSet, InputErrors> {
    read_test_set_within(name, bytes, installation, Purpose::Coverage, &InputLimits::default())
}

/// Reads a test set whose values are to be judged: as [`read_test_set`], but a reading that has `megohms` must have
/// `volts` too, for a value says nothing without the voltage that it was read at.
///
/// # Errors
///
/// As [`read_installation`].
pub fn read_record(name: &str, bytes: &[u8], installation: &Installation) -> Result<TestSet, InputErrors> {
    read_test_set_within(name, bytes, installation, Purpose::Record, &InputLimits::default())
}

/// As [`read_test_set`] or [`read_record`], within other limits than the default ones.
///
/// # Errors
///
/// As [`read_installation`].
pub fn read_test_set_within(
    name: &str,
    bytes: &[u8],
    installation: &Installation,
    purpose: Purpose,
    limits: &InputLimits,
) -> Result<TestSet, InputErrors> {
    let draft = |reader: &mut Reader<'_>, node: &Node<'_>| test_set::read(reader, node, purpose);
    read(name, bytes, limits, draft, |draft, lost| draft.build_around(installation, lost, limits))
}

/// Looks over a test set by itself, where its installation can't be read: what is wrong with it whatever the names in it lead
/// to. What depends on the installation is not looked at.
///
/// Takes time and space linear in the size of the file.
///
/// # Errors
///
/// As [`read_installation`].
pub fn look_over_test_set(name: &str, bytes: &[u8], purpose: Purpose) -> Result<(), InputErrors> {
    let limits = InputLimits::default();
    let draft = |reader: &mut Reader<'_>, node: &Node<'_>| test_set::read(reader, node, purpose);
    read(name, bytes, &limits, draft, |draft, lost| {
        lost.anything = true;
        draft.build_around(&Installation::unknown(), lost, &limits).map(drop)
    })
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
    read_ruleset_within(name, bytes, &InputLimits::default())
}

/// As [`read_ruleset`], within other limits than the default ones.
///
/// # Errors
///
/// As [`read_ruleset`].
pub fn read_ruleset_within(name: &str, bytes: &[u8], limits: &InputLimits) -> Result<Ruleset, InputErrors> {
    read(name, bytes, limits, ruleset::read, |ruleset, _| Ok(ruleset))
}

/// Reads a file: its text into a tree, the tree into a draft, and the draft into what is asked for. Gives that, or all errors
/// of all stages.
fn read<D, T>(
    name: &str,
    bytes: &[u8],
    limits: &InputLimits,
    draft: impl FnOnce(&mut Reader<'_>, &Node<'_>) -> Option<D>,
    build: impl FnOnce(D, &mut Lost) -> Result<T, Vec<ModelError>>,
) -> Result<T, InputErrors> {
    let (language, text) = open(name, bytes, limits)?;
    let mut found = Found::new(limits);
    let legible;
    let root = match language {
        Language::Toml => {
            legible = toml::Legible::of(text, &mut found, limits);
            legible.as_ref().map(|legible| legible.read(&mut found))
        }
        Language::Json => json::read(text, &mut found, limits),
    };
    if let Some(root) = &root {
        let mut reader = Reader::new(&mut found, text, limits);
        let draft = draft(&mut reader, root);
        let mut lost = reader.into_lost();
        match draft.map(|draft| build(draft, &mut lost)) {
            Some(Ok(built)) if found.is_empty() => return Ok(built),
            Some(Err(errors)) => place(errors, root, &mut found),
            _ => {}
        }
    }
    Err(found.into_errors(name, text))
}

/// Finds the places of errors of the draft in the text.
fn place(errors: Vec<ModelError>, root: &Node<'_>, found: &mut Found) {
    let mut locator = Locator::default();
    for ModelError { path, other, fault } in errors {
        if let ModelFault::AndMore { count } = fault {
            found.add_unlisted(count);
            continue;
        }
        let other = other.map(|other| locator.find(root, &other));
        found.push_beside(locator.find(root, &path), other, InputFault::Model(fault));
    }
}

/// Tells the language by the file's name, and takes the text out of the bytes.
fn open<'b>(name: &str, bytes: &'b [u8], limits: &InputLimits) -> Result<(Language, &'b str), InputErrors> {
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
    let size = bytes.len() as u64;
    let most = match language {
        Language::Toml => limits.toml_bytes,
        Language::Json => limits.json_bytes,
    };
    if size > most {
        return Err(refuse(InputFault::TooLarge { language, bytes: size, most }));
    }
    // A byte-order mark says nothing about UTF-8.
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    match std::str::from_utf8(bytes) {
        Ok(text) => Ok((language, text)),
        Err(_) => Err(not_utf8(name, bytes, limits)),
    }
}

/// Finds every sequence of bytes that is not UTF-8. Nothing else is looked for: there is no text to look in.
fn not_utf8(name: &str, bytes: &[u8], limits: &InputLimits) -> InputErrors {
    let mut found = Found::new(limits);
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
