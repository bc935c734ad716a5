//! Back from an installation or a test set to what is written down.

use indexmap::IndexMap;
use rustc_hash::FxHashSet;

use crate::model::{
    Board, BoardDraft, BridgeDraft, BridgeRef, Circuit, CircuitDraft, ConnectedDraft, ConnectedReading, Core,
    DeviceDraft, DeviceRef, FormatOne, GeneralDraft, GroupDevice, GroupDraft, Installation, InstallationDraft, Kind,
    KindDraft, Length, LengthDraft, LocationDraft, OtherInstallation, PassDraft, PassageDraft, Point, PointDraft,
    PositionDraft, Reading, ReadingDraft, ReliefDraft, Stands, StartDraft, TerminalRef, TestSet, TestSetDraft, Variant,
    Way, WayDevice, WayDraft,
};

impl Installation {
    /// Writes the installation down again. Built, the draft gives the same installation, with the same ids.
    ///
    /// What was left to a default is written out where the default depends on something else of the installation.
    ///
    /// # Examples
    ///
    /// ```
    /// use lengthwise::{Input, InstallationDraft, read_installation};
    ///
    /// let landing = read_installation(Input::toml(&std::fs::read("examples/landing.toml")?))?;
    /// let mut draft = landing.to_draft();
    /// let json = serde_json::to_string(&draft)?;
    /// assert_eq!(serde_json::from_str::<InstallationDraft>(&json)?, draft);
    ///
    /// // Another length is another installation: its ids are its own.
    /// draft.lengths[0].metres.0 += 1.5;
    /// let altered = draft.build()?;
    /// assert_ne!(altered.to_draft(), landing.to_draft());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn to_draft(&self) -> InstallationDraft {
        InstallationDraft {
            format: FormatOne,
            installation: GeneralDraft {
                name: self.name.clone(),
                nominal_voltage: self.nominal_voltage,
                phases: Some(self.phases),
                earthing: self.earthing,
                work: Some(self.work),
                third: None,
            },
            locations: self
                .locations
                .iter()
                .map(|location| LocationDraft { id: location.id.clone(), name: location.name.clone() })
                .collect(),
            passages: self
                .passages
                .iter()
                .map(|passage| PassageDraft {
                    between: passage.between.map(|location| self.location(location).id.clone()),
                    metres: passage.metres,
                })
                .collect(),
            boards: self.boards.iter().map(|board| self.board_draft(board)).collect(),
            circuits: self.circuits.iter().map(|circuit| self.circuit_draft(circuit)).collect(),
            points: self.points.iter().map(|point| self.point_draft(point)).collect(),
            lengths: self.lengths.iter().map(|length| self.length_draft(length)).collect(),
            kinds: self.kinds.iter().filter(|kind| kind.declared).map(kind_draft).collect(),
            allowed: self.allowed.clone(),
        }
    }

    fn board_draft(&self, board: &Board) -> BoardDraft {
        BoardDraft {
            id: board.id.clone(),
            location: board.location.map(|location| self.location(location).id.clone()),
            main_switch: Some(board.main_switch),
            origin: board.origin.then_some(true),
            groups: board
                .groups
                .iter()
                .map(|group| GroupDraft {
                    id: group.id.clone(),
                    device: GroupDevice::Rcd,
                    electronic: Some(group.electronic),
                })
                .collect(),
            ways: board.ways.iter().map(|way| way_draft(board, way)).collect(),
        }
    }

    fn circuit_draft(&self, circuit: &Circuit) -> CircuitDraft {
        CircuitDraft {
            id: circuit.id.clone(),
            name: circuit.name.clone(),
            way: circuit.way.map(|way| self.way_name(way)),
            nominal_voltage: Some(circuit.nominal_voltage),
            system: Some(circuit.system),
            relief: circuit.relief.as_ref().map(|relief| ReliefDraft {
                because: relief.because.clone(),
                leaves: relief.leaves.iter().map(|&point| self.point(point).id.clone()).collect(),
            }),
            mm2: None,
            source: None,
            earth: None,
            lamp: None,
            run: Vec::new(),
        }
    }

    fn point_draft(&self, point: &Point) -> PointDraft {
        let kind = self.kind(point.kind);
        let terminal = |&number: &u16| {
            let number = usize::from(number);
            let own = &kind.terminals;
            own.get(number).unwrap_or_else(|| &point.extra_terminals[number - own.len()]).clone()
        };
        PointDraft {
            id: point.id.clone(),
            name: point.name.clone(),
            kind: kind.name.clone(),
            circuit: Some(self.circuit(point.circuit).id.clone()),
            location: point.location.map(|location| self.location(location).id.clone()),
            plate: point.plate.map(|plate| self.plate(plate).to_owned()),
            terminals: point.extra_terminals.clone(),
            links: point.links.iter().map(|link| link.iter().map(terminal).collect()).collect(),
            lamp: if let Variant::Lamp(lamp) = kind.variant { Some(lamp) } else { None },
            load: if let Variant::Load(load) = kind.variant { Some(load) } else { None },
            manual: if let Variant::Manual(manual) = kind.variant { Some(manual) } else { None },
            removable: (kind.has_bridges() && point.removable != kind.removable).then_some(point.removable),
            fixed: point.fixed.then_some(true),
            operable: (point.operable != kind.operable).then_some(point.operable),
            visible: (point.visible != kind.visible).then_some(point.visible),
            stands: match point.stands {
                Stands::Unknown => Some("unknown".to_owned()),
                Stands::At(number) => kind.positions.get(usize::from(number)).map(|position| position.name.clone()),
            },
        }
    }

    fn length_draft(&self, length: &Length) -> LengthDraft {
        let [from, to] = length.ends;
        LengthDraft {
            id: length.id.clone(),
            circuit: Some(self.circuit(length.circuit).id.clone()),
            from: self.end_name(from),
            to: self.end_name(to),
            cable: length.cable.clone(),
            metres: length.metres,
            cores: length.cores.iter().map(|core| self.core_draft(core)).collect(),
        }
    }

    fn core_draft(&self, core: &Core) -> (String, [String; 2]) {
        let terminal = |terminal| match terminal {
            None => "-".to_owned(),
            Some(TerminalRef::Point { point, terminal }) => self.point_terminal_name(point, terminal).to_owned(),
            Some(
                TerminalRef::Way { conductor, .. }
                | TerminalRef::Incoming { conductor, .. }
                | TerminalRef::Bus { conductor, .. }
                | TerminalRef::Group { conductor, .. },
            ) => conductor.name().to_owned(),
            Some(TerminalRef::EarthBar { .. } | TerminalRef::MainEarth) => "E".to_owned(),
        };
        (core.name.clone(), core.ends.map(terminal))
    }
}

