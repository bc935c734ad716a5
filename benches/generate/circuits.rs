//! The sorts of circuit that a generated installation has.

use lengthwise::model::{Lamp, LengthDraft, Metres, PointDraft};

use super::{Building, Way};

/// A core's name, its terminal at the near end and the one at the far end.
type Core<'t> = (&'t str, &'t str, &'t str);

const TWO: &str = "2c+e 1.5 mm2";
const THREE: &str = "3c+e 1.5 mm2";
const POWER: &str = "2c+e 2.5 mm2";

/// A circuit in the making.
pub(super) struct Wiring<'b> {
    building: &'b mut Building,
    circuit: String,
    way: Way,
    location: String,
    points: usize,
    lengths: usize,
    /// Lengths that this circuit is to have.
    target: usize,
}

impl<'b> Wiring<'b> {
    pub(super) fn new(
        building: &'b mut Building,
        circuit: &str,
        way: &Way,
        location: &str,
        target: usize,
    ) -> Wiring<'b> {
        Wiring {
            building,
            circuit: circuit.to_owned(),
            way: way.clone(),
            location: location.to_owned(),
            points: 0,
            lengths: 0,
            target,
        }
    }

    fn left(&self) -> usize {
        self.target - self.lengths
    }

    fn point(&mut self, kind: &str, terminals: &[&str]) -> String {
        self.point_on(kind, terminals, None)
    }

    fn point_on(&mut self, kind: &str, terminals: &[&str], plate: Option<String>) -> String {
        let id = format!("{}-{}", self.circuit, self.points);
        self.points += 1;
        // Now and then a sealed light, and a switch that can't be worked.
        let odd = self.building.random.below(60) == 0;
        let (sealed, seized) = (odd && kind == "luminaire", odd && kind == "one-way");
        self.building.draft.points.push(PointDraft {
            id: id.clone(),
            kind: kind.to_owned(),
            circuit: Some(self.circuit.clone()),
            location: Some(self.location.clone()),
            plate,
            terminals: terminals.iter().map(|&name| name.to_owned()).collect(),
            lamp: sealed.then_some(Lamp::Led),
            removable: sealed.then_some(false),
            operable: seized.then_some(false),
            stands: seized.then(|| "off".to_owned()),
            ..Default::default()
        });
        id
    }

    pub(super) fn run(&mut self, from: &str, to: &str, cable: &str, metres: f64, cores: &[Core<'_>]) {
        let id = format!("{}-W{}", self.circuit, self.lengths);
        self.lengths += 1;
        self.building.draft.lengths.push(LengthDraft {
            id,
            circuit: Some(self.circuit.clone()),
            from: from.to_owned(),
            to: to.to_owned(),
            cable: Some(cable.to_owned()),
            metres: Metres(metres),
            cores: cores.iter().map(|&(name, a, b)| (name.to_owned(), [a.to_owned(), b.to_owned()])).collect(),
        });
    }

    /// A length between two things, some metres long.
    fn wire_to(&mut self, from: &str, to: &str, cable: &str, cores: &[Core<'_>]) {
        let metres = self.building.random.between(3, 30) as f64 / 2.0;
        self.run(from, to, cable, metres, cores);
    }

    /// The first length of a circuit: its cores, given as the terminals at the far end, come from what carries them at
    /// the way.
    fn wire_from_way(&mut self, to: &str, cable: &str, cores: &[Core<'_>]) {
        let cores: Vec<Core<'_>> = cores.iter().map(|&(name, _, far)| (name, self.way_terminal(far), far)).collect();
        let way = self.way.id.clone();
        self.wire_to(&way, to, cable, &cores);
    }

    fn way_terminal(&self, far: &str) -> &'static str {
        match far {
            "E" => "E",
            "N" | "Nin" => "N",
            _ => self.way.pole,
        }
    }

    /// A further light on the same switch line.
    fn light_on(&mut self, from: &str) -> String {
        let light = self.point("luminaire", &[]);
        self.wire_to(from, &light, TWO, &[("brown", "L", "L"), ("blue", "N", "N"), ("cpc", "E", "E")]);
        light
    }

    /// Wires the circuit from its way, in exactly as many lengths as it is to have.
    pub(super) fn wire(&mut self, sort: usize, number: usize) {
        match sort {
            0..=2 => self.looped_in_at_lights(number),
            3..=4 => self.looped_in_at_switches(number),
            5..=7 => self.ring(),
            8..=9 => self.fused_connections(),
            10 => self.selectors(),
            11 => self.alarm(),
            12 => self.sensors(),
            13..=14 => self.behind_a_master(),
            _ => self.without_protective_core(),
        }
        assert_eq!(self.lengths, self.target, "sort {sort} makes as many lengths as it is asked for");
    }

    /// Plates that every other circuit shares with the one before it.
    fn plate(number: usize, place: usize) -> Option<String> {
        (number % 4 < 2).then(|| format!("landing {} {place}", number / 2))
    }

    /// Two-way and intermediate switching of a row of lights, the permanent line looped from light to light.
    fn looped_in_at_lights(&mut self, number: usize) {
        let light = self.point("luminaire", &["LP"]);
        self.wire_from_way(&light, TWO, &[("brown", "LP", "LP"), ("blue", "N", "N"), ("cpc", "E", "E")]);
        let intermediates = self.building.random.below(5);
        let first = self.point_on("two-way", &["R"], Self::plate(number, 0));
        self.wire_to(&light, &first, TWO, &[("brown", "LP", "COM"), ("blue", "L", "R"), ("cpc", "E", "E")]);
        self.strappers_from(&first, intermediates, number, 1);
        let mut last = light;
        while self.left() > 0 {
            let next = self.point("luminaire", &["LP"]);
            let cores = [("brown", "LP", "LP"), ("black", "L", "L"), ("grey", "N", "N"), ("cpc", "E", "E")];
            self.wire_to(&last, &next, THREE, &cores);
            last = next;
        }
    }

    /// From a two-way switch by way of intermediate ones to the other two-way switch; the switch line comes back.
    fn strappers_from(&mut self, first: &str, intermediates: usize, number: usize, place: usize) {
        let mut before = (first.to_owned(), ["L1", "L2"]);
        for intermediate in 0..intermediates {
            let switch = self.point_on("intermediate", &["R"], Self::plate(number, place + intermediate));
            self.strapper_length(&before, &switch, ["A1", "A2"], "R");
            before = (switch, ["B1", "B2"]);
        }
        let last = self.point_on("two-way", &[], Self::plate(number, place + intermediates));
        self.strapper_length(&before, &last, ["L1", "L2"], "COM");
    }

    fn strapper_length(&mut self, from: &(String, [&str; 2]), to: &str, ends: [&str; 2], back: &str) {
        let cores =
            [("brown", from.1[0], ends[0]), ("black", from.1[1], ends[1]), ("grey", "R", back), ("cpc", "E", "E")];
        self.wire_to(&from.0, to, THREE, &cores);
    }

    /// The supply comes to the switches; groups of lights on a one-way, a two-way or a dimmed switch each.
    fn looped_in_at_switches(&mut self, number: usize) {
        let mut supply: Option<String> = None;
        let mut place = 0;
        while self.left() > 0 {
            let two_way = self.left() >= 6 && self.building.random.below(2) == 0;
            let kind = if two_way { "two-way" } else { ["one-way", "dimmer"][self.building.random.below(8) / 7] };
            let switch = self.point_on(kind, &["N", "R"], Self::plate(number, place));
            place += 1;
            let feed = [("brown", "COM", "COM"), ("blue", "N", "N"), ("cpc", "E", "E")];
            match &supply {
                None => self.wire_from_way(&switch, TWO, &feed),
                Some(before) => self.wire_to(before, &switch, TWO, &feed),
            }
            let line = if two_way {
                self.strappers_from(&switch, 0, number, place);
                place += 1;
                "R"
            } else {
                "L1"
            };
            if self.left() > 0 {
                let light = self.point("luminaire", &[]);
                self.wire_to(&switch, &light, TWO, &[("brown", line, "L"), ("blue", "N", "N"), ("cpc", "E", "E")]);
                let more = self.building.random.below(4).min(self.left());
                let mut last = light;
                for _ in 0..more {
                    last = self.light_on(&last);
                }
            }
            supply = Some(switch);
        }
    }

    /// A ring final of sockets, with fused spurs.
    fn ring(&mut self) {
        let cores: [Core<'_>; 3] = [("brown", "L", "L"), ("blue", "N", "N"), ("cpc", "E", "E")];
        let spurs = self.building.random.between(0, self.left() / 4);
        let sockets = self.left() - 1 - 2 * spurs;
        let mut last = String::new();
        for number in 0..sockets {
            let kind = if number % 3 == 0 { "socket" } else { "switched-socket" };
            let socket = self.point(kind, &[]);
            match number {
                0 => self.wire_from_way(&socket, POWER, &cores),
                _ => self.wire_to(&last, &socket, POWER, &cores),
            }
            if number < spurs {
                let spur = self.point("fused-connection", &[]);
                self.wire_to(&socket, &spur, POWER, &[("brown", "L", "Lin"), ("blue", "N", "Nin"), ("cpc", "E", "E")]);
                self.appliance_on(&spur);
            }
            last = socket;
        }
        let home = cores.map(|(name, near, far)| (name, near, self.way_terminal(far)));
        let way = self.way.id.clone();
        self.wire_to(&last, &way, POWER, &home);
    }

    fn appliance_on(&mut self, spur: &str) {
        let appliance = self.point("appliance", &[]);
        self.wire_to(spur, &appliance, POWER, &[("brown", "Lout", "L"), ("blue", "Nout", "N"), ("cpc", "E", "E")]);
    }

    /// A row of fused connections, an appliance on each.
    fn fused_connections(&mut self) {
        let mut last: Option<String> = None;
        while self.left() > 0 {
            let spur = self.point("fused-connection", &[]);
            let cores = [("brown", "Lin", "Lin"), ("blue", "Nin", "Nin"), ("cpc", "E", "E")];
            match &last {
                None => self.wire_from_way(&spur, POWER, &cores),
                Some(last) => self.wire_to(last, &spur, POWER, &cores),
            }
            if self.left() > 0 {
                self.appliance_on(&spur);
            }
            last = Some(spur);
        }
    }

    /// Heaters on selectors, each selector fed on from the one before.
    fn selectors(&mut self) {
        let mut last: Option<String> = None;
        while self.left() > 0 {
            let ways = self.building.random.between(3, 6);
            let selector = self.point(&format!("selector-{ways}"), &["N"]);
            let cores = [("brown", "COM", "COM"), ("blue", "N", "N"), ("cpc", "E", "E")];
            match &last {
                None => self.wire_from_way(&selector, POWER, &cores),
                Some(last) => self.wire_to(last, &selector, POWER, &cores),
            }
            for position in 1..=ways.min(self.left()) {
                let heater = self.point("appliance", &[]);
                let line = format!("P{position}");
                let cores = [("brown", line.as_str(), "L"), ("blue", "N", "N"), ("cpc", "E", "E")];
                self.wire_to(&selector, &heater, POWER, &cores);
            }
            last = Some(selector);
        }
    }

    /// Alarm heads with an interconnect, behind a fused connection.
    fn alarm(&mut self) {
        let fused = self.point("fused-connection", &[]);
        self.wire_from_way(&fused, TWO, &[("brown", "Lin", "Lin"), ("blue", "Nin", "Nin"), ("cpc", "E", "E")]);
        let mut last: Option<String> = None;
        while self.left() > 0 {
            let head = self.point("detector", &[]);
            match &last {
                None => {
                    let cores =
                        [("brown", "Lout", "L"), ("grey", "Nout", "N"), ("black", "-", "IC"), ("cpc", "E", "E")];
                    self.wire_to(&fused, &head, THREE, &cores);
                }
                Some(last) => {
                    let cores = [("brown", "L", "L"), ("grey", "N", "N"), ("black", "IC", "IC"), ("cpc", "E", "E")];
                    self.wire_to(last, &head, THREE, &cores);
                }
            }
            last = Some(head);
        }
    }

    /// Lights behind sensors.
    fn sensors(&mut self) {
        let mut last: Option<String> = None;
        while self.left() > 0 {
            let sensor = self.point("sensor", &[]);
            let cores = [("brown", "L", "L"), ("blue", "N", "N"), ("cpc", "E", "E")];
            match &last {
                None => self.wire_from_way(&sensor, TWO, &cores),
                Some(last) => self.wire_to(last, &sensor, TWO, &cores),
            }
            if self.left() > 0 {
                let light = self.point("luminaire", &[]);
                self.wire_to(&sensor, &light, TWO, &[("brown", "SL", "L"), ("blue", "N", "N"), ("cpc", "E", "E")]);
                let more = self.building.random.below(3).min(self.left());
                let mut at = light;
                for _ in 0..more {
                    at = self.light_on(&at);
                }
            }
            last = Some(sensor);
        }
    }

    /// One-way and two-way lights behind a double-pole master switch.
    fn behind_a_master(&mut self) {
        let master = self.point("double-pole", &[]);
        self.wire_from_way(&master, TWO, &[("brown", "Lin", "Lin"), ("blue", "Nin", "Nin"), ("cpc", "E", "E")]);
        let mut last: Option<String> = None;
        while self.left() > 0 {
            let switch = self.point("one-way", &["N"]);
            match &last {
                None => {
                    let cores = [("brown", "Lout", "COM"), ("blue", "Nout", "N"), ("cpc", "E", "E")];
                    self.wire_to(&master, &switch, TWO, &cores);
                }
                Some(last) => {
                    let cores = [("brown", "COM", "COM"), ("blue", "N", "N"), ("cpc", "E", "E")];
                    self.wire_to(last, &switch, TWO, &cores);
                }
            }
            if self.left() > 0 {
                let light = self.point("luminaire", &[]);
                self.wire_to(&switch, &light, TWO, &[("brown", "L1", "L"), ("blue", "N", "N"), ("cpc", "E", "E")]);
                let more = self.building.random.below(3).min(self.left());
                let mut at = light;
                for _ in 0..more {
                    at = self.light_on(&at);
                }
            }
            last = Some(switch);
        }
    }

    /// Older wiring: lights on pull switches, no protective core, a spare core left in one length.
    fn without_protective_core(&mut self) {
        let mut last: Option<String> = None;
        while self.left() > 0 {
            let light = self.point("luminaire", &["LP"]);
            match &last {
                None => self.wire_from_way(&light, "2c 1.5 mm2", &[("brown", "LP", "LP"), ("blue", "N", "N")]),
                Some(last) => {
                    let cores = [("brown", "LP", "LP"), ("blue", "N", "N"), ("white", "-", "-")];
                    self.wire_to(last, &light, "3c 1.5 mm2", &cores);
                }
            }
            if self.left() > 0 {
                let switch = self.point("one-way", &[]);
                self.wire_to(&light, &switch, "2c 1.5 mm2", &[("brown", "LP", "COM"), ("blue", "L", "L1")]);
            }
            last = Some(light);
        }
    }
}
