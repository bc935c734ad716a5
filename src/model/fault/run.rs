//! What can be wrong with the run of a circuit, and what to do about it.

use strum::IntoStaticStr;

use super::names::list;
use crate::model::Third;

/// Where the feed of a step of a run is looped in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Looped {
    /// At a rose.
    AtRose,
    /// At a junction box.
    AtBox,
    /// At the first switch.
    AtSwitch,
}

/// What is wrong with a run, with the facts of it.
#[derive(Clone, Debug, PartialEq, IntoStaticStr, thiserror::Error)]
#[cfg_attr(test, derive(strum::VariantNames))]
#[strum(serialize_all = "kebab-case")]
#[non_exhaustive]
pub enum RunFault {
    /// A step of a run that has no box, no switch, no light and nothing else that is fed.
    #[error("nothing is fed by this step")]
    EmptyStep,
    /// A key of a step that does nothing there.
    #[error("`{key}` does nothing in this step")]
    KeyNotUsed {
        /// The key.
        key: &'static str,
        /// The nearest that the step uses.
        nearest: Option<&'static str>,
        /// What the step uses beside the keys that it has.
        used: Vec<&'static str>,
    },
    /// Two keys of a step of which it can have one.
    #[error("a step has `{}` or `{}`, not both", keys[0], keys[1])]
    KeysClash {
        /// The keys.
        keys: [&'static str; 2],
    },
    /// A rose, or a box with lights, without a switch.
    #[error("{} no switch", if *is_rose { "this rose has" } else { "the lights at this box have" })]
    NoSwitch {
        /// Whether it is a rose.
        is_rose: bool,
    },
    /// A switch or a sensor without a light.
    #[error("nothing is lit by the {by} of this step")]
    NothingLit {
        /// `switch` or `sensor`.
        by: &'static str,
    },
    /// A contactor that nothing works.
    #[error("nothing works the contactor of this step")]
    NotWorked,
    /// Several switches, and it is not said what the third core between them does, or it can't do that here.
    #[error("{}", match said {
        Some(third) => format!(
            "`third = \"{}\"` is for switches at the first of which the feed is looped in", third.name()
        ),
        None => format!("what the third core between the {switch_count} switches does is not said"),
    })]
    ThirdNotSaid {
        /// Where the feed is looped in.
        looped: Looped,
        /// How many switches there are.
        switch_count: usize,
        /// What is said of it, where that is not possible here.
        said: Option<Third>,
    },
    /// A stop of a run without metres.
    #[error("the length `{length}` has no metres")]
    NoMetres {
        /// The length.
        length: String,
        /// Where it leads to, where that is said.
        place: Option<String>,
    },
    /// A `from` that names no box before the step.
    #[error("no box before this step has the number {number}")]
    UnknownBox {
        /// As written.
        number: i64,
        /// The numbers that were counted, the first dozen of many.
        known: Vec<i64>,
    },
    /// A step behind a ring that does not say what feeds it.
    #[error("this step comes after a ring, and what feeds it is not said")]
    BehindRing {
        /// The numbers that were counted, the first dozen of many.
        known: Vec<i64>,
    },
    /// Two boxes of a run with the same number.
    #[error("two boxes of the run have the number {number}")]
    BoxTwice {
        /// The number.
        number: i64,
    },
    /// A number that no box can have.
    #[error("a box cannot have the number {number}")]
    BadBoxNumber {
        /// The number.
        number: i64,
    },
    /// A key of a circuit for its run, where there is none.
    #[error("`{key}` is for a circuit's `run`, and circuit `{circuit}` has none")]
    OnlyRun {
        /// The key.
        key: &'static str,
        /// The circuit.
        circuit: String,
    },
    /// A circuit with a run that a way and a source feed.
    #[error("circuit `{circuit}` has a `way` and a `source`, and a run is fed from one of them")]
    WayAndSource {
        /// The circuit.
        circuit: String,
    },
    /// A run in a circuit without a way or a source.
    #[error("circuit `{circuit}` has a run and no `way`")]
    NothingFeedsRun {
        /// The circuit.
        circuit: String,
    },
    /// A run on a way with several lines.
    #[error("way `{way}` has several lines, and a run takes one")]
    SeveralLines {
        /// The way.
        way: String,
    },
}

