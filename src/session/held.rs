//! An installation that is held, with a test set that is entered bit by bit.

use serde::Serialize;

use super::boxes::{terminations_at, works_at};
use super::check::{CheckReport, FileError, Noticed, TextsRead};
use super::names::Names;
use super::planned::{OptionError, PlanOptions, Planned, PlannedPasses};
use super::question::{Give, RulesText, SessionQuestion, SourceText};
use super::visible::write_json;
use crate::coverage::{Coverage, CoverageChange, CoverageSummary, LiveCoverage};
use crate::draw::{Drawing, DrawnState, Orientation, UnknownCircuit};
use crate::input::{
    FillError, Input, InputErrors, Language, append_passes, empty_test_set, expand_runs, fill_values, read_record,
    read_ruleset, read_test_set,
};
use crate::judge::Judgement;
use crate::locate::{Assumptions, Findings, Next};
use crate::model::{OtherInstallation, PassDraft, TestSet};
use crate::network::Need;
use crate::observer::Observer;
use crate::prepare::Preparation;
use crate::rules::Ruleset;
use crate::wiring::UnknownBox;

/// Holds an installation and a test set of it, and answers questions of them: texts in, and out what the command prints
/// with `--json`, byte for byte.
///
/// The installation is read once. Of each test set that is entered after another one, only what differs is looked at.
///
/// ```
/// use lengthwise::Unwatched;
/// use lengthwise::session::{Session, Status};
///
/// let landing = std::fs::read_to_string("examples/landing.toml")?;
/// let mut session = Session::default();
/// let open = serde_json::json!({ "ask": "open", "installation": { "toml": landing } });
/// assert_eq!(session.ask(&open.to_string(), &mut Unwatched).status, Status::Done);
///
/// let tests = r#"{ "format": 1, "pass": [{ "reading": [{ "circuit": "C1", "between": ["L", "E"] }] }] }"#;
/// let enter = serde_json::json!({ "ask": "enter", "test_set": { "json": tests } });
/// let entered = session.ask(&enter.to_string(), &mut Unwatched);
/// let entered: serde_json::Value = serde_json::from_str(&entered.text)?;
/// assert_eq!(entered["readings"].as_array().map(Vec::len), Some(1));
/// assert_eq!(entered["summary"]["tested"], entered["tested"].as_array().expect("a list").len());
///
/// let plan = session.ask(r#"{ "ask": "plan", "options": { "people": "two" } }"#, &mut Unwatched);
/// assert!(plan.text.starts_with("{\n  \"format\": 1,\n"));
/// // What is refused changes nothing, and tells everything that is wrong.
/// let wrong = session.ask(r#"{ "ask": "plan", "options": { "without": ["cellar"], "leave": ["E9"] } }"#, &mut Unwatched);
/// let options = serde_json::from_str::<serde_json::Value>(&wrong.text)?["options"].clone();
/// assert_eq!((wrong.status, options.as_array().map(Vec::len)), (Status::Refused, Some(2)));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Default)]
pub struct Session {
    held: Option<Opened>,
}

/// What a session says.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
#[must_use]
pub struct Reply {
    /// Whether it is an answer.
    pub status: Status,
    /// JSON; or the text of a file, where the question is for one.
    pub text: String,
}

/// Whether a session answers. The numbers are the command's exit status.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum Status {
    /// It does.
    Done = 0,
    /// What it was told is wrong: the text is JSON with everything that is. What the session holds is as before.
    Refused = 2,
}

/// What is wrong with what a session was told: beside the keys of `check --json`, those of other places.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Refusal {
    /// What is wrong with texts.
    #[serde(flatten)]
    pub texts: CheckReport,
    /// What is wrong with the ruleset.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub ruleset: Vec<FileError>,
    /// What is wrong with the question.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub options: Vec<OptionReport>,
}

/// What is wrong with one option of a question.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct OptionReport {
    /// The option; `ask` where it is the question.
    pub option: &'static str,
    /// What is wrong.
    pub error: String,
    /// What to do next.
    pub mend: String,
}

