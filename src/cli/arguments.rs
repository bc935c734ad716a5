//! The arguments of the command.

use std::path::PathBuf;
use std::time::Duration;

use clap::{Args, Parser, Subcommand, ValueEnum};
use clap_complete::Shell;

use crate::input::{Document, Language};
use crate::limits::Limits;
use crate::network::Need;
use crate::plan::{ExtraKind, Pace, People, Priority};
use crate::session::PlanOptions;

const EXIT_STATUS: &str = "\
Exit status:
  0  done
  1  done, and with --strict the answer is that something fails or is missing
  2  the input is wrong; every error is named with its place, and nothing is written

Files end in .toml or .json; `-` is standard input, with --language. The program plans and records; \
a competent person decides. Local codes and licensed practice come first.";
/// Examples, of files in the folder where they are.
const CHECK: &str = "\
Examples:
  lengthwise check house.toml
  lengthwise check house.toml house.tests.toml
  lengthwise check --json - --language toml < house.toml";
const COVER: &str = "\
Examples:
  lengthwise cover house.toml house.tests.toml
  lengthwise cover house.toml house.tests.toml --need every-pair --strict";
const JUDGE: &str = "\
Examples:
  lengthwise judge house.toml house.tests.toml
  lengthwise judge house.toml house.tests.toml --rules as-nzs-3000
  lengthwise judge house.toml house.tests.toml --csv > record.csv";
const PLAN: &str = "\
Examples:
  lengthwise plan house.toml
  lengthwise plan house.toml --record house.tests.toml
  lengthwise plan house.toml house.tests.toml --without cellar --restore
  lengthwise plan house.toml --time-limit 10";
const FILL: &str = "\
Examples:
  lengthwise fill house.toml house.tests.toml > values.csv
  lengthwise fill house.toml house.tests.toml values.csv --record house.record.toml";
const PREPARE: &str = "\
Example:
  lengthwise prepare house.toml";
const RULES: &str = "\
Examples:
  lengthwise rules
  lengthwise rules --rules iec-60364-6";
const LOCATE: &str = "\
Examples:
  lengthwise locate house.toml house.tests.toml
  lengthwise locate house.toml house.tests.toml --record house.next.toml
  lengthwise locate house.toml house.tests.toml --accuracy-percent 10";
const NETWORK: &str = "\
Example:
  lengthwise network house.toml --json";
const EXPAND: &str = "\
Example:
  lengthwise expand house.toml > house-explicit.toml";
const WORKS: &str = "\
Examples:
  lengthwise works house.toml
  lengthwise works house.toml E201 E202";
const TERMINATIONS: &str = "\
Examples:
  lengthwise terminations house.toml
  lengthwise terminations house.toml S201";
const DRAW: &str = "\
Examples:
  lengthwise draw house.toml > house.svg
  lengthwise draw house.toml house.tests.toml --circuit C2 --circuit C3 --down > stair.svg";
const PAGE: &str = "\
Examples:
  lengthwise page house.toml -o house.html
  lengthwise page house.toml house.tests.toml --rules bs-7671 -o house.html";
const SCHEMA: &str = "\
Example:
  lengthwise schema installation > installation.schema.json";
const EXPLAIN: &str = "\
Example:
  lengthwise explain circuits-meet";
const COMPLETIONS: &str = "\
Example:
  lengthwise completions bash > lengthwise.bash";
const MAN: &str = "\
Examples:
  lengthwise man > lengthwise.1
  lengthwise man plan > lengthwise-plan.1";

/// Works out which lengths of cable a set of insulation-resistance tests has covered, and the fewest switch operations
/// that reach the rest.
#[derive(Debug, Parser)]
#[command(name = "lengthwise", version, after_help = EXIT_STATUS)]
pub(super) struct Arguments {
    #[command(flatten)]
    pub(super) colour: colorchoice_clap::Color,
    /// The language of standard input (`-`), and of files whose names don't tell it
    #[arg(long, global = true, value_enum, value_name = "LANGUAGE")]
    pub(super) language: Option<LanguageArgument>,
    #[command(subcommand)]
    pub(super) command: Command,
}

