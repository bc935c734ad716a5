//! Boxes that the feed goes through, one after the other: what each is, and where line and neutral come in and go on.

/// What the boxes under one key of a step are.
pub(super) struct FeedBox {
    pub(super) key: &'static str,
    pub(super) letter: char,
    pub(super) kind: &'static str,
    /// The terminals that line and neutral come to.
    pub(super) inward: [&'static str; 2],
    /// Those that the run goes on from.
    pub(super) onward: [&'static str; 2],
    /// Terminals beyond the kind's own.
    pub(super) terminals: &'static [&'static str],
    /// Keys of a step that say more about them.
    pub(super) says: &'static [&'static str],
}

const fn through(key: &'static str, letter: char, kind: &'static str, says: &'static [&'static str]) -> FeedBox {
    FeedBox { key, letter, kind, inward: ["L", "N"], onward: ["L", "N"], terminals: &[], says }
}

const fn switched(key: &'static str, kind: &'static str) -> FeedBox {
    let (inward, onward) = (["Lin", "Nin"], ["Lout", "Nout"]);
    FeedBox { key, letter: 'Q', kind, inward, onward, terminals: &[], says: &["kind"] }
}

/// A junction box that nothing hangs off, and lights without a switch.
pub(super) static JUNCTION: FeedBox = through("box", 'J', "junction", &[]);
pub(super) static LIGHTS: FeedBox = through("lights", 'E', "luminaire", &[]);

/// All that stand alone in a step.
pub(super) static ALONE: [FeedBox; 6] = [
    through("socket", 'X', "socket", &["back", "kind"]),
    through("sockets", 'X', "socket", &["back", "kind"]),
    switched("fused", "fused-connection"),
    switched("isolator", "double-pole"),
    FeedBox {
        key: "master",
        letter: 'S',
        kind: "one-way",
        inward: ["COM", "N"],
        onward: ["L1", "N"],
        terminals: &["N"],
        says: &["kind"],
    },
    through("appliance", 'H', "appliance", &["kind", "load"]),
];
