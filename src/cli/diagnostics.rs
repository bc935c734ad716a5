//! The errors of a file, rendered for people: what is wrong, the line that it stands in, and what to do next.

use std::fmt::{self, Write};

use miette::{
    Diagnostic, GraphicalReportHandler, GraphicalTheme, LabeledSpan, MietteError, MietteSpanContents, SourceCode,
    SourceSpan, SpanContents, ThemeCharacters, ThemeStyles,
};

use crate::input::{InputError, InputErrors, Place};
use crate::visible::{visible, visible_character};

/// How to render.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Options {
    /// With or without escape sequences for colours.
    pub colour: Colour,
    /// What lines and marks are drawn with.
    pub characters: Characters,
    /// Columns of the page.
    pub width: usize,
    /// The most errors that are shown; how many there are is told all the same.
    pub most: usize,
}

impl Default for Options {
    fn default() -> Self {
        Options { colour: Colour::Without, characters: Characters::Unicode, width: 80, most: 30 }
    }
}

/// Whether to colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Colour {
    /// The terminal's own colours.
    Terminal,
    /// None.
    Without,
}

/// What lines and marks are drawn with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Characters {
    /// Box-drawing characters.
    Unicode,
    /// ASCII alone.
    Ascii,
}

/// What stands before a line that is shown: its number and what is drawn.
const MARGIN: usize = 14;
/// How far from an error the head and the end of its line are looked for, in bytes for each character of it that is
/// shown. Beyond that the line is cut anyway, and a file of one line would be walked once for each of its errors.
const LOOKED: usize = 5;

/// Renders all errors, and how many there are.
///
/// Takes time linear in the number of errors, whatever the size of the file and the length of its lines. Control
/// characters of the file are shown by signs, so that no file can work the terminal.
pub fn render(errors: &InputErrors, options: Options) -> String {
    let theme = GraphicalTheme {
        characters: match options.characters {
            Characters::Unicode => ThemeCharacters::unicode(),
            Characters::Ascii => ThemeCharacters::ascii(),
        },
        styles: match options.colour {
            Colour::Terminal => ThemeStyles::ansi(),
            Colour::Without => ThemeStyles::none(),
        },
    };
    let handler = GraphicalReportHandler::new_themed(theme)
        .with_width(options.width)
        .with_links(false)
        .with_context_lines(1)
        .with_wrap_lines(true)
        .with_break_words(true);
    let mut out = String::new();
    let shown = options.width.saturating_sub(MARGIN).max(MARGIN);
    for error in errors.errors().iter().take(options.most) {
        let report = Report::new(error, errors, shown);
        handler.render_report(&mut out, &report).expect("writing to a string succeeds");
        out.push('\n');
    }
    let count = errors.errors().len();
    let noun = if count == 1 { "error" } else { "errors" };
    let name = visible(name_of(errors));
    if count > options.most {
        writeln!(out, "{count} {noun} in {name}; the first {} are shown", options.most)
    } else {
        writeln!(out, "{count} {noun} in {name}")
    }
    .expect("writing to a string succeeds");
    out
}

/// One error, as miette takes it.
#[derive(Debug)]
struct Report {
    message: String,
    mend: String,
    snippet: Option<Snippet>,
}

impl Report {
    fn new(error: &InputError, errors: &InputErrors, shown: usize) -> Self {
        let mut message = format!("{} [{}]", visible(&error.told()), error.code());
        if error.place.is_none() {
            message = format!("{}: {message}", visible(name_of(errors)));
        }
        let mut mend = error.mend();
        if let Some(other) = error.other {
            write!(mend, "; the other is at line {}, column {}", other.line, other.column)
                .expect("writing to a string succeeds");
        }
        let snippet = error.place.map(|place| Snippet::cut(name_of(errors), errors.text(), place, shown));
        Report { message, mend: visible(&mend).into_owned(), snippet }
    }
}

impl fmt::Display for Report {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for Report {}

impl Diagnostic for Report {
    fn help<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        Some(Box::new(&self.mend))
    }

    fn source_code(&self) -> Option<&dyn SourceCode> {
        self.snippet.as_ref().map(|snippet| snippet as &dyn SourceCode)
    }

    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        let snippet = self.snippet.as_ref()?;
        Some(Box::new(std::iter::once(LabeledSpan::new_primary_with_span(None, snippet.marked))))
    }
}

/// The line that an error stands in and the one before it, each cut to what a page holds.
#[derive(Debug)]
struct Snippet {
    name: String,
    text: String,
    /// What is wrong, in the text of the snippet.
    marked: SourceSpan,
    /// The first line of the snippet, from 0.
    first_line: usize,
    line_count: usize,
    /// The place of the error, from 0.
    line: usize,
    column: usize,
}

