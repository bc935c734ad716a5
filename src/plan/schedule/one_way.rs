//! For two people: one way past the operations of all clusters, without return, and where on it readings are taken.
//!
//! Clusters have no device in common, so their operations may come in any order among one another; those of one cluster
//! come in one of its own orders. All plans of as few operations are paths from layer to layer, a layer for each number
//! of operations done: how far each cluster is done, and the stop where the last was worked (dynamic programming over
//! the states between, as Held and Karp 1962 for tours; with what must come before what, Psaraftis 1980).

use std::collections::hash_map::Entry;

use rustc_hash::FxHashMap;

use crate::network::DeviceIndex;
use crate::observer::Watch;
use crate::plan::limits::PlanLimits;
use crate::plan::schedule::compose::ScheduledWalk;
use crate::plan::schedule::nearest::WalkLengths;
use crate::plan::schedule::operations::last_of_each;
use crate::plan::schedule::tour::search::Micrometres;
use crate::plan::solve::engine::{ClusterPlan, ClusterStep, Engines, StepOrders};

/// One way past all operations.
pub(in crate::plan) struct OneWay {
    /// How long the way is; none where the passages do not tell: then it has the fewest stops.
    pub(in crate::plan) length: Option<Micrometres>,
    /// Stops, each counted when it is come to from another.
    pub(in crate::plan) stops: u32,
    /// Whether no plan of as few operations has a shorter way, or one as long with fewer stops: proven.
    pub(in crate::plan) is_least: bool,
}

/// Metres, then stops.
type WayLength = (Micrometres, u32);

/// How far each cluster is done, and the stop last worked at, as a number of [`Legs`].
#[derive(Clone, PartialEq, Eq, Hash)]
struct PartlyDone {
    done: Box<[u32]>,
    stop: usize,
}

struct ReachedState {
    cost: WayLength,
    /// The state before, by its number in the layer before, and the cluster with the operation between.
    from: Option<(usize, usize, ClusterStep)>,
}

/// How far it is from stop to stop; number 0 is where the way begins.
struct Legs {
    numbers: FxHashMap<u32, usize>,
    between: Option<Vec<Vec<Micrometres>>>,
}

impl Legs {
    fn new(steps: &[StepOrders], lengths: Option<&mut WalkLengths<'_, '_>>) -> Legs {
        let mut stops: Vec<u32> = steps.iter().flat_map(|steps| &steps.after).flatten().map(|step| step.stop).collect();
        stops.sort_unstable();
        stops.dedup();
        let between = lengths.and_then(|lengths| lengths.between(&stops));
        Legs { numbers: stops.into_iter().enumerate().map(|(number, stop)| (stop, number + 1)).collect(), between }
    }

    fn of(&self, from: usize, to: usize) -> WayLength {
        (self.between.as_ref().map_or(0, |between| between[from][to]), u32::from(from != to))
    }
}

impl OneWay {
    /// The way, and its rounds: what is operated until readings are taken.
    pub(in crate::plan) fn of(
        engines: &mut Engines<'_>,
        plans: &[ClusterPlan],
        lengths: Option<&mut WalkLengths<'_, '_>>,
        limits: &PlanLimits,
        watch: &mut Watch<'_>,
    ) -> (OneWay, Vec<ScheduledWalk>) {
        let steps: Vec<StepOrders> =
            engines.iter_mut().zip(plans).map(|(engine, plan)| engine.steps(plan, watch)).collect();
        let legs = Legs::new(&steps, lengths);
        let (order, (metres, stops), is_exact) = shortest(&steps, &legs, limits, watch);
        let way = OneWay {
            length: legs.between.is_some().then_some(metres),
            stops,
            is_least: is_exact && steps.iter().all(|steps| steps.are_all || steps.after.len() == 1),
        };
        (way, in_rounds(engines, plans, &order))
    }
}

