//! Runs become points and lengths; errors in these find their steps again.

use std::collections::hash_map::Entry;

use indexmap::IndexMap;
use rustc_hash::{FxHashMap, FxHashSet};

use super::boxes::FeedBox;
use super::feed::{Cores, Feed, FeedPoint, core, line_and_neutral, with_third};
use super::form::{Form, RunStop, understand};
use super::passages::Passages;
use crate::model::build::{Faults, Lost, cut};
use crate::model::fault::{ModelFault, Named, Quantity, RunFault, name_fault};
use crate::model::{
    BoardDraft, CircuitDraft, DocumentPath, InputLimits, InstallationDraft, LengthDraft, Metres, ModelErrors, Part,
    PointDraft, RunPart, Segment, StepDraft, WayDraft,
};

/// The length of what joins two points on one plate, in metres.
const ON_ONE_PLATE: Metres = Metres(0.15);

/// A draft whose runs have become points and lengths, behind those that it has.
pub(crate) struct Expansion<'d, 'l> {
    pub(crate) draft: InstallationDraft,
    /// What is lost of it.
    pub(crate) lost: Lost,
    /// What is wrong with the runs themselves.
    pub(crate) faults: Faults<'l>,
    pub(crate) origins: Origins<'d>,
    /// The points that were made, and where they are.
    pub(super) made: FxHashMap<String, Option<&'d str>>,
    passages: Passages<'d>,
}

/// Where points, and the lengths to them, come from.
pub(crate) struct Origins<'d> {
    pub(super) written: &'d InstallationDraft,
    points: Vec<Origin>,
    lengths: Vec<Origin>,
}

/// A stop of a run as written.
#[derive(Clone, Copy)]
struct Origin {
    circuit: usize,
    step: usize,
    key: &'static str,
    entry: Option<u32>,
    /// What it comes to, of the points and lengths that were made.
    point: usize,
    length: usize,
}

impl Origin {
    fn path(self) -> DocumentPath {
        let path = step_path(self.circuit, self.step).key(self.key);
        match self.entry {
            Some(entry) => path.index(entry as usize),
            None => path,
        }
    }
}

pub(super) fn step_path(circuit: usize, step: usize) -> DocumentPath {
    DocumentPath::root().key("circuit").index(circuit).key("run").index(step)
}

impl<'d, 'l> Expansion<'d, 'l> {
    /// Expands all runs; none where there is none.
    ///
    /// Takes space linear in the draft's size, and so much time, but for the ways by passages, which
    /// [`InputLimits::passages_searched`] bounds.
    pub(crate) fn of(written: &'d InstallationDraft, lost: &'l Lost, limits: &InputLimits) -> Option<Self> {
        if written.circuits.iter().all(|circuit| circuit.run.is_empty()) {
            return None;
        }
        let mut draft = written.clone();
        draft.installation.third = None;
        for circuit in draft.circuits.iter_mut().filter(|circuit| !circuit.run.is_empty()) {
            (circuit.run, circuit.mm2, circuit.lamp) = (Vec::new(), None, None);
            (circuit.source, circuit.earth) = (None, None);
        }
        let faults = Faults::new(lost, limits);
        let mut expansion = Expansion {
            draft,
            lost: lost.clone(),
            faults,
            origins: Origins { written, points: Vec::new(), lengths: Vec::new() },
            made: FxHashMap::default(),
            passages: Passages::of(written, limits),
        };
        let locations = written.locations.iter().map(|location| location.id.as_str());
        let locations: FxHashSet<&str> = locations.filter(|id| name_fault(Named::Location, id).is_none()).collect();
        let rows = written.boards.iter().flat_map(|board| board.ways.iter().map(move |way| (board, way)));
        let ways = rows.map(|(board, way)| ((board.id.as_str(), way.id.as_str()), (board, way))).collect();
        let touched = lost.touched();
        let mut ids: FxHashSet<&str> = FxHashSet::default();
        // What a source feeds comes after it.
        let circuits = || written.circuits.iter().enumerate().filter(|(_, circuit)| !circuit.run.is_empty());
        let (from_ways, from_sources): (Vec<_>, Vec<_>) = circuits().partition(|(_, circuit)| circuit.source.is_none());
        let points = written.points.iter().filter(|_| !from_sources.is_empty());
        let points = points.map(|point| (point.id.as_str(), point.location.as_deref())).collect();
        for (number, circuit) in from_ways.into_iter().chain(from_sources) {
            let path = || DocumentPath::root().key("circuit").index(number);
            expansion.check_size(circuit.mm2, || path().key("mm2"), None);
            // Ids are made of the circuit's; one that can't be used is reported where it stands.
            let is_named = name_fault(Named::Circuit, &circuit.id).is_none() && ids.insert(&circuit.id);
            let mut run = Run {
                is_dry: !is_named || lost.has(|| path().key("id")),
                circuit: number,
                draft: circuit,
                step: 0,
                ways: &ways,
                points: &points,
                locations: &locations,
                touched: &touched,
                boxes: FxHashMap::default(),
                counted: 0,
                expansion: &mut expansion,
            };
            run.expand();
        }
        Some(expansion)
    }

