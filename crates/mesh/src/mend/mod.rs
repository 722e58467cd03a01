//! Mending: from triangles that do not close to a solid, each step told with numbers.
//!
//! How, in rising force: points of open edges are welded within a tolerance that is found
//! (`weld.rs`), triangles that only get in the way dropped (`doubles.rs`), T-junctions closed
//! (`junctions.rs`), triangles turned to one side (`orient.rs`), sheets that meet in one edge settled
//! and given points of their own (`walls.rs`), holes patched (`holes.rs` with `rims.rs`, `patch.rs`,
//! `smooth.rs`) or single-sided surfaces thickened (`thicken.rs`), bodies turned outward
//! (`outward.rs`). At last the surface is compared with the file's (`compare.rs`).
//! What is not broken stays as it is, to the point: overlapping bodies stay several.
//! The file is never changed: whoever wants it as it was does not mend, and each step can be left out
//! by itself (`step.rs`).

pub(crate) mod compare;
mod divide;
mod doubles;
mod holes;
mod junctions;
mod offsets;
mod orient;
mod outward;
mod patch;
mod rims;
mod smooth;
mod step;
mod surface;
mod thicken;
mod walls;
mod weld;
mod zip;

#[cfg(test)]
mod tests;

use crate::assemble::{self, Slivers};
use crate::edges;
use crate::flaws::Found;
use crate::grid::{self, GridPoint};
use crate::measure;
use crate::model::Notice;
use crate::solid::{NotSolid, SKIN, Solid};
use compare::Corners;
pub use step::{LeftOut, Step};
use surface::{Surface, excess};
use walls::Settled;

/// The wall a surface of one side gets unless the maker says otherwise: six lines of 0.4 mm (common
/// practice, no source).
pub const WALL_MM: f64 = 2.4;

/// More of the surface than this repaired, and the file counts as rebuilt.
pub const REBUILT_FRACTION: f64 = 0.1;

/// A body that encloses less is dust (mm3).
const DUST_MM3: f64 = 1e-3;

/// A body this small beside a wall that was made is a rag of its second skin (mm3).
const RAG_MM3: f64 = 1.0;

/// What becomes of a surface that is open.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Open {
    /// Holes are patched; what is open over a good share of its area gets a wall.
    #[default]
    AsItLooks,
    /// Every rim is patched, so that the inside is solid.
    Fill,
    /// Every body with a rim gets a wall.
    Thicken,
}

/// How to mend.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wishes {
    /// What becomes of open surfaces.
    pub open: Open,
    /// The wall of a surface that gets one.
    pub wall_mm: f64,
    /// Steps that are not done.
    pub leave_out: LeftOut,
}

impl Default for Wishes {
    fn default() -> Self {
        Self { open: Open::default(), wall_mm: WALL_MM, leave_out: LeftOut::default() }
    }
}

/// A mended solid and what was done.
#[derive(Debug, Clone)]
pub struct Mended {
    /// The solid.
    pub solid: Solid,
    /// What was done, in order: one notice a step that did something.
    pub steps: Vec<Notice>,
    /// The farthest the surface lies from the file's, or the file's from it, in mm, away from
    /// repaired places (2 mm round a flaw or what mending made).
    pub deviation_mm: f64,
    /// How much of the area is repaired.
    pub repaired_fraction: f64,
}