#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// Check an installation file, and a test set file against it: every error at once
    #[command(after_help = CHECK)]
    Check {
        #[command(flatten)]
        files: Files,
        /// Print JSON instead of text; the errors too, on standard output
        #[arg(long)]
        json: bool,
        /// Exit with status 1 where there are warnings
        #[arg(long)]
        strict: bool,
    },
    /// Work out which pairs of cores a test set has tested, and why the others are missed
    #[command(after_help = COVER)]
    Cover {
        #[command(flatten)]
        files: FilesWithTests,
        #[command(flatten)]
        rules: Rules,
        #[command(flatten)]
        question: Question,
    },
    /// Judge what the instrument showed: each reading, each circuit with what is not tested, each board as a whole
    #[command(after_help = JUDGE)]
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
    #[command(after_help = PLAN)]
    Plan {
        #[command(flatten)]
        files: Files,
        #[command(flatten)]
        rules: Rules,
        #[command(flatten)]
        question: Question,
        #[command(flatten)]
        effort: Effort,
        /// Stop the search after so many seconds, with the best plan found so far; it says what is not proven. `none`
        /// lifts the limit
        #[arg(long, value_name = "SECONDS", value_parser = time_limit, default_value = "60", help_heading = "Search")]
        time_limit: TimeLimit,
        /// Write the test set with what is planned to a new file: each reading has a `megohms` to fill in. What was
        /// done before stays to the letter
        #[arg(long, value_name = "FILE")]
        record: Option<PathBuf>,
        #[command(flatten)]
        request: PlanArguments,
    },
    /// Print the readings that have no value yet as a table to type into (CSV), or fill in the test set from such a table
    #[command(after_help = FILL)]
    Fill {
        #[command(flatten)]
        files: FilesWithTests,
        /// The table, filled in
        #[arg(requires = "record")]
        values: Option<PathBuf>,
        /// Write the test set with the values to a new file. All else in it stays to the letter
        #[arg(long, value_name = "FILE", requires = "values")]
        record: Option<PathBuf>,
    },
    /// List what to isolate, take out, switch and prove before the readings of each circuit, and why
    #[command(after_help = PREPARE)]
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
    #[command(after_help = RULES)]
    Rules {
        #[command(flatten)]
        rules: OptionalRules,
        /// Print JSON instead of text
        #[arg(long)]
        json: bool,
    },
    /// Work out from the readings where the insulation leaks, and the next reading to take
    #[command(after_help = LOCATE)]
    Locate {
        #[command(flatten)]
        files: FilesWithTests,
        #[command(flatten)]
        rules: Rules,
        #[command(flatten)]
        assumed: Assumed,
        /// Write the test set with the reading to take next to a new file, with a `megohms` to fill in. What was done
        /// before stays to the letter
        #[arg(long, value_name = "FILE")]
        record: Option<PathBuf>,
        #[command(flatten)]
        effort: Effort,
        /// Stop the search after so many seconds; then less is said of the places, never more. `none` lifts the limit
        #[arg(long, value_name = "SECONDS", value_parser = time_limit, default_value = "20", help_heading = "Search")]
        time_limit: TimeLimit,
        /// Print JSON instead of text
        #[arg(long)]
        json: bool,
        /// Exit with status 1 where the readings need a fault to explain them, or contradict one another
        #[arg(long)]
        strict: bool,
    },
    /// Print the graph: terminals, cores, contacts, bridges, roles and pairs
    #[command(after_help = NETWORK)]
    Network {
        /// The installation file
        installation: PathBuf,
        /// Print JSON instead of text
        #[arg(long)]
        json: bool,
    },
    /// Print an installation with points and lengths in the place of its runs
    #[command(after_help = EXPAND)]
    Expand {
        /// The installation file
        installation: PathBuf,
    },
    /// Tell what makes each lamp, outlet and load work: which switches turn it, and in which positions
    #[command(after_help = WORKS)]
    Works {
        #[command(flatten)]
        boxes: Boxes,
    },
    /// List what is under each terminal, box by box, to hold beside the open box
    #[command(after_help = TERMINATIONS)]
    Terminations {
        #[command(flatten)]
        boxes: Boxes,
    },
    /// Draw circuits as pictures (SVG): every core of every length, how the switches stand, and what is tested
    #[command(after_help = DRAW)]
    Draw {
        #[command(flatten)]
        files: Files,
        /// A circuit to draw; all of them where not given. May be given several times
        #[arg(long, value_name = "CIRCUIT")]
        circuit: Vec<String>,
        /// Draw downwards, for a phone, instead of across
        #[arg(long)]
        down: bool,
        /// What to write
        #[arg(long, value_enum, default_value = "svg")]
        format: PictureArgument,
        #[command(flatten)]
        rules: Rules,
        /// Which pairs of cores need a test
        #[arg(long, value_enum, default_value = "ruleset")]
        need: NeedArgument,
    },
    /// Write a page that does the job in a browser, on a phone or a desk, without a network
    #[command(after_help = PAGE)]
    Page {
        #[command(flatten)]
        files: Files,
        /// The ruleset of the package that judges
        #[arg(long, value_name = "RULESET", default_value = "bs-7671")]
        rules: String,
        /// The file to write, a new one
        #[arg(short, long, value_name = "FILE")]
        output: PathBuf,
    },
    /// Print the JSON Schema of a kind of file, by which an editor completes and checks
    #[command(after_help = SCHEMA)]
    Schema {
        /// What the file holds
        #[arg(value_enum)]
        kind: DocumentArgument,
    },
    /// Explain an error of a file by its code, which stands in brackets behind it
    #[command(after_help = EXPLAIN)]
    Explain {
        /// The code; all of them are listed where not given
        code: Option<String>,
    },
    /// Print what lets a shell complete the options
    #[command(after_help = COMPLETIONS)]
    Completions {
        /// The shell
        #[arg(value_enum)]
        shell: Shell,
    },
    /// Print the manual page of the program or of a command, as roff
    #[command(after_help = MAN)]
    Man {
        /// The command; the program itself where not given
        command: Option<String>,
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
pub(super) struct Boxes {
    /// The installation file
    pub(super) installation: PathBuf,
    /// Points or boards; all where none is given
    pub(super) points: Vec<String>,
    /// Print JSON instead of text
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
pub(super) struct Question {
    /// Which pairs of cores need a test
    #[arg(long, value_enum, default_value = "ruleset")]
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
    #[arg(
        long,
        value_name = "FACTOR",
        value_parser = factor,
        default_value_t = 1.0,
        hide_default_value = true,
        help_heading = "Search"
    )]
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

/// How long a search may take.
#[derive(Clone, Copy, Debug)]
pub(super) struct TimeLimit(pub(super) Option<Duration>);

fn time_limit(text: &str) -> Result<TimeLimit, String> {
    if text == "none" {
        return Ok(TimeLimit(None));
    }
    let seconds = text.parse::<f64>().ok().and_then(|seconds| Duration::try_from_secs_f64(seconds).ok());
    match seconds {
        Some(seconds) => Ok(TimeLimit(Some(seconds))),
        None => Err("write a number of seconds, 0 or more, such as 30 or 0.5, or `none`".to_owned()),
    }
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
    #[arg(long, value_name = "LOCATION", help_heading = "What is left alone")]
    pub(super) without: Vec<String>,
    /// A point whose switch nobody may touch. May be given several times
    #[arg(long, value_name = "POINT", help_heading = "What is left alone")]
    pub(super) leave: Vec<String>,
    /// Put every switch back as it was found: a last round, with no readings
    #[arg(long, help_heading = "What is asked for")]
    pub(super) restore: bool,
    /// Operate each switch at least once, and put each of its positions under test
    #[arg(long, help_heading = "What is asked for")]
    pub(super) each_switch: bool,
    /// What is to be fewest first, after walks
    #[arg(long, value_enum, default_value = "operations", help_heading = "What is asked for")]
    pub(super) prefer: PreferArgument,
    /// What the plan may do, as little as can be, for pairs that no reading at a way tests: a list
    #[arg(
        long,
        value_enum,
        value_delimiter = ',',
        value_name = "EXTRAS",
        default_value = "all",
        help_heading = "What is asked for"
    )]
    pub(super) extras: Vec<ExtrasArgument>,
    /// How many do the work. Of two, one reads at the board and the other goes round: fewest operations, then the
    /// metres of one way past all of them
    #[arg(long, value_enum, default_value = "1", help_heading = "What is asked for")]
    pub(super) people: PeopleArgument,
    #[command(flatten)]
    pub(super) pace: PaceArguments,
    /// Join leads otherwise where that makes readings fewer: ways of one board are read together. One low reading then
    /// says less about where
    #[arg(long, help_heading = "What is asked for")]
    pub(super) fewest_readings: bool,
}

