//! What a preparation switches off: hand-made cases, and a walk over the network's JSON that knows nothing of the list.

use std::collections::{BTreeMap, BTreeSet};

use lengthwise::model::Installation;
use lengthwise::network::Network;
use lengthwise::prepare::{Action, Caution, IsolateAt, Preparation, Step, WhyIsolated, WhyOff};
use proptest::prelude::*;
use serde_json::{Value, json};

use crate::engine;
use crate::strategy::{cases, times};

/// What the list of one circuit switches off, with what it refers to.
#[derive(Debug, Default, PartialEq)]
struct Off {
    /// What is listed once for all circuits that open it.
    opened: BTreeSet<String>,
    isolate: Vec<String>,
    before_main: Vec<String>,
    sources: Vec<Option<String>>,
    /// Ways that stay off since they feed what is opened.
    feeding: Vec<String>,
    /// Everything that stays off.
    off: BTreeSet<String>,
}

fn off(installation: &Installation) -> BTreeMap<String, Off> {
    let preparation = Preparation::of(&Network::of(installation.clone()));
    let rows = preparation.circuits.iter().map(|row| {
        let mut off = Off::default();
        for step in &row.steps {
            match &step.action {
                Action::Isolate { board, at: IsolateAt::BeforeMainSwitch, .. } => {
                    assert_eq!(step.caution, Some(Caution::LiveParts));
                    off.before_main.push(board.clone());
                }
                Action::Isolate { board, why, .. } => {
                    assert_eq!(step.caution, Some(Caution::LiveBefore), "its incoming side stays live");
                    assert_eq!(
                        *why == WhyIsolated::OwnBoard,
                        off.isolate.is_empty() && is_own(installation, row, board)
                    );
                    off.isolate.push(board.clone());
                }
                Action::IsolateSource { point, .. } => {
                    assert_eq!(step.caution, Some(Caution::LiveParts));
                    off.sources.push(point.clone());
                }
                Action::KeepOff { device, why } => {
                    assert!(off.off.insert(device.clone()), "{device} once");
                    if *why == WhyOff::FeedsWhatIsOpened {
                        off.feeding.push(device.clone());
                    }
                }
                Action::IsolateFor { opened } => {
                    assert_eq!(step.caution, Some(Caution::LiveParts));
                    assert!(off.opened.insert(opened.clone()), "{opened} once");
                }
                _ => {}
            }
        }
        for opened in off.opened.clone() {
            let mut rows = preparation.opened.iter().filter(|row| row.opened == opened);
            let row = rows.next().unwrap_or_else(|| panic!("{opened} is listed"));
            assert_eq!(rows.next(), None, "{opened} is listed once");
            off.refer_to(&row.steps);
        }
        (row.circuit.clone(), off)
    });
    rows.collect()
}

impl Off {
    /// Adds what the list does not name itself.
    fn refer_to(&mut self, steps: &[Step]) {
        fn add<T: PartialEq>(list: &mut Vec<T>, entry: T) {
            if !list.contains(&entry) {
                list.push(entry);
            }
        }
        for step in steps {
            match step.action.clone() {
                Action::Isolate { board, at: IsolateAt::BeforeMainSwitch, .. } => add(&mut self.before_main, board),
                Action::Isolate { board, .. } => add(&mut self.isolate, board),
                Action::IsolateSource { point, .. } => add(&mut self.sources, point),
                Action::KeepOff { device, why } => {
                    assert_eq!(why, WhyOff::FeedsWhatIsOpened);
                    if self.off.insert(device.clone()) {
                        self.feeding.push(device);
                    }
                }
                other => panic!("{other:?} isolates nothing"),
            }
        }
    }
}

fn is_own(installation: &Installation, row: &lengthwise::prepare::CircuitPreparation, board: &str) -> bool {
    installation.circuits().any(|(_, circuit)| {
        let own = circuit.way().map(|way| installation.board(way.board()).id());
        circuit.id() == row.circuit && own == Some(board)
    })
}

