//! `plan` of one cluster of switches that bear on one another: against OR-Tools CP-SAT and against brute force at the
//! same proven optimum, one engine against the other, and how it grows from 4 devices to 40.
//!
//! The planner is timed whole, from the network to the plan with its readings. CP-SAT and brute force are given the
//! tables of what each setting tests, and only their search is timed. Above 14 devices the tables have no room in those
//! models: there the planner is measured alone, and what it proves is said.

mod measure;

use std::ops::ControlFlow;
use std::process::Command;
use std::time::Duration;

use lengthwise::model::{
    BoardDraft, CircuitDraft, DeviceDraft, Installation, InstallationDraft, LengthDraft, Metres, PointDraft, Volts,
    WayDraft,
};
use lengthwise::network::Network;
use lengthwise::plan::{Plan, Priority, Request, SearchBy, SwitchWork};
use lengthwise::{Observer, Progress};
use measure::{Effort, on_processor, ratio, say};

/// How switches bear on one another.
#[derive(Clone, Copy, Debug)]
enum Shape {
    /// Two two-way switches with intermediate ones between.
    Strappers,
    /// A selector of three ways with strappers behind each: two two-way switches, intermediate ones between.
    Branches,
    /// Two-way switches one behind another, each with a load on its other way.
    Ladder,
}

fn main() {
    let effort = Effort::asked_for();
    println!("cluster: plan of switches that bear on one another");
    for (shape, compared) in [
        (Shape::Strappers, effort.of([4, 8, 11, 14].as_slice(), &[4])),
        (Shape::Branches, effort.of([7, 10, 13].as_slice(), &[7])),
        (Shape::Ladder, effort.of([4, 5, 6].as_slice(), &[4])),
    ] {
        for &devices in compared {
            compare(effort, shape, devices);
            compare_engines(effort, shape, devices);
        }
        let counts = match shape {
            Shape::Branches => effort.of([7, 10, 13, 16, 19, 28, 40].as_slice(), &[7, 10]),
            _ => effort.of([4, 8, 12, 16, 20, 30, 40].as_slice(), &[4, 8]),
        };
        let mut before: Vec<Duration> = Vec::new();
        for &devices in counts {
            let network = Network::of(wired(shape, devices));
            let (time, plan) = planning(&network, &Request::default(), effort.of(HALF_A_SECOND, Duration::ZERO));
            let what = format!("{shape:?}, {devices} devices: {}", told(&plan));
            say(&format!("{what}; against the first"), ratio(time, *before.first().unwrap_or(&time)));
            if let Some(&last) = before.last() {
                say(&format!("{shape:?}: the one before, against {devices} devices"), ratio(last, time));
            }
            before.push(time);
            let hidden = Network::of(hidden(network.installation()));
            let (time_hidden, plan) = planning(&hidden, &Request::default(), effort.of(HALF_A_SECOND, Duration::ZERO));
            let what = format!("{shape:?}, {devices} devices that nobody knows the position of: {}", told(&plan));
            say(&format!("{what}; against known ones"), ratio(time_hidden, time));
        }
        compare_orders(effort, shape, effort.of(13, 4));
    }
}

const HALF_A_SECOND: Duration = Duration::from_millis(500);

/// The figures of a plan, and whether they are proven.
fn told(plan: &Plan) -> String {
    let proven = |proven: bool, least: usize| match proven {
        true => "proven".to_owned(),
        false => format!("NOT proven, at least {least}"),
    };
    let (totals, optimal, bounds) = (plan.totals, plan.optimal, plan.bounds);
    format!(
        "{} walks ({}), {} operations ({}), {} stops ({}){}",
        totals.walks,
        proven(optimal.walks, bounds.walks),
        totals.operations,
        proven(optimal.operations, bounds.operations),
        totals.stops,
        proven(optimal.stops, bounds.stops),
        if plan.stopped { ", stopped" } else { "" },
    )
}

