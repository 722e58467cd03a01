//! What a plane would make of a part, for a maker who moves it: the line and what it costs, the lumps on both
//! sides and how they fit.
//!
//! How: cut on the stand-in of an item where it has one, which takes some ms; the seam that is set there is cut
//! on the item itself like any other that stays. Nothing is kept but the part, so that moving asks for one
//! cut each time.
//! Units: mm in item coordinates. Not here: seams that stay (`marks.rs`).

use crate::estimate::{self, Need};
use crate::frames::AXES;
use crate::ground::Ground;
use crate::marks::{self, Locked};
use crate::part::{Line, Look, Part};
use crate::partition::Partition;
use seamwright_mesh::section::chords;
use seamwright_mesh::{Plane, vec3};
use std::sync::Arc;

/// A part that is to be cut.
pub struct Probing {
    ground: Arc<Ground>,
    part: Arc<Part>,
}

/// What one plane makes of it.
pub struct Probed {
    /// The line, segment by segment.
    pub segments_mm: Vec<[[f64; 3]; 2]>,
    /// A place on it, near the one that was asked for.
    pub at_mm: [f64; 3],
    /// What it costs.
    pub line: Line,
    /// Lumps below and above.
    pub sides: [Vec<ProbedLump>; 2],
}

/// A lump that a plane leaves.
pub struct ProbedLump {
    /// Extents of its box.
    pub size_mm: [f64; 3],
    /// Whether it fits a bed as it is.
    pub fits: bool,
    /// Whether it stands only with supports.
    pub is_held: bool,
    /// Pieces it is thought to need; 1 where it fits.
    pub needs: usize,
}

impl Probing {
    /// The part at a place, once these cuts are made; `None` where one of them cannot be made. What stays is not
    /// cut beside them, so that it can be moved too.
    pub fn new(item: &Arc<Ground>, before: &[Locked], at_mm: [f64; 3]) -> Option<Self> {
        let ground = item.stand_in().unwrap_or(item).clone();
        let mut made: Partition = ground.whole.clone();
        for cut in before {
            cut.cut(&mut made, &Part::uncared).ok()?;
        }
        let part = made.parts[marks::part_at(&made, at_mm)?].clone();
        Some(Self { ground, part })
    }

    /// Cuts it, or only the regions that hold these points where there are some; `None` where the plane misses it
    /// or them.
    pub fn cut(&self, plane: Plane, at_mm: [f64; 3], inside_mm: &[[f64; 3]]) -> Option<Probed> {
        let mut alone = Partition::of(vec![self.part.clone()]);
        // What a maker sets may lie where a search may not.
        alone.cut_inside_near(0, plane, inside_mm, &|solid| self.ground.look(solid)).ok()?;
        let step = &alone.steps[0];
        // It may have been moved a little.
        let plane = alone.planes[step.plane];
        let some =
            step.partial.as_ref().and_then(|partial| Some((alone.regions(0, plane)?, &partial.regions)));
        let mut segments_mm = Vec::new();
        chords(&self.part.solid, &plane, |_, ends| {
            let is_cut = some.as_ref().is_none_or(|(regions, own)| regions.is_outlined_by(own, ends[0]));
            if is_cut {
                segments_mm.push(ends);
            }
        });
        let middles = segments_mm.iter().map(|[a, b]| vec3::scale(vec3::add(*a, *b), 0.5));
        let off_mm = |p: &[f64; 3]| vec3::length(vec3::sub(*p, at_mm));
        let at_mm = middles.min_by(|a, b| off_mm(a).total_cmp(&off_mm(b)))?;
        let sides = [&step.below, &step.above];
        let lumps = |side: &Vec<usize>| side.iter().map(|&i| self.lump(&alone.parts[i])).collect();
        Some(Probed {
            line: alone.line_inside(0, &plane, inside_mm, self.ground.as_ref())?,
            segments_mm,
            at_mm,
            sides: sides.map(lumps),
        })
    }

    fn lump(&self, part: &Part) -> ProbedLump {
        let needs = if part.is_done() {
            1
        } else {
            let frames = [AXES, self.ground.own_frame];
            let Need { pieces, .. } = estimate::need(&part.hull.points_mm, &frames, &self.ground.boxes);
            // An estimate in one frame may say one of what does not fit.
            pieces.ceil().max(2.0) as usize
        };
        let (low, high) = part.box_mm;
        let size_mm = std::array::from_fn(|k| high[k] - low[k]);
        ProbedLump { size_mm, fits: part.is_done(), is_held: part.is_held(), needs }
    }
}