impl Snippet {
    /// Cuts each line to so many characters.
    fn cut(name: &str, text: &str, place: Place, shown: usize) -> Self {
        // How much of a longer line is shown before what is wrong in it.
        let most_before = shown * 4 / 11;
        let looked = LOOKED * shown;
        let start = boundary(text, place.start);
        let (head, is_whole) = line_head(text, start, looked);
        let mut snippet = String::new();
        let mut first_line = place.line - 1;
        if is_whole && head > 0 {
            let (before, before_is_whole) = line_head(text, head - 1, looked);
            let line = text[before..head].trim_end();
            // A line that is blank, or of which the head is far away, says nothing.
            if before_is_whole && !line.is_empty() {
                push_cut(&mut snippet, line, shown);
                snippet.push('\n');
                first_line -= 1;
            }
        }
        let line_count = place.line - first_line;
        // A long line is shown from a little before what is wrong in it.
        let before = &text[head..start];
        let shown_before = before.chars().count();
        if is_whole && shown_before <= shown - most_before {
            snippet.push_str(&visible(before));
        } else {
            snippet.push('…');
            let from = before.char_indices().nth_back(most_before - 1).map_or(0, |(at, _)| at);
            snippet.push_str(&visible(&before[from..]));
        }
        let marked = snippet.len();
        let shown_before = snippet[snippet.rfind('\n').map_or(0, |at| at + 1)..].chars().count();
        // No further than is shown, for the end of the line may be far away.
        let rest = &text[start..boundary(text, start + looked)];
        push_cut(&mut snippet, rest.split('\n').next().unwrap_or_default(), shown - shown_before.min(shown - 1));
        let end = boundary(text, place.end.max(start));
        let length = text[start..end]
            .chars()
            .take_while(|&c| c != '\n')
            .take(shown)
            .map(|c| visible_character(c).len_utf8())
            .sum();
        let length = snippet[marked..].len().min(length);
        Snippet {
            name: visible(name).into_owned(),
            marked: SourceSpan::new(marked.into(), length),
            text: snippet,
            first_line,
            line_count,
            line: place.line - 1,
            column: place.column - 1,
        }
    }
}

/// Where the line that holds a byte begins, or as far back as is looked; and whether that is its beginning.
fn line_head(text: &str, at: usize, looked: usize) -> (usize, bool) {
    let earliest = boundary(text, at.saturating_sub(looked));
    match text[earliest..at].rfind('\n') {
        Some(newline) => (earliest + newline + 1, true),
        None => (earliest, earliest == 0),
    }
}

/// The first place from here on that is not inside a character.
fn boundary(text: &str, at: usize) -> usize {
    let mut at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at += 1;
    }
    at
}

/// Adds at most so many characters, and a mark where there are more.
fn push_cut(out: &mut String, text: &str, most: usize) {
    let text = text.trim_end_matches('\r');
    match text.char_indices().nth(most) {
        Some((end, _)) => {
            out.push_str(&visible(&text[..end]));
            out.push('…');
        }
        None => out.push_str(&visible(text)),
    }
}

impl SourceCode for Snippet {
    fn read_span<'a>(
        &'a self,
        _span: &SourceSpan,
        context_lines_before: usize,
        _context_lines_after: usize,
    ) -> Result<Box<dyn SpanContents<'a> + 'a>, MietteError> {
        // Without context only the place is asked for, and that is the one in the whole text.
        let (line, column) = if context_lines_before == 0 { (self.line, self.column) } else { (self.first_line, 0) };
        Ok(Box::new(MietteSpanContents::new_named(
            self.name.clone(),
            self.text.as_bytes(),
            SourceSpan::new(0.into(), self.text.len()),
            line,
            column,
            self.line_count,
        )))
    }
}

/// What the text is called.
fn name_of(errors: &InputErrors) -> &str {
    if errors.name().is_empty() { "the text" } else { errors.name() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::input::{Input, read_installation};

    fn rendered(text: &str) -> String {
        let errors = read_installation(Input::toml(&text)).expect_err("the text is wrong");
        render(&errors, Options::default())
    }

    #[test]
    fn a_line_without_end_is_cut_around_what_is_wrong() {
        let text = format!("format = 1 #{}\n[x]\ny = \"{}\"", "z".repeat(10_000), "z".repeat(10_000));
        let out = rendered(&text);
        assert!(out.lines().all(|line| line.chars().count() <= 80), "{out}");
    }

    #[test]
    fn no_file_works_the_terminal() {
        let out = rendered("format = 1\n\"\\u001b[31m\" = 1\n[installation]\nname = \"\u{1b}]0;x\u{7}\u{202e}\"\n");
        assert!(!out.contains(['\u{1b}', '\u{7}', '\u{202e}']), "{out:?}");
    }

    #[test]
    fn errors_are_coloured_only_where_asked() {
        let errors = read_installation(Input::toml(b"format = 2")).expect_err("the text is wrong");
        let coloured = render(&errors, Options { colour: Colour::Terminal, ..Options::default() });
        assert!(coloured.contains("\u{1b}["));
        let plain = render(&errors, Options { characters: Characters::Ascii, ..Options::default() });
        assert!(plain.is_ascii() && !plain.contains('\u{1b}'), "{plain}");
    }
}
