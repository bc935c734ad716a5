//! A layout made into lines and texts.

use std::collections::BTreeMap;

use super::colour::code_of;
use super::grid::Grid;
use super::lanes::{BoxLanes, Lane, LaneCounts, LaneGroup, group_of_core, lanes_of};
use super::metrics::{Metrics, Orientation, TextSize};
use super::place::{Direction, Placing};
use super::scene::{Anchor, Area, Scene, SceneBox, SceneCore, SceneLength, SceneRoom, SceneText};
use super::tree::{DrawnBox, boxes_of};
use crate::model::{CircuitId, End, LengthId, LocationId, PlateId};
use crate::network::Network;

/// The drawing of circuits. Time O(strips² + cores log cores), space linear in the circuits.
pub(super) fn scene_of(network: &Network, circuits: &[CircuitId], orientation: Orientation) -> Scene {
    let boxes = boxes_of(network.installation(), circuits);
    let placing = Placing::of(&boxes);
    let (lanes, counts) = lanes_of(network, &boxes, &placing);
    let layout = Layout { network, boxes, placing, lanes, counts, orientation, metrics: Metrics::of(orientation) };
    layout.scene()
}

/// Where boxes stand and cores run, and what is needed to draw them.
pub(super) struct Layout<'n> {
    pub(super) network: &'n Network,
    pub(super) boxes: Vec<DrawnBox>,
    pub(super) placing: Placing,
    pub(super) lanes: Vec<BoxLanes>,
    pub(super) counts: Vec<LaneCounts>,
    pub(super) orientation: Orientation,
    pub(super) metrics: Metrics,
}

