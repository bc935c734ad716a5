//! FORMAT.md, "What conducts", and what one reading says.

use super::wiring::{Element, Node, Pair, Wiring};

/// How everything stands: a position for each device, and for each holder of bridges what is done with them.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Setting {
    pub positions: Vec<usize>,
    pub bridges: Vec<Bridged>,
}

#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Bridged {
    Fitted,
    Removed,
    /// Removed, with a link in the place of each that passes.
    Linked,
}

/// The graph SURE of one setting, kept as who is joined to whom, and what more may conduct in it.
#[derive(Clone)]
pub struct Joined {
    sure: Vec<Node>,
    /// The same without bridges: cores, permanent joins, contacts, links.
    copper: Vec<Node>,
    /// Each with the number of its holder.
    perhaps: Vec<(usize, Node, Node)>,
}

impl Joined {
    /// Cores and permanent joins alone.
    pub fn copper(wiring: &Wiring) -> Joined {
        Joined::by(wiring, wiring.joined_for_good.iter().copied())
    }

    /// These joins alone.
    pub fn by(wiring: &Wiring, joins: impl Iterator<Item = (Node, Node)>) -> Joined {
        let apart: Vec<Node> = (0..wiring.node_count).collect();
        let mut joined = Joined { sure: apart.clone(), copper: apart, perhaps: Vec::new() };
        joins.for_each(|(a, b)| joined.join_for_sure(a, b));
        joined
    }

    pub fn of(wiring: &Wiring, setting: &Setting) -> Joined {
        Joined::with_off(wiring, setting, &[])
    }

    /// With some accessories taken off: their contacts and bridges are not there.
    pub fn with_off(wiring: &Wiring, setting: &Setting, off: &[&str]) -> Joined {
        let is_off = |owner: &str| off.contains(&owner);
        let mut joined = Joined::copper(wiring);
        let devices = wiring.devices.iter().zip(&setting.positions);
        for (device, &position) in devices.filter(|(device, _)| !is_off(&device.name)) {
            device.positions[position].1.iter().for_each(|&(a, b)| joined.join_for_sure(a, b));
        }
        for ((holder, bridges), state) in wiring.bridges.iter().enumerate().zip(&setting.bridges) {
            if is_off(&bridges.owner) {
                continue;
            }
            for &Element { between: [a, b], sure, passes } in &bridges.elements {
                match state {
                    Bridged::Fitted if sure => union(&mut joined.sure, a, b),
                    Bridged::Fitted => joined.perhaps.push((holder, a, b)),
                    Bridged::Linked if passes => joined.join_for_sure(a, b),
                    Bridged::Linked | Bridged::Removed => {}
                }
            }
        }
        joined
    }

    /// By copper.
    pub fn join_for_sure(&mut self, a: Node, b: Node) {
        union(&mut self.sure, a, b);
        union(&mut self.copper, a, b);
    }

    pub fn for_sure(&self, a: Node, b: Node) -> bool {
        root(&self.sure, a) == root(&self.sure, b)
    }

    /// The same for all that is joined to this for sure.
    pub fn piece(&self, node: Node) -> Node {
        root(&self.sure, node)
    }

    /// MAY, but for what may conduct in some holders.
    fn may_without(&self, left_in: &[usize]) -> Vec<Node> {
        let mut may = self.sure.clone();
        for &(_, a, b) in self.perhaps.iter().filter(|(holder, ..)| !left_in.contains(holder)) {
            union(&mut may, a, b);
        }
        may
    }
}

fn union(parent: &mut [Node], a: Node, b: Node) {
    let (a, b) = (root(parent, a), root(parent, b));
    parent[a] = b;
}

fn root(parent: &[Node], mut node: Node) -> Node {
    while parent[node] != node {
        node = parent[node];
    }
    node
}

/// Why a reading tests nothing. The worse is the greater.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Void {
    Doubtful,
    Bridged,
}

/// A reading: what its leads touch, and the holders of electronics that void it nowhere.
#[derive(Clone)]
pub struct Leads {
    pub touch: [Vec<Node>; 2],
    pub left_in: Vec<usize>,
    /// None where it is at what each pair's circuit asks for.
    pub volts: Option<f64>,
}

impl Leads {
    /// Whether it counts for a pair in a plan: within what an instrument gives at a voltage that will do for its circuit.
    pub fn count_for(&self, pair: &Pair) -> bool {
        let is_given = |volts: f64| pair.asked.iter().any(|setting| (*setting..=1.25 * setting).contains(&volts));
        self.volts.is_none_or(is_given)
    }
}

/// One reading in one setting.
pub struct Taken {
    joined: Joined,
    may: Vec<Node>,
    leads: [Node; 2],
    pub void: Option<Void>,
}

impl Taken {
    /// Puts the leads on; each touches what it names, and joins it while the reading is taken.
    pub fn with(joined: &Joined, leads: &Leads) -> Taken {
        let mut joined = joined.clone();
        for lead in &leads.touch {
            lead.windows(2).for_each(|two| joined.join_for_sure(two[0], two[1]));
        }
        let [a, b] = [leads.touch[0][0], leads.touch[1][0]];
        let counted = joined.may_without(&leads.left_in);
        let void = if joined.for_sure(a, b) {
            Some(Void::Bridged)
        } else if root(&counted, a) == root(&counted, b) {
            Some(Void::Doubtful)
        } else {
            None
        };
        let may = joined.may_without(&[]);
        Taken { joined, may, leads: [a, b], void }
    }

    pub fn leads(&self) -> [Node; 2] {
        self.leads
    }

    /// The same for all that is joined to this, for sure or with what may conduct too.
    pub fn piece(&self, node: Node, with_maybe: bool) -> Node {
        root(if with_maybe { &self.may } else { &self.joined.sure }, node)
    }

    /// Whether a lead is joined to this for sure.
    pub fn reaches(&self, node: Node) -> bool {
        self.leads.iter().any(|&lead| self.joined.for_sure(lead, node))
    }

    /// Whether one of the pair is on one lead and the other on the other, the leads themselves apart in SURE.
    pub fn parts(&self, pair: [Node; 2]) -> bool {
        self.parts_in(&self.joined.sure, pair)
    }

    fn parts_in(&self, graph: &[Node], [x, y]: [Node; 2]) -> bool {
        let [a, b] = self.leads;
        let on = |node, lead| root(graph, node) == root(graph, lead);
        !on(a, b) && (on(x, a) && on(y, b) || on(x, b) && on(y, a))
    }

    /// Whether the reading has the pair on opposite leads, void or not: these apart in SURE, or joined in SURE but not by
    /// copper, each of the pair on the copper of one.
    pub fn has_opposite(&self, pair: [Node; 2]) -> bool {
        self.parts(pair) || self.parts_in(&self.joined.copper, pair)
    }
}
