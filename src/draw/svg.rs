//! A drawing as SVG.

use std::io::{Cursor, Write as _};

use quick_xml::Writer;
use quick_xml::events::{BytesEnd, BytesStart, BytesText, Event};

use super::colour::{CoreColour, code_of, colour_of};
use super::lanes::LaneGroup;
use super::layout::two_lines;
use super::metrics::{Orientation, TextSize};
use super::scene::{
    Anchor, Area, BoxKind, BridgeSymbol, Scene, SceneBox, SceneBridge, SceneDevice, ScenePoint, SceneText,
};
use super::shown::{CoreShown, DrawnState};
use crate::model::{BridgeState, Installation};
use crate::reading::DeviceState;
use crate::visible::visible;

/// What a core of no known colour is drawn in.
const UNCOLOURED: CoreColour = CoreColour { colour: "#ffffff", second: None, code: "" };

pub(super) const STYLE: &str = "\
.lw{font-family:system-ui,'DejaVu Sans',sans-serif;fill:#1d2126}\
.lw-paper{fill:#fff}.lw-room{fill:#eef0f2}.lw-plate{fill:none;stroke:#1d2126;stroke-dasharray:2 3}\
.lw-box{fill:#fff;stroke:#9aa1aa}.lw-board{fill:#fff;stroke:#1d2126;stroke-width:1.5}\
.lw-again{fill:#fff;stroke:#1d2126;stroke-dasharray:5 4}\
.lw-line{fill:none;stroke-linejoin:round}.lw-halo{stroke:#fff;stroke-width:9}.lw-case{stroke:#1d2126;stroke-width:6}\
.lw-core{stroke-width:3.6}.lw-case.lw-narrow{stroke-width:3}.lw-core.lw-narrow{stroke-width:1.4}.lw-ink{fill:none;stroke:#1d2126;stroke-width:1.5}\
.lw-dot{fill:#1d2126}.lw-ring{fill:#fff;stroke:#1d2126;stroke-width:1.4}\
.lw-blade{stroke:#1d2126;stroke-width:3.2;stroke-linecap:round}.lw-unread{stroke:#1d2126;stroke-width:2;stroke-dasharray:5 4}\
.lw-symbol{fill:#fff;stroke:#1d2126;stroke-width:1.6}.lw-out{stroke-dasharray:3 2.5}.lw-in{fill:#d9dde2}\
.lw-rung{stroke:#1d2126;stroke-width:1.8;stroke-dasharray:4 3}\
.lw-quiet{fill:#4a515a}.lw-bold{font-weight:600}";

/// A circuit with its drawing.
#[derive(Clone, Debug)]
pub(super) struct DrawnCircuit {
    pub(super) name: String,
    pub(super) scene: Scene,
}

/// The length of a line of the key, with the gap behind it.
const KEY_LINE: f64 = 78.0;

/// What is kept free for the name of a circuit, and for a line of the key.
const HEADING: f64 = 26.0;

/// What lines mean, where tests are shown.
const KEY: [(Option<CoreShown>, &str); 5] = [
    (Some(CoreShown::Tested), "tested"),
    (Some(CoreShown::Missed), "not tested"),
    (Some(CoreShown::OneOf), "perhaps: it depends on how a switch stood"),
    (None, "not this pair, or not to earth"),
    (Some(CoreShown::NotAsked), "no test asked for"),
];

/// The SVG of circuits, one below the other.
pub(super) fn svg_of(
    installation: &Installation,
    circuits: &[DrawnCircuit],
    orientation: Orientation,
    shown: &DrawnState,
) -> String {
    let mut page = SvgPage { writer: Writer::new(Cursor::new(Vec::new())), orientation };
    page.whole(installation, circuits, shown);
    String::from_utf8(page.writer.into_inner().into_inner()).expect("only text was written")
}

struct SvgPage {
    writer: Writer<Cursor<Vec<u8>>>,
    orientation: Orientation,
}

