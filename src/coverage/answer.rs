//! What a test set covers, as data with names: what `cover --json` prints.

use serde::{Deserialize, Serialize};

use super::missed::{Missed, WhyMissed};
use super::shared::{ReadingLists, SharedReasons};
use super::tested::Tested;
use super::void::ReadingCoverage;
use crate::model::{Metres, OtherInstallation, TestSet};
use crate::network::{Need, Network, PairClass, PairId};
use crate::observer::{Observer, Stage, Unwatched, Watch};

/// What a test set covers.
///
/// "Tested" is claimed only where it holds whatever electronics do and however unknown devices stood at the start.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
#[must_use]
pub struct Coverage {
    /// The format of this data; 1.
    pub format: u32,
    /// The totals.
    pub summary: CoverageSummary,
    /// What became of each reading, in order.
    pub readings: Vec<ReadingCoverage>,
    /// Every pair, in the order of [`Network::pairs`].
    pub pairs: Vec<PairCoverage>,
    /// What pairs refer to.
    #[serde(flatten)]
    pub shared: SharedReasons,
    /// Every position of every device.
    pub positions: Vec<PositionCoverage>,
    /// Cores that are connected at both ends but have no role, so that no test of them is asked for: [length, core].
    pub without_role: Vec<[String; 2]>,
    /// An observer stopped it before its end: `readings` are those that were looked at, and what only others would test
    /// counts as not tested.
    #[serde(skip_serializing_if = "std::ops::Not::not", default)]
    pub stopped: bool,
}

/// The totals of a coverage.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct CoverageSummary {
    /// Pairs that must be tested.
    pub required: usize,
    /// Those of them that are.
    pub tested: usize,
    /// Those of them that are not.
    pub not_tested: usize,
    /// Metres of the lengths that have a required pair.
    pub metres_required: Metres,
    /// Metres of those of them all of whose required pairs are tested.
    pub metres_tested: Metres,
}

/// One pair of cores.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct PairCoverage {
    /// The length.
    pub length: String,
    /// The two cores; `earth` stands for the main earthing terminal.
    pub cores: [String; 2],
    /// The pair's class.
    pub class: PairClass,
    /// Whether it must be tested.
    pub required: bool,
    /// Whether it is.
    pub tested: bool,
    /// The readings that test it, each in some combination of unknown starts, as a number of
    /// [`SharedReasons::reading_lists`]; none where it is not tested.
    pub by: Option<usize>,
    /// Why a required pair is not tested.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub missed: Option<Missed>,
    /// The cores of missed pairs of the length, this among them, of which at most one is tested, and each may be: of so
    /// many pairs all but one are not tested, and nobody knows which. Empty where there are none.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub one_of: Vec<[String; 2]>,
}

/// One position of one device.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct PositionCoverage {
    /// The device.
    pub device: String,
    /// The position.
    pub position: String,
    /// Whether it was under test.
    pub tested: bool,
    /// Whether the position closes no contact, so that it can't be under test.
    #[serde(skip_serializing_if = "std::ops::Not::not", default)]
    pub closes_nothing: bool,
}

impl Coverage {
    /// Works out what a test set covers.
    ///
    /// Exact however many devices nobody knows the start of, as long as what those that bear on one another decide takes
    /// no more than 65,536 nodes of a decision diagram; beyond that it may claim less, never more.
    ///
    /// Time O(Σ over readings of what the reading reaches), times one more for every 64 combinations of the unknown
    /// devices that bear on one another, or the nodes of their diagrams where they have more than 64 combinations, and
    /// once the network where pairs are missed; space linear in the network and in what is tested.
    ///
    /// ```
    /// use lengthwise::{Coverage, Input, Missed, Need, Network, read_installation, read_test_set};
    ///
    /// let installation = read_installation(Input::toml(&std::fs::read("examples/landing.toml")?))?;
    /// let tests = read_test_set(Input::toml(&std::fs::read("examples/landing-as-usual.toml")?), &installation)?;
    /// let coverage = Coverage::of(&Network::of(installation), &tests, Need::Standard)?;
    /// assert!(!coverage.is_complete() && coverage.reading(1, 1).is_some_and(|reading| reading.void.is_none()));
    /// for pair in coverage.missed() {
    ///     println!("{} {}: {:?}", pair.length, pair.cores.join("-"), pair.missed);
    /// }
    /// let strapper = coverage.pair("W2", ["black", "cpc"]).expect("it has these cores");
    /// assert!(matches!(strapper.missed, Some(Missed::NotReached { .. })));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    ///
    /// Where the test set was checked against another installation: its ids mean nothing in this one.
    pub fn of(network: &Network, tests: &TestSet, need: Need) -> Result<Coverage, OtherInstallation> {
        Coverage::watched(network, tests, need, &mut Unwatched)
    }

    /// The same as [`Coverage::of`], watched: whoever watches may stop it. Then less is claimed, never more.
    ///
    /// # Errors
    ///
    /// As [`Coverage::of`].
    pub fn watched(
        network: &Network,
        tests: &TestSet,
        need: Need,
        observer: &mut dyn Observer,
    ) -> Result<Coverage, OtherInstallation> {
        tests.check_for(network.installation())?;
        let watch = &mut Watch::new(observer);
        let tested = Tested::by(network, tests, need, watch);
        Ok(Coverage::told(tested, watch))
    }

