//! The usual mistakes of people who write TOML by hand. TOML's own words would not say how to mend them.

use crate::input::node::Span;

/// A mistake that is made again and again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Slip {
    /// `5,5`.
    DecimalComma,
    /// `5.5 m`.
    Unit,
    /// A text in quotes as typesetters write them.
    CurlyQuotes,
    /// A text without quotes.
    NoQuotes,
    /// `key: value`.
    Colon,
    /// `green/yellow = …`.
    KeyWithSign,
    /// Two entries of a list or a table with nothing between them.
    NoComma,
}

impl Slip {
    /// What to do next.
    pub fn mend(self) -> String {
        match self {
            Slip::DecimalComma => "write the number with a point, as in `5.5`",
            Slip::Unit => "write the number alone, without its unit: FORMAT.md says which unit each key has",
            Slip::CurlyQuotes => "put straight quotes around the text: `\"` at both ends",
            Slip::NoQuotes => "put quotes around the text, as in `\"Kitchen\"`",
            Slip::Colon => "write `=` between the key and its value, in place of `:`",
            Slip::KeyWithSign => "write letters, digits, `_` and `-` only, as in `green_yellow`",
            Slip::NoComma => "put a comma between the two",
        }
        .to_owned()
    }
}

/// The line of an error, as far as it is near.
pub(super) struct NearLine<'t> {
    line: &'t str,
    /// The byte of the line where the error is.
    at: usize,
}

impl<'t> NearLine<'t> {
    pub(super) fn of(text: &'t str, span: Span) -> NearLine<'t> {
        // Further away nobody writes, and an error must not cost a walk along a line without end.
        const NEAR: usize = 100;
        let at = (span.start as usize).min(text.len());
        let from = (at.saturating_sub(NEAR)..=at).find(|&from| text.is_char_boundary(from)).unwrap_or(at);
        let to = (at..=(at + NEAR).min(text.len())).rev().find(|&to| text.is_char_boundary(to)).unwrap_or(at);
        let at = (from..=at).rev().find(|&at| text.is_char_boundary(at)).unwrap_or(from);
        let start = from + text[from..at].rfind('\n').map_or(0, |place| place + 1);
        let end = at + text[at..to].find(['\n', '\r']).unwrap_or(to - at);
        NearLine { line: &text[start..end], at: at - start }
    }

    /// What stands behind `key =`, as people write it: with its unit, with a comma, or a word without quotes.
    pub(super) fn value_without_quotes(&self, key: &str) -> Option<&'t str> {
        let value = self.line.trim_start().strip_prefix(key)?.trim_start().strip_prefix('=')?;
        plain(value)
    }

    /// The mistake, where it is one of the usual ones.
    pub(super) fn slip(&self) -> Option<Slip> {
        if self.line.contains(['\u{201c}', '\u{201d}', '\u{201e}', '\u{2018}', '\u{2019}', '\u{201a}']) {
            return Some(Slip::CurlyQuotes);
        }
        let (before, behind) = self.line.split_at(self.at);
        let Some((key, value)) = self.line.split_once('=') else {
            let (key, value) = self.line.split_once(':')?;
            return (is_key(key.trim()) && !value.trim().is_empty()).then_some(Slip::Colon);
        };
        // An error in a key: where the last that is open is one.
        if behind.trim_start().starts_with(['/', '\\', '.', '+', '(']) && !before.ends_with(['"', '\'', '=']) {
            let word = before.rsplit([' ', '{', ',', '\t']).next().unwrap_or_default();
            let is_in_key = !word.is_empty() && is_key(word) && behind.contains('=');
            return is_in_key.then_some(Slip::KeyWithSign);
        }
        if !is_key(key.trim()) {
            return None;
        }
        let Some(value) = plain(value) else {
            // Two texts or lists side by side.
            let is_between =
                before.trim_end().ends_with(['"', ']', '}']) && behind.trim_start().starts_with(['"', '[', '{']);
            return is_between.then_some(Slip::NoComma);
        };
        let digits = |text: &str| !text.is_empty() && text.chars().all(|c| c.is_ascii_digit());
        if let Some((whole, fraction)) = value.split_once(',')
            && digits(whole.trim())
            && digits(fraction.trim())
        {
            return Some(Slip::DecimalComma);
        }
        if value.starts_with(|c: char| c.is_ascii_digit()) {
            let unit = value.trim_start_matches(|c: char| c.is_ascii_digit() || matches!(c, '.' | '_')).trim();
            let is_unit =
                !unit.is_empty() && unit.chars().count() <= 6 && unit.chars().all(|c| c.is_alphabetic() || c == '²');
            return is_unit.then_some(Slip::Unit);
        }
        value.starts_with(char::is_alphabetic).then_some(Slip::NoQuotes)
    }
}

/// A value without its comment, where no quotes and no brackets are in it.
fn plain(value: &str) -> Option<&str> {
    let value = value.split('#').next()?.trim();
    let is_plain = !value.is_empty() && !value.contains(['"', '\'', '[', '{', '}', ']']);
    is_plain.then_some(value)
}

fn is_key(text: &str) -> bool {
    !text.is_empty() && text.chars().all(|c| c.is_ascii_alphanumeric() || matches!(c, '_' | '-' | '.'))
}
