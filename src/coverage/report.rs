//! Coverage as data for other programs: what `cover --json` prints.

use serde::{Deserialize, Serialize};

use super::cover::{Coverage, Void};
use super::explain::{Link, Missed};
use crate::model::{DeviceRef, Metres};
use crate::network::PairClass;

/// What a test set covers, as data.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct CoverageReport {
    pub format: u32,
    pub summary: Summary,
    pub readings: Vec<ReadingReport>,
    pub pairs: Vec<PairCoverageReport>,
    pub positions: Vec<PositionReport>,
    /// Cores that are connected at both ends but have no role, so that no test of them is asked for: [length, core].
    pub without_role: Vec<[String; 2]>,
}

/// The totals.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Summary {
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

/// One reading.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ReadingReport {
    /// The pass, counted from 1.
    pub pass: usize,
    /// The reading in the pass, counted from 1.
    pub reading: usize,
    /// Why it is void; null where it is sound.
    pub void: Option<Void>,
    /// What joins the leads of a void reading.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub path: Vec<Link>,
}

/// One pair.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PairCoverageReport {
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
    /// The readings that test it, as [pass, reading].
    pub by: Vec<[usize; 2]>,
    /// Why a required pair is not tested.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub missed: Option<Missed>,
}

/// One position of one device.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PositionReport {
    /// The device.
    pub device: String,
    /// The position.
    pub position: String,
    /// Whether it was under test.
    pub tested: bool,
    /// Whether the position closes no contact, so that it can't be under test.
    #[serde(skip_serializing_if = "std::ops::Not::not", default)]
    pub closes_nothing: bool,
    /// Whether the device is worked at a board.
    #[serde(skip)]
    pub at_board: bool,
}

impl Coverage<'_> {
    /// The totals. Time linear in the pairs.
    pub fn summary(&self) -> Summary {
        let mut summary =
            Summary { required: 0, tested: 0, not_tested: 0, metres_required: Metres(0.0), metres_tested: Metres(0.0) };
        let mut pairs = self.network.pairs.iter().peekable();
        for (id, length) in self.network.installation().lengths() {
            let (mut required, mut tested) = (0, 0);
            while let Some(row) = pairs.next_if(|row| row.length == id) {
                if self.need.requires(row.class) {
                    required += 1;
                    tested += usize::from(self.is_group_tested(row.group));
                }
            }
            summary.required += required;
            summary.tested += tested;
            if required > 0 {
                summary.metres_required.0 += length.metres().0;
                if required == tested {
                    summary.metres_tested.0 += length.metres().0;
                }
            }
        }
        summary.not_tested = summary.required - summary.tested;
        // A sum of decimal metres is given as decimals, not as what binary fractions make of it.
        for metres in [&mut summary.metres_required, &mut summary.metres_tested] {
            metres.0 = (metres.0 * 1e6).round() / 1e6;
        }
        summary
    }

    /// The coverage as data. Time and space linear in the pairs, in what is tested and, for each missed pair, in the
    /// part of the network around it.
    pub fn report(&self) -> CoverageReport {
        let network = self.network;
        let installation = network.installation();
        let pairs = network
            .pairs()
            .map(|pair| {
                let required = self.is_required(pair);
                PairCoverageReport {
                    length: installation.length(network.pair_length(pair)).id().to_owned(),
                    cores: network.pair_core_names(pair).map(str::to_owned),
                    class: network.pair_class(pair),
                    required,
                    tested: self.is_tested(pair),
                    by: self.tested_by(pair).map(|reading| [reading.pass, reading.reading]).collect(),
                    missed: if required { self.why_missed(pair) } else { None },
                }
            })
            .collect();
        CoverageReport {
            format: 1,
            summary: self.summary(),
            readings: self
                .readings
                .iter()
                .map(|outcome| ReadingReport {
                    pass: outcome.pass,
                    reading: outcome.reading,
                    void: outcome.void,
                    path: outcome.path.clone(),
                })
                .collect(),
            pairs,
            positions: self.position_reports(),
            without_role: network
                .cores_without_role()
                .map(|(length, core)| {
                    let row = installation.length(length);
                    [row.id().to_owned(), row.cores()[core].name().to_owned()]
                })
                .collect(),
        }
    }

    /// Every position of every device, and whether it was under test.
    pub fn position_reports(&self) -> Vec<PositionReport> {
        let network = self.network;
        let mut closed_in = vec![0u64; network.devices.len()];
        for contact in &network.contacts {
            closed_in[contact.device as usize] |= contact.closed_in;
        }
        let mut positions = Vec::with_capacity(self.position_tested.len());
        for device in 0..network.devices.len() as u32 {
            let name = network.device_name(device);
            let first = self.first_position[device as usize] as usize;
            let reference = network.devices[device as usize].reference;
            let closed = closed_in.get(device as usize).copied().unwrap_or(0);
            let names = reference.positions(network.installation());
            for (number, position) in names.into_iter().enumerate() {
                positions.push(PositionReport {
                    device: name.clone(),
                    position: position.to_owned(),
                    tested: self.position_tested.contains(first + number),
                    closes_nothing: closed >> number & 1 == 0,
                    at_board: !matches!(reference, DeviceRef::Point(_)),
                });
            }
        }
        positions
    }
}
