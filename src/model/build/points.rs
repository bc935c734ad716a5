//! Points: their kinds, their overrides, their further terminals and the links between those.

use rustc_hash::FxHashMap;

use super::faults::Lookup;
use super::kinds::MOST_NUMBERED;
use super::{Builder, PointState, cut, entry};
use crate::model::fault::{ModelFault, Named, kind_of_the_trade};
use crate::model::installation::{Choice, built_in, built_in_names, choice};
use crate::model::{
    CircuitId, DocumentPath, Kind, KindId, PlateId, Point, PointDraft, PointId, Stands, TerminalRef, Variant,
};

impl<'d> Builder<'d> {
    pub(super) fn read_points(&mut self) {
        let draft = self.draft;
        for (number, point) in draft.points.iter().enumerate() {
            let path = || entry("point", number);
            let id = PointId(number as u32);
            let first = |first: PointId| entry("point", first.index());
            self.faults.add_id(Named::Point, (&point.id, id), path, &mut self.point_index, first);
            self.check_shared(Named::Point, &point.id, number);
            let kind = self.find_kind(point, path);
            let membership = self.read_membership(point.circuit.as_deref(), || path().key("circuit"));
            self.memberships.push(membership);
            let location = point.location.as_ref().and_then(|name| self.find_location(name, || path().key("location")));
            let plate = point.plate.as_ref().map(|name| self.find_plate(name, || path().key("plate")));
            let (extra_terminals, complete) = self.read_extra_terminals(point, id, kind, path);
            let certain = complete && kind.is_none_or(|kind| *self.kind_certain.get(kind.index()).unwrap_or(&true));
            self.point_states.push(PointState { kind, certain });
            let mut read = Point {
                id: point.id.clone(),
                name: point.name.clone(),
                kind: kind.unwrap_or(KindId(0)),
                circuit: CircuitId(0),
                location,
                plate,
                extra_terminals,
                links: Vec::new(),
                removable: false,
                fixed: point.fixed == Some(true),
                operable: false,
                visible: true,
                stands: Stands::At(0),
            };
            if let Some(kind) = kind {
                self.read_overrides(&mut read, point, kind, path);
            }
            self.points.push(read);
        }
    }

    fn find_plate(&mut self, name: &'d str, path: impl FnOnce() -> DocumentPath) -> PlateId {
        if name.is_empty() {
            self.faults.push(path(), ModelFault::EmptyText { key: "plate" });
        }
        let next = PlateId(self.plates.len() as u32);
        *self.plate_index.entry(name).or_insert_with(|| {
            self.plates.push(name.to_owned());
            next
        })
    }

    fn find_kind(&mut self, point: &'d PointDraft, path: impl Fn() -> DocumentPath) -> Option<KindId> {
        let name = point.kind.as_str();
        if self.faults.lost.has(|| path().key("kind")) {
            return None;
        }
        let Some(choice) = choice(name) else {
            return match self.kind_index.get(&name) {
                Lookup::Found(kind) => {
                    self.check_choice(point, Choice::None, path);
                    Some(kind)
                }
                Lookup::Broken => None,
                Lookup::Unknown => {
                    if let Some(kind) = kind_of_the_trade(name) {
                        self.faults.meant(Named::Kind, name, kind, path().key("kind"));
                        return None;
                    }
                    let declared = self.draft.kinds.iter().map(|kind| kind.id.as_str());
                    let known = built_in_names().map(|name| -> &str { name }).chain(declared);
                    self.faults.unknown(Named::Kind, name, known, path().key("kind"));
                    None
                }
            };
        };
        self.check_choice(point, choice, &path);
        let variant = match choice {
            Choice::None => Variant::Plain,
            Choice::Lamp => Variant::Lamp(point.lamp.unwrap_or_default()),
            Choice::Load => Variant::Load(point.load.unwrap_or_default()),
            // One that was lost may be manual, and its `stands` and `operable` right.
            Choice::Manual => {
                Variant::Manual(point.manual.unwrap_or_else(|| self.faults.lost.has(|| path().key("manual"))))
            }
        };
        let next = KindId(self.kinds.len() as u32);
        Some(*self.built_in.entry((name, variant)).or_insert_with(|| {
            self.kinds.extend(built_in(name, variant));
            next
        }))
    }

