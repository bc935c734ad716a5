//! Drawings: what is in them, read back from the SVG, and that nothing in them lies on anything else.
//!
//! The SVG is read by quick-xml as any program would, and its lines, boxes and texts are held against one another here,
//! without the layout that made them.

use std::collections::BTreeMap;

use lengthwise::draw::{Drawing, DrawnState, Orientation};
use lengthwise::{Input, Need, Network, TestSet, read_installation, read_test_set};
use proptest::prelude::*;
use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};

use crate::engine;
use crate::small;
use crate::strategy::{cases, large_cases, times};

const BOTH: [Orientation; 2] = [Orientation::Across, Orientation::Down];

type Place = [f64; 2];

#[derive(Clone, Copy, Debug)]
struct Frame {
    from: Place,
    to: Place,
}

impl Frame {
    /// Whether two frames have more than a touch in common.
    fn overlaps(&self, other: &Frame) -> bool {
        (0..2).all(|axis| self.from[axis] + 0.2 < other.to[axis] && other.from[axis] + 0.2 < self.to[axis])
    }

    fn of_line(line: &[Place; 2], half_width: f64) -> Frame {
        let [one, other] = line;
        // A line has its width to the sides, not beyond its ends.
        let grow = |axis: usize| if one[axis] == other[axis] { half_width } else { 0.0 };
        Frame {
            from: [0, 1].map(|axis| one[axis].min(other[axis]) - grow(axis)),
            to: [0, 1].map(|axis| one[axis].max(other[axis]) + grow(axis)),
        }
    }
}

/// What one circuit's drawing holds.
#[derive(Debug, Default)]
struct Read {
    rooms: Vec<Frame>,
    boxes: Vec<Frame>,
    /// Of each core its corners.
    cores: Vec<Vec<Place>>,
    texts: Vec<(String, Frame)>,
}

fn attributes(start: &BytesStart<'_>) -> BTreeMap<String, String> {
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).expect("it is UTF-8");
    start
        .attributes()
        .map(|attribute| attribute.expect("it is an attribute"))
        .map(|attribute| (text(attribute.key.as_ref()), attribute.unescape_value().expect("it is text").into_owned()))
        .collect()
}

/// Reads the circuits of an SVG; panics where it is no XML.
fn read(svg: &str) -> Vec<Read> {
    let mut reader = Reader::from_str(svg);
    let mut circuits = Vec::new();
    let mut is_in_circuit = false;
    loop {
        let event = reader.read_event().expect("it is XML");
        let circuit: Option<&mut Read> = circuits.last_mut().filter(|_| is_in_circuit);
        match event {
            Event::Eof => return circuits,
            Event::Start(start) if start.name().as_ref() == b"g" => {
                is_in_circuit = true;
                circuits.push(Read::default());
            }
            Event::End(end) if end.name().as_ref() == b"g" => is_in_circuit = false,
            Event::Start(start) if start.name().as_ref() == b"text" => {
                let text = reader.read_text(start.name()).expect("it is XML");
                let text = quick_xml::escape::unescape(&text).expect("it is escaped").into_owned();
                assert!(!text.chars().any(char::is_control), "{text:?} has a control character");
                if let Some(circuit) = circuit {
                    let frame = frame_of_text(&attributes(&start), &text);
                    circuit.texts.push((text, frame));
                }
            }
            Event::Empty(element) => {
                let row = attributes(&element);
                let number = |key: &str| row[key].parse::<f64>().expect("it is a number");
                let class = row.get("class").map(String::as_str).unwrap_or_default();
                let Some(circuit) = circuit else { continue };
                if element.name().as_ref() == b"rect" && matches!(class, "lw-room" | "lw-box" | "lw-board" | "lw-again")
                {
                    let from = [number("x"), number("y")];
                    let frame = Frame { from, to: [from[0] + number("width"), from[1] + number("height")] };
                    if class == "lw-room" { circuit.rooms.push(frame) } else { circuit.boxes.push(frame) }
                }
                if class.starts_with("lw-line lw-case") {
                    let place = |pair: &str| {
                        let (x, y) = pair.split_once(',').expect("two numbers");
                        [x, y].map(|number| number.parse().expect("it is a number"))
                    };
                    circuit.cores.push(row["points"].split(' ').map(place).collect());
                }
            }
            _ => {}
        }
    }
}

