//! What a plan can't test, and what would change that, as text.

use indexmap::IndexMap;

use super::coverage::ends;
use super::layout::Page;
use super::plan::by_length;
use crate::network::{Network, PairId};
use crate::plan::{Plan, Remedy, RemedyStep, Restriction, Untestable, UntestablePair};

/// What the plan can't test, each with what would change that.
pub(in crate::cli) fn write(page: &mut Page, network: &Network, plan: &Plan<'_>) {
    if plan.untestable().is_empty() {
        if plan.not_planned().is_empty() {
            page.gap();
            page.paragraph(
                0,
                2,
                "If every reading is taken as planned, nothing is missed: every needed pair of every length is tested.",
            );
        }
        return;
    }
    let left: Vec<PairId> = match plan.extras() {
        Some(extras) => extras.left.clone(),
        None => plan.untestable().iter().map(|row| row.pair).collect(),
    };
    if left.is_empty() {
        if plan.not_planned().is_empty() {
            page.gap();
            page.paragraph(
                0,
                2,
                "If every reading is taken as planned, those of the extras too, nothing is missed: every needed pair of \
                 every length is tested.",
            );
        }
        return;
    }
    page.heading("What this plan can't test");
    page.paragraph(0, 2, "No setting of the switches tests these by readings at the ways:");
    if plan.extras().is_some() {
        page.paragraph(
            0,
            2,
            "Nor was one extra found, of the sorts that are allowed, that makes them testable alone. They are NOT tested.",
        );
    }
    // One entry for each reason and step: the same lamp left in, or the instrument at the same point.
    type Reason = (Untestable, Vec<Restriction>, Option<RemedyStep>);
    type Rows = (Vec<Remedy>, Vec<UntestablePair>);
    let mut reasons: IndexMap<Reason, Rows> = IndexMap::new();
    for (row, remedy) in plan.remedies() {
        if !left.contains(&row.pair) {
            continue;
        }
        let key = (row.why, plan.opens_with(row).to_vec(), remedy.as_ref().map(|remedy| remedy.step.clone()));
        let (remedies, rows) = reasons.entry(key).or_default();
        rows.push(row);
        if let Some(remedy) = remedy
            && !remedies.contains(&remedy)
        {
            remedies.push(remedy);
        }
    }
    for ((why, limits, _), (remedies, rows)) in reasons {
        let names: Vec<String> = by_length(network, rows.iter().map(|row| row.pair))
            .into_iter()
            .map(|(id, cores)| {
                let length = network.installation().length(id).id();
                format!("{length} ({}) {}", ends(network, id), cores.join(", "))
            })
            .collect();
        page.after(0, "- ", 2, &format!("{}: {}.", names.join("; "), why_untestable(why)));
        if !limits.is_empty() {
            let installation = network.installation();
            let lifted: Vec<String> = limits
                .iter()
                .map(|&limit| match limit {
                    Restriction::Locked(room) => format!("{} open", installation.location(room).name()),
                    Restriction::LeftAlone(point) => format!("{} operated", installation.point(point).id()),
                    _ => "what can't be put back as found operated all the same".to_owned(),
                })
                .collect();
            page.paragraph(4, 2, &format!("Can be tested with {}.", lifted.join(" and ")));
        }
        if remedies.is_empty() && limits.is_empty() {
            page.paragraph(4, 2, "No single change that was tried makes it testable.");
        } else if !remedies.is_empty() {
            page.paragraph(4, 2, &remedies_in_words(&remedies));
        }
    }
}

/// Why no reading of the plan tests a pair.
pub(in crate::cli) fn why_untestable(why: Untestable) -> &'static str {
    match why {
        Untestable::NeverReached => "no lead can be joined to one of the cores",
        Untestable::SameLead => "no reading has the two cores on opposite leads",
        Untestable::AlwaysBridged => "every reading that has the two cores on opposite leads is void",
    }
}

/// The readings that one step makes possible.
fn remedies_in_words(remedies: &[Remedy]) -> String {
    let readings: Vec<String> = remedies
        .iter()
        .map(|remedy| {
            let [a, b] = &remedy.between;
            let mut text = format!("{a} to {b} at {} V d.c", remedy.volts.0);
            if !remedy.with.is_empty() {
                let stands: Vec<String> =
                    remedy.with.iter().map(|[device, position]| format!("{device} in {position}")).collect();
                text.push_str(&format!(". with {}", stands.join(", ")));
            }
            text
        })
        .collect();
    let readings = readings.join(".; ");
    match &remedies[0].step {
        RemedyStep::LeaveFitted { bridge } => {
            format!("Would be tested with {bridge} left fitted: read {readings}.")
        }
        RemedyStep::TakeInstrumentTo { point } => {
            format!("Would be tested with the instrument taken to {point}: read {readings}.")
        }
        RemedyStep::Link { point, terminals: [x, y] } => format!(
            "Would be tested with a temporary link at {point} from {x} to {y}: read {readings}. Take the link out again."
        ),
    }
}