    /// Refuses the keys that choose among the variants of other kinds.
    fn check_choice(&mut self, point: &PointDraft, choice: Choice, path: impl Fn() -> DocumentPath) {
        let keys: [(&'static str, bool, Choice, &'static [&'static str]); 3] = [
            ("lamp", point.lamp.is_some(), Choice::Lamp, &["luminaire"]),
            ("load", point.load.is_some(), Choice::Load, &["appliance", "appliance-3"]),
            ("manual", point.manual.is_some(), Choice::Manual, &["contactor"]),
        ];
        for (key, given, belongs, kinds) in keys {
            if given && belongs != choice {
                let fault = ModelFault::NotForKind { key, kind: cut(&point.kind), kinds };
                self.faults.push(path().key(key).itself(), fault);
            }
        }
    }

    /// A point's further terminals, and whether none was lost.
    fn read_extra_terminals(
        &mut self,
        point: &'d PointDraft,
        id: PointId,
        kind: Option<KindId>,
        path: impl Fn() -> DocumentPath,
    ) -> (Vec<String>, bool) {
        let mut extra: Vec<String> = Vec::with_capacity(point.terminals.len().min(MOST_NUMBERED));
        let mut complete = !self.faults.lost.has(|| path().key("terminals"));
        for (place, name) in point.terminals.iter().enumerate() {
            let path = || path().key("terminals").index(place);
            if self.faults.lost.has(path) {
                complete = false;
                continue;
            }
            self.faults.check_name(Named::Terminal, name, path);
            if kind.is_some_and(|kind| self.kind_terminal(kind, name).is_some()) {
                let fault = ModelFault::OwnTerminal { kind: cut(&point.kind), terminal: name.clone() };
                self.faults.push(path(), fault);
            } else if self.extra_terminals.contains_key(&(id, name.as_str())) {
                self.faults.push(path(), ModelFault::Repeated { what: Named::Terminal, name: cut(name) });
            } else if let Some(number) = self.next_terminal(kind, extra.len()) {
                self.extra_terminals.insert((id, name), number);
                extra.push(name.clone());
            } else {
                let fault = ModelFault::TooMany { what: Named::Terminal, owner: cut(&point.id), most: MOST_NUMBERED };
                self.faults.push(path(), fault);
                return (extra, false);
            }
        }
        (extra, complete)
    }

    /// The number of a point's next further terminal; none where there are too many.
    fn next_terminal(&self, kind: Option<KindId>, extra_count: usize) -> Option<u16> {
        let own = kind.map_or(0, |kind| self.kinds[kind.index()].terminals.len());
        u16::try_from(own + extra_count).ok().filter(|&number| usize::from(number) < MOST_NUMBERED)
    }

    /// The number of a kind's own terminal.
    fn kind_terminal(&self, kind: KindId, name: &str) -> Option<u16> {
        let own = &self.kinds[kind.index()];
        if own.declared {
            self.kind_terminals.get(&(kind, name)).copied()
        } else {
            own.terminals.iter().position(|terminal| terminal == name).map(|number| number as u16)
        }
    }

    fn read_overrides(&mut self, read: &mut Point, point: &PointDraft, kind: KindId, path: impl Fn() -> DocumentPath) {
        // A bridge of a declared kind that is broken is there all the same.
        let declared = self.draft.kinds.get(kind.index());
        let lost = self.faults.lost;
        let is_lost = |key| lost.has(|| entry("kind", kind.index()).key(key));
        let bridges_lost = declared.is_some() && is_lost("bridges");
        let positions_lost = declared.is_some_and(|draft| {
            let names = 0..draft.positions.len();
            let path = |number| entry("kind", kind.index()).key("positions").index(number).key("name");
            is_lost("positions") || names.into_iter().any(|number| lost.has(|| path(number)))
        });
        let kind = &self.kinds[kind.index()];
        let has_bridges = declared.map_or(kind.has_bridges(), |kind| !kind.bridges.is_empty()) || bridges_lost;
        // That something cannot be operated or removed is true of what is not there; that it can be is not.
        if point.operable == Some(true) && kind.positions.is_empty() && !positions_lost {
            let fault = ModelFault::NothingToOperate { kind: cut(&point.kind) };
            self.faults.push(path().key("operable"), fault);
        }
        if point.removable == Some(true) && !has_bridges {
            let fault = ModelFault::NothingToRemove { kind: cut(&point.kind) };
            self.faults.push(path().key("removable"), fault);
        }
        read.removable = kind.has_bridges() && point.removable.unwrap_or(kind.removable);
        let not_manual = kind.variant == Variant::Manual(false);
        read.operable = !kind.positions.is_empty() && !not_manual && point.operable.unwrap_or(kind.operable);
        if not_manual && point.operable == Some(true) {
            let fault = ModelFault::ContactorNotManual { point: cut(&point.id) };
            self.faults.push(path().key("operable"), fault);
        }
        read.visible = point.visible.unwrap_or(kind.visible);
        if !read.visible && !kind.positions.is_empty() && !not_manual {
            read.stands = Stands::Unknown;
        }
        if let Some(position) = &point.stands
            && !positions_lost
            && !lost.has(|| path().key("stands"))
        {
            match read_stands(kind, position) {
                Ok(stands) => read.stands = stands,
                Err(known) => {
                    let fault = ModelFault::UnknownPosition { device: cut(&point.id), position: cut(position), known };
                    self.faults.push(path().key("stands"), fault);
                }
            }
        }
    }

    /// The terminal of a point that a length or a link names. A junction gets it if it has not got it yet.
    pub(super) fn point_terminal(
        &mut self,
        point: PointId,
        name: &'d str,
        path: impl Fn() -> DocumentPath,
    ) -> Option<TerminalRef> {
        let PointState { kind, certain } = self.point_states[point.index()];
        let kind = kind?;
        let found = |terminal| Some(TerminalRef::Point { point, terminal });
        if let Some(number) = self.kind_terminal(kind, name) {
            return found(number);
        }
        if let Some(&number) = self.extra_terminals.get(&(point, name)) {
            return found(number);
        }
        if !self.kinds[kind.index()].open_terminals {
            if certain {
                self.report_terminal(point, kind, name, path());
            }
            return None;
        }
        self.faults.check_name(Named::Terminal, name, &path);
        let Some(number) = self.next_terminal(Some(kind), self.points[point.index()].extra_terminals.len()) else {
            let owner = cut(&self.draft.points[point.index()].id);
            self.faults.push(path(), ModelFault::TooMany { what: Named::Terminal, owner, most: MOST_NUMBERED });
            return None;
        };
        self.extra_terminals.insert((point, name), number);
        self.points[point.index()].extra_terminals.push(name.to_owned());
        found(number)
    }

    fn report_terminal(&mut self, point: PointId, kind: KindId, name: &str, path: DocumentPath) {
        let extra = &self.points[point.index()].extra_terminals;
        let own = &self.kinds[kind.index()].terminals;
        let known = || own.iter().chain(extra).map(String::as_str);
        self.faults.unknown_terminal(Named::Point, &self.draft.points[point.index()].id, name, known, path);
    }

    /// Links, once the lengths have given junctions their terminals.
    pub(super) fn read_links(&mut self) {
        let draft = self.draft;
        for (number, point) in draft.points.iter().enumerate() {
            let id = PointId(number as u32);
            let PointState { kind, certain } = self.point_states[number];
            let mut links = Vec::with_capacity(point.links.len());
            for (place, names) in point.links.iter().enumerate() {
                let path = || entry("point", number).key("links").index(place);
                // Which terminals there are, and in which order links name them: what is missing is reported below.
                let mut missing = Vec::new();
                let numbers: FxHashMap<&str, u16> = names
                    .iter()
                    .filter_map(|name| {
                        let own = kind.and_then(|kind| self.kind_terminal(kind, name));
                        let number = own.or_else(|| self.extra_terminals.get(&(id, name.as_str())).copied());
                        number.map(|number| (name.as_str(), number))
                    })
                    .collect();
                let joined = self.faults.read_joined("links", names, path, |_, name, path| {
                    let number = numbers.get(name).copied();
                    if number.is_none() {
                        missing.push((name.to_owned(), path()));
                    }
                    number
                });
                links.push(joined);
                if let Some(kind) = kind
                    && certain
                    && self.point_index.get(&point.id.as_str()) != Lookup::Broken
                {
                    for (name, path) in missing {
                        self.report_terminal(id, kind, &name, path);
                    }
                }
            }
            self.points[number].links = links;
        }
    }
}

/// How a point of this kind is found; or the words that may be written.
fn read_stands(kind: &Kind, position: &str) -> Result<Stands, Vec<String>> {
    if kind.variant == Variant::Manual(false) {
        let released = &kind.positions[0].name;
        return if position == released { Ok(Stands::At(0)) } else { Err(vec![released.clone()]) };
    }
    if kind.positions.is_empty() {
        return Err(Vec::new());
    }
    if position == "unknown" {
        return Ok(Stands::Unknown);
    }
    match kind.positions.iter().position(|known| known.name == position) {
        Some(number) => Ok(Stands::At(number as u16)),
        None => Err(known_positions(kind.positions.iter().map(|known| known.name.as_str()).chain(["unknown"]))),
    }
}

/// The first of the positions that a device has.
pub(super) fn known_positions<'n>(positions: impl Iterator<Item = &'n str>) -> Vec<String> {
    const SHOWN: usize = 13;
    positions.take(SHOWN).map(cut).collect()
}