/// Where a text is, with letters of 0.6 of its size (0.7 where it is bold): about what sans-serif letters take on
/// average, DejaVu Sans included.
fn frame_of_text(at: &BTreeMap<String, String>, text: &str) -> Frame {
    let number = |key: &str| at[key].parse::<f64>().expect("it is a number");
    let size = number("font-size");
    let is_bold = at.get("class").is_some_and(|class| class.contains("lw-bold"));
    let width = text.chars().count() as f64 * size * if is_bold { 0.7 } else { 0.6 };
    let x = match at.get("text-anchor").map(String::as_str) {
        Some("middle") => number("x") - width / 2.0,
        Some("end") => number("x") - width,
        _ => number("x"),
    };
    let y = number("y");
    Frame { from: [x, y - 0.72 * size], to: [x + width, y + 0.15 * size] }
}

fn lines(core: &[Place]) -> impl Iterator<Item = [Place; 2]> + '_ {
    core.windows(2).map(|pair| [pair[0], pair[1]])
}

/// What lies on something else in a drawing.
fn wrong_in(read: &Read) -> Option<String> {
    for (what, frames) in [("locations", &read.rooms), ("boxes", &read.boxes)] {
        for (number, one) in frames.iter().enumerate() {
            if let Some(other) = frames[number + 1..].iter().find(|other| one.overlaps(other)) {
                return Some(format!("two {what} overlap: {one:?}, {other:?}"));
            }
        }
    }
    let all: Vec<[Place; 2]> = read.cores.iter().flat_map(|core| lines(core)).collect();
    for (number, one) in all.iter().enumerate() {
        let is_upright = one[0][0] == one[1][0];
        let frame = Frame::of_line(one, 3.0);
        for other in &all[number + 1..] {
            if is_upright == (other[0][0] == other[1][0]) && frame.overlaps(&Frame::of_line(other, 3.0)) {
                return Some(format!("two cores lie on one another: {one:?}, {other:?}"));
            }
        }
        if let Some(inside) = read.boxes.iter().find(|inside| frame.overlaps(inside)) {
            return Some(format!("a core {one:?} runs through a box {inside:?}"));
        }
        if let Some((text, at)) = read.texts.iter().find(|(_, at)| frame.overlaps(at)) {
            return Some(format!("{text} {at:?} stands on a core {one:?}"));
        }
    }
    for (number, (one, at)) in read.texts.iter().enumerate() {
        if let Some((other, on)) = read.texts[number + 1..].iter().find(|(_, other)| at.overlaps(other)) {
            return Some(format!("{one} {at:?} stands on {other} {on:?}"));
        }
    }
    None
}

/// How often cores of a drawing cross.
fn crossings(read: &Read) -> usize {
    let all: Vec<[Place; 2]> = read.cores.iter().flat_map(|core| lines(core)).collect();
    let between = |at: f64, one: f64, other: f64| one.min(other) < at && at < one.max(other);
    let crosses = |level: &[Place; 2], upright: &[Place; 2]| {
        between(upright[0][0], level[0][0], level[1][0]) && between(level[0][1], upright[0][1], upright[1][1])
    };
    let (upright, level): (Vec<_>, Vec<_>) = all.iter().partition(|line| line[0][0] == line[1][0]);
    level.iter().map(|level| upright.iter().filter(|upright| crosses(level, upright)).count()).sum()
}

