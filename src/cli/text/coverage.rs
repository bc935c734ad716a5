//! Coverage as text.

use std::collections::BTreeMap;

use super::layout::{Page, metres};
use crate::coverage::{Coverage, Link, Missed, OpenContact, PairCoverage, ReadingCoverage, SharedReasons};
use crate::model::{BetweenLive, Circuit, CircuitId, LengthId, ReadingAt, TestSet};
use crate::network::{Need, Network};
use crate::reading::Void;
use crate::rules::CAUTIONS;

/// The text of `cover`.
pub(in crate::cli) fn render(page: &mut Page, network: &Network, coverage: &Coverage, tests: &TestSet, need: Need) {
    let installation = network.installation();
    page.heading(&format!("{}: what the tests cover", installation.name()));
    let summary = coverage.summary;
    page.paragraph(0, 2, &format!("Needed: {}.", need_in_words(network, need)));
    if summary.required == 0 {
        page.paragraph(0, 2, "No pair of cores needs a test at this level.");
    }
    page.paragraph(
        0,
        2,
        &format!(
            "{} of {} needed pairs of cores tested; {} not tested.",
            summary.tested, summary.required, summary.not_tested
        ),
    );
    page.paragraph(
        0,
        2,
        &format!(
            "{} of {} of cable tested in every needed pair.",
            metres(summary.metres_tested.0),
            metres(summary.metres_required.0)
        ),
    );

    page.paragraph(
        0,
        2,
        "Tested means that a sound reading was taken across the pair. What the instrument showed is not judged here.",
    );
    voltages(page, network, tests);

    let void: Vec<&ReadingCoverage> = coverage.readings.iter().filter(|outcome| outcome.void.is_some()).collect();
    if !void.is_empty() {
        page.heading("Void readings: they test nothing");
        for outcome in void {
            let reading = &tests.passes()[outcome.pass - 1].readings()[outcome.reading - 1];
            let at = match reading.at() {
                ReadingAt::Circuit(circuit) => installation.circuit(circuit).id(),
                ReadingAt::Board(board) => installation.board(board).id(),
            };
            let [a, b] = reading.leads().each_ref().map(|lead| lead.text());
            let path = outcome.path.iter().map(link).collect::<Vec<_>>().join(", then ");
            let why = match outcome.void {
                Some(Void::NotRuledOut) => {
                    "too many unknown positions bear on it to rule out that the leads are joined".to_owned()
                }
                Some(Void::Bridged) if path.is_empty() => {
                    "the leads are joined for sure: they touch the same copper".to_owned()
                }
                Some(Void::Bridged) if outcome.path.iter().any(|link| link.unknown) => {
                    format!("nobody knows how all switches stand, and in some positions the leads are joined: {path}")
                }
                Some(Void::Bridged) => format!("the leads are joined for sure: {path}"),
                _ => format!("the leads may be joined through electronics, which the test may damage: {path}"),
            };
            page.after(
                0,
                "- ",
                2,
                &format!("pass {}, reading {} ({at}, {a} to {b}): {why}.", outcome.pass, outcome.reading),
            );
        }
    }

    if summary.not_tested == 0 {
        if summary.required > 0 {
            page.gap();
            page.paragraph(0, 2, "Nothing is missed: every needed pair of every length is tested.");
        }
    } else {
        page.heading("Not tested");
        let mut by_circuit: BTreeMap<CircuitId, BTreeMap<LengthId, Vec<&PairCoverage>>> = BTreeMap::new();
        for pair in coverage.missed() {
            let length = installation.length_by_id(&pair.length).expect("a length of the installation");
            let circuit = installation.length(length).circuit();
            by_circuit.entry(circuit).or_default().entry(length).or_default().push(pair);
        }
        for (circuit, lengths) in by_circuit {
            page.paragraph(0, 2, &circuit_title(installation.circuit(circuit)));
            for (length, pairs) in lengths {
                let row = installation.length(length);
                page.paragraph(2, 2, &format!("{}, {}: {}", row.id(), metres(row.metres().0), ends(network, length)));
                let mut told: Vec<&[[String; 2]]> = Vec::new();
                for pair in pairs.iter().filter(|pair| !pair.one_of.is_empty()) {
                    if !told.contains(&&pair.one_of[..]) {
                        told.push(&pair.one_of);
                        page.paragraph(4, 2, &one_of(row.id(), &pair.one_of));
                    }
                }
                let why = |pair: &PairCoverage| {
                    pair.missed.as_ref().map(|missed| in_words(missed, &coverage.shared)).unwrap_or_default()
                };
                for (why, pairs) in by_reason(pairs.into_iter().map(|pair| (pair.cores.join("-"), why(pair)))) {
                    page.paragraph(4, 2, &format!("{}: {why}.", pairs.join(", ")));
                }
            }
        }
        page.gap();
        page.paragraph(0, 2, "`plan` with the same files names the operations and readings that reach them.");
    }
    without_role(page, &coverage.without_role);
    let untested: Vec<String> = coverage
        .positions
        .iter()
        .filter(|row| !row.tested && !row.closes_nothing && installation.point_by_id(&row.device).is_some())
        .map(|row| format!("{} {}", row.device, row.position))
        .collect();
    if !untested.is_empty() {
        page.heading("Positions of switches at points that were not under test");
        page.paragraph(0, 2, &format!("{}.", untested.join(", ")));
    }
    page.heading("Cautions");
    cautions(page);
}

