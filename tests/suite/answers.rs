//! Answers are data: they live apart from what they were made of, go to another thread, and come back from JSON as they
//! were.

use lengthwise::coverage::Coverage;
use lengthwise::input::{Input, read_record};
use lengthwise::judge::Judgement;
use lengthwise::locate::{Assumptions, Findings};
use lengthwise::network::{Need, Network};
use lengthwise::plan::{Afterwards, LeadJoining, Plan, Priority, Request, SwitchWork};
use lengthwise::prepare::Preparation;
use lengthwise::{Standard, Terminations, Unwatched, Works};
use serde::Serialize;
use serde::de::DeserializeOwned;

use crate::engine;
use crate::small;

/// What every answer can do. That it compiles is most of the test.
trait Answer: Clone + PartialEq + std::fmt::Debug + Serialize + DeserializeOwned + Send + Sync + 'static {}

impl Answer for Coverage {}
impl Answer for Judgement {}
impl Answer for Plan {}
impl Answer for Preparation {}
impl Answer for Findings {}
impl Answer for Works {}
impl Answer for Terminations {}

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
            check_round_trip(name, &Coverage::of(&network, &tests, need).expect("it is for this installation"));
            check_round_trip(name, &Plan::of(&network, Some(&tests), need).expect("it is for this installation"));
            let mut request = Request::from(need);
            request.afterwards = Afterwards::AsFound;
            request.priority = Priority::Stops;
            request.switches = SwitchWork::Each;
            request.joining = LeadJoining::Fewest;
            check_round_trip(
                name,
                &Plan::with(&network, None, &request, &mut Unwatched).expect("it is for this installation"),
            );
        }
        check_round_trip(name, &Preparation::of(&network));
        check_round_trip(name, &Works::of(&network));
        check_round_trip(name, &Terminations::of(network.installation()));
        check_round_trip(
            name,
            &Findings::of(&network, &tests, Assumptions::default()).expect("it is for this installation"),
        );
    }
}

#[test]
fn a_judgement_comes_back_from_its_json_as_it_was() {
    let slip = (include_str!("../fixtures/judge/slip.toml"), include_str!("../fixtures/judge/slip.record.toml"));
    let demo = (include_str!("../../demo/skerry-light.toml"), include_str!("../../demo/record.toml"));
    for (name, (file, record)) in [("slip.toml", slip), ("skerry-light.toml", demo)] {
        let installation = engine::installation(name, file.as_bytes());
        let record = read_record(Input::file(name, record), &installation).unwrap_or_else(|errors| panic!("{errors}"));
        for standard in Standard::ALL {
            let network = Network::of(installation.clone()).with_ruleset(standard.ruleset().clone());
            for need in [Need::Earth, Need::EveryPair] {
                check_round_trip(name, &Judgement::of(&network, &record, need).expect("it is for this installation"));
            }
            check_round_trip(name, &Preparation::of(&network));
        }
    }
}

/// Readings with values: each thing to do next, and readings that contradict one another.
#[test]
fn findings_come_back_from_their_json_as_they_were() {
    let file = |path: &str| {
        std::fs::read(format!("{}/{path}", env!("CARGO_MANIFEST_DIR")))
            .unwrap_or_else(|error| panic!("{path}: {error}"))
    };
    for (installation, tests) in [
        ("demo/skerry-light.toml", "demo/fault-1.toml"),
        ("demo/skerry-light.toml", "demo/fault-1-4.toml"),
        ("demo/skerry-light.toml", "demo/fault-2-6.toml"),
        ("demo/skerry-light.toml", "demo/fault-3-5.toml"),
        ("tests/fixtures/small/ring-final.toml", "tests/fixtures/locate/ring-final-against-itself.toml"),
        ("tests/fixtures/locate/touched.json", "tests/fixtures/locate/touched.tests.json"),
    ] {
        let installation = engine::installation(installation, &file(installation));
        let record = engine::test_set(tests, &file(tests), &installation);
        let network = Network::of(installation);
        check_round_trip(
            tests,
            &Findings::of(&network, &record, Assumptions::default()).expect("it is for this installation"),
        );
    }
}
