//! Large invented installations to measure on: the same size and seed give the same installation, on every machine.
//!
//! Three-phase. A main board feeds panels, panels feed final boards; a final board has two RCD groups with a neutral bar
//! of 30 ways each and 20 RCBOs, so that no bar carries more than 31 neutrals. Circuits are two-way and intermediate
//! lighting (looped in at the lights or at the switches, every other one sharing its plates with a neighbour), ring
//! finals with fused spurs, rows of fused connections, selectors, alarm heads with an interconnect, sensor lights, lights
//! behind a master switch, and older wiring without a protective core.

// Each benchmark takes what it needs.
#![allow(dead_code)]

mod circuits;

use lengthwise::model::{
    BoardDraft, CircuitDraft, DeviceDraft, GroupDevice, GroupDraft, Indication, Installation, InstallationDraft,
    LengthDraft, LocationDraft, Megohms, Metres, PassDraft, PassageDraft, Phases, ReadingDraft, TestSet, TestSetDraft,
    Volts, WayDraft,
};

use circuits::Wiring;

/// Ways behind each RCD of a final board.
const GROUP_WAYS: usize = 30;
/// RCBOs of a final board.
const RCBO_WAYS: usize = 20;
const BOARD_WAYS: usize = 2 * GROUP_WAYS + RCBO_WAYS;
/// Boards that one panel feeds, and panels that one main board feeds.
const FEEDERS: usize = 12;

/// How much to generate.
#[derive(Clone, Copy, Debug)]
pub struct Size {
    /// Final circuits; the feeders of boards come on top.
    pub circuits: usize,
    /// Lengths of cable, feeders included.
    pub lengths: usize,
}

impl Size {
    /// So many final circuits, of 20 lengths each on average.
    pub fn of(circuits: usize) -> Size {
        Size { circuits, lengths: circuits * 20 }
    }
}

/// An installation, its test set, and the drafts that they were built from.
pub struct Generated {
    pub draft: InstallationDraft,
    pub installation: Installation,
    pub test_draft: TestSetDraft,
}

impl Generated {
    pub fn of(size: Size) -> Generated {
        let mut building = Building::new(size);
        building.boards();
        building.finals();
        let Building { draft, test_draft, .. } = building;
        assert_eq!(draft.lengths.len(), size.lengths, "the generator makes as many lengths as it was asked for");
        let installation = draft.build().expect("a generated installation is valid");
        Generated { draft, installation, test_draft }
    }

    /// A generated draft of a test set, checked.
    pub fn tests(&self, draft: &TestSetDraft) -> TestSet {
        draft.build(&self.installation).expect("a generated test set is valid")
    }
}

/// A generated installation with its usual test, every reading with a value.
pub struct Record {
    pub generated: Generated,
    pub tests: TestSet,
}

impl Record {
    /// One reading in about two hundred is low, the others are what sound cable shows.
    pub fn of(circuits: usize) -> Record {
        let generated = Generated::of(Size::of(circuits));
        let mut draft = generated.test_draft.clone();
        for (number, reading) in draft.passes.iter_mut().flat_map(|pass| &mut pass.readings).enumerate() {
            let megohms = if number % 211 == 7 { 0.4 } else { 150.0 + (number % 17) as f64 * 20.0 };
            reading.megohms = Some(Indication::Value(Megohms(megohms)));
        }
        let tests = generated.tests(&draft);
        Record { generated, tests }
    }
}

/// Pseudo-random numbers: a Weyl sequence, mixed (Steele, Lea and Flood 2014, "Fast splittable pseudorandom number
/// generators").
struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    fn below(&mut self, bound: usize) -> usize {
        (self.next() % bound as u64) as usize
    }

    /// From `low` up to and including `high`.
    fn between(&mut self, low: usize, high: usize) -> usize {
        low + self.below(high - low + 1)
    }
}

struct Building {
    size: Size,
    random: Random,
    draft: InstallationDraft,
    test_draft: TestSetDraft,
    /// The ways of the final circuits to come.
    ways: Vec<Way>,
}

/// A way that a final circuit is wired from.
#[derive(Clone)]
struct Way {
    id: String,
    pole: &'static str,
}

impl Building {
    fn new(size: Size) -> Building {
        let mut draft = InstallationDraft::new("Generated block", Volts(230.0));
        draft.installation.phases = Some(Phases::Three);
        Building {
            size,
            random: Random(0x1E06_7415),
            draft,
            test_draft: TestSetDraft::default(),
            ways: Vec::with_capacity(size.circuits),
        }
    }

    fn boards(&mut self) {
        let final_boards = self.size.circuits.div_ceil(BOARD_WAYS);
        let panels = final_boards.div_ceil(FEEDERS);
        assert!(panels <= FEEDERS, "one main board feeds all panels");
        self.feeding_board("M", panels, true);
        for panel in 0..panels {
            let fed = FEEDERS.min(final_boards - panel * FEEDERS);
            self.feeding_board(&format!("P{panel}"), fed, false);
            self.feeder(&format!("M/{panel}"), &format!("P{panel}"));
        }
        for board in 0..final_boards {
            let id = format!("D{board}");
            let ways = BOARD_WAYS.min(self.size.circuits - board * BOARD_WAYS);
            self.final_board(&id, ways);
            self.feeder(&format!("P{}/{}", board / FEEDERS, board % FEEDERS), &id);
        }
    }

