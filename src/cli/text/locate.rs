//! Where the insulation leaks, and the next reading, as text.

use super::coverage::cautions;
use super::layout::{Page, count, metres};
use crate::cli::arguments::Assumed;
use crate::locate::{
    AssumptionError, Assumptions, Explanation, Finding, GapId, LeftOut, Locate, MegohmKilometres, Member, Next,
    NextReading, Outcome, PartAt, Parting, State, WhyNothing,
};
use crate::model::{LengthId, Megohms, PointId, ReadingAt, TestSet};
use crate::network::Network;

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
    checked().map_err(|error| format!("error: {error}\n  help: {}\n", error.mend()))
}

/// The text of `locate`.
pub(in crate::cli) fn render(network: &Network, locate: &Locate<'_>, tests: &TestSet) -> String {
    let mut page = Page::default();
    page.heading(&format!("{}: where the insulation leaks", network.installation().name()));
    summary(&mut page, network, locate, tests);
    conflicts(&mut page, network, locate, tests);
    let text = Text { network, locate };
    text.suspects(&mut page);
    text.next(&mut page);
    text.assumed(&mut page);
    page.into_text()
}

fn summary(page: &mut Page, network: &Network, locate: &Locate<'_>, tests: &TestSet) {
    let fewest = locate.fewest_faults();
    let verdict = match (fewest.at_least, fewest.is_exact) {
        (0, true) => {
            "No fault is needed to explain the readings. It does not mean that all was read: see `cover`.".to_owned()
        }
        (0, false) => "Too much bears on one another to say how many faults it takes.".to_owned(),
        (1, true) => "One fault explains all readings, and no fewer do. There may be more.".to_owned(),
        (1, false) => "At least one fault is needed to explain the readings.".to_owned(),
        (faults, true) => format!("It takes {faults} faults to explain the readings; fewer do not."),
        (faults, false) => format!("At least {faults} faults are needed to explain the readings."),
    };
    if locate.conflicts().is_empty() {
        page.paragraph(0, 2, &verdict);
    } else {
        page.paragraph(0, 2, "Some readings contradict one another. Of the others is said:");
        page.paragraph(0, 2, &verdict);
    }
    let in_state = |state| locate.in_state(state).count();
    page.paragraph(
        0,
        2,
        &format!(
            "Of {} (copper beside copper, in a length or an accessory): {} cleared, {} suspect, {} certain, {} bounded by no \
             reading.",
            count(locate.gaps().len(), "gap"),
            in_state(State::Cleared),
            in_state(State::Suspect),
            in_state(State::Certain),
            in_state(State::NotRead)
        ),
    );
    let contradicted = in_state(State::Contradicted);
    if contradicted > 0 {
        page.paragraph(
            0,
            2,
            &format!("Of {}, nothing is said: their readings contradict.", count(contradicted, "gap")),
        );
    }
    let below = locate.readings().iter().filter(|used| used.taken_below.is_some());
    let below: Vec<String> = below.map(|used| reading_name(network, tests, [used.pass, used.reading])).collect();
    if !below.is_empty() {
        page.paragraph(
            0,
            2,
            &format!(
                "Taken below the test voltage of what was across the leads, so that they can show leakage there and clear \
                 nothing that asks for more: {}.",
                below.join("; ")
            ),
        );
    }
    let left_out = |why: LeftOut| -> Vec<String> {
        let readings = locate.readings().iter().filter(|used| used.left_out == Some(why));
        readings.map(|used| reading_name(network, tests, [used.pass, used.reading])).collect()
    };
    let reasons = [
        (LeftOut::Bridged, "their leads were joined"),
        (LeftOut::Doubtful, "their leads may have been joined through electronics or a switch that nobody knows"),
        (LeftOut::NoValue, "no value that says anything is recorded"),
    ];
    for (why, words) in reasons {
        let names = left_out(why);
        if !names.is_empty() {
            page.paragraph(0, 2, &format!("Left out, since {words}: {}.", names.join("; ")));
        }
    }
}

