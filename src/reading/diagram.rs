//! Decision diagrams: for which positions of some devices something holds, however many these are.
//!
//! A table has a row for each combination, so it ends at sixteen devices of two positions. What switches decide is
//! simpler than that: whether a strapper behind forty intermediate switches is alive asks only whether an even number
//! of them is crossed, and a diagram of that has two nodes a switch. A diagram asks for devices in the order of the
//! file, in which whoever draws up an installation follows the cable.
//!
//! Design not taken: one question to a SAT solver for each pair. It answers as much, but is there only with plans,
//! gives no table of the starts for which a pair is tested, and proves of two strappers that they exclude one another
//! by a search where two diagrams are compared.

use std::collections::VecDeque;

use rustc_hash::FxHashMap;

use super::condition::{Condition, Digit, combinations, count};
use super::configuration::Conduct;
use super::leads::Side;
use super::limits::TableLimits;
use super::subgraph::{Subgraph, SubgraphEnd};
use crate::network::DeviceIndex;

/// What a position leads to: no, yes, or from [`FIRST`] on the node of this number.
type Onward = u32;
const NO: Onward = 0;
const YES: Onward = 1;
const FIRST: Onward = 2;

/// A device, and what each of its positions leads to.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
struct DiagramNode {
    device: DeviceIndex,
    next: Box<[Onward]>,
}

/// For which positions of some devices something holds. Two that hold for the same positions are equal.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(crate) struct Diagram {
    /// Each after those that it leads to; the last is where it begins.
    nodes: Vec<DiagramNode>,
    /// Where there are no nodes: whether it holds.
    holds: bool,
}

/// Some devices, each in one of some positions.
pub(crate) type Case = Vec<(DeviceIndex, Vec<u16>)>;

/// What is made of two diagrams.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
enum Connective {
    And,
    Or,
}

/// Diagrams being made, which share their nodes.
struct Workshop {
    nodes: Vec<DiagramNode>,
    numbers: FxHashMap<DiagramNode, Onward>,
    done: FxHashMap<(Connective, Onward, Onward), Onward>,
    /// As many nodes at the most.
    most: usize,
}

impl Workshop {
    fn new(limits: &TableLimits) -> Workshop {
        let most = limits.diagram_nodes;
        Workshop { nodes: Vec::new(), numbers: FxHashMap::default(), done: FxHashMap::default(), most }
    }

    /// None where there are too many nodes.
    fn node(&mut self, device: DeviceIndex, next: Box<[Onward]>) -> Option<Onward> {
        if next.iter().all(|&other| other == next[0]) {
            return Some(next[0]);
        }
        let node = DiagramNode { device, next };
        if let Some(&known) = self.numbers.get(&node) {
            return Some(known);
        }
        if self.nodes.len() >= self.most {
            return None;
        }
        let number = self.nodes.len() as Onward + FIRST;
        self.nodes.push(node.clone());
        self.numbers.insert(node, number);
        Some(number)
    }

    fn device(&self, at: Onward) -> DeviceIndex {
        if at < FIRST { DeviceIndex::MAX } else { self.nodes[(at - FIRST) as usize].device }
    }

    /// What a diagram leads to from a position of a device that none above its beginning asks for.
    fn from(&self, at: Onward, device: DeviceIndex, position: usize) -> Onward {
        if self.device(at) == device { self.nodes[(at - FIRST) as usize].next[position] } else { at }
    }

    /// Recurses as deep as there are devices.
    fn combine(&mut self, operation: Connective, one: Onward, other: Onward) -> Option<Onward> {
        let (decides, leaves) = if operation == Connective::And { (NO, YES) } else { (YES, NO) };
        match (one.min(other), one.max(other)) {
            (low, high) if low == decides || high == decides => return Some(decides),
            (low, high) if low == high || low == leaves => return Some(high),
            (low, high) if high == leaves => return Some(low),
            _ => {}
        }
        let key = (operation, one.min(other), one.max(other));
        if let Some(&known) = self.done.get(&key) {
            return Some(known);
        }
        let device = self.device(one).min(self.device(other));
        let asks = if self.device(one) == device { one } else { other };
        let positions = self.nodes[(asks - FIRST) as usize].next.len();
        let mut next = Vec::with_capacity(positions);
        for position in 0..positions {
            let [one, other] = [one, other].map(|at| self.from(at, device, position));
            next.push(self.combine(operation, one, other)?);
        }
        let made = self.node(device, next.into())?;
        self.done.insert(key, made);
        Some(made)
    }

