//! What is asked of a plan by options as people name them, and the plan with what it starts from.

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::model::{Installation, OtherInstallation, PassDraft, TestSet};
use crate::network::{Need, Network};
use crate::observer::Observer;
use crate::plan::{
    Afterwards, Estimate, ExtraKind, LeadJoining, Pace, People, Plan, PlanStart, Priority, Request, RequestError,
    Round, SwitchWork,
};

/// What is asked of a plan: the options of the command `plan`, by their names.
///
/// As JSON each key may be left out.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
#[non_exhaustive]
pub struct PlanOptions {
    /// Which pairs of cores need a test.
    pub need: Need,
    /// Locations that are locked today.
    pub without: Vec<String>,
    /// Points whose switches nobody may touch.
    pub leave: Vec<String>,
    /// Whether every switch is put back as it was found.
    pub restore: bool,
    /// Whether each switch is operated, and each of its positions put under test.
    pub each_switch: bool,
    /// Whether leads are joined otherwise where that makes readings fewer.
    pub fewest_readings: bool,
    /// What is to be fewest first, after walks.
    pub prefer: Priority,
    /// How many do the work.
    pub people: People,
    /// The extras that may be used.
    pub extras: Vec<ExtraKind>,
    /// What the estimate of the time is worked out with.
    pub pace: Pace,
}

impl Default for PlanOptions {
    fn default() -> PlanOptions {
        PlanOptions {
            need: Need::default(),
            without: Vec::new(),
            leave: Vec::new(),
            restore: false,
            each_switch: false,
            fewest_readings: false,
            prefer: Priority::default(),
            people: People::default(),
            extras: ExtraKind::ALL.to_vec(),
            pace: Pace::default(),
        }
    }
}

/// An option of a plan that can't be so.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum OptionError {
    /// It names what is not there.
    #[error("{option} {name}: {fault}")]
    Name {
        /// The option.
        option: &'static str,
        /// As given.
        name: String,
        /// What is wrong with it.
        fault: RequestError,
    },
    /// Stops can't be preferred for two people.
    #[error("prefer stops is for one person: of two, one goes a single way past all operations")]
    StopsForTwo,
    /// A figure of the pace is not above nought.
    #[error("pace {key}: not a finite number above 0")]
    Pace {
        /// The figure.
        key: &'static str,
    },
}

impl OptionError {
    /// What to do about it.
    pub fn mend(&self) -> String {
        match self {
            OptionError::Name { fault, .. } => fault.mend(),
            OptionError::StopsForTwo => "leave it out for two people: stops are as few as the way allows".to_owned(),
            OptionError::Pace { .. } => "write a number above 0, such as 40".to_owned(),
        }
    }

    /// The option.
    pub fn option(&self) -> &'static str {
        match self {
            OptionError::Name { option, .. } => option,
            OptionError::StopsForTwo => "prefer",
            OptionError::Pace { .. } => "pace",
        }
    }
}

impl PlanOptions {
    /// The same as a request.
    ///
    /// # Errors
    ///
    /// Every option that can't be so.
    pub fn request(&self, installation: &Installation) -> Result<Request, Vec<OptionError>> {
        let mut request = Request::from(self.need);
        let mut errors = Vec::new();
        let mut note = |option: &'static str, name: &str, outcome: Result<(), RequestError>| {
            if let Err(fault) = outcome {
                errors.push(OptionError::Name { option, name: name.to_owned(), fault });
            }
        };
        for name in &self.without {
            note("without", name, request.do_without(installation, name));
        }
        for name in &self.leave {
            note("leave", name, request.leave_alone(installation, name));
        }
        if self.restore {
            request.afterwards = Afterwards::AsFound;
        }
        if self.each_switch {
            request.switches = SwitchWork::Each;
        }
        if self.fewest_readings {
            request.joining = LeadJoining::Fewest;
        }
        request.priority = self.prefer;
        request.people = self.people;
        if self.people == People::Two && self.prefer == Priority::Stops {
            errors.push(OptionError::StopsForTwo);
        }
        let Pace { metres_a_minute, reading_seconds, operation_seconds, out_seconds } = self.pace;
        for (key, figure) in [
            ("metres_a_minute", metres_a_minute),
            ("reading_seconds", reading_seconds),
            ("operation_seconds", operation_seconds),
            ("out_seconds", out_seconds),
        ] {
            if !(figure.is_finite() && figure > 0.0) {
                errors.push(OptionError::Pace { key });
            }
        }
        request.extras = self.extras.iter().copied().collect();
        if errors.is_empty() { Ok(request) } else { Err(errors) }
    }
}

/// A plan with what it starts from, as the command gives it: with what the other number of people come to, and about how
/// long it takes.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Planned {
    /// How things stand before it.
    pub start: PlanStart,
    /// The plan.
    pub plan: Plan,
}

impl Planned {
    /// Time as [`Plan::with_others`].
    ///
    /// # Errors
    ///
    /// Where the test set was checked against another installation.
    pub fn of(
        network: &Network,
        test_set: Option<&TestSet>,
        request: &Request,
        pace: Pace,
        observer: &mut dyn Observer,
    ) -> Result<Planned, OtherInstallation> {
        let mut plan = Plan::with_others(network, test_set, request, observer)?;
        let start = PlanStart::of(network, test_set, request)?;
        plan.estimate = Some(Estimate::of(network, request, &start, &plan, pace));
        Ok(Planned { start, plan })
    }

    /// What is to be done, as passes of a test set. None where nothing is to be done.
    pub fn to_passes(&self, installation: &Installation) -> PlannedPasses {
        let before = Some(self.start.to_pass(installation))
            .filter(|pass| *pass != PassDraft::default() && !self.plan.rounds.is_empty());
        PlannedPasses { format: 1, before, rounds: self.plan.rounds.iter().map(Round::to_pass).collect() }
    }
}

/// What is to be done, as passes of a test set.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct PlannedPasses {
    /// The format of this data; 1.
    pub format: u32,
    /// What comes out and is set before the first round.
    pub before: Option<PassDraft>,
    /// The rounds.
    pub rounds: Vec<PassDraft>,
}

impl PlannedPasses {
    /// All of them in order, as a record has them.
    pub fn in_order(self) -> Vec<PassDraft> {
        self.before.into_iter().chain(self.rounds).collect()
    }
}