/// Mends a mesh in mm.
///
/// # Errors
/// [`NotSolid`] where it cannot be mended: points beyond reach, nothing with an area, or what is
/// still wrong after all steps.
pub fn mend(points_mm: &[[f64; 3]], triangles: &[[u32; 3]], wishes: &Wishes) -> Result<Mended, NotSolid> {
    let mut points: Vec<GridPoint> = Vec::with_capacity(points_mm.len());
    for (point_index, &at_mm) in points_mm.iter().enumerate() {
        points.push(grid::snap(at_mm).ok_or(NotSolid::OutOfRange { point_index, at_mm })?);
    }
    if let Some(triangle_index) = triangles.iter().position(|t| t.iter().any(|&i| i as usize >= points.len()))
    {
        return Err(NotSolid::BadIndex { triangle_index, n_points: points.len() });
    }
    let mut surface = Surface::joined(&points, triangles);
    let file: Corners = (0..surface.triangles.len()).map(|t| surface.corners_mm(t)).collect();
    let mut flaws = open_places(&surface);
    let mut steps = Steps::default();
    let does = |step| !wishes.leave_out.has(step);
    drop_doubles(&mut surface, wishes.leave_out, &mut steps);
    let mut tolerance_mm = 0.0;
    if let Some(welded) = does(Step::Weld).then(|| weld::weld(&mut surface)).flatten() {
        tolerance_mm = welded.tolerance_mm;
        let text = format!("points of open edges up to {tolerance_mm:.4} mm apart were joined");
        steps.tell("mended-weld", text, welded.points);
        drop_doubles(&mut surface, wishes.leave_out, &mut steps);
    }
    if does(Step::Junctions) {
        let split = junctions::close_junctions(&mut surface, tolerance_mm);
        steps.tell("mended-junctions", "edges were split at points that lie on them", split);
    }
    let mut turned = if does(Step::Orient) { orient::orient(&mut surface) } else { Found::default() };
    let settled = if does(Step::Walls) { walls::settle(&mut surface) } else { Settled::default() };
    turned.append(settled.turned);
    let (mut body_of, n_bodies) = walls::into_bodies(&mut surface);
    let text = "triangles inside the solid, where three sheets meet, were left out";
    steps.tell("mended-walls", text, settled.left_out);
    let closed = holes::close(&mut surface, &mut body_of, n_bodies, wishes);
    // Rags of a second skin are no part of the file.
    let specks_mm3 = match (does(Step::Dust), closed.sheets.count) {
        (false, _) => 0.0,
        (true, 0) => DUST_MM3,
        (true, _) => RAG_MM3,
    };
    tell_closed(closed, wishes, &mut steps);
    if does(Step::Orient) {
        turned.append(outward::face_outward(&mut surface, &body_of, n_bodies));
    }
    steps.tell("mended-orient", "triangles that faced the wrong way were turned", turned);
    if does(Step::Dust) {
        drop_dust(&mut surface, &body_of, n_bodies, &mut steps);
    }
    flaws.extend((0..surface.triangles.len()).filter(|&t| surface.made[t]).map(|t| surface.corners_mm(t)));
    let origin = vec![SKIN; surface.triangles.len()];
    let assembled = |slivers| assemble::assemble(&surface.points, &surface.triangles, &origin, slivers);
    let (solid, further) = match assembled(Slivers::Specks(specks_mm3)) {
        // Bodies that fall apart where they are pinched may leave some that face inward.
        Err(NotSolid::InsideOut { .. }) => {
            let made = assembled(Slivers::Drop)?;
            steps.tell(
                "inward-bodies",
                "bodies that face inward and lie in no other were left out",
                somewhere(1),
            );
            made
        }
        made => made?,
    };
    steps.0.extend(further);
    if !wishes.leave_out.is_empty() {
        let text = format!("steps of mending were left out as asked: {}", wishes.leave_out);
        steps.tell("steps-left-out", text, somewhere(1));
    }
    let mended = compare::corners_of(&solid);
    let compared = compare::compare(&file, &mended, &flaws);
    let mut mended = Mended {
        solid,
        steps: steps.0,
        deviation_mm: compared.deviation_mm,
        repaired_fraction: compared.repaired_fraction,
    };
    mended.tell_measure();
    Ok(mended)
}

impl Mended {
    /// Whether so much is repaired that the model is rather a new one after the file's.
    pub fn is_rebuilt(&self) -> bool {
        self.repaired_fraction > REBUILT_FRACTION
    }

    fn tell_measure(&mut self) {
        let (percent, deviation_mm) = (100.0 * self.repaired_fraction, self.deviation_mm);
        let rest = format!("elsewhere the surface is within {deviation_mm:.3} mm of the file's");
        let (code, text) = if self.is_rebuilt() {
            ("rebuilt", format!("{percent:.0} % of the surface is new or within 2 mm of a flaw; {rest}"))
        } else {
            ("mended", format!("{percent:.1} % of the surface was repaired; {rest}"))
        };
        self.steps.push(Notice { code, text, count: 1, at_mm: Vec::new() });
    }
}

/// So many, at places that are not told.
fn somewhere(count: usize) -> Found {
    Found { count, at_mm: Vec::new() }
}

#[derive(Default)]
struct Steps(Vec<Notice>);

