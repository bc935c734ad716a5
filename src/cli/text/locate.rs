//! Where the insulation leaks, and the next reading, as text.

use super::coverage::cautions;
use super::layout::{Page, count, metres};
use crate::cli::arguments::Assumed;
use crate::cli::output::refusal;
use crate::locate::{
    AssumptionError, Assumptions, Findings, Gap, GapId, LeftOut, MegohmKilometres, Member, Next, NextReading, Outcome,
    Parting, SetTo, State, UsedReading, WhyNothing,
};
use crate::model::{Conductor, Installation, Length, Line, Megohms, Point, ReadingAt, TerminalRef, TestSet};

/// The most places of one gap that are named one by one.
const MOST_NAMED: usize = 12;

/// The assumptions that were asked for.
pub(in crate::cli) fn assumptions(assumed: &Assumed) -> Result<Assumptions, String> {
    let checked = || -> Result<Assumptions, AssumptionError> {
        Assumptions::default()
            .with_instrument(assumed.accuracy_percent, Megohms(assumed.resolution))?
            .with_healthy(MegohmKilometres(assumed.healthy_megohm_kilometres))?
            .with_investigate_below(Megohms(assumed.investigate_below))
    };
    checked().map_err(|error| {
        let help = error.mend();
        refusal(error, help)
    })
}

/// The text of `locate`.
pub(in crate::cli) fn render(page: &mut Page, installation: &Installation, tests: &TestSet, findings: &Findings) {
    let text = Text { installation, tests, findings };
    page.heading(&format!("{}: where the insulation leaks", installation.name()));
    text.summary(page);
    text.conflicts(page);
    text.suspects(page);
    text.next(page);
    text.assumed(page);
}

struct Text<'a> {
    installation: &'a Installation,
    tests: &'a TestSet,
    findings: &'a Findings,
}

impl<'a> Text<'a> {
    fn summary(&self, page: &mut Page) {
        let Findings { summary, faults, conflicts, readings, .. } = self.findings;
        let verdict = match (faults.at_least, faults.exact) {
            (0, true) => "No fault is needed to explain the readings. It does not mean that all was read: see `cover`."
                .to_owned(),
            (0, false) => "Too much bears on one another to say how many faults it takes.".to_owned(),
            (1, true) => "One fault explains all readings, and no fewer do. There may be more.".to_owned(),
            (1, false) => "At least one fault is needed to explain the readings.".to_owned(),
            (faults, true) => format!("It takes {faults} faults to explain the readings; fewer do not."),
            (faults, false) => format!("At least {faults} faults are needed to explain the readings."),
        };
        if self.findings.stopped {
            page.paragraph(0, 2, "The search was stopped before its end; of what it did not come to, nothing is said.");
        }
        if !conflicts.is_empty() {
            page.paragraph(0, 2, "Some readings contradict one another. Of the others is said:");
        }
        page.paragraph(0, 2, &verdict);
        page.paragraph(
            0,
            2,
            &format!(
                "Of {} (copper beside copper, in a length or an accessory): {} cleared, {} suspect, {} certain, {} bounded by \
                 no reading.",
                count(summary.gaps, "gap"),
                summary.cleared,
                summary.suspect,
                summary.certain,
                summary.not_read
            ),
        );
        if summary.contradicted > 0 {
            let gaps = count(summary.contradicted, "gap");
            page.paragraph(0, 2, &format!("Of {gaps}, nothing is said: their readings contradict."));
        }
        let names = |is_such: &dyn Fn(&UsedReading) -> bool| -> String {
            let such = readings.iter().filter(|used| is_such(used));
            such.map(|used| self.reading_name([used.pass, used.reading])).collect::<Vec<_>>().join("; ")
        };
        let below = names(&|used| used.taken_below_volts.is_some());
        if !below.is_empty() {
            page.paragraph(
                0,
                2,
                &format!(
                    "Taken below the test voltage of what was across the leads, so that they can show leakage there and \
                     clear nothing that asks for more: {below}."
                ),
            );
        }
        for (why, words) in [
            (LeftOut::Bridged, "their leads were joined"),
            (LeftOut::Doubtful, "their leads may have been joined through electronics or a switch that nobody knows"),
            (LeftOut::NoValue, "no value that says anything is recorded"),
        ] {
            let names = names(&|used| used.left_out == Some(why));
            if !names.is_empty() {
                page.paragraph(0, 2, &format!("Left out, since {words}: {names}."));
            }
        }
    }

