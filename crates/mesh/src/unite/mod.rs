//! Uniting: one surface round what overlapping bodies enclose together.
//!
//! How: the lines in which triangles meet are found with exact signs (`meet.rs`), each triangle met is
//! divided along them (`divide.rs`), and of the parts those stay that have the outside before them and
//! the solid behind (`sides.rs`). The parts of two triangles that meet share the points of their line,
//! so that what stays closes. Only triangles that are met change; points are put on the grid last.
//! Bodies that only touch, or share a face, have no lines to find: such a body is let grow by a few
//! grid steps, and asked again. Where that does not come out either (the same body twice), the surface is made
//! anew on a lattice (`rebuilt.rs`).
//! Inside is where the surfaces of all bodies wind round more than nought times: overlaps count once, cavities
//! stay, what lies within another body goes.
//! Source: "Mesh arrangements for solid geometry" (2016, from memory) for lines, parts and winding numbers; the
//! signs of points of such lines as in "Fast and robust mesh arrangements using floating-point
//! arithmetic" (2020, from memory), here over whole numbers.
//! Cost: a box query a triangle, and a triangulation for each that is met.

mod divide;
mod meet;
mod rebuilt;
mod sides;

#[cfg(test)]
mod tests;

use crate::assemble::{self, Slivers};
use crate::bodies;
use crate::grid::{self, GridPoint, MAX_STEPS};
use crate::lumps;
use crate::mend::compare;
use crate::model::Notice;
use crate::solid::{NotSolid, SKIN, Solid};
use crate::vec3;

/// How often bodies that touch may be let grow.
const ATTEMPTS: u32 = 6;

/// Places of lines that are told.
const PLACES: usize = 8;

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