impl Steps {
    fn tell(&mut self, code: &'static str, text: impl Into<String>, Found { count, at_mm }: Found) {
        if count > 0 {
            self.0.push(Notice { code, text: text.into(), count, at_mm });
        }
    }
}

/// Edges that do not pair up, as thin triangles.
fn open_places(surface: &Surface) -> Corners {
    const WIDE_MM: f64 = 0.01;
    let uses = surface.edge_uses();
    edges::runs(&uses)
        // Two triangles that face opposite ways only need turning, which moves nothing.
        .filter(|run| run.len() != 2 && excess(run, &surface.triangles) != 0 && run[0].low() != run[0].high())
        .map(|run| {
            let (a, b) = (surface.at_mm(run[0].low()), surface.at_mm(run[0].high()));
            [a, b, [a[0] + WIDE_MM, a[1] + WIDE_MM, a[2] - WIDE_MM]]
        })
        .collect()
}

fn drop_doubles(surface: &mut Surface, leave_out: LeftOut, steps: &mut Steps) {
    let dropped = doubles::drop_doubles(surface, leave_out);
    let text = "triangles without area were dropped";
    steps.tell("mended-degenerate", text, dropped.without_area);
    let text = "triangles that lie on another were dropped";
    steps.tell("mended-duplicates", text, dropped.copies);
    let text = if dropped.one_side_kept {
        "triangles with another on their back: one side was kept"
    } else {
        "pairs of triangles back to back, which enclose nothing, were dropped"
    };
    steps.tell("mended-back-to-back", text, somewhere(dropped.n_back_to_back));
}

fn tell_closed(closed: holes::Closed, wishes: &Wishes, steps: &mut Steps) {
    let n_smooth = closed.n_smooth;
    let mut text = format!("holes were closed with {:.1} cm2 of patches", closed.patch_mm2 / 100.0);
    if n_smooth > 0 {
        text.push_str(&format!(", {n_smooth} of them curved like the surface round them"));
    }
    steps.tell("mended-holes", text, closed.holes);
    let walls = closed.walls;
    let wall_mm = wishes.wall_mm;
    let text = format!("surfaces of one side got a wall of {wall_mm} mm on their inner side");
    steps.tell("mended-sheets", text, closed.sheets);
    let text = format!(
        "{:.1} cm2 of the surface come back behind closer than two walls: all between is solid there",
        walls.solid_mm2 / 100.0
    );
    steps.tell("solid-between", text, somewhere(usize::from(walls.solid_mm2 > 0.0)));
    let text = format!(
        "points of that wall are thinner than {wall_mm} mm, down to {:.2} mm, because the surface bends or comes back close behind",
        walls.thinnest_mm
    );
    steps.tell("thin-wall-made", text, walls.thinned);
    let text = "pairs of triangles of that wall still cross";
    steps.tell("wall-crosses", text, somewhere(walls.n_crossing));
}

/// Drops bodies that enclose next to nothing.
fn drop_dust(surface: &mut Surface, body_of: &[u32], n_bodies: usize, steps: &mut Steps) {
    // Exact: what is left of sums over thousands of triangles far from the origin is no dust.
    let mut six_steps3 = vec![0_i128; n_bodies];
    let mut first = vec![usize::MAX; n_bodies];
    for (triangle, &body) in body_of.iter().enumerate() {
        let corners = surface.triangles[triangle].map(|p| surface.points[p as usize]);
        six_steps3[body as usize] += measure::volume_six_steps3(std::iter::once(corners));
        first[body as usize] = first[body as usize].min(triangle);
    }
    let least = (6.0 * DUST_MM3 * grid::STEPS_PER_MM * grid::STEPS_PER_MM * grid::STEPS_PER_MM) as i128;
    let is_dust = |body: usize| six_steps3[body].abs() < least;
    let mut dust = Found::default();
    for body in (0..n_bodies).filter(|&body| first[body] != usize::MAX && is_dust(body)) {
        dust.add(|| surface.middle_mm(first[body]));
    }
    let is_any = dust.count > 0;
    steps.tell("mended-dust", "bodies that enclose nothing were dropped", dust);
    if is_any {
        let stays: Vec<bool> = body_of.iter().map(|&b| !is_dust(b as usize)).collect();
        surface.keep(&stays);
    }
}
