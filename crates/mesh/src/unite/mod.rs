//! Uniting: one surface round what overlapping bodies enclose together.
//!
//! How: the lines in which triangles meet are found with exact signs (`meet.rs`), each triangle met is
//! divided along them (`divide.rs`), and of the parts those stay that have the outside before them and
//! the solid behind (`sides.rs`). The parts of two triangles that meet share the points of their line,
//! so that what stays closes. Only triangles that are met change; points are put on the grid last.
//! Bodies that only touch, or share a face, have no lines to find: such a body is let grow by a few
//! grid steps, and asked again.
//! Inside is where the surfaces of all bodies wind round more than nought times: overlaps count once, cavities
//! stay, what lies within another body goes.
//! Source: "Mesh arrangements for solid geometry" (2016, from memory) for lines, parts and winding numbers; the
//! signs of points of such lines as in "Fast and robust mesh arrangements using floating-point
//! arithmetic" (2020, from memory), here over whole numbers.
//! Cost: a box query a triangle, and a triangulation for each that is met.

mod divide;
mod meet;
mod sides;

#[cfg(test)]
mod tests;

use crate::assemble::{self, Slivers};
use crate::bodies;
use crate::flaws::Found;
use crate::grid::{self, GridPoint, MAX_STEPS};
use crate::mend::compare;
use crate::model::Notice;
use crate::solid::{NotSolid, SKIN, Solid};

/// How often bodies that touch may be let grow.
const ATTEMPTS: u32 = 6;

/// A body that encloses less is a rag of rounding (mm3).
const DUST_MM3: f64 = 1e-3;

/// Bodies united, or nothing to unite.
#[derive(Debug, Clone, PartialEq)]
pub struct United {
    /// The solid: the given one where no bodies overlap.
    pub solid: Solid,
    /// What was done, with numbers; empty where nothing was.
    pub steps: Vec<Notice>,
}

/// Why bodies could not be united.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum NotUnited {
    /// Surfaces lie in each other, also after they were let grow.
    #[error("surfaces lie in each other over an area, the first near {at_mm:?} mm")]
    Unclear {
        /// Where, in mm.
        at_mm: [f64; 3],
    },
    /// What stays does not close.
    #[error("what stays of the surfaces does not close: {0}")]
    NotSolid(#[from] NotSolid),
    /// What stays encloses something else than the bodies together.
    #[error("what stays encloses {united_mm3:.1} mm3, the bodies together {expected_mm3:.1} mm3")]
    Volume {
        /// Of the united solid.
        united_mm3: f64,
        /// Of the bodies, overlaps counted once.
        expected_mm3: f64,
    },
}

/// All bodies on the way; no two share a point.
#[derive(Debug, Clone)]
struct Mesh {
    points: Vec<GridPoint>,
    triangles: Vec<[u32; 3]>,
    body_of: Vec<u32>,
    n_bodies: usize,
}

/// Two triangles touch without crossing: which bodies they are of, and where.
#[derive(Debug, Clone, PartialEq)]
struct Touching {
    bodies: Vec<[u32; 2]>,
    at_mm: [f64; 3],
}

/// Unites the bodies of a solid.
///
/// # Errors
/// [`NotUnited`]: the solid can still be planned as it is, body by body.
pub fn unite(solid: &Solid) -> Result<United, NotUnited> {
    let mesh = Mesh::of(solid);
    let mut grows = vec![false; mesh.n_bodies];
    let mut attempt = 0;
    let (parts, n_met) = loop {
        let grown = mesh.grown(&grows, attempt);
        match meet::meetings(&grown).and_then(|net| Ok((divide::divided(&grown, &net)?, net.meetings.len())))
        {
            Ok((parts, n_met)) => break (sides::outer(&grown, &parts), n_met),
            Err(touching) if attempt == ATTEMPTS => {
                return Err(NotUnited::Unclear { at_mm: touching.at_mm });
            }
            Err(touching) => {
                touching.bodies.iter().flatten().for_each(|&body| grows[body as usize] = true);
                attempt += 1;
            }
        }
    };
    let is_same = n_met == 0 && parts.triangles.len() == mesh.triangles.len();
    if is_same {
        return Ok(United { solid: solid.clone(), steps: Vec::new() });
    }
    let origin = vec![SKIN; parts.triangles.len()];
    let (united, _) =
        assemble::assemble(&parts.points, &parts.triangles, &origin, Slivers::Specks(DUST_MM3))?;
    check_volume(solid, &united)?;
    let n_grown = if attempt == 0 { 0 } else { grows.iter().filter(|&&grows| grows).count() };
    Ok(United { steps: told(solid, &united, &parts, n_grown), solid: united })
}

