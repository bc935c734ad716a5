//! Where boxes stand: in columns of their location, and in strips that run outwards or back.
//!
//! A strip is a row of boxes that are fed one from the other. Of the boxes fed from one box, one goes on in its strip;
//! each other begins a strip further down, to which a riser leads beside the column of the box that it leaves. Each
//! location has columns of its own, so that no two locations overlap, and each part of a row belongs to one strip, so
//! that no strip lies on another. What is left to choose, the rows and whether a strip runs back to a location that it
//! comes from, is chosen so that risers and strips cross as little as can be.
//!
//! Strips are placed from the end of the strip that feeds them: the riser of a box nearer to the supply then passes
//! what hangs further out on the side where nothing is.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use super::tree::DrawnBox;
use crate::model::LocationId;

/// Beyond so many rows no better one is looked for.
const MOST_ROWS: usize = 64;

/// Which way a strip runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Direction {
    Outward,
    Back,
}

impl Direction {
    pub(super) fn reversed(self) -> Direction {
        match self {
            Direction::Outward => Direction::Back,
            Direction::Back => Direction::Outward,
        }
    }

    fn step(self) -> i32 {
        match self {
            Direction::Outward => 1,
            Direction::Back => -1,
        }
    }
}

/// A place across all columns: the number of a band, that of a column in it, and where in the column: 0 before the
/// boxes, where risers to strips that run outwards pass; 1 the boxes; 2 behind them, where the others pass.
type BandPlace = (i32, i32, u8);

/// A row of boxes that are fed one from the other.
#[derive(Clone, Debug)]
pub(super) struct Strip {
    pub(super) row: usize,
    pub(super) direction: Direction,
    pub(super) boxes: Vec<usize>,
    /// How far it reaches, with the way from its riser.
    span: [BandPlace; 2],
    /// Where its riser passes, and the row that this comes from; none at a root.
    riser: Option<(BandPlace, usize)>,
}

/// Where everything stands.
#[derive(Clone, Debug)]
pub(super) struct Placing {
    /// The location of each band of columns.
    pub(super) bands: Vec<Option<LocationId>>,
    /// For each column, its band.
    pub(super) columns: Vec<usize>,
    /// For each box, its column and its strip.
    pub(super) spots: Vec<(usize, usize)>,
    pub(super) strips: Vec<Strip>,
    pub(super) row_count: usize,
}

impl Placing {
    /// Places all boxes.
    ///
    /// Time O(strips² + boxes log boxes), space linear.
    pub(super) fn of(boxes: &[DrawnBox]) -> Placing {
        let mut placer = Placer {
            boxes,
            bands: Vec::new(),
            ranges: Vec::new(),
            keys: vec![(0, 0); boxes.len()],
            strip_of: vec![usize::MAX; boxes.len()],
            strips: Vec::new(),
            rows: Vec::new(),
            waiting: BTreeMap::new(),
        };
        for root in (0..boxes.len()).filter(|&number| boxes[number].parent.is_none()) {
            placer.place_tree(root);
        }
        placer.placing()
    }

    pub(super) fn strip_of(&self, number: usize) -> &Strip {
        &self.strips[self.spots[number].1]
    }

    /// Whether a box is the first of its strip.
    pub(super) fn begins_strip(&self, number: usize) -> bool {
        self.strip_of(number).boxes[0] == number
    }

