//! Roles of cores, and the pairs that need a test.

use petgraph::unionfind::UnionFind;
use rustc_hash::FxHashMap;
use serde::{Deserialize, Serialize};

use super::graph::{Body, Contact, EARTH_CORE, Network, PairClass, PairGroup, PairId, PairRow, Role};
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
    /// To earth and between live conductors.
    #[default]
    Standard,
    /// Also between live conductors of the same polarity, such as two strappers.
    EveryPair,
}

impl Need {
    /// Whether a pair of this class must be tested.
    pub fn requires(self, class: PairClass) -> bool {
        match class {
            PairClass::Spare => false,
            PairClass::ToEarth => true,
            PairClass::BetweenLive => self >= Need::Standard,
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

    /// Cores that are connected at both ends but have no role, as (length, place in it): what lies behind electronics,
    /// or was wired to nothing. No test of them is ever required.
    pub fn cores_without_role(&self) -> impl Iterator<Item = (LengthId, usize)> + '_ {
        self.installation.lengths().flat_map(move |(id, length)| {
            let is_without = move |&number: &usize| {
                let is_connected = length.cores()[number].ends().iter().all(Option::is_some);
                is_connected && self.core_roles(id, number as u16).is_empty()
            };
            (0..length.cores().len()).filter(is_without).map(move |number| (id, number))
        })
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
pub(super) fn role_sets(
    body_count: u32,
    contacts: &[Contact],
    sources: &[(Role, TerminalRef)],
    body: impl Fn(TerminalRef) -> Body,
) -> (Vec<Vec<Role>>, Vec<u32>) {
    let mut service: UnionFind<u32> = UnionFind::new(body_count as usize);
    for contact in contacts {
        service.union(contact.bodies[0], contact.bodies[1]);
    }
    let labels = service.into_labeling();
    let mut roles_of_label: FxHashMap<u32, Vec<Role>> = FxHashMap::default();
    for &(role, terminal) in sources {
        roles_of_label.entry(labels[body(terminal) as usize]).or_default().push(role);
    }
    let mut sets = vec![Vec::new()];
    let mut number_of_set: FxHashMap<Vec<Role>, u32> = FxHashMap::default();
    number_of_set.insert(Vec::new(), 0);
    let mut number_of_label: FxHashMap<u32, u32> = FxHashMap::default();
    for &(_, terminal) in sources {
        let label = labels[body(terminal) as usize];
        if number_of_label.contains_key(&label) {
            continue;
        }
        let mut roles = roles_of_label.remove(&label).unwrap_or_default();
        roles.sort_unstable();
        roles.dedup();
        let number = *number_of_set.entry(roles.clone()).or_insert_with(|| {
            sets.push(roles);
            sets.len() as u32 - 1
        });
        number_of_label.insert(label, number);
    }
    let body_roles = labels.iter().map(|label| number_of_label.get(label).copied().unwrap_or(0)).collect();
    (sets, body_roles)
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
) -> (Vec<PairRow>, Vec<PairGroup>) {
    let mut pairs = Vec::new();
    let mut groups: Vec<PairGroup> = Vec::new();
    let mut group_of: FxHashMap<[Body; 2], u32> = FxHashMap::default();
    let earth_only = [Role::Earth];
    for length in 0..installation.lengths.len() {
        let range = first_core[length] as usize..first_core[length + 1] as usize;
        let bodies = &core_bodies[range];
        let roles: Vec<&[Role]> = bodies.iter().map(|&body| roles_of(body)).collect();
        let mut add = |cores: [u16; 2], bodies: [Body; 2], class: PairClass| {
            let key = [bodies[0].min(bodies[1]), bodies[0].max(bodies[1])];
            let group = *group_of.entry(key).or_insert_with(|| {
                groups.push(PairGroup { bodies: key });
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
    (pairs, groups)
}
