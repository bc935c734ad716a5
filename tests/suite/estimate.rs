//! About how long a plan takes: sums that can be worked by hand, and nothing that a plan is chosen by.

use lengthwise::model::Installation;
use lengthwise::plan::{Estimate, Pace, People, Plan, PlanStart, Request};
use lengthwise::{Need, Network, Unwatched};
use serde_json::{Value, json};

use crate::engine;

/// A lamp in the loft, 20 m away, with a switch there that is fed first, and one by the board that nobody operates.
fn loft(passages: &Value) -> Installation {
    let length = |id: &str, from: &str, to: &str, cores: Value| json!({ "id": id, "from": from, "to": to, "metres": 5, "cores": cores });
    let strappers = json!({ "black": ["L1", "L1"], "grey": ["L2", "L2"], "cpc": ["E", "E"] });
    engine::from_value(&json!({
        "format": 1,
        "installation": { "name": "Loft", "nominal_voltage": 230 },
        "location": [{ "id": "hall" }, { "id": "loft" }],
        "passage": passages,
        "board": [{ "id": "DB1", "origin": true, "location": "hall", "way": [{ "id": "1", "device": "mcb" }] }],
        "circuit": [{ "id": "C1", "way": "DB1/1" }],
        "point": [
            { "id": "S1", "kind": "two-way", "stands": "L1", "location": "loft", "terminals": ["N"] },
            { "id": "S2", "kind": "two-way", "stands": "L1", "operable": false, "location": "hall", "terminals": ["N"] },
            { "id": "E1", "kind": "luminaire", "location": "loft" },
        ],
        "length": [
            length("W1", "DB1/1", "S1", json!({ "brown": ["L", "COM"], "blue": ["N", "N"], "cpc": ["E", "E"] })),
            length("W2", "S1", "S2", strappers),
            length("W3", "S2", "E1", json!({ "brown": ["COM", "L"], "cpc": ["E", "E"] })),
        ],
    }))
}

fn estimated(installation: Installation, pace: Pace) -> (Plan, Estimate) {
    let network = Network::of(installation);
    let request = Request::from(Need::Earth);
    let plan = Plan::of(&network, None, Need::Earth).expect("there is no test set");
    let start = PlanStart::of(&network, None, &request).expect("there is no test set");
    let estimate = Estimate::of(&network, &request, &start, &plan, pace);
    (plan, estimate)
}

/// 40 m a minute, 60 s a reading, 10 s an operation, 180 s for the lamp.
#[test]
fn an_estimate_is_a_sum_of_parts() {
    let there = json!([{ "between": ["hall", "loft"], "metres": 20 }]);
    let (plan, estimate) = estimated(loft(&there), Pace::default());
    // The lamp out and back, and 40 m twice: 180 s and 120 s.
    assert_eq!(estimate.out_minutes, 5);
    let by_hand = plan.rounds.iter().map(|round| {
        let seconds = 60 * (round.readings.len() + round.operations.len()) + 10 * round.operations.len();
        seconds.div_ceil(60) as u64
    });
    assert_eq!(estimate.round_minutes, by_hand.collect::<Vec<_>>(), "each walk is 40 m, a minute");
    let operated = plan.rounds.iter().map(|round| round.operations.len()).max();
    assert_eq!(operated, Some(1), "S1 is operated");
    let rounds: u64 = estimate.round_minutes.iter().sum();
    assert_eq!(estimate.minutes, 5 + rounds + estimate.extra_minutes);
    assert!(!estimate.walks_left_out);
    let text = serde_json::to_string(&estimate).expect("it is JSON");
    assert_eq!(serde_json::from_str::<Estimate>(&text).expect("and back"), estimate);
}

/// The other waits at the board while one walks to the loft, 20 m, and stays there.
#[test]
fn two_people_need_not_come_back() {
    let there = json!([{ "between": ["hall", "loft"], "metres": 20 }]);
    let network = Network::of(loft(&there));
    let request = Request::from(Need::Earth).with_people(People::Two);
    let plan = Plan::with(&network, None, &request, &mut Unwatched).expect("there is no test set");
    let start = PlanStart::of(&network, None, &request).expect("there is no test set");
    let estimate = Estimate::of(&network, &request, &start, &plan, Pace::default());
    assert_eq!(plan.metres().map(|metres| metres.0), Some(20.0));
    let by_hand = plan.rounds.iter().map(|round| {
        let seconds = 60 * round.readings.len() + (30 + 10) * round.operations.len();
        seconds.div_ceil(60) as u64
    });
    assert_eq!(estimate.round_minutes, by_hand.collect::<Vec<_>>());
}

#[test]
fn where_the_way_is_not_known_it_says_so() {
    let (plan, estimate) = estimated(loft(&json!([])), Pace::default());
    assert!(estimate.walks_left_out && estimate.out_minutes == 3);
    let pace = |metres_a_minute, seconds| {
        let mut pace = Pace::default();
        (pace.metres_a_minute, pace.reading_seconds, pace.operation_seconds, pace.out_seconds) =
            (metres_a_minute, seconds, seconds, seconds);
        pace
    };
    // Nothing that a person says makes it fail.
    for (metres, seconds, expected) in [(1e-300, 0.0, Some(0)), (1e300, 1e300, Some(u64::MAX)), (1.0, 60.0, None)] {
        let (same, estimate) = estimated(loft(&json!([])), pace(metres, seconds));
        assert_eq!(same, plan, "the plan is the same");
        assert!(expected.is_none_or(|expected| estimate.minutes == expected), "{}", estimate.minutes);
    }
}
