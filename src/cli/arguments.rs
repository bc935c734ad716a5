//! The arguments of the command.

use std::path::PathBuf;
use std::time::Duration;

use clap::{Args, Parser, Subcommand, ValueEnum};

use crate::limits::Limits;
use crate::network::Need;

const EXIT_STATUS: &str = "\
Exit status:
  0  done
  1  done, and with --strict the answer is that something fails or is missing
  2  the input is wrong; every error is named with its place, and nothing is written

Files end in .toml or .json. The program plans and records; a competent person
decides. Local codes and licensed practice come first.";

/// Works out which lengths of cable a set of insulation-resistance tests has covered, and the fewest switch operations
/// that reach the rest.
#[derive(Debug, Parser)]
#[command(name = "lengthwise", version, after_help = EXIT_STATUS, max_term_width = 80)]
pub(super) struct Arguments {
    #[command(subcommand)]
    pub(super) command: Command,
}

#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// Check an installation file, and a test set file against it: every error at once
    Check {
        #[command(flatten)]
        files: Files,
        /// Print JSON instead of text; the errors too, on standard output
        #[arg(long)]
        json: bool,
    },
    /// Work out which pairs of cores a test set has tested, and why the others are missed
    Cover {
        #[command(flatten)]
        files: FilesWithTests,
        #[command(flatten)]
        rules: Rules,
        #[command(flatten)]
        question: Question,
    },
    /// Judge what the instrument showed: each reading, each circuit with what is not tested, each board as a whole
    Judge {
        #[command(flatten)]
        files: FilesWithTests,
        #[command(flatten)]
        rules: Rules,
        #[command(flatten)]
        question: Question,
        /// Print the record as CSV instead, one row a circuit
        #[arg(long, conflicts_with = "json")]
        csv: bool,
    },
    /// Plan what is still to be done: the fewest walks, then operations, then stops
    Plan {
        #[command(flatten)]
        files: Files,
        #[command(flatten)]
        rules: Rules,
        #[command(flatten)]
        question: Question,
        /// Stop the search after so many seconds, with the best plan found so far; it says what is not proven
        #[arg(long, value_name = "SECONDS", value_parser = seconds)]
        time_limit: Option<Duration>,
        #[command(flatten)]
        effort: Effort,
        #[command(flatten)]
        request: PlanArguments,
    },
    /// List what to isolate, take out, switch and prove before the readings of each circuit, and why
    Prepare {
        /// The installation file
        installation: PathBuf,
        #[command(flatten)]
        rules: Rules,
        /// Print JSON instead of text
        #[arg(long)]
        json: bool,
    },
    /// Print the test voltages and least values by which readings are judged, each with its source
    Rules {
        #[command(flatten)]
        rules: OptionalRules,
        /// Print JSON instead of text
        #[arg(long)]
        json: bool,
    },
    /// Work out from the readings where the insulation leaks, and the next reading to take
    Locate {
        #[command(flatten)]
        files: FilesWithTests,
        #[command(flatten)]
        rules: Rules,
        #[command(flatten)]
        assumed: Assumed,
        #[command(flatten)]
        effort: Effort,
        /// Print JSON instead of text
        #[arg(long)]
        json: bool,
        /// Exit with status 1 where the readings need a fault to explain them, or contradict one another
        #[arg(long)]
        strict: bool,
    },
    /// Print the graph: terminals, cores, contacts, bridges, roles and pairs
    Network {
        /// The installation file
        installation: PathBuf,
        /// Print JSON instead of text
        #[arg(long)]
        json: bool,
    },
}