impl RunFault {
    /// What to do next.
    pub fn mend(&self) -> String {
        match self {
            RunFault::EmptyStep => {
                "begin it with `rose`, `box`, `switch`, `switches`, `dimmer`, `light`, `lights`, `socket`, `sockets`, \
                 `fused`, `isolator`, `master`, `appliance`, `transformer`, `alarm`, `alarms`, `contactor` or `sensor`"
                    .to_owned()
            }
            RunFault::KeyNotUsed { nearest: Some(nearest), .. } => {
                format!("write `{nearest}` if that is meant, or leave it out")
            }
            RunFault::KeyNotUsed { key: "third", .. } => {
                "leave it out; a third core is between several `switches`, and not where `strappers = \"box\"`"
                    .to_owned()
            }
            RunFault::KeyNotUsed { key: "strappers", .. } => {
                "leave it out; strappers are between several `switches`, and in a box or rose where there is one"
                    .to_owned()
            }
            RunFault::KeyNotUsed { key: "number", .. } => {
                "leave it out, or write a step for each of the list: each of them is a box with a number".to_owned()
            }
            RunFault::KeyNotUsed { key: "override", .. } => {
                "leave it out, or add the `sensor` that it goes past".to_owned()
            }
            RunFault::KeyNotUsed { used, .. } => format!("leave it out; this step could have {}", list(used)),
            RunFault::KeysClash { keys: [one, other] } => {
                format!("leave `{one}` or `{other}` out, or make two steps of it")
            }
            RunFault::NoSwitch { is_rose: true } => {
                "add `switch`, or write `light` instead of `rose` if it is always lit".to_owned()
            }
            RunFault::NoSwitch { is_rose: false } => {
                "add `switch`, or give lights that are always lit a step of their own: `{ light = 3 }`".to_owned()
            }
            RunFault::NothingLit { .. } => "add `light` or `lights`".to_owned(),
            RunFault::NotWorked => "add `by` with the switch of its coil: `by = 8`".to_owned(),
            RunFault::ThirdNotSaid { looped, .. } => {
                let more = match looped {
                    Looped::AtSwitch => {
                        "; `third = \"neutral\"` if it takes the neutral to the last switch, which feeds the lights"
                    }
                    Looped::AtRose => "; `strappers = \"box\"` if each switch has a cable of its own to the rose",
                    Looped::AtBox => "; `strappers = \"box\"` if each switch has a cable of its own to the box",
                };
                format!(
                    "look under the switches: write `third = \"common\"` if it joins their commons; `third = \"back\"` if \
                     it brings the last common back to the first switch box{more}"
                )
            }
            RunFault::NoMetres { place: Some(place), .. } => {
                format!(
                    "write how long it is, as in `[\"{place}\", 4]`; or, where it is in another location than what feeds \
                     it, write the `[[passage]]` tables that lead there"
                )
            }
            RunFault::NoMetres { place: None, .. } => {
                "write how long it is: `4`, or `metres = 4` in a table".to_owned()
            }
            RunFault::UnknownBox { known, .. } if known.is_empty() => {
                "leave `from` out: the first step is fed from the way".to_owned()
            }
            RunFault::UnknownBox { known, .. } => {
                format!("write the number of a box before it; there are {}", numbers(known))
            }
            RunFault::BehindRing { known } => {
                format!("add `from` with the number of a box before it; there are {}", numbers(known))
            }
            RunFault::BoxTwice { .. } => "give one of them another `number`".to_owned(),
            RunFault::BadBoxNumber { .. } => "write a number from 1 on".to_owned(),
            RunFault::OnlyRun { key: "source" | "earth", .. } => {
                "leave it out; the ends and cores of the circuit's lengths say it".to_owned()
            }
            RunFault::OnlyRun { key: "lamp", .. } => "leave it out, or write `lamp` on the points".to_owned(),
            RunFault::OnlyRun { .. } => "leave it out; the `cable` of a length may say it".to_owned(),
            RunFault::WayAndSource { .. } => "leave one of them out".to_owned(),
            RunFault::NothingFeedsRun { .. } => "add `way`, or `source` with the transformer that feeds it".to_owned(),
            RunFault::SeveralLines { .. } => {
                "name a way with one pole, or write the points and lengths of this circuit".to_owned()
            }
        }
    }
}

fn numbers(numbers: &[i64]) -> String {
    numbers.iter().map(i64::to_string).collect::<Vec<_>>().join(", ")
}
