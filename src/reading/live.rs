//! The edges at a body over which a reading may go on.

use super::configuration::{Conduct, Configuration, FreeDevices};
use crate::network::{Body, Edge, Network, Version};

/// A body with more edges than this has a list of those that count. The neutral bar of a board has an edge for
/// everything that is fitted in any of its circuits, and hardly one conducts while these are out.
const MANY: usize = 32;

/// Stands for no list.
const NONE: u32 = u32::MAX;

/// The edges that may conduct. At a body with many they are sought once for as long as everything stands so: each
/// reading there would walk all of them.
#[derive(Clone, Default)]
pub(super) struct LiveEdges {
    /// For each body, the number of its list.
    list_of: Vec<u32>,
    lists: Vec<List>,
    /// Those of the body that was walked last.
    found: Vec<(Body, Edge)>,
}

/// What a list holds for: how the network is, how everything stands, and whether devices that can be chosen are free.
type Holds = (Version, Version, bool);

#[derive(Clone)]
struct List {
    holds: Holds,
    /// In the order of the network; all but those that never conduct. Where devices can be chosen all contacts are here,
    /// since which are free is another question.
    edges: Vec<(Body, Edge)>,
}

impl LiveEdges {
    pub(super) fn new(network: &Network) -> LiveEdges {
        LiveEdges { list_of: vec![NONE; network.body_count()], lists: Vec::new(), found: Vec::new() }
    }

    /// Tells of each edge at a body that conducts in some position of free devices the body beyond it, when it conducts,
    /// and which it is; in the order of the network.
    pub(super) fn at(
        &mut self,
        network: &Network,
        state: &Configuration,
        free: FreeDevices<'_>,
        body: Body,
        mut tell: impl FnMut(Body, Conduct, Edge),
    ) {
        let are_chosen = matches!(free, FreeDevices::These(_));
        let holds = (network.version(), state.version(), are_chosen);
        let number = self.list_of[body as usize];
        if let Some(list) = self.lists.get(number as usize).filter(|list| list.holds == holds) {
            for &(far, edge) in &list.edges {
                if let Some(conduct) = state.conduct(network, free, edge) {
                    tell(far, conduct, edge);
                }
            }
            return;
        }
        self.found.clear();
        let mut count = 0;
        for (far, edge) in network.edges_at(body) {
            count += 1;
            let conduct = state.conduct(network, free, edge);
            if conduct.is_some() || are_chosen && matches!(edge, Edge::Contact(_)) {
                self.found.push((far, edge));
            }
            if let Some(conduct) = conduct {
                tell(far, conduct, edge);
            }
        }
        if count > MANY {
            let edges = self.found.clone();
            match self.lists.get_mut(number as usize) {
                Some(list) => *list = List { holds, edges },
                None => {
                    self.list_of[body as usize] = self.lists.len() as u32;
                    self.lists.push(List { holds, edges });
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::*;
    use crate::model::{Conductor, TerminalRef};
    use crate::reading::Replay;
    use crate::{Input, read_installation, read_test_set};

    /// Lights on one neutral bar, and passes that fit one and take it out again: a list has what conducts as everything
    /// stands in that pass, and no more.
    #[test]
    fn a_list_has_what_may_conduct_now() {
        let all = || (1..=2 * MANY).map(|number| [format!("C{number}"), format!("DB/{number}"), format!("E{number}")]);
        let ways: Vec<Value> = (1..=2 * MANY).map(|way| json!({ "id": way.to_string(), "device": "mcb" })).collect();
        let circuits: Vec<Value> = all().map(|[circuit, way, _]| json!({ "id": circuit, "way": way })).collect();
        let lights: Vec<Value> = all().map(|[_, _, light]| json!({ "id": light, "kind": "luminaire" })).collect();
        let lengths = all().map(|[circuit, way, light]| {
            json!({ "id": format!("W{circuit}"), "circuit": circuit, "from": way, "to": light, "metres": 1,
                    "cores": { "brown": ["L", "L"], "blue": ["N", "N"], "cpc": ["E", "E"] } })
        });
        let file = json!({ "format": 1, "installation": { "name": "One board", "nominal_voltage": 230 },
                           "board": [{ "id": "DB", "origin": true, "way": ways }], "circuit": circuits,
                           "point": lights, "length": lengths.collect::<Vec<_>>() });
        let tests =
            json!({ "format": 1, "pass": [{}, { "refit": ["E3"] }, { "refit": ["E5"] }, { "remove": ["E3"] }] });
        let installation = read_installation(Input::json(&file.to_string())).expect("it is valid");
        let tests = read_test_set(Input::json(&tests.to_string()), &installation).expect("it is valid");
        let board = installation.boards().next().expect("there is one").0;
        let network = Network::of(installation);
        let neutral = network.body(TerminalRef::Bus { board, conductor: Conductor::Neutral });

        let mut live = LiveEdges::new(&network);
        let mut replay = Replay::of(&network, &tests);
        let mut walked = Vec::new();
        while let Some((_, state)) = replay.next_pass() {
            let conducting: Vec<(Body, Edge)> =
                network.edges_at(neutral).filter(|&(_, edge)| state.may_conduct(&network, edge)).collect();
            for _ in 0..2 {
                let mut told = Vec::new();
                live.at(&network, state, FreeDevices::Unknown, neutral, |far, _, edge| told.push((far, edge)));
                assert_eq!(told, conducting);
            }
            walked.push(live.lists[live.list_of[neutral as usize] as usize].edges.len());
        }
        assert_eq!(walked, [0, 1, 2, 1], "of {} edges", network.edges_at(neutral).count());
    }
}
