//! Which gaps bound what a reading measures: from below those directly across its leads, from above those across a cut.

use super::gaps::GapTable;
use crate::model::Volts;
use crate::network::{Edge, Network, Reach};
use crate::reading::{Configuration, LeadBodies};

/// The gaps whose leakages bound the conductance between two leads.
#[derive(Clone, Debug)]
pub(super) struct Sums {
    /// Their sum is at most what is measured; ascending. None where they are too many.
    pub(super) direct: Option<Vec<u32>>,
    /// For each cut: the sum is at least what is measured; ascending. Where there is one the reading is not void.
    pub(super) cuts: Vec<Vec<u32>>,
    /// Whether no limit left a sum out or made one longer or, directly across, shorter than it need be.
    pub(super) is_whole: bool,
}

impl Sums {
    /// Whether a gap is directly across the leads.
    pub(super) fn has_across(&self, gap: u32) -> bool {
        self.direct.as_ref().is_some_and(|direct| direct.binary_search(&gap).is_ok())
    }
}

/// What a reading showed.
pub(super) struct Shown {
    /// By its number among all readings.
    pub(super) reading: u32,
    /// The least and the greatest conductance, in µS; the greatest may be infinite.
    pub(super) conductance: [f64; 2],
    /// The test voltage.
    pub(super) volts: Option<Volts>,
}

/// A reading as sums of gaps and what it measured.
#[derive(Clone, Debug)]
pub(super) struct Measured {
    /// By its number among all readings.
    pub(super) reading: u32,
    pub(super) sums: Sums,
    /// Those directly across that ask for no more than the voltage that it was taken at: their sum is at most the
    /// greatest.
    pub(super) bounded: Option<Vec<u32>>,
    /// Least and greatest conductance, in µS; the greatest may be infinite.
    pub(super) conductance: [f64; 2],
}

impl Measured {
    /// Without a voltage a reading is taken to be at the right one.
    pub(super) fn of(shown: &Shown, sums: Sums, gaps: &GapTable) -> Measured {
        let mut bounded = sums.direct.clone();
        if let (Some(bounded), Some(taken)) = (&mut bounded, shown.volts) {
            bounded.retain(|&gap| gaps.asks_for_more(gap, taken).is_none());
        }
        Measured { reading: shown.reading, sums, bounded, conductance: shown.conductance }
    }

    /// Whether it bounded all gaps directly across its leads, as far as its voltage goes.
    pub(super) fn is_at_full_voltage(&self) -> bool {
        self.sums.direct == self.bounded
    }
}

/// What conducts, for sure or perhaps, in every or in any position that unknown devices may have.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Conducting {
    SureInEvery,
    MaybeInAny,
}

/// The sums of readings taken in one configuration.
pub(super) struct Across<'a> {
    pub(super) network: &'a Network,
    pub(super) gaps: &'a GapTable,
    pub(super) standing: &'a Configuration,
}

