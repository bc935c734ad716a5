//! What is wrong with texts, and what is noticed in those in which nothing is.

use serde::Serialize;

use crate::input::{Input, InputError, InputErrors, Purpose};
use crate::input::{look_over_test_set, read_installation, read_test_set};
use crate::model::{RunPart, TestSet};
use crate::network::Network;
use crate::wiring::{Warning, warnings};

/// What is noticed in an installation without errors.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Noticed {
    /// Cores for which no test is asked though they are connected at both ends, as [length, core].
    pub without_role: Vec<[String; 2]>,
    /// The same of those that are not connected at both ends.
    pub spare: Vec<[String; 2]>,
    /// What looks wrong, and is allowed by nothing in the file.
    pub warnings: Vec<Warning>,
}

impl Noticed {
    /// Time as [`warnings`].
    pub fn of(network: &Network) -> Noticed {
        Noticed {
            without_role: network.core_names(network.cores_without_role()),
            spare: network.core_names(network.spare_cores()),
            warnings: warnings(network),
        }
    }
}

/// What is wrong with an installation and a test set of it: what `check --json` prints. No paths are in it, so that the
/// same texts give the same bytes wherever they lie.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct CheckReport {
    /// The format of this data; 1.
    pub format: u32,
    /// What is wrong with the installation.
    pub installation: Vec<FileError>,
    /// What is wrong with the test set. None where there is none, or where the installation has errors and none was
    /// found in the test set by itself.
    pub test_set: Option<Vec<FileError>>,
    /// Of an installation without errors.
    #[serde(flatten)]
    pub noticed: Option<Noticed>,
}

/// What is wrong in a text, and where.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct FileError {
    /// The line, from 1; none where the text was not read at all.
    pub line: Option<usize>,
    /// The column, in characters from 1.
    pub column: Option<usize>,
    /// What sort of error it is.
    pub code: &'static str,
    /// What is wrong.
    pub error: String,
    /// What to do next.
    pub mend: String,
    /// The step or stop of a run that it is in, or in what that came to.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub from: Option<RunPart>,
}

/// Texts in which nothing is wrong, read.
pub(super) struct TextsRead {
    pub(super) network: Network,
    pub(super) test_set: Option<TestSet>,
}

impl CheckReport {
    /// Reads the texts. What a test set says of an installation that is wrong is not looked at.
    ///
    /// Takes time linear in the size of the texts, and as [`warnings`].
    ///
    /// ```
    /// use lengthwise::Input;
    /// use lengthwise::session::CheckReport;
    ///
    /// let landing = std::fs::read("examples/landing.toml")?;
    /// let tests = "format = 1\n[[pass]]\noperate = ['S9']\n";
    /// let report = CheckReport::of(Input::toml(&landing), Some(Input::toml(tests)));
    /// assert!(report.installation.is_empty() && !report.is_right());
    /// assert_eq!(report.test_set.expect("there is one")[0].line, Some(3));
    /// # Ok::<(), std::io::Error>(())
    /// ```
    pub fn of(installation: Input<'_>, test_set: Option<Input<'_>>) -> CheckReport {
        CheckReport::with_what_is_read(installation, test_set).0
    }

    /// The same, with what was read where nothing is wrong.
    pub(super) fn with_what_is_read(
        installation: Input<'_>,
        test_set: Option<Input<'_>>,
    ) -> (CheckReport, Option<TextsRead>) {
        let report = |installation, test_set, noticed| CheckReport { format: 1, installation, test_set, noticed };
        let installation = match read_installation(installation) {
            Ok(installation) => installation,
            Err(errors) => {
                let alone = test_set.and_then(|text| look_over_test_set(text, Purpose::Coverage).err());
                return (report(FileError::all_of(&errors), alone.as_ref().map(FileError::all_of), None), None);
            }
        };
        let test_set = test_set.map(|text| read_test_set(text, &installation));
        let network = Network::of(installation);
        let noticed = Some(Noticed::of(&network));
        match test_set.transpose() {
            Ok(test_set) => {
                let errors = test_set.is_some().then(Vec::new);
                (report(Vec::new(), errors, noticed), Some(TextsRead { network, test_set }))
            }
            Err(errors) => (report(Vec::new(), Some(FileError::all_of(&errors)), noticed), None),
        }
    }

    /// Nothing is wrong, and nothing was looked for.
    pub(super) fn nothing() -> CheckReport {
        CheckReport { format: 1, installation: Vec::new(), test_set: None, noticed: None }
    }

    /// Whether there are warnings.
    pub fn warns(&self) -> bool {
        self.noticed.as_ref().is_some_and(|noticed| !noticed.warnings.is_empty())
    }

    /// Whether nothing is wrong.
    pub fn is_right(&self) -> bool {
        self.installation.is_empty() && self.test_set.as_ref().is_none_or(Vec::is_empty)
    }
}

impl FileError {
    /// All that is wrong with one text.
    pub fn all_of(errors: &InputErrors) -> Vec<FileError> {
        let report = |error: &InputError| FileError {
            line: error.place.map(|place| place.line),
            column: error.place.map(|place| place.column),
            code: error.code(),
            error: error.to_string(),
            mend: error.mend(),
            from: error.from.as_deref().cloned(),
        };
        errors.errors().iter().map(report).collect()
    }
}
