//! Carries out a command.

use std::ffi::OsString;
use std::io::{self, Write};
use std::process::ExitCode;

use clap::{CommandFactory, FromArgMatches};
use serde::Serialize;

use super::arguments::{Arguments, Command, PictureArgument};
use super::check;
use super::explain;
use super::files::{FileReader, FileTests, FileText, all_of, fill, write_form, write_new};
use super::output::{Output, refusal};
use super::terminal::Terminal;
use super::text::layout::Page;
use super::watching::Watching;
use super::{form_csv, judge_csv, text};
use crate::coverage::Coverage;
use crate::draw::{Drawing, DrawnState, Orientation, UnknownCircuit};
use crate::input::{Purpose, Standard, json_schema};
use crate::judge::{Judgement, Verdict};
use crate::locate::{Findings, Next};
use crate::model::TestSet;
use crate::network::Network;
use crate::page::{PageFiles, page_of};
use crate::prepare::Preparation;
use crate::rules::Ruleset;
use crate::session::{CheckReport, Noticed, OptionError, Planned, RulesReport, terminations_at, works_at};
use crate::visible::visible;
use crate::wiring::UnknownBox;

/// Done.
const DONE: u8 = 0;
/// Done, and the answer is that something fails or is missing.
const MISSING: u8 = 1;
/// The input is wrong, or the answer can't be written.
const REFUSED: u8 = 2;

/// Runs the command with these arguments (the program's name first) and tells its exit status.
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    let command = Arguments::command().term_width(Terminal::of_answers().width);
    let matches = command.try_get_matches_from(arguments);
    let arguments = match matches.and_then(|matches| Arguments::from_arg_matches(&matches)) {
        Ok(arguments) => arguments,
        Err(error) => {
            // Help and version go to standard output with status 0, mistakes to standard error with status 2.
            if error.use_stderr() {
                // Where even that can't be written, the exit status has to do.
                let _ = error.print();
                return ExitCode::from(REFUSED);
            }
            let (help, mut out) = (error.render(), Output::new());
            out.with(|out| match Terminal::of_answers().shows_colour {
                true => write!(out, "{}", help.ansi()),
                false => write!(out, "{help}"),
            });
            return done(DONE, out.finish());
        }
    };
    arguments.colour.write_global();
    let mut out = Output::new();
    let reader = FileReader::new(arguments.language.map(Into::into));
    match answer(&arguments.command, &reader, &mut out) {
        Ok(status) => done(status, out.finish()),
        Err(text) => {
            refuse(&text);
            ExitCode::from(REFUSED)
        }
    }
}

/// The exit status of what is done, once it is written.
fn done(status: u8, written: io::Result<()>) -> ExitCode {
    match written {
        Ok(()) => ExitCode::from(status),
        Err(error) => {
            refuse(&refusal(format!("the answer can't be written: {error}"), "give it more room, or another place"));
            ExitCode::from(REFUSED)
        }
    }
}

/// Says on standard error why there is no answer. Where even that can't be written, the exit status has to do.
fn refuse(text: &str) {
    let _ = io::stderr().lock().write_all(text.as_bytes());
}

