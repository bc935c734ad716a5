//! What one reading sees: for each pair of cores, when they are on opposite leads.

use super::condition::Condition;
use super::graph::{Body, DeviceIndex, Network};
use super::group::Reach;
use super::region::{Region, Scout, Side};

/// When two cores are on opposite leads.
pub(crate) enum Opposite {
    Always,
    When(Condition),
    /// Too many devices decide it for a table.
    TooLarge,
}

/// A region with the reach of its groups, worked out when asked for.
pub(crate) struct Sighting<'r, P> {
    region: &'r Region,
    position: P,
    reach: Vec<Option<Reach>>,
}

impl<'r, P: Fn(DeviceIndex, u16) -> u16> Sighting<'r, P> {
    /// `position` tells where a device stands for a digit of a combination.
    pub(crate) fn new(region: &'r Region, position: P) -> Sighting<'r, P> {
        let mut reach = Vec::new();
        reach.resize_with(region.groups.len(), || None);
        Sighting { region, position, reach }
    }

    pub(crate) fn position(&self, device: DeviceIndex, digit: u16) -> u16 {
        (self.position)(device, digit)
    }

    /// The bodies whose reach devices decide, with their numbers in [`Region::bodies`].
    pub(crate) fn decided(&self) -> impl Iterator<Item = (u32, Body)> + use<'r, P> {
        let region = self.region;
        region
            .bodies
            .iter()
            .enumerate()
            .filter(|&(number, _)| region.groups[region.group_of[number] as usize].decides())
            .map(|(number, &body)| (number as u32, body))
    }

    /// When a body beyond variable contacts is joined to a lead; none where too many devices decide it.
    pub(crate) fn when(&mut self, node: u32, side: Side) -> Option<Condition> {
        let number = self.region.group_of[node as usize] as usize;
        let group = &self.region.groups[number];
        if !self.region.is_tractable(group) {
            return None;
        }
        let reach = self.reach[number].get_or_insert_with(|| self.region.reach(group, &self.position));
        Some(reach.condition(node, side))
    }

    /// When a body is joined to either lead; none where too many devices decide it.
    pub(crate) fn when_either(&mut self, node: u32) -> Option<Condition> {
        self.when(node, Side::A)?.or(&self.when(node, Side::B)?)
    }

    fn when_opposite(&mut self, x: u32, y: u32) -> Option<Condition> {
        let straight = self.when(x, Side::A)?.and(&self.when(y, Side::B)?)?;
        let turned = self.when(x, Side::B)?.and(&self.when(y, Side::A)?)?;
        straight.or(&turned)
    }

    /// Tells, for each pair group that the reading reaches with both cores, when they are on opposite leads (never is
    /// left out). Only groups that are `wanted` are looked at.
    ///
    /// The scout must not have explored anything since the region. Time linear in the groups at the lead on which
    /// fewer hang, plus the tables: the earth side of a large installation holds them all.
    pub(crate) fn opposite_groups(
        &mut self,
        network: &Network,
        scout: &Scout,
        wanted: impl Fn(u32) -> bool,
        mut tell: impl FnMut(u32, Opposite),
    ) {
        let region = self.region;
        let weight =
            |side: usize| -> usize { region.held[side].iter().map(|&body| network.groups_at.at(body).len()).sum() };
        let near = if weight(0) <= weight(1) { 0 } else { 1 };
        let beyond: Vec<Body> = self.decided().map(|(_, body)| body).collect();
        for &body in region.held[near].iter().chain(&beyond) {
            for &group in network.groups_at.at(body) {
                if !wanted(group) {
                    continue;
                }
                let [a, b] = network.groups[group as usize].bodies;
                let far_body = if a == body { b } else { a };
                let (Some(here), Some(there)) = (scout.place(body), scout.place(far_body)) else { continue };
                let when = match (here, there) {
                    (Ok(x), Ok(y)) => {
                        if x != y {
                            tell(group, Opposite::Always);
                        }
                        continue;
                    }
                    // Entered from the held body, and once from the lower of two bodies beyond.
                    (Err(_), Ok(side)) if side as usize == near => continue,
                    (Err(_), Err(_)) if body > far_body => continue,
                    (Ok(side), Err(node)) | (Err(node), Ok(side)) => self.when(node, side.other()),
                    (Err(x), Err(y)) => self.when_opposite(x, y),
                };
                match when {
                    None => tell(group, Opposite::TooLarge),
                    Some(when) if when.is_never() => {}
                    Some(when) if when.is_always() => tell(group, Opposite::Always),
                    Some(when) => tell(group, Opposite::When(when)),
                }
            }
        }
    }
}

/// The position of a device whose digit is its position.
pub(crate) fn as_numbered(_: DeviceIndex, position: u16) -> u16 {
    position
}
