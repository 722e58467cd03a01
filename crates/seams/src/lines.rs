//! Seams measured from the meshes alone: how long, how much shows, through detail, in hollows.
//!
//! How: contacts between pieces on each plane (`lines/contact.rs`); each side of their boundary is
//! asked what it lies on (`lines/surface.rs`); what shows is strung into stretches that end where
//! another seam begins or the line passes to the hidden side, and each stretch is judged
//! (`lines/detail.rs`, `hollow.rs`). The words are `contract.md`'s.
//! Units and frame: mm, item coordinates; pieces lie where they sit in the item, before joints.
//! Keeps: nothing but meshes and planes is used, so a plan and its audit agree by construction.
//! Cost: planes x piece points for the search of contacts, then linear in the boundary.
//! Not here: which skin is inner (`patches.rs`), what a seam costs (the search).

pub mod contact;
pub mod detail;
pub mod stretch;
pub mod surface;
pub mod wall;

use seamwright_mesh::{Plane, Solid, vec3};

use crate::hollow;
use crate::patches::SkinMap;
use contact::{Contact, Frame, ON_PLANE_MM};
use stretch::Stretch;
use surface::{Ground, ground_at};
use wall::WallSide;

/// Long sides are asked at most this far apart what they lie on.
const ASK_EVERY_MM: f64 = 2.0;

/// A change of ground shorter than this, between two of the same kind, is rounding at a corner.
const BLIP_MM: f64 = 0.02;

/// One seam: a connected contact patch of one plane between two pieces.
#[derive(Debug, Clone, PartialEq)]
pub struct SeamMeasure {
    /// Indices into the pieces; the plane's normal points from the first to the second.
    pub pieces: (usize, usize),
    /// Index into the planes.
    pub plane_index: usize,
    /// Area of the patch.
    pub bond_area_mm2: f64,
    /// Its whole boundary, inner and outer.
    pub line_mm: f64,
    /// The part of the boundary on skin that shows.
    pub visible_mm: f64,
    /// The part of the visible line that runs through detail.
    pub through_detail_mm: f64,
    /// The part of the visible line that lies in hollows.
    pub in_hollow_mm: f64,
    /// The thinnest place of the patch from skin to skin; `None` where no skin faces another.
    pub min_wall_mm: Option<f64>,
    /// A place on it: the middle of the longest stretch that shows, or else its first corner.
    pub at_mm: [f64; 3],
    /// The boundary: the outer loop counter-clockwise seen from the tip of the normal, then holes.
    pub loops: Vec<Vec<[f64; 3]>>,
}

/// All seams of a set of pieces, by plane, then by pieces. Planes that coincide are used once.
pub fn measure_seams(item: &Solid, skin: &SkinMap, pieces: &[&Solid], planes: &[Plane]) -> Vec<SeamMeasure> {
    distinct_planes(item, planes)
        .into_iter()
        .flat_map(|plane_index| measure_seams_on(item, skin, pieces, &planes[plane_index], plane_index))
        .collect()
}

/// The seams on one plane; `plane_index` is copied into the results. Planes are independent: run
/// those of [`distinct_planes`] on as many threads as there are and keep their order.
pub fn measure_seams_on(
    item: &Solid,
    skin: &SkinMap,
    pieces: &[&Solid],
    plane: &Plane,
    plane_index: usize,
) -> Vec<SeamMeasure> {
    let frame = Frame::new(plane);
    let contacts = contact::contacts_on(plane, &frame, pieces);
    contacts.iter().map(|contact| measure(item, skin, plane, plane_index, &frame, contact)).collect()
}

/// A seam as a line to draw, before anything of it is measured.
#[derive(Debug, Clone, PartialEq)]
pub struct SeamLoops {
    /// Indices into the pieces; the plane's normal points from the first to the second.
    pub pieces: (usize, usize),
    /// The boundary: the outer loop, then holes.
    pub loops: Vec<Vec<[f64; 3]>>,
}

impl SeamLoops {
    /// A place on it.
    pub fn place_mm(&self) -> [f64; 3] {
        self.loops.first().and_then(|outer| outer.get(outer.len() / 2)).copied().unwrap_or_default()
    }
}

/// The lines of all seams, in the order of [`measure_seams`]; much less work than measuring.
pub fn seam_loops(item: &Solid, pieces: &[&Solid], planes: &[Plane]) -> Vec<SeamLoops> {
    let on_plane = |index: usize| {
        let frame = Frame::new(&planes[index]);
        let contacts = contact::contacts_on(&planes[index], &frame, pieces);
        let lifted = move |contact: Contact| SeamLoops {
            pieces: contact.pieces,
            loops: contact.loops.iter().map(|l| l.iter().map(|&p| frame.lift(p)).collect()).collect(),
        };
        contacts.into_iter().map(lifted).collect::<Vec<_>>()
    };
    distinct_planes(item, planes).into_iter().flat_map(on_plane).collect()
}

/// Indices of the planes without those that coincide, on the item, with one before them.
pub fn distinct_planes(item: &Solid, planes: &[Plane]) -> Vec<usize> {
    let points_mm = item.points_mm();
    let bound = |axis: usize, pick: fn(f64, f64) -> f64, from: f64| {
        points_mm.iter().map(|p| p[axis]).fold(from, pick)
    };
    let low: [f64; 3] = std::array::from_fn(|axis| bound(axis, f64::min, f64::INFINITY));
    let high: [f64; 3] = std::array::from_fn(|axis| bound(axis, f64::max, f64::NEG_INFINITY));
    let corner =
        |bits: usize| std::array::from_fn(|axis| if bits >> axis & 1 == 0 { low[axis] } else { high[axis] });
    let coincide = |a: &Plane, b: &Plane| {
        let turned = if vec3::dot(a.normal, b.normal) < 0.0 { -1.0 } else { 1.0 };
        (0..8).map(corner).all(|c| (a.distance_mm(c) - turned * b.distance_mm(c)).abs() < 0.5 * ON_PLANE_MM)
    };
    let mut kept: Vec<usize> = Vec::new();
    for (index, plane) in planes.iter().enumerate() {
        if !kept.iter().any(|&earlier| coincide(&planes[earlier], plane)) {
            kept.push(index);
        }
    }
    kept
}

