//! The built-in kinds of point, as data.

use crate::model::{Conducts, Kind, KindBridge, Lamp, Load, Position, Variant};

/// Which key of a point chooses among the variants of a built-in kind.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Choice {
    None,
    Lamp,
    Load,
    Manual,
}

/// One position: its name and the terminals that it joins.
type PositionRow = (&'static str, &'static [&'static [&'static str]]);

/// One bridge: its terminals, whether it conducts for sure (what `lamp` or `load` chooses, where there is a choice), and
/// what it is in service.
type BridgeRow = (&'static str, &'static str, Conducts, BridgeUse);

/// What a bridge is in service.
#[derive(Clone, Copy, PartialEq, Eq)]
enum BridgeUse {
    Load,
    Passes,
    /// Neither: a signal, a surge protector, the winding that is a source.
    Neither,
}

/// One row of the table of kinds. `E` is added to the terminals where it is not among them.
struct KindRow {
    name: &'static str,
    terminals: &'static [&'static str],
    positions: &'static [PositionRow],
    bridges: &'static [BridgeRow],
    choice: Choice,
    removable: bool,
}

const fn sure(one: &'static str, other: &'static str) -> BridgeRow {
    (one, other, Conducts::Sure, BridgeUse::Load)
}

const fn maybe(one: &'static str, other: &'static str) -> BridgeRow {
    (one, other, Conducts::Maybe, BridgeUse::Load)
}

const fn passing(one: &'static str, other: &'static str) -> BridgeRow {
    (one, other, Conducts::Maybe, BridgeUse::Passes)
}

const fn no_load((one, other, conducts, _): BridgeRow) -> BridgeRow {
    (one, other, conducts, BridgeUse::Neither)
}

const fn switch(name: &'static str, terminals: &'static [&'static str], positions: &'static [PositionRow]) -> KindRow {
    KindRow { name, terminals, positions, bridges: &[], choice: Choice::None, removable: false }
}

const fn load(
    name: &'static str,
    terminals: &'static [&'static str],
    bridges: &'static [BridgeRow],
    choice: Choice,
) -> KindRow {
    KindRow { name, terminals, positions: &[], bridges, choice, removable: true }
}

const DOUBLE_POLE: &[PositionRow] = &[("on", &[&["Lin", "Lout"], &["Nin", "Nout"]]), ("off", &[])];

/// The table of kinds, all but the selectors, which are made by number.
const ROWS: &[KindRow] = &[
    switch("one-way", &["COM", "L1"], &[("on", &[&["COM", "L1"]]), ("off", &[])]),
    switch("two-way", &["COM", "L1", "L2"], &[("L1", &[&["COM", "L1"]]), ("L2", &[&["COM", "L2"]])]),
    switch(
        "intermediate",
        &["A1", "A2", "B1", "B2"],
        &[("straight", &[&["A1", "B1"], &["A2", "B2"]]), ("crossed", &[&["A1", "B2"], &["A2", "B1"]])],
    ),
    switch("double-pole", &["Lin", "Lout", "Nin", "Nout"], DOUBLE_POLE),
    switch(
        "triple-pole",
        &["L1in", "L1out", "L2in", "L2out", "L3in", "L3out"],
        &[("on", &[&["L1in", "L1out"], &["L2in", "L2out"], &["L3in", "L3out"]]), ("off", &[])],
    ),
    switch("fused-connection", &["Lin", "Lout", "Nin", "Nout", "E"], DOUBLE_POLE),
    switch("socket", &["L", "N", "E"], &[]),
    switch("switched-socket", &["L", "N", "E", "Lfront"], &[("on", &[&["L", "Lfront"]]), ("off", &[])]),
    load("luminaire", &["L", "N", "E"], &[sure("L", "N")], Choice::Lamp),
    load("appliance", &["L", "N", "E"], &[sure("L", "N")], Choice::Load),
    load(
        "appliance-3",
        &["L1", "L2", "L3", "N", "E"],
        &[sure("L1", "L2"), sure("L2", "L3"), sure("L1", "L3"), sure("L1", "N")],
        Choice::Load,
    ),
    load("detector", &["L", "N", "E", "IC"], &[maybe("L", "N"), no_load(maybe("IC", "N"))], Choice::None),
    load("sensor", &["L", "N", "SL"], &[maybe("L", "N"), passing("L", "SL")], Choice::None),
    load("dimmer", &["COM", "L1"], &[passing("COM", "L1")], Choice::None),
    KindRow {
        name: "contactor",
        terminals: &["A1", "A2", "1", "2", "3", "4"],
        positions: &[("released", &[]), ("held-in", &[&["1", "2"], &["3", "4"]])],
        bridges: &[sure("A1", "A2")],
        choice: Choice::Manual,
        removable: true,
    },
    KindRow {
        name: "indicator",
        terminals: &["L", "N"],
        positions: &[],
        bridges: &[maybe("L", "N")],
        choice: Choice::None,
        removable: false,
    },
    load(
        "surge-protector",
        &["L", "N", "E"],
        &[no_load(maybe("L", "N")), no_load(maybe("L", "E")), no_load(maybe("N", "E"))],
        Choice::None,
    ),
    load("transformer", &["L", "N", "V1", "V2"], &[sure("L", "N"), no_load(sure("V1", "V2"))], Choice::None),
    switch("junction", &[], &[]),
];