fn reading_name(network: &Network, tests: &TestSet, [pass, number]: [usize; 2]) -> String {
    let reading = &tests.passes()[pass - 1].readings()[number - 1];
    let [a, b] = reading.leads().each_ref().map(|lead| lead.text());
    format!("pass {pass}, reading {number} ({}, {a} to {b})", place(network, reading.at()))
}

fn place(network: &Network, at: ReadingAt) -> &str {
    match at {
        ReadingAt::Circuit(circuit) => network.installation().circuit(circuit).id(),
        ReadingAt::Board(board) => network.installation().board(board).id(),
    }
}

fn conflicts(page: &mut Page, network: &Network, locate: &Locate<'_>, tests: &TestSet) {
    let conflicts = locate.conflicts();
    if conflicts.is_empty() {
        return;
    }
    page.heading("Readings that contradict one another");
    page.paragraph(
        0,
        2,
        "No leakage between copper that lies side by side in the file gives all of these readings, though without any one of \
         them the others could be. Look for a wrong figure, a switch that stood otherwise, a fault that came and went, or \
         wiring that is not as in the file; then take them again. Nothing is cleared where they have part.",
    );
    for conflict in conflicts {
        let names: Vec<String> =
            conflict.readings.iter().map(|&reading| reading_name(network, tests, reading)).collect();
        page.after(0, "- ", 2, &format!("{}.", names.join("; ")));
    }
}

struct Text<'a> {
    network: &'a Network,
    locate: &'a Locate<'a>,
}

