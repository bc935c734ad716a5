//! Times as ratios: what is compared is timed by turns in one run, and medians are compared.
//!
//! A time alone says something of a machine, a ratio something of the program; so only ratios are given.

// Each benchmark takes what it needs.
#![allow(dead_code)]

use std::time::{Duration, Instant};

/// How much is to be done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Effort {
    /// `cargo bench`.
    Full,
    /// Anything else that runs the benchmarks (`cargo test --benches`): a small case, so that they keep working.
    Small,
}

impl Effort {
    pub fn asked_for() -> Effort {
        if std::env::args().any(|argument| argument == "--bench") { Effort::Full } else { Effort::Small }
    }

    pub fn of<T>(self, full: T, small: T) -> T {
        match self {
            Effort::Full => full,
            Effort::Small => small,
        }
    }
}

/// Time that this thread has spent on a processor: what else the machine does is not counted. Where the kernel does not
/// tell (`/proc/thread-self/schedstat`), the time that has passed.
pub fn on_processor() -> Duration {
    static FIRST: std::sync::OnceLock<Instant> = std::sync::OnceLock::new();
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").ok();
    let nanoseconds = told.as_deref().and_then(|text| text.split(' ').next()).and_then(|first| first.parse().ok());
    nanoseconds.map_or_else(|| FIRST.get_or_init(Instant::now).elapsed(), Duration::from_nanos)
}

pub fn timed<T>(work: impl FnOnce() -> T) -> (Duration, T) {
    let begun = Instant::now();
    let result = work();
    (begun.elapsed(), result)
}

/// Times each of several things so many times, by turns; gives the median of each.
pub fn by_turns<const N: usize>(times: usize, mut things: [&mut dyn FnMut(); N]) -> [Duration; N] {
    let mut all = [const { Vec::new() }; N];
    for _ in 0..times {
        for (thing, durations) in things.iter_mut().zip(&mut all) {
            durations.push(timed(&mut **thing).0);
        }
    }
    all.map(median)
}

pub fn median(mut durations: Vec<Duration>) -> Duration {
    durations.sort_unstable();
    durations[durations.len() / 2]
}

/// How many times as long `slow` takes as `fast`.
pub fn ratio(slow: Duration, fast: Duration) -> f64 {
    slow.as_secs_f64() / fast.as_secs_f64()
}

pub fn say(what: &str, figure: f64) {
    println!("  {what:<92} {figure:>10.2} x");
}
