//! The network as data for other programs: what `network --json` prints.

use serde::{Deserialize, Serialize};

use super::planned::candidates_of;
use crate::model::{Conductor, DeviceRef, Length, LengthId, Stop, TerminalRef, Volts};
use crate::network::{Network, PairClass};

/// The whole network.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
#[non_exhaustive]
pub struct NetworkReport {
    pub format: u32,
    pub installation: InstallationReport,
    /// Full names of the terminals, `MET` included.
    pub terminals: Vec<String>,
    pub cores: Vec<CoreReport>,
    /// Terminals joined for good other than by cores.
    pub joins: Vec<Vec<String>>,
    pub devices: Vec<DeviceReport>,
    pub contacts: Vec<ContactReport>,
    /// One row for each element; rows of one `id` come and go together.
    pub bridges: Vec<BridgeReport>,
    /// Where each supply conductor is taken.
    pub sources: Vec<SourceReport>,
    pub pairs: Vec<PairReport>,
    pub circuits: Vec<CircuitReport>,
}

/// The installation's own facts.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
#[non_exhaustive]
pub struct InstallationReport {
    pub name: String,
    pub nominal_voltage: Volts,
    pub phases: u8,
}

/// One core of one length.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
#[non_exhaustive]
pub struct CoreReport {
    pub length: String,
    pub core: String,
    pub ends: [Option<String>; 2],
    pub roles: Vec<String>,
}

/// One device.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
#[non_exhaustive]
pub struct DeviceReport {
    pub device: String,
    pub positions: Vec<String>,
    /// The position it is found in, or `unknown`.
    pub ready: String,
    pub operable: bool,
    /// Whether it can be seen in which position it stands.
    pub visible: bool,
    /// `board` or `point`.
    pub worked_at: String,
    /// The stop on a walk that it is worked at: `plate:P`, `location:L` or `point:ID`; none at boards.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub stop: Option<String>,
}

/// One contact of a device.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
#[non_exhaustive]
pub struct ContactReport {
    pub device: String,
    pub between: [String; 2],
    pub closed_in: Vec<String>,
}

/// One element of a bridge.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
#[non_exhaustive]
pub struct BridgeReport {
    pub id: String,
    pub removable: bool,
    pub conducts: String,
    /// In service, what it joins is one conductor.
    pub passes: bool,
    pub between: [String; 2],
}

/// Where a role is taken.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
#[non_exhaustive]
pub struct SourceReport {
    pub role: String,
    pub terminal: String,
}

/// One pair of cores.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
#[non_exhaustive]
pub struct PairReport {
    pub length: String,
    pub cores: [String; 2],
    pub class: PairClass,
}

/// One circuit's leads and the readings that a plan may use on it; both empty for a circuit without a way.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
#[non_exhaustive]
pub struct CircuitReport {
    pub circuit: String,
    pub volts: Option<Volts>,
    pub leads: indexmap::IndexMap<String, Vec<String>>,
    pub plan_readings: Vec<[String; 2]>,
}

