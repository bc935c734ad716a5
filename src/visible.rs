//! Text from files made safe to show: no name in a file works a terminal, a page or the lines of an answer.

use std::borrow::Cow;

/// A text in which every character is seen; each stays one, so that widths and places hold.
///
/// Control characters, line breaks among them, are shown as Unicode's control pictures (U+2400 to U+2421), and what
/// else is invisible or turns the direction of writing as the replacement character.
pub(crate) fn visible(text: &str) -> Cow<'_, str> {
    if text.chars().any(is_hidden) { text.chars().map(visible_character).collect() } else { Cow::Borrowed(text) }
}

/// What is shown of a character.
pub(crate) fn visible_character(c: char) -> char {
    match c {
        '\0'..='\x1f' => char::from_u32(0x2400 + c as u32).unwrap_or(char::REPLACEMENT_CHARACTER),
        '\x7f' => '\u{2421}',
        c if is_hidden(c) => char::REPLACEMENT_CHARACTER,
        c => c,
    }
}

/// Whether a character works the terminal, is not seen, or shows another text than the one that is there: controls,
/// line and paragraph separators, marks of the direction of writing (UAX 9), blanks without width and tags.
pub(crate) fn is_hidden(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{ad}' | '\u{61c}' | '\u{180e}' | '\u{200b}' | '\u{200e}' | '\u{200f}' | '\u{feff}')
        || matches!(c, '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{fff9}'..='\u{fffb}')
        || matches!(c, '\u{e0000}'..='\u{e007f}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_hidden_is_shown() {
        assert_eq!(visible("Stair, 2nd floor (n\u{e9}e)"), "Stair, 2nd floor (n\u{e9}e)");
        assert_eq!(visible("a\u{1b}[31m\r\nb\u{202e}c\u{7f}\u{9b}"), "a␛[31m␍␊b\u{fffd}c␡\u{fffd}");
    }
}
