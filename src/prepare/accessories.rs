//! What is done and looked at in the accessories of a circuit: what its readings would pass through, links, and
//! switches.

use super::step::{Action, Caution, InTheWay, Operated, Step, WhyOff};
use super::surroundings::Surroundings;
use crate::model::{BridgeRef, CircuitId, Conducts, PointId, Stands, Variant};

impl Surroundings<'_> {
    /// What a holder of bridges is to a circuit whose readings `across` it lies across.
    pub(super) fn in_the_way(&self, holder: usize, circuit: CircuitId, across: Vec<[String; 2]>) -> Step {
        let installation = self.installation();
        let row = &self.obstacles[holder];
        let (kind, location) = match row.holder {
            BridgeRef::Point(point) => {
                (installation.kind(installation.point(point).kind()).name().to_owned(), self.location(point))
            }
            BridgeRef::Way(_) => ("rcbo".to_owned(), None),
            BridgeRef::Group(_) => ("rcd".to_owned(), None),
        };
        let roles = self.network.bridges()[holder].elements.iter().map(|element| {
            element.between.map(|terminal| {
                self.network.roles_at(terminal).iter().map(|role| role.name(installation)).collect::<Vec<String>>()
            })
        });
        let found = InTheWay {
            what: self.holder_name(holder),
            kind,
            of_circuit: row.circuit.filter(|&of| of != circuit).map(|of| installation.circuit(of).id().to_owned()),
            location,
            conducts: row.conducts.name().to_owned(),
            between: row.between.clone(),
            roles: roles.collect(),
            across,
        };
        match (row.removable, row.conducts) {
            (true, Conducts::Maybe) => Action::TakeOut(found).with(Caution::DamagesElectronics),
            (true, Conducts::Sure) => Action::TakeOut(found).into(),
            (false, Conducts::Maybe) => Action::LeaveIn(found).with(Caution::StaysInTheWay),
            (false, Conducts::Sure) => Action::LeaveIn(found).into(),
        }
    }

    /// The links that are put in the place of a holder of bridges that is out, and how they come out again.
    pub(super) fn links(&self, holder: usize) -> [Vec<Step>; 2] {
        let row = &self.obstacles[holder];
        let BridgeRef::Point(point) = row.holder else { return [Vec::new(), Vec::new()] };
        let (id, location) = (self.point_id(point), self.location(point));
        let links = || row.links.iter().map(|terminals| (id.clone(), terminals.clone(), location.clone()));
        [
            links().map(|(point, terminals, location)| Action::Link { point, terminals, location }.into()).collect(),
            links()
                .map(|(point, terminals, location)| Action::TakeLinkOut { point, terminals, location }.into())
                .collect(),
        ]
    }

    /// What the file says is joined for good.
    pub(super) fn joined(&self, id: CircuitId) -> Vec<Step> {
        let installation = self.installation();
        let of_point = |&id: &PointId| {
            installation.point(id).links.iter().map(move |link| {
                let name = |&terminal: &u16| installation.point_terminal_name(id, terminal).to_owned();
                let (point, location) = (self.point_id(id), self.location(id));
                Action::Joined { point, terminals: link.iter().map(name).collect(), location }.into()
            })
        };
        self.points_of[id.index()].iter().flat_map(of_point).collect()
    }

    /// How the switches of a circuit stand; those that are simply on come first.
    pub(super) fn switches(&self, id: CircuitId) -> Vec<Step> {
        let installation = self.installation();
        let (mut on, mut other) = (Vec::new(), Vec::new());
        for &id in &self.points_of[id.index()] {
            let row = installation.point(id);
            let kind = installation.kind(row.kind());
            if kind.positions.is_empty() {
                continue;
            }
            let (point, location) = (self.point_id(id), self.location(id));
            let is_manual = matches!(kind.variant(), Variant::Manual(_));
            let position = match row.stands {
                Stands::At(number) => Some(&kind.positions[usize::from(number)]),
                Stands::Unknown => None,
            };
            let closes_in_one = kind.positions.iter().filter(|position| !position.joins.is_empty()).count() == 1;
            match position {
                _ if is_manual && !row.is_operable() => {
                    let action = Action::KeepOff { device: point, why: WhyOff::NotWorkedByHand };
                    other.push(action.with(Caution::Armature));
                }
                Some(position) if closes_in_one && !position.joins.is_empty() => {
                    on.push(Action::SwitchOn { point, position: position.name.clone(), location }.into());
                }
                position => {
                    let operated = match position {
                        _ if !row.is_operable() => Operated::ByNobody,
                        Some(_) if closes_in_one => Operated::ClosedAsPlanned,
                        _ => Operated::AsPlanned,
                    };
                    let position = position.map(|position| position.name.clone());
                    let action = Action::Stands { point, position, location, operated };
                    other.push(action.with(is_manual.then_some(Caution::Armature)));
                }
            }
        }
        on.append(&mut other);
        on
    }
}
