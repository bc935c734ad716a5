//! What feeds the first step of a run: the circuit's way, or its source.

use super::expansion::{Expansion, Run, step_path};
use super::feed::{Feed, FeedPoint};
use crate::model::build::cut;
use crate::model::fault::{Named, RunFault};
use crate::model::{DocumentPath, Phases, RunPart, System};

impl<'d> Run<'_, 'd, '_> {
    /// What the first step is fed from: the circuit's way, or its source.
    pub(super) fn supply(&mut self) -> Feed<'d> {
        let written = self.expansion.origins.written;
        let path = DocumentPath::root().key("circuit").index(self.circuit);
        let name = self.draft.way.as_deref();
        if let Some(source) = self.draft.source.as_deref() {
            return self.source(source, path);
        }
        let found = name.and_then(|name| name.split_once('/')).and_then(|name| self.ways.get(&name));
        let Some(&(board, way)) = found else {
            // In low voltage a way that is missing, or not there, is reported where the circuit is read.
            let may_have_none = self.draft.system.is_some_and(|system| system != System::Lv);
            if name.is_none() && may_have_none && !self.touched.contains(path.segments()) {
                let part = RunPart::step(cut(&self.draft.id), 0);
                let fault = RunFault::NothingFeedsRun { circuit: cut(&self.draft.id) };
                self.expansion.report(step_path(self.circuit, 0), Some(part), fault);
            }
            return Feed::new(FeedPoint::lost(), "L", "N");
        };
        let first_line = if written.installation.phases == Some(Phases::Three) { "L1" } else { "L" };
        let line = match way.poles.as_deref() {
            None => first_line,
            Some([line]) if line.len() <= 2 => line,
            Some(poles) => {
                if poles.len() > 1 {
                    let part = RunPart::step(cut(&self.draft.id), 0);
                    let fault = RunFault::SeveralLines { way: cut(name.unwrap_or_default()) };
                    self.expansion.report(path.key("way"), Some(part), fault);
                }
                return Feed::new(FeedPoint::lost(), "L", "N");
            }
        };
        let location = board.location.as_deref().filter(|location| self.locations.contains(location));
        Feed::new(
            FeedPoint { end: format!("{}/{}", board.id, way.id), location, plate: None, is_lost: false },
            line,
            "N",
        )
    }

    /// The same of a circuit with a source.
    fn source(&mut self, id: &'d str, path: DocumentPath) -> Feed<'d> {
        let path = path.key("source");
        let location = self.points.get(id).or_else(|| self.expansion.made.get(id)).copied();
        let spot = location.map(|location| FeedPoint {
            end: id.to_owned(),
            location: location.filter(|location| self.locations.contains(location)),
            plate: None,
            is_lost: false,
        });
        let are_known =
            !self.expansion.lost.run_points && !self.touched.contains(DocumentPath::root().key("point").segments());
        if self.draft.way.is_some() {
            let fault = RunFault::WayAndSource { circuit: cut(&self.draft.id) };
            self.expansion.report(path, None, fault);
        } else if spot.is_none() && are_known && !self.touched.contains(path.segments()) {
            let Expansion { draft, faults, .. } = &mut *self.expansion;
            faults.unknown(Named::Point, id, draft.points.iter().map(|point| point.id.as_str()), path);
        }
        Feed::new(spot.unwrap_or_else(FeedPoint::lost), "V1", "V2")
    }
}