impl Text<'_> {
    fn suspects(&self, page: &mut Page) {
        let groups = self.locate.suspects();
        for (number, group) in groups.iter().enumerate() {
            let alone = group.iter().any(|&gap| self.locate.finding(gap).explains_alone);
            let which = if groups.len() == 1 { String::new() } else { format!(" {} of {}", number + 1, groups.len()) };
            match (alone, group.as_slice()) {
                (true, _) if self.locate.adds_up(group) => {
                    page.heading(&format!("No one of these is a fault{which}: together they leak it"));
                }
                (true, [_]) => page.heading(&format!("If it is one fault{which}: here")),
                (true, _) => page.heading(&format!("If it is one fault{which}: in one of these")),
                (false, _) => page.heading(&format!("Faults{which}: at least one of these")),
            }
            for &gap in group {
                self.gap(page, gap);
            }
        }
        let rest: Vec<GapId> = [State::Certain, State::Suspect]
            .into_iter()
            .flat_map(|state| self.locate.in_state(state))
            .filter(|gap| !groups.iter().any(|group| group.contains(gap)))
            .collect();
        if !rest.is_empty() {
            let lengths = self.locate.lengths_of(&rest);
            let names: Vec<&str> = lengths.iter().map(|&length| self.length(length)).collect();
            page.heading("Not cleared either");
            page.paragraph(
                0,
                2,
                &format!(
                    "{} {} in {}{}.",
                    // Of several faults in one set of readings not each has a group of its own.
                    match self.locate.fewest_faults() == (Explanation { at_least: groups.len(), is_exact: true }) {
                        true => "No fault is needed here to explain the readings, but they do not rule one out:",
                        false => "The readings do not rule a fault out here:",
                    },
                    count(rest.len(), "gap"),
                    count(lengths.len(), "length"),
                    if names.is_empty() { String::new() } else { format!(" ({})", listed(&names)) }
                ),
            );
        }
    }

    fn length(&self, length: LengthId) -> &str {
        self.network.installation().length(length).id()
    }

    /// One gap: what it is, and how much it can leak.
    fn gap(&self, page: &mut Page, gap: GapId) {
        page.after(0, "- ", 2, &format!("{}.", self.members(gap)));
        page.paragraph(4, 2, &format!("{}.", bounds(self.locate.finding(gap))));
    }

    fn members(&self, gap: GapId) -> String {
        let members = self.locate.members(gap);
        let named: Vec<String> = members.iter().take(MOST_NAMED).map(|member| self.member(member)).collect();
        let more = members.len() - named.len();
        let more = if more > 0 { format!("; and {more} more places") } else { String::new() };
        format!("{}{more}", named.join("; "))
    }

    fn member(&self, member: &Member) -> String {
        let (name, [one, other]) = member.names(self.network);
        match member {
            Member::Length { length, .. } => {
                let row = self.network.installation().length(*length);
                let [from, to] = row.ends().map(|end| self.network.installation().end_name(end));
                format!("length {name} {one}-{other} ({}, {from} to {to})", metres(row.metres().0))
            }
            Member::Point { point, .. } => {
                let kind = self.network.installation().kind(self.network.installation().point(*point).kind()).name();
                format!("{kind} {one} to {other}{}", self.place(*point))
            }
            Member::Way { .. } => format!("way {one} to {other}"),
            Member::Board { .. } => format!("board {one} to {other}"),
        }
    }

    fn place(&self, point: PointId) -> String {
        match self.network.installation().point(point).location() {
            Some(location) => format!(" in {}", self.network.installation().location(location).name()),
            None => String::new(),
        }
    }

    fn next(&self, page: &mut Page) {
        match self.locate.next() {
            Next::Reading(reading) => {
                page.heading("Next reading");
                cautions(page);
                self.reading(page, &reading);
            }
            Next::Part { gap, parting } => {
                page.heading("No reading splits these: part the copper");
                cautions(page);
                self.part(page, gap, &parting);
            }
            // Said at the top.
            Next::Nothing(WhyNothing::NoFault | WhyNothing::NotSolved | WhyNothing::Contradiction) => {}
            Next::Nothing(WhyNothing::Found { gap }) => {
                page.heading("Where it ends");
                let lengths = self.locate.lengths_of(&[gap]);
                let words = match lengths.as_slice() {
                    [length] => format!(
                        "One length is left, {}, with what it ends in. No reading tells its insulation from that of the \
                         accessories at its ends. Look at the ends first: that is where cable is cut and connected.",
                        self.length(*length)
                    ),
                    _ if self.locate.members(gap).len() == 1 => "No length is left: it is in the accessory.".to_owned(),
                    _ => "No length is left: it is in one of the accessories, which no reading tells apart.".to_owned(),
                };
                page.paragraph(0, 2, &words);
            }
            Next::Nothing(WhyNothing::AddsUp { .. }) => {
                page.heading("Where it ends");
                page.paragraph(
                    0,
                    2,
                    "Each of these leaks less than the limit for one fault; together they leak what was read. Look for damp or \
                     aged cable rather than for one place, and judge the readings as they are.",
                );
            }
            Next::Nothing(WhyNothing::SameCopper { .. }) => {
                page.heading("Where it ends");
                page.paragraph(
                    0,
                    2,
                    "These places share the copper on both sides, so no reading tells them apart, and there is no one or two \
                     points where parting it would. Look at the accessories, then disconnect lengths one by one.",
                );
            }
            Next::Nothing(WhyNothing::NotSplit { .. }) => {
                page.heading("Where it ends");
                page.paragraph(
                    0,
                    2,
                    "No reading that was tried splits these: at the ways and bars after up to two operations, or directly \
                     across each.",
                );
            }
        }
    }

    fn reading(&self, page: &mut Page, reading: &NextReading) {
        let installation = self.network.installation();
        page.paragraph(
            0,
            2,
            "With all ways, RCDs and main switches off, and everything out that comes out (as `plan` prepares it):",
        );
        for set in &reading.set {
            let id = installation.point(set.point).id();
            let step = match &set.from {
                Some(from) => format!("from {from} to {}", set.to),
                None => format!("to {}, however it stands", set.to),
            };
            page.after(2, "[ ] ", 4, &format!("{id}{}: {step}", self.place(set.point)));
        }
        let lead = |number: usize| {
            let touches = reading.leads[number].touches();
            touches.iter().map(|&terminal| installation.terminal_name(terminal)).collect::<Vec<_>>().join(" and ")
        };
        let [a, b] = reading.leads.each_ref().map(|lead| lead.text());
        let volts = format!(" at {} V d.c.", reading.volts.0);
        let taken = match reading.at_point {
            Some(point) => {
                format!("Instrument taken to {}{}", installation.point(point).id(), self.place(point))
            }
            None => match reading.at {
                ReadingAt::Circuit(_) => format!("At the way of {}", place(self.network, reading.at)),
                ReadingAt::Board(_) => format!("At board {}", place(self.network, reading.at)),
            },
        };
        page.after(
            2,
            "[ ] ",
            4,
            &format!("{taken}: {a} to {b}{volts}: one lead on {}, the other on {}  ______\u{a0}MΩ", lead(0), lead(1)),
        );
        self.outcome(page, "more", &reading.high, &reading.suspects);
        self.outcome(page, "less", &reading.low, &reading.suspects);
        page.paragraph(
            2,
            2,
            "That is if no more faults are needed then. In between it says less. Add the reading to the test set, with what \
             was operated, and ask again.",
        );
    }

    fn outcome(&self, page: &mut Page, than: &str, outcome: &Outcome, before: &[GapId]) {
        let what = if outcome.contradicts {
            "can't be, as far as the file goes".to_owned()
        } else if outcome.at_least == 0 {
            "no fault is left to look for".to_owned()
        } else if outcome.suspects.is_empty() {
            "no one of them is a fault: they add up".to_owned()
        } else {
            let lengths = self.locate.lengths_of(&outcome.suspects);
            let names: Vec<&str> = lengths.iter().map(|&length| self.length(length)).collect();
            let of = match outcome.suspects.iter().all(|gap| before.contains(gap)) {
                true => format!("{} of {}", outcome.suspects.len(), count(before.len(), "suspect")),
                false => count(outcome.suspects.len(), "suspect"),
            };
            format!(
                "{of} left, in {}: {}",
                metres(self.locate.metres_of(&outcome.suspects)),
                if names.is_empty() { "accessories only".to_owned() } else { listed(&names) }
            )
        };
        page.after(4, "- ", 2, &format!("{than} than {} MΩ: {what}.", outcome.megohms.0));
    }

    fn part(&self, page: &mut Page, gap: GapId, parting: &Parting) {
        let installation = self.network.installation();
        page.paragraph(
            0,
            2,
            "All these places share the copper on both sides, so no reading tells them apart as long as it is whole.",
        );
        let names: Vec<String> = parting
            .terminals
            .iter()
            .zip(&parting.at)
            .map(|(&terminal, place)| {
                let name = installation.terminal_name(terminal);
                match *place {
                    PartAt::Point(point) => format!("{name}{}", self.place(point)),
                    PartAt::Board(board) => format!("the bar of {name} on board {}", installation.board(board).id()),
                }
            })
            .collect();
        page.after(
            0,
            "[ ] ",
            4,
            &format!("By hand, on dead copper only: take the cores out of {}, each by itself.", names.join(" and ")),
        );
        let sides: Vec<String> = parting
            .parts
            .iter()
            .map(|part| {
                let ids: Vec<&str> = part.iter().map(|&length| self.length(length)).collect();
                let whole: f64 = part.iter().map(|&length| installation.length(length).metres().0).sum();
                format!("{} ({})", listed(&ids), metres(whole))
            })
            .collect();
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
        if self.locate.members(gap).len() > MOST_NAMED {
            page.paragraph(4, 2, "Accessories go with the lengths that end in them.");
        }
    }

    fn assumed(&self, page: &mut Page) {
        let assumed = self.locate.assumptions();
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
        if self.locate.readings().iter().any(|used| used.left_out.is_none() && !used.has_volts) {
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
fn bounds(finding: Finding) -> String {
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
    let at_most = (finding.least > 1e-3).then(|| megohms(finding.least, f64::ceil));
    let at_least = finding.greatest.is_finite().then(|| megohms(finding.greatest, f64::floor));
    let range = match (at_least, at_most) {
        (Some(least), Some(most)) => format!("has {least} to {most}"),
        (Some(least), None) => format!("has {least} or more"),
        (None, Some(most)) => format!("has {most} or less"),
        (None, None) => "no reading bounds it".to_owned(),
    };
    match finding.state {
        State::Certain => format!("{range}: faulty for certain"),
        _ => range,
    }
}