/// The shortest way that is found, as operations with their clusters, and whether none is shorter.
fn shortest(
    steps: &[StepOrders],
    legs: &Legs,
    limits: &PlanLimits,
    watch: &mut Watch<'_>,
) -> (Vec<(usize, ClusterStep)>, WayLength, bool) {
    let start = PartlyDone { done: vec![0; steps.len()].into(), stop: 0 };
    let mut layers: Vec<Vec<ReachedState>> = vec![vec![ReachedState { cost: (0, 0), from: None }]];
    let mut states = vec![start];
    let mut most = limits.ways_kept.max(1);
    let mut is_exact = true;
    loop {
        let last = layers.last().expect("there is the start");
        let mut numbers: FxHashMap<PartlyDone, usize> = FxHashMap::default();
        let mut next_states: Vec<PartlyDone> = Vec::new();
        let mut next: Vec<ReachedState> = Vec::new();
        for (number, (state, reached)) in states.iter().zip(last).enumerate() {
            for (cluster, step) in worth_doing(steps, legs, state) {
                let mut then = state.clone();
                then.done[cluster] = step.next as u32;
                then.stop = legs.numbers[&step.stop];
                let leg = legs.of(state.stop, then.stop);
                let cost = (reached.cost.0 + leg.0, reached.cost.1 + leg.1);
                let found = ReachedState { cost, from: Some((number, cluster, step)) };
                match numbers.entry(then) {
                    Entry::Occupied(known) if next[*known.get()].cost <= cost => {}
                    Entry::Occupied(known) => next[*known.get()] = found,
                    Entry::Vacant(entry) => {
                        next_states.push(entry.key().clone());
                        entry.insert(next.len());
                        next.push(found);
                    }
                }
            }
        }
        if next.is_empty() {
            break;
        }
        if next.len() > most || !watch.goes_on() {
            // From here on only a few are followed.
            is_exact = false;
            most = if watch.goes_on() { (limits.ways_kept / 64).max(1) } else { 1 };
            let mut kept: Vec<usize> = (0..next.len()).collect();
            kept.sort_by_key(|&number| next[number].cost);
            kept.truncate(most);
            let mut is_kept = vec![false; next.len()];
            kept.iter().for_each(|&number| is_kept[number] = true);
            let mut kept = is_kept.iter();
            next.retain(|_| *kept.next().expect("one for each"));
            let mut kept = is_kept.iter();
            next_states.retain(|_| *kept.next().expect("one for each"));
        }
        layers.push(next);
        states = next_states;
    }
    let ends = layers.last().expect("there is the start");
    let mut at = (0..ends.len()).min_by_key(|&number| ends[number].cost).expect("a layer has a state");
    let cost = ends[at].cost;
    let mut order = Vec::with_capacity(layers.len());
    for layer in layers.iter().rev() {
        if let Some((before, cluster, step)) = layer[at].from {
            order.push((cluster, step));
            at = before;
        }
    }
    order.reverse();
    (order, cost, is_exact)
}

/// What is done next from a state. Where a cluster has but one way on, and that is worked here, it may as well be now:
/// whatever way comes after is none the longer for it.
fn worth_doing(steps: &[StepOrders], legs: &Legs, state: &PartlyDone) -> Vec<(usize, ClusterStep)> {
    let after = |cluster: usize| &steps[cluster].after[state.done[cluster] as usize];
    let here = (0..steps.len()).find_map(|cluster| match after(cluster)[..] {
        [only] if legs.numbers[&only.stop] == state.stop => Some((cluster, only)),
        _ => None,
    });
    match here {
        Some(step) => vec![step],
        None => (0..steps.len()).flat_map(|cluster| after(cluster).iter().map(move |&step| (cluster, step))).collect(),
    }
}

/// The rounds on a way: readings are taken as late as they can be, before a cluster moves on whose setting is still to be
/// read, since then they are taken for as many clusters as can be.
fn in_rounds(engines: &mut Engines<'_>, plans: &[ClusterPlan], order: &[(usize, ClusterStep)]) -> Vec<ScheduledWalk> {
    let mut read: Vec<std::vec::IntoIter<bool>> = Vec::with_capacity(engines.len());
    for (number, (engine, plan)) in engines.iter_mut().zip(plans).enumerate() {
        let own: Vec<ClusterStep> = order.iter().filter(|row| row.0 == number).map(|row| row.1).collect();
        read.push(engine.read_after(plan, &own).into_iter());
    }
    let mut rounds = Vec::new();
    let mut waiting: Vec<bool> = vec![false; engines.len()];
    let mut changes: Vec<(DeviceIndex, u16)> = Vec::new();
    let mut close = |waiting: &mut Vec<bool>, changes: &mut Vec<(DeviceIndex, u16)>| {
        let clusters = waiting.iter().enumerate().filter(|row| *row.1).map(|row| row.0);
        let groups = clusters.flat_map(|number| engines[number].groups()).collect();
        waiting.fill(false);
        // What is moved on before anything is read is moved there at once.
        rounds.push(ScheduledWalk { changes: last_of_each(changes.drain(..)), groups });
    };
    for &(cluster, step) in order {
        if waiting[cluster] {
            close(&mut waiting, &mut changes);
        }
        changes.push((step.device, step.option));
        waiting[cluster] = read[cluster].next().unwrap_or(true);
    }
    if !changes.is_empty() {
        close(&mut waiting, &mut changes);
    }
    rounds
}