/// What is asked for each switch, with stops first against operations first.
fn compare_orders(effort: Effort, shape: Shape, devices: usize) {
    let network = Network::of(wired(shape, devices));
    let [operations, stops] = [Priority::Operations, Priority::Stops].map(|priority| {
        let request = Request::default().with_switches(SwitchWork::Each).with_priority(priority);
        planning(&network, &request, effort.of(HALF_A_SECOND, Duration::ZERO))
    });
    let what = format!("{shape:?}, each of {devices} switches, stops first: {}", told(&stops.1));
    say(&format!("{what}; against operations first"), ratio(stops.0, operations.0));
}

/// So long a plan may take; then it is stopped, and that is said.
const PATIENCE: Duration = Duration::from_secs(10);

/// Stops planning when patience is at its end.
struct Patience(Duration);

impl Observer for Patience {
    fn progress(&mut self, _: Progress) -> ControlFlow<()> {
        if on_processor() < self.0 { ControlFlow::Continue(()) } else { ControlFlow::Break(()) }
    }
}

/// The processor's time for one plan, from as many as fit into so long; and the last of them.
fn planning(network: &Network, request: &Request, least: Duration) -> (Duration, Plan) {
    let begun = on_processor();
    let mut times = 0;
    loop {
        let mut patience = Patience(on_processor() + PATIENCE);
        let plan = Plan::with(network, None, request, &mut patience).expect("it is for this installation");
        times += 1;
        if on_processor() - begun >= least {
            return ((on_processor() - begun) / times, plan);
        }
    }
}

/// The engine that lists settings against the one that asks a solver, whole plans at the same optimum.
fn compare_engines(effort: Effort, shape: Shape, devices: usize) {
    let network = Network::of(wired(shape, devices));
    let least = effort.of(HALF_A_SECOND, Duration::ZERO);
    let (listing, listed) = planning(&network, &Request::default(), least);
    let (asking, asked) = planning(&network, &Request::default().with_search(SearchBy::Solver), least);
    let (listed, asked) = (listed.totals, asked.totals);
    assert_eq!((listed.walks, listed.operations), (asked.walks, asked.operations), "the engines have two optima");
    say(&format!("{shape:?}, {devices} devices: the solver, against listing"), ratio(asking, listing));
}

fn compare(effort: Effort, shape: Shape, devices: usize) {
    #[derive(serde::Deserialize)]
    struct Answer {
        version: String,
        walks: usize,
        operations: usize,
        solving: f64,
        whole: f64,
        brute_force: Option<f64>,
    }
    let installation = wired(shape, devices);
    let network = Network::of(installation.clone());
    let path = std::env::temp_dir().join(format!("lengthwise-cluster-{}.json", std::process::id()));
    let report = serde_json::to_vec(&network.report()).expect("a network is data");
    std::fs::write(&path, report).expect("the temporary directory can be written to");
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/benches/plain/fewest.py");
    let how = if devices <= 8 { "brute" } else { "solver" };
    let output = Command::new("python3").arg(script).arg(&path).arg(how).output();
    std::fs::remove_file(&path).expect("the temporary file was written");
    let output = match output {
        Ok(output) if output.status.success() => output,
        Ok(output) => panic!(
            "NOT COMPARED: python3 with ortools is needed to compare with CP-SAT:\n{}",
            String::from_utf8_lossy(&output.stderr)
        ),
        Err(error) => panic!("NOT COMPARED: python3 with ortools is needed to compare with CP-SAT: {error}"),
    };
    let theirs: Answer = serde_json::from_slice(&output.stdout).expect("the script writes JSON");
    let (ours, plan) = planning(&network, &Request::default(), effort.of(HALF_A_SECOND, Duration::ZERO));
    assert!(plan.optimal.walks && plan.optimal.operations, "{shape:?} of {devices} devices is proven");
    assert_eq!((plan.walks(), plan.operations()), (theirs.walks, theirs.operations), "CP-SAT has another optimum");
    let against = |seconds: f64| ratio(Duration::from_secs_f64(seconds), ours);
    println!(
        " {shape:?}, {devices} devices, against CP-SAT {} at the same optimum: {} walks, {} operations:",
        theirs.version, theirs.walks, theirs.operations
    );
    say("CP-SAT, its solving alone, against the whole plan", against(theirs.solving));
    say("CP-SAT, with the building of its models, against the whole plan", against(theirs.whole));
    if let Some(brute_force) = theirs.brute_force {
        say("every sequence of settings gone through (numpy), against the whole plan", against(brute_force));
    }
}

