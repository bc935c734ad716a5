//! The graph as text.

use std::collections::BTreeMap;

use super::layout::{Page, count};
use crate::network::PairClass;
use crate::reading::NetworkReport;

/// The text of `network`.
pub(in crate::cli) fn render(page: &mut Page, report: &NetworkReport, body_count: usize) {
    page.heading(&format!("{}: the graph", report.installation.name));
    page.paragraph(
        0,
        2,
        &format!(
            "{}, {}, {}, {}, {}; {} of copper joined for good.",
            count(report.terminals.len(), "terminal"),
            count(report.cores.len(), "core"),
            count(report.devices.len(), "device"),
            count(report.contacts.len(), "contact"),
            count(report.bridges.len(), "bridge element"),
            if body_count == 1 { "1 body".to_owned() } else { format!("{body_count} bodies") },
        ),
    );
    let classes = [
        (PairClass::ToEarth, "to earth"),
        (PairClass::BetweenLive, "between live"),
        (PairClass::SamePolarity, "of one polarity"),
        (PairClass::Spare, "with a spare core"),
    ];
    let pairs: Vec<String> = classes
        .iter()
        .map(|(class, words)| format!("{} {words}", report.pairs.iter().filter(|pair| pair.class == *class).count()))
        .collect();
    page.paragraph(0, 2, &format!("Pairs of cores: {}.", pairs.join(", ")));
    page.heading("Devices");
    for device in &report.devices {
        let operable = if device.operable { "" } else { ", not operable" };
        page.after(
            0,
            "- ",
            2,
            &format!("{}: {} (found in {}{operable})", device.device, device.positions.join(", "), device.ready),
        );
    }
    page.heading("Roles of cores");
    let mut by_roles: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for core in &report.cores {
        let roles = if core.roles.is_empty() { "none".to_owned() } else { core.roles.join(" and ") };
        by_roles.entry(roles).or_default().push(format!("{}.{}", core.length, core.core));
    }
    for (roles, cores) in by_roles {
        page.after(0, "- ", 2, &format!("{roles}: {}", cores.join(", ")));
    }
    page.gap();
    page.paragraph(0, 2, "`--json` prints all of it.");
}
