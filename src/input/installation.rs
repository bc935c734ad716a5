//! From nodes to the draft of an installation.

use indexmap::IndexMap;

use super::error::Document;
use super::fields::{Choices, Fields, Reader, Shape};
use super::node::{Node, Value};
use super::{ruleset, test_set};
use crate::model::{
    BoardDraft, BridgeDraft, CircuitDraft, Conducts, DeviceDraft, Earthing, FormatOne, GeneralDraft, GroupDevice,
    GroupDraft, InstallationDraft, KindDraft, LOST, Lamp, LengthDraft, Load, LocationDraft, Metres, PassageDraft,
    Phases, PointDraft, PositionDraft, System, Volts, WayDraft, Work,
};

const FILE: Shape = Shape {
    name: "file",
    keys: &["format", "installation", "location", "passage", "board", "circuit", "point", "length", "kind"],
};
/// The keys by which an installation is told from a test set.
pub(super) const OWN_KEYS: &[&str] = &["installation", "board", "length"];
const GENERAL: Shape = Shape { name: "installation", keys: &["name", "nominal_voltage", "phases", "earthing", "work"] };
const LOCATION: Shape = Shape { name: "location", keys: &["id", "name"] };
const PASSAGE: Shape = Shape { name: "passage", keys: &["between", "metres"] };
const BOARD: Shape = Shape { name: "board", keys: &["id", "location", "main_switch", "origin", "group", "way"] };
const GROUP: Shape = Shape { name: "group", keys: &["id", "device", "electronic"] };
const WAY: Shape = Shape {
    name: "way",
    keys: &["id", "device", "rating", "poles", "group", "neutral", "switches_neutral", "functional_earth"],
};
const CIRCUIT: Shape = Shape { name: "circuit", keys: &["id", "name", "way", "nominal_voltage", "system", "relief"] };
const POINT: Shape = Shape {
    name: "point",
    keys: &[
        "id",
        "kind",
        "circuit",
        "location",
        "plate",
        "terminals",
        "links",
        "lamp",
        "load",
        "manual",
        "removable",
        "operable",
        "stands",
    ],
};
const LENGTH: Shape = Shape { name: "length", keys: &["id", "circuit", "from", "to", "cable", "metres", "cores"] };
const KIND: Shape = Shape { name: "kind", keys: &["id", "terminals", "positions", "bridges", "removable"] };
const POSITION: Shape = Shape { name: "position", keys: &["name", "joins"] };
const BRIDGE: Shape = Shape { name: "bridge", keys: &["between", "conducts"] };

const EARTHING: Choices<Earthing> = Choices {
    names: &["TN-S", "TN-C-S", "TT", "IT"],
    values: &[Earthing::TnS, Earthing::TnCS, Earthing::Tt, Earthing::It],
};
const PHASES: Choices<Phases> = Choices { names: &["1", "3"], values: &[Phases::One, Phases::Three] };
const WORK: Choices<Work> = Choices { names: &["new", "existing"], values: &[Work::New, Work::Existing] };
const GROUP_DEVICE: Choices<GroupDevice> = Choices { names: &["rcd"], values: &[GroupDevice::Rcd] };
const WAY_DEVICE: Choices<DeviceDraft> = Choices {
    names: &["mcb", "fuse", "isolator", "rcbo"],
    values: &[DeviceDraft::Mcb, DeviceDraft::Fuse, DeviceDraft::Isolator, DeviceDraft::Rcbo],
};
pub(super) const SYSTEM: Choices<System> =
    Choices { names: &["lv", "selv", "pelv", "felv"], values: &[System::Lv, System::Selv, System::Pelv, System::Felv] };
const LAMP: Choices<Lamp> =
    Choices { names: &["filament", "led", "discharge"], values: &[Lamp::Filament, Lamp::Led, Lamp::Discharge] };
const LOAD: Choices<Load> =
    Choices { names: &["resistive", "electronic"], values: &[Load::Resistive, Load::Electronic] };
