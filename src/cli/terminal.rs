//! The terminal that is written to: how wide it is, and whether it shows colours.

use std::io::{self, IsTerminal};

use anstream::{AutoStream, ColorChoice};
use terminal_size::{Width, terminal_size_of};

/// Where there is no terminal, text is laid out for this one.
const USUAL_WIDTH: usize = 80;
/// Narrower than this no table is legible, and wider no line.
const WIDTHS: std::ops::RangeInclusive<usize> = 40..=200;

/// What text is laid out for.
#[derive(Clone, Copy)]
pub(super) struct Terminal {
    /// In columns.
    pub(super) width: usize,
    pub(super) shows_colour: bool,
}

impl Terminal {
    /// The one of standard output.
    pub(super) fn of_answers() -> Terminal {
        Terminal::new(terminal_size_of(io::stdout()), AutoStream::choice(&io::stdout()))
    }

    /// The one of standard error.
    pub(super) fn of_errors() -> Terminal {
        Terminal::new(terminal_size_of(io::stderr()), AutoStream::choice(&io::stderr()))
    }

    /// Whether somebody sees what is drawn on standard error.
    pub(super) fn is_watched() -> bool {
        io::stderr().is_terminal()
    }

    fn new(size: Option<(Width, terminal_size::Height)>, colour: ColorChoice) -> Terminal {
        // A terminal that does not know its width tells 0.
        let width = size.map(|(Width(width), _)| usize::from(width)).filter(|&width| width > 0);
        Terminal {
            width: width.unwrap_or(USUAL_WIDTH).clamp(*WIDTHS.start(), *WIDTHS.end()),
            shows_colour: colour != ColorChoice::Never,
        }
    }
}
