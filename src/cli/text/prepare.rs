//! A preparation as the text that is carried along.

use super::coverage::circuit_title;
use super::layout::Page;
use crate::model::{Installation, Volts};
use crate::prepare::{
    Action, InTheWay, IsolateAt, LeadsProved, Operated, Preparation, Step, TestBefore, WhyIsolated, WhyOff,
};
use crate::rules::Relief;

/// The text of `prepare`.
pub(in crate::cli) fn render(page: &mut Page, installation: &Installation, preparation: &Preparation) {
    page.heading(&format!("{}: preparation of insulation-resistance tests", installation.name()));
    for caution in &preparation.cautions {
        page.after(0, "! ", 2, caution);
    }
    page.heading("For each circuit, once it is isolated as is said there");
    steps(page, &preparation.before);
    page.heading("For each circuit, right before its readings");
    steps(page, &preparation.before_readings);
    for (row, (_, circuit)) in preparation.circuits.iter().zip(installation.circuits()) {
        page.heading(&circuit_title(circuit));
        steps(page, &row.steps);
    }
    page.heading("For each circuit, after each reading and at last");
    steps(page, &preparation.after);
}

fn steps(page: &mut Page, steps: &[Step]) {
    let mut last = None;
    for step in steps {
        // A caution stands before what it is about, once for all steps in a row that have it.
        if let Some(caution) = step.caution.filter(|_| step.caution != last) {
            page.after(0, "! ", 2, caution.text());
        }
        last = step.caution;
        page.after(0, mark(&step.action), 4, &in_words(&step.action));
    }
}

/// A box to tick, or a dash where nothing is done.
fn mark(action: &Action) -> &'static str {
    match action {
        Action::LeaveIn(_) | Action::NeutralAt { .. } => " -  ",
        Action::KeepOff { why: WhyOff::NotWorkedByHand, .. } => " -  ",
        Action::Read { never_cut_off, .. } if !never_cut_off.is_empty() => " -  ",
        _ => "[ ] ",
    }
}

fn in_words(action: &Action) -> String {
    match action {
        Action::Isolate { board, at, why } => {
            let at = match at {
                IsolateAt::MainSwitch => "at its main switch",
                IsolateAt::Supply => "at its supply, for it has no main switch",
                IsolateAt::BeforeMainSwitch => "at its supply, before its main switch",
            };
            let why = match why {
                WhyIsolated::OwnBoard => "",
                WhyIsolated::FeedsWhatIsOpened => ": it can feed conductors in what is opened here",
            };
            format!("Isolate {board} {at}, and lock it off{why}.")
        }
        Action::IsolateSource { point, location } => {
            let what = point.as_deref().unwrap_or("it");
            format!(
                "Isolate {what}{} at its source, and lock that off: the file doesn't say what feeds it.",
                at(location)
            )
        }
        Action::ProveDead => {
            "Prove it dead, in each accessory that is opened too: every conductor to every other, and to earth."
                .to_owned()
        }
        Action::TestBefore { test } => match test {
            TestBefore::ProtectiveContinuity => {
                "Test continuity of protective conductors, bonding included.".to_owned()
            }
            TestBefore::RingContinuity => {
                "Test continuity of the ring: its lengths leave the way and come back to it.".to_owned()
            }
            TestBefore::Polarity => "Test polarity.".to_owned(),
        },
        Action::KeepOff { device, why } => match why {
            WhyOff::ReadOnLoadSide => format!("{device} stays off: the readings are taken on its load side."),
            WhyOff::Electronics => format!("{device} stays off: its electronics would lie in the readings."),
            WhyOff::RestOfTheBoard => format!("{device} stays off: so the rest of the board is on no lead."),
            WhyOff::BoardBehind => format!("{device} stays off: what it feeds is read by itself."),
            WhyOff::FeedsWhatIsOpened => {
                format!("{device} stays off: it can feed conductors in what is opened here.")
            }
            WhyOff::NotWorkedByHand => {
                format!("{device} stays released: what lies beyond its contacts is reached by no lead at the way.")
            }
        },
        Action::TakeOut(obstacle) => format!("{}: {}.", take_out(obstacle), why(obstacle)),
        Action::LeaveIn(obstacle) => format!("{} can't be taken out: {}.", what(obstacle), why(obstacle)),
        Action::SwitchOn { point, position, location } => format!("{point}{} is {position}.", at(location)),
        Action::Joined { point, terminals, location } => {
            format!("See that {} of {point}{} are joined, as the file says.", terminals.join(" and "), at(location))
        }
        Action::Link { terminals, location, .. } => {
            format!("Link {} for the test{}: it passes in service.", terminals.join(" to "), at(location))
        }
        Action::TakeLinkOut { terminals, location, .. } => {
            format!("Take the link from {} out again{}.", terminals.join(" to "), at(location))
        }
        Action::Stands { point, position, location, operated } => {
            stands(&format!("{point}{}", at(location)), position.as_deref(), *operated)
        }
        Action::NeutralAt { terminal, bar, shared_with } => {
            let mut text = match bar {
                Some(bar) => format!("The neutral lead goes on {terminal}, which is the bar {bar}"),
                None => format!("The neutral lead goes on {terminal}, the load side of its own device"),
            };
            if shared_with.is_empty() {
                text.push_str("; no other circuit's neutral is on it.");
            } else {
                text.push_str(&format!(
                    "; the neutrals of {} are on it too, and in each reading that has it on a lead.",
                    shared_with.join(", ")
                ));
            }
            text
        }
        Action::CoversOn => {
            "Screw covers and accessories back as far as can be: pinched cables show only then.".to_owned()
        }
        Action::ProveLeads { leads: LeadsProved::Joined } => {
            "Join the two leads and test: the instrument reads 0.00\u{a0}MΩ. Part them, and it reads over its range."
                .to_owned()
        }
        Action::ProveLeads { leads: LeadsProved::EachOfAJoinedPair } => {
            "Where a lead joins two conductors, prove each of its tails so: one that is broken would go unseen."
                .to_owned()
        }
        Action::Read { between: [a, b], never_cut_off, relief, .. } if !never_cut_off.is_empty() => {
            never_judged(&format!("{a} to {b}"), &never_cut_off.join(", "), relief.as_ref())
        }
        Action::Read { between: [a, b], volts, not_while_fitted, left_in, .. } if not_while_fitted.is_empty() => {
            format!("Read {a} to {b}{}{}: ______\u{a0}MΩ", volts_in_words(*volts), left_in_words(left_in))
        }
        Action::Read { between: [a, b], volts, not_while_fitted, left_in, .. } => format!(
            "Read {a} to {b}{}{}, but only with the switches so that {} {} cut off: ______\u{a0}MΩ",
            volts_in_words(*volts),
            left_in_words(left_in),
            not_while_fitted.join(", "),
            if not_while_fitted.len() == 1 { "is" } else { "are" }
        ),
        Action::TakeInstrumentTo { point, location } => {
            format!("It has no way: take the instrument to {point}{}.", at(location))
        }
        Action::ReleaseAndDischarge => {
            "Release the button before a probe is moved, so that the circuit discharges through the instrument."
                .to_owned()
        }
        Action::PutBack => {
            "Put back and reconnect everything, take out every link, and prove that it works.".to_owned()
        }
    }
}

