//! What more could be tested if it were known where some devices started, by trying every setting.

use std::collections::{BTreeMap, BTreeSet};

use crate::asked::Asked;

use super::conduct::{Joined, Leads, Setting, Taken};
use super::plan::{Limits, SETTINGS, every_setting, operated, turned};
use super::wiring::{Pair, Wiring};

/// What could be tested if it were known where some devices started.
pub(super) struct Known<'w> {
    pub(super) wiring: &'w Wiring,
    pub(super) limits: &'w Limits,
    pub(super) asked: &'w Asked,
    /// For each combination, where every device started, and how the test set leaves everything.
    pub(super) starts: Vec<Vec<usize>>,
    pub(super) left: &'w [Setting],
    pub(super) leads: Vec<&'w Leads>,
    pub(super) pairs: &'w [Pair],
    /// Where the start is one of these combinations: for each pair, those for which some setting tests it.
    pub(super) tested: BTreeMap<Vec<usize>, Vec<BTreeSet<usize>>>,
}

impl Known<'_> {
    /// The devices that must be known for a pair that is open in these combinations; none where that does not help.
    pub(super) fn devices(&mut self, pair: usize, open: &[usize]) -> Option<Option<Vec<String>>> {
        let differs =
            |device: &usize| (1..self.left.len()).any(|other| self.place(other, *device) != self.place(0, *device));
        let mut devices: Vec<usize> = (0..self.wiring.devices.len()).filter(differs).collect();
        if devices.is_empty() || !self.helps(&devices, pair, open)? {
            return Some(None);
        }
        for device in devices.clone().into_iter().rev() {
            let others: Vec<usize> = devices.iter().copied().filter(|&other| other != device).collect();
            if self.helps(&others, pair, open)? {
                devices = others;
            }
        }
        Some(Some(devices.into_iter().map(|device| self.wiring.devices[device].name.clone()).collect()))
    }

    /// Where a device started in a combination, and where it stands.
    fn place(&self, combination: usize, device: usize) -> [usize; 2] {
        [self.starts[combination][device], self.left[combination].positions[device]]
    }

    /// Whether, for some open combination, a pair can be tested where these devices are known to have started as in it.
    fn helps(&mut self, devices: &[usize], pair: usize, open: &[usize]) -> Option<bool> {
        for &start in open {
            let agrees =
                |other: &usize| devices.iter().all(|&device| self.place(*other, device) == self.place(start, device));
            let possible: Vec<usize> = (0..self.left.len()).filter(agrees).collect();
            if !self.tested.contains_key(&possible) {
                let tested = self.tested_in(&possible)?;
                self.tested.insert(possible.clone(), tested);
            }
            let tested = &self.tested[&possible][pair];
            if open.iter().filter(|combination| possible.contains(combination)).all(|open| tested.contains(open)) {
                return Some(true);
            }
        }
        Some(false)
    }

    /// None where there are too many settings to try.
    fn tested_in(&self, combinations: &[usize]) -> Option<Vec<BTreeSet<usize>>> {
        let left: Vec<Setting> = combinations.iter().map(|&combination| self.left[combination].clone()).collect();
        let dials = operated(self.wiring, self.limits, self.asked, &left);
        let mut tested = vec![BTreeSet::new(); self.pairs.len()];
        for setting in every_setting(&dials, SETTINGS)? {
            let joined: Vec<Joined> =
                left.iter().map(|left| Joined::of(self.wiring, &turned(&dials, &setting, left))).collect();
            for &leads in &self.leads {
                let taken: Vec<Taken> = joined.iter().map(|joined| Taken::with(joined, leads)).collect();
                if taken.iter().any(|taken| taken.void.is_some()) {
                    continue;
                }
                for (pair, tested) in self.pairs.iter().zip(&mut tested).filter(|(pair, _)| leads.count_for(pair)) {
                    let parted = combinations.iter().zip(&taken).filter(|(_, taken)| taken.parts(pair.nodes));
                    tested.extend(parted.map(|(combination, _)| *combination));
                }
            }
        }
        Some(tested)
    }
}
