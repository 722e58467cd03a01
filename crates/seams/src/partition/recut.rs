//! A partition with one part cut otherwise, or seen in a mirror: steps of one made again in another.
//!
//! Not here: steps that must be cut anew (`realise.rs`).

use super::{Partition, Step};
use crate::mirror::{reflected_box, reflected_plane};
use crate::part::Part;
use seamwright_mesh::Plane;
use std::sync::Arc;

impl Partition {
    /// Makes a step of another partition again on the very part it was made on, with what it left.
    pub(crate) fn take_known(&mut self, whole: usize, other: &Self, step: &Step) {
        let parted_by = other.planes[step.plane];
        let plane = self.tag_of(&parted_by) as usize - 1;
        if plane == self.planes.len() {
            self.planes.push(parted_by);
        }
        self.section_mm += step.section_mm;
        let [below, above] = [&step.below, &step.above].map(|side| -> Vec<usize> {
            side.iter()
                .map(|&lump| {
                    self.parts.push(other.parts[lump].clone());
                    self.open.push(true);
                    self.parts.len() - 1
                })
                .collect()
        });
        self.open[whole] = false;
        self.steps.push(Step { whole, plane, below, above, ..step.clone() });
    }

    /// One of its parts alone, with the planes it was cut by so far: to be cut otherwise.
    pub(crate) fn alone(&self, part: usize) -> Self {
        let whole = Self::of(vec![self.parts[part].clone()]);
        Self { planes: self.planes.clone(), takes_crumbs: self.takes_crumbs, ..whole }
    }

    /// It seen in a mirror, as far as making its cuts elsewhere asks: its planes, and where its parts lie.
    pub(crate) fn seen_in(&self, mirror: &Plane) -> Self {
        let seen = |part: &Arc<Part>| {
            let (solid, hull, posed) = (part.solid.clone(), part.hull.clone(), part.posed.clone());
            Arc::new(Part { solid, hull, posed, box_mm: reflected_box(part.box_mm, mirror), ..**part })
        };
        Self {
            parts: self.parts.iter().map(seen).collect(),
            planes: self.planes.iter().map(|plane| reflected_plane(plane, mirror)).collect(),
            ..self.clone()
        }
    }

    /// The same with part `whole` cut as `other`, which began as [`Self::alone`], cuts it.
    pub(crate) fn with_part_cut(&self, whole: usize, other: &Self) -> Self {
        let n_made: usize = self.steps.iter().map(|step| step.below.len() + step.above.len()).sum();
        let n_lumps = self.parts.len() - n_made;
        // Tags of cut faces are places of planes, and the other's begin with this one's.
        let mut made = Self {
            planes: other.planes.clone(),
            takes_crumbs: self.takes_crumbs,
            n_kept: self.n_kept,
            ..Self::of(self.parts[..n_lumps].to_vec())
        };
        let mut place: Vec<Option<usize>> =
            (0..self.parts.len()).map(|i| (i < n_lumps).then_some(i)).collect();
        for step in self.steps.iter().filter(|step| step.whole != whole) {
            // What the part was cut into is not there any more.
            let Some(part) = place[step.whole] else { continue };
            made.take_step(part, self, step, &mut place);
        }
        let mut other_place: Vec<Option<usize>> = vec![None; other.parts.len()];
        other_place[0] = place[whole];
        for step in &other.steps {
            if let Some(part) = other_place[step.whole] {
                made.take_step(part, other, step, &mut other_place);
            }
        }
        made
    }

    /// Makes a step of another partition again and notes where its parts are here.
    fn take_step(&mut self, part: usize, other: &Self, step: &Step, place: &mut [Option<usize>]) {
        let first = self.parts.len();
        self.take_known(part, other, step);
        for (k, &lump) in step.below.iter().chain(&step.above).enumerate() {
            place[lump] = Some(first + k);
        }
    }
}
