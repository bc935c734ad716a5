//! From a draft to an installation or a test set: every check, and every error in one go.

mod boards;
mod faults;
mod kinds;
mod lead;
mod lengths;
mod membership;
mod points;
mod relief;
mod test_set;

use std::sync::OnceLock;

use rustc_hash::FxHashMap;

use crate::model::InputLimits;
use crate::model::arrange::Expansion;
use crate::model::fault::{ModelFault, Quantity, RunFault};
use crate::model::installation::Stamp;
use crate::model::{
    Board, BoardId, Circuit, CircuitId, DocumentPath, End, Installation, InstallationDraft, Kind, KindId, Length, Line,
    Location, LocationId, ModelErrors, Named, Passage, Phases, PlateId, Point, PointId, Variant, Volts, WayId, Work,
};
pub(in crate::model) use faults::Faults;
use faults::{Index, Lookup};
pub(crate) use faults::{Lost, cut};
use membership::Membership;

impl InstallationDraft {
    /// Checks the draft and makes an installation of it.
    ///
    /// Takes time and space linear in the draft's size.
    ///
    /// # Errors
    ///
    /// Every error of the draft, each with its place; an error that another one causes is left out. Beyond 1,000
    /// errors the rest are only counted, in a last [`ModelFault::AndMore`].
    ///
    /// # Examples
    ///
    /// ```
    /// use lengthwise::InstallationDraft;
    /// use lengthwise::model::{BoardDraft, CircuitDraft, DeviceDraft, Volts, WayDraft};
    ///
    /// let mut draft = InstallationDraft::new("Pump house", Volts(230.0));
    /// draft.boards.push(BoardDraft {
    ///     id: "DB1".to_owned(),
    ///     origin: Some(true),
    ///     ways: vec![WayDraft::new("1", DeviceDraft::Mcb)],
    ///     ..BoardDraft::default()
    /// });
    /// let way = Some("DB1/2".to_owned());
    /// draft.circuits.push(CircuitDraft { id: "C1".to_owned(), way, ..CircuitDraft::default() });
    ///
    /// let errors = draft.build().unwrap_err();
    /// assert_eq!(errors.to_string(), "circuit[0].way: there is no way `DB1/2`");
    /// assert_eq!(errors.errors()[0].mend(), "add the way, or name one that is there");
    ///
    /// draft.circuits[0].way = Some("DB1/1".to_owned());
    /// assert_eq!(draft.build()?.circuits().len(), 1);
    /// # Ok::<(), lengthwise::ModelErrors>(())
    /// ```
    pub fn build(&self) -> Result<Installation, ModelErrors> {
        self.build_around(&Lost::default(), &InputLimits::default())
    }

    /// Builds around what a reader lost; the installation is of use only where nothing was lost.
    pub(crate) fn build_around(&self, lost: &Lost, limits: &InputLimits) -> Result<Installation, ModelErrors> {
        let Some(Expansion { draft, lost, faults, origins, .. }) = Expansion::of(self, lost, limits) else {
            return Builder::new(self, Faults::new(lost, limits)).build();
        };
        let faults = Faults::new(&lost, limits).after(faults);
        Builder::new(&draft, faults).build().map_err(|errors| origins.trace(errors, &draft))
    }

    /// The draft with points and lengths in the place of its runs; as it is where it has none.
    ///
    /// Takes time and space linear in the draft's size.
    ///
    /// # Errors
    ///
    /// As of [`build`](InstallationDraft::build).
    ///
    /// # Examples
    ///
    /// ```
    /// use lengthwise::InstallationDraft;
    /// use lengthwise::model::{BoardDraft, CircuitDraft, DeviceDraft, StepDraft, StopDraft, Volts, WayDraft};
    ///
    /// let mut draft = InstallationDraft::new("Pump house", Volts(230.0));
    /// draft.boards.push(BoardDraft {
    ///     id: "DB1".to_owned(),
    ///     origin: Some(true),
    ///     ways: vec![WayDraft::new("1", DeviceDraft::Mcb)],
    ///     ..BoardDraft::default()
    /// });
    /// // Looped in at the rose 8 m off, its switch 4 m from there.
    /// let step = StepDraft {
    ///     rose: Some(StopDraft::metres(8.0)),
    ///     switch: Some(StopDraft::metres(4.0)),
    ///     ..StepDraft::default()
    /// };
    /// let way = Some("DB1/1".to_owned());
    /// draft.circuits.push(CircuitDraft { id: "C1".to_owned(), way, run: vec![step], ..CircuitDraft::default() });
    ///
    /// let explicit = draft.expanded()?;
    /// let ids: Vec<&str> = explicit.points.iter().map(|point| point.id.as_str()).collect();
    /// assert_eq!(ids, ["C1-E1", "C1-S1"]);
    /// assert_eq!(explicit.lengths[1].cores["blue"], ["L", "L1"]);
    /// assert_eq!(explicit.expanded()?, explicit);
    /// # Ok::<(), lengthwise::ModelErrors>(())
    /// ```
    pub fn expanded(&self) -> Result<InstallationDraft, ModelErrors> {
        self.build()?;
        Ok(self.without_runs().unwrap_or_else(|| self.clone()))
    }