/// What becomes of a switch that does not reach all where it stands.
fn stands(point: &str, position: Option<&str>, operated: Operated) -> String {
    match (operated, position) {
        (Operated::AsPlanned, Some(position)) => {
            format!("{point} stands in {position}: look. `plan` names when it is operated.")
        }
        (Operated::ClosedAsPlanned, Some(position)) => format!(
            "{point} is found {position}: look. Readings need it closed for what is beyond it: `plan` starts from {position}, and \
             names when it is operated."
        ),
        (Operated::ByNobody, Some(position)) => format!(
            "{point} stays in {position}: look. The file says that nobody operates it, so what is beyond it is reached only as it \
             stands."
        ),
        (Operated::ByNobody, None) => format!(
            "{point}: nobody knows how it stands, and the file says that nobody operates it: what is beyond it is reached only as \
             it stands."
        ),
        (_, None) => format!("{point}: nobody knows how it stands. `plan` holds in any case."),
    }
}

/// A reading that something lies across whatever is done.
fn never_judged(reading: &str, what: &str, relief: Option<&Relief>) -> String {
    let mut text = format!("{reading} can't be judged by this program while {what} is in: no switch cuts that off. ");
    match relief {
        Some(relief) => text.push_str(&format!(
            "{} ({}{}) allows {} V d.c., and at least {} MΩ, with it connected: where a person decides so, `leaves` in the circuit's \
             `relief` names it.",
            relief.source.source,
            relief.source.edition,
            if relief.source.from_memory { ", FROM MEMORY" } else { "" },
            relief.volts.0,
            relief.megohms.0
        )),
        None => text.push_str("It would be read instead of the insulation, or damaged: take no such reading."),
    }
    text
}

fn left_in_words(left_in: &[String]) -> String {
    if left_in.is_empty() { String::new() } else { format!(", with {} left in", left_in.join(", ")) }
}

fn volts_in_words(volts: Option<Volts>) -> String {
    match volts {
        Some(volts) => format!(" at {} V d.c.", volts.0),
        None => " (the ruleset names no voltage)".to_owned(),
    }
}

fn at(location: &Option<String>) -> String {
    location.as_ref().map(|location| format!(" in {location}")).unwrap_or_default()
}

fn what(obstacle: &InTheWay) -> String {
    let of = obstacle.of_circuit.as_ref().map(|circuit| format!(" of {circuit}")).unwrap_or_default();
    format!("{} {}{of}{}", obstacle.what, obstacle.kind, at(&obstacle.location))
}

fn take_out(obstacle: &InTheWay) -> String {
    match obstacle.kind.as_str() {
        // The driver or the gear stays across the conductors when its lamp is out.
        "luminaire" if obstacle.conducts == "maybe" => format!("Disconnect {}, its driver or gear too", what(obstacle)),
        "luminaire" => format!("Lamps out of {}", what(obstacle)),
        "rcbo" => format!("Conductors out of {}", what(obstacle)),
        "detector" => format!("Head off {}", what(obstacle)),
        _ => format!("Disconnect {}", what(obstacle)),
    }
}

/// Why it is in the way.
fn why(obstacle: &InTheWay) -> String {
    let what = if obstacle.conducts == "maybe" { "electronics" } else { "it conducts" };
    let sides = |roles: &[Vec<String>; 2]| {
        let side = |roles: &[String]| if roles.is_empty() { "no supply".to_owned() } else { roles.join("+") };
        format!("{} and {}", side(&roles[0]), side(&roles[1]))
    };
    let mut between: Vec<String> = obstacle.roles.iter().map(sides).collect();
    between.dedup();
    let between = between.join(", ");
    if obstacle.across.is_empty() {
        return format!("{what}, between {between}; right across no reading here");
    }
    let readings: Vec<String> = obstacle.across.iter().map(|[a, b]| format!("{a} to {b}")).collect();
    format!("{what}, between {between}; across {}", readings.join(" and "))
}