    /// Takes a diagram in.
    fn enter(&mut self, diagram: &Diagram) -> Option<Onward> {
        let mut numbers = vec![NO, YES];
        for DiagramNode { device, next } in &diagram.nodes {
            let next = next.iter().map(|&at| numbers[at as usize]).collect();
            numbers.push(self.node(*device, next)?);
        }
        match diagram.nodes.len() {
            0 => Some(Onward::from(diagram.holds)),
            _ => numbers.pop(),
        }
    }

    /// A diagram by itself. Its nodes are numbered as they are come to from its beginning, so that equal ones are equal.
    fn take(&self, beginning: Onward) -> Diagram {
        fn visit(
            workshop: &Workshop,
            at: Onward,
            numbers: &mut FxHashMap<Onward, Onward>,
            nodes: &mut Vec<DiagramNode>,
        ) -> Onward {
            if at < FIRST {
                return at;
            }
            if let Some(&known) = numbers.get(&at) {
                return known;
            }
            let DiagramNode { device, next } = &workshop.nodes[(at - FIRST) as usize];
            let next = next.iter().map(|&far| visit(workshop, far, numbers, nodes)).collect();
            nodes.push(DiagramNode { device: *device, next });
            let number = nodes.len() as Onward - 1 + FIRST;
            numbers.insert(at, number);
            number
        }
        let mut nodes = Vec::new();
        visit(self, beginning, &mut FxHashMap::default(), &mut nodes);
        Diagram { nodes, holds: beginning == YES }
    }
}

impl Diagram {
    /// What holds nowhere.
    pub(crate) fn never() -> Diagram {
        Diagram { nodes: Vec::new(), holds: false }
    }

    /// What holds everywhere.
    pub(crate) fn always() -> Diagram {
        Diagram { nodes: Vec::new(), holds: true }
    }

    /// What a table says; none where it takes too many nodes.
    pub(crate) fn of(table: &Condition, limits: &TableLimits) -> Option<Diagram> {
        // From the last device, of which the table has a run for each combination of those before it.
        let mut workshop = Workshop::new(limits);
        let mut rows: Vec<Onward> =
            (0..table.count()).map(|combination| Onward::from(table.get(combination))).collect();
        for (place, &(device, positions)) in table.digits.iter().enumerate().rev() {
            let stride = count(&table.digits[..place]);
            rows = (0..stride)
                .map(|row| {
                    let next = (0..usize::from(positions)).map(|position| rows[position * stride + row]).collect();
                    workshop.node(device, next)
                })
                .collect::<Option<_>>()?;
        }
        Some(workshop.take(rows[0]))
    }

    /// The table of the devices on which it depends; none where they are too many.
    pub(crate) fn table(&self, limits: &TableLimits) -> Option<Condition> {
        let digits = self.devices();
        combinations(&digits, limits)?;
        let mut table = Condition::never(digits);
        for combination in 0..table.count() {
            let positions = table.positions(combination);
            let position = |device: DeviceIndex| {
                let place = positions.binary_search_by_key(&device, |row| row.0).expect("it depends on it");
                positions[place].1
            };
            if self.get(position) {
                table.set(combination);
            }
        }
        Some(table)
    }

    pub(crate) fn is_always(&self) -> bool {
        self.nodes.is_empty() && self.holds
    }

    pub(crate) fn is_never(&self) -> bool {
        self.nodes.is_empty() && !self.holds
    }

    /// The devices on which it depends, ascending.
    pub(crate) fn devices(&self) -> Vec<Digit> {
        let mut devices: Vec<Digit> = self.nodes.iter().map(|node| (node.device, node.next.len() as u16)).collect();
        devices.sort_unstable();
        devices.dedup();
        devices
    }

    /// Where it begins: whether it holds, or the place of a node.
    fn beginning(&self) -> Result<bool, usize> {
        self.nodes.len().checked_sub(1).map_or(Ok(self.holds), Err)
    }

    /// Where a position of a node leads.
    fn follow(&self, node: usize, position: u16) -> Result<bool, usize> {
        match self.nodes[node].next[usize::from(position)] {
            NO => Ok(false),
            YES => Ok(true),
            next => Err((next - FIRST) as usize),
        }
    }

