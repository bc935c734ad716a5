//! `--people 2` of FORMAT.md part 3, by trying everything: every operation from every setting, with every set of what is
//! tested so far and wherever the person who goes round stands.

use std::collections::{BTreeMap, BTreeSet};

use super::plan::{Map, Requirement, Stands, Walking};

/// More states than this, and the question is too large for this oracle.
const PATIENCE: usize = 20_000;

/// Where things have come to: the setting, what is tested (bit by bit), and where the last operation was.
type Reached = (usize, u64, Option<String>);

impl Walking<'_> {
    /// The fewest operations, then micrometres (0 without a map), then stops, of one way without return. None where that
    /// is too much to try.
    pub(super) fn one_way(&self, map: Option<&Map>) -> Option<[usize; 3]> {
        let open: Vec<&Requirement> =
            self.wanted.iter().filter(|requirement| !self.tests[0].contains(requirement)).collect();
        // What is tested in the same settings is one question.
        let mut questions: BTreeSet<Vec<bool>> = BTreeSet::new();
        for requirement in open {
            questions.insert(self.tests.iter().map(|tests| tests.contains(requirement)).collect());
        }
        let questions: Vec<Vec<bool>> = questions.into_iter().collect();
        if questions.len() > 20 {
            return None;
        }
        let tested_in = |setting: usize| -> u64 {
            (0..questions.len()).filter(|&row| questions[row][setting]).map(|row| 1 << row).sum()
        };
        let all = (1u64 << questions.len()) - 1;
        let room = |map: &Map, point: &Option<String>| point.as_ref().map_or(0, |point| map.room_of[point]);

        let mut best: BTreeMap<Reached, [usize; 3]> = BTreeMap::new();
        let mut queue: BTreeSet<([usize; 3], Reached)> = BTreeSet::new();
        queue.insert(([0; 3], (0, 0, None)));
        while let Some((cost, here)) = queue.pop_first() {
            if best.get(&here).is_some_and(|known| *known <= cost) {
                continue;
            }
            best.insert(here.clone(), cost);
            if best.len() > PATIENCE {
                return None;
            }
            let (setting, tested, last) = here;
            if tested == all && (!self.asked.restore || setting == 0) {
                return Some(cost);
            }
            for next in 0..self.settings.len() {
                let differ: Vec<usize> = (0..self.dials.len())
                    .filter(|&dial| self.settings[setting][dial] != self.settings[next][dial])
                    .collect();
                let [dial] = differ[..] else { continue };
                if self.dials[dial].is_one_way() && self.settings[next][dial] == Stands::AsFound {
                    continue;
                }
                let device = self.devices[dial];
                let there = Some(device.name.clone());
                let metres = map.map_or(0, |map| map.between[room(map, &last)][room(map, &there)]);
                let stop_of = |point: &String| {
                    self.devices.iter().find(|device| device.name == *point).map(|device| device.stop.clone())
                };
                let is_other = last.as_ref().and_then(stop_of).as_ref() != Some(&device.stop);
                let [operations, micrometres, stops] = cost;
                let cost = [operations + 1, micrometres + metres, stops + usize::from(is_other)];
                queue.insert((cost, (next, tested | tested_in(next), there)));
            }
        }
        unreachable!("what is wanted can be had, and what is operated put back")
    }
}
