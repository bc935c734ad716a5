//! From nodes to the draft of an installation.

use super::error::Document;
use super::node::{Node, Value};
use super::reader::{Reader, Shape};
use super::run::read_step;
use crate::model::{
    AllowDraft, BoardDraft, BridgeDraft, CircuitDraft, Conducts, DeviceDraft, FormatOne, GeneralDraft, GroupDraft,
    InstallationDraft, KindDraft, LengthDraft, LocationDraft, Metres, PassageDraft, PointDraft, PositionDraft,
    ReliefDraft, Volts, WarningCode, WayDraft,
};

const FILE: Shape = Shape {
    name: "file",
    keys: &["format", "installation", "location", "passage", "board", "circuit", "point", "length", "kind", "allow"],
};
const GENERAL: Shape =
    Shape { name: "installation", keys: &["name", "nominal_voltage", "phases", "earthing", "work", "third"] };
const LOCATION: Shape = Shape { name: "location", keys: &["id", "name"] };
const PASSAGE: Shape = Shape { name: "passage", keys: &["between", "metres"] };
const BOARD: Shape = Shape { name: "board", keys: &["id", "location", "main_switch", "origin", "group", "way"] };
const GROUP: Shape = Shape { name: "group", keys: &["id", "device", "electronic"] };
const WAY: Shape = Shape {
    name: "way",
    keys: &["id", "device", "rating", "poles", "group", "neutral", "switches_neutral", "functional_earth"],
};
const CIRCUIT: Shape = Shape {
    name: "circuit",
    keys: &["id", "name", "way", "nominal_voltage", "system", "relief", "mm2", "lamp", "source", "earth", "run"],
};
const RELIEF: Shape = Shape { name: "relief", keys: &["because", "leaves"] };
const POINT: Shape = Shape {
    name: "point",
    keys: &[
        "id",
        "name",
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
        "fixed",
        "operable",
        "visible",
        "stands",
    ],
};
const LENGTH: Shape = Shape { name: "length", keys: &["id", "circuit", "from", "to", "cable", "metres", "cores"] };
const KIND: Shape = Shape { name: "kind", keys: &["id", "terminals", "positions", "bridges", "removable", "visible"] };
const ALLOW: Shape = Shape { name: "allow", keys: &["code", "at", "because"] };
const POSITION: Shape = Shape { name: "position", keys: &["name", "joins"] };
const BRIDGE: Shape = Shape { name: "bridge", keys: &["between", "conducts", "passes", "load"] };

pub(super) fn read(reader: &mut Reader<'_>, node: &Node<'_>) -> Option<InstallationDraft> {
    let fields = &reader.open_file(node, &FILE, Document::Installation)?;
    let installation = reader.required(fields, "installation", |reader, node| Some(read_general(reader, node)));
    let nothing = || GeneralDraft::new(String::new(), Volts(0.0));
    Some(InstallationDraft {
        format: FormatOne,
        installation: installation.unwrap_or_else(nothing),
        locations: reader.tables(fields, "location", read_location),
        passages: reader.tables(fields, "passage", read_passage),
        boards: reader.tables(fields, "board", read_board),
        circuits: reader.tables(fields, "circuit", read_circuit),
        points: reader.tables(fields, "point", read_point),
        lengths: reader.tables(fields, "length", read_length),
        kinds: reader.tables(fields, "kind", read_kind),
        allowed: reader.tables(fields, "allow", read_allow),
    })
}

fn read_allow(reader: &mut Reader<'_>, node: &Node<'_>) -> AllowDraft {
    let fields = &reader.open(node, &ALLOW);
    AllowDraft {
        code: reader.required_choice(fields, "code").unwrap_or(WarningCode::NothingToAllow),
        at: reader.required(fields, "at", Reader::texts).unwrap_or_default(),
        because: reader.required_text(fields, "because"),
    }
}

fn read_general(reader: &mut Reader<'_>, node: &Node<'_>) -> GeneralDraft {
    let fields = &reader.open(node, &GENERAL);
    GeneralDraft {
        name: reader.required_text(fields, "name"),
        nominal_voltage: Volts(reader.required_number(fields, "nominal_voltage")),
        phases: reader.optional_choice(fields, "phases"),
        earthing: reader.optional_choice(fields, "earthing"),
        work: reader.optional_choice(fields, "work"),
        third: reader.optional_choice(fields, "third"),
    }
}

fn read_location(reader: &mut Reader<'_>, node: &Node<'_>) -> LocationDraft {
    let fields = &reader.open(node, &LOCATION);
    LocationDraft { id: reader.required_text(fields, "id"), name: reader.optional_text(fields, "name") }
}

fn read_passage(reader: &mut Reader<'_>, node: &Node<'_>) -> PassageDraft {
    let fields = &reader.open(node, &PASSAGE);
    PassageDraft {
        between: reader.required_pair(fields, "between"),
        metres: Metres(reader.required_number(fields, "metres")),
    }
}

fn read_board(reader: &mut Reader<'_>, node: &Node<'_>) -> BoardDraft {
    let fields = &reader.open(node, &BOARD);
    BoardDraft {
        id: reader.required_text(fields, "id"),
        location: reader.optional_text(fields, "location"),
        main_switch: reader.optional(fields, "main_switch", Reader::boolean),
        origin: reader.optional(fields, "origin", Reader::boolean),
        groups: reader.tables(fields, "group", read_group),
        ways: reader.tables(fields, "way", read_way),
    }
}