/// The same where nobody can see how any switch stands.
fn hidden(installation: &Installation) -> Installation {
    let mut draft = installation.to_draft();
    for point in draft.points.iter_mut().filter(|point| point.kind != "luminaire") {
        (point.visible, point.stands) = (Some(false), None);
    }
    draft.build().expect("a generated cluster is valid")
}

/// One circuit of so many devices.
fn wired(shape: Shape, devices: usize) -> Installation {
    let mut draft = InstallationDraft::new("Generated cluster", Volts(230.0));
    draft.boards.push(BoardDraft {
        id: "B".to_owned(),
        origin: Some(true),
        ways: vec![WayDraft { rating: Some(6.0), ..WayDraft::new("1".to_owned(), DeviceDraft::Mcb) }],
        ..Default::default()
    });
    draft.circuits.push(CircuitDraft { id: "C".to_owned(), way: Some("B/1".to_owned()), ..Default::default() });
    let mut growing = Growing { draft };
    let mut feed = ("B/1".to_owned(), "L");
    match shape {
        Shape::Strappers => growing.strappers(feed, devices),
        Shape::Branches => {
            let selector = growing.point(&feed.0, "selector-3", &[[feed.1, "COM"]]);
            for (number, way) in ["P1", "P2", "P3"].into_iter().enumerate() {
                growing.strappers((selector.clone(), way), (devices - 1 + number) / 3);
            }
        }
        Shape::Ladder => {
            for _ in 0..devices {
                let switch = growing.point(&feed.0, "two-way", &[[feed.1, "COM"]]);
                growing.point(&switch, "luminaire", &[["L2", "L"]]);
                feed = (switch, "L1");
            }
            growing.point(&feed.0, "luminaire", &[[feed.1, "L"]]);
        }
    }
    growing.draft.build().expect("a generated cluster is valid")
}

struct Growing {
    draft: InstallationDraft,
}

impl Growing {
    /// Two two-way switches, intermediate ones between, and a light.
    fn strappers(&mut self, feed: (String, &str), devices: usize) {
        assert!(devices >= 2, "strappers run between two switches");
        let mut last = self.point(&feed.0, "two-way", &[[feed.1, "COM"]]);
        let mut near = ["L1", "L2"];
        for _ in 2..devices {
            last = self.point(&last, "intermediate", &[[near[0], "A1"], [near[1], "A2"]]);
            near = ["B1", "B2"];
        }
        last = self.point(&last, "two-way", &[[near[0], "L1"], [near[1], "L2"]]);
        self.point(&last, "luminaire", &[["COM", "L"]]);
    }

    /// A point fed from a thing by these cores, a neutral passing through, and a protective core.
    fn point(&mut self, from: &str, kind: &str, cores: &[[&str; 2]]) -> String {
        let id = format!("P{}", self.draft.points.len());
        let has_neutral = kind == "luminaire" || kind == "appliance";
        self.draft.points.push(PointDraft {
            id: id.clone(),
            kind: kind.to_owned(),
            circuit: Some("C".to_owned()),
            terminals: if has_neutral { Vec::new() } else { vec!["N".to_owned()] },
            visible: Some(true),
            ..Default::default()
        });
        let colours = ["brown", "black"].into_iter().zip(cores.iter().copied());
        let cores = colours.chain([("grey", ["N", "N"]), ("cpc", ["E", "E"])]);
        self.draft.lengths.push(LengthDraft {
            id: format!("W{}", self.draft.lengths.len()),
            circuit: Some("C".to_owned()),
            from: from.to_owned(),
            to: id.clone(),
            cable: None,
            metres: Metres(4.0),
            cores: cores.map(|(name, ends)| (name.to_owned(), ends.map(str::to_owned))).collect(),
        });
        id
    }
}
