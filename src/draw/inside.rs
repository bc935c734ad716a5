//! What is inside a box: copper from its edges to its terminals, contacts, and what lies between terminals.
//!
//! Each terminal has a lane, on which its copper runs; what changes lane does so near the edge. So copper crosses other
//! copper at right angles only, and where it is joined there is a dot.

use super::grid::Grid;
use super::lanes::{BoxLanes, BoxPart, DrawnTerminal, LaneGroup};
use super::layout::Layout;
use super::metrics::TextSize;
use super::place::Direction;
use super::scene::{Anchor, Area, BoxKind, BridgeSymbol, SceneBox, SceneBridge, SceneDevice, ScenePoint, SceneText};
use crate::model::{Conducts, End, Kind, KindBridge, LengthId, Point, PointId, TerminalRef, Variant};

/// What a box needs room for.
#[derive(Default)]
pub(super) struct Inside {
    pub(super) has_contacts: bool,
    /// From the box's edge to its contacts, or to what stands before them: what is written there needs room.
    pub(super) edge: f64,
    /// What is written in the middle.
    pub(super) middle: f64,
    /// Bridges before the contacts, in the middle where there are none, and behind them.
    pub(super) bridges: [usize; 3],
}

/// In which part of its box a bridge is, and whether its ends are on one lane; none where an end is not drawn.
fn part_of_bridge(lanes: &BoxLanes, [one, other]: [TerminalRef; 2]) -> Option<(BoxPart, bool)> {
    let (one, other) = (lanes.terminal(one)?, lanes.terminal(other)?);
    let part = match [one.part, other.part] {
        parts if parts.contains(&BoxPart::Near) => BoxPart::Near,
        parts if parts.contains(&BoxPart::Far) => BoxPart::Far,
        // Contacts have the middle.
        _ if lanes.has_contacts() => BoxPart::Near,
        _ => BoxPart::Middle,
    };
    Some((part, one.lane == other.lane))
}

/// The bridges of a point, with the terminals that each is between.
fn bridges_of(kind: &Kind, point: PointId) -> impl Iterator<Item = (&KindBridge, [TerminalRef; 2])> {
    kind.bridges
        .iter()
        .map(move |bridge| (bridge, bridge.between.map(|terminal| TerminalRef::Point { point, terminal })))
}

fn symbol_of(kind: &Kind, bridge: &KindBridge) -> BridgeSymbol {
    match kind.variant() {
        Variant::Lamp(_) => BridgeSymbol::Lamp,
        _ if kind.is_coil_operated() => BridgeSymbol::Coil,
        _ if bridge.conducts == Conducts::Sure => BridgeSymbol::Load,
        _ => BridgeSymbol::Electronics,
    }
}