#[derive(Debug, Args)]
pub(super) struct Files {
    /// The installation file
    pub(super) installation: PathBuf,
    /// The test set file
    pub(super) test_set: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub(super) struct FilesWithTests {
    /// The installation file
    pub(super) installation: PathBuf,
    /// The test set file
    pub(super) test_set: PathBuf,
}

#[derive(Debug, Args)]
pub(super) struct Question {
    /// Which pairs of cores need a test
    #[arg(long, value_enum, default_value = "standard")]
    pub(super) need: NeedArgument,
    /// Print JSON instead of text
    #[arg(long)]
    pub(super) json: bool,
    /// Exit with status 1 where something fails or is missing
    #[arg(long)]
    pub(super) strict: bool,
}

#[derive(Debug, Args)]
pub(super) struct Rules {
    /// The ruleset: bs-7671, iec-60364-6, as-nzs-3000, or a file of your own
    #[arg(long, value_name = "RULESET", default_value = "bs-7671")]
    pub(super) rules: PathBuf,
}

#[derive(Debug, Args)]
pub(super) struct OptionalRules {
    /// A ruleset: bs-7671, iec-60364-6, as-nzs-3000, or a file of your own; all of the package where not given
    #[arg(long, value_name = "RULESET")]
    pub(super) rules: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub(super) struct Effort {
    /// Search so many times as much as usual before less is proven: 4 for more, 0.25 for sooner
    #[arg(long, value_name = "FACTOR", value_parser = factor, default_value_t = 1.0, hide_default_value = true)]
    effort: f64,
}

impl Effort {
    pub(super) fn limits(&self) -> Limits {
        Limits::default().with_effort(self.effort)
    }
}

fn factor(text: &str) -> Result<f64, String> {
    let factor = text.parse().ok().filter(|factor: &f64| factor.is_finite() && *factor > 0.0);
    factor.ok_or_else(|| "write a number above 0, such as 4 or 0.25".to_owned())
}

fn seconds(text: &str) -> Result<Duration, String> {
    let seconds = text.parse::<f64>().ok().and_then(|seconds| Duration::try_from_secs_f64(seconds).ok());
    seconds.ok_or_else(|| "write a number of seconds, 0 or more, such as 30 or 0.5".to_owned())
}

/// What is assumed beside the readings. The help names the source of each default.
#[derive(Debug, Args)]
pub(super) struct Assumed {
    /// How far the instrument may be off, in percent of the value (the default: what IEC 61557-2 allows in operation;
    /// from memory)
    #[arg(long, value_name = "PERCENT", default_value_t = 30.0, allow_negative_numbers = true)]
    pub(super) accuracy_percent: f64,
    /// The last digit of the instrument's lowest range (common practice)
    #[arg(long, value_name = "MEGOHMS", default_value_t = 0.01, allow_negative_numbers = true)]
    pub(super) resolution: f64,
    /// The least insulation resistance of a kilometre of healthy cable (common practice, from memory; its maker knows
    /// better)
    #[arg(long, value_name = "MEGOHM_KM", default_value_t = 10.0, allow_negative_numbers = true)]
    pub(super) healthy_megohm_kilometres: f64,
    /// The reading below which to look further (common practice)
    #[arg(long, value_name = "MEGOHMS", default_value_t = 2.0, allow_negative_numbers = true)]
    pub(super) investigate_below: f64,
}

#[derive(Debug, Args)]
pub(super) struct PlanArguments {
    /// A location that is locked today: nothing in it is operated, read at or taken out. May be given several times
    #[arg(long, value_name = "LOCATION")]
    pub(super) without: Vec<String>,
    /// A point whose switch nobody may touch. May be given several times
    #[arg(long, value_name = "POINT")]
    pub(super) leave: Vec<String>,
    /// Put every switch back as it was found: a last round, with no readings
    #[arg(long)]
    pub(super) restore: bool,
    /// Operate each switch at least once, and put each of its positions under test
    #[arg(long)]
    pub(super) each_switch: bool,
    /// What is to be fewest first, after walks
    #[arg(long, value_enum, default_value = "operations")]
    pub(super) prefer: PreferArgument,
    /// What the plan may do for pairs that can't be tested otherwise: the instrument taken to points, lamps left in,
    /// temporary links; as few as can be
    #[arg(long, value_enum, value_delimiter = ',', value_name = "EXTRAS")]
    pub(super) allow: Vec<AllowArgument>,
    /// Join leads otherwise where that makes readings fewer: ways of one board are read together. One low reading then
    /// says less about where
    #[arg(long)]
    pub(super) fewest_readings: bool,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(super) enum AllowArgument {
    /// The instrument may be taken to a point
    Points,
    /// A lamp, load or coil may be left in
    Lamps,
    /// A temporary link may be put in at a point
    Links,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(super) enum PreferArgument {
    /// Operations, then stops
    Operations,
    /// Stops, then operations
    Stops,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(super) enum NeedArgument {
    /// Live conductors to earth
    Earth,
    /// To earth, and between live conductors
    Standard,
    /// Also between live conductors of one polarity (strapper to strapper)
    EveryPair,
}

impl From<NeedArgument> for Need {
    fn from(argument: NeedArgument) -> Need {
        match argument {
            NeedArgument::Earth => Need::Earth,
            NeedArgument::Standard => Need::Standard,
            NeedArgument::EveryPair => Need::EveryPair,
        }
    }
}
