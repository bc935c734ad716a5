//! What a walk can do with each device.

use fixedbitset::FixedBitSet;

use crate::model::{DeviceRef, PointId};
use crate::network::{DeviceIndex, Network};
use crate::plan::request::{Afterwards, Request};
use crate::reading::{Condition, Configuration, DeviceState, TableLimits, combinations};

/// How a device takes part in a plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::plan) enum OptionKind {
    /// It stands in a known position; an option is a position.
    Known,
    /// Nobody knows where it stands, and it has two positions or nobody can see which it is in: an option is by how many
    /// positions it has been moved on.
    Turned { moved: u16, positions: u16 },
    /// Nobody knows where it stands among three or more positions, but whoever comes there sees it: a position named,
    /// or (the last option) left as found.
    AsFound { moved: u16 },
    /// Nobody knows where it stands and nobody can operate it: no options.
    Stuck { moved: u16 },
}

impl OptionKind {
    /// Where a device of so many positions stands that began in one of them and has this option.
    pub(in crate::plan) fn position(self, option: u16, begun: u16, positions: u16) -> u16 {
        match self {
            OptionKind::Known => option,
            OptionKind::Turned { moved, .. } => (begun + moved + option) % positions,
            OptionKind::AsFound { .. } if option < positions => option,
            OptionKind::AsFound { moved } | OptionKind::Stuck { moved } => (begun + moved) % positions,
        }
    }
}

/// All devices that are free or unknown in a plan.
#[derive(Clone, Debug)]
pub(in crate::plan) struct DeviceChoices {
    /// How large tables may get.
    pub(in crate::plan) tables: TableLimits,
    /// Devices to explore as variable.
    pub(in crate::plan) variable: FixedBitSet,
    /// For each device, how it takes part; none where it stands as it is known to.
    kinds: Vec<Option<OptionKind>>,
    /// For each device, its options (0: not free).
    options: Vec<u16>,
    /// For each free device, the option that the plan starts with.
    start: Vec<u16>,
}

impl DeviceChoices {
    pub(in crate::plan) fn new(network: &Network, configuration: &Configuration, request: &Request) -> DeviceChoices {
        let count = network.devices().len();
        let mut choices = DeviceChoices {
            tables: network.limits().tables.clone(),
            variable: FixedBitSet::with_capacity(count),
            kinds: vec![None; count],
            options: vec![0; count],
            start: vec![0; count],
        };
        for number in 0..count as DeviceIndex {
            choices.enter(network, number, configuration.device(number), request);
        }
        choices
    }

    /// The same with a device that stands so.
    pub(in crate::plan) fn with(
        &self,
        network: &Network,
        device: DeviceIndex,
        stands: DeviceState,
        request: &Request,
    ) -> DeviceChoices {
        let mut choices = self.clone();
        choices.enter(network, device, stands, request);
        choices
    }

    fn enter(&mut self, network: &Network, number: DeviceIndex, stands: DeviceState, request: &Request) {
        let device = &network.devices()[number as usize];
        let part = match (stands, may_be_operated(network, request, number)) {
            (DeviceState::At(position), true) => Some((OptionKind::Known, device.positions, position)),
            (DeviceState::At(_), false) => None,
            (DeviceState::Unknown(moved), true) if device.positions == 2 || !device.visible => {
                Some((OptionKind::Turned { moved, positions: device.positions }, device.positions, 0))
            }
            // What can't be put back as it was found stays as it is found.
            (DeviceState::Unknown(moved), true) if request.afterwards == Afterwards::AsFound => {
                Some((OptionKind::Stuck { moved }, 0, 0))
            }
            (DeviceState::Unknown(moved), true) => {
                Some((OptionKind::AsFound { moved }, device.positions + 1, device.positions))
            }
            (DeviceState::Unknown(moved), false) => Some((OptionKind::Stuck { moved }, 0, 0)),
        };
        let index = number as usize;
        self.variable.set(index, part.is_some());
        self.kinds[index] = part.map(|part| part.0);
        (self.options[index], self.start[index]) = part.map_or((0, 0), |part| (part.1, part.2));
    }

    /// How a device that is free or unknown takes part.
    pub(in crate::plan) fn kind(&self, device: DeviceIndex) -> OptionKind {
        self.kinds[device as usize].expect("only devices that are free or unknown decide anything")
    }

    pub(in crate::plan) fn is_unknown(&self, device: DeviceIndex) -> bool {
        self.kinds[device as usize].is_some_and(|kind| kind != OptionKind::Known)
    }

    /// The points whose devices are free and stand nobody knows how.
    pub(in crate::plan) fn unknown_points(&self, network: &Network) -> Vec<PointId> {
        let free = network.devices().iter().enumerate().filter(|(number, _)| {
            let device = *number as DeviceIndex;
            self.options(device).is_some() && self.is_unknown(device)
        });
        free.filter_map(|(_, device)| match device.reference {
            DeviceRef::Point(point) => Some(point),
            _ => None,
        })
        .collect()
    }