/// The terminals of a transformer that are a source of their own.
const SOURCES: &[&str] = &["V1", "V2"];

/// The selectors by the number of their positions, from 3.
const SELECTORS: [&str; 10] = [
    "selector-3",
    "selector-4",
    "selector-5",
    "selector-6",
    "selector-7",
    "selector-8",
    "selector-9",
    "selector-10",
    "selector-11",
    "selector-12",
];

/// The names of all built-in kinds.
pub(crate) fn built_in_names() -> impl Iterator<Item = &'static str> {
    ROWS.iter().map(|row| row.name).chain(SELECTORS)
}

/// Which key of a point chooses among the variants of this kind; none where no built-in kind has the name.
pub(crate) fn choice(name: &str) -> Option<Choice> {
    if SELECTORS.contains(&name) {
        return Some(Choice::None);
    }
    ROWS.iter().find(|row| row.name == name).map(|row| row.choice)
}

/// The built-in kind with this name in this variant; none where no built-in kind has the name.
pub(crate) fn built_in(name: &str, variant: Variant) -> Option<Kind> {
    if let Some(index) = SELECTORS.iter().position(|&selector| selector == name) {
        return Some(selector(SELECTORS[index], index as u16 + 3));
    }
    let row = ROWS.iter().find(|row| row.name == name)?;
    let mut terminals: Vec<String> = row.terminals.iter().map(|&terminal| terminal.to_owned()).collect();
    if !row.terminals.contains(&"E") {
        terminals.push("E".to_owned());
    }
    let number = |name: &str| -> u16 {
        terminals.iter().position(|terminal| terminal == name).expect("the table names its own terminals") as u16
    };
    let positions = row.positions.iter().map(|&(name, joins)| Position {
        name: name.to_owned(),
        joins: joins.iter().map(|join| join.iter().map(|terminal| number(terminal)).collect()).collect(),
    });
    let bridges = row.bridges.iter().map(|&(one, other, conducts, service)| KindBridge {
        between: [number(one), number(other)],
        passes: service == BridgeUse::Passes,
        is_load: service == BridgeUse::Load,
        conducts: match variant {
            Variant::Lamp(Lamp::Filament) | Variant::Load(Load::Resistive) => Conducts::Sure,
            Variant::Lamp(Lamp::Led | Lamp::Discharge) | Variant::Load(Load::Electronic) => Conducts::Maybe,
            Variant::Plain | Variant::Manual(_) => conducts,
        },
    });
    Some(Kind {
        name: row.name.to_owned(),
        positions: positions.collect(),
        bridges: bridges.collect(),
        removable: row.removable,
        operable: !row.positions.is_empty() && variant != Variant::Manual(false),
        visible: !matches!(row.name, "two-way" | "intermediate"),
        sources: if row.name == "transformer" { SOURCES.iter().map(|name| number(name)).collect() } else { Vec::new() },
        open_terminals: row.name == "junction",
        declared: false,
        variant,
        terminals,
    })
}

/// A selector: `COM` goes to one of its ways at a time.
fn selector(name: &str, ways: u16) -> Kind {
    let terminals = std::iter::once("COM".to_owned())
        .chain((1..=ways).map(|way| format!("P{way}")))
        .chain(std::iter::once("E".to_owned()))
        .collect();
    Kind {
        name: name.to_owned(),
        terminals,
        positions: (1..=ways).map(|way| Position { name: format!("P{way}"), joins: vec![vec![0, way]] }).collect(),
        bridges: Vec::new(),
        removable: false,
        operable: true,
        visible: true,
        sources: Vec::new(),
        open_terminals: false,
        declared: false,
        variant: Variant::Plain,
    }
}
