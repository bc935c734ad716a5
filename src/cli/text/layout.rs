//! Text in 80 columns.

use crate::cli::visible::visible;

/// The width of a terminal that text is laid out for.
const WIDTH: usize = 80;

/// Lines of text, wrapped as they are added.
#[derive(Default)]
pub(in crate::cli) struct Page {
    text: String,
}

impl Page {
    /// Adds a blank line.
    pub(in crate::cli) fn gap(&mut self) {
        self.text.push('\n');
    }

    /// Adds a heading, underlined.
    pub(in crate::cli) fn heading(&mut self, text: &str) {
        if !self.text.is_empty() {
            self.gap();
        }
        let text = visible(text);
        let lines = textwrap::wrap(&text, WIDTH);
        let longest = lines.iter().map(|line| textwrap::core::display_width(line)).max().unwrap_or(0);
        for line in &lines {
            self.text.push_str(line);
            self.text.push('\n');
        }
        self.text.push_str(&"-".repeat(longest));
        self.text.push('\n');
    }

    /// Adds a paragraph, indented; its further lines `hang` columns more.
    pub(in crate::cli) fn paragraph(&mut self, indent: usize, hang: usize, text: &str) {
        self.after(indent, "", hang, text);
    }

    /// Adds a paragraph behind a mark; its further lines `hang` columns in from the indent.
    pub(in crate::cli) fn after(&mut self, indent: usize, mark: &str, hang: usize, text: &str) {
        let first = format!("{}{mark}", " ".repeat(indent));
        let rest = " ".repeat(indent + hang);
        // Full names of terminals and cores are not broken at their hyphens.
        let options = textwrap::Options::new(WIDTH)
            .initial_indent(&first)
            .subsequent_indent(&rest)
            .word_separator(textwrap::WordSeparator::AsciiSpace)
            .word_splitter(textwrap::WordSplitter::NoHyphenation)
            .break_words(true);
        for line in textwrap::wrap(&visible(text), options) {
            self.text.push_str(line.trim_end());
            self.text.push('\n');
        }
    }

    pub(in crate::cli) fn into_text(self) -> String {
        self.text
    }
}

/// `1 pair`, `2 pairs`.
pub(in crate::cli) fn count(number: usize, what: &str) -> String {
    if number == 1 { format!("{number} {what}") } else { format!("{number} {what}s") }
}

/// Metres without needless noughts.
pub(in crate::cli) fn metres(metres: f64) -> String {
    format!("{} m", (metres * 100.0).round() / 100.0)
}
