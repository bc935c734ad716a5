//! What a step of a run is: which of its keys go together.

use std::cell::Cell;

use super::boxes::{ALONE, FeedBox, JUNCTION, LIGHTS};
use crate::model::fault::{Looped, ModelFault, Nearest, RunFault};
use crate::model::{StepDraft, StopDraft, Strappers, Third};

/// Keys with a list of stops.
const LISTS: [&str; 4] = ["switches", "lights", "sockets", "alarms"];

/// A stop and where in its step it is written.
#[derive(Clone, Copy)]
pub(super) struct RunStop<'d> {
    pub(super) key: &'static str,
    /// Its number in a list, from 0.
    pub(super) entry: Option<u32>,
    pub(super) stop: &'d StopDraft,
}

/// A step that is understood.
pub(super) enum Form<'d> {
    /// Each a box that the feed goes through.
    Boxes { boxes: &'static FeedBox, stops: Vec<RunStop<'d>> },
    /// A contactor, and the switch that works it.
    Contactor { boxes: &'static FeedBox, contactor: RunStop<'d>, by: RunStop<'d> },
    /// Lights and the sensor that switches them, the switch past it if there is one.
    Sensed { bypass: Option<RunStop<'d>>, sensor: RunStop<'d>, lights: Vec<RunStop<'d>> },
    /// Lights and their switches.
    Lighting(Lighting<'d>),
}

pub(super) struct Lighting<'d> {
    /// The rose or the box at which the feed is looped in; none where that is the first switch.
    pub(super) hub: Option<RunStop<'d>>,
    pub(super) switches: Vec<RunStop<'d>>,
    pub(super) switching: Switching,
    /// Those beside the rose.
    pub(super) lights: Vec<RunStop<'d>>,
}

/// How the switches of a step are wired.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Switching {
    /// There is one.
    One,
    /// From switch to switch, by what the third core does.
    Between(Third),
    /// Each to the box or rose.
    ToBox,
}

