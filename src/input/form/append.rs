//! Further passes in the text of a test set: a form that a person fills in.

use indexmap::IndexMap;
use serde::Serialize;

use crate::input::error::{InputErrors, Language};
use crate::input::node::{Node, Value};
use crate::input::read::read;
use crate::input::text::Input;
use crate::model::{PassDraft, ReadingDraft, Volts};

/// Where passes go in a text, by what is there.
enum Slot {
    /// Behind all that there is, each under a header of its own.
    End,
    /// Before the bracket that closes the list of passes.
    List { close: usize, needs_comma: bool },
    /// Before the brace that closes the file's table, as a list of their own.
    Table { close: usize },
}

/// The text of a test set in which nothing is said yet.
pub fn empty_test_set(language: Language) -> Input<'static> {
    match language {
        Language::Toml => Input::toml("format = 1\n"),
        Language::Json => Input::json("{ \"format\": 1 }\n"),
    }
}

/// The text of a test set with passes behind those that it has. What is there stays to the letter. Each reading has a
/// `megohms` to be filled in, `""`, where it has no value.
///
/// Takes time linear in the size of the text and the number of passes.
///
/// # Errors
///
/// What keeps the text from being read; whether its names lead anywhere is not looked at.
///
/// # Examples
///
/// ```
/// use lengthwise::Input;
/// use lengthwise::input::append_passes;
/// use lengthwise::model::PassDraft;
///
/// let pass = PassDraft { operate: vec!["S1".to_owned()], ..PassDraft::default() };
/// let text = append_passes(Input::toml("format = 1  # stairs\n"), &[pass])?;
/// assert_eq!(text, "format = 1  # stairs\n\n# Pass 1\n[[pass]]\noperate = [\"S1\"]\n");
/// # Ok::<(), lengthwise::InputErrors>(())
/// ```
pub fn append_passes(input: Input<'_>, passes: &[PassDraft]) -> Result<String, InputErrors> {
    let (language, text) = input.open()?;
    let (slot, count) = read(&input, |_, root| Some(slot(root, language, text)), |found, _| Ok(found))?;
    let rows: Vec<PassRow<'_>> = passes.iter().map(PassRow::of).collect();
    if rows.is_empty() {
        return Ok(text.to_owned());
    }
    let inserted = |at: usize, new: &str| format!("{}{new}{}", &text[..at], &text[at..]);
    Ok(match slot {
        Slot::End => {
            let mut all = text.to_owned();
            if !all.is_empty() && !all.ends_with('\n') {
                all.push('\n');
            }
            for (number, row) in rows.iter().enumerate() {
                let pass = toml::to_string(&Passes { pass: [row] }).expect("TOML has all that a pass has");
                all.push_str(&format!("\n# Pass {}\n{pass}", count + number + 1));
            }
            all
        }
        Slot::List { close, needs_comma } => {
            let comma = if needs_comma { ",\n" } else { "\n" };
            inserted(close, &format!("{comma}{}\n", list(&rows, language)))
        }
        Slot::Table { close } => inserted(close, &format!(",\n\"pass\": [\n{}\n]\n", list(&rows, language))),
    })
}

/// Where further passes go, and how many there are.
fn slot(root: &Node<'_>, language: Language, text: &str) -> (Slot, usize) {
    let entries = match &root.value {
        Value::Table(entries) => entries.as_slice(),
        _ => &[],
    };
    let list = entries.iter().find(|entry| entry.key == "pass").and_then(|entry| match &entry.value.value {
        Value::Array(rows) => Some((entry, rows)),
        _ => None,
    });
    let close = |node: &Node<'_>| (node.span.end as usize).saturating_sub(1);
    // Of a text that is refused for other reasons, places may be anywhere.
    let part = |from: usize, to: usize| text.get(from..to).unwrap_or_default();
    match list {
        // A quote may stand behind the key.
        Some((entry, rows))
            if part(entry.key_span.end as usize, text.len())
                .trim_start_matches(['"', '\''])
                .trim_start()
                .starts_with(['=', ':']) =>
        {
            let close = close(&entry.value);
            let needs_comma = rows.last().is_some_and(|last| {
                let rest = part(last.span.end as usize, close);
                !rest.lines().any(|line| line.split('#').next().is_some_and(|code| code.contains(',')))
            });
            (Slot::List { close, needs_comma }, rows.len())
        }
        list => {
            let count = list.map_or(0, |(_, rows)| rows.len());
            let slot = if language == Language::Json { Slot::Table { close: close(root) } } else { Slot::End };
            (slot, count)
        }
    }
}

/// Entries of a list, with commas between them.
fn list(rows: &[PassRow<'_>], language: Language) -> String {
    let entry = |row: &PassRow<'_>| match language {
        Language::Toml => toml::Value::try_from(row).expect("TOML has all that a pass has").to_string(),
        Language::Json => serde_json::to_string_pretty(row).expect("JSON has all that a pass has"),
    };
    rows.iter().map(entry).collect::<Vec<_>>().join(",\n")
}

/// What is under the headers of a pass.
#[derive(Serialize)]
struct Passes<'r, 'd> {
    pass: [&'r PassRow<'d>; 1],
}