/// Answers a command and tells the exit status; where the input is wrong, nothing is written and the errors are given.
fn answer(command: &Command, reader: &FileReader, out: &mut Output) -> Result<u8, String> {
    match command {
        Command::Check { files, json: false, strict } => {
            let (installation, tests) = reader.with_or_without_tests(files)?;
            let network = Network::of(installation);
            let noticed = Noticed::of(&network);
            let tests = tests.map(|tests| tests.tests);
            out.text(|page| check::render(page, files, network.installation(), tests, &noticed));
            Ok(status(*strict, noticed.warnings.is_empty()))
        }
        Command::Check { files, json: true, strict } => {
            let installation = reader.text(&files.installation)?;
            let tests = files.test_set.as_ref().map(|path| reader.text(path)).transpose()?;
            let report = CheckReport::of(installation.input(), tests.as_ref().map(FileText::input));
            out.json(&report);
            Ok(if report.is_right() { status(*strict, !report.warns()) } else { REFUSED })
        }
        Command::Cover { files, rules, question } => {
            let files = reader.both(&files.installation, &files.test_set, Purpose::Coverage);
            let (ruleset, (installation, FileTests { tests, .. })) = all_of(reader.ruleset(&rules.rules), files)?;
            let network = Network::of(installation).with_ruleset(ruleset);
            let need = question.need.into();
            let coverage = Coverage::of(&network, &tests, need).map_err(error)?;
            write(out, question.json, &coverage, |page| {
                text::coverage::render(page, &network, &coverage, &tests, need)
            });
            Ok(status(question.strict, coverage.is_complete()))
        }
        Command::Judge { files, rules, question, csv } => {
            let files = reader.both(&files.installation, &files.test_set, Purpose::Record);
            let (ruleset, (installation, FileTests { tests, .. })) = all_of(reader.ruleset(&rules.rules), files)?;
            let network = Network::of(installation).with_ruleset(ruleset);
            let judgement = Judgement::of(&network, &tests, question.need.into()).map_err(error)?;
            if *csv {
                out.with(|out| judge_csv::write(out, network.installation(), &judgement));
            } else {
                write(out, question.json, &judgement, |page| text::judge::render(page, &network, &judgement));
            }
            Ok(status(question.strict, judgement.verdict < Verdict::NotComplete))
        }
        Command::Plan { files, rules, question, time_limit, effort, record, request } => {
            let (ruleset, (installation, before)) =
                all_of(reader.ruleset(&rules.rules), reader.with_or_without_tests(files))?;
            let options = request.options(question.need.into());
            let request = options.request(&installation).map_err(refused_options)?;
            let network = Network::of(installation).with_ruleset(ruleset).with_limits(effort.limits());
            let tests = before.as_ref().map(|before| &before.tests);
            let planned = {
                let mut watching = Watching::begin(time_limit.0);
                Planned::of(&network, tests, &request, options.pace, &mut watching)
            }
            .map_err(error)?;
            if let Some(path) = record {
                let passes = planned.to_passes(network.installation()).in_order();
                write_form(path, before.as_ref().map(|before| &before.text), &passes)?;
            }
            let Planned { start, plan, .. } = &planned;
            write(out, question.json, plan, |page| text::plan::render(page, &network, &request, start, plan));
            Ok(status(question.strict, plan.is_complete()))
        }
        Command::Fill { files, values, record } => {
            let (installation, FileTests { tests, text }) =
                reader.both(&files.installation, &files.test_set, Purpose::Coverage)?;
            match values.as_ref().zip(record.as_ref()) {
                Some((values, record)) => fill(record, &text, &reader.text(values)?)?,
                None => out.with(|out| form_csv::write(out, &installation, &tests)),
            }
            Ok(DONE)
        }
        Command::Prepare { installation: path, rules, json } => {
            let (ruleset, installation) = all_of(reader.ruleset(&rules.rules), reader.installation(path))?;
            let network = Network::of(installation).with_ruleset(ruleset);
            let preparation = Preparation::of(&network);
            write(out, *json, &preparation, |page| text::prepare::render(page, &network, &preparation));
            Ok(DONE)
        }
        Command::Rules { rules, json } => {
            let named = rules.rules.as_deref().map(|name| reader.ruleset(name)).transpose()?;
            let rulesets: Vec<&Ruleset> = match &named {
                Some(ruleset) => vec![ruleset],
                None => Standard::ALL.iter().map(|standard| standard.ruleset()).collect(),
            };
            let report = RulesReport::of(rulesets);
            write(out, *json, &report, |page| text::rules::render(page, &report.rulesets));
            Ok(DONE)
        }
        Command::Locate { files, rules, assumed, record, effort, time_limit, json, strict } => {
            let assumptions = text::locate::assumptions(assumed)?;
            let files = reader.both(&files.installation, &files.test_set, Purpose::Coverage);
            let (ruleset, (installation, FileTests { tests, text })) = all_of(reader.ruleset(&rules.rules), files)?;
            let network = Network::of(installation).with_ruleset(ruleset).with_limits(effort.limits());
            let findings = {
                let mut watching = Watching::begin(time_limit.0);
                Findings::watched(&network, &tests, assumptions, &mut watching)
            }
            .map_err(error)?;
            if let Some(path) = record {
                let pass = match &findings.next {
                    Next::Read(reading) => Some(reading.to_pass(&network, &tests).map_err(error)?),
                    _ => None,
                };
                write_form(path, Some(&text), pass.as_slice())?;
            }
            write(out, *json, &findings, |page| text::locate::render(page, network.installation(), &tests, &findings));
            Ok(status(*strict, findings.is_healthy()))
        }
        Command::Network { installation: path, json } => {
            let network = Network::of(reader.installation(path)?);
            let report = network.report();
            write(out, *json, &report, |page| text::network::render(page, &report, network.body_count()));
            Ok(DONE)
        }
        Command::Expand { installation: path } => {
            let text = reader.expanded(path)?;
            out.with(|out| out.write_all(text.as_bytes()));
            Ok(DONE)
        }
        Command::Works { boxes } => {
            let network = Network::of(reader.installation(&boxes.installation)?);
            let works = works_at(&network, &boxes.points).map_err(unknown_boxes)?;
            write(out, boxes.json, &works, |page| text::works::render(page, network.installation(), &works));
            Ok(DONE)
        }
        Command::Terminations { boxes } => {
            let installation = reader.installation(&boxes.installation)?;
            let terminations = terminations_at(&installation, &boxes.points).map_err(unknown_boxes)?;
            write(out, boxes.json, &terminations, |page| {
                text::terminations::render(page, &installation, &terminations)
            });
            Ok(DONE)
        }
        Command::Draw { files, circuit, down, format, rules, need } => {
            let (ruleset, (installation, tests)) =
                all_of(reader.ruleset(&rules.rules), reader.with_or_without_tests(files))?;
            let network = Network::of(installation).with_ruleset(ruleset);
            let orientation = if *down { Orientation::Down } else { Orientation::Across };
            let drawing = match circuit.as_slice() {
                [] => Drawing::of(&network, orientation),
                named => Drawing::of_named(&network, named, orientation).map_err(unknown_circuits)?,
            };
            let shown = match &tests {
                Some(tests) => DrawnState::after(&network, &tests.tests, (*need).into()),
                None => DrawnState::wiring(&network, &TestSet::default()),
            };
            let picture = match format {
                PictureArgument::Svg => shown.and_then(|shown| drawing.svg(&shown)),
                PictureArgument::Dot => shown.and_then(|shown| drawing.dot(&shown)),
            };
            let picture = picture.map_err(error)?;
            out.with(|out| out.write_all(picture.as_bytes()));
            Ok(DONE)
        }
        Command::Page { files, rules, output } => {
            let rules = Standard::by_id(rules).ok_or_else(|| {
                let known = Standard::ALL.map(Standard::id).join(", ");
                refusal(format!("there is no ruleset {rules} in the package"), format!("write one of {known}"))
            });
            let (rules, (installation, tests)) = all_of(rules, reader.sources(files))?;
            let title = files.installation.file_stem().unwrap_or_default().to_string_lossy();
            write_new(output, &page_of(&PageFiles::of(installation, tests, rules), &title))?;
            Ok(DONE)
        }
        Command::Schema { kind } => {
            out.json(&json_schema((*kind).into()));
            Ok(DONE)
        }
        Command::Explain { code } => {
            out.text(explain::of(code.as_deref())?);
            Ok(DONE)
        }
        Command::Completions { shell } => {
            // It takes for granted that what it writes to takes it.
            let mut script = Vec::new();
            clap_complete::generate(*shell, &mut Arguments::command(), "lengthwise", &mut script);
            out.with(|out| out.write_all(&script));
            Ok(DONE)
        }
        Command::Man { command } => {
            let page = manual_page(command.as_deref())?;
            out.with(|out| page.render(out));
            Ok(DONE)
        }
    }
}

