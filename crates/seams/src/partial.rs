//! Partial cuts: a plane cuts only some of the regions in which it meets a part.
//!
//! A plane through a helm's neck meets its plume too, one through a tail the leg beside it; a partial
//! cut takes the neck or the tail alone. What it parts may hold each other, as a hook does, so it is
//! accepted only with a direction in which both sides can be pushed together (`partial/joining.rs`).
//! Which regions are worth parted: `partial/choices.rs`. The cut itself: `mesh::split::regions`.

pub mod choices;
pub mod joining;

use crate::cuts::Partial;
use crate::part::{Line, Look};
use crate::partition::{NoCut, Parted, Partition, Step};
use joining::joining_direction;
use seamwright_mesh::split::regions::{NotParted, Regions};
use seamwright_mesh::{Plane, vec3};

/// A region is found again on a plane moved a little, or on a finer mesh of the same thing, within
/// this of the point that names it.
const REACH_MM: f64 = 1.0;

impl Partition {
    /// The regions in which a plane meets part `whole`; `None` where it misses it or its section is
    /// not sound there.
    pub fn regions(&self, whole: usize, plane: Plane) -> Option<Regions> {
        let part = &self.parts[whole];
        if part.is_passed_by(&plane) {
            return None;
        }
        Regions::of(&part.solid, &plane)
    }

    /// Cuts part `whole` through the chosen regions alone, under the conditions of [`Self::cut`] and only where both
    /// sides can be pushed together. The regions must be of this part of this partition or of one it was made from.
    ///
    /// # Errors
    /// [`NoCut`]; the partition is unchanged then.
    pub fn cut_regions(
        &mut self,
        whole: usize,
        regions: &Regions,
        chosen: &[usize],
        limits: [f64; 2],
        look: &dyn Look,
    ) -> Result<(), NoCut> {
        if look.forbids(&self.parts[whole], &regions.plane()) {
            return Err(NoCut::Forbidden);
        }
        let parted = self.sides_of(regions, chosen, limits)?;
        let [below, above] = parted.sides.each_ref().map(|side| side.iter().collect::<Vec<_>>());
        let direction = joining_direction(&below, &above, &regions.plane(), &[]).ok_or(NoCut::Locked)?;
        let line = look.line_of(regions, chosen);
        self.take(whole, parted, line, Some(partial(chosen, direction)), look);
        Ok(())
    }

    /// Makes a partial cut again whose direction was proven when it was made first.
    pub(crate) fn cut_again(
        &mut self,
        whole: usize,
        plane: Plane,
        again: &Partial,
        look: &dyn Look,
    ) -> Result<(), NoCut> {
        let regions = self.regions(whole, plane).ok_or(NoCut::Rough)?;
        let parted = self.sides_of(&regions, &again.regions, [f64::INFINITY, 0.0])?;
        let line = look.line_of(&regions, &again.regions);
        self.take(whole, parted, line, Some(again.clone()), look);
        Ok(())
    }

    /// Cuts the regions that hold these points, or where there are none all that the plane meets, moving the plane a
    /// little as in [`Self::cut_near`]. The points may come from a coarser mesh of the part.
    ///
    /// # Errors
    /// [`NoCut`]; the partition is unchanged then.
    pub fn cut_inside_near(
        &mut self,
        whole: usize,
        plane: Plane,
        inside_mm: &[[f64; 3]],
        look: &dyn Look,
    ) -> Result<(), NoCut> {
        if inside_mm.is_empty() {
            return self.cut_near(whole, plane, look);
        }
        for (nudge_mm, limits) in self.nudges() {
            let moved = Plane { offset_mm: plane.offset_mm + nudge_mm, ..plane };
            let regions = self.regions(whole, moved).ok_or(NoCut::Rough);
            let made = regions.and_then(|regions| {
                let chosen = holding(&regions, inside_mm).ok_or(NoCut::Misses)?;
                self.cut_regions(whole, &regions, &chosen, limits, look)
            });
            match made {
                Err(NoCut::Rough | NoCut::Crumb) => {}
                other => return other,
            }
        }
        Err(NoCut::Rough)
    }

    /// A point well inside each region that a step cut alone, to find them again elsewhere; none where it cut all
    /// that its plane met.
    pub fn inside_mm(&self, step: &Step) -> Vec<[f64; 3]> {
        let Some(partial) = &step.partial else { return Vec::new() };
        let regions = self.regions(step.whole, self.planes[step.plane]);
        let inside = |regions: Regions| -> Vec<[f64; 3]> {
            partial.regions.iter().map(|&region| regions.list()[region].inside_mm).collect()
        };
        regions.map_or(Vec::new(), inside)
    }

    /// The line of a plane through the regions of part `whole` that hold these points, or where there are none
    /// through all of it; `None` where a point lies in no region.
    pub(crate) fn line_inside(
        &self,
        whole: usize,
        plane: &Plane,
        inside_mm: &[[f64; 3]],
        look: &dyn Look,
    ) -> Option<Line> {
        if inside_mm.is_empty() {
            return Some(look.line(&self.parts[whole].solid, plane));
        }
        let regions = self.regions(whole, *plane)?;
        Some(look.line_of(&regions, &holding(&regions, inside_mm)?))
    }

    fn sides_of(&self, regions: &Regions, chosen: &[usize], limits: [f64; 2]) -> Result<Parted, NoCut> {
        let plane = regions.plane();
        let halves = regions.cut(chosen, self.tag_of(&plane)).map_err(|why| match why {
            NotParted::Rough => NoCut::Rough,
            NotParted::Holds | NotParted::Turned | NotParted::Touches => NoCut::Holds,
        })?;
        Parted::of(halves, plane, limits)
    }
}

/// The regions that hold these points or lie near them.
fn holding(regions: &Regions, inside_mm: &[[f64; 3]]) -> Option<Vec<usize>> {
    let plane = regions.plane();
    let onto = |&p: &[f64; 3]| vec3::sub(p, vec3::scale(plane.normal, plane.distance_mm(p)));
    let found = inside_mm.iter().map(|p| regions.region_at(onto(p), REACH_MM));
    let mut chosen: Vec<usize> = found.collect::<Option<_>>()?;
    chosen.sort_unstable();
    chosen.dedup();
    Some(chosen)
}

fn partial(chosen: &[usize], direction: [f64; 3]) -> Partial {
    let mut regions = chosen.to_vec();
    regions.sort_unstable();
    regions.dedup();
    Partial { regions, direction }
}
