//! Reads the files that a command names; what is wrong with them is told as text for the terminal.

use std::borrow::Cow;
use std::cell::Cell;
use std::io::{self, Read, Write};
use std::path::Path;

use super::arguments::Files;
use super::diagnostics::{self, Colour};
use super::form_csv;
use super::output::refusal;
use super::terminal::Terminal;
use crate::input::{FillError, Input, InputErrors, Language, Purpose, Standard, fill_values};
use crate::input::{
    append_passes, empty_test_set, expand_runs, look_over_test_set, read_installation, read_record, read_ruleset,
    read_test_set,
};
use crate::model::{InputLimits, Installation, PassDraft, TestSet};
use crate::rules::Ruleset;
use crate::session::SourceText;
use crate::visible::visible;

/// The name that stands for standard input.
const STANDARD_INPUT: &str = "-";

/// Reads files, and standard input once.
pub(super) struct FileReader {
    /// What is written where no name tells it.
    language: Option<Language>,
    standard_input_is_read: Cell<bool>,
}

/// What is in a file, and in what it is written where its name does not tell.
pub(super) struct FileText {
    name: String,
    bytes: Vec<u8>,
    language: Option<Language>,
}

impl FileText {
    pub(super) fn input(&self) -> Input<'_> {
        let input = Input::file(&self.name, &self.bytes);
        match self.language {
            Some(language) => input.or_in(language),
            None => input,
        }
    }
}

impl FileText {
    /// What has been read without errors, as a text.
    fn source(&self) -> SourceText {
        let text = String::from_utf8_lossy(&self.bytes).into_owned();
        match self.input().language() {
            Some(Language::Json) => SourceText::Json(text),
            _ => SourceText::Toml(text),
        }
    }
}

/// A test set and the text that it was read from.
pub(super) struct FileTests {
    pub(super) tests: TestSet,
    pub(super) text: FileText,
}

impl FileReader {
    pub(super) fn new(language: Option<Language>) -> FileReader {
        FileReader { language, standard_input_is_read: Cell::new(false) }
    }

    pub(super) fn installation(&self, path: &Path) -> Result<Installation, String> {
        read_installation(self.text(path)?.input()).map_err(rendered)
    }

    /// The text of an installation with its runs expanded.
    pub(super) fn expanded(&self, path: &Path) -> Result<String, String> {
        expand_runs(self.text(path)?.input()).map_err(rendered)
    }

    /// Reads an installation and a test set of it. Where the installation is wrong, what is wrong with the test set by
    /// itself is told too.
    pub(super) fn both(
        &self,
        path: &Path,
        tests: &Path,
        purpose: Purpose,
    ) -> Result<(Installation, FileTests), String> {
        self.read_both(self.text(path), tests, purpose).map(|(_, installation, tests)| (installation, tests))
    }

    fn read_both(
        &self,
        text: Result<FileText, String>,
        tests: &Path,
        purpose: Purpose,
    ) -> Result<(FileText, Installation, FileTests), String> {
        let read = |text: FileText| {
            let installation = read_installation(text.input()).map_err(rendered)?;
            Ok((text, installation))
        };
        match text.and_then(read) {
            Ok((installation_text, installation)) => {
                let text = self.text(tests)?;
                let tests = match purpose {
                    Purpose::Coverage => read_test_set(text.input(), &installation),
                    Purpose::Record => read_record(text.input(), &installation),
                };
                Ok((installation_text, installation, FileTests { tests: tests.map_err(rendered)?, text }))
            }
            Err(errors) => {
                let look_over = |text: FileText| look_over_test_set(text.input(), purpose).map_err(rendered);
                let alone = self.text(tests).and_then(look_over);
                Err(format!(
                    "{errors}{}\nnot looked at yet: what {} says of the installation\n",
                    alone.err().unwrap_or_default(),
                    visible(&shown(tests)),
                ))
            }
        }
    }

    /// Reads an installation, and a test set of it where there is one.
    pub(super) fn with_or_without_tests(&self, files: &Files) -> Result<(Installation, Option<FileTests>), String> {
        match &files.test_set {
            Some(path) => self
                .both(&files.installation, path, Purpose::Coverage)
                .map(|(installation, tests)| (installation, Some(tests))),
            None => Ok((self.installation(&files.installation)?, None)),
        }
    }

    /// The texts of an installation and of a test set of it, if there is one, without errors.
    pub(super) fn sources(&self, files: &Files) -> Result<(SourceText, Option<SourceText>), String> {
        let text = self.text(&files.installation);
        let Some(tests) = &files.test_set else {
            let text = text?;
            read_installation(text.input()).map_err(rendered)?;
            return Ok((text.source(), None));
        };
        let (text, _, tests) = self.read_both(text, tests, Purpose::Record)?;
        Ok((text.source(), Some(tests.text.source())))
    }