    /// Which columns stand behind which others whatever else moves: pairs, the first before the second, each told
    /// whether something is written between them. Else no location, strip or riser could come to lie on another.
    pub(super) fn orders(&self, boxes: &[DrawnBox]) -> Vec<([usize; 2], bool)> {
        let mut orders: Vec<([usize; 2], bool)> = Vec::new();
        let mut put = |one: usize, other: usize, is_written: bool| {
            if one != other {
                orders.push(([one.min(other), one.max(other)], is_written));
            }
        };
        let column_of = |number: usize| self.spots[number].0;
        // Along a strip, from the riser to it.
        let mut reaches: Vec<[usize; 2]> = Vec::new();
        let mut alongs: Vec<Vec<usize>> = Vec::new();
        for strip in &self.strips {
            let from = boxes[strip.boxes[0]].parent.map(column_of);
            let along: Vec<usize> =
                from.into_iter().chain(strip.boxes.iter().map(|&number| column_of(number))).collect();
            along.windows(2).for_each(|pair| put(pair[0], pair[1], true));
            let ends = [along[0], along[along.len() - 1]];
            reaches.push([ends[0].min(ends[1]), ends[0].max(ends[1])]);
            alongs.push(along);
        }
        // Strips of one row, and strips and the risers that pass their row.
        let mut of_row: Vec<Vec<usize>> = vec![Vec::new(); self.row_count];
        (0..self.strips.len()).for_each(|number| of_row[self.strips[number].row].push(number));
        for row in &mut of_row {
            row.sort_by_key(|&number| reaches[number]);
            row.windows(2).for_each(|pair| put(reaches[pair[0]][1], reaches[pair[1]][0], true));
        }
        for riser in self.risers(boxes) {
            for strip in of_row[riser.rows[0] + 1..riser.rows[1]].iter().flatten() {
                let [first, last] = reaches[*strip];
                if riser.column < first {
                    put(riser.column, first, true);
                } else if last < riser.column {
                    put(last, riser.column, true);
                } else {
                    // They cross: between two boxes of the strip.
                    let mut columns = alongs[*strip].clone();
                    columns.sort_unstable();
                    let behind = columns.partition_point(|&column| column < riser.column);
                    if let Some(&behind) = columns.get(behind) {
                        put(riser.column, behind, true);
                    }
                    if let Some(before) = behind.checked_sub(1) {
                        put(columns[before], riser.column, true);
                    }
                }
            }
        }
        // Columns of one band, and bands that have rows in common.
        for (column, bands) in self.columns.windows(2).enumerate() {
            if bands[0] == bands[1] {
                put(column, column + 1, false);
            }
        }
        let mut ranges: Vec<Option<[usize; 4]>> = vec![None; self.bands.len()];
        for (number, &(column, strip)) in self.spots.iter().enumerate() {
            debug_assert!(number < boxes.len());
            let row = self.strips[strip].row;
            let [first, last, from, to] = ranges[self.columns[column]].get_or_insert([column, column, row, row]);
            (*first, *last) = ((*first).min(column), (*last).max(column));
            (*from, *to) = ((*from).min(row), (*to).max(row));
        }
        let ranges: Vec<[usize; 4]> = ranges.into_iter().flatten().collect();
        for (number, one) in ranges.iter().enumerate() {
            for other in &ranges[number + 1..] {
                if one[2] <= other[3] && other[2] <= one[3] {
                    let [before, behind] = if one[0] < other[0] { [one, other] } else { [other, one] };
                    put(before[1], behind[0], false);
                }
            }
        }
        orders.sort_unstable();
        orders.dedup();
        orders
    }

    /// For each riser (its strip's number): the column that it passes beside, the row that it comes from, and the row
    /// that it leads to; those of one side of one column from the outermost in: the first is the furthest from the
    /// boxes.
    pub(super) fn risers(&self, boxes: &[DrawnBox]) -> Vec<PlacedRiser> {
        let mut risers: Vec<PlacedRiser> = (0..)
            .zip(&self.strips)
            .filter_map(|(number, strip)| {
                let parent = boxes[strip.boxes[0]].parent?;
                let rows = [self.strip_of(parent).row, strip.row];
                Some(PlacedRiser { strip: number, column: self.spots[parent].0, direction: strip.direction, rows })
            })
            .collect();
        risers.sort_by_key(|riser| {
            (riser.column, riser.direction == Direction::Back, riser.rows[0], Reverse(riser.rows[1]), riser.strip)
        });
        risers
    }
}

/// What leads from a box down to a strip.
#[derive(Clone, Copy, Debug)]
pub(super) struct PlacedRiser {
    pub(super) strip: usize,
    pub(super) column: usize,
    pub(super) direction: Direction,
    pub(super) rows: [usize; 2],
}

struct Placer<'b> {
    boxes: &'b [DrawnBox],
    bands: Vec<Option<LocationId>>,
    /// For each band its first and last column.
    ranges: Vec<[i32; 2]>,
    keys: Vec<(i32, i32)>,
    strip_of: Vec<usize>,
    strips: Vec<Strip>,
    /// For each row its strips.
    rows: Vec<Vec<usize>>,
    /// Risers that are still to come: where they will pass, and from which row, with how many.
    waiting: BTreeMap<(BandPlace, usize), usize>,
}