    fn reading_name(&self, [pass, number]: [usize; 2]) -> String {
        let reading = &self.tests.passes()[pass - 1].readings()[number - 1];
        let [a, b] = reading.leads().each_ref().map(|lead| lead.text());
        let place = match reading.at() {
            ReadingAt::Circuit(circuit) => self.installation.circuit(circuit).id(),
            ReadingAt::Board(board) => self.installation.board(board).id(),
        };
        format!("pass {pass}, reading {number} ({place}, {a} to {b})")
    }

    fn conflicts(&self, page: &mut Page) {
        if self.findings.conflicts.is_empty() {
            return;
        }
        page.heading("Readings that contradict one another");
        page.paragraph(
            0,
            2,
            "No leakage between copper that lies side by side in the file gives all of these readings, though without any \
             one of them the others could be. Look for a wrong figure, a switch that stood otherwise, a fault that came and \
             went, or wiring that is not as in the file; then take them again. Nothing is cleared where they have part.",
        );
        for conflict in &self.findings.conflicts {
            let names: Vec<String> = conflict.readings.iter().map(|&reading| self.reading_name(reading)).collect();
            page.after(0, "- ", 2, &format!("{}.", names.join("; ")));
        }
    }

    fn suspects(&self, page: &mut Page) {
        let groups = &self.findings.faults.suspects;
        for (number, group) in groups.iter().enumerate() {
            let gaps: Vec<&Gap> = group.iter().filter_map(|&gap| self.findings.gap(gap)).collect();
            let alone = gaps.iter().any(|gap| gap.explains_alone);
            let which = if groups.len() == 1 { String::new() } else { format!(" {} of {}", number + 1, groups.len()) };
            page.heading(&match (alone, group.as_slice()) {
                (true, _) if self.findings.adds_up(group) => {
                    format!("No one of these is a fault{which}: together they leak it")
                }
                (true, [_]) => format!("If it is one fault{which}: here"),
                (true, _) => format!("If it is one fault{which}: in one of these"),
                (false, _) => format!("Faults{which}: at least one of these"),
            });
            for gap in gaps {
                page.after(0, "- ", 2, &format!("{}.", self.members(gap)));
                page.paragraph(4, 2, &format!("{}.", bounds(gap)));
            }
        }
        let is_open = |gap: &&Gap| matches!(gap.state, State::Certain | State::Suspect);
        let open = self.findings.gaps.iter().filter(is_open).map(|gap| gap.gap);
        let rest: Vec<GapId> = open.filter(|gap| !groups.iter().any(|group| group.contains(gap))).collect();
        if !rest.is_empty() {
            let names = self.lengths(&rest);
            let faults = &self.findings.faults;
            page.heading("Not cleared either");
            page.paragraph(
                0,
                2,
                &format!(
                    "{} {} in {}{}.",
                    // Of several faults in one set of readings not each has a group of its own.
                    match faults.exact && faults.at_least == groups.len() {
                        true => "No fault is needed here to explain the readings, but they do not rule one out:",
                        false => "The readings do not rule a fault out here:",
                    },
                    count(rest.len(), "gap"),
                    count(names.len(), "length"),
                    if names.is_empty() { String::new() } else { format!(" ({})", listed(&names)) }
                ),
            );
        }
    }