    pub(super) fn report(&mut self, path: DocumentPath, part: Option<RunPart>, fault: impl Into<ModelFault>) {
        self.faults.push_from(path, None, part, fault.into());
    }

    /// Checks what a cable measures.
    fn check_size(&mut self, mm2: Option<f64>, path: impl Fn() -> DocumentPath, part: Option<RunPart>) {
        if let Some(value) = mm2 {
            self.faults.check_positive(Quantity::CableSize, value, path, part);
        }
    }
}

impl Origins<'_> {
    /// Takes errors in what was expanded back to the stops that it comes from.
    pub(crate) fn trace(&self, mut errors: ModelErrors, draft: &InstallationDraft) -> ModelErrors {
        for error in &mut errors.errors {
            if let Some((path, part)) = self.origin(&error.path, draft) {
                (error.path, error.from) = (path, Some(Box::new(part)));
            }
            if let Some((path, _)) = error.other.as_ref().and_then(|other| self.origin(other, draft)) {
                error.other = Some(path);
            }
        }
        errors
    }

    fn origin(&self, path: &DocumentPath, draft: &InstallationDraft) -> Option<(DocumentPath, RunPart)> {
        let [Segment::Key(list), Segment::Index(index), rest @ ..] = path.segments() else { return None };
        let origin = match list.as_ref() {
            "point" => *self.points.get(index.checked_sub(self.written.points.len())?)?,
            "length" => *self.lengths.get(index.checked_sub(self.written.lengths.len())?)?,
            _ => return None,
        };
        let mut at = origin.path();
        for segment in rest {
            at = match segment {
                Segment::Key(key) if key == "location" => at.key("in"),
                Segment::Key(key) => at.key(key.clone()),
                Segment::Index(index) => at.index(*index),
            };
        }
        let point = &draft.points[self.written.points.len() + origin.point].id;
        let length = &draft.lengths[self.written.lengths.len() + origin.length].id;
        let part = self.part(origin).of(cut(point), cut(length));
        Some((if path.part() == Part::Key { at.itself() } else { at }, part))
    }

    fn part(&self, origin: Origin) -> RunPart {
        let circuit = &self.written.circuits[origin.circuit].id;
        RunPart::stop(cut(circuit), origin.step, origin.key, origin.entry.map(|entry| entry as usize))
    }
}

/// What a step makes of a stop.
pub(super) struct Made<'d> {
    pub(super) letter: char,
    /// That of its box.
    pub(super) number: i64,
    /// Which of its letter it is at its box, from 1.
    pub(super) place: usize,
    pub(super) kind: &'d str,
    /// Those beyond the kind's own.
    pub(super) terminals: Vec<String>,
    pub(super) links: &'static [[&'static str; 2]],
    /// Where it stands, if not in its first position.
    pub(super) stands: Option<&'static str>,
}

impl<'d> Made<'d> {
    /// The first of its letter at a box.
    pub(super) fn new(letter: char, number: i64, kind: &'d str, terminals: &[&str]) -> Self {
        let terminals = terminals.iter().map(|&terminal| terminal.to_owned()).collect();
        Made { letter, number, place: 1, kind, terminals, links: &[], stands: None }
    }

    pub(super) fn switch(number: i64, place: usize, kind: &'d str, terminals: &[&str]) -> Self {
        Made { place, ..Made::new('S', number, kind, terminals) }
    }
}

/// The run of one circuit while it is expanded.
pub(super) struct Run<'r, 'd, 'l> {
    pub(super) expansion: &'r mut Expansion<'d, 'l>,
    /// Nothing is made, only looked at.
    is_dry: bool,
    pub(super) circuit: usize,
    pub(super) draft: &'d CircuitDraft,
    /// The step that is expanded, from 0.
    step: usize,
    /// By the ids of board and way.
    pub(super) ways: &'r FxHashMap<(&'d str, &'d str), (&'d BoardDraft, &'d WayDraft)>,
    /// The locations of explicit points, where some circuit has a source.
    pub(super) points: &'r FxHashMap<&'d str, Option<&'d str>>,
    /// Locations that stops inherit.
    pub(super) locations: &'r FxHashSet<&'d str>,
    /// Places in which something is lost.
    pub(super) touched: &'r FxHashSet<&'l [Segment]>,
    /// By number what the run goes on from, and the step.
    boxes: FxHashMap<i64, (Feed<'d>, usize)>,
    counted: i64,
}