impl Layout<'_> {
    /// The point that a box is, with its kind; none where it is a board, or drawn elsewhere too.
    fn point_at(&self, number: usize) -> Option<(PointId, &Point, &Kind)> {
        let End::Point(point) = self.boxes[number].end else { return None };
        let installation = self.network.installation();
        let row = installation.point(point);
        (!self.boxes[number].is_again).then(|| (point, row, installation.kind(row.kind())))
    }

    /// Whether a box is the way that feeds what is drawn.
    fn is_way(&self, number: usize) -> bool {
        matches!(self.boxes[number].end, End::Way(_)) && !self.boxes[number].is_again
    }

    pub(super) fn inside(&self, number: usize) -> Inside {
        let lanes = &self.lanes[number];
        let mut inside = Inside {
            has_contacts: self.is_way(number) || lanes.has_contacts(),
            edge: self.metrics.edge,
            ..Inside::default()
        };
        for drawn in &lanes.terminals {
            let Some(name) = self.terminal_label(drawn) else { continue };
            let width = TextSize::Least.width(&name);
            match drawn.part {
                BoxPart::Middle => inside.middle = inside.middle.max(width),
                // Beside the name copper changes lane.
                _ => inside.edge = inside.edge.max(width + 20.0),
            }
        }
        let Some((point, _, kind)) = self.point_at(number) else { return inside };
        for (_, ends) in bridges_of(kind, point) {
            match part_of_bridge(lanes, ends) {
                Some((part, false)) => inside.bridges[part as usize] += 1,
                Some((_, true)) => inside.has_contacts = true,
                None => {}
            }
        }
        inside
    }

    pub(super) fn scene_box(&self, grid: &Grid, area: Area, number: usize) -> SceneBox {
        let [from, to] = self.along(grid, number);
        let (at, anchor) = match self.is_across() {
            true => ([from, area.from[1] - 6.0], Anchor::Start),
            false => ([(from + to) / 2.0, area.to[1] + 7.0], Anchor::Start),
        };
        let label = SceneText { at, anchor, size: TextSize::Large, is_bold: true, text: self.box_name(number) };
        let kind = match self.boxes[number].end {
            _ if self.boxes[number].is_again => BoxKind::Again,
            End::Point(_) => BoxKind::Point,
            _ => BoxKind::Board,
        };
        let drawn = SceneBox {
            kind,
            area,
            label,
            ink: Vec::new(),
            dots: Vec::new(),
            names: Vec::new(),
            device: None,
            bridges: Vec::new(),
            way_contacts: Vec::new(),
        };
        let strip = self.placing.strip_of(number);
        let mut contents = Contents {
            layout: self,
            grid,
            number,
            inside: self.inside(number),
            is_outward: strip.direction == Direction::Outward,
            along: [from, to],
            reach: vec![[f64::MAX, f64::MIN]; self.lanes[number].terminals.len()],
            drawn,
        };
        contents.cores();
        contents.bridges();
        contents.links();
        contents.terminals();
        contents.contacts();
        contents.drawn
    }

    /// The name to write at a terminal: none where its lane says it.
    fn terminal_label(&self, drawn: &DrawnTerminal) -> Option<String> {
        let TerminalRef::Point { point, terminal } = drawn.terminal else { return None };
        let name = self.network.installation().point_terminal_name(point, terminal);
        let is_said = drawn.part == BoxPart::Middle && matches!(name, "L" | "N" | "E");
        (self.is_across() && !is_said).then(|| name.to_owned())
    }
}

/// A box that is being filled.
struct Contents<'l, 'n> {
    layout: &'l Layout<'n>,
    grid: &'l Grid,
    number: usize,
    inside: Inside,
    is_outward: bool,
    /// Where the box is, without what it is widened by for risers.
    along: [f64; 2],
    /// For each terminal, how far its copper reaches along.
    reach: Vec<[f64; 2]>,
    drawn: SceneBox,
}

impl Contents<'_, '_> {
    fn lanes(&self) -> &BoxLanes {
        &self.layout.lanes[self.number]
    }

    /// A place along, by how far it is from the box's edge towards the supply.
    fn along(&self, from_edge: f64) -> f64 {
        if self.is_outward { self.along[0] + from_edge } else { self.along[1] - from_edge }
    }

    fn length(&self) -> f64 {
        self.along[1] - self.along[0]
    }

    fn far_contact(&self) -> f64 {
        let metrics = &self.layout.metrics;
        self.length() - self.inside.edge - self.inside.bridges[2] as f64 * metrics.bridge
    }

    fn spot_of(&self, drawn: &DrawnTerminal) -> ScenePoint {
        let metrics = &self.layout.metrics;
        let from_edge = match drawn.part {
            BoxPart::Near => self.inside.edge + self.inside.bridges[0] as f64 * metrics.bridge,
            BoxPart::Middle => self.length() / 2.0,
            BoxPart::Far => self.far_contact(),
        };
        [self.along(from_edge), self.layout.lane_at(self.grid, self.number, drawn.lane)]
    }

    /// A terminal's number among those drawn, and where it is.
    fn find(&self, terminal: TerminalRef) -> Option<(usize, ScenePoint)> {
        let place = self.lanes().terminals.iter().position(|drawn| drawn.terminal == terminal)?;
        Some((place, self.spot_of(&self.lanes().terminals[place])))
    }

    /// Lets a terminal's copper reach a place along.
    fn reach(&mut self, place: usize, at: f64) {
        let [from, to] = &mut self.reach[place];
        (*from, *to) = (from.min(at), to.max(at));
    }