type Attributes<'a> = &'a [(&'a str, &'a str)];

/// A number with at most one decimal.
fn number(value: f64) -> String {
    let value = (value * 10.0).round() / 10.0;
    // No zero has a sign.
    format!("{}", value + 0.0)
}

impl SvgPage {
    fn at(&self, [along, across]: ScenePoint) -> [f64; 2] {
        match self.orientation {
            Orientation::Across => [along, across],
            Orientation::Down => [across, along],
        }
    }

    fn open(&mut self, name: &str, attributes: Attributes<'_>) {
        let start = BytesStart::new(name).with_attributes(attributes.iter().copied());
        self.event(Event::Start(start));
    }

    fn close(&mut self, name: &str) {
        self.event(Event::End(BytesEnd::new(name)));
    }

    fn empty(&mut self, name: &str, attributes: Attributes<'_>) {
        let start = BytesStart::new(name).with_attributes(attributes.iter().copied());
        self.event(Event::Empty(start));
    }

    fn event(&mut self, event: Event<'_>) {
        self.writer.write_event(event).expect("memory takes it");
    }

    fn line_end(&mut self) {
        self.writer.get_mut().write_all(b"\n").expect("memory takes it");
    }

    fn element(&mut self, name: &str, attributes: Attributes<'_>, text: &str) {
        self.open(name, attributes);
        self.event(Event::Text(BytesText::new(&visible(text))));
        self.close(name);
    }

    fn whole(&mut self, installation: &Installation, circuits: &[DrawnCircuit], shown: &DrawnState) {
        let sizes: Vec<[f64; 2]> = circuits.iter().map(|circuit| self.at(circuit.scene.size)).collect();
        let names = circuits.iter().map(|circuit| TextSize::Large.width(&circuit.name) + 24.0);
        let drawn = sizes.iter().map(|size| size[0]).fold(0.0, f64::max);
        let key = self.key_places(drawn);
        let key = if shown.tells_tests() { key.as_slice() } else { &[] };
        let key_width = key.iter().map(|(place, text)| place[0] + KEY_LINE + TextSize::Middle.width(text) + 12.0);
        let width = names.chain(key_width).fold(drawn, f64::max);
        let key_height = key.last().map_or(0.0, |(place, _)| place[1] + HEADING);
        let height = sizes.iter().map(|size| size[1] + HEADING).sum::<f64>() + key_height;
        let [width, height] = [width, height].map(|size| number(size.ceil()));
        let view = format!("0 0 {width} {height}");
        let attributes = [
            ("xmlns", "http://www.w3.org/2000/svg"),
            ("viewBox", &view),
            ("width", &width),
            ("height", &height),
            ("role", "img"),
            ("class", "lw"),
        ];
        self.open("svg", &attributes);
        let title: Vec<&str> = circuits.iter().map(|circuit| circuit.name.as_str()).collect();
        self.element("title", &[], &title.join(", "));
        self.element("style", &[], STYLE);
        self.line_end();
        self.empty("rect", &[("class", "lw-paper"), ("width", &width), ("height", &height)]);
        let mut down = 0.0;
        for (circuit, size) in circuits.iter().zip(&sizes) {
            self.at_page("lw-bold", [12.0, down + 19.0], TextSize::Large, &circuit.name);
            self.open("g", &[("transform", &format!("translate(0 {})", number(down + HEADING)))]);
            self.line_end();
            self.circuit(installation, &circuit.scene, shown);
            self.close("g");
            self.line_end();
            down += size[1] + HEADING;
        }
        for (([x, y], text), (state, _)) in key.iter().zip(KEY) {
            let y = down + y + 10.0;
            let line = [[*x, y], [x + KEY_LINE - 8.0, y]].map(|[x, y]| self.at([x, y]));
            match state {
                Some(state) => self.core(&line, [false, false], CoreColour { colour: "#1d2126", ..UNCOLOURED }, state),
                None => self.rung(line[0], line[1], false),
            }
            self.at_page("", [x + KEY_LINE, y + 4.5], TextSize::Middle, text);
        }
        self.close("svg");
        self.line_end();
    }