impl Network {
    /// The network as data. Time and space linear in it.
    ///
    /// ```
    /// use lengthwise::{Input, Network, read_installation};
    ///
    /// let installation = read_installation(Input::toml(&std::fs::read("examples/landing.toml")?))?;
    /// let report = Network::of(installation).report();
    /// let switch = report.devices.iter().find(|device| device.device == "S1").expect("a switch");
    /// assert_eq!((switch.positions.join(" "), switch.ready.as_str()), ("L1 L2".to_owned(), "L1"));
    /// println!("{}", serde_json::to_string(&report)?);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn report(&self) -> NetworkReport {
        let installation = self.installation();
        let name = |terminal: TerminalRef| installation.terminal_name(terminal);
        NetworkReport {
            format: 1,
            installation: InstallationReport {
                name: installation.name().to_owned(),
                nominal_voltage: installation.nominal_voltage(),
                phases: installation.phases().lines().len() as u8,
            },
            terminals: self.terminals().into_iter().map(name).collect(),
            cores: self.core_reports(),
            joins: self.joins().iter().map(|group| group.iter().copied().map(name).collect()).collect(),
            devices: (0..self.devices().len() as u32)
                .map(|device| {
                    let row = &self.devices()[device as usize];
                    let positions = row.reference.positions(installation);
                    DeviceReport {
                        device: self.device_name(device),
                        ready: match row.ready {
                            crate::model::Stands::At(position) => positions[usize::from(position)].to_owned(),
                            crate::model::Stands::Unknown => "unknown".to_owned(),
                        },
                        positions: positions.into_iter().map(str::to_owned).collect(),
                        operable: row.operable,
                        visible: row.visible,
                        worked_at: match row.reference {
                            DeviceRef::Point(_) => "point".to_owned(),
                            _ => "board".to_owned(),
                        },
                        stop: match row.reference {
                            DeviceRef::Point(point) => Some(Stop::of(installation, point).name(installation)),
                            _ => None,
                        },
                    }
                })
                .collect(),
            contacts: self
                .contacts()
                .iter()
                .map(|contact| {
                    let positions = self.devices()[contact.device as usize].reference.positions(installation);
                    ContactReport {
                        device: self.device_name(contact.device),
                        between: contact.between.map(name),
                        closed_in: positions
                            .into_iter()
                            .enumerate()
                            .filter(|(number, _)| contact.closed_in >> number & 1 == 1)
                            .map(|(_, name)| name.to_owned())
                            .collect(),
                    }
                })
                .collect(),
            bridges: self
                .bridges()
                .iter()
                .flat_map(|bridge| {
                    bridge.elements.iter().map(|element| BridgeReport {
                        id: bridge.reference.name(installation),
                        removable: bridge.removable,
                        conducts: element.conducts.name().to_owned(),
                        passes: element.passes,
                        between: element.between.map(name),
                    })
                })
                .collect(),
            sources: self
                .sources()
                .iter()
                .map(|&(role, terminal)| SourceReport { role: role.name(installation), terminal: name(terminal) })
                .collect(),
            pairs: self
                .pairs()
                .map(|pair| PairReport {
                    length: installation.length(self.pair_length(pair)).id().to_owned(),
                    cores: self.pair_core_names(pair).map(str::to_owned),
                    class: self.pair_class(pair),
                })
                .collect(),
            circuits: self.circuit_reports(),
        }
    }

    fn core_reports(&self) -> Vec<CoreReport> {
        let installation = self.installation();
        let of_length = |(id, length): (LengthId, &Length)| {
            let cores = length.cores().iter().zip(0u16..);
            let reports = cores.map(move |(core, number)| CoreReport {
                length: length.id().to_owned(),
                core: core.name().to_owned(),
                ends: core.ends().map(|end| end.map(|terminal| installation.terminal_name(terminal))),
                roles: self.core_roles(id, number).iter().map(|role| role.name(installation)).collect(),
            });
            reports.collect::<Vec<_>>()
        };
        installation.lengths().flat_map(of_length).collect()
    }

    fn circuit_reports(&self) -> Vec<CircuitReport> {
        let installation = self.installation();
        let mut reports = Vec::new();
        for (id, circuit) in installation.circuits() {
            let mut leads = indexmap::IndexMap::new();
            if let Some(way_id) = circuit.way() {
                let way = installation.way(way_id);
                let at = |conductor| installation.terminal_name(TerminalRef::Way { way: way_id, conductor });
                let lines: Vec<String> = way.poles().iter().map(|&line| at(Conductor::Line(line))).collect();
                leads.insert("L".to_owned(), lines);
                for &line in way.poles() {
                    leads.entry(line.name().to_owned()).or_insert_with(|| vec![at(Conductor::Line(line))]);
                }
                if way.has_neutral() {
                    leads.insert("N".to_owned(), vec![at(Conductor::Neutral)]);
                }
                leads.insert("E".to_owned(), vec![at(Conductor::Earth)]);
            } else if let [source] = installation.sources_of(id) {
                for terminal in source.terminals(installation) {
                    let short = source.short_name(installation, terminal);
                    leads.insert(short, vec![installation.terminal_name(terminal)]);
                }
                leads.insert("E".to_owned(), vec![installation.terminal_name(source.earth)]);
            }
            reports.push(CircuitReport {
                circuit: circuit.id().to_owned(),
                volts: self.test_voltage(id),
                leads,
                plan_readings: candidates_of(self, id)
                    .into_iter()
                    .map(|candidate| candidate.reading.leads.map(|lead| lead.text))
                    .collect(),
            });
        }
        reports
    }
}
