//! Of plans with equally few walks, operations and stops, the one that is walked in the fewest metres.

use rustc_hash::FxHashMap;

use crate::model::LocationId;
use crate::observer::Watch;
use crate::plan::limits::PlanLimits;
use crate::plan::schedule::tour::distances::Distances;
use crate::plan::schedule::tour::search::Micrometres;
use crate::plan::solve::engine::ClusterWay;

/// Clusters that share stops, and the ways in which they can do their part with equally few operations and stops.
pub(in crate::plan) struct SharingPart {
    pub(in crate::plan) clusters: Vec<usize>,
    pub(in crate::plan) ways: Vec<SharingWay>,
    /// Whether these are all there are.
    pub(in crate::plan) all_listed: bool,
}

/// One way of a part.
pub(in crate::plan) struct SharingWay {
    /// (walk, stop) visited, ascending.
    pub(in crate::plan) visits: Vec<(u16, u32)>,
    /// For each of the part's clusters.
    pub(in crate::plan) ways: Vec<ClusterWay>,
}

impl SharingWay {
    pub(in crate::plan) fn of(ways: Vec<ClusterWay>) -> SharingWay {
        let mut visits: Vec<(u16, u32)> = ways.iter().flat_map(|way| &way.visits).copied().collect();
        visits.sort_unstable();
        visits.dedup();
        SharingWay { visits, ways }
    }
}

/// How near the chosen ways are known to be.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(in crate::plan) enum Nearness {
    /// Nothing is known of that.
    #[default]
    Unknown,
    /// No plan of as many walks, operations and stops is walked in fewer metres than this; all walks together.
    Proven(Micrometres),
}

pub(in crate::plan) struct NearestWays {
    /// For each part, the way chosen.
    pub(in crate::plan) ways: Vec<usize>,
    pub(in crate::plan) nearness: Nearness,
}

/// How long walks are from one board past some stops and back.
pub(in crate::plan) struct WalkLengths<'d, 'i> {
    distances: &'d Distances<'i>,
    home: LocationId,
    /// For each stop, where it is; none where that is not known.
    place_of_stop: Vec<Option<LocationId>>,
    known: FxHashMap<Vec<LocationId>, Option<TourLength>>,
    limits: &'d PlanLimits,
    /// Steps left.
    budget: usize,
}

#[derive(Clone, Copy)]
struct TourLength {
    metres: Micrometres,
    is_shortest: bool,
}

impl<'d, 'i> WalkLengths<'d, 'i> {
    pub(in crate::plan) fn new(
        distances: &'d Distances<'i>,
        home: LocationId,
        place_of_stop: Vec<Option<LocationId>>,
        limits: &'d PlanLimits,
    ) -> WalkLengths<'d, 'i> {
        let budget = limits.tour_steps;
        WalkLengths { distances, home, place_of_stop, known: FxHashMap::default(), limits, budget }
    }

    /// How far it is between the board, then these stops; none where the passages do not tell.
    pub(in crate::plan) fn between(&self, stops: &[u32]) -> Option<Vec<Vec<Micrometres>>> {
        let places = stops.iter().map(|&stop| self.place_of_stop[stop as usize]);
        let all: Vec<LocationId> = std::iter::once(Some(self.home)).chain(places).collect::<Option<_>>()?;
        self.distances.between(&all)
    }

    /// One walk; none where the passages do not tell, or the budget is spent.
    fn of(&mut self, stops: &[u32], watch: &mut Watch<'_>) -> Option<TourLength> {
        let mut places: Vec<LocationId> =
            stops.iter().map(|&stop| self.place_of_stop[stop as usize]).collect::<Option<_>>()?;
        places.retain(|&place| place != self.home);
        places.sort_unstable();
        places.dedup();
        if let Some(known) = self.known.get(&places) {
            return *known;
        }
        let count = places.len();
        let is_exact = count <= self.limits.exact_stops;
        let steps = if is_exact { (count * count) << count } else { self.limits.tour_changes };
        self.budget = self.budget.checked_sub(steps)?;
        let all: Vec<LocationId> = std::iter::once(self.home).chain(places.iter().copied()).collect();
        let walk = self.distances.walk(&all, self.limits, watch);
        let length = walk.map(|(found, is_shortest)| TourLength { metres: found.length, is_shortest });
        self.known.insert(places, length);
        length
    }

    /// All walks of chosen ways together.
    fn all(
        &mut self,
        parts: &[SharingPart],
        ways: &[usize],
        walks: usize,
        watch: &mut Watch<'_>,
    ) -> Option<TourLength> {
        let mut stops: Vec<Vec<u32>> = vec![Vec::new(); walks];
        for (part, &way) in parts.iter().zip(ways) {
            for &(walk, stop) in &part.ways[way].visits {
                stops[usize::from(walk)].push(stop);
            }
        }
        let mut all = TourLength { metres: 0, is_shortest: true };
        for stops in stops.iter().filter(|stops| !stops.is_empty()) {
            let one = self.of(stops, watch)?;
            all.metres += one.metres;
            all.is_shortest &= one.is_shortest;
        }
        Some(all)
    }
}

/// Chooses a way for each part so that all walks together are shortest.
///
/// Where there are few enough ways together, all are compared; else each part in turn is changed for the better while
/// that helps, and nothing is proven.
pub(in crate::plan) fn nearest(
    parts: &[SharingPart],
    walks: usize,
    lengths: &mut WalkLengths<'_, '_>,
    watch: &mut Watch<'_>,
) -> NearestWays {
    let mut ways = vec![0; parts.len()];
    let Some(mut best) = lengths.all(parts, &ways, walks, watch) else {
        return NearestWays { ways, nearness: Nearness::Unknown };
    };
    let together = parts.iter().try_fold(1usize, |count, part| count.checked_mul(part.ways.len()));
    if together.is_some_and(|count| count <= lengths.limits.compared_ways) {
        let mut proven = parts.iter().all(|part| part.all_listed) && best.is_shortest;
        let mut tried = ways.clone();
        while let Some(next) = (0..parts.len()).find(|&part| tried[part] + 1 < parts[part].ways.len()) {
            tried[next] += 1;
            tried[..next].fill(0);
            let Some(length) = lengths.all(parts, &tried, walks, watch).filter(|_| watch.goes_on()) else {
                proven = false;
                break;
            };
            proven &= length.is_shortest;
            if length.metres < best.metres {
                best = length;
                ways.clone_from(&tried);
            }
        }
        let nearness = if proven { Nearness::Proven(best.metres) } else { Nearness::Unknown };
        return NearestWays { ways, nearness };
    }
    let mut better = true;
    while better && watch.goes_on() {
        better = false;
        for part in 0..parts.len() {
            for way in 0..parts[part].ways.len() {
                let before = std::mem::replace(&mut ways[part], way);
                match lengths.all(parts, &ways, walks, watch) {
                    Some(length) if length.metres < best.metres => {
                        best = length;
                        better = true;
                    }
                    Some(_) => ways[part] = before,
                    None => {
                        ways[part] = before;
                        return NearestWays { ways, nearness: Nearness::Unknown };
                    }
                }
            }
        }
    }
    NearestWays { ways, nearness: Nearness::Unknown }
}
