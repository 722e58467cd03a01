//! The thinnest wall of a mesh, by rays.
//!
//! How: from the middle of triangles a ray goes inward to the first skin that faces away; the way is
//! the wall's thickness there. Skins that meet at a sharp edge do not count: the two must face away
//! from each other within 45 degrees.
//! Cost: a ray a triangle, of 100,000 triangles at most, evenly spread.

use crate::spatial::Tree;
use crate::vec3;

/// Rays at most.
const MOST_RAYS: usize = 100_000;
/// Cosine of the angle between a wall's skins beyond which they are the two sides of an edge.
const FACING: f64 = -0.707;

/// Where a mesh is thinnest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Thin {
    /// The thickness there in mm.
    pub thick_mm: f64,
    /// Half way through, in mm.
    pub at_mm: [f64; 3],
}

/// The thinnest wall; `None` where no ray meets a skin that faces away.
pub(crate) fn thinnest(points_mm: &[[f64; 3]], triangles: &[[u32; 3]]) -> Option<Thin> {
    let tree = Tree::new(points_mm.to_vec(), triangles.to_vec())?;
    let corners = |t: usize| triangles[t].map(|p| points_mm[p as usize]);
    let normal = |t: usize| {
        let [a, b, c] = corners(t);
        vec3::unit(vec3::cross(vec3::sub(b, a), vec3::sub(c, a)))
    };
    let mut thin: Option<Thin> = None;
    for triangle in (0..triangles.len()).step_by(triangles.len().div_ceil(MOST_RAYS).max(1)) {
        let Some(outward) = normal(triangle) else { continue };
        let [a, b, c] = corners(triangle);
        let inward = vec3::scale(outward, -1.0);
        let middle = vec3::scale(vec3::add(a, vec3::add(b, c)), 1.0 / 3.0);
        // Half a grid step inside, so that the triangle itself is not met.
        const INSIDE_MM: f64 = 1.0 / 8192.0;
        let start = vec3::add(middle, vec3::scale(inward, INSIDE_MM));
        let reach_mm = thin.map_or(f64::MAX, |thin| thin.thick_mm);
        let Some(hit) = tree.cast_ray(start, inward, reach_mm) else { continue };
        let thick_mm = hit.distance_mm + INSIDE_MM;
        let faces_away = normal(hit.triangle).is_some_and(|other| vec3::dot(outward, other) < FACING);
        if faces_away && hit.triangle != triangle && thin.is_none_or(|thin| thick_mm < thin.thick_mm) {
            let at_mm = vec3::add(middle, vec3::scale(inward, thick_mm / 2.0));
            thin = Some(Thin { thick_mm, at_mm });
        }
    }
    thin
}