fn way_draft(board: &Board, way: &Way) -> WayDraft {
    let (device, switches_neutral, functional_earth) = match way.device {
        WayDevice::Mcb => (DeviceDraft::Mcb, None, None),
        WayDevice::Fuse => (DeviceDraft::Fuse, None, None),
        WayDevice::Isolator => (DeviceDraft::Isolator, None, None),
        WayDevice::Rcbo { switches_neutral, functional_earth } => {
            (DeviceDraft::Rcbo, Some(switches_neutral), Some(functional_earth))
        }
    };
    WayDraft {
        id: way.id.clone(),
        device,
        rating: way.rating,
        poles: Some(way.poles.iter().map(|line| line.name().to_owned()).collect()),
        group: way.group.map(|group| board.groups[group as usize].id.clone()),
        neutral: Some(way.neutral),
        switches_neutral,
        functional_earth,
    }
}

fn kind_draft(kind: &Kind) -> KindDraft {
    let terminal = |&number: &u16| kind.terminals[usize::from(number)].clone();
    KindDraft {
        id: kind.name.clone(),
        terminals: kind.terminals.clone(),
        positions: kind
            .positions
            .iter()
            .map(|position| PositionDraft {
                name: position.name.clone(),
                joins: position.joins.iter().map(|join| join.iter().map(terminal).collect()).collect(),
            })
            .collect(),
        bridges: kind
            .bridges
            .iter()
            .map(|bridge| BridgeDraft {
                between: bridge.between.each_ref().map(terminal),
                conducts: bridge.conducts,
                passes: bridge.passes.then_some(true),
                load: (bridge.is_load == bridge.passes).then_some(bridge.is_load),
            })
            .collect(),
        removable: Some(kind.removable),
        visible: Some(kind.visible),
    }
}

