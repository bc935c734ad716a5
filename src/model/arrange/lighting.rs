//! The wirings of lights, switches and what else works something, core by core.
//!
//! With n switches the first and the last are two-way switches, those between them intermediates. The line and the
//! switched line of a step start at its hub: the rose, the box, or the first switch.

use super::expansion::{Made, Run};
use super::feed::{Cores, Feed, FeedPoint, core, line_and_neutral, with_third};
use super::form::{Lighting, RunStop, Switching};
use crate::model::Third;

impl<'d> Run<'_, 'd, '_> {
    /// Lights and their switches; gives what the run goes on from.
    pub(super) fn light(&mut self, number: i64, feed: &Feed<'d>, lighting: &Lighting<'d>) -> Feed<'d> {
        let Lighting { hub, switches, switching, lights } = lighting;
        let Some(hub) = hub else { return self.looped_at_switch(number, feed, lighting) };
        let is_rose = hub.key == "rose";
        let [line, switched] = if is_rose { ["LP", "L"] } else { ["L", "SL"] };
        let mut made = if is_rose {
            Made::new('E', number, "luminaire", &[line])
        } else {
            Made::new('J', number, "junction", &[])
        };
        if is_rose && *switching == Switching::ToBox {
            made.terminals.extend((1..=2 * (switches.len() - 1)).map(strapper));
        }
        let box_spot = self.add(*hub, made, &feed.spot, line_and_neutral(feed, [line, "N"]));
        let from = [line, switched];
        match switching {
            Switching::One => {
                let cores = vec![core("brown", line, "COM"), core("blue", switched, "L1")];
                self.switch(number, &switches[0], &box_spot, cores, &[]);
            }
            Switching::ToBox => self.strapped_in_box(number, switches, &box_spot, from),
            Switching::Between(third) => {
                let cores = if *third == Third::Common {
                    vec![core("brown", line, "L1"), core("blue", switched, "L2")]
                } else {
                    vec![core("brown", line, "COM"), core("blue", switched, "SL")]
                };
                self.chain(number, *third, switches, &box_spot, cores, &[]);
            }
        }
        let first_place = if is_rose { 2 } else { 1 };
        self.lights(number, first_place, lights, &Feed::new(box_spot.clone(), switched, "N"));
        Feed::new(box_spot, line, "N")
    }

    /// The same without rose or box: line and neutral come to the first switch.
    fn looped_at_switch(&mut self, number: i64, feed: &Feed<'d>, lighting: &Lighting<'d>) -> Feed<'d> {
        let Lighting { switches, switching, lights, .. } = lighting;
        let [line, switched] = match switching {
            Switching::Between(Third::Common) => ["L1", "L2"],
            Switching::Between(Third::Back) => ["COM", "SL"],
            _ => ["COM", "L1"],
        };
        let cores = line_and_neutral(feed, [line, "N"]);
        let [first, last] = match switching {
            Switching::Between(third) => self.chain(number, *third, switches, &feed.spot, cores, &["N"]),
            _ => {
                let spot = self.switch(number, &switches[0], &feed.spot, cores, &["N"]);
                [spot.clone(), spot]
            }
        };
        let lit_from = match switching {
            Switching::Between(Third::Neutral) => Feed::new(last, "COM", "N"),
            _ => Feed::new(first.clone(), switched, "N"),
        };
        self.lights(number, 1, lights, &lit_from);
        Feed::new(first, line, "N")
    }

    /// One switch, or a dimmer in its place.
    fn switch(
        &mut self,
        number: i64,
        switch: &RunStop<'d>,
        from: &FeedPoint<'d>,
        cores: Cores,
        terminals: &[&str],
    ) -> FeedPoint<'d> {
        let kind = if switch.key == "dimmer" { "dimmer" } else { "one-way" };
        self.add(*switch, Made::switch(number, 1, kind, terminals), from, cores)
    }

    /// Several switches, a cable from each to the next; gives the first and the last. `cores` lead to the first, which
    /// has `terminals` beside those that the wiring takes.
    fn chain(
        &mut self,
        number: i64,
        third: Third,
        switches: &[RunStop<'d>],
        from: &FeedPoint<'d>,
        cores: Cores,
        terminals: &[&str],
    ) -> [FeedPoint<'d>; 2] {
        // What the third core is connected to at a switch, by whether it is the first, one between, or the last.
        let [at_first, between, at_last] = match third {
            Third::Common => ["COM", "X", "COM"],
            Third::Back => ["SL", "SL", "COM"],
            Third::Neutral => ["N", "N", "N"],
        };
        let mut own: Vec<&str> = terminals.to_vec();
        if at_first != "COM" && !own.contains(&at_first) {
            own.push(at_first);
        }
        let first = self.add(switches[0], Made::switch(number, 1, "two-way", &own), from, cores);
        let mut before = first.clone();
        let mut strappers = ["L1", "L2"];
        let mut third_before = at_first;
        for (place, switch) in switches.iter().enumerate().skip(1) {
            let is_last = place + 1 == switches.len();
            let (kind, inward, third_here) =
                if is_last { ("two-way", ["L1", "L2"], at_last) } else { ("intermediate", ["A1", "A2"], between) };
            let own: &[&str] = if third_here == "COM" { &[] } else { &[third_here] };
            let [one, other] = [0, 1].map(|side| [strappers[side], inward[side]]);
            let passed = [third_before, third_here];
            let rows = if third == Third::Common { [passed, one, other] } else { [one, other, passed] };
            let names = ["brown", "black", "grey"];
            let cores = names.into_iter().zip(rows).map(|(name, [from, to])| core(name, from, to)).collect();
            before = self.add(*switch, Made::switch(number, place + 1, kind, own), &before, cores);
            strappers = ["B1", "B2"];
            third_before = third_here;
        }
        [first, before]
    }

    /// Several switches, each with a cable of its own to the box or rose, where the strappers are joined.
    fn strapped_in_box(
        &mut self,
        number: i64,
        switches: &[RunStop<'d>],
        from: &FeedPoint<'d>,
        [line, switched]: [&str; 2],
    ) {
        for (place, switch) in switches.iter().enumerate() {
            let strappers = |count: usize| [2 * count - 1, 2 * count].map(strapper);
            let (kind, cores) = if place == 0 || place + 1 == switches.len() {
                let (end, [one, other]) = if place == 0 { (line, strappers(1)) } else { (switched, strappers(place)) };
                ("two-way", vec![core("brown", end, "COM"), core("black", one, "L1"), core("grey", other, "L2")])
            } else {
                let ([one, other], [next, last]) = (strappers(place), strappers(place + 1));
                let cores = [("brown", one, "A1"), ("black", other, "A2"), ("grey", next, "B1"), ("blue", last, "B2")];
                ("intermediate", cores.into_iter().map(|(name, from, to)| core(name, from, to)).collect())
            };
            self.add(*switch, Made::switch(number, place + 1, kind, &[]), from, cores);
        }
    }

    /// Lights behind a sensor, past which a switch may light them; gives what the run goes on from.
    pub(super) fn sense(
        &mut self,
        number: i64,
        feed: &Feed<'d>,
        bypass: Option<RunStop<'d>>,
        sensor: RunStop<'d>,
        lights: &[RunStop<'d>],
    ) -> Feed<'d> {
        let sensor_made = Made::new('B', number, "sensor", &[]);
        let (spot, next) = match bypass {
            None => {
                let spot = self.add(sensor, sensor_made, &feed.spot, line_and_neutral(feed, ["L", "N"]));
                (spot.clone(), Feed::new(spot, "L", "N"))
            }
            Some(bypass) => {
                let made = Made { stands: Some("off"), ..Made::new('S', number, "one-way", &["N"]) };
                let spot = self.add(bypass, made, &feed.spot, line_and_neutral(feed, ["COM", "N"]));
                let next = Feed::new(spot, "COM", "N");
                let spot = self.add(sensor, sensor_made, &next.spot, with_third(&next, ["L", "N"], ["L1", "SL"]));
                (spot, next)
            }
        };
        self.lights(number, 1, lights, &Feed::new(spot, "SL", "N"));
        next
    }

    /// The switch that works the coil of a contactor.
    pub(super) fn work_coil(&mut self, number: i64, by: &RunStop<'d>, contactor: &FeedPoint<'d>) {
        let cores = vec![core("brown", "1", "COM"), core("blue", "A1", "L1")];
        self.switch(number, by, contactor, cores, &[]);
    }

    /// Lights on one switched line, each fed from the one before.
    fn lights(&mut self, number: i64, first_place: usize, lights: &[RunStop<'d>], from: &Feed<'d>) {
        let mut from = from.clone();
        for (light, place) in lights.iter().zip(first_place..) {
            let made = Made { place, ..Made::new('E', number, "luminaire", &[]) };
            let spot = self.add(*light, made, &from.spot, line_and_neutral(&from, ["L", "N"]));
            from = Feed::new(spot, "L", "N");
        }
    }
}

/// The terminal of a box or rose in which strappers are joined.
fn strapper(number: usize) -> String {
    format!("T{number}")
}
