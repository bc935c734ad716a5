//! The findings as data for other programs: what `locate --json` prints.

use serde::{Deserialize, Serialize};

use super::analysis::State;
use super::candidates::place_name;
use super::finding::{LeftOut, Locate};
use super::gap::{GapId, Member};
use super::next::{Next, NextReading, Outcome, WhyNothing};
use super::part::{PartAt, Parting};
use crate::model::{Lead, ReadingAt, TerminalRef, Volts};
use crate::network::{Network, PairCore};

/// The findings.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct LocateReport {
    pub format: u32,
    pub assumed: AssumedReport,
    pub summary: LocateSummary,
    pub readings: Vec<UsedReadingReport>,
    pub faults: FaultsReport,
    pub conflicts: Vec<ConflictReport>,
    /// Gaps that some reading bounds, or that must leak; in order.
    pub gaps: Vec<GapReport>,
    pub next: NextReport,
}

/// What was assumed beside the readings.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct AssumedReport {
    pub accuracy_percent: f64,
    pub resolution_megohms: f64,
    pub healthy_megohm_kilometres: f64,
    pub investigate_below_megohms: f64,
}

/// How many gaps are in each state.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct LocateSummary {
    pub gaps: usize,
    pub cleared: usize,
    pub suspect: usize,
    pub certain: usize,
    pub not_read: usize,
    pub contradicted: usize,
}

/// What became of a reading.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct UsedReadingReport {
    pub pass: usize,
    pub reading: usize,
    /// Null where the reading has part in the findings.
    pub left_out: Option<LeftOut>,
    /// The test voltage that it was taken below, so that it bounds no leakage above.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub taken_below_volts: Option<Volts>,
    /// The conductances that the instrument may have had before it; null where nothing bounds it above.
    pub microsiemens: [Option<f64>; 2],
}

/// How many faults explain the readings.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct FaultsReport {
    pub at_least: usize,
    pub exact: bool,
    /// One fault explains all readings.
    pub one_explains_all: bool,
    /// Groups of gaps, by number: where to look.
    pub suspects: Vec<Vec<u32>>,
}

/// Readings that contradict one another.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct ConflictReport {
    pub readings: Vec<[usize; 2]>,
}

/// One gap.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct GapReport {
    pub gap: u32,
    pub state: State,
    pub least_microsiemens: f64,
    /// Null where no reading bounds it.
    pub greatest_microsiemens: Option<f64>,
    pub tight: bool,
    pub healthy_microsiemens: f64,
    pub explains_alone: bool,
    pub metres: f64,
    pub members: Vec<MemberReport>,
}

/// One place of a gap.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
#[allow(missing_docs)]
pub enum MemberReport {
    Length { length: String, cores: [String; 2], metres: f64 },
    Accessory { at: String, terminals: [String; 2] },
}

/// What to do next.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "do", rename_all = "kebab-case")]
#[allow(missing_docs)]
pub enum NextReport {
    Read(Box<ReadReport>),
    Part(PartReport),
    Nothing {
        /// `no-fault`, `not-solved`, `contradiction`, `found`, `adds-up`, `same-copper` or `not-split`.
        why: String,
        gaps: Vec<u32>,
    },
}

/// A reading that splits the suspects.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct ReadReport {
    pub set: Vec<OperationReport>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub circuit: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub board: Option<String>,
    pub between: [String; 2],
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub volts: Option<Volts>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub at_point: Option<String>,
    pub suspects: Vec<u32>,
    pub if_more: OutcomeReport,
    pub if_less: OutcomeReport,
}

/// A device set to a position.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct OperationReport {
    pub device: String,
    /// `unknown` where nobody knows.
    pub from: String,
    pub to: String,
}

/// What an outcome would mean.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct OutcomeReport {
    pub megohms: f64,
    pub suspects: Vec<u32>,
    pub metres: f64,
    pub at_least: usize,
    pub contradicts: bool,
}

/// Where to part copper by hand.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct PartReport {
    pub gap: u32,
    pub at: Vec<String>,
    pub terminals: Vec<String>,
    pub parts: Vec<Vec<String>>,
}