    /// Where the lines of the key stand: beside one another as far as there is room.
    fn key_places(&self, room: f64) -> Vec<([f64; 2], &'static str)> {
        let mut next = [12.0, 0.0];
        let place = |(_, text): (Option<CoreShown>, &'static str)| {
            let width = KEY_LINE + TextSize::Middle.width(text) + 24.0;
            if next[0] > 12.0 && next[0] + width > room {
                next = [12.0, next[1] + 22.0];
            }
            let here = next;
            next[0] += width;
            (here, text)
        };
        KEY.into_iter().map(place).collect()
    }

    /// Writes a text at a place of the page.
    fn at_page(&mut self, class: &str, place: [f64; 2], size: TextSize, text: &str) {
        let [x, y] = place.map(number);
        let size = number(size.pixels());
        self.element("text", &[("class", class), ("x", &x), ("y", &y), ("font-size", &size)], text);
    }

    fn circuit(&mut self, installation: &Installation, scene: &Scene, shown: &DrawnState) {
        for room in &scene.rooms {
            self.rectangle("lw-room", room.area, "6");
        }
        for &plate in &scene.plates {
            self.rectangle("lw-plate", plate, "6");
        }
        for drawn in &scene.boxes {
            let class = match drawn.kind {
                BoxKind::Board => "lw-board",
                BoxKind::Point => "lw-box",
                BoxKind::Again => "lw-again",
            };
            self.rectangle(class, drawn.area, "3");
        }
        self.line_end();
        for group in [LaneGroup::Earth, LaneGroup::Neutral, LaneGroup::Line] {
            for core in scene.lengths.iter().flat_map(|length| &length.cores).filter(|core| core.group == group) {
                let name = installation.length(core.length).cores()[core.core].name();
                let colour = colour_of(name).unwrap_or(UNCOLOURED);
                self.core(&core.points, core.is_open, colour, shown.core(core.length, core.core));
            }
        }
        for drawn in &scene.boxes {
            self.inside(drawn, shown);
        }
        self.line_end();
        for room in &scene.rooms {
            self.text("lw-quiet", &room.name);
        }
        for length in &scene.lengths {
            self.text("lw-quiet", &length.label);
            let mut untested: Vec<String> = Vec::new();
            for core in &length.cores {
                let name = installation.length(core.length).cores()[core.core].name();
                let state = shown.core(core.length, core.core);
                if self.orientation == Orientation::Across {
                    let last = core.points[core.points.len() - 1];
                    let at = [(length.names[0] + length.names[1]) / 2.0, last[1] - 6.0];
                    let mark = if state == CoreShown::OneOf { format!("{name}?") } else { name.to_owned() };
                    self.text(
                        "",
                        &SceneText { at, anchor: Anchor::Middle, size: TextSize::Small, is_bold: false, text: mark },
                    );
                } else if matches!(state, CoreShown::Missed | CoreShown::OneOf) {
                    let query = if state == CoreShown::OneOf { "?" } else { "" };
                    untested.push(format!("{}{query}", code_of(name)));
                }
            }
            for (line, text) in two_lines(&untested).into_iter().enumerate().filter(|(_, text)| !text.is_empty()) {
                let at = [length.label.at[0] + 13.0 + 12.0 * line as f64, length.label.at[1]];
                self.text("", &SceneText { at, anchor: Anchor::Start, size: TextSize::Small, is_bold: true, text });
            }
            let across = |core: usize| length.cores[core].points[length.cores[core].points.len() - 1][1];
            let last = (0..length.cores.len()).map(across).fold(f64::MIN, f64::max);
            for (place, rung) in shown.rungs(length.length).iter().enumerate() {
                let share = (0.86 - 0.12 * place as f64).max(0.1);
                let along = length.straight[0] + (length.straight[1] - length.straight[0]) * share;
                let to = rung.other.map_or(last + 10.0, across);
                self.rung([along, across(rung.core)], [along, to], rung.other.is_none());
            }
        }
        for drawn in &scene.boxes {
            self.text("", &drawn.label);
            drawn.names.iter().for_each(|name| self.text("lw-quiet", name));
        }
    }