/// DB1 at the supply with ways 1, 2 and 9; DB2, which way 9 feeds, with ways 1 and 2; circuits CF on 9, C1 and C2 on the
/// ways 1 of the two boards.
fn two_boards(circuits: Value, points: Value, lengths: Value) -> Value {
    let way = |id: &str| json!({ "id": id, "device": "mcb" });
    let mut file = json!({
        "format": 1,
        "installation": { "name": "Two boards", "nominal_voltage": 230, "earthing": "TN-S" },
        "board": [{ "id": "DB1", "origin": true, "way": [way("1"), way("2"), way("9")] },
                  { "id": "DB2", "way": [way("1"), way("2")] }],
        "circuit": [{ "id": "CF", "way": "DB1/9" }, { "id": "C1", "way": "DB1/1" }, { "id": "C2", "way": "DB2/1" }],
        "point": points,
        "length": [length("WF", "CF", "DB1/9", "DB2.in", &[("L", "L"), ("N", "N"), ("E", "E")])],
    });
    for (list, entries) in [("circuit", circuits), ("length", lengths)] {
        file[list].as_array_mut().unwrap().extend(entries.as_array().unwrap().iter().cloned());
    }
    file
}

fn length(id: &str, circuit: &str, from: &str, to: &str, cores: &[(&str, &str)]) -> Value {
    let cores: serde_json::Map<String, Value> =
        cores.iter().enumerate().map(|(number, (a, b))| (format!("c{number}"), json!([a, b]))).collect();
    json!({ "id": id, "circuit": circuit, "from": from, "to": to, "metres": 5, "cores": cores })
}

const FULL: &[(&str, &str)] = &[("L", "L"), ("N", "N"), ("E", "E")];

fn of(file: &Value) -> BTreeMap<String, Off> {
    off(&engine::from_value(file))
}

/// A contactor's coil on one board, its contacts on another: whoever opens it for either circuit has both in it. The
/// feeder's own list has nothing to do with it.
#[test]
fn a_coil_fed_from_another_board_isolates_that_one_too() {
    let file = two_boards(
        json!([]),
        json!([{ "id": "K1", "kind": "contactor", "circuit": "C2" }, { "id": "X2", "kind": "appliance", "circuit": "C2" }]),
        json!([
            length("W1", "C1", "DB1/1", "K1", &[("L", "A1"), ("N", "A2"), ("E", "E")]),
            length("W2", "C2", "DB2/1", "K1", &[("L", "1"), ("N", "3"), ("E", "E")]),
            length("W3", "C2", "K1", "X2", &[("2", "L"), ("4", "N"), ("E", "E")]),
        ]),
    );
    let off = of(&file);
    assert_eq!(off["C2"].isolate, ["DB2", "DB1"], "its own first");
    assert_eq!(off["C2"].feeding, ["DB1/1"]);
    assert_eq!(off["C1"].isolate, ["DB1", "DB2"]);
    assert_eq!(off["C1"].feeding, ["DB2/1"]);
    assert_eq!(off["CF"].isolate, ["DB1"]);
}

/// Strappers and the lamp behind them are fed from DB1, the lamp's neutral is on DB2: through the lamp DB2's neutral bar
/// can be live from DB1, so every circuit of DB2 needs both off.
#[test]
fn a_line_borrowed_from_another_board_isolates_both() {
    let file = two_boards(
        json!([{ "id": "C3", "way": "DB2/2" }]),
        json!([
            { "id": "S1", "kind": "two-way", "circuit": "C1" },
            { "id": "S2", "kind": "two-way", "circuit": "C2" },
            { "id": "E1", "kind": "luminaire", "circuit": "C2" },
        ]),
        json!([
            length("W1", "C1", "DB1/1", "S1", &[("L", "COM"), ("E", "E")]),
            length("W2", "C2", "S1", "S2", &[("L1", "L1"), ("L2", "L2"), ("E", "E")]),
            length("W3", "C2", "S2", "E1", &[("COM", "L"), ("E", "E")]),
            length("W4", "C2", "DB2/1", "E1", &[("N", "N"), ("E", "E")]),
        ]),
    );
    let off = of(&file);
    assert_eq!(off["C2"].isolate, ["DB2", "DB1"]);
    assert_eq!(off["C2"].feeding, ["DB1/1"]);
    assert_eq!(off["C3"].isolate, ["DB2", "DB1"]);
}

