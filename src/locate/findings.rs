//! The findings: what readings say of where the insulation leaks, and what to do next.

use serde::{Deserialize, Serialize};

use super::analysis::State;
use super::assumptions::Assumptions;
use super::evidence::{Evidence, LeftOut};
use super::gaps::{GapId, SideBySide};
use super::next::{Next, next};
use crate::model::{OtherInstallation, TestSet, Volts};
use crate::network::{Network, PairCore};
use crate::observer::{Observer, Unwatched, Watch};

/// What readings say of where the insulation leaks, and the next reading to take.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
#[must_use]
pub struct Findings {
    /// The version of this form of data: 1.
    pub format: u32,
    /// What was assumed beside the readings.
    pub assumed: Assumptions,
    /// How many gaps are in each state.
    pub summary: GapCounts,
    /// What became of each reading, in order.
    pub readings: Vec<UsedReading>,
    /// How many faults it takes to explain the readings.
    pub faults: FaultCount,
    /// Readings that contradict one another, each set by itself.
    pub conflicts: Vec<Conflict>,
    /// The gaps that some reading is about, in order.
    pub gaps: Vec<Gap>,
    /// What to do next.
    pub next: Next,
    /// An observer stopped the work before its end. What is said holds, of the readings that were looked at by then:
    /// gaps that were not are left out and count as not read, `exact` is false unless it was known by then, a conflict
    /// may name more readings than it takes, and `next` is left open.
    #[serde(skip_serializing_if = "std::ops::Not::not", default)]
    pub stopped: bool,
}

/// How many gaps there are, and in each state.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct GapCounts {
    /// All.
    pub gaps: usize,
    /// No leakage that fits the readings is a fault.
    pub cleared: usize,
    /// Some leakages that fit the readings are a fault, some are none.
    pub suspect: usize,
    /// Every leakage that fits the readings is a fault.
    pub certain: usize,
    /// No reading bounds their leakage.
    pub not_read: usize,
    /// Their readings contradict one another.
    pub contradicted: usize,
}

/// What became of one reading.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct UsedReading {
    /// The pass, counted from 1.
    pub pass: usize,
    /// The reading in the pass, counted from 1.
    pub reading: usize,
    /// Why it has no part in the findings; none where it has.
    pub left_out: Option<LeftOut>,
    /// The greatest test voltage that a gap directly across its leads asks for (that of its circuits, or of the board),
    /// where it was taken below that. Insulation that holds at a lower voltage may break down at this one, so that it
    /// bounds the leakage of no such gap from above; what it shows to leak does leak. None where it was taken at that
    /// voltage or above, or the voltage is not recorded.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub taken_below_volts: Option<Volts>,
    /// The least and the greatest conductance that the instrument may have had before it, in µS; none where nothing
    /// bounds it above.
    pub microsiemens: [Option<f64>; 2],
}

/// The fewest faulty gaps that explain the readings, those left out that contradict one another.
///
/// A gap is faulty that leaks more than healthy cable, unless all that together leaks no more than the limit beyond it
/// in each reading.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct FaultCount {
    /// No fewer faults explain the readings.
    pub at_least: usize,
    /// As many faults do explain them: there are leakages that keep all sums of the readings (to one part in 1e12),
    /// with faults in as many gaps and in no others. False too where no such leakages were found.
    pub exact: bool,
    /// One fault explains all readings, and no fewer do.
    pub one_explains_all: bool,
    /// For each set of readings that needs a fault: the gaps that may explain it alone and are not cleared (if it is
    /// one fault, it is in one of these). Where none such is left, those that may explain it alone though each is
    /// cleared: no leakage of one is a fault, so several lesser ones add up. Where no one does, gaps of which one must
    /// be faulty.
    pub suspects: Vec<Vec<GapId>>,
}

/// Readings that can't all be right, whatever leaks where in the model; without any one of them the rest are not shown
/// to be wrong.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Conflict {
    /// As [pass, reading].
    pub readings: Vec<[usize; 2]>,
}