    /// The same of a draft of which it is known that nothing is wrong with it; none where it has no runs.
    pub(crate) fn without_runs(&self) -> Option<InstallationDraft> {
        Expansion::of(self, &Lost::default(), &InputLimits::default()).map(|expansion| expansion.draft)
    }
}

/// What is known of a way while lengths are read.
#[derive(Clone, Copy)]
struct WayState {
    /// Whether its terminals are all known.
    certain: bool,
}

/// What is known of a point while lengths are read.
#[derive(Clone, Copy)]
struct PointState {
    /// None where its kind is not known.
    kind: Option<KindId>,
    /// Whether its terminals are all known, or will be once the lengths are read.
    certain: bool,
}

/// An installation in the making.
///
/// Everything of the draft gets its place in the installation even where it is broken, so that ids are the draft's
/// own numbers; a broken thing holds stand-ins, and an installation that holds any is never given out.
struct Builder<'d> {
    draft: &'d InstallationDraft,
    faults: Faults<'d>,
    phases: Phases,
    lines: &'static [Line],
    location_index: Index<&'d str, LocationId>,
    board_index: Index<&'d str, BoardId>,
    /// The ways of each board.
    way_indices: Vec<Index<&'d str, WayId>>,
    circuit_index: Index<&'d str, CircuitId>,
    point_index: Index<&'d str, PointId>,
    kind_index: Index<&'d str, KindId>,
    /// Ids that boards, points and declared kinds share among them: each with what has it first.
    shared_ids: FxHashMap<&'d str, (Named, usize)>,
    /// Terminals of declared kinds by name.
    kind_terminals: FxHashMap<(KindId, &'d str), u16>,
    /// Further terminals of points by name.
    extra_terminals: FxHashMap<(PointId, &'d str), u16>,
    /// Whether the terminals of each declared kind are all known.
    kind_certain: Vec<bool>,
    built_in: FxHashMap<(&'d str, Variant), KindId>,
    plate_index: FxHashMap<&'d str, PlateId>,
    way_states: Vec<Vec<WayState>>,
    point_states: Vec<PointState>,
    /// What each point, then each length, says of its circuit.
    memberships: Vec<Membership>,
    /// What each length ends at, where that is known.
    length_ends: Vec<[Option<End>; 2]>,
    locations: Vec<Location>,
    passages: Vec<Passage>,
    plates: Vec<String>,
    kinds: Vec<Kind>,
    boards: Vec<Board>,
    circuits: Vec<Circuit>,
    points: Vec<Point>,
    lengths: Vec<Length>,
}

impl<'d> Builder<'d> {
    fn new(draft: &'d InstallationDraft, faults: Faults<'d>) -> Self {
        let phases = draft.installation.phases.unwrap_or(Phases::One);
        Builder {
            draft,
            phases,
            lines: phases.lines(),
            location_index: faults.index(|| list("location")),
            board_index: faults.index(|| list("board")),
            way_indices: Vec::with_capacity(draft.boards.len()),
            circuit_index: faults.index(|| list("circuit")),
            point_index: faults.point_index(),
            kind_index: faults.index(|| list("kind")),
            faults,
            shared_ids: FxHashMap::default(),
            kind_terminals: FxHashMap::default(),
            extra_terminals: FxHashMap::default(),
            kind_certain: Vec::new(),
            built_in: FxHashMap::default(),
            plate_index: FxHashMap::default(),
            way_states: Vec::with_capacity(draft.boards.len()),
            point_states: Vec::with_capacity(draft.points.len()),
            memberships: Vec::with_capacity(draft.points.len() + draft.lengths.len()),
            length_ends: Vec::with_capacity(draft.lengths.len()),
            locations: Vec::with_capacity(draft.locations.len()),
            passages: Vec::with_capacity(draft.passages.len()),
            plates: Vec::new(),
            kinds: Vec::with_capacity(draft.kinds.len()),
            boards: Vec::with_capacity(draft.boards.len()),
            circuits: Vec::with_capacity(draft.circuits.len()),
            points: Vec::with_capacity(draft.points.len()),
            lengths: Vec::with_capacity(draft.lengths.len()),
        }
    }

    fn build(mut self) -> Result<Installation, ModelErrors> {
        self.read_general();
        self.read_locations();
        self.read_kinds();
        self.read_boards();
        self.read_circuits();
        self.read_points();
        self.read_lengths();
        self.read_memberships();
        self.read_links();
        self.read_reliefs();
        self.read_allowed();
        self.finish()
    }

    fn finish(self) -> Result<Installation, ModelErrors> {
        self.faults.finish()?;
        let general = &self.draft.installation;
        Ok(Installation {
            stamp: Stamp::new(),
            name: general.name.clone(),
            nominal_voltage: general.nominal_voltage,
            phases: self.phases,
            earthing: general.earthing,
            work: general.work.unwrap_or(Work::New),
            locations: self.locations,
            passages: self.passages,
            plates: self.plates,
            kinds: self.kinds,
            boards: self.boards,
            circuits: self.circuits,
            points: self.points,
            lengths: self.lengths,
            allowed: self.draft.allowed.clone(),
            by_id: OnceLock::new(),
            sources: OnceLock::new(),
        })
    }

    fn read_general(&mut self) {
        let voltage = self.draft.installation.nominal_voltage;
        let path = || DocumentPath::root().key("installation").key("nominal_voltage");
        self.check_positive(Quantity::NominalVoltage, voltage.0, path);
    }

    fn read_locations(&mut self) {
        let draft = self.draft;
        for (number, location) in draft.locations.iter().enumerate() {
            let id = (location.id.as_str(), LocationId(number as u32));
            let path = || entry("location", number);
            let first = |first: LocationId| entry("location", first.index());
            self.faults.add_id(Named::Location, id, path, &mut self.location_index, first);
            self.locations.push(Location { id: location.id.clone(), name: location.name.clone() });
        }
        for (number, passage) in draft.passages.iter().enumerate() {
            let path = || entry("passage", number);
            let ends = [0, 1].map(|end| {
                self.find_location(&passage.between[end], || path().key("between").index(end)).unwrap_or(LocationId(0))
            });
            let [one, other] = &passage.between;
            let lost = self.faults.lost;
            if one == other && ![0, 1].iter().any(|&end| lost.has(|| path().key("between").index(end))) {
                let fault = ModelFault::PassageToItself { location: cut(one) };
                self.faults.push(path().key("between").index(1), fault);
            }
            self.check_positive(Quantity::Metres, passage.metres.0, || path().key("metres"));
            self.passages.push(Passage { between: ends, metres: passage.metres });
        }
    }

    fn read_allowed(&mut self) {
        for (number, allowed) in self.draft.allowed.iter().enumerate() {
            let path = || entry("allow", number).key("because");
            if allowed.because.trim().is_empty() && !self.faults.lost.has(path) {
                self.faults.push(path(), ModelFault::EmptyText { key: "because" });
            }
        }
    }

    fn read_circuits(&mut self) {
        let draft = self.draft;
        let mut feeds: FxHashMap<WayId, usize> = FxHashMap::default();
        for (number, circuit) in draft.circuits.iter().enumerate() {
            let path = || entry("circuit", number);
            let id = (circuit.id.as_str(), CircuitId(number as u32));
            let first = |first: CircuitId| entry("circuit", first.index());
            self.faults.add_id(Named::Circuit, id, path, &mut self.circuit_index, first);
            let system = circuit.system.unwrap_or(crate::model::System::Lv);
            let way = match &circuit.way {
                Some(name) => self.find_way(name, || path().key("way"), |name| ModelFault::NotAWay { name }),
                None => {
                    // Without the system nobody can say whether the way may be left out.
                    if system == crate::model::System::Lv && !self.faults.lost.has(|| path().key("system")) {
                        let circuit = cut(&circuit.id);
                        self.faults.push(path(), ModelFault::MissingWay { circuit, system });
                    }
                    None
                }
            };
            if let Some(way) = way {
                if let Some(&first) = feeds.get(&way) {
                    let fault = ModelFault::WayFeedsTwo {
                        way: cut(circuit.way.as_deref().unwrap_or_default()),
                        first: cut(&draft.circuits[first].id),
                        second: cut(&circuit.id),
                    };
                    self.faults.push_beside(path().key("way"), Some(entry("circuit", first).key("way")), fault);
                } else {
                    feeds.insert(way, number);
                }
            }
            let only_run = [
                ("mm2", circuit.mm2.is_some()),
                ("lamp", circuit.lamp.is_some()),
                ("source", circuit.source.is_some()),
                ("earth", circuit.earth.is_some()),
            ];
            for (key, is_given) in only_run {
                if is_given && !self.faults.lost.has(|| path().key("run")) {
                    let fault = RunFault::OnlyRun { key, circuit: cut(&circuit.id) };
                    self.faults.push(path().key(key).itself(), fault.into());
                }
            }
            if let Some(Volts(voltage)) = circuit.nominal_voltage {
                self.check_positive(Quantity::NominalVoltage, voltage, || path().key("nominal_voltage"));
            }
            self.circuits.push(Circuit {
                id: circuit.id.clone(),
                name: circuit.name.clone(),
                way,
                nominal_voltage: circuit.nominal_voltage.unwrap_or(draft.installation.nominal_voltage),
                system,
                relief: None,
            });
        }
    }

    fn check_positive(&mut self, quantity: Quantity, value: f64, path: impl Fn() -> DocumentPath) {
        self.faults.check_positive(quantity, value, path, None);
    }

    /// Checks that no board, point or declared kind has the id of one of another sort.
    fn check_shared(&mut self, what: Named, id: &'d str, number: usize) {
        let list = |what| match what {
            Named::Board => "board",
            Named::Kind => "kind",
            _ => "point",
        };
        let path = || entry(list(what), number).key("id");
        if self.faults.lost.has(path) {
            return;
        }
        match self.shared_ids.get(id) {
            Some(&(other, first)) if other != what => {
                let fault = ModelFault::SharedId { what, other, id: cut(id) };
                let first = entry(list(other), first).key("id");
                self.faults.push_beside(path(), Some(first), fault);
            }
            Some(_) => {}
            None => {
                self.shared_ids.insert(id, (what, number));
            }
        }
    }

    fn find_location(&mut self, name: &str, path: impl Fn() -> DocumentPath) -> Option<LocationId> {
        if self.location_index.get(&name) == Lookup::Unknown
            && let Some(location) = self
                .draft
                .locations
                .iter()
                .find(|row| row.name.as_deref().is_some_and(|called| called.eq_ignore_ascii_case(name)))
        {
            self.faults.meant(Named::Location, name, &location.id, path());
            return None;
        }
        let known = self.draft.locations.iter().map(|location| location.id.as_str());
        self.faults.find(Named::Location, name, &self.location_index, known, path)
    }

    fn find_circuit(&mut self, name: &str, path: impl Fn() -> DocumentPath) -> Option<CircuitId> {
        let known = self.draft.circuits.iter().map(|circuit| circuit.id.as_str());
        self.faults.find(Named::Circuit, name, &self.circuit_index, known, path)
    }

    fn find_board(&mut self, name: &str, path: impl Fn() -> DocumentPath) -> Option<BoardId> {
        let known = self.draft.boards.iter().map(|board| board.id.as_str());
        self.faults.find(Named::Board, name, &self.board_index, known, path)
    }

    /// The way that `BOARD/WAY` names.
    fn find_way(
        &mut self,
        name: &str,
        path: impl Fn() -> DocumentPath,
        malformed: impl FnOnce(String) -> ModelFault,
    ) -> Option<WayId> {
        if self.faults.lost.has(&path) {
            return None;
        }
        let Some((board_name, way_name)) = name.split_once('/').filter(|(_, way)| !way.contains(['/', '.'])) else {
            self.faults.push(path(), malformed(cut(name)));
            return None;
        };
        let board = self.find_board(board_name, &path)?;
        match self.way_indices[board.index()].get(&way_name) {
            Lookup::Found(way) => Some(way),
            Lookup::Broken => None,
            Lookup::Unknown => {
                let ways = self.draft.boards[board.index()].ways.iter().map(|way| way.id.as_str());
                self.faults.unknown_part(Named::Way, [board_name, "/", way_name], ways, path());
                None
            }
        }
    }
}

/// A top-level list.
fn list(key: &'static str) -> DocumentPath {
    DocumentPath::root().key(key)
}

/// The entry of a top-level list.
fn entry(key: &'static str, number: usize) -> DocumentPath {
    list(key).index(number)
}