/// Two switches in one box, each on a board of its own; nothing joins them.
#[test]
fn one_box_with_two_boards_in_it_isolates_both() {
    let file = two_boards(
        json!([]),
        json!([
            { "id": "S1", "kind": "one-way", "circuit": "C1", "plate": "hall" },
            { "id": "S2", "kind": "one-way", "circuit": "C2", "plate": "hall" },
        ]),
        json!([
            length("W1", "C1", "DB1/1", "S1", &[("L", "COM"), ("E", "E")]),
            length("W2", "C2", "DB2/1", "S2", &[("L", "COM"), ("E", "E")]),
        ]),
    );
    let off = of(&file);
    assert_eq!(
        (&*off["C1"].isolate, &*off["C1"].feeding),
        (&["DB1", "DB2"].map(str::to_owned)[..], &["DB2/1".to_owned()][..])
    );
    assert_eq!(
        (&*off["C2"].isolate, &*off["C2"].feeding),
        (&["DB2", "DB1"].map(str::to_owned)[..], &["DB1/1".to_owned()][..])
    );
    let mut apart = file;
    apart["point"][0]["plate"] = "porch".into();
    let off = of(&apart);
    assert_eq!(off["C1"].isolate, ["DB1"], "apart, each has its own");
    assert_eq!(off["C2"].isolate, ["DB2"]);
}

/// A length of one board's circuit ends at a way of another; a neutral alone is enough.
#[test]
fn copper_that_is_common_to_two_boards_isolates_both() {
    let points = json!([{ "id": "X1", "kind": "socket", "circuit": "C1" }]);
    let lengths = json!([length("W1", "C1", "DB1/1", "X1", FULL), length("W2", "C1", "X1", "DB2/2", FULL)]);
    let off = of(&two_boards(json!([]), points.clone(), lengths));
    assert_eq!(off["C1"].isolate, ["DB1", "DB2"]);
    assert_eq!(off["C1"].feeding, ["DB2/2"]);

    let lengths = json!([length("W1", "C1", "DB1/1", "X1", FULL), length("W2", "C1", "X1", "DB2/2", &[("N", "N")])]);
    let off = of(&two_boards(json!([]), points, lengths));
    assert_eq!(off["C1"].isolate, ["DB1", "DB2"]);
    assert_eq!(off["C2"].isolate, ["DB2", "DB1"], "its neutral bar is joined to that of DB1");
}

/// Earth is common to everything, and a neutral bar to its board: the board is off as a whole.
#[test]
fn earth_and_a_common_neutral_bar_keep_no_other_way_off() {
    let file = two_boards(
        json!([{ "id": "C3", "way": "DB1/2" }]),
        json!([{ "id": "E1", "kind": "luminaire", "circuit": "C1" }, { "id": "E3", "kind": "luminaire", "circuit": "C3" }]),
        json!([length("W1", "C1", "DB1/1", "E1", FULL), length("W3", "C3", "DB1/2", "E3", FULL)]),
    );
    let off = of(&file);
    assert_eq!(off["C1"].isolate, ["DB1"]);
    assert_eq!(off["C1"].off, ["DB1/1", "DB1.main"].map(str::to_owned).into());
}

/// A transformer on a transformer, and one on a fused connection: the way at the end of the chain feeds them.
#[test]
fn a_chain_of_sources_leads_back_to_its_way() {
    let file = two_boards(
        json!([{ "id": "F1", "system": "felv" }, { "id": "F2", "system": "selv" }, { "id": "F3", "system": "felv" }]),
        json!([
            { "id": "T1", "kind": "transformer", "circuit": "C1" },
            { "id": "T2", "kind": "transformer", "circuit": "F1" },
            { "id": "E1", "kind": "luminaire", "circuit": "F2" },
            { "id": "Q1", "kind": "fused-connection", "circuit": "C2" },
            { "id": "X3", "kind": "appliance", "circuit": "F3" },
        ]),
        json!([
            length("W1", "C1", "DB1/1", "T1", FULL),
            length("W2", "F1", "T1", "T2", &[("V1", "L"), ("V2", "N")]),
            length("W3", "F2", "T2", "E1", &[("V1", "L"), ("V2", "N")]),
            length("W4", "C2", "DB2/1", "Q1", &[("L", "Lin"), ("N", "Nin")]),
            length("W5", "F3", "Q1", "X3", &[("Lout", "L"), ("Nout", "N")]),
        ]),
    );
    let off = of(&file);
    for circuit in ["F1", "F2"] {
        assert_eq!(off[circuit].isolate, ["DB1"], "{circuit}");
        assert_eq!(off[circuit].feeding, ["DB1/1"], "{circuit}");
        assert_eq!(off[circuit].sources, []);
    }
    assert_eq!((&*off["F3"].isolate, &*off["F3"].feeding), (&["DB2".to_owned()][..], &["DB2/1".to_owned()][..]));
}

