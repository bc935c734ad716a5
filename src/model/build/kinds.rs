//! Kinds that a file declares.

use rustc_hash::{FxHashMap, FxHashSet};

use super::faults::Faults;
use super::{Builder, cut, entry};
use crate::model::fault::{ModelFault, Named, RESERVED_POSITIONS};
use crate::model::installation::built_in_names;
use crate::model::{DocumentPath, Kind, KindBridge, KindDraft, KindId, Position, PositionDraft, Variant};

/// The most terminals of one thing: they are numbered in 16 bits.
pub(super) const MOST_NUMBERED: usize = u16::MAX as usize;

/// The most positions of one device: the positions that close a contact are kept as the bits of a word.
const MOST_POSITIONS: usize = 64;

/// The terminals of a kind by name, and whether none is missing.
struct Terminals<'d> {
    numbers: FxHashMap<&'d str, u16>,
    names: Vec<String>,
    certain: bool,
}

impl<'d> Builder<'d> {
    pub(super) fn read_kinds(&mut self) {
        let draft = self.draft;
        let built_in: FxHashSet<&str> = built_in_names().collect();
        for (number, kind) in draft.kinds.iter().enumerate() {
            let path = || entry("kind", number);
            let id = KindId(number as u32);
            if built_in.contains(kind.id.as_str()) {
                self.faults.push(path().key("id"), ModelFault::BuiltInKind { id: kind.id.clone() });
            }
            let first = |first: KindId| entry("kind", first.index());
            self.faults.add_id(Named::Kind, (&kind.id, id), path, &mut self.kind_index, first);
            self.check_shared(Named::Kind, &kind.id, number);
            let mut terminals = read_terminals(&mut self.faults, kind, path);
            let positions = read_positions(&mut self.faults, kind, &terminals, path);
            let bridges = read_bridges(&mut self.faults, kind, &terminals, path);
            if !terminals.numbers.contains_key("E") {
                terminals.numbers.insert("E", terminals.names.len() as u16);
                terminals.names.push("E".to_owned());
            }
            self.kind_certain.push(terminals.certain);
            self.kind_terminals.extend(terminals.numbers.into_iter().map(|(name, terminal)| ((id, name), terminal)));
            self.kinds.push(Kind {
                name: kind.id.clone(),
                operable: !positions.is_empty(),
                terminals: terminals.names,
                positions,
                bridges,
                removable: kind.removable.unwrap_or(true),
                visible: kind.visible.unwrap_or(true),
                sources: Vec::new(),
                open_terminals: false,
                declared: true,
                variant: Variant::Plain,
            });
        }
    }
}

fn read_terminals<'d>(faults: &mut Faults<'_>, kind: &'d KindDraft, path: impl Fn() -> DocumentPath) -> Terminals<'d> {
    let mut terminals = Terminals {
        numbers: FxHashMap::default(),
        names: Vec::with_capacity(kind.terminals.len().min(MOST_NUMBERED) + 1),
        certain: !faults.lost.has(|| path().key("terminals")),
    };
    for (place, name) in kind.terminals.iter().enumerate() {
        let path = || path().key("terminals").index(place);
        if faults.lost.has(path) {
            terminals.certain = false;
            continue;
        }
        if terminals.names.len() >= MOST_NUMBERED {
            let fault = ModelFault::TooMany { what: Named::Terminal, owner: cut(&kind.id), most: MOST_NUMBERED };
            faults.push(path(), fault);
            terminals.certain = false;
            break;
        }
        faults.check_name(Named::Terminal, name, path);
        if terminals.numbers.contains_key(name.as_str()) {
            faults.push(path(), ModelFault::Repeated { what: Named::Terminal, name: cut(name) });
        } else {
            terminals.numbers.insert(name, terminals.names.len() as u16);
            terminals.names.push(name.clone());
        }
    }
    terminals
}

impl Terminals<'_> {
    /// The number of a terminal; `E`, which every kind has, is numbered last where it is not named.
    fn find(
        &self,
        faults: &mut Faults<'_>,
        kind: &KindDraft,
        name: &str,
        path: impl Fn() -> DocumentPath,
    ) -> Option<u16> {
        if let Some(&number) = self.numbers.get(name) {
            return Some(number);
        }
        if name == "E" {
            return Some(self.names.len() as u16);
        }
        if self.certain && !faults.lost.has(&path) {
            faults.unknown_terminal(
                Named::Kind,
                &kind.id,
                name,
                || kind.terminals.iter().map(String::as_str).chain(["E"]),
                path(),
            );
        }
        None
    }
}

