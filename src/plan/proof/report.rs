//! Certificates as data for other programs: `why_no_fewer_walks` and `why_no_fewer_operations` of `plan --json`.

use indexmap::IndexMap;
use serde::{Deserialize, Serialize};

use crate::model::PointId;
use crate::plan::planner::Plan;
use crate::plan::proof::certificate::{
    Apart, Core, Exclusion, Required, Stands, WhyNoFewerOperations, WhyNoFewerWalks, WhyOperations,
};

/// Where devices started that nobody knows the position of: device and position.
type Start = IndexMap<String, String>;

/// How it is known that no fewer walks do.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "proof", rename_all = "kebab-case")]
pub enum ProofReport {
    /// Nothing is left to operate for.
    NothingToOperate,
    /// This pair, [length, core, core], is not tested as things stand, but is once something is operated.
    LeftAtStart {
        /// The pair.
        pair: [String; 3],
    },
    /// Each of these pairs needs a walk of its own: no two of them are tested in one setting.
    ExcludeOneAnother(ExclusionReport),
    /// Fewer settings were searched to the end.
    SearchExhausted {
        /// Pairs that already can't be tested in fewer.
        #[serde(skip_serializing_if = "Option::is_none", default)]
        core: Option<CoreReport>,
    },
    /// Not proven.
    NotProven,
}

/// Pairs no two of which are tested in one setting, and none of them as things stand.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ExclusionReport {
    /// As [length, core, core].
    pub pairs: Vec<[String; 3]>,
    /// For each pair: the start that it is meant for; left out where that is any.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub starts: Vec<Start>,
    /// Why, as far as a few switches tell.
    #[serde(default)]
    pub because: Vec<ApartReport>,
}

/// Switches whose positions some pairs can't share.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ApartReport {
    /// Which of the pairs, counted from nought.
    pub of: Vec<usize>,
    /// The switches; several tell the pairs apart only together.
    pub devices: Vec<String>,
    /// For each pair, the ways in which the switches stand in settings that test it: positions, or `as-found` and `other`
    /// where nobody knows how a switch is found. No two pairs have a way in common.
    pub needs: Vec<Vec<Vec<String>>>,
}

/// Pairs that need as much as the whole.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct CoreReport {
    /// As [length, core, core].
    pub pairs: Vec<[String; 3]>,
    /// For each pair: the start that it is meant for; left out where that is every one.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub starts: Vec<Start>,
    /// Whether it is known that none can be left out.
    pub irreducible: bool,
}

/// How it is known that no fewer operations do, in as many walks.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "proof", rename_all = "kebab-case")]
pub enum OperationsProofReport {
    /// Nothing is left to operate for.
    NothingToOperate,
    /// What each part needs at its own switches adds up.
    InParts {
        /// No switch is in two of them.
        parts: Vec<OperationsPartReport>,
    },
    /// Each walk has an operation.
    AWalkEach,
    /// All plans with fewer were searched.
    SearchExhausted,
    /// Not proven.
    NotProven,
}

/// Switches that are operated so often at least.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct OperationsPartReport {
    /// How often.
    pub operations: usize,
    /// The switches.
    pub devices: Vec<String>,
    /// How that is known.
    #[serde(flatten)]
    pub why: PartProofReport,
}

/// How it is known how often the switches of a part are operated.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "proof", rename_all = "kebab-case")]
pub enum PartProofReport {
    /// The pair is tested in no setting in which fewer of the switches stand otherwise than at the start.
    Nearest {
        /// As [length, core, core].
        pair: [String; 3],
        /// The start that it is meant for; left out where that is any.
        #[serde(skip_serializing_if = "IndexMap::is_empty", default)]
        start: Start,
    },
    /// Each pair needs a walk of its own, with an operation at one of the switches.
    ExcludeOneAnother(ExclusionReport),
    /// Plans of as many walks with fewer operations were searched to the end.
    SearchExhausted {
        /// Pairs that already need as many.
        #[serde(skip_serializing_if = "Option::is_none", default)]
        core: Option<CoreReport>,
    },
}

