//! What a session is asked, as JSON.

use serde::{Deserialize, Serialize};

use super::planned::PlanOptions;
use crate::input::{Input, Standard};
use crate::locate::Assumptions;
use crate::model::PassDraft;
use crate::network::Need;

/// A question, or what a session is to hold from now on. As JSON the key `ask` tells which: `{ "ask": "cover" }`. A key
/// that is not known is an error.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(tag = "ask", rename_all = "kebab-case", rename_all_fields = "snake_case", deny_unknown_fields)]
#[non_exhaustive]
pub enum SessionQuestion {
    /// Holds an installation, and a test set of it. Answered as `check --json` is.
    Open {
        /// The installation.
        installation: SourceText,
        /// The test set.
        #[serde(default)]
        test_set: Option<SourceText>,
        /// The ruleset; bs-7671 where none is given.
        #[serde(default)]
        rules: RulesText,
        /// Which pairs [`SessionQuestion::Enter`] counts.
        #[serde(default)]
        need: Need,
    },
    /// Holds another test set of the installation, or none. Answered with what that changed.
    Enter {
        /// The test set.
        test_set: Option<SourceText>,
    },
    /// What `check --json` prints.
    Check {},
    /// What `cover --json` prints.
    Cover {
        /// Which pairs need a test; as opened where not given.
        #[serde(default)]
        need: Option<Need>,
    },
    /// What `judge --json` prints.
    Judge {
        /// Which pairs need a test; as opened where not given.
        #[serde(default)]
        need: Option<Need>,
    },
    /// What `plan --json` prints, or what `plan --record` writes.
    Plan {
        /// What is asked of it.
        #[serde(default)]
        options: PlanOptions,
        /// What is wanted.
        #[serde(default)]
        give: Give,
    },
    /// What `locate --json` prints, or what `locate --record` writes.
    Locate {
        /// What is assumed beside the readings.
        #[serde(default)]
        assumptions: Assumptions,
        /// What is wanted.
        #[serde(default)]
        give: Give,
    },
    /// What `fill --record` writes: the test set with values, to the letter but for these.
    Fill {
        /// Pass and number of a reading that waits for a value, and the value as the instrument shows it.
        values: Vec<([usize; 2], String)>,
    },
    /// What `prepare --json` prints.
    Prepare {},
    /// What `works --json` prints.
    Works {
        /// Points or boards; all where none is given.
        #[serde(default)]
        boxes: Vec<String>,
    },
    /// What `terminations --json` prints.
    Terminations {
        /// Points or boards; all where none is given.
        #[serde(default)]
        boxes: Vec<String>,
    },
    /// What `network --json` prints.
    Network {},
    /// What `expand` prints.
    Expand {},
    /// What `rules --json` prints of the ruleset that is held.
    Rules {},
    /// The names of what there is, and where it is: [`Names`](super::Names).
    Names {},
    /// What `draw` prints: circuits as SVG, with what the test set that is held tests.
    Draw {
        /// Their ids; all where none is given.
        #[serde(default)]
        circuits: Vec<String>,
        /// Whether it runs downwards, for a phone.
        #[serde(default)]
        down: bool,
        /// Which pairs need a test; as opened where not given.
        #[serde(default)]
        need: Option<Need>,
    },
    /// A test set with further passes, as a text: what there is stays to the letter. What is held stays too.
    Append {
        /// The test set; one in TOML in which nothing is said where there is none.
        #[serde(default)]
        test_set: Option<SourceText>,
        /// The passes.
        passes: Vec<PassDraft>,
    },
}

/// What is wanted of a question that finds what is to be done.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Give {
    /// The answer.
    #[default]
    Answer,
    /// The test set with what is to be done, each reading with a `megohms` to fill in: a text as it is written to a file, in
    /// what the test set is written in (in TOML where there is none).
    Record,
    /// The passes that the record would get: [`PlannedPasses`](super::PlannedPasses).
    Passes,
}

/// A text in memory, and what it is written in: as JSON `{ "toml": TEXT }` or `{ "json": TEXT }`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SourceText {
    /// In TOML.
    Toml(String),
    /// In JSON.
    Json(String),
}

impl SourceText {
    /// The same, to be read.
    pub fn input(&self) -> Input<'_> {
        match self {
            SourceText::Toml(text) => Input::toml(text),
            SourceText::Json(text) => Input::json(text),
        }
    }
}

/// A ruleset: as JSON `{ "standard": ID }`, `{ "toml": TEXT }` or `{ "json": TEXT }`.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RulesText {
    /// One of the package, by its id.
    Standard(Standard),
    /// In TOML.
    Toml(String),
    /// In JSON.
    Json(String),
}

impl Default for RulesText {
    fn default() -> RulesText {
        RulesText::Standard(Standard::default())
    }
}
