//! Valid installations, and test sets for them, with real variety, in the JSON form of FORMAT.md.
//!
//! An installation is drawn the way a person would wire it, circuit by circuit from a handful of patterns, and then
//! spoiled here and there: a core on the wrong terminal, a spare end, a protective core left out, a lamp that stays in,
//! a switch that nobody knows the position of. Drawing terminals at random throughout (there is a pattern that does)
//! yields hardly any circuit in which a reading reaches the far end.
//!
//! All choices come from a row of dice, so that proptest can shrink a failing case by shrinking the dice: zero is
//! always the plainest choice, and dice that run out roll zero.

mod dice;
mod patterns;
mod renamed;
mod site;
mod tests;
mod variety;

use proptest::prelude::*;
use serde_json::Value;

pub use dice::Dice;
pub use renamed::renamed;
use site::{Limits, Site};

/// An installation, a test set for it, and a pass that could be added to that.
#[derive(Clone, Debug)]
pub struct Case {
    pub installation: Value,
    pub test_set: Value,
    pub further_pass: Value,
}

/// An installation, and what a person may enter for it bit by bit.
#[derive(Clone, Debug)]
pub struct Entries {
    pub installation: Value,
    /// How things may stand at the start.
    pub starts: Vec<Value>,
    pub passes: Vec<Value>,
    /// What decides which of them are entered where.
    pub dice: Dice,
}

/// Installations as in [`cases`], with more passes.
pub fn entries() -> impl Strategy<Value = Entries> {
    let limits = Limits { circuits: 3, switching: false, settings: 48, combinations: 12, mistakes: 8 };
    let dice = [300..700usize, 40..160].map(|dice| prop::collection::vec(any::<u16>(), dice));
    dice.prop_map(move |[rolls, further]| {
        let mut site = Site::drawn(Dice::new(rolls), limits);
        let starts = (0..3).map(|_| tests::start(&mut site).into()).collect();
        let passes = (0..6).map(|_| tests::pass(&mut site)).collect();
        Entries { installation: site.installation(), starts, passes, dice: Dice::new(further) }
    })
}

fn case(limits: Limits, dice: std::ops::Range<usize>) -> impl Strategy<Value = Case> {
    prop::collection::vec(any::<u16>(), dice).prop_map(move |rolls| {
        let mut site = Site::drawn(Dice::new(rolls), limits);
        let test_set = tests::test_set(&mut site);
        let further_pass = tests::pass(&mut site);
        Case { installation: site.installation(), test_set, further_pass }
    })
}

/// Installations of one to three circuits, and sometimes a sub-board.
pub fn cases() -> impl Strategy<Value = Case> {
    case(Limits { circuits: 3, switching: false, settings: 48, combinations: 12, mistakes: 8 }, 300..700)
}

/// One circuit in which switches bear on one another, few enough to try every plan.
pub fn planning_clusters() -> impl Strategy<Value = Case> {
    case(Limits { circuits: 1, switching: true, settings: 96, combinations: 4, mistakes: 2 }, 300..700)
}

/// The same with more settings than plans can be tried in, but few enough to go through once.
pub fn wide_clusters() -> impl Strategy<Value = Case> {
    case(Limits { circuits: 1, switching: true, settings: 1024, combinations: 2, mistakes: 2 }, 300..700)
}

/// Many circuits and as many switches as they bring: too large for trying every plan.
pub fn large_cases() -> impl Strategy<Value = Case> {
    case(Limits { circuits: 24, switching: false, settings: usize::MAX, combinations: 8, mistakes: 6 }, 2000..2400)
}

/// A property is tried on so many cases; or, for a night, on as many times more as the variable `CASES_TIMES` says.
pub fn times(cases: u32) -> ProptestConfig {
    let times = std::env::var("CASES_TIMES").map_or(1, |times| times.parse().expect("CASES_TIMES is a number"));
    ProptestConfig::with_cases(cases * times)
}