impl<'d> Run<'_, 'd, '_> {
    fn expand(&mut self) {
        // None behind a ring, whose end goes back to what feeds it.
        let mut before = Some(self.supply());
        for (step, row) in self.draft.run.iter().enumerate() {
            self.step = step;
            let form = self.understand(row);
            self.expansion.lost.run_points |= self.is_dry || form.is_none();
            let feed = match (row.from, before) {
                (Some(number), _) => self.feed_of_box(number),
                (None, Some(feed)) => feed,
                (None, None) => self.behind_ring(),
            };
            let is_ring = form.is_some() && row.back.is_some();
            let next = match form {
                Some(Form::Lighting(lighting)) => {
                    let number = self.next_number(row);
                    let next = self.light(number, &feed, &lighting);
                    self.keep(number, next)
                }
                Some(Form::Boxes { boxes, stops }) => self.boxes(row, &feed, boxes, stops),
                Some(Form::Contactor { boxes, contactor, by }) => {
                    let next = self.boxes(row, &feed, boxes, vec![contactor]);
                    self.work_coil(row.number.unwrap_or(self.counted), &by, &next.spot);
                    next
                }
                Some(Form::Sensed { bypass, sensor, lights }) => {
                    let number = self.next_number(row);
                    let next = self.sense(number, &feed, bypass, sensor, &lights);
                    self.keep(number, next)
                }
                None => {
                    let number = self.next_number(row);
                    self.keep(number, Feed::new(FeedPoint { is_lost: true, ..feed.spot }, "L", "N"))
                }
            };
            before = (!is_ring).then_some(next);
        }
    }