/// Where the file does not say what feeds a source, or a circuit, nobody may think that it is off.
#[test]
fn what_nothing_in_the_file_feeds_is_isolated_at_its_source() {
    let file = two_boards(
        json!([{ "id": "F1", "system": "selv" }, { "id": "F2", "system": "selv" }]),
        json!([
            { "id": "T1", "kind": "transformer", "circuit": "F1" },
            { "id": "E1", "kind": "luminaire", "circuit": "F1" },
            { "id": "E2", "kind": "luminaire", "circuit": "F2" },
            { "id": "E3", "kind": "luminaire", "circuit": "F2" },
        ]),
        json!([
            length("W1", "F1", "T1", "E1", &[("V1", "L"), ("V2", "N")]),
            length("W2", "F2", "E2", "E3", &[("L", "L"), ("N", "N")]),
        ]),
    );
    let off = of(&file);
    assert_eq!(off["F1"].sources, [Some("T1".to_owned())]);
    assert_eq!(off["F2"].sources, [None]);
    assert_eq!(off["C1"].sources, []);
}

/// Surge protection on the incoming side, as it is often fitted: the board's own main switch does not cut it off.
#[test]
fn what_is_before_a_main_switch_is_isolated_before_it() {
    let file = two_boards(
        json!([]),
        json!([{ "id": "Z1", "kind": "surge-protector", "circuit": "C1" }]),
        json!([length("W1", "C1", "DB1.in", "Z1", FULL)]),
    );
    assert_eq!(of(&file)["C1"].before_main, ["DB1"]);
    // DB2's incoming side is off where DB1 is.
    let mut file = file;
    file["length"][1]["from"] = "DB2.in".into();
    let off = of(&file);
    assert_eq!(off["C1"].before_main, [] as [&str; 0]);
    assert_eq!(off["C1"].feeding, ["DB1/9"]);
    // Without the feeder nobody knows what feeds it.
    file["length"].as_array_mut().unwrap().remove(0);
    assert_eq!(of(&file)["C1"].before_main, ["DB2"]);
}

/// A board without a main switch is off only where its supply is, through an isolator beside it too.
#[test]
fn a_board_without_a_main_switch_is_off_where_its_supply_is() {
    let mut file = two_boards(
        json!([]),
        json!([{ "id": "X2", "kind": "socket", "circuit": "C2" }, { "id": "Q1", "kind": "double-pole", "circuit": "CF" }]),
        json!([length("W2", "C2", "DB2/1", "X2", FULL)]),
    );
    file["board"][1]["main_switch"] = false.into();
    let off = of(&file);
    assert_eq!(
        (&*off["C2"].isolate, &*off["C2"].feeding),
        (&["DB2", "DB1"].map(str::to_owned)[..], &["DB1/9".to_owned()][..])
    );
    file["length"][0] = length("WF", "CF", "DB1/9", "Q1", &[("L", "Lin"), ("N", "Nin"), ("E", "E")]);
    let behind = length("WG", "CF", "Q1", "DB2.in", &[("Lout", "L"), ("Nout", "N"), ("E", "E")]);
    file["length"].as_array_mut().unwrap().push(behind);
    let off = of(&file);
    assert_eq!(
        (&*off["C2"].isolate, &*off["C2"].feeding),
        (&["DB2", "DB1"].map(str::to_owned)[..], &["DB1/9".to_owned()][..])
    );
}

