//! What would make an untestable pair testable: the single extra of least trouble that does with one reading.

use super::ExtraSetup;
use super::finding::{ExtraCase, UsefulExtra};
use crate::network::PairId;
use crate::plan::answer::Remedy;
use crate::plan::untestable::trial::{Pins, TakenAt, circuit_of, fit};
use crate::reading::{DeviceState, FreeDevices};

/// The first of these, by trouble, with which a reading of the pair's own circuit, or at a point, tests it for every
/// start; switches that nobody knows the position of stay as they are.
pub(super) fn remedy(extras: &ExtraSetup<'_, '_>, useful: &[UsefulExtra], pair: PairId) -> Option<Remedy> {
    let network = extras.setup.network;
    let target = extras.target(network.pair_group(pair))?;
    let does = |extra: &&UsefulExtra| extra.covers.contains(target) && extra.cases.len() == 1;
    let mut order: Vec<&UsefulExtra> = useful.iter().filter(does).collect();
    order.sort_by_key(|extra| extra.trouble(network));
    order.into_iter().find_map(|extra| {
        let with = setting(extras, &extra.cases[0], target)?;
        let between = own_reading(extras, extra, pair, &with)?;
        let named = |(&device, &position): (&u32, &u16)| {
            [network.device_name(device), network.position_name(device, position).to_owned()]
        };
        Some(Remedy {
            step: extra.steps[0].named(network),
            between,
            volts: circuit_of(network, pair).1,
            with: with.iter().map(named).collect(),
        })
    })
}

/// Positions, by name, in which the target is tested for every start.
fn setting(extras: &ExtraSetup<'_, '_>, case: &ExtraCase, target: usize) -> Option<Pins> {
    let needs = case.needs.iter().filter(|need| need.0 == target);
    let pins = needs
        .map(|need| &need.1)
        .try_fold(Pins::new(), |pins, holds| fit(holds, &pins, &extras.choices, &extras.start))?;
    let is_known = |device: &u32| matches!(extras.start.device(*device), DeviceState::At(_));
    pins.keys().all(is_known).then_some(pins)
}

fn own_reading(extras: &ExtraSetup<'_, '_>, extra: &UsefulExtra, pair: PairId, with: &Pins) -> Option<[String; 2]> {
    let (setup, network) = (extras.setup, extras.setup.network);
    let (circuit, _) = circuit_of(network, pair);
    let group = network.pair_group(pair);
    let mut trial = extras.trial();
    for (&device, &position) in with {
        trial.configuration.set_device(device, DeviceState::At(position));
    }
    trial.with(&extra.steps, None, |trial| {
        let found = extra.cases[0].readings.iter().find(|reading| {
            let is_own = match &reading.at {
                TakenAt::Way(number) => setup.candidates[*number as usize].circuit == circuit,
                TakenAt::Point(_) => true,
            };
            let leads = reading.at.leads(setup);
            is_own && trial.read(FreeDevices::Unknown, &leads).tests().contains(&(group, None))
        })?;
        Some(match &found.at {
            TakenAt::Way(number) => {
                let leads = setup.candidates[*number as usize].reading.leads();
                leads.each_ref().map(|lead| lead.text().to_owned())
            }
            TakenAt::Point(terminals) => terminals.each_ref().map(|lead| network.installation().terminal_name(lead[0])),
        })
    })
}