/// What a test set that was entered changes, and the totals with it.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Entered {
    /// The format of this data; 1.
    pub format: u32,
    /// What became of the readings that were looked at, and what is tested now or no longer.
    #[serde(flatten)]
    pub change: CoverageChange,
    /// The totals, as of `cover`.
    pub summary: CoverageSummary,
}

/// What `rules --json` prints.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct RulesReport<'r> {
    /// The format of this data; 1.
    pub format: u32,
    /// The rulesets.
    pub rulesets: Vec<&'r Ruleset>,
}

impl<'r> RulesReport<'r> {
    /// Of these.
    pub fn of(rulesets: Vec<&'r Ruleset>) -> RulesReport<'r> {
        RulesReport { format: 1, rulesets }
    }
}

#[derive(Debug)]
struct Opened {
    installation: SourceText,
    test_set: Option<SourceText>,
    need: Need,
    live: LiveCoverage,
    /// The last plan, for its record.
    planned: Option<(PlanOptions, Planned)>,
    /// The last findings, for their record.
    found: Option<(Assumptions, Findings)>,
}

impl Session {
    /// Answers a question that is written as JSON: a [`SessionQuestion`].
    ///
    /// Time as of the question. An observer may stop it; the answer then says so, as the library's does.
    pub fn ask(&mut self, question: &str, observer: &mut dyn Observer) -> Reply {
        let answered = match serde_json::from_str(question) {
            Ok(question) => self.answer(question, observer),
            Err(error) => Err(Refusal::option("ask", error.to_string(), "ask as FORMAT.md says")),
        };
        match answered {
            Ok(text) => Reply { status: Status::Done, text },
            Err(refusal) => Reply { status: Status::Refused, text: json(&*refusal) },
        }
    }

    /// Answers a question.
    ///
    /// # Errors
    ///
    /// Everything that is wrong with it. What is held is as before.
    pub fn answer(&mut self, question: SessionQuestion, observer: &mut dyn Observer) -> Result<String, Box<Refusal>> {
        if let SessionQuestion::Open { installation, test_set, rules, need } = question {
            let (held, report) = Opened::open(installation, test_set, &rules, need, observer)?;
            self.held = Some(held);
            return Ok(json(&report));
        }
        match &mut self.held {
            Some(held) => held.answer(question, observer),
            None => Err(Refusal::option("ask", "no installation is open", "ask `open` first")),
        }
    }
}

impl Opened {
    fn open(
        installation: SourceText,
        test_set: Option<SourceText>,
        rules: &RulesText,
        need: Need,
        observer: &mut dyn Observer,
    ) -> Result<(Opened, CheckReport), Box<Refusal>> {
        let ruleset = match rules {
            RulesText::Standard(standard) => Ok(standard.ruleset().clone()),
            RulesText::Toml(text) => read_ruleset(Input::toml(text)),
            RulesText::Json(text) => read_ruleset(Input::json(text)),
        };
        let (report, opened) =
            CheckReport::with_what_is_read(installation.input(), test_set.as_ref().map(SourceText::input));
        let (ruleset, TextsRead { network, test_set: tests }) = match (ruleset, opened) {
            (Ok(ruleset), Some(opened)) => (ruleset, opened),
            (ruleset, _) => {
                let ruleset = ruleset.err().as_ref().map(FileError::all_of).unwrap_or_default();
                return Err(Box::new(Refusal { texts: report, ruleset, options: Vec::new() }));
            }
        };
        let network = network.with_ruleset(ruleset);
        let live = LiveCoverage::watched(network, tests.unwrap_or_default(), need, observer)?;
        Ok((Opened { installation, test_set, need, live, planned: None, found: None }, report))
    }

