//! Which lane each core runs in, and on which lane each terminal lies: lines first, then neutrals, then earths.
//!
//! A lane is counted within its group. All boxes of a strip share its lanes, so that a core between two of them is
//! straight; where the two ends of a core lie on different lanes, the copper inside the first box changes lane.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

use super::place::Placing;
use super::tree::DrawnBox;
use crate::model::{End, LengthId, PointId, TerminalRef};
use crate::network::{Network, Role};

/// The lanes of one group of conductors.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum LaneGroup {
    Line,
    Neutral,
    Earth,
}

/// A lane: its group and its number in that; a number and a half lies between two.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Lane(pub(super) LaneGroup, pub(super) f64);

/// In which part of a box a terminal lies, seen along the strip.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum BoxPart {
    /// Towards the supply.
    Near,
    /// It has no contact.
    Middle,
    /// Away from the supply.
    Far,
}

#[derive(Clone, Copy, Debug)]
pub(super) struct DrawnTerminal {
    pub(super) terminal: TerminalRef,
    pub(super) lane: Lane,
    pub(super) part: BoxPart,
}

/// The terminals of a box, and the lanes of the cores that lead to it.
#[derive(Clone, Debug, Default)]
pub(super) struct BoxLanes {
    pub(super) terminals: Vec<DrawnTerminal>,
    /// For each core of the length that leads here, its lane.
    pub(super) cores: Vec<Lane>,
}

impl BoxLanes {
    pub(super) fn has_contacts(&self) -> bool {
        self.terminals.iter().any(|terminal| terminal.part != BoxPart::Middle)
    }

    pub(super) fn terminal(&self, terminal: TerminalRef) -> Option<&DrawnTerminal> {
        self.terminals.iter().find(|drawn| drawn.terminal == terminal)
    }
}

/// How many lanes of each group a strip has.
pub(super) type LaneCounts = [usize; 3];

/// The lanes of all boxes, and how many each strip has.
///
/// Time and space linear in cores and terminals, but quadratic in those of one box.
pub(super) fn lanes_of(network: &Network, boxes: &[DrawnBox], placing: &Placing) -> (Vec<BoxLanes>, Vec<LaneCounts>) {
    let mut lanes: Vec<BoxLanes> =
        (0..boxes.len()).map(|number| BoxTerminals { network, boxes, placing, number }.lanes()).collect();
    for number in 0..boxes.len() {
        let before = boxes[number].parent.map(|parent| lanes[parent].terminals.clone()).unwrap_or_default();
        lanes[number].cores = core_lanes(network, boxes, number, &lanes[number], &before);
    }
    let mut counts = vec![[1, 0, 0]; placing.strips.len()];
    for (number, row) in lanes.iter().enumerate() {
        let counts = &mut counts[placing.spots[number].1];
        let used = row.terminals.iter().map(|terminal| terminal.lane).chain(row.cores.iter().copied());
        for Lane(group, lane) in used {
            let count = &mut counts[group as usize];
            *count = (*count).max(lane.ceil() as usize + 1);
        }
    }
    (lanes, counts)
}

/// The lane group of a core.
pub(super) fn group_of_core(network: &Network, length: LengthId, core: usize) -> LaneGroup {
    group_of(network.core_roles(length, core as u16))
}

fn group_of(roles: &[Role]) -> LaneGroup {
    match roles {
        [Role::Neutral] => LaneGroup::Neutral,
        [Role::Earth] => LaneGroup::Earth,
        _ => LaneGroup::Line,
    }
}

