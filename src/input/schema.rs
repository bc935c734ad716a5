//! JSON Schemas of the files, for editors and for other programs.

use schemars::generate::SchemaSettings;
use schemars::transform::{RecursiveTransform, Transform};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde_json::{Value, json};

use super::error::Document;
use crate::model::{BetweenLive, FormatOne, InstallationDraft, ReliefReadings, System, TestSetDraft};

/// The JSON Schema (draft 2020-12) of what a file holds, whether it is written as JSON or TOML. Time and size are fixed.
///
/// A file that it refuses is refused by the reader too. It accepts more than the reader does: it knows keys, types and
/// words, but not whether ids, terminals and rows fit one another.
///
/// # Examples
///
/// ```
/// use lengthwise::input::{Document, json_schema};
///
/// let schema = json_schema(Document::TestSet);
/// assert_eq!(schema["additionalProperties"], false);
/// assert!(schema["properties"]["pass"].is_object());
/// ```
pub fn json_schema(document: Document) -> Value {
    let mut generator = SchemaSettings::draft2020_12().into_generator();
    let mut schema = match document {
        Document::Installation => generator.into_root_schema_for::<InstallationDraft>(),
        Document::TestSet => generator.into_root_schema_for::<TestSetDraft>(),
        Document::Ruleset => {
            let mut schema = ruleset(&mut generator);
            schema.insert("$schema".to_owned(), generator.settings().meta_schema.clone().into());
            schema.insert("$defs".to_owned(), Value::Object(generator.take_definitions(true)));
            schema
        }
    };
    RecursiveTransform(without_null).transform(&mut schema);
    schema.to_value()
}

/// A key that may be left out may not be null.
fn without_null(schema: &mut Schema) {
    if schema.get("default").is_some_and(Value::is_null) {
        schema.remove("default");
    }
    if let Some(Value::Array(types)) = schema.get_mut("type") {
        types.retain(|name| name != "null");
        if let [only] = types.as_slice() {
            let only = only.clone();
            schema.insert("type".to_owned(), only);
        }
    }
    if let Some(Value::Array(forms)) = schema.get_mut("anyOf") {
        forms.retain(|form| *form != json!({ "type": "null" }));
    }
}

/// The schema of a type, by reference to its definition.
fn of<T: JsonSchema>(generator: &mut SchemaGenerator) -> Value {
    generator.subschema_for::<T>().to_value()
}

/// A table with a source, and what else it has.
fn sourced(own: Value, required: &[&str]) -> Value {
    let text = json!({ "type": "string", "pattern": r"\S" });
    let mut properties = json!({ "source": text, "edition": text, "from_memory": { "type": "boolean" } });
    if let (Value::Object(properties), Value::Object(own)) = (&mut properties, own) {
        properties.extend(own);
    }
    let required: Vec<&str> = ["source", "edition", "from_memory"].iter().chain(required).copied().collect();
    json!({ "type": "object", "properties": properties, "required": required, "additionalProperties": false })
}

/// A ruleset's file; its type has other names than the file's keys.
fn ruleset(generator: &mut SchemaGenerator) -> Schema {
    let text = json!({ "type": "string", "pattern": r"\S" });
    let above_zero = json!({ "type": "number", "exclusiveMinimum": 0 });
    let mut row = sourced(
        json!({
            "system": { "type": "array", "items": of::<System>(generator), "minItems": 1 },
            "above": above_zero,
            "up_to": above_zero,
            "volts": above_zero,
            "megohms": above_zero,
            "no_value": text,
            "between_live": of::<BetweenLive>(generator),
        }),
        &["system"],
    );
    row["oneOf"] = json!([
        { "required": ["volts", "megohms"], "properties": { "no_value": false } },
        { "required": ["no_value"], "properties": { "volts": false, "megohms": false } },
    ]);
    let values = json!({ "volts": above_zero, "megohms": above_zero });
    let mut relief = values.clone();
    relief["readings"] = of::<ReliefReadings>(generator);
    json_schema!({
        "title": "Ruleset",
        "description": "A ruleset file.",
        "type": "object",
        "properties": {
            "format": of::<FormatOne>(generator),
            "ruleset": {
                "type": "object",
                "properties": { "id": text, "title": text },
                "required": ["id", "title"],
                "additionalProperties": false,
            },
            "row": { "type": "array", "items": row, "minItems": 1 },
            "relief": sourced(relief, &["volts", "megohms"]),
            "connected": sourced(values, &["volts", "megohms"]),
            "investigate": sourced(json!({ "below": above_zero }), &["below"]),
            "expected_when_new": sourced(json!({ "above": above_zero }), &["above"]),
            "note": { "type": "array", "items": sourced(json!({ "text": text }), &["text"]) },
        },
        "required": ["format", "ruleset", "row"],
        "additionalProperties": false,
    })
}
