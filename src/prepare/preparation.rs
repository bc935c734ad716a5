//! What has to be done before, around and after the readings of each circuit, from the graph.

use rustc_hash::FxHashMap;
use serde::{Deserialize, Serialize};

use super::across::{Contacts, holders_across};
use super::step::{Action, Caution, LeadsProved, Step, TestBefore};
use super::surroundings::Surroundings;
use crate::model::{BridgeRef, Circuit, CircuitId, Conducts, System};
use crate::network::Network;
use crate::observer::{Observer, Stage, Unwatched, Watch};
use crate::rules::CAUTIONS;

/// The preparation of all circuits, and what is the same for each of them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
#[must_use]
pub struct Preparation {
    /// The format's version.
    pub format: u32,
    /// The id of the ruleset that the test voltages are from.
    pub ruleset: String,
    /// What to know first.
    pub cautions: Vec<String>,
    /// What comes for each circuit once it is isolated.
    pub before: Vec<Step>,
    /// What comes for each circuit right before its readings.
    pub before_readings: Vec<Step>,
    /// What is the circuits' own, in the order of the file.
    pub circuits: Vec<CircuitPreparation>,
    /// What comes last, once for each circuit.
    pub after: Vec<Step>,
    /// What is opened for several circuits or fed by much, with all that can feed it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub opened: Vec<OpenedPreparation>,
    /// Circuits with their neutrals on the same copper, each list with more than one.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub shared_neutrals: Vec<Vec<String>>,
    /// An observer stopped it before its end: `circuits` are those that were prepared by then, and the others are
    /// missing.
    #[serde(skip_serializing_if = "std::ops::Not::not", default)]
    pub stopped: bool,
}

/// What can feed a plate or a point that is opened, of which that is more than a circuit's own list can take.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct OpenedPreparation {
    /// What is opened, `plate:P` or `point:ID`.
    pub opened: String,
    /// What is isolated and stays off.
    pub steps: Vec<Step>,
}

/// What is one circuit's own.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct CircuitPreparation {
    /// The circuit.
    pub circuit: String,
    /// The steps, in order.
    pub steps: Vec<Step>,
}

impl Preparation {
    /// Works out the preparation of every circuit, for readings at the ways with the devices of boards off: those that
    /// a plan takes.
    ///
    /// What lies across a reading is found with every switch of the points in any of its positions, so that it is named
    /// whichever way they are worked, with what can't be taken out, and with links in the place of what passes. It may
    /// be named where no one setting makes it so. What bridges the leads only together with something else that comes
    /// out is listed with its circuit, without a reading.
    ///
    /// Time O(circuits × the part of the network that a reading reaches); space linear in what is listed. What can feed a
    /// plate or a point is listed once for all circuits where it is much.
    ///
    /// Source: common practice; test voltages by the ruleset. Line and neutral may be joined for the test to earth: BS
    /// 7671:2018 reg. 643.3.1; what may be damaged is disconnected: reg. 643.3.3.
    ///
    /// ```
    /// use lengthwise::prepare::Action;
    /// use lengthwise::{Input, Network, Preparation, read_installation};
    ///
    /// let installation = read_installation(Input::toml(&std::fs::read("examples/landing.toml")?))?;
    /// let preparation = Preparation::of(&Network::of(installation));
    /// let steps = &preparation.circuits[0].steps;
    /// let out = steps.iter().filter_map(|step| match &step.action {
    ///     Action::TakeOut(found) => Some(found.what.as_str()),
    ///     _ => None,
    /// });
    /// assert_eq!(out.collect::<Vec<_>>(), ["E1"]);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn of(network: &Network) -> Preparation {
        Preparation::watched(network, &mut Unwatched)
    }

    /// The same as [`Preparation::of`], watched: whoever watches may stop it. Then circuits are missing; those that are
    /// there are whole.
    pub fn watched(network: &Network, observer: &mut dyn Observer) -> Preparation {
        let watch = &mut Watch::new(observer);
        let circuit_count = network.installation().circuits().len();
        let surroundings = Surroundings::of(network);
        let with_equipment = network.ruleset().with_equipment();
        Preparation {
            format: 1,
            ruleset: network.ruleset().id().to_owned(),
            cautions: CAUTIONS.iter().map(|&caution| caution.to_owned()).collect(),
            before: vec![
                Action::ProveDead.with(Caution::LiveParts),
                Action::TestBefore { test: TestBefore::ProtectiveContinuity }.into(),
                Action::TestBefore { test: TestBefore::Polarity }.into(),
            ],
            before_readings: vec![
                Action::CoversOn.into(),
                Action::ProveLeads { leads: LeadsProved::Joined }.into(),
                Action::ProveLeads { leads: LeadsProved::EachOfAJoinedPair }.into(),
            ],
            circuits: network
                .installation()
                .circuits()
                .enumerate()
                .take_while(|&(number, _)| {
                    watch.at(Stage::Preparation, number, circuit_count);
                    !watch.is_stopped()
                })
                .map(|(_, (id, circuit))| CircuitPreparation {
                    circuit: circuit.id().to_owned(),
                    steps: steps_of(&surroundings, id, circuit),
                })
                .collect(),
            opened: surroundings.opened(),
            shared_neutrals: surroundings.shared_neutrals(),
            after: [Action::ReleaseAndDischarge.with(Caution::StaysCharged)]
                .into_iter()
                .chain(with_equipment.map(|test| Action::ReadConnected(test.clone()).with(Caution::TestVoltage)))
                .chain([Action::PutBack.into()])
                .collect(),
            stopped: watch.is_stopped(),
        }
    }
}