/// A strip that could be.
struct StripTrial {
    boxes: Vec<(usize, (i32, i32))>,
    direction: Direction,
    new_bands: Vec<Option<LocationId>>,
    span: [BandPlace; 2],
    riser: Option<(BandPlace, usize)>,
    row: usize,
    crossings: usize,
}

impl<'b> Placer<'b> {
    fn place_tree(&mut self, root: usize) {
        // Strips whose branches are still to be placed, each with how many of its boxes are done, from the last.
        let mut open: Vec<(usize, usize, Vec<usize>)> = vec![self.place(root, None)];
        while let Some((strip, at, branches)) = open.last_mut() {
            if let Some(branch) = branches.pop() {
                let (strip, at) = (*strip, *at);
                let from = self.strips[strip].boxes[at];
                let placed = self.place(branch, Some(from));
                open.push(placed);
                continue;
            }
            if *at == 0 {
                open.pop();
                continue;
            }
            *at -= 1;
            let (strip, at) = (*strip, *at);
            let branches = self.branches(strip, at);
            if let Some(top) = open.last_mut() {
                top.2 = branches;
            }
        }
    }

    /// What branches off a strip at one of its boxes: the last is placed first. What stays in the location comes next to
    /// its box, what runs back last.
    fn branches(&self, strip: usize, at: usize) -> Vec<usize> {
        let strip = &self.strips[strip];
        let here = strip.boxes[at];
        let next = strip.boxes.get(at + 1).copied();
        let children = &self.boxes[here].children;
        let mut branches: Vec<usize> = children.iter().copied().filter(|&child| Some(child) != next).collect();
        let rank = |child: usize| {
            let row = &self.boxes[child];
            let goes_back = self.goes_back(child, here, strip.direction);
            (goes_back, row.location != self.boxes[here].location, row.weight)
        };
        branches.sort_by_key(|&child| Reverse(rank(child)));
        branches
    }

    /// Places the strip that begins with a box; its number, how many of its boxes are to be looked through for branches,
    /// and nothing that branches off yet.
    fn place(&mut self, first: usize, from: Option<usize>) -> (usize, usize, Vec<usize>) {
        if let Some(from) = from {
            self.stop_waiting(from);
        }
        let mut best: Option<StripTrial> = None;
        for (direction, is_new_visit) in self.directions(first, from) {
            let Some(trial) = self.try_strip(first, from, direction, is_new_visit) else { continue };
            let is_better = best.as_ref().is_none_or(|best| trial.crossings < best.crossings);
            let is_clean = trial.crossings == 0;
            if is_better {
                best = Some(trial);
            }
            if is_clean {
                break;
            }
        }
        let trial = best.expect("a strip that runs outwards to a band of its own is always possible");
        self.keep(trial)
    }

    /// In which directions a strip may run, the most wanted first, and whether it begins in a new band.
    fn directions(&self, first: usize, from: Option<usize>) -> Vec<(Direction, bool)> {
        let Some(from) = from else { return vec![(Direction::Outward, false)] };
        let own = self.strips[self.strip_of[from]].direction;
        let here = self.keys[from].0;
        let back = if self.goes_back(first, from, own) { own.reversed() } else { own };
        match self.band_of(self.boxes[first].location, here) {
            Some(band) if band == here => vec![(back, false), (back.reversed(), false)],
            Some(band) if band < here => vec![(Direction::Back, false), (Direction::Outward, true)],
            Some(_) => vec![(Direction::Outward, false), (Direction::Outward, true)],
            None => vec![(Direction::Outward, true)],
        }
    }

    /// Whether a branch leads back: to a location that the strip came from, or through its own to one.
    fn goes_back(&self, first: usize, from: usize, direction: Direction) -> bool {
        let here = self.keys[from].0;
        match self.band_of(self.boxes[first].location, here) {
            Some(band) if band == here => self.turns_back(first, here, direction, &[]),
            Some(band) => (band < here) == (direction == Direction::Outward),
            None => direction == Direction::Back,
        }
    }

    /// The band of a location that is nearest to another band.
    fn band_of(&self, location: Option<LocationId>, near: i32) -> Option<i32> {
        (0..)
            .zip(&self.bands)
            .filter(|(_, band)| **band == location)
            .map(|(number, _)| number)
            .min_by_key(|number: &i32| ((number - near).abs(), *number))
    }

