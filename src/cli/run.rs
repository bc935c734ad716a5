//! Carries out a command.

use std::borrow::Cow;
use std::ffi::OsString;
use std::io::{BufWriter, IsTerminal, Write};
use std::path::Path;
use std::process::ExitCode;

use clap::Parser;
use serde::Serialize;

use super::arguments::{AllowArgument, Arguments, Command, PlanArguments, PreferArgument, Question};
use super::diagnostics::{self, Colour};
use super::text::layout::{self, Page, count};
use super::watching::Watching;
use super::{judge_csv, text};
use crate::coverage::Coverage;
use crate::input::{self, InputErrors};
use crate::judge::{Judgement, Verdict};
use crate::locate::Locate;
use crate::model::{Installation, TestSet};
use crate::network::{Need, Network};
use crate::plan::{Afterwards, ExtraKind, LeadJoining, Plan, Priority, Request, RequestError, SwitchWork};
use crate::prepare::Preparation;
use crate::rules::{Ruleset, Standard};

/// Done.
const DONE: u8 = 0;
/// Done, and the answer is that something fails or is missing.
const MISSING: u8 = 1;
/// The input is wrong.
const WRONG_INPUT: u8 = 2;

/// Runs the command with these arguments (the program's name first) and tells its exit status.
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    let arguments = match Arguments::try_parse_from(arguments) {
        Ok(arguments) => arguments,
        Err(error) => {
            // Help and version go to standard output with status 0, mistakes to standard error with status 2.
            let wrong = error.use_stderr();
            let _ = error.print();
            return ExitCode::from(if wrong { WRONG_INPUT } else { DONE });
        }
    };
    // The JSON of a large installation is several times as large as its file, so it is written as it is made.
    let mut out = BufWriter::with_capacity(1 << 16, std::io::stdout().lock());
    match answer(&arguments.command, &mut out) {
        Ok(status) => {
            // A reader that has gone away (a pager closed early) is no error of ours.
            let _ = out.flush();
            ExitCode::from(status)
        }
        Err(text) => {
            let _ = std::io::stderr().lock().write_all(text.as_bytes());
            ExitCode::from(WRONG_INPUT)
        }
    }
}

/// Answers a command and tells the exit status; where the input is wrong, nothing is written and the errors are given.
fn answer(command: &Command, out: &mut impl Write) -> Result<u8, String> {
    match command {
        Command::Check { files, json: true } => {
            let report = check_as_data(&files.installation, files.test_set.as_deref())?;
            write_json(out, &report);
            Ok(if report.is_right() { DONE } else { WRONG_INPUT })
        }
        Command::Check { files, json: false } => {
            write_text(out, &check(&files.installation, files.test_set.as_deref())?);
            Ok(DONE)
        }
        Command::Cover { files, question } => {
            let (installation, tests) = both(&files.installation, &files.test_set, TEST_SET)?;
            let network = Network::of(installation);
            let need = question.need.into();
            let coverage = Coverage::of(&network, &tests, need);
            if question.json {
                write_json(out, &coverage);
            } else {
                write_text(out, &text::coverage::render(&network, &coverage, &tests, need));
            }
            Ok(status(question, coverage.is_complete()))
        }
        Command::Judge { files, rules, question, csv } => {
            let files = both(&files.installation, &files.test_set, RECORD);
            let (ruleset, (installation, tests)) = all_of(ruleset(&rules.rules), files)?;
            let network = Network::of(installation);
            let judgement = Judgement::of(&network, &tests, &ruleset, question.need.into());
            if *csv {
                judge_csv::write(out, &judgement);
            } else if question.json {
                write_json(out, &judgement.report());
            } else {
                write_text(out, &text::judge::render(&judgement));
            }
            Ok(status(question, judgement.verdict() < Verdict::NotComplete))
        }
        Command::Plan { files, question, time_limit, request } => {
            let (installation, tests) = match files.test_set.as_deref() {
                Some(path) => both(&files.installation, path, TEST_SET).map(|(one, other)| (one, Some(other)))?,
                None => (installation(&files.installation)?, None),
            };
            let request = self::request(&installation, question, request)?;
            let network = Network::of(installation);
            let plan = {
                let mut watching = Watching::begin(*time_limit);
                Plan::with(&network, tests.as_ref(), &request, &mut watching)
            };
            if question.json {
                write_json(out, &plan.report());
            } else {
                write_text(out, &text::plan::render(&network, &plan));
            }
            Ok(status(question, plan.is_complete()))
        }
        Command::Prepare { installation: path, rules, json } => {
            let (ruleset, installation) = all_of(ruleset(&rules.rules), installation(path))?;
            let network = Network::of(installation);
            let preparation = Preparation::of(&network, &ruleset);
            if *json {
                write_json(out, &preparation);
            } else {
                write_text(out, &text::prepare::render(network.installation(), &preparation));
            }
            Ok(DONE)
        }
        Command::Rules { rules, json } => {
            let named = rules.rules.as_deref().map(ruleset).transpose()?;
            let rulesets: Vec<&Ruleset> = match &named {
                Some(ruleset) => vec![ruleset],
                None => Standard::ALL.iter().map(|standard| standard.ruleset()).collect(),
            };
            if *json {
                write_json(out, &RulesReport { format: 1, rulesets });
            } else {
                write_text(out, &text::rules::render(&rulesets));
            }
            Ok(DONE)
        }
        Command::Locate { files, assumed, json, strict } => {
            let assumptions = text::locate::assumptions(assumed)?;
            let (installation, tests) = both(&files.installation, &files.test_set, TEST_SET)?;
            let network = Network::of(installation);
            let locate = Locate::of(&network, &tests, assumptions);
            if *json {
                write_json(out, &locate.report());
            } else {
                write_text(out, &text::locate::render(&network, &locate, &tests));
            }
            Ok(if *strict && !locate.is_healthy() { MISSING } else { DONE })
        }
        Command::Network { installation: path, json } => {
            let installation = installation(path)?;
            let network = Network::of(installation);
            if *json {
                write_json(out, &network.report());
            } else {
                write_text(out, &text::coverage::render_network(&network));
            }
            Ok(DONE)
        }
    }
}