fn unknown_boxes(unknown: Vec<UnknownBox>) -> String {
    unknown.iter().map(|row| refusal(row.to_string(), row.mend())).collect()
}

fn refused_options(errors: Vec<OptionError>) -> String {
    errors.iter().map(|row| refusal(format!("--{row}"), row.mend())).collect()
}

fn unknown_circuits(unknown: Vec<UnknownCircuit>) -> String {
    unknown.iter().map(|row| refusal(row.to_string(), row.mend())).collect()
}

/// The manual page of the program, or of one of its commands.
fn manual_page(command: Option<&str>) -> Result<clap_mangen::Man, String> {
    let mut program = Arguments::command();
    program.build();
    let Some(name) = command else { return Ok(clap_mangen::Man::new(program)) };
    match program.get_subcommands().find(|command| command.get_name() == name) {
        Some(command) => Ok(clap_mangen::Man::new(command.clone())),
        None => {
            let known: Vec<&str> = program.get_subcommands().map(clap::Command::get_name).collect();
            Err(refusal(format!("there is no command {name}"), format!("write one of {}", known.join(", "))))
        }
    }
}

/// How an error that belongs to no place in a file is told.
fn error(error: impl std::error::Error) -> String {
    format!("error: {}\n", visible(&error.to_string()))
}

fn status(strict: bool, complete: bool) -> u8 {
    if strict && !complete { MISSING } else { DONE }
}

/// Writes an answer as JSON or as text.
fn write(out: &mut Output, json: bool, answer: &impl Serialize, text: impl FnOnce(&mut Page)) {
    if json { out.json(answer) } else { out.text(text) }
}
