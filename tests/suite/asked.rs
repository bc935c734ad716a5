//! What a plan is asked for in a test: the engine's request and the oracle's, told to both in words.

use proptest::prelude::*;
use serde_json::Value;

use crate::engine::NEEDS;

/// What a plan is asked for.
#[derive(Clone, Debug)]
pub struct Asked {
    pub need: &'static str,
    /// Ids of locations that are locked.
    pub without: Vec<String>,
    /// Ids of points that nobody touches.
    pub leave: Vec<String>,
    /// Everything is put back.
    pub restore: bool,
    /// Stops come before operations.
    pub stops_first: bool,
    /// Each switch is operated, and each position put under test.
    pub each_switch: bool,
    /// Extras that are allowed, by their sorts.
    pub extras: Vec<&'static str>,
    /// Leads are joined otherwise where that makes readings fewer.
    pub fewest_readings: bool,
    /// Two people do the work.
    pub two: bool,
}

impl Asked {
    pub fn of(need: &'static str) -> Asked {
        Asked {
            need,
            without: Vec::new(),
            leave: Vec::new(),
            restore: false,
            stops_first: false,
            each_switch: false,
            extras: Vec::new(),
            fewest_readings: false,
            two: false,
        }
    }
}

fn ids(list: &Value) -> Vec<String> {
    list.as_array().into_iter().flatten().map(|row| row["id"].as_str().unwrap().to_owned()).collect()
}

/// Limits for an installation: up to one locked room and two switches left alone, drawn by numbers.
pub fn limited(installation: &Value, need: usize, [room, first, second]: [usize; 3]) -> Asked {
    let mut asked = Asked::of(NEEDS[need]);
    let rooms = ids(&installation["location"]);
    asked.without.extend(rooms.get(room).cloned());
    let points: Vec<String> =
        ids(&installation["point"]).into_iter().filter(|id| crate::engine::has_positions(installation, id)).collect();
    for number in [first, second] {
        asked.leave.extend(points.get(number).filter(|point| !asked.leave.contains(point)).cloned());
    }
    asked
}

/// Numbers for [`limited`]: now and then none of each sort.
pub fn limits() -> impl Strategy<Value = [usize; 3]> {
    [0..4usize, 0..8usize, 0..12usize]
}