/// What is known of pairs of a length of which at most one is tested.
fn one_of(length: &str, pairs: &[[String; 2]]) -> String {
    let names: Vec<String> = pairs.iter().map(|cores| cores.join("-")).collect();
    let of = match pairs.len() {
        2 => "One".to_owned(),
        count => format!("{} or more", count - 1),
    };
    let are = if pairs.len() == 2 { "is" } else { "are" };
    format!("{of} of {length} {} {are} not tested; which, nobody knows.", names.join(", "))
}

/// Names readings whose recorded voltage is not the one that the circuit asks for.
fn voltages(page: &mut Page, network: &Network, tests: &TestSet) {
    let installation = network.installation();
    let mut others: Vec<String> = Vec::new();
    for (pass, row) in tests.passes().iter().enumerate() {
        for (number, reading) in row.readings().iter().enumerate() {
            let (ReadingAt::Circuit(id), Some(volts)) = (reading.at(), reading.volts()) else { continue };
            let Some(asked) = network.test_voltage(id) else { continue };
            let is_of_row = network.row_of(id).given().is_ok_and(|(of_row, _)| volts.is_output_at(of_row));
            if !volts.is_output_at(asked) && !is_of_row {
                others.push(format!(
                    "pass {}, reading {} ({}) at {} V, where {} V is asked for",
                    pass + 1,
                    number + 1,
                    installation.circuit(id).id(),
                    volts.0,
                    asked.0
                ));
            }
        }
    }
    if !others.is_empty() {
        page.heading("Readings at another voltage than the circuit asks for");
        for other in others {
            page.after(0, "- ", 2, &format!("{other}."));
        }
    }
}

/// Names what is connected but has no role, so that nobody takes it for tested.
pub(in crate::cli) fn without_role(page: &mut Page, cores: &[[String; 2]]) {
    if !cores.is_empty() {
        page.heading("Connected, but with no role: not asked for");
        page.paragraph(
            0,
            2,
            &format!(
                "Nothing in the file joins these cores to a conductor of the supply, over equipment neither: is a bridge \
                 missing in a kind, a terminal mistyped, a feeder left out? No test of them is asked for: {}.",
                core_list(cores)
            ),
        );
    }
}

/// Cores, each with its length.
pub(in crate::cli) fn core_list(cores: &[[String; 2]]) -> String {
    cores.iter().map(|core| core.join(".")).collect::<Vec<String>>().join(", ")
}

/// A circuit's id, and its name where it has one.
pub(in crate::cli) fn circuit_title(circuit: &Circuit) -> String {
    if circuit.name() == circuit.id() {
        circuit.id().to_owned()
    } else {
        format!("{} {}", circuit.id(), circuit.name())
    }
}

