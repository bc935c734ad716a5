//! Values put into the form that a test set is: to the letter but for them.

use rustc_hash::FxHashMap;

use crate::input::error::InputErrors;
use crate::input::node::{Node, Span, Value};
use crate::input::read::read;
use crate::input::text::Input;
use crate::model::Indication;

/// Why values can't be put into a test set.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FillError {
    /// The test set can't be read.
    #[error(transparent)]
    Input(#[from] InputErrors),
    /// There is no such reading, or it has a value.
    #[error("pass {pass} has no reading {reading} that waits for a value")]
    NoPlace {
        /// The pass, counted from 1.
        pass: usize,
        /// The reading in the pass, counted from 1.
        reading: usize,
    },
    /// What was written is no value.
    #[error("`{value}` is no value for pass {pass}, reading {reading}: write a number such as 5.5, or `>999`")]
    BadValue {
        /// The pass, counted from 1.
        pass: usize,
        /// The reading in the pass, counted from 1.
        reading: usize,
        /// What was written.
        value: String,
    },
}

/// The text of a test set with values, each by the pass and number of its reading, in the place of `megohms = ""`. All
/// else stays to the letter. Whether the names in it lead anywhere is not looked at.
///
/// Takes time linear in the size of the text and the number of values.
///
/// # Errors
///
/// What keeps the text from being read, or the first value that can't be put in; of two for one reading the second.
///
/// # Examples
///
/// ```
/// use lengthwise::Input;
/// use lengthwise::input::fill_values;
///
/// let form = "format = 1\n[[pass]]\n[[pass.reading]]\ncircuit = \"C1\"\nbetween = [\"L\", \"E\"]\nmegohms = \"\"  # damp\n";
/// let filled = fill_values(Input::toml(form), &[([1, 1], ">999")])?;
/// assert_eq!(filled, form.replace("\"\"", "\">999\""));
/// # Ok::<(), lengthwise::input::FillError>(())
/// ```
pub fn fill_values(input: Input<'_>, values: &[([usize; 2], &str)]) -> Result<String, FillError> {
    let (_, text) = input.open()?;
    let mut places = read(&input, |_, root| Some(places(root)), |places, _| Ok(places))?;
    let mut filled: Vec<(Span, &str)> = Vec::with_capacity(values.len());
    for &([pass, reading], value) in values {
        let value = value.trim();
        if Indication::of_text(value).is_none() {
            return Err(FillError::BadValue { pass, reading, value: value.to_owned() });
        }
        let place = places.remove(&[pass, reading]).ok_or(FillError::NoPlace { pass, reading })?;
        filled.push((place, value));
    }
    filled.sort_unstable();
    let mut all = String::with_capacity(text.len());
    let mut from = 0;
    for (place, value) in filled {
        all.push_str(&text[from..place.start as usize]);
        all.push_str(&format!("\"{value}\""));
        from = place.end as usize;
    }
    all.push_str(&text[from..]);
    Ok(all)
}

/// Where readings wait for a value, by pass and number, counted from 1.
fn places(root: &Node<'_>) -> FxHashMap<[usize; 2], Span> {
    let mut places = FxHashMap::default();
    for (pass, node) in (1..).zip(list(root, "pass")) {
        for (reading, node) in (1..).zip(list(node, "reading")) {
            if let Some(place) = field(node, "megohms")
                && matches!(&place.value, Value::Text(text) if text.is_empty())
            {
                places.insert([pass, reading], place.span);
            }
        }
    }
    places
}

fn field<'n, 's>(node: &'n Node<'s>, key: &str) -> Option<&'n Node<'s>> {
    let Value::Table(entries) = &node.value else { return None };
    entries.iter().find(|entry| entry.key == key).map(|entry| &entry.value)
}

fn list<'n, 's>(node: &'n Node<'s>, key: &str) -> &'n [Node<'s>] {
    match field(node, key).map(|node| &node.value) {
        Some(Value::Array(nodes)) => nodes,
        _ => &[],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_go_where_they_are_waited_for() {
        let reading = |megohms: &str| format!("{{ circuit = 'C1', between = ['L', 'E'], megohms = {megohms} }}");
        let form = |one: &str, other: &str| {
            let [one, other] = [one, other].map(reading);
            format!("format = 1 # \"\"\npass = [ {{ operate = ['S1'] }}, {{ reading = [ {one}, {other} ] }} ]\n")
        };
        for empty in ["''", "\"\"", "''''''", "\"\"\"\"\"\""] {
            let filled = fill_values(Input::toml(&form(empty, "3")), &[([2, 1], " 5.5 ")]);
            assert_eq!(filled, Ok(form("\"5.5\"", "3")), "{empty}");
        }
        let text = form("''", "''");
        let both = fill_values(Input::toml(&text), &[([2, 2], "<0.01"), ([2, 1], "1")]);
        assert_eq!(both, Ok(form("\"1\"", "\"<0.01\"")));
        let fill = |values: &[([usize; 2], &str)]| fill_values(Input::toml(&text), values);
        for (pass, reading) in [(1, 1), (2, 3), (3, 1), (0, 0)] {
            assert_eq!(fill(&[([pass, reading], "1")]), Err(FillError::NoPlace { pass, reading }));
        }
        assert_eq!(fill(&[([2, 1], "1"), ([2, 1], "1")]), Err(FillError::NoPlace { pass: 2, reading: 1 }));
        for value in ["", "5,5", "\"", ">", "many"] {
            assert!(matches!(fill(&[([2, 1], value)]), Err(FillError::BadValue { .. })), "{value}");
        }
        assert!(matches!(fill_values(Input::toml("format = "), &[]), Err(FillError::Input(_))));
        let json = "{ \"format\": 1, \"pass\": [ { \"reading\": [ { \"megohms\": \"\" } ] } ] }";
        let filled = fill_values(Input::json(json), &[([1, 1], ">999")]);
        assert_eq!(filled, Ok(json.replace("\"\"", "\">999\"")));
    }
}