/// A board that feeds nothing of a circuit but is fed from behind feeds it through its incoming side.
#[test]
fn a_feeder_that_is_fed_from_behind_isolates_what_does_that() {
    let mut file = two_boards(
        json!([{ "id": "C3", "way": "DB3/1" }]),
        json!([{ "id": "X2", "kind": "socket", "circuit": "C2" }]),
        json!([length("W2", "C2", "DB2/1", "X2", FULL), length("W3", "C3", "X2", "DB3/1", FULL)]),
    );
    file["board"].as_array_mut().unwrap().push(json!({ "id": "DB3", "way": [{ "id": "1", "device": "mcb" }] }));
    let off = of(&file);
    for circuit in ["CF", "C1"] {
        assert_eq!(off[circuit].isolate, ["DB1", "DB2", "DB3"], "{circuit}");
    }
}

/// Which boards and ways can feed terminals, from `network --json` alone: copper first, then contacts of points and bridges.
struct Walk {
    copper: BTreeMap<String, usize>,
    /// Pieces of copper that a contact of a point or one holder's bridges lie between.
    edges: Vec<[usize; 2]>,
    boards: Vec<String>,
}

impl Walk {
    fn of(installation: &Value, network: &Value) -> Walk {
        let text = |value: &Value| value.as_str().map(str::to_owned);
        let list = |value: &Value| value.as_array().expect("a list").clone();
        let mut copper: BTreeMap<String, usize> = BTreeMap::new();
        for terminal in list(&network["terminals"]) {
            let next = copper.len();
            copper.entry(text(&terminal).unwrap()).or_insert(next);
        }
        let joins = list(&network["joins"]).into_iter().map(|join| list(&join));
        let cores = list(&network["cores"]).into_iter().map(|core| list(&core["ends"]));
        for join in joins.chain(cores) {
            let names: Vec<String> = join.iter().filter_map(text).collect();
            for pair in names.windows(2) {
                let [from, to] = [copper[&pair[0]], copper[&pair[1]]];
                copper.values_mut().filter(|piece| **piece == from).for_each(|piece| *piece = to);
            }
        }
        let at_point: BTreeSet<String> = list(&network["devices"])
            .iter()
            .filter(|device| device["worked_at"] == "point")
            .filter_map(|device| text(&device["device"]))
            .collect();
        let mut edges = Vec::new();
        for contact in list(&network["contacts"]) {
            if at_point.contains(contact["device"].as_str().unwrap()) {
                edges.push([0, 1].map(|side| copper[contact["between"][side].as_str().unwrap()]));
            }
        }
        let mut holders: BTreeMap<String, Vec<usize>> = BTreeMap::new();
        for bridge in list(&network["bridges"]) {
            let ends = [0, 1].map(|side| copper[bridge["between"][side].as_str().unwrap()]);
            holders.entry(text(&bridge["id"]).unwrap()).or_default().extend(ends);
        }
        for ends in holders.values() {
            edges.extend(ends.iter().flat_map(|&one| ends.iter().map(move |&other| [one, other])));
        }
        let boards = list(&installation["board"]).iter().map(|board| text(&board["id"]).unwrap()).collect();
        Walk { copper, edges, boards }
    }

    /// The board that a live terminal belongs to, with what comes behind its name; none for a terminal of a point or of earth.
    fn live<'t>(&self, terminal: &'t str) -> Option<(&str, &'t str)> {
        let (head, conductor) = terminal.rsplit_once('.')?;
        let board = self.boards.iter().find(|board| {
            head.strip_prefix(board.as_str()).is_some_and(|rest| rest.is_empty() || rest.starts_with(['.', '/']))
        })?;
        (conductor != "E").then(|| (board.as_str(), &terminal[board.len()..]))
    }

    /// Boards whose bars or ways can be reached, and ways whose line can be without passing through a bar.
    fn feeding(&self, from: &[String]) -> (BTreeSet<String>, BTreeSet<String>) {
        let mut earth: BTreeSet<usize> = BTreeSet::new();
        let (mut live, mut bars) = (BTreeSet::new(), BTreeSet::new());
        for (terminal, &piece) in &self.copper {
            match self.live(terminal) {
                Some((_, rest)) => {
                    live.insert(piece);
                    if rest.starts_with('.') && !rest.starts_with(".in.") {
                        bars.insert(piece);
                    }
                }
                None if terminal == "MET" || self.boards.iter().any(|board| terminal.starts_with(board.as_str())) => {
                    earth.insert(piece);
                }
                None => {}
            }
        }
        earth.retain(|piece| !live.contains(piece));
        let reached = |stops: &dyn Fn(usize) -> bool| {
            let mut seen: BTreeSet<usize> = from.iter().map(|terminal| self.copper[terminal]).collect();
            loop {
                let mut next = seen.clone();
                for [a, b] in &self.edges {
                    for [a, b] in [[a, b], [b, a]] {
                        if seen.contains(a) && !stops(*a) && !earth.contains(b) {
                            next.insert(*b);
                        }
                    }
                }
                if next == seen {
                    return seen;
                }
                seen = next;
            }
        };
        let all = reached(&|piece| earth.contains(&piece));
        let near = reached(&|piece| earth.contains(&piece) || bars.contains(&piece));
        let (mut boards, mut ways) = (BTreeSet::new(), BTreeSet::new());
        for (terminal, piece) in &self.copper {
            let Some((board, rest)) = self.live(terminal).filter(|(_, rest)| !rest.starts_with(".in.")) else {
                continue;
            };
            if all.contains(piece) {
                boards.insert(board.to_owned());
            }
            if near.contains(piece) && rest.starts_with('/') && !terminal.ends_with(".N") {
                ways.insert(terminal.rsplit_once('.').unwrap().0.to_owned());
            }
        }
        (boards, ways)
    }
}