/// Why triangles could not be divided along the lines in which they meet.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
enum Undivided {
    /// Surfaces lie in each other, also after they were let grow.
    #[error("surfaces lie in each other near {} mm", crate::solid::shown(*at_mm))]
    Touching { at_mm: [f64; 3] },
    /// What stays does not close.
    #[error("what stays does not close: {0}")]
    NotSolid(#[from] NotSolid),
    /// What stays encloses something else than the bodies together, found in another way.
    #[error("what stays encloses {united_mm3:.1} mm3, the bodies together {expected_mm3:.1} mm3")]
    Volume { united_mm3: f64, expected_mm3: f64 },
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

/// What was done, over all that hangs together.
#[derive(Default)]
struct Done {
    n_before: usize,
    line_mm: f64,
    at_mm: Vec<[f64; 3]>,
    n_grown: usize,
    deviation_mm: f64,
    /// Bodies whose surface was made anew, and the widest cell.
    n_rebuilt: usize,
    cell_mm: f64,
    n_left: usize,
    why_left: Option<Undivided>,
}

/// Unites the bodies of a solid, each that hangs together with others by itself. What cannot be united stays as
/// it is, and it is said.
pub fn unite(solid: &Solid) -> United {
    let mut done = Done::default();
    let mut united = Vec::new();
    for lump in lumps::lumps(solid.clone()) {
        let before = bodies::bodies(&lump).len();
        let made = match divided(&lump, &mut done) {
            Ok(None) => {
                united.push(lump);
                continue;
            }
            Ok(Some(made)) => made,
            Err(why) => match made_anew(&lump, &mut done) {
                Ok(made) => {
                    done.n_rebuilt += before;
                    made
                }
                Err(_) => {
                    done.n_left += before;
                    done.why_left.get_or_insert(why);
                    united.push(lump);
                    continue;
                }
            },
        };
        done.n_before += before;
        done.deviation_mm = done.deviation_mm.max(deviation_mm(&lump, &made));
        united.push(made);
    }
    if done.n_before == 0 {
        return United { solid: solid.clone(), steps: done.told(solid, solid) };
    }
    let whole = together(&united);
    United { steps: done.told(solid, &whole), solid: whole }
}

/// The lump with its triangles divided where they meet; `None` where they do not.
fn divided(lump: &Solid, done: &mut Done) -> Result<Option<Solid>, Undivided> {
    let mesh = Mesh::of(lump);
    let mut grows = vec![false; mesh.n_bodies];
    let mut attempt = 0;
    let (parts, n_met) = loop {
        let grown = mesh.grown(&grows, attempt);
        let found = meet::meetings(&grown);
        match found.and_then(|net| Ok((divide::divided(&grown, &net)?, net.meetings.len()))) {
            Ok((parts, n_met)) => break (sides::outer(&grown, &parts), n_met),
            Err(touching) if attempt == ATTEMPTS => {
                return Err(Undivided::Touching { at_mm: touching.at_mm });
            }
            Err(touching) => {
                touching.bodies.iter().flatten().for_each(|&body| grows[body as usize] = true);
                attempt += 1;
            }
        }
    };
    if n_met == 0 && parts.triangles.len() == mesh.triangles.len() {
        return Ok(None);
    }
    let origin = vec![SKIN; parts.triangles.len()];
    let (united, _) =
        assemble::assemble(&parts.points, &parts.triangles, &origin, Slivers::Specks(DUST_MM3))?;
    check_volume(lump, &united)?;
    done.line_mm += parts.line_mm;
    done.at_mm.extend(parts.at_mm);
    done.n_grown += if attempt == 0 { 0 } else { grows.iter().filter(|&&grows| grows).count() };
    Ok(Some(united))
}

/// The lump with its surface made anew.
fn made_anew(lump: &Solid, done: &mut Done) -> Result<Solid, Undivided> {
    let cell_mm = rebuilt::cell_mm(lump);
    let made = rebuilt::rebuilt(lump, cell_mm)?;
    check_volume(lump, &made)?;
    done.cell_mm = done.cell_mm.max(cell_mm);
    Ok(made)
}

/// Solids side by side as one; none of them changes.
fn together(solids: &[Solid]) -> Solid {
    let (mut points, mut triangles, mut origin, mut group_ends) =
        (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for solid in solids {
        let (first_point, first) = (points.len() as u32, triangles.len() as u32);
        points.extend_from_slice(&solid.points);
        triangles.extend(solid.triangles.iter().map(|t| t.map(|p| p + first_point)));
        origin.extend_from_slice(&solid.origin);
        group_ends.extend(solid.group_ends.iter().map(|end| end + first));
    }
    Solid::of(points, triangles, origin, group_ends)
}

/// The farthest either surface lies from the other, in mm; of the bodies only what is outside all others counts.
fn deviation_mm(bodies: &Solid, united: &Solid) -> f64 {
    let (before, after) = (compare::corners_of(bodies), compare::corners_of(united));
    let all: Vec<u32> = (0..bodies.n_triangles() as u32).collect();
    let Some(skin) = bodies::Skin::new(&bodies.points, &bodies.triangles, &all) else { return 0.0 };
    let is_outer = |at: [f64; 3], triangle: usize| {
        let Some(normal) = bodies.triangle_normal(triangle) else { return false };
        skin.winding(vec3::add(at, vec3::scale(normal, BESIDE_MM))) <= 0
    };
    compare::farthest_mm(&after, &before, |_, _| true).max(compare::farthest_mm(&before, &after, is_outer))
}

/// Farther than what was let grow, nearer than any wall.
const BESIDE_MM: f64 = 0.02;

impl Done {
    fn told(self, solid: &Solid, united: &Solid) -> Vec<Notice> {
        let mut steps = Vec::new();
        let mut tell = |code, text: String, count: usize, at_mm: Vec<[f64; 3]>| {
            if count > 0 {
                steps.push(Notice { code, text, count, at_mm });
            }
        };
        let after = bodies::bodies(united).len() + self.n_before - bodies::bodies(solid).len();
        let inside_cm3 = (solid.volume_mm3() - united.volume_mm3()) / 1000.0;
        let mut at_mm = self.at_mm;
        at_mm.truncate(PLACES);
        let text = format!(
            "{} bodies were united to {after} along {:.0} mm of lines in which their surfaces meet; {inside_cm3:.1} cm3 lay in more than one; the surface is within {:.4} mm of theirs",
            self.n_before, self.line_mm, self.deviation_mm
        );
        tell("united", text, self.n_before, at_mm);
        let text = format!(
            "bodies that touch others were let grow by up to {:.4} mm",
            MOST_GROWN / grid::STEPS_PER_MM
        );
        tell("grown", text, self.n_grown, Vec::new());
        let text = format!("bodies got a surface made anew in cells of {:.2} mm", self.cell_mm);
        tell("made-anew", text, self.n_rebuilt, Vec::new());
        if let Some(why) = self.why_left {
            let text = format!("bodies were left as they are, each to be cut by itself: {why}");
            tell("not-united", text, self.n_left, Vec::new());
        }
        steps
    }
}

/// The volume is checked against one found in another way, by columns.
fn check_volume(solid: &Solid, united: &Solid) -> Result<(), Undivided> {
    // The columns are within a few tenths of a per cent of the volume, and more for thin shells.
    const WITHIN: f64 = 0.02;
    let (united_mm3, expected_mm3) = (united.volume_mm3(), solid.columns_mm3());
    let off_mm3 = (united_mm3 - expected_mm3).abs();
    if off_mm3 > WITHIN * expected_mm3 { Err(Undivided::Volume { united_mm3, expected_mm3 }) } else { Ok(()) }
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