/// What an estimate of the time is worked out with. The defaults are common practice, from memory.
#[derive(Clone, Copy, Debug, Args)]
#[command(next_help_heading = "About how long it takes")]
pub(super) struct PaceArguments {
    /// Metres walked in a minute, stairs and doors included
    #[arg(long, value_name = "METRES", value_parser = factor, default_value_t = 40.0)]
    metres_a_minute: f64,
    /// Seconds for a reading: leads moved, the value read and written down, the circuit discharged
    #[arg(long, value_name = "SECONDS", value_parser = factor, default_value_t = 60.0)]
    reading_seconds: f64,
    /// Seconds to operate a switch
    #[arg(long, value_name = "SECONDS", value_parser = factor, default_value_t = 10.0)]
    operation_seconds: f64,
    /// Seconds to take out a lamp, or disconnect a load, and to put it back
    #[arg(long, value_name = "SECONDS", value_parser = factor, default_value_t = 180.0)]
    out_seconds: f64,
}

impl PlanArguments {
    pub(super) fn options(&self, need: Need) -> PlanOptions {
        let PaceArguments { metres_a_minute, reading_seconds, operation_seconds, out_seconds } = self.pace;
        PlanOptions {
            need,
            without: self.without.clone(),
            leave: self.leave.clone(),
            restore: self.restore,
            each_switch: self.each_switch,
            fewest_readings: self.fewest_readings,
            prefer: match self.prefer {
                PreferArgument::Operations => Priority::Operations,
                PreferArgument::Stops => Priority::Stops,
            },
            people: match self.people {
                PeopleArgument::One => People::One,
                PeopleArgument::Two => People::Two,
            },
            extras: self.extras.iter().flat_map(|sort| sort.kinds()).copied().collect(),
            pace: Pace { metres_a_minute, reading_seconds, operation_seconds, out_seconds },
        }
    }
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(super) enum ExtrasArgument {
    /// All of these
    All,
    /// None
    None,
    /// A lamp, load or coil may be left in
    Lamps,
    /// The instrument may be taken to a point
    Points,
    /// How a switch stands may be found out at its terminals
    FindOut,
    /// A temporary link may be put in at a point, or one of the preparation taken out
    Links,
    /// An accessory may be taken off
    Accessories,
}

impl ExtrasArgument {
    fn kinds(&self) -> &'static [ExtraKind] {
        match self {
            ExtrasArgument::All => &ExtraKind::ALL,
            ExtrasArgument::None => &[],
            ExtrasArgument::Lamps => &[ExtraKind::Lamps],
            ExtrasArgument::Points => &[ExtraKind::Points],
            ExtrasArgument::FindOut => &[ExtraKind::FindOut],
            ExtrasArgument::Links => &[ExtraKind::Links],
            ExtrasArgument::Accessories => &[ExtraKind::Accessories],
        }
    }
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(super) enum PreferArgument {
    /// Operations, then stops
    Operations,
    /// Stops, then operations
    Stops,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(super) enum PeopleArgument {
    /// One, who comes back to the board for the readings
    #[value(name = "1")]
    One,
    /// Two, who speak by radio
    #[value(name = "2")]
    Two,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(super) enum LanguageArgument {
    /// TOML
    Toml,
    /// JSON
    Json,
}

impl From<LanguageArgument> for Language {
    fn from(argument: LanguageArgument) -> Language {
        match argument {
            LanguageArgument::Toml => Language::Toml,
            LanguageArgument::Json => Language::Json,
        }
    }
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(super) enum PictureArgument {
    /// A picture that any browser shows
    Svg,
    /// The graph, not laid out, for Graphviz
    Dot,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(super) enum DocumentArgument {
    /// An installation
    Installation,
    /// A test set
    TestSet,
    /// A ruleset
    Ruleset,
}

impl From<DocumentArgument> for Document {
    fn from(argument: DocumentArgument) -> Document {
        match argument {
            DocumentArgument::Installation => Document::Installation,
            DocumentArgument::TestSet => Document::TestSet,
            DocumentArgument::Ruleset => Document::Ruleset,
        }
    }
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(super) enum NeedArgument {
    /// Live conductors to earth
    Earth,
    /// What the ruleset asks: to earth, and between live conductors of all circuits or of some
    Ruleset,
    /// To earth, and between live conductors of each circuit
    Standard,
    /// Also between live conductors of one polarity (strapper to strapper)
    EveryPair,
}

impl From<NeedArgument> for Need {
    fn from(argument: NeedArgument) -> Need {
        match argument {
            NeedArgument::Earth => Need::Earth,
            NeedArgument::Ruleset => Need::Ruleset,
            NeedArgument::Standard => Need::Standard,
            NeedArgument::EveryPair => Need::EveryPair,
        }
    }
}
