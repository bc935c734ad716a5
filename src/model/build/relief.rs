//! What can't be disconnected in a circuit, once points are known.

use super::{Builder, PointState, cut, entry};
use crate::model::fault::{ModelFault, Named};
use crate::model::{CircuitRelief, DocumentPath, PointId};

impl<'d> Builder<'d> {
    pub(super) fn read_reliefs(&mut self) {
        let draft = self.draft;
        for (number, circuit) in draft.circuits.iter().enumerate() {
            let Some(relief) = &circuit.relief else { continue };
            let path = || entry("circuit", number).key("relief");
            if relief.because.trim().is_empty() && !self.faults.lost.has(path) {
                self.faults.push(path(), ModelFault::EmptyText { key: "relief" });
            }
            let named = relief.leaves.iter().enumerate();
            let leaves = named.filter_map(|(place, name)| {
                let point = self.find_left_in(name, || path().key("leaves").index(place))?;
                let point_row = &mut self.points[point.index()];
                (point_row.removable, point_row.fixed) = (false, true);
                Some(point)
            });
            let leaves = leaves.collect();
            self.circuits[number].relief = Some(CircuitRelief { because: relief.because.clone(), leaves });
        }
    }

    fn find_left_in(&mut self, name: &str, path: impl Fn() -> DocumentPath) -> Option<PointId> {
        let known = self.draft.points.iter().map(|point| point.id.as_str());
        let point = self.faults.find(Named::Point, name, &self.point_index, known, &path)?;
        let PointState { kind, .. } = self.point_states[point.index()];
        if !self.kinds[kind?.index()].has_bridges() {
            self.faults.push(path(), ModelFault::NoBridge { name: cut(name) });
            return None;
        }
        Some(point)
    }
}