    /// Copper from the edges of the box to the lanes of terminals.
    fn cores(&mut self) {
        let layout = self.layout;
        let row = &layout.boxes[self.number];
        let installation = layout.network.installation();
        let next = row.children.iter().copied().find(|&child| !layout.placing.begins_strip(child));
        let area = self.drawn.area;
        let [near, far] = if self.is_outward { [area.from[0], area.to[0]] } else { [area.to[0], area.from[0]] };
        let inward = if self.is_outward { 1.0 } else { -1.0 };
        let arriving = row.length.map(|(length, end)| (self.number, length, end, near, inward));
        let leaving = next.and_then(|child| {
            let (length, end) = layout.boxes[child].length?;
            Some((child, length, 1 - end, far, -inward))
        });
        let mut jogs = 0;
        for (owner, length, end, edge, inward) in arriving.into_iter().chain(leaving) {
            for (core, lane) in installation.length(length).cores().iter().zip(&layout.lanes[owner].cores) {
                let Some((place, [_, across])) = core.ends()[end].and_then(|terminal| self.find(terminal)) else {
                    continue;
                };
                let lane = layout.lane_at(self.grid, owner, *lane);
                let mut begin = edge;
                if (lane - across).abs() > 0.1 {
                    begin = edge + inward * (6.0 + 5.0 * f64::from(jogs));
                    jogs += 1;
                    self.drawn.ink.push(vec![[edge, lane], [begin, lane], [begin, across]]);
                }
                self.drawn.dots.push([edge, lane]);
                self.reach(place, begin);
            }
        }
        // Cores of risers leave through the edge of the box that is furthest across.
        for &child in row.children.iter().filter(|&&child| layout.placing.begins_strip(child)) {
            let Some((length, end)) = layout.boxes[child].length else { continue };
            let risers = layout.riser_cores(self.grid, child);
            self.riser(length, 1 - end, &risers);
        }
    }

    fn riser(&mut self, length: LengthId, end: usize, risers: &[f64]) {
        let cores = self.layout.network.installation().length(length).cores();
        let edge = self.drawn.area.to[1];
        for (core, &riser) in cores.iter().zip(risers) {
            let Some((place, [_, across])) = core.ends()[end].and_then(|terminal| self.find(terminal)) else {
                continue;
            };
            self.drawn.ink.push(vec![[riser, across], [riser, edge]]);
            self.drawn.dots.extend([[riser, across], [riser, edge]]);
            self.reach(place, riser);
        }
    }

    /// Bridges, each at a place of its own along.
    fn bridges(&mut self) {
        let layout = self.layout;
        let Some((point, _, kind)) = layout.point_at(self.number) else { return };
        let metrics = &layout.metrics;
        let mut taken = [0.0f64; 3];
        for (bridge, ends) in bridges_of(kind, point) {
            let Some((part, is_inline)) = part_of_bridge(self.lanes(), ends) else { continue };
            let [Some((one, from)), Some((other, to))] = ends.map(|end| self.find(end)) else { continue };
            let mut spots = [from, to];
            if !is_inline {
                let place = taken[part as usize] + 0.5;
                taken[part as usize] += 1.0;
                let count = self.inside.bridges[part as usize] as f64;
                let at = self.along(match part {
                    BoxPart::Near => self.inside.edge - 16.0 + place * metrics.bridge,
                    BoxPart::Middle => self.length() / 2.0 + (place - count / 2.0) * metrics.bridge,
                    BoxPart::Far => self.far_contact() + place * metrics.bridge,
                });
                spots = [[at, from[1]], [at, to[1]]];
                self.reach(one, at);
                self.reach(other, at);
                self.drawn.dots.extend(spots);
            }
            let symbol_at = self.symbol_place(spots);
            let symbol = symbol_of(kind, bridge);
            self.drawn.bridges.push(SceneBridge { point, symbol, ends: spots, symbol_at, passes: bridge.passes });
        }
    }

    /// Where between the ends of a bridge its symbol lies on no other terminal's lane.
    fn symbol_place(&self, [one, other]: [ScenePoint; 2]) -> ScenePoint {
        let [from, to] = [one[1].min(other[1]), one[1].max(other[1])];
        let lanes = self.lanes().terminals.iter().map(|drawn| self.spot_of(drawn)[1]);
        let mut between: Vec<f64> = lanes.filter(|lane| (from..=to).contains(lane)).collect();
        between.sort_by(f64::total_cmp);
        let free = between.windows(2).map(|pair| [pair[0], pair[1]]);
        let widest = free.reduce(|best, free| if free[1] - free[0] > best[1] - best[0] + 0.1 { free } else { best });
        let [from, to] = widest.unwrap_or([from, to]);
        [(one[0] + other[0]) / 2.0, (from + to) / 2.0]
    }

