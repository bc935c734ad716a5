//! Circuits in the language of Graphviz, for those who lay them out or read them with other programs.
//!
//! Source of the language: <https://graphviz.org/doc/info/lang.html>.

use std::fmt::Write as _;

use indexmap::{IndexMap, IndexSet};
use quick_xml::escape::escape;

use super::colour::colour_of;
use super::metrics::Orientation;
use super::shown::{CoreShown, DrawnState};
use crate::model::{CircuitId, End, Installation, LengthId, LocationId, TerminalRef};
use crate::visible::visible;

/// For each box its terminals that have a core.
type Nodes = IndexMap<End, IndexSet<TerminalRef>>;

/// The graph of circuits: a node a box, with a cell for each of its terminals; an edge a core; a cluster a location.
pub(super) fn dot_of(
    installation: &Installation,
    circuits: &[CircuitId],
    orientation: Orientation,
    shown: &DrawnState,
) -> String {
    let is_drawn = |length: LengthId| circuits.contains(&installation.length(length).circuit());
    let lengths: Vec<LengthId> = installation.lengths().map(|(id, _)| id).filter(|&length| is_drawn(length)).collect();
    let mut nodes = Nodes::new();
    for &length in &lengths {
        let row = installation.length(length);
        for (side, end) in row.ends().into_iter().enumerate() {
            nodes.entry(end).or_default().extend(row.cores().iter().filter_map(|core| core.ends()[side]));
        }
    }
    let mut clusters: IndexMap<Option<LocationId>, Vec<usize>> = IndexMap::new();
    for (number, &end) in nodes.keys().enumerate() {
        clusters.entry(installation.end_location(end)).or_default().push(number);
    }
    let across = orientation == Orientation::Across;
    let mut page = DotPage { text: String::new(), installation, across };
    page.line("graph {");
    page.line(&format!("  graph [rankdir={}, ranksep=1, nodesep=0.3]", if across { "LR" } else { "TB" }));
    page.line("  node [shape=plain, fontsize=10]");
    page.line("  edge [fontsize=9, penwidth=3]");
    for (cluster, (location, members)) in clusters.iter().enumerate() {
        if let Some(location) = location {
            let name = quoted(installation.location(*location).name());
            page.line(&format!("  subgraph cluster_{cluster} {{ label={name}; style=filled; color=\"#eef0f2\";"));
        }
        for &number in members {
            page.node(number, &nodes);
        }
        if location.is_some() {
            page.line("  }");
        }
    }
    for &length in &lengths {
        page.cores(length, &nodes, shown);
    }
    page.line("}");
    page.text
}

/// A text in quotes.
fn quoted(text: &str) -> String {
    format!("\"{}\"", visible(text).replace('\\', "\\\\").replace('"', "\\\""))
}

struct DotPage<'i> {
    text: String,
    installation: &'i Installation,
    across: bool,
}

impl DotPage<'_> {
    fn line(&mut self, line: &str) {
        self.text.push_str(line);
        self.text.push('\n');
    }

    fn node(&mut self, number: usize, nodes: &Nodes) {
        let (&end, terminals) = nodes.get_index(number).expect("it is a node's number");
        let box_name = self.installation.end_name(end);
        let cells: Vec<String> = terminals
            .iter()
            .enumerate()
            .map(|(port, &terminal)| {
                let name = self.installation.terminal_name(terminal);
                let name = name.strip_prefix(&box_name).and_then(|name| name.strip_prefix('.')).unwrap_or(&name);
                format!("<td port=\"{port}\">{}</td>", escape(&*visible(name)))
            })
            .collect();
        let name = format!("<b>{}</b>", escape(&*visible(&box_name)));
        let rows = if self.across {
            let rows: String = cells.iter().map(|cell| format!("<tr>{cell}</tr>")).collect();
            format!("<tr><td>{name}</td></tr>{rows}")
        } else {
            format!("<tr>{}<td>{name}</td></tr>", cells.concat())
        };
        let table = "<table border=\"0\" cellborder=\"1\" cellspacing=\"0\" bgcolor=\"white\">";
        self.line(&format!("  n{number} [label=<{table}{rows}</table>>]"));
    }

    fn cores(&mut self, length: LengthId, nodes: &Nodes, shown: &DrawnState) {
        let row = self.installation.length(length);
        for (place, core) in row.cores().iter().enumerate() {
            let [from, to] = [0, 1].map(|side| {
                let (number, _, terminals) = nodes.get_full(&row.ends()[side]).expect("the ends of lengths are nodes");
                let port = core.ends()[side].and_then(|terminal| terminals.get_index_of(&terminal));
                let out = [["e", "w"], ["s", "n"]][usize::from(!self.across)][side];
                // What is connected to nothing ends at the box.
                port.map_or_else(|| format!("n{number}"), |port| format!("n{number}:{port}:{out}"))
            });
            let (style, mark) = match shown.core(length, place) {
                CoreShown::Tested => ("solid", ""),
                CoreShown::Missed => ("dashed", ""),
                CoreShown::OneOf => ("dashed", "?"),
                CoreShown::NotAsked => ("dotted", ""),
            };
            let id = quoted(&format!("{}:{}", row.id(), core.name()));
            let label = quoted(&format!("{} {}{mark}", row.id(), core.name()));
            let colour = colour_of(core.name()).map_or("#606060", |colour| colour.colour);
            writeln!(self.text, "  {from} -- {to} [id={id}, label={label}, style={style}, color=\"{colour}\"]")
                .expect("memory takes it");
        }
    }
}