fn read_group(reader: &mut Reader<'_>, node: &Node<'_>) -> GroupDraft {
    let fields = &reader.open(node, &GROUP);
    GroupDraft {
        id: reader.required_text(fields, "id"),
        device: reader.required_choice(fields, "device").unwrap_or_default(),
        electronic: reader.optional(fields, "electronic", Reader::boolean),
    }
}

fn read_way(reader: &mut Reader<'_>, node: &Node<'_>) -> WayDraft {
    let fields = &reader.open(node, &WAY);
    WayDraft {
        id: reader.required_text(fields, "id"),
        device: reader.required_choice(fields, "device").unwrap_or(DeviceDraft::Mcb),
        rating: reader.optional(fields, "rating", Reader::number),
        poles: reader.optional(fields, "poles", Reader::texts),
        group: reader.optional_text(fields, "group"),
        neutral: reader.optional(fields, "neutral", Reader::boolean),
        switches_neutral: reader.optional(fields, "switches_neutral", Reader::boolean),
        functional_earth: reader.optional(fields, "functional_earth", Reader::boolean),
    }
}

fn read_circuit(reader: &mut Reader<'_>, node: &Node<'_>) -> CircuitDraft {
    let fields = &reader.open(node, &CIRCUIT);
    CircuitDraft {
        id: reader.required_text(fields, "id"),
        name: reader.optional_text(fields, "name"),
        way: reader.optional_text(fields, "way"),
        nominal_voltage: reader.optional(fields, "nominal_voltage", Reader::number).map(Volts),
        system: reader.optional_choice(fields, "system"),
        relief: reader.optional(fields, "relief", read_relief),
        mm2: reader.optional(fields, "mm2", Reader::number),
        lamp: reader.optional_choice(fields, "lamp"),
        source: reader.optional_text(fields, "source"),
        earth: reader.optional(fields, "earth", Reader::boolean),
        run: reader.tables(fields, "run", read_step),
    }
}

fn read_relief(reader: &mut Reader<'_>, node: &Node<'_>) -> Option<ReliefDraft> {
    match &node.value {
        Value::Table(_) => {
            let fields = &reader.open(node, &RELIEF);
            let because = reader.required_text(fields, "because");
            Some(ReliefDraft { because, leaves: reader.optional_texts(fields, "leaves") })
        }
        _ => reader.text(node).map(|because| ReliefDraft { because, leaves: Vec::new() }),
    }
}

fn read_point(reader: &mut Reader<'_>, node: &Node<'_>) -> PointDraft {
    let fields = &reader.open(node, &POINT);
    PointDraft {
        id: reader.required_text(fields, "id"),
        name: reader.optional_text(fields, "name"),
        kind: reader.required_text(fields, "kind"),
        circuit: reader.optional_text(fields, "circuit"),
        location: reader.optional_text(fields, "location"),
        plate: reader.optional_text(fields, "plate"),
        terminals: reader.optional_texts(fields, "terminals"),
        links: reader.text_lists(fields, "links"),
        lamp: reader.optional_choice(fields, "lamp"),
        load: reader.optional_choice(fields, "load"),
        manual: reader.optional(fields, "manual", Reader::boolean),
        removable: reader.optional(fields, "removable", Reader::boolean),
        fixed: reader.optional(fields, "fixed", Reader::boolean),
        operable: reader.optional(fields, "operable", Reader::boolean),
        visible: reader.optional(fields, "visible", Reader::boolean),
        stands: reader.optional_text(fields, "stands"),
    }
}

fn read_length(reader: &mut Reader<'_>, node: &Node<'_>) -> LengthDraft {
    let fields = &reader.open(node, &LENGTH);
    LengthDraft {
        id: reader.required_text(fields, "id"),
        circuit: reader.optional_text(fields, "circuit"),
        from: reader.required_text(fields, "from"),
        to: reader.required_text(fields, "to"),
        cable: reader.optional_text(fields, "cable"),
        metres: Metres(reader.required_number(fields, "metres")),
        cores: reader.required(fields, "cores", |reader, node| reader.named(node, Reader::pair)).unwrap_or_default(),
    }
}

fn read_kind(reader: &mut Reader<'_>, node: &Node<'_>) -> KindDraft {
    let fields = &reader.open(node, &KIND);
    KindDraft {
        id: reader.required_text(fields, "id"),
        terminals: reader.required(fields, "terminals", Reader::texts).unwrap_or_default(),
        positions: reader.tables(fields, "positions", read_position),
        bridges: reader.tables(fields, "bridges", read_bridge),
        removable: reader.optional(fields, "removable", Reader::boolean),
        visible: reader.optional(fields, "visible", Reader::boolean),
    }
}

fn read_position(reader: &mut Reader<'_>, node: &Node<'_>) -> PositionDraft {
    let fields = &reader.open(node, &POSITION);
    PositionDraft { name: reader.required_text(fields, "name"), joins: reader.text_lists(fields, "joins") }
}

fn read_bridge(reader: &mut Reader<'_>, node: &Node<'_>) -> BridgeDraft {
    let fields = &reader.open(node, &BRIDGE);
    BridgeDraft {
        between: reader.required_pair(fields, "between"),
        conducts: reader.required_choice(fields, "conducts").unwrap_or(Conducts::Maybe),
        passes: reader.optional(fields, "passes", Reader::boolean),
        load: reader.optional(fields, "load", Reader::boolean),
    }
}