/// The steps of one circuit, in order.
fn steps_of(surroundings: &Surroundings<'_>, id: CircuitId, circuit: &Circuit) -> Vec<Step> {
    let sources = surroundings.installation().sources_of(id);
    let readings = surroundings.readings_of(id);
    // By holder of bridges, the readings that it lies across.
    let mut across: FxHashMap<usize, Vec<usize>> = FxHashMap::default();
    for (number, reading) in readings.iter().enumerate() {
        for holder in holders_across(surroundings.network, &reading.leads, Contacts::InAnyPosition) {
            across.entry(holder).or_default().push(number);
        }
    }
    let own = surroundings.obstacles_of.get(&id).map_or(&[][..], Vec::as_slice);
    let mut others: Vec<usize> = across.keys().copied().filter(|number| !own.contains(number)).collect();
    others.sort_unstable();
    let listed = others.iter().map(|&holder| surroundings.obstacles[holder].holder);
    let opened = sources.iter().map(|source| BridgeRef::Point(source.point));
    let opened: Vec<BridgeRef> = listed.chain(opened).collect();

    let mut steps = surroundings.isolate(id, &opened);
    if surroundings.is_ring(id) {
        steps.push(Action::TestBefore { test: TestBefore::RingContinuity }.into());
    }
    let mut links_out = Vec::new();
    for &holder in own.iter().chain(&others) {
        let readings = across.get(&holder).into_iter().flatten().map(|&number| readings[number].between.clone());
        steps.push(surroundings.in_the_way(holder, id, readings.collect()));
        let [put_in, taken_out] = surroundings.links(holder);
        steps.extend(put_in);
        links_out.extend(taken_out);
    }
    steps.extend(surroundings.joined(id));
    steps.extend(surroundings.switches(id));
    steps.extend(circuit.way().and_then(|way| surroundings.neutral(way)));
    let mut taken_to = None;
    for (number, reading) in readings.into_iter().enumerate() {
        if let Some(point) = reading.at.filter(|_| reading.at != taken_to) {
            let (location, point) = (surroundings.location(point), surroundings.point_id(point));
            steps.push(Action::TakeInstrumentTo { point, location }.into());
            taken_to = reading.at;
        }
        let stays_across = |&holder: &usize| {
            let is_across = across.get(&holder).is_some_and(|numbers| numbers.contains(&number));
            is_across && !surroundings.obstacles[holder].removable
        };
        let is_left_in = |&holder: &usize| {
            let elements = &surroundings.network.bridges()[holder].elements;
            elements.iter().all(|element| !reading.leads.may_be_voided(holder as u32, element.conducts))
        };
        let stays = own.iter().chain(&others).copied().filter(stays_across);
        let (left_in, in_the_way): (Vec<usize>, Vec<usize>) = stays.partition(is_left_in);
        let mut always = Vec::new();
        if !in_the_way.is_empty() {
            always = holders_across(surroundings.network, &reading.leads, Contacts::InEveryPosition);
            always.retain(|holder| in_the_way.contains(holder));
        }
        let names = |holders: &[usize]| holders.iter().map(|&holder| surroundings.holder_name(holder)).collect();
        // What conducts for sure is read, whatever the voltage.
        let is_electronics = always.iter().all(|&holder| surroundings.obstacles[holder].conducts == Conducts::Maybe);
        let relief = surroundings.network.relief_of(id);
        let bears = !(always.is_empty() && left_in.is_empty()) && is_electronics;
        let read = Action::Read {
            between: reading.between,
            volts: surroundings.network.test_voltage(id),
            not_while_fitted: names(&in_the_way),
            never_cut_off: names(&always),
            left_in: names(&left_in),
            relief: relief.filter(|_| bears).cloned(),
        };
        steps.push(read.with(Caution::TestVoltage));
    }
    if matches!(circuit.system(), System::Selv | System::Pelv) {
        steps.push(Action::TestSeparation.into());
    }
    steps.extend(links_out);
    steps
}
