//! Roles of cores, and the pairs that need a test.

use indexmap::IndexMap;
use petgraph::unionfind::UnionFind;
use rustc_hash::{FxBuildHasher, FxHashMap, FxHashSet};
use serde::{Deserialize, Serialize};

use super::graph::{
    Body, Bridge, Contact, EARTH_CORE, GroupsBetween, Network, PairClass, PairGroup, PairId, PairRow, Role,
};
use crate::model::{Installation, LengthId, TerminalRef};

/// Which classes of pairs must be tested.
///
/// ```
/// use lengthwise::{Need, PairClass};
///
/// assert!(Need::Standard.requires(PairClass::BetweenLive) && !Need::Earth.requires(PairClass::BetweenLive));
/// assert!(Need::EveryPair.requires(PairClass::SamePolarity) && !Need::Standard.requires(PairClass::SamePolarity));
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Need {
    /// Live conductors to earth only.
    Earth,
    /// To earth, and between the live conductors of those circuits of which the ruleset asks it.
    #[default]
    Ruleset,
    /// To earth and between live conductors, of each circuit.
    Standard,
    /// Also between live conductors of the same polarity, such as two strappers.
    EveryPair,
}

impl Need {
    /// Whether a pair of this class must be tested; by [`Need::Ruleset`], in a circuit of which the ruleset asks all.
    /// [`Network::requires`] knows of which it does.
    pub fn requires(self, class: PairClass) -> bool {
        match class {
            PairClass::Spare => false,
            PairClass::ToEarth => true,
            PairClass::BetweenLive => self >= Need::Ruleset,
            PairClass::SamePolarity => self >= Need::EveryPair,
        }
    }
}

/// One side of a pair.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum PairCore {
    /// A core of the length, by its place in [`Length::cores`](crate::model::Length::cores).
    Core(usize),
    /// The main earthing terminal, for a length without a protective core.
    Earth,
}

impl Network {
    /// The pairs, in the order of lengths and of cores in them.
    pub fn pairs(&self) -> impl ExactSizeIterator<Item = PairId> + use<> {
        (0..self.pairs.len() as u32).map(PairId)
    }

    /// Cores that are connected at both ends but have no role, as (length, place in it): a bridge forgotten in a kind, a
    /// terminal mistyped, a feeder left out of the file. No test of them is ever required.
    pub fn cores_without_role(&self) -> impl Iterator<Item = (LengthId, usize)> + '_ {
        self.roleless_cores().filter(|&(length, core)| !self.ends_nowhere(length, core))
    }

    /// Cores without a role that are not connected at both ends, as (length, place in it).
    pub fn spare_cores(&self) -> impl Iterator<Item = (LengthId, usize)> + '_ {
        self.roleless_cores().filter(|&(length, core)| self.ends_nowhere(length, core))
    }

    fn roleless_cores(&self) -> impl Iterator<Item = (LengthId, usize)> + '_ {
        self.installation.lengths().flat_map(move |(id, length)| {
            let is_without = move |&number: &usize| self.core_roles(id, number as u16).is_empty();
            (0..length.cores().len()).filter(is_without).map(move |number| (id, number))
        })
    }

    fn ends_nowhere(&self, length: LengthId, core: usize) -> bool {
        self.installation.length(length).cores()[core].ends().iter().any(Option::is_none)
    }

    /// Cores by the names of their length and their own: [length, core].
    pub fn core_names(&self, cores: impl Iterator<Item = (LengthId, usize)>) -> Vec<[String; 2]> {
        let name = |(length, core): (LengthId, usize)| {
            let row = self.installation.length(length);
            [row.id(), row.cores()[core].name()].map(str::to_owned)
        };
        cores.map(name).collect()
    }

    /// The length that a pair belongs to.
    pub fn pair_length(&self, pair: PairId) -> LengthId {
        self.pairs[pair.index()].length
    }

    /// The two sides of a pair.
    pub fn pair_cores(&self, pair: PairId) -> [PairCore; 2] {
        self.pairs[pair.index()].cores.map(|core| match core {
            EARTH_CORE => PairCore::Earth,
            core => PairCore::Core(usize::from(core)),
        })
    }

    /// The names of the two sides of a pair; `earth` for the main earthing terminal.
    pub fn pair_core_names(&self, pair: PairId) -> [&str; 2] {
        let length = self.installation.length(self.pair_length(pair));
        self.pair_cores(pair).map(|core| match core {
            PairCore::Core(core) => length.cores()[core].name(),
            PairCore::Earth => "earth",
        })
    }

    /// A pair's class.
    pub fn pair_class(&self, pair: PairId) -> PairClass {
        self.pairs[pair.index()].class
    }
}

