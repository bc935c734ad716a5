//! What may be called what, and which known name is nearest to one that is not known.

use std::fmt;

use crate::model::InputLimits;

/// What an id, a name or a reference stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Named {
    /// A location.
    Location,
    /// A board.
    Board,
    /// A group of ways on a board.
    Group,
    /// A way of a board.
    Way,
    /// A circuit.
    Circuit,
    /// A point.
    Point,
    /// A length of cable.
    Length,
    /// A kind of point.
    Kind,
    /// A terminal.
    Terminal,
    /// A core of a length.
    Core,
    /// A position of a device.
    Position,
    /// A device or what holds bridges.
    Device,
    /// A line conductor.
    Line,
}

impl fmt::Display for Named {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Named::Location => "location",
            Named::Board => "board",
            Named::Group => "group",
            Named::Way => "way",
            Named::Circuit => "circuit",
            Named::Point => "point",
            Named::Length => "length",
            Named::Kind => "kind",
            Named::Terminal => "terminal",
            Named::Core => "core",
            Named::Position => "position",
            Named::Device => "device",
            Named::Line => "line conductor",
        })
    }
}

/// What is wrong with an id or a name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum NameFault {
    /// It has no characters.
    Empty,
    /// It has too many characters.
    TooLong {
        /// How many it has.
        length: usize,
        /// How many it may have.
        longest: usize,
    },
    /// It has a character that is not allowed.
    Character {
        /// The first such character.
        character: char,
    },
}

impl fmt::Display for NameFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            NameFault::Empty => f.write_str("is empty"),
            NameFault::TooLong { length, longest } => {
                write!(f, "has {length} characters, and {longest} is the most")
            }
            NameFault::Character { character } => write!(f, "holds {character:?}"),
        }
    }
}

/// The longest id.
pub(crate) const LONGEST_ID: usize = 64;
/// The longest name of a terminal, a core or a position.
pub(crate) const LONGEST_NAME: usize = 32;
/// What no group is called, for its terminals would be taken for the board's own.
pub(crate) const RESERVED_GROUPS: &[&str] = &["in", "bus", "E", "main"];
/// What no core is called: the word for the main earthing terminal in a pair.
pub(crate) const RESERVED_CORES: &[&str] = &["earth"];
/// What no position is called: the words of starts and operations.
pub(crate) const RESERVED_POSITIONS: &[&str] = &["fitted", "removed", "linked", "unknown", "other", "next"];

/// What is wrong with an id or a name, if anything.
pub(crate) fn name_fault(what: Named, name: &str) -> Option<NameFault> {
    let is_name = matches!(what, Named::Terminal | Named::Core | Named::Position);
    let longest = if is_name { LONGEST_NAME } else { LONGEST_ID };
    if name.is_empty() {
        return Some(NameFault::Empty);
    }
    let allowed = |c: char| c.is_ascii_alphanumeric() || c == '_' || (c == '-' && !is_name);
    if let Some(character) = name.chars().find(|&c| !allowed(c)) {
        return Some(NameFault::Character { character });
    }
    // All characters are ASCII by now.
    (name.len() > longest).then_some(NameFault::TooLong { length: name.len(), longest })
}

/// Finds the known name nearest to an unknown one, within a budget.
///
/// Every search looks at every known name, so that a file in which all of a hundred thousand names are unknown would
/// take time that grows with its square; after the budget is spent no name is proposed any more.
pub(crate) struct Nearest {
    /// In pairs of characters that are compared.
    budget: usize,
}

impl Default for Nearest {
    fn default() -> Self {
        Nearest::new(InputLimits::default().nearest_name)
    }
}

impl Nearest {
    pub(crate) fn new(budget: usize) -> Self {
        Nearest { budget }
    }

    /// The nearest of some names, the first of those that are equally near; none that differs in a third of its
    /// characters.
    pub(crate) fn among<'n>(&mut self, name: &str, known: impl IntoIterator<Item = &'n str>) -> Option<&'n str> {
        let length = name.chars().take(LONGEST_ID + 5).count();
        if length > LONGEST_ID + 4 {
            return None;
        }
        let allowed = (length / 3).clamp(1, 4);
        let mut best: Option<(usize, &str)> = None;
        for candidate in known {
            // Names that are known are ASCII, or wrong themselves.
            let comparable = candidate.len().abs_diff(length) <= allowed;
            let cost = if comparable { 50 + length * candidate.len() } else { 1 };
            self.budget = self.budget.saturating_sub(cost);
            if self.budget == 0 {
                break;
            }
            if !comparable {
                continue;
            }
            let is_same = candidate.eq_ignore_ascii_case(name);
            let distance = if is_same { 0 } else { strsim::osa_distance(name, candidate) };
            // A name of which nothing is left over is not near.
            let is_near = distance <= allowed && distance < length.max(candidate.len());
            if is_near && best.is_none_or(|(nearest, _)| distance < nearest) {
                best = Some((distance, candidate));
            }
        }
        best.map(|(_, candidate)| candidate)
    }
}

/// The names as a choice: `a`, `b` or `c`.
pub(crate) fn either<S: AsRef<str>>(names: &[S]) -> String {
    join(names, " or ")
}

/// The names as a list: `a`, `b` and `c`.
pub(crate) fn list<S: AsRef<str>>(names: &[S]) -> String {
    join(names, " and ")
}

fn join<S: AsRef<str>>(names: &[S], last: &str) -> String {
    let mut text = String::new();
    for (number, name) in names.iter().enumerate() {
        if number > 0 {
            text.push_str(if number + 1 == names.len() { last } else { ", " });
        }
        text.push('`');
        text.push_str(name.as_ref());
        text.push('`');
    }
    text
}
