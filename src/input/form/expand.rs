//! An installation with points and lengths in the place of its runs.

use serde::Serialize;

use crate::input::error::{InputErrors, Language};
use crate::input::installation;
use crate::input::read::read;
use crate::input::text::Input;
use crate::model::InstallationDraft;

/// The text of an installation with points and lengths in the place of its runs, in the same language. A text without
/// runs stays to the letter; else comments go, and what is expanded stands behind the points and lengths that there
/// are.
///
/// Takes time and space linear in the size of the text.
///
/// # Errors
///
/// As of [`read_installation`](crate::read_installation).
///
/// # Examples
///
/// ```
/// use lengthwise::Input;
/// use lengthwise::input::expand_runs;
///
/// let text = r#"
///     format = 1
///     [installation]
///     name = "Net loft"
///     nominal_voltage = 230
///     [[board]]
///     id = "DB1"
///     origin = true
///     way = [{ id = "1", device = "mcb" }]
///     [[circuit]]
///     id = "A1"
///     way = "DB1/1"
///     mm2 = 1.5
///     run = [{ rose = 8, switch = 4 }]
/// "#;
/// let explicit = expand_runs(Input::toml(text))?;
/// assert!(explicit.contains(r#"{ id = "A1-S1", kind = "one-way", circuit = "A1" }"#));
/// assert!(explicit.contains(r#"cable = "2c+e 1.5", metres = 4.0, cores = { brown = ["LP", "COM"], blue = ["L", "L1"]"#));
/// assert_eq!(expand_runs(Input::toml(&explicit))?, explicit);
/// # Ok::<(), lengthwise::InputErrors>(())
/// ```
pub fn expand_runs(input: Input<'_>) -> Result<String, InputErrors> {
    let (language, text) = input.open()?;
    let draft = read(&input, installation::read, |draft, lost| {
        draft.build_around(lost, &input.limits)?;
        Ok(draft)
    })?;
    let Some(explicit) = draft.without_runs() else { return Ok(text.to_owned()) };
    Ok(match language {
        Language::Toml => toml_text(explicit),
        Language::Json => {
            serde_json::to_string_pretty(&explicit).expect("JSON has all that an installation has") + "\n"
        }
    })
}

/// Points and lengths in a line each, ahead of all that has a header.
fn toml_text(mut draft: InstallationDraft) -> String {
    let points = std::mem::take(&mut draft.points);
    let lengths = std::mem::take(&mut draft.lengths);
    let rest = toml::to_string(&draft).expect("TOML has all that an installation has");
    let mut text = String::from("format = 1\n");
    write_list(&mut text, "point", &points);
    write_list(&mut text, "length", &lengths);
    text.push_str(rest.strip_prefix("format = 1\n").expect("the version stands first"));
    text
}

fn write_list(text: &mut String, key: &str, rows: &[impl Serialize]) {
    text.push_str(&format!("{key} = [\n"));
    for row in rows {
        text.push_str("  ");
        row.serialize(toml::ser::ValueSerializer::new(text)).expect("TOML has all that a row has");
        text.push_str(",\n");
    }
    text.push_str("]\n");
}
