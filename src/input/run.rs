//! From nodes to the steps of a run.

use super::error::Type;
use super::node::{Node, Value};
use super::reader::{Fields, Reader, Shape};
use crate::model::{Metres, Segment, StepDraft, StopDraft};

const STEP: Shape = Shape {
    name: "step",
    keys: &[
        "rose",
        "box",
        "switch",
        "switches",
        "dimmer",
        "light",
        "lights",
        "socket",
        "sockets",
        "fused",
        "isolator",
        "master",
        "appliance",
        "transformer",
        "alarm",
        "alarms",
        "contactor",
        "by",
        "sensor",
        "override",
        "back",
        "kind",
        "load",
        "third",
        "strappers",
        "from",
        "number",
        "mm2",
        "lamp",
    ],
};
const STOP: Shape = Shape {
    name: "stop",
    keys: &[
        "in",
        "metres",
        "id",
        "name",
        "kind",
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
        "cable",
        "cores",
    ],
};

pub(super) fn read_step(reader: &mut Reader<'_>, node: &Node<'_>) -> StepDraft {
    let fields = &reader.open(node, &STEP);
    StepDraft {
        rose: reader.optional(fields, "rose", read_stop),
        junction: reader.optional(fields, "box", read_stop),
        switch: reader.optional(fields, "switch", read_stop),
        switches: read_stops(reader, fields, "switches"),
        dimmer: reader.optional(fields, "dimmer", read_stop),
        light: reader.optional(fields, "light", read_stop),
        lights: read_stops(reader, fields, "lights"),
        socket: reader.optional(fields, "socket", read_stop),
        sockets: read_stops(reader, fields, "sockets"),
        fused: reader.optional(fields, "fused", read_stop),
        isolator: reader.optional(fields, "isolator", read_stop),
        master: reader.optional(fields, "master", read_stop),
        appliance: reader.optional(fields, "appliance", read_stop),
        transformer: reader.optional(fields, "transformer", read_stop),
        alarm: reader.optional(fields, "alarm", read_stop),
        alarms: read_stops(reader, fields, "alarms"),
        contactor: reader.optional(fields, "contactor", read_stop),
        by: reader.optional(fields, "by", read_stop),
        sensor: reader.optional(fields, "sensor", read_stop),
        bypass: reader.optional(fields, "override", read_stop),
        back: reader.optional(fields, "back", Reader::number).map(Metres),
        kind: reader.optional_text(fields, "kind"),
        load: reader.optional_choice(fields, "load"),
        third: reader.optional_choice(fields, "third"),
        strappers: reader.optional_choice(fields, "strappers"),
        from: reader.optional(fields, "from", Reader::whole),
        number: reader.optional(fields, "number", Reader::whole),
        mm2: reader.optional(fields, "mm2", Reader::number),
        lamp: reader.optional_choice(fields, "lamp"),
    }
}

fn read_stops(reader: &mut Reader<'_>, fields: &Fields<'_>, key: &'static str) -> Option<Vec<StopDraft>> {
    let read = |reader: &mut Reader<'_>, node: &Node<'_>| read_stop(reader, node).unwrap_or_default();
    reader.optional(fields, key, |reader, node| reader.list(node, Type::Stops, read))
}

fn read_stop(reader: &mut Reader<'_>, node: &Node<'_>) -> Option<StopDraft> {
    match &node.value {
        Value::Integer(metres) => Some(StopDraft::metres(*metres as f64)),
        Value::Float(metres) => Some(StopDraft::metres(*metres)),
        Value::Text(place) => Some(StopDraft { location: Some(place.to_string()), ..StopDraft::default() }),
        Value::Array(both) => match both.as_slice() {
            [Node { value: Value::Text(place), .. }, metres] => {
                let metres = reader.within(Segment::Index(1), |reader| reader.number(metres))?;
                Some(StopDraft::at(place.to_string(), metres))
            }
            _ => reader.wrong_type(node, Type::Stop),
        },
        Value::Table(_) => Some(read_stop_table(reader, node)),
        _ => reader.wrong_type(node, Type::Stop),
    }
}

fn read_stop_table(reader: &mut Reader<'_>, node: &Node<'_>) -> StopDraft {
    let fields = &reader.open(node, &STOP);
    StopDraft {
        location: reader.optional_text(fields, "in"),
        metres: reader.optional(fields, "metres", Reader::number).map(Metres),
        id: reader.optional_text(fields, "id"),
        name: reader.optional_text(fields, "name"),
        kind: reader.optional_text(fields, "kind"),
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
        cable: reader.optional_text(fields, "cable"),
        cores: reader.optional(fields, "cores", |reader, node| reader.named(node, Reader::pair)).unwrap_or_default(),
    }
}
