//! Long work as its user sees it: a line that moves on a terminal, and a limit of time.

use std::ops::ControlFlow;
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::terminal::Terminal;
use crate::{Observer, Progress, Stage};

/// So long nothing is shown, for most work is done by then.
const QUIET_FOR: Duration = Duration::from_millis(300);
/// Plain signs, no colour: it reads the same on every terminal.
const LINE: &str = "{elapsed} {msg} [{bar:16}] {human_pos} of {human_len} {prefix} (Ctrl-C stops)";
/// The exit status of a program that an interrupt has ended, as shells tell it.
const INTERRUPTED: i32 = 130;

/// Watches work for a user: shows how it comes along, and stops it when its time is up.
///
/// The line is drawn on standard error, and only where that is a terminal. It is gone when the work is done or
/// interrupted.
pub(super) struct Watching {
    begun: Instant,
    limit: Option<Duration>,
    line: Option<ProgressBar>,
    stage: Option<Stage>,
}

impl Watching {
    /// Begins to watch; the time that the work may take counts from here.
    pub(super) fn begin(limit: Option<Duration>) -> Watching {
        let line = Terminal::is_watched().then(|| {
            let style = ProgressStyle::with_template(LINE).expect("the line is well formed").progress_chars("=> ");
            let line = ProgressBar::with_draw_target(None, ProgressDrawTarget::stderr_with_hz(10)).with_style(style);
            let drawn = line.clone();
            // Where a handler can't be set, an interrupt ends the program all the same and leaves a line behind.
            let _ = ctrlc::set_handler(move || {
                drawn.finish_and_clear();
                std::process::exit(INTERRUPTED);
            });
            line
        });
        Watching { begun: Instant::now(), limit, line, stage: None }
    }

    fn show(&mut self, progress: Progress) {
        let Some(line) = &self.line else { return };
        line.set_length(progress.of as u64);
        line.set_position(progress.done as u64);
        if self.stage != Some(progress.stage) {
            self.stage = Some(progress.stage);
            line.set_message(in_words(progress.stage));
            line.set_prefix(progress.stage.counts());
        }
    }
}

impl Observer for Watching {
    fn progress(&mut self, progress: Progress) -> ControlFlow<()> {
        let taken = self.begun.elapsed();
        if taken >= QUIET_FOR {
            self.show(progress);
        }
        if self.limit.is_some_and(|limit| taken >= limit) { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    }
}

impl Drop for Watching {
    fn drop(&mut self) {
        if let Some(line) = &self.line {
            line.finish_and_clear();
        }
    }
}

fn in_words(stage: Stage) -> &'static str {
    match stage {
        Stage::TestSet => "Working out what is tested",
        Stage::Pairs => "Telling why pairs are missed",
        Stage::Readings => "Working out what readings test",
        Stage::Walks => "Searching the fewest walks",
        Stage::Operations => "Searching the fewest operations",
        Stage::LargeClusters => "Searching large clusters",
        Stage::Rounds => "Choosing readings",
        Stage::IfKnown => "Comparing with known positions",
        Stage::Extras => "Trying extras",
        Stage::Preparation => "Preparing circuits",
        Stage::Sums => "Going through readings",
        Stage::Leakage => "Bounding leakages",
        Stage::NextReading => "Weighing readings",
        Stage::Circuits => "Judging circuits",
        Stage::Boards => "Judging boards",
        Stage::Missed => "Telling what is missed",
    }
}