    /// Whether it holds where devices stand so.
    pub(crate) fn get(&self, position: impl Fn(DeviceIndex) -> u16) -> bool {
        let mut at = self.beginning();
        loop {
            match at {
                Ok(holds) => return holds,
                Err(node) => at = self.follow(node, position(self.nodes[node].device)),
            }
        }
    }

    /// Positions where it holds, or does not: of all `devices`, in first positions wherever they may be, the earlier
    /// devices before the later. None where there are none.
    pub(crate) fn example(&self, holds: bool, devices: &[Digit]) -> Option<Vec<(DeviceIndex, u16)>> {
        let mut at = self.beginning();
        if at == Ok(!holds) {
            return None;
        }
        let mut positions: Vec<(DeviceIndex, u16)> = devices.iter().map(|&(device, _)| (device, 0)).collect();
        while let Err(node) = at {
            // In a diagram whose equal parts are one, every node leads to both answers.
            let count = self.nodes[node].next.len() as u16;
            let position = (0..count).find(|&position| self.follow(node, position) != Ok(!holds))?;
            if let Ok(place) = positions.binary_search_by_key(&self.nodes[node].device, |row| row.0) {
                positions[place].1 = position;
            }
            at = self.follow(node, position);
        }
        Some(positions)
    }

    /// The cases in which it holds, no two of them at once: in each, some devices in one of some positions. None where
    /// there are more than so many.
    pub(crate) fn cases(&self, most: usize) -> Option<Vec<Case>> {
        // From each node on: those that a node leads to come before it.
        let mut from: Vec<Vec<Case>> = vec![Vec::new(), vec![Vec::new()]];
        for DiagramNode { device, next } in &self.nodes {
            let mut cases = Vec::new();
            let mut ways: Vec<Onward> = Vec::new();
            next.iter().for_each(|&way| {
                if !ways.contains(&way) {
                    ways.push(way);
                }
            });
            for way in ways {
                let positions: Vec<u16> =
                    (0u16..).zip(next).filter(|(_, other)| **other == way).map(|(position, _)| position).collect();
                for rest in &from[way as usize] {
                    cases.push([&[(*device, positions.clone())], rest.as_slice()].concat());
                }
            }
            // One more is enough to know that there are too many.
            cases.truncate(most + 1);
            from.push(cases);
        }
        let cases = if self.nodes.is_empty() { from.swap_remove(usize::from(self.holds)) } else { from.pop()? };
        (cases.len() <= most).then_some(cases)
    }

    fn combine(&self, operation: Connective, other: &Diagram, limits: &TableLimits) -> Option<Diagram> {
        let mut workshop = Workshop::new(limits);
        let (one, other) = (workshop.enter(self)?, workshop.enter(other)?);
        let made = workshop.combine(operation, one, other)?;
        Some(workshop.take(made))
    }

    /// None where it takes too many nodes.
    pub(crate) fn and(&self, other: &Diagram, limits: &TableLimits) -> Option<Diagram> {
        self.combine(Connective::And, other, limits)
    }

    /// None where it takes too many nodes.
    pub(crate) fn or(&self, other: &Diagram, limits: &TableLimits) -> Option<Diagram> {
        self.combine(Connective::Or, other, limits)
    }

    /// Holds where this one does not.
    pub(crate) fn not(&self) -> Diagram {
        let other = |at: Onward| if at < FIRST { YES - at } else { at };
        let turned = |node: &DiagramNode| DiagramNode {
            device: node.device,
            next: node.next.iter().map(|&at| other(at)).collect(),
        };
        Diagram { nodes: self.nodes.iter().map(turned).collect(), holds: self.is_never() }
    }

    /// Where this one holds and the other does not; none where it takes too many nodes.
    pub(crate) fn and_not(&self, other: &Diagram, limits: &TableLimits) -> Option<Diagram> {
        self.and(&other.not(), limits)
    }

    /// The same where a device stands in a position, without that device. None where that is too large.
    pub(crate) fn given(&self, digit: Digit, position: u16, limits: &TableLimits) -> Option<Diagram> {
        let here = Diagram::of(&Condition::at(digit, position), limits)?;
        self.and(&here, limits)?.for_some(|device| device == digit.0, limits)
    }