impl Plan<'_> {
    /// The certificate of the bound on walks, as data. Time and space linear in it.
    pub fn proof_of_walks(&self) -> ProofReport {
        match &self.why_no_fewer_walks {
            WhyNoFewerWalks::NothingToOperate => ProofReport::NothingToOperate,
            WhyNoFewerWalks::LeftAtStart(pair) => ProofReport::LeftAtStart { pair: self.pair_names(*pair) },
            WhyNoFewerWalks::ExcludeOneAnother(exclusion) => ProofReport::ExcludeOneAnother(self.exclusion(exclusion)),
            WhyNoFewerWalks::SearchExhausted(core) => {
                ProofReport::SearchExhausted { core: core.as_ref().map(|core| self.core(core)) }
            }
            WhyNoFewerWalks::NotProven => ProofReport::NotProven,
        }
    }

    /// The certificate of the bound on operations, as data. Time and space linear in it.
    pub fn proof_of_operations(&self) -> OperationsProofReport {
        match &self.why_no_fewer_operations {
            WhyNoFewerOperations::NothingToOperate => OperationsProofReport::NothingToOperate,
            WhyNoFewerOperations::InParts(parts) => {
                let part = |part: &crate::plan::proof::certificate::OperationsPart| OperationsPartReport {
                    operations: part.operations,
                    devices: self.point_names(&part.switches),
                    why: match &part.why {
                        WhyOperations::Nearest(required) => PartProofReport::Nearest {
                            pair: self.pair_names(required.pair),
                            start: self.start_names(required),
                        },
                        WhyOperations::ExcludeOneAnother(exclusion) => {
                            PartProofReport::ExcludeOneAnother(self.exclusion(exclusion))
                        }
                        WhyOperations::SearchExhausted(core) => {
                            PartProofReport::SearchExhausted { core: core.as_ref().map(|core| self.core(core)) }
                        }
                    },
                };
                OperationsProofReport::InParts { parts: parts.iter().map(part).collect() }
            }
            WhyNoFewerOperations::AWalkEach => OperationsProofReport::AWalkEach,
            WhyNoFewerOperations::SearchExhausted => OperationsProofReport::SearchExhausted,
            WhyNoFewerOperations::NotProven => OperationsProofReport::NotProven,
        }
    }

    fn exclusion(&self, exclusion: &Exclusion) -> ExclusionReport {
        let way = |way: &Vec<Stands>| way.iter().map(|stands| stands.name().to_owned()).collect();
        let apart = |row: &Apart| ApartReport {
            of: row.of.clone(),
            devices: self.point_names(&row.switches),
            needs: row.needs.iter().map(|ways| ways.iter().map(way).collect()).collect(),
        };
        ExclusionReport {
            pairs: self.required_names(&exclusion.requirements),
            starts: self.starts(&exclusion.requirements),
            because: exclusion.because.iter().map(apart).collect(),
        }
    }

    fn core(&self, core: &Core) -> CoreReport {
        CoreReport {
            pairs: self.required_names(&core.requirements),
            starts: self.starts(&core.requirements),
            irreducible: core.is_irreducible,
        }
    }

    fn required_names(&self, requirements: &[Required]) -> Vec<[String; 3]> {
        requirements.iter().map(|required| self.pair_names(required.pair)).collect()
    }

    /// Nothing, where no start matters.
    fn starts(&self, requirements: &[Required]) -> Vec<Start> {
        if requirements.iter().all(|required| required.started.is_empty()) {
            return Vec::new();
        }
        requirements.iter().map(|required| self.start_names(required)).collect()
    }

    fn start_names(&self, required: &Required) -> Start {
        let installation = self.network.installation();
        required.started.iter().map(|(device, position)| (device.name(installation), position.clone())).collect()
    }

    fn point_names(&self, points: &[PointId]) -> Vec<String> {
        let installation = self.network.installation();
        points.iter().map(|&point| installation.point(point).id().to_owned()).collect()
    }
}