/// The sets of roles there are, and which one each body has in service.
///
/// Time linear in bodies, contacts and bridges, up to the inverse Ackermann factor.
pub(super) fn role_sets(
    body_count: u32,
    contacts: &[Contact],
    bridges: &[Bridge],
    sources: &[(Role, TerminalRef)],
    body: impl Fn(TerminalRef) -> Body,
) -> (Vec<Vec<Role>>, Vec<u32>) {
    let mut service: UnionFind<u32> = UnionFind::new(body_count as usize);
    for contact in contacts {
        service.union(contact.bodies[0], contact.bodies[1]);
    }
    let labels = service.into_labeling();
    let mut found = RoleSets::joined_to(sources, &labels, body);
    let elements = bridges.iter().flat_map(|bridge| &bridge.elements);
    let elements: Vec<BetweenPieces> = elements
        .map(|element| BetweenPieces {
            between: element.between,
            labels: element.bodies.map(|body| labels[body as usize]),
            passes: element.passes,
        })
        .collect();
    found.pass_on(&elements);
    found.serve(&elements);
    let body_roles = labels.iter().map(|&label| found.of_label[label as usize]).collect();
    (found.sets, body_roles)
}

/// One element of a bridge, between copper with every contact closed.
struct BetweenPieces {
    between: [TerminalRef; 2],
    labels: [u32; 2],
    passes: bool,
}

/// The roles of copper that is joined with every contact closed: of the first body of each such piece, its label.
struct RoleSets {
    /// The first is empty.
    sets: Vec<Vec<Role>>,
    /// Numbers in `sets`; that of another body than the first of its piece means nothing.
    of_label: Vec<u32>,
}

impl RoleSets {
    /// The supply conductors that each piece is joined to.
    fn joined_to(sources: &[(Role, TerminalRef)], labels: &[u32], body: impl Fn(TerminalRef) -> Body) -> RoleSets {
        let mut found = RoleSets { sets: vec![Vec::new()], of_label: vec![0; labels.len()] };
        let mut roles_of_label: IndexMap<u32, Vec<Role>, FxBuildHasher> = IndexMap::default();
        for &(role, terminal) in sources {
            roles_of_label.entry(labels[body(terminal) as usize]).or_default().push(role);
        }
        let mut number_of_set: FxHashMap<Vec<Role>, u32> = FxHashMap::default();
        for (label, mut roles) in roles_of_label {
            roles.sort_unstable();
            roles.dedup();
            found.of_label[label as usize] = *number_of_set.entry(roles).or_insert_with_key(|roles| {
                found.sets.push(roles.clone());
                found.sets.len() as u32 - 1
            });
        }
        found
    }

    /// Passing bridges: pieces without a role that they join are one conductor, and where there is exactly one role
    /// around all of them, it is theirs.
    fn pass_on(&mut self, elements: &[BetweenPieces]) {
        let passing = || elements.iter().filter(|element| element.passes);
        let joined = self.join_without_role(passing());
        // The number of the only set around; none where there are several.
        let mut around: FxHashMap<u32, Option<u32>> = FxHashMap::default();
        for (label, set) in passing().filter_map(|element| self.at_the_edge(element)) {
            let only = around.entry(joined.find(label)).or_insert(Some(set));
            *only = only.filter(|&other| other == set && self.sets[set as usize].len() == 1);
        }
        for label in passing().flat_map(|element| element.labels) {
            if self.of_label[label as usize] == 0
                && let Some(&Some(set)) = around.get(&joined.find(label))
            {
                self.of_label[label as usize] = set;
            }
        }
    }

