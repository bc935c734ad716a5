//! Long questions can be watched, and stopped.

use std::ops::ControlFlow;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
// In a browser there is no such clock.
#[cfg(not(all(target_family = "wasm", target_os = "unknown")))]
use std::time::{Duration, Instant};

use strum::IntoStaticStr;

/// Told how a question comes along, and asked whether to go on.
///
/// When it says [`ControlFlow::Break`], what is being worked out ends early, and its answer says `stopped`: what it
/// claims holds, what is not known to hold is not claimed. So an answer that was stopped depends on when that was; one
/// that was not is the same each time, whoever watches.
///
/// [`Deadline`] and [`Cancel`] are observers, and so is a closure; two as a pair both watch, and either may stop.
///
/// ```
/// use std::ops::ControlFlow;
/// use std::time::Duration;
/// use lengthwise::{Cancel, Coverage, Deadline, Need, Network, Progress};
/// # use lengthwise::{Input, read_installation, read_test_set};
/// # let installation = std::fs::read("examples/landing.toml")?;
/// # let installation = read_installation(Input::toml(&installation))?;
/// # let tests = std::fs::read("examples/landing-as-usual.toml")?;
/// # let tests = read_test_set(Input::toml(&tests), &installation)?;
/// # let network = Network::of(installation);
///
/// // Within a second, and until another thread calls `cancel`.
/// let cancel = Cancel::default();
/// let mut observer = (Deadline::after(Duration::from_secs(1)), cancel.clone());
/// let coverage = Coverage::watched(&network, &tests, Need::Standard, &mut observer)?;
/// assert!(!coverage.stopped);
///
/// // After the first report.
/// let mut at_once = |progress: Progress| {
///     println!("{} of {} {}", progress.done, progress.of, progress.stage.counts());
///     ControlFlow::Break(())
/// };
/// let coverage = Coverage::watched(&network, &tests, Need::Standard, &mut at_once)?;
/// assert!(coverage.stopped && coverage.summary.tested == 0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub trait Observer {
    /// Called for each thing that a stage counts, and now and then in between, on the thread that works. Make it quick.
    fn progress(&mut self, progress: Progress) -> ControlFlow<()>;
}

impl<F: FnMut(Progress) -> ControlFlow<()>> Observer for F {
    fn progress(&mut self, progress: Progress) -> ControlFlow<()> {
        self(progress)
    }
}

impl<A: Observer, B: Observer> Observer for (A, B) {
    fn progress(&mut self, progress: Progress) -> ControlFlow<()> {
        let both = [self.0.progress(progress), self.1.progress(progress)];
        if both.iter().any(ControlFlow::is_break) { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    }
}

/// How a question comes along.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Progress {
    /// What is being done.
    pub stage: Stage,
    /// How much of it is done, in what the stage counts.
    pub done: usize,
    /// Out of how many.
    pub of: usize,
}

/// What is done, in order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, IntoStaticStr)]
#[strum(serialize_all = "kebab-case")]
#[non_exhaustive]
pub enum Stage {
    /// Works out what the readings of a test set test; counts them.
    TestSet,
    /// Tells which pairs are tested, and why others are not; counts pairs.
    Pairs,
    /// Works out what each reading that a plan may use can test; counts readings.
    Readings,
    /// Searches clusters with too many settings to list; counts what it has settled.
    LargeClusters,
    /// Searches the fewest walks; counts clusters of devices that bear on one another.
    Walks,
    /// Searches the fewest operations and stops; counts clusters.
    Operations,
    /// Chooses the readings of each round; counts rounds.
    Rounds,
    /// Tries the extras that are allowed; counts them.
    Extras,
    /// Plans once more as if all positions were known, to compare; what it counts begins anew several times.
    IfKnown,
    /// Prepares circuits; counts them.
    Preparation,
    /// Works out which gaps bound what each reading measured; counts readings.
    Sums,
    /// Bounds what each gap can leak, and searches the fewest faults; counts blocks of readings that bear on one another.
    Leakage,
    /// Weighs the readings that may be taken next; counts them.
    NextReading,
    /// Judges circuits; counts them.
    Circuits,
    /// Judges boards; counts them.
    Boards,
    /// Tells why pairs are not tested by good readings; counts pairs.
    Missed,
}