    /// Boxes that the feed goes through, the last of a ring with a length back; gives what the run goes on from.
    fn boxes(&mut self, row: &'d StepDraft, feed: &Feed<'d>, boxes: &FeedBox, stops: Vec<RunStop<'d>>) -> Feed<'d> {
        let mut last = feed.clone();
        for stop in stops {
            let number = self.next_number(row);
            let kind = row.kind.as_deref().unwrap_or(boxes.kind);
            let made = Made { links: boxes.links, ..Made::new(boxes.letter, number, kind, boxes.terminals) };
            let cores = match boxes.shares.filter(|_| boxes.shares == last.shares) {
                Some(shared) => with_third(&last, boxes.inward, [shared; 2]),
                None => line_and_neutral(&last, boxes.inward),
            };
            let spot = self.add(stop, made, &last.spot, cores);
            let [line, neutral] = boxes.onward;
            last = self.keep(number, Feed { shares: boxes.shares, ..Feed::new(spot, line, neutral) });
        }
        if let Some(metres) = row.back {
            self.add_back(metres, &last, feed);
        }
        last
    }

    fn path(&self) -> DocumentPath {
        step_path(self.circuit, self.step)
    }

    /// What a step is; none where something of it is wrong or lost.
    fn understand(&mut self, row: &'d StepDraft) -> Option<Form<'d>> {
        let path = self.path();
        let part = || Some(RunPart::step(cut(&self.draft.id), self.step));
        self.expansion.check_size(row.mm2, || path.clone().key("mm2"), part());
        let is_lost = self.touched.contains(path.segments());
        let mut found = Vec::new();
        let third = self.expansion.origins.written.installation.third;
        let nearest = &mut self.expansion.faults.nearest;
        let form = understand(row, third, nearest, &mut |key, fault| found.push((key, fault)));
        let default = DocumentPath::root().key("installation").key("third");
        let is_default_lost = self.touched.contains(default.segments());
        if is_lost {
            return None;
        }
        for (key, fault) in found {
            if is_default_lost && matches!(fault, ModelFault::Run(RunFault::ThirdNotSaid { said: None, .. })) {
                continue;
            }
            let path = match key {
                Some(key) if matches!(fault, ModelFault::Run(RunFault::KeyNotUsed { .. })) => {
                    path.clone().key(key).itself()
                }
                Some(key) => path.clone().key(key),
                None => path.clone(),
            };
            self.expansion.report(path, part(), fault);
        }
        form
    }

    /// The number of a step's next box.
    fn next_number(&mut self, row: &StepDraft) -> i64 {
        match row.number {
            Some(number) => {
                if number < 1 && !self.touched.contains(self.path().segments()) {
                    self.report("number", RunFault::BadBoxNumber { number });
                }
                number
            }
            None => {
                self.counted += 1;
                self.counted
            }
        }
    }

    /// Notes what goes on from a box.
    fn keep(&mut self, number: i64, feed: Feed<'d>) -> Feed<'d> {
        if let Some((_, first)) = self.boxes.insert(number, (feed.clone(), self.step)) {
            let path = self.path();
            let path = if self.draft.run[self.step].number.is_some() { path.key("number") } else { path };
            let part = RunPart::step(cut(&self.draft.id), self.step);
            let other = Some(step_path(self.circuit, first));
            self.expansion.faults.push_from(path, other, Some(part), RunFault::BoxTwice { number }.into());
            self.expansion.lost.run_points = true;
        }
        feed
    }

    /// What feeds a step behind a ring that does not say it.
    fn behind_ring(&mut self) -> Feed<'d> {
        if !self.touched.contains(self.path().segments()) {
            let part = RunPart::step(cut(&self.draft.id), self.step);
            self.expansion.report(self.path(), Some(part), RunFault::BehindRing { known: self.known() });
        }
        Feed::new(FeedPoint::lost(), "L", "N")
    }

    /// The numbers that were counted, the first dozen of many.
    fn known(&self) -> Vec<i64> {
        (1..=self.counted).take(12).collect()
    }

    fn feed_of_box(&mut self, number: i64) -> Feed<'d> {
        if let Some((feed, _)) = self.boxes.get(&number) {
            return feed.clone();
        }
        if !self.touched.contains(self.path().segments()) {
            self.report("from", RunFault::UnknownBox { number, known: self.known() });
        }
        Feed::new(FeedPoint::lost(), "L", "N")
    }

    /// Reports what is wrong with a key of the step.
    fn report(&mut self, key: &'static str, fault: RunFault) {
        let part = RunPart::step(cut(&self.draft.id), self.step);
        self.expansion.report(self.path().key(key), Some(part), fault);
    }

    /// Makes the point of a stop, and the length that leads to it.
    pub(super) fn add(
        &mut self,
        listed: RunStop<'d>,
        made: Made<'d>,
        from: &FeedPoint<'d>,
        cores: Cores,
    ) -> FeedPoint<'d> {
        let RunStop { key, entry, stop } = listed;
        let id = stop.id.clone().unwrap_or_else(|| {
            let Made { letter, number, place, .. } = made;
            let place = if place > 1 { format!("-{place}") } else { String::new() };
            format!("{}-{letter}{number}{place}", self.draft.id)
        });
        // What is not a name, or not a place, is reported once, and not handed on.
        let is_named = name_fault(Named::Point, &id).is_none();
        let location = stop.location.as_deref().or(from.location);
        let spot = FeedPoint {
            end: if is_named { id.clone() } else { String::new() },
            location: location.filter(|location| self.locations.contains(location)),
            plate: stop.plate.as_deref(),
            is_lost: !is_named,
        };
        if self.is_dry {
            return spot;
        }
        let Origins { points, lengths, .. } = &self.expansion.origins;
        let (point, length) = (points.len(), lengths.len());
        let origin = Origin { circuit: self.circuit, step: self.step, key, entry, point, length };
        let row = &self.draft.run[self.step];
        let point = self.expansion.draft.points.len();
        let length = self.expansion.draft.lengths.len();
        let length_id = format!("W-{id}");
        let lost = &mut self.expansion.lost;
        let entry_path = |list: &'static str, number| DocumentPath::root().key(list).index(number);
        let is_touched = self.touched.contains(origin.path().segments());
        if is_touched {
            lost.add(entry_path("point", point).segments());
            lost.add(entry_path("length", length).segments());
        }
        if from.is_lost {
            lost.add(entry_path("length", length).key("from").segments());
        }
        if !is_named {
            // The point's id is reported.
            lost.add(entry_path("length", length).key("id").segments());
            lost.add(entry_path("length", length).key("to").segments());
        }
        match self.expansion.made.entry(id.clone()) {
            // The point is there twice too, and reported.
            Entry::Occupied(_) => lost.add(entry_path("length", length).key("id").segments()),
            Entry::Vacant(entry) => {
                entry.insert(location);
            }
        }
        let is_on_one_plate = stop.plate.is_some() && stop.plate.as_deref() == from.plate;
        let passages = &mut self.expansion.passages;
        let mut walked = || from.location.zip(spot.location).and_then(|(from, to)| passages.between(from, to));
        let metres = stop.metres.or_else(|| if is_on_one_plate { Some(ON_ONE_PLATE) } else { walked() });
        if metres.is_none() {
            lost.add(entry_path("length", length).key("metres").segments());
            // A passage that could not be read may be the one that says it.
            if !is_touched && !self.touched.contains(DocumentPath::root().key("passage").segments()) {
                let part = self.expansion.origins.part(origin).of(cut(&id), cut(&length_id));
                let fault = RunFault::NoMetres { length: cut(&length_id), place: stop.location.as_deref().map(cut) };
                self.expansion.report(origin.path(), Some(part), fault);
            }
        }
        let mut cores = self.with_earth(cores);
        cores.extend(stop.cores.iter().map(|(name, ends)| (name.clone(), ends.clone())));
        let cable = stop.cable.clone().unwrap_or_else(|| self.cable(&cores));
        let is_light = made.kind == "luminaire" && stop.kind.is_none();
        let lamp = stop.lamp.or(if is_light { row.lamp.or(self.draft.lamp) } else { None });
        let links = made.links.iter().map(|link| link.map(str::to_owned).to_vec());
        let mut terminals = made.terminals;
        terminals.extend(stop.terminals.iter().cloned());
        self.expansion.origins.points.push(origin);
        self.expansion.origins.lengths.push(origin);
        self.expansion.draft.points.push(PointDraft {
            id: id.clone(),
            name: stop.name.clone(),
            kind: stop.kind.clone().unwrap_or_else(|| made.kind.to_owned()),
            circuit: Some(self.draft.id.clone()),
            location: location.map(str::to_owned),
            plate: stop.plate.clone(),
            terminals,
            links: links.chain(stop.links.iter().cloned()).collect(),
            lamp,
            load: stop.load.or(row.load),
            manual: stop.manual,
            removable: stop.removable,
            fixed: stop.fixed,
            operable: stop.operable,
            visible: stop.visible,
            stands: stop.stands.clone().or_else(|| made.stands.map(str::to_owned)),
        });
        self.expansion.draft.lengths.push(LengthDraft {
            id: length_id,
            circuit: Some(self.draft.id.clone()),
            from: from.end.clone(),
            to: id,
            cable: Some(cable),
            metres: metres.unwrap_or_default(),
            cores,
        });
        spot
    }