/// A pass as it is written, with places for values. TOML has tables behind all else.
#[derive(Serialize)]
struct PassRow<'d> {
    #[serde(skip_serializing_if = "<[String]>::is_empty")]
    operate: &'d [String],
    #[serde(skip_serializing_if = "<[String]>::is_empty")]
    remove: &'d [String],
    #[serde(skip_serializing_if = "<[String]>::is_empty")]
    link: &'d [String],
    #[serde(skip_serializing_if = "<[String]>::is_empty")]
    refit: &'d [String],
    #[serde(skip_serializing_if = "IndexMap::is_empty")]
    set: &'d IndexMap<String, String>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    reading: Vec<ReadingRow<'d>>,
}

#[derive(Serialize)]
struct ReadingRow<'d> {
    #[serde(skip_serializing_if = "Option::is_none")]
    circuit: Option<&'d str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    board: Option<&'d str>,
    between: &'d [String; 2],
    #[serde(skip_serializing_if = "Option::is_none")]
    volts: Option<Volts>,
    megohms: String,
}

impl<'d> PassRow<'d> {
    fn of(pass: &'d PassDraft) -> PassRow<'d> {
        PassRow {
            operate: &pass.operate,
            remove: &pass.remove,
            link: &pass.link,
            refit: &pass.refit,
            set: &pass.set,
            reading: pass.readings.iter().map(ReadingRow::of).collect(),
        }
    }
}

impl<'d> ReadingRow<'d> {
    fn of(reading: &'d ReadingDraft) -> ReadingRow<'d> {
        let shown = || reading.megohms.map(|megohms| megohms.to_string());
        ReadingRow {
            circuit: reading.circuit.as_deref(),
            board: reading.board.as_deref(),
            between: &reading.between,
            volts: reading.volts,
            megohms: reading.written.clone().or_else(shown).unwrap_or_default(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::input::{Purpose, look_over_test_set};

    /// Two passes, one of them with all that a pass can have.
    fn passes() -> [PassDraft; 2] {
        let reading = ReadingDraft {
            circuit: Some("C1".to_owned()),
            between: ["L+N".to_owned(), "E".to_owned()],
            volts: Some(Volts(500.0)),
            ..ReadingDraft::default()
        };
        let names = |name: &str| vec![name.to_owned()];
        [
            PassDraft {
                operate: names("S1"),
                set: IndexMap::from([("DB1/1".to_owned(), "on".to_owned())]),
                remove: names("E1"),
                link: names("D1"),
                refit: names("E2"),
                readings: vec![reading.clone(), reading],
            },
            PassDraft { operate: names("S2"), ..PassDraft::default() },
        ]
    }

    #[test]
    fn what_is_there_stays_and_passes_are_behind_it() {
        for text in [
            "format = 1",
            "format = 1\n[start]\nS1 = 'L1' # seen\n",
            "format = 1\n[[pass]]\n[[pass.reading]]\ncircuit = 'C1'\nbetween = ['L', 'N'] # ]\n",
            "format = 1\npass = []\n",
            "format = 1\n\"pass\" = []\n",
            "format = 1\n'pass' = [ { operate = ['S1'] } ]\n",
            "format = 1\npass = [ { operate = ['S1'] } ]\n[start]\nS1 = 'L1'\n",
            "format = 1\npass = [\n  { operate = ['S1'] }, # a, b ]\n]\n",
            "format = 1\npass = [\n  { operate = ['S1'] } # a, b ]\n]\n",
            "{ \"format\": 1 }",
            "{ \"format\": 1, \"pass\": [] }\n",
            "{ \"format\": 1, \"pass\": [ { \"operate\": [\"S1\"] } ], \"start\": { \"S1\": \"L1\" } }",
        ] {
            let input = |text| if text_is_json(text) { Input::json(text) } else { Input::toml(text) };
            let appended = append_passes(input(text), &passes()).expect("the text is right");
            look_over_test_set(input(&appended), Purpose::Record)
                .unwrap_or_else(|errors| panic!("{errors}:\n{appended}"));
            let (_, count) =
                read(&input(&appended), |_, root| Some(slot(root, Language::Json, &appended)), |found, _| Ok(found))
                    .expect("it is right");
            let before = text.matches("operate").count() + text.matches("[[pass]]").count();
            assert_eq!(count, before + 2, "{appended}");
            assert_eq!(appended.matches("megohms").count(), 2, "a place for each value: {appended}");
            // All lines of the text are there as they were, but for the bracket before which passes are put.
            let mut rest = appended.as_str();
            for piece in text.split_inclusive([' ', '\n']).map(|piece| piece.trim_end_matches([' ', '\n', ']', '}'])) {
                rest = &rest[rest.find(piece).unwrap_or_else(|| panic!("{piece:?} stays: {appended}"))..];
            }
            assert_eq!(append_passes(input(text), &[]).as_deref(), Ok(text));
        }
    }

    fn text_is_json(text: &str) -> bool {
        text.starts_with('{')
    }

    #[test]
    fn what_cant_be_read_is_not_written_on() {
        assert!(append_passes(Input::toml("format = 1\n[[pass]\n"), &passes()).is_err());
        assert!(append_passes(Input::json("{"), &passes()).is_err());
    }
}