fn measure(
    item: &Solid,
    skin: &SkinMap,
    plane: &Plane,
    plane_index: usize,
    frame: &Frame,
    contact: &Contact,
) -> SeamMeasure {
    let mut seam = SeamMeasure {
        pieces: contact.pieces,
        plane_index,
        bond_area_mm2: contact.area_mm2,
        line_mm: 0.0,
        visible_mm: 0.0,
        through_detail_mm: 0.0,
        in_hollow_mm: 0.0,
        min_wall_mm: None,
        at_mm: contact.loops.first().and_then(|flat| flat.first()).map_or([0.0; 3], |&p| frame.lift(p)),
        loops: Vec::new(),
    };
    let mut longest_mm = 0.0;
    let mut boundary = Vec::new();
    for flat in &contact.loops {
        let corners: Vec<[f64; 3]> = flat.iter().map(|&p| frame.lift(p)).collect();
        let points = divide(&corners);
        let mut sides = sides_of(&points, |middle_mm| ground_at(item, skin, plane, middle_mm));
        smooth(&mut sides);
        seam.line_mm += sides.iter().map(|side| side.length_mm).sum::<f64>();
        for stretch in visible_stretches(&points, &sides) {
            seam.visible_mm += stretch.length_mm();
            if stretch.length_mm() > longest_mm {
                longest_mm = stretch.length_mm();
                seam.at_mm = stretch.at(0.5 * longest_mm);
            }
            seam.in_hollow_mm += hollow::in_hollow_mm(item, skin.tree(), &stretch);
            seam.through_detail_mm += detail::through_detail_mm(&stretch);
        }
        boundary.extend((0..sides.len()).map(|index| WallSide {
            ends_mm: [points[index], points[(index + 1) % points.len()]].map(|p| frame.flatten(p)),
            on_skin: sides[index].ground != Ground::Cut,
        }));
        seam.loops.push(corners);
    }
    seam.min_wall_mm = wall::min_wall_mm(&boundary);
    seam
}

/// One straight side of a boundary loop, from the point of the same index to the next.
#[derive(Debug, Clone, Copy)]
struct Side {
    length_mm: f64,
    ground: Ground,
}

/// The loop with points added where sides are long.
fn divide(corners: &[[f64; 3]]) -> Vec<[f64; 3]> {
    let mut points = Vec::with_capacity(corners.len());
    for (index, &a) in corners.iter().enumerate() {
        let along = vec3::sub(corners[(index + 1) % corners.len()], a);
        let n_parts = (vec3::length(along) / ASK_EVERY_MM).ceil().max(1.0);
        points.extend(
            (0..n_parts as usize).map(|part| vec3::add(a, vec3::scale(along, part as f64 / n_parts))),
        );
    }
    points
}

fn sides_of(points: &[[f64; 3]], ground_at: impl Fn([f64; 3]) -> Ground) -> Vec<Side> {
    let side = |index: usize| {
        let (a, b) = (points[index], points[(index + 1) % points.len()]);
        Side {
            length_mm: vec3::length(vec3::sub(b, a)),
            ground: ground_at(vec3::scale(vec3::add(a, b), 0.5)),
        }
    };
    (0..points.len()).map(side).collect()
}

/// Gives a very short run between two runs of one kind their ground.
fn smooth(sides: &mut [Side]) {
    let n_sides = sides.len();
    let Some(start) = (0..n_sides).find(|&i| sides[i].ground != sides[(i + n_sides - 1) % n_sides].ground)
    else {
        return;
    };
    // Runs in order around the loop, from a change of ground.
    let mut runs: Vec<(usize, usize, f64)> = Vec::new();
    for index in start..start + n_sides {
        let side = sides[index % n_sides];
        match runs.last_mut() {
            Some(run) if sides[run.0 % n_sides].ground == side.ground => {
                *run = (run.0, index + 1, run.2 + side.length_mm);
            }
            _ => runs.push((index, index + 1, side.length_mm)),
        }
    }
    for index in 0..runs.len() {
        let (from, to, length_mm) = runs[index];
        let before = sides[runs[(index + runs.len() - 1) % runs.len()].0 % n_sides].ground;
        let after = sides[runs[(index + 1) % runs.len()].0 % n_sides].ground;
        if length_mm < BLIP_MM && before == after {
            (from..to).for_each(|i| sides[i % n_sides].ground = before);
        }
    }
}

/// The visible runs of a loop; a loop that shows all round is one closed stretch.
fn visible_stretches(points: &[[f64; 3]], sides: &[Side]) -> Vec<Stretch> {
    let n_sides = sides.len();
    let shows = |index: usize| sides[index % n_sides].ground == Ground::Visible;
    if (0..n_sides).all(shows) {
        return vec![Stretch::new(points.to_vec(), true).from_farthest()];
    }
    let mut stretches = Vec::new();
    for first in (0..n_sides).filter(|&i| shows(i) && !shows(i + n_sides - 1)) {
        let n_run = (0..n_sides).take_while(|&k| shows(first + k)).count();
        let run = (first..=first + n_run).map(|i| points[i % n_sides]).collect();
        stretches.push(Stretch::new(run, false));
    }
    stretches
}
