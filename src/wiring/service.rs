//! To which supply conductors copper is joined in service, and for which positions of the devices that decide it.

use rustc_hash::{FxHashMap, FxHashSet};

use crate::model::{BridgeRef, PointId, TerminalRef};
use crate::network::{Body, DeviceIndex, Edge, Network, Role};
use crate::reading::{Configuration, Diagram, Electronics, LeadBodies, Probe, Side, TableLimits};

/// For each body that was asked for, the supply conductors that it is joined to in some configuration, by their numbers
/// in the network's list, each with those configurations; none where too many devices decide them.
pub(super) struct Service {
    state: Configuration,
    joined: FxHashMap<Body, Vec<(usize, Option<Diagram>)>>,
}

/// For which positions something works, and what each of its ends is joined to there; none where that is too large.
pub(super) type Fed = Option<(Diagram, [Vec<Role>; 2])>;

impl Service {
    /// Of these bodies. Time linear in the network and in what the supply conductors reach, and in the tables or
    /// diagrams of the devices that decide it.
    pub(super) fn of(network: &Network, electronics: Electronics, bodies: &[Body]) -> Service {
        let state = Configuration::in_service(network, electronics);
        let limits = &network.limits().tables;
        let mut probe = Probe::new(network);
        let mut joined: FxHashMap<Body, Vec<(usize, Option<Diagram>)>> = FxHashMap::default();
        for (number, &(_, terminal)) in network.sources().iter().enumerate() {
            let leads = LeadBodies::on([vec![network.body(terminal)], Vec::new()]);
            let probed = probe.read_for_starts(network, &state, &leads);
            for &body in bodies {
                if let Some(when) = probed.joined(body, Side::A) {
                    joined.entry(body).or_default().push((number, when.diagram(limits)));
                }
            }
        }
        Service { state, joined }
    }

    /// The devices that decide what any of the bodies is joined to.
    pub(super) fn devices(&self) -> FxHashSet<DeviceIndex> {
        let whens = self.joined.values().flatten().filter_map(|(_, when)| when.as_ref());
        whens.flat_map(|when| when.devices()).map(|(device, _)| device).collect()
    }

    /// For which positions a body is joined to the supply conductor of this number: inside none where these are too many
    /// to work out, outside none where there are none.
    pub(super) fn joined(&self, body: Body, source: usize) -> Option<Option<&Diagram>> {
        self.at(body).iter().find(|(number, _)| *number == source).map(|(_, when)| when.as_ref())
    }

    /// What a body may be joined to.
    fn at(&self, body: Body) -> &[(usize, Option<Diagram>)] {
        self.joined.get(&body).map_or(&[], Vec::as_slice)
    }

    /// For which positions what lies between two bodies works: each is joined to one supply conductor alone, one of them a
    /// line, the other another line or the neutral; or they are joined to the two ends of one source. Earth beside the
    /// neutral, or beside one end of a source, does not count.
    pub(super) fn works(&self, network: &Network, ends: [Body; 2]) -> Fed {
        let limits = &network.limits().tables;
        let mut works = Diagram::never();
        let mut roles: [Vec<Role>; 2] = Default::default();
        for &(one, _) in self.at(ends[0]) {
            for &(other, _) in self.at(ends[1]) {
                let between = [one, other].map(|number| network.sources()[number].0);
                if !feed(between) {
                    continue;
                }
                let alone = [self.alone(network, ends[0], one)?, self.alone(network, ends[1], other)?];
                let here = alone[0].and(&alone[1], limits)?;
                if here.is_never() {
                    continue;
                }
                works = works.or(&here, limits)?;
                for (roles, role) in roles.iter_mut().zip(between) {
                    if !roles.contains(&role) {
                        roles.push(role);
                    }
                }
            }
        }
        Some((works, roles))
    }

    /// The points whose electronics lie on the way from two bodies to what these are joined to, with the fewest of them; in
    /// the order of the file.
    pub(super) fn through(&self, network: &Network, ends: [Body; 2], roles: &[Vec<Role>; 2]) -> Vec<PointId> {
        let cost = |edge: Edge| self.state.may_conduct(network, edge).then_some(matches!(edge, Edge::Bridge { .. }));
        let mut points: Vec<PointId> = Vec::new();
        for (body, roles) in ends.into_iter().zip(roles) {
            let sources = network.sources().iter().filter(|(role, _)| roles.contains(role));
            let sources: Vec<Body> = sources.map(|&(_, terminal)| network.body(terminal)).collect();
            let path = network.path(&[body], cost, |body| sources.contains(&body));
            for (_, edge, _) in path.unwrap_or_default() {
                if let Edge::Bridge { bridge, .. } = edge
                    && let BridgeRef::Point(point) = network.bridges()[bridge as usize].reference
                {
                    points.push(point);
                }
            }
        }
        points.sort_unstable();
        points.dedup();
        points
    }

    /// For which positions a body is joined to this supply conductor and to no other; earth counts beside a line alone.
    fn alone(&self, network: &Network, body: Body, source: usize) -> Option<Diagram> {
        let limits: &TableLimits = &network.limits().tables;
        let is_line = matches!(network.sources()[source].0, Role::Line(_));
        let mut alone = Diagram::always();
        for (other, when) in self.at(body) {
            let when = when.as_ref()?;
            if *other == source {
                alone = alone.and(when, limits)?;
            } else if is_line || network.sources()[*other].0 != Role::Earth {
                alone = alone.and_not(when, limits)?;
            }
        }
        Some(alone)
    }
}

/// Whether a load works between these two.
fn feed(between: [Role; 2]) -> bool {
    match between {
        [Role::Line(one), Role::Line(other)] => one != other,
        [Role::Line(_), Role::Neutral] | [Role::Neutral, Role::Line(_)] => true,
        [Role::Source(one), Role::Source(other)] => one != other && point_of(one) == point_of(other),
        _ => false,
    }
}

fn point_of(terminal: TerminalRef) -> Option<PointId> {
    match terminal {
        TerminalRef::Point { point, .. } => Some(point),
        _ => None,
    }
}