    /// What the working tables say, told with names.
    pub(super) fn told(tested: Tested<'_>, watch: &mut Watch<'_>) -> Coverage {
        let network = tested.network;
        let mut why = WhyMissed::by(&tested);
        let mut lists = ReadingLists::default();
        let installation = network.installation();
        let pair_count = network.pair_count();
        let mut pairs: Vec<PairCoverage> = (0..)
            .zip(network.pairs())
            .map(|(number, pair)| {
                let required = tested.is_required(pair);
                watch.at(Stage::Pairs, number, pair_count);
                let missed = match required && !tested.is_tested(pair) {
                    true if watch.is_stopped() => Some(Missed::Stopped),
                    true => why.of(pair),
                    false => None,
                };
                PairCoverage {
                    length: installation.length(network.pair_length(pair)).id().to_owned(),
                    cores: network.pair_core_names(pair).map(str::to_owned),
                    class: network.pair_class(pair),
                    required,
                    tested: tested.is_tested(pair),
                    by: tested.is_tested(pair).then(|| tested.list_of_testers(pair, &mut lists)),
                    missed,
                    one_of: Vec::new(),
                }
            })
            .collect();
        let all: Vec<PairId> = network.pairs().collect();
        let by_length = all.chunk_by(|&one, &other| network.pair_length(one) == network.pair_length(other));
        for group in by_length.flat_map(|of_length| tested.one_of(of_length)) {
            let cores: Vec<[String; 2]> = group.iter().map(|pair| pairs[pair.index()].cores.clone()).collect();
            group.iter().for_each(|pair| pairs[pair.index()].one_of = cores.clone());
        }
        let lengths = RequiredPairs::by_length(network, tested.need, |pair| !tested.is_tested(pair));
        Coverage {
            format: 1,
            summary: CoverageSummary::of(network, &lengths),
            positions: (0..network.position_count() as u32)
                .map(|number| PositionCoverage::of(network, number, tested.is_position_tested(number)))
                .collect(),
            without_role: network.core_names(network.cores_without_role()),
            stopped: watch.is_stopped(),
            shared: SharedReasons { reading_lists: lists.into_lists(), open_contacts: why.into_open_contacts() },
            pairs,
            readings: tested.readings,
        }
    }

    /// The readings that test a pair of this coverage (each in some combination of unknown starts), as [pass, reading].
    pub fn tested_by(&self, pair: &PairCoverage) -> &[[usize; 2]] {
        self.shared.readings(pair.by)
    }

    /// The required pairs that are not tested, in order.
    pub fn missed(&self) -> impl Iterator<Item = &PairCoverage> {
        self.pairs.iter().filter(|pair| pair.is_missed())
    }

    /// Whether every required pair is tested.
    pub fn is_complete(&self) -> bool {
        self.missed().next().is_none()
    }

    /// The pairs of a length, in order. Time linear in the pairs of all lengths.
    pub fn pairs_of<'c>(&'c self, length: &'c str) -> impl Iterator<Item = &'c PairCoverage> {
        self.pairs.iter().filter(move |pair| pair.length == length)
    }

    /// The pair of these two cores of a length, named in either order. Time linear in the pairs of all lengths.
    pub fn pair(&self, length: &str, cores: [&str; 2]) -> Option<&PairCoverage> {
        let [one, other] = cores;
        self.pairs.iter().find(|pair| pair.length == length && (pair.cores == cores || pair.cores == [other, one]))
    }

    /// The reading of this number in the pass of this number, both counted from 1.
    pub fn reading(&self, pass: usize, reading: usize) -> Option<&ReadingCoverage> {
        let place = self.readings.binary_search_by_key(&(pass, reading), |row| (row.pass, row.reading));
        place.ok().map(|place| &self.readings[place])
    }
}

impl PairCoverage {
    /// Whether it must be tested and is not.
    pub fn is_missed(&self) -> bool {
        self.required && !self.tested
    }
}

/// How many pairs of one length must be tested, and how many of them are not.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct RequiredPairs {
    pub(super) required: usize,
    pub(super) missed: usize,
}

impl RequiredPairs {
    /// By length, of all pairs that must be tested, told whether each is missed.
    pub(super) fn by_length(network: &Network, need: Need, is_missed: impl Fn(PairId) -> bool) -> Vec<RequiredPairs> {
        let mut lengths = vec![RequiredPairs::default(); network.installation().lengths().len()];
        for pair in network.pairs().filter(|&pair| network.requires(need, pair)) {
            let row = &mut lengths[network.pair_length(pair).index()];
            row.required += 1;
            row.missed += usize::from(is_missed(pair));
        }
        lengths
    }
}

impl CoverageSummary {
    /// The totals, by how many pairs of each length must be tested, and how many of them are not.
    pub(super) fn of(network: &Network, lengths: &[RequiredPairs]) -> CoverageSummary {
        let mut summary = CoverageSummary::default();
        for ((_, length), pairs) in network.installation().lengths().zip(lengths) {
            summary.required += pairs.required;
            summary.not_tested += pairs.missed;
            if pairs.required > 0 {
                summary.metres_required.0 += length.metres().0;
                if pairs.missed == 0 {
                    summary.metres_tested.0 += length.metres().0;
                }
            }
        }
        summary.tested = summary.required - summary.not_tested;
        // A sum of decimal metres is given as decimals, not as what binary fractions make of it.
        for metres in [&mut summary.metres_required, &mut summary.metres_tested] {
            metres.0 = (metres.0 * 1e6).round() / 1e6;
        }
        summary
    }
}

impl PositionCoverage {
    /// The position with this [`Network::position_number`].
    pub(super) fn of(network: &Network, number: u32, tested: bool) -> PositionCoverage {
        let (device, position) = network.position(number);
        PositionCoverage {
            device: network.device_name(device),
            position: network.position_name(device, position).to_owned(),
            tested,
            closes_nothing: network.devices()[device as usize].closes >> position & 1 == 0,
        }
    }
}
