//! Cells of tables and JSON in which nothing is hidden.

use std::io::{self, Write};

use serde::Serialize;

use crate::visible::{is_hidden, visible};

/// A cell of a table that no spreadsheet takes for a formula: one that looks like it has an apostrophe before it, as
/// spreadsheets mark texts (common practice).
pub fn cell(text: &str) -> String {
    let text = visible(text);
    let is_formula = text.trim_start().starts_with(['=', '+', '-', '@', '＝', '＋', '－', '＠', '␉', '␍', '␊']);
    if is_formula { format!("'{text}") } else { text.into_owned() }
}

/// Writes an answer as the command does with `--json`: indented, with a line break at the end, and so that nothing in it
/// is hidden. What is, in a text, becomes an escape of JSON, and reads as before.
///
/// # Errors
///
/// Of what it is written to.
pub fn write_json(mut out: impl Write, answer: &(impl Serialize + ?Sized)) -> io::Result<()> {
    serde_json::to_writer_pretty(VisibleJson(&mut out), answer)?;
    out.write_all(b"\n")
}

/// It takes what serde_json writes: whole characters at a time, with all structure in ASCII.
struct VisibleJson<W>(W);

impl<W: Write> Write for VisibleJson<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let is_plain = bytes.is_ascii() && !bytes.contains(&b'\x7f');
        match std::str::from_utf8(bytes) {
            Ok(text) if !is_plain => self.write_text(text)?,
            _ => self.0.write_all(bytes)?,
        }
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        self.0.flush()
    }
}

impl<W: Write> VisibleJson<W> {
    fn write_text(&mut self, text: &str) -> io::Result<()> {
        let mut rest = text;
        // The line breaks of the layout are not in a text: there they are escaped already.
        while let Some((at, c)) = rest.char_indices().find(|&(_, c)| c != '\n' && is_hidden(c)) {
            self.0.write_all(&rest.as_bytes()[..at])?;
            for unit in c.encode_utf16(&mut [0; 2]) {
                write!(self.0, "\\u{unit:04x}")?;
            }
            rest = &rest[at + c.len_utf8()..];
        }
        self.0.write_all(rest.as_bytes())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_cell_is_a_formula() {
        for text in ["=1+1", "+1", "-2", "@SUM(1)", "  =1", "\t=1", "\r\n=1", "＝1"] {
            assert!(cell(text).starts_with('\''), "{text:?}");
        }
        for text in ["", "C1", ">999", "<0.01", "230", "a=b"] {
            assert_eq!(cell(text), text);
        }
    }

    #[test]
    fn json_reads_as_before() {
        let text = "a\u{1b}b\u{202e}c\u{9b}\u{7f}\u{e0041}d\né\"\\";
        let mut bytes = Vec::new();
        write_json(&mut bytes, &[text]).expect("it is written to memory");
        let json = String::from_utf8(bytes).expect("JSON is UTF-8");
        assert!(!json.chars().any(|c| c != '\n' && is_hidden(c)), "{json:?}");
        assert_eq!(serde_json::from_str::<Vec<String>>(&json).expect("it is JSON"), [text]);
    }
}