    /// The lengths that some gaps are in, in the order of the file.
    fn lengths(&self, gaps: &[GapId]) -> Vec<&'a str> {
        let mut lengths = self.findings.lengths_of(gaps);
        lengths.sort_by_key(|id| self.installation.length_by_id(id));
        lengths
    }

    fn members(&self, gap: &Gap) -> String {
        let named: Vec<String> = gap.members.iter().take(MOST_NAMED).map(|member| self.member(member)).collect();
        let more = gap.members.len() - named.len();
        let more = if more > 0 { format!("; and {more} more places") } else { String::new() };
        format!("{}{more}", named.join("; "))
    }

    fn member(&self, member: &Member) -> String {
        match member {
            Member::Length { length, cores: [one, other], metres: long } => {
                let row = self.length(length);
                let [from, to] = row.ends().map(|end| self.installation.end_name(end));
                format!("length {length} {one}-{other} ({}, {from} to {to})", metres(*long))
            }
            Member::Accessory { at, terminals: [one, other] } => match self.point(at) {
                Some(point) => {
                    let kind = self.installation.kind(point.kind()).name();
                    format!("{kind} {one} to {other}{}", self.location(point))
                }
                None if at.contains('/') => format!("way {one} to {other}"),
                None => format!("board {one} to {other}"),
            },
        }
    }

    fn length(&self, id: &str) -> &'a Length {
        let length = self.installation.length_by_id(id).expect("findings are of this installation");
        self.installation.length(length)
    }

    /// A point; none where it is a way or a board.
    fn point(&self, id: &str) -> Option<&'a Point> {
        self.installation.point_by_id(id).map(|point| self.installation.point(point))
    }

    fn location(&self, point: &Point) -> String {
        match point.location() {
            Some(location) => format!(" in {}", self.installation.location(location).name()),
            None => String::new(),
        }
    }

    fn location_of(&self, point: &str) -> String {
        self.point(point).map_or_else(String::new, |point| self.location(point))
    }

    fn next(&self, page: &mut Page) {
        let (why, gaps) = match &self.findings.next {
            Next::Read(reading) => {
                page.heading("Next reading");
                cautions(page);
                return self.reading(page, reading);
            }
            Next::Part(parting) => {
                page.heading("No reading splits these: part the copper");
                cautions(page);
                return self.part(page, parting);
            }
            Next::Nothing { why, gaps } => (why, gaps),
        };
        let words = match why {
            // Said at the top.
            WhyNothing::NoFault | WhyNothing::NotSolved | WhyNothing::Contradiction => return,
            WhyNothing::Found => match self.lengths(gaps).as_slice() {
                [length] => &format!(
                    "One length is left, {length}, with what it ends in. No reading tells its insulation from that of the \
                     accessories at its ends. Look at the ends first: that is where cable is cut and connected."
                ),
                _ if gaps.iter().filter_map(|&gap| self.findings.gap(gap)).all(|gap| gap.members.len() == 1) => {
                    "No length is left: it is in the accessory."
                }
                _ => "No length is left: it is in one of the accessories, which no reading tells apart.",
            },
            WhyNothing::AddsUp => {
                "Each of these leaks less than the limit for one fault; together they leak what was read. Look for damp or \
                 aged cable rather than for one place, and judge the readings as they are."
            }
            WhyNothing::SameCopper => {
                "These places share the copper on both sides, so no reading tells them apart, and there is no one or two \
                 points where parting it would. Look at the accessories, then disconnect lengths one by one."
            }
            WhyNothing::NotSplit if gaps.len() == 1 => {
                "One place is left, and none that was taken and none that was tried shows it by itself. So nobody measured it: \
                 take nothing for certain."
            }
            WhyNothing::NotSplit => {
                "No reading that was tried splits these: at the ways, sources and bars after up to two operations, or directly across \
                 each."
            }
            WhyNothing::Stopped => "The work was stopped before it was known what to read next.",
        };
        page.heading("Where it ends");
        page.paragraph(0, 2, words);
        if *why == WhyNothing::Found {
            page.paragraph(0, 2, "This holds if there are no more faults than the readings need; else read again.");
        }
    }

    fn reading(&self, page: &mut Page, reading: &NextReading) {
        if reading.confirms.is_some() {
            page.paragraph(
                0,
                2,
                "One place is left, and no reading had it so alone across the leads as this one does. Take it before anybody \
                 looks for the fault or parts copper there.",
            );
        }
        page.paragraph(
            0,
            2,
            "With all ways, RCDs and main switches off, and everything out that comes out (as `plan` prepares it):",
        );
        for SetTo { device, from, to, .. } in &reading.set {
            let step = match from.as_str() {
                "unknown" => format!("to {to}, however it stands"),
                from => format!("from {from} to {to}"),
            };
            page.after(2, "[ ] ", 4, &format!("{device}{}: {step}", self.location_of(device)));
        }
        let taken = match (reading.at_point.as_ref().or(reading.at.as_ref()), &reading.circuit, &reading.board) {
            (Some(point), _, _) => format!("Instrument taken to {point}{}", self.location_of(point)),
            (None, Some(circuit), _) => format!("At the way of {circuit}"),
            (None, None, board) => format!("At board {}", board.as_deref().unwrap_or_default()),
        };
        let [a, b] = &reading.between;
        let [on_a, on_b] = [a, b]
            .map(|lead| lead.split('+').map(|token| self.terminal(reading, token)).collect::<Vec<_>>().join(" and "));
        let volts = reading.volts.map_or_else(String::new, |volts| format!(" at {} V d.c.", volts.0));
        page.after(
            2,
            "[ ] ",
            4,
            &format!("{taken}: {a} to {b}{volts}: one lead on {on_a}, the other on {on_b}  ______\u{a0}MΩ"),
        );
        if reading.confirms.is_some() {
            let (more, less) = (reading.if_more.megohms, reading.if_less.megohms);
            let good = "the fault is not there, and it takes more than one elsewhere. Part nothing; ask again.";
            page.after(4, "- ", 2, &format!("more than {more} MΩ: {good}"));
            let low = "it bears the place out. Ask again for what to look at or to part.";
            page.after(4, "- ", 2, &format!("less than {less} MΩ: {low}"));
            return page.paragraph(2, 2, "Add the reading to the test set, with what was operated.");
        }
        self.outcome(page, "more", &reading.if_more, &reading.suspects);
        self.outcome(page, "less", &reading.if_less, &reading.suspects);
        page.paragraph(
            2,
            2,
            "That is if no more faults are needed then. In between it says less. Add the reading to the test set, with what \
             was operated, and ask again.",
        );
    }

    /// The full name of what a lead touches: it may be written short for the reading's way or the bars of its board.
    fn terminal(&self, reading: &NextReading, name: &str) -> String {
        if name.contains('.') || name == "MET" {
            return name.to_owned();
        }
        let circuit = reading.circuit.as_ref().and_then(|id| self.installation.circuit_by_id(id));
        if let ([source], Some(_)) = (circuit.map_or(&[][..], |id| self.installation.sources_of(id)), &reading.at) {
            let terminal = source.terminal(self.installation, name);
            return terminal.map_or(name.to_owned(), |terminal| self.installation.terminal_name(terminal));
        }
        let conductor = match name {
            "N" => Conductor::Neutral,
            "E" => Conductor::Earth,
            _ => {
                let mut lines = [Line::L, Line::L1, Line::L2, Line::L3].into_iter();
                Conductor::Line(lines.find(|line| line.name() == name).expect("a short name is a conductor's"))
            }
        };
        let way = circuit.and_then(|circuit| self.installation.circuit(circuit).way());
        let board = reading.board.as_ref().and_then(|id| self.installation.board_by_id(id));
        self.installation.terminal_name(match (way, board, conductor) {
            // The line of a way with one pole, whichever it is.
            (Some(way), _, Conductor::Line(Line::L)) => {
                TerminalRef::Way { way, conductor: Conductor::Line(self.installation.way(way).poles()[0]) }
            }
            (Some(way), ..) => TerminalRef::Way { way, conductor },
            (None, Some(board), Conductor::Earth) => TerminalRef::EarthBar { board },
            (None, Some(board), _) => TerminalRef::Bus { board, conductor },
            (None, None, _) => return name.to_owned(),
        })
    }

    fn outcome(&self, page: &mut Page, than: &str, outcome: &Outcome, before: &[GapId]) {
        let what = if outcome.contradicts {
            "can't be, as far as the file goes".to_owned()
        } else if outcome.at_least == 0 {
            "no fault is left to look for".to_owned()
        } else if outcome.suspects.is_empty() {
            "no one of them is a fault: they add up".to_owned()
        } else {
            let names = self.lengths(&outcome.suspects);
            let of = match outcome.suspects.iter().all(|gap| before.contains(gap)) {
                true => format!("{} of {}", outcome.suspects.len(), count(before.len(), "suspect")),
                false => count(outcome.suspects.len(), "suspect"),
            };
            let named = if names.is_empty() { "accessories only".to_owned() } else { listed(&names) };
            format!("{of} left, in {}: {named}", metres(outcome.metres))
        };
        page.after(4, "- ", 2, &format!("{than} than {} MΩ: {what}.", outcome.megohms));
    }

    fn part(&self, page: &mut Page, parting: &Parting) {
        page.paragraph(
            0,
            2,
            "All these places share the copper on both sides, so no reading tells them apart as long as it is whole.",
        );
        let place = |(terminal, at): (&String, &String)| match self.point(at) {
            Some(point) => format!("{terminal}{}", self.location(point)),
            None => format!("the bar of {terminal} on board {at}"),
        };
        let places: Vec<String> = parting.terminals.iter().zip(&parting.at).map(place).collect();
        page.after(
            0,
            "[ ] ",
            4,
            &format!("By hand, on dead copper only: take the cores out of {}, each by itself.", places.join(" and ")),
        );
        let side = |part: &Vec<String>| {
            let ids: Vec<&str> = part.iter().map(String::as_str).collect();
            let whole: f64 = ids.iter().map(|id| self.length(id).metres().0).sum();
            format!("{} ({})", listed(&ids), metres(whole))
        };
        let sides: Vec<String> = parting.parts.iter().map(side).collect();
        page.after(
            0,
            "[ ] ",
            4,
            &format!("Then read each part by itself, across the same two sides: {}.", sides.join(" | ")),
        );
        page.paragraph(
            4,
            2,
            "The low one has the fault. To go on with `locate`, write \"-\" for the parted ends in a copy of the installation \
             file, and start a test set for it.",
        );
        if self.findings.gap(parting.gap).is_some_and(|gap| gap.members.len() > MOST_NAMED) {
            page.paragraph(4, 2, "Accessories go with the lengths that end in them.");
        }
    }

    fn assumed(&self, page: &mut Page) {
        let assumed = &self.findings.assumed;
        page.heading("What this rests on");
        page.paragraph(
            0,
            2,
            &format!(
                "The instrument is right to {} % of the value and {} MΩ. Healthy cable has {} MΩ·km or more between two \
                 conductors. A fault leaks, beyond that, more than 1/({} MΩ): readings below that are looked into. Each has \
                 an option of its own; `lengthwise help locate` names the sources.",
                assumed.accuracy_percent(),
                assumed.resolution().0,
                assumed.healthy().0,
                assumed.investigate_below().0
            ),
        );
        page.paragraph(
            0,
            2,
            "Cleared means: no leakage that fits the readings is a fault. It holds only for copper side by side in the file, \
             and for a fault that was there during all readings. What leaks between two cables, or comes and goes, is not \
             seen. A competent person decides.",
        );
        let mut taken = self.tests.passes().iter().flat_map(|pass| pass.readings()).zip(&self.findings.readings);
        if taken.any(|(reading, used)| used.left_out.is_none() && reading.volts().is_none()) {
            page.paragraph(
                0,
                2,
                "Readings without a test voltage are taken to be at the right one or above. Put `volts` down: below it, what \
                 holds may break down at the right one.",
            );
        }
    }
}