const CONDUCTS: Choices<Conducts> = Choices { names: &["sure", "maybe"], values: &[Conducts::Sure, Conducts::Maybe] };

/// A draft, and what of it a build has to know beyond the texts that were lost.
pub(super) struct Read {
    pub(super) draft: InstallationDraft,
    /// Whether the origin may be among what was lost.
    pub(super) origin_lost: bool,
    /// Whether the number of phases was lost, on which the names of lines depend.
    pub(super) phases_lost: bool,
}

pub(super) fn read(reader: &mut Reader<'_>, node: Node<'_>) -> Option<Read> {
    let others = [(Document::TestSet, test_set::OWN_KEYS), (Document::Ruleset, ruleset::OWN_KEYS)];
    let mut fields = reader.open_file(node, &FILE, Document::Installation, &others)?;
    reader.format(&mut fields);
    let mut phases_lost = false;
    let installation = match reader.required_node(&mut fields, "installation") {
        Some(node) => read_general(reader, node, &mut phases_lost),
        None => None,
    };
    phases_lost |= installation.is_none();
    let locations =
        reader.tables(&mut fields, "location", read_location, || Some(LocationDraft { id: lost(), name: None }));
    // What was lost keeps its place in its list, for errors are found again by their number.
    let passages = reader.tables(&mut fields, "passage", read_passage, || {
        Some(PassageDraft { between: [lost(), lost()], metres: Metres(1.0) })
    });
    let mut origin_lost = false;
    let boards = reader.tables(
        &mut fields,
        "board",
        |reader, node| read_board(reader, node, &mut origin_lost),
        || Some(BoardDraft { id: lost(), ..BoardDraft::default() }),
    );
    // A board that could not be read at all may be the origin.
    origin_lost |= boards.iter().any(|board| board.id == LOST);
    let circuits = reader.tables(&mut fields, "circuit", read_circuit, || {
        Some(CircuitDraft { id: lost(), way: Some(lost()), ..CircuitDraft::default() })
    });
    let points = reader.tables(&mut fields, "point", read_point, || {
        Some(PointDraft { id: lost(), kind: lost(), circuit: lost(), ..PointDraft::default() })
    });
    let lengths = reader.tables(&mut fields, "length", read_length, || {
        Some(LengthDraft {
            id: lost(),
            circuit: lost(),
            from: lost(),
            to: lost(),
            cable: None,
            metres: Metres(1.0),
            cores: lost_cores(),
        })
    });
    let kinds =
        reader.tables(&mut fields, "kind", read_kind, || Some(KindDraft { id: lost(), ..KindDraft::default() }));
    let installation = installation.unwrap_or(GeneralDraft {
        name: lost(),
        nominal_voltage: Volts(1.0),
        phases: None,
        earthing: Earthing::TnS,
        work: None,
    });
    let draft = InstallationDraft {
        format: FormatOne,
        installation,
        locations,
        passages,
        boards,
        circuits,
        points,
        lengths,
        kinds,
    };
    Some(Read { draft, origin_lost, phases_lost })
}

fn lost() -> String {
    LOST.to_owned()
}

fn read_general(reader: &mut Reader<'_>, node: Node<'_>, phases_lost: &mut bool) -> Option<GeneralDraft> {
    let mut fields = reader.open(node, "installation", &GENERAL)?;
    Some(GeneralDraft {
        name: reader.required_text(&mut fields, "name"),
        nominal_voltage: Volts(reader.required_number(&mut fields, "nominal_voltage")),
        phases: reader.optional_integer_choice(&mut fields, "phases", &PHASES).unwrap_or_else(|_| {
            *phases_lost = true;
            None
        }),
        earthing: reader.required_choice(&mut fields, "earthing", &EARTHING).unwrap_or(Earthing::TnS),
        work: reader.optional_choice(&mut fields, "work", &WORK).unwrap_or_default(),
    })
}

fn read_location(reader: &mut Reader<'_>, node: Node<'_>) -> Option<LocationDraft> {
    let mut fields = reader.open(node, "location", &LOCATION)?;
    Some(LocationDraft { id: reader.required_text(&mut fields, "id"), name: reader.optional_text(&mut fields, "name") })
}

