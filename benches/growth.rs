//! How `plan` grows with the installation, from 10 circuits to 10,000, in all and stage by stage; and a plan of the
//! largest, with its proof, against what networkx takes to evaluate one reading on it.
//!
//! And how `cover`, `judge`, `prepare` and `plan` grow with the circuits of one board, whose neutrals are one body of
//! copper. Ten times the circuits at ten times the time is linear. Every circuit is wired by the same generator, so that the
//! installations differ in nothing else. What is timed is the processor's time: a plan of 10 circuits fits between two
//! turns of whatever else the machine does, one of 10,000 does not.

mod generate;
mod measure;
mod plain;

use std::ops::ControlFlow;
use std::time::Duration;

use generate::{Generated, Size};
use lengthwise::coverage::Coverage;
use lengthwise::judge::{Judgement, Verdict};
use lengthwise::model::TestSetDraft;
use lengthwise::network::{Need, Network};
use lengthwise::prepare::Preparation;
use lengthwise::{Input, Observer, Plan, Progress, Stage, Unwatched, read_installation, read_test_set};
use measure::{Effort, median, on_processor, ratio, say};
use plain::{PlainGraph, networkx};
use serde_json::{Value, json};

/// How long each stage took.
struct Stopwatch {
    stage: Option<Stage>,
    since: Duration,
    stages: Vec<(Stage, Duration)>,
}

impl Stopwatch {
    fn start() -> Stopwatch {
        Stopwatch { stage: None, since: on_processor(), stages: Vec::new() }
    }

    fn turn_to(&mut self, stage: Option<Stage>) {
        let now = on_processor();
        if let Some(before) = self.stage {
            self.stages.push((before, now - self.since));
        }
        (self.stage, self.since) = (stage, now);
    }
}

impl Observer for Stopwatch {
    fn progress(&mut self, progress: Progress) -> ControlFlow<()> {
        if self.stage != Some(progress.stage) {
            self.turn_to(Some(progress.stage));
        }
        ControlFlow::Continue(())
    }
}

/// One size measured.
struct Measured {
    circuits: usize,
    whole: Duration,
    stages: Vec<(Stage, Duration)>,
}

/// Plans again and again for so long, so that a plan of ten circuits is measured as well as one of ten thousand.
fn measured(generated: &Generated, least: Duration) -> Measured {
    let network = Network::of(generated.installation.clone());
    let mut watch = Stopwatch::start();
    let begun = on_processor();
    let mut times = 0;
    while times == 0 || on_processor() - begun < least {
        let plan = Plan::with(&network, None, &Need::Standard.into(), &mut watch).expect("it is for this installation");
        watch.turn_to(None);
        assert!(plan.optimal.walks && plan.optimal.operations, "the plan is proven");
        assert!(plan.not_planned.is_empty());
        times += 1;
    }
    let whole = (on_processor() - begun) / times;
    let mut stages: Vec<(Stage, Duration)> = Vec::new();
    for (stage, time) in watch.stages {
        match stages.iter_mut().find(|row| row.0 == stage) {
            Some(row) => row.1 += time / times,
            None => stages.push((stage, time / times)),
        }
    }
    Measured { circuits: generated.draft.circuits.len(), whole, stages }
}

fn main() {
    let effort = Effort::asked_for();
    let sizes = effort.of([10, 100, 1_000, 10_000], [10, 20, 40, 80]);
    let mut before: Option<Measured> = None;
    let mut largest = None;
    println!("growth: plan, with the fewest walks and operations proven at every size");
    for size in sizes {
        let generated = Generated::of(Size::of(size));
        let now = measured(&generated, effort.of(Duration::from_secs(3), Duration::ZERO));
        println!(" {} circuits, {} lengths:", now.circuits, generated.draft.lengths.len());
        if let Some(before) = &before {
            let circuits = now.circuits as f64 / before.circuits as f64;
            say(&format!("plan, with {circuits:.1} times the circuits, takes"), ratio(now.whole, before.whole));
            for (stage, time) in &now.stages {
                if let Some((_, small)) = before.stages.iter().find(|row| row.0 == *stage) {
                    say(
                        &format!("  {stage:?}, {:.0} % of the plan's time, takes", 100.0 * ratio(*time, now.whole)),
                        ratio(*time, *small),
                    );
                }
            }
        }
        before = Some(now);
        largest = Some(generated);
    }
    one_board(effort);
    one_reading(effort, &largest.expect("there is a largest"), before.expect("it was measured").whole);
}