/// What is wrong with the drawing of all circuits of an installation.
fn wrong(network: &Network, tests: &TestSet) -> Option<String> {
    let installation = network.installation();
    for orientation in BOTH {
        let drawing = Drawing::of(network, orientation);
        let wiring = drawing.svg(&DrawnState::wiring(network, &TestSet::default()).unwrap()).unwrap();
        let svg = drawing.svg(&DrawnState::after(network, tests, Need::EveryPair).unwrap()).unwrap();
        let drawn = read(&svg);
        let graph = drawing.dot(&DrawnState::after(network, tests, Need::EveryPair).unwrap()).unwrap();
        let edges = graph.lines().filter(|line| line.contains(" -- ")).count();
        let cores = installation.lengths().map(|(_, length)| length.cores().len()).sum::<usize>();
        if edges != cores {
            return Some(format!("{edges} edges of {cores} cores"));
        }
        // What is tested moves nothing.
        for (before, after) in read(&wiring).iter().zip(&drawn) {
            if before.cores != after.cores {
                return Some(format!("{orientation:?}: cores moved"));
            }
        }
        for ((id, circuit), read) in installation.circuits().zip(&drawn) {
            let of_circuit = installation.lengths().filter(|(_, length)| length.circuit() == id);
            let cores: usize = of_circuit.map(|(_, length)| length.cores().len()).sum();
            if read.cores.len() != cores {
                return Some(format!("{}: {} of {cores} cores drawn", circuit.id(), read.cores.len()));
            }
            if let Some(wrong) = wrong_in(read) {
                return Some(format!("{} {orientation:?}: {wrong}", circuit.id()));
            }
        }
    }
    None
}

proptest! {
    #![proptest_config(times(150))]

    #[test]
    fn nothing_lies_on_anything_else(case in prop_oneof![4 => cases(), 1 => large_cases()]) {
        let installation = engine::from_value(&case.installation);
        let tests = engine::test_set("tests.json", case.test_set.to_string().as_bytes(), &installation);
        prop_assert_eq!(wrong(&Network::of(installation), &tests), None);
    }
}

#[test]
fn nothing_lies_on_anything_else_in_the_small_installations() {
    for fixture in small::all() {
        let installation = engine::from_value(&fixture.installation);
        assert_eq!(wrong(&Network::of(installation), &TestSet::default()), None, "{}", fixture.name);
    }
}

#[test]
fn the_picture_in_the_readme_is_drawn() {
    let installation = std::fs::read("demo/skerry-light.toml").expect("the demo is there");
    let installation = read_installation(Input::toml(&installation)).expect("it is right");
    let tests = std::fs::read("demo/as-usual.toml").expect("the demo is there");
    let tests = read_test_set(Input::toml(&tests), &installation).expect("it is right");
    let network = Network::of(installation);
    let stair = Drawing::of_named(&network, &["C2".to_owned()], Orientation::Across).expect("there is a stair");
    let svg = stair.svg(&DrawnState::after(&network, &tests, Need::Ruleset).unwrap()).unwrap();
    let shown = std::fs::read_to_string("demo/tower-stair.svg").expect("the picture is there");
    let command = "lengthwise draw demo/skerry-light.toml demo/as-usual.toml --circuit C2 > demo/tower-stair.svg";
    assert!(shown == svg, "another picture would be drawn now: {command}");
}

#[test]
fn no_cores_of_the_demo_cross() {
    let installation = std::fs::read("demo/skerry-light.toml").expect("the demo is there");
    let installation = read_installation(Input::toml(&installation)).expect("it is right");
    let tests = std::fs::read("demo/as-usual.toml").expect("the demo is there");
    let tests = read_test_set(Input::toml(&tests), &installation).expect("it is right");
    let network = Network::of(installation);
    assert_eq!(wrong(&network, &tests), None);
    let wiring = DrawnState::wiring(&network, &tests).unwrap();
    for orientation in BOTH {
        let crossings: usize =
            read(&Drawing::of(&network, orientation).svg(&wiring).unwrap()).iter().map(crossings).sum();
        assert_eq!(crossings, 0, "{orientation:?}");
    }
}