/// What was done.
fn told(solid: &Solid, united: &Solid, parts: &sides::Outer, n_grown: usize) -> Vec<Notice> {
    let (before, after) = (bodies::bodies(solid).len(), bodies::bodies(united).len());
    let inside_cm3 = (solid.volume_mm3() - united.volume_mm3()) / 1000.0;
    let corners = |solid: &Solid| (0..solid.n_triangles()).map(|t| solid.corners_mm(t)).collect();
    let deviation_mm = compare::farthest_mm(&corners(united), &corners(solid));
    let tell = |code, text: String, Found { count, at_mm }: Found| Notice { code, text, count, at_mm };
    let mut steps = vec![tell(
        "united",
        format!(
            "{before} bodies were united to {after} along {:.0} mm of lines in which their surfaces meet; {inside_cm3:.1} cm3 lay in more than one; the surface is within {deviation_mm:.4} mm of theirs",
            parts.line_mm
        ),
        Found { count: before, at_mm: parts.at_mm.clone() },
    )];
    if n_grown > 0 {
        let text = format!(
            "bodies that touch others were let grow by up to {:.4} mm",
            MOST_GROWN / grid::STEPS_PER_MM
        );
        steps.push(tell("grown", text, Found { count: n_grown, at_mm: Vec::new() }));
    }
    steps
}

/// The volume is checked against one found in another way, by columns.
fn check_volume(solid: &Solid, united: &Solid) -> Result<(), NotUnited> {
    // The columns are within a few tenths of a per cent of the volume, and more for thin shells.
    const WITHIN: f64 = 0.02;
    let (united_mm3, expected_mm3) = (united.volume_mm3(), solid.solid_mm3());
    let off_mm3 = (united_mm3 - expected_mm3).abs();
    if off_mm3 > WITHIN * expected_mm3 { Err(NotUnited::Volume { united_mm3, expected_mm3 }) } else { Ok(()) }
}

/// The most a body is let grow, in steps.
const MOST_GROWN: f64 = 9.0;

impl Mesh {
    fn of(solid: &Solid) -> Self {
        let lists = bodies::components(&solid.points, &solid.triangles);
        let mut body_of = vec![0; solid.triangles.len()];
        for (body, list) in (0..).zip(&lists) {
            list.iter().for_each(|&triangle| body_of[triangle as usize] = body);
        }
        Self {
            points: solid.points.to_vec(),
            triangles: solid.triangles.to_vec(),
            body_of,
            n_bodies: lists.len(),
        }
    }

    fn corners(&self, triangle: u32) -> [GridPoint; 3] {
        self.triangles[triangle as usize].map(|p| self.points[p as usize])
    }

    fn corners_mm(&self, triangle: u32) -> [[f64; 3]; 3] {
        self.corners(triangle).map(grid::to_mm)
    }

    /// With the boxes of some bodies grown, each side by its own few steps, so that
    /// faces that lay in each other no longer do.
    fn grown(&self, grows: &[bool], attempt: u32) -> Self {
        let mut mesh = self.clone();
        if attempt == 0 {
            return mesh;
        }
        let mut boxes = vec![([i32::MAX; 3], [i32::MIN; 3]); self.n_bodies];
        let mut body_of_point = vec![u32::MAX; self.points.len()];
        for (t, &body) in self.triangles.iter().zip(&self.body_of) {
            for &p in t {
                body_of_point[p as usize] = body;
                let (low, high) = &mut boxes[body as usize];
                for axis in 0..3 {
                    low[axis] = low[axis].min(self.points[p as usize][axis]);
                    high[axis] = high[axis].max(self.points[p as usize][axis]);
                }
            }
        }
        for (point, &body) in mesh.points.iter_mut().zip(&body_of_point) {
            if body == u32::MAX || !grows[body as usize] {
                continue;
            }
            let (low, high) = boxes[body as usize];
            for axis in 0..3 {
                // Each side by its own steps, so that the middle of what is symmetric moves too.
                let out =
                    |seed: u32| f64::from(2 + (body * 5 + attempt * 3 + seed) % (MOST_GROWN as u32 - 1));
                let (down, up) = (out(2 * axis as u32), out(2 * axis as u32 + 3));
                let extent = (f64::from(high[axis]) - f64::from(low[axis])).max(1.0);
                let by = (down + up) * f64::from(point[axis] - low[axis]) / extent - down;
                point[axis] = (point[axis] + by.round() as i32).clamp(-MAX_STEPS, MAX_STEPS);
            }
        }
        mesh
    }
}