    fn rectangle(&mut self, class: &str, area: Area, radius: &str) {
        let [x, y] = self.at(area.from);
        let [right, bottom] = self.at(area.to);
        let [width, height] = [right - x, bottom - y].map(number);
        let [x, y] = [x, y].map(number);
        self.empty(
            "rect",
            &[("class", class), ("x", &x), ("y", &y), ("width", &width), ("height", &height), ("rx", radius)],
        );
    }

    fn circle(&mut self, class: &str, at: ScenePoint, radius: f64) {
        let [x, y] = self.at(at).map(number);
        self.empty("circle", &[("class", class), ("cx", &x), ("cy", &y), ("r", &number(radius))]);
    }

    fn segment(&mut self, class: &str, from: ScenePoint, to: ScenePoint) {
        let [x1, y1] = self.at(from).map(number);
        let [x2, y2] = self.at(to).map(number);
        self.empty("line", &[("class", class), ("x1", &x1), ("y1", &y1), ("x2", &x2), ("y2", &y2)]);
    }

    fn path(&mut self, class: &str, points: &[ScenePoint], more: Attributes<'_>) {
        let places: Vec<String> = points.iter().map(|&point| self.at(point).map(number).join(",")).collect();
        let places = places.join(" ");
        let attributes: Vec<(&str, &str)> =
            [("class", class), ("points", &places)].into_iter().chain(more.iter().copied()).collect();
        self.empty("polyline", &attributes);
    }

    fn text(&mut self, class: &str, text: &SceneText) {
        let [x, y] = self.at(text.at);
        // Along a drawing that runs down a text is beside its place, in the middle of its height.
        let y = if self.orientation == Orientation::Down { y + text.size.pixels() * 0.35 } else { y };
        let [x, y] = [x, y].map(number);
        let size = number(text.size.pixels());
        let anchor = match text.anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        let class = match (text.is_bold, class) {
            (false, class) => class.to_owned(),
            (true, "") => "lw-bold".to_owned(),
            (true, class) => format!("lw-bold {class}"),
        };
        let mut attributes = vec![("x", x.as_str()), ("y", &y), ("font-size", &size), ("text-anchor", anchor)];
        if !class.is_empty() {
            attributes.push(("class", &class));
        }
        self.element("text", &attributes, &text.text);
    }

    /// A pair that is not tested, of two cores or of one and earth.
    fn rung(&mut self, from: ScenePoint, to: ScenePoint, is_to_earth: bool) {
        self.segment("lw-rung", from, to);
        self.circle("lw-ring", from, 3.6);
        if is_to_earth {
            for (half, further) in [(7.0, 0.0), (4.5, 2.5), (2.0, 5.0)] {
                self.segment("lw-ink", [to[0] - half, to[1] + further], [to[0] + half, to[1] + further]);
            }
        } else {
            self.circle("lw-ring", to, 3.6);
        }
    }