/// Ids in a row; the middle of a long row left out.
fn listed(names: &[&str]) -> String {
    if names.len() <= MOST_NAMED {
        return names.join(", ");
    }
    format!("{}, and {} more", names[..MOST_NAMED].join(", "), names.len() - MOST_NAMED)
}

/// The resistances that a gap can have.
fn bounds(gap: &Gap) -> String {
    // To the safe side: the least resistance down, the greatest up.
    let megohms = |microsiemens: f64, round: fn(f64) -> f64| {
        let value = 1.0 / microsiemens;
        let figures: i32 = if value >= 100.0 {
            0
        } else if value >= 10.0 {
            1
        } else {
            2
        };
        let power = 10f64.powi(figures);
        format!("{:.*} MΩ", figures as usize, round(value * power) / power)
    };
    // What leaks less than a gigohm lets through is not worth a figure.
    let least = gap.least_microsiemens;
    let at_most = (least > 1e-3).then(|| megohms(least, f64::ceil));
    let at_least = gap.greatest_microsiemens.map(|greatest| megohms(greatest, f64::floor));
    let range = match (at_least, at_most) {
        (Some(least), Some(most)) => format!("has {least} to {most}"),
        (Some(least), None) => format!("has {least} or more"),
        (None, Some(most)) => format!("has {most} or less"),
        (None, None) => "no reading bounds it".to_owned(),
    };
    match gap.state {
        State::Certain => format!("{range}: faulty for certain"),
        _ => range,
    }
}