pub(in crate::cli) fn cautions(page: &mut Page) {
    for caution in CAUTIONS {
        page.after(0, "! ", 2, caution);
    }
}

pub(in crate::cli) fn need_in_words(network: &Network, need: Need) -> &'static str {
    let asks_less = || network.ruleset().rows().iter().any(|row| row.between_live != BetweenLive::All);
    match need {
        Need::Earth => "every live core to earth",
        Need::Ruleset if asks_less() => {
            "every live core to earth, and between live cores of the circuits of which the ruleset asks it"
        }
        Need::Ruleset | Need::Standard => "every live core to earth, and between live cores",
        Need::EveryPair => "every live core to earth and to every other live core, those of one polarity too",
    }
}

/// Pairs, each with its reason, told by reason in the order of first mention.
pub(in crate::cli) fn by_reason(pairs: impl Iterator<Item = (String, String)>) -> Vec<(String, Vec<String>)> {
    let mut reasons: Vec<(String, Vec<String>)> = Vec::new();
    for (pair, why) in pairs {
        match reasons.iter_mut().find(|(known, _)| *known == why) {
            Some((_, pairs)) => pairs.push(pair),
            None => reasons.push((why, vec![pair])),
        }
    }
    reasons
}

/// Why a pair is missed; of a long row of open contacts the first.
pub(in crate::cli) fn in_words(missed: &Missed, shared: &SharedReasons) -> String {
    const FEW: usize = 8;
    match missed {
        Missed::NotReached { core, reachable: false, .. } => {
            format!("no switching joins {core} to a way")
        }
        Missed::NotReached { core, only_void: true, .. } => {
            format!("only void readings had {core} on a lead")
        }
        Missed::NotReached { core, cut_off_at: None, .. } => {
            format!("{core} was not on a lead of any reading, though no open switch is in the way")
        }
        Missed::NotReached { core, .. } => {
            let mut contacts = missed.cut_off_at(shared);
            let at: Vec<String> = contacts.by_ref().take(FEW).map(open_contact).collect();
            let more = if contacts.next().is_some() { ", and behind these at more, which `--json` lists" } else { "" };
            format!("{core} is cut off at {}{more}", at.join(", then at "))
        }
        Missed::NoReadingToEarth { core } if core == "earth" => "no reading to earth was taken".to_owned(),
        Missed::NoReadingToEarth { core } => format!("no reading to earth was taken with {core} on a lead"),
        Missed::OnlyVoid { reading: [pass, reading] } => {
            format!("on opposite leads only of a void reading (pass {pass}, reading {reading})")
        }
        Missed::Stopped => "not known: the work was stopped before its end".to_owned(),
        Missed::NeverOpposite => "both were on leads, but never on opposite leads of one reading".to_owned(),
        Missed::DependsOnStart { example } => {
            let starts: Vec<String> =
                example.iter().map(|(device, position)| format!("{device} in {position}")).collect();
            format!("not tested if the start was {}", starts.join(", "))
        }
    }
}

fn open_contact(contact: &OpenContact) -> String {
    let closed: Vec<&str> = contact.closed_in.iter().map(String::as_str).collect();
    format!("{} ({}; this contact closes in {})", contact.device, stands(&contact.stands), closed.join(" or "))
}

fn stands(position: &str) -> String {
    if position == "unknown" { "nobody knows how it stands".to_owned() } else { format!("stands in {position}") }
}

fn link(link: &Link) -> String {
    let [a, b] = &link.between;
    let how = match (&link.position, link.conducts.as_deref()) {
        (Some(position), _) if link.unknown => format!(", if it stands in {position},"),
        (Some(position), _) => format!(" in {position}"),
        (None, Some("maybe")) => " (electronics)".to_owned(),
        (None, _) => " (fitted)".to_owned(),
    };
    format!("{}{how} joins {a} to {b}", link.through)
}

pub(in crate::cli) fn ends(network: &Network, length: LengthId) -> String {
    let installation = network.installation();
    installation.length(length).ends().map(|end| installation.end_name(end)).join(" to ")
}
