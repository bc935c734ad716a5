//! A judgement as text.

use rustc_hash::FxHashMap;

use super::coverage::{by_reason, cautions, circuit_title, core_list, in_words, need_in_words};
use super::layout::{Page, Tone, count, metres};
use super::rules::not_corrected;
use crate::coverage::SharedReasons;
use crate::judge::{
    Against, Asked, BoardJudgement, CircuitJudgement, Column, Combined, JudgedConnected, JudgedReading, Judgement,
    Neither, NotProven, ReadingReason, ReadingVerdict, Resistance, Verdict, WhyElsewhere, WhyNotProven,
};
use crate::model::{Circuit, CircuitRelief};
use crate::network::Network;
use crate::reading::Void;

/// The text of `judge`.
pub(in crate::cli) fn render(page: &mut Page, network: &Network, judgement: &Judgement) {
    let ruleset = network.ruleset();
    page.heading(&format!("{}: what the readings come to", network.installation().name()));
    page.paragraph(0, 2, &format!("Ruleset: {}, {}. `rules` prints it.", ruleset.id(), ruleset.title()));
    page.paragraph(0, 2, &format!("Needed: {}.", need_in_words(network, judgement.need)));
    page.toned(tone(judgement.verdict), 0, "", 2, &format!("{}.", whole(judgement.verdict)));
    let of = |verdict: Verdict| judgement.circuits.iter().filter(|row| row.verdict == verdict).count();
    page.paragraph(
        0,
        2,
        &format!(
            "{}: {} pass, {} to investigate, {} not complete, {} fail.",
            count(judgement.circuits.len(), "circuit"),
            of(Verdict::Pass),
            of(Verdict::Investigate),
            of(Verdict::NotComplete),
            of(Verdict::Fail)
        ),
    );
    let without_value: Vec<[usize; 2]> = judgement
        .readings
        .iter()
        .filter(|row| row.why == Some(ReadingReason::NoValue))
        .map(JudgedReading::name)
        .collect();
    if !without_value.is_empty() {
        let missing = count(without_value.len(), "reading");
        page.paragraph(0, 2, &format!("{missing} without a value yet: {}.", some_readings(&without_value)));
    }
    let named = RecordNames::of(judgement);
    page.heading("Circuits");
    for (number, (row, (_, circuit))) in judgement.circuits.iter().zip(network.installation().circuits()).enumerate() {
        if number > 0 {
            page.gap();
        }
        named.circuit(page, row, circuit);
    }
    if !judgement.boards.is_empty() {
        page.heading("Boards, each with all circuits behind it");
        page.paragraph(
            0,
            2,
            "Worked out from readings, by the law of resistances in parallel, not measured. At least: no needed pair leaks \
             more than the lowest good reading that tested it, and these readings are taken together. At most: of \
             readings that can hold the same leakage, such as those of circuits on one neutral bar, only the lowest counts.",
        );
        for row in &judgement.boards {
            page.gap();
            named.board(page, row);
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
    not_corrected(page);
    page.heading("Cautions");
    cautions(page);
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

fn tone(verdict: Verdict) -> Tone {
    match verdict {
        Verdict::Pass => Tone::Good,
        Verdict::Investigate | Verdict::NotComplete => Tone::Doubtful,
        Verdict::Fail => Tone::Bad,
    }
}

/// A good reading is what is expected: it stands out by no colour.
fn tone_of_reading(verdict: ReadingVerdict) -> Tone {
    match verdict {
        ReadingVerdict::Pass => Tone::Plain,
        ReadingVerdict::Investigate | ReadingVerdict::NotJudgeable => Tone::Doubtful,
        ReadingVerdict::Fail => Tone::Bad,
    }
}

fn whole(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Pass => "PASS: every circuit and every board passes",
        Verdict::Investigate => "INVESTIGATE: nothing fails and nothing is missing, but some readings are low",
        Verdict::NotComplete => "NOT COMPLETE: nothing fails, but something is not tested or can't be judged",
        Verdict::Fail => "FAIL: something is below what is asked",
    }
}

fn asked_in_words(asked: Option<Asked>, no_value: Option<&str>) -> String {
    match asked {
        Some(asked) => format!("asked: at least {} MΩ at {} V d.c", asked.megohms.0, asked.volts.0),
        None => format!("the ruleset asks nothing: {}", no_value.unwrap_or_default()),
    }
}

/// What a judgement names, by its name.
struct RecordNames<'j> {
    /// By pass and number.
    readings: FxHashMap<[usize; 2], &'j JudgedReading>,
    /// Those after equipment was connected, by circuit or board.
    connected: FxHashMap<[Option<&'j str>; 2], Vec<&'j JudgedConnected>>,
    /// By circuit.
    missed: FxHashMap<&'j str, &'j [NotProven]>,
    shared: &'j SharedReasons,
    judgement: &'j Judgement,
    /// By circuit, in the order of the file.
    places: FxHashMap<&'j str, usize>,
}

impl<'j> RecordNames<'j> {
    fn of(judgement: &'j Judgement) -> RecordNames<'j> {
        let mut connected: FxHashMap<_, Vec<_>> = FxHashMap::default();
        for row in &judgement.connected {
            connected.entry([row.circuit.as_deref(), row.board.as_deref()]).or_default().push(row);
        }
        let missed = judgement.missed.chunk_by(|one, other| one.circuit == other.circuit);
        RecordNames {
            readings: judgement.readings.iter().map(|row| (row.name(), row)).collect(),
            connected,
            missed: missed.map(|rows| (rows[0].circuit.as_str(), rows)).collect(),
            shared: &judgement.shared,
            judgement,
            places: judgement.circuits.iter().enumerate().map(|(place, row)| (row.circuit.as_str(), place)).collect(),
        }
    }

    fn circuit(&self, page: &mut Page, row: &CircuitJudgement, circuit: &Circuit) {
        let title = format!("{}: {}", circuit_title(circuit), verdict_in_words(row.verdict));
        page.toned(tone(row.verdict), 0, "", 2, &title);
        let figure = |column: Column| match row.figure(column) {
            Some(figure) => format!("{} {}\u{a0}MΩ", column_in_words(column), figure.record),
            None => format!("{} none", column_in_words(column)),
        };
        page.paragraph(
            2,
            2,
            &format!(
                "{}, {}; {} of {} tested; {} of cable",
                figure(Column::LiveToLive),
                figure(Column::LiveToEarth),
                row.tested,
                count(row.required, "needed pair"),
                metres(row.metres.0)
            ),
        );
        let mut asked = asked_in_words(row.asked, row.no_value.as_deref());
        if let (Some(relief), Some(reason)) = (row.relief, circuit.relief().map(CircuitRelief::because)) {
            asked.push_str(&format!(
                ".; at {} V at least {} MΩ will do, for: {reason}",
                relief.volts.0, relief.megohms.0
            ));
        }
        page.paragraph(2, 2, &format!("{}.", asked.trim_end_matches('.')));
        if row.readings.is_empty() && row.elsewhere.is_empty() {
            page.paragraph(2, 2, "no readings");
        }
        self.list(page, &row.readings);
        for elsewhere in &row.elsewhere {
            let read = self.readings[&elsewhere.name()];
            let under = read.circuit.as_ref().or(read.board.as_ref()).map_or("", String::as_str);
            let why = match elsewhere.why {
                WhyElsewhere::LeadOnIt => "a lead was on this circuit",
                WhyElsewhere::TestsTheRest => "it tests what the others leave of this circuit",
            };
            let verdict = verdict_of_reading(elsewhere.verdict);
            let tone = tone_of_reading(elsewhere.verdict);
            page.toned(
                tone,
                2,
                "- ",
                2,
                &format!("{}: {verdict} here (put down under {under}, and {why})", taken(read, some_of)),
            );
        }
        self.connected(page, [Some(&row.circuit), None]);
        if row.required == 0 {
            page.paragraph(
                2,
                2,
                "The file has no cores of this circuit that need a test: so there is nothing that passes.",
            );
        }
        if !row.without_role.is_empty() {
            let text = format!("connected, but with no role, so not asked for: {}.", core_list(&row.without_role));
            page.after(2, "- ", 2, &text);
        }
        let missed = self.missed.get(circuit.id()).copied().unwrap_or_default();
        for rows in missed.chunk_by(|one, other| one.length == other.length) {
            for (why, pairs) in
                by_reason(rows.iter().map(|row| (row.cores.join("-"), not_proven(&row.why, self.shared))))
            {
                page.after(2, "- ", 2, &format!("not tested: {} {}: {why}.", rows[0].length, pairs.join(", ")));
            }
        }
    }

    /// Readings after equipment was connected.
    fn connected(&self, page: &mut Page, at: [Option<&str>; 2]) {
        for row in self.connected.get(&at).into_iter().flatten() {
            let megohms = row.megohms.as_ref().map_or("no value".to_owned(), |megohms| format!("{megohms}\u{a0}MΩ"));
            let volts = row.volts.map_or(String::new(), |volts| format!(" at {}\u{a0}V", volts.0));
            let text = format!(
                "with equipment connected, {megohms}{volts}: {}; it tests no core",
                judged(row.verdict, row.why.as_ref(), row.asked)
            );
            page.toned(tone_of_reading(row.verdict), 2, "- ", 2, &text);
        }
    }

    /// Readings with what became of them.
    fn list(&self, page: &mut Page, readings: &[[usize; 2]]) {
        for name in readings {
            let row = self.readings[name];
            let mut text =
                format!("{}: {}", taken(row, str::to_owned), judged(row.verdict, row.why.as_ref(), row.asked));
            if let Some(neither) = row.neither {
                let why = match neither {
                    Neither::EarthToEarth => "both leads are on earth",
                    Neither::LiveWithEarth => "one lead joins live and earth",
                    Neither::NoRole => "a lead is on what no supply conductor is joined to",
                };
                text.push_str(&format!(" (in neither figure: {why})"));
            }
            page.toned(tone_of_reading(row.verdict), 2, "- ", 2, &text);
        }
    }

    fn board(&self, page: &mut Page, row: &BoardJudgement) {
        let title = format!("{}: {}", row.board, verdict_in_words(row.verdict));
        page.toned(tone(row.verdict), 0, "", 2, &title);
        let asked = match row.asked {
            Some(asked) => {
                let greatest = row.greatest_volts.map_or_else(String::new, |greatest| {
                    format!(" (the least that a circuit behind it asks; another asks {} V)", greatest.0)
                });
                format!(
                    "asked: at least {} MΩ, each circuit read at its own voltage, and the board itself at {} V d.c{greatest}",
                    asked.megohms.0, asked.volts.0
                )
            }
            None => asked_in_words(None, row.no_value.as_deref()),
        };
        page.paragraph(2, 2, &format!("{asked}."));
        let behind = self.judgement.behind(&row.board);
        for column in Column::BOTH {
            if let Some(combined) = row.combined(column) {
                self.together(page, combined, column, &behind);
            }
        }
        self.list(page, &row.readings);
        self.connected(page, [None, Some(&row.board)]);
        let not_passed = self.circuits_of(behind.iter().flat_map(|row| &row.not_passed));
        if !not_passed.is_empty() {
            let not_passed = listed(&not_passed, &row.not_passed, &row.not_passed_behind);
            page.paragraph(2, 2, &format!("fail or not complete: {not_passed}"));
        }
    }

    /// Circuits that boards list, each once, in the order of the file.
    fn circuits_of<'c>(&self, names: impl Iterator<Item = &'c String>) -> Vec<&'c str> {
        let mut names: Vec<&str> = names.map(String::as_str).collect();
        names.sort_by_cached_key(|&name| self.places[name]);
        names.dedup();
        names
    }

    /// What a board comes to in a column; `behind` are it and all boards behind it.
    fn together(&self, page: &mut Page, combined: &Combined, column: Column, behind: &[&BoardJudgement]) {
        let compared = match combined.against {
            Some(Against::AtLeast) => "enough",
            Some(Against::Below) => "TOO LOW",
            Some(Against::NotDecided) if combined.needed => "not decided",
            Some(Against::NotDecided) => "not needed",
            None => "not judged",
        };
        let rows = || behind.iter().filter_map(|row| row.combined(column));
        let circuits = count(self.circuits_of(rows().flat_map(|row| &row.circuits)).len(), "circuit");
        let incomplete = self.circuits_of(rows().flat_map(|row| &row.incomplete));
        let resistance = match combined.resistance {
            Resistance::NOT_KNOWN => "not known".to_owned(),
            resistance => format!("{resistance}\u{a0}MΩ"),
        };
        page.paragraph(2, 2, &format!("{}, {circuits} together: {resistance}, {compared}", column_in_words(column)));
        if !incomplete.is_empty() {
            let incomplete = listed(&incomplete, &combined.incomplete, &combined.incomplete_behind);
            page.paragraph(4, 2, &format!("nothing is known from below until all is tested and good in: {incomplete}"));
        } else if combined.needed && combined.against == Some(Against::NotDecided) {
            page.paragraph(
                4,
                2,
                "What is worked out can't decide: read the board as a whole, at the board, with all its ways on.",
            );
        }
    }
}

/// Circuits of a board and of those behind it: all of them, or where they are many its `own` and the boards that it feeds
/// with others.
fn listed(all: &[&str], own: &[String], fed: &[String]) -> String {
    const FEW: usize = 24;
    if all.len() <= FEW || fed.is_empty() {
        return all.join(", ");
    }
    let fed = format!("circuits of or behind {}", fed.join(", "));
    if own.is_empty() { fed } else { format!("{}, and {fed}", own.join(", ")) }
}

fn column_in_words(column: Column) -> &'static str {
    match column {
        Column::LiveToLive => "live to live",
        Column::LiveToEarth => "live to earth",
    }
}

