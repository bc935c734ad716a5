//! The plan: rounds of operations and readings, with bounds and what can't be tested.

use std::collections::BTreeMap;

use crate::model::{CircuitId, DeviceRef, PointId, Reading, Stop, Volts};
use crate::network::{DeviceIndex, Need, Network, PairId};
use crate::plan::if_known::IfKnown;
use crate::plan::problem::requirement::Untestable;
use crate::plan::problem::switches::Unworked;
use crate::plan::proof::certificate::{WhyNoFewerOperations, WhyNoFewerWalks};
use crate::plan::request::{Afterwards, Request, Restriction};
use crate::plan::schedule::tour::Tour;
use crate::plan::untestable::extra::Extras;
use crate::reading::{Configuration, DeviceState};

/// One operation: one device taken from one position to another, however many steps apart they are.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Operation {
    /// The point whose switch is worked.
    pub point: PointId,
    /// The position it leaves; none where nobody knows.
    pub from: Option<String>,
    /// The position it goes to; none: to the other of two, whichever it stood in.
    pub to: Option<String>,
    /// The stop at which it is worked.
    pub stop: Stop,
}

/// One reading of a plan.
#[derive(Clone, Debug, PartialEq)]
pub struct PlannedReading {
    /// The circuit at whose way it is taken.
    pub circuit: CircuitId,
    /// The leads and the test voltage.
    pub reading: Reading,
    /// The test voltage, d.c.
    pub volts: Volts,
    /// The required pairs that it completes.
    pub adds: Vec<PairId>,
    /// Where each switch is to be worked: the positions that it completes, so that they are under test.
    pub positions: Vec<(PointId, String)>,
}

/// One setting of the switches and the readings taken in it.
#[derive(Clone, Debug, PartialEq)]
pub struct Round {
    /// What to operate first; nothing in a round taken as things stand.
    pub operations: Vec<Operation>,
    /// The readings to take; none in a last round that puts everything back as it was found.
    pub readings: Vec<PlannedReading>,
    /// How far it is past all stops, from the board whose ways are read (the origin, where it is more than one) and
    /// back; none where nothing is operated, or the passages do not tell.
    pub tour: Option<Tour>,
    /// Where leads may be joined otherwise: whether it is proven that no fewer readings at the ways do, in this setting,
    /// what this round adds.
    pub fewest_readings: Option<bool>,
}

impl Round {
    /// The stops visited.
    pub(in crate::plan) fn stops(&self) -> usize {
        let mut stops: Vec<Stop> = self.operations.iter().map(|operation| operation.stop).collect();
        stops.sort_unstable();
        stops.dedup();
        stops.len()
    }
}

/// A required pair that no setting tests by the readings of a plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct UntestablePair {
    /// The pair.
    pub pair: PairId,
    /// The first reason that holds.
    pub why: Untestable,
}

/// A plan of what is still to be done.
#[derive(Debug)]
#[must_use]
pub struct Plan<'n> {
    pub(in crate::plan) network: &'n Network,
    pub(in crate::plan) request: Request,
    /// For pair groups that are untestable: the limits that open them when lifted together.
    pub(in crate::plan) opens: BTreeMap<u32, Vec<Restriction>>,
    pub(in crate::plan) rounds: Vec<Round>,
    pub(in crate::plan) untestable: Vec<UntestablePair>,
    pub(in crate::plan) not_planned: Vec<PairId>,
    pub(in crate::plan) walks_at_least: usize,
    pub(in crate::plan) operations_at_least: usize,
    pub(in crate::plan) walks_optimal: bool,
    pub(in crate::plan) operations_optimal: bool,
    pub(in crate::plan) stops_optimal: bool,
    pub(in crate::plan) switches: Option<Vec<Unworked>>,
    pub(in crate::plan) extras: Option<Extras>,
    /// Where leads may be joined otherwise: how many readings there would be without.
    pub(in crate::plan) usual_readings: Option<usize>,
    pub(in crate::plan) metres_optimal: Option<bool>,
    pub(in crate::plan) stops_at_least: usize,
    pub(in crate::plan) why_no_fewer_walks: WhyNoFewerWalks,
    pub(in crate::plan) why_no_fewer_operations: WhyNoFewerOperations,
    pub(in crate::plan) stopped: bool,
    pub(in crate::plan) if_known: Option<IfKnown>,
    pub(in crate::plan) start: Configuration,
}