/// Further boards feed some terminals of points, and some points share a plate.
fn spoilt(mut file: Value, picks: [usize; 3], boards: usize) -> Value {
    let terminals: Vec<(String, String)> = {
        let network = serde_json::to_value(Network::of(engine::from_value(&file)).report()).unwrap();
        let points: BTreeSet<&str> =
            file["point"].as_array().unwrap().iter().map(|point| point["id"].as_str().unwrap()).collect();
        let names = network["terminals"].as_array().unwrap().iter();
        names
            .filter_map(|name| name.as_str().unwrap().split_once('.'))
            .filter(|(point, _)| points.contains(point))
            .map(|(point, terminal)| (point.to_owned(), terminal.to_owned()))
            .collect()
    };
    if terminals.is_empty() {
        return file;
    }
    let line = if file["installation"]["phases"] == 3 { "L1" } else { "L" };
    let push = |file: &mut Value, list: &str, entry: Value| file[list].as_array_mut().unwrap().push(entry);
    for number in 0..boards {
        let (point, terminal) = &terminals[(picks[0] + number) % terminals.len()];
        let [board, circuit, length_id] = ["DBX", "CX", "WX"].map(|name| format!("{name}{number}"));
        let way = format!("{board}/1");
        push(&mut file, "board", json!({ "id": board, "way": [{ "id": "1", "device": "mcb" }] }));
        push(&mut file, "circuit", json!({ "id": circuit, "way": way }));
        push(&mut file, "length", length(&length_id, &circuit, &way, point, &[(line, terminal)]));
    }
    let count = file["point"].as_array().unwrap().len();
    for pick in &picks[1..] {
        file["point"][pick % count]["plate"] = "one-box".into();
    }
    file
}

fn check(name: &str, file: &Value) -> usize {
    let installation = engine::from_value(file);
    let network = serde_json::to_value(Network::of(installation.clone()).report()).expect("it is JSON");
    let walk = Walk::of(file, &network);
    let lists = off(&installation);
    let points = file["point"].as_array().cloned().unwrap_or_default();
    let mut of_others = 0;
    for circuit in file["circuit"].as_array().unwrap() {
        let list = &lists[circuit["id"].as_str().unwrap()];
        let own = points.iter().filter(|point| point["circuit"] == circuit["id"]);
        let plates: BTreeSet<&str> = own.clone().filter_map(|point| point["plate"].as_str()).collect();
        let beside = points.iter().filter(|point| point["plate"].as_str().is_some_and(|plate| plates.contains(plate)));
        let touched: BTreeSet<&str> = own.chain(beside).map(|point| point["id"].as_str().unwrap()).collect();
        let terminals: Vec<String> = walk
            .copper
            .keys()
            .filter(|terminal| terminal.split_once('.').is_some_and(|(point, _)| touched.contains(point)))
            .cloned()
            .collect();
        let (boards, ways) = walk.feeding(&terminals);
        for board in &boards {
            assert!(list.isolate.contains(board), "{name}: {board} can feed {circuit}\n{list:?}");
        }
        for way in &ways {
            assert!(list.off.contains(way), "{name}: {way} can feed {circuit}\n{list:?}");
        }
        let own_board = circuit["way"].as_str().map(|way| way.split_once('/').unwrap().0);
        of_others += boards.iter().filter(|board| own_board != Some(board.as_str())).count();
    }
    of_others
}