    fn answer(&mut self, question: SessionQuestion, observer: &mut dyn Observer) -> Result<String, Box<Refusal>> {
        let network = self.live.network();
        // What was entered, read and as a text.
        let entered = self.test_set.as_ref().map(|text| (self.live.test_set(), text));
        let entered = entered.ok_or_else(|| {
            Refusal::option("ask", "this question is of a test set, and there is none", "`enter` one first")
        });
        match question {
            SessionQuestion::Open { .. } => unreachable!("the session opens"),
            SessionQuestion::Enter { test_set } => self.enter(test_set, observer),
            SessionQuestion::Check {} => {
                let noticed = Some(Noticed::of(network));
                let test_set = entered.ok().map(|_| Vec::new());
                Ok(json(&CheckReport { format: 1, installation: Vec::new(), test_set, noticed }))
            }
            SessionQuestion::Cover { need } => {
                let (tests, _) = entered?;
                let need = need.unwrap_or(self.need);
                if need != self.need {
                    return Ok(json(&Coverage::watched(network, tests, need, observer)?));
                }
                if self.live.is_stopped() {
                    let _ = self.live.go_on(observer);
                }
                Ok(json(&self.live.coverage()))
            }
            SessionQuestion::Judge { need } => {
                let (_, text) = entered?;
                let record = read_record(text.input(), network.installation()).map_err(Refusal::test_set)?;
                Ok(json(&Judgement::watched(network, &record, need.unwrap_or(self.need), observer)?))
            }
            SessionQuestion::Plan { options, give } => {
                // What is written down is what was shown, be it that its search was stopped.
                let is_held = |(of, planned): &(PlanOptions, Planned)| {
                    *of == options && (give != Give::Answer || !planned.plan.stopped)
                };
                if !self.planned.as_ref().is_some_and(is_held) {
                    let request = options.request(network.installation()).map_err(Refusal::options)?;
                    let tests = entered.ok().map(|(tests, _)| tests);
                    let planned = Planned::of(network, tests, &request, options.pace, observer)?;
                    self.planned = Some((options, planned));
                }
                let (_, planned) = self.planned.as_ref().expect("it was planned");
                match give {
                    Give::Answer => Ok(json(&planned.plan)),
                    Give::Record => self.with_passes(&planned.to_passes(network.installation()).in_order()),
                    Give::Passes => Ok(json(&planned.to_passes(network.installation()))),
                }
            }
            SessionQuestion::Locate { assumptions, give } => {
                let (tests, _) = entered?;
                let is_held = |(of, found): &(Assumptions, Findings)| {
                    *of == assumptions && (give != Give::Answer || !found.stopped)
                };
                if !self.found.as_ref().is_some_and(is_held) {
                    self.found = Some((assumptions, Findings::watched(network, tests, assumptions, observer)?));
                }
                let (_, found) = self.found.as_ref().expect("it was located");
                let pass = match &found.next {
                    Next::Read(reading) => Some(reading.to_pass(network, tests)?),
                    _ => None,
                };
                match give {
                    Give::Answer => Ok(json(found)),
                    Give::Record => self.with_passes(pass.as_slice()),
                    Give::Passes => {
                        let rounds = pass.into_iter().collect();
                        Ok(json(&PlannedPasses { format: 1, before: None, rounds }))
                    }
                }
            }
            SessionQuestion::Fill { values } => {
                let (_, text) = entered?;
                let values: Vec<([usize; 2], &str)> = values.iter().map(|(of, value)| (*of, value.as_str())).collect();
                fill_values(text.input(), &values).map_err(|error| match error {
                    FillError::Input(errors) => Refusal::test_set(errors),
                    error => Refusal::option("values", error.to_string(), "give values of readings that wait for one"),
                })
            }
            SessionQuestion::Prepare {} => Ok(json(&Preparation::watched(network, observer))),
            SessionQuestion::Works { boxes } => Ok(json(&works_at(network, &boxes)?)),
            SessionQuestion::Terminations { boxes } => Ok(json(&terminations_at(network.installation(), &boxes)?)),
            SessionQuestion::Network {} => Ok(json(&network.report())),
            SessionQuestion::Expand {} => expand_runs(self.installation.input()).map_err(Refusal::installation),
            SessionQuestion::Names {} => Ok(json(&Names::of(network.installation()))),
            SessionQuestion::Draw { circuits, down, need } => {
                let orientation = if down { Orientation::Down } else { Orientation::Across };
                let drawing = match circuits.as_slice() {
                    [] => Drawing::of(network, orientation),
                    named => Drawing::of_named(network, named, orientation)?,
                };
                let shown = match entered.ok() {
                    Some((tests, _)) => DrawnState::after(network, tests, need.unwrap_or(self.need))?,
                    None => DrawnState::wiring(network, &TestSet::default())?,
                };
                Ok(drawing.svg(&shown)?)
            }
            SessionQuestion::Append { test_set, passes } => with_passes(test_set.as_ref(), &passes),
            SessionQuestion::Rules {} => Ok(json(&RulesReport::of(vec![network.ruleset()]))),
        }
    }