fn read_positions(
    faults: &mut Faults<'_>,
    kind: &KindDraft,
    terminals: &Terminals<'_>,
    path: impl Fn() -> DocumentPath,
) -> Vec<Position> {
    let mut seen: FxHashMap<&str, usize> = FxHashMap::default();
    let mut positions = Vec::with_capacity(kind.positions.len().min(MOST_POSITIONS));
    for (place, position) in kind.positions.iter().enumerate() {
        let path = || path().key("positions").index(place);
        if positions.len() >= MOST_POSITIONS {
            let fault = ModelFault::TooMany { what: Named::Position, owner: cut(&kind.id), most: MOST_POSITIONS };
            faults.push(path(), fault);
            break;
        }
        faults.check_name(Named::Position, &position.name, || path().key("name"));
        faults.check_reserved(Named::Position, &position.name, RESERVED_POSITIONS, || path().key("name"));
        if !faults.lost.has(|| path().key("name")) && seen.insert(&position.name, place).is_some() {
            let fault = ModelFault::Repeated { what: Named::Position, name: cut(&position.name) };
            faults.push(path().key("name"), fault);
        }
        let joins = read_joins(faults, kind, position, terminals, path);
        positions.push(Position { name: position.name.clone(), joins });
    }
    positions
}

fn read_joins(
    faults: &mut Faults<'_>,
    kind: &KindDraft,
    position: &PositionDraft,
    terminals: &Terminals<'_>,
    path: impl Fn() -> DocumentPath,
) -> Vec<Vec<u16>> {
    let mut joins = Vec::with_capacity(position.joins.len());
    for (place, names) in position.joins.iter().enumerate() {
        let path = || path().key("joins").index(place);
        joins.push(
            faults.read_joined("joins", names, path, |faults, name, path| terminals.find(faults, kind, name, path)),
        );
    }
    joins
}

fn read_bridges(
    faults: &mut Faults<'_>,
    kind: &KindDraft,
    terminals: &Terminals<'_>,
    path: impl Fn() -> DocumentPath,
) -> Vec<KindBridge> {
    let mut bridges = Vec::with_capacity(kind.bridges.len());
    for (place, bridge) in kind.bridges.iter().enumerate() {
        let path = || path().key("bridges").index(place);
        if bridge.load == Some(true) && bridge.passes == Some(true) {
            faults.push(path().key("load"), ModelFault::LoadThatPasses);
        }
        let path = || path().key("between");
        let [one, other] = &bridge.between;
        let between = [0, 1].map(|end| terminals.find(faults, kind, &bridge.between[end], || path().index(end)));
        if one == other && ![0, 1].iter().any(|&end| faults.lost.has(|| path().index(end))) {
            faults.push(path().index(1), ModelFault::BridgeToItself { terminal: cut(one) });
        }
        if let [Some(one), Some(other)] = between {
            let passes = bridge.passes.unwrap_or(false);
            let is_load = bridge.load.unwrap_or(!passes);
            bridges.push(KindBridge { between: [one, other], conducts: bridge.conducts, passes, is_load });
        }
    }
    bridges
}

impl Faults<'_> {
    /// Two or more distinct terminals that are joined, by number; those that are not there are reported and left out.
    pub(super) fn read_joined(
        &mut self,
        key: &'static str,
        names: &[String],
        path: impl Fn() -> DocumentPath,
        mut find: impl FnMut(&mut Self, &str, &dyn Fn() -> DocumentPath) -> Option<u16>,
    ) -> Vec<u16> {
        let lost = self.lost;
        let is_lost = |place| lost.has(|| path().index(place));
        if names.len() < 2 && !lost.has(&path) && !(0..names.len()).any(is_lost) {
            self.push(path(), ModelFault::NothingToJoin { key, found: names.len() });
        }
        let mut seen: FxHashSet<&str> = FxHashSet::default();
        let mut joined = Vec::with_capacity(names.len());
        for (place, name) in names.iter().enumerate() {
            let path = || path().index(place);
            if is_lost(place) {
                continue;
            }
            if !seen.insert(name) {
                self.push(path(), ModelFault::Repeated { what: Named::Terminal, name: cut(name) });
                continue;
            }
            joined.extend(find(self, name, &path));
        }
        joined
    }

    /// Reports a terminal that is not there, with the nearest and the first of those that are.
    pub(super) fn unknown_terminal<'n, I: Iterator<Item = &'n str>>(
        &mut self,
        of: Named,
        owner: &str,
        terminal: &str,
        known: impl Fn() -> I,
        path: DocumentPath,
    ) {
        const SHOWN: usize = 12;
        let nearest = self.nearest.among(terminal, known()).map(str::to_owned);
        let known = known().take(SHOWN).map(cut).collect();
        self.push(path, ModelFault::UnknownTerminal { of, owner: cut(owner), terminal: cut(terminal), nearest, known });
    }
}
