//! Which circuits feed what.

use petgraph::unionfind::UnionFind;
use rustc_hash::FxHashMap;

use crate::model::{CircuitId, TerminalRef};
use crate::network::{Edge, Network};
use crate::reading::{Configuration, Electronics};

/// The circuits whose way or source copper reaches without passing a bar, wherever the contacts of points stand.
pub(super) struct CircuitsAt {
    /// For each terminal of a core, link or contact, its number in `pieces`.
    numbers: FxHashMap<TerminalRef, u32>,
    pieces: Vec<u32>,
    of_piece: FxHashMap<u32, Vec<CircuitId>>,
}

impl CircuitsAt {
    /// Time and space linear in the network.
    pub(super) fn of(network: &Network) -> CircuitsAt {
        let installation = network.installation();
        let state = Configuration::in_service(network, Electronics::Closed);
        let mut joins: Vec<[TerminalRef; 2]> = Vec::new();
        for (_, length) in installation.lengths() {
            joins.extend(length.cores().iter().filter_map(|core| Some([core.ends()[0]?, core.ends()[1]?])));
        }
        for (point, row) in installation.points() {
            let terminal = |&terminal: &u16| TerminalRef::Point { point, terminal };
            joins.extend(
                row.links.iter().flat_map(|link| link.windows(2)).map(|two| [terminal(&two[0]), terminal(&two[1])]),
            );
        }
        let contacts = network.contacts().iter().zip(0u32..);
        let at_points = contacts.filter(|(contact, number)| {
            network.devices()[contact.device as usize].is_at_point()
                && state.may_conduct(network, Edge::Contact(*number))
        });
        joins.extend(at_points.map(|(contact, _)| contact.between));
        let elements = network.bridges().iter().flat_map(|bridge| &bridge.elements);
        joins.extend(elements.filter(|element| element.passes).map(|element| element.between));
        let mut numbers: FxHashMap<TerminalRef, u32> = FxHashMap::default();
        for &terminal in joins.iter().flatten() {
            let next = numbers.len() as u32;
            numbers.entry(terminal).or_insert(next);
        }
        let mut pieces: UnionFind<u32> = UnionFind::new(numbers.len());
        for [one, other] in &joins {
            pieces.union(numbers[one], numbers[other]);
        }
        let pieces = pieces.into_labeling();
        let by_way = installation.circuits_of_ways();
        let mut of_piece: FxHashMap<u32, Vec<CircuitId>> = FxHashMap::default();
        let sources = installation.circuits().flat_map(|(circuit, _)| {
            let terminals = installation.sources_of(circuit).iter().flat_map(|source| source.terminals(installation));
            terminals.map(move |terminal| (terminal, circuit))
        });
        let ways = numbers.keys().filter_map(|&terminal| match terminal {
            TerminalRef::Way { way, .. } => Some((terminal, *by_way.get(&way)?)),
            _ => None,
        });
        for (terminal, circuit) in ways.chain(sources) {
            if let Some(&number) = numbers.get(&terminal) {
                of_piece.entry(pieces[number as usize]).or_default().push(circuit);
            }
        }
        for circuits in of_piece.values_mut() {
            circuits.sort_unstable();
            circuits.dedup();
        }
        CircuitsAt { numbers, pieces, of_piece }
    }

    /// Those of some terminals, in the order of the file.
    pub(super) fn at(&self, terminals: impl IntoIterator<Item = TerminalRef>) -> Vec<CircuitId> {
        let piece = |terminal| Some(self.pieces[*self.numbers.get(&terminal)? as usize]);
        let pieces = terminals.into_iter().filter_map(piece);
        let mut circuits: Vec<CircuitId> =
            pieces.filter_map(|piece| self.of_piece.get(&piece)).flatten().copied().collect();
        circuits.sort_unstable();
        circuits.dedup();
        circuits
    }
}