fn read_passage(reader: &mut Reader<'_>, node: Node<'_>) -> Option<PassageDraft> {
    let mut fields = reader.open(node, "passage", &PASSAGE)?;
    Some(PassageDraft {
        between: reader.required_pair(&mut fields, "between"),
        metres: Metres(reader.required_number(&mut fields, "metres")),
    })
}

fn read_board(reader: &mut Reader<'_>, node: Node<'_>, origin_lost: &mut bool) -> Option<BoardDraft> {
    let mut fields = reader.open(node, "board", &BOARD)?;
    Some(BoardDraft {
        id: reader.required_text(&mut fields, "id"),
        location: reader.optional_text(&mut fields, "location"),
        main_switch: reader.optional_boolean(&mut fields, "main_switch").unwrap_or_default(),
        origin: reader.optional_boolean(&mut fields, "origin").unwrap_or_else(|()| {
            *origin_lost = true;
            None
        }),
        groups: reader.tables(&mut fields, "group", read_group, || {
            Some(GroupDraft { id: lost(), device: GroupDevice::Rcd, electronic: None })
        }),
        ways: reader.tables(&mut fields, "way", read_way, || Some(WayDraft::new(LOST, DeviceDraft::Mcb))),
    })
}

fn read_group(reader: &mut Reader<'_>, node: Node<'_>) -> Option<GroupDraft> {
    let mut fields = reader.open(node, "group", &GROUP)?;
    Some(GroupDraft {
        id: reader.required_text(&mut fields, "id"),
        device: reader.required_choice(&mut fields, "device", &GROUP_DEVICE).unwrap_or_default(),
        electronic: reader.optional_boolean(&mut fields, "electronic").unwrap_or_default(),
    })
}

fn read_way(reader: &mut Reader<'_>, node: Node<'_>) -> Option<WayDraft> {
    let mut fields = reader.open(node, "way", &WAY)?;
    Some(WayDraft {
        id: reader.required_text(&mut fields, "id"),
        // An rcbo knows every key of a way, so that no key is out of place where the device was lost.
        device: reader.required_choice(&mut fields, "device", &WAY_DEVICE).unwrap_or(DeviceDraft::Rcbo),
        rating: reader.optional_number(&mut fields, "rating"),
        poles: reader.optional_texts(&mut fields, "poles"),
        group: reader.optional_text(&mut fields, "group"),
        neutral: reader.optional_boolean(&mut fields, "neutral").unwrap_or_default(),
        switches_neutral: reader.optional_boolean(&mut fields, "switches_neutral").unwrap_or_default(),
        functional_earth: reader.optional_boolean(&mut fields, "functional_earth").unwrap_or_default(),
    })
}

fn read_circuit(reader: &mut Reader<'_>, node: Node<'_>) -> Option<CircuitDraft> {
    let mut fields = reader.open(node, "circuit", &CIRCUIT)?;
    let id = reader.required_text(&mut fields, "id");
    let name = reader.optional_text(&mut fields, "name");
    let way = reader.optional_text(&mut fields, "way");
    let nominal_voltage = reader.optional_number(&mut fields, "nominal_voltage").map(Volts);
    let system = reader.optional_choice(&mut fields, "system", &SYSTEM);
    // Without the system nobody can say whether the way may be left out.
    let way = way.or_else(|| system.is_err().then(lost));
    let relief = reader.optional_text(&mut fields, "relief");
    Some(CircuitDraft { id, name, way, nominal_voltage, system: system.unwrap_or_default(), relief })
}

