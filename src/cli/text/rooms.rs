//! What is done and looked at in each room before readings.

use indexmap::{IndexMap, IndexSet};

use super::layout::{Page, metres};
use crate::network::Network;
use crate::plan::{PlanStart, Request};

/// Something that would lie across a reading and comes out.
pub(super) struct Outgoing<'t> {
    pub(super) name: &'t str,
    pub(super) kind: &'t str,
    /// It may conduct: the test voltage may damage it.
    pub(super) is_electronic: bool,
}

/// What is to be done in one room.
#[derive(Default)]
struct Room {
    /// For each way of taking out: the names.
    out: IndexMap<&'static str, IndexSet<String>>,
    /// Links that are put in, and terminals that are joined for good.
    joins: IndexSet<String>,
    /// For each position: the switches that stand in it.
    stand: IndexMap<String, Vec<String>>,
    as_found: Vec<String>,
    /// Switches that nobody operates.
    stay: Vec<String>,
}

/// The rooms in the order in which one goes through them, and last what the file says no room of.
pub(super) struct Rooms {
    by_name: IndexMap<Option<String>, Room>,
    has_electronics: bool,
    walk: String,
}

impl Rooms {
    /// Rooms with nothing to do in them yet.
    pub(super) fn of(network: &Network, start: &PlanStart, request: &Request) -> Rooms {
        let (rooms, walk) = start.rooms(network, request);
        let installation = network.installation();
        let names = rooms.into_iter().map(|room| Some(installation.location(room).name().to_owned()));
        let walk = walk.filter(|walk| walk.metres.0 > 0.0).map_or_else(String::new, |walk| {
            let order = if walk.shortest { "in this order, the shortest" } else { "in this order" };
            format!(" From the board and back: {}, {order}.", metres(walk.metres.0))
        });
        Rooms { by_name: names.map(|name| (name, Room::default())).collect(), has_electronics: false, walk }
    }

    fn room(&mut self, name: Option<&str>) -> &mut Room {
        self.by_name.entry(name.map(str::to_owned)).or_default()
    }

    /// Each thing comes out once, however many circuits it is in the way of.
    pub(super) fn take_out(&mut self, room: Option<&str>, thing: &Outgoing<'_>) {
        let Outgoing { name, kind, is_electronic } = *thing;
        self.has_electronics |= is_electronic;
        let star = if is_electronic { "*" } else { "" };
        let what_is_done = match kind {
            // The driver or the gear stays across the conductors when its lamp is out.
            "luminaire" if is_electronic => "disconnect with driver or gear",
            "luminaire" => "lamps out of",
            "rcbo" => "conductors out of",
            "detector" => "heads off",
            "contactor" => "disconnect the coil of",
            _ => "disconnect",
        };
        let name = match kind {
            "luminaire" | "detector" | "contactor" => format!("{name}{star}"),
            _ => format!("{name}{star} {kind}"),
        };
        self.room(room).out.entry(what_is_done).or_default().insert(name);
    }

    /// A link in the place of what is out.
    pub(super) fn link(&mut self, room: Option<&str>, terminals: &[String; 2]) {
        self.room(room).joins.insert(format!("link {}", terminals.join(" to ")));
    }

    /// What the file says is joined for good.
    pub(super) fn joined(&mut self, room: Option<&str>, point: &str, terminals: &[&str]) {
        let text = format!("see that {} of {point} are joined for good", terminals.join(" and "));
        self.room(room).joins.insert(text);
    }

    /// How a switch stands; `None` where nobody need know.
    pub(super) fn stands(&mut self, room: Option<&str>, point: &str, position: Option<&str>) {
        let room = self.room(room);
        match position {
            Some(position) => room.stand.entry(position.to_owned()).or_default().push(point.to_owned()),
            None => room.as_found.push(point.to_owned()),
        }
    }

    /// A switch that nobody operates, with how it stands.
    pub(super) fn stays(&mut self, room: Option<&str>, text: String) {
        self.room(room).stay.push(text);
    }

    /// Writes the first step as `head` leads to it, and a box for each room.
    pub(super) fn write(self, page: &mut Page, head: &str) {
        let Rooms { by_name, has_electronics, walk } = self;
        let as_found = if by_name.values().any(|room| !room.as_found.is_empty()) {
            " Nobody need know how those stand that are as found: a plan holds in any case."
        } else {
            ""
        };
        let text = format!("Go round, take out or disconnect by the maker's instructions, and look.{walk}{as_found}");
        page.after(0, head, 3, &text);
        if has_electronics {
            page.after(
                3,
                "* ",
                2,
                "Electronics, which the test voltage may damage, or which would be read instead of the insulation; what \
                 has no star would be read instead.",
            );
        }
        for (name, room) in by_name {
            let todo = room.in_words();
            if !todo.is_empty() {
                let name = name.as_deref().unwrap_or("In no room that the file names");
                page.after(3, "[ ] ", 4, &format!("{name}: {todo}."));
            }
        }
    }

    /// Whether there is anything to do.
    pub(super) fn is_empty(&self) -> bool {
        self.by_name.values().all(|room| room.in_words().is_empty())
    }
}

impl Room {
    fn in_words(&self) -> String {
        let out = self
            .out
            .iter()
            .map(|(what, names)| format!("{what} {}", names.iter().map(String::as_str).collect::<Vec<_>>().join(", ")));
        let stand = self.stand.iter().map(|(position, names)| format!("{position}: {}", names.join(", ")));
        let listed = |title: &str, names: &[String]| {
            Some(format!("{title}: {}", names.join(", "))).filter(|_| !names.is_empty())
        };
        let as_found = listed("as found", &self.as_found);
        let stay = listed("operated by nobody", &self.stay);
        out.chain(self.joins.iter().cloned()).chain(stand).chain(as_found).chain(stay).collect::<Vec<_>>().join("; ")
    }
}
