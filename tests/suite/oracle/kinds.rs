//! The table of kinds in FORMAT.md, row for row, and the kinds that a file declares.

use serde_json::Value;

/// Kind; terminals; positions and what each joins; bridges. In the last, `lamp` and `load` stand for what the point's key
/// of that name says, `passing` for one that may conduct and passes, and `fixed` for bridges that cannot be removed.
const TABLE: &[(&str, &str, &str, &str)] = &[
    ("one-way", "COM L1", "on COM-L1; off", ""),
    ("two-way", "COM L1 L2", "L1 COM-L1; L2 COM-L2", ""),
    ("intermediate", "A1 A2 B1 B2", "straight A1-B1 A2-B2; crossed A1-B2 A2-B1", ""),
    ("double-pole", "Lin Lout Nin Nout", "on Lin-Lout Nin-Nout; off", ""),
    ("triple-pole", "L1in L1out L2in L2out L3in L3out", "on L1in-L1out L2in-L2out L3in-L3out; off", ""),
    ("fused-connection", "Lin Lout Nin Nout E", "on Lin-Lout Nin-Nout; off", ""),
    ("socket", "L N E", "", ""),
    ("switched-socket", "L N E Lfront", "on L-Lfront; off", ""),
    ("luminaire", "L N E", "", "lamp L-N"),
    ("appliance", "L N E", "", "load L-N"),
    ("appliance-3", "L1 L2 L3 N E", "", "load L1-L2 L2-L3 L1-L3 L1-N"),
    ("detector", "L N E IC", "", "maybe L-N IC-N"),
    ("sensor", "L N SL", "", "maybe L-N passing L-SL"),
    ("dimmer", "COM L1", "", "passing COM-L1"),
    ("contactor", "A1 A2 1 2 3 4", "released; held-in 1-2 3-4", "sure A1-A2"),
    ("indicator", "L N", "", "fixed maybe L-N"),
    ("surge-protector", "L N E", "", "maybe L-N L-E N-E"),
    ("transformer", "L N V1 V2", "", "sure L-N V1-V2"),
    ("junction", "", "", ""),
];

/// Terminals joined to one another.
pub type Join = Vec<String>;

/// A bridge between two terminals.
pub struct Bridge {
    pub between: [String; 2],
    /// Whether it conducts for sure.
    pub sure: bool,
    pub passes: bool,
}

/// What one point is made of, its own overrides of the kind's habits still to come.
pub struct Kind {
    pub terminals: Vec<String>,
    pub positions: Vec<(String, Vec<Join>)>,
    pub bridges: Vec<Bridge>,
    pub removable: bool,
    pub operable: bool,
    pub visible: bool,
    /// Terminals that are a source of their own.
    pub sources: Vec<String>,
}

impl Kind {
    /// The kind of `point`, declared in `installation` or built in.
    pub fn of(point: &Value, installation: &Value) -> Kind {
        let name = point["kind"].as_str().unwrap();
        let declared = list(&installation["kind"]).iter().find(|kind| kind["id"] == name);
        let mut kind = match declared {
            Some(kind) => Kind::declared(kind),
            None => Kind::built_in(name, point),
        };
        if !kind.terminals.iter().any(|terminal| terminal == "E") {
            kind.terminals.push("E".to_owned());
        }
        kind
    }

    fn declared(kind: &Value) -> Kind {
        Kind {
            terminals: texts(&kind["terminals"]),
            positions: list(&kind["positions"])
                .iter()
                .map(|position| {
                    let joins = list(&position["joins"]).iter().map(texts).collect();
                    (position["name"].as_str().unwrap().to_owned(), joins)
                })
                .collect(),
            bridges: list(&kind["bridges"])
                .iter()
                .map(|bridge| Bridge {
                    between: texts(&bridge["between"]).try_into().unwrap(),
                    sure: bridge["conducts"] == "sure",
                    passes: bridge["passes"] == true,
                })
                .collect(),
            removable: kind["removable"].as_bool().unwrap_or(true),
            operable: true,
            visible: kind["visible"] != false,
            sources: Vec::new(),
        }
    }

    fn built_in(name: &str, point: &Value) -> Kind {
        if let Some(count) = name.strip_prefix("selector-") {
            let ways: Vec<String> = (1..=count.parse().unwrap()).map(|number: u32| format!("P{number}")).collect();
            return Kind {
                terminals: std::iter::once("COM".to_owned()).chain(ways.iter().cloned()).collect(),
                positions: ways.into_iter().map(|way| (way.clone(), vec![vec!["COM".to_owned(), way]])).collect(),
                bridges: Vec::new(),
                removable: true,
                operable: true,
                visible: true,
                sources: Vec::new(),
            };
        }
        let (_, terminals, positions, bridges) = TABLE.iter().find(|row| row.0 == name).expect("a kind of the table");
        let mut kind = Kind {
            terminals: terminals.split_whitespace().map(str::to_owned).collect(),
            positions: Vec::new(),
            bridges: Vec::new(),
            removable: true,
            // A contactor is worked by hand only where it is manual.
            operable: name != "contactor" || point["manual"] == true,
            // A rocker does not show how a switch of these kinds stands.
            visible: !["two-way", "intermediate"].contains(&name),
            sources: Vec::new(),
        };
        for position in positions.split(';').filter(|position| !position.is_empty()) {
            let mut words = position.split_whitespace();
            let name = words.next().unwrap().to_owned();
            kind.positions.push((name, words.map(|join| join.split('-').map(str::to_owned).collect()).collect()));
        }
        let (mut sure, mut passes) = (false, false);
        for word in bridges.split_whitespace() {
            match word {
                "sure" => sure = true,
                "maybe" => (sure, passes) = (false, false),
                "passing" => (sure, passes) = (false, true),
                "lamp" => sure = point["lamp"].as_str().is_none_or(|lamp| lamp == "filament"),
                "load" => sure = point["load"].as_str().is_none_or(|load| load == "resistive"),
                "fixed" => kind.removable = false,
                between => {
                    let (a, b) = between.split_once('-').unwrap();
                    kind.bridges.push(Bridge { between: [a.to_owned(), b.to_owned()], sure, passes });
                }
            }
        }
        if name == "transformer" {
            kind.sources = vec!["V1".to_owned(), "V2".to_owned()];
        }
        kind
    }
}

/// The entries of a list; none where it is left out.
pub fn list(value: &Value) -> &[Value] {
    value.as_array().map_or(&[], Vec::as_slice)
}

/// A list of texts; none where it is left out.
pub fn texts(value: &Value) -> Vec<String> {
    list(value).iter().map(|text| text.as_str().unwrap().to_owned()).collect()
}