/// One gap: what bounds its leakage, for every leakage that fits the readings.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Gap {
    /// Its number.
    pub gap: GapId,
    /// What follows from the bounds.
    pub state: State,
    /// The least leakage, in µS (1 µS is 1 MΩ).
    pub least_microsiemens: f64,
    /// The greatest, in µS; none where no reading bounds it.
    pub greatest_microsiemens: Option<f64>,
    /// Whether both are the best that follow from the readings' sums: leakages that keep all of them, to one part in
    /// 1e12, come to each.
    pub tight: bool,
    /// What it may leak as healthy cable, in µS.
    pub healthy_microsiemens: f64,
    /// Whether a fault here, and nowhere else in its block of readings, may explain them: false only where the readings
    /// rule that out, true also where the search left it open. Where [`FaultCount::exact`] holds with one fault for
    /// each block, at least one of the block's does explain them.
    pub explains_alone: bool,
    /// Metres of its lengths.
    pub metres: f64,
    /// The places where its two bodies lie side by side.
    pub members: Vec<Member>,
}

/// One place where the two bodies of a gap lie side by side.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
#[non_exhaustive]
pub enum Member {
    /// Two cores of a length, or one and the main earthing terminal (`earth`).
    Length {
        /// The length.
        length: String,
        /// Its cores.
        cores: [String; 2],
        /// How long it is.
        metres: f64,
    },
    /// Two terminals of a point, a way or a board, one of each body; there may be more.
    Accessory {
        /// The point, the way or the board.
        at: String,
        /// The full names of the terminals.
        terminals: [String; 2],
    },
}

impl Findings {
    /// Works out what the readings of a test set say, and what to do next.
    ///
    /// Sound: "cleared" and "certain" hold for every leakage in the model that fits the readings, whichever position
    /// unknown devices were in. Bounds are the best that follow from the sums (see the [module](super)) where
    /// [`Gap::tight`] says so, else weaker; for the plain sums they are not always the best that physics allows.
    ///
    /// Time: that of the coverage, plus what the readings reach, plus at most four linear programs for each set of gaps
    /// that the same readings hold; and the same of its block for each outcome that is worked out for the next reading.
    /// What bounds all this is in [`LocateLimits`](super::LocateLimits).
    ///
    /// # Errors
    ///
    /// Where the test set was checked against another installation: its ids mean nothing in this one.
    ///
    /// # Examples
    ///
    /// ```
    /// use lengthwise::locate::{Assumptions, Findings, Next};
    /// use lengthwise::{Input, Network, read_installation, read_test_set};
    ///
    /// let installation = std::fs::read("examples/landing.toml")?;
    /// let installation = read_installation(Input::toml(&installation))?;
    /// let low = r#"format = 1
    /// [[pass]]
    /// [[pass.reading]]
    /// circuit = "C1"
    /// between = ["L+N", "E"]
    /// megohms = 0.4
    /// "#;
    /// let tests = read_test_set(Input::toml(low.as_bytes()), &installation)?;
    /// let findings = Findings::of(&Network::of(installation), &tests, Assumptions::default())?;
    /// assert_eq!(findings.faults.at_least, 1);
    /// let Next::Read(next) = &findings.next else { panic!("one reading leaves several places") };
    /// assert!(next.if_more.suspects.len() < next.suspects.len());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn of(network: &Network, tests: &TestSet, assumptions: Assumptions) -> Result<Findings, OtherInstallation> {
        Findings::watched(network, tests, assumptions, &mut Unwatched)
    }

    /// The same as [`Findings::of`], watched: whoever watches may stop it. Then less is claimed, never more.
    ///
    /// # Errors
    ///
    /// As [`Findings::of`].
    pub fn watched(
        network: &Network,
        tests: &TestSet,
        assumptions: Assumptions,
        observer: &mut dyn Observer,
    ) -> Result<Findings, OtherInstallation> {
        tests.check_for(network.installation())?;
        let watch = &mut Watch::new(observer);
        let evidence = Evidence::of(network, tests, assumptions, watch);
        let (at_least, exact) = (evidence.fewest_faults(), !watch.is_stopped() && evidence.is_explained());
        let analysis = &evidence.analysis;
        let all = (0..evidence.gaps.count() as u32).map(GapId);
        let gaps: Vec<Gap> =
            all.filter(|gap| analysis.gaps.contains_key(&gap.0)).map(|gap| Gap::of(&evidence, gap)).collect();
        let in_state = |state| gaps.iter().filter(|gap| gap.state == state).count();
        Ok(Findings {
            format: 1,
            assumed: assumptions,
            summary: GapCounts {
                gaps: evidence.gaps.count(),
                cleared: in_state(State::Cleared),
                suspect: in_state(State::Suspect),
                certain: in_state(State::Certain),
                not_read: in_state(State::NotRead) + evidence.gaps.count() - gaps.len(),
                contradicted: in_state(State::Contradicted),
            },
            readings: evidence
                .readings
                .iter()
                .map(|used| UsedReading {
                    pass: used.place[0],
                    reading: used.place[1],
                    left_out: used.left_out,
                    taken_below_volts: used.taken_below,
                    microsiemens: used.conductance.map(finite),
                })
                .collect(),
            faults: FaultCount {
                at_least,
                exact,
                one_explains_all: exact && at_least == 1,
                suspects: analysis.faulty_blocks().map(|block| analysis.suspects(block)).collect(),
            },
            conflicts: evidence.conflicts().map(|readings| Conflict { readings }).collect(),
            gaps,
            next: next(&evidence, exact, watch),
            stopped: watch.is_stopped(),
        })
    }

    /// Whether no fault is needed to explain the readings, and none contradict one another. It does not say that all
    /// was read.
    pub fn is_healthy(&self) -> bool {
        self.faults.at_least == 0 && self.faults.exact && self.conflicts.is_empty()
    }

    /// A gap by its number; none where no reading is about it.
    pub fn gap(&self, gap: GapId) -> Option<&Gap> {
        self.gaps.binary_search_by_key(&gap, |row| row.gap).ok().map(|place| &self.gaps[place])
    }

    /// The gaps in a state, in order, of those that some reading is about.
    pub fn in_state(&self, state: State) -> impl Iterator<Item = &Gap> {
        self.gaps.iter().filter(move |gap| gap.state == state)
    }

    /// The lengths that some gaps are in, each once.
    pub fn lengths_of(&self, gaps: &[GapId]) -> Vec<&str> {
        let mut lengths = Vec::new();
        for member in gaps.iter().filter_map(|&gap| self.gap(gap)).flat_map(|gap| &gap.members) {
            if let Member::Length { length, .. } = member
                && !lengths.contains(&length.as_str())
            {
                lengths.push(length);
            }
        }
        lengths
    }

    /// Whether suspects are cleared, all of them: then no one of them is a fault, and together they leak what was read.
    pub fn adds_up(&self, suspects: &[GapId]) -> bool {
        let is_cleared = |&gap: &GapId| self.gap(gap).is_some_and(|gap| gap.state == State::Cleared);
        !suspects.is_empty() && suspects.iter().all(is_cleared)
    }
}

