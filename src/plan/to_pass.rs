//! A plan as passes of a test set, so that what was done can be written down.

use crate::model::{Installation, PassDraft, ReadingDraft};
use crate::network::Obstacle;
use crate::plan::answer::{Round, SwitchPosition};
use crate::plan::start::PlanStart;

impl PlanStart {
    /// What is to be done before the first round, as a pass without readings: the devices of boards are off, and
    /// everything out that comes out, with links in the place of what passes. What is in a locked room is in; how a
    /// board's devices stand there, no pass says.
    ///
    /// An example stands at [`TestSet::to_draft`](crate::TestSet::to_draft).
    pub fn to_pass(&self, installation: &Installation) -> PassDraft {
        let removable = self.obstacles.iter().filter(|row| row.removable);
        let (link, remove): (Vec<&Obstacle>, Vec<&Obstacle>) = removable.partition(|row| !row.links.is_empty());
        let names = |rows: Vec<&Obstacle>| rows.into_iter().map(|row| row.name(installation)).collect();
        PassDraft {
            set: self.off.iter().map(|device| (device.name(installation), "off".to_owned())).collect(),
            remove: names(remove),
            link: names(link),
            refit: self.left_in.iter().map(|bridge| bridge.name(installation)).collect(),
            ..PassDraft::default()
        }
    }
}

impl Round {
    /// The round as a pass: its operations, then its readings with the test voltage, without values.
    ///
    /// The pass before it has to leave things as [`PlanStart::to_pass`] or the round before does. An example stands at
    /// [`TestSet::to_draft`](crate::TestSet::to_draft).
    pub fn to_pass(&self) -> PassDraft {
        let mut pass = PassDraft::default();
        for operation in &self.operations {
            match &operation.to {
                SwitchPosition::At(position) => {
                    pass.set.insert(operation.device.clone(), position.clone());
                }
                // Of two positions, nobody knows in which: from one it goes to the other, and back as it was found.
                SwitchPosition::Other | SwitchPosition::AsFound | SwitchPosition::Unknown => {
                    pass.operate.push(operation.device.clone());
                }
                SwitchPosition::Next(steps) => {
                    pass.operate.extend((0..*steps).map(|_| operation.device.clone()));
                }
            }
        }
        pass.readings = self
            .readings
            .iter()
            .map(|reading| ReadingDraft {
                circuit: Some(reading.circuit.clone()),
                between: reading.between.clone(),
                volts: reading.volts,
                ..ReadingDraft::default()
            })
            .collect();
        pass
    }
}
