//! Answers are data: they live apart from what they were made of, go to another thread, and come back from JSON as they were.

use lengthwise::Standard;
use lengthwise::coverage::Coverage;
use lengthwise::input::read_record;
use lengthwise::judge::Judgement;
use lengthwise::network::{Need, Network};
use lengthwise::prepare::Preparation;
use serde::Serialize;
use serde::de::DeserializeOwned;

use crate::engine;
use crate::small;

/// What every answer can do. That it compiles is most of the test.
trait Answer: Clone + PartialEq + std::fmt::Debug + Serialize + DeserializeOwned + Send + Sync + 'static {}

impl Answer for Coverage {}
impl Answer for Judgement {}
impl Answer for Preparation {}

/// An answer is what its JSON says: read back it is the same answer, and writes the same bytes.
fn check_round_trip<A: Answer>(name: &str, answer: &A) {
    let text = serde_json::to_string_pretty(answer).expect("an answer is JSON");
    let back: A = serde_json::from_str(&text).unwrap_or_else(|error| panic!("{name}: {error}"));
    assert!(back == *answer, "{name}: {back:?} was {answer:?}");
    assert_eq!(serde_json::to_string_pretty(&back).expect("an answer is JSON"), text, "{name}");
}

#[test]
fn every_answer_comes_back_from_its_json_as_it_was() {
    for fixture in small::all() {
        let name = &format!("{}.toml", fixture.name);
        let installation = engine::installation(name, fixture.text.as_bytes());
        let tests = engine::test_set(name, fixture.tests_text.as_bytes(), &installation);
        let network = Network::of(installation);
        for need in [Need::Earth, Need::Standard, Need::EveryPair] {
            check_round_trip(name, &Coverage::of(&network, &tests, need));
        }
        check_round_trip(name, &Preparation::of(&network, Standard::default().ruleset()));
    }
}

#[test]
fn a_judgement_comes_back_from_its_json_as_it_was() {
    let slip = (include_str!("../fixtures/judge/slip.toml"), include_str!("../fixtures/judge/slip.record.toml"));
    let demo = (include_str!("../../demo/skerry-light.toml"), include_str!("../../demo/record.toml"));
    for (name, (file, record)) in [("slip.toml", slip), ("skerry-light.toml", demo)] {
        let installation = engine::installation(name, file.as_bytes());
        let record = read_record(name, record.as_bytes(), &installation).unwrap_or_else(|errors| panic!("{errors}"));
        let network = Network::of(installation);
        for standard in Standard::ALL {
            for need in [Need::Earth, Need::EveryPair] {
                check_round_trip(name, &Judgement::of(&network, &record, standard.ruleset(), need));
            }
            check_round_trip(name, &Preparation::of(&network, standard.ruleset()));
        }
    }
}
