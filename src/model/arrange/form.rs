//! What a step of a run is: which of its keys go together.

use std::cell::Cell;

use crate::model::fault::{Looped, ModelFault, Nearest, RunFault};
use crate::model::{StepDraft, StopDraft, Strappers, Third};

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
    /// Lights without a switch, or a junction box: each a box that the feed goes through.
    Boxes { kind: &'static str, stops: Vec<RunStop<'d>> },
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
    for (key, list) in [("switches", &step.switches), ("lights", &step.lights)] {
        if list.as_ref().is_some_and(Vec::is_empty) {
            is_sound.set(false);
            report(Some(key), ModelFault::EmptyList { key });
        }
    }
    let mut wrong = |key, fault: RunFault| {
        is_sound.set(false);
        report(key, fault.into());
    };
    let clashes =
        [["rose", "box"], ["switch", "switches"], ["switch", "dimmer"], ["switches", "dimmer"], ["light", "lights"]];
    let is_given = |key: &str| step.keys().any(|given| given == key);
    for keys in clashes.into_iter().filter(|keys| keys.iter().all(|key| is_given(key))) {
        wrong(Some(keys[1]), RunFault::KeysClash { keys });
    }
    let hub = one("rose", &step.rose).or(one("box", &step.junction));
    let mut switches = listed("switches", step.switches.as_deref());
    switches.extend(one("switch", &step.switch).or(one("dimmer", &step.dimmer)));
    let mut lights = listed("lights", step.lights.as_deref());
    lights.extend(one("light", &step.light));
    let is_rose = step.rose.is_some();

    let mut used = vec!["from", "mm2"];
    if hub.is_some() || !switches.is_empty() {
        used.extend(["switch", "switches", "dimmer"]);
    }
    used.extend(hub.map(|hub| hub.key));
    if is_rose || !switches.is_empty() || hub.is_none() || !lights.is_empty() {
        used.extend(["light", "lights", "lamp"]);
    }
    let is_chain = switches.len() > 1;
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
        if !["switches", "lights"].iter().any(|&key| is_given(key)) {
            wrong(None, RunFault::EmptyStep);
        }
        return None;
    }
    for key in step.keys().filter(|key| !used.contains(key)) {
        // A key that clashes with another is reported so.
        if !matches!(key, "rose" | "box") {
            let nearest = nearest.among(key, used.iter().copied().filter(|&used| !is_given(used)));
            let nearest = nearest.and_then(|name| used.iter().copied().find(|&used| used == name));
            let used = used.iter().copied().filter(|&used| !is_given(used)).collect();
            wrong(Some(key), RunFault::KeyNotUsed { key, nearest, used });
        }
    }
    if switches.is_empty() {
        if is_rose || (hub.is_some() && !lights.is_empty()) {
            wrong(hub.map(|hub| hub.key), RunFault::NoSwitch { is_rose });
        }
        let (kind, stops) = match hub {
            Some(hub) => ("junction", vec![hub]),
            None => ("luminaire", lights),
        };
        return is_sound.get().then_some(Form::Boxes { kind, stops });
    }
    if !is_rose && lights.is_empty() {
        wrong(Some(switches[0].key), RunFault::NothingLit);
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

fn one<'d>(key: &'static str, stop: &'d Option<StopDraft>) -> Option<RunStop<'d>> {
    stop.as_ref().map(|stop| RunStop { key, entry: None, stop })
}

fn listed<'d>(key: &'static str, stops: Option<&'d [StopDraft]>) -> Vec<RunStop<'d>> {
    let stops = stops.unwrap_or_default();
    stops.iter().zip(0..).map(|(stop, entry)| RunStop { key, entry: Some(entry), stop }).collect()
}
