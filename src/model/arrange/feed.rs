//! What a step is fed from, and the cores that lead on from there.

/// A point that something is fed from, or a way.
#[derive(Clone)]
pub(super) struct FeedPoint<'d> {
    /// As a length names it.
    pub(super) end: String,
    pub(super) location: Option<&'d str>,
    pub(super) plate: Option<&'d str>,
    /// Whether it is not there, for a reason that is reported.
    pub(super) is_lost: bool,
}

impl FeedPoint<'_> {
    /// One of which nothing is known.
    pub(super) fn lost() -> Self {
        FeedPoint { end: String::new(), location: None, plate: None, is_lost: true }
    }
}

/// A spot with the terminals that line and neutral are taken from.
#[derive(Clone)]
pub(super) struct Feed<'d> {
    pub(super) spot: FeedPoint<'d>,
    pub(super) line: &'d str,
    pub(super) neutral: &'d str,
    /// The terminal from which a core goes on beside them.
    pub(super) shares: Option<&'static str>,
}

impl<'d> Feed<'d> {
    pub(super) fn new(spot: FeedPoint<'d>, line: &'d str, neutral: &'d str) -> Self {
        Feed { spot, line, neutral, shares: None }
    }
}

/// A core by name, with its terminals at both ends.
pub(super) type Cores = Vec<(&'static str, [String; 2])>;

pub(super) fn core(name: &'static str, from: impl Into<String>, to: impl Into<String>) -> (&'static str, [String; 2]) {
    (name, [from.into(), to.into()])
}

/// Line and neutral of a feed, on to two terminals, and a third core between them.
pub(super) fn with_third(feed: &Feed<'_>, [line, neutral]: [&str; 2], third: [&str; 2]) -> Cores {
    vec![core("brown", feed.line, line), core("black", third[0], third[1]), core("grey", feed.neutral, neutral)]
}

/// Line and neutral of a feed, on to two terminals.
pub(super) fn line_and_neutral(feed: &Feed<'_>, [line, neutral]: [&str; 2]) -> Cores {
    vec![core("brown", feed.line, line), core("blue", feed.neutral, neutral)]
}