/// Understands a step, or reports why not: the key that it is about, and the fault.
pub(super) fn understand<'d>(
    step: &'d StepDraft,
    third: Option<Third>,
    nearest: &mut Nearest,
    report: &mut dyn FnMut(Option<&'static str>, ModelFault),
) -> Option<Form<'d>> {
    let is_sound = Cell::new(true);
    let is_given = |key: &str| step.keys().any(|given| given == key);
    let is_empty = |key: &str| is_given(key) && step.stops(key).is_empty();
    for key in LISTS.into_iter().filter(|key| is_empty(key)) {
        is_sound.set(false);
        report(Some(key), ModelFault::EmptyList { key });
    }
    let mut wrong = |key, fault: RunFault| {
        is_sound.set(false);
        report(key, fault.into());
    };
    let clashes =
        [["rose", "box"], ["switch", "switches"], ["switch", "dimmer"], ["switches", "dimmer"], ["light", "lights"]];
    let alone = ALONE.iter().find(|boxes| is_given(boxes.key));
    // What stands alone has no stop beside it but those that say more about it.
    let is_beside = |boxes: &FeedBox, key: &str| key != boxes.key && !boxes.says.contains(&key);
    let beside = alone.into_iter().flat_map(|alone| {
        let beside = step.keys().filter(|&key| !step.stops(key).is_empty() && is_beside(alone, key));
        beside.map(|key| [alone.key, key])
    });
    let clashes = clashes
        .into_iter()
        .filter(|keys| keys.iter().all(|key| is_given(key) && alone.is_none_or(|alone| !is_beside(alone, key))));
    let clashes: Vec<[&'static str; 2]> = beside.chain(clashes).collect();
    for &keys in &clashes {
        wrong(Some(keys[1]), RunFault::KeysClash { keys });
    }
    let hub = first(step, ["rose", "box"]);
    let mut switches = stops(step, "switches");
    switches.extend(first(step, ["switch", "dimmer"]));
    let mut lights = stops(step, "lights");
    lights.extend(first(step, ["light"]));
    let is_rose = step.rose.is_some();

    let mut used = vec!["from", "mm2"];
    let is_chain = switches.len() > 1;
    if let Some(alone) = alone {
        used.extend(ALONE.iter().filter(|boxes| is_given(boxes.key)).flat_map(|boxes| boxes.says).chain([&alone.key]));
        if step.stops(alone.key).len() < 2 {
            used.push("number");
        }
    } else {
        if hub.is_some() || !switches.is_empty() {
            used.extend(["switch", "switches", "dimmer"]);
        }
        used.extend(hub.map(|hub| hub.key));
        if is_rose || !switches.is_empty() || hub.is_none() || !lights.is_empty() {
            used.extend(["light", "lights", "lamp"]);
        }
        if is_chain && hub.is_some() {
            used.push("strappers");
        }
        if is_chain && step.strappers.is_none() {
            used.push("third");
        }
        if hub.is_some() || !switches.is_empty() || lights.len() < 2 {
            used.push("number");
        }
        if hub.is_none() && switches.is_empty() && lights.is_empty() {
            // An empty list is reported.
            if !LISTS.iter().any(|&key| is_given(key)) {
                wrong(None, RunFault::EmptyStep);
            }
            return None;
        }
    }
    // A key that clashes with another is reported so.
    let is_idle = |key: &&'static str| !used.contains(key) && !clashes.iter().any(|[_, clashing]| clashing == key);
    for key in step.keys().filter(is_idle) {
        let nearest = nearest.among(key, used.iter().copied().filter(|&used| !is_given(used)));
        let nearest = nearest.and_then(|name| used.iter().copied().find(|&used| used == name));
        let used = used.iter().copied().filter(|&used| !is_given(used)).collect();
        wrong(Some(key), RunFault::KeyNotUsed { key, nearest, used });
    }
    if let Some(boxes) = alone {
        let mut listed = stops(step, boxes.key);
        return match boxes.key {
            "sensor" => {
                if lights.is_empty() {
                    wrong(Some("sensor"), RunFault::NothingLit { by: "sensor" });
                }
                let bypass = first(step, ["override"]);
                is_sound.get().then(|| Form::Sensed { bypass, sensor: listed.remove(0), lights })
            }
            "contactor" => {
                let by = first(step, ["by"]);
                if by.is_none() {
                    wrong(Some("contactor"), RunFault::NotWorked);
                }
                let by = by.filter(|_| is_sound.get())?;
                Some(Form::Contactor { boxes, contactor: listed.remove(0), by })
            }
            _ => is_sound.get().then_some(Form::Boxes { boxes, stops: listed }),
        };
    }
    if switches.is_empty() {
        if is_rose || (hub.is_some() && !lights.is_empty()) {
            wrong(hub.map(|hub| hub.key), RunFault::NoSwitch { is_rose });
        }
        let (boxes, stops) = match hub {
            Some(hub) => (&JUNCTION, vec![hub]),
            None => (&LIGHTS, lights),
        };
        return is_sound.get().then_some(Form::Boxes { boxes, stops });
    }
    if !is_rose && lights.is_empty() {
        wrong(Some(switches[0].key), RunFault::NothingLit { by: "switch" });
    }
    // How many switches there are is not known where they clash.
    if !is_sound.get() {
        return None;
    }
    let looped = match hub {
        None => Looped::AtSwitch,
        Some(_) if is_rose => Looped::AtRose,
        Some(_) => Looped::AtBox,
    };
    let switching = match (is_chain, step.strappers, step.third.or(third)) {
        (false, ..) => Switching::One,
        (true, Some(Strappers::Box), _) => Switching::ToBox,
        (true, None, Some(third)) if third != Third::Neutral || hub.is_none() => Switching::Between(third),
        (true, None, said) => {
            let key = if step.third.is_some() { "third" } else { "switches" };
            wrong(Some(key), RunFault::ThirdNotSaid { looped, switch_count: switches.len(), said });
            return None;
        }
    };
    is_sound.get().then_some(Form::Lighting(Lighting { hub, switches, switching, lights }))
}

/// The stops under a key.
fn stops<'d>(step: &'d StepDraft, key: &'static str) -> Vec<RunStop<'d>> {
    let entry = |entry| LISTS.contains(&key).then_some(entry);
    step.stops(key).iter().zip(0..).map(|(stop, number)| RunStop { key, entry: entry(number), stop }).collect()
}

/// The first of the keys that is given.
fn first<'d, const COUNT: usize>(step: &'d StepDraft, keys: [&'static str; COUNT]) -> Option<RunStop<'d>> {
    keys.into_iter().find_map(|key| stops(step, key).into_iter().next())
}
