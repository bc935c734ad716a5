//! Which lengths of cable a set of insulation-resistance tests has covered, and the fewest switch operations that reach
//! the rest.
//!
//! An insulation-resistance test says something about a core only if one of the instrument's leads is joined to it. A
//! core behind an open contact (the second strapper of a two-way pair, the switch line of a lamp that is off, a load
//! behind a contactor) is not joined to anything, and the instrument shows a fine value all the same. This crate takes
//! an installation as a graph of copper, contacts and everything else that conducts, and answers:
//!
//! - **Is the file right?** [`read_installation`], [`read_test_set`]: every error at once, each with its place and
//!   mend.
//! - **What does a set of tests cover?** [`Coverage::of`]: which pairs of cores are tested and by which reading, which
//!   are missed and where they are cut off, which readings are void and what joins their leads. [`LiveCoverage`]
//!   follows a person's entries, and says after each what it adds or loses.
//! - **What is still to be done?** [`Plan::of`]: the fewest walks, then operations, then stops, with the readings to
//!   take, proven bounds, and for what no setting of the switches tests, what would make it testable.
//! - **What comes before the readings?** [`Preparation::of`]: for each circuit what to isolate, take out, switch and
//!   prove, and why, with what can hurt someone in each step.
//! - **Is it good enough?** [`Judgement::of`]: each reading against a [`Ruleset`], each circuit with its two figures
//!   and with what good readings leave untested, each board with its circuits in parallel.
//! - **Where does it leak?** [`Findings::of`]: from the readings to bounds on what each gap between two pieces of
//!   copper can leak, how many faults it takes, which readings contradict one another, and the next reading to take.
//! - **Need every length be written?** A circuit may be a [run](model::StepDraft) of its boxes, as it is said aloud;
//!   [`input::expand_runs`] writes out the points and lengths that it comes to.
//! - **Is it described as it is wired?** [`Works::of`]: what lights what; [`Terminations::of`]: which core is under which
//!   terminal.
//! - **What does it look like?** [`Drawing::of`]: circuits as pictures, every core a line of its own, with what is tested.
//! - **What is joined to what?** [`Network::of`]: the graph itself, with the roles of cores and the pairs.
//!
//! "Tested" means that a reading had the two cores on its two leads and was not void; "pass" means that what was read
//! so is good by a ruleset. What that is worth is for a competent person to judge. Test voltages are dangerous:
//! [`rules::CAUTIONS`] holds the cautions to show with anything that people carry.
//!
//! # How an answer is made
//!
//! ```text
//! TOML or JSON --input--> draft --model--> Installation --network--> Network --+-- reading ---> NetworkReport
//!                         draft --model--> TestSet ----------------------------+-- coverage --> Coverage
//!                                          Ruleset ----------------------------+-- plan ------> Plan
//!                                                                              +-- judge -----> Judgement
//!                                                                              +-- locate ----> Findings
//!                                                                              +-- prepare ---> Preparation
//!                                                                              +-- wiring ----> Works
//!                                                                              +-- draw ------> Drawing
//! ```
//!
//! | module | what it holds |
//! |---|---|
//! | [`model`] | the installation and the test set as people know them; drafts, and the checks on them |
//! | [`rules`] | rulesets: test voltages and least values, each with its source; cautions |
//! | [`input`] | files into drafts, with places in the text |
//! | [`network`] | the graph: terminals, cores, contacts, bridges, roles, pairs |
//! | [`reading`] | what one reading does: void, tested, under test; the graph as data |
//! | [`coverage`] | what readings test; why a reading is void; why a pair is missed |
//! | [`plan`] | rounds, operations, readings; bounds and proofs; what can't be tested, and remedies |
//! | [`judge`] | readings, circuits and boards against a ruleset |
//! | [`locate`] | from readings to leakages; fewest faults; contradictions; the next reading |
//! | [`prepare`] | what comes before the readings of each circuit, as steps |
//! | [`wiring`] | what makes each load work, and what is under each terminal |
//! | [`draw`] | circuits as pictures |
//! | `session` | all of these questions as texts |
//! | `page` | the whole job as one file for a browser |
//! | `cli` | the command |
//!
//! Long questions take an [`Observer`], which is told how they come along and may stop them.
//!
//! A module uses only those above it in the table.
//!
//! The same input always gives the same answer, in the same order: nothing depends on hashing, time or threads. The
//! library never prints.
//!
//! # Example
//!
//! A landing light on two two-way switches, with the switches left as they are for the test. The leads reach one of the
//! two strappers; the other is tested by nothing until one switch is operated.
//!
//! ```
//! use lengthwise::{Input, Coverage, Missed, Need, Network, Plan, read_installation, read_test_set};
//!
//! let installation = r#"
//!     format = 1
//!
//!     [installation]
//!     name = "Sail loft"
//!     nominal_voltage = 230
//!     earthing = "TN-C-S"
//!
//!     [[board]]
//!     id = "DB1"
//!     origin = true
//!     [[board.way]]
//!     id = "1"
//!     device = "mcb"
//!
//!     [[circuit]]
//!     id = "C1"
//!     way = "DB1/1"
//!
//!     [[point]]
//!     id = "S1"
//!     kind = "two-way"
//!     circuit = "C1"
//!     terminals = ["N"]
//!     stands = "L1"
//!     [[point]]
//!     id = "S2"
//!     kind = "two-way"
//!     circuit = "C1"
//!     terminals = ["N"]
//!     stands = "L1"
//!     [[point]]
//!     id = "E1"
//!     kind = "luminaire"
//!     circuit = "C1"
//!
//!     [[length]]
//!     id = "W1"
//!     circuit = "C1"
//!     from = "DB1/1"
//!     to = "S1"
//!     metres = 9.0
//!     cores = { brown = ["L", "COM"], blue = ["N", "N"], cpc = ["E", "E"] }
//!     [[length]]
//!     id = "W2"
//!     circuit = "C1"
//!     from = "S1"
//!     to = "S2"
//!     metres = 5.5
//!     cores = { brown = ["L1", "L1"], black = ["L2", "L2"], grey = ["N", "N"], cpc = ["E", "E"] }
//!     [[length]]
//!     id = "W3"
//!     circuit = "C1"
//!     from = "S2"
//!     to = "E1"
//!     metres = 3.0
//!     cores = { brown = ["COM", "L"], blue = ["N", "N"], cpc = ["E", "E"] }
//! "#;
//! let tests = r#"
//!     format = 1
//!
//!     [[pass]]
//!     [[pass.reading]]
//!     circuit = "C1"
//!     between = ["L+N", "E"]
//!     [[pass.reading]]
//!     circuit = "C1"
//!     between = ["L", "N"]
//! "#;
//!
//! let installation = read_installation(Input::toml(installation))?;
//! let tests = read_test_set(Input::toml(&tests), &installation)?;
//! let network = Network::of(installation.clone());
//!
//! // What do the tests cover? 9 of 11 pairs; the black strapper is missed, to earth and to neutral.
//! let coverage = Coverage::of(&network, &tests, Need::Standard)?;
//! assert_eq!((coverage.summary.tested, coverage.summary.required), (9, 11));
//! let missed: Vec<String> = coverage.missed().map(|pair| format!("{} {}", pair.length,
//! pair.cores.join("-"))).collect(); assert_eq!(missed, ["W2 black-grey", "W2 black-cpc"]);
//!
//! // Why? The black core is cut off at S1, which stands in L1.
//! let pair = coverage.pair("W2", ["black", "cpc"]).expect("W2 has these cores");
//! let Some(missed @ Missed::NotReached { core, .. }) = &pair.missed else { unreachable!() };
//! assert_eq!(core, "black");
//! let open = missed.cut_off_at(&coverage.shared).next().expect("a contact is open");
//! assert_eq!((open.device.as_str(), open.stands.as_str()), ("S1", "L1"));
//! assert_eq!(open.closed_in, ["L2"]);
//!
//! // What is still to be done? One operation at S1, then two readings; and no plan has fewer.
//! let plan = Plan::of(&network, Some(&tests), Need::Standard)?;
//! let [round] = plan.rounds.as_slice() else { unreachable!() };
//! let [operation] = round.operations.as_slice() else { unreachable!() };
//! assert_eq!((operation.device.as_str(), &*operation.from.name(), &*operation.to.name()), ("S1", "L1", "L2"));
//! assert_eq!(round.readings.len(), 2);
//! assert!(plan.optimal.walks && plan.optimal.operations);
//! assert!(plan.untestable.is_empty());
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! With files instead of text in the program:
//!
//! ```
//! use lengthwise::{Coverage, Input, Need, Network, Plan, read_installation, read_test_set};
//!
//! fn main() -> Result<(), Box<dyn std::error::Error>> {
//!     let installation = read_installation(Input::file("landing.toml", &std::fs::read("examples/landing.toml")?))?;
//!     let tests = std::fs::read("examples/landing-as-usual.toml")?;
//!     let tests = read_test_set(Input::file("landing-as-usual.toml", &tests), &installation)?;
//!
//!     let network = Network::of(installation.clone());
//!     let coverage = Coverage::of(&network, &tests, Need::Standard)?;
//!     for pair in coverage.missed() {
//!         println!("{} {}: {:?}", pair.length, pair.cores.join(" to "), pair.missed);
//!     }
//!     println!("{}", serde_json::to_string_pretty(&coverage)?);
//!
//!     let plan = Plan::of(&network, Some(&tests), Need::Standard)?;
//!     for operation in plan.rounds.iter().flat_map(|round| &round.operations) {
//!         println!("{}: to {}", operation.device, operation.to.name());
//!     }
//!     println!("{}", serde_json::to_string_pretty(&plan)?);
//!     Ok(())
//! }
//! ```
//!
//! More questions, each as a small program, are in the package's `examples`.
//!
//! # In another program
//!
//! **Types and ownership.** An [`Installation`] never changes; what is to change is its draft
//! ([`Installation::to_draft`]), of which another one is built. A [`Network`] owns the installation that it is made of.
//! A [`TestSet`] holds numbers of things in its own installation and in no other, and each question refuses one of
//! another ([`OtherInstallation`]); a clone is the same installation, one that is read again is another. Things are
//! found by what files call them ([`Installation::point_by_id`], [`Installation::terminal_by_name`] and the like).
//! Answers are data: they own the names of all that they speak of, so that they can be kept beside the installation or
//! without it, and are with serde what the command prints with `--json`.
//!
//! **Errors.** [`InputErrors`] and [`ModelErrors`] hold everything that is wrong, each with its facts as fields and
//! with what to do about it; `?` makes one of the other. That something can't be tested, or that no better plan was
//! found, is an answer and no error.
//!
//! **Threads.** All types of answers, and installations, networks, test sets and rulesets are `Send + Sync`. A network
//! in an `Arc` serves any number of threads at once; each question works on the thread that asks it.
//!
//! ```
//! use std::sync::Arc;
//! use lengthwise::{Coverage, Input, Need, Network, TestSet, read_installation};
//!
//! let landing = read_installation(Input::toml(&std::fs::read("examples/landing.toml")?))?;
//! let network = Arc::new(Network::of(landing));
//! let workers = [Need::Earth, Need::EveryPair].map(|need| {
//!     let network = Arc::clone(&network);
//!     std::thread::spawn(move || Coverage::of(&network, &TestSet::default(), need))
//! });
//! for worker in workers {
//!     assert!(!worker.join().expect("it did not panic")?.is_complete());
//! }
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! **Cancelling.** Long questions take an [`Observer`], which is told how far they have come and may stop them: a
//! [`Deadline`], a [`Cancel`] that another thread calls, a closure, or two of these. What was stopped says so, and
//! claims only what holds.
//!
//! **Limits.** Sizes and budgets of work are [`Limits`]. [`Network::with_limits`] sets them for what is asked of a
//! network, [`Limits::with_effort`] multiplies the budgets of searches, and [`Input::within`] limits what is read: a
//! service that reads files of strangers sets smaller ones.
//!
//! **Features.** `plan` adds [`plan`] with a SAT solver, `locate` adds [`locate`] with linear programs, `draw` adds
//! [`draw`] with a writer of XML, `session` all questions as texts, `page` a file for a browser, and `cli`, on by default, the command and what it needs for a terminal. None changes an answer that is there without it: a
//! library that covers, judges and prepares is built with `default-features = false`, in a fraction of the time.
//!
//! **In a browser.** Without `cli` all of it builds for `wasm32-unknown-unknown`, but for [`Deadline`]: there is no
//! clock. The feature `session` has the questions as texts: JSON in, and JSON out as the command prints it. A question
//! keeps its thread until it is answered, so that long ones belong in a worker.
//!
//! # Terms
//!
//! **The installation.** A **board** has **ways**, each with one protective device; a **group** is ways behind one
//! residual-current device, with a neutral bar of their own. A way feeds one **circuit**. A **point** is an accessory,
//! a load or a junction, with terminals; its **kind** says which terminals its **positions** join, and what **bridges**
//! it holds. A **plate** holds switches that are worked at one **stop**. A **length** is one piece of cable between two
//! ends; its **cores** each join a terminal at one end to a terminal at the other, or to nothing (`-`). **Strappers**
//! are the two conductors between two-way switches, of which one is alive at a time.
//!
//! **The graph.** A **terminal** has a full name, such as `S1.COM` or `DB1/1.N`; `MET` is the main earthing terminal. A
//! **body** is copper that is joined for good: readings reach it or miss it as one. A **contact** joins two terminals
//! in some positions of its **device**. A **bridge** is anything that a test current could pass through and that is not
//! plain copper: a lamp, an element, a coil, electronics. Fitted, it conducts for sure or may conduct; removed, it does
//! not. SURE is the graph of all that conducts for sure, MAY is SURE with what may conduct.
//!
//! **What needs a test.** A core's **roles** are the supply conductors that it is joined to in service. A **pair** is
//! two cores of one length, or a core and `MET` where the length has no protective core. Its **class** ([`PairClass`])
//! is to-earth, between-live, same-polarity or spare, and [`Need`] says which classes are required. Core colours decide
//! nothing.
//!
//! **Tests.** A **reading** has two **leads**, each on one or several terminals, which it joins. It is **void** where
//! its leads are joined: *bridged* in SURE, or *doubtful* in MAY only; and where too many unknown positions bear on
//! that to rule it out. Else it **tests** every pair that has one core joined in SURE to one lead and the other core to
//! the other. A **pass** is one setting of everything and the readings taken in it; a **test set** is how things stood
//! at the start, and passes. A position may be **unknown**: what is claimed then holds whichever it was.
//!
//! **Judging.** A **ruleset** says which test voltage and which **least value** are **asked** of a circuit. A reading
//! **passes**, **fails**, is to be **investigated**, or is **not judgeable**. The two **figures** of a circuit, live to
//! live and live to earth, are the least of all passes. What an instrument showed as `>999` is a **bound**, not a
//! value.
//!
//! **Plans.** A **setting** is a position for each device. A **round** is one setting and the readings taken in it; a
//! **walk** is a round before which something is operated; an **operation** takes one device from one position to
//! another; a **stop** is one plate (or location, or point) visited in a round. A pair is **untestable** where no
//! setting tests it by readings at the ways; a **remedy** is what would change that.
//!
//! **Leakage.** A **gap** is the insulation between two bodies that lie side by side in a length or an accessory. It is
//! **cleared** where no leakage that fits the readings is a fault, **certain** where every one is, else **suspect**, or
//! not read at all. See [`locate`] for the model.
//!
//! # What is exact
//!
//! "Tested" is sound: it holds whatever electronics do and however unknown devices stood. It is also complete, for any
//! number of unknown devices, as long as what those that bear on one another decide takes no more than 65,536
//! nodes of a decision diagram (a row of strappers takes two a switch); beyond that less may be claimed, never more.
//! Plans are searched to the end for clusters of devices up to 65,536 settings by listing them, and beyond by a solver.
//! Where a search runs out of its budget, the plan is sound, its bounds are proven and [`Plan::optimal`] says that it is
//! not known to be the least.
//!
//! These sizes and budgets are [`Limits`]. [`Network::with_limits`] sets others for what is asked of a network,
//! [`Input::within`] for reading a text. Each says what is claimed less when it is spent.