/// The lanes of a length's cores: that of the terminal they lead to, or of the one they come from, or a free one.
fn core_lanes(
    network: &Network,
    boxes: &[DrawnBox],
    number: usize,
    here: &BoxLanes,
    before: &[DrawnTerminal],
) -> Vec<Lane> {
    let Some((length, far)) = boxes[number].length else { return Vec::new() };
    let cores = network.installation().length(length).cores();
    let wanted: Vec<[Option<Lane>; 2]> = cores
        .iter()
        .map(|core| {
            let [to, from] = [core.ends()[far], core.ends()[1 - far]];
            let to = to.and_then(|terminal| here.terminal(terminal)).map(|terminal| terminal.lane);
            let from = from.and_then(|terminal| before.iter().find(|drawn| drawn.terminal == terminal));
            [to, from.map(|terminal| terminal.lane)]
        })
        .collect();
    let mut lanes: Vec<Option<Lane>> = vec![None; cores.len()];
    // Cores that can run straight come first.
    let mut order: Vec<usize> = (0..cores.len()).collect();
    order.sort_by_key(|&core| wanted[core][0].is_none() || wanted[core][0] != wanted[core][1]);
    for core in order {
        let group = group_of_core(network, length, core);
        let is_free =
            |lane: Lane| lanes.iter().flatten().all(|other| other.0 != lane.0 || (other.1 - lane.1).abs() > 0.9);
        let any = (0..).map(|lane| Lane(group, f64::from(lane)));
        let wanted = wanted[core].into_iter().flatten().filter(|lane| lane.0 == group);
        lanes[core] = wanted.chain(any).find(|&lane| is_free(lane));
    }
    lanes.into_iter().flatten().collect()
}

/// The terminals of one box.
struct BoxTerminals<'a> {
    network: &'a Network,
    boxes: &'a [DrawnBox],
    placing: &'a Placing,
    number: usize,
}

/// BoxTerminals that contacts join, in two parts between which all contacts lie.
#[derive(Default)]
struct ContactGroup {
    parts: [Vec<TerminalRef>; 2],
}