    /// How many options a device has; none where it is not free.
    pub(in crate::plan) fn options(&self, device: DeviceIndex) -> Option<u16> {
        Some(self.options[device as usize]).filter(|&options| options > 0)
    }

    /// The devices that have options.
    pub(in crate::plan) fn free(&self) -> impl Iterator<Item = DeviceIndex> + '_ {
        (0..self.options.len() as DeviceIndex).filter(|&device| self.options(device).is_some())
    }

    /// The option that the plan starts with.
    pub(in crate::plan) fn start(&self, device: DeviceIndex) -> u16 {
        self.start[device as usize]
    }

    /// The option that a free device stands in, where it can be told.
    pub(in crate::plan) fn option(&self, configuration: &Configuration, device: DeviceIndex) -> Option<u16> {
        match (self.kind(device), configuration.device(device)) {
            (OptionKind::Turned { moved, positions }, DeviceState::Unknown(now)) => {
                Some((now + positions - moved) % positions)
            }
            (_, DeviceState::At(position)) => Some(position),
            (_, DeviceState::Unknown(_)) => self.one_way_option(device),
        }
    }

    /// Whether a free device stands as the plan found it.
    pub(in crate::plan) fn is_at_start(&self, configuration: &Configuration, device: DeviceIndex) -> bool {
        match configuration.device(device) {
            DeviceState::At(position) => {
                self.kinds[device as usize] == Some(OptionKind::Known) && position == self.start(device)
            }
            DeviceState::Unknown(_) => self.option(configuration, device) == Some(self.start(device)),
        }
    }

    /// The option that can't be gone back to once left: an unknown device as found.
    pub(in crate::plan) fn one_way_option(&self, device: DeviceIndex) -> Option<u16> {
        match self.kinds[device as usize] {
            Some(OptionKind::AsFound { .. }) => Some(self.start(device)),
            _ => None,
        }
    }

    /// A condition over actual positions as one over options, for one combination of unknown starts; a device that is
    /// not listed started in its first position.
    pub(in crate::plan) fn over_options(
        &self,
        condition: &Condition,
        start: &[(DeviceIndex, u16)],
    ) -> Option<Condition> {
        if !condition.digits.iter().any(|digit| self.is_unknown(digit.0)) {
            return Some(condition.clone());
        }
        // For each device with options: what each option adds to the number of the combination of positions.
        let mut options = Vec::new();
        let mut weights: Vec<Vec<usize>> = Vec::new();
        let mut fixed = 0;
        let mut stride = 1;
        for &(device, positions) in &condition.digits {
            let begun = start_of(start, device);
            let position = |option: u16| self.kind(device).position(option, begun, positions);
            match self.options(device) {
                Some(count) => {
                    options.push((device, count));
                    weights.push((0..count).map(|option| usize::from(position(option)) * stride).collect());
                }
                None => fixed += usize::from(position(0)) * stride,
            }
            stride *= usize::from(positions);
        }
        combinations(&options, &self.tables)?;
        let mut table = Condition::never(options);
        let mut chosen = vec![0usize; weights.len()];
        let mut index = fixed + weights.iter().map(|weight| weight[0]).sum::<usize>();
        for combination in 0..table.count() {
            if condition.get(index) {
                table.set(combination);
            }
            for (option, weight) in chosen.iter_mut().zip(&weights) {
                index -= weight[*option];
                *option = (*option + 1) % weight.len();
                index += weight[*option];
                if *option != 0 {
                    break;
                }
            }
        }
        Some(table)
    }

    /// A condition over actual positions as one over options: yes where it is for some combination of unknown starts.
    pub(in crate::plan) fn over_options_for_some_start(&self, condition: &Condition) -> Option<Condition> {
        // However far a device is moved on, some start puts it in any position.
        let condition = condition
            .for_some(|device| matches!(self.kind(device), OptionKind::Turned { .. } | OptionKind::Stuck { .. }));
        let starts = condition.digits.iter().copied().filter(|digit| self.is_unknown(digit.0)).collect();
        let numbering = Condition::never(starts);
        let mut any = Condition::never(Vec::new());
        for start in 0..numbering.count() {
            any = any.or(&self.over_options(&condition, &numbering.positions(start))?, &self.tables)?;
        }
        Some(any)
    }
}

/// Whether a device is a switch at a point that the request leaves to be operated, where it is known how it stands.
pub(in crate::plan) fn may_be_operated(network: &Network, request: &Request, device: DeviceIndex) -> bool {
    let row = &network.devices()[device as usize];
    let DeviceRef::Point(point) = row.reference else { return false };
    row.operable && row.positions > 1 && request.may_operate(network.installation(), point)
}

/// Where a device started; in its first position where it is not listed.
pub(in crate::plan) fn start_of(starts: &[(DeviceIndex, u16)], device: DeviceIndex) -> u16 {
    starts.iter().find(|entry| entry.0 == device).map_or(0, |entry| entry.1)
}
