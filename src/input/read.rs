//! The readers: a text into an installation, a test set or a ruleset, with every error found in one go.

use super::error::{InputErrors, Language};
use super::found::Found;
use super::locate::Locator;
use super::node::Node;
use super::reader::Reader;
use super::test_set::Purpose;
use super::text::Input;
use super::{installation, json, ruleset, test_set, toml};
use crate::model::{Installation, Lost, ModelErrors, ModelFault, TestSet};
use crate::rules::Ruleset;

/// Reads an installation.
///
/// Takes time and space linear in the size of the text.
///
/// # Errors
///
/// Everything that is wrong with the text, by place. Beyond [`InputLimits::errors`](crate::InputLimits::errors) the
/// rest are only counted.
///
/// # Examples
///
/// ```
/// use lengthwise::{Input, read_installation};
///
/// let errors = read_installation(Input::toml("format = 1\n[instalation]\n")).unwrap_err();
/// let first = &errors.errors()[0];
/// assert_eq!(first.place.map(|place| (place.line, place.column)), Some((2, 2)));
/// assert_eq!(first.mend(), "write `installation` if that is meant");
/// ```
pub fn read_installation(input: Input<'_>) -> Result<Installation, InputErrors> {
    read(&input, installation::read, |draft, lost| draft.build_around(lost, &input.limits))
}

/// Reads a test set and checks it against its installation.
///
/// Takes time and space linear in the size of the text and of the installation.
///
/// # Errors
///
/// As [`read_installation`].
///
/// # Examples
///
/// ```
/// use lengthwise::{Input, read_installation, read_test_set};
///
/// let installation = read_installation(Input::toml(&std::fs::read("examples/landing.toml")?))?;
/// let tests = std::fs::read("examples/landing-as-usual.toml")?;
/// let tests = read_test_set(Input::toml(&tests), &installation)?;
/// assert_eq!(tests.passes()[0].readings()[0].leads()[0].text(), "L+N");
///
/// let tests = r#"{ "format": 1, "pass": [{ "set": { "S9": "L2" } }] }"#;
/// let errors = read_test_set(Input::json(tests), &installation).unwrap_err();
/// assert_eq!(errors.to_string(), "1:36: there is no device `S9`");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn read_test_set(input: Input<'_>, installation: &Installation) -> Result<TestSet, InputErrors> {
    read_checked(&input, installation, Purpose::Coverage)
}

/// Reads a test set whose values are to be judged: as [`read_test_set`], but a reading that has `megohms` must have
/// `volts` too, for a value says nothing without the voltage that it was read at.
///
/// # Errors
///
/// As [`read_installation`].
///
/// # Examples
///
/// ```
/// use lengthwise::{Input, read_installation, read_record};
///
/// let installation = read_installation(Input::toml(&std::fs::read("examples/landing.toml")?))?;
/// let record = r#"{ "format": 1, "pass": [{ "reading": [
///     { "circuit": "C1", "between": ["L", "N"], "megohms": 250 } ] }] }"#;
/// let errors = read_record(Input::json(record), &installation).unwrap_err();
/// assert_eq!(errors.to_string(), "2:5: this reading has no `volts`");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn read_record(input: Input<'_>, installation: &Installation) -> Result<TestSet, InputErrors> {
    read_checked(&input, installation, Purpose::Record)
}

fn read_checked(input: &Input<'_>, installation: &Installation, purpose: Purpose) -> Result<TestSet, InputErrors> {
    let draft = |reader: &mut Reader<'_>, node: &Node<'_>| test_set::read(reader, node, purpose);
    read(input, draft, |draft, lost| draft.build_around(installation, lost, &input.limits))
}

/// Looks over a test set by itself, where its installation can't be read: what is wrong with it whatever the names in
/// it lead to. What depends on the installation is not looked at.
///
/// Takes time and space linear in the size of the text.
///
/// # Errors
///
/// As [`read_installation`].
///
/// # Examples
///
/// ```
/// use lengthwise::Input;
/// use lengthwise::input::{Purpose, look_over_test_set};
///
/// let tests = "format = 1\n[[pass]]\noperate = ['S1']\nreadings = []\n";
/// let errors = look_over_test_set(Input::toml(tests), Purpose::Coverage).unwrap_err();
/// assert_eq!(errors.to_string(), "4:1: a pass has no key `readings`");
/// ```
pub fn look_over_test_set(input: Input<'_>, purpose: Purpose) -> Result<(), InputErrors> {
    let draft = |reader: &mut Reader<'_>, node: &Node<'_>| test_set::read(reader, node, purpose);
    read(&input, draft, |draft, lost| {
        lost.anything = true;
        draft.build_around(&Installation::unknown(), lost, &input.limits).map(drop)
    })
}

/// Reads a ruleset.
///
/// Takes time linear in the size of the text, and n log n in its n rows.
///
/// # Errors
///
/// As [`read_installation`]; a system at some nominal voltage for which no row, or more than one, gives what is asked
/// is an error too.
///
/// # Examples
///
/// ```
/// use lengthwise::{Input, Standard, read_ruleset};
///
/// // The rulesets in the package are files as people write their own.
/// let text = std::fs::read("src/input/rulesets/bs-7671.toml")?;
/// assert_eq!(&read_ruleset(Input::toml(&text))?, Standard::Bs7671.ruleset());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn read_ruleset(input: Input<'_>) -> Result<Ruleset, InputErrors> {
    read(&input, ruleset::read, |ruleset, _| Ok(ruleset))
}

/// Reads a text into a tree, the tree into a draft, and the draft into what is asked for. Gives that, or all errors of
/// all stages.
pub(super) fn read<D, T>(
    input: &Input<'_>,
    draft: impl FnOnce(&mut Reader<'_>, &Node<'_>) -> Option<D>,
    build: impl FnOnce(D, &mut Lost) -> Result<T, ModelErrors>,
) -> Result<T, InputErrors> {
    let (language, text) = input.open()?;
    let limits = &input.limits;
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
    Err(found.into_errors(input.name, text))
}

/// Finds the places of errors of the draft in the text.
fn place(errors: ModelErrors, root: &Node<'_>, found: &mut Found) {
    let mut locator = Locator::default();
    for error in errors {
        if let ModelFault::AndMore { count } = error.fault {
            found.add_unlisted(count);
            continue;
        }
        let other = error.other.as_ref().map(|other| locator.find(root, other));
        found.push_of_draft(locator.find(root, &error.path), other, error);
    }
}