/// What the options ask for; every name that is not there is an error of its own.
fn request(installation: &Installation, question: &Question, arguments: &PlanArguments) -> Result<Request, String> {
    let mut request = Request::from(Need::from(question.need));
    let mut errors = String::new();
    let mut note = |option: &str, name: &str, outcome: Result<(), RequestError>| {
        if let Err(fault) = outcome {
            errors.push_str(&format!("error: --{option} {name}: {fault}\n  help: {}\n", fault.mend()));
        }
    };
    for name in &arguments.without {
        note("without", name, request.do_without(installation, name));
    }
    for name in &arguments.leave {
        note("leave", name, request.leave_alone(installation, name));
    }
    if arguments.restore {
        request.afterwards = Afterwards::AsFound;
    }
    if arguments.each_switch {
        request.switches = SwitchWork::Each;
    }
    if arguments.fewest_readings {
        request.joining = LeadJoining::Fewest;
    }
    request.priority = match arguments.prefer {
        PreferArgument::Operations => Priority::Operations,
        PreferArgument::Stops => Priority::Stops,
    };
    request.allow.extend(arguments.allow.iter().map(|sort| match sort {
        AllowArgument::Points => ExtraKind::Points,
        AllowArgument::Lamps => ExtraKind::Lamps,
        AllowArgument::Links => ExtraKind::Links,
    }));
    if errors.is_empty() { Ok(request) } else { Err(errors) }
}

fn status(question: &Question, complete: bool) -> u8 {
    if question.strict && !complete { MISSING } else { DONE }
}

// Neither of these tells of a reader that has gone away, for nothing is to be done about it.

fn write_text(out: &mut impl Write, text: &str) {
    let _ = out.write_all(text.as_bytes());
}

fn write_json(out: &mut impl Write, report: &impl Serialize) {
    if serde_json::to_writer_pretty(&mut *out, report).is_ok() {
        write_text(out, "\n");
    }
}

fn check(installation_path: &Path, test_set_path: Option<&Path>) -> Result<String, String> {
    let (installation, tests) = match test_set_path {
        Some(path) => both(installation_path, path, TEST_SET).map(|(one, other)| (one, Some((path, other))))?,
        None => (installation(installation_path)?, None),
    };
    let mut page = Page::default();
    let metres: f64 = installation.lengths().map(|(_, length)| length.metres().0).sum();
    page.paragraph(
        0,
        2,
        &format!(
            "{}: no errors; {}, {}, {}, {}, {}",
            installation_path.display(),
            count(installation.boards().len(), "board"),
            count(installation.circuits().len(), "circuit"),
            count(installation.points().len(), "point"),
            count(installation.lengths().len(), "length"),
            layout::metres(metres),
        ),
    );
    if let Some((path, tests)) = tests {
        let readings = tests.passes().iter().map(|pass| pass.readings().len()).sum();
        let passes = tests.passes().len();
        page.paragraph(
            0,
            2,
            &format!(
                "{}: no errors; {passes} {}, {}",
                path.display(),
                if passes == 1 { "pass" } else { "passes" },
                count(readings, "reading"),
            ),
        );
    }
    text::coverage::without_role(&mut page, &Network::of(installation));
    Ok(page.into_text())
}

/// What `check --json` prints; no paths, so that the same files give the same bytes wherever they lie.
#[derive(Serialize)]
struct CheckReport {
    format: u32,
    installation: Vec<ErrorReport>,
    /// Null where there is no test set, or where the installation has errors and none was found in the test set by itself.
    test_set: Option<Vec<ErrorReport>>,
}