fn not_proven(why: &WhyNotProven, shared: &SharedReasons) -> String {
    match why {
        WhyNotProven::NotTested(missed) => in_words(missed, shared),
        WhyNotProven::NoGoodReading { readings } => {
            format!("only by readings that are not good for it ({})", some_readings(shared.readings(Some(*readings))))
        }
        WhyNotProven::NoRule => "the ruleset asks nothing of this circuit".to_owned(),
    }
}

/// The first of some readings, and how many more there are.
pub(in crate::cli) fn some_readings(readings: &[[usize; 2]]) -> String {
    const FEW: usize = 4;
    let mut names: Vec<String> = readings.iter().take(FEW).map(reading_name).collect();
    if readings.len() > FEW {
        names.push(format!("and {} more", readings.len() - FEW));
    }
    names.join("; ")
}

/// Pass and number of a reading in words.
pub(in crate::cli) fn reading_name([pass, reading]: &[usize; 2]) -> String {
    format!("pass {pass}, reading {reading}")
}

/// What a lead touches, or where that is much the first of it: it stands whole where the reading is put down.
fn some_of(lead: &str) -> String {
    const FEW: usize = 6;
    let names: Vec<&str> = lead.split('+').collect();
    match names.get(FEW..).map(<[_]>::len) {
        None | Some(0) => lead.to_owned(),
        Some(more) => format!("{} and {more} more", names[..FEW].join("+")),
    }
}

