//! Where an answer goes.

use std::fmt::Display;
use std::io::{self, BufWriter, ErrorKind, Write};

use serde::Serialize;

use super::terminal::Terminal;
use super::text::layout::Page;
use crate::session::write_json;
use crate::visible::visible;

/// A reader that has gone away (a pager closed early) is no error: it has seen what it wanted.
fn quiet_about_a_reader_gone(error: io::Error) -> io::Result<()> {
    if error.kind() == ErrorKind::BrokenPipe { Ok(()) } else { Err(error) }
}

/// Why there is no answer, and what to do next, as it is told on standard error.
pub(super) fn refusal(error: impl Display, help: impl Display) -> String {
    let [error, help] = [error.to_string(), help.to_string()];
    format!("error: {}\n  help: {}\n", visible(&error), visible(&help))
}

/// Standard output, with what went wrong in writing to it.
///
/// The JSON of a large installation is several times as large as its file, so an answer is written as it is made.
/// What can't be written is kept until the end, when it is told once.
pub(super) struct Output {
    out: BufWriter<Box<dyn Write>>,
    error: Option<io::Error>,
}

/// Standard output as the file that it is: the standard library's own takes a descriptor that can't be written to for
/// one that takes everything. (One that is closed from the start it has opened on nothing before this runs.)
#[cfg(unix)]
fn standard_output() -> io::Result<Box<dyn Write>> {
    let descriptor = std::os::fd::AsFd::as_fd(&io::stdout()).try_clone_to_owned()?;
    Ok(Box::new(std::fs::File::from(descriptor)))
}

#[cfg(not(unix))]
fn standard_output() -> io::Result<Box<dyn Write>> {
    Ok(Box::new(io::stdout().lock()))
}

impl Output {
    pub(super) fn new() -> Output {
        let (out, error): (Box<dyn Write>, _) = match standard_output() {
            Ok(out) => (out, None),
            Err(error) => (Box::new(io::sink()), Some(error)),
        };
        Output { out: BufWriter::with_capacity(1 << 16, out), error }
    }

    pub(super) fn text(&mut self, lay_out: impl FnOnce(&mut Page)) {
        let mut page = Page::new(Terminal::of_answers());
        lay_out(&mut page);
        self.with(|out| out.write_all(page.into_text().as_bytes()));
    }

    pub(super) fn json(&mut self, answer: &impl Serialize) {
        self.with(|out| write_json(out, answer));
    }

    /// Lets something be written, unless writing failed before.
    pub(super) fn with(&mut self, write: impl FnOnce(&mut BufWriter<Box<dyn Write>>) -> io::Result<()>) {
        if self.error.is_none() {
            self.error = write(&mut self.out).err();
        }
    }

    /// Writes what is left, and tells what could not be written.
    ///
    /// # Errors
    ///
    /// The first that there was: a full disk, say.
    pub(super) fn finish(mut self) -> io::Result<()> {
        self.with(BufWriter::flush);
        self.error.map_or(Ok(()), quiet_about_a_reader_gone)
    }
}