/// Lights on one board, a circuit each, with the usual readings: twice as many, at about twice the time.
fn one_board(effort: Effort) {
    let made = |count: usize| {
        let all = || (1..=count).map(|number| [format!("C{number}"), format!("DB/{number}"), format!("E{number}")]);
        let ways: Vec<Value> = (1..=count).map(|way| json!({ "id": way.to_string(), "device": "mcb" })).collect();
        let circuits: Vec<Value> = all().map(|[circuit, way, _]| json!({ "id": circuit, "way": way })).collect();
        let lights: Vec<Value> = all().map(|[_, _, light]| json!({ "id": light, "kind": "luminaire" })).collect();
        let lengths = all().map(|[circuit, way, light]| {
            json!({ "id": format!("W{circuit}"), "circuit": circuit, "from": way, "to": light, "metres": 1,
                    "cores": { "brown": ["L", "L"], "blue": ["N", "N"], "cpc": ["E", "E"] } })
        });
        let readings = all().flat_map(|[circuit, ..]| {
            let reading = move |one: &str, other: &str| {
                json!({ "circuit": circuit, "between": [one, other], "volts": 500, "megohms": 200 })
            };
            [reading("L+N", "E"), reading("L", "N")]
        });
        let file = json!({ "format": 1, "installation": { "name": "One board", "nominal_voltage": 230 },
                           "board": [{ "id": "DB", "origin": true, "way": ways }], "circuit": circuits, "point": lights,
                           "length": lengths.collect::<Vec<_>>() });
        let tests = json!({ "format": 1, "pass": [{ "reading": readings.collect::<Vec<_>>() }] });
        let installation = read_installation(Input::json(file.to_string().as_bytes())).expect("it is valid");
        let tests = read_test_set(Input::json(tests.to_string().as_bytes()), &installation).expect("it is valid");
        (Network::of(installation), tests)
    };
    let sizes = effort.of([5_000, 10_000, 20_000], [50, 100, 200]);
    println!(" one board, with {} circuits and twice as many, each against half of them:", sizes[1]);
    let times = sizes.map(|size| {
        let (network, tests) = made(size);
        let taken = |work: &mut dyn FnMut()| {
            let begun = on_processor();
            work();
            on_processor() - begun
        };
        [
            taken(&mut || {
                let coverage = Coverage::of(&network, &tests, Need::Standard).expect("it is for this installation");
                assert!(coverage.is_complete());
            }),
            taken(&mut || {
                let judgement = Judgement::of(&network, &tests, Need::Standard).expect("it is for this installation");
                assert_eq!(judgement.verdict, Verdict::Pass);
            }),
            taken(&mut || assert_eq!(Preparation::of(&network).circuits.len(), size)),
            taken(&mut || {
                let plan = Plan::with(&network, None, &Need::Standard.into(), &mut Unwatched);
                assert!(plan.expect("it is for this installation").untestable.is_empty());
            }),
        ]
    });
    for (number, command) in ["cover", "judge", "prepare", "plan"].into_iter().enumerate() {
        for two in times.windows(2) {
            say(&format!("{command}, with twice the circuits, takes"), ratio(two[1][number], two[0][number]));
        }
    }
}

/// What networkx takes to evaluate one reading: the first of the usual tests, in the setting as everything stands. The
/// loading of the data is left out; the building of its graph from them is given apart.
fn one_reading(effort: Effort, generated: &Generated, planned: Duration) {
    let mut one = TestSetDraft { passes: vec![generated.test_draft.passes[0].clone()], ..Default::default() };
    one.passes[0].readings.truncate(1);
    let network = Network::of(generated.installation.clone());
    let report = network.report();
    let graph = PlainGraph::of(&report);
    let tests = graph.tests(&report, &one);
    let runs: Vec<networkx::Answer> = (0..effort.of(3, 1)).map(|_| networkx::ask(&graph, &tests)).collect();
    let coverage = Coverage::of(&network, &generated.tests(&one), Need::Standard).expect("it is for this installation");
    assert_eq!(
        coverage.pairs.iter().map(|pair| coverage.tested_by(pair).len()).sum::<usize>(),
        runs[0].tested.len(),
        "networkx gives another answer"
    );
    assert!(!runs[0].tested.is_empty(), "a comparison of nothing says nothing");
    let time =
        |of: fn(&networkx::Answer) -> f64| median(runs.iter().map(|run| Duration::from_secs_f64(of(run))).collect());
    let (building, answering) = (time(|run| run.building), time(|run| run.answering));
    println!(" against networkx {}, evaluating one reading on the largest:", runs[0].version);
    say("one reading by networkx, its graph built from data in memory, against the whole plan", {
        ratio(building + answering, planned)
    });
    say("one reading by networkx, its graph already built, against the whole plan", ratio(answering, planned));
}