    fn core(&mut self, points: &[ScenePoint], is_open: [bool; 2], colour: CoreColour, shown: CoreShown) {
        let mut points = points.to_vec();
        let mut rings = Vec::new();
        // What is connected to nothing stops before the box, with a ring.
        let last = points.len() - 1;
        for (place, next, is_open) in [(0, 1, is_open[0]), (last, last - 1, is_open[1])] {
            if is_open {
                let [from, to] = [points[place], points[next]];
                let far = (to[0] - from[0]).abs() + (to[1] - from[1]).abs();
                let share = (9.0 / far.max(1.0)).min(0.4);
                points[place] = [0, 1].map(|axis| from[axis] + (to[axis] - from[axis]) * share);
                rings.push(points[place]);
            }
        }
        let length: f64 =
            points.windows(2).map(|pair| (pair[1][0] - pair[0][0]).abs() + (pair[1][1] - pair[0][1]).abs()).sum();
        let dashes = dashes(shown, length);
        self.path("lw-line lw-halo", &points, &[]);
        let dash: Vec<(&str, &str)> = dashes
            .iter()
            .flat_map(|(dash, offset)| [("stroke-dasharray", dash.as_str()), ("stroke-dashoffset", offset.as_str())])
            .collect();
        let narrow = if shown == CoreShown::NotAsked { " lw-narrow" } else { "" };
        self.path(&format!("lw-line lw-case{narrow}"), &points, &dash);
        let mut colours = vec![("stroke", colour.colour)];
        colours.extend(&dash);
        self.path(&format!("lw-line lw-core{narrow}"), &points, &colours);
        if let Some(second) = colour.second {
            let (dash, offset) = second_dashes(shown, length);
            self.path(
                "lw-line lw-core",
                &points,
                &[("stroke", second), ("stroke-dasharray", &dash), ("stroke-dashoffset", &offset)],
            );
        }
        rings.into_iter().for_each(|ring| self.circle("lw-ring", ring, 3.4));
    }

    fn inside(&mut self, drawn: &SceneBox, shown: &DrawnState) {
        for ink in &drawn.ink {
            self.path("lw-ink", ink, &[]);
        }
        for &dot in &drawn.dots {
            self.circle("lw-dot", dot, 2.4);
        }
        for &contact in &drawn.way_contacts {
            let pole = [contact[0] - 26.0, contact[1]];
            self.blade(pole, contact, true);
            self.segment("lw-ink", [pole[0] - 12.0, pole[1]], pole);
            self.circle("lw-ring", contact, 3.2);
            self.circle("lw-dot", pole, 2.4);
        }
        if let Some(device) = &drawn.device {
            self.device(device, shown.device(device.point));
        }
        for bridge in &drawn.bridges {
            self.bridge(bridge, shown.bridge(bridge.point));
        }
    }

    /// A contact from a pole; open, it stands away from what it would close to.
    fn blade(&mut self, pole: ScenePoint, to: ScenePoint, is_open: bool) {
        if !is_open {
            self.segment("lw-blade", pole, to);
            return;
        }
        let (along, across) = (to[0] - pole[0], to[1] - pole[1]);
        let length = (along * along + across * across).sqrt();
        let angle = across.atan2(along) - 0.5 * if along < 0.0 { -1.0 } else { 1.0 };
        let tip = [pole[0] + 0.85 * length * angle.cos(), pole[1] + 0.85 * length * angle.sin()];
        self.segment("lw-blade", pole, tip);
    }

    fn device(&mut self, device: &SceneDevice, stands: Option<DeviceState>) {
        match stands {
            Some(DeviceState::At(position)) => {
                let joined = &device.positions[usize::from(position)];
                for [one, other] in joined {
                    self.blade(*one, *other, false);
                }
                // What another position would join stands open.
                let is_joined = |spot: &ScenePoint| joined.iter().flatten().any(|other| other == spot);
                let mut drawn: Vec<ScenePoint> = Vec::new();
                for [one, other] in device.positions.iter().flatten() {
                    if !is_joined(one) && !is_joined(other) && !drawn.contains(one) {
                        self.blade(*one, *other, true);
                        drawn.push(*one);
                    }
                }
            }
            Some(DeviceState::Unknown(_)) => {
                for [one, other] in device.positions.iter().flatten() {
                    self.segment("lw-unread", *one, *other);
                }
            }
            None => {}
        }
        for &terminal in &device.terminals {
            self.circle("lw-ring", terminal, 3.2);
        }
        if matches!(stands, Some(DeviceState::Unknown(_))) {
            self.circle("lw-paper", device.query, 8.5);
            let at = match self.orientation {
                Orientation::Across => [device.query[0], device.query[1] + 5.0],
                Orientation::Down => device.query,
            };
            let text =
                SceneText { at, anchor: Anchor::Middle, size: TextSize::Middle, is_bold: true, text: "?".to_owned() };
            self.text("", &text);
        }
    }