    /// Pieces that are still without a role, and that bridges join to one with a role, directly or over others: each
    /// has a role of its own.
    fn serve(&mut self, elements: &[BetweenPieces]) {
        let joined = self.join_without_role(elements.iter());
        let at_the_edge = elements.iter().filter_map(|element| self.at_the_edge(element));
        let served: FxHashSet<u32> = at_the_edge.map(|(label, _)| joined.find(label)).collect();
        for (&terminal, label) in elements.iter().flat_map(|element| element.between.iter().zip(element.labels)) {
            if self.of_label[label as usize] == 0 && served.contains(&joined.find(label)) {
                self.of_label[label as usize] = self.sets.len() as u32;
                self.sets.push(vec![Role::Served(terminal)]);
            }
        }
    }

    fn join_without_role<'e>(&self, elements: impl Iterator<Item = &'e BetweenPieces>) -> UnionFind<u32> {
        let mut joined = UnionFind::new(self.of_label.len());
        for &BetweenPieces { labels: [one, other], .. } in elements {
            if self.of_label[one as usize] == 0 && self.of_label[other as usize] == 0 {
                joined.union(one, other);
            }
        }
        joined
    }

    /// Of an element between a piece without a role and one with, the former and the number of the latter's set.
    fn at_the_edge(&self, element: &BetweenPieces) -> Option<(u32, u32)> {
        let [one, other] = element.labels;
        match [one, other].map(|label| self.of_label[label as usize]) {
            [0, set] if set != 0 => Some((one, set)),
            [set, 0] if set != 0 => Some((other, set)),
            _ => None,
        }
    }
}

fn classify(a: &[Role], b: &[Role]) -> Option<PairClass> {
    let earth_alone = |roles: &[Role]| roles == [Role::Earth];
    if a.is_empty() || b.is_empty() {
        Some(PairClass::Spare)
    } else if earth_alone(a) && earth_alone(b) {
        None
    } else if a.contains(&Role::Earth) || b.contains(&Role::Earth) {
        Some(PairClass::ToEarth)
    } else if a != b || a.len() > 1 {
        Some(PairClass::BetweenLive)
    } else {
        Some(PairClass::SamePolarity)
    }
}

pub(super) fn list_pairs<'r>(
    installation: &Installation,
    first_core: &[u32],
    core_bodies: &[Body],
    roles_of: impl Fn(Body) -> &'r [Role],
    main_earth: Body,
    alike: &[u32],
) -> (Vec<PairRow>, Vec<PairGroup>, GroupsBetween) {
    let mut pairs = Vec::new();
    let mut groups: Vec<PairGroup> = Vec::new();
    let mut group_of: GroupsBetween = FxHashMap::default();
    let earth_only = [Role::Earth];
    for length in 0..installation.lengths.len() {
        let alike = alike[installation.lengths[length].circuit().index()];
        let range = first_core[length] as usize..first_core[length + 1] as usize;
        let bodies = &core_bodies[range];
        let roles: Vec<&[Role]> = bodies.iter().map(|&body| roles_of(body)).collect();
        let mut add = |cores: [u16; 2], bodies: [Body; 2], class: PairClass| {
            // What is joined for good is one conductor.
            if bodies[0] == bodies[1] {
                return;
            }
            let bodies = [bodies[0].min(bodies[1]), bodies[0].max(bodies[1])];
            let group = *group_of.entry((bodies, alike)).or_insert_with(|| {
                groups.push(PairGroup { bodies, alike });
                groups.len() as u32 - 1
            });
            pairs.push(PairRow { length: LengthId(length as u32), cores, class, group });
        };
        for a in 0..bodies.len() {
            for b in a + 1..bodies.len() {
                if let Some(class) = classify(roles[a], roles[b]) {
                    add([a as u16, b as u16], [bodies[a], bodies[b]], class);
                }
            }
        }
        if !roles.iter().any(|roles| roles.contains(&Role::Earth)) {
            for a in 0..bodies.len() {
                if let Some(class) = classify(roles[a], &earth_only) {
                    add([a as u16, EARTH_CORE], [bodies[a], main_earth], class);
                }
            }
        }
    }
    (pairs, groups, group_of)
}
