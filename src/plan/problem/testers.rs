//! Readings that may test a pair, and the settings in which they do for each combination of unknown starts.

use std::rc::Rc;

use rustc_hash::FxHashSet;

use crate::limits::Limits;
use crate::network::DeviceIndex;
use crate::observer::Watch;
use crate::plan::problem::choices::{DeviceChoices, OptionKind};
use crate::reading::{Condition, Digit, TableLimits, combinations};

/// A reading that puts a pair's cores on opposite leads in some positions.
pub(in crate::plan) struct PairTester {
    /// Over actual positions.
    pub(in crate::plan) opposite: Condition,
    /// When the reading is void, over actual positions: in any of these.
    pub(in crate::plan) void: Rc<Vec<Condition>>,
}

impl PairTester {
    /// The devices that bear on it.
    pub(in crate::plan) fn digits(&self) -> Vec<Digit> {
        self.void.iter().chain([&self.opposite]).flat_map(|condition| condition.digits.iter().copied()).collect()
    }
}

/// A pair for one combination of unknown starts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::plan) struct PairForStart {
    /// The settings in which it is tested, over options.
    pub(in crate::plan) holds: Condition,
    /// Where each unknown device on which that depends started; for other combinations it may be the same settings.
    pub(in crate::plan) start: Vec<(DeviceIndex, u16)>,
}

/// The settings in which a pair is tested, for each combination of unknown starts.
pub(in crate::plan) struct Tables {
    pub(in crate::plan) elements: Vec<PairForStart>,
    /// Whether some setting does for each.
    pub(in crate::plan) are_all_met: bool,
}

/// For each combination of unknown starts: the settings in which some reading tests the pair. None where that is
/// too much to list, or where the observer said to stop.
pub(in crate::plan) fn settings_of(
    limits: &Limits,
    choices: &DeviceChoices,
    testers: &[&PairTester],
    tested_for: Option<&Condition>,
    watch: &mut Watch<'_>,
) -> Option<Tables> {
    let (tables, table_cells) = (&limits.tables, limits.plan.table_cells);
    let mut starts: Vec<(DeviceIndex, u16)> = Vec::new();
    for tester in testers {
        for &(device, positions) in &tester.opposite.digits {
            if choices.is_unknown(device) {
                starts.push((device, positions));
            }
        }
    }
    if let Some(tested_for) = tested_for {
        starts.extend(tested_for.digits.iter().copied());
    }
    starts.sort_unstable();
    starts.dedup();
    combinations(&starts, tables)?;
    // When each reading is void in any combination of the unknown starts, over options; smaller tables first, so
    // that one too large to add leaves out as little as can be.
    let mut sound_testers = Vec::with_capacity(testers.len());
    for &tester in testers {
        sound_testers.push((tester, void_over_options(tester, choices, tables)?));
    }
    sound_testers.sort_by_key(|(tester, void)| tester.opposite.digits.len() + void.digits.len());
    // Starts of devices that are only ever turned permute the settings, so most of their combinations come to the
    // same few tables: those are found by turning one device at a time instead of going through all combinations.
    let (turned, listed): (Vec<Digit>, Vec<Digit>) = starts.iter().partition(|digit| {
        tested_for.is_none() && matches!(choices.kind(digit.0), OptionKind::Turned { positions: 2, .. })
    });
    let numbering = Condition::never(listed.clone());
    let already = tested_for.map(|condition| condition.over(&listed));
    let mut seen: FxHashSet<Vec<Condition>> = FxHashSet::default();
    // Each with the start that it was listed for, and a bit for each device turned since.
    let mut families: Vec<(Vec<Condition>, usize, u64)> = Vec::new();
    let mut cells = 0;
    for start in 0..numbering.count() {
        if already.as_ref().is_some_and(|tested| tested.get(start)) {
            continue;
        }
        let positions = numbering.positions(start);
        let first: Vec<Condition> = sound_testers
            .iter()
            .map(|(tester, _)| choices.over_options(&tester.opposite, &positions))
            .collect::<Option<_>>()?;
        cells += first.iter().map(Condition::count).sum::<usize>();
        if cells > table_cells || !watch.goes_on_after_long() {
            return None;
        }
        if !seen.insert(first.clone()) {
            continue;
        }
        let mut next = families.len();
        families.push((first, start, 0));
        while next < families.len() {
            for (number, &(device, _)) in turned.iter().enumerate() {
                let other: Vec<Condition> = families[next].0.iter().map(|opposite| opposite.turned(device)).collect();
                cells += other.iter().map(Condition::count).sum::<usize>();
                if cells > table_cells || !watch.goes_on() {
                    return None;
                }
                if seen.insert(other.clone()) {
                    let turns = families[next].2 ^ 1 << number;
                    families.push((other, start, turns));
                }
            }
            next += 1;
        }
    }
    let mut distinct: FxHashSet<Condition> = FxHashSet::default();
    let mut elements = Vec::new();
    for (family, start, turns) in families {
        if !watch.goes_on_after_long() {
            return None;
        }
        let mut holds = Condition::never(Vec::new());
        for (opposite, (_, void)) in family.iter().zip(&sound_testers) {
            holds = holds.or(&opposite.and_not(void, tables)?.essential(), tables)?;
        }
        let holds = holds.essential();
        if distinct.insert(holds.clone()) {
            let mut start = numbering.positions(start);
            start.extend(turned.iter().enumerate().map(|(number, digit)| (digit.0, (turns >> number & 1) as u16)));
            start.sort_unstable();
            elements.push(PairForStart { holds, start });
        }
    }
    let are_all_met = !elements.is_empty() && elements.iter().all(|element| !element.holds.is_never());
    Some(Tables { elements, are_all_met })
}

fn void_over_options(tester: &PairTester, choices: &DeviceChoices, limits: &TableLimits) -> Option<Condition> {
    let mut any = Condition::never(Vec::new());
    for condition in tester.void.iter() {
        any = any.or(&choices.over_options_for_some_start(condition)?, limits)?;
    }
    Some(any)
}
