//! Long planning can be watched, and stopped.

use std::ops::ControlFlow;

/// Told how planning comes along, and asked whether to go on.
///
/// When it says [`ControlFlow::Break`] the search ends as if its budget were spent: the plan is the best found so far,
/// it is sound, its bounds are proven, and what is not known to be the least is not called so. The library has no clock:
/// a time limit is an observer that looks at one. So a plan that was stopped depends on when it was; one that was not is
/// the same each time, whoever watches.
///
/// ```
/// use std::ops::ControlFlow;
/// use lengthwise::plan::{Observer, Progress};
///
/// /// Stops after so many reports.
/// struct Patience(usize);
///
/// impl Observer for Patience {
///     fn progress(&mut self, _: Progress) -> ControlFlow<()> {
///         self.0 = self.0.saturating_sub(1);
///         if self.0 == 0 { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
///     }
/// }
/// ```
pub trait Observer {
    /// Called for each thing that a stage counts, and now and then in between, on the thread that plans: often enough to
    /// stop within a second, as a rule. Make it quick.
    fn progress(&mut self, progress: Progress) -> ControlFlow<()>;
}

/// How planning comes along.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Progress {
    /// What is being done.
    pub stage: Stage,
    /// How much of it is done: readings, clusters of devices or rounds, as the stage says.
    pub done: usize,
    /// Out of how many.
    pub of: usize,
}

/// What planning does, in order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum Stage {
    /// Works out what each reading can test; counts readings.
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
}

impl Stage {
    /// What it counts, in the plural.
    pub fn counts(self) -> &'static str {
        match self {
            Stage::Readings => "readings",
            Stage::Walks | Stage::Operations => "clusters",
            Stage::LargeClusters => "steps",
            Stage::Rounds => "rounds",
            Stage::IfKnown => "steps",
            Stage::Extras => "extras",
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

/// An observer, with what it has said so far.
pub(in crate::plan) struct Watch<'o> {
    observer: &'o mut dyn Observer,
    now: Progress,
    quiet: u32,
    stopped: bool,
    /// Whatever is done is done for the comparison.
    comparing: bool,
}

impl<'o> Watch<'o> {
    /// Within one reading, cluster or round the observer is asked once in as many steps.
    const STEPS: u32 = 64;

    pub(in crate::plan) fn new(observer: &'o mut dyn Observer) -> Watch<'o> {
        Watch {
            observer,
            now: Progress { stage: Stage::Readings, done: 0, of: 0 },
            quiet: 0,
            stopped: false,
            comparing: false,
        }
    }

    /// All that follows is one stage: the plan for known positions.
    pub(in crate::plan) fn compare(&mut self) {
        self.comparing = true;
    }

    /// Tells that a stage has come so far.
    pub(in crate::plan) fn at(&mut self, stage: Stage, done: usize, of: usize) {
        let stage = if self.comparing { Stage::IfKnown } else { stage };
        self.now = Progress { stage, done, of };
        self.ask();
    }

    /// One step more; whether to go on.
    pub(in crate::plan) fn goes_on(&mut self) -> bool {
        self.quiet += 1;
        if self.quiet >= Watch::STEPS {
            self.ask();
        }
        !self.stopped
    }

    fn ask(&mut self) {
        self.quiet = 0;
        if !self.stopped {
            self.stopped = self.observer.progress(self.now).is_break();
        }
    }

    /// Whether the observer has said to stop.
    pub(in crate::plan) fn is_stopped(&self) -> bool {
        self.stopped
    }
}
