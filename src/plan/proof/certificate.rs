//! How it is known that nothing less does: certificates as data, which anyone can check against the wiring alone.
//!
//! A certificate names **requirements**: pairs, each with where devices started that nobody knows the position of. Its
//! claims are about single settings of the switches, so that they can be checked without searching for a plan; only an
//! exhausted search asks whoever checks it to search, and names a few requirements that are enough to fail.

use crate::model::{DeviceRef, PointId};
use crate::network::PairId;

/// A pair that must be tested, for some of the starts of devices that nobody knows the position of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Required {
    /// The pair.
    pub pair: PairId,
    /// Where devices stood before the first pass of the test set, by name of the position; those that are not named may
    /// have stood anyhow.
    pub started: Vec<(DeviceRef, String)>,
}

/// How a switch stands in a setting of a plan.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Stands {
    /// In the position of this name.
    At(String),
    /// As the plan found it, where nobody knows how that is.
    AsFound,
    /// In the other of two positions than the plan found it in.
    Other,
}

impl Stands {
    /// The position's name, `as-found` or `other`.
    pub fn name(&self) -> &str {
        match self {
            Stands::At(position) => position,
            Stands::AsFound => "as-found",
            Stands::Other => "other",
        }
    }
}

/// Why some requirements exclude one another: they need the same switches to stand differently.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Apart {
    /// Which of the certificate's requirements, counted from nought.
    pub of: Vec<usize>,
    /// The switches: one, or several that tell them apart together.
    pub switches: Vec<PointId>,
    /// For each of the requirements: how the switches must stand for it, one list for each way that they may. No two
    /// requirements have a way in common.
    pub needs: Vec<Vec<Vec<Stands>>>,
}

/// Requirements no two of which are met in one setting, and none of them as things stand: each needs a walk of its own.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Exclusion {
    /// The requirements.
    pub requirements: Vec<Required>,
    /// Why, as far as a few switches tell: two requirements that no entry has both of exclude one another too.
    pub because: Vec<Apart>,
}

impl Exclusion {
    /// Whether the reasons given are enough: every two requirements are told apart by one of them.
    pub fn is_explained(&self) -> bool {
        let count = self.requirements.len();
        let told = |one, other| self.because.iter().any(|row| row.of.contains(&one) && row.of.contains(&other));
        (0..count).all(|one| (one + 1..count).all(|other| told(one, other)))
    }
}

/// Requirements that are enough to need as much as the whole.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Core {
    /// The requirements.
    pub requirements: Vec<Required>,
    /// Whether it is known that none of them can be left out. (A smaller core may exist all the same.)
    pub is_irreducible: bool,
}

/// How a bound on walks is known.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum WhyNoFewerWalks {
    /// Nothing is left to operate for.
    NothingToOperate,
    /// This pair is not tested as things stand, by any reading, but is once something is operated.
    LeftAtStart(PairId),
    /// Each of these pairs needs a walk of its own: no two of them are tested in one setting.
    ExcludeOneAnother(Exclusion),
    /// Fewer settings were searched to the end; with pairs that already can't be tested in fewer, where such were found.
    SearchExhausted(Option<Core>),
    /// It is a bound only; the search was not finished.
    NotProven,
}

/// How a bound on operations, within as many walks as the plan has, is known.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum WhyNoFewerOperations {
    /// Nothing is left to operate for.
    NothingToOperate,
    /// No switch belongs to two parts, and what each part needs at its own switches adds up to the bound.
    InParts(Vec<OperationsPart>),
    /// Each walk has an operation, and there are no fewer walks.
    AWalkEach,
    /// All plans with fewer were searched.
    SearchExhausted,
    /// It is a bound only; the search was not finished.
    NotProven,
}

/// Switches that are operated so often at least, whatever is done with all others.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OperationsPart {
    /// Operations, those counted that put the switches back where that is wished for.
    pub operations: usize,
    /// The switches.
    pub switches: Vec<PointId>,
    /// How that is known.
    pub why: WhyOperations,
}

/// How it is known how often the switches of a part are operated.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum WhyOperations {
    /// The requirement is met in no setting in which fewer of the part's switches stand otherwise than at the start.
    Nearest(Required),
    /// Each needs a walk of its own with an operation at a switch of the part.
    ExcludeOneAnother(Exclusion),
    /// Fewer operations, in as many walks as the plan has, were searched to the end; with requirements that already need
    /// as many, where such were found.
    SearchExhausted(Option<Core>),
}
