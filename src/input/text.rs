//! The text to read: what it is written in, what it is called, and within which limits it is read.

use super::error::{InputError, InputErrors, InputFault, Language};
use super::found::Found;
use super::node::Span;
use crate::model::InputLimits;

/// A text to read, as bytes: TOML or JSON.
///
/// # Examples
///
/// ```
/// use lengthwise::{Input, read_installation};
///
/// // A text in memory is read by naming what it is written in; a name is for messages only.
/// let errors = read_installation(Input::json("{}")).unwrap_err();
/// assert_eq!(errors.to_string(), "1:1: this file has no `format`\n1:1: this file has no `installation`");
/// let errors = read_installation(Input::toml("").named("form 3")).unwrap_err();
/// assert!(errors.to_string().starts_with("form 3:1:1: this file has no `format`\n"));
///
/// // The name of a file tells what it is written in.
/// let errors = read_installation(Input::file("shed.txt", "format = 1")).unwrap_err();
/// assert_eq!(errors.to_string(), "shed.txt: the name of the file does not end in `.toml` or `.json`");
/// ```
#[derive(Clone, Debug)]
#[must_use]
pub struct Input<'t> {
    pub(super) name: &'t str,
    /// None where the name does not tell.
    language: Option<Language>,
    bytes: &'t [u8],
    pub(super) limits: InputLimits,
}

impl<'t> Input<'t> {
    /// A text in a language.
    pub fn new(language: Language, text: &'t (impl AsRef<[u8]> + ?Sized)) -> Input<'t> {
        Input { name: "", language: Some(language), bytes: text.as_ref(), limits: InputLimits::default() }
    }

    /// A text in TOML.
    pub fn toml(text: &'t (impl AsRef<[u8]> + ?Sized)) -> Input<'t> {
        Input::new(Language::Toml, text)
    }

    /// A text in JSON.
    pub fn json(text: &'t (impl AsRef<[u8]> + ?Sized)) -> Input<'t> {
        Input::new(Language::Json, text)
    }

    /// What is in a file; its name tells TOML (`.toml`) from JSON (`.json`), and another one is an error of reading it.
    pub fn file(name: &'t str, bytes: &'t (impl AsRef<[u8]> + ?Sized)) -> Input<'t> {
        let ends_in = |ending: &str| {
            name.len()
                .checked_sub(ending.len())
                .and_then(|at| name.get(at..))
                .is_some_and(|end| end.eq_ignore_ascii_case(ending))
        };
        let languages = [(".toml", Language::Toml), (".json", Language::Json)];
        let language = languages.into_iter().find(|&(ending, _)| ends_in(ending)).map(|(_, language)| language);
        Input { name, language, bytes: bytes.as_ref(), limits: InputLimits::default() }
    }

    /// The same, in a language where the name does not tell one.
    pub fn or_in(self, language: Language) -> Input<'t> {
        Input { language: self.language.or(Some(language)), ..self }
    }

    /// The same by a name that messages put before the place.
    pub fn named(self, name: &'t str) -> Input<'t> {
        Input { name, ..self }
    }

    /// The same, to be read within these limits instead of the default ones.
    pub fn within(self, limits: InputLimits) -> Input<'t> {
        Input { limits, ..self }
    }

    /// What it is written in; none where the name does not tell.
    pub fn language(&self) -> Option<Language> {
        self.language
    }

    /// The language, and the text in the bytes.
    pub(super) fn open(&self) -> Result<(Language, &'t str), InputErrors> {
        let refuse = |fault| InputErrors {
            name: self.name.to_owned(),
            text: String::new(),
            errors: vec![InputError { place: None, other: None, path: None, from: None, fault }],
        };
        let Some(language) = self.language else { return Err(refuse(InputFault::UnknownEnding)) };
        let size = self.bytes.len() as u64;
        let most = match language {
            Language::Toml => self.limits.toml_bytes,
            Language::Json => self.limits.json_bytes,
        };
        if size > most {
            return Err(refuse(InputFault::TooLarge { language, bytes: size, most }));
        }
        // A byte-order mark says nothing about UTF-8.
        let bytes = self.bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(self.bytes);
        match std::str::from_utf8(bytes) {
            Ok(text) => Ok((language, text)),
            Err(_) => Err(self.not_utf8(bytes)),
        }
    }

    /// Finds every sequence of bytes that is not UTF-8. Nothing else is looked for: there is no text to look in.
    fn not_utf8(&self, bytes: &[u8]) -> InputErrors {
        let mut found = Found::new(&self.limits);
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
        found.into_errors(self.name, &text)
    }
}
