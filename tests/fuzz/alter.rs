//! Altering files, byte by byte and value by value.

use proptest::prelude::Rng;
use proptest::test_runner::{RngAlgorithm, TestRng};
use serde_json::{Value, json};

/// Chance, the same again for the same numbers.
pub struct Dice(TestRng);

impl Dice {
    pub fn new(seed: u64, target: u32, number: u64) -> Dice {
        let mut bytes = [0; 32];
        bytes[..8].copy_from_slice(&seed.to_le_bytes());
        bytes[8..12].copy_from_slice(&target.to_le_bytes());
        bytes[12..20].copy_from_slice(&number.to_le_bytes());
        Dice(TestRng::from_seed(RngAlgorithm::ChaCha, &bytes))
    }

    pub fn below(&mut self, end: usize) -> usize {
        (self.0.next_u64() % end.max(1) as u64) as usize
    }

    pub fn one_of<'a, T>(&mut self, all: &'a [T]) -> &'a T {
        &all[self.below(all.len())]
    }
}

/// What parsers stumble over.
const BITS: [&str; 40] = [
    "\"",
    "'",
    "\"\"\"",
    "'''",
    "[",
    "]",
    "[[",
    "]]",
    "{",
    "}",
    "=",
    ".",
    ",",
    "\n",
    "\r\n",
    "\r",
    "#",
    "\\",
    "\\u0000",
    "\\ud800",
    "\u{feff}",
    "\u{202e}",
    "\0",
    "1e999",
    "-0",
    "0x7fffffffffffffff",
    "inf",
    "nan",
    "1979-05-27T07:32:00Z",
    "true",
    "null",
    "format = 1\n",
    "[[pass]]\n",
    "[[point]]\n",
    "unknown",
    "+",
    "-",
    "\u{1f600}",
    "//",
    "/*",
];

/// A few changes: bits put in, parts taken out, doubled, moved from another file, single bytes changed.
pub fn bytes(files: &[Vec<u8>], dice: &mut Dice) -> Vec<u8> {
    let mut file = dice.one_of(files).clone();
    for _ in 0..dice.below(6) {
        let at = dice.below(file.len() + 1);
        let end = (at + 1 + dice.below(40)).min(file.len());
        match dice.below(6) {
            0 => drop(file.splice(at..at, dice.one_of(&BITS).bytes())),
            1 => drop(file.drain(at.min(end)..end)),
            2 => {
                let part = file[at.min(end)..end].repeat(1 + dice.below(20));
                file.splice(at..at, part);
            }
            3 => {
                let other = dice.one_of(files);
                let from = dice.below(other.len());
                let part = &other[from..(from + 1 + dice.below(200)).min(other.len())];
                file.splice(at..at, part.iter().copied());
            }
            4 if at < file.len() => file[at] = dice.below(256) as u8,
            _ => file.truncate(at),
        }
    }
    file
}

/// All values inside, with itself.
fn count(value: &Value) -> usize {
    1 + match value {
        Value::Array(list) => list.iter().map(count).sum(),
        Value::Object(table) => table.values().map(count).sum(),
        _ => 0,
    }
}

/// The value of this number inside, in the order of [`count`].
fn nth<'v>(value: &'v mut Value, number: &mut usize) -> Option<&'v mut Value> {
    if *number == 0 {
        return Some(value);
    }
    *number -= 1;
    match value {
        Value::Array(list) => list.iter_mut().find_map(|value| nth(value, number)),
        Value::Object(table) => table.values_mut().find_map(|value| nth(value, number)),
        _ => None,
    }
}

/// A text or a number that stands somewhere in a file.
fn some(value: &mut Value, dice: &mut Dice) -> Value {
    for _ in 0..20 {
        let mut number = dice.below(count(value));
        if let Some(found) = nth(value, &mut number)
            && !found.is_array()
            && !found.is_object()
        {
            return found.clone();
        }
    }
    json!("unknown")
}

/// A few changes of values: names swapped for others of the file, numbers changed, entries taken out, doubled, moved.
pub fn value(value: &mut Value, dice: &mut Dice) {
    for _ in 0..1 + dice.below(3) {
        let other = some(value, dice);
        let mut number = 1 + dice.below(count(value).saturating_sub(1));
        let Some(found) = nth(value, &mut number) else { continue };
        match found {
            Value::Array(list) if !list.is_empty() => {
                let at = dice.below(list.len());
                match dice.below(4) {
                    0 => drop(list.remove(at)),
                    1 => {
                        let to = dice.below(list.len());
                        list.swap(at, to);
                    }
                    2 => list.push(list[at].clone()),
                    _ => list.push(other),
                }
            }
            Value::Object(table) if !table.is_empty() => {
                let key = table.keys().nth(dice.below(table.len())).expect("it has one").clone();
                if dice.below(2) == 0 {
                    table.remove(&key);
                } else if let Some(name) = other.as_str() {
                    let value = table[&key].clone();
                    table.insert(name.to_owned(), value);
                }
            }
            Value::Number(number) => {
                let factor = *dice.one_of(&[0.0, 1e-9, 0.5, 1.0, 2.0, 1e3, 1e12, -1.0]);
                *found = json!(number.as_f64().unwrap_or(1.0) * factor);
            }
            Value::Bool(is) => *found = json!(!*is),
            _ => *found = other,
        }
    }
}
