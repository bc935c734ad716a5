//! Settings put in an order that operates little: each time the nearest setting that meets what one of those left does.

use fixedbitset::FixedBitSet;

/// What the order asks of an engine. Options are one for each device of the cluster.
pub(in crate::plan) trait NearSettings {
    fn start(&self) -> Vec<u16>;

    /// The requirements that a setting meets. None: not known.
    fn met_in(&mut self, options: &[u16]) -> Option<FixedBitSet>;

    /// A setting near another, to be reached from it, that meets some requirements. None: there is none, or it is not
    /// known.
    fn nearest(&mut self, from: &[u16], requirements: &FixedBitSet) -> Option<Vec<u16>>;
}

/// Settings in turn.
#[derive(Clone, Debug)]
pub(in crate::plan) struct InOrder {
    pub(in crate::plan) settings: Vec<Vec<u16>>,
    pub(in crate::plan) operations: usize,
    /// Whether all requirements are met.
    pub(in crate::plan) meets_all: bool,
}

/// As many settings or fewer that meet together what these meet of `open`, each next near the one before. Heuristic:
/// the better of two rules for settings that are equally near.
pub(in crate::plan) fn near_order(
    engine: &mut impl NearSettings,
    settings: &[Vec<u16>],
    open: &FixedBitSet,
) -> Option<InOrder> {
    // Each requirement is asked of one setting that meets it.
    let mut asked: Vec<FixedBitSet> = Vec::new();
    let mut left = open.clone();
    for options in settings {
        let mut own = engine.met_in(options)?;
        own.intersect_with(&left);
        left.difference_with(&own);
        asked.push(own);
    }
    let first = in_turn(engine, asked.clone(), |distance, least| distance < least);
    let last = in_turn(engine, asked, |distance, least| distance <= least);
    let of = |order: &InOrder| (!order.meets_all, order.operations);
    [first, last].into_iter().flatten().min_by_key(of).map(|mut order| {
        order.meets_all &= left.is_clear();
        order
    })
}

fn in_turn(
    engine: &mut impl NearSettings,
    mut asked: Vec<FixedBitSet>,
    is_nearer: impl Fn(usize, usize) -> bool,
) -> Option<InOrder> {
    let mut at = engine.start();
    let mut order = InOrder { settings: Vec::new(), operations: 0, meets_all: true };
    loop {
        asked.retain(|own| !own.is_clear());
        if asked.is_empty() {
            return Some(order);
        }
        let mut nearest: Option<(usize, Vec<u16>)> = None;
        for own in &asked {
            let Some(options) = engine.nearest(&at, own) else { continue };
            let distance = at.iter().zip(&options).filter(|(here, there)| here != there).count();
            if nearest.as_ref().is_none_or(|(least, _)| is_nearer(distance, *least)) {
                nearest = Some((distance, options));
            }
        }
        let Some((distance, options)) = nearest else {
            order.meets_all = false;
            return Some(order);
        };
        let met = engine.met_in(&options)?;
        let before: usize = asked.iter().map(|own| own.count_ones(..)).sum();
        asked.iter_mut().for_each(|own| own.difference_with(&met));
        if asked.iter().map(|own| own.count_ones(..)).sum::<usize>() == before {
            return None;
        }
        at.clone_from(&options);
        order.operations += distance;
        order.settings.push(options);
    }
}
