//! The section of a solid by a plane: its length and area, without building pieces.
//!
//! How: one signed distance a vertex, one segment a crossed triangle; the area is the sum of the
//! segments' signed triangles with a fixed point of the plane. Touches memory once: for searches.
//! Cost: O(n), about 24 bytes read a triangle.

use crate::grid::STEPS_PER_MM;
use crate::plane::Plane;
use crate::solid::Solid;
use crate::vec3;

/// Length and area of a section.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Section {
    /// Length of all its lines in mm, holes and overlapping bodies included.
    pub length_mm: f64,
    /// Area in mm2: material counted by winding.
    pub area_mm2: f64,
}

/// Measures the section of `solid` by `plane`; all zero where the plane misses it.
pub fn section(solid: &Solid, plane: &Plane) -> Section {
    let (mut length, mut twice_area) = (0.0, 0.0);
    each_chord(solid, plane, |_, [from, to]| {
        length += vec3::length(vec3::sub(to, from));
        twice_area += vec3::dot(plane.normal, vec3::cross(from, to));
    });
    Section { length_mm: length / STEPS_PER_MM, area_mm2: twice_area / 2.0 / (STEPS_PER_MM * STEPS_PER_MM) }
}

/// Visits each chord of the section: its triangle and its ends in mm. Seen from the normal's tip, material
/// lies left of it.
pub fn chords(solid: &Solid, plane: &Plane, mut visit: impl FnMut(usize, [[f64; 3]; 2])) {
    let about = about(solid);
    let to_mm = |p: [f64; 3]| vec3::scale(vec3::add(p, about), 1.0 / STEPS_PER_MM);
    each_chord(solid, plane, |triangle, ends| visit(triangle, ends.map(to_mm)));
}

/// In grid steps, from which chords are measured: a point near by, so that areas are sums of small numbers.
fn about(solid: &Solid) -> [f64; 3] {
    solid.points.first().map_or([0.0; 3], |p| p.map(f64::from))
}

fn each_chord(solid: &Solid, plane: &Plane, mut visit: impl FnMut(usize, [[f64; 3]; 2])) {
    let normal = plane.normal;
    let offset = plane.offset_mm * STEPS_PER_MM;
    // A vertex on the plane counts as above, so every crossing is a proper one.
    let distance: Vec<f64> =
        solid.points.iter().map(|p| vec3::dot(normal, p.map(f64::from)) - offset).collect();
    let about = about(solid);
    for (index, t) in solid.triangles.iter().enumerate() {
        let d = t.map(|i| distance[i as usize]);
        let above = d.map(|d| d >= 0.0);
        if above[0] == above[1] && above[1] == above[2] {
            continue;
        }
        // The corner alone on its side, then the two crossings in the triangle's order.
        let lone = if above[1] == above[2] {
            0
        } else if above[0] == above[2] {
            1
        } else {
            2
        };
        let cross_at = |other: usize| {
            let (a, b) = (solid.points[t[lone] as usize], solid.points[t[other] as usize]);
            let along = d[lone] / (d[lone] - d[other]);
            std::array::from_fn(|i| f64::from(a[i]) + along * (f64::from(b[i]) - f64::from(a[i])) - about[i])
        };
        let (next, last): ([f64; 3], [f64; 3]) = (cross_at((lone + 1) % 3), cross_at((lone + 2) % 3));
        visit(index, if above[lone] { [next, last] } else { [last, next] });
    }
}