impl BoxTerminals<'_> {
    fn lanes(&self) -> BoxLanes {
        let sides = self.sides();
        let shown = self.shown(&sides);
        let groups = self.contact_groups(&shown);
        let mut next = [0.0f64; 3];
        let mut terminals: Vec<DrawnTerminal> = Vec::new();
        let sides_of = |terminal: TerminalRef| sides.get(&terminal).copied().unwrap_or_default();
        for &terminal in &shown {
            if terminals.iter().any(|drawn| drawn.terminal == terminal) {
                continue;
            }
            let group = group_of(self.network.roles_at(terminal));
            let Some(contacts) =
                groups.iter().find(|contacts| contacts.parts.iter().flatten().any(|&at| at == terminal))
            else {
                // A terminal without a core needs a lane too: a bridge or a link may lead to it.
                let lane = Lane(group, next[group as usize]);
                next[group as usize] += 1.0;
                terminals.push(DrawnTerminal { terminal, lane, part: BoxPart::Middle });
                continue;
            };
            // The part with more cores from towards the supply lies there.
            let near = |part: &[TerminalRef]| {
                part.iter().map(|&at| sides_of(at).map(i32::from)).map(|[near, far]| near - far).sum::<i32>()
            };
            let [one, other] = &contacts.parts;
            let [near, far] = if near(one) >= near(other) { [one, other] } else { [other, one] };
            let is_through = near.iter().all(|&at| !sides_of(at)[1]) && far.iter().all(|&at| !sides_of(at)[0]);
            let first = next[group as usize];
            let place = |terminals: &mut Vec<DrawnTerminal>, part: &[TerminalRef], kind: BoxPart, first: f64| {
                for (&terminal, place) in part.iter().zip(0..) {
                    let lane = Lane(group, first + f64::from(place));
                    terminals.push(DrawnTerminal { terminal, lane, part: kind });
                }
            };
            let counts = [near.len(), far.len()];
            let count = if is_through {
                let most = counts[0].max(counts[1]);
                for (part, kind, count) in [(near, BoxPart::Near, counts[0]), (far, BoxPart::Far, counts[1])] {
                    place(&mut terminals, part, kind, first + (most - count) as f64 / 2.0);
                }
                most
            } else {
                place(&mut terminals, near, BoxPart::Near, first);
                place(&mut terminals, far, BoxPart::Far, first + counts[0] as f64);
                counts[0] + counts[1]
            };
            next[group as usize] += count as f64;
        }
        BoxLanes { terminals, cores: Vec::new() }
    }

    fn point(&self) -> Option<PointId> {
        match self.boxes[self.number].end {
            End::Point(point) if !self.boxes[self.number].is_again => Some(point),
            _ => None,
        }
    }

    /// The terminals to draw, in the order of the kind: those with a core of the drawing, and what contacts, bridges and
    /// links join these to.
    fn shown(&self, sides: &BTreeMap<TerminalRef, [bool; 2]>) -> Vec<TerminalRef> {
        let mut shown: Vec<TerminalRef> = sides.keys().copied().collect();
        let Some(point) = self.point() else { return shown };
        let row = self.network.installation().point(point);
        let kind = self.network.installation().kind(row.kind());
        let joins = kind.positions.iter().flat_map(|position| &position.joins).chain(&row.links).cloned();
        let bridges = kind.bridges.iter().map(|bridge| bridge.between.to_vec());
        let joins: Vec<Vec<TerminalRef>> = joins
            .chain(bridges)
            .map(|join| join.into_iter().map(|terminal| TerminalRef::Point { point, terminal }).collect())
            .collect();
        loop {
            let before = shown.len();
            for join in &joins {
                if join.iter().any(|terminal| shown.contains(terminal)) {
                    shown.extend(join);
                }
            }
            shown.sort_unstable();
            shown.dedup();
            if shown.len() == before {
                return shown;
            }
        }
    }

    /// From which sides cores come to a terminal: along the strip from towards the supply, and from away.
    fn sides(&self) -> BTreeMap<TerminalRef, [bool; 2]> {
        let mut sides: BTreeMap<TerminalRef, [bool; 2]> = BTreeMap::new();
        let installation = self.network.installation();
        let mut note = |length: LengthId, end: usize, side: usize| {
            for terminal in installation.length(length).cores().iter().filter_map(|core| core.ends()[end]) {
                sides.entry(terminal).or_default()[side] = true;
            }
        };
        let row = &self.boxes[self.number];
        if let Some((length, far)) = row.length {
            note(length, far, 0);
        }
        let own = self.placing.strip_of(self.number);
        for &child in &row.children {
            let Some((length, far)) = self.boxes[child].length else { continue };
            let goes_on = !self.placing.begins_strip(child);
            let turns = self.placing.strip_of(child).direction != own.direction;
            note(length, 1 - far, usize::from(goes_on || turns));
        }
        sides
    }

    fn contact_groups(&self, shown: &[TerminalRef]) -> Vec<ContactGroup> {
        let Some(point) = self.point() else { return Vec::new() };
        let row = self.network.installation().point(point);
        let kind = self.network.installation().kind(row.kind());
        let mut joined: BTreeMap<u16, Vec<u16>> = BTreeMap::new();
        for join in kind.positions.iter().flat_map(|position| &position.joins) {
            // What one position joins is a row of contacts from its first terminal.
            for &other in &join[1..] {
                joined.entry(join[0]).or_default().push(other);
                joined.entry(other).or_default().push(join[0]);
            }
        }
        let mut groups = Vec::new();
        let mut part_of: BTreeMap<u16, usize> = BTreeMap::new();
        for &first in joined.keys() {
            let is_shown = shown.contains(&TerminalRef::Point { point, terminal: first });
            if !is_shown || part_of.contains_key(&first) {
                continue;
            }
            let mut group = ContactGroup::default();
            part_of.insert(first, 0);
            let mut open = vec![first];
            while let Some(at) = open.pop() {
                let part = part_of[&at];
                group.parts[part].push(TerminalRef::Point { point, terminal: at });
                for &other in &joined[&at] {
                    if let Entry::Vacant(entry) = part_of.entry(other) {
                        entry.insert(1 - part);
                        open.push(other);
                    }
                }
            }
            group.parts.iter_mut().for_each(|part| part.sort_unstable());
            groups.push(group);
        }
        groups
    }
}
