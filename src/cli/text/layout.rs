//! Text laid out for a terminal.

use anstyle::{AnsiColor, Style};

use crate::cli::terminal::Terminal;
use crate::model::Volts;
use crate::visible::visible;

/// Lines of text, wrapped as they are added.
pub(in crate::cli) struct Page {
    text: String,
    terminal: Terminal,
}

/// What a line is coloured for. The words say it too: on paper there is no colour.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(in crate::cli) enum Tone {
    Plain,
    Heading,
    Good,
    Doubtful,
    Bad,
}

impl Tone {
    fn style(self) -> Style {
        let colour = |colour: AnsiColor| Style::new().fg_color(Some(colour.into())).bold();
        match self {
            Tone::Plain => Style::new(),
            Tone::Heading => Style::new().bold(),
            Tone::Good => colour(AnsiColor::Green),
            Tone::Doubtful => colour(AnsiColor::Yellow),
            Tone::Bad => colour(AnsiColor::Red),
        }
    }
}

impl Page {
    pub(in crate::cli) fn new(terminal: Terminal) -> Page {
        Page { text: String::new(), terminal }
    }

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
        let lines = textwrap::wrap(&text, self.within_width());
        let longest = lines.iter().map(|line| textwrap::core::display_width(line)).max().unwrap_or(0);
        for line in &lines {
            self.line(Tone::Heading, line);
        }
        self.line(Tone::Heading, &"-".repeat(longest));
    }

    /// Adds a paragraph, indented; its further lines `hang` columns more.
    pub(in crate::cli) fn paragraph(&mut self, indent: usize, hang: usize, text: &str) {
        self.toned(Tone::Plain, indent, "", hang, text);
    }

    /// Adds a paragraph behind a mark; its further lines `hang` columns in from the indent.
    pub(in crate::cli) fn after(&mut self, indent: usize, mark: &str, hang: usize, text: &str) {
        self.toned(Tone::Plain, indent, mark, hang, text);
    }

    /// The same in a colour, where there are colours.
    pub(in crate::cli) fn toned(&mut self, tone: Tone, indent: usize, mark: &str, hang: usize, text: &str) {
        let first = format!("{}{mark}", " ".repeat(indent));
        let rest = " ".repeat(indent + hang);
        // Full names of terminals and cores are not broken at their hyphens.
        let options = self
            .within_width()
            .initial_indent(&first)
            .subsequent_indent(&rest)
            .word_separator(textwrap::WordSeparator::AsciiSpace)
            .word_splitter(textwrap::WordSplitter::NoHyphenation);
        for line in textwrap::wrap(&visible(text), options) {
            self.line(tone, line.trim_end());
        }
    }

    /// No line is wider than the terminal, whatever that does to the others.
    fn within_width<'o>(&self) -> textwrap::Options<'o> {
        let mut penalties = textwrap::wrap_algorithms::Penalties::new();
        penalties.overflow_penalty = 1_000_000;
        textwrap::Options::new(self.terminal.width)
            .break_words(true)
            .wrap_algorithm(textwrap::WrapAlgorithm::OptimalFit(penalties))
    }

    fn line(&mut self, tone: Tone, line: &str) {
        if self.terminal.shows_colour && tone != Tone::Plain {
            let style = tone.style();
            let (blank, text) = line.split_at(line.len() - line.trim_start().len());
            self.text.push_str(&format!("{blank}{style}{text}{style:#}"));
        } else {
            self.text.push_str(line);
        }
        self.text.push('\n');
    }

    pub(in crate::cli) fn into_text(self) -> String {
        self.text
    }
}

/// `1 pair`, `2 pairs`.
pub(in crate::cli) fn count(number: usize, what: &str) -> String {
    if number == 1 { format!("{number} {what}") } else { format!("{number} {what}s") }
}

/// A test voltage.
pub(in crate::cli) fn volts_in_words(volts: Option<Volts>) -> String {
    match volts {
        Some(volts) => format!("{} V d.c.", volts.0),
        None => "the ruleset names no voltage".to_owned(),
    }
}

/// Metres without needless noughts.
pub(in crate::cli) fn metres(metres: f64) -> String {
    format!("{} m", (metres * 100.0).round() / 100.0)
}