fn read_point(reader: &mut Reader<'_>, node: Node<'_>) -> Option<PointDraft> {
    let mut fields = reader.open(node, "point", &POINT)?;
    Some(PointDraft {
        id: reader.required_text(&mut fields, "id"),
        kind: reader.required_text(&mut fields, "kind"),
        circuit: reader.required_text(&mut fields, "circuit"),
        location: reader.optional_text(&mut fields, "location"),
        plate: reader.optional_text(&mut fields, "plate"),
        terminals: reader.optional_texts(&mut fields, "terminals").unwrap_or_default(),
        links: reader.optional_text_lists(&mut fields, "links"),
        lamp: reader.optional_choice(&mut fields, "lamp", &LAMP).unwrap_or_default(),
        load: reader.optional_choice(&mut fields, "load", &LOAD).unwrap_or_default(),
        // A contactor that was lost here may be a manual one, and its `stands` and `operable` right.
        manual: reader.optional_boolean(&mut fields, "manual").unwrap_or(Some(true)),
        removable: reader.optional_boolean(&mut fields, "removable").unwrap_or_default(),
        operable: reader.optional_boolean(&mut fields, "operable").unwrap_or_default(),
        stands: reader.optional_text(&mut fields, "stands"),
    })
}

fn read_length(reader: &mut Reader<'_>, node: Node<'_>) -> Option<LengthDraft> {
    let mut fields = reader.open(node, "length", &LENGTH)?;
    Some(LengthDraft {
        id: reader.required_text(&mut fields, "id"),
        circuit: reader.required_text(&mut fields, "circuit"),
        from: reader.required_text(&mut fields, "from"),
        to: reader.required_text(&mut fields, "to"),
        cable: reader.optional_text(&mut fields, "cable"),
        metres: Metres(reader.required_number(&mut fields, "metres")),
        cores: read_cores(reader, &mut fields),
    })
}

fn read_cores(reader: &mut Reader<'_>, fields: &mut Fields<'_>) -> IndexMap<String, [String; 2]> {
    match reader.required_named(fields, "cores") {
        Some(entries) => {
            let mut cores = IndexMap::with_capacity(entries.len());
            for entry in entries {
                let ends = match entry.value.value {
                    Value::Lost => [lost(), lost()],
                    _ => reader.read_pair(entry.value, &entry.key),
                };
                cores.insert(entry.key.into_owned(), ends);
            }
            cores
        }
        None => lost_cores(),
    }
}

/// One core that says nothing, for a length without any is an error of its own.
fn lost_cores() -> IndexMap<String, [String; 2]> {
    IndexMap::from([("lost".to_owned(), [lost(), lost()])])
}

fn read_kind(reader: &mut Reader<'_>, node: Node<'_>) -> Option<KindDraft> {
    let mut fields = reader.open(node, "kind", &KIND)?;
    Some(KindDraft {
        id: reader.required_text(&mut fields, "id"),
        terminals: reader.required_texts(&mut fields, "terminals"),
        positions: read_positions(reader, &mut fields),
        bridges: reader.tables(&mut fields, "bridges", read_bridge, || {
            Some(BridgeDraft { between: [lost(), lost()], conducts: Conducts::Maybe })
        }),
        removable: reader.optional_boolean(&mut fields, "removable").unwrap_or_default(),
    })
}

fn read_positions(reader: &mut Reader<'_>, fields: &mut Fields<'_>) -> Vec<PositionDraft> {
    let lost = || Some(PositionDraft { name: lost(), joins: Vec::new() });
    reader.tables(fields, "positions", read_position, lost)
}

fn read_position(reader: &mut Reader<'_>, node: Node<'_>) -> Option<PositionDraft> {
    let mut fields = reader.open(node, "positions", &POSITION)?;
    Some(PositionDraft {
        name: reader.required_text(&mut fields, "name"),
        joins: reader.optional_text_lists(&mut fields, "joins"),
    })
}

fn read_bridge(reader: &mut Reader<'_>, node: Node<'_>) -> Option<BridgeDraft> {
    let mut fields = reader.open(node, "bridges", &BRIDGE)?;
    Some(BridgeDraft {
        between: reader.required_pair(&mut fields, "between"),
        conducts: reader.required_choice(&mut fields, "conducts", &CONDUCTS).unwrap_or(Conducts::Maybe),
    })
}