proptest! {
    #![proptest_config(times(256))]

    #[test]
    fn whatever_can_feed_an_accessory_is_switched_off(case in cases(), picks in prop::array::uniform3(any::<u16>())) {
        check("case", &case.installation);
        let spoilt = spoilt(case.installation, picks.map(usize::from), 1);
        prop_assume!(spoilt["board"].as_array().unwrap().iter().any(|board| board["id"] == "DBX0"));
        // The further board's own circuit opens what it feeds.
        check("spoilt", &spoilt);
    }
}

proptest! {
    #![proptest_config(times(64))]

    /// The same where so many boards can feed an accessory that it is listed once for all circuits.
    #[test]
    fn whatever_much_can_feed_is_switched_off_too(
        case in cases(),
        picks in prop::array::uniform3(any::<u16>()),
        boards in 9..24usize,
    ) {
        check("crowded", &spoilt(case.installation, picks.map(usize::from), boards));
    }
}

/// Boards, each with a switch of its own on one plate: up to 16 entries a circuit lists what feeds the plate itself, more
/// is listed once and referred to. It is the same either way.
#[test]
fn what_is_listed_once_is_what_each_circuit_would_list() {
    for boards in [2, 8, 9, 30] {
        let names = || (1..=boards).map(|number| format!("DB{number}"));
        let way =
            |name: &String| json!({ "id": name, "origin": name == "DB1", "way": [{ "id": "1", "device": "mcb" }] });
        let number = |name: &str| name.trim_start_matches("DB").to_owned();
        let circuits = names().map(|name| json!({ "id": format!("C{}", number(&name)), "way": format!("{name}/1") }));
        let points = names().map(|name| {
            let id = format!("S{}", number(&name));
            json!({ "id": id, "kind": "one-way", "circuit": format!("C{}", number(&name)), "plate": "hall" })
        });
        let lengths = names().map(|name| {
            let [id, circuit, switch] = ["W", "C", "S"].map(|of| format!("{of}{}", number(&name)));
            length(&id, &circuit, &format!("{name}/1"), &switch, &[("L", "COM")])
        });
        let file = json!({
            "format": 1,
            "installation": { "name": "Plate", "nominal_voltage": 230, "earthing": "TN-S" },
            "board": names().map(|name| way(&name)).collect::<Vec<_>>(),
            "circuit": circuits.collect::<Vec<_>>(),
            "point": points.collect::<Vec<_>>(),
            "length": lengths.collect::<Vec<_>>(),
        });
        let off = of(&file);
        assert_eq!(off.len(), boards);
        for name in names() {
            let list = &off[&format!("C{}", number(&name))];
            assert_eq!(list.opened.is_empty(), boards <= 8, "{boards} boards and as many ways");
            let isolated: BTreeSet<&String> = list.isolate.iter().collect();
            assert_eq!(isolated, names().collect::<Vec<_>>().iter().collect(), "{name} of {boards}");
            let feeding: BTreeSet<String> = list.feeding.iter().cloned().collect();
            let others = names().filter(|other| *other != name).map(|other| format!("{other}/1"));
            assert_eq!(feeding, others.collect(), "{name} of {boards}");
        }
        // For each circuit all the other boards.
        assert_eq!(check("plate", &file), boards * (boards - 1));
    }
}

/// A property that is met by lists of nothing but one's own board would prove nothing.
#[test]
fn the_walk_finds_boards_of_others() {
    let file = two_boards(
        json!([]),
        json!([{ "id": "X1", "kind": "socket", "circuit": "C1" }, { "id": "X2", "kind": "socket", "circuit": "C2" }]),
        json!([length("W1", "C1", "DB1/1", "X1", FULL), length("W2", "C2", "DB2/1", "X2", FULL)]),
    );
    assert_eq!(check("apart", &file), 0);
    assert!(check("spoilt", &spoilt(file, [0, 0, 1], 1)) >= 3);
}