impl TestSet {
    /// Writes the test set down again, with the names of its installation. Built, the draft gives the same test set.
    ///
    /// # Errors
    ///
    /// Where it was checked against another installation.
    ///
    /// # Examples
    ///
    /// A session goes on: what a plan says is added to what was done.
    ///
    /// ```
    /// use lengthwise::plan::{PlanStart, Request};
    /// use lengthwise::{Coverage, Input, Need, Network, Plan, read_installation, read_test_set};
    ///
    /// let landing = read_installation(Input::toml(&std::fs::read("examples/landing.toml")?))?;
    /// let tests = std::fs::read("examples/landing-as-usual.toml")?;
    /// let tests = read_test_set(Input::toml(&tests), &landing)?;
    /// let network = Network::of(landing.clone());
    /// let plan = Plan::of(&network, Some(&tests), Need::Standard)?;
    ///
    /// let mut draft = tests.to_draft(&landing)?;
    /// let start = PlanStart::of(&network, Some(&tests), &Request::from(Need::Standard))?;
    /// draft.passes.push(start.to_pass(&landing));
    /// draft.passes.extend(plan.rounds.iter().map(|round| round.to_pass()));
    ///
    /// assert!(Coverage::of(&network, &draft.build(&landing)?, Need::Standard)?.is_complete());
    /// // A file that the command reads.
    /// let json = serde_json::to_string(&draft)?;
    /// assert_eq!(read_test_set(Input::json(&json), &landing)?, draft.build(&landing)?);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn to_draft(&self, installation: &Installation) -> Result<TestSetDraft, OtherInstallation> {
        self.check_for(installation)?;
        let device = |device: &DeviceRef| device.name(installation);
        let bridge = |bridge: &BridgeRef| bridge.name(installation);
        Ok(TestSetDraft {
            format: FormatOne,
            start: self.start_draft(installation),
            passes: self
                .passes
                .iter()
                .map(|pass| PassDraft {
                    operate: pass.operate.iter().map(device).collect(),
                    set: pass
                        .set
                        .iter()
                        .map(|(of, position)| (device(of), position_name(*of, *position, installation)))
                        .collect(),
                    remove: pass.remove.iter().map(bridge).collect(),
                    link: pass.link.iter().map(bridge).collect(),
                    refit: pass.refit.iter().map(bridge).collect(),
                    readings: pass.readings.iter().map(|reading| reading_draft(reading, installation)).collect(),
                })
                .collect(),
            connected: self.connected.iter().map(|reading| connected_draft(reading, installation)).collect(),
        })
    }

    /// What is said of the start, by name. What has a position and a state of its bridges stands in both lists in the
    /// same order, so that the two go together in one.
    fn start_draft(&self, installation: &Installation) -> IndexMap<String, StartDraft> {
        let mut start: IndexMap<String, StartDraft> = IndexMap::new();
        let mut positions = self.start_positions.iter().map(|&(device, stands)| {
            let word = match stands {
                Stands::Unknown => "unknown".to_owned(),
                Stands::At(number) => position_name(device, number, installation),
            };
            (device.name(installation), StartDraft(vec![word]))
        });
        let named: FxHashSet<String> =
            self.start_positions.iter().map(|(device, _)| device.name(installation)).collect();
        for (bridge, state) in &self.start_bridges {
            let name = bridge.name(installation);
            while named.contains(&name) && !start.contains_key(&name) {
                start.extend(positions.next());
            }
            start.entry(name).or_default().0.push(state.name().to_owned());
        }
        start.extend(positions);
        start
    }
}

fn position_name(device: DeviceRef, number: u16, installation: &Installation) -> String {
    device.positions(installation)[usize::from(number)].to_owned()
}

fn connected_draft(reading: &ConnectedReading, installation: &Installation) -> ConnectedDraft {
    let [circuit, board] = reading.at.names(installation);
    let written = reading.written.as_deref().map(str::to_owned);
    ConnectedDraft { circuit, board, volts: reading.volts, megohms: reading.megohms, written }
}

fn reading_draft(reading: &Reading, installation: &Installation) -> ReadingDraft {
    let [circuit, board] = reading.at.names(installation);
    ReadingDraft {
        circuit,
        board,
        between: reading.leads.each_ref().map(|lead| lead.text.clone()),
        volts: reading.volts,
        megohms: reading.megohms,
        written: reading.written.as_deref().map(str::to_owned),
    }
}