/// A reading with what was recorded of it.
fn taken(row: &JudgedReading, lead: fn(&str) -> String) -> String {
    let [a, b] = row.between.each_ref().map(|text| lead(text));
    let value = row.megohms.as_ref().map_or_else(|| "no value".to_owned(), |text| format!("{text}\u{a0}MΩ"));
    let volts = row.volts.map_or_else(String::new, |volts| format!(" at {} V", volts.0));
    format!("{}: {a} to {b}, {value}{volts}", reading_name(&row.name()))
}

/// The verdict on a reading, in one word or two.
pub(in crate::cli) fn verdict_of_reading(verdict: ReadingVerdict) -> &'static str {
    match verdict {
        ReadingVerdict::Pass => "pass",
        ReadingVerdict::Investigate => "investigate",
        ReadingVerdict::Fail => "FAIL",
        ReadingVerdict::NotJudgeable => "not judgeable",
    }
}

fn judged(verdict: ReadingVerdict, why: Option<&ReadingReason>, asked: Option<Asked>) -> String {
    let is_low = verdict == ReadingVerdict::Fail;
    let verdict = verdict_of_reading(verdict);
    match (why, asked) {
        (Some(why), _) => format!("{verdict}, {}", reason(why)),
        (None, Some(asked)) if is_low => {
            format!("{verdict}, less than {} MΩ", asked.megohms.0)
        }
        (None, _) => verdict.to_owned(),
    }
}