    /// A ruleset of the package by its id, or else one in a file.
    pub(super) fn ruleset(&self, name: &Path) -> Result<Ruleset, String> {
        if let Some(standard) = name.to_str().and_then(Standard::by_id) {
            return Ok(standard.ruleset().clone());
        }
        let text = self.text(name).map_err(|error| {
            let known = Standard::ALL.map(Standard::id).join(", ");
            format!("{error}  help: the rulesets of the package are {known}; `lengthwise rules` prints them\n")
        })?;
        read_ruleset(text.input()).map_err(rendered)
    }

    /// Reads a file, but no more of it than one byte past the largest that is taken: its reader then says that it is
    /// too large, and memory stays bounded whatever the file is.
    pub(super) fn text(&self, path: &Path) -> Result<FileText, String> {
        let given = shown(path);
        let read = |source: &mut dyn Read| {
            let mut bytes = Vec::new();
            source.take(InputLimits::default().json_bytes + 1).read_to_end(&mut bytes)?;
            Ok(bytes)
        };
        let refused = |error: std::io::Error| {
            refusal(format!("{given} can't be read: {error}"), "name a file that exists and may be read")
        };
        if path != Path::new(STANDARD_INPUT) {
            let bytes = std::fs::File::open(path).and_then(|mut file| read(&mut file)).map_err(refused)?;
            return Ok(FileText { name: given.into_owned(), bytes, language: self.language });
        }
        if self.language.is_none() {
            let error = "standard input has no name that tells what it is written in";
            return Err(refusal(error, "write `--language toml` or `--language json`"));
        }
        if self.standard_input_is_read.replace(true) {
            return Err(refusal("standard input is named twice", "write one of the two to a file"));
        }
        let bytes = read(&mut std::io::stdin().lock()).map_err(refused)?;
        Ok(FileText { name: given.into_owned(), bytes, language: self.language })
    }
}

/// Writes a test set with further passes, each reading with a place for its value, to a file that is not there yet.
///
/// It is whole or it is not there: it gets its name when all is written.
pub(super) fn write_form(path: &Path, before: Option<&FileText>, passes: &[PassDraft]) -> Result<(), String> {
    let name = path.to_string_lossy();
    let Some(language) = Input::file(&name, "").language() else {
        let error = format!("the name of {name} does not tell what to write");
        return Err(refusal(error, "name it `….toml` or `….json`"));
    };
    let before = match before {
        Some(text) if text.input().language() != Some(language) => {
            let error = format!("{name} can't take what {} holds to the letter", text.name);
            let other = if language == Language::Toml { "json" } else { "toml" };
            return Err(refusal(error, format!("name it `….{other}`")));
        }
        Some(text) => text.input(),
        None => empty_test_set(language),
    };
    let written = append_passes(before, passes).map_err(rendered)?;
    write_new(path, &written)
}

/// Writes a test set with the values of a table, to a file that is not there yet.
pub(super) fn fill(path: &Path, tests: &FileText, values: &FileText) -> Result<(), String> {
    let values = form_csv::read(&values.name, &values.bytes)?;
    let values: Vec<([usize; 2], &str)> = values.iter().map(|(of, value)| (*of, value.as_str())).collect();
    let filled = fill_values(tests.input(), &values).map_err(|error| match error {
        FillError::Input(errors) => rendered(errors),
        error => refusal(error, "nothing was written; `fill` without a table lists the readings that wait for a value"),
    })?;
    write_new(path, &filled)
}

/// Writes a file that is not there yet.
pub(super) fn write_new(path: &Path, text: &str) -> Result<(), String> {
    let written = write_whole(path, text.as_bytes());
    written.map_err(|error| {
        refusal(format!("{} can't be written: {error}", path.display()), "name a file that does not exist yet")
    })
}

/// Writes a file under a name of its own, and gives it the name asked for when it is whole and safe on the disk.
fn write_whole(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut builder = tempfile::Builder::new();
    // As any file that a program makes: what its user lets others see is not for this program to say.
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    let mut file = builder.tempfile_in(folder)?;
    file.write_all(bytes)?;
    file.as_file().sync_all()?;
    file.persist_noclobber(path)?;
    #[cfg(unix)]
    std::fs::File::open(folder)?.sync_all()?;
    Ok(())
}

/// What messages call a file.
fn shown(path: &Path) -> Cow<'_, str> {
    if path == Path::new(STANDARD_INPUT) { Cow::Borrowed("standard input") } else { path.to_string_lossy() }
}

/// Both, or all that is wrong with either.
pub(super) fn all_of<A, B>(one: Result<A, String>, other: Result<B, String>) -> Result<(A, B), String> {
    match (one, other) {
        (Ok(one), Ok(other)) => Ok((one, other)),
        (Err(one), Err(other)) => Err(format!("{one}{other}")),
        (Err(errors), Ok(_)) | (Ok(_), Err(errors)) => Err(errors),
    }
}

fn rendered(errors: InputErrors) -> String {
    let terminal = Terminal::of_errors();
    let colour = if terminal.shows_colour { Colour::Terminal } else { Colour::Without };
    let options = diagnostics::Options { colour, width: terminal.width, ..diagnostics::Options::default() };
    diagnostics::render(&errors, options)
}
