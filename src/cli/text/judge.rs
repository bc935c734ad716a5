//! A judgement as text.

use super::coverage::{by_reason, cautions, circuit_title, in_words, need_in_words};
use super::layout::{Page, count, metres};
use super::rules::not_corrected;
use crate::judge::{
    Against, Asked, BoardJudgement, CircuitJudgement, Column, Combined, Investigate, JudgedReading, Judgement, Neither,
    NotJudgeable, NotProven, ReadElsewhere, ReadingVerdict, Resistance, Verdict, WhyElsewhere,
};
use crate::model::{CircuitId, LengthId, ReadingAt};
use crate::network::PairId;
use crate::reading::Void;

/// The text of `judge`.
pub(in crate::cli) fn render(judgement: &Judgement<'_>) -> String {
    let installation = judgement.network().installation();
    let mut page = Page::default();
    page.heading(&format!("{}: what the readings come to", installation.name()));
    let ruleset = judgement.ruleset();
    page.paragraph(0, 2, &format!("Ruleset: {}, {}. `rules` prints it.", ruleset.id(), ruleset.title()));
    page.paragraph(0, 2, &format!("Needed: {}.", need_in_words(judgement.need())));
    page.paragraph(0, 2, &format!("{}.", whole(judgement)));
    let of = |verdict: Verdict| judgement.circuits().iter().filter(|row| row.verdict == verdict).count();
    page.paragraph(
        0,
        2,
        &format!(
            "{}: {} pass, {} to investigate, {} not complete, {} fail.",
            count(judgement.circuits().len(), "circuit"),
            of(Verdict::Pass),
            of(Verdict::Investigate),
            of(Verdict::NotComplete),
            of(Verdict::Fail)
        ),
    );

    page.heading("Circuits");
    for (number, row) in judgement.circuits().iter().enumerate() {
        if number > 0 {
            page.gap();
        }
        circuit(&mut page, judgement, row);
    }
    if !judgement.boards().is_empty() {
        page.heading("Boards, each with all circuits behind it");
        page.paragraph(
            0,
            2,
            "Worked out from readings, by the law of resistances in parallel, not measured. At least: no needed pair leaks \
             more than the lowest good reading that tested it, and these readings are taken together. At most: of \
             readings that can hold the same leakage, such as those of circuits on one neutral bar, only the lowest counts.",
        );
        for row in judgement.boards() {
            page.gap();
            board(&mut page, judgement, row);
        }
    }

    page.heading("What this says");
    for text in [
        "Pass: every needed pair of the circuit was tested by good readings, and every reading of it is good by the \
         ruleset above. A competent person decides what that is worth.",
        "A figure is the least of all passes. A `>` is the end of the instrument's range: it is carried through as a \
         bound, and is no value.",
        "A reading that was taken again after a repair belongs in a new record: here the old one still counts.",
    ] {
        page.after(0, "- ", 2, text);
    }
    not_corrected(&mut page);
    page.heading("Cautions");
    cautions(&mut page);
    page.into_text()
}

/// A verdict in words.
pub(in crate::cli) fn verdict_in_words(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Pass => "pass",
        Verdict::Investigate => "investigate",
        Verdict::NotComplete => "not complete",
        Verdict::Fail => "fail",
    }
}