fn reason(why: &ReadingReason) -> String {
    match why {
        ReadingReason::Below { megohms } => format!("below {} MΩ", megohms.0),
        ReadingReason::NotExpectedWhenNew { megohms } => format!("new work is expected above {} MΩ", megohms.0),
        ReadingReason::Void { void: Void::Bridged } => "void: the leads are joined".to_owned(),
        ReadingReason::Void { void: Void::Doubtful } => "void: the leads may be joined through electronics".to_owned(),
        ReadingReason::Void { void: Void::NotRuledOut } => {
            "void: too many unknown positions to rule out that the leads are joined".to_owned()
        }
        ReadingReason::NoValue => "nothing was recorded".to_owned(),
        ReadingReason::NoVolts => "its test voltage was not recorded".to_owned(),
        ReadingReason::NoRule { no_value } => format!("the ruleset asks nothing: {no_value}"),
        ReadingReason::VoltsTooLow { asked, is_low: true, .. } => {
            format!("TOO LOW at any voltage; and the voltage is lower than {} V, which is asked", asked.0)
        }
        ReadingReason::VoltsTooLow { asked, is_relief: false, .. } => {
            format!("the voltage is lower than {} V, which is asked", asked.0)
        }
        ReadingReason::VoltsTooLow { asked, is_relief: true, .. } => format!(
            "the voltage is lower than {} V, which is asked; it will do only where the circuit's `relief` says what can't \
             be disconnected",
            asked.0
        ),
        ReadingReason::VoltsTooHigh { asked, .. } => {
            format!("the voltage is higher than {} V, which is asked", asked.0)
        }
        ReadingReason::RangeEndsBelowLimit { megohms } => {
            format!("the instrument's range ends below {} MΩ, which is asked", megohms.0)
        }
        ReadingReason::RangeBeginsAboveLimit { megohms } => {
            format!("the instrument's range begins above {} MΩ, which is asked", megohms.0)
        }
    }
}
