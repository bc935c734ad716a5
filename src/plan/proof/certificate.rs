//! How it is known that nothing less does: certificates, which anyone can check against the wiring alone.
//!
//! A certificate names pairs, [length, core, core], each with where devices started that nobody knows the position of.
//! Its claims are about single settings of the switches, so that they can be checked without searching for a plan; only
//! an exhausted search asks whoever checks it to search, and names a few pairs that are enough to fail.

use indexmap::IndexMap;
use serde::{Deserialize, Serialize};

use crate::plan::answer::SwitchPosition;

/// Where devices stood before the first pass of the test set that nobody knows the position of: device and position.
/// Those that are not named may have stood anyhow.
pub type StartPositions = IndexMap<String, String>;

/// How it is known that no fewer walks do.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "proof", rename_all = "kebab-case")]
#[non_exhaustive]
pub enum WhyNoFewerWalks {
    /// Nothing is left to operate for.
    NothingToOperate,
    /// This pair is not tested as things stand, by any reading, but is once something is operated.
    LeftAtStart {
        /// The pair.
        pair: [String; 3],
    },
    /// Each of these pairs needs a walk of its own: no two of them are tested in one setting.
    ExcludeOneAnother(Exclusion),
    /// Fewer settings were searched to the end.
    SearchExhausted {
        /// Pairs that already can't be tested in fewer, where such were found.
        #[serde(skip_serializing_if = "Option::is_none", default)]
        core: Option<UnsatisfiableCore>,
    },
    /// It is a bound only; the search was not finished.
    NotProven,
}

/// How it is known that no fewer operations do, in as many walks.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "proof", rename_all = "kebab-case")]
#[non_exhaustive]
pub enum WhyNoFewerOperations {
    /// Nothing is left to operate for.
    NothingToOperate,
    /// What each part needs at its own switches adds up to the bound.
    InParts {
        /// No switch is in two of them.
        parts: Vec<OperationsPart>,
    },
    /// Each walk has an operation, and there are no fewer walks.
    AWalkEach,
    /// All plans with fewer were searched.
    SearchExhausted,
    /// It is a bound only; the search was not finished.
    NotProven,
}

/// Switches that are operated so often at least, whatever is done with all others.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct OperationsPart {
    /// How often; operations that put the switches back, where that is asked for, are counted.
    pub operations: usize,
    /// The switches.
    pub devices: Vec<String>,
    /// How that is known.
    #[serde(flatten)]
    pub why: WhyOperations,
}

/// How it is known how often the switches of a part are operated.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "proof", rename_all = "kebab-case")]
#[non_exhaustive]
pub enum WhyOperations {
    /// The pair is tested in no setting in which fewer of the switches stand otherwise than at the start.
    Nearest {
        /// The pair.
        pair: [String; 3],
        /// The start that it is meant for; left out where that is any.
        #[serde(skip_serializing_if = "IndexMap::is_empty", default)]
        start: StartPositions,
    },
    /// Each pair needs a walk of its own, with an operation at one of the switches.
    ExcludeOneAnother(Exclusion),
    /// Plans of as many walks with fewer operations were searched to the end.
    SearchExhausted {
        /// Pairs that already need as many, where such were found.
        #[serde(skip_serializing_if = "Option::is_none", default)]
        core: Option<UnsatisfiableCore>,
    },
}

/// Pairs no two of which are tested in one setting, and none of them as things stand: each needs a walk of its own.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Exclusion {
    /// The pairs.
    pub pairs: Vec<[String; 3]>,
    /// For each pair: the start that it is meant for; left out where that is any for all of them.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub starts: Vec<StartPositions>,
    /// Why, as far as a few switches tell: two pairs that no conflict has both of exclude one another too.
    #[serde(default)]
    pub because: Vec<PositionConflict>,
}

impl Exclusion {
    /// Whether the reasons given are enough: every two pairs are in a conflict together.
    pub fn is_explained(&self) -> bool {
        let count = self.pairs.len();
        let explained = |one, other| self.because.iter().any(|row| row.of.contains(&one) && row.of.contains(&other));
        (0..count).all(|one| (one + 1..count).all(|other| explained(one, other)))
    }
}

/// Switches whose positions some pairs can't share.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct PositionConflict {
    /// Which of the pairs, counted from nought.
    pub of: Vec<usize>,
    /// The switches: one, or several that can't be shared only together.
    pub devices: Vec<String>,
    /// For each of these pairs, the ways in which the switches stand in settings that test it. No two pairs have a way
    /// in common.
    pub needs: Vec<Vec<Vec<SwitchPosition>>>,
}

/// Pairs that need as much as the whole.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct UnsatisfiableCore {
    /// The pairs.
    pub pairs: Vec<[String; 3]>,
    /// For each pair: the start that it is meant for; left out where that is every one for all of them.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub starts: Vec<StartPositions>,
    /// Whether it is known that none can be left out. (A smaller core may exist all the same.)
    pub irreducible: bool,
}