    /// Makes the length from the last box of a ring back to what feeds the first.
    fn add_back(&mut self, metres: Metres, from: &Feed<'d>, to: &Feed<'d>) {
        if self.is_dry {
            return;
        }
        let Expansion { draft, lost, origins, .. } = &mut *self.expansion;
        let path = DocumentPath::root().key("length").index(draft.lengths.len());
        for (_, key) in [(from, "id"), (from, "from"), (to, "to")].into_iter().filter(|(feed, _)| feed.spot.is_lost) {
            lost.add(path.clone().key(key).segments());
        }
        let (point, length) = (origins.points.len() - 1, origins.lengths.len());
        let origin = Origin { circuit: self.circuit, step: self.step, key: "back", entry: None, point, length };
        if self.touched.contains(origin.path().segments()) {
            lost.add(path.segments());
        }
        origins.lengths.push(origin);
        let cores = self.with_earth(line_and_neutral(from, [to.line, to.neutral]));
        let cable = Some(self.cable(&cores));
        self.expansion.draft.lengths.push(LengthDraft {
            id: format!("W-{}-back", from.spot.end),
            circuit: Some(self.draft.id.clone()),
            from: from.spot.end.clone(),
            to: to.spot.end.clone(),
            cable,
            metres,
            cores,
        });
    }

    /// What a cable of the step is called, by its cores.
    fn cable(&self, cores: &IndexMap<String, [String; 2]>) -> String {
        let size = self.draft.run[self.step].mm2.or(self.draft.mm2);
        let size = size.map(|mm2| format!(" {}", cut(&mm2.to_string()))).unwrap_or_default();
        if cores.contains_key("cpc") {
            format!("{}c+e{size}", cores.len() - 1)
        } else {
            format!("{}c{size}", cores.len())
        }
    }

    /// Cores as a length has them, `cpc` among them where the circuit's cables have one.
    fn with_earth(&self, mut cores: Cores) -> IndexMap<String, [String; 2]> {
        if self.draft.earth != Some(false) {
            cores.push(core("cpc", "E", "E"));
        }
        cores.into_iter().map(|(name, ends)| (name.to_owned(), ends)).collect()
    }
}