    fn bridge(&mut self, bridge: &SceneBridge, state: Option<BridgeState>) {
        let [one, other] = bridge.ends;
        let middle = bridge.symbol_at;
        let is_across = (other[1] - one[1]).abs() > (other[0] - one[0]).abs();
        match state {
            Some(BridgeState::Linked) if bridge.passes => return self.segment("lw-blade", one, other),
            Some(BridgeState::Fitted) => self.segment("lw-ink", one, other),
            _ => {}
        }
        let class = if state == Some(BridgeState::Fitted) { "lw-symbol lw-in" } else { "lw-symbol lw-out" };
        let is_fitted = state == Some(BridgeState::Fitted);
        match bridge.symbol {
            BridgeSymbol::Lamp => {
                self.circle(if is_fitted { class } else { "lw-symbol" }, middle, 8.0);
                if is_fitted {
                    let arm = 8.0 * std::f64::consts::FRAC_1_SQRT_2;
                    self.segment("lw-ink", [middle[0] - arm, middle[1] - arm], [middle[0] + arm, middle[1] + arm]);
                    self.segment("lw-ink", [middle[0] - arm, middle[1] + arm], [middle[0] + arm, middle[1] - arm]);
                }
            }
            symbol => {
                let [half_long, half_wide] = match symbol {
                    BridgeSymbol::Electronics => [8.0, 8.0],
                    _ => [9.0, 4.5],
                };
                let half = if is_across { [half_wide, half_long] } else { [half_long, half_wide] };
                let area = Area {
                    from: [middle[0] - half[0], middle[1] - half[1]],
                    to: [middle[0] + half[0], middle[1] + half[1]],
                };
                self.rectangle(class, area, "0");
                if symbol != BridgeSymbol::Load {
                    self.segment("lw-ink", [area.from[0], area.to[1]], [area.to[0], area.from[1]]);
                }
            }
        }
    }
}

/// The dashes of a core of this length, and where they begin.
fn dashes(shown: CoreShown, length: f64) -> Option<(String, String)> {
    let fitted = |pattern: &[f64]| {
        let period: f64 = pattern.iter().sum();
        let count = (length / period).round().max(1.0);
        let stretch = length / (count * period);
        let dash: Vec<String> = pattern.iter().map(|part| number(part * stretch)).collect();
        // Half of the last gap stands at either end.
        (dash.join(" "), number(-pattern[pattern.len() - 1] * stretch / 2.0))
    };
    match shown {
        CoreShown::Tested | CoreShown::NotAsked => None,
        CoreShown::Missed => Some(fitted(&[15.0, 9.0])),
        CoreShown::OneOf => Some(fitted(&[14.0, 5.0, 4.0, 5.0])),
    }
}

/// The dashes of a two-coloured core's second colour.
fn second_dashes(shown: CoreShown, length: f64) -> (String, String) {
    match shown {
        CoreShown::Missed => {
            let count = (length / 24.0).round().max(1.0);
            let period = length / count;
            let gap = period * 9.0 / 24.0;
            let part = (period - gap) / 2.0;
            (format!("{} {}", number(part), number(period - part)), number(-gap / 2.0 - part / 2.0))
        }
        CoreShown::OneOf => {
            let count = (length / 28.0).round().max(1.0);
            let period = length / count;
            (format!("{} {}", number(period / 4.0), number(period * 0.75)), number(-period * 0.2))
        }
        _ => ("5 5".to_owned(), "0".to_owned()),
    }
}
