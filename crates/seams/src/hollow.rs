//! How much of a visible seam line lies in a hollow, where it can hide.
//!
//! The definition is `contract.md`'s: within 1.5 mm of, and within 25 degrees of the direction of,
//! a concave line, where the surface bends inward by more than 20 degrees over 3 mm across it.
//! How: every half mm along the line the surface is cut across the line and the cut followed 1.5 mm
//! to each side, over as many triangles as that takes. The cut is laid off in steps of a quarter mm
//! and the turns between steps are added up: the largest inward turn of any run of steps is the
//! bend. So a sharp crease and a smooth valley count alike, however the surface is meshed, and the
//! bottom of a groove counts although its edges bend back. The normals on both sides of the bend
//! span the plane across the concave line: their product is its direction. Across that direction
//! the bend is measured once more, so that a line that meets a crease at a slant is judged fairly.
//! Read here: a wide valley is a concave line all over its width (a bowl in every direction).
//! Units: mm. Not seen: the hollow between two bodies that run into each other without a shared edge.

use seamwright_mesh::spatial::Tree;
use seamwright_mesh::{Solid, vec3};

use crate::lines::stretch::Stretch;
use crate::lines::surface::distance_to_triangle_mm;

/// How near a concave line must lie, and half the width the bend is taken over (`contract.md`).
pub const HOLLOW_REACH_MM: f64 = 1.5;

/// The surface must bend inward by more than this (`contract.md`).
pub const HOLLOW_BEND_DEG: f64 = 20.0;

/// The seam may differ from the concave line's direction by this (`contract.md`).
pub const HOLLOW_SLANT_DEG: f64 = 25.0;

/// Spacing of the places looked at: a third of the reach, so an end is missed by 0.25 mm at most.
const SPACING_MM: f64 = 0.5;

/// Length of a step across: the grid turns it by 0.1 degree at most, and a crease 1.5 mm away is
/// seen to within one step.
const STEP_MM: f64 = 0.25;

/// Steps to each side: those within reach, and one more to tell the direction behind a crease.
const N_STEPS: usize = 7;

/// A slanted cut shows less of a bend, by the cosine of the slant at most: this much is asked of
/// the first, slanted look.
const FIRST_LOOK: f64 = 0.8;

/// Length of a stretch of visible line that lies in hollows; `tree` is over the item's triangles.
pub fn in_hollow_mm(item: &Solid, tree: &Tree, stretch: &Stretch) -> f64 {
    let n_places = (stretch.length_mm() / SPACING_MM).ceil();
    let spacing_mm = stretch.length_mm() / n_places;
    let mut n_hollow = 0;
    for place in 0..n_places as usize {
        let arc_mm = (place as f64 + 0.5) * spacing_mm;
        // Over a step to each side, so that vertices a grid step apart do not turn it.
        let direction = stretch.direction(arc_mm, STEP_MM);
        if direction.is_some_and(|direction| is_hollow(item, tree, stretch.at(arc_mm), direction)) {
            n_hollow += 1;
        }
    }
    f64::from(n_hollow) * spacing_mm
}

/// Whether a line through `place_mm`, a point of the surface, along the unit vector `direction`
/// runs in a hollow.
pub fn is_hollow(item: &Solid, tree: &Tree, place_mm: [f64; 3], direction: [f64; 3]) -> bool {
    let asked_rad = HOLLOW_BEND_DEG.to_radians();
    let Some(first) = bend_across(item, tree, place_mm, direction) else { return false };
    if first.inward_rad < FIRST_LOOK * asked_rad {
        return false;
    }
    let Some(concave_line) = vec3::unit(vec3::cross(first.normals[0], first.normals[1])) else {
        return false;
    };
    vec3::dot(concave_line, direction).abs() >= libm::cos(HOLLOW_SLANT_DEG.to_radians())
        && bend_across(item, tree, place_mm, concave_line).is_some_and(|bend| bend.inward_rad > asked_rad)
}

struct Bend {
    inward_rad: f64,
    normals: [[f64; 3]; 2],
}

/// A triangle that the cut crosses: the edge it comes in by and the one it goes out by.
struct Crossed {
    comes_in: (u32, u32),
    goes_out: (u32, u32),
    out_mm: [f64; 3],
    in_mm: [f64; 3],
    normal: [f64; 3],
    away_mm: f64,
}

/// A straight side of the cut: how long it is and the normal of its face.
struct Side {
    ends_mm: [[f64; 3]; 2],
    length_mm: f64,
    normal: [f64; 3],
}

/// The largest inward turn of the cut through `place_mm` across `direction`.
fn bend_across(item: &Solid, tree: &Tree, place_mm: [f64; 3], direction: [f64; 3]) -> Option<Bend> {
    let reach_mm = STEP_MM * N_STEPS as f64;
    let crossed = crossed_triangles(item, tree, place_mm, direction, reach_mm);
    let start = (0..crossed.len()).min_by(|&a, &b| crossed[a].away_mm.total_cmp(&crossed[b].away_mm))?;
    // The line lies on the surface within a few grid steps; farther means it does not.
    if crossed[start].away_mm > 0.02 {
        return None;
    }
    let forward = arm(&crossed, start, place_mm, reach_mm, true);
    let backward = arm(&crossed, start, place_mm, reach_mm, false);
    let steps = lay_off(&backward, &forward);
    let (u, v) = vec3::frame_of(direction);
    let flat: Vec<([f64; 2], [f64; 3])> = steps
        .into_iter()
        .map(|(along, normal)| ([vec3::dot(u, along), vec3::dot(v, along)], normal))
        .collect();
    // The largest sum of neighbouring turns, and between which steps it lies.
    let mut best = (0.0, 0, 0);
    let (mut sum, mut from) = (0.0, 0);
    for (index, pair) in flat.windows(2).enumerate() {
        let (p, q) = (pair[0].0, pair[1].0);
        let turn = libm::atan2(p[0] * q[1] - p[1] * q[0], p[0] * q[0] + p[1] * q[1]);
        if sum <= 0.0 {
            (sum, from) = (0.0, index);
        }
        sum += turn;
        if sum > best.0 {
            best = (sum, from, index + 1);
        }
    }
    (best.0 > 0.0).then(|| Bend { inward_rad: best.0, normals: [flat[best.1].1, flat[best.2].1] })
}