fn whole(judgement: &Judgement<'_>) -> &'static str {
    match judgement.verdict() {
        Verdict::Pass => "PASS: every circuit and every board passes",
        Verdict::Investigate => "INVESTIGATE: nothing fails and nothing is missing, but some readings are low",
        Verdict::NotComplete => "NOT COMPLETE: nothing fails, but something is not tested or can't be judged",
        Verdict::Fail => "FAIL: something is below what is asked",
    }
}

fn asked_in_words(asked: &Result<Asked, String>) -> String {
    match asked {
        Ok(asked) => format!("asked: at least {} MΩ at {} V d.c", asked.megohms.0, asked.volts.0),
        Err(no_value) => format!("the ruleset asks nothing: {no_value}"),
    }
}

fn circuit(page: &mut Page, judgement: &Judgement<'_>, row: &CircuitJudgement) {
    let installation = judgement.network().installation();
    let circuit = installation.circuit(row.circuit);
    page.paragraph(0, 2, &format!("{}: {}", circuit_title(circuit), verdict_in_words(row.verdict)));
    let figure = |column: Column, name: &str| match row.figure(column) {
        Some(figure) => format!("{name} {}\u{a0}MΩ", figure.record),
        None => format!("{name} none"),
    };
    page.paragraph(
        2,
        2,
        &format!(
            "{}, {}; {} of {} tested; {} of cable",
            figure(Column::LiveToLive, "live to live"),
            figure(Column::LiveToEarth, "live to earth"),
            row.proven(),
            count(row.required, "needed pair"),
            metres(row.metres.0)
        ),
    );
    let mut asked = asked_in_words(&row.asked);
    if let (Some(relief), Some(reason)) = (row.relief, circuit.relief()) {
        asked.push_str(&format!(".; at {} V at least {} MΩ will do, for: {reason}", relief.volts.0, relief.megohms.0));
    }
    page.paragraph(2, 2, &format!("{}.", asked.trim_end_matches('.')));
    if row.readings.is_empty() && row.elsewhere.is_empty() {
        page.paragraph(2, 2, "no readings");
    }
    for &number in &row.readings {
        reading(page, &judgement.readings()[number]);
    }
    for ReadElsewhere { reading, why, verdict } in &row.elsewhere {
        let read = &judgement.readings()[*reading];
        let under = match read.recorded.at() {
            ReadingAt::Circuit(circuit) => installation.circuit(circuit).id(),
            ReadingAt::Board(board) => installation.board(board).id(),
        };
        let (what, verdict) = (taken(read), verdict_of_reading(verdict));
        let why = match why {
            WhyElsewhere::LeadOnIt => "a lead was on this circuit",
            WhyElsewhere::TestsTheRest => "it tests what the others leave of this circuit",
        };
        page.after(2, "- ", 2, &format!("{what}: {verdict} here (put down under {under}, and {why})"));
    }
    if row.required == 0 {
        page.paragraph(
            2,
            2,
            "The file has no cores of this circuit that need a test: so there is nothing that passes.",
        );
    }
    let mut lengths: Vec<(LengthId, Vec<PairId>)> = Vec::new();
    for &pair in &row.missed {
        let length = judgement.network().pair_length(pair);
        match lengths.last_mut() {
            Some((last, pairs)) if *last == length => pairs.push(pair),
            _ => lengths.push((length, vec![pair])),
        }
    }
    for (length, pairs) in lengths {
        let why = |pair| judgement.why_not_proven(pair).as_ref().map(not_proven).unwrap_or_default();
        let named = pairs.into_iter().map(|pair| (judgement.network().pair_core_names(pair).join("-"), why(pair)));
        for (why, pairs) in by_reason(named) {
            let id = installation.length(length).id();
            page.after(2, "- ", 2, &format!("not tested: {id} {}: {why}.", pairs.join(", ")));
        }
    }
}

fn not_proven(why: &NotProven) -> String {
    match why {
        NotProven::NotTested(missed) => in_words(missed),
        NotProven::NoGoodReading(readings) => {
            const FEW: usize = 4;
            let mut names: Vec<String> = readings.iter().take(FEW).map(reading_name).collect();
            if readings.len() > FEW {
                names.push(format!("and {} more", readings.len() - FEW));
            }
            format!("only by readings that are not good for it ({})", names.join("; "))
        }
        NotProven::NoRule => "the ruleset asks nothing of this circuit".to_owned(),
    }
}

/// Pass and number of a reading in words.
pub(in crate::cli) fn reading_name([pass, reading]: &[usize; 2]) -> String {
    format!("pass {pass}, reading {reading}")
}

/// A reading with what was recorded of it.
fn taken(row: &JudgedReading<'_>) -> String {
    let [a, b] = row.recorded.leads().each_ref().map(|lead| lead.text());
    let value = row.recorded.written().map_or_else(|| "no value".to_owned(), |text| format!("{text}\u{a0}MΩ"));
    let volts = row.recorded.volts().map_or_else(String::new, |volts| format!(" at {} V", volts.0));
    format!("{}: {a} to {b}, {value}{volts}", reading_name(&row.name()))
}

/// The verdict on a reading, in one word or two.
pub(in crate::cli) fn verdict_of_reading(verdict: &ReadingVerdict) -> &'static str {
    match verdict {
        ReadingVerdict::Pass => "pass",
        ReadingVerdict::Investigate(_) => "investigate",
        ReadingVerdict::Fail => "FAIL",
        ReadingVerdict::NotJudgeable(_) => "not judgeable",
    }
}

fn reading(page: &mut Page, row: &JudgedReading<'_>) {
    let mut text = format!("{}: {}", taken(row), judged(row));
    if let Err(neither) = row.column {
        let why = match neither {
            Neither::EarthToEarth => "both leads are on earth",
            Neither::LiveWithEarth => "one lead joins live and earth",
            Neither::NoRole => "a lead is on what no supply conductor is joined to",
        };
        text.push_str(&format!(" (in neither figure: {why})"));
    }
    page.after(2, "- ", 2, &text);
}

