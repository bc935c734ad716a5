//! What a person enters, and what that changes in what is covered.

use indexmap::IndexMap;
use serde::{Deserialize, Serialize};

use super::{PositionCoverage, ReadingCoverage};
use crate::model::{ModelErrors, PassDraft, ReadingDraft, StartDraft};
use crate::network::{Need, Network, PairClass, PairId};

/// A change of a test set. Passes, and readings in them, are counted from 1, as in answers.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Edit {
    /// How things stood before the first pass, by the name of the device or of what holds the bridges, instead of what
    /// was said of that before.
    ChangeStart {
        /// All of it, as in [`TestSetDraft::start`](crate::model::TestSetDraft::start).
        start: IndexMap<String, StartDraft>,
    },
    /// Puts a pass in.
    AddPass {
        /// The number that it gets: one more than there are puts it last.
        pass: usize,
        /// Its operations and its readings.
        draft: PassDraft,
    },
    /// Puts a pass in another one's place. Readings that are the same are looked at again only where other operations
    /// bear on them.
    ChangePass {
        /// Its number.
        pass: usize,
        /// Its operations and its readings, as they are to be.
        draft: PassDraft,
    },
    /// Takes a pass back with its operations and readings.
    RemovePass {
        /// Its number.
        pass: usize,
    },
    /// Puts a reading in.
    AddReading {
        /// The pass, and the number that it gets in that: one more than there are puts it last.
        place: [usize; 2],
        /// The reading.
        draft: ReadingDraft,
    },
    /// Puts a reading in another one's place.
    ChangeReading {
        /// The pass, and its number in that.
        place: [usize; 2],
        /// The reading as it is to be.
        draft: ReadingDraft,
    },
    /// Takes a reading back.
    RemoveReading {
        /// The pass, and its number in that.
        place: [usize; 2],
    },
}

/// Why an edit could not be made.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum EditError {
    /// The draft does not fit the installation.
    #[error(transparent)]
    Draft(#[from] ModelErrors),
    /// There is no pass of this number.
    #[error("there is no pass {pass}: the test set has {passes}, counted from 1")]
    NoSuchPass {
        /// The number that was asked for.
        pass: usize,
        /// How many there are.
        passes: usize,
    },
    /// There is no reading of this number in its pass.
    #[error("there is no reading {reading} in pass {pass}: it has {readings}, counted from 1")]
    NoSuchReading {
        /// The pass.
        pass: usize,
        /// The number that was asked for.
        reading: usize,
        /// How many readings the pass has.
        readings: usize,
    },
}

/// What an edit changed.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct CoverageChange {
    /// What became of each reading that was looked at: those entered, and those on which what was entered bears.
    pub readings: Vec<ReadingCoverage>,
    /// The pairs that are tested now and were not before, in order, required or not.
    pub tested: Vec<ChangedPair>,
    /// The pairs that were tested before and are not now, in order, required or not.
    pub lost: Vec<ChangedPair>,
    /// The positions that are under test now and were not before, or were before and are not now.
    pub positions: Vec<PositionCoverage>,
    /// An observer stopped it: readings are still to be looked at.
    #[serde(skip_serializing_if = "std::ops::Not::not", default)]
    pub stopped: bool,
}

/// A pair that is tested now, or no longer.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct ChangedPair {
    /// The length.
    pub length: String,
    /// The two cores; `earth` stands for the main earthing terminal.
    pub cores: [String; 2],
    /// The pair's class.
    pub class: PairClass,
    /// Whether it must be tested.
    pub required: bool,
}

impl ChangedPair {
    pub(super) fn of(network: &Network, need: Need, pair: PairId) -> ChangedPair {
        let class = network.pair_class(pair);
        ChangedPair {
            length: network.installation().length(network.pair_length(pair)).id().to_owned(),
            cores: network.pair_core_names(pair).map(str::to_owned),
            class,
            required: network.requires(need, pair),
        }
    }
}