impl Gap {
    fn of(evidence: &Evidence<'_>, gap: GapId) -> Gap {
        let bounds = evidence.bounds(gap);
        let members = &evidence.gaps.members[gap.index()];
        Gap {
            gap,
            state: bounds.state,
            least_microsiemens: bounds.least,
            greatest_microsiemens: finite(bounds.greatest),
            tight: bounds.tight,
            healthy_microsiemens: evidence.allowances[gap.index()],
            explains_alone: bounds.explains_alone,
            metres: evidence.gaps.metres[gap.index()],
            members: members.iter().map(|member| Member::of(evidence.network, member)).collect(),
        }
    }
}

impl Member {
    fn of(network: &Network, member: &SideBySide) -> Member {
        let installation = network.installation();
        let (at, terminals) = match *member {
            SideBySide::Length { length, cores } => {
                let row = installation.length(length);
                let name = |core| match core {
                    PairCore::Core(core) => row.cores()[core].name().to_owned(),
                    PairCore::Earth => "earth".to_owned(),
                };
                return Member::Length { length: row.id().to_owned(), cores: cores.map(name), metres: row.metres().0 };
            }
            SideBySide::Point { point, terminals } => (installation.point(point).id().to_owned(), terminals),
            SideBySide::Way { way, terminals } => (installation.way_name(way), terminals),
            SideBySide::Board { board, terminals } => (installation.board(board).id().to_owned(), terminals),
        };
        Member::Accessory { at, terminals: terminals.map(|terminal| installation.terminal_name(terminal)) }
    }
}

fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}