impl<'n> Plan<'n> {
    /// The network that was planned for.
    pub fn network(&self) -> &'n Network {
        self.network
    }

    /// The rounds, in order. A walk is a round with operations.
    pub fn rounds(&self) -> &[Round] {
        &self.rounds
    }

    /// Required pairs, not yet tested, that no setting tests by these readings.
    pub fn untestable(&self) -> &[UntestablePair] {
        &self.untestable
    }

    /// Required pairs that are neither tested by this plan nor shown to be untestable: too many devices bear on them.
    pub fn not_planned(&self) -> &[PairId] {
        &self.not_planned
    }

    /// How the bound on walks is known.
    pub fn why_no_fewer_walks(&self) -> &WhyNoFewerWalks {
        &self.why_no_fewer_walks
    }

    /// What a plan would come to if the switches that nobody knows the position of were known to have stood in their
    /// first positions: what not knowing costs. None where all are known, or the search was stopped.
    pub fn if_known(&self) -> Option<&IfKnown> {
        self.if_known.as_ref()
    }

    /// How the bound on operations is known.
    pub fn why_no_fewer_operations(&self) -> &WhyNoFewerOperations {
        &self.why_no_fewer_operations
    }

    /// Whether an observer stopped it: then it is the best plan found so far.
    pub fn was_stopped(&self) -> bool {
        self.stopped
    }

    /// The level of need that was planned for.
    pub fn need(&self) -> Need {
        self.request.need
    }

    /// What was asked for.
    pub fn request(&self) -> &Request {
        &self.request
    }

    /// The locked rooms and switches left alone without which an untestable pair could be tested, found by trying;
    /// none where there are no such.
    pub fn opens_with(&self, untestable: UntestablePair) -> &[Restriction] {
        let group = self.network.pair_group(untestable.pair);
        self.opens.get(&group).map_or(&[], Vec::as_slice)
    }

    /// Rounds with at least one operation.
    pub fn walks(&self) -> usize {
        self.rounds.iter().filter(|round| !round.operations.is_empty()).count()
    }

    /// Operations of all rounds.
    pub fn operations(&self) -> usize {
        self.rounds.iter().map(|round| round.operations.len()).sum()
    }

    /// Stops visited, counted anew in each round.
    pub fn stops(&self) -> usize {
        self.rounds.iter().map(Round::stops).sum()
    }

    /// Readings of all rounds.
    pub fn readings(&self) -> usize {
        self.rounds.iter().map(|round| round.readings.len()).sum()
    }

    /// Where each switch is to be worked: those that are not operated, and the positions that do not come under test; none
    /// where that is not wished for.
    pub fn unworked(&self) -> Option<&[Unworked]> {
        self.switches.as_deref()
    }

    /// Where leads may be joined otherwise: how many readings there would be if they were joined as usual.
    pub fn usual_readings(&self) -> Option<usize> {
        self.usual_readings
    }

    /// Where leads may be joined otherwise: whether no plan of as few walks has fewer readings at the ways of one board
    /// and one test voltage each, proven. That is so where nothing is operated, and the one round's readings are the
    /// fewest: with other settings, fewer might do.
    pub fn are_readings_fewest(&self) -> Option<bool> {
        self.usual_readings?;
        let are_least = self.rounds.iter().all(|round| round.fewest_readings == Some(true));
        Some(are_least && self.rounds.len() <= 1 && self.walks() == 0 && self.not_planned.is_empty() && !self.stopped)
    }

    /// The extras for pairs that can't be tested otherwise; none where no sort is allowed.
    pub fn extras(&self) -> Option<&Extras> {
        self.extras.as_ref()
    }

    /// Whether the plan with its extras leaves no needed pair untested.
    pub fn is_complete(&self) -> bool {
        let left = self.extras.as_ref().map_or(self.untestable.len(), |extras| extras.left.len());
        left == 0 && self.not_planned.is_empty()
    }

    /// Where everything is put back as it was found: the points that are not operated since nobody could put them back.
    pub fn not_put_back(&self) -> impl Iterator<Item = PointId> {
        let network = self.network;
        let is_wished = self.request.afterwards == Afterwards::AsFound;
        network.devices().iter().enumerate().filter_map(move |(number, device)| match device.reference {
            DeviceRef::Point(point)
                if is_wished
                    && device.operable
                    && device.positions > 2
                    && matches!(self.start.device(number as DeviceIndex), DeviceState::Unknown(_))
                    && self.request.may_operate(network.installation(), point) =>
            {
                Some(point)
            }
            _ => None,
        })
    }

    /// How points stand where the plan starts: name and position (none: unknown), those only that can be operated.
    pub fn starts_at(&self) -> Vec<(PointId, Option<&'n str>)> {
        let network = self.network;
        let mut stands = Vec::new();
        for (number, device) in network.devices().iter().enumerate() {
            if let (DeviceRef::Point(point), true) = (device.reference, device.operable) {
                let device = number as DeviceIndex;
                stands.push((
                    point,
                    match self.start.device(device) {
                        DeviceState::At(position) => Some(network.position_name(device, position)),
                        DeviceState::Unknown(_) => None,
                    },
                ));
            }
        }
        stands
    }
}