    /// Whether what goes on from a box, through its location, next leaves that against a direction: from a band, where
    /// bands behind the known ones may be new.
    fn turns_back(&self, first: usize, here: i32, direction: Direction, new_bands: &[Option<LocationId>]) -> bool {
        let location = self.boxes[first].location;
        let mut at = first;
        loop {
            let Some(next) = heaviest(self.boxes, &self.boxes[at].children) else { return false };
            at = next;
            let other = self.boxes[at].location;
            if other != location {
                return match self.new_band(other, new_bands).or_else(|| self.band_of(other, here)) {
                    Some(band) => (band < here) == (direction == Direction::Outward),
                    None => direction == Direction::Back,
                };
            }
        }
    }

    /// The number of a location's band among new ones.
    fn new_band(&self, location: Option<LocationId>, new_bands: &[Option<LocationId>]) -> Option<i32> {
        new_bands.iter().position(|&band| band == location).map(|place| (self.bands.len() + place) as i32)
    }

    /// The boxes of a strip with their columns, and the bands that it needs.
    fn chain(
        &self,
        first: usize,
        key: (i32, i32),
        direction: Direction,
        new_bands: &mut Vec<Option<LocationId>>,
    ) -> Vec<(usize, (i32, i32))> {
        let mut chain = vec![(first, key)];
        loop {
            let (at, (band, column)) = chain[chain.len() - 1];
            let children = &self.boxes[at].children;
            let mut next: Option<(usize, (i32, i32), bool)> = None;
            let mut heaviest_first: Vec<usize> = children.clone();
            heaviest_first.sort_by_key(|&child| Reverse(self.boxes[child].weight));
            for child in heaviest_first {
                let location = self.boxes[child].location;
                let known = self.bands.len() as i32;
                let fresh = self.new_band(location, new_bands);
                let is_here = if band < known { self.bands[band as usize] == location } else { fresh == Some(band) };
                if is_here {
                    if !self.turns_back(child, band, direction, new_bands) {
                        next = Some((child, (band, column + direction.step()), false));
                    }
                } else if let Some(other) = fresh.or_else(|| self.band_of(location, band)) {
                    let is_ahead = (other > band) == (direction == Direction::Outward);
                    if is_ahead {
                        next = Some((child, (other, self.entry(other, direction)), false));
                    }
                } else if direction == Direction::Outward {
                    next = Some((child, (known + new_bands.len() as i32, 0), true));
                }
                if next.is_some() {
                    break;
                }
            }
            let Some((child, key, is_new)) = next else { return chain };
            if is_new {
                new_bands.push(self.boxes[child].location);
            }
            chain.push((child, key));
        }
    }

    /// The column in which a strip comes into a band.
    fn entry(&self, band: i32, direction: Direction) -> i32 {
        let [first, last] = self.ranges.get(band as usize).copied().unwrap_or_default();
        if direction == Direction::Outward { first } else { last }
    }

    fn try_strip(
        &self,
        first: usize,
        from: Option<usize>,
        direction: Direction,
        is_new_visit: bool,
    ) -> Option<StripTrial> {
        let mut new_bands = Vec::new();
        let location = self.boxes[first].location;
        let near = from.map_or(0, |from| self.keys[from].0);
        let key = match self.band_of(location, near).filter(|_| !is_new_visit) {
            Some(band) => match from {
                Some(from) if self.keys[from].0 == band => self.keys[from],
                _ => (band, self.entry(band, direction)),
            },
            None => {
                new_bands.push(location);
                (self.bands.len() as i32, 0)
            }
        };
        let boxes = self.chain(first, key, direction, &mut new_bands);
        let last = boxes[boxes.len() - 1].1;
        let phase = if direction == Direction::Outward { 0 } else { 2 };
        let begin = match from {
            Some(from) => (self.keys[from].0, self.keys[from].1, phase),
            None => (key.0, key.1, phase),
        };
        let end = (last.0, last.1, 2 - phase);
        let span = if direction == Direction::Outward { [begin, end] } else { [end, begin] };
        if span[0] > span[1] {
            return None;
        }
        let from_row = from.map(|from| self.strips[self.strip_of[from]].row);
        let riser = from_row.map(|row| (begin, row));
        let first_row = from_row.map_or(self.rows.len(), |row| row + 1);
        let mut best: Option<(usize, usize)> = None;
        let last_row = self.rows.len().max(first_row);
        for row in (first_row..=last_row).take(MOST_ROWS).chain([last_row]) {
            if self.rows.get(row).is_some_and(|strips| {
                strips.iter().any(|&strip| {
                    let [low, high] = self.strips[strip].span;
                    low <= span[1] && span[0] <= high
                })
            }) {
                continue;
            }
            let crossings = self.crossings(span, riser, row);
            if best.is_none_or(|(_, least)| crossings < least) {
                best = Some((row, crossings));
            }
            if crossings == 0 {
                break;
            }
        }
        let (row, crossings) = best?;
        Some(StripTrial { boxes, direction, new_bands, span, riser, row, crossings })
    }