    fn feeding_board(&mut self, id: &str, ways: usize, origin: bool) {
        let ways = (0..ways)
            .map(|way| WayDraft {
                rating: Some(125.0),
                poles: Some(["L1", "L2", "L3"].map(str::to_owned).to_vec()),
                ..WayDraft::new(way.to_string(), DeviceDraft::Fuse)
            })
            .collect();
        let location = self.location(&format!("{id}-room"), "Switch room");
        let origin = origin.then_some(true);
        self.draft.boards.push(BoardDraft {
            id: id.to_owned(),
            location: Some(location),
            origin,
            ways,
            ..Default::default()
        });
    }

    fn final_board(&mut self, id: &str, count: usize) {
        let groups = ["A", "B"].map(|id| GroupDraft { id: id.to_owned(), device: GroupDevice::Rcd, electronic: None });
        let ways = (0..count).map(|way| {
            let pole = ["L1", "L2", "L3"][way % 3];
            self.ways.push(Way { id: format!("{id}/{way}"), pole });
            let (device, group) = match way / GROUP_WAYS {
                0 => (DeviceDraft::Mcb, Some("A")),
                1 => (DeviceDraft::Mcb, Some("B")),
                _ => (DeviceDraft::Rcbo, None),
            };
            WayDraft {
                rating: Some([6.0, 16.0, 32.0][way % 3]),
                poles: Some(vec![pole.to_owned()]),
                group: group.map(str::to_owned),
                ..WayDraft::new(way.to_string(), device)
            }
        });
        let board = BoardDraft {
            id: id.to_owned(),
            location: Some(format!("{id}-riser")),
            groups: groups.to_vec(),
            ways: ways.collect(),
            ..Default::default()
        };
        self.location(&format!("{id}-riser"), "Riser cupboard");
        self.draft.boards.push(board);
    }

    fn feeder(&mut self, way: &str, board: &str) {
        let id = format!("F-{board}");
        let metres = self.random.between(12, 60) as f64;
        self.circuit(&id, &format!("Feeder of {board}"), way);
        let cores = ["L1", "L2", "L3", "N", "E"];
        self.draft.lengths.push(LengthDraft {
            id: format!("{id}-W0"),
            circuit: Some(id),
            from: way.to_owned(),
            to: format!("{board}.in"),
            cable: Some("5c SWA 35 mm2".to_owned()),
            metres: Metres(metres),
            cores: cores.into_iter().map(|core| (core.to_owned(), [core.to_owned(), core.to_owned()])).collect(),
        });
    }

    fn finals(&mut self) {
        for (number, way) in std::mem::take(&mut self.ways).into_iter().enumerate() {
            // The lengths still to make are shared among the circuits still to make, some more and some less to each.
            let circuits_left = self.size.circuits - number;
            let left = self.size.lengths - self.draft.lengths.len();
            let fair = left.div_ceil(circuits_left);
            let lengths = if circuits_left == 1 {
                left
            } else {
                // What this circuit has too much is made up for soon, so that the last one is of a usual size.
                (fair + self.random.below(9)).saturating_sub(4).max(10)
            };
            let location = match number % 4 {
                0 => self.location(&format!("R{}", number / 4), "Rooms"),
                _ => format!("R{}", number / 4),
            };
            let id = format!("C{number}");
            self.circuit(&id, &format!("Circuit {number}"), &way.id);
            let sort = self.random.below(16);
            let mut wiring = Wiring::new(self, &id, &way, &location, lengths);
            wiring.wire(sort, number);
        }
        self.usual_tests();
    }

    /// What is usually done: everything once as it is found, then a few walks with the lighting read again.
    fn usual_tests(&mut self) {
        let reading = |circuit: &str, between: [&str; 2]| ReadingDraft {
            circuit: Some(circuit.to_owned()),
            between: between.map(str::to_owned),
            volts: Some(Volts(500.0)),
            ..Default::default()
        };
        let both = |circuit: &str| [reading(circuit, ["L+N", "E"]), reading(circuit, ["L", "N"])];
        let all = self.draft.circuits.iter().flat_map(|circuit| both(&circuit.id)).collect();
        let mut passes = vec![PassDraft { readings: all, ..Default::default() }];
        // Of some circuits, one switch each is worked in a pass of its own.
        for pass in 1..=3 {
            let mut operate = Vec::new();
            let mut readings = Vec::new();
            let mut last: Option<&str> = None;
            for (number, point) in self.draft.points.iter().enumerate() {
                let worked = match pass {
                    1 => point.kind == "two-way",
                    2 => point.kind == "intermediate",
                    _ => point.kind.starts_with("selector"),
                };
                if worked && number % 3 != pass % 3 && last != point.circuit.as_deref() {
                    operate.push(point.id.clone());
                    readings.extend(both(point.circuit.as_deref().unwrap_or_default()));
                    last = point.circuit.as_deref();
                }
            }
            passes.push(PassDraft { operate, readings, ..Default::default() });
        }
        self.test_draft = TestSetDraft { passes, ..Default::default() };
    }

    fn circuit(&mut self, id: &str, name: &str, way: &str) {
        self.draft.circuits.push(CircuitDraft {
            id: id.to_owned(),
            name: Some(name.to_owned()),
            way: Some(way.to_owned()),
            ..Default::default()
        });
    }

    /// A location, a few steps from one of the last ones: corridors with rooms at both sides.
    fn location(&mut self, id: &str, name: &str) -> String {
        let before = self.draft.locations.len();
        if before > 0 {
            let near = &self.draft.locations[before - 1 - self.random.below(before.min(3))];
            let between = [near.id.clone(), id.to_owned()];
            let metres = Metres(self.random.between(4, 30) as f64 / 2.0);
            self.draft.passages.push(PassageDraft { between, metres });
        }
        self.draft.locations.push(LocationDraft { id: id.to_owned(), name: Some(name.to_owned()) });
        id.to_owned()
    }
}