impl Stage {
    /// Its name, for a program: `large-clusters`.
    pub fn name(self) -> &'static str {
        self.into()
    }

    /// What it counts, in the plural.
    pub fn counts(self) -> &'static str {
        match self {
            Stage::TestSet | Stage::Readings | Stage::Sums | Stage::NextReading => "readings",
            Stage::Pairs | Stage::Missed => "pairs",
            Stage::Walks | Stage::Operations => "clusters",
            Stage::LargeClusters => "steps",
            Stage::Rounds => "rounds",
            Stage::IfKnown => "steps",
            Stage::Extras => "extras",
            Stage::Preparation | Stage::Circuits => "circuits",
            Stage::Leakage => "blocks",
            Stage::Boards => "boards",
        }
    }
}

/// Watches nothing and never stops.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Unwatched;

impl Observer for Unwatched {
    fn progress(&mut self, _: Progress) -> ControlFlow<()> {
        ControlFlow::Continue(())
    }
}

/// Stops when its time is up, by the clock of the system. Not in a browser, which has none that the library could read.
#[cfg(not(all(target_family = "wasm", target_os = "unknown")))]
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Deadline(Option<Instant>);

#[cfg(not(all(target_family = "wasm", target_os = "unknown")))]
impl Deadline {
    /// So long from now on. A time too long for the clock is never up.
    pub fn after(time: Duration) -> Deadline {
        Deadline(Instant::now().checked_add(time))
    }
}

#[cfg(not(all(target_family = "wasm", target_os = "unknown")))]
impl Observer for Deadline {
    fn progress(&mut self, _: Progress) -> ControlFlow<()> {
        stop_if(self.0.is_some_and(|end| Instant::now() >= end))
    }
}

/// Stops once it was cancelled, by itself or by any of its clones, from whichever thread.
#[derive(Clone, Debug, Default)]
pub struct Cancel(Arc<AtomicBool>);

impl Cancel {
    /// Whoever watches by this or by a clone of it stops.
    pub fn cancel(&self) {
        self.0.store(true, Ordering::Relaxed);
    }

    /// Whether it was cancelled.
    pub fn is_cancelled(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }
}

impl Observer for Cancel {
    fn progress(&mut self, _: Progress) -> ControlFlow<()> {
        stop_if(self.is_cancelled())
    }
}

fn stop_if(stops: bool) -> ControlFlow<()> {
    if stops { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
}

/// An observer, with what it has said so far.
pub(crate) struct Watch<'o> {
    observer: &'o mut dyn Observer,
    now: Progress,
    quiet: u32,
    stopped: bool,
    /// What all that is done is done for.
    part_of: Option<Stage>,
}

impl<'o> Watch<'o> {
    /// Within one reading, cluster or round the observer is asked once in as many steps.
    const STEPS: u32 = 64;

    pub(crate) fn new(observer: &'o mut dyn Observer) -> Watch<'o> {
        Watch {
            observer,
            now: Progress { stage: Stage::TestSet, done: 0, of: 0 },
            quiet: 0,
            stopped: false,
            part_of: None,
        }
    }

    /// All that follows is part of one stage.
    pub(crate) fn as_part_of(&mut self, stage: Stage) {
        self.part_of = Some(stage);
    }

    /// Tells that a stage has come so far.
    pub(crate) fn at(&mut self, stage: Stage, done: usize, of: usize) {
        self.now = Progress { stage: self.part_of.unwrap_or(stage), done, of };
        self.ask();
    }

    /// One step more; whether to go on.
    pub(crate) fn goes_on(&mut self) -> bool {
        self.quiet += 1;
        if self.quiet >= Watch::STEPS {
            self.ask();
        }
        !self.stopped
    }

    /// Tells that a stage has come so far; whether to go on.
    pub(crate) fn goes_on_at(&mut self, stage: Stage, done: usize, of: usize) -> bool {
        self.at(stage, done, of);
        !self.stopped
    }

    /// One step more of those that take long; whether to go on.
    pub(crate) fn goes_on_after_long(&mut self) -> bool {
        self.ask();
        !self.stopped
    }

    fn ask(&mut self) {
        self.quiet = 0;
        if !self.stopped {
            self.stopped = self.observer.progress(self.now).is_break();
        }
    }

    /// Whether the observer has said to stop.
    pub(crate) fn is_stopped(&self) -> bool {
        self.stopped
    }
}
