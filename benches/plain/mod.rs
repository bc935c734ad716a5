//! The same question asked of a plain graph: terminals and what joins them, one union-find a reading.
//!
//! Made from the network that the program prints, by name, and sharing none of its reasoning: no copper is contracted
//! beforehand, nothing is shared between readings but what a variant says.

// Each benchmark takes what it needs.
#![allow(dead_code)]

pub mod networkx;

use std::collections::HashMap;

use lengthwise::NetworkReport;
use lengthwise::model::{ReadingDraft, TestSetDraft};
use petgraph::unionfind::UnionFind;
use serde::Serialize;

/// A pair by its number and a reading by its number: the reading tests the pair.
pub type Tested = (u32, u32);

/// Terminals by number, and what joins them.
#[derive(Serialize)]
pub struct PlainGraph {
    /// Terminals, then one node for each core that ends nowhere.
    pub nodes: u32,
    /// Cores and what is joined for good.
    pub copper: Vec<[u32; 2]>,
    /// Device, terminals, and the positions that join them.
    pub contacts: Vec<(u32, [u32; 2], u64)>,
    /// Terminals, and whether they are joined for sure; those only that are fitted while everything removable is out.
    pub bridges: Vec<([u32; 2], bool)>,
    /// For each device, how many positions, and the first.
    pub devices: Vec<(u32, u32)>,
    pub pairs: Vec<[u32; 2]>,
}

/// One reading with the setting that it is taken in.
#[derive(Clone, Serialize)]
pub struct PlainReading {
    /// The number of the setting.
    pub setting: u32,
    pub leads: [Vec<u32>; 2],
}

/// The positions of the devices in each pass that has readings, and the readings.
#[derive(Serialize)]
pub struct PlainTests {
    pub settings: Vec<Vec<u32>>,
    pub readings: Vec<PlainReading>,
}

impl PlainGraph {
    pub fn of(report: &NetworkReport) -> PlainGraph {
        let number: HashMap<&str, u32> =
            (0..).zip(&report.terminals).map(|(number, name)| (name.as_str(), number)).collect();
        let device: HashMap<&str, u32> =
            (0..).zip(&report.devices).map(|(number, row)| (row.device.as_str(), number)).collect();
        let mut nodes = report.terminals.len() as u32;
        let mut copper = Vec::new();
        for group in &report.joins {
            copper.extend(group.windows(2).map(|pair| [number[pair[0].as_str()], number[pair[1].as_str()]]));
        }
        let mut core: HashMap<(&str, &str), u32> = HashMap::with_capacity(report.cores.len());
        for row in &report.cores {
            let ends = row.ends.each_ref().map(|end| end.as_ref().map(|end| number[end.as_str()]));
            let node = match ends {
                [Some(from), Some(to)] => {
                    copper.push([from, to]);
                    from
                }
                [Some(end), None] | [None, Some(end)] => end,
                [None, None] => {
                    nodes += 1;
                    nodes - 1
                }
            };
            core.insert((&row.length, &row.core), node);
        }
        let earth = number["MET"];
        let side = |length: &str, name: &str| if name == "earth" { earth } else { core[&(length, name)] };
        PlainGraph {
            nodes,
            contacts: report
                .contacts
                .iter()
                .map(|contact| {
                    let index = device[contact.device.as_str()];
                    let positions = &report.devices[index as usize].positions;
                    let closed = (0..positions.len()).filter(|&place| contact.closed_in.contains(&positions[place]));
                    let between = contact.between.each_ref().map(|name| number[name.as_str()]);
                    (index, between, closed.fold(0, |mask, place| mask | 1 << place))
                })
                .collect(),
            bridges: report
                .bridges
                .iter()
                .filter(|bridge| !bridge.removable)
                .map(|bridge| (bridge.between.each_ref().map(|name| number[name.as_str()]), bridge.conducts == "sure"))
                .collect(),
            devices: report
                .devices
                .iter()
                .map(|row| {
                    let ready = row.positions.iter().position(|name| *name == row.ready);
                    (row.positions.len() as u32, ready.expect("nothing generated stands unknown") as u32)
                })
                .collect(),
            pairs: report.pairs.iter().map(|pair| pair.cores.each_ref().map(|name| side(&pair.length, name))).collect(),
            copper,
        }
    }