    /// Holds where, for some position of the devices that are `quantified`, this one does; none where it takes too many
    /// nodes.
    pub(crate) fn for_some(&self, quantified: impl Fn(DeviceIndex) -> bool, limits: &TableLimits) -> Option<Diagram> {
        let mut workshop = Workshop::new(limits);
        let mut numbers = vec![NO, YES];
        for DiagramNode { device, next } in &self.nodes {
            let mut next = next.iter().map(|&at| numbers[at as usize]);
            let made = if quantified(*device) {
                next.try_fold(NO, |some, at| workshop.combine(Connective::Or, some, at))
            } else {
                workshop.node(*device, next.collect())
            };
            numbers.push(made?);
        }
        let beginning = if self.nodes.is_empty() { Onward::from(self.holds) } else { numbers[numbers.len() - 1] };
        Some(workshop.take(beginning))
    }

    /// Holds where any does; those that would make it too large are left out, so that less is claimed.
    pub(crate) fn union<'d>(diagrams: impl IntoIterator<Item = &'d Diagram>, limits: &TableLimits) -> Diagram {
        let mut workshop = Workshop::new(limits);
        let mut all = NO;
        for diagram in diagrams {
            let with = |workshop: &mut Workshop, all: Onward| {
                let more = workshop.enter(diagram)?;
                workshop.combine(Connective::Or, all, more)
            };
            all = with(&mut workshop, all).unwrap_or_else(|| {
                // What is no part of it any more is cleared away, and it is tried once more.
                let kept = workshop.take(all);
                workshop = Workshop::new(limits);
                let all = workshop.enter(&kept).expect("it had room before");
                with(&mut workshop, all).unwrap_or(all)
            });
            if all == YES {
                break;
            }
        }
        workshop.take(all)
    }
}