    fn enter(&mut self, test_set: Option<SourceText>, observer: &mut dyn Observer) -> Result<String, Box<Refusal>> {
        let tests = match &test_set {
            Some(text) => read_test_set(text.input(), self.live.network().installation()).map_err(Refusal::test_set)?,
            None => TestSet::default(),
        };
        let change = self.live.replace(tests, observer)?;
        self.test_set = test_set;
        (self.planned, self.found) = (None, None);
        Ok(json(&Entered { format: 1, change, summary: self.live.summary() }))
    }

    /// The test set with further passes, as a text.
    fn with_passes(&self, passes: &[PassDraft]) -> Result<String, Box<Refusal>> {
        with_passes(self.test_set.as_ref(), passes)
    }
}

fn with_passes(test_set: Option<&SourceText>, passes: &[PassDraft]) -> Result<String, Box<Refusal>> {
    let text = test_set.map_or_else(|| empty_test_set(Language::Toml), SourceText::input);
    append_passes(text, passes).map_err(Refusal::test_set)
}

/// An answer as the command prints it.
fn json(answer: &impl Serialize) -> String {
    let mut bytes = Vec::new();
    write_json(&mut bytes, answer).expect("it is written to memory");
    String::from_utf8(bytes).expect("JSON is UTF-8")
}

impl Refusal {
    fn texts(texts: CheckReport) -> Box<Refusal> {
        Box::new(Refusal { texts, ruleset: Vec::new(), options: Vec::new() })
    }

    fn installation(errors: InputErrors) -> Box<Refusal> {
        Refusal::texts(CheckReport { installation: FileError::all_of(&errors), ..CheckReport::nothing() })
    }

    fn test_set(errors: InputErrors) -> Box<Refusal> {
        Refusal::texts(CheckReport { test_set: Some(FileError::all_of(&errors)), ..CheckReport::nothing() })
    }

    fn rows(options: Vec<OptionReport>) -> Box<Refusal> {
        let texts = CheckReport::nothing();
        Box::new(Refusal { texts, ruleset: Vec::new(), options })
    }

    fn option(option: &'static str, error: impl Into<String>, mend: &str) -> Box<Refusal> {
        Refusal::rows(vec![OptionReport { option, error: error.into(), mend: mend.to_owned() }])
    }

    fn options(errors: Vec<OptionError>) -> Box<Refusal> {
        let report =
            |row: &OptionError| OptionReport { option: row.option(), error: row.to_string(), mend: row.mend() };
        Refusal::rows(errors.iter().map(report).collect())
    }
}

impl From<Vec<UnknownBox>> for Box<Refusal> {
    fn from(unknown: Vec<UnknownBox>) -> Box<Refusal> {
        let report = |row: &UnknownBox| OptionReport { option: "boxes", error: row.to_string(), mend: row.mend() };
        Refusal::rows(unknown.iter().map(report).collect())
    }
}

impl From<Vec<UnknownCircuit>> for Box<Refusal> {
    fn from(unknown: Vec<UnknownCircuit>) -> Box<Refusal> {
        let report =
            |row: &UnknownCircuit| OptionReport { option: "circuits", error: row.to_string(), mend: row.mend() };
        Refusal::rows(unknown.iter().map(report).collect())
    }
}

impl From<OtherInstallation> for Box<Refusal> {
    fn from(error: OtherInstallation) -> Box<Refusal> {
        Refusal::option("test_set", error.to_string(), "enter it anew")
    }
}