// Without a question what only that one asks of the rooms above it lies idle.
#![cfg_attr(not(all(feature = "plan", feature = "locate")), allow(dead_code, unused_imports))]

#[cfg(feature = "cli")]
pub mod cli;
pub mod coverage;
#[cfg(feature = "draw")]
pub mod draw;
pub mod input;
pub mod judge;
mod limits;
#[cfg(feature = "locate")]
pub mod locate;
pub mod model;
pub mod network;
mod observer;
#[cfg(feature = "page")]
pub mod page;
#[cfg(feature = "plan")]
pub mod plan;
pub mod prepare;
pub mod reading;
pub mod rules;
#[cfg(feature = "session")]
pub mod session;
#[cfg(feature = "draw")]
mod visible;
pub mod wiring;

pub use coverage::{Coverage, LiveCoverage, Missed, PairCoverage};
#[cfg(feature = "draw")]
pub use draw::Drawing;
pub use input::{Input, InputErrors, Standard, read_installation, read_record, read_ruleset, read_test_set};
pub use judge::{Judgement, Verdict};
pub use limits::Limits;
#[cfg(feature = "locate")]
pub use locate::{Assumptions, Findings, Next};
pub use model::{InputLimits, Installation, InstallationDraft, ModelErrors, OtherInstallation, TestSet, TestSetDraft};
pub use network::{Need, Network, PairClass, PairId};
#[cfg(not(all(target_family = "wasm", target_os = "unknown")))]
pub use observer::Deadline;
pub use observer::{Cancel, Observer, Progress, Stage, Unwatched};
#[cfg(feature = "plan")]
pub use plan::{Operation, Plan, PlannedReading, Round, UntestablePair};
pub use prepare::Preparation;
pub use reading::{NetworkReport, TableLimits, Void};
pub use rules::Ruleset;
pub use wiring::{Terminations, Works};

// The README's Rust is compiled and run with the other examples in the documentation.
#[cfg(doctest)]
#[doc = include_str!("../README.md")]
struct Readme;