impl Subgraph {
    /// For each of its bodies, and last for the other lead: for which positions of its devices it is joined to a lead,
    /// over bridges that may conduct only `with_maybe`. None where they are too many, or it takes too many nodes.
    ///
    /// `position` tells where a device stands for a digit of the diagrams.
    pub(crate) fn joined(
        &self,
        side: Side,
        with_maybe: bool,
        position: impl Fn(DeviceIndex, u16) -> u16,
        limits: &TableLimits,
    ) -> Option<Vec<Diagram>> {
        // One node a device is the least, and as deep is the recursion.
        if self.digits.len() > limits.diagram_nodes / 64 {
            return None;
        }
        let mut workshop = Workshop::new(limits);
        let other = self.node_count as usize;
        let lead = other + 1;
        let place = |end: SubgraphEnd| match end {
            SubgraphEnd::Lead(at) if at == side => lead,
            SubgraphEnd::Lead(_) => other,
            SubgraphEnd::Node(node) => node as usize,
        };
        let mut near: Vec<Vec<(usize, Onward)>> = vec![Vec::new(); lead + 1];
        for (ends, conduct) in &self.edges {
            let closed = match *conduct {
                Conduct::Maybe if !with_maybe => continue,
                Conduct::Sure | Conduct::Maybe => YES,
                Conduct::In { device, closed_in } => {
                    let at = self.digits.binary_search_by_key(&device, |digit| digit.0).expect("it is of the group");
                    let positions = 0..self.digits[at].1;
                    let next = positions.map(|digit| (closed_in >> position(device, digit) & 1) as Onward).collect();
                    workshop.node(device, next)?
                }
            };
            let [a, b] = ends.map(place);
            near[a].push((b, closed));
            near[b].push((a, closed));
        }
        let mut joined = vec![NO; lead + 1];
        joined[lead] = YES;
        // First in, first out, each place once: what is joined to it by then goes on together.
        let mut queue = VecDeque::from([lead]);
        let mut is_queued = vec![false; lead + 1];
        while let Some(at) = queue.pop_front() {
            is_queued[at] = false;
            for &(far, closed) in &near[at] {
                let over = workshop.combine(Connective::And, joined[at], closed)?;
                let more = workshop.combine(Connective::Or, joined[far], over)?;
                if more != joined[far] {
                    joined[far] = more;
                    // The other lead is joined to this one by then: the reading is void, whatever lies beyond.
                    if far != other && !std::mem::replace(&mut is_queued[far], true) {
                        queue.push_back(far);
                    }
                }
            }
        }
        joined.truncate(lead);
        Some(joined.into_iter().map(|at| workshop.take(at)).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every table over devices of two and three positions is its diagram's, and combined as tables are.
    #[test]
    fn diagrams_say_what_tables_do() {
        let limits = TableLimits::default();
        let digits: Vec<Digit> = vec![(3, 2), (5, 3), (6, 2)];
        let tables: Vec<Condition> = (0..1u64 << 12)
            .step_by(7)
            .map(|bits| {
                let mut table = Condition::never(digits.clone());
                (0..12).filter(|bit| bits >> bit & 1 == 1).for_each(|bit| table.set(bit));
                table
            })
            .collect();
        for (number, table) in tables.iter().enumerate() {
            let diagram = Diagram::of(table, &limits).unwrap();
            let again = diagram.table(&limits).unwrap();
            assert_eq!(again, table.essential());
            assert_eq!(Diagram::of(&again, &limits).unwrap(), diagram);
            assert_eq!((diagram.is_never(), diagram.is_always()), (table.is_never(), table.is_always()));
            for holds in [false, true] {
                let example = diagram.example(holds, &digits);
                assert_eq!(example.is_some(), if holds { !table.is_never() } else { !table.is_always() });
                let position = |device| example.as_ref().unwrap().iter().find(|row| row.0 == device).unwrap().1;
                assert!(example.is_none() || table.get(table.number(position)) == holds);
            }
            let other = &tables[(number * 31 + 5) % tables.len()];
            let second = Diagram::of(other, &limits).unwrap();
            let both = Diagram::of(&table.and(other, &limits).unwrap(), &limits);
            assert_eq!(diagram.and(&second, &limits), both);
            assert_eq!(diagram.or(&second, &limits), Diagram::of(&table.or(other, &limits).unwrap(), &limits));
            let all_but = Condition::always().and_not(table, &limits).unwrap();
            assert_eq!(diagram.not(), Diagram::of(&all_but, &limits).unwrap());
            let (digit, position) = (digits[number % digits.len()], number as u16 % digits[number % digits.len()].1);
            let there = table.and(&Condition::at(digit, position), &limits).unwrap();
            let given = Diagram::of(&there.for_some(|device| device == digit.0), &limits);
            assert_eq!(diagram.given(digit, position, &limits), given);
            assert_eq!(
                diagram.and_not(&second, &limits),
                Diagram::of(&table.and_not(other, &limits).unwrap(), &limits)
            );
            for quantified in 0..8usize {
                let is_quantified =
                    |device| digits.iter().zip(0..).any(|row| row.0.0 == device && quantified >> row.1 & 1 == 1);
                let some = Diagram::of(&table.for_some(is_quantified), &limits);
                assert_eq!(diagram.for_some(is_quantified, &limits), some);
            }
        }
    }

    /// A chain of sixty switches, each of which passes two strappers on straight or crossed: a body behind it hangs on
    /// whether an even number are crossed, which takes two nodes a switch.
    #[test]
    fn strappers_take_two_nodes_a_switch() {
        const COUNT: u32 = 60;
        let mut edges = vec![([SubgraphEnd::Lead(Side::A), SubgraphEnd::Node(0)], Conduct::Sure)];
        for device in 0..COUNT {
            let [near, far] = [2 * device, 2 * device + 2].map(|first| [first, first + 1].map(SubgraphEnd::Node));
            for (from, to) in [(0, 0), (1, 1), (0, 1), (1, 0)] {
                let closed_in = if from == to { 1 } else { 2 };
                edges.push(([near[from], far[to]], Conduct::In { device, closed_in }));
            }
        }
        let graph =
            Subgraph { node_count: 2 * COUNT + 2, edges, digits: (0..COUNT).map(|device| (device, 2)).collect() };
        let joined = graph.joined(Side::A, false, |_, digit| digit, &TableLimits::default()).unwrap();
        let [one, other] = [2 * COUNT as usize, 2 * COUNT as usize + 1];
        assert_eq!(joined[one].nodes.len(), 2 * COUNT as usize - 1);
        let limits = TableLimits::default();
        assert!(joined[one].and(&joined[other], &limits).unwrap().is_never());
        assert!(joined[one].or(&joined[other], &limits).unwrap().is_always());
        assert!(joined[one].get(|_| 1) && !joined[one].get(|device| u16::from(device == 7)));
        assert_eq!(graph.joined(Side::A, false, |_, digit| digit, &TableLimits { diagram_nodes: 60, ..limits }), None);
    }
}
