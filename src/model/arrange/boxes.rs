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
    /// Terminals that are joined for good.
    pub(super) links: &'static [[&'static str; 2]],
    /// The terminal from which a core goes on to the next box of the same sort.
    pub(super) shares: Option<&'static str>,
    /// Keys of a step that say more about them.
    pub(super) says: &'static [&'static str],
}

/// A box that line and neutral go through on the same terminals.
const fn through(key: &'static str, letter: char, kind: &'static str, says: &'static [&'static str]) -> FeedBox {
    let (inward, onward) = (["L", "N"], ["L", "N"]);
    FeedBox { key, letter, kind, inward, onward, terminals: &[], links: &[], shares: None, says }
}

const fn switched(key: &'static str, kind: &'static str) -> FeedBox {
    let (inward, onward) = (["Lin", "Nin"], ["Lout", "Nout"]);
    FeedBox { inward, onward, ..through(key, 'Q', kind, &["kind"]) }
}

const fn alarm(key: &'static str) -> FeedBox {
    FeedBox { shares: Some("IC"), ..through(key, 'B', "detector", &["kind"]) }
}

/// A junction box that nothing hangs off, and lights without a switch.
pub(super) static JUNCTION: FeedBox = through("box", 'J', "junction", &[]);
pub(super) static LIGHTS: FeedBox = through("lights", 'E', "luminaire", &[]);

/// All that stand in a step with the stops that they say, and no others.
pub(super) static ALONE: [FeedBox; 11] = [
    through("socket", 'X', "socket", &["back", "kind"]),
    through("sockets", 'X', "socket", &["back", "kind"]),
    switched("fused", "fused-connection"),
    switched("isolator", "double-pole"),
    FeedBox {
        inward: ["COM", "N"],
        onward: ["L1", "N"],
        terminals: &["N"],
        ..through("master", 'S', "one-way", &["kind"])
    },
    through("appliance", 'H', "appliance", &["kind", "load"]),
    through("transformer", 'T', "transformer", &[]),
    alarm("alarm"),
    alarm("alarms"),
    FeedBox {
        inward: ["1", "3"],
        onward: ["2", "4"],
        links: &[["A2", "3"]],
        ..through("contactor", 'K', "contactor", &["by"])
    },
    through("sensor", 'B', "sensor", &["override", "light", "lights", "lamp"]),
];
