//! What is drawn, as a tree of boxes: from the way outwards, a length to each.

use rustc_hash::FxHashMap;

use crate::model::{CircuitId, End, Installation, LengthId, LocationId};

/// A box of a drawing, with the length that leads to it.
#[derive(Clone, Debug)]
pub(super) struct DrawnBox {
    pub(super) end: End,
    /// It is drawn elsewhere too: a length closes a ring here.
    pub(super) is_again: bool,
    /// Where it is drawn: what is drawn elsewhere too stands where the box before it is.
    pub(super) location: Option<LocationId>,
    pub(super) parent: Option<usize>,
    /// The length that leads here, and which of its ends is here.
    pub(super) length: Option<(LengthId, usize)>,
    /// In the order of the file.
    pub(super) children: Vec<usize>,
    /// How many boxes hang on it, with itself.
    pub(super) weight: usize,
}

/// The boxes of circuits, each behind the one that it is fed from. What no length joins to a way begins a tree of its
/// own.
///
/// A ring is walked all the way round; its last length leads to a box that is drawn again. Time and space linear in the
/// circuits and in the installation's lengths times circuits.
pub(super) fn boxes_of(installation: &Installation, circuits: &[CircuitId]) -> Vec<DrawnBox> {
    let lengths: Vec<LengthId> =
        installation.lengths().filter(|(_, length)| circuits.contains(&length.circuit())).map(|(id, _)| id).collect();
    let mut at: FxHashMap<End, Vec<LengthId>> = FxHashMap::default();
    let mut order: Vec<End> = Vec::new();
    for &circuit in circuits {
        order.extend(installation.circuit(circuit).way().map(End::Way));
        order.extend(installation.sources_of(circuit).iter().map(|source| End::Point(source.point)));
    }
    for &length in &lengths {
        for end in installation.length(length).ends() {
            at.entry(end).or_default().push(length);
            order.push(end);
        }
    }
    let mut forest = Forest { installation, boxes: Vec::new(), box_of: FxHashMap::default() };
    let mut is_drawn: FxHashMap<LengthId, ()> = FxHashMap::default();
    for root in order {
        if forest.box_of.contains_key(&root) || !at.contains_key(&root) {
            continue;
        }
        let first = forest.push(root, None, None, false);
        // The way down, with how many of a box's lengths have been gone along.
        let mut way_down = vec![(first, 0)];
        while let Some(&mut (here, ref mut gone)) = way_down.last_mut() {
            let end = forest.boxes[here].end;
            let Some(&length) = at[&end].get(*gone) else {
                way_down.pop();
                continue;
            };
            *gone += 1;
            if is_drawn.insert(length, ()).is_some() {
                continue;
            }
            let ends = installation.length(length).ends();
            let far = usize::from(ends[0] == end);
            let is_again = forest.box_of.contains_key(&ends[far]);
            let next = forest.push(ends[far], Some(here), Some((length, far)), is_again);
            if !is_again {
                way_down.push((next, 0));
            }
        }
    }
    let mut boxes = forest.boxes;
    for number in (0..boxes.len()).rev() {
        if let Some(parent) = boxes[number].parent {
            boxes[parent].weight += boxes[number].weight;
        }
    }
    boxes
}

struct Forest<'i> {
    installation: &'i Installation,
    boxes: Vec<DrawnBox>,
    box_of: FxHashMap<End, usize>,
}

impl Forest<'_> {
    fn push(&mut self, end: End, parent: Option<usize>, length: Option<(LengthId, usize)>, is_again: bool) -> usize {
        let number = self.boxes.len();
        let location = match end {
            _ if is_again => parent.and_then(|parent| self.boxes[parent].location),
            end => self.installation.end_location(end),
        };
        if !is_again {
            self.box_of.insert(end, number);
        }
        if let Some(parent) = parent {
            self.boxes[parent].children.push(number);
        }
        self.boxes.push(DrawnBox { end, is_again, location, parent, length, children: Vec::new(), weight: 1 });
        number
    }
}