    /// A test set that operates devices and reads at ways, and does nothing else.
    pub fn tests(&self, report: &NetworkReport, tests: &TestSetDraft) -> PlainTests {
        let terminal: HashMap<&str, u32> =
            (0..).zip(&report.terminals).map(|(number, name)| (name.as_str(), number)).collect();
        let device: HashMap<&str, usize> =
            report.devices.iter().enumerate().map(|(number, row)| (row.device.as_str(), number)).collect();
        let circuit: HashMap<&str, usize> =
            report.circuits.iter().enumerate().map(|(number, row)| (row.circuit.as_str(), number)).collect();
        let mut stands: Vec<u32> = self.devices.iter().map(|row| row.1).collect();
        let mut plain = PlainTests { settings: Vec::new(), readings: Vec::new() };
        assert!(tests.start.is_empty());
        for pass in &tests.passes {
            assert!(pass.set.is_empty() && pass.remove.is_empty() && pass.refit.is_empty());
            for name in &pass.operate {
                let number = device[name.as_str()];
                stands[number] = (stands[number] + 1) % self.devices[number].0;
            }
            let leads = |reading: &ReadingDraft| {
                let row =
                    &report.circuits[circuit[reading.circuit.as_deref().expect("readings are taken at circuits")]];
                reading.between.each_ref().map(|lead| {
                    lead.split('+').flat_map(|name| &row.leads[name]).map(|name| terminal[name.as_str()]).collect()
                })
            };
            let setting = plain.settings.len() as u32;
            plain.readings.extend(pass.readings.iter().map(|reading| PlainReading { setting, leads: leads(reading) }));
            plain.settings.push(stands.clone());
        }
        plain
    }

    /// All that conducts for sure in a setting, united.
    pub fn sure(&self, stands: &[u32]) -> UnionFind<u32> {
        let mut joined = UnionFind::new(self.nodes as usize);
        for &[a, b] in &self.copper {
            joined.union(a, b);
        }
        for &(device, [a, b], closed_in) in &self.contacts {
            if closed_in >> stands[device as usize] & 1 == 1 {
                joined.union(a, b);
            }
        }
        for &([a, b], sure) in &self.bridges {
            if sure {
                joined.union(a, b);
            }
        }
        joined
    }

    /// With the leads on what conducts for sure: whether the reading is void, and if not, what it tests.
    pub fn read(&self, mut sure: UnionFind<u32>, leads: &[Vec<u32>; 2], reading: u32, tested: &mut Vec<Tested>) {
        for lead in leads {
            for pair in lead.windows(2) {
                sure.union(pair[0], pair[1]);
            }
        }
        let [a, b] = leads.each_ref().map(|lead| lead[0]);
        let mut may = sure.clone();
        for &([from, to], _) in &self.bridges {
            may.union(from, to);
        }
        if may.equiv(a, b) {
            return;
        }
        let labels = sure.into_labeling();
        let (a, b) = (labels[a as usize], labels[b as usize]);
        for (pair, cores) in self.pairs.iter().enumerate() {
            let [x, y] = cores.map(|core| labels[core as usize]);
            if (x == a && y == b) || (x == b && y == a) {
                tested.push((pair as u32, reading));
            }
        }
    }

    /// One union-find a reading.
    pub fn answer(&self, tests: &PlainTests) -> Vec<Tested> {
        let mut tested = Vec::new();
        for (number, reading) in tests.readings.iter().enumerate() {
            let sure = self.sure(&tests.settings[reading.setting as usize]);
            self.read(sure, &reading.leads, number as u32, &mut tested);
        }
        tested
    }

    /// One union-find a pass, copied for each reading: what someone would do who sees that it can be shared.
    pub fn answer_by_pass(&self, tests: &PlainTests) -> Vec<Tested> {
        let mut tested = Vec::new();
        let mut current: Option<(u32, UnionFind<u32>)> = None;
        for (number, reading) in tests.readings.iter().enumerate() {
            if current.as_ref().is_none_or(|(setting, _)| *setting != reading.setting) {
                current = Some((reading.setting, self.sure(&tests.settings[reading.setting as usize])));
            }
            let sure = current.as_ref().expect("it was just made").1.clone();
            self.read(sure, &reading.leads, number as u32, &mut tested);
        }
        tested
    }
}