/// The full names of two terminals.
pub(crate) fn terminal_names(network: &Network, terminals: [TerminalRef; 2]) -> [String; 2] {
    terminals.map(|terminal| network.installation().terminal_name(terminal))
}

impl Member {
    /// The names of what it is, and of its two sides.
    pub(crate) fn names(&self, network: &Network) -> (String, [String; 2]) {
        let installation = network.installation();
        match *self {
            Member::Length { length, cores } => {
                let row = installation.length(length);
                let names = cores.map(|core| match core {
                    PairCore::Core(core) => row.cores()[core].name().to_owned(),
                    PairCore::Earth => "earth".to_owned(),
                });
                (row.id().to_owned(), names)
            }
            Member::Point { point, terminals } => {
                (installation.point(point).id().to_owned(), terminal_names(network, terminals))
            }
            Member::Way { way, terminals } => (installation.way_name(way), terminal_names(network, terminals)),
            Member::Board { board, terminals } => {
                (installation.board(board).id().to_owned(), terminal_names(network, terminals))
            }
        }
    }
}

impl Locate<'_> {
    /// The findings as data, the next reading with them. Time that of [`Locate::next`], else linear in the findings.
    pub fn report(&self) -> LocateReport {
        let in_state = |state| self.in_state(state).count();
        let fewest = self.fewest_faults();
        let finite = |value: f64| value.is_finite().then_some(value);
        LocateReport {
            format: 1,
            assumed: AssumedReport {
                accuracy_percent: self.assumptions().accuracy_percent(),
                resolution_megohms: self.assumptions().resolution().0,
                healthy_megohm_kilometres: self.assumptions().healthy().0,
                investigate_below_megohms: self.assumptions().investigate_below().0,
            },
            summary: LocateSummary {
                gaps: self.gaps().len(),
                cleared: in_state(State::Cleared),
                suspect: in_state(State::Suspect),
                certain: in_state(State::Certain),
                not_read: in_state(State::NotRead),
                contradicted: in_state(State::Contradicted),
            },
            readings: self
                .readings()
                .iter()
                .map(|used| UsedReadingReport {
                    pass: used.pass,
                    reading: used.reading,
                    left_out: used.left_out,
                    taken_below_volts: used.taken_below,
                    microsiemens: used.conductance.map(finite),
                })
                .collect(),
            faults: FaultsReport {
                at_least: fewest.at_least,
                exact: fewest.is_exact,
                one_explains_all: self.one_explains_all(),
                suspects: self.suspects().iter().map(|group| numbers(group)).collect(),
            },
            conflicts: self
                .conflicts()
                .into_iter()
                .map(|conflict| ConflictReport { readings: conflict.readings })
                .collect(),
            gaps: self
                .gaps()
                .filter(|gap| self.analysis.gaps.contains_key(&gap.0))
                .map(|gap| self.gap_report(gap))
                .collect(),
            next: self.next_report(&self.next()),
        }
    }

    /// Whether one fault explains all readings, and no fewer do.
    pub fn one_explains_all(&self) -> bool {
        let fewest = self.fewest_faults();
        fewest.is_exact && fewest.at_least == 1
    }

    fn gap_report(&self, gap: GapId) -> GapReport {
        let finding = self.finding(gap);
        GapReport {
            gap: gap.0,
            state: finding.state,
            least_microsiemens: finding.least,
            greatest_microsiemens: finding.greatest.is_finite().then_some(finding.greatest),
            tight: finding.tight,
            healthy_microsiemens: self.allowance(gap),
            explains_alone: finding.explains_alone,
            metres: self.metres(gap).0,
            members: self.members(gap).iter().map(|member| self.member_report(member)).collect(),
        }
    }

    fn member_report(&self, member: &Member) -> MemberReport {
        let (name, sides) = member.names(self.network);
        match member {
            Member::Length { length, .. } => {
                let metres = self.network.installation().length(*length).metres().0;
                MemberReport::Length { length: name, cores: sides, metres }
            }
            _ => MemberReport::Accessory { at: name, terminals: sides },
        }
    }

    fn next_report(&self, next: &Next) -> NextReport {
        let nothing = |why: &str, gaps: &[GapId]| NextReport::Nothing { why: why.to_owned(), gaps: numbers(gaps) };
        match next {
            Next::Reading(reading) => NextReport::Read(Box::new(self.reading_report(reading))),
            Next::Part { gap, parting } => NextReport::Part(self.part_report(*gap, parting)),
            Next::Nothing(WhyNothing::NoFault) => nothing("no-fault", &[]),
            Next::Nothing(WhyNothing::Contradiction) => nothing("contradiction", &[]),
            Next::Nothing(WhyNothing::Found { gap }) => nothing("found", &[*gap]),
            Next::Nothing(WhyNothing::NotSolved) => nothing("not-solved", &[]),
            Next::Nothing(WhyNothing::AddsUp { gaps }) => nothing("adds-up", gaps),
            Next::Nothing(WhyNothing::SameCopper { gap }) => nothing("same-copper", &[*gap]),
            Next::Nothing(WhyNothing::NotSplit { gaps }) => nothing("not-split", gaps),
        }
    }

    fn reading_report(&self, reading: &NextReading) -> ReadReport {
        let installation = self.network.installation();
        let at = place_name(self.network, reading.at);
        let (circuit, board) = match reading.at {
            ReadingAt::Circuit(_) => (Some(at), None),
            ReadingAt::Board(_) => (None, Some(at)),
        };
        ReadReport {
            set: reading
                .set
                .iter()
                .map(|set| OperationReport {
                    device: installation.point(set.point).id().to_owned(),
                    from: set.from.clone().unwrap_or_else(|| "unknown".to_owned()),
                    to: set.to.clone(),
                })
                .collect(),
            circuit,
            board,
            between: reading.leads.each_ref().map(|lead: &Lead| lead.text().to_owned()),
            volts: Some(reading.volts),
            at_point: reading.at_point.map(|point| installation.point(point).id().to_owned()),
            suspects: numbers(&reading.suspects),
            if_more: self.outcome_report(&reading.high),
            if_less: self.outcome_report(&reading.low),
        }
    }

    fn outcome_report(&self, outcome: &Outcome) -> OutcomeReport {
        OutcomeReport {
            megohms: outcome.megohms.0,
            suspects: numbers(&outcome.suspects),
            metres: self.metres_of(&outcome.suspects),
            at_least: outcome.at_least,
            contradicts: outcome.contradicts,
        }
    }

    /// Metres of the lengths that some gaps are in, each length once.
    pub fn metres_of(&self, gaps: &[GapId]) -> f64 {
        let metres = |length| self.network.installation().length(length).metres().0;
        // Nothing comes to nought, not to minus nought as an empty sum does.
        self.lengths_of(gaps).into_iter().map(metres).fold(0.0, |all, one| all + one)
    }

    /// The lengths that some gaps are in, in the order of the file.
    pub fn lengths_of(&self, gaps: &[GapId]) -> Vec<crate::model::LengthId> {
        let members = gaps.iter().flat_map(|&gap| self.members(gap));
        let mut lengths: Vec<_> = members
            .filter_map(|member| match member {
                Member::Length { length, .. } => Some(*length),
                _ => None,
            })
            .collect();
        lengths.sort_unstable();
        lengths.dedup();
        lengths
    }

    fn part_report(&self, gap: GapId, parting: &Parting) -> PartReport {
        let installation = self.network.installation();
        let length = |length: &crate::model::LengthId| installation.length(*length).id().to_owned();
        PartReport {
            gap: gap.0,
            at: parting
                .at
                .iter()
                .map(|place| match *place {
                    PartAt::Point(point) => installation.point(point).id().to_owned(),
                    PartAt::Board(board) => installation.board(board).id().to_owned(),
                })
                .collect(),
            terminals: parting.terminals.iter().map(|&terminal| installation.terminal_name(terminal)).collect(),
            parts: parting.parts.iter().map(|part| part.iter().map(length).collect()).collect(),
        }
    }
}

fn numbers(gaps: &[GapId]) -> Vec<u32> {
    gaps.iter().map(|gap| gap.0).collect()
}