fn crossed_triangles(
    item: &Solid,
    tree: &Tree,
    place_mm: [f64; 3],
    direction: [f64; 3],
    reach_mm: f64,
) -> Vec<Crossed> {
    let (low, high) = (place_mm.map(|x| x - reach_mm), place_mm.map(|x| x + reach_mm));
    let mut crossed = Vec::new();
    for triangle_index in tree.in_box(low, high) {
        let corners = item.corners_mm(triangle_index);
        let ids = item.triangles()[triangle_index];
        let height_mm = corners.map(|c| vec3::dot(vec3::sub(c, place_mm), direction));
        let above = height_mm.map(|h| h >= 0.0);
        let (Some(out), Some(into)) = (
            (0..3).find(|&i| above[i] && !above[(i + 1) % 3]),
            (0..3).find(|&i| !above[i] && above[(i + 1) % 3]),
        ) else {
            continue;
        };
        let crossing = |side: usize| {
            let next = (side + 1) % 3;
            let share = height_mm[side] / (height_mm[side] - height_mm[next]);
            vec3::add(corners[side], vec3::scale(vec3::sub(corners[next], corners[side]), share))
        };
        let doubled = vec3::cross(vec3::sub(corners[1], corners[0]), vec3::sub(corners[2], corners[0]));
        let edge = |side: usize| {
            let (a, b) = (ids[side], ids[(side + 1) % 3]);
            (a.min(b), a.max(b))
        };
        crossed.push(Crossed {
            comes_in: edge(into),
            goes_out: edge(out),
            in_mm: crossing(into),
            out_mm: crossing(out),
            normal: vec3::unit(doubled).unwrap_or([0.0; 3]),
            away_mm: distance_to_triangle_mm(place_mm, corners),
        });
    }
    crossed
}

/// The sides of the cut from `place_mm` on, forward (solid on the right seen along the
/// direction's tip) or backward, until `reach_mm` are together.
fn arm(crossed: &[Crossed], start: usize, place_mm: [f64; 3], reach_mm: f64, forward: bool) -> Vec<Side> {
    let mut sides = Vec::new();
    let (mut here_mm, mut at, mut sum_mm) = (place_mm, start, 0.0);
    for _ in 0..crossed.len() {
        let triangle = &crossed[at];
        let end_mm = if forward { triangle.out_mm } else { triangle.in_mm };
        let length_mm = vec3::length(vec3::sub(end_mm, here_mm));
        sides.push(Side { ends_mm: [here_mm, end_mm], length_mm, normal: triangle.normal });
        sum_mm += length_mm;
        if sum_mm >= reach_mm {
            break;
        }
        here_mm = end_mm;
        let next = if forward {
            crossed.iter().position(|c| c.comes_in == triangle.goes_out)
        } else {
            crossed.iter().position(|c| c.goes_out == triangle.comes_in)
        };
        match next {
            Some(next) if next != start => at = next,
            _ => break,
        }
    }
    sides
}

/// Whole steps from the end of the backward arm to that of the forward arm: each with its vector
/// and the mean normal along it.
fn lay_off(backward: &[Side], forward: &[Side]) -> Vec<([f64; 3], [f64; 3])> {
    let mut steps: Vec<_> =
        steps_of(backward).into_iter().map(|(along, normal)| (vec3::scale(along, -1.0), normal)).collect();
    steps.reverse();
    steps.extend(steps_of(forward));
    steps
}

fn steps_of(arm: &[Side]) -> Vec<([f64; 3], [f64; 3])> {
    let mut steps = Vec::new();
    let Some(first) = arm.first() else { return steps };
    let (mut from_mm, mut normal, mut laid_mm) = (first.ends_mm[0], [0.0; 3], 0.0);
    for side in arm {
        let mut used_mm = 0.0;
        while steps.len() < N_STEPS {
            let part_mm = (STEP_MM - laid_mm).min(side.length_mm - used_mm);
            normal = vec3::add(normal, vec3::scale(side.normal, part_mm));
            (used_mm, laid_mm) = (used_mm + part_mm, laid_mm + part_mm);
            if laid_mm < STEP_MM - 1e-9 {
                break;
            }
            let along = vec3::sub(side.ends_mm[1], side.ends_mm[0]);
            let to_mm = vec3::add(side.ends_mm[0], vec3::scale(along, used_mm / side.length_mm));
            steps.push((vec3::sub(to_mm, from_mm), vec3::unit(normal).unwrap_or(side.normal)));
            (from_mm, normal, laid_mm) = (to_mm, [0.0; 3], 0.0);
        }
    }
    steps
}