    /// How often a strip in a row would cross risers, and its riser strips.
    fn crossings(&self, span: [BandPlace; 2], riser: Option<(BandPlace, usize)>, row: usize) -> usize {
        let is_within = |place: BandPlace, [low, high]: [BandPlace; 2]| low < place && place < high;
        let mut crossings = 0;
        for strip in &self.strips {
            if let Some((place, from)) = strip.riser {
                let passes = from < row && row < strip.row;
                let overtakes = riser.is_some_and(|(own, own_from)| own == place && own_from < from);
                crossings += usize::from(passes && (is_within(place, span) || overtakes));
            }
            if let Some((place, from)) = riser {
                let passes = from < strip.row && strip.row < row;
                let overtakes = strip.riser.is_some_and(|(other, other_from)| other == place && other_from < from);
                crossings += usize::from(passes && (is_within(place, strip.span) || overtakes));
            }
        }
        let to_come = self.waiting.iter().filter(|((place, from), _)| *from < row && is_within(*place, span));
        crossings + to_come.map(|(_, count)| count).sum::<usize>()
    }

    fn keep(&mut self, trial: StripTrial) -> (usize, usize, Vec<usize>) {
        let StripTrial { boxes, direction, new_bands, span, riser, row, .. } = trial;
        self.bands.extend(new_bands);
        self.ranges.resize(self.bands.len(), [0, 0]);
        let number = self.strips.len();
        for &(place, key) in &boxes {
            let [first, last] = &mut self.ranges[key.0 as usize];
            *first = (*first).min(key.1);
            *last = (*last).max(key.1);
            self.keys[place] = key;
            self.strip_of[place] = number;
        }
        while self.rows.len() <= row {
            self.rows.push(Vec::new());
        }
        self.rows[row].push(number);
        let boxes: Vec<usize> = boxes.into_iter().map(|(number, _)| number).collect();
        for (at, &place) in boxes.iter().enumerate() {
            let next = boxes.get(at + 1).copied();
            let count = self.boxes[place].children.iter().filter(|&&child| Some(child) != next).count();
            if count > 0 {
                let phase = if direction == Direction::Outward { 0 } else { 2 };
                let key = self.keys[place];
                *self.waiting.entry(((key.0, key.1, phase), row)).or_default() += count;
            }
        }
        let count = boxes.len();
        self.strips.push(Strip { row, direction, boxes, span, riser });
        (number, count, Vec::new())
    }

    fn stop_waiting(&mut self, from: usize) {
        let strip = &self.strips[self.strip_of[from]];
        let phase = if strip.direction == Direction::Outward { 0 } else { 2 };
        let key = self.keys[from];
        let place = ((key.0, key.1, phase), strip.row);
        if let Some(count) = self.waiting.get_mut(&place) {
            *count -= 1;
            if *count == 0 {
                self.waiting.remove(&place);
            }
        }
    }

    fn placing(self) -> Placing {
        let mut columns: Vec<(i32, i32)> = self.keys.clone();
        columns.sort_unstable();
        columns.dedup();
        let spots = (0..)
            .zip(&self.keys)
            .map(|(number, key): (usize, _)| {
                let column = columns.binary_search(key).expect("all keys are there");
                (column, self.strip_of[number])
            })
            .collect();
        Placing {
            bands: self.bands,
            columns: columns.into_iter().map(|(band, _)| band as usize).collect(),
            spots,
            row_count: self.rows.len(),
            strips: self.strips,
        }
    }
}

/// The heaviest box, the first of several.
fn heaviest(boxes: &[DrawnBox], children: &[usize]) -> Option<usize> {
    children.iter().copied().min_by_key(|&child| Reverse(boxes[child].weight))
}