    /// Links for good.
    fn links(&mut self) {
        let Some((point, row, _)) = self.layout.point_at(self.number) else { return };
        let at = self.along(8.0);
        for pair in row.links.iter().flat_map(|link| link.windows(2)) {
            let ends = [pair[0], pair[1]].map(|terminal| self.find(TerminalRef::Point { point, terminal }));
            let [Some((one, from)), Some((other, to))] = ends else { continue };
            let spots = [[at, from[1]], [at, to[1]]];
            self.reach(one, at);
            self.reach(other, at);
            self.drawn.ink.push(spots.to_vec());
            self.drawn.dots.extend(spots);
        }
    }

    /// The copper of each terminal, on its lane, and its name.
    fn terminals(&mut self) {
        for place in 0..self.lanes().terminals.len() {
            let drawn = self.lanes().terminals[place];
            let [at, across] = self.spot_of(&drawn);
            let [mut from, mut to] = self.reach[place];
            // What comes from one place only ends at its terminal, and so does what has a contact.
            if drawn.part != BoxPart::Middle || to - from < 0.1 {
                (from, to) = (from.min(at), to.max(at));
                if drawn.part == BoxPart::Middle {
                    self.drawn.dots.push([at, across]);
                }
            }
            if to - from > 0.1 {
                self.drawn.ink.push(vec![[from, across], [to, across]]);
            }
            if let Some(text) = self.layout.terminal_label(&drawn) {
                let (at, anchor) = match (drawn.part, self.is_outward) {
                    (BoxPart::Middle, _) => (at, Anchor::Middle),
                    (BoxPart::Near, true) | (BoxPart::Far, false) => (at - 4.0, Anchor::End),
                    _ => (at + 4.0, Anchor::Start),
                };
                let at = [at, across - 6.0];
                self.drawn.names.push(SceneText { at, anchor, size: TextSize::Least, is_bold: false, text });
            }
        }
    }

    /// Where it is said that nobody knows how contacts stand: in their middle, or as near as no terminal's name is.
    fn query_place(&self, contacts: &[ScenePoint]) -> ScenePoint {
        let middle = |axis: usize| contacts.iter().map(|spot| spot[axis]).sum::<f64>() / contacts.len() as f64;
        let [along, wanted] = [middle(0), middle(1)];
        let names = || {
            let between = self.lanes().terminals.iter().filter(|drawn| drawn.part == BoxPart::Middle);
            between
                .filter(|drawn| self.layout.terminal_label(drawn).is_some())
                .map(|drawn| self.spot_of(drawn)[1] - 9.0)
        };
        let places = [wanted].into_iter().chain(contacts.iter().map(|spot| spot[1]));
        let mut free = places.filter(|place| names().all(|name| (name - place).abs() > 12.0));
        [along, free.next().unwrap_or(wanted)]
    }

    /// The contacts of a switch, or of the way.
    fn contacts(&mut self) {
        let layout = self.layout;
        if layout.is_way(self.number) {
            let far = self.along(self.far_contact());
            for drawn in &layout.lanes[self.number].terminals {
                match drawn.lane.0 {
                    LaneGroup::Line => self.drawn.way_contacts.push([far, self.spot_of(drawn)[1]]),
                    _ => self.drawn.dots.push(self.spot_of(drawn)),
                }
            }
        }
        let Some((point, _, kind)) = layout.point_at(self.number) else { return };
        let spot = |terminal: u16| Some(self.find(TerminalRef::Point { point, terminal })?.1);
        let joined = |join: &Vec<u16>| -> Vec<[ScenePoint; 2]> {
            let pairs = join[1..].iter().map(|&other| [join[0], other]);
            pairs.filter_map(|[one, other]| Some([spot(one)?, spot(other)?])).collect()
        };
        let positions: Vec<Vec<[ScenePoint; 2]>> =
            kind.positions.iter().map(|position| position.joins.iter().flat_map(joined).collect()).collect();
        let mut terminals: Vec<ScenePoint> = Vec::new();
        for spot in positions.iter().flatten().flatten() {
            if !terminals.contains(spot) {
                terminals.push(*spot);
            }
        }
        if terminals.is_empty() {
            return;
        }
        let query = self.query_place(&terminals);
        self.drawn.device = Some(SceneDevice { point, positions, terminals, query });
    }
}
