//! Schemas of what serde can't tell: words, and what is written in more than one form.

use std::borrow::Cow;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};

use super::words::{
    Conducts, DeviceDraft, Earthing, GroupDevice, Lamp, Load, Phases, Strappers, System, Third, WarningCode, Word, Work,
};
use super::{BetweenLive, FormatOne, Indication, ReliefReadings};

/// What is one of a few words.
macro_rules! one_of_words {
    ($($name:ident),* $(,)?) => {$(
        impl JsonSchema for $name {
            fn schema_name() -> Cow<'static, str> {
                stringify!($name).into()
            }

            fn json_schema(_: &mut SchemaGenerator) -> Schema {
                json_schema!({ "type": "string", "enum": <$name as Word>::WORDS })
            }
        }
    )*};
}

one_of_words!(
    BetweenLive,
    Conducts,
    DeviceDraft,
    Earthing,
    GroupDevice,
    Lamp,
    Load,
    ReliefReadings,
    Strappers,
    System,
    Third,
    WarningCode,
    Work,
);

impl JsonSchema for FormatOne {
    fn schema_name() -> Cow<'static, str> {
        "FormatOne".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "integer", "const": 1 })
    }
}

impl JsonSchema for Phases {
    fn schema_name() -> Cow<'static, str> {
        "Phases".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "integer", "enum": [1, 3] })
    }
}

impl JsonSchema for Indication {
    fn schema_name() -> Cow<'static, str> {
        "Indication".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "anyOf": [
            { "type": "number" },
            { "type": "string", "pattern": r"^[<>]?([0-9]+\.?[0-9]*|\.[0-9]+)$" },
        ] })
    }
}

/// A stop of a run is metres, a place, both in a list, or the table that it is given as.
pub(super) fn stop(table: &mut Schema) {
    let number = json_schema!({ "type": "number" });
    let place = json_schema!({ "type": "string" });
    let both = json_schema!({ "type": "array", "prefixItems": [place, number], "minItems": 2, "maxItems": 2 });
    let description = table.remove("description");
    *table = json_schema!({ "anyOf": [number, place, both, table] });
    if let Some(description) = description {
        table.insert("description".to_owned(), description);
    }
}