impl Layout<'_> {
    fn scene(&self) -> Scene {
        let grid = self.grid();
        let areas: Vec<Area> = (0..self.boxes.len()).map(|number| self.box_area(&grid, number)).collect();
        let lengths: Vec<SceneLength> =
            (0..self.boxes.len()).filter_map(|number| self.length(&grid, &areas, number)).collect();
        let boxes: Vec<SceneBox> =
            (0..self.boxes.len()).map(|number| self.scene_box(&grid, areas[number], number)).collect();
        let rooms = self.rooms(&grid, &areas);
        let plates = self.plates(&areas);
        let edges = rooms.iter().map(|room| room.area.to).chain(areas.iter().map(|area| area.to));
        let margin = self.metrics.margin;
        let size = edges.fold(grid.size, |[along, across], to| [along.max(to[0] + margin), across.max(to[1] + margin)]);
        Scene { size, rooms, plates, boxes, lengths }
    }

    pub(super) fn is_across(&self) -> bool {
        self.orientation == Orientation::Across
    }

    /// A box's name, as it is written beside it.
    pub(super) fn box_name(&self, number: usize) -> String {
        let name = self.network.installation().end_name(self.boxes[number].end);
        if self.boxes[number].is_again { format!("to {name}") } else { name }
    }

    /// What is written at a length.
    pub(super) fn length_name(&self, length: LengthId) -> String {
        let row = self.network.installation().length(length);
        if self.is_across() { format!("{} · {} m", row.id(), row.metres().0) } else { row.id().to_owned() }
    }

    /// The width of the widest name of a length's cores.
    pub(super) fn core_names_width(&self, length: LengthId) -> f64 {
        let cores = self.network.installation().length(length).cores();
        cores.iter().map(|core| TextSize::Small.width(core.name()) + TextSize::Small.width("?")).fold(0.0, f64::max)
    }

    /// What is written beside a length downwards: its name, and two lines with the codes of its cores.
    pub(super) fn length_text_width(&self, length: LengthId) -> f64 {
        let cores = self.network.installation().length(length).cores();
        let codes: Vec<String> = cores.iter().map(|core| format!("{}?", code_of(core.name()))).collect();
        let [one, other] = two_lines(&codes).map(|line| TextSize::Small.width(&line) * 1.15);
        TextSize::Middle.width(&self.length_name(length)).max(one).max(other)
    }

    /// How far a lane lies from the first of its strip, across.
    fn lane_offset(&self, strip: usize, Lane(group, lane): Lane) -> f64 {
        let [lines, neutrals, _] = self.counts[strip].map(|count| count as f64);
        let before = match group {
            LaneGroup::Line => 0.0,
            LaneGroup::Neutral => lines + 0.4,
            LaneGroup::Earth => lines + neutrals + if neutrals > 0.0 { 0.4 } else { 0.2 },
        };
        (before + lane) * self.metrics.lane
    }

    pub(super) fn lanes_height(&self, strip: usize) -> f64 {
        let counts = self.counts[strip];
        let last = (0..3).rev().find(|&group| counts[group] > 0).unwrap_or(0);
        let group = [LaneGroup::Line, LaneGroup::Neutral, LaneGroup::Earth][last];
        self.lane_offset(strip, Lane(group, counts[last] as f64 - 1.0)) + 2.0 * self.metrics.box_pad
    }

    /// Whether a box hangs below the box that feeds it: its length comes down the riser beside it.
    pub(super) fn hangs(&self, number: usize) -> bool {
        let parent = self.boxes[number].parent;
        parent.is_some_and(|parent| {
            self.placing.begins_strip(number) && self.placing.spots[parent].0 == self.placing.spots[number].0
        })
    }

    /// What a box needs along, without its risers.
    pub(super) fn box_length(&self, number: usize) -> f64 {
        let metrics = &self.metrics;
        let inside = self.inside(number);
        let contacts = if inside.has_contacts { metrics.contact } else { 0.0 };
        let bridges: usize = inside.bridges.iter().sum();
        let least = if self.is_across() { TextSize::Large.width(&self.box_name(number)).max(40.0) } else { 40.0 };
        let edges = if inside.has_contacts { 2.0 * inside.edge } else { 16.0 };
        let least = least.max(inside.middle + 8.0);
        (edges + contacts + bridges as f64 * metrics.bridge).max(least)
    }

    /// Where a box stands along, without what it is widened by: at the side of its column from which it is fed.
    pub(super) fn along(&self, grid: &Grid, number: usize) -> [f64; 2] {
        let (column, strip) = self.placing.spots[number];
        let [from, to] = grid.columns[column].boxes;
        let length = self.box_length(number);
        match self.placing.strips[strip].direction {
            Direction::Outward => [from, from + length],
            Direction::Back => [to - length, to],
        }
    }

    /// A box, with what it is widened by for its risers.
    fn box_area(&self, grid: &Grid, number: usize) -> Area {
        let strip = self.placing.spots[number].1;
        let [mut from, mut to] = self.along(grid, number);
        for &child in &self.boxes[number].children {
            let (_, strip) = self.placing.spots[child];
            if !self.placing.begins_strip(child) {
                continue;
            }
            let cores = self.lanes[child].cores.len();
            let begin = grid.riser_at[strip];
            from = from.min(begin - self.metrics.riser_gap / 2.0);
            to = to.max(begin + (cores as f64 - 1.0) * self.metrics.riser_core + self.metrics.riser_gap / 2.0);
        }
        let across = grid.rows[self.placing.strips[strip].row];
        Area { from: [from, across], to: [to, across + self.lanes_height(strip)] }
    }

    pub(super) fn lane_at(&self, grid: &Grid, number: usize, lane: Lane) -> f64 {
        let strip = self.placing.spots[number].1;
        grid.rows[self.placing.strips[strip].row] + self.metrics.box_pad + self.lane_offset(strip, lane)
    }

    /// The cores of a riser in their order along: for each core of its length, its place.
    pub(super) fn riser_cores(&self, grid: &Grid, first: usize) -> Vec<f64> {
        let strip = self.placing.spots[first].1;
        let lanes = &self.lanes[first].cores;
        let mut order: Vec<usize> = (0..lanes.len()).collect();
        order.sort_by(|&one, &other| {
            self.lane_offset(strip, lanes[one]).total_cmp(&self.lane_offset(strip, lanes[other]))
        });
        if self.placing.strips[strip].direction == Direction::Outward {
            order.reverse();
        }
        let mut places = vec![0.0; lanes.len()];
        for (place, &core) in order.iter().enumerate() {
            places[core] = grid.riser_at[strip] + place as f64 * self.metrics.riser_core;
        }
        places
    }

    fn length(&self, grid: &Grid, areas: &[Area], number: usize) -> Option<SceneLength> {
        let (length, far) = self.boxes[number].length?;
        let parent = self.boxes[number].parent?;
        let (column, strip) = self.placing.spots[number];
        let direction = self.placing.strips[strip].direction;
        let is_outward = direction == Direction::Outward;
        let here = if is_outward { areas[number].from[0] } else { areas[number].to[0] };
        let begins = self.placing.begins_strip(number);
        let risers = if begins { self.riser_cores(grid, number) } else { Vec::new() };
        let before = if is_outward { areas[parent].to[0] } else { areas[parent].from[0] };
        let row = self.network.installation().length(length);
        let cores: Vec<SceneCore> = (0..row.cores().len())
            .map(|core| {
                let lane = self.lane_at(grid, number, self.lanes[number].cores[core]);
                let points = match risers.get(core) {
                    Some(&riser) => vec![[riser, areas[parent].to[1]], [riser, lane], [here, lane]],
                    None => vec![[before, lane], [here, lane]],
                };
                let ends = row.cores()[core].ends();
                let is_open = [ends[1 - far].is_none(), ends[far].is_none()];
                let group = group_of_core(self.network, length, core);
                SceneCore { length, core, group, points, is_open }
            })
            .collect();
        let begin = risers.iter().copied().reduce(if is_outward { f64::max } else { f64::min }).unwrap_or(before);
        let lanes = cores.iter().map(|core| core.points[core.points.len() - 1][1]);
        let (first, last) = (lanes.clone().fold(f64::MAX, f64::min), lanes.fold(f64::MIN, f64::max));
        let hangs = self.hangs(number);
        let text = self.length_name(length);
        let size = TextSize::Middle;
        let lead = if is_outward {
            [grid.columns[column].boxes[0] - grid.leads[column][0], grid.columns[column].boxes[0]]
        } else {
            [grid.columns[column].boxes[1], grid.columns[column].boxes[1] + grid.leads[column][1]]
        };
        // Where nothing else of this row is: beside the boxes of a column, or before it.
        let gap = match (hangs, is_outward) {
            (true, _) => lead,
            (false, true) => [grid.columns[column].begin - grid.gaps[column][0], grid.columns[column].begin],
            (false, false) => [grid.columns[column].end, grid.columns[column].end + grid.gaps[column][1]],
        };
        let middle = (gap[0] + gap[1]) / 2.0;
        let label = match (self.is_across(), hangs) {
            (true, true) => {
                let (at, anchor) = if is_outward {
                    (grid.columns[column].boxes[0], Anchor::Start)
                } else {
                    (grid.columns[column].boxes[1], Anchor::End)
                };
                SceneText { at: [at, areas[number].from[1] - 22.0], anchor, size, is_bold: false, text }
            }
            (true, false) => {
                SceneText { at: [middle, first - 17.0], anchor: Anchor::Middle, size, is_bold: false, text }
            }
            (false, _) => {
                SceneText { at: [gap[0] + 5.0, last + 10.0], anchor: Anchor::Start, size, is_bold: false, text }
            }
        };
        let straight = [gap[0].max(begin.min(here)), gap[1].min(begin.max(here))];
        Some(SceneLength { length, cores, straight, names: gap, label })
    }

    pub(super) fn room_name(&self, location: Option<LocationId>) -> String {
        location.map_or_else(String::new, |location| self.network.installation().location(location).name().to_owned())
    }

    fn rooms(&self, grid: &Grid, areas: &[Area]) -> Vec<SceneRoom> {
        let mut rooms = Vec::new();
        for (band, &location) in self.placing.bands.iter().enumerate() {
            let of_band =
                || (0..self.boxes.len()).filter(|&number| self.placing.columns[self.placing.spots[number].0] == band);
            let boxes = Area::around(of_band().map(|number| areas[number]));
            let (Some(boxes), Some(_)) = (boxes, location) else { continue };
            let mut columns = (0..grid.columns.len()).filter(|&column| self.placing.columns[column] == band);
            let first = columns.next().unwrap_or_default();
            let last = columns.next_back().unwrap_or(first);
            let along = [grid.columns[first].begin, grid.columns[last].end];
            let text = self.room_name(location);
            let size = TextSize::Middle;
            let (area, at) = if self.is_across() {
                let top = boxes.from[1] - self.metrics.head - self.metrics.room + 4.0;
                let head = if self.has_second_head(band, &boxes, areas) { 15.0 } else { 0.0 };
                let area = Area { from: [along[0], top - head], to: [along[1], boxes.to[1] + 6.0] };
                (area, [along[0] + 6.0, top - head + 15.0])
            } else {
                let width = size.width(&text) + 12.0;
                let across = self.free_across(grid, [along[0], along[0] + self.metrics.room], width);
                let named =
                    of_band().map(|number| areas[number].to[1] + TextSize::Large.width(&self.box_name(number)) + 12.0);
                let area = Area {
                    from: [along[0], boxes.from[1].min(across) - 4.0],
                    to: [along[1], named.fold(across + width, f64::max)],
                };
                (area, [along[0] + 13.0, across + 4.0])
            };
            rooms.push(SceneRoom { area, name: SceneText { at, anchor: Anchor::Start, size, is_bold: false, text } });
        }
        rooms
    }

    /// Whether something is written in a second line above the first boxes of a location.
    fn has_second_head(&self, band: usize, boxes: &Area, areas: &[Area]) -> bool {
        (0..self.boxes.len()).any(|number| {
            self.placing.columns[self.placing.spots[number].0] == band
                && areas[number].from[1] == boxes.from[1]
                && self.hangs(number)
        })
    }

    /// Where a text of this width has no core beneath it, across, in a part of the drawing along.
    fn free_across(&self, grid: &Grid, along: [f64; 2], width: f64) -> f64 {
        let mut taken: Vec<[f64; 2]> = Vec::new();
        for (number, strip) in self.placing.strips.iter().enumerate() {
            let columns = strip.boxes.iter().map(|&place| grid.columns[self.placing.spots[place].0].boxes);
            let begin = self.boxes[strip.boxes[0]].parent.map(|_| [grid.riser_at[number]; 2]);
            let (from, to) = columns
                .chain(begin)
                .fold((f64::MAX, f64::MIN), |(from, to), [one, other]| (from.min(one), to.max(other)));
            if from < along[1] && along[0] < to {
                let across = grid.rows[strip.row];
                taken.push([across, across + self.lanes_height(number)]);
            }
        }
        taken.sort_by(|one, other| one[0].total_cmp(&other[0]));
        let mut at = self.metrics.margin;
        for [from, to] in taken {
            if at + width <= from {
                break;
            }
            at = at.max(to);
        }
        at
    }

    /// An outline around the boxes of each plate, where no other box lies between them.
    fn plates(&self, areas: &[Area]) -> Vec<Area> {
        let mut of_plate: BTreeMap<PlateId, Vec<usize>> = BTreeMap::new();
        for number in 0..self.boxes.len() {
            if let (End::Point(point), false) = (self.boxes[number].end, self.boxes[number].is_again)
                && let Some(plate) = self.network.installation().point(point).plate()
            {
                of_plate.entry(plate).or_default().push(number);
            }
        }
        let outline = |members: Vec<usize>| {
            let area = Area::around(members.iter().map(|&number| areas[number]))?.grown(5.0);
            let is_clear =
                (0..self.boxes.len()).all(|number| members.contains(&number) || !areas[number].overlaps(&area));
            (members.len() > 1 && is_clear).then_some(area)
        };
        of_plate.into_values().filter_map(outline).collect()
    }
}

/// Codes in two lines.
pub(super) fn two_lines(codes: &[String]) -> [String; 2] {
    let (one, other) = codes.split_at(codes.len().div_ceil(2).max(2).min(codes.len()));
    [one.join(" "), other.join(" ")]
}
