//! Which gaps bound what a reading measures: from below those directly across its leads, from above those across a cut.

use super::gap::Gaps;
use crate::network::{Body, Edge, Network, Reach};
use crate::reading::{Configuration, LeadBodies};

/// The most gaps that are walked to find those of a cut that current could take. Beyond, all gaps across it are taken,
/// which claims less.
const MOST_WALKED: usize = 1 << 13;

/// The most gaps in one sum; where there are more, that bound is not used, which claims less.
const MOST_ACROSS: usize = 1 << 14;

/// The gaps whose leakages bound the conductance between two leads.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Sums {
    /// Their sum is at most what is measured; ascending. None where they are too many.
    pub(super) direct: Option<Vec<u32>>,
    /// For each cut: the sum is at least what is measured; ascending.
    pub(super) cuts: Vec<Vec<u32>>,
    /// The leads may be joined, as far as is seen without going through the combinations of unknown positions: then no
    /// cut is known.
    pub(super) may_be_joined: bool,
}

/// What conducts, for sure or perhaps, in every or in any position that unknown devices may have.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Conducting {
    SureInEvery,
    MaybeInAny,
}

/// Tells the sums of readings taken with everything standing so.
pub(super) struct Across<'a> {
    pub(super) network: &'a Network,
    pub(super) gaps: &'a Gaps,
    pub(super) standing: &'a Configuration,
}

impl Across<'_> {
    pub(super) fn conducts(&self, edge: Edge, how: Conducting) -> bool {
        match how {
            Conducting::MaybeInAny => self.standing.may_conduct(self.network, edge),
            Conducting::SureInEvery => self.standing.conducts(self.network, edge),
        }
    }

    /// All that is joined to some bodies.
    pub(super) fn closure(&self, bodies: &[Body], how: Conducting) -> Reach {
        self.network.reach(bodies.iter().copied(), |edge| self.conducts(edge, how))
    }

    /// The sums of a reading between these leads. The reading must not be void.
    ///
    /// Time linear in what the leads reach and the gaps around it, to the budgets above.
    pub(super) fn sums(&self, leads: &LeadBodies) -> Sums {
        let may = [0, 1].map(|lead: usize| self.closure(&leads.0[lead], Conducting::MaybeInAny));
        let may_be_joined = may[0].bodies().iter().any(|body| may[1].contains(*body));
        let sure = [0, 1].map(|lead: usize| self.closure(&leads.0[lead], Conducting::SureInEvery));
        let mut cuts: Vec<Vec<u32>> = Vec::new();
        for near in 0..2 {
            if !may_be_joined
                && let Some(cut) = self.cut(&may[near], &may[1 - near].bodies())
                && !cuts.contains(&cut)
            {
                cuts.push(cut);
            }
        }
        Sums { direct: self.direct(&sure), cuts, may_be_joined }
    }

    fn direct(&self, sure: &[Reach; 2]) -> Option<Vec<u32>> {
        let weight =
            |side: usize| -> usize { sure[side].bodies().iter().map(|&body| self.gaps.at.at(body).len()).sum() };
        let near = if weight(0) <= weight(1) { 0 } else { 1 };
        let mut direct = Vec::new();
        for &body in sure[near].bodies() {
            let here = self.gaps.at.at(body).iter().copied();
            direct.extend(here.filter(|&gap| sure[1 - near].contains(self.gaps.far(gap, body))));
        }
        direct.sort_unstable();
        (direct.len() <= MOST_ACROSS).then_some(direct)
    }

    /// The gaps across the cut around one lead's side that lie on some way from there to the other lead.
    fn cut(&self, near: &Reach, far: &[Body]) -> Option<Vec<u32>> {
        let mut walk = Reach::from(far.iter().copied());
        let mut cut = Vec::new();
        let mut walked = 0;
        while let Some(body) = walk.step() {
            for &gap in self.gaps.at.at(body) {
                walked += 1;
                let other = self.gaps.far(gap, body);
                if near.contains(other) {
                    cut.push(gap);
                } else {
                    walk.enter(other);
                }
            }
            if walked > MOST_WALKED {
                return self.whole_cut(near);
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
        (cut.len() <= MOST_ACROSS).then_some(cut)
    }

    fn whole_cut(&self, near: &Reach) -> Option<Vec<u32>> {
        let mut cut = Vec::new();
        for &body in near.bodies() {
            let here = self.gaps.at.at(body);
            if cut.len() + here.len() > MOST_ACROSS {
                return None;
            }
            cut.extend(here.iter().copied().filter(|&gap| !near.contains(self.gaps.far(gap, body))));
        }
        cut.sort_unstable();
        Some(cut)
    }
}