fn judged(row: &JudgedReading<'_>) -> String {
    let least = row.asked.map_or(0.0, |asked| asked.megohms.0);
    match &row.verdict {
        ReadingVerdict::Pass => "pass".to_owned(),
        ReadingVerdict::Fail => format!("FAIL, less than {least} MΩ"),
        ReadingVerdict::Investigate(Investigate::Below { megohms }) => {
            format!("investigate, below {} MΩ", megohms.0)
        }
        ReadingVerdict::Investigate(Investigate::NotExpectedWhenNew { megohms }) => {
            format!("investigate, new work is expected above {} MΩ", megohms.0)
        }
        ReadingVerdict::NotJudgeable(why) => format!("not judgeable, {}", not_judgeable(why)),
    }
}

fn not_judgeable(why: &NotJudgeable) -> String {
    match why {
        NotJudgeable::Void { void: Void::Bridged } => "void: the leads are joined".to_owned(),
        NotJudgeable::Void { void: Void::Doubtful } => "void: the leads may be joined through electronics".to_owned(),
        NotJudgeable::Void { void: Void::NotRuledOut } => {
            "void: too many unknown positions to rule out that the leads are joined".to_owned()
        }
        NotJudgeable::NoValue => "nothing was recorded".to_owned(),
        NotJudgeable::NoVolts => "its test voltage was not recorded".to_owned(),
        NotJudgeable::NoRule { no_value } => format!("the ruleset asks nothing: {no_value}"),
        NotJudgeable::VoltsTooLow { asked, is_relief: false, .. } => {
            format!("the voltage is lower than {} V, which is asked", asked.0)
        }
        NotJudgeable::VoltsTooLow { asked, is_relief: true, .. } => format!(
            "the voltage is lower than {} V, which is asked; it will do only where the circuit's `relief` says what can't \
             be disconnected",
            asked.0
        ),
        NotJudgeable::VoltsTooHigh { asked, .. } => format!("the voltage is higher than {} V, which is asked", asked.0),
        NotJudgeable::RangeEndsBelowLimit { megohms } => {
            format!("the instrument's range ends below {} MΩ, which is asked", megohms.0)
        }
        NotJudgeable::RangeBeginsAboveLimit { megohms } => {
            format!("the instrument's range begins above {} MΩ, which is asked", megohms.0)
        }
    }
}

fn board(page: &mut Page, judgement: &Judgement<'_>, row: &BoardJudgement) {
    let installation = judgement.network().installation();
    let id = installation.board(row.board).id();
    page.paragraph(0, 2, &format!("{id}: {}", verdict_in_words(row.verdict)));
    let asked = match &row.asked {
        Ok(asked) => format!(
            "asked: at least {} MΩ, each circuit read at its own voltage, and the board itself at {} V d.c",
            asked.megohms.0, asked.volts.0
        ),
        Err(_) => asked_in_words(&row.asked),
    };
    page.paragraph(2, 2, &format!("{asked}."));
    for (column, name) in [(Column::LiveToLive, "live to live"), (Column::LiveToEarth, "live to earth")] {
        if let Some(combined) = row.combined(column) {
            together(page, judgement, combined, name);
        }
    }
    for &number in &row.readings {
        reading(page, &judgement.readings()[number]);
    }
    if !row.not_passed.is_empty() {
        page.paragraph(2, 2, &format!("fail or not complete: {}", circuit_ids(judgement, &row.not_passed)));
    }
}

fn together(page: &mut Page, judgement: &Judgement<'_>, combined: &Combined, name: &str) {
    let compared = match combined.against {
        Some(Against::AtLeast) => "enough",
        Some(Against::Below) => "TOO LOW",
        Some(Against::NotDecided) if combined.waits_for_a_decision() => "not decided",
        Some(Against::NotDecided) => "not needed",
        None => "not judged",
    };
    let circuits = count(combined.circuits.len(), "circuit");
    let resistance = match combined.resistance {
        Resistance::NOT_KNOWN => "not known".to_owned(),
        resistance => format!("{resistance}\u{a0}MΩ"),
    };
    page.paragraph(2, 2, &format!("{name}, {circuits} together: {resistance}, {compared}"));
    if !combined.incomplete.is_empty() {
        let incomplete = circuit_ids(judgement, &combined.incomplete);
        page.paragraph(4, 2, &format!("nothing is known from below until all is tested and good in: {incomplete}"));
    }
    if combined.waits_for_a_decision() && combined.incomplete.is_empty() {
        page.paragraph(
            4,
            2,
            "What is worked out can't decide: read the board as a whole, at the board, with all its ways on.",
        );
    }
}

fn circuit_ids(judgement: &Judgement<'_>, circuits: &[CircuitId]) -> String {
    let installation = judgement.network().installation();
    circuits.iter().map(|&id| installation.circuit(id).id()).collect::<Vec<_>>().join(", ")
}
