//! Reads the files that a command names; what is wrong with them is told as text for the terminal.

use std::io::{IsTerminal, Read};
use std::path::Path;

use super::arguments::Files;
use super::diagnostics::{self, Colour};
use super::visible::visible;
use crate::input::{Input, InputErrors, Purpose, Standard};
use crate::input::{look_over_test_set, read_installation, read_record, read_ruleset, read_test_set};
use crate::model::{InputLimits, Installation, TestSet};
use crate::rules::Ruleset;

pub(super) fn installation(path: &Path) -> Result<Installation, String> {
    let bytes = read(path)?;
    read_installation(Input::file(&path.to_string_lossy(), &bytes)).map_err(rendered)
}

/// Reads an installation and a test set of it. Where the installation is wrong, what is wrong with the test set by
/// itself is told too.
pub(super) fn both(path: &Path, tests: &Path, purpose: Purpose) -> Result<(Installation, TestSet), String> {
    let name = tests.to_string_lossy();
    match installation(path) {
        Ok(installation) => {
            let bytes = read(tests)?;
            let input = Input::file(&name, &bytes);
            let tests = match purpose {
                Purpose::Coverage => read_test_set(input, &installation),
                Purpose::Record => read_record(input, &installation),
            };
            Ok((installation, tests.map_err(rendered)?))
        }
        Err(errors) => {
            let look_over = |bytes: Vec<u8>| look_over_test_set(Input::file(&name, &bytes), purpose).map_err(rendered);
            let alone = read(tests).and_then(look_over);
            Err(format!(
                "{errors}{}\nnot looked at yet: what {name} says of the installation\n",
                alone.err().unwrap_or_default()
            ))
        }
    }
}

/// Reads an installation, and a test set of it where there is one.
pub(super) fn with_or_without_tests(files: &Files) -> Result<(Installation, Option<TestSet>), String> {
    match &files.test_set {
        Some(path) => {
            both(&files.installation, path, Purpose::Coverage).map(|(installation, tests)| (installation, Some(tests)))
        }
        None => Ok((installation(&files.installation)?, None)),
    }
}

/// Both, or all that is wrong with either.
pub(super) fn all_of<A, B>(one: Result<A, String>, other: Result<B, String>) -> Result<(A, B), String> {
    match (one, other) {
        (Ok(one), Ok(other)) => Ok((one, other)),
        (Err(one), Err(other)) => Err(format!("{one}{other}")),
        (Err(errors), Ok(_)) | (Ok(_), Err(errors)) => Err(errors),
    }
}

/// A ruleset of the package by its id, or else one in a file.
pub(super) fn ruleset(name: &Path) -> Result<Ruleset, String> {
    if let Some(standard) = Standard::ALL.iter().find(|standard| name == Path::new(standard.id())) {
        return Ok(standard.ruleset().clone());
    }
    let bytes = read(name)?;
    read_ruleset(Input::file(&name.to_string_lossy(), &bytes)).map_err(rendered)
}

fn rendered(errors: InputErrors) -> String {
    let plain = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
    let colour = if std::io::stderr().is_terminal() && !plain { Colour::Terminal } else { Colour::Without };
    diagnostics::render(&errors, diagnostics::Options { colour, ..diagnostics::Options::default() })
}

/// Reads a file, but no more of it than one byte past the largest that is taken: the reader then says that it is too
/// large, and memory stays bounded whatever the file is.
pub(super) fn read(path: &Path) -> Result<Vec<u8>, String> {
    let refused = |error: std::io::Error| {
        let name = path.to_string_lossy();
        format!("error: {} can't be read: {error}\n  help: name a file that exists and may be read\n", visible(&name))
    };
    let file = std::fs::File::open(path).map_err(refused)?;
    let mut bytes = Vec::new();
    file.take(InputLimits::default().json_bytes + 1).read_to_end(&mut bytes).map_err(refused)?;
    Ok(bytes)
}