impl CheckReport {
    fn is_right(&self) -> bool {
        self.installation.is_empty() && self.test_set.as_ref().is_none_or(Vec::is_empty)
    }
}

#[derive(Serialize)]
struct ErrorReport {
    line: Option<usize>,
    column: Option<usize>,
    error: String,
    mend: String,
}

fn error_reports(errors: &InputErrors) -> Vec<ErrorReport> {
    let report = |error: &input::InputError| ErrorReport {
        line: error.place.map(|place| place.line),
        column: error.place.map(|place| place.column),
        error: error.to_string(),
        mend: error.mend(),
    };
    errors.errors().iter().map(report).collect()
}

fn check_as_data(installation_path: &Path, test_set_path: Option<&Path>) -> Result<CheckReport, String> {
    let bytes = read(installation_path)?;
    let tests = test_set_path.map(read).transpose()?;
    let mut report = CheckReport { format: 1, installation: Vec::new(), test_set: None };
    match input::read_installation(&installation_path.to_string_lossy(), &bytes) {
        Err(errors) => {
            report.installation = error_reports(&errors);
            if let (Some(path), Some(bytes)) = (test_set_path, tests) {
                let alone = input::look_over_test_set(&path.to_string_lossy(), &bytes);
                report.test_set = alone.err().as_ref().map(error_reports);
            }
        }
        Ok(installation) => {
            if let (Some(path), Some(bytes)) = (test_set_path, tests) {
                let read = input::read_test_set(&path.to_string_lossy(), &bytes, &installation);
                report.test_set = Some(read.err().as_ref().map(error_reports).unwrap_or_default());
            }
        }
    }
    Ok(report)
}

fn installation(path: &Path) -> Result<Installation, String> {
    let bytes = read(path)?;
    input::read_installation(&path.to_string_lossy(), &bytes).map_err(rendered)
}

/// How a test set is read with its installation, and looked over without.
type ReadTests =
    (fn(&str, &[u8], &Installation) -> Result<TestSet, InputErrors>, fn(&str, &[u8]) -> Result<(), InputErrors>);

const TEST_SET: ReadTests = (input::read_test_set, input::look_over_test_set);
const RECORD: ReadTests = (input::read_record, input::look_over_record);

/// Reads an installation and a test set of it. Where the installation is wrong, what is wrong with the test set by itself is
/// told too.
fn both(path: &Path, tests: &Path, (with, without): ReadTests) -> Result<(Installation, TestSet), String> {
    let name = tests.to_string_lossy();
    match installation(path) {
        Ok(installation) => {
            let tests = with(&name, &read(tests)?, &installation).map_err(rendered)?;
            Ok((installation, tests))
        }
        Err(errors) => {
            let alone = read(tests).and_then(|bytes| without(&name, &bytes).map_err(rendered));
            Err(format!(
                "{errors}{}\nnot looked at yet: what {name} says of the installation\n",
                alone.err().unwrap_or_default()
            ))
        }
    }
}

/// Both, or all that is wrong with either.
fn all_of<A, B>(one: Result<A, String>, other: Result<B, String>) -> Result<(A, B), String> {
    match (one, other) {
        (Ok(one), Ok(other)) => Ok((one, other)),
        (Err(one), Err(other)) => Err(format!("{one}{other}")),
        (Err(errors), Ok(_)) | (Ok(_), Err(errors)) => Err(errors),
    }
}

/// A ruleset of the package by its id, or else one in a file.
fn ruleset(name: &Path) -> Result<Cow<'static, Ruleset>, String> {
    if let Some(standard) = Standard::ALL.iter().find(|standard| name == Path::new(standard.id())) {
        return Ok(Cow::Borrowed(standard.ruleset()));
    }
    let bytes = read(name)?;
    input::read_ruleset(&name.to_string_lossy(), &bytes).map(Cow::Owned).map_err(rendered)
}

/// What `rules --json` prints.
#[derive(Serialize)]
struct RulesReport<'r> {
    format: u32,
    rulesets: Vec<&'r Ruleset>,
}

fn rendered(errors: InputErrors) -> String {
    let plain = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
    let colour = if std::io::stderr().is_terminal() && !plain { Colour::Terminal } else { Colour::Without };
    diagnostics::render(&errors, diagnostics::Options { colour, ..diagnostics::Options::default() })
}

/// Reads a file, but no more of it than one byte past the largest that is taken: the reader then says that it is too
/// large, and memory stays bounded whatever the file is.
fn read(path: &Path) -> Result<Vec<u8>, String> {
    let refused = |error: std::io::Error| {
        format!("error: {} can't be read: {error}\n  help: name a file that exists and may be read\n", path.display())
    };
    let file = std::fs::File::open(path).map_err(refused)?;
    let mut bytes = Vec::new();
    std::io::Read::read_to_end(&mut std::io::Read::take(file, input::LARGEST_FILE + 1), &mut bytes).map_err(refused)?;
    Ok(bytes)
}