impl Across<'_> {
    pub(super) fn conducts(&self, edge: Edge, how: Conducting) -> bool {
        match how {
            Conducting::MaybeInAny => self.standing.may_conduct(self.network, edge),
            Conducting::SureInEvery => self.standing.conducts(self.network, edge),
        }
    }

    /// All that is joined to each lead.
    pub(super) fn on_leads(&self, leads: &LeadBodies, how: Conducting) -> [Reach; 2] {
        leads
            .touched
            .each_ref()
            .map(|lead| self.network.reach(lead.iter().copied(), |edge, _| self.conducts(edge, how)))
    }

    /// The sums of a reading between these leads. The reading must not be void.
    ///
    /// A cut must hold whichever positions unknown devices were in, so it is closed under all that conducts in any of
    /// them. Where these join the leads between them, though no one combination does, there is none. That is more than
    /// void asks for, and no second answer to it: it says which sums hold, never that a reading is void.
    ///
    /// Time linear in what the leads reach and the gaps around it, to the limits.
    pub(super) fn sums(&self, leads: &LeadBodies) -> Sums {
        let limits = &self.network.limits().locate;
        let may = self.on_leads(leads, Conducting::MaybeInAny);
        let sure = self.on_leads(leads, Conducting::SureInEvery);
        let direct = Some(self.direct(&sure)).filter(|direct| direct.len() <= limits.gaps_in_sum);
        let mut sums = Sums { is_whole: direct.is_some(), direct, cuts: Vec::new() };
        let sides = if may[0].bodies().iter().any(|&body| may[1].contains(body)) { 0..0 } else { 0..2 };
        for near in sides {
            let cut = self.cut(&may[near], &may[1 - near], limits.gaps_walked);
            sums.is_whole &= cut.is_some();
            let cut = cut.or_else(|| self.whole_cut(&may[near], limits.gaps_in_sum));
            match cut.filter(|cut| cut.len() <= limits.gaps_in_sum) {
                Some(cut) if sums.cuts.contains(&cut) => {}
                Some(cut) => sums.cuts.push(cut),
                None => sums.is_whole = false,
            }
        }
        sums
    }

    fn direct(&self, [one, other]: &[Reach; 2]) -> Vec<u32> {
        let (near, far) =
            if self.gaps.count_at(one) <= self.gaps.count_at(other) { (one, other) } else { (other, one) };
        let mut direct = Vec::new();
        for &body in near.bodies() {
            let here = self.gaps.at(body).iter().copied();
            direct.extend(here.filter(|&gap| far.contains(self.gaps.far(gap, body))));
        }
        direct.sort_unstable();
        direct
    }

    /// The gaps across the cut around one lead's side that lie on some way from there to the other lead; none where
    /// they are too many to tell, or not all known.
    fn cut(&self, near: &Reach, far: &Reach, most_walked: usize) -> Option<Vec<u32>> {
        let mut walk = Reach::from(far.bodies().iter().copied());
        let mut cut = Vec::new();
        let mut walked = 0;
        while let Some(body) = walk.step() {
            if self.gaps.is_crowded(body) {
                return None;
            }
            for &gap in self.gaps.at(body) {
                walked += 1;
                let other = self.gaps.far(gap, body);
                if near.contains(other) {
                    cut.push(gap);
                } else {
                    walk.enter(other);
                }
            }
            if walked > most_walked {
                return None;
            }
            // Nothing conducts from here into the near side, which is closed under all that may.
            for (other, edge) in self.network.edges_at(body) {
                if self.conducts(edge, Conducting::MaybeInAny) {
                    walk.enter(other);
                }
            }
        }
        cut.sort_unstable();
        cut.dedup();
        Some(cut)
    }

    /// All gaps across the cut around one lead's side; none where they are too many, or not all known.
    fn whole_cut(&self, near: &Reach, most: usize) -> Option<Vec<u32>> {
        let mut cut = Vec::new();
        for &body in near.bodies() {
            let here = self.gaps.at(body);
            if self.gaps.is_crowded(body) || cut.len() + here.len() > most {
                return None;
            }
            cut.extend(here.iter().copied().filter(|&gap| !near.contains(self.gaps.far(gap, body))));
        }
        cut.sort_unstable();
        Some(cut)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::input::{Input, read_installation, read_test_set};
    use crate::model::{DeviceRef, TerminalRef};
    use crate::network::Body;
    use crate::reading::{DeviceState, Replay};

    /// A switch whose common terminal is joined to another terminal: in one position that it stands in, or in some
    /// position where nobody knows. What may conduct takes a cut on, on the far side and on the near side.
    #[test]
    fn a_cut_goes_on_over_all_that_may_conduct() {
        let text = include_bytes!("../../tests/fixtures/small/two-way.toml");
        let installation = read_installation(Input::toml(text)).expect("the fixture is valid");
        let (point, _) = installation.points().find(|(_, point)| point.id() == "S1").expect("it has this switch");
        let network = Network::of(installation.clone());
        let common = network.body(TerminalRef::Point { point, terminal: 0 });
        let tests = include_bytes!("../../tests/fixtures/small/two-way.tests.toml");
        let tests = read_test_set(Input::toml(tests), &installation).expect("the fixture is valid");
        let mut standing = Replay::of(&network, &tests).into_configuration();
        for is_known in [true, false] {
            if !is_known {
                standing.set_device(network.device(DeviceRef::Point(point)), DeviceState::Unknown(0));
            }
            let mut joined = network.edges_at(common).filter(|&(_, edge)| standing.may_conduct(&network, edge));
            let (throw, edge) = joined.next().expect("it is joined to a strapper");
            assert_eq!(standing.conducts(&network, edge), is_known);
            let earth = network.body(TerminalRef::MainEarth);
            let none = GapTable::between(&network, Vec::new());
            let apart = Across { network: &network, gaps: &none, standing: &standing };
            let on = apart.on_leads(&LeadBodies::on([vec![common], vec![earth]]), Conducting::MaybeInAny);
            let mut bodies = 0..network.body_count() as Body;
            let lead = bodies.find(|&body| !on.iter().any(|on| on.contains(body))).expect("there is other copper");
            let cuts = |leads: [Body; 2], gaps: Vec<[Body; 2]>| {
                let gaps = GapTable::between(&network, gaps);
                let across = Across { network: &network, gaps: &gaps, standing: &standing };
                across.sums(&LeadBodies::on(leads.map(|lead| vec![lead]))).cuts
            };
            // From the earth over a gap, the contact and another gap.
            assert_eq!(cuts([lead, earth], vec![[earth, common], [throw, lead]]), [[1], [0]]);
            // The lead on the common terminal has the throw on it too.
            assert_eq!(cuts([common, earth], vec![[earth, throw]]), [[0]]);
        }
    }
}
